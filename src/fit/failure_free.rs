//! The Weibull life with a failure-free time: a likelihood that grows without bound as that time nears an exact first
//! failure, so that the search is for the highest maximum below it.

use super::held::{Condition, Held};
use super::model::Note;
use super::newton::{Outcome, Point, Stop, Surface, climb};
use super::refusal::{failures, not_identified, refused};
use super::sample::{Evidence, Sample};
use super::search::{Engine, FitOptions, fit};
use crate::base::error::{Error, Result};
use crate::base::run::Run;
use crate::family::{Family, Order, WeibullFailureFreeFamily, WeibullFamily};

/// Name of the family.
pub(super) const FAILURE_FREE: &str = "weibull_failure_free";
/// Place of the failure-free time among its coordinates.
pub(super) const LOCATION: usize = 2;
/// What is left between the failure-free time and the first failure, as a share of that age, from step to step.
const CLOSER: f64 = 0.8;
/// Smallest share: closer, only the pole of an exact first failure is left.
const CLOSEST: f64 = 1e-6;
/// Step to the age readings that an alternative supposes, hours.
const READING_HOURS: f64 = 1.0;

/// The first age by which a lamp had failed, and whether it is exact.
pub(super) fn first_failure(sample: &Sample) -> (f64, bool) {
    let mut first = (f64::INFINITY, false);
    for (_, row) in failures(sample) {
        let (age, exact) = match row.evidence {
            Evidence::Exact(age) => (age, true),
            Evidence::Between(_, high) => (high, false),
            Evidence::Passed(_) => continue,
        };
        if age < first.0 || (age == first.0 && exact) {
            first = (age, exact);
        }
    }
    first
}

/// The age past which a failure-free time cannot lie; none for other families.
pub(super) fn ceiling(family: &dyn Family, sample: &Sample) -> Option<f64> {
    let (first, _) = first_failure(sample);
    (family.name() == FAILURE_FREE && first.is_finite()).then_some(first)
}

/// Whether the failure-free time stands at an exact first failure, where the likelihood has no bound.
pub(super) fn at_pole(sample: &Sample, x: &[f64]) -> bool {
    let (first, exact) = first_failure(sample);
    exact && x.get(LOCATION).is_some_and(|location| *location > first * (1.0 - CLOSEST))
}

/// Failure-free times to look at, ascending: from 0, ever closer to the first failure, and where intervals start, for there
/// the likelihood has corners.
fn places(sample: &Sample, first: f64) -> Vec<f64> {
    let mut out = vec![0.0];
    let mut left = CLOSER;
    while left > CLOSEST {
        out.push(first * (1.0 - left));
        left *= CLOSER;
    }
    out.extend(corners(sample, first));
    out.sort_by(f64::total_cmp);
    out.dedup();
    out
}

/// Starts of the intervals that hold failures, before the first age by which a lamp had failed.
fn corners(sample: &Sample, first: f64) -> Vec<f64> {
    let starts = failures(sample).filter_map(|(_, row)| match row.evidence {
        Evidence::Between(low, _) if low > 0.0 && low < first => Some(low),
        _ => None,
    });
    let mut out: Vec<f64> = starts.collect();
    out.sort_by(f64::total_cmp);
    out.dedup();
    out
}

