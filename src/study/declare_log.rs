//! What the owner of a study declares about one log.

use chrono::NaiveDate;

use super::walk::{Document, Section};
use crate::base::error::Problem;
use crate::records::{
    BlankAtFitting, DateOrder, Encoding, HoursUnit, LogColumns, LogFormat, usable_delimiter, usable_sign,
};

/// Every log in turn; one with problems gives none, and the others are still read.
pub(super) fn read_logs(doc: &mut Document<'_>, top: &mut Section<'_, '_>) -> Vec<LogFormat> {
    let tables = top.tables(doc, "log");
    if tables.is_empty() && !doc.told(top, "log") {
        top.missing(doc, "log", "at least one table [[log]]");
    }
    let mut files: Vec<String> = Vec::new();
    let mut logs = Vec::new();
    for mut s in tables {
        let file = s.needed_text(doc, "file");
        if let Some(file) = &file {
            if files.contains(file) {
                let problem = Problem::new("study.log_file", "two logs have the same file");
                let place = s.place(doc, "file");
                doc.add(problem.at(place).got(format!("\"{file}\"")).expected("a path that no other log has"));
            }
            files.push(file.clone());
        }
        logs.extend(read_log(doc, s, file));
    }
    logs
}

fn read_log(doc: &mut Document<'_>, mut s: Section<'_, '_>, file: Option<String>) -> Option<LogFormat> {
    let encoding = s.word(doc, "encoding", &Encoding::ALL, Encoding::as_str);
    let delimiter = s.sign(doc, "delimiter", "one ASCII character such as , ; or a tab", usable_delimiter);
    let decimal = s.sign(doc, "decimal", "one sign such as . or ,", usable_sign);
    let mark = decimal.unwrap_or('.');
    let expected = "one sign such as . , or a space, other than the decimal sign";
    let thousands = s.sign(doc, "thousands", expected, |c| usable_sign(c) && c != mark);
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

fn read_columns(doc: &mut Document<'_>, mut s: Section<'_, '_>) -> Option<LogColumns> {
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
