//! The purchase plan of a study: it agrees with what the study says elsewhere, and with the rooms asked by hand.

use relamp::base::sound::Checks;
use relamp::study::{PurchaseBasis, StudyResults};
use serde_json::{Value, json};

use crate::study_small::{Lamp, TERMS, lamp, run, small, wearing};

/// A fleet that wears, with many burning lamps of all ages.
fn fleet() -> Vec<Lamp<'static>> {
    let mut lamps = wearing();
    lamps.extend((0..24).map(|i| lamp(80.0 * f64::from(i) + 30.0, "")));
    lamps
}

#[test]
fn the_plan_of_a_class_agrees_with_its_stock_and_its_months() {
    let results = run(&small("plan-agrees", &fleet(), TERMS)).results;
    let (plan, class) = (results.purchase_plan.as_ref().unwrap(), &results.classes[0]);
    let (stock, demand) = (class.stock.as_ref().unwrap(), class.demand.as_ref().unwrap());
    let purchase = &plan.classes[0];
    assert_eq!((purchase.basis, purchase.lamp_class.as_str()), (PurchaseBasis::Forecast, "2.0 kW"));
    let now = purchase.now.as_ref().unwrap();
    // The first order is what the study advises to order, on its day and at its price.
    assert_eq!(
        (now.order_lamps, now.least_lamps, now.order_by),
        (stock.order_lamps, stock.order_lamps, results.study.as_of)
    );
    assert!(now.order_lamps > 0 && (now.price - stock.order_price).abs() < 1e-9);
    assert_eq!(results.orders.order_lamps, Some(now.order_lamps));
    for (month, needed) in purchase.months.iter().zip(&demand.months) {
        assert_eq!((month.from, month.to), (needed.from, needed.to));
        assert_eq!(month.mean_lamps, Some(needed.mean_lamps));
        assert_eq!((month.p50_lamps, month.p95_lamps), (Some(needed.p50_lamps), Some(needed.p95_lamps)));
        let parts = month.planned_mean_lamps + month.failure_mean_lamps.unwrap();
        assert!((parts - needed.mean_lamps).abs() < 1e-9);
        assert!(month.enough_by_end_probability.unwrap() >= 0.95);
    }
    // Both months end after the lead time of 21 days, so both orders can be in time.
    let last = purchase.months.last().unwrap();
    assert_eq!(last.lamps_by_end_lamps, 1 + purchase.order_lamps.unwrap());
    assert!(purchase.months.iter().any(|m| m.order.is_some()));
    for order in purchase.orders() {
        assert_eq!((order.arrives_on - order.order_by).num_days(), 21);
        assert!(order.order_by >= results.study.as_of && order.order_by <= purchase.last_order_on.unwrap());
    }
    let spent: f64 = plan.money.iter().map(|m| m.price).sum();
    assert!((spent - plan.order_price.unwrap()).abs() < 1e-9 && spent > 0.0);
    assert_eq!(plan.money.iter().map(|m| m.order_lamps).sum::<u64>(), plan.order_lamps.unwrap());
}

#[test]
fn boxes_and_smallest_orders_of_a_class_are_kept() {
    let terms = TERMS.replace("on_hand = 1", "on_hand = 1\nbox_lamps = 4\nminimum_order_lamps = 6");
    let results = run(&small("plan-boxes", &fleet(), &terms)).results;
    let purchase = &results.purchase_plan.as_ref().unwrap().classes[0];
    assert_eq!((purchase.box_lamps, purchase.minimum_order_lamps), (4, 6));
    assert!(purchase.orders().all(|o| o.order_lamps % 4 == 0 && o.order_lamps >= 8));
    let stock = results.classes[0].stock.as_ref().unwrap();
    assert_eq!(purchase.now.as_ref().unwrap().least_lamps, stock.order_lamps);
    // The stock list orders for its places in the same boxes.
    let depot = "[[depot]]\nname = \"Depot\"\nsites = [\"Site 01\"]\ndays_to_site = 3\n";
    let placed = run(&small("plan-boxes-placed", &fleet(), &format!("{terms}{depot}"))).results;
    Checks::of("placed", &placed).unwrap();
    let stores = &placed.stock_list.as_ref().unwrap().classes[0];
    let (boxed, buy) = (stores.boxed.unwrap(), stores.to_buy_lamps.unwrap());
    assert_eq!((boxed.box_lamps, boxed.order_lamps), (4, buy.max(6).div_ceil(4) * 4));
    assert!((boxed.order_price - 780.0 * boxed.order_lamps as f64).abs() < 1e-9);
    assert_eq!(stores.sentence.contains("the box or the smallest order"), boxed.order_lamps > buy);
    assert!(purchase.sentence.contains("the rest is the box or the smallest order"), "{}", purchase.sentence);
}

