//! Rules of ordering: service and least cost against published and independent values, edge cases and properties.

use std::time::Instant;

use proptest::prelude::*;
use relamp::demand::Count;
use relamp::stock::{
    LeadDemand, LeadTime, Needs, OrderTerms, PriceBreak, Programme, StockCosts, StockPlan, StockRule, StockService,
    best_emergency, best_order_up_to, best_reorder, emergency_service, service,
};
use serde_json::Value;

use crate::worlds::{close, number};

fn case(id: &str) -> Value {
    let all: Value = serde_json::from_str(include_str!("../data/stock_cases.json")).unwrap();
    all["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap().clone()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(number).collect()
}

fn poisson(mean: f64, days: f64) -> LeadDemand {
    LeadDemand::given(&Count::poisson(mean).unwrap(), &LeadTime::certain(days).unwrap()).unwrap()
}

fn reorder(base_stock: u64, quantity: u64) -> StockRule {
    StockRule::Reorder { base_stock, quantity }
}

fn of(rule: StockRule, demand: &LeadDemand) -> StockService {
    service(&rule, demand, None).unwrap()
}

fn costs(holding_a_year: f64, waiting_a_year: f64, per_order: f64) -> StockCosts {
    StockCosts { holding_a_year, dark_day: waiting_a_year / 365.25, per_order, ..StockCosts::at_price(0.0) }
}

#[test]
fn waiting_follows_the_table_down_to_the_last_digit_of_the_tail() {
    let stored = case("waiting_by_stock");
    for (mean, row) in numbers(&stored["means"]).iter().zip(stored["waiting"].as_array().unwrap()) {
        for (s, waiting) in (0..).zip(numbers(row)) {
            close(of(reorder(s, 1), &poisson(*mean, 10.0)).mean_waiting, waiting, 1e-11, 0.0);
        }
    }
}

#[test]
fn a_base_stock_gives_its_measures() {
    let stored = case("base_stock_measures");
    let found = of(reorder(6, 1), &poisson(4.0, 30.0));
    close(found.fill_rate, number(&stored["fill_rate"]), 1e-12, 0.0);
    close(found.ready_rate, number(&stored["fill_rate"]), 1e-12, 0.0);
    // Ordered when the sixth lamp goes, with five left: one below the base stock.
    close(found.no_stock_out_per_cycle, number(&stored["fill_rate"]), 1e-12, 0.0);
    close(found.no_screen_waiting, number(&stored["no_screen_waiting"]), 1e-12, 0.0);
    close(found.mean_waiting, number(&stored["waiting"]), 1e-12, 0.0);
    close(found.waiting_sd.powi(2), number(&stored["waiting_variance"]), 1e-11, 0.0);
    close(found.mean_on_hand, number(&stored["on_hand"]), 1e-12, 0.0);
    close(found.mean_wait_days.unwrap() / 30.0, number(&stored["wait_over_lead_time"]), 1e-12, 0.0);
    let stored = case("base_stock_table");
    let bases = [10_u64, 12, 15];
    let columns = ["chance_of", "order_point_cdf", "waiting"].map(|c| numbers(&stored[c]));
    for (i, base) in bases.into_iter().enumerate() {
        let found = of(reorder(base, 1), &poisson(10.0, 30.0));
        close(found.no_screen_waiting - found.ready_rate, columns[0][i], 1e-11, 0.0);
        close(found.no_screen_waiting, columns[1][i], 1e-12, 0.0);
        close(found.mean_waiting, columns[2][i], 1e-11, 0.0);
    }
    close(of(reorder(15, 1), &poisson(10.0, 30.0)).fill_rate, number(&stored["fill_rate_at_15"]), 1e-12, 0.0);
}

#[test]
fn an_order_point_with_a_quantity_gives_its_measures() {
    let stored = case("order_point_and_quantity");
    let needs = Needs::by_chance(14.0 / 365.0).unwrap();
    let demand = LeadDemand::new(&needs, &LeadTime::certain(45.0).unwrap(), 0.0).unwrap();
    close(demand.lead().mean(), number(&stored["mean"]), 1e-13, 0.0);
    let found = of(reorder(3, 4), &demand);
    assert_eq!(found.rule.order_point(), 2);
    close(found.fill_rate, number(&stored["fill_rate"]), 1e-11, 0.0);
    close(found.mean_waiting, number(&stored["waiting"]), 1e-11, 0.0);
    close(found.mean_on_hand, number(&stored["on_hand"]), 1e-12, 0.0);
    close(found.orders_a_year * 365.0 / 365.25, number(&stored["orders"]), 1e-12, 0.0);
    // An order point of 2 lasts a lead time with P(X <= 2).
    close(found.no_stock_out_per_cycle, Count::poisson(number(&stored["mean"])).unwrap().at_most(2), 1e-13, 0.0);
}

#[test]
fn needs_in_batches_give_their_measures() {
    let stored = case("batches");
    let needed = Count::negative_binomial(4.0, 2.0).unwrap();
    for (k, p) in numbers(&stored["pmf"]).iter().enumerate() {
        close(needed.probabilities()[k], *p, 1e-12, 0.0);
    }
    let demand = LeadDemand::given(&needed, &LeadTime::certain(9.0).unwrap()).unwrap();
    for (s, waiting) in (0..).zip(numbers(&stored["waiting"])) {
        close(of(reorder(s, 1), &demand).mean_waiting, waiting, 1e-12, 0.0);
    }
    assert_eq!(relamp::stock::level(&needed, 0.95, 0, 0).unwrap().level, stored["stock_for_95"].as_u64().unwrap());
    // A ratio that comes down to 1 comes down to chance.
    let (near, chance) = (Count::negative_binomial(4.0, 1.0 + 1e-9).unwrap(), Count::poisson(4.0).unwrap());
    close(near.more_than(9), chance.more_than(9), 1e-7, 0.0);
    assert_eq!(Count::negative_binomial(4.0, 1.0).unwrap(), chance);
    // Few lamps in large batches, and many: the mean and the variance come back.
    for (mean, ratio) in [(0.01, 50.0), (0.5, 1.2), (30.0, 4.0), (1e6, 3.0)] {
        let n = Count::negative_binomial(mean, ratio).unwrap();
        close(n.mean(), mean, 1e-10, 0.0);
        close(n.sd().powi(2), ratio * mean, 1e-8, 0.0);
    }
}

#[test]
fn a_list_of_lead_times_is_mixed() {
    let stored = case("lead_times");
    let options: Vec<_> =
        stored["options"].as_array().unwrap().iter().map(|o| (number(&o[0]), number(&o[1]))).collect();
    let lead = LeadTime::new(&options).unwrap();
    close(lead.mean_days(), 16.0, 1e-15, 0.0);
    let needs = Needs::by_chance(number(&stored["a_day"])).unwrap();
    let demand = LeadDemand::new(&needs, &lead, 0.0).unwrap();
    for row in stored["rows"].as_array().unwrap() {
        let found = of(reorder(row[0].as_u64().unwrap(), 1), &demand);
        close(found.fill_rate, number(&row[1]), 1e-12, 1e-14);
        close(found.mean_waiting, number(&row[2]), 1e-11, 0.0);
    }
    // More spread over the same mean makes more wait.
    let certain = LeadDemand::new(&needs, &LeadTime::certain(16.0).unwrap(), 0.0).unwrap();
    assert!(of(reorder(8, 1), &demand).mean_waiting > of(reorder(8, 1), &certain).mean_waiting);
}

#[test]
fn reviews_are_averaged_over_their_period() {
    let stored = case("reviewed");
    let needs = Needs::by_chance(number(&stored["a_day"])).unwrap();
    let lead = LeadTime::certain(number(&stored["lead_days"])).unwrap();
    let demand = LeadDemand::new(&needs, &lead, number(&stored["review_days"])).unwrap();
    for row in stored["rows"].as_array().unwrap() {
        let base = row["base_stock"].as_u64().unwrap();
        let up_to = StockRule::OrderUpTo { order_point: base.cast_signed() - 1, order_up_to: base };
        for found in [of(reorder(base, 1), &demand), of(up_to, &demand)] {
            close(found.mean_waiting, number(&row["waiting"]), 1e-11, 0.0);
            close(found.ready_rate, number(&row["ready"]), 1e-12, 0.0);
            close(found.no_screen_waiting, number(&row["none_waiting"]), 1e-12, 0.0);
            close(found.no_stock_out_per_cycle, number(&row["cycle"]), 1e-12, 0.0);
            // Lamps needed one at a time by chance meet the shelf as it is at any moment.
            close(found.fill_rate, found.ready_rate, 1e-11, 0.0);
            close(found.orders_a_year, 365.25 / 7.0 * (1.0 - (-0.31_f64 * 7.0).exp()), 1e-12, 0.0);
        }
    }
    // A review period that shrinks to nothing is a shelf that is watched.
    let watched = LeadDemand::new(&needs, &lead, 0.0).unwrap();
    let often = LeadDemand::new(&needs, &lead, 1e-7).unwrap();
    let (a, b) = (of(reorder(6, 3), &watched), of(reorder(6, 3), &often));
    close(a.mean_waiting, b.mean_waiting, 1e-7, 0.0);
    close(a.orders_a_year, b.orders_a_year, 1e-6, 0.0);
    // A period of years holds many standard deviations of needs and is still averaged right: the closed form is
    // (P(N(L + R) > k) - P(N(L) > k)) / (a R).
    let many = LeadDemand::new(&Needs::by_chance(2.0).unwrap(), &lead, 700.0).unwrap();
    let (early, late) = (Count::poisson(24.0).unwrap(), Count::poisson(1424.0).unwrap());
    for k in [3_u64, 20, 150, 700, 1400, 1500] {
        let exact = (late.more_than(k) - early.more_than(k)) / 1400.0;
        let found = many.moment().probabilities()[(k - many.moment().first()) as usize];
        close(found, exact, 1e-9, 1e-14);
    }
}

#[test]
fn levels_at_reviews_are_those_of_the_table() {
    for id in ["order_up_to_table", "order_up_to_weekly"] {
        let stored = case(id);
        for (mean, pair) in numbers(&stored["means"]).iter().zip(stored["pairs"].as_array().unwrap()) {
            let needs = Needs::by_chance(*mean).unwrap();
            let demand = LeadDemand::new(&needs, &LeadTime::certain(0.0).unwrap(), 1.0).unwrap();
            let demand = demand.judged_at_period_ends();
            let (h, b) = (number(&stored["holding"]) * 365.25, number(&stored["short"]) * 365.25);
            let plan = best_order_up_to(&demand, &costs(h, b, number(&stored["per_order"])), None).unwrap();
            let (order_point, order_up_to) = (pair[0].as_i64().unwrap(), pair[1].as_u64().unwrap());
            assert_eq!(plan.best.service.rule, StockRule::OrderUpTo { order_point, order_up_to });
            close(plan.best.total / 365.25, number(&pair[2]), 1e-10, 0.0);
        }
    }
}

/// The two figures for 20 lamps a day of the table above: 49.17 where each day is judged at its end, and 51.18 where the shelf
/// is judged at every moment of the day. Both from all pairs by sums written out here.
#[test]
fn judged_at_every_moment_or_at_the_ends_of_days_the_least_cost_differs_by_what_is_counted() {
    let poisson = |mean: f64| -> Vec<f64> {
        let mut each = vec![(-mean).exp()];
        (1..140).for_each(|k| each.push(each[k - 1] * mean / k as f64));
        each
    };
    // Mean cost of a day that begins with y lamps: 1 for each left, 9 for each short.
    let of_count = |y: i64, each: &[f64]| -> f64 {
        each.iter().zip(0_i64..).map(|(p, n)| p * if n <= y { (y - n) as f64 } else { 9.0 * (n - y) as f64 }).sum()
    };
    let day = poisson(20.0);
    // Means over the day at 400 middles of its parts.
    let parts: Vec<Vec<f64>> = (0..400).map(|i| poisson(20.0 * (f64::from(i) + 0.5) / 400.0)).collect();
    let at_end: Vec<f64> = (0..=75).map(|y| of_count(y, &day)).collect();
    let at_any: Vec<f64> = (0..=75).map(|y| parts.iter().map(|part| of_count(y, part)).sum::<f64>() / 400.0).collect();
    let mut visits = vec![0.0; 76];
    for j in 0..76 {
        let before: f64 = (1..=j).map(|i| day[i] * visits[j - i]).sum();
        visits[j] = (before + if j == 0 { 1.0 } else { 0.0 }) / (1.0 - day[0]);
    }
    let least = |cost: &[f64]| {
        let mut best = (f64::INFINITY, 0, 0);
        for level in 1..=75_usize {
            let (mut spent, mut days) = (64.0, 0.0);
            for j in 0..level {
                spent += visits[j] * cost[level - j];
                days += visits[j];
                if spent / days < best.0 {
                    best = (spent / days, level - j - 1, level);
                }
            }
        }
        best
    };
    let needs = Needs::by_chance(20.0).unwrap();
    let any = LeadDemand::new(&needs, &LeadTime::certain(0.0).unwrap(), 1.0).unwrap();
    let ends = any.clone().judged_at_period_ends();
    for (demand, cost, printed) in [(any, &at_any, 51.18), (ends, &at_end, 49.17)] {
        let plan = best_order_up_to(&demand, &costs(365.25, 9.0 * 365.25, 64.0), None).unwrap();
        let (by_hand, order_point, order_up_to) = least(cost);
        assert_eq!(
            plan.best.service.rule,
            StockRule::OrderUpTo { order_point: i64::try_from(order_point).unwrap(), order_up_to: order_up_to as u64 }
        );
        close(plan.best.total / 365.25, by_hand, 2e-6, 0.0);
        assert!((by_hand - printed).abs() < 0.005, "{by_hand}");
    }
}

#[test]
fn one_purchase_follows_the_critical_ratio() {
    let stored = case("one_purchase");
    let sales = numbers(&stored["weekly"]);
    let counts: Vec<f64> =
        (0..=22).map(|k| sales.iter().filter(|s| **s == f64::from(k)).count() as f64 / 52.0).collect();
    let sold = Count::from_probabilities(0, counts).unwrap();
    close(sold.mean(), number(&stored["weekly_mean"]), 1e-12, 0.0);
    close(sold.sd() * (52.0_f64 / 51.0).sqrt(), number(&stored["weekly_sd"]), 1e-12, 0.0);
    let best = |needed: &Count, left: f64, short: f64| {
        let demand = LeadDemand::given(needed, &LeadTime::certain(7.0).unwrap()).unwrap();
        best_reorder(&demand, &costs(left, short, 0.0), OrderTerms::default(), None).unwrap().best.service
    };
    let found = best(&sold, number(&stored["left_over"]), number(&stored["short"]));
    assert_eq!(found.rule, reorder(stored["quantity"].as_u64().unwrap(), 1));
    // A normal demand in whole lamps, rounded up.
    let normal = &stored["normal"];
    let (mean, sd) = (number(&normal["mean"]), number(&normal["sd"]));
    let cdf = |x: f64| relamp::base::math::special::ln_normal_cdf((x - mean) / sd).exp();
    // What lies below no lamp at all, 3e-7, stands at 0.
    let cells = (0..3000).map(|k| cdf(f64::from(k)) - if k == 0 { 0.0 } else { cdf(f64::from(k - 1)) }).collect();
    let needed = Count::from_probabilities(0, cells).unwrap();
    let found = best(&needed, number(&normal["left_over"]), number(&normal["short"]));
    assert_eq!(found.rule, reorder(number(&normal["quantity"]).ceil() as u64, 1));
    // Rounding up adds half a lamp to the mean, and a fifth of that to the lost sales beyond the ratio of 0.8.
    close(found.mean_waiting, number(&normal["lost_sales"]), 0.01, 0.0);
}

#[test]
fn the_best_pair_is_that_of_a_search_over_all_pairs() {
    let stored = case("best_pairs");
    for row in stored["rows"].as_array().unwrap() {
        let get = |name: &str| number(&row[name]);
        let needs = Needs::by_chance(get("a_year") / 365.25).unwrap();
        let demand = LeadDemand::new(&needs, &LeadTime::certain(get("lead_days")).unwrap(), 0.0).unwrap();
        let terms = OrderTerms { least_order: get("least_order") as u64, box_of: get("box_of") as u64 };
        let plan = best_reorder(&demand, &costs(get("holding"), get("waiting_a_year"), get("per_order")), terms, None)
            .unwrap();
        assert_eq!(plan.best.service.rule, reorder(get("base_stock") as u64, get("quantity") as u64), "{row}");
        close(plan.best.total, get("total"), 1e-10, 0.0);
        curve_is_sound(&plan);
    }
}

/// No point of the curves costs less than the best, and the best stands in both.
fn curve_is_sound(plan: &StockPlan) {
    for points in [&plan.by_stock, &plan.by_quantity] {
        assert!(points.len() > 2);
        assert!(points.iter().all(|p| p.total >= plan.best.total * (1.0 - 1e-12)));
        assert!(points.contains(&plan.best), "{:?}", plan.best);
    }
    let stocks = &plan.by_stock;
    for pair in stocks.windows(2) {
        assert!(pair[1].service.mean_waiting <= pair[0].service.mean_waiting);
        assert!(pair[1].stock_money >= pair[0].stock_money && pair[1].service.fill_rate >= pair[0].service.fill_rate);
    }
}

#[test]
fn levels_at_reviews_beat_every_other_pair() {
    // Every pair tried, with a lead time, batches, and the average over the period.
    for (a_day, ratio, lead, review, per_order) in [
        (0.4, 1.0, 10.0, 7.0, 80.0),
        (0.1, 1.0, 25.0, 14.0, 400.0),
        (0.6, 2.5, 5.0, 7.0, 30.0),
        (0.2, 1.0, 9.0, 30.0, 0.0),
    ] {
        let needs = Needs::in_batches(a_day, ratio).unwrap();
        let demand = LeadDemand::new(&needs, &LeadTime::certain(lead).unwrap(), review).unwrap();
        let costs = costs(90.0, 2500.0, per_order);
        let plan = best_order_up_to(&demand, &costs, None).unwrap();
        let mut least = (f64::INFINITY, 0, 0);
        for order_up_to in 0..40_u64 {
            for order_point in -1..order_up_to.cast_signed() {
                let found = of(StockRule::OrderUpTo { order_point, order_up_to }, &demand);
                let total = 90.0 * found.mean_on_hand + 2500.0 * found.mean_waiting + per_order * found.orders_a_year;
                if total < least.0 - 1e-9 {
                    least = (total, order_point, order_up_to);
                }
            }
        }
        close(plan.best.total, least.0, 1e-11, 0.0);
        assert_eq!(plan.best.service.rule, StockRule::OrderUpTo { order_point: least.1, order_up_to: least.2 });
        curve_is_sound(&plan);
    }
}

#[test]
fn a_lower_price_from_a_box_on_is_taken_where_it_pays() {
    let demand = poisson(3.0, 30.0);
    let prices =
        |second: f64| vec![PriceBreak { from_lamps: 1, price: 800.0 }, PriceBreak { from_lamps: 12, price: second }];
    let base = StockCosts { money_rate: 0.1, per_order: 60.0, dark_day: 400.0, ..StockCosts::at_price(800.0) };
    let best = |prices: Vec<PriceBreak>, terms: OrderTerms| {
        best_reorder(&demand, &StockCosts { prices, ..base.clone() }, terms, None).unwrap().best
    };
    let (small, large) = (best(prices(799.0), OrderTerms::default()), best(prices(760.0), OrderTerms::default()));
    let quantity = |point: &relamp::stock::StockPoint| match point.service.rule {
        StockRule::Reorder { quantity, .. } => quantity,
        StockRule::OrderUpTo { .. } => 0,
    };
    // 36.5 lamps a year at 40 less each save 1,461 a year, at 1 less 37.
    assert_eq!(
        (quantity(&small), small.price),
        (quantity(&best(vec![PriceBreak { from_lamps: 1, price: 800.0 }], OrderTerms::default())), 800.0)
    );
    assert_eq!((quantity(&large), large.price), (12, 760.0));
    // In boxes of 5 the lower price starts at 15.
    assert_eq!(quantity(&best(prices(760.0), OrderTerms { least_order: 1, box_of: 5 })), 15);
    close(large.total, large.holding + large.ordering + large.shortage + large.purchase, 1e-14, 0.0);
    close(large.purchase, demand.a_day() * 365.25 * 760.0, 1e-14, 0.0);
    close(large.holding, large.service.mean_on_hand * 76.0, 1e-14, 0.0);
    close(large.stock_money, large.service.mean_on_hand * 760.0, 1e-14, 0.0);
}

#[test]
fn lost_shows_are_hours_dark_over_hours_of_a_show() {
    let programme = Programme { hours_per_week: 63.0, show_hours: 2.25 };
    let found = service(&reorder(6, 1), &poisson(4.0, 30.0), Some(programme)).unwrap();
    // 28 shows a week for each screen that waits.
    close(found.dark_shows_a_year.unwrap(), found.mean_waiting * 28.0 * 365.25 / 7.0, 1e-14, 0.0);
    let with_shows = StockCosts { holding_a_year: 80.0, dark_show: 100.0, ..StockCosts::at_price(0.0) };
    let plan = best_reorder(&poisson(4.0, 30.0), &with_shows, OrderTerms::default(), Some(programme)).unwrap();
    close(plan.best.shortage, plan.best.service.dark_shows_a_year.unwrap() * 100.0, 1e-13, 0.0);
    let refused = best_reorder(&poisson(4.0, 30.0), &with_shows, OrderTerms::default(), None).unwrap_err();
    assert_eq!(refused.slug(), "stock.programme");
}

#[test]
fn transfers_follow_the_loss_formula() {
    let stored = case("transfers");
    let (needs, lead) = (Needs::by_chance(0.2).unwrap(), LeadTime::new(&[(5.0, 1.0), (15.0, 1.0)]).unwrap());
    close(needs.a_day * lead.mean_days(), number(&stored["load"]), 1e-15, 0.0);
    for (s, share) in (1..).zip(numbers(&stored["share"])) {
        let found = emergency_service(s, &needs, &lead).unwrap();
        close(found.emergency_share, share, 1e-13, 0.0);
        close(found.mean_on_hand + found.mean_on_order, s as f64, 1e-14, 0.0);
    }
    assert_eq!(emergency_service(0, &needs, &lead).unwrap().emergency_share, 1.0);
    let none = emergency_service(3, &Needs::by_chance(0.0).unwrap(), &lead).unwrap();
    assert_eq!((none.emergency_share, none.mean_on_hand), (0.0, 3.0));
    let idle = best_emergency(&Needs::by_chance(0.0).unwrap(), &lead, &costs(90.0, 0.0, 0.0), 300.0).unwrap();
    assert_eq!((idle.best.service.base_stock, idle.sentence.as_str()), (0, "hold no lamp; none is needed"));
    let plan = best_emergency(&needs, &lead, &costs(90.0, 0.0, 0.0), 300.0).unwrap();
    let cost = |s: u64| {
        let found = emergency_service(s, &needs, &lead).unwrap();
        90.0 * found.mean_on_hand + 300.0 * found.emergencies_a_year
    };
    let least = (0..40).min_by(|a, b| cost(*a).total_cmp(&cost(*b))).unwrap();
    assert_eq!(plan.best.service.base_stock, least);
    close(plan.best.total, cost(least), 1e-13, 0.0);
    let batches = Needs::in_batches(0.2, 2.0).unwrap();
    assert_eq!(emergency_service(1, &batches, &lead).unwrap_err().slug(), "stock.needs");
}

#[test]
fn nothing_needed_no_lead_time_and_a_million_lamps_are_stated_outcomes() {
    let (none, lead) = (Needs::by_chance(0.0).unwrap(), LeadTime::certain(500.0).unwrap());
    for review in [0.0, 7.0] {
        let demand = LeadDemand::new(&none, &lead, review).unwrap();
        let found = of(reorder(0, 1), &demand);
        assert_eq!((found.mean_waiting, found.mean_on_hand, found.no_screen_waiting), (0.0, 0.0, 1.0));
        assert_eq!((found.orders_a_year, found.mean_wait_days), (0.0, None));
        let plan = best_reorder(&demand, &costs(80.0, 9000.0, 50.0), OrderTerms::default(), None).unwrap();
        assert_eq!((plan.best.service.rule, plan.best.total), (reorder(0, 1), 0.0));
        assert!(plan.notes.iter().any(|n| n.contains("no lamp is needed")));
    }
    let demand = LeadDemand::new(&none, &lead, 7.0).unwrap();
    let plan = best_order_up_to(&demand, &costs(80.0, 9000.0, 50.0), None).unwrap();
    assert_eq!(plan.best.service.rule, StockRule::OrderUpTo { order_point: -1, order_up_to: 0 });
    // With no lead time a lamp comes as soon as it is ordered: nobody waits, and nothing need be held.
    let at_once = LeadDemand::new(&Needs::by_chance(0.02).unwrap(), &LeadTime::certain(0.0).unwrap(), 0.0).unwrap();
    let found = of(reorder(0, 1), &at_once);
    assert_eq!((found.mean_waiting, found.mean_wait_days, found.no_screen_waiting), (0.0, Some(0.0), 1.0));
    let plan = best_reorder(&at_once, &costs(80.0, 9000.0, 0.0), OrderTerms::default(), None).unwrap();
    assert_eq!(plan.best.service.rule, reorder(0, 1));
    let start = Instant::now();
    let million = poisson(1e6, 365.25);
    let found = of(reorder(1_001_645, 1), &million);
    close(found.no_screen_waiting, 0.950_037_326_545_216_9, 1e-9, 0.0);
    let plan = best_reorder(&million, &costs(5.0, 95.0, 0.0), OrderTerms::default(), None).unwrap();
    assert_eq!(plan.best.service.rule, reorder(1_001_645, 1));
    assert!(start.elapsed().as_secs_f64() < if cfg!(debug_assertions) { 5.0 } else { 1.0 });
    // Hardly any demand: one lamp for a target that a shelf without one misses.
    let hardly = of(reorder(0, 1), &poisson(1e-12, 10.0));
    close(hardly.mean_waiting, 1e-12, 1e-12, 0.0);
}

#[test]
fn what_is_no_rule_cost_or_time_is_refused_by_name() {
    let demand = poisson(4.0, 30.0);
    let slug = |rule: StockRule| service(&rule, &demand, None).unwrap_err();
    assert!(slug(reorder(3, 0)).to_string().starts_with("rule, column quantity: not a rule of ordering, got 0"));
    assert_eq!(slug(reorder(20_000_000, 1)).slug(), "stock.rule");
    assert_eq!(slug(StockRule::OrderUpTo { order_point: 1, order_up_to: 4 }).slug(), "stock.rule");
    let reviewed = LeadDemand::new(&Needs::by_chance(1.0).unwrap(), &LeadTime::certain(3.0).unwrap(), 7.0).unwrap();
    for (order_point, order_up_to) in [(-2, 3), (4, 4), (5, 4)] {
        let rule = StockRule::OrderUpTo { order_point, order_up_to };
        assert_eq!(service(&rule, &reviewed, None).unwrap_err().slug(), "stock.rule");
    }
    for bad in [-1.0, f64::NAN, f64::INFINITY, 8000.0] {
        let refused = LeadTime::new(&[(3.0, 1.0), (bad, 1.0)]).unwrap_err();
        assert!(refused.to_string().starts_with("lead_time, row 2, column days"), "{refused}");
        assert_eq!(
            LeadDemand::new(&Needs::by_chance(1.0).unwrap(), &LeadTime::certain(3.0).unwrap(), bad).unwrap_err().slug(),
            "stock.review"
        );
        if bad < 0.0 || bad.is_nan() {
            assert_eq!(Needs::by_chance(bad).unwrap_err().slug(), "stock.needs");
            assert_eq!(LeadTime::new(&[(3.0, bad)]).unwrap_err().slug(), "stock.lead_time");
        }
    }
    assert!(LeadTime::new(&[]).unwrap_err().to_string().contains("no lead time is given"));
    let good = costs(80.0, 900.0, 50.0);
    let refused = |costs: StockCosts, terms: OrderTerms| best_reorder(&demand, &costs, terms, None).unwrap_err();
    let all_bad = StockCosts { holding_a_year: f64::NAN, per_order: -1.0, dark_day: f64::INFINITY, ..good.clone() };
    let error = refused(all_bad, OrderTerms::default());
    assert_eq!(error.problems().len(), 3);
    assert!(error.to_string().contains("costs, column holding_a_year: not a cost, got NaN, expected 0 to 1e12"));
    for from in [vec![2], vec![1, 5, 5], vec![1, 5, 4], vec![]] {
        let prices = from.into_iter().map(|from_lamps| PriceBreak { from_lamps, price: 3.0 }).collect();
        assert_eq!(refused(StockCosts { prices, ..good.clone() }, OrderTerms::default()).slug(), "stock.price_breaks");
    }
    for terms in [OrderTerms { least_order: 0, box_of: 1 }, OrderTerms { least_order: 1, box_of: 0 }] {
        assert_eq!(refused(good.clone(), terms).slug(), "stock.order_terms");
    }
    assert_eq!(refused(costs(0.0, 900.0, 50.0), OrderTerms::default()).slug(), "stock.no_holding");
    let programme = Programme { hours_per_week: 169.0, show_hours: 2.0 };
    assert_eq!(service(&reorder(3, 1), &demand, Some(programme)).unwrap_err().slug(), "stock.programme");
}

#[test]
fn results_come_back_from_their_saved_form() {
    let demand = LeadDemand::new(&Needs::by_chance(0.3).unwrap(), &LeadTime::certain(9.0).unwrap(), 7.0).unwrap();
    let plan = best_order_up_to(&demand, &costs(80.0, 900.0, 50.0), None).unwrap();
    let text = serde_json::to_string(&plan).unwrap();
    assert_eq!(serde_json::from_str::<StockPlan>(&text).unwrap(), plan);
    assert!(relamp::base::sound::Checks::of("plan", &plan).is_ok());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]
    #[test]
    fn more_stock_never_lowers_service(
        a_day in 0.0..2.0_f64, ratio in 1.0..4.0_f64, lead in 0.0..60.0_f64, review in 0.0..30.0_f64,
        watched in any::<bool>(), base in 0..80_u64, quantity in 1..20_u64,
    ) {
        let review = if watched { 0.0 } else { review };
        let needs = Needs::in_batches(a_day, ratio).unwrap();
        let demand = LeadDemand::new(&needs, &LeadTime::new(&[(lead, 2.0), (2.0 * lead, 1.0)]).unwrap(), review).unwrap();
        let mut before = of(reorder(base, quantity), &demand);
        for more in [reorder(base + 1, quantity), reorder(base + 1, quantity + 1)] {
            let after = of(more, &demand);
            let pairs = [
                (before.fill_rate, after.fill_rate), (before.ready_rate, after.ready_rate),
                (before.no_screen_waiting, after.no_screen_waiting),
                (before.no_stock_out_per_cycle, after.no_stock_out_per_cycle),
                (before.mean_on_hand, after.mean_on_hand), (after.mean_waiting, before.mean_waiting),
            ];
            for (less, more) in pairs {
                prop_assert!(less <= more + 1e-12 * (1.0 + more), "{less} {more}");
            }
            // What is on hand and on order less what waits is the position.
            let position = after.mean_on_hand + demand.moment().mean() - after.mean_waiting;
            let StockRule::Reorder { base_stock, quantity } = after.rule else { panic!("another rule") };
            let expected = base_stock as f64 + (quantity as f64 - 1.0) / 2.0;
            prop_assert!((position - expected).abs() < 1e-9 * (1.0 + expected));
            before = after;
        }
    }

    #[test]
    fn the_order_brings_the_position_above_the_order_point(
        base in 0..30_u64, quantity in 1..9_u64, on_hand in 0..40_u64, on_order in 0..40_u64, waiting in 0..40_u64,
    ) {
        let rule = reorder(base, quantity);
        let order = rule.order(on_hand, on_order, waiting);
        let after = (on_hand + on_order + order).cast_signed() - waiting.cast_signed();
        prop_assert!(after > rule.order_point() && order.is_multiple_of(quantity));
        prop_assert!(order == 0 || after - quantity.cast_signed() <= rule.order_point());
    }
}

