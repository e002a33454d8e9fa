//! From possible worlds to advice for one class: the replacement age, the lamps needed, the spares.

use chrono::{Days, NaiveDate};

use super::class_run::or_refusal;
use super::decision_result::{
    AgeBand, CauseCost, CostPoint, DemandMonth, DemandResult, PolicyResult, RuleCost, StockResult,
};
use super::declare::Declaration;
use super::declare_class::LampClass;
use super::fill_rate::FillRate;
use super::plan::{Screens, class_purchase};
use super::plan_result::ClassPurchase;
use super::results::Interval;
use super::used_stock::UsedStock;
use crate::base::error::Result;
use crate::base::figure::counted;
use crate::base::math::percentile::percentile;
use crate::base::run::Run;
use crate::demand::{Count, Forecast, Horizon, SocketUntil, forecast_until_over_draws};
use crate::fit::{Draws, Method, World, over_draws};
use crate::policy::{self, AgeOptions, EndingCost, WorldCurve, cost_curve, planned_age, planned_age_interval};
use crate::stock::{self, StockVerdict};

/// Level of every interval and band of a study.
pub(super) const LEVEL: f64 = 0.95;
/// Ages at which the cost is given, from a tenth of the limit to the limit.
const COST_AGES: usize = 46;
/// Days of a year.
pub(super) const YEAR_DAYS: f64 = 365.25;
/// Weeks of a year of 365.25 days.
pub(super) const WEEKS_PER_YEAR: f64 = YEAR_DAYS / 7.0;

/// How a draw method is named in results.
pub(super) fn method_name(method: Method, draws: usize) -> String {
    let name = match method {
        Method::WeightedBootstrap => "weighted bootstrap",
        Method::Wald => "normal draws on the unconstrained scale",
    };
    format!("{name}, {}, percentiles", counted(draws as u64, "draw"))
}

/// Lower and upper end, over the draws, of a column of answers; none where no draw has one.
pub(super) fn ends(mut values: Vec<f64>) -> (Option<f64>, Option<f64>) {
    values.retain(|v| v.is_finite());
    values.sort_by(f64::total_cmp);
    let tail = 0.5 * (1.0 - LEVEL);
    (percentile(&values, tail), percentile(&values, 1.0 - tail))
}

/// How the age of a class is asked for.
pub(super) fn age_options(class: &LampClass, oldest_at_risk_hours: f64) -> AgeOptions {
    AgeOptions {
        todays_rule_hours: Some(class.todays_rule_hours),
        oldest_at_risk_hours: Some(oldest_at_risk_hours).filter(|o| *o > 0.0),
        ..AgeOptions::default()
    }
}

