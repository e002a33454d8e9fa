//! Two ages and visits at random: the stored optima, limits that must be met, and a fleet played out.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::sound::Checks;
use relamp::demand::{Horizon, SocketToday};
use relamp::family::{Mixture, Weibull};
use relamp::policy::{
    AgeOptions, Reach, VisitTerms, VisitVerdict, best_visit_age, best_visit_ages, cost_curve, planned_age,
    visit_rule_cost,
};
use relamp::records::Ending;
use relamp::simulate::{Assumptions, PlannedChange, PlayOptions, Rule, Visits, play_fleet};
use relamp::terms::Warranty;
use serde_json::Value;

use crate::simulate::agreement::{Score, judge, settled};
use crate::worlds::{Steps, close, limit, number, series, world};

fn terms(mean_hours: f64, visit_cost: f64) -> VisitTerms {
    VisitTerms { mean_hours_between_visits: mean_hours, visit_cost, even: false }
}

#[test]
fn stored_optima_are_met() {
    // Tijms, A First Course in Stochastic Models (2003), exercise 8.9, recomputed in high precision by two routes.
    let all: Value = serde_json::from_str(include_str!("../data/visits_and_blocks.json")).unwrap();
    let stored = all["cases"].as_array().unwrap().iter().find(|c| c["id"] == "opportunity_age_rule").unwrap();
    let w = world(Weibull { shape: 3.0, scale: 1e6 }, 1.0, 5.0);
    let far = limit(1e8);
    for key in ["0.5", "2", "10", "10000"] {
        let expected = &stored["outputs"][key];
        let best =
            best_visit_age(&w, &terms(1e6 / key.parse::<f64>().unwrap(), 0.0), 1e8, &far, &Reach::default()).unwrap();
        close(best.optimum_hours / 1e6, number(&expected["T"]), 1e-6, 0.0);
        close(best.cost.cost_per_hour * 1e6, number(&expected["C"]), 1e-6, 0.0);
        close(best.unused_cost_per_hour * 1e6, number(&stored["outputs"]["0"]["C"]), 1e-9, 0.0);
        Checks::of("best", &best).unwrap();
    }
}

#[test]
fn without_visits_and_with_one_every_minute_it_is_the_rule_of_one_age() {
    let w = series(950.0, &[(Ending::Burst, 4.0, 1900.0, 5200.0), (Ending::Seal, 0.7, 9000.0, 1800.0)]);
    let limit = limit(2000.0);
    let at = |age: f64| cost_curve(&w, &[age], &limit).unwrap().remove(0).cost_per_hour;
    let cost = |t, v, a| visit_rule_cost(&w, &t, v, a, &limit).unwrap().cost_per_hour;
    close(cost(terms(1e15, 0.0), 700.0, 1500.0), at(1500.0), 1e-10, 0.0);
    close(cost(terms(300.0, 0.0), 1500.0, 1500.0), at(1500.0), 1e-10, 0.0);
    close(cost(terms(0.01, 0.0), 700.0, 1500.0), at(700.0), 1e-4, 0.0);
    // Money back under a warranty follows the same two ways.
    let mut w = w;
    let warranty = Warranty::pro_rata(780.0, 1200.0, [Ending::Burst]).unwrap();
    w.costs = w.costs.clone().with_warranty(warranty).unwrap();
    let at = |age: f64| cost_curve(&w, &[age], &limit).unwrap().remove(0).cost_per_hour;
    let cost = |t, v, a| visit_rule_cost(&w, &t, v, a, &limit).unwrap().cost_per_hour;
    close(cost(terms(1e15, 0.0), 700.0, 1500.0), at(1500.0), 1e-10, 0.0);
    close(cost(terms(0.01, 0.0), 700.0, 1500.0), at(700.0), 1e-4, 0.0);
    // A curve of steps, by hand: all live to 100 h, half to 300 h; changed at 400 h, or from 100 h at a visit every 200 h.
    let steps = world(Steps(vec![100.0, 300.0]), 1.0, 5.0);
    let found = visit_rule_cost(&steps, &terms(200.0, 2.0), 100.0, 400.0, &limit).unwrap();
    let wait = 1.0 - (-1.0_f64).exp();
    let hours = 100.0 + 0.5 * 200.0 * wait;
    let failures = 0.5 + 0.5 * (-1.0_f64).exp();
    close(found.mean_age_at_change_hours, hours, 1e-10, 0.0);
    close(found.failures[0], failures, 1e-10, 0.0);
    close(found.cost_per_hour, (0.5 * wait + 7.0 * failures) / hours, 1e-10, 0.0);
}

