//! What records of more hours would be worth.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{AgeOptions, RecordsAhead, RecordsValue, ScreenAhead, records_value as core_value};

use super::demand::sockets;
use super::error::refuse;
use super::frames::Frame;
use super::intake::arguments as args;
use super::money::objective as read_objective;
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyDraws;

const VALUE: Format = Format::new("records_value", 1);

/// A row for the new records and one for certainty.
fn value_table(v: &RecordsValue) -> Result<RecordBatch> {
    Frame::default()
        .texts("with", ["more records", "the life known for certain"])
        .numbers("saving_per_hour", [v.saving_per_hour, v.most_per_hour])
        .numbers("standard_error", [v.saving_error, v.most_error])
        .finish()
}

fn value_facts(v: &RecordsValue) -> Facts {
    facts! {
        "today_hours": v.today_hours, "saving_per_hour": v.saving_per_hour, "saving_error": v.saving_error,
        "most_per_hour": v.most_per_hour, "hours_ahead": v.hours_ahead, "failures_ahead": v.failures_ahead,
        "share_changed": v.share_changed, "effective_draws": v.effective_draws, "draws": v.draws, "failed": v.failed,
        "plays": v.plays, "method": word(&v.method), "sentence": v.sentence,
    }
}

result_class! {
    /// What records of more hours would save by a better planned age; made by `records_value`. No age in it passes the limit.
    ///
    /// Its table holds a row for the new records and one for a life known for certain, which no records can pass.
    PyRecordsValue holds RecordsValue as "RecordsValue";
    save |v| saved::save(VALUE, v); load |t| saved::load(VALUE, t); table value_table; show value_facts;
    {
        /// Age of least mean cost over the draws: today's choice, whole hours.
        #[getter]
        fn today_hours(&self) -> f64 {
            self.0.today_hours
        }

        /// Mean cost per hour of today's choice over the draws.
        #[getter]
        fn today_cost_per_hour(&self) -> f64 {
            self.0.today_cost_per_hour
        }

        /// Mean saving per lamp hour of choosing again with the new records.
        #[getter]
        fn saving_per_hour(&self) -> f64 {
            self.0.saving_per_hour
        }

        /// Standard error of the saving, from the draws and plays.
        #[getter]
        fn saving_error(&self) -> f64 {
            self.0.saving_error
        }

        /// The most that any records could save per lamp hour: a life known for certain.
        #[getter]
        fn most_per_hour(&self) -> f64 {
            self.0.most_per_hour
        }

        /// Standard error of the most.
        #[getter]
        fn most_error(&self) -> f64 {
            self.0.most_error
        }

        /// Hours that all screens burn while the records are made.
        #[getter]
        fn hours_ahead(&self) -> f64 {
            self.0.hours_ahead
        }

        /// The saving in as many hours as the records are made in: a year of them, unless told otherwise.
        #[getter]
        fn saving_in_as_many_hours(&self) -> f64 {
            self.0.saving_per_hour * self.0.hours_ahead
        }

        /// Mean number of failures in the new records.
        #[getter]
        fn failures_ahead(&self) -> f64 {
            self.0.failures_ahead
        }

        /// Age at which lamps are changed while the records are made, hours.
        #[getter]
        fn rule_hours(&self) -> f64 {
            self.0.rule_hours
        }

        /// Ages chosen later, whole hours: the middle 90 %, as (low, high).
        #[getter]
        fn later_hours(&self) -> (f64, f64) {
            (self.0.later_hours.low, self.0.later_hours.high)
        }

        /// Share of the plays after which another age is chosen than today.
        #[getter]
        fn share_changed(&self) -> f64 {
            self.0.share_changed
        }

        /// Draws that the weights of the new records leave in play: the median over the plays.
        #[getter]
        fn effective_draws(&self) -> f64 {
            self.0.effective_draws
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }
    }
}

