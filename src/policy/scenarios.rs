//! Named sets of prices: the planned age of each, what one advice costs under another, and the age that is least wrong.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, PlannedAge, constrained, priced_age};
use super::curve::WorldCurve;
use super::objective::Objective;
use super::regret::least_worst;
use super::search::grid;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{full_hours, short};
use crate::base::math::least::least;
use crate::base::sound::{Checks, Sound};
use crate::fit::World;
use crate::terms::{Costs, HourLimit};

/// Steps of the search in ln age.
const STEPS: usize = 200;

/// A named set of costs that is held possible.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceScenario {
    /// Its name.
    pub name: String,
    /// The costs under it, with their warranty and worth of a used lamp where they have one.
    pub costs: Costs,
    /// How much it counts beside the others, such as its chance; only ratios matter.
    pub weight: f64,
}

impl PriceScenario {
    /// A scenario that counts as much as any other.
    pub fn new(name: &str, costs: Costs) -> Self {
        Self { name: name.to_owned(), costs, weight: 1.0 }
    }
}

/// What one advice costs under one scenario.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScenarioCost {
    /// Cost per hour.
    pub cost_per_hour: f64,
    /// What that is above the least of the scenario, percent.
    pub regret_percent: f64,
}

/// The planned age under one scenario.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScenarioAge {
    /// Name of the scenario.
    pub name: String,
    /// Its share of all weights.
    pub weight: f64,
    /// The advice under it.
    pub planned: PlannedAge,
    /// What this advice costs under each scenario, in their order.
    pub under: Vec<ScenarioCost>,
}

/// One age for all scenarios, and what it costs under each.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedAge {
    /// The age: whole hours, rounded down, at most the limit.
    pub age_hours: f64,
    /// What it costs under each scenario, in their order.
    pub under: Vec<ScenarioCost>,
}

/// Planned ages under several sets of prices. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PriceScenarios {
    /// The advice under each scenario, in the order given.
    pub scenarios: Vec<ScenarioAge>,
    /// The age whose largest regret over the scenarios is least; weights play no part in it.
    pub least_regret: SharedAge,
    /// The age of least cost on the mean over the scenarios by their weights.
    pub least_mean: SharedAge,
    /// Mean cost per hour there.
    pub least_mean_cost_per_hour: f64,
    /// The limit in force.
    pub limit_hours: f64,
    /// The advice in words.
    pub sentence: String,
}

impl Sound for PriceScenarios {
    fn check(&self, c: &mut Checks) {
        c.positive("limit_hours", self.limit_hours);
        c.once("scenarios", self.scenarios.iter().map(|s| &s.name));
        let n = self.scenarios.len();
        c.need("scenarios", n > 0, n, "one or more");
        c.equal("scenarios", self.scenarios.iter().map(|s| s.weight).sum(), 1.0);
        let costs = |c: &mut Checks, field: &str, under: &[ScenarioCost]| {
            c.entries(field, under.len(), n);
            for (j, at) in under.iter().enumerate() {
                c.positive(&format!("{field}[{j}].cost_per_hour"), at.cost_per_hour);
                // The least is that of an age before rounding, which nothing undercuts but by rounding.
                c.not_negative(&format!("{field}[{j}].regret_percent"), at.regret_percent);
            }
        };
        for (i, scenario) in self.scenarios.iter().enumerate() {
            c.share(&format!("scenarios[{i}].weight"), scenario.weight);
            c.part(&format!("scenarios[{i}].planned"), &scenario.planned);
            c.equal(&format!("scenarios[{i}].planned.limit_hours"), scenario.planned.limit_hours, self.limit_hours);
            costs(c, &format!("scenarios[{i}].under"), &scenario.under);
            if let Some(own) = scenario.under.get(i) {
                let field = format!("scenarios[{i}].under[{i}].cost_per_hour");
                c.equal(&field, own.cost_per_hour, scenario.planned.cost.cost_per_hour);
            }
        }
        for (field, shared) in [("least_regret", &self.least_regret), ("least_mean", &self.least_mean)] {
            c.advice(&format!("{field}.age_hours"), shared.age_hours, self.limit_hours);
            costs(c, &format!("{field}.under"), &shared.under);
        }
        let mean = self.scenarios.iter().zip(&self.least_mean.under).map(|(s, at)| s.weight * at.cost_per_hour).sum();
        c.equal("least_mean_cost_per_hour", self.least_mean_cost_per_hour, mean);
        c.words("sentence", &self.sentence);
    }
}

