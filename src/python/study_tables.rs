//! The tables of a study as frames, with the rows and the columns of its files.

use arrow_array::RecordBatch;

use crate::Result;
use crate::study::{
    BuyRow, ClassPurchase, ClassStores, LastBuysResult, OverdueLists, PlaceStock, PlannedOrder, PurchaseMonth,
    PurchasePlan, StockList,
};

use super::frames::Frame;
use super::policy::word;

/// The three lists as one table, with the rows and the words of `overdue.csv`.
pub(super) fn overdue(o: &OverdueLists) -> Result<RecordBatch> {
    let rows = o.rows();
    let each = || rows.iter();
    let yes = |b: bool| if b { "yes" } else { "no" };
    let mut frame = Frame::default().texts("list", each().map(|r| r.list));
    for (i, name) in ["lamp_class", "site", "screen", "serial"].into_iter().enumerate() {
        frame = frame.texts(name, each().map(|r| r.who.get(i).copied().unwrap_or_default()));
    }
    frame
        .numbers_or_null("reading_hours", each().map(|r| r.reading_hours))
        .numbers_or_null("limit_hours", each().map(|r| r.limit_hours))
        .numbers_or_null("over_hours", each().map(|r| r.over_hours))
        .dates("read_on", each().map(|r| r.read_on))
        .numbers_or_null("expected_hours_at_visit", each().map(|r| r.soon.map(|s| s.expected_hours_at_visit)))
        .counts_or_null("days_left", each().map(|r| r.soon.and_then(|s| u64::try_from(s.days_left).ok())))
        .texts("before_next_visit", each().map(|r| r.soon.map_or("", |s| yes(s.before_next_visit))))
        .texts("within_lead_time", each().map(|r| r.soon.map_or("", |s| yes(s.within_lead_time))))
        .dates("stops_by", each().map(|r| r.soon.and_then(|s| s.stops_by)))
        .texts("why", each().map(|r| r.why))
        .texts("file", each().map(|r| r.file))
        .counts("line", each().map(|r| r.line))
        .finish()
}

/// The purchase plan as one table, with the rows and the columns of `purchase_plan.csv`.
pub(super) fn purchase_rows(plan: Option<&PurchasePlan>) -> Result<RecordBatch> {
    type Row<'a> = (&'a ClassPurchase, Option<&'a PurchaseMonth>, Option<&'a PlannedOrder>);
    let of_class = |c| {
        let c: &ClassPurchase = c;
        let months = c.months.iter().map(move |m| (c, Some(m), m.order.as_ref()));
        std::iter::once((c, None, c.now.as_ref())).chain(months)
    };
    let rows: Vec<Row<'_>> = plan.iter().flat_map(|p| &p.classes).flat_map(of_class).collect();
    let each = || rows.iter();
    let month = |of: fn(&PurchaseMonth) -> Option<u64>| each().map(move |r| r.1.and_then(of));
    let number = |of: fn(&PurchaseMonth) -> Option<f64>| each().map(move |r| r.1.and_then(of));
    let frame = Frame::default()
        .texts("lamp_class", each().map(|r| &r.0.lamp_class))
        .texts("basis", each().map(|r| word(&r.0.basis)))
        .texts("row", each().map(|r| if r.1.is_some() { "month" } else { "now" }))
        .dates("from", each().map(|r| r.1.map(|m| m.from)))
        .dates("to", each().map(|r| r.1.map(|m| m.to)))
        .numbers_or_null("mean_lamps", number(|m| m.mean_lamps))
        .numbers_or_null("planned_mean_lamps", number(|m| Some(m.planned_mean_lamps)))
        .numbers_or_null("failure_mean_lamps", number(|m| m.failure_mean_lamps))
        .counts_or_null("p50_lamps", month(|m| m.p50_lamps))
        .counts_or_null("p80_lamps", month(|m| m.p80_lamps))
        .counts_or_null("p95_lamps", month(|m| m.p95_lamps))
        .counts_or_null("level_by_end_lamps", month(|m| Some(m.level_by_end_lamps)))
        .counts_or_null("lamps_by_end_lamps", month(|m| Some(m.lamps_by_end_lamps)))
        .counts_or_null("too_late_lamps", month(|m| Some(m.too_late_lamps)))
        .numbers_or_null("enough_by_end_probability", number(|m| m.enough_by_end_probability))
        .dates("order_by", each().map(|r| r.2.map(|o| o.order_by)))
        .dates("arrives_on", each().map(|r| r.2.map(|o| o.arrives_on)))
        .dates("covers_to", each().map(|r| r.2.map(|o| o.covers_to)))
        .counts_or_null("least_lamps", each().map(|r| r.2.map(|o| o.least_lamps)))
        .counts_or_null("order_lamps", each().map(|r| r.2.map(|o| o.order_lamps)))
        .numbers("price_each", each().map(|r| r.0.price_each))
        .numbers_or_null("price", each().map(|r| r.2.map(|o| o.price)));
    if plan.is_some_and(PurchasePlan::ends) {
        return frame.counts_or_null("from_last_buy_lamps", month(|m| m.from_last_buy_lamps)).finish();
    }
    frame.finish()
}

