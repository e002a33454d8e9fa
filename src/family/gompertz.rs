//! Gompertz life: a hazard that is there from the start and grows by the same factor every hour.

use serde::{Deserialize, Serialize};

use super::chain::flat;
use super::check;
use super::formula::{Formula, fill, ln_exp_m1, ln_failed};
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::special::exp_integral_scaled;

/// Gompertz life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = exp(-shape (exp(t / scale) - 1))
/// ```
/// `t`: age, hours; `shape` > 0; `scale` > 0: hours in which the hazard grows by the factor e. The hazard of a new lamp is
/// shape / scale.
///
/// # Numerics
/// Everything comes from exp(t / scale) - 1, without cancellation at early ages.
///
/// # Source
/// Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2 (1995), chapter 22 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Gompertz, Life};
/// let life = Gompertz { shape: 0.1, scale: 1000.0 };
/// assert!((life.hazard(0.0) - 1e-4).abs() < 1e-18);
/// assert!((life.hazard(1000.0) / life.hazard(0.0) - 1f64.exp()).abs() < 1e-13);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Gompertz {
    /// Shape, above 0: hazard of a new lamp times the scale.
    pub shape: f64,
    /// Hours in which the hazard grows by the factor e, above 0.
    pub scale: f64,
}

impl Gompertz {
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
        Logs::plain(term, [self.shape, self.scale, age])
    }
}

impl Life for Gompertz {
    fn ln_density(&self, age: f64) -> f64 {
        if (0.0..f64::INFINITY).contains(&age) { self.term(Term::LnDensity, age) } else { f64::NEG_INFINITY }
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        match age {
            f64::INFINITY => f64::NEG_INFINITY,
            _ if age <= 0.0 => 0.0,
            _ => self.term(Term::LnReliability, age),
        }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        match age {
            f64::INFINITY => 0.0,
            _ if age <= 0.0 => f64::NEG_INFINITY,
            _ => self.term(Term::LnFailureProbability, age),
        }
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        if age < 0.0 { f64::NEG_INFINITY } else { self.shape.ln() - self.scale.ln() + age / self.scale }
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let hazard = -(-check::probability(p)?).ln_1p();
        Ok(self.scale * (hazard / self.shape).ln_1p())
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.scale * (-check::ln_probability(ln_reliability)? / self.shape).ln_1p())
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        if check::age(age)? == f64::INFINITY { self.mean_residual_life(0.0) } else { moments::area(self, age) }
    }

    fn variance(&self) -> Result<f64> {
        moments::variance(self, self.mean()?)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        // What is left of a Gompertz life is one with a larger shape.
        let shape = self.shape * (check::age(age)? / self.scale).exp();
        Ok(if shape == f64::INFINITY { 0.0 } else { self.scale * exp_integral_scaled(shape) })
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("gompertz", [self.shape, self.scale]))
    }
}

/// The formula of the three logarithms.
struct Logs;

impl Formula<3> for Logs {
    fn term<T: Number>(term: Term, [shape, scale, age]: [T; 3], [ln_shape, ln_scale, _]: [T; 3]) -> T {
        let y = age / scale;
        let grown = shape * y.map(|y| [y.exp_m1(), y.exp(), y.exp()]);
        match term {
            Term::LnDensity if grown.value() == f64::INFINITY => T::constant(f64::NEG_INFINITY),
            Term::LnDensity => ln_shape - ln_scale + y - grown,
            Term::LnReliability => -grown,
            Term::LnFailureProbability => ln_failed(ln_shape + ln_exp_m1(y)),
        }
    }
}

/// The Gompertz family; coordinates (ln shape, ln scale).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct GompertzFamily;

impl Family for GompertzFamily {
    fn name(&self) -> &'static str {
        "gompertz"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["shape", "scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(1e-6, 100.0), (1.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [shape, scale] = check::exactly(parameters)?;
        Ok(Box::new(Gompertz { shape, scale }.checked()?))
    }

    fn anchor(&self) -> usize {
        1
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_shape, ln_scale] = check::first(coordinates);
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(Gompertz { shape: ln_shape.exp(), scale: ln_scale.exp() }.ln_term(term, age), out);
        }
        fill::<Logs, 3, 6>(self.links(), coordinates, age, term, order, out);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // For a small shape the age is nearly a smallest extreme value, its location scale ln(1 / shape).
        let scale = (outline.sd / 1.282_5).max(1e-2 * outline.mean);
        let shape = -(outline.mean + 0.577_2 * scale) / scale;
        let rate = (outline.exposure / outline.failures).ln();
        vec![vec![shape.clamp(-60.0, 3.0), scale.ln()], vec![0.0, rate], vec![-2.0, rate - 0.7], vec![-5.0, rate - 1.6]]
    }
}
