//! Functions of the hours ahead, tabulated on steps, and how they are read between two of them.

use super::renewal::mirrored;

/// Share of a step within which an hour counts as on a step, so that rounding moves no planned change past an end.
pub(super) const ON_STEP: f64 = 1e-9;

/// A function of the hours ahead on the steps; it jumps only on steps, and is right at them from above.
#[derive(Clone, Debug)]
pub(super) struct OnSteps {
    pub(super) above: Vec<f64>,
    pub(super) below: Vec<f64>,
}

impl OnSteps {
    /// A function that is 1 from 0 on.
    pub(super) fn one(steps: usize) -> Self {
        let mut below = vec![1.0; steps + 1];
        if let Some(first) = below.first_mut() {
            *first = 0.0;
        }
        Self { above: vec![1.0; steps + 1], below }
    }

    pub(super) fn jump(&self, step: usize) -> f64 {
        at(&self.above, step) - at(&self.below, step)
    }

    pub(super) fn last(&self) -> f64 {
        self.above.last().copied().unwrap_or(0.0)
    }
}

/// Where a table may bend: on steps `first`, `first + spacing`, ... only, up to its last step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bends {
    pub(super) first: usize,
    pub(super) spacing: usize,
    pub(super) last: usize,
    /// False for a life with steps or corners of its own: the table bends anywhere.
    pub(super) smooth: bool,
}

impl Bends {
    /// The stretch without a bend that holds a step and the one after it.
    fn around(&self, step: usize) -> (usize, usize) {
        if step < self.first {
            return (0, self.first.min(self.last));
        }
        let low = self.first + (step - self.first) / self.spacing * self.spacing;
        (low, low.saturating_add(self.spacing).min(self.last))
    }

    /// Four steps beside a place, all on its side of any bend, and how far it lies behind the first; none where a straight
    /// line has to do.
    fn four(&self, place: f64) -> Option<(usize, f64)> {
        let step = (place as usize).min(self.last.saturating_sub(1));
        let (low, high) = self.around(step);
        if !self.smooth || high < low + 3 {
            return None;
        }
        let first = step.saturating_sub(1).clamp(low, high - 3);
        Some((first, place - first as f64))
    }

    /// Reads a function without jumps at a place from 0 on: by the cubic through four steps on one side of any bend.
    pub(super) fn read(&self, values: &[f64], place: f64) -> f64 {
        let place = place.max(0.0);
        if let Some((first, over)) = self.four(place)
            && let Some(four) = values.get(first..first + 4)
        {
            return weighted(&cubic_weights(over), four);
        }
        let step = place as usize;
        let low = at(values, step);
        low + (place - step as f64) * (values.get(step + 1).copied().unwrap_or(low) - low)
    }

    /// How to read functions that jump where they bend at a place; all are 0 before 0.
    pub(super) fn reading(&self, place: f64) -> Reading {
        if place < -ON_STEP {
            return Reading { first: 0, to_last: 1, weights: [0.0; 4] };
        }
        let place = (place + ON_STEP).max(0.0);
        if let Some((first, over)) = self.four(place) {
            return Reading { first, to_last: 3, weights: cubic_weights(over) };
        }
        let over = place - place.floor();
        Reading { first: place as usize, to_last: 1, weights: [1.0 - over, 0.0, 0.0, over] }
    }

    /// Reads functions without jumps at so many places below one, each `apart` steps from the last; before 0 as at 0.
    pub(super) fn read_down<const N: usize>(
        &self,
        values: [&[f64]; N],
        from: f64,
        apart: usize,
        count: usize,
        mut tell: impl FnMut([f64; N]),
    ) {
        // All places lie as far behind a step, so that one set of weights serves wherever no bend is near.
        let (top, over) = (from.floor(), from - from.floor());
        let inner = cubic_weights(1.0 + over);
        let (mut low, mut high) = (usize::MAX, 0);
        let mut read = [0.0; N];
        // Entry by entry: mapped as a whole, an array is built by calls that are not inlined.
        for i in 0..count {
            let down = i * apart;
            let Some(step) = (top as usize).checked_sub(down).filter(|_| top >= 0.0) else {
                for (out, v) in read.iter_mut().zip(&values) {
                    *out = at(v, 0);
                }
                tell(read);
                continue;
            };
            if step < low {
                (low, high) = self.around(step);
            }
            let inside = self.smooth && step > low && step + 2 <= high;
            for (out, v) in read.iter_mut().zip(&values) {
                *out = if inside {
                    weighted(&inner, v.get(step - 1..step + 3).unwrap_or(&[]))
                } else {
                    self.read(v, step as f64 + over)
                };
            }
            tell(read);
        }
    }
}

/// How to read tables of the same steps at one place.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Reading {
    first: usize,
    /// Steps from the first to the last one read.
    to_last: usize,
    weights: [f64; 4],
}

impl Reading {
    pub(super) fn of(&self, table: &OnSteps) -> f64 {
        let [a, b, c, d] = self.weights;
        let last = d * at(&table.below, self.first + self.to_last);
        match table.above.get(self.first..self.first + 3) {
            Some([x, y, z]) => a * x + b * y + c * z + last,
            _ => a * at(&table.above, self.first) + last,
        }
    }
}

/// Weights of values at 0, 1, 2 and 3 in the cubic through them.
fn cubic_weights(x: f64) -> [f64; 4] {
    let (x1, x2, x3) = (x - 1.0, x - 2.0, x - 3.0);
    let (outer, inner) = (x1 * x2 / 6.0, 0.5 * x * x3);
    [-outer * x3, inner * x2, -inner * x1, outer * x]
}

fn weighted(weights: &[f64; 4], values: &[f64]) -> f64 {
    let [a, b, c, d] = weights;
    if let [w, x, y, z] = values { a * w + b * x + c * y + d * z } else { 0.0 }
}

/// Mean of a smooth function between two steps of a stretch, by the cubic through four steps: the first, an inner or the
/// last of the three stretches between them.
pub(super) fn cubic_mean(four: &[f64], place: Stretch) -> f64 {
    let [a, b, c, d] = four else { return 0.0 };
    match place {
        Stretch::First => (9.0 * a + 19.0 * b - 5.0 * c + d) / 24.0,
        Stretch::Inner => (13.0 * (b + c) - a - d) / 24.0,
        Stretch::Last => (9.0 * d + 19.0 * c - 5.0 * b + a) / 24.0,
    }
}

/// One of the three stretches between four steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stretch {
    First,
    Inner,
    Last,
}

/// From one change to the next: failures by cell, split over the steps before and after, and the planned change.
#[derive(Debug)]
pub(super) struct Change {
    pub(super) near: Vec<f64>,
    pub(super) far: Vec<f64>,
    pub(super) planned: Option<(usize, f64)>,
}

impl Change {
    /// The next table from the last: with one change more (`moments`: chosen or not; otherwise counted down).
    pub(super) fn next(
        &self,
        last: &OnSteps,
        (planned, failures): (bool, bool),
        moments: bool,
        steps: usize,
    ) -> OnSteps {
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

pub(super) fn at(values: &[f64], k: usize) -> f64 {
    values.get(k).copied().unwrap_or(0.0)
}
