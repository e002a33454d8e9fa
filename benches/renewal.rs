//! Changes of one screen over 20 years of 5,000 burning hours.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use relamp::family::{Life, Weibull};
use relamp::renewal::{ChangeRule, change_counts, expected_changes};

const HOURS: f64 = 100_000.0;

fn twenty_years(c: &mut Criterion) {
    let grid: Vec<f64> = (1..=240).map(|month| HOURS * f64::from(month) / 240.0).collect();
    for shape in [0.5, 3.0, 50.0] {
        let life: &dyn Life = &Weibull { shape, scale: 1500.0 };
        for (name, rule) in [("to_failure", ChangeRule::to_failure()), ("planned", ChangeRule::at_age(1200.0))] {
            c.bench_function(&format!("months/{name}/shape_{shape}"), |b| {
                b.iter(|| expected_changes(black_box(life), &rule, &grid));
            });
            c.bench_function(&format!("counts/{name}/shape_{shape}"), |b| {
                b.iter(|| change_counts(black_box(life), &rule, HOURS));
            });
        }
    }
}

criterion_group! { name = benches; config = Criterion::default().sample_size(10); targets = twenty_years }
criterion_main!(benches);
