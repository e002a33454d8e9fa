//! Two clocks: hours and strikes, and how many hours a strike is worth.

use serde::{Deserialize, Serialize};

use super::check_family as check_clock_family;
use super::surface::{Along, Clock, Clocked, Lamp};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours, short};
use crate::base::math::root::bracketed;
use crate::base::math::special::normal_cdf;
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Life, family};
use crate::fit::covariates::{Held, moved_life};
use crate::fit::interval::{Sides, critical};
use crate::fit::model::{Facts, Note, check_family, failure_notes};
use crate::fit::newton::climb;
use crate::fit::sample::Sample;
use crate::fit::search::{FitOptions, facts, fit_sample};
use crate::lives::{CovariateKind, CovariateValue, Tally};

const FORMAT: Format = Format::new("two_clocks", 1);

/// Steps of the profile over the share of wear by strikes.
const STEPS: usize = 50;
/// Largest share where some lamps never strike: at 1 they would never age.
const LARGEST: f64 = 1.0 - 1e-6;
/// Precision of an end of the interval, as a share of wear.
const PRECISION: f64 = 1e-10;

/// Where the likelihood is highest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockEdge {
    /// Both clocks count.
    Inside,
    /// Hours alone explain the records best.
    HoursAlone,
    /// Strikes alone explain the records best: no finite number of hours is worth a strike.
    StrikesAlone,
}

/// A life on two clocks; made by [`two_clocks`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TwoClocks {
    pub(super) family: String,
    pub(super) strikes_per_hour: String,
    pub(super) mean_rate: f64,
    pub(super) lowest_rate: f64,
    pub(super) highest_rate: f64,
    /// Coordinates of the life of a lamp at the mean rate.
    pub(super) coordinates: Vec<f64>,
    pub(super) share: f64,
    pub(super) edge: ClockEdge,
    pub(super) identified: bool,
    pub(super) level: f64,
    pub(super) share_low: Option<f64>,
    pub(super) share_high: Option<f64>,
    pub(super) shares: Vec<f64>,
    pub(super) relative_log_likelihood: Vec<f64>,
    pub(super) log_likelihood: f64,
    pub(super) log_likelihood_hours: f64,
    pub(super) facts: Facts,
    pub(super) notes: Vec<Note>,
}

impl Sound for TwoClocks {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        c.words("strikes_per_hour", &self.strikes_per_hour);
        c.positive("mean_rate", self.mean_rate);
        c.not_negative("lowest_rate", self.lowest_rate);
        c.between("mean_rate", self.mean_rate, self.lowest_rate, self.highest_rate);
        c.entries("coordinates", self.coordinates.len(), family.width());
        c.share("share", self.share);
        c.level("level", self.level);
        c.between("share", self.share, self.share_low, self.share_high);
        c.follows("identified", &self.identified, &(self.share_low.is_some() || self.share_high.is_some()));
        c.rising("shares", &self.shares, false);
        c.column("shares", &self.shares, Checks::share);
        c.entries("relative_log_likelihood", self.relative_log_likelihood.len(), self.shares.len());
        let below = self.relative_log_likelihood.iter().all(|r| *r <= 1e-9);
        c.need("relative_log_likelihood", below, "a value above 0", "0 or less");
        let top = self.log_likelihood >= self.log_likelihood_hours - 1e-9;
        c.need("log_likelihood", top, self.log_likelihood, "at least that of hours alone");
        c.part("facts", &self.facts);
        for note in failure_notes(self.facts.failures) {
            c.need("notes", self.notes.contains(&note), "no such note", note.text);
        }
    }
}

/// Hours and strikes, mixed by the share of wear that strikes do at the mean rate.
struct Mixed {
    /// Rate of each group over the mean rate.
    ratio: Vec<f64>,
    largest: f64,
}

impl Clock for Mixed {
    fn read(&self, lamp: usize, hours: f64, share: f64) -> (Along, Along) {
        let more = self.ratio.get(lamp).copied().unwrap_or(1.0) - 1.0;
        let speed = 1.0 + share * more;
        let slope = more / speed;
        ([hours * speed, hours * more, 0.0], [speed.ln(), slope, -slope * slope])
    }

