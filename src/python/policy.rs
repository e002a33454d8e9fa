//! When to change each lamp class.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use serde_json::json;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{
    AgeInterval, AgeOptions, Band, CostPoint, PlannedAge, PricedDraws, Range, objective_curve,
    planned_age as core_planned_age, planned_age_interval as core_interval,
};
use crate::terms::HourLimit;

use super::doubt::PyCostParts;
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, numbers};
use super::money::objective as read_objective;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const PLANNED: Format = Format::new("planned_age", 1);
const CURVE: Format = Format::new("cost_curve", 1);
const INTERVAL: Format = Format::new("planned_age_interval", 1);

/// A word of a plain enum, as it is saved.
pub(super) fn word(value: &impl serde::Serialize) -> String {
    serde_json::to_value(value).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default()
}

fn points(points: &[CostPoint]) -> Frame {
    let mut endings: Vec<&str> = points.iter().flat_map(|p| p.by_ending.iter().map(|c| c.ending.as_str())).collect();
    endings.sort_unstable();
    endings.dedup();
    let mut frame = Frame::default()
        .numbers("age_hours", points.iter().map(|p| p.age_hours))
        .numbers("cost_per_hour", points.iter().map(|p| p.cost_per_hour))
        .numbers("planned_cost_per_hour", points.iter().map(|p| p.planned_cost_per_hour))
        .numbers("failure_probability", points.iter().map(|p| p.failure_probability))
        .numbers("mean_age_at_change_hours", points.iter().map(|p| p.mean_age_at_change_hours));
    for ending in endings {
        let cost = |p: &CostPoint| p.by_ending.iter().find(|c| c.ending.as_str() == ending).map(|c| c.cost_per_hour);
        frame = frame.numbers_or_null(&format!("{ending}_cost_per_hour"), points.iter().map(cost));
    }
    frame
}

/// The advice and what it costs, and the ages near the best in words.
fn planned_table(p: &PlannedAge) -> Result<RecordBatch> {
    let near: Vec<String> = p.near_best.iter().map(Band::words).collect();
    points(std::slice::from_ref(&p.cost)).texts("near_best", [near.join("; ")]).finish()
}

fn planned_facts(p: &PlannedAge) -> Facts {
    facts! {
        "age_hours": p.age_hours, "verdict": word(&p.verdict), "cost_per_hour": p.cost.cost_per_hour,
        "limit_hours": p.limit_hours, "ceiling_hours": p.ceiling_hours, "optimum_hours": p.optimum_hours,
        "near_best": p.near_best.iter().map(Band::words).collect::<Vec<_>>(),
        "saving_against_todays_rule_percent": p.saving_against_todays_rule.map(|s| s.percent),
        "saving_against_run_to_failure_percent": p.saving_against_run_to_failure.map(|s| s.percent),
        "failure_probability": p.cost.failure_probability, "past_records": p.past_records,
        "objective": p.objective.as_str(), "sentence": p.sentence,
    }
}

