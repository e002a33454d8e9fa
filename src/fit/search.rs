//! From a sample and a family to the maximum of the likelihood.

use super::failure_free::{self, FAILURE_FREE};
use super::kernel::{PowerRows, Powers};
use super::likelihood::Likelihood;
use super::model::{Facts, Fit, Note, failure_notes};
use super::newton::{Outcome, Point, Stop, Surface, climb, wander};
use super::peaks::{Found, has_peaks, highest};
use super::pieces::{self, PIECEWISE};
use super::refusal;
use super::sample::{Count, Sample};
use crate::base::error::Result;
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
/// by profile likelihood where there are at most 10,000 distinct rows, else on request.
///
/// The likelihood of a family made of others, and of the generalised gamma, may have several peaks. It is searched from
/// several starts; [`Fit::peaks`] lists what was found, and the highest is the fit. Where a part shrinks onto one exact age
/// the likelihood has no bound; such points are no peaks. Two parts of one family stand in the order of their medians.
///
/// # Errors
/// Refused: `fit.no_failures`, `fit.no_exposure`, `fit.exact_age_zero`, `fit.one_failure_oldest`, `fit.one_age`,
/// `fit.one_interval`, `fit.not_identified`, `fit.empty_piece`, `fit.no_interior_maximum`, and for families made of
/// others `fit.part_on_one_age`, `fit.one_kind`, `fit.all_fail`, each with the best bound or the alternative that still
/// holds. Input: `fit.weight`, `fit.weights_length`. `run.stopped` after a stop. A search that stopped early is a [`Fit`]
/// that has not converged.
pub fn fit(family: &dyn Family, tally: &Tally, options: &FitOptions, run: &Run) -> Result<Fit> {
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    fit_sample(family, &sample, options, run)?.marked_unasked(tally, options, run)
}

pub(super) fn fit_sample(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Fit> {
    let count = sample.count;
    refusal::check(sample, &count, family)?;
    let Found { outcome, peaks, notes: found } = if has_peaks(family) {
        highest(family, sample, options, run)?
    } else {
        Found { outcome: maximise(family, sample, options, run)?, peaks: Vec::new(), notes: Vec::new() }
    };
    let inside = family.inside(&outcome.x);
    let free = outcome.free_information();
    let moving = outcome.held.iter().filter(|held| !**held).count();
    let Some(inverse) = inverse(&free, moving).filter(|_| outcome.point.value.is_finite() && inside) else {
        return Err(refusal::not_identified(family.name(), &count));
    };
    let covariance = outcome.spread_out(&inverse);
    if blind(family, &covariance) {
        return Err(refusal::not_identified(family.name(), &count));
    }
    if !outcome.converged() && outcome.stop == Stop::NoProgress && at_edge(family, &outcome.x) {
        return Err(refusal::not_identified(family.name(), &count));
    }
    Ok(Fit {
        family: family.name().to_owned(),
        parameters: family.parameters(&outcome.x),
        covariance,
        log_likelihood: outcome.point.value,
        scaled_gradient: outcome.point.scaled_gradient(&outcome.held),
        condition: scaled_condition(&free, moving),
        iterations: outcome.iterations,
        stop: outcome.stop,
        converged: outcome.converged(),
        notes: failure_notes(count.failures).into_iter().chain(found).chain(notes(family, sample, &outcome)).collect(),
        peaks,
        identified: Vec::new(),
        facts: facts(&count),
        coordinates: outcome.x,
    })
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

/// Standard error of a logarithm above which nothing is known.
///
/// Our choice, without a source: one standard error is then a factor of e^20, about half a thousand million, which no
/// lamp record leaves open unless the likelihood only flattens out; an estimate that is merely poor stays far below.
pub(super) const BLIND: f64 = 20.0;

/// Whether the records say nothing about a parameter: the likelihood rises for ever and only its steps have died away.
fn blind(family: &dyn Family, covariance: &[f64]) -> bool {
    let variance = |i: usize| covariance.get(packed(i, i)).copied().unwrap_or(f64::NAN);
    family.links().iter().enumerate().any(|(i, link)| !matches!(link, Link::Hours) && variance(i) > BLIND * BLIND)
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
