//! A purchase list: what to order now and in the coming periods, and by which day.

use serde::{Deserialize, Serialize};

use super::level::level;
use super::purchase_check::check;
use crate::base::error::Result;
use crate::base::figure::{counted, fitting};
use crate::demand::Count;

/// Lamps needed from today to the end of a day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NeededBy {
    /// The day, counted from today, which is day 0.
    pub day: u32,
    /// Lamps needed from today to its end.
    pub needed: Count,
}

/// Lamps on order that come on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Arrival {
    /// The day, counted from today, which is day 0.
    pub day: u32,
    /// Lamps that are there by its end.
    pub lamps: u64,
}

/// What is there, and how lamps of a class are bought.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurchaseTerms {
    /// Lamps on the shelf.
    pub on_hand: u64,
    /// Lamps ordered and not yet delivered that come within the lead time.
    pub on_order: u64,
    /// Lamps ordered before that come after the lead time, by their days, rising: they serve from their day on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub on_order_later: Vec<Arrival>,
    /// Days from order to delivery.
    pub lead_time_days: u32,
    /// Wanted chance of no shortage from today to any day from the lead time on, above 0 and at most 1.
    pub service_target: f64,
    /// Price of a lamp, 0 or more.
    pub price_each: f64,
    /// Lamps in a box; only whole boxes are sold. 1 for single lamps.
    pub box_lamps: u64,
    /// Fewest lamps in an order; 1 for none.
    pub minimum_order_lamps: u64,
}

impl PurchaseTerms {
    /// Lamps that were ordered before, come after the lead time, and are there by the end of a day.
    pub(super) fn later_by(&self, day: u32) -> u64 {
        self.on_order_later.iter().filter(|a| a.day <= day).map(|a| a.lamps).fold(0, u64::saturating_add)
    }
}

/// One order.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurchaseOrder {
    /// Day to order by; 0 is today.
    pub order_day: u32,
    /// Day on which its lamps are there: the order day and the lead time.
    pub arrives_day: u32,
    /// Last day looked at to whose end the chance of a shortage stays within the target, if nothing more is ordered.
    pub covers_to_day: u32,
    /// Fewest lamps that keep the chance of a shortage within the target to the end of the period.
    pub least_lamps: u64,
    /// Lamps to order: these, at least the smallest order, in whole boxes.
    pub order_lamps: u64,
    /// Their price.
    pub price: f64,
}

/// One period ahead.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurchasePeriod {
    /// Last day of the period.
    pub to_day: u32,
    /// Fewest lamps, counted from today, that meet the target to its end.
    pub level_by_end: u64,
    /// Lamps there by its end, counted from today: on hand, on order, and every order of the list that has come.
    pub lamps_by_end: u64,
    /// Lamps missing to the level, since no order placed from today on comes in time; 0 after the lead time.
    pub too_late_lamps: u64,
    /// Chance that the lamps there by its end were enough from today on.
    pub service_by_end: f64,
    /// The same if nothing is ordered.
    pub service_without_orders: f64,
    /// Order for this period, beside the one of today; none where lamps bought before are enough.
    pub order: Option<PurchaseOrder>,
}

/// What to order now and for each coming period; made by [`purchase_list`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurchaseList {
    /// The list in plain words.
    pub sentence: String,
    /// What is there, and how lamps are bought.
    pub terms: PurchaseTerms,
    /// What to order today: what the stock level over the lead time asks for.
    pub now: PurchaseOrder,
    /// The periods in order.
    pub periods: Vec<PurchasePeriod>,
    /// Lamps of all orders.
    pub order_lamps: u64,
    /// Their price.
    pub price: f64,
    /// Last day on which an order can be part of this list: later ones are for needs past the last period.
    pub last_order_day: u32,
}

impl PurchaseList {
    /// The orders in time: that of today, if there is one, and those of the periods.
    pub fn orders(&self) -> impl Iterator<Item = &PurchaseOrder> {
        let now = Some(&self.now).filter(|o| o.order_lamps > 0);
        now.into_iter().chain(self.periods.iter().filter_map(|p| p.order.as_ref()))
    }
}

