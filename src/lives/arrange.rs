//! The two ways to canonical order: sorting rows age range by age range, or counting them in a table of whole hours.

use std::cmp::Ordering;

use rayon::prelude::*;

use super::bare;
use super::order::Columns;
use super::rows::{Facts, Row, Rows};
use super::tally::{Group, Tally};
use crate::base::math::sum::{each_block, fill_blocks};
use crate::records::Ending;

/// Rows that a range of ages holds on average: small enough to be sorted in the nearest cache.
const IN_RANGE: usize = 64;
/// Most ranges of ages.
const MOST_RANGES: usize = 1 << 16;
/// Rows from which threads share the work, and the most shares: each share looks at every row once.
pub(super) const SHARED_FROM: usize = 1 << 15;
pub(super) const MOST_SHARES: usize = 8;
/// The widest table of whole-hour counts, in cells; beyond it sorting is cheaper.
const MOST_CELLS: u64 = 1 << 22;

/// What rows are sorted by. Ages are 0 or above, so the order of their bits is the order of the numbers.
trait Key: Copy + Default + Send + Sync {
    /// The key of a row; `None` past the end.
    fn of(rows: &Rows, row: usize) -> Option<Self>;
    fn low(self) -> f64;
    /// The row, its group as given.
    fn row(self, rows: &Rows) -> Option<Row>;
    /// Canonical order; ages may be all it looks at where no row says anything else.
    fn order(&self, other: &Self, rows: &Rows, place: &[u32]) -> Ordering;
}

/// Low, and high, which is the same or infinite, in the highest bit of the row's number.
type Point = (u64, u64);

const CENSORED: u64 = 1 << 63;

impl Key for Point {
    fn of(rows: &Rows, row: usize) -> Option<Self> {
        let [low, high, _] = rows.ages(row)?;
        Some((low.to_bits(), row as u64 | if high == f64::INFINITY { CENSORED } else { 0 }))
    }

    fn low(self) -> f64 {
        f64::from_bits(self.0)
    }

    fn row(self, rows: &Rows) -> Option<Row> {
        let high = if self.1 & CENSORED == 0 { self.low() } else { f64::INFINITY };
        rows.row_with((self.1 & !CENSORED) as usize, [self.low(), high, 0.0])
    }

    fn order(&self, other: &Self, _: &Rows, _: &[u32]) -> Ordering {
        self.cmp(other)
    }
}

/// Low, high, entry, and the number of the row, which is looked up on ties only.
type Span = (u64, u64, u64, usize);

impl Key for Span {
    fn of(rows: &Rows, row: usize) -> Option<Self> {
        let [low, high, entry] = rows.ages(row)?;
        Some((low.to_bits(), high.to_bits(), entry.to_bits(), row))
    }

    fn low(self) -> f64 {
        f64::from_bits(self.0)
    }

    fn row(self, rows: &Rows) -> Option<Row> {
        rows.row_with(self.3, [self.low(), f64::from_bits(self.1), f64::from_bits(self.2)])
    }

    fn order(&self, other: &Self, rows: &Rows, place: &[u32]) -> Ordering {
        let by_age = (self.0, self.1, self.2).cmp(&(other.0, other.1, other.2));
        by_age.then_with(|| match (placed(*self, rows, place), placed(*other, rows, place)) {
            (Some(a), Some(b)) if says_more(rows) => a.order(&b),
            _ => Ordering::Equal,
        })
    }
}

/// Whether rows of the same ages can differ.
fn says_more(rows: &Rows) -> bool {
    rows.upper.is_some() || rows.group.is_some() || rows.ending.is_some()
}

/// The row with its group in canonical order.
fn placed<K: Key>(key: K, rows: &Rows, place: &[u32]) -> Option<Row> {
    let mut row = key.row(rows)?;
    row.group = place.get(row.group as usize).copied().unwrap_or(0);
    Some(row)
}

/// Rows in canonical order, equal ones collapsed.
pub(super) fn sorted(rows: &Rows, facts: &Facts, groups: Vec<Group>, place: &[u32]) -> Tally {
    if facts.points
        && let Some(tally) = bare::sorted(rows, &groups, place)
    {
        tally
    } else if facts.points && !says_more(rows) {
        sorted_by::<Point>(rows, groups, place)
    } else {
        sorted_by::<Span>(rows, groups, place)
    }
}

