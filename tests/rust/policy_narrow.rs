//! Modes of failure far narrower than the steps of a search: a weak batch that fails within a few hours.

use relamp::base::random::Stream;
use relamp::family::{Life, Mixture, Weibull};
use relamp::fit::{CauseLife, World};
use relamp::policy::{
    AgeOptions, Reach, VisitTerms, WorldCurve, best_visit_age, block_costs, block_interval, horizon_age, horizon_costs,
    planned_age, unlimited_optimum, visit_rule_cost,
};
use relamp::records::Ending;
use relamp::terms::Costs;

use crate::worlds::{limit, world};

fn batches(first: (f64, f64), second: (f64, f64), share: f64) -> Mixture {
    let life = |(shape, scale)| Box::new(Weibull { shape, scale }) as Box<dyn Life>;
    Mixture::new(life(first), life(second), share).unwrap()
}

#[test]
fn a_dip_before_a_narrow_mode_is_found() {
    // Invented; a fine grid gives 1,617 h at 0.6199 per 1,000 h, and 4,641 h at 0.6245 beside it.
    let w = world(batches((385.8, 1644.9), (114.7, 4945.0), 0.049), 1.0, 37.38);
    let best = planned_age(&w, &limit(7113.0), &AgeOptions::default()).unwrap();
    assert_eq!(best.age_hours, 1617.0);
    assert!((1000.0 * best.cost.cost_per_hour - 0.6199).abs() < 1e-4);
    assert!(best.near_best.len() == 2, "{:?}", best.near_best);
    assert!((unlimited_optimum(&w).unwrap().age_hours.unwrap() - best.optimum_hours).abs() < 1e-3);
}

/// The least cost of a grid that no mode of the world escapes: even steps in ln age, and 400 quantiles of every part.
fn fine(w: &World, parts: &[Weibull], top: f64) -> (f64, f64) {
    let mut curve = WorldCurve::new(w).unwrap();
    let mut ages: Vec<f64> = (0..4000).map(|i| top * (-f64::from(i) / 800.0).exp()).collect();
    for part in parts {
        ages.extend((1..400).map(|i| part.quantile(f64::from(i) / 400.0).unwrap()).filter(|a| *a < top));
        ages.extend((1..40).map(|i| part.quantile(f64::from(i) / 16_000.0).unwrap()).filter(|a| *a < top));
    }
    ages.sort_by(f64::total_cmp);
    curve.remember(&ages).unwrap();
    let cost = |age: &f64| (*age, curve.cost(&curve.up_to(*age).unwrap()));
    ages.iter().map(cost).min_by(|a, b| a.1.total_cmp(&b.1)).unwrap()
}

/// Two dips that cost nearly the same, the early one a little less: even steps that stop short of it take the other.
#[test]
fn of_two_dips_that_all_but_tie_the_better_is_found() {
    let mut s = Stream::new(9, "test", "ties", 0);
    for round in 0..60 {
        let mut part = |from: f64, to: f64| Weibull {
            shape: 150.0 * 6f64.powf(s.uniform()),
            scale: from + (to - from) * s.uniform(),
        };
        let parts = [part(800.0, 2500.0), part(3500.0, 6000.0)];
        let share = 0.02 + 0.3 * s.uniform();
        let mixed = batches((parts[0].shape, parts[0].scale), (parts[1].shape, parts[1].scale), share);
        // What a failure must cost for the later dip to cost half a percent more.
        let dips = parts.map(|p| p.quantile(1e-4).unwrap());
        let hours = share * parts[0].scale + (1.0 - share) * dips[1];
        let fails = (1.005 * hours / dips[0] - (1.0 - share)) / share;
        let w = world(mixed, 1.0, fails);
        let top = 1.02 * parts[1].scale;
        let best = planned_age(&w, &limit(top), &AgeOptions::default()).unwrap();
        let (age, cost) = fine(&w, &parts, top);
        assert!(best.optimum_cost_per_hour <= cost * (1.0 + 1e-9), "{round}: {age} {cost} {parts:?} {best:?}");
    }
}

