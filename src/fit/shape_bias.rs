//! Bias of the Weibull shape by maximum likelihood, and its correction where the censoring is one it is known for.

use serde::{Deserialize, Serialize};

use super::model::Fit;
use super::sample::{Evidence, Row, Sample};
use super::search::FitOptions;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours};
use crate::base::math::root::bracketed;
use crate::base::math::sum::pairwise;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::lives::Tally;

/// The censoring for which a correction holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum CensoringPlan {
    /// Every lamp failed.
    Complete,
    /// All lamps started new and the watch over all of them ended with a failure: the rest are right-censored at that age.
    FailureCensored,
}

/// A Weibull shape with its bias taken out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShapeCorrection {
    /// Shape at the maximum of the likelihood.
    pub shape: f64,
    /// Corrected shape: factor times it.
    pub corrected: f64,
    /// Factor, below 1: the likelihood's shape is too steep on average.
    pub factor: f64,
    /// Standard error of the factor.
    pub factor_error: f64,
    /// The censoring for which the factor holds.
    pub plan: CensoringPlan,
    /// Failures.
    pub failures: u64,
    /// Lamps.
    pub lamps: u64,
}

impl Sound for ShapeCorrection {
    fn check(&self, c: &mut Checks) {
        c.positive("shape", self.shape);
        c.share("factor", self.factor);
        c.equal("corrected", self.corrected, self.factor * self.shape);
        c.not_negative("factor_error", self.factor_error);
        c.need(
            "failures",
            self.failures <= self.lamps,
            self.failures,
            format!("at most {}", counted(self.lamps, "lamp")),
        );
        let range = (FEWEST..=MOST).contains(&self.failures);
        c.need("failures", range, self.failures, format!("{FEWEST} to {MOST}"));
        let all = self.plan != CensoringPlan::Complete || self.failures == self.lamps;
        c.need(
            "plan",
            all,
            format!("{} of {} failed", self.failures, counted(self.lamps, "lamp")),
            "every lamp failed",
        );
    }
}

/// A factor with its precision.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BiasFactor {
    /// Factor, below 1.
    pub factor: f64,
    /// Its standard error: it is a mean over simulated samples.
    pub standard_error: f64,
}

/// Fewest failures: below, the shape scatters so much that its mean is no guide.
const FEWEST: u64 = 5;
/// Most lamps that failed for which a factor is worth its work: from here on the bias is below one in a thousand.
const MOST: u64 = 2_000;
/// Failures drawn in all, which sets the number of samples, and its limits.
const DRAWN: u64 = 4_000_000;
const SAMPLES: (u64, u64) = (4_000, 200_000);

