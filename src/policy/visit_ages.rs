//! Two ages at once: the later one is searched too.

use super::curve::WorldCurve;
use super::reach::{Reach, further};
use super::search::{Mark, grid};
use super::visit::{Asked, VisitAge, VisitTerms, VisitVerdict};
use super::visit_even::EvenVisits;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::full_hours;
use crate::base::math::least::least;
use crate::fit::World;
use crate::terms::HourLimit;

/// Later ages that are looked at, in equal steps of ln age; at equal distances each costs far more.
const STEPS: (usize, usize) = (48, 16);
/// Visit ages beside each of them where visits come at equal distances, in equal shares of it, and turns of the search beside
/// the best pair.
const SHARES: u32 = 8;
const TURNS: usize = 3;
/// The first of them, as a share of a typical life.
const FIRST: f64 = 0.02;
/// Tolerance of the later age, relative: the cost is flat there, and the advice is in whole hours.
const TOLERANCE: f64 = 1e-5;

/// The two ages of least cost: from the earlier one on a lamp is changed at a visit that happens anyway, at the later one
/// without waiting.
///
/// For each later age the visit age of least cost is found as [`best_visit_age`](super::best_visit_age) does, and the later
/// age is searched over that: at equal steps, at the landmarks of the lives and at the ceiling, and closely beside the best
/// of them. Where visits come at equal distances, whose costs take far longer, pairs are compared on a grid, and the best of
/// them is bettered by one age in turn with the other. The saving is that against one age alone, the best there is where visits are not used
/// ([`VisitAge::unused_age_hours`]).
///
/// # Errors
/// Those of [`best_visit_age`](super::best_visit_age); `policy.age_below_hour` where the best later age is below one hour.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{Reach, VisitTerms, best_visit_age, best_visit_ages};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 1000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(1000.0, [(Ending::Burst, 5000.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let limit = printed.limit()?;
/// let terms = VisitTerms { mean_hours_between_visits: 300.0, visit_cost: 300.0, even: false };
/// let both = best_visit_ages(&world, &terms, &limit, &Reach::default())?;
/// // The best age without visits is no good later age beside them.
/// let one = best_visit_age(&world, &terms, 502.0, &limit, &Reach::default())?;
/// assert!(both.cost.cost_per_hour < 0.98 * one.cost.cost_per_hour);
/// assert!(both.cost.age_hours > 600.0 && both.visit_age_hours < 400.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn best_visit_ages(world: &World, terms: &VisitTerms, limit: &HourLimit, reach: &Reach) -> Result<VisitAge> {
    let ceiling = reach.ceiling(limit)?;
    let asked = Asked::new(world, terms, ceiling, limit)?;
    let ages = later_ages(&asked.curve, ceiling, if terms.even { STEPS.1 } else { STEPS.0 });
    let alone = |age: f64| asked.cost_of_age(age);
    let (unused_age_hours, unused_cost_per_hour) = searched(&ages, &alone)?;
    let pair = |age: f64| Ok(Asked::new(world, terms, age, limit)?.best_at(age)?.1);
    let later = if terms.even { asked.evenly_searched(&ages)? } else { searched(&ages, &pair)?.0 };
    let age_hours = if later >= ceiling { ceiling } else { later.floor() };
    if age_hours < 1.0 {
        let what = "the best later age is below one hour: check the costs and units";
        return Err(Error::new(Kind::Refused, Problem::new("policy.age_below_hour", what).got(later)));
    }
    let mut asked = Asked::new(world, terms, age_hours, limit)?;
    let best = asked.best_at(age_hours)?;
    let visit_age_hours = best.0.floor();
    let cost = asked.cost(visit_age_hours)?;
    let verdict = VisitAge::verdict_of(cost.cost_per_hour, unused_cost_per_hour);
    let end = |age: f64| match age {
        a if a < ceiling => format!("{} h", full_hours(a)),
        a if ceiling < limit.hours() => format!("{} h, past which the records support no age", full_hours(a)),
        a => format!("the limit of {} h", full_hours(a)),
    };
    let sentence = match verdict {
        VisitVerdict::VisitsPay => format!(
            "from {} h on change at the next visit, and at the latest at {}: that costs {:.1} % less than the best age \
             without visits, {}",
            full_hours(visit_age_hours),
            end(age_hours),
            VisitAge::saving(cost.cost_per_hour, unused_cost_per_hour),
            end(unused_age_hours)
        ),
        VisitVerdict::NoVisitPays => format!("no change at a visit pays; change at failure, or at {}", end(age_hours)),
    } + &further(age_hours, reach.oldest_at_risk_hours, reach.extrapolate_because.as_deref());
    Ok(VisitAge {
        verdict,
        sentence,
        visit_age_hours,
        optimum_hours: best.0,
        cost,
        unused_cost_per_hour,
        unused_age_hours: Some(unused_age_hours),
        asked_age_hours: age_hours,
        limit_hours: limit.hours(),
        ceiling_hours: ceiling,
        oldest_at_risk_hours: reach.oldest_at_risk_hours,
    })
}

