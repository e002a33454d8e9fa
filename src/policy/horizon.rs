//! Cost over a finite horizon, such as the hours until a conversion, and the age at which it is least.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::cost::within_limit;
use super::curve::WorldCurve;
use super::over_time::{Failures, check_length, failures_cost};
use super::reach::{Reach, further, is_ceiling};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, full_hours};
use crate::base::math::least::least;
use crate::base::sound::{Checks, Sound, as_saved};
use crate::family::Joint;
use crate::fit::World;
use crate::records::Ending;
use crate::renewal::{ChangeRule, Laid};
use crate::terms::{HourLimit, Salvage};

/// Ages at which the cost jumps that are all looked at; of more, those further apart than [`THIN`].
const MOST_JUMPS: usize = 200;
/// Ratio of neighbouring ages where there are more.
const THIN: f64 = 0.98;
/// How far before an age the cost just before it is taken, relative: past rounding of the horizon over the age.
const BEFORE: f64 = 1e-9;
/// Stretches between jumps that are searched for a least cost inside.
const SEARCHED: usize = 3;
/// Saving against the limit, percent, below which an earlier age is called flat.
const FLAT: f64 = 0.1;

/// What one screen costs over a horizon when lamps are changed at an age or at failure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HorizonCost {
    /// Planned age, hours.
    pub age_hours: f64,
    /// Mean cost to the horizon; the sum of the parts below.
    pub cost: f64,
    /// Part that planned changes bring.
    pub planned_cost: f64,
    /// Parts that failures bring, less any money back.
    pub by_ending: BTreeMap<Ending, f64>,
    /// Mean number of planned changes.
    pub planned_changes: f64,
    /// Mean number of failures.
    pub failures: f64,
}

impl Sound for HorizonCost {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        for (field, x) in [
            ("planned_cost", self.planned_cost),
            ("planned_changes", self.planned_changes),
            ("failures", self.failures),
        ] {
            c.not_negative(field, x);
        }
        for (ending, cost) in &self.by_ending {
            c.not_negative(&format!("by_ending.{ending}"), *cost);
        }
        c.equal("cost", self.cost, self.planned_cost + self.by_ending.values().sum::<f64>());
    }
}

/// Shortest horizon, as a part of the limit: below it a horizon has no digits to place changes in. Our choice, without a
/// source.
const SHORTEST: f64 = 1e-9;

/// Why the age stands where it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum HorizonVerdict {
    /// The cost to the horizon is least at an age below the limit.
    BestBelowLimit,
    /// It is least at the limit, or saves next to nothing before it.
    AtLimit,
    /// It is least where the records end, or saves next to nothing before; they support no later age.
    RecordsEnd,
    /// It is least where no lamp reaches its planned age before the horizon.
    NoPlannedChange,
}

/// An age at which the cost jumps: from it on the last of the planned changes falls on the horizon or later, and is not made.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HorizonJump {
    /// The age, hours.
    pub age_hours: f64,
    /// Planned changes before the horizon if no lamp fails.
    pub changes: u32,
    /// Cost to the horizon at that age.
    pub cost: f64,
    /// Cost to the horizon just before it.
    pub cost_before: f64,
}

impl Sound for HorizonJump {
    fn check(&self, c: &mut Checks) {
        c.positive("age_hours", self.age_hours);
        c.positive("cost", self.cost);
        c.positive("cost_before", self.cost_before);
    }
}

