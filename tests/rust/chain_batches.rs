//! Lamps needed where those of a batch share a circumstance: against the renewal equation, by hand and by brute force.

use std::collections::BTreeMap;

use relamp::Run;
use relamp::base::math::special::normal_quantile;
use relamp::base::random::Stream;
use relamp::demand::{
    Calendar, ChainForecast, ClassModel, ClassPlan, Screen, SharedBy, SharedEffect, SharedOn, Where, chain_forecast,
};
use relamp::family::{Life, Weibull};
use relamp::fit::World;
use relamp::records::Ending;
use relamp::renewal::{ChangeRule, expected_changes};

use crate::chain_demand::{all, ask, day, screen};
use crate::worlds::{close, limit, series, world};

fn asked(screens: &[Screen], w: &World, age: f64, months: usize, spread: f64) -> ChainForecast {
    let calendar = Calendar::new(day(2026, 1, 1), months).unwrap();
    let effect = SharedEffect { by: SharedBy::Batch, on: SharedOn::Hazard, spread };
    let (most, none) = (limit(age), BTreeMap::new());
    let plan = ClassPlan { class: "X", model: ClassModel::World(w), planned_age_hours: age, limit: &most };
    chain_forecast(screens, &[plan], &calendar, &none, Some(effect), &Run::new()).unwrap()
}

/// Screens of two sites whose lamps are of three batches, but for some of which it is not known.
fn mixed(count: u32) -> Vec<Screen> {
    (0..count)
        .map(|i| Screen {
            site: ["north", "south"][usize::from(i % 2 == 1)].into(),
            batch: (i % 5 != 4).then(|| format!("b{}", i % 3)),
            ..screen(53.0 * f64::from(i % 13), 60.0 + 5.0 * f64::from(i % 4))
        })
        .collect()
}

/// Points of a fine sum over a standard normal: the number, and its weight.
fn normal(count: i32) -> Vec<(f64, f64)> {
    let each: Vec<(f64, f64)> =
        (-count..=count).map(|i| 6.0 * f64::from(i) / f64::from(count)).map(|z| (z, (-0.5 * z * z).exp())).collect();
    let whole: f64 = each.iter().map(|e| e.1).sum();
    each.into_iter().map(|(z, w)| (z, w / whole)).collect()
}

/// The tables for a life of today's lamps of their own, where it is that of all others: for a lamp of age 0 they are made by
/// another sum, so that the two agree as far as a step tells, and to rounding else.
#[test]
fn batches_that_hardly_differ_change_nothing() {
    for (shape, scale, age) in [(0.7, 3000.0, 1500.0), (3.0, 1200.0, 1100.0), (2.0, 900.0, 1e9), (6.0, 1500.0, 1700.0)]
    {
        let w = world(Weibull { shape, scale }, 950.0, 5200.0);
        let mut screens = mixed(24);
        screens[3].age_hours = None;
        screens[4].age_hours = Some(1e-3);
        let plain = ask(&screens, &w, age, &Calendar::new(day(2026, 1, 1), 24).unwrap());
        let found = asked(&screens, &w, age, 24, 1e-13);
        for place in &plain.places {
            let own = found.at("X", &place.place).unwrap();
            for (a, b) in place.months.iter().chain([&place.whole]).zip(own.months.iter().chain([&own.whole])) {
                for (a, b) in [(&a.needed, &b.needed), (&a.planned, &b.planned), (&a.failures, &b.failures)] {
                    close(b.mean(), a.mean(), 1e-7, 1e-9);
                    close(b.sd(), a.sd(), 1e-6, 1e-9);
                    let most = a.quantile(0.6).unwrap();
                    close(b.at_most(most), a.at_most(most), 0.0, 1e-6);
                }
                close(b.failure_cost, a.failure_cost, 1e-7, 1e-6);
                close(b.planned_cost, a.planned_cost, 1e-7, 1e-6);
                close(b.hours, a.hours, 1e-12, 0.0);
            }
        }
    }
}

