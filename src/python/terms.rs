//! Terms of trade: costs by ending and the hour limit.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::terms::{Costs, HourLimit, LimitOrigin, PrintedHours};

use super::frames::Frame;
use super::intake::{At, arguments as args};
use super::lives::ending;
use super::money::{PyDiscount, PyWarranty};
use super::result::result_class;
use super::salvage::PySalvage;
use super::show::{Facts, facts};

const COSTS: Format = Format::new("costs", 1);
const LIMIT: Format = Format::new("hour_limit", 1);

result_class! {
    /// Cost of one planned change and of one change after each kind of failure, in one currency; made by `costs`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
    /// >>> costs.failure("dim")
    /// 1250.0
    PyCosts holds Costs as "Costs";
    save |c| saved::save(COSTS, c); load |t| saved::load(COSTS, t); table costs_table; show costs_facts;
    {
        /// Cost of a planned change, before what the used lamp is worth.
        #[getter]
        fn planned(&self) -> f64 {
            self.0.planned()
        }

        /// Cost of a change after each kind of failure.
        #[getter]
        fn by_ending<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for (ending, cost) in self.0.by_ending() {
                dict.set_item(ending.as_str(), cost)?;
            }
            Ok(dict)
        }

        /// Money back under a warranty; None without one.
        #[getter]
        fn warranty(&self) -> Option<PyWarranty> {
            self.0.warranty().cloned().map(PyWarranty)
        }

        /// The same costs where the maker gives money back for early failures: the cost after a failure is that given, less
        /// the money back at that age.
        ///
        /// Parameters
        /// ----------
        /// warranty : Warranty
        ///     In the same currency.
        ///
        /// Returns
        /// -------
        /// Costs
        ///
        /// Raises
        /// ------
        /// InputError
        ///     Where a covered failure costs no more than what comes back: its cost must hold the price of the new lamp.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> warranty = relamp.warranty(form="full", price=780.0, hours=500.0, endings=["burst"])
        /// >>> relamp.costs(950.0, burst=5200.0).with_warranty(warranty).warranty.credit(499.0)
        /// 780.0
        #[pyo3(signature = (warranty, /))]
        fn with_warranty(&self, warranty: &Bound<'_, PyWarranty>) -> PyResult<Self> {
            Ok(Self(self.0.clone().with_warranty(warranty.get().0.clone())?))
        }

        /// Worth of a used lamp; None where it has none.
        #[getter]
        fn salvage(&self) -> Option<PySalvage> {
            self.0.salvage().copied().map(PySalvage)
        }

        /// Discount rate of their own, in place of that of an objective that discounts; None where they have none.
        #[getter]
        fn discount(&self) -> Option<PyDiscount> {
            self.0.discount().copied().map(PyDiscount)
        }

        /// The same costs where a lamp that is changed on plan is still worth something: a planned change at an age costs that
        /// given, less the worth of the used lamp at that age.
        ///
        /// Parameters
        /// ----------
        /// salvage : Salvage
        ///     In the same currency.
        ///
        /// Returns
        /// -------
        /// Costs
        ///
        /// Raises
        /// ------
        /// InputError
        ///     Where a planned change costs no more than a used lamp is worth: its cost must hold the price of the new lamp.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> salvage = relamp.salvage(worth_of_new=400.0, gone_hours=2000.0)
        /// >>> relamp.costs(950.0, burst=5200.0).with_salvage(salvage).planned_at(500.0)
        /// 650.0
        #[pyo3(signature = (salvage, /))]
        fn with_salvage(&self, salvage: &Bound<'_, PySalvage>) -> PyResult<Self> {
            Ok(Self(self.0.clone().with_salvage(salvage.get().0)?))
        }

        /// Cost of a planned change at an age, less what the used lamp is worth there.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age at the change, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     In the currency of the costs; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> relamp.costs(950.0, burst=5200.0).planned_at(500.0)
        /// 950.0
        fn planned_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            super::arrays::over(age, At { input: "costs", column: "age" }, |a| Ok(Some(self.0.planned_at(a))))
        }

        /// Cost of a change after a failure of this kind, before any money back.
        ///
        /// Parameters
        /// ----------
        /// cause : str
        ///     A word of `ENDINGS`.
        ///
        /// Returns
        /// -------
        /// float
        ///     In the currency of the costs.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a word that is no ending, or one without a cost.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> relamp.costs(950.0, burst=5200.0).failure("burst")
        /// 5200.0
        #[pyo3(signature = (cause, /))]
        fn failure(&self, #[pyo3(from_py_with = args::cause)] cause: &str) -> PyResult<f64> {
            Ok(self.0.failure(ending("cause", cause)?)?)
        }
    }
}

