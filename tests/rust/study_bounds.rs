//! Classes whose records support no model, and counts of due lamps by the age that each is held to.

use relamp::Run;
use relamp::demand::Count;
use relamp::fit::{FitOptions, Termination, fit_known_shape};
use relamp::lives::{LifeOptions, from_records};
use relamp::study::{Status, Study};

use crate::study_small::{TERMS, lamp, run, small, wearing};

const LABEL: &str = "lower bound: planned changes only, not supported by these records";

#[test]
fn a_class_without_a_model_says_how_many_lamps_its_plan_needs() {
    // Read a week before the as-of date at 10 h a day: 70 h older today. Today's rule is 2,000 h.
    let lamps = [lamp(1930.0, ""), lamp(1800.0, ""), lamp(1500.0, ""), lamp(300.0, "")];
    let path = small("bounds-plan", &lamps, TERMS);
    let results = run(&path).results;
    let class = &results.classes[0];
    assert_eq!(class.status, Status::NotSupported);
    assert!(class.demand.is_none() && class.stock.is_none());
    let bounds = class.bounds.as_ref().unwrap();
    assert_eq!(bounds.label, LABEL);
    assert_eq!((bounds.planned_age_hours, bounds.running_lamps_count), (2000.0, 4));
    // Due today; 130 h left, 13 days; 430 h left, 43 days; 1,630 h left, 163 days. Two months are 608.75 h.
    let months: Vec<(u64, u64)> = bounds.months.iter().map(|m| (m.planned_lamps, m.least_by_end_lamps)).collect();
    assert_eq!(months, [(2, 2), (1, 3)]);
    let spares = &bounds.spares;
    assert_eq!((spares.least_lamps, spares.order_least_lamps, spares.order_least_price), (2, 1, 780.0));
    assert!(bounds.sentence.contains("at least 3 lamps in the coming 2 months and 2 lamps over the lead time"));
    assert_eq!((class.due.past_advised_age_lamps_count, class.due.past_maker_limit_lamps_count), (1, 0));
    // The rate is the bound of a fit of known shape 1, where no failure is known to an interval only.
    let reading = Study::open(&path).unwrap().read(&Run::new()).unwrap();
    let (tally, _) = from_records(&reading.lives, &reading.spells, &LifeOptions::default()).unwrap();
    let known = fit_known_shape(&tally, 1.0, 0.95, Termination::Time, &FitOptions::default(), &Run::new()).unwrap();
    let rate = bounds.high_rate_per_1000_hours.unwrap();
    assert!((rate / (1000.0 / known.scale_low.unwrap()) - 1.0).abs() < 1e-12);
    assert!((rate - 2_995.732_273_554 / 5_530.0).abs() < 1e-9);
    for m in &bounds.months {
        assert!(m.high_rate_by_end_lamps.unwrap() > m.least_by_end_lamps);
    }
    assert!(spares.high_rate_level_lamps.unwrap() > spares.least_lamps);
}

#[test]
fn at_the_highest_even_rate_young_lamps_fail_as_a_poisson_count() {
    // 12 lamps that no plan reaches within two months: changes then come from failures alone, at an even rate.
    let lamps: Vec<_> = (0..12).map(|i| lamp(300.0 + 50.0 * f64::from(i), "")).collect();
    let bounds = run(&small("bounds-rate", &lamps, TERMS)).results.classes[0].bounds.clone().unwrap();
    let rate = 2.995_732_273_554 / 6900.0;
    for (m, found) in bounds.months.iter().enumerate() {
        let hours = 12.0 * 10.0 * 30.4375 * (m + 1) as f64;
        let count = Count::poisson(rate * hours).unwrap();
        assert_eq!((found.planned_lamps, found.least_by_end_lamps), (0, 0));
        assert_eq!(found.high_rate_by_end_lamps, Some(count.quantile(0.95).unwrap()));
    }
    assert_eq!((bounds.spares.least_lamps, bounds.spares.order_least_lamps), (0, 0));
    let level = Count::poisson(rate * 12.0 * 10.0 * 21.0).unwrap().quantile(0.95).unwrap();
    assert_eq!(bounds.spares.high_rate_level_lamps, Some(level));
}

