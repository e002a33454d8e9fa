//! A likelihood with several branches: where the best place for a value of a quantity may lie, far from the best place for
//! its neighbour.

use std::cell::OnceCell;

use super::failure_free::{FAILURE_FREE, at_pole, first_failure};
use super::identified::{ITERATIONS, UNASKED};
use super::model::Fit;
use super::newton::{Point, Surface};
use super::peaks::{has_peaks, in_order, on_one_age, starts};
use super::pieces::PIECEWISE;
use super::pull::Top;
use super::ridge::Ridge;
use super::sample::Sample;
use super::search::{FitOptions, maximise};
use super::target::Target;
use crate::base::error::{Kind, Result};
use crate::base::run::Run;
use crate::family::{Family, Order, Parts};

/// Log-likelihood below the fit down to which a lesser peak may carry an interval: a level of 99.9 % cuts at 5.4.
const DEEP: f64 = 6.0;
/// Most lesser peaks that are looked at.
const PEAKS: usize = 4;
/// Moves of one coordinate away from the fit, in its natural size.
const FAN: [f64; 4] = [-3.0, -1.0, 1.0, 3.0];
/// Coordinates of a share at which one kind of lamps is nearly all there is.
const NEARLY_ALL: f64 = 4.0;
/// First and last step along the age scale, in natural sizes, and halvings of the last.
const FIRST: f64 = 0.05;
const MOST: f64 = 10.0;
const HALVINGS: u32 = 8;
/// Failure-free times to start from, as shares of the first failure.
const FAILURE_FREE_AT: [f64; 5] = [0.0, 0.3, 0.6, 0.9, 0.97];

/// Places other than the fit from which the best place for a value is looked for.
pub(super) struct Others<'s> {
    fit: &'s Fit,
    family: &'s dyn Family,
    options: &'s FitOptions,
    /// The lesser peaks that may carry an interval.
    pub(super) peaks: Vec<Vec<f64>>,
    far: OnceCell<Vec<Vec<f64>>>,
    likely: OnceCell<Vec<(f64, Vec<f64>)>>,
}

impl<'s> Others<'s> {
    pub(super) fn new(fit: &'s Fit, family: &'s dyn Family, options: &'s FitOptions) -> Self {
        Self { fit, family, options, peaks: lesser_peaks(fit, family), far: OnceCell::new(), likely: OnceCell::new() }
    }

    /// Places all over the domain, worked out when they are first asked for.
    pub(super) fn far(&self, sample: &Sample, run: &Run) -> Result<&[Vec<f64>]> {
        if let Some(known) = self.far.get() {
            return Ok(known);
        }
        let found = far_places(self.fit, self.family, sample, self.options, run)?;
        Ok(self.far.get_or_init(|| found))
    }

    /// Lives above the first cut that is asked for, with their heights, from the profiles of all coordinates and as far along
    /// the age scale as the cut allows: a figure without a ridge of its own takes its ends there or further out.
    pub(super) fn likely(&self, top: &Top, z: f64, run: &Run) -> Result<&[(f64, Vec<f64>)]> {
        if let Some(known) = self.likely.get() {
            return Ok(known);
        }
        let mut found: Vec<(f64, Vec<f64>)> = Vec::new();
        if top.engine.sample().tally.rows() <= UNASKED {
            let options = FitOptions { iterations: self.options.iterations.min(ITERATIONS), ..self.options.clone() };
            for i in 0..self.family.width() {
                let ridge = Ridge::new(self.fit, top.engine, Target::Coordinate(i), &options, run);
                match ridge.and_then(|ridge| ridge.places_above(self.fit, z)) {
                    Ok(places) => found.extend(places),
                    Err(error) if matches!(error.kind(), Kind::Refused | Kind::Domain) => {}
                    Err(error) => return Err(error),
                }
            }
            let cut = self.fit.log_likelihood - 0.5 * z * z;
            let mut border = Vec::new();
            for (_, x) in &found {
                for sign in [-1.0, 1.0] {
                    border.extend(stretched(top, cut, sign, x)?);
                }
            }
            found.extend(border);
        }
        Ok(self.likely.get_or_init(|| found))
    }
}

/// Whether the best place for a value may jump as the value moves on.
///
/// A life of one or two parameters, one of which the quantity settles, leaves a single one to be searched, and the
/// likelihood has one top over it. With its mean held it may have two: a Gompertz life of steep wear and one of nearly even
/// rate. Lives with pieces of even rate that pass an age alike are a flat set of hazards, over which a likelihood has one
/// top.
pub(super) fn branched(family: &dyn Family, target: Target) -> bool {
    let one_top = !matches!(target, Target::LnMean) && (family.width() <= 2 || family.name().starts_with(PIECEWISE));
    has_peaks(family) || !(target.has_ridge(family) && one_top)
}

