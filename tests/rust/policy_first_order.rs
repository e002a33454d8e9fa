//! The first-order condition with costs by ending, by a quadrature of its own: nothing of the cost curve is used.

use relamp::base::math::quadrature::integrate;
use relamp::base::random::Stream;
use relamp::fit::World;
use relamp::policy::{AgeOptions, Verdict, cost_curve, planned_age};
use relamp::records::Ending;

use crate::worlds::{close, limit, series};

/// What the written formulas hold of a world up to an age: exposure, incidence and hazard of each cause, reliability.
struct Written {
    exposure: f64,
    incidence: Vec<f64>,
    hazards: Vec<f64>,
    reliability: f64,
}

/// Weibull causes as (shape, scale), integrated over u with t = u^5, which takes out an infinite hazard at 0.
fn written(causes: &[(f64, f64)], age: f64) -> Written {
    let passed = |t: f64| (-causes.iter().map(|(k, s)| (t / s).powf(*k)).sum::<f64>()).exp();
    let hazard = |(k, s): &(f64, f64), t: f64| k / s * (t / s).powf(k - 1.0);
    let over =
        |f: &dyn Fn(f64) -> f64| integrate(|u| f(u.powi(5)) * 5.0 * u.powi(4), 0.0, age.powf(0.2), &[], 1e-14).unwrap();
    Written {
        exposure: over(&passed),
        incidence: causes.iter().map(|c| over(&|t| if t == 0.0 { 0.0 } else { hazard(c, t) * passed(t) })).collect(),
        hazards: causes.iter().map(|c| hazard(c, age)).collect(),
        reliability: passed(age),
    }
}

/// `sum_j (c_j - cp) [h_j(T) int_0^T R - F_j(T)] - cp`.
fn residual(w: &Written, planned: f64, costs: &[f64]) -> f64 {
    let each = costs.iter().zip(&w.hazards).zip(&w.incidence);
    each.map(|((c, h), f)| (c - planned) * (h * w.exposure - f)).sum::<f64>() - planned
}

fn drawn(s: &mut Stream) -> (World, Vec<(f64, f64)>, f64, Vec<f64>) {
    let endings = [Ending::Burst, Ending::Seal, Ending::Dim];
    let n = 1 + (3.0 * s.uniform()) as usize;
    let planned = 300.0 + 900.0 * s.uniform();
    let lives: Vec<(f64, f64)> = (0..n)
        .map(|j| {
            let shape = if j == 1 { 0.5 + 0.5 * s.uniform() } else { 1.8 + 4.0 * s.uniform() };
            (shape, if j == 1 { 6000.0 } else { 1200.0 } * (1.0 + 2.0 * s.uniform()))
        })
        .collect();
    let costs: Vec<f64> = (0..n).map(|_| planned * (1.5 + 8.0 * s.uniform())).collect();
    let causes: Vec<_> = (0..n).map(|j| (endings[j], lives[j].0, lives[j].1, costs[j])).collect();
    (series(planned, &causes), lives, planned, costs)
}

#[test]
fn an_inner_optimum_meets_the_condition_of_the_costs_by_ending() {
    let mut s = Stream::new(12, "test", "first order", 0);
    let mut inner = 0;
    for _ in 0..60 {
        let (w, lives, planned, costs) = drawn(&mut s);
        let best = planned_age(&w, &limit(9000.0), &AgeOptions::default()).unwrap();
        if best.verdict != Verdict::BestBelowLimit {
            continue;
        }
        inner += 1;
        let at = written(&lives, best.optimum_hours);
        let off = residual(&at, planned, &costs) / planned;
        assert!(off.abs() < 1e-10, "{off:e}: {w:?}");
        // The cost by the same integrals, so that the condition is that of this cost.
        let cycle = planned * at.reliability + costs.iter().zip(&at.incidence).map(|(c, f)| c * f).sum::<f64>();
        close(best.optimum_cost_per_hour, cycle / at.exposure, 1e-11, 0.0);
    }
    assert!(inner > 30, "{inner}");
}

#[test]
fn at_a_limit_that_binds_the_cost_falls_from_the_left() {
    let mut s = Stream::new(13, "test", "first order", 1);
    let mut bound = 0;
    for _ in 0..30 {
        let (w, lives, planned, costs) = drawn(&mut s);
        let free = planned_age(&w, &limit(9000.0), &AgeOptions::default()).unwrap();
        if free.verdict != Verdict::BestBelowLimit {
            continue;
        }
        let top = free.optimum_hours * (0.5 + 0.4 * s.uniform());
        let best = planned_age(&w, &limit(top), &AgeOptions::default()).unwrap();
        if best.verdict != Verdict::LimitBinds {
            continue;
        }
        bound += 1;
        let at = written(&lives, top);
        let g = residual(&at, planned, &costs);
        assert!(g < 0.0, "{g}");
        // dC/dT = R g / M^2, from the left by the cost itself.
        let slope = at.reliability * g / (at.exposure * at.exposure);
        let h = 1e-4 * top;
        let cost = |age: f64| cost_curve(&w, &[age], &limit(top)).unwrap()[0].cost_per_hour;
        let left = (3.0 * cost(top) - 4.0 * cost(top - h) + cost(top - 2.0 * h)) / (2.0 * h);
        close(left, slope, 1e-5, 0.0);
    }
    assert!(bound > 8, "{bound}");
}
