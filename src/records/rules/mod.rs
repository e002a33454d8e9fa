//! The rules that rows must pass, one theme to a file. A rule notes what it finds and never mends it.
//!
//! The order matters: rows whose dates are wrong leave before rows are compared with their neighbours, and copies of
//! one spell are merged before spells of one lamp are compared.

mod burned;
mod dates;
mod duplicates;
mod exports;
mod meter;
mod mistyped;
mod screens;
mod spellings;
mod strikes;

use super::rows::Rows;

/// Hours closer than this are the same reading; meters show tenths at best.
const SAME_HOURS: f64 = 1e-6;

/// Applies every rule.
pub(crate) fn apply(rows: &mut Rows<'_>) {
    dates::removed_before_fitted(rows);
    dates::date_after_export(rows);
    burned::hours_negative(rows);
    duplicates::duplicate(rows);
    strikes::strikes_in_hours(rows);
    burned::more_than_the_calendar(rows);
    burned::hours_among_minutes(rows);
    meter::meter_restarted_in_spell(rows);
    duplicates::serial_two_classes(rows);
    screens::two_screens_at_once(rows);
    mistyped::serial_mistyped(rows);
    screens::restart_forgotten(rows);
    meter::meter_restarted_at_fitting(rows);
    screens::removal_missing(rows);
    dates::entry_unknown(rows);
    burned::hours_few(rows);
    exports::absent_from_newest(rows);
    spellings::place_two_spellings(rows);
}

/// Indices of used rows that pass a test on a single row; only rows marked as odd are looked at.
fn those(rows: &Rows<'_>, test: impl Fn(&super::rows::Row) -> bool) -> Vec<usize> {
    let odd = rows.odd.iter().copied();
    odd.filter(|&i| rows.list.get(i).is_some_and(|r| r.used() && test(r))).collect()
}

/// The middle value, if there are at least `least`.
pub(super) fn median(mut values: Vec<f64>, least: usize) -> Option<f64> {
    if values.len() < least.max(1) {
        return None;
    }
    let middle = values.len() / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}
