//! What two groups of lamps cost beside each other.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, Stand, Verdict, stand};
use super::cost::{CostPoint, cost_point};
use super::curve::WorldCurve;
use super::objective::Objective;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, full_hours, short, whole};
use crate::base::math::percentile::percentile;
use crate::base::math::special::normal_quantile;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::Life;
use crate::fit::{CauseLife, Note, PairFit, PairSide, VERDICT_CLUSTERS, World, checked_power};
use crate::records::Ending;
use crate::terms::{Costs, HourLimit};

/// At which ages the groups are compared.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ComparedAt {
    /// Each at the planned age of its own that its records and its limit allow.
    #[default]
    PlannedAges,
    /// Both changed at this age, hours.
    CommonAge(f64),
}

/// How costs are compared.
#[derive(Clone, Debug, PartialEq)]
pub struct PairCostOptions {
    /// At which ages.
    pub at: ComparedAt,
    /// Difference per 1,000 h that would matter; none: [`WORTH_PERCENT`] of the lower of the two costs.
    pub worth_per_1000_hours: Option<f64>,
    /// Chance with which a difference that matters is to be seen by the lamps that are asked for.
    pub power: f64,
}

impl Default for PairCostOptions {
    fn default() -> Self {
        Self { at: ComparedAt::PlannedAges, worth_per_1000_hours: None, power: 0.8 }
    }
}

/// Share of the lower cost that matters unless said otherwise, percent. Our choice, without a source.
pub const WORTH_PERCENT: f64 = 5.0;

/// What the comparison comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PairVerdict {
    /// The first group is cheaper: the whole interval lies below 0.
    FirstCheaper,
    /// The second group is cheaper: the whole interval lies above 0.
    SecondCheaper,
    /// The interval holds 0 and no difference that matters.
    Alike,
    /// The interval holds 0 and a difference that matters, or a group has fewer than [`VERDICT_CLUSTERS`] clusters.
    NotEnough,
}

/// What would settle the comparison for one group, about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct More {
    /// Failures more than there are.
    pub failures: u64,
    /// Lamps that bring them, at the share that has failed so far.
    pub lamps: u64,
}

/// What two groups of lamps cost per hour beside each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PairCost {
    /// What it comes to.
    pub verdict: PairVerdict,
    /// The same in plain words.
    pub sentence: String,
    /// Names of the groups, first and second.
    pub names: [String; 2],
    /// Costs of both at their ages.
    pub costs: [CostPoint; 2],
    /// Why the planned age of each stands where it does; none at a common age.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub age_verdicts: Option<[Verdict; 2]>,
    /// Cost of the first less that of the second, per 1,000 h.
    pub difference_per_1000_hours: f64,
    /// Lower end of its interval.
    pub low_per_1000_hours: f64,
    /// Upper end of its interval.
    pub high_per_1000_hours: f64,
    /// Level of the interval.
    pub level: f64,
    /// Chance, over the redraws, that the first group is cheaper.
    pub share_first_cheaper: f64,
    /// Difference that matters, per 1,000 h.
    pub worth_per_1000_hours: f64,
    /// Chance with which the lamps asked for would show it.
    pub power: f64,
    /// What each group lacks where there is not enough; none where clusters are lacking.
    pub more: Option<[More; 2]>,
    /// Clusters that each group lacks; none where both have enough, or no lamp has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub more_clusters: Option<[u64; 2]>,
    /// Redraws behind the interval.
    pub draws: u64,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for PairCost {
    fn check(&self, c: &mut Checks) {
        c.words("sentence", &self.sentence);
        c.once("names", &self.names);
        c.parts("costs", &self.costs);
        let [first, second] = &self.costs;
        let made = 1000.0 * (first.cost_per_hour - second.cost_per_hour);
        c.near("difference_per_1000_hours", self.difference_per_1000_hours, made, 1000.0 * first.cost_per_hour);
        c.ends("high_per_1000_hours", self.low_per_1000_hours, self.high_per_1000_hours);
        c.level("level", self.level);
        c.share("share_first_cheaper", self.share_first_cheaper);
        c.positive("worth_per_1000_hours", self.worth_per_1000_hours);
        c.level("power", self.power);
        let ends = (self.low_per_1000_hours, self.high_per_1000_hours);
        c.follows("verdict", &self.verdict, &verdict(ends, self.worth_per_1000_hours, self.more_clusters));
        let lamps = self.verdict == PairVerdict::NotEnough && self.more_clusters.is_none();
        c.there("more", self.more.is_some(), lamps, "there where there is not enough");
        let some = self.more_clusters.is_none_or(|[a, b]| a + b > 0 && a.max(b) < VERDICT_CLUSTERS);
        c.need("more_clusters", some, "others", "what one group lacks");
    }
}

