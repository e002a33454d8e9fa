//! The one likelihood with covariates: a family's terms at a stretched or shifted age, summed group by group.
//!
//! ```text
//! stretched   a = t exp(-eta),  ln f(t | z) = ln f(a) - eta     families of ages above 0
//! shifted     a = t - eta                                        families that reach below 0
//! eta = b'(z - baseline)
//! ```

use crate::base::error::Result;
use crate::base::math::linalg::packed;
use crate::base::math::sum;
use crate::family::{Family, Jet, Order, Term};
use crate::fit::likelihood::{Jets, Scratch, add_row};
use crate::fit::newton::{Point, Surface};
use crate::fit::sample::Sample;

/// Largest |eta| of a stretch: beyond it ages overflow.
const FARTHEST: f64 = 300.0;

/// How a covariate moves a life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Move {
    /// Every age by a factor.
    Stretch,
    /// Every age by hours.
    Shift,
}

impl Move {
    pub(super) fn of(family: &dyn Family) -> Self {
        if family.below_zero() { Self::Shift } else { Self::Stretch }
    }

    /// The age at which a baseline lamp stands where this one does.
    pub(super) fn back(self, age: f64, eta: f64) -> f64 {
        match self {
            Self::Stretch => age * (-eta).exp(),
            Self::Shift => age - eta,
        }
    }
}

/// The family's terms over (coordinates.., eta).
struct Moved<'a> {
    family: &'a dyn Family,
    moves: Move,
    inner: Jet,
}

impl Jets for Moved<'_> {
    fn jet(&mut self, x: &[f64], age: f64, term: Term, order: Order, out: &mut Jet) {
        let Some((&eta, base)) = x.split_last() else { return };
        let w = base.len();
        let a = self.moves.back(age, eta);
        self.family.jet(base, a, term, order, &mut self.inner);
        let inner = &self.inner;
        let stretched = self.moves == Move::Stretch;
        let density = stretched && term == Term::LnDensity;
        out.value = if density { inner.value - eta } else { inner.value };
        if order == Order::Value {
            return;
        }
        // da/deta and d2a/deta2.
        let (first, second) = if stretched { (-a, a) } else { (-1.0, 0.0) };
        out.gradient[..w].copy_from_slice(&inner.gradient[..w]);
        out.gradient[w] = first * inner.gradient[w] - if density { 1.0 } else { 0.0 };
        if order == Order::Gradient {
            return;
        }
        let last = packed(w, 0);
        out.hessian[..last].copy_from_slice(&inner.hessian[..last]);
        for i in 0..w {
            out.hessian[last + i] = first * inner.hessian[last + i];
        }
        out.hessian[last + w] = first * first * inner.hessian[last + w] + second * inner.gradient[w];
    }
}

/// The log-likelihood over (coordinates of the baseline.., one coefficient a column).
#[derive(Debug)]
pub(super) struct Regression<'s> {
    pub(super) family: &'s dyn Family,
    pub(super) sample: &'s Sample<'s>,
    pub(super) moves: Move,
    /// Columns of each group in units of `spread`.
    matrix: Vec<Vec<f64>>,
    /// Standard deviation of each column, so that a step of 1 is a natural one.
    pub(super) spread: Vec<f64>,
    /// Rows, those of one group together.
    order: Vec<usize>,
}

impl<'s> Regression<'s> {
    pub(super) fn new(
        family: &'s dyn Family,
        sample: &'s Sample<'s>,
        mut matrix: Vec<Vec<f64>>,
        columns: usize,
    ) -> Self {
        let tally = sample.tally;
        let mut lamps = vec![0.0; matrix.len()];
        for (group, count) in tally.group().iter().zip(tally.count()) {
            lamps[*group as usize] += *count as f64;
        }
        let all: f64 = lamps.iter().fold(0.0, |a, b| a + b);
        let rows = || matrix.iter().zip(&lamps).filter(|(row, _)| !row.is_empty());
        let spread: Vec<f64> = (0..columns)
            .map(|j| {
                let mean = rows().map(|(row, w)| w * row[j]).fold(0.0, |a, b| a + b) / all;
                let square = rows().map(|(row, w)| w * (row[j] - mean).powi(2)).fold(0.0, |a, b| a + b) / all;
                if square > 0.0 { square.sqrt() } else { 1.0 }
            })
            .collect();
        for row in &mut matrix {
            row.iter_mut().zip(&spread).for_each(|(z, s)| *z /= s);
        }
        let mut order: Vec<usize> = (0..tally.rows()).filter(|i| tally.count()[*i] > 0).collect();
        order.sort_by_key(|i| tally.group()[*i]);
        Self { family, sample, moves: Move::of(family), matrix, spread, order }
    }

