//! Money back under a warranty, dark time, and what later money is worth.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{Objective, WarrantyValue, warranty_value as core_value};
use crate::records::Ending;
use crate::terms::{DarkMinutes, Discount, Warranty, WarrantyForm, WarrantyStep};

use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, kind_of};
use super::lives::ending;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyWorld;

const WARRANTY: Format = Format::new("warranty", 1);
const DARK: Format = Format::new("dark_minutes", 1);
const DISCOUNT: Format = Format::new("discount", 1);
const VALUE: Format = Format::new("warranty_value", 1);

fn form_word(w: &Warranty) -> &'static str {
    match w.form() {
        WarrantyForm::Full => "full",
        WarrantyForm::ProRata => "pro_rata",
        WarrantyForm::Stepped(_) => "stepped",
    }
}

/// Money back by age: at 0 and on both sides of each kink.
fn warranty_table(w: &Warranty) -> Result<RecordBatch> {
    let mut ages = vec![0.0];
    for kink in w.kinks() {
        ages.extend([kink.next_down(), kink]);
    }
    Frame::default()
        .numbers("age_hours", ages.iter().copied())
        .numbers("credit", ages.iter().map(|a| w.credit(*a)))
        .finish()
}

fn words(endings: &[Ending]) -> Vec<&'static str> {
    endings.iter().map(|e| e.as_str()).collect()
}

fn warranty_facts(w: &Warranty) -> Facts {
    facts! {
        "form": form_word(w), "price": w.price(), "hours": w.hours(), "end_hours": w.end_hours(),
        "endings": words(w.endings()),
    }
}

result_class! {
    /// Money back from the maker that depends on the age at failure; made by `warranty`.
    ///
    /// Its table holds the money back at age 0 and on both sides of each age at which it jumps or bends.
    PyWarranty holds Warranty as "Warranty";
    save |w| saved::save(WARRANTY, w); load |t| saved::load(WARRANTY, t); table warranty_table; show warranty_facts;
    {
        /// How the money back falls with age: "full", "pro_rata" or "stepped".
        #[getter]
        fn form(&self) -> &'static str {
            form_word(&self.0)
        }

        /// Price of the lamp.
        #[getter]
        fn price(&self) -> f64 {
            self.0.price()
        }

        /// Hours as printed.
        #[getter]
        fn hours(&self) -> f64 {
            self.0.hours()
        }

        /// Age from which nothing comes back, hours.
        #[getter]
        fn end_hours(&self) -> f64 {
            self.0.end_hours()
        }

        /// The endings that are covered.
        #[getter]
        fn endings(&self) -> Fixed<&'static str> {
            Fixed(words(self.0.endings()))
        }

        /// Money back for a failure at an age; 0 from the end on.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age at failure, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     In the currency of the price; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> warranty = relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"])
        /// >>> warranty.credit(500.0), warranty.credit([0.0, 2000.0]).tolist()
        /// (750.0, [1000.0, 0.0])
        fn credit<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            super::arrays::over(age, At { input: "warranty", column: "age" }, |a| Ok(Some(self.0.credit(a))))
        }

        /// The same warranty where the calendar may end it before the hours do.
        ///
        /// Parameters
        /// ----------
        /// days : float
        ///     Days from fitting after which nothing comes back, above 0.
        /// hours_per_week : float
        ///     Hours that the screen burns in a week, above 0 and at most 168.
        ///
        /// Returns
        /// -------
        /// Warranty
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number or out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> warranty = relamp.warranty(form="full", price=1000.0, hours=2000.0, endings=["burst"])
        /// >>> warranty.within_calendar(days=150.0, hours_per_week=56.0).end_hours
        /// 1200.0
        #[pyo3(signature = (*, days, hours_per_week))]
        fn within_calendar(
            &self,
            #[pyo3(from_py_with = args::days)] days: f64,
            #[pyo3(from_py_with = args::hours_per_week)] hours_per_week: f64,
        ) -> PyResult<Self> {
            Ok(Self(self.0.within_calendar(days, hours_per_week)?))
        }
    }
}