/// Factor that makes the mean of the estimated Weibull shape the true one, for complete and failure-censored samples.
///
/// # Formula
/// ```text
/// factor = 1 / E(estimated shape / true shape)
/// ```
/// For these two plans the ratio does not depend on the true shape and scale, only on failures and lamps, so its mean is a
/// number that simulation from shape 1 gives once and for all. All lamps failed: a complete sample. The draws are fixed,
/// so the same numbers come out every time.
///
/// # Errors
/// Refused: `fit.bias_failures` unless there are 5 to 2,000 failures, and no more than lamps.
///
/// # Numerics
/// 200,000 samples up to 20 failures, fewer above: a standard error below 0.2 % at 5 failures, below 0.1 % from 8 on.
///
/// # Source
/// That the ratio is free of the parameters: D. R. Thoman, L. J. Bain and C. E. Antle (1969), Technometrics 11, 445-460
/// (complete); B. R. Billmann, C. E. Antle and L. J. Bain (1972), Technometrics 14, 831-840 (failure-censored). From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::fit::shape_bias_factor;
/// // The printed factor for ten lamps that all failed is 0.859.
/// assert!((shape_bias_factor(10, 10, &Run::new())?.factor - 0.859).abs() < 0.006);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn shape_bias_factor(failures: u64, lamps: u64, run: &Run) -> Result<BiasFactor> {
    if !(FEWEST..=MOST).contains(&failures) || failures > lamps {
        let problem = Problem::new("fit.bias_failures", "the correction of the shape is not known for these numbers")
            .got(format!("{} of {}", counted(failures, "failure"), counted(lamps, "lamp")))
            .expected(format!("{FEWEST} to {MOST} failures"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let samples = (DRAWN / failures).clamp(SAMPLES.0, SAMPLES.1);
    let shapes =
        run.map(samples as usize, |i| simulated(failures, lamps, &mut Stream::new(0, "fit", "shape_bias", i as u64)))?;
    let shapes = shapes.into_iter().collect::<Result<Vec<f64>>>()?;
    let n = shapes.len() as f64;
    let mean = pairwise(&shapes) / n;
    let variance = pairwise(&shapes.iter().map(|s| (s - mean) * (s - mean)).collect::<Vec<_>>()) / n;
    Ok(BiasFactor { factor: 1.0 / mean, standard_error: (variance / n).sqrt() / (mean * mean) })
}

/// ln shape between which the estimate of a simulated shape of 1 is sought.
const RANGE: (f64, f64) = (-8.0, 8.0);

/// Shape estimated from the first `failures` of `lamps` lives of shape 1.
fn simulated(failures: u64, lamps: u64, stream: &mut Stream) -> Result<f64> {
    // Times between failures of n unit exponential lives: the i-th of n is exponential over the lamps still burning.
    let mut age = 0.0;
    let ln_ages: Vec<f64> = (0..failures)
        .map(|gone| {
            age += stream.exponential() / (lamps - gone) as f64;
            age.ln()
        })
        .collect();
    let last = ln_ages.last().copied().unwrap_or(0.0);
    let mean = ln_ages.iter().sum::<f64>() / failures as f64;
    let censored = (lamps - failures) as f64;
    // Derivative of the profile likelihood over the shape: 1/b + mean ln t - sum(t^b ln t) / sum(t^b).
    let slope = |ln_b: f64| {
        let b = ln_b.exp();
        let (mut sum, mut first) = (censored, censored * last);
        for y in &ln_ages {
            let power = (b * (y - last)).exp();
            sum += power;
            first += power * y;
        }
        Ok(1.0 / b + mean - first / sum)
    };
    Ok(bracketed(slope, RANGE.0, RANGE.1, 1e-7)?.exp())
}

impl Fit {
    /// The shape of a Weibull fit with its bias taken out, for complete and failure-censored samples.
    ///
    /// Other censoring (by time, staggered, late entry, intervals, windows) has no factor of its own: the bias then depends
    /// on how many lamps would have failed, and a factor for another plan may make things worse. It is refused.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted.
    ///
    /// # Errors
    /// `fit.bias_family` for another family; `fit.other_data` for another number of lamps or failures; refused:
    /// `fit.bias_censoring`, `fit.bias_failures`.
    ///
    /// # Source
    /// [`shape_bias_factor`].
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0, 950.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let (options, run) = (FitOptions::default(), Run::new());
    /// let steep = fit(family("weibull")?, &tally, &options, &run)?;
    /// let corrected = steep.corrected_shape(&tally, &options, &run)?;
    /// assert!((corrected.corrected / corrected.shape - 0.75).abs() < 0.01); // six lamps
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn corrected_shape(&self, tally: &Tally, options: &FitOptions, run: &Run) -> Result<ShapeCorrection> {
        let Some(shape) = self.parameter_at_maximum("shape").filter(|_| self.family_name() == "weibull") else {
            let problem = Problem::new("fit.bias_family", "only the Weibull shape has this correction")
                .at(Place::input("family"))
                .got(self.family_name())
                .expected("weibull");
            return Err(Error::new(Kind::Input, problem));
        };
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let count = sample.count;
        if (count.lamps, count.failures) != (self.facts().lamps, self.facts().failures) {
            let both = |lamps, failures| format!("{}, {}", counted(lamps, "lamp"), counted(failures, "failure"));
            let got = both(count.lamps, count.failures);
            let expected = both(self.facts().lamps, self.facts().failures);
            let problem = Problem::new("fit.other_data", "the tally is not the one that was fitted");
            return Err(Error::new(Kind::Input, problem.got(got).expected(expected)));
        }
        let lamps: u64 = (0..tally.rows()).filter(|&i| sample.informs(i)).map(|i| tally.count()[i]).sum();
        let plan = plan(&sample, options, count.oldest_failure)?;
        let BiasFactor { factor, standard_error } = shape_bias_factor(count.failures, lamps, run)?;
        Ok(ShapeCorrection {
            shape,
            corrected: factor * shape,
            factor,
            factor_error: standard_error,
            plan,
            failures: count.failures,
            lamps,
        })
    }
}

fn plan(sample: &Sample, options: &FitOptions, last_failure: f64) -> Result<CensoringPlan> {
    let refused = |got: String| {
        let problem = Problem::new("fit.bias_censoring", "no correction of the shape is known for this censoring")
            .at(Place::input("tally"))
            .got(got)
            .expected("new lamps that all failed, or all others right-censored at the age of the last failure");
        Err(Error::new(Kind::Refused, problem))
    };
    if options.weights.is_some() {
        return refused("real weights".to_owned());
    }
    let mut complete = true;
    for i in (0..sample.tally.rows()).filter(|&i| sample.informs(i)) {
        let Row { evidence, entry, upper } = sample.row(i);
        if entry > 0.0 {
            return refused(format!("a lamp under observation from {entry} h on"));
        }
        if upper < f64::INFINITY {
            return refused("records that show failures only".to_owned());
        }
        match evidence {
            Evidence::Exact(_) => {}
            Evidence::Between(low, high) => return refused(format!("a failure between {low} and {high} h")),
            Evidence::Passed(age) if age == last_failure => complete = false,
            Evidence::Passed(age) => {
                return refused(format!(
                    "a lamp right-censored at {} h, the last failure at {} h",
                    hours(age),
                    hours(last_failure)
                ));
            }
        }
    }
    Ok(if complete { CensoringPlan::Complete } else { CensoringPlan::FailureCensored })
}
