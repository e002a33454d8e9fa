//! Serials of rows, numbered in order of first meeting by all threads at once.

use std::sync::atomic::{AtomicU32, Ordering};

use rayon::prelude::*;

use super::Word;
use super::index::{Stretches, drop_apart};
use super::intern::hash;

/// Shards that serials are spread over by their hash. Each is numbered for itself, in a table that fits a near cache; as
/// many on any number of threads.
const SHARDS: usize = 64;
const FEWEST_SLOTS: usize = 16;

/// The rows at which another serial begins, if none sorts before the one above it.
fn runs(serials: &[Word], before: Option<&Word>, first: u32) -> Option<Vec<u32>> {
    let mut rows = Vec::with_capacity(serials.len());
    let mut last = before;
    for (serial, row) in serials.iter().zip(first..) {
        match last.map(|last| last.cmp(serial)) {
            Some(std::cmp::Ordering::Greater) => return None,
            Some(std::cmp::Ordering::Equal) => {}
            Some(std::cmp::Ordering::Less) | None => rows.push(row),
        }
        last = Some(serial);
    }
    Some(rows)
}

/// The hash that serials are spread and found by.
#[inline]
fn mark_of(serial: &Word) -> u32 {
    (hash(serial.as_bytes()) >> 32) as u32
}

#[inline]
fn shard_of(mark: u32) -> usize {
    (mark >> 26) as usize
}

/// The serial of each row.
#[derive(Debug, Default)]
pub(crate) struct Serials {
    column: Stretches<Word>,
    /// Number of the serial of each row, and the first row of each number.
    of_row: Vec<u32>,
    first: Vec<u32>,
    shards: Vec<Shard>,
}

/// Open addressing: the mark of a serial, and the first row that has it plus 1. Never walked, so its order does not matter.
#[derive(Debug, Default)]
struct Shard {
    slots: Vec<u64>,
    taken: usize,
}

/// The rows of a part by the shard of their serial, in their order.
struct Routed {
    starts: [usize; SHARDS + 1],
    rows: Vec<(u32, u32)>,
}

impl Routed {
    fn new(serials: &[Word], first: u32) -> Self {
        let marks: Vec<u32> = serials.iter().map(mark_of).collect();
        let mut starts = [0; SHARDS + 1];
        for &mark in &marks {
            if let Some(n) = starts.get_mut(shard_of(mark) + 1) {
                *n += 1;
            }
        }
        let mut sum = 0;
        for n in &mut starts {
            sum += *n;
            *n = sum;
        }
        let mut next = starts;
        let mut rows = vec![(0, 0); marks.len()];
        for (&mark, row) in marks.iter().zip(first..) {
            if let Some(at) = next.get_mut(shard_of(mark)) {
                if let Some(slot) = rows.get_mut(*at) {
                    *slot = (mark, row);
                }
                *at += 1;
            }
        }
        Self { starts, rows }
    }

    fn of(&self, shard: usize) -> &[(u32, u32)] {
        match (self.starts.get(shard), self.starts.get(shard + 1)) {
            (Some(&from), Some(&to)) => self.rows.get(from..to).unwrap_or(&[]),
            _ => &[],
        }
    }
}

impl Shard {
    /// The first row with a serial of this mark that is the same, or the free slot where it belongs.
    #[inline]
    fn place(&self, mark: u32, same: impl Fn(u32) -> bool) -> Result<u32, usize> {
        let mask = self.slots.len().wrapping_sub(1);
        let mut at = mark as usize & mask;
        while let Some(&slot) = self.slots.get(at) {
            if slot == 0 {
                break;
            }
            let row = slot as u32 - 1;
            if (slot >> 32) as u32 == mark && same(row) {
                return Ok(row);
            }
            at = (at + 1) & mask;
        }
        Err(at)
    }

    fn grow(&mut self, rows: usize) {
        let size = (2 * rows).next_power_of_two().max(FEWEST_SLOTS);
        if size <= self.slots.len() {
            return;
        }
        for slot in std::mem::replace(&mut self.slots, vec![0; size]) {
            if slot != 0
                && let Err(free) = self.place((slot >> 32) as u32, |_| false)
                && let Some(place) = self.slots.get_mut(free)
            {
                *place = slot;
            }
        }
    }

