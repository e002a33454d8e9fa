//! The planned age of least cost that the limit allows.

use serde::{Deserialize, Serialize};

use super::cost::{CostPoint, cost_point};
use super::curve::WorldCurve;
use super::objective::Objective;
use super::reach::{Reach, age_problem, further};
use super::search::{ROOT, Searched, grid, runs_below, search};
use super::unlimited::priced_optimum;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{full_hours, short};
use crate::base::sound::{Checks, Sound, as_saved};
use crate::fit::World;
use crate::terms::{Costs, HourLimit};

/// Steps of the search in ln age, between which the quantiles of every life and of its parts are looked at too; a dip
/// narrower than that is looked for around the least cost.
const STEPS: usize = 96;

/// What to compare with and how far to look.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AgeOptions {
    /// The age at which lamps are changed today, hours.
    pub todays_rule_hours: Option<f64>,
    /// Ages count as near the best up to this much more cost, percent.
    pub near_percent: f64,
    /// An earlier change than at the limit is advised only if it saves at least this much, percent.
    pub least_saving_percent: f64,
    /// Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given below, or
    /// today's rule lies past it and stays.
    pub oldest_at_risk_hours: Option<f64>,
    /// Why advice may pass the oldest lamp at risk (never the limit).
    pub extrapolate_because: Option<String>,
    /// What the age is chosen by.
    #[serde(default, skip_serializing_if = "Objective::is_plain")]
    pub objective: Objective,
}

impl Default for AgeOptions {
    /// Nothing to compare with, 2 % near the best, 0.1 % least saving, no end of the records, cost per hour.
    fn default() -> Self {
        Self {
            todays_rule_hours: None,
            near_percent: 2.0,
            least_saving_percent: 0.1,
            oldest_at_risk_hours: None,
            extrapolate_because: None,
            objective: Objective::CostPerHour,
        }
    }
}

impl AgeOptions {
    /// Checks the options and gives the age that no answer passes: the limit, or the end of the records if earlier.
    pub(super) fn ceiling(&self, limit: &HourLimit) -> Result<f64> {
        let reach = Reach {
            oldest_at_risk_hours: self.oldest_at_risk_hours,
            extrapolate_because: self.extrapolate_because.clone(),
        };
        let mut problems: Vec<Problem> = age_problem("todays_rule_hours", self.todays_rule_hours).into_iter().collect();
        let place = |name: &str| Place::input("options").column(name);
        for (name, percent) in
            [("near_percent", self.near_percent), ("least_saving_percent", self.least_saving_percent)]
        {
            if !(0.0..=100.0).contains(&percent) {
                let problem = Problem::new("policy.option_percent", "a percentage among the options is out of range");
                problems.push(problem.at(place(name)).got(percent).expected("0 to 100"));
            }
        }
        problems.extend(reach.problems());
        if problems.is_empty() { Ok(reach.held(limit)) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Today's rule, held to the limit.
    pub(super) fn rule(&self, limit: &HourLimit) -> Option<f64> {
        self.todays_rule_hours.map(|r| r.min(limit.hours()))
    }
}

/// Why the planned age stands where it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Verdict {
    /// The cost is least at an age below the limit.
    BestBelowLimit,
    /// A later planned change would cost less, but no advice passes the limit.
    LimitBinds,
    /// No planned change pays; lamps run to the limit, which holds anyway.
    NoPlannedChangePays,
    /// A planned change costs as much as any failure or more; lamps run to the limit, which holds anyway.
    PlannedCostsAtLeastFailure,
    /// The least cost lies below the limit but saves next to nothing; lamps run to the limit.
    FlatSavesNothing,
    /// The cost still falls where the records end, and they support no later age.
    RecordsEnd,
    /// Today's rule lies past the end of the records, which support no age so late; but by the model every age within
    /// them costs more. An advice to change earlier would cost money on the word of the model alone, so today's rule,
    /// held to the limit, stays.
    TodaysRuleStays,
    /// Failures are too few to show wear, so that a study keeps today's rule, held to the limit; [`planned_age`] takes
    /// the life that it is given and never answers so.
    TooFewFailures,
}

/// What is saved against another rule; negative where the other rule is cheaper.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Saving {
    /// Per lamp hour.
    pub per_hour: f64,
    /// Percent of the other rule's cost.
    pub percent: f64,
}

