//! Product-limit curve of 1,000,000 real-valued lives: from a tally, and from bare rows.
#![allow(missing_docs, clippy::unwrap_used)]

use criterion::{Criterion, criterion_group, criterion_main};
use relamp::base::random::Stream;
use relamp::empirical::{CurveOptions, incidence, product_limit};
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

criterion_group!(benches, curves);
criterion_main!(benches);
