//! All lamps on fixed days, whatever their age, and failures one by one in between.

use serde::{Deserialize, Serialize};

use super::cost::EndingCost;
use super::curve::WorldCurve;
use super::over_time::{Failures, check_length, failures_cost};
use super::reach::{Reach, further, is_ceiling};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::full_hours;
use crate::base::math::least::least;
use crate::base::math::root::bracketed;
use crate::base::sound::{Checks, Sound, as_saved};
use crate::fit::World;
use crate::renewal::{Amounts, ChangeRule, Laid, Timeline};
use crate::terms::{HourLimit, LARGEST_AMOUNT, Salvage};

/// Mean hours from a change to the next up to which intervals are searched; what is longer costs next to what no blocks do.
const SEARCHED: f64 = 20.0;
/// The same where changes cannot be followed so far, as of lives that hardly spread.
const FEWEST: f64 = 2.0;
/// Steps of the search in ln interval.
const STEPS: usize = 240;
/// Lamps in a row whose narrow modes are looked at.
const GENERATIONS: u32 = 3;
/// How far past a jump of the cost the search goes on, relative.
const PAST: f64 = 1e-9;
/// Step of the slope, relative to the interval: rounding of the cost and the curve of the slope then weigh alike.
const SLOPE: f64 = 2e-3;
/// Depth of a dip between neighbouring steps, relative, below which it is rounding.
const DIP: f64 = 1e-11;
/// Saving, percent, below which blocks are not advised.
const FLAT: f64 = 0.1;

/// Long-run cost per lamp hour when all lamps are changed together at an interval.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BlockCost {
    /// Burning hours of a screen from one change of all lamps to the next.
    pub every_hours: f64,
    /// Cost per lamp hour; the sum of the parts below.
    pub cost_per_hour: f64,
    /// Part that the changes of all lamps bring, less what the used lamps are worth.
    pub block_cost_per_hour: f64,
    /// Part that lamps bring which reach the limit before the next change of all and are changed alone.
    pub alone_cost_per_hour: f64,
    /// Parts that failures bring, less any money back, by ending in the order of the endings.
    pub by_ending: Vec<EndingCost>,
    /// Mean number of failures of a screen from one change of all to the next.
    pub failures: f64,
    /// Mean number of lamps changed alone at the limit in that time.
    pub alone: f64,
    /// Mean worth of the used lamp that a change of all takes out of a screen.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub used_worth: f64,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_nothing(worth: &f64) -> bool {
    *worth == 0.0
}

impl Sound for BlockCost {
    fn check(&self, c: &mut Checks) {
        c.positive("every_hours", self.every_hours);
        c.positive("block_cost_per_hour", self.block_cost_per_hour);
        c.not_negative("alone_cost_per_hour", self.alone_cost_per_hour);
        for (i, part) in self.by_ending.iter().enumerate() {
            c.not_negative(&format!("by_ending[{i}].cost_per_hour"), part.cost_per_hour);
        }
        let failures: f64 = self.by_ending.iter().map(|part| part.cost_per_hour).sum();
        let sum = self.block_cost_per_hour + self.alone_cost_per_hour + failures;
        c.equal("cost_per_hour", self.cost_per_hour, sum);
        c.not_negative("failures", self.failures);
        c.not_negative("alone", self.alone);
        c.not_negative("used_worth", self.used_worth);
    }
}

/// Whether changes of all lamps together pay.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BlockVerdict {
    /// They cost less at some interval than changing every lamp alone, at failure or at the limit.
    BlocksPay,
    /// At no interval, or next to nothing.
    NoBlockPays,
}

