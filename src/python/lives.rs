//! Censored lives in, tallies out.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyTuple};

use crate::Result;
use crate::base::error::{Error, Kind, Place, Problem};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::lives::{CovariateKind, CovariateValue, Group, Rows, Tally};
use crate::records::{Column, Ending};

use super::arrays::array;
use super::error::{refuse, warn};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, Numbers, Table, arguments as args, kind_of, labels, numbers};
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const COLUMNS: [&str; 8] = ["low", "high", "entry", "upper", "ending", "stratum", "cluster", "count"];

result_class! {
    /// Distinct rows of censored lives with whole counts, in canonical order; made by `lives` or `Reading.tally`.
    ///
    /// A failure at a known age has `low == high`; a right-censored row has an infinite `high`; a failure known to an
    /// interval lies in (low, high]. Ages are hours.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> tally = relamp.lives([900.0, 900.0, 1200.0], [900.0, 900.0, None])
    /// >>> tally.rows, tally.lamps, tally.failures
    /// (2, 3, 2)
    PyTally holds Tally as "Tally";
    save Tally::to_json; load Tally::from_json; table table; show facts;
    {
        /// Number of distinct rows.
        #[getter]
        fn rows(&self) -> usize {
            self.0.rows()
        }

        /// Number of lives, counts added up; lamps never watched, which a fit leaves out, count too.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.lamps()
        }

        /// Number of failures, at a known age or known to an interval.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.failures()
        }

        /// Lamp hours under observation.
        #[getter]
        fn exposure_hours(&self) -> f64 {
            self.0.exposure_hours()
        }

        /// The largest age at which a lamp was under observation, hours; None without lamps.
        #[getter]
        fn oldest_at_risk(&self) -> Option<f64> {
            self.0.oldest_at_risk()
        }

        /// The largest age by which a failure had happened, hours; None without failures.
        #[getter]
        fn oldest_failure(&self) -> Option<f64> {
            self.0.oldest_failure()
        }

        /// Ages at failure, last ages seen working, or left ends of intervals, hours, (rows,).
        #[getter]
        fn low<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.low())
        }

        /// The same age, infinity, or the right end of the interval, hours, (rows,).
        #[getter]
        fn high<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.high())
        }

        /// How many lives each row stands for, (rows,).
        #[getter]
        fn count<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.count())
        }

        /// Names of the strata (lamp classes), in order.
        #[getter]
        fn strata(&self) -> Fixed<&str> {
            let mut names: Vec<&str> = self.0.groups().iter().map(|g| g.stratum.as_str()).collect();
            names.dedup();
            Fixed(names)
        }

        /// Names of the covariates in order, each with "number" or "category".
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([412.0, 655.0], covariates={"supplier": ["north", "south"], "current": [80.0, 75.0]})
        /// >>> tally.covariates
        /// {'current': 'number', 'supplier': 'category'}
        #[getter]
        fn covariates<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for c in self.0.covariates() {
                let kind = if c.kind == CovariateKind::Number { "number" } else { "category" };
                dict.set_item(&c.name, kind)?;
            }
            Ok(dict)
        }

        /// The rows of one stratum (lamp class).
        ///
        /// Parameters
        /// ----------
        /// name : str
        ///     One of `strata`.
        ///
        /// Returns
        /// -------
        /// Tally
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a name that is none of them.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([100.0, 200.0, 300.0], ending=["burst", "dim", "dim"], stratum=["A", "A", "B"])
        /// >>> tally.stratum("A").lamps
        /// 2
        fn stratum(&self, py: Python<'_>, #[pyo3(from_py_with = args::name)] name: &str) -> PyResult<Self> {
            Ok(Self(work(py, None, |_| self.0.stratum(name))?))
        }

        /// The view of some endings: rows that failed by another become right-censored.
        ///
        /// Parameters
        /// ----------
        /// endings : list of str
        ///     Words of `ENDINGS` that count as failure.
        ///
        /// Returns
        /// -------
        /// Tally
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a word that is no ending.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([100.0, 200.0, 300.0], ending=["burst", "dim", "dim"], stratum=["A", "A", "B"])
        /// >>> tally.for_endings(["dim"]).failures
        /// 2
        fn for_endings(&self, py: Python<'_>, #[pyo3(from_py_with = args::endings_given)] endings: Vec<String>) -> PyResult<Self> {
            let endings = endings.iter().map(|e| ending("endings", e)).collect::<Result<Vec<_>>>()?;
            Ok(Self(work(py, None, |_| self.0.for_endings(&endings))?))
        }

        /// The tally with every exact age read as a meter reading: the lamp failed in the step before it.
        ///
        /// Parameters
        /// ----------
        /// step_hours : float
        ///     Step of the meter, above 0: an exact age t becomes (t - `step_hours`, t], but never from before its entry.
        ///
        /// Returns
        /// -------
        /// Tally
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a step that is not above 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([450.0, 600.0], [450.0, None]).read_exact(1.0)
        /// >>> tally.low.tolist(), tally.high.tolist()
        /// ([449.0, 600.0], [450.0, inf])
        fn read_exact(&self, py: Python<'_>, step_hours: &Bound<'_, PyAny>) -> PyResult<Self> {
            let step = args::one_number(step_hours, At { input: "step_hours", column: "" })?;
            Ok(Self(work(py, None, |_| self.0.read_exact(step))?))
        }

        /// Adds the lamps that a file of claims does not show: of those shipped, the ones that did not claim.
        ///
        /// A row of a file of claims has an `upper`: the age past which its lamp could not have claimed yet. Of the lamps
        /// shipped with each `upper` those without a claim are right-censored there, and the windows are dropped.
        ///
        /// Parameters
        /// ----------
        /// upper : array-like
        ///     Ends of the windows, hours, each once; every `upper` of the tally is among them.
        /// count : array-like of whole numbers
        ///     Lamps shipped with each.
        ///
        /// Returns
        /// -------
        /// Tally
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For columns of different length, a window that is not above 0, twice there or missing, more claims than
        ///     lamps, and claims with late entry, each by place.
        /// RefusedError
        ///     For a tally of more than one group: take a stratum at a time.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> claims = relamp.lives([210.0, 640.0, 300.0], upper=[1000.0, 1000.0, 500.0])
        /// >>> whole = claims.with_shipped(upper=[1000.0, 500.0], count=[40, 25])
        /// >>> whole.lamps, whole.failures, "upper" in whole.frame().columns
        /// (65, 3, False)
        #[pyo3(signature = (*, upper, count))]
        fn with_shipped(&self, py: Python<'_>, upper: &Bound<'_, PyAny>, count: &Bound<'_, PyAny>) -> PyResult<Self> {
            let at = |column| At { input: "with_shipped", column };
            let upper = numbers(upper, at("upper"))?.present()?;
            let count = Rows::whole_counts(&numbers(count, at("count"))?.present()?)?;
            Ok(Self(work(py, None, |_| self.0.with_shipped(&upper, &count))?))
        }

        /// This tally joined with others by adding whole counts: the same to the bit whatever the order.
        ///
        /// Parameters
        /// ----------
        /// *parts : Tally
        ///     Any number of others.
        ///
        /// Returns
        /// -------
        /// Tally
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a part that is not a tally, and for tallies that differ in the names or kinds of their covariates.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> one, other = relamp.lives([100.0], count=[2]), relamp.lives([100.0, 200.0])
        /// >>> whole = one.merge(other)
        /// >>> whole.rows, whole.lamps, whole == other.merge(one)
        /// (2, 4, True)
        #[pyo3(signature = (*parts))]
        fn merge(&self, py: Python<'_>, parts: &Bound<'_, PyTuple>) -> PyResult<Self> {
            let parts = parts
                .iter()
                .map(|p| match p.cast_into::<PyTally>() {
                    Ok(tally) => Ok(tally),
                    Err(e) => {
                        let got = kind_of(&e.into_inner());
                        Err(refuse("python.not_a_tally", "not a tally", "parts", "", &got, "tallies").into())
                    }
                })
                .collect::<PyResult<Vec<_>>>()?;
            let parts: Vec<&Tally> = std::iter::once(&self.0).chain(parts.iter().map(|p| &p.get().0)).collect();
            Ok(Self(work(py, None, |_| Tally::merge(&parts))?))
        }
    }
}