fn verdict((low, high): (f64, f64), worth: f64, lacking: Option<[u64; 2]>) -> PairVerdict {
    if lacking.is_some() {
        PairVerdict::NotEnough
    } else if high < 0.0 {
        PairVerdict::FirstCheaper
    } else if low > 0.0 {
        PairVerdict::SecondCheaper
    } else if -worth <= low && high <= worth {
        PairVerdict::Alike
    } else {
        PairVerdict::NotEnough
    }
}

/// Compares what two groups of lamps cost per burning hour, prices and failures in.
///
/// # Formula
/// ```text
/// difference = 1000 (C_first(T_first) - C_second(T_second)),   C as in cost_curve
/// n more     = failures x (needed - 1),   needed = ((z((1 + level) / 2) + z(power)) x s / worth)^2
/// ```
/// The ages stand still while lives and the shares of endings are redrawn together, so the interval is that of a choice
/// already made; its ends are percentiles of the redraws. s: half the width of the interval over z((1 + level) / 2), which
/// shrinks with the root of the failures. Where `needed` is below 1 and there is still no verdict, it is the squared width
/// of the interval over `worth`: that much settles it for certain. Where a group has fewer than [`VERDICT_CLUSTERS`] clusters
/// there is no verdict, and the clusters it lacks are named: the interval from so few is too short.
///
/// Where nothing differed, one of the two was called cheaper in 4 to 8 of 100 samples at a level of 95 %: 2 to 90 failures a
/// group, two or four endings, of which the dearest came in 3, 5 and 20 of 100 failures.
///
/// # Arguments
/// `costs`, `limits`: of the first and the second group. `pair`: see [`crate::fit::compare_pair`].
///
/// # Errors
/// `policy.age_past_limit` for a common age past either limit, `policy.pair_worth`, `fit.pair_power`; `terms.cost_missing`;
/// those of [`super::planned_age`].
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{PairOptions, compare_pair};
/// use relamp::lives::{Rows, Tally};
/// use relamp::policy::{ComparedAt, PairCostOptions, PairVerdict, compare_pair_costs};
/// use relamp::records::{Column, Ending, Values};
/// use relamp::terms::{Costs, PrintedHours};
/// let low: Vec<f64> = (1..=80).map(|i| 500.0 + 25.0 * f64::from(i)).collect();
/// let supplier = (1..=80).map(|i| Some(if i % 2 == 0 { "north" } else { "south" }.into())).collect();
/// let rows = Rows { high: low.clone(), low, ending: Some(vec![Ending::Dim; 80]), ..Rows::default() }
///     .with_covariates(&[Column { name: "supplier".into(), values: Values::Text(supplier) }])?;
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let options = PairOptions { replicates: 100, ..PairOptions::default() };
/// let pair = compare_pair(family("weibull")?, &tally, "supplier", ["north", "south"], &options, &Run::new())?;
/// // The same lives, but lamps from the north cost half as much.
/// let costs = [Costs::new(500.0, [(Ending::Dim, 900.0)])?, Costs::new(1000.0, [(Ending::Dim, 1400.0)])?];
/// let printed = PrintedHours { warranty_hours: Some(1500.0), source: "invented".into(), ..PrintedHours::default() };
/// let limit = printed.limit()?;
/// let at = PairCostOptions { at: ComparedAt::CommonAge(1200.0), ..PairCostOptions::default() };
/// let cost = compare_pair_costs(&pair, [&costs[0], &costs[1]], [&limit, &limit], &at, &Run::new())?;
/// assert_eq!(cost.verdict, PairVerdict::FirstCheaper);
/// assert!(cost.sentence.starts_with("north is cheaper"));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn compare_pair_costs(
    pair: &PairFit,
    costs: [&Costs; 2],
    limits: [&HourLimit; 2],
    options: &PairCostOptions,
    run: &Run,
) -> Result<PairCost> {
    checked_power(options.power)?;
    check_worth(options.worth_per_1000_hours)?;
    for (side, costs) in pair.sides().iter().zip(costs) {
        costs.cover(&side.endings.iter().map(|e| e.0).collect::<Vec<_>>())?;
    }
    let [first, second] = pair.lives()?;
    let own = |side: usize| pair.sides()[side].endings.clone();
    let worlds = [world(own(0), first, costs[0]), world(own(1), second, costs[1])];
    let stands = [0, 1].map(|side| age_of(pair, side, &worlds[side], limits[side], options.at));
    let [(first_age, first), (second_age, second)] = {
        let [a, b] = stands;
        [a?, b?]
    };
    let point = |world: &World, age: f64| {
        cost_point(world, &world.costs, &Objective::CostPerHour, &WorldCurve::new(world)?, age)
    };
    let points = [point(&worlds[0], first_age)?, point(&worlds[1], second_age)?];
    let stands = first.zip(second).map(|(first, second)| [first, second]);
    let ages = [points[0].age_hours, points[1].age_hours];
    let answers = run.map(pair.draws(), |k| {
        let Some(redraw) = pair.redrawn(k)? else { return Ok(None) };
        let ([first, second], [one, other]) = (redraw.lives, redraw.shares);
        let mut costs_here = [0.0; 2];
        let priced = |side: usize, shares: &[f64]| priced(&pair.sides()[side], shares, costs[side]);
        let worlds = [world(priced(0, one), first, costs[0]), world(priced(1, other), second, costs[1])];
        for ((slot, world), age) in costs_here.iter_mut().zip(&worlds).zip(ages) {
            let curve = WorldCurve::new(world)?;
            *slot = curve.cost(&curve.up_to(age)?);
        }
        let difference = 1000.0 * (costs_here[0] - costs_here[1]);
        Ok(difference.is_finite().then_some(difference))
    })?;
    let mut differences: Vec<f64> = answers.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect();
    differences.sort_by(f64::total_cmp);
    let tail = 0.5 * (1.0 - pair.level());
    let end = |p: f64| percentile(&differences, p).unwrap_or(f64::NAN);
    let (low, high) = (end(tail), end(1.0 - tail));
    let lower = points[0].cost_per_hour.min(points[1].cost_per_hour);
    let worth = options.worth_per_1000_hours.unwrap_or(10.0 * WORTH_PERCENT * lower);
    let lacking = pair.clusters().map(|both| both.map(|n| VERDICT_CLUSTERS.saturating_sub(n)));
    let more_clusters = lacking.filter(|[a, b]| a + b > 0);
    let verdict = verdict((low, high), worth, more_clusters);
    let more = (verdict == PairVerdict::NotEnough && more_clusters.is_none())
        .then(|| more(pair, (low, high), worth, options.power));
    let cheaper = differences.partition_point(|d| *d < 0.0) as f64;
    let mut out = PairCost {
        verdict,
        sentence: String::new(),
        names: pair.sides().each_ref().map(|s| s.name.clone()),
        difference_per_1000_hours: 1000.0 * (points[0].cost_per_hour - points[1].cost_per_hour),
        costs: points,
        age_verdicts: stands.as_ref().map(|s| s.each_ref().map(|s| s.verdict)),
        low_per_1000_hours: low,
        high_per_1000_hours: high,
        level: pair.level(),
        share_first_cheaper: cheaper / differences.len().max(1) as f64,
        worth_per_1000_hours: worth,
        power: options.power,
        more,
        more_clusters,
        draws: differences.len() as u64,
        notes: notes(pair, ages),
    };
    out.sentence = out.said();
    let at_one_age = |age: f64| -> Result<f64> {
        let [a, b] = [point(&worlds[0], age)?, point(&worlds[1], age)?];
        Ok(1000.0 * (a.cost_per_hour - b.cost_per_hour))
    };
    if let Some(note) = ages_apart(&out, at_one_age)? {
        out.sentence.extend(["; ", &note.text]);
        out.notes.push(note);
    }
    for (side, stand) in pair.sides().iter().zip(stands.iter().flatten()) {
        if let Some(because) = &stand.because {
            let text = format!("{}: {because}", side.name);
            out.sentence.extend(["; ", &text]);
            out.notes.push(Note { slug: "policy.pair_age_stops".into(), text });
        }
    }
    Ok(out)
}