/// The planned age of least cost over a horizon. No age in it passes the limit, nor the records unless a reason lets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HorizonAge {
    /// Burning hours of the screen to the horizon.
    pub horizon_hours: f64,
    /// Age of the lamp that burns today, hours.
    pub first_age_hours: f64,
    /// The limit in force.
    pub limit_hours: f64,
    /// The age that the search did not pass: the limit, or the oldest lamp at risk if earlier.
    pub ceiling_hours: f64,
    /// Age of the oldest lamp at risk, where it was given.
    pub oldest_at_risk_hours: Option<f64>,
    /// Why the age stands where it does.
    pub verdict: HorizonVerdict,
    /// The same in plain words.
    pub sentence: String,
    /// The advice: whole hours, at most the ceiling; of the two next to the optimum the cheaper.
    pub age_hours: f64,
    /// Cost at that age.
    pub cost: HorizonCost,
    /// Age of least cost, before rounding and before asking whether it is worth it.
    pub optimum_hours: f64,
    /// Cost to the horizon there.
    pub optimum_cost: f64,
    /// Cost to the horizon of changing at the ceiling.
    pub ceiling_cost: f64,
    /// The ages next to the optimum, itself among them where it is one, at which the cost jumps; ascending.
    pub jumps: Vec<HorizonJump>,
}

impl HorizonAge {
    /// Whether the advised age lies past the oldest lamp at risk, where the model is an opinion.
    pub fn past_records(&self) -> bool {
        self.oldest_at_risk_hours.is_some_and(|oldest| self.age_hours > oldest)
    }
}

impl Sound for HorizonAge {
    fn check(&self, c: &mut Checks) {
        c.positive("horizon_hours", self.horizon_hours);
        c.not_negative("first_age_hours", self.first_age_hours);
        c.positive("limit_hours", self.limit_hours);
        let ceiling = self.ceiling_hours;
        let is = is_ceiling(ceiling, self.limit_hours, self.oldest_at_risk_hours);
        c.need("ceiling_hours", is, ceiling, "the limit, or the oldest lamp at risk before it");
        c.advice("age_hours", self.age_hours, ceiling);
        c.part("cost", &self.cost);
        c.equal("cost.age_hours", self.cost.age_hours, self.age_hours);
        c.age("optimum_hours", self.optimum_hours, ceiling);
        c.positive("optimum_cost", self.optimum_cost);
        let (least, here, most) = (self.optimum_cost, self.cost.cost, self.ceiling_cost);
        c.need("optimum_cost", least <= here.min(most) * (1.0 + 1e-9), least, format!("at most {}", here.min(most)));
        c.parts("jumps", &self.jumps);
        for (i, jump) in self.jumps.iter().enumerate() {
            c.age(&format!("jumps[{i}].age_hours"), jump.age_hours, ceiling);
        }
        let never = self.optimum_hours >= (self.horizon_hours + self.first_age_hours) * (1.0 - 1e-9);
        let is = self.verdict == HorizonVerdict::NoPlannedChange;
        c.need("verdict", is == never, as_saved(&self.verdict), "no_planned_change where no lamp reaches its age");
        let ends = match self.verdict {
            HorizonVerdict::AtLimit => ceiling == self.limit_hours,
            HorizonVerdict::RecordsEnd => ceiling < self.limit_hours,
            _ => true,
        };
        c.need("verdict", ends, as_saved(&self.verdict), "records_end where they end before the limit, at_limit else");
    }
}

