//! Every stationary age of a cost curve, and the least cost.

use super::curve::{UpTo, WorldCurve};
use crate::base::error::Result;
use crate::base::math::root::bracketed;

/// Half-width of a root in ln age. Ages need no more than 1e-10; the first-order condition at the root is then met to
/// rounding even where it is steep.
pub const ROOT: f64 = 1e-13;

/// Relative rise of the cost over a kink from which it is a jump and no rounding.
const KINK: f64 = 1e-12;

/// What a point of the search is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// A point of the grid, or an end.
    Grid,
    /// The last age before a step of the curve.
    BeforeStep,
    /// A step or corner of the curve.
    Step,
    /// A stationary age where the cost stops falling.
    Minimum,
    /// A stationary age where the cost stops rising.
    Maximum,
}

/// One age of the search with its cost.
#[derive(Clone, Debug)]
pub struct Point {
    /// The age, hours.
    pub age: f64,
    /// Cost per hour there.
    pub cost: f64,
    /// What it is.
    pub mark: Mark,
    slope: f64,
}

/// The points of a search by ascending age, and which of them costs least.
#[derive(Debug)]
pub struct Searched {
    /// Points by age: between two neighbours the cost is continuous and, as far as the search can tell, monotone.
    pub points: Vec<Point>,
    /// Index of the least cost; among equals that of the latest age.
    pub best: usize,
}

impl Searched {
    /// Every age at which the cost stops falling, with its cost: smooth ones, and kinks where it falls up to the kink and
    /// rises, or jumps up, from there.
    pub fn minima(&self) -> Vec<(f64, f64)> {
        let turns = |i: usize, p: &Point| match p.mark {
            Mark::Minimum => true,
            Mark::BeforeStep => {
                let after = self.points.get(i + 1);
                p.slope < 0.0 && after.is_some_and(|a| a.slope > 0.0 || a.cost > p.cost * (1.0 + KINK))
            }
            _ => false,
        };
        self.points.iter().enumerate().filter(|(i, p)| turns(*i, p)).map(|(_, p)| (p.age, p.cost)).collect()
    }
}

/// Ages for a search: `steps` equal steps in ln age, the landmarks of the lives, and both sides of every kink between.
pub fn grid(curve: &WorldCurve, from: f64, to: f64, steps: usize) -> Vec<(f64, Mark)> {
    let mut ages = vec![(from, Mark::Grid)];
    let (low, high) = (from.ln(), to.ln());
    for i in 1..steps {
        ages.push(((low + (high - low) * i as f64 / steps as f64).exp(), Mark::Grid));
    }
    ages.push((to, Mark::Grid));
    // A mode far narrower than a step, as of a weak batch, would be stepped over.
    ages.extend(curve.landmarks().iter().map(|age| (*age, Mark::Grid)));
    for &kink in curve.kinks().iter().filter(|k| **k > from && **k <= to) {
        ages.push((kink.next_down(), Mark::BeforeStep));
        ages.push((kink, Mark::Step));
    }
    ages.retain(|(a, _)| *a >= from && *a <= to);
    ages.sort_by(|a, b| a.0.total_cmp(&b.0));
    ages.dedup_by(|later, earlier| {
        // Of two equal ages keep the mark that says more.
        let same = later.0 == earlier.0;
        if same && earlier.1 == Mark::Grid {
            earlier.1 = later.1;
        }
        same
    });
    ages
}

/// Finds the stationary ages between the ages of a grid by bracketed roots of the first-order condition.
///
/// # Errors
/// Those of the integrals and roots.
pub fn search(curve: &WorldCurve, ages: &[(f64, Mark)]) -> Result<Searched> {
    let mut points = Vec::with_capacity(ages.len() + 4);
    for &(age, mark) in ages {
        let next = point(curve, &curve.up_to(age)?, mark);
        between(curve, &mut points, next)?;
    }
    // A least cost at a plain grid point means a dip between two points that the signs did not show: look closer there.
    let mut best = least(&points);
    for _ in 0..3 {
        let inside = best > 0 && best + 1 < points.len();
        if !inside || points.get(best).is_none_or(|p| p.mark != Mark::Grid) {
            break;
        }
        let mut closer = Vec::with_capacity(points.len() + 64);
        for (i, p) in points.iter().enumerate() {
            if i == best || i == best + 1 {
                let before = closer.last().map_or(p.age, |b: &Point| b.age);
                for k in 1..32 {
                    let age = before * (p.age / before).powf(f64::from(k) / 32.0);
                    if age > before && age < p.age {
                        let next = point(curve, &curve.up_to(age)?, Mark::Grid);
                        between(curve, &mut closer, next)?;
                    }
                }
            }
            between(curve, &mut closer, p.clone())?;
        }
        points = closer;
        best = least(&points);
    }
    Ok(Searched { points, best })
}

