//! Sums of what may happen within a stretch of the clock over the places of what happens first.

use super::steps::{Bends, OnSteps, Reading, at};
use crate::base::math::lanes::product;

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
    means: Vec<f64>,
    /// 12 x the mean of the function times the place from the middle of the block: its rise over it where it is straight.
    rises: Vec<f64>,
}

impl Blocks {
    pub(super) fn new(table: OnSteps) -> Self {
        let count = table.above.len().saturating_sub(1) / BLOCK_STEPS;
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
        Self { table, means, rises }
    }

    /// Value at a place read before.
    pub(super) fn value(&self, left: &Reading) -> f64 {
        left.of(&self.table)
    }
}

/// What happens first between two places, and fills no block.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    /// Steps left at its end and at its start.
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) mass: f64,
    /// Mean place from the middle of the piece, as a share of its length.
    pub(super) off: f64,
}

/// Masses by blocks counted back from an end, and others at places of their own.
#[derive(Debug)]
pub(super) struct Masses {
    first: usize,
    blocks: Vec<f64>,
    /// Corrections of the slopes at the outer blocks: (block, factor of its rise).
    edges: [(usize, f64); 4],
    /// Masses at places that stand for up to two pieces, by Simpson's rule.
    places: [(Reading, f64); 6],
    /// Masses at exact places.
    exact: Vec<(Reading, f64)>,
}

impl Masses {
    /// Masses from block `first` on, and at most two pieces.
    pub(super) fn new(first: usize, blocks: Vec<f64>, pieces: &[Piece], bends: &Bends) -> Self {
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
        let mut places = [(Reading::default(), 0.0); 6];
        for (of_piece, piece) in places.chunks_exact_mut(3).zip(pieces) {
            let middle = 0.5 * (piece.from + piece.to);
            let ends = piece.mass / 6.0;
            if let [start, inner, end] = of_piece {
                *start = (bends.reading(piece.from), ends - piece.mass * piece.off);
                *inner = (bends.reading(middle), 4.0 * ends);
                *end = (bends.reading(piece.to), ends + piece.mass * piece.off);
            }
        }
        Self { first, blocks, edges, places, exact: Vec::new() }
    }

    /// Adds a mass at a place.
    pub(super) fn add_exact(&mut self, left: Reading, mass: f64) {
        self.exact.push((left, mass));
    }

    /// The same with every mass multiplied.
    pub(super) fn scaled(mut self, factor: f64) -> Self {
        self.blocks.iter_mut().for_each(|m| *m *= factor);
        self.edges.iter_mut().for_each(|e| e.1 *= factor);
        self.places.iter_mut().for_each(|p| p.1 *= factor);
        self
    }

    /// Both together; they have the same blocks and pieces, and no exact places yet.
    pub(super) fn and(&self, other: &Self) -> Self {
        let blocks = self.blocks.iter().zip(&other.blocks).map(|(a, b)| a + b).collect();
        let mut sum = Self { first: self.first, blocks, edges: self.edges, places: self.places, exact: Vec::new() };
        for (a, b) in sum.edges.iter_mut().zip(&other.edges) {
            a.1 += b.1;
        }
        for (a, b) in sum.places.iter_mut().zip(&other.places) {
            a.1 += b.1;
        }
        sum
    }

    pub(super) fn whole(&self) -> f64 {
        self.blocks.iter().sum::<f64>() + self.places.iter().map(|p| p.1).sum::<f64>()
    }

    /// Sum of the masses times what is left to happen after each.
    pub(super) fn times(&self, left: &Blocks) -> f64 {
        let mut sum = product(&self.blocks, left.means.get(self.first..).unwrap_or(&[]));
        for (block, factor) in &self.edges {
            sum += factor * at(&left.rises, *block);
        }
        for (place, mass) in self.places.iter().chain(&self.exact).filter(|p| p.1 != 0.0) {
            sum += mass * left.value(place);
        }
        sum
    }
}
