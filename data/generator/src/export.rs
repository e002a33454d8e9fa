//! Rows to bytes, each log by its own convention.

use std::fmt::Write;

use crate::chain::Site;
use crate::classes::LampClass;
use crate::convention::{Column, Convention};
use crate::key::KeyEntry;
use crate::lamps::Lamp;
use crate::rows::Row;
use crate::{Day, lamps};

/// What the writers look names up in.
#[derive(Clone, Copy, Debug)]
pub struct Names<'a> {
    /// Lamp classes.
    pub classes: &'a [LampClass],
    /// Sites.
    pub sites: &'a [Site],
    /// Lamps.
    pub lamps: &'a [Lamp],
}

/// Writes one log and gives the planted faults it holds, with their places.
pub fn log(index: usize, convention: &Convention, rows: &[Row], names: Names) -> (Vec<u8>, Vec<KeyEntry>) {
    let mut mine: Vec<&Row> = rows.iter().filter(|r| r.log == index).collect();
    mine.sort_by_key(|r| (r.fitted_on, r.site, r.screen, r.fitted, r.lamp));
    let header: Vec<String> = convention.columns.iter().map(|c| c.1.to_string()).collect();
    let mut lines = vec![line(&header, convention)];
    let mut entries = Vec::new();
    let mut total = 0;
    let entry = |kind, lines: &[String], serial: &str, detail: &str| KeyEntry {
        kind,
        file: convention.file.to_string(),
        line: lines.len(),
        row: lines.len() - 1,
        serial: serial.to_string(),
        detail: detail.to_string(),
    };
    for (n, row) in mine.iter().enumerate() {
        if convention.pages.is_some_and(|page| n > 0 && n % page == 0) {
            lines.push(line(&header, convention));
            entries.push(entry("repeated_header", &lines, "", "the header stands again"));
        }
        let cells: Vec<String> = convention.columns.iter().map(|c| cell(c.0, row, convention, names)).collect();
        lines.push(line(&cells, convention));
        total += row.hours;
        if let Some(fault) = &row.fault {
            entries.push(entry(fault.kind, &lines, &names.lamps[row.lamp].serial, &fault.detail));
        }
    }
    if convention.pages.is_some() {
        let cells: Vec<String> = convention
            .columns
            .iter()
            .enumerate()
            .map(|(i, c)| match c.0 {
                _ if i == 0 => "Summe".to_string(),
                Column::Hours => number(total, convention, 1),
                _ => String::new(),
            })
            .collect();
        lines.push(line(&cells, convention));
        entries.push(entry("total_row", &lines, "", "sum of the hours"));
    }
    let mut text = lines.join("\r\n");
    text.push_str("\r\n");
    (bytes(&text, convention), entries)
}

fn cell(column: Column, row: &Row, convention: &Convention, names: Names) -> String {
    if let Some(typed) = row.typed.iter().find(|t| t.0 == column) {
        return typed.1.clone();
    }
    let step = names.sites[row.site].step;
    let hours = |tenths| number(tenths, convention, step);
    let class = &names.classes[row.class];
    match column {
        Column::Serial => row.serial.clone(),
        Column::Class => match convention.class_word {
            0 => class.name.to_string(),
            n => class.also_called[n - 1].to_string(),
        },
        Column::Supplier => row.supplier.to_string(),
        Column::Batch => row.batch.clone(),
        Column::Site => names.sites[row.site].name.clone(),
        Column::Screen => names.sites[row.site].screens[row.screen].number.to_string(),
        Column::FittedOn => date(row.fitted_on, convention),
        Column::AtFitting if row.fitted == 0 && convention.blank_is_new => String::new(),
        Column::AtFitting => hours(row.fitted),
        Column::FirstSeen => row.first_seen.map_or(String::new(), hours),
        Column::LastGood => row.last_good.map_or(String::new(), hours),
        Column::RemovedOn => row.removed_on.map_or(String::new(), |day| date(day, convention)),
        Column::Hours => hours(row.hours),
        Column::ReadOn => row.read_on.map_or(String::new(), |day| date(day, convention)),
        Column::Strikes => row.strikes.to_string(),
        Column::Reason => row.reason.clone(),
    }
}

fn date(day: Day, convention: &Convention) -> String {
    convention.day_first.map_or_else(|| day.to_string(), |sign| day.day_first(sign))
}

/// Tenths of an hour as the log writes them; without decimals where the meter shows whole hours.
fn number(tenths: i64, convention: &Convention, step: i64) -> String {
    let whole = (tenths.abs() / 10).to_string();
    let mut text = String::new();
    if tenths < 0 {
        text.push('-');
    }
    for (i, digit) in whole.chars().enumerate() {
        if let Some(sign) = convention.thousands
            && i > 0
            && (whole.len() - i).is_multiple_of(3)
        {
            text.push(sign);
        }
        text.push(digit);
    }
    if step < 10 {
        text.push(convention.decimal);
        text.push_str(&(tenths.abs() % 10).to_string());
    }
    text
}

fn line(cells: &[String], convention: &Convention) -> String {
    let quoted: Vec<String> = cells
        .iter()
        .map(|c| {
            if c.contains(['"', convention.delimiter]) { format!("\"{}\"", c.replace('"', "\"\"")) } else { c.clone() }
        })
        .collect();
    quoted.join(&convention.delimiter.to_string())
}

fn bytes(text: &str, convention: &Convention) -> Vec<u8> {
    if convention.windows_1252 {
        // Every letter used here is one of Latin-1, which windows-1252 keeps at the same places.
        return text.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')).collect();
    }
    let mark = if convention.mark { "\u{feff}" } else { "" };
    format!("{mark}{text}").into_bytes()
}

/// `truth_lives.csv`: one row a lamp in the records.
pub fn truth_lives(names: Names) -> String {
    let mut text = String::from(
        "serial,lamp_class,supplier,batch,weak_batch,site,poor_cooling,entry_hours,end_hours,ending,failure_hours,cause\n",
    );
    for lamp in names.lamps {
        let end = lamp.spells.last().map_or(0.0, |s| s.end as f64 / 10.0);
        let ending = lamps::Lamp::ending(lamp);
        let end = if ending.is_failure() { lamp.failure_age } else { end };
        let _ = writeln!(
            text,
            "{},{},{},{},{},{},{},{:.1},{end:.4},{},{:.4},{}",
            lamp.serial,
            names.classes[lamp.class].name,
            lamp.supplier,
            lamp.batch,
            lamp.weak,
            names.sites[lamp.site].name,
            lamp.poor_cooling,
            lamp.entry() as f64 / 10.0,
            ending.as_str(),
            lamp.failure_age,
            lamp.cause.as_str(),
        );
    }
    text
}
