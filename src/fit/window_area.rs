//! The integral of exp(m L - q h(L)) over a stretch of the logarithm of age, with its means and spreads.

use crate::base::math::quadrature::GAUSS;

/// Log-density below its highest value from which nothing is left.
const DEEP: f64 = 42.0;
/// Panels on each side of the mode: walls of the density are no wider than a fraction of the stretch before them.
const PANELS: u32 = 16;
/// Halvings that find where the density has fallen off.
const HALVINGS: usize = 12;
/// Size of power times L below which its series stands for h.
const NEAR: f64 = 0.05;

/// h(L) = (e^y - 1 - y) / power^2, y = power L: half the square of L where the power is 0.
pub(super) fn bend(power: f64, l: f64) -> f64 {
    let y = power * l;
    if y.abs() < NEAR {
        // Sum of y^k / (k + 2)!: the next term is below rounding.
        let series = [2.0, 6.0, 24.0, 120.0, 720.0, 5040.0, 40320.0, 362_880.0];
        return l * l * series.iter().rev().fold(0.0, |sum, f| sum * y + 1.0 / f);
    }
    (y.exp_m1() - y) / (power * power)
}

/// A density over L = ln(age / reference), but for its constant.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course {
    pub(super) m: f64,
    pub(super) q: f64,
    pub(super) power: f64,
}

/// ln of the integral, the means of L and h, and their spreads: of L, of both, of h.
#[derive(Clone, Copy, Debug)]
pub(super) struct Area {
    pub(super) ln: f64,
    pub(super) mean: [f64; 2],
    pub(super) spread: [f64; 3],
}

impl Course {
    fn ln(&self, l: f64) -> f64 {
        if self.q == 0.0 { self.m * l } else { self.m * l - self.q * bend(self.power, l) }
    }

    /// Whether the density dies away at young ages, so that a window from age 0 holds a finite integral.
    pub(super) fn starts(&self) -> bool {
        if self.power > 0.0 {
            self.q + self.power * self.m > 0.0 && self.q >= 0.0
        } else {
            self.q > 0.0 || (self.q == 0.0 && self.m > 0.0)
        }
    }

    /// Where the density is highest between two ends: its logarithm bends down everywhere.
    fn mode(&self, low: f64, high: f64) -> f64 {
        let at = if self.q == 0.0 {
            f64::INFINITY * self.m
        } else if self.power == 0.0 {
            self.m / self.q
        } else {
            // (e^(power L) - 1) / power = m / q; where that has no solution the density rises all the way.
            let e = self.power * self.m / self.q;
            if e > -1.0 { e.ln_1p() / self.power } else { -f64::INFINITY * self.power }
        };
        if at.is_nan() { high } else { at.max(low).min(high) }
    }

    /// How far from the mode, on one side up to an end, the density is anything.
    fn reach(&self, mode: f64, end: f64) -> f64 {
        let (top, whole) = (self.ln(mode), end - mode);
        let gone = |d: f64| !(self.ln(mode + d) > top - DEEP);
        let mut d = 1e-3_f64.min(whole.abs()).copysign(whole);
        while d.abs() < whole.abs() && !gone(d) {
            d *= 2.0;
        }
        if !(d.abs() < whole.abs()) {
            if whole.is_finite() && !gone(whole) {
                return whole;
            }
            d = if whole.is_finite() { whole } else { d };
        }
        let (mut inside, mut outside) = (0.0, d);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (inside + outside);
            if gone(middle) { outside = middle } else { inside = middle }
        }
        outside
    }

    /// The integral from `low`, which may be minus infinity, to `high`.
    pub(super) fn area(&self, low: f64, high: f64) -> Area {
        let mode = self.mode(low, high);
        let top = self.ln(mode);
        let (mut total, mut first, mut second) = (0.0, [0.0; 2], [0.0; 3]);
        // Means are taken about the mode, so that spreads keep their digits.
        let at_mode = bend(self.power, mode);
        for end in [low, high] {
            if end == mode {
                continue;
            }
            let width = self.reach(mode, end) / f64::from(PANELS);
            for k in 0..PANELS {
                let from = mode + width * f64::from(k);
                for (x, w) in GAUSS {
                    let l = from + width * x;
                    let h = bend(self.power, l);
                    let p = w * width.abs() * (self.m * l - self.q * h - top).exp();
                    if !(p > 0.0) {
                        continue;
                    }
                    let (dl, dh) = (l - mode, h - at_mode);
                    total += p;
                    first[0] += p * dl;
                    first[1] += p * dh;
                    second[0] += p * dl * dl;
                    second[1] += p * dl * dh;
                    second[2] += p * dh * dh;
                }
            }
        }
        let mean = first.map(|s| s / total);
        let spread = [
            second[0] / total - mean[0] * mean[0],
            second[1] / total - mean[0] * mean[1],
            second[2] / total - mean[1] * mean[1],
        ];
        Area { ln: top + total.ln(), mean: [mode + mean[0], at_mode + mean[1]], spread }
    }
}
