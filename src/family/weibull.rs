//! Weibull life: failures that grow rarer (shape below 1), stay even (1) or come with wear (above 1).

use serde::{Deserialize, Serialize};

use super::chain::{chain, flat, over_parameters};
use super::check;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::special::{ln_gamma, ln_one_minus_exp_neg, lower_gamma_series, upper_gamma_fraction};

/// Weibull life with its two parameters.
///
/// # Formula
/// ```text
/// R(t) = exp(-(t / scale)^shape)
/// ```
/// `t`: age, hours; `shape` > 0; `scale` > 0: characteristic life, hours, by which 63.2 % have failed.
///
/// # Numerics
/// Everything comes from u = shape (ln t - ln scale), so steep shapes and far tails neither overflow nor give NaN.
///
/// # Source
/// IEC 61649 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::{Life, Weibull};
/// let life = Weibull { shape: 2.0, scale: 1000.0 };
/// assert!((life.reliability(1000.0) - (-1f64).exp()).abs() < 1e-15);
/// assert!((life.mean()? - 886.226_925_452_758).abs() < 1e-9); // 1000 sqrt(pi) / 2
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weibull {
    /// Shape, above 0.
    pub shape: f64,
    /// Characteristic life, hours, above 0.
    pub scale: f64,
}

impl Weibull {
    /// Self, if both parameters are positive and finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        check::positive("shape", self.shape)?;
        check::positive("scale", self.scale)?;
        Ok(self)
    }

    /// u = shape ln(age / scale), the logarithm of the cumulative hazard.
    #[inline]
    fn reduced(&self, age: f64) -> f64 {
        self.shape * (age / self.scale).ln()
    }
}

impl Life for Weibull {
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
        let u = self.reduced(age);
        self.shape.ln() - age.ln() + u - u.exp()
    }

    fn ln_reliability(&self, age: f64) -> f64 {
        if age <= 0.0 { 0.0 } else { -self.reduced(age).exp() }
    }

    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age <= 0.0 { f64::NEG_INFINITY } else { ln_f(self.reduced(age)) }
    }

    fn ln_hazard(&self, age: f64) -> f64 {
        if age.is_nan() || age <= 0.0 {
            return self.ln_density(age);
        }
        // The power of the age alone, so that a shape of 1 stays even to the end.
        let power = self.shape - 1.0;
        self.shape.ln() - self.scale.ln() + if power == 0.0 { 0.0 } else { power * (age / self.scale).ln() }
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let hazard = -(-check::probability(p)?).ln_1p();
        Ok(self.scale * hazard.powf(1.0 / self.shape))
    }

    fn quantile_passed(&self, ln_reliability: f64) -> Result<f64> {
        Ok(self.scale * (-check::ln_probability(ln_reliability)?).powf(1.0 / self.shape))
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        let a = 1.0 / self.shape;
        let x = if age == 0.0 { 0.0 } else { self.reduced(age).exp() };
        if x < a + 1.0 {
            // x^a is age / scale, so the scale cancels and tiny ages keep all digits.
            return Ok(age * (-x).exp() * lower_gamma_series(a, x));
        }
        let rest = if x < 745.0 { a * age * (-x).exp() * upper_gamma_fraction(a, x) } else { 0.0 };
        Ok(self.scale * ln_gamma(1.0 + a).exp() - rest)
    }

    fn variance(&self) -> Result<f64> {
        let (one, two) = (ln_gamma(1.0 + 1.0 / self.shape), ln_gamma(1.0 + 2.0 / self.shape));
        // Gamma(1 + 2a) - Gamma(1 + a)^2 in logarithms, so steep shapes do not cancel to 0.
        Ok(self.scale * self.scale * (2.0 * one).exp() * (two - 2.0 * one).exp_m1())
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let age = check::age(age)?;
        let a = 1.0 / self.shape;
        let x = if age == 0.0 { 0.0 } else { self.reduced(age).exp() };
        if x < a + 1.0 {
            return Ok((self.mean()? - self.mean_to(age)?) * x.exp());
        }
        Ok(if x == f64::INFINITY { 0.0 } else { a * age * upper_gamma_fraction(a, x) })
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("weibull", [self.shape, self.scale]))
    }
}

