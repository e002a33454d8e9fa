//! Planned changes as dated orders, and the safety stock for what has no date.

use serde::{Deserialize, Serialize};

use super::lead::EIGHT;
use super::level::level;
use super::service::signed;
use crate::base::days::MOST_DAYS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting, full_hours, tenths};
use crate::base::math::special::{ln_normal_cdf, normal_quantile};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::demand::{Count, DrawsUsed, SocketToday, SocketUntil, check_sockets};
use crate::fit::{Draws, World, over_draws};
use crate::policy::WorldCurve;
use crate::terms::HourLimit;

/// Days in the lead time at which the stock must hold, evenly spaced; dates of planned changes come on top.
const DAYS_LOOKED_AT: usize = 12;

/// Most of those dates; more are thinned evenly.
const MOST_DATES: usize = 60;

/// Share of dates before the early day, and after the late one.
const EARLY: f64 = 0.1;

/// Largest spread of programme hours, as a share of them.
const MOST_SPREAD: f64 = 1.0;

/// How far programme hours may differ from those planned: standard deviations as shares of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoursSpread {
    /// Of each screen by itself.
    pub each: f64,
    /// Of all screens together, such as a weak season.
    pub shared: f64,
}

/// One planned change with the order that it needs. Days count from today.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DatedOrder {
    /// Row of the lamp, from 1.
    pub row: u64,
    /// Day of the change by the planned hours, if the lamp does not fail before; 0 where it is due or of unknown age.
    pub due_day: f64,
    /// Day before which one in ten such changes comes, by the spread of programme hours.
    pub early_day: f64,
    /// Day after which one in ten comes; by a programme at most the 7,310 days that it is laid out for.
    pub late_day: f64,
    /// Day on which to order, so that the lamp is there on the due day; below 0 where that day has passed.
    pub order_day: f64,
    /// Chance that the lamp fails before, if its screen burns until then: then its successor is needed at once, and comes from
    /// the safety stock.
    pub fails_before: f64,
    /// Chance that the screen stops before, and needs no lamp for the date. 0 in files of before.
    #[serde(default)]
    pub stops_before: f64,
}

/// Stock where planned changes have their dates.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DatedStock {
    /// The result in plain words.
    pub sentence: String,
    /// Wanted chance that no screen waits, on each day of the lead time, each day by itself: the chance that none waits over
    /// the whole of it is lower.
    pub service_target: f64,
    /// Lead time, days.
    pub lead_time_days: f64,
    /// Planned changes to the end of the days ahead, the earliest first.
    pub orders: Vec<DatedOrder>,
    /// Of these, lamps whose date lies within the lead time: each must be on hand or on its way already.
    pub dated_in_lead_time: u64,
    /// Mean lamps needed over the lead time: planned changes and failures.
    pub mean_needed: f64,
    /// Of these, changes after a failure.
    pub mean_failures: f64,
    /// Lamps to hold beside the dated ones: the least that meet the target on each day looked at.
    pub safety_stock: u64,
    /// The part for failures: what would do if every date were certain.
    pub safety_for_failures: u64,
    /// The rest, for the spread of the dates.
    pub safety_for_dates: u64,
    /// Dated lamps of the lead time plus safety stock: on hand and on order together.
    pub level: u64,
    /// Chance that no screen waits at the end of the lead time with that.
    pub service_at_level: f64,
    /// On hand and on order together if every change were taken as random, by the ages: the whole distribution, without its
    /// dates.
    pub level_without_dates: u64,
    /// The same by a Poisson number of the same mean.
    pub level_all_random: u64,
    /// Lamps that taking all demand as random would have held beyond the level; below 0 where it would have held too few.
    pub held_for_nothing: i64,
    /// The most by which the chance that some screen needs two lamps in the lead time could add to the mean; such second
    /// changes are left out.
    pub second_changes_at_most: f64,
    /// What may mislead, in words. Empty in files of before.
    #[serde(default)]
    pub notes: Vec<String>,
    /// Draws mixed; none for one world.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub draws: Option<DrawsUsed>,
}

