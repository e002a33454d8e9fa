//! Intervals, bootstrap, check of a family, and fits by cause with draws of possible worlds.

use arrow_array::RecordBatch;
use numpy::{PyArray1, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{
    Bootstrap, BootstrapEnds, CauseFits, CauseOptions, Fit, FitCheck, FitOptions, Interval, Note,
    bootstrap as core_bootstrap, fit_causes as core_fit_causes,
};
use crate::records::Ending;

use super::error::{refuse, warn};
use super::fit::PyFit;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::policy::word;
use super::question::{Asked, Given, in_words, sides as sides_of};
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyCosts;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const INTERVAL: Format = Format::new("interval", 1);
const BOOTSTRAP: Format = Format::new("bootstrap", 1);
const CHECK: Format = Format::new("fit_check", 1);
const CAUSES: Format = Format::new("cause_fits", 1);

pub(super) fn pairs(notes: &[Note]) -> Vec<(String, String)> {
    notes.iter().map(|n| (n.slug.clone(), n.text.clone())).collect()
}

fn interval_table(i: &Interval) -> Result<RecordBatch> {
    Frame::default()
        .texts("quantity", [in_words(&i.quantity)])
        .numbers_or_null("estimate", [i.estimate])
        .numbers_or_null("low", [i.low])
        .numbers_or_null("high", [i.high])
        .numbers("level", [i.level])
        .texts("sides", [word(&i.sides)])
        .texts("method", [word(&i.method)])
        .finish()
}

fn interval_facts(i: &Interval) -> Facts {
    let mut facts: Facts = facts! {
        "quantity": in_words(&i.quantity), "estimate": i.estimate, "low": i.low, "high": i.high, "level": i.level,
        "sides": word(&i.sides), "method": word(&i.method), "notes": i.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    };
    if let Some(r) = &i.ratio {
        facts.extend(facts! { "mean_ratio": r.mean, "replicates": r.replicates, "unsettled": r.unsettled });
    }
    facts
}

result_class! {
    /// An estimate with its interval, level and method; made by `Fit.wald`, `Fit.profile`, `profile_corrected` or
    /// `Bootstrap.interval`.
    PyInterval holds Interval as "Interval";
    save |i| saved::save(INTERVAL, i); load |t| saved::load(INTERVAL, t); table interval_table; show interval_facts;
    {
        /// What was asked, in words.
        #[getter]
        fn quantity(&self) -> String {
            in_words(&self.0.quantity)
        }

        /// At the maximum of the likelihood; for a posterior its median. None where the records do not settle the
        /// quantity, so that no single value stands for it: `low` and `high` are then all there is. In `to_dict` its key is
        /// then missing, as None stands for an infinite estimate there.
        #[getter]
        fn estimate(&self) -> Option<f64> {
            self.0.estimate
        }

        /// Lower end; None where it is open.
        #[getter]
        fn low(&self) -> Option<f64> {
            self.0.low
        }

        /// Upper end; None where it is open.
        #[getter]
        fn high(&self) -> Option<f64> {
            self.0.high
        }

        /// Confidence level.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// Which ends the level is for: "both", the level between them, or "lower" or "upper", a bound on one side.
        #[getter]
        fn sides(&self) -> String {
            word(&self.0.sides)
        }

        /// How it was made.
        #[getter]
        fn method(&self) -> String {
            word(&self.0.method)
        }

        /// What a reader must know beside it: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }

        /// What the likelihood ratio was divided by.
        ///
        /// Its `mean` among simulated samples with `standard_error`, their number (`replicates`) and how many were left out
        /// for want of a fit (`unsettled`). None but for a corrected profile.
        #[getter]
        fn ratio<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyDict>>> {
            let Some(ratio) = &self.0.ratio else { return Ok(None) };
            let dict = PyDict::new(py);
            dict.set_item("mean", ratio.mean)?;
            dict.set_item("standard_error", ratio.standard_error)?;
            dict.set_item("replicates", ratio.replicates)?;
            dict.set_item("unsettled", ratio.unsettled)?;
            Ok(Some(dict))
        }
    }
}

pub(super) fn options(endings: Option<Vec<String>>) -> Result<FitOptions> {
    let endings = endings.map(|e| e.iter().map(|w| ending("endings", w)).collect::<Result<Vec<_>>>()).transpose()?;
    Ok(FitOptions { endings, ..FitOptions::default() })
}

fn replicates(b: &Bootstrap) -> Result<RecordBatch> {
    let names = b.fit().family()?.parameter_names();
    let family = b.fit().family()?;
    let each: Vec<Vec<f64>> = b.coordinates().iter().map(|x| family.parameters(x)).collect();
    let mut frame = Frame::default();
    for (j, name) in names.iter().enumerate() {
        frame = frame.numbers(name, each.iter().map(|p| p.get(j).copied().unwrap_or(f64::NAN)));
    }
    frame.finish()
}

fn bootstrap_facts(b: &Bootstrap) -> Facts {
    let mut facts: Facts = facts! { "family": b.fit().family_name() };
    facts.extend(b.fit().parameters().into_iter().map(|(name, value)| (name, serde_json::json!(value))));
    facts.extend(facts! { "replicates": b.coordinates().len(), "unsettled": b.unsettled().len() });
    facts
}

result_class! {
    /// Refits with random weights; made by `bootstrap`. Its table holds the parameters of each replicate.
    PyBootstrap holds Bootstrap as "Bootstrap";
    save |b| saved::save(BOOTSTRAP, b); load |t| saved::load(BOOTSTRAP, t); table replicates; show bootstrap_facts;
    {
        fn __len__(&self) -> usize {
            self.0.coordinates().len()
        }

        /// The fit at the counts.
        #[getter]
        fn fit(&self) -> PyFit {
            PyFit(self.0.fit().clone())
        }

        /// Coordinates of the replicates that settled, (replicates, width).
        #[getter]
        fn coordinates<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            py.import("numpy")?;
            let rows = self.0.coordinates();
            let width = self.0.fit().coordinates().len();
            let flat: Vec<f64> = rows.iter().flatten().copied().collect();
            Ok(PyArray1::from_slice(py, &flat).reshape([rows.len(), width])?.into_any())
        }

        /// Replicates that did not settle, the first being 0.
        #[getter]
        fn unsettled(&self) -> Fixed<u64> {
            Fixed(self.0.unsettled().to_vec())
        }

        /// A percentile interval of one quantity.
        ///
        /// Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean`, `failure_within` and
        /// `function` says which.
        /// With `bias_corrected` the percentiles move by the share of replicates below the estimate (Efron 1981): they
        /// stand at Phi(2 z0 -+ z), z0 the normal quantile of that share.
        ///
        /// Parameters
        /// ----------
        /// parameter : str, optional
        ///     Name of a parameter.
        /// quantile : float, optional
        ///     Asks for the age by which this share has failed, inside 0 to 1.
        /// b_life : float, optional
        ///     Asks for the age by which this many percent have failed, inside 0 to 100.
        /// reliability : float, optional
        ///     Asks for the probability to pass this age, hours.
        /// hazard : float, optional
        ///     Asks for the failures per hour at this age, hours.
        /// mean : bool
        ///     Asks for the mean age at failure.
        /// failure_within : (float, float), optional
        ///     Age and hours: asks for the probability that a lamp of this age fails within these hours.
        /// function : callable, optional
        ///     Asks for a function of a `Life` that gives a number; its slopes are taken numerically.
        /// scale : {"plain", "positive", "share"}
        ///     For a function: where its interval is made; "positive" on its logarithm, "share" between 0 and 1.
        /// level : float
        ///     Confidence level, inside 0 to 1.
        /// sides : {"both", "lower", "upper"}
        ///     Which ends; one alone has the whole level.
        /// bias_corrected : bool
        ///     Whether the percentiles move.
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For none or more than one quantity, an unknown parameter or side, a level out of range, and what is no
        ///     number.
        /// DomainError
        ///     For a share, percentage or age out of range.
        /// RefusedError
        ///     Where fewer than half of the replicates settled.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> interval = relamp.bootstrap(tally, replicates=200, seed=7).interval(quantile=0.1, level=0.9)
        /// >>> interval.low < interval.estimate < interval.high
        /// True
        /// >>> replicates = relamp.bootstrap(tally, replicates=400, seed=7)
        /// >>> plain = replicates.interval(parameter="shape")
        /// >>> replicates.interval(parameter="shape", bias_corrected=True).high < plain.high
        /// True
        #[pyo3(signature = (*, parameter=None, quantile=None, b_life=None, reliability=None, hazard=None, mean=false,
            failure_within=None, function=None, scale="plain", level=0.95, sides="both", bias_corrected=false))]
        fn interval(
            &self,
            #[pyo3(from_py_with = args::parameter)] parameter: Option<String>,
            #[pyo3(from_py_with = args::quantile)] quantile: Option<f64>,
            #[pyo3(from_py_with = args::b_life)] b_life: Option<f64>,
            #[pyo3(from_py_with = args::reliability)] reliability: Option<f64>,
            #[pyo3(from_py_with = args::hazard)] hazard: Option<f64>,
            #[pyo3(from_py_with = args::mean_asked)] mean: bool,
            #[pyo3(from_py_with = args::failure_within)] failure_within: Option<(f64, f64)>,
            function: Option<Bound<'_, PyAny>>,
            #[pyo3(from_py_with = args::scale)] scale: &str,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
            #[pyo3(from_py_with = args::bias_corrected)] bias_corrected: bool,
        ) -> PyResult<PyInterval> {
            let given = Given { parameter, quantile, b_life, reliability, hazard, mean, failure_within, function };
            let sides = sides_of(sides)?;
            let ends = if bias_corrected { BootstrapEnds::BiasCorrected } else { BootstrapEnds::Percentile };
            let made = match given.asked(scale)? {
                Asked::Quantity(quantity) if bias_corrected => self.0.bias_corrected(&quantity, level, sides)?,
                Asked::Quantity(quantity) => self.0.interval(&quantity, level, sides)?,
                Asked::Function(own) => own.call(self.0.fit().family()?, |f| self.0.interval_of(f, level, sides, ends))?,
            };
            Ok(PyInterval(made))
        }
    }
}