/// Mean cost of one screen to a horizon at each of the given planned ages.
///
/// # Formula
/// ```text
/// K(H) = sum_j integral of [1 + M(H - u)] c_j(u) h_j(u) R(u) over u in (0, min(H, A)) + c_p R(A) [1 + M(H - A)]
/// ```
/// `A` planned age; `M` mean number of changes of both kinds; `c_j(u)` cost of a failure by cause j at age u, less money back;
/// the last term only for `A < H`. It is the renewal-type equation `K = k + K * F`, summed by parts: `k(t)` is what one lamp
/// costs by age t, so that the last lamp counts with what it costs before the horizon; what it is worth then is not counted.
/// `c_p` is less what a used lamp of age A is worth, and of today's own age where it is changed at once. With a first lamp of age `a` it is mixed
/// over that lamp's end. A planned change that falls on the horizon itself is not made.
///
/// # Arguments
/// `horizon_hours`: burning hours of the screen, such as those until its conversion. `first_age_hours`: age of the lamp that
/// burns today, 0 for a new one; at or past the planned age it is changed at once.
///
/// # Errors
/// `policy.age_past_limit`, one problem for each age above the limit; `policy.age` for one that is not above 0;
/// `policy.horizon` unless the horizon is finite and at least a billionth of the limit; `renewal.first_age` for a first age below 0 or that no lamp
/// reaches; `renewal.jumps` for a life made of steps; `renewal.too_far`; those of [`WorldCurve::new`].
///
/// # Numerics
/// Twelve digits where the money back has no end before the horizon, or the first lamp is new; else about six.
///
/// # Source
/// Barlow and Proschan, Mathematical Theory of Reliability (1965), chapters 3 and 4 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::Exponential;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::horizon_costs;
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Exponential { scale: 1000.0 }) }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// // At an even rate 1.5 failures come in 1,500 h, and no lamp reaches 1,500 h before.
/// let costs = horizon_costs(&world, 1500.0, 0.0, &[1200.0, 1500.0], &printed.limit()?)?;
/// assert!((costs[1].cost - 1.5 * 5200.0).abs() < 1e-6);
/// // A lamp reaches 1,200 h if none of those fails that burn in the 1,200 h before: chance exp(-1.2) for the first, and as
/// // much for one fitted after a failure in the first 300 h.
/// let planned = 950.0 * (-1.2_f64).exp() * (1.0 + 0.3);
/// assert!((costs[0].cost - 1.5 * 5200.0 - planned).abs() < 1e-6);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn horizon_costs(
    world: &World,
    horizon_hours: f64,
    first_age_hours: f64,
    ages_hours: &[f64],
    limit: &HourLimit,
) -> Result<Vec<HorizonCost>> {
    within_limit(ages_hours, limit)?;
    let curve = WorldCurve::new(world)?;
    let joint = curve.joint();
    let asked = Asked::new(world, &curve, &joint, horizon_hours, first_age_hours, limit, limit.hours())?;
    ages_hours.iter().map(|age| asked.whole(*age)).collect()
}

