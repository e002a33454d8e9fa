//! A Weibull life whose shape is known beforehand: the scale from few failures, and bounds even from none.

use serde::{Deserialize, Serialize};

use super::likelihood::Likelihood;
use super::model::{Facts, Note};
use super::newton::{Point, Surface, climb};
use super::refusal;
use super::sample::{Evidence, Row, Sample};
use super::search::{FitOptions, facts};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::count_bounds::{count_lower, count_upper};
use crate::base::math::root::bracketed;
use crate::base::math::special::normal_quantile;
use crate::base::math::sum;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::{Order, Weibull, WeibullFamily};
use crate::lives::Tally;

/// What ended the watch over the lamps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Termination {
    /// The calendar: hours were fixed beforehand, failures are what came.
    #[default]
    Time,
    /// The last failure: the number of failures was fixed beforehand.
    Failure,
}

/// How the one-sided bounds were made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BoundMethod {
    /// From the number of failures, as a Poisson count in transformed hours.
    Count,
    /// From the likelihood ratio: rows known to an interval or a window, or real weights.
    ProfileLikelihood,
    /// From the chance that every lamp had failed before it was first looked at.
    AllFailed,
}

/// A Weibull life of known shape: the scale and its one-sided bounds. It holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KnownShapeFit {
    /// The shape, as given.
    pub shape: f64,
    /// Characteristic life at the maximum of the likelihood, hours; none without failures.
    pub scale: Option<f64>,
    /// Its standard error; none without failures.
    pub standard_error: Option<f64>,
    /// Lower bound of the scale at the one-sided level, hours; none where the records do not bound it.
    pub scale_low: Option<f64>,
    /// Upper bound of the scale at the one-sided level, hours; none without failures.
    pub scale_high: Option<f64>,
    /// Level of each of the two bounds by itself.
    pub level: f64,
    /// How the bounds were made.
    pub method: BoundMethod,
    /// What ended the watch.
    pub termination: Termination,
    /// Maximised log-likelihood, densities per hour; none without failures.
    pub log_likelihood: Option<f64>,
    /// What went in.
    pub facts: Facts,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for KnownShapeFit {
    fn check(&self, c: &mut Checks) {
        c.positive("shape", self.shape);
        c.positive("scale", self.scale);
        c.not_negative("standard_error", self.standard_error);
        c.positive("scale_low", self.scale_low);
        c.positive("scale_high", self.scale_high);
        c.level("level", self.level);
        c.part("facts", &self.facts);
        let failed = self.facts.failures > 0;
        let known = failed && self.method != BoundMethod::AllFailed;
        let when = "there with failures, of which some have an age";
        c.there("scale", self.scale.is_some(), known, when);
        c.there("standard_error", self.standard_error.is_some(), known, when);
        c.there("log_likelihood", self.log_likelihood.is_some(), known, when);
        c.need(
            "scale_low",
            known || !failed || self.scale_low.is_none(),
            "there",
            "none where all had failed when first seen",
        );
        c.need("scale_high", failed || self.scale_high.is_none(), "there", "none without failures");
        if let (Some(scale), Some(error), BoundMethod::Count) = (self.scale, self.standard_error, self.method) {
            c.equal("standard_error", error, scale / (self.shape * (self.facts.failures as f64).sqrt()));
        }
        // Each bound has its level by itself: below 0.5 the lower one lies above the upper one.
        if self.level >= 0.5 {
            c.between("scale", self.scale, self.scale_low, self.scale_high);
        }
    }
}

