//! Stock counts: files and frames in, what lies where and a ledger out.

use std::collections::BTreeMap;
use std::path::PathBuf;

use arrow_array::RecordBatch;
use chrono::NaiveDate;
use pyo3::prelude::*;
use pyo3::types::{PyDate, PyDict};

use crate::Result;
use crate::base::saved::{self, Format};
use crate::records::Source;
use crate::stock::{CountRules, StockCount, read_stock_count};

use super::error::{refuse, warn};
use super::frames::{self, Frame};
use super::intake::{At, Table, arguments as args};
use super::plain::{called, conventions, date, held};
use super::records::class_names;
use super::records_tables::findings;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const COUNT: Format = Format::new("stock_count", 1);

const COLUMNS: [&str; 8] = ["lamp_class", "place", "on_hand", "on_order", "due_on", "serial", "age_hours", "ending"];

fn count_facts(c: &StockCount) -> Facts {
    let rows = c.ledger.counts;
    facts! {
        "counted_on": c.counted_on.to_string(), "rows": rows.rows, "used": rows.used, "set_aside": rows.set_aside,
        "findings": c.ledger.findings.len(), "on_hand": c.on_shelf.iter().map(|r| r.lamps).sum::<u64>(),
        "on_order": c.on_order.iter().map(|r| r.lamps).sum::<u64>(), "used_lamps": c.used_lamps.len(),
    }
}

fn count_table(c: &StockCount) -> Result<RecordBatch> {
    let places = c.places();
    let each = || places.iter();
    let orders = |class: &str, place: &str| {
        c.on_order.iter().filter(|r| r.lamp_class == class && r.place == place).collect::<Vec<_>>()
    };
    Frame::default()
        .texts("lamp_class", each().map(|p| p.0))
        .texts("place", each().map(|p| p.1))
        .counts("on_hand", each().map(|p| c.on_hand_or_none(p.0, Some(p.1))))
        .counts("on_order", each().map(|p| orders(p.0, p.1).iter().map(|r| r.lamps).fold(0, u64::saturating_add)))
        .dates("next_due_on", each().map(|p| orders(p.0, p.1).iter().filter_map(|r| r.due_on).min()))
        .counts(
            "used_lamps",
            each().map(|p| c.used_lamps.iter().filter(|r| r.lamp_class == p.0 && r.place == p.1).count() as u64),
        )
        .finish()
}

