//! The purchase plan: what to order now and in each coming month, class by class, and the money of it.

use std::fmt::Write;

use chrono::NaiveDate;

use super::bounds::{DemandBounds, LABEL, still_burning_least};
use super::decide::{day_after, month_days};
use super::declare::Declaration;
use super::declare_class::LampClass;
use super::plan_result::{ClassPurchase, PlannedOrder, PurchaseBasis, PurchaseMoney, PurchaseMonth, PurchasePlan};
use super::results::Header;
use super::used_stock::{UsedBeside, UsedStock};
use crate::base::error::Result;
use crate::base::figure::{counted, fitting};
use crate::base::run::Run;
use crate::demand::{Count, Forecast, Horizon, NeededOf, SocketUntil, needed_by_days, planned_changes_until};
use crate::fit::Draws;
use crate::stock::{
    self, Arrival, NeededBy, PurchaseList, PurchaseOrder, PurchasePeriod, PurchaseTerms, Until, purchase_list_until,
    reachable,
};

/// Days between the days looked at for the day to order by: a date errs by less, on the early side.
///
/// Our choice, without a source: a buyer orders on some day of a week.
const DAYS_BETWEEN: u32 = 7;

/// What the figures of the plan are, in words.
pub(super) fn notes(classes: &[ClassPurchase]) -> Vec<String> {
    let mut notes = vec![
        "an order comes a lead time after it is placed; from then on the chance that lamps were short since the as-of date is \
         at most 1 minus the service target on each day looked at, each day by itself",
        "lamps on order are taken to come within the lead time unless a later day is given; before the first order can come, on hand and on order are all \
         there is, and lamps that would be missing are shown as too late",
        "a date to order by errs on the early side, by less than a week",
        "orders after the last day named serve needs past the forecast and are not in the plan, so the money of the last \
         months is not all that will be spent in them",
        "the plan is worked out once, from the lamps of the as-of date: work it out anew before each order",
    ];
    if classes.iter().any(|c| !c.on_order_later.is_empty()) {
        notes.push(
            "lamps of the stock count that are due after the lead time serve from their day on, and are taken off what is \
             ordered for needs from then on",
        );
    }
    if classes.iter().any(|c| c.not_served_lamps.is_some()) {
        notes.push(
            "where screens stop before an order of today can come, orders bring no more than the other screens need; what is \
             missing for those that stop is shown as too late, and the chance that lamps were enough counts it, so that it lies \
             below the target: for the others the target is met",
        );
    }
    notes.into_iter().map(str::to_owned).collect()
}

/// Days to whose ends lamps needed are looked at between the ends of months, from the lead time on: by weeks, and on the day before
/// lamps that were ordered earlier come, up to which a shortage may grow that they end.
fn days_looked_at(lead: u32, ends: &[u32], later: &[Arrival]) -> Vec<u32> {
    let last = ends.last().copied().unwrap_or(0);
    // Day by day in the first week, since an order that follows today's at once is the one to be sure of.
    let first = 1..DAYS_BETWEEN;
    let days = first.chain((1..).map(|week| week * DAYS_BETWEEN)).map(|day| lead.saturating_add(day));
    let eves = later.iter().map(|arrival| arrival.day.saturating_sub(1)).filter(|eve| *eve > lead && *eve < last);
    let mut days: Vec<u32> = days.take_while(|day| *day < last).chain(eves).filter(|day| !ends.contains(day)).collect();
    days.sort_unstable();
    days.dedup();
    days
}

fn month_ends(months: usize) -> Vec<u32> {
    let length = Horizon::months(1).period_days;
    (1..=months).map(|m| (m as f64 * length).round() as u32).collect()
}

fn terms(class: &LampClass, declared: &Declaration) -> PurchaseTerms {
    let days_to = |due: NaiveDate| u32::try_from((due - declared.as_of).num_days()).unwrap_or(0);
    PurchaseTerms {
        on_hand: class.on_hand,
        on_order: class.on_order,
        on_order_later: class
            .on_order_later
            .iter()
            .map(|(due, lamps)| Arrival { day: days_to(*due), lamps: *lamps })
            .collect(),
        lead_time_days: class.lead_time_days,
        service_target: class.service_target.unwrap_or(declared.chain.service_target),
        price_each: class.price,
        box_lamps: class.box_lamps,
        minimum_order_lamps: class.minimum_order_lamps,
    }
}

/// Last day on which the maker takes orders; none where no last buy of the class is declared.
fn maker_last(class: &LampClass, declared: &Declaration) -> Option<NaiveDate> {
    declared.last_buys.iter().find(|b| b.class == class.name).map(|b| b.last_order_on)
}

