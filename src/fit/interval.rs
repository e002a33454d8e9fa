//! What can be asked of a fit with its interval, and intervals from the curvature at the maximum.

use serde::{Deserialize, Serialize};

use super::model::{Fit, Note, failure_notes};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::special::normal_quantile;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Jet, Order, Term};

/// What is asked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Quantity {
    /// A parameter by name, such as `shape`.
    Parameter(String),
    /// The age by which a share has failed, hours.
    Quantile(f64),
    /// The age by which so many percent have failed, hours.
    BLife(f64),
    /// The probability to pass an age, hours.
    Reliability(f64),
}

/// Which ends are wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sides {
    /// Both, the level between them.
    #[default]
    Both,
    /// A lower bound at the level.
    Lower,
    /// An upper bound at the level.
    Upper,
}

/// How an interval was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum IntervalMethod {
    /// Curvature at the maximum, on the unconstrained scale.
    Wald,
    /// Every value whose best likelihood is close enough to the maximum.
    ProfileLikelihood,
    /// Percentiles of refits with random weights.
    WeightedBootstrap,
}

/// An interval with its level and method. An end that is not there is open: no bound follows from the
/// data, or it was not asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Interval {
    /// What was asked.
    pub quantity: Quantity,
    /// At the maximum of the likelihood.
    pub estimate: f64,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// Confidence level, such as 0.95.
    pub level: f64,
    /// Which ends were asked for.
    pub sides: Sides,
    /// How it was made.
    pub method: IntervalMethod,
    /// What a reader must know beside it.
    pub notes: Vec<Note>,
}

impl Sound for Interval {
    fn check(&self, c: &mut Checks) {
        match &self.quantity {
            Quantity::Parameter(_) => {}
            Quantity::Quantile(p) => c.level("quantity.quantile", *p),
            Quantity::BLife(x) => c.level("quantity.b_life", x / 100.0),
            Quantity::Reliability(age) => c.not_negative("quantity.reliability", *age),
        }
        c.ends("high", self.low, self.high);
        c.level("level", self.level);
    }
}

/// A quantity on the scale where it is worked with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Target {
    /// Coordinate `i` itself.
    Coordinate(usize),
    /// ln of the age at which reliability is exp(ln r).
    LnAge(f64),
    /// ln(-ln reliability) at an age.
    LnHazard(f64),
}

impl Target {
    pub(super) fn new(family: &dyn Family, quantity: &Quantity) -> Result<Self> {
        match quantity {
            Quantity::Parameter(name) => {
                family.parameter_names().iter().position(|n| n == name).map(Self::Coordinate).ok_or_else(|| {
                    Error::new(
                        Kind::Input,
                        Problem::new("fit.parameter_unknown", "the family has no such parameter")
                            .at(Place::input("quantity"))
                            .got(name)
                            .expected(family.parameter_names().join(", ")),
                    )
                })
            }
            Quantity::Quantile(p) => Self::share(*p),
            Quantity::BLife(x) => Self::share(x / 100.0),
            Quantity::Reliability(age) if *age > 0.0 && *age < f64::INFINITY => Ok(Self::LnHazard(*age)),
            Quantity::Reliability(age) => Err(Error::new(
                Kind::Domain,
                Problem::new("fit.age", "no interval for the reliability at this age")
                    .at(Place::input("quantity"))
                    .got(age)
                    .expected("finite hours above 0"),
            )),
        }
    }

    fn share(p: f64) -> Result<Self> {
        if p > 0.0 && p < 1.0 {
            return Ok(Self::LnAge((-p).ln_1p()));
        }
        Err(Error::new(
            Kind::Domain,
            Problem::new("fit.share", "no interval for the age at this share")
                .at(Place::input("quantity"))
                .got(p)
                .expected("a share above 0 and below 1"),
        ))
    }

