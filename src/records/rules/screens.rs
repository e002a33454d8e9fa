//! Lamps against screens: one place at a time, and what the next lamp in a screen says of the one before.

use chrono::NaiveDate;

use super::SAME_HOURS;
use crate::base::figure::hours;
use crate::records::rows::{Fault, Field, Row, Rows};
use crate::records::{Ending, Outcome};

/// `records.two_screens_at_once`: spells of a serial that overlap in time, in different screens. In one screen the
/// overlap is `records.spells_overlap`. None of the spells can be defended, so all are set aside.
pub(super) fn two_screens_at_once(rows: &mut Rows<'_>) {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for lamp in rows.lamps_with_several() {
        let mut longest: Option<(NaiveDate, usize)> = None;
        for i in lamp {
            let Some(row) = rows.list.get(i) else { continue };
            if let Some((end, other)) = longest
                && row.spell.fitted_on < end
            {
                found.push((other, i));
            }
            if longest.is_none_or(|l| row.spell.read_on > l.0) {
                longest = Some((row.spell.read_on, i));
            }
        }
    }
    for (a, b) in found {
        for (i, other) in [(a, b), (b, a)] {
            let (Some(row), Some(other)) = (rows.list.get(i), rows.list.get(other)) else { continue };
            if !row.used() {
                continue;
            }
            let two = &other.spell;
            let span = format!("{} to {}", two.fitted_on, two.read_on);
            let (rule, sentence) = if row.screen == other.screen {
                ("records.spells_overlap", format!("the lamp has another spell in this screen from {span}"))
            } else {
                let elsewhere = format!("{} screen {}", rows.site(other), rows.screen(other));
                ("records.two_screens_at_once", format!("the lamp also stands in {elsewhere} from {span}"))
            };
            if let Some(row) = rows.list.get_mut(i) {
                row.placed = false;
            }
            rows.note(i, Outcome::SetAside, Fault::new(rule, Field::Screen, sentence));
        }
    }
}

/// `records.restart_forgotten`: a lamp without a past is fitted with the very hours at which another lamp left the
/// screen, so the meter was not set back and its hours are not the lamp's own.
///
/// Removals are heaped at a chain's rule and at round hundreds, and a spare first used before the records began has no
/// past in them. So where several lamps left at those very hours and the new lamp's last hours are no longer than
/// lamps of its class reach, the two may agree by chance, and nothing is said.
pub(super) fn restart_forgotten(rows: &mut Rows<'_>) {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for &b in &rows.with_hours {
        let Some(new) = rows.list.get(b).filter(|r| r.used()) else { continue };
        let group = rows.of_screen.group(new.screen);
        let own = group.iter().take_while(|&&i| i as usize != b).count();
        let before = group.get(..own).unwrap_or(&[]).iter().rev().map(|&i| i as usize);
        let before = before.filter_map(|i| rows.list.get(i).map(|r| (i, r)));
        let Some((a, old)) = before.into_iter().find(|(_, r)| r.placed && r.outcome != Outcome::Merged) else {
            continue;
        };
        let inherits = old.serial != new.serial
            && (new.spell.fitted_hours - old.spell.end_hours).abs() <= SAME_HOURS
            && old.spell.read_on <= new.spell.fitted_on;
        let has_past = || {
            let own = rows.of_serial.group(new.serial).iter().filter_map(|&i| rows.list.get(i as usize));
            own.into_iter().any(|r| r.spell.fitted_on < new.spell.fitted_on && r.spell.end_hours > 0.0)
        };
        if inherits && !has_past() && !by_chance(rows, new) {
            found.push((a, b));
        }
    }
    for (a, b) in found {
        let (Some(old), Some(new)) = (rows.list.get(a), rows.list.get(b)) else { continue };
        let hours = hours(new.spell.fitted_hours);
        let sentence = format!("fitted new with the {hours} h at which lamp {} left this screen", rows.serial(old));
        let fault = Fault::new("records.restart_forgotten", Field::AtFitting, sentence);
        rows.note(b, Outcome::SetAside, fault);
    }
}

/// Lamps that must have left at the same hours before agreement may be chance.
const HEAPED: usize = 3;
/// Share of the lamps of a class that reach the hours at which a lamp counts as old.
const OLD: f64 = 0.05;

fn by_chance(rows: &Rows<'_>, new: &Row) -> bool {
    let others = rows.used().map(|(_, r)| r).filter(|r| r.serial != new.serial && !r.open());
    let of_class: Vec<f64> = others.filter(|r| r.class == new.class).map(|r| r.spell.end_hours).collect();
    let heaped = of_class.iter().filter(|&&h| (h - new.spell.fitted_hours).abs() <= SAME_HOURS).count() > HEAPED;
    let older = of_class.iter().filter(|&&h| h >= new.spell.end_hours).count();
    heaped && older as f64 > OLD * of_class.len() as f64
}

/// `records.removal_missing`: no removal is recorded though another lamp was fitted in the screen later, or the lamp
/// itself elsewhere. The lamp was good at its last reading and is used up to there; if that reading is later than the
/// next lamp, it is of another lamp's meter and the row is set aside.
pub(super) fn removal_missing(rows: &mut Rows<'_>) {
    let mut found: Vec<(usize, NaiveDate, String)> = Vec::new();
    for &i in &rows.open {
        let Some(row) = rows.list.get(i).filter(|r| r.used()) else { continue };
        let in_screen = next_lamp(rows, rows.of_screen.group(row.screen), row, |r| {
            r.placed && r.outcome != Outcome::Merged && r.serial != row.serial
        });
        let next = in_screen.or_else(|| next_lamp(rows, rows.of_serial.group(row.serial), row, Row::used));
        if let Some(next) = next {
            let s = &next.spell;
            let what = if next.serial == row.serial {
                format!("the lamp was fitted in {} screen {}", rows.site(next), rows.screen(next))
            } else {
                format!("lamp {} was fitted in the screen", rows.serial(next))
            };
            found.push((i, s.fitted_on, what));
        }
    }
    for (i, day, next) in found {
        let Some(row) = rows.list.get_mut(i) else { continue };
        let outcome = if row.spell.read_on > day { Outcome::SetAside } else { Outcome::Used };
        row.spell.ending = Ending::Unknown;
        let sentence = format!("no removal is recorded, but {next} on {day}; good at its last reading");
        rows.note(i, outcome, Fault::new("records.removal_missing", Field::RemovedOn, sentence));
    }
}

/// The first row of a group that was fitted later and counts.
fn next_lamp<'r>(rows: &'r Rows<'_>, group: &[u32], row: &Row, counts: impl Fn(&Row) -> bool) -> Option<&'r Row> {
    let day = |i: u32| rows.list.get(i as usize).map(|r| r.spell.fitted_on);
    let from = group.partition_point(|&i| day(i) <= Some(row.spell.fitted_on));
    let later = group.get(from..).unwrap_or(&[]).iter().filter_map(|&i| rows.list.get(i as usize));
    later.into_iter().find(|r| counts(r))
}
