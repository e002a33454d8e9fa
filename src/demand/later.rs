//! Mean failures after the first one, of a lamp of any age, and what they cost.
//!
//! The first failure of a screen, with the planned changes before it, is in closed form. What follows it is a mean over its
//! place, and smooth: it is tabulated here, with an error that falls with the fourth power of the step.

use super::renewal::mirrored;
use super::steps::{Bends, Stretch, at, cubic_mean};

/// Pieces of the first cell when two failures fall into it.
const CORNER_PIECES: usize = 64;

/// What a lamp does in each cell of its age.
#[derive(Debug)]
pub(super) struct Cells {
    /// Chance to pass each age of the grid.
    pub(super) reliability: Vec<f64>,
    /// Mean of the reliability over each cell.
    pub(super) burned: Vec<f64>,
    /// Mean place of a failure within its cell, as a share.
    pub(super) place: Vec<f64>,
    /// Mean number of two failures after one another within the first cell.
    pub(super) corner: f64,
}

impl Cells {
    pub(super) fn failing(&self, cell: usize) -> f64 {
        at(&self.reliability, cell) - at(&self.reliability, cell + 1)
    }

    /// Mean number of second failures within a cell of a lamp that begins with it, and of the one that follows.
    ///
    /// # Formula
    /// ```text
    /// integral over (0, h) of G(h - y) dF(y)
    ///     = integral over (0, h/2) of G(h - y) dF(y) + integral over (0, h/2) of F(h - y) dG(y) - F(h/2) G(h/2)
    /// ```
    /// The pieces go by the fifth power, as the densities may be infinite at 0.
    pub(super) fn corner_of(first: impl Fn(f64) -> f64, next: impl Fn(f64) -> f64, length: f64) -> f64 {
        let half = 0.5 * length;
        let place = |i: f64| half * (i / CORNER_PIECES as f64).powi(5);
        let mut sum = 0.0;
        let mut before = (first(0.0), next(0.0));
        for i in 0..CORNER_PIECES {
            let (after, rest) = (place(i as f64 + 1.0), length - place(i as f64 + 0.5));
            let after = (first(after), next(after));
            sum += (after.0 - before.0) * next(rest) + (after.1 - before.1) * first(rest);
            before = after;
        }
        sum - before.0 * before.1
    }
}

/// What means and places alone tell of two failures in the first cell: they would be less well placed than any others.
fn told_of_first(cells: &Cells, mean: f64, rise: f64) -> f64 {
    cells.failing(0) * (mean + (0.5 - at(&cells.place, 0)) * rise)
}

/// Means of what failures bring, beyond the first one: their number, or their cost.
#[derive(Debug)]
pub(super) struct Later {
    /// After a change, by steps ahead: what the first failure brings, and what the others bring.
    all: Vec<f64>,
    more: Vec<f64>,
    /// Means over each step of all, and by how much it rises there.
    mean: Vec<f64>,
    rise: Vec<f64>,
    /// Mean over the first step of what the first failure brings.
    first_mean: f64,
    /// What the others bring, by age and steps ahead.
    rows: Vec<f64>,
    /// Correction where two failures fall into the first cell.
    corner: f64,
    bends: Bends,
}

impl Later {
    /// `first`: mean of what the first failure after a change brings, on the steps; `means`: the same over each step;
    /// `worth`: what a failure in the first cell brings.
    pub(super) fn new(
        cells: &Cells,
        planned: Option<usize>,
        bends: Bends,
        first: &[f64],
        means: &[f64],
        worth: f64,
    ) -> Self {
        let corner = worth * cells.corner - told_of_first(cells, at(means, 0), at(first, 1));
        let steps = bends.last;
        let more = Vec::with_capacity(steps + 1);
        let (mean, rise) = (Vec::with_capacity(steps), Vec::with_capacity(steps));
        let first_mean = at(means, 0);
        let mut later = Self { all: first.to_vec(), more, mean, rise, first_mean, rows: Vec::new(), corner, bends };
        later.solve(cells, planned, first, means);
        later.by_age(cells, planned);
        // A new lamp is the one solved for.
        if let Some(row) = later.rows.get_mut(..=bends.last) {
            row.copy_from_slice(&later.more);
        }
        later
    }

    /// The same where the lamps of today have a life of their own; `corner`: what two failures in the first cell of its life
    /// bring.
    pub(super) fn with_today(&self, cells: &Cells, planned: Option<usize>, corner: f64) -> Self {
        let mut later = Self {
            all: self.all.clone(),
            more: self.more.clone(),
            mean: self.mean.clone(),
            rise: self.rise.clone(),
            rows: Vec::new(),
            ..*self
        };
        later.by_age(cells, planned);
        let told = told_of_first(cells, self.first_mean, at(&self.all, 1) - at(&self.more, 1));
        if let Some(first) = later.rows.get_mut(1) {
            *first += corner - told;
        }
        later
    }