    /// The value on the working scale at coordinates `x`.
    pub(super) fn value(self, family: &dyn Family, x: &[f64]) -> Result<f64> {
        Ok(match self {
            Self::Coordinate(i) => x.get(i).copied().unwrap_or(f64::NAN),
            Self::LnAge(ln_r) => family.at(x)?.quantile(-ln_r.exp_m1())?.ln(),
            Self::LnHazard(age) => (-family.at(x)?.ln_reliability(age)).ln(),
        })
    }

    /// Its gradient over the coordinates.
    fn gradient(self, family: &dyn Family, x: &[f64], value: f64) -> Vec<f64> {
        let width = x.len();
        let mut jet = Jet::new(width);
        match self {
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
        }
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
            Self::LnAge(_) => value.exp(),
            Self::LnHazard(_) => (-value.exp()).exp(),
        }
    }

    /// Whether the quantity falls as the working scale rises.
    pub(super) fn falls(self) -> bool {
        matches!(self, Self::LnHazard(_))
    }
}

/// Normal quantile that belongs to a level.
pub(super) fn critical(level: f64, sides: Sides) -> Result<f64> {
    if !(level > 0.0 && level < 1.0) {
        return Err(Error::new(
            Kind::Input,
            Problem::new("fit.level", "not a confidence level")
                .at(Place::input("level"))
                .got(level)
                .expected("above 0 and below 1, such as 0.95"),
        ));
    }
    Ok(-normal_quantile(if sides == Sides::Both { 0.5 * (1.0 - level) } else { 1.0 - level }))
}

impl Fit {
    /// Standard error of a target on its working scale, and the target's value.
    pub(super) fn spread(&self, target: Target) -> Result<(f64, f64)> {
        let family = self.family()?;
        let value = target.value(family, &self.coordinates)?;
        let gradient = target.gradient(family, &self.coordinates, value);
        let mut variance = 0.0;
        for (i, a) in gradient.iter().enumerate() {
            for (j, b) in gradient.iter().enumerate() {
                variance += a * b * self.coordinate_covariance(i, j).unwrap_or(f64::NAN);
            }
        }
        let error = variance.sqrt();
        if value.is_finite() && error.is_finite() {
            return Ok((value, error));
        }
        Err(Error::new(
            Kind::Refused,
            Problem::new("fit.no_spread", "the fit has no finite spread for this quantity").got(value),
        ))
    }

    /// Notes that belong on an interval.
    pub(super) fn interval_notes(&self, quantity: &Quantity, estimate: f64) -> Vec<Note> {
        let mut notes = failure_notes(self.facts.failures);
        let age = match quantity {
            Quantity::Parameter(_) => None,
            Quantity::Quantile(_) | Quantity::BLife(_) => Some(estimate),
            Quantity::Reliability(age) => Some(*age),
        };
        notes.extend(age.and_then(|a| self.extrapolation(a)));
        notes
    }

    /// An interval from the curvature at the maximum: estimate plus and minus a normal quantile times the standard error,
    /// on the unconstrained scale (ln of parameters and ages, ln(-ln R) for a reliability), mapped back.
    ///
    /// # Errors
    /// `fit.level`, `fit.parameter_unknown`, `fit.share`, `fit.age` for a bad question; `fit.no_spread` where the curve is flat.
    pub fn wald(&self, quantity: &Quantity, level: f64, sides: Sides) -> Result<Interval> {
        let family = self.family()?;
        let target = Target::new(family, quantity)?;
        let z = critical(level, sides)?;
        let (value, error) = self.spread(target)?;
        let back = |w: f64| target.back(family, &self.coordinates, w);
        let (mut low, mut high) = (back(value - z * error), back(value + z * error));
        if target.falls() {
            std::mem::swap(&mut low, &mut high);
        }
        let estimate = back(value);
        Ok(Interval {
            quantity: quantity.clone(),
            estimate,
            low: (sides != Sides::Upper && low.is_finite()).then_some(low),
            high: (sides != Sides::Lower && high.is_finite()).then_some(high),
            level,
            sides,
            method: IntervalMethod::Wald,
            notes: self.interval_notes(quantity, estimate),
        })
    }
}
