//! Changes at a visit that happens anyway.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{
    Reach, VisitAge, VisitCost, VisitTerms, best_visit_age as core_best, best_visit_ages as core_both,
    visit_rule_cost as core_cost,
};

use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyWorld;

const COST: Format = Format::new("visit_cost", 1);
const AGE: Format = Format::new("visit_age", 1);

fn cost_table(c: &VisitCost) -> Result<RecordBatch> {
    let each = || std::iter::once(c);
    Frame::default()
        .numbers("visit_age_hours", each().map(|c| c.visit_age_hours))
        .numbers("age_hours", each().map(|c| c.age_hours))
        .numbers("cost_per_hour", each().map(|c| c.cost_per_hour))
        .numbers("at_visit", each().map(|c| c.at_visit))
        .numbers("at_age", each().map(|c| c.at_age))
        .numbers("failed", each().map(|c| c.failures.iter().sum()))
        .numbers("mean_age_at_change_hours", each().map(|c| c.mean_age_at_change_hours))
        .finish()
}

fn age_table(v: &VisitAge) -> Result<RecordBatch> {
    cost_table(&v.cost)
}

fn cost_facts(c: &VisitCost) -> Facts {
    facts! {
        "visit_age_hours": c.visit_age_hours, "age_hours": c.age_hours, "cost_per_hour": c.cost_per_hour,
        "at_visit": c.at_visit, "at_age": c.at_age, "failures": c.failures,
        "mean_age_at_change_hours": c.mean_age_at_change_hours,
    }
}

result_class! {
    /// What changing at a visit from one age on, and without one at a later age, costs; made by `visit_rule_cost`.
    PyVisitCost holds VisitCost as "VisitCost";
    save |c| saved::save(COST, c); load |t| saved::load(COST, t); table cost_table; show cost_facts;
    {
        /// Age from which a visit is used, hours.
        #[getter]
        fn visit_age_hours(&self) -> f64 {
            self.0.visit_age_hours
        }

        /// Age at which a lamp is changed without waiting for a visit, hours.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// Cost per lamp hour.
        #[getter]
        fn cost_per_hour(&self) -> f64 {
            self.0.cost_per_hour
        }

        /// Share of lamps changed at a visit.
        #[getter]
        fn at_visit(&self) -> f64 {
            self.0.at_visit
        }

        /// Share that reach the later age.
        #[getter]
        fn at_age(&self) -> f64 {
            self.0.at_age
        }

        /// Share that fail, by cause in the order of the world.
        #[getter]
        fn failures(&self) -> Fixed<f64> {
            Fixed(self.0.failures.clone())
        }

        /// Mean age at change, hours.
        #[getter]
        fn mean_age_at_change_hours(&self) -> f64 {
            self.0.mean_age_at_change_hours
        }
    }
}

fn age_facts(v: &VisitAge) -> Facts {
    facts! {
        "visit_age_hours": v.visit_age_hours, "age_hours": v.cost.age_hours, "cost_per_hour": v.cost.cost_per_hour,
        "unused_cost_per_hour": v.unused_cost_per_hour, "unused_age_hours": v.unused_age_hours, "at_visit": v.cost.at_visit, "at_age": v.cost.at_age,
        "verdict": word(&v.verdict), "ceiling_hours": v.ceiling_hours, "past_records": v.past_records(),
        "sentence": v.sentence,
    }
}