/// The interval of least cost for changes of all lamps together. No lamp in it passes the limit, nor the records unless a reason
/// lets it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BlockInterval {
    /// Whether such changes pay.
    pub verdict: BlockVerdict,
    /// The same in plain words.
    pub sentence: String,
    /// The advice and what it costs: whole hours, of the two next to the optimum the cheaper; none where no block pays.
    pub advice: Option<BlockCost>,
    /// Interval of least cost, before rounding; none where the cost only falls with the interval.
    pub optimum_hours: Option<f64>,
    /// Least cost per lamp hour of any interval.
    pub optimum_cost_per_hour: f64,
    /// Cost per lamp hour of changing every lamp alone, at failure or at the ceiling.
    pub without_blocks_cost_per_hour: f64,
    /// Intervals at which the cost stops falling, with the cost there, ascending.
    pub minima: Vec<(f64, f64)>,
    /// Cost of one lamp in a change of all.
    pub block_cost: f64,
    /// The limit in force, hours.
    pub limit_hours: f64,
    /// The age at which a lamp is changed alone: the limit, or the oldest lamp at risk if earlier.
    pub ceiling_hours: f64,
    /// Age of the oldest lamp at risk, where it was given.
    pub oldest_at_risk_hours: Option<f64>,
}

impl BlockInterval {
    /// Whether lamps are let burn past the oldest lamp at risk, where the model is an opinion.
    pub fn past_records(&self) -> bool {
        self.oldest_at_risk_hours.is_some_and(|oldest| self.ceiling_hours > oldest)
    }
}

impl Sound for BlockInterval {
    fn check(&self, c: &mut Checks) {
        c.positive("optimum_cost_per_hour", self.optimum_cost_per_hour);
        c.positive("without_blocks_cost_per_hour", self.without_blocks_cost_per_hour);
        c.positive("block_cost", self.block_cost);
        c.positive("limit_hours", self.limit_hours);
        let is = is_ceiling(self.ceiling_hours, self.limit_hours, self.oldest_at_risk_hours);
        c.need("ceiling_hours", is, self.ceiling_hours, "the limit, or the oldest lamp at risk before it");
        c.positive("optimum_hours", self.optimum_hours);
        let least = self.optimum_cost_per_hour;
        let without = self.without_blocks_cost_per_hour;
        c.need("optimum_cost_per_hour", least <= without * (1.0 + 1e-9), least, format!("at most {without}"));
        let pays = self.verdict == BlockVerdict::BlocksPay;
        c.there("advice", self.advice.is_some(), pays, "there where blocks pay");
        let lasts = !pays || self.optimum_hours.is_some();
        c.need("optimum_hours", lasts, as_saved(&self.verdict), "an interval where blocks pay");
        if let Some(advice) = &self.advice {
            c.part("advice", advice);
            let here = advice.cost_per_hour;
            c.need("advice.cost_per_hour", here >= least * (1.0 - 1e-9), here, format!("at least {least}"));
            let whole = advice.block_cost_per_hour * advice.every_hours + advice.used_worth;
            c.equal("advice.block_cost_per_hour", whole, self.block_cost);
            let longer = advice.alone == 0.0 || advice.every_hours > self.ceiling_hours;
            c.need("advice.alone", longer, advice.alone, "0 where the interval is not past the ceiling");
        }
        let mut before = 0.0;
        for (i, (hours, cost)) in self.minima.iter().enumerate() {
            c.ends(&format!("minima[{i}]"), before, *hours);
            c.need(&format!("minima[{i}]"), *cost >= least * (1.0 - 1e-9), cost, format!("at least {least}"));
            before = *hours;
        }
    }
}

