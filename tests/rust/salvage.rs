//! The worth of a used lamp in every rule: closed forms, integrals of another program, a played-out fleet, and none at all.

use proptest::prelude::*;
use relamp::base::saved::{self, Format};
use relamp::base::sound::Checks;
use relamp::demand::{Calendar, Horizon, SocketToday};
use relamp::family::{Exponential, Gamma, Weibull};
use relamp::fit::World;
use relamp::policy::{
    AgeOptions, BlockVerdict, Objective, Reach, Verdict, VisitTerms, WorldCurve, best_visit_age, block_costs,
    block_interval, capped_age, cost_bars, cost_curve, horizon_age, horizon_costs, least_regret, objective_curve,
    planned_age, unlimited_optimum, visit_rule_cost,
};
use relamp::records::Ending;
use relamp::simulate::{Assumptions, PlayOptions, Rule, Visits, play_fleet};
use relamp::terms::{CostParts, Costs, DarkMinutes, Discount, Salvage, Span, Warranty};
use relamp::{Kind, Run};
use serde_json::Value;

use crate::chain_demand::{all, ask, day, screen};
use crate::simulate::agreement::{Score, judge, settled};
use crate::worlds::{Even, Steps, close, limit, number, series, world};

/// The same world where a used lamp is worth something.
fn used(mut w: World, of_new: f64, gone: f64, left: f64) -> World {
    w.costs = w.costs.with_salvage(Salvage::new(of_new, gone, left).unwrap()).unwrap();
    w
}

/// The invented world of `make_salvage.py`.
fn stored_world() -> World {
    let mut w = series(950.0, &[(Ending::Burst, 3.5, 1800.0, 5200.0), (Ending::Dim, 2.2, 2600.0, 1250.0)]);
    w.costs = w.costs.with_warranty(Warranty::pro_rata(300.0, 1000.0, [Ending::Burst]).unwrap()).unwrap();
    used(w, 400.0, 2000.0, 500.0)
}

fn stored() -> Value {
    serde_json::from_str(include_str!("../data/salvage.json")).unwrap()
}

fn rows(v: &Value) -> Vec<Vec<f64>> {
    v.as_array().unwrap().iter().map(|row| row.as_array().unwrap().iter().map(number).collect()).collect()
}

fn options(objective: Objective) -> AgeOptions {
    AgeOptions { objective, ..AgeOptions::default() }
}

#[test]
fn costs_and_best_ages_are_those_of_another_program() {
    let (w, all, far) = (stored_world(), stored(), limit(5000.0));
    for (key, objective) in [
        ("plain", Objective::CostPerHour),
        ("discounted", Objective::DiscountedCost(Discount::per_hour(1e-4).unwrap())),
    ] {
        let ages: Vec<f64> = all[key]["ages"].as_array().unwrap().iter().map(number).collect();
        let points = objective_curve(&w, &objective, &ages, &far).unwrap();
        for (point, cost) in points.iter().zip(all[key]["costs"].as_array().unwrap()) {
            close(point.cost_per_hour, number(cost), 1e-11, 0.0);
            Checks::of("point", point).unwrap();
        }
        let best = planned_age(&w, &far, &options(objective.clone())).unwrap();
        close(best.optimum_hours, number(&all[key]["best"][0]), 1e-9, 0.0);
        close(best.optimum_cost_per_hour, number(&all[key]["best"][1]), 1e-11, 0.0);
        // The first-order condition at the optimum, the fall of the worth in it.
        let curve = WorldCurve::of(&w, &objective).unwrap();
        let residual = curve.slope(&curve.up_to(best.optimum_hours).unwrap()) / 950.0;
        assert!(residual.abs() < 1e-10, "{residual}");
    }
}

#[test]
fn the_slope_is_that_of_the_cost_on_both_sides_of_the_end() {
    let w = stored_world();
    for objective in [Objective::CostPerHour, Objective::DiscountedCost(Discount::per_hour(1e-4).unwrap())] {
        let curve = WorldCurve::of(&w, &objective).unwrap();
        let rate = if objective == Objective::CostPerHour { 0.0 } else { 1e-4 };
        for age in [300.0, 900.0, 1400.0, 1600.0, 1990.0, 3000.0_f64] {
            let cost = |age: f64| curve.cost(&curve.up_to(age).unwrap());
            let h = 1e-3 * age;
            let slope =
                (8.0 * (cost(age + h) - cost(age - h)) - cost(age + 2.0 * h) + cost(age - 2.0 * h)) / (12.0 * h);
            let upto = curve.up_to(age).unwrap();
            let weight = (curve.ln_reliability(age) - rate * age).exp() / upto.exposure_hours.powi(2);
            close(curve.slope(&upto) * weight, slope, 1e-6, 1e-12);
        }
    }
}

