//! The optimum without any limit: pure mathematics for checks and for the wording of a verdict, never advice.

use super::curve::WorldCurve;
use super::objective::Objective;
use super::search::{grid, search};
use crate::base::error::Result;
use crate::fit::World;
use crate::terms::Costs;

/// Relative saving against running to failure below which a finite optimum is none: rounding cannot tell them apart.
const NO_SAVING: f64 = 1e-9;

/// Ages looked at reach this many typical lives: past it nothing that a number can hold changes.
const REACH: f64 = 1e16;

/// Step of the search in ln age.
const STEP: f64 = 0.1;

/// Where the long-run cost per hour is least if no limit held.
#[derive(Clone, Debug, PartialEq)]
pub struct Optimum {
    /// Age of least cost; none where running to failure costs least or as little to within 1e-9.
    pub age_hours: Option<f64>,
    /// Cost per hour there.
    pub cost_per_hour: f64,
    /// Cost per hour of running to failure; none where its integral does not settle.
    pub run_to_failure_cost_per_hour: Option<f64>,
    /// Every age at which the cost stops falling, with its cost, by age.
    pub minima: Vec<(f64, f64)>,
}

/// The optimum as if no hour limit held. It is no advice: it answers reference cases and tells why a limit binds.
///
/// # Errors
/// Those of [`WorldCurve::new`] and of the integrals.
pub fn unlimited_optimum(world: &World) -> Result<Optimum> {
    unlimited_optimum_of(world, &Objective::CostPerHour)
}

/// The same for any objective, in its own amounts per hour.
///
/// # Errors
/// Those of [`unlimited_optimum`]; `terms.minutes_missing` for an ending without its dark minutes.
pub fn unlimited_optimum_of(world: &World, objective: &Objective) -> Result<Optimum> {
    priced_optimum(world, &world.costs, objective)
}

/// The same at other costs than those of the world.
pub(super) fn priced_optimum(world: &World, costs: &Costs, objective: &Objective) -> Result<Optimum> {
    let mut curve = WorldCurve::priced(world, costs, objective)?;
    let known: Vec<f64> = curve.landmarks().to_vec();
    curve.remember(&known)?;
    let forever = curve.up_to(f64::INFINITY).map(|u| curve.cost(&u)).ok();
    let typical = curve.typical_age();
    let reference = match forever {
        Some(cost) if cost > 0.0 => cost,
        _ => curve.cost(&curve.up_to(typical)?),
    };
    // A tenth of the earliest age that can win keeps dearer minima on the early side in sight.
    let from = (0.1 * curve.earliest(reference)).min(0.1 * typical);
    let to = typical * REACH;
    let ages = grid(&curve, from, to, ((to / from).ln() / STEP).ceil() as usize);
    curve.remember(&ages.iter().map(|(a, _)| *a).collect::<Vec<_>>())?;
    let searched = search(&curve, &ages)?;
    let minima = searched.minima();
    let best = minima.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1));
    Ok(match (best, forever) {
        (Some((age, cost)), Some(failure)) if cost < failure * (1.0 - NO_SAVING) => {
            Optimum { age_hours: Some(age), cost_per_hour: cost, run_to_failure_cost_per_hour: forever, minima }
        }
        (Some((age, cost)), None) => {
            Optimum { age_hours: Some(age), cost_per_hour: cost, run_to_failure_cost_per_hour: None, minima }
        }
        (_, Some(failure)) => {
            Optimum { age_hours: None, cost_per_hour: failure, run_to_failure_cost_per_hour: forever, minima }
        }
        (None, None) => Optimum {
            age_hours: None,
            cost_per_hour: searched.points.last().map_or(f64::NAN, |p| p.cost),
            run_to_failure_cost_per_hour: None,
            minima,
        },
    })
}
