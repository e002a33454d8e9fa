//! Cost over a finite horizon, and changes of all lamps together: published and stored values, closed forms, a recursion of
//! its own, the long run, and random worlds.

use relamp::base::random::Stream;
use relamp::family::{Exponential, Gamma, Life, Weibull};
use relamp::fit::World;
use relamp::policy::{
    AgeOptions, BlockVerdict, HorizonVerdict, Reach, block_costs, block_interval, cost_curve, horizon_age,
    horizon_costs, planned_age,
};
use relamp::records::Ending;
use relamp::terms::{Warranty, WarrantyStep};

use crate::simulate::agreement::case;
use crate::worlds::{close, limit, number, series, world};

fn two_causes() -> World {
    series(900.0, &[(Ending::Burst, 3.5, 1500.0, 5200.0), (Ending::Seal, 0.7, 6000.0, 1800.0)])
}

fn mean_cost(world: &World, horizon: f64, first: f64, age: f64, top: f64) -> f64 {
    let found = horizon_costs(world, horizon, first, &[age], &limit(top)).unwrap().remove(0);
    relamp::base::sound::Checks::of("cost", &found).unwrap();
    found.cost
}

/// The renewal-type equation on a plain grid by the trapezoid rule, values before and after a jump kept apart; two grids
/// and the error of second order taken out. `age` and `horizon` stand on the grid.
fn recursion(w: &World, horizon: f64, first: f64, age: f64, planned: f64) -> f64 {
    let on = |n: usize| {
        let step = horizon / n as f64;
        let lives: Vec<&dyn Life> = w.causes.iter().map(|c| c.life.as_ref()).collect();
        let passed = |t: f64| lives.iter().map(|l| l.ln_reliability(t)).sum::<f64>().exp();
        let cost = |j: usize, t: f64| {
            let ending = w.causes[j].endings[0].0;
            let back = w.costs.warranty().filter(|b| b.covers(ending)).map_or(0.0, |b| b.credit(t));
            w.costs.failure(ending).unwrap() - back
        };
        // What ends in a cell, and what that costs; within a cell the fall of R goes to the causes as their hazards at its middle.
        let cell = |from: f64| {
            let middle = from + 0.5 * step;
            let hazards: Vec<f64> =
                lives.iter().map(|l| l.cumulative_hazard(from + step) - l.cumulative_hazard(from)).collect();
            let whole: f64 = hazards.iter().sum();
            let fails = passed(from) - passed(from + step);
            (fails, hazards.iter().enumerate().map(|(j, h)| fails * h / whole * cost(j, middle)).sum::<f64>())
        };
        let cells: Vec<(f64, f64)> = (0..n).map(|i| cell(i as f64 * step)).collect();
        let m = (age / step).round() as usize;
        let mut spent = vec![0.0];
        for c in &cells {
            spent.push(spent.last().unwrap() + c.1);
        }
        // Before and after what happens at each time.
        let (mut before, mut after) = (vec![0.0; n + 1], vec![0.0; n + 1]);
        let sum =
            |k: usize, cells: &[(f64, f64)], spent: &[f64], m: usize, reach: f64, before: &[f64], after: &[f64]| {
                let mut x = spent[k.min(m)];
                for i in 0..k.min(m) {
                    // Of the own value only the part before it exists yet: it is solved for.
                    let late = if i == 0 { 0.0 } else { before[k - i] };
                    x += 0.5 * cells[i].0 * (after[k - i - 1] + late);
                }
                if k > m {
                    (x + reach * (planned + before[k - m]), x + reach * (planned + after[k - m]))
                } else {
                    (x, if k == m { x + reach * planned } else { x })
                }
            };
        for k in 1..=n {
            let (x, y) = sum(k, &cells, &spent, m, passed(age), &before, &after);
            before[k] = x / (1.0 - 0.5 * cells[0].0);
            after[k] = before[k] + (y - x);
        }
        if first == 0.0 {
            return before[n];
        }
        let a = (first / step).round() as usize;
        if a >= m {
            return planned + before[n];
        }
        let reached = passed(first);
        let (mut x, left) = (0.0, m - a);
        for i in 0..n.min(left) {
            let (f, c) = cell(first + i as f64 * step);
            x += (c + 0.5 * f * (after[n - i - 1] + before[n - i])) / reached;
        }
        if n > left { x + passed(age) / reached * (planned + before[n - left]) } else { x }
    };
    let (coarse, fine) = (on(1500), on(3000));
    fine + (fine - coarse) / 3.0
}

