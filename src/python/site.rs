//! Changes of all lamps of a site when one of them reaches an age.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{
    Band, Reach, SiteAge, SiteCost, SiteTerms, site_age as core_site_age, site_costs as core_site_costs,
};

use super::arrays::array;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::policy::{ages_or_even, word};
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyWorld;

const COSTS: Format = Format::new("site_costs", 1);
const AGE: Format = Format::new("site_age", 1);

fn costs_table(costs: &[SiteCost]) -> Result<RecordBatch> {
    let mut endings: Vec<_> = costs.iter().flat_map(|c| c.by_ending.iter().map(|p| p.ending)).collect();
    endings.sort();
    endings.dedup();
    let mut frame = Frame::default()
        .numbers("age_hours", costs.iter().map(|c| c.age_hours))
        .numbers("cost_per_hour", costs.iter().map(|c| c.cost_per_hour))
        .numbers("together_cost_per_hour", costs.iter().map(|c| c.together_cost_per_hour))
        .numbers("used_worth", costs.iter().map(|c| c.used_worth))
        .numbers("hours_between", costs.iter().map(|c| c.hours_between))
        .numbers("failures", costs.iter().map(|c| c.failures));
    for ending in endings {
        let of = |c: &SiteCost| c.by_ending.iter().find(|p| p.ending == ending).map(|p| p.cost_per_hour);
        frame = frame.numbers_or_null(&format!("{ending}_cost_per_hour"), costs.iter().map(of));
    }
    frame.finish()
}

fn costs_facts(costs: &[SiteCost]) -> Facts {
    let least = costs.iter().min_by(|a, b| a.cost_per_hour.total_cmp(&b.cost_per_hour));
    facts! {
        "ages": costs.len(), "least_cost_per_hour": least.map(|c| c.cost_per_hour),
        "at_age_hours": least.map(|c| c.age_hours),
    }
}

result_class! {
    /// Long-run cost per lamp hour by the age at which all lamps of a site are changed; made by `site_costs`.
    PySiteCosts holds Vec<SiteCost> as "SiteCosts";
    save |c| saved::save(COSTS, c); load |t| saved::load(COSTS, t);
    table |c| costs_table(c); show |c| costs_facts(c);
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// The ages, hours, (n,).
        #[getter]
        fn age_hours<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.iter().map(|c| c.age_hours).collect::<Vec<_>>())
        }

        /// Cost per lamp hour at each age, (n,).
        #[getter]
        fn cost_per_hour<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.iter().map(|c| c.cost_per_hour).collect::<Vec<_>>())
        }

        /// Mean hours from one change of all lamps to the next at each age, (n,).
        #[getter]
        fn hours_between<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.iter().map(|c| c.hours_between).collect::<Vec<_>>())
        }
    }
}

fn age_facts(s: &SiteAge) -> Facts {
    facts! {
        "age_hours": s.age_hours, "verdict": word(&s.verdict), "lamps": s.terms.lamps, "visit_cost": s.terms.visit_cost,
        "cost_per_hour": s.cost.cost_per_hour, "optimum_hours": s.optimum_hours,
        "alone_age_hours": s.alone_age_hours, "alone_cost_per_hour": s.alone_cost_per_hour,
        "near_best": s.near_best.iter().map(Band::words).collect::<Vec<_>>(),
        "limit_hours": s.limit_hours, "ceiling_hours": s.ceiling_hours, "past_records": s.past_records(),
        "sentence": s.sentence,
    }
}

result_class! {
    /// The age of a lamp at which all lamps of its site are changed; made by `site_age`. No age in it passes the
    /// limit, nor
    /// the records unless a reason lets it.
    PySiteAge holds SiteAge as "SiteAge";
    save |s| saved::save(AGE, s); load |t| saved::load(AGE, t);
    table |s| costs_table(std::slice::from_ref(&s.cost)); show age_facts;
    {
        /// Whether such changes pay: "together_pays" or "alone_pays".
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// The best age of the site: whole hours, rounded down, also where it does not pay.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// Long-run cost per lamp hour at that age, visits and all.
        #[getter]
        fn cost_per_hour(&self) -> f64 {
            self.0.cost.cost_per_hour
        }

        /// Mean hours from one change of all lamps to the next at that age.
        #[getter]
        fn hours_between(&self) -> f64 {
            self.0.cost.hours_between
        }

        /// Age of least cost, before rounding, hours.
        #[getter]
        fn optimum_hours(&self) -> f64 {
            self.0.optimum_hours
        }

        /// Best age of each lamp by itself, a visit for every change, hours.
        #[getter]
        fn alone_age_hours(&self) -> f64 {
            self.0.alone_age_hours
        }

        /// Cost per lamp hour of that.
        #[getter]
        fn alone_cost_per_hour(&self) -> f64 {
            self.0.alone_cost_per_hour
        }

        /// Stretches of ages that cost at most 1 % more than the least: (from, to), hours, cut at the limit.
        #[getter]
        fn near_best(&self) -> Fixed<(f64, f64)> {
            self.0.near_best.iter().map(|b| (b.from_hours, b.to_hours)).collect()
        }

        /// What the two ends of each such stretch are: "exact" where the cost passes the bound, "at_limit" or
        /// "records_end"
        /// where the stretch is cut.
        #[getter]
        fn near_best_ends(&self) -> Fixed<(String, String)> {
            self.0.near_best.iter().map(|b| (word(&b.from_end), word(&b.to_end))).collect()
        }

        /// Ages at which the cost stops falling, as (hours, cost per lamp hour).
        #[getter]
        fn minima(&self) -> Fixed<(f64, f64)> {
            Fixed(self.0.minima.clone())
        }

        /// The age that no answer passes: the limit, or the oldest lamp at risk if earlier, hours.
        #[getter]
        fn ceiling_hours(&self) -> f64 {
            self.0.ceiling_hours
        }

        /// Whether the age lies past the oldest lamp at risk, where the model is an opinion.
        #[getter]
        fn past_records(&self) -> bool {
            self.0.past_records()
        }
    }
}