/// With an even rate `a` the cost is `a [c + (p - s(T)) / (exp(a T) - 1)]`: without a drop of the worth no planned change
/// pays, with one the best age lies just before it.
#[test]
fn at_an_even_rate_only_a_drop_makes_a_change_pay() {
    let (rate, top) = (1e-3, limit(3000.0));
    let plain = || world(Exponential { scale: 1.0 / rate }, 950.0, 1000.0);
    let cost = |t: f64, worth: f64| rate * (1000.0 + (950.0 - worth) / (rate * t).exp_m1());
    let smooth = used(plain(), 940.0, 2500.0, 0.0);
    for age in [100.0, 1000.0, 2500.0, 3000.0] {
        let found = cost_curve(&smooth, &[age], &top).unwrap().remove(0).cost_per_hour;
        close(found, cost(age, 940.0 * (1.0 - age / 2500.0).max(0.0)), 1e-12, 0.0);
    }
    let best = planned_age(&smooth, &top, &AgeOptions::default()).unwrap();
    assert_eq!((best.verdict, best.age_hours), (Verdict::NoPlannedChangePays, 3000.0));
    // 940 of worth, all of it down to 20 h: just before 480 h a change costs 950 - 940 x 20 / 500.
    let steep = used(plain(), 940.0, 500.0, 20.0);
    let before = cost(480.0, 940.0 * 20.0 / 500.0);
    assert!(before > cost(3000.0, 0.0));
    let best = planned_age(&steep, &top, &AgeOptions::default()).unwrap();
    assert_eq!(best.verdict, Verdict::NoPlannedChangePays);
    // A worth that hardly falls and is lost at once at 1,500 h.
    let dropped = used(plain(), 940.0, 100_000.0, 98_500.0);
    let best = planned_age(&dropped, &top, &AgeOptions::default()).unwrap();
    assert_eq!((best.verdict, best.age_hours), (Verdict::BestBelowLimit, 1499.0));
    close(best.optimum_hours, 1500.0, 1e-12, 0.0);
    close(best.optimum_cost_per_hour, cost(1500.0, 940.0 * 0.985), 1e-11, 0.0);
    close(best.cost.cost_per_hour, cost(1499.0, 940.0 * (1.0 - 1499.0 / 100_000.0)), 1e-11, 0.0);
    assert!(cost_curve(&dropped, &[1500.0], &top).unwrap()[0].cost_per_hour > 1.2 * best.optimum_cost_per_hour);
    Checks::of("best", &best).unwrap();
}

/// Lamps that all die at 2,000 h: before that the cost is `(p - s0) / T + s0 / g`, then `p / T`.
#[test]
fn a_life_of_fixed_length_is_changed_before_its_end_or_before_the_drop() {
    let (life, top) = (|| Steps(vec![2000.0]), limit(3000.0));
    let found = |w: &World| planned_age(w, &top, &AgeOptions::default()).unwrap();
    let plain = found(&world(life(), 950.0, 5200.0));
    assert_eq!(plain.age_hours, 1999.0);
    // The worth drops at 1,200 h from 900 x 0.4 = 360; changed there a lamp costs (950 - 360) / 1200 = 0.492, at its end
    // 950 / 2000 = 0.475.
    let late = found(&used(world(life(), 950.0, 5200.0), 900.0, 2000.0, 800.0));
    assert_eq!(late.age_hours, 1999.0);
    close(late.optimum_cost_per_hour, 950.0 / 2000.0, 1e-12, 0.0);
    // With a worth that is lost at 1,500 h from 0.5 x 900 = 450: 500 / 1500 = 0.333.
    let w = used(world(life(), 950.0, 5200.0), 900.0, 3000.0, 1500.0);
    let early = found(&w);
    assert_eq!(early.age_hours, 1499.0);
    close(early.optimum_cost_per_hour, 500.0 / 1500.0, 1e-12, 0.0);
    // Both are places where the cost stops falling.
    let minima = unlimited_optimum(&w).unwrap().minima;
    assert_eq!(minima.iter().map(|m| m.0.round()).collect::<Vec<_>>(), [1500.0, 2000.0]);
    close(minima[1].1, 950.0 / 2000.0, 1e-12, 0.0);
}

