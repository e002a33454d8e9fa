//! What can be said of lamps and spares for a class whose records support no model, and where its burning lamps stand.

use std::fmt::Write;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::class_result::{LimitResult, Seen};
use super::decide::{LEVEL, month_days, order_of, still_burning, stopping};
use super::declare::Declaration;
use super::declare_class::LampClass;
use super::overdue::OverdueLists;
use crate::base::error::Result;
use crate::base::figure::{counted, fitting, full_hours};
use crate::base::math::count_bounds::count_upper;
use crate::demand::{Count, Forecast, Horizon, SocketToday, SocketUntil, forecast_until, planned_changes_until};
use crate::family::Exponential;
use crate::fit::{CauseLife, World};
use crate::stock;

/// What every figure of [`DemandBounds`] is.
pub(super) const LABEL: &str = "lower bound: planned changes only, not supported by these records";
/// Chance with which the numbers at the highest rate are not passed.
const CHANCE: f64 = 0.95;

/// Lamps and spares of a class without a model: at least those that changes on plan need, and, where lamps were under
/// observation, what is enough if failures come as often as the records allow.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DemandBounds {
    /// What these figures are: `lower bound: planned changes only, not supported by these records`.
    pub label: String,
    /// The figures in plain words.
    pub sentence: String,
    /// Age at which lamps are changed: the earlier of today's rule and the limit.
    pub planned_age_hours: f64,
    /// Burning lamps that are counted.
    pub running_lamps_count: u64,
    /// Of these, lamps in screens that are declared to stop, each taken to stop as early as it may, so that the figures
    /// stay a lower bound; none where no screen of the class is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopping_lamps_count: Option<u64>,
    /// Of these, in screens that may stop on the as-of date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped_lamps_count: Option<u64>,
    /// Of the burning lamps, those whose age is not known or disputed; each counts as one lamp due at once.
    pub unknown_age_lamps_count: u64,
    /// Lamp hours a week over all of them.
    pub programme_hours_per_week: f64,
    /// Months in order.
    pub months: Vec<BoundMonth>,
    /// Spares over the lead time.
    pub spares: SparesBounds,
    /// The most failures per 1,000 lamp hours that the records allow, at the one-sided level below, if the rate is the
    /// same at every age; wear past the ages that were seen is not in it. Empty without lamp hours.
    pub high_rate_per_1000_hours: Option<f64>,
    /// Level of that bound.
    pub level_probability: f64,
}

/// Lamps in one month without a model.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundMonth {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
    /// Changes on plan in the month if no lamp fails; a failure may bring one forward into an earlier month.
    pub planned_lamps: u64,
    /// Lamps needed from today to the end of the month at the least: changes on plan if no lamp fails.
    pub least_by_end_lamps: u64,
    /// Lamps needed from today to the end of the month, not passed with probability 0.95, if failures come at the
    /// highest rate that the records allow. Empty without lamp hours.
    pub high_rate_by_end_lamps: Option<u64>,
}

/// Spares over the lead time without a model.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SparesBounds {
    /// Days from order to delivery.
    pub lead_time_days: u32,
    /// Lamps that changes on plan need over the lead time; a stock below it runs short even if no lamp fails.
    pub least_lamps: u64,
    /// Lamps on the shelf.
    pub on_hand_lamps: u64,
    /// Lamps ordered and not yet delivered.
    pub on_order_lamps: u64,
    /// Of `least_lamps`, those of screens that still burn when an order of today comes, each taken to stop as early as it
    /// may: an order brings no more. None where all burn on until then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order_serves_least_lamps: Option<u64>,
    /// Lamps to order now at the least.
    pub order_least_lamps: u64,
    /// Price of a lamp.
    pub price_each: f64,
    /// Price of that order.
    pub order_least_price: f64,
    /// Wanted chance of no shortage over the lead time.
    pub service_target_probability: f64,
    /// Stock that meets the target if failures come at the highest rate that the records allow. Empty without lamp hours.
    pub high_rate_level_lamps: Option<u64>,
}

impl SparesBounds {
    /// Lamps missing to the least.
    pub(super) fn missing_lamps(&self) -> u64 {
        self.least_lamps.saturating_sub(self.on_hand_lamps.saturating_add(self.on_order_lamps))
    }

    /// Whether lamps are missing and none of them is for a screen that still burns when an order of today comes.
    pub(super) fn come_too_late(&self) -> bool {
        self.missing_lamps() > 0 && self.order_least_lamps == 0
    }
}

