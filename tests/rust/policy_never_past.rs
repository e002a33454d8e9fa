//! No age of any answer over draws passes the limit, nor the records without a reason: random worlds, limits and ends.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::sound::Checks;
use relamp::empirical::RemovalOptions;
use relamp::family::family;
use relamp::fit::{DialOptions, PairOptions, WIDEST_RATIO, compare_pair, removal_dial};
use relamp::lives::{Rows, Tally};
use relamp::policy::{
    AgeOptions, Objective, PairCostOptions, Reach, RecordsAhead, ScreenAhead, SiteTerms, VisitTerms, best_visit_age,
    compare_ages, compare_pair_costs, cost_curve, dial_planned_age, endings_by_age, horizon_costs, life_bars,
    objective_curve, planned_age, planned_age_interval, records_value, site_costs, visit_rule_cost, warranty_value,
};
use relamp::records::{Column, Ending, Values};
use relamp::terms::{Costs, DarkMinutes, Discount, Warranty};

use crate::worlds::{Drawn, limit, series};

fn up_to(oldest: Option<f64>) -> AgeOptions {
    AgeOptions { oldest_at_risk_hours: oldest, ..AgeOptions::default() }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]
    /// Whatever prices an age refuses one past the limit by name, in random worlds and under every objective; what finds an age stays
    /// under its ceiling.
    #[test]
    fn no_age_past_the_limit_is_priced(
        shapes in (0.6..6.0_f64, 0.6..6.0_f64), scales in (300.0..6000.0_f64, 300.0..6000.0_f64), planned in 200.0..2000.0_f64,
        fails in (2100.0..20_000.0_f64, 2100.0..20_000.0_f64), hours in 20.5..4000.0_f64, past in 1e-12..0.5_f64,
        oldest in prop::option::of(20.5..4000.0_f64), rate in 1e-6..1e-3_f64,
    ) {
        let mut w = series(planned, &[(Ending::Burst, shapes.0, scales.0, fails.0), (Ending::Dim, shapes.1, scales.1, fails.1)]);
        w.costs = w.costs.with_warranty(Warranty::pro_rata(150.0, 700.0, [Ending::Burst]).unwrap()).unwrap();
        let top = limit(hours);
        let late = (hours * (1.0 + past)).max(hours.next_up());
        let dark = DarkMinutes::new(45.0, [(Ending::Burst, 300.0), (Ending::Dim, 90.0)]).unwrap();
        let objectives =
            [Objective::CostPerHour, Objective::DiscountedCost(Discount::per_hour(rate).unwrap()), Objective::DarkMinutes(dark)];
        let terms = VisitTerms { mean_hours_between_visits: 0.3 * hours, visit_cost: 100.0, even: false };
        let site = SiteTerms { lamps: 3, visit_cost: 100.0 };
        let mut slugs = vec![
            endings_by_age(&w, &[hours, late], &top).unwrap_err().slug(),
            cost_curve(&w, &[hours, late], &top).unwrap_err().slug(),
            horizon_costs(&w, 3.0 * hours, 0.0, &[late], &top).unwrap_err().slug(),
            visit_rule_cost(&w, &terms, 0.5 * hours, late, &top).unwrap_err().slug(),
            visit_rule_cost(&w, &VisitTerms { even: true, ..terms }, 0.5 * hours, late, &top).unwrap_err().slug(),
            best_visit_age(&w, &terms, late, &top, &Reach::default()).unwrap_err().slug(),
            site_costs(&w, &site, &[late], &top).unwrap_err().slug(),
            warranty_value(&w, late, &top).unwrap_err().slug(),
        ];
        let ceiling = oldest.map_or(hours, |o| o.min(hours));
        for objective in objectives {
            slugs.push(objective_curve(&w, &objective, &[late], &top).unwrap_err().slug());
            let options = AgeOptions { objective, ..up_to(oldest) };
            let best = planned_age(&w, &top, &options).unwrap();
            Checks::of("best", &best).unwrap();
            let ends = best.near_best.iter().flat_map(|b| [b.from_hours, b.to_hours]);
            prop_assert!([best.age_hours, best.optimum_hours].into_iter().chain(ends).all(|a| a <= ceiling), "{best:?}");
        }
        prop_assert!(slugs.iter().all(|slug| *slug == "policy.age_past_limit"), "{slugs:?}");
    }
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
