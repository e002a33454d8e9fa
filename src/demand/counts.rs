//! The distribution of a whole number of lamps.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::lanes::convolved;
use crate::base::sound::{Checks, Sound};

mod made;

/// Entries at either end of a sum of counts below this are dropped: they are far below rounding, and on their way to 0
/// they would pass numbers so small that arithmetic slows down a hundredfold.
const DROPPED: f64 = 1e-30;

/// Poisson terms below this share of the largest are left out.
const NEGLIGIBLE: f64 = 1e-40;

/// Probability of each number of lamps: `probabilities[k]` is that of `first + k` lamps.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// let of_two = Count::of_chances(&[0.5, 0.2]).unwrap();
/// assert_eq!(of_two.probabilities(), [0.4, 0.5, 0.1]);
/// assert!((of_two.mean() - 0.7).abs() < 1e-15);
/// assert_eq!(of_two.quantile(0.85).unwrap(), 1);
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct Count {
    first: u64,
    probabilities: Vec<f64>,
}

// Its constructor is its only door, for a saved form too.
impl Sound for Count {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    first: u64,
    probabilities: Vec<f64>,
}

impl TryFrom<Raw> for Count {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        let whole: f64 = raw.probabilities.iter().sum();
        let sound = raw.probabilities.iter().all(|p| (0.0..=1.0 + 1e-9).contains(p));
        let last = raw.first.checked_add(raw.probabilities.len() as u64);
        if sound && (whole - 1.0).abs() < 1e-9 && last.is_some() {
            return Ok(Self { first: raw.first, probabilities: raw.probabilities });
        }
        let problem =
            Problem::new("demand.probabilities", "the probabilities of a count must lie in 0 to 1 and sum to 1")
                .at(Place::input("probabilities"))
                .got(whole);
        Err(Error::new(Kind::Input, problem))
    }
}

impl Count {
    /// A number that is certain.
    pub fn certain(number: u64) -> Self {
        Self { first: number, probabilities: vec![1.0] }
    }

    /// The number of events among independent ones that happen with the given chances, by direct convolution.
    ///
    /// # Errors
    /// `demand.chance`, one problem for each chance outside 0 to 1.
    pub fn of_chances(chances: &[f64]) -> Result<Self> {
        let problems: Vec<_> = chances
            .iter()
            .enumerate()
            .filter(|(_, p)| !(0.0..=1.0).contains(*p))
            .map(|(i, p)| {
                Problem::new("demand.chance", "a chance must lie between 0 and 1")
                    .at(Place::input("chances").row(i as u64 + 1))
                    .got(p)
            })
            .collect();
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        let mut sum = Self::certain(0);
        for p in chances {
            sum.add(&[1.0 - p, *p]);
        }
        Ok(sum)
    }

    /// Events at a constant rate, independent of age: for demand that no lamp ages explain.
    ///
    /// # Formula
    /// ```text
    /// P(k) = exp(-mean) mean^k / k!
    /// ```
    ///
    /// # Errors
    /// `demand.mean` unless the mean is finite, not negative and at most 1e9.
    ///
    /// # Numerics
    /// Terms come by recursion from the largest, so a mean of a million neither underflows nor takes long; terms below
    /// 1e-40 of the largest are left out.
    pub fn poisson(mean: f64) -> Result<Self> {
        if !(0.0..=1e9).contains(&mean) {
            let problem = Problem::new("demand.mean", "a mean number must lie between 0 and 1e9").got(mean);
            return Err(Error::new(Kind::Domain, problem));
        }
        if mean == 0.0 {
            return Ok(Self::certain(0));
        }
        Ok(Self::from_mode(mean.floor(), f64::INFINITY, |k| k / mean, |k| mean / k))
    }