/// Means of one screen, over a fine sum of factors, from the renewal function of new lamps and the first failure.
#[test]
fn means_meet_the_renewal_equation_with_a_first_lamp_of_its_batch() {
    let spread = 0.4;
    for (shape, scale, age, now) in [
        (0.8, 3000.0, 1500.0, 400.0),
        (3.0, 1300.0, 1100.0, 0.0),
        (3.0, 1300.0, 1100.0, 871.3),
        (2.0, 900.0, 1e6, 123.4),
    ] {
        let life = Weibull { shape, scale };
        let w = world(life, 950.0, 5200.0);
        let one = Screen { batch: Some("b".into()), ..screen(now, 84.0) };
        let told = asked(&[one], &w, age, 18, spread);
        let end: f64 = told.calendar.months().iter().map(|m| 12.0 * ((m.to - m.from).num_days() + 1) as f64).sum();
        let steps = 8000;
        let times: Vec<f64> = (1..=steps).map(|i| end * f64::from(i) / f64::from(steps)).collect();
        let new = expected_changes(&life, &ChangeRule::at_age(age), &times).unwrap();
        // Mean changes of a new lamp within a time, straight between two steps.
        let after = |list: &[f64], time: f64| {
            let place = time / end * f64::from(steps);
            let at = |i: usize| if i == 0 { 0.0 } else { list[(i - 1).min(list.len() - 1)] };
            let low = place.floor();
            at(low as usize) + (place - low) * (at(low as usize + 1) - at(low as usize))
        };
        let pieces = 4000;
        let left = (age - now).min(end);
        let (mut planned, mut failures) = (0.0, 0.0);
        for (z, weight) in normal(24) {
            let factor = (spread * z).exp();
            let pass = |time: f64| (factor * (life.ln_reliability(now + time) - life.ln_reliability(now))).exp();
            for i in 0..pieces {
                let (from, to) = (left * f64::from(i) / f64::from(pieces), left * f64::from(i + 1) / f64::from(pieces));
                let (fail, rest) = (pass(from) - pass(to), end - 0.5 * (from + to));
                failures += weight * fail * (1.0 + after(&new.failures, rest));
                planned += weight * fail * after(&new.planned, rest);
            }
            if age - now < end {
                let rest = end - (age - now);
                failures += weight * pass(left) * after(&new.failures, rest);
                planned += weight * pass(left) * (1.0 + after(&new.planned, rest));
            }
        }
        let whole = &all(&told).whole;
        close(whole.failures.mean(), failures, 3e-5, 1e-9);
        close(whole.planned.mean(), planned, 3e-5, 1e-6);
    }
}

/// The first failures of a batch by a fine sum, and batches as what is independent.
#[test]
fn lamps_of_a_batch_rise_and_fall_together_wherever_they_burn() {
    let life = Weibull { shape: 2.0, scale: 1500.0 };
    let w = world(life, 1.0, 5.0);
    let of = |batch: fn(u32) -> Option<String>| {
        let screens: Vec<_> = (0..40)
            .map(|i| Screen { site: format!("s{}", i % 4), batch: batch(i), ..screen(20.0 * f64::from(i), 70.0) })
            .collect();
        (asked(&screens, &w, 1900.0, 1, 0.5), screens)
    };
    let (one, screens) = of(|_| Some("a".into()));
    let (two, _) = of(|i| Some(if i < 20 { "a" } else { "b" }.into()));
    let (sites, _) = of(|i| Some(format!("b{}", i % 4)));
    let (unknown, _) = of(|_| None);
    let (alone, _) = of(|i| Some(format!("b{i}")));
    let hours = 70.0 * 31.0 / 7.0;
    // Of few lamps, whose number is wide against what its factor moves, chances are those of the quadrature.
    let few = &screens[..10];
    let none: f64 = normal(2000)
        .into_iter()
        .map(|(z, weight)| {
            let of = |s: &Screen| {
                let age = s.age_hours.unwrap();
                life.ln_reliability(age + hours) - life.ln_reliability(age)
            };
            weight * ((0.5 * z).exp() * few.iter().map(of).sum::<f64>()).exp()
        })
        .sum();
    close(all(&asked(few, &w, 1900.0, 1, 0.5)).whole.needed.at_most(0), none, 1e-4, 0.0);
    let variance = |f: &ChainForecast, place: &Where| f.at("X", place).unwrap().whole.needed.sd().powi(2);
    let chain = Where::Chain;
    assert!(variance(&one, &chain) > 1.1 * variance(&two, &chain));
    assert!(variance(&two, &chain) > 1.1 * variance(&alone, &chain));
    // Where each site has one batch its screens are tied and the sites are not.
    let each: f64 = (0..4).map(|k| variance(&sites, &Where::Site(format!("s{k}")))).sum();
    close(variance(&sites, &chain), each, 1e-9, 0.0);
    assert!(
        (0..4).all(|k| variance(&one, &Where::Site(format!("s{k}"))) > variance(&two, &Where::Site(format!("s{k}"))))
    );
    // A lamp of no known batch is one of its own.
    for place in &unknown.places {
        let (a, b) = (&place.whole.needed, &alone.at("X", &place.place).unwrap().whole.needed);
        close(a.mean(), b.mean(), 1e-9, 0.0);
        close(a.sd(), b.sd(), 1e-6, 0.0);
        close(a.at_most(1), b.at_most(1), 0.0, 1e-9);
    }
}

