//! Any number of causes in series, borrowed from where they stand.

use super::check;
use super::combined::{LN_HALF, ln_rest, ln_sum, quantile_between, tail_power};
use super::moments;
use super::traits::Life;
use crate::base::error::Result;

/// A life that ends by whichever of its causes comes first: [`super::Series`] for lives that belong to someone else.
#[derive(Debug)]
pub(crate) struct Joint<'a> {
    lives: Vec<&'a dyn Life>,
    kinks: Vec<f64>,
}

impl<'a> Joint<'a> {
    /// Causes side by side, at least one.
    pub(crate) fn new(lives: Vec<&'a dyn Life>) -> Self {
        let mut kinks: Vec<f64> = lives.iter().flat_map(|l| l.kinks().iter().copied()).collect();
        kinks.sort_by(f64::total_cmp);
        kinks.dedup();
        Self { lives, kinks }
    }
}

impl Life for Joint<'_> {
    fn ln_density(&self, age: f64) -> f64 {
        self.ln_reliability(age) + self.ln_hazard(age)
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        self.lives.iter().map(|l| l.ln_reliability(age)).sum()
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        let passed = self.ln_reliability(age);
        if passed < LN_HALF {
            return ln_rest(passed);
        }
        // Each cause for those that the ones before it have left.
        let (mut failed, mut left) = (f64::NEG_INFINITY, 0.0);
        for life in &self.lives {
            failed = ln_sum(failed, left + life.ln_failure_probability(age));
            left += life.ln_reliability(age);
        }
        failed
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        self.lives.iter().fold(f64::NEG_INFINITY, |sum, l| ln_sum(sum, l.ln_hazard(age)))
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        if p > 0.0 && 1.0 - p < self.never_fails() {
            return Ok(f64::INFINITY);
        }
        // Each cause alone takes longer; where each has lost its share of it in ln R, all have not lost more.
        let part = -((-p).ln_1p() / self.lives.len() as f64).exp_m1();
        let (mut low, mut high) = (f64::MAX, f64::MAX);
        for life in &self.lives {
            high = high.min(life.quantile(p)?);
            low = low.min(life.quantile(part)?);
        }
        if self.lives.len() == 1 || p == 0.0 || p == 1.0 {
            return Ok(high);
        }
        quantile_between(self, p, low.min(high), high)
    }

    fn landmarks(&self) -> Vec<f64> {
        self.lives.iter().flat_map(|l| l.landmarks()).collect()
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        if let [life] = self.lives.as_slice() {
            return life.mean_to(age);
        }
        let age = check::age(age)?;
        if age == f64::INFINITY && tail_power(self) <= 1.0 {
            return Ok(f64::INFINITY);
        }
        moments::area(self, age)
    }

    fn never_fails(&self) -> f64 {
        self.lives.iter().map(|l| l.never_fails()).product()
    }

    fn kinks(&self) -> &[f64] {
        &self.kinks
    }

    fn below_zero(&self) -> f64 {
        1.0 - self.lives.iter().map(|l| 1.0 - l.below_zero()).product::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Lognormal, Series, Weibull};
    use super::*;

    #[test]
    fn borrowed_causes_are_the_series_of_them() {
        let (a, b) = (Weibull { shape: 0.7, scale: 5000.0 }, Weibull { shape: 3.0, scale: 1500.0 });
        let c = Lognormal { location: 7.0, scale: 0.5 };
        let series = Series::new(Box::new(a), Box::new(Series::new(Box::new(b), Box::new(c))));
        let joint = Joint::new(vec![&a, &b, &c]);
        for age in [1e-3, 1.0, 300.0, 1100.0, 4000.0] {
            let close = |x: f64, y: f64| assert!((x - y).abs() <= 1e-12 * y.abs(), "{age}: {x} {y}");
            close(joint.ln_reliability(age), series.ln_reliability(age));
            close(joint.ln_failure_probability(age), series.ln_failure_probability(age));
            close(joint.ln_density(age), series.ln_density(age));
            close(joint.mean_to(age).unwrap(), series.mean_to(age).unwrap());
        }
        for p in [1e-9, 0.01, 0.5, 0.999] {
            assert!((joint.quantile(p).unwrap() / series.quantile(p).unwrap() - 1.0).abs() < 1e-10, "{p}");
        }
        assert_eq!(joint.quantile(0.0).unwrap(), 0.0);
    }
}
