//! Exponentials and logarithms of many numbers at once, in whatever vectors the processor has.
//!
//! Everything is plain arithmetic without branches, spelt as loops that the compiler turns into vectors; no fused
//! multiply-add, so the bytes do not depend on the width of the vectors.

use pulp::{Arch, Simd, WithSimd};

use crate::base::math::sum::{self, LANES};

/// Numbers worked on at once: enough to keep vectors busy, few enough to stay in the nearest cache.
const STRIP: usize = 256;

/// The vectors of this processor.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lanes(Arch);

impl Lanes {
    pub(super) fn new() -> Self {
        Self(Arch::new())
    }

    /// Sums of w e^(k y), w y e^(k y), w y^2 e^(k y) over one block.
    pub(super) fn power_sums(self, k: f64, y: &[f64], w: &[f64]) -> [f64; 3] {
        self.0.dispatch(Sums { power: Power(k), y, w })
    }

    /// The same where e^(k y) is known.
    pub(super) fn known_sums(self, e: &[f64], y: &[f64], w: &[f64]) -> [f64; 3] {
        self.0.dispatch(Sums { power: Known(e), y, w })
    }

    /// Puts e^(k y) into `out`.
    pub(super) fn powers(self, k: f64, y: &[f64], out: &mut [f64]) {
        self.0.dispatch(Exp { k, y, out });
    }

    /// Sums of w and w y over the failures of one block.
    pub(super) fn failure_sums(self, failed: &[bool], y: &[f64], w: &[f64]) -> [f64; 2] {
        self.0.dispatch(FailureSums { failed, y, w })
    }

    /// Puts ln age - reference into `out`; ages are finite and above 0.
    pub(super) fn ln_less(self, ages: &[f64], reference: f64, out: &mut [f64]) {
        self.0.dispatch(LnLess { ages, reference, out });
    }

    /// Replaces finite numbers above 0 by minus their logarithm.
    pub(super) fn minus_ln(self, numbers: &mut [f64]) {
        self.0.dispatch(MinusLn(numbers));
    }
}

/// Puts w e^(k y) of the rows from `from` on into `out`. A trait, as a closure would not be seen through.
trait Weighted: Copy {
    fn weighted(self, from: usize, y: &[f64], w: &[f64], out: &mut [f64]);
}

#[derive(Clone, Copy)]
struct Power(f64);

impl Weighted for Power {
    #[allow(clippy::inline_always)] // the dispatch must see through it to vectorise
    #[inline(always)]
    fn weighted(self, _from: usize, y: &[f64], w: &[f64], out: &mut [f64]) {
        for ((out, y), w) in out.iter_mut().zip(y).zip(w) {
            *out = w * exp(self.0 * y);
        }
    }
}

#[derive(Clone, Copy)]
struct Known<'b>(&'b [f64]);

impl Weighted for Known<'_> {
    #[allow(clippy::inline_always)] // as above
    #[inline(always)]
    fn weighted(self, from: usize, y: &[f64], w: &[f64], out: &mut [f64]) {
        for ((out, e), w) in out.iter_mut().zip(&self.0[from..from + y.len()]).zip(w) {
            *out = w * e;
        }
    }
}

struct Sums<'b, P> {
    power: P,
    y: &'b [f64],
    w: &'b [f64],
}

impl<P: Weighted> WithSimd for Sums<'_, P> {
    type Output = [f64; 3];

    #[allow(clippy::inline_always)] // as above
    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) -> [f64; 3] {
        sums(self.power, self.y, self.w)
    }
}

struct LnLess<'b> {
    ages: &'b [f64],
    reference: f64,
    out: &'b mut [f64],
}

impl WithSimd for LnLess<'_> {
    type Output = ();

    #[allow(clippy::inline_always)] // as above
    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        for (o, age) in self.out.iter_mut().zip(self.ages) {
            *o = ln(*age) - self.reference;
        }
    }
}

struct Exp<'b> {
    k: f64,
    y: &'b [f64],
    out: &'b mut [f64],
}

impl WithSimd for Exp<'_> {
    type Output = ();

    #[allow(clippy::inline_always)] // as above
    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        for (out, y) in self.out.iter_mut().zip(self.y) {
            *out = exp(self.k * y);
        }
    }
}

struct FailureSums<'b> {
    failed: &'b [bool],
    y: &'b [f64],
    w: &'b [f64],
}