/// Fits the scale of a Weibull life whose shape is held at a known value.
///
/// # Formula
/// ```text
/// T      = sum (exit^shape - entry^shape), in hours^shape
/// scale  = (T / r)^(1 / shape), r failures; standard error scale / (shape sqrt(r))
/// bounds = (T / m)^(1 / shape), m the Poisson bound of the count: count_upper(r) below, count_lower(r) above
/// ```
/// With no failure in E hours and shape 1 the 95 % upper bound of the rate is 2.996 / E. A watch that ended with a
/// failure has r - 1 in place of r in the lower bound, which is then exact.
///
/// Rows known to an interval, windowed rows and real weights go through the general likelihood; their bounds come from
/// the likelihood ratio. Where every lamp had failed before it was first looked at there is no estimate, and the upper bound
/// is the scale at which that had a chance of 1 - level: product of F(age at the first look) = 1 - level.
///
/// # Arguments
/// `shape`: above 0, from other lamps of the same kind. `level`: of each bound by itself. `termination`: what ended the watch.
///
/// # Errors
/// `family.parameter` for the shape, `base.level`, `fit.termination` where the oldest lamp did not fail;
/// `fit.no_exposure` without hours; `fit.no_failures` for windowed rows without failures; `fit.not_identified` where the
/// records say nothing of the scale; those of [`super::fit`] on the options.
///
/// # Numerics
/// Ages enter as ratios to the oldest, so steep shapes do not overflow.
///
/// # Source
/// Bounds: Garwood, Biometrika 28 (1936) 437; time and failure terminated tests: IEC 60605-4; known shape: W. Nelson
/// (1985), Weibull analysis of reliability data with few or no failures, Journal of Quality Technology 17, 140-146. From
/// memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::fit::{FitOptions, Termination, fit_known_shape};
/// use relamp::lives::{Rows, Tally};
/// // Ten lamps, 1,000 h each, no failure.
/// let rows = Rows { low: vec![1000.0], high: vec![f64::INFINITY], count: Some(vec![10]), ..Rows::default() };
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let options = FitOptions::default();
/// let even = fit_known_shape(&tally, 1.0, 0.95, Termination::Time, &options, &Run::new())?;
/// assert_eq!(even.scale, None);
/// assert!((1.0 / even.scale_low.unwrap() - 2.995_732_273_554 / 10_000.0).abs() < 1e-15);
/// // If wear is known to have shape 3, the same lamps prove more about early ages.
/// let wear = fit_known_shape(&tally, 3.0, 0.95, Termination::Time, &options, &Run::new())?;
/// assert!(wear.life_low().unwrap().b_life(1.0)? > 3.0 * even.life_low().unwrap().b_life(1.0)?);
/// # use relamp::family::Life;
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn fit_known_shape(
    tally: &Tally,
    shape: f64,
    level: f64,
    termination: Termination,
    options: &FitOptions,
    run: &Run,
) -> Result<KnownShapeFit> {
    Weibull { shape, scale: 1.0 }.checked()?;
    count_upper(0, level)?;
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    let count = sample.count;
    let weight: f64 = (0..tally.rows())
        .filter(|&i| !matches!(sample.row(i).evidence, Evidence::Passed(_)))
        .map(|i| sample.weights[i])
        .sum();
    if !(count.exposure > 0.0) {
        return Err(refusal::no_exposure());
    }
    if termination == Termination::Failure && !(count.failures > 0 && count.oldest == count.oldest_failure) {
        return Err(not_ended_by_failure(count.oldest, count.oldest_failure));
    }
    let counted = sample.simple && options.weights.is_none();
    if !(weight > 0.0) && !counted {
        return Err(refusal::no_failures(&count));
    }
    let mut fit = KnownShapeFit {
        shape,
        scale: None,
        standard_error: None,
        scale_low: None,
        scale_high: None,
        level,
        method: if counted { BoundMethod::Count } else { BoundMethod::ProfileLikelihood },
        termination,
        log_likelihood: None,
        facts: facts(&count),
        notes: Vec::new(),
    };
    let line = Line { likelihood: Likelihood { family: &WeibullFamily, sample: &sample }, ln_shape: shape.ln() };
    if counted {
        // Transformed hours in units of the oldest age to the power of the shape.
        let hours = transformed(&sample, shape, count.oldest);
        let scale = |failures: f64| count.oldest * (hours / failures).powf(1.0 / shape);
        // A bound of 0 or beyond every number bounds nothing.
        let bound = |failures: f64| Some(scale(failures)).filter(|s| *s > 0.0 && s.is_finite());
        let r = count.failures;
        let held = if termination == Termination::Failure { r - 1 } else { r };
        fit.scale_low = bound(count_upper(held, level)?);
        if r > 0 {
            let best = scale(r as f64);
            let error = best / (shape * (r as f64).sqrt());
            if !(best > 0.0 && best.is_finite() && error.is_finite()) {
                return Err(refusal::not_identified("weibull", &count));
            }
            fit.scale = Some(best);
            fit.standard_error = Some(error);
            fit.scale_high = bound(count_lower(r, level)?);
            let mut point = Point::new(1);
            line.at(&[best.ln()], Order::Value, &mut point)?;
            fit.log_likelihood = Some(point.value);
        }
    } else if all_failed(&sample) {
        fit.method = BoundMethod::AllFailed;
        fit.scale_high = line.last_chance(&sample, 1.0 - level)?;
    } else {
        let outline = sample.outline();
        let starts = [(outline.exposure / outline.failures).ln(), outline.mean_ln, count.oldest.ln()];
        let mut best = None;
        for start in starts.into_iter().filter(|s| s.is_finite()) {
            let outcome = climb(&line, &[start], options.iterations, run)?;
            if outcome.converged() {
                best = Some(outcome);
                break;
            }
        }
        let found = best.as_ref().and_then(|b| Some((*b.x.first()?, -*b.point.hessian.first()?, b.point.value)));
        let Some((x, error, top)) =
            found.map(|(x, information, top)| (x, 1.0 / information.sqrt(), top)).filter(|(_, error, _)| *error < FLAT)
        else {
            return Err(refusal::not_identified("weibull", &count));
        };
        fit.scale = Some(x.exp());
        fit.standard_error = Some(x.exp() * error);
        fit.log_likelihood = Some(top);
        let z = normal_quantile(level);
        fit.scale_low = line.end(x, top, z, -error)?.map(f64::exp);
        fit.scale_high = line.end(x, top, z, error)?.map(f64::exp);
    }
    fit.notes = fit.notes();
    Ok(fit)
}