#[test]
fn a_played_fleet_agrees() {
    let w = three();
    let (limit, mean_hours, visit_cost) = (limit(1700.0), 300.0, 240.0);
    let mut list = Vec::new();
    let rules = [(5, 900.0, 1700.0), (6, 400.0, 1200.0), (7, 700.0, 1500.0), (8, 1000.0, 1300.0), (9, 200.0, 900.0)];
    for (seed, visit_age, age) in rules {
        let told = visit_rule_cost(&w, &terms(mean_hours, visit_cost), visit_age, age, &limit).unwrap();
        let reliability = |a: f64| w.causes.iter().map(|c| c.life.ln_reliability(a)).sum::<f64>().exp();
        let there = |a: f64| reliability(a) * (-(a - visit_age).max(0.0) / mean_hours).exp();
        let ages = settled(there, age, 2000);
        let sockets: Vec<_> = ages
            .iter()
            .flat_map(|a| std::iter::repeat_n(SocketToday { age_hours: Some(*a), hours_per_week: 70.0 }, 50))
            .collect();
        let rule = Rule::AtAgeOrVisit { age_hours: age, visit_age_hours: visit_age, join_changes: false };
        let assumptions = Assumptions {
            visits: Visits::Random { mean_days: mean_hours / 10.0 },
            visit_cost,
            ..Assumptions::new(&sockets, &w, rule, &limit)
        };
        let horizon = Horizon { period_days: 130.0, periods: 1 };
        let played = play_fleet(&assumptions, &PlayOptions { horizon, replicates: 1, seed }, &Run::new()).unwrap();
        let lamps = played.whole.burning_hours.mean / told.mean_age_at_change_hours;
        let kinds = &played.whole.planned_by_kind;
        let mut compare = |what: &str, found: relamp::simulate::Simulated, expected: f64| {
            list.push(Score::of(format!("from {visit_age} h at visits, at {age} h: {what}"), &found, expected));
        };
        compare("cost per hour", played.cost_per_hour.unwrap(), told.cost_per_hour);
        compare("at a visit", kinds[&PlannedChange::AtVisit], lamps * told.at_visit);
        compare("at the age", kinds[&PlannedChange::AtAge], lamps * told.at_age);
        for (found, share) in played.whole.failures_by_ending.values().zip(&told.failures) {
            compare("failures", *found, lamps * share);
        }
    }
    judge(&list, 0.5, 1.6);
}