/// The highest maximum with a failure-free time from 0 on: 0 itself counts, where the likelihood falls from there.
pub(super) fn maximise(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Outcome> {
    let engine = Engine::new(family, sample, false);
    let (first, exact) = first_failure(sample);
    let at = |location: f64| {
        let condition = Condition::Fixed(location);
        Held { engine: &engine, family, settled: LOCATION, along: None, condition }
    };
    let mut tried: Vec<(f64, Outcome)> = Vec::new();
    for location in places(sample, first) {
        let mut starts: Vec<Vec<f64>> = tried.last().map(|(_, o)| o.x.clone()).into_iter().collect();
        starts.extend(WeibullFamily.starts(&sample.outline()));
        for start in starts {
            let outcome = climb(&at(location), &start, options.iterations, run)?;
            if outcome.converged() {
                tried.push((location, outcome));
                break;
            }
        }
    }
    let corners = corners(sample, first);
    let mut best: Option<Outcome> = None;
    for (i, (location, outcome)) in tried.iter().enumerate() {
        let height = |j: Option<usize>| j.and_then(|j| tried.get(j)).map(|t| t.1.point.value);
        let (before, after) = (height(i.checked_sub(1)), height(Some(i + 1)));
        // Next to an exact first failure a rise only leads to the pole.
        let peak =
            before.is_none_or(|v| v <= outcome.point.value) && after.map_or(!exact, |v| v <= outcome.point.value);
        if !peak {
            continue;
        }
        let mut start = outcome.x.clone();
        start.insert(LOCATION, *location);
        let mut found = climb(&engine, &start, options.iterations, run)?;
        if !found.converged() && corners.contains(location) {
            found = cornered(&engine, *location, outcome)?;
        }
        let below = found.x.get(LOCATION).is_some_and(|l| *l < first);
        if found.converged() && below && best.as_ref().is_none_or(|b| found.point.value > b.point.value) {
            best = Some(found);
        }
    }
    match best {
        Some(best) => Ok(best),
        None if exact => Err(no_maximum(sample, options, first, run)),
        None => Err(not_identified(family.name(), &sample.count)),
    }
}

/// The maximum on a corner: the failure-free time is held there, as no slope vanishes.
fn cornered(engine: &Engine, location: f64, outcome: &Outcome) -> Result<Outcome> {
    let mut x = outcome.x.clone();
    x.insert(LOCATION, location);
    let mut point = Point::new(x.len());
    engine.at(&x, Order::Hessian, &mut point)?;
    let held = vec![false, false, true];
    Ok(Outcome { x, point, iterations: outcome.iterations, stop: Stop::Gradient, held })
}

/// What a reader of such a fit must know.
pub(super) fn note(family: &dyn Family, sample: &Sample) -> Option<Note> {
    let (first, exact) = first_failure(sample);
    (family.name() == FAILURE_FREE && exact).then(|| {
        Note::new(
            "fit.local_maximum",
            format!(
                "the likelihood grows without bound as the failure-free time nears the first failure at {first} h; \
                 this is its highest maximum before that"
            ),
        )
    })
}

/// The likelihood rises all the way to the pole: says so, and what can be said instead.
fn no_maximum(sample: &Sample, options: &FitOptions, first: f64, run: &Run) -> Error {
    let mut hint = String::new();
    if let Ok(plain) = fit(&WeibullFamily, sample.tally, options, run) {
        let figure = |name| plain.parameter_at_maximum(name).unwrap_or(f64::NAN);
        hint = format!(
            "without a failure-free time (family weibull): shape {:.4}, scale {:.1} h, log-likelihood {:.4}; ",
            figure("shape"),
            figure("scale"),
            plain.log_likelihood()
        );
    }
    hint.push_str("ages that are readings of a meter bound the likelihood: give them as such (Tally::read_exact, in Python tally.read_exact)");
    let read = FitOptions { weights: None, ..options.clone() };
    if options.weights.is_none()
        && let Ok(tally) = sample.tally.read_exact(READING_HOURS)
        && let Ok(found) = fit(&WeibullFailureFreeFamily, &tally, &read, run)
        && let Ok(life) = found.life_at_maximum()
    {
        let share = life.b_life(10.0).unwrap_or(f64::NAN);
        let [location, shape, scale] =
            ["location", "shape", "scale"].map(|name| found.parameter_at_maximum(name).unwrap_or(f64::NAN));
        hint = format!(
            "{hint}, such as whole hours: failure-free time {location:.1} h, shape {shape:.4}, scale {scale:.1} h, and \
             10 % failed by {share:.1} h"
        );
    }
    let what = format!(
        "a Weibull life with a failure-free time has no best fit here: the likelihood rises from 0 h on to the first failure \
         at {first} h, where it grows without bound"
    );
    refused("fit.no_interior_maximum", what, hint)
}