fn check_worth(worth: Option<f64>) -> Result<()> {
    match worth.filter(|w| !(*w > 0.0 && *w < f64::INFINITY)) {
        None => Ok(()),
        Some(worth) => {
            let problem = Problem::new("policy.pair_worth", "not a difference that could matter");
            let problem = problem.at(Place::input("worth_per_1000_hours")).got(worth);
            Err(Error::new(Kind::Domain, problem.expected("a finite amount above 0")))
        }
    }
}

/// Shares of the endings of a group in one redraw; those without a cost have no part.
fn priced(side: &PairSide, shares: &[f64], costs: &Costs) -> Vec<(Ending, f64)> {
    let known = side.known().zip(shares.iter().copied());
    let with_cost: Vec<(Ending, f64)> = known.filter(|(e, _)| costs.by_ending().contains_key(e)).collect();
    let whole = with_cost.iter().fold(0.0, |sum, (_, share)| sum + share);
    with_cost.into_iter().map(|(ending, share)| (ending, share / whole)).collect()
}

/// One group as a world: all its failures by one life, its endings by their shares.
fn world(endings: Vec<(Ending, f64)>, life: Box<dyn Life>, costs: &Costs) -> World {
    World { causes: vec![CauseLife { endings, life }], costs: costs.clone() }
}

