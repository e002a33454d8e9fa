//! From a sample and a family to the maximum of the likelihood.

use super::failure_free::{self, FAILURE_FREE};
use super::held::{Condition, Held};
use super::kernel::{PowerRows, Powers};
use super::likelihood::Likelihood;
use super::model::{AT_LIMIT, Facts, Fit, Note, failure_notes_of};
use super::newton::{Outcome, Point, Stop, Surface, climb, wander};
use super::peaks::{Found, Missed, Peak, has_peaks, highest};
use super::pieces::{self, PIECEWISE};
use super::refusal;
use super::sample::{Count, Sample};
use crate::base::error::{Kind, Result};
use crate::base::figure::short;
use crate::base::math::linalg::{inverse, packed, scaled_condition};
use crate::base::math::sum;
use crate::base::run::Run;
use crate::family::{Family, Link, Order};
use crate::lives::Tally;
use crate::records::Ending;
use std::sync::Arc;

/// How to fit. `FitOptions::default()` is right for most.
#[derive(Clone, Debug, PartialEq)]
pub struct FitOptions {
    /// Endings that count as failure; failures with another ending are right-censored at their `low`. None: all failures count.
    pub endings: Option<Vec<Ending>>,
    /// Real weights, one per row, times the counts. None: counts only.
    pub weights: Option<Vec<f64>>,
    /// Largest number of iterations of one search.
    pub iterations: u64,
    /// Whether a family's closed reduction may be used; it gives the same answer faster.
    pub reduced: bool,
}

impl Default for FitOptions {
    fn default() -> Self {
        Self { endings: None, weights: None, iterations: 100, reduced: true }
    }
}

/// Fits a family to a tally by maximum likelihood.
///
/// Exact failures, right-, left- and interval-censored lives, late entry and windows all enter one likelihood, with whole
/// counts and optional real weights.
///
/// Each parameter is marked settled, weakly settled or not, see [`Fit::identify`]: by curvature where that is strong, else
/// by profile likelihood where there are at most 10,000 distinct rows, else on request. Records that show failures only
/// are always marked by profile.
///
/// The likelihood of a family made of others, and of the generalised gamma, may have several peaks. It is searched from
/// several starts; [`Fit::peaks`] lists what was found, and the highest is the fit. Where a part shrinks onto one exact age
/// the likelihood has no bound; such points are no peaks. Two parts of one family stand in the order of their medians.
///
/// Records that show failures only, each within a window, do not settle how many lamps fail. Where the likelihood then rises
/// for ever along one parameter the fit stands in its limit, which a note says (`fit.at_limit`): the parameter is marked as
/// not settled, and [`Fit::within_window`] gives what the records do tell.
///
/// # Errors
/// Refused: `fit.no_failures`, `fit.no_exposure`, `fit.exact_age_zero`, `fit.one_failure_oldest`, `fit.one_age`,
/// `fit.one_interval`, `fit.not_identified`, which says where the search ran and which families do fit, `fit.empty_piece`,
/// `fit.no_interior_maximum`, and for families made of others `fit.part_on_one_age`, `fit.one_kind`, `fit.all_fail`,
/// each with the best bound or the alternative that still holds. Input: `fit.weight`, `fit.weights_length`. `run.stopped` after a stop. A search that stopped early is a [`Fit`]
/// that has not converged.
pub fn fit(family: &dyn Family, tally: &Tally, options: &FitOptions, run: &Run) -> Result<Fit> {
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    match fit_or_edge(family, &sample, options, run) {
        Ok(fit) => fit.marked_unasked(tally, options, run),
        Err(Missed { why, .. }) if why.slug() == "fit.not_identified" && !sample.count.windowed => {
            Err(refusal::with_families(why, family, &sample, options, run)?)
        }
        Err(missed) => Err(missed.why),
    }
}

