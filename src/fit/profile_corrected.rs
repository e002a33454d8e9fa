//! Profile intervals whose likelihood ratio is divided by its simulated mean.

use serde::{Deserialize, Serialize};

use super::distance::{Plan, check, cut_note, unsettled};
use super::interval::{Interval, Quantity, Sides, critical};
use super::model::Fit;
use super::ridge::{IMPOSSIBLE, Ridge};
use super::sample::Sample;
use super::search::{Engine, FitOptions, fit_sample};
use super::target::{Function, Target};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::sum::pairwise;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Life};
use crate::lives::Tally;

/// The mean of the likelihood ratio of one quantity among simulated samples.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RatioMean {
    /// The mean; 1 in large samples.
    pub mean: f64,
    /// Its standard error, from the spread among the samples.
    pub standard_error: f64,
    /// Simulated samples behind it.
    pub replicates: u64,
    /// Simulated samples left out, since their fit was refused or did not settle.
    pub unsettled: u64,
}

impl Sound for RatioMean {
    fn check(&self, c: &mut Checks) {
        c.positive("mean", self.mean);
        c.not_negative("standard_error", self.standard_error);
        c.need("replicates", self.replicates >= 2, self.replicates, "2 or more");
        let few = !too_many(self.unsettled, self.replicates + self.unsettled);
        c.need("unsettled", few, self.unsettled, format!("at most {MOST_UNSETTLED} of all simulated samples"));
    }
}

/// Share of simulated samples without a fit above which their ratios have no mean worth the name.
///
/// Our choice, without a source: the mean is taken among samples that have a maximum, as the records do. Where two lamps
/// failed about one sample in eight has no failure; where one did, more than one in three.
const MOST_UNSETTLED: f64 = 0.25;

fn too_many(unsettled: u64, all: u64) -> bool {
    unsettled as f64 > MOST_UNSETTLED * all as f64
}

impl Fit {
    /// A profile interval whose likelihood ratio is divided by its simulated mean: for few failures, where the plain one
    /// holds the truth less often than it says.
    ///
    /// # Formula
    /// ```text
    /// W     = 2 (ln L max - max of ln L with the quantity at its true value)
    /// m     = mean of W among samples simulated from the fitted life, the truth being the fitted value
    /// interval: every q with r(q) >= -m z^2 / 2;   r as in Fit::profile
    /// ```
    /// In large samples W is chi-square with one degree of freedom, whose mean is 1. In small ones its mean is larger, and
    /// W / m is closer to chi-square than W is. A sample draws the life of every lamp from the fit and censors it as
    /// [`super::distance_test`] does, also where a life may fail before age 0. Samples without a maximum are left out. The mean balances both ends together, so
    /// there is no corrected bound on one side alone.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted. `replicates`: simulated samples, 99 or more, such as 400. The same
    /// seed gives the same interval for any number of threads.
    ///
    /// # Errors
    /// Those of [`Fit::profile`]. Refused: `fit.parameter_open` where the records do not settle a parameter; `fit.ratio_mean`
    /// for real weights and for a parameter held where it ends; `fit.distance_rows` for failures known to an interval,
    /// late entry or windows; `fit.replicate_unsettled` if more than a quarter of the samples have no fit. Input:
    /// `fit.replicates`. Limit: `fit.distance_too_many` above 100,000 lamps.
    ///
    /// # Source
    /// M. S. Bartlett (1937), Proceedings of the Royal Society A 160, 268-282; D. N. Lawley (1956), Biometrika 43, 295-303.
    /// From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, Quantity, Sides, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let (options, run, shape) = (FitOptions::default(), Run::new(), Quantity::Parameter("shape".into()));
    /// let fit = fit(family("weibull")?, &tally, &options, &run)?;
    /// let plain = fit.profile(&tally, &options, &shape, 0.95, Sides::Both, &run)?;
    /// let corrected = fit.profile_corrected(&tally, &options, &shape, 0.95, 400, 1, &run)?;
    /// assert!(corrected.ratio.unwrap().mean > 1.1);
    /// assert!(corrected.low < plain.low && corrected.high > plain.high);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    #[allow(clippy::too_many_arguments, reason = "what was fitted, what is asked and how sure, none of them one thing")]
    pub fn profile_corrected(
        &self,
        tally: &Tally,
        options: &FitOptions,
        quantity: &Quantity,
        level: f64,
        replicates: usize,
        seed: u64,
        run: &Run,
    ) -> Result<Interval> {
        let family = self.family()?;
        let target = Target::new(family, quantity)?;
        let samples = Samples::new(self, tally, options, target, (level, replicates, seed))?;
        // A target may hold a function of the caller's own, which stays on its thread; this one is made anew on each.
        let ratios = run.map(replicates, |i| samples.ratio(Target::new(family, quantity)?, i, run))?;
        let ratio = mean_of(ratios)?;
        let made = self.profile_at(tally, options, target, quantity.clone(), (level, Sides::Both, Some(ratio)), run)?.0;
        Ok(samples.told(made))
    }

