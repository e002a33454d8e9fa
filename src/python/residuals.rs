//! Residuals of a fit, and what records that show failures only do tell.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::fit::{HazardResiduals, WindowedLife};

use super::arrays::{array, pairs as ends};
use super::fit::PyFit;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, numbers};
use super::lives::PyTally;
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{options, pairs};
use super::work::work;

const RESIDUALS: Format = Format::new("hazard_residuals", 1);
const WINDOW: Format = Format::new("windowed_life", 1);

fn point_table(r: &HazardResiduals) -> Result<RecordBatch> {
    let each = || r.points.iter();
    Frame::default()
        .numbers("age", each().map(|p| p.age))
        .numbers("expected", each().map(|p| p.expected))
        .numbers("seen", each().map(|p| p.seen))
        .numbers("standard_error", each().map(|p| p.standard_error))
        .numbers("low", each().map(|p| p.low))
        .numbers("high", each().map(|p| p.high))
        .counts("at_risk", each().map(|p| p.at_risk))
        .counts("failures", each().map(|p| p.failures))
        .finish()
}

fn residual_facts(r: &HazardResiduals) -> Facts {
    facts! {
        "family": r.family, "rows": r.rows.len(), "points": r.points.len(), "failures": r.failures,
        "expected_failures": r.expected_failures,
    }
}

result_class! {
    /// The cumulative hazard that each lamp went through under a fit, and its curve beside that of the records; made by
    /// `residuals`.
    PyHazardResiduals holds HazardResiduals as "HazardResiduals";
    save |r| saved::save(RESIDUALS, r); load |t| saved::load(RESIDUALS, t); table point_table; show residual_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            &self.0.family
        }

        /// Cumulative hazard passed by the lamps of each row of the tally, (rows,).
        #[getter]
        fn passed<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.rows.iter().map(|r| r.passed).collect::<Vec<_>>())
        }

        /// Whether the lamps of each row failed, (rows,).
        #[getter]
        fn failed(&self) -> Fixed<bool> {
            self.0.rows.iter().map(|r| r.high.is_some()).collect()
        }

        /// Ages at failure, hours, (points,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.points.iter().map(|p| p.age).collect::<Vec<_>>())
        }

        /// Cumulative hazard by the fit at each of them, (points,).
        #[getter]
        fn expected<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.points.iter().map(|p| p.expected).collect::<Vec<_>>())
        }

        /// Cumulative hazard by the records alone at each of them, (points,).
        #[getter]
        fn seen<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.points.iter().map(|p| p.seen).collect::<Vec<_>>())
        }

        /// Lower and upper end of the 95 % interval of `seen`, at each age alone, (points, 2).
        #[getter]
        fn interval<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            ends(py, &self.0.points.iter().map(|p| Some((p.low, p.high))).collect::<Vec<_>>())
        }

        /// Failures seen.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.failures
        }

        /// Failures expected from the hours watched: the sum of `passed` over the lamps.
        #[getter]
        fn expected_failures(&self) -> f64 {
            self.0.expected_failures
        }
    }
}

/// The cumulative hazard that each lamp went through under a fit, and its curve beside that of the records.
///
/// If the fit holds, the cumulative hazard at the age of failure is a life of mean 1 with an even hazard. So failures over
/// lamps at risk, added up by age (`seen`), follow the fitted cumulative hazard (`expected`): above it more lamps fail than
/// the fit says, below it fewer. A failure known to an interval counts with its mean there under the fit.
///
/// Parameters
/// ----------
/// fit : Fit
///     A fit of any family.
/// tally : Tally
///     The fitted records, or other ones to be judged by this fit.
/// endings : list of str, optional
///     The ones that count as failure; all failures without it.
///
/// Returns
/// -------
/// HazardResiduals
///     Its frame has one row for each age at failure; `plots_model.residuals` draws it.
///
/// Raises
/// ------
/// InputError
///     For a word that is no ending.
/// RefusedError
///     For records that show failures only, and for a failure where the fitted hazard is 0.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([100, 300, 400], [100, 300, None])
/// >>> even = relamp.fit(relamp.lives([100.0] * 12 + [700.0] * 12), family="exponential")  # a mean of 400 h
/// >>> judged = relamp.residuals(even, tally)
/// >>> judged.passed.round(2).tolist(), judged.failures, round(judged.expected_failures, 6)
/// ([0.25, 0.75, 1.0], 2, 2.0)
/// >>> judged.seen.round(3).tolist(), relamp.residuals(even, tally, endings=["burst"]).failures
/// ([0.333, 0.833], 0)
#[pyfunction]
#[pyo3(signature = (fit, tally, *, endings=None))]
pub(super) fn residuals(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyFit>)] fit: &Bound<'_, PyFit>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyHazardResiduals> {
    let (options, fit, tally) = (options(endings)?, &fit.get().0, &tally.get().0);
    Ok(PyHazardResiduals(work(py, None, |_| fit.residuals(tally, &options))?))
}

