//! No age of any answer over draws passes the limit, nor the records without a reason: random worlds, limits and ends.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::sound::Checks;
use relamp::empirical::RemovalOptions;
use relamp::family::family;
use relamp::fit::{DialOptions, PairOptions, WIDEST_RATIO, compare_pair, removal_dial};
use relamp::lives::{Rows, Tally};
use relamp::policy::{
    AgeOptions, Objective, PairCostOptions, RecordsAhead, ScreenAhead, compare_ages, compare_pair_costs,
    dial_planned_age, life_bars, planned_age_interval, records_value,
};
use relamp::records::{Column, Ending, Values};
use relamp::terms::Costs;

use crate::worlds::{Drawn, limit};

fn up_to(oldest: Option<f64>) -> AgeOptions {
    AgeOptions { oldest_at_risk_hours: oldest, ..AgeOptions::default() }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, ..ProptestConfig::default() })]
    #[test]
    fn no_answer_over_draws_passes_its_ceiling(
        shape in 0.7..5.0_f64, scale in 200.0..5000.0_f64, spread in 0.05..1.0_f64, ratio in 1.1..40.0_f64,
        hours in 20.5..4000.0_f64, oldest in prop::option::of(20.5..4000.0_f64), share in 0.1..1.0_f64,
    ) {
        let draws = Drawn { shape, scale, spread, ratio, draws: 24 };
        let (top, options) = (limit(hours), up_to(oldest));
        let ceiling = oldest.map_or(hours, |o| o.min(hours));
        let interval = planned_age_interval(&draws, &top, &options, 0.9, &Run::new()).unwrap();
        Checks::of("interval", &interval).unwrap();
        prop_assert!(interval.age_hours.low <= interval.age_hours.high && interval.age_hours.high <= ceiling);

        let bars = life_bars(&draws, &top, &options, 0.9, &Run::new()).unwrap();
        let ages = bars.bars.iter().map(|b| b.interval.age_hours.high).chain([bars.together.age_hours.high, bars.planned.age_hours]);
        prop_assert!(ages.into_iter().all(|a| a <= ceiling));

        let compared = compare_ages(&draws, &Objective::CostPerHour, [share * hours, hours], &top, 0.9, &Run::new()).unwrap();
        prop_assert!(compared.ages_hours.iter().all(|a| *a <= hours));
        let past = compare_ages(&draws, &Objective::CostPerHour, [share * hours, hours.next_up()], &top, 0.9, &Run::new());
        prop_assert_eq!(past.unwrap_err().slug(), "policy.age_past_limit");

        let screens = vec![ScreenAhead { age_hours: Some(share * hours), hours: 300.0 }; 3];
        let ahead = RecordsAhead { screens, rule_hours: Some(share * hours), plays: 1, seed: 4 };
        let late = RecordsAhead { rule_hours: Some(hours.next_up()), ..ahead.clone() };
        let refused = records_value(&draws, &top, &options, &late, &Run::new()).unwrap_err();
        prop_assert_eq!(refused.slug(), "policy.age_past_limit");
        // Refusals are about what the draws can tell, never about an age past the limit.
        match records_value(&draws, &top, &options, &ahead, &Run::new()) {
            Ok(value) => {
                Checks::of("value", &value).unwrap();
                prop_assert!(value.rule_hours <= hours && value.today_hours <= ceiling && value.later_hours.high <= ceiling, "{value:?}");
            }
            Err(error) => prop_assert!(error.slug() != "policy.age_past_limit", "{error}"),
        }
    }

    #[test]
    fn no_planned_age_of_a_dial_or_a_pair_passes_its_ceiling(
        hours in 150.5..4000.0_f64, oldest in prop::option::of(150.5..4000.0_f64), burst in 1000.0..30_000.0_f64,
    ) {
        let low: Vec<f64> = (1..=40).map(|i| 200.0 + 60.0 * f64::from(i)).collect();
        let high = low.iter().enumerate().map(|(i, a)| if i % 2 == 0 { *a } else { f64::INFINITY }).collect();
        let ending = (0..40).map(|i| if i % 2 == 0 { Ending::Burst } else { Ending::Dim }).collect();
        let rows = Rows { low: low.clone(), high, ending: Some(ending), ..Rows::default() };
        let (tally, _) = Tally::from_rows(&rows).unwrap();
        let removal = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
        let asked = DialOptions { removal, taus: vec![0.0, 0.5], replicates: 20, ..DialOptions::default() };
        let dial = removal_dial(family("weibull").unwrap(), &tally, &asked, &Run::new()).unwrap();
        let costs = Costs::new(950.0, [(Ending::Burst, burst), (Ending::Dim, burst)]).unwrap();
        let (top, options) = (limit(hours), up_to(oldest));
        let found = dial_planned_age(&dial, &costs, &top, &options, 0.9, (0.0, 0.5), WIDEST_RATIO, &Run::new()).unwrap();
        let ceiling = hours.min(oldest.unwrap_or(dial.facts().oldest_at_risk_hours));
        prop_assert!(found.estimate.iter().all(|a| *a <= ceiling), "{found:?}");
        prop_assert!(found.high.iter().flatten().all(|a| *a <= ceiling), "{found:?}");

        let name = |i: usize| if i % 4 < 2 { "north" } else { "south" };
        let column = Column { name: "supplier".into(), values: Values::Text((0..40).map(|i| Some(name(i).into())).collect()) };
        let failed = Rows { low: low.clone(), high: low, ending: Some(vec![Ending::Burst; 40]), ..Rows::default() };
        let (pairs, _) = Tally::from_rows(&failed.with_covariates(&[column]).unwrap()).unwrap();
        let options = PairOptions { replicates: 100, ..PairOptions::default() };
        let fitted = compare_pair(family("weibull").unwrap(), &pairs, "supplier", ["north", "south"], &options, &Run::new()).unwrap();
        let cost = compare_pair_costs(&fitted, [&costs, &costs], [&top, &top], &PairCostOptions::default(), &Run::new()).unwrap();
        Checks::of("pair", &cost).unwrap();
        prop_assert!(cost.costs.iter().all(|c| c.age_hours <= hours), "{cost:?}");
    }
}