    fn allows(&self, share: f64) -> bool {
        (0.0..=self.largest).contains(&share)
    }

    fn floor(&self) -> f64 {
        0.0
    }

    fn step(&self) -> f64 {
        0.1
    }
}

/// Strikes per hour of each group, and the mean over the lamps.
fn rates(tally: &Tally, name: &str) -> Result<(Vec<f64>, f64)> {
    let refuse = |what: &str, got: String, expected: &str| {
        let problem = Problem::new("fit.clock_rate", what).at(Place::input("strikes_per_hour").column(name));
        Err(Error::new(Kind::Input, problem.got(got).expected(expected.to_owned())))
    };
    let place = tally.covariates().iter().position(|c| c.name == name && c.kind == CovariateKind::Number);
    let Some(place) = place else {
        let names: Vec<&str> = tally.covariates().iter().map(|c| c.name.as_str()).collect();
        let expected = "a covariate of the tally that holds numbers";
        return refuse("no such number among the covariates", format!("those are: {}", names.join(", ")), expected);
    };
    let mut lamps = vec![0.0; tally.groups().len()];
    for (group, count) in tally.group().iter().zip(tally.count()) {
        lamps[*group as usize] += *count as f64;
    }
    let of = |value: Option<&CovariateValue>| match value {
        Some(CovariateValue::Number(x)) => x.get(),
        _ => f64::NAN,
    };
    let rates: Vec<f64> = tally.groups().iter().map(|g| of(g.covariates.get(place))).collect();
    // A tally holds values and not rows: each bad value is named with its lamps.
    let mut bad: Vec<(f64, f64)> = rates.iter().copied().zip(lamps.iter().copied()).filter(|r| !(r.0 >= 0.0)).collect();
    bad.sort_by(|a, b| a.0.total_cmp(&b.0));
    let problems = bad.chunk_by(|a, b| a.0 == b.0).filter_map(|same| {
        let lamps = counted(same.iter().map(|r| r.1).fold(0.0, |a, b| a + b) as u64, "lamp");
        let place = Place::input("strikes_per_hour").column(name);
        let problem = Problem::new("fit.clock_rate", "strikes per hour below 0").at(place);
        Some(problem.got(format!("{}, of {lamps}", same.first()?.0)).expected("0 or more strikes for each hour"))
    });
    let problems: Vec<Problem> = problems.collect();
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let all = lamps.iter().fold(0.0, |a, b| a + b);
    let mean = rates.iter().zip(&lamps).map(|(r, n)| r * n).fold(0.0, |a, b| a + b) / all;
    if all == 0.0 {
        return refuse("no lamps, so no strikes", "counts of 0 alone".to_owned(), "at least one lamp");
    }
    if !(mean > 0.0) {
        return refuse("no lamp ever strikes", mean.to_string(), "strikes for each hour above 0");
    }
    Ok((rates, mean))
}

/// The profile of the share: log-likelihood and coordinates at each held share.
struct Profile<'s> {
    surface: Clocked<'s, Mixed>,
    iterations: u64,
    run: &'s Run,
}

impl Profile<'_> {
    fn at(&self, share: f64, warm: &mut Vec<f64>) -> Result<f64> {
        let mut held = vec![None; self.surface.family.width()];
        held.push(Some(share));
        let best = climb(&Held { surface: &self.surface, held }, warm, self.iterations, self.run)?;
        if !best.converged() {
            let problem = Problem::new("fit.clock_unsettled", "the search at this share of wear did not settle");
            return Err(Error::new(Kind::Refused, problem.got(share).expected("a family of fewer parameters")));
        }
        *warm = best.x;
        Ok(best.point.value)
    }
}

