//! Generalised gamma life: one family that holds the exponential, Weibull, gamma and lognormal ones, and lets the records
//! choose among them.

use std::cmp::Ordering;

use serde::{Deserialize, Serialize};

use super::chain::flat;
use super::check;
use super::formula::{Formula, fill, ln_other};
use super::moments;
use super::named::NamedLife;
use super::traits::{Family, Jet, Life, Link, Order, Outline, Term};
use crate::base::error::Result;
use crate::base::math::dual::Number;
use crate::base::math::gamma::{
    UNIFORM_ETA, UNIFORM_SHAPE, ln_gamma_lower, ln_gamma_stirling, ln_gamma_upper, ln_uniform_tail, minus_ln_1p,
    polygamma, square_rest, stirling_left_of_root, stretch,
};
use crate::base::math::special::{
    LN_SQRT_2PI, ln_normal_hazard, lower_gamma_series, normal_quantile, upper_gamma_fraction,
};

/// Generalised gamma life with its three parameters.
///
/// # Formula
/// ```text
/// w = (ln t - location) / scale, a = 1 / shape^2, x = a exp(shape w)
/// R(t) = Q(a, x) for shape > 0, P(a, x) for shape < 0, and the normal tail of w for shape = 0
/// ```
/// `t`: age, hours; `location`: any number, ln hours; `scale` > 0; `shape`: any number; `P`, `Q`: regularised incomplete
/// gamma functions, lower and upper.
///
/// Shape 0 is a lognormal life; shape 1 a Weibull life of shape 1 / scale and scale exp(location), and with scale 1 an
/// exponential one; shape = scale a gamma life of shape 1 / scale^2.
///
/// # Numerics
/// Value and derivatives run through shape 0 without a break: near it both tails come from the uniform expansion of the
/// incomplete gamma function, in which the shape stands in no denominator.
///
/// # Source
/// Prentice, Biometrika 61 (1974) 539; Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 5.4
/// (both from memory).
///
/// # Examples
/// ```
/// use relamp::family::{GeneralisedGamma, Life, Lognormal, Weibull};
/// let life = GeneralisedGamma { location: 7.0, scale: 0.5, shape: 1.0 };
/// let weibull = Weibull { shape: 2.0, scale: 7f64.exp() };
/// assert!((life.reliability(900.0) - weibull.reliability(900.0)).abs() < 1e-14);
/// let life = GeneralisedGamma { location: 7.0, scale: 0.5, shape: 0.0 };
/// let lognormal = Lognormal { location: 7.0, scale: 0.5 };
/// assert!((life.reliability(900.0) - lognormal.reliability(900.0)).abs() < 1e-14);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GeneralisedGamma {
    /// Location, ln hours.
    pub location: f64,
    /// Scale of the logarithm of age, above 0.
    pub scale: f64,
    /// Shape: 0 lognormal, 1 Weibull.
    pub shape: f64,
}

impl GeneralisedGamma {
    /// Self, if the scale is positive and all are finite.
    ///
    /// # Errors
    /// `family.parameter`.
    pub fn checked(self) -> Result<Self> {
        check::finite("location", self.location)?;
        check::positive("scale", self.scale)?;
        check::finite("shape", self.shape)?;
        Ok(self)
    }

    fn term(&self, term: Term, age: f64) -> f64 {
        Logs::plain(term, [self.location, self.scale, self.shape, age])
    }

    /// ln of the mean of age^power; infinite where there is none.
    fn ln_moment(&self, power: f64) -> f64 {
        // E exp(d w), d = power scale: Gamma(a + d / shape) / Gamma(a) by Stirling's formula, in which a cancels.
        let d = power * self.scale;
        let e = d * self.shape;
        if e <= -1.0 {
            return f64::INFINITY;
        }
        let curve = if e.abs() < 1e-8 { 0.5 - e / 6.0 } else { 1.0 - (1.0 + e) * minus_ln_1p(e) / (e * e) };
        let left = stirling_left_of_root(self.shape / (1.0 + e).sqrt())[0] - stirling_left_of_root(self.shape)[0];
        power * self.location + d * d * curve - 0.5 * e.ln_1p() + left
    }
}