result_class! {
    /// The planned age of a lamp class and what it costs; made by `planned_age`. No age in it passes the limit.
    ///
    /// Under another objective than the cost per hour, every cost in it is in the amounts of that objective: money at its
    /// even discounted rate, or dark minutes.
    PyPlannedAge holds PlannedAge as "PlannedAge";
    save |p| saved::save(PLANNED, p); load |t| saved::load(PLANNED, t);
    table |p| planned_table(p); show planned_facts;
    {
        /// Why the age stands where it does, one word.
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// What the age is chosen by: "cost_per_hour", "discounted_cost" or "dark_minutes".
        #[getter]
        fn objective(&self) -> &'static str {
            self.0.objective.as_str()
        }

        /// Under a discount, what all changes to come in a socket are worth on the day it gets a new lamp, that lamp not
        /// counted; None under another objective.
        #[getter]
        fn present_value(&self) -> Option<f64> {
            self.0.present_value()
        }

        /// Under dark minutes, the share of the time asked for that a screen has light; None under another objective.
        #[getter]
        fn availability(&self) -> Option<f64> {
            self.0.availability()
        }

        /// The advice: whole hours, rounded down, at most the limit.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// Long-run cost per lamp hour at that age.
        #[getter]
        fn cost_per_hour(&self) -> f64 {
            self.0.cost.cost_per_hour
        }

        /// Probability to fail before that age.
        #[getter]
        fn failure_probability(&self) -> f64 {
            self.0.cost.failure_probability
        }

        /// Mean age at change under that rule, hours.
        #[getter]
        fn mean_age_at_change_hours(&self) -> f64 {
            self.0.cost.mean_age_at_change_hours
        }

        /// Age of least cost not past the limit or the records, before rounding.
        #[getter]
        fn optimum_hours(&self) -> f64 {
            self.0.optimum_hours
        }

        /// Cost per hour there.
        #[getter]
        fn optimum_cost_per_hour(&self) -> f64 {
            self.0.optimum_cost_per_hour
        }

        /// The limit in force, hours.
        #[getter]
        fn limit_hours(&self) -> f64 {
            self.0.limit_hours
        }

        /// The age that the search did not pass: the limit, or the oldest lamp at risk if earlier.
        #[getter]
        fn ceiling_hours(&self) -> f64 {
            self.0.ceiling_hours
        }

        /// Age of the oldest lamp at risk, hours; None where it was not given.
        #[getter]
        fn oldest_at_risk_hours(&self) -> Option<f64> {
            self.0.oldest_at_risk_hours
        }

        /// Whether the advised age lies past the oldest lamp at risk, where the model is an opinion.
        #[getter]
        fn past_records(&self) -> bool {
            self.0.past_records
        }

        /// Stretches of ages whose cost is near the least: (from, to), hours, cut at the limit.
        #[getter]
        fn near_best(&self) -> Fixed<(f64, f64)> {
            self.0.near_best.iter().map(|b| (b.from_hours, b.to_hours)).collect()
        }

        /// What the two ends of each such stretch are: "exact" where the cost passes the bound, "at_limit" or "records_end"
        /// where the stretch is cut.
        #[getter]
        fn near_best_ends(&self) -> Fixed<(String, String)> {
            self.0.near_best.iter().map(|b| (word(&b.from_end), word(&b.to_end))).collect()
        }

        /// Cost per hour under today's rule, held to the limit; None without one.
        #[getter]
        fn todays_rule_cost_per_hour(&self) -> Option<f64> {
            self.0.todays_rule.as_ref().map(|p| p.cost_per_hour)
        }

        /// Cost per hour if lamps ran to failure, only to compare; None where it does not settle.
        #[getter]
        fn run_to_failure_cost_per_hour(&self) -> Option<f64> {
            self.0.run_to_failure_cost_per_hour
        }

        /// Saving per hour against today's rule; negative where today's rule is cheaper.
        #[getter]
        fn saving_against_todays_rule(&self) -> Option<f64> {
            self.0.saving_against_todays_rule.map(|s| s.per_hour)
        }

        /// Saving per hour against running to failure.
        #[getter]
        fn saving_against_run_to_failure(&self) -> Option<f64> {
            self.0.saving_against_run_to_failure.map(|s| s.per_hour)
        }
    }
}

fn curve_facts(c: &[CostPoint]) -> Facts {
    let least = c.iter().min_by(|a, b| a.cost_per_hour.total_cmp(&b.cost_per_hour));
    facts! {
        "ages": c.len(), "least_cost_per_hour": least.map(|p| p.cost_per_hour),
        "at_age_hours": least.map(|p| p.age_hours),
    }
}

