//! Spells of one serial joined into lives.

use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

use super::intern::Words;
use super::rows::{Row, Rows, Texts};
use super::spells::{Life, LifePart, Lives, Spells};
use super::{Ending, LifeRecord, Outcome, Spell, Word};

/// Hours closer than this are the same reading.
const SAME_HOURS: f64 = 1e-6;
/// Lives that one thread joins together.
const TOGETHER: usize = 1 << 14;

/// The rows in use as spells, in order of log and row, and one life for each serial among them, in order of serial.
pub(super) fn spells_and_lives(mut rows: Rows<'_>) -> (Spells, Lives) {
    rows.unused.sort_unstable();
    let used = (!rows.unused.is_empty()).then(|| {
        let mut unused = rows.unused.iter().copied().peekable();
        let mut used = Vec::with_capacity(rows.list.len() - rows.unused.len());
        used.extend((0..rows.list.len()).filter(|i| unused.next_if_eq(i).is_none()).map(|i| i as u32));
        used
    });
    // Place of each row among the spells in use.
    let place = |row: u32| match &used {
        Some(used) => used.partition_point(|u| *u < row),
        None => row as usize,
    };
    let mut serials: Vec<u32> = (0..rows.texts.serials.len() as u32).collect();
    let in_use =
        |serial: u32| rows.of_serial.group(serial).iter().any(|&i| rows.list.get(i as usize).is_some_and(Row::used));
    if used.is_some() {
        serials.retain(|&serial| in_use(serial));
    }
    let serials = by_text(&rows.texts, serials);
    let blank = Row::blank();
    let parts = serials
        .par_chunks(TOGETHER)
        .map(|serials| {
            let mut part = LifePart::default();
            part.lives.reserve_exact(serials.len());
            part.spells.reserve(serials.len());
            part.at_risk.reserve(serials.len());
            for &serial in serials {
                life(&rows, serial, &place, &blank, &mut part);
            }
            part
        })
        .collect();
    drop(serials);
    let files = rows.formats.iter().map(|f| Word::from(f.file.as_str())).collect();
    let Rows { list, mut texts, .. } = rows;
    texts.close();
    let texts = Arc::new(texts);
    (Spells::new(files, list, texts.clone(), used), Lives::new(texts, parts))
}

/// Serials in the order of their texts.
fn by_text(texts: &Texts, serials: Vec<u32>) -> Vec<u32> {
    // As in many logs.
    if texts.serials.ascend() {
        return serials;
    }
    let word = |serial: u32| texts.serials.word(serial);
    let ranks: Option<Vec<(u128, u32)>> =
        serials.par_iter().map(|&serial| Some((word(serial)?.rank()?, serial))).collect();
    let Some(mut ranks) = ranks else {
        let mut serials = serials;
        serials.par_sort_unstable_by(|&a, &b| word(a).cmp(&word(b)));
        return serials;
    };
    ranks.par_sort_unstable();
    ranks.into_iter().map(|r| r.1).collect()
}

/// Joins the life of a lamp that has a row in use; a blank row stands for the last of a lamp without.
fn life(rows: &Rows<'_>, serial: u32, place: &impl Fn(u32) -> usize, blank: &Row, part: &mut LifePart) {
    let group = rows.of_serial.group(serial);
    let lamp = || {
        let used = |&i: &u32| rows.list.get(i as usize).filter(|r| r.outcome == Outcome::Used).map(|r| (i, r));
        group.iter().filter_map(used)
    };
    let mut ages = Ages::new(&mut part.at_risk);
    let mut last = blank;
    for (i, row) in lamp() {
        part.spells.push(place(i));
        let s = &row.spell;
        ages.add(s.entry_hours, s.end_hours);
        last = row;
    }
    let s = &last.spell;
    let (low_hours, end_hours) = ages.end(s.low_hours, s.end_hours, s.ending);
    // The first text that is known, or the blank one of the last row.
    let known = |words: &Words, number: fn(&Row) -> u32| {
        let written = |id: &u32| words.word(*id).is_some_and(|w| !w.as_bytes().is_empty());
        match group {
            [_] => number(last),
            _ => lamp().map(|(_, r)| number(r)).find(written).unwrap_or_else(|| number(last)),
        }
    };
    part.lives.push(Life {
        serial,
        class: last.class,
        supplier: known(&rows.texts.suppliers, |r| r.supplier),
        batch: known(&rows.texts.batches, |r| r.batch),
        spells_to: part.spells.len() as u32,
        at_risk_to: part.at_risk.len() as u32,
        low_hours,
        end_hours,
        ending: last.spell.ending,
    });
}

