//! All lamps of a site when one of them reaches an age: one lamp, very many, a recursion of its own, a fleet played out, random
//! worlds, and what is asked wrongly.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::sound::Checks;
use relamp::demand::{Horizon, SocketToday};
use relamp::family::{Exponential, Life, Weibull};
use relamp::fit::World;
use relamp::policy::{BandEnd, Reach, SiteTerms, SiteVerdict, block_costs, cost_curve, site_age, site_costs};
use relamp::records::Ending;
use relamp::simulate::{Assumptions, PlannedChange, PlayOptions, Rule, play_fleet};
use relamp::terms::{Costs, Salvage, Warranty, WarrantyStep};

use crate::simulate::agreement::{Score, judge};
use crate::worlds::{Steps, close, limit, series, world};

fn site(lamps: u32, visit_cost: f64) -> SiteTerms {
    SiteTerms { lamps, visit_cost }
}

/// Two causes, one of which is densest at age 0; with money back and a worth of used lamps where asked for.
fn two(terms: bool) -> World {
    let mut w = series(900.0, &[(Ending::Burst, 3.5, 1500.0, 5200.0), (Ending::Seal, 0.7, 6000.0, 1800.0)]);
    if terms {
        let step = |below_hours, share| WarrantyStep { below_hours, share };
        let back =
            Warranty::stepped(700.0, [step(300.0, 1.0), step(820.0, 0.5)], [Ending::Burst, Ending::Seal]).unwrap();
        w.costs =
            w.costs.with_warranty(back).unwrap().with_salvage(Salvage::new(400.0, 2000.0, 900.0).unwrap()).unwrap();
    }
    w
}

/// The same world with a visit in every change.
fn visited(w: &World, visit: f64) -> World {
    let causes = two(false).causes;
    let mut costs =
        Costs::new(w.costs.planned() + visit, w.costs.by_ending().iter().map(|(e, c)| (*e, c + visit))).unwrap();
    if let Some(back) = w.costs.warranty() {
        costs = costs.with_warranty(back.clone()).unwrap();
    }
    if let Some(worth) = w.costs.salvage() {
        costs = costs.with_salvage(*worth).unwrap();
    }
    World { causes, costs }
}

#[test]
fn a_site_of_one_lamp_is_the_rule_of_one_age() {
    let top = limit(3000.0);
    for terms in [false, true] {
        let w = two(terms);
        let both = visited(&w, 240.0);
        for age in [150.0, 600.0, 900.0, 1100.0, 1700.0, 2400.0] {
            let found = site_costs(&w, &site(1, 240.0), &[age], &top).unwrap().remove(0);
            Checks::of("cost", &found).unwrap();
            let told = cost_curve(&both, &[age], &top).unwrap().remove(0);
            close(found.cost_per_hour, told.cost_per_hour, 1e-9, 0.0);
            close(found.together_cost_per_hour, told.planned_cost_per_hour, 1e-9, 0.0);
            for (a, b) in found.by_ending.iter().zip(&told.by_ending) {
                assert_eq!(a.ending, b.ending);
                close(a.cost_per_hour, b.cost_per_hour, 1e-9, 0.0);
            }
            // One planned change for each lamp that reaches the age.
            close(found.hours_between, told.mean_age_at_change_hours / (1.0 - told.failure_probability), 1e-9, 0.0);
        }
    }
}

#[test]
fn a_site_of_very_many_lamps_is_a_change_of_all_at_an_interval() {
    let top = limit(3000.0);
    let n = 1000;
    let visit = 4000.0;
    for terms in [false, true] {
        let w = two(terms);
        // The visit of a failure stands in its cost, the share of the one for all in the cost of a lamp of it.
        let failing = Costs::new(900.0, w.costs.by_ending().iter().map(|(e, c)| (*e, c + visit))).unwrap();
        let failing = match (w.costs.warranty(), w.costs.salvage()) {
            (Some(back), Some(worth)) => failing.with_warranty(back.clone()).unwrap().with_salvage(*worth).unwrap(),
            _ => failing,
        };
        let priced = World { causes: two(false).causes, costs: failing };
        for age in [400.0, 900.0, 1300.0] {
            let found = site_costs(&w, &site(n, visit), &[age], &top).unwrap().remove(0);
            let block = block_costs(&priced, &[age], &top, Some(900.0 + visit / f64::from(n))).unwrap().remove(0);
            close(found.cost_per_hour, block.cost_per_hour, 1e-8, 0.0);
            close(found.hours_between, age, 1e-8, 0.0);
            close(found.failures, block.failures, 1e-8, 0.0);
            close(found.used_worth, block.used_worth, 1e-7, 1e-9);
        }
    }
}