impl Asked<'_> {
    /// The later age of the best pair where visits come at equal distances.
    fn evenly_searched(&self, ages: &[f64]) -> Result<f64> {
        let (mut best, mut pair) = (f64::INFINITY, (self.age, self.age));
        let mut place = 0;
        for (i, age) in ages.iter().enumerate() {
            for k in 0..=SHARES {
                let visit_age = age * f64::from(k) / f64::from(SHARES);
                let cost = self.at(visit_age, *age)?;
                if cost <= best {
                    (best, pair, place) = (cost, (visit_age, *age), i);
                }
            }
        }
        let at = |i: usize| ages.get(i).copied().unwrap_or(pair.1);
        let (from, to) = (at(place.saturating_sub(1)), at((place + 1).min(ages.len().saturating_sub(1))));
        for _ in 0..TURNS {
            let before = best;
            let (visit_age, age) = pair;
            if from.max(visit_age) < to {
                let found = least(|age| self.at(visit_age, age), from.max(visit_age), to, TOLERANCE)?;
                if found.1 < best {
                    (best, pair) = (found.1, (visit_age, found.0));
                }
            }
            let step = age / f64::from(SHARES);
            let (low, high) = ((pair.0 - step).max(0.0), (pair.0 + step).min(pair.1));
            if low < high {
                let found = least(|visit_age| self.at(visit_age, pair.1), low, high, TOLERANCE)?;
                if found.1 < best {
                    (best, pair) = (found.1, (found.0, pair.1));
                }
            }
            if best >= before {
                break;
            }
        }
        Ok(pair.1)
    }

    /// Cost per hour of a pair; visits that are far rarer than such an age serve next to no lamp.
    fn at(&self, visit_age: f64, age: f64) -> Result<f64> {
        let even = EvenVisits { curve: &self.curve, terms: self.terms, age };
        match even.cost(visit_age) {
            Err(e) if e.slug() == "policy.visits_apart" && age < self.terms.mean_hours_between_visits => {
                Ok(self.cost_of_age(age)?)
            }
            found => Ok(found?.cost_per_hour),
        }
    }
}

/// Later ages to look at, ascending, the ceiling last.
fn later_ages(curve: &WorldCurve<'_>, ceiling: f64, steps: usize) -> Vec<f64> {
    let from = (FIRST * curve.typical_age()).min(0.5 * ceiling);
    let all = grid(curve, from, ceiling, steps);
    // Just before a step of the curve and at it the cost differs; landmarks lie closer than matters here.
    let step = (ceiling / from).ln() / steps as f64;
    let mut ages: Vec<f64> = Vec::new();
    for (age, mark) in all {
        let close = ages.last().is_some_and(|last| age < last * (0.25 * step).exp());
        if mark != Mark::Grid || !close || age == ceiling {
            ages.push(age);
        }
    }
    ages
}

/// The age of least cost among these and between the neighbours of the best, and the cost.
fn searched(ages: &[f64], cost: &dyn Fn(f64) -> Result<f64>) -> Result<(f64, f64)> {
    let points = ages.iter().map(|age| Ok((*age, cost(*age)?))).collect::<Result<Vec<(f64, f64)>>>()?;
    // Of equal costs the later age: it changes fewer lamps.
    let best =
        (0..points.len()).rev().min_by(|a, b| cost_at(&points, *a).total_cmp(&cost_at(&points, *b))).unwrap_or(0);
    let at = |i: usize| points.get(i).map(|p| p.0);
    let from = at(best.saturating_sub(1));
    let to = at((best + 1).min(points.len().saturating_sub(1)));
    let here = points.get(best).copied().unwrap_or((f64::NAN, f64::INFINITY));
    let (Some(from), Some(to)) = (from, to) else { return Ok(here) };
    let mut found = here;
    for (low, high) in [(from, here.0), (here.0, to), (from, to)] {
        if low < high {
            let there = least(cost, low, high, TOLERANCE)?;
            found = if there.1 < found.1 { there } else { found };
        }
    }
    Ok(found)
}

fn cost_at(points: &[(f64, f64)], i: usize) -> f64 {
    points.get(i).map_or(f64::INFINITY, |p| p.1)
}