    pub(super) fn base_width(&self) -> usize {
        self.family.width()
    }

    fn eta(&self, group: usize, b: &[f64]) -> f64 {
        self.matrix[group].iter().zip(b).map(|(z, b)| z * b).fold(0.0, |a, x| a + x)
    }

    /// Sums over some rows: value, gradient, packed lower Hessian.
    fn block(&self, rows: &[usize], x: &[f64], order: Order) -> Vec<f64> {
        let (w, n) = (self.base_width(), x.len());
        let (base, b) = x.split_at(w);
        let mut out = vec![0.0; 1 + n + n * (n + 1) / 2];
        let mut jets = Moved { family: self.family, moves: self.moves, inner: Jet::new(w) };
        let mut scratch = Scratch::new(w + 1);
        let mut here = [base, &[0.0]].concat();
        let mut one = Jet::new(w + 1);
        for same in rows.chunk_by(|a, b| self.sample.tally.group()[*a] == self.sample.tally.group()[*b]) {
            let group = self.sample.tally.group()[same[0]] as usize;
            here[w] = self.eta(group, b);
            one.value = 0.0;
            one.gradient.fill(0.0);
            one.hessian.fill(0.0);
            for &i in same {
                let weight = self.sample.weights[i];
                if weight == 0.0 {
                    continue;
                }
                add_row(&mut jets, self.sample.row(i), &here, order, &mut scratch);
                one.value += weight * scratch.total.value;
                if order >= Order::Gradient {
                    let sums = one.gradient.iter_mut().zip(&scratch.total.gradient);
                    sums.for_each(|(sum, d)| *sum += weight * d);
                }
                if order >= Order::Hessian {
                    let sums = one.hessian.iter_mut().zip(&scratch.total.hessian);
                    sums.for_each(|(sum, d)| *sum += weight * d);
                }
            }
            self.spread_out(&one, &self.matrix[group], order, &mut out);
        }
        out
    }

    /// Adds what one group says of (coordinates.., eta) as what it says of (coordinates.., coefficients).
    fn spread_out(&self, one: &Jet, z: &[f64], order: Order, out: &mut [f64]) {
        let w = self.base_width();
        let n = w + z.len();
        out[0] += one.value;
        if order == Order::Value {
            return;
        }
        for i in 0..w {
            out[1 + i] += one.gradient[i];
        }
        for (j, z) in z.iter().enumerate() {
            out[1 + w + j] += one.gradient[w] * z;
        }
        if order == Order::Gradient {
            return;
        }
        let hessian = &mut out[1 + n..];
        for (slot, d) in hessian.iter_mut().zip(&one.hessian[..packed(w, 0)]) {
            *slot += d;
        }
        let last = packed(w, 0);
        for (j, zj) in z.iter().enumerate() {
            let row = packed(w + j, 0);
            for i in 0..w {
                hessian[row + i] += one.hessian[last + i] * zj;
            }
            for (k, zk) in z.iter().enumerate().take(j + 1) {
                hessian[row + w + k] += one.hessian[last + w] * zj * zk;
            }
        }
    }
}

impl Surface for Regression<'_> {
    fn width(&self) -> usize {
        self.base_width() + self.spread.len()
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let parts = sum::each_block(self.order.len(), |rows| self.block(&self.order[rows], x, order));
        let n = x.len();
        let mut column = vec![0.0; parts.len()];
        let mut total = |k: usize| {
            column.iter_mut().zip(&parts).for_each(|(slot, part)| *slot = part[k]);
            sum::pairwise(&column)
        };
        out.value = total(0);
        if order >= Order::Gradient {
            (0..n).for_each(|i| out.gradient[i] = total(1 + i));
        }
        if order >= Order::Hessian {
            (0..out.hessian.len()).for_each(|k| out.hessian[k] = total(1 + n + k));
        }
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        let (base, b) = x.split_at(self.base_width());
        let near = |group: usize| match self.moves {
            Move::Stretch => self.eta(group, b).abs() < FARTHEST,
            Move::Shift => self.eta(group, b).is_finite(),
        };
        self.family.inside(base) && (0..self.matrix.len()).all(near)
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        let w = self.base_width();
        match self.moves {
            _ if i < w => self.family.step(&x[..w], i),
            Move::Stretch => 1.0,
            Move::Shift => self.family.step(&x[..w], self.family.anchor()),
        }
    }

    fn floor(&self, i: usize) -> f64 {
        if i < self.base_width() { self.family.floor(i) } else { f64::NEG_INFINITY }
    }
}

/// A surface with some coordinates held.
pub(crate) struct Held<'s, S: Surface> {
    pub(crate) surface: &'s S,
    /// The value of each held coordinate; none for one that moves.
    pub(crate) held: Vec<Option<f64>>,
}