#[test]
fn a_fill_rate_stands_beside_the_chance_of_no_shortage() {
    let of = |name: &str, more: &str| {
        let terms = TERMS.replace("on_hand = 1", &format!("on_hand = 1\n{more}"));
        let results = run(&small(name, &fleet(), &terms)).results;
        Checks::of("results", &results).unwrap();
        results
    };
    let results = of("plan-fill", "fill_rate_target = 0.9");
    let stock = results.classes[0].stock.as_ref().unwrap();
    let rate = stock.fill_rate.as_ref().unwrap();
    // A stock of s is enough for a lamp more where s - 1 are enough for a lead time: P(N <= s - 1) >= 0.9.
    let other = of("plan-no-fill", "service_target = 0.9");
    let chance = other.classes[0].stock.as_ref().unwrap();
    assert!(chance.fill_rate.is_none());
    assert_eq!((rate.level_lamps, rate.order_lamps), (chance.level_lamps + 1, chance.order_lamps + 1));
    assert!((rate.at_level_probability - chance.service_at_level_probability).abs() < 1e-12);
    // The one lamp there is enough where none is needed.
    assert!(rate.today_probability <= stock.service_today_probability);
    assert!(rate.sentence.contains("fewer are needed over a lead time than are held"), "{}", rate.sentence);
    // The orders stay those of the chance of no shortage.
    let plain = of("plan-fill-plain", "");
    assert_eq!(plain.orders, results.orders);
    let mut changed = serde_json::to_value(&results).unwrap();
    *changed.pointer_mut("/classes/0/stock/fill_rate/order_lamps").unwrap() = json!(77);
    let changed: StudyResults = serde_json::from_value(changed).unwrap();
    assert!(Checks::of("results", &changed).unwrap_err().to_string().contains("fill_rate.order_lamps"));
}

#[test]
fn certainty_is_a_stated_outcome_of_a_study() {
    let terms = TERMS.replace("on_hand = 1", "on_hand = 1\nservice_target = 1");
    let results = run(&small("plan-certain", &fleet(), &terms)).results;
    Checks::of("results", &results).unwrap();
    let stock = results.classes[0].stock.as_ref().unwrap();
    assert_eq!(stock.service_target_probability, 1.0);
    assert!(stock.sentence.contains("less likely than 1e-12") && stock.service_at_level_probability > 1.0 - 1e-11);
    let purchase = &results.purchase_plan.as_ref().unwrap().classes[0];
    assert!(purchase.now.as_ref().unwrap().least_lamps == stock.order_lamps);
    assert!(purchase.months.iter().all(|m| m.enough_by_end_probability.unwrap() > 1.0 - 1e-11));
    let saved = serde_json::to_string(&results).unwrap();
    assert_eq!(serde_json::from_str::<StudyResults>(&saved).unwrap(), results);
}

#[test]
fn a_class_without_a_model_has_its_least_and_one_without_burning_lamps_is_not_known() {
    let lamps = [lamp(1930.0, ""), lamp(1800.0, ""), lamp(1500.0, ""), lamp(300.0, "")];
    let results = run(&small("plan-least", &lamps, TERMS)).results;
    let plan = results.purchase_plan.as_ref().unwrap();
    let purchase = &plan.classes[0];
    assert_eq!((purchase.basis, plan.least_only_classes_count), (PurchaseBasis::LowerBound, 1));
    assert!(purchase.why.contains("lower bound") && purchase.sentence.starts_with("at least: "));
    // Two are due within 13 days, one on hand: order one. The third reaches 2,000 h on day 43, after 430 h.
    assert_eq!(purchase.now.as_ref().unwrap().order_lamps, 1);
    let months: Vec<_> =
        purchase.months.iter().map(|m| (m.level_by_end_lamps, m.order.as_ref().map(|o| o.order_lamps))).collect();
    assert_eq!(months, [(2, None), (3, Some(1))]);
    // Looked at on days 28, 35, 42 and 49: the order is for day 43 or earlier, 21 days before.
    let by = purchase.months[1].order.as_ref().unwrap().order_by;
    assert_eq!((by - results.study.as_of).num_days(), 22);
    assert!(purchase.months.iter().all(|m| m.mean_lamps.is_none() && m.enough_by_end_probability.is_none()));

    let gone: Vec<Lamp<'_>> = wearing().into_iter().take(30).collect();
    let results = run(&small("plan-gone", &gone, TERMS)).results;
    let plan = results.purchase_plan.as_ref().unwrap();
    let purchase = &plan.classes[0];
    assert_eq!((purchase.basis, plan.order_lamps, plan.money.len()), (PurchaseBasis::NotKnown, None, 0));
    assert!(purchase.now.is_none() && purchase.sentence.starts_with("what to buy is not known"));
}

#[test]
fn an_edited_plan_is_refused_by_field_and_results_of_before_load() {
    let results = run(&small("plan-edited", &fleet(), TERMS)).results;
    assert!(Checks::of("results", &results).is_ok());
    let text = results.to_json().unwrap();
    let spoil = |at: &str, value: Value| {
        let mut all: Value = serde_json::from_str(&text).unwrap();
        *all.pointer_mut(&format!("/body/purchase_plan{at}")).unwrap() = value;
        StudyResults::from_json(&all.to_string()).unwrap_err().to_string()
    };
    for (at, value, field) in [
        ("/classes/0/now/least_lamps", json!(0), "purchase_plan.classes[0].now.least_lamps"),
        ("/classes/0/months/0/mean_lamps", json!(0.5), "purchase_plan.classes[0].months[0].mean_lamps"),
        ("/classes/0/months/1/lamps_by_end_lamps", json!(999), "purchase_plan.classes[0].months[1].lamps_by_end_lamps"),
        ("/classes/0/price_each", json!(1.0), "purchase_plan.classes[0].price_each"),
        ("/money/0/price", json!(1.0), "purchase_plan.money[0].price"),
        ("/order_lamps", json!(1), "purchase_plan.order_lamps"),
    ] {
        let said = spoil(at, value);
        assert!(said.contains(field), "{at}: {said}");
    }
    let mut before: Value = serde_json::from_str(&text).unwrap();
    before["body"].as_object_mut().unwrap().remove("purchase_plan");
    assert_eq!(StudyResults::from_json(&before.to_string()).unwrap().purchase_plan, None);
}
