//! Lamps needed by a chain of 50,000 screens over 24 calendar months, in one world.

#![allow(missing_docs, clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::hint::black_box;

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use relamp::Run;
use relamp::demand::{Calendar, ClassModel, ClassPlan, Programme, Screen, StopDate, chain_forecast};
use relamp::family::Weibull;
use relamp::fit::{CauseLife, World};
use relamp::records::Ending;
use relamp::terms::{Costs, PrintedHours};

const SCREENS: u32 = 50_000;

/// Every screen with an age and weekly hours of its own, eight to a site, a hundred sites to a depot; one in ten is
/// converted within the months.
fn screens() -> Vec<Screen> {
    let of = |i: u32| {
        let share = |factor: f64| (f64::from(i) * factor).fract();
        let from = NaiveDate::from_ymd_opt(2026, 7, 1).unwrap();
        let to = NaiveDate::from_ymd_opt(2026, 8, 15).unwrap();
        Screen {
            depot: format!("depot {}", i / 800),
            programme: Some("season".into()),
            stop: i.is_multiple_of(10).then_some(StopDate::Between { from, to }),
            ..Screen::new(
                "X",
                &format!("site {}", i / 8),
                Some(2000.0 * share(0.618_034)),
                60.0 + 40.0 * share(0.754_878),
            )
        }
    };
    (0..SCREENS).map(of).collect()
}

fn chain(c: &mut Criterion) {
    let causes = vec![
        CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Weibull { shape: 1.3, scale: 30_000.0 }) },
        CauseLife { endings: vec![(Ending::Dim, 1.0)], life: Box::new(Weibull { shape: 4.0, scale: 2600.0 }) },
    ];
    let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1250.0)]).unwrap() };
    let limit = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
    let limit = limit.limit().unwrap();
    let plan = ClassPlan { class: "X", model: ClassModel::World(&world), planned_age_hours: 2000.0, limit: &limit };
    let calendar = Calendar::new(NaiveDate::from_ymd_opt(2026, 1, 10).unwrap(), 24).unwrap();
    let mut by_month = [1.0; 12];
    (by_month[6], by_month[11]) = (0.7, 1.4);
    let programmes = BTreeMap::from([("season".to_owned(), Programme { by_month, ..Programme::default() })]);
    let screens = screens();
    c.bench_function("chain/50000_screens/24_months", |b| {
        b.iter(|| chain_forecast(black_box(&screens), &[plan], &calendar, &programmes, None, &Run::new()));
    });
}

criterion_group! { name = benches; config = Criterion::default().sample_size(10); targets = chain }
criterion_main!(benches);
