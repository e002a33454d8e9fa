//! How far what is set beside the costs of changes moves the advice: warranty, used lamp, discount, dark minutes, limit.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, PlannedAge, priced_age};
use super::curve::WorldCurve;
use super::objective::Objective;
use super::regret::CostBarEnd;
use crate::base::error::Result;
use crate::fit::World;
use crate::records::Ending;
use crate::terms::{Costs, Discount, HourLimit};

/// What a bar moves beside a cost of a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BarInput {
    /// Price that the warranty pays back.
    WarrantyPrice,
    /// Worth of a used lamp that has hardly burned.
    SalvageWorth,
    /// Discount rate.
    DiscountRate,
    /// Dark minutes of a change after an ending, of a planned change, or none given, after every failure.
    DarkMinutes(Option<Ending>),
    /// The hour limit, which is divided only: no advice passes it.
    Limit,
}

impl BarInput {
    /// What it is called.
    pub fn words(self) -> String {
        match self {
            Self::WarrantyPrice => "warranty price".to_owned(),
            Self::SalvageWorth => "worth of a used lamp".to_owned(),
            Self::DiscountRate => "discount rate".to_owned(),
            Self::DarkMinutes(None) => "dark minutes of every failure".to_owned(),
            Self::DarkMinutes(Some(ending)) => format!("dark minutes of {ending}"),
            Self::Limit => "hour limit".to_owned(),
        }
    }
}

/// One input that moves, and what becomes of the advice. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InputBar {
    /// What moves.
    pub input: BarInput,
    /// At the divided and at the multiplied input; the limit as it is in place of a multiplied one.
    pub ends: [CostBarEnd; 2],
}

impl InputBar {
    /// How far apart the ages of the two ends are, hours.
    pub fn width(&self) -> f64 {
        (self.ends[1].age_hours - self.ends[0].age_hours).abs()
    }
}

/// A bar for everything that is set, the widest first.
pub(super) fn input_bars(
    world: &World,
    factor: f64,
    limit: &HourLimit,
    options: &AgeOptions,
    planned: &PlannedAge,
) -> Result<Vec<InputBar>> {
    let end = |factor: f64, costs: &Costs, options: &AgeOptions, top: f64| {
        let there = priced_age(world, costs, limit, options)?;
        let curve = WorldCurve::priced(world, costs, &options.objective)?;
        let stale = curve.cost(&curve.up_to(planned.age_hours.min(top))?);
        let cost_per_hour = there.cost.cost_per_hour;
        let stale_percent = 100.0 * (stale / cost_per_hour - 1.0);
        Ok(CostBarEnd { factor, age_hours: there.age_hours, cost_per_hour, stale_percent })
    };
    let top = limit.hours();
    let priced = |costs: &dyn Fn(f64) -> Result<Costs>| {
        let at = |f: f64| end(f, &costs(f)?, options, top);
        Ok([at(1.0 / factor)?, at(factor)?])
    };
    let aimed = |objective: &dyn Fn(f64) -> Result<Objective>| {
        let at = |f: f64| end(f, &world.costs, &AgeOptions { objective: objective(f)?, ..options.clone() }, top);
        Ok([at(1.0 / factor)?, at(factor)?])
    };
    let mut bars: Vec<InputBar> = Vec::new();
    if options.objective.warranty(&world.costs).is_some() {
        let ends = priced(&|f| world.costs.with_warranty_scaled(f))?;
        bars.push(InputBar { input: BarInput::WarrantyPrice, ends });
    }
    if options.objective.salvage(&world.costs).is_some_and(|s| s.largest() > 0.0) {
        let ends = priced(&|f| world.costs.with_salvage_scaled(f))?;
        bars.push(InputBar { input: BarInput::SalvageWorth, ends });
    }
    match &options.objective {
        Objective::CostPerHour => {}
        Objective::DiscountedCost(discount) => {
            let rate = world.costs.discount().unwrap_or(discount).rate_per_hour();
            let ends = priced(&|f| Ok(world.costs.clone().with_discount(Discount::per_hour(f * rate)?)))?;
            bars.push(InputBar { input: BarInput::DiscountRate, ends });
        }
        Objective::DarkMinutes(dark) => {
            // Minutes of an ending that no cause stands for move nothing.
            let fails = |e: &Ending| world.causes.iter().any(|cause| cause.endings.iter().any(|c| c.0 == *e));
            let endings = dark.by_ending().keys().copied().filter(fails).map(Some);
            for moved in [None, Some(Ending::Planned)].into_iter().chain(endings) {
                let ends = aimed(&|f| dark.scaled(moved, f).map(Objective::DarkMinutes))?;
                bars.push(InputBar { input: BarInput::DarkMinutes(moved), ends });
            }
        }
    }
    let lower = top / factor;
    let held = options.oldest_at_risk_hours.filter(|_| options.extrapolate_because.is_none());
    let shorter = AgeOptions {
        oldest_at_risk_hours: Some(held.map_or(lower, |oldest| oldest.min(lower))),
        extrapolate_because: None,
        todays_rule_hours: None,
        ..options.clone()
    };
    let ends = [end(1.0 / factor, &world.costs, &shorter, lower)?, end(1.0, &world.costs, options, top)?];
    bars.push(InputBar { input: BarInput::Limit, ends });
    bars.sort_by(|a, b| b.width().total_cmp(&a.width()));
    Ok(bars)
}
