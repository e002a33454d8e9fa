//! Weibull life that starts after a failure-free time: no failure before it, wear from then on.

use std::slice;

use serde::{Deserialize, Serialize};

use super::chain::{chain, flat};
use super::check;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use super::weibull::{Weibull, WeibullFamily, ln_f, ln_f_derivatives};
use crate::base::error::{Error, Kind, Problem, Result};

/// Weibull life with a failure-free time.
///
/// # Formula
/// ```text
/// R(t) = exp(-((t - location) / scale)^shape)  for t > location, else 1
/// ```
/// `t`: age, hours; `shape` > 0; `scale` > 0, hours: 63.2 % have failed by location + scale; `location` >= 0: the
/// failure-free time, hours.
///
/// # Numerics
/// As [`Weibull`], over the hours past the failure-free time.
///
/// # Source
/// IEC 61649, where the location is called the failure-free time (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, WeibullFailureFree};
/// let life = WeibullFailureFree { shape: 1.0, scale: 1000.0, location: 200.0 };
/// assert_eq!(life.reliability(200.0), 1.0);
/// assert!((life.mean()? - 1200.0).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WeibullFailureFree {
    /// Shape, above 0.
    pub shape: f64,
    /// Hours past the failure-free time by which 63.2 % have failed, above 0.
    pub scale: f64,
    /// Failure-free time, hours, 0 or more.
    pub location: f64,
}

impl WeibullFailureFree {
    /// Self, if shape and scale are positive, the location 0 or more, and all finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        self.wear().checked()?;
        check::not_negative("location", self.location)?;
        Ok(self)
    }

    /// The life over the hours past the failure-free time.
    fn wear(&self) -> Weibull {
        Weibull { shape: self.shape, scale: self.scale }
    }

    fn past(&self, age: f64) -> f64 {
        age - self.location
    }
}

impl Life for WeibullFailureFree {
    fn ln_density(&self, age: f64) -> f64 {
        self.wear().ln_density(self.past(age))
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        self.wear().ln_reliability(self.past(age))
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        self.wear().ln_failure_probability(self.past(age))
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        self.wear().ln_hazard(self.past(age))
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        // By age 0 nobody has failed, failure-free time or not.
        Ok(if p == 0.0 { 0.0 } else { self.location + self.wear().quantile(p)? })
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        // By age 0 nobody has failed, failure-free time or not.
        let ln_reliability = check::ln_probability(ln_reliability)?;
        Ok(if ln_reliability == 0.0 { 0.0 } else { self.location + self.wear().quantile_passed(ln_reliability)? })
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if age <= self.location { Ok(age) } else { Ok(self.location + self.wear().mean_to(self.past(age))?) }
    }

    fn kinks(&self) -> &[f64] {
        if self.location > 0.0 { slice::from_ref(&self.location) } else { &[] }
    }

    fn variance(&self) -> Result<f64> {
        self.wear().variance()
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if age <= self.location {
            return Ok(-self.past(age) + self.wear().mean()?);
        }
        self.wear().mean_residual_life(self.past(age))
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("weibull_failure_free", [self.shape, self.scale, self.location]))
    }
}

/// The Weibull family with a failure-free time; coordinates (ln shape, ln scale, location).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WeibullFailureFreeFamily;

impl Family for WeibullFailureFreeFamily {
    fn name(&self) -> &'static str {
        "weibull_failure_free"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["shape", "scale", "location"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log, Link::Log, Link::Hours]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.2, 70.0), (1.0, 1e5), (0.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [shape, scale, location] = check::exactly(parameters)?;
        Ok(Box::new(WeibullFailureFree { shape, scale, location }.checked()?))
    }

    fn anchor(&self) -> usize {
        1
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_shape, ln_scale, location] = check::first(coordinates);
        let (k, past) = (ln_shape.exp(), age - location);
        if !(past > 0.0 && past < f64::INFINITY) {
            return flat(Weibull { shape: k, scale: ln_scale.exp() }.ln_term(term, past), out);
        }
        let ln_past = past.ln();
        let u = k * (ln_past - ln_scale);
        let w = u.exp();
        let g = match term {
            Term::LnDensity => [ln_shape - ln_past + u - w, 1.0 - w, -w],
            Term::LnReliability => [-w, -w, -w],
            Term::LnFailureProbability => {
                let (first, second) = ln_f_derivatives(w);
                [ln_f(u), first, second]
            }
        };
        let slope = k / past;
        let bend = slope / past;
        let second = [u, -k, 0.0, -slope, 0.0, -bend, slope, 0.0, bend, -bend];
        chain(g, &[u, -k, -slope, slope], &second, order, out);
        if term == Term::LnDensity && order >= Order::Gradient {
            // ln shape and minus ln of the hours past stand outside the reduced age.
            let rate = 1.0 / past;
            if let [shape, _, location, age] = out.gradient.as_mut_slice() {
                *shape += 1.0;
                *location += rate;
                *age -= rate;
            }
            if let (Order::Hessian, [.., here, _, _, mixed, there]) = (order, out.hessian.as_mut_slice()) {
                *here += rate * rate;
                *mixed -= rate * rate;
                *there += rate * rate;
            }
        }
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        let with = |mut x: Vec<f64>| {
            x.push(0.0);
            x
        };
        WeibullFamily.starts(outline).into_iter().map(with).collect()
    }

    fn anchored(&self, coordinates: &[f64], age: f64, ln_reliability: f64) -> Result<f64> {
        let [ln_shape, _, location] = check::first(coordinates);
        let past = age - location;
        if past > 0.0 {
            return Ok(past.ln() - (-ln_reliability).ln() * (-ln_shape).exp());
        }
        let problem = Problem::new("family.anchor", "no lamp has failed by this age, whatever the scale");
        Err(Error::new(Kind::Refused, problem.got(format!("age {age}, failure-free time {location}"))))
    }

    fn step(&self, coordinates: &[f64], i: usize) -> f64 {
        let [_, ln_scale, _] = check::first(coordinates);
        if i == 2 { ln_scale.exp() } else { 1.0 }
    }

    fn floor(&self, i: usize) -> f64 {
        if i == 2 { 0.0 } else { f64::NEG_INFINITY }
    }

    fn inside(&self, coordinates: &[f64]) -> bool {
        let [ln_shape, ln_scale, location] = check::first(coordinates);
        WeibullFamily.inside(&[ln_shape, ln_scale]) && (0.0..f64::INFINITY).contains(&location)
    }
}