/// The replacement age of a class and what it costs.
pub(super) fn policy_result(
    class: &LampClass,
    draws: &dyn Draws,
    options: &AgeOptions,
    hours_per_week: f64,
    show_minutes: f64,
    run: &Run,
) -> Result<PolicyResult> {
    let limit = &class.limit;
    let world = draws.best()?;
    let best = planned_age(&world, limit, options)?;
    let over = planned_age_interval(draws, limit, options, LEVEL, run)?;
    let method = method_name(over.method, over.draws);
    let interval = |low: f64, high: f64| Interval {
        low: Some(low),
        high: Some(high),
        level_probability: over.level,
        method: method.clone(),
    };
    // `todays_rule_hours` is always asked for, so both are there; the rule at the planned age saves nothing.
    let todays = best.todays_rule.as_ref().unwrap_or(&best.cost);
    let saving = best.saving_against_todays_rule.map_or(0.0, |s| s.per_hour);
    let range = over.saving_per_hour.map_or((saving, saving), |r| (r.low, r.high));
    let mut policy = PolicyResult {
        verdict: best.verdict,
        sentence: best.sentence.clone(),
        planned_age_hours: best.age_hours,
        planned_age_interval_hours: interval(over.age_hours.low, over.age_hours.high),
        planned_age_interval_sentence: String::new(),
        limit_binds_probability: Some(over.share_at_limit + over.share_at_records_end),
        beats_todays_rule_probability: Some(over.beats_todays_rule.unwrap_or(0.0)),
        ceiling_hours: best.ceiling_hours,
        near_best: best
            .near_best
            .iter()
            .map(|b| AgeBand { from_hours: b.from_hours, to_hours: b.to_hours, to_end: b.to_end })
            .collect(),
        cost_curve: cost_points(class, draws, best.age_hours, run)?,
        planned: rule_cost(&best.cost, &world, show_minutes),
        todays_rule: rule_cost(todays, &world, show_minutes),
        run_to_failure_cost_per_1000_hours: best.run_to_failure_cost_per_hour.map(|c| 1000.0 * c),
        run_to_failure_past_records_probability: None,
        run_to_failure_past_records: false,
        run_to_failure_sentence: String::new(),
        saving_against_today_per_1000_hours: Some(1000.0 * saving),
        saving_against_today_interval_per_1000_hours: interval(1000.0 * range.0, 1000.0 * range.1),
        saving_settled: Some(!(range.0 < 0.0 && range.1 > 0.0)),
        saving_past_records: false,
        saving_against_run_to_failure_per_1000_hours: best.saving_against_run_to_failure.map(|s| 1000.0 * s.per_hour),
        saving_against_today_per_year: Some(saving * hours_per_week * WEEKS_PER_YEAR),
        failed_draws_count: over.failed as u64,
        sensitivity: None,
        money_back: None,
        endings_at_planned_age: None,
        curve_age: None,
    };
    policy.saving_past_records = policy.saves_past_records();
    Ok(policy)
}

/// Share of the lamp hours of lamps that run to failure which lie past an age.
pub(super) fn past_records(world: &World, oldest_hours: f64) -> Result<f64> {
    let curve = WorldCurve::new(world)?;
    let all = curve.up_to(f64::INFINITY)?.exposure_hours;
    let within = if oldest_hours > 0.0 { curve.up_to(oldest_hours)?.exposure_hours } else { 0.0 };
    Ok(((all - within) / all).clamp(0.0, 1.0))
}

/// Chance that a lamp of an age fails within some hours more.
///
/// # Formula
/// ```text
/// 1 - R(age + hours) / R(age)
/// ```
pub(super) fn fails_within(world: &World, age: f64, hours: f64) -> Result<f64> {
    let curve = WorldCurve::new(world)?;
    Ok(-(curve.ln_reliability(age + hours) - curve.ln_reliability(age)).exp_m1())
}

pub(super) fn rule_cost(point: &policy::CostPoint, world: &World, show_minutes: f64) -> RuleCost {
    RuleCost {
        next_show_failure_probability: fails_within(world, point.age_hours, show_minutes / 60.0)
            .ok()
            .filter(|p| p.is_finite()),
        age_hours: point.age_hours,
        cost_per_1000_hours: 1000.0 * point.cost_per_hour,
        failure_probability: point.failure_probability,
        mean_age_at_change_hours: point.mean_age_at_change_hours,
    }
}

/// Ages of the cost curve: an even grid up to the limit, the planned age and today's rule.
pub(super) fn cost_ages(limit: f64, planned: f64, todays_rule: f64) -> Vec<f64> {
    let step = 0.9 * limit / (COST_AGES - 1) as f64;
    let mut ages: Vec<f64> = (0..COST_AGES).map(|i| (0.1 * limit + step * i as f64).min(limit)).collect();
    ages.push(planned);
    ages.push(todays_rule.min(limit));
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    ages
}

