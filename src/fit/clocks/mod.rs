//! Lives that run on another clock than hours: hours and strikes together, or hours under a recorded current.
//!
//! Both are one thing: a clock with one unknown turns the hours of a lamp into the age that wears it, and the density is taken
//! per hour. Start from [`two_clocks`] and [`fit_current_history`].

mod current;
mod histories;
mod strikes;
mod surface;

pub use current::{CurrentHistoryFit, fit_current_history};
pub use histories::{CurrentPiece, Histories};
pub use strikes::{ClockEdge, TwoClocks, two_clocks};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::family::Family;

/// Refuses families that no clock can carry: those with corners, and those that reach below age 0.
fn check_family(family: &dyn Family) -> Result<()> {
    if family.name() != super::failure_free::FAILURE_FREE && family.cuts().is_empty() && !family.below_zero() {
        return Ok(());
    }
    let what = "only a smooth family of ages above 0 can run on another clock";
    let problem = Problem::new("fit.clock_family", what).at(Place::input("family")).got(family.name());
    Err(Error::new(Kind::Refused, problem.expected("weibull, lognormal, or another smooth family of ages above 0")))
}