result_class! {
    /// Long-run cost per lamp hour by planned age, and what each cause brings; made by `cost_curve`. Under another
    /// objective, the same in its amounts.
    PyCostCurve holds Vec<CostPoint> as "CostCurve";
    save |c| saved::save(CURVE, c); load |t| saved::load(CURVE, t); table |c| points(c).finish(); show |c| curve_facts(c);
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// The planned ages, hours, (n,).
        #[getter]
        fn age_hours<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            super::arrays::array(py, &self.0.iter().map(|p| p.age_hours).collect::<Vec<_>>())
        }

        /// Cost per hour at each age, (n,).
        #[getter]
        fn cost_per_hour<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            super::arrays::array(py, &self.0.iter().map(|p| p.cost_per_hour).collect::<Vec<_>>())
        }
    }
}

fn ends(range: Range) -> (f64, f64) {
    (range.low, range.high)
}

fn interval_table(i: &AgeInterval) -> Result<RecordBatch> {
    let mut rows = vec![
        ("age_hours", ends(i.age_hours)),
        ("best_cost_per_hour", ends(i.best_cost_per_hour)),
        ("cost_per_hour", ends(i.cost_per_hour)),
    ];
    rows.extend(i.saving_per_hour.map(|r| ("saving_per_hour", ends(r))));
    Frame::default()
        .texts("quantity", rows.iter().map(|r| r.0))
        .numbers("low", rows.iter().map(|r| r.1.0))
        .numbers("high", rows.iter().map(|r| r.1.1))
        .finish()
}

fn interval_facts(i: &AgeInterval) -> Facts {
    let range = |r: Range| json!([r.low, r.high]);
    facts! {
        "age_hours": range(i.age_hours), "level": i.level, "method": word(&i.method), "draws": i.draws,
        "failed": i.failed, "cost_per_hour": range(i.cost_per_hour), "share_at_limit": i.share_at_limit,
        "share_at_records_end": i.share_at_records_end,
        "saving_per_hour": i.saving_per_hour.map(range), "beats_todays_rule": i.beats_todays_rule,
    }
}

result_class! {
    /// What the draws make of the planned age; made by `planned_age_interval`. No age in it passes the limit.
    PyAgeInterval holds AgeInterval as "AgeInterval";
    save |i| saved::save(INTERVAL, i); load |t| saved::load(INTERVAL, t); table interval_table; show interval_facts;
    {
        /// Level of every interval here.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// How the worlds were drawn.
        #[getter]
        fn method(&self) -> String {
            word(&self.0.method)
        }

        /// Draws that gave an answer.
        #[getter]
        fn draws(&self) -> usize {
            self.0.draws
        }

        /// Draws that gave none.
        #[getter]
        fn failed(&self) -> usize {
            self.0.failed
        }

        /// Best age under the limit, whole hours rounded down: (low, high).
        #[getter]
        fn age_hours(&self) -> (f64, f64) {
            ends(self.0.age_hours)
        }

        /// Cost per hour at the advised age: (low, high).
        #[getter]
        fn cost_per_hour(&self) -> (f64, f64) {
            ends(self.0.cost_per_hour)
        }

        /// Share of draws whose cost still falls at the limit; 0 where the records end before it.
        #[getter]
        fn share_at_limit(&self) -> f64 {
            self.0.share_at_limit
        }

        /// Share of draws whose cost still falls where the records end, short of the limit; 0 where they reach the limit.
        #[getter]
        fn share_at_records_end(&self) -> f64 {
            self.0.share_at_records_end
        }

        /// Cost per hour of today's rule minus that of the advised age: (low, high); None without a rule.
        #[getter]
        fn saving_per_hour(&self) -> Option<(f64, f64)> {
            self.0.saving_per_hour.map(ends)
        }

        /// Share of draws in which the advised age costs less than today's rule.
        #[getter]
        fn beats_todays_rule(&self) -> Option<f64> {
            self.0.beats_todays_rule
        }
    }
}

