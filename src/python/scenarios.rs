//! Planned ages under several sets of prices.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{AgeOptions, PriceScenario, PriceScenarios, ScenarioCost, price_scenarios as core_scenarios};

use super::error::refuse;
use super::frames::Frame;
use super::intake::{At, arguments as args, kind_of, numbers};
use super::money::objective as read_objective;
use super::policy::PyPlannedAge;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::{PyCosts, PyHourLimit};
use super::work::work;
use super::worlds::PyWorld;

const SCENARIOS: Format = Format::new("price_scenarios", 1);

/// What each advice is called, its age, and what it costs under each scenario.
fn advices(p: &PriceScenarios) -> Vec<(&str, f64, &[ScenarioCost])> {
    let own = p.scenarios.iter().map(|s| (s.name.as_str(), s.planned.age_hours, s.under.as_slice()));
    let shared = [("least regret", &p.least_regret), ("least mean cost", &p.least_mean)];
    own.chain(shared.map(|(name, s)| (name, s.age_hours, s.under.as_slice()))).collect()
}

fn table(p: &PriceScenarios) -> Result<RecordBatch> {
    let rows: Vec<(&str, f64, &str, &ScenarioCost)> = advices(p)
        .into_iter()
        .flat_map(|(name, age, under)| {
            p.scenarios.iter().zip(under).map(move |(s, at)| (name, age, s.name.as_str(), at))
        })
        .collect();
    Frame::default()
        .texts("advice", rows.iter().map(|r| r.0))
        .numbers("age_hours", rows.iter().map(|r| r.1))
        .texts("scenario", rows.iter().map(|r| r.2))
        .numbers("cost_per_hour", rows.iter().map(|r| r.3.cost_per_hour))
        .numbers("regret_percent", rows.iter().map(|r| r.3.regret_percent))
        .finish()
}

fn scenario_facts(p: &PriceScenarios) -> Facts {
    facts! {
        "scenarios": p.scenarios.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(),
        "ages_hours": p.scenarios.iter().map(|s| s.planned.age_hours).collect::<Vec<_>>(),
        "least_regret_hours": p.least_regret.age_hours, "least_mean_hours": p.least_mean.age_hours,
        "least_mean_cost_per_hour": p.least_mean_cost_per_hour, "limit_hours": p.limit_hours, "sentence": p.sentence,
    }
}

result_class! {
    /// Planned ages under several sets of prices; made by `price_scenarios`. No age in it passes the limit.
    ///
    /// Its table holds one row for each advice under each scenario: those of the scenarios themselves, then "least regret"
    /// and "least mean cost".
    PyPriceScenarios holds PriceScenarios as "PriceScenarios";
    save |p| saved::save(SCENARIOS, p); load |t| saved::load(SCENARIOS, t); table table; show scenario_facts;
    {
        fn __len__(&self) -> usize {
            self.0.scenarios.len()
        }

        /// The advice under each scenario, by its name.
        #[getter]
        fn planned<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for s in &self.0.scenarios {
                dict.set_item(&s.name, PyPlannedAge(s.planned.clone()))?;
            }
            Ok(dict)
        }

        /// The age whose largest regret over the scenarios is least: whole hours, at most the limit.
        #[getter]
        fn least_regret_hours(&self) -> f64 {
            self.0.least_regret.age_hours
        }

        /// The most that this age costs more than the best age of any scenario, percent.
        #[getter]
        fn least_regret_percent(&self) -> f64 {
            self.0.least_regret.under.iter().map(|u| u.regret_percent).fold(0.0, f64::max)
        }

        /// The age of least cost on the mean over the scenarios by their weights: whole hours, at most the limit.
        #[getter]
        fn least_mean_hours(&self) -> f64 {
            self.0.least_mean.age_hours
        }

        /// Mean cost per hour there.
        #[getter]
        fn least_mean_cost_per_hour(&self) -> f64 {
            self.0.least_mean_cost_per_hour
        }

        /// The advice in words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }
    }
}

/// The planned age under each of several sets of prices, what the advice of one costs under another, and the ages that
/// are least wrong over all.
///
/// The regret of an age under a scenario is what it costs there above the least of that scenario, percent. The age of
/// least regret makes the largest of them least, whatever the weights; that of least mean cost weighs the scenarios.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives; its own costs play no part.
/// limit : HourLimit
///     No age in the answer passes it.
/// scenarios : dict of str to Costs
///     The costs under each scenario, by its name, with a warranty and a salvage where they have one.
/// weights : array-like, optional
///     How much each counts in the mean, 0 or more, in the order of the scenarios; None for all alike.
/// near_percent : float
///     Ages count as near the best up to this much more cost, percent.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit), in words.
/// objective : Discount, optional
///     What is counted per hour; None for the cost.
///
/// Returns
/// -------
/// PriceScenarios
///
/// Raises
/// ------
/// InputError
///     For no scenarios, what are no costs, weights out of range, an ending without a cost, and dark minutes.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
/// >>> today = relamp.costs(1000.0, burst=3000.0)
/// >>> world = relamp.world({"burst": life}, today)
/// >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
/// >>> asked = {"as today": today, "dear shows": relamp.costs(1000.0, burst=10_000.0)}
/// >>> found = relamp.price_scenarios(world, limit, scenarios=asked, weights=[2.0, 1.0])
/// >>> {name: planned.age_hours for name, planned in found.planned.items()}
/// {'as today': 7379.0, 'dear shows': 3364.0}
/// >>> 3364.0 < found.least_regret_hours < 7379.0
/// True
#[pyfunction]
#[pyo3(signature = (world, limit, *, scenarios, weights=None, near_percent=2.0, oldest_at_risk_hours=None,
    extrapolate_because=None, objective=None))]
pub(super) fn price_scenarios(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyWorld>)] world: &Bound<'_, PyWorld>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    scenarios: &Bound<'_, PyAny>,
    weights: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::near_percent)] near_percent: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPriceScenarios> {
    let wrong = |column: &str, got: &str, expected: &str| {
        PyErr::from(refuse("python.type", "not a set of prices", "scenarios", column, got, expected))
    };
    let dict = scenarios.cast::<PyDict>().map_err(|_| wrong("", &kind_of(scenarios), "a dict of names to Costs"))?;
    let mut asked = Vec::new();
    for (name, costs) in dict {
        let name: String = name.extract().map_err(|_| wrong("", &kind_of(&name), "a name in words"))?;
        let costs = costs.cast::<PyCosts>().map_err(|_| wrong(&name, &kind_of(&costs), "Costs, made by `costs`"))?;
        asked.push(PriceScenario::new(&name, costs.get().0.clone()));
    }
    if let Some(weights) = weights.filter(|w| !w.is_none()) {
        let weights = numbers(weights, At { input: "weights", column: "" })?.all()?;
        if weights.len() != asked.len() {
            let what = "weights are not one for each scenario";
            let (got, expected) = (weights.len().to_string(), asked.len().to_string());
            return Err(PyErr::from(refuse("python.together", what, "price_scenarios", "weights", &got, &expected)));
        }
        asked.iter_mut().zip(weights).for_each(|(s, weight)| s.weight = weight);
    }
    let objective = read_objective(objective)?;
    let options =
        AgeOptions { near_percent, oldest_at_risk_hours, extrapolate_because, objective, ..AgeOptions::default() };
    let (world, limit) = (world.get(), &limit.get().0);
    Ok(PyPriceScenarios(work(py, None, |_| core_scenarios(&world.0, &asked, limit, &options))?))
}
