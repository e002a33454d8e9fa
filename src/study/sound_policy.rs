//! What must hold of a saved replacement age: it is worked out again, from the saved model and from the costs of a change
//! that the saved cost curve implies.

use std::collections::BTreeMap;

use super::class_result::{ClassResult, LimitResult};
use super::class_run::OVERRIDE;
use super::decide::{cost_ages, fails_within, rule_cost};
use super::decision_result::{AgeBand, PolicyResult, RuleCost, few_failures};
use super::headline::failures;
use super::sensitivity::bars_again;
use super::sound_class::world;
use crate::base::sound::{Checks, as_saved};
use crate::fit::{FEW_FAILURES, World};
use crate::policy::{AgeOptions, CostPoint, EndingsAt, PlannedAge, cost_curve, endings_by_age, planned_age};
use crate::records::Ending;
use crate::terms::{Costs, HourLimit, PrintedHours, Warranty};

/// Every figure and sentence of a policy that follows from model, limit, costs and today's rule. The ends of intervals
/// and bands are those of draws, which the answers do not hold.
pub(super) fn policy_again(c: &mut Checks, class: &ClassResult) {
    let (Some(policy), Some(model)) = (&class.policy, &class.model) else { return };
    let Some((best, points, world, limit, options)) = again(class, policy) else { return };
    if let (Some(got), Ok(made)) =
        (&policy.endings_at_planned_age, endings_by_age(&world, &[policy.planned.age_hours], &limit))
    {
        c.inside("endings_at_planned_age", |c| endings_agree(c, got, made.first()));
    }
    if let Some(money) = &policy.money_back {
        let plain = world_of(class, world.costs.without_warranty());
        if let Some(plain) = plain {
            c.inside("money_back", |c| money.again(c, (&world, &plain), policy, &limit, &options));
        }
    }
    let own = failures(&model.by_cause);
    let few = own < FEW_FAILURES;
    // The minutes of a show stand beside the classes: the chance of the next show is held to them there.
    let cost = |point| rule_cost(point, &world, 0.0);
    let todays = best.todays_rule.as_ref().map(cost);
    let planned = if few { todays.clone() } else { Some(cost(&best.cost)) };
    for (field, got, made) in [("planned", &policy.planned, &planned), ("todays_rule", &policy.todays_rule, &todays)] {
        if let Some(made) = made {
            c.inside(field, |c| rule_agrees(c, got, made));
        }
    }
    c.entries("cost_curve", policy.cost_curve.len(), points.len());
    for (i, (got, made)) in policy.cost_curve.iter().zip(&points).enumerate() {
        c.inside(&format!("cost_curve[{i}]"), |c| {
            c.equal("age_hours", got.age_hours, made.age_hours);
            c.equal(
                "planned_cost_per_1000_hours",
                got.planned_cost_per_1000_hours,
                1000.0 * made.planned_cost_per_hour,
            );
            let parts: BTreeMap<Ending, f64> = made.by_ending.iter().map(|p| (p.ending, p.cost_per_hour)).collect();
            for (j, part) in got.by_cause.iter().enumerate() {
                let made = parts.get(&part.ending).map_or(0.0, |cost| 1000.0 * cost);
                let size = made.max(got.cost_per_1000_hours);
                c.near(&format!("by_cause[{j}].cost_per_1000_hours"), part.cost_per_1000_hours, made, size);
            }
        });
    }
    if few {
        let age = todays.map_or(policy.todays_rule.age_hours, |rule| rule.age_hours);
        return c.follows("sentence", &policy.sentence, &few_failures(age, own));
    }
    if !(class.of_before() && policy.sensitivity.is_none()) {
        bars_again(c, (policy.sensitivity.as_ref(), &model.by_cause), &world, &limit, &options);
    }
    c.need("verdict", policy.verdict == best.verdict, as_saved(&policy.verdict), as_saved(&best.verdict));
    c.follows("sentence", &policy.sentence, &best.sentence);
    c.follows("planned_age_hours", &policy.planned_age_hours, &best.age_hours);
    c.entries("near_best", policy.near_best.len(), best.near_best.len());
    for (i, (got, made)) in policy.near_best.iter().zip(&best.near_best).enumerate() {
        let AgeBand { from_hours, to_hours, to_end } = got;
        c.inside(&format!("near_best[{i}]"), |c| {
            c.equal("from_hours", *from_hours, made.from_hours);
            c.equal("to_hours", *to_hours, made.to_hours);
            c.follows("to_end", to_end, &made.to_end);
        });
    }
    let (got, made) = (policy.run_to_failure_cost_per_1000_hours, best.run_to_failure_cost_per_hour);
    c.there("run_to_failure_cost_per_1000_hours", got.is_some(), made.is_some(), "there where that cost settles");
    if let (Some(got), Some(made)) = (got, made) {
        c.equal("run_to_failure_cost_per_1000_hours", got, 1000.0 * made);
    }
}

/// The chances to fail in the next show, from the model and the minutes of a show.
pub(super) fn shows_agree(c: &mut Checks, class: &ClassResult, show_minutes: f64) {
    let (Some(policy), Some(model)) = (&class.policy, &class.model) else { return };
    let each = model.by_cause.iter().flat_map(|k| &k.endings).map(|e| (*e, 1.0));
    let world = Costs::new(1.0, each).ok().and_then(|costs| world(model, costs));
    let Some(world) = world else { return };
    for (field, rule) in [("planned", &policy.planned), ("todays_rule", &policy.todays_rule)] {
        let made = fails_within(&world, rule.age_hours, show_minutes / 60.0);
        if let (Some(got), Ok(made)) = (rule.next_show_failure_probability, made) {
            c.equal(&format!("policy.{field}.next_show_failure_probability"), got, made);
        }
    }
}