/// The lesser peaks of a fit that may carry an interval, all coordinates of each.
fn lesser_peaks(fit: &Fit, family: &dyn Family) -> Vec<Vec<f64>> {
    let high = fit.peaks.iter().filter(|peak| peak.log_likelihood > fit.log_likelihood - DEEP);
    let places = high.filter_map(|peak| family.coordinates(&peak.parameters).ok());
    places.filter(|x| *x != fit.coordinates).take(PEAKS).collect()
}

/// Places all over the domain: moves of one coordinate away from the fit, where a fit of the records starts, and lives with
/// one part alone.
fn far_places(
    fit: &Fit,
    family: &dyn Family,
    sample: &Sample,
    options: &FitOptions,
    run: &Run,
) -> Result<Vec<Vec<f64>>> {
    let mut out = Vec::new();
    let units: Vec<f64> = (0..family.width()).map(|i| family.step(&fit.coordinates, i)).collect();
    for (i, unit) in units.iter().enumerate() {
        for by in FAN {
            let mut x = fit.coordinates.clone();
            if let Some(slot) = x.get_mut(i) {
                *slot = (*slot + by * unit).max(family.floor(i));
            }
            out.push(x);
        }
    }
    out.extend(starts(family, sample));
    out.extend(alone(family, sample, options, run)?);
    if family.name() == FAILURE_FREE {
        let first = first_failure(sample).0;
        for x in out.clone() {
            for share in FAILURE_FREE_AT {
                let mut x = x.clone();
                if let Some(slot) = x.last_mut() {
                    *slot = share * first;
                }
                out.push(x);
            }
        }
    }
    out.retain(|x| x.len() == family.width() && x.iter().all(|c| c.is_finite()));
    Ok(out)
}

/// Lives with one part alone, the other at next to nothing.
fn alone(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Vec<Vec<f64>>> {
    let best = |part: &dyn Family| match maximise(part, sample, options, run) {
        Ok(found) if found.x.len() == part.width() && found.point.value.is_finite() => Ok(Some(found.x)),
        Ok(_) => Ok(None),
        Err(error) if matches!(error.kind(), Kind::Refused | Kind::Domain) => Ok(None),
        Err(error) => Err(error),
    };
    let any = |part: &dyn Family| part.starts(&sample.outline()).into_iter().next().unwrap_or_default();
    let mut out = Vec::new();
    match family.parts() {
        Some(Parts::NeverFails(part)) if part.parts().is_none() => {
            out.extend(best(part)?.into_iter().map(|x| [x, vec![-NEARLY_ALL]].concat()));
        }
        Some(Parts::Mixture([a, b])) if a.parts().is_none() && b.parts().is_none() => {
            out.extend(best(a)?.into_iter().map(|x| [x, any(b), vec![NEARLY_ALL]].concat()));
            out.extend(best(b)?.into_iter().map(|y| [any(a), y, vec![-NEARLY_ALL]].concat()));
        }
        _ => {}
    }
    Ok(out)
}

/// Whether the likelihood is high at a place only because it has no bound there: a part on one age, or a failure-free time
/// at the first failure.
pub(super) fn unbounded(family: &dyn Family, sample: &Sample, x: &[f64], converged: bool) -> bool {
    on_one_age(family, x, converged) || (family.name() == FAILURE_FREE && at_pole(sample, x))
}

/// Whether a height at a place is none of the profile: the likelihood has no bound there, or two parts of one family have
/// changed places.
pub(super) fn no_height(family: &dyn Family, sample: &Sample, x: &[f64], converged: bool) -> bool {
    unbounded(family, sample, x, converged) || (family.parts().is_some() && in_order(family, x) != x)
}

/// The likely life farthest along the age scale from one, as near to the cut as a few halvings come, with its height.
fn stretched(top: &Top, cut: f64, sign: f64, x: &[f64]) -> Result<Option<(f64, Vec<f64>)>> {
    let anchor = top.family.anchor();
    let along = top
        .family
        .stretch()
        .unwrap_or_else(|| (0..x.len()).map(|i| if i == anchor { top.family.step(x, i) } else { 0.0 }).collect());
    let at = |by: f64| -> Result<Option<(f64, Vec<f64>)>> {
        let there: Vec<f64> = x.iter().zip(&along).map(|(x, d)| x + sign * by * d).collect();
        let mut point = Point::new(x.len());
        if !top.engine.inside(&there) {
            return Ok(None);
        }
        top.engine.at(&there, Order::Value, &mut point)?;
        Ok((point.value >= cut).then_some((point.value - top.log_likelihood, there)))
    };
    let (mut inside, mut outside, mut best) = (0.0, FIRST, None);
    while let Some(there) = at(outside)? {
        (inside, outside, best) = (outside, 2.0 * outside, Some(there));
        if outside > MOST {
            return Ok(best);
        }
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (inside + outside);
        match at(middle)? {
            Some(there) => (inside, best) = (middle, Some(there)),
            None => outside = middle,
        }
    }
    Ok(best)
}
