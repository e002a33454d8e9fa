//! Reading lamp logs with their ledger: one million rows from memory, clean and with one bad row in a hundred; the same
//! bytes only cut into records show what the rules and the joining cost.

#![allow(missing_docs, reason = "criterion's macros make undocumented items")]
#![allow(clippy::unwrap_used, reason = "a bench may stop at the first surprise")]

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use relamp::Run;
use relamp::records::{ClassNames, Ending, LogFormat, Options, ReasonMap, Source, Table, TableFormat, read_sources};

const ROWS: usize = 1_000_000;

fn format() -> LogFormat {
    serde_json::from_value(serde_json::json!({
        "file": "log.csv", "exported_on": "2025-12-28", "dates": "iso",
        "columns": {"serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
            "removed_on": "out", "reason": "why", "hours": "hours", "hours_at_fitting": "at", "read_on": "read",
            "strikes": "strikes"},
    }))
    .unwrap()
}

/// Invented rows: 25,000 screens with 40 lamps one after the other, each 60 to 120 days; every `bad`th has no hours.
fn log(rows: usize, bad: usize) -> Vec<u8> {
    let mut text = String::from("serial,class,site,screen,in,out,at,hours,strikes,why,read\n");
    let start = chrono::NaiveDate::from_ymd_opt(2010, 1, 1).unwrap();
    let screens = rows.div_ceil(40);
    for screen in 0..screens {
        let mut day = start;
        for lamp in 0..40.min(rows - screen * 40) {
            let n = screen * 40 + lamp;
            let days = 60 + i64::try_from(n * 37 % 61).unwrap();
            let out = day + chrono::Duration::days(days);
            let hours = if bad > 0 && n % bad == 0 { "n/a".to_owned() } else { (days * 10).to_string() };
            let why = ["planned", "dim", "flicker", "burst"][n % 4];
            let (site, screen, strikes) = (screen / 8, screen % 8, days * 3);
            text.extend([format!("AX-{n:07},2.0 kW,Site {site},{screen},{day},{out},0,{hours},{strikes},{why},\n")]);
            day = out;
        }
    }
    text.into_bytes()
}

fn reading(c: &mut Criterion) {
    let format = format();
    let reasons =
        [("planned", Ending::Planned), ("dim", Ending::Dim), ("flicker", Ending::Flicker), ("burst", Ending::Burst)];
    let reasons = ReasonMap::new(reasons).unwrap();
    let classes = ClassNames::new([("2.0 kW", ["2kW"])]).unwrap();
    let mut group = c.benchmark_group("records");
    group.sample_size(10).throughput(Throughput::Elements(ROWS as u64));
    for (name, bad) in [("read_1e6_clean", 0), ("read_1e6_one_bad_in_100", 100)] {
        let bytes = log(ROWS, bad);
        group.bench_function(name, |b| {
            b.iter(|| {
                let source = Source::Bytes(black_box(&bytes));
                read_sources(&[(&format, source)], &reasons, &classes, Options::default(), &Run::new()).unwrap()
            });
        });
    }
    let bytes = log(ROWS, 0);
    group.bench_function("cut_1e6_rows_into_cells", |b| {
        b.iter(|| {
            let mut table = Table::open("log.csv", Source::Bytes(black_box(&bytes)), &TableFormat::default()).unwrap();
            let mut blanks = 0_u64;
            while table.advance().unwrap() {
                blanks += u64::from(table.cell(10) == relamp::records::Cell::Blank);
            }
            blanks
        });
    });
    group.finish();
}

criterion_group!(benches, reading);
criterion_main!(benches);