/// Lives spread evenly over (0, e): the cost is a ratio of polynomials.
#[test]
fn an_even_spread_of_lives_has_its_optimum_where_the_polynomials_say() {
    let (e, p, c, s0, g) = (2000.0, 950.0, 1500.0, 600.0, 2500.0);
    let w = used(world(Even(e), p, c), s0, g, 0.0);
    let cost = |t: f64| ((p - s0 * (1.0 - t / g)) * (1.0 - t / e) + c * t / e) / (t - t * t / (2.0 * e));
    // N = p - s0 + t (s0 / g - (p - s0) / e + c / e) - s0 t^2 / (g e); N' M = N M' is a quadratic in t.
    let (n0, n1, n2) = (p - s0, s0 / g + (c - p + s0) / e, -s0 / (g * e));
    let (a, b) = (n2 + n1 / (2.0 * e), n0 / e);
    // M = t - t^2 / 2e: t^2 (n2 + n1 / 2e) + t n0 / e - n0 = 0.
    let root = (-b + (b * b + 4.0 * a * n0).sqrt()) / (2.0 * a);
    let best = planned_age(&w, &limit(1999.0), &AgeOptions::default()).unwrap();
    close(best.optimum_hours, root, 1e-9, 0.0);
    close(best.optimum_cost_per_hour, cost(root), 1e-12, 0.0);
    // Without the worth the change comes later: its fall makes every wait dearer.
    let plain = planned_age(&world(Even(e), p, c), &limit(1999.0), &AgeOptions::default()).unwrap();
    assert!(plain.optimum_hours > best.optimum_hours + 100.0, "{} {root}", plain.optimum_hours);
}

/// A used lamp brings all but a coin of what a planned change costs, so that the best age is a few hours.
#[test]
fn an_age_far_below_what_the_plain_costs_allow_is_found() {
    let w = used(world(Weibull { shape: 3.0, scale: 1800.0 }, 950.0, 9000.0), 949.999, 1e7, 0.0);
    let top = limit(2500.0);
    let best = planned_age(&w, &top, &AgeOptions::default()).unwrap();
    let ages: Vec<f64> = (10..25_000).map(|i| 0.1 * f64::from(i)).collect();
    let costs = cost_curve(&w, &ages, &top).unwrap();
    let least = costs.iter().min_by(|a, b| a.cost_per_hour.total_cmp(&b.cost_per_hour)).unwrap();
    assert!(least.age_hours < 10.0, "{least:?}");
    close(best.optimum_hours, least.age_hours, 0.02, 0.0);
    assert!(best.optimum_cost_per_hour <= least.cost_per_hour * (1.0 + 1e-12));
}

#[test]
fn a_lamp_that_a_visit_takes_early_brings_its_worth() {
    let (w, all, far) = (stored_world(), stored(), limit(2000.0));
    let terms = |mean, visit_cost| VisitTerms { mean_hours_between_visits: mean, visit_cost, even: false };
    for row in rows(&all["visits"]) {
        let [from, age, mean, trip, cost] = row[..] else { panic!("{row:?}") };
        let found = visit_rule_cost(&w, &terms(mean, trip), from, age, &far).unwrap();
        // A visit age below a billionth of the age counts as that: visits are used a little later than from the start.
        close(found.cost_per_hour, cost, if from == 0.0 { 2e-9 } else { 1e-10 }, 0.0);
    }
    let best = best_visit_age(&w, &terms(300.0, 240.0), 1800.0, &far, &Reach::default()).unwrap();
    close(best.optimum_hours, number(&all["visit_best"][0]), 1e-9, 0.0);
    close(best.cost.cost_per_hour, number(&all["visit_best"][1]), 1e-6, 0.0);
    // The end of the worth is a corner: the least cost is found on either side of it.
    for (of_new, gone, left) in [(900.0, 2000.0, 1200.0), (940.0, 4000.0, 3300.0), (500.0, 1700.0, 0.0)] {
        let w = used(series(950.0, &[(Ending::Burst, 3.5, 1800.0, 5200.0)]), of_new, gone, left);
        let best = best_visit_age(&w, &terms(200.0, 100.0), 1700.0, &far, &Reach::default()).unwrap();
        let cost = |v: f64| visit_rule_cost(&w, &terms(200.0, 100.0), v, 1700.0, &far).unwrap().cost_per_hour;
        let least = (0..=3400).map(|i| cost(0.5 * f64::from(i))).fold(f64::INFINITY, f64::min);
        assert!(cost(best.optimum_hours) <= least * (1.0 + 1e-9), "{} {least}", best.optimum_hours);
    }
}