/// The age that minimises the long-run cost per hour among the ages the limit allows.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     No age in the answer passes it.
/// todays_rule_hours : float, optional
///     The age at which lamps are changed today, hours, to compare with.
/// near_percent : float
///     Ages count as near the best up to this much more cost, percent.
/// least_saving_percent : float
///     An earlier change than at the limit is advised only if it saves at least this much, percent.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given. Today's rule
///     stays where it lies past that age and costs less than the age that would be advised (`todays_rule_stays`).
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit).
/// objective : Discount or DarkMinutes, optional
///     What the age is chosen by; None for the cost per hour.
///
/// Returns
/// -------
/// PlannedAge
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range, and advice past the records without a reason.
/// RefusedError
///     Where no age has a finite cost, or the best one lies below one hour.
///
/// Examples
/// --------
/// A shape of 2 and a failure that costs three times a planned change: 0.7379 of the scale (the standard result).
///
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=3000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
/// >>> relamp.planned_age(world, limit).age_hours
/// 7379.0
///
/// With money that loses 5 percent a year the change waits a little; in dark time it depends on the minutes alone.
///
/// >>> later = relamp.discount(rate_per_year=0.05, hours_per_year=4000.0)
/// >>> relamp.planned_age(world, limit, objective=later).age_hours
/// 7492.0
/// >>> dark = relamp.dark_minutes(60.0, burst=600.0)
/// >>> relamp.planned_age(world, limit, objective=dark).age_hours
/// 3364.0
#[pyfunction]
#[pyo3(signature = (world, limit, *, todays_rule_hours=None, near_percent=2.0, least_saving_percent=0.1,
    oldest_at_risk_hours=None, extrapolate_because=None, objective=None))]
pub(super) fn planned_age(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::todays_rule_hours)] todays_rule_hours: Option<f64>,
    #[pyo3(from_py_with = args::near_percent)] near_percent: f64,
    #[pyo3(from_py_with = args::least_saving_percent)] least_saving_percent: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPlannedAge> {
    let options = AgeOptions {
        todays_rule_hours,
        near_percent,
        least_saving_percent,
        oldest_at_risk_hours,
        extrapolate_because,
        objective: read_objective(objective)?,
    };
    let (world, limit) = (world.get(), &limit.get().0);
    Ok(PyPlannedAge(work(py, None, |_| core_planned_age(&world.0, limit, &options))?))
}

/// What the draws make of the planned age: intervals of age, cost and saving.
///
/// Parameters
/// ----------
/// draws : Draws
///     Possible worlds, as `CauseFits.draws` gives them; 20 or more.
/// limit : HourLimit
///     No age in the answer passes it.
/// level : float
///     Level of every interval, above 0 and below 1.
/// todays_rule_hours : float, optional
///     The age at which lamps are changed today, hours, to compare with.
/// near_percent : float
///     Ages count as near the best up to this much more cost, percent.
/// least_saving_percent : float
///     An earlier change than at the limit is advised only if it saves at least this much, percent.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit).
/// objective : Discount or DarkMinutes, optional
///     What the age is chosen by; None for the cost per hour.
/// parts : CostParts, optional
///     Ranges of costs; the estimates take the middle and each draw costs of its own, in place of those of the draws.
/// seed : int
///     Seed of the drawn costs, from 0.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// AgeInterval
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range, and advice past the records without a reason.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     For fewer than 20 draws, or too few that gave an answer.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> ages = [100.0 + 7.0 * i for i in range(60)]
/// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
/// >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
/// >>> draws = relamp.fit_causes(tally).draws(tally, costs, n=40, seed=1)
/// >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
/// >>> interval = relamp.planned_age_interval(draws, limit, level=0.9, todays_rule_hours=450.0)
/// >>> low, high = interval.age_hours
/// >>> low <= high <= limit.hours, interval.beats_todays_rule is not None
/// (True, True)
///
/// Where costs are known to ranges only:
///
/// >>> dark = relamp.dark_minutes(45.0, burst=360.0, dim=90.0)
/// >>> parts = relamp.cost_parts(
/// ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=(1.0, 9.0), dark=dark
/// ... )
/// >>> relamp.planned_age_interval(draws, limit, level=0.9, parts=parts, seed=1).draws
/// 40
#[pyfunction]
#[pyo3(signature = (draws, limit, *, level=0.95, todays_rule_hours=None, near_percent=2.0, least_saving_percent=0.1,
    oldest_at_risk_hours=None, extrapolate_because=None, objective=None, parts=None, seed=0, progress=None))]
