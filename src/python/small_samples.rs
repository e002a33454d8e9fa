//! Tools for few failures: a known shape, plotting positions, regression through ranks, a shape without its bias.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::empirical::{PlottingPositions, PositionRule, plotting_positions as core_positions};
use crate::family::{Weibull, family as family_of};
use crate::fit::{
    KnownShapeFit, RankFit, RegressionOn, ShapeCorrection, Termination, fit_known_shape as core_known_shape,
    rank_regression as core_rank_regression,
};

use super::arrays::array;
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::life::{Named, PyLife};
use super::lives::PyTally;
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{options, pairs};
use super::work::work;

const KNOWN: Format = Format::new("known_shape_fit", 1);
const POSITIONS: Format = Format::new("plotting_positions", 1);
const RANKS: Format = Format::new("rank_fit", 1);
const CORRECTION: Format = Format::new("shape_correction", 1);

fn weibull(life: Weibull) -> PyResult<PyLife> {
    Ok(PyLife(Named::new(family_of("weibull")?, vec![life.shape, life.scale])?))
}

fn known_table(k: &KnownShapeFit) -> Result<RecordBatch> {
    Frame::default()
        .texts("parameter", ["scale"])
        .numbers_or_null("estimate", [k.scale])
        .numbers_or_null("standard_error", [k.standard_error])
        .numbers_or_null("low", [k.scale_low])
        .numbers_or_null("high", [k.scale_high])
        .numbers("level", [k.level])
        .finish()
}

fn known_facts(k: &KnownShapeFit) -> Facts {
    facts! {
        "shape": k.shape, "scale": k.scale, "scale_low": k.scale_low, "scale_high": k.scale_high, "level": k.level,
        "lamps": k.facts.lamps, "failures": k.facts.failures, "method": word(&k.method),
        "notes": k.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// A Weibull life of known shape, with one-sided bounds; made by `fit_known_shape`.
    PyKnownShapeFit holds KnownShapeFit as "KnownShapeFit";
    save |k| saved::save(KNOWN, k); load |t| saved::load(KNOWN, t); table known_table; show known_facts;
    {
        /// The shape, as given.
        #[getter]
        fn shape(&self) -> f64 {
            self.0.shape
        }

        /// Characteristic life at the maximum of the likelihood, hours; None without failures.
        #[getter]
        fn scale(&self) -> Option<f64> {
            self.0.scale
        }

        /// Standard error of the scale; None without failures.
        #[getter]
        fn standard_error(&self) -> Option<f64> {
            self.0.standard_error
        }

        /// Lower bound of the scale at the one-sided level, hours; None where the records do not bound it.
        #[getter]
        fn scale_low(&self) -> Option<f64> {
            self.0.scale_low
        }

        /// Upper bound of the scale at the one-sided level, hours; None without failures.
        #[getter]
        fn scale_high(&self) -> Option<f64> {
            self.0.scale_high
        }

        /// Level of each of the two bounds by itself.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// How the bounds were made: "count" or "profile_likelihood".
        #[getter]
        fn method(&self) -> String {
            word(&self.0.method)
        }

        /// What ended the watch: "time" or "failure".
        #[getter]
        fn termination(&self) -> String {
            word(&self.0.termination)
        }

        /// Maximised log-likelihood, densities per hour; None without failures.
        #[getter]
        fn log_likelihood(&self) -> Option<f64> {
            self.0.log_likelihood
        }

        /// Lamps that went in.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.facts.lamps
        }

        /// Lamps that failed.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.facts.failures
        }

        /// Hours under observation.
        #[getter]
        fn exposure_hours(&self) -> f64 {
            self.0.facts.exposure_hours
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }

        /// The life at the estimate; None without failures.
        #[getter]
        fn life(&self) -> PyResult<Option<PyLife>> {
            self.0.life().map(weibull).transpose()
        }

        /// The life at the lower bound: its reliability at any age, and its quantiles, are the lower bounds.
        #[getter]
        fn life_low(&self) -> PyResult<Option<PyLife>> {
            self.0.life_low().map(weibull).transpose()
        }

        /// The life at the upper bound; None without failures.
        #[getter]
        fn life_high(&self) -> PyResult<Option<PyLife>> {
            self.0.life_high().map(weibull).transpose()
        }
    }
}