#[test]
fn a_lead_time_of_none_has_stated_outcomes() {
    let none = LeadTime::certain(0.0).unwrap();
    // Orders come at once: the mean a day is that of the first day, and no lamp is ever short.
    let at_once = LeadDemand::of_days(&none, 0.0, |days| Count::poisson(0.3 * days)).unwrap();
    close(at_once.a_day(), 0.3, 1e-12, 0.0);
    // The same but for the rounding of a mean that is summed from its chances.
    let rate = LeadDemand::new(&Needs::by_chance(0.3).unwrap(), &none, 0.0).unwrap();
    assert_eq!((at_once.lead(), at_once.protected()), (rate.lead(), rate.protected()));
    close(at_once.a_day(), rate.a_day(), 1e-12, 0.0);
    let served = service(&StockRule::Reorder { base_stock: 0, quantity: 1 }, &at_once, None).unwrap();
    assert_eq!((served.mean_waiting, served.mean_on_hand), (0.0, 0.0));
    let nothing = LeadDemand::given(&Count::certain(0), &none).unwrap();
    assert_eq!((nothing.a_day(), nothing.lead().last()), (0.0, 0));
    let error = LeadDemand::given(&Count::poisson(2.0).unwrap(), &none).unwrap_err();
    assert_eq!(error.slug(), "stock.lead_time");
}