    fn put(&mut self, free: usize, mark: u32, row: u32) {
        if let Some(slot) = self.slots.get_mut(free) {
            *slot = (u64::from(mark) << 32) | (u64::from(row) + 1);
            self.taken += 1;
        }
    }
}

impl Serials {
    /// Serials that differ from each other, in the order of their numbers; they are not looked up.
    pub(crate) fn of_list(list: Vec<Word>) -> Self {
        let first = (0..list.len() as u32).collect();
        let mut column = Stretches::default();
        column.push(list);
        Self { column, of_row: Vec::new(), first, shards: Vec::new() }
    }

    /// Takes the serials of more rows, part by part.
    pub(crate) fn take(&mut self, parts: Vec<Vec<Word>>) {
        let stretches = self.column.parts().len();
        for serials in parts {
            self.column.push(serials);
        }
        if self.shards.is_empty() && self.in_order(stretches) {
            return;
        }
        // Serials that stood in order are not in the shards yet.
        let from = if self.shards.is_empty() { 0 } else { stretches };
        let before = self.column.parts().iter().take(from).map(Vec::len).sum();
        if before == 0 {
            (self.of_row, self.first) = (Vec::new(), Vec::new());
        }
        self.by_hash(from, before);
    }

    /// Numbers the serials of the stretches from one on if all stand in the order of their texts, as in many logs; they
    /// need no table then.
    fn in_order(&mut self, from: usize) -> bool {
        let parts = self.column.parts();
        let runs: Option<Vec<Vec<u32>>> = (from..parts.len())
            .into_par_iter()
            .map(|p| {
                let before = p.checked_sub(1).and_then(|b| parts.get(b)?.last());
                runs(parts.get(p)?, before, self.column.start(p) as u32)
            })
            .collect();
        let Some(runs) = runs else { return false };
        self.first.reserve_exact(runs.iter().map(Vec::len).sum());
        for rows in &runs {
            self.first.extend_from_slice(rows);
        }
        let rows = self.column.len() as u32;
        if self.first.len() == self.column.len() {
            self.of_row.extend(self.of_row.len() as u32..rows);
            return true;
        }
        self.of_row.reserve_exact(self.column.len() - self.of_row.len());
        let known = self.of_row.last().map_or(0, |id| *id as usize);
        let ends = self.first.iter().copied().skip(known + 1).chain([rows]);
        for (id, end) in (known as u32..).zip(ends) {
            self.of_row.resize(end as usize, id);
        }
        true
    }

    /// Numbers the serials of the stretches from one on, which begins with the row `before`.
    fn by_hash(&mut self, from: usize, before: usize) {
        let rows = self.column.len() - before;
        // The first row of the same serial; most serials stand once.
        let same: Vec<AtomicU32> = (before as u32..(before + rows) as u32).map(AtomicU32::new).collect();
        let parts = self.column.parts();
        let route = |p: usize| Some(Routed::new(parts.get(p)?, self.column.start(p) as u32));
        let routed: Vec<Routed> = (from..parts.len()).into_par_iter().filter_map(route).collect();
        self.shards.resize_with(SHARDS, Shard::default);
        let column = &self.column;
        self.shards.par_iter_mut().enumerate().for_each(|(s, shard)| {
            shard.grow(shard.taken + routed.iter().map(|r| r.of(s).len()).sum::<usize>());
            for &(mark, row) in routed.iter().flat_map(|r| r.of(s)) {
                match shard.place(mark, |other| column.get(other as usize) == column.get(row as usize)) {
                    Err(free) => shard.put(free, mark, row),
                    Ok(first) => {
                        if let Some(same) = same.get(row as usize - before) {
                            same.store(first, Ordering::Relaxed);
                        }
                    }
                }
            }
        });
        self.of_row.reserve_exact(rows);
        for (same, row) in same.into_iter().zip(before as u32..) {
            let first = same.into_inner();
            if first == row {
                self.of_row.push(self.first.len() as u32);
                self.first.push(row);
            } else {
                self.of_row.push(self.of_row.get(first as usize).copied().unwrap_or(0));
            }
        }
    }

