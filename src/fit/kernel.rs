//! The fused kernel of the power hazard (t / scale)^shape: three weighted sums over ages in one pass.
//!
//! For exact, right-censored and late-entry rows the Weibull log-likelihood, its gradient and its Hessian
//! need only the sums of w exp(k y), w y exp(k y), w y^2 exp(k y), y = ln age - reference. It equals the
//! general path to rounding and only changes speed.

use pulp::{Arch, Simd, WithSimd};

use super::newton::{Point, Surface};
use super::sample::{Evidence, Row, Sample};
use crate::base::error::Result;
use crate::base::math::sum::{self, LANES};
use crate::family::Order;

/// Ages of a simple sample in logarithms, with entries as rows of negative weight.
#[derive(Clone, Debug)]
pub(super) struct PowerRows {
    y: Vec<f64>,
    w: Vec<f64>,
    /// Row of the tally behind each entry term.
    entry_row: Vec<u32>,
    /// Rows that are failures.
    failure_row: Vec<u32>,
    reference: f64,
    failures: f64,
    /// Sum of w y over failures.
    y_failures: f64,
    arch: Arch,
}

impl PowerRows {
    /// The rows of a simple sample; none if it is not simple.
    pub(super) fn new(sample: &Sample) -> Option<Self> {
        if !sample.simple {
            return None;
        }
        let n = sample.tally.rows();
        let oldest = sample.tally.low().iter().fold(0.0, |m: f64, a| m.max(*a));
        if !(oldest > 0.0) {
            return None;
        }
        let reference = oldest.ln();
        let mut y = logs(sample.tally.low(), reference);
        let (mut entry_row, mut failure_row) = (Vec::new(), Vec::new());
        for i in 0..n {
            let Row { evidence, entry, .. } = sample.row(i);
            if entry > 0.0 {
                entry_row.push(i as u32);
                y.push(entry.ln() - reference);
            }
            if matches!(evidence, Evidence::Exact(_)) {
                failure_row.push(i as u32);
            }
        }
        let w = vec![0.0; y.len()];
        let mut rows =
            Self { y, w, entry_row, failure_row, reference, failures: 0.0, y_failures: 0.0, arch: Arch::new() };
        rows.reweight(sample.tally.low(), &sample.weights);
        Some(rows)
    }

    /// Puts in new weights, one per row of the tally.
    pub(super) fn reweight(&mut self, low: &[f64], weights: &[f64]) {
        for ((slot, weight), age) in self.w.iter_mut().zip(weights).zip(low) {
            // A lamp still burning at 0 hours says nothing.
            *slot = if *age > 0.0 { *weight } else { 0.0 };
        }
        let n = weights.len();
        for (slot, row) in self.w[n..].iter_mut().zip(&self.entry_row) {
            *slot = -weights[*row as usize];
        }
        let rows = &self.failure_row;
        [self.failures, self.y_failures] = sum::blocks(rows.len(), |range| {
            let mut lanes = [[0.0; LANES]; 2];
            for (step, row) in rows[range].iter().enumerate() {
                let (w, y) = (weights[*row as usize], self.y[*row as usize]);
                lanes[0][step % LANES] += w;
                lanes[1][step % LANES] += w * y;
            }
            lanes.map(|l| sum::join(&l))
        });
    }

    /// A start for the shape from about 4,000 rows taken evenly, for large samples.
    pub(super) fn thinned(&self) -> Option<Self> {
        let every = self.y.len() / sum::BLOCK;
        if every < 8 {
            return None;
        }
        let pick = |v: &[f64]| v.iter().step_by(every).copied().collect::<Vec<f64>>();
        let mut thin = Self { y: pick(&self.y), w: pick(&self.w), ..self.empty() };
        for row in &self.failure_row {
            let i = *row as usize;
            if i.is_multiple_of(every) {
                thin.failures += self.w[i];
                thin.y_failures += self.w[i] * self.y[i];
            }
        }
        Some(thin)
    }

