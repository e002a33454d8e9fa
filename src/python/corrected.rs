//! Profile intervals corrected by simulation.

use pyo3::prelude::*;

use super::fit::PyFit;
use super::intake::arguments as args;
use super::lives::PyTally;
use super::question::{Asked, Given};
use super::uncertainty::{PyInterval, few_enough, options};
use super::work::work;
use crate::base::run::Run;

/// A profile interval whose likelihood ratio is divided by its simulated mean: for few failures.
///
/// Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean`, `failure_within` and
/// `function` says of what.
///
/// Twice the fall of ln L from its maximum to the true value is chi-square with mean 1 in large samples. In small
/// ones its mean m is larger, and a plain profile interval holds the truth less often than it says. Here m comes from
/// samples that are simulated from the fitted life and fitted again, and the interval holds every value at which ln L
/// lies within m z^2 / 2 of its maximum (Bartlett 1937, Lawley 1956). A sample draws the life of every lamp and censors
/// it; a lamp that failed gets a censoring age from the product-limit curve of the censoring. Late entry, windows and
/// failures known to an interval are refused. Both ends belong together: neither is a bound by itself.
///
/// Parameters
/// ----------
/// fit : Fit
///     The fit.
/// tally : Tally
///     The one that was fitted.
/// endings : list of str, optional
///     The ones that were fitted.
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
/// replicates : int
///     How many samples are simulated, 99 or more.
/// seed : int
///     0 to 2^64 - 1. Same seed, same interval, for any number of threads.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end; not where a function is asked for.
///
/// Returns
/// -------
/// Interval
///     Its `ratio` holds the mean that was used.
///
/// Raises
/// ------
/// InputError
///     For another tally than the fitted one, none or more than one quantity, an unknown parameter or ending, a level
///     out of range, fewer than 99 replicates or more than 10,000,000, and what is no number.
/// DomainError
///     For a share, percentage or age out of range.
/// RefusedError
///     For rows other than exact and right-censored from new, a parameter that the records do not settle or that is
///     held where it ends, and where more than a quarter of the samples have no fit.
/// LimitError
///     For more than 100,000 lamps.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> fit = relamp.fit(tally)
/// >>> plain = fit.profile(tally, parameter="shape")
/// >>> corrected = relamp.profile_corrected(fit, tally, parameter="shape", seed=1)
/// >>> corrected.low < plain.low < plain.high < corrected.high
/// True
/// >>> 1.0 < corrected.ratio["mean"] < 1.6
/// True
#[pyfunction]
#[pyo3(signature = (fit, tally, *, endings=None, parameter=None, quantile=None, b_life=None, reliability=None,
    hazard=None, mean=false, failure_within=None, function=None, scale="plain", level=0.95, replicates=400, seed,
    progress=None))]
pub(super) fn profile_corrected(
    py: Python<'_>,
    fit: &Bound<'_, PyFit>,
    tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
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
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyInterval> {
    let given = Given { parameter, quantile, b_life, reliability, hazard, mean, failure_within, function };
    let (options, fit, tally) = (options(endings)?, &fit.get().0, &tally.get().0);
    few_enough(replicates)?;
    Ok(PyInterval(match given.asked(scale)? {
        Asked::Quantity(quantity) => {
            work(py, progress, |run| fit.profile_corrected(tally, &options, &quantity, level, replicates, seed, run))?
        }
        // The function needs the interpreter, so this work cannot leave it.
        Asked::Function(own) => own.call(fit.family()?, |f| {
            fit.profile_corrected_of(tally, &options, f, level, replicates, seed, &Run::new())
        })?,
    }))
}