impl DatedStock {
    /// Lamps to order now, so that those on hand and those on order that come within the lead time reach the level. What of it is
    /// due before an order of today comes is late all the same.
    ///
    /// # Formula
    /// ```text
    /// order = max(0, level - on hand - on order)
    /// ```
    pub fn order(&self, on_hand: u64, on_order: u64) -> u64 {
        self.level.saturating_sub(on_hand.saturating_add(on_order))
    }

    /// Of the dated lamps of the lead time, those for which neither a lamp on hand nor one on order is left: too late for an
    /// order of today.
    pub fn too_late(&self, on_hand: u64, on_order: u64) -> u64 {
        self.dated_in_lead_time.saturating_sub(on_hand.saturating_add(on_order))
    }
}

impl Sound for DatedStock {
    fn check(&self, c: &mut Checks) {
        c.share("service_target", self.service_target);
        c.not_negative("lead_time_days", self.lead_time_days);
        c.not_negative("mean_needed", self.mean_needed);
        c.between("mean_failures", self.mean_failures, 0.0, self.mean_needed);
        c.share("service_at_level", self.service_at_level);
        c.not_negative("second_changes_at_most", self.second_changes_at_most);
        let parts = self.safety_for_failures.saturating_add(self.safety_for_dates);
        c.need("safety_stock", self.safety_stock == parts, self.safety_stock, format!("{parts}, the sum of its parts"));
        let level = self.dated_in_lead_time.saturating_add(self.safety_stock);
        c.need("level", self.level == level, self.level, format!("{level}, dated lamps and safety stock"));
        let held = i128::from(self.level_all_random) - i128::from(self.level);
        c.need("held_for_nothing", i128::from(self.held_for_nothing) == held, self.held_for_nothing, held.to_string());
        let said = sentence(self.dated_in_lead_time, self.safety_for_failures, self.safety_for_dates);
        c.follows("sentence", &self.sentence, &said);
        if let Some(draws) = &self.draws {
            c.need("draws.used", draws.used > 0, draws.used, "1 or more");
        }
        let mut before = 0.0;
        for (i, order) in self.orders.iter().enumerate() {
            c.share(&format!("orders[{i}].fails_before"), order.fails_before);
            c.share(&format!("orders[{i}].stops_before"), order.stops_before);
            c.between(&format!("orders[{i}].due_day"), order.due_day, before, None);
            c.ends(&format!("orders[{i}].late_day"), order.early_day, order.late_day);
            before = order.due_day;
        }
    }
}

fn sentence(dated: u64, for_failures: u64, for_dates: u64) -> String {
    format!(
        "{} with a date in the lead time, {} for failures, and {} for dates that come early",
        counted(dated, "lamp"),
        counted(for_failures, "lamp"),
        counted(for_dates, "lamp")
    )
}

/// What may mislead of the stock.
fn notes(stock: &DatedStock, (asked, planned): (f64, f64)) -> Vec<String> {
    let mut notes = vec![
        "the target holds on each day of the lead time by itself; the chance that no screen waits over the whole of it is lower"
            .to_owned(),
    ];
    if asked > planned {
        notes.push(held_to_limit(asked, planned));
    }
    let may_stop = || stock.orders.iter().filter(|o| o.due_day <= stock.lead_time_days && o.stops_before > 0.0);
    if may_stop().next().is_some() {
        let n = may_stop().count() as u64;
        notes.push(format!(
            "{} with a date in the lead time {} for screens that may stop before: on average {} of these lamps are not needed then",
            counted(n, "lamp"),
            fitting(n, "is", "are"),
            tenths(may_stop().map(|o| o.stops_before).sum())
        ));
    }
    if stock.level > stock.level_without_dates {
        notes.push(format!(
            "by its end {} would be enough for the whole lead time: the others stand by for changes that come before their \
             lamps, which are ordered for their dates; lamps ordered earlier would take their place",
            counted(stock.level_without_dates, "lamp")
        ));
    }
    notes
}