#[test]
fn lamps_changed_all_together_bring_the_worth_of_their_ages() {
    let (all, far) = (stored(), limit(1e6));
    let w = used(world(Gamma { shape: 2.0, scale: 1200.0 }, 950.0, 5200.0), 400.0, 2000.0, 500.0);
    for row in rows(&all["blocks"]) {
        let [every, worth, cost] = row[..] else { panic!("{row:?}") };
        let found = block_costs(&w, &[every], &far, None).unwrap().remove(0);
        close(found.used_worth, worth, 1e-9, 0.0);
        close(found.cost_per_hour, cost, 1e-10, 0.0);
        Checks::of("block", &found).unwrap();
    }
    // The interval of least cost is at or just before the end of the worth, or a dip: no whole hour costs less.
    for (shape, of_new, gone, left, top) in [
        (3.0, 400.0, 2000.0, 500.0, 2500.0),
        (1.2, 900.0, 2000.0, 1200.0, 2500.0),
        (2.0, 900.0, 900.0, 100.0, 900.0),
        (1.0, 900.0, 1e5, 98_500.0, 2500.0),
        (1.4, 940.0, 1e5, 99_237.5, 2500.0),
    ] {
        let w = used(world(Weibull { shape, scale: 1800.0 }, 950.0, 5200.0), of_new, gone, left);
        let top = limit(top);
        let best = block_interval(&w, &top, None, &Reach::default()).unwrap();
        Checks::of("block", &best).unwrap();
        let hours: Vec<f64> = (1..4000).map(f64::from).collect();
        let costs = block_costs(&w, &hours, &top, None).unwrap();
        let least = costs.iter().min_by(|a, b| a.cost_per_hour.total_cmp(&b.cost_per_hour)).unwrap();
        match best.advice {
            Some(advice) => {
                close(advice.cost_per_hour, least.cost_per_hour, 1e-9, 0.0);
                assert_eq!(best.verdict, BlockVerdict::BlocksPay);
            }
            None => assert!(least.cost_per_hour > best.without_blocks_cost_per_hour * (1.0 - 1.1e-3)),
        }
    }
}

/// Mean planned changes at an even rate before a horizon: R(A) for each change, and for the start, at least A before it.
fn planned(t: f64, age: f64, scale: f64) -> f64 {
    if t <= age { 0.0 } else { (-age / scale).exp() * (1.0 + (t - age) / scale + planned(t - age, age, scale)) }
}

#[test]
fn to_a_horizon_each_planned_change_costs_less_its_worth() {
    let (scale, horizon, top) = (1000.0, 3300.0, limit(4000.0));
    let w = used(world(Exponential { scale }, 950.0, 5200.0), 400.0, 2000.0, 500.0);
    let worth = |t: f64| if t < 1500.0 { 400.0 * (1.0 - t / 2000.0) } else { 0.0 };
    for age in [250.0, 700.0, 1100.0, 1499.0, 1500.0, 1650.0] {
        let found = horizon_costs(&w, horizon, 0.0, &[age], &top).unwrap().remove(0);
        let expected = horizon / scale * 5200.0 + (950.0 - worth(age)) * planned(horizon, age, scale);
        close(found.cost, expected, 1e-10, 0.0);
        // Today's lamp is past the age: changed at once, it brings the worth of its own age.
        let late = horizon_costs(&w, horizon, 1400.0, &[age.min(1200.0)], &top).unwrap().remove(0);
        let new =
            horizon / scale * 5200.0 + (950.0 - worth(age.min(1200.0))) * planned(horizon, age.min(1200.0), scale);
        close(late.cost, new + 950.0 - worth(1400.0), 1e-10, 0.0);
    }
    // The best age of a horizon, next to the drop too.
    for (shape, of_new, gone, left) in [
        (4.0, 900.0, 2000.0, 500.0),
        (4.0, 900.0, 2000.0, 1300.0),
        (4.0, 900.0, 2000.0, 0.0),
        (1.0, 900.0, 20_000.0, 19_300.0),
        (1.2, 940.0, 20_000.0, 19_022.0),
        (1.6, 800.0, 20_000.0, 19_200.0),
    ] {
        let w = used(world(Weibull { shape, scale: 1000.0 }, 950.0, 1700.0), of_new, gone, left);
        let best = horizon_age(&w, 2500.0, 0.0, &limit(1500.0), &Reach::default()).unwrap();
        let ages: Vec<f64> = (100..=1500).map(f64::from).collect();
        let all = horizon_costs(&w, 2500.0, 0.0, &ages, &limit(1500.0)).unwrap();
        let least = all.iter().min_by(|a, b| a.cost.total_cmp(&b.cost)).unwrap();
        let told = (shape, left, best.age_hours, least.age_hours);
        assert!(best.cost.cost <= least.cost * (1.0 + 1e-9), "{told:?}");
    }
}

