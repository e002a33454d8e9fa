//! The weighted bootstrap: refit with random weights, and read intervals off the refits.

use std::sync::{Arc, Mutex};

use serde::{Deserialize, Serialize};

use super::interval::{Interval, IntervalMethod, Quantity, Sides, Target, critical};
use super::kernel::{PowerRows, Powers};
use super::likelihood::Likelihood;
use super::model::{Fit, Note};
use super::newton::climb;
use super::sample::Sample;
use super::search::FitOptions;
use super::weights::Clusters;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::percentile::percentile;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::Family;
use crate::lives::Tally;

/// Refits one sample again and again from its estimate, buffers kept.
#[derive(Debug)]
pub(super) struct Refitter<'a> {
    family: &'a dyn Family,
    sample: Sample<'a>,
    power: Option<Arc<PowerRows>>,
    start: Vec<f64>,
    iterations: u64,
    pool: Mutex<Vec<Sample<'a>>>,
}

impl<'a> Refitter<'a> {
    pub(super) fn new(family: &'a dyn Family, sample: Sample<'a>, fit: &Fit, iterations: u64, reduced: bool) -> Self {
        let power = if reduced && family.name() == "weibull" { PowerRows::new(&sample) } else { None };
        let power = power.map(|rows| Arc::new(rows.starting_at(fit.coordinates.first().copied().unwrap_or(0.0))));
        Self { family, sample, power, start: fit.coordinates.clone(), iterations, pool: Mutex::new(Vec::new()) }
    }

    /// Coordinates at the maximum under new weights, one per row.
    pub(super) fn refit(&self, weights: &[f64], run: &Run) -> Result<Vec<f64>> {
        let x = match &self.power {
            Some(rows) => {
                let powers = Powers::new(rows.clone(), weights);
                let best = climb(&powers, self.start.get(..1).unwrap_or(&[]), self.iterations, run)?;
                if !best.converged() {
                    return Err(unsettled());
                }
                powers.coordinates(&best.x)
            }
            None => self.general(weights, run)?,
        };
        if x.iter().all(|c| c.is_finite()) { Ok(x) } else { Err(unsettled()) }
    }

    fn general(&self, weights: &[f64], run: &Run) -> Result<Vec<f64>> {
        let kept = self.pool.lock().map_or(None, |mut pool| pool.pop());
        let mut sample = kept.unwrap_or_else(|| self.sample.clone());
        sample.weights.clear();
        sample.weights.extend_from_slice(weights);
        let answer = if self.family.name() == "exponential" && sample.simple {
            let outline = sample.outline();
            Ok(vec![(outline.exposure / outline.failures).ln()])
        } else {
            let likelihood = Likelihood { family: self.family, sample: &sample };
            let best = climb(&likelihood, &self.start, self.iterations, run)?;
            if best.converged() { Ok(best.x) } else { Err(unsettled()) }
        };
        if let Ok(mut pool) = self.pool.lock() {
            pool.push(sample);
        }
        answer
    }
}

fn unsettled() -> Error {
    Error::new(Kind::Refused, Problem::new("fit.replicate_unsettled", "the refit of a replicate did not settle"))
}

/// Refits with random weights. It holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bootstrap {
    /// The fit at the counts.
    fit: Fit,
    /// Seed of the weights.
    seed: u64,
    /// Name under which the weights were drawn.
    class: String,
    /// Replicates asked for.
    replicates: u64,
    /// Coordinates of the replicates that settled, in order.
    coordinates: Vec<Vec<f64>>,
    /// Replicates that did not settle.
    unsettled: Vec<u64>,
}

impl Sound for Bootstrap {
    fn check(&self, c: &mut Checks) {
        c.part("fit", &self.fit);
        for (i, x) in self.coordinates.iter().enumerate() {
            c.entries(&format!("coordinates[{i}]"), x.len(), self.fit.coordinates.len());
        }
        let kept = (self.coordinates.len() + self.unsettled.len()) as u64;
        c.need("replicates", kept == self.replicates, self.replicates, format!("{kept}, settled and unsettled"));
        let known = self.unsettled.iter().all(|i| *i < self.replicates) && self.unsettled.is_sorted();
        c.need("unsettled", known, "others", "places of replicates, in rising order");
    }
}

