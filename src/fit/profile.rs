//! Profile-likelihood intervals: every value whose best likelihood comes close enough to the maximum.

use super::failure_free::FAILURE_FREE;
use super::interval::{Interval, IntervalMethod, Quantity, Sides, boundary_note, critical};
use super::model::{Fit, Note};
use super::newton::{Outcome, Point, Surface, climb};
use super::peaks::{ABOVE, has_peaks};
use super::profile_corrected::RatioMean;
use super::pull::{Top, height as pulled};
use super::sample::Sample;
use super::search::{Engine, FitOptions};
use super::target::{Function, Scale, Target};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::short;
use crate::base::math::linalg::packed;
use crate::base::math::root::bracketed;
use crate::base::run::Run;
use crate::family::{Family, Jet, Order, Term};
use crate::lives::Tally;
use std::cell::RefCell;

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
                let stretch = age.ln() - self.family.at(&x).ok()?.quantile_passed(ln_r).ok()?.ln();
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
/// Standard errors within which a quantity that goes no further has its last value.
const LAST: f64 = 1e-4;
/// Standard errors of a figure of the caller's own, on a plain scale, beyond which an end counts as open.
const FARTHEST_PLAIN: f64 = 1e4;

/// Whether a search ended on its maximum, or could hardly rise any further: on a plateau the last steps die away slowly.
pub(super) fn settled(best: &Outcome) -> bool {
    best.converged() || UNSURE * best.point.scaled_gradient(&best.held).powi(2) < NEXT_TO_NOTHING
}

/// A place on a profile.
#[derive(Clone, Copy, Debug)]
pub(super) struct Height {
    /// Log-likelihood there less its maximum.
    pub(super) value: f64,
    /// Whether the search behind it reached its own maximum.
    pub(super) settled: bool,
    /// Where the quantity does not take the value asked for: the nearest that it was seen to take, whose height this is.
    pub(super) nearest: Option<f64>,
}

/// Where a profile has fallen far enough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum End {
    /// At this value.
    At(f64),
    /// The quantity goes no further than this value, and the profile is still higher there.
    Last(f64),
    /// Nowhere.
    Open,
}

impl End {
    pub(super) fn value(self) -> Option<f64> {
        match self {
            Self::At(w) | Self::Last(w) => Some(w),
            Self::Open => None,
        }
    }
}