impl Life for GeneralisedGamma {
    fn ln_density(&self, age: f64) -> f64 {
        if age < 0.0 || age == f64::INFINITY {
            return f64::NEG_INFINITY;
        }
        if age == 0.0 {
            // Near age 0 the density goes like the age to this power.
            let power = 1.0 / (self.scale * self.shape) - 1.0;
            return if self.shape > 0.0 && power <= 0.0 {
                if power < 0.0 { f64::INFINITY } else { self.term(Term::LnDensity, f64::MIN_POSITIVE) }
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
        if age.is_nan() || age <= 0.0 {
            return self.ln_density(age);
        }
        let (a, power) = (1.0 / (self.shape * self.shape), self.shape / self.scale);
        if age == f64::INFINITY {
            // For a shape above 0 it goes like the age to this power, less one; else it falls to nothing.
            return match power.total_cmp(&1.0) {
                Ordering::Less => f64::NEG_INFINITY,
                Ordering::Equal => -(self.scale * self.shape).ln() - self.location,
                Ordering::Greater => f64::INFINITY,
            };
        }
        let (y, passed) = (power * (age.ln() - self.location), self.ln_reliability(age));
        let (x, ln_rate) = (a * y.exp(), -self.scale.ln() - age.ln());
        // f and R share x^a e^-x; a fraction or a series is left. Near shape 0 both look at y, which says little there, and the
        // fraction settles past the middle only, before which R keeps its digits.
        let early = if self.shape < 0.0 { y > -NEAR } else { x < a + 1.0 };
        if passed * y.abs() > -1.0 || early {
            return if self.shape == 0.0 {
                ln_normal_hazard((age.ln() - self.location) / self.scale) + ln_rate
            } else {
                self.ln_density(age) - passed
            };
        }
        if self.shape < 0.0 {
            return ln_rate - (-self.shape).ln() - lower_gamma_series(a, x).ln();
        }
        let rest = if x == f64::INFINITY { a.ln() + y } else { -upper_gamma_fraction(a, x).ln() };
        ln_rate + self.shape.ln() + rest
    }

    fn quantile(&self, p: f64) -> Result<f64> {
        let p = check::probability(p)?;
        // The share on the lower side of the gamma variable, and q as if positive.
        let (below, q) = if self.shape < 0.0 { (1.0 - p, -self.shape) } else { (p, self.shape) };
        // A cube of a normal near the middle; a power far below it.
        let root = q * normal_quantile(below) / 3.0 - q * q / 9.0;
        let y_over_q = if root > -0.7 {
            3.0 * if q == 0.0 { normal_quantile(below) / 3.0 } else { root.ln_1p() / q }
        } else {
            let a = 1.0 / (q * q);
            (((below.ln() + ln_gamma_stirling(a) + a.ln()) / a) - a.ln()) / q
        };
        let w = if self.shape < 0.0 { -y_over_q } else { y_over_q };
        moments::search_quantile(self, p, (self.location + self.scale * w).exp())
    }

    fn mean_to(&self, age: f64) -> Result<f64> {
        if check::age(age)? == f64::INFINITY { Ok(self.ln_moment(1.0).exp()) } else { moments::area(self, age) }
    }

    fn variance(&self) -> Result<f64> {
        let (one, two) = (self.ln_moment(1.0), self.ln_moment(2.0));
        if two == f64::INFINITY {
            return Ok(two);
        }
        Ok((2.0 * one).exp() * (two - 2.0 * one).exp_m1())
    }

    fn mean_residual_life(&self, age: f64) -> Result<f64> {
        let mean = self.mean()?;
        if mean == f64::INFINITY { Ok(mean) } else { moments::remaining(self, age) }
    }

    fn named(&self) -> Option<NamedLife> {
        Some(NamedLife::new("generalised_gamma", [self.location, self.scale, self.shape]))
    }
}

/// Size of shape times w from which the series of the lower tail settles in a few thousand terms.
const NEAR: f64 = 1e-2;

/// The formula of the three logarithms.
struct Logs;

impl Formula<4> for Logs {
    fn term<T: Number>(term: Term, [location, scale, shape, _]: [T; 4], [_, ln_scale, _, ln_age]: [T; 4]) -> T {
        let w = (ln_age - location) / scale;
        let y = shape * w;
        if term == Term::LnDensity {
            let w2_rest = distance(w, shape, y);
            if w2_rest.value() == f64::INFINITY {
                return T::constant(f64::NEG_INFINITY);
            }
            let left = shape.map(stirling_left_of_root);
            return -w2_rest - left - ln_scale - ln_age - LN_SQRT_2PI;
        }
        let (upper, tail) = tail(w, shape, y);
        if upper == (term == Term::LnReliability) { tail } else { ln_other(tail) }
    }
}

/// (e^y - 1 - y) / shape^2: of the gamma density only this is left once the shape has cancelled from the denominators.
fn distance<T: Number>(w: T, shape: T, y: T) -> T {
    if y.value().abs() < 1.0 {
        return w * w * y.map(square_rest);
    }
    // Far from 0 the power stands alone, so that a vanishing curvature keeps its digits.
    let rest = y.map(|y| [y.exp_m1() - y, y.exp_m1(), y.exp()]);
    rest * shape.map(|q| {
        let a = 1.0 / (q * q);
        [a, -2.0 * a / q, 6.0 * a * a]
    })
}

/// One tail of w: whether it is the upper one, which is the reliability, and its logarithm.
fn tail<T: Number>(w: T, shape: T, y: T) -> (bool, T) {
    let q = shape.value();
    if q * q * UNIFORM_SHAPE <= 1.0 {
        let z = w * y.map(stretch);
        if (q * z.value()).abs() <= UNIFORM_ETA {
            return if z.value() > 0.0 {
                (true, T::map2(z, shape, ln_uniform_tail))
            } else {
                (false, T::map2(-z, -shape, ln_uniform_tail))
            };
        }
    }
    let a = 1.0 / (q * q);
    let ln_a = shape.map(|q| [a.ln(), -2.0 / q, 2.0 * a]);
    let x = a * y.value().exp();
    // A shape below 0 mirrors the logarithm of age.
    let upper_is_reliability = q > 0.0;
    if x == f64::INFINITY {
        return (upper_is_reliability, T::constant(f64::NEG_INFINITY));
    }
    if x < f64::MIN_POSITIVE {
        // The lower tail is a straight line in ln x.
        let left = ln_a.map(|_| {
            let [psi, psi1] = polygamma(a);
            [ln_gamma_stirling(a), a * psi, a * psi + a * a * psi1]
        });
        return (!upper_is_reliability, ln_a.exp() * (ln_a + y) - left - ln_a);
    }
    let ln_x = ln_a + y;
    if x > a {
        (upper_is_reliability, T::map2(ln_a, ln_x, |_, _| ln_gamma_upper(a, x)))
    } else {
        (!upper_is_reliability, T::map2(ln_a, ln_x, |_, _| ln_gamma_lower(a, x)))
    }
}

/// The generalised gamma family; coordinates (location, ln scale, shape).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct GeneralisedGammaFamily;

impl Family for GeneralisedGammaFamily {
    fn name(&self) -> &'static str {
        "generalised_gamma"
    }

    fn parameter_names(&self) -> &'static [&'static str] {
        &["location", "scale", "shape"]
    }

