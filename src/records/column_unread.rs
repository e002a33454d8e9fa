//! Columns of which most filled cells cannot be read as what the column map declares them to hold.
//!
//! Such cells set their rows aside or are left out one by one, which in a short log looks like a few slips; together they
//! say that the column holds something else.

use chrono::Datelike;

use super::column_cells::ENOUGH_CELLS;
use super::column_map::{Judged, MOST_WRONG_SHARE, Seen};
use super::date_order::{DATE_ORDER, OtherOrder, ReadCells, UNREADABLE, Unread};
use super::rows::{Fault, Field};
use crate::base::figure::{counted, whole};

/// Most signs of the cell that is shown.
const SHOWN_SIGNS: usize = 40;

/// Every field whose cells are read, with the rule that tells of one that cannot be, and what it should be.
const READ: [(Field, &str, &str); 8] = [
    (Field::Hours, "records.hours_unreadable", "hours"),
    (Field::AtFitting, "records.hours_unreadable", "hours"),
    (Field::FirstSeen, "records.hours_unreadable", "hours"),
    (Field::LastGood, "records.hours_unreadable", "hours"),
    (Field::FittedOn, "records.date_unreadable", "a day"),
    (Field::RemovedOn, "records.date_unreadable", "a day"),
    (Field::ReadOn, "records.date_unreadable", "a day"),
    (Field::Strikes, "records.strikes_unreadable", "a whole number"),
];

impl Seen<'_, '_> {
    /// Doubts each column of which most filled cells cannot be read, but for those of which more is said elsewhere.
    pub(super) fn unread(&self, judged: &mut Judged, told: Option<Field>) {
        // A whole log in another date order is one mistake, not one of each column.
        let order = self.order_of_dates(judged);
        let told_of = |field: Field, rule: &str| Some(field) == told || order && rule == UNREADABLE;
        for (field, rule, what) in READ.into_iter().filter(|(field, rule, _)| !told_of(*field, rule)) {
            let column = field.column(self.format).trim();
            let unread: Vec<&str> = self
                .rows
                .cells_noted(self.log, rule)
                .filter(|(of, _)| !column.is_empty() && *of == column)
                .map(|(_, value)| value)
                .collect();
            let Some(example) = unread.first().filter(|_| unread.len() >= ENOUGH_CELLS) else { continue };
            let filled = unread.len() + self.readable(field);
            if unread.len() as f64 <= MOST_WRONG_SHARE * filled as f64 {
                continue;
            }
            let told = format!("{} of {}", whole(unread.len() as f64), counted(filled as u64, "filled cell"));
            let sentence = format!(
                "{} of the column map cannot be read as {what} in {told} ({} %), such as \"{}\": does the column hold that, \
                 as written by the declared conventions?",
                self.entry(field),
                whole(100.0 * unread.len() as f64 / filled as f64),
                example.trim().chars().take(SHOWN_SIGNS).collect::<String>(),
            );
            judged.doubts.push(Fault::new("records.column_unreadable", field, sentence).of(told));
        }
    }

    /// Whether the dates are written in another order than declared; says so once.
    fn order_of_dates(&self, judged: &mut Judged) -> bool {
        let cells = || {
            self.rows.findings_noted(self.log, UNREADABLE).map(|f| Unread {
                column: &f.column,
                row: f.row,
                line: f.line,
                value: &f.value,
            })
        };
        let dates = || READ.into_iter().filter(|(_, rule, _)| *rule == UNREADABLE).map(|(field, ..)| field);
        let read: usize = dates().filter(|f| !f.column(self.format).trim().is_empty()).map(|f| self.readable(f)).sum();
        let filled = read + cells().count();
        // A day up to the 12th is one with day and month exchanged.
        let early = self.sample.iter().filter(|r| r.spell.fitted_on.day() <= 12).count();
        let exchanged = (read as f64 * early as f64 / self.sample.len().max(1) as f64).round() as usize;
        let read = ReadCells { count: read, exchanged };
        let Some(other) = OtherOrder::find(self.format, cells(), read) else { return false };
        let field = dates().find(|f| f.column(self.format).trim() == other.column).unwrap_or(Field::FittedOn);
        judged.doubts.push(Fault::new(DATE_ORDER, field, other.sentence()).of(other.value(filled)));
        true
    }

    /// Cells of a field that hold something and were read, from the rows looked at.
    fn readable(&self, field: Field) -> usize {
        let rows = self.rows.list.len() - self.first;
        let written = self.rows.written.get(self.log as usize);
        let filled = |position| written.is_some_and(|w| !w.cell(position, field).trim().is_empty());
        let of_sample = match field {
            // A row is kept without its strikes where they cannot be read.
            Field::Strikes => self.sample.iter().filter(|r| r.spell.strikes.is_some()).count(),
            Field::Hours | Field::FittedOn => self.sample.len(),
            _ => self.sample.iter().filter(|r| filled(r.position)).count(),
        };
        (of_sample as f64 / self.sample.len().max(1) as f64 * rows as f64).round() as usize
    }
}