fn wrong_steps(got: &str) -> PyErr {
    let expected = "a list of (hours, share), such as [(500.0, 1.0), (1000.0, 0.5)]";
    refuse("python.type", "not the steps of a warranty", "warranty", "steps", got, expected).into()
}

fn steps_of(steps: &Bound<'_, PyAny>) -> PyResult<Vec<WarrantyStep>> {
    let pairs: Vec<(Bound<'_, PyAny>, Bound<'_, PyAny>)> = steps.extract().map_err(|_| wrong_steps(&kind_of(steps)))?;
    let at = At { input: "warranty", column: "steps" };
    let one = |(hours, share): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
        Ok(WarrantyStep { below_hours: args::one_number(&hours, at)?, share: args::one_number(&share, at)? })
    };
    pairs.into_iter().map(one).collect()
}

/// Money back from the maker for a lamp that fails early.
///
/// A failure at the end itself counts as late: what a claim at the last hour brings is not counted on.
///
/// Parameters
/// ----------
/// form : str
///     How the money back falls with age: "full", the whole price up to the end; "pro_rata", the price times the share of
///     the hours that the lamp did not burn; "stepped", a share of the price for each stretch of ages.
/// price : float
///     Price of the lamp, in the currency of the costs.
/// endings : list of str
///     The failures that are covered, words of `ENDINGS`.
/// hours : float, optional
///     Hours of the warranty as printed; needed for "full" and "pro_rata".
/// steps : list of (float, float), optional
///     For "stepped": for each stretch the age at which it ends, hours, and the share of the price that comes back, 0 to 1.
///
/// Returns
/// -------
/// Warranty
///
/// Raises
/// ------
/// InputError
///     For a word that is no form or no ending, for what is not a number or out of range, and where hours or steps are
///     missing, or are there and not asked for.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.warranty(form="pro_rata", price=1000.0, hours=2000.0, endings=["burst"]).credit(500.0)
/// 750.0
/// >>> steps = [(250.0, 1.0), (1000.0, 0.5)]
/// >>> relamp.warranty(form="stepped", price=800.0, steps=steps, endings=["burst", "seal"]).credit(250.0)
/// 400.0
#[pyfunction]
#[pyo3(signature = (*, form, price, endings, hours=None, steps=None))]
pub(super) fn warranty(
    #[pyo3(from_py_with = args::form)] form: &str,
    #[pyo3(from_py_with = args::price)] price: f64,
    #[pyo3(from_py_with = args::endings_given)] endings: Vec<String>,
    #[pyo3(from_py_with = args::hours)] hours: Option<f64>,
    steps: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyWarranty> {
    let endings = endings.iter().map(|word| ending("endings", word)).collect::<Result<Vec<_>>>()?;
    let stepped = form == "stepped";
    for (name, there, asked) in [("hours", hours.is_some(), !stepped), ("steps", steps.is_some(), stepped)] {
        if there != asked {
            let what =
                format!("{name} {} with this form of a warranty", if asked { "are missing" } else { "have no place" });
            let expected = "hours for 'full' and 'pro_rata', steps for 'stepped'";
            return Err(refuse("python.warranty", &what, "warranty", name, form, expected).into());
        }
    }
    let hours = hours.unwrap_or(f64::NAN);
    Ok(PyWarranty(match form {
        "full" => Warranty::full(price, hours, endings)?,
        "pro_rata" => Warranty::pro_rata(price, hours, endings)?,
        "stepped" => Warranty::stepped(price, steps.map_or_else(|| Ok(Vec::new()), steps_of)?, endings)?,
        _ => {
            let expected = "'full', 'pro_rata' or 'stepped'";
            return Err(refuse("python.warranty", "no form of a warranty", "warranty", "form", form, expected).into());
        }
    }))
}

fn value_table(v: &WarrantyValue) -> Result<RecordBatch> {
    Frame::default()
        .numbers("age_hours", [v.age_hours])
        .numbers("end_hours", [v.end_hours])
        .numbers("claim_probability", [v.claim_probability])
        .numbers("money_back_per_lamp", [v.money_back_per_lamp])
        .numbers("money_back_per_1000_hours", [v.money_back_per_1000_hours])
        .numbers("failures_in_a_row_mean", [v.failures_in_a_row_mean])
        .numbers("failures_in_a_row_variance", [v.failures_in_a_row_variance])
        .numbers("covered_hours", [v.covered_hours])
        .numbers_or_null("failures_in_first_warranty", [v.failures_in_first_warranty])
        .finish()
}

fn value_facts(v: &WarrantyValue) -> Facts {
    facts! {
        "age_hours": v.age_hours, "end_hours": v.end_hours, "claim_probability": v.claim_probability,
        "money_back_per_lamp": v.money_back_per_lamp, "money_back_per_1000_hours": v.money_back_per_1000_hours,
        "failures_in_a_row_mean": v.failures_in_a_row_mean, "covered_hours": v.covered_hours,
        "failures_in_first_warranty": v.failures_in_first_warranty,
    }
}

result_class! {
    /// What a warranty is worth under a planned age; made by `warranty_value`.
    PyWarrantyValue holds WarrantyValue as "WarrantyValue";
    save |v| saved::save(VALUE, v); load |t| saved::load(VALUE, t); table value_table; show value_facts;
    {
        /// Planned age, hours.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// Age from which nothing comes back, hours.
        #[getter]
        fn end_hours(&self) -> f64 {
            self.0.end_hours
        }

        /// Chance of a lamp to fail in a covered way before the planned age and the end.
        #[getter]
        fn claim_probability(&self) -> f64 {
            self.0.claim_probability
        }

        /// Mean money back for each lamp.
        #[getter]
        fn money_back_per_lamp(&self) -> f64 {
            self.0.money_back_per_lamp
        }

        /// Mean money back per 1,000 lamp hours.
        #[getter]
        fn money_back_per_1000_hours(&self) -> f64 {
            self.0.money_back_per_1000_hours
        }

        /// Mean number of covered failures in a row before a lamp leaves the warranty otherwise.
        #[getter]
        fn failures_in_a_row_mean(&self) -> f64 {
            self.0.failures_in_a_row_mean
        }

        /// Variance of that number.
        #[getter]
        fn failures_in_a_row_variance(&self) -> f64 {
            self.0.failures_in_a_row_variance
        }

        /// Mean hours under warranty until then.
        #[getter]
        fn covered_hours(&self) -> f64 {
            self.0.covered_hours
        }

        /// Mean covered failures in a row in one warranty that replacements share; None for some lives of steps.
        #[getter]
        fn failures_in_first_warranty(&self) -> Option<f64> {
            self.0.failures_in_first_warranty
        }
    }
}

/// What the warranty of a world's costs is worth at a planned age.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs with a warranty, as `Costs.with_warranty` gives them.
/// limit : HourLimit
///     An age past it is refused.
/// age_hours : float
///     Planned age, hours.
///
/// Returns
/// -------
/// WarrantyValue
///
/// Raises
/// ------
/// InputError
///     For costs without a warranty, and an age that is not a number.
/// DomainError
///     For an age that is not above 0.
/// LimitError
///     For an age past the limit.
/// RefusedError
///     Where every lamp fails under warranty.
///
/// Examples
/// --------
/// At an even rate of one failure in 5,000 h, a full warranty of 1,000 h and a price of 780: 780 (1 - exp(-0.2)).
///
/// >>> import relamp
/// >>> warranty = relamp.warranty(form="full", price=780.0, hours=1000.0, endings=["burst"])
/// >>> costs = relamp.costs(950.0, burst=5200.0).with_warranty(warranty)
/// >>> world = relamp.world({"burst": relamp.life("exponential", scale=5000.0)}, costs)
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> round(relamp.warranty_value(world, limit, age_hours=1500.0).money_back_per_lamp, 2)
/// 141.39
#[pyfunction]
#[pyo3(signature = (world, limit, *, age_hours))]
pub(super) fn warranty_value(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::age_hours)] age_hours: f64,
) -> PyResult<PyWarrantyValue> {
    let (world, limit) = (world.get(), &limit.get().0);
    Ok(PyWarrantyValue(work(py, None, |_| core_value(&world.0, age_hours, limit))?))
}