result_class! {
    /// The age from which to change lamps at visits; made by `best_visit_age`. No age in it passes the limit, nor the
    /// records unless a reason lets it.
    PyVisitAge holds VisitAge as "VisitAge";
    save |v| saved::save(AGE, v); load |t| saved::load(AGE, t); table age_table; show age_facts;
    {
        /// Whether the use of visits pays: "visits_pay" or "no_visit_pays".
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// The age that no answer passes: the limit, or the oldest lamp at risk if earlier, hours.
        #[getter]
        fn ceiling_hours(&self) -> f64 {
            self.0.ceiling_hours
        }

        /// Whether the later age lies past the oldest lamp at risk, where the model is an opinion.
        #[getter]
        fn past_records(&self) -> bool {
            self.0.past_records()
        }

        /// The advice: whole hours, rounded down; the later age itself where visits are best left unused.
        #[getter]
        fn visit_age_hours(&self) -> f64 {
            self.0.visit_age_hours
        }

        /// The same before rounding, hours.
        #[getter]
        fn optimum_hours(&self) -> f64 {
            self.0.optimum_hours
        }

        /// What the advice costs.
        #[getter]
        fn cost(&self) -> PyVisitCost {
            PyVisitCost(self.0.cost.clone())
        }

        /// Cost per lamp hour where visits are not used.
        #[getter]
        fn unused_cost_per_hour(&self) -> f64 {
            self.0.unused_cost_per_hour
        }

        /// The best age without visits, hours, at which that cost stands where both ages were searched; None where the
        /// later age was given.
        #[getter]
        fn unused_age_hours(&self) -> Option<f64> {
            self.0.unused_age_hours
        }
    }
}

/// Long-run cost of changing lamps at an age, from an earlier one on at a visit that happens anyway, or at failure.
///
/// Visits come at random and without memory, or with `evenly` at equal distances. At random, with S(x) the
/// reliability, from the visit age v on times
/// exp(-(x - v) / m) for visits every m hours, the cost per hour is
/// [c_p V + (c_p + c_v) S(T) + sum_j ((c_j + c_v) F_j - B_j)] / integral of S over (0, T), where V is the share changed
/// at a visit, F_j the share that fails by cause j, c_v the cost of a visit for one lamp alone and B_j the money back
/// under a warranty. At equal distances the same is taken over where in a distance a lamp is fitted, in the long
/// run. The
/// lamp stands alone at its site; `play_fleet` plays out lamps that share visits.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     An age past it is refused.
/// visit_age_hours : float
///     Age from which a visit is used, hours: 0 to `age_hours`.
/// age_hours : float
///     Age at which a lamp is changed without waiting for a visit, hours.
/// mean_hours_between_visits : float
///     Mean burning hours from one visit to the next, above 0.
/// visit_cost : float
///     Cost of a visit made for one lamp alone, beside its change; 0 where the costs of a change hold it.
/// evenly : bool
///     Whether the visits come at equal distances, such as a round every month; by default at random.
///
/// Returns
/// -------
/// VisitCost
///
/// Raises
/// ------
/// InputError
///     For visits without a distance, a cost that is none, and a visit age past the age.
/// DomainError
///     For an age that is not above 0.
/// LimitError
///     For an age past the limit.
/// RefusedError
///     For visits at equal distances that are thousands in a life or far rarer than a life.
///
/// Examples
/// --------
/// Where visits are rare it is the rule of one age.
///
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1.0, burst=5.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> rare = relamp.visit_rule_cost(
/// ...     world, limit, visit_age_hours=300.0, age_hours=500.0, mean_hours_between_visits=1e15, visit_cost=0.0
/// ... )
/// >>> often = relamp.visit_rule_cost(
/// ...     world, limit, visit_age_hours=300.0, age_hours=500.0, mean_hours_between_visits=100.0, visit_cost=0.0
/// ... )
/// >>> round(rare.at_age, 3), often.at_visit > 0.8
/// (0.882, True)
///
/// The same visits as a round every 100 h: whatever is fitted, the next visit after 300 h is at most 100 h away.
///
/// >>> even = relamp.visit_rule_cost(
/// ...     world, limit, visit_age_hours=300.0, age_hours=500.0, mean_hours_between_visits=100.0, visit_cost=0.0,
/// ...     evenly=True,
/// ... )
/// >>> even.at_age, even.mean_age_at_change_hours < 400.0
/// (0.0, True)
#[pyfunction]
#[pyo3(signature = (world, limit, *, visit_age_hours, age_hours, mean_hours_between_visits, visit_cost,
    evenly=false))]
