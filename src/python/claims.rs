//! Warranty claims: what is due for lamps that ended, and which claims to file.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use chrono::NaiveDate;
use pyo3::prelude::*;
use pyo3::types::{PyDate, PyDict};

use crate::Result;
use crate::base::saved::{self, Format};
use crate::records::{Source, TableFormat};
use crate::warranty::{
    Claim, ClaimList, ClaimTerms, Cover, CoverStart, EndedLamp, NothingDue, Standing, claim_list as core_list,
    ended_lamps, read_lamps, read_papers, with_papers,
};

use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{Table, arguments as args, kind_of};
use super::money::PyWarranty;
use super::plain::{called, date, held};
use super::records::PyReading;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const COVER: Format = Format::new("cover", 1);
const TERMS: Format = Format::new("claim_terms", 1);
const LIST: Format = Format::new("claim_list", 1);

const LAMPS: [&str; 13] = [
    "serial",
    "lamp_class",
    "site",
    "screen",
    "ending",
    "age_hours",
    "strikes",
    "fitted_on",
    "delivered_on",
    "ended_on",
    "evidence",
    "filed_on",
    "paid",
];
const PAPERS: [&str; 5] = ["serial", "delivered_on", "evidence", "filed_on", "paid"];

fn cover_facts(c: &Cover) -> Facts {
    let money = c.money();
    facts! {
        "price": money.price(), "hours": money.hours(), "months": c.calendar().map(|x| x.0),
        "months_from": c.calendar().map(|x| x.1.as_str()), "most_strikes": c.most_strikes(),
        "endings": money.endings().iter().map(|e| e.as_str()).collect::<Vec<_>>(),
    }
}

fn cover_table(c: &Cover) -> Result<RecordBatch> {
    Frame::default()
        .numbers("price", [c.money().price()])
        .numbers("hours", [c.money().end_hours()])
        .counts_or_null("months", [c.calendar().map(|x| u64::from(x.0))])
        .texts("months_from", [c.calendar().map_or("", |x| x.1.as_str())])
        .counts_or_null("most_strikes", [c.most_strikes()])
        .finish()
}

result_class! {
    /// A warranty with every limit: hours, calendar and strikes; made by `cover`.
    PyCover holds Cover as "Cover";
    save |c| saved::save(COVER, c); load |t| saved::load(COVER, t); table cover_table; show cover_facts;
    {
        /// Money back by age.
        #[getter]
        fn warranty(&self) -> PyWarranty {
            PyWarranty(self.0.money().clone())
        }

        /// Months after which nothing comes back; None without a limit by the calendar.
        #[getter]
        fn months(&self) -> Option<u32> {
            self.0.calendar().map(|c| c.0)
        }

        /// The day from which the months run: "fitting" or "delivery"; None without them.
        #[getter]
        fn months_from(&self) -> Option<&'static str> {
            self.0.calendar().map(|c| c.1.as_str())
        }

        /// Most strikes that are covered; None without a limit by strikes.
        #[getter]
        fn most_strikes(&self) -> Option<u64> {
            self.0.most_strikes()
        }
    }
}

/// A warranty with the limits that its paper has beside the hours.
///
/// A lamp that ends at the last hour or on the last day counts as late: what such a claim brings is not counted on.
///
/// Parameters
/// ----------
/// warranty : Warranty
///     Money back by age, and the endings that are covered.
/// months : int, optional
///     Months after which nothing comes back, at least 1 and at most 600.
/// months_from : {"fitting", "delivery"}
///     The day from which the months run; from delivery time on the shelf counts.
/// most_strikes : int, optional
///     Strikes that are covered, at least 1.
///
/// Returns
/// -------
/// Cover
///
/// Raises
/// ------
/// InputError
///     For months or strikes that are no whole numbers or out of range, and another start.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> warranty = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
/// >>> relamp.cover(warranty, months=24, months_from="delivery").months
/// 24
/// >>> relamp.cover(warranty).months is None
/// True
#[pyfunction]
#[pyo3(signature = (warranty, /, *, months=None, months_from="fitting", most_strikes=None))]
pub(super) fn cover(
    #[pyo3(from_py_with = args::made::<PyWarranty>)] warranty: &Bound<'_, PyWarranty>,
    #[pyo3(from_py_with = args::cover_months)] months: Option<u32>,
    #[pyo3(from_py_with = args::months_from)] months_from: &str,
    #[pyo3(from_py_with = args::most_strikes)] most_strikes: Option<u64>,
) -> PyResult<PyCover> {
    let mut cover = Cover::new(warranty.get().0.clone());
    let Some(start) = CoverStart::ALL.into_iter().find(|s| s.as_str() == months_from) else {
        let expected = "fitting or delivery";
        return Err(refuse(
            "python.months_from",
            "not a start of a warranty",
            "months_from",
            "",
            months_from,
            expected,
        )
        .into());
    };
    if let Some(months) = months {
        cover = cover.within_months(months, start)?;
    }
    if let Some(most) = most_strikes {
        cover = cover.within_strikes(most)?;
    }
    Ok(PyCover(cover))
}