/// Spreads ages evenly over ranges, then sorts range by range: no step walks over all rows more than a few times.
///
/// Which share of the ranges a thread takes depends on the threads; the order of rows does not.
fn sorted_by<K: Key>(rows: &Rows, groups: Vec<Group>, place: &[u32]) -> Tally {
    let n = rows.len();
    let ranges = Ranges::of(rows, IN_RANGE, MOST_RANGES);
    let mut range = vec![0_u32; n];
    fill_blocks(&mut range, |block, out| {
        for (r, i) in out.iter_mut().zip(block) {
            *r = ranges.holding(rows.ages(i).map_or(0.0, |ages| ages[0])) as u32;
        }
    });
    // Where the rows of each range start, and at last where they end.
    let mut starts = vec![0_usize; ranges.count + 1];
    for r in &range {
        if let Some(rows) = starts.get_mut(*r as usize + 1) {
            *rows += 1;
        }
    }
    let mut sum = 0;
    for start in &mut starts {
        sum += *start;
        *start = sum;
    }
    let mut keys = vec![K::default(); n];
    let mut left = keys.as_mut_slice();
    let mut shares = Vec::new();
    let most = if n < SHARED_FROM { 1 } else { rayon::current_num_threads().clamp(1, MOST_SHARES) };
    let (mut from, mut taken) = (0, 0);
    for share in 1..=most {
        let to = if share == most { ranges.count } else { starts.partition_point(|s| *s < share * n / most).max(from) };
        let rows_to = starts.get(to).copied().unwrap_or(n);
        let (mine, rest) = left.split_at_mut(rows_to - taken);
        shares.push((starts.get(from..to).unwrap_or(&[]), from, taken, mine));
        (left, from, taken) = (rest, to, rows_to);
    }
    let mut parts: Vec<Columns> = shares
        .into_par_iter()
        .map(|(starts, first_range, first_row, keys)| {
            let mut next: Vec<usize> = starts.iter().map(|s| s - first_row).collect();
            for (i, r) in range.iter().enumerate() {
                let here = (*r as usize).checked_sub(first_range).and_then(|r| next.get_mut(r));
                if let (Some(at), Some(key)) = (here, K::of(rows, i)) {
                    if let Some(slot) = keys.get_mut(*at) {
                        *slot = key;
                    }
                    *at += 1;
                }
            }
            let mut columns = Columns::new(keys.len());
            let mut from = 0;
            // Every place now points past the rows of its range.
            for to in next {
                let Some(here) = keys.get_mut(from..to) else { continue };
                if here.len() > SHARED_FROM {
                    here.par_sort_unstable_by(|a, b| a.order(b, rows, place));
                } else {
                    here.sort_unstable_by(|a, b| a.order(b, rows, place));
                }
                here.iter().filter_map(|key| placed(*key, rows, place)).for_each(|row| columns.push(row));
                from = to;
            }
            columns
        })
        .collect();
    drop((keys, range));
    let mut out = if parts.len() == 1 { parts.pop() } else { None }
        .unwrap_or_else(|| Columns::new(parts.iter().map(Columns::len).sum()));
    for part in parts {
        out.append(part);
    }
    out.finish(groups)
}

/// Equal ranges of ages from the least to the greatest.
pub(super) struct Ranges {
    least: f64,
    per_hour: f64,
    pub(super) count: usize,
}

impl Ranges {
    /// Ranges for so many rows each, but not more of them than `most`.
    pub(super) fn of(rows: &Rows, in_range: usize, most_ranges: usize) -> Self {
        let ends = each_block(rows.len(), |block| {
            block
                .filter_map(|i| rows.ages(i))
                .fold((f64::INFINITY, 0.0_f64), |(a, b), [low, ..]| (a.min(low), b.max(low)))
        });
        let (least, most) = ends.into_iter().fold((f64::INFINITY, 0.0_f64), |(a, b), (c, d)| (a.min(c), b.max(d)));
        let count = (rows.len() / in_range).clamp(1, most_ranges);
        Self { least, per_hour: count as f64 / (most - least), count }
    }

    /// The range of an age; a greater age never lies in an earlier one. Where all ages are one, that is the first.
    #[inline]
    pub(super) fn holding(&self, age: f64) -> usize {
        (((age - self.least) * self.per_hour) as usize).min(self.count - 1)
    }
}