/// Long-run cost per lamp hour at each of the given intervals from one change of all lamps to the next.
///
/// # Formula
/// ```text
/// C(B) = [c_b - W(B) + c_p P(B) + sum_j c_j N_j(B)] / B
/// W(B) = s(B) R(B) + integral of s(B - u) R(B - u) dM(u) over (0, B)
/// one cause, no worth of a used lamp, no lamp reaches the limit:  C(B) = [c_b + c_f M(B)] / B
/// ```
/// `c_b` cost of one lamp in a change of all; `N_j(B)` mean failures by cause j and `P(B)` mean changes alone at the limit
/// from one change of all to the next, both in a screen that starts with a new lamp and changes it at failure or at the limit;
/// `M` the renewal function, here of both kinds of change; `s(a)` worth of a used lamp of age a, `W(B)` its mean over the lamps
/// that burn when all are changed, and `c_p` less that at the limit. A lamp that would reach the limit before the next change of all is changed alone then, at
/// the cost of a planned change; one that reaches it on that very day is changed with all. For all lamps of a site on one day,
/// `c_b` holds their share of the visit.
///
/// # Arguments
/// `block_cost`: cost of one lamp in a change of all, where it is not that of a planned change.
///
/// # Errors
/// `policy.block_interval` for an interval that is not finite and above 0; `policy.block_cost` for a cost that is not above 0, or
/// what a used lamp is worth at most, and at most 1e12; `renewal.jumps` for a life made of steps; `renewal.too_far`; those of [`WorldCurve::new`].
///
/// # Source
/// Barlow and Proschan, Mathematical Theory of Reliability (1965), chapter 4, section 2 (from memory).
///
/// # Examples
/// ```
/// use relamp::family::Gamma;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::block_costs;
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Gamma { shape: 2.0, scale: 1000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let cost = block_costs(&world, &[1000.0], &printed.limit()?, None)?.remove(0);
/// // M(B) = B / (2 scale) - (1 - exp(-2 B / scale)) / 4
/// let m = 0.5 - 0.25 * (1.0 - (-2.0_f64).exp());
/// assert!((cost.cost_per_hour - (950.0 + 5200.0 * m) / 1000.0).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn block_costs(
    world: &World,
    every_hours: &[f64],
    limit: &HourLimit,
    block_cost: Option<f64>,
) -> Result<Vec<BlockCost>> {
    let problems: Vec<Problem> = every_hours
        .iter()
        .enumerate()
        .filter_map(|(i, hours)| {
            let what = "an interval of changes of all lamps is a length of burning hours";
            let error = check_length("policy.block_interval", what, "every_hours", *hours).err()?;
            error.problems().first().cloned().map(|p| p.at(Place::input("every_hours").row(i as u64 + 1)))
        })
        .collect();
    if !problems.is_empty() {
        return Err(Error::many(Kind::Domain, problems));
    }
    let block = cost_of_all(world, block_cost)?;
    let curve = WorldCurve::new(world)?;
    let joint = curve.joint();
    let laid = Laid::new(&joint, ChangeRule::at_age(limit.hours()), None)?;
    let most = every_hours.iter().copied().fold(0.0, f64::max);
    if most == 0.0 {
        return Ok(Vec::new());
    }
    let timeline = laid.until(most)?;
    every_hours.iter().map(|hours| whole(world, &curve, &timeline, limit.hours(), block, *hours)).collect()
}

