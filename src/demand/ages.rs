//! What a lamp of any age brings in the hours after, tabulated once for a world.
//!
//! The tables run over hours that a lamp burns, not over days, so that one set serves screens of any programme.

use super::renewal::mirrored;
use super::windows::LnReliability;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::policy::WorldCurve;

/// Entries of a table by age and by hours ahead: sets the step, and with it what a table costs.
const ENTRIES: f64 = 2e6;

/// What further changes may add before they are left out.
pub(super) const LEAST: f64 = 1e-17;

/// Most changes of one screen that are followed in one period.
const MOST_IN_PERIOD: usize = 40;

/// Most changes of one screen over the horizon.
const MOST_IN_ALL: usize = 400;

/// Share of a step within which an hour counts as on a step, so that rounding moves no planned change past an end.
const ON_STEP: f64 = 1e-9;

/// Pieces of Simpson's rule on the first cell; even.
const FIRST_PIECES: usize = 32;

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Counted {
    All,
    Planned,
    Failures,
}

impl Counted {
    pub(super) const EACH: [Self; 3] = [Self::All, Self::Planned, Self::Failures];

    /// Whether a planned change, and a failure change, is counted.
    fn counts(self) -> (bool, bool) {
        (self != Self::Failures, self != Self::Planned)
    }
}

/// A function of the hours ahead on the steps; it jumps only on steps, and is right at them from above.
#[derive(Clone, Debug)]
pub(super) struct OnSteps {
    above: Vec<f64>,
    below: Vec<f64>,
}

impl OnSteps {
    /// A function that is 1 from 0 on.
    fn one(steps: usize) -> Self {
        let mut below = vec![1.0; steps + 1];
        if let Some(first) = below.first_mut() {
            *first = 0.0;
        }
        Self { above: vec![1.0; steps + 1], below }
    }

    fn jump(&self, step: usize) -> f64 {
        at(&self.above, step) - at(&self.below, step)
    }

    /// Value at a number of steps, straight between them.
    pub(super) fn value(&self, steps: f64) -> f64 {
        if steps < -ON_STEP {
            return 0.0;
        }
        let n = (steps + ON_STEP).floor().max(0.0);
        let over = (steps - n).max(0.0);
        let low = at(&self.above, n as usize);
        low + over * (self.below.get(n as usize + 1).copied().unwrap_or(low) - low)
    }

    /// Values on the steps, from above.
    pub(super) fn above(&self) -> &[f64] {
        &self.above
    }

    fn last(&self) -> f64 {
        self.above.last().copied().unwrap_or(0.0)
    }
}

/// Masses of whole cells, split over the two steps beside them so that each has its mean place, ready to be set against
/// tables of what is left to an end.
#[derive(Debug)]
pub(super) struct Weights {
    far: Vec<f64>,
    /// Shared among the steps of a table; the last meets step `nearest`.
    shared: Vec<f64>,
    nearest: usize,
    over: f64,
}

impl Weights {
    /// Masses from `cell` on, the parts at the later and at the earlier end of each; the end stands `end` steps from the
    /// start of the first cell.
    pub(super) fn new(near: &[f64], far: Vec<f64>, cell: usize, end: f64) -> Self {
        // The later end of the last cell lies `left` steps before the end, the one before a step more, ...
        let left = end - (cell + far.len()) as f64;
        let nearest = left.floor().max(0.0);
        let over = (left - nearest).clamp(0.0, 1.0);
        let mut shared = Vec::with_capacity(far.len() + 2);
        // A table is straight between its steps, so that each part meets two of them.
        let (mut first, mut second) = (0.0, 0.0);
        for (near, far) in near.iter().zip(&far) {
            shared.push(first + over * far);
            first = second + over * near + (1.0 - over) * far;
            second = (1.0 - over) * near;
        }
        shared.extend([first, second]);
        Self { far, shared, nearest: nearest as usize, over }
    }

