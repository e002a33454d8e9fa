//! Named sets of prices, ranges of what is set beside the costs, and how far removals must depend on condition.

use proptest::prelude::*;
use relamp::base::sound::Checks;
use relamp::empirical::RemovalOptions;
use relamp::family::{Weibull, family};
use relamp::fit::{DialOptions, RemovalDial, World, removal_dial};
use relamp::lives::{Rows, Tally};
use relamp::policy::{
    AgeOptions, PriceScenario, PriceScenarios, cost_curve, dial_turn, least_regret, planned_age, price_scenarios,
};
use relamp::records::Ending;
use relamp::terms::{CostParts, Costs, DarkMinutes, Span, Warranty};
use relamp::{Result, Run};

use crate::worlds::{close, limit, series, world};

fn asked(costs: &[(&str, f64, f64, f64)]) -> Vec<PriceScenario> {
    costs
        .iter()
        .map(|(name, planned, dim, weight)| PriceScenario {
            weight: *weight,
            ..PriceScenario::new(name, Costs::new(*planned, [(Ending::Dim, *dim)]).unwrap())
        })
        .collect()
}

fn at(w: &World, costs: &Costs, age: f64) -> f64 {
    let priced = World { causes: w.causes.iter().map(copy).collect(), costs: costs.clone() };
    cost_curve(&priced, &[age], &limit(1e9)).unwrap()[0].cost_per_hour
}

/// The same Weibull cause again.
fn copy(cause: &relamp::fit::CauseLife) -> relamp::fit::CauseLife {
    let named = cause.life.named().unwrap();
    relamp::fit::CauseLife { endings: cause.endings.clone(), life: named.life().unwrap() }
}

fn mine() -> World {
    world(Weibull { shape: 3.0, scale: 1800.0 }, 950.0, 5200.0)
}

#[test]
fn each_scenario_has_its_age_and_every_advice_its_price_under_the_others() {
    let w = mine();
    let set = asked(&[
        ("as today", 950.0, 5200.0, 2.0),
        ("dear lamps", 1500.0, 5750.0, 1.0),
        ("dear shows", 950.0, 9800.0, 1.0),
    ]);
    let found = price_scenarios(&w, &set, &limit(3000.0), &AgeOptions::default()).unwrap();
    Checks::of("scenarios", &found).unwrap();
    let text = serde_json::to_string(&found).unwrap();
    assert_eq!(serde_json::from_str::<PriceScenarios>(&text).unwrap(), found);
    for (s, given) in found.scenarios.iter().zip(&set) {
        let alone = World { causes: w.causes.iter().map(copy).collect(), costs: given.costs.clone() };
        assert_eq!(planned_age(&alone, &limit(3000.0), &AgeOptions::default()).unwrap(), s.planned);
        for (under, other) in s.under.iter().zip(&set) {
            close(under.cost_per_hour, at(&w, &other.costs, s.planned.age_hours), 1e-12, 0.0);
        }
    }
    // Against a fine grid: the largest regret, and the mean by the weights.
    let least: Vec<f64> = found.scenarios.iter().map(|s| s.planned.optimum_cost_per_hour).collect();
    let costs = |age: f64| set.iter().map(|s| at(&w, &s.costs, age)).collect::<Vec<f64>>();
    let worst = |age: f64| costs(age).iter().zip(&least).map(|(c, l)| c / l - 1.0).fold(0.0, f64::max);
    let mean = |age: f64| costs(age).iter().zip([0.5, 0.25, 0.25]).map(|(c, w)| c * w).sum::<f64>();
    let (fair, shared) = (found.least_regret.age_hours, found.least_mean.age_hours);
    // Whole hours may miss by what an hour more changes.
    let hour = |at: f64| {
        costs(at).iter().zip(costs(at + 1.0)).zip(&least).map(|((a, b), l)| (a - b).abs() / l).fold(0.0, f64::max)
    };
    for i in 1..600 {
        let age = 5.0 * f64::from(i);
        assert!(worst(age) >= worst(fair) - hour(fair), "{age} {fair}");
        assert!(mean(age) >= mean(shared) - (mean(shared) - mean(shared + 1.0)).abs() - 1e-12, "{age} {shared}");
    }
    close(found.least_mean_cost_per_hour, mean(shared), 1e-12, 0.0);
    assert!(
        found.sentence.contains("under as today") && found.sentence.contains("costs at most"),
        "{}",
        found.sentence
    );
}

