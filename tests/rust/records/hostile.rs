//! Random and hostile bytes: an error or findings, never a panic, and never a lost row.

use proptest::prelude::*;
use relamp::Run;
use relamp::lives::read_table;
use relamp::records::{
    ClassNames, DateOrder, Encoding, LogFormat, NumberFormat, Options, ReasonMap, Source, TableFormat, date, number,
    read_sources,
};

fn log() -> LogFormat {
    serde_json::from_value(serde_json::json!({
        "file": "log.csv", "exported_on": "2025-12-28", "blank_hours_at_fitting": "new", "dates": "iso",
        "columns": {"serial": "s", "lamp_class": "c", "site": "h", "screen": "k", "fitted_on": "i", "removed_on": "o",
            "reason": "w", "hours": "t", "strikes": "n", "hours_at_fitting": "a", "hours_last_good": "g"},
    }))
    .unwrap()
}

fn survives(format: &LogFormat, bytes: &[u8]) {
    let reasons = ReasonMap::default();
    let source = Source::Bytes(bytes);
    let answer = read_sources(&[(format, source)], &reasons, &ClassNames::any(), Options::default(), &Run::new());
    match answer {
        Ok(reading) => {
            let ledger = &reading.ledger;
            assert!(ledger.counts.reconcile());
            assert_eq!(ledger.counts.used, reading.spells.len() as u64);
            assert!(reading.lives.iter().all(|l| !l.ending.is_failure()), "no reason is mapped");
            assert!(reading.lives.iter().flat_map(|l| l.at_risk).all(|p| p.0 >= 0.0 && p.0 <= p.1));
        }
        Err(e) => assert!(!e.problems().is_empty() && !e.to_string().is_empty()),
    }
}

/// A cell as it might stand in a bad log.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        "[A-C]",
        "[0-9]{1,4}",
        "202[0-5]-0[1-9]-[0-2][0-9]",
        Just("-5".to_owned()),
        Just("1,234".to_owned()),
        Just("1e400".to_owned()),
        Just("NaN".to_owned()),
        Just("=HYPERLINK(\"x\")".to_owned()),
        Just("<script>".to_owned()),
        Just("$\\foo$".to_owned()),
        Just("a\nb".to_owned()),
        "\\PC{0,6}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400), encoding in 0..3, table in any::<bool>()) {
        let encoding = [Encoding::Utf8, Encoding::Windows1252, Encoding::Utf16][encoding as usize];
        let mut body = if table { b"low,high,s,c,h,k,i,o,w,t,n,a,g\n".to_vec() } else { Vec::new() };
        body.extend(bytes);
        survives(&LogFormat { encoding, ..log() }, &body);
        let _ = read_table("t", Source::Bytes(&body), &TableFormat { encoding, ..TableFormat::default() });
    }

    #[test]
    fn random_cells_never_panic_and_lose_no_row(rows in prop::collection::vec(prop::collection::vec(cell(), 11), 1..40)) {
        let mut text = String::from("s,c,h,k,i,o,w,t,n,a,g\n");
        for row in &rows {
            let cells: Vec<String> = row.iter().map(|c| format!("\"{}\"", c.replace('"', "\"\""))).collect();
            text.push_str(&cells.join(","));
            text.push('\n');
        }
        survives(&log(), text.as_bytes());
    }

    /// Rows that can be read, with fields that clash at random: whatever the rules say, every row is accounted for.
    #[test]
    fn random_spells_lose_no_row(rows in prop::collection::vec((0..4_u8, 0..3_u8, 0..60_i64, 0..40_i64, 0..900_i32, 0..900_i32, 0..3_u8), 1..60)) {
        let mut text = String::from("s,c,h,k,i,o,w,t,n,a,g\n");
        let start = chrono::NaiveDate::from_ymd_opt(2024, 1, 1).unwrap();
        for (serial, screen, day, length, at, hours, open) in rows {
            let from = start + chrono::Duration::days(day);
            let to = if open == 0 { String::new() } else { (from + chrono::Duration::days(length - 3)).to_string() };
            text.extend([format!("L1{serial}O,K,H,{screen},{from},{to},,{hours},{at},{at},\n")]);
        }
        survives(&log(), text.as_bytes());
    }

    #[test]
    fn numbers_and_dates_never_panic(text in "\\PC{0,12}") {
        let english = NumberFormat { decimal: '.', thousands: Some(',') };
        if let Ok(x) = number(&text, english) {
            prop_assert!(x.is_finite());
        }
        for order in [None, Some(DateOrder::Iso), Some(DateOrder::DayFirst), Some(DateOrder::MonthFirst)] {
            let _ = date(&text, order);
        }
    }

    #[test]
    fn a_written_number_reads_back(x in -1e9..1e9_f64) {
        let text = x.to_string();
        prop_assert_eq!(number(&text, NumberFormat::default()), Ok(x));
        let comma = NumberFormat { decimal: ',', thousands: None };
        prop_assert_eq!(number(&text.replace('.', ","), comma), Ok(x));
    }
}

#[test]
fn names_that_look_like_code_are_kept_as_they_stand() {
    let names = ["<script>alert(1)</script>", "=HYPERLINK(\"http://x\")", "$\\foo$", "+1", "@a"];
    let mut text = String::from("s,c,h,k,i,o,w,t,n,a,g\n");
    for (i, name) in names.iter().enumerate() {
        text.extend([format!("L{i},K,\"{}\",1,2024-01-01,2024-06-01,w,900,,,\n", name.replace('"', "\"\""))]);
    }
    let source = Source::Bytes(text.as_bytes());
    let reasons = ReasonMap::default();
    let reading =
        read_sources(&[(&log(), source)], &reasons, &ClassNames::any(), Options::default(), &Run::new()).unwrap();
    let sites: Vec<&str> = reading.spells.iter().map(|s| &**s.site).collect();
    assert_eq!(sites, names);
}
