//! How far advice may go: to the hour limit, and no further than the records reach.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::full_hours;
use crate::terms::HourLimit;

/// Where the records end, and why advice may pass that age. By default no end is known and the hour limit alone holds.
///
/// # Examples
/// ```
/// use relamp::policy::Reach;
/// use relamp::terms::PrintedHours;
/// let printed = PrintedHours { maximum_hours: Some(5000.0), source: "invented".into(), ..PrintedHours::default() };
/// let limit = printed.limit()?;
/// assert_eq!(Reach::to(900.0).ceiling(&limit)?, 900.0);
/// let on = Reach { extrapolate_because: Some("an invented test ran longer".into()), ..Reach::to(900.0) };
/// assert_eq!(on.ceiling(&limit)?, 5000.0);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reach {
    /// Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given below.
    pub oldest_at_risk_hours: Option<f64>,
    /// Why advice may pass the oldest lamp at risk (never the limit).
    pub extrapolate_because: Option<String>,
}

impl Reach {
    /// As far as the oldest lamp at risk, and no further.
    pub fn to(oldest_at_risk_hours: f64) -> Self {
        Self { oldest_at_risk_hours: Some(oldest_at_risk_hours), extrapolate_because: None }
    }

    /// The age that no advice passes: the limit, or the oldest lamp at risk if earlier and no reason lets advice pass it.
    ///
    /// # Errors
    /// `policy.option_age` unless the oldest age is finite and above 0; `policy.extrapolate_reason` for a blank reason.
    pub fn ceiling(&self, limit: &HourLimit) -> Result<f64> {
        let problems = self.problems();
        if problems.is_empty() { Ok(self.held(limit)) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// What is wrong with it.
    pub(super) fn problems(&self) -> Vec<Problem> {
        let mut problems: Vec<Problem> =
            age_problem("oldest_at_risk_hours", self.oldest_at_risk_hours).into_iter().collect();
        if self.extrapolate_because.as_ref().is_some_and(|r| r.trim().is_empty()) {
            let problem = Problem::new("policy.extrapolate_reason", "advice past the records needs a reason in words");
            problems.push(problem.at(Place::input("options").column("extrapolate_because")));
        }
        problems
    }

    /// The ceiling of a reach without problems.
    pub(super) fn held(&self, limit: &HourLimit) -> f64 {
        match (self.oldest_at_risk_hours, &self.extrapolate_because) {
            (Some(oldest), None) => limit.hours().min(oldest),
            _ => limit.hours(),
        }
    }
}

/// What a sentence says beside an age past the oldest lamp at risk: that no record tells of it, and the reason given; nothing where
/// the age is not past it.
pub(super) fn further(age: f64, oldest: Option<f64>, because: Option<&str>) -> String {
    match (oldest.filter(|oldest| age > *oldest), because) {
        (Some(oldest), Some(because)) => {
            format!(
                "; no lamp at risk burned past {} h, and the age lies past that because: {}",
                full_hours(oldest),
                because.trim()
            )
        }
        _ => String::new(),
    }
}

/// Refuses an age among the options that is none.
pub(super) fn age_problem(name: &str, age: Option<f64>) -> Option<Problem> {
    let age = age.filter(|a| a.is_nan() || *a <= 0.0 || a.is_infinite())?;
    let problem = Problem::new("policy.option_age", "an age among the options must be finite and above 0");
    Some(problem.at(Place::input("options").column(name)).got(age))
}

/// Whether a saved ceiling is one: the limit, or the oldest lamp at risk where that comes before it.
pub(super) fn is_ceiling(ceiling: f64, limit: f64, oldest: Option<f64>) -> bool {
    ceiling == limit || oldest.is_some_and(|oldest| ceiling == oldest && oldest < limit)
}