fn terms_facts(t: &ClaimTerms) -> Facts {
    facts! {
        "needed": t.needed, "chance": t.chance, "handling_cost": t.handling_cost, "days_to_file": t.days_to_file,
        "price": t.cover.money().price(), "hours": t.cover.money().hours(),
    }
}

fn terms_table(t: &ClaimTerms) -> Result<RecordBatch> {
    Frame::default()
        .texts("needed", [t.needed.join("; ")])
        .numbers("chance", [t.chance])
        .numbers("handling_cost", [t.handling_cost])
        .counts_or_null("days_to_file", [t.days_to_file.map(u64::from)])
        .finish()
}

result_class! {
    /// How claims for the lamps of one class go; made by `claim_terms`.
    PyClaimTerms holds ClaimTerms as "ClaimTerms";
    save |t| saved::save(TERMS, t); load |t| saved::load(TERMS, t); table terms_table; show terms_facts;
    {
        /// The warranty.
        #[getter]
        fn cover(&self) -> PyCover {
            PyCover(self.0.cover.clone())
        }

        /// What a claim needs.
        #[getter]
        fn needed(&self) -> Fixed<String> {
            Fixed(self.0.needed.clone())
        }

        /// Chance that a complete claim is accepted.
        #[getter]
        fn chance(&self) -> f64 {
            self.0.chance
        }

        /// Cost of one claim.
        #[getter]
        fn handling_cost(&self) -> f64 {
            self.0.handling_cost
        }

        /// Days after the ending within which to file; None without a deadline.
        #[getter]
        fn days_to_file(&self) -> Option<u32> {
            self.0.days_to_file
        }
    }
}

/// How claims for the lamps of one class go.
///
/// Parameters
/// ----------
/// cover : Cover
///     The warranty.
/// needed : list of str
///     What a claim needs. "serial", "age_hours", "strikes", "fitted_on", "delivered_on" and "ended_on" are looked
///     up among the figures of a lamp, any other word among its evidence.
/// chance : float
///     Chance that a complete claim is accepted, 0 to 1.
/// handling_cost : float
///     Cost of one claim, in the currency of the price, 0 or more: hours of work, freight, packing.
/// days_to_file : int, optional
///     Days after the ending within which to file, 1 to 3,653; without it there is no deadline.
///
/// Returns
/// -------
/// ClaimTerms
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range, and words that are blank or stand twice; all at once.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> warranty = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
/// >>> terms = relamp.claim_terms(
/// ...     relamp.cover(warranty), needed=["serial", "photo"], chance=0.8, handling_cost=60.0, days_to_file=30
/// ... )
/// >>> terms.needed
/// ('serial', 'photo')
#[pyfunction]
#[pyo3(signature = (cover, /, *, needed=Vec::new(), chance=1.0, handling_cost=0.0, days_to_file=None))]
pub(super) fn claim_terms(
    #[pyo3(from_py_with = args::made::<PyCover>)] cover: &Bound<'_, PyCover>,
    #[pyo3(from_py_with = args::needed)] needed: Vec<String>,
    #[pyo3(from_py_with = args::chance)] chance: f64,
    #[pyo3(from_py_with = args::handling_cost)] handling_cost: f64,
    #[pyo3(from_py_with = args::days_to_file)] days_to_file: Option<u32>,
) -> PyResult<PyClaimTerms> {
    let cover = cover.get().0.clone();
    Ok(PyClaimTerms(ClaimTerms { cover, needed, chance, handling_cost, days_to_file }.checked()?))
}

