//! How many changes a screen needs over time.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::renewal::{
    ChangeCounts, ChangeRule, ExpectedChanges, change_counts as core_counts, expected_changes as core_expected,
};

use super::arrays::{array, is_number};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, numbers};
use super::life::PyLife;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const EXPECTED: Format = Format::new("expected_changes", 1);
const COUNTS: Format = Format::new("change_counts", 1);

/// Bounds of a mean number that was not solved.
fn bounds(e: &ExpectedChanges, i: usize) -> Option<(f64, f64)> {
    e.bounds.get(i).copied().flatten()
}

fn expected_table(e: &ExpectedChanges) -> Result<RecordBatch> {
    Frame::default()
        .numbers("hours", e.hours.iter().copied())
        .numbers("planned", e.planned.iter().copied())
        .numbers("failures", e.failures.iter().copied())
        .numbers("changes", e.changes())
        .numbers("variance", e.variance.iter().copied())
        .texts("way", e.way.iter().map(|w| w.word()))
        .numbers_or_null("low", (0..e.hours.len()).map(|i| bounds(e, i).map(|b| b.0)))
        .numbers_or_null("high", (0..e.hours.len()).map(|i| bounds(e, i).map(|b| b.1)))
        .finish()
}

fn expected_facts(e: &ExpectedChanges) -> Facts {
    facts! {
        "planned_age_hours": e.rule.planned_age_hours, "first_age_hours": e.rule.first_age_hours, "hours": e.hours,
        "planned": e.planned, "failures": e.failures, "variance": e.variance, "mean_hours": e.mean_hours,
        "relative_error": e.relative_error,
    }
}

fn counts_table(c: &ChangeCounts) -> Result<RecordBatch> {
    let each = || (c.first..).take(c.probabilities.len());
    Frame::default()
        .counts("changes", each())
        .numbers("probability", c.probabilities.iter().copied())
        .numbers("at_most", each().map(|n| c.at_most(n)))
        .finish()
}

fn counts_facts(c: &ChangeCounts) -> Facts {
    facts! {
        "hours": c.hours, "planned_age_hours": c.rule.planned_age_hours, "first_age_hours": c.rule.first_age_hours,
        "mean": c.mean(), "variance": c.variance(), "first": c.first,
        "last": c.first + (c.probabilities.len() as u64).saturating_sub(1),
    }
}

result_class! {
    /// Mean changes of one screen by given times; made by `expected_changes`.
    PyExpectedChanges holds ExpectedChanges as "ExpectedChanges";
    save |e| saved::save(EXPECTED, e); load |t| saved::load(EXPECTED, t); table expected_table; show expected_facts;
    {
        /// Age at which lamps are changed though they work, hours; None where they run to failure.
        #[getter]
        fn planned_age_hours(&self) -> Option<f64> {
            self.0.rule.planned_age_hours
        }

        /// Age of the first lamp at the start, hours.
        #[getter]
        fn first_age_hours(&self) -> f64 {
            self.0.rule.first_age_hours
        }

        /// Burning hours from the start, (n,).
        #[getter]
        fn hours<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.hours)
        }

        /// Mean planned changes by each time, (n,); changes at that very hour count.
        #[getter]
        fn planned<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.planned)
        }

        /// Mean failure changes by each time, (n,).
        #[getter]
        fn failures<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.failures)
        }

        /// Mean changes of both kinds by each time, (n,).
        #[getter]
        fn changes<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.changes())
        }

        /// Variance of the number of changes of both kinds by each time, (n,).
        #[getter]
        fn variance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.variance)
        }

        /// How each number was found, (n,): 'closed_form', 'solved', 'long_run', 'steps' or 'bounded'.
        #[getter]
        fn way(&self) -> Fixed<&'static str> {
            self.0.way.iter().map(|w| w.word()).collect()
        }

        /// Bounds of the mean changes by each time, (n,): (low, high) where the hours lie beyond what can be solved and the
        /// long-run line stands for the number, else None.
        #[getter]
        fn bounds(&self) -> Fixed<Option<(f64, f64)>> {
            (0..self.0.hours.len()).map(|i| bounds(&self.0, i)).collect()
        }

        /// Mean hours from a change to the next; infinite where lamps may never need one.
        #[getter]
        fn mean_hours(&self) -> f64 {
            self.0.mean_hours
        }

        /// The straight line that the mean number comes near to, as (changes an hour, constant): (variance - mean^2) /
        /// (2 mean^2) is the constant with a new first lamp. None where the life has no finite mean or variance.
        #[getter]
        fn line(&self) -> Option<(f64, f64)> {
            self.0.line.map(|l| (l.changes_per_hour, l.constant))
        }

        /// What a mean number may be wrong by, relative to it.
        #[getter]
        fn relative_error(&self) -> f64 {
            self.0.relative_error
        }
    }
}