#[test]
fn two_scenarios_that_differ_by_a_factor_are_the_range_of_a_ratio() {
    let w = mine();
    let ratio = least_regret(&w, (0.5, 2.0), &limit(3000.0), &AgeOptions::default()).unwrap();
    let set = asked(&[("half", 950.0, 2600.0, 1.0), ("twice", 950.0, 10_400.0, 1.0)]);
    let found = price_scenarios(&w, &set, &limit(3000.0), &AgeOptions::default()).unwrap();
    assert_eq!(found.least_regret.age_hours, ratio.age_hours);
    let worst = found.least_regret.under.iter().map(|u| u.regret_percent).fold(0.0, f64::max);
    close(worst, ratio.regret_percent, 1e-9, 1e-9);
}

#[test]
fn scenarios_that_are_none_are_refused() {
    let w = mine();
    let slug =
        |set: &[PriceScenario]| price_scenarios(&w, set, &limit(3000.0), &AgeOptions::default()).unwrap_err().slug();
    assert_eq!(slug(&[]), "policy.scenarios");
    assert_eq!(slug(&asked(&[("a", 1.0, 5.0, 1.0), ("a", 1.0, 6.0, 1.0)])), "policy.scenarios");
    assert_eq!(slug(&asked(&[(" ", 1.0, 5.0, 1.0)])), "policy.scenarios");
    for weight in [-1.0, f64::NAN, 0.0] {
        assert_eq!(slug(&asked(&[("a", 1.0, 5.0, weight)])), "policy.scenarios");
    }
    let burst = PriceScenario::new("burst alone", Costs::new(1.0, [(Ending::Burst, 5.0)]).unwrap());
    assert_eq!(slug(&[burst]), "terms.cost_missing");
    let dark = DarkMinutes::new(45.0, [(Ending::Dim, 360.0)]).unwrap();
    let options = AgeOptions { objective: relamp::policy::Objective::DarkMinutes(dark), ..AgeOptions::default() };
    let error = price_scenarios(&w, &asked(&[("a", 1.0, 5.0, 1.0)]), &limit(3000.0), &options).unwrap_err();
    assert_eq!(error.slug(), "policy.scenarios_dark");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn no_scenario_passes_the_limit_or_the_records(
        shape in 0.5..6.0_f64, scale in 200.0..5000.0_f64, second in 0.5..4.0_f64, hours in 50.5..4000.0_f64,
        oldest in 50.5..4000.0_f64, planned in 1.0..2000.0_f64, fails in prop::collection::vec(1.0..20_000.0_f64, 1..5),
    ) {
        let w = series(planned, &[(Ending::Dim, shape, scale, 5.0), (Ending::Burst, second, 3000.0, 5.0)]);
        let set: Vec<PriceScenario> = fails.iter().enumerate().map(|(i, c)| {
            let costs = Costs::new(planned * (1.0 + i as f64), [(Ending::Dim, *c), (Ending::Burst, 2.0 * c)]).unwrap();
            PriceScenario::new(&i.to_string(), costs)
        }).collect();
        let options = AgeOptions { oldest_at_risk_hours: Some(oldest), ..AgeOptions::default() };
        let found = price_scenarios(&w, &set, &limit(hours), &options).unwrap();
        Checks::of("found", &found).unwrap();
        let ceiling = hours.min(oldest);
        let ages = found.scenarios.iter().map(|s| s.planned.age_hours);
        prop_assert!(ages.chain([found.least_regret.age_hours, found.least_mean.age_hours]).all(|a| a <= ceiling));
    }
}

fn span(low: f64, high: f64) -> Span {
    Span { low, high }
}

