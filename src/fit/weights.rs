//! Random weights for the weighted bootstrap: Gamma(count, 1) for a row, shared by the rows of a cluster.

use std::collections::BTreeMap;

use crate::base::math::special::normal_quantile;
use crate::base::random::Stream;
use crate::lives::Tally;

/// Counts up to this are a product of uniforms.
const PRODUCT: u64 = 16;

/// Which rows share a weight.
#[derive(Clone, Debug)]
pub(super) struct Clusters {
    /// Cluster of each group; none for rows that stand alone.
    of_group: Vec<Option<usize>>,
    count: usize,
}

impl Clusters {
    pub(super) fn new(tally: &Tally) -> Self {
        let mut names: BTreeMap<&str, usize> = BTreeMap::new();
        for group in tally.groups() {
            if !group.cluster.is_empty() {
                names.insert(&group.cluster, 0);
            }
        }
        for (k, place) in names.values_mut().enumerate() {
            *place = k;
        }
        let of_group = tally.groups().iter().map(|g| names.get(g.cluster.as_str()).copied()).collect();
        Self { of_group, count: names.len() }
    }

    pub(super) fn len(&self) -> usize {
        self.count
    }

    pub(super) fn of(&self, group: u32) -> Option<usize> {
        self.of_group.get(group as usize).copied().flatten()
    }

    /// Fills `out` with one weight per row: count x Gamma(1, 1) of the row's cluster, or Gamma(count, 1).
    pub(super) fn draw(&self, tally: &Tally, stream: &mut Stream, out: &mut Vec<f64>) {
        let shared: Vec<f64> = (0..self.count).map(|_| stream.exponential()).collect();
        out.clear();
        out.extend(tally.count().iter().zip(tally.group()).map(|(count, group)| {
            match self.of(*group).and_then(|k| shared.get(k)) {
                Some(weight) => *count as f64 * weight,
                None => gamma(*count, stream),
            }
        }));
    }
}

/// A Gamma(n, 1) number for a whole n.
///
/// # Source
/// Large n: Marsaglia & Tsang, ACM Transactions on Mathematical Software 26 (2000) 363 (from memory).
pub(super) fn gamma(n: u64, stream: &mut Stream) -> f64 {
    if n <= PRODUCT {
        let product: f64 = (0..n).map(|_| stream.uniform()).product();
        return -product.ln();
    }
    let d = n as f64 - 1.0 / 3.0;
    let c = 1.0 / (9.0 * d).sqrt();
    loop {
        let z = normal_quantile(stream.uniform());
        let v = (1.0 + c * z).powi(3);
        if v > 0.0 && stream.uniform().ln() < 0.5 * z * z + d * (1.0 - v + v.ln()) {
            return d * v;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_have_mean_and_variance_of_the_count() {
        for n in [1, 5, 16, 17, 400] {
            let mut stream = Stream::new(1, "fit", "weights", n);
            let draws: Vec<f64> = (0..40_000).map(|_| gamma(n, &mut stream)).collect();
            let mean = draws.iter().sum::<f64>() / 40_000.0;
            let variance = draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 40_000.0;
            let n = n as f64;
            assert!((mean - n).abs() < 5.0 * (n / 40_000.0).sqrt(), "{n} {mean}");
            assert!((variance / n - 1.0).abs() < 0.1, "{n} {variance}");
        }
        assert_eq!(gamma(0, &mut Stream::new(1, "fit", "weights", 0)), 0.0);
    }
}
