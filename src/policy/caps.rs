//! The planned age of least cost under caps on the risk of one ending.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, PlannedAge, constrained, planned_age};
use super::cost::{CostPoint, cost_point};
use super::curve::WorldCurve;
use super::risk::{RiskAt, RiskRecords, RiskSource};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{full_hours, short};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::World;
use crate::records::Ending;
use crate::terms::HourLimit;

/// Ages judged in the first pass over an interval, and between two neighbours in each pass after it.
const AGES: u32 = 48;

/// Caps on the risk of one ending, each judged by a one-sided upper limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RiskCaps {
    /// The ending, usually burst.
    pub ending: Ending,
    /// Largest share of lamps that may end so before they are changed.
    pub most_before_age: Option<f64>,
    /// Largest chance that a lamp of the planned age may have to end so in its next show.
    pub most_in_show: Option<f64>,
    /// Length of a show, hours.
    pub show_hours: f64,
    /// Level of the one-sided upper limit, such as 0.95.
    pub level: f64,
}

impl Sound for RiskCaps {
    fn check(&self, c: &mut Checks) {
        for (field, problem) in self.wrong() {
            c.need(field, false, problem.got, problem.expected);
        }
    }
}

impl RiskCaps {
    fn wrong(&self) -> Vec<(&'static str, Problem)> {
        let mut found = Vec::new();
        let mut refuse = |field: &'static str, slug: &'static str, what: &str, got: String, expected: &str| {
            let place = Place::input("caps").column(field);
            found.push((field, Problem::new(slug, what).at(place).got(got).expected(expected)));
        };
        if matches!(self.ending, Ending::Planned | Ending::Running) {
            let what = "a cap is one of failures";
            refuse("ending", "policy.cap_ending", what, self.ending.to_string(), "an ending that counts as a failure");
        }
        for (field, cap) in [("most_before_age", self.most_before_age), ("most_in_show", self.most_in_show)] {
            if let Some(cap) = cap.filter(|c| !(*c > 0.0 && *c < 1.0)) {
                refuse(field, "policy.cap_share", "a cap is a share of lamps", cap.to_string(), "above 0 and below 1");
            }
        }
        if self.most_before_age.is_none() && self.most_in_show.is_none() {
            let what = "no cap is given";
            refuse(
                "most_before_age",
                "policy.cap_missing",
                what,
                "none".to_owned(),
                "a cap before the age or in the show",
            );
        }
        if !(self.show_hours > 0.0 && self.show_hours.is_finite()) {
            let what = "a show has a length";
            refuse("show_hours", "policy.show_hours", what, self.show_hours.to_string(), "finite hours above 0");
        }
        if !(self.level >= 0.5 && self.level < 1.0) {
            let what = "an upper limit has a level";
            refuse("level", "policy.cap_level", what, self.level.to_string(), "0.5 or more and below 1, such as 0.95");
        }
        found
    }

    fn met(&self, risk: &RiskAt) -> bool {
        self.most_before_age.is_none_or(|cap| risk.before_age <= cap)
            && self.most_in_show.is_none_or(|cap| risk.in_show <= cap)
    }
}

/// What the caps do to the advice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum CapVerdict {
    /// The age that is best without caps meets them.
    CapsMet,
    /// It does not; another age does.
    CapsBind,
    /// No age up to the limit and the end of the records meets them.
    NoAgeMeetsCaps,
}

/// How one reading of the records stands to the caps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RiskLine {
    /// Whether endings for an unknown reason are counted as this one.
    pub unknown_counted: bool,
    /// The records, where the limits come from them alone; none where they come from draws.
    pub records: Option<RiskRecords>,
    /// Upper limits at the advised age; none where no age meets the caps.
    pub advised: Option<RiskAt>,
    /// Upper limits at the age that is best without caps.
    pub uncapped: RiskAt,
    /// The latest age judged that meets the caps in this line; none where no age does.
    pub latest_hours: Option<f64>,
    /// How many times the same hours without a further event it takes for the uncapped age to meet the caps, at 1 or below
    /// where it does; none where the limits come from draws.
    pub hours_needed_times: Option<f64>,
}

impl Sound for RiskLine {
    fn check(&self, c: &mut Checks) {
        if let Some(records) = &self.records {
            c.part("records", records);
        }
        if let Some(risk) = &self.advised {
            c.part("advised", risk);
        }
        c.part("uncapped", &self.uncapped);
        c.positive("latest_hours", self.latest_hours);
        c.not_negative("hours_needed_times", self.hours_needed_times);
        let records = self.records.is_some();
        c.there("hours_needed_times", self.hours_needed_times.is_some(), records, "there with records");
    }
}

/// A stretch of whole hours that meet the caps in every line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CapBand {
    /// First age, hours.
    pub from_hours: f64,
    /// Last age, hours.
    pub to_hours: f64,
}

