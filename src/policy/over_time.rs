//! What the lamps of one screen cost over time: failures cause by cause, and planned changes.

use std::collections::BTreeMap;

use super::curve::WorldCurve;
use super::objective::Objective;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::fit::World;
use crate::records::Ending;
use crate::renewal::{Amounts, Timeline};

/// Cost of all failures by a time.
pub(super) fn failures_cost(curve: &WorldCurve, timeline: &Timeline<'_>, hours: f64) -> f64 {
    timeline.failures(hours, &Amounts { rate: &|age| curve.failing(age), kinks: curve.kinks() })
}

/// The failures of one screen by a time.
#[derive(Debug, Default)]
pub(super) struct Failures {
    /// Mean number of them.
    pub(super) number: f64,
    /// What they cost, less any money back, by ending.
    pub(super) costs: BTreeMap<Ending, f64>,
}

impl Failures {
    /// Failures by a time, cause by cause.
    pub(super) fn by(world: &World, curve: &WorldCurve, timeline: &Timeline<'_>, hours: f64) -> Result<Self> {
        let mut all = Self::default();
        let warranty = Objective::CostPerHour.warranty(&world.costs);
        for (i, cause) in world.causes.iter().enumerate() {
            let sum = |amount: &dyn Fn(f64) -> f64| {
                let rate = |age: f64| {
                    let hazard = curve.hazards(age).nth(i).unwrap_or(0.0);
                    if hazard == 0.0 { 0.0 } else { amount(age) * hazard }
                };
                timeline.failures(hours, &Amounts { rate: &rate, kinks: curve.kinks() })
            };
            let number = sum(&|_| 1.0);
            let covered = curve.covered().and_then(|c| c.get(i)).copied().unwrap_or(0.0);
            let back = if covered > 0.0 { sum(&|age| curve.back(i, age)) } else { 0.0 };
            all.number += number;
            let whole: f64 = cause.endings.iter().map(|(_, share)| share).sum();
            for (ending, share) in cause.endings.iter().filter(|(_, share)| *share > 0.0) {
                let share = share / whole;
                let paid_back = if warranty.is_some_and(|w| w.covers(*ending)) { back * share / covered } else { 0.0 };
                let cost = world.costs.failure(*ending)? * share * number - paid_back;
                *all.costs.entry(*ending).or_insert(0.0) += cost;
            }
        }
        Ok(all)
    }
}

/// Refuses what is not a number of hours above 0.
pub(super) fn check_length(slug: &'static str, what: &str, name: &str, hours: f64) -> Result<()> {
    if hours > 0.0 && hours.is_finite() {
        return Ok(());
    }
    let problem = Problem::new(slug, what).at(Place::input(name)).got(hours).expected("hours above 0 and finite");
    Err(Error::new(Kind::Domain, problem))
}