/// Where the burning lamps of a class stand today against each age they may be held to, so that counts by one age are
/// not mistaken for counts by another.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DueCounts {
    /// Lamps read at or past the maker's limit.
    pub past_maker_limit_lamps_count: u64,
    /// Lamps read at or past the limit of the study; it differs from the above where the limit is the owner's own.
    pub past_study_limit_lamps_count: u64,
    /// Lamps expected to stand at or past the advised age on the as-of date: the last reading and the programme hours
    /// since. Lamps of unknown age are not among them.
    pub past_advised_age_lamps_count: u64,
    /// Lamps whose age is not known or disputed: each counts as due, whatever the age. A disputed lamp read past a
    /// limit is among those above too.
    pub unknown_age_lamps_count: u64,
    /// Lamps expected to reach their limit soon: those of the list `soon`, so that one that was dropped from it is
    /// missed. Empty in files that were written before it was counted.
    #[serde(default)]
    pub reach_limit_soon_lamps_count: Option<u64>,
}

impl DueCounts {
    /// Counts from the lists that come first and from the lamps that the forecast starts from, so that neither can
    /// differ from its own.
    pub(super) fn new(lists: &OverdueLists, sockets: &[SocketUntil], class: &LampClass, advised_age: f64) -> Self {
        let read_past = |age: f64| {
            let of_class = lists.at_limit.iter().filter(|l| l.lamp_class == class.name);
            of_class.filter(|l| l.reading_hours >= age).count() as u64
        };
        Self {
            past_maker_limit_lamps_count: read_past(class.limit.maker_hours()),
            past_study_limit_lamps_count: read_past(class.limit.hours()),
            past_advised_age_lamps_count: count(sockets, |s| s.age_hours.is_some_and(|a| a >= advised_age)),
            unknown_age_lamps_count: count(sockets, |s| s.age_hours.is_none()),
            reach_limit_soon_lamps_count: Some(lists.soon.iter().filter(|l| l.lamp_class == class.name).count() as u64),
        }
    }

    /// What a limit of the owner's own above the maker's does to the two counts; nothing where they agree.
    pub(super) fn between_limits(&self, limit: &LimitResult, advised_age: f64) -> Option<String> {
        let between = self.past_maker_limit_lamps_count.checked_sub(self.past_study_limit_lamps_count)?;
        if between == 0 {
            return None;
        }
        let lamps = format!("{} {}", counted(between, "lamp"), fitting(between, "stands", "stand"));
        Some(format!(
            "{lamps} at or past the maker's limit of {} h and below the study's own of {} h: the list of lamps to change first \
             has {}, while lamps needed and spares are those of changes at {} h",
            full_hours(limit.maker_limit_hours),
            full_hours(limit.limit_hours),
            fitting(between, "it", "them"),
            full_hours(advised_age)
        ))
    }
}

fn count(sockets: &[SocketUntil], which: impl Fn(&SocketToday) -> bool) -> u64 {
    sockets.iter().filter(|s| which(&s.socket)).count() as u64
}

/// Screens that still burn on a day if each stops as early as it may; none where all do.
pub(super) fn still_burning_least(sockets: &[SocketUntil], day: u32) -> Option<Vec<SocketUntil>> {
    still_burning(sockets, |s| s.earliest > f64::from(day))
}

/// The most failures per lamp hour that some failures in some hours allow, one-sided, if the rate is constant.
pub(super) fn high_rate(failures: u64, exposure_hours: f64) -> Result<Option<f64>> {
    Ok(if exposure_hours > 0.0 { Some(count_upper(failures, LEVEL)? / exposure_hours) } else { None })
}

