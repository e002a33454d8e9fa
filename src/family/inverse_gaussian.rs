//! Inverse Gaussian life: the first time that wear with an even drift and random steps reaches a bound.

use serde::{Deserialize, Serialize};

use super::chain::flat;
use super::check;
use super::formula::{Formula, fill, ln_normal, ln_other, ln_ratio, mills, mills_fall, sinh_cosh};
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::quadrature::GAUSS;
use crate::base::math::special::{LN_SQRT_2PI, normal_quantile};

/// Inverse Gaussian life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = Phi(-a) - exp(2 shape) Phi(-b)
/// a = sqrt(shape) (sqrt(t / mean) - sqrt(mean / t)),  b = sqrt(shape) (sqrt(t / mean) + sqrt(mean / t))
/// ```
/// `t`: age, hours; `mean` > 0, hours; `shape` > 0: the squared mean over the variance. Others write mean x shape, in
/// hours, for the second parameter. `Phi`: standard normal distribution.
///
/// # Numerics
/// The exponential never appears: both terms are Mills' ratios times one density, and their difference, where they are
/// near each other, an integral.
///
/// # Source
/// Chhikara & Folks, The Inverse Gaussian Distribution (1989), chapter 2 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{InverseGaussian, Life};
/// let life = InverseGaussian { shape: 4.0, mean: 1000.0 };
/// assert_eq!(life.variance()?, 250_000.0);
/// // At the mean: 1/2 - exp(8) Phi(-4).
/// assert!((life.reliability(1000.0) - 0.405_589_358_698).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InverseGaussian {
    /// Squared mean over variance, above 0.
    pub shape: f64,
    /// Mean, hours, above 0.
    pub mean: f64,
}

impl InverseGaussian {
    /// Self, if both parameters are positive and finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        check::positive("shape", self.shape)?;
        check::positive("mean", self.mean)?;
        Ok(self)
    }

    /// ln of what the hazard tends to.
    fn limit(&self) -> f64 {
        (0.5 * self.shape).ln() - self.mean.ln()
    }

    fn term(&self, term: Term, age: f64) -> f64 {
        Logs::plain(term, [self.shape, self.mean, age])
    }
}

impl Life for InverseGaussian {
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
        if age == f64::INFINITY {
            return self.limit();
        }
        let u = (age / self.mean).ln();
        let root = 2.0 * self.shape.sqrt();
        let a = root * (0.5 * u).sinh();
        if a.is_nan() || a <= 0.0 {
            return self.ln_density(age) - self.ln_reliability(age);
        }
        if a >= FARTHEST {
            return self.limit();
        }
        // R is a difference of Mills' ratios times the normal density at a, which f holds as well.
        let apart = root * (-0.5 * u).exp();
        0.5 * self.shape.ln() - age.ln() - 0.5 * u - difference(a, root * (0.5 * u).cosh(), apart).ln()
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        let spread = (1.0 / self.shape).ln_1p().sqrt();
        let guess = self.mean * (spread * normal_quantile(p) - 0.5 * spread * spread).exp();
        moments::search_quantile(self, p, guess)
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        if check::age(age)? == f64::INFINITY { Ok(self.mean) } else { moments::area(self, age) }
    }

    fn variance(&self) -> Result<f64> {
        Ok(self.mean * self.mean / self.shape)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        moments::remaining(self, age)
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("inverse_gaussian", [self.shape, self.mean]))
    }
}

/// The formula of the three logarithms.
struct Logs;

impl Formula<3> for Logs {
    fn term<T: Number>(term: Term, [_, mean, age]: [T; 3], [ln_shape, ln_mean, ln_age]: [T; 3]) -> T {
        let u = ln_ratio(age, mean, ln_age, ln_mean);
        let [sinh, cosh] = sinh_cosh(u * 0.5);
        let root = (ln_shape * 0.5).exp() * 2.0;
        let (a, b) = (root * sinh, root * cosh);
        if term == Term::LnDensity {
            return ln_shape * 0.5 - a * a * 0.5 - LN_SQRT_2PI - ln_age - u * 0.5;
        }
        if a.value().abs() >= FARTHEST {
            // Nothing is left on one side, to any number.
            let gone = (a.value() > 0.0) == (term == Term::LnReliability);
            return if gone { -(a * a * 0.5) } else { T::constant(0.0) };
        }
        let low = a.value() <= 0.0;
        let smaller = if low {
            ln_normal(a) + (mills(-a) + mills(b)).ln()
        } else {
            // b - a = 2 sqrt(shape mean / t).
            ln_normal(a) + difference(a, b, root * (u * -0.5).exp()).ln()
        };
        if low == (term == Term::LnFailureProbability) { smaller } else { ln_other(smaller) }
    }
}
/// Standard deviations from which only the density counts, to every digit.
const FARTHEST: f64 = 1e10;

/// M(a) - M(b), M Mills' ratio, b = a + apart, a >= 0.
fn difference<T: Number>(a: T, b: T, apart: T) -> T {
    if apart.value() > 0.5 {
        return mills(a) - mills(b);
    }
    // The integral of -M' = 1 - z M over the stretch.
    let mut sum = T::constant(0.0);
    for (node, weight) in GAUSS {
        sum = sum + mills_fall(a + apart * node) * weight;
    }
    sum * apart
}
/// The inverse Gaussian family; coordinates (ln shape, ln mean).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct InverseGaussianFamily;

impl Family for InverseGaussianFamily {
    fn name(&self) -> &'static str {
        "inverse_gaussian"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["shape", "mean"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.05, 1000.0), (1.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [shape, mean] = check::exactly(parameters)?;
        Ok(Box::new(InverseGaussian { shape, mean }.checked()?))
    }

    fn anchor(&self) -> usize {
        1
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_shape, ln_mean] = check::first(coordinates);
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(InverseGaussian { shape: ln_shape.exp(), mean: ln_mean.exp() }.ln_term(term, age), out);
        }
        fill::<Logs, 3, 6>(self.links(), coordinates, age, term, order, out);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        let shape = (1.0 / outline.sd_ln.max(1e-2).powi(2)).clamp(0.1, 1e4);
        let rate = (outline.exposure / outline.failures).ln();
        vec![vec![shape.ln(), outline.mean.ln()], vec![0.0, rate], vec![1.1, rate]]
    }
}