impl Saving {
    fn of(cost: f64, other: f64) -> Self {
        Self { per_hour: other - cost, percent: 100.0 * (other - cost) / other }
    }
}

/// What an end of a stretch of ages is. As every limit is finite, no stretch runs on to failure: what costs as little there ends
/// at the limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BandEnd {
    /// The cost passes the bound there.
    Exact,
    /// Cut at the hour limit.
    AtLimit,
    /// Cut at the oldest lamp at risk.
    RecordsEnd,
}

/// A stretch of ages whose cost is near the least.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    /// Lower end, hours.
    pub from_hours: f64,
    /// What the lower end is: always exact, as the cost of an ever earlier change passes every bound.
    pub from_end: BandEnd,
    /// Upper end, hours; never above the limit.
    pub to_hours: f64,
    /// What the upper end is.
    pub to_end: BandEnd,
}

impl Band {
    /// A stretch found by a search that ends at a ceiling: the limit, or where the records end before it.
    pub(super) fn of_run((from_hours, to_hours): (f64, f64), ceiling: f64, limit: &HourLimit) -> Self {
        let to_end = if to_hours < ceiling {
            BandEnd::Exact
        } else if ceiling < limit.hours() {
            BandEnd::RecordsEnd
        } else {
            BandEnd::AtLimit
        };
        Self { from_hours, from_end: BandEnd::Exact, to_hours, to_end }
    }

    /// The two ends in words, such as "731 to 900 h, cut at the limit".
    pub fn words(&self) -> String {
        let cut = match self.to_end {
            BandEnd::Exact => "",
            BandEnd::AtLimit => ", cut at the limit",
            BandEnd::RecordsEnd => ", cut where the records end",
        };
        // Whole hours inside the stretch, where it holds any.
        let (up, down) = (self.from_hours.ceil(), self.to_hours.floor());
        let from = if up <= down { up } else { self.from_hours };
        format!("{} to {} h{cut}", full_hours(from), full_hours(down))
    }
}

/// The planned age of a lamp class and what it costs. No age in it passes the limit. Under another objective than the cost
/// per hour, every cost here is in its amounts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedAge {
    /// What the age is chosen by.
    #[serde(default, skip_serializing_if = "Objective::is_plain")]
    pub objective: Objective,
    /// Why the age stands where it does.
    pub verdict: Verdict,
    /// The same in plain words.
    pub sentence: String,
    /// The advice: whole hours, rounded down, at most the limit. It passes the records only where a reason was given, or
    /// where today's rule does and stays ([`Verdict::TodaysRuleStays`]).
    pub age_hours: f64,
    /// Cost at that age.
    pub cost: CostPoint,
    /// Age of least cost not past the limit or the records, before rounding and before asking whether it is worth it.
    pub optimum_hours: f64,
    /// Cost per hour there.
    pub optimum_cost_per_hour: f64,
    /// The limit in force.
    pub limit_hours: f64,
    /// The age that the search did not pass: the limit, or the oldest lamp at risk if earlier.
    pub ceiling_hours: f64,
    /// Age of the oldest lamp at risk, where it was given.
    pub oldest_at_risk_hours: Option<f64>,
    /// Whether the advised age lies past the oldest lamp at risk, where the model is an opinion.
    pub past_records: bool,
    /// Ages whose cost is within `near_percent` of the least.
    pub near_best: Vec<Band>,
    /// How near, percent.
    pub near_percent: f64,
    /// Cost under today's rule, held to the limit.
    pub todays_rule: Option<CostPoint>,
    /// Saving against today's rule, held to the limit.
    pub saving_against_todays_rule: Option<Saving>,
    /// Cost per hour if lamps ran to failure: only to compare, for it passes the limit; none where it does not settle.
    pub run_to_failure_cost_per_hour: Option<f64>,
    /// Saving against running to failure.
    pub saving_against_run_to_failure: Option<Saving>,
}