/// The planned age of least mean cost over a horizon among the ages that the limit and the records allow.
///
/// The cost jumps down at every age that divides the horizon, as the last planned change then falls on it and is not made;
/// between two such ages it is continuous. So every jump that can win is looked at, and the stretches between that cost least
/// are searched. No age below `H / (K(ceiling) / cheapest change + 1)` can win. The advice is whole hours: of the two next to the
/// optimum the cheaper, as an hour too few can bring one change more.
///
/// # Arguments
/// Those of [`horizon_costs`]. `reach`: where the records end; the search ends there too unless a reason lets it go on.
///
/// # Errors
/// Those of [`horizon_costs`] and of [`Reach::ceiling`]; `policy.age_below_hour` where the best age is below one hour.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{HorizonVerdict, Reach, horizon_age};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 4.0, scale: 1000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(1500.0), source: "invented".into(), ..PrintedHours::default() };
/// let best = horizon_age(&world, 2000.0, 0.0, &printed.limit()?, &Reach::default())?;
/// // Three changes, and a fourth lamp that burns a little shorter than the others.
/// assert_eq!((best.verdict, best.age_hours), (HorizonVerdict::BestBelowLimit, 520.0));
/// // No lamp of the records burned past 400 h.
/// let held = horizon_age(&world, 2000.0, 0.0, &printed.limit()?, &Reach::to(400.0))?;
/// assert_eq!((held.verdict, held.age_hours), (HorizonVerdict::RecordsEnd, 400.0));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn horizon_age(
    world: &World,
    horizon_hours: f64,
    first_age_hours: f64,
    limit: &HourLimit,
    reach: &Reach,
) -> Result<HorizonAge> {
    let top = reach.ceiling(limit)?;
    let curve = WorldCurve::new(world)?;
    let joint = curve.joint();
    let asked = Asked::new(world, &curve, &joint, horizon_hours, first_age_hours, limit, top)?;
    let (optimum_hours, optimum_cost, ceiling_cost) = asked.search()?;
    let saving = 100.0 * (ceiling_cost - optimum_cost) / ceiling_cost;
    let ends = top < limit.hours();
    let verdict = if optimum_hours >= (horizon_hours + first_age_hours) * (1.0 - BEFORE) {
        HorizonVerdict::NoPlannedChange
    } else if optimum_hours >= top || saving < FLAT {
        if ends { HorizonVerdict::RecordsEnd } else { HorizonVerdict::AtLimit }
    } else {
        HorizonVerdict::BestBelowLimit
    };
    let exact = if verdict == HorizonVerdict::BestBelowLimit { optimum_hours } else { top };
    let floor = limit.cap(exact);
    if floor < 1.0 {
        let what = "the best age is below one hour: check the costs and units";
        let problem = Problem::new("policy.age_below_hour", what).got(exact).expected("an age of at least 1 h");
        return Err(Error::new(Kind::Refused, problem));
    }
    let mut cost = asked.whole(floor)?;
    if floor < exact && floor + 1.0 <= top {
        let later = asked.whole(floor + 1.0)?;
        if later.cost < cost.cost {
            cost = later;
        }
    }
    let jumps = asked.jumps_near(optimum_hours)?;
    Ok(HorizonAge {
        horizon_hours,
        first_age_hours,
        limit_hours: limit.hours(),
        ceiling_hours: top,
        oldest_at_risk_hours: reach.oldest_at_risk_hours,
        verdict,
        sentence: sentence(verdict, cost.age_hours, saving, &jumps, optimum_hours, ends)
            + &further(cost.age_hours, reach.oldest_at_risk_hours, reach.extrapolate_because.as_deref()),
        age_hours: cost.age_hours,
        cost,
        optimum_hours,
        optimum_cost,
        ceiling_cost,
        jumps,
    })
}

fn sentence(
    verdict: HorizonVerdict,
    age: f64,
    saving: f64,
    jumps: &[HorizonJump],
    optimum: f64,
    records_end: bool,
) -> String {
    let age = full_hours(age);
    match verdict {
        HorizonVerdict::BestBelowLimit => {
            let divides = jumps.iter().find(|j| j.age_hours == optimum);
            let why = divides.map_or(String::new(), |j| {
                let n = u64::from(j.changes);
                format!(", where {} and the horizon meet", counted(n, "planned change"))
            });
            let end = if records_end { "where the records end" } else { "at the limit" };
            format!(
                "change at {age} h: the cost to the horizon is least there{why}, {saving:.1} % below changing {end}"
            )
        }
        HorizonVerdict::AtLimit => {
            format!("change at the limit of {age} h: no earlier age costs noticeably less to the horizon")
        }
        HorizonVerdict::RecordsEnd => {
            format!(
                "change at {age} h: no earlier age costs noticeably less to the horizon, and the records support no later age"
            )
        }
        HorizonVerdict::NoPlannedChange if records_end => {
            format!("no planned change pays before the horizon; the records support no age past {age} h anyway")
        }
        HorizonVerdict::NoPlannedChange => {
            format!("no planned change pays before the horizon; the limit of {age} h holds anyway")
        }
    }
}

/// One screen, one horizon.
#[derive(Debug)]
struct Asked<'a> {
    world: &'a World,
    curve: &'a WorldCurve<'a>,
    joint: &'a Joint<'a>,
    like: Laid<'a>,
    horizon: f64,
    first: f64,
    top: f64,
}