pub(super) fn sentence(now: &PurchaseOrder, later: u64, orders: u64) -> String {
    let first = match now.order_lamps {
        0 => "order none now".to_owned(),
        n if n == now.least_lamps => format!("order {} now", counted(n, "lamp")),
        n => {
            let least = now.least_lamps;
            format!("order {} now ({least} {} needed)", counted(n, "lamp"), fitting(least, "is", "are"))
        }
    };
    if orders == 0 {
        return format!("{first}, and none later for these periods");
    }
    format!("{first} and {} later, in {}", counted(later, "lamp"), counted(orders, "order"))
}

/// What is ordered where so many lamps are needed.
pub(crate) fn rounded(least: u64, terms: &PurchaseTerms) -> u64 {
    if least == 0 {
        return 0;
    }
    // A saved box may be of no lamp; its own check says so.
    least.max(terms.minimum_order_lamps).checked_next_multiple_of(terms.box_lamps).unwrap_or(u64::MAX)
}

/// The orders that keep the chance of a shortage within the target, each as late as its lead time allows.
///
/// # Formula
/// ```text
/// level(t) = min { n : P(N(t) > n) <= 1 - target },  N(t): lamps needed from today to the end of day t
/// today:     least = max(0, level(lead time) - on hand - on order), as stock::level advises
/// a period:  least = max(0, max of level(t) - held(t) over its days after the lead time)
///            held(t): lamps on hand, on order and to come from before by day t, and the orders placed so far
///            its order day is the day after the last day t with level(t) <= held(t), less the lead time
/// ordered = least, raised to the smallest order, then to whole boxes; what is too much serves later periods
/// ```
/// What is ordered on a day comes a lead time later, so that on each day looked at from the lead time on the chance that
/// lamps were short since today is at most 1 - target, and before it as it is: no order comes in time. Between two days
/// looked at the order day errs on the early side, by less than the days between them.
///
/// # Arguments
/// `needed`: lamps needed to the ends of days in rising order, with the lead time, the end of every period and the day before each of `on_order_later` among them;
/// `period_ends`: last days of the periods, rising.
///
/// # Errors
/// `stock.purchase_days` for days that do not rise, an end of a period or the day before lamps ordered earlier come that is not among them, or no period;
/// `stock.lead_time` where the lead time is not among them; `stock.arrivals` for lamps on order that come later and whose days
/// do not rise or lie within the lead time; `stock.service_target`; `stock.unit_cost` for a price that is
/// negative or not finite; `stock.order_terms` for a box or a smallest order below 1 lamp or above 1e9.
///
/// # Numerics
/// Exact for the distributions given. The chance is that of each day by itself, not of all days together, and the list is
/// worked out once: an order placed after a month of few failures may be smaller.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::{NeededBy, PurchaseTerms, purchase_list};
/// // Lamps are needed by chance, 0.2 a day; the maker needs 20 days.
/// let by = |day: u32| Ok(NeededBy { day, needed: Count::poisson(0.2 * f64::from(day))? });
/// let needed = [10, 20, 30, 40, 50, 60].map(by).into_iter().collect::<relamp::Result<Vec<_>>>()?;
/// let terms = PurchaseTerms {
///     on_hand: 3, on_order: 2, on_order_later: Vec::new(), lead_time_days: 20, service_target: 0.95,
///     price_each: 780.0, box_lamps: 1, minimum_order_lamps: 1,
/// };
/// let list = purchase_list(&needed, &[30, 60], &terms)?;
/// // Eight lamps are enough for 20 days with 97.9 %: order three now.
/// assert_eq!((list.now.order_lamps, list.now.price), (3, 2340.0));
/// // Day 30 asks for ten: two more, ordered by tomorrow, as the next day looked at after day 20 asks for them.
/// let next = list.periods[0].order.unwrap();
/// assert_eq!((next.order_lamps, next.order_day, next.arrives_day), (2, 1, 21));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn purchase_list(needed: &[NeededBy], period_ends: &[u32], terms: &PurchaseTerms) -> Result<PurchaseList> {
    purchase_list_until(needed, period_ends, terms, &Until::default())
}

/// What ends before the periods do.
#[derive(Clone, Debug, Default)]
pub(crate) struct Until {
    /// Last day on which the maker takes orders; none without one.
    pub(crate) last_day: Option<u32>,
    /// Levels on the same days, not falling, of those alone who still need lamps when an order of today comes; none where all
    /// do.
    pub(crate) served: Option<Vec<u64>>,
}