/// What records of more hours, such as another year, would save by a better choice of the planned age, before they are there.
///
/// Each draw in turn is taken for the truth: the screens burn their hours with its lamps, what is seen weighs the other draws
/// by how likely they make it, and the age of least weighted mean cost is chosen. The saving is what today's choice, the age
/// of least plain mean cost, costs more in the truth. Whether the model holds is not asked, nor what new records would tell
/// past the age where advice stops today. Few draws understate the saving.
///
/// Parameters
/// ----------
/// draws : Draws
///     Possible worlds, as `CauseFits.draws` gives them; 20 or more, some hundreds for a steady answer.
/// limit : HourLimit
///     No age in the answer passes it.
/// age_hours : array-like
///     Age of the lamp in each screen today, hours; None where not known: that lamp is changed at once.
/// hours_per_week : float or array-like
///     Hours that each screen burns in a week.
/// days : float
///     Days during which the new records are made, above 0.
/// rule_hours : float, optional
///     Age at which lamps are changed meanwhile, hours; without it today's rule, else the advised age.
/// plays : int
///     How many times the time ahead is played for each draw, 1 to 1000.
/// seed : int
///     Seed of the plays, from 0.
/// todays_rule_hours : float, optional
///     The age at which lamps are changed today, hours.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit).
/// objective : Discount or DarkMinutes, optional
///     What is counted per hour; None for the cost.
/// progress : callable, optional
///     Called with (done, total) while it runs; an error in it, like Ctrl-C, stops the work.
///
/// Returns
/// -------
/// RecordsValue
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range, and screens none of which burns.
/// DomainError
///     For a rule that is not above 0.
/// LimitError
///     For a rule past the limit.
/// RefusedError
///     For fewer than 20 draws, and where the new records would leave fewer than 10 draws in play.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> ages = [100.0 + 7.0 * i for i in range(60)]
/// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
/// >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
/// >>> draws = relamp.fit_causes(tally).draws(tally, costs, n=60, seed=1)
/// >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
/// >>> value = relamp.records_value(draws, limit, [100.0, 250.0, None], hours_per_week=70.0, days=90.0, seed=1)
/// >>> value.saving_per_hour <= value.most_per_hour
/// True
/// >>> value.hours_ahead
/// 2700.0
#[pyfunction]
#[pyo3(signature = (draws, limit, age_hours, *, hours_per_week, days=365.25, rule_hours=None, plays=1, seed=0,
    todays_rule_hours=None, oldest_at_risk_hours=None, extrapolate_because=None, objective=None, progress=None))]
pub(super) fn records_value(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyDraws>)] draws: &Bound<'_, PyDraws>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::days)] days: f64,
    #[pyo3(from_py_with = args::rule_hours)] rule_hours: Option<f64>,
    #[pyo3(from_py_with = args::plays)] plays: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::todays_rule_hours)] todays_rule_hours: Option<f64>,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyRecordsValue> {
    let objective = read_objective(objective)?;
    let options =
        AgeOptions { todays_rule_hours, oldest_at_risk_hours, extrapolate_because, objective, ..AgeOptions::default() };
    if !(days > 0.0 && days.is_finite()) {
        let expected = "finite and above 0";
        return Err(refuse("python.records_days", "no length of time", "days", "", &days.to_string(), expected).into());
    }
    let screens = sockets("records_value", age_hours, hours_per_week)?
        .iter()
        .map(|s| ScreenAhead { age_hours: s.age_hours, hours: s.hours_per_week * days / 7.0 })
        .collect();
    let ahead = RecordsAhead { screens, rule_hours, plays, seed };
    let (draws, limit) = (draws.get(), &limit.get().0);
    let names = [
        ("screens", "hours", "hours_per_week"),
        ("screens", "age_hours", "age_hours"),
        ("screens", "", "hours_per_week"),
    ];
    let ask = |run: &crate::Run| core_value(&draws.0, limit, &options, &ahead, run).map_err(|e| e.renamed(&names));
    Ok(PyRecordsValue(work(py, progress, ask)?))
}