/// Standard error of ln scale from which the top of the likelihood is no top: the search stopped on a plain.
///
/// Our choice, without a source: a factor of e^10, about 20,000, between scales that the records do not tell apart.
const FLAT: f64 = 10.0;

fn not_ended_by_failure(oldest: f64, failed: f64) -> Error {
    Error::new(
        Kind::Input,
        Problem::new("fit.termination", "a watch that ended with a failure has no lamp older than its last failure")
            .at(Place::input("termination"))
            .got(format!("oldest lamp {oldest} h, oldest failure {failed} h"))
            .expected("termination by time"),
    )
}

/// Sum over the rows of (exit^shape - entry^shape) over unit^shape.
fn transformed(sample: &Sample, shape: f64, unit: f64) -> f64 {
    let [hours] = sum::blocks(sample.tally.rows(), |rows| {
        let mut lanes = [0.0; sum::LANES];
        for (step, i) in rows.enumerate() {
            let Row { evidence, entry, .. } = sample.row(i);
            let (Evidence::Exact(exit) | Evidence::Passed(exit) | Evidence::Between(_, exit)) = evidence;
            if exit > entry {
                lanes[step % sum::LANES] +=
                    sample.weights[i] * ((exit / unit).powf(shape) - (entry / unit).powf(shape));
            }
        }
        [sum::join(&lanes)]
    });
    hours
}

/// The likelihood along ln scale, the shape held.
struct Line<'s> {
    likelihood: Likelihood<'s>,
    ln_shape: f64,
}