/// The same in days from the as-of date.
fn last_day(class: &LampClass, declared: &Declaration) -> Option<u32> {
    maker_last(class, declared).map(|day| u32::try_from((day - declared.as_of).num_days()).unwrap_or(0))
}

/// The screens of a class.
#[derive(Clone, Copy, Debug)]
pub(super) struct Screens<'a> {
    pub(super) all: &'a [SocketUntil],
    /// Those that still burn when an order of today comes; none where all do.
    pub(super) served: Option<&'a [SocketUntil]>,
}

/// Lamps missing to the level by the end of a month: those that come too late, and those that the maker takes no order for any
/// more.
pub(super) fn missing(month: &PurchaseMonth, held_today: u64, orders_come: bool, maker_ends: bool) -> (u64, u64) {
    let missing = month.level_by_end_lamps.saturating_sub(month.lamps_by_end_lamps);
    if !(orders_come && maker_ends) {
        return (missing, 0);
    }
    let reached = reachable(month.level_by_end_lamps, held_today, month.orders_serve_by_end_lamps);
    let from_last_buy = reached.saturating_sub(month.lamps_by_end_lamps);
    (missing - from_last_buy, from_last_buy)
}

/// Levels of counts on rising days; they never fall with time.
fn levels(needed: &[NeededBy], target: f64) -> Result<Vec<u64>> {
    let mut so_far = 0;
    let level = |by: &NeededBy| {
        so_far = stock::level(&by.needed, target, 0, 0)?.level.max(so_far);
        Ok(so_far)
    };
    needed.iter().map(level).collect()
}

/// What is needed to the ends of days in rising order, the lead time among them.
fn on_days(days: &[u32], counts: Vec<Count>, lead: u32, over_lead: &Count) -> Vec<NeededBy> {
    let pairs = days.iter().zip(counts).filter(|(day, _)| **day != lead);
    let mut needed: Vec<NeededBy> = pairs.map(|(day, needed)| NeededBy { day: *day, needed }).collect();
    needed.push(NeededBy { day: lead, needed: over_lead.clone() });
    needed.sort_by_key(|n| n.day);
    needed
}

/// The purchase list of a class, with what its orders can serve.
struct Listed {
    list: PurchaseList,
    /// By the end of each month; none where every screen may burn when an order of today comes.
    served_by_end: Vec<Option<u64>>,
    /// Lamps missing over the lead time that no order serves.
    not_served: Option<u64>,
}

fn listed(
    class: &LampClass,
    declared: &Declaration,
    ends: &[u32],
    needed: &[NeededBy],
    served: Option<&[NeededBy]>,
) -> Result<Listed> {
    let terms = terms(class, declared);
    let served = served.map(|s| levels(s, terms.service_target)).transpose()?;
    let until = Until { last_day: last_day(class, declared), served };
    let list = purchase_list_until(needed, ends, &terms, &until)?;
    let by_end = |end: &u32| until.served.as_ref()?.get(needed.iter().position(|n| n.day == *end)?).copied();
    let served_by_end = ends.iter().map(by_end).collect();
    let over_lead = needed.iter().find(|n| n.day == terms.lead_time_days);
    let asked =
        over_lead.map(|n| stock::level(&n.needed, terms.service_target, terms.on_hand, terms.on_order)).transpose()?;
    let missing = asked.map_or(0, |s| s.order);
    let not_served = until.served.is_some().then(|| missing.saturating_sub(list.now.least_lamps));
    Ok(Listed { list, served_by_end, not_served })
}

