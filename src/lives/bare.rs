//! Rows of ages and nothing else to canonical order: each row is one whole number whose order is that of rows. The
//! numbers are counted into ranges of ages, sorted range by range in the nearest cache, and written to columns once.

use rayon::prelude::*;

use super::arrange::{MOST_SHARES, Ranges, SHARED_FROM};
use super::rows::Rows;
use super::tally::{Group, Tally};
use crate::records::Ending;

/// Rows that a range of ages holds on average.
const IN_RANGE: usize = 1_024;
/// Most ranges of ages.
const MOST_RANGES: usize = 1 << 12;

/// Ages are 0 or above, so the order of their bits is the order of the numbers and the highest bit is free. A failure
/// comes before a right-censored row of the same age.
fn key(low: f64, high: f64) -> u64 {
    (low.to_bits() << 1) | u64::from(high == f64::INFINITY)
}

/// The columns of the rows of one range.
struct Place<'a> {
    low: &'a mut [f64],
    high: &'a mut [f64],
    ending: &'a mut [u16],
    count: &'a mut [u64],
}

/// Exact and right-censored rows in canonical order, equal ones collapsed; `None` where a row may say more than ages.
///
/// Which rows a thread takes depends on the threads; the order of the numbers does not.
pub(super) fn sorted(rows: &Rows, groups: &[Group], place: &[u32]) -> Option<Tally> {
    let n = rows.bare(0..0).map(|_| rows.len())?;
    let ranges = Ranges::of(rows, IN_RANGE, MOST_RANGES);
    let shares = if n < SHARED_FROM { 1 } else { rayon::current_num_threads().clamp(1, MOST_SHARES) };
    let share = |s: usize| {
        let ages = rows.bare(s * n / shares..(s + 1) * n / shares);
        ages.into_iter().flatten().map(|(low, high)| (ranges.holding(low), key(low, high)))
    };
    let sizes: Vec<Vec<usize>> = (0..shares)
        .into_par_iter()
        .map(|s| {
            let mut sizes = vec![0; ranges.count];
            for (range, _) in share(s) {
                if let Some(size) = sizes.get_mut(range) {
                    *size += 1;
                }
            }
            sizes
        })
        .collect();
    let size = |range: usize| sizes.iter().filter_map(move |s| s.get(range).copied());
    let mut keys = vec![0_u64; n];
    // Room for the rows of each share in each range.
    let mut rooms: Vec<Vec<&mut [u64]>> = (0..shares).map(|_| Vec::with_capacity(ranges.count)).collect();
    let mut left = keys.as_mut_slice();
    for range in 0..ranges.count {
        for (room, size) in rooms.iter_mut().zip(size(range)) {
            room.push(left.split_off_mut(..size).unwrap_or_default());
        }
    }
    rooms.into_par_iter().enumerate().for_each(|(s, mut room)| {
        for (range, key) in share(s) {
            if let Some(slot) = room.get_mut(range).and_then(|room| room.split_off_first_mut()) {
                *slot = key;
            }
        }
    });
    let mut left = keys.as_mut_slice();
    let mut parts: Vec<&mut [u64]> =
        (0..ranges.count).map(|range| left.split_off_mut(..size(range).sum::<usize>()).unwrap_or_default()).collect();
    let distinct: Vec<usize> = parts
        .par_iter_mut()
        .map(|keys| {
            if keys.len() > SHARED_FROM {
                keys.par_sort_unstable();
            } else {
                keys.sort_unstable();
            }
            keys.chunk_by(u64::eq).count()
        })
        .collect();
    let all = distinct.iter().sum();
    let (mut low, mut high, mut ending, mut count) = (vec![0.0; all], vec![0.0; all], vec![0; all], vec![0; all]);
    let (mut lows, mut highs) = (low.as_mut_slice(), high.as_mut_slice());
    let (mut endings, mut counts) = (ending.as_mut_slice(), count.as_mut_slice());
    let places: Vec<Place<'_>> = distinct
        .iter()
        .map(|&n| Place {
            low: lows.split_off_mut(..n).unwrap_or_default(),
            high: highs.split_off_mut(..n).unwrap_or_default(),
            ending: endings.split_off_mut(..n).unwrap_or_default(),
            count: counts.split_off_mut(..n).unwrap_or_default(),
        })
        .collect();
    parts.into_par_iter().zip(places).for_each(|(keys, place)| {
        let columns = place.low.iter_mut().zip(place.high).zip(place.ending).zip(place.count);
        for (same, (((low, high), ending), count)) in keys.chunk_by(u64::eq).zip(columns) {
            let key = same.first().copied().unwrap_or(0);
            *low = f64::from_bits(key >> 1);
            (*high, *ending) = match key & 1 {
                0 => (*low, Ending::Unknown.code()),
                _ => (f64::INFINITY, Ending::Running.code()),
            };
            *count = same.len() as u64;
        }
    });
    let group = vec![place.first().copied().unwrap_or(0); all];
    Some(Tally { low, high, group, ending, count, groups: groups.to_vec(), ..Tally::default() })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::lives::order::Columns;
    use crate::lives::rows::Row;

    /// One sort of whole rows, equal neighbours joined.
    fn by_one_sort(rows: &Rows, groups: &[Group]) -> Tally {
        let mut all: Vec<Row> = (0..rows.len()).filter_map(|i| rows.row(i)).collect();
        all.sort_by(Row::order);
        let mut columns = Columns::new(0);
        for row in all {
            columns.push(row);
        }
        columns.finish(groups.to_vec())
    }

    /// Every bit of a tally, so that -0.0 differs from 0.0.
    fn bits(tally: &Tally) -> (Vec<[u64; 2]>, Tally) {
        let ages = tally.low.iter().zip(&tally.high).map(|(a, b)| [a.to_bits(), b.to_bits()]).collect();
        (ages, tally.clone())
    }

    fn holds(ages: &[(f64, bool)]) {
        let high = |&(low, failed): &(f64, bool)| if failed { low } else { f64::INFINITY };
        let (low, high) = (ages.iter().map(|a| a.0).collect(), ages.iter().map(high).collect());
        let rows = Rows { low, high, ..Rows::default() };
        let groups = [Group::default()];
        let expected = bits(&by_one_sort(&rows, &groups));
        for threads in [1, 2, 3, 20] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            let here = pool.install(|| sorted(&rows, &groups, &[0])).unwrap();
            assert_eq!(bits(&here), expected, "{threads} threads");
        }
    }

    fn age() -> impl Strategy<Value = f64> {
        let bits = prop_oneof![0..40_u64, 0x3FF0_0000_0000_0000..0x3FF0_0000_0000_0020_u64];
        prop_oneof![
            1 => prop::sample::select(vec![0.0, -0.0, f64::MIN_POSITIVE, 1e300]),
            4 => bits.prop_map(f64::from_bits),
            4 => (0..30_u32).prop_map(|n| f64::from(n) / 7.0),
            4 => 0.0..5_000.0_f64,
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn sorted_by_ranges_is_sorted_at_once(ages in prop::collection::vec((age(), any::<bool>()), 0..300)) {
            holds(&ages);
        }
    }

    #[test]
    fn many_rows_with_ties_and_one_far_out_come_in_the_same_order() {
        for far in [0.0, 1e15] {
            let mixed = |i: u64| i.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 20;
            let age =
                |i: u64| if i.is_multiple_of(2) { (mixed(i) % 5_003) as f64 / 4.0 } else { mixed(i) as f64 / 1e9 };
            let mut ages: Vec<(f64, bool)> = (0..100_000).map(|i| (age(i), mixed(i) % 3 == 0)).collect();
            ages[7].0 = far;
            holds(&ages);
        }
    }
}