    fn empty(&self) -> Self {
        Self {
            y: Vec::new(),
            w: Vec::new(),
            entry_row: Vec::new(),
            failure_row: Vec::new(),
            reference: self.reference,
            failures: 0.0,
            y_failures: 0.0,
            arch: self.arch,
        }
    }

    /// Sums of w e^(k y), w y e^(k y), w y^2 e^(k y).
    pub(super) fn sums(&self, k: f64) -> [f64; 3] {
        sum::blocks(self.y.len(), |rows| self.arch.dispatch(Block { k, y: &self.y[rows.clone()], w: &self.w[rows] }))
    }

    /// Log-likelihood with derivatives over (ln shape, ln scale).
    pub(super) fn at(&self, x: &[f64], out: &mut Point) {
        let &[b, c] = x else { return };
        let k = b.exp();
        self.assemble(b, k * (self.reference - c), self.sums(k), out);
    }

    /// The same from the sums; `a` = k (reference - ln scale).
    fn assemble(&self, b: f64, a: f64, [s0, s1, s2]: [f64; 3], out: &mut Point) {
        let (k, d, e) = (b.exp(), self.failures, a.exp());
        let f = k * self.y_failures + a * d;
        let e0 = e * s0;
        let e1 = e * (k * s1 + a * s0);
        let e2 = e * (k * k * s2 + 2.0 * a * k * s1 + a * a * s0);
        out.value = d * b - (self.y_failures + d * self.reference) + f - e0;
        out.gradient.copy_from_slice(&[d + f - e1, k * (e0 - d)]);
        out.hessian.copy_from_slice(&[f - e1 - e2, k * (e0 + e1 - d), -k * k * e0]);
    }

    /// The scale that maximises at a shape, as k (reference - ln scale).
    fn best_offset(&self, s0: f64) -> f64 {
        self.failures.ln() - s0.ln()
    }

    /// Coordinates from the best ln shape.
    pub(super) fn coordinates(&self, x: &[f64]) -> Vec<f64> {
        let &[b] = x else { return Vec::new() };
        let k = b.exp();
        let [s0, _, _] = self.sums(k);
        vec![b, self.reference - self.best_offset(s0) / k]
    }

    /// Coordinates and full point from the best ln shape.
    pub(super) fn finish(&self, b: f64) -> (Vec<f64>, Point) {
        let sums = self.sums(b.exp());
        let a = self.best_offset(sums[0]);
        let mut point = Point::new(2);
        self.assemble(b, a, sums, &mut point);
        (vec![b, self.reference - a / b.exp()], point)
    }
}

/// The profile over the scale: a function of ln shape alone.
impl Surface for PowerRows {
    fn width(&self) -> usize {
        1
    }

    fn at(&self, x: &[f64], _order: Order, out: &mut Point) -> Result<()> {
        let &[b] = x else { return Ok(()) };
        let (k, d) = (b.exp(), self.failures);
        let [s0, s1, s2] = self.sums(k);
        let (m1, m2) = (s1 / s0, s2 / s0);
        let g = k * (self.y_failures - d * m1);
        out.value = d * b + k * self.y_failures + d * self.best_offset(s0) - (self.y_failures + d * self.reference) - d;
        out.gradient.copy_from_slice(&[d + g]);
        out.hessian.copy_from_slice(&[g - d * k * k * (m2 - m1 * m1)]);
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        x.iter().all(|b| b.abs() < 12.0)
    }
}

/// ln age - reference, block by block; an age of 0, which says nothing, becomes 0.
fn logs(ages: &[f64], reference: f64) -> Vec<f64> {
    use rayon::prelude::*;
    let mut out = vec![0.0; ages.len()];
    out.par_chunks_mut(sum::BLOCK).zip(ages.par_chunks(sum::BLOCK)).for_each(|(out, ages)| {
        for (o, a) in out.iter_mut().zip(ages) {
            *o = if *a > 0.0 { a.ln() - reference } else { 0.0 };
        }
    });
    out
}

struct Block<'b> {
    k: f64,
    y: &'b [f64],
    w: &'b [f64],
}