impl Sound for PlannedAge {
    fn check(&self, c: &mut Checks) {
        c.positive("limit_hours", self.limit_hours);
        c.age("ceiling_hours", self.ceiling_hours, self.limit_hours);
        c.advice("age_hours", self.age_hours, self.limit_hours);
        c.part("cost", &self.cost);
        c.equal("cost.age_hours", self.cost.age_hours, self.age_hours);
        c.age("optimum_hours", self.optimum_hours, self.ceiling_hours);
        c.positive("optimum_cost_per_hour", self.optimum_cost_per_hour);
        for (i, band) in self.near_best.iter().enumerate() {
            c.age(&format!("near_best[{i}].to_hours"), band.to_hours, self.limit_hours);
            c.age(&format!("near_best[{i}].from_hours"), band.from_hours, band.to_hours);
        }
        c.not_negative("near_percent", self.near_percent);
        if let Some(rule) = &self.todays_rule {
            c.part("todays_rule", rule);
            c.age("todays_rule.age_hours", rule.age_hours, self.limit_hours);
        }
        c.positive("run_to_failure_cost_per_hour", self.run_to_failure_cost_per_hour);
        self.ends_agree(c);
        self.savings_agree(c);
    }
}

impl PlannedAge {
    /// Under a discount, what all changes to come in a socket are worth on the day it gets a new lamp, that lamp not counted;
    /// none under another objective.
    ///
    /// # Formula
    /// ```text
    /// discounted cost per hour / rate per hour
    /// ```
    pub fn present_value(&self) -> Option<f64> {
        match &self.objective {
            Objective::DiscountedCost(discount) => Some(self.cost.cost_per_hour / discount.rate_per_hour()),
            _ => None,
        }
    }

    /// Under dark time, the share of the time asked for that a screen has light; none under another objective.
    ///
    /// # Formula
    /// ```text
    /// 60 / (60 + dark minutes per lamp hour)
    /// ```
    pub fn availability(&self) -> Option<f64> {
        let light = 60.0 / (60.0 + self.cost.cost_per_hour);
        matches!(self.objective, Objective::DarkMinutes(_)).then_some(light)
    }

    /// The advised age and the ages near it against the verdict, the limit and the end of the records.
    fn ends_agree(&self, c: &mut Checks) {
        let (limit, ceiling) = (self.limit_hours, self.ceiling_hours);
        let rule = self.todays_rule.as_ref();
        let exact = match self.verdict {
            Verdict::BestBelowLimit => self.optimum_hours,
            Verdict::TodaysRuleStays => rule.map_or(ceiling, |rule| rule.age_hours),
            _ => ceiling,
        };
        c.follows("age_hours", &self.age_hours, &exact.min(limit).floor());
        // The search ends at the limit or where the records do, and nowhere else.
        if !self.oldest_at_risk_hours.is_some_and(|oldest| ceiling == oldest && oldest < limit) {
            c.follows("ceiling_hours", &ceiling, &limit);
        }
        let past = self.oldest_at_risk_hours.is_some_and(|oldest| self.age_hours > oldest);
        c.follows("past_records", &self.past_records, &past);
        match self.verdict {
            Verdict::LimitBinds | Verdict::NoPlannedChangePays => c.follows("ceiling_hours", &ceiling, &limit),
            Verdict::RecordsEnd => c.need("ceiling_hours", ceiling < limit, ceiling, format!("below {limit}")),
            Verdict::TooFewFailures => c.need("verdict", false, as_saved(&self.verdict), "a verdict on a cost curve"),
            _ => {}
        }
        // An earlier age that costs more than a rule past the records is no advice.
        let dearer = |rule: &CostPoint| rule.cost_per_hour < self.cost.cost_per_hour;
        let past = rule.filter(|rule| rule.age_hours > ceiling);
        let holds = if self.verdict == Verdict::TodaysRuleStays { past.is_some() } else { !past.is_some_and(dearer) };
        let expected = "todays_rule_stays where that rule lies past the records and costs less, and only there";
        c.need("verdict", holds, as_saved(&self.verdict), expected);
        let mut before = 0.0;
        for (i, band) in self.near_best.iter().enumerate() {
            let field = format!("near_best[{i}].to_hours");
            c.ends(&format!("near_best[{i}].from_hours"), before, band.from_hours);
            before = band.to_hours;
            c.age(&field, band.to_hours, ceiling);
            c.follows(&format!("near_best[{i}].from_end"), &band.from_end, &BandEnd::Exact);
            match band.to_end {
                BandEnd::AtLimit => c.equal(&field, band.to_hours, limit),
                BandEnd::RecordsEnd => c.equal(&field, band.to_hours, ceiling),
                BandEnd::Exact => {}
            }
        }
        // Nothing on the way to the ceiling costs less than the optimum.
        let (least, here) = (self.optimum_cost_per_hour, self.cost.cost_per_hour);
        if self.verdict != Verdict::TodaysRuleStays {
            c.need("optimum_cost_per_hour", least <= here * (1.0 + 1e-6), least, format!("at most {here}"));
        }
    }

