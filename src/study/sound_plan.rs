//! What must hold of a saved purchase plan against the classes it is for.

use super::class_result::ClassResult;
use super::decide::day_after;
use super::plan::{least_only, missing, money, notes, sentence, until_order_comes};
use super::plan_result::{ClassPurchase, PlannedOrder, PurchaseBasis, PurchaseMonth, PurchasePlan};
use super::results::{Header, StudyResults};
use super::used_stock::UsedBeside;
use crate::base::figure::counted;
use crate::base::sound::Checks;
use crate::stock::{PurchaseTerms, reachable, rounded};

/// The purchase plan against classes, orders and dates of the study.
pub(super) fn plan_agrees(c: &mut Checks, plan: &PurchasePlan, results: &StudyResults) {
    c.entries("classes", plan.classes.len(), results.classes.len());
    for (i, (purchase, class)) in plan.classes.iter().zip(&results.classes).enumerate() {
        c.inside(&format!("classes[{i}]"), |c| class_agrees(c, purchase, class, &results.study));
    }
    let spent = money(&plan.classes, results.study.as_of, results.study.forecast_months);
    c.entries("money", plan.money.len(), spent.len());
    for (i, (got, expected)) in plan.money.iter().zip(&spent).enumerate() {
        c.follows(&format!("money[{i}].from"), &got.from, &expected.from);
        c.follows(&format!("money[{i}].to"), &got.to, &expected.to);
        c.follows(&format!("money[{i}].orders_count"), &got.orders_count, &expected.orders_count);
        c.follows(&format!("money[{i}].order_lamps"), &got.order_lamps, &expected.order_lamps);
        c.equal(&format!("money[{i}].price"), got.price, expected.price);
    }
    let known = plan.classes.iter().all(|k| k.basis != PurchaseBasis::NotKnown);
    let lamps = plan.classes.iter().filter_map(|k| k.order_lamps).fold(0, u64::saturating_add);
    c.follows("order_lamps", &plan.order_lamps, &known.then_some(lamps));
    c.there("order_price", plan.order_price.is_some(), known, "there with the lamps to order");
    if let Some(price) = plan.order_price {
        c.equal("order_price", price, plan.classes.iter().filter_map(|k| k.order_price).sum());
    }
    c.follows("least_only_classes_count", &plan.least_only_classes_count, &least_only(&plan.classes));
    c.follows("notes", &plan.notes, &notes(&plan.classes));
}

