//! Columns exchanged with the strikes or with the day of a reading: told with both entries of the map.

use std::fmt::Write as _;
use std::mem::swap;

use super::column_map::{Two, about_logs, day, demo, each_told, plain, read_rows};
use relamp::Result;
use relamp::records::{LogFormat, Reading};

/// Each log whose map has two entries, with these exchanged, and what is said then; both entries must be named.
fn exchanged(two: Two, said: impl Fn(&LogFormat, &Result<Reading>) -> String) -> usize {
    let exchange = |f: &mut LogFormat| two(&mut f.columns).map(|(a, b)| swap(a, b)).is_some();
    let told = each_told(&demo(), exchange);
    for (format, answer) in &told {
        let said = said(format, answer);
        let mut columns = format.columns.clone();
        let (a, b) = two(&mut columns).unwrap();
        for column in [a, b] {
            assert!(said.contains(&format!("= \"{column}\"")), "{}, {column}: {said}", format.file);
        }
    }
    told.len()
}

/// The sentence of the one finding about the whole log.
fn doubted(format: &LogFormat, answer: &Result<Reading>) -> String {
    let reading = answer.as_ref().unwrap();
    let told: Vec<_> = about_logs(reading).into_iter().filter(|t| t.0 == format.file).collect();
    assert_eq!(told.iter().map(|t| t.1).collect::<Vec<_>>(), ["records.strikes_elsewhere"], "{told:?}");
    assert!(reading.warning().contains(told[0].2));
    told[0].2.to_owned()
}

#[test]
fn strikes_exchanged_with_hours_supplier_or_batch_are_told_with_both_entries() {
    assert_eq!(exchanged(|c| Some((c.strikes.as_mut()?, c.hours_last_good.as_mut()?)), doubted), 3);
    assert_eq!(exchanged(|c| Some((c.strikes.as_mut()?, c.supplier.as_mut()?)), doubted), 5);
    assert_eq!(exchanged(|c| Some((c.strikes.as_mut()?, c.batch.as_mut()?)), doubted), 5);
}

#[test]
fn hours_exchanged_with_the_day_of_the_reading_are_refused_with_both_entries() {
    let refused = |_: &LogFormat, answer: &Result<Reading>| {
        let error = answer.as_ref().unwrap_err();
        let problem = error.problems().iter().find(|p| p.slug == "records.days_among_hours");
        problem.unwrap_or_else(|| panic!("{error}")).to_string()
    };
    assert_eq!(exchanged(|c| Some((c.hours_first_seen.as_mut()?, c.read_on.as_mut()?)), refused), 6);
    assert_eq!(exchanged(|c| Some((c.hours_at_fitting.as_mut()?, c.read_on.as_mut()?)), refused), 6);
    assert_eq!(exchanged(|c| Some((c.hours_last_good.as_mut()?, c.read_on.as_mut()?)), refused), 4);
}

#[test]
fn last_good_hours_in_whole_numbers_exchanged_with_strikes_are_told_with_both_entries() {
    // A meter of whole hours: each column can be read as the other.
    let mut rows = String::new();
    for i in 0..30 {
        writeln!(rows, "L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,burst,{},{},{},,", 1500 + i, 500 + i, 1450 + i)
            .unwrap();
    }
    let mut format = plain();
    (format.columns.strikes, format.columns.hours_last_good) = (Some("n".into()), Some("g".into()));
    assert_eq!(about_logs(&read_rows(&format, "g,b,e", &rows)), []);
    (format.columns.strikes, format.columns.hours_last_good) = (Some("g".into()), Some("n".into()));
    let reading = read_rows(&format, "g,b,e", &rows);
    let told = about_logs(&reading);
    let end = "between its last good reading and its end: strikes = \"g\" is most likely exchanged with it";
    assert!(told.iter().any(|t| t.1 == "records.last_good_far" && t.2.ends_with(end)), "{told:?}");
}