#[test]
fn a_played_fleet_agrees() {
    let w = stored_world();
    let reliability = |a: f64| w.causes.iter().map(|c| c.life.ln_reliability(a)).sum::<f64>().exp();
    let socket = |age: f64, hours_per_week: f64| SocketToday { age_hours: Some(age), hours_per_week };
    let settled_at = |there: &dyn Fn(f64) -> f64, end: f64| -> Vec<SocketToday> {
        settled(there, end, 2000).iter().flat_map(|a| std::iter::repeat_n(socket(*a, 70.0), 50)).collect()
    };
    let mut list = Vec::new();
    let play = |sockets: &[SocketToday], rule, visits, trip, top: f64, days: f64, seed| {
        let limit = limit(top);
        let assumptions = Assumptions { visits, visit_cost: trip, ..Assumptions::new(sockets, &w, rule, &limit) };
        let horizon = Horizon { period_days: days, periods: 1 };
        play_fleet(&assumptions, &PlayOptions { horizon, replicates: 1, seed }, &Run::new()).unwrap()
    };
    for (age, seed) in [(700.0, 31), (1499.0, 32), (1600.0, 33), (1900.0, 34)] {
        let point = cost_curve(&w, &[age], &limit(2000.0)).unwrap().remove(0);
        let sockets = settled_at(&reliability, age);
        let played = play(&sockets, Rule::AtAge { age_hours: age }, Visits::Never, 0.0, 2000.0, 120.0, seed);
        list.push(Score::of(format!("at {age} h"), &played.cost_per_hour.unwrap(), point.cost_per_hour));
    }
    for (from, age, seed) in [(500.0, 1400.0, 41), (900.0, 1800.0, 42), (1450.0, 1800.0, 43)] {
        let terms = VisitTerms { mean_hours_between_visits: 300.0, visit_cost: 240.0, even: false };
        let told = visit_rule_cost(&w, &terms, from, age, &limit(2000.0)).unwrap();
        let there = |a: f64| reliability(a) * (-(a - from).max(0.0) / 300.0).exp();
        let rule = Rule::AtAgeOrVisit { age_hours: age, visit_age_hours: from, join_changes: false };
        let visits = Visits::Random { mean_days: 30.0 };
        let played = play(&settled_at(&there, age), rule, visits, 240.0, 2000.0, 130.0, seed);
        list.push(Score::of(format!("visits from {from} h"), &played.cost_per_hour.unwrap(), told.cost_per_hour));
    }
    // The limit is reached before the change of all, once, twice and never; the worth ends in between.
    for (every, top, seed) in
        [(1300.0, 2000.0, 51), (1700.0, 1600.0, 52), (2500.0, 1100.0, 53), (3600.0, 1550.0, 54), (1520.0, 1500.0, 55)]
    {
        let found = block_costs(&w, &[every], &limit(top), None).unwrap().remove(0);
        let days = every / 24.0;
        let rule = Rule::OnCalendar { every_days: days, first_day: days, from_age_hours: 0.0 };
        let sockets = vec![socket(0.0, 168.0); 100_000];
        let played = play(&sockets, rule, Visits::Never, 0.0, top, 2.0 * days, seed);
        list.push(Score::of(format!("all every {every} h"), &played.cost_per_hour.unwrap(), found.cost_per_hour));
    }
    for (first, age, horizon, seed) in
        [(0.0, 800.0, 2600.0, 61), (500.0, 800.0, 2600.0, 62), (1100.0, 800.0, 1700.0, 63), (700.0, 1450.0, 3100.0, 64)]
    {
        let found = horizon_costs(&w, horizon, first, &[age], &limit(2000.0)).unwrap().remove(0);
        let sockets = vec![socket(first, 168.0); 100_000];
        let played = play(&sockets, Rule::AtAge { age_hours: age }, Visits::Never, 0.0, 2000.0, horizon / 24.0, seed);
        list.push(Score::of(format!("to {horizon} h from {first} h"), &played.whole.cost, 1e5 * found.cost));
    }
    judge(&list, 0.5, 1.6);
}

