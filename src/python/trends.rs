//! Trends in the failures of sockets, and the power-law process.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::empirical::{Trend, TrendTest, WatchEnd, trend as core_trend};
use crate::fit::{
    PowerLaw, PowerLawDistance, PowerLawEstimate, PowerLawOptions, fit_power_law, power_law_distance as core_distance,
};

use super::arrays::{over, pairs_over};
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args};
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::sockets::PySockets;
use super::uncertainty::few_enough;
use super::work::work;

const TREND: Format = Format::new("trend", 1);
const DISTANCE: Format = Format::new("power_law_distance", 1);

fn ended(word: &str) -> Result<WatchEnd> {
    match word {
        "time" => Ok(WatchEnd::Time),
        "failure" => Ok(WatchEnd::Failure),
        other => Err(refuse("python.ended", "not an end of a watch", "ended", "", other, "'time' or 'failure'")),
    }
}

/// The tests of a trend that there are, by name.
fn tests(t: &Trend) -> Vec<(&'static str, TrendTest)> {
    let all = [
        ("centroid", Some(t.centroid)),
        ("centroid_robust", t.centroid_robust),
        ("centroid_gaps", t.centroid_gaps),
        ("logarithms", t.logarithms),
        ("longer_gaps", t.longer_gaps),
    ];
    all.into_iter().filter_map(|(name, test)| Some((name, test?))).collect()
}

fn trend_table(t: &Trend) -> Result<RecordBatch> {
    let tests = tests(t);
    Frame::default()
        .texts("test", tests.iter().map(|t| t.0))
        .numbers("statistic", tests.iter().map(|t| t.1.statistic))
        .numbers("p_value", tests.iter().map(|t| t.1.p_value))
        .finish()
}

fn trend_facts(t: &Trend) -> Facts {
    facts! {
        "sockets": t.sockets, "failures": t.failures, "ended": word(&t.ended), "centroid": t.centroid.statistic,
        "p_value": t.centroid.p_value, "robust_p_value": t.centroid_robust.map(|r| r.p_value),
        "notes": t.notes.iter().map(String::as_str).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Tests for a trend in the rate of failures of sockets, each with what it takes for granted; made by `trend`.
    ///
    /// Its table has one row for each test: "centroid", "centroid_robust", "centroid_gaps", "logarithms", "longer_gaps".
    PyTrend holds Trend as "Trend";
    save |t| saved::save(TREND, t); load |t| saved::load(TREND, t); table trend_table; show trend_facts;
    {
        /// Statistic and two-sided p value of each test, by name.
        #[getter]
        fn tests(&self) -> std::collections::BTreeMap<&'static str, (f64, f64)> {
            tests(&self.0).into_iter().map(|(name, t)| (name, (t.statistic, t.p_value))).collect()
        }

        /// Failures that count.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.failures
        }

        /// What to know when reading them.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }
    }
}

/// Tests whether the rate of failures of sockets changes with their age.
///
/// - centroid: mean age of the failures against the middle of the watch, for failures at a constant rate in each
///   socket; above 0 means more and more failures. centroid_robust: the same with the spread taken from the sockets,
///   held against Student's law.
///   centroid_gaps: from the gaps between failures, for one socket.
/// - logarithms: 2 sum ln(end / age), chi-square; small means more and more failures. For watches from 0.
/// - longer_gaps: pairs of gaps of which the later is the longer, for one socket.
///
/// Parameters
/// ----------
/// sockets : Sockets
///     The sockets.
/// ended : {"time", "failure"}
///     What ended the watches: with "failure" the last failure of each socket does not count.
///
/// Returns
/// -------
/// Trend
///
/// Raises
/// ------
/// InputError
///     For another word than "time" or "failure".
/// RefusedError
///     Where no failure counts.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> one = relamp.sockets([1000.0], [[500.0, 800.0, 950.0]])
/// >>> statistic, p_value = relamp.trend(one).tests["centroid"]
/// >>> round(statistic, 6), round(p_value, 3)
/// (1.5, 0.134)
#[pyfunction]
#[pyo3(signature = (sockets, *, ended="time"))]
pub(super) fn trend(
    #[pyo3(from_py_with = args::made::<PySockets>)] sockets: &Bound<'_, PySockets>,
    #[pyo3(from_py_with = args::ended)] ended: &str,
) -> PyResult<PyTrend> {
    Ok(PyTrend(core_trend(&sockets.get().0, self::ended(ended)?)?))
}