/// Says that no lamp is planned past the limit.
pub(super) fn held_to_limit(asked: f64, held: f64) -> String {
    format!("the planned age of {} h is held to the limit of {} h", full_hours(asked), full_hours(held))
}

/// Programme hours over the planned ones: lognormal with mean 1.
#[derive(Clone, Copy)]
struct Factor {
    sigma: f64,
}

impl Factor {
    fn new(spread: f64) -> Self {
        Self { sigma: spread.mul_add(spread, 1.0).ln().sqrt() }
    }

    fn quantile(self, p: f64) -> f64 {
        if self.sigma == 0.0 { 1.0 } else { (self.sigma * normal_quantile(p) - 0.5 * self.sigma * self.sigma).exp() }
    }

    /// P(factor < x).
    fn below(self, x: f64) -> f64 {
        if self.sigma == 0.0 {
            return if x > 1.0 { 1.0 } else { 0.0 };
        }
        ln_normal_cdf(x.ln() / self.sigma + 0.5 * self.sigma).exp()
    }
}

/// One lamp: hours that are left to its planned change, 0 where it is due.
struct Lamp<'a> {
    row: u64,
    age: f64,
    left: f64,
    a_day: f64,
    screen: &'a SocketUntil,
}

impl Lamp<'_> {
    /// Day of the change by the planned hours; none where the screen stops for certain before, or the day is never reached.
    fn due_day(&self) -> Option<f64> {
        let day = if self.left <= 0.0 {
            0.0
        } else if self.a_day > 0.0 {
            self.screen.day_of(self.left / self.a_day)
        } else {
            f64::INFINITY
        };
        (day.is_finite() && self.screen.burns_up_to(day) > 0.0).then_some(day)
    }
}

/// Chances that a lamp is changed within some days on plan, and after a failure, given the factor of all screens: the mean over
/// when its screen may stop.
fn chances(lamp: &Lamp<'_>, days: f64, shared: f64, each: Factor, reliability: &impl Fn(f64) -> f64) -> (f64, f64) {
    let burned = lamp.screen.burned(days);
    burned.into_iter().fold((0.0, 0.0), |sum, (ordinary, chance)| {
        let (plan, fail) = chances_by(lamp, ordinary, shared, each, reliability);
        (sum.0 + chance * plan, sum.1 + chance * fail)
    })
}

/// The same after some days of ordinary hours.
fn chances_by(
    lamp: &Lamp<'_>,
    ordinary: f64,
    shared: f64,
    each: Factor,
    reliability: &impl Fn(f64) -> f64,
) -> (f64, f64) {
    if lamp.left <= 0.0 {
        return (1.0, 0.0);
    }
    let hours = lamp.a_day * ordinary * shared;
    if hours <= 0.0 {
        return (0.0, 0.0);
    }
    let now = reliability(lamp.age);
    let to_plan = (reliability(lamp.age + lamp.left) / now).clamp(0.0, 1.0);
    let short_of_it = each.below(lamp.left / hours);
    // The screens that do not reach the planned age in these days, over the chances of their hours.
    let failed: f64 = EIGHT
        .iter()
        .map(|(place, weight)| {
            let burned = hours * each.quantile(place * short_of_it);
            weight * (1.0 - reliability(lamp.age + burned.min(lamp.left)) / now).clamp(0.0, 1.0)
        })
        .sum();
    let reached = 1.0 - short_of_it;
    (reached * to_plan, reached * (1.0 - to_plan) + short_of_it * failed)
}