/// The most of a level that lamps held today and orders can meet: no order brings more than those need who are left when it
/// comes.
pub(crate) fn reachable(level: u64, held_today: u64, served: Option<u64>) -> u64 {
    served.map_or(level, |served| level.min(held_today.saturating_add(served)))
}

/// The same where the maker takes no order after a day, or where needs end before an order can come: what no order can bring
/// stays missing to the level.
pub(crate) fn purchase_list_until(
    needed: &[NeededBy],
    period_ends: &[u32],
    terms: &PurchaseTerms,
    until: &Until,
) -> Result<PurchaseList> {
    check(needed, period_ends, terms)?;
    let lead = terms.lead_time_days;
    // Lamps needed never fall with time; a count worked out on another grid may say so by a lamp.
    let mut so_far = 0;
    let today = terms.on_hand.saturating_add(terms.on_order);
    let mut levels = Vec::with_capacity(needed.len());
    for (i, by) in needed.iter().enumerate() {
        so_far = level(&by.needed, terms.service_target, 0, 0)?.level.max(so_far);
        let served = until.served.as_ref().and_then(|s| s.get(i)).copied();
        levels.push((by.day, so_far, reachable(so_far, today.saturating_add(terms.later_by(by.day)), served)));
    }
    let at = |day: u32| levels.iter().find(|(d, _, _)| *d == day).map_or((0, 0), |(_, n, met)| (*n, *met));
    let missing = |held: u64, day: u32, level: u64| level.saturating_sub(held.saturating_add(terms.later_by(day)));
    let covered = |held: u64| {
        levels.iter().take_while(|(day, _, n)| missing(held, *day, *n) == 0).last().map_or(0, |(day, _, _)| *day)
    };
    let order = |order_day: u32, held: u64, least: u64| {
        let order_lamps = rounded(least, terms);
        PurchaseOrder {
            order_day,
            arrives_day: order_day.saturating_add(lead),
            covers_to_day: covered(held.saturating_add(order_lamps)),
            least_lamps: least,
            order_lamps,
            price: terms.price_each * order_lamps as f64,
        }
    };
    let now = order(0, today, at(lead).1.saturating_sub(today));
    let mut held = today.saturating_add(now.order_lamps);
    let mut from = 0;
    let mut periods = Vec::with_capacity(period_ends.len());
    for &to in period_ends {
        let (level_by_end, _) = at(to);
        // What comes in the middle of a period may end a shortage that begins before it.
        let within = levels.iter().filter(|(day, _, _)| *day > lead.max(from) && *day <= to);
        let due = within.map(|(day, _, n)| missing(held, *day, *n)).max().filter(|least| *least > 0);
        let order_day = covered(held).max(lead).max(from).saturating_add(1) - lead;
        let taken = until.last_day.is_none_or(|last| order_day <= last);
        let later = due.filter(|_| taken).map(|least| {
            let order = order(order_day, held, least);
            held = held.saturating_add(order.order_lamps);
            order
        });
        let later_lamps = terms.later_by(to);
        let lamps_by_end = (if to >= lead { held } else { today }).saturating_add(later_lamps);
        let service = |lamps: u64| needed.iter().find(|n| n.day == to).map_or(1.0, |n| n.needed.at_most(lamps));
        periods.push(PurchasePeriod {
            to_day: to,
            level_by_end,
            lamps_by_end,
            too_late_lamps: level_by_end.saturating_sub(lamps_by_end),
            service_by_end: service(lamps_by_end),
            service_without_orders: service(today.saturating_add(later_lamps)),
            order: later,
        });
        from = to;
    }
    let later: Vec<&PurchaseOrder> = periods.iter().filter_map(|p| p.order.as_ref()).collect();
    let later_lamps = later.iter().map(|o| o.order_lamps).fold(0, u64::saturating_add);
    let price = now.price + later.iter().map(|o| o.price).sum::<f64>();
    Ok(PurchaseList {
        sentence: sentence(&now, later_lamps, later.len() as u64),
        terms: terms.clone(),
        order_lamps: now.order_lamps.saturating_add(later_lamps),
        price,
        last_order_day: from.saturating_sub(lead).min(until.last_day.unwrap_or(u32::MAX)),
        now,
        periods,
    })
}
