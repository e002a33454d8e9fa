//! Times of the first, second, ... change, one after another: whole distributions, and lives with failure-free hours.

use super::closed::LEAST;
use super::mesh::{Kernel, Mesh, Panels};
use super::rule::ChangeRule;
use super::spread::{First, Spread, reached};
use super::table::{MOST_PAIRS, MOST_PANELS, Means, mesh};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Most changes of one screen that are followed one by one.
const MOST_CHANGES: usize = 2_000;
/// Chance of one more change, relative to the mean so far, that ends a sum.
const NEGLIGIBLE: f64 = 1e-18;

/// What the steps of a sequence share.
#[derive(Debug)]
struct Walk<'s, 'a> {
    spread: &'s Spread<'a>,
    mesh: &'s Mesh,
    first: Option<First<'a>>,
}

impl<'s, 'a> Walk<'s, 'a> {
    fn new(spread: &'s Spread<'a>, mesh: &'s Mesh, rule: &ChangeRule) -> Result<Self> {
        let aged = rule.first_age_hours > 0.0;
        let first = if aged { Some(First::new(spread, rule)?) } else { None };
        Ok(Self { spread, mesh, first })
    }

    /// A function of the time left after a change, for one that comes `shift` hours after it; nothing before.
    fn shifted(&self, f: &Panels, hours: f64, shift: f64) -> f64 {
        reached(hours, shift).and_then(|w| self.mesh.value(f, w)).unwrap_or(0.0)
    }

    /// The same, mixed over the first lamp's end where that is not new.
    fn mixed(&self, f: &Panels, hours: f64, shift: f64) -> f64 {
        let Some(first) = &self.first else { return self.shifted(f, hours, shift) };
        let Some(left) = reached(hours, shift) else { return 0.0 };
        let [failed] = first.over_failures(left, self.mesh, |u| [self.mesh.value(f, u).unwrap_or(0.0)]);
        let planned = first.plan.and_then(|(plan, p)| reached(left, plan).map(|u| p * self.shifted(f, u, 0.0)));
        failed + planned.unwrap_or(0.0)
    }
}

fn too_many(hours: f64, changes: usize) -> Error {
    let what = "more changes of one screen than are followed one by one";
    let problem = Problem::new("renewal.too_many_changes", what).at(Place::input("hours")).got(hours);
    Error::new(Kind::Limit, problem.expected(format!("fewer hours: {changes} changes do not reach so far")))
}

/// Finer than for the means: each convolution takes slopes, which have fewer digits, and there are many in a row.
fn fine_mesh(spread: &Spread, hours: f64, finer: u32) -> Result<Mesh> {
    let mesh = mesh(spread, hours, finer + 1)?;
    if hours > MOST_PANELS as f64 * mesh.width_hours { Err(too_many(hours, MOST_CHANGES)) } else { Ok(mesh) }
}

/// Panels of a function up to some hours.
fn panels_to(mesh: &Mesh, hours: f64) -> usize {
    if hours < 0.0 { 0 } else { mesh.place(hours).0 + 1 }
}

/// Mean changes by each time, change after change.
pub(super) fn means(spread: &Spread, rule: &ChangeRule, hours: &[f64], finer: u32) -> Result<(Vec<Means>, f64)> {
    let most = hours.iter().copied().fold(0.0, f64::max);
    let free = spread.free_hours;
    let mesh = fine_mesh(spread, most, finer)?;
    let count = panels_to(&mesh, most);
    let kernel = Kernel::new(&mesh, spread, count);
    let walk = Walk::new(spread, &mesh, rule)?;
    let mut out = vec![Means::default(); hours.len()];
    if let Some(first) = &walk.first {
        for (m, t) in out.iter_mut().zip(hours) {
            m.failures = first.fails_within(*t);
            m.planned = first.plan.filter(|(plan, _)| reached(*t, *plan).is_some()).map_or(0.0, |(_, p)| p);
        }
    }
    let mut by = mesh.panels(count, |_, _| 1.0);
    let mut pairs = 0;
    for n in 1..=MOST_CHANGES {
        let shift = n as f64 * free;
        if shift > most {
            return Ok((out, kernel.miss));
        }
        pairs += kernel.pairs(&by);
        if pairs > 4 * MOST_PAIRS {
            return Err(too_many(most, n));
        }
        let failed = kernel.after_failure(&by, panels_to(&mesh, most - shift));
        // The planned change comes a planned age after the change before it.
        let plan = spread.plan.map(|p| p + free);
        let nth = if walk.first.is_some() { n as f64 } else { n as f64 - 1.0 };
        let mut open = false;
        for (m, t) in out.iter_mut().zip(hours) {
            let failures = walk.mixed(&failed, *t, shift);
            let planned = plan.map_or(0.0, |p| spread.reach_plan * walk.mixed(&by, *t, shift - free + p));
            m.failures += failures;
            m.planned += planned;
            m.second += 2.0 * nth * (failures + planned);
            open |= failures + planned > NEGLIGIBLE * (m.failures + m.planned);
        }
        let before = std::mem::replace(&mut by, failed);
        kernel.add_planned(&before, &mut by);
        if !open && n > 1 {
            return Ok((out, kernel.miss));
        }
    }
    Err(too_many(most, MOST_CHANGES))
}

