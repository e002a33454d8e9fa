//! Stock levels against stored values, edge cases and properties.

use proptest::prelude::*;
use relamp::demand::{Count, Horizon, SocketToday, forecast};
use relamp::family::Weibull;
use relamp::stock::{StockAdvice, StockVerdict, level};

use crate::worlds::{case, close, limit, number, world};

#[test]
fn poisson_service_measures_are_met() {
    let stored = case("poisson_service_measures");
    let outputs = &stored["outputs"];
    let needed = Count::poisson(4.0).unwrap();
    close(needed.at_most(6), number(&outputs["P_no_backorder"]), 1e-12, 0.0);
    close(needed.at_most(5), number(&outputs["fill_rate"]), 1e-12, 0.0);
    close(needed.expected_above(6), number(&outputs["EBO"]), 1e-12, 0.0);
    let advice = level(&needed, 0.88, 6, 0).unwrap();
    assert_eq!((advice.level, advice.order, advice.verdict), (6, 0, StockVerdict::Enough));
    close(advice.expected_short_at_level, number(&outputs["EBO"]), 1e-12, 0.0);
}

#[test]
fn a_million_lamps_and_hardly_any() {
    let stored = case("hc-sp-003");
    let needed = Count::poisson(1e6).unwrap();
    for (i, target) in stored["input"]["targets"].as_array().unwrap().iter().enumerate() {
        let advice = level(&needed, number(target), 0, 0).unwrap();
        assert_eq!(advice.level, stored["expect"]["stock"][i].as_u64().unwrap());
        close(advice.service_at_level, number(&stored["expect"]["achieved"][i]), 1e-9, 0.0);
    }
    let stored = case("hc-sp-008");
    let needed = Count::poisson(number(&stored["input"]["mean_demand"])).unwrap();
    for (i, target) in stored["input"]["targets"].as_array().unwrap().iter().enumerate() {
        let advice = level(&needed, number(target), 0, 0).unwrap();
        assert_eq!(advice.level, stored["expect"]["stock"][i].as_u64().unwrap());
    }
}

#[test]
fn no_lead_time_and_no_demand_need_no_stock() {
    let stored = case("hc-sp-001");
    for (i, item) in stored["input"]["items"].as_array().unwrap().iter().enumerate() {
        let mean = number(&item["rate"]) * number(&item["lead_time"]);
        let advice = level(&Count::poisson(mean).unwrap(), number(&item["target"]), 0, 0).unwrap();
        assert_eq!(advice.level, stored["expect"]["stock"][i].as_u64().unwrap());
        assert_eq!((advice.verdict, advice.service_today), (StockVerdict::NothingNeeded, 1.0));
    }
    let w = world(Weibull { shape: 3.0, scale: 1500.0 }, 1.0, 5.0);
    let lamps = [SocketToday { age_hours: Some(900.0), hours_per_week: 72.0 }];
    let none = forecast(&lamps, &w, 1500.0, &limit(1500.0), Horizon::days(0.0)).unwrap();
    assert_eq!(level(&none.periods[0].needed, 0.99, 0, 0).unwrap().level, 0);
}

#[test]
fn certainty_is_a_stated_outcome_and_other_targets_are_refused() {
    let needed = Count::poisson(2.0).unwrap();
    let advice = level(&needed, 1.0, 1, 2).unwrap();
    assert_eq!(advice.verdict, StockVerdict::CertaintyAsked);
    assert!(advice.sentence.contains("no stock below the most that can be needed makes"), "{}", advice.sentence);
    assert!(needed.more_than(advice.level) <= 1e-12 && needed.more_than(advice.level - 1) > 1e-12);
    for target in [0.0, -0.1, 1.1, f64::NAN] {
        assert_eq!(level(&needed, target, 0, 0).unwrap_err().slug(), "stock.service_target");
    }
    let text = serde_json::to_string(&advice).unwrap();
    assert_eq!(serde_json::from_str::<StockAdvice>(&text).unwrap(), advice);
}

#[test]
fn certainty_is_had_where_the_number_needed_has_a_bound() {
    // Ten lamps that are each needed or not, by two chances: ten are enough for certain.
    let bounded = Count::of_chances(&[0.9; 10]).unwrap();
    let advice = level(&bounded, 1.0, 3, 2).unwrap();
    assert_eq!((advice.verdict, advice.level, advice.order), (StockVerdict::Certain, 10, 5));
    assert_eq!((advice.service_at_level, advice.shortage_chance_at_level), (1.0, 0.0));
    assert_eq!(advice.sentence, "hold 10 lamps: no more can be needed; order 5 (3 on hand and 2 on order)");
    relamp::base::sound::Checks::of("advice", &advice).unwrap();
    // Where all ten at once are as unlikely as 1e-20, fewer leave less than 1e-12.
    let rare = level(&Count::of_chances(&[0.01; 10]).unwrap(), 1.0, 0, 0).unwrap();
    assert!(rare.verdict == StockVerdict::CertaintyAsked && rare.level < 10 && rare.shortage_chance_at_level <= 1e-12);
    // No lamp needed stays its own outcome.
    assert_eq!(level(&Count::certain(0), 1.0, 0, 0).unwrap().verdict, StockVerdict::NothingNeeded);
}

#[test]
fn the_age_based_level_is_below_the_poisson_one() {
    // Stored: 5 lamps where a Poisson count of equal mean asks for 6.
    let stored = case("poisson_binomial_demand");
    let chances: Vec<f64> = stored["outputs"]["p"].as_array().unwrap().iter().map(number).collect();
    let needed = Count::of_chances(&chances).unwrap();
    assert_eq!(level(&needed, 0.95, 0, 0).unwrap().level, 5);
    assert_eq!(level(&needed, 0.99, 2, 1).unwrap().order, 3);
    assert_eq!(level(&Count::poisson(needed.mean()).unwrap(), 0.95, 0, 0).unwrap().level, 6);
}

proptest! {
    #[test]
    fn more_stock_never_lowers_service_and_the_level_is_least(
        chances in proptest::collection::vec(0.0..=1.0_f64, 0..40),
        target in 0.01..0.9999_f64,
        shelf in 0..60_u64,
    ) {
        let needed = Count::of_chances(&chances).unwrap();
        let advice = level(&needed, target, shelf, 3).unwrap();
        prop_assert!(advice.shortage_chance_at_level <= 1.0 - target);
        if advice.level > 0 {
            prop_assert!(needed.more_than(advice.level - 1) > 1.0 - target);
        }
        prop_assert_eq!(advice.order, advice.level.saturating_sub(shelf + 3));
        let more = level(&needed, target, shelf + 1, 3).unwrap();
        prop_assert!(more.service_today >= advice.service_today && more.order <= advice.order);
        prop_assert!(more.expected_short_today <= advice.expected_short_today);
        prop_assert!(level(&needed, f64::midpoint(target, 1.0), shelf, 3).unwrap().level >= advice.level);
    }
}