    /// Sum of the masses times the table; it jumps at multiples of `spacing` steps only.
    pub(super) fn times(&self, table: &OnSteps, spacing: usize) -> f64 {
        let last = self.nearest + self.far.len() + 1;
        let to = (last + 1).min(table.above.len());
        let inside = table.above.get(self.nearest.min(to)..to).unwrap_or(&[]);
        // The last part meets the first entry.
        let skipped = self.shared.len() - inside.len();
        let mut sum = mirrored(self.shared.get(skipped..).unwrap_or(&[]), inside);
        // A straight line up to a jump ends below it; what lies past the jump has all of it.
        let mut step = spacing * (self.nearest / spacing + 1);
        while step <= last {
            let after = last - step;
            let before = after.checked_sub(1).map_or(0.0, |i| at(&self.far, i));
            sum -= ((1.0 - self.over) * before + self.over * at(&self.far, after)) * table.jump(step);
            step += spacing;
        }
        sum
    }
}

/// Tables of one world under one planned age.
#[derive(Debug)]
pub(super) struct Ages {
    pub(super) step: f64,
    /// Cells from age 0 to the planned age, or to an age that nothing reaches in the horizon.
    pub(super) cells: usize,
    steps: usize,
    planned: bool,
    reliability: Vec<f64>,
    /// Mean place of a failure within its cell, as a share.
    place: Vec<f64>,
    /// Mean cost of the failures of a cell, and their cost summed up to each age.
    cost: Vec<f64>,
    cost_to: Vec<f64>,
    /// Means of later changes by age and steps ahead: planned, failures, cost of failures.
    later: [Vec<f64>; 3],
    /// The same after a change.
    fresh: [OnSteps; 3],
    /// `moments[kind][k]`: mean number of ways to choose k changes of the kind within the steps after a change.
    pub(super) moments: [Vec<OnSteps>; 3],
    /// `reach[kind][n]`: chance of at least n changes of the kind within the steps after a change.
    pub(super) reach: [Vec<OnSteps>; 3],
}

/// Which table of later means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mean {
    Planned,
    Failures,
    Cost,
}

impl Ages {
    /// Tables for ages up to `oldest`, hours ahead up to `ahead`, and periods of at most `window` hours.
    pub(super) fn new(
        curve: &WorldCurve<'_>,
        ln_reliability: &LnReliability<'_>,
        planned_age: f64,
        oldest: f64,
        ahead: f64,
        window: f64,
    ) -> Result<Self> {
        let reached = oldest.min(planned_age) + ahead;
        let planned = planned_age <= reached;
        let top = if planned { planned_age } else { reached };
        let cells = (top / (top * ahead / ENTRIES).sqrt()).ceil().clamp(20.0, ENTRIES / 20.0) as usize;
        let step = top / cells as f64;
        // One more than needed, so that straight lines have both ends.
        let steps = (ahead / step).ceil() as usize + 2;
        let mut ages = Self {
            step,
            cells,
            steps,
            planned,
            reliability: Vec::with_capacity(cells + 1),
            place: Vec::with_capacity(cells),
            cost: Vec::with_capacity(cells),
            cost_to: vec![0.0],
            later: [Vec::new(), Vec::new(), Vec::new()],
            fresh: [OnSteps::one(0), OnSteps::one(0), OnSteps::one(0)],
            moments: [Vec::new(), Vec::new(), Vec::new()],
            reach: [Vec::new(), Vec::new(), Vec::new()],
        };
        ages.cells_of(curve, ln_reliability);
        ages.after_changes(window)?;
        ages.by_age();
        Ok(ages)
    }

    fn cells_of(&mut self, curve: &WorldCurve<'_>, ln_reliability: &LnReliability<'_>) {
        self.reliability.push(1.0);
        let mut sum = 0.0;
        for i in 0..self.cells {
            let (from, to) = (i as f64 * self.step, (i + 1) as f64 * self.step);
            let (start, end) = (at(&self.reliability, i), ln_reliability(to).exp());
            let failing = start - end;
            let burned = burned_in(curve.kinks(), ln_reliability, from, to) / self.step;
            let place = if failing > 0.0 { ((burned - end) / failing).clamp(0.0, 1.0) } else { 0.5 };
            let cost = cost_between(curve, from, to);
            sum += failing * cost;
            self.reliability.push(end);
            self.place.push(place);
            self.cost.push(cost);
            self.cost_to.push(sum);
        }
    }

