//! Lamps needed by a chain: means of months beside a plain fine grid, and counts beside those of an even rate.

use relamp::demand::{Calendar, Count, Programme};
use relamp::family::{Life, Weibull};

use crate::chain_demand::{all, ask, day, screen};
use crate::worlds::{close, world};

/// Mean failures of a screen by each time, on a plain grid: a failure stands at the middle of its cell, means are straight
/// between two steps, and the limit of ever finer steps is taken from two of them.
fn failures_on_a_grid(life: &dyn Life, planned: f64, now: f64, times: &[f64]) -> Vec<f64> {
    let with = |step: f64| -> Vec<f64> {
        let steps = (times.last().unwrap() / step).round() as usize;
        let plan = (planned / step).round() as usize;
        let fails = |from: f64| -> Vec<f64> {
            let left = ((planned - from) / step).round() as usize;
            let here = life.ln_reliability(from);
            let r = |i: usize| (life.ln_reliability(from + i as f64 * step) - here).exp();
            (0..left).map(|i| r(i) - r(i + 1)).collect()
        };
        // Failures by j steps after a first lamp that fails in each cell, or is changed on plan after so many steps.
        let by = |first: &[f64], fresh: &[f64], j: usize| {
            let failed: f64 = first.iter().take(j).sum();
            let after: f64 =
                first.iter().take(j).enumerate().map(|(i, f)| 0.5 * f * (fresh[j - i] + fresh[j - i - 1])).sum();
            let changed =
                if j >= first.len() { fresh[j - first.len()] * (1.0 - first.iter().sum::<f64>()) } else { 0.0 };
            failed + after + changed
        };
        let new = fails(0.0);
        assert_eq!(new.len(), plan);
        let mut fresh = vec![0.0; steps + 1];
        for j in 1..=steps {
            // The cell at hand holds half of the unknown itself.
            fresh[j] = by(&new, &fresh, j) / (1.0 - 0.5 * new[0]);
        }
        let first = fails(now);
        times.iter().map(|t| by(&first, &fresh, (t / step).round() as usize)).collect()
    };
    let (coarse, fine) = (with(1.0), with(0.5));
    coarse.iter().zip(&fine).map(|(c, f)| f + (f - c) / 3.0).collect()
}

#[test]
fn monthly_failures_meet_a_plain_fine_grid() {
    // 70 h a week are 10 h a day: every month ends on a step of the grid.
    let calendar = Calendar::new(day(2026, 3, 10), 18).unwrap();
    for (shape, scale, age) in [(6.0, 1500.0, 1700.0), (4.0, 900.0, 1000.0), (2.5, 1300.0, 800.0)] {
        let life = Weibull { shape, scale };
        for now in [0.0, 633.0] {
            let told = ask(&[screen(now, 70.0)], &world(life, 950.0, 5200.0), age, &calendar);
            let mut clock = 0.0;
            let hours = calendar.hours(&Programme::default(), 70.0).unwrap();
            let times: Vec<f64> = hours
                .iter()
                .map(|h| {
                    clock += h;
                    clock
                })
                .collect();
            let mut before = 0.0;
            for (month, by) in all(&told).months.iter().zip(failures_on_a_grid(&life, age, now, &times)) {
                close(month.failures.mean(), by - before, 1e-5, 1e-9);
                before = by;
            }
        }
    }
}

#[test]
fn an_even_rate_gives_poisson_counts_in_every_month_and_over_all() {
    let calendar = Calendar::new(day(2026, 1, 1), 12).unwrap();
    let told = ask(&[screen(400.0, 91.0)], &world(Weibull { shape: 1.0, scale: 1100.0 }, 1.0, 5.0), 1e9, &calendar);
    // A chord of the n-th power over a step is off by less than the square of n steps, relative to that of the hours.
    let step = told.classes[0].step_hours;
    for part in all(&told).months.iter().chain([&all(&told).whole]) {
        let exact = Count::poisson(part.hours / 1100.0).unwrap();
        for (n, (got, expected)) in (1_u32..).zip(part.needed.probabilities().iter().zip(exact.probabilities())).take(7)
        {
            close(*got, *expected, (f64::from(n) * step / part.hours).powi(2), 0.0);
        }
    }
}