fn facts(t: &Tally) -> Facts {
    let mut facts: Facts = facts! {
        "rows": t.rows(), "lamps": t.lamps(), "failures": t.failures(), "exposure_hours": t.exposure_hours(),
        "oldest_at_risk": t.oldest_at_risk(), "oldest_failure": t.oldest_failure(), "groups": t.groups().len(),
    };
    if !t.covariates().is_empty() {
        facts.extend(facts! { "covariates": t.covariates().iter().map(|c| c.name.as_str()).collect::<Vec<_>>() });
    }
    facts
}

fn table(t: &Tally) -> Result<RecordBatch> {
    let finite = |v: &f64| v.is_finite().then_some(*v);
    let group = |g: &u32| t.groups().get(*g as usize).cloned().unwrap_or_default();
    let ending = |code: &u16| Ending::from_code(*code).unwrap_or(Ending::Unknown).as_str();
    let mut frame =
        Frame::default().numbers("low", t.low().iter().copied()).numbers_or_null("high", t.high().iter().map(finite));
    if let Some(entry) = t.entry() {
        frame = frame.numbers("entry", entry.iter().copied());
    }
    if let Some(upper) = t.upper() {
        frame = frame.numbers_or_null("upper", upper.iter().map(finite));
    }
    frame = frame
        .texts("ending", t.ending().iter().map(ending))
        .texts("stratum", t.group().iter().map(|g| group(g).stratum))
        .texts("cluster", t.group().iter().map(|g| group(g).cluster));
    for (k, covariate) in t.covariates().iter().enumerate() {
        let values = t.group().iter().map(|g| t.groups().get(*g as usize).and_then(|g| g.covariates.get(k)));
        frame = match covariate.kind {
            CovariateKind::Number => frame.numbers(
                &covariate.name,
                values.map(|v| if let Some(CovariateValue::Number(x)) = v { x.get() } else { f64::NAN }),
            ),
            CovariateKind::Category => {
                frame.texts(&covariate.name, values.map(|v| v.map(ToString::to_string).unwrap_or_default()))
            }
        };
    }
    frame.counts("count", t.count().iter().copied()).finish()
}

