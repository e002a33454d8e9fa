//! Cost over a finite horizon, and changes of all lamps together.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{
    BlockCost, BlockInterval, HorizonAge, HorizonCost, Reach, block_costs as core_block_costs,
    block_interval as core_block_interval, horizon_age as core_horizon_age, horizon_costs as core_horizon_costs,
};

use super::arrays::array;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, numbers};
use super::policy::{ages_or_even, word};
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyWorld;

const HORIZON_COSTS: Format = Format::new("horizon_costs", 1);
const HORIZON_AGE: Format = Format::new("horizon_age", 1);
const BLOCK_COSTS: Format = Format::new("block_costs", 1);
const BLOCK_INTERVAL: Format = Format::new("block_interval", 1);

fn horizon_table(costs: &[HorizonCost]) -> Result<RecordBatch> {
    let mut endings: Vec<_> = costs.iter().flat_map(|c| c.by_ending.keys().copied()).collect();
    endings.sort();
    endings.dedup();
    let mut frame = Frame::default()
        .numbers("age_hours", costs.iter().map(|c| c.age_hours))
        .numbers("cost", costs.iter().map(|c| c.cost))
        .numbers("planned_cost", costs.iter().map(|c| c.planned_cost))
        .numbers("planned_changes", costs.iter().map(|c| c.planned_changes))
        .numbers("failures", costs.iter().map(|c| c.failures));
    for ending in endings {
        let of = |c: &HorizonCost| c.by_ending.get(&ending).copied();
        frame = frame.numbers_or_null(&format!("{ending}_cost"), costs.iter().map(of));
    }
    frame.finish()
}

fn horizon_costs_facts(costs: &[HorizonCost]) -> Facts {
    let least = costs.iter().min_by(|a, b| a.cost.total_cmp(&b.cost));
    facts! {
        "ages": costs.len(), "least_cost": least.map(|c| c.cost), "at_age_hours": least.map(|c| c.age_hours),
    }
}

result_class! {
    /// Cost of one screen to a horizon by planned age, and what each cause brings; made by `horizon_costs`.
    PyHorizonCosts holds Vec<HorizonCost> as "HorizonCosts";
    save |c| saved::save(HORIZON_COSTS, c); load |t| saved::load(HORIZON_COSTS, t);
    table |c| horizon_table(c); show |c| horizon_costs_facts(c);
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// The planned ages, hours, (n,).
        #[getter]
        fn age_hours<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.iter().map(|c| c.age_hours).collect::<Vec<_>>())
        }

        /// Mean cost to the horizon at each age, (n,).
        #[getter]
        fn cost<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.iter().map(|c| c.cost).collect::<Vec<_>>())
        }
    }
}

fn horizon_age_facts(a: &HorizonAge) -> Facts {
    facts! {
        "age_hours": a.age_hours, "verdict": word(&a.verdict), "cost": a.cost.cost, "horizon_hours": a.horizon_hours,
        "first_age_hours": a.first_age_hours, "limit_hours": a.limit_hours, "ceiling_hours": a.ceiling_hours,
        "past_records": a.past_records(), "optimum_hours": a.optimum_hours,
        "optimum_cost": a.optimum_cost, "ceiling_cost": a.ceiling_cost, "planned_changes": a.cost.planned_changes,
        "failures": a.cost.failures, "sentence": a.sentence,
    }
}