/// Cost by planned age with its band over the draws; the planned age and today's rule are among the ages.
fn cost_points(class: &LampClass, draws: &dyn Draws, planned: f64, run: &Run) -> Result<Vec<CostPoint>> {
    let ages = cost_ages(class.limit.hours(), planned, class.todays_rule_hours);
    let spread = over_draws(draws, run, |world| cost_curve(world, &ages, &class.limit))?;
    let band = |i: usize| ends(spread.each.iter().filter_map(|d| d.get(i)).map(|p| 1000.0 * p.cost_per_hour).collect());
    let points = spread.best.iter().enumerate().map(|(i, p)| {
        let (low_per_1000_hours, high_per_1000_hours) = band(i);
        CostPoint {
            age_hours: p.age_hours,
            cost_per_1000_hours: 1000.0 * p.cost_per_hour,
            low_per_1000_hours,
            high_per_1000_hours,
            planned_cost_per_1000_hours: 1000.0 * p.planned_cost_per_hour,
            by_cause: p.by_ending.iter().map(cause_cost).collect(),
        }
    });
    Ok(points.collect())
}

fn cause_cost(part: &EndingCost) -> CauseCost {
    CauseCost { ending: part.ending, cost_per_1000_hours: 1000.0 * part.cost_per_hour }
}

/// Lamps needed in the coming months, the spares for the lead time, and what to order when.
pub(super) fn demand_and_stock(
    class: &LampClass,
    declared: &Declaration,
    sockets: &[SocketUntil],
    draws: &dyn Draws,
    planned_age_hours: f64,
    run: &Run,
) -> Result<(DemandResult, StockResult, ClassPurchase)> {
    let months = Horizon::months(declared.chain.forecast_months as usize);
    let coming = forecast_until_over_draws(sockets, draws, planned_age_hours, &class.limit, months, run)?;
    let lead = Horizon::days(f64::from(class.lead_time_days));
    let over_lead = forecast_until_over_draws(sockets, draws, planned_age_hours, &class.limit, lead, run)?;
    let demand = DemandResult {
        running_lamps_count: sockets.len() as u64,
        stopping_lamps_count: stopping(sockets).map(|s| s.0),
        stopped_lamps_count: stopping(sockets).map(|s| s.1),
        stopped_by_lead_time_lamps_count: stopping(sockets).map(|_| gone_by(sockets, class.lead_time_days)),
        unknown_age_lamps_count: sockets.iter().filter(|s| s.socket.age_hours.is_none()).count() as u64,
        due_at_planned_age_lamps_count: coming.due_now as u64,
        programme_hours_per_week: sockets.iter().map(|s| s.socket.hours_per_week).sum(),
        programme_hours_next_year: declared.season.as_ref().map(|_| hours_next_year(sockets)),
        planned_age_hours: coming.planned_age_hours,
        months: demand_months(&coming, declared)?,
    };
    let needed = over_lead.periods.first().map(|p| p.needed.clone());
    let needed = needed.unwrap_or_else(|| Count::certain(0));
    let target = class.service_target.unwrap_or(declared.chain.service_target);
    let advice = stock::level(&needed, target, class.on_hand, class.on_order)?;
    let served = still_burning(sockets, |s| s.burns_from(f64::from(class.lead_time_days)));
    let over_lead_served = |sockets: &Vec<SocketUntil>| -> Result<Count> {
        let over = forecast_until_over_draws(sockets, draws, planned_age_hours, &class.limit, lead, run)?;
        Ok(over.periods.first().map_or_else(|| Count::certain(0), |p| p.needed.clone()))
    };
    let served_needed = served.as_ref().map(over_lead_served).transpose()?;
    let order_serves = served_needed.as_ref().map(|needed| stock::level(needed, target, 0, 0)).transpose()?;
    let order_serves_lamps = order_serves.map(|s| s.level);
    let order = order_of(advice.order, order_serves_lamps);
    let verdict = if advice.order > 0 && order == 0 { StockVerdict::TooLate } else { advice.verdict };
    let fill_target = class.fill_rate_target.or(declared.chain.fill_rate_target);
    let there = class.on_hand.saturating_add(class.on_order);
    let fill_rate = fill_target.map(|target| FillRate::of(target, &needed, served_needed.as_ref(), there));
    let mut stock = StockResult {
        lamp_class: class.name.clone(),
        lead_time_days: class.lead_time_days,
        service_target_probability: target,
        mean_lamps: advice.mean_needed,
        level_lamps: advice.level,
        service_at_level_probability: advice.service_at_level,
        service_today_probability: advice.service_today,
        on_hand_lamps: advice.on_hand,
        on_order_lamps: advice.on_order,
        order_serves_lamps,
        order_lamps: order,
        price_each: class.price,
        order_price: class.price * order as f64,
        verdict,
        sentence: stock::sentence(verdict, advice.level, (advice.on_hand, advice.on_order), order),
        fill_rate,
        used: None,
    };
    let with = (declared.seed, run);
    // What used lamps save is beside the point of the advice, which stands without it.
    stock.used =
        or_refusal(UsedStock::of(class, sockets, draws, planned_age_hours, stock.without_used(), with))?.ok().flatten();
    let screens = Screens { all: sockets, served: served.as_deref() };
    let purchase = class_purchase(class, declared, &screens, draws, &coming, (&needed, served_needed.as_ref()), run)?;
    let purchase = purchase.beside(stock.used.as_ref());
    Ok((demand, stock, purchase))
}