/// An ending by its word.
pub(super) fn ending(input: &str, word: &str) -> Result<Ending> {
    Ending::parse(word).ok_or_else(|| {
        let known: Vec<&str> = Ending::ALL.iter().map(|e| e.as_str()).collect();
        refuse("python.ending", "not an ending", input, "", word, &format!("one of: {}", known.join(", ")))
    })
}

/// Columns by name, from arguments or from a table.
struct Given {
    numbers: BTreeMap<&'static str, Numbers>,
    labels: BTreeMap<&'static str, Vec<Option<String>>>,
    covariates: Vec<Column>,
}

const LABELS: [&str; 3] = ["ending", "stratum", "cluster"];

/// The columns of one table by name, or all of it.
fn covariate_columns(table: &Table<'_>, names: &[String]) -> PyResult<Vec<Column>> {
    let read = names.iter().map(|name| {
        if let Some(column) = table.covariate(name)? {
            return Ok(column);
        }
        let got = table.names()?.join(", ");
        Err(refuse("python.column_missing", "no such column", "covariates", name, &got, "a column of the table").into())
    });
    read.collect()
}

fn from_table(obj: &Bound<'_, PyAny>, covariates: &[String]) -> PyResult<Given> {
    let table = Table::open(obj, "lives")?;
    let names = table.names()?;
    let expected = format!(
        "low and high, any of: {}, and those named as covariates",
        COLUMNS.get(2..).unwrap_or_default().join(", ")
    );
    // A misspelt column would silently turn censored lives into failures, or drop their counts.
    if let Some(other) = names.iter().find(|n| !COLUMNS.contains(&n.as_str()) && !covariates.contains(n)) {
        return Err(refuse("python.column_unknown", "unknown column", "lives", other, other, &expected).into());
    }
    if let Some(missing) = ["low", "high"].into_iter().find(|n| !names.iter().any(|m| m == n)) {
        let got = names.join(", ");
        return Err(refuse("python.column_missing", "no such column", "lives", missing, &got, &expected).into());
    }
    let covariates = covariate_columns(&table, covariates)?;
    let mut given = Given { numbers: BTreeMap::new(), labels: BTreeMap::new(), covariates };
    for name in COLUMNS {
        if LABELS.contains(&name) {
            given.labels.extend(table.labels(name)?.map(|c| (name, c)));
        } else {
            given.numbers.extend(table.numbers(name)?.map(|c| (name, c)));
        }
    }
    Ok(given)
}