/// Failures at an even rate are a Poisson stream; the chance of no stretch of A hours without one is a polynomial in each
/// multiple of A.
#[test]
fn an_even_rate_has_closed_forms() {
    let (scale, age, top) = (1000.0, 800.0, limit(5000.0));
    let w = world(Exponential { scale }, 950.0, 5200.0);
    for n in [2_u8, 3, 8] {
        let found = site_costs(&w, &site(u32::from(n), 300.0), &[age], &top).unwrap().remove(0);
        close(found.by_ending[0].cost_per_hour, 5.5, 1e-9, 0.0);
        close(found.failures, found.hours_between / scale, 1e-9, 0.0);
        // G(t) = sum over k of (-1)^k exp(-k A / scale) [(t - k A)^k / k! + (t - k A)^(k-1) / (k-1)!] over multiples k A up to t,
        // times in units of the scale: the renewal equation solved step by step.
        let a: f64 = age / scale;
        let chance = |t: f64| {
            let mut sum = 1.0;
            let mut k = 1;
            while f64::from(k) * a <= t {
                let left: f64 = t - f64::from(k) * a;
                let factorial = |m: i32| (1..=m).map(f64::from).product::<f64>();
                let terms = left.powi(k) / factorial(k) + left.powi(k - 1) / factorial(k - 1);
                sum += (-1.0_f64).powi(k) * (-f64::from(k) * a).exp() * terms;
                k += 1;
            }
            sum
        };
        // Simpson between multiples of the age, where the chance is a polynomial.
        let mut hours = 0.0;
        for k in 0..16 {
            let steps = 2000;
            let h = a / f64::from(steps);
            let at = |i: i32| {
                let edge = f64::from(k) * a;
                let t = edge + h * f64::from(i);
                let t = if i == 0 {
                    edge + 1e-15
                } else if i == steps {
                    edge + a - 1e-15
                } else {
                    t
                };
                chance(t).powi(i32::from(n))
            };
            let odd: f64 = (1..steps).step_by(2).map(at).sum();
            let even: f64 = (2..steps).step_by(2).map(at).sum();
            hours += h / 3.0 * (at(0) + 4.0 * odd + 2.0 * even + at(steps));
        }
        close(found.hours_between / scale, hours, 1e-7, 0.0);
    }
}

/// The equations on a plain grid by the trapezoid rule, two grids and the error of second order taken out.
fn recursion(life: &dyn Life, age: f64, n: i32) -> (f64, f64) {
    let on = |m: usize| {
        let (step, blocks) = (age / m as f64, 24);
        let cells: Vec<f64> = (0..m)
            .map(|i| life.failure_probability((i + 1) as f64 * step) - life.failure_probability(i as f64 * step))
            .collect();
        let count = m * blocks;
        // Values just before and just after each time, as the chance falls at once where the first lamps reach the age.
        let (mut before, mut after, mut failures) = (vec![1.0; count + 1], vec![1.0; count + 1], vec![0.0; count + 1]);
        for k in 1..=count {
            let (mut passed, mut failed) = (0.0, life.failure_probability((k.min(m)) as f64 * step));
            for (i, cell) in cells.iter().enumerate().take(k) {
                let late = if i == 0 { 0.0 } else { before[k - i] };
                passed += 0.5 * cell * (after[k - i - 1] + late);
                let late = if i == 0 { 0.0 } else { failures[k - i] };
                failed += 0.5 * cell * (failures[k - i - 1] + late);
            }
            failures[k] = failed / (1.0 - 0.5 * cells[0]);
            let solved = passed / (1.0 - 0.5 * cells[0]);
            if k > m {
                (before[k], after[k]) = (solved, solved);
            } else if k == m {
                // Before its age every lamp counts; after it only screens that had a failure do.
                after[k] = life.failure_probability(age);
            }
        }
        let mut hours = 0.0;
        let mut number = 0.0;
        for k in 0..count {
            let (a, b) = (after[k], before[k + 1]);
            hours += 0.5 * step * (a.powi(n) + b.powi(n));
            number += 0.5 * (a.powi(n - 1) + b.powi(n - 1)) * (failures[k + 1] - failures[k]);
        }
        [hours, number]
    };
    let (coarse, fine) = (on(150), on(300));
    (fine[0] + (fine[0] - coarse[0]) / 3.0, fine[1] + (fine[1] - coarse[1]) / 3.0)
}