fn endings_agree(c: &mut Checks, got: &EndingsAt, made: Option<&EndingsAt>) {
    let Some(made) = made else { return };
    c.equal("age_hours", got.age_hours, made.age_hours);
    // Of 1,000 lamps.
    c.near("planned_per_1000", got.planned_per_1000, made.planned_per_1000, 1000.0);
    c.entries("by_ending", got.by_ending.len(), made.by_ending.len());
    for (i, (got, made)) in got.by_ending.iter().zip(&made.by_ending).enumerate() {
        c.inside(&format!("by_ending[{i}]"), |c| {
            c.follows("ending", &got.ending, &made.ending);
            c.near("per_1000_lamps", got.per_1000_lamps, made.per_1000_lamps, 1000.0);
            c.near("per_1000_hours", got.per_1000_hours, made.per_1000_hours, 1.0);
        });
    }
}

fn rule_agrees(c: &mut Checks, got: &RuleCost, made: &RuleCost) {
    c.equal("age_hours", got.age_hours, made.age_hours);
    c.equal("cost_per_1000_hours", got.cost_per_1000_hours, made.cost_per_1000_hours);
    c.equal("mean_age_at_change_hours", got.mean_age_at_change_hours, made.mean_age_at_change_hours);
}

/// The planned age and the cost curve, worked out again; none where the saved parts give no world, which other rules tell.
fn again(
    class: &ClassResult,
    policy: &PolicyResult,
) -> Option<(PlannedAge, Vec<CostPoint>, World, HourLimit, AgeOptions)> {
    let limit = hour_limit(&class.limit)?;
    let costs = costs(class, policy, &limit)?;
    let world = world_of(class, costs)?;
    let options = AgeOptions {
        todays_rule_hours: Some(class.todays_rule_hours),
        oldest_at_risk_hours: Some(policy.ceiling_hours).filter(|age| *age < limit.hours()),
        ..AgeOptions::default()
    };
    let best = planned_age(&world, &limit, &options).ok()?;
    let ages = cost_ages(limit.hours(), best.age_hours, class.todays_rule_hours);
    let points = cost_curve(&world, &ages, &limit).ok()?;
    Some((best, points, world, limit, options))
}

fn world_of(class: &ClassResult, costs: Costs) -> Option<World> {
    world(class.model.as_ref()?, costs)
}

fn hour_limit(limit: &LimitResult) -> Option<HourLimit> {
    let printed = PrintedHours {
        warranty_hours: limit.warranty_hours,
        average_life_hours: limit.average_life_hours,
        maximum_hours: limit.maximum_hours,
        source: limit.source.clone(),
    };
    let owners = limit.origin == OVERRIDE;
    if owners { printed.limit_because(limit.limit_hours, &limit.reason) } else { printed.limit() }.ok()
}

/// What each change costs: the parts of the saved cost over those of a world in which every change costs 1. Planned
/// changes are the most at the youngest age of the curve, failures at the oldest.
fn costs(class: &ClassResult, policy: &PolicyResult, limit: &HourLimit) -> Option<Costs> {
    let model = class.model.as_ref()?;
    let endings: Vec<Ending> = model.by_cause.iter().flat_map(|k| &k.endings).copied().collect();
    let unit: World = world(model, Costs::new(1.0, endings.iter().map(|e| (*e, 1.0))).ok()?)?;
    let (first, last) = (policy.cost_curve.first()?, policy.cost_curve.last()?);
    let at = cost_curve(&unit, &[first.age_hours, last.age_hours], limit).ok()?;
    let [young, old] = at.as_slice() else { return None };
    let back = match &policy.money_back {
        Some(money) => money_back(class, &money.counted, old, limit)?,
        None => BTreeMap::new(),
    };
    let planned = as_typed(first.planned_cost_per_1000_hours / (1000.0 * young.planned_cost_per_hour))?;
    let each: Option<Vec<(Ending, f64)>> = endings
        .iter()
        .map(|ending| {
            let part = last.by_cause.iter().find(|p| p.ending == *ending)?;
            let one = old.by_ending.iter().find(|p| p.ending == *ending)?;
            let back = back.get(ending).copied().unwrap_or(0.0);
            Some((*ending, as_typed((part.cost_per_1000_hours / 1000.0 + back) / one.cost_per_hour)?))
        })
        .collect();
    let costs = Costs::new(planned, each?).ok()?;
    match &policy.money_back {
        Some(money) => costs.with_warranty(money.counted.clone()).ok(),
        None => Some(costs),
    }
}

/// Money back per hour by ending under an age: what it takes off in a world in which every failure costs twice the most that
/// can come back.
fn money_back(
    class: &ClassResult,
    counted: &Warranty,
    unit: &CostPoint,
    limit: &HourLimit,
) -> Option<BTreeMap<Ending, f64>> {
    let each = 2.0 * counted.largest();
    let costs = Costs::new(each, unit.by_ending.iter().map(|p| (p.ending, each))).ok()?;
    let world = world_of(class, costs.with_warranty(counted.clone()).ok()?)?;
    let with = cost_curve(&world, &[unit.age_hours], limit).ok()?.pop()?;
    let parts = unit.by_ending.iter().zip(&with.by_ending);
    Some(parts.map(|(one, part)| (one.ending, each * one.cost_per_hour - part.cost_per_hour)).collect())
}

/// An amount without the last digits, which rounding took: two costs that were declared alike stay alike.
fn as_typed(amount: f64) -> Option<f64> {
    format!("{amount:.9e}").parse().ok().filter(|a: &f64| a.is_finite())
}
