//! Random weights for the weighted bootstrap: Gamma(count, 1) for a row, shared by the rows of a cluster.

use std::collections::BTreeMap;

use super::few_clusters::{cluster_note, one_cluster};
use super::lanes::Lanes;
use super::model::Note;
use crate::base::error::Result;
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
    lanes: Lanes,
}

impl Clusters {
    pub(super) fn new(tally: &Tally) -> Self {
        let mut names: BTreeMap<&str, usize> = BTreeMap::new();
        let mut speaks = vec![false; tally.groups().len()];
        for (i, group) in tally.group().iter().enumerate() {
            if let Some(slot) = speaks.get_mut(*group as usize) {
                *slot |= tally.informs(i);
            }
        }
        for (group, speaks) in tally.groups().iter().zip(&speaks) {
            if *speaks && !group.cluster.is_empty() {
                names.insert(&group.cluster, 0);
            }
        }
        for (k, place) in names.values_mut().enumerate() {
            *place = k;
        }
        let of_group = tally.groups().iter().map(|g| names.get(g.cluster.as_str()).copied()).collect();
        Self { of_group, count: names.len(), lanes: Lanes::new() }
    }

    pub(super) fn len(&self) -> usize {
        self.count
    }

    /// Clusters, and lamps that stand alone; none where no lamp has a cluster.
    pub(super) fn units(&self, tally: &Tally, of: impl Fn(usize) -> bool) -> Option<u64> {
        if self.count == 0 {
            return None;
        }
        let (mut alone, mut seen) = (0, vec![false; self.count]);
        for (i, (group, count)) in tally.group().iter().zip(tally.count()).enumerate() {
            if !tally.informs(i) || !of(i) {
                continue;
            }
            match self.of(*group).and_then(|k| seen.get_mut(k)) {
                Some(slot) => *slot = true,
                None => alone += count,
            }
        }
        Some(alone + seen.iter().filter(|s| **s).count() as u64)
    }

    /// The note that few clusters call for.
    ///
    /// # Errors
    /// `fit.one_cluster` where all lives belong to one.
    pub(super) fn note(&self, tally: &Tally) -> Result<Option<Note>> {
        match self.units(tally, |_| true) {
            Some(1) => Err(one_cluster()),
            units => Ok(units.and_then(cluster_note)),
        }
    }

    pub(super) fn of(&self, group: u32) -> Option<usize> {
        self.of_group.get(group as usize).copied().flatten()
    }

    /// Fills `out` with one weight per row: count x Gamma(1, 1) of the row's cluster, or Gamma(count, 1).
    pub(super) fn draw(&self, tally: &Tally, stream: &mut Stream, out: &mut Vec<f64>) {
        let shared: Vec<f64> = (0..self.count).map(|_| stream.exponential()).collect();
        out.clear();
        // Logarithms of products wait for the end, where they are taken many at a time.
        let mut whole: Vec<(usize, f64)> = Vec::new();
        out.extend(tally.count().iter().zip(tally.group()).enumerate().map(|(i, (count, group))| {
            // A row that says nothing takes no draw from the rows that do.
            if !tally.informs(i) {
                return 1.0;
            }
            let weight = match self.of(*group).and_then(|k| shared.get(k)) {
                Some(weight) => *count as f64 * weight,
                None if *count <= PRODUCT => return product(*count, stream),
                None => gamma(*count, stream),
            };
            whole.push((i, weight));
            1.0
        }));
        self.lanes.minus_ln(out);
        for (i, weight) in whole {
            if let Some(slot) = out.get_mut(i) {
                *slot = weight;
            }
        }
    }
}

/// A product of uniforms, whose logarithm is minus a Gamma(n, 1) number.
fn product(n: u64, stream: &mut Stream) -> f64 {
    (0..n).map(|_| stream.uniform()).product()
}

/// A Gamma(n, 1) number for a whole n.
///
/// # Source
/// Large n: Marsaglia & Tsang, ACM Transactions on Mathematical Software 26 (2000) 363 (from memory).
pub(super) fn gamma(n: u64, stream: &mut Stream) -> f64 {
    if n <= PRODUCT {
        return -product(n, stream).ln();
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

    #[test]
    fn weights_of_rows_are_those_drawn_one_by_one() {
        use crate::lives::{Group, Rows};
        let rows = Rows {
            low: vec![1.0, 2.0, 3.0, 4.0],
            high: vec![1.0, 2.0, f64::INFINITY, 4.0],
            count: Some(vec![1, 40, 16, 3]),
            group: Some(vec![0, 0, 0, 1]),
            groups: vec![Group::default(), Group { cluster: "north".into(), ..Group::default() }],
            ..Rows::default()
        };
        let tally = Tally::from_rows(&rows).unwrap().0;
        let mut got = Vec::new();
        Clusters::new(&tally).draw(&tally, &mut Stream::new(3, "fit", "weights", 0), &mut got);
        let stream = &mut Stream::new(3, "fit", "weights", 0);
        let north = stream.exponential();
        let expected = [gamma(1, stream), gamma(40, stream), gamma(16, stream), 3.0 * north];
        for (a, b) in got.iter().zip(expected) {
            assert!((a - b).abs() <= 4.0 * f64::EPSILON * b, "{got:?} {expected:?}");
        }
        assert_eq!(got.len(), 4);
    }
}