#[test]
fn a_column_of_which_most_cells_cannot_be_read_is_told_with_share_and_example() {
    // Sixty lamps of which half have a last good reading and a number of strikes.
    let rows = |g: &dyn Fn(usize) -> String, n: &dyn Fn(usize) -> String| {
        let mut rows = String::new();
        for i in 0..60 {
            let (g, n) = if i % 2 == 0 { (g(i), n(i)) } else { (String::new(), String::new()) };
            writeln!(rows, "L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,burst,{},{n},{g},,", 1500 + i).unwrap();
        }
        rows
    };
    let mut format = plain();
    format.columns.hours_last_good = Some("g".into());
    let (good, strikes) = (|i: usize| (1400 + i).to_string(), |i: usize| (700 + i).to_string());
    assert_eq!(about_logs(&read_rows(&format, "g,b,e", &rows(&good, &strikes))), []);
    let words = |i: usize| format!("see note {i}");
    let reading = read_rows(&format, "g,b,e", &rows(&good, &words));
    let told: Vec<_> = about_logs(&reading).iter().map(|t| (t.1, t.2)).collect();
    let sentence = "strikes = \"n\" of the column map cannot be read as a whole number in 30 of 30 filled cells (100 %), such as \
                    \"see note 0\": does the column hold that, as written by the declared conventions?";
    assert_eq!(told, [("records.column_unreadable", sentence)]);
    assert!(reading.warning().contains(sentence));
    let finding = reading.ledger.findings.iter().find(|f| f.rule == "records.column_unreadable").unwrap();
    assert_eq!((finding.column.as_str(), finding.value.as_str()), ("n", "30 of 30 filled cells"));
    relamp::base::sound::Checks::of("ledger", &reading.ledger).unwrap();
    // Days in an order that the log does not declare, among hours.
    let days = |i: usize| format!("{}/3/24", 1 + i % 28);
    let reading = read_rows(&format, "g,b,e", &rows(&days, &strikes));
    let told = about_logs(&reading);
    let own =
        |t: &&(&str, &str, &str)| t.1 == "records.column_unreadable" && t.2.starts_with("hours_last_good = \"g\"");
    assert!(told.iter().any(|t| own(&t) && t.2.contains("such as \"1/3/24\"")), "{told:?}");
    // Fewer than half of the cells are slips.
    let some = |i: usize| if i < 24 { words(i) } else { strikes(i) };
    assert_eq!(about_logs(&read_rows(&format, "g,b,e", &rows(&good, &some))), []);
}

#[test]
fn strikes_that_stand_in_any_other_column_are_told_with_it() {
    let said = |format: &LogFormat, strikes: &dyn Fn(usize) -> String, e: &dyn Fn(usize) -> String, reasons: bool| {
        let mut rows = String::new();
        for i in 0..60 {
            let (n, g) = (strikes(i), if reasons { String::new() } else { e(i) });
            let why = if reasons { e(i) } else { "burst".to_owned() };
            writeln!(rows, "L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,{why},{},{n},{g},,", 1500 + i).unwrap();
        }
        let reading = read_rows(format, "g,b,e", &rows);
        let told = about_logs(&reading);
        let own = told.iter().find(|t| t.1 == "records.strikes_elsewhere");
        own.unwrap_or_else(|| panic!("{told:?}")).2.to_owned()
    };
    let number = |i: usize| (500 + i).to_string();
    let decimal = |i: usize| format!("{}.5", 1200 + i);
    let mut format = plain();
    format.columns.hours_first_seen = Some("g".into());
    let first = said(&format, &decimal, &number, false);
    assert!(first.contains("where hours_first_seen = \"g\" would give a median of"), "{first}");
    (format.columns.hours_first_seen, format.columns.hours_at_fitting) = (None, Some("g".into()));
    let fitting = said(&format, &decimal, &number, false);
    assert!(fitting.contains("where hours_at_fitting = \"g\" would give a median of"), "{fitting}");
    format.columns.hours_at_fitting = None;
    let reason = said(&format, &|_| "burst".into(), &number, true);
    assert!(reason.contains("where reason = \"w\" would give a median of"), "{reason}");
}

#[test]
fn hours_that_ten_failed_lamps_alone_have_are_doubted() {
    let told = |failed: usize| {
        let mut rows = String::new();
        for i in 0..60 {
            let (why, g) = if i < failed { ("burst", (900 + i).to_string()) } else { ("planned", String::new()) };
            writeln!(rows, "L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,{why},{},600,{g},,", 1500 + i).unwrap();
        }
        let mut format = plain();
        format.columns.hours_first_seen = Some("g".into());
        about_logs(&read_rows(&format, "g,b,e", &rows)).iter().filter(|t| t.1 == "records.hours_first_seen").count()
    };
    assert_eq!([9, 10, 14].map(told), [0, 1, 1]);
}

#[test]
fn a_few_slips_of_the_hand_are_no_exchange() {
    // Five days among the hours at fitting, and strikes that are words in a third of the rows.
    let mut rows = String::new();
    for i in 0..60 {
        let used = if i < 5 { day(i) } else { "0".to_owned() };
        let strikes = if i % 3 == 0 { "n/a".to_owned() } else { (500 + i).to_string() };
        writeln!(rows, "L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,burst,{},{strikes},{used},7,", 1500 + i).unwrap();
    }
    let mut format = plain();
    (format.columns.strikes, format.columns.hours_at_fitting) = (Some("n".into()), Some("a".into()));
    format.columns.batch = Some("b".into());
    assert_eq!(about_logs(&read_rows(&format, "a,b,e", &rows)), []);
    // No other column would do as strikes.
    let words = rows.replace(",5", ",x5");
    let reading = read_rows(&format, "a,b,e", &words);
    assert!(reading.ledger.findings.iter().filter(|f| f.rule == "records.strikes_unreadable").count() > 50);
    let told: Vec<_> = about_logs(&reading).iter().map(|t| t.1).collect();
    assert_eq!(told, ["records.column_unreadable"]);
}