#[test]
fn stored_costs_to_a_horizon_come_out() {
    let stored = case("finite_horizon_fixed_age");
    let w = world(Weibull { shape: 3.0, scale: 1000.0 }, 1.0, 5.0);
    for age in stored["inputs"]["T"].as_array().unwrap().iter().map(number) {
        let expected = &stored["outputs"][if age == 1.0 { "1.0".to_owned() } else { age.to_string() }];
        let found = horizon_costs(&w, 3000.0, 0.0, &[1000.0 * age], &limit(2000.0)).unwrap().remove(0);
        close(found.failures, number(&expected["failures"]), 1e-9, 0.0);
        // There a change due on the horizon itself is counted; none is made here, so that its chance is added.
        let n = (3.0 / age).round();
        let on_it = if (3.0 / age - n).abs() < 1e-9 { (-n * age.powi(3)).exp() } else { 0.0 };
        close(found.planned_changes + on_it, number(&expected["planned"]), 1e-9, 0.0);
        close(found.cost + on_it, number(&expected["cost"]), 1e-9, 0.0);
    }
}

/// Mean planned changes at an even rate: R(A) for each change, and for the start, at least A before the horizon.
fn planned(t: f64, age: f64, scale: f64) -> f64 {
    if t <= age { 0.0 } else { (-age / scale).exp() * (1.0 + (t - age) / scale + planned(t - age, age, scale)) }
}

#[test]
fn an_even_rate_has_a_closed_form() {
    let (scale, horizon) = (1000.0, 3300.0);
    let w = world(Exponential { scale }, 950.0, 5200.0);
    for age in [250.0, 700.0, 1100.0, 1650.0, 3300.0, 4000.0] {
        let new = horizon / scale * 5200.0 + 950.0 * planned(horizon, age, scale);
        close(mean_cost(&w, horizon, 0.0, age, 5000.0), new, 1e-11, 0.0);
        // A lamp of some age is as good as new but for the plan.
        for first in [100.0, 400.0] {
            let left: f64 = age - first;
            // After a failure at s, evenly dense as lamps do not age, planned changes follow as from new.
            let p = |t: f64| planned(t, age, scale);
            let after = |from: f64, to: f64| {
                let n = 40_000;
                let h = (to - from) / f64::from(n);
                (0..n)
                    .map(|i| from + h * (f64::from(i) + 0.5))
                    .map(|s| (-s / scale).exp() / scale * p(horizon - s) * h)
                    .sum::<f64>()
            };
            let expected = if left <= 0.0 {
                950.0 * (1.0 + p(horizon))
            } else {
                let reach = if left < horizon { (-left / scale).exp() * (1.0 + p(horizon - left)) } else { 0.0 };
                950.0 * (after(0.0, left.min(horizon)) + reach)
            };
            let failures = horizon / scale * 5200.0;
            close(mean_cost(&w, horizon, first, age, 5000.0), failures + expected, 3e-6, 0.0);
        }
    }
}

#[test]
fn a_recursion_of_its_own_gives_the_same_cost() {
    let w = two_causes();
    for (age, first) in
        [(600.0, 0.0), (600.0, 300.0), (900.0, 600.0), (900.0, 1200.0), (3000.0, 0.0), (300.0, 0.0), (1200.0, 300.0)]
    {
        let expected = recursion(&w, 3000.0, first, age, 900.0);
        close(mean_cost(&w, 3000.0, first, age, 5000.0), expected, 2e-5, 0.0);
    }
    let smooth = series(900.0, &[(Ending::Burst, 3.5, 1500.0, 5200.0), (Ending::Dim, 2.0, 3000.0, 1800.0)]);
    for (age, first) in [(600.0, 0.0), (600.0, 300.0), (900.0, 1200.0), (3000.0, 900.0), (1200.0, 300.0)] {
        let expected = recursion(&smooth, 3000.0, first, age, 900.0);
        close(mean_cost(&smooth, 3000.0, first, age, 5000.0), expected, 1e-8, 0.0);
    }
    // Money back with steps on the grid.
    let step = |below_hours, share| WarrantyStep { below_hours, share };
    let back = Warranty::stepped(800.0, [step(300.0, 1.0), step(900.0, 0.5)], [Ending::Burst]).unwrap();
    let backed = World { costs: smooth.costs.clone().with_warranty(back).unwrap(), causes: smooth.causes };
    let plain = World {
        costs: smooth.costs,
        causes: series(1.0, &[(Ending::Burst, 3.5, 1500.0, 2.0), (Ending::Dim, 2.0, 3000.0, 2.0)]).causes,
    };
    for (age, first) in [(600.0, 0.0), (1200.0, 0.0), (900.0, 300.0)] {
        let expected = recursion(&backed, 3000.0, first, age, 900.0);
        let found = mean_cost(&backed, 3000.0, first, age, 5000.0);
        close(found, expected, if first == 0.0 { 1e-8 } else { 1e-6 }, 0.0);
        assert!(found < mean_cost(&plain, 3000.0, first, age, 5000.0) - 1.0);
    }
}

