//! Upper limits of the risk of one ending: before an age, and in the next show at that age.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::curve::WorldCurve;
use super::interval::FEWEST_DRAWS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::count_bounds::{count_lower, count_upper};
use crate::base::math::percentile::percentile;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::{Draws, World, over_draws};
use crate::lives::Tally;
use crate::records::Ending;

/// Upper limits of the two risks of one ending at an age.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RiskAt {
    /// The age, hours.
    pub age_hours: f64,
    /// Upper limit of the share of new lamps that end so before the age, if changed there.
    pub before_age: f64,
    /// Upper limit of the chance of a lamp of that age to end so in its next show.
    pub in_show: f64,
}

impl Sound for RiskAt {
    fn check(&self, c: &mut Checks) {
        c.not_negative("age_hours", self.age_hours);
        c.share("before_age", self.before_age);
        c.share("in_show", self.in_show);
    }
}

/// What the records alone say of an ending, with no more than a shape of wear: how often it came, in how many hours.
///
/// # Formula
/// ```text
/// E = sum count (age^shape - entry^shape);   H(T) <= m T^shape / E,   m = count_upper(events, level)
/// ```
/// `H` cumulative hazard of the ending. With no event, shape 1 and 95 % this is a rate of at most 2.996 / E.
///
/// # Source
/// Garwood, Biometrika 28 (1936) 437, for the bound of a Poisson count; W. Nelson (1985), Journal of Quality Technology 17,
/// 140-146, for hours^shape. From memory.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RiskRecords {
    /// Lamps that ended so.
    pub events: u64,
    /// Age of the oldest lamp at risk, hours.
    pub oldest_hours: f64,
    /// E over `oldest_hours^shape`: lamps' worth of burning to that age.
    pub full_lives: f64,
    /// Shape of wear, stated and not fitted: 1 is an even rate.
    pub shape: f64,
}

impl Sound for RiskRecords {
    fn check(&self, c: &mut Checks) {
        c.positive("oldest_hours", self.oldest_hours);
        c.positive("full_lives", self.full_lives);
        c.positive("shape", self.shape);
    }
}

impl RiskRecords {
    /// Counts the lamps of a tally that ended in one of the given ways, and the hours of all.
    ///
    /// A lamp known to an interval counts with its hours up to the lower end.
    ///
    /// # Errors
    /// `policy.risk_shape` unless the shape is finite and above 0; `policy.risk_windowed` for rows seen only if they fail;
    /// `policy.risk_no_hours` for a tally without hours.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// use relamp::policy::RiskRecords;
    /// use relamp::records::Ending;
    /// // Ten lamps, 1,000 h each, none burst: at 95 % at most 2.996 bursts in 10,000 h.
    /// let rows = Rows { low: vec![1000.0], high: vec![f64::INFINITY], count: Some(vec![10]), ..Rows::default() };
    /// let (tally, _) = Tally::from_rows(&rows)?;
    /// let records = RiskRecords::of(&tally, &[Ending::Burst], 1.0)?;
    /// let risk = records.upper(500.0, 2.0, 0.95)?;
    /// assert!((risk.in_show - (1.0 - (-2.995_732_273_554 * 2.0 / 10_000.0_f64).exp())).abs() < 1e-15);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn of(tally: &Tally, endings: &[Ending], shape: f64) -> Result<Self> {
        if !(shape > 0.0 && shape.is_finite()) {
            let problem = Problem::new("policy.risk_shape", "a shape of wear must be above 0").got(shape);
            let place = Place::input("records").column("shape");
            return Err(Error::new(
                Kind::Input,
                problem.at(place).expected("a finite number above 0, 1 for an even rate"),
            ));
        }
        if tally.upper().is_some_and(|u| u.iter().any(|u| u.is_finite())) {
            let what = "lamps that are seen only if they fail tell no hours without the ending";
            return Err(Error::new(
                Kind::Refused,
                Problem::new("policy.risk_windowed", what).at(Place::input("records")),
            ));
        }
        let oldest_hours = tally.low().iter().copied().fold(0.0, f64::max);
        let entry = |i: usize| tally.entry().and_then(|e| e.get(i)).copied().unwrap_or(0.0);
        let (mut events, mut full_lives) = (0, 0.0);
        for (i, ((low, count), code)) in tally.low().iter().zip(tally.count()).zip(tally.ending()).enumerate() {
            let part = |age: f64| (age / oldest_hours).powf(shape);
            full_lives += *count as f64 * (part(*low) - part(entry(i).min(*low)));
            if Ending::from_code(*code).is_some_and(|e| endings.contains(&e)) {
                events += count;
            }
        }
        if full_lives.is_nan() || full_lives <= 0.0 {
            let problem = Problem::new("policy.risk_no_hours", "records without hours bound no risk");
            return Err(Error::new(Kind::Refused, problem.at(Place::input("records"))));
        }
        Ok(Self { events, oldest_hours, full_lives, shape })
    }

    /// Upper limits at an age and for a show after it.
    ///
    /// # Errors
    /// Those of [`count_upper`].
    pub fn upper(&self, age_hours: f64, show_hours: f64, level: f64) -> Result<RiskAt> {
        let most = count_upper(self.events, level)?;
        let [before, show] = self.lives_to(age_hours, show_hours).map(|e| -(-most * e).exp_m1());
        Ok(RiskAt { age_hours, before_age: before, in_show: show })
    }

    /// Cumulative hazards, in events for each of the records, to the age and over the show.
    fn lives_to(&self, age: f64, show: f64) -> [f64; 2] {
        let to = |age: f64| (age / self.oldest_hours).powf(self.shape) / self.full_lives;
        [to(age), to(age + show) - to(age)]
    }

    /// How many times the same hours without a further event it takes to bring both limits at an age under their caps.
    pub(super) fn times(&self, age: f64, show: f64, level: f64, caps: [Option<f64>; 2]) -> Result<f64> {
        let most = count_upper(self.events, level)?;
        let needed = |e: f64, cap: Option<f64>| cap.map_or(0.0, |cap| -most * e / (-cap).ln_1p());
        let [before, show] = self.lives_to(age, show);
        Ok(needed(before, caps[0]).max(needed(show, caps[1])))
    }
}

