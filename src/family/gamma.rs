//! Gamma life: the sum of even waiting times; its hazard settles to a constant with age.

use serde::{Deserialize, Serialize};

use super::chain::flat;
use super::check;
use super::formula::{Formula, fill, ln_ratio};
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::gamma::{ln_gamma_log_density, ln_gamma_lower, ln_gamma_stirling, ln_gamma_upper, polygamma};
use crate::base::math::special::{normal_quantile, upper_gamma_fraction};

/// Gamma life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = Q(shape, t / scale)
/// ```
/// `t`: age, hours; `shape` > 0; `scale` > 0, hours: mean life / shape; `Q`: regularised upper incomplete gamma function.
///
/// # Numerics
/// Both tails and their derivatives over the shape hold their digits, far tails and large shapes too
/// ([`crate::base::math::gamma`]).
///
/// # Source
/// Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1 (1994), chapter 17 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Gamma, Life};
/// let life = Gamma { shape: 2.0, scale: 500.0 };
/// // Two waiting times of 500 h each: R(t) = (1 + t / 500) exp(-t / 500).
/// assert!((life.reliability(1000.0) - 3.0 * (-2f64).exp()).abs() < 1e-14);
/// assert_eq!(life.mean()?, 1000.0);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Gamma {
    /// Shape, above 0.
    pub shape: f64,
    /// Scale, hours, above 0.
    pub scale: f64,
}

impl Gamma {
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

impl Life for Gamma {
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
        let x = age / self.scale;
        if x == f64::INFINITY {
            return -self.scale.ln();
        }
        if x.is_nan() || x <= self.shape + 1.0 {
            return self.ln_density(age) - self.ln_reliability(age);
        }
        // Gamma(a, x) is x^a e^-x times the fraction, and only the fraction is left.
        -age.ln() - upper_gamma_fraction(self.shape, x).ln()
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        // Near the middle a cube of a normal, near 0 a power.
        let root = 1.0 - 1.0 / (9.0 * self.shape) + normal_quantile(p) / (3.0 * self.shape.sqrt());
        let power = ((p.ln() + ln_gamma_stirling(self.shape) + self.shape.ln()) / self.shape).exp();
        let guess = if root > 0.3 { self.shape * root * root * root } else { power };
        moments::search_quantile(self, p, self.scale * guess)
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        let mean = self.shape * self.scale;
        let x = age / self.scale;
        if x == 0.0 || x == f64::INFINITY {
            return Ok(if x == 0.0 { age } else { mean });
        }
        // Both parts are positive: the failed by then, and the rest at the age itself.
        let failed = ln_gamma_lower(self.shape + 1.0, x)[0].exp();
        Ok(mean * failed + age * self.reliability(age))
    }

    fn variance(&self) -> Result<f64> {
        Ok(self.shape * self.scale * self.scale)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        moments::remaining(self, age)
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("gamma", [self.shape, self.scale]))
    }
}

/// The formula of the three logarithms.
struct Logs;

impl Formula<3> for Logs {
    fn term<T: Number>(term: Term, [shape, scale, age]: [T; 3], [ln_shape, ln_scale, ln_age]: [T; 3]) -> T {
        let x = age.value() / scale.value();
        if x == 0.0 {
            // The ratio underflows: ln F is a straight line in ln age.
            let ln = shape * (ln_age - ln_scale);
            let left = shape.map(|a| {
                let [psi, psi1] = polygamma(a);
                [ln_gamma_stirling(a), psi, psi1]
            });
            return match term {
                Term::LnDensity => ln - left - ln_age,
                Term::LnReliability => T::constant(0.0),
                Term::LnFailureProbability => ln - left - ln_shape,
            };
        }
        if x == f64::INFINITY {
            return T::constant(if term == Term::LnFailureProbability { 0.0 } else { f64::NEG_INFINITY });
        }
        let a = shape.value();
        let ln_x = ln_ratio(age, scale, ln_age, ln_scale);
        match term {
            Term::LnDensity => T::map2(ln_shape, ln_x, |_, _| ln_gamma_log_density(a, x)) - ln_age,
            Term::LnReliability => T::map2(ln_shape, ln_x, |_, _| ln_gamma_upper(a, x)),
            Term::LnFailureProbability => T::map2(ln_shape, ln_x, |_, _| ln_gamma_lower(a, x)),
        }
    }
}

/// The gamma family; coordinates (ln shape, ln scale).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct GammaFamily;

impl Family for GammaFamily {
    fn name(&self) -> &'static str {
        "gamma"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["shape", "scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.1, 1000.0), (1.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [shape, scale] = check::exactly(parameters)?;
        Ok(Box::new(Gamma { shape, scale }.checked()?))
    }

    fn anchor(&self) -> usize {
        1
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_shape, ln_scale] = check::first(coordinates);
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(Gamma { shape: ln_shape.exp(), scale: ln_scale.exp() }.ln_term(term, age), out);
        }
        fill::<Logs, 3, 6>(self.links(), coordinates, age, term, order, out);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // For complete samples the variance of ln age is the trigamma of the shape, near 1 / (shape - 1/2).
        let shape = (0.5 + 1.0 / outline.sd_ln.max(1e-2).powi(2)).clamp(0.1, 1e4);
        let rate = (outline.exposure / outline.failures).ln();
        vec![vec![shape.ln(), outline.mean.ln() - shape.ln()], vec![0.0, rate], vec![1.1, rate - 1.1]]
    }
}
