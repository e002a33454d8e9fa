//! Whether the records settle each parameter of a fit, from its profile likelihood.

use serde::{Deserialize, Serialize};

use super::failure_free::FAILURE_FREE;
use super::interval::{Interval, IntervalMethod, Quantity, Sides, critical};
use super::model::{Facts, Fit, Note};
use super::newton::Outcome;
use super::one_kind::{Doubt, doubts};
use super::peaks::{ABOVE, Peak, has_peaks, peak_from};
use super::sample::{Sample, claims_only};
use super::search::{Engine, FitOptions, made};
use super::target::Target;
use super::window_reach::{Border, Reach};
use crate::base::error::{Kind, Result};
use crate::base::figure::short;
use crate::base::run::Run;
use crate::family::{Family, Link};
use crate::lives::Tally;

/// Whether records settle a parameter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Identified {
    /// Its profile falls on both sides, about as the curvature says.
    Yes,
    /// Its profile falls on one side only, as where the parameter ends on the other, or on one side more than three times
    /// as slowly or as fast as the curvature says.
    Weakly,
    /// Its profile does not fall enough, or stays level over a stretch: a point would say more than the records do.
    No,
}

impl Identified {
    /// The word: `yes`, `weakly` or `no`.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::Weakly => "weakly",
            Self::No => "no",
        }
    }
}

/// What the records say of one parameter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// Name of the parameter.
    pub parameter: String,
    /// Whether it is settled.
    pub identified: Identified,
    /// Lower end of its 95 % interval; none where the records do not bound it.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// How the ends were found.
    pub method: IntervalMethod,
    /// Pairs of a value and how far the profile lies below its maximum there; empty where the parameter is settled.
    pub profile: Vec<(f64, f64)>,
}

impl Mark {
    /// The bounds in words, such as `at most 0.31`.
    pub fn bounds(&self) -> String {
        self.bounds_up_to(f64::INFINITY)
    }

    /// The same; an upper bound above `most` is past any use and said to be none.
    fn bounds_up_to(&self, most: f64) -> String {
        match (self.low, self.high) {
            (Some(low), Some(high)) if high > most => {
                format!("at least {}, with no upper bound from these records", short(low))
            }
            (None, Some(high)) if high > most => "no bound from these records".to_owned(),
            (Some(low), Some(high)) => format!("between {} and {}", short(low), short(high)),
            (Some(low), None) => format!("at least {}", short(low)),
            (None, Some(high)) => format!("at most {}", short(high)),
            (None, None) => "anything".to_owned(),
        }
    }
}

/// How many times the oldest lamp at risk, and the estimate, an upper bound may reach and still be read.
///
/// Our choice, without a source: no lamp of the class was seen near such an age, the hour limit lies far below it, and no
/// decision asks so far; what the likelihood says there is the tail of the family and no finding. The estimate counts as
/// well, since the scale of a light wear, well settled, may lie far past the oldest lamp.
const PAST_USE: f64 = 10.0;

/// The value above which an upper bound is past any use and is said to be none.
pub(crate) fn past_use(facts: &Facts, estimate: f64) -> f64 {
    PAST_USE * facts.oldest_at_risk_hours.max(estimate)
}

/// Notes that go with marks.
const SLUGS: [&str; 5] =
    ["fit.weakly_identified", "fit.parameter_open", "fit.claims_only", "fit.one_kind_enough", "fit.not_marked"];
/// Level of the intervals that mark a parameter.
const LEVEL: f64 = 0.95;
/// Standard error of a coordinate, in its natural size, up to which the curvature of a plain family is believed.
const SETTLED: f64 = 0.25;
/// Ratio of a profile's reach to that of the curvature from which they disagree grossly.
const GROSSLY: f64 = 3.0;
/// Distance from the estimate, in natural sizes, from which a profile that has not fallen is level: one that curves would
/// have a standard error of 70 natural sizes.
const STRETCH: f64 = 0.1;
/// Fall that is none: far above the rounding of a log-likelihood, far below what tells two values apart.
const LEVEL_TO: f64 = 1e-6;
/// Rows up to which a fit marks its parameters unasked, even where that takes many refits.
pub(super) const UNASKED: usize = 10_000;
/// Iterations of one search along a profile: a flat surface must not cost more.
pub(super) const ITERATIONS: u64 = 40;
/// Times that a fit starts again from a point above it.
const RESTARTS: usize = 4;
/// Values at which a profile is kept, to each side.
const KEPT: i32 = 6;