#[test]
fn a_forecast_prices_lamps_that_are_past_their_age_by_their_own() {
    // Lamps that never fail, 10 h a day. One of 1,000 h to be changed at 800 h, at once and after 80 days; one of unknown
    // age, worth nothing; one of 500 h, changed after 30 days.
    let w = used(world(Weibull { shape: 3.0, scale: 1e9 }, 950.0, 5200.0), 400.0, 2000.0, 500.0);
    let calendar = Calendar::new(day(2026, 1, 1), 3).unwrap();
    let costs = |ages: &[Option<f64>]| {
        let rows: Vec<_> =
            ages.iter().map(|age| relamp::demand::Screen { age_hours: *age, ..screen(0.0, 70.0) }).collect();
        all(&ask(&rows, &w, 800.0, &calendar)).months.iter().map(|m| m.planned_cost).collect::<Vec<_>>()
    };
    let (at_age, at_1000) = (950.0 - 400.0 * 0.6, 950.0 - 400.0 * 0.5);
    for (ages, expected) in [
        (vec![Some(500.0)], [at_age, 0.0, 0.0]),
        (vec![Some(1000.0)], [at_1000, 0.0, at_age]),
        (vec![None], [950.0, 0.0, at_age]),
        (vec![Some(1000.0), Some(1000.0), Some(500.0)], [2.0 * at_1000 + at_age, 0.0, 2.0 * at_age]),
    ] {
        for (found, cost) in costs(&ages).iter().zip(expected) {
            close(*found, cost, 1e-9, 1e-6);
        }
    }
}

/// Parts of a cost that fall and a range of them.
#[test]
fn costs_from_parts_keep_the_worth() {
    let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)]).unwrap();
    let lamp = Span { low: 500.0, high: 900.0 };
    let parts =
        CostParts::new(lamp, Span::known(60.0), (Span::known(0.0), Span::known(0.0)), Span::known(1.0), dark, [])
            .unwrap();
    let salvage = Salvage::new(300.0, 2000.0, 0.0).unwrap();
    let with = parts.clone().with_salvage(salvage).unwrap();
    assert_eq!(with.middle().unwrap().planned_at(1000.0), 805.0 - 150.0);
    assert_eq!(with.drawn(1, 7).unwrap().salvage(), Some(&salvage));
    // Where the lamp is cheapest a planned change costs 605.
    let error = parts.clone().with_salvage(Salvage::new(605.0, 2000.0, 0.0).unwrap()).unwrap_err();
    assert_eq!(error.slug(), "terms.salvage_above_planned");
    let format = Format::new("parts", 1);
    let loaded: CostParts = saved::load(format, &saved::save(format, &with).unwrap()).unwrap();
    assert_eq!(loaded, with);
    assert!(!saved::save(format, &parts).unwrap().contains("salvage"));
}

#[test]
fn a_worth_known_to_a_range_is_a_part_like_the_others() {
    let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0)]).unwrap();
    let (visit, damage) = ((Span::known(0.0), Span::known(0.0)), [(Ending::Burst, Span::known(100.0))]);
    let lamp = Span { low: 500.0, high: 900.0 };
    let parts = CostParts::new(lamp, Span::known(60.0), visit, Span::known(1.0), dark, damage).unwrap();
    let salvage = Salvage::new(1.0, 2000.0, 500.0).unwrap();
    let worth = Span { low: 100.0, high: 300.0 };
    let with = parts.clone().with_salvage_between(salvage, worth).unwrap();
    assert_eq!(with.parts().last(), Some(&("salvage".to_owned(), worth)));
    assert_eq!(with.parts().len(), parts.parts().len() + 1);
    let at = |place: f64| with.at(|_| place).unwrap();
    assert_eq!((at(0.0).planned_at(1000.0), at(1.0).planned_at(1000.0)), (605.0 - 50.0, 1005.0 - 150.0));
    // Damage keeps its own place in the range, and the hours are those given.
    assert_eq!((at(1.0).failure(Ending::Burst).unwrap(), at(1.0).planned_at(1500.0)), (1420.0, 1005.0));
    // A known worth is the salvage itself.
    let known = parts.clone().with_salvage_between(salvage, Span::known(200.0)).unwrap();
    let same = parts.clone().with_salvage(Salvage::new(200.0, 2000.0, 500.0).unwrap()).unwrap();
    assert_eq!(known.drawn(1, 3).unwrap(), same.drawn(1, 3).unwrap());
    // A lamp at its cheapest, 605 a change, and a used one at its dearest.
    let error = parts.clone().with_salvage_between(salvage, Span { low: 0.0, high: 605.0 }).unwrap_err();
    assert_eq!(error.slug(), "terms.salvage_above_planned");
    for worth in [Span { low: 2.0, high: 1.0 }, Span { low: -1.0, high: 1.0 }, Span { low: 0.0, high: f64::NAN }] {
        let error = parts.clone().with_salvage_between(salvage, worth).unwrap_err();
        assert_eq!((error.slug(), error.problems()[0].place.column.as_deref()), ("terms.part_range", Some("salvage")));
    }
    let format = Format::new("parts", 1);
    let text = saved::save(format, &with).unwrap();
    assert_eq!(saved::load::<CostParts>(format, &text).unwrap(), with);
    for (from, to) in [("\"high\":300.0", "\"high\":250.0"), ("\"salvage\":{", "\"salvage\":null,\"x\":{")] {
        let edited = text.replace(from, to);
        assert!(edited != text && saved::load::<CostParts>(format, &edited).is_err(), "{from}");
    }
    assert!(
        saved::load::<CostParts>(format, &text.replace("\"worth_of_new\":300.0", "\"worth_of_new\":299.0")).is_err()
    );
}