fn dark_table(d: &DarkMinutes) -> Result<RecordBatch> {
    let failures = || d.by_ending().iter();
    Frame::default()
        .texts("ending", std::iter::once("planned").chain(failures().map(|(e, _)| e.as_str())))
        .numbers("dark_minutes", std::iter::once(d.planned()).chain(failures().map(|(_, v)| *v)))
        .finish()
}

fn dark_facts(d: &DarkMinutes) -> Facts {
    let mut facts = facts! { "planned": d.planned() };
    facts.extend(d.by_ending().iter().map(|(e, v)| (e.as_str(), serde_json::json!(v))));
    facts.extend(d.note().map(|n| ("notes", serde_json::json!([n.1]))));
    facts
}

result_class! {
    /// Minutes that a screen is dark for a planned change and for a change after each kind of failure; made by
    /// `dark_minutes`.
    PyDarkMinutes holds DarkMinutes as "DarkMinutes";
    save |d| saved::save(DARK, d); load |t| saved::load(DARK, t); table dark_table; show dark_facts;
    {
        /// Dark minutes of a planned change.
        #[getter]
        fn planned(&self) -> f64 {
            self.0.planned()
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence, such as for a change said to take less than
        /// 10 min to cool down and 10 min to warm up (common practice, no source).
        #[getter]
        fn notes(&self) -> Fixed<(&'static str, String)> {
            self.0.note().into_iter().collect()
        }

        /// Dark minutes of a change after each kind of failure.
        #[getter]
        fn by_ending<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for (ending, minutes) in self.0.by_ending() {
                dict.set_item(ending.as_str(), minutes)?;
            }
            Ok(dict)
        }
    }
}