result_class! {
    /// The planned age of least cost over a horizon; made by `horizon_age`. No age in it passes the limit, nor the
    /// records unless a reason lets it.
    PyHorizonAge holds HorizonAge as "HorizonAge";
    save |a| saved::save(HORIZON_AGE, a); load |t| saved::load(HORIZON_AGE, t);
    table |a| horizon_table(std::slice::from_ref(&a.cost)); show horizon_age_facts;
    {
        /// Why the age stands where it does: "best_below_limit", "at_limit", "records_end" or "no_planned_change".
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// The advice: whole hours, at most the ceiling; of the two next to the optimum the cheaper.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// Mean cost to the horizon at that age.
        #[getter]
        fn cost(&self) -> f64 {
            self.0.cost.cost
        }

        /// Age of least cost, before rounding.
        #[getter]
        fn optimum_hours(&self) -> f64 {
            self.0.optimum_hours
        }

        /// Mean cost to the horizon there.
        #[getter]
        fn optimum_cost(&self) -> f64 {
            self.0.optimum_cost
        }

        /// Mean cost to the horizon of changing at the ceiling.
        #[getter]
        fn ceiling_cost(&self) -> f64 {
            self.0.ceiling_cost
        }

        /// The age that the search did not pass: the limit, or the oldest lamp at risk if earlier, hours.
        #[getter]
        fn ceiling_hours(&self) -> f64 {
            self.0.ceiling_hours
        }

        /// Whether the advised age lies past the oldest lamp at risk, where the model is an opinion.
        #[getter]
        fn past_records(&self) -> bool {
            self.0.past_records()
        }

        /// Ages next to the optimum at which the cost jumps, as (age in hours, cost just before it, cost at it).
        #[getter]
        fn jumps(&self) -> Fixed<(f64, f64, f64)> {
            self.0.jumps.iter().map(|j| (j.age_hours, j.cost_before, j.cost)).collect()
        }
    }
}

fn block_table(costs: &[BlockCost]) -> Result<RecordBatch> {
    let mut endings: Vec<_> = costs.iter().flat_map(|c| c.by_ending.iter().map(|p| p.ending)).collect();
    endings.sort();
    endings.dedup();
    let mut frame = Frame::default()
        .numbers("every_hours", costs.iter().map(|c| c.every_hours))
        .numbers("cost_per_hour", costs.iter().map(|c| c.cost_per_hour))
        .numbers("block_cost_per_hour", costs.iter().map(|c| c.block_cost_per_hour))
        .numbers("used_worth", costs.iter().map(|c| c.used_worth))
        .numbers("alone_cost_per_hour", costs.iter().map(|c| c.alone_cost_per_hour))
        .numbers("failures", costs.iter().map(|c| c.failures))
        .numbers("alone", costs.iter().map(|c| c.alone));
    for ending in endings {
        let of = |c: &BlockCost| c.by_ending.iter().find(|p| p.ending == ending).map(|p| p.cost_per_hour);
        frame = frame.numbers_or_null(&format!("{ending}_cost_per_hour"), costs.iter().map(of));
    }
    frame.finish()
}

fn block_costs_facts(costs: &[BlockCost]) -> Facts {
    let least = costs.iter().min_by(|a, b| a.cost_per_hour.total_cmp(&b.cost_per_hour));
    facts! {
        "intervals": costs.len(), "least_cost_per_hour": least.map(|c| c.cost_per_hour),
        "every_hours": least.map(|c| c.every_hours),
    }
}

result_class! {
    /// Long-run cost per lamp hour by the interval at which all lamps are changed together; made by `block_costs`.
    PyBlockCosts holds Vec<BlockCost> as "BlockCosts";
    save |c| saved::save(BLOCK_COSTS, c); load |t| saved::load(BLOCK_COSTS, t);
    table |c| block_table(c); show |c| block_costs_facts(c);
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// The intervals, burning hours of a screen, (n,).
        #[getter]
        fn every_hours<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.iter().map(|c| c.every_hours).collect::<Vec<_>>())
        }

        /// Cost per lamp hour at each interval, (n,).
        #[getter]
        fn cost_per_hour<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.iter().map(|c| c.cost_per_hour).collect::<Vec<_>>())
        }
    }
}

