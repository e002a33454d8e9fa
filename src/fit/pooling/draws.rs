//! Draws of the spread, the baselines and the effects, each with the weight that makes it one of the posterior.

use super::effect::Says;
use super::grid::Grid;
use super::sample::Grouped;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::linalg::packed;
use crate::base::math::special::normal_quantile;
use crate::base::random::Stream;
use crate::base::run::Run;

/// Degrees of freedom of the law from which baselines are drawn: its tails are heavier than those of the posterior.
const FREEDOM: f64 = 5.0;

/// One draw.
#[derive(Clone, Debug)]
pub(super) struct Draw {
    pub(super) spread: f64,
    /// Logarithm of likelihood over density of the draw; the prior of the spread comes on top.
    pub(super) ln_weight: f64,
    /// Hazard of each group over that of the others together.
    pub(super) ratios: Vec<f64>,
    /// 1 for the group of the highest hazard.
    pub(super) ranks: Vec<u32>,
}

/// Hazard of each group over the mean hazard of the others, by what their lamps went through.
fn to_the_rest(lifts: &[f64], expected: &[f64]) -> Vec<f64> {
    let all = expected.iter().fold(0.0, |a, e| a + e);
    let lifted = lifts.iter().zip(expected).map(|(l, e)| l * e).fold(0.0, |a, b| a + b);
    lifts.iter().zip(expected).map(|(l, e)| l * (all - e) / (lifted - l * e)).collect()
}

fn ranks(lifts: &[f64]) -> Vec<u32> {
    let mut order: Vec<usize> = (0..lifts.len()).collect();
    order.sort_by(|a, b| lifts[*b].total_cmp(&lifts[*a]));
    let mut out = vec![0; lifts.len()];
    for (rank, g) in order.into_iter().enumerate() {
        out[g] = rank as u32 + 1;
    }
    out
}

/// Draws in order; each is a pure function of the seed and its number. One outside the domain is left out.
pub(super) fn draws(grouped: &Grouped, grid: &Grid, n: usize, seed: u64, run: &Run) -> Result<Vec<Draw>> {
    let answers = run.map(n, |i| {
        let mut stream = Stream::new(seed, "fit", "pooling", i as u64);
        // One spread from each of n equal shares: its own law then adds next to no noise.
        let (cell, share, ln_spread) = grid.quantile((i as f64 + stream.uniform()) / n as f64);
        let (spread, mut x) = grid.at(cell, share);
        let near = &grid.slices[if share < 0.5 { cell } else { cell + 1 }];
        let width = x.len();
        let chi = 2.0 * (stream.exponential() + stream.exponential()) + normal_quantile(stream.uniform()).powi(2);
        let stretch = (FREEDOM / chi).sqrt();
        let z: Vec<f64> = (0..width).map(|_| stretch * normal_quantile(stream.uniform())).collect();
        for (i, slot) in x.iter_mut().enumerate() {
            *slot += z.iter().take(i + 1).enumerate().map(|(j, z)| near.root[packed(i, j)] * z).fold(0.0, |a, b| a + b);
        }
        let square = z.iter().map(|z| z * z).fold(0.0, |a, b| a + b);
        let ln_x = -near.ln_root - 0.5 * (FREEDOM + width as f64) * (square / FREEDOM).ln_1p();
        let Some((ln_hazard, says)) = grouped.says(&x) else { return Ok(None) };
        let mut ln_weight = ln_hazard - ln_spread - ln_x;
        let mut lifts = Vec::with_capacity(says.len());
        for group in &says {
            // A spread of 0 has no density to draw from, and is never drawn but in the limit.
            let Some(effect) = group.effect(spread.max(1e-9)) else { return Ok(None) };
            ln_weight += effect.ln_total;
            lifts.push(effect.quantile(stream.uniform()).exp());
        }
        let expected: Vec<f64> = says.iter().map(Says::shown).collect();
        let draw = Draw { spread, ln_weight, ratios: to_the_rest(&lifts, &expected), ranks: ranks(&lifts) };
        let sound = draw.ln_weight.is_finite() && draw.ratios.iter().all(|r| r.is_finite());
        Ok(sound.then_some(draw))
    })?;
    let kept: Vec<Draw> = answers.into_iter().collect::<Result<Vec<_>>>()?.into_iter().flatten().collect();
    if 2 * kept.len() < n {
        let what = "fewer than half of the draws lie where numbers are finite";
        let problem = Problem::new("fit.pooling_unsettled", what).at(Place::input("draws")).got(kept.len());
        return Err(Error::new(Kind::Refused, problem.expected(format!("{} or more", n / 2))));
    }
    Ok(kept)
}

/// Weights that add up to 1, and how many even draws would say as much.
pub(super) fn weights(draws: &[Draw], ln_prior: impl Fn(f64) -> f64) -> (Vec<f64>, f64) {
    let ln: Vec<f64> = draws.iter().map(|d| d.ln_weight + ln_prior(d.spread)).collect();
    let top = ln.iter().fold(f64::NEG_INFINITY, |m, v| m.max(*v));
    let mut weights: Vec<f64> = ln.iter().map(|v| (v - top).exp()).collect();
    let sum = weights.iter().fold(0.0, |a, b| a + b);
    for w in &mut weights {
        *w /= sum;
    }
    let square = weights.iter().map(|w| w * w).fold(0.0, |a, b| a + b);
    (weights, 1.0 / square)
}

/// Values in rising order with the place of their draw.
pub(super) fn ascending(values: impl Iterator<Item = f64>) -> Vec<(f64, usize)> {
    let mut out: Vec<(f64, usize)> = values.enumerate().map(|(i, v)| (v, i)).collect();
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    out
}

/// The value at which the weights add up to `p`, half of each on either side of it, straight in between.
pub(super) fn quantile(ascending: &[(f64, usize)], weights: &[f64], p: f64) -> f64 {
    let mut sum = 0.0;
    let mut before: Option<(f64, f64)> = None;
    for (value, i) in ascending {
        let middle = sum + 0.5 * weights[*i];
        if middle >= p {
            return before.map_or(*value, |(low, at)| low + (p - at) / (middle - at) * (value - low));
        }
        before = Some((*value, middle));
        sum += weights[*i];
    }
    before.map_or(f64::NAN, |(value, _)| value)
}