#[test]
fn a_long_horizon_costs_what_the_long_run_does() {
    let w = two_causes();
    for age in [500.0, 900.0, 1400.0] {
        let rate = cost_curve(&w, &[age], &limit(2000.0)).unwrap()[0].cost_per_hour;
        let (a, b) = (mean_cost(&w, 90_000.0, 200.0, age, 2000.0), mean_cost(&w, 190_000.0, 200.0, age, 2000.0));
        close((b - a) / 1e5, rate, 1e-9, 0.0);
    }
    let long = planned_age(&w, &limit(2000.0), &AgeOptions::default()).unwrap();
    let best = horizon_age(&w, 150_000.0, 0.0, &limit(2000.0), &Reach::default()).unwrap();
    close(best.optimum_hours, long.optimum_hours, 0.02, 0.0);
    close(best.optimum_cost / 150_000.0, long.optimum_cost_per_hour, 0.01, 0.0);
}

#[test]
fn the_best_age_jumps_where_the_horizon_divides() {
    let w = world(Weibull { shape: 4.0, scale: 1000.0 }, 950.0, 5200.0);
    let top = limit(1500.0);
    let mut seen = Vec::new();
    for horizon in [500.0, 900.0, 1100.0, 1300.0, 1900.0, 2000.0, 2500.0, 4100.0] {
        let best = horizon_age(&w, horizon, 0.0, &top, &Reach::default()).unwrap();
        relamp::base::sound::Checks::of("best", &best).unwrap();
        // No age of a fine grid costs less.
        let ages: Vec<f64> = (1..=300)
            .map(|i| 5.0 * f64::from(i))
            .chain((1..=8).map(|n| horizon / f64::from(n)))
            .filter(|a| *a <= 1500.0)
            .collect();
        for found in horizon_costs(&w, horizon, 0.0, &ages, &top).unwrap() {
            assert!(found.cost >= best.optimum_cost * (1.0 - 1e-9), "{horizon}: {found:?} {best:?}");
        }
        for jump in &best.jumps {
            // The last change, which a screen without failures would make just before the end, is gone.
            let reach = (-f64::from(jump.changes + 1) * (jump.age_hours / 1000.0).powi(4)).exp();
            close(jump.cost_before - jump.cost, 950.0 * reach, 1e-4, 0.0);
        }
        // The hour before a jump costs one change more, and is not advised.
        assert!(best.cost.cost <= best.optimum_cost * 1.01, "{horizon}: {best:?}");
        seen.push((horizon, best.verdict, best.age_hours));
    }
    // One lamp lasts a short horizon; later the best age falls each time one more change begins to pay.
    assert!(seen.iter().any(|s| s.1 == HorizonVerdict::NoPlannedChange), "{seen:?}");
    assert!(seen.contains(&(2000.0, HorizonVerdict::BestBelowLimit, 520.0)), "{seen:?}");
    // Under a limit the best age stays under it.
    let best = horizon_age(&w, 2000.0, 0.0, &limit(400.0), &Reach::default()).unwrap();
    assert!(best.age_hours <= 400.0 && best.optimum_hours <= 400.0);
}