fn block_interval_facts(b: &BlockInterval) -> Facts {
    let advice = b.advice.as_ref();
    facts! {
        "every_hours": advice.map(|a| a.every_hours), "verdict": word(&b.verdict),
        "cost_per_hour": advice.map(|a| a.cost_per_hour), "optimum_hours": b.optimum_hours,
        "optimum_cost_per_hour": b.optimum_cost_per_hour,
        "without_blocks_cost_per_hour": b.without_blocks_cost_per_hour, "block_cost": b.block_cost,
        "limit_hours": b.limit_hours, "ceiling_hours": b.ceiling_hours, "past_records": b.past_records(),
        "sentence": b.sentence,
    }
}

result_class! {
    /// How often to change all lamps together; made by `block_interval`. No lamp in it passes the limit, nor the records
    /// unless a reason lets it.
    PyBlockInterval holds BlockInterval as "BlockInterval";
    save |b| saved::save(BLOCK_INTERVAL, b); load |t| saved::load(BLOCK_INTERVAL, t);
    table |b| block_table(b.advice.as_slice()); show block_interval_facts;
    {
        /// Whether such changes pay: "blocks_pay" or "no_block_pays".
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// The advice: burning hours from one change of all lamps to the next, whole hours; None where no block pays.
        #[getter]
        fn every_hours(&self) -> Option<f64> {
            self.0.advice.as_ref().map(|a| a.every_hours)
        }

        /// Long-run cost per lamp hour at that interval; None where no block pays.
        #[getter]
        fn cost_per_hour(&self) -> Option<f64> {
            self.0.advice.as_ref().map(|a| a.cost_per_hour)
        }

        /// Interval of least cost, before rounding, hours; None where the cost only falls with the interval.
        #[getter]
        fn optimum_hours(&self) -> Option<f64> {
            self.0.optimum_hours
        }

        /// Least cost per lamp hour of any interval.
        #[getter]
        fn optimum_cost_per_hour(&self) -> f64 {
            self.0.optimum_cost_per_hour
        }

        /// Cost per lamp hour of changing every lamp alone, at failure or at the ceiling.
        #[getter]
        fn without_blocks_cost_per_hour(&self) -> f64 {
            self.0.without_blocks_cost_per_hour
        }

        /// The age at which a lamp is changed alone: the limit, or the oldest lamp at risk if earlier, hours.
        #[getter]
        fn ceiling_hours(&self) -> f64 {
            self.0.ceiling_hours
        }

        /// Whether lamps are let burn past the oldest lamp at risk, where the model is an opinion.
        #[getter]
        fn past_records(&self) -> bool {
            self.0.past_records()
        }

        /// Intervals at which the cost stops falling, as (hours, cost per lamp hour).
        #[getter]
        fn minima(&self) -> Fixed<(f64, f64)> {
            Fixed(self.0.minima.clone())
        }
    }
}

