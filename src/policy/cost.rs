//! Cost per hour by planned age, split by what brings it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::curve::WorldCurve;
use super::objective::Objective;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::fit::World;
use crate::records::Ending;
use crate::terms::{Costs, HourLimit};

/// Long-run cost per lamp hour when lamps are changed at an age or at failure, whichever comes first; of another
/// [`Objective`] the same in its own amounts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CostPoint {
    /// Planned age, hours.
    pub age_hours: f64,
    /// Cost per lamp hour; the sum of the parts below.
    pub cost_per_hour: f64,
    /// Part that planned changes bring, less what the used lamps are worth.
    pub planned_cost_per_hour: f64,
    /// Parts that failures bring, less any money back, by ending in the order of the endings.
    pub by_ending: Vec<EndingCost>,
    /// Probability that a lamp fails before the planned age.
    pub failure_probability: f64,
    /// Mean age at change, hours.
    pub mean_age_at_change_hours: f64,
}

impl Sound for CostPoint {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.not_negative("planned_cost_per_hour", self.planned_cost_per_hour);
        for (i, part) in self.by_ending.iter().enumerate() {
            c.not_negative(&format!("by_ending[{i}].cost_per_hour"), part.cost_per_hour);
        }
        let parts: f64 = self.by_ending.iter().map(|part| part.cost_per_hour).sum();
        c.equal("cost_per_hour", self.cost_per_hour, self.planned_cost_per_hour + parts);
        c.share("failure_probability", self.failure_probability);
        c.age("mean_age_at_change_hours", self.mean_age_at_change_hours, self.age_hours);
    }
}

/// The part of a cost that one ending brings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndingCost {
    /// The ending.
    pub ending: Ending,
    /// Its part of the cost per lamp hour.
    pub cost_per_hour: f64,
}

/// Cost per hour at each of the given ages.
///
/// # Formula
/// ```text
/// C(T) = [c_p(T) R(T) + sum_j c_j F_j(T)] / M(T)
/// ```
/// `R` reliability of all causes in series; `F_j(T)` probability to end by cause j before T; `M(T)` integral of R over
/// (0, T); `c_p(T)` and `c_j` cost of a planned change, less what a used lamp of age T is worth, and of a failure by cause j, less any
/// money back (pooled by shares where a cause stands for several endings).
///
/// # Errors
/// `policy.age_past_limit`, one problem for each age above the limit; `policy.age` for an age that is not above 0;
/// those of [`WorldCurve::new`].
pub fn cost_curve(world: &World, ages_hours: &[f64], limit: &HourLimit) -> Result<Vec<CostPoint>> {
    objective_curve(world, &Objective::CostPerHour, ages_hours, limit)
}

/// The same for any objective, in its own amounts per hour.
///
/// # Errors
/// Those of [`cost_curve`]; `terms.minutes_missing` for an ending without its dark minutes.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{Objective, objective_curve};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, DarkMinutes, PrintedHours};
/// let life = Box::new(Weibull { shape: 1.0, scale: 1000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// // At an even rate the minutes of a failure come once in 1,000 h, whatever the planned age.
/// let dark = Objective::DarkMinutes(DarkMinutes::new(30.0, [(Ending::Burst, 240.0)])?);
/// let points = objective_curve(&world, &dark, &[500.0, 2000.0], &printed.limit()?)?;
/// assert!(points.iter().all(|p| (1000.0 * p.by_ending[0].cost_per_hour - 240.0).abs() < 1e-9));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn objective_curve(
    world: &World,
    objective: &Objective,
    ages_hours: &[f64],
    limit: &HourLimit,
) -> Result<Vec<CostPoint>> {
    within_limit(ages_hours, limit)?;
    let mut curve = WorldCurve::of(world, objective)?;
    let mut sorted = ages_hours.to_vec();
    sorted.sort_by(f64::total_cmp);
    curve.remember(&sorted)?;
    ages_hours.iter().map(|&age| cost_point(world, &world.costs, objective, &curve, age)).collect()
}

/// Refuses ages that are no ages or lie past the limit, each by its row.
pub(super) fn within_limit(ages_hours: &[f64], limit: &HourLimit) -> Result<()> {
    let no_age = |(i, age): (usize, &f64)| {
        let place = Place::input("ages_hours").row(i as u64 + 1);
        let problem = Problem::new("policy.age", "an age to change at must be above 0").at(place).got(*age);
        (age.is_nan() || *age <= 0.0).then(|| problem.expected("above 0"))
    };
    let wrong: Vec<Problem> = ages_hours.iter().enumerate().filter_map(no_age).collect();
    if !wrong.is_empty() {
        return Err(Error::many(Kind::Domain, wrong));
    }
    let mut problems = Vec::new();
    for (i, &age) in ages_hours.iter().enumerate() {
        if age > limit.hours() {
            problems.push(
                Problem::new("policy.age_past_limit", "a planned age lies past the hour limit")
                    .at(Place::input("ages_hours").row(i as u64 + 1))
                    .got(age)
                    .expected(format!("at most {} h", limit.hours())),
            );
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Limit, problems)) }
}

pub(super) fn cost_point(
    world: &World,
    costs: &Costs,
    objective: &Objective,
    curve: &WorldCurve,
    age_hours: f64,
) -> Result<CostPoint> {
    let upto = curve.up_to(age_hours)?;
    // Chances and hours are what they are, whatever later money is worth.
    let plain = if curve.discounts() { WorldCurve::new(world)?.up_to(age_hours)? } else { upto.clone() };
    let warranty = objective.warranty(costs);
    let mut parts: BTreeMap<Ending, f64> = BTreeMap::new();
    for (i, (cause, incidence)) in world.causes.iter().zip(&upto.incidence).enumerate() {
        let whole: f64 = cause.endings.iter().map(|(_, share)| share).sum();
        let back = upto.money_back.get(i).copied().unwrap_or(0.0);
        let covered = curve.covered().and_then(|c| c.get(i)).copied().unwrap_or(0.0);
        for (ending, share) in cause.endings.iter().filter(|(_, share)| *share > 0.0) {
            let share = share / whole;
            let paid_back = if warranty.is_some_and(|w| w.covers(*ending)) { back * share / covered } else { 0.0 };
            let cost = objective.failure(costs, *ending)? * share * incidence - paid_back;
            *parts.entry(*ending).or_insert(0.0) += cost / upto.exposure_hours;
        }
    }
    Ok(CostPoint {
        age_hours,
        cost_per_hour: curve.cost(&upto),
        planned_cost_per_hour: curve.planned_cost(age_hours) * upto.reliability / upto.exposure_hours,
        by_ending: parts.into_iter().map(|(ending, cost_per_hour)| EndingCost { ending, cost_per_hour }).collect(),
        failure_probability: plain.incidence.iter().sum::<f64>().min(1.0),
        mean_age_at_change_hours: plain.exposure_hours,
    })
}
