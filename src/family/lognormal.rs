//! Lognormal life: the logarithm of the age at failure is normal.

use serde::{Deserialize, Serialize};

use super::chain::{chain, flat};
use super::check;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::special::{
    ln_normal_cdf, ln_normal_density, ln_normal_hazard, normal_hazard, normal_quantile, normal_upper_quantile,
};

/// Lognormal life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = 1 - Phi((ln t - location) / scale)
/// ```
/// `t`: age, hours; `location`: mean of ln hours; `scale` > 0: standard deviation of ln hours;
/// `Phi`: standard normal distribution. Half of the lamps fail by exp(location) hours.
///
/// # Numerics
/// Tails by logarithms and continued fractions: finite however far out.
///
/// # Examples
/// ```
/// use relamp::family::{Life, Lognormal};
/// let life = Lognormal { location: 7.0, scale: 0.5 };
/// assert!((life.quantile(0.5)? - 7f64.exp()).abs() < 1e-10);
/// assert!((life.mean()? - 7.125f64.exp()).abs() < 1e-10);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Lognormal {
    /// Mean of ln hours.
    pub location: f64,
    /// Standard deviation of ln hours, above 0.
    pub scale: f64,
}

impl Lognormal {
    /// Self, if the location is finite and the scale positive and finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        check::finite("location", self.location)?;
        check::positive("scale", self.scale)?;
        Ok(self)
    }

    /// z = (ln age - location) / scale.
    #[inline]
    fn reduced(&self, age: f64) -> f64 {
        (age.ln() - self.location) / self.scale
    }
}

impl Life for Lognormal {
    fn ln_density(&self, age: f64) -> f64 {
        if age <= 0.0 || age == f64::INFINITY {
            return f64::NEG_INFINITY;
        }
        ln_normal_density(self.reduced(age)) - self.scale.ln() - age.ln()
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        if age <= 0.0 { 0.0 } else { ln_normal_cdf(-self.reduced(age)) }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age <= 0.0 { f64::NEG_INFINITY } else { ln_normal_cdf(self.reduced(age)) }
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        if age <= 0.0 || age == f64::INFINITY {
            // It rises from nothing and in the end falls to nothing.
            return f64::NEG_INFINITY;
        }
        ln_normal_hazard(self.reduced(age)) - self.scale.ln() - age.ln()
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        Ok((self.location + self.scale * normal_quantile(check::probability(p)?)).exp())
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok((self.location + self.scale * normal_upper_quantile(check::ln_probability(ln_reliability)?)).exp())
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if age == 0.0 {
            return Ok(0.0);
        }
        let ln_mean = self.location + 0.5 * self.scale * self.scale;
        if age == f64::INFINITY {
            return Ok(ln_mean.exp());
        }
        // Both parts are positive: the failed by then, and the rest at the age itself.
        let z = self.reduced(age);
        Ok((ln_mean + ln_normal_cdf(z - self.scale)).exp() + age * ln_normal_cdf(-z).exp())
    }

    fn variance(&self) -> Result<f64> {
        let s = self.scale * self.scale;
        Ok((2.0 * self.location + s).exp() * s.exp_m1())
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        if age == 0.0 {
            return self.mean();
        }
        if age == f64::INFINITY {
            return Ok(f64::INFINITY);
        }
        let z = self.reduced(age);
        let (here, _) = normal_hazard(z);
        let (back, _) = normal_hazard(z - self.scale);
        if z > 0.0 {
            // age phi(z) = mean phi(z - scale), so the ratio of tails is a ratio of hazards.
            return Ok(age * ((here - back) / back));
        }
        let ln_mean = self.location + 0.5 * self.scale * self.scale;
        Ok((ln_mean + ln_normal_cdf(self.scale - z) - ln_normal_cdf(-z)).exp() - age)
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("lognormal", [self.location, self.scale]))
    }
}

/// The lognormal family; coordinates (location, ln scale).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LognormalFamily;

impl Family for LognormalFamily {
    fn name(&self) -> &'static str {
        "lognormal"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["location", "scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Plain, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.0, 12.0), (0.05, 3.0)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [location, scale] = check::exactly(parameters)?;
        Ok(Box::new(Lognormal { location, scale }.checked()?))
    }

    fn anchor(&self) -> usize {
        0
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [location, ln_scale] = check::first(coordinates);
        let scale = ln_scale.exp();
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(Lognormal { location, scale }.ln_term(term, age), out);
        }
        let ln_age = age.ln();
        let z = (ln_age - location) / scale;
        let g = match term {
            Term::LnDensity => [ln_normal_density(z) - ln_scale - ln_age, -z, -1.0],
            Term::LnReliability => {
                let (h, over) = normal_hazard(z);
                [ln_normal_cdf(-z), -h, -h * over]
            }
            Term::LnFailureProbability => {
                let (h, over) = normal_hazard(-z);
                [ln_normal_cdf(z), h, -h * over]
            }
        };
        let (m, t) = (1.0 / scale, 1.0 / (age * scale));
        chain(g, &[-m, -z, t], &[0.0, m, z, 0.0, -t, -t / age], order, out);
        if term == Term::LnDensity && order >= Order::Gradient {
            // -ln scale and -ln age stand outside z.
            if let [_, slot, last] = out.gradient.as_mut_slice() {
                *slot -= 1.0;
                *last -= 1.0 / age;
            }
            if let (Order::Hessian, Some(slot)) = (order, out.hessian.last_mut()) {
                *slot += 1.0 / (age * age);
            }
        }
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        let rate = (outline.exposure / outline.failures).ln();
        vec![vec![outline.mean_ln, outline.sd_ln.clamp(0.02, 20.0).ln()], vec![rate, 0.0], vec![rate, -1.0]]
    }
}