fn list_facts(l: &ClaimList) -> Facts {
    let t = l.totals();
    facts! {
        "as_of": l.as_of.to_string(), "lamps": t.lamps, "to_file": l.of(Standing::File).count(), "to_file_due": t.to_file,
        "recoverable": t.recoverable, "recovered": t.recovered, "missed": t.missed, "sentence": l.sentence(),
    }
}

fn list_table(l: &ClaimList) -> Result<RecordBatch> {
    let each = || l.claims.iter();
    let text = |pick: fn(&EndedLamp) -> &String| each().map(move |c| pick(&c.lamp));
    let day = |pick: fn(&Claim) -> Option<NaiveDate>| each().map(pick);
    Frame::default()
        .texts("standing", each().map(|c| c.standing.as_str()))
        .texts("serial", text(|l| &l.serial))
        .texts("lamp_class", text(|l| &l.lamp_class))
        .texts("site", text(|l| &l.site))
        .texts("screen", text(|l| &l.screen))
        .texts("ending", each().map(|c| c.lamp.ending.as_str()))
        .numbers_or_null("age_hours", each().map(|c| c.lamp.age_hours))
        .counts_or_null("strikes", each().map(|c| c.lamp.strikes))
        .dates("fitted_on", day(|c| c.lamp.fitted_on))
        .dates("delivered_on", day(|c| c.lamp.delivered_on))
        .dates("ended_on", day(|c| c.lamp.ended_on))
        .numbers("due", each().map(|c| c.due.amount))
        .numbers("at_most", each().map(|c| c.due.at_most))
        .numbers("gain", each().map(|c| c.gain))
        .texts("why_nothing", each().map(|c| c.due.why_nothing.map_or("", NothingDue::as_str)))
        .texts("missing", each().map(|c| c.missing.join("; ")))
        .dates("deadline", day(|c| c.deadline))
        .numbers_or_null("days_left", each().map(|c| c.days_left.map(|d| d as f64)))
        .dates("filed_on", day(|c| c.lamp.filed_on))
        .numbers_or_null("paid", each().map(|c| c.lamp.paid))
        .texts("file", text(|l| &l.file))
        .counts("line", each().map(|c| c.lamp.line))
        .finish()
}

result_class! {
    /// Lamps that ended, each with what is due and what to do; made by `claim_list`.
    ///
    /// Its table holds a lamp a row: those to file first, the greatest gain before the others.
    PyClaimList holds ClaimList as "ClaimList";
    save |l| saved::save(LIST, l); load |t| saved::load(LIST, t); table list_table; show list_facts;
    {
        /// Lamps in the list.
        fn __len__(&self) -> usize {
            self.0.claims.len()
        }

        /// The day of the list.
        #[getter]
        fn as_of<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDate>> {
            date(py, self.0.as_of)
        }

        /// What the list amounts to, in words.
        #[getter]
        fn sentence(&self) -> String {
            self.0.sentence()
        }

        /// What claims brought and could have brought: numbers of lamps, and money in the currency of the prices.
        #[getter]
        fn totals<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let t = self.0.totals();
            let dict = PyDict::new(py);
            dict.set_item("lamps", t.lamps)?;
            dict.set_item("lamps_due", t.lamps_due)?;
            dict.set_item("recovered_share", t.recovered_share)?;
            for (name, money) in [
                ("recoverable", t.recoverable),
                ("filed", t.filed),
                ("recovered", t.recovered),
                ("open", t.open),
                ("to_file", t.to_file),
                ("to_file_gain", t.to_file_gain),
                ("missed", t.missed),
                ("refused", t.refused),
                ("to_find_out", t.to_find_out),
            ] {
                dict.set_item(name, money)?;
            }
            Ok(dict)
        }

        /// The list as text with commas between cells, safe to open in a spreadsheet: no text cell runs as a formula.
        ///
        /// Returns
        /// -------
        /// str
        ///     A header and a line for each lamp.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> warranty = relamp.warranty(form="full", price=800.0, hours=1000.0, endings=["seal"])
        /// >>> lamps = {"serial": ["=A1"], "ending": ["seal"], "age_hours": [400.0]}
        /// >>> claims = relamp.claim_list(lamps, relamp.claim_terms(relamp.cover(warranty)), as_of="2026-01-31")
        /// >>> claims.to_csv().splitlines()[1].startswith("file,'=A1,")
        /// True
        fn to_csv(&self) -> String {
            self.0.to_csv()
        }
    }
}

