//! How many of the lamps that burn today will fail in the hours ahead.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::demand::{FailuresAhead, LampsAtAge, failures_ahead as core_failures_ahead};
use crate::lives::Rows;

use super::arrays::is_number;
use super::demand::PyCount;
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, numbers};
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{PyBootstrap, pairs};
use super::work::work;

const AHEAD: Format = Format::new("failures_ahead", 1);

fn ahead_table(a: &FailuresAhead) -> Result<RecordBatch> {
    let count = &a.failures;
    let each = || (count.first()..).take(count.probabilities().len());
    Frame::default()
        .counts("failures", each())
        .numbers("probability", count.probabilities().iter().copied())
        .numbers("at_most", each().map(|n| count.at_most(n)))
        .finish()
}

fn ahead_facts(a: &FailuresAhead) -> Facts {
    let interval = a.interval(0.9).ok();
    facts! {
        "lamps": a.lamps, "mean": a.failures.mean(), "sd": a.failures.sd(),
        "low_90": interval.map(|i| i.0), "high_90": interval.map(|i| i.1), "draws": a.draws, "failed": a.failed,
        "notes": a.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// The number of failures among given lamps in the hours ahead; made by `failures_ahead`.
    PyFailuresAhead holds FailuresAhead as "FailuresAhead";
    save |a| saved::save(AHEAD, a); load |t| saved::load(AHEAD, t); table ahead_table; show ahead_facts;
    {
        /// Lamps.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.lamps
        }

        /// Failures over the draws: chance and what is not known of the life.
        #[getter]
        fn failures(&self) -> PyCount {
            PyCount(self.0.failures.clone())
        }

        /// Failures at the estimates alone, as if they were known: chance only.
        #[getter]
        fn at_estimate(&self) -> PyCount {
            PyCount(self.0.at_estimate.clone())
        }

        /// Draws that were mixed.
        #[getter]
        fn draws(&self) -> u64 {
            self.0.draws
        }

        /// Draws left out.
        #[getter]
        fn failed(&self) -> u64 {
            self.0.failed
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }

        /// Prediction interval: least and greatest number of failures, both included.
        ///
        /// Parameters
        /// ----------
        /// level : float
        ///     Chance that the number lies inside, above 0 and below 1.
        ///
        /// Returns
        /// -------
        /// tuple of int
        ///     (low, high), lamps.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// DomainError
        ///     For a level that is not inside 0 to 1.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> draws = relamp.bootstrap(tally, replicates=200, seed=7)
        /// >>> ahead = relamp.failures_ahead(draws, age_hours=[300.0, 500.0], ahead_hours=200.0, count=[6, 4])
        /// >>> low, high = ahead.interval(level=0.8)
        /// >>> 0 <= low <= high <= 10
        /// True
        #[pyo3(signature = (*, level=0.9))]
        fn interval(&self, #[pyo3(from_py_with = args::level)] level: f64) -> PyResult<(u64, u64)> {
            Ok(self.0.interval(level)?)
        }
    }
}

/// Predicts how many of the lamps that burn today will fail in the hours ahead.
///
/// The number is the exact sum of independent lamps, each failing with chance 1 - R(age + hours) / R(age), within each
/// draw of the bootstrap, and mixed over the draws. Lamps that fail are not replaced; `forecast` counts lamps needed by
/// screens.
///
/// Parameters
/// ----------
/// bootstrap : Bootstrap
///     Draws of the life, all causes together.
/// age_hours : array-like
///     Ages of the lamps today, hours.
/// ahead_hours : float or array-like
///     Hours each lamp will burn unless it fails.
/// count : array-like of whole numbers, optional
///     Lamps at each age; 1 each without it.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// FailuresAhead
///
/// Raises
/// ------
/// InputError
///     For columns of different length, ages or hours that are not numbers or negative, and counts that are not whole.
/// RefusedError
///     Where too few draws gave an answer.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> draws = relamp.bootstrap(tally, replicates=200, seed=7)
/// >>> ahead = relamp.failures_ahead(draws, age_hours=[300.0, 500.0], ahead_hours=200.0, count=[6, 4])
/// >>> low, high = ahead.interval(level=0.8)
/// >>> low < ahead.failures.mean < high
/// True
/// >>> relamp.failures_ahead(draws, age_hours=[300.0], ahead_hours=[0.0]).interval()
/// (0, 0)
#[pyfunction]
#[pyo3(signature = (bootstrap, *, age_hours, ahead_hours, count=None, progress=None))]
pub(super) fn failures_ahead(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyBootstrap>)] bootstrap: &Bound<'_, PyBootstrap>,
    age_hours: &Bound<'_, PyAny>,
    ahead_hours: &Bound<'_, PyAny>,
    count: Option<&Bound<'_, PyAny>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyFailuresAhead> {
    let at = |column| At { input: "failures_ahead", column };
    let ages = numbers(age_hours, at("age_hours"))?.all()?;
    let hours = if is_number(ahead_hours) {
        vec![args::one_number(ahead_hours, at("ahead_hours"))?; ages.len()]
    } else {
        numbers(ahead_hours, at("ahead_hours"))?.all()?
    };
    let counts = match count {
        None => vec![1; ages.len()],
        Some(column) => Rows::whole_counts(&numbers(column, at("count"))?.present()?)?,
    };
    for (column, n) in [("ahead_hours", hours.len()), ("count", counts.len())] {
        if n != ages.len() {
            let (what, got) = ("columns of different length", format!("{n} for {}", counted(ages.len() as u64, "age")));
            return Err(refuse("python.length", what, "failures_ahead", column, &got, "one for each age").into());
        }
    }
    let lamps: Vec<LampsAtAge> = ages
        .into_iter()
        .zip(hours)
        .zip(counts)
        .map(|((age_hours, ahead_hours), count)| LampsAtAge { age_hours, ahead_hours, count })
        .collect();
    let bootstrap = &bootstrap.get().0;
    Ok(PyFailuresAhead(work(py, progress, |run| core_failures_ahead(bootstrap, &lamps, run))?))
}
