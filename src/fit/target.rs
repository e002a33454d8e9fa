//! A quantity on the scale where it is worked with: its value, its slopes, and the way back.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::interval::Quantity;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::linalg::packed;
use crate::family::{Family, Jet, Life, Order, Term};

/// The scale on which a figure of the caller's own is treated as normal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Scale {
    /// The figure itself, of any sign.
    #[default]
    Plain,
    /// Its logarithm: a figure above 0, such as hours or money.
    Positive,
    /// ln(p / (1 - p)): a share between 0 and 1.
    Share,
}

impl Scale {
    pub(super) fn of(self, value: f64) -> f64 {
        match self {
            Self::Plain => value,
            Self::Positive => value.ln(),
            Self::Share => value.ln() - (-value).ln_1p(),
        }
    }

    /// The same where a figure may have no place on the scale.
    fn taken(self, value: f64) -> Result<f64> {
        let expected = match self {
            Self::Positive if value < 0.0 => "a figure above 0, or scale \"plain\"",
            Self::Share if !value.is_nan() && !(0.0..=1.0).contains(&value) => {
                "a figure between 0 and 1, or scale \"plain\""
            }
            _ => return Ok(self.of(value)),
        };
        let problem = Problem::new("fit.function_scale", "the function gives a figure that its scale does not hold")
            .at(Place::input("function"))
            .got(value);
        Err(Error::new(Kind::Domain, problem.expected(expected)))
    }

    pub(super) fn back(self, w: f64) -> f64 {
        match self {
            Self::Plain => w,
            Self::Positive => w.exp(),
            Self::Share => 1.0 / (1.0 + (-w).exp()),
        }
    }
}

/// A figure for one life and its parameters, which come in the order of the family.
pub type OfLife<'f> = dyn Fn(&dyn Life, &[f64]) -> Result<f64> + 'f;

/// A figure of the caller's own: any smooth function of a life and its parameters.
///
/// # Examples
/// ```
/// use relamp::family::Life;
/// use relamp::fit::{Function, Scale};
/// let spread = |life: &dyn Life, _: &[f64]| Ok(life.quantile(0.9)? / life.quantile(0.1)?);
/// let asked = Function { name: "B90 over B10".into(), of: &spread, scale: Scale::Positive };
/// assert_eq!(asked.name, "B90 over B10");
/// ```
#[derive(Clone)]
pub struct Function<'f> {
    /// What it is called in the result.
    pub name: String,
    /// The figure for one life and its parameters, which come in the order of the family.
    pub of: &'f OfLife<'f>,
    /// The scale on which intervals are built.
    pub scale: Scale,
}

impl fmt::Debug for Function<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Function").field("name", &self.name).field("scale", &self.scale).finish_non_exhaustive()
    }
}

/// A quantity on the scale where it is worked with.
#[derive(Clone, Copy)]
pub(super) enum Target<'f> {
    /// Coordinate `i` itself.
    Coordinate(usize),
    /// ln of the age at which reliability is exp(ln r).
    LnAge(f64),
    /// ln(-ln reliability) at an age.
    LnHazard(f64),
    /// ln of the failures per hour at an age.
    LnRate(f64),
    /// ln of the mean age at failure.
    LnMean,
    /// ln of the cumulative hazard between two ages: ln(-ln(1 - p)), p the chance to fail between them.
    LnBetween(f64, f64),
    /// A function of the life on its own scale.
    Function(&'f OfLife<'f>, Scale),
}

/// Step of a numerical slope in natural sizes of a coordinate: with the four-point rule both errors lie near 1e-12.
const STEP: f64 = 1e-3;
/// Steps from the end of the lives that have a mean within which the mean runs away too fast for a step of that length.
const RUNS_AWAY: f64 = 32.0;
/// Most times that a step is quartered next to that end.
const QUARTERINGS: usize = 14;

impl<'f> Target<'f> {
    pub(super) fn new(family: &dyn Family, quantity: &Quantity) -> Result<Self> {
        match quantity {
            Quantity::Parameter(name) => {
                family.parameter_names().iter().position(|n| n == name).map(Self::Coordinate).ok_or_else(|| {
                    Error::new(
                        Kind::Input,
                        Problem::new("fit.parameter_unknown", "the family has no such parameter")
                            .at(Place::input("parameter"))
                            .got(name)
                            .expected(family.parameter_names().join(", ")),
                    )
                })
            }
            Quantity::Quantile(p) => Self::share("quantile", *p, 1.0),
            Quantity::BLife(x) => Self::share("b_life", *x, 100.0),
            Quantity::Reliability(at) => {
                Ok(Self::LnHazard(age("reliability", *at, *at > 0.0, "finite hours above 0")?))
            }
            Quantity::Hazard(at) => Ok(Self::LnRate(age("hazard", *at, *at > 0.0, "finite hours above 0")?)),
            Quantity::Mean => Ok(Self::LnMean),
            Quantity::FailureWithin { age_hours, hours } => {
                let from = age("failure_within", *age_hours, *age_hours >= 0.0, "finite hours, 0 or more")?;
                let ahead = age("failure_within", *hours, *hours > 0.0, "finite hours above 0")?;
                Ok(Self::LnBetween(from, age("failure_within", from + ahead, true, "finite hours")?))
            }
            Quantity::Function(name) => Err(Error::new(
                Kind::Input,
                Problem::new("fit.function", "a function is asked for with the function itself, not by name")
                    .at(Place::input("quantity"))
                    .got(name),
            )),
        }
    }