/// Hours that some screens burn in the year from today, up to their stops.
pub(super) fn hours_next_year(sockets: &[SocketUntil]) -> f64 {
    sockets.iter().map(|s| s.socket.hours_per_week * (s.mean_days(YEAR_DAYS) / 7.0)).sum()
}

/// Lamps in screens that are declared to stop, and of these in screens that stop today; none where none is.
pub(super) fn stopping(sockets: &[SocketUntil]) -> Option<(u64, u64)> {
    let stopping = sockets.iter().filter(|s| !s.stops.is_empty());
    let today = stopping.clone().filter(|s| s.earliest <= 0.0).count();
    Some((stopping.count() as u64, today as u64)).filter(|s| s.0 > 0)
}

/// Lamps in screens that have stopped for certain by a day.
fn gone_by(sockets: &[SocketUntil], day: u32) -> u64 {
    sockets.iter().filter(|s| !s.burns_from(f64::from(day))).count() as u64
}

/// Screens that still burn when an order comes; none where all do.
pub(super) fn still_burning(sockets: &[SocketUntil], burns: impl Fn(&SocketUntil) -> bool) -> Option<Vec<SocketUntil>> {
    let served: Vec<SocketUntil> = sockets.iter().filter(|s| burns(s)).cloned().collect();
    (served.len() < sockets.len()).then_some(served)
}

/// Lamps to order where so many are missing to a level: no more than those screens need that still burn when they come.
pub(super) fn order_of(missing: u64, order_serves: Option<u64>) -> u64 {
    order_serves.map_or(missing, |most| missing.min(most))
}

/// The day so many days after another.
pub(super) fn day_after(as_of: NaiveDate, days: u32) -> NaiveDate {
    as_of.checked_add_days(Days::new(u64::from(days))).unwrap_or(as_of)
}

/// First and last day of a month of the forecast, the first month being 0.
pub(super) fn month_days(as_of: NaiveDate, month: usize) -> (NaiveDate, NaiveDate) {
    let length = Horizon::months(1).period_days;
    let day = |n: f64| as_of.checked_add_days(Days::new(n.round() as u64)).unwrap_or(as_of);
    let before = day(month as f64 * length);
    (before.checked_add_days(Days::new(1)).unwrap_or(before), day((month + 1) as f64 * length))
}

fn demand_months(coming: &Forecast, declared: &Declaration) -> Result<Vec<DemandMonth>> {
    let each = coming.periods.iter().enumerate().map(|(i, p)| {
        let (from, to) = month_days(declared.as_of, i);
        Ok(DemandMonth {
            from,
            to,
            mean_lamps: p.needed.mean(),
            p50_lamps: p.needed.quantile(0.5)?,
            p80_lamps: p.needed.quantile(0.8)?,
            p95_lamps: p.needed.quantile(0.95)?,
            planned_mean_lamps: p.mean_planned,
            failure_mean_lamps: p.mean_failures,
        })
    });
    each.collect()
}