#[test]
fn of_two_ages_no_pair_costs_less_than_the_best() {
    let one = || world(Weibull { shape: 3.0, scale: 1000.0 }, 1000.0, 5000.0);
    let random = [(three(), 1700.0, 300.0, 300.0), (one(), 2000.0, 300.0, 300.0), (three(), 1700.0, 900.0, 1500.0)];
    // With the rarer visits lamps reach the later age; with the others none does.
    let even = [(one(), 2000.0, 400.0, 300.0), (one(), 2000.0, 1000.0, 300.0)];
    let all = random.into_iter().map(|w| (false, w)).chain(even.into_iter().map(|w| (true, w)));
    for (even, (w, top, mean, visit_cost)) in all {
        let limit = limit(top);
        let terms = VisitTerms { mean_hours_between_visits: mean, visit_cost, even };
        let best = best_visit_ages(&w, &terms, &limit, &Reach::default()).unwrap();
        Checks::of("best", &best).unwrap();
        let (shares, steps) = if even { (3, 6) } else { (12, 30) };
        let (mut least, mut alone) = (f64::INFINITY, f64::INFINITY);
        for k in 1..=steps {
            let age = top * f64::from(k) / f64::from(steps);
            let cost = |v: f64| visit_rule_cost(&w, &terms, v, age, &limit).unwrap().cost_per_hour;
            least = (0..=shares).map(|i| cost(age * f64::from(i) / f64::from(shares))).fold(least, f64::min);
            let random = VisitTerms { even: false, ..terms };
            alone = alone.min(visit_rule_cost(&w, &random, age, age, &limit).unwrap().cost_per_hour);
        }
        // Whole hours cost a little more than the best ages themselves.
        let (found, unused) = (best.cost.cost_per_hour, best.unused_cost_per_hour);
        assert!(found <= least * (1.0 + 1e-5), "{even} {mean} {visit_cost}: {least} {best:?}");
        assert!(unused <= alone * (1.0 + 1e-9) && found <= unused * (1.0 + 1e-5), "{alone} {best:?}");
        // Nor one close by, which no such grid meets.
        let (visit_age, age) = (best.visit_age_hours, best.cost.age_hours);
        for (v, a) in [(0.97, 1.0), (1.03, 1.0), (1.0, 0.97), (1.0, 1.03)] {
            let (v, a) = (v * visit_age, (a * age).min(top));
            let near = visit_rule_cost(&w, &terms, v.min(a), a, &limit).unwrap().cost_per_hour;
            assert!(found <= near * (1.0 + 1e-5), "{even} {mean} {visit_cost}, beside at {v} and {a}: {near} {best:?}");
        }
        let fixed = best_visit_age(&w, &terms, best.cost.age_hours, &limit, &Reach::default()).unwrap();
        close(fixed.cost.cost_per_hour, found, 1e-12, 0.0);
    }
}

#[test]
fn the_best_pair_ends_with_the_records_and_says_what_it_is_compared_with() {
    let w = world(Weibull { shape: 3.0, scale: 1000.0 }, 1000.0, 5000.0);
    let terms = terms(300.0, 300.0);
    let free = best_visit_ages(&w, &terms, &limit(2000.0), &Reach::default()).unwrap();
    assert_eq!(free.verdict, VisitVerdict::VisitsPay);
    assert!(free.sentence.contains("less than the best age without visits, "), "{}", free.sentence);
    // The best age without visits: both kinds of change cost 300 more.
    let alone = world(Weibull { shape: 3.0, scale: 1000.0 }, 1300.0, 5300.0);
    let single = planned_age(&alone, &limit(2000.0), &AgeOptions::default()).unwrap();
    close(free.unused_age_hours.unwrap(), single.optimum_hours, 1e-4, 0.0);
    close(free.unused_cost_per_hour, single.optimum_cost_per_hour, 1e-8, 0.0);
    let held = best_visit_ages(&w, &terms, &limit(2000.0), &Reach::to(400.0)).unwrap();
    assert!(held.cost.age_hours == 400.0 && held.sentence.contains("400 h, past which the records support no age"));
    let reason = Reach { extrapolate_because: Some("a trial".into()), ..Reach::to(400.0) };
    let further = best_visit_ages(&w, &terms, &limit(2000.0), &reason).unwrap();
    assert!(further.past_records() && further.sentence.ends_with("because: a trial"), "{}", further.sentence);
    // Even failures: a change before failure is money lost.
    let even = world(Weibull { shape: 1.0, scale: 1000.0 }, 1000.0, 5000.0);
    let none = best_visit_ages(&even, &terms, &limit(20_000.0), &Reach::default()).unwrap();
    assert_eq!((none.verdict, none.cost.age_hours), (VisitVerdict::NoVisitPays, 20_000.0));
    Checks::of("none", &none).unwrap();
}

