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
    // Each lane by name: a loop over the eight is left as one where less is inlined, and then costs several times as much.
    let [mut a0, mut a1, mut a2, mut a3, mut a4, mut a5, mut a6, mut a7] = [0.0; 8];
    for ([x0, x1, x2, x3, x4, x5, x6, x7], [y0, y1, y2, y3, y4, y5, y6, y7]) in a.iter().zip(b) {
        a0 += x0 * y0;
        a1 += x1 * y1;
        a2 += x2 * y2;
        a3 += x3 * y3;
        a4 += x4 * y4;
        a5 += x5 * y5;
        a6 += x6 * y6;
        a7 += x7 * y7;
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    ((a0 + a4) + (a1 + a5)) + ((a2 + a6) + (a3 + a7)) + rest
}

/// Sum of products of one list from its start with another from its end, as far as the shorter goes.
pub(crate) fn mirrored(forward: &[f64], backward: &[f64]) -> f64 {
    let n = forward.len().min(backward.len());
    let (forward, backward) = (forward.get(..n).unwrap_or(&[]), backward.get(backward.len() - n..).unwrap_or(&[]));
    if n < SHORT { mirrored_lanes(forward, backward) } else { Arch::new().dispatch(Mirrored(forward, backward)) }
}

struct Mirrored<'a>(&'a [f64], &'a [f64]);

impl WithSimd for Mirrored<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, _: S) -> f64 {
        mirrored_lanes(self.0, self.1)
    }
}

#[inline(always)]
fn mirrored_lanes(forward: &[f64], backward: &[f64]) -> f64 {
    let (forward, rest) = forward.as_chunks::<8>();
    let (left, backward) = backward.as_rchunks::<8>();
    let [mut a, mut b, mut c, mut d, mut e, mut f, mut g, mut h] = [0.0; 8];
    for ([f0, f1, f2, f3, f4, f5, f6, f7], [b7, b6, b5, b4, b3, b2, b1, b0]) in
        forward.iter().zip(backward.iter().rev())
    {
        a += f0 * b0;
        b += f1 * b1;
        c += f2 * b2;
        d += f3 * b3;
        e += f4 * b4;
        f += f5 * b5;
        g += f6 * b6;
        h += f7 * b7;
    }
    let tail: f64 = rest.iter().zip(left.iter().rev()).map(|(f, b)| f * b).sum();
    ((a + b) + (c + d)) + ((e + f) + (g + h)) + tail
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

#[cfg(test)]
mod tests {
    use super::{mirrored, product};

    #[test]
    fn a_list_from_its_start_meets_the_end_of_another_as_far_as_the_shorter_goes() {
        let list = |n: usize, seed: f64| (0..n).map(|i| (seed * (i + 1) as f64).sin()).collect::<Vec<f64>>();
        for n in [0, 1, 7, 8, 9, 23, 24, 25, 64, 100] {
            for m in [n, n + 1, n + 13] {
                let (short, long) = (list(n, 0.7), list(m, 1.3));
                let turned: Vec<f64> = long.iter().rev().copied().collect();
                let plain: f64 = short.iter().zip(&turned).map(|(a, b)| a * b).sum();
                assert!((mirrored(&short, &long) - plain).abs() < 1e-13, "{n} {m}");
                assert!(
                    (mirrored(&turned, &list(n, 0.7))
                        - product(&turned[..n], &list(n, 0.7).into_iter().rev().collect::<Vec<_>>()))
                    .abs()
                        < 1e-13
                );
            }
        }
    }
}
