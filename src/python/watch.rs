//! Failures watched as they come, month by month.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::family::NamedLife;
use crate::records::Ending;
use crate::watch::{
    Chart, ExpectedEndings, ExpectedOptions, Watch, WatchOptions, Watched, expected_endings as core_expected,
    watch as core_watch,
};

use super::error::refuse;
use super::fit::PyFit;
use super::fixed::Fixed;
use super::frames::{Frame, Table};
use super::intake::{arguments as args, kind_of};
use super::life::PyLife;
use super::lives::ending;
use super::records::PyReading;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

fn watched(word: &str) -> Result<Watched> {
    Watched::of_word(word).ok_or_else(|| {
        let known = Watched::ALL.map(Watched::as_str).join(", ");
        refuse("python.watched", "not what lamps are watched by", "by", "", word, &format!("one of: {known}"))
    })
}

fn month_table(e: &ExpectedEndings) -> Result<RecordBatch> {
    let each = || e.months.iter();
    Frame::default()
        .texts("by", each().map(|m| m.by.as_str()))
        .texts("name", each().map(|m| &m.name))
        .texts("month", each().map(|m| m.month.to_string()))
        .numbers("hours", each().map(|m| m.hours))
        .numbers("expected", each().map(|m| m.expected))
        .counts("observed", each().map(|m| m.observed))
        .finish()
}

fn months_facts(e: &ExpectedEndings) -> Facts {
    let first = e.by.first().copied();
    let own = || e.months.iter().filter(|m| Some(m.by) == first);
    facts! {
        "by": e.by.iter().map(|b| b.as_str()).collect::<Vec<_>>(),
        "from": e.months.iter().map(|m| m.month).min().map(|m| m.to_string()),
        "to": e.months.iter().map(|m| m.month).max().map(|m| m.to_string()),
        "expected": own().map(|m| m.expected).fold(0.0, |a, b| a + b),
        "observed": own().map(|m| m.observed).sum::<u64>(),
        "running": e.running.len(),
        "models": e.models.keys().collect::<Vec<_>>(),
        "notes": e.notes,
    }
}

result_class! {
    /// Failures expected at the lamps' ages and failures seen, month by month; made by `expected_endings`.
    ///
    /// Its table holds one row for each month of each name.
    PyExpectedEndings holds ExpectedEndings as "ExpectedEndings";
    save ExpectedEndings::to_json; load ExpectedEndings::from_json; table month_table; show months_facts;
    {
        /// What lamps are watched by, in order.
        #[getter]
        fn by(&self) -> Fixed<&'static str> {
            self.0.by.iter().map(|b| b.as_str()).collect()
        }

        /// What to know when reading it.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }
    }
}

/// The life that a model stands for, with its name.
pub(super) fn model(class: &str, given: &Bound<'_, PyAny>) -> PyResult<NamedLife> {
    let life = if let Ok(fit) = given.cast::<PyFit>() {
        fit.get().0.life()?
    } else if let Ok(life) = given.cast::<PyLife>() {
        life.get().0.life()?
    } else {
        let got = kind_of(given);
        return Err(refuse("python.type", "not a model", "models", class, &got, "a Fit or a Life").into());
    };
    let expected = "a Fit or a Life of a family";
    Ok(life.named().ok_or_else(|| refuse("python.type", "not a model", "models", class, "another life", expected))?)
}

fn models_of(models: &Bound<'_, PyAny>) -> PyResult<BTreeMap<String, NamedLife>> {
    let expected = "a dict from lamp class to Fit or Life";
    let Ok(models) = models.cast::<PyDict>() else {
        return Err(refuse("python.type", "not models", "models", "", &kind_of(models), expected).into());
    };
    let mut out = BTreeMap::new();
    for (class, given) in models {
        let Ok(class) = class.extract::<String>() else {
            return Err(refuse("python.type", "not a lamp class", "models", "", &kind_of(&class), expected).into());
        };
        let life = model(&class, &given)?;
        out.insert(class, life);
    }
    Ok(out)
}

