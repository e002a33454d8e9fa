//! Serials that a tired hand wrote wrong.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::SAME_HOURS;
use crate::records::Outcome;
use crate::records::rows::{Fault, Field, Row, Rows};

/// A form of serial is rare against another if it is this many times rarer.
const RARE: usize = 10;

/// `records.serial_mistyped`: a serial one slip away from another (O for 0, I for 1, or two neighbouring digits
/// exchanged), where a row fits the other lamp: it begins at the hours where the other lamp's spell ended, or it is a
/// copy of the other lamp's spell. The row that is more likely mistyped is set aside.
pub(super) fn serial_mistyped(rows: &mut Rows<'_>) {
    let mut wrong = copies(rows);
    wrong.extend(continued(rows));
    if wrong.is_empty() {
        return;
    }
    let forms = forms(rows);
    for (likely, other) in wrong {
        let (i, right) = culprit(rows, &forms, likely, other);
        let (Some(row), Some(right)) = (rows.list.get(i), rows.list.get(right)) else { continue };
        if !row.used() {
            continue;
        }
        let sentence = format!("the row fits lamp {}, whose serial is one slip away", rows.serial(right));
        rows.note(i, Outcome::SetAside, Fault::new("records.serial_mistyped", Field::Serial, sentence));
    }
}

/// Rows of one screen, day and hours that are compared with each other; a map that takes all rows for one screen
/// must not cost the square of their number.
const COMPARED: usize = 50;

/// Pairs of rows of one spell under two serials; the first of a pair is from the log where the site is a stranger.
fn copies(rows: &Rows<'_>) -> Vec<(usize, usize)> {
    let tied = rows.of_screen.tied().flatten().map(|&i| i as usize);
    let mut order: Vec<(u32, NaiveDate, u64, usize)> = tied
        .filter_map(|i| rows.list.get(i).map(|r| (i, r)))
        .filter(|(_, r)| r.used() && !r.open())
        .map(|(i, r)| (r.screen, r.spell.fitted_on, r.spell.end_hours.max(0.0).to_bits(), i))
        .collect();
    order.sort_unstable();
    let mut pairs = Vec::new();
    for same in order.chunk_by(|a, b| (a.0, a.1, a.2) == (b.0, b.1, b.2)).filter(|c| c.len() > 1) {
        let same: Vec<usize> = same.iter().take(COMPARED).map(|s| s.3).collect();
        for (k, &i) in same.iter().enumerate() {
            for &j in same.iter().skip(k + 1) {
                let (Some(a), Some(b)) = (rows.list.get(i), rows.list.get(j)) else { continue };
                let copy = a.spell.removed_on == b.spell.removed_on
                    && (a.spell.fitted_hours - b.spell.fitted_hours).abs() <= SAME_HOURS;
                if copy && slips(rows.serial(a)).iter().any(|s| s == rows.serial(b)) {
                    let (of_a, of_b) = (rows_of_site(rows, a), rows_of_site(rows, b));
                    pairs.push(if of_a < of_b { (i, j) } else { (j, i) });
                }
            }
        }
    }
    pairs
}

/// How many rows of the row's site its log holds.
fn rows_of_site(rows: &Rows<'_>, row: &Row) -> usize {
    let site = rows.site(row);
    rows.list.iter().filter(|r| r.log == row.log && rows.site(r) == site).count()
}

/// Pairs of a first spell that begins with hours on the meter, and a spell one slip away that ended there and has no
/// other continuation.
fn continued(rows: &Rows<'_>) -> Vec<(usize, usize)> {
    let own = |serial: u32| {
        let all = rows.of_serial.group(serial).iter().map(|&i| i as usize);
        all.filter(|&i| rows.list.get(i).is_some_and(Row::used))
    };
    let mut pairs = Vec::new();
    for &i in &rows.with_hours {
        let Some(orphan) = rows.list.get(i).filter(|r| r.used()) else { continue };
        if own(orphan.serial).next() != Some(i) {
            continue;
        }
        let hours = orphan.spell.fitted_hours;
        let near = slips(rows.serial(orphan));
        let fits = near.iter().filter_map(|s| rows.texts.serials.find(s)).find_map(|serial| {
            let continues = own(serial)
                .any(|j| rows.list.get(j).is_some_and(|r| (r.spell.fitted_hours - hours).abs() <= SAME_HOURS));
            if continues {
                return None;
            }
            own(serial).find(|&j| {
                rows.list.get(j).is_some_and(|r| {
                    !r.open()
                        && (r.spell.end_hours - hours).abs() <= SAME_HOURS
                        && r.spell.read_on <= orphan.spell.fitted_on
                        && r.class == orphan.class
                })
            })
        });
        if let Some(j) = fits {
            pairs.push((i, j));
        }
    }
    pairs
}

/// Every serial one slip away.
fn slips(serial: &str) -> Vec<String> {
    let letters: Vec<char> = serial.chars().collect();
    let mut out = Vec::new();
    let mut push = |k: usize, with: char| {
        out.push(letters.iter().enumerate().map(|(i, &c)| if i == k { with } else { c }).collect::<String>());
    };
    for (k, &c) in letters.iter().enumerate() {
        match c {
            'O' | 'o' => push(k, '0'),
            '0' => push(k, 'O'),
            'I' | 'l' => push(k, '1'),
            '1' => push(k, 'I'),
            _ => {}
        }
    }
    for k in 1..letters.len() {
        if let (Some(&a), Some(&b)) = (letters.get(k - 1), letters.get(k))
            && a != b
            && a.is_ascii_digit()
            && b.is_ascii_digit()
        {
            let mut form = letters.clone();
            form.swap(k - 1, k);
            out.push(form.into_iter().collect());
        }
    }
    out
}

/// Digits as 9, letters as A: the form of a serial.
fn form(serial: &str) -> String {
    let mark = |c: char| {
        if c.is_ascii_digit() {
            '9'
        } else if c.is_alphabetic() {
            'A'
        } else {
            c
        }
    };
    serial.chars().map(mark).collect()
}

fn forms(rows: &Rows<'_>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for (_, row) in rows.used() {
        *counts.entry(form(rows.serial(row))).or_insert(0) += 1;
    }
    counts
}

/// The row more likely mistyped, then the other: the one whose form of serial is rare, else the likely one.
fn culprit(rows: &Rows<'_>, forms: &BTreeMap<String, usize>, likely: usize, other: usize) -> (usize, usize) {
    let count = |i: usize| rows.list.get(i).and_then(|r| forms.get(&form(rows.serial(r)))).copied().unwrap_or(0);
    if count(other) * RARE < count(likely) { (other, likely) } else { (likely, other) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_single() {
        let near = slips("A10-21");
        for expected in ["AI0-21", "A1O-21", "A10-2I", "A01-21", "A10-12"] {
            assert!(near.iter().any(|s| s == expected), "{expected} in {near:?}");
        }
        assert_eq!(near.len(), 5);
    }
}
