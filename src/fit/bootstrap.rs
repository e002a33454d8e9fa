//! The weighted bootstrap: refit with random weights, and read intervals off the refits.

use std::sync::{Arc, Mutex};

use serde::{Deserialize, Serialize};

use super::few_clusters::of_clusters;
use super::interval::{Interval, IntervalMethod, Quantity, Sides, critical};
use super::kernel::{PowerRows, Powers};
use super::likelihood::Likelihood;
use super::model::{Fit, Note};
use super::newton::climb;
use super::sample::Sample;
use super::search::FitOptions;
use super::target::{Function, Target};
use super::weights::Clusters;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting, short};
use crate::base::math::percentile::percentile;
use crate::base::math::special::{normal_cdf, normal_quantile};
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
        c.need("replicates", self.replicates >= 2, self.replicates, "2 or more");
        let order = self.unsettled.is_sorted_by(|a, b| a < b);
        let known = self.unsettled.iter().all(|i| *i < self.replicates) && order;
        c.need("unsettled", known, "others", "places of replicates, in rising order");
    }
}

/// Refits `replicates` times with weights Gamma(count, 1) on the rows, the rows of a cluster sharing theirs.
///
/// The weights are a pure function of (seed, class, replicate), so the same bytes come out for any number of threads.
///
/// # Errors
/// Those of [`super::fit`]; `fit.replicates` for fewer than 2; `fit.in_limit` where the fit has no maximum;
/// `fit.one_cluster` where all lives belong to one cluster. Fewer than [`super::ENOUGH_CLUSTERS`] leave a note on the fit and
/// its intervals.
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
    let mut fit = super::fit(family, tally, options, run)?;
    fit.has_maximum()?;
    let sample = Sample::new(tally, options.endings.as_deref(), None)?;
    let refitter = Refitter::new(family, sample, &fit, options.iterations, options.reduced);
    let clusters = Clusters::new(tally);
    let few = clusters.note(tally)?;
    let answers = run.map(replicates, |i| {
        let mut weights = Vec::with_capacity(tally.rows());
        clusters.draw(tally, &mut Stream::new(seed, "fit", class, i as u64), &mut weights);
        if let Some(real) = &options.weights {
            weights.iter_mut().zip(real).for_each(|(w, r)| *w *= r);
        }
        refitter.refit(&weights, run)
    })?;
    fit.notes.extend(few);
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

/// Where a bootstrap interval ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BootstrapEnds {
    /// At percentiles of the replicates.
    #[default]
    Percentile,
    /// At percentiles moved by the share of replicates below the estimate.
    BiasCorrected,
}

