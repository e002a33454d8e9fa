//! Log-logistic life: a hazard that rises to a peak and then falls, and a heavy upper tail.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};

use super::chain::{flat, over_parameters};
use super::check;
use super::formula::{Formula, Standard, fill, ln_one_plus_exp, ln_ratio};
use super::logistic::{StandardLogistic, ln_odds};
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;

/// Log-logistic life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = 1 / (1 + (t / scale)^shape)
/// ```
/// `t`: age, hours; `shape` > 0; `scale` > 0: median, hours.
///
/// # Numerics
/// Everything comes from u = shape ln(t / scale). The mean is infinite for a shape of 1 or less, the variance for 2 or less.
///
/// # Source
/// Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2 (1995), chapter 23 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, LogLogistic};
/// let life = LogLogistic { shape: 2.0, scale: 1000.0 };
/// assert_eq!(life.reliability(1000.0), 0.5);
/// assert!((life.mean()? - 500.0 * std::f64::consts::PI).abs() < 1e-9); // scale (pi/2) / sin(pi/2)
/// assert_eq!(LogLogistic { shape: 1.0, scale: 1000.0 }.mean()?, f64::INFINITY);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogLogistic {
    /// Shape, above 0.
    pub shape: f64,
    /// Median, hours, above 0.
    pub scale: f64,
}

impl LogLogistic {
    /// Self, if both parameters are positive and finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        check::positive("shape", self.shape)?;
        check::positive("scale", self.scale)?;
        Ok(self)
    }

    fn term(&self, term: Term, age: f64) -> f64 {
        Logarithmic::<StandardLogistic>::plain(term, [self.shape, self.scale, age])
    }

    /// Mean hours still to come where few remain: a series of positive terms in R.
    fn tail(&self, age: f64, reliability: f64) -> f64 {
        let b = 1.0 / self.shape;
        let (mut part, mut total, mut k) = (1.0, 1.0, 1.0);
        while part > 1e-17 * total {
            part *= k * reliability / (k + 1.0 - b);
            total += part;
            k += 1.0;
        }
        age * b / (1.0 - b) * total
    }
}

impl Life for LogLogistic {
    fn ln_density(&self, age: f64) -> f64 {
        if age < 0.0 || age == f64::INFINITY {
            return f64::NEG_INFINITY;
        }
        if age == 0.0 {
            return if self.shape < 1.0 {
                f64::INFINITY
            } else if self.shape == 1.0 {
                -self.scale.ln()
            } else {
                f64::NEG_INFINITY
            };
        }
        self.term(Term::LnDensity, age)
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        if age <= 0.0 { 0.0 } else { self.term(Term::LnReliability, age) }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age <= 0.0 { f64::NEG_INFINITY } else { self.term(Term::LnFailureProbability, age) }
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        if !(age > 0.0 && age < f64::INFINITY) {
            return self.ln_density(age);
        }
        let u = self.shape * (age / self.scale).ln();
        self.shape.ln() - age.ln() - ln_one_plus_exp(-u)
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let odds = check::probability(p)?.ln() - (-p).ln_1p();
        Ok(self.scale * (odds / self.shape).exp())
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.scale * (ln_odds(check::ln_probability(ln_reliability)?) / self.shape).exp())
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if age == f64::INFINITY {
            if self.shape <= 1.0 {
                return Ok(f64::INFINITY);
            }
            let y = PI / self.shape;
            // sin(pi - y) = sin y: next to a shape of 1 the first keeps its digits.
            let rest = if self.shape < 2.0 { PI * (self.shape - 1.0) / self.shape } else { y };
            return Ok(self.scale * y / rest.sin());
        }
        moments::area(self, age)
    }

    fn variance(&self) -> Result<f64> {
        if self.shape <= 2.0 {
            return Ok(f64::INFINITY);
        }
        // y / (sin y cos y) - y^2 / sin^2 y, y = pi / shape, without the difference of near equals.
        let y = PI / self.shape;
        let over = if y < 0.1 {
            let s = y * y;
            y * s * (1.0 / 3.0 + s * (2.0 / 15.0 + s * (17.0 / 315.0 + s * (62.0 / 2835.0 + s * 1382.0 / 155_925.0))))
        } else {
            y.tan() - y
        };
        Ok(self.scale * self.scale * y * over / (y.sin() * y.sin()))
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if self.shape <= 1.0 || age == f64::INFINITY {
            return Ok(f64::INFINITY);
        }
        let reliability = self.reliability(age);
        if reliability < 0.5 {
            return Ok(self.tail(age, reliability));
        }
        Ok((self.mean()? - self.mean_to(age)?) / reliability)
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("log_logistic", [self.shape, self.scale]))
    }
}

/// ln terms of a life whose logarithm is ln scale + Z / shape, from those of Z.
#[derive(Debug)]
pub(super) struct Logarithmic<S>(std::marker::PhantomData<S>);

impl<S: Standard> Formula<3> for Logarithmic<S> {
    fn term<T: Number>(term: Term, [shape, scale, age]: [T; 3], [ln_shape, ln_scale, ln_age]: [T; 3]) -> T {
        let found = S::term(term, shape * ln_ratio(age, scale, ln_age, ln_scale));
        if term == Term::LnDensity { found + ln_shape - ln_age } else { found }
    }
}

/// The log-logistic family; coordinates (ln shape, ln scale).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LogLogisticFamily;

impl Family for LogLogisticFamily {
    fn name(&self) -> &'static str {
        "log_logistic"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["shape", "scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.2, 60.0), (1.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [shape, scale] = check::exactly(parameters)?;
        Ok(Box::new(LogLogistic { shape, scale }.checked()?))
    }

    fn anchor(&self) -> usize {
        1
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_shape, ln_scale] = check::first(coordinates);
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(LogLogistic { shape: ln_shape.exp(), scale: ln_scale.exp() }.ln_term(term, age), out);
        }
        fill::<Logarithmic<StandardLogistic>, 3, 6>(self.links(), coordinates, age, term, order, out);
    }

    fn parameter_jet(&self, parameters: &[f64], age: f64, term: Term) -> Result<Jet> {
        let [shape, scale] = check::exactly(parameters)?;
        let life = LogLogistic { shape, scale }.checked()?;
        let value = life.ln_term(term, age);
        if !(age > 0.0 && age < f64::INFINITY) {
            let mut out = Jet::new(2);
            flat(value, &mut out);
            return Ok(out);
        }
        let u = shape * (age / scale).ln();
        let (failed, passed) = (1.0 / (1.0 + (-u).exp()), 1.0 / (1.0 + u.exp()));
        let (first, second) = match term {
            Term::LnDensity => (passed - failed, -2.0 * failed * passed),
            Term::LnReliability => (-failed, -failed * passed),
            Term::LnFailureProbability => (passed, -failed * passed),
        };
        Ok(over_parameters([shape, scale, age], [value, first, second], term))
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // For complete samples the standard deviation of ln age is pi / (sqrt(3) shape).
        let shape = (1.813_8 / outline.sd_ln.max(1e-3)).clamp(0.05, 50.0);
        let rate = (outline.exposure / outline.failures).ln();
        vec![vec![shape.ln(), outline.mean_ln], vec![0.0, rate], vec![1.1, rate]]
    }
}
