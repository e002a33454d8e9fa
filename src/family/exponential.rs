//! Exponential life: failures at an even rate, whatever the age.

use serde::{Deserialize, Serialize};

use super::chain::{chain, flat};
use super::check;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use super::weibull::ln_f_derivatives;
use crate::base::error::Result;
use crate::base::math::special::ln_one_minus_exp_neg;

/// Exponential life with its one parameter.
///
/// # Formula
/// ```text
/// R(t) = exp(-t / scale)
/// ```
/// `t`: age, hours; `scale` > 0: mean life, hours; the rate is 1 / scale.
///
/// # Source
/// IEC 60050-192 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Exponential, Life};
/// let life = Exponential { scale: 1000.0 };
/// assert_eq!(life.mean()?, 1000.0);
/// assert!((life.b_life(50.0)? - 1000.0 * 2f64.ln()).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exponential {
    /// Mean life, hours, above 0.
    pub scale: f64,
}

impl Exponential {
    /// Self, if the parameter is positive and finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        check::positive("scale", self.scale)?;
        Ok(self)
    }
}

impl Life for Exponential {
    fn ln_density(&self, age: f64) -> f64 {
        if age < 0.0 { f64::NEG_INFINITY } else { -self.scale.ln() - age / self.scale }
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        if age <= 0.0 { 0.0 } else { -age / self.scale }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age <= 0.0 { f64::NEG_INFINITY } else { ln_f(age, self.scale) }
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        if age < 0.0 { f64::NEG_INFINITY } else { -self.scale.ln() }
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        Ok(-self.scale * (-check::probability(p)?).ln_1p())
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(-self.scale * check::ln_probability(ln_reliability)?)
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        Ok(-self.scale * (-check::age(age)? / self.scale).exp_m1())
    }

    fn variance(&self) -> Result<f64> {
        Ok(self.scale * self.scale)
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        check::age(age)?;
        Ok(self.scale)
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("exponential", [self.scale]))
    }
}

/// ln F; where the ratio underflows, ln F is its logarithm.
#[inline]
fn ln_f(age: f64, scale: f64) -> f64 {
    let w = age / scale;
    if w < 1e-17 { age.ln() - scale.ln() } else { ln_one_minus_exp_neg(w) }
}

/// The exponential family; coordinate (ln scale).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ExponentialFamily;

impl Family for ExponentialFamily {
    fn name(&self) -> &'static str {
        "exponential"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.1, 1e9)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [scale] = check::exactly(parameters)?;
        Ok(Box::new(Exponential { scale }.checked()?))
    }

    fn anchor(&self) -> usize {
        0
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_scale] = check::first(coordinates);
        let scale = ln_scale.exp();
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(Exponential { scale }.ln_term(term, age), out);
        }
        // The reduced age is u = ln age - ln scale, w = exp(u).
        let w = age / scale;
        let g = match term {
            Term::LnDensity => [-ln_scale - w, -w, -w],
            Term::LnReliability => [-w, -w, -w],
            Term::LnFailureProbability => {
                let (first, second) = ln_f_derivatives(w);
                [ln_f(age, scale), first, second]
            }
        };
        chain(g, &[-1.0, 1.0 / age], &[0.0, 0.0, -1.0 / (age * age)], order, out);
        if term == Term::LnDensity
            && order >= Order::Gradient
            && let Some(slot) = out.gradient.first_mut()
        {
            // -ln scale stands outside the reduced age.
            *slot -= 1.0;
        }
        if term != Term::LnFailureProbability
            && order == Order::Hessian
            && let Some(slot) = out.hessian.last_mut()
        {
            // A straight line in the age.
            *slot = 0.0;
        }
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        vec![vec![(outline.exposure / outline.failures).ln()]]
    }
}
