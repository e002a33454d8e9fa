//! Lamps that screens need until a day of their own, for fleets that shrink.

use super::counts::Count;
use super::forecast::{Horizon, SocketToday};
use super::renewal::{Renewal, mirrored};
use super::socket::NEGLIGIBLE;
use crate::base::error::Result;
use crate::fit::World;
use crate::policy::WorldCurve;

/// A screen with the days at which it may stop burning: (day, chance), the chances summing to 1, no day past the end.
pub(crate) type Stopping<'a> = (&'a SocketToday, Vec<(f64, f64)>);

/// Hours a week, whether the lamp is due, its age, the days at which the screen may stop, and its fleet.
type Kind<'a> = (f64, bool, f64, &'a [(f64, f64)], usize);

/// Lamps needed by screens that each burn until a day of its own, if lamps are changed at an age or at failure.
///
/// The grid is that of a forecast with one period of the same length, so that a fleet in which nothing stops gives the
/// same numbers; a day between two steps of the grid is split over both, which keeps its mean.
///
/// Each fleet has an answer of its own; what depends on the hours of a screen alone is worked out once for all of them.
pub(crate) fn needed_until(
    fleets: &[Vec<Stopping<'_>>],
    world: &World,
    planned_age: f64,
    end_days: f64,
) -> Result<Vec<Count>> {
    let steps = Horizon::days(end_days).check()?;
    let mut needed = vec![Count::certain(0); fleets.len()];
    if end_days == 0.0 {
        return Ok(needed);
    }
    let mut curve = WorldCurve::new(world)?;
    let due =
        |s: &SocketToday| s.age_hours.is_none_or(|a| a >= planned_age || curve.ln_reliability(a) == f64::NEG_INFINITY);
    let each = fleets.iter().enumerate().flat_map(|(fleet, screens)| screens.iter().map(move |s| (fleet, s)));
    let mut kinds: Vec<Kind<'_>> = each
        .map(|(fleet, (s, stops))| {
            let due = due(s);
            (s.hours_per_week, due, if due { 0.0 } else { s.age_hours.unwrap_or(0.0) }, stops.as_slice(), fleet)
        })
        .collect();
    kinds.sort_by(|a, b| {
        let days = |k: &[(f64, f64)]| k.iter().flat_map(|(d, p)| [d.to_bits(), p.to_bits()]).collect::<Vec<_>>();
        a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.total_cmp(&b.2)).then_with(|| days(a.3).cmp(&days(b.3)))
    });
    for group in kinds.chunk_by(|a, b| a.0 == b.0) {
        let Some(hours_per_week) = group.first().map(|g| g.0) else { continue };
        let step_hours = hours_per_week * end_days / 7.0 / steps as f64;
        let burning =
            if step_hours > 0.0 { Some(Renewal::new(&mut curve, planned_age, step_hours, steps)?) } else { None };
        for of_age in group.chunk_by(|a, b| (a.1, a.2) == (b.1, b.2)) {
            let Some(&(_, is_due, age, ..)) = of_age.first() else { continue };
            let screen = burning.as_ref().map(|r| Screen::new(&curve, r, age, planned_age, step_hours, steps));
            for equal in of_age.chunk_by(|a, b| a.3 == b.3) {
                let Some(&(.., stops, _)) = equal.first() else { continue };
                let each = mixed(screen.as_ref(), is_due, stops, steps as f64 / end_days);
                for kind in equal {
                    if let Some(count) = needed.get_mut(kind.4) {
                        count.add(&each);
                    }
                }
            }
        }
    }
    Ok(needed)
}

/// Probabilities of 0, 1, 2, ... lamps, mixed over the days at which the screen may stop.
fn mixed(screen: Option<&Screen<'_>>, is_due: bool, stops: &[(f64, f64)], steps_per_day: f64) -> Vec<f64> {
    let mut sum: Vec<f64> = Vec::new();
    let mut add = |more: &[f64], shift: usize, weight: f64| {
        sum.resize(sum.len().max(more.len() + shift), 0.0);
        for (s, p) in sum.iter_mut().skip(shift).zip(more) {
            *s += weight * p;
        }
    };
    for &(day, chance) in stops.iter().filter(|s| s.1 > 0.0) {
        // A lamp that is due is changed today, unless the screen stops today.
        let shift = usize::from(is_due && day > 0.0);
        let Some(screen) = screen else {
            add(&[1.0], shift, chance);
            continue;
        };
        let place = day * steps_per_day;
        let (low, part) = (place.floor(), place - place.floor());
        add(&screen.by(low as usize), shift, chance * (1.0 - part));
        if part > 0.0 {
            add(&screen.by(low as usize + 1), shift, chance * part);
        }
    }
    sum
}

/// One screen whose lamp of some age below the planned age burns now.
pub(super) struct Screen<'a> {
    pub(super) renewal: &'a Renewal,
    /// Chance that the first change is a failure in each step.
    pub(super) first: Vec<f64>,
    /// The planned first change: its exact place in steps, and the chance to get there.
    pub(super) planned: Option<(f64, f64)>,
    pub(super) steps: usize,
}

impl<'a> Screen<'a> {
    pub(super) fn new(
        curve: &WorldCurve<'_>,
        renewal: &'a Renewal,
        age: f64,
        planned_age: f64,
        step_hours: f64,
        steps: usize,
    ) -> Self {
        let now = curve.ln_reliability(age);
        let left = planned_age - age;
        let mut first = Vec::with_capacity(steps);
        let mut planned = None;
        let mut before = 1.0;
        for i in 1..=steps {
            let burned = i as f64 * step_hours;
            let after = (curve.ln_reliability(age + burned.min(left)) - now).exp().min(1.0);
            first.push((before - after).max(0.0));
            before = after;
            if burned >= left {
                planned = Some((left / step_hours, after));
                break;
            }
        }
        Self { renewal, first, planned, steps }
    }

    /// Probabilities of 0, 1, 2, ... changes by the end of a step.
    pub(super) fn by(&self, step: usize) -> Vec<f64> {
        probabilities(&self.at_least_by(step))
    }

    /// Chances of at least 1, 2, ... changes by the end of a step.
    pub(super) fn at_least_by(&self, step: usize) -> Vec<f64> {
        let to = step.min(self.steps);
        let mut each = Vec::new();
        for n in 0..=self.renewal.most() {
            let reach = self.renewal.reach(n);
            let first = self.first.get(..to).unwrap_or(&self.first);
            let mut next = mirrored(first, reach.get(..to).unwrap_or(reach));
            if let Some((place, p)) = self.planned.filter(|(place, _)| *place <= to as f64) {
                next += p * self.renewal.at_least_exact(n, to as f64 - place);
            }
            let next = next.min(1.0);
            if next <= NEGLIGIBLE {
                break;
            }
            each.push(next);
        }
        each
    }
}

/// Probabilities of 0, 1, 2, ... from the chances of at least 1, 2, ...
pub(super) fn probabilities(at_least: &[f64]) -> Vec<f64> {
    let mut each = Vec::with_capacity(at_least.len() + 1);
    let mut above = 1.0;
    for &next in at_least.iter().take_while(|p| **p > NEGLIGIBLE) {
        each.push((above - next).max(0.0));
        above = next;
    }
    each.push(above);
    each
}