/// Where upper limits come from.
pub enum RiskSource<'a> {
    /// Draws of a model: the upper percentile over them, never below the estimate; a draw without an answer counts as
    /// certain to end so. Draws made by weights on lamps hardly move a rate, nor a shape, that rests on a few failures: where
    /// their number n is known, no limit is below the estimate raised as far as that number leaves rate and shape open.
    ///
    /// ```text
    /// H(T) raised = (u / n) H(W) (H(T) / H(W))^q;   chance in a show raised = (u / n) p (H(T) / H(W))^(q - 1) of its hazard
    /// u = count_upper(n);   q = count_lower(n) / n for T up to W, p = count_upper(n - 1) / n, and q = p past W
    /// ```
    /// `W`: age to which lamps were watched, as [`Draws::watched_hours`] means it, the limit where it is not known. Of a power law
    /// watched to W, `2 n shape / estimate` is chi-square with 2 n degrees of freedom, whatever the rate; at W itself the number alone
    /// counts. Both bounds at once are more careful than the level asks: where all lamps are watched to one age about 98 % for 95 %. Where
    /// so few failures are seen that a cause is taken to strike evenly, the shape is open about 1: past W the limit of an ending that
    /// wears steeply, as with a shape of 4, is then too low.
    Draws(&'a dyn Draws),
    /// The records alone.
    Records(RiskRecords),
}

impl fmt::Debug for RiskSource<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Draws(draws) => f.debug_tuple("Draws").field(&draws.len()).finish(),
            Self::Records(records) => f.debug_tuple("Records").field(records).finish(),
        }
    }
}

impl RiskSource<'_> {
    /// The records, where limits come from them alone.
    pub(super) fn records(&self) -> Option<&RiskRecords> {
        match self {
            Self::Records(records) => Some(records),
            Self::Draws(_) => None,
        }
    }

    /// Upper limits at each of some ages; `limit`: where the search ends, if draws do not say to which age lamps were watched.
    pub(super) fn upper(
        &self,
        ending: Ending,
        ages: &[f64],
        limit: f64,
        (show, level): (f64, f64),
        run: &Run,
    ) -> Result<Vec<RiskAt>> {
        match self {
            Self::Records(records) => ages.iter().map(|age| records.upper(*age, show, level)).collect(),
            Self::Draws(draws) => from_draws(*draws, ending, ages, limit, (show, level), run),
        }
    }
}