/// Failures that the lamps' ages let expect in each month, by batch, supplier and site, and those seen.
///
/// Expected of a lamp in a month is the rise of its cumulative hazard from its age at the start to its age at the end,
/// so old lamps do not make a site look bad, nor young ones a batch good. A failure counts where and when the life
/// ended.
///
/// Parameters
/// ----------
/// reading : Reading
///     From `read_logs` or `read_table`.
/// models : dict of str to Fit or Life
///     The life of each lamp class, all `failure_endings` together; lamps of other classes are left out, with a note.
/// by : list of str
///     What to watch by: "fleet", "batch", "supplier", "site", "screen".
/// failure_endings : list of str, optional
///     Words of `ENDINGS` that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
///
/// Returns
/// -------
/// ExpectedEndings
///
/// Raises
/// ------
/// InputError
///     For what is no model, a word that is no ending, and what lamps cannot be watched by.
/// RefusedError
///     Where no lamp has a model.
/// DomainError
///     For a lamp at an age that no lamp reaches under its model.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> table = {
/// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
/// ...     "in": ["2025-11-01", "2025-11-01"], "out": ["2025-11-21", None], "why": ["popped", None],
/// ...     "hours": [200.0, 300.0], "read": [None, "2025-12-01"],
/// ... }
/// >>> columns = {
/// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
/// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
/// ... }
/// >>> reading = relamp.read_table(
/// ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst"},
/// ...     dates="iso", blank_hours_at_fitting="new",
/// ... )
/// >>> life = relamp.life("exponential", scale=1000.0)
/// >>> months = relamp.expected_endings(reading, {"2 kW": life}, by=["site"])
/// >>> months.frame().select("name", "month", "expected", "observed").rows()
/// [('S', '2025-11', 0.5, 1)]
#[pyfunction]
#[pyo3(signature = (reading, models, *, by=None, failure_endings=None))]
pub(super) fn expected_endings(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyReading>)] reading: &Bound<'_, PyReading>,
    models: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::watched_by)] by: Option<Vec<String>>,
    #[pyo3(from_py_with = args::failure_endings)] failure_endings: Option<Vec<String>>,
) -> PyResult<PyExpectedEndings> {
    let models = models_of(models)?;
    let mut options = ExpectedOptions::default();
    if let Some(words) = by {
        options.by = words.iter().map(|w| watched(w)).collect::<Result<_>>()?;
    }
    if let Some(words) = failure_endings {
        options.failure_endings =
            words.iter().map(|w| ending("failure_endings", w)).collect::<Result<Vec<Ending>>>()?;
    }
    let reading = &reading.get().0;
    Ok(PyExpectedEndings(work(py, None, |_| core_expected(&reading.lives, &reading.spells, &models, &options))?))
}

fn chart_table(w: &Watch) -> Result<RecordBatch> {
    let each = || w.charts.iter();
    Frame::default()
        .texts("by", each().map(|c| c.by.as_str()))
        .texts("name", each().map(|c| &c.name))
        .counts("observed", each().map(|c| c.observed))
        .numbers("expected", each().map(|c| c.expected))
        .numbers_or_null("ratio", each().map(|c| c.ratio))
        .numbers_or_null("ratio_low", each().map(|c| c.ratio_interval.map(|i| i.0)))
        .numbers_or_null("ratio_high", each().map(|c| c.ratio_interval.map(|i| i.1)))
        .counts("alarms", each().map(|c| c.alarms.len() as u64))
        .numbers("sum", each().map(|c| c.sums.last().copied().unwrap_or(0.0)))
        .numbers_or_null("months_to_alarm_twice", each().map(|c| c.months_to_alarm_twice))
        .numbers_or_null("months_to_alarm_thrice", each().map(|c| c.months_to_alarm_thrice))
        .finish()
}

fn watch_facts(w: &Watch) -> Facts {
    let told: Vec<&str> = w.charts.iter().flat_map(|c| &c.alarms).map(|a| a.sentence.as_str()).collect();
    facts! {
        "charts": w.charts.len(), "alarms": told.len(), "open_lamps": w.suspects.len(), "bound": w.bound,
        "false_alarms_a_year": w.false_alarms_a_year,
        "expected_until_alarm": w.delays.iter()
            .map(|d| format!("{} at {} times the hazard", super::show::number(d.expected), d.hazard_ratio))
            .collect::<Vec<_>>(),
        "told": told, "notes": w.notes,
    }
}