/// Refits many times with random weights Gamma(count, 1) on the rows; the rows of a cluster share theirs.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// family : str
///     A name that `life` knows, such as "weibull", "exponential", "lognormal", "log_logistic" or "above_zero(normal)".
/// replicates : int
///     How many, 2 or more.
/// seed : int
///     0 to 2^64 - 1. Same seed, same replicates, for any number of threads.
/// stratum : str
///     Name under which weights are drawn, usually the lamp class.
/// endings : list of str, optional
///     Endings that count as failure; without it all failures count.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// Bootstrap
///
/// Raises
/// ------
/// InputError
///     For an unknown family or ending, and records that the family cannot have.
///     Fewer than 2 replicates, or more than 10,000,000.
/// RefusedError
///     Where no maximum exists; the hint holds the best bound there is.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> low = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
/// >>> tally = relamp.lives(low, low[:10] + [None, None])
/// >>> replicates = relamp.bootstrap(tally, replicates=200, seed=7)
/// >>> interval = replicates.interval(b_life=10.0, level=0.9)
/// >>> interval.low < interval.estimate < interval.high
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, family="weibull", replicates=1000, seed, stratum="", endings=None, progress=None))]
pub(super) fn bootstrap(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::stratum)] stratum: &str,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyBootstrap> {
    let (family, options, tally) = (family_of(family)?, options(endings)?, &tally.get().0);
    few_enough(replicates)?;
    let made = work(py, progress, |run| core_bootstrap(family, tally, &options, replicates, seed, stratum, run))?;
    super::fit::tell(py, made.fit())?;
    Ok(PyBootstrap(made))
}