fn law_table(l: &PowerLaw) -> Result<RecordBatch> {
    Frame::default()
        .texts("parameter", ["shape", "scale"])
        .numbers("estimate", [l.shape, l.scale])
        .numbers_or_null("low", [Some(l.shape_interval.0), None])
        .numbers_or_null("high", [Some(l.shape_interval.1), None])
        .finish()
}

fn law_facts(l: &PowerLaw) -> Facts {
    facts! {
        "estimate": word(&l.estimate), "shape": l.shape, "scale": l.scale,
        "shape_interval": vec![l.shape_interval.0, l.shape_interval.1], "exact": l.exact, "level": l.level,
        "sockets": l.sockets, "failures": l.failures, "ended": word(&l.ended),
        "notes": l.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// A power-law process: scale x age^shape failures of a socket by an age, on average; made by `power_law`.
    PyPowerLaw holds PowerLaw as "PowerLaw";
    save PowerLaw::to_json; load PowerLaw::from_json; table law_table; show law_facts;
    {
        /// Which estimate it is: "maximum_likelihood" or "unbiased".
        #[getter]
        fn estimate(&self) -> String {
            word(&self.0.estimate)
        }

        /// Exponent of the age: above 1 the rate rises.
        #[getter]
        fn shape(&self) -> f64 {
            self.0.shape
        }

        /// Mean failures of a socket by age 1.
        #[getter]
        fn scale(&self) -> f64 {
            self.0.scale
        }

        /// Interval of the shape at the level.
        #[getter]
        fn shape_interval(&self) -> (f64, f64) {
            self.0.shape_interval
        }

        /// Whether that interval is exact; else it is by curvature.
        #[getter]
        fn exact(&self) -> bool {
            self.0.exact
        }

        /// Level of the intervals.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// Interval of the mean age between failures at the common end of watches, if any; no upper end: open.
        #[getter]
        fn mean_between_interval_at_end(&self) -> Option<(f64, Option<f64>)> {
            self.0.mean_between_interval_at_end()
        }

        /// Maximised log-likelihood.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(super::uncertainty::pairs(&self.0.notes))
        }

        /// Mean failures of a socket by an age, or by each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket, hours or days.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> law = relamp.power_law(relamp.sockets([1000.0], [[500.0, 800.0, 950.0]]))
        /// >>> round(law.mean(1000.0), 9)
        /// 3.0
        fn mean<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, At { input: "age", column: "" }, |age| Ok(Some(self.0.mean(age))))
        }

        /// Failures of a socket for each unit of age at an age, or at each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket, hours or days.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     1 over it is the mean age between failures there.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> law = relamp.power_law(relamp.sockets([1000.0], [[500.0, 800.0, 950.0]]))
        /// >>> law.rate(1000.0) > 3.0 / 1000.0
        /// True
        fn rate<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, At { input: "age", column: "" }, |age| Ok(Some(self.0.rate(age))))
        }

        /// Interval of the rate at an age, or at each of many, by curvature on its logarithm.
        ///
        /// It stands around the maximum of the likelihood whichever estimate was asked for.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket, hours or days.
        ///
        /// Returns
        /// -------
        /// tuple of float or numpy.ndarray
        ///     Lower and upper end, (n, 2) for many.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> law = relamp.power_law(relamp.sockets([1000.0], [[500.0, 800.0, 950.0]]))
        /// >>> low, high = law.rate_interval(1000.0)
        /// >>> low < law.rate(1000.0) < high
        /// True
        fn rate_interval<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, At { input: "age", column: "" }, |age| Ok(Some(self.0.rate_interval(age))))
        }
    }
}