    fn failing(&self, cell: usize) -> f64 {
        at(&self.reliability, cell) - at(&self.reliability, cell + 1)
    }

    fn after_changes(&mut self, window: f64) -> Result<()> {
        let near: Vec<f64> = (0..self.cells).map(|i| self.failing(i) * at(&self.place, i)).collect();
        let far: Vec<f64> = (0..self.cells).map(|i| self.failing(i) * (1.0 - at(&self.place, i))).collect();
        let end = at(&self.reliability, self.cells);
        let change = Change { near, far, planned: self.planned.then_some((self.cells, end)) };
        let one = OnSteps::one(self.steps);
        let short = ((window / self.step).ceil() as usize + 2).min(self.steps);
        for (kind, (moments, reach)) in Counted::EACH.into_iter().zip(self.moments.iter_mut().zip(&mut self.reach)) {
            let counts = kind.counts();
            moments.push(OnSteps::one(self.steps));
            while moments.last().is_some_and(|m| at(&m.above, short) > LEAST) {
                if moments.len() > MOST_IN_PERIOD {
                    return Err(too_many("in one month", moments.len()));
                }
                let last = moments.last().unwrap_or(&one);
                // All hours ahead for the means, the hours of one period for the rest.
                let steps = if moments.len() == 1 { self.steps } else { short };
                moments.push(change.next(last, counts, true, steps));
            }
            reach.push(OnSteps::one(self.steps));
            while reach.last().is_some_and(|r| r.last() > LEAST) {
                if reach.len() > MOST_IN_ALL {
                    return Err(too_many("in all", reach.len()));
                }
                let last = reach.last().unwrap_or(&one);
                reach.push(change.next(last, counts, false, self.steps));
            }
        }
        let mean = |kind: usize| self.moments.get(kind).and_then(|m| m.get(1)).unwrap_or(&one).clone();
        let given = (0..=self.steps).map(|j| at(&self.cost_to, j.min(self.cells))).collect();
        let cost = change.solved(given, vec![0.0; self.steps + 1], (true, true));
        self.fresh = [mean(1), mean(2), cost];
        Ok(())
    }

    fn by_age(&mut self) {
        let width = self.steps + 1;
        for (table, fresh) in self.later.iter_mut().zip(&self.fresh) {
            let mut rows = vec![0.0; (self.cells + 1) * width];
            if let (true, Some(top)) = (self.planned, rows.rchunks_exact_mut(width).next()) {
                top.copy_from_slice(&fresh.above);
            }
            for k in (0..self.cells).rev() {
                let (start, end) = (at(&self.reliability, k), at(&self.reliability, k + 1));
                let pass = if start > 0.0 { end / start } else { 0.0 };
                let (fail, place) = (1.0 - pass, at(&self.place, k));
                let (near, far) = (fail * place, fail * (1.0 - place));
                let (head, tail) = rows.split_at_mut((k + 1) * width);
                let row = head.get_mut(k * width..).unwrap_or_default();
                let changes = fresh.above.iter().zip(fresh.below.iter().skip(1));
                for ((out, older), (above, below)) in row.iter_mut().skip(1).zip(&*tail).zip(changes) {
                    *out = pass * older + near * above + far * below;
                }
            }
            *table = rows;
        }
    }

    /// Adds the failures of first lamps by cell from one on, times a factor: the parts at the later and the earlier end.
    pub(super) fn add_failing(&self, from: usize, factor: f64, near: &mut [f64], far: &mut [f64]) {
        let ages = self.reliability.get(from..).unwrap_or(&[]);
        let places = self.place.get(from..).unwrap_or(&[]);
        let cells = ages.iter().zip(ages.iter().skip(1)).zip(places);
        for ((near, far), ((a, b), place)) in near.iter_mut().zip(far).zip(cells) {
            let failing = factor * (a - b);
            *near += failing * place;
            *far += failing * (1.0 - place);
        }
    }