#[test]
fn what_is_asked_wrongly_is_refused_by_name() {
    let w = world(Weibull { shape: 3.0, scale: 1000.0 }, 1.0, 5.0);
    let limit = limit(2000.0);
    let slug = |t, v, a| visit_rule_cost(&w, &t, v, a, &limit).unwrap_err().slug();
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(slug(terms(bad, 0.0), 100.0, 500.0), "policy.visit_hours");
    }
    for bad in [-1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(slug(terms(9.0, bad), 100.0, 500.0), "policy.visit_cost");
        assert_eq!(slug(terms(9.0, 0.0), bad, 500.0), "policy.visit_age");
    }
    assert_eq!(slug(terms(9.0, 0.0), 501.0, 500.0), "policy.visit_age");
    assert_eq!(slug(terms(9.0, 0.0), 100.0, 2001.0), "policy.age_past_limit");
    assert_eq!(slug(terms(9.0, 0.0), 0.0, 0.0), "policy.age");
    assert_eq!(
        best_visit_age(&w, &terms(9.0, 0.0), 2001.0, &limit, &Reach::default()).unwrap_err().slug(),
        "policy.age_past_limit"
    );
}

fn round(hours: f64, visit_cost: f64) -> VisitTerms {
    VisitTerms { mean_hours_between_visits: hours, visit_cost, even: true }
}

fn three() -> relamp::fit::World {
    series(
        950.0,
        &[
            (Ending::Burst, 4.0, 1900.0, 5200.0),
            (Ending::Seal, 0.7, 9000.0, 1800.0),
            (Ending::Dim, 2.2, 2500.0, 1250.0),
        ],
    )
}

/// Rounds on fixed days, drawn site by site, from new lamps to where the days of changes have mixed; then the last stretch counts.
#[test]
fn a_played_fleet_agrees_on_visits_at_equal_distances() {
    let limit = limit(1700.0);
    let mut list = Vec::new();
    for (i, (visit_age, age, every, visit_cost)) in [
        (700.0, 1500.0, 400.0, 240.0),
        (900.0, 1100.0, 400.0, 300.0),
        (0.0, 900.0, 350.0, 100.0),
        (1000.0, 1000.0, 250.0, 200.0),
        (600.0, 1300.0, 2000.0, 0.0),
        (500.0, 1400.0, 60.0, 500.0),
    ]
    .into_iter()
    .enumerate()
    {
        let mut w = three();
        if i % 2 == 1 {
            let back = Warranty::pro_rata(780.0, 1200.0, [Ending::Burst]).unwrap();
            let worth = relamp::terms::Salvage::new(300.0, 1600.0, 0.0).unwrap();
            w.costs = w.costs.with_warranty(back).unwrap().with_salvage(worth).unwrap();
        }
        let told = visit_rule_cost(&w, &round(every, visit_cost), visit_age, age, &limit).unwrap();
        Checks::of("told", &told).unwrap();
        let sockets = vec![SocketToday { age_hours: Some(0.0), hours_per_week: 168.0 }; 100_000];
        let rule = Rule::AtAgeOrVisit { age_hours: age, visit_age_hours: visit_age, join_changes: false };
        let assumptions = Assumptions {
            visits: Visits::Every { days: every / 24.0, first_day: None },
            visit_cost,
            ..Assumptions::new(&sockets, &w, rule, &limit)
        };
        let horizon = Horizon { period_days: 10.0 * age / 24.0, periods: 4 };
        let options = PlayOptions { horizon, replicates: 1, seed: 400 + i as u64 };
        let played = play_fleet(&assumptions, &options, &Run::new()).unwrap();
        let last = &played.periods[3];
        let lamps = last.burning_hours.mean / told.mean_age_at_change_hours;
        let mut compare = |what: &str, found: &relamp::simulate::Simulated, expected: f64| {
            list.push(Score::of(format!("from {visit_age} h, at {age} h, every {every} h: {what}"), found, expected));
        };
        compare("cost", &last.cost, told.cost_per_hour * last.burning_hours.mean);
        compare("planned", &last.planned, lamps * (told.at_visit + told.at_age));
        // A change at the later age on the day of a visit stands under the age there.
        for (kind, share) in [(PlannedChange::AtVisit, told.at_visit), (PlannedChange::AtAge, told.at_age)] {
            if let Some(found) = last.planned_by_kind.get(&kind).filter(|_| visit_age < age && share > 0.0) {
                compare("by kind", found, lamps * share);
            }
        }
        for (found, share) in last.failures_by_ending.values().zip(&told.failures) {
            compare("failures", found, lamps * share);
        }
    }
    assert!(list.len() >= 30);
    judge(&list, 0.5, 1.6);
}

