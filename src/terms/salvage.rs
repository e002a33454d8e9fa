//! What a used lamp is still worth when it is changed on plan.

use serde::{Deserialize, Serialize};

use super::costs::LARGEST_AMOUNT;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// What a good used lamp is worth by its age: as a spare for an emergency, or sold.
///
/// # Formula
/// ```text
/// worth(age) = worth of new (1 - age / gone hours)    while gone hours - age > least hours left, else 0
/// ```
/// It falls evenly with the hours burned. With a least number of hours left it drops to nothing at once where fewer are left;
/// a lamp with just so many left counts as worth nothing, so that no advice rests on the last hour. Only a lamp that is
/// changed though it works is worth anything: one that failed, and one whose age is not known, is worth nothing.
///
/// # Examples
/// ```
/// use relamp::terms::Salvage;
/// let salvage = Salvage::new(400.0, 2000.0, 500.0)?;
/// assert_eq!((salvage.worth(0.0), salvage.worth(1000.0)), (400.0, 200.0));
/// // Nobody wants a lamp with 500 h left or less.
/// assert_eq!((salvage.worth(1499.0), salvage.worth(1500.0)), (400.0 * (1.0 - 1499.0 / 2000.0), 0.0));
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, try_from = "Raw")]
pub struct Salvage {
    worth_of_new: f64,
    gone_hours: f64,
    least_hours_left: f64,
}

// Its constructor is its only door, for a saved form too.
impl Sound for Salvage {
    fn check(&self, _: &mut Checks) {}
}

/// The saved form, before the checks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    worth_of_new: f64,
    gone_hours: f64,
    least_hours_left: f64,
}

impl TryFrom<Raw> for Salvage {
    type Error = Error;

    fn try_from(raw: Raw) -> Result<Self> {
        Self::new(raw.worth_of_new, raw.gone_hours, raw.least_hours_left)
    }
}

impl Salvage {
    /// What a used lamp is worth.
    ///
    /// # Arguments
    /// `worth_of_new`: what one would bring that has hardly burned, in the currency of the costs; 0 is no worth at all.
    /// `gone_hours`: age at which nothing is left. `least_hours_left`: hours left up to which it is worth nothing; 0 for none.
    ///
    /// # Errors
    /// All at once: `terms.salvage_worth` unless the worth is 0 to 1e12, `terms.salvage_hours` unless the age at which nothing
    /// is left is finite and at least 1 h and the least hours left lie from 0 to below it.
    ///
    /// # Examples
    /// ```
    /// use relamp::terms::Salvage;
    /// let error = Salvage::new(-1.0, f64::NAN, -5.0).unwrap_err();
    /// assert_eq!(error.problems().len(), 3);
    /// ```
    pub fn new(worth_of_new: f64, gone_hours: f64, least_hours_left: f64) -> Result<Self> {
        let place = |name: &str| Place::input("salvage").column(name);
        let mut problems = Vec::new();
        if !(0.0..=LARGEST_AMOUNT).contains(&worth_of_new) {
            problems.push(
                Problem::new("terms.salvage_worth", "the worth of a used lamp is no amount of money")
                    .at(place("worth_of_new"))
                    .got(worth_of_new)
                    .expected("0 to 1e12"),
            );
        }
        let what = "the worth of a used lamp ends at a number of hours";
        let ends = gone_hours >= 1.0 && gone_hours.is_finite();
        if !ends {
            let problem = Problem::new("terms.salvage_hours", what).at(place("gone_hours")).got(gone_hours);
            problems.push(problem.expected("finite hours of at least 1"));
        }
        // Beside hours that are none, those left are only asked to be a number of hours.
        let most = if ends { gone_hours } else { f64::INFINITY };
        if !(0.0..most).contains(&least_hours_left) {
            let problem = Problem::new("terms.salvage_hours", what).at(place("least_hours_left")).got(least_hours_left);
            problems.push(problem.expected("0 to below the age at which nothing is left"));
        }
        if problems.is_empty() {
            Ok(Self { worth_of_new, gone_hours, least_hours_left })
        } else {
            Err(Error::many(Kind::Input, problems))
        }
    }

    /// The same hours with another worth of a lamp that has hardly burned.
    pub(super) fn of_worth(self, worth_of_new: f64) -> Result<Self> {
        Self::new(worth_of_new, self.gone_hours, self.least_hours_left)
    }

    /// Worth of a lamp that is changed on plan at an age; 0 for an age that is not a number.
    pub fn worth(&self, age_hours: f64) -> f64 {
        // Not a number is no age below the end either.
        if age_hours < self.end_hours() {
            self.worth_of_new * (1.0 - age_hours.max(0.0) / self.gone_hours)
        } else {
            0.0
        }
    }

    /// What the worth changes by in an hour, from the age on: below 0 where it falls, 0 where none is left.
    pub(crate) fn slope(&self, age_hours: f64) -> f64 {
        if age_hours < self.end_hours() { -self.worth_of_new / self.gone_hours } else { 0.0 }
    }

    /// What is lost at once at the end.
    pub(crate) fn drop_at_end(&self) -> f64 {
        self.worth_of_new * self.least_hours_left / self.gone_hours
    }

    /// The most that a used lamp is worth: one that has hardly burned.
    pub fn largest(&self) -> f64 {
        self.worth_of_new
    }

    /// What one would bring that has hardly burned.
    pub fn worth_of_new(&self) -> f64 {
        self.worth_of_new
    }

    /// Age at which nothing is left, hours.
    pub fn gone_hours(&self) -> f64 {
        self.gone_hours
    }

    /// Hours left up to which a lamp is worth nothing.
    pub fn least_hours_left(&self) -> f64 {
        self.least_hours_left
    }

    /// Age from which a lamp is worth nothing, hours: there the worth bends, or jumps.
    pub fn end_hours(&self) -> f64 {
        self.gone_hours - self.least_hours_left
    }

    /// Ages at which the worth jumps or bends; none where there is no worth.
    pub fn kinks(&self) -> Vec<f64> {
        if self.worth_of_new > 0.0 { vec![self.end_hours()] } else { Vec::new() }
    }
}
