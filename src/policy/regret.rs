//! The age that is least wrong over a range of cost ratios, and how far each cost moves the advice.

use serde::{Deserialize, Serialize};

use super::age::{AgeOptions, PlannedAge, constrained, planned_age, priced_age};
use super::curve::{UpTo, WorldCurve};
use super::input_bars::{InputBar, input_bars};
use super::objective::Objective;
use super::search::grid;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::root::bracketed;
use crate::base::sound::{Checks, Sound};
use crate::fit::World;
use crate::records::Ending;
use crate::terms::HourLimit;

/// Steps of the search in ln age.
const STEPS: usize = 200;

/// Half-width of a crossing in ln age.
const CROSSING: f64 = 1e-12;

/// The best age under one factor on the costs of failure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RatioEnd {
    /// The factor on every cost of a failure.
    pub factor: f64,
    /// Age of least cost there, hours, before rounding.
    pub best_hours: f64,
    /// Cost per hour at that age.
    pub best_cost_per_hour: f64,
    /// What the age of least regret costs more there, percent.
    pub regret_percent: f64,
    /// What the best age of the other end costs more there, percent.
    pub others_regret_percent: f64,
}

/// The age whose largest regret over a range of cost ratios is least. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeastRegret {
    /// The advice: whole hours, rounded down, at most the limit.
    pub age_hours: f64,
    /// The most that this age costs more than the best one of any ratio in the range, percent.
    pub regret_percent: f64,
    /// The two ends of the range; between them the regret is no larger than at one of the two.
    pub ends: [RatioEnd; 2],
    /// The limit in force.
    pub limit_hours: f64,
}

impl Sound for LeastRegret {
    fn check(&self, c: &mut Checks) {
        c.advice("age_hours", self.age_hours, self.limit_hours);
        c.not_negative("regret_percent", self.regret_percent);
        let worst = self.ends.iter().map(|e| e.regret_percent).fold(0.0, f64::max);
        c.equal("regret_percent", self.regret_percent, worst);
        for (i, end) in self.ends.iter().enumerate() {
            c.positive(&format!("ends[{i}].factor"), end.factor);
            c.age(&format!("ends[{i}].best_hours"), end.best_hours, self.limit_hours);
            c.positive(&format!("ends[{i}].best_cost_per_hour"), end.best_cost_per_hour);
            c.not_negative(&format!("ends[{i}].regret_percent"), end.regret_percent);
            c.not_negative(&format!("ends[{i}].others_regret_percent"), end.others_regret_percent);
        }
        let [low, high] = &self.ends;
        c.ends("ends", low.factor, high.factor);
    }
}