/// The profile of one quantity: how high the likelihood reaches while the quantity has a given value.
pub(super) struct Ridge<'s> {
    /// The quantity, and where the likelihood is highest.
    top: Top<'s>,
    held: usize,
    along: Option<Vec<f64>>,
    start: Vec<f64>,
    iterations: u64,
    run: &'s Run,
    /// The highest point above the fit that a search came upon: its rise and its coordinates.
    risen: RefCell<Option<(f64, Vec<f64>)>>,
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
        let size = if error > 0.0 && target.has_ridge(family) { 1.0 } else { fit.natural_size(target, value)? };
        let error = if error > 0.0 { error } else { HELD_STEP * size };
        let (held, along) = match target {
            Target::Coordinate(i) => (i, None),
            _ => (family.anchor(), family.stretch()),
        };
        let mut start = fit.coordinates.clone();
        if target.has_ridge(family) {
            if let (Some(along), Some(settled)) = (&along, fit.coordinates.get(held)) {
                start.iter_mut().zip(along).for_each(|(x, d)| *x -= settled * d);
            }
            start.remove(held);
        }
        let top = Top { engine, family, target, log_likelihood: fit.log_likelihood, value, error, size };
        Ok(Self { top, held, along, start, iterations: options.iterations, run, risen: RefCell::new(None) })
    }

    /// Keeps a point that lies above the fit.
    fn note_rise(&self, value: f64, x: impl FnOnce() -> Option<Vec<f64>>) {
        // Next to an exact first failure such a life is likely without bound, which is no peak.
        if self.top.family.name().contains(FAILURE_FREE) {
            return;
        }
        let mut risen = self.risen.borrow_mut();
        if value > risen.as_ref().map_or(ABOVE * self.top.log_likelihood.abs().max(1.0), |r| r.0)
            && let Some(x) = x()
        {
            *risen = Some((value, x));
        }
    }

    /// Coordinates of the highest point above the fit that the searches came upon.
    pub(super) fn risen(&self) -> Option<Vec<f64>> {
        self.risen.borrow().as_ref().map(|r| r.1.clone())
    }

    /// Says that the fit is not the highest point.
    pub(super) fn risen_note(&self) -> Option<Note> {
        self.risen.borrow().as_ref().map(|(rise, _)| {
            let text = format!(
                "the profile came upon a log-likelihood {} above that of the fit: ends are measured from a lower peak, \
                 and the family may have no highest one here",
                short(*rise)
            );
            Note::new("fit.higher_point", text)
        })
    }

    /// The quantity at the maximum, on its working scale.
    pub(super) fn value(&self) -> f64 {
        self.top.value
    }

    /// Its standard error, or the step that stands for one.
    pub(super) fn error(&self) -> f64 {
        self.top.error
    }

    /// Distance on the working scale beyond which an end counts as open. Distances are judged on a logarithmic scale, or
    /// in units of the life's own spread.
    pub(super) fn farthest(&self, fit: &Fit) -> f64 {
        match self.top.target {
            Target::Coordinate(i) => FARTHEST * self.top.family.step(&fit.coordinates, i),
            Target::Function(_, Scale::Plain) => FARTHEST_PLAIN * self.top.error,
            _ => FARTHEST,
        }
    }

    /// Smallest value that the quantity may take on the working scale.
    pub(super) fn floor(&self) -> f64 {
        if let Target::Coordinate(i) = self.top.target { self.top.family.floor(i) } else { f64::NEG_INFINITY }
    }

    /// Coordinates to start a walk along the ridge from.
    pub(super) fn warm(&self) -> Vec<f64> {
        self.start.clone()
    }

    /// The ridge at `w`; `warm` follows the walk.
    pub(super) fn height(&self, w: f64, warm: &mut Vec<f64>) -> Result<Height> {
        let several = has_peaks(self.top.family);
        let (mut best, mut x) = self.search(w, warm)?;
        if !best.settled || best.nearest.is_some() || several {
            let (fresh, there) = self.search(w, &self.start)?;
            let taken = |h: &Height| h.nearest.is_none();
            let better = if taken(&best) == taken(&fresh) {
                fresh.value > best.value || (fresh.settled && !best.settled)
            } else {
                taken(&fresh)
            };
            if better {
                (best, x) = (fresh, there);
            }
        }
        if best.settled {
            *warm = x;
        }
        Ok(best)
    }

    /// The ridge at `w` as one search finds it, and where that ended.
    fn search(&self, w: f64, from: &[f64]) -> Result<(Height, Vec<f64>)> {
        let condition = match self.top.target {
            target if !target.has_ridge(self.top.family) => {
                let (height, x) = pulled(&self.top, w, from, self.iterations, self.run)?;
                self.note_rise(height.value, || Some(x.clone()));
                return Ok((height, x));
            }
            Target::LnAge(ln_r) => Condition::Passes(w.exp(), ln_r),
            Target::LnHazard(age) => Condition::Passes(age, -w.exp()),
            _ => Condition::Fixed(w),
        };
        let (along, engine, family) = (self.along.as_deref(), self.top.engine, self.top.family);
        let surface = Held { engine, family, settled: self.held, along, condition };
        let best = climb(&surface, from, self.iterations, self.run)?;
        // Where nothing finite is left, the likelihood is simply far below.
        let value = (best.point.value - self.top.log_likelihood).max(IMPOSSIBLE);
        self.note_rise(value, || surface.full(&best.x));
        Ok((Height { value, settled: settled(&best), nearest: None }, best.x))
    }

    /// Where the ridge has fallen by half of z squared on the side of `sign`.
    pub(super) fn end(&self, z: f64, sign: f64, farthest: f64) -> Result<End> {
        let mut warm = self.warm();
        let mut above = |w: f64| -> Result<Height> {
            let here = self.height(w, &mut warm)?;
            Ok(Height { value: (here.value + 0.5 * z * z).max(IMPOSSIBLE), ..here })
        };
        let (value, floor, error) = (self.top.value, self.floor(), self.top.error);
        let (mut inside, mut step) = (value, (z * error).min(0.25 * farthest));
        let (mut wall, mut known): (Option<f64>, Option<f64>) = (None, None);
        for _ in 0..STEPS {
            let mut outside = wall.map_or(value + sign * step, |wall| 0.5 * (inside + wall)).max(floor);
            if (outside - value).abs() > farthest {
                break;
            }
            let here = above(outside)?;
            if let Some(nearest) = here.nearest.filter(|n| here.settled && n.is_finite()) {
                if here.value >= 0.0 {
                    // The profile is still high where the quantity goes no further.
                    if (nearest - inside) * sign <= LAST * error && wall.is_some() {
                        return Ok(End::Last(if (nearest - inside) * sign > 0.0 { nearest } else { inside }));
                    }
                    (wall, inside, known) = (Some(outside), nearest, Some(here.value));
                    continue;
                }
                outside = nearest;
            }
            if here.value >= 0.0 && here.nearest.is_none() && outside <= floor {
                return Ok(End::At(outside));
            }
            if here.value >= 0.0 && here.nearest.is_none() {
                // Any point this high proves the value, settled or not.
                (inside, step, known) = (outside, 2.0 * step, Some(here.value));
            } else if here.settled {
                // Another start may miss the peak that was found there.
                let low = here.value;
                let height = |w: f64| match known {
                    Some(known) if w == inside => Ok(known),
                    _ if w == outside => Ok(low),
                    _ => above(w).map(|here| here.value),
                };
                return bracketed(height, inside, outside, PRECISION * error).map(End::At);
            } else {
                // A low point whose search did not settle proves nothing: look closer in.
                wall = Some(outside);
            }
        }
        Ok(End::Open)
    }
}