#[test]
fn the_global_minimum_is_found_in_random_narrow_mixtures() {
    let mut s = Stream::new(8, "test", "narrow", 0);
    let mut early = 0;
    for round in 0..150 {
        let mut part = |from: f64, to: f64| Weibull {
            shape: 20.0 * 40f64.powf(s.uniform()),
            scale: from + (to - from) * s.uniform(),
        };
        let parts = [part(800.0, 2500.0), part(3000.0, 6000.0), part(900.0, 5000.0)];
        let mixed =
            batches((parts[0].shape, parts[0].scale), (parts[1].shape, parts[1].scale), 0.01 + 0.3 * s.uniform());
        let mut causes = vec![CauseLife { endings: vec![(Ending::Dim, 1.0)], life: Box::new(mixed) }];
        if round % 3 == 0 {
            causes.push(CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(parts[2]) });
        }
        let fails = 2.0 + 40.0 * s.uniform();
        let w = World { causes, costs: Costs::new(1.0, [(Ending::Dim, fails), (Ending::Burst, 2.0 * fails)]).unwrap() };
        let top = 2600.0 + 5000.0 * s.uniform();
        let best = planned_age(&w, &limit(top), &AgeOptions::default()).unwrap();
        let (age, cost) = fine(&w, &parts, top);
        assert!(best.optimum_hours <= top);
        assert!(best.optimum_cost_per_hour <= cost * (1.0 + 1e-9), "{round}: {age} {cost} {parts:?} {best:?}");
        early += u32::from(best.optimum_hours < 0.9 * top);
        if round % 10 == 0 {
            let terms =
                VisitTerms { mean_hours_between_visits: 20.0 + 300.0 * s.uniform(), visit_cost: 0.5, even: false };
            let visits = best_visit_age(&w, &terms, top, &limit(top), &Reach::default()).unwrap();
            for part in &parts {
                for i in 1..40 {
                    let from = part.quantile(f64::from(i) / 200.0).unwrap().min(top);
                    let other = visit_rule_cost(&w, &terms, from, top, &limit(top)).unwrap().cost_per_hour;
                    let found =
                        visit_rule_cost(&w, &terms, visits.optimum_hours, top, &limit(top)).unwrap().cost_per_hour;
                    assert!(found <= other * (1.0 + 1e-9), "{round}: {from} {other} {visits:?}");
                }
            }
        }
    }
    assert!(early > 50, "{early}");
}

/// Intervals and ages of a scan that no mode of these parts escapes: quantiles of each, once and for a second and third lamp.
fn scanned(parts: &[Weibull], top: f64) -> Vec<f64> {
    let quantile = |p: &Weibull, i: u32| p.quantile(10f64.powf(-5.0 + f64::from(i) / 5.01)).unwrap();
    let each = parts.iter().flat_map(|p| (0..25).map(move |i| quantile(p, i)));
    let mut ages: Vec<f64> = (0..24).map(|i| top * (-f64::from(i) / 8.0).exp()).collect();
    ages.extend(each.flat_map(|a| [a, 2.0 * a, 3.0 * a]).filter(|a| *a < top));
    ages
}

#[test]
fn blocks_and_horizons_step_over_no_narrow_mode() {
    let mut s = Stream::new(10, "test", "narrow blocks", 0);
    let (mut early, mut dips) = (0, 0);
    for round in 0..3 {
        let mut part = |from: f64, to: f64| Weibull {
            shape: 50.0 * 3f64.powf(s.uniform()),
            scale: from + (to - from) * s.uniform(),
        };
        let parts = [part(800.0, 2500.0), part(3500.0, 6000.0)];
        let share = 0.05 + 0.3 * s.uniform();
        let mixed = batches((parts[0].shape, parts[0].scale), (parts[1].shape, parts[1].scale), share);
        let w = world(mixed, 1.0, 5.0 + 20.0 * s.uniform());
        let top = limit(7000.0);
        let best = block_interval(&w, &top, None, &Reach::default()).unwrap();
        let costs = block_costs(&w, &scanned(&parts, 7000.0), &top, None).unwrap();
        let least = costs.iter().min_by(|a, b| a.cost_per_hour.total_cmp(&b.cost_per_hour)).unwrap();
        let bound = least.cost_per_hour.min(best.without_blocks_cost_per_hour) * (1.0 + 1e-7);
        assert!(best.optimum_cost_per_hour <= bound, "{round}: {least:?} {best:?} {parts:?}");
        early += u32::from(least.every_hours < 2600.0);
        let horizon = 9000.0 + 3000.0 * s.uniform();
        let best = horizon_age(&w, horizon, 0.0, &top, &Reach::default()).unwrap();
        let ages: Vec<f64> = scanned(&parts, 6999.0).into_iter().filter(|a| *a > 500.0).collect();
        let costs = horizon_costs(&w, horizon, 0.0, &ages, &top).unwrap();
        let least = costs.iter().min_by(|a, b| a.cost.total_cmp(&b.cost)).unwrap();
        assert!(best.optimum_cost <= least.cost * (1.0 + 1e-7), "{round}: {least:?} {best:?} {parts:?}");
        dips += u32::from(least.age_hours < 2600.0);
    }
    // Otherwise only the wide modes would have been looked for.
    assert!(early > 1 && dips > 1, "{early} {dips}");
}
