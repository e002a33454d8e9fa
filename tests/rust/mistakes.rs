//! Common mistakes in counting, and what each does to a fit: 2,000 runs of 200 lamps of Weibull shape 3, scale 3,000 h.
//!
//! The design and the sizes of the effects come from an independent simulation in another language (one seed, 400 runs).

use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{FitOptions, fit};
use relamp::lives::{Rows, Tally};
use relamp::{Result, Run};

const INF: f64 = f64::INFINITY;
const RUNS: u64 = 2000;
const LAMPS: usize = 200;
const SEED: u64 = 20_261_125;

/// A standard normal number (Box & Muller 1958).
fn normal(stream: &mut Stream) -> f64 {
    (2.0 * stream.exponential()).sqrt() * (std::f64::consts::TAU * stream.uniform()).cos()
}

/// Lamps seen at work from an age on, changed as planned if they have not failed by then.
fn lamps(run: u64, planned: f64, latest_entry: f64) -> Rows {
    let truth = Weibull { shape: 3.0, scale: 3000.0 };
    let mut stream = Stream::new(SEED, "test", "mistakes", run);
    let mut rows = Rows { entry: Some(Vec::new()), ..Rows::default() };
    while rows.low.len() < LAMPS {
        let life = truth.draws(1, &mut stream).unwrap()[0];
        let change = planned + 30.0 * normal(&mut stream);
        let entry = latest_entry * stream.uniform();
        // A lamp that failed before the records began was never seen.
        if life <= entry {
            continue;
        }
        rows.low.push(life.min(change));
        rows.high.push(if life <= change { life } else { INF });
        rows.entry.as_mut().unwrap().push(entry);
    }
    rows
}

/// Median shape and scale over the runs of one way of counting.
fn medians(planned: f64, latest_entry: f64, count: fn(Rows) -> Rows) -> (f64, f64) {
    let fits: Vec<Result<(f64, f64)>> = Run::new()
        .map(RUNS as usize, |run| {
            let (tally, _) = Tally::from_rows(&count(lamps(run as u64, planned, latest_entry)))?;
            let got = fit(family("weibull")?, &tally, &FitOptions::default(), &Run::new())?;
            Ok((got.parameter("shape").unwrap(), got.parameter("scale").unwrap()))
        })
        .unwrap();
    let (mut shapes, mut scales): (Vec<f64>, Vec<f64>) = fits.into_iter().map(Result::unwrap).unzip();
    shapes.sort_by(f64::total_cmp);
    scales.sort_by(f64::total_cmp);
    let middle = |v: &[f64]| f64::midpoint(v[v.len() / 2 - 1], v[v.len() / 2]);
    (middle(&shapes), middle(&scales))
}

#[track_caller]
fn within(got: (f64, f64), want: f64, tolerance: f64) {
    assert!((got.0 - want).abs() <= tolerance, "median shape {}, scale {}; want shape {want}", got.0, got.1);
}

#[test]
fn planned_changes_counted_as_censored_give_the_truth() {
    within(medians(2000.0, 0.0, |rows| rows), 3.0, 0.1);
}

#[test]
fn planned_changes_counted_as_failures_measure_the_policy() {
    within(medians(2000.0, 0.0, |rows| Rows { high: rows.low.clone(), ..rows }), 11.2, 0.3);
}

#[test]
fn late_entry_counted_gives_the_truth() {
    within(medians(2600.0, 1800.0, |rows| rows), 3.0, 0.1);
}

#[test]
fn late_entry_ignored_overstates_wear() {
    within(medians(2600.0, 1800.0, |rows| Rows { entry: None, ..rows }), 3.67, 0.1);
}