/// Mean cost of one screen to a horizon, such as the hours until its conversion, at each of the given planned ages.
///
/// K(H) = sum over causes of the integral of [1 + M(H - u)] c(u) h(u) R(u) over u in (0, min(H, A)), plus c_p R(A)
/// [1 + M(H - A)] for an age A below the horizon, M the mean number of changes. The last lamp counts with what it
/// costs before the horizon. A planned change that falls on the horizon itself is not made. Barlow and Proschan
/// (1965), Mathematical Theory of Reliability, chapters 3 and 4.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     An age past it is refused.
/// horizon_hours : float
///     Burning hours of the screen to the horizon, above 0.
/// ages_hours : array-like
///     Planned ages, hours.
/// first_age_hours : float
///     Age of the lamp that burns today, hours: 0 for a new one. At or past the planned age it is changed at once.
///
/// Returns
/// -------
/// HorizonCosts
///
/// Raises
/// ------
/// InputError
///     For no ages, and for what is not a number, NaN included.
/// DomainError
///     For an age or a horizon that is not above 0, and a first age below 0 or that no lamp reaches.
/// RefusedError
///     For a life made of steps, or that reaches below age 0.
/// LimitError
///     For ages past the limit, each by its row, and a horizon beyond what can be solved.
///
/// Examples
/// --------
/// At an even rate 1.5 failures come in 1,500 h. No lamp reaches 1,500 h before that; 1,200 h one does if it must.
///
/// >>> import relamp
/// >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> ages = [1200.0, 1500.0]
/// >>> relamp.horizon_costs(world, limit, horizon_hours=1500.0, ages_hours=ages).cost.round(2).tolist()
/// [8171.97, 7800.0]
/// >>> old = relamp.horizon_costs(world, limit, horizon_hours=1500.0, ages_hours=ages, first_age_hours=1000.0)
/// >>> bool(old.cost[1] > 7800.0)
/// True
#[pyfunction]
#[pyo3(signature = (world, limit, *, horizon_hours, ages_hours, first_age_hours=0.0))]
pub(super) fn horizon_costs(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::horizon_hours)] horizon_hours: f64,
    ages_hours: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::first_age_hours)] first_age_hours: f64,
) -> PyResult<PyHorizonCosts> {
    let (world, limit) = (world.get(), &limit.get().0);
    let ages = ages_or_even(Some(ages_hours), limit)?;
    let costs = work(py, None, |_| core_horizon_costs(&world.0, horizon_hours, first_age_hours, &ages, limit))?;
    Ok(PyHorizonCosts(costs))
}

/// The planned age of least mean cost over a horizon, such as the hours until a conversion, that the limit allows.
///
/// The cost jumps down at every age that divides the horizon, as the last planned change then falls on it and is
/// not made. All such ages that can win are looked at, and the stretches between that cost least are searched. Of
/// the two whole hours next to the optimum the cheaper is advised, as an hour too few can bring one change more.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     No age in the answer passes it.
/// horizon_hours : float
///     Burning hours of the screen to the horizon, above 0.
/// first_age_hours : float
///     Age of the lamp that burns today, hours: 0 for a new one. At or past the planned age it is changed at once.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit), in words.
///
/// Returns
/// -------
/// HorizonAge
///
/// Raises
/// ------
/// InputError
///     For what is not a number, NaN included, an age of the records that is not above 0, and a blank reason.
/// DomainError
///     For a horizon that is not above 0, and a first age below 0 or that no lamp reaches.
/// RefusedError
///     For a best age below one hour, and a life made of steps or that reaches below age 0.
/// LimitError
///     For a horizon beyond what can be solved.
///
/// Examples
/// --------
/// Three changes, and a fourth lamp that burns a little shorter than the others.
///
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=4.0, scale=1000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=1500.0, source="invented data sheet")
/// >>> best = relamp.horizon_age(world, limit, horizon_hours=2000.0)
/// >>> best.age_hours, best.verdict
/// (520.0, 'best_below_limit')
/// >>> relamp.horizon_age(world, limit, horizon_hours=2000.0, first_age_hours=200.0).age_hours <= 1500.0
/// True
///
/// Where no lamp of the records burned past 400 h, neither does the advice.
///
/// >>> held = relamp.horizon_age(world, limit, horizon_hours=2000.0, oldest_at_risk_hours=400.0)
/// >>> held.age_hours, held.verdict
/// (400.0, 'records_end')
#[pyfunction]
#[pyo3(signature = (world, limit, *, horizon_hours, first_age_hours=0.0, oldest_at_risk_hours=None,
    extrapolate_because=None))]
pub(super) fn horizon_age(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::horizon_hours)] horizon_hours: f64,
    #[pyo3(from_py_with = args::first_age_hours)] first_age_hours: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
) -> PyResult<PyHorizonAge> {
    let (world, limit) = (world.get(), &limit.get().0);
    let reach = Reach { oldest_at_risk_hours, extrapolate_because };
    Ok(PyHorizonAge(work(py, None, |_| core_horizon_age(&world.0, horizon_hours, first_age_hours, limit, &reach))?))
}

