//! Logistic life: like the normal, with heavier tails.

use std::f64::consts::PI;

use serde::{Deserialize, Serialize};

use super::check;
use super::formula::{Standard, ln_one_plus_exp};
use super::location::{self, Located};
use super::moments;
use super::named::NamedLife;
use super::traits::{Life, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::special::ln_one_minus_exp_neg;

/// Logistic life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = 1 / (1 + exp((t - location) / scale))
/// ```
/// `t`: age, hours; `location`: mean and median, hours, any number; `scale` > 0: the standard deviation is pi / sqrt(3) times it, hours.
///
/// # Numerics
/// Both tails in logarithms: finite however far out.
/// It reaches below age 0, which no life does: it is for fitting, and decisions take it only as `above_zero(logistic)`.
///
/// # Source
/// Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 2 (1995), chapter 23 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, Logistic};
/// let life = Logistic { location: 1500.0, scale: 200.0 };
/// assert_eq!(life.reliability(1500.0), 0.5);
/// assert!((life.quantile(0.75)? - (1500.0 + 200.0 * 3f64.ln())).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Logistic {
    /// Mean and median, hours.
    pub location: f64,
    /// Scale, hours, above 0.
    pub scale: f64,
}

impl Logistic {
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

impl Life for Logistic {
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
        -ln_one_plus_exp(-self.reduced(age)) - self.scale.ln()
    }

    fn below_zero(&self) -> f64 {
        self.failure_probability(0.0)
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        Ok(self.location + self.scale * (p.ln() - (-p).ln_1p()))
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.location + self.scale * ln_odds(check::ln_probability(ln_reliability)?))
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        moments::area(self, age)
    }

    /// Mean over all numbers, those below 0 too.
    fn mean(&self) -> Result<f64> {
        Ok(self.location)
    }

    fn variance(&self) -> Result<f64> {
        Ok((PI * self.scale).powi(2) / 3.0)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let z = self.reduced(check::age(age)?);
        let e = (-z).exp();
        // (1 + 1/e) ln(1 + e): 1 far above the location, -z far below.
        Ok(self.scale
            * if e == 0.0 {
                1.0
            } else if e > 1e300 {
                -z
            } else {
                (1.0 + e) * (e.ln_1p() / e)
            })
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("logistic", [self.location, self.scale]))
    }
}

/// ln((1 - R) / R) from ln R.
pub(super) fn ln_odds(ln_reliability: f64) -> f64 {
    ln_one_minus_exp_neg(-ln_reliability) - ln_reliability
}

/// The standard form.
#[derive(Debug)]
pub struct StandardLogistic;

impl Standard for StandardLogistic {
    fn term<T: Number>(term: Term, z: T) -> T {
        match term {
            Term::LnDensity => -ln_one_plus_exp(z) - ln_one_plus_exp(-z),
            Term::LnReliability => -ln_one_plus_exp(z),
            Term::LnFailureProbability => -ln_one_plus_exp(-z),
        }
    }
}

impl Located for Logistic {
    type Standard = StandardLogistic;
    const NAME: &'static str = "logistic";
    const MEAN_SD: (f64, f64) = (0.0, 1.813_799_364_234_217_9);

    fn new(location: f64, scale: f64) -> Self {
        Self { location, scale }
    }
}