    /// The number of events among `trials` independent ones with the same chance.
    ///
    /// # Formula
    /// ```text
    /// P(k) = trials! / (k! (trials - k)!) chance^k (1 - chance)^(trials - k)
    /// ```
    ///
    /// # Errors
    /// `demand.chance` unless the chance lies in 0 to 1; `demand.mean` above 1e9 trials.
    ///
    /// # Numerics
    /// Terms by recursion from the largest, as in [`Count::poisson`].
    ///
    /// # Examples
    /// ```
    /// use relamp::demand::Count;
    /// let heads = Count::binomial(2, 0.5)?;
    /// assert_eq!(heads.probabilities(), [0.25, 0.5, 0.25]);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn binomial(trials: u64, chance: f64) -> Result<Self> {
        if !(0.0..=1.0).contains(&chance) {
            let problem = Problem::new("demand.chance", "a chance must lie between 0 and 1").got(chance);
            return Err(Error::new(Kind::Input, problem));
        }
        if trials > 1_000_000_000 {
            let problem = Problem::new("demand.mean", "more trials than 1e9").got(trials);
            return Err(Error::new(Kind::Domain, problem));
        }
        if chance == 0.0 || chance == 1.0 {
            return Ok(Self::certain(if chance == 0.0 { 0 } else { trials }));
        }
        let (n, odds) = (trials as f64, chance / (1.0 - chance));
        let mode = ((n + 1.0) * chance).floor().min(n);
        let down = |k: f64| k / ((n - k + 1.0) * odds);
        let up = |k: f64| (n - k + 1.0) / k * odds;
        Ok(Self::from_mode(mode, n, down, up))
    }

    /// A distribution from its mode: `down(k)` is P(k - 1) / P(k), `up(k)` is P(k) / P(k - 1), `most` the greatest number.
    fn from_mode(mode: f64, most: f64, down: impl Fn(f64) -> f64, up: impl Fn(f64) -> f64) -> Self {
        let mut below = Vec::new();
        let (mut term, mut k) = (1.0, mode);
        while k > 0.0 {
            term *= down(k);
            if term < NEGLIGIBLE {
                break;
            }
            below.push(term);
            k -= 1.0;
        }
        let first = mode as u64 - below.len() as u64;
        let mut probabilities: Vec<f64> = below.into_iter().rev().collect();
        probabilities.push(1.0);
        let (mut term, mut k) = (1.0, mode);
        while k < most {
            k += 1.0;
            term *= up(k);
            if term < NEGLIGIBLE {
                break;
            }
            probabilities.push(term);
        }
        // Small terms first from both ends, so that the sum keeps its digits.
        let mut ascending = probabilities.clone();
        ascending.sort_by(f64::total_cmp);
        let whole: f64 = ascending.iter().sum();
        for p in &mut probabilities {
            *p /= whole;
        }
        Self { first, probabilities }
    }

    /// The mixture of several distributions with equal weight: what is known over draws.
    ///
    /// # Errors
    /// `demand.nothing_to_mix` for none.
    pub fn mix(parts: &[&Count]) -> Result<Self> {
        let Some(first) = parts.iter().map(|c| c.first).min() else {
            let problem = Problem::new("demand.nothing_to_mix", "no distribution to mix");
            return Err(Error::new(Kind::Domain, problem));
        };
        let end = parts.iter().map(|c| c.first + c.probabilities.len() as u64).max().unwrap_or(first);
        let mut probabilities = vec![0.0; (end - first) as usize];
        for part in parts {
            let shift = (part.first - first) as usize;
            for (sum, p) in probabilities.iter_mut().skip(shift).zip(&part.probabilities) {
                *sum += p / parts.len() as f64;
            }
        }
        Ok(Self { first, probabilities })
    }

    /// The mixture of several distributions with weights that sum to 1.
    pub(super) fn weighted(parts: &[(f64, &Count)]) -> Self {
        let first = parts.iter().map(|p| p.1.first).min().unwrap_or(0);
        let end = parts.iter().map(|p| p.1.first + p.1.probabilities.len() as u64).max().unwrap_or(first + 1);
        let mut probabilities = vec![0.0; (end - first) as usize];
        for (weight, part) in parts {
            let shift = (part.first - first) as usize;
            for (sum, p) in probabilities.iter_mut().skip(shift).zip(&part.probabilities) {
                *sum += weight * p;
            }
        }
        Self { first, probabilities }
    }

    /// Chances of 0, 1, 2, ... that are known to sum to 1.
    pub(super) fn of_known(probabilities: &[f64]) -> Self {
        Self::trimmed(0, probabilities.to_vec())
    }

    /// Without entries at either end that are dropped.
    fn trimmed(first: u64, mut probabilities: Vec<f64>) -> Self {
        let kept = |p: &f64| *p >= DROPPED;
        let (from, to) = (probabilities.iter().position(kept), probabilities.iter().rposition(kept));
        let (Some(from), Some(to)) = (from, to) else { return Self { first, probabilities } };
        probabilities.truncate(to + 1);
        if from > 0 {
            probabilities.drain(..from);
        }
        Self { first: first + from as u64, probabilities }
    }

    /// The sum of independent numbers, added pair by pair, so that the work grows little faster than their number.
    pub(super) fn sum_of(mut parts: Vec<Count>) -> Self {
        while parts.len() > 1 {
            let mut halved = Vec::with_capacity(parts.len().div_ceil(2));
            let mut each = parts.into_iter();
            while let Some(mut sum) = each.next() {
                if let Some(other) = each.next() {
                    sum.add_independent(&other);
                }
                halved.push(sum);
            }
            parts = halved;
        }
        parts.pop().unwrap_or_else(|| Self::certain(0))
    }

    /// The sum of as many independent numbers that are distributed as this one, by squaring.
    pub(super) fn power(mut self, mut times: u64) -> Self {
        if times == 1 {
            return self;
        }
        let mut sum = Self::certain(0);
        while times > 0 {
            if times % 2 == 1 {
                sum.add_independent(&self);
            }
            times /= 2;
            if times > 0 {
                let twin = self.clone();
                self.add_independent(&twin);
            }
        }
        sum
    }

    /// Adds an independent number with the given probabilities of 0, 1, 2, ...
    pub(super) fn add(&mut self, other: &[f64]) {
        if !other.is_empty() {
            *self = Self::trimmed(self.first, convolved(&self.probabilities, other));
        }
    }

    /// Adds an independent number.
    pub(crate) fn add_independent(&mut self, other: &Count) {
        self.add(&other.probabilities);
        self.first += other.first;
    }

    /// Adds a number that is certain.
    pub(super) fn add_certain(&mut self, number: u64) {
        self.first += number;
    }

    /// Least number with an entry in [`Count::probabilities`].
    pub fn first(&self) -> u64 {
        self.first
    }

    /// Greatest number with an entry in [`Count::probabilities`].
    pub fn last(&self) -> u64 {
        self.first + (self.probabilities.len() as u64).saturating_sub(1)
    }

    /// Probability of each number from [`Count::first`] on.
    pub fn probabilities(&self) -> &[f64] {
        &self.probabilities
    }

    /// Mean number.
    pub fn mean(&self) -> f64 {
        let over: f64 = self.probabilities.iter().enumerate().map(|(k, p)| k as f64 * p).sum();
        self.first as f64 + over
    }

    /// Standard deviation.
    pub fn sd(&self) -> f64 {
        let mean = self.mean() - self.first as f64;
        let variance: f64 =
            self.probabilities.iter().enumerate().map(|(k, p)| (k as f64 - mean) * (k as f64 - mean) * p).sum();
        variance.sqrt()
    }

    /// Probability of more than `number`, summed from the far end so that small tails keep their digits.
    pub fn more_than(&self, number: u64) -> f64 {
        let tail: f64 = self.probabilities.iter().skip(self.up_to(number)).rev().sum();
        // The sum of no terms is -0.
        (0.0 + tail).min(1.0)
    }

    /// Probability of at most `number`.
    pub fn at_most(&self, number: u64) -> f64 {
        let upper = self.more_than(number);
        if upper < 0.5 {
            return 1.0 - upper;
        }
        let head: f64 = self.probabilities.iter().take(self.up_to(number)).sum();
        (0.0 + head).min(1.0)
    }

    /// Entries that belong to numbers up to this one.
    fn up_to(&self, number: u64) -> usize {
        number.checked_sub(self.first).map_or(0, |above| (above as usize).saturating_add(1))
    }

    /// Mean of the number above `number`: the expected shortage with that many lamps.
    pub fn expected_above(&self, number: u64) -> f64 {
        let terms = self.probabilities.iter().enumerate().rev().map(|(k, p)| {
            let lamps = self.first + k as u64;
            if lamps > number { (lamps - number) as f64 * p } else { 0.0 }
        });
        terms.sum()
    }

    /// Least number that is not passed with probability `p` or more: P(N <= n) >= p.
    ///
    /// # Errors
    /// `demand.probability` unless 0 < p < 1.
    pub fn quantile(&self, p: f64) -> Result<u64> {
        if !(p > 0.0 && p < 1.0) {
            let problem = Problem::new("demand.probability", "a quantile needs a probability between 0 and 1").got(p);
            return Err(Error::new(Kind::Domain, problem));
        }
        Ok(self.least_with_tail(1.0 - p))
    }

    /// Least number n with P(N > n) <= tail.
    pub fn least_with_tail(&self, tail: f64) -> u64 {
        let mut upper = 0.0;
        for (k, p) in self.probabilities.iter().enumerate().rev() {
            upper += p;
            if upper > tail {
                return self.first + k as u64;
            }
        }
        // Even the least number leaves no more than the tail above nothing.
        0
    }
}
