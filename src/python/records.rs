//! Reading logs: files and frames in, spells, lives and a ledger out.

use std::path::PathBuf;

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict, PyList, PyString};

use crate::Result;
use crate::base::error::{Error, Kind, Place, Problem};
use crate::base::saved::{self, Format};
use crate::lives::{Cluster, LifeOptions, RecordCovariate, from_records};
use crate::records::{
    ClassNames, Counts, Ending, LogFormat, Options, Reading, ReasonMap, Source, read as core_read, read_sources,
};
use crate::study::{Entries, logs_of_program};

use super::error::{internal, refuse, warn};
use super::fixed::Fixed;
use super::frames;
use super::intake::{Table, arguments as args, entries, kind_of, reasons as reasons_of};
use super::lives::{PyTally, ending};
use super::records_tables::{disputed, findings, lives, spells};
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const READING: Format = Format::new("reading", 1);

fn reading_facts(r: &Reading) -> Facts {
    let c = r.ledger.counts;
    facts! {
        "rows": c.rows, "used": c.used, "merged": c.merged, "set_aside": c.set_aside, "spells": r.spells.len(),
        "lives": r.lives.len(), "findings": r.ledger.findings.len(), "disputed": r.disputed.len(),
    }
}

fn counted<'py>(py: Python<'py>, c: &Counts) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    for (name, n) in [("rows", c.rows), ("used", c.used), ("merged", c.merged), ("set_aside", c.set_aside)] {
        dict.set_item(name, n)?;
    }
    Ok(dict)
}

result_class! {
    /// What a reading of logs gives: spells, lives by serial, and the ledger that accounts for every row.
    ///
    /// Its own table (`table`, `frame`) is that of the spells in use.
    PyReading holds Reading as "Reading";
    save |r| saved::save(READING, r); load |t| saved::load(READING, t); table spells; show reading_facts;
    {
        /// Rows in, and what became of them: rows = used + merged + set_aside.
        #[getter]
        fn counts<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            counted(py, &self.0.ledger.counts)
        }

        /// Whether rows = used + merged + set_aside; anything else is a defect of this library.
        #[getter]
        fn reconciles(&self) -> bool {
            self.0.ledger.counts.reconcile()
        }

        /// What to know before using any figure: that more rows were set aside than figures should rest on, or that a
        /// log does not bear out its column map; empty where nothing is to be said.
        #[getter]
        fn warning(&self) -> String {
            self.0.warning()
        }

        /// The same counts by file, in the order given.
        #[getter]
        fn counts_by_file<'py>(&self, py: Python<'py>) -> PyResult<Fixed<(String, Bound<'py, PyDict>)>> {
            self.0.ledger.by_file.iter().map(|(file, c)| Ok((file.clone(), counted(py, c)?))).collect()
        }

        /// Spells in use, one row each.
        ///
        /// Returns
        /// -------
        /// Table
        ///     File, line, lamp and place, days, ages in hours, strikes, reason and ending.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
        /// ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
        /// ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> reading.spells().frame()["end_hours"].to_list()
        /// [900.0, 1100.0]
        fn spells(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(spells(&self.0)?))
        }

        /// Lives joined by serial, one row each.
        ///
        /// Returns
        /// -------
        /// Table
        ///     Lamp, last place, number of spells, ages in hours, ending, day of the last reading.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
        /// ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
        /// ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> reading.lives().frame()["ending"].to_list()
        /// ['burst', 'running']
        fn lives(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(lives(&self.0)?))
        }

        /// Every finding, in order of file and line.
        ///
        /// Returns
        /// -------
        /// Table
        ///     File, row, line, column, value, rule, what became of the row, serial, and a sentence.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
        /// ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
        /// ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> len(reading.ledger())
        /// 0
        fn ledger(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(findings(&self.0.ledger.findings)?))
        }

        /// Open lamps whose age is not known or whose presence is doubtful: treat as due.
        ///
        /// Returns
        /// -------
        /// Table
        ///     File, line, lamp and place, day of the last reading, hours on the meter where readable, and the rule.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
        /// ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
        /// ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> len(reading.disputed())
        /// 0
        fn disputed(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(disputed(&self.0)?))
        }

        /// A tally of the lives: one row for each stretch under observation.
        ///
        /// Parameters
        /// ----------
        /// failure_endings : list of str, optional
        ///     Words of `ENDINGS` that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
        /// cluster : {"life", "site"}
        ///     Which rows share a bootstrap weight.
        /// meter_step_hours : float
        ///     Step of the hour meters, hours: a failure at the very age of entry is put inside the first step.
        /// covariates : list of str, optional
        ///     Of "batch", "screen", "site", "strikes_per_hour", "supplier": what regressions and pooled groups may ask
        ///     for. With a site or a screen among them a moved lamp has a row for each spell, at its own place; a lamp
        ///     without a value is left out with a warning.
        ///
        /// Returns
        /// -------
        /// Tally
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a word that is no ending, another cluster or covariate, or a step that is not above 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = {
        /// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
        /// ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
        /// ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
        /// ... }
        /// >>> columns = {
        /// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
        /// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
        /// ... }
        /// >>> reading = relamp.read_table(
        /// ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
        /// ...     dates="iso", blank_hours_at_fitting="new",
        /// ... )
        /// >>> reading.tally().failures, reading.tally(failure_endings=["dim"], cluster="site").failures
        /// (1, 0)
        /// >>> reading.tally(covariates=["site"]).covariates
        /// {'site': 'category'}
        #[pyo3(signature = (*, failure_endings=None, cluster="life", meter_step_hours=1.0, covariates=None))]
        fn tally(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::failure_endings)] failure_endings: Option<Vec<String>>,
            #[pyo3(from_py_with = args::cluster)] cluster: &str,
            #[pyo3(from_py_with = args::meter_step_hours)] meter_step_hours: f64,
            #[pyo3(from_py_with = args::record_covariates)] covariates: Option<Vec<String>>,
        ) -> PyResult<PyTally> {
            let mut options = LifeOptions { meter_step_hours, ..LifeOptions::default() };
            options.covariates = covariates.iter().flatten().map(|w| covariate(w)).collect::<Result<_>>()?;
            if let Some(words) = failure_endings {
                options.failure_endings =
                    words.iter().map(|w| ending("failure_endings", w)).collect::<Result<Vec<Ending>>>()?;
            }
            options.cluster = match cluster {
                "life" => Cluster::Life,
                "site" => Cluster::Site,
                other => {
                    let expected = "life or site";
                    return Err(refuse("python.cluster", "not a cluster", "cluster", "", other, expected).into());
                }
            };
            let (tally, notes) = work(py, None, |_| from_records(&self.0.lives, &self.0.spells, &options))?;
            if let Some(first) = notes.first() {
                let more = if notes.len() > 1 { format!("; and {} more", notes.len() - 1) } else { String::new() };
                let place = format!("{}, line {}", first.file, first.line);
                warn(py, "RelampWarning", &format!("{place}: {} [{}]{more}", first.sentence, first.rule))?;
            }
            Ok(PyTally(tally))
        }
    }
}