#[test]
fn no_answer_passes_the_limit_in_random_worlds() {
    let mut s = Stream::new(5, "test", "over time", 0);
    for _ in 0..12 {
        let causes: Vec<_> = [Ending::Burst, Ending::Dim]
            .into_iter()
            .take(1 + (2.0 * s.uniform()) as usize)
            .map(|e| (e, 0.6 + 4.0 * s.uniform(), 500.0 + 4000.0 * s.uniform(), 500.0 + 9000.0 * s.uniform()))
            .collect();
        let w = series(200.0 + 1500.0 * s.uniform(), &causes);
        let top = 300.7 + 2500.0 * s.uniform();
        let (horizon, first) =
            (300.0 + 9000.0 * s.uniform(), if s.uniform() < 0.5 { 0.0 } else { 1500.0 * s.uniform() });
        let best = horizon_age(&w, horizon, first, &limit(top), &Reach::default()).unwrap();
        let all = [best.age_hours, best.optimum_hours, best.cost.age_hours];
        assert!(all.iter().chain(best.jumps.iter().map(|j| &j.age_hours)).all(|a| *a <= top), "{best:?}");
        let ages: Vec<f64> = (1..=60).map(|i| (top * f64::from(i) / 60.0).min(top)).filter(|a| *a > 40.0).collect();
        for found in horizon_costs(&w, horizon, first, &ages, &limit(top)).unwrap() {
            assert!(found.cost >= best.optimum_cost * (1.0 - 1e-9), "{w:?} {horizon} {first}: {found:?} {best:?}");
        }
        let blocks = block_interval(&w, &limit(top), None, &Reach::default()).unwrap();
        relamp::base::sound::Checks::of("blocks", &blocks).unwrap();
        // Past the limit lamps that would reach it are changed alone, so none burns longer.
        if let Some(advice) = &blocks.advice {
            let at_least = ((advice.every_hours / top).ceil() - 1.0)
                * w.causes.iter().map(|c| c.life.reliability(top)).product::<f64>();
            assert!(advice.every_hours <= top || advice.alone >= at_least.min(1.0) * 0.99, "{advice:?} {at_least}");
        }
    }
}

#[test]
fn stored_intervals_of_changes_of_all_come_out() {
    let grid = case("block_weibull_grid");
    for (key, expected) in grid["outputs"].as_object().unwrap() {
        let (shape, failure) = key.split_once('|').unwrap();
        let w = world(Weibull { shape: shape.parse().unwrap(), scale: 1000.0 }, 1.0, failure.parse().unwrap());
        let best = block_interval(&w, &limit(1e9), None, &Reach::default()).unwrap();
        close(1000.0 * best.optimum_cost_per_hour, number(&expected["C"]), 1e-9, 0.0);
        close(1000.0 * best.without_blocks_cost_per_hour, number(&expected["run_to_failure"]), 1e-9, 0.0);
        match best.optimum_hours {
            Some(hours) => close(hours, 1000.0 * number(&expected["T"]), 2e-9, 0.0),
            None => assert_eq!(expected["T"], "inf", "{key}"),
        }
        for minimum in expected["local_minima"].as_array().unwrap() {
            let hours = 1000.0 * number(minimum);
            assert!(
                best.minima.iter().any(|(h, _)| (h / hours - 1.0).abs() < 1e-6),
                "{key}: {hours} {:?}",
                best.minima
            );
        }
    }
    let erlang = case("block_erlang2_karlin_taylor");
    for (key, expected) in erlang["outputs"].as_object().unwrap() {
        let w = world(Gamma { shape: 2.0, scale: 1000.0 }, 1.0, key.parse().unwrap());
        let best = block_interval(&w, &limit(1e9), None, &Reach::default()).unwrap();
        close(1000.0 * best.optimum_cost_per_hour, number(&expected["C"]), 1e-9, 0.0);
        match best.optimum_hours {
            Some(hours) => {
                close(hours, 1000.0 * number(&expected["T"]), 2e-9, 0.0);
                // The printed condition: exp(-2 T) (1 + 2 T) = 1 - 4 c1 / c2.
                let t = hours / 1000.0;
                close((-2.0 * t).exp() * (1.0 + 2.0 * t), 1.0 - 4.0 / key.parse::<f64>().unwrap(), 1e-8, 0.0);
            }
            None => assert_eq!((best.verdict, &expected["T"]), (BlockVerdict::NoBlockPays, &"inf".into())),
        }
    }
    let group = case("group_relamping_weibull");
    let one = Weibull { shape: 5.0, scale: 1.0 }.mean().unwrap();
    let w = world(Weibull { shape: 5.0, scale: 20_000.0 / one }, 8.0, 8.65);
    let best = block_interval(&w, &limit(1e9), Some(4.15), &Reach::default()).unwrap();
    close(best.optimum_hours.unwrap(), number(&group["outputs"]["T"]), 2e-9, 0.0);
    close(best.optimum_cost_per_hour, number(&group["outputs"]["cost_per_socket_hour"]), 1e-9, 0.0);
    // Hastings in Blischke and Murthy (2003), p. 372, as printed: 44 % of the scale, 58 % of the cost of running to failure.
    let best =
        block_interval(&world(Weibull { shape: 2.5, scale: 1000.0 }, 1.0, 6.0), &limit(1e9), None, &Reach::default())
            .unwrap();
    close(best.optimum_hours.unwrap(), 440.0, 0.0, 5.0);
    close(100.0 * best.optimum_cost_per_hour / best.without_blocks_cost_per_hour, 58.0, 0.0, 0.5);
}