    pub(super) fn function(asked: &Function<'f>) -> Self {
        Self::Function(asked.of, asked.scale)
    }

    fn share(asked: &str, given: f64, whole: f64) -> Result<Self> {
        let p = given / whole;
        if p > 0.0 && p < 1.0 {
            return Ok(Self::LnAge((-p).ln_1p()));
        }
        let problem = Problem::new("fit.share", "no interval for the age at this share").at(Place::input(asked));
        Err(Error::new(Kind::Domain, problem.got(given).expected(format!("above 0 and below {whole}"))))
    }

    /// The value on the working scale at coordinates `x`.
    pub(super) fn value(self, family: &dyn Family, x: &[f64]) -> Result<f64> {
        if let Self::Coordinate(i) = self {
            return Ok(x.get(i).copied().unwrap_or(f64::NAN));
        }
        let life = family.at(x)?;
        Ok(match self {
            Self::Coordinate(_) => f64::NAN,
            Self::LnAge(ln_r) => life.quantile(-ln_r.exp_m1())?.ln(),
            Self::LnHazard(age) => (-life.ln_reliability(age)).ln(),
            Self::LnRate(age) => life.ln_hazard(age),
            Self::LnMean => life.mean()?.ln(),
            Self::LnBetween(from, to) => (life.ln_reliability(from) - life.ln_reliability(to)).ln(),
            Self::Function(of, scale) => scale.taken(of(life.as_ref(), &family.parameters(x))?)?,
        })
    }

    /// Its gradient over the coordinates.
    pub(super) fn gradient(self, family: &dyn Family, x: &[f64], value: f64) -> Result<Vec<f64>> {
        let width = x.len();
        let mut jet = Jet::new(width);
        Ok(match self {
            Self::Coordinate(i) => (0..width).map(|j| f64::from(u8::from(i == j))).collect(),
            Self::LnAge(_) => {
                let age = value.exp();
                family.jet(x, age, Term::LnReliability, Order::Gradient, &mut jet);
                let along = jet.gradient.last().copied().unwrap_or(f64::NAN) * age;
                jet.gradient.iter().take(width).map(|g| -g / along).collect()
            }
            Self::LnHazard(age) => {
                family.jet(x, age, Term::LnReliability, Order::Gradient, &mut jet);
                jet.gradient.iter().take(width).map(|g| g / jet.value).collect()
            }
            Self::LnRate(age) => {
                let mut passed = Jet::new(width);
                family.jet(x, age, Term::LnDensity, Order::Gradient, &mut jet);
                family.jet(x, age, Term::LnReliability, Order::Gradient, &mut passed);
                jet.gradient.iter().zip(&passed.gradient).take(width).map(|(f, r)| f - r).collect()
            }
            Self::LnBetween(from, to) => {
                let mut last = Jet::new(width);
                family.jet(x, from, Term::LnReliability, Order::Gradient, &mut jet);
                family.jet(x, to, Term::LnReliability, Order::Gradient, &mut last);
                let apart = jet.value - last.value;
                jet.gradient.iter().zip(&last.gradient).take(width).map(|(a, b)| (a - b) / apart).collect()
            }
            Self::LnMean | Self::Function(..) => {
                let mut slopes = Vec::with_capacity(width);
                for i in 0..width {
                    let step = self.slope_step(family, x, i);
                    let at = |steps: f64| self.value(family, &moved(x, &[(i, steps * step)]));
                    slopes.push(if x.get(i).is_some_and(|x| x - 2.0 * step < family.floor(i)) {
                        // Nothing lies below the floor: five points to one side are as good.
                        (48.0 * at(1.0)? - 25.0 * value - 36.0 * at(2.0)? + 16.0 * at(3.0)? - 3.0 * at(4.0)?)
                            / (12.0 * step)
                    } else {
                        (8.0 * (at(1.0)? - at(-1.0)?) - (at(2.0)? - at(-2.0)?)) / (12.0 * step)
                    });
                }
                slopes
            }
        })
    }

    /// Step of a numerical slope over coordinate `i`. A mean has no end where the tail grows too heavy, and rises the faster
    /// the nearer that is.
    fn slope_step(self, family: &dyn Family, x: &[f64], i: usize) -> f64 {
        let mut step = STEP * family.step(x, i);
        if !matches!(self, Self::LnMean) {
            return step;
        }
        let below = |by: f64| x.get(i).is_some_and(|x| x + by < family.floor(i));
        let finite = |by: f64| below(by) || self.value(family, &moved(x, &[(i, by)])).is_ok_and(f64::is_finite);
        for _ in 0..QUARTERINGS {
            if finite(-RUNS_AWAY * step) && finite(RUNS_AWAY * step) {
                break;
            }
            step *= 0.25;
        }
        step
    }