result_class! {
    /// What a stock count holds, and the ledger that accounts for every row; made by `stock_count`.
    ///
    /// Its table holds a class and place a row: lamps on hand and on order, the next due day, good used lamps.
    PyStockCount holds StockCount as "StockCount";
    save |c| saved::save(COUNT, c); load |t| saved::load(COUNT, t); table count_table; show count_facts;
    {
        /// Day of the count.
        #[getter]
        fn counted_on<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDate>> {
            date(py, self.0.counted_on)
        }

        /// Rows in, and what became of them: rows = used + set_aside.
        #[getter]
        fn counts<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let (dict, counts) = (PyDict::new(py), self.0.ledger.counts);
            for (name, n) in [("rows", counts.rows), ("used", counts.used), ("set_aside", counts.set_aside)] {
                dict.set_item(name, n)?;
            }
            Ok(dict)
        }

        /// What to know before using any figure: that many rows were set aside; empty where nothing is to be said.
        #[getter]
        fn warning(&self) -> String {
            self.0.warning()
        }

        /// Every finding, in order of rows.
        ///
        /// Returns
        /// -------
        /// Table
        ///     File, row, line, column, value, rule, what became of the row, serial, and a sentence.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.stock_count(
        /// ...     {"lamp_class": ["2 kW"], "place": ["Depot"], "on_order": [6]}, counted_on="2026-01-31"
        /// ... )
        /// >>> count.ledger().frame()["rule"].to_list()
        /// ['stock.lead_time_missing']
        fn ledger(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(findings(&self.0.ledger.findings)?))
        }

        /// Orders, one row each.
        ///
        /// Returns
        /// -------
        /// Table
        ///     Class, place, lamps, due day, whether the lead time gives it, and the row of the count.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.stock_count(
        /// ...     {"lamp_class": ["2 kW"], "place": ["Depot"], "on_order": [6]}, counted_on="2026-01-31",
        /// ...     lead_time_days={"2 kW": 21},
        /// ... )
        /// >>> count.orders().frame()["due_on"].to_list()
        /// [datetime.date(2026, 2, 21)]
        fn orders(&self) -> PyResult<frames::Table> {
            let each = || self.0.on_order.iter();
            let table = Frame::default()
                .texts("lamp_class", each().map(|r| &r.lamp_class))
                .texts("place", each().map(|r| &r.place))
                .counts("lamps", each().map(|r| r.lamps))
                .dates("due_on", each().map(|r| r.due_on))
                .texts("due_from", each().map(|r| if r.by_lead_time { "lead time" } else { "count" }))
                .counts("row", each().map(|r| r.row));
            Ok(frames::Table(table.finish()?))
        }

        /// Good used lamps, one row each: emergency spares that keep their age.
        ///
        /// Returns
        /// -------
        /// Table
        ///     Class, place, serial, hours, ending, and the row of the count.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.stock_count(
        /// ...     {"lamp_class": ["2 kW"], "place": ["Depot"], "serial": ["U1"], "age_hours": [900.0], "ending": ["moved"]},
        /// ...     counted_on="2026-01-31",
        /// ... )
        /// >>> count.used_lamps().frame()["age_hours"].to_list()
        /// [900.0]
        fn used_lamps(&self) -> PyResult<frames::Table> {
            let each = || self.0.used_lamps.iter();
            let table = Frame::default()
                .texts("lamp_class", each().map(|r| &r.lamp_class))
                .texts("place", each().map(|r| &r.place))
                .texts("serial", each().map(|r| &r.serial))
                .numbers("age_hours", each().map(|r| r.age_hours))
                .texts("ending", each().map(|r| r.ending.as_str()))
                .counts("row", each().map(|r| r.row));
            Ok(frames::Table(table.finish()?))
        }

        /// New lamps of a class on hand; 0 where class and place stand in the count, each elsewhere.
        ///
        /// Parameters
        /// ----------
        /// lamp_class : str
        ///     The class.
        /// place : str, optional
        ///     A site or depot; without it all of them.
        ///
        /// Returns
        /// -------
        /// int
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is no text, and for a class or a place that no row in use of the count names.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.stock_count(
        /// ...     {"lamp_class": ["2 kW", "2 kW"], "place": ["Depot", "Site 7"], "on_hand": [4, 1]}, counted_on="2026-01-31"
        /// ... )
        /// >>> count.on_hand("2 kW"), count.on_hand("2 kW", place="Site 7")
        /// (5, 1)
        #[pyo3(signature = (lamp_class, /, *, place=None))]
        fn on_hand(
            &self,
            #[pyo3(from_py_with = args::class_asked)] lamp_class: &str,
            #[pyo3(from_py_with = args::place)] place: Option<String>,
        ) -> PyResult<u64> {
            Ok(self.0.lamps_on_hand(lamp_class, place.as_deref())?)
        }

        /// Lamps of a class on order that are due by a day; an order without a due day does not count.
        ///
        /// Parameters
        /// ----------
        /// lamp_class : str
        ///     The class.
        /// due_by : date or str
        ///     The day.
        /// place : str, optional
        ///     A site or depot; without it all of them.
        ///
        /// Returns
        /// -------
        /// int
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is no text or no day, and for a class or a place that no row in use of the count names.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.stock_count(
        /// ...     {"lamp_class": ["2 kW"], "place": ["Depot"], "on_order": [6], "due_on": ["2026-02-20"]},
        /// ...     counted_on="2026-01-31",
        /// ... )
        /// >>> count.on_order("2 kW", due_by="2026-02-19"), count.on_order("2 kW", due_by="2026-02-20", place="Depot")
        /// (0, 6)
        #[pyo3(signature = (lamp_class, /, *, due_by, place=None))]
        fn on_order(
            &self,
            #[pyo3(from_py_with = args::class_asked)] lamp_class: &str,
            #[pyo3(from_py_with = args::due_by)] due_by: NaiveDate,
            #[pyo3(from_py_with = args::place)] place: Option<String>,
        ) -> PyResult<u64> {
            Ok(self.0.lamps_due_by(lamp_class, place.as_deref(), due_by)?)
        }

        /// The stock list by class and place as text with commas between cells, safe to open in a spreadsheet.
        ///
        /// Returns
        /// -------
        /// str
        ///     A header and a line for each class and place.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.stock_count(
        /// ...     {"lamp_class": ["2 kW"], "place": ["@Depot"], "on_hand": [4]}, counted_on="2026-01-31"
        /// ... )
        /// >>> count.to_csv().splitlines()[1]
        /// "2 kW,'@Depot,4,0,,0,0"
        fn to_csv(&self) -> String {
            self.0.to_csv()
        }
    }
}