impl WithSimd for FailureSums<'_> {
    type Output = [f64; 2];

    #[allow(clippy::inline_always)] // as above
    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) -> [f64; 2] {
        let mut s = [[0.0; LANES]; 2];
        let (failed, failed_rest) = self.failed.as_chunks::<LANES>();
        let (ys, y_rest) = self.y.as_chunks::<LANES>();
        let (ws, w_rest) = self.w.as_chunks::<LANES>();
        for ((failed, y), w) in failed.iter().zip(ys).zip(ws) {
            add_failures(failed, y, w, &mut s);
        }
        if !y_rest.is_empty() {
            let (mut failed, mut y, mut w) = ([false; LANES], [0.0; LANES], [0.0; LANES]);
            failed[..failed_rest.len()].copy_from_slice(failed_rest);
            y[..y_rest.len()].copy_from_slice(y_rest);
            w[..w_rest.len()].copy_from_slice(w_rest);
            add_failures(&failed, &y, &w, &mut s);
        }
        s.map(|lane| sum::join(&lane))
    }
}

struct MinusLn<'b>(&'b mut [f64]);

impl WithSimd for MinusLn<'_> {
    type Output = ();

    #[allow(clippy::inline_always)] // as above
    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        for x in self.0 {
            *x = -ln(*x);
        }
    }
}

/// Sums of e, e y and e y^2 over the rows, e = w e^(k y).
#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn sums(power: impl Weighted, y: &[f64], w: &[f64]) -> [f64; 3] {
    let mut s = [[0.0f64; LANES]; 3];
    let mut strip = [0.0f64; STRIP];
    // Two loops, not one: the first has no sum to carry, so it becomes vectors; so do the eight lanes of the second.
    for (i, (y, w)) in y.chunks(STRIP).zip(w.chunks(STRIP)).enumerate() {
        let e = &mut strip[..y.len()];
        power.weighted(i * STRIP, y, w, e);
        let (es, e_rest) = e.as_chunks::<LANES>();
        let (ys, y_rest) = y.as_chunks::<LANES>();
        for (e, y) in es.iter().zip(ys) {
            add(e, y, &mut s);
        }
        if !y_rest.is_empty() {
            let (mut e, mut y) = ([0.0; LANES], [0.0; LANES]);
            e[..e_rest.len()].copy_from_slice(e_rest);
            y[..y_rest.len()].copy_from_slice(y_rest);
            add(&e, &y, &mut s);
        }
    }
    s.map(|lane| sum::join(&lane))
}

#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn add(e: &[f64; LANES], y: &[f64; LANES], s: &mut [[f64; LANES]; 3]) {
    for i in 0..LANES {
        let e1 = e[i] * y[i];
        s[0][i] += e[i];
        s[1][i] += e1;
        s[2][i] += e1 * y[i];
    }
}

#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn add_failures(failed: &[bool; LANES], y: &[f64; LANES], w: &[f64; LANES], s: &mut [[f64; LANES]; 2]) {
    for i in 0..LANES {
        let w = if failed[i] { w[i] } else { 0.0 };
        s[0][i] += w;
        s[1][i] += w * y[i];
    }
}

const LN_2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;

/// exp for arguments up to 700; 0 below -708. Error below 2 units in the last place.
#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn exp(x: f64) -> f64 {
    const SHIFT: f64 = 6_755_399_441_055_744.0; // 1.5 x 2^52: adding it rounds to a whole number
    let clamped = if x > -708.0 { x } else { -708.0 };
    let shifted = clamped * std::f64::consts::LOG2_E + SHIFT;
    let n = shifted - SHIFT;
    let r = (clamped - n * LN_2_HIGH) - n * LN_2_LOW;
    // Taylor to degree 13 on |r| <= ln 2 / 2, remainder 4e-18.
    let mut p = 1.0 / 6_227_020_800.0;
    p = p * r + 1.0 / 479_001_600.0;
    p = p * r + 1.0 / 39_916_800.0;
    p = p * r + 1.0 / 3_628_800.0;
    p = p * r + 1.0 / 362_880.0;
    p = p * r + 1.0 / 40_320.0;
    p = p * r + 1.0 / 5_040.0;
    p = p * r + 1.0 / 720.0;
    p = p * r + 1.0 / 120.0;
    p = p * r + 1.0 / 24.0;
    p = p * r + 1.0 / 6.0;
    p = p * r + 0.5;
    p = p * r + 1.0;
    p = p * r + 1.0;
    let power = f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52);
    // A mask, as a branch would keep the loop from becoming vectors.
    let keep = u64::from(x >= -708.0).wrapping_neg();
    f64::from_bits((p * power).to_bits() & keep)
}