    /// Every saving against the two costs that it is the difference of.
    fn savings_agree(&self, c: &mut Checks) {
        let todays = self.todays_rule.as_ref().map(|rule| rule.cost_per_hour);
        for (field, got, other) in [
            ("saving_against_todays_rule", self.saving_against_todays_rule, todays),
            ("saving_against_run_to_failure", self.saving_against_run_to_failure, self.run_to_failure_cost_per_hour),
        ] {
            c.there(field, got.is_some(), other.is_some(), "there with a cost to compare with");
            if let (Some(got), Some(other)) = (got, other) {
                let made = Saving::of(self.cost.cost_per_hour, other);
                c.near(&format!("{field}.per_hour"), got.per_hour, made.per_hour, other);
                c.near(&format!("{field}.percent"), got.percent, made.percent, 100.0);
            }
        }
    }
}

/// The age that minimises the long-run cost per hour among the ages the limit allows.
///
/// # Formula
/// ```text
/// C(T) = [c_p R(T) + sum_j c_j F_j(T)] / M(T),   0 < T <= limit
/// stationary where sum_j (c_j - c_p) [h_j(T) M(T) - F_j(T)] = c_p
/// ```
/// Money back and the worth of a used lamp come in as in [`WorldCurve::slope`]; an age from which a used lamp is worth nothing
/// is looked at from both sides.
///
/// Roots of the second line are bracketed in ln age and compared with each other, with both sides of every step of
/// the curve, with the limit and with running to failure (see [`super::cost_curve`] for the letters).
///
/// Where the records end before the limit the search ends there. If today's rule lies past that age and costs less than
/// the age that the search would advise, it stays: the records support no later age, and an earlier one would cost more.
///
/// # Errors
/// `policy.option_age`, `policy.option_percent`, `policy.extrapolate_reason` for the options; `policy.age_below_hour`
/// where the best age is below one hour; those of [`WorldCurve::new`] and of the integrals.
///
/// # Source
/// Barlow and Proschan, Mathematical Theory of Reliability (1965), chapter 4, for one cause; the sum over causes is
/// the same argument with the cost of whatever ends a cycle.
pub fn planned_age(world: &World, limit: &HourLimit, options: &AgeOptions) -> Result<PlannedAge> {
    priced_age(world, &world.costs, limit, options)
}

