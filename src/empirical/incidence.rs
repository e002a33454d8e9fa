//! What ended the lamps: incidence by cause, with the causes in competition.

use serde::{Deserialize, Serialize};

use super::curve::{CurveNote, CurveOptions, Running, notes};
use super::steps::{at_risk_at, prepare, walk, watched};
use crate::base::error::Result;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::lives::{Reading, Tally};
use crate::records::Ending;

const FORMAT: Format = Format::new("incidence", 1);

/// One cause: how many failed by it, and the probability to have failed by it, at each step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseIncidence {
    /// The ending.
    pub ending: Ending,
    /// Failures by it at each step, `(steps,)`.
    pub failures: Vec<u64>,
    /// Probability to have failed by it by each age, `(steps,)`.
    pub incidence: Vec<f64>,
}

/// Incidence by cause as step functions of age. At every age the incidences and the reliability add up to 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Incidence {
    /// Ages at which lamps failed, ascending, `(steps,)`, hours.
    pub ages: Vec<f64>,
    /// Lamps at risk at each step, `(steps,)`.
    pub at_risk: Vec<u64>,
    /// Probability to have failed by no cause by each age, `(steps,)`.
    pub reliability: Vec<f64>,
    /// The causes seen, in the order of [`Ending::ALL`].
    pub causes: Vec<CauseIncidence>,
    /// The curves hold for lamps that reached this age, hours; 0 for curves from new.
    pub conditional_from: f64,
    /// Largest age at which a lamp was under observation, hours.
    pub last_age: f64,
    /// How failures known to an interval were read; none where there were none.
    pub reading: Option<Reading>,
    /// What to know when reading the curves.
    pub notes: Vec<CurveNote>,
    /// Lamps under observation from new, and just after each age at which that changes other than by a step. Curves saved
    /// before have none.
    #[serde(default)]
    pub(super) watched_ages: Vec<f64>,
    #[serde(default)]
    pub(super) watched: Vec<u64>,
}

impl Sound for Incidence {
    fn check(&self, c: &mut Checks) {
        let steps = self.ages.len();
        c.rising("ages", &self.ages, false);
        c.entries("at_risk", self.at_risk.len(), steps);
        c.entries("reliability", self.reliability.len(), steps);
        c.column("reliability", &self.reliability, Checks::share);
        for (i, cause) in self.causes.iter().enumerate() {
            c.entries(&format!("causes[{i}].failures"), cause.failures.len(), steps);
            c.entries(&format!("causes[{i}].incidence"), cause.incidence.len(), steps);
            c.column(&format!("causes[{i}].incidence"), &cause.incidence, Checks::share);
            let (mut before, mut sum) = (1.0, 0.0);
            let steps = cause.failures.iter().zip(&self.at_risk).zip(&cause.incidence).zip(&self.reliability);
            for (j, (((&d, &n), &incidence), &reliability)) in steps.enumerate() {
                sum += before * d as f64 / n.max(1) as f64;
                before = reliability;
                c.equal(&format!("causes[{i}].incidence[{j}]"), incidence, sum);
            }
        }
        c.once("causes", self.causes.iter().map(|cause| cause.ending));
        c.falling("reliability", &self.reliability);
        for (i, reliability) in self.reliability.iter().enumerate() {
            let failed: f64 = self.causes.iter().filter_map(|cause| cause.incidence.get(i)).sum();
            c.equal(&format!("reliability[{i}]"), *reliability + failed, 1.0);
        }
        c.entries("watched", self.watched.len(), self.watched_ages.len());
        c.need("watched_ages", self.watched_ages.is_sorted(), "others", "ascending ages");
        c.column("watched_ages", &self.watched_ages, Checks::not_negative);
        c.not_negative("conditional_from", self.conditional_from);
        c.ends("last_age", self.ages.last().copied(), self.last_age);
    }
}