/// Replicates in one call; more would not fit in memory.
const MOST_REPLICATES: usize = 10_000_000;

pub(super) fn few_enough(n: usize) -> Result<()> {
    if n <= MOST_REPLICATES {
        return Ok(());
    }
    let expected = format!("at most {MOST_REPLICATES}");
    Err(refuse("python.too_many", "too many replicates", "replicates", "", &n.to_string(), &expected))
}

fn check_table(c: &FitCheck) -> Result<RecordBatch> {
    let each = || c.by_age.iter().map(|l| ("age", l)).chain(c.by_cluster.iter().map(|l| ("cluster", l)));
    Frame::default()
        .texts("by", each().map(|l| l.0))
        .texts("label", each().map(|l| &l.1.label))
        .numbers("seen", each().map(|l| l.1.seen))
        .numbers("expected", each().map(|l| l.1.expected))
        .finish()
}

fn check_facts(c: &FitCheck) -> Facts {
    facts! {
        "misfit": c.misfit, "p_value": c.p_value, "p_age": c.p_age, "p_cluster": c.p_cluster, "verdict": c.verdict,
    }
}

result_class! {
    /// Whether a fitted family agrees with the records it was fitted to; made by `Fit.check`.
    PyFitCheck holds FitCheck as "FitCheck";
    save |c| saved::save(CHECK, c); load |t| saved::load(CHECK, t); table check_table; show check_facts;
    {
        /// Whether the records speak against the family.
        #[getter]
        fn misfit(&self) -> bool {
            self.0.misfit
        }

        /// Chance of a pattern at least this uneven if the family fits; None where no check could be made.
        #[getter]
        fn p_value(&self) -> Option<f64> {
            self.0.p_value
        }

        /// The same over ranges of age alone.
        #[getter]
        fn p_age(&self) -> Option<f64> {
            self.0.p_age
        }

        /// The same over clusters alone.
        #[getter]
        fn p_cluster(&self) -> Option<f64> {
            self.0.p_cluster
        }

        /// The answer in plain words.
        #[getter]
        fn verdict(&self) -> &str {
            &self.0.verdict
        }
    }
}