fn class_agrees(c: &mut Checks, purchase: &ClassPurchase, class: &ClassResult, study: &Header) {
    c.follows("lamp_class", &purchase.lamp_class, &class.name);
    let basis = match (&class.stock, &class.bounds) {
        (Some(_), _) => PurchaseBasis::Forecast,
        (None, Some(_)) => PurchaseBasis::LowerBound,
        (None, None) => PurchaseBasis::NotKnown,
    };
    c.follows("basis", &purchase.basis, &basis);
    for (field, lamps) in [("box_lamps", purchase.box_lamps), ("minimum_order_lamps", purchase.minimum_order_lamps)] {
        c.need(field, lamps > 0, lamps, "1 or more");
    }
    let why = match basis {
        PurchaseBasis::Forecast => "",
        PurchaseBasis::LowerBound => super::bounds::LABEL,
        PurchaseBasis::NotKnown => &class.needs_not_known,
    };
    c.follows("why", &purchase.why.as_str(), &why);
    let known = basis != PurchaseBasis::NotKnown;
    c.there("now", purchase.now.is_some(), known, "there where the needs are known");
    c.there("last_order_on", purchase.last_order_on.is_some(), known, "there where the needs are known");
    let held = class.stock.as_ref().map(|s| {
        (s.lead_time_days, s.service_target_probability, s.on_hand_lamps, s.on_order_lamps, s.price_each, s.order_lamps)
    });
    let short = class.stock.as_ref().and_then(|s| {
        let there = s.on_hand_lamps.saturating_add(s.on_order_lamps);
        Some((s.level_lamps.saturating_sub(there), s.order_serves_lamps?))
    });
    let short_least =
        class.bounds.as_ref().and_then(|b| Some((b.spares.missing_lamps(), b.spares.order_serves_least_lamps?)));
    let not_served = short.or(short_least).map(|(short, served)| short.saturating_sub(served));
    let used = class.stock.as_ref().and_then(|s| s.used.as_ref()).map(UsedBeside::of);
    c.follows("used", &purchase.used, &used);
    c.follows("not_served_lamps", &purchase.not_served_lamps, &not_served);
    let held = held.or(class.bounds.as_ref().map(|b| &b.spares).map(|s| {
        let order = s.order_least_lamps;
        (s.lead_time_days, s.service_target_probability, s.on_hand_lamps, s.on_order_lamps, s.price_each, order)
    }));
    let now_lamps = purchase.now.as_ref().map_or(0, |o| o.order_lamps);
    if let Some((lead, target, on_hand, on_order, price, least)) = held {
        c.follows("lead_time_days", &purchase.lead_time_days, &lead);
        c.equal("service_target_probability", purchase.service_target_probability, target);
        c.follows("on_hand_lamps", &purchase.on_hand_lamps, &on_hand);
        c.follows("on_order_lamps", &purchase.on_order_lamps, &on_order);
        c.equal("price_each", purchase.price_each, price);
        if let Some(now) = &purchase.now {
            c.follows("now.least_lamps", &now.least_lamps, &least);
            c.follows("now.order_by", &now.order_by, &study.as_of);
        }
        let today = on_hand.saturating_add(on_order);
        let mut bought = today.saturating_add(now_lamps);
        let mut before = day_after(study.as_of, lead);
        for (i, order) in purchase.on_order_later.iter().enumerate() {
            c.inside(&format!("on_order_later[{i}]"), |c| {
                c.need("due_on", order.due_on > before, order.due_on, format!("after {before}"));
                c.need("lamps", order.lamps > 0, order.lamps, "1 or more");
            });
            before = before.max(order.due_on);
        }
        for (i, month) in purchase.months.iter().enumerate() {
            c.inside(&format!("months[{i}]"), |c| {
                let served = month.orders_serve_by_end_lamps;
                let there = "there where screens stop before an order comes";
                c.there("orders_serve_by_end_lamps", served.is_some(), not_served.is_some(), there);
                let told = month.from_last_buy_lamps.is_some();
                let there = "there with a last day of the maker";
                c.there("from_last_buy_lamps", told, purchase.maker_last_order_on.is_some(), there);
                bought = month_agrees(c, month, purchase, (today, bought), study);
            });
        }
    }
    for order in purchase.now.iter().chain(purchase.months.iter().filter_map(|m| m.order.as_ref())) {
        order_agrees(c, order, purchase);
        if let Some(last) = purchase.maker_last_order_on {
            c.need("orders.order_by", order.order_by <= last, order.order_by, format!("{last} or before"));
        }
    }
    let later: Vec<&PlannedOrder> = purchase.months.iter().filter_map(|m| m.order.as_ref()).collect();
    let lamps = later.iter().map(|o| o.order_lamps).fold(now_lamps, u64::saturating_add);
    c.follows("order_lamps", &purchase.order_lamps, &known.then_some(lamps));
    c.there("order_price", purchase.order_price.is_some(), known, "there with the lamps to order");
    if let Some(price) = purchase.order_price {
        c.equal("order_price", price, purchase.price_each * lamps as f64);
    }
    let months = class.demand.as_ref().map_or(0, |d| d.months.len());
    let months = class.bounds.as_ref().map_or(months, |b| b.months.len());
    c.entries("months", purchase.months.len(), months);
    if let Some(demand) = &class.demand {
        for (i, (got, expected)) in purchase.months.iter().zip(&demand.months).enumerate() {
            c.inside(&format!("months[{i}]"), |c| {
                c.follows("from", &got.from, &expected.from);
                c.follows("to", &got.to, &expected.to);
                c.follows("mean_lamps", &got.mean_lamps, &Some(expected.mean_lamps));
                c.follows("planned_mean_lamps", &got.planned_mean_lamps, &expected.planned_mean_lamps);
                c.follows("failure_mean_lamps", &got.failure_mean_lamps, &Some(expected.failure_mean_lamps));
                c.follows("p50_lamps", &got.p50_lamps, &Some(expected.p50_lamps));
                c.follows("p80_lamps", &got.p80_lamps, &Some(expected.p80_lamps));
                c.follows("p95_lamps", &got.p95_lamps, &Some(expected.p95_lamps));
            });
        }
    }
    if let Some(bounds) = &class.bounds {
        for (i, (got, expected)) in purchase.months.iter().zip(&bounds.months).enumerate() {
            c.inside(&format!("months[{i}]"), |c| {
                c.follows("from", &got.from, &expected.from);
                c.follows("to", &got.to, &expected.to);
                c.follows("planned_mean_lamps", &got.planned_mean_lamps, &(expected.planned_lamps as f64));
                c.follows("level_by_end_lamps", &got.level_by_end_lamps, &expected.least_by_end_lamps);
            });
        }
    }
    c.follows("sentence", &purchase.sentence, &sentence(purchase));
}

