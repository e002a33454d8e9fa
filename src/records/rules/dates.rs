//! Days that cannot be right.

use super::those;
use crate::records::Outcome;
use crate::records::rows::{Fault, Field, Rows};

/// `records.removed_before_fitted`: removal, or the last reading, on a day before fitting.
pub(super) fn removed_before_fitted(rows: &mut Rows<'_>) {
    for i in those(rows, |r| r.spell.read_on < r.spell.fitted_on) {
        let Some(row) = rows.list.get_mut(i) else { continue };
        row.placed = false;
        let (field, what) = if row.open() { (Field::ReadOn, "last read") } else { (Field::RemovedOn, "removed") };
        let (read, fitted) = (row.spell.read_on, row.spell.fitted_on);
        let sentence = format!("the lamp is {what} on {read}, before it was fitted on {fitted}");
        rows.note(i, Outcome::SetAside, Fault::new("records.removed_before_fitted", field, sentence));
    }
}

/// `records.date_after_export`: a day later than the day the log was exported.
pub(super) fn date_after_export(rows: &mut Rows<'_>) {
    let exported: Vec<_> = rows.formats.iter().map(|f| f.exported_on).collect();
    let late = |log: u32| exported.get(log as usize).copied().unwrap_or(chrono::NaiveDate::MAX);
    for i in those(rows, |r| r.spell.read_on > late(r.log)) {
        let Some(row) = rows.list.get_mut(i) else { continue };
        row.placed = false;
        let field = if row.open() { Field::ReadOn } else { Field::RemovedOn };
        let sentence = format!("the day, {}, lies after the day of the export, {}", row.spell.read_on, late(row.log));
        rows.note(i, Outcome::SetAside, Fault::new("records.date_after_export", field, sentence));
    }
}

/// `records.entry_unknown`: fitted before the records began, and nobody wrote down the hours when they did. The lamp
/// is in the records only because it had lasted so long, so its hours cannot be used without that age.
pub(super) fn entry_unknown(rows: &mut Rows<'_>) {
    for i in those(rows, |r| !r.entry_known) {
        let Some(row) = rows.list.get(i) else { continue };
        let day = row.spell.fitted_on;
        let sentence =
            format!("the lamp was fitted on {day}, before the records began, and its hours at that time are not given");
        rows.note(i, Outcome::SetAside, Fault::new("records.entry_unknown", Field::FittedOn, sentence));
    }
}