    fn links(&self) -> &'static [Link] {
        &[Link::Plain, Link::Log, Link::Plain]
    }

    fn stated_box(&self) -> &'static [(f64, f64)] {
        &[(0.0, 12.0), (0.05, 3.0), (-3.0, 3.0)]
    }

    fn life(&self, parameters: &[f64]) -> Result<Box<dyn Life>> {
        let [location, scale, shape] = check::exactly(parameters)?;
        Ok(Box::new(GeneralisedGamma { location, scale, shape }.checked()?))
    }

    fn anchor(&self) -> usize {
        0
    }

    fn jet(&self, coordinates: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let [location, ln_scale, shape] = check::first(coordinates);
        if !(age > 0.0 && age < f64::INFINITY) {
            return flat(GeneralisedGamma { location, scale: ln_scale.exp(), shape }.ln_term(term, age), out);
        }
        fill::<Logs, 4, 10>(self.links(), coordinates, age, term, order, out);
    }

    fn starts(&self, outline: &Outline) -> Vec<Vec<f64>> {
        let spread = outline.sd_ln.clamp(0.02, 20.0);
        let rate = (outline.exposure / outline.failures).ln();
        // Mean and standard deviation of w at some shapes, for complete samples.
        let from = |shape: f64| {
            let a = 1.0 / (shape * shape);
            let [psi, psi1] = polygamma(a);
            let scale = spread * shape.abs() / psi1.sqrt();
            vec![outline.mean_ln - scale * (psi - a.ln()) / shape, scale.ln(), shape]
        };
        vec![
            vec![outline.mean_ln, spread.ln(), 0.0],
            from(1.0),
            from(-1.0),
            from(2.5),
            vec![rate, 0.0, 1.0],
            vec![rate, -1.0, 0.3],
        ]
    }

    fn several_peaks(&self) -> bool {
        true
    }
}