/// Minutes that a screen is dark for a planned change and for a change after each kind of failure.
///
/// A planned change takes 10 min to cool down, the exchange, and 10 min to warm up before alignment (common practice, no
/// source).
///
/// Parameters
/// ----------
/// planned : float
///     Minutes of a planned change, above 0 and at most those of a year.
/// **by_ending : float
///     Minutes of a change after a failure, by ending, above 0: with the wait and the shows that are lost.
///
/// Returns
/// -------
/// DarkMinutes
///     An objective for `planned_age` and its like.
///
/// Raises
/// ------
/// InputError
///     For a word that is no ending, and minutes that are no number in range.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> dark = relamp.dark_minutes(45.0, burst=360.0)
/// >>> dark.planned, dark.by_ending
/// (45.0, {'burst': 360.0})
#[pyfunction]
#[pyo3(signature = (planned, **by_ending))]
pub(super) fn dark_minutes(
    planned: &Bound<'_, PyAny>,
    by_ending: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyDarkMinutes> {
    let planned = args::one_number(planned, At { input: "dark_minutes", column: "planned" })?;
    let mut given = Vec::new();
    for (word, minutes) in by_ending.into_iter().flatten() {
        let word: String = word.cast::<PyString>()?.extract()?;
        let minutes = args::one_number(&minutes, At { input: "dark_minutes", column: &word })?;
        given.push((ending("dark_minutes", &word)?, minutes));
    }
    Ok(PyDarkMinutes(DarkMinutes::new(planned, given)?))
}

fn discount_table(d: Discount) -> Result<RecordBatch> {
    Frame::default().numbers("rate_per_hour", [d.rate_per_hour()]).finish()
}

fn discount_facts(d: Discount) -> Facts {
    facts! { "rate_per_hour": d.rate_per_hour(), "worth_after_1000_hours": d.worth(1000.0) }
}

result_class! {
    /// How much less money is worth the later it comes; made by `discount`.
    PyDiscount holds Discount as "Discount";
    save |d| saved::save(DISCOUNT, d); load |t| saved::load(DISCOUNT, t); table |d| discount_table(*d); show |d| discount_facts(*d);
    {
        /// The continuous rate per burning hour.
        #[getter]
        fn rate_per_hour(&self) -> f64 {
            self.0.rate_per_hour()
        }

        /// What an amount of 1 is worth now if it comes after so many burning hours.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Burning hours from now.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     exp(-rate hours); an array for a column.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> round(relamp.discount(rate_per_year=0.05, hours_per_year=4000.0).worth(4000.0), 6)
        /// 0.952381
        fn worth<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            super::arrays::over(age, At { input: "discount", column: "age" }, |a| Ok(Some(self.0.worth(a))))
        }
    }
}

