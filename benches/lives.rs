//! Tally of 10,000,000 whole-hour lives and of 1,000,000 real-valued ones.
#![allow(missing_docs, clippy::unwrap_used)]

use criterion::{Criterion, criterion_group, criterion_main};
use relamp::base::random::Stream;
use relamp::lives::{Rows, Tally};

/// Weibull failures with shape 3 and scale 2,000 h, changed on plan at a random age; seeded.
fn lives(n: usize, whole: bool) -> Rows {
    let mut stream = Stream::new(1, "bench", "lives", 0);
    let mut rows = Rows::default();
    for _ in 0..n {
        let fails = 2000.0 * stream.exponential().cbrt();
        let planned = 1000.0 + 2000.0 * stream.uniform();
        let age = if whole { fails.min(planned).ceil() } else { fails.min(planned) };
        rows.low.push(age);
        rows.high.push(if fails < planned { age } else { f64::INFINITY });
    }
    rows
}

fn tallies(c: &mut Criterion) {
    let mut group = c.benchmark_group("tally");
    group.sample_size(10);
    let whole = lives(10_000_000, true);
    group.bench_function("10,000,000 whole hours", |b| b.iter(|| Tally::from_rows(&whole).unwrap()));
    let real = lives(1_000_000, false);
    group.bench_function("1,000,000 real-valued", |b| b.iter(|| Tally::from_rows(&real).unwrap()));
    let late = Rows {
        entry: Some(whole.low.iter().take(1_000_000).map(|x| (x * 0.5).floor()).collect()),
        ..lives(1_000_000, true)
    };
    group.bench_function("1,000,000 whole hours, late entry", |b| b.iter(|| Tally::from_rows(&late).unwrap()));
    group.finish();
}

criterion_group!(benches, tallies);
criterion_main!(benches);
