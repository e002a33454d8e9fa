//! Birnbaum-Saunders life: cracks that grow a little with every cycle until one is too long.

use serde::{Deserialize, Serialize};

use super::chain::flat;
use super::check;
use super::formula::{Formula, fill, ln_normal, ln_phi, ln_ratio, sinh_cosh};
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::special::{ln_normal_hazard, normal_quantile, normal_upper_quantile};

/// Birnbaum-Saunders life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = Phi(-z),  z = (sqrt(t / scale) - sqrt(scale / t)) / shape
/// ```
/// `t`: age, hours; `shape` > 0; `scale` > 0: median, hours; `Phi`: standard normal distribution.
///
/// # Numerics
/// z = (2 / shape) sinh(ln(t / scale) / 2), so nothing cancels near the median.
///
/// # Source
/// Birnbaum & Saunders, Journal of Applied Probability 6 (1969) 319 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{BirnbaumSaunders, Life};
/// let life = BirnbaumSaunders { shape: 0.5, scale: 1000.0 };
/// assert_eq!(life.reliability(1000.0), 0.5);
/// assert_eq!(life.mean()?, 1125.0); // scale (1 + shape^2 / 2)
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BirnbaumSaunders {
    /// Shape, above 0.
    pub shape: f64,
    /// Median, hours, above 0.
    pub scale: f64,
}

impl BirnbaumSaunders {
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

impl Life for BirnbaumSaunders {
    fn ln_density(&self, age: f64) -> f64 {
        if age > 0.0 && age < f64::INFINITY { self.term(Term::LnDensity, age) } else { f64::NEG_INFINITY }
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
        if age <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let half = 0.5 * (age / self.scale).ln();
        let z = 2.0 * half.sinh() / self.shape;
        if !z.is_finite() && half > 0.0 {
            // What it tends to.
            return -(2.0 * self.scale).ln() - 2.0 * self.shape.ln();
        }
        ln_normal_hazard(z) + half.cosh().ln() - self.shape.ln() - age.ln()
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let z = normal_quantile(check::probability(p)?);
        Ok(self.scale * (2.0 * (0.5 * self.shape * z).asinh()).exp())
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        let z = normal_upper_quantile(check::ln_probability(ln_reliability)?);
        Ok(self.scale * (2.0 * (0.5 * self.shape * z).asinh()).exp())
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        if check::age(age)? == f64::INFINITY {
            return Ok(self.scale * (1.0 + 0.5 * self.shape * self.shape));
        }
        moments::area(self, age)
    }

    fn variance(&self) -> Result<f64> {
        let s = self.shape * self.shape;
        Ok(self.scale * self.scale * s * (1.0 + 1.25 * s))
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        moments::remaining(self, age)
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("birnbaum_saunders", [self.shape, self.scale]))
    }
}

/// The formula of the three logarithms.
struct Logs;

impl Formula<3> for Logs {
    fn term<T: Number>(term: Term, [shape, scale, age]: [T; 3], [ln_shape, ln_scale, ln_age]: [T; 3]) -> T {
        let [sinh, cosh] = sinh_cosh(ln_ratio(age, scale, ln_age, ln_scale) * 0.5);
        let z = (sinh * 2.0) / shape;
        match term {
            Term::LnDensity => ln_normal(z) + cosh.ln() - ln_shape - ln_age,
            Term::LnReliability => ln_phi(-z),
            Term::LnFailureProbability => ln_phi(z),
        }
    }
}

/// The Birnbaum-Saunders family; coordinates (ln shape, ln scale).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BirnbaumSaundersFamily;

impl Family for BirnbaumSaundersFamily {
    fn name(&self) -> &'static str {
        "birnbaum_saunders"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["shape", "scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.02, 5.0), (1.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [shape, scale] = check::exactly(parameters)?;
        Ok(Box::new(BirnbaumSaunders { shape, scale }.checked()?))
    }

    fn anchor(&self) -> usize {
        1
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_shape, ln_scale] = check::first(coordinates);
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(BirnbaumSaunders { shape: ln_shape.exp(), scale: ln_scale.exp() }.ln_term(term, age), out);
        }
        fill::<Logs, 3, 6>(self.links(), coordinates, age, term, order, out);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // For a small shape ln age is nearly normal with this standard deviation.
        let shape = outline.sd_ln.clamp(0.02, 10.0);
        let rate = (outline.exposure / outline.failures).ln();
        vec![vec![shape.ln(), outline.mean_ln], vec![0.0, rate], vec![-1.0, rate]]
    }
}