/// The planned age under caps on the risk of one ending. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CappedAge {
    /// What the caps do to the advice.
    pub verdict: CapVerdict,
    /// The same in plain words.
    pub sentence: String,
    /// The advice: the whole hour of least cost that meets the caps in every line; none where no age does.
    pub age_hours: Option<f64>,
    /// Cost at that age.
    pub cost: Option<CostPoint>,
    /// The planned age without caps.
    pub uncapped: PlannedAge,
    /// The caps.
    pub caps: RiskCaps,
    /// Each reading of the records: as they stand and, where it was given, with unknown endings counted.
    pub lines: Vec<RiskLine>,
    /// Ages that meet the caps in every line, by age.
    pub bands: Vec<CapBand>,
}

impl Sound for CappedAge {
    fn check(&self, c: &mut Checks) {
        c.part("uncapped", &self.uncapped);
        c.part("caps", &self.caps);
        c.parts("lines", &self.lines);
        c.need("lines", !self.lines.is_empty(), "no line", "one or more");
        let limit = self.uncapped.limit_hours;
        c.advice("age_hours", self.age_hours, limit);
        c.there("cost", self.cost.is_some(), self.age_hours.is_some(), "there with an age");
        if let (Some(cost), Some(age)) = (&self.cost, self.age_hours) {
            c.part("cost", cost);
            c.equal("cost.age_hours", cost.age_hours, age);
        }
        let verdict = match self.age_hours {
            None => CapVerdict::NoAgeMeetsCaps,
            Some(age) if age == self.uncapped.age_hours => CapVerdict::CapsMet,
            Some(_) => CapVerdict::CapsBind,
        };
        c.follows("verdict", &self.verdict, &verdict);
        for (i, line) in self.lines.iter().enumerate() {
            let field = format!("lines[{i}]");
            c.follows(&format!("{field}.advised"), &line.advised.map(|r| r.age_hours), &self.age_hours);
            c.equal(&format!("{field}.uncapped.age_hours"), line.uncapped.age_hours, self.uncapped.age_hours);
            c.age(&format!("{field}.latest_hours"), line.latest_hours, limit);
            let met = line.advised.is_none_or(|risk| self.caps.met(&risk));
            c.need(&format!("{field}.advised"), met, "above a cap", "at most the caps");
        }
        for (i, band) in self.bands.iter().enumerate() {
            c.age(&format!("bands[{i}].to_hours"), band.to_hours, limit);
            c.ends(&format!("bands[{i}].from_hours"), band.from_hours, band.to_hours);
        }
        c.follows("bands", &self.bands.is_empty(), &self.age_hours.is_none());
    }
}

/// One reading of the records, to be judged.
#[derive(Debug)]
pub struct CapLine<'a> {
    /// Whether endings for an unknown reason are counted as the capped one.
    pub unknown_counted: bool,
    /// Where its upper limits come from.
    pub source: RiskSource<'a>,
}