/// The interval of least long-run cost for changes of all lamps together.
///
/// The cost is searched from where a change of all alone costs as much as no blocks do, to 20 mean hours between changes (fewer, down to 2, where the
/// changes of lives that hardly spread cannot be followed so far), past which it has settled next to the cost without blocks. Each dip is narrowed to the root of
/// `B C'(B) = 0`; a cost of a change of all that no interval can earn back is told without a search, and without dips. Where lamps reach the limit the cost jumps, and the intervals just before are looked at too. `B` may lie
/// past the limit: no lamp does. Where the records end before the limit, lamps are changed alone there.
///
/// # Arguments
/// Those of [`block_costs`]. `reach`: where the records end, and why lamps may burn on past that.
///
/// # Errors
/// Those of [`block_costs`] and of [`Reach::ceiling`]; `policy.age_below_hour` where the best interval is below one hour.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{BlockVerdict, Reach, block_interval};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 1000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(500.0, [(Ending::Burst, 5000.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let best = block_interval(&world, &printed.limit()?, None, &Reach::default())?;
/// assert_eq!(best.verdict, BlockVerdict::BlocksPay);
/// assert_eq!(best.advice.map(|a| a.every_hours), Some(376.0));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn block_interval(
    world: &World,
    limit: &HourLimit,
    block_cost: Option<f64>,
    reach: &Reach,
) -> Result<BlockInterval> {
    let top = reach.ceiling(limit)?;
    let block = cost_of_all(world, block_cost)?;
    let curve = WorldCurve::new(world)?;
    let alone = curve.up_to(top)?;
    let without = curve.cost(&alone);
    let joint = curve.joint();
    let laid = Laid::new(&joint, ChangeRule::at_age(top), None)?;
    let from = (block - curve.salvage().map_or(0.0, Salvage::largest)) / without;
    let settled = SEARCHED * alone.exposure_hours;
    // What a change of all can spare a screen is one change alone: the changes up to the first one after B cost `without` B on
    // average at the least, and that one lies past B.
    let dearest = curve.costs().iter().copied().fold(curve.planned_cost(f64::INFINITY), f64::max);
    let hopeless = from > settled && from * without > dearest;
    let mut to = if hopeless { settled } else { settled.max(4.0 * from) };
    let timeline = loop {
        match laid.until(to) {
            // Lives that hardly spread do not settle so soon; what they save, they save in the first few lives.
            Err(e) if e.slug() == "renewal.too_far" && 0.5 * to >= (4.0 * from).max(FEWEST * alone.exposure_hours) => {
                to *= 0.5;
            }
            laid => break laid?,
        }
    };
    let cost = |hours: f64| -> Result<f64> {
        Ok((block - used_worth(&curve, &timeline, top, hours) + brought(&curve, &timeline, top, hours)) / hours)
    };
    let ends = stretches(&curve, to, top);
    let minima = if hopeless { Vec::new() } else { dips(&cost, (from, to), &ends, &landmarks(&curve, to))? };
    let best = minima.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1)).filter(|b| b.1 < without);
    let saving = best.map_or(0.0, |b| 100.0 * (without - b.1) / without);
    let advice = match best.filter(|_| saving >= FLAT) {
        None => None,
        Some((hours, _)) if hours < 1.0 => {
            let what = "the best interval is below one hour: check the costs and units";
            return Err(Error::new(Kind::Refused, Problem::new("policy.block_below_hour", what).got(hours)));
        }
        Some((hours, _)) => {
            let down = whole(world, &curve, &timeline, top, block, hours.floor())?;
            let up = whole(world, &curve, &timeline, top, block, hours.ceil().min(timeline.horizon()))?;
            Some(if up.cost_per_hour < down.cost_per_hour { up } else { down })
        }
    };
    let verdict = if advice.is_some() { BlockVerdict::BlocksPay } else { BlockVerdict::NoBlockPays };
    let limit_hours = limit.hours();
    let end = if top < limit_hours {
        format!("at {} h, past which the records support no age", full_hours(top))
    } else {
        format!("at the limit of {} h", full_hours(top))
    };
    let sentence = if let Some(a) = &advice {
        let every = full_hours(a.every_hours);
        let alone = match a.every_hours > top {
            false => String::new(),
            true if top < limit_hours => format!(", and a lamp alone where it reaches {} h before", full_hours(top)),
            true => ", and a lamp alone where it reaches the limit before".to_owned(),
        };
        format!(
            "change all lamps every {every} h{alone}: that costs {saving:.1} % less than changing each at failure, or {end}"
        )
    } else {
        format!("no change of all lamps together pays; change each at failure, or {end}")
    } + &further(top, reach.oldest_at_risk_hours, reach.extrapolate_because.as_deref());
    Ok(BlockInterval {
        verdict,
        sentence,
        advice,
        optimum_hours: best.map(|b| b.0),
        optimum_cost_per_hour: best.map_or(without, |b| b.1),
        without_blocks_cost_per_hour: without,
        minima,
        block_cost: block,
        limit_hours,
        ceiling_hours: top,
        oldest_at_risk_hours: reach.oldest_at_risk_hours,
    })
}