fn costs_table(c: &Costs) -> Result<RecordBatch> {
    let failures = || c.by_ending().iter();
    Frame::default()
        .texts("ending", std::iter::once("planned").chain(failures().map(|(e, _)| e.as_str())))
        .numbers("cost", std::iter::once(c.planned()).chain(failures().map(|(_, v)| *v)))
        .finish()
}

fn costs_facts(c: &Costs) -> Facts {
    let mut facts = facts! { "planned": c.planned() };
    facts.extend(c.by_ending().iter().map(|(e, v)| (e.as_str(), serde_json::json!(v))));
    facts
}

/// Costs of a planned change and of a change after each kind of failure.
///
/// Each is the whole cost of one change: lamp, technician, dark screen, damage.
///
/// Parameters
/// ----------
/// planned : float
///     Cost of a planned change, in the currency of the study.
/// **by_ending : float
///     Cost of a change after a failure, by ending: `burst`, `seal`, `no_strike`, `flicker`, `dim` and the like.
///
/// Returns
/// -------
/// Costs
///
/// Raises
/// ------
/// InputError
///     For a word that is no ending, and a cost that is not a finite number above 0.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.costs(950.0, burst=5200.0).planned
/// 950.0
#[pyfunction]
#[pyo3(signature = (planned, **by_ending))]
pub(super) fn costs(planned: &Bound<'_, PyAny>, by_ending: Option<&Bound<'_, PyDict>>) -> PyResult<PyCosts> {
    let planned = args::one_number(planned, At { input: "costs", column: "planned" })?;
    let mut given = Vec::new();
    for (word, cost) in by_ending.into_iter().flatten() {
        let word: String = word.extract()?;
        let cost = args::one_number(&cost, At { input: "costs", column: &word })?;
        given.push((ending("costs", &word)?, cost));
    }
    Ok(PyCosts(Costs::new(planned, given)?))
}

