//! Mean numbers of failures of sockets, and groups of them compared.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::empirical::{
    Recurrence, RecurrenceDifference, RecurrenceTest, recurrence as core_recurrence,
    recurrence_difference as core_difference, recurrence_test as core_test,
};

use super::arrays::{array, array_or_nan, over, pairs, pairs_over};
use super::empirical::at;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::result::result_class;
use super::show::{Facts, facts};
use super::sockets::PySockets;
use super::work::work;

const DIFFERENCE: Format = Format::new("recurrence_difference", 1);
const TEST: Format = Format::new("recurrence_test", 1);

fn curve_table(r: &Recurrence) -> Result<RecordBatch> {
    let band = r.band();
    Frame::default()
        .numbers("age", r.ages.iter().copied())
        .counts("at_risk", r.at_risk.iter().copied())
        .counts("failures", r.failures.iter().copied())
        .numbers("mean", r.mean.iter().copied())
        .numbers_or_null("standard_error", (0..r.ages.len()).map(|i| r.standard_error.as_ref()?.get(i).copied()))
        .numbers_or_null("band_low", band.iter().map(|b| b.map(|b| b.0)))
        .numbers_or_null("band_high", band.iter().map(|b| b.map(|b| b.1)))
        .finish()
}

fn curve_facts(r: &Recurrence) -> Facts {
    let band = r.band_at(r.last_age);
    facts! {
        "sockets": r.sockets, "failures": r.failures.iter().sum::<u64>(), "steps": r.ages.len(),
        "mean": r.mean.last().copied(), "low": band.map(|b| b.0), "high": band.map(|b| b.1), "last_age": r.last_age, "level": r.level,
        "notes": r.notes.iter().map(|n| n.sentence.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Mean number of failures of a socket by age, with robust standard errors; made by `recurrence`.
    PyRecurrence holds Recurrence as "Recurrence";
    save Recurrence::to_json; load Recurrence::from_json; table curve_table; show curve_facts;
    {
        /// Ages at which lamps failed, ascending, (steps,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.ages)
        }

        /// Sockets under observation at each step, (steps,).
        #[getter]
        fn at_risk<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.at_risk)
        }

        /// Failures at each step, (steps,).
        #[getter]
        fn failures<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.failures)
        }

        /// Mean number of failures of a socket by each step, (steps,).
        #[getter]
        fn mean<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.mean)
        }

        /// Its standard error, from the spread between sockets, (steps,); NaN with a single socket.
        #[getter]
        fn standard_error<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            let errors = self.0.standard_error.as_ref();
            array_or_nan(py, (0..self.0.ages.len()).map(|i| errors?.get(i).copied()))
        }

        /// Lower and upper end of the band at each step, for one age at a time, (steps, 2); NaN with a single socket.
        #[getter]
        fn band<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            pairs(py, &self.0.band())
        }

        /// Level of the band.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// Largest age at which a socket was watched.
        #[getter]
        fn last_age(&self) -> f64 {
            self.0.last_age
        }

        /// Number of sockets.
        #[getter]
        fn sockets(&self) -> u64 {
            self.0.sockets
        }

        /// What to know when reading the curve: pairs of rule and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            self.0.notes.iter().map(|n| (n.rule.clone(), n.sentence.clone())).collect()
        }

        /// Mean number of failures of a socket by an age, or by each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket, hours or days.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     None, or NaN in an array, where no socket was watched.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> screens = relamp.sockets([5000.0, 4000.0], [[900.0, 2100.0], []])
        /// >>> relamp.recurrence(screens).mean_at(3000.0)
        /// 1.0
        fn mean_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |age| Ok(self.0.mean_at(age)))
        }

        /// Lower and upper end of the band at an age, or at each of many, for one age at a time.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket, hours or days.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     (low, high), (n, 2) for many; None, or NaN in an array, before the first failure, with a single socket,
        ///     and where no socket was watched.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> screens = relamp.sockets([5000.0, 4000.0], [[900.0, 2100.0], []])
        /// >>> low, high = relamp.recurrence(screens).band_at(3000.0)
        /// >>> round(low, 3), round(high, 3)
        /// (0.25, 3.998)
        fn band_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |age| Ok(self.0.band_at(age)))
        }

        /// Sockets under observation at an age, or at each of many: their watch had begun before it and not ended.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket, hours or days, from 0; at the first age the sockets whose watch begins there.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     Sockets, 0 where none was watched; None, or NaN in an array, for an age below 0, and for a curve that was
        ///     saved before curves held this.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> screens = relamp.sockets([5000.0, 4000.0], [[900.0, 2100.0], []])
        /// >>> relamp.recurrence(screens).at_risk_at([0.0, 4000.0, 4500.0, 6000.0]).tolist()
        /// [2.0, 2.0, 1.0, 0.0]
        fn at_risk_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |age| Ok(self.0.at_risk_at(age).map(|n| n as f64)))
        }
    }
}