/// Dated orders and safety stock for one class at one place.
///
/// # Formula
/// ```text
/// safety stock = least s with P(N(t) <= s + A(t)) >= target for every day t of the lead time looked at
/// ```
/// N(t): lamps needed within t days, at their dates or after failures; A(t): lamps with a due day within t days, which are
/// there by then. Within t days a screen burns its weekly hours times a factor of its own and one of all screens, both
/// lognormal with mean 1. Where a lamp fails early its successor takes a lamp of the safety stock, and the dated lamp fills
/// that up. With a lead time of 0 the lamps that are due today are all there is to hold. The days looked at are 12 of equal distance and the moment before each due day, 60 of these at most.
///
/// # Errors
/// Those of [`crate::demand::forecast`] for the lamps and the planned age; `stock.lead_time` unless the days lie in 0 to
/// 7,310; `stock.planned` for a spread outside 0 to 1 and days ahead that are fewer than the lead time or above 7,310;
/// `stock.service_target`.
///
/// # Numerics
/// The chance to reach the planned age is exact; failures before it are averaged over the hours by an eight-point rule, and
/// so is the factor of all screens on two panels. Second changes of a screen within the lead time are left out; their mean is
/// bounded in the result.
///
/// # Examples
/// ```
/// use relamp::demand::SocketToday;
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::stock::{HoursSpread, dated_stock};
/// use relamp::terms::{Costs, PrintedHours};
/// # fn main() -> relamp::Result<()> {
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let life = Box::new(Weibull { shape: 3.0, scale: 4000.0 });
/// let world = World {
///     causes: vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }],
///     costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])?,
/// };
/// // Twelve screens of 70 h a week: four lamps reach 2,000 h within 30 days.
/// let lamps: Vec<_> =
///     (0..12).map(|i| SocketToday { age_hours: Some(1950.0 - 80.0 * f64::from(i)), hours_per_week: 70.0 }).collect();
/// let found = dated_stock(&lamps, &world, 2000.0, &printed.limit()?, 30.0, 60.0, HoursSpread::default(), 0.95)?;
/// assert_eq!((found.dated_in_lead_time, found.safety_stock), (4, 1));
/// // Taken as random, the same lamps ask for more.
/// assert!(found.level_all_random > found.level);
/// # Ok(())
/// # }
/// ```
#[allow(clippy::too_many_arguments, reason = "each is a separate fact of the place")]
pub fn dated_stock(
    sockets: &[SocketToday],
    world: &World,
    planned_age_hours: f64,
    limit: &HourLimit,
    lead_time_days: f64,
    days_ahead: f64,
    spread: HoursSpread,
    service_target: f64,
) -> Result<DatedStock> {
    check_sockets(sockets, planned_age_hours)?;
    let sockets = &SocketUntil::burning_on(sockets);
    let asked = Asked { sockets, planned_age_hours, limit, lead_time_days, days_ahead, spread, service_target };
    asked.in_one(world)
}

/// The same over draws: within each draw the lamps are independent given the hours, and the numbers needed by each day are
/// mixed with equal weight, so that the safety stock covers what is not known of the life too.
///
/// Dates, orders and days looked at are those of the best world; chances to fail before a date are means over the draws.
///
/// # Errors
/// Those of [`dated_stock`]; `stock.no_draws` where no draw gave an answer; a stop.
#[allow(clippy::too_many_arguments, reason = "each is a separate fact of the place")]
pub fn dated_stock_over_draws(
    sockets: &[SocketToday],
    draws: &dyn Draws,
    planned_age_hours: f64,
    limit: &HourLimit,
    lead_time_days: f64,
    days_ahead: f64,
    spread: HoursSpread,
    service_target: f64,
    run: &Run,
) -> Result<DatedStock> {
    check_sockets(sockets, planned_age_hours)?;
    let sockets = &SocketUntil::burning_on(sockets);
    let asked = Asked { sockets, planned_age_hours, limit, lead_time_days, days_ahead, spread, service_target };
    asked.over(draws, run)
}

