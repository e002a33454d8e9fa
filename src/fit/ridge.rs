//! The profile of one quantity as a ridge to walk along: its height at a value, and where it has fallen far enough.

use std::cell::RefCell;

use super::branches::{Others, branched, no_height, unbounded};
use super::failure_free::{FAILURE_FREE, LOCATION, first_failure};
use super::held::{Condition, Held};
use super::model::{Fit, Note};
use super::newton::{Outcome, Point, Stop, Surface, climb};
use super::peaks::{ABOVE, has_peaks};
use super::pull::{Top, height as pulled};
use super::search::{Engine, FitOptions};
use super::target::{Scale, Target};
use crate::base::error::Result;
use crate::base::figure::short;
use crate::base::math::root::bracketed;
use crate::base::run::Run;
use crate::family::{Link, Order};

/// Distance from the estimate, on a logarithmic scale, beyond which an end counts as open: a factor of 10^26.
pub(super) const FARTHEST: f64 = 60.0;
/// The same of a mean: a factor of nine million. A mean without end is near there, where the shapes of two means differ by no
/// more than their last digits, and a height found among those is none.
const FARTHEST_MEAN: f64 = 16.0;
/// Steps in the hunt for a value outside.
pub(super) const STEPS: u32 = 30;
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
/// One that could not begin found nothing, and its slopes of 0 are none.
pub(super) fn settled(best: &Outcome) -> bool {
    best.converged()
        || best.stop != Stop::BadStart && UNSURE * best.point.scaled_gradient(&best.held).powi(2) < NEXT_TO_NOTHING
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

/// Where one search at a value of the quantity ended.
struct Found {
    height: Height,
    /// The coordinates that were searched.
    free: Vec<f64>,
    /// Whether the likelihood has no bound there.
    pole: bool,
}

impl Found {
    /// The better of two.
    fn or(self, other: Self) -> Self {
        // A likelihood without bound is no height to compare with.
        if self.pole != other.pole {
            return if other.pole || !other.height.settled { self } else { other };
        }
        let taken = |found: &Self| found.height.nearest.is_none();
        let better = if taken(&self) == taken(&other) {
            other.height.value > self.height.value || (other.height.settled && !self.height.settled)
        } else {
            taken(&other)
        };
        if better { other } else { self }
    }
}

/// Where a walk along the ridge starts.
struct Start {
    w: f64,
    free: Vec<f64>,
    /// Its height over the cut, where it is not the top.
    over: Option<f64>,
}

/// Coordinates of a share between which its bound is looked for.
pub(super) const SHARES: (f64, f64) = (-12.0, 12.0);
/// Most pieces of an interval on one side of the estimate.
const PIECES: usize = 4;
/// Places at an end and beyond, as multiples of its distance from the estimate, at which the profile is looked for again.
const BEYOND: [f64; 6] = [0.0, 0.02, 0.2, 0.8, 2.5, 8.0];
/// Height above the cut from which the profile at an end is that of another branch.
const HIGHER: f64 = 1e-6;
/// Lesser peaks from which every height is looked for.
const NEXT: usize = 2;
/// Searches at each of them: those that start from the likeliest places, and on from the places before.
const CLIMBS: usize = 2;

/// Places with the log-likelihood there less its maximum.
pub(super) type Places = Vec<(f64, Vec<f64>)>;

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
    /// Where the likelihood has several branches, the other places to look from.
    others: Option<Others<'s>>,
    /// Places on the ridge, with their heights, where they are asked for.
    seen: Option<RefCell<Places>>,
    /// Values at which the ridge fell below a cut and beyond which it rose above it again.
    pub(super) dips: RefCell<Vec<f64>>,
}