/// Fits a life on two clocks: burning wears a lamp, and so does each strike.
///
/// # Formula
/// ```text
/// equivalent hours = hours + k x strikes = h (1 + k r),  r = strikes for each hour, constant over the life of a lamp
/// R(h) = R0(h (1 + k r)),  f(h) = f0(h (1 + k r)) (1 + k r): the density is taken per hour
/// share of wear by strikes at the mean rate m:  s = k m / (1 + k m),  k = s / ((1 - s) m)
/// ```
/// The search runs over s, from 0 (hours alone) to 1 (strikes alone). The life itself is that of a lamp at the mean rate,
/// which the records know best. The interval of k is by profile likelihood; k cannot lie below 0, so an interval that starts
/// at 0 is bounded by the records on one side only, and says so. Where the whole profile stays within the interval, from
/// hours alone to strikes alone, k is not identifiable from these records: no estimate is given, but the profile is.
///
/// # Arguments
/// `strikes_per_hour`: the covariate of the tally that holds r of each lamp: its strikes over its hours so far.
///
/// # Errors
/// `fit.clock_family`, `fit.clock_rate`, `fit.level`, `fit.clock_unsettled`; those of [`crate::fit::fit`].
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{FitOptions, two_clocks};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::{Column, Values};
/// // Every lamp has its failure near 1,000 equivalent hours, a strike being worth 2 h.
/// let rate: Vec<f64> = (0..20).map(|i| [0.1, 0.5][i % 2]).collect();
/// let low: Vec<f64> =
///     rate.iter().enumerate().map(|(i, r)| (950.0 + 10.0 * (i / 2) as f64) / (1.0 + 2.0 * r)).collect();
/// let rows = Rows { high: low.clone(), low, ..Rows::default() };
/// let column = Column { name: "rate".into(), values: Values::Number(rate.into_iter().map(Some).collect()) };
/// let (tally, _) = Tally::from_rows(&rows.with_covariates(&[column])?)?;
/// let fit = two_clocks(family("weibull")?, &tally, "rate", 0.95, &FitOptions::default(), &Run::new())?;
/// assert!((fit.hours_per_strike().unwrap() - 2.0).abs() < 0.01);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn two_clocks(
    family: &dyn Family,
    tally: &Tally,
    strikes_per_hour: &str,
    level: f64,
    options: &FitOptions,
    run: &Run,
) -> Result<TwoClocks> {
    check_clock_family(family)?;
    let z = critical(level, Sides::Both)?;
    let (rates, mean) = rates(tally, strikes_per_hour)?;
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    let alone = fit_sample(family, &sample, options, run)?;
    let used: Vec<usize> = (0..tally.rows()).filter(|i| sample.weights[*i] > 0.0).collect();
    let of = |i: &usize| rates[tally.group()[*i] as usize];
    let (lowest, highest) =
        used.iter().map(of).fold((f64::INFINITY, 0.0), |(a, b): (f64, f64), r| (a.min(r), b.max(r)));
    let largest = if lowest > 0.0 { 1.0 } else { LARGEST };
    let clock = Mixed { ratio: rates.iter().map(|r| r / mean).collect(), largest };
    let lamps: Vec<Lamp> = used
        .iter()
        .map(|i| Lamp { row: sample.row(*i), weight: sample.weights[*i], place: tally.group()[*i] as usize })
        .collect();
    let surface = Clocked { family, clock: &clock, lamps: &lamps };
    let profile = Profile { surface, iterations: options.iterations, run };
    let mut shares: Vec<f64> = (0..=STEPS).map(|i| largest * i as f64 / STEPS as f64).collect();
    let mut warm = alone.coordinates().to_vec();
    let mut at = Vec::with_capacity(shares.len());
    for share in &shares {
        let value = profile.at(*share, &mut warm)?;
        at.push((value, warm.clone()));
    }
    let mut place = (0..at.len()).fold(0, |best, i| if at[i].0 > at[best].0 { i } else { best });
    // From the best point of the grid to the maximum itself, unless that stands on an edge.
    let start = [at[place].1.as_slice(), &[shares[place]]].concat();
    let best = climb(&profile.surface, &start, options.iterations, run)?;
    let found = best.x.last().copied().unwrap_or(f64::NAN);
    let inside = best.converged() && found > 0.0 && found < largest && best.point.value >= at[place].0;
    if inside && !shares.contains(&found) {
        place = shares.partition_point(|s| *s < found);
        shares.insert(place, found);
        at.insert(place, (best.point.value, best.x[..family.width()].to_vec()));
    }
    let (top, coordinates) = at[place].clone();
    let edge = match place {
        0 => ClockEdge::HoursAlone,
        p if p + 1 == shares.len() => ClockEdge::StrikesAlone,
        _ => ClockEdge::Inside,
    };
    let cut = top - 0.5 * z * z;
    let end = |outer: usize, inner: usize| -> Result<f64> {
        let mut warm = at[inner].1.clone();
        bracketed(|s| Ok(profile.at(s, &mut warm)? - cut), shares[inner], shares[outer], PRECISION)
    };
    // The outermost crossing, so that a second hump of the profile is not cut off.
    let first = at.iter().position(|p| p.0 >= cut).unwrap_or(place);
    let last = at.iter().rposition(|p| p.0 >= cut).unwrap_or(place);
    let share_low = if first == 0 { None } else { Some(end(first - 1, first)?) };
    let share_high = if last + 1 == at.len() { None } else { Some(end(last + 1, last)?) };
    let facts = facts(&sample.count);
    let mut fit = TwoClocks {
        family: family.name().to_owned(),
        strikes_per_hour: strikes_per_hour.to_owned(),
        mean_rate: mean,
        lowest_rate: lowest,
        highest_rate: highest,
        coordinates,
        share: shares[place],
        edge,
        identified: share_low.is_some() || share_high.is_some(),
        level,
        share_low,
        share_high,
        relative_log_likelihood: at.iter().map(|p| (p.0 - top).min(0.0)).collect(),
        shares,
        log_likelihood: top,
        log_likelihood_hours: at[0].0,
        notes: failure_notes(facts.failures),
        facts,
    };
    let more = fit.clock_notes();
    fit.notes.extend(more);
    Ok(fit)
}

