//! Smallest extreme value: the logarithm of a Weibull life, taken as a life itself.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};

use super::check;
use super::formula::{Standard, ln_failed};
use super::location::{self, Located};
use super::moments;
use super::named::NamedLife;
use super::traits::{Life, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::special::{EULER, exp_integral_scaled};

/// Smallest extreme value life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = exp(-exp((t - location) / scale))
/// ```
/// `t`: age, hours; `location`: age by which 63.2 % have failed, hours, any number; `scale` > 0: the standard deviation is pi / sqrt(6) times it, hours.
///
/// # Numerics
/// Both tails in logarithms: finite however far out.
/// It reaches below age 0, which no life does: it is for fitting, and decisions take it only as `above_zero(smallest_extreme_value)`.
///
/// # Source
/// Gumbel, Statistics of Extremes (1958), chapter 5 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, SmallestExtremeValue};
/// let life = SmallestExtremeValue { location: 1500.0, scale: 200.0 };
/// assert!((life.reliability(1500.0) - (-1f64).exp()).abs() < 1e-15);
/// assert!((life.mean()? - (1500.0 - 200.0 * 0.577_215_664_901_532_9)).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SmallestExtremeValue {
    /// Age by which 63.2 % have failed, hours.
    pub location: f64,
    /// Scale, hours, above 0.
    pub scale: f64,
}

impl SmallestExtremeValue {
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

impl Life for SmallestExtremeValue {
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
        self.reduced(age) - self.scale.ln()
    }

    fn below_zero(&self) -> f64 {
        self.failure_probability(0.0)
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        Ok(self.location + self.scale * (-(-p).ln_1p()).ln())
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.location + self.scale * (-check::ln_probability(ln_reliability)?).ln())
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        moments::area(self, age)
    }

    /// Mean over all numbers, those below 0 too.
    fn mean(&self) -> Result<f64> {
        Ok(self.location - EULER * self.scale)
    }

    fn variance(&self) -> Result<f64> {
        Ok((PI * self.scale).powi(2) / 6.0)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let z = self.reduced(check::age(age)?);
        let w = z.exp();
        // e^w E1(w); where w underflows E1(w) is -ln w less Euler's constant.
        Ok(self.scale * if w == 0.0 { -z - EULER } else { exp_integral_scaled(w) })
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("smallest_extreme_value", [self.location, self.scale]))
    }
}

/// The standard form.
#[derive(Debug)]
pub struct StandardSmallestExtremeValue;

impl Standard for StandardSmallestExtremeValue {
    fn term<T: Number>(term: Term, z: T) -> T {
        match term {
            Term::LnDensity => z - z.exp(),
            Term::LnReliability => -z.exp(),
            Term::LnFailureProbability => ln_failed(z),
        }
    }
}

impl Located for SmallestExtremeValue {
    type Standard = StandardSmallestExtremeValue;
    const NAME: &'static str = "smallest_extreme_value";
    const MEAN_SD: (f64, f64) = (-0.577_215_664_901_532_9, 1.282_549_830_161_864);

    fn new(location: f64, scale: f64) -> Self {
        Self { location, scale }
    }
}
