//! The fused kernel of the power hazard (t / scale)^shape: three weighted sums over ages in one pass.
//!
//! For exact, right-censored and late-entry rows the Weibull log-likelihood, its gradient and its Hessian
//! need only the sums of w exp(k y), w y exp(k y), w y^2 exp(k y), y = ln age - reference. It equals the
//! general path to rounding and only changes speed.

use std::cell::Cell;
use std::sync::Arc;

use super::lanes::Lanes;
use super::newton::{Point, Surface};
use super::sample::{Evidence, Row, Sample};
use crate::base::error::Result;
use crate::base::math::sum;
use crate::family::Order;

/// Ages of a simple sample in logarithms, made once; the weights come apart from them.
#[derive(Clone, Debug)]
pub(super) struct PowerRows {
    /// Leading rows of the tally, in order of age, that are left out: a lamp still burning at 0 hours says nothing.
    skip: usize,
    y: Vec<f64>,
    /// Whether each row is a failure.
    failed: Vec<bool>,
    /// The same of ages at late entry, each a row of negative weight, and the row of the tally behind each.
    entry_y: Vec<f64>,
    entry_row: Vec<u32>,
    reference: f64,
    /// A shape k and e^(k y) of each row, where many searches start.
    known: Option<(f64, Vec<f64>)>,
    lanes: Lanes,
}

impl PowerRows {
    /// The rows of a simple sample; none if it is not simple.
    pub(super) fn new(sample: &Sample) -> Option<Self> {
        let low = sample.tally.low();
        let oldest = *low.last()?;
        if !sample.simple || !(oldest > 0.0) {
            return None;
        }
        let skip = low.partition_point(|age| !(*age > 0.0));
        let lanes = Lanes::new();
        let reference = oldest.ln();
        let ages = low.get(skip..).unwrap_or(&[]);
        let mut rows = Self {
            skip,
            y: vec![0.0; ages.len()],
            failed: vec![false; ages.len()],
            entry_y: Vec::new(),
            entry_row: Vec::new(),
            reference,
            known: None,
            lanes,
        };
        sum::fill_blocks(&mut rows.y, |block, y| lanes.ln_less(&ages[block], reference, y));
        sum::fill_blocks(&mut rows.failed, |block, failed| {
            for (failed, i) in failed.iter_mut().zip(block) {
                *failed = matches!(sample.row(skip + i).evidence, Evidence::Exact(_));
            }
        });
        if sample.tally.entry().is_some() {
            for i in skip..low.len() {
                let Row { entry, .. } = sample.row(i);
                if entry > 0.0 {
                    rows.entry_row.push(i as u32);
                    rows.entry_y.push(entry.ln() - reference);
                }
            }
        }
        Some(rows)
    }

    /// Prepares for many searches that start from one ln shape under different weights: their first look is cheap.
    pub(super) fn starting_at(mut self, b: f64) -> Self {
        let (k, lanes, y) = (b.exp(), self.lanes, &self.y);
        let mut powers = vec![0.0; y.len()];
        sum::fill_blocks(&mut powers, |block, out| lanes.powers(k, &y[block], out));
        self.known = Some((k, powers));
        self
    }

    /// About `most` rows taken evenly, with their weights: their maximum is a start for large samples. None for small ones.
    pub(super) fn thinned(&self, weights: &[f64], most: usize) -> Option<(Self, Vec<f64>)> {
        let every = self.y.len() / most.max(1);
        if every < 8 {
            return None;
        }
        let weights = weights.get(self.skip..)?;
        let mut thin = Self {
            skip: 0,
            y: self.y.iter().step_by(every).copied().collect(),
            failed: self.failed.iter().step_by(every).copied().collect(),
            entry_y: Vec::new(),
            entry_row: Vec::new(),
            known: None,
            ..*self
        };
        for (y, row) in self.entry_y.iter().zip(&self.entry_row) {
            let i = *row as usize - self.skip;
            if i.is_multiple_of(every) {
                thin.entry_y.push(*y);
                thin.entry_row.push((i / every) as u32);
            }
        }
        Some((thin, weights.iter().step_by(every).copied().collect()))
    }
}

/// The rows under one set of weights, one per row of the tally.
#[derive(Clone, Debug)]
pub(super) struct Powers<'w> {
    rows: Arc<PowerRows>,
    w: &'w [f64],
    entry_w: Vec<f64>,
    failures: f64,
    /// Sum of w y over failures.
    y_failures: f64,
    /// The shape met last and its sums: a search ends where it last looked.
    last: Cell<Option<(f64, [f64; 3])>>,
}