    /// The value, or NaN where the life has none.
    pub(super) fn or_nan(self, family: &dyn Family, x: &[f64]) -> Result<f64> {
        match self.value(family, x) {
            Err(error) if error.kind() == Kind::Domain => Ok(f64::NAN),
            other => other,
        }
    }

    /// Its second derivatives over the coordinates, packed: they steer a search and need few digits.
    pub(super) fn hessian(self, family: &dyn Family, x: &[f64], value: f64, gradient: &[f64]) -> Result<Vec<f64>> {
        let width = x.len();
        let pairs = || (0..width).flat_map(|i| (0..=i).map(move |j| (i, j)));
        let (mut one, mut other) = (Jet::new(width), Jet::new(width));
        let mut both = |a: (f64, Term), b: (f64, Term)| {
            family.jet(x, a.0, a.1, Order::Hessian, &mut one);
            family.jet(x, b.0, b.1, Order::Hessian, &mut other);
            let apart = one.value - other.value;
            let curves = one.hessian.iter().zip(&other.hessian).map(|(a, b)| a - b).collect::<Vec<_>>();
            (apart, curves)
        };
        Ok(match self {
            Self::Coordinate(_) => vec![0.0; width * (width + 1) / 2],
            Self::LnRate(age) => {
                let (_, curves) = both((age, Term::LnDensity), (age, Term::LnReliability));
                pairs().map(|(i, j)| curves[packed(i, j)]).collect()
            }
            Self::LnBetween(from, to) => {
                let (apart, curves) = both((from, Term::LnReliability), (to, Term::LnReliability));
                pairs().map(|(i, j)| curves[packed(i, j)] / apart - gradient[i] * gradient[j]).collect()
            }
            Self::LnAge(_) | Self::LnHazard(_) | Self::LnMean | Self::Function(..) => {
                let size: Vec<f64> = (0..width).map(|i| self.slope_step(family, x, i)).collect();
                // Off the floor, where there is one.
                let centre: Vec<f64> = x.iter().enumerate().map(|(i, x)| x.max(family.floor(i) + size[i])).collect();
                let middle = if centre == x { value } else { self.value(family, &centre)? };
                let at = |moves: &[(usize, f64)]| self.value(family, &moved(&centre, moves));
                let mut out = Vec::with_capacity(width * (width + 1) / 2);
                for (i, j) in pairs() {
                    let (a, b) = (size[i], size[j]);
                    out.push(if i == j {
                        (at(&[(i, a)])? + at(&[(i, -a)])? - 2.0 * middle) / (a * a)
                    } else {
                        let alike = at(&[(i, a), (j, b)])? + at(&[(i, -a), (j, -b)])?;
                        let crossed = at(&[(i, a), (j, -b)])? + at(&[(i, -a), (j, b)])?;
                        (alike - crossed) / (4.0 * a * b)
                    });
                }
                out
            }
        })
    }

    /// From the working scale to the quantity.
    pub(super) fn back(self, family: &dyn Family, x: &[f64], value: f64) -> f64 {
        match self {
            Self::Coordinate(i) => {
                let mut moved = x.to_vec();
                if let Some(slot) = moved.get_mut(i) {
                    *slot = value;
                }
                family.parameters(&moved).get(i).copied().unwrap_or(f64::NAN)
            }
            Self::LnAge(_) | Self::LnRate(_) | Self::LnMean => value.exp(),
            Self::LnHazard(_) => (-value.exp()).exp(),
            Self::LnBetween(..) => -(-value.exp()).exp_m1(),
            Self::Function(_, scale) => scale.back(value),
        }
    }

    /// Whether a coordinate can be settled so that the quantity has a given value. That of one part of a family made of
    /// others cannot give every age or reliability while the other part stands.
    pub(super) fn has_ridge(self, family: &dyn Family) -> bool {
        matches!(self, Self::Coordinate(_))
            || (matches!(self, Self::LnAge(_) | Self::LnHazard(_)) && family.parts().is_none())
            || (matches!(self, Self::LnMean)
                && family.parts().is_none()
                && family.width() <= 2
                && family.stretch().is_some())
    }

    /// Whether the quantity falls as the working scale rises.
    pub(super) fn falls(self) -> bool {
        matches!(self, Self::LnHazard(_))
    }
}

/// Coordinates with some of them moved.
fn moved(x: &[f64], moves: &[(usize, f64)]) -> Vec<f64> {
    let mut out = x.to_vec();
    for (i, by) in moves {
        if let Some(slot) = out.get_mut(*i) {
            *slot += by;
        }
    }
    out
}

fn age(asked: &str, hours: f64, good: bool, expected: &str) -> Result<f64> {
    if good && hours < f64::INFINITY {
        return Ok(hours);
    }
    Err(Error::new(
        Kind::Domain,
        Problem::new("fit.age", "no interval can be given for these hours")
            .at(Place::input(asked))
            .got(hours)
            .expected(expected),
    ))
}
