//! Polynomials on one panel of the time axis, plain or in a power of the time since the start of the panel.

use std::f64::consts::PI;

/// Nodes of a plain panel.
const PLAIN_NODES: usize = 16;
/// Nodes of a panel at whose start lamps are new.
const START_NODES: usize = 48;
/// A panel at whose start lamps are new is laid out so that the first power of the failure probability becomes this one
/// at least.
const WANTED_POWER: f64 = 6.0;
/// Steepest layout of such a panel: beyond it the first nodes would leave the range of numbers.
const MOST_POWER: f64 = 100.0;

/// Polynomials in `x = y^(1 / power)`, `y` from 0 to 1 over the panel, by their values at the nodes.
#[derive(Clone, Debug)]
pub(crate) struct Basis {
    pub(super) power: f64,
    /// Places of the nodes in `x`, 0 and 1 included.
    nodes: Vec<f64>,
    /// Slopes of the polynomials at the nodes, `[node][polynomial]`.
    slopes: Vec<Vec<f64>>,
}

impl Basis {
    /// Panel on which functions have no corner.
    pub(super) fn plain() -> Self {
        Self::new(1.0, PLAIN_NODES)
    }

    /// Panel at whose start functions behave like a broken power of time, the least being `exponent`.
    pub(super) fn start(exponent: f64) -> Self {
        // A whole power: what is smooth in time stays smooth in its root, and so do the integrals over it.
        Self::new((WANTED_POWER / exponent).ceil().clamp(1.0, MOST_POWER), START_NODES)
    }

    pub(crate) fn new(power: f64, n: usize) -> Self {
        let last = (n - 1) as f64;
        let nodes: Vec<f64> = (0..n).map(|j| (0.5 * PI * j as f64 / last).sin().powi(2)).collect();
        let mut basis = Self { power, nodes, slopes: Vec::new() };
        basis.slopes = (0..n)
            .map(|i| {
                let mut row: Vec<f64> = (0..n).map(|j| if i == j { 0.0 } else { basis.slope(i, j) }).collect();
                // A constant has no slope: this keeps more digits than the formula of the diagonal.
                row[i] = -row.iter().sum::<f64>();
                row
            })
            .collect();
        basis
    }

    fn slope(&self, i: usize, j: usize) -> f64 {
        let last = (self.nodes.len() - 1) as f64;
        // x_i - x_j as a product, which does not cancel near the ends.
        let apart = (0.5 * PI * (i as f64 + j as f64) / last).sin() * (0.5 * PI * (i as f64 - j as f64) / last).sin();
        self.weight(j) / self.weight(i) / apart
    }

    /// Weight of a node in the barycentric formula.
    fn weight(&self, j: usize) -> f64 {
        let sign = if j.is_multiple_of(2) { 1.0 } else { -1.0 };
        if j == 0 || j + 1 == self.nodes.len() { 0.5 * sign } else { sign }
    }

    pub(super) fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Places of the nodes as shares of the panel.
    pub(crate) fn places(&self) -> Vec<f64> {
        self.nodes.iter().map(|x| x.powf(self.power)).collect()
    }

    /// Values of the polynomials at a share of the panel.
    pub(crate) fn row(&self, y: f64) -> Vec<f64> {
        self.row_at(y.powf(1.0 / self.power))
    }

    /// Values of the polynomials at a place in `x`.
    pub(super) fn row_at(&self, x: f64) -> Vec<f64> {
        if let Some(k) = self.nodes.iter().position(|n| *n == x) {
            return (0..self.len()).map(|j| if j == k { 1.0 } else { 0.0 }).collect();
        }
        let mut row: Vec<f64> = self.nodes.iter().enumerate().map(|(j, n)| self.weight(j) / (x - n)).collect();
        let sum: f64 = row.iter().sum();
        for r in &mut row {
            *r /= sum;
        }
        row
    }

    /// Slopes of the polynomials over the share of the panel, at a share above 0.
    pub(super) fn slope_row(&self, y: f64) -> Vec<f64> {
        let x = y.powf(1.0 / self.power);
        let stretch = x / (self.power * y);
        let at = self.row_at(x);
        let mut row = vec![0.0; self.len()];
        for (a, slopes) in at.iter().zip(&self.slopes) {
            row.iter_mut().zip(slopes).for_each(|(r, s)| *r += a * s);
        }
        for r in &mut row {
            *r *= stretch;
        }
        row
    }

    /// Slopes over `x` at the nodes of the function with these values there.
    pub(super) fn slopes_of(&self, values: &[f64]) -> Vec<f64> {
        self.slopes.iter().map(|row| row.iter().zip(values).map(|(s, v)| s * v).sum()).collect()
    }

    /// Value at a share of the panel of the function with these values at the nodes.
    pub(super) fn value(&self, values: &[f64], y: f64) -> f64 {
        let x = y.powf(1.0 / self.power);
        let (mut above, mut below) = (0.0, 0.0);
        for (j, (n, v)) in self.nodes.iter().zip(values).enumerate() {
            if *n == x {
                return *v;
            }
            let w = self.weight(j) / (x - n);
            above += w * v;
            below += w;
        }
        above / below
    }
}

/// Nodes and weights of the Gauss rule with `n` points on (0, 1).
pub(crate) fn gauss(n: usize) -> Vec<(f64, f64)> {
    (0..n)
        .map(|i| {
            // Newton from the usual first guess; the polynomial and its slope by recursion.
            let mut z = (PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..100 {
                let (mut p, mut before) = (1.0, 0.0);
                for k in 0..n {
                    let k = k as f64;
                    (p, before) = (((2.0 * k + 1.0) * z * p - k * before) / (k + 1.0), p);
                }
                slope = n as f64 * (z * p - before) / (z * z - 1.0);
                let step = p / slope;
                z -= step;
                if step.abs() < 1e-16 {
                    break;
                }
            }
            (0.5 * (1.0 - z), 1.0 / ((1.0 - z * z) * slope * slope))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_for_polynomials() {
        for n in [16, 64] {
            let rule = gauss(n);
            for degree in 0..32 {
                let sum: f64 = rule.iter().map(|(x, w)| w * x.powi(degree)).sum();
                assert!((sum * f64::from(degree + 1) - 1.0).abs() < 1e-13, "{n} points, degree {degree}: {sum}");
            }
        }
    }

    #[test]
    fn broken_powers_and_their_slopes_come_out() {
        for exponent in [0.3_f64, 0.5, 0.8, 1.0, 2.5, 9.0] {
            let basis = Basis::start(exponent);
            let values: Vec<f64> = basis.places().iter().map(|y| y.powf(exponent) * (1.0 + y)).collect();
            for y in [1e-6_f64, 0.01, 0.3, 0.77, 1.0] {
                let exact = y.powf(exponent) * (1.0 + y);
                assert!((basis.value(&values, y) - exact).abs() < 1e-13, "{exponent} {y}");
                let row: f64 = basis.row(y).iter().zip(&values).map(|(r, v)| r * v).sum();
                assert!((row - exact).abs() < 1e-13, "{exponent} {y}");
                let slope: f64 = basis.slope_row(y).iter().zip(&values).map(|(r, v)| r * v).sum();
                let exact = exponent * y.powf(exponent - 1.0) * (1.0 + y) + y.powf(exponent);
                assert!((slope / exact - 1.0).abs() < 1e-8 || (slope - exact).abs() < 1e-11, "{exponent} {y} {slope}");
            }
        }
    }
}