/// What is asked, whatever the world.
#[derive(Clone, Copy)]
pub(super) struct Asked<'a> {
    pub(super) sockets: &'a [SocketUntil],
    pub(super) planned_age_hours: f64,
    pub(super) limit: &'a HourLimit,
    pub(super) lead_time_days: f64,
    pub(super) days_ahead: f64,
    pub(super) spread: HoursSpread,
    pub(super) service_target: f64,
}

/// The orders, and the days looked at.
struct Plan {
    orders: Vec<DatedOrder>,
    days: Vec<f64>,
}

/// What one world answers.
struct Answer {
    /// Lamps needed by each day looked at.
    by_day: Vec<Count>,
    /// The same if every date were certain.
    by_day_sure: Vec<Count>,
    /// Over the lead time.
    whole: Count,
    mean_failures: f64,
    /// Of the lamp of each order.
    fails_before: Vec<f64>,
    second_changes_at_most: f64,
}

/// A day that a programme is not laid out for stands as its last.
fn latest(screen: &SocketUntil, day: f64) -> f64 {
    if screen.pace.is_some() { day.min(MOST_DAYS) } else { day }
}

impl Asked<'_> {
    pub(super) fn in_one(&self, world: &World) -> Result<DatedStock> {
        check(self.lead_time_days, self.days_ahead, self.spread)?;
        let plan = self.plan(world)?;
        let answer = self.in_world(&plan, world)?;
        self.finished(plan, &[answer], None)
    }

    pub(super) fn over(&self, draws: &dyn Draws, run: &Run) -> Result<DatedStock> {
        check(self.lead_time_days, self.days_ahead, self.spread)?;
        let plan = self.plan(&draws.best()?)?;
        let spread = over_draws(draws, run, |world| self.in_world(&plan, world))?;
        let used = DrawsUsed { method: spread.method, used: spread.each.len(), failed: spread.failed.len() };
        if spread.each.is_empty() {
            let problem = Problem::new("stock.no_draws", "no draw gave the lamps to hold").got(spread.failed.len());
            return Err(Error::new(Kind::Refused, problem));
        }
        self.finished(plan, &spread.each, Some(used))
    }

    fn planned(&self) -> f64 {
        self.planned_age_hours.min(self.limit.hours())
    }

    fn lamps(&self, reliability: &impl Fn(f64) -> f64) -> Vec<Lamp<'_>> {
        let planned = self.planned();
        let each = self.sockets.iter().zip(1_u64..).map(|(screen, row)| {
            // A lamp that no lamp of this world would have reached alive counts as due, as in a forecast.
            let age = screen.socket.age_hours.filter(|a| *a < planned && reliability(*a) > 0.0);
            let (age, left) = age.map_or((planned, 0.0), |a| (a, planned - a));
            Lamp { row, age, left, a_day: screen.socket.hours_per_week / 7.0, screen }
        });
        each.collect()
    }

    fn plan(&self, world: &World) -> Result<Plan> {
        let (lead, spread) = (self.lead_time_days, self.spread);
        let curve = WorldCurve::new(world)?;
        let lamps = self.lamps(&|age: f64| curve.ln_reliability(age).exp());
        let both =
            Factor::new(((1.0 + spread.each * spread.each) * (1.0 + spread.shared * spread.shared) - 1.0).sqrt());
        let mut orders: Vec<DatedOrder> = lamps
            .iter()
            .filter_map(|lamp| lamp.due_day().filter(|d| *d <= self.days_ahead).map(|due| (lamp, due)))
            .map(|(lamp, due)| {
                // A factor on the hours stretches the days of ordinary hours.
                let by = |p: f64| lamp.screen.day_of(lamp.screen.ordinary(due) / both.quantile(p));
                DatedOrder {
                    row: lamp.row,
                    due_day: due,
                    early_day: by(1.0 - EARLY).min(due),
                    late_day: latest(lamp.screen, by(EARLY)).max(due),
                    order_day: due - lead,
                    fails_before: 0.0,
                    stops_before: 1.0 - lamp.screen.burns_up_to(due),
                }
            })
            .collect();
        orders.sort_by(|a, b| a.due_day.total_cmp(&b.due_day).then(a.row.cmp(&b.row)));
        let dates: Vec<f64> = orders.iter().map(|o| o.due_day).filter(|d| *d <= lead).collect();
        let mut days: Vec<f64> = (1..=DAYS_LOOKED_AT).map(|i| lead * i as f64 / DAYS_LOOKED_AT as f64).collect();
        // The moment before a dated lamp comes is the hardest.
        let step = dates.len().div_ceil(MOST_DATES).max(1);
        days.extend(dates.iter().rev().step_by(step).filter(|d| **d > 0.0).map(|d| d * (1.0 - 1e-9)));
        days.sort_by(f64::total_cmp);
        days.dedup();
        Ok(Plan { orders, days })
    }

    fn in_world(&self, plan: &Plan, world: &World) -> Result<Answer> {
        let (planned, lead) = (self.planned(), self.lead_time_days);
        let curve = WorldCurve::new(world)?;
        let reliability = |age: f64| curve.ln_reliability(age).exp();
        let lamps = self.lamps(&reliability);
        let (each, shared, sure) = (Factor::new(self.spread.each), Factor::new(self.spread.shared), Factor::new(0.0));
        let by_day = |each: Factor, shared: Factor| -> Result<Vec<Count>> {
            plan.days.iter().map(|day| Ok(in_days(&lamps, *day, each, shared, &reliability)?.0)).collect()
        };
        let (whole, mean_failures) = in_days(&lamps, lead, each, shared, &reliability)?;
        let before = |row: u64| {
            let lamp = usize::try_from(row - 1).ok().and_then(|i| lamps.get(i)).filter(|lamp| lamp.left > 0.0);
            lamp.map_or(0.0, |lamp| (1.0 - reliability(planned) / reliability(lamp.age)).clamp(0.0, 1.0))
        };
        let second = lamps.iter().map(|lamp| {
            let (plan, fail) = chances(lamp, lead, 1.0, each, &reliability);
            let hours = lamp.a_day * lamp.screen.ordinary(lead);
            (plan + fail) * if hours >= planned { 1.0 } else { 1.0 - reliability(hours) }
        });
        Ok(Answer {
            by_day: by_day(each, shared)?,
            by_day_sure: by_day(sure, sure)?,
            whole,
            mean_failures,
            fails_before: plan.orders.iter().map(|o| before(o.row)).collect(),
            second_changes_at_most: second.sum(),
        })
    }

    /// The stock by the answers of some worlds, each of equal weight.
    fn finished(&self, plan: Plan, answers: &[Answer], draws: Option<DrawsUsed>) -> Result<DatedStock> {
        let Plan { mut orders, days } = plan;
        let (lead_time_days, service_target) = (self.lead_time_days, self.service_target);
        let mean = |of: &dyn Fn(&Answer) -> f64| answers.iter().map(of).sum::<f64>() / answers.len() as f64;
        for (i, order) in orders.iter_mut().enumerate() {
            order.fails_before = mean(&|a| a.fails_before.get(i).copied().unwrap_or(0.0));
        }
        let dates: Vec<f64> = orders.iter().map(|o| o.due_day).filter(|d| *d <= lead_time_days).collect();
        let safety = |of: fn(&Answer) -> &Vec<Count>| -> Result<u64> {
            let mut most = 0;
            for (i, day) in days.iter().enumerate() {
                let there = dates.iter().filter(|d| *d <= day).count() as u64;
                let count = mixed(&answers.iter().filter_map(|a| of(a).get(i)).collect::<Vec<_>>())?;
                most = most.max(level(&count, service_target, 0, 0)?.level.saturating_sub(there));
            }
            Ok(most)
        };
        let safety_stock = safety(|a| &a.by_day)?;
        let safety_for_failures = safety(|a| &a.by_day_sure)?.min(safety_stock);
        let whole = mixed(&answers.iter().map(|a| &a.whole).collect::<Vec<_>>())?;
        let dated_in_lead_time = dates.len() as u64;
        let held = dated_in_lead_time + safety_stock;
        let level_all_random = level(&Count::poisson(whole.mean())?, service_target, 0, 0)?.level;
        let safety_for_dates = safety_stock - safety_for_failures;
        let mut found = DatedStock {
            sentence: sentence(dated_in_lead_time, safety_for_failures, safety_for_dates),
            service_target,
            lead_time_days,
            dated_in_lead_time,
            mean_needed: whole.mean(),
            mean_failures: mean(&|a| a.mean_failures).min(whole.mean()),
            safety_stock,
            safety_for_failures,
            safety_for_dates,
            level: held,
            service_at_level: whole.at_most(held),
            level_without_dates: level(&whole, service_target, 0, 0)?.level,
            level_all_random,
            held_for_nothing: signed(level_all_random) - signed(held),
            second_changes_at_most: mean(&|a| a.second_changes_at_most),
            orders,
            notes: Vec::new(),
            draws,
        };
        found.notes = notes(&found, (self.planned_age_hours, self.planned()));
        Ok(found)
    }
}

