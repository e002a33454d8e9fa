//! Logs whose dates are written in another order than declared: told once, whatever the number of their rows.

use std::fmt::Write as _;

use chrono::{Days, NaiveDate};
use relamp::records::{DateOrder, LogFormat, Options, Reading, Source, read_sources};
use relamp::{Result, Run};

use super::chain::declared;
use super::column_map::{about_logs, demo, plain};

fn days(i: u64) -> (NaiveDate, NaiveDate) {
    let first = NaiveDate::from_ymd_opt(2023, 1, 1).unwrap() + Days::new(7 * i % 500);
    (first, first + Days::new(180 + i))
}

/// Eighty lamps whose days are written by `as_text`.
fn rows(as_text: impl Fn(u64, NaiveDate) -> String) -> String {
    let mut rows = String::from("s,c,h,k,i,o,w,t,n\n");
    for i in 0..80 {
        let (fitted, removed) = days(i);
        let (fitted, removed) = (as_text(i, fitted), as_text(i, removed));
        writeln!(rows, "L{i},2.0 kW,S,{i},{fitted},{removed},burst,{},", 1500 + i).unwrap();
    }
    rows
}

fn read(order: DateOrder, rows: &str) -> Result<Reading> {
    let d = declared(&demo());
    let format = LogFormat { dates: Some(order), ..plain() };
    let logs = [(&format, Source::Bytes(rows.as_bytes()))];
    read_sources(&logs, &d.reasons, &d.classes, Options::default(), &Run::new())
}

fn day_first(_: u64, day: NaiveDate) -> String {
    day.format("%d/%m/%Y").to_string()
}

#[test]
fn a_log_in_another_date_order_is_told_once_with_count_first_cell_and_order() {
    let text = rows(day_first);
    let reading = read(DateOrder::MonthFirst, &text).unwrap();
    // Counted here by the calendar: a day past the 12th is no month.
    let late = |day: NaiveDate| u64::from(day.format("%d").to_string().parse::<u32>().unwrap() > 12);
    let cells: u64 = (0..80).map(days).map(|(fitted, removed)| late(fitted) + late(removed)).sum();
    let (line, first) = (0..80).map(|i| (i + 2, days(i).0)).find(|(_, day)| late(*day) == 1).unwrap();
    let (earlier, removed) = (0..80).map(|i| (i + 2, days(i).1)).find(|(_, day)| late(*day) == 1).unwrap();
    let (line, first) = if earlier < line { (earlier, removed) } else { (line, first) };
    let told = about_logs(&reading);
    assert_eq!(told.iter().map(|t| t.1).collect::<Vec<_>>(), ["records.date_order"], "{told:?}");
    let said = told[0].2;
    assert!(said.starts_with(&format!("{cells} cells in ")), "{said}");
    let order =
        "are written in another date order than declared, \"day-first\" where dates = \"month-first\" is declared";
    let first = format!("the first in line {line}, \"{}\": declare dates = \"day-first\"", day_first(0, first));
    let swapped = "days up to the 12th are read with day and month exchanged";
    for words in [order, &first, swapped] {
        assert!(said.contains(words), "{said}");
    }
    assert!(reading.warning().contains(said));
    // The ledger keeps each cell, and the finding about the log is held to its rule.
    let each = reading.ledger.findings.iter().filter(|f| f.rule == "records.date_unreadable").count() as u64;
    assert_eq!(each, cells);
    relamp::base::sound::Checks::of("ledger", &reading.ledger).unwrap();
    assert_eq!(about_logs(&read(DateOrder::DayFirst, &text).unwrap()), []);
}

#[test]
fn a_log_without_a_row_left_for_its_date_order_is_refused_in_two_lines() {
    let error = read(DateOrder::Iso, &rows(day_first)).unwrap_err();
    let slugs: Vec<_> = error.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["records.no_usable_rows", "records.date_order"], "{error}");
    let said = error.problems()[1].to_string();
    assert!(
        said.contains("160 cells in i, o are written in another date order") && !said.contains("exchanged"),
        "{said}"
    );
    // Days that no cell past the 12th tells apart: both orders are named.
    let early = |_: u64, day: NaiveDate| day.format("%m/%m/%Y").to_string();
    let error = read(DateOrder::Iso, &rows(early)).unwrap_err();
    assert!(error.problems()[1].what.contains("declare dates = \"day-first\" or \"month-first\""), "{error}");
}

#[test]
fn a_log_of_two_orders_is_not_told_to_take_one_of_them() {
    let mix = |declared: DateOrder, other: fn(u64, NaiveDate) -> String, own: fn(u64, NaiveDate) -> String| {
        let text = rows(|i, day| if i.is_multiple_of(2) { other(i, day) } else { own(i, day) });
        let reading = read(declared, &text).unwrap();
        let told = about_logs(&reading);
        assert_eq!(told.iter().map(|t| t.1).collect::<Vec<_>>(), ["records.date_order"], "{told:?}");
        told[0].2.to_owned()
    };
    let month_first = |_: u64, day: NaiveDate| day.format("%m/%d/%Y").to_string();
    for said in
        [mix(DateOrder::Iso, day_first, |_, day| day.to_string()), mix(DateOrder::DayFirst, month_first, day_first)]
    {
        assert!(said.contains("no order reads all of them: give the rows of each order a log of their own"), "{said}");
        assert!(!said.contains("declare dates ="), "{said}");
    }
}

#[test]
fn two_orders_of_which_neither_is_declared_are_told_once_too() {
    let both = |i: u64, day: NaiveDate| {
        if i.is_multiple_of(2) { day_first(i, day) } else { day.format("%m/%d/%Y").to_string() }
    };
    let error = read(DateOrder::Iso, &rows(both)).unwrap_err();
    let slugs: Vec<_> = error.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["records.no_usable_rows", "records.date_order"], "{error}");
    let said = error.problems()[1].to_string();
    assert!(
        said.contains("\"day-first\" and \"month-first\"") && said.contains("no order reads all of them"),
        "{said}"
    );
}

#[test]
fn a_few_slips_and_cells_that_are_no_days_are_no_other_order() {
    let some = |i: u64, day: NaiveDate| if i < 5 { day_first(i, day) } else { day.to_string() };
    assert_eq!(about_logs(&read(DateOrder::Iso, &rows(some)).unwrap()), []);
    let words = |i: u64, day: NaiveDate| if i.is_multiple_of(3) { day.to_string() } else { format!("week {i}") };
    let reading = read(DateOrder::Iso, &rows(words)).unwrap();
    let told: Vec<_> = about_logs(&reading).iter().map(|t| t.1).collect();
    assert_eq!(told, ["records.column_unreadable"; 2]);
}