#[test]
fn batches_played_out_agree() {
    let (age, spread, months) = (700.0, 0.5, 6);
    let w = series(950.0, &[(Ending::Burst, 1.2, 6000.0, 5200.0), (Ending::Dim, 4.0, 900.0, 1250.0)]);
    let screens = mixed(60);
    let told = asked(&screens, &w, age, months, spread);
    let mut clock = 0.0;
    let ends: Vec<f64> = told
        .calendar
        .months()
        .iter()
        .map(|m| {
            clock += ((m.to - m.from).num_days() + 1) as f64 / 7.0;
            clock
        })
        .collect();
    let runs = 20_000;
    let mut stream = Stream::new(11, "test", "batches", 0);
    // By run, month, place (chain, north, south) and kind.
    let mut counts = vec![vec![[[0_u64; 3]; 3]; months]; runs];
    for count in &mut counts {
        let mut draw = || (spread * normal_quantile(stream.uniform())).exp();
        let named: Vec<f64> = (0..3).map(|_| draw()).collect();
        let own: Vec<f64> = screens.iter().map(|_| draw()).collect();
        for (i, s) in screens.iter().enumerate() {
            let of = s.batch.as_ref().map(|b| named[b[1..].parse::<usize>().unwrap()]);
            let mut factor = of.unwrap_or(own[i]);
            let (mut at, mut now) = (0.0, s.age_hours.unwrap());
            loop {
                let (mut left, mut failed) = (age - now, false);
                for cause in &w.causes {
                    // The cumulative hazard to the failure, in units of the batch.
                    let to = -cause.life.ln_reliability(now) - stream.uniform().ln() / factor;
                    let fails = cause.life.quantile(-(-to).exp_m1()).unwrap() - now;
                    if fails < left {
                        (left, failed) = (fails, true);
                    }
                }
                at += left;
                (now, factor) = (0.0, 1.0);
                let Some(m) = ends.iter().position(|e| at <= e * s.hours_per_week) else { break };
                for place in [0, if s.site == "north" { 1 } else { 2 }] {
                    count[m][place][0] += 1;
                    count[m][place][if failed { 2 } else { 1 }] += 1;
                }
            }
        }
    }
    let (n, mut scores) = (runs as f64, Vec::new());
    let places = [Where::Chain, Where::Site("north".into()), Where::Site("south".into())];
    for (p, place) in places.iter().enumerate() {
        let found = told.at("X", place).unwrap();
        for (m, month) in found.months.iter().enumerate() {
            for (k, count) in [&month.needed, &month.planned, &month.failures].into_iter().enumerate() {
                let mean = counts.iter().map(|c| c[m][p][k] as f64).sum::<f64>() / n;
                scores.push(((m, p, k, "mean"), (mean - count.mean()) / (count.sd() / n.sqrt())));
                let most = count.quantile(0.5).unwrap();
                let (chance, seen) =
                    (count.at_most(most), counts.iter().filter(|c| c[m][p][k] <= most).count() as f64 / n);
                if chance > 0.01 && chance < 0.99 {
                    scores.push(((m, p, k, "median"), (seen - chance) / (chance * (1.0 - chance) / n).sqrt()));
                }
            }
        }
        let of_run = |c: &Vec<[[u64; 3]; 3]>| c.iter().map(|m| m[p][0]).sum::<u64>();
        for share in [0.1, 0.5, 0.9] {
            let most = found.whole.needed.quantile(share).unwrap();
            let chance = found.whole.needed.at_most(most);
            let seen = counts.iter().filter(|c| of_run(c) <= most).count() as f64 / n;
            scores.push(((99, p, 0, "whole"), (seen - chance) / (chance * (1.0 - chance) / n).sqrt()));
        }
    }
    let squares = scores.iter().map(|s| s.1 * s.1).sum::<f64>() / scores.len() as f64;
    for (name, z) in scores.iter().filter(|s| s.1.abs() > 2.5) {
        println!("{z:8.3} {name:?}");
    }
    assert!(scores.iter().all(|s| s.1.abs() < 4.5));
    assert!(scores.len() > 80 && squares > 0.5 && squares < 1.6, "{} scores, mean square {squares}", scores.len());
}

#[test]
fn what_does_not_go_together_is_refused() {
    let w = world(Weibull { shape: 2.0, scale: 1500.0 }, 1.0, 5.0);
    let calendar = Calendar::new(day(2026, 1, 1), 1).unwrap();
    let effect = SharedEffect { by: SharedBy::Batch, on: SharedOn::Hours, spread: 0.2 };
    let most = limit(1900.0);
    let plan = ClassPlan { class: "X", model: ClassModel::World(&w), planned_age_hours: 1900.0, limit: &most };
    let blank = Screen { batch: Some(" ".into()), ..screen(10.0, 70.0) };
    let refused = chain_forecast(&[blank], &[plan], &calendar, &BTreeMap::new(), Some(effect), &Run::new());
    let problems = refused.unwrap_err();
    let slugs: Vec<&str> = problems.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["demand.shared_batch", "demand.batch_blank"]);
}