/// The plan of a class with a model. The months and the lead time, with what an order serves of it, are those that the class
/// shows.
pub(super) fn class_purchase(
    class: &LampClass,
    declared: &Declaration,
    screens: &Screens<'_>,
    draws: &dyn Draws,
    coming: &Forecast,
    (over_lead, served_over_lead): (&Count, Option<&Count>),
    run: &Run,
) -> Result<ClassPurchase> {
    let ends = month_ends(coming.periods.len());
    let lead = class.lead_time_days;
    let between = days_looked_at(lead, &ends, &terms(class, declared).on_order_later);
    let all_days: Vec<u32> = between.iter().chain(&ends).copied().collect();
    let mut parts = vec![NeededOf { sockets: screens.all, days: &between }];
    parts.extend(screens.served.map(|sockets| NeededOf { sockets, days: &all_days }));
    let mut found = needed_by_days(&parts, draws, coming.planned_age_hours, run)?.into_iter();
    let mut counts = found.next().unwrap_or_default();
    counts.extend(coming.periods.iter().map(|p| p.needed_by_end.clone()));
    let needed = on_days(&all_days, counts, lead, over_lead);
    let served = found.next().zip(served_over_lead).map(|(counts, over)| on_days(&all_days, counts, lead, over));
    let found = listed(class, declared, &ends, &needed, served.as_deref())?;
    let months = coming.periods.iter().zip(&found.list.periods).zip(&found.served_by_end).enumerate();
    let months = months.map(|(i, ((period, planned), served))| {
        let (from, to) = month_days(declared.as_of, i);
        Ok(PurchaseMonth {
            mean_lamps: Some(period.needed.mean()),
            failure_mean_lamps: Some(period.mean_failures),
            p50_lamps: Some(period.needed.quantile(0.5)?),
            p80_lamps: Some(period.needed.quantile(0.8)?),
            p95_lamps: Some(period.needed.quantile(0.95)?),
            enough_by_end_probability: Some(planned.service_by_end),
            enough_without_orders_probability: Some(planned.service_without_orders),
            ..month((from, to), period.mean_planned, planned, *served, declared.as_of)
        })
    });
    let months = months.collect::<Result<_>>()?;
    Ok(put_together(class, declared, PurchaseBasis::Forecast, "", &found, months))
}

/// The plan of a class without a model: changes on plan only, which is the least that can be needed.
pub(super) fn class_purchase_least(
    class: &LampClass,
    declared: &Declaration,
    sockets: &[SocketUntil],
    bounds: &DemandBounds,
) -> Result<ClassPurchase> {
    let ends = month_ends(bounds.months.len());
    let lead = class.lead_time_days;
    let least_by = |sockets: &[SocketUntil], day: u32| {
        let horizon = Horizon::days(f64::from(day));
        let periods = planned_changes_until(sockets, bounds.planned_age_hours, &class.limit, horizon)?;
        Ok(Count::certain(periods.first().map_or(0, |p| p.changes_by_end)))
    };
    let between = days_looked_at(lead, &ends, &terms(class, declared).on_order_later);
    let all_days: Vec<u32> = between.iter().chain(&ends).copied().collect();
    let mut counts = between.iter().map(|day| least_by(sockets, *day)).collect::<Result<Vec<_>>>()?;
    counts.extend(bounds.months.iter().map(|m| Count::certain(m.least_by_end_lamps)));
    let needed = on_days(&all_days, counts, lead, &Count::certain(bounds.spares.least_lamps));
    let served = match (still_burning_least(sockets, lead), bounds.spares.order_serves_least_lamps) {
        (Some(served), Some(over_lead)) => {
            let counts = all_days.iter().map(|day| least_by(&served, *day)).collect::<Result<Vec<_>>>()?;
            Some(on_days(&all_days, counts, lead, &Count::certain(over_lead)))
        }
        _ => None,
    };
    let found = listed(class, declared, &ends, &needed, served.as_deref())?;
    let months = bounds.months.iter().zip(&found.list.periods).zip(&found.served_by_end);
    let months = months.map(|((of, planned), served)| {
        month((of.from, of.to), of.planned_lamps as f64, planned, *served, declared.as_of)
    });
    let months = months.collect();
    Ok(put_together(class, declared, PurchaseBasis::LowerBound, LABEL, &found, months))
}

/// A month with what is known of it without a model.
fn month(
    (from, to): (NaiveDate, NaiveDate),
    planned_mean_lamps: f64,
    planned: &PurchasePeriod,
    orders_serve_by_end_lamps: Option<u64>,
    as_of: NaiveDate,
) -> PurchaseMonth {
    PurchaseMonth {
        from,
        to,
        mean_lamps: None,
        planned_mean_lamps,
        failure_mean_lamps: None,
        p50_lamps: None,
        p80_lamps: None,
        p95_lamps: None,
        level_by_end_lamps: planned.level_by_end,
        orders_serve_by_end_lamps,
        lamps_by_end_lamps: planned.lamps_by_end,
        too_late_lamps: 0,
        from_last_buy_lamps: None,
        enough_by_end_probability: None,
        enough_without_orders_probability: None,
        order: planned.order.as_ref().map(|o| dated(o, as_of)),
    }
}