#[test]
fn visits_at_equal_distances_meet_what_is_known() {
    let (w, limit) = (three(), limit(2000.0));
    let at = |age: f64| cost_curve(&w, &[age], &limit).unwrap().remove(0).cost_per_hour;
    let cost = |t, v, a| visit_rule_cost(&w, &t, v, a, &limit).unwrap().cost_per_hour;
    // Very often: half a distance past the visit age, on the mean, and as far for a lamp that was fitted at a visit.
    close(cost(round(0.5, 0.0), 700.25, 1500.0), at(700.5), 1e-6, 0.0);
    // Lives of which next to none ends before 2,000 h: every lamp is fitted at a visit and changed at the third one after it.
    let sure = world(Weibull { shape: 50.0, scale: 3000.0 }, 1.0, 5.0);
    let found = visit_rule_cost(&sure, &round(400.0, 7.0), 900.0, 1700.0, &limit).unwrap();
    close(found.mean_age_at_change_hours, 1200.0, 1e-6, 0.0);
    close(found.cost_per_hour, 1.0 / 1200.0, 1e-6, 0.0);
    // From the third visit on it takes a fourth.
    let found = visit_rule_cost(&sure, &round(400.0, 7.0), 1200.5, 1700.0, &limit).unwrap();
    close(found.mean_age_at_change_hours, 1600.0, 1e-6, 0.0);
    // Five lamps to the later age, and the sixth stands at the visit age on the day of the next visit.
    let found = visit_rule_cost(&sure, &round(1e4, 7.0), 1500.0, 1700.0, &limit).unwrap();
    close(found.at_visit, 1.0 / 6.0, 1e-6, 0.0);
    close(found.mean_age_at_change_hours, 1e4 / 6.0, 1e-6, 0.0);
    close(found.cost_per_hour, (6.0 + 5.0 * 7.0) / 1e4, 1e-6, 0.0);
    let even = world(relamp::family::Exponential { scale: 1500.0 }, 1.0, 5.0);
    let found = visit_rule_cost(&even, &round(300.0, 0.0), 0.0, 1900.0, &limit).unwrap();
    // Every visit changes every lamp: failures at their rate, and one change for each visit.
    close(found.cost_per_hour, 5.0 / 1500.0 + 1.0 / 300.0, 1e-6, 0.0);
}

#[test]
fn the_best_age_for_a_round_is_found() {
    let (w, limit) = (three(), limit(1700.0));
    for (every, visit_cost) in [(400.0, 240.0), (90.0, 600.0), (1100.0, 50.0)] {
        let t = round(every, visit_cost);
        let best = best_visit_age(&w, &t, 1700.0, &limit, &Reach::default()).unwrap();
        Checks::of("best", &best).unwrap();
        for i in 0..=34 {
            let other = visit_rule_cost(&w, &t, 50.0 * f64::from(i), 1700.0, &limit).unwrap();
            let least = best.cost.cost_per_hour.min(best.unused_cost_per_hour);
            assert!(other.cost_per_hour >= least * (1.0 - 2e-4), "{every}: {other:?} {best:?}");
        }
        let plain = cost_curve(&w, &[1700.0], &limit).unwrap().remove(0);
        assert!(best.unused_cost_per_hour > plain.cost_per_hour);
        let held = best_visit_age(&w, &t, 1700.0, &limit, &Reach::to(650.0)).unwrap();
        assert!(held.cost.age_hours == 650.0 && held.visit_age_hours <= 650.0);
    }
    let slug = |hours: f64| visit_rule_cost(&w, &round(hours, 0.0), 500.0, 1500.0, &limit).unwrap_err().slug();
    assert_eq!(slug(0.01), "policy.visits_apart");
    assert_eq!(slug(1e9), "policy.visits_apart");
}