pub(super) fn planned_age_interval(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyDraws>)] draws: &Bound<'_, PyDraws>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::todays_rule_hours)] todays_rule_hours: Option<f64>,
    #[pyo3(from_py_with = args::near_percent)] near_percent: f64,
    #[pyo3(from_py_with = args::least_saving_percent)] least_saving_percent: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
    parts: Option<&Bound<'_, PyCostParts>>,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyAgeInterval> {
    let options = AgeOptions {
        todays_rule_hours,
        near_percent,
        least_saving_percent,
        oldest_at_risk_hours,
        extrapolate_because,
        objective: read_objective(objective)?,
    };
    let (draws, limit) = (draws.get(), &limit.get().0);
    let parts = parts.map(|p| &p.get().0);
    Ok(PyAgeInterval(work(py, progress, |run| match parts {
        Some(parts) => core_interval(&PricedDraws::new(&draws.0, parts, seed), limit, &options, level, run),
        None => core_interval(&draws.0, limit, &options, level, run),
    })?))
}

/// The ages asked about; without them 200 even steps up to the limit.
pub(super) fn ages_or_even(ages_hours: Option<&Bound<'_, PyAny>>, limit: &HourLimit) -> PyResult<Vec<f64>> {
    let ages = match ages_hours {
        Some(ages) => numbers(ages, At { input: "ages_hours", column: "" })?.all()?,
        None => (1..=200_u32).map(|i| limit.hours() * f64::from(i) / 200.0).collect(),
    };
    if ages.is_empty() {
        return Err(refuse("python.empty", "no ages", "ages_hours", "", "0 ages", "at least one age").into());
    }
    Ok(ages)
}

/// Long-run cost per lamp hour at each of the given planned ages, and what each cause brings.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     An age past it is refused.
/// ages_hours : array-like, optional
///     Planned ages, hours; without it 200 even steps up to the limit.
/// objective : Discount or DarkMinutes, optional
///     What is counted per hour; None for the cost.
///
/// Returns
/// -------
/// CostCurve
///
/// Raises
/// ------
/// InputError
///     For no ages, and ages that are not numbers.
/// DomainError
///     For an age that is not above 0.
/// LimitError
///     For ages past the limit, each by its row.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(1.0, burst=1.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> len(relamp.cost_curve(world, limit)), len(relamp.cost_curve(world, limit, ages_hours=[500.0, 900.0]))
/// (200, 2)
///
/// At an even rate the minutes of failures come once in 1,000 h, whatever the planned age.
///
/// >>> dark = relamp.dark_minutes(30.0, burst=240.0)
/// >>> curve = relamp.cost_curve(world, limit, ages_hours=[500.0, 2000.0], objective=dark)
/// >>> curve.frame()["burst_cost_per_hour"].round(6).to_list()
/// [0.24, 0.24]
#[pyfunction]
#[pyo3(signature = (world, limit, *, ages_hours=None, objective=None))]
pub(super) fn cost_curve(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    ages_hours: Option<&Bound<'_, PyAny>>,
    objective: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyCostCurve> {
    let (world, limit) = (world.get(), &limit.get().0);
    let ages = ages_or_even(ages_hours, limit)?;
    let objective = read_objective(objective)?;
    Ok(PyCostCurve(work(py, None, |_| objective_curve(&world.0, &objective, &ages, limit))?))
}
