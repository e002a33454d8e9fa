//! Spells of one serial joined into lives.

use rayon::prelude::*;

use super::rows::{Index, Row};
use super::{LifeRecord, Outcome};

/// Hours closer than this are the same reading.
const SAME_HOURS: f64 = 1e-6;

/// One life for each serial in use, in order of serial.
pub(super) fn lives(rows: &[Row], of_serial: &Index) -> Vec<LifeRecord> {
    let mut used = 0_usize;
    // Place of each row among the spells in use.
    let place: Vec<usize> = rows
        .iter()
        .map(|r| {
            used += usize::from(r.outcome == Outcome::Used);
            used.wrapping_sub(1)
        })
        .collect();
    let groups: Vec<&[u32]> = of_serial.groups().collect();
    let mut lives: Vec<LifeRecord> = groups
        .par_iter()
        .filter_map(|group| {
            let used = group.iter().map(|&i| i as usize).filter(|&i| rows[i].outcome == Outcome::Used);
            let lamp: Vec<usize> = used.collect();
            let spells: Vec<&Row> = lamp.iter().map(|&i| &rows[i]).collect();
            life(&spells, lamp.iter().map(|&i| place[i]).collect())
        })
        .collect();
    // Serials differ from life to life, so the order is the same whatever the sort.
    lives.par_sort_unstable_by(|a, b| a.serial.cmp(&b.serial));
    lives
}

fn life(rows: &[&Row], spells: Vec<usize>) -> Option<LifeRecord> {
    let last = &rows.last()?.spell;
    let mut at_risk: Vec<(f64, f64)> = Vec::with_capacity(1);
    for row in rows {
        let s = &row.spell;
        match at_risk.last_mut() {
            Some(piece) if (s.entry_hours - piece.1).abs() <= SAME_HOURS => piece.1 = s.end_hours,
            _ => at_risk.push((s.entry_hours, s.end_hours)),
        }
    }
    let (mut low_hours, mut end_hours) = (last.low_hours, last.end_hours);
    if last.ending.is_failure() {
        let piece = at_risk.last_mut()?;
        if piece.1 <= piece.0 {
            // A failure at the very age of entry happened within the first step of the meter after it.
            piece.1 += 1.0;
            (low_hours, end_hours) = (piece.0, piece.1);
        }
    } else {
        low_hours = end_hours;
    }
    let known = |text: fn(&Row) -> &super::Word| {
        rows.iter().map(|r| text(r)).find(|t| !t.is_empty()).unwrap_or_else(|| text(rows[0])).clone()
    };
    Some(LifeRecord {
        serial: last.serial.clone(),
        lamp_class: last.lamp_class.clone(),
        supplier: known(|r| &r.spell.supplier),
        batch: known(|r| &r.spell.batch),
        spells,
        at_risk,
        low_hours,
        end_hours,
        ending: last.ending,
    })
}