impl Fit {
    /// What the records say of each parameter, in the order of the family; empty where it was not looked at: a fit of
    /// more than 10,000 distinct rows whose curvature does not settle it. [`Fit::identify`] looks then.
    pub fn identified(&self) -> &[Mark] {
        &self.identified
    }

    /// The same fit with every parameter marked from its profile likelihood.
    ///
    /// A parameter is settled if its 95 % profile interval is bounded on both sides and reaches, on the unconstrained
    /// scale, between a third and three times as far as the curvature says. It is weakly settled if the interval is
    /// open on one side or the two disagree. It is not settled if the interval is open on both sides, or if the profile
    /// stays level over a stretch, as that of each rate of two causes with even rates, of which only the sum is settled; a
    /// share, also if its interval reaches 0 or 1, as then there may be no such lamps; and, where a window shows failures only, also
    /// if it is open on one side: such records tell how failures lie within the window and no more.
    ///
    /// Next to an exact first failure the likelihood of a life with a failure-free time has no bound. A profile that runs up
    /// to it says nothing of the maximum before it: the parameter is then weakly settled, between ends from the curvature.
    ///
    /// With fewer failures than the family has parameters nothing is more than weakly settled: what closes the profile is
    /// then the form of the family, as one failure among many lamps closes that of a shape.
    ///
    /// The share of a mixture is not settled either where one kind of lamps explains the records about as well, and the
    /// parameters of the two kinds are weakly settled at best. That is judged by the rise of the log-likelihood over the best
    /// single life, since where there is one kind chance often puts the share away from 0, as other parameters move with
    /// it. [`super::likelihood_ratio_bootstrap`] gives the chance itself.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted.
    ///
    /// # Errors
    /// `fit.other_data` if the tally is not the fitted one, and `run.stopped`.
    ///
    /// # Numerics
    /// The inner searches start from the fit, from its other peaks and, beyond each end, from all over the domain, as in
    /// [`Fit::profile`]. Where one comes upon a point above the fit, the fit moves to the peak that the point leads to and is
    /// marked anew.
    ///
    /// # Source
    /// A. Raue and others (2009), Bioinformatics 25, 1923-1929: identifiability by profile likelihood (from memory).
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, Identified, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let (options, run) = (FitOptions::default(), Run::new());
    /// let wear = fit(family("weibull")?, &tally, &options, &run)?.identify(&tally, &options, &run)?;
    /// assert!(wear.identified().iter().all(|m| m.identified == Identified::Yes));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn identify(&self, tally: &Tally, options: &FitOptions, run: &Run) -> Result<Self> {
        let mut here = self.clone();
        for _ in 0..RESTARTS {
            let (marked, risen) = here.marked_by_profile(tally, options, run)?;
            match here.higher_from(&risen, tally, options, run)? {
                Some(higher) => here = higher,
                None => return Ok(marked),
            }
        }
        Ok(here.marked_by_profile(tally, options, run)?.0)
    }

    /// The log-likelihood after moves to higher peaks that a few steps along each profile come upon, as [`Fit::identify`]
    /// does with whole profiles; they end at `enough`.
    pub(super) fn highest_on_profiles(
        &self,
        tally: &Tally,
        options: &FitOptions,
        enough: f64,
        run: &Run,
    ) -> Result<f64> {
        let width = self.family()?.width();
        let along = FitOptions { iterations: options.iterations.min(ITERATIONS), ..options.clone() };
        let (mut here, mut moves, mut flat) = (self.clone(), 0, 0);
        for i in (0..width).cycle() {
            // Each profile is looked at once from where the fit stands.
            if here.log_likelihood >= enough || flat == width || moves == RESTARTS {
                break;
            }
            let risen = match here.rise_along(i, tally, &along, run) {
                Ok(risen) => risen,
                Err(error) if matches!(error.kind(), Kind::Refused | Kind::Domain) => None,
                Err(error) => return Err(error),
            };
            match risen {
                Some(point) => match here.higher_from(&[point], tally, options, run)? {
                    Some(higher) => (here, moves, flat) = (higher, moves + 1, 0),
                    None => flat += 1,
                },
                None => flat += 1,
            }
        }
        Ok(here.log_likelihood)
    }

    /// Every parameter marked from its profile, and the points above the fit that the profiles came upon.
    fn marked_by_profile(&self, tally: &Tally, options: &FitOptions, run: &Run) -> Result<(Self, Vec<Vec<f64>>)> {
        let family = self.family()?;
        let doubts = doubts(self, tally, options, run)?;
        let (mut marks, mut risen) = (Vec::new(), Vec::new());
        for (i, name) in family.parameter_names().iter().enumerate() {
            let (mark, above) = self.mark(family, i, name, &doubts, tally, options, run)?;
            marks.push(mark);
            risen.extend(above);
        }
        let mut out = self.marked(marks, claims_only(tally));
        out.notes.extend(doubts.into_iter().map(|doubt| doubt.note));
        Ok((out, risen))
    }

    /// The fit on the highest peak that lies above this one and to which some points lead; none where they lead to none.
    fn higher_from(&self, points: &[Vec<f64>], tally: &Tally, options: &FitOptions, run: &Run) -> Result<Option<Self>> {
        let family = self.family()?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let mut best: Option<Outcome> = None;
        for point in points {
            let Some(peak) = peak_from(family, &sample, point, options, run)? else { continue };
            let known = best.as_ref().map_or(self.log_likelihood + ABOVE, |b| b.point.value);
            if peak.point.value > known {
                best = Some(peak);
            }
        }
        let Some(best) = best else { return Ok(None) };
        let mut peaks = self.peaks.clone();
        let parameters = family.parameters(&best.x);
        peaks.insert(0, Peak { parameters, log_likelihood: best.point.value, searches: 1 });
        match made(family, &sample, best, peaks, Vec::new()) {
            Ok(fit) => Ok(Some(fit)),
            Err(error) if error.kind() == Kind::Refused => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// The fit with its marks and the notes that go with them.
    fn marked(&self, marks: Vec<Mark>, claims_only: bool) -> Self {
        let mut out = self.clone();
        out.notes.retain(|n| !SLUGS.contains(&n.slug.as_str()));
        for (mark, estimate) in marks.iter().zip(&self.parameters) {
            let name = &mark.parameter;
            let bounds = mark.bounds_up_to(past_use(&self.facts, *estimate));
            let note = match mark.identified {
                Identified::Yes => continue,
                Identified::Weakly => {
                    Note::new("fit.weakly_identified", format!("the records settle {name} only weakly: {bounds}"))
                }
                Identified::No => Note::new(
                    "fit.parameter_open",
                    format!("the records do not settle {name}: {bounds}; no single value stands for it"),
                ),
            };
            out.notes.push(note);
        }
        if claims_only {
            let text = "the rows show failures only: they tell how failures lie within the window (`within_window`), and how \
                        many lamps fail only together with the lamps shipped (`with_shipped`)";
            out.notes.push(Note::new("fit.claims_only", text));
        }
        out.identified = marks;
        out
    }

    /// Marks what can be marked at little cost: all by curvature where it is strong, else all by profile where there are few
    /// rows.
    pub(super) fn marked_unasked(self, tally: &Tally, options: &FitOptions, run: &Run) -> Result<Self> {
        if !self.converged {
            return Ok(self);
        }
        let family = self.family()?;
        let error = |i: usize| self.coordinate_covariance(i, i).map_or(f64::NAN, f64::sqrt);
        let strong = |i: usize| error(i) > 0.0 && error(i) < SETTLED * family.step(&self.coordinates, i);
        // Within windows a scale far too short looks settled at its peak: the curvature does not see the way out.
        // Next to a first failure the likelihood of a failure-free time has no bound, which the curvature does not see either.
        let seen = !has_peaks(family) && !claims_only(tally) && family.name() != FAILURE_FREE;
        if seen && (0..family.width()).all(strong) {
            let by_curvature = |name: &&str| {
                let ends = self.wald(&Quantity::Parameter((*name).to_owned()), LEVEL, Sides::Both)?;
                Ok(mark(name, Identified::Yes, &ends))
            };
            let marks = family.parameter_names().iter().map(by_curvature).collect::<Result<_>>()?;
            return Ok(self.marked(marks, claims_only(tally)));
        }
        if tally.rows() <= UNASKED || (claims_only(tally) && !has_peaks(family)) {
            return self.identify(tally, options, run);
        }
        let mut out = if claims_only(tally) { self.marked(Vec::new(), true) } else { self };
        let text = "no parameter is marked as settled or not: there are more than 10,000 distinct rows, and the curvature does \
                    not settle it; `identify` looks";
        out.notes.push(Note::new("fit.not_marked", text));
        Ok(out)
    }

    #[allow(clippy::too_many_arguments, reason = "one parameter of one fit of one tally: none of them one thing")]
    fn mark(
        &self,
        family: &'static dyn Family,
        i: usize,
        name: &str,
        doubts: &[Doubt],
        tally: &Tally,
        options: &FitOptions,
        run: &Run,
    ) -> Result<(Mark, Option<Vec<f64>>)> {
        let options = FitOptions { iterations: options.iterations.min(ITERATIONS), ..options.clone() };
        let quantity = Quantity::Parameter(name.to_owned());
        let target = Target::Coordinate(i);
        let found = self.profile_at(tally, &options, target, quantity.clone(), (LEVEL, Sides::Both, None), run);
        let (mut ends, risen) = match found {
            Ok(found) => found,
            // Without a finite curvature, or where no search settles, nothing bounds it.
            Err(error) if matches!(error.kind(), Kind::Refused | Kind::Domain) => {
                let ends = Interval {
                    quantity,
                    estimate: None,
                    low: None,
                    high: None,
                    level: LEVEL,
                    sides: Sides::Both,
                    method: IntervalMethod::ProfileLikelihood,
                    notes: Vec::new(),
                    ratio: None,
                };
                (ends, None)
            }
            Err(error) => return Err(error),
        };
        if (ends.low.is_none() || ends.high.is_none())
            && let Some(reach) = self.reach_in_limit(family, i, name, tally, &options, run)?
        {
            (ends.low, ends.high) = (Some(reach.low), Some(reach.high));
        }
        let share = family.links().get(i) == Some(&Link::Share);
        let claims_only = claims_only(tally);
        // An end where the parameter ends is none of the records.
        let ended = ends.notes.iter().any(|note| note.slug == "fit.one_sided");
        let mut identified = match (ends.low, ends.high) {
            (Some(low), Some(high)) if low > family.floor(i) && !ended && self.as_curved(family, i, low, high)? => {
                Identified::Yes
            }
            (Some(_), Some(_)) => Identified::Weakly,
            (None, None) => Identified::No,
            _ if share || claims_only => Identified::No,
            _ => Identified::Weakly,
        };
        if identified == Identified::Yes && (self.facts.failures as usize) < family.width() {
            identified = Identified::Weakly;
        }
        if doubts.iter().any(|doubt| doubt.share == i) {
            // A share of 0 or of 1 explains the records: its own profile does not see what vanishes there.
            (identified, ends.low, ends.high) = (Identified::No, None, None);
        } else if identified == Identified::Yes && doubts.iter().any(|doubt| (doubt.from..doubt.share).contains(&i)) {
            // It may belong to a kind that is not there.
            identified = Identified::Weakly;
        }
        if family.name() == FAILURE_FREE && ends.low.is_none() && ends.high.is_none() {
            // The profile runs up to the first failure, where the likelihood has no bound, and tells nothing of the
            // maximum that was given: its curvature does.
            match self.wald(&Quantity::Parameter(name.to_owned()), LEVEL, Sides::Both) {
                Ok(by_curvature) => (identified, ends) = (Identified::Weakly, by_curvature),
                Err(error) if error.kind() == Kind::Refused => {}
                Err(error) => return Err(error),
            }
        }
        let mut mark = mark(name, identified, &ends);
        if identified != Identified::Yes {
            mark.profile = self.along(family, i, &ends, tally, &options, run)?;
        }
        if self.level(family, i, &mark.profile) {
            mark.identified = Identified::No;
        }
        Ok((mark, risen))
    }

    /// Whether the profile of parameter `i` stays level over a stretch, so that the values there explain the records equally
    /// well: as where only a sum of two rates is settled.
    fn level(&self, family: &dyn Family, i: usize, profile: &[(f64, f64)]) -> bool {
        let here = self.coordinates.get(i).copied().unwrap_or(f64::NAN);
        let least = STRETCH * family.step(&self.coordinates, i);
        profile.iter().any(|(v, fall)| *fall < LEVEL_TO && (self.coordinate(family, i, *v) - here).abs() >= least)
    }

    /// How far a parameter reaches among the likely lives where the fit stands in the limit of another one: a search from
    /// out there may not find the way back. None for a fit at a highest point, and for the parameter of the limit itself.
    fn reach_in_limit(
        &self,
        family: &'static dyn Family,
        i: usize,
        name: &str,
        tally: &Tally,
        options: &FitOptions,
        run: &Run,
    ) -> Result<Option<Reach>> {
        let Some(limit) = self.limit().filter(|limit| *limit != name) else { return Ok(None) };
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        let figure = |x: &[f64]| Ok(family.parameters(x).get(i).copied().unwrap_or(f64::NAN));
        let floor = self.log_likelihood - 0.5 * critical(LEVEL, Sides::Both)?.powi(2);
        let walked = family.parameter_names().iter().position(|n| *n == limit).unwrap_or(family.anchor());
        let border =
            Border { engine: &engine, family, figure: &figure, floor, iterations: options.iterations, run, walked };
        border.reach(&self.coordinates)
    }

    /// Whether both ends lie about as far out as the curvature says.
    fn as_curved(&self, family: &dyn Family, i: usize, low: f64, high: f64) -> Result<bool> {
        let reach = critical(LEVEL, Sides::Both)? * self.coordinate_covariance(i, i).map_or(f64::NAN, f64::sqrt);
        let here = self.coordinates.get(i).copied().unwrap_or(f64::NAN);
        let close = |end: f64| {
            let ratio = (self.coordinate(family, i, end) - here).abs() / reach;
            ratio < GROSSLY && ratio > 1.0 / GROSSLY
        };
        Ok(close(low) && close(high))
    }

    /// Coordinate of a value of parameter `i`.
    fn coordinate(&self, family: &dyn Family, i: usize, value: f64) -> f64 {
        let mut parameters = self.parameters.clone();
        if let Some(slot) = parameters.get_mut(i) {
            *slot = value;
        }
        family.coordinates(&parameters).ok().and_then(|x| x.get(i).copied()).unwrap_or(f64::NAN)
    }

    /// The profile at evenly spaced coordinates from one end to the other; an open end is walked six natural steps out.
    fn along(
        &self,
        family: &'static dyn Family,
        i: usize,
        ends: &Interval,
        tally: &Tally,
        options: &FitOptions,
        run: &Run,
    ) -> Result<Vec<(f64, f64)>> {
        let here = self.coordinates.get(i).copied().unwrap_or(f64::NAN);
        let unit = family.step(&self.coordinates, i);
        let reach = |end: Option<f64>| {
            let there = end.map_or(f64::NAN, |v| (self.coordinate(family, i, v) - here).abs());
            if there.is_finite() { there } else { 6.0 * unit }
        };
        let (down, up) = (reach(ends.low), reach(ends.high));
        let mut at: Vec<f64> = (1..=KEPT).rev().map(|k| here - down * f64::from(k) / f64::from(KEPT)).collect();
        at.push(here);
        at.extend((1..=KEPT).map(|k| here + up * f64::from(k) / f64::from(KEPT)));
        at.dedup();
        self.falls_at(i, &at, tally, options, run)
    }
}

fn mark(name: &str, identified: Identified, ends: &Interval) -> Mark {
    Mark {
        parameter: name.to_owned(),
        identified,
        low: ends.low,
        high: ends.high,
        method: ends.method,
        profile: Vec::new(),
    }
}
