//! The whole distribution of the number of changes by one time.

use serde::{Deserialize, Serialize};

use super::closed::{Closed, LEAST};
use super::powers;
use super::rule::{ChangeRule, check_hours};
use super::spread::Spread;
use super::steps::Steps;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::family::Life;

/// How far the probabilities may miss 1 in all before they are refused.
const WHOLE: f64 = 1e-9;

/// Probability of each number of changes of one screen by a time; made by [`change_counts`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangeCounts {
    /// How lamps are changed.
    pub rule: ChangeRule,
    /// Burning hours from the start; changes at that very hour count.
    pub hours: f64,
    /// Number that the first of the probabilities belongs to; fewer changes have a probability below 1e-30.
    pub first: u64,
    /// Probabilities of `first`, `first + 1`, ... changes, `(n,)`.
    pub probabilities: Vec<f64>,
}

impl Sound for ChangeCounts {
    fn check(&self, c: &mut Checks) {
        c.part("rule", &self.rule);
        c.positive("hours", self.hours);
        c.column("probabilities", &self.probabilities, Checks::share);
        let whole: f64 = self.probabilities.iter().sum();
        c.need("probabilities", (whole - 1.0).abs() < WHOLE, whole, "probabilities that sum to 1");
        c.need("first", self.first <= 1 << 40, self.first, "a number of changes");
    }
}

impl ChangeCounts {
    fn each(&self) -> impl DoubleEndedIterator<Item = (u64, f64)> + '_ {
        self.probabilities.iter().enumerate().map(|(k, p)| (self.first + k as u64, *p))
    }

    /// Mean number of changes.
    pub fn mean(&self) -> f64 {
        self.first as f64 + self.each().map(|(k, p)| (k - self.first) as f64 * p).sum::<f64>()
    }

    /// Variance of the number of changes, summed about the mean so that it keeps its digits.
    pub fn variance(&self) -> f64 {
        let mean = self.mean();
        self.each().map(|(k, p)| (k as f64 - mean).powi(2) * p).sum()
    }

    /// Probability of exactly this number.
    pub fn probability(&self, number: u64) -> f64 {
        let at = number.checked_sub(self.first).and_then(|k| self.probabilities.get(k as usize));
        at.copied().unwrap_or(0.0)
    }

    /// Probability of more than `number` changes, summed from the far end so that small tails keep their digits.
    pub fn more_than(&self, number: u64) -> f64 {
        (0.0 + self.each().rev().take_while(|(k, _)| *k > number).map(|(_, p)| p).sum::<f64>()).min(1.0)
    }

    /// Probability of at most `number` changes, summed from the near end.
    pub fn at_most(&self, number: u64) -> f64 {
        (0.0 + self.each().take_while(|(k, _)| *k <= number).map(|(_, p)| p).sum::<f64>()).min(1.0)
    }

    /// Least number that is not passed with probability `p` or more: P(N <= n) >= p.
    ///
    /// # Errors
    /// `renewal.probability` unless 0 < p < 1.
    pub fn quantile(&self, p: f64) -> Result<u64> {
        if !(p > 0.0 && p < 1.0) {
            let problem = Problem::new("renewal.probability", "a quantile needs a probability between 0 and 1")
                .at(Place::input("p"))
                .got(p)
                .expected("above 0 and below 1");
            return Err(Error::new(Kind::Domain, problem));
        }
        let (tail, mut upper) = (1.0 - p, 0.0);
        for (k, chance) in self.each().rev() {
            upper += chance;
            if upper > tail {
                return Ok(k);
            }
        }
        Ok(0)
    }
}

/// The whole distribution of the number of changes of one screen by some burning hours, planned ones included.
///
/// # Formula
/// ```text
/// P(N(t) = 0) = R(t),   P(N(t) = n) = integral of P(N(t - s) = n - 1) dF(s) over (0, t)
/// ```
/// F, R: distribution of the hours from a change to the next and its complement, cut at the planned age as in
/// [`super::expected_changes`]; for a first lamp of age a, F and R of that lamp in the last step.
///
/// # Errors
/// Those of [`super::expected_changes`]; `renewal.too_many_changes` beyond 2,000 changes, or where the work would pass
/// some seconds.
///
/// # Numerics
/// Every probability is a sum of positive terms, so that those below 1e-12 keep digits too; below 1e-30 they are left
/// out. With failure-free hours, and for step curves, they are differences of the chances that the n-th change has come.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::renewal::{ChangeRule, change_counts};
/// let life = Weibull { shape: 2.0, scale: 1000.0 };
/// let counts = change_counts(&life, &ChangeRule::to_failure(), 1000.0)?;
/// assert!((counts.probability(0) - (-1f64).exp()).abs() < 1e-12);
/// assert_eq!(counts.quantile(0.95)?, 2);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn change_counts(life: &dyn Life, rule: &ChangeRule, hours: f64) -> Result<ChangeCounts> {
    rule.check()?;
    check_hours(&[hours])?;
    let closed = Closed::of(life).filter(|c| {
        rule.planned_age_hours.is_none() && (rule.first_age_hours == 0.0 || c.ageless()) && c.counts_reach(hours)
    });
    let mut all = match (Steps::of(life, rule)?, closed) {
        (Some(steps), _) => steps.probabilities(hours)?,
        (None, Some(closed)) => closed.probabilities(hours),
        (None, None) => powers::probabilities(&Spread::new(life, rule)?, rule, hours)?,
    };
    let whole: f64 = all.iter().sum();
    if whole.is_nan() || (whole - 1.0).abs() >= WHOLE {
        let problem = Problem::new("renewal.unsettled", "the probabilities do not sum to 1 on any grid that was tried")
            .at(Place::input("life"))
            .got(whole);
        return Err(Error::new(Kind::Refused, problem));
    }
    let first = all.iter().position(|p| *p >= LEAST).unwrap_or(0);
    while all.len() > first + 1 && all.last().is_some_and(|p| *p < LEAST) {
        all.pop();
    }
    Ok(ChangeCounts { rule: *rule, hours, first: first as u64, probabilities: all.split_off(first) })
}