#[test]
fn a_class_with_a_forecast_has_no_bounds_and_one_without_hours_has_no_upper_side() {
    let second = format!("{TERMS}\n[[class]]\nname = \"3.0 kW\"\n{TERMS}");
    let results = run(&small("bounds-none", &wearing(), &second)).results;
    assert!(results.classes[0].bounds.is_none() && results.classes[0].demand.is_some());
    let bounds = results.classes[1].bounds.as_ref().unwrap();
    assert_eq!((bounds.running_lamps_count, bounds.high_rate_per_1000_hours), (0, None));
    assert!(bounds.months.iter().all(|m| m.least_by_end_lamps == 0 && m.high_rate_by_end_lamps.is_none()));
}

#[test]
fn a_limit_of_ones_own_above_the_makers_gives_two_counts_by_name() {
    let mut lamps = wearing();
    lamps.extend([lamp(2500.0, ""), lamp(2641.5, ""), lamp(2950.0, ""), lamp(2460.0, "")]);
    let own = TERMS.replace("price =", "limit_hours = 2900.0\nlimit_reason = \"trial\"\nprice =");
    let results = run(&small("bounds-own", &lamps, &own)).results;
    let class = &results.classes[0];
    assert_eq!(results.overdue.at_limit.len(), 3);
    assert_eq!((class.due.past_maker_limit_lamps_count, class.due.past_study_limit_lamps_count), (3, 1));
    let said = class.warnings.iter().find(|w| w.contains("below the study's own")).unwrap();
    assert!(said.starts_with("2 lamps stand at or past the maker's limit of 2,500 h"), "{said}");
    // The forecast counts by the advised age: one count, in both places.
    let demand = class.demand.as_ref().unwrap();
    assert_eq!(
        demand.due_at_planned_age_lamps_count,
        class.due.past_advised_age_lamps_count + class.due.unknown_age_lamps_count
    );
    // With the maker's limit alone both counts agree and nothing is said.
    let class = &run(&small("bounds-makers", &lamps, TERMS)).results.classes[0];
    assert_eq!((class.due.past_maker_limit_lamps_count, class.due.past_study_limit_lamps_count), (3, 3));
    assert!(!class.warnings.iter().any(|w| w.contains("the study's own")));
}

#[test]
fn a_saving_is_settled_where_its_interval_does_not_hold_zero() {
    // Today's rule at 300 h wastes most of each lamp: no draw finds it the cheaper.
    let early = TERMS.replace("todays_rule_hours = 2000.0", "todays_rule_hours = 300.0");
    let policy = run(&small("settled", &wearing(), &early)).results.classes[0].policy.clone().unwrap();
    assert!(
        policy.saving_against_today_interval_per_1000_hours.low.unwrap() > 0.0 && policy.saving_settled == Some(true)
    );
    let best = format!("todays_rule_hours = {:.0}", policy.planned_age_hours + 40.0);
    let near = TERMS.replace("todays_rule_hours = 2000.0", &best);
    let policy = run(&small("not-settled", &wearing(), &near)).results.classes[0].policy.clone().unwrap();
    let saving = &policy.saving_against_today_interval_per_1000_hours;
    assert!(saving.low.unwrap() < 0.0 && saving.high.unwrap() > 0.0, "{saving:?}");
    assert_eq!(policy.saving_settled, Some(false));
}

#[test]
fn many_rows_set_aside_are_warned_of_and_orders_are_summed() {
    let with_bad = |bad: usize, name: &str| {
        let mut lamps = wearing();
        lamps.extend((0..bad).map(|_| lamp(-5.0, "planned")));
        run(&small(name, &lamps, TERMS)).results
    };
    // 8 of 40 rows are a fifth, which is not yet more than a fifth.
    assert_eq!(with_bad(8, "aside-fifth").ledger.warning, "");
    let results = with_bad(9, "aside-more");
    assert_eq!((results.ledger.set_aside_count, results.ledger.rows_count), (9, 41));
    assert!(results.ledger.warning.starts_with("9 of 41 rows were set aside"), "{}", results.ledger.warning);
    let stock = results.classes[0].stock.as_ref().unwrap();
    assert_eq!((results.orders.order_lamps, results.orders.least_only_classes_count), (Some(stock.order_lamps), 0));
    // A class without a model brings its lower bound: one lamp is due and none is on the shelf.
    let empty = TERMS.replace("on_hand = 1\n", "");
    let results = run(&small("orders-least", &[lamp(1990.0, ""), lamp(300.0, "")], &empty)).results;
    let orders = &results.orders;
    assert_eq!((orders.order_lamps, orders.order_price, orders.least_only_classes_count), (Some(1), Some(780.0), 1));
}