/// Counts rows of whole hours, exact or right-censored, in a table instead of sorting them. `None` where that does not fit.
/// Whole counts add up to the same in any order, so the number of parts may depend on the threads.
pub(super) fn counted(rows: &Rows, facts: &Facts, groups: &[Group], place: &[u32]) -> Option<Tally> {
    let hours = facts.plain_to?.checked_add(1)?;
    let (n, endings) = (rows.len(), Ending::ALL.len());
    let inner = groups.len().checked_mul(endings)?;
    let cells = hours.checked_mul(2)?.checked_mul(inner as u64)?;
    if cells > MOST_CELLS || cells > 4 * n as u64 {
        return None;
    }
    let parts = rayon::current_num_threads().clamp(1, 8);
    let tables: Vec<Vec<u64>> = (0..parts)
        .into_par_iter()
        .map(|part| {
            let mut table = vec![0_u64; cells as usize];
            let range = part * n / parts..(part + 1) * n / parts;
            if let Some(ages) = rows.bare(range.clone()) {
                let group = place.first().map_or(0, |&g| g as usize) * endings;
                let cell_of =
                    [usize::from(Ending::Unknown.code()) + group, usize::from(Ending::Running.code()) + group + inner];
                for (low, high) in ages {
                    let cell = low as usize * 2 * inner + if high == f64::INFINITY { cell_of[1] } else { cell_of[0] };
                    if let Some(count) = table.get_mut(cell) {
                        *count += 1;
                    }
                }
                return table;
            }
            for row in range.filter_map(|i| rows.row(i)) {
                let kind = usize::from(row.high == f64::INFINITY);
                let group = place.get(row.group as usize).map_or(0, |&g| g as usize);
                let cell = (row.low as usize * 2 + kind) * inner + group * endings + usize::from(row.ending);
                if let Some(count) = table.get_mut(cell) {
                    *count += row.count;
                }
            }
            table
        })
        .collect();
    let mut out = Columns::new(0);
    for cell in 0..cells as usize {
        let count = tables.iter().filter_map(|t| t.get(cell)).sum();
        if count > 0 {
            let (hour_kind, rest) = (cell / inner, cell % inner);
            let low = (hour_kind / 2) as f64;
            let high = if hour_kind % 2 == 0 { low } else { f64::INFINITY };
            let (group, ending) = ((rest / endings) as u32, (rest % endings) as u16);
            out.push(Row { low, high, entry: 0.0, upper: f64::INFINITY, group, ending, count });
        }
    }
    Some(out.finish(groups.to_vec()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 50,000 rows with many ties; one age stands far out, so that all the others share one range.
    fn rows(far: f64, late: bool) -> Rows {
        let n = 50_000_u64;
        let mut rows = Rows {
            groups: vec![Group { stratum: "b".into(), ..Group::default() }, Group::default()],
            ..Rows::default()
        };
        let (mut entry, mut group) = (Vec::new(), Vec::new());
        for i in 0..n {
            let mixed = i.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 20;
            let low = if i == 7 { far } else { (mixed % 5_003) as f64 / 4.0 + 1.0 };
            rows.low.push(low);
            rows.high.push(if mixed % 3 == 0 { low } else { f64::INFINITY });
            entry.push(if mixed % 5 == 0 { 0.5 } else { 0.0 });
            group.push((mixed % 2) as u32);
        }
        (rows.entry, rows.group) = if late { (Some(entry), Some(group)) } else { (None, None) };
        if !late {
            rows.groups.clear();
        }
        rows
    }

    #[test]
    fn ranges_of_ages_give_the_order_of_one_sort_for_any_number_of_threads() {
        for (far, late) in [(1300.0, false), (1300.0, true), (1e15, false), (1e15, true)] {
            let rows = rows(far, late);
            let place = [1, 0];
            let mut all: Vec<Row> = (0..rows.len()).filter_map(|i| rows.row(i)).collect();
            for row in &mut all {
                row.group = if late { 1 - row.group } else { 0 };
            }
            all.sort_by(Row::order);
            let mut expected = Columns::new(0);
            for row in all {
                expected.push(row);
            }
            let (tally, _) = Tally::from_rows(&rows).unwrap();
            assert_eq!(expected.finish(tally.groups().to_vec()), tally);
            let place = if late { &place[..] } else { &[0] };
            for threads in [1, 2, 3, 20] {
                let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
                let facts = rows.check().unwrap();
                let here = pool.install(|| sorted(&rows, &facts, tally.groups().to_vec(), place));
                assert_eq!(here, tally, "{threads} threads");
            }
        }
    }
}
