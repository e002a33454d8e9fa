//! Parts of a log that were read each for itself, joined as if they had been read one after the other.

use chrono::NaiveDate;
use rayon::prelude::*;

use super::intern::Words;
use super::plain::Memos;
use super::rows::{Fault, Row, Rows, Texts, Unread};
use super::{ClassNames, Ending, Outcome, ReasonMap, Word};
use crate::base::error::{Error, Place, Problem};

/// What was read of a part of a log. Numbers of rows, lines and texts are the part's own.
#[derive(Debug, Default)]
pub(super) struct Part {
    /// Rows read, and line breaks passed.
    pub(super) read: u64,
    pub(super) breaks: u64,
    /// Rows that are no spells and were never meant to be.
    pub(super) furniture: u64,
    rows: Vec<Row>,
    /// Serial of each row.
    serials: Vec<Word>,
    pub(super) texts: Texts,
    /// Rows that rules on single rows must look at; without a removal; fitted with hours on the meter.
    odd: Vec<usize>,
    open: Vec<usize>,
    with_hours: Vec<usize>,
    /// Doubts of a row that is used.
    doubts: Vec<(usize, Vec<Fault>)>,
    /// Rows that cannot be used.
    pub(super) aside: Vec<(Unread, Vec<Fault>)>,
    pub(super) problems: Vec<Problem>,
    /// The first faults, with their places, to be told if no row can be used.
    pub(super) unread: Vec<(Place, Fault)>,
    /// Words for lamp classes that the study does not name, where they stand first, and in how many rows.
    unknown: Vec<(String, Place, u64)>,
    /// What ended the reading before the end of the part.
    pub(super) stopped: Option<Error>,
    /// Number of the lamp class that each word for one stands for.
    class_words: Words,
    class_of: Vec<Option<u32>>,
    /// Ending of each reason.
    reason_words: Words,
    ending_of: Vec<Option<Ending>>,
    /// What the cells of plain rows mean.
    pub(super) memos: Memos,
}

/// What a log has to say beside its rows.
#[derive(Debug, Default)]
pub(super) struct Told {
    pub(super) rows: u64,
    pub(super) furniture: u64,
    pub(super) problems: Vec<Problem>,
    pub(super) unread: Vec<(Place, Fault)>,
    pub(super) unknown: Vec<(String, Place, u64)>,
    pub(super) stopped: Option<Error>,
}

impl Part {
    /// The lamp class that a word stands for; none for a blank one or one that the study does not name.
    pub(super) fn class_of(&mut self, word: &str, classes: &ClassNames) -> Option<u32> {
        if word.is_empty() {
            return None;
        }
        let id = self.class_words.id(word) as usize;
        if id == self.class_of.len() {
            self.class_of.push(classes.get(word).map(|name| self.texts.classes.id_of(&name)));
        }
        self.class_of.get(id).copied().flatten()
    }

    /// The ending that the user maps a reason to.
    pub(super) fn ending_of(&mut self, reason: &str, reasons: &ReasonMap) -> Option<Ending> {
        let id = self.reason_words.id(reason) as usize;
        if id == self.ending_of.len() {
            self.ending_of.push(reasons.get(reason));
        }
        self.ending_of.get(id).copied().flatten()
    }

    /// Makes room for so many rows.
    pub(super) fn expect(&mut self, rows: usize) {
        self.rows.reserve(rows.saturating_sub(self.rows.len()));
        self.serials.reserve(rows.saturating_sub(self.serials.len()));
    }

    /// Takes a row.
    pub(super) fn add(&mut self, row: Row, serial: Word, doubts: Vec<Fault>, exported_on: NaiveDate) {
        let index = self.rows.len();
        if row.odd(exported_on) {
            self.odd.push(index);
        }
        if row.open() {
            self.open.push(index);
        }
        if row.spell.fitted_hours > 0.0 {
            self.with_hours.push(index);
        }
        if !doubts.is_empty() {
            self.doubts.push((index, doubts));
        }
        self.rows.push(row);
        self.serials.push(serial);
    }

    /// Counts rows of a lamp class that the study does not name.
    pub(super) fn stranger(&mut self, word: &str, place: &Place, rows: u64) {
        stranger(&mut self.unknown, word, place, rows);
    }

    /// Moves every number of a row and line behind those of the parts before.
    fn move_on(&mut self, rows: u64, lines: u64) {
        let places = self.unread.iter_mut().map(|u| &mut u.0);
        let places = places.chain(self.unknown.iter_mut().map(|u| &mut u.1));
        for place in places.chain(self.problems.iter_mut().map(|p| &mut p.place)) {
            place.row = place.row.map(|row| row + rows);
            place.line = place.line.map(|line| line + lines);
        }
        for (unread, _) in &mut self.aside {
            let table = unread.line == 0;
            unread.row += rows;
            unread.line += lines;
            if let Some(open) = &mut unread.open {
                open.line += if table { rows } else { lines };
            }
        }
    }
}