/// The rows, and what is wrong with their counts: the ages are judged all the same, so that every bad row is told at once.
fn rows(py: Python<'_>, mut given: Given) -> PyResult<(Rows, Vec<Problem>)> {
    let mut take = |name: &str| given.numbers.remove(name);
    let low = take("low").map(Numbers::present).transpose()?.unwrap_or_default();
    let high = take("high").map_or_else(|| low.clone(), |c| c.or(f64::INFINITY));
    let entry = take("entry").map(|c| c.or(0.0));
    let upper = take("upper").map(|c| c.or(f64::INFINITY));
    let (count, mut wrong) = match take("count").map(Numbers::present).transpose()? {
        None => (None, Vec::new()),
        Some(given) => match Rows::whole_counts(&given) {
            Ok(count) => (Some(count), Vec::new()),
            Err(error) => (Some(vec![1; given.len()]), error.problems().to_vec()),
        },
    };
    let ending = given.labels.remove("ending").map(|words| endings(&words, &high)).transpose()?;
    let (strata, clusters) = (given.labels.remove("stratum"), given.labels.remove("cluster"));
    let (group, groups) = match (&strata, &clusters) {
        (None, None) => (None, Vec::new()),
        _ => work(py, None, |run| grouped(strata.as_deref(), clusters.as_deref(), run))?,
    };
    let rows = Rows { low, high, entry, upper, ending, group, groups, count, covariates: Vec::new() };
    if given.covariates.is_empty() {
        return Ok((rows, wrong));
    }
    // A number that differs in every row makes a group of each, which takes its time.
    let with = work(py, None, |run| match rows.clone().with_covariates_until(&given.covariates, run) {
        Err(error) if error.kind() != Kind::Stopped => Ok(Err(error)),
        answer => answer.map(Ok),
    })?;
    match with {
        Ok(rows) => Ok((rows, wrong)),
        Err(error) => {
            wrong.extend_from_slice(error.problems());
            Ok((rows, wrong))
        }
    }
}

/// Endings by row; a missing one is unknown for a failure and running for a right-censored life, as without the column.
pub(super) fn endings(words: &[Option<String>], high: &[f64]) -> Result<Vec<Ending>> {
    let mut problems = Vec::new();
    let mut out = Vec::with_capacity(words.len());
    for (i, word) in words.iter().enumerate() {
        let censored = high.get(i).is_some_and(|h| *h == f64::INFINITY);
        match word.as_deref().map(|w| (w, Ending::parse(w))) {
            None => out.push(if censored { Ending::Running } else { Ending::Unknown }),
            Some((_, Some(ending))) => out.push(ending),
            Some((word, None)) => {
                let place = Place::input("lives").column("ending").row(i as u64 + 1);
                let known: Vec<&str> = Ending::ALL.iter().map(|e| e.as_str()).collect();
                let expected = format!("one of: {}", known.join(", "));
                problems.push(Problem::new("python.ending", "not an ending").at(place).got(word).expected(expected));
            }
        }
    }
    if problems.is_empty() { Ok(out) } else { Err(Error::many(Kind::Input, problems)) }
}

/// Rows after which it is asked whether to stop.
const LOOK_ROWS: usize = 1 << 14;

fn grouped(
    strata: Option<&[Option<String>]>,
    clusters: Option<&[Option<String>]>,
    run: &Run,
) -> Result<(Option<Vec<u32>>, Vec<Group>)> {
    let rows = strata.or(clusters).map_or(0, <[_]>::len);
    if strata.is_some_and(|s| s.len() != rows) || clusters.is_some_and(|c| c.len() != rows) {
        let got = format!("{} and {}", clusters.map_or(0, <[_]>::len), counted(rows as u64, "row"));
        return Err(refuse("python.length", "columns of different length", "lives", "cluster", &got, "one length"));
    }
    let word = |column: Option<&[Option<String>]>, i: usize| -> String {
        column.and_then(|c| c.get(i)).and_then(Clone::clone).unwrap_or_default()
    };
    let mut places: BTreeMap<Group, u32> = BTreeMap::new();
    let keys: Vec<Group> =
        (0..rows).map(|i| Group { stratum: word(strata, i), cluster: word(clusters, i), ..Group::default() }).collect();
    for (i, key) in keys.iter().enumerate() {
        if i % LOOK_ROWS == 0 {
            run.check()?;
        }
        if !places.contains_key(key) {
            places.insert(key.clone(), 0);
        }
    }
    for (next, place) in places.values_mut().enumerate() {
        *place = u32::try_from(next).map_err(|_| {
            refuse("python.groups", "too many groups", "lives", "cluster", &next.to_string(), "below 2^32 groups")
        })?;
    }
    let group = keys.iter().map(|k| places.get(k).copied().unwrap_or(0)).collect();
    Ok((Some(group), places.into_keys().collect()))
}