fn age_of(
    pair: &PairFit,
    side: usize,
    world: &World,
    limit: &HourLimit,
    at: ComparedAt,
) -> Result<(f64, Option<Stand>)> {
    match at {
        ComparedAt::PlannedAges => {
            let options = AgeOptions {
                oldest_at_risk_hours: Some(pair.sides()[side].oldest_at_risk_hours),
                ..AgeOptions::default()
            };
            let stand = stand(world, limit, &options)?;
            Ok((stand.age_hours, Some(stand)))
        }
        ComparedAt::CommonAge(age) => {
            if age > limit.hours() {
                let problem = Problem::new("policy.age_past_limit", "a planned age lies past the hour limit");
                let problem = problem.at(Place::input("at")).got(age).expected(format!("at most {} h", limit.hours()));
                return Err(Error::new(Kind::Limit, problem));
            }
            Ok((age, None))
        }
    }
}

fn more(pair: &PairFit, (low, high): (f64, f64), worth: f64, power: f64) -> [More; 2] {
    let z = normal_quantile(0.5 * (1.0 + pair.level()));
    let s = 0.5 * (high - low) / z;
    let planned = ((z + normal_quantile(power)) * s / worth).powi(2);
    let needed = if planned > 1.0 { planned } else { ((high - low) / worth).powi(2) };
    pair.sides().each_ref().map(|side| {
        let failures = (side.failures as f64 * (needed - 1.0)).ceil().max(1.0);
        More { failures: failures as u64, lamps: (failures * side.lamps as f64 / side.failures as f64).ceil() as u64 }
    })
}