impl<S: Surface> Held<'_, S> {
    /// All coordinates from those that move.
    pub(crate) fn whole(&self, free: &[f64]) -> Vec<f64> {
        let mut free = free.iter();
        self.held.iter().map(|h| h.or_else(|| free.next().copied()).unwrap_or(f64::NAN)).collect()
    }

    /// Those that move, from all.
    pub(crate) fn moving(&self, x: &[f64]) -> Vec<f64> {
        x.iter().zip(&self.held).filter(|(_, h)| h.is_none()).map(|(x, _)| *x).collect()
    }

    fn place(&self, i: usize) -> usize {
        self.held.iter().enumerate().filter(|(_, h)| h.is_none()).nth(i).map_or(usize::MAX, |p| p.0)
    }
}

impl<S: Surface> Surface for Held<'_, S> {
    fn width(&self) -> usize {
        self.held.iter().filter(|h| h.is_none()).count()
    }

    fn at(&self, free: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let x = self.whole(free);
        let mut whole = Point::new(x.len());
        self.surface.at(&x, order, &mut whole)?;
        out.value = whole.value;
        out.gradient = self.moving(&whole.gradient);
        let n = free.len();
        for i in 0..n {
            for j in 0..=i {
                out.hessian[packed(i, j)] = whole.hessian[packed(self.place(i), self.place(j))];
            }
        }
        Ok(())
    }

    fn inside(&self, free: &[f64]) -> bool {
        self.surface.inside(&self.whole(free))
    }

    fn step(&self, free: &[f64], i: usize) -> f64 {
        self.surface.step(&self.whole(free), self.place(i))
    }

    fn floor(&self, i: usize) -> f64 {
        self.surface.floor(self.place(i))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::family::family;
    use crate::lives::{Rows, Tally};

    #[test]
    fn gradient_and_hessian_are_those_of_the_value_for_every_kind_of_row() {
        let inf = f64::INFINITY;
        let rows = Rows {
            low: vec![900.0, 400.0, 500.0, 0.0, 700.0, 650.0],
            high: vec![900.0, inf, 800.0, 350.0, 700.0, 650.0],
            entry: Some(vec![0.0, 100.0, 200.0, 0.0, 0.0, 300.0]),
            upper: Some(vec![inf, inf, inf, inf, 1000.0, inf]),
            group: Some(vec![0, 1, 2, 0, 1, 2]),
            groups: ["a", "b", "c"].map(|s| crate::lives::Group { stratum: s.into(), ..Default::default() }).to_vec(),
            count: Some(vec![1, 2, 3, 4, 5, 6]),
            ..Rows::default()
        };
        let (tally, _) = Tally::from_rows(&rows).unwrap();
        let sample = Sample::new(&tally, None, None).unwrap();
        let matrix = vec![vec![0.3, -1.0], vec![-0.6, 0.5], vec![0.1, 1.5]];
        for name in [
            "weibull",
            "lognormal",
            "gamma",
            "generalised_gamma",
            "normal",
            "logistic",
            "smallest_extreme_value",
            "above_zero(normal)",
        ] {
            let family = family(name).unwrap();
            let surface = Regression::new(family, &sample, matrix.clone(), 2);
            let mut x = family.starts(&sample.outline())[0].clone();
            let unit = surface.step(&[x.as_slice(), &[0.0, 0.0]].concat(), x.len());
            x.extend([0.2 * unit, -0.1 * unit]);
            let mut here = Point::new(x.len());
            surface.at(&x, Order::Hessian, &mut here).unwrap();
            for i in 0..x.len() {
                let h = 1e-4 * surface.step(&x, i);
                let at = |s: f64| {
                    let mut moved = x.clone();
                    moved[i] += s * h;
                    let mut point = Point::new(x.len());
                    surface.at(&moved, Order::Gradient, &mut point).unwrap();
                    point
                };
                let steps = [at(1.0), at(-1.0), at(2.0), at(-2.0)];
                let slope = |of: &dyn Fn(&Point) -> f64| {
                    (8.0 * (of(&steps[0]) - of(&steps[1])) - (of(&steps[2]) - of(&steps[3]))) / (12.0 * h)
                };
                let near = |got: f64, want: f64, what: &str| {
                    assert!((got - want).abs() <= 1e-6 * (1.0 + want.abs()), "{name} {what} {i}: {got} {want}");
                };
                near(here.gradient[i], slope(&|p| p.value), "gradient");
                for j in 0..=i {
                    near(here.hessian[packed(i, j)], slope(&|p| p.gradient[j]), "Hessian");
                }
            }
        }
    }
}