/// Counts of several worlds with equal weight; that of one as it is.
fn mixed(counts: &[&Count]) -> Result<Count> {
    if let [one] = counts { Ok((*one).clone()) } else { Count::mix(counts) }
}

/// Lamps needed within some days, and the mean of those after failures: independent given the factor of all screens.
fn in_days(
    lamps: &[Lamp<'_>],
    day: f64,
    each: Factor,
    shared: Factor,
    reliability: &impl Fn(f64) -> f64,
) -> Result<(Count, f64)> {
    let given = |factor: f64| {
        let pairs: Vec<_> = lamps.iter().map(|lamp| chances(lamp, day, factor, each, reliability)).collect();
        let any: Vec<f64> = pairs.iter().map(|(plan, fail)| (plan + fail).min(1.0)).collect();
        Ok::<_, Error>((Count::of_chances(&any)?, pairs.iter().map(|p| p.1).sum::<f64>()))
    };
    if shared.sigma == 0.0 {
        return given(1.0);
    }
    let mut parts = Vec::with_capacity(2 * EIGHT.len());
    for panel in [0.0, 0.5] {
        for (place, weight) in EIGHT {
            let (count, failures) = given(shared.quantile(panel + 0.5 * place))?;
            parts.push((0.5 * weight, count, failures));
        }
    }
    let failures = parts.iter().map(|(w, _, f)| w * f).sum();
    Ok((Count::mix_weighted(&parts.iter().map(|(w, c, _)| (*w, c)).collect::<Vec<_>>())?, failures))
}

pub(super) fn check(lead_time_days: f64, days_ahead: f64, spread: HoursSpread) -> Result<()> {
    let mut problems = Vec::new();
    if !(0.0..=MOST_DAYS).contains(&lead_time_days) {
        let problem = Problem::new("stock.lead_time", "not a lead time").at(Place::input("lead_time_days"));
        problems.push(problem.got(lead_time_days).expected("days from 0 to 7,310"));
    }
    let wrong = |name: &str, got: f64, expected: &str| {
        let problem = Problem::new("stock.planned", "not what planned changes can be dated by");
        problem.at(Place::input(name)).got(got).expected(expected)
    };
    if !(days_ahead >= lead_time_days && days_ahead <= MOST_DAYS) {
        problems.push(wrong("days_ahead", days_ahead, "at least the lead time and at most 7,310 days"));
    }
    for (name, share) in [("hours_spread", spread.each), ("shared_hours_spread", spread.shared)] {
        if !(0.0..=MOST_SPREAD).contains(&share) {
            problems.push(wrong(name, share, "a share of the programme hours, 0 to 1"));
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}