result_class! {
    /// Everything that is watched, with its alarms; made by `watch`.
    ///
    /// Its table holds one row for each chart. `months_to_alarm_twice` and `months_to_alarm_thrice` say after how many months an
    /// alarm comes, on average, where failures come twice or three times as often as expected from now on; they are null where
    /// no failure was expected in the last 12 months.
    PyWatch holds Watch as "Watch";
    save Watch::to_json; load Watch::from_json; table chart_table; show watch_facts;
    {
        /// The sum at which a chart raises an alarm.
        #[getter]
        fn bound(&self) -> f64 {
            self.0.bound
        }

        /// False alarms in a year over all charts: the mean is at most this where the models hold.
        #[getter]
        fn false_alarms_a_year(&self) -> f64 {
            self.0.false_alarms_a_year
        }

        /// Pairs of how many times as often failures come, and failures expected until an alarm, on average.
        #[getter]
        fn delays(&self) -> Fixed<(f64, f64)> {
            self.0.delays.iter().map(|d| (d.hazard_ratio, d.expected)).collect()
        }

        /// What to know when reading it.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }

        /// Every alarm, one row each, in order of what is watched, name and month.
        ///
        /// Returns
        /// -------
        /// Table
        ///     What it is about, the month, the month from which failures were many, failures seen and expected since
        ///     then, and a sentence.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1", "A2", "A3"], "class": ["2 kW"] * 3, "site": ["S"] * 3, "screen": ["1", "2", "3"],
        /// ...     "in": ["2025-11-01"] * 3, "out": ["2025-11-21", "2025-11-22", None], "why": ["popped"] * 2 + [None],
        /// ...     "hours": [200.0, 210.0, 300.0], "read": [None, None, "2025-12-01"],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> watch = relamp.watch(relamp.expected_endings(reading, {"2 kW": life}, by=["site"]))
        /// >>> watch.alarms().frame()["sentence"][0].split(" where ")[0]
        /// 'site S: 2 failures in 2025-11'
        fn alarms(&self) -> PyResult<Table> {
            let of = |c: &Chart| (c.by.as_str(), c.name.clone());
            let rows: Vec<_> = self.0.charts.iter().flat_map(|c| c.alarms.iter().map(move |a| (of(c), a))).collect();
            let frame = Frame::default()
                .texts("by", rows.iter().map(|r| r.0.0))
                .texts("name", rows.iter().map(|r| &r.0.1))
                .texts("month", rows.iter().map(|r| r.1.month.to_string()))
                .texts("since", rows.iter().map(|r| r.1.since.to_string()))
                .counts("observed", rows.iter().map(|r| r.1.observed))
                .numbers("expected", rows.iter().map(|r| r.1.expected))
                .texts("sentence", rows.iter().map(|r| &r.1.sentence));
            Ok(Table(frame.finish()?))
        }

        /// The lamps that burn of each name that raised an alarm, however long ago, but for the fleet.
        ///
        /// Returns
        /// -------
        /// Table
        ///     What raised the alarm with the month of its last one, and each lamp with its place, age in hours and day of
        ///     reading. A supplier or site whose alarm is old has other lamps today: keep the rows whose `last_alarm` is new.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1", "A2", "A3"], "class": ["2 kW"] * 3, "site": ["S"] * 3, "screen": ["1", "2", "3"],
        /// ...     "in": ["2025-11-01"] * 3, "out": ["2025-11-21", "2025-11-22", None], "why": ["popped"] * 2 + [None],
        /// ...     "hours": [200.0, 210.0, 300.0], "read": [None, None, "2025-12-01"],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> watch = relamp.watch(relamp.expected_endings(reading, {"2 kW": life}, by=["site"]))
        /// >>> watch.open_lamps().frame().select("serial", "hours").rows()
        /// [('A3', 300.0)]
        fn open_lamps(&self) -> PyResult<Table> {
            let each = || self.0.suspects.iter();
            let frame = Frame::default()
                .texts("by", each().map(|s| s.by.as_str()))
                .texts("name", each().map(|s| &s.name))
                .texts("last_alarm", each().map(|s| {
                    let alarm = self.0.chart(s.by, &s.name).and_then(|c| c.alarms.last());
                    alarm.map_or_else(String::new, |a| a.month.to_string())
                }))
                .texts("serial", each().map(|s| s.lamp.serial.as_ref() as &str))
                .texts("lamp_class", each().map(|s| s.lamp.lamp_class.as_ref() as &str))
                .texts("site", each().map(|s| s.lamp.site.as_ref() as &str))
                .texts("screen", each().map(|s| s.lamp.screen.as_ref() as &str))
                .texts("batch", each().map(|s| s.lamp.batch.as_ref() as &str))
                .texts("supplier", each().map(|s| s.lamp.supplier.as_ref() as &str))
                .numbers("hours", each().map(|s| s.lamp.hours))
                .dates("read_on", each().map(|s| Some(s.lamp.read_on)));
            Ok(Table(frame.finish()?))
        }

        /// Every month of every chart: failures expected and seen, and the running sum at its end.
        ///
        /// Returns
        /// -------
        /// Table
        ///     What is watched, name, month, failures expected and seen in it, sum.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1"], "class": ["2 kW"], "site": ["S"], "screen": ["1"], "in": ["2025-10-01"],
        /// ...     "out": ["2025-11-21"], "why": ["popped"], "hours": [200.0],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> watch = relamp.watch(relamp.expected_endings(reading, {"2 kW": life}, by=["fleet"]))
        /// >>> [(month, round(sum, 3)) for month, sum in watch.months().frame().select("month", "sum").rows()]
        /// [('2025-10', 0.0), ('2025-11', 0.693)]
        fn months(&self) -> PyResult<Table> {
            let mut given = self.0.expected.months.iter().peekable();
            let mut rows = Vec::new();
            for c in &self.0.charts {
                let mut month = c.from;
                for &sum in &c.sums {
                    // Charts and months stand in one order; a month without a lamp is left out of the months.
                    let here = given.next_if(|m| m.by == c.by && m.name == c.name && m.month == month);
                    rows.push((c, month, here.map_or((0.0, 0), |m| (m.expected, m.observed)), sum));
                    month = month.next();
                }
            }
            let frame = Frame::default()
                .texts("by", rows.iter().map(|r| r.0.by.as_str()))
                .texts("name", rows.iter().map(|r| &r.0.name))
                .texts("month", rows.iter().map(|r| r.1.to_string()))
                .numbers("expected", rows.iter().map(|r| r.2.0))
                .counts("observed", rows.iter().map(|r| r.2.1))
                .numbers("sum", rows.iter().map(|r| r.3));
            Ok(Table(frame.finish()?))
        }
    }
}