pub(super) fn visit_rule_cost(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::from_visit_age)] visit_age_hours: f64,
    #[pyo3(from_py_with = args::age_hours)] age_hours: f64,
    #[pyo3(from_py_with = args::mean_hours_between_visits)] mean_hours_between_visits: f64,
    #[pyo3(from_py_with = args::visit_cost)] visit_cost: f64,
    evenly: bool,
) -> PyResult<PyVisitCost> {
    let terms = VisitTerms { mean_hours_between_visits, visit_cost, even: evenly };
    let (world, limit) = (world.get(), &limit.get().0);
    Ok(PyVisitCost(work(py, None, |_| core_cost(&world.0, &terms, visit_age_hours, age_hours, limit))?))
}

/// The age of least cost from which to change lamps at visits that happen anyway, beside a later age or with it.
///
/// The cost is that of `visit_rule_cost`.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     An age past it is refused.
/// age_hours : float, optional
///     Age at which a lamp is changed without waiting for a visit, hours. Where the records end before it, lamps are
///     changed there. Without it both ages are searched: the pair of least cost, beside the best age without visits.
/// mean_hours_between_visits : float
///     Mean burning hours from one visit to the next, above 0.
/// visit_cost : float
///     Cost of a visit made for one lamp alone, beside its change; 0 where the costs of a change hold it.
/// evenly : bool
///     Whether the visits come at equal distances, such as a round every month; by default at random.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit), in words.
///
/// Returns
/// -------
/// VisitAge
///
/// Raises
/// ------
/// InputError
///     For visits without a distance, a cost that is none, an age of the records that is not above 0, and a blank
///     reason.
/// DomainError
///     For an age that is not above 0.
/// LimitError
///     For an age past the limit.
/// RefusedError
///     For visits at equal distances that are thousands in a life or far rarer than a life.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1.0, burst=5.0))
/// >>> limit = relamp.hour_limit(maximum_hours=9000.0, source="invented data sheet")
/// >>> best = relamp.best_visit_age(world, limit, age_hours=9000.0, mean_hours_between_visits=500.0, visit_cost=0.0)
/// >>> best.visit_age_hours
/// 268.0
/// >>> best.cost.cost_per_hour < 0.75 * best.unused_cost_per_hour
/// True
///
/// Where no lamp of the records burned past 700 h, lamps are changed there at the latest.
///
/// >>> held = relamp.best_visit_age(
/// ...     world, limit, age_hours=9000.0, mean_hours_between_visits=500.0, visit_cost=0.0, oldest_at_risk_hours=700.0
/// ... )
/// >>> held.cost.age_hours
/// 700.0
///
/// The same visits at equal distances: a lamp fitted at one is changed at the first or second after it.
///
/// >>> evenly = relamp.best_visit_age(
/// ...     world, limit, age_hours=9000.0, mean_hours_between_visits=500.0, visit_cost=0.0, evenly=True
/// ... )
/// >>> evenly.cost.cost_per_hour < best.cost.cost_per_hour
/// True
///
/// Both ages: where a visit for one lamp alone is dear, lamps wait longer for one.
///
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> pair = relamp.best_visit_age(world, limit, mean_hours_between_visits=300.0, visit_cost=300.0)
/// >>> pair.visit_age_hours < 400.0 < 600.0 < pair.cost.age_hours
/// True
#[pyfunction]
#[pyo3(signature = (world, limit, *, age_hours=None, mean_hours_between_visits, visit_cost, evenly=false,
    oldest_at_risk_hours=None, extrapolate_because=None))]
pub(super) fn best_visit_age(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::later_age)] age_hours: Option<f64>,
    #[pyo3(from_py_with = args::mean_hours_between_visits)] mean_hours_between_visits: f64,
    #[pyo3(from_py_with = args::visit_cost)] visit_cost: f64,
    evenly: bool,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
) -> PyResult<PyVisitAge> {
    let reach = Reach { oldest_at_risk_hours, extrapolate_because };
    let terms = VisitTerms { mean_hours_between_visits, visit_cost, even: evenly };
    let (world, limit) = (world.get(), &limit.get().0);
    let found = work(py, None, |_| match age_hours {
        Some(age) => core_best(&world.0, &terms, age, limit, &reach),
        None => core_both(&world.0, &terms, limit, &reach),
    });
    Ok(PyVisitAge(found?))
}