/// The age of least cost among the whole hours at which the upper limits of the risk meet the caps, in every line.
///
/// Limits are upper ones at one side, so fewer hours, a wider spread of draws, draws without an answer or reasons that
/// were lost (a line with unknown endings counted) never relax a cap. Limits from the records alone hold the search to the oldest
/// lamp at risk, unless a reason to look further is given.
///
/// Ages are judged on a grid and at every least of the cost; between a whole hour that meets the caps and one that does not,
/// the search closes in to the hour. What is advised is an age that was judged itself.
///
/// # Errors
/// `policy.cap_ending`, `policy.cap_missing`, `policy.cap_share`, `policy.show_hours`, `policy.cap_level` for the caps;
/// `policy.cap_no_line` without a line; `policy.cap_no_cause` where draws know no such ending; those of [`planned_age`].
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::lives::{Rows, Tally};
/// use relamp::policy::{AgeOptions, CapLine, CapVerdict, RiskCaps, RiskRecords, RiskSource, capped_age};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 2000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Dim, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Dim, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(1500.0), source: "invented".into(), ..PrintedHours::default() };
/// // A hundred lamps of 1,500 h, none of which burst: a rate of at most 2.996 in 150,000 h.
/// let rows = Rows { low: vec![1500.0], high: vec![f64::INFINITY], count: Some(vec![100]), ..Rows::default() };
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let most_before_age = Some(0.01);
/// let caps = RiskCaps { ending: Ending::Burst, most_before_age, most_in_show: None, show_hours: 2.2, level: 0.95 };
/// let source = RiskSource::Records(RiskRecords::of(&tally, &[Ending::Burst], 1.0)?);
/// let lines = [CapLine { unknown_counted: false, source }];
/// let capped = capped_age(&world, &caps, &lines, &printed.limit()?, &AgeOptions::default(), &Run::new())?;
/// // -ln(0.99) / 2.996 x 150,000 h = 503.2 h.
/// assert_eq!((capped.verdict, capped.age_hours), (CapVerdict::CapsBind, Some(503.0)));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn capped_age(
    world: &World,
    caps: &RiskCaps,
    lines: &[CapLine<'_>],
    limit: &HourLimit,
    options: &AgeOptions,
    run: &Run,
) -> Result<CappedAge> {
    let wrong: Vec<Problem> = caps.wrong().into_iter().map(|w| w.1).collect();
    if !wrong.is_empty() {
        return Err(Error::many(Kind::Input, wrong));
    }
    if lines.is_empty() {
        let problem = Problem::new("policy.cap_no_line", "nothing is given that a cap could be judged by");
        return Err(Error::new(Kind::Input, problem.at(Place::input("lines")).expected("draws, or records")));
    }
    let mut options = options.clone();
    for records in lines.iter().filter_map(|l| l.source.records()) {
        let oldest = options.oldest_at_risk_hours.map_or(records.oldest_hours, |o| o.min(records.oldest_hours));
        options.oldest_at_risk_hours = Some(oldest);
    }
    let uncapped = planned_age(world, limit, &options)?;
    let ceiling = options.ceiling(limit)?;
    options.objective.heed(&world.costs)?;
    let mut curve = WorldCurve::of(world, &options.objective)?;
    let (searched, _, _) = constrained(&mut curve, ceiling)?;
    let last = limit.cap(ceiling);
    let mut ages: Vec<f64> = (1..=AGES).map(|i| (last * f64::from(i) / f64::from(AGES)).floor()).collect();
    ages.extend(searched.minima().iter().map(|m| limit.cap(m.0)));
    ages.extend([1.0, uncapped.age_hours]);
    let mut judged: Vec<Judged> = Vec::new();
    // Each pass divides what is open by so many; an age of 1e16 h, which no limit reaches, would take ten.
    for _ in 0..16 {
        ages.retain(|a| *a >= 1.0 && judged.iter().all(|j| j.age != *a));
        ages.sort_by(f64::total_cmp);
        ages.dedup();
        if ages.is_empty() {
            break;
        }
        judged.extend(judge(caps, lines, &ages, ceiling, run)?);
        judged.sort_by(|a, b| a.age.total_cmp(&b.age));
        ages = between(&judged);
    }
    answer(world, caps, lines, limit, &options, uncapped, &curve, &judged)
}

/// One age with its risk in each line.
#[derive(Debug)]
struct Judged {
    age: f64,
    risks: Vec<RiskAt>,
    met: Vec<bool>,
}

impl Judged {
    fn all(&self) -> bool {
        self.met.iter().all(|m| *m)
    }
}