impl Surface for Line<'_> {
    fn width(&self) -> usize {
        1
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        let mut whole = Point::new(2);
        self.likelihood.at(&[self.ln_shape, x.first().copied().unwrap_or(f64::NAN)], order, &mut whole)?;
        out.value = whole.value;
        out.gradient.copy_from_slice(&whole.gradient[1..]);
        out.hessian.copy_from_slice(&whole.hessian[2..]);
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        x.iter().all(|c| c.abs() < 700.0)
    }
}

/// Whether every lamp that counts had failed before it was first looked at.
fn all_failed(sample: &Sample) -> bool {
    let mut rows = (0..sample.tally.rows()).filter(|&i| sample.weights[i] > 0.0).map(|i| sample.row(i));
    let mut any = false;
    let all = rows.all(|row| {
        any = true;
        matches!(row.evidence, Evidence::Between(low, _) if low <= row.entry) && row.upper == f64::INFINITY
    });
    any && all
}

impl Line<'_> {
    /// The scale at which all failures had so small a chance; the chance falls as the scale grows.
    fn last_chance(&self, sample: &Sample, chance: f64) -> Result<Option<f64>> {
        let over = |x: f64| -> Result<f64> {
            let mut point = Point::new(1);
            self.at(&[x], Order::Value, &mut point)?;
            Ok(if point.value.is_finite() { point.value - chance.ln() } else { -1e9 })
        };
        let (mut inside, mut step) = (sample.count.oldest.ln(), 1.0);
        while over(inside)? < 0.0 {
            inside -= step;
            step *= 2.0;
            if !self.inside(&[inside]) {
                return Ok(None);
            }
        }
        let (mut outside, mut step) = (inside + 1.0, 1.0);
        while over(outside)? >= 0.0 {
            step *= 2.0;
            outside += step;
            if !self.inside(&[outside]) {
                return Ok(None);
            }
        }
        Ok(Some(bracketed(over, inside, outside, 1e-12)?.exp()))
    }

    /// Where the likelihood has fallen by half of z squared on the side of `step`; none where it never does. Below level
    /// one half the bound lies on the other side of the estimate.
    fn end(&self, x: f64, top: f64, z: f64, step: f64) -> Result<Option<f64>> {
        let over = |x: f64| -> Result<f64> {
            let mut point = Point::new(1);
            self.at(&[x], Order::Value, &mut point)?;
            Ok(if point.value.is_finite() { point.value - top + 0.5 * z * z } else { -1e9 })
        };
        let mut step = step * z.abs().max(0.1) * z.signum();
        for _ in 0..40 {
            let far = x + step;
            if !self.inside(&[far]) {
                break;
            }
            if over(far)? < 0.0 {
                return bracketed(over, x, far, 1e-12).map(Some);
            }
            step *= 2.0;
        }
        Ok(None)
    }
}

impl KnownShapeFit {
    fn notes(&self) -> Vec<Note> {
        let mut notes = vec![Note::new(
            "fit.known_shape",
            format!("the shape {} was given, not estimated: figures are as good as that number", self.shape),
        )];
        if self.method == BoundMethod::AllFailed {
            let text =
                "every lamp had failed before it was first looked at: there is an upper bound of life, no estimate";
            notes.push(Note::new("fit.bound_only", text));
        }
        if self.facts.failures == 0 {
            notes.push(Note::new("fit.bound_only", "no failure was seen: there is a lower bound of life, no estimate"));
        }
        notes
    }

    /// The life at the estimate; none without failures.
    pub fn life(&self) -> Option<Weibull> {
        self.scale.map(|scale| Weibull { shape: self.shape, scale })
    }

    /// The life at the lower bound: at every age its reliability, and at every share its quantile, is the lower bound
    /// at the level. None where the records do not bound it.
    pub fn life_low(&self) -> Option<Weibull> {
        self.scale_low.map(|scale| Weibull { shape: self.shape, scale })
    }

    /// The life at the upper bound; none without failures.
    pub fn life_high(&self) -> Option<Weibull> {
        self.scale_high.map(|scale| Weibull { shape: self.shape, scale })
    }
}
