//! Convolution of two functions given panel by panel, as small matrices.

use super::basis::{Basis, gauss};

/// Gauss points where neither function has a corner: exact for the polynomials of plain panels.
const PLAIN_POINTS: usize = 16;
/// Gauss points where one of them has.
const START_POINTS: usize = 64;

/// Which of the two panels that a product reaches: the sum of the panel numbers, or the one after.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reach {
    Same,
    Next,
}

/// One point of a rule: its weight, and rows that give the kernel and the source there.
#[derive(Debug)]
struct Point {
    weight: f64,
    kernel: Vec<f64>,
    kernel_slope: Vec<f64>,
    source: Vec<f64>,
    source_slope: Vec<f64>,
}

/// What one node of the target takes.
#[derive(Debug)]
struct Target {
    points: Vec<Point>,
    /// Kernel and source rows at half the time; the kernel's at the start of the range is taken off with the source's end.
    middle: (Vec<f64>, Vec<f64>),
    start: Option<(Vec<f64>, Vec<f64>)>,
}

/// Turns the values of a kernel panel into the matrix that takes a source panel to a target panel.
///
/// # Formula
/// ```text
/// t <= 1:     integral of a(t - s) db(s) over (0, t) = a(t/2) b(t/2) + I(0)
/// t = 1 + x:  the same over (x, 1) = a(t/2) b(t/2) - a(1) b(x) + I(x)
/// I(x) = integral over s in (x, t/2) of b(s) a'(t - s) + a(s) b'(t - s)
/// ```
/// Split at the middle, neither slope is taken near the start of its panel, where it may be infinite.
#[derive(Debug)]
pub(super) struct Rule {
    targets: Vec<Target>,
}

impl Rule {
    pub(super) fn new(kernel: &Basis, source: &Basis, target: &Basis, reach: Reach) -> Self {
        let power = kernel.power.max(source.power);
        let plain = kernel.power == 1.0 && source.power == 1.0 && kernel.len() == source.len();
        let rule = gauss(if plain { PLAIN_POINTS } else { START_POINTS });
        let one = |x: f64| {
            let (from, t) = if reach == Reach::Same { (0.0, x) } else { (x, 1.0 + x) };
            let middle = 0.5 * t;
            let start = (reach == Reach::Next).then(|| (kernel.row(x), source.row(1.0)));
            if middle <= from {
                return Target { points: Vec::new(), middle: (kernel.row(middle), source.row(middle)), start };
            }
            let (low, high) = (from.powf(1.0 / power), middle.powf(1.0 / power));
            let points = rule.iter().map(|(v, w)| {
                let y = low + (high - low) * v;
                let s = y.powf(power).min(middle);
                let later = (t - s).min(1.0);
                Point {
                    weight: w * (high - low) * power * y.powf(power - 1.0),
                    kernel: kernel.row(s),
                    kernel_slope: kernel.slope_row(later),
                    source: source.row(s),
                    source_slope: source.slope_row(later),
                }
            });
            Target { points: points.collect(), middle: (kernel.row(middle), source.row(middle)), start }
        };
        Self { targets: target.places().into_iter().map(one).collect() }
    }

    /// The matrix for the values of a kernel panel.
    pub(super) fn block(&self, kernel: &[f64]) -> Block {
        let width = self.targets.len();
        let sources = self.targets.first().map_or(0, |t| t.middle.1.len());
        let mut columns = vec![0.0; width * sources];
        for (i, target) in self.targets.iter().enumerate() {
            let mut add = |factor: f64, row: &[f64]| {
                for (m, r) in row.iter().enumerate() {
                    columns[m * width + i] += factor * r;
                }
            };
            add(dot(&target.middle.0, kernel), &target.middle.1);
            if let Some((start, end)) = &target.start {
                add(-dot(start, kernel), end);
            }
            for p in &target.points {
                add(p.weight * dot(&p.kernel, kernel), &p.source_slope);
                add(p.weight * dot(&p.kernel_slope, kernel), &p.source);
            }
        }
        Block { width, columns }
    }
}

/// A matrix, column after column.
#[derive(Clone, Debug)]
pub(super) struct Block {
    width: usize,
    columns: Vec<f64>,
}

impl Block {
    /// Adds the matrix times the source.
    pub(super) fn add(&self, source: &[f64], out: &mut [f64]) {
        for (column, s) in self.columns.chunks_exact(self.width).zip(source) {
            out.iter_mut().zip(column).for_each(|(o, c)| *o += c * s);
        }
    }

    /// The inverse of the unit matrix less this one; none where it has none.
    pub(super) fn resolvent(&self) -> Option<Block> {
        let n = self.width;
        let at = |i: usize, j: usize| self.columns[j * n + i];
        let mut left: Vec<Vec<f64>> =
            (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j)) - at(i, j)).collect()).collect();
        let mut right: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
        for k in 0..n {
            let pivot = (k..n).max_by(|a, b| left[*a][k].abs().total_cmp(&left[*b][k].abs()))?;
            left.swap(k, pivot);
            right.swap(k, pivot);
            let head = left[k][k];
            if head == 0.0 || !head.is_finite() {
                return None;
            }
            left[k].iter_mut().chain(right[k].iter_mut()).for_each(|x| *x /= head);
            let (row, other) = (left[k].clone(), right[k].clone());
            for i in (0..n).filter(|i| *i != k) {
                let factor = left[i][k];
                left[i].iter_mut().zip(&row).for_each(|(x, r)| *x -= factor * r);
                right[i].iter_mut().zip(&other).for_each(|(x, r)| *x -= factor * r);
            }
        }
        let columns = (0..n).flat_map(|j| right.iter().map(move |row| row[j])).collect();
        Some(Block { width: n, columns })
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_convolve_to_powers() {
        // The convolution of t^a with d(t^b) is t^(a+b) times a + 1, b + 1 over a + b + 1 in gamma functions.
        let (plain, start) = (Basis::plain(), Basis::start(0.5));
        let gamma = |x: f64| crate::base::math::special::ln_gamma(x).exp();
        let values = |basis: &Basis, p: f64| -> Vec<f64> { basis.places().iter().map(|y| y.powf(p)).collect() };
        for (kernel, source, b, a) in
            [(&start, &start, 0.5, 1.5), (&plain, &start, 2.0, 0.5), (&start, &plain, 0.5, 3.0)]
        {
            for target in [&start, &plain] {
                let block = Rule::new(kernel, source, target, Reach::Same).block(&values(kernel, b));
                let mut out = vec![0.0; target.len()];
                block.add(&values(source, a), &mut out);
                for (y, got) in target.places().iter().zip(out) {
                    let exact = y.powf(a + b) * gamma(a + 1.0) * gamma(b + 1.0) / gamma(a + b + 1.0);
                    assert!((got - exact).abs() < 2e-14, "{b} {a} at {y}: {got} {exact}");
                }
            }
        }
        // Beyond the panel: a and b stop at 1.
        let block = Rule::new(&start, &start, &plain, Reach::Next).block(&values(&start, 0.5));
        let mut out = vec![0.0; plain.len()];
        block.add(&values(&start, 1.0), &mut out);
        for (x, got) in plain.places().iter().zip(out) {
            // Integral over s in (x, 1) of (1 + x - s) d sqrt(s).
            let exact = (1.0 + x) * (1.0 - x.sqrt()) - (1.0 - x.powf(1.5)) / 3.0;
            assert!((got - exact).abs() < 2e-14, "at {x}: {got} {exact}");
        }
    }
}
