//! Sockets that take lamp after lamp: mean numbers of failures, groups, trends, the power-law process.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::empirical::{
    Recurrence, RecurrenceDifference, RecurrenceTest, Socket, SocketClock, SocketOptions, Sockets, Trend, TrendTest,
    WatchEnd, recurrence as core_recurrence, recurrence_difference as core_difference, recurrence_test as core_test,
    trend as core_trend,
};
use crate::fit::{
    PowerLaw, PowerLawDistance, PowerLawEstimate, PowerLawOptions, fit_power_law, power_law_distance as core_distance,
};

use super::arrays::{array, array_or_nan, over, pairs};
use super::error::refuse;
use super::frames::Frame;
use super::intake::{At, arguments as args, labels, numbers};
use super::lives::ending;
use super::policy::word;
use super::records::PyReading;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::few_enough;
use super::work::work;

const SOCKETS: Format = Format::new("sockets", 1);
const DIFFERENCE: Format = Format::new("recurrence_difference", 1);
const TEST: Format = Format::new("recurrence_test", 1);
const TREND: Format = Format::new("trend", 1);
const DISTANCE: Format = Format::new("power_law_distance", 1);

fn socket_table(s: &Sockets) -> Result<RecordBatch> {
    let each = || s.each().iter();
    Frame::default()
        .texts("name", each().map(|s| &s.name))
        .texts("group", each().map(|s| &s.group))
        .numbers("from", each().map(|s| s.from))
        .numbers("to", each().map(|s| s.to))
        .counts("failures", each().map(|s| s.failures.len() as u64))
        .finish()
}

fn socket_facts(s: &Sockets) -> Facts {
    facts! { "sockets": s.len(), "failures": s.failures(), "exposure": s.exposure(), "groups": s.groups().len() }
}

result_class! {
    /// Places that take lamp after lamp, each with the ages at which its lamp failed; made by `sockets` or `sockets_of`.
    ///
    /// Its table has one row for each socket.
    PySockets holds Sockets as "Sockets";
    save |s| saved::save(SOCKETS, s); load |t| saved::load(SOCKETS, t); table socket_table; show socket_facts;
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// Number of failures in all.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.failures()
        }

        /// Hours, or days, under observation in all.
        #[getter]
        fn exposure(&self) -> f64 {
            self.0.exposure()
        }

        /// Names of the groups, ascending.
        #[getter]
        fn groups(&self) -> Vec<&str> {
            self.0.groups()
        }

        /// Names of the sockets, in the order given.
        #[getter]
        fn names(&self) -> Vec<&str> {
            self.0.each().iter().map(|s| s.name.as_str()).collect()
        }

        /// The sockets of one group.
        ///
        /// Parameters
        /// ----------
        /// group : str
        ///     Its name.
        ///
        /// Returns
        /// -------
        /// Sockets
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a name that is no text.
        /// RefusedError
        ///     For a group that no socket is in.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> both = relamp.sockets([5000.0, 5000.0], [[900.0], []], group=["North", "South"])
        /// >>> len(both.of_group("North")), both.of_group("North").failures
        /// (1, 1)
        fn of_group(&self, #[pyo3(from_py_with = args::group)] group: &str) -> PyResult<Self> {
            Ok(Self(self.0.group(group)?))
        }
    }
}