    /// Solves `V(t) = integral of (H + V)(t - y) dF(y) + R(T) V(t - T)`, H what the first failure brings.
    fn solve(&mut self, cells: &Cells, planned: Option<usize>, first: &[f64], means: &[f64]) {
        let count = cells.place.len();
        let mass: Vec<f64> = (0..count).map(|i| cells.failing(i)).collect();
        let off: Vec<f64> = mass.iter().zip(&cells.place).map(|(m, p)| m * (0.5 - p)).collect();
        let reach = planned.map(|n| (n, at(&cells.reliability, n)));
        // Means of V over each step, as well as known.
        let mut known: Vec<f64> = Vec::with_capacity(self.bends.last);
        self.more.push(0.0);
        let mut weight = 1.0;
        for j in 1..=self.bends.last {
            let bend = planned.map_or(0, |n| (j - 1) / n * n);
            let mut sum = 0.0;
            if let Some((n, reach)) = reach {
                sum += j.checked_sub(n).map_or(0.0, |before| reach * at(&self.more, before));
                if j - 1 == bend && bend > 0 {
                    weight *= reach;
                }
            }
            if j - 1 == bend {
                sum += weight * self.corner;
            }
            // The cells of V that do not hang on its value at hand.
            let n = j.min(count);
            if n > 2 {
                let (mean, rise) = (self.mean.get(..j - 2).unwrap_or(&[]), self.rise.get(..j - 2).unwrap_or(&[]));
                sum += mirrored(mass.get(2..n).unwrap_or(&[]), mean) + mirrored(off.get(2..n).unwrap_or(&[]), rise);
            }
            // The newest two go by the parabola through the last three values, or straight behind a bend.
            let (one, two, value) =
                (at(&self.more, j - 1), j.checked_sub(2).map(|i| at(&self.more, i)), |i| at(first, i));
            let (m0, o0, m1, o1) = (at(&mass, 0), at(&off, 0), at(&mass, 1), at(&off, 1));
            let straight = j - 1 == bend;
            let (new, known_part) = match two {
                Some(two) if !straight && self.bends.smooth => (5.0 / 12.0, (8.0 * one - two) / 12.0),
                _ => (0.5, 0.5 * one),
            };
            sum += m0 * (at(means, j - 1) + known_part) + o0 * (value(j) - value(j - 1) - one);
            let mut own = m0 * new + o0;
            if let Some(two) = two {
                let (new, known_part) = if straight {
                    (0.0, at(&known, j - 2))
                } else if self.bends.smooth {
                    (-1.0 / 12.0, (8.0 * one + 5.0 * two) / 12.0)
                } else {
                    (0.0, 0.5 * (one + two))
                };
                sum += m1 * (at(means, j - 2) + known_part) + o1 * (value(j - 1) - value(j - 2) + one - two);
                own += m1 * new;
            }
            let v = sum / (1.0 - own);
            self.more.push(v);
            known.push(0.0);
            self.settle(&mut known, bend, j);
            // Means up to the last cell that no later value moves.
            if j == bend + 3
                && let Some(mean) = self.mean.get_mut(bend)
            {
                *mean = at(means, bend) + at(&known, bend);
            }
            let done = self.mean.len();
            let sure =
                if planned.is_some_and(|n| j % n == 0) || j == self.bends.last { j } else { j.saturating_sub(1) };
            for i in done..sure {
                self.mean.push(at(means, i) + at(&known, i));
                self.rise.push(value(i + 1) + at(&self.more, i + 1) - value(i) - at(&self.more, i));
            }
        }
        for (all, more) in self.all.iter_mut().zip(&self.more) {
            *all += more;
        }
    }

    /// Means of V over the steps up to `j` that its value there makes better known.
    fn settle(&self, known: &mut [f64], bend: usize, j: usize) {
        let straight = |i: usize| 0.5 * (at(&self.more, i) + at(&self.more, i + 1));
        let mut set = |i: usize, value: f64| {
            if let Some(k) = known.get_mut(i) {
                *k = value;
            }
        };
        if !self.bends.smooth || j < bend + 2 {
            set(j - 1, straight(j - 1));
            return;
        }
        let [a, b, c] = [j - 2, j - 1, j].map(|i| at(&self.more, i));
        if j == bend + 2 {
            set(bend, (5.0 * a + 8.0 * b - c) / 12.0);
            set(bend + 1, (5.0 * c + 8.0 * b - a) / 12.0);
            return;
        }
        let four = self.more.get(j - 3..=j).unwrap_or(&[]);
        if j == bend + 3 {
            set(j - 3, cubic_mean(four, Stretch::First));
        }
        set(j - 2, cubic_mean(four, Stretch::Inner));
        set(j - 1, cubic_mean(four, Stretch::Last));
    }

    fn by_age(&mut self, cells: &Cells, planned: Option<usize>) {
        let (count, width) = (cells.place.len(), self.bends.last + 1);
        let mut rows = vec![0.0; (count + 1) * width];
        if let (true, Some(top)) = (planned.is_some(), rows.rchunks_exact_mut(width).next()) {
            top.copy_from_slice(&self.more);
        }
        for k in (0..count).rev() {
            let (start, end) = (at(&cells.reliability, k), at(&cells.reliability, k + 1));
            let pass = if start > 0.0 { end / start } else { 0.0 };
            let (fail, off) = (1.0 - pass, (1.0 - pass) * (0.5 - at(&cells.place, k)));
            let (head, tail) = rows.split_at_mut((k + 1) * width);
            let row = head.get_mut(k * width..).unwrap_or_default();
            for (((out, older), mean), rise) in row.iter_mut().skip(1).zip(&*tail).zip(&self.mean).zip(&self.rise) {
                *out = pass * older + fail * mean + off * rise;
            }
        }
        self.rows = rows;
    }

    /// All that failures bring after a change.
    pub(super) fn after_change(&self, place: f64) -> f64 {
        if place > 0.0 { self.bends.read(&self.all, place) } else { 0.0 }
    }

    /// What failures beyond the first bring a lamp of an age, on the steps.
    pub(super) fn row(&self, cell: usize) -> &[f64] {
        let width = self.bends.last + 1;
        self.rows.get(cell * width..(cell + 1) * width).unwrap_or(&[])
    }
}