pub(super) fn fit_sample(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Fit> {
    fit_or_edge(family, sample, options, run).map_err(|missed| missed.why)
}

/// The same; where there is no maximum, how high the likelihood reaches all the same, if that is known.
pub(super) fn fit_or_edge(
    family: &dyn Family,
    sample: &Sample,
    options: &FitOptions,
    run: &Run,
) -> std::result::Result<Fit, Missed> {
    let count = sample.count;
    if let Err(why) = refusal::check(sample, &count, family) {
        let edge = if why.slug() == "fit.empty_piece" { pieces::edge(family, sample, options, run)? } else { None };
        return Err(Missed { why, edge });
    }
    if has_peaks(family) {
        let Found { outcome, peaks, notes } = highest(family, sample, None, options, run)?;
        // A peak on a plateau is no fit, but the likelihood does reach that high.
        let edge = outcome.point.value.is_finite().then_some(outcome.point.value);
        return made(family, sample, outcome, peaks, notes).map_err(|why| Missed { why, edge });
    }
    let outcome = maximise(family, sample, options, run)?;
    let edge = flat(family, &outcome).then_some(outcome.point.value);
    let x = outcome.x.clone();
    match made(family, sample, outcome, Vec::new(), Vec::new()) {
        Ok(fit) => Ok(fit),
        Err(why) if count.windowed && why.kind() == Kind::Refused => {
            window_limit(family, sample, &x, options, run)?.ok_or(Missed { why, edge })
        }
        Err(why) => Err(Missed { why, edge }),
    }
}

/// The fit of a sample much like one whose maximum is known, such as one drawn from there: where there may be several peaks,
/// the higher one of those to which the known coordinates and one other start lead.
pub(super) fn fit_near(
    family: &dyn Family,
    sample: &Sample,
    known: &[f64],
    options: &FitOptions,
    run: &Run,
) -> Result<Fit> {
    if !has_peaks(family) {
        return fit_sample(family, sample, options, run);
    }
    refusal::check(sample, &sample.count, family)?;
    let Found { outcome, peaks, notes } = highest(family, sample, Some(known), options, run).map_err(|m| m.why)?;
    made(family, sample, outcome, peaks, notes)
}

/// Steps that a coordinate is moved on towards the limit of claims-only records, the first in its natural size.
const LIMIT_STEPS: u32 = 40;
/// Rise of the log-likelihood over the last step, as long as all before it, from which the limit is reached: about as much
/// is missing where what is left falls like one over the distance.
const LIMIT_RISE: f64 = 1e-6;
/// Log-likelihood missing to the limit that a note tells of.
const STILL_MISSING: f64 = 1e-4;

/// The fit of records that show failures only where the likelihood rises for ever along one coordinate: such records
/// settle how failures lie within the window, and that has a limit. The coordinate is moved on until the likelihood stands
/// still, and held there.
fn window_limit(
    family: &dyn Family,
    sample: &Sample,
    x: &[f64],
    options: &FitOptions,
    run: &Run,
) -> Result<Option<Fit>> {
    let engine = Engine::new(family, sample, false);
    let others = (0..x.len()).filter(|i| *i != family.anchor());
    for settled in std::iter::once(family.anchor()).chain(others) {
        let Some(mut value) = x.get(settled).copied() else { continue };
        let mut from = x.to_vec();
        from.remove(settled);
        let (mut best, mut step): (Option<Outcome>, Option<f64>) = (None, None);
        let mut missing = 0.0;
        for _ in 0..LIMIT_STEPS {
            let held = Held { engine: &engine, family, settled, along: None, condition: Condition::Fixed(value) };
            let there = climb(&held, &from, options.iterations, run)?;
            if !settled_there(&there) {
                break;
            }
            let mut full = there.x.clone();
            full.insert(settled, value);
            let mut point = Point::new(full.len());
            engine.at(&full, Order::Hessian, &mut point)?;
            let slope = point.gradient.get(settled).copied().unwrap_or(f64::NAN);
            let risen = best.as_ref().map(|b| point.value - b.point.value);
            if !point.value.is_finite() || !slope.is_finite() || risen.is_some_and(|r| r < 0.0) {
                break;
            }
            // What is left falls like one over the coordinate, or faster.
            let before = best.as_ref().and_then(|b| b.x.get(settled)).map_or(f64::NAN, |v| v.abs());
            missing = risen.map_or(0.0, |rise| rise * before / (value.abs() - before));
            let mut at_rest = vec![false; full.len()];
            at_rest[settled] = true;
            best = Some(Outcome { x: full, point, iterations: there.iterations, stop: Stop::Gradient, held: at_rest });
            if risen.is_some_and(|r| r < LIMIT_RISE) {
                break;
            }
            from = there.x;
            let by = step.map_or(family.step(x, settled) * slope.signum(), |s| 2.0 * s);
            (value, step) = (value + by, Some(by));
        }
        let Some(best) = best else { continue };
        let (at, rises) = (best.x.get(settled).copied().unwrap_or(f64::NAN), step.unwrap_or(0.0) > 0.0);
        let Ok(mut fit) = made(family, sample, best, Vec::new(), Vec::new()) else { continue };
        let name = family.parameter_names().get(settled).copied().unwrap_or("parameter");
        let to = if rises { "grows" } else { "falls" };
        let stands = if missing > STILL_MISSING {
            format!(
                "at the end of the numbers it may take, at most about {} in log-likelihood below its limit,",
                short(missing)
            )
        } else {
            "where it no longer gains,".to_owned()
        };
        fit.notes.retain(|note| note.slug != "fit.at_corner");
        fit.limit = Some(name.to_owned());
        fit.notes.push(Note::new(
            AT_LIMIT,
            format!(
                "the likelihood rises for ever as {name} {to}: the fit stands {stands} at a coordinate of {at:.1}, and tells \
                 how failures lie within the window (`within_window`) and nothing else"
            ),
        ));
        return Ok(Some(fit));
    }
    Ok(None)
}

/// Whether a search with a coordinate held settled; without any other coordinate there is nothing to settle.
fn settled_there(there: &Outcome) -> bool {
    there.x.is_empty() || there.converged()
}

/// The fit that stands where a search ended.
pub(super) fn made(
    family: &dyn Family,
    sample: &Sample,
    outcome: Outcome,
    peaks: Vec<Peak>,
    found: Vec<Note>,
) -> Result<Fit> {
    let count = sample.count;
    let inside = family.inside(&outcome.x);
    let free = outcome.free_information();
    let moving = outcome.held.iter().filter(|held| !**held).count();
    let inverse = if moving == 0 { Some(Vec::new()) } else { inverse(&free, moving) };
    let Some(inverse) = inverse.filter(|_| outcome.point.value.is_finite() && inside) else {
        return Err(refusal::ran_away(family, &count, &outcome.x));
    };
    let covariance = outcome.spread_out(&inverse);
    if blind(family, &outcome, &covariance) {
        return Err(refusal::ran_away(family, &count, &outcome.x));
    }
    if refusal::runs_to_even_rate(family, &outcome.x, outcome.converged(), &count) {
        return Err(refusal::ran_away(family, &count, &outcome.x));
    }
    if !outcome.converged() && outcome.stop == Stop::NoProgress && at_edge(family, &outcome.x) {
        return Err(refusal::ran_away(family, &count, &outcome.x));
    }
    Ok(Fit {
        family: family.name().to_owned(),
        parameters: family.parameters(&outcome.x),
        covariance,
        log_likelihood: outcome.point.value,
        scaled_gradient: outcome.point.scaled_gradient(&outcome.held),
        condition: if moving == 0 { 1.0 } else { scaled_condition(&free, moving) },
        iterations: outcome.iterations,
        stop: outcome.stop,
        converged: outcome.converged(),
        notes: failure_notes_of(family.name(), count.failures)
            .into_iter()
            .chain(found)
            .chain(notes(family, sample, &outcome))
            .collect(),
        peaks,
        limit: None,
        first_failure: failure_free::ceiling(family, sample),
        identified: Vec::new(),
        facts: facts(&count),
        coordinates: outcome.x,
    })
}

/// Rise of the log-likelihood over one natural size of a coordinate below which a search towards no maximum has arrived:
/// slopes along a logarithm die away like the distance left, so that about as much is missing.
const ARRIVED: f64 = 1e-4;

/// Whether a search that found no maximum ended where the likelihood has risen as far as it can.
fn flat(family: &dyn Family, outcome: &Outcome) -> bool {
    let slopes = outcome.point.gradient.iter().enumerate();
    let still = |(i, g): (usize, &f64)| g.abs() * family.step(&outcome.x, i) < ARRIVED;
    outcome.point.value.is_finite() && outcome.x.len() == family.width() && slopes.into_iter().all(still)
}

/// What the place of the maximum calls for.
fn notes(family: &dyn Family, sample: &Sample, outcome: &Outcome) -> Vec<Note> {
    let mut notes = Vec::new();
    for (i, _) in outcome.held.iter().enumerate().filter(|(_, held)| **held) {
        let name = family.parameter_names().get(i).copied().unwrap_or("parameter");
        let value = outcome.x.get(i).copied().unwrap_or(f64::NAN);
        notes.push(if value <= family.floor(i) {
            Note::new(
                "fit.at_boundary",
                format!(
                    "the likelihood is highest where {name} ends, at {value}: the other figures hold for that value"
                ),
            )
        } else {
            Note::new(
                "fit.at_corner",
                format!("the likelihood has a corner at {name} {value}: the other figures hold for that value"),
            )
        });
    }
    notes.extend(failure_free::note(family, sample));
    notes
}

pub(super) fn facts(count: &Count) -> Facts {
    Facts {
        lamps: count.lamps,
        failures: count.failures,
        censored: count.lamps - count.failures,
        exposure_hours: count.exposure,
        oldest_at_risk_hours: count.oldest,
        oldest_failure_hours: count.oldest_failure,
    }
}

/// A logarithmic coordinate other than the anchor, which holds hours, beyond which the search has run away.
const EDGE: f64 = 11.0;
/// The same for every logarithmic coordinate.
const FAR: f64 = 699.0;

/// Standard error of a logarithm above which nothing is known, unless the search has come to rest on a highest point.
///
/// Our choice, without a source: one standard error is then a factor of e^20, about half a thousand million, which no
/// lamp record leaves open unless the likelihood only flattens out; an estimate that is merely poor stays far below.
pub(super) const BLIND: f64 = 20.0;
/// The same wherever the search has come to: the curvature is then no more than rounding.
const LOST: f64 = 1e4;
/// Newton step, in natural sizes, from which a search is still on its way: where a likelihood only flattens out, the steps
/// stay as long as the scale on which its slope dies away, and at a highest point none is left.
const ON_ITS_WAY: f64 = 1e-3;

/// Whether the records say nothing about a parameter: the likelihood rises for ever and only its slope has died away.
fn blind(family: &dyn Family, outcome: &Outcome, covariance: &[f64]) -> bool {
    let entry = |i: usize, j: usize| covariance.get(packed(i, j)).copied().unwrap_or(f64::NAN);
    let links = || family.links().iter().enumerate().filter(|(_, link)| !matches!(link, Link::Hours));
    if !links().any(|(i, _)| entry(i, i) > BLIND * BLIND) {
        return false;
    }
    let slopes =
        || outcome.point.gradient.iter().enumerate().filter(|(j, _)| !outcome.held.get(*j).is_some_and(|h| *h));
    let still = |i: usize| {
        let step: f64 = slopes().map(|(j, slope)| entry(i, j) * slope).sum();
        step.abs() < ON_ITS_WAY * family.step(&outcome.x, i)
    };
    links().any(|(i, _)| entry(i, i) > LOST * LOST) || !(0..outcome.x.len()).all(still)
}

fn at_edge(family: &dyn Family, x: &[f64]) -> bool {
    let shape = |i: usize| x.len() > 1 && i != family.anchor();
    family.links().iter().zip(x).enumerate().any(|(i, (link, c))| match link {
        Link::Hours => false,
        _ => c.abs() > if shape(i) { EDGE } else { FAR },
    })
}

/// The log-likelihood over all coordinates, by the fused kernel where it serves, fenced where numbers are finite.
#[derive(Debug)]
pub(super) struct Engine<'s> {
    likelihood: Likelihood<'s>,
    power: Option<Powers<'s>>,
}

