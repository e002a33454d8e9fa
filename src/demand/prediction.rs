//! How many of the lamps that burn today will fail in the next hours: a prediction interval, not a confidence interval.
//!
//! It stands here and not in `fit`, since it is made of [`Count`]s, which stand above the fits they come from.

use serde::{Deserialize, Serialize};

use super::counts::Count;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::Life;
use crate::fit::{Bootstrap, Note};

/// Lamps of one age that will burn for so many hours.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LampsAtAge {
    /// Age today, hours.
    pub age_hours: f64,
    /// Hours each will burn, unless it fails.
    pub ahead_hours: f64,
    /// Number of lamps.
    pub count: u64,
}

/// The number of failures among given lamps in the hours ahead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FailuresAhead {
    /// Lamps.
    pub lamps: u64,
    /// At the estimates alone, as if they were known: chance only.
    pub at_estimate: Count,
    /// Over the draws: chance and what is not known of the life.
    pub failures: Count,
    /// Draws that were mixed.
    pub draws: u64,
    /// Draws left out, since their refit did not settle.
    pub failed: u64,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for FailuresAhead {
    fn check(&self, c: &mut Checks) {
        for (field, count) in [("at_estimate", &self.at_estimate), ("failures", &self.failures)] {
            c.need(field, count.last() <= self.lamps, count.last(), format!("at most {}", counted(self.lamps, "lamp")));
        }
        c.need("draws", self.draws > 0, self.draws, "1 or more");
    }
}

/// Failures behind the life from which prediction intervals hold about their level, and from which they fall a little short.
const ENOUGH: u64 = 20;
const SOME: u64 = 10;
/// How often 90 % intervals held in simulation at 5 and at 10 failures.
const HELD_5: &str = "76 % to 81 % of the time with 5 failures";
const HELD_10: &str = "84 % to 88 % of the time with 10 failures";

/// Most lamps in one question; more would take hours.
const MOST_LAMPS: u64 = 1_000_000;

/// Chance that a lamp of an age fails within the hours ahead.
fn chance(life: &dyn Life, lamps: &LampsAtAge) -> f64 {
    let (now, then) = (lamps.age_hours, lamps.age_hours + lamps.ahead_hours);
    let fall = life.ln_reliability(now) - life.ln_reliability(then);
    // Past the end of every life both are minus infinity.
    if fall.is_nan() { 1.0 } else { (-(-fall).exp_m1()).clamp(0.0, 1.0) }
}

fn count_of(life: &dyn Life, lamps: &[LampsAtAge]) -> Result<Count> {
    let mut sum = Count::certain(0);
    for group in lamps {
        sum.add_independent(&Count::binomial(group.count, chance(life, group))?);
    }
    Ok(sum)
}

/// Predicts how many of the lamps will fail in the hours ahead.
///
/// # Formula
/// ```text
/// chance of a lamp of age a = 1 - R(a + h) / R(a)
/// within a draw: the exact sum of independent lamps (Poisson-binomial)
/// over draws:    the mixture of these distributions with equal weights
/// ```
/// Lamps are independent only given a life, so the sum is taken within each draw of the weighted bootstrap and mixed
/// afterwards. Lamps that fail are not replaced, and no lamp is changed before it fails; [`super::forecast`] counts lamps
/// needed by screens that are refitted.
///
/// # Arguments
/// `bootstrap`: draws of the life, all causes together. `lamps`: the ages and hours; they should not be among the records
/// that were fitted, except as right-censored at the age they have today.
///
/// # Errors
/// `demand.no_lamps` for none, `demand.lamps_at_age` for every age or number of hours that is not finite and 0 or more;
/// `demand.too_many_lamps`; `demand.no_draws` if no draw settled.
///
/// # Numerics
/// Measured over 1,500 samples of 60, 200 and 500 lamps of Weibull shape 2, all censored at one age and watched 200 h more:
/// ```text
/// failures behind the life              5          10         20         50
/// 90 % intervals that held         76-81 %    84-88 %    88-90 %       89 %
/// the life taken as known          29-49 %    39-61 %    51-73 %       51 %
/// ```
/// The lower figures are those of many lamps with few failures. Below 20 failures a note says so.
///
/// # Source
/// Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 12.7 (within-sample prediction of failures
/// of units of different ages, from memory).
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::demand::{LampsAtAge, failures_ahead};
/// use relamp::family::family;
/// use relamp::fit::{FitOptions, bootstrap};
/// use relamp::lives::{Rows, Tally};
/// let ages: Vec<f64> = (1..=20).map(|i| 200.0 + 90.0 * f64::from(i)).collect();
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let run = Run::new();
/// let draws = bootstrap(family("weibull")?, &tally, &FitOptions::default(), 200, 7, "", &run)?;
/// let lamps = [LampsAtAge { age_hours: 800.0, ahead_hours: 300.0, count: 12 }];
/// let ahead = failures_ahead(&draws, &lamps, &run)?;
/// let (low, high) = ahead.interval(0.9)?;
/// assert!(low <= 3 && 3 <= high && high < 12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn failures_ahead(bootstrap: &Bootstrap, lamps: &[LampsAtAge], run: &Run) -> Result<FailuresAhead> {
    check(lamps)?;
    bootstrap.fit().tells_of_all_lamps()?;
    let family = bootstrap.fit().family()?;
    let at_estimate = count_of(bootstrap.fit().life_at_maximum()?.as_ref(), lamps)?;
    let coordinates = bootstrap.coordinates();
    let answers = run.map(coordinates.len(), |i| {
        let x = coordinates.get(i).map_or(&[][..], Vec::as_slice);
        count_of(family.at(x)?.as_ref(), lamps)
    })?;
    let asked = coordinates.len() + bootstrap.unsettled().len();
    let counts: Vec<Count> = answers.into_iter().filter_map(Result::ok).collect();
    if counts.is_empty() {
        let problem = Problem::new("demand.no_draws", "no draw gave a number of failures").got(asked);
        return Err(Error::new(Kind::Refused, problem));
    }
    Ok(FailuresAhead {
        lamps: lamps.iter().map(|l| l.count).sum(),
        at_estimate,
        failures: Count::mix(&counts.iter().collect::<Vec<_>>())?,
        draws: counts.len() as u64,
        failed: (asked - counts.len()) as u64,
        notes: few_failures(bootstrap.fit().facts().failures)
            .into_iter()
            .chain(bootstrap.fit().open_parameters().cloned())
            .collect(),
    })
}

