//! Ends of the profile of a mean that may be infinite, against a scan over all shapes.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{BirnbaumSaunders, Gamma, InverseGaussian, Life, LogLogistic, family};
use relamp::fit::{FitOptions, Quantity, Sides, fit};
use relamp::lives::{Rows, Tally};

/// Lamps watched to an age, and their rows as pairs of an age and whether it is that of a failure.
fn watched(life: &LogLogistic, n: usize, until: f64, stream: &mut Stream) -> Vec<(f64, bool)> {
    let ages = life.draws(n, stream).unwrap();
    ages.iter().map(|a| if *a <= until { (*a, true) } else { (until, false) }).collect()
}

fn ln_likelihood(rows: &[(f64, bool)], shape: f64, ln_scale: f64) -> f64 {
    let each = rows.iter().map(|(age, failed)| {
        let z = shape * (age.ln() - ln_scale);
        // ln(1 + e^z)
        let above = z.max(0.0) + (-z.abs()).exp().ln_1p();
        if *failed { shape.ln() - age.ln() + z - 2.0 * above } else { -above }
    });
    each.sum()
}

/// ln L at its highest over all shapes with this mean: a scan over ln(shape - 1), then a golden section.
fn highest(rows: &[(f64, bool)], ln_mean: f64) -> f64 {
    let at = |ln_over: f64| {
        let over = ln_over.exp();
        let shape = 1.0 + over;
        let (y, rest) = (std::f64::consts::PI / shape, std::f64::consts::PI * over / shape);
        let sine = if over < 1.0 { rest.sin() } else { y.sin() };
        ln_likelihood(rows, shape, ln_mean - (y / sine).ln())
    };
    let steps: Vec<f64> = (0..=2600).map(|k| -60.0 + 0.025 * f64::from(k)).collect();
    let best = steps.iter().copied().max_by(|a, b| at(*a).total_cmp(&at(*b))).unwrap();
    let (mut low, mut high) = (best - 0.025, best + 0.025);
    for _ in 0..60 {
        let (a, b) = (low + 0.382 * (high - low), high - 0.382 * (high - low));
        if at(a) < at(b) { low = a } else { high = b }
    }
    at(0.5 * (low + high))
}

#[test]
fn the_mean_of_a_log_logistic_life_ends_where_a_scan_says() {
    let (options, run) = (FitOptions::default(), Run::new());
    let mut stream = Stream::new(3, "mean_ends", "samples", 0);
    let (mut closed, mut open) = (0, 0);
    for _ in 0..84 {
        let life = LogLogistic { shape: 1.3 + 1.7 * stream.uniform(), scale: 500.0 + 1000.0 * stream.uniform() };
        let n = 5 + (20.0 * stream.uniform()) as usize;
        let until = life.scale * (0.7 + 2.3 * stream.uniform());
        let rows = watched(&life, n, until, &mut stream);
        if rows.iter().filter(|r| r.1).count() < 3 {
            continue;
        }
        let low = rows.iter().map(|r| r.0).collect();
        let high = rows.iter().map(|r| if r.1 { r.0 } else { f64::INFINITY }).collect();
        let (tally, _) = Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap();
        let found = fit(family("log_logistic").unwrap(), &tally, &options, &run).unwrap();
        // A fitted mean without end has no interval.
        let Ok(ends) = found.profile(&tally, &options, &Quantity::Mean, 0.95, Sides::Both, &run) else { continue };
        let (top, cut) = (found.log_likelihood(), -1.920_729_410_347_062);
        let fall = |mean: f64| highest(&rows, mean.ln()) - top;
        let estimate = ends.estimate.unwrap();
        if let Some(low) = ends.low {
            assert!((fall(low) - cut).abs() < 1e-3, "{n} {ends:?} {}", fall(low));
        }
        if let Some(high) = ends.high {
            assert!((fall(high) - cut).abs() < 1e-3, "{n} {ends:?} {}", fall(high));
            let farther = [1.5, 10.0, 1e3, 1e6, 1e12].map(|by| fall(high * by));
            assert!(farther.iter().all(|fall| *fall < cut), "{n} {ends:?} {farther:?}");
            closed += 1;
        } else {
            assert!(fall(estimate * 8e6) > cut, "{n} {ends:?} {}", fall(estimate * 8e6));
            open += 1;
        }
    }
    assert!(closed > 20 && open > 10, "{closed} {open}");
}

#[test]
fn what_remains_far_out_is_one_over_the_rate() {
    // Their rates near a constant: 1 / scale, shape / (2 mean) and 1 / (2 scale shape^2).
    let lives: [(Box<dyn Life>, f64); 3] = [
        (Box::new(Gamma { shape: 3.0, scale: 200.0 }), 200.0),
        (Box::new(InverseGaussian { shape: 4.0, mean: 1000.0 }), 500.0),
        (Box::new(BirnbaumSaunders { shape: 0.5, scale: 1000.0 }), 500.0),
    ];
    for (life, want) in lives {
        for age in [1e13, 1e20, 1e100, 1e300] {
            let rest = life.mean_residual_life(age).unwrap();
            assert!((rest / want - 1.0).abs() < 1e-6, "{life:?} {age} {rest} {want}");
        }
    }
}