/// Lamps and spares of a class without a model.
pub(super) fn demand_bounds(
    class: &LampClass,
    declared: &Declaration,
    sockets: &[SocketUntil],
    seen: &Seen,
    planned_age_hours: f64,
) -> Result<DemandBounds> {
    let horizon = Horizon::months(declared.chain.forecast_months as usize);
    let lead = Horizon::days(f64::from(class.lead_time_days));
    let least = planned_changes_until(sockets, planned_age_hours, &class.limit, horizon)?;
    let least_of = |sockets: &[SocketUntil]| -> Result<u64> {
        let changes = planned_changes_until(sockets, planned_age_hours, &class.limit, lead)?;
        Ok(changes.first().map_or(0, |p| p.changes_by_end))
    };
    let least_lamps = least_of(sockets)?;
    let served = still_burning_least(sockets, class.lead_time_days);
    let order_serves_least_lamps = served.as_deref().map(least_of).transpose()?;
    let rate = high_rate(seen.failures_count, seen.exposure_hours)?;
    let at_rate = |horizon| -> Result<Option<Forecast>> {
        let Some(rate) = rate else { return Ok(None) };
        // Which failure it is does not matter for a count of lamps; one that has a cost makes a world.
        let endings = declared.failure_endings.iter().take(1).map(|e| (*e, 1.0)).collect();
        let causes = vec![CauseLife { endings, life: Box::new(Exponential { scale: 1.0 / rate }) }];
        let world = World { causes, costs: class.costs.clone() };
        forecast_until(sockets, &world, planned_age_hours, &class.limit, horizon).map(Some)
    };
    let months_at_rate = at_rate(horizon)?;
    let target = class.service_target.unwrap_or(declared.chain.service_target);
    let high_rate_level_lamps = match at_rate(lead)? {
        Some(found) => {
            let needed = found.periods.first().map_or_else(|| Count::certain(0), |p| p.needed.clone());
            Some(stock::level(&needed, target, class.on_hand, class.on_order)?.level)
        }
        None => None,
    };
    let months = least.iter().enumerate().map(|(i, p)| {
        let (from, to) = month_days(declared.as_of, i);
        let high = months_at_rate.as_ref().and_then(|f| f.periods.get(i));
        Ok(BoundMonth {
            from,
            to,
            planned_lamps: p.changes,
            least_by_end_lamps: p.changes_by_end,
            high_rate_by_end_lamps: high.map(|h| h.needed_by_end.quantile(CHANCE)).transpose()?,
        })
    });
    let missing = least_lamps.saturating_sub(class.on_hand.saturating_add(class.on_order));
    let order = order_of(missing, order_serves_least_lamps);
    let mut bounds = DemandBounds {
        label: LABEL.to_owned(),
        sentence: String::new(),
        planned_age_hours,
        running_lamps_count: sockets.len() as u64,
        stopping_lamps_count: stopping(sockets).map(|s| s.0),
        stopped_lamps_count: stopping(sockets).map(|s| s.1),
        unknown_age_lamps_count: count(sockets, |s| s.age_hours.is_none()),
        programme_hours_per_week: sockets.iter().map(|s| s.socket.hours_per_week).sum(),
        months: months.collect::<Result<_>>()?,
        spares: SparesBounds {
            lead_time_days: class.lead_time_days,
            least_lamps,
            on_hand_lamps: class.on_hand,
            on_order_lamps: class.on_order,
            order_serves_least_lamps,
            order_least_lamps: order,
            price_each: class.price,
            order_least_price: class.price * order as f64,
            service_target_probability: target,
            high_rate_level_lamps,
        },
        high_rate_per_1000_hours: rate.map(|r| 1000.0 * r),
        level_probability: LEVEL,
    };
    bounds.sentence = sentence(&bounds);
    Ok(bounds)
}

/// The bounds in plain words.
pub(super) fn sentence(bounds: &DemandBounds) -> String {
    let Some(last) = bounds.months.last() else { return LABEL.to_owned() };
    let months = match bounds.months.len() {
        1 => "the coming month".to_owned(),
        n => format!("the coming {}", counted(n as u64, "month")),
    };
    let age = full_hours(bounds.planned_age_hours);
    let mut text = if last.least_by_end_lamps == 0 && bounds.spares.least_lamps == 0 {
        // "At least no lamp" would say nothing.
        format!(
            "no lamp reaches {age} h by programme hours in {months} or over the lead time, and none is of unknown age; how \
             many fail is not known"
        )
    } else {
        format!(
            "at least {} in {months} and {} over the lead time, as that many reach {age} h by programme hours or are of \
             unknown age; failures come on top and are not known",
            counted(last.least_by_end_lamps, "lamp"),
            counted(bounds.spares.least_lamps, "lamp")
        )
    };
    if let (Some(rate), Some(most)) = (bounds.high_rate_per_1000_hours, last.high_rate_by_end_lamps) {
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            "; if failures came at the highest even rate that the records allow ({rate:.3} per 1,000 h, one-sided 95 %), {} \
             would be enough in {months} with a chance of 95 %, but wear past the ages that were seen is not in it",
            counted(most, "lamp")
        );
    }
    text
}