/// Watches failures as they come, against those expected at the lamps' ages.
///
/// Each batch, supplier, site or screen has a chart: a running sum that rises by ln(ratio) with each failure and falls
/// by (ratio - 1) with each failure expected, not below 0. At the bound it raises an alarm and starts again at 0. One
/// bound serves all charts: the lowest at which sound charts, played with the same expected failures in the same
/// months, raise at most as many false alarms a year as are borne.
///
/// Parameters
/// ----------
/// expected : ExpectedEndings
///     From `expected_endings`.
/// ratio : float
///     The hazard ratio that is told soonest, at least 1.5 and at most 5.
/// false_alarms_a_year : float
///     How many false alarms a year are borne over all that is watched, above 0 to 100.
///
/// Returns
/// -------
/// Watch
///
/// Raises
/// ------
/// InputError
///     For numbers out of range.
/// RefusedError
///     Where the models expect no failure.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> table = {
/// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
/// ...     "in": ["2025-11-01", "2025-11-01"], "out": ["2025-11-21", None], "why": ["popped", None],
/// ...     "hours": [200.0, 300.0], "read": [None, "2025-12-01"],
/// ... }
/// >>> columns = {
/// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
/// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
/// ... }
/// >>> reading = relamp.read_table(
/// ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst"},
/// ...     dates="iso", blank_hours_at_fitting="new",
/// ... )
/// >>> life = relamp.life("exponential", scale=1000.0)
/// >>> watch = relamp.watch(relamp.expected_endings(reading, {"2 kW": life}))
/// >>> len(watch.alarms())
/// 0
#[pyfunction]
#[pyo3(signature = (expected, *, ratio=2.0, false_alarms_a_year=1.0))]
pub(super) fn watch(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyExpectedEndings>)] expected: &Bound<'_, PyExpectedEndings>,
    #[pyo3(from_py_with = args::ratio)] ratio: f64,
    #[pyo3(from_py_with = args::false_alarms_a_year)] false_alarms_a_year: f64,
) -> PyResult<PyWatch> {
    let expected = &expected.get().0;
    let options = WatchOptions { ratio, false_alarms_a_year };
    Ok(PyWatch(work(py, None, |run| core_watch(expected, &options, run))?))
}
