//! Planned age, cost curve and a fleet forecast in one world: what each draw costs.

// Benches stop at the first surprise; the lints guard the library.
#![allow(clippy::unwrap_used, missing_docs)]

use criterion::{Criterion, criterion_group, criterion_main};
use relamp::demand::{Horizon, SocketToday, forecast};
use relamp::family::Weibull;
use relamp::fit::{CauseLife, World};
use relamp::policy::{AgeOptions, cost_curve, planned_age};
use relamp::records::Ending;
use relamp::terms::{Costs, PrintedHours};

fn world(causes: &[(Ending, f64, f64, f64)]) -> World {
    World {
        causes: causes
            .iter()
            .map(|(ending, shape, scale, _)| CauseLife {
                endings: vec![(*ending, 1.0)],
                life: Box::new(Weibull { shape: *shape, scale: *scale }),
            })
            .collect(),
        costs: Costs::new(950.0, causes.iter().map(|c| (c.0, c.3))).unwrap(),
    }
}

fn decisions(c: &mut Criterion) {
    let one = world(&[(Ending::Dim, 3.0, 2600.0, 1500.0)]);
    let five = world(&[
        (Ending::Burst, 2.0, 30_000.0, 5200.0),
        (Ending::Seal, 1.0, 40_000.0, 1900.0),
        (Ending::NoStrike, 3.0, 7000.0, 1900.0),
        (Ending::Flicker, 2.5, 6000.0, 1500.0),
        (Ending::Dim, 5.0, 2800.0, 1250.0),
    ]);
    let limit = PrintedHours { maximum_hours: Some(2500.0), source: "invented".into(), ..PrintedHours::default() };
    let limit = limit.limit().unwrap();
    let options = AgeOptions::default();
    let ages: Vec<f64> = (1..=100).map(|i| 25.0 * f64::from(i)).collect();
    let sockets: Vec<SocketToday> =
        (0..300).map(|i| SocketToday { age_hours: Some(f64::from(i) * 7.0), hours_per_week: 72.0 }).collect();
    let mut group = c.benchmark_group("policy");
    group.sample_size(10);
    for (name, world) in [("one_cause", &one), ("five_causes", &five)] {
        group.bench_function(format!("planned_age/{name}"), |b| b.iter(|| planned_age(world, &limit, &options)));
        group.bench_function(format!("cost_curve_100/{name}"), |b| b.iter(|| cost_curve(world, &ages, &limit)));
        group.bench_function(format!("forecast_300x6/{name}"), |b| {
            b.iter(|| forecast(&sockets, world, 2000.0, &limit, Horizon::months(6)));
        });
    }
    group.finish();
}

criterion_group!(benches, decisions);
criterion_main!(benches);
