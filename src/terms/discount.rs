//! Money later is worth less than money now.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// Hours of a leap year, the longest that a lamp can burn in one.
const HOURS_OF_A_YEAR: f64 = 8784.0;

/// A discount rate, continuous, per burning hour: an amount after `t` burning hours is worth `exp(-rate t)` of itself now.
///
/// # Examples
/// ```
/// use relamp::terms::Discount;
/// // 5 % a year in a screen that burns 4,000 h a year: after 4,000 h an amount is worth 1 / 1.05 of itself.
/// let discount = Discount::per_year(0.05, 4000.0)?;
/// assert!((discount.worth(4000.0) * 1.05 - 1.0).abs() < 1e-15);
/// assert_eq!(Discount::per_hour(0.0).unwrap_err().slug(), "terms.discount_rate");
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct Discount {
    rate_per_hour: f64,
}

// Its constructors are its only doors, for a saved form too.
impl Sound for Discount {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    rate_per_hour: f64,
}

impl TryFrom<Raw> for Discount {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        Self::per_hour(raw.rate_per_hour)
    }
}

impl Discount {
    /// A continuous rate per burning hour.
    ///
    /// # Errors
    /// `terms.discount_rate` unless the rate is finite and above 0.
    pub fn per_hour(rate: f64) -> Result<Self> {
        if rate > 0.0 && rate.is_finite() {
            return Ok(Self { rate_per_hour: rate });
        }
        Err(refused("rate_per_hour", rate, "a finite rate above 0 for each burning hour"))
    }

    /// A rate per year, 0.05 for 5 %, in a screen that burns so many hours a year.
    ///
    /// # Formula
    /// ```text
    /// rate per hour = ln(1 + rate per year) / hours a year
    /// ```
    ///
    /// # Errors
    /// `terms.discount_rate` unless the rate is finite and above 0 and the hours lie above 0 and at most at 8,784.
    pub fn per_year(rate: f64, hours_per_year: f64) -> Result<Self> {
        if !(rate > 0.0 && rate.is_finite()) {
            return Err(refused("rate_per_year", rate, "a finite rate above 0, such as 0.05 for 5 %"));
        }
        if !(hours_per_year > 0.0 && hours_per_year <= HOURS_OF_A_YEAR) {
            return Err(refused("hours_per_year", hours_per_year, "hours above 0 and at most 8,784"));
        }
        Self::per_hour(rate.ln_1p() / hours_per_year)
    }

    /// The continuous rate per burning hour.
    pub fn rate_per_hour(&self) -> f64 {
        self.rate_per_hour
    }

    /// What an amount of 1 after so many burning hours is worth now.
    pub fn worth(&self, hours: f64) -> f64 {
        (-self.rate_per_hour * hours).exp()
    }
}

fn refused(name: &str, got: f64, expected: &str) -> Error {
    let problem = Problem::new("terms.discount_rate", "a discount rate must be stated");
    Error::new(Kind::Input, problem.at(Place::input("discount").column(name)).got(got).expected(expected))
}