/// The age that costs least more than the best one, at worst, where the costs of failures are known only to a factor.
///
/// # Formula
/// ```text
/// regret of T at factor f = C(T, f) / min over T of C(T, f) - 1;   C(T, f) = [c_p R + f sum_j c_j F_j - B] / M
/// ```
/// `C(T, f)` is linear in f and its least concave, so their ratio is largest at an end of the range: two ends tell all.
///
/// # Arguments
/// `factors`: smallest and largest factor on every cost of a failure, such as `(0.5, 2.0)`.
///
/// # Errors
/// `policy.factors` unless 0 < smallest <= largest, finite, and every failure still costs more than a warranty gives back;
/// those of [`planned_age`].
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{AgeOptions, least_regret};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 2.0, scale: 10_000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(1.0, [(Ending::Burst, 3.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(50_000.0), source: "invented".into(), ..PrintedHours::default() };
/// let known = least_regret(&world, (1.0, 1.0), &printed.limit()?, &AgeOptions::default())?;
/// assert_eq!((known.age_hours, known.regret_percent < 1e-6), (7379.0, true));
/// let doubtful = least_regret(&world, (1.0, 10.0 / 3.0), &printed.limit()?, &AgeOptions::default())?;
/// // Between the best ages of the two ends, 3,364 h and 7,379 h.
/// assert!(doubtful.age_hours > 3364.0 && doubtful.age_hours < 7379.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn least_regret(
    world: &World,
    factors: (f64, f64),
    limit: &HourLimit,
    options: &AgeOptions,
) -> Result<LeastRegret> {
    let ceiling = options.ceiling(limit)?;
    let mut ends = [WorldCurve::of(world, &options.objective)?, WorldCurve::of(world, &options.objective)?];
    let refused = |column: &str, got: f64| {
        let what =
            "factors on the costs of failures are a range above 0 that leaves them above what a warranty gives back";
        let problem = Problem::new("policy.factors", what).at(Place::input("factors").column(column)).got(got);
        Error::new(Kind::Input, problem.expected("finite, the smallest first, such as (0.5, 2.0)"))
    };
    if !(factors.0 > 0.0 && factors.0 <= factors.1 && factors.1.is_finite()) {
        return Err(if factors.0 > 0.0 { refused("largest", factors.1) } else { refused("smallest", factors.0) });
    }
    let mut least = [(0.0, 0.0); 2];
    let mut tried = Vec::new();
    let named = [("smallest", factors.0), ("largest", factors.1)];
    for ((curve, (name, factor)), best) in ends.iter_mut().zip(named).zip(&mut least) {
        if !curve.scale_failures(factor) {
            return Err(refused(name, factor));
        }
        let (searched, age, cost) = constrained(curve, ceiling)?;
        *best = (age, cost);
        tried.extend(searched.points.iter().map(|p| p.age));
    }
    let [first, second] = &ends;
    let from = tried.iter().copied().fold(ceiling, f64::min);
    tried.extend(grid(first, from, ceiling, STEPS).into_iter().map(|a| a.0));
    tried.sort_by(f64::total_cmp);
    tried.dedup();
    let regret = |upto: &UpTo| [(first, least[0].1), (second, least[1].1)].map(|(c, best)| c.cost(upto) / best - 1.0);
    let at = |age: f64| Ok::<[f64; 2], Error>(regret(&first.up_to(age)?));
    let worst = |r: [f64; 2]| r[0].max(r[1]);
    let best = least_worst(&tried, &|age| at(age).map(Vec::from))?;
    let exact = best.map_or(ceiling, |b| b.0);
    let age_hours = limit.cap(exact);
    if age_hours < 1.0 {
        let what = "the best age is below one hour: check the costs and units";
        let problem = Problem::new("policy.age_below_hour", what).got(exact).expected("an age of at least 1 h");
        return Err(Error::new(Kind::Refused, problem));
    }
    let percent = |r: f64| (100.0 * r).max(0.0);
    let (advised, others) = (at(age_hours)?, [at(least[1].0)?[0], at(least[0].0)?[1]]);
    let end = |i: usize, factor: f64| RatioEnd {
        factor,
        best_hours: least[i].0,
        best_cost_per_hour: least[i].1,
        regret_percent: percent(advised[i]),
        others_regret_percent: percent(others[i]),
    };
    Ok(LeastRegret {
        age_hours,
        regret_percent: percent(worst(advised)),
        ends: [end(0, factors.0), end(1, factors.1)],
        limit_hours: limit.hours(),
    })
}

/// The age at which the largest of some regrets is least, and that regret; of equal ones the latest age.
///
/// Between two neighbours of the ascending `tried` every regret must be monotone; then the largest has its least at one of the
/// two, or where it passes from one regret to another.
pub(super) fn least_worst(tried: &[f64], at: &dyn Fn(f64) -> Result<Vec<f64>>) -> Result<Option<(f64, f64)>> {
    let mut best: Option<(f64, f64)> = None;
    let mut look = |age: f64, regrets: &[f64]| {
        let worst = regrets.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if best.is_none_or(|b| worst <= b.1) {
            best = Some((age, worst));
        }
    };
    let mut before: Option<(f64, Vec<f64>)> = None;
    for &age in tried {
        let here = at(age)?;
        look(age, &here);
        if let Some(last) = before {
            let mut crossings = Vec::new();
            cross(at, (last.0, &last.1), (age, &here), last.1.len(), &mut crossings)?;
            for (age, regrets) in &crossings {
                look(*age, regrets);
            }
        }
        before = Some((age, here));
    }
    Ok(best)
}

/// Which of some numbers is the largest.
fn largest(of: &[f64]) -> usize {
    of.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(i, _)| i)
}