/// Fits the scale of a Weibull life whose shape is known, with one-sided bounds even from no failure.
///
/// scale = (sum (exit^shape - entry^shape) / failures)^(1 / shape). With no failure in E hours and shape 1 the 95 %
/// upper bound of the rate, 1 / scale_low, is 2.996 / E. Rows known to an interval and windowed rows go through the
/// likelihood.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// shape : float
///     Without unit, above 0, from other lamps of the same kind.
/// level : float
///     Of each bound by itself, above 0 and below 1.
/// termination : {"time", "failure"}
///     What ended the watch: fixed hours, or the last failure of a fixed number.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
///
/// Returns
/// -------
/// KnownShapeFit
///
/// Raises
/// ------
/// InputError
///     For an unknown ending or termination, and what is not a number.
/// DomainError
///     For a level that is not inside 0 to 1, and a shape that is not above 0.
/// RefusedError
///     Where the records bound nothing.
///
/// Examples
/// --------
/// Ten lamps burned 1,000 h each and none failed:
///
/// >>> import relamp
/// >>> none = relamp.fit_known_shape(relamp.lives([1000.0], [None], count=[10]), shape=1.0)
/// >>> none.scale is None, round(1e4 / none.scale_low, 3)
/// (True, 2.996)
/// >>> two = relamp.fit_known_shape(relamp.lives([300.0, 400.0, 500.0], [300.0, 400.0, None]), shape=2.0)
/// >>> two.scale
/// 500.0
#[pyfunction]
#[pyo3(signature = (tally, *, shape, level=0.95, termination="time", endings=None))]
pub(super) fn fit_known_shape(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::shape)] shape: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::termination)] termination: &str,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyKnownShapeFit> {
    let ended = match termination {
        "time" => Termination::Time,
        "failure" => Termination::Failure,
        other => {
            let expected = "time or failure";
            return Err(
                refuse("python.termination", "not an end of a watch", "termination", "", other, expected).into()
            );
        }
    };
    let (options, tally) = (options(endings)?, &tally.get().0);
    Ok(PyKnownShapeFit(work(py, None, |run| core_known_shape(tally, shape, level, ended, &options, run))?))
}

fn rule_of(name: &str) -> Result<PositionRule> {
    match name {
        "median" => Ok(PositionRule::Median),
        "benard" => Ok(PositionRule::Benard),
        other => {
            Err(refuse("python.position_rule", "no such plotting position", "rule", "", other, "median or benard"))
        }
    }
}

fn position_table(p: &PlottingPositions) -> Result<RecordBatch> {
    Frame::default()
        .numbers("age", p.ages.iter().copied())
        .numbers("rank", p.ranks.iter().copied())
        .numbers("position", p.positions.iter().copied())
        .finish()
}

fn position_facts(p: &PlottingPositions) -> Facts {
    facts! { "lamps": p.lamps, "failures": p.ages.len(), "rule": word(&p.rule) }
}

result_class! {
    /// The failed share that stands for each failure, by its adjusted rank; made by `plotting_positions`.
    PyPlottingPositions holds PlottingPositions as "PlottingPositions";
    save |p| saved::save(POSITIONS, p); load |t| saved::load(POSITIONS, t); table position_table; show position_facts;
    {
        /// Ages at failure, ascending, hours, (failures,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.ages)
        }

        /// Ranks, adjusted for right-censored lamps, (failures,).
        #[getter]
        fn ranks<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.ranks)
        }

        /// Failed shares, (failures,).
        #[getter]
        fn positions<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.positions)
        }

        /// How the shares came from the ranks: "median" or "benard".
        #[getter]
        fn rule(&self) -> String {
            word(&self.0.rule)
        }

        /// Lamps in the sample.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.lamps
        }
    }
}

/// Adjusted ranks and plotting positions of the failures of a right-censored sample.
///
/// A failure's rank is that of the failure before plus (n + 1 - rank before) / (n + 1 - lamps that left before it).
/// Rows known to an interval, left-censored rows, late entry and windows have no ranks and are refused, each by name.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// rule : {"median", "benard"}
///     The exact median rank, or Benard's approximation (rank - 0.3) / (n + 0.4).
///
/// Returns
/// -------
/// PlottingPositions
///
/// Raises
/// ------
/// InputError
///     For an unknown rule.
/// RefusedError
///     For rows that have no rank, each by name.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> points = relamp.plotting_positions(relamp.lives([100.0, 150.0, 200.0], [100.0, None, 200.0]))
/// >>> points.ranks.tolist(), points.positions.round(4).tolist()
/// ([1.0, 2.5], [0.2063, 0.6475])
/// >>> relamp.plotting_positions(relamp.lives([100.0, 200.0]), rule="benard").positions.round(4).tolist()
/// [0.2917, 0.7083]
#[pyfunction]
#[pyo3(signature = (tally, *, rule="median"))]
pub(super) fn plotting_positions(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::rule)] rule: &str,
) -> PyResult<PyPlottingPositions> {
    let (rule, tally) = (rule_of(rule)?, &tally.get().0);
    Ok(PyPlottingPositions(work(py, None, |_| core_positions(tally, rule))?))
}

fn rank_table(r: &RankFit) -> Result<RecordBatch> {
    let named = r.parameters();
    Frame::default()
        .texts("parameter", named.iter().map(|p| p.0))
        .numbers("estimate", named.iter().map(|p| p.1))
        .finish()
}