#[test]
fn what_is_no_worth_is_refused_by_name() {
    for (of_new, gone, left, columns) in [
        (-1.0, 2000.0, 0.0, vec!["worth_of_new"]),
        (f64::NAN, f64::INFINITY, 0.0, vec!["worth_of_new", "gone_hours"]),
        (2e12, 0.5, -1.0, vec!["worth_of_new", "gone_hours", "least_hours_left"]),
        (10.0, 2000.0, 2000.0, vec!["least_hours_left"]),
        (10.0, 2000.0, f64::NAN, vec!["least_hours_left"]),
    ] {
        let error = Salvage::new(of_new, gone, left).unwrap_err();
        let named: Vec<_> = error.problems().iter().map(|p| p.place.to_string()).collect();
        assert_eq!(named.len(), columns.len(), "{error}");
        for (place, column) in named.iter().zip(columns) {
            assert!(place.contains(column), "{place} {column}");
        }
        assert_eq!(error.kind(), Kind::Input);
    }
    let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)]).unwrap();
    for of_new in [950.0, 951.0] {
        let error = costs.clone().with_salvage(Salvage::new(of_new, 2000.0, 0.0).unwrap()).unwrap_err();
        assert_eq!(error.slug(), "terms.salvage_above_planned");
        assert!(error.to_string().contains("950") && error.to_string().contains("planned"), "{error}");
    }
    // A bar that halves the planned cost below the worth, and a change of all that costs less.
    let w = used(world(Weibull { shape: 3.0, scale: 1800.0 }, 950.0, 5200.0), 600.0, 2000.0, 0.0);
    let error = cost_bars(&w, 2.0, &limit(2000.0), &AgeOptions::default()).unwrap_err();
    assert_eq!(error.slug(), "terms.salvage_above_planned");
    let error = block_costs(&w, &[900.0], &limit(2000.0), Some(600.0)).unwrap_err();
    assert_eq!(error.slug(), "policy.block_cost");
    assert!(error.to_string().contains("600"), "{error}");
}

#[test]
fn saved_costs_of_before_load_and_edited_ones_are_refused() {
    let format = Format::new("costs", 1);
    let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)]).unwrap();
    let text = saved::save(format, &costs).unwrap();
    assert!(!text.contains("salvage"));
    assert_eq!(saved::load::<Costs>(format, &text).unwrap(), costs);
    let with = costs.with_salvage(Salvage::new(400.0, 2000.0, 500.0).unwrap()).unwrap();
    let text = saved::save(format, &with).unwrap();
    assert_eq!(saved::load::<Costs>(format, &text).unwrap(), with);
    assert!(text.contains("400.0"), "{text}");
    for (from, to) in [("400.0", "960.0"), ("2000.0", "400.0"), ("500.0", "-1.0"), ("400.0", "-400.0")] {
        assert!(saved::load::<Costs>(format, &text.replace(from, to)).is_err(), "{from} {to}");
    }
}

/// Every answer in money of a world, as it is saved.
fn answers(w: &World) -> String {
    let top = limit(2000.0);
    let asked = AgeOptions { todays_rule_hours: Some(1700.0), ..AgeOptions::default() };
    let terms = VisitTerms { mean_hours_between_visits: 300.0, visit_cost: 240.0, even: false };
    let sockets = vec![SocketToday { age_hours: Some(300.0), hours_per_week: 70.0 }; 20];
    let rule = Rule::AtAge { age_hours: 1100.0 };
    let horizon = Horizon { period_days: 100.0, periods: 2 };
    let assumptions = Assumptions::new(&sockets, w, rule, &top);
    let played = play_fleet(&assumptions, &PlayOptions { horizon, replicates: 3, seed: 2 }, &Run::new()).unwrap();
    let discounted = options(Objective::DiscountedCost(Discount::per_hour(1e-5).unwrap()));
    let told = (
        planned_age(w, &top, &asked).unwrap(),
        planned_age(w, &top, &discounted).unwrap(),
        horizon_age(w, 3000.0, 200.0, &top, &Reach::default()).unwrap(),
        best_visit_age(w, &terms, 1800.0, &top, &Reach::default()).unwrap(),
        block_interval(w, &top, None, &Reach::default()).unwrap(),
        least_regret(w, (0.5, 2.0), &top, &asked).unwrap(),
        cost_bars(w, 1.5, &top, &asked).unwrap(),
    );
    format!("{}{}", serde_json::to_string(&told).unwrap(), serde_json::to_string(&played.whole).unwrap())
}

