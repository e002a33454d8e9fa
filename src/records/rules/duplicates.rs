//! The same spell in two rows, and the same serial on two kinds of lamp.

use super::SAME_HOURS;
use crate::records::rows::{Fault, Field, Row, Rows};
use crate::records::{Ending, Outcome};

const RULE: &str = "records.duplicate";

/// `records.duplicate`: rows with the same serial, screen and day of fitting tell of one spell. They merge into the
/// one that knows most; where they contradict each other, none can be defended and all are set aside.
pub(super) fn duplicate(rows: &mut Rows<'_>) {
    let mut copies: Vec<Vec<usize>> = Vec::new();
    for lamp in rows.lamps_with_several() {
        let mut keyed: Vec<_> =
            lamp.iter().filter_map(|&i| rows.list.get(i).map(|r| (r.spell.fitted_on, r.screen, i))).collect();
        keyed.sort_unstable();
        let same = keyed.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)).filter(|c| c.len() > 1);
        copies.extend(same.map(|c| c.iter().map(|k| k.2).collect()));
    }
    for same in copies {
        judge(rows, &same);
    }
}

fn judge(rows: &mut Rows<'_>, copies: &[usize]) {
    let members: Vec<(usize, &Row)> = copies.iter().filter_map(|&i| rows.list.get(i).map(|r| (i, r))).collect();
    let exported = |r: &Row| rows.formats.get(r.log as usize).map(|f| f.exported_on);
    // Most known: removed rather than open, an ending rather than none, the latest reading, the newest export.
    let rank = |r: &Row| (!r.open(), r.spell.ending != Ending::Unknown, r.spell.read_on, exported(r));
    let Some(&(keep, kept)) = members.iter().max_by(|a, b| rank(a.1).cmp(&rank(b.1)).then(b.0.cmp(&a.0))) else {
        return;
    };
    let agrees = |r: &Row| {
        let (a, b) = (&r.spell, &kept.spell);
        let same = |x: f64, y: f64| (x - y).abs() <= SAME_HOURS;
        let hours = if r.open() {
            a.end_hours <= b.end_hours + SAME_HOURS && (kept.open() || exported(r) <= exported(kept))
        } else {
            same(a.end_hours, b.end_hours) && a.removed_on == b.removed_on
        };
        let ending = r.open() || a.ending == b.ending || a.ending == Ending::Unknown;
        hours && ending && r.class == kept.class && same(a.fitted_hours, b.fitted_hours)
    };
    let contradict = members.iter().any(|m| !agrees(m.1));
    let file = |r: &Row| rows.formats.get(r.log as usize).map_or("", |f| &f.file);
    let place = |r: &Row| format!("{} line {}", file(r), if r.line > 0 { r.line } else { r.number });
    let places: Vec<(usize, String)> = members
        .iter()
        .filter(|m| contradict || m.0 != keep)
        .map(|m| {
            let other = if m.0 == keep { members.iter().find(|o| o.0 != keep).map(|o| o.1) } else { Some(kept) };
            (m.0, other.map_or_else(String::new, place))
        })
        .collect();
    for (i, other) in places {
        let (outcome, sentence) = if contradict {
            (Outcome::SetAside, format!("the same spell stands in {other} and the two contradict each other"))
        } else {
            (Outcome::Merged, format!("the same spell stands in {other}, which is used"))
        };
        if contradict && let Some(row) = rows.list.get_mut(i) {
            row.placed = false;
        }
        rows.note(i, outcome, Fault::new(RULE, Field::Serial, sentence));
    }
}

/// `records.serial_two_classes`: one serial on lamps of two classes cannot be one lamp.
pub(super) fn serial_two_classes(rows: &mut Rows<'_>) {
    let mut mixed: Vec<usize> = Vec::new();
    for lamp in rows.lamps_with_several() {
        let class = |i: &usize| rows.list.get(*i).map(|r| r.class);
        if lamp.iter().any(|i| class(i) != lamp.first().and_then(class)) {
            mixed.extend(lamp);
        }
    }
    for i in mixed {
        let sentence = "the serial stands on lamps of two classes";
        rows.note(i, Outcome::SetAside, Fault::new("records.serial_two_classes", Field::Serial, sentence));
    }
}
