//! Profile-likelihood intervals: every value whose best likelihood comes close enough to the maximum.

use super::interval::{Interval, IntervalMethod, Quantity, Sides, critical};
use super::model::{Fit, Note};
use super::newton::{Point, Surface, climb};
use super::region::Rays;
use super::sample::Sample;
use super::search::{Engine, FitOptions};
use super::target::{Function, Target};
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
pub(super) const FARTHEST: f64 = 60.0;
/// Steps in the hunt for a value outside.
const STEPS: u32 = 30;
/// Stands for a likelihood of 0.
pub(super) const IMPOSSIBLE: f64 = -1e9;
/// Precision of an end on the working scale, in standard errors.
const PRECISION: f64 = 1e-9;

/// The profile of one quantity: how high the likelihood reaches while the quantity has a given value.
pub(super) struct Ridge<'s> {
    pub(super) engine: &'s Engine<'s>,
    pub(super) family: &'s dyn Family,
    pub(super) target: Target<'s>,
    /// Maximised log-likelihood.
    pub(super) top: f64,
    /// Value at the maximum on the working scale, and its standard error.
    pub(super) value: f64,
    pub(super) error: f64,
    held: usize,
    start: Vec<f64>,
    iterations: u64,
    run: &'s Run,
}

impl<'s> Ridge<'s> {
    pub(super) fn new(
        fit: &Fit,
        engine: &'s Engine<'s>,
        target: Target<'s>,
        options: &FitOptions,
        run: &'s Run,
    ) -> Result<Self> {
        let family = fit.family()?;
        fit.same_data(engine)?;
        let (value, error) = fit.spread(target)?;
        let held = if let Target::Coordinate(i) = target { i } else { family.anchor() };
        let mut start = fit.coordinates.clone();
        start.remove(held);
        let (top, iterations) = (fit.log_likelihood, options.iterations);
        Ok(Self { engine, family, target, top, value, error, held, start, iterations, run })
    }

    /// Distance on the working scale beyond which an end counts as open. Distances are judged on a logarithmic scale, or
    /// in units of the life's own spread.
    pub(super) fn farthest(&self, fit: &Fit) -> f64 {
        let unit = if let Target::Coordinate(i) = self.target { self.family.step(&fit.coordinates, i) } else { 1.0 };
        FARTHEST * unit
    }

    /// Coordinates to start a walk along the ridge from.
    pub(super) fn warm(&self) -> Vec<f64> {
        self.start.clone()
    }

    /// Log-likelihood on the ridge at `w`, less its maximum, and whether the search behind it reached its own maximum.
    /// `warm` follows the walk.
    pub(super) fn height(&self, w: f64, warm: &mut Vec<f64>) -> Result<(f64, bool)> {
        let condition = match self.target {
            Target::LnAge(ln_r) => Condition::Passes(w.exp(), ln_r),
            Target::LnHazard(age) => Condition::Passes(age, -w.exp()),
            _ => Condition::Fixed(w),
        };
        let surface = Held { engine: self.engine, family: self.family, settled: self.held, condition };
        let mut best = climb(&surface, warm, self.iterations, self.run)?;
        if !best.converged() {
            let fresh = climb(&surface, &self.start, self.iterations, self.run)?;
            if fresh.converged() || !(best.point.value >= fresh.point.value) {
                best = fresh;
            }
        }
        if best.converged() {
            warm.clone_from(&best.x);
        }
        // Where nothing finite is left, the likelihood is simply far below.
        Ok(((best.point.value - self.top).max(IMPOSSIBLE), best.converged()))
    }

    /// Where the ridge has fallen by half of z squared on the side of `sign`; none where it never does.
    pub(super) fn end(&self, z: f64, sign: f64, farthest: f64) -> Result<Option<f64>> {
        let mut warm = self.warm();
        let mut above = |w: f64| -> Result<(f64, bool)> {
            let (height, settled) = self.height(w, &mut warm)?;
            Ok(((height + 0.5 * z * z).max(IMPOSSIBLE), settled))
        };
        let value = self.value;
        let (mut inside, mut step) = (value, (z * self.error).min(0.25 * farthest));
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
                return bracketed(height, inside, outside, PRECISION * self.error).map(Some);
            } else {
                // A low point whose search did not settle proves nothing: look closer in.
                wall = Some(outside);
            }
        }
        Ok(None)
    }
}