fn window_table(w: &WindowedLife) -> Result<RecordBatch> {
    let each = || w.shares.iter();
    Frame::default()
        .numbers("age", each().map(|s| s.age))
        .numbers("share", each().map(|s| s.share))
        .numbers_or_null("low", each().map(|s| s.low))
        .numbers_or_null("high", each().map(|s| s.high))
        .finish()
}

fn window_facts(w: &WindowedLife) -> Facts {
    facts! {
        "family": w.family, "upper_hours": w.upper_hours, "ages": w.shares.len(), "level": w.level, "method": word(&w.method),
        "notes": w.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// How failures lie within the window in which they would have been seen; made by `within_window`.
    PyWindowedLife holds WindowedLife as "WindowedLife";
    save |w| saved::save(WINDOW, w); load |t| saved::load(WINDOW, t); table window_table; show window_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            &self.0.family
        }

        /// End of the window, hours.
        #[getter]
        fn upper_hours(&self) -> f64 {
            self.0.upper_hours
        }

        /// Ages asked for, hours, (n,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.shares.iter().map(|s| s.age).collect::<Vec<_>>())
        }

        /// Share of the failures by the end of the window that come by each age, (n,).
        #[getter]
        fn shares<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.shares.iter().map(|s| s.share).collect::<Vec<_>>())
        }

        /// Lower and upper end of each share, (n, 2); NaN where there is none.
        #[getter]
        fn interval<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            ends(py, &self.0.shares.iter().map(|s| Some((s.low.unwrap_or(f64::NAN), s.high.unwrap_or(f64::NAN)))).collect::<Vec<_>>())
        }

        /// Level of the intervals.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// How the intervals were made: "wald" or "profile_likelihood".
        #[getter]
        fn method(&self) -> String {
            word(&self.0.method)
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// The share of the failures by the end of a window that come by each age, F(age) / F(upper).
///
/// Records that show failures only, such as files of claims, settle this even where they do not settle how many lamps
/// fail. With the number of lamps shipped, `Tally.with_shipped`, the whole life is settled.
///
/// Parameters
/// ----------
/// fit : Fit
///     A fit of rows with `upper`, or of any others.
/// upper_hours : float
///     End of the window, hours, above 0.
/// ages : array-like
///     Ages above 0 and below it, hours.
/// level : float
///     Level of the intervals.
/// tally : Tally, optional
///     The one that was fitted: the intervals are then by profile likelihood. Without it they come from the curvature
///     at the maximum.
/// endings : list of str, optional
///     The ones that were fitted; beside `tally` only.
///
/// Returns
/// -------
/// WindowedLife
///
/// Raises
/// ------
/// InputError
///     For a window or an age outside it, each by place, a level that is not inside 0 to 1, and a tally that is not the
///     fitted one.
///
/// Examples
/// --------
/// >>> import relamp, warnings
/// >>> ages = [1000.0 * (i / 40.5) ** 0.6 for i in range(1, 41)]
/// >>> claims = relamp.lives(ages, upper=[1000.0] * 40)
/// >>> with warnings.catch_warnings():
/// ...     warnings.simplefilter("ignore")  # the claims alone do not settle how many lamps fail
/// ...     fit = relamp.fit(claims)
/// >>> window = relamp.within_window(fit, upper_hours=1000.0, ages=[500.0, 800.0])
/// >>> window.shares.round(1).tolist()
/// [0.3, 0.7]
/// >>> relamp.within_window(fit, upper_hours=1000.0, ages=[500.0], tally=claims).method
/// 'profile_likelihood'
/// >>> relamp.fit(claims.with_shipped(upper=[1000.0], count=[900])).identified["scale"]
/// 'yes'
#[pyfunction]
#[pyo3(signature = (fit, *, upper_hours, ages, level=0.95, tally=None, endings=None))]
pub(super) fn within_window(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyFit>)] fit: &Bound<'_, PyFit>,
    #[pyo3(from_py_with = args::upper_hours)] upper_hours: f64,
    ages: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::level)] level: f64,
    tally: Option<&Bound<'_, PyTally>>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyWindowedLife> {
    let ages = numbers(ages, At { input: "within_window", column: "ages" })?.all()?;
    let fit = &fit.get().0;
    let Some(tally) = tally else {
        return Ok(PyWindowedLife(work(py, None, |_| fit.within_window(upper_hours, &ages, level))?));
    };
    let (options, tally) = (options(endings)?, &tally.get().0);
    let by_profile = |run: &Run| fit.within_window_profile(tally, &options, upper_hours, &ages, level, run);
    Ok(PyWindowedLife(work(py, None, by_profile)?))
}
