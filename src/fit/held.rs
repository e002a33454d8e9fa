//! A likelihood with one coordinate held by a condition: a surface over the others.

use super::newton::{Point, Surface};
use super::search::Engine;
use super::target::Target;
use crate::base::error::Result;
use crate::base::math::linalg::packed;
use crate::family::{Family, Jet, Order, Term};

/// The likelihood with one coordinate held by a condition: a surface over the others.
pub(super) struct Held<'s> {
    pub(super) engine: &'s Engine<'s>,
    pub(super) family: &'s dyn Family,
    /// The coordinate that the condition settles.
    pub(super) settled: usize,
    /// How all coordinates move with it: those of several scales, or of several hazards, keep their proportions.
    pub(super) along: Option<&'s [f64]>,
    pub(super) condition: Condition,
}

#[derive(Clone, Copy)]
pub(super) enum Condition {
    /// The coordinate has this value.
    Fixed(f64),
    /// Reliability at this age has this logarithm.
    Passes(f64, f64),
    /// The logarithm of the mean age at failure has this value.
    Mean(f64),
}

impl Held<'_> {
    /// All coordinates from the free ones; none outside the domain.
    pub(super) fn full(&self, free: &[f64]) -> Option<Vec<f64>> {
        let mut x = free.to_vec();
        x.insert(self.settled, 0.0);
        let value = match (self.condition, self.along) {
            (Condition::Fixed(value), _) => value,
            (Condition::Mean(ln_mean), _) => ln_mean - Target::LnMean.value(self.family, &x).ok()?,
            (Condition::Passes(age, ln_r), None) => self.family.anchored(&x, age, ln_r).ok()?,
            (Condition::Passes(age, ln_r), Some(along)) => {
                let life = self.family.at(&x).ok()?;
                let by = if self.family.cuts().is_empty() {
                    age.ln() - life.quantile_passed(ln_r).ok()?.ln()
                } else {
                    // Cuts stay where they are: all hazards rise together, which has an answer for any of them.
                    (-ln_r).ln() - (-life.ln_reliability(age)).ln()
                };
                x.iter_mut().zip(along).for_each(|(x, d)| *x += by * d);
                return by.is_finite().then_some(x);
            }
        };
        *x.get_mut(self.settled)? = value;
        value.is_finite().then_some(x)
    }

    /// What moves with the settled coordinate, by coordinate.
    fn direction(&self, width: usize) -> Vec<f64> {
        match (self.condition, self.along) {
            (Condition::Passes(..), Some(along)) => along.to_vec(),
            _ => (0..width).map(|i| f64::from(u8::from(i == self.settled))).collect(),
        }
    }

    /// First and second derivatives of the held coordinate over the free ones (packed), by the implicit function theorem.
    fn slopes(&self, x: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let free: Vec<usize> = (0..x.len()).filter(|i| *i != self.settled).collect();
        let (mut first, mut second) = (vec![0.0; free.len()], vec![0.0; free.len() * (free.len() + 1) / 2]);
        let moved = match self.condition {
            Condition::Fixed(_) => None,
            Condition::Passes(age, _) => {
                let mut jet = Jet::new(x.len());
                self.family.jet(x, age, Term::LnReliability, Order::Hessian, &mut jet);
                Some((jet.gradient, jet.hessian))
            }
            Condition::Mean(ln_mean) => {
                let target = Target::LnMean;
                let both = target.gradient(self.family, x, ln_mean);
                both.and_then(|g| Ok((target.hessian(self.family, x, ln_mean, &g)?, g))).ok().map(|(h, g)| (g, h))
            }
        };
        if let Some((g, hessian)) = moved {
            let along = Along::new(&g, &hessian, &self.direction(x.len()));
            for (slot, i) in first.iter_mut().zip(&free) {
                *slot = -g[*i] / along.slope;
            }
            for (a, &i) in free.iter().enumerate() {
                for (b, &j) in free.iter().enumerate().take(a + 1) {
                    second[packed(a, b)] = -along.curve(&hessian, (i, first[a]), (j, first[b])) / along.slope;
                }
            }
        }
        (first, second)
    }
}

/// Derivatives of a function along the direction in which the settled coordinate takes the others with it.
struct Along {
    slope: f64,
    /// Mixed with each coordinate.
    mixed: Vec<f64>,
    /// Twice along.
    twice: f64,
}

impl Along {
    fn new(gradient: &[f64], hessian: &[f64], direction: &[f64]) -> Self {
        let n = direction.len();
        let dot = |v: &dyn Fn(usize) -> f64| -> f64 {
            // Nothing beside an infinite slope stays nothing.
            direction.iter().enumerate().filter(|(_, d)| **d != 0.0).map(|(i, d)| d * v(i)).sum()
        };
        let mixed: Vec<f64> = (0..n).map(|i| dot(&|j| hessian[packed(i, j)])).collect();
        Self { slope: dot(&|i| gradient[i]), twice: dot(&|i| mixed[i]), mixed }
    }

    /// Second derivative over two free coordinates, each given with its slope of the settled one.
    fn curve(&self, hessian: &[f64], (i, di): (usize, f64), (j, dj): (usize, f64)) -> f64 {
        hessian[packed(i, j)] + self.mixed[i] * dj + self.mixed[j] * di + self.twice * di * dj
    }
}

impl Surface for Held<'_> {
    fn width(&self) -> usize {
        self.engine.width() - 1
    }

    fn at(&self, free: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let Some(x) = self.full(free) else {
            out.value = f64::NEG_INFINITY;
            return Ok(());
        };
        let mut whole = Point::new(x.len());
        self.engine.at(&x, order, &mut whole)?;
        out.value = whole.value;
        if order == Order::Value || free.is_empty() {
            return Ok(());
        }
        let (first, second) = self.slopes(&x);
        let index = |a: usize| if a < self.settled { a } else { a + 1 };
        let along = Along::new(&whole.gradient, &whole.hessian, &self.direction(x.len()));
        for a in 0..free.len() {
            out.gradient[a] = whole.gradient[index(a)] + along.slope * first[a];
            for b in 0..=a {
                let curve = along.curve(&whole.hessian, (index(a), first[a]), (index(b), first[b]));
                out.hessian[packed(a, b)] = curve + along.slope * second[packed(a, b)];
            }
        }
        Ok(())
    }

    fn inside(&self, free: &[f64]) -> bool {
        self.full(free).is_some_and(|x| self.engine.inside(&x))
    }

    fn step(&self, free: &[f64], i: usize) -> f64 {
        let i = if i < self.settled { i } else { i + 1 };
        self.full(free).map_or(1.0, |x| self.family.step(&x, i))
    }

    fn floor(&self, i: usize) -> f64 {
        self.family.floor(if i < self.settled { i } else { i + 1 })
    }
}
