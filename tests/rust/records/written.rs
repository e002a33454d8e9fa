//! A finding shows the cell as the file has it, so that it can be searched there.

use std::collections::BTreeMap;

use super::chain;
use relamp::Run;
use relamp::records::{
    ClassNames, Column, DateOrder, Encoding, Ending, LogFormat, Options, Reading, ReasonMap, Source, Values,
    read_sources,
};

/// A log of a German site: semicolons, decimal commas, points between thousands, days first, code page 1252.
fn format(columns: &[(&str, &str)]) -> LogFormat {
    let columns: BTreeMap<&str, &str> = columns.iter().copied().collect();
    serde_json::from_value(serde_json::json!({
        "file": "west.csv", "encoding": "windows-1252", "delimiter": ";", "decimal": ",", "thousands": ".",
        "dates": "day-first", "exported_on": "2025-12-28", "blank_hours_at_fitting": "new",
        "records_from": "2020-01-01", "columns": columns,
    }))
    .unwrap()
}

const COLUMNS: [(&str, &str); 12] = [
    ("serial", "Seriennr"),
    ("lamp_class", "Typ"),
    ("site", "Haus"),
    ("screen", "Saal"),
    ("fitted_on", "Einbau"),
    ("removed_on", "Ausbau"),
    ("reason", "Grund"),
    ("hours", "Stunden"),
    ("hours_at_fitting", "Stand"),
    ("hours_last_good", "gut bei"),
    ("read_on", "gelesen"),
    ("strikes", "Zündungen"),
];

const HEADER: &str = "Seriennr;Typ;Haus;Saal;Einbau;Ausbau;Grund;Stunden;Stand;gut bei;gelesen;Zündungen\n";

fn read(format: &LogFormat, source: Source<'_>) -> Reading {
    let reasons = ReasonMap::new([("Plan", Ending::Planned), ("trüb", Ending::Dim)]).unwrap();
    let classes = ClassNames::new([("2.0 kW", ["2kW"])]).unwrap();
    let reading = read_sources(&[(format, source)], &reasons, &classes, Options::default(), &Run::new()).unwrap();
    assert!(reading.ledger.counts.reconcile());
    reading
}

/// Rule, column and value of every finding.
fn told(reading: &Reading) -> Vec<(&str, &str, &str)> {
    let findings = &reading.ledger.findings;
    findings.iter().map(|f| (f.rule.strip_prefix("records.").unwrap(), f.column.as_str(), f.value.as_str())).collect()
}

#[test]
fn numbers_dates_and_letters_stand_as_in_the_file() {
    let rows = [
        // Found in the row itself.
        "A1;2kW;Süd;1;02.06.2022;01.05.2022;Plan;900;;;;",
        "A2;2kW;Süd;2;03.06.2022;01.09.2022;Plan;-1.894,6;;;;",
        "A3;2kW;Süd;3;03.06.2022;23.06.2022;Plan;\"1.894,6\";;;;",
        "A4;2kW;Süd;4;03.06.2022;01.09.2022;Plan; 700,5 ;1.200,25;;;",
        "A5;2kW;Süd;5;03.06.2022;03.02.2026;Plan;900;;;;",
        "A6;2kW;Süd;6;3.6.2019;01.09.2022;Plan;900;;;;",
        "A7;2kW;Süd;7;03.06.2022;01.09.2022;Plan;1.900,0;100,0;99,5;;",
        "A8;2kW;Süd;8;03.06.2022;01.09.2022;kaputt?\u{a0};900,0;;;;viele",
        "A9;2kW;Süd;9;bald;01.09.2022;Plan;1.2,3;;;;",
        "B1;3 kW;Süd;10;03.06.2022;01.09.2022;Plan;900;;;;",
        // Found by comparing rows.
        " C1;2kW;Süd;20 ;03.06.2022;01.09.2022;Plan;900;;;;",
        "C1;2kW;Süd;21;01.08.2022;01.10.2022;Plan;1.500;900;;;",
        "D1;2kW;Süd;22;03.06.2022;01.09.2022;Plan;1.250,5;;;;",
        "D1;2kW;Süd;23;03.10.2022;01.12.2022;Plan;1.600;1.150,50;;;",
        "E1;2kW;Süd;24;03.06.2022;01.09.2022;Plan;1.000;;;;",
        " E1 ;2kW;Süd;24;03.06.2022;01.09.2022;Plan;1.000;;;;",
        "F1;2kW;Süd;25;03.06.2022;;;300,5;;;01.07.2022;",
        "F2;2kW;Süd;25;03.08.2022;01.12.2022;trüb;800;;;;",
        "G1;2kW;Süd;26;03.06.2022;01.09.2022;Plan;1.000,5;;;;",
        "G2;2kW;Süd;26;01.09.2022;01.12.2022;Plan;1.900;1.000,50;;;",
        "H1;2kW;Süd;27;03.06.2022;01.09.2022;Plan;800;;;;",
        "H1;3.0;Süd;27;03.09.2022;01.12.2022;Plan;900;;;;",
    ];
    let text = format!("{HEADER}{}\n", rows.join("\n"));
    let western: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let reading = read(&format(&COLUMNS), Source::Bytes(&western));
    assert_eq!(
        told(&reading),
        [
            ("removed_before_fitted", "Ausbau", "01.05.2022"),
            ("hours_negative", "Stunden", "-1.894,6"),
            ("hours_impossible", "Stunden", "1.894,6"),
            ("meter_restarted", "Stunden", " 700,5 "),
            ("date_after_export", "Ausbau", "03.02.2026"),
            ("entry_unknown", "Einbau", "3.6.2019"),
            ("meter_restarted", "gut bei", "99,5"),
            ("reason_unmapped", "Grund", "kaputt?\u{a0}"),
            ("strikes_unreadable", "Zündungen", "viele"),
            ("date_unreadable", "Einbau", "bald"),
            ("hours_unreadable", "Stunden", "1.2,3"),
            ("class_unknown", "Typ", "3 kW"),
            ("two_screens_at_once", "Saal", "20 "),
            ("two_screens_at_once", "Saal", "21"),
            ("meter_restarted", "Stand", "1.150,50"),
            ("duplicate", "Seriennr", " E1 "),
            ("removal_missing", "Ausbau", ""),
            ("restart_forgotten", "Stand", "1.000,50"),
            ("class_unknown", "Typ", "3.0"),
        ]
    );
    // What was understood stands in the sentence.
    let said = |rule: &str, piece: &str| {
        let finding = reading.ledger.findings.iter().find(|f| f.rule.ends_with(rule) && f.sentence.contains(piece));
        assert!(finding.is_some(), "{rule} with {piece}");
    };
    said("hours_negative", "-1,894.6");
    said("hours_impossible", "1,894.6 h in 20 days");
    said("date_after_export", "2026-02-03");
    said("entry_unknown", "2019-06-03");
    said("meter_restarted", "1,150.5 h though it had 1,250.5 h");
}