fn stranger(list: &mut Vec<(String, Place, u64)>, word: &str, place: &Place, rows: u64) {
    match list.iter_mut().find(|u| u.0 == word) {
        Some(u) => u.2 += rows,
        None => list.push((word.to_owned(), place.clone(), rows)),
    }
}

/// The numbers of a part's texts among those of all.
struct Numbers {
    rows: u32,
    lines: u32,
    classes: Vec<u32>,
    places: Vec<u32>,
    suppliers: Vec<u32>,
    batches: Vec<u32>,
    reasons: Vec<u32>,
}

impl Numbers {
    #[inline]
    fn give(&self, row: &mut Row) {
        let of = |list: &[u32], id: u32| list.get(id as usize).copied().unwrap_or(0);
        row.number += self.rows;
        row.line += self.lines;
        row.class = of(&self.classes, row.class);
        row.screen = of(&self.places, row.screen);
        row.supplier = of(&self.suppliers, row.supplier);
        row.batch = of(&self.batches, row.batch);
        row.reason = of(&self.reasons, row.reason);
    }
}

impl Texts {
    /// Takes the texts of the next part; first meetings come in the order of the parts.
    fn take(&mut self, part: &Part, rows: u64, lines: u64) -> Numbers {
        let texts = &part.texts;
        let (sites, screens) = (self.sites.take(&texts.sites), self.screens.take(&texts.screens));
        let place = |p: &(u32, u32)| {
            let of = |list: &[u32], id: u32| list.get(id as usize).copied().unwrap_or(0);
            self.places.id((of(&sites, p.0), of(&screens, p.1)))
        };
        Numbers {
            rows: rows as u32,
            lines: lines as u32,
            places: texts.places.list.iter().map(place).collect(),
            classes: self.classes.take(&texts.classes),
            suppliers: self.suppliers.take(&texts.suppliers),
            batches: self.batches.take(&texts.batches),
            reasons: self.reasons.take(&texts.reasons),
        }
    }
}

impl Rows<'_> {
    /// Takes the parts of a log, in their order.
    pub(super) fn take(&mut self, log: u32, mut parts: Vec<Part>) -> Told {
        let mut told = Told::default();
        let (before, texts) = (self.list.len(), &mut self.texts);
        let serials = parts.iter_mut().map(|p| std::mem::take(&mut p.serials)).collect();
        texts.serials.take(serials);
        let (mut lines, mut numbers) = (0, Vec::with_capacity(parts.len()));
        for part in &mut parts {
            part.move_on(told.rows, lines);
            numbers.push(texts.take(part, told.rows, lines));
            told.rows += part.read;
            lines += part.breaks;
        }
        let rows: usize = parts.iter().map(|p| p.rows.len()).sum();
        let keys = &mut self.keys;
        keys.screen.resize(before + rows, 0);
        keys.fitted_on.resize(before + rows, NaiveDate::default());
        let mut serials = texts.serials.of_rows().get(before..).unwrap_or(&[]);
        let mut screens = keys.screen.get_mut(before..).unwrap_or(&mut []);
        let mut days = keys.fitted_on.get_mut(before..).unwrap_or(&mut []);
        let mut work = Vec::with_capacity(parts.len());
        for (part, numbers) in parts.iter_mut().zip(&numbers) {
            let n = part.rows.len();
            let serials = serials.split_off(..n).unwrap_or(&[]);
            let screens = screens.split_off_mut(..n).unwrap_or_default();
            let days = days.split_off_mut(..n).unwrap_or_default();
            work.push((numbers, &mut part.rows, serials, screens, days));
        }
        work.into_par_iter().for_each(|(numbers, rows, serials, screens, days)| {
            for (((row, serial), screen), day) in rows.iter_mut().zip(serials).zip(screens).zip(days) {
                numbers.give(row);
                row.serial = *serial;
                (*screen, *day) = (row.screen, row.spell.fitted_on);
            }
        });
        for mut part in parts {
            let first = self.list.len();
            if let Some(counts) = self.counts.get_mut(log as usize) {
                counts.rows += part.read;
                counts.used += part.rows.len() as u64;
            }
            self.list.push(std::mem::take(&mut part.rows));
            self.odd.extend(part.odd.iter().map(|i| first + i));
            self.open.extend(part.open.iter().map(|i| first + i));
            self.with_hours.extend(part.with_hours.iter().map(|i| first + i));
            for (i, doubts) in part.doubts {
                for doubt in doubts {
                    self.note(first + i, Outcome::Used, doubt);
                }
            }
            part.aside.into_iter().for_each(|(unread, faults)| self.set_aside(unread, faults));
            told.furniture += part.furniture;
            told.problems.extend(part.problems);
            told.unread.extend(part.unread);
            part.unknown.iter().for_each(|u| stranger(&mut told.unknown, &u.0, &u.1, u.2));
            told.stopped = told.stopped.or(part.stopped);
        }
        told
    }
}