impl WithSimd for Block<'_> {
    type Output = [f64; 3];

    // The same plain arithmetic whatever the vector width, so the bytes do not depend on it.
    #[allow(clippy::inline_always)] // the dispatch must see through it to vectorise
    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) -> [f64; 3] {
        block(self.k, self.y, self.w)
    }
}

#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn block(k: f64, y: &[f64], w: &[f64]) -> [f64; 3] {
    let mut s = [[0.0f64; LANES]; 3];
    let (ys, y_rest) = y.as_chunks::<LANES>();
    let (ws, w_rest) = w.as_chunks::<LANES>();
    for (y, w) in ys.iter().zip(ws) {
        lanes(k, y, w, &mut s);
    }
    if !y_rest.is_empty() {
        let (mut y, mut w) = ([0.0; LANES], [0.0; LANES]);
        y[..y_rest.len()].copy_from_slice(y_rest);
        w[..w_rest.len()].copy_from_slice(w_rest);
        lanes(k, &y, &w, &mut s);
    }
    s.map(|lane| sum::join(&lane))
}

#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn lanes(k: f64, y: &[f64; LANES], w: &[f64; LANES], s: &mut [[f64; LANES]; 3]) {
    for i in 0..LANES {
        let e0 = w[i] * exp(k * y[i]);
        let e1 = e0 * y[i];
        s[0][i] += e0;
        s[1][i] += e1;
        s[2][i] += e1 * y[i];
    }
}

/// exp for arguments up to 700; 0 below -708. Branch-free, so that it vectorises; error below 2 units in the last place.
#[allow(clippy::inline_always)] // as above
#[inline(always)]
fn exp(x: f64) -> f64 {
    const SHIFT: f64 = 6_755_399_441_055_744.0; // 1.5 x 2^52: adding it rounds to a whole number
    const LN_2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let clamped = x.max(-708.0);
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
    if x < -708.0 { 0.0 } else { p * power }
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
    fn kernel_equals_the_general_path_anywhere() {
        use super::super::likelihood::Likelihood;
        use crate::family::WeibullFamily;
        use crate::lives::{Rows, Tally};
        let low: Vec<f64> = (1..9000).map(|i| 10.0 + f64::from(i * 7 % 4001)).collect();
        let high = low.iter().map(|t| if t % 3.0 == 0.0 { *t } else { f64::INFINITY }).collect();
        let entry = Some(low.iter().map(|t| if t % 2.0 == 0.0 { t / 3.0 } else { 0.0 }).collect());
        let tally = Tally::from_rows(&Rows { low, high, entry, ..Rows::default() }).unwrap().0;
        let sample = Sample::new(&tally, None, None).unwrap();
        let rows = PowerRows::new(&sample).unwrap();
        for x in [[0.0, 7.0], [0.9, 8.1], [-0.7, 6.0], [1.6, 8.3]] {
            let (mut fast, mut slow) = (Point::new(2), Point::new(2));
            rows.at(&x, &mut fast);
            Likelihood { family: &WeibullFamily, sample: &sample }.at(&x, Order::Hessian, &mut slow).unwrap();
            let size = slow.value.abs() + slow.hessian.iter().fold(0.0, |m: f64, h| m.max(h.abs()));
            assert!((fast.value - slow.value).abs() < 1e-12 * slow.value.abs());
            for (a, b) in fast.gradient.iter().chain(&fast.hessian).zip(slow.gradient.iter().chain(&slow.hessian)) {
                assert!((a - b).abs() < 1e-12 * size, "{x:?} {a} {b}");
            }
        }
    }

    #[test]
    fn vector_and_scalar_path_give_the_same_bytes() {
        let y: Vec<f64> = (0..4096).map(|i| -f64::from(i) / 500.0).collect();
        let w: Vec<f64> = (0..4096).map(|i| 1.0 + f64::from(i % 7)).collect();
        let scalar = block(2.3, &y, &w);
        let vector = Arch::new().dispatch(Block { k: 2.3, y: &y, w: &w });
        assert_eq!(scalar.map(f64::to_bits), vector.map(f64::to_bits));
    }
}