#[test]
fn a_recursion_of_its_own_gives_the_same_hours_and_failures() {
    let top = limit(5000.0);
    for (shape, age, n) in [(3.0, 600.0, 2_u8), (3.0, 1100.0, 2), (3.0, 1100.0, 6), (2.0, 1300.0, 3), (5.0, 950.0, 4)] {
        let life = Weibull { shape, scale: 1000.0 };
        let (hours, failures) = recursion(&life, age, i32::from(n));
        let found = site_costs(&world(life, 1.0, 5.0), &site(u32::from(n), 0.0), &[age], &top).unwrap().remove(0);
        close(found.hours_between, hours, 2e-7, 0.0);
        close(found.failures, failures, 2e-6, 0.0);
    }
}

/// Sites played from new lamps to where they have mixed; then the last stretch counts.
#[test]
fn a_played_fleet_agrees() {
    let mut list = Vec::new();
    for (i, (lamps, age, visit, terms)) in [
        (2_u32, 1450.0, 300.0, false),
        (2, 1600.0, 0.0, true),
        (3, 1600.0, 500.0, true),
        (4, 1700.0, 800.0, false),
        (5, 1800.0, 450.0, true),
        (8, 1900.0, 900.0, false),
    ]
    .into_iter()
    .enumerate()
    {
        let (w, top) = (two(terms), limit(2500.0));
        let told = site_costs(&w, &site(lamps, visit), &[age], &top).unwrap().remove(0);
        let sites = 100_000_usize.div_ceil(lamps as usize);
        let screens = sites * lamps as usize;
        let sockets = vec![SocketToday { age_hours: Some(0.0), hours_per_week: 168.0 }; screens];
        let names: Vec<String> = (0..screens).map(|s| format!("{}", s / lamps as usize)).collect();
        let rule = Rule::SiteTogether { age_hours: age };
        let assumptions =
            Assumptions { sites: &names, visit_cost: visit, ..Assumptions::new(&sockets, &w, rule, &top) };
        // Fifty ages; the chance to reach the age is small enough for the sites to have mixed after forty.
        let horizon = Horizon { period_days: 10.0 * age / 24.0, periods: 5 };
        let options = PlayOptions { horizon, replicates: 1, seed: 300 + i as u64 };
        let played = play_fleet(&assumptions, &options, &Run::new()).unwrap();
        let last = &played.periods[4];
        let hours = last.burning_hours.mean;
        let changes_of_all = hours / told.hours_between / f64::from(lamps);
        let mut compare = |what: &str, found: &relamp::simulate::Simulated, expected: f64| {
            list.push(Score::of(format!("{lamps} lamps at {age} h: {what}"), found, expected));
        };
        compare("cost", &last.cost, told.cost_per_hour * hours);
        compare("planned", &last.planned, changes_of_all * f64::from(lamps));
        compare("failures", &last.failures, told.failures * hours / told.hours_between);
        compare("visits", &last.visits_for_lamps, changes_of_all + told.failures * hours / told.hours_between);
        for part in &told.by_ending {
            if !terms {
                let each = w.costs.failure(part.ending).unwrap() + visit;
                compare(
                    part.ending.as_str(),
                    &last.failures_by_ending[&part.ending],
                    part.cost_per_hour * hours / each,
                );
            }
        }
        let kinds = [PlannedChange::AtAge, PlannedChange::WithSite];
        assert!(last.planned_by_kind.keys().all(|kind| kinds.contains(kind)));
    }
    assert!(list.len() >= 30);
    judge(&list, 0.5, 1.6);
}