/// Refits `replicates` times with weights Gamma(count, 1) on the rows, the rows of a cluster sharing theirs.
///
/// The weights are a pure function of (seed, class, replicate), so the same bytes come out for any number of threads.
///
/// # Errors
/// Those of [`super::fit`]; `fit.replicates` for fewer than 2.
pub fn bootstrap(
    family: &dyn Family,
    tally: &Tally,
    options: &FitOptions,
    replicates: usize,
    seed: u64,
    class: &str,
    run: &Run,
) -> Result<Bootstrap> {
    if replicates < 2 {
        return Err(Error::new(
            Kind::Input,
            Problem::new("fit.replicates", "too few replicates")
                .at(Place::input("replicates"))
                .got(replicates)
                .expected("2 or more"),
        ));
    }
    let fit = super::fit(family, tally, options, run)?;
    let sample = Sample::new(tally, options.endings.as_deref(), None)?;
    let refitter = Refitter::new(family, sample, &fit, options.iterations, options.reduced);
    let clusters = Clusters::new(tally);
    let answers = run.map(replicates, |i| {
        let mut weights = Vec::with_capacity(tally.rows());
        clusters.draw(tally, &mut Stream::new(seed, "fit", class, i as u64), &mut weights);
        if let Some(real) = &options.weights {
            weights.iter_mut().zip(real).for_each(|(w, r)| *w *= r);
        }
        refitter.refit(&weights, run)
    })?;
    let mut kept = Bootstrap {
        fit,
        seed,
        class: class.to_owned(),
        replicates: replicates as u64,
        coordinates: Vec::with_capacity(replicates),
        unsettled: Vec::new(),
    };
    for (i, answer) in answers.into_iter().enumerate() {
        match answer {
            Ok(x) => kept.coordinates.push(x),
            Err(_) => kept.unsettled.push(i as u64),
        }
    }
    Ok(kept)
}

/// Relative spread below which replicates count as one value.
const SAME: f64 = 1e-10;

impl Bootstrap {
    /// The fit at the counts.
    pub fn fit(&self) -> &Fit {
        &self.fit
    }

    /// Coordinates of the replicates that settled, in order.
    pub fn coordinates(&self) -> &[Vec<f64>] {
        &self.coordinates
    }

    /// Replicates that did not settle.
    pub fn unsettled(&self) -> &[u64] {
        &self.unsettled
    }

    /// A percentile interval. Where every replicate gives the same value the interval has no width, and a note says why.
    ///
    /// # Errors
    /// Those of [`Fit::wald`], and `fit.replicate_unsettled` if fewer than half of the replicates settled.
    pub fn interval(&self, quantity: &Quantity, level: f64, sides: Sides) -> Result<Interval> {
        critical(level, sides)?;
        let family = self.fit.family()?;
        let target = Target::new(family, quantity)?;
        if 2 * (self.coordinates.len() as u64) < self.replicates {
            return Err(unsettled());
        }
        let read = |x: &[f64]| target.value(family, x).map(|w| target.back(family, x, w));
        let estimate = read(&self.fit.coordinates)?;
        let mut values = self.coordinates.iter().map(|x| read(x)).collect::<Result<Vec<f64>>>()?;
        values.sort_by(f64::total_cmp);
        let tail = if sides == Sides::Both { 0.5 * (1.0 - level) } else { 1.0 - level };
        let mut notes = self.fit.interval_notes(quantity, estimate);
        if let (Some(first), Some(last)) = (values.first(), values.last())
            && (last - first).abs() <= SAME * estimate.abs()
        {
            notes.push(Note::new(
                "fit.degenerate",
                "degenerate: every replicate gives the same value, because reweighting lamps that are all alike changes nothing; \
                 the interval says nothing about other lamps",
            ));
        }
        if !self.unsettled.is_empty() {
            let (n, all) = (self.unsettled.len(), self.replicates);
            notes.push(Note::new("fit.unsettled", format!("{n} of {all} replicates did not settle and are left out")));
        }
        let end = |p| percentile(&values, p).filter(|v| v.is_finite());
        Ok(Interval {
            quantity: quantity.clone(),
            estimate,
            low: if sides == Sides::Upper { None } else { end(tail) },
            high: if sides == Sides::Lower { None } else { end(1.0 - tail) },
            level,
            sides,
            method: IntervalMethod::WeightedBootstrap,
            notes,
        })
    }
}