fn from_draws(
    draws: &dyn Draws,
    ending: Ending,
    ages: &[f64],
    limit: f64,
    (show, level): (f64, f64),
    run: &Run,
) -> Result<Vec<RiskAt>> {
    if draws.len() < FEWEST_DRAWS {
        let problem = Problem::new("policy.few_draws", "too few draws for an upper limit").at(Place::input("draws"));
        let problem = problem.got(draws.len()).expected(format!("at least {FEWEST_DRAWS} draws"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let spread = over_draws(draws, run, |world| risks(world, ending, ages, show))?;
    let open = Open::of(draws, ending, limit, (show, level))?;
    let floors: Vec<[f64; 2]> = spread
        .best
        .iter()
        .zip(ages)
        .map(|(risk, age)| open.as_ref().map_or(*risk, |open| open.raised(*risk, *age)))
        .collect();
    let upper = |i: usize, which: usize| {
        let of = |risks: &[[f64; 2]]| risks.get(i).and_then(|r| r.get(which)).copied().unwrap_or(1.0);
        let mut values: Vec<f64> = spread.each.iter().map(|r| of(r)).collect();
        values.resize(draws.len(), 1.0);
        values.sort_by(f64::total_cmp);
        percentile(&values, level).unwrap_or(1.0).max(of(&floors))
    };
    let at = |(i, age): (usize, &f64)| RiskAt { age_hours: *age, before_age: upper(i, 0), in_show: upper(i, 1) };
    Ok(ages.iter().enumerate().map(at).collect())
}

/// How far a few failures leave rate and shape open.
#[derive(Debug)]
struct Open {
    /// The bound of the number of failures over the number: with one failure 4.74, with many hardly more than 1.
    rate: f64,
    /// The bounds of the shape over its estimate.
    shape: [f64; 2],
    /// Age to which lamps were watched, and the cumulative hazard there at the estimates.
    watched: (f64, f64),
}

impl Open {
    fn of(draws: &dyn Draws, ending: Ending, limit: f64, (show, level): (f64, f64)) -> Result<Option<Self>> {
        let Some(n) = draws.seen(ending).filter(|n| *n > 0) else { return Ok(None) };
        let of = |count: f64| count / n as f64;
        let age = draws.watched_hours(ending).unwrap_or(limit);
        let there = risks(&draws.best()?, ending, &[age], show)?.first().map_or(1.0, |r| r[0]);
        Ok(Some(Self {
            rate: of(count_upper(n, level)?),
            shape: [of(count_lower(n, level)?), of(count_upper(n - 1, level)?)],
            watched: (age, -(-there).ln_1p()),
        }))
    }

    /// The two risks at an age, raised.
    fn raised(&self, [before, show]: [f64; 2], age: f64) -> [f64; 2] {
        let [low, high] = self.shape;
        let (hazard, show) = (-(-before).ln_1p(), -(-show).ln_1p());
        let (watched, whole) = self.watched;
        let power = if age > watched { high } else { low };
        // Where nothing is known to fail before, the number alone counts.
        let spread = if hazard > 0.0 && whole > 0.0 && whole.is_finite() {
            (hazard / whole).powf(power - 1.0).max(1.0)
        } else {
            1.0
        };
        let risk = |x: f64| if x.is_nan() { 1.0 } else { -(-x).exp_m1() };
        [risk(self.rate * spread * hazard), risk(self.rate * high.max(1.0) * spread * show)]
    }
}

/// The two risks of an ending in one world at each of some ascending ages.
fn risks(world: &World, ending: Ending, ages: &[f64], show: f64) -> Result<Vec<[f64; 2]>> {
    let share: Vec<f64> = world.causes.iter().map(|cause| cause.share_of(ending)).collect();
    if share.iter().all(|s| *s == 0.0) {
        let what = format!("no cause of the draws stands for {ending}, which does not say that it never comes");
        let problem = Problem::new("policy.cap_no_cause", what).at(Place::input("caps").column("ending")).got(ending);
        let hint = "judge the cap by the records alone: no event in E hours bounds the rate by 2.996 / E";
        return Err(Error::new(Kind::Refused, problem.expected("an ending with a life of its own")).with_hint(hint));
    }
    let mut curve = WorldCurve::new(world)?;
    curve.remember(ages)?;
    let sum = |each: &[f64]| each.iter().zip(&share).map(|(f, s)| f * s).sum::<f64>().clamp(0.0, 1.0);
    ages.iter().map(|&age| Ok([sum(&curve.up_to(age)?.incidence), sum(&curve.next(age, show)?)])).collect()
}