/// A discount rate, stated per burning hour, or per year in a screen that burns so many hours a year.
///
/// Parameters
/// ----------
/// rate_per_hour : float, optional
///     Continuous rate per burning hour, above 0.
/// rate_per_year : float, optional
///     Rate per year, 0.05 for 5 percent; needs `hours_per_year`.
/// hours_per_year : float, optional
///     Hours that the screen burns in a year, above 0 and at most 8,784.
///
/// Returns
/// -------
/// Discount
///     An objective for `planned_age` and its like.
///
/// Raises
/// ------
/// InputError
///     For rates that are no numbers in range, and unless one way to state the rate is used alone.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.discount(rate_per_hour=1e-5).rate_per_hour
/// 1e-05
/// >>> relamp.discount(rate_per_year=0.05, hours_per_year=4000.0).rate_per_hour == relamp.discount(rate_per_hour=1e-5)
/// False
#[pyfunction]
#[pyo3(signature = (*, rate_per_hour=None, rate_per_year=None, hours_per_year=None))]
pub(super) fn discount(
    #[pyo3(from_py_with = args::rate_per_hour)] rate_per_hour: Option<f64>,
    #[pyo3(from_py_with = args::rate_per_year)] rate_per_year: Option<f64>,
    #[pyo3(from_py_with = args::hours_per_year)] hours_per_year: Option<f64>,
) -> PyResult<PyDiscount> {
    match (rate_per_hour, rate_per_year, hours_per_year) {
        (Some(rate), None, None) => Ok(PyDiscount(Discount::per_hour(rate)?)),
        (None, Some(rate), Some(hours)) => Ok(PyDiscount(Discount::per_year(rate, hours)?)),
        _ => {
            let given =
                [rate_per_hour, rate_per_year, hours_per_year].map(|r| r.map_or("none".to_owned(), |r| r.to_string()));
            let expected = "rate_per_hour, or rate_per_year with hours_per_year";
            let what = "one way to state a rate is needed";
            Err(refuse("python.discount", what, "discount", "rate_per_hour", &given.join(", "), expected).into())
        }
    }
}

/// What an age is chosen by: nothing for the cost per hour, a discount, or dark minutes.
pub(super) fn objective(given: Option<&Bound<'_, PyAny>>) -> PyResult<Objective> {
    let Some(given) = given.filter(|g| !g.is_none()) else { return Ok(Objective::CostPerHour) };
    if let Ok(discount) = given.cast::<PyDiscount>() {
        return Ok(Objective::DiscountedCost(discount.get().0));
    }
    if let Ok(dark) = given.cast::<PyDarkMinutes>() {
        return Ok(Objective::DarkMinutes(dark.get().0.clone()));
    }
    let expected = "a Discount, DarkMinutes, or None for the cost per hour";
    Err(refuse("python.type", "no objective", "objective", "", &kind_of(given), expected).into())
}