/// Long-run cost per lamp hour at given intervals from one change of all lamps to the next, failures changed one by
/// one.
///
/// C(B) = [c_b + c_p P(B) + sum over causes of c N(B)] / B: c_b the cost of one lamp in a change of all, N(B) the
/// mean failures and P(B) the mean changes alone at the limit in between. With one cause and no lamp at the limit
/// that is [c_b + c_f M(B)] / B. A lamp that would reach the limit before the next change of all is changed alone
/// then, at the cost of a planned change. Barlow and Proschan (1965), Mathematical Theory of Reliability, chapter
/// 4.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     No lamp passes it; intervals may.
/// every_hours : array-like
///     Intervals, burning hours of a screen, above 0.
/// block_cost : float, optional
///     Cost of one lamp in a change of all, its share of the visit in it; None for that of a planned change.
///
/// Returns
/// -------
/// BlockCosts
///
/// Raises
/// ------
/// InputError
///     For what is not a number, NaN included, and a cost that is not above 0.
/// DomainError
///     For an interval that is not above 0.
/// RefusedError
///     For a life made of steps, or that reaches below age 0.
/// LimitError
///     For an interval beyond what can be solved.
///
/// Examples
/// --------
/// At an even rate failures bring 5.2 an hour whatever the interval.
///
/// >>> import relamp
/// >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(950.0, burst=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> relamp.block_costs(world, limit, every_hours=[500.0, 1000.0]).cost_per_hour.round(4).tolist()
/// [7.1, 6.15]
/// >>> relamp.block_costs(world, limit, every_hours=[500.0], block_cost=700.0).cost_per_hour.round(4).tolist()
/// [6.6]
#[pyfunction]
#[pyo3(signature = (world, limit, *, every_hours, block_cost=None))]
pub(super) fn block_costs(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    every_hours: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::block_cost)] block_cost: Option<f64>,
) -> PyResult<PyBlockCosts> {
    let (world, limit) = (world.get(), &limit.get().0);
    let every = numbers(every_hours, At { input: "block_costs", column: "every_hours" })?.all()?;
    Ok(PyBlockCosts(work(py, None, |_| core_block_costs(&world.0, &every, limit, block_cost))?))
}

/// The interval of least long-run cost for changes of all lamps together.
///
/// Every dip of the cost up to 20 mean hours between changes is narrowed to the root of its slope, and compared
/// with changing each lamp alone. The interval may lie past the limit: a lamp that would reach the limit before is
/// changed alone then.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     No lamp passes it.
/// block_cost : float, optional
///     Cost of one lamp in a change of all, its share of the visit in it; None for that of a planned change.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit), in words.
///
/// Returns
/// -------
/// BlockInterval
///
/// Raises
/// ------
/// InputError
///     For a cost or an age of the records that is not a number above 0, and a blank reason.
/// RefusedError
///     For a best interval below one hour, and a life made of steps or that reaches below age 0.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=1000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(500.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> best = relamp.block_interval(world, limit)
/// >>> best.every_hours, best.verdict
/// (376.0, 'blocks_pay')
/// >>> relamp.block_interval(world, limit, block_cost=3000.0).every_hours is None
/// True
/// >>> relamp.block_interval(world, limit, oldest_at_risk_hours=900.0).ceiling_hours
/// 900.0
#[pyfunction]
#[pyo3(signature = (world, limit, *, block_cost=None, oldest_at_risk_hours=None, extrapolate_because=None))]
pub(super) fn block_interval(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::block_cost)] block_cost: Option<f64>,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
) -> PyResult<PyBlockInterval> {
    let (world, limit) = (world.get(), &limit.get().0);
    let reach = Reach { oldest_at_risk_hours, extrapolate_because };
    Ok(PyBlockInterval(work(py, None, |_| core_block_interval(&world.0, limit, block_cost, &reach))?))
}