    /// Chance to pass an age on the grid.
    pub(super) fn reliability(&self, cell: usize) -> f64 {
        at(&self.reliability, cell)
    }

    /// Whether lamps are changed at the last of the ages.
    pub(super) fn planned(&self) -> bool {
        self.planned
    }

    /// Means of later changes of a lamp of an age, by steps ahead.
    pub(super) fn row(&self, mean: Mean, cell: usize) -> &[f64] {
        let width = self.steps + 1;
        self.later.get(mean as usize).and_then(|t| t.get(cell * width..(cell + 1) * width)).unwrap_or(&[])
    }

    /// Means after a change, by steps ahead.
    pub(super) fn fresh(&self, mean: Mean) -> &OnSteps {
        let [planned, failures, cost] = &self.fresh;
        match mean {
            Mean::Planned => planned,
            Mean::Failures => failures,
            Mean::Cost => cost,
        }
    }

    /// What the planned mean of a lamp of an age jumps by at a step ahead, beyond its first change.
    pub(super) fn later_jump(&self, mean: Mean, cell: usize, step: usize) -> f64 {
        let Some(after) = (step + cell).checked_sub(self.cells).filter(|s| self.planned && *s > 0) else { return 0.0 };
        if after.is_multiple_of(self.cells) { self.reach_plan(cell) * self.fresh(mean).jump(after) } else { 0.0 }
    }

    /// Chance of a lamp of an age to reach the planned age.
    pub(super) fn reach_plan(&self, cell: usize) -> f64 {
        let here = self.reliability(cell);
        if here > 0.0 && self.planned { self.reliability(self.cells) / here } else { 0.0 }
    }

    /// Cost of first failures of lamps fitted new up to an age on the grid.
    pub(super) fn cost_to(&self, cell: usize) -> f64 {
        at(&self.cost_to, cell.min(self.cells))
    }

    /// Mean cost of a failure in a cell.
    pub(super) fn cost(&self, cell: usize) -> f64 {
        at(&self.cost, cell.min(self.cells.saturating_sub(1)))
    }
}

/// From one change to the next: failures by cell, split over the steps before and after, and the planned change.
struct Change {
    near: Vec<f64>,
    far: Vec<f64>,
    planned: Option<(usize, f64)>,
}

impl Change {
    /// The next table from the last: with one change more (`moments`: chosen or not; otherwise counted down).
    fn next(&self, last: &OnSteps, (planned, failures): (bool, bool), moments: bool, steps: usize) -> OnSteps {
        let mut given = vec![0.0; steps + 1];
        let mut jumps = given.clone();
        if failures {
            for (j, g) in given.iter_mut().enumerate().skip(1) {
                *g = self.failed(&last.above, &last.below, j);
            }
        }
        if let Some((cells, reach)) = self.planned.filter(|_| planned) {
            let out = given.iter_mut().zip(&mut jumps).skip(cells);
            for (j, (g, jump)) in out.enumerate() {
                *g += reach * at(&last.above, j);
                *jump = reach * last.jump(j);
            }
        }
        self.solved(given, jumps, (!planned || moments, !failures || moments))
    }

    /// Mean of a table over the failures that follow a change within `j` steps.
    fn failed(&self, above: &[f64], below: &[f64], j: usize) -> f64 {
        let n = j.min(self.near.len());
        let near = mirrored(self.near.get(..n).unwrap_or(&[]), above.get(..j).unwrap_or(above));
        let far = mirrored(self.far.get(..n).unwrap_or(&[]), below.get(1..=j).unwrap_or(&[]));
        near + far
    }