/// Estimates the probability to fail by each cause by each age while the other causes act too.
///
/// A lamp that burst can no longer go dim. To treat every other ending as censoring and take 1 - R of one cause overstates
/// what that cause does; here each failure takes its share of the lamps still working:
///
/// # Formula
/// ```text
/// I_c(t) = sum over failure ages a <= t of R(a-) d_c / n
/// ```
/// `d_c`: failures by cause c at a. n: lamps at risk at a. R(a-): product-limit reliability just before a, all causes
/// together. Options and errors are those of [`product_limit`](super::product_limit).
///
/// # Errors
/// As [`product_limit`](super::product_limit).
///
/// # Source
/// O. O. Aalen and S. Johansen (1978), Scand. J. Statist. 5, 141-150, for two states. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{CurveOptions, incidence};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::Ending;
/// let rows = Rows {
///     low: vec![10.0, 20.0],
///     high: vec![10.0, 20.0],
///     ending: Some(vec![Ending::Burst, Ending::Dim]),
///     ..Rows::default()
/// };
/// let (tally, _) = Tally::from_rows(&rows).unwrap();
/// let by_cause = incidence(&tally, &CurveOptions::default()).unwrap();
/// assert_eq!(by_cause.incidence_at(Ending::Burst, 15.0), Some(0.5));
/// assert_eq!(by_cause.incidence_at(Ending::Dim, 15.0), Some(0.0));
/// ```
pub fn incidence(tally: &Tally, options: &CurveOptions) -> Result<Incidence> {
    let read = prepare(tally, options)?;
    let steps = walk(&read, options, true)?;
    let intervals = tally.interval_failures();
    let notes = notes(&steps, options, intervals);
    let n = steps.ages.len();
    let mut seen: Vec<Ending> = steps.by_ending.iter().filter_map(|e| Ending::from_code(e.1)).collect();
    seen.sort_unstable_by_key(|e| e.code());
    seen.dedup();
    let causes = seen
        .into_iter()
        .map(|ending| {
            let mut failures = vec![0; n];
            for &(i, code, count) in &steps.by_ending {
                if let Some(cell) = failures.get_mut(i).filter(|_| code == ending.code()) {
                    *cell += count;
                }
            }
            let mut sum = Running::default();
            let before = std::iter::once(&1.0).chain(&steps.reliability);
            let incidence = before
                .zip(failures.iter().zip(&steps.at_risk))
                .map(|(r, (&d, &at_risk))| sum.add(r * (d as f64 / at_risk as f64)))
                .collect();
            CauseIncidence { ending, failures, incidence }
        })
        .collect();
    let (watched_ages, watched) = watched(&read, steps.conditional_from);
    Ok(Incidence {
        ages: steps.ages,
        at_risk: steps.at_risk,
        reliability: steps.reliability,
        causes,
        conditional_from: steps.conditional_from,
        last_age: steps.last_age,
        reading: options.reading.filter(|_| intervals > 0),
        notes,
        watched_ages,
        watched,
    })
}

impl Incidence {
    /// Probability to have failed by the cause by the age; 0 for a cause not seen, none where the curves are not known.
    pub fn incidence_at(&self, ending: Ending, age: f64) -> Option<f64> {
        let known = age <= self.last_age || self.reliability.last() == Some(&0.0);
        if !(age >= self.conditional_from && known) {
            return None;
        }
        let cause = self.causes.iter().find(|c| c.ending == ending);
        let step = self.ages.partition_point(|&a| a <= age).checked_sub(1);
        Some(cause.zip(step).and_then(|(c, i)| c.incidence.get(i).copied()).unwrap_or(0.0))
    }

    /// Lamps at risk at an age: those with entry < age <= exit, at age 0 those seen from new; 0 past the oldest. None where
    /// the age is none, and for curves saved before they held this.
    pub fn at_risk_at(&self, age: f64) -> Option<u64> {
        let failures = |i: usize| self.causes.iter().filter_map(|c| c.failures.get(i)).sum::<u64>();
        let step = |i: usize| self.at_risk.get(i).map(|n| (*n, failures(i)));
        at_risk_at(age, (&self.ages, step), (&self.watched_ages, &self.watched))
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// Curves from their saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