fn terms(lamps: u64, visit_cost: f64) -> SiteTerms {
    // What does not fit is refused by its range.
    SiteTerms { lamps: u32::try_from(lamps).unwrap_or(u32::MAX), visit_cost }
}

/// Long-run cost per lamp hour of a site at given ages, all its lamps changed when one of them reaches the age.
///
/// A failed lamp is changed by itself before, and its successor counts from 0. One visit serves a change of all, and
/// each
/// failure needs one. All screens of the site burn the same hours. One lamp is the rule of one age; with very many
/// it is
/// `block_costs` at an interval of the age. `play_fleet` plays the same rule out as "site_together".
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs without the visit.
/// limit : HourLimit
///     An age past it is refused.
/// lamps : int
///     Screens of the site, each with one lamp: 1 to 1,000.
/// visit_cost : float
///     Cost of a visit for a change, whatever the number of lamps changed, 0 or more.
/// ages_hours : array-like
///     Ages of the lamp that brings the change of all, hours.
///
/// Returns
/// -------
/// SiteCosts
///
/// Raises
/// ------
/// InputError
///     For no lamp or more than 1,000, a cost that is none, no ages, and what is not a number, NaN included.
/// DomainError
///     For an age that is not above 0.
/// RefusedError
///     For a life made of steps, or that reaches below age 0.
/// LimitError
///     For ages past the limit, each by its row, and an age that next to no lamp reaches.
///
/// Examples
/// --------
/// At an even rate failures and their visits bring 5.5 an hour, whatever is changed before.
///
/// >>> import relamp
/// >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> costs = relamp.site_costs(world, limit, lamps=4, visit_cost=300.0, ages_hours=[500.0, 1000.0])
/// >>> costs.frame()["burst_cost_per_hour"].round(6).to_list()
/// [5.5, 5.5]
/// >>> bool(costs.hours_between[0] > 500.0)
/// True
#[pyfunction]
#[pyo3(signature = (world, limit, *, lamps, visit_cost, ages_hours))]
pub(super) fn site_costs(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::lamps)] lamps: u64,
    #[pyo3(from_py_with = args::visit_cost)] visit_cost: f64,
    ages_hours: &Bound<'_, PyAny>,
) -> PyResult<PySiteCosts> {
    let (world, limit) = (world.get(), &limit.get().0);
    let ages = ages_or_even(Some(ages_hours), limit)?;
    let terms = terms(lamps, visit_cost);
    Ok(PySiteCosts(work(py, None, |_| core_site_costs(&world.0, &terms, &ages, limit))?))
}

/// The age of least long-run cost at which all lamps of a site are changed when one of them reaches it.
///
/// The cost is that of `site_costs`. It is compared with each lamp changed by its own best age, a visit for every
/// change.
/// `block_interval` answers for changes of all lamps at a fixed interval, whatever their age.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs without the visit.
/// limit : HourLimit
///     No lamp passes it.
/// lamps : int
///     Screens of the site, each with one lamp: 1 to 1,000.
/// visit_cost : float
///     Cost of a visit for a change, whatever the number of lamps changed, 0 or more.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit), in words.
///
/// Returns
/// -------
/// SiteAge
///
/// Raises
/// ------
/// InputError
///     For no lamp or more than 1,000, a cost or an age of the records that is none, and a blank reason.
/// RefusedError
///     For a best age below one hour, and a life made of steps or that reaches below age 0.
///
/// Examples
/// --------
/// A journey of 500 for four lamps at once, or for each.
///
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=4.0, scale=2000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(700.0, burst=4000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=3000.0, source="invented data sheet")
/// >>> best = relamp.site_age(world, limit, lamps=4, visit_cost=500.0)
/// >>> best.verdict, best.cost_per_hour < best.alone_cost_per_hour
/// ('together_pays', True)
///
/// Where nothing is saved by coming once, each lamp by itself costs less. Where no lamp of the records burned past
/// 700 h,
/// neither does the advice.
///
/// >>> relamp.site_age(world, limit, lamps=4, visit_cost=0.0).verdict
/// 'alone_pays'
/// >>> relamp.site_age(world, limit, lamps=4, visit_cost=500.0, oldest_at_risk_hours=700.0).age_hours
/// 700.0
#[pyfunction]
#[pyo3(signature = (world, limit, *, lamps, visit_cost, oldest_at_risk_hours=None, extrapolate_because=None))]
pub(super) fn site_age(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::lamps)] lamps: u64,
    #[pyo3(from_py_with = args::visit_cost)] visit_cost: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
) -> PyResult<PySiteAge> {
    let (world, limit) = (world.get(), &limit.get().0);
    let (terms, reach) = (terms(lamps, visit_cost), Reach { oldest_at_risk_hours, extrapolate_because });
    Ok(PySiteAge(work(py, None, |_| core_site_age(&world.0, &terms, limit, &reach))?))
}