/// Near-deterministic lives and short waits: the cost falls and rises again within a tenth of the planned age.
#[test]
fn a_dip_just_before_the_planned_age_is_found() {
    for (shape, scale, age, dearer) in
        [(20.0, 3000.0, 2927.458, 0.11), (8.0, 3000.0, 2775.0, 0.02), (50.0, 3000.0, 2950.0, 0.1)]
    {
        let w = world(Weibull { shape, scale }, 950.0, 1500.0);
        let (t, limit) = (terms(30.0, 0.0), limit(4000.0));
        let best = best_visit_age(&w, &t, age, &limit, &Reach::default()).unwrap();
        let cost = |visit_age: f64| visit_rule_cost(&w, &t, visit_age, age, &limit).unwrap().cost_per_hour;
        // Every tenth of an hour of the last fifth, and every hour before.
        let ages = (0..5000).map(|i| age * (1.0 - f64::from(i) / 25_000.0)).chain((0..2000).map(f64::from));
        let least = ages.map(cost).fold(f64::INFINITY, f64::min);
        assert!(cost(best.optimum_hours) <= least * (1.0 + 1e-12), "{shape}: {} {least}", best.optimum_hours);
        assert!(best.unused_cost_per_hour > least * (1.0 + dearer), "{shape}: {} {least}", best.unused_cost_per_hour);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn the_advice_keeps_the_limit_and_no_other_visit_age_costs_less(
        shape in prop_oneof![0.6..6.0_f64, 6.0..60.0_f64], scale in 300.0..5000.0_f64, failure in 1.1..30.0_f64,
        mean_hours in 20.0..3000.0_f64, visit_cost in -1.0..3.0_f64, share in 0.05..1.0_f64,
    ) {
        // Often no cost of a visit, where the slope is 0 at the planned age itself.
        let visit_cost = visit_cost.max(0.0);
        let w = world(Weibull { shape, scale }, 1.0, failure);
        let limit = limit(2000.0);
        let (t, age) = (terms(mean_hours, visit_cost), 2000.0 * share);
        let best = best_visit_age(&w, &t, age, &limit, &Reach::default()).unwrap();
        prop_assert!(Checks::of("best", &best).is_ok());
        prop_assert!(best.visit_age_hours <= age && best.optimum_hours <= age);
        let least = visit_rule_cost(&w, &t, best.optimum_hours, age, &limit).unwrap().cost_per_hour;
        for i in 0..=40 {
            let other = visit_rule_cost(&w, &t, age * (f64::from(i) / 40.0), age, &limit).unwrap();
            prop_assert!(other.cost_per_hour >= least * (1.0 - 1e-9), "{} {least}", other.cost_per_hour);
            prop_assert!(Checks::of("cost", &other).is_ok());
        }
    }
}

/// Weak batches that fail within a few hours: the polynomials miss a little of them, and what is told stays a distribution.
#[test]
fn shares_of_even_visits_are_shares_beside_narrow_modes() {
    for i in 0..24_u32 {
        let part = |shape: f64, scale: f64| Box::new(Weibull { shape, scale });
        let weak = part(90.0 + 3.0 * f64::from(i), 800.0 + 47.0 * f64::from(i));
        let sound = part(70.0 + 5.0 * f64::from(i), 3500.0 + 61.0 * f64::from(i));
        let w = world(Mixture::new(weak, sound, 0.1 + 0.008 * f64::from(i)).unwrap(), 1.0, 11.0);
        let (every, top) = (900.0 + 37.0 * f64::from(i), 5500.0);
        for from in [0.02, 0.2, 0.4, 0.7].map(|share| share * top) {
            let cost = visit_rule_cost(&w, &round(every, 0.6), from, top, &limit(top)).unwrap();
            Checks::of("cost", &cost).unwrap();
        }
    }
}