fn covariate(word: &str) -> Result<RecordCovariate> {
    let all = RecordCovariate::ALL;
    all.into_iter().find(|c| c.as_str() == word).ok_or_else(|| {
        let expected = format!("one of: {}", all.map(RecordCovariate::as_str).join(", "));
        refuse("python.covariate", "not a covariate that records hold", "covariates", "", word, &expected)
    })
}

/// The names of the lamp classes, or everything that is wrong with them.
pub(super) fn class_names(classes: Option<&Bound<'_, PyAny>>) -> Result<ClassNames> {
    let Some(classes) = classes else { return Ok(ClassNames::any()) };
    let mut named: Vec<(String, Vec<String>)> = Vec::new();
    let mut problems = Vec::new();
    if let Ok(dict) = classes.cast::<PyDict>() {
        for (i, (name, others)) in dict.iter().enumerate() {
            let name = class_name(&name, Place::input("classes").row(i as u64 + 1), &mut problems);
            let place = || Place::input("classes").column(&name);
            let Some(others) = sequence(&others) else {
                let problem = Problem::new("python.type", "not a list of other names").at(place());
                problems.push(problem.got(kind_of(&others)).expected("a list of texts"));
                continue;
            };
            let others = others.iter().enumerate();
            let others = others.map(|(j, other)| class_name(other, place().row(j as u64 + 1), &mut problems)).collect();
            named.push((name, others));
        }
    } else {
        let Some(names) = sequence(classes) else {
            let expected = "a list of class names, or a dict from name to a list of other names";
            return Err(refuse("python.type", "not a list of classes", "classes", "", &kind_of(classes), expected));
        };
        for (i, name) in names.iter().enumerate() {
            named.push((class_name(name, Place::input("classes").row(i as u64 + 1), &mut problems), Vec::new()));
        }
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    if named.is_empty() {
        let what = "no lamp class is named, so that no row could be used";
        let expected = "one name or more, or no classes at all to take any";
        return Err(refuse("python.classes", what, "classes", "", "none", expected));
    }
    ClassNames::new(named)
}

/// The items of anything but a text that has some.
fn sequence<'py>(of: &Bound<'py, PyAny>) -> Option<Vec<Bound<'py, PyAny>>> {
    let text = of.is_instance_of::<PyString>() || of.is_instance_of::<PyBytes>();
    of.try_iter().ok().filter(|_| !text)?.collect::<PyResult<_>>().ok()
}

