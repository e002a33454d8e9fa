//! Cases on which readers of tables, clocks and meters are known to stumble; each names its own source in
//! `tests/data/hard_cases_records.json`.

use relamp::lives::{Rows, read_table};
use relamp::records::{DateOrder, Falls, NumberFormat, Source, TableFormat, date, hours_between, hours_burned};
use relamp::{Error, Result};
use serde_json::Value;

fn cases(prefix: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../../data/hard_cases_records.json")).unwrap();
    let cases = all["cases"].as_array().unwrap().iter();
    cases.filter(|c| c["id"].as_str().unwrap().starts_with(prefix)).cloned().collect()
}

fn bytes(input: &Value) -> Vec<u8> {
    if let Some(text) = input["csv"].as_str() {
        return text.as_bytes().to_vec();
    }
    // Base64 of one case only: four characters to three bytes.
    let text = input["csv_base64"].as_str().unwrap();
    let alphabet = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let digits: Vec<u32> =
        text.bytes().filter(|b| *b != b'=').map(|b| alphabet.iter().position(|a| *a == b).unwrap() as u32).collect();
    let mut out = Vec::new();
    for four in digits.chunks(4) {
        let word = four.iter().enumerate().fold(0, |w, (i, d)| w | d << (18 - 6 * i));
        out.extend(word.to_be_bytes().iter().skip(1).take(four.len() - 1));
    }
    out
}

fn format(declared: &Value) -> TableFormat {
    let sign = |key: &str| declared[key].as_str().and_then(|s| s.chars().next());
    TableFormat {
        delimiter: sign("delimiter").unwrap_or(','),
        numbers: NumberFormat { decimal: sign("decimal").unwrap_or('.'), thousands: sign("thousands") },
        ..TableFormat::default()
    }
}

fn read(bytes: &[u8], declared: &Value) -> Result<Rows> {
    read_table("case.csv", Source::Bytes(bytes), &format(declared))
}

/// The rows as the cases write them: low, high or null, entry, count, group.
fn records(rows: &Rows) -> Value {
    let record = |i: usize| {
        let high = if rows.high[i].is_finite() { Value::from(rows.high[i]) } else { Value::Null };
        let entry = rows.entry.as_ref().map_or(0.0, |e| e[i]);
        let count = rows.count.as_ref().map_or(1, |c| c[i]);
        let group = rows.group.as_ref().map_or("", |g| rows.groups[g[i] as usize].stratum.as_str());
        serde_json::json!([rows.low[i], high, entry, count, group])
    };
    (0..rows.low.len()).map(record).collect()
}

/// Checks one problem against the place and the words that a case expects.
fn check(id: &str, error: &Error, n: usize, expect: &Value) {
    let problem = &error.problems()[n];
    let text = problem.to_string();
    if let Some(record) = expect["record"].as_u64() {
        assert_eq!(problem.place.row, Some(record), "{id}: {text}");
    }
    if let Some(line) = expect["line"].as_u64() {
        assert_eq!(problem.place.line, Some(line), "{id}: {text}");
    }
    if let Some(column) = expect["column"].as_str() {
        assert_eq!(problem.place.column.as_deref(), Some(column), "{id}: {text}");
    }
    if let Some(words) = expect["reason_any"].as_array() {
        assert!(words.iter().any(|w| text.contains(w.as_str().unwrap())), "{id}: {text}");
    }
}

