//! Hours burned against the sign of the meter and the calendar.

use std::collections::BTreeMap;

use super::{median, those};
use crate::base::figure::{counted, hours as shown, short};
use crate::records::rows::{Fault, Field, Row, Rows};
use crate::records::{HoursUnit, Outcome};

/// Fewest rows from which the usual hours a day of a log are taken.
const ENOUGH: usize = 20;
/// Likely hours a day in a log too short to say: common practice, no source.
const LIKELY_A_DAY: (f64, f64) = (3.0, 24.0);
/// How far from the log's median a likely figure may lie, as a factor.
const SPREAD: f64 = 3.0;
/// Fewest days from fitting to removal or last reading from which a row says how many hours a day a lamp burns.
const FAIR_DAYS: i64 = 14;

/// Share of the usual hours a day of a log below which a row is doubted.
///
/// Our choice, without a source: a screen with one show at each weekend burns a sixteenth of one that runs 70 h a week.
const FEW_SHARE: f64 = 0.05;
/// Fewest days from fitting to removal or last reading from which so few hours are doubted.
///
/// Our choice, without a source: a screen may stand still for some weeks.
const FEW_DAYS: i64 = 60;

/// `records.hours_negative`: an hour cell below 0.
pub(super) fn hours_negative(rows: &mut Rows<'_>) {
    for i in those(rows, Row::negative) {
        let Some(row) = rows.list.get(i) else { continue };
        let s = &row.spell;
        let (field, hours) = if s.end_hours < 0.0 {
            (Field::Hours, s.end_hours)
        } else if s.fitted_hours < 0.0 {
            (Field::AtFitting, s.fitted_hours)
        } else if s.entry_hours < 0.0 {
            (Field::FirstSeen, s.entry_hours)
        } else {
            (Field::LastGood, s.low_hours)
        };
        let sentence = format!("the hours, {}, are negative", shown(hours));
        rows.note(i, Outcome::SetAside, Fault::new("records.hours_negative", field, sentence));
    }
}

/// `records.hours_impossible`: more than 24 h a day of the spell; `records.minutes_for_hours` where a sixtieth of the
/// hours is what a lamp of this log usually burns in so many days.
pub(super) fn more_than_the_calendar(rows: &mut Rows<'_>) {
    let over = those(rows, Row::over_the_calendar);
    if over.is_empty() {
        return;
    }
    let usual: Vec<Option<f64>> = (0..rows.formats.len()).map(|log| hours_a_day(rows, log as u32)).collect();
    for i in over {
        let Some(row) = rows.list.get(i) else { continue };
        let days = row.days().max(1) as f64;
        let (least, most) = match usual.get(row.log as usize).copied().flatten() {
            Some(median) => (median / SPREAD, (median * SPREAD).min(24.0)),
            None => LIKELY_A_DAY,
        };
        let s = &row.spell;
        let sixtieth = s.end_hours / 60.0;
        let likely = |burned: f64| burned / days >= least && burned <= most * (days + 1.0);
        let minutes = likely(sixtieth - s.fitted_hours) || likely(row.burned() / 60.0);
        let span = format!("{} h in {}", shown(row.burned()), counted(row.days().unsigned_abs(), "day"));
        let (rule, sentence) = if minutes {
            ("records.minutes_for_hours", format!("{span} is more than 24 h a day: most likely minutes"))
        } else {
            ("records.hours_impossible", format!("{span} is more than 24 h a day"))
        };
        rows.note(i, Outcome::SetAside, Fault::new(rule, Field::Hours, sentence));
    }
}

/// `records.hours_for_minutes`: in a log of minutes, a row of which sixty times the hours are what a lamp of this log
/// usually burns in so many days. A log of which most rows are such is refused as a whole, see
/// [`super::super::column_map`].
pub(super) fn hours_among_minutes(rows: &mut Rows<'_>) {
    let logs: Vec<u32> = (0..rows.formats.len() as u32)
        .filter(|&log| rows.formats.get(log as usize).is_some_and(|f| f.hours_unit == HoursUnit::Minutes))
        .collect();
    for log in logs {
        let Some(usual) = hours_a_day(rows, log) else { continue };
        let likely = |burned: f64| burned >= usual / SPREAD && burned <= usual * SPREAD;
        let few = |row: &Row| {
            let (s, days) = (&row.spell, row.days() as f64);
            let in_hours = likely((60.0 * s.end_hours - s.fitted_hours) / days) || likely(60.0 * row.burned() / days);
            row.days() >= FAIR_DAYS && row.burned() / days < usual / SPREAD && in_hours
        };
        let found: Vec<usize> = rows.used().filter(|(_, r)| r.log == log && few(r)).map(|(i, _)| i).collect();
        for i in found {
            let Some(row) = rows.list.get(i) else { continue };
            let span = format!("{} h in {}", shown(row.burned()), counted(row.days().unsigned_abs(), "day"));
            let sentence = format!("{span} is a sixtieth of what lamps of this log burn: most likely hours");
            rows.note(i, Outcome::SetAside, Fault::new("records.hours_for_minutes", Field::Hours, sentence));
        }
    }
}

/// `records.hours_few`: a row of so few hours in so many days that its screen stood still, or a figure is wrong. The row stays
/// in use: only who knows the screen can say.
pub(super) fn hours_few(rows: &mut Rows<'_>) {
    // No lamp burns more than 24 h a day, so most rows are told apart without the median.
    let few = |row: &Row, usual: f64| {
        row.days() >= FEW_DAYS && row.burned() >= 0.0 && row.burned() < FEW_SHARE * usual * row.days() as f64
    };
    let found: Vec<(usize, u32)> = rows.used().filter(|(_, r)| few(r, 24.0)).map(|(i, r)| (i, r.log)).collect();
    let mut usual: BTreeMap<u32, Option<f64>> = BTreeMap::new();
    for (i, log) in found {
        let Some(usual) = *usual.entry(log).or_insert_with(|| hours_a_day(rows, log)) else { continue };
        let Some(row) = rows.list.get(i).filter(|r| few(r, usual)) else { continue };
        let sentence = format!(
            "{} h in {}, where lamps of this log burn {} h a day: did the screen stand still, or is a figure wrong?",
            shown(row.burned()),
            counted(row.days().unsigned_abs(), "day"),
            short(usual)
        );
        rows.note(i, Outcome::Used, Fault::new("records.hours_few", Field::Hours, sentence));
    }
}

/// The median of the hours burned a day in a log, over spells of two weeks or more.
fn hours_a_day(rows: &Rows<'_>, log: u32) -> Option<f64> {
    let fair = |r: &&Row| r.log == log && r.used() && r.days() >= FAIR_DAYS && r.burned() > 0.0;
    let rates = rows.list.iter().filter(fair).map(|r| r.burned() / r.days() as f64);
    median(rates.filter(|r| *r <= 24.0).collect(), ENOUGH)
}