/// The planned age under each of several sets of prices, what the advice of one costs under another, and the ages that are
/// least wrong over all.
///
/// # Formula
/// ```text
/// regret of T under s = C_s(T) / min over T of C_s(T) - 1;   least regret: min over T of max over s
/// least mean: min over T of sum_s w_s C_s(T) / sum_s w_s
/// ```
/// `C_s(T)`: cost per hour of [`super::planned_age`] at the costs of scenario s, in place of those of the world. Every stationary
/// age of every scenario is looked at, and every age at which the largest regret passes from one scenario to another.
///
/// # Errors
/// `policy.scenarios` for none, a blank name or one given twice, and weights that are not finite, below 0, or all 0;
/// `policy.scenarios_dark` where the objective counts dark minutes, which no price moves; those of [`super::planned_age`].
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{AgeOptions, PriceScenario, price_scenarios};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let costs = |burst: f64| Costs::new(1.0, [(Ending::Burst, burst)]);
/// let life = Box::new(Weibull { shape: 2.0, scale: 10_000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: costs(3.0)? };
/// let printed = PrintedHours { maximum_hours: Some(50_000.0), source: "invented".into(), ..PrintedHours::default() };
/// let asked = [PriceScenario::new("as today", costs(3.0)?), PriceScenario::new("dear shows", costs(10.0)?)];
/// let found = price_scenarios(&world, &asked, &printed.limit()?, &AgeOptions::default())?;
/// let ages: Vec<f64> = found.scenarios.iter().map(|s| s.planned.age_hours).collect();
/// assert_eq!(ages, [7379.0, 3364.0]);
/// // One age for both lies between, and is wrong by a few percent under each.
/// let shared = &found.least_regret;
/// assert!(shared.age_hours > 3364.0 && shared.age_hours < 7379.0);
/// assert!(shared.under.iter().all(|u| u.regret_percent < found.scenarios[0].under[1].regret_percent));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn price_scenarios(
    world: &World,
    scenarios: &[PriceScenario],
    limit: &HourLimit,
    options: &AgeOptions,
) -> Result<PriceScenarios> {
    check(scenarios)?;
    if matches!(options.objective, Objective::DarkMinutes(_)) {
        let what = "prices do not move an age that is chosen by dark minutes";
        let problem = Problem::new("policy.scenarios_dark", what).at(Place::input("objective")).got("dark minutes");
        return Err(Error::new(Kind::Input, problem.expected("cost per hour, plain or discounted")));
    }
    let ceiling = options.ceiling(limit)?;
    let all: f64 = scenarios.iter().map(|s| s.weight).sum();
    let (mut curves, mut best, mut tried, mut planned) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for s in scenarios {
        let mut curve = WorldCurve::priced(world, &s.costs, &options.objective)?;
        let (searched, _, cost) = constrained(&mut curve, ceiling)?;
        tried.extend(searched.points.iter().map(|p| p.age));
        best.push(cost);
        planned.push(priced_age(world, &s.costs, limit, options)?);
        curves.push(curve);
    }
    let from = tried.iter().copied().fold(ceiling, f64::min);
    tried.extend(curves.first().into_iter().flat_map(|c| grid(c, from, ceiling, STEPS)).map(|a| a.0));
    tried.sort_by(f64::total_cmp);
    tried.dedup();
    let costs = |age: f64| curves.iter().map(|c| Ok(c.cost(&c.up_to(age)?))).collect::<Result<Vec<f64>>>();
    let regrets = |age: f64| Ok(costs(age)?.iter().zip(&best).map(|(c, least)| c / least - 1.0).collect::<Vec<f64>>());
    let mean = |age: f64| Ok(costs(age)?.iter().zip(scenarios).map(|(c, s)| c * s.weight).sum::<f64>() / all);
    let (fair, _) = least_worst(&tried, &regrets)?.unwrap_or((ceiling, 0.0));
    let on_mean = least_mean(&tried, &mean)?.unwrap_or(ceiling);
    let under = |age: f64| {
        let each = costs(age)?.into_iter().zip(&best);
        let one = |(cost_per_hour, least): (f64, &f64)| ScenarioCost {
            cost_per_hour,
            regret_percent: (100.0 * (cost_per_hour / least - 1.0)).max(0.0),
        };
        Ok::<_, Error>(each.map(one).collect::<Vec<_>>())
    };
    let shared = |exact: f64| {
        let age_hours = limit.cap(exact);
        if age_hours < 1.0 {
            let what = "the best age is below one hour: check the costs and units";
            let problem = Problem::new("policy.age_below_hour", what).got(exact).expected("an age of at least 1 h");
            return Err(Error::new(Kind::Refused, problem));
        }
        Ok(SharedAge { age_hours, under: under(age_hours)? })
    };
    let (least_regret, least_mean) = (shared(fair)?, shared(on_mean)?);
    let scenarios = scenarios
        .iter()
        .zip(planned)
        .map(|(s, planned)| {
            let under = under(planned.age_hours)?;
            Ok(ScenarioAge { name: s.name.clone(), weight: s.weight / all, planned, under })
        })
        .collect::<Result<Vec<_>>>()?;
    let sentence = sentence(&scenarios, &least_regret);
    let least_mean_cost_per_hour =
        scenarios.iter().zip(&least_mean.under).map(|(s, at)| s.weight * at.cost_per_hour).sum();
    let limit_hours = limit.hours();
    Ok(PriceScenarios { scenarios, least_regret, least_mean, least_mean_cost_per_hour, limit_hours, sentence })
}

