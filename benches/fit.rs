//! Speed of fits: real-valued lives, whole-hour lives through a tally, and the weighted bootstrap.

use criterion::{Criterion, criterion_group, criterion_main};
use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{FitOptions, bootstrap, fit};
use relamp::lives::{Rows, Tally};

/// Lives from a Weibull of shape 2.5 and scale 1,800 h, changed at ages between 1,500 and 2,500 h.
fn rows(n: usize, whole: bool) -> Rows {
    let life = Weibull { shape: 2.5, scale: 1800.0 };
    let mut stream = Stream::new(20_251_228, "bench", "fit", 0);
    let mut rows = Rows::default();
    for _ in 0..n {
        let Ok(mut t) = life.draw(&mut stream) else { continue };
        let mut limit = 1500.0 + 1000.0 * stream.uniform();
        if whole {
            (t, limit) = (t.ceil(), limit.ceil());
        }
        rows.low.push(t.min(limit));
        rows.high.push(if t <= limit { t } else { f64::INFINITY });
    }
    rows
}

fn speed(c: &mut Criterion) {
    let (Ok(weibull), options, run) = (family("weibull"), FitOptions::default(), Run::new()) else { return };
    let mut group = c.benchmark_group("fit");
    group.sample_size(20);
    let ages = rows(1_000_000, false);
    if let Ok((real, _)) = Tally::from_rows(&ages) {
        group.bench_function("weibull_1e6_real_valued_tally_at_hand", |b| {
            b.iter(|| fit(weibull, &real, &options, &run));
        });
    }
    group.bench_function("weibull_1e6_real_valued_with_tally", |b| {
        b.iter(|| Tally::from_rows(&ages).and_then(|(tally, _)| fit(weibull, &tally, &options, &run)));
    });
    let hours = rows(10_000_000, true);
    group.sample_size(10);
    group.bench_function("weibull_1e7_whole_hours_with_tally", |b| {
        b.iter(|| Tally::from_rows(&hours).and_then(|(tally, _)| fit(weibull, &tally, &options, &run)));
    });
    if let Ok((small, _)) = Tally::from_rows(&rows(2_000, false)) {
        group.bench_function("bootstrap_2000_x_2000", |b| {
            b.iter(|| bootstrap(weibull, &small, &options, 2_000, 1, "bench", &run));
        });
    }
    group.finish();
}

criterion_group!(benches, speed);
criterion_main!(benches);