/// Ages between two at which the largest regret passes from one to another. With every crossing one regret more is ruled out
/// on a side, so that `depth`, their number, is enough.
fn cross(
    at: &dyn Fn(f64) -> Result<Vec<f64>>,
    (from, there): (f64, &[f64]),
    (to, here): (f64, &[f64]),
    depth: usize,
    found: &mut Vec<(f64, Vec<f64>)>,
) -> Result<()> {
    let (a, b) = (largest(there), largest(here));
    let apart = |regrets: &[f64]| match (regrets.get(a), regrets.get(b)) {
        (Some(x), Some(y)) => x - y,
        _ => 0.0,
    };
    let (low, high) = (from.ln(), to.ln());
    if a == b || low >= high || depth == 0 || apart(there) * apart(here) >= 0.0 {
        return Ok(());
    }
    // An end goes through its logarithm to a neighbour of itself, and so across a jump of the curve at it.
    let miss = |x: f64| match x {
        x if x <= low => Ok(apart(there)),
        x if x >= high => Ok(apart(here)),
        x => Ok(apart(&at(x.exp().clamp(from, to))?)),
    };
    let age = bracketed(miss, low, high, CROSSING)?.exp().clamp(from, to);
    let regrets = at(age)?;
    let third = largest(&regrets);
    if third != a && third != b {
        cross(at, (from, there), (age, &regrets), depth - 1, found)?;
        cross(at, (age, &regrets), (to, here), depth - 1, found)?;
    }
    found.push((age, regrets));
    Ok(())
}

/// One cost that moves, and what becomes of the advice. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CostBar {
    /// The ending whose cost moves; `planned` for a planned change; none for all failures together, the cost ratio.
    pub ending: Option<Ending>,
    /// At the divided and at the multiplied cost.
    pub ends: [CostBarEnd; 2],
}

impl CostBar {
    /// How far apart the ages of the two ends are, hours.
    pub fn width(&self) -> f64 {
        (self.ends[1].age_hours - self.ends[0].age_hours).abs()
    }
}

/// One end of a bar.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CostBarEnd {
    /// The factor on the cost.
    pub factor: f64,
    /// The advice there, whole hours.
    pub age_hours: f64,
    /// Cost per hour there.
    pub cost_per_hour: f64,
    /// What keeping the advised age would cost more there, percent of the cost there.
    pub stale_percent: f64,
}

/// How far each cost, and what else is set, moves the advice, the widest bar first. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CostBars {
    /// The advice at the costs as they are.
    pub planned: PlannedAge,
    /// One bar for the ratio of failure costs to planned cost, and one for the cost of a planned change and of each ending
    /// that a cause of the world stands for.
    pub bars: Vec<CostBar>,
    /// One bar for each of what else is set: price of a warranty, worth of a used lamp, discount rate, dark minutes, limit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inputs: Vec<InputBar>,
}

impl Sound for CostBars {
    fn check(&self, c: &mut Checks) {
        c.part("planned", &self.planned);
        c.once("bars", self.bars.iter().map(|b| b.ending));
        c.once("inputs", self.inputs.iter().map(|b| b.input));
        let costs = self.bars.iter().enumerate().map(|(i, b)| (format!("bars[{i}]"), &b.ends));
        let inputs = self.inputs.iter().enumerate().map(|(i, b)| (format!("inputs[{i}]"), &b.ends));
        for (bar, ends) in costs.chain(inputs) {
            for (j, end) in ends.iter().enumerate() {
                let field = format!("{bar}.ends[{j}]");
                c.positive(&format!("{field}.factor"), end.factor);
                c.advice(&format!("{field}.age_hours"), end.age_hours, self.planned.limit_hours);
                c.positive(&format!("{field}.cost_per_hour"), end.cost_per_hour);
                c.need(&format!("{field}.stale_percent"), end.stale_percent.is_finite(), end.stale_percent, "a number");
            }
        }
        let order = self.bars.windows(2).all(|w| matches!(w, [a, b] if a.width() >= b.width()));
        c.need("bars", order, "another order", "the widest first");
        let order = self.inputs.windows(2).all(|w| matches!(w, [a, b] if a.width() >= b.width()));
        c.need("inputs", order, "another order", "the widest first");
    }
}