/// Estimates the mean number of failures of a socket by age, without assuming how failures follow each other.
///
/// The sum of failures over sockets under observation, age by age; its standard error from the spread between sockets.
///
/// Parameters
/// ----------
/// sockets : Sockets
///     The sockets.
/// level : float
///     Level of the band, inside (0, 1), for one age at a time.
///
/// Returns
/// -------
/// Recurrence
///
/// Raises
/// ------
/// InputError
///     For what is not a number.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     Without a socket.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> screens = relamp.sockets([5000.0, 4000.0, 1000.0, 5000.0], [[900.0, 2100.0], [], [], [4500.0]])
/// >>> curve = relamp.recurrence(screens)
/// >>> curve.at_risk.tolist(), round(curve.mean_at(4500.0), 4)
/// ([4, 3, 2], 1.0833)
#[pyfunction]
#[pyo3(signature = (sockets, *, level=0.95))]
pub(super) fn recurrence(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PySockets>)] sockets: &Bound<'_, PySockets>,
    #[pyo3(from_py_with = args::level)] level: f64,
) -> PyResult<PyRecurrence> {
    let sockets = &sockets.get().0;
    Ok(PyRecurrence(work(py, None, |_| core_recurrence(sockets, level))?))
}

fn difference_table(d: &RecurrenceDifference) -> Result<RecordBatch> {
    let band = d.band();
    Frame::default()
        .numbers("age", d.ages.iter().copied())
        .numbers("difference", d.difference.iter().copied())
        .numbers("standard_error", d.standard_error.iter().copied())
        .numbers("low", band.iter().map(|b| b.0))
        .numbers("high", band.iter().map(|b| b.1))
        .finish()
}

fn difference_facts(d: &RecurrenceDifference) -> Facts {
    let band = d.band().last().copied();
    facts! {
        "more_in": d.groups[0], "than_in": d.groups[1], "steps": d.ages.len(), "last_age": d.ages.last().copied(),
        "difference": d.difference.last().copied(), "low": band.map(|b| b.0), "high": band.map(|b| b.1),
        "standard_error": d.standard_error.last().copied(), "level": d.level,
        "notes": d.notes.iter().map(|n| n.sentence.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// How much higher the mean number of failures is in one group of sockets than in another; made by
    /// `recurrence_difference`.
    PyRecurrenceDifference holds RecurrenceDifference as "RecurrenceDifference";
    save |d| saved::save(DIFFERENCE, d); load |t| saved::load(DIFFERENCE, t); table difference_table;
    show difference_facts;
    {
        /// Ages at which either curve steps, (steps,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.ages)
        }

        /// Mean of the first group less that of the second, (steps,).
        #[getter]
        fn difference<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.difference)
        }

        /// Lower and upper end of the interval at each step, for one age at a time, (steps, 2).
        #[getter]
        fn band<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            pairs(py, &self.0.band().into_iter().map(Some).collect::<Vec<_>>())
        }

        /// Standard error of the difference, from the spread between sockets, (steps,).
        #[getter]
        fn standard_error<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.standard_error)
        }

        /// What to know when reading it: pairs of rule and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(super::empirical::sentences(&self.0.notes))
        }
    }
}

