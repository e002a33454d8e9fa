//! Posteriors under a stated prior.

use arrow_array::RecordBatch;
use numpy::{PyArray1, PyArrayMethods};
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{Belief, Posterior, Prior, Quantity, Sides, posterior as core_posterior};

use super::error::{refuse, warn};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::PyTally;
use super::question::{Asked, Given, sides as sides_of};
use super::result::result_class;
use super::show::{Facts, facts, number};
use super::uncertainty::{PyInterval, options, pairs};
use super::work::work;

const POSTERIOR: Format = Format::new("posterior", 1);

fn parameters(p: &Posterior) -> Result<RecordBatch> {
    let names = p.family()?.parameter_names();
    let asked: Vec<Quantity> = names.iter().map(|n| Quantity::Parameter((*n).to_owned())).collect();
    let intervals = asked.iter().map(|q| p.interval(q, 0.95, Sides::Both)).collect::<Result<Vec<_>>>()?;
    let means = asked.iter().map(|q| p.mean(q)).collect::<Result<Vec<_>>>()?;
    Frame::default()
        .texts("parameter", names.iter().copied())
        .numbers_or_null("mean", means)
        .numbers_or_null("median", intervals.iter().map(|i| i.estimate))
        .numbers_or_null("low_95", intervals.iter().map(|i| i.low))
        .numbers_or_null("high_95", intervals.iter().map(|i| i.high))
        .finish()
}

/// Median and ends of 95 % of each parameter, in words.
fn posterior_figures(p: &Posterior) -> Result<serde_json::Map<String, serde_json::Value>> {
    let each = p.family()?.parameter_names().iter().map(|name| {
        let i = p.interval(&Quantity::Parameter((*name).to_owned()), 0.95, Sides::Both)?;
        let end = |e: Option<f64>| e.map_or("open".to_owned(), number);
        let text = format!("median {}, 95 % from {} to {}", end(i.estimate), end(i.low), end(i.high));
        Ok(((*name).to_owned(), text.into()))
    });
    each.collect()
}

fn posterior_facts(p: &Posterior) -> Facts {
    // The line names the family alone: figures stand in the summary, one a line.
    let figures = posterior_figures(p).unwrap_or_default();
    facts! {
        "family": p.family_name(), "failures": p.facts().failures, "lamps": p.facts().lamps, "draws": p.draws().len(),
        "figures": figures,
        "prior": serde_json::to_value(p.prior()).unwrap_or_default(),
        "notes": p.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// What records and prior say together of a life model; made by `posterior`.
    ///
    /// Its table holds mean, median and 95 % interval of each parameter.
    PyPosterior holds Posterior as "Posterior";
    save |p| saved::save(POSTERIOR, p); load |t| saved::load(POSTERIOR, t); table parameters; show posterior_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// Lamps that failed.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.facts().failures
        }

        /// Coordinates of the random draws, (draws, width).
        #[getter]
        fn coordinates<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            py.import("numpy")?;
            let rows = self.0.draws();
            let flat: Vec<f64> = rows.iter().flatten().copied().collect();
            Ok(PyArray1::from_slice(py, &flat).reshape([rows.len(), self.0.family()?.width()])?.into_any())
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// An interval between quantiles of the posterior, of one quantity; its estimate is the median.
        ///
        /// Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean`, `failure_within` and
        /// `function` says which.
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
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For none or more than one quantity, an unknown parameter or side, a level out of range, and what is no number.
        /// DomainError
        ///     For a share, percentage or age out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([900, 1100, 1200], [900, 1100, None], count=[1, 1, 6])
        /// >>> posterior = relamp.posterior(tally, shape=(1.0, 6.0), draws=100, seed=1)
        /// >>> interval = posterior.interval(quantile=0.1, level=0.9)
        /// >>> interval.low < interval.estimate < interval.high
        /// True
        #[pyo3(signature = (*, parameter=None, quantile=None, b_life=None, reliability=None, hazard=None, mean=false,
            failure_within=None, function=None, scale="plain", level=0.95, sides="both"))]
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
        ) -> PyResult<PyInterval> {
            let given = Given { parameter, quantile, b_life, reliability, hazard, mean, failure_within, function };
            let sides = sides_of(sides)?;
            Ok(PyInterval(match given.asked(scale)? {
                Asked::Quantity(quantity) => self.0.interval(&quantity, level, sides)?,
                Asked::Function(own) => own.call(self.0.family()?, |f| self.0.interval_of(f, level, sides))?,
            }))
        }

        /// Posterior mean of one quantity; None where it is not finite.
        ///
        /// Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean` and `failure_within` says which.
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
        ///
        /// Returns
        /// -------
        /// float or None
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For none or more than one quantity, an unknown parameter, and what is no number.
        /// DomainError
        ///     For a share, percentage or age out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([900, 1100, 1200], [900, 1100, None], count=[1, 1, 6])
        /// >>> posterior = relamp.posterior(tally, shape=(1.0, 6.0), draws=100, seed=1)
        /// >>> 1.0 < posterior.mean_of(parameter="shape") < 6.0
        /// True
        #[pyo3(signature = (*, parameter=None, quantile=None, b_life=None, reliability=None, hazard=None, mean=false,
            failure_within=None))]
        fn mean_of(
            &self,
            #[pyo3(from_py_with = args::parameter)] parameter: Option<String>,
            #[pyo3(from_py_with = args::quantile)] quantile: Option<f64>,
            #[pyo3(from_py_with = args::b_life)] b_life: Option<f64>,
            #[pyo3(from_py_with = args::reliability)] reliability: Option<f64>,
            #[pyo3(from_py_with = args::hazard)] hazard: Option<f64>,
            #[pyo3(from_py_with = args::mean_asked)] mean: bool,
            #[pyo3(from_py_with = args::failure_within)] failure_within: Option<(f64, f64)>,
        ) -> PyResult<Option<f64>> {
            let given =
                Given { parameter, quantile, b_life, reliability, hazard, mean, failure_within, function: None };
            Ok(self.0.mean(&given.quantity()?)?)
        }

        /// Probability that one quantity lies at or below a value.
        ///
        /// Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean` and `failure_within` says which.
        ///
        /// Parameters
        /// ----------
        /// value : float
        ///     The value, in the unit of the quantity: hours, a share, or a parameter's own.
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
        ///
        /// Returns
        /// -------
        /// float
        ///     Probability, 0 to 1.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For none or more than one quantity, an unknown parameter, and what is no number.
        /// DomainError
        ///     For a share, percentage or age out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([900, 1100, 1200], [900, 1100, None], count=[1, 1, 6])
        /// >>> posterior = relamp.posterior(tally, shape=(1.0, 6.0), draws=100, seed=1)
        /// >>> posterior.probability_below(value=500.0, b_life=10.0) < 0.5
        /// True
        #[pyo3(signature = (*, value, parameter=None, quantile=None, b_life=None, reliability=None, hazard=None,
            mean=false, failure_within=None))]
        fn probability_below(
            &self,
            #[pyo3(from_py_with = args::value)] value: f64,
            #[pyo3(from_py_with = args::parameter)] parameter: Option<String>,
            #[pyo3(from_py_with = args::quantile)] quantile: Option<f64>,
            #[pyo3(from_py_with = args::b_life)] b_life: Option<f64>,
            #[pyo3(from_py_with = args::reliability)] reliability: Option<f64>,
            #[pyo3(from_py_with = args::hazard)] hazard: Option<f64>,
            #[pyo3(from_py_with = args::mean_asked)] mean: bool,
            #[pyo3(from_py_with = args::failure_within)] failure_within: Option<(f64, f64)>,
        ) -> PyResult<f64> {
            let given =
                Given { parameter, quantile, b_life, reliability, hazard, mean, failure_within, function: None };
            Ok(self.0.probability_below(&given.quantity()?, value)?)
        }
    }
}

