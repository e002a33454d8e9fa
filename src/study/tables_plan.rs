//! The purchase plan as a table that people open in a spreadsheet.

use super::plan_result::{ClassPurchase, PlannedOrder, PurchaseBasis, PurchaseMonth, PurchasePlan};
use crate::base::spreadsheet::{Cell, Sheet, whole};

/// `purchase_plan.csv`: for each class what to order now, then its months.
pub(super) fn purchase_plan_csv(plan: &PurchasePlan) -> String {
    let ends = plan.ends();
    let mut names = vec![
        "lamp_class",
        "basis",
        "row",
        "from",
        "to",
        "mean_lamps",
        "planned_mean_lamps",
        "failure_mean_lamps",
        "p50_lamps",
        "p80_lamps",
        "p95_lamps",
        "level_by_end_lamps",
        "lamps_by_end_lamps",
        "too_late_lamps",
        "enough_by_end_probability",
        "order_by",
        "arrives_on",
        "covers_to",
        "least_lamps",
        "order_lamps",
        "price_each",
        "price",
    ];
    if ends {
        names.push("from_last_buy_lamps");
    }
    let mut table = Sheet::new(&names);
    for purchase in &plan.classes {
        row(&mut table, purchase, None, purchase.now.as_ref(), ends);
        for month in &purchase.months {
            row(&mut table, purchase, Some(month), month.order.as_ref(), ends);
        }
    }
    table.finish()
}

pub(super) fn basis_word(basis: PurchaseBasis) -> &'static str {
    match basis {
        PurchaseBasis::Forecast => "forecast",
        PurchaseBasis::LowerBound => "lower_bound",
        PurchaseBasis::NotKnown => "not_known",
    }
}

fn row(
    table: &mut Sheet,
    purchase: &ClassPurchase,
    month: Option<&PurchaseMonth>,
    order: Option<&PlannedOrder>,
    ends: bool,
) {
    let number = |x: Option<f64>| x.map_or(Cell::Blank, Cell::Number);
    let lamps = |n: Option<u64>| n.map_or(Cell::Blank, whole);
    let days = [
        month.map(|m| m.from),
        month.map(|m| m.to),
        order.map(|o| o.order_by),
        order.map(|o| o.arrives_on),
        order.map(|o| o.covers_to),
    ];
    let [from, to, order_by, arrives_on, covers_to] = days.map(|d| d.map(|d| d.to_string()).unwrap_or_default());
    let mut cells = vec![
        Cell::Text(&purchase.lamp_class),
        Cell::Text(basis_word(purchase.basis)),
        Cell::Text(if month.is_some() { "month" } else { "now" }),
        Cell::Text(&from),
        Cell::Text(&to),
        number(month.and_then(|m| m.mean_lamps)),
        number(month.map(|m| m.planned_mean_lamps)),
        number(month.and_then(|m| m.failure_mean_lamps)),
        lamps(month.and_then(|m| m.p50_lamps)),
        lamps(month.and_then(|m| m.p80_lamps)),
        lamps(month.and_then(|m| m.p95_lamps)),
        lamps(month.map(|m| m.level_by_end_lamps)),
        lamps(month.map(|m| m.lamps_by_end_lamps)),
        lamps(month.map(|m| m.too_late_lamps)),
        number(month.and_then(|m| m.enough_by_end_probability)),
        Cell::Text(&order_by),
        Cell::Text(&arrives_on),
        Cell::Text(&covers_to),
        lamps(order.map(|o| o.least_lamps)),
        lamps(order.map(|o| o.order_lamps)),
        Cell::Number(purchase.price_each),
        number(order.map(|o| o.price)),
    ];
    if ends {
        cells.push(lamps(month.and_then(|m| m.from_last_buy_lamps)));
    }
    table.row(&cells);
}