fn cost_of_all(world: &World, block_cost: Option<f64>) -> Result<f64> {
    let cost = block_cost.unwrap_or_else(|| world.costs.planned());
    let least = world.costs.salvage().map_or(0.0, Salvage::largest);
    if cost > least && cost <= LARGEST_AMOUNT {
        return Ok(cost);
    }
    let problem = Problem::new("policy.block_cost", "the cost of one lamp in a change of all is no amount of money");
    let problem = problem.at(Place::input("block_cost")).got(cost);
    let problem = if least > 0.0 {
        problem.expected(format!("above {least}, the most that a used lamp is worth, and at most 1e12"))
    } else {
        problem.expected("above 0 and at most 1e12")
    };
    Err(Error::new(Kind::Input, problem))
}

/// Cost of a screen from one change of all lamps to the next, without that change.
fn brought(curve: &WorldCurve, timeline: &Timeline<'_>, top: f64, hours: f64) -> f64 {
    failures_cost(curve, timeline, hours) + curve.planned_cost(top) * timeline.planned(hours)
}

/// Mean worth of the lamp that burns in a screen at a time from the change of all before.
///
/// Every lamp begins with the whole worth; what it loses with age, at the end of the worth, by failing, or by being changed
/// alone is taken off, so that only means over the changes are asked for.
fn used_worth(curve: &WorldCurve, timeline: &Timeline<'_>, top: f64, hours: f64) -> f64 {
    let Some(salvage) = curve.salvage() else { return 0.0 };
    let lost = |age: f64| {
        let failing: f64 = curve.hazards(age).sum();
        let worth = salvage.worth(age);
        (if worth == 0.0 { 0.0 } else { worth * failing }) - salvage.slope(age)
    };
    let end = salvage.end_hours();
    let begun = |hours: f64| 1.0 + timeline.changes(hours);
    let at_end = if hours >= end && end <= top && salvage.drop_at_end() > 0.0 {
        salvage.drop_at_end() * curve.ln_reliability(end).exp() * begun(hours - end)
    } else {
        0.0
    };
    let alone = salvage.worth(top) * timeline.planned(hours);
    let losses = timeline.failures(hours, &Amounts { rate: &lost, kinks: curve.kinks() });
    (salvage.largest() * begun(hours) - losses - at_end - alone).max(0.0)
}

/// Where the cost of an interval jumps: the last interval before each jump, and the first after it.
///
/// From a multiple of the limit on lamps are changed alone; from so many hours on as a used lamp is worth something, and from
/// each multiple of the limit more, it is worth nothing.
fn stretches(curve: &WorldCurve, to: f64, limit: f64) -> Vec<(f64, f64)> {
    let multiples = |from: f64| (0_u32..).map(move |k| from + f64::from(k) * limit).take_while(move |x| *x < to);
    let mut ends: Vec<(f64, f64)> = multiples(limit).map(|x| (x, x * (1.0 + PAST))).collect();
    if let Some(salvage) = curve.salvage().filter(|s| s.drop_at_end() > 0.0 && s.end_hours() <= limit) {
        ends.extend(multiples(salvage.end_hours()).map(|x| (x * (1.0 - PAST), x)));
    }
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    ends
}

/// Intervals that a search does not step over: a mode far narrower than a step, as of a weak batch, comes back for the lamps that
/// replace its lamps, a little wider each time.
fn landmarks(curve: &WorldCurve, to: f64) -> Vec<f64> {
    let each = curve.landmarks().iter().flat_map(|age| (1..=GENERATIONS).map(move |k| f64::from(k) * age));
    each.filter(|hours| *hours < to).collect()
}