    /// Whether the numbers are in the order of the texts.
    pub(crate) fn ascend(&self) -> bool {
        self.shards.is_empty()
    }

    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.first.len()
    }

    /// The number of each row's serial.
    pub(crate) fn of_rows(&self) -> &[u32] {
        &self.of_row
    }

    /// The text of a number.
    #[inline]
    pub(crate) fn word(&self, id: u32) -> Option<&Word> {
        self.column.get(*self.first.get(id as usize)? as usize)
    }

    /// The text of a number; an empty one for a number that is not known.
    #[inline]
    pub(crate) fn text(&self, id: u32) -> &Word {
        self.word(id).unwrap_or(&Word::NONE)
    }

    /// The number of a serial that some row has.
    pub(crate) fn find(&self, text: &str) -> Option<u32> {
        let word = Word::from(text);
        if self.ascend() {
            let id = self.first.partition_point(|row| self.column.get(*row as usize) < Some(&word)) as u32;
            return (self.word(id) == Some(&word)).then_some(id);
        }
        let mark = mark_of(&word);
        let row = self.shards.get(shard_of(mark))?.place(mark, |row| self.column.get(row as usize) == Some(&word));
        self.of_row.get(row.ok()? as usize).copied()
    }

    /// Gives back what only serves to find a number.
    pub(crate) fn close(&mut self) {
        let slots = std::mem::take(&mut self.shards).into_iter().map(|s| s.slots).collect();
        rayon::join(|| drop_apart(slots), || self.of_row = Vec::new());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn take(serials: &mut Serials, parts: &[&[String]]) {
        let part = |texts: &&[String]| texts.iter().map(|t| Word::from(t.as_str())).collect();
        serials.take(parts.iter().map(part).collect());
    }

    /// Numbers by a plain search.
    fn plainly(texts: &[String]) -> Vec<u32> {
        let mut seen: Vec<&String> = Vec::new();
        let mut number = |t| {
            seen.iter().position(|s| *s == t).unwrap_or_else(|| {
                seen.push(t);
                seen.len() - 1
            })
        };
        texts.iter().map(|t| number(t) as u32).collect()
    }

    fn holds(texts: &[String], cuts: [usize; 3]) -> Serials {
        let [a, b, c] = cuts;
        let mut serials = Serials::default();
        take(&mut serials, &[&texts[..a], &[], &texts[a..b]]);
        take(&mut serials, &[&texts[b..c], &texts[c..]]);
        let plain = plainly(texts);
        assert_eq!(serials.of_rows(), plain);
        assert_eq!(serials.len() as u32, plain.iter().max().unwrap() + 1);
        for (text, &id) in texts.iter().zip(serials.of_rows()) {
            assert_eq!((serials.word(id).map(|w| &**w), serials.find(text)), (Some(text.as_str()), Some(id)));
        }
        assert_eq!((serials.find("none"), serials.find(""), serials.find("~")), (None, None, None));
        serials
    }

    #[test]
    fn numbers_are_given_in_order_of_first_meeting() {
        let text = |i: u32| format!("a serial of many letters {:04}", i.wrapping_mul(0x9E37_79B9) >> 23);
        let mut texts: Vec<String> = (0..900).map(text).collect();
        assert!(!holds(&texts, [200, 500, 700]).ascend());
        // In order at first, then not.
        texts[..500].sort_unstable();
        assert!(!holds(&texts, [200, 500, 700]).ascend());
        texts.sort_unstable();
        for cuts in [[200, 500, 700], [1, 2, 3], [0, 450, 450]] {
            assert!(holds(&texts, cuts).ascend());
        }
        texts.dedup();
        assert!(holds(&texts, [10, 20, 30]).ascend());
        texts.reverse();
        assert!(!holds(&texts, [10, 20, 30]).ascend());
    }

    #[test]
    fn serials_of_one_mark_keep_their_own_rows() {
        let mut shard = Shard::default();
        for row in 0..100 {
            shard.grow(shard.taken + 1);
            let free = shard.place(7, |other| other == row).unwrap_err();
            shard.put(free, 7, row);
        }
        for row in 0..100 {
            assert_eq!(shard.place(7, |other| other == row), Ok(row));
        }
    }
}