impl<'a> Asked<'a> {
    fn new(
        world: &'a World,
        curve: &'a WorldCurve<'a>,
        joint: &'a Joint<'a>,
        horizon: f64,
        first: f64,
        limit: &HourLimit,
        top: f64,
    ) -> Result<Self> {
        check_length("policy.horizon", "a horizon is a length of burning hours", "horizon_hours", horizon)?;
        let least = SHORTEST * limit.hours();
        if horizon < least {
            let problem = Problem::new("policy.horizon", "a horizon so short beside the limit holds no change");
            let problem = problem.at(Place::input("horizon_hours")).got(horizon);
            return Err(Error::new(Kind::Domain, problem.expected(format!("{least} h or more"))));
        }
        let like = Laid::new(joint, ChangeRule::at_age(top).first_aged(first), None)?;
        Ok(Self { world, curve, joint, like, horizon, first, top })
    }

    fn laid(&self, age: f64) -> Result<Laid<'a>> {
        if age.is_nan() || age <= 0.0 {
            let problem = Problem::new("policy.age", "an age to change at must be above 0").got(age);
            return Err(Error::new(Kind::Domain, problem.at(Place::input("ages_hours"))));
        }
        Laid::new(self.joint, ChangeRule::at_age(age).first_aged(self.first), Some(&self.like))
    }

    /// Cost at an age.
    fn cost(&self, age: f64) -> Result<f64> {
        let laid = self.laid(age)?;
        let timeline = laid.until(self.horizon)?;
        let failures = failures_cost(self.curve, &timeline, self.horizon);
        Ok(failures + self.planned_cost(age, timeline.planned(self.horizon)))
    }

    /// What planned changes cost at an age; today's lamp is changed at once where it is older, and is then worth less.
    fn planned_cost(&self, age: f64, changes: f64) -> f64 {
        let lost =
            if self.first > age { self.curve.planned_cost(self.first) - self.curve.planned_cost(age) } else { 0.0 };
        self.curve.planned_cost(age) * changes + lost
    }

    /// The same with its parts.
    fn whole(&self, age_hours: f64) -> Result<HorizonCost> {
        let laid = self.laid(age_hours)?;
        let timeline = laid.until(self.horizon)?;
        let Failures { number, costs } = Failures::by(self.world, self.curve, &timeline, self.horizon)?;
        let planned_changes = timeline.planned(self.horizon);
        let planned_cost = self.planned_cost(age_hours, planned_changes);
        let cost = planned_cost + costs.values().sum::<f64>();
        Ok(HorizonCost { age_hours, cost, planned_cost, by_ending: costs, planned_changes, failures: number })
    }

    /// The age at which the last of `n` lamps, none of which fails, ends with the horizon; both where today's lamp is one of
    /// them and where it is changed at once.
    fn jump(&self, n: u32) -> impl Iterator<Item = f64> {
        let n = f64::from(n);
        let with = Some((self.horizon + self.first) / n).filter(|a| *a > self.first);
        let at_once = Some(self.horizon / n).filter(|a| *a <= self.first);
        with.into_iter().chain(at_once).filter(|a| *a <= self.top)
    }

    /// An age below which none costs as little as this.
    fn earliest(&self, cost: f64) -> f64 {
        let most = cost / self.curve.cheapest();
        // No lamp burns longer than the age, but today's where it is older: it is changed at once.
        ((self.horizon + self.first) / (most + 1.0)).min(self.horizon / most)
    }

    /// The age of least cost, the cost there, and that at the latest age allowed.
    fn search(&self) -> Result<(f64, f64, f64)> {
        let top_cost = self.cost(self.top)?;
        let (mut best, mut least_cost) = (self.top, top_cost);
        // Stretches from one jump to the next, and the least cost seen in each.
        let mut stretches: Vec<(f64, f64, f64)> = Vec::new();
        let mut high = self.top;
        for low in self.starts(top_cost) {
            if low < self.earliest(least_cost) {
                break;
            }
            let end = if high == self.top { high } else { high * (1.0 - BEFORE) };
            // A mode far narrower than a stretch, as of a weak batch, would be stepped over.
            let known = self.curve.landmarks().iter().copied().filter(|age| *age > low && *age < end);
            let mut ages: Vec<f64> = [low, 0.5 * (low + end), end].into_iter().chain(known).collect();
            ages.sort_by(f64::total_cmp);
            ages.dedup();
            let costs = ages.iter().map(|age| self.cost(*age)).collect::<Result<Vec<f64>>>()?;
            let at = (0..costs.len()).min_by(|a, b| costs[*a].total_cmp(&costs[*b])).unwrap_or(0);
            let age_at = |i: usize| ages.get(i).copied().unwrap_or(end);
            let here = costs.get(at).copied().unwrap_or(f64::INFINITY);
            if here < least_cost {
                (best, least_cost) = (age_at(at), here);
            }
            stretches.push((here, age_at(at.saturating_sub(1)), age_at((at + 1).min(ages.len() - 1))));
            high = low;
        }
        stretches.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (_, low, end) in stretches.iter().take(SEARCHED).filter(|(_, low, end)| low < end) {
            let (age, cost) = least(|age| self.cost(age), *low, *end, 1e-8)?;
            if cost < least_cost {
                (best, least_cost) = (age, cost);
            }
        }
        // Where jumps were left out, one next to the best may be better.
        for _ in 0..MOST_JUMPS {
            let before = least_cost;
            for jump in self.near(best) {
                let cost = self.cost(jump.0)?;
                if cost < least_cost {
                    (best, least_cost) = (jump.0, cost);
                }
            }
            if least_cost == before {
                break;
            }
        }
        Ok((best, least_cost, top_cost))
    }

    /// Where the stretches begin, the latest first, down to the earliest age that can win.
    fn starts(&self, top_cost: f64) -> Vec<f64> {
        let from = self.earliest(top_cost);
        let mut starts: Vec<f64> = Vec::new();
        let mut n: u32 = 1;
        loop {
            let ages: Vec<f64> = self.jump(n).collect();
            starts.extend(&ages);
            let next = (self.horizon + self.first) / f64::from(n + 1);
            if next < from || n == u32::MAX - 1 || starts.len() > 1_000 {
                break;
            }
            // Further on they lie closer than matters.
            n = if (n as usize) < MOST_JUMPS { n + 1 } else { (f64::from(n) / THIN).ceil() as u32 };
        }
        starts.push(from.min(self.top));
        if self.first > 0.0 && self.first < self.top {
            starts.push(self.first);
        }
        // Just before it a used lamp is still worth something.
        starts.extend(self.curve.salvage().map(Salvage::end_hours));
        starts.retain(|age| *age < self.top && *age >= from);
        starts.sort_by(|a, b| b.total_cmp(a));
        starts.dedup();
        if starts.is_empty() { vec![0.5 * self.top] } else { starts }
    }

    /// The jumps on either side of an age, itself among them.
    fn near(&self, age: f64) -> Vec<(f64, u32)> {
        let middle = if age > self.first { (self.horizon + self.first) / age } else { self.horizon / age };
        let middle = middle.round().min(f64::from(u32::MAX / 2)) as u32;
        let around = middle.saturating_sub(1).max(1)..=middle + 1;
        let mut near: Vec<(f64, u32)> = around
            .flat_map(|n| {
                // Today's lamp is one of the n, or is changed at once and comes before them.
                self.jump(n).map(move |a| (a, n)).collect::<Vec<_>>()
            })
            .map(|(a, n)| (a, if a > self.first || self.first == 0.0 { n - 1 } else { n }))
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0));
        near
    }

    fn jumps_near(&self, age: f64) -> Result<Vec<HorizonJump>> {
        let one = |(age_hours, changes): (f64, u32)| {
            let cost_before = self.cost(age_hours * (1.0 - BEFORE))?;
            Ok(HorizonJump { age_hours, changes, cost: self.cost(age_hours)?, cost_before })
        };
        self.near(age).into_iter().map(one).collect()
    }
}