/// A word on planned ages of which one is only where the records of its group end: the costs then differ by age too.
fn ages_apart(cost: &PairCost, at_one_age: impl Fn(f64) -> Result<f64>) -> Result<Option<Note>> {
    let [first, second] = cost.costs.each_ref().map(|c| c.age_hours);
    let ends = cost.age_verdicts.as_ref().is_some_and(|v| v.contains(&Verdict::RecordsEnd));
    if first == second || !ends {
        return Ok(None);
    }
    let (low, high) = (first.min(second), first.max(second));
    let text = format!(
        "part of the difference is one of ages, {} h and {} h, and not of lamps: at {} h for both the difference is {} per 1,000 h, \
         which a common age of that many hours judges",
        full_hours(low),
        full_hours(high),
        full_hours(low),
        short(at_one_age(low)?)
    );
    Ok(Some(Note { slug: "policy.pair_ages_apart".into(), text }))
}

fn notes(pair: &PairFit, ages: [f64; 2]) -> Vec<Note> {
    let mut notes = pair.notes().to_vec();
    for (side, age) in pair.sides().iter().zip(ages) {
        if age > side.oldest_at_risk_hours {
            notes.push(Note {
                slug: "policy.pair_past_records".into(),
                text: format!(
                    "{} h lies past the oldest lamp of {}, {} h: beyond it the model speaks",
                    whole(age),
                    side.name,
                    whole(side.oldest_at_risk_hours)
                ),
            });
        }
    }
    if !pair.unsettled().is_empty() {
        let n = counted(pair.unsettled().len() as u64, "refit");
        notes.push(Note { slug: "fit.unsettled".into(), text: format!("{n} did not settle, left out") });
    }
    notes
}

impl PairCost {
    /// The verdict in words.
    fn said(&self) -> String {
        let [first, second] = &self.names;
        let (low, high, d) = (self.low_per_1000_hours, self.high_per_1000_hours, self.difference_per_1000_hours);
        let percent = short(100.0 * self.level);
        let cheaper = |name: &str, d: f64, low: f64, high: f64| {
            let (d, low, high) = (short(d), short(low), short(high));
            format!("{name} is cheaper by {d} per 1,000 h ({percent} % interval {low} to {high})")
        };
        if let Some([a, b]) = self.more_clusters {
            let (d, a, b) = (short(d), counted(a, "more cluster"), counted(b, "more cluster"));
            return format!(
                "not enough yet: {first} less {second} is {d} per 1,000 h, and with fewer than {VERDICT_CLUSTERS} clusters of \
                 each an interval says nothing; {a} of {first} and {b} of {second} are lacking"
            );
        }
        match (self.verdict, &self.more) {
            (PairVerdict::FirstCheaper, _) => cheaper(first, -d, -high, -low),
            (PairVerdict::SecondCheaper, _) => cheaper(second, d, low, high),
            (PairVerdict::NotEnough, Some([a, b])) => {
                let lacks =
                    |m: &More| format!("{} ({})", counted(m.failures, "more failure"), counted(m.lamps, "lamp"));
                format!(
                    "not enough yet: {first} less {second} is {} per 1,000 h ({percent} % interval {} to {}); about {} of \
                     {first} and {} of {second} would show a difference of {} with {} % chance",
                    short(d),
                    short(low),
                    short(high),
                    lacks(a),
                    lacks(b),
                    short(self.worth_per_1000_hours),
                    short(100.0 * self.power)
                )
            }
            _ => format!(
                "{first} and {second} cost the same within {} per 1,000 h ({percent} % interval {} to {})",
                short(self.worth_per_1000_hours),
                short(low),
                short(high)
            ),
        }
    }
}