/// Fall of a profile from which steps along it go no further: that of a 95 % interval.
const FALLEN: f64 = 1.92;

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
    /// so: the interval is then one-sided by construction. With few failures it holds the truth less often than it says;
    /// [`Fit::profile_corrected`] mends that.
    ///
    /// # Formula
    /// ```text
    /// r(q) = max over all coordinates with quantity q of ln L, less ln L max
    /// interval: every q with r(q) >= -z^2 / 2
    /// ```
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted.
    ///
    /// # Errors
    /// `fit.other_data` if the tally is not the fitted one, and the errors of [`Fit::wald`].
    ///
    /// # Numerics
    /// A parameter, and for a family that is not made of others an age and a reliability, are held by settling one
    /// coordinate. Any other quantity g is held by a pull: ln L - c (g - t)^2 / 2 is maximised, whose maximum is that of
    /// ln L among all lives with the g found there, and t is moved until g is the one asked for. Where g ends before the
    /// profile has fallen, the interval ends there too and a note says so (`fit.one_sided`).
    ///
    /// # Source
    /// Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 8.3. The pull: M. J. D. Powell (1969)
    /// and M. R. Hestenes (1969), method of multipliers. From memory.
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
        Ok(self.profile_at(tally, options, target, quantity.clone(), (level, sides, None), run)?.0)
    }

    /// The same for a function of the caller's own.
    ///
    /// # Formula
    /// ```text
    /// lowest and highest value of the function where ln L(x) >= ln L max - z^2 / 2
    /// ```
    /// which are the ends of its profile interval. The function must be smooth: its slopes are taken numerically.
    ///
    /// # Errors
    /// Those of [`Fit::profile`] and of the function.
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
        Ok(self.profile_at(tally, options, Target::function(asked), quantity, (level, sides, None), run)?.0)
    }

    /// The interval, its likelihood ratio divided by a mean where one is given, and a point above the fit where the search
    /// came upon one.
    pub(super) fn profile_at(
        &self,
        tally: &Tally,
        options: &FitOptions,
        target: Target,
        quantity: Quantity,
        (level, sides, ratio): (f64, Sides, Option<RatioMean>),
        run: &Run,
    ) -> Result<(Interval, Option<Vec<f64>>)> {
        let family = self.family()?;
        let z = critical(level, sides)? * ratio.map_or(1.0, |ratio| ratio.mean.sqrt());
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        let ridge = Ridge::new(self, &engine, target, options, run)?;
        let wanted = |side: Sides| sides == Sides::Both || sides == side;
        let (lower, upper) = if target.falls() { (1.0, -1.0) } else { (-1.0, 1.0) };
        let back = |w: f64| target.back(family, &self.coordinates, w);
        let farthest = ridge.farthest(self);
        let end = |side, sign| if wanted(side) { ridge.end(z, sign, farthest) } else { Ok(End::Open) };
        let ends = [end(Sides::Lower, lower)?, end(Sides::Upper, upper)?];
        let [low, high] = ends.map(|end| end.value().map(back));
        let estimate = back(ridge.value());
        let mut notes = self.interval_notes(&quantity, estimate);
        if let (Target::Coordinate(i), Some(low)) = (target, low)
            && low <= family.floor(i)
        {
            notes.push(boundary_note(family, i, low));
        }
        notes.extend(last_notes(ends, back));
        notes.extend(open_notes(low.is_some(), high.is_some(), level, sides));
        notes.extend(ridge.risen_note());
        let method = match ratio {
            None => IntervalMethod::ProfileLikelihood,
            Some(_) => IntervalMethod::ProfileLikelihoodCorrected,
        };
        let made = Interval { quantity, estimate, low, high, level, sides, method, notes, ratio };
        Ok((made.judged(&self.family, &self.facts), ridge.risen()))
    }

    /// A point above the fit that a few steps along the profile of coordinate `i` come upon; none where they do not.
    pub(super) fn rise_along(
        &self,
        i: usize,
        tally: &Tally,
        options: &FitOptions,
        run: &Run,
    ) -> Result<Option<Vec<f64>>> {
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(self.family()?, &sample, options.reduced);
        let ridge = Ridge::new(self, &engine, Target::Coordinate(i), options, run)?;
        let farthest = ridge.farthest(self);
        for sign in [-1.0, 1.0] {
            let (mut warm, mut step) = (ridge.warm(), (0.5 * ridge.error()).min(0.125 * farthest));
            for _ in 0..STEPS {
                let w = (ridge.value() + sign * step).max(ridge.floor());
                if step > farthest {
                    break;
                }
                let here = ridge.height(w, &mut warm)?;
                if (here.settled && here.value < -FALLEN) || w <= ridge.floor() {
                    break;
                }
                step *= 2.0;
            }
        }
        Ok(ridge.risen())
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
            let here = ridge.height(*value, &mut ridge.warm())?;
            let parameter = target.back(family, &self.coordinates, *value);
            // A point above the fit is no fall: the fit starts again from it, or it leads to no peak.
            let fell = here.value <= ABOVE * self.log_likelihood.abs().max(1.0);
            if here.settled && parameter.is_finite() && here.value > IMPOSSIBLE && fell {
                out.push((parameter, (-here.value).max(0.0)));
            }
        }
        Ok(out)
    }

    /// How far a target moves where each coordinate moves by its natural size.
    fn natural_size(&self, target: Target, value: f64) -> Result<f64> {
        let family = self.family()?;
        let slopes = target.gradient(family, &self.coordinates, value)?;
        let moves = slopes.iter().enumerate().map(|(i, slope)| (slope * family.step(&self.coordinates, i)).powi(2));
        let size = moves.sum::<f64>().sqrt();
        if size > 0.0 {
            return Ok(size);
        }
        let problem = Problem::new("fit.no_spread", "the quantity does not move with any parameter").got(value);
        Err(Error::new(Kind::Refused, problem))
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

/// What an end means where the quantity goes no further.
pub(super) fn last_notes(ends: [End; 2], back: impl Fn(f64) -> f64) -> Vec<Note> {
    let words = ["below", "above"].into_iter().zip(ends);
    let last = words.filter_map(|(word, end)| if let End::Last(w) = end { Some((word, back(w))) } else { None });
    last.map(|(word, end)| {
        let text = format!(
            "no life of the family near the estimate has it {word} {}: the interval ends there and is bounded by the \
             records on one side only",
            short(end)
        );
        Note::new("fit.one_sided", text)
    })
    .collect()
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
