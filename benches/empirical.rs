//! Product-limit curve of 1,000,000 real-valued lives, from a tally and from bare rows; the self-consistent estimate of
//! 100,000 distinct intervals; a rank test of two groups of 100,000 lives.
#![allow(missing_docs, clippy::unwrap_used)]

use criterion::{Criterion, criterion_group, criterion_main};
use relamp::base::random::Stream;
use relamp::empirical::{
    CurveOptions, RankOptions, SelfConsistentOptions, incidence, product_limit, rank_test, self_consistent,
};
use relamp::lives::{Rows, Tally};

/// Weibull failures with shape 3 and scale 2,000 h, changed on plan at a random age; seeded.
fn lives(n: usize) -> Rows {
    let mut stream = Stream::new(1, "bench", "empirical", 0);
    let mut rows = Rows::default();
    for _ in 0..n {
        let fails = 2000.0 * stream.exponential().cbrt();
        let planned = 1000.0 + 2000.0 * stream.uniform();
        rows.low.push(fails.min(planned));
        rows.high.push(if fails < planned { fails } else { f64::INFINITY });
    }
    rows
}

fn curves(c: &mut Criterion) {
    let mut group = c.benchmark_group("product limit");
    group.sample_size(10);
    let rows = lives(1_000_000);
    let options = CurveOptions::default();
    let tally = Tally::from_rows(&rows).unwrap().0;
    group.bench_function("1,000,000 rows, tally at hand", |b| b.iter(|| product_limit(&tally, &options).unwrap()));
    group.bench_function("1,000,000 rows, from bare columns", |b| {
        b.iter(|| product_limit(&Tally::from_rows(&rows).unwrap().0, &options).unwrap());
    });
    group.bench_function("incidence, tally at hand", |b| b.iter(|| incidence(&tally, &options).unwrap()));
    group.finish();
}

/// The same lives, looked at twice at ages of their own.
fn looked_at(n: usize) -> Rows {
    let mut stream = Stream::new(2, "bench", "empirical", 0);
    let mut rows = Rows::default();
    for _ in 0..n {
        let fails = 2000.0 * stream.exponential().cbrt();
        let first = 3000.0 * stream.uniform();
        let second = first + 800.0 * stream.uniform();
        let (low, high) = if fails <= first {
            (0.0, first)
        } else if fails <= second {
            (first, second)
        } else {
            (second, f64::INFINITY)
        };
        rows.low.push(low);
        rows.high.push(high);
    }
    rows
}

fn mixtures_and_groups(c: &mut Criterion) {
    let mut group = c.benchmark_group("without a family");
    group.sample_size(10);
    let tally = Tally::from_rows(&looked_at(100_000)).unwrap().0;
    let options = SelfConsistentOptions::default();
    group.bench_function("self-consistent, 100,000 intervals", |b| {
        b.iter(|| self_consistent(&tally, &options).unwrap());
    });
    let rows = lives(200_000);
    let half = |from: usize| {
        let part = |column: &[f64]| column[from..from + 100_000].to_vec();
        Tally::from_rows(&Rows { low: part(&rows.low), high: part(&rows.high), ..Rows::default() }).unwrap().0
    };
    let (a, b) = (half(0), half(100_000));
    group.bench_function("rank test, two groups of 100,000", |bench| {
        bench.iter(|| rank_test(&[("a", &a), ("b", &b)], &RankOptions::default()).unwrap());
    });
    group.finish();
}

criterion_group!(benches, curves, mixtures_and_groups);
criterion_main!(benches);
