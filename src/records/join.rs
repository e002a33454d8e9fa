//! Spells of one serial joined into lives.

use rayon::prelude::*;

use super::intern::Words;
use super::rows::{Row, Rows, Texts};
use super::{Ending, LifeRecord, Outcome, Spell, Word};

/// Hours closer than this are the same reading.
const SAME_HOURS: f64 = 1e-6;

/// The rows in use as spells, in order of log and row, and one life for each serial among them, in order of serial.
pub(super) fn spells_and_lives(rows: &mut Rows<'_>) -> (Vec<Spell>, Vec<LifeRecord>) {
    rows.unused.sort_unstable();
    let mut unused = rows.unused.iter().copied().peekable();
    let mut used = Vec::with_capacity(rows.list.len() - rows.unused.len());
    // Place of each row among the spells in use.
    let mut place = Vec::with_capacity(rows.list.len());
    for i in 0..rows.list.len() {
        place.push(used.len() as u32);
        if unused.next_if_eq(&i).is_none() {
            used.push(i as u32);
        }
    }
    let (blank, no_file) = (Row::blank(), Word::default());
    let files = || rows.formats.iter().map(|f| Word::from(f.file.as_str())).collect::<Vec<_>>();
    let spells = used
        .par_iter()
        // A name of its own for each thread: they would wait for each other to count who shares one.
        .map_init(files, |files, &i| {
            let row = rows.list.get(i as usize).unwrap_or(&blank);
            rows.texts.spell(row, files.get(row.log as usize).unwrap_or(&no_file))
        })
        .collect();
    let mut serials: Vec<u32> = (0..rows.texts.serials.list().len() as u32).collect();
    let in_use =
        |serial: u32| rows.of_serial.group(serial).iter().any(|&i| rows.list.get(i as usize).is_some_and(Row::used));
    if !rows.unused.is_empty() {
        serials.retain(|&serial| in_use(serial));
    }
    let lives = by_text(&rows.texts, serials).par_iter().map(|&serial| life(rows, serial, &place, &blank)).collect();
    (spells, lives)
}

/// Serials in the order of their texts.
fn by_text(texts: &Texts, serials: Vec<u32>) -> Vec<u32> {
    let word = |serial: u32| texts.serials.word(serial);
    // As many logs are.
    if serials.is_sorted_by_key(|&serial| word(serial)) {
        return serials;
    }
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

/// The life of a lamp that has a row in use; a blank row stands for the last of a lamp without.
fn life(rows: &Rows<'_>, serial: u32, place: &[u32], blank: &Row) -> LifeRecord {
    let lamp = || {
        let group = rows.of_serial.group(serial).iter();
        group.filter_map(|&i| rows.list.get(i as usize).filter(|r| r.outcome == Outcome::Used).map(|r| (i, r)))
    };
    let mut spells: Vec<usize> = Vec::with_capacity(1);
    let mut ages = Ages::new();
    let mut last = blank;
    for (i, row) in lamp() {
        spells.push(place.get(i as usize).map_or(0, |p| *p as usize));
        let s = &row.spell;
        ages.add(s.entry_hours, s.end_hours);
        last = row;
    }
    let s = &last.spell;
    let (low_hours, end_hours) = ages.end(s.low_hours, s.end_hours, s.ending);
    let texts = &rows.texts;
    let word = |word: Option<&Word>| word.cloned().unwrap_or_default();
    let known = |words: &Words, number: fn(&Row) -> u32| {
        word(lamp().filter_map(|(_, r)| words.word(number(r))).find(|text| !text.as_bytes().is_empty()))
    };
    LifeRecord {
        serial: word(texts.serials.word(serial)),
        lamp_class: word(texts.classes.word(last.class)),
        supplier: known(&texts.suppliers, |r| r.supplier),
        batch: known(&texts.batches, |r| r.batch),
        spells,
        at_risk: ages.at_risk,
        low_hours,
        end_hours,
        ending: last.spell.ending,
    }
}

/// The ages of a life under way, from its spells in order of fitting.
struct Ages {
    at_risk: Vec<(f64, f64)>,
}

impl Ages {
    fn new() -> Self {
        Self { at_risk: Vec::with_capacity(1) }
    }

    /// Takes the next spell.
    fn add(&mut self, entry_hours: f64, end_hours: f64) {
        match self.at_risk.last_mut() {
            Some(piece) if (entry_hours - piece.1).abs() <= SAME_HOURS => piece.1 = end_hours,
            _ => self.at_risk.push((entry_hours, end_hours)),
        }
    }

    /// The last age seen working and the age at the end, from those of the last spell.
    fn end(&mut self, low_hours: f64, end_hours: f64, ending: Ending) -> (f64, f64) {
        if !ending.is_failure() {
            return (end_hours, end_hours);
        }
        match self.at_risk.last_mut() {
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
pub(super) fn lives_of(spells: &[Spell]) -> Vec<LifeRecord> {
    let mut order: Vec<usize> = (0..spells.len()).collect();
    // As the rows of a lamp are ordered: by day, then by hours at fitting, then as they stand.
    let key = |i: &usize| spells.get(*i).map(|s| (&s.serial, s.fitted_on, s.fitted_hours.max(0.0).to_bits()));
    order.par_sort_by(|a, b| key(a).cmp(&key(b)));
    let serial = |i: &usize| spells.get(*i).map(|s| &s.serial);
    let lamps: Vec<&[usize]> = order.chunk_by(|a, b| serial(a) == serial(b)).collect();
    lamps.par_iter().filter_map(|lamp| life_of(spells, lamp)).collect()
}

fn life_of(spells: &[Spell], lamp: &[usize]) -> Option<LifeRecord> {
    let each = || lamp.iter().filter_map(|&i| spells.get(i));
    let last = spells.get(*lamp.last()?)?;
    let mut ages = Ages::new();
    each().for_each(|s| ages.add(s.entry_hours, s.end_hours));
    let (low_hours, end_hours) = ages.end(last.low_hours, last.end_hours, last.ending);
    let known = |word: fn(&Spell) -> &Word| {
        each().map(word).find(|text| !text.as_bytes().is_empty()).cloned().unwrap_or_default()
    };
    Some(LifeRecord {
        serial: last.serial.clone(),
        lamp_class: last.lamp_class.clone(),
        supplier: known(|s| &s.supplier),
        batch: known(|s| &s.batch),
        spells: lamp.to_vec(),
        at_risk: ages.at_risk,
        low_hours,
        end_hours,
        ending: last.ending,
    })
}
