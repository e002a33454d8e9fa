//! Whether numbers between 0 and 1 are spread evenly.

/// Largest distance between the shares of values and an even spread, and the chance of one as large or larger.
///
/// # Formula
/// ```text
/// d = max over values of |share of values at or below x - x|, from either side of each step
/// p = P(D >= d) for that many independent values spread evenly
/// ```
///
/// # Returns
/// None without values, and for a value that is not within 0 to 1.
///
/// # Numerics
/// The chance is that of the exact distribution, from a power of a matrix; past n d^2 of 7.24, or of 3.76 with 100 values
/// or more, a fitted tail with seven digits.
///
/// # Source
/// A. Kolmogorov (1933); G. Marsaglia, W. W. Tsang and J. Wang (2003), Evaluating Kolmogorov's distribution, Journal of
/// Statistical Software 8 (18). From memory.
///
/// # Examples
/// ```
/// use relamp::replay::evenness;
/// // Of one value: P(D >= d) = 2 (1 - d).
/// let (d, p) = evenness(&[0.9]).unwrap();
/// assert!((d - 0.9).abs() < 1e-12 && (p - 0.2).abs() < 1e-12);
/// ```
#[must_use]
pub fn evenness(values: &[f64]) -> Option<(f64, f64)> {
    if values.is_empty() || values.iter().any(|v| !(0.0..=1.0).contains(v)) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    let gaps = sorted.iter().enumerate().map(|(i, v)| ((i as f64 + 1.0) / n - v).max(v - i as f64 / n));
    let distance = gaps.fold(0.0, f64::max);
    Some((distance, (1.0 - below(sorted.len(), distance)).clamp(0.0, 1.0)))
}

/// P(D < d) of `n` values.
fn below(n: usize, d: f64) -> f64 {
    let count = n as f64;
    let s = d * d * count;
    if s > 7.24 || (s > 3.76 && n > 99) {
        return 1.0 - 2.0 * (-(2.000_071 + 0.331 / count.sqrt() + 1.409 / count) * s).exp();
    }
    let k = (count * d) as usize + 1;
    let (m, h) = (2 * k - 1, k as f64 - count * d);
    let mut matrix = vec![vec![0.0; m]; m];
    let power = |x: f64, i: usize| x.powf(i as f64);
    for (i, row) in matrix.iter_mut().enumerate() {
        for (j, cell) in row.iter_mut().enumerate() {
            if i + 1 >= j {
                *cell = 1.0;
                if j == 0 {
                    *cell -= power(h, i + 1);
                }
                if i + 1 == m {
                    *cell -= power(h, m - j);
                }
                if i + 1 == m && j == 0 && 2.0 * h > 1.0 {
                    *cell += power(2.0 * h - 1.0, m);
                }
                for g in 1..=(i + 1 - j) {
                    *cell /= g as f64;
                }
            }
        }
    }
    // n! / n^n goes in by equal factors, so that the power neither grows nor vanishes.
    let factor = ((1..=n).map(|i| (i as f64).ln()).fold(0.0, |sum, x| sum + x) / count).exp() / count;
    let mut row: Vec<f64> = (0..m).map(|j| if j + 1 == k { 1.0 } else { 0.0 }).collect();
    for _ in 0..n {
        let mut next = vec![0.0; m];
        for (weight, from) in row.iter().zip(&matrix) {
            for (sum, cell) in next.iter_mut().zip(from) {
                *sum += weight * cell * factor;
            }
        }
        row = next;
    }
    row.get(k - 1).copied().unwrap_or(0.0).clamp(0.0, 1.0)
}