/// ln F from u = ln cumulative hazard.
#[inline]
pub(super) fn ln_f(u: f64) -> f64 {
    let w = u.exp();
    // Where the hazard underflows, ln(1 - exp(-w)) is ln w itself.
    if w < 1e-17 { u } else { ln_one_minus_exp_neg(w) }
}

/// d/du and d2/du2 of ln(1 - exp(-exp(u))).
#[inline]
pub(super) fn ln_f_derivatives(w: f64) -> (f64, f64) {
    if w > 700.0 {
        return (0.0, 0.0);
    }
    if w < 0.25 {
        // Bernoulli series of w / expm1(w); the plain form cancels in 1 - w - r.
        let s = w * w;
        let even =
            s * (1.0 / 12.0 - s * (1.0 / 720.0 - s * (1.0 / 30_240.0 - s * (1.0 / 1_209_600.0 - s / 47_900_160.0))));
        let r = 1.0 - 0.5 * w + even;
        return (r, r * (-0.5 * w - even));
    }
    let r = w / w.exp_m1();
    (r, r * (1.0 - w - r))
}

/// The Weibull family; coordinates (ln shape, ln scale).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WeibullFamily;

impl Family for WeibullFamily {
    fn name(&self) -> &'static str {
        "weibull"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["shape", "scale"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Log, Link::Log]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.2, 70.0), (1.0, 1e5)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [shape, scale] = check::exactly(parameters)?;
        Ok(Box::new(Weibull { shape, scale }.checked()?))
    }

    fn anchor(&self) -> usize {
        1
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [ln_shape, ln_scale] = check::first(coordinates);
        let k = ln_shape.exp();
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(Weibull { shape: k, scale: ln_scale.exp() }.ln_term(term, age), out);
        }
        let u = k * (age.ln() - ln_scale);
        let w = u.exp();
        let g = match term {
            Term::LnDensity => [ln_shape - age.ln() + u - w, 1.0 - w, -w],
            Term::LnReliability => [-w, -w, -w],
            Term::LnFailureProbability => {
                let (first, second) = ln_f_derivatives(w);
                [ln_f(u), first, second]
            }
        };
        let slope = k / age;
        chain(g, &[u, -k, slope], &[u, -k, 0.0, slope, 0.0, -slope / age], order, out);
        if term == Term::LnDensity && order >= Order::Gradient {
            // ln shape and -ln age stand outside the reduced age.
            if let [shape, _, slot] = out.gradient.as_mut_slice() {
                *shape += 1.0;
                *slot -= 1.0 / age;
            }
            if let (Order::Hessian, Some(slot)) = (order, out.hessian.last_mut()) {
                *slot += 1.0 / (age * age);
            }
        }
    }

    fn parameter_jet(&self, parameters: &[f64], age: f64, term: Term) -> Result<Jet> {
        let [shape, scale] = check::exactly(parameters)?;
        let life = Weibull { shape, scale }.checked()?;
        let value = life.ln_term(term, age);
        if !(age > 0.0 && age < f64::INFINITY) {
            let mut out = Jet::new(2);
            flat(value, &mut out);
            return Ok(out);
        }
        let w = (shape * (age / scale).ln()).exp();
        let (first, second) = match term {
            Term::LnDensity => (1.0 - w, -w),
            Term::LnReliability => (-w, -w),
            Term::LnFailureProbability => ln_f_derivatives(w),
        };
        Ok(over_parameters([shape, scale, age], [value, first, second], term))
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        // For complete Weibull samples the standard deviation of ln age is pi / (sqrt(6) shape).
        let shape = (1.282_5 / outline.sd_ln.max(1e-3)).clamp(0.05, 50.0);
        let scale = outline.mean_ln + 0.577_2 / shape;
        let rate = (outline.exposure / outline.failures).ln();
        vec![vec![shape.ln(), scale], vec![0.0, rate], vec![1.1, rate]]
    }
}