fn rank_facts(r: &RankFit) -> Facts {
    let mut facts: Facts = facts! { "family": r.family_name() };
    facts.extend(r.parameters().into_iter().map(|(name, value)| (name, serde_json::json!(value))));
    facts.extend(facts! {
        "r_squared": r.r_squared(), "regression_on": word(&r.regression_on()), "rule": word(&r.points().rule),
        "failures": r.points().ages.len(), "lamps": r.points().lamps,
    });
    facts
}

result_class! {
    /// A life read off a straight line through plotting positions; made by `rank_regression`. It has no intervals.
    PyRankFit holds RankFit as "RankFit";
    save |r| saved::save(RANKS, r); load |t| saved::load(RANKS, t); table rank_table; show rank_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// Estimates by name.
        #[getter]
        fn parameters<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for (name, value) in self.0.parameters() {
                dict.set_item(name, value)?;
            }
            Ok(dict)
        }

        /// Squared correlation of the points on the scales of the plot: 1 for points on a line.
        #[getter]
        fn r_squared(&self) -> f64 {
            self.0.r_squared()
        }

        /// Which distances were made small: "age" (x on y) or "share" (y on x).
        #[getter]
        fn regression_on(&self) -> String {
            word(&self.0.regression_on())
        }

        /// The points.
        #[getter]
        fn points(&self) -> PyPlottingPositions {
            PyPlottingPositions(self.0.points().clone())
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// The life on the line.
        #[getter]
        fn life(&self) -> PyResult<PyLife> {
            let values = self.0.parameters().into_iter().map(|p| p.1).collect();
            Ok(PyLife(Named::new(family_of(self.0.family_name())?, values)?))
        }
    }
}

/// Fits a life by regression through the median ranks of the failures.
///
/// A tool for small samples, as IEC 61649 asks for it; `fit` uses censored lamps better and gives intervals.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// family : str
///     One with a location and a scale: "weibull", "lognormal", "exponential", "log_logistic", "normal", "logistic",
///     "smallest_extreme_value".
/// rule : {"median", "benard"}
///     Plotting positions, see `plotting_positions`.
/// regression_on : {"age", "share"}
///     Which distances to the line are made small: along age (x on y), or along the failed share (y on x).
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
///
/// Returns
/// -------
/// RankFit
///
/// Raises
/// ------
/// InputError
///     For an unknown family, rule, direction or ending.
/// RefusedError
///     For rows that have no rank, and fewer than two distinct ages at failure.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310.0, 480.0, 550.0, 720.0, 900.0])
/// >>> line = relamp.rank_regression(tally)
/// >>> {name: round(value, 2) for name, value in line.parameters.items()}, round(line.r_squared, 3)
/// ({'shape': 2.57, 'scale': 673.09}, 0.992)
/// >>> relamp.rank_regression(tally, regression_on="share").parameters["shape"] < line.parameters["shape"]
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, family="weibull", rule="median", regression_on="age", endings=None))]
pub(super) fn rank_regression(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::rule)] rule: &str,
    #[pyo3(from_py_with = args::regression_on)] regression_on: &str,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyRankFit> {
    let on = match regression_on {
        "age" => RegressionOn::Age,
        "share" => RegressionOn::Share,
        other => {
            let expected = "age or share";
            return Err(
                refuse("python.regression_on", "no such regression", "regression_on", "", other, expected).into()
            );
        }
    };
    let (family, rule, tally) = (family_of(family)?, rule_of(rule)?, &tally.get().0);
    let endings = options(endings)?.endings;
    Ok(PyRankFit(work(py, None, |_| core_rank_regression(family, tally, endings.as_deref(), rule, on))?))
}

fn correction_table(c: &ShapeCorrection) -> Result<RecordBatch> {
    Frame::default().texts("shape", ["likelihood", "corrected"]).numbers("value", [c.shape, c.corrected]).finish()
}

fn correction_facts(c: &ShapeCorrection) -> Facts {
    facts! {
        "shape": c.shape, "corrected": c.corrected, "factor": c.factor, "factor_error": c.factor_error,
        "plan": word(&c.plan), "failures": c.failures, "lamps": c.lamps,
    }
}

result_class! {
    /// A Weibull shape with its bias taken out; made by `Fit.corrected_shape`.
    PyShapeCorrection holds ShapeCorrection as "ShapeCorrection";
    save |c| saved::save(CORRECTION, c); load |t| saved::load(CORRECTION, t);
    table correction_table; show correction_facts;
    {
        /// Shape at the maximum of the likelihood.
        #[getter]
        fn shape(&self) -> f64 {
            self.0.shape
        }

        /// Corrected shape: factor times it.
        #[getter]
        fn corrected(&self) -> f64 {
            self.0.corrected
        }

        /// Factor, below 1.
        #[getter]
        fn factor(&self) -> f64 {
            self.0.factor
        }

        /// Standard error of the factor, which is a mean over simulated samples.
        #[getter]
        fn factor_error(&self) -> f64 {
            self.0.factor_error
        }

        /// The censoring for which the factor holds: "complete" or "failure_censored".
        #[getter]
        fn plan(&self) -> String {
            word(&self.0.plan)
        }
    }
}
