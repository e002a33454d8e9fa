//! What is believed beforehand, in quantities that people can judge: an age and a range of shapes.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::special::{LN_SQRT_2PI, normal_quantile};

/// What is believed of a figure above 0.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Belief {
    /// Nothing: every factor is as likely as any other; of an age that may lie below 0 (normal, logistic, smallest extreme
    /// value) every number of hours. This is no probability by itself; the records must close it.
    #[default]
    Even,
    /// Between two values for sure, every factor in between as likely as any other.
    Within {
        /// Smallest value, above 0.
        low: f64,
        /// Largest value.
        high: f64,
    },
    /// Between two values with a probability, in the middle of them most of all: normal on the logarithm.
    Mostly {
        /// Lower value, above 0.
        low: f64,
        /// Higher value.
        high: f64,
        /// Probability to lie between them, such as 0.9; as much is left below as above.
        probability: f64,
    },
}

/// What is believed of a life before the records are looked at.
///
/// # Formula
/// ```text
/// density of (ln age, ln shape) = belief of the age x belief of the shape
/// ```
/// age: the one by which `percent` of the lamps have failed. A normal, logistic or smallest extreme value life has ages below
/// 0 too: its density is that of (age, ln scale), the belief of the age divided by the age unless it is even.
///
/// # Examples
/// ```
/// use relamp::fit::{Belief, Prior};
/// // The maker's experience: 10 % failed somewhere between 800 and 2,500 h, and lamps of this kind wear out.
/// let prior = Prior {
///     percent: 10.0,
///     b_life: Belief::Mostly { low: 800.0, high: 2500.0, probability: 0.9 },
///     shape: Belief::Within { low: 1.0, high: 8.0 },
/// };
/// assert_eq!(Prior::default().b_life, Belief::Even);
/// # let _ = prior;
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Prior {
    /// Percent failed at the age of `b_life`.
    pub percent: f64,
    /// Belief of the age, hours.
    pub b_life: Belief,
    /// Belief of the parameter that is not a scale of age: `shape`, or `scale` of a lognormal life, or `scale` in hours
    /// beside a location. A family of one parameter has none, and a belief of it is refused.
    pub shape: Belief,
}

impl Default for Prior {
    fn default() -> Self {
        Self { percent: 10.0, b_life: Belief::Even, shape: Belief::Even }
    }
}

impl Prior {
    pub(super) fn check(&self) -> Result<()> {
        if !(self.percent > 0.0 && self.percent < 100.0) {
            return Err(bad("percent", self.percent.to_string(), "above 0 and below 100"));
        }
        self.b_life.check("b_life")?;
        self.shape.check("shape")
    }
}

fn bad(field: &'static str, got: String, expected: &str) -> Error {
    let problem = Problem::new("fit.prior", "not a belief").at(Place::input("prior").column(field)).got(got);
    Error::new(Kind::Input, problem.expected(expected))
}

impl Belief {
    fn check(self, field: &'static str) -> Result<()> {
        let ends = |low: f64, high: f64| low > 0.0 && low < high && high < f64::INFINITY;
        match self {
            Self::Even => Ok(()),
            Self::Within { low, high } if ends(low, high) => Ok(()),
            Self::Mostly { low, high, probability } if ends(low, high) && probability > 0.0 && probability < 1.0 => {
                Ok(())
            }
            Self::Within { low, high } => {
                Err(bad(field, format!("{low} to {high}"), "two finite values above 0, the lower first"))
            }
            Self::Mostly { low, high, probability } => Err(bad(
                field,
                format!("{low} to {high} with probability {probability}"),
                "two finite values above 0, the lower first, and a probability between 0 and 1",
            )),
        }
    }

    /// Logarithm of the density of the figure's logarithm.
    pub(super) fn ln_density(self, ln: f64) -> f64 {
        match self {
            Self::Even => 0.0,
            Self::Within { low, high } => -(high.ln() - low.ln()).ln(),
            Self::Mostly { .. } => {
                let (mean, sd) = self.bell();
                let z = (ln - mean) / sd;
                -0.5 * z * z - LN_SQRT_2PI - sd.ln()
            }
        }
    }

    fn bell(self) -> (f64, f64) {
        let Self::Mostly { low, high, probability } = self else { return (0.0, 1.0) };
        let z = normal_quantile(0.5 * (1.0 + probability));
        (0.5 * (low.ln() + high.ln()), 0.5 * (high.ln() - low.ln()) / z)
    }

    /// Logarithms of the ends of what is possible.
    pub(super) fn ends(self) -> (f64, f64) {
        match self {
            Self::Within { low, high } => (low.ln(), high.ln()),
            _ => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }

    /// Logarithm of the middle; none where nothing is believed.
    pub(super) fn middle(self) -> Option<f64> {
        match self {
            Self::Even => None,
            Self::Within { low, high } | Self::Mostly { low, high, .. } => Some(0.5 * (low.ln() + high.ln())),
        }
    }
}
