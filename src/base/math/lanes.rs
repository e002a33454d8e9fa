//! Sums of products of many numbers at once, in whatever vectors the processor has.
//!
//! Plain arithmetic in a fixed order without fused multiply-add, so that the bytes do not depend on the width of the vectors.

// What is not inlined is not compiled for the vectors of the processor.
#![allow(clippy::inline_always)]

use pulp::{Arch, Simd, WithSimd};

/// Below this length a plain loop is as fast.
const SHORT: usize = 24;

/// Sum of products, as far as the shorter list goes.
pub(crate) fn product(a: &[f64], b: &[f64]) -> f64 {
    if a.len().min(b.len()) < SHORT { lanes(a, b) } else { Arch::new().dispatch(Product(a, b)) }
}

struct Product<'a>(&'a [f64], &'a [f64]);

impl WithSimd for Product<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> f64 {
        lanes(self.0, self.1)
    }
}

#[inline(always)]
fn lanes(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let (a, b) = (a.get(..n).unwrap_or(&[]), b.get(..n).unwrap_or(&[]));
    let ((a, a_rest), (b, b_rest)) = (a.as_chunks::<8>(), b.as_chunks::<8>());
    let mut lanes = [0.0; 8];
    for (a, b) in a.iter().zip(b) {
        for ((lane, x), y) in lanes.iter_mut().zip(a).zip(b) {
            *lane += x * y;
        }
    }
    let [a0, a1, a2, a3, a4, a5, a6, a7] = lanes;
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    ((a0 + a4) + (a1 + a5)) + ((a2 + a6) + (a3 + a7)) + rest
}

/// Probabilities of the sum of two independent whole numbers.
///
/// # Formula
/// ```text
/// sum_k = sum over i of a_i b_(k - i)
/// ```
pub(crate) fn convolved(a: &[f64], b: &[f64]) -> Vec<f64> {
    let (short, long) = if a.len() <= b.len() { (a, b) } else { (b, a) };
    let mut sum = vec![0.0; (short.len() + long.len()).saturating_sub(1)];
    if long.len() < SHORT {
        add_all(short, long, &mut sum);
    } else {
        Arch::new().dispatch(Convolved { short, long, sum: &mut sum });
    }
    sum
}

struct Convolved<'a> {
    short: &'a [f64],
    long: &'a [f64],
    sum: &'a mut [f64],
}

impl WithSimd for Convolved<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) {
        // Four entries of the shorter at once, so that each sum is fetched and put back once for four products.
        let (fours, rest) = self.short.as_chunks::<4>();
        let long = self.long;
        let n = long.len();
        let (ahead, [b2, b1, b0]) =
            (long.get(3..).unwrap_or(&[]), [2, 1, 0].map(|i| long.get(i..n - 3 + i).unwrap_or(&[])));
        for (i, four) in fours.iter().enumerate() {
            let [p0, p1, p2, p3] = *four;
            let out = self.sum.get_mut(4 * i..4 * i + n + 3).unwrap_or_default();
            let (head, out) = out.split_at_mut(3);
            let (inner, tail) = out.split_at_mut(n - 3);
            for ((((s, q0), q1), q2), q3) in inner.iter_mut().zip(ahead).zip(b2).zip(b1).zip(b0) {
                *s += ((p0 * q0 + p1 * q1) + p2 * q2) + p3 * q3;
            }
            // Where not all four meet an entry of the longer.
            let (first, last) = (long.first_chunk::<3>(), long.last_chunk::<3>());
            if let (Some([l0, l1, l2]), [h0, h1, h2]) = (first, head) {
                *h0 += p0 * l0;
                *h1 += p0 * l1 + p1 * l0;
                *h2 += (p0 * l2 + p1 * l1) + p2 * l0;
            }
            if let (Some([e0, e1, e2]), [t0, t1, t2]) = (last, tail) {
                *t0 += (p1 * e2 + p2 * e1) + p3 * e0;
                *t1 += p2 * e2 + p3 * e1;
                *t2 += p3 * e2;
            }
        }
        let done = 4 * fours.len();
        add_all(rest, long, self.sum.get_mut(done..).unwrap_or_default());
    }
}

#[inline(always)]
fn add_all(short: &[f64], long: &[f64], sum: &mut [f64]) {
    for (i, p) in short.iter().enumerate() {
        for (s, q) in sum.iter_mut().skip(i).zip(long) {
            *s += p * q;
        }
    }
}