/// The stock list as one table, with the rows and the columns of `stock_list.csv`.
pub(super) fn stock_rows(list: Option<&StockList>) -> Result<RecordBatch> {
    let rows: Vec<(&ClassStores, &PlaceStock)> =
        list.iter().flat_map(|l| &l.classes).flat_map(|c| c.places.iter().map(move |p| (c, p))).collect();
    let each = || rows.iter();
    let lamps = |of: fn(&PlaceStock) -> Option<u64>| each().map(move |r| of(r.1));
    Frame::default()
        .texts("lamp_class", each().map(|r| &r.0.lamp_class))
        .texts("basis", each().map(|r| word(&r.0.basis)))
        .texts("kind", each().map(|r| word(&r.1.kind)))
        .texts("depot", each().map(|r| &r.1.depot))
        .texts("place", each().map(|r| &r.1.place))
        .counts("screens", each().map(|r| r.1.screens_count))
        .counts("lead_time_days", each().map(|r| u64::from(r.1.lead_time_days)))
        .numbers("needed_mean_lamps", each().map(|r| r.1.needed_mean_lamps))
        .counts("level_lamps", each().map(|r| r.1.level_lamps))
        .numbers_or_null("enough_at_level_probability", each().map(|r| r.1.enough_at_level_probability))
        .counts_or_null("on_hand_lamps", lamps(|p| p.on_hand_lamps))
        .counts_or_null("on_order_lamps", lamps(|p| p.on_order_lamps))
        .counts_or_null("to_send_lamps", lamps(|p| p.to_send_lamps))
        .counts_or_null("waits_for_lamps", lamps(|p| p.waits_for_lamps))
        .counts_or_null("to_buy_lamps", lamps(|p| p.to_buy_lamps))
        .counts_or_null("order_serves_lamps", lamps(|p| p.order_serves_lamps))
        .counts_or_null("above_level_lamps", lamps(|p| p.above_level_lamps))
        .texts("pooled_at_depot", each().map(|r| if r.1.pooled_at_depot { "yes" } else { "no" }))
        .numbers_or_null("dark_hours_per_year", each().map(|r| r.1.dark_hours_per_year))
        .numbers_or_null("dark_hours_per_year_one_more", each().map(|r| r.1.dark_hours_per_year_one_more))
        .texts("reason", each().map(|r| &r.1.reason))
        .finish()
}

/// Each last buy by programme and rule, with the rows and the words of `last_buys.csv`.
pub(super) fn last_buys(page: Option<&LastBuysResult>) -> Result<RecordBatch> {
    let rows = page.map(LastBuysResult::rows).unwrap_or_default();
    let each = || rows.iter();
    Frame::default()
        .texts("lamp_class", each().map(|r| &r.buy.lamp_class))
        .texts("programme", each().map(|r| r.scenario.programme.as_str()))
        .texts("set_by", each().map(|r| r.set_by))
        .dates("last_order_on", each().map(|r| Some(r.buy.last_order_on)))
        .dates("needed_until", each().map(BuyRow::until))
        .counts("burning_lamps", each().map(|r| r.scenario.found.screens as u64))
        .counts("on_hand_lamps", each().map(|r| r.buy.on_hand_lamps))
        .counts("on_order_lamps", each().map(|r| r.buy.on_order_lamps))
        .numbers("mean_needed_lamps", each().map(|r| r.scenario.mean_lamps))
        .counts("quantity_lamps", each().map(|r| r.quantity.quantity_lamps))
        .counts("buy_lamps", each().map(|r| r.quantity.buy_lamps))
        .numbers("buy_price", each().map(|r| r.quantity.buy_price))
        .numbers("shortage_chance", each().map(|r| r.quantity.held.shortage_chance))
        .numbers("mean_short_lamps", each().map(|r| r.quantity.held.expected_short))
        .numbers("leftover_chance", each().map(|r| r.quantity.held.leftover_chance))
        .numbers("mean_left_lamps", each().map(|r| r.quantity.held.expected_left))
        .numbers("left_price", each().map(|r| r.quantity.left_price))
        .numbers("left_money_back", each().map(|r| r.quantity.left_money_back))
        .numbers_or_null("mean_cost", each().map(|r| r.quantity.held.cost))
        .counts("least_buy_lamps", each().map(|r| r.quantity.least_buy_lamps.unwrap_or(r.quantity.buy_lamps)))
        .counts_or_null("order_serves_lamps", each().map(|r| r.quantity.order_serves_lamps))
        .counts("on_order_later_lamps", each().map(|r| r.buy.later_lamps()))
        .counts("held_lamps", each().map(|r| r.quantity.held.lamps))
        .finish()
}