/// The same at other costs than those of the world.
pub(super) fn priced_age(world: &World, costs: &Costs, limit: &HourLimit, options: &AgeOptions) -> Result<PlannedAge> {
    let ceiling = options.ceiling(limit)?;
    options.objective.heed(costs)?;
    let objective = &options.objective.at(costs);
    let mut curve = WorldCurve::priced(world, costs, objective)?;
    let (searched, optimum_hours, optimum_cost_per_hour) = constrained(&mut curve, ceiling)?;
    let at_ceiling = curve.up_to(ceiling)?;
    let ceiling_cost = curve.cost(&at_ceiling);
    let forever = curve.up_to(f64::INFINITY).map(|u| curve.cost(&u)).ok().filter(|c| *c > 0.0 && c.is_finite());

    let saving = 100.0 * (ceiling_cost - optimum_cost_per_hour) / ceiling_cost;
    let planned_costs_more = curve.costs().iter().all(|c| *c <= curve.least_planned_cost());
    let verdict = if optimum_hours < ceiling && saving >= options.least_saving_percent {
        Verdict::BestBelowLimit
    } else if planned_costs_more {
        Verdict::PlannedCostsAtLeastFailure
    } else if optimum_hours < ceiling {
        Verdict::FlatSavesNothing
    } else if ceiling < limit.hours() {
        Verdict::RecordsEnd
    } else if pays_later(world, costs, options)? {
        Verdict::LimitBinds
    } else {
        Verdict::NoPlannedChangePays
    };
    let exact = if verdict == Verdict::BestBelowLimit { optimum_hours } else { ceiling };
    let age_hours = whole_hour(&curve, limit, exact.min(ceiling), ceiling)?;
    if age_hours < 1.0 {
        let problem =
            Problem::new("policy.age_below_hour", "the best age is below one hour: check the costs and units")
                .got(exact)
                .expected("an age of at least 1 h");
        return Err(Error::new(Kind::Refused, problem));
    }
    let cost = cost_point(world, costs, objective, &curve, age_hours)?;
    let todays_rule = options.rule(limit).map(|age| cost_point(world, costs, objective, &curve, age)).transpose()?;
    let stays = todays_rule.as_ref().filter(|r| r.age_hours > ceiling && r.cost_per_hour < cost.cost_per_hour);
    let (verdict, sentence, age_hours, cost) = if let Some(rule) = stays {
        let age = limit.cap(rule.age_hours);
        let said = stays_sentence(objective, rule, ceiling, limit, &cost);
        (Verdict::TodaysRuleStays, said, age, cost_point(world, costs, objective, &curve, age)?)
    } else {
        let asked = options.least_saving_percent;
        let said = sentence(objective, verdict, age_hours, (saving, asked), ceiling < limit.hours());
        (verdict, said, age_hours, cost)
    };
    let because = options.extrapolate_because.as_deref();
    let more = further(age_hours, options.oldest_at_risk_hours, because);
    let past = options.todays_rule_hours.filter(|rule| *rule > limit.hours()).map_or_else(String::new, |rule| {
        let (rule, held) = (full_hours(rule), full_hours(limit.hours()));
        format!("; today's rule of {rule} h passes the limit and is compared as {held} h")
    });
    let sentence = past_makers(format!("{sentence}{more}{past}"), age_hours, limit);
    let bound = optimum_cost_per_hour * (1.0 + options.near_percent / 100.0);
    let points: Vec<_> = searched.points.iter().map(|p| (p.age, p.cost, p.mark)).collect();
    let cost_at = |age: f64| Ok(curve.cost(&curve.up_to(age)?));
    let runs = runs_below(&points, &cost_at, bound, ROOT)?;
    let near_best = runs.into_iter().map(|run| Band::of_run(run, ceiling, limit)).collect();
    let against = |other: Option<f64>| other.map(|o| Saving::of(cost.cost_per_hour, o));
    Ok(PlannedAge {
        objective: objective.clone(),
        verdict,
        sentence,
        age_hours,
        optimum_hours,
        optimum_cost_per_hour,
        limit_hours: limit.hours(),
        ceiling_hours: ceiling,
        oldest_at_risk_hours: options.oldest_at_risk_hours,
        past_records: options.oldest_at_risk_hours.is_some_and(|oldest| age_hours > oldest),
        near_best,
        near_percent: options.near_percent,
        saving_against_todays_rule: against(todays_rule.as_ref().map(|p| p.cost_per_hour)),
        todays_rule,
        run_to_failure_cost_per_hour: forever,
        saving_against_run_to_failure: against(forever),
        cost,
    })
}