/// The terms of each class, or one set for all.
fn terms_by_class(terms: &Bound<'_, PyAny>) -> PyResult<(Option<ClaimTerms>, BTreeMap<String, ClaimTerms>)> {
    if let Ok(one) = terms.cast::<PyClaimTerms>() {
        return Ok((Some(one.get().0.clone()), BTreeMap::new()));
    }
    let expected = "ClaimTerms, or a dict of them by lamp class";
    let Ok(dict) = terms.cast::<PyDict>() else {
        return Err(refuse("python.type", "not terms of claims", "terms", "", &kind_of(terms), expected).into());
    };
    let mut by_class = BTreeMap::new();
    for (class, terms) in dict {
        let (Ok(class), Ok(terms)) = (class.extract::<String>(), terms.cast::<PyClaimTerms>()) else {
            return Err(refuse("python.type", "not terms of claims", "terms", "", &kind_of(&terms), expected).into());
        };
        by_class.insert(class, terms.get().0.clone());
    }
    Ok((None, by_class))
}

/// Judges lamps that ended under the terms of their warranty, and ranks the claims worth filing.
///
/// What is due for a lamp times the chance that a claim is accepted, less the cost of the claim, is its gain; a
/// claim is worth filing if that is above 0 and the deadline has not passed. Where nothing is due the reason is
/// told: expired by hours, calendar or strikes, an ending that the warranty does not cover, a change on plan, or a
/// figure that is not known.
///
/// Parameters
/// ----------
/// lamps : Reading or table
///     Logs as read by `read_logs` or `read_table`, of which every lamp that ended counts; or a table with the
///     columns `serial`, `ending`, `age_hours`, and any of `lamp_class`, `site`, `screen`, `strikes`, `fitted_on`,
///     `delivered_on`, `ended_on`, `evidence` (words with semicolons between), `filed_on` and `paid` (0: turned
///     down). What is missing is not known.
/// terms : ClaimTerms, or dict of str to ClaimTerms
///     Terms for all lamps, or by lamp class; nothing is due for a class without.
/// as_of : date or str
///     The day of the list.
/// papers : table, optional
///     What the office knows beside the logs, by `serial`: any of `delivered_on`, `evidence`, `filed_on`, `paid`.
/// columns : dict of str to str, optional
///     The names of the columns in the table of lamps, where they differ from ours.
///
/// Returns
/// -------
/// ClaimList
///
/// Raises
/// ------
/// InputError
///     With every bad row at once: row, column, value and what was expected.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> warranty = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
/// >>> terms = relamp.claim_terms(relamp.cover(warranty), needed=["photo"], chance=0.8, handling_cost=100.0)
/// >>> lamps = {"serial": ["A1", "A2"], "ending": ["burst", "planned"], "age_hours": [500.0, 1900.0]}
/// >>> claims = relamp.claim_list(lamps, terms, as_of="2026-01-31")
/// >>> claims.frame().select("standing", "due", "gain", "missing", "why_nothing").rows()
/// [('file', 750.0, 500.0, 'photo', ''), ('nothing', 0.0, 0.0, '', 'planned')]
/// >>> claims.totals["recoverable"]
/// 750.0
#[pyfunction]
#[pyo3(signature = (lamps, terms, *, as_of, papers=None, columns=None))]
pub(super) fn claim_list(
    py: Python<'_>,
    lamps: &Bound<'_, PyAny>,
    terms: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::as_of)] as_of: NaiveDate,
    papers: Option<&Bound<'_, PyAny>>,
    columns: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyClaimList> {
    let (for_all, by_class) = terms_by_class(terms)?;
    let mut ended = if let Ok(reading) = lamps.cast::<PyReading>() {
        ended_lamps(&reading.get().0)
    } else {
        let (table, called) = (Table::open(lamps, "lamps")?, called(columns)?);
        let held = held(&table, &LAMPS, &called)?;
        read_lamps("lamps", Source::Columns(&held), &TableFormat::default(), &called)?
    };
    if let Some(papers) = papers {
        let (table, none) = (Table::open(papers, "papers")?, BTreeMap::new());
        let held = held(&table, &PAPERS, &none)?;
        ended = with_papers(ended, &read_papers("papers", Source::Columns(&held), &TableFormat::default(), &none)?)?;
    }
    let terms_of = |class: &str| for_all.as_ref().or_else(|| by_class.get(class));
    Ok(PyClaimList(work(py, None, |_| core_list(&ended, terms_of, as_of))?))
}