/// Probabilities of 0, 1, 2, ... changes by a time.
pub(super) fn probabilities(spread: &Spread, rule: &ChangeRule, hours: f64) -> Result<Vec<f64>> {
    // A mean number past the most is known at once: from a new lamp on it is at least the hours over their mean from change
    // to change, less one.
    if rule.first_age_hours == 0.0 {
        let mean = spread.life.mean_to(rule.planned_age_hours.unwrap_or(f64::INFINITY))?;
        if hours / mean - 1.0 > MOST_CHANGES as f64 {
            return Err(too_many(hours, MOST_CHANGES));
        }
    }
    let mesh = fine_mesh(spread, hours, 0)?;
    let kernel = Kernel::new(&mesh, spread, panels_to(&mesh, hours));
    let walk = Walk::new(spread, &mesh, rule)?;
    if spread.free_hours == 0.0 { one_by_one(&walk, &kernel, hours) } else { by_differences(&walk, &kernel, hours) }
}

/// Chance that a new lamp still burns, past the free hours, panel by panel.
fn still_burns(walk: &Walk, count: usize) -> Panels {
    let (mesh, spread) = (walk.mesh, walk.spread);
    let gone = |panel: usize| mesh.period.is_some_and(|m| panel >= m);
    mesh.panels(count, |panel, t| if gone(panel) { 0.0 } else { spread.life.reliability(spread.free_hours + t) })
}

/// Each probability from the one before: the time left when the first of the changes happens. Nothing is taken from
/// anything, so the smallest keep their digits.
fn one_by_one(walk: &Walk, kernel: &Kernel, hours: f64) -> Result<Vec<f64>> {
    let count = panels_to(walk.mesh, hours);
    let mut p = still_burns(walk, count);
    let mut out = Vec::new();
    if let Some(first) = &walk.first {
        out.push(first.passes(hours));
    }
    let (mut sum, mut pairs) = (out.iter().sum::<f64>(), 0);
    while out.len() <= MOST_CHANGES {
        let chance = walk.mixed(&p, hours, 0.0).max(0.0);
        out.push(chance);
        sum += chance;
        pairs += kernel.pairs(&p);
        if sum > 0.5 && chance < LEAST {
            return Ok(out);
        }
        if pairs > 4 * MOST_PAIRS {
            break;
        }
        let mut next = kernel.after_failure(&p, count);
        kernel.add_planned(&p, &mut next);
        p = next;
    }
    Err(too_many(hours, out.len()))
}

/// With failure-free hours: chances that the n-th change has come, and that it has not, and the differences of whichever
/// are smaller.
fn by_differences(walk: &Walk, kernel: &Kernel, hours: f64) -> Result<Vec<f64>> {
    let (mesh, free) = (walk.mesh, walk.spread.free_hours);
    let count = panels_to(mesh, hours);
    let still = still_burns(walk, count);
    let mut come = mesh.panels(count, |_, _| 1.0);
    let mut not: Panels = mesh.panels(count, |_, _| 0.0);
    let mut chances = vec![(1.0, 0.0)];
    if let Some(first) = &walk.first {
        let passes = first.passes(hours);
        chances.push((1.0 - passes, passes));
    }
    let mut pairs = 0;
    for n in 1..=MOST_CHANGES {
        let left = hours - n as f64 * free;
        pairs += 2 * kernel.pairs(&come);
        if pairs > 4 * MOST_PAIRS {
            return Err(too_many(hours, n));
        }
        let to = panels_to(mesh, left.max(0.0));
        let step = |f: &mut Panels| {
            let mut next = kernel.after_failure(f, to);
            kernel.add_planned(f, &mut next);
            *f = next;
        };
        step(&mut come);
        step(&mut not);
        for (out, s) in not.iter_mut().zip(&still) {
            out.iter_mut().zip(s).for_each(|(o, s)| *o += s);
        }
        let shift = n as f64 * free;
        let pair = if reached(hours, shift).is_none() {
            (0.0, 1.0)
        } else if let Some(first) = &walk.first {
            // The first lamp burns on, or ends too late for n more.
            let late = first.fails_within(hours) - first.fails_within(left.max(0.0));
            let plan = first.plan.filter(|(at, _)| reached(hours, *at).is_some() && reached(left, *at).is_none());
            let others = first.passes(hours) + late + plan.map_or(0.0, |(_, p)| p);
            (walk.mixed(&come, hours, shift), others + walk.mixed(&not, hours, shift))
        } else {
            (walk.mixed(&come, hours, shift), walk.mixed(&not, hours, shift))
        };
        chances.push(pair);
        if pair.0 < LEAST {
            let each = chances.windows(2).map(|w| {
                let ((by, not), (next_by, next_not)) = (w[0], w[1]);
                (if by < 0.5 { by - next_by } else { next_not - not }).max(0.0)
            });
            return Ok(each.collect());
        }
    }
    Err(too_many(hours, MOST_CHANGES))
}
