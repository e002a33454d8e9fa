//! Profile-likelihood intervals: every value whose best likelihood comes close enough to the maximum.

use super::interval::{Interval, IntervalMethod, Quantity, Sides, Target, critical};
use super::model::{Fit, Note};
use super::newton::{Point, Surface, climb};
use super::sample::Sample;
use super::search::{Engine, FitOptions};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::linalg::packed;
use crate::base::math::root::bracketed;
use crate::base::run::Run;
use crate::family::{Family, Jet, Order, Term};
use crate::lives::Tally;

/// The likelihood with one coordinate held by a condition: a surface over the others.
struct Held<'s> {
    engine: &'s Engine<'s>,
    family: &'s dyn Family,
    /// The coordinate that the condition settles.
    settled: usize,
    condition: Condition,
}

#[derive(Clone, Copy)]
enum Condition {
    /// The coordinate has this value.
    Fixed(f64),
    /// Reliability at this age has this logarithm.
    Passes(f64, f64),
}

impl Held<'_> {
    /// All coordinates from the free ones; none outside the domain.
    fn full(&self, free: &[f64]) -> Option<Vec<f64>> {
        let mut x = free.to_vec();
        x.insert(self.settled, 0.0);
        let value = match self.condition {
            Condition::Fixed(value) => value,
            Condition::Passes(age, ln_r) => self.family.anchored(&x, age, ln_r).ok()?,
        };
        *x.get_mut(self.settled)? = value;
        value.is_finite().then_some(x)
    }

    /// First and second derivatives of the held coordinate over the free ones (packed), by the implicit function theorem.
    fn slopes(&self, x: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let free: Vec<usize> = (0..x.len()).filter(|i| *i != self.settled).collect();
        let (mut first, mut second) = (vec![0.0; free.len()], vec![0.0; free.len() * (free.len() + 1) / 2]);
        if let Condition::Passes(age, _) = self.condition {
            let mut jet = Jet::new(x.len());
            self.family.jet(x, age, Term::LnReliability, Order::Hessian, &mut jet);
            let (g, h) = (&jet.gradient, |i: usize, j: usize| jet.hessian[packed(i, j)]);
            let e = self.settled;
            for (slot, i) in first.iter_mut().zip(&free) {
                *slot = -g[*i] / g[e];
            }
            for (a, &i) in free.iter().enumerate() {
                for (b, &j) in free.iter().enumerate().take(a + 1) {
                    let mixed = h(i, j) + h(i, e) * first[b] + h(j, e) * first[a] + h(e, e) * first[a] * first[b];
                    second[packed(a, b)] = -mixed / g[e];
                }
            }
        }
        (first, second)
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
        let e = self.settled;
        let index = |a: usize| if a < e { a } else { a + 1 };
        let (g, h) = (&whole.gradient, |i: usize, j: usize| whole.hessian[packed(i, j)]);
        for a in 0..free.len() {
            out.gradient[a] = g[index(a)] + g[e] * first[a];
            for b in 0..=a {
                let (i, j) = (index(a), index(b));
                out.hessian[packed(a, b)] = h(i, j)
                    + h(i, e) * first[b]
                    + h(j, e) * first[a]
                    + h(e, e) * first[a] * first[b]
                    + g[e] * second[packed(a, b)];
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
}

/// Distance from the estimate, on a logarithmic scale, beyond which an end counts as open: a factor of 10^26.
const FARTHEST: f64 = 60.0;
/// Steps in the hunt for a value outside.
const STEPS: u32 = 30;
/// Stands for a likelihood of 0.
const IMPOSSIBLE: f64 = -1e9;
/// Precision of an end on the working scale, in standard errors.
const PRECISION: f64 = 1e-9;

impl Fit {
    /// An interval by profile likelihood: the values of the quantity for which the likelihood, maximised over everything else,
    /// stays within half the chi-square quantile of its maximum. An end the data do not close stays open, and a note says so.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted.
    ///
    /// # Errors
    /// `fit.other_data` if the tally is not the fitted one, and the errors of [`Fit::wald`].
    ///
    /// # Source
    /// Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 8.3 (from memory).
    pub fn profile(
        &self,
        tally: &Tally,
        options: &FitOptions,
        quantity: &Quantity,
        level: f64,
        sides: Sides,
        run: &Run,
    ) -> Result<Interval> {
        let family = self.family()?;
        let target = Target::new(family, quantity)?;
        let z = critical(level, sides)?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        self.same_data(&engine)?;
        let (value, error) = self.spread(target)?;
        let floor = self.log_likelihood - 0.5 * z * z;
        // Distances are judged on a logarithmic scale, or in units of the life's own spread.
        let unit = match target {
            Target::Coordinate(i) => family.step(&self.coordinates, i),
            Target::LnAge(_) | Target::LnHazard(_) => 1.0,
        };
        let farthest = FARTHEST * unit;
        let held = match target {
            Target::Coordinate(i) => i,
            Target::LnAge(_) | Target::LnHazard(_) => family.anchor(),
        };
        let mut start = self.coordinates.clone();
        start.remove(held);
        let end = |sign: f64| -> Result<Option<f64>> {
            let mut warm = start.clone();
            // Height above the floor, and whether the search behind it reached its maximum.
            let mut above = |w: f64| -> Result<(f64, bool)> {
                let condition = match target {
                    Target::Coordinate(_) => Condition::Fixed(w),
                    Target::LnAge(ln_r) => Condition::Passes(w.exp(), ln_r),
                    Target::LnHazard(age) => Condition::Passes(age, -w.exp()),
                };
                let surface = Held { engine: &engine, family, settled: held, condition };
                let mut best = climb(&surface, &warm, options.iterations, run)?;
                if !best.converged() {
                    let fresh = climb(&surface, &start, options.iterations, run)?;
                    if fresh.converged() || !(best.point.value >= fresh.point.value) {
                        best = fresh;
                    }
                }
                if best.converged() {
                    warm.clone_from(&best.x);
                }
                // Where nothing finite is left, the likelihood is simply far below the floor.
                Ok(((best.point.value - floor).max(IMPOSSIBLE), best.converged()))
            };
            let (mut inside, mut step) = (value, (z * error).min(0.25 * farthest));
            let mut wall: Option<f64> = None;
            for _ in 0..STEPS {
                let outside = wall.map_or(value + sign * step, |wall| 0.5 * (inside + wall));
                if (outside - value).abs() > farthest {
                    break;
                }
                let (height, settled) = above(outside)?;
                if height >= 0.0 {
                    // Any point this high proves the value, settled or not.
                    (inside, step) = (outside, 2.0 * step);
                } else if settled {
                    let height = |w: f64| above(w).map(|(height, _)| height);
                    return bracketed(height, inside, outside, PRECISION * error).map(Some);
                } else {
                    // A low point whose search did not settle proves nothing: look closer in.
                    wall = Some(outside);
                }
            }
            Ok(None)
        };
        let wanted = |side: Sides| sides == Sides::Both || sides == side;
        let (lower, upper) = if target.falls() { (1.0, -1.0) } else { (-1.0, 1.0) };
        let back = |w: f64| target.back(family, &self.coordinates, w);
        let low = if wanted(Sides::Lower) { end(lower)?.map(back) } else { None };
        let high = if wanted(Sides::Upper) { end(upper)?.map(back) } else { None };
        let estimate = back(value);
        let mut notes = self.interval_notes(quantity, estimate);
        for (side, open, word) in [(Sides::Lower, low.is_none(), "lower"), (Sides::Upper, high.is_none(), "upper")] {
            if open && wanted(side) {
                notes.push(Note::new("fit.open_end", format!("the {word} end is open: the records do not bound it")));
            }
        }
        Ok(Interval {
            quantity: quantity.clone(),
            estimate,
            low,
            high,
            level,
            sides,
            method: IntervalMethod::ProfileLikelihood,
            notes,
        })
    }

    fn same_data(&self, engine: &Engine) -> Result<()> {
        let mut here = Point::new(self.coordinates.len());
        engine.at(&self.coordinates, Order::Value, &mut here)?;
        if (here.value - self.log_likelihood).abs() <= 1e-9 * self.log_likelihood.abs().max(1.0) {
            return Ok(());
        }
        Err(Error::new(
            Kind::Input,
            Problem::new("fit.other_data", "the tally is not the one that was fitted")
                .got(format!("log-likelihood {}", here.value))
                .expected(format!("{}", self.log_likelihood)),
        ))
    }
}
