//! A count with a given mean and variance.

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::demand::Count;

/// Least ratio of variance to mean for which a count of two moments stands for the true one.
pub(crate) const LEAST_RATIO: f64 = 0.8;

/// Greatest ratio of variance to mean for which a count of two moments stands for the true one.
pub(crate) const GREATEST_RATIO: f64 = 2.0;

/// Ratios of variance to mean so close to 1 that the Poisson law is meant.
const ROUNDING: f64 = 1e-9;

/// A whole number with this mean and variance.
///
/// # Formula
/// ```text
/// variance > mean: negative binomial; equal: Poisson; below: q Bin(k, p) + (1 - q) Bin(k + 1, p), with
/// a = variance / mean^2 - 1 / mean,  -1 / k <= a <= -1 / (k + 1),
/// q = (1 + a (1 + k) + sqrt(-a k (1 + k) - k)) / (1 + a),  p = mean / (k + 1 - q)
/// ```
///
/// # Errors
/// `stock.variance_to_mean` where no such number exists or its variance is more than a thousand times its mean;
/// `demand.mean` out of range.
///
/// # Source
/// Adan, van Eenige and Resing, Fitting discrete distributions on the first two moments (1995). From memory.
pub(crate) fn of_moments(mean: f64, variance: f64) -> Result<Count> {
    let ratio = variance / mean;
    if mean == 0.0 || (ratio - 1.0).abs() <= ROUNDING {
        return Count::poisson(mean);
    }
    let refuse = || {
        let what = "no count of two moments stands for a variance so far from the mean";
        let problem = Problem::new("stock.variance_to_mean", what).at(Place::input("variance_to_mean")).got(ratio);
        Error::new(Kind::Domain, problem.expected("0.8 to 2"))
    };
    if ratio > 1.0 {
        return if ratio <= 1000.0 { Count::negative_binomial(mean, ratio) } else { Err(refuse()) };
    }
    let a = variance / (mean * mean) - 1.0 / mean;
    // Whole numbers around a mean that is not whole vary by themselves.
    let part = mean - mean.floor();
    if ratio.is_nan() || variance < part * (1.0 - part) || a < -1.0 {
        return Err(refuse());
    }
    let k = (-1.0 / a).floor();
    let root = (-a * k * (1.0 + k) - k).max(0.0).sqrt();
    let q = ((1.0 + a * (1.0 + k) + root) / (1.0 + a)).clamp(0.0, 1.0);
    let p = (mean / (k + 1.0 - q)).min(1.0);
    let (few, more) = (Count::binomial(k as u64, p)?, Count::binomial(k as u64 + 1, p)?);
    Count::mix_weighted(&[(q, &few), (1.0 - q, &more)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_two_moments_are_kept() {
        for mean in [0.3, 0.97, 2.0, 7.4, 41.0] {
            for ratio in [0.72, 0.8, 0.93, 1.0, 1.0005, 1.3, 2.0, 5.0] {
                let count = of_moments(mean, ratio * mean).unwrap();
                assert!((count.mean() / mean - 1.0).abs() < 1e-12, "{mean} {ratio}: {}", count.mean());
                let got = count.sd() * count.sd() / mean;
                assert!((got - ratio).abs() < 1e-7, "{mean} {ratio}: {got}");
            }
        }
        assert_eq!(of_moments(0.0, 0.0).unwrap(), Count::certain(0));
        assert_eq!(of_moments(0.5, 0.1).unwrap_err().slug(), "stock.variance_to_mean");
        assert_eq!(of_moments(2.0, 3000.0).unwrap_err().slug(), "stock.variance_to_mean");
    }
}