#[test]
fn tables_that_trip_readers() {
    let cases = cases("hc-csv");
    assert_eq!(cases.len(), 9);
    for case in &cases {
        let id = case["id"].as_str().unwrap();
        let (bytes, expect) = (bytes(&case["input"]), &case["expect"]);
        let answer = read(&bytes, &case["input"]["declared"]);
        if let Some(want) = expect.get("records") {
            let rows = answer.unwrap_or_else(|e| panic!("{id}: {e}"));
            assert_eq!(&records(&rows), want, "{id}");
            if let Some(n) = expect["distinct_groups"].as_u64() {
                assert_eq!(rows.groups.len() as u64, n, "{id}");
            }
        } else {
            let error = answer.expect_err(id);
            // The case of the empty file allows an error with one of these words.
            let stated = if expect["any_of"].is_array() { &expect["any_of"][0] } else { expect };
            check(id, &error, 0, stated);
            if let Some(problems) = expect["problems"].as_array() {
                assert_eq!(error.problems().len(), problems.len(), "{id}: {error}");
                for (n, problem) in problems.iter().enumerate() {
                    check(id, &error, n, problem);
                }
            }
        }
        if expect["if_not_declared"].is_object() {
            check(id, &read(&bytes, &Value::Null).expect_err(id), 0, &expect["if_not_declared"]);
        }
        if expect["empty_file"].is_object() {
            check(id, &read(b"", &Value::Null).expect_err(id), 0, &expect["empty_file"]);
        }
        if let Some(before) = expect.get("records_before") {
            // The rows above the bad one are read as they stand once it is gone.
            let text = String::from_utf8(bytes).unwrap();
            let above = text.lines().take(expect["line"].as_u64().unwrap() as usize - 1).collect::<Vec<_>>().join("\n");
            assert_eq!(&records(&read(above.as_bytes(), &Value::Null).unwrap()), before, "{id}");
        }
    }
}

#[test]
fn each_word_in_place_of_a_number_is_refused_alone() {
    for text in ["nan", "inf", "-inf", "1e400", "Infinity"] {
        let error = read(format!("low,high\n{text},\n").as_bytes(), &Value::Null).unwrap_err();
        assert_eq!((error.slug(), error.problems().len()), ("lives.number_unreadable", 1), "{text}");
    }
}

#[test]
fn nights_when_the_clock_changes() {
    let cases: Vec<Value> = cases("hc-date").into_iter().filter(|c| c["input"]["zone"].is_string()).collect();
    assert_eq!(cases.len(), 2);
    for case in &cases {
        let text = |key: &str| case["input"][key].as_str().unwrap();
        let hours = hours_between(text("zone"), text("on"), text("off")).unwrap();
        assert_eq!(Some(hours), case["expect"]["hours"].as_f64(), "{}", case["id"]);
    }
}

#[test]
fn dates_follow_the_declared_order_or_are_refused() {
    let case = cases("hc-date-004").remove(0);
    let dates: Vec<&str> = case["input"]["dates"].as_array().unwrap().iter().map(|d| d.as_str().unwrap()).collect();
    let refused = date(dates[0], None).unwrap_err().to_string();
    let words = case["expect"]["not_declared"]["reason_any"].as_array().unwrap();
    assert!(words.iter().any(|w| refused.contains(w.as_str().unwrap())), "{refused}");
    assert!(refused.contains("2018-09-03") && refused.contains("2018-03-09"), "{refused}");
    let days: Vec<_> = dates.iter().map(|d| date(d, Some(DateOrder::DayFirst)).unwrap()).collect();
    let hours = (days[1] - days[0]).num_hours() as f64;
    assert_eq!(Some(hours), case["expect"]["day_first"]["hours_between"].as_f64());
    assert!(date(dates[0], Some(DateOrder::MonthFirst)).is_ok());
    assert!(date(dates[1], Some(DateOrder::MonthFirst)).is_err());
}

#[test]
fn a_meter_that_goes_backwards() {
    let case = cases("hc-meter-001").remove(0);
    let readings: Vec<f64> =
        case["input"]["readings"].as_array().unwrap().iter().map(|r| r.as_f64().unwrap()).collect();
    let error = hours_burned("A", &readings, Falls::Refused).unwrap_err();
    check("hc-meter-001", &error, 0, &case["expect"]);
    let burned = hours_burned("A", &readings, Falls::Resets).unwrap();
    assert_eq!(Some(burned), case["expect"]["if_reset_declared"]["burned_hours"].as_f64());
}