/// The ages of a life under way, from its spells in order of fitting, at the end of a list of many lives.
struct Ages<'a> {
    at_risk: &'a mut Vec<(f64, f64)>,
    first: usize,
}

impl<'a> Ages<'a> {
    fn new(at_risk: &'a mut Vec<(f64, f64)>) -> Self {
        let first = at_risk.len();
        Self { at_risk, first }
    }

    fn last_mut(&mut self) -> Option<&mut (f64, f64)> {
        self.at_risk.get_mut(self.first..)?.last_mut()
    }

    /// Takes the next spell.
    fn add(&mut self, entry_hours: f64, end_hours: f64) {
        match self.last_mut() {
            Some(piece) if (entry_hours - piece.1).abs() <= SAME_HOURS => piece.1 = end_hours,
            _ => self.at_risk.push((entry_hours, end_hours)),
        }
    }

    /// The last age seen working and the age at the end, from those of the last spell.
    fn end(&mut self, low_hours: f64, end_hours: f64, ending: Ending) -> (f64, f64) {
        if !ending.is_failure() {
            return (end_hours, end_hours);
        }
        match self.last_mut() {
            // A failure at the very age of entry happened within the first step of the meter after it.
            Some(piece) if piece.1 <= piece.0 => {
                piece.1 += 1.0;
                *piece
            }
            _ => (low_hours, end_hours),
        }
    }
}

/// The lives that spells make, one for each serial, in order of serial: what [`spells_and_lives`] gave with them.
pub(super) fn lives_of(spells: &Spells) -> Lives {
    let each: Vec<Spell<'_>> = spells.iter().collect();
    let mut order: Vec<usize> = (0..each.len()).collect();
    // As the rows of a lamp are ordered: by day, then by hours at fitting, then as they stand.
    let key = |i: &usize| each.get(*i).map(|s| (s.serial, s.fitted_on, s.fitted_hours.max(0.0).to_bits()));
    order.par_sort_by(|a, b| key(a).cmp(&key(b)));
    let serial = |i: &usize| each.get(*i).map(|s| s.serial);
    let mut at_risk = Vec::with_capacity(each.len());
    let lamps = order.chunk_by(|a, b| serial(a) == serial(b));
    let made: Vec<_> = lamps.filter_map(|lamp| life_of(&each, lamp, &mut at_risk)).collect();
    let lent = made.iter().filter_map(|(life, ages)| Some(LifeRecord { at_risk: at_risk.get(ages.clone())?, ..*life }));
    lent.collect()
}

/// A life, and where its ages stand in the list of all; they are left out of the record itself.
fn life_of<'a>(
    each: &[Spell<'a>],
    lamp: &'a [usize],
    at_risk: &mut Vec<(f64, f64)>,
) -> Option<(LifeRecord<'a>, Range<usize>)> {
    let spells = || lamp.iter().filter_map(|&i| each.get(i));
    let last = each.get(*lamp.last()?)?;
    let mut ages = Ages::new(at_risk);
    let first = ages.first;
    spells().for_each(|s| ages.add(s.entry_hours, s.end_hours));
    let (low_hours, end_hours) = ages.end(last.low_hours, last.end_hours, last.ending);
    let known = |word: fn(&Spell<'a>) -> &'a Word, none: &'a Word| {
        spells().map(word).find(|text| !text.as_bytes().is_empty()).unwrap_or(none)
    };
    let life = LifeRecord {
        serial: last.serial,
        lamp_class: last.lamp_class,
        supplier: known(|s| s.supplier, last.supplier),
        batch: known(|s| s.batch, last.batch),
        spells: lamp,
        at_risk: &[],
        low_hours,
        end_hours,
        ending: last.ending,
    };
    Some((life, first..at_risk.len()))
}