/// The difference between the mean numbers of failures of two groups of sockets, by age, with its interval.
///
/// The interval rests on Student's law with the degrees of freedom of Welch, from the spread between sockets of each
/// group.
///
/// Parameters
/// ----------
/// sockets : Sockets
///     The sockets, with groups.
/// more_in : str
///     The group that counts with a plus.
/// than_in : str
///     The group that counts with a minus.
/// level : float
///     Level of the interval, inside (0, 1), for one age at a time.
///
/// Returns
/// -------
/// RecurrenceDifference
///
/// Raises
/// ------
/// InputError
///     For a group that is no text, and what is not a number.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     For a group without two sockets, and groups never watched at one age.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> screens = relamp.sockets(
/// ...     [5000.0] * 4, [[900.0, 2100.0], [1500.0], [4000.0], []], group=["North", "North", "South", "South"]
/// ... )
/// >>> relamp.recurrence_difference(screens, more_in="North", than_in="South").difference.tolist()
/// [0.5, 1.0, 1.5, 1.0]
#[pyfunction]
#[pyo3(signature = (sockets, *, more_in, than_in, level=0.95))]
pub(super) fn recurrence_difference(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PySockets>)] sockets: &Bound<'_, PySockets>,
    #[pyo3(from_py_with = args::more_in)] more_in: &str,
    #[pyo3(from_py_with = args::than_in)] than_in: &str,
    #[pyo3(from_py_with = args::level)] level: f64,
) -> PyResult<PyRecurrenceDifference> {
    let sockets = &sockets.get().0;
    Ok(PyRecurrenceDifference(work(py, None, |_| core_difference(sockets, [more_in, than_in], level))?))
}

fn test_table(t: &RecurrenceTest) -> Result<RecordBatch> {
    let each = || t.groups.iter();
    Frame::default()
        .texts("group", each().map(|g| &g.name))
        .counts("sockets", each().map(|g| g.sockets))
        .counts("failures", each().map(|g| g.failures))
        .numbers("expected", each().map(|g| g.expected))
        .finish()
}

fn test_facts(t: &RecurrenceTest) -> Facts {
    facts! {
        "groups": t.groups.len(), "statistic": t.statistic, "degrees": t.degrees, "p_value": t.p_value,
        "notes": t.notes.iter().map(|n| n.sentence.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Whether groups of sockets fail at one rate, age by age; made by `recurrence_test`.
    PyRecurrenceTest holds RecurrenceTest as "RecurrenceTest";
    save |t| saved::save(TEST, t); load |t| saved::load(TEST, t); table test_table; show test_facts;
    {
        /// Robust chi-square of failures seen less expected.
        #[getter]
        fn statistic(&self) -> f64 {
            self.0.statistic
        }

        /// Its degrees of freedom.
        #[getter]
        fn degrees(&self) -> u64 {
            self.0.degrees
        }

        /// Degrees of freedom, above and below, of the F law that statistic / degrees is held against.
        ///
        /// None for a test saved before there were any, which was held against chi-square.
        #[getter]
        fn reference(&self) -> Option<(f64, f64)> {
            self.0.reference
        }

        /// Chance of such a statistic or a larger one where the groups do not differ.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.p_value
        }

        /// What to know when reading it: pairs of rule and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(super::empirical::sentences(&self.0.notes))
        }
    }
}

/// Tests whether groups of sockets have one mean number of failures at every age.
///
/// Failures less those expected with the rate of all sockets together at each age, against a variance taken from the
/// sockets themselves, each held against its own group: failures that come in clusters do not pass for a difference,
/// and a large difference does not pass for spread. Groups of fewer than 10 sockets are judged by the spread of all
/// groups. The p value is that of an F law, as Welch's test for two large groups and the analysis of variance of counts
/// for small ones that were watched alike.
///
/// Parameters
/// ----------
/// sockets : Sockets
///     The sockets, with two groups or more.
///
/// Returns
/// -------
/// RecurrenceTest
///
/// Raises
/// ------
/// RefusedError
///     With one group, without a failure, and where the sockets give no variance.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> screens = relamp.sockets(
/// ...     [5000.0] * 20, [[1000.0 + 50.0 * i] if i % 4 == 0 else [] for i in range(20)], group=["North", "South"] * 10
/// ... )
/// >>> test = relamp.recurrence_test(screens)
/// >>> test.degrees, test.p_value < 0.05
/// (1, True)
#[pyfunction]
#[pyo3(signature = (sockets))]
pub(super) fn recurrence_test(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PySockets>)] sockets: &Bound<'_, PySockets>,
) -> PyResult<PyRecurrenceTest> {
    let sockets = &sockets.get().0;
    Ok(PyRecurrenceTest(work(py, None, |_| core_test(sockets))?))
}