/// A name, or a blank one and a problem.
fn class_name(item: &Bound<'_, PyAny>, place: Place, problems: &mut Vec<Problem>) -> String {
    item.extract::<String>().unwrap_or_else(|_| {
        let problem = Problem::new("python.type", "not the name of a lamp class").at(place);
        problems.push(problem.got(kind_of(item)).expected("a text"));
        String::new()
    })
}

/// What a caller declares, judged together so that every mistake is told at once.
fn declared(
    logs: &[(String, Entries)],
    reasons: &Bound<'_, PyAny>,
    classes: Option<&Bound<'_, PyAny>>,
) -> PyResult<(Vec<LogFormat>, ReasonMap, ClassNames)> {
    let (reasons, mut wrong_keys) = reasons_of(reasons)?;
    let (logs, classes) = (logs_of_program(logs, &reasons), class_names(classes));
    let mut problems: Vec<Problem> = logs.as_ref().err().map_or_else(Vec::new, |e| e.problems().to_vec());
    problems.append(&mut wrong_keys);
    problems.extend(classes.as_ref().err().into_iter().flat_map(|e| e.problems().iter().cloned()));
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems).into());
    }
    let (formats, reasons) = logs?;
    Ok((formats, ReasonMap::new(reasons)?, classes?))
}

/// Tells at once what to know before using any figure of a reading.
fn told(py: Python<'_>, reading: Reading) -> PyResult<PyReading> {
    let warning = reading.warning();
    if !warning.is_empty() {
        warn(py, "RelampWarning", &warning)?;
    }
    Ok(PyReading(reading))
}

/// The logs of `read_logs` with the names that messages give them.
fn named_logs(logs: &Bound<'_, PyAny>) -> PyResult<Vec<(String, Entries)>> {
    let one = logs.is_instance_of::<PyDict>();
    let list = if one { PyList::new(logs.py(), [logs])?.into_any() } else { logs.clone() };
    let expected = "a dict for each log, or a list of them";
    if list.is_instance_of::<PyString>() || list.try_iter().is_err() {
        return Err(refuse("python.type", "not a list of logs", "logs", "", &kind_of(logs), expected).into());
    }
    let mut named = Vec::new();
    for (i, log) in list.try_iter()?.enumerate() {
        let (log, name) = (log?, format!("log {}", i + 1));
        let Ok(dict) = log.cast::<PyDict>() else {
            return Err(refuse("python.type", "not a log", &name, "", &kind_of(&log), expected).into());
        };
        let table = entries(dict)?;
        let file = table.iter().find(|(key, _, _)| key == "file").and_then(|(_, _, node)| node.value.as_text());
        named.push((file.map_or_else(|| name.clone(), |file| format!("{name}, {file}")), table));
    }
    Ok(named)
}