#[test]
fn a_finding_on_columns_in_memory_shows_the_value_as_given() {
    let text = |values: &[&str]| Values::Text(values.iter().map(|v| (!v.is_empty()).then(|| (*v).into())).collect());
    let day = |d: &str| d.parse().ok();
    let columns: Vec<Column> = [
        ("Seriennr", text(&["A", "B", " C ", "D"])),
        ("Typ", text(&["2kW"; 4])),
        ("Haus", text(&["S"; 4])),
        ("Saal", Values::Number(vec![Some(1.0), Some(2.0), Some(3.0), Some(4.0)])),
        ("Einbau", Values::Date(vec![day("2022-06-03"), day("2022-06-03"), day("2019-06-03"), day("2022-06-03")])),
        ("Ausbau", Values::Date(vec![day("2022-06-23"), day("2022-05-01"), day("2022-09-01"), day("2022-09-01")])),
        ("Grund", text(&["Plan"; 4])),
        ("Stunden", Values::Number(vec![Some(1894.6), Some(900.0), Some(900.0), Some(900.0)])),
    ]
    .into_iter()
    .map(|(name, values)| Column { name: name.into(), values })
    .collect();
    let reading = read(&format(&COLUMNS[..8]), Source::Columns(&columns));
    assert_eq!(
        told(&reading),
        [
            ("hours_impossible", "Stunden", "1894.6"),
            ("removed_before_fitted", "Ausbau", "2022-05-01"),
            ("entry_unknown", "Einbau", "2019-06-03"),
        ]
    );
}

/// Every finding of the untidy demo chain that points at a cell, against the file read by another reader.
#[test]
fn every_value_is_found_in_the_file_at_its_line_and_column() {
    let mut compared = BTreeMap::new();
    for seed in 1..=4 {
        let made = relamp_demo::generate(seed, &relamp_demo::Options::full());
        let reading = chain::read(&made, Options::default()).unwrap();
        let formats = chain::declared(&made).formats;
        for format in &formats {
            let bytes = made.file(&format.file).unwrap();
            let encoding = match format.encoding {
                Encoding::Utf8 => encoding_rs::UTF_8,
                Encoding::Windows1252 => encoding_rs::WINDOWS_1252,
                Encoding::Utf16 => encoding_rs::UTF_16LE,
            };
            let text = encoding.decode(bytes).0;
            // The record that starts at a physical line.
            let record = |line: u64| {
                let from: usize = text.split_inclusive('\n').take(line as usize - 1).map(str::len).sum();
                let mut reader = csv::ReaderBuilder::new();
                reader.delimiter(u8::try_from(format.delimiter).unwrap()).flexible(true).has_headers(false);
                reader.from_reader(text[from..].as_bytes()).into_records().next().unwrap().unwrap()
            };
            let header = record(1);
            let cells = reading.ledger.findings.iter().filter(|f| f.file == format.file && !f.column.is_empty());
            for f in cells {
                let column = header.iter().position(|h| h.trim() == f.column).unwrap();
                assert_eq!(record(f.line).get(column).unwrap(), f.value, "{f:?}");
                let strange = format.decimal == ',' || format.dates != Some(DateOrder::Iso);
                *compared.entry((strange, f.rule.clone())).or_insert(0) += 1;
            }
        }
    }
    let strange = compared.iter().filter(|((strange, _), _)| *strange).count();
    assert!(strange >= 12, "{compared:?}");
}
