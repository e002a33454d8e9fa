//! Repeatable sums: fixed blocks, eight fixed lanes inside each, block results added pairwise in
//! index order. The same bytes come out for any number of threads and any vector width.

use std::ops::Range;

use rayon::prelude::*;

/// Rows of one block. Fixed: changing it changes the last digits of every result.
pub const BLOCK: usize = 4096;
/// Running sums inside a block.
pub const LANES: usize = 8;
/// Below this many blocks one thread is faster than handing out work.
const PARALLEL_FROM: usize = 4;

/// Adds eight lanes pairwise.
#[inline]
pub fn join(lanes: &[f64; LANES]) -> f64 {
    ((lanes[0] + lanes[1]) + (lanes[2] + lanes[3])) + ((lanes[4] + lanes[5]) + (lanes[6] + lanes[7]))
}

/// Adds numbers pairwise: halves first, then their sums.
pub fn pairwise(values: &[f64]) -> f64 {
    match values {
        [] => 0.0,
        [a] => *a,
        [a, b] => a + b,
        many => {
            let (left, right) = many.split_at(many.len() / 2);
            pairwise(left) + pairwise(right)
        }
    }
}

/// The sum of numbers, block by block.
///
/// # Examples
/// ```
/// use relamp::base::math::sum::sum;
/// assert_eq!(sum(&vec![0.5; 10_000]), 5_000.0);
/// ```
pub fn sum(values: &[f64]) -> f64 {
    blocks::<1>(values.len(), |rows| {
        let mut lanes = [0.0; LANES];
        for chunk in values.get(rows).unwrap_or(&[]).chunks(LANES) {
            for (lane, value) in lanes.iter_mut().zip(chunk) {
                *lane += value;
            }
        }
        [join(&lanes)]
    })[0]
}

/// `K` sums over `0..n` at once: `work` gives the sums of one block of at most [`BLOCK`] rows, in
/// parallel when there are many blocks; the block results are added pairwise in index order.
pub fn blocks<const K: usize>(n: usize, work: impl Fn(Range<usize>) -> [f64; K] + Sync) -> [f64; K] {
    fold(&each_block(n, work))
}

/// Fills `out` block by block, in parallel when there are many: `work` gets the rows of a block and their places.
pub fn fill_blocks<T: Send>(out: &mut [T], work: impl Fn(Range<usize>, &mut [T]) + Sync) {
    let rows = |block: usize, part: &[T]| block * BLOCK..block * BLOCK + part.len();
    if out.len().div_ceil(BLOCK) < PARALLEL_FROM {
        out.chunks_mut(BLOCK).enumerate().for_each(|(block, part)| work(rows(block, part), part));
    } else {
        out.par_chunks_mut(BLOCK).enumerate().for_each(|(block, part)| work(rows(block, part), part));
    }
}

/// What `work` makes of each block of `0..n`, in order, in parallel when there are many.
pub fn each_block<T: Send>(n: usize, work: impl Fn(Range<usize>) -> T + Sync) -> Vec<T> {
    let count = n.div_ceil(BLOCK);
    let rows = |block: usize| block * BLOCK..((block + 1) * BLOCK).min(n);
    if count < PARALLEL_FROM {
        (0..count).map(|block| work(rows(block))).collect()
    } else {
        (0..count).into_par_iter().map(|block| work(rows(block))).collect()
    }
}

fn fold<const K: usize>(parts: &[[f64; K]]) -> [f64; K] {
    match parts {
        [] => [0.0; K],
        [one] => *one,
        many => {
            let (left, right) = many.split_at(many.len() / 2);
            let (mut a, b) = (fold(left), fold(right));
            for (x, y) in a.iter_mut().zip(b) {
                *x += y;
            }
            a
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn same_bytes_for_any_number_of_threads() {
        let values: Vec<f64> = (0..100_003).map(|i| f64::from(i).sin() / 7.0).collect();
        let sums: Vec<u64> = [1, 2, 3]
            .into_iter()
            .map(|n| {
                let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
                pool.install(|| sum(&values)).to_bits()
            })
            .collect();
        assert_eq!(sums[0], sums[1]);
        assert_eq!(sums[0], sums[2]);
        assert!((f64::from_bits(sums[0]) - values.iter().sum::<f64>()).abs() < 1e-9);
    }

    #[test]
    fn short_and_empty_sums() {
        assert_eq!(sum(&[]), 0.0);
        assert_eq!(sum(&[2.5]), 2.5);
        assert_eq!(pairwise(&[1.0, 2.0, 3.0]), 6.0);
    }
}
