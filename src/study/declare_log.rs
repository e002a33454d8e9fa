//! What the owner of a study declares about one log.

use std::path::{Component, Path};

use chrono::NaiveDate;

use super::walk::{Document, Section};
#[cfg(feature = "python")]
use super::{declare::read_reasons, value::Entries};
use crate::base::error::Problem;
#[cfg(feature = "python")]
use crate::base::error::{Error, Kind, Result};
#[cfg(feature = "python")]
use crate::records::Ending;
use crate::records::{
    BlankAtFitting, DateOrder, Encoding, HoursUnit, LogColumns, LogFormat, usable_delimiter, usable_sign,
};

/// Every log in turn; one with problems gives none, and the others are still read.
pub(super) fn read_logs(doc: &mut Document<'_>, top: &mut Section<'_>) -> Vec<LogFormat> {
    let tables = top.tables(doc, "log");
    if tables.is_empty() && !doc.told(top, "log") {
        top.missing(doc, "log", "at least one table [[log]]");
    }
    let mut files: Vec<String> = Vec::new();
    let mut logs = Vec::new();
    for s in tables {
        logs.extend(read_log(doc, s, &mut files));
    }
    logs
}

/// One log; `files` are those of the logs before it.
fn read_log(doc: &mut Document<'_>, mut s: Section<'_>, files: &mut Vec<String>) -> Option<LogFormat> {
    let file = s.needed_text(doc, "file");
    doc.files.extend(file.clone());
    if let Some(file) = &file {
        if files.contains(file) {
            let problem = Problem::new("study.log_file", "two logs have the same file");
            let place = s.place(doc, "file");
            doc.add(problem.at(place).got(format!("\"{file}\"")).expected("a path that no other log has"));
        }
        let below = |c| matches!(c, Component::Normal(_) | Component::CurDir);
        if doc.inside_folder && !Path::new(file).components().all(below) {
            let problem = Problem::new("study.path_outside", "the path of a log leaves the folder of the study");
            let expected = "a path below the folder of the study file: put the log there, or the study file above both";
            let place = s.place(doc, "file");
            doc.add(problem.at(place).got(format!("\"{file}\"")).expected(expected));
        }
        files.push(file.clone());
    }
    let encoding = s.word(doc, "encoding", &Encoding::ALL, Encoding::as_str);
    let delimiter = s.sign(doc, "delimiter", "one ASCII character such as , ; or a tab", usable_delimiter);
    let decimal = s.sign(doc, "decimal", "one sign such as . or ,", usable_sign);
    let mark = decimal.unwrap_or('.');
    // Beside a decimal sign that is refused, any sign between thousands may be right.
    let unknown = doc.told(&s, "decimal");
    let expected = "one sign such as . , or a space, other than the decimal sign";
    let thousands = s.sign(doc, "thousands", expected, |c| usable_sign(c) && (unknown || c != mark));
    let dates = s.word(doc, "dates", &DateOrder::ALL, DateOrder::as_str);
    let hours_unit = s.word(doc, "hours_unit", &HoursUnit::ALL, HoursUnit::as_str);
    let blank = s.word(doc, "blank_hours_at_fitting", &BlankAtFitting::ALL, BlankAtFitting::as_str);
    let records_from = s.date(doc, "records_from");
    let exported_on: Option<NaiveDate> = s.needed_date(doc, "exported_on");
    let columns = s.needed_table(doc, "columns", "[log.columns]").and_then(|c| read_columns(doc, c));
    s.finish(doc);
    Some(LogFormat {
        file: file?,
        encoding: encoding.unwrap_or_default(),
        delimiter: delimiter.unwrap_or(','),
        decimal: mark,
        thousands,
        dates,
        hours_unit: hours_unit.unwrap_or_default(),
        blank_hours_at_fitting: blank.unwrap_or_default(),
        records_from,
        exported_on: exported_on?,
        columns: columns?,
    })
}

/// Logs, and the reasons with the endings they stand for.
#[cfg(feature = "python")]
pub(crate) type Logs = (Vec<LogFormat>, Vec<(String, Ending)>);

/// Logs and reasons as a program gives them: each log with the name that messages give it. The keys and the words are
/// those of a study file.
///
/// # Errors
/// Kind `Input` with every mistake at once, as those of [`super::Declaration::parse`], without lines.
#[cfg(feature = "python")]
pub(crate) fn logs_of_program(logs: &[(String, Entries)], reasons: &Entries) -> Result<Logs> {
    let mut problems = Vec::new();
    let mut files = Vec::new();
    let mut formats = Vec::new();
    for (name, table) in logs {
        let mut doc = Document::of_program(name);
        formats.extend(read_log(&mut doc, Section::new("", 0, table), &mut files));
        problems.append(&mut doc.problems);
    }
    let mut doc = Document::of_program("reasons");
    let reasons = read_reasons(&mut doc, &Section::new("", 0, reasons));
    problems.append(&mut doc.problems);
    if problems.is_empty() { Ok((formats, reasons)) } else { Err(Error::many(Kind::Input, problems)) }
}

fn read_columns(doc: &mut Document<'_>, mut s: Section<'_>) -> Option<LogColumns> {
    let serial = s.needed_text(doc, "serial");
    let lamp_class = s.needed_text(doc, "lamp_class");
    let site = s.needed_text(doc, "site");
    let screen = s.needed_text(doc, "screen");
    let fitted_on = s.needed_text(doc, "fitted_on");
    let removed_on = s.needed_text(doc, "removed_on");
    let reason = s.needed_text(doc, "reason");
    let hours = s.needed_text(doc, "hours");
    let read_on = s.text(doc, "read_on");
    let hours_at_fitting = s.text(doc, "hours_at_fitting");
    let hours_first_seen = s.text(doc, "hours_first_seen");
    let hours_last_good = s.text(doc, "hours_last_good");
    let strikes = s.text(doc, "strikes");
    let supplier = s.text(doc, "supplier");
    let batch = s.text(doc, "batch");
    s.finish(doc);
    Some(LogColumns {
        serial: serial?,
        lamp_class: lamp_class?,
        site: site?,
        screen: screen?,
        fitted_on: fitted_on?,
        removed_on: removed_on?,
        reason: reason?,
        hours: hours?,
        read_on,
        hours_at_fitting,
        hours_first_seen,
        hours_last_good,
        strikes,
        supplier,
        batch,
    })
}
