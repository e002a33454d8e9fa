//! What a study answers about buying: the purchase plan.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::used_stock::UsedBeside;

/// What the plan of a class rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PurchaseBasis {
    /// The forecast of the class: planned changes and failures, what is not known of the life included.
    Forecast,
    /// Changes on plan only, as there is no model: the least that can be needed.
    LowerBound,
    /// Nothing is known, as no lamp of the logs burns.
    NotKnown,
}

/// What to order now and in each coming month, class by class, and the money of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurchasePlan {
    /// One entry for each class, in the order declared.
    pub classes: Vec<ClassPurchase>,
    /// What is ordered in each month of the forecast, all classes together; empty where a class is not known.
    pub money: Vec<PurchaseMoney>,
    /// Lamps of all orders; empty where a class is not known.
    pub order_lamps: Option<u64>,
    /// Their price; empty where a class is not known.
    pub order_price: Option<f64>,
    /// Classes without a model, which are in it with their lower bound: planned changes only.
    pub least_only_classes_count: u64,
    /// What the figures are and what may mislead, in words.
    pub notes: Vec<String>,
}

/// The purchase plan of one class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClassPurchase {
    /// Name of the class.
    pub lamp_class: String,
    /// What it rests on.
    pub basis: PurchaseBasis,
    /// Why it is a lower bound or not known; empty for a forecast.
    pub why: String,
    /// The plan in plain words.
    pub sentence: String,
    /// Days from order to delivery.
    pub lead_time_days: u32,
    /// Wanted chance of no shortage from the as-of date to any day from the lead time on.
    pub service_target_probability: f64,
    /// Lamps on the shelf.
    pub on_hand_lamps: u64,
    /// Lamps ordered and not yet delivered that come within the lead time.
    pub on_order_lamps: u64,
    /// Lamps of the stock count that come later, day by day: they serve from their day on.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub on_order_later: Vec<LaterOrder>,
    /// Used lamps in stock, which the figures of this class do without; none where the count holds none or there is no model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used: Option<UsedBeside>,
    /// Price of a lamp.
    pub price_each: f64,
    /// Lamps in a box; 1 for single lamps.
    pub box_lamps: u64,
    /// Fewest lamps in an order; 1 for none.
    pub minimum_order_lamps: u64,
    /// What to order today; its fewest lamps are those that the stock of the class advises. Empty where not known.
    pub now: Option<PlannedOrder>,
    /// Lamps missing to the target over the lead time for screens that have stopped when an order of today comes, so that it
    /// serves none of them. None where every screen may burn then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_served_lamps: Option<u64>,
    /// Months in order, those of the lamps needed.
    pub months: Vec<PurchaseMonth>,
    /// Last day on which an order serves needs inside the forecast; later orders are not in the plan. Not after the last
    /// day on which the maker takes orders.
    pub last_order_on: Option<NaiveDate>,
    /// Last day on which the maker takes orders; none where no last buy is declared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker_last_order_on: Option<NaiveDate>,
    /// Lamps of all orders; empty where not known.
    pub order_lamps: Option<u64>,
    /// Their price; empty where not known.
    pub order_price: Option<f64>,
}

impl ClassPurchase {
    /// Lamps ordered before that come after the lead time and by a day.
    pub(super) fn later_by(&self, day: NaiveDate) -> u64 {
        self.on_order_later.iter().filter(|o| o.due_on <= day).map(|o| o.lamps).fold(0, u64::saturating_add)
    }

    /// The orders in time: that of today, if there is one, and those of the months.
    pub fn orders(&self) -> impl Iterator<Item = &PlannedOrder> {
        let now = self.now.as_ref().filter(|o| o.order_lamps > 0);
        now.into_iter().chain(self.months.iter().filter_map(|m| m.order.as_ref()))
    }
}

/// Lamps ordered before that come after the lead time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LaterOrder {
    /// Day on which they are due.
    pub due_on: NaiveDate,
    /// Lamps.
    pub lamps: u64,
}

/// One order with its days.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedOrder {
    /// Day to order by; the as-of date for what is ordered now.
    pub order_by: NaiveDate,
    /// Day on which the lamps are there: a lead time later.
    pub arrives_on: NaiveDate,
    /// Last day looked at to whose end the target is met, if nothing more is ordered.
    pub covers_to: NaiveDate,
    /// Fewest lamps that meet the target.
    pub least_lamps: u64,
    /// Lamps to order: these, at least the smallest order, in whole boxes.
    pub order_lamps: u64,
    /// Their price, in the currency of the study.
    pub price: f64,
}

/// One month of the plan of a class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurchaseMonth {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
    /// Mean number of lamps needed; empty without a model.
    pub mean_lamps: Option<f64>,
    /// Mean number of planned changes; without a model those on plan if no lamp fails.
    pub planned_mean_lamps: f64,
    /// Mean number of failure changes; empty without a model: not known.
    pub failure_mean_lamps: Option<f64>,
    /// Number not passed with probability 0.5; empty without a model.
    pub p50_lamps: Option<u64>,
    /// Number not passed with probability 0.8; empty without a model.
    pub p80_lamps: Option<u64>,
    /// Number not passed with probability 0.95; empty without a model.
    pub p95_lamps: Option<u64>,
    /// Fewest lamps, counted from the as-of date, that meet the target to the end of the month; without a model those of
    /// changes on plan.
    pub level_by_end_lamps: u64,
    /// The same for those screens alone that still burn when an order of today comes: orders bring no more. None where all may.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub orders_serve_by_end_lamps: Option<u64>,
    /// Lamps there by the end of the month, counted from the as-of date: on hand, on order, and the orders that have come.
    pub lamps_by_end_lamps: u64,
    /// Lamps missing to the level that no order placed from today on can bring in time: by the end of the month, as no order
    /// comes by then or as their screens stop before one comes; in the month within which an order of today comes those
    /// missing until it comes, where they are more. The largest of the months stands in the sentence of the class.
    pub too_late_lamps: u64,
    /// Lamps missing to the level as the maker takes no order for them any more: they come from the last buy. None where
    /// no last buy is declared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_last_buy_lamps: Option<u64>,
    /// Chance that the lamps there by the end of the month were enough since the as-of date; empty without a model.
    pub enough_by_end_probability: Option<f64>,
    /// The same if nothing is ordered; empty without a model.
    pub enough_without_orders_probability: Option<f64>,
    /// Order for this month, beside the one of today; empty where lamps bought before are enough.
    pub order: Option<PlannedOrder>,
}

/// What is ordered in one month, all classes together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PurchaseMoney {
    /// First day; the order of the as-of date counts in the first month.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
    /// Orders to place.
    pub orders_count: u64,
    /// Their lamps.
    pub order_lamps: u64,
    /// Their price, in the currency of the study.
    pub price: f64,
}