fn belief(field: &str, given: Option<Vec<f64>>) -> Result<Belief> {
    match given.as_deref() {
        None => Ok(Belief::Even),
        Some(&[low, high]) => Ok(Belief::Within { low, high }),
        Some(&[low, high, probability]) => Ok(Belief::Mostly { low, high, probability }),
        Some(other) => {
            let expected = "(low, high) for sure, or (low, high, probability)";
            Err(refuse(
                "python.belief",
                "not a belief",
                "posterior",
                field,
                &counted(other.len() as u64, "number"),
                expected,
            ))
        }
    }
}

/// Combines a prior on interpretable quantities with the records, by adaptive quadrature.
///
/// The prior stands on a b-life and on the parameter that is not a scale of age (`shape`, or `scale` of a lognormal life),
/// both on a logarithmic scale. Each is None (every factor as likely as any other), (low, high) for sure and even on the
/// logarithm in between, or (low, high, probability): a normal law on the logarithm with that much between the two and as
/// much below them as above. Of a normal, logistic or smallest extreme value life, whose ages may lie below 0, None takes
/// every number of hours as equally likely, and `shape` speaks of its scale in hours. Where records and prior do not close,
/// the posterior is refused.
///
/// Parameters
/// ----------
/// tally : Tally
///     No failures are needed where the prior closes the posterior.
/// family : str
///     A family of one or two parameters whose ages all move in proportion, or by as many hours, with one of them.
/// percent : float
///     Percent failed at the age of `b_life`.
/// b_life : sequence of float, optional
///     Belief of that age, hours.
/// shape : sequence of float, optional
///     Belief of the shape; not for a family of one parameter.
/// draws : int
///     Random draws to keep, 0 or more.
/// seed : int
/// endings : list of str, optional
///     Endings that count as failure; without it all failures count.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// Posterior
///
/// Raises
/// ------
/// InputError
///     For beliefs that are no range, a belief of the shape of a family without one, an unknown family or ending, and what
///     is no number.
/// RefusedError
///     If the posterior has no finite total, or the family is not of the kind.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([900, 1100, 1200], [900, 1100, None], count=[1, 1, 6])
/// >>> posterior = relamp.posterior(tally, shape=(1.0, 6.0), draws=100, seed=1)
/// >>> b10 = posterior.interval(b_life=10.0, level=0.9)
/// >>> b10.method, 300 < b10.low < b10.high < 2500
/// ('posterior', True)
/// >>> posterior.probability_below(value=500.0, b_life=10.0) < 0.5
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, family="weibull", percent=10.0, b_life=None, shape=None, draws=1000, seed, endings=None,
    progress=None))]
pub(super) fn posterior(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::percent)] percent: f64,
    #[pyo3(from_py_with = args::belief_of_b_life)] b_life: Option<Vec<f64>>,
    #[pyo3(from_py_with = args::belief_of_shape)] shape: Option<Vec<f64>>,
    #[pyo3(from_py_with = args::draws_kept)] draws: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPosterior> {
    let (family, options, tally) = (family_of(family)?, options(endings)?, &tally.get().0);
    let prior = Prior { percent, b_life: belief("b_life", b_life)?, shape: belief("shape", shape)? };
    let made = work(py, progress, |run| core_posterior(family, tally, &options, &prior, draws, seed, run))?;
    for note in made.notes().iter().filter(|n| n.slug != "fit.posterior") {
        warn(py, "WeakDataWarning", &format!("{} [{}]", note.text, note.slug))?;
    }
    Ok(PyPosterior(made))
}
