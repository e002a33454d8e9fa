//! A life made of steps: the product-limit curve as it stands, for answers that assume no family.

use super::traits::Life;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::empirical::Curve;

/// A product-limit curve as a life. It fails only at its steps; what it does not lose by its last step never fails, so do
/// not ask it for ages past the last one under observation.
///
/// The density between steps is 0, so costs must be built on the reliability and its integral, never on the density.
#[derive(Clone, Debug, PartialEq)]
pub struct StepLife {
    ages: Vec<f64>,
    reliability: Vec<f64>,
    /// Integral of the reliability up to each step.
    area: Vec<f64>,
}

impl StepLife {
    /// The life of a curve from new.
    ///
    /// # Errors
    /// `family.step_conditional` for a curve given survival to an age above 0: it says nothing about younger lamps.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::{CurveOptions, product_limit};
    /// use relamp::family::{Life, StepLife};
    /// use relamp::lives::{Rows, Tally};
    /// let rows = Rows { low: vec![100.0, 300.0], high: vec![100.0, 300.0], ..Rows::default() };
    /// let curve = product_limit(&Tally::from_rows(&rows).unwrap().0, &CurveOptions::default()).unwrap();
    /// let life = StepLife::new(&curve).unwrap();
    /// assert_eq!(life.mean_to(f64::INFINITY).unwrap(), 200.0);
    /// ```
    pub fn new(curve: &Curve) -> Result<Self> {
        if curve.conditional_from() > 0.0 {
            let problem = Problem::new("family.step_conditional", "the curve says nothing about lamps from new")
                .at(Place::input("curve"))
                .got(format!("a curve given survival to {} h", curve.conditional_from()))
                .expected("a curve from new");
            return Err(Error::new(Kind::Refused, problem));
        }
        let (mut sum, mut from, mut height) = (0.0, 0.0, 1.0);
        let mut area = Vec::with_capacity(curve.ages().len());
        for (&age, &r) in curve.ages().iter().zip(curve.reliability()) {
            sum += (age - from) * height;
            area.push(sum);
            (from, height) = (age, r);
        }
        Ok(Self { ages: curve.ages().to_vec(), reliability: curve.reliability().to_vec(), area })
    }

    /// Age, reliability and integral at the last step at or before an age.
    fn step(&self, age: f64) -> (f64, f64, f64) {
        let i = self.ages.partition_point(|&a| a <= age);
        let last = |column: &[f64], start| i.checked_sub(1).and_then(|i| column.get(i).copied()).unwrap_or(start);
        (last(&self.ages, 0.0), last(&self.reliability, 1.0), last(&self.area, 0.0))
    }
}

impl Life for StepLife {
    fn ln_density(&self, age: f64) -> f64 {
        if age.is_nan() {
            return f64::NAN;
        }
        let at_step = self.ages.binary_search_by(|a| a.total_cmp(&age)).is_ok();
        if at_step { f64::INFINITY } else { f64::NEG_INFINITY }
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        if age.is_nan() { f64::NAN } else { self.step(age).1.ln() }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age.is_nan() { f64::NAN } else { (1.0 - self.step(age).1).ln() }
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        if !(0.0..=1.0).contains(&p) {
            let problem = Problem::new("family.step_probability", "not a probability")
                .at(Place::input("p"))
                .got(p)
                .expected("0 to 1");
            return Err(Error::new(Kind::Domain, problem));
        }
        if p == 0.0 {
            return Ok(0.0);
        }
        // As in `Curve::quantile`: a step that misses by rounding counts as reached.
        let reached = (1.0 - p) + 1e-12 * p.min(1.0 - p);
        let i = self.reliability.partition_point(|&r| r > reached);
        Ok(self.ages.get(i).copied().unwrap_or(f64::INFINITY))
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        if age.is_nan() || age < 0.0 {
            let problem = Problem::new("family.step_age", "not an age")
                .at(Place::input("age"))
                .got(age)
                .expected("hours from 0, or infinity");
            return Err(Error::new(Kind::Domain, problem));
        }
        let (from, height, area) = self.step(age);
        // 0 x infinity where every lamp has failed.
        Ok(if height == 0.0 { area } else { area + (age - from) * height })
    }

    fn never_fails(&self) -> f64 {
        self.reliability.last().copied().unwrap_or(1.0)
    }

    fn kinks(&self) -> &[f64] {
        &self.ages
    }
}