result_class! {
    /// The age that no advice may pass; made by `hour_limit` from printed hours, or with a recorded reason.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> limit = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
    /// >>> limit.hours, limit.origin
    /// (2500.0, 'maker_maximum')
    PyHourLimit holds HourLimit as "HourLimit";
    save |l| saved::save(LIMIT, l); load |t| saved::load(LIMIT, t); table limit_table; show limit_facts;
    {
        /// The limit in force, hours.
        #[getter]
        fn hours(&self) -> f64 {
            self.0.hours()
        }

        /// The maker's limit, hours; lamps stay judged against it whatever limit is in force.
        #[getter]
        fn maker_hours(&self) -> f64 {
            self.0.maker_hours()
        }

        /// Where the limit in force comes from: "maker_maximum", "warranty" or "override".
        #[getter]
        fn origin(&self) -> &'static str {
            origin(&self.0).0
        }

        /// The recorded reason of an override; empty otherwise.
        #[getter]
        fn reason(&self) -> &str {
            origin(&self.0).1
        }

        /// An age as it may be shown as advice: rounded down, at most the limit.
        ///
        /// Parameters
        /// ----------
        /// age_hours : float
        ///     Age, hours, 0 or more.
        ///
        /// Returns
        /// -------
        /// float
        ///     Whole hours.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> limit = relamp.hour_limit(
        /// ...     maximum_hours=2500.0, source="invented data sheet", limit_hours=2300.5, reason="insurer"
        /// ... )
        /// >>> limit.cap(1999.9), limit.cap(9000.0)
        /// (1999.0, 2300.0)
        #[pyo3(signature = (age_hours, /))]
        fn cap(&self, #[pyo3(from_py_with = args::age_to_judge)] age_hours: f64) -> f64 {
            self.0.cap(age_hours)
        }

        /// Whether a lamp of this age is at or past the limit in force.
        ///
        /// Parameters
        /// ----------
        /// age_hours : float
        ///     Age, hours, 0 or more.
        ///
        /// Returns
        /// -------
        /// bool
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> limit = relamp.hour_limit(
        /// ...     maximum_hours=2500.0, source="invented data sheet", limit_hours=2300.5, reason="insurer"
        /// ... )
        /// >>> limit.reached(2300.5), limit.reached(2300.0)
        /// (True, False)
        #[pyo3(signature = (age_hours, /))]
        fn reached(&self, #[pyo3(from_py_with = args::age_to_judge)] age_hours: f64) -> bool {
            self.0.reached(age_hours)
        }

        /// Whether a lamp of this age is at or past the maker's limit.
        ///
        /// Parameters
        /// ----------
        /// age_hours : float
        ///     Age, hours, 0 or more.
        ///
        /// Returns
        /// -------
        /// bool
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> limit = relamp.hour_limit(
        /// ...     maximum_hours=2500.0, source="invented data sheet", limit_hours=2300.5, reason="insurer"
        /// ... )
        /// >>> limit.maker_reached(2400.0), limit.maker_reached(2500.0)
        /// (False, True)
        #[pyo3(signature = (age_hours, /))]
        fn maker_reached(&self, #[pyo3(from_py_with = args::age_to_judge)] age_hours: f64) -> bool {
            self.0.maker_reached(age_hours)
        }
    }
}

fn origin(limit: &HourLimit) -> (&'static str, &str) {
    match limit.origin() {
        LimitOrigin::MakerMaximum => ("maker_maximum", ""),
        LimitOrigin::Warranty => ("warranty", ""),
        LimitOrigin::Override { reason } => ("override", reason),
    }
}

fn limit_table(l: &HourLimit) -> Result<RecordBatch> {
    let (word, reason) = origin(l);
    Frame::default()
        .numbers("hours", [l.hours()])
        .numbers("maker_hours", [l.maker_hours()])
        .texts("origin", [word])
        .texts("reason", [reason])
        .finish()
}

fn limit_facts(l: &HourLimit) -> Facts {
    let (word, reason) = origin(l);
    facts! { "hours": l.hours(), "maker_hours": l.maker_hours(), "origin": word, "reason": reason }
}

/// The hour limit of a lamp class, from the hours its maker prints.
///
/// By default it is the maker's limit of use, else the warranty hours; `limit_hours` puts another in its place and
/// needs a `reason`. Lamps stay judged against the maker's limit too.
///
/// Parameters
/// ----------
/// maximum_hours, warranty_hours, average_life_hours : float, optional
///     Hours, as printed; at least one of the first two. The average life is never a limit.
/// source : str
///     Where they are printed.
/// limit_hours : float, optional
///     The user's own limit, hours.
/// reason : str, optional
///     Why the own limit holds.
///
/// Returns
/// -------
/// HourLimit
///
/// Raises
/// ------
/// InputError
///     For hours that are not numbers of at least 1, no printed limit, and a limit of one's own without a reason.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.hour_limit(warranty_hours=2000.0, source="invented data sheet").cap(2345.6)
/// 2000.0
/// >>> own = relamp.hour_limit(
/// ...     maximum_hours=2500.0, source="invented data sheet", limit_hours=2300.0, reason="agreed with the insurer"
/// ... )
/// >>> own.hours, own.maker_hours
/// (2300.0, 2500.0)
#[pyfunction]
#[pyo3(signature = (*, source, maximum_hours=None, warranty_hours=None, average_life_hours=None, limit_hours=None,
    reason=None))]
pub(super) fn hour_limit(
    #[pyo3(from_py_with = args::source)] source: &str,
    #[pyo3(from_py_with = args::maximum_hours)] maximum_hours: Option<f64>,
    #[pyo3(from_py_with = args::warranty_hours)] warranty_hours: Option<f64>,
    #[pyo3(from_py_with = args::average_life_hours)] average_life_hours: Option<f64>,
    #[pyo3(from_py_with = args::limit_hours)] limit_hours: Option<f64>,
    #[pyo3(from_py_with = args::reason)] reason: Option<String>,
) -> PyResult<PyHourLimit> {
    let printed = PrintedHours { warranty_hours, average_life_hours, maximum_hours, source: source.to_owned() };
    Ok(PyHourLimit(match limit_hours {
        None => printed.limit()?,
        Some(hours) => printed.limit_because(hours, &reason.unwrap_or_default())?,
    }))
}