fn point(curve: &WorldCurve, upto: &UpTo, mark: Mark) -> Point {
    Point { age: upto.age_hours, cost: curve.cost(upto), mark, slope: curve.slope(upto) }
}

/// Adds a point, and before it the root between it and the last one if the slope changes sign.
fn between(curve: &WorldCurve, points: &mut Vec<Point>, next: Point) -> Result<()> {
    let root = points.last().and_then(|last| {
        // Across a step the curve jumps: there is nothing between.
        let step = last.mark == Mark::BeforeStep && next.mark == Mark::Step;
        let stationary =
            matches!(last.mark, Mark::Minimum | Mark::Maximum) || matches!(next.mark, Mark::Minimum | Mark::Maximum);
        let change = (last.slope < 0.0 && next.slope > 0.0) || (last.slope > 0.0 && next.slope < 0.0);
        (!step && !stationary && change).then_some((last.age, last.slope, next.age, next.slope))
    });
    if let Some((from, slope_from, to, slope_to)) = root {
        let (low, high) = (from.ln(), to.ln());
        let falling = slope_from < 0.0;
        // The ends keep the slopes that are known: exp(ln age) may miss an age by a rounding and so jump over a step.
        let slope = |x: f64| match x {
            x if x <= low => Ok(slope_from),
            x if x >= high => Ok(slope_to),
            x => Ok(curve.slope(&curve.up_to(x.exp().clamp(from, to))?)),
        };
        let age = bracketed(slope, low, high, ROOT)?.exp();
        if age > from && age < to {
            let mark = if falling { Mark::Minimum } else { Mark::Maximum };
            points.push(point(curve, &curve.up_to(age)?, mark));
        }
    }
    points.push(next);
    Ok(())
}

fn least(points: &[Point]) -> usize {
    let mut best = 0;
    let mut cost = f64::INFINITY;
    for (i, p) in points.iter().enumerate() {
        if p.cost <= cost {
            (best, cost) = (i, p.cost);
        }
    }
    best
}

/// Runs of ages whose cost is at most `bound`, as (from, to), by ages in rising order with their costs; `root`: half-width of a
/// crossing in ln age.
///
/// # Errors
/// Those of the cost and of the roots.
pub fn runs_below(
    points: &[(f64, f64, Mark)],
    cost: &dyn Fn(f64) -> Result<f64>,
    bound: f64,
    root: f64,
) -> Result<Vec<(f64, f64)>> {
    let mut runs: Vec<(f64, f64)> = Vec::new();
    let mut open: Option<f64> = None;
    let mut last: Option<&(f64, f64, Mark)> = None;
    for here in points {
        let &(age, cost_here, mark) = here;
        let inside = cost_here <= bound;
        let crossing = |&(before, cost_before, mark_before): &(f64, f64, Mark)| -> Result<f64> {
            if mark_before == Mark::BeforeStep && mark == Mark::Step {
                return Ok(if inside { age } else { before });
            }
            let ratio = |cost: f64| cost.min(f64::MAX) / bound - 1.0;
            let (low, high) = (before.ln(), age.ln());
            let over = |x: f64| match x {
                x if x <= low => Ok(ratio(cost_before)),
                x if x >= high => Ok(ratio(cost_here)),
                x => Ok(ratio(cost(x.exp().clamp(before, age))?)),
            };
            Ok(bracketed(over, low, high, root)?.exp().clamp(before, age))
        };
        match (open, inside) {
            (None, true) => open = Some(last.map_or(Ok(age), crossing)?),
            (Some(from), false) => {
                runs.push((from, last.map_or(Ok(age), crossing)?));
                open = None;
            }
            _ => {}
        }
        last = Some(here);
    }
    if let (Some(from), Some(&(age, ..))) = (open, last) {
        runs.push((from, age));
    }
    Ok(runs)
}