impl Fit {
    /// An interval by profile likelihood: the values of the quantity for which the likelihood, maximised over everything else,
    /// stays within half the chi-square quantile of its maximum. An end the data do not close stays open, and a note says
    /// so: the interval is then one-sided by construction.
    ///
    /// Hazard, mean and the chance to fail within further hours go through the likelihood region instead, as in
    /// [`Fit::profile_of`].
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
        let target = Target::new(self.family()?, quantity)?;
        self.profile_at(tally, options, target, quantity.clone(), level, sides, run)
    }

    /// The same for a function of the caller's own.
    ///
    /// # Formula
    /// ```text
    /// lowest and highest value of the function where ln L(x) >= ln L max - z^2 / 2
    /// ```
    /// which are the ends of its profile interval. They are found along rays from the estimate, for families of one and
    /// two parameters.
    ///
    /// # Errors
    /// Those of [`Fit::profile`] and of the function; `fit.profile_width` for a family of three or more parameters.
    pub fn profile_of(
        &self,
        tally: &Tally,
        options: &FitOptions,
        asked: &Function,
        level: f64,
        sides: Sides,
        run: &Run,
    ) -> Result<Interval> {
        let quantity = Quantity::Function(asked.name.clone());
        self.profile_at(tally, options, Target::function(asked), quantity, level, sides, run)
    }

    #[allow(clippy::too_many_arguments)]
    fn profile_at(
        &self,
        tally: &Tally,
        options: &FitOptions,
        target: Target,
        quantity: Quantity,
        level: f64,
        sides: Sides,
        run: &Run,
    ) -> Result<Interval> {
        let family = self.family()?;
        let z = critical(level, sides)?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        let ridge = Ridge::new(self, &engine, target, options, run)?;
        let wanted = |side: Sides| sides == Sides::Both || sides == side;
        let (lower, upper) = if target.falls() { (1.0, -1.0) } else { (-1.0, 1.0) };
        let back = |w: f64| target.back(family, &self.coordinates, w);
        let (mut low, mut high) = (None, None);
        if target.has_ridge() {
            let farthest = ridge.farthest(self);
            let end = |side, sign| if wanted(side) { ridge.end(z, sign, farthest) } else { Ok(None) };
            low = end(Sides::Lower, lower)?.map(back);
            high = end(Sides::Upper, upper)?.map(back);
        } else {
            let rays = Rays::new(self, &engine, -0.5 * z * z)?;
            if wanted(Sides::Lower) {
                low = rays.furthest(target, lower, run)?.map(back);
            }
            if wanted(Sides::Upper) {
                high = rays.furthest(target, upper, run)?.map(back);
            }
        }
        let estimate = back(ridge.value);
        let mut notes = self.interval_notes(&quantity, estimate);
        notes.extend(open_notes(low.is_some(), high.is_some(), level, sides));
        let method = IntervalMethod::ProfileLikelihood;
        let made = Interval { quantity, estimate, low, high, level, sides, method, notes };
        Ok(made)
    }

    pub(super) fn same_data(&self, engine: &Engine) -> Result<()> {
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

/// What an end that is not there means.
pub(super) fn open_notes(low: bool, high: bool, level: f64, sides: Sides) -> Vec<Note> {
    let wanted = |side: Sides| sides == Sides::Both || sides == side;
    let mut notes = Vec::new();
    for (side, open, word) in [(Sides::Lower, !low, "lower"), (Sides::Upper, !high, "upper")] {
        if open && wanted(side) {
            notes.push(Note::new("fit.open_end", format!("the {word} end is open: the records do not bound it")));
        }
    }
    if sides == Sides::Both && low != high {
        let (word, one) = (if low { "lower" } else { "upper" }, 50.0 * (1.0 + level));
        notes.push(Note::new(
            "fit.one_sided",
            format!("one-sided by construction: only the {word} end is a bound, and as such it holds at {one} %"),
        ));
    }
    notes
}
