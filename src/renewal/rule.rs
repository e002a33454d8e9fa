//! How the lamps of one screen are changed.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};

/// How the lamps of one screen are changed, and the age of the one that burns at the start.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChangeRule {
    /// Age at which a lamp is changed though it works; none to run to failure.
    pub planned_age_hours: Option<f64>,
    /// Age of the first lamp at the start, hours: 0 for a new one. At or past the planned age it is changed at once.
    pub first_age_hours: f64,
}

impl ChangeRule {
    /// Every lamp runs to failure, the first one is new.
    pub fn to_failure() -> Self {
        Self::default()
    }

    /// Lamps are changed at an age, the first one is new.
    pub fn at_age(hours: f64) -> Self {
        Self { planned_age_hours: Some(hours), ..Self::default() }
    }

    /// The same with a first lamp of this age.
    #[must_use]
    pub fn first_aged(mut self, hours: f64) -> Self {
        self.first_age_hours = hours;
        self
    }

    pub(super) fn check(&self) -> Result<()> {
        let at = |column: &str| Place::input("rule").column(column);
        if let Some(age) = self.planned_age_hours
            && !above_zero(age)
        {
            let problem = Problem::new("renewal.planned_age", "a planned age must be above 0 and finite");
            let problem = problem.at(at("planned_age_hours")).got(age).expected("hours above 0, or none");
            return Err(Error::new(Kind::Domain, problem));
        }
        if !(self.first_age_hours >= 0.0 && self.first_age_hours.is_finite()) {
            let problem = Problem::new("renewal.first_age", "the age of the first lamp must be 0 or more and finite");
            let problem = problem.at(at("first_age_hours")).got(self.first_age_hours).expected("hours, 0 or more");
            return Err(Error::new(Kind::Domain, problem));
        }
        Ok(())
    }
}

/// Whether hours are finite and above 0 by more than what a computer writes without all of its digits: such a number does
/// not grow when it is stretched by a quarter.
fn above_zero(hours: f64) -> bool {
    hours >= f64::MIN_POSITIVE && hours.is_finite()
}

/// Hours that are all above 0 and finite, at least one.
pub(super) fn check_hours(hours: &[f64]) -> Result<()> {
    let refuse = |row: Option<usize>, got: String| {
        let place = Place::input("hours");
        let place = row.map_or(place.clone(), |i| place.row(i as u64 + 1));
        Problem::new("renewal.hours", "changes are counted over hours above 0")
            .at(place)
            .got(got)
            .expected("hours above 0 and finite")
    };
    if hours.is_empty() {
        return Err(Error::new(Kind::Domain, refuse(None, "none".into())));
    }
    let wrong = hours.iter().enumerate().filter(|(_, t)| !above_zero(**t));
    let problems: Vec<_> = wrong.map(|(i, t)| refuse(Some(i), t.to_string())).collect();
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Domain, problems)) }
}