/// The advice for a best age: whole hours, rounded down. Where rounding alone keeps the best age from the next hour, as at a
/// corner on that hour, the advice is the next one, unless it costs more: there the curve jumps.
fn whole_hour(curve: &WorldCurve, limit: &HourLimit, exact: f64, ceiling: f64) -> Result<f64> {
    let (below, next) = (limit.cap(exact), exact.round());
    if next <= below || next > ceiling || next - exact > CORNER * exact || limit.cap(next) < next {
        return Ok(below);
    }
    let cost = |age: f64| curve.up_to(age).map(|upto| curve.cost(&upto));
    Ok(if below < 1.0 || cost(next)? <= cost(below)? { next } else { below })
}

/// Saving, percent, from which a cost is not called flat where more than that was asked for.
const FLAT: f64 = 1.0;

/// Distance below an hour, relative, that a search cannot tell from the hour.
const CORNER: f64 = 1e-9;

/// The planned age of a world where only the age and the reason for it are asked for.
pub(super) struct Stand {
    pub(super) age_hours: f64,
    pub(super) verdict: Verdict,
    /// Why the age stands at the ceiling, in words; none where it is the optimum, or where the limit alone holds it.
    pub(super) because: Option<String>,
}

/// The planned age and why it stands where it does. Where the records end, no later change may pay either: then that is
/// the verdict.
pub(super) fn stand(world: &World, limit: &HourLimit, options: &AgeOptions) -> Result<Stand> {
    let planned = planned_age(world, limit, options)?;
    let ends = planned.verdict == Verdict::RecordsEnd;
    let verdict =
        if ends && !pays_later(world, &world.costs, options)? { Verdict::NoPlannedChangePays } else { planned.verdict };
    let reason = match verdict {
        Verdict::NoPlannedChangePays => "no planned change pays",
        Verdict::PlannedCostsAtLeastFailure => "a planned change costs as much as a failure or more, so none pays",
        Verdict::FlatSavesNothing => "the cost is flat and an earlier change saves next to nothing",
        Verdict::RecordsEnd => "the cost still falls where the records end",
        Verdict::TodaysRuleStays => "today's rule costs less than any age within the records and stays",
        _ => "",
    };
    let age = full_hours(planned.age_hours);
    let what = match verdict {
        Verdict::TodaysRuleStays => "today's rule",
        _ if planned.ceiling_hours < limit.hours() => "the oldest lamp at risk",
        _ => "the hour limit",
    };
    let because = (!reason.is_empty()).then(|| format!("{reason}, and {age} h is {what}"));
    Ok(Stand { age_hours: planned.age_hours, verdict, because })
}

/// The search up to a ceiling, its best age and the cost there.
pub(super) fn constrained(curve: &mut WorldCurve, ceiling: f64) -> Result<(Searched, f64, f64)> {
    // From landmark to landmark an integral cannot miss a mode between its own points.
    let known: Vec<f64> = curve.landmarks().iter().copied().filter(|age| *age < ceiling).collect();
    curve.remember(&known)?;
    let reference = curve.cost(&curve.up_to(ceiling)?);
    // A tenth of the earliest age that can win leaves the steep early side in sight for the ages near the best.
    let from = (0.1 * curve.earliest(reference)).min(0.1 * ceiling);
    let ages = grid(curve, from, ceiling, STEPS);
    curve.remember(&ages.iter().map(|(a, _)| *a).collect::<Vec<_>>())?;
    let searched = search(curve, &ages)?;
    let best = searched.points.get(searched.best).filter(|p| p.cost.is_finite());
    let found = best.map(|p| (p.age.min(ceiling), p.cost));
    if let Some((age, cost)) = found {
        return Ok((searched, age, cost));
    }
    let problem = Problem::new("policy.no_cost", "no age has a finite cost per hour").got(ceiling);
    Err(Error::new(Kind::Refused, problem))
}

/// Whether a planned change past the limit would pay. Where the curve ends before that can be known, the cost that
/// still falls at the limit counts as yes.
fn pays_later(world: &World, costs: &Costs, options: &AgeOptions) -> Result<bool> {
    match priced_optimum(world, costs, &options.objective) {
        Ok(optimum) => Ok(match (optimum.age_hours, optimum.run_to_failure_cost_per_hour) {
            (Some(_), Some(failure)) => {
                failure - optimum.cost_per_hour >= failure * options.least_saving_percent / 100.0
            }
            (Some(_), None) => true,
            (None, _) => false,
        }),
        Err(error) if error.kind() == Kind::Stopped => Err(error),
        Err(_) => Ok(true),
    }
}

