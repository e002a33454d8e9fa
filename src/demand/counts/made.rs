//! Counts made of other counts, of probabilities, and of needs that come in batches.

use super::{Count, Raw};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Largest ratio of variance to mean of [`Count::negative_binomial`]: its tail grows with it.
const LARGEST_RATIO: f64 = 1000.0;

impl Count {
    /// The distribution with these probabilities of `first`, `first + 1`, ... lamps.
    ///
    /// # Errors
    /// `demand.probabilities` unless they lie in 0 to 1 and sum to 1.
    ///
    /// # Examples
    /// ```
    /// use relamp::demand::Count;
    /// assert_eq!(Count::from_probabilities(2, vec![0.5, 0.5])?.mean(), 2.5);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn from_probabilities(first: u64, probabilities: Vec<f64>) -> Result<Self> {
        Self::try_from(Raw { first, probabilities })
    }

    /// Needs whose variance is `ratio` times their mean: a Poisson number whose rate varies by a gamma law, or lamps
    /// needed in batches.
    ///
    /// # Formula
    /// ```text
    /// P(0) = ratio^-a;   P(k) / P(k - 1) = (mean + (k - 1)(ratio - 1)) / (k ratio);   a = mean / (ratio - 1)
    /// ```
    /// A ratio of 1 is the Poisson law.
    ///
    /// # Errors
    /// `demand.mean` unless the mean lies in 0 to 1e9; `demand.ratio` unless the ratio lies in 1 to 1,000.
    ///
    /// # Numerics
    /// Terms by recursion from the largest, as in [`Count::poisson`].
    ///
    /// # Examples
    /// ```
    /// use relamp::demand::Count;
    /// let needs = Count::negative_binomial(4.0, 2.0)?;
    /// assert!((needs.at_most(0) - 0.0625).abs() < 1e-15);
    /// assert!((needs.sd() * needs.sd() - 8.0).abs() < 1e-12);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn negative_binomial(mean: f64, ratio: f64) -> Result<Self> {
        if !(1.0..=LARGEST_RATIO).contains(&ratio) {
            let problem =
                Problem::new("demand.ratio", "the variance of a number of lamps over its mean is out of range");
            return Err(Error::new(Kind::Domain, problem.got(ratio).expected("1 to 1,000")));
        }
        if ratio == 1.0 || !(mean > 0.0 && mean <= 1e9) {
            return Self::poisson(mean);
        }
        let up = |k: f64| (mean + (k - 1.0) * (ratio - 1.0)) / (k * ratio);
        // P(k) >= P(k - 1) up to k = mean - (ratio - 1).
        let mode = (mean - (ratio - 1.0)).floor().max(0.0);
        Ok(Self::from_mode(mode, f64::INFINITY, |k| 1.0 / up(k), up))
    }

    /// The mixture of several distributions with weights, which need not sum to 1.
    ///
    /// # Errors
    /// `demand.nothing_to_mix` for none; `demand.weight`, one problem for each weight that is negative or not finite, and
    /// where all are 0.
    ///
    /// # Examples
    /// ```
    /// use relamp::demand::Count;
    /// let (few, many) = (Count::certain(1), Count::certain(3));
    /// assert_eq!(Count::mix_weighted(&[(3.0, &few), (1.0, &many)])?.mean(), 1.5);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn mix_weighted(parts: &[(f64, &Count)]) -> Result<Self> {
        let wrong = |i: usize, w: f64| {
            Problem::new("demand.weight", "a weight must be finite and not negative, and one of them above 0")
                .at(Place::input("weights").row(i as u64 + 1))
                .got(w)
        };
        let mut problems: Vec<_> = parts
            .iter()
            .enumerate()
            .filter(|(_, (w, _))| !(*w >= 0.0 && w.is_finite()))
            .map(|(i, (w, _))| wrong(i, *w))
            .collect();
        let whole: f64 = parts.iter().map(|(w, _)| w).sum();
        if problems.is_empty() && !parts.is_empty() && !(whole > 0.0 && whole.is_finite()) {
            problems.push(wrong(0, whole));
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        let used = || parts.iter().filter(|(w, _)| *w > 0.0);
        let Some(first) = used().map(|(_, c)| c.first()).min() else {
            return Err(Error::new(Kind::Domain, Problem::new("demand.nothing_to_mix", "no distribution to mix")));
        };
        let last = used().map(|(_, c)| c.last()).max().unwrap_or(first);
        let mut probabilities = vec![0.0; (last - first) as usize + 1];
        for (weight, part) in used() {
            let shift = (part.first() - first) as usize;
            for (sum, p) in probabilities.iter_mut().skip(shift).zip(part.probabilities()) {
                *sum += weight / whole * p;
            }
        }
        Ok(Self { first, probabilities })
    }

    /// The sum of two independent numbers, by direct convolution.
    ///
    /// # Examples
    /// ```
    /// use relamp::demand::Count;
    /// let both = Count::poisson(1.0)?.plus(&Count::poisson(3.0)?);
    /// assert!((both.at_most(6) - Count::poisson(4.0)?.at_most(6)).abs() < 1e-14);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    #[must_use]
    pub fn plus(&self, other: &Count) -> Self {
        let mut sum = self.clone();
        sum.add_independent(other);
        sum
    }
}