/// Builds a tally of censored lives from columns, or from one table with columns of these names.
///
/// Parameters
/// ----------
/// low : array-like or table
///     Ages in hours: at failure, last seen working, or the left end of an interval. A data frame, Arrow table or dict
///     holds the columns `low` and `high` and any of the others by name.
/// high : array-like, optional
///     The same age for a failure at a known age, missing (None, null, NA) or infinite for a right-censored life, the
///     right end for a failure known to an interval. NaN is refused. Left out: every life failed at `low`.
/// entry : array-like, optional
///     Age at which a life came under observation; 0 where missing.
/// upper : array-like, optional
///     Age past which a failure would not have been seen; infinite where missing.
/// ending : array-like of str, optional
///     Why each life ended, such as "burst"; see `ENDINGS`.
/// stratum, cluster : array-like of str, optional
///     Lamp class, and what shares a bootstrap weight, usually the site.
/// count : array-like of whole numbers, optional
///     How many lives each row stands for; 1 without it.
/// covariates : dict or table of columns, or list of str, optional
///     What lamps differ in beside their class: columns by name, numbers or texts, none with a missing value; beside a
///     table the names of its columns. Whole numbers that only name something must be texts to be categories.
///
/// Returns
/// -------
/// Tally
///
/// Raises
/// ------
/// InputError
///     Every row that breaks a rule, with row, column, value and what was expected.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.lives([412.0, 655.0, 1200.0], [412.0, 655.0, None]).failures
/// 2
/// >>> relamp.lives([1200.0, 412.0], [None, 412.0], count=[40, 1]).lamps
/// 41
/// >>> relamp.lives([412.0, 655.0, 655.0], covariates={"supplier": ["north", "south", "south"]}).rows
/// 2
#[pyfunction]
#[pyo3(signature = (low, high=None, *, entry=None, upper=None, ending=None, stratum=None, cluster=None, count=None, covariates=None))]
pub(super) fn lives(
    low: &Bound<'_, PyAny>,
    high: Option<&Bound<'_, PyAny>>,
    entry: Option<&Bound<'_, PyAny>>,
    upper: Option<&Bound<'_, PyAny>>,
    ending: Option<&Bound<'_, PyAny>>,
    stratum: Option<&Bound<'_, PyAny>>,
    cluster: Option<&Bound<'_, PyAny>>,
    count: Option<&Bound<'_, PyAny>>,
    covariates: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyTally> {
    let py = low.py();
    let columns = [Some(low), high, entry, upper, ending, stratum, cluster, count];
    let given = if Table::is_table(low) {
        if let Some((name, _)) = COLUMNS.iter().zip(columns).skip(1).find(|(_, c)| c.is_some()) {
            let what = "given beside a table, which holds its own columns";
            return Err(refuse("python.column_twice", what, "lives", name, name, "only the table").into());
        }
        from_table(low, &covariates.map(args::covariate_names).transpose()?.unwrap_or_default())?
    } else {
        let covariates = match covariates {
            None => Vec::new(),
            Some(obj) => {
                let table = Table::open(obj, "covariates")?;
                covariate_columns(&table, &table.names()?)?
            }
        };
        let mut given = Given { numbers: BTreeMap::new(), labels: BTreeMap::new(), covariates };
        for (column, obj) in COLUMNS.into_iter().zip(columns).filter_map(|(n, c)| Some((n, c?))) {
            let at = At { input: "lives", column };
            if LABELS.contains(&column) {
                given.labels.insert(column, labels(obj, at)?);
            } else {
                given.numbers.insert(column, numbers(obj, at)?);
            }
        }
        given
    };
    let (rows, wrong) = rows(py, given)?;
    let (tally, notes) = work(py, None, |run| match (Tally::from_rows_until(&rows, run), wrong.is_empty()) {
        (read, true) => read,
        (Err(stopped), false) if stopped.kind() == Kind::Stopped => Err(stopped),
        (Ok(_), false) => Err(Error::many(Kind::Input, wrong)),
        (Err(error), false) => {
            // Both kinds by row, as a reader looks them up.
            let mut all = [error.problems(), &wrong].concat();
            all.sort_by_key(|p| p.place.row);
            Err(Error::many(Kind::Input, all))
        }
    })?;
    tell(py, &notes)?;
    Ok(PyTally(tally))
}

/// One warning for all notes of a reading of rows.
fn tell(py: Python<'_>, notes: &[Problem]) -> PyResult<()> {
    let Some(first) = notes.first() else { return Ok(()) };
    let more =
        if notes.len() > 1 { format!("; and {}", counted(notes.len() as u64 - 1, "more row")) } else { String::new() };
    warn(py, "RelampWarning", &format!("{first}{more}"))
}