impl<'s> Engine<'s> {
    pub(super) fn new(family: &'s dyn Family, sample: &'s Sample<'s>, reduced: bool) -> Self {
        let rows = if reduced && family.name() == "weibull" { PowerRows::new(sample) } else { None };
        let power = rows.map(|rows| Powers::new(Arc::new(rows), &sample.weights));
        Self { likelihood: Likelihood { family, sample }, power }
    }

    pub(super) fn sample(&self) -> &'s Sample<'s> {
        self.likelihood.sample
    }
}

impl Surface for Engine<'_> {
    fn width(&self) -> usize {
        self.likelihood.width()
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        match &self.power {
            Some(power) => {
                power.at(x, out);
                Ok(())
            }
            None => self.likelihood.at(x, order, out),
        }
    }

    fn inside(&self, x: &[f64]) -> bool {
        self.likelihood.inside(x)
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        self.likelihood.step(x, i)
    }

    fn floor(&self, i: usize) -> f64 {
        self.likelihood.floor(i)
    }
}

/// The maximum over all coordinates, by the fastest road that is open.
pub(super) fn maximise(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Outcome> {
    let likelihood = Likelihood { family, sample };
    if options.reduced && sample.simple {
        match family.name() {
            "exponential" => return closed_exponential(&likelihood),
            "weibull" => {
                if let Some(outcome) = profiled_weibull(sample, options, run)? {
                    return Ok(outcome);
                }
            }
            name if name.starts_with(PIECEWISE) => return pieces::closed(&likelihood),
            _ => {}
        }
    }
    if family.name() == FAILURE_FREE {
        return failure_free::maximise(family, sample, options, run);
    }
    let surface = Engine::new(family, sample, false);
    let mut best: Option<Outcome> = None;
    let starts = family.starts(&sample.outline());
    for start in &starts {
        let outcome = climb(&surface, start, options.iterations, run)?;
        if outcome.converged() {
            return Ok(outcome);
        }
        keep_better(&mut best, outcome);
    }
    for start in &starts {
        if let Some(start) = wander(&surface, start) {
            let outcome = climb(&surface, &start, options.iterations, run)?;
            if outcome.converged() {
                return Ok(outcome);
            }
            keep_better(&mut best, outcome);
        }
    }
    Ok(best.unwrap_or(Outcome {
        x: Vec::new(),
        point: Point::new(family.width()),
        iterations: 0,
        stop: Stop::BadStart,
        held: Vec::new(),
    }))
}

fn keep_better(best: &mut Option<Outcome>, outcome: Outcome) {
    if best.as_ref().is_none_or(|b| !(b.point.value >= outcome.point.value)) {
        *best = Some(outcome);
    }
}

/// Exponential: mean life = hours under observation / failures.
fn closed_exponential(likelihood: &Likelihood) -> Result<Outcome> {
    let outline = likelihood.sample.outline();
    let x = vec![(outline.exposure / outline.failures).ln()];
    let mut point = Point::new(1);
    likelihood.at(&x, Order::Hessian, &mut point)?;
    Ok(Outcome { x, point, iterations: 0, stop: Stop::ClosedForm, held: vec![false] })
}

/// Rows of the thinned samples that lead a search to its start, few before many: each hands on an error four times smaller.
const STARTS: [usize; 2] = [sum::BLOCK, 16 * sum::BLOCK];

/// Weibull with the scale profiled out: a search over ln shape alone; none if it does not settle.
fn profiled_weibull(sample: &Sample, options: &FitOptions, run: &Run) -> Result<Option<Outcome>> {
    let Some(rows) = PowerRows::new(sample) else { return Ok(None) };
    let mut start = vec![0.0];
    for most in STARTS {
        if let Some((thin, weights)) = rows.thinned(&sample.weights, most) {
            let outcome = climb(&Powers::new(Arc::new(thin), &weights), &start, options.iterations, run)?;
            if outcome.converged() {
                start = outcome.x;
            }
        }
    }
    let rows = Powers::new(Arc::new(rows), &sample.weights);
    let profile = climb(&rows, &start, options.iterations, run)?;
    if !profile.converged() {
        return Ok(None);
    }
    let Some(b) = profile.x.first() else { return Ok(None) };
    let (x, point) = rows.finish(*b);
    let held = vec![false; x.len()];
    Ok(Some(Outcome { x, point, iterations: profile.iterations, stop: profile.stop, held }))
}