/// Fits a power-law process to the failures of sockets, one law for all of them.
///
/// The rate at age t is scale shape t^(shape - 1) failures of a socket for each unit of age, however long ago its lamp
/// was fitted: for screens that get worse, not for lamps that wear out. IEC 61164 prints the unbiased estimate,
/// MIL-HDBK-189 the maximum of the likelihood. All sockets are taken to be alike: where they differ, the intervals are
/// too short, and the note `fit.uneven_sockets` says so.
///
/// Parameters
/// ----------
/// sockets : Sockets
///     The sockets.
/// estimate : {"maximum_likelihood", "unbiased"}
///     The unbiased shape is known for watches from 0 to one common age only.
/// ended : {"time", "failure"}
///     What ended the watches.
/// level : float
///     Level of the intervals, inside (0, 1).
///
/// Returns
/// -------
/// PowerLaw
///
/// Raises
/// ------
/// InputError
///     For another word than those above, and what is not a number.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     Without a failure, where the likelihood has no maximum, and where the unbiased estimate is not known.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> one = relamp.sockets([1000.0], [[500.0, 800.0, 950.0]])
/// >>> round(relamp.power_law(one).shape, 4), round(relamp.power_law(one, estimate="unbiased").shape, 4)
/// (3.1005, 2.067)
#[pyfunction]
#[pyo3(signature = (sockets, *, estimate="maximum_likelihood", ended="time", level=0.95))]
pub(super) fn power_law(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PySockets>)] sockets: &Bound<'_, PySockets>,
    #[pyo3(from_py_with = args::estimate)] estimate: &str,
    #[pyo3(from_py_with = args::ended)] ended: &str,
    #[pyo3(from_py_with = args::level)] level: f64,
) -> PyResult<PyPowerLaw> {
    let estimate = match estimate {
        "maximum_likelihood" => PowerLawEstimate::MaximumLikelihood,
        "unbiased" => PowerLawEstimate::Unbiased,
        other => {
            let expected = "'maximum_likelihood' or 'unbiased'";
            return Err(refuse("python.estimate", "not an estimate", "estimate", "", other, expected).into());
        }
    };
    let options = PowerLawOptions { estimate, ended: self::ended(ended)?, level };
    let sockets = &sockets.get().0;
    Ok(PyPowerLaw(work(py, None, |_| fit_power_law(sockets, &options))?))
}

fn distance_table(d: &PowerLawDistance) -> Result<RecordBatch> {
    Frame::default()
        .numbers("distance", [d.distance])
        .numbers("p_value", [d.p_value])
        .counts("samples", [d.samples])
        .finish()
}

fn distance_facts(d: &PowerLawDistance) -> Facts {
    facts! { "distance": d.distance, "p_value": d.p_value, "samples": d.samples }
}

result_class! {
    /// How far failures stray from a power law; made by `power_law_distance`.
    PyPowerLawDistance holds PowerLawDistance as "PowerLawDistance";
    save |d| saved::save(DISTANCE, d); load |t| saved::load(DISTANCE, t); table distance_table; show distance_facts;
    {
        /// Distance in the manner of Cramer and von Mises.
        #[getter]
        fn distance(&self) -> f64 {
            self.0.distance
        }

        /// Share of simulated power-law samples that stray as far or farther.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.p_value
        }
    }
}

/// Distance of the failures of sockets watched from 0 to one age from a power law, with its p value by simulation.
///
/// Parameters
/// ----------
/// sockets : Sockets
///     Sockets watched from 0 to one common age.
/// replicates : int
///     How many samples to simulate.
/// seed : int
///     Same seed, same p value.
///
/// Returns
/// -------
/// PowerLawDistance
///
/// Raises
/// ------
/// InputError
///     For too many replicates, and what is no whole number.
/// DomainError
///     For no replicates.
/// RefusedError
///     For other watches, with fewer than two failures, and where the likelihood has no maximum.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> one = relamp.sockets([1001.0], [[50.0 * i for i in range(1, 21)]])
/// >>> relamp.power_law_distance(one, replicates=200, seed=1).p_value > 0.5
/// True
#[pyfunction]
#[pyo3(signature = (sockets, *, replicates=1000, seed=1))]
pub(super) fn power_law_distance(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PySockets>)] sockets: &Bound<'_, PySockets>,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
) -> PyResult<PyPowerLawDistance> {
    few_enough(replicates)?;
    let sockets = &sockets.get().0;
    Ok(PyPowerLawDistance(work(py, None, |run| core_distance(sockets, replicates as u64, seed, run))?))
}