/// ln of a finite number above 0. Error below 2 units in the last place.
#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn ln(x: f64) -> f64 {
    const TWO_52: u64 = 0x4330_0000_0000_0000; // bits of 2^52: a whole number in its low bits reads as a float
    // Numbers below the normal ones are lifted by 2^54 first.
    let small = x < f64::MIN_POSITIVE;
    let (lifted, less) = (if small { x * 18_014_398_509_481_984.0 } else { x }, if small { 54.0 } else { 0.0 });
    // x = 2^n m with m from sqrt(1/2) to sqrt(2).
    let bits = lifted.to_bits().wrapping_add(0x3FF0_0000_0000_0000 - 0x3FE6_A09E_667F_3BCD);
    let n = f64::from_bits((bits >> 52) | TWO_52) - f64::from_bits(TWO_52) - 1023.0 - less;
    let m = f64::from_bits((bits & 0x000F_FFFF_FFFF_FFFF).wrapping_add(0x3FE6_A09E_667F_3BCD));
    // ln m = 2 artanh s, s = (m - 1) / (m + 1): series in s^2 to s^21 on |s| <= 0.1716, remainder 2e-18.
    let f = m - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    let mut p = 2.0 / 21.0;
    p = p * z + 2.0 / 19.0;
    p = p * z + 2.0 / 17.0;
    p = p * z + 2.0 / 15.0;
    p = p * z + 2.0 / 13.0;
    p = p * z + 2.0 / 11.0;
    p = p * z + 2.0 / 9.0;
    p = p * z + 2.0 / 7.0;
    p = p * z + 2.0 / 5.0;
    p = p * z + 2.0 / 3.0;
    // 2 s = f - s f, written so that f, the leading term, stays exact.
    let half = 0.5 * f * f;
    n * LN_2_HIGH - ((half - (s * (half + z * p) + n * LN_2_LOW)) - f)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exp_is_right_to_the_last_places() {
        let mut worst = 0.0f64;
        for i in 0..200_000 {
            let x = -707.0 + f64::from(i) * 0.007;
            worst = worst.max((exp(x) / x.exp() - 1.0).abs());
        }
        assert!(worst < 5e-16, "{worst}");
        assert_eq!(exp(-800.0), 0.0);
        assert_eq!(exp(0.0), 1.0);
    }

    #[test]
    fn ln_is_right_to_the_last_places() {
        let mut worst = 0.0f64;
        let near_one = (0..200_000).map(|i| 0.5 + f64::from(i) * 1e-5);
        let anywhere = (0..200_000).map(|i| ((f64::from(i) - 100_000.0) * 0.007).exp());
        let powers = (-1074..1024).map(|n| 2f64.powi(n));
        for x in near_one.chain(anywhere).chain(powers).filter(|x| *x > 0.0 && *x < f64::INFINITY && *x != 1.0) {
            worst = worst.max((ln(x) / x.ln() - 1.0).abs());
        }
        assert!(worst < 5e-16, "{worst}");
        assert_eq!(ln(1.0), 0.0);
    }

    #[test]
    fn vector_and_scalar_path_give_the_same_bytes() {
        let y: Vec<f64> = (0..4091).map(|i| -f64::from(i) / 500.0).collect();
        let w: Vec<f64> = (0..4091).map(|i| 1.0 + f64::from(i % 7)).collect();
        let vector = Lanes::new().power_sums(2.3, &y, &w);
        assert_eq!(sums(Power(2.3), &y, &w).map(f64::to_bits), vector.map(f64::to_bits));
        let mut powers = vec![0.0; y.len()];
        Lanes::new().powers(2.3, &y, &mut powers);
        assert_eq!(Lanes::new().known_sums(&powers, &y, &w).map(f64::to_bits), vector.map(f64::to_bits));
        let failed: Vec<bool> = w.iter().map(|w| *w > 3.0).collect();
        let kept: Vec<f64> = w.iter().map(|w| if *w > 3.0 { *w } else { 0.0 }).collect();
        let [weight, weighted, _] = sums(Power(0.0), &y, &kept);
        assert_eq!(Lanes::new().failure_sums(&failed, &y, &w), [weight, weighted]);
        let mut logs = vec![0.0; w.len()];
        Lanes::new().ln_less(&w, 0.5, &mut logs);
        assert!(w.iter().zip(&logs).all(|(w, l)| (ln(*w) - 0.5).to_bits() == l.to_bits()));
        logs.copy_from_slice(&w);
        Lanes::new().minus_ln(&mut logs);
        assert!(w.iter().zip(&logs).all(|(w, l)| (-ln(*w)).to_bits() == l.to_bits()));
    }
}