impl<'s> Ridge<'s> {
    pub(super) fn new(
        fit: &'s Fit,
        engine: &'s Engine<'s>,
        target: Target<'s>,
        options: &'s FitOptions,
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
            // One hazard alone cannot make up for the others: where those fail more lamps than asked for there is no such life.
            _ if !family.cuts().is_empty() => (family.anchor(), Some(vec![1.0; family.width()])),
            _ => (family.anchor(), family.stretch()),
        };
        let top = Top { engine, family, target, log_likelihood: fit.log_likelihood, value, error, size };
        let others = branched(family, target).then(|| Others::new(fit, family, options));
        let (iterations, risen, dips) = (options.iterations, RefCell::new(None), RefCell::new(Vec::new()));
        let start = Vec::new();
        let mut ridge = Self { top, held, along, start, iterations, run, risen, others, seen: None, dips };
        ridge.start = ridge.free(&fit.coordinates);
        Ok(ridge)
    }

    /// What is left to be searched of coordinates, once the quantity settles one.
    fn free(&self, x: &[f64]) -> Vec<f64> {
        let mut free = x.to_vec();
        if self.top.target.has_ridge(self.top.family) && self.held < free.len() {
            if let (Some(along), Some(settled)) = (&self.along, x.get(self.held)) {
                free.iter_mut().zip(along).for_each(|(x, d)| *x -= settled * d);
            }
            free.remove(self.held);
        }
        free
    }

    /// Keeps a point that lies above the fit.
    fn note_rise(&self, value: f64, x: &[f64], converged: bool) {
        // Next to an exact first failure such a life is likely without bound, which is no peak.
        if self.top.family.name().contains(FAILURE_FREE) {
            return;
        }
        let mut risen = self.risen.borrow_mut();
        let known = risen.as_ref().map_or(ABOVE * self.top.log_likelihood.abs().max(1.0), |r| r.0);
        if value > known && !unbounded(self.top.family, self.top.engine.sample(), x, converged) {
            *risen = Some((value, x.to_vec()));
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

    /// Says that the values inside an interval are not all likely.
    pub(super) fn pieces_note(&self, back: impl Fn(f64) -> f64) -> Option<Note> {
        let dips: Vec<String> = self.dips.borrow().iter().map(|w| short(back(*w))).collect();
        (!dips.is_empty()).then(|| {
            let text = format!(
                "the likely values lie in several pieces: past {} the profile falls below its cut and rises above it again \
                 farther out; the interval reaches over all pieces",
                dips.join(" and ")
            );
            Note::new("fit.profile_pieces", text)
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
            Target::LnMean => FARTHEST_MEAN,
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
        self.height_beside(w, warm, None)
    }

    /// The same, looked for on the branch too where a walk began: farther out another one may be the higher.
    fn height_beside(&self, w: f64, warm: &mut Vec<f64>, branch: Option<&[f64]>) -> Result<Height> {
        let mut found = self.search(w, warm)?;
        // With the mean held a search that has come far out rests on the plateau of the limits of a family.
        let rests = has_peaks(self.top.family) || matches!(self.top.target, Target::LnMean);
        if !found.height.settled || found.height.nearest.is_some() || rests {
            found = found.or(self.search(w, &self.start)?);
        }
        if let Some(branch) = branch {
            let there = self.search(w, branch)?;
            if !there.pole {
                found = found.or(there);
            }
        }
        let held = self.others.iter().filter(|_| self.top.target.has_ridge(self.top.family));
        for peak in held.flat_map(|others| others.peaks.iter().take(NEXT)) {
            // A lesser peak may have the better place, but none where the likelihood has no bound.
            let there = self.search(w, &self.free(peak))?;
            if !there.pole {
                found = found.or(there);
            }
        }
        if found.height.settled {
            self.keep(w, &found);
            *warm = found.free;
        }
        Ok(found.height)
    }

    /// Keeps a place on the ridge for figures that have none of their own.
    fn keep(&self, w: f64, found: &Found) {
        if let (Some(seen), false) = (&self.seen, found.pole)
            && let Some(x) = self.surface(w).full(&found.free)
        {
            seen.borrow_mut().push((found.height.value, x));
        }
    }

    /// The ridge at `w` as one search finds it, and where that ended.
    fn search(&self, w: f64, from: &[f64]) -> Result<Found> {
        if !self.top.target.has_ridge(self.top.family) {
            let (height, x) = pulled(&self.top, w, from, self.iterations, self.run)?;
            self.note_rise(height.value, &x, height.settled);
            let pole = no_height(self.top.family, self.top.engine.sample(), &x, height.settled);
            return Ok(Found { height, free: x, pole });
        }
        let surface = self.surface(w);
        let best = climb(&surface, from, self.iterations, self.run)?;
        // Where nothing finite is left, the likelihood is simply far below.
        let value = (best.point.value - self.top.log_likelihood).max(IMPOSSIBLE);
        let mut pole = false;
        if let Some(x) = surface.full(&best.x) {
            self.note_rise(value, &x, best.converged());
            pole = no_height(self.top.family, self.top.engine.sample(), &x, best.converged());
        }
        Ok(Found { height: Height { value, settled: settled(&best), nearest: None }, free: best.x, pole })
    }

    /// The likelihood with the quantity at `w`, for one that settles a coordinate.
    fn surface(&self, w: f64) -> Held<'_> {
        let condition = match self.top.target {
            Target::LnAge(ln_r) => Condition::Passes(w.exp(), ln_r),
            Target::LnHazard(age) => Condition::Passes(age, -w.exp()),
            Target::LnMean => Condition::Mean(w),
            _ => Condition::Fixed(w),
        };
        let (along, engine, family) = (self.along.as_deref(), self.top.engine, self.top.family);
        Held { engine, family, settled: self.held, along, condition }
    }

    /// Where the ridge has fallen by half of z squared on the side of `sign`, for good: where the likelihood has several
    /// branches, it is looked for again beyond.
    pub(super) fn end(&self, z: f64, sign: f64, farthest: f64) -> Result<End> {
        let mut end = self.fall(z, sign, farthest, Start { w: self.top.value, free: self.warm(), over: None })?;
        let Some(others) = &self.others else { return Ok(end) };
        if let (FAILURE_FREE, Target::Coordinate(LOCATION)) = (self.top.family.name(), self.top.target) {
            // The likelihood has no bound next to the first failure, past which no such time can lie.
            let first = first_failure(self.top.engine.sample()).0;
            return Ok(if end == End::Open && sign > 0.0 { End::Last(first) } else { end });
        }
        for _ in 0..PIECES {
            let (End::At(low) | End::Last(low)) = end else { break };
            let again = if self.top.target.has_ridge(self.top.family) {
                self.again(others, z, sign, farthest, low)?
            } else {
                self.farther(others, z, sign, farthest, low)?
            };
            let Some(start) = again else { break };
            end = self.fall(z, sign, farthest, start)?;
        }
        Ok(end)
    }

    /// The farthest place looked at beyond an end at which the ridge is above the cut again.
    fn again(&self, others: &Others, z: f64, sign: f64, farthest: f64, end: f64) -> Result<Option<Start>> {
        let (value, floor, cut) = (self.top.value, self.floor(), -0.5 * z * z);
        let reach = (end - value).abs().max(self.top.error);
        let mut places: Vec<f64> = BEYOND.iter().map(|by| (end + sign * by * reach).max(floor)).collect();
        // A peak lies above the places around it.
        let own = others.peaks.iter().map(|peak| self.top.target.or_nan(self.top.family, peak));
        let own: Vec<f64> = own.collect::<Result<_>>()?;
        places.extend(&own);
        let past = |w: f64| (w - end) * sign > LAST * self.top.error;
        places.retain(|w| (*w == end || past(*w)) && (w - value).abs() <= farthest);
        if let Some(most) = self.limit(sign) {
            places.retain(|w| (most - w) * sign >= 0.0);
        }
        places.sort_by(|a, b| (a * sign).total_cmp(&(b * sign)));
        places.dedup();
        let (mut branches, mut last, mut low, mut first) = (Vec::new(), None, false, true);
        for w in places {
            let mut starts: Vec<Vec<f64>> = std::mem::take(&mut branches);
            let here = others.peaks.iter().zip(&own).filter(|(_, own)| first || **own == w);
            starts.extend(here.map(|(x, _)| self.free(x)));
            first = false;
            starts.extend(self.likeliest(w, others.far(self.top.engine.sample(), self.run)?)?);
            let mut found: Vec<Found> = Vec::new();
            for start in starts {
                let there = self.search(w, &start)?;
                if self.counts(&there) {
                    found.push(there);
                }
            }
            found.sort_by(|a, b| b.height.value.total_cmp(&a.height.value));
            found.dedup_by(|a, b| (a.height.value - b.height.value).abs() < NEXT_TO_NOTHING);
            found.truncate(CLIMBS);
            let least = if past(w) { cut } else { cut + HIGHER };
            match found.first().filter(|best| best.height.value >= least) {
                Some(best) => {
                    self.keep(w, best);
                    if std::mem::take(&mut low) {
                        self.dips.borrow_mut().push(end);
                    }
                    last = Some(Start { w, free: best.free.clone(), over: Some(best.height.value - cut) });
                }
                None => low |= last.is_none(),
            }
            branches = found.into_iter().map(|there| there.free).collect();
        }
        Ok(last)
    }

    /// Whether what a search far from the fit came upon is a height of the profile.
    fn counts(&self, there: &Found) -> bool {
        // Next to an exact first failure a life with a failure-free time is likely without bound.
        let on_pole = self.top.family.name().contains(FAILURE_FREE)
            && (!there.height.settled || there.height.value > ABOVE * self.top.log_likelihood.abs().max(1.0));
        !there.pole && !on_pole && there.height.nearest.is_none() && there.height.value > IMPOSSIBLE
    }

    /// The likely life known that lies farthest beyond an end of a figure without a ridge of its own.
    fn farther(&self, others: &Others, z: f64, sign: f64, farthest: f64, end: f64) -> Result<Option<Start>> {
        let cut = -0.5 * z * z;
        let mut best: Option<Start> = None;
        let likely = others.likely(&self.top, z, self.run)?.iter();
        // They were found for another cut, which may have been a lower one.
        for (height, x) in likely.filter(|(height, _)| *height >= cut) {
            let w = self.top.target.or_nan(self.top.family, x)?;
            let known = best.as_ref().map_or(end + sign * LAST * self.top.error, |b| b.w);
            if (w - known) * sign > 0.0 && (w - self.top.value).abs() <= farthest {
                best = Some(Start { w, free: x.clone(), over: Some(height - cut) });
            }
        }
        Ok(best)
    }

    /// Places on the ridge of a coordinate that lie above a cut, walked to both ends.
    pub(super) fn places_above(mut self, fit: &Fit, z: f64) -> Result<Vec<(f64, Vec<f64>)>> {
        self.seen = Some(RefCell::new(Vec::new()));
        let farthest = self.farthest(fit);
        for sign in [-1.0, 1.0] {
            self.end(z, sign, farthest)?;
        }
        let mut seen = self.seen.take().map_or_else(Vec::new, RefCell::into_inner);
        seen.retain(|(height, _)| *height >= -0.5 * z * z && *height <= ABOVE * self.top.log_likelihood.abs().max(1.0));
        Ok(seen)
    }

    /// Where a share is all or nothing to a lamp in 160,000.
    fn limit(&self, sign: f64) -> Option<f64> {
        let Target::Coordinate(i) = self.top.target else { return None };
        (self.top.family.links().get(i) == Some(&Link::Share)).then_some(if sign > 0.0 { SHARES.1 } else { SHARES.0 })
    }

    /// The few of some places that are likeliest once the quantity is `w`.
    fn likeliest(&self, w: f64, places: &[Vec<f64>]) -> Result<Vec<Vec<f64>>> {
        let surface = self.surface(w);
        let mut tried: Vec<(f64, Vec<f64>)> = Vec::with_capacity(places.len());
        for place in places {
            let (free, mut here) = (self.free(place), Point::new(self.top.engine.width()));
            if surface.inside(&free) {
                surface.at(&free, Order::Value, &mut here)?;
            }
            if here.value.is_finite() {
                tried.push((here.value, free));
            }
        }
        tried.sort_by(|a, b| b.0.total_cmp(&a.0));
        tried.dedup_by(|a, b| a.1 == b.1);
        Ok(tried.into_iter().take(CLIMBS).map(|(_, x)| x).collect())
    }

    /// Where the ridge has fallen by half of z squared on the side of `sign`, walked from where it is higher.
    fn fall(&self, z: f64, sign: f64, farthest: f64, start: Start) -> Result<End> {
        let Start { w: from, free: mut warm, over: mut known } = start;
        let branch = known.map(|_| warm.clone());
        let mut above = |w: f64| -> Result<Height> {
            let here = self.height_beside(w, &mut warm, branch.as_deref())?;
            Ok(Height { value: (here.value + 0.5 * z * z).max(IMPOSSIBLE), ..here })
        };
        let (value, floor, error) = (self.top.value, self.floor(), self.top.error);
        let (mut inside, mut step) = (from, (z * error).min(0.25 * farthest));
        let mut wall: Option<f64> = None;
        for _ in 0..STEPS {
            let mut outside = wall.map_or(from + sign * step, |wall| 0.5 * (inside + wall)).max(floor);
            if (outside - value).abs() > farthest {
                // A mean is looked at there too: half way would leave a thousandfold unseen.
                if !matches!(self.top.target, Target::LnMean) || (inside - value).abs() >= farthest {
                    break;
                }
                outside = value + sign * farthest;
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_search_that_could_not_begin_settled_nothing() {
        // Its point was never filled: slopes of 0 at no height.
        let none = |stop| Outcome { x: vec![0.0], point: Point::new(1), iterations: 0, stop, held: vec![false] };
        assert!(!settled(&none(Stop::BadStart)));
        assert!(settled(&none(Stop::Iterations)) && settled(&none(Stop::Gradient)));
    }
}