fn whole(
    world: &World,
    curve: &WorldCurve,
    timeline: &Timeline<'_>,
    top: f64,
    block: f64,
    every_hours: f64,
) -> Result<BlockCost> {
    let Failures { number, costs } = Failures::by(world, curve, timeline, every_hours)?;
    let alone = timeline.planned(every_hours);
    let by_ending: Vec<EndingCost> =
        costs.into_iter().map(|(ending, cost)| EndingCost { ending, cost_per_hour: cost / every_hours }).collect();
    let used_worth = used_worth(curve, timeline, top, every_hours);
    let block_cost_per_hour = (block - used_worth) / every_hours;
    let alone_cost_per_hour = curve.planned_cost(top) * alone / every_hours;
    let failures: f64 = by_ending.iter().map(|part| part.cost_per_hour).sum();
    let cost_per_hour = block_cost_per_hour + alone_cost_per_hour + failures;
    Ok(BlockCost {
        every_hours,
        cost_per_hour,
        block_cost_per_hour,
        alone_cost_per_hour,
        by_ending,
        failures: number,
        alone,
        used_worth,
    })
}

/// Intervals at which the cost stops falling: dips, and those just before a jump.
fn dips(
    cost: &dyn Fn(f64) -> Result<f64>,
    (from, to): (f64, f64),
    ends: &[(f64, f64)],
    landmarks: &[f64],
) -> Result<Vec<(f64, f64)>> {
    let mut minima = Vec::new();
    let mut low = from;
    while low < to {
        // Between two jumps the cost has none.
        let jump = ends.iter().find(|(before, _)| *before > low * (1.0 + 2.0 * PAST));
        let jumps = jump.is_some();
        let (high, next) = jump.copied().unwrap_or((to, f64::INFINITY));
        let steps = ((STEPS as f64 * (high / low).ln() / (to / from).ln()).ceil() as usize).max(8);
        let even = (0..steps).map(|i| low * (high / low).powf(i as f64 / steps as f64));
        let known = landmarks.iter().copied().filter(|hours| *hours > low && *hours < high);
        let mut all: Vec<f64> = even.chain(known).chain([high]).collect();
        all.sort_by(f64::total_cmp);
        all.dedup();
        let points = all.into_iter().map(|hours| Ok((hours, cost(hours)?))).collect::<Result<Vec<(f64, f64)>>>()?;
        for three in points.windows(3) {
            let [a, b, c] = *three else { continue };
            if a.1.min(c.1) - b.1 > DIP * b.1 {
                minima.push(narrowed(cost, a.0, c.0, (low, high))?);
            }
        }
        if let [.., before, last] = points.as_slice()
            && jumps
            && last.1 < before.1
        {
            // It falls up to the jump, where the cost of lamps changed alone comes on top, or the worth of used ones is gone.
            minima.push(*last);
        }
        low = next;
    }
    Ok(minima)
}

/// A dip between two intervals, as the root of the slope where there is room for it.
fn narrowed(cost: &dyn Fn(f64) -> Result<f64>, a: f64, c: f64, (low, high): (f64, f64)) -> Result<(f64, f64)> {
    let (at, value) = least(cost, a, c, 1e-8)?;
    // Rounding hides how flat the bottom is; the slope does not.
    let slope = |hours: f64| -> Result<f64> {
        let h = SLOPE * hours;
        let near = cost(hours + h)? - cost(hours - h)?;
        let far = cost(hours + 2.0 * h)? - cost(hours - 2.0 * h)?;
        Ok(hours * (8.0 * near - far) / (12.0 * h) / value)
    };
    let (left, right) = (at * (1.0 - 1e-5), at * (1.0 + 1e-5));
    if left * (1.0 - 2.0 * SLOPE) <= low || right * (1.0 + 2.0 * SLOPE) >= high {
        return Ok((at, value));
    }
    if slope(left)? < 0.0 && slope(right)? > 0.0 {
        let root = bracketed(slope, left, right, 1e-13 * at)?;
        return Ok((root, cost(root)?));
    }
    Ok((at, value))
}