fn check(scenarios: &[PriceScenario]) -> Result<()> {
    let mut problems = Vec::new();
    let expected = "one scenario or more, each with a name of its own and a weight of 0 or more, one above 0";
    let mut refuse = |what: &str, name: &str, got: String| {
        let problem = Problem::new("policy.scenarios", what).at(Place::input("scenarios").column(name));
        problems.push(problem.got(got).expected(expected));
    };
    for (i, s) in scenarios.iter().enumerate() {
        if s.name.trim().is_empty() {
            refuse("a scenario has no name", "name", format!("{:?}", s.name));
        }
        if scenarios.iter().take(i).any(|other| other.name == s.name) {
            refuse("a scenario is given twice", "name", s.name.clone());
        }
        if !(s.weight >= 0.0 && s.weight.is_finite()) {
            refuse("the weight of a scenario is out of range", &s.name, s.weight.to_string());
        }
    }
    // A sum of weights that are none is told above.
    if scenarios.is_empty() || scenarios.iter().all(|s| s.weight == 0.0) {
        refuse("no scenario counts", "weight", "none".to_owned());
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

/// The age of least mean cost: the best of those tried, and what lies beside it.
fn least_mean(tried: &[f64], mean: &dyn Fn(f64) -> Result<f64>) -> Result<Option<f64>> {
    let costs = tried.iter().map(|age| mean(*age)).collect::<Result<Vec<_>>>()?;
    let Some((place, cost)) = costs.iter().copied().enumerate().min_by(|a, b| a.1.total_cmp(&b.1)) else {
        return Ok(None);
    };
    let at = |i: usize| tried.get(i).copied();
    let Some(age) = at(place) else { return Ok(None) };
    let (low, high) = (place.checked_sub(1).and_then(at).unwrap_or(age), at(place + 1).unwrap_or(age));
    if low >= high {
        return Ok(Some(age));
    }
    let beside = least(mean, low, high, 1e-10)?;
    Ok(Some(if beside.1 < cost { beside.0 } else { age }))
}

fn sentence(scenarios: &[ScenarioAge], shared: &SharedAge) -> String {
    let each: Vec<String> =
        scenarios.iter().map(|s| format!("{} h under {}", full_hours(s.planned.age_hours), s.name)).collect();
    let worst = |under: &[ScenarioCost]| {
        let at = under.iter().enumerate().max_by(|a, b| a.1.regret_percent.total_cmp(&b.1.regret_percent));
        at.map_or((String::new(), 0.0), |(j, u)| {
            (scenarios.get(j).map_or(String::new(), |s| s.name.clone()), u.regret_percent)
        })
    };
    let (name, percent) = worst(&shared.under);
    let one = format!(
        "a change at {} h costs at most {} % more than the best age of each, most under {name}",
        full_hours(shared.age_hours),
        short(percent)
    );
    format!("best ages: {}; {one}", each.join(", "))
}