/// How far the advice moves when each cost, and each of what else is set, by itself is divided and multiplied by a factor.
///
/// Under dark minutes no cost moves the age, and the minutes have bars in place of the costs. The limit is divided only.
///
/// # Errors
/// `policy.factors` unless the factor is finite and above 1, and where a cost leaves the range of amounts or falls to what a
/// warranty gives back, or minutes that of a year; those of [`planned_age`].
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{AgeOptions, cost_bars};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 2.0, scale: 10_000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(1.0, [(Ending::Burst, 3.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(50_000.0), source: "invented".into(), ..PrintedHours::default() };
/// let bars = cost_bars(&world, 2.0, &printed.limit()?, &AgeOptions::default())?;
/// // With one cause, its cost and the ratio are one; halving the planned cost is doubling the ratio.
/// assert_eq!(bars.bars.len(), 3);
/// // Nothing else is set but the limit, which is far away.
/// assert_eq!((bars.inputs.len(), bars.inputs[0].width()), (1, 0.0));
/// let ratio = bars.bars.iter().find(|b| b.ending.is_none()).unwrap();
/// assert!(ratio.ends[0].age_hours > 7379.0 && ratio.ends[1].age_hours < 7379.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn cost_bars(world: &World, factor: f64, limit: &HourLimit, options: &AgeOptions) -> Result<CostBars> {
    let bars = bars_of_costs(world, factor, limit, options)?;
    let inputs = input_bars(world, factor, limit, options, &bars.planned)?;
    Ok(CostBars { inputs, ..bars })
}

/// The bars of costs alone.
pub(crate) fn bars_of_costs(world: &World, factor: f64, limit: &HourLimit, options: &AgeOptions) -> Result<CostBars> {
    if !(factor > 1.0 && factor.is_finite()) {
        let problem =
            Problem::new("policy.factors", "a bar needs a factor above 1").at(Place::input("factor")).got(factor);
        return Err(Error::new(Kind::Input, problem.expected("finite and above 1, such as 1.25")));
    }
    let planned = planned_age(world, limit, options)?;
    if matches!(options.objective, Objective::DarkMinutes(_)) {
        return Ok(CostBars { planned, bars: Vec::new(), inputs: Vec::new() });
    }
    // The cost of an ending that no cause stands for moves nothing.
    let fails = |ending: &Ending| world.causes.iter().any(|cause| cause.endings.iter().any(|e| e.0 == *ending));
    let endings: Vec<Ending> = world.costs.by_ending().keys().copied().filter(fails).collect();
    let moved: Vec<Option<Ending>> =
        [None, Some(Ending::Planned)].into_iter().chain(endings.into_iter().map(Some)).collect();
    let mut bars = moved
        .into_iter()
        .map(|ending| {
            let at = |factor: f64| {
                let costs = world.costs.scaled(ending, factor)?;
                let there = priced_age(world, &costs, limit, options)?;
                let curve = WorldCurve::priced(world, &costs, &options.objective)?;
                let stale = curve.cost(&curve.up_to(planned.age_hours)?);
                let cost_per_hour = there.cost.cost_per_hour;
                let stale_percent = 100.0 * (stale / cost_per_hour - 1.0);
                Ok(CostBarEnd { factor, age_hours: there.age_hours, cost_per_hour, stale_percent })
            };
            Ok(CostBar { ending, ends: [at(1.0 / factor)?, at(factor)?] })
        })
        .collect::<Result<Vec<_>>>()?;
    bars.sort_by(|a, b| b.width().total_cmp(&a.width()));
    Ok(CostBars { planned, bars, inputs: Vec::new() })
}
