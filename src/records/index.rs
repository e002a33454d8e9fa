//! Rows in the stretches in which they were read, and the rows of each lamp and screen.

use chrono::NaiveDate;
use rayon::prelude::*;

use super::rows::Row;

/// Rows, or what belongs to them, in the stretches in which they were read, so that none is ever copied.
#[derive(Debug)]
pub(crate) struct Stretches<T: Send> {
    parts: Vec<Vec<T>>,
    /// Index of the first row of each part.
    starts: Vec<usize>,
    length: usize,
}

impl<T: Send> Drop for Stretches<T> {
    fn drop(&mut self) {
        drop_apart(std::mem::take(&mut self.parts));
    }
}

/// Drops parts on all threads, as giving back the memory of many rows takes its time.
pub(crate) fn drop_apart<T: Send>(parts: Vec<Vec<T>>) {
    if parts.len() > 1 {
        parts.into_par_iter().for_each(drop);
    }
}

/// The rows of all logs.
pub(crate) type List = Stretches<Row>;

impl<T: Send> Default for Stretches<T> {
    fn default() -> Self {
        Self { parts: Vec::new(), starts: Vec::new(), length: 0 }
    }
}

impl<T: Send> Stretches<T> {
    /// Adds a stretch after all others.
    pub(crate) fn push(&mut self, part: Vec<T>) {
        if !part.is_empty() {
            self.starts.push(self.length);
            self.length += part.len();
            self.parts.push(part);
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.length
    }

    /// The part that holds a row, and the place of the row there.
    #[inline]
    pub(crate) fn place(&self, i: usize) -> (usize, usize) {
        let part = self.starts.partition_point(|s| *s <= i).wrapping_sub(1);
        (part, i.wrapping_sub(self.starts.get(part).copied().unwrap_or(0)))
    }

    #[inline]
    pub(crate) fn get(&self, i: usize) -> Option<&T> {
        let (part, row) = self.place(i);
        self.parts.get(part)?.get(row)
    }

    pub(crate) fn get_mut(&mut self, i: usize) -> Option<&mut T> {
        let (part, row) = self.place(i);
        self.parts.get_mut(part)?.get_mut(row)
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = &T> {
        self.parts.iter().flatten()
    }

    /// Index of the first row of a stretch.
    pub(crate) fn start(&self, part: usize) -> usize {
        self.starts.get(part).copied().unwrap_or(self.length)
    }

    /// The stretches.
    pub(crate) fn parts(&self) -> &[Vec<T>] {
        &self.parts
    }
}

/// Rows by a small number, each group in order of fitting.
#[derive(Debug, Default)]
pub(crate) struct Index {
    start: Vec<u32>,
    order: Vec<u32>,
    /// Groups of several rows.
    several: Vec<u32>,
    /// Groups with two rows fitted on one day.
    tied: Vec<u32>,
}

impl Index {
    /// `keys` and `days` are the group and the day of fitting of each row.
    pub(crate) fn new(rows: &List, keys: &[u32], days: &[NaiveDate]) -> Self {
        let groups = keys.iter().map(|k| *k as usize + 1).max().unwrap_or(0);
        // As where each lamp has one row.
        if groups == keys.len() && keys.iter().zip(0..).all(|(key, i)| *key == i) {
            let order = (0..groups as u32).collect();
            return Self { start: (0..=groups as u32).collect(), order, several: Vec::new(), tied: Vec::new() };
        }
        let mut start = vec![0_u32; groups + 1];
        for key in keys {
            if let Some(n) = start.get_mut(*key as usize + 1) {
                *n += 1;
            }
        }
        let mut sum = 0;
        for n in &mut start {
            sum += *n;
            *n = sum;
        }
        let mut next = start.clone();
        let mut order = vec![0_u32; keys.len()];
        for (i, key) in keys.iter().enumerate() {
            if let Some(at) = next.get_mut(*key as usize) {
                if let Some(slot) = order.get_mut(*at as usize) {
                    *slot = i as u32;
                }
                *at += 1;
            }
        }
        let day = |i: u32| days.get(i as usize).copied();
        // Hours that can be read are finite, so their order by bits is their order by value, negative ones apart.
        let hours = |i: u32| rows.get(i as usize).map(|r| r.spell.fitted_hours.max(0.0).to_bits());
        let (mut several, mut tied) = (Vec::new(), Vec::new());
        for (g, ends) in start.windows(2).enumerate() {
            let &[from, to] = ends else { continue };
            if to < from + 2 {
                continue;
            }
            several.push(g as u32);
            let group = order.get_mut(from as usize..to as usize).unwrap_or(&mut []);
            if !group.is_sorted_by_key(|&i| day(i)) {
                group.sort_by_key(|&i| day(i));
            }
            let mut ties = false;
            for same in group.chunk_by_mut(|a, b| day(*a) == day(*b)).filter(|same| same.len() > 1) {
                same.sort_by_key(|&i| hours(i));
                ties = true;
            }
            if ties {
                tied.push(g as u32);
            }
        }
        Self { start, order, several, tied }
    }

    /// Rows of a group, in order of fitting.
    #[inline]
    pub(crate) fn group(&self, id: u32) -> &[u32] {
        let at = id as usize;
        match (self.start.get(at), self.start.get(at + 1)) {
            (Some(&from), Some(&to)) => self.order.get(from as usize..to as usize).unwrap_or(&[]),
            _ => &[],
        }
    }

    /// Groups of several rows.
    pub(crate) fn several(&self) -> impl Iterator<Item = &[u32]> {
        self.several.iter().map(|&id| self.group(id))
    }

    /// Groups with two rows fitted on one day.
    pub(crate) fn tied(&self) -> impl Iterator<Item = &[u32]> {
        self.tied.iter().map(|&id| self.group(id))
    }
}
