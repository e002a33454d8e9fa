//! Profile-likelihood intervals: every value whose best likelihood comes close enough to the maximum.

use super::held::{Condition, Held};
use super::identified::Identified;
use super::interval::{Interval, IntervalMethod, Quantity, Sides, boundary_note, critical};
use super::model::{Fit, Note};
use super::newton::{Point, Surface, climb};
use super::peaks::ABOVE;
use super::profile_corrected::RatioMean;
use super::ridge::{End, IMPOSSIBLE, Ridge, SHARES, STEPS};
use super::sample::Sample;
use super::search::{Engine, FitOptions};
use super::target::{Function, Target};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::short;
use crate::base::math::root::bracketed;
use crate::base::run::Run;
use crate::family::{Family, Link, Order};
use crate::lives::Tally;

/// Fall of a profile from which steps along it go no further: that of a 95 % interval.
const FALLEN: f64 = 1.92;

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
    /// so: the interval is then one-sided by construction. Where the records do not settle the quantity the interval has ends
    /// and no estimate: no single value stands for it. So has a figure of ages past the oldest lamp at risk where a parameter
    /// is not settled. With few failures it holds the truth less often than it says;
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
    /// With more than two parameters, and for a family made of others, the best life for a value may lie far from the best
    /// one for its neighbour. The profile is then looked for from the other peaks of the fit too, and beyond each end from
    /// places all over the domain; a quantity held by a pull is read at the likely lives found on the profiles of all
    /// coordinates. Where the profile rises above its cut again, the interval reaches over all pieces and a note says so
    /// (`fit.profile_pieces`). A part on one exact age, or a failure-free time at an exact first failure, is no place: there
    /// the likelihood has no bound.
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
        // Where one kind of lamps explains the records about as well, no end bounds the share, whatever its profile says.
        let doubted = self.doubted(target);
        let end = |side, sign| {
            if wanted(side) && doubted.is_none() { ridge.end(z, sign, farthest) } else { Ok(End::Open) }
        };
        let ends = [end(Sides::Lower, lower)?, end(Sides::Upper, upper)?];
        let [low, high] = ends.map(|end| end.value().map(back));
        let estimate = back(ridge.value());
        let mut notes = self.interval_notes(&quantity, estimate);
        notes.extend(doubted.cloned());
        if let (Target::Coordinate(i), Some(low)) = (target, low)
            && low <= family.floor(i)
        {
            notes.push(boundary_note(family, i, low));
        }
        notes.extend(last_notes(ends, back));
        notes.extend(open_notes(low.is_some(), high.is_some(), level, sides));
        notes.extend(ridge.pieces_note(back));
        notes.extend(ridge.risen_note());
        let method = match ratio {
            None => IntervalMethod::ProfileLikelihood,
            Some(_) => IntervalMethod::ProfileLikelihoodCorrected,
        };
        let estimate = (!self.leaves_open(&quantity, estimate)).then_some(estimate);
        let made = Interval { quantity, estimate, low, high, level, sides, method, notes, ratio };
        Ok((made.judged(&self.family, &self.facts), ridge.risen()))
    }

    /// The note that one kind of lamps explains the records about as well, where it is the share of a second kind that is
    /// asked for.
    pub(super) fn doubted(&self, target: Target) -> Option<&Note> {
        let Target::Coordinate(i) = target else { return None };
        let mark = self.identified.get(i).filter(|m| m.identified == Identified::No)?;
        let share = self.family().ok()?.links().get(i) == Some(&Link::Share);
        let note = self.notes.iter().find(|note| note.slug == "fit.one_kind_enough");
        note.filter(|_| share && mark.low.is_none() && mark.high.is_none())
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
    pub(super) fn natural_size(&self, target: Target, value: f64) -> Result<f64> {
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