fn causes_table(c: &CauseFits) -> Result<RecordBatch> {
    let rows: Vec<(&Fit, Ending, f64)> =
        c.causes().iter().flat_map(|cause| cause.endings.iter().map(|(e, share)| (&cause.fit, *e, *share))).collect();
    Frame::default()
        .texts("ending", rows.iter().map(|r| r.1.as_str()))
        .numbers("share", rows.iter().map(|r| r.2))
        .texts("family", rows.iter().map(|r| r.0.family_name()))
        .counts("failures", rows.iter().map(|r| r.0.facts().failures))
        .numbers_or_null("shape", rows.iter().map(|r| r.0.parameter("shape")))
        .numbers_or_null("location", rows.iter().map(|r| r.0.parameter("location")))
        .numbers_or_null("scale", rows.iter().map(|r| r.0.parameter("scale")))
        .finish()
}

fn causes_facts(c: &CauseFits) -> Facts {
    let named =
        |cause: &crate::fit::CauseFit| cause.endings.iter().map(|(e, _)| e.as_str()).collect::<Vec<_>>().join("+");
    facts! {
        "causes": c.causes().iter().map(named).collect::<Vec<_>>(),
        "unseen": c.unseen().iter().map(|u| u.ending.as_str()).collect::<Vec<_>>(),
        "lamps": c.facts().lamps, "failures": c.facts().failures,
        "misfit": c.check().map(|k| k.misfit),
        "notes": c.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Life by cause, and of all failures together; made by `fit_causes`. It holds numbers, never data.
    PyCauseFits holds CauseFits as "CauseFits";
    save |c| saved::save(CAUSES, c); load |t| saved::load(CAUSES, t); table causes_table; show causes_facts;
    {
        /// The causes: pairs of (endings with their shares, fit).
        #[getter]
        fn causes(&self) -> Fixed<(Vec<(&'static str, f64)>, PyFit)> {
            let named = |c: &crate::fit::CauseFit| c.endings.iter().map(|(e, share)| (e.as_str(), *share)).collect();
            self.0.causes().iter().map(|c| (named(c), PyFit(c.fit.clone()))).collect()
        }

        /// Endings never seen, with the 95 % bound on their even rate, per hour.
        #[getter]
        fn unseen(&self) -> Fixed<(&'static str, f64)> {
            self.0.unseen().iter().map(|u| (u.ending.as_str(), u.rate_bound_95_per_hour)).collect()
        }

        /// One fit of all failures together; None if it is refused.
        #[getter]
        fn overall(&self) -> Option<PyFit> {
            self.0.overall().cloned().map(PyFit)
        }

        /// Whether the overall fit agrees with the records; None if there is no overall fit.
        #[getter]
        fn check(&self) -> Option<PyFitCheck> {
            self.0.check().cloned().map(PyFitCheck)
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// The world at the estimates.
        ///
        /// Parameters
        /// ----------
        /// costs : Costs
        ///     Of a planned change, and of a failure by every ending that was seen.
        ///
        /// Returns
        /// -------
        /// World
        ///
        /// Raises
        /// ------
        /// RefusedError
        ///     Where the fit of a cause did not settle, or its records show failures only.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> ages = [100.0 + 7.0 * i for i in range(60)]
        /// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
        /// >>> fits, costs = relamp.fit_causes(tally), relamp.costs(950.0, burst=5200.0, dim=1250.0)
        /// >>> fits.world(costs).causes
        /// ([('burst', 1.0)], [('dim', 1.0)])
        #[pyo3(signature = (costs, /))]
        fn world(&self, #[pyo3(from_py_with = args::made::<PyCosts>)] costs: &Bound<'_, PyCosts>) -> PyResult<PyWorld> {
            Ok(PyWorld(self.0.world(costs.get().0.clone())?))
        }

        /// Worlds by the weighted bootstrap: in each, one set of random weights refits every cause together.
        ///
        /// Fewer than 40 clusters give a `WeakDataWarning`: what rests on the draws is then too sure of itself.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The one that was fitted.
        /// costs : Costs
        ///     Of a planned change, and of a failure by every ending that was seen.
        /// n : int
        ///     Number of draws, at most 10,000,000; 20 or more for an interval.
        /// seed : int
        ///     0 to 2^64 - 1: same seed, same draws, for any number of threads.
        /// stratum : str
        ///     Name under which weights are drawn, usually the lamp class.
        /// progress : callable, optional
        ///     Told `(done, total)` now and then, and at the end. An exception in it stops the work.
        ///
        /// Returns
        /// -------
        /// Draws
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For another tally than the fitted one, and for `n` or `seed` out of range.
        /// RefusedError
        ///     Where the records of a cause show failures only: no world follows from them.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> ages = [100.0 + 7.0 * i for i in range(60)]
        /// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
        /// >>> fits, costs = relamp.fit_causes(tally), relamp.costs(950.0, burst=5200.0, dim=1250.0)
        /// >>> draws = fits.draws(tally, costs, n=20, seed=1)
        /// >>> len(draws), draws.method
        /// (20, 'weighted_bootstrap')
        #[pyo3(signature = (tally, costs, *, n=400, seed, stratum="", progress=None))]
        fn draws(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::made::<PyCosts>)] costs: &Bound<'_, PyCosts>,
            #[pyo3(from_py_with = args::n)] n: usize,
            #[pyo3(from_py_with = args::seed)] seed: u64,
            #[pyo3(from_py_with = args::stratum)] stratum: &str,
            progress: Option<&Bound<'_, PyAny>>,
        ) -> PyResult<PyDraws> {
            few_enough(n)?;
            let (tally, costs) = (&tally.get().0, costs.get().0.clone());
            let made = work(py, progress, |run| self.0.draws(tally, costs, n, seed, stratum, run))?;
            made.notes().iter().try_for_each(|n| warn(py, "WeakDataWarning", &format!("{} [{}]", n.text, n.slug)))?;
            Ok(PyDraws(made))
        }
    }
}

/// Fits each cause of failure, the rare ones together; endings never seen get an upper bound.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// family : str
///     A name that `life` knows, such as "weibull", "exponential", "lognormal", "log_logistic" or "above_zero(normal)".
/// failures : list of str, optional
///     Endings that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
/// min_failures : int
///     How many failures an ending needs for its own fit.
/// seed : int
///     Seed of the check by cluster, 0 to 2^64 - 1.
///
/// Returns
/// -------
/// CauseFits
///
/// Raises
/// ------
/// InputError
///     For an unknown family or ending, and records that the family cannot have.
/// RefusedError
///     Where no maximum exists; the hint holds the best bound there is.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> low = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
/// >>> endings = ["burst"] * 5 + ["dim"] * 5 + ["running"] * 2
/// >>> tally = relamp.lives(low, low[:10] + [None, None], ending=endings)
/// >>> fits = relamp.fit_causes(tally, min_failures=5)
/// >>> [endings for endings, fit in fits.causes]
/// [[('burst', 1.0)], [('dim', 1.0)]]
#[pyfunction]
#[pyo3(signature = (tally, *, family="weibull", failures=None, min_failures=5, seed=0))]
pub(super) fn fit_causes(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::failures)] failures: Option<Vec<String>>,
    #[pyo3(from_py_with = args::min_failures)] min_failures: u64,
    #[pyo3(from_py_with = args::seed)] seed: u64,
) -> PyResult<PyCauseFits> {
    let mut options = CauseOptions { min_failures, seed, ..CauseOptions::default() };
    if let Some(words) = failures {
        options.failures = words.iter().map(|w| ending("failures", w)).collect::<Result<Vec<_>>>()?;
    }
    let (family, tally) = (family_of(family)?, &tally.get().0);
    let fits = work(py, None, |run| core_fit_causes(tally, family, &options, run))?;
    for note in fits.notes().iter().filter(|n| n.slug == "fit.overall_refused") {
        warn(py, "WeakDataWarning", &format!("{} [{}]", note.text, note.slug))?;
    }
    Ok(PyCauseFits(fits))
}