    /// The same for a function of the caller's own, which is asked of the simulated samples one after the other.
    ///
    /// # Errors
    /// Those of [`Fit::profile_corrected`], of [`Fit::profile_of`] and of the function.
    #[allow(clippy::too_many_arguments, reason = "what was fitted, what is asked and how sure, none of them one thing")]
    pub fn profile_corrected_of(
        &self,
        tally: &Tally,
        options: &FitOptions,
        asked: &Function,
        level: f64,
        replicates: usize,
        seed: u64,
        run: &Run,
    ) -> Result<Interval> {
        let target = Target::function(asked);
        let samples = Samples::new(self, tally, options, target, (level, replicates, seed))?;
        run.expect_steps(replicates as u64);
        let mut ratios = Vec::with_capacity(replicates);
        for i in 0..replicates {
            run.check()?;
            ratios.push(Ok(samples.ratio(target, i, run)?));
            run.step();
        }
        let ratio = mean_of(ratios)?;
        let quantity = Quantity::Function(asked.name.clone());
        let made = self.profile_at(tally, options, target, quantity, (level, Sides::Both, Some(ratio)), run)?.0;
        Ok(samples.told(made))
    }
}

/// Samples to be simulated from a fitted life under the censoring of its records.
struct Samples {
    family: &'static dyn Family,
    life: Box<dyn Life>,
    plan: Plan,
    /// The quantity of the fitted life, on its working scale.
    truth: f64,
    options: FitOptions,
    seed: u64,
}

impl Samples {
    fn new(
        fit: &Fit,
        tally: &Tally,
        options: &FitOptions,
        target: Target,
        (level, replicates, seed): (f64, usize, u64),
    ) -> Result<Self> {
        // What is wrong with the question is said before the long work.
        critical(level, Sides::Both)?;
        let family = fit.family()?;
        let truth = target.value(family, &fit.coordinates)?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        fit.same_data(&Engine::new(family, &sample, options.reduced))?;
        if options.weights.is_some() {
            return Err(no_mean("weights", "rows with real weights are no sample that could be drawn again"));
        }
        if (0..fit.coordinates.len()).any(|i| !(fit.coordinate_covariance(i, i) > Some(0.0))) {
            return Err(no_mean("fit", "a parameter is held where it stands, and there the ratio follows another law"));
        }
        let counted = options.endings.as_ref().map(|e| tally.for_endings(e)).transpose()?;
        // A lamp that was never watched is neither late nor drawn again.
        let tally = &*counted.as_ref().unwrap_or(tally).informative();
        check(tally, replicates)?;
        let options = FitOptions { endings: None, ..options.clone() };
        Ok(Self { family, life: fit.life()?, plan: Plan::new(tally)?, truth, options, seed })
    }

    /// The interval with the note on lives that the samples cannot hold.
    fn told(&self, mut made: Interval) -> Interval {
        made.notes.extend(cut_note(self.life.as_ref(), self.family.name()));
        made
    }

    /// The likelihood ratio of one sample; none where it has no fit.
    fn ratio(&self, target: Target, i: usize, run: &Run) -> Result<Option<f64>> {
        match self.seen(target, i, run) {
            Err(error) if matches!(error.kind(), Kind::Refused | Kind::Domain) => Ok(None),
            other => other,
        }
    }

    fn seen(&self, target: Target, i: usize, run: &Run) -> Result<Option<f64>> {
        let mut stream = Stream::new(self.seed, "fit", "profile_corrected", i as u64);
        let tally = self.plan.draw(self.life.as_ref(), &mut stream)?;
        let sample = Sample::new(&tally, None, None)?;
        let refit = fit_sample(self.family, &sample, &self.options, run)?;
        if !refit.converged() {
            return Ok(None);
        }
        let engine = Engine::new(self.family, &sample, self.options.reduced);
        let ridge = Ridge::new(&refit, &engine, target, &self.options, run)?;
        let there = ridge.height(self.truth, &mut ridge.warm())?;
        let sound = there.settled && there.nearest.is_none() && there.value > IMPOSSIBLE;
        // Rounding may lift the ridge above the top that it touches.
        Ok(sound.then(|| (-2.0 * there.value).max(0.0)))
    }
}

fn mean_of(answers: Vec<Result<Option<f64>>>) -> Result<RatioMean> {
    let all = answers.len();
    let ratios: Vec<f64> = answers.into_iter().filter_map(Result::transpose).collect::<Result<_>>()?;
    let lost = all - ratios.len();
    if too_many(lost as u64, all as u64) {
        return Err(unsettled(lost));
    }
    let n = ratios.len() as f64;
    let mean = pairwise(&ratios) / n;
    let squares: Vec<f64> = ratios.iter().map(|w| (w - mean).powi(2)).collect();
    let standard_error = (pairwise(&squares) / (n - 1.0) / n).sqrt();
    Ok(RatioMean { mean, standard_error, replicates: ratios.len() as u64, unsettled: lost as u64 })
}

fn no_mean(input: &str, what: &str) -> Error {
    let hint = "the plain profile interval needs no simulated samples";
    Error::new(Kind::Refused, Problem::new("fit.ratio_mean", what).at(Place::input(input))).with_hint(hint)
}