/// A month against what was bought before it; gives what is bought with it.
fn month_agrees(
    c: &mut Checks,
    month: &PurchaseMonth,
    purchase: &ClassPurchase,
    (today, before): (u64, u64),
    study: &Header,
) -> u64 {
    let mut bought = before;
    let later = purchase.later_by(month.to);
    let today = today.saturating_add(later);
    if let Some(order) = &month.order {
        let reached = reachable(month.level_by_end_lamps, today, month.orders_serve_by_end_lamps);
        let least = reached.saturating_sub(before.saturating_add(later));
        // What comes within the month may end a shortage that the order of the month ends before.
        if purchase.on_order_later.iter().any(|o| o.due_on >= month.from && o.due_on <= month.to) {
            c.need("order.least_lamps", order.least_lamps >= least, order.least_lamps, format!("{least} or more"));
        } else {
            c.follows("order.least_lamps", &order.least_lamps, &least);
        }
        bought = before.saturating_add(order.order_lamps);
    }
    let there = bought.saturating_add(later);
    let comes = (month.to - study.as_of).num_days() >= i64::from(purchase.lead_time_days);
    c.follows("lamps_by_end_lamps", &month.lamps_by_end_lamps, if comes { &there } else { &today });
    // What no order placed from today on can bring in time is too late; what none may be placed for comes from the last buy.
    let orders_come = (month.to - study.as_of).num_days() > i64::from(purchase.lead_time_days);
    let (late, by_last_buy) = missing(month, today, orders_come, purchase.maker_last_order_on.is_some());
    let until_then = purchase.now.as_ref().map_or(0, |now| until_order_comes(month, now, purchase.not_served_lamps));
    c.follows("too_late_lamps", &month.too_late_lamps, &late.max(until_then));
    let from_last_buy = month.from_last_buy_lamps.unwrap_or(0);
    c.follows("from_last_buy_lamps", &from_last_buy, &by_last_buy);
    let forecast = purchase.basis == PurchaseBasis::Forecast;
    let (enough, without) = (month.enough_by_end_probability, month.enough_without_orders_probability);
    c.there("enough_by_end_probability", enough.is_some(), forecast, "there with a forecast");
    c.there("enough_without_orders_probability", without.is_some(), forecast, "there with a forecast");
    c.share("enough_by_end_probability", enough);
    c.between("enough_without_orders_probability", without, 0.0, enough);
    if comes && forecast && from_last_buy == 0 && late == 0 {
        c.between("enough_by_end_probability", enough, purchase.service_target_probability, None);
    }
    bought
}

fn terms_of(purchase: &ClassPurchase) -> PurchaseTerms {
    PurchaseTerms {
        on_hand: purchase.on_hand_lamps,
        on_order: purchase.on_order_lamps,
        on_order_later: Vec::new(),
        lead_time_days: purchase.lead_time_days,
        service_target: purchase.service_target_probability,
        price_each: purchase.price_each,
        box_lamps: purchase.box_lamps,
        minimum_order_lamps: purchase.minimum_order_lamps,
    }
}

fn order_agrees(c: &mut Checks, order: &PlannedOrder, purchase: &ClassPurchase) {
    let days = (order.arrives_on - order.order_by).num_days();
    let lead = purchase.lead_time_days;
    c.need(
        "orders.arrives_on",
        days == i64::from(lead),
        days,
        format!("{} after it is placed", counted(u64::from(lead), "day")),
    );
    c.follows("orders.order_lamps", &order.order_lamps, &rounded(order.least_lamps, &terms_of(purchase)));
    c.equal("orders.price", order.price, purchase.price_each * order.order_lamps as f64);
}
