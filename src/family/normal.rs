//! Normal life: ages at failure spread evenly about their mean.

use serde::{Deserialize, Serialize};

use super::check;
use super::formula::{Standard, ln_normal, ln_phi};
use super::location::{self, Located};
use super::moments;
use super::named::NamedLife;
use super::traits::{Life, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::special::{ln_normal_hazard, normal_hazard, normal_quantile, normal_upper_quantile};

/// Normal life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = 1 - Phi((t - location) / scale)
/// ```
/// `t`: age, hours; `location`: mean and median, hours, any number; `scale` > 0: standard deviation, hours.
///
/// # Numerics
/// Tails as those of [`super::Lognormal`]: finite however far out.
/// It reaches below age 0, which no life does: it is for fitting, and decisions take it only as `above_zero(normal)`.
///
/// # Source
/// ISO 3534-1 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, Normal};
/// let life = Normal { location: 1500.0, scale: 300.0 };
/// assert_eq!(life.reliability(1500.0), 0.5);
/// assert!((life.b_life(2.275_013_194_817_921)? - 900.0).abs() < 1e-9); // two standard deviations down
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Normal {
    /// Mean and median, hours.
    pub location: f64,
    /// Standard deviation, hours, above 0.
    pub scale: f64,
}

impl Normal {
    /// Self, if the location is finite and the scale positive and finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        location::checked(self.location, self.scale)?;
        Ok(self)
    }

    /// z = (age - location) / scale.
    #[inline]
    fn reduced(&self, age: f64) -> f64 {
        (age - self.location) / self.scale
    }

    fn term(&self, term: Term, age: f64) -> f64 {
        location::at::<Self>(term, self.location, self.scale, age)
    }
}

impl Life for Normal {
    fn ln_density(&self, age: f64) -> f64 {
        self.term(Term::LnDensity, age)
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        self.term(Term::LnReliability, age)
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        self.term(Term::LnFailureProbability, age)
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        ln_normal_hazard(self.reduced(age)) - self.scale.ln()
    }

    fn below_zero(&self) -> f64 {
        self.failure_probability(0.0)
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        Ok(self.location + self.scale * normal_quantile(p))
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.location + self.scale * normal_upper_quantile(check::ln_probability(ln_reliability)?))
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        moments::area(self, age)
    }

    /// Mean over all numbers, those below 0 too.
    fn mean(&self) -> Result<f64> {
        Ok(self.location)
    }

    fn variance(&self) -> Result<f64> {
        Ok(self.scale * self.scale)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let z = self.reduced(check::age(age)?);
        let (_, over) = normal_hazard(z);
        // Mean of what lies past z, less z: the hazard less z.
        Ok(self.scale * if z == f64::INFINITY { 0.0 } else { over })
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("normal", [self.location, self.scale]))
    }
}

/// The standard form.
#[derive(Debug)]
pub struct StandardNormal;

impl Standard for StandardNormal {
    fn term<T: Number>(term: Term, z: T) -> T {
        match term {
            Term::LnDensity => ln_normal(z),
            Term::LnReliability => ln_phi(-z),
            Term::LnFailureProbability => ln_phi(z),
        }
    }
}

impl Located for Normal {
    type Standard = StandardNormal;
    const NAME: &'static str = "normal";
    const MEAN_SD: (f64, f64) = (0.0, 1.0);

    fn new(location: f64, scale: f64) -> Self {
        Self { location, scale }
    }
}