/// Reads lamp logs as their owner declares them.
///
/// Rows that cannot be used are set aside with a finding; nothing is repaired silently. Many of them, or a log that
/// seems to hold something else than its `columns` say, give a `RelampWarning`, which `Reading.warning` keeps.
///
/// Parameters
/// ----------
/// logs : dict or list of dict
///     How each log is written, with the keys of a `[[log]]` table in a study file: `file`, `columns` (which column
///     holds what), `exported_on`, and any of `encoding`, `delimiter`, `decimal`, `thousands`, `dates`, `hours_unit`,
///     `blank_hours_at_fitting`, `records_from`.
/// reasons : dict of str to str
///     What the log's own reasons mean: from a text to an ending of `ENDINGS`. A text that is missing is unknown,
///     never a failure.
/// classes : list of str, or dict of str to list of str, optional
///     Names of the lamp classes with their other names; without it every class is taken as the log words it.
/// folder : path
///     Folder that the files lie in.
/// strict : bool
///     Refuse logs with any row that must be set aside.
/// outside_folder : bool
///     Allow files outside the folder.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// Reading
///
/// Raises
/// ------
/// InputError
///     With every mistake in `logs`, `reasons` and `classes` at once; each names the log, the key, the value and what
///     was expected, in the words that a study file gets.
/// RelampError
///     With every problem of the rows at once; each names file, row, line, column and value. Also where a log holds
///     plainly something else than its `columns` say.
///
/// Examples
/// --------
/// >>> import pathlib, tempfile, relamp
/// >>> text = "serial;class;site;screen;in;out;why;hours\nA1;2 kW;S;1;2025-01-01;2025-06-01;popped;900,5\n"
/// >>> log = {
/// ...     "file": "log.csv", "delimiter": ";", "decimal": ",", "dates": "iso", "exported_on": "2025-12-28",
/// ...     "blank_hours_at_fitting": "new",
/// ...     "columns": {
/// ...         "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
/// ...         "removed_on": "out", "reason": "why", "hours": "hours",
/// ...     },
/// ... }
/// >>> with tempfile.TemporaryDirectory() as folder:
/// ...     _ = pathlib.Path(folder, "log.csv").write_text(text)
/// ...     reading = relamp.read_logs(log, reasons={"popped": "burst"}, folder=folder)
/// ...     known = relamp.read_logs([log], reasons={"popped": "burst"}, classes=["2 kW"], folder=folder, strict=True)
/// >>> reading.lives().frame()["end_hours"].to_list(), known == reading
/// ([900.5], True)
#[pyfunction]
#[pyo3(signature = (logs, *, reasons, classes=None, folder=None, strict=false, outside_folder=false, progress=None))]
pub(super) fn read_logs(
    py: Python<'_>,
    logs: &Bound<'_, PyAny>,
    reasons: &Bound<'_, PyAny>,
    classes: Option<&Bound<'_, PyAny>>,
    folder: Option<PathBuf>,
    strict: bool,
    outside_folder: bool,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyReading> {
    let (formats, reasons, classes) = declared(&named_logs(logs)?, reasons, classes)?;
    let options = Options { strict, outside_folder };
    let folder = folder.unwrap_or_default();
    told(py, work(py, progress, |run| core_read(&formats, &folder, &reasons, &classes, options, run))?)
}

/// Reads lamp records from a data frame, an Arrow table or a dict of columns.
///
/// Many rows set aside, or columns that seem to hold something else than `columns` says, give a `RelampWarning`, which
/// `Reading.warning` keeps.
///
/// Parameters
/// ----------
/// table : table
///     Texts, numbers and dates as its columns hold them; text is read by the declared conventions.
/// columns : dict of str to str
///     Which column holds what, with the keys of `[log.columns]` in a study file.
/// exported_on : date or str
///     Day the export was made.
/// reasons, classes, strict, progress
///     As in `read_logs`.
/// name : str
///     Names the table in findings and errors.
/// **conventions
///     Any other key of a `[[log]]` table, such as `dates` or `blank_hours_at_fitting`.
///
/// Returns
/// -------
/// Reading
///
/// Raises
/// ------
/// InputError
///     With every mistake in `columns`, `exported_on`, `reasons`, `classes` and the conventions at once; each names
///     the table, the key, the value and what was expected, in the words that a study file gets.
/// RelampError
///     With every problem of the rows at once; each names table, row, column and value. Also where the table holds
///     plainly something else than `columns` says.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> table = {
/// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
/// ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-06-01", None], "why": ["popped", None],
/// ...     "hours": [900.0, 1100.0], "read": [None, "2025-12-20"],
/// ... }
/// >>> columns = {
/// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
/// ...     "removed_on": "out", "reason": "why", "hours": "hours", "read_on": "read",
/// ... }
/// >>> reading = relamp.read_table(
/// ...     table, columns=columns, exported_on="2025-12-28", reasons={"popped": "burst"},
/// ...     dates="iso", blank_hours_at_fitting="new",
/// ... )
/// >>> reading.tally().failures
/// 1
#[pyfunction]
#[pyo3(signature = (table, *, columns, exported_on, reasons, classes=None, name="table", strict=false, progress=None,
    **conventions))]
pub(super) fn read_table(
    py: Python<'_>,
    table: &Bound<'_, PyAny>,
    columns: &Bound<'_, PyAny>,
    exported_on: &Bound<'_, PyAny>,
    reasons: &Bound<'_, PyAny>,
    classes: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::name)] name: &str,
    strict: bool,
    progress: Option<&Bound<'_, PyAny>>,
    conventions: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyReading> {
    let log = PyDict::new(py);
    for (key, value) in conventions.into_iter().flatten() {
        log.set_item(key, value)?;
    }
    log.set_item("file", name)?;
    log.set_item("columns", columns)?;
    log.set_item("exported_on", exported_on)?;
    let (formats, reasons, classes) = declared(&[(name.to_owned(), entries(&log)?)], reasons, classes)?;
    let Some(format) = formats.into_iter().next() else { return Err(internal("no log was read").into()) };
    let table = Table::open(table, name)?;
    let mut held = Vec::new();
    for column in wanted(&format) {
        held.extend(table.values(&column)?);
    }
    if held.is_empty() {
        let place = Place::input(name).column(&format.columns.serial);
        let problem = Problem::new("python.column_missing", "the table holds none of the columns named").at(place);
        return Err(Error::new(Kind::Input, problem.got(table.names()?.join(", "))).into());
    }
    let options = Options { strict, outside_folder: false };
    let logs = [(&format, Source::Columns(&held))];
    told(py, work(py, progress, |run| read_sources(&logs, &reasons, &classes, options, run))?)
}

/// The columns a format names, each once.
fn wanted(format: &LogFormat) -> Vec<String> {
    let mut names: Vec<String> = format.columns.named().map(|(_, name)| name.to_owned()).collect();
    names.sort_unstable();
    names.dedup();
    names
}