/// Why today's rule stays though it lies past the records, which would support another age.
fn stays_sentence(
    objective: &Objective,
    rule: &CostPoint,
    ceiling: f64,
    limit: &HourLimit,
    other: &CostPoint,
) -> String {
    let held = if rule.age_hours < limit.hours() { " of" } else { ", held to the limit of" };
    let percent = 100.0 * (other.cost_per_hour - rule.cost_per_hour) / rule.cost_per_hour;
    let more = if percent < 0.1 { "a little more".to_owned() } else { format!("{percent:.1} % more") };
    let does = match objective {
        Objective::DarkMinutes(_) => format!("darkens a screen {more} of each hour"),
        Objective::DiscountedCost(_) => format!("costs {more} per hour, discounted"),
        Objective::CostPerHour => format!("costs {more} per hour"),
    };
    format!(
        "keep today's rule{held} {} h: no lamp was at risk past {} h, so the records support no age so late, but by the \
         model a change at {} h, which they would support, {does}",
        full_hours(rule.age_hours),
        full_hours(ceiling),
        full_hours(other.age_hours)
    )
}

/// The sentence of an age, and the maker's limit where a limit with a reason lets the age pass it.
fn past_makers(sentence: String, age_hours: f64, limit: &HourLimit) -> String {
    if age_hours <= limit.maker_hours() {
        return sentence;
    }
    let makers = full_hours(limit.maker_hours());
    format!("{sentence}; that lies past the maker's limit of {makers} h, which prevails over any computed age")
}

fn sentence(
    objective: &Objective,
    verdict: Verdict,
    age: f64,
    (saving, least_saving): (f64, f64),
    records_end: bool,
) -> String {
    let (age, noun) = (full_hours(age), objective.noun());
    let dark = matches!(objective, Objective::DarkMinutes(_));
    let on = if dark { "in dark time" } else { "on cost" };
    // What stops the advice where no planned change pays.
    let stop = if records_end { "past which the records support none" } else { "which no lamp may pass" };
    match verdict {
        Verdict::BestBelowLimit => {
            let end = if records_end { "to where the records end" } else { "to the limit" };
            // Rounded to all of it, a saving reads as if nothing were left to pay.
            let saves = if saving >= 99.95 { "more than 99.9".to_owned() } else { format!("{saving:.1}") };
            format!("change at {age} h: the {noun} is least there, {saves} % below running {end}")
        }
        Verdict::LimitBinds => {
            format!("change at the limit of {age} h: the {noun} still falls there, but no advice passes the limit")
        }
        Verdict::NoPlannedChangePays => {
            format!("no planned change pays {on}; change at the limit of {age} h, which holds anyway")
        }
        Verdict::PlannedCostsAtLeastFailure if dark => {
            format!(
                "a planned change darkens a screen as long as a failure or longer, so none pays; change at {age} h, {stop}"
            )
        }
        Verdict::PlannedCostsAtLeastFailure => {
            format!("a planned change costs as much as a failure or more, so none pays; change at {age} h, {stop}")
        }
        Verdict::FlatSavesNothing if saving >= FLAT => {
            format!(
                "the best age saves {saving:.2} % against {age} h, less than the {} % that a change before {age} h is asked \
                 to save",
                short(least_saving)
            )
        }
        Verdict::FlatSavesNothing => {
            // Rounded to nothing, a saving reads as none, and by rounding it may come out below 0.
            let saves = if saving < 0.01 { "less than 0.01".to_owned() } else { format!("only {saving:.2}") };
            format!(
                "the {noun} is flat: the best age saves {saves} % against {age} h, so there is no case {on} for a change \
                 before {age} h"
            )
        }
        Verdict::RecordsEnd | Verdict::TodaysRuleStays | Verdict::TooFewFailures => {
            format!("change at {age} h: the {noun} still falls there, but the records support no later age")
        }
    }
}