/// An age past the end of the search meets no cap, whatever a formula makes of it: today's rule may lie there.
fn judge(caps: &RiskCaps, lines: &[CapLine<'_>], ages: &[f64], ceiling: f64, run: &Run) -> Result<Vec<Judged>> {
    let each = lines
        .iter()
        .map(|l| l.source.upper(caps.ending, ages, ceiling, (caps.show_hours, caps.level), run))
        .collect::<Result<Vec<_>>>()?;
    let at = |(i, age): (usize, &f64)| {
        let risks: Vec<RiskAt> = each.iter().filter_map(|line| line.get(i).copied()).collect();
        let met = risks.iter().map(|r| *age <= ceiling && caps.met(r)).collect();
        Judged { age: *age, risks, met }
    };
    Ok(ages.iter().enumerate().map(at).collect())
}

/// Whole hours between neighbours of which one meets the caps of a line and the other does not.
fn between(judged: &[Judged]) -> Vec<f64> {
    let mut ages = Vec::new();
    for pair in judged.windows(2) {
        let [a, b] = pair else { continue };
        if a.met != b.met && b.age - a.age > 1.0 {
            let step = ((b.age - a.age) / f64::from(AGES)).max(1.0);
            ages.extend((1..AGES).map(|i| (a.age + step * f64::from(i)).floor()).filter(|x| *x < b.age));
        }
    }
    ages
}

#[allow(clippy::too_many_arguments, reason = "the parts of one answer, made in one place")]
fn answer(
    world: &World,
    caps: &RiskCaps,
    lines: &[CapLine<'_>],
    limit: &HourLimit,
    options: &AgeOptions,
    uncapped: PlannedAge,
    curve: &WorldCurve,
    judged: &[Judged],
) -> Result<CappedAge> {
    let mut best: Option<(f64, f64)> = None;
    for age in judged.iter().filter(|j| j.all()).map(|j| j.age) {
        let cost = curve.cost(&curve.up_to(age)?);
        if best.is_none_or(|b| cost <= b.1) {
            best = Some((age, cost));
        }
    }
    let free = uncapped.age_hours;
    let free_met = judged.iter().any(|j| j.age == free && j.all());
    let age_hours = if free_met { Some(free) } else { best.map(|b| b.0) };
    let verdict = match age_hours {
        Some(_) if free_met => CapVerdict::CapsMet,
        Some(_) => CapVerdict::CapsBind,
        None => CapVerdict::NoAgeMeetsCaps,
    };
    let risk_at = |age: f64, line: usize| judged.iter().find(|j| j.age == age).and_then(|j| j.risks.get(line)).copied();
    let told = lines
        .iter()
        .enumerate()
        .map(|(i, line)| {
            let certain = RiskAt { age_hours: free, before_age: 1.0, in_show: 1.0 };
            let times =
                |r: &RiskRecords| r.times(free, caps.show_hours, caps.level, [caps.most_before_age, caps.most_in_show]);
            Ok(RiskLine {
                unknown_counted: line.unknown_counted,
                records: line.source.records().cloned(),
                advised: age_hours.and_then(|age| risk_at(age, i)),
                uncapped: risk_at(free, i).unwrap_or(certain),
                latest_hours: judged.iter().rev().find(|j| j.met.get(i) == Some(&true)).map(|j| j.age),
                hours_needed_times: line.source.records().map(times).transpose()?,
            })
        })
        .collect::<Result<Vec<_>>>()?;
    let mut bands: Vec<CapBand> = Vec::new();
    let mut open = false;
    for j in judged {
        match (j.all(), open, bands.last_mut()) {
            (true, true, Some(band)) => band.to_hours = j.age,
            (true, _, _) => bands.push(CapBand { from_hours: j.age, to_hours: j.age }),
            _ => {}
        }
        open = j.all();
    }
    let cost = age_hours.map(|age| cost_point(world, &world.costs, &options.objective, curve, age)).transpose()?;
    let sentence = sentence(caps, &told, &uncapped, age_hours, free_met, limit);
    Ok(CappedAge { verdict, sentence, age_hours, cost, uncapped, caps: caps.clone(), lines: told, bands })
}

fn sentence(
    caps: &RiskCaps,
    lines: &[RiskLine],
    uncapped: &PlannedAge,
    age: Option<f64>,
    free_met: bool,
    limit: &HourLimit,
) -> String {
    let (ending, free) = (caps.ending, full_hours(uncapped.age_hours));
    let percent = short(100.0 * caps.level);
    // The line that is worst at an age, which is the one with unknown endings counted where there is one.
    let worst = |at: &dyn Fn(&RiskLine) -> Option<RiskAt>| {
        let risks: Vec<RiskAt> = lines.iter().filter_map(at).collect();
        let most = |of: &dyn Fn(&RiskAt) -> f64| risks.iter().map(of).fold(0.0, f64::max);
        let mut said = Vec::new();
        if let Some(cap) = caps.most_before_age {
            said.push(format!("{} % before it (cap {} %)", short(100.0 * most(&|r| r.before_age)), short(100.0 * cap)));
        }
        if let Some(cap) = caps.most_in_show {
            let show = most(&|r| r.in_show);
            said.push(format!(
                "{} in a million in its next show (cap {} in a million)",
                short(1e6 * show),
                short(1e6 * cap)
            ));
        }
        said.join(" and ")
    };
    let counted = if lines.iter().any(|l| l.unknown_counted) { ", unknown endings counted," } else { "" };
    // From the records alone the limits hang on a shape that is stated and not seen.
    let shape = lines.iter().find_map(|l| l.records.as_ref()).map_or_else(String::new, |r| {
        format!("{} at the stated shape of {},", if counted.is_empty() { "," } else { "" }, short(r.shape))
    });
    let limits = format!("upper {percent} % limits of {ending}{counted}{shape}");
    match age {
        Some(age) if free_met => {
            format!("change at {} h: the {limits} there are {}", full_hours(age), worst(&|l| l.advised))
        }
        Some(age) => format!(
            "change at {} h: {free} h would be best without caps, but the {limits} there are {}; here they are {}",
            full_hours(age),
            worst(&|l| Some(l.uncapped)),
            worst(&|l| l.advised)
        ),
        None => {
            let times = lines.iter().filter_map(|l| l.hours_needed_times).fold(0.0, f64::max);
            let more = if times > 1.0 && times.is_finite() {
                format!("; {} times the hours without a further {ending} would let {free} h meet them", short(times))
            } else {
                String::new()
            };
            format!(
                "no age up to {} h meets the caps with these records: at {free} h, the best without caps, the {limits} are {}{more}",
                full_hours(uncapped.ceiling_hours.min(limit.hours())),
                worst(&|l| Some(l.uncapped))
            )
        }
    }
}