/// Days or hours by lamp class.
fn by_class(given: Option<&Bound<'_, PyDict>>, name: &str) -> PyResult<BTreeMap<String, f64>> {
    let mut all = BTreeMap::new();
    for (class, number) in given.into_iter().flatten() {
        let class = class.str()?.to_string_lossy().into_owned();
        let number = args::one_number(&number, At { input: name, column: &class })?;
        all.insert(class, number);
    }
    Ok(all)
}

/// Reads a stock count from a file or a table: lamps on hand and on order by class and place, and good used lamps.
///
/// A row counts new lamps in a site or depot, lamps on their way there, or both; an order may have a row of its
/// own. A row with a serial is one lamp: with hours a used one, an emergency spare if it was planned, moved or
/// converted and has hours left; with 0 h a new one. What cannot be used is set aside, what is doubtful is told;
/// many rows set aside give a `RelampWarning`.
///
/// Parameters
/// ----------
/// counts : path or table
///     A text file, or a data frame, Arrow table or dict, with the columns `lamp_class` and `place`, and any of
///     `on_hand`, `on_order`, `due_on`, `serial`, `age_hours` and `ending`.
/// counted_on : date or str
///     Day of the count.
/// columns : dict of str to str, optional
///     The names of the columns in the count, where they differ from ours.
/// classes : list of str, or dict of str to list of str, optional
///     Names of the lamp classes with their other names; without it every class is taken as the count words it.
/// places : list of str, optional
///     Sites and depots; without it every place is taken.
/// lead_time_days : dict of str to float, optional
///     Days from an order to its delivery by class, whole numbers of 0 or more: orders without a due day are due so
///     many days after the count.
/// limits : dict of str to float, optional
///     Hours by class, above 0: a used lamp at or past them is no spare.
/// **conventions : str
///     How a file is written: any of `delimiter`, `decimal`, `thousands`, `dates`, `encoding`.
///
/// Returns
/// -------
/// StockCount
///
/// Raises
/// ------
/// InputError
///     For a column that is missing, named twice or misspelt, a file that cannot be read, a convention that is
///     none, and numbers or days that are none.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> count = relamp.stock_count(
/// ...     {"type": ["2 kW", "4 kW"], "place": ["Depot", "Depot"], "on_hand": [4, 2]}, columns={"lamp_class": "type"},
/// ...     counted_on="2026-01-31", places=["Depot"],
/// ... )
/// >>> count.frame().select("lamp_class", "on_hand").rows()
/// [('2 kW', 4), ('4 kW', 2)]
#[pyfunction]
#[pyo3(signature = (counts, *, counted_on, columns=None, classes=None, places=None, lead_time_days=None, limits=None,
    **conventions))]
#[allow(clippy::too_many_arguments)] // What a count may be judged by, each by name.
pub(super) fn stock_count(
    py: Python<'_>,
    counts: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::counted_on)] counted_on: NaiveDate,
    columns: Option<&Bound<'_, PyDict>>,
    classes: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::places)] places: Option<Vec<String>>,
    lead_time_days: Option<&Bound<'_, PyDict>>,
    limits: Option<&Bound<'_, PyDict>>,
    conventions: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyStockCount> {
    let mut lead = BTreeMap::new();
    for (class, days) in by_class(lead_time_days, "lead_time_days")? {
        if !(0.0..=36_525.0).contains(&days) || days != days.floor() {
            let (what, expected) = ("not a number of days", "a whole number of 0 or more");
            return Err(refuse("python.days", what, "lead_time_days", &class, &days.to_string(), expected).into());
        }
        lead.insert(class, days as u32);
    }
    let rules = CountRules {
        classes: class_names(classes)?,
        places: places.unwrap_or_default(),
        lead_time_days: lead,
        limit_hours: by_class(limits, "limits")?,
        ..CountRules::new(counted_on)
    };
    let (called, format) = (called(columns)?, self::conventions(conventions)?);
    let count = if let Ok(path) = counts.extract::<PathBuf>() {
        let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
        work(py, None, |_| read_stock_count(&name, Source::File(path.clone()), &format, &called, &rules))?
    } else {
        let held = held(&Table::open(counts, "counts")?, &COLUMNS, &called)?;
        work(py, None, |_| read_stock_count("counts", Source::Columns(&held), &format, &called, &rules))?
    };
    let warning = count.warning();
    if !warning.is_empty() {
        warn(py, "RelampWarning", &warning)?;
    }
    Ok(PyStockCount(count))
}