#[test]
fn dark_minutes_know_no_worth_and_caps_take_it() {
    use relamp::lives::{Rows, Tally};
    use relamp::policy::{CapLine, RiskCaps, RiskRecords, RiskSource};
    let w = stored_world();
    let dark = Objective::DarkMinutes(DarkMinutes::new(30.0, [(Ending::Burst, 240.0), (Ending::Dim, 90.0)]).unwrap());
    let plain = series(950.0, &[(Ending::Burst, 3.5, 1800.0, 5200.0), (Ending::Dim, 2.2, 2600.0, 1250.0)]);
    let (with, without) = (
        planned_age(&w, &limit(2000.0), &options(dark.clone())).unwrap(),
        planned_age(&plain, &limit(2000.0), &options(dark)).unwrap(),
    );
    assert_eq!(with, without);
    let rows = Rows { low: vec![1500.0], high: vec![f64::INFINITY], count: Some(vec![100]), ..Rows::default() };
    let (tally, _) = Tally::from_rows(&rows).unwrap();
    let caps = RiskCaps {
        ending: Ending::Burst,
        most_before_age: Some(0.01),
        most_in_show: None,
        show_hours: 2.2,
        level: 0.95,
    };
    let source = || RiskSource::Records(RiskRecords::of(&tally, &[Ending::Burst], 1.0).unwrap());
    let lines = [CapLine { unknown_counted: false, source: source() }];
    let capped = capped_age(&w, &caps, &lines, &limit(2000.0), &AgeOptions::default(), &Run::new()).unwrap();
    let at = cost_curve(&w, &[503.0], &limit(2000.0)).unwrap().remove(0);
    assert_eq!(capped.age_hours, Some(503.0));
    close(capped.cost.unwrap().cost_per_hour, at.cost_per_hour, 1e-12, 0.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn no_worth_is_no_worth_to_the_bit(shape in 0.8_f64..6.0, scale in 500.0_f64..4000.0, failure in 800.0_f64..9000.0,
                                       gone in 100.0_f64..4000.0, left in 0.0_f64..0.9) {
        let w = || series(950.0, &[(Ending::Burst, shape, scale, failure), (Ending::Dim, 2.2, 2600.0, 1250.0)]);
        prop_assert_eq!(answers(&used(w(), 0.0, gone, left * gone)), answers(&w()));
    }

    #[test]
    fn the_least_cost_is_found_wherever_the_worth_ends(shape in 0.6_f64..8.0, failure in 400.0_f64..9000.0,
                                                      of_new in 1.0_f64..949.0, gone in 100.0_f64..4000.0,
                                                      left in 0.0_f64..0.95) {
        let w = used(world(Weibull { shape, scale: 1800.0 }, 950.0, failure), of_new, gone, left * gone);
        let top = limit(2500.0);
        let best = planned_age(&w, &top, &AgeOptions::default()).unwrap();
        Checks::of("best", &best).unwrap();
        let mut ages: Vec<f64> = (1..=2500).map(f64::from).collect();
        ages.extend([gone * (1.0 - left), (gone * (1.0 - left)).next_down()].into_iter().filter(|a| *a <= 2500.0));
        let costs = cost_curve(&w, &ages, &top).unwrap();
        let least = costs.iter().map(|c| c.cost_per_hour).fold(f64::INFINITY, f64::min);
        prop_assert!(best.optimum_cost_per_hour <= least * (1.0 + 1e-10), "{} {least}", best.optimum_cost_per_hour);
        // Twice the hours of everything, twice the age.
        let twice = used(world(Weibull { shape, scale: 3600.0 }, 950.0, failure), of_new, 2.0 * gone, 2.0 * left * gone);
        let other = planned_age(&twice, &limit(5000.0), &AgeOptions::default()).unwrap();
        prop_assert!((2.0 * other.optimum_cost_per_hour / best.optimum_cost_per_hour - 1.0).abs() < 1e-9);
    }
}