impl<'w> Powers<'w> {
    /// Puts in weights, one per row of the tally.
    pub(super) fn new(rows: Arc<PowerRows>, weights: &'w [f64]) -> Self {
        let entry_w = rows.entry_row.iter().map(|row| -weights[*row as usize]).collect();
        let w = weights.get(rows.skip..).unwrap_or(&[]);
        let [failures, y_failures] = sum::blocks(w.len(), |block| {
            rows.lanes.failure_sums(&rows.failed[block.clone()], &rows.y[block.clone()], &w[block])
        });
        Self { rows, w, entry_w, failures, y_failures, last: Cell::new(None) }
    }

    /// Sums of w e^(k y), w y e^(k y), w y^2 e^(k y).
    fn sums(&self, k: f64) -> [f64; 3] {
        if let Some((_, sums)) = self.last.get().filter(|last| last.0 == k) {
            return sums;
        }
        let (lanes, rows, w) = (self.rows.lanes, &*self.rows, self.w);
        let over = |y: &[f64], w: &[f64]| -> [f64; 3] {
            sum::blocks(y.len(), |block| lanes.power_sums(k, &y[block.clone()], &w[block]))
        };
        let mut sums = match &rows.known {
            Some((known, e)) if *known == k => {
                sum::blocks(e.len(), |block| lanes.known_sums(&e[block.clone()], &rows.y[block.clone()], &w[block]))
            }
            _ => over(&rows.y, w),
        };
        if !self.entry_w.is_empty() {
            let entries = over(&rows.entry_y, &self.entry_w);
            sums.iter_mut().zip(entries).for_each(|(a, b)| *a += b);
        }
        self.last.set(Some((k, sums)));
        sums
    }

    /// Log-likelihood with derivatives over (ln shape, ln scale).
    pub(super) fn at(&self, x: &[f64], out: &mut Point) {
        let &[b, c] = x else { return };
        let k = b.exp();
        self.assemble(b, k * (self.rows.reference - c), self.sums(k), out);
    }

    /// The same from the sums; `a` = k (reference - ln scale).
    fn assemble(&self, b: f64, a: f64, [s0, s1, s2]: [f64; 3], out: &mut Point) {
        let (k, d, e) = (b.exp(), self.failures, a.exp());
        let f = k * self.y_failures + a * d;
        let e0 = e * s0;
        let e1 = e * (k * s1 + a * s0);
        let e2 = e * (k * k * s2 + 2.0 * a * k * s1 + a * a * s0);
        out.value = d * b - (self.y_failures + d * self.rows.reference) + f - e0;
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
        vec![b, self.rows.reference - self.best_offset(s0) / k]
    }

    /// Coordinates and full point from the best ln shape.
    pub(super) fn finish(&self, b: f64) -> (Vec<f64>, Point) {
        let sums = self.sums(b.exp());
        let a = self.best_offset(sums[0]);
        let mut point = Point::new(2);
        self.assemble(b, a, sums, &mut point);
        (vec![b, self.rows.reference - a / b.exp()], point)
    }
}

/// The profile over the scale: a function of ln shape alone.
impl Surface for Powers<'_> {
    fn width(&self) -> usize {
        1
    }

    fn at(&self, x: &[f64], _order: Order, out: &mut Point) -> Result<()> {
        let &[b] = x else { return Ok(()) };
        let (k, d) = (b.exp(), self.failures);
        let [s0, s1, s2] = self.sums(k);
        let (m1, m2) = (s1 / s0, s2 / s0);
        let g = k * (self.y_failures - d * m1);
        out.value =
            d * b + k * self.y_failures + d * self.best_offset(s0) - (self.y_failures + d * self.rows.reference) - d;
        out.gradient.copy_from_slice(&[d + g]);
        out.hessian.copy_from_slice(&[g - d * k * k * (m2 - m1 * m1)]);
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        x.iter().all(|b| b.abs() < 12.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        let rows = Arc::new(PowerRows::new(&sample).unwrap());
        let powers = Powers::new(rows, &sample.weights);
        for x in [[0.0, 7.0], [0.9, 8.1], [-0.7, 6.0], [1.6, 8.3]] {
            let (mut fast, mut slow) = (Point::new(2), Point::new(2));
            powers.at(&x, &mut fast);
            Likelihood { family: &WeibullFamily, sample: &sample }.at(&x, Order::Hessian, &mut slow).unwrap();
            let size = slow.value.abs() + slow.hessian.iter().fold(0.0, |m: f64, h| m.max(h.abs()));
            assert!((fast.value - slow.value).abs() < 1e-12 * slow.value.abs());
            for (a, b) in fast.gradient.iter().chain(&fast.hessian).zip(slow.gradient.iter().chain(&slow.hessian)) {
                assert!((a - b).abs() < 1e-12 * size, "{x:?} {a} {b}");
            }
        }
    }
}