result_class! {
    /// Probability of each number of changes of one screen by a time; made by `change_counts`.
    PyChangeCounts holds ChangeCounts as "ChangeCounts";
    save |c| saved::save(COUNTS, c); load |t| saved::load(COUNTS, t); table counts_table; show counts_facts;
    {
        /// Age at which lamps are changed though they work, hours; None where they run to failure.
        #[getter]
        fn planned_age_hours(&self) -> Option<f64> {
            self.0.rule.planned_age_hours
        }

        /// Age of the first lamp at the start, hours.
        #[getter]
        fn first_age_hours(&self) -> f64 {
            self.0.rule.first_age_hours
        }

        /// Burning hours from the start; changes at that very hour count.
        #[getter]
        fn hours(&self) -> f64 {
            self.0.hours
        }

        /// Number that the first of `probabilities` belongs to; fewer changes have a probability below 1e-30.
        #[getter]
        fn first(&self) -> u64 {
            self.0.first
        }

        /// Probability of each number from `first` on, (n,).
        #[getter]
        fn probabilities<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.probabilities)
        }

        /// Mean number of changes.
        #[getter]
        fn mean(&self) -> f64 {
            self.0.mean()
        }

        /// Variance of the number of changes.
        #[getter]
        fn variance(&self) -> f64 {
            self.0.variance()
        }

        /// Probability of exactly this number of changes.
        ///
        /// Parameters
        /// ----------
        /// number : int
        ///     Changes, at least 0.
        ///
        /// Returns
        /// -------
        /// float
        ///     Probability, 0 to 1; 0 where it lies below 1e-30.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(relamp.change_counts(life, 1000.0).probability(0), 6)
        /// 0.367879
        fn probability(&self, #[pyo3(from_py_with = args::number)] number: u64) -> f64 {
            self.0.probability(number)
        }

        /// Probability of at most this number of changes.
        ///
        /// Parameters
        /// ----------
        /// number : int
        ///     Changes, at least 0.
        ///
        /// Returns
        /// -------
        /// float
        ///     Probability, 0 to 1.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(relamp.change_counts(life, 1000.0).at_most(1), 6)
        /// 0.886842
        fn at_most(&self, #[pyo3(from_py_with = args::number)] number: u64) -> f64 {
            self.0.at_most(number)
        }

        /// Probability of more than this number of changes; small ones keep their digits.
        ///
        /// Parameters
        /// ----------
        /// number : int
        ///     Changes, at least 0.
        ///
        /// Returns
        /// -------
        /// float
        ///     Probability, 0 to 1.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(relamp.change_counts(life, 1000.0).more_than(1), 6)
        /// 0.113158
        fn more_than(&self, #[pyo3(from_py_with = args::number)] number: u64) -> f64 {
            self.0.more_than(number)
        }

        /// Least number of changes that is not passed with a probability or more.
        ///
        /// Parameters
        /// ----------
        /// p : float
        ///     Probability, above 0 and below 1.
        ///
        /// Returns
        /// -------
        /// int
        ///     Changes.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// DomainError
        ///     For a probability that is not inside 0 to 1.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> relamp.change_counts(life, 1000.0).quantile(0.95)
        /// 2
        fn quantile(&self, #[pyo3(from_py_with = args::p)] p: f64) -> PyResult<u64> {
            Ok(self.0.quantile(p)?)
        }
    }
}