    /// Solves `x(t) = given(t) + sum over the next change of x(t - change)`, over the kinds of change that are passed on.
    fn solved(&self, given: Vec<f64>, given_jumps: Vec<f64>, (planned, failures): (bool, bool)) -> OnSteps {
        let steps = given.len().saturating_sub(1);
        let (mut above, mut below) = (Vec::with_capacity(steps + 1), Vec::with_capacity(steps + 1));
        let mut jumps: Vec<f64> = Vec::with_capacity(steps + 1);
        // A failure in the cell at hand leaves nearly all of the hours: its part of the same unknown goes to the left.
        let same = if failures { at(&self.far, 0) } else { 0.0 };
        for (j, (given, given_jump)) in given.into_iter().zip(given_jumps).enumerate() {
            let (mut sum, mut jump) = (given, given_jump);
            if let Some((cells, reach)) = self.planned.filter(|_| planned)
                && let Some(before) = j.checked_sub(cells)
            {
                sum += reach * at(&above, before);
                jump += reach * at(&jumps, before);
            }
            if failures && j > 0 {
                let n = j.min(self.near.len());
                sum += mirrored(self.near.get(..n).unwrap_or(&[]), &above);
                sum += mirrored(self.far.get(1..n).unwrap_or(&[]), below.get(1..).unwrap_or(&[]));
                sum = (sum - same * jump) / (1.0 - same);
            }
            above.push(sum);
            below.push(sum - jump);
            jumps.push(jump);
        }
        if let Some(first) = below.first_mut() {
            *first = 0.0;
        }
        OnSteps { above, below }
    }
}

/// Hours burned between two ages, per new lamp: Simpson's rule on each piece between kinks. On the first cell the ages go
/// by the fifth power, which takes the infinite hazard at age 0 of a shape below 1 out of the integrand.
fn burned_in(kinks: &[f64], ln_reliability: &LnReliability<'_>, from: f64, to: f64) -> f64 {
    let of = |age: f64| ln_reliability(age).exp();
    if from == 0.0 && !kinks.iter().any(|k| *k <= to) {
        let value = |i: usize| {
            let u = i as f64 / FIRST_PIECES as f64;
            let weight = if i == 0 || i == FIRST_PIECES { 1.0 } else { 2.0 * (1 + i % 2) as f64 };
            weight * 5.0 * u.powi(4) * of(to * u.powi(5))
        };
        return to * (0..=FIRST_PIECES).map(value).sum::<f64>() / (3 * FIRST_PIECES) as f64;
    }
    let first = kinks.partition_point(|k| *k <= from);
    let inside = kinks.get(first..).unwrap_or(&[]).iter().copied().take_while(|k| *k < to);
    let (mut sum, mut start) = (0.0, from);
    for end in inside.chain(std::iter::once(to)) {
        // A step at the end of a piece is not yet in it.
        sum += (end - start) * (of(start) + 4.0 * of(0.5 * (start + end)) + of(end.next_down())) / 6.0;
        start = end;
    }
    sum
}

/// Mean cost of a failure between two ages: the failures are shared among the causes by the fall of their ln R, so that
/// steps and infinite hazards count as what they are; causes that end all lamps there share them evenly.
fn cost_between(curve: &WorldCurve<'_>, from: f64, to: f64) -> f64 {
    if let [only] = curve.costs() {
        return *only;
    }
    let falls: Vec<f64> = curve.falls(from, to).collect();
    let (mut parts, mut cost) = (0.0, 0.0);
    let ends_all = falls.contains(&f64::INFINITY);
    for (fall, c) in falls.into_iter().zip(curve.costs()) {
        let part = if ends_all { f64::from(u8::from(fall.is_infinite())) } else { fall };
        parts += part;
        cost += part * c;
    }
    if parts > 0.0 { cost / parts } else { 0.0 }
}

fn too_many(when: &str, changes: usize) -> Error {
    let what = format!("one screen would need too many lamps {when}");
    let problem = Problem::new("demand.too_many_changes", what).got(changes);
    Error::new(Kind::Refused, problem.expected("a planned age and a horizon of the same order"))
}

pub(super) fn at(values: &[f64], k: usize) -> f64 {
    values.get(k).copied().unwrap_or(0.0)
}