/// Rounding of a share that is the inverse of a whole number.
const SLACK: f64 = 1e-9;
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
        let target = Target::new(self.fit.family()?, quantity)?;
        self.interval_at(target, quantity.clone(), level, sides, BootstrapEnds::Percentile)
    }

    /// A percentile interval moved by the share of replicates below the estimate.
    ///
    /// # Formula
    /// ```text
    /// z0    = normal quantile of (replicates below the estimate + half of those equal to it) / replicates
    /// ends  = percentiles of the replicates at Phi(2 z0 + z(a)), a = (1 - level) / 2 and (1 + level) / 2
    /// ```
    /// An interval on one side takes a = 1 - level or level. With z0 = 0 it is the percentile interval.
    ///
    /// # Errors
    /// Those of [`Bootstrap::interval`]; `fit.bias_correction` where every replicate lies on one side of the estimate.
    ///
    /// # Source
    /// B. Efron (1981), Nonparametric standard errors and confidence intervals, Canadian Journal of Statistics 9,
    /// 139-158; Efron & Tibshirani (1993), An Introduction to the Bootstrap, section 14.3. From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, Quantity, Sides, bootstrap};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let draws = bootstrap(family("weibull")?, &tally, &FitOptions::default(), 400, 1, "", &Run::new())?;
    /// let shape = Quantity::Parameter("shape".into());
    /// let (plain, moved) = (draws.interval(&shape, 0.9, Sides::Both)?, draws.bias_corrected(&shape, 0.9, Sides::Both)?);
    /// // Few failures give shapes that are too steep, and the correction takes some of that back.
    /// assert!(moved.high < plain.high);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn bias_corrected(&self, quantity: &Quantity, level: f64, sides: Sides) -> Result<Interval> {
        let target = Target::new(self.fit.family()?, quantity)?;
        self.interval_at(target, quantity.clone(), level, sides, BootstrapEnds::BiasCorrected)
    }

    /// An interval for a function of the caller's own, which is asked of the life of every replicate.
    ///
    /// # Errors
    /// Those of [`Bootstrap::interval`], of [`Bootstrap::bias_corrected`] and of the function.
    pub fn interval_of(&self, asked: &Function, level: f64, sides: Sides, ends: BootstrapEnds) -> Result<Interval> {
        self.interval_at(Target::function(asked), Quantity::Function(asked.name.clone()), level, sides, ends)
    }

    fn interval_at(
        &self,
        target: Target,
        quantity: Quantity,
        level: f64,
        sides: Sides,
        ends: BootstrapEnds,
    ) -> Result<Interval> {
        critical(level, sides)?;
        let family = self.fit.family()?;
        match target {
            Target::Coordinate(i) if self.fit.claims_only() => self.fit.settled(i)?,
            Target::Coordinate(_) => {}
            _ => self.fit.tells_of_all_lamps()?,
        }
        if 2 * (self.coordinates.len() as u64) < self.replicates {
            return Err(unsettled());
        }
        let read = |x: &[f64]| target.value(family, x).map(|w| target.back(family, x, w));
        let estimate = read(&self.fit.coordinates)?;
        let mut values = self.coordinates.iter().map(|x| read(x)).collect::<Result<Vec<f64>>>()?;
        if values.iter().any(|v| v.is_nan()) {
            return Err(no_number(estimate));
        }
        values.sort_by(f64::total_cmp);
        let tail = if sides == Sides::Both { 0.5 * (1.0 - level) } else { 1.0 - level };
        let mut notes = self.fit.interval_notes(&quantity, estimate);
        notes.extend(self.fit.notes.iter().filter(|n| of_clusters(n)).cloned());
        let infinite = values.iter().filter(|v| v.is_infinite()).count();
        if infinite > 0 {
            let text = format!(
                "the figure is infinite in {infinite} of {}{}: an end that is not there has no bound",
                counted(values.len() as u64, "replicate"),
                if estimate.is_infinite() { ", and at the estimate" } else { "" }
            );
            notes.push(Note::new("fit.infinite", text));
        }
        let alike = infinite == 0
            && matches!((values.first(), values.last()), (Some(first), Some(last)) if (last - first).abs() <= SAME * estimate.abs());
        if alike {
            notes.push(Note::new(
                "fit.degenerate",
                "degenerate: every replicate gives the same value, because reweighting lamps that are all alike changes nothing; \
                 the interval says nothing about other lamps",
            ));
        }
        if !self.unsettled.is_empty() {
            let (n, all) = (self.unsettled.len(), self.replicates);
            notes.push(Note::new(
                "fit.unsettled",
                format!(
                    "{n} of {} did not settle and {} left out",
                    counted(all, "replicate"),
                    fitting(n as u64, "is", "are")
                ),
            ));
        }
        let (below, above) = match ends {
            BootstrapEnds::BiasCorrected if !alike => corrected(&values, estimate, tail)?,
            _ => (tail, 1.0 - tail),
        };
        let needed = (1.0 / below.min(1.0 - above) - SLACK).ceil();
        if !alike && (values.len() as f64) < needed {
            let text = format!(
                "{} {} too few for {} %: an end lies beyond all but the outermost of them; take {:.0} or more",
                counted(values.len() as u64, "replicate"),
                fitting(values.len() as u64, "is", "are"),
                short(100.0 * level),
                needed
            );
            notes.push(Note::new("fit.few_replicates", text));
        }
        let end = |p| percentile(&values, p).filter(|v| v.is_finite());
        Ok(Interval {
            estimate: (!self.fit.leaves_open(&quantity, estimate)).then_some(estimate),
            quantity,
            low: if sides == Sides::Upper { None } else { end(below) },
            high: if sides == Sides::Lower { None } else { end(above) },
            level,
            sides,
            method: match ends {
                BootstrapEnds::Percentile => IntervalMethod::WeightedBootstrap,
                BootstrapEnds::BiasCorrected => IntervalMethod::WeightedBootstrapBiasCorrected,
            },
            notes,
            ratio: None,
        }
        .judged(&self.fit.family, &self.fit.facts))
    }
}

/// The shares at which the bias-corrected interval reads the replicates.
fn corrected(ascending: &[f64], estimate: f64, tail: f64) -> Result<(f64, f64)> {
    let below = ascending.partition_point(|v| *v < estimate);
    let equal = ascending.partition_point(|v| *v <= estimate) - below;
    let share = (below as f64 + 0.5 * equal as f64) / ascending.len() as f64;
    if !(share > 0.0 && share < 1.0) {
        let problem = Problem::new("fit.bias_correction", "every replicate lies on one side of the estimate")
            .got(format!("{below} of {} below", ascending.len()));
        return Err(Error::new(Kind::Refused, problem).with_hint("take the percentile interval, or more replicates"));
    }
    let shift = 2.0 * normal_quantile(share);
    Ok((normal_cdf(shift + normal_quantile(tail)), normal_cdf(shift - normal_quantile(tail))))
}

fn no_number(estimate: f64) -> Error {
    let what = "the figure is not a number in some replicates";
    Error::new(Kind::Refused, Problem::new("fit.no_number", what).got(format!("{estimate} at the estimate")))
}