/// Mean number of planned and failure changes of one screen by given burning hours, with its variance.
///
/// Lamps run to failure, or to a planned age at which they are changed though they work; the first one may be of any
/// age. The renewal equation M(t) = F(t) + integral of M(t - s) dF(s) over (0, t), F the distribution of the hours from
/// a change to the next, is solved to about twelve digits, for densities infinite at age 0 and for lives that hardly
/// vary too. Far out the long-run line t / mean + (variance - mean^2) / (2 mean^2) takes over once the solution has
/// come as near to it as rounding. Exponential and gamma lives without a planned age are summed in closed form. Cox
/// (1962), Renewal Theory.
///
/// Parameters
/// ----------
/// life : Life
///     The life of a lamp; several causes go in as one, such as `life("series(weibull, lognormal)", ...)`.
/// hours : float or array-like
///     Burning hours from the start, above 0.
/// planned_age_hours : float, optional
///     Age at which a lamp is changed though it works, hours; without it every lamp runs to failure.
/// first_age_hours : float
///     Age of the first lamp at the start, hours: 0 for a new one. At or past the planned age it is changed at once.
///
/// Returns
/// -------
/// ExpectedChanges
///
/// Raises
/// ------
/// InputError
///     For what is not a number, NaN included.
/// DomainError
///     For hours or a planned age that are not above 0 and finite, and a first age below 0 or that no lamp reaches.
/// RefusedError
///     For a life with failures before age 0, or that fails by jumps and between them.
/// LimitError
///     For hours beyond what can be solved where the changes have not settled to their long-run line.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=1500.0)
/// >>> run = relamp.expected_changes(life, [5000.0, 20000.0])
/// >>> run.failures.round(4).tolist()
/// [3.299, 14.4973]
/// >>> planned = relamp.expected_changes(life, 5000.0, planned_age_hours=1000.0)
/// >>> planned.failures.round(4).tolist(), planned.planned.round(4).tolist()
/// ([1.3248], [3.7567])
/// >>> old = relamp.expected_changes(life, 5000.0, planned_age_hours=1000.0, first_age_hours=600.0)
/// >>> bool(old.changes[0] > planned.changes[0])
/// True
#[pyfunction]
#[pyo3(signature = (life, hours, *, planned_age_hours=None, first_age_hours=0.0))]
pub(super) fn expected_changes(
    py: Python<'_>,
    life: &Bound<'_, PyLife>,
    hours: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::planned_age_or_none)] planned_age_hours: Option<f64>,
    #[pyo3(from_py_with = args::first_age_hours)] first_age_hours: f64,
) -> PyResult<PyExpectedChanges> {
    let at = At { input: "expected_changes", column: "hours" };
    let hours = if is_number(hours) { vec![args::one_number(hours, at)?] } else { numbers(hours, at)?.all()? };
    let life = life.get().0.life()?;
    let rule = ChangeRule { planned_age_hours, first_age_hours };
    Ok(PyExpectedChanges(work(py, None, |_| core_expected(life.as_ref(), &rule, &hours))?))
}

/// The whole distribution of the number of changes of one screen by some burning hours, planned ones included.
///
/// P(N(t) = 0) = R(t) and P(N(t) = n) = integral of P(N(t - s) = n - 1) dF(s) over (0, t), with F and R cut at the
/// planned age. Every probability is a sum of positive terms, so that small ones keep their digits down to 1e-30.
///
/// Parameters
/// ----------
/// life : Life
///     The life of a lamp; several causes go in as one, such as `life("series(weibull, lognormal)", ...)`.
/// end_hours : float
///     Burning hours from the start, above 0; changes at that very hour count.
/// planned_age_hours : float, optional
///     Age at which a lamp is changed though it works, hours; without it every lamp runs to failure.
/// first_age_hours : float
///     Age of the first lamp at the start, hours: 0 for a new one. At or past the planned age it is changed at once.
///
/// Returns
/// -------
/// ChangeCounts
///
/// Raises
/// ------
/// InputError
///     For what is not a number, NaN included.
/// DomainError
///     For hours or a planned age that are not above 0 and finite, and a first age below 0 or that no lamp reaches.
/// RefusedError
///     For a life with failures before age 0, or that fails by jumps and between them.
/// LimitError
///     For more than 2,000 changes, or where counting them would take too long.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=1500.0)
/// >>> counts = relamp.change_counts(life, 5000.0)
/// >>> counts.quantile(0.95)
/// 5
/// >>> relamp.change_counts(life, 5000.0, planned_age_hours=1000.0).first
/// 5
/// >>> relamp.change_counts(life, 5000.0, planned_age_hours=1000.0, first_age_hours=600.0).first
/// 5
#[pyfunction]
#[pyo3(signature = (life, end_hours, *, planned_age_hours=None, first_age_hours=0.0))]
pub(super) fn change_counts(
    py: Python<'_>,
    life: &Bound<'_, PyLife>,
    #[pyo3(from_py_with = args::end_hours)] end_hours: f64,
    #[pyo3(from_py_with = args::planned_age_or_none)] planned_age_hours: Option<f64>,
    #[pyo3(from_py_with = args::first_age_hours)] first_age_hours: f64,
) -> PyResult<PyChangeCounts> {
    let life = life.get().0.life()?;
    let rule = ChangeRule { planned_age_hours, first_age_hours };
    Ok(PyChangeCounts(work(py, None, |_| core_counts(life.as_ref(), &rule, end_hours))?))
}