/// Says what intervals from few failures are worth, as measured by the simulation in the documentation above.
fn few_failures(failures: u64) -> Option<Note> {
    let held = match failures {
        0..SOME => HELD_5,
        SOME..ENOUGH => HELD_10,
        _ => return None,
    };
    let text = format!(
        "the life rests on {}: in simulation 90 % prediction intervals held {held}",
        counted(failures, "failure")
    );
    Some(Note { slug: "demand.few_failures".to_owned(), text })
}

fn check(lamps: &[LampsAtAge]) -> Result<()> {
    let sound = |x: f64| (0.0..f64::INFINITY).contains(&x);
    let problem = |i: usize, column: &str, got: f64| {
        Problem::new("demand.lamps_at_age", "not an age or a number of hours")
            .at(Place::input("lamps").row(i as u64 + 1).column(column))
            .got(got)
            .expected("finite hours, 0 or more")
    };
    let mut problems = Vec::new();
    for (i, l) in lamps.iter().enumerate() {
        for (column, value) in [("age_hours", l.age_hours), ("ahead_hours", l.ahead_hours)] {
            if !sound(value) {
                problems.push(problem(i, column, value));
            }
        }
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    match lamps.iter().try_fold(0_u64, |sum, l| sum.checked_add(l.count)) {
        Some(0) => {
            let problem = Problem::new("demand.no_lamps", "no lamps to predict failures of").at(Place::input("lamps"));
            Err(Error::new(Kind::Input, problem))
        }
        Some(n) if n <= MOST_LAMPS => Ok(()),
        n => {
            let problem = Problem::new("demand.too_many_lamps", "too many lamps in one prediction")
                .at(Place::input("lamps"))
                .got(n.map_or_else(|| "more than can be counted".to_owned(), |n| n.to_string()))
                .expected(format!("at most {MOST_LAMPS}"));
            Err(Error::new(Kind::Limit, problem))
        }
    }
}

impl FailuresAhead {
    /// Prediction interval: the least and greatest number of failures, both included.
    ///
    /// # Formula
    /// ```text
    /// low:  least n with P(N <= n) >= (1 - level) / 2
    /// high: least n with P(N > n) <= (1 - level) / 2
    /// ```
    /// Whole numbers cannot meet a level exactly, so it holds at least the level over the mixture.
    ///
    /// # Errors
    /// `demand.probability` unless 0 < level < 1.
    pub fn interval(&self, level: f64) -> Result<(u64, u64)> {
        if !(level > 0.0 && level < 1.0) {
            let problem = Problem::new("demand.probability", "a level must lie between 0 and 1");
            let problem = problem.at(Place::input("level")).got(level).expected("above 0 and below 1, such as 0.9");
            return Err(Error::new(Kind::Domain, problem));
        }
        let tail = 0.5 * (1.0 - level);
        Ok((self.failures.quantile(tail)?, self.failures.least_with_tail(tail)))
    }
}