/// Makes sockets from the ends of their watches and the ages of their failures.
///
/// The age of a socket is its own, in hours that lamps burned in it, or in days: it goes on when the lamp is changed.
///
/// Parameters
/// ----------
/// to : array-like
///     Age of each socket at which its watch ended, (n,).
/// failures : list of array-like
///     Ages of each socket at which a lamp in it failed, after the start of the watch and at its end at the latest; n
///     of them, empty for none.
/// start : array-like, optional
///     Age of each socket at which its watch began, (n,); 0 without it.
/// name : array-like of str, optional
///     Name of each, (n,); their numbers from 1 without it.
/// group : array-like of str, optional
///     What they are compared by, such as the site, (n,).
///
/// Returns
/// -------
/// Sockets
///
/// Raises
/// ------
/// InputError
///     For columns of different length, what is not a number, ages that do not fit together, and a name that two have:
///     every one of them.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> screens = relamp.sockets([5000.0, 4000.0, 1000.0, 5000.0], [[900.0, 2100.0], [], [], [4500.0]])
/// >>> len(screens), screens.failures, screens.exposure
/// (4, 3, 15000.0)
#[pyfunction]
#[pyo3(signature = (to, failures, *, start=None, name=None, group=None))]
pub(super) fn sockets(
    to: &Bound<'_, PyAny>,
    failures: &Bound<'_, PyAny>,
    start: Option<&Bound<'_, PyAny>>,
    name: Option<&Bound<'_, PyAny>>,
    group: Option<&Bound<'_, PyAny>>,
) -> PyResult<PySockets> {
    let at = |column: &'static str| At { input: "sockets", column };
    let to = numbers(to, at("to"))?.all()?;
    let n = to.len();
    let same = |column: &str, got: usize| {
        if got == n {
            return Ok(());
        }
        let got = format!("{got} for {}", counted(n as u64, "socket"));
        let what = "columns of different length";
        Err(refuse("python.length", what, "sockets", column, &got, "one for each socket"))
    };
    let Ok(items) = failures.try_iter() else {
        let got = super::intake::kind_of(failures);
        let expected = "a list with the ages of each socket's failures";
        return Err(refuse("python.type", "not a list", "sockets", "failures", &got, expected).into());
    };
    let failures = items.map(|item| numbers(&item?, at("failures"))?.all()).collect::<PyResult<Vec<_>>>()?;
    same("failures", failures.len())?;
    let from = start.map_or_else(|| Ok(vec![0.0; n]), |s| numbers(s, at("start"))?.all())?;
    same("start", from.len())?;
    let texts = |column: &'static str, given: Option<&Bound<'_, PyAny>>| -> PyResult<Option<Vec<String>>> {
        let Some(given) = given else { return Ok(None) };
        let texts: Vec<String> = labels(given, at(column))?.into_iter().map(Option::unwrap_or_default).collect();
        same(column, texts.len())?;
        Ok(Some(texts))
    };
    let names = texts("name", name)?.unwrap_or_else(|| (1..=n).map(|i| i.to_string()).collect());
    let groups = texts("group", group)?.unwrap_or_else(|| vec![String::new(); n]);
    let each = names.into_iter().zip(groups).zip(from.into_iter().zip(to)).zip(failures);
    let each = each.map(|(((name, group), (from, to)), failures)| Socket { name, group, from, to, failures });
    Ok(PySockets(Sockets::new(each.collect())?))
}

/// Makes one socket of each screen that the spells of a reading stand in; its group is its site.
///
/// By hours, the age of a socket is the hours that lamps burned in it, spell after spell. By days, it is the days since
/// its first fitting. A failure known to an interval stands at its upper end.
///
/// Parameters
/// ----------
/// reading : Reading
///     What `read_logs` or `read_table` gave.
/// lamp_class : str, optional
///     Only the spells of this class.
/// endings : list of str, optional
///     Endings that count as failure; without it burst, seal, no_strike, flicker and dim.
/// clock : {"hours", "days"}
///     What the age of a socket counts.
///
/// Returns
/// -------
/// Sockets
///
/// Raises
/// ------
/// InputError
///     For an unknown ending or clock.
/// RefusedError
///     Where no screen was under observation.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> study = relamp.Study.open("data/demo/study.toml")  # invented
/// >>> screens = relamp.sockets_of(study.read(), lamp_class="2.0 kW")
/// >>> len(screens) > 50
/// True
#[pyfunction]
#[pyo3(signature = (reading, *, lamp_class=None, endings=None, clock="hours"))]
pub(super) fn sockets_of(
    py: Python<'_>,
    reading: &Bound<'_, PyReading>,
    #[pyo3(from_py_with = args::lamp_class)] lamp_class: Option<String>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::clock)] clock: &str,
) -> PyResult<PySockets> {
    let mut options = SocketOptions::default();
    options.clock = match clock {
        "hours" => SocketClock::Hours,
        "days" => SocketClock::Days,
        other => return Err(refuse("python.clock", "not a clock", "clock", "", other, "'hours' or 'days'").into()),
    };
    if let Some(endings) = endings {
        options.failure_endings = endings.iter().map(|e| ending("endings", e)).collect::<Result<Vec<_>>>()?;
    }
    let spells = &reading.get().0.spells;
    let made = work(py, None, |_| {
        let wanted = |class: &str| lamp_class.as_deref().is_none_or(|wanted| class == wanted);
        Sockets::from_spells(spells.iter().filter(|s| wanted(s.lamp_class)), &options)
    });
    Ok(PySockets(made?))
}