#[test]
fn the_price_of_a_warranty_and_dark_minutes_may_be_ranges() {
    let dark = DarkMinutes::new(45.0, [(Ending::Dim, 200.0), (Ending::Burst, 300.0)]).unwrap();
    let visit = (Span::known(120.0), Span::known(0.25));
    let parts = CostParts::new(Span::known(800.0), Span::known(60.0), visit, Span::known(2.0), dark, []).unwrap();
    let terms = Warranty::pro_rata(700.0, 1000.0, [Ending::Burst]).unwrap();
    let ranged = parts
        .clone()
        .with_warranty_between(&terms, span(500.0, 900.0))
        .unwrap()
        .with_dark_between([(Ending::Planned, span(30.0, 60.0)), (Ending::Burst, span(100.0, 700.0))])
        .unwrap();
    let names: Vec<String> = ranged.parts().into_iter().map(|p| p.0).collect();
    assert_eq!(names[5..], ["warranty_price", "dark_minutes burst", "dark_minutes planned"].map(str::to_owned));
    let middle = ranged.middle().unwrap();
    assert_eq!(middle.planned(), 800.0 + 60.0 + 30.0 + 2.0 * 45.0);
    assert_eq!(middle.failure(Ending::Burst).unwrap(), 800.0 + 60.0 + 120.0 + 2.0 * 400.0);
    assert_eq!(middle.failure(Ending::Dim).unwrap(), 800.0 + 60.0 + 120.0 + 2.0 * 200.0);
    assert_eq!(middle.warranty().unwrap().credit(500.0), 350.0);
    // Draws fill the ranges evenly: means by hand.
    let n = 4000;
    let drawn: Vec<Costs> = (0..n).map(|i| ranged.drawn(3, i).unwrap()).collect();
    let mean = |of: &dyn Fn(&Costs) -> f64| drawn.iter().map(of).sum::<f64>() / n as f64;
    close(mean(&|c| c.warranty().unwrap().price()), 700.0, 0.0, 4.5 * 400.0 / (12.0 * n as f64).sqrt());
    close(mean(&|c| c.failure(Ending::Burst).unwrap()), 1780.0, 0.0, 4.5 * 1200.0 / (12.0 * n as f64).sqrt());
    let text = serde_json::to_string(&ranged).unwrap();
    assert_eq!(serde_json::from_str::<CostParts>(&text).unwrap(), ranged);
    // A warranty that may give back more than the cheapest failure costs is refused, and so are ranges that are none.
    let slug = |made: Result<CostParts>| made.unwrap_err().slug();
    assert_eq!(slug(parts.clone().with_warranty_between(&terms, span(500.0, 9000.0))), "terms.credit_above_cost");
    for bad in [span(900.0, 500.0), span(0.0, 500.0), span(f64::NAN, 1.0)] {
        assert_eq!(slug(parts.clone().with_warranty_between(&terms, bad)), "terms.part_range");
        assert_eq!(slug(parts.clone().with_dark_between([(Ending::Burst, bad)])), "terms.part_range");
    }
    assert_eq!(slug(parts.with_dark_between([(Ending::Seal, span(1.0, 2.0))])), "terms.part_range");
}

fn dial(taus: &[f64]) -> RemovalDial {
    let low: Vec<f64> = (1..=40).map(|i| 200.0 + 60.0 * f64::from(i)).collect();
    let high = low.iter().enumerate().map(|(i, a)| if i % 2 == 0 { *a } else { f64::INFINITY }).collect();
    let ending = (0..40).map(|i| if i % 2 == 0 { Ending::Burst } else { Ending::Dim }).collect();
    let (tally, _) = Tally::from_rows(&Rows { low, high, ending: Some(ending), ..Rows::default() }).unwrap();
    let removal = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
    let options = DialOptions { removal, taus: taus.to_vec(), replicates: 0, ..DialOptions::default() };
    removal_dial(family("weibull").unwrap(), &tally, &options, &Run::new()).unwrap()
}

#[test]
fn the_dependence_at_which_the_advice_changes_is_told() {
    let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)]).unwrap();
    let (top, options) = (limit(4000.0), AgeOptions::default());
    let dial_of = dial(&[0.0, 0.2, 0.4, 0.6, 0.8]);
    let found = dial_turn(&dial_of, &costs, &top, &options, None).unwrap();
    Checks::of("turn", &found).unwrap();
    let tau = found.tau.unwrap();
    assert!(found.sentence.starts_with("from a dependence of 0."), "{}", found.sentence);
    // Fitted a little before and a little after it, the age lies inside and outside.
    let inside = |tau: f64| {
        let dial = dial(&[0.0, tau]);
        let cause = relamp::fit::CauseLife { endings: vec![(Ending::Burst, 1.0)], life: dial.life(tau).unwrap() };
        let options = AgeOptions { oldest_at_risk_hours: Some(dial.facts().oldest_at_risk_hours), ..options.clone() };
        let age = planned_age(&World { causes: vec![cause], costs: costs.clone() }, &top, &options).unwrap().age_hours;
        found.near_best.iter().any(|b| b.from_hours <= age && age <= b.to_hours)
    };
    assert!(inside(tau - 0.03) && !inside(tau + 0.03), "{tau}");
    // Where no earlier change pays, no dependence moves the advice from the oldest lamp at risk.
    let flat = Costs::new(950.0, [(Ending::Burst, 951.0)]).unwrap();
    let never = dial_turn(&dial_of, &flat, &top, &options, None).unwrap();
    assert_eq!((never.tau, never.most_tau), (None, 0.8));
    // Against an ordinary fit of another life, the one life alone leaves its ages at none.
    let other = planned_age(&world(Weibull { shape: 3.0, scale: 300.0 }, 950.0, 5200.0), &top, &options).unwrap();
    let apart = dial_turn(&dial_of, &costs, &top, &options, Some(&other)).unwrap();
    assert_eq!(apart.tau, Some(0.0));
    assert!(apart.sentence.contains("one life for all failures gives"), "{}", apart.sentence);
}