/// A class whose needs are not known: no lamp of the logs burns.
pub(super) fn class_purchase_not_known(class: &LampClass, declared: &Declaration, why: &str) -> ClassPurchase {
    let terms = terms(class, declared);
    let mut purchase = ClassPurchase {
        lamp_class: class.name.clone(),
        basis: PurchaseBasis::NotKnown,
        why: why.to_owned(),
        sentence: String::new(),
        lead_time_days: terms.lead_time_days,
        service_target_probability: terms.service_target,
        on_hand_lamps: terms.on_hand,
        on_order_lamps: terms.on_order,
        on_order_later: class.later_until(NaiveDate::MAX),
        used: None,
        price_each: terms.price_each,
        box_lamps: terms.box_lamps,
        minimum_order_lamps: terms.minimum_order_lamps,
        now: None,
        not_served_lamps: None,
        months: Vec::new(),
        last_order_on: None,
        maker_last_order_on: maker_last(class, declared),
        order_lamps: None,
        order_price: None,
    };
    purchase.sentence = sentence(&purchase);
    purchase
}

fn dated(order: &PurchaseOrder, as_of: NaiveDate) -> PlannedOrder {
    PlannedOrder {
        order_by: day_after(as_of, order.order_day),
        arrives_on: day_after(as_of, order.arrives_day),
        covers_to: day_after(as_of, order.covers_to_day),
        least_lamps: order.least_lamps,
        order_lamps: order.order_lamps,
        price: order.price,
    }
}

fn put_together(
    class: &LampClass,
    declared: &Declaration,
    basis: PurchaseBasis,
    why: &str,
    found: &Listed,
    mut months: Vec<PurchaseMonth>,
) -> ClassPurchase {
    let list = &found.list;
    let head = class_purchase_not_known(class, declared, why);
    let held = head.on_hand_lamps.saturating_add(head.on_order_lamps);
    let ends = head.maker_last_order_on.is_some();
    let now = dated(&list.now, declared.as_of);
    for (month, planned) in months.iter_mut().zip(&list.periods) {
        let comes = planned.to_day > head.lead_time_days;
        let held = held.saturating_add(head.later_by(month.to));
        let (at_its_end, from_last_buy) = missing(month, held, comes, ends);
        month.too_late_lamps = at_its_end.max(until_order_comes(month, &now, found.not_served));
        month.from_last_buy_lamps = ends.then_some(from_last_buy);
    }
    let mut purchase = ClassPurchase {
        basis,
        now: Some(now),
        not_served_lamps: found.not_served,
        months,
        last_order_on: Some(day_after(declared.as_of, list.last_order_day)),
        order_lamps: Some(list.order_lamps),
        order_price: Some(list.price),
        ..head
    };
    purchase.sentence = sentence(&purchase);
    purchase
}

/// The plan of a class in plain words.
pub(super) fn sentence(purchase: &ClassPurchase) -> String {
    let (Some(now), Some(last)) = (&purchase.now, purchase.last_order_on) else {
        return format!("what to buy is not known: {}", purchase.why);
    };
    let least = if purchase.basis == PurchaseBasis::LowerBound { "at least: " } else { "" };
    let mut text = match now.order_lamps {
        0 => format!("{least}order none now"),
        n if n == now.least_lamps => format!("{least}order {} now", counted(n, "lamp")),
        n => format!(
            "{least}order {} now ({} {} needed; the rest is the box or the smallest order)",
            counted(n, "lamp"),
            now.least_lamps,
            fitting(now.least_lamps, "is", "are")
        ),
    };
    let later: Vec<&PlannedOrder> = purchase.months.iter().filter_map(|m| m.order.as_ref()).collect();
    // Writing to a string cannot fail.
    let _ = match later.as_slice() {
        [] if last <= now.order_by => write!(text, "; what is ordered later serves needs past the forecast"),
        [] => write!(text, "; none later to {last}"),
        [one] => write!(text, "; {} more by {}", counted(one.order_lamps, "lamp"), one.order_by),
        [first, ..] => {
            let lamps = later.iter().map(|o| o.order_lamps).fold(0, u64::saturating_add);
            let orders = counted(later.len() as u64, "order");
            write!(text, "; {} more in {orders}, the first by {}", counted(lamps, "lamp"), first.order_by)
        }
    };
    if let Some(day) = purchase.maker_last_order_on {
        let ordered = now.order_lamps > 0 || !later.is_empty();
        let beyond = if ordered { " beyond these" } else { "" };
        let _ = match purchase.months.iter().filter_map(|m| m.from_last_buy_lamps).max().unwrap_or(0) {
            0 if purchase.basis == PurchaseBasis::LowerBound => write!(
                text,
                "; the maker takes no order after {day}, and planned changes alone need none{beyond} in these months"
            ),
            0 => {
                write!(text, "; the maker takes no order after {day}, and none{beyond} would be needed in these months")
            }
            n => write!(
                text,
                "; the maker takes no order after {day}: {} more {} in these months, which only a last buy can cover",
                counted(n, "lamp"),
                fitting(n, "is needed", "are needed")
            ),
        };
    }
    let shown = purchase.months.iter().map(|m| m.too_late_lamps).max().unwrap_or(0);
    let until_then = missing_until_then(now, purchase.not_served_lamps);
    let late = shown.max(until_then);
    if late > 0 {
        // An order that comes after the last month has no month to stand in.
        let past =
            if until_then > shown { format!(" by {}, after these months and", now.arrives_on) } else { String::new() };
        let _ = write!(
            text,
            "; {} {}{past} before any order can come: only a faster delivery helps",
            counted(late, "lamp"),
            fitting(late, "is missing to the target", "are missing to the target")
        );
    }
    text.push_str(&purchase.used.map(|used| used.words()).unwrap_or_default());
    text
}