#[test]
fn a_lamp_that_reaches_the_limit_before_the_block_is_changed_alone() {
    let w = series(900.0, &[(Ending::Burst, 3.5, 1500.0, 5200.0), (Ending::Dim, 2.0, 3000.0, 1800.0)]);
    let top = limit(1000.0);
    let found = block_costs(&w, &[800.0, 1000.0, 1500.0, 2000.0, 2500.0], &top, Some(600.0)).unwrap();
    for c in &found {
        relamp::base::sound::Checks::of("block", c).unwrap();
        let expected = (600.0
            + recursion(&w, c.every_hours, 0.0, if c.every_hours == 800.0 { 800.0 } else { 1000.0 }, 900.0))
            / c.every_hours;
        close(c.cost_per_hour, expected, 1e-7, 0.0);
        assert_eq!(c.alone > 0.0, c.every_hours > 1000.0);
    }
    // A long interval costs what no blocks do.
    let alone = cost_curve(&w, &[1000.0], &top).unwrap()[0].cost_per_hour;
    let long = block_costs(&w, &[2e6], &top, Some(600.0)).unwrap()[0].cost_per_hour;
    close(long, alone, 1e-3, 0.0);
    // Cheap changes of all pay where the limit has every lamp changed soon: just before it comes.
    // A change of all that no interval earns back is told at once, however dear it is.
    let dear = block_interval(&w, &limit(400.0), Some(1e12), &Reach::default()).unwrap();
    relamp::base::sound::Checks::of("dear", &dear).unwrap();
    assert_eq!((dear.verdict, dear.optimum_hours), (BlockVerdict::NoBlockPays, None));
    assert_eq!(dear.optimum_cost_per_hour, dear.without_blocks_cost_per_hour);
    let cheap = block_interval(&w, &limit(400.0), Some(300.0), &Reach::default()).unwrap();
    assert_eq!((cheap.verdict, cheap.advice.unwrap().every_hours), (BlockVerdict::BlocksPay, 400.0));
}

#[test]
fn what_cannot_be_answered_is_refused_by_name() {
    let (w, top) = (two_causes(), limit(1000.0));
    let slug = |e: relamp::Error| e.slug().to_owned();
    for horizon in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(slug(horizon_age(&w, horizon, 0.0, &top, &Reach::default()).unwrap_err()), "policy.horizon");
        assert_eq!(slug(block_costs(&w, &[500.0, horizon], &top, None).unwrap_err()), "policy.block_interval");
    }
    // So short beside the limit that no step could be taken towards it.
    for horizon in [5e-324, 1e-300, 1e-7] {
        assert_eq!(slug(horizon_age(&w, horizon, 0.0, &top, &Reach::default()).unwrap_err()), "policy.horizon");
        assert_eq!(slug(horizon_costs(&w, horizon, 0.0, &[500.0], &top).unwrap_err()), "policy.horizon");
    }
    for first in [-1.0, f64::NAN] {
        assert_eq!(slug(horizon_age(&w, 500.0, first, &top, &Reach::default()).unwrap_err()), "renewal.first_age");
    }
    assert_eq!(slug(horizon_costs(&w, 500.0, 0.0, &[1001.0], &top).unwrap_err()), "policy.age_past_limit");
    for age in [0.0, f64::NAN] {
        assert_eq!(slug(horizon_costs(&w, 500.0, 0.0, &[age], &top).unwrap_err()), "policy.age");
    }
    for cost in [0.0, f64::NAN, 1e13] {
        assert_eq!(slug(block_interval(&w, &top, Some(cost), &Reach::default()).unwrap_err()), "policy.block_cost");
    }
}
