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
    assert_eq!(about_logs(&reading), []);
}
