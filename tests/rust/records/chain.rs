//! A generated chain read through its own study file. Only the log tables and maps of that file are needed here, so
//! they are taken from it without the study room.

use relamp::records::{ClassNames, Ending, LogFormat, Options, Reading, ReasonMap, Source, read_sources};
use relamp::{Result, Run};
use relamp_demo::{Chain, Writing, generate};

/// The declared logs and maps of a chain.
pub(super) struct Declared {
    pub(super) formats: Vec<LogFormat>,
    pub(super) reasons: ReasonMap,
    pub(super) classes: ClassNames,
}

/// Dates of the file become text, as serde reads them.
fn plain(value: toml::Value) -> serde_json::Value {
    match value {
        toml::Value::Datetime(d) => serde_json::Value::String(d.to_string()),
        toml::Value::Array(a) => a.into_iter().map(plain).collect(),
        toml::Value::Table(t) => t.into_iter().map(|(k, v)| (k, plain(v))).collect::<serde_json::Map<_, _>>().into(),
        toml::Value::String(s) => s.into(),
        toml::Value::Integer(i) => i.into(),
        toml::Value::Float(f) => f.into(),
        toml::Value::Boolean(b) => b.into(),
    }
}

pub(super) fn declared(chain: &Chain) -> Declared {
    let text = std::str::from_utf8(chain.file("study.toml").unwrap()).unwrap();
    let file = plain(toml::Value::Table(text.parse().unwrap()));
    let formats = serde_json::from_value(file["log"].clone()).unwrap();
    let reasons = file["reasons"].as_object().unwrap().iter();
    let reasons = reasons.map(|(k, v)| (k.clone(), Ending::parse(v.as_str().unwrap()).unwrap()));
    let classes = file["class"].as_array().unwrap().iter().map(|c| {
        let others = c["also_called"].as_array().unwrap().iter().map(|o| o.as_str().unwrap().to_owned());
        (c["name"].as_str().unwrap().to_owned(), others.collect::<Vec<_>>())
    });
    Declared { formats, reasons: ReasonMap::new(reasons).unwrap(), classes: ClassNames::new(classes).unwrap() }
}

pub(super) fn read(chain: &Chain, options: Options) -> Result<Reading> {
    let d = declared(chain);
    let logs: Vec<_> = d.formats.iter().map(|f| (f, Source::Bytes(chain.file(&f.file).unwrap()))).collect();
    read_sources(&logs, &d.reasons, &d.classes, options, &Run::new())
}

/// Lives without the things that name a file.
type Plain = (String, String, Vec<(u64, u64)>, u64, u64, Ending);

fn lives(reading: &Reading) -> Vec<Plain> {
    let bits = |(a, b): &(f64, f64)| (a.to_bits(), b.to_bits());
    let plain = |l: relamp::records::LifeRecord<'_>| {
        let pieces = l.at_risk.iter().map(bits).collect();
        (l.serial.to_string(), l.lamp_class.to_string(), pieces, l.low_hours.to_bits(), l.end_hours.to_bits(), l.ending)
    };
    reading.lives.iter().map(plain).collect()
}

#[test]
fn a_clean_chain_gives_an_empty_ledger_and_the_true_lives() {
    for seed in 1..=2 {
        let chain = generate(seed, &relamp_demo::Options::clean_causes());
        let reading = read(&chain, Options { strict: true, ..Options::default() }).unwrap();
        assert_eq!(reading.ledger.findings, []);
        assert_eq!(reading.disputed, []);
        assert!(reading.ledger.counts.reconcile());
        assert_eq!(reading.ledger.counts.used, reading.spells.len() as u64);
        assert_eq!(reading.lives.len(), chain.lamps.len());
        assert!(reading.lives.len() > 1_000, "{}", reading.lives.len());
        let lives: Vec<_> = reading.lives.iter().collect();
        for lamp in &chain.lamps {
            let life = lives[lives.partition_point(|l| **l.serial < *lamp.serial)];
            assert_eq!(**life.serial, *lamp.serial);
            assert_eq!(life.ending.as_str(), lamp.ending().as_str(), "{}", life.serial);
            let tenths = |h: f64| (h * 10.0).round() as i64;
            let last = lamp.spells.last().unwrap();
            assert_eq!(tenths(life.entry_hours()), lamp.entry(), "{}", life.serial);
            if tenths(life.entry_hours()) < last.end {
                assert_eq!(tenths(life.end_hours), last.end, "{}", life.serial);
            }
            if life.ending.is_failure() && last.end > 0 {
                // The true age at failure lies where the record says: at the reading's step or in the interval.
                assert!(life.low_hours <= life.end_hours);
                assert!(lamp.failure_age <= life.end_hours + 1e-9, "{life:?} {}", lamp.failure_age);
            }
        }
    }
}

#[test]
fn the_decimal_comma_copy_gives_the_same_lives() {
    for options in [relamp_demo::Options::full(), relamp_demo::Options::clean_causes()] {
        let options = options.with_size(10, 60, 5);
        let copies = [Writing::AsDeclared, Writing::Points, Writing::Commas]
            .map(|writing| read(&generate(5, &options.clone().with_writing(writing)), Options::default()).unwrap());
        assert!(copies[0].lives.len() > 200);
        for copy in &copies[1..] {
            assert_eq!(lives(copy), lives(&copies[0]));
            assert_eq!(copy.ledger.counts, copies[0].ledger.counts);
        }
    }
}

#[test]
fn reading_twice_gives_the_same_bytes() {
    let chain = generate(9, &relamp_demo::Options::full().with_size(10, 60, 5));
    let bytes = || serde_json::to_vec(&read(&chain, Options::default()).unwrap()).unwrap();
    let first = bytes();
    assert!(first == bytes());
    let back: Reading = serde_json::from_slice(&first).unwrap();
    assert_eq!(back, read(&chain, Options::default()).unwrap());
}
