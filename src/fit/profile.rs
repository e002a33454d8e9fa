//! Profile-likelihood intervals: every value whose best likelihood comes close enough to the maximum.

use super::interval::{Interval, IntervalMethod, Quantity, Sides, boundary_note, critical};
use super::model::{Fit, Note};
use super::newton::{Point, Surface, climb};
use super::peaks::has_peaks;
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
pub(super) struct Held<'s> {
    pub(super) engine: &'s Engine<'s>,
    pub(super) family: &'s dyn Family,
    /// The coordinate that the condition settles.
    pub(super) settled: usize,
    /// How all coordinates move with it: those of several scales keep their proportions.
    pub(super) along: Option<&'s [f64]>,
    pub(super) condition: Condition,
}

#[derive(Clone, Copy)]
pub(super) enum Condition {
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
        let value = match (self.condition, self.along) {
            (Condition::Fixed(value), _) => value,
            (Condition::Passes(age, ln_r), None) => self.family.anchored(&x, age, ln_r).ok()?,
            (Condition::Passes(age, ln_r), Some(along)) => {
                let stretch = age.ln() - self.family.at(&x).ok()?.quantile(-ln_r.exp_m1()).ok()?.ln();
                x.iter_mut().zip(along).for_each(|(x, d)| *x += stretch * d);
                return stretch.is_finite().then_some(x);
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
        if let Condition::Passes(age, _) = self.condition {
            let mut jet = Jet::new(x.len());
            self.family.jet(x, age, Term::LnReliability, Order::Hessian, &mut jet);
            let along = Along::new(&jet.gradient, &jet.hessian, &self.direction(x.len()));
            let g = &jet.gradient;
            for (slot, i) in first.iter_mut().zip(&free) {
                *slot = -g[*i] / along.slope;
            }
            for (a, &i) in free.iter().enumerate() {
                for (b, &j) in free.iter().enumerate().take(a + 1) {
                    second[packed(a, b)] = -along.curve(&jet.hessian, (i, first[a]), (j, first[b])) / along.slope;
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

/// Distance from the estimate, on a logarithmic scale, beyond which an end counts as open: a factor of 10^26.
pub(super) const FARTHEST: f64 = 60.0;
/// Steps in the hunt for a value outside.
const STEPS: u32 = 30;
/// First step from an estimate that is held, in the natural size of its coordinate.
const HELD_STEP: f64 = 0.05;
/// How much further than its curvature says a search that has not settled might still rise.
const UNSURE: f64 = 100.0;
/// A rise of the log-likelihood that moves no end of an interval.
const NEXT_TO_NOTHING: f64 = 1e-3;
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
    along: Option<Vec<f64>>,
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
        // An estimate that is held has no standard error to measure steps with.
        let error = match target {
            Target::Coordinate(i) if !(error > 0.0) => HELD_STEP * family.step(&fit.coordinates, i),
            _ => error,
        };
        let (held, along) = match target {
            Target::Coordinate(i) => (i, None),
            _ => (family.anchor(), family.stretch()),
        };
        let mut start = fit.coordinates.clone();
        if let (Some(along), Some(settled)) = (&along, fit.coordinates.get(held)) {
            start.iter_mut().zip(along).for_each(|(x, d)| *x -= settled * d);
        }
        start.remove(held);
        let (top, iterations) = (fit.log_likelihood, options.iterations);
        Ok(Self { engine, family, target, top, value, error, held, along, start, iterations, run })
    }

    /// Distance on the working scale beyond which an end counts as open. Distances are judged on a logarithmic scale, or
    /// in units of the life's own spread.
    pub(super) fn farthest(&self, fit: &Fit) -> f64 {
        let unit = if let Target::Coordinate(i) = self.target { self.family.step(&fit.coordinates, i) } else { 1.0 };
        FARTHEST * unit
    }

    /// Smallest value that the quantity may take on the working scale.
    fn floor(&self) -> f64 {
        if let Target::Coordinate(i) = self.target { self.family.floor(i) } else { f64::NEG_INFINITY }
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
        let along = self.along.as_deref();
        let surface = Held { engine: self.engine, family: self.family, settled: self.held, along, condition };
        let mut best = climb(&surface, warm, self.iterations, self.run)?;
        if !best.converged() || has_peaks(self.family) {
            let fresh = climb(&surface, &self.start, self.iterations, self.run)?;
            let higher = !(best.point.value >= fresh.point.value);
            if higher || (fresh.converged() && !best.converged()) {
                best = fresh;
            }
        }
        if best.converged() {
            warm.clone_from(&best.x);
        }
        // Where nothing finite is left, the likelihood is simply far below.
        // On a plateau the last steps die away slowly: what they could still add is next to nothing.
        let settled = best.converged() || UNSURE * best.point.scaled_gradient(&best.held).powi(2) < NEXT_TO_NOTHING;
        Ok(((best.point.value - self.top).max(IMPOSSIBLE), settled))
    }

    /// Where the ridge has fallen by half of z squared on the side of `sign`; none where it never does.
    pub(super) fn end(&self, z: f64, sign: f64, farthest: f64) -> Result<Option<f64>> {
        let mut warm = self.warm();
        let mut above = |w: f64| -> Result<(f64, bool)> {
            let (height, settled) = self.height(w, &mut warm)?;
            Ok(((height + 0.5 * z * z).max(IMPOSSIBLE), settled))
        };
        let (value, floor) = (self.value, self.floor());
        let (mut inside, mut step) = (value, (z * self.error).min(0.25 * farthest));
        let (mut wall, mut known): (Option<f64>, Option<f64>) = (None, None);
        for _ in 0..STEPS {
            let outside = wall.map_or(value + sign * step, |wall| 0.5 * (inside + wall)).max(floor);
            if (outside - value).abs() > farthest {
                break;
            }
            let (height, settled) = above(outside)?;
            if height >= 0.0 && outside <= floor {
                return Ok(Some(outside));
            }
            if height >= 0.0 {
                // Any point this high proves the value, settled or not.
                (inside, step, known) = (outside, 2.0 * step, Some(height));
            } else if settled {
                // Another start may miss the peak that was found there.
                let low = height;
                let height = |w: f64| match known {
                    Some(known) if w == inside => Ok(known),
                    _ if w == outside => Ok(low),
                    _ => above(w).map(|(height, _)| height),
                };
                return bracketed(height, inside, outside, PRECISION * self.error).map(Some);
            } else {
                // A low point whose search did not settle proves nothing: look closer in.
                wall = Some(outside);
            }
        }
        Ok(None)
    }
}

/// Coordinates of a share between which its bound is looked for.
const SHARES: (f64, f64) = (-12.0, 12.0);

/// Upper 95 % bound of the share that is the last coordinate, where the likelihood is highest, `top`, with the share at
/// 0: one-sided, since no share lies below. None where no share falls far enough below the top.
pub(super) fn share_bound_95(
    family: &dyn Family,
    sample: &Sample,
    at_edge: &[f64],
    top: f64,
    options: &FitOptions,
    run: &Run,
) -> Result<Option<f64>> {
    let settled = family.width() - 1;
    let floor = top - 0.5 * critical(0.95, Sides::Upper)?.powi(2);
    let engine = Engine::new(family, sample, false);
    let mut warm = at_edge.get(..settled).unwrap_or(at_edge).to_vec();
    let mut above = |c: f64| -> Result<f64> {
        let held = Held { engine: &engine, family, settled, along: None, condition: Condition::Fixed(c) };
        let best = climb(&held, &warm, options.iterations, run)?;
        if best.converged() {
            warm.clone_from(&best.x);
        }
        Ok((best.point.value - floor).max(IMPOSSIBLE))
    };
    let (mut inside, most) = SHARES;
    while inside < most {
        if above(inside + 1.0)? < 0.0 {
            let c = bracketed(above, inside, inside + 1.0, 1e-9)?;
            return Ok(Some(Target::Coordinate(settled).back(family, at_edge, c)));
        }
        inside += 1.0;
    }
    Ok(None)
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

    #[allow(clippy::too_many_arguments, reason = "what was fitted, what is asked and how sure, none of them one thing")]
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
        if let (Target::Coordinate(i), Some(low)) = (target, low)
            && low <= family.floor(i)
        {
            notes.push(boundary_note(family, i, low));
        }
        notes.extend(open_notes(low.is_some(), high.is_some(), level, sides));
        let method = IntervalMethod::ProfileLikelihood;
        let made = Interval { quantity, estimate, low, high, level, sides, method, notes };
        Ok(made.judged(&self.family, &self.facts))
    }

    /// How far the likelihood, maximised over the other coordinates, lies below its maximum at values of coordinate `i`:
    /// pairs of the parameter and the fall. Values at which no search settles are left out.
    pub(super) fn falls_at(
        &self,
        i: usize,
        values: &[f64],
        tally: &Tally,
        options: &FitOptions,
        run: &Run,
    ) -> Result<Vec<(f64, f64)>> {
        let family = self.family()?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        let target = Target::Coordinate(i);
        let ridge = Ridge::new(self, &engine, target, options, run)?;
        let mut out = Vec::with_capacity(values.len());
        for value in values {
            let (height, settled) = ridge.height(*value, &mut ridge.warm())?;
            let parameter = target.back(family, &self.coordinates, *value);
            if settled && parameter.is_finite() && height > IMPOSSIBLE {
                out.push((parameter, -height));
            }
        }
        Ok(out)
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