/// Lamps missing to the level over the lead time: what is ordered today because of them comes when that time is over.
fn missing_until_then(now: &PlannedOrder, not_served_lamps: Option<u64>) -> u64 {
    let waits = now.arrives_on > now.order_by;
    if waits { now.least_lamps.saturating_add(not_served_lamps.unwrap_or(0)) } else { 0 }
}

/// The same in the month within which an order of today comes; 0 in every other.
pub(super) fn until_order_comes(month: &PurchaseMonth, now: &PlannedOrder, not_served_lamps: Option<u64>) -> u64 {
    let comes = month.from <= now.arrives_on && now.arrives_on <= month.to;
    if comes { missing_until_then(now, not_served_lamps) } else { 0 }
}

impl ClassPurchase {
    /// The same beside the used lamps in stock.
    pub(super) fn beside(self, used: Option<&UsedStock>) -> Self {
        let mut told = Self { used: used.map(UsedBeside::of), ..self };
        told.sentence = sentence(&told);
        told
    }
}

impl PurchasePlan {
    /// Whether the maker of a class of it stops taking orders.
    pub fn ends(&self) -> bool {
        self.classes.iter().any(|c| c.maker_last_order_on.is_some())
    }

    /// The plan from those of the classes.
    pub(super) fn of(classes: Vec<ClassPurchase>, study: &Header) -> Self {
        let known = classes.iter().all(|c| c.basis != PurchaseBasis::NotKnown);
        let lamps = classes.iter().filter_map(|c| c.order_lamps).fold(0, u64::saturating_add);
        let price = classes.iter().filter_map(|c| c.order_price).sum::<f64>();
        Self {
            money: money(&classes, study.as_of, study.forecast_months),
            order_lamps: known.then_some(lamps),
            order_price: known.then_some(price),
            least_only_classes_count: least_only(&classes),
            notes: notes(&classes),
            classes,
        }
    }
}

pub(super) fn least_only(classes: &[ClassPurchase]) -> u64 {
    classes.iter().filter(|c| c.basis == PurchaseBasis::LowerBound).count() as u64
}

/// What is ordered in each month of the forecast: what is ordered today counts in the first.
pub(super) fn money(classes: &[ClassPurchase], as_of: NaiveDate, months: u32) -> Vec<PurchaseMoney> {
    if classes.iter().any(|c| c.basis == PurchaseBasis::NotKnown) {
        return Vec::new();
    }
    let each = (0..months as usize).map(|i| {
        let (from, to) = month_days(as_of, i);
        let first = if i == 0 { as_of } else { from };
        let here = |o: &&PlannedOrder| (first..=to).contains(&o.order_by);
        let orders = || classes.iter().flat_map(ClassPurchase::orders).filter(here);
        PurchaseMoney {
            from,
            to,
            orders_count: orders().count() as u64,
            order_lamps: orders().map(|o| o.order_lamps).fold(0, u64::saturating_add),
            price: orders().map(|o| o.price).sum(),
        }
    });
    each.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_day_before_lamps_come_is_looked_at() {
        let at = |day: u32| Arrival { day, lamps: 1 };
        let by_weeks = [22, 23, 24, 25, 26, 27, 28, 35, 42, 49, 56];
        assert_eq!(days_looked_at(21, &[30, 61], &[]), by_weeks);
        // Once each, not within the lead time, not at the end of a month, not past the last.
        let later = [at(22), at(29), at(31), at(41), at(62), at(90)];
        assert_eq!(days_looked_at(21, &[30, 61], &later), [22, 23, 24, 25, 26, 27, 28, 35, 40, 42, 49, 56]);
    }
}