impl TwoClocks {
    fn clock_notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if !self.identified {
            let text = format!(
                "not identifiable from these records: from hours alone to strikes alone, every mix explains them about as \
                 well; strikes for each hour lie between {} and {}",
                short(self.lowest_rate),
                short(self.highest_rate)
            );
            notes.push(Note::new("fit.clock_not_identified", text));
            return notes;
        }
        if self.share_low.is_none() {
            let text = "a strike cannot be worth less than 0 h: the interval starts there and is bounded by the records on \
                        one side only";
            notes.push(Note::new("fit.one_sided", text));
        }
        if self.share_high.is_none() {
            let text = "strikes alone explain the records about as well, so no upper end follows from them";
            notes.push(Note::new("fit.clock_strikes_alone", text));
        }
        notes
    }

    /// Hours that a strike is worth at a share of wear; infinite where strikes do it all.
    fn worth(&self, share: f64) -> f64 {
        if share >= 1.0 { f64::INFINITY } else { share / ((1.0 - share) * self.mean_rate) }
    }

    /// Name of the family.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// The family.
    ///
    /// # Errors
    /// `family.unknown` for a saved fit of a family this version does not know.
    pub fn family(&self) -> Result<&'static dyn Family> {
        family(&self.family)
    }

    /// Hours that a strike is worth; none where the records do not settle it, or strikes alone explain them best.
    pub fn hours_per_strike(&self) -> Option<f64> {
        (self.identified && self.edge != ClockEdge::StrikesAlone).then(|| self.worth(self.share))
    }

    /// Lower and upper end of the interval of the hours that a strike is worth; 0 where the range ends, none where open.
    pub fn interval(&self) -> (f64, Option<f64>) {
        (self.share_low.map_or(0.0, |s| self.worth(s)), self.share_high.map(|s| self.worth(s)))
    }

    /// Level of the interval.
    pub fn level(&self) -> f64 {
        self.level
    }

    /// Share of the wear that strikes do in a lamp at the mean rate, where the likelihood is highest.
    pub fn share(&self) -> f64 {
        self.share
    }

    /// Where the likelihood is highest.
    pub fn edge(&self) -> ClockEdge {
        self.edge
    }

    /// Whether the records say anything of the hours that a strike is worth.
    pub fn identified(&self) -> bool {
        self.identified
    }

    /// Mean, lowest and highest strikes for each hour.
    pub fn rates(&self) -> (f64, f64, f64) {
        (self.mean_rate, self.lowest_rate, self.highest_rate)
    }

    /// The profile: share of wear by strikes, hours that a strike is worth (none where infinite), and the log-likelihood
    /// there less its maximum.
    pub fn profile(&self) -> Vec<(f64, Option<f64>, f64)> {
        let worth = |s: f64| Some(self.worth(s)).filter(|k| k.is_finite());
        self.shares.iter().zip(&self.relative_log_likelihood).map(|(s, r)| (*s, worth(*s), *r)).collect()
    }

    /// Maximised log-likelihood, densities per hour.
    pub fn log_likelihood(&self) -> f64 {
        self.log_likelihood
    }

    /// Maximised log-likelihood with hours alone.
    pub fn log_likelihood_hours(&self) -> f64 {
        self.log_likelihood_hours
    }

    /// Chance of a rise of the likelihood at least so large if strikes wore nothing: half the chi-square one, as the value 0
    /// stands on the edge (S. G. Self and K.-Y. Liang, 1987, JASA 82, 605-610; from memory).
    pub fn p_value(&self) -> f64 {
        let statistic = 2.0 * (self.log_likelihood - self.log_likelihood_hours);
        if statistic > 0.0 { normal_cdf(-statistic.sqrt()) } else { 1.0 }
    }

    /// What went in.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// Parameters of the life of a lamp at the mean rate, in hours.
    pub fn parameters(&self) -> Vec<(&'static str, f64)> {
        let Ok(family) = self.family() else { return Vec::new() };
        family.parameter_names().iter().copied().zip(family.parameters(&self.coordinates)).collect()
    }

    /// The life, in hours, of a lamp that is struck so often for each hour; at the maximum of the likelihood.
    ///
    /// # Errors
    /// `fit.clock_rate` for a rate below 0; `fit.clock_not_identified` where the records do not settle what a strike is
    /// worth and the rate is another than the mean.
    pub fn life(&self, strikes_per_hour: f64) -> Result<Box<dyn Life>> {
        if !(strikes_per_hour >= 0.0 && strikes_per_hour.is_finite()) {
            let problem =
                Problem::new("fit.clock_rate", "strikes per hour below 0").at(Place::input("strikes_per_hour"));
            return Err(Error::new(Kind::Domain, problem.got(strikes_per_hour).expected("0 or more")));
        }
        if !self.identified && strikes_per_hour != self.mean_rate {
            let what = "these records do not settle what a strike is worth";
            let problem = Problem::new("fit.clock_not_identified", what).at(Place::input("strikes_per_hour"));
            let expected = format!("the mean rate, {}", self.mean_rate);
            return Err(Error::new(Kind::Refused, problem.got(strikes_per_hour).expected(expected)));
        }
        let speed = 1.0 + self.share * (strikes_per_hour / self.mean_rate - 1.0);
        if !(speed > 0.0) {
            let problem = Problem::new("fit.clock_rate", "a lamp that never strikes would never age");
            return Err(Error::new(Kind::Domain, problem.got(strikes_per_hour).expected("above 0")));
        }
        moved_life(self.family()?, &self.coordinates, -speed.ln())
    }

    /// The answer in one sentence.
    pub fn sentence(&self) -> String {
        let level = hours(100.0 * self.level);
        let lamps = counted(self.facts.failures, "failure");
        let (low, high) = self.interval();
        match (self.identified, self.hours_per_strike(), high) {
            (false, ..) => format!(
                "what a strike is worth is not identifiable from these records ({lamps}): strikes for each hour lie \
                 between {} and {}, and the profile stays within {level} % from hours alone to strikes alone",
                short(self.lowest_rate),
                short(self.highest_rate)
            ),
            (true, Some(k), Some(high)) => {
                format!("a strike is worth {} h, {} to {} h at {level} % ({lamps})", short(k), short(low), short(high))
            }
            (true, Some(k), None) => {
                format!("a strike is worth {} h, at least {} h at {level} % ({lamps})", short(k), short(low))
            }
            (true, None, _) => format!(
                "strikes alone explain the records best; a strike is worth at least {} h at {level} % ({lamps})",
                short(low)
            ),
        }
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A fit from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
