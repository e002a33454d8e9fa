//! Sums of what may happen within a stretch of the clock over the places of what happens first.

use super::steps::{Bends, OnSteps, at};

/// Steps of a block, over which what happens first is taken as a straight density.
pub(super) const BLOCK_STEPS: usize = 4;

/// A function of the hours left to an end, by blocks of steps counted back from that end.
///
/// # Formula
/// ```text
/// sum over blocks of mass x mean + slope of the mass x rise / 12
/// ```
/// The slope of the masses is that of their neighbours, and summed by parts it stands in `means`: so one product of two
/// lists is right to the fourth power of a block.
#[derive(Debug)]
pub(super) struct Blocks {
    table: OnSteps,
    bends: Bends,
    means: Vec<f64>,
    /// 12 x the mean of the function times the place from the middle of the block: its rise over it where it is straight.
    rises: Vec<f64>,
}

impl Blocks {
    pub(super) fn new(table: OnSteps, bends: Bends) -> Self {
        let bends = Bends { last: table.above.len().saturating_sub(1), ..bends };
        let count = bends.last / BLOCK_STEPS;
        let (mut plain, mut rises) = (Vec::with_capacity(count), Vec::with_capacity(count));
        let length = BLOCK_STEPS as f64;
        for block in 0..count {
            let (mut mean, mut rise) = (0.0, 0.0);
            for part in 0..BLOCK_STEPS {
                let step = block * BLOCK_STEPS + part;
                let (low, high) = (at(&table.above, step), at(&table.below, step + 1));
                let middle = (part as f64 + 0.5) / length - 0.5;
                mean += 0.5 * (low + high);
                rise += 0.5 * (low + high) * middle + (high - low) / (12.0 * length);
            }
            plain.push(mean / length);
            rises.push(12.0 * rise / length);
        }
        let before = std::iter::once(&0.0).chain(&rises);
        let after = rises.iter().skip(1).chain(std::iter::once(&0.0));
        let means = plain.iter().zip(before.zip(after)).map(|(m, (b, a))| m + (b - a) / 24.0).collect();
        Self { table, bends, means, rises }
    }

    /// Value with so many steps left; 0 past the end.
    pub(super) fn value(&self, left: f64) -> f64 {
        self.bends.read_jumping(&self.table, left)
    }

    /// Mean over the steps left from one place to a later one, by Simpson's rule.
    pub(super) fn mean(&self, from: f64, to: f64) -> f64 {
        (self.value(from) + 4.0 * self.value(0.5 * (from + to)) + self.value(to)) / 6.0
    }
}

/// Masses by blocks counted back from an end, and pieces at either side of them that fill no block.
#[derive(Debug, Default)]
pub(super) struct Masses {
    first: usize,
    blocks: Vec<f64>,
    /// Corrections of the slopes at the outer blocks: (block, factor of its rise).
    edges: [(usize, f64); 4],
    /// (from, to, mass, mean place from the middle of the piece, as a share of its length).
    pieces: [(f64, f64, f64, f64); 2],
}

impl Masses {
    /// Masses from block `first` on.
    pub(super) fn new(first: usize, blocks: Vec<f64>, pieces: [(f64, f64, f64, f64); 2]) -> Self {
        let n = blocks.len();
        let get = |i: usize| at(&blocks, i);
        let mut edges = [(0, 0.0); 4];
        if n == 1 {
            edges = [(first.wrapping_sub(1), -get(0) / 24.0), (first + 1, get(0) / 24.0), (0, 0.0), (0, 0.0)];
        } else if n > 1 {
            edges = [
                (first.wrapping_sub(1), -get(0) / 24.0),
                (first, (get(1) - get(0)) / 12.0 - get(1) / 24.0),
                (first + n - 1, (get(n - 1) - get(n - 2)) / 12.0 + get(n - 2) / 24.0),
                (first + n, get(n - 1) / 24.0),
            ];
        }
        Self { first, blocks, edges, pieces }
    }

    /// The same with every mass multiplied.
    pub(super) fn scaled(mut self, factor: f64) -> Self {
        self.blocks.iter_mut().for_each(|m| *m *= factor);
        self.edges.iter_mut().for_each(|e| e.1 *= factor);
        self.pieces.iter_mut().for_each(|p| p.2 *= factor);
        self
    }

    /// Both together; they have the same blocks and pieces.
    pub(super) fn and(&self, other: &Self) -> Self {
        let blocks = self.blocks.iter().zip(&other.blocks).map(|(a, b)| a + b).collect();
        let mut sum = Self { first: self.first, blocks, edges: self.edges, pieces: self.pieces };
        for (a, b) in sum.edges.iter_mut().zip(&other.edges) {
            a.1 += b.1;
        }
        for (a, b) in sum.pieces.iter_mut().zip(&other.pieces) {
            let mass = a.2 + b.2;
            if mass > 0.0 {
                a.3 = (a.2 * a.3 + b.2 * b.3) / mass;
            }
            a.2 = mass;
        }
        sum
    }

    pub(super) fn whole(&self) -> f64 {
        self.blocks.iter().sum::<f64>() + self.pieces.iter().map(|p| p.2).sum::<f64>()
    }

    /// Sum of the masses times what is left to happen after each.
    pub(super) fn times(&self, left: &Blocks) -> f64 {
        let mut sum = product(&self.blocks, left.means.get(self.first..).unwrap_or(&[]));
        for (block, factor) in &self.edges {
            sum += factor * at(&left.rises, *block);
        }
        for (from, to, mass, off) in self.pieces.iter().filter(|p| p.2 > 0.0) {
            let rise = if *off == 0.0 { 0.0 } else { off * (left.value(*to) - left.value(*from)) };
            sum += mass * (left.mean(*from, *to) + rise);
        }
        sum
    }
}

/// Sum of products, as far as the shorter list goes; eight fixed lanes, so that the same numbers give the same bytes.
fn product(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len().min(b.len());
    let (a, b) = (a.get(..n).unwrap_or(&[]), b.get(..n).unwrap_or(&[]));
    let ((a, a_rest), (b, b_rest)) = (a.as_chunks::<8>(), b.as_chunks::<8>());
    let mut lanes = [0.0; 8];
    for (a, b) in a.iter().zip(b) {
        for ((lane, x), y) in lanes.iter_mut().zip(a).zip(b) {
            *lane += x * y;
        }
    }
    let [a0, a1, a2, a3, a4, a5, a6, a7] = lanes;
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    ((a0 + a4) + (a1 + a5)) + ((a2 + a6) + (a3 + a7)) + rest
}