fn ended(word: &str) -> Result<WatchEnd> {
    match word {
        "time" => Ok(WatchEnd::Time),
        "failure" => Ok(WatchEnd::Failure),
        other => Err(refuse("python.ended", "not an end of a watch", "ended", "", other, "'time' or 'failure'")),
    }
}

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
    facts! {
        "sockets": r.sockets, "failures": r.failures.iter().sum::<u64>(), "steps": r.ages.len(),
        "mean": r.mean.last().copied(), "last_age": r.last_age, "level": r.level,
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
        fn notes(&self) -> Vec<(String, String)> {
            self.0.notes.iter().map(|n| (n.rule.clone(), n.sentence.clone())).collect()
        }

        /// Mean number of failures of a socket by an age, or by each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket.
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
            over(age, At { input: "age", column: "" }, |age| Ok(self.0.mean_at(age)))
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
    sockets: &Bound<'_, PySockets>,
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
    facts! {
        "more_in": d.groups[0], "than_in": d.groups[1], "steps": d.ages.len(), "last_age": d.ages.last().copied(),
        "difference": d.difference.last().copied(), "standard_error": d.standard_error.last().copied(), "level": d.level,
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
    }
}

/// The difference between the mean numbers of failures of two groups of sockets, by age, with its interval.
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
    sockets: &Bound<'_, PySockets>,
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
        "notes": t.notes.iter().map(String::as_str).collect::<Vec<_>>(),
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

        /// Degrees of freedom.
        #[getter]
        fn degrees(&self) -> u64 {
            self.0.degrees
        }

        /// Chance of such a statistic or a larger one where the groups do not differ.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.p_value
        }

        /// What to know when reading it.
        #[getter]
        fn notes(&self) -> Vec<String> {
            self.0.notes.clone()
        }
    }
}

/// Tests whether groups of sockets have one mean number of failures at every age.
///
/// Failures less those expected with the rate of all sockets together at each age, against a variance taken from the
/// sockets themselves, so that failures that come in clusters do not pass for a difference.
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
pub(super) fn recurrence_test(py: Python<'_>, sockets: &Bound<'_, PySockets>) -> PyResult<PyRecurrenceTest> {
    let sockets = &sockets.get().0;
    Ok(PyRecurrenceTest(work(py, None, |_| core_test(sockets))?))
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
        fn notes(&self) -> Vec<String> {
            self.0.notes.clone()
        }
    }
}

/// Tests whether the rate of failures of sockets changes with their age.
///
/// - centroid: mean age of the failures against the middle of the watch, for failures at a constant rate in each
///   socket; above 0 means more and more failures. centroid_robust: the same with the spread taken from the sockets.
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
    sockets: &Bound<'_, PySockets>,
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

        /// Maximised log-likelihood.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Vec<(String, String)> {
            super::uncertainty::pairs(&self.0.notes)
        }

        /// Mean failures of a socket by an age, or by each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the socket.
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
        ///     Age of the socket.
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

        /// Interval of the rate at an age, by curvature on its logarithm.
        ///
        /// Parameters
        /// ----------
        /// age : float
        ///     Age of the socket.
        ///
        /// Returns
        /// -------
        /// tuple of float
        ///     Lower and upper end.
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
        fn rate_interval(&self, #[pyo3(from_py_with = args::age)] age: f64) -> (f64, f64) {
            self.0.rate_interval(age)
        }
    }
}

/// Fits a power-law process to the failures of sockets, one law for all of them.
///
/// The rate at age t is scale shape t^(shape - 1) failures of a socket for each unit of age, however long ago its lamp
/// was fitted: for screens that get worse, not for lamps that wear out. IEC 61164 prints the unbiased estimate,
/// MIL-HDBK-189 the maximum of the likelihood.
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
    sockets: &Bound<'_, PySockets>,
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
///     Samples to simulate.
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
    sockets: &Bound<'_, PySockets>,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
) -> PyResult<PyPowerLawDistance> {
    few_enough(replicates)?;
    let sockets = &sockets.get().0;
    Ok(PyPowerLawDistance(work(py, None, |run| core_distance(sockets, replicates as u64, seed, run))?))
}
