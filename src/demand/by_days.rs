//! Lamps needed from today to the end of some days, for the whole fleet or for parts of it.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use super::counts::Count;
use super::forecast::{Horizon, SocketToday, first_today};
use super::renewal::Renewal;
use super::stopping::{Ends, SocketUntil, add};
use super::until::{Screen, probabilities};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::run::Run;
use crate::fit::{Draws, World, over_draws};
use crate::policy::WorldCurve;

/// Steps of the screen clock in a day, as in a forecast by months.
const STEPS_A_DAY: usize = 2;

/// Some screens, and the days to whose ends their lamps are counted.
#[derive(Clone, Debug)]
pub(crate) struct NeededOf<'a> {
    pub(crate) sockets: &'a [SocketUntil],
    pub(crate) days: &'a [u32],
}

/// Bits of the hours, whether the lamp is due, and its age; bits of its stops; the screen.
type Laid<'a> = ((u64, bool, u64), Vec<u64>, &'a SocketUntil);

/// The lamps that each part of the fleet needs to the end of each of its days, mixed over draws as in
/// [`super::forecast_over_draws`], with the stops of the screens; the renewals of a draw are worked out once for all parts.
pub(crate) fn needed_by_days(
    parts: &[NeededOf<'_>],
    draws: &dyn Draws,
    planned_age: f64,
    run: &Run,
) -> Result<Vec<Vec<Count>>> {
    let last = parts.iter().flat_map(|p| p.days).copied().max().unwrap_or(0);
    Horizon::days(f64::from(last)).check()?;
    let spread = over_draws(draws, run, |world| in_world(parts, world, planned_age, last))?;
    if spread.each.is_empty() {
        let problem = Problem::new("demand.no_draws", "no draw gave a forecast").got(spread.failed.len());
        return Err(Error::new(Kind::Refused, problem));
    }
    let mixed = |part: usize, day: usize| {
        let of_draws: Vec<&Count> = spread.each.iter().filter_map(|d| d.get(part)?.get(day)).collect();
        Count::mix(&of_draws)
    };
    let of_part = |(i, part): (usize, &NeededOf<'_>)| (0..part.days.len()).map(|day| mixed(i, day)).collect();
    parts.iter().enumerate().map(of_part).collect()
}

fn in_world(parts: &[NeededOf<'_>], world: &World, planned_age: f64, last: u32) -> Result<Vec<Vec<Count>>> {
    let mut curve = WorldCurve::new(world)?;
    // Days of ordinary hours, of which a clock that runs fast burns more than there are days.
    let place = |s: &SocketUntil, day: u32| STEPS_A_DAY as f64 * s.ordinary(f64::from(day));
    let steps = parts.iter().flat_map(|p| p.sockets).map(|s| place(s, last).ceil() as usize).max().unwrap_or(0);
    let step_hours = |hours_per_week: f64| hours_per_week / 7.0 / STEPS_A_DAY as f64;
    let mut renewals: BTreeMap<u64, Renewal> = BTreeMap::new();
    for hours in parts.iter().flat_map(|p| p.sockets).map(|s| s.socket.hours_per_week).filter(|h| *h > 0.0 && steps > 0)
    {
        if let Entry::Vacant(new) = renewals.entry(hours.to_bits()) {
            new.insert(Renewal::new(&mut curve, planned_age, step_hours(hours), steps)?);
        }
    }
    let answer = |part: &NeededOf<'_>| {
        let due = |s: &SocketToday| {
            s.age_hours.is_none_or(|a| a >= planned_age || curve.ln_reliability(a) == f64::NEG_INFINITY)
        };
        let mut kinds: Vec<Laid<'_>> = part
            .sockets
            .iter()
            .map(|s| {
                let due = due(&s.socket);
                let age = if due { 0.0 } else { s.socket.age_hours.unwrap_or(0.0) };
                ((s.socket.hours_per_week.to_bits(), due, age.to_bits()), s.bits(), s)
            })
            .collect();
        kinds.sort_unstable_by(|a, b| (&a.0, &a.1).cmp(&(&b.0, &b.1)));
        let mut needed = vec![Count::certain(0); part.days.len()];
        for equal in kinds.chunk_by(|a, b| (&a.0, &a.1) == (&b.0, &b.1)) {
            let Some(&((hours, is_due, age), _, until)) = equal.first() else { continue };
            let screen = renewals.get(&hours).map(|renewal| {
                let step = step_hours(f64::from_bits(hours));
                Screen::new(&curve, renewal, f64::from_bits(age), planned_age, step, steps)
            });
            let ends = (!until.stops.is_empty()).then(|| Ends::new(&until.ordinary_stops(), STEPS_A_DAY as f64, steps));
            let mut known: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
            for (count, day) in needed.iter_mut().zip(part.days).filter(|(_, day)| **day > 0) {
                let to = place(until, *day);
                if let Some(ends) = &ends {
                    let mut by = |step: usize| {
                        let worked_out = || screen.as_ref().map(|s| s.at_least_by(step)).unwrap_or_default();
                        known.entry(step).or_insert_with(worked_out).clone()
                    };
                    let mut chances = split(to, |step| ends.at_least_by(step, &mut by));
                    if is_due {
                        chances = first_today(until.stops_today(), Some(&chances));
                    }
                    let each = probabilities(&chances);
                    for _ in equal {
                        count.add(&each);
                    }
                    continue;
                }
                let each = screen.as_ref().map(|s| probabilities(&split(to, |step| s.at_least_by(step))));
                for _ in equal {
                    if let Some(each) = &each {
                        count.add(each);
                    }
                    // A lamp that is due is changed today.
                    count.add_certain(u64::from(is_due));
                }
            }
        }
        needed
    };
    Ok(parts.iter().map(answer).collect())
}

/// Chances by a place between two steps: those by each, with the weights that keep the place.
fn split(place: f64, mut by: impl FnMut(usize) -> Vec<f64>) -> Vec<f64> {
    let (low, part) = (place as usize, place - place.floor());
    let mut chances = Vec::new();
    add(&mut chances, 1.0 - part, &by(low));
    if part > 0.0 {
        add(&mut chances, part, &by(low + 1));
    }
    chances
}