#[test]
fn the_best_age_is_told_with_its_reasons() {
    let w = world(Weibull { shape: 4.0, scale: 2000.0 }, 700.0, 4000.0);
    let top = limit(3000.0);
    let best = site_age(&w, &site(4, 500.0), &top, &Reach::default()).unwrap();
    Checks::of("best", &best).unwrap();
    assert_eq!(best.verdict, SiteVerdict::TogetherPays);
    assert!(best.sentence.starts_with("change all 4 lamps of the site when one of them reaches "), "{}", best.sentence);
    let ages: Vec<f64> = (4..=60).map(|i| 50.0 * f64::from(i)).filter(|a| *a <= 2600.0).collect();
    for found in site_costs(&w, &site(4, 500.0), &ages, &top).unwrap() {
        assert!(found.cost_per_hour >= best.optimum_cost_per_hour * (1.0 - 1e-9), "{found:?}");
        let near = found.cost_per_hour <= 1.01 * best.optimum_cost_per_hour;
        let told = best.near_best.iter().any(|b| b.from_hours <= found.age_hours && found.age_hours <= b.to_hours);
        assert_eq!(near, told, "{found:?} {:?}", best.near_best);
    }
    // Where the limit or the records come first, the age stands there, and so does the band.
    let held = site_age(&w, &site(4, 500.0), &limit(700.0), &Reach::default()).unwrap();
    Checks::of("held", &held).unwrap();
    assert_eq!((held.age_hours, held.near_best.last().unwrap().to_end), (700.0, BandEnd::AtLimit));
    let held = site_age(&w, &site(4, 500.0), &top, &Reach::to(640.0)).unwrap();
    Checks::of("held", &held).unwrap();
    assert_eq!((held.age_hours, held.near_best.last().unwrap().to_end), (640.0, BandEnd::RecordsEnd));
    assert!(!held.past_records());
    // No saving in coming once: each lamp by itself.
    let near = site_age(&w, &site(4, 0.0), &top, &Reach::default()).unwrap();
    assert_eq!(near.verdict, SiteVerdict::AlonePays);
    assert!(near.sentence.contains("by its own age"), "{}", near.sentence);
    // A limit that next to no lamp reaches is no obstacle.
    let far = site_age(&w, &site(4, 500.0), &limit(90_000.0), &Reach::default()).unwrap();
    close(far.optimum_hours, best.optimum_hours, 1e-6, 0.0);
}

#[test]
fn what_is_asked_wrongly_is_refused_by_name() {
    let w = world(Weibull { shape: 3.0, scale: 1000.0 }, 1.0, 5.0);
    let top = limit(2000.0);
    let slug = |terms: SiteTerms, age: f64| site_costs(&w, &terms, &[age], &top).unwrap_err().slug();
    assert_eq!(slug(site(0, 0.0), 500.0), "policy.site_lamps");
    assert_eq!(slug(site(1001, 0.0), 500.0), "policy.site_lamps");
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(slug(site(3, bad), 500.0), "policy.site_visit_cost");
    }
    assert_eq!(slug(site(3, 0.0), 0.0), "policy.age");
    assert_eq!(slug(site(3, 0.0), 2001.0), "policy.age_past_limit");
    let far = world(Weibull { shape: 3.0, scale: 100.0 }, 1.0, 5.0);
    assert_eq!(site_costs(&far, &site(3, 0.0), &[1900.0], &top).unwrap_err().slug(), "renewal.site_age");
    let steps = world(Steps(vec![100.0, 300.0]), 1.0, 5.0);
    assert_eq!(site_costs(&steps, &site(3, 0.0), &[200.0], &top).unwrap_err().slug(), "renewal.jumps");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn no_answer_passes_the_limit_and_no_other_age_costs_less(
        shape in prop_oneof![0.6..1.0_f64, 1.0..6.0_f64], scale in 400.0..5000.0_f64, failure in 1.2..30.0_f64,
        lamps in 1..12_u32, visit in 0.0..3.0_f64, top in 200.5..3000.0_f64, records in prop::option::of(150.0..2500.0_f64),
    ) {
        let w = world(Weibull { shape, scale }, 1.0, failure);
        let reach = records.map_or_else(Reach::default, Reach::to);
        let (limit, terms) = (limit(top), site(lamps, visit));
        let best = site_age(&w, &terms, &limit, &reach).unwrap();
        prop_assert!(Checks::of("best", &best).is_ok(), "{best:?}");
        let ceiling = records.map_or(top, |r| r.min(top));
        let ends = best.near_best.iter().flat_map(|b| [b.from_hours, b.to_hours]);
        let all = [best.age_hours, best.optimum_hours, best.cost.age_hours, best.alone_age_hours];
        prop_assert!(all.into_iter().chain(best.minima.iter().map(|m| m.0)).chain(ends).all(|a| a <= ceiling), "{best:?}");
        for i in 1..=12 {
            let age = (ceiling * f64::from(i) / 12.0).min(ceiling);
            if w.causes[0].life.ln_reliability(age) < -19.0 {
                break;
            }
            let other = site_costs(&w, &terms, &[age], &limit).unwrap().remove(0);
            prop_assert!(other.cost_per_hour >= best.optimum_cost_per_hour * (1.0 - 1e-8), "{other:?} {best:?}");
        }
    }
}
