//! The spread between groups: for values of it the best baselines, and how likely each value is.

use super::sample::Grouped;
use super::surface::Marginal;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::math::linalg::{inverse, packed, root};
use crate::base::run::Run;
use crate::fit::newton::climb;

/// Values of the spread in one pass.
const VALUES: usize = 17;
/// Values that must matter before a grid is fine enough.
const ENOUGH: usize = 12;
const PASSES: usize = 8;
/// How far the widest prior is followed, in its scales.
const FARTHEST: f64 = 5.0;
/// A density below this share of its top does not matter.
const LEAST: f64 = 1e-6;

/// The baselines at one spread: their best coordinates, and the normal law about them.
#[derive(Clone, Debug)]
pub(super) struct Slice {
    pub(super) spread: f64,
    pub(super) x: Vec<f64>,
    /// Packed lower root of the covariance.
    pub(super) root: Vec<f64>,
    pub(super) ln_root: f64,
    /// Logarithm of the likelihood with the baselines integrated out, up to a constant.
    ln_mass: f64,
}

/// A density of the spread, straight between its values, that covers the posterior under every prior scale asked for.
#[derive(Debug)]
pub(super) struct Grid {
    pub(super) slices: Vec<Slice>,
    density: Vec<f64>,
}

/// Logarithm of the half-normal density, up to a constant that no scale shares.
pub(super) fn ln_prior(spread: f64, scale: f64) -> f64 {
    -0.5 * (spread / scale).powi(2) - scale.ln()
}

/// Failures of a group past which a baseline that does not settle is put down to rounding.
///
/// Measured with even groups: 10 million settle, 100 million do not. The second derivatives of the group are of the size of
/// its failures, and all but a few units of them cancel where its effect is integrated out.
const MOST_FAILURES: u64 = 10_000_000;

fn slice(grouped: &Grouped, spread: f64, start: &[f64], iterations: u64, run: &Run) -> Result<Slice> {
    let outcome = climb(&Marginal { grouped, spread }, start, iterations, run)?;
    let refused = || {
        let most = grouped.failures.iter().copied().max().unwrap_or(0);
        if most > MOST_FAILURES {
            let what = "a group has so many failures that what they say of the baseline beside its own effect is lost in \
                        rounding";
            let problem = Problem::new("fit.pooling_not_identified", what).at(Place::input("tally"));
            let expected = format!("up to about {} in a group", counted(MOST_FAILURES, "failure"));
            let hint = "with so many failures a fit of each group alone says as much";
            return Error::new(Kind::Refused, problem.got(counted(most, "failure")).expected(expected)).with_hint(hint);
        }
        let what = "the records do not settle the baseline of the hazards";
        let problem = Problem::new("fit.pooling_not_identified", what).at(Place::input("family"));
        let hint = "fewer strata, a family of fewer parameters, or more failures";
        Error::new(Kind::Refused, problem.got(grouped.family.name())).with_hint(hint)
    };
    if !outcome.converged() || outcome.held.contains(&true) || !outcome.point.value.is_finite() {
        return Err(refused());
    }
    let n = outcome.x.len();
    let covariance = inverse(&outcome.point.information(), n).ok_or_else(refused)?;
    let root = root(&covariance, n).ok_or_else(refused)?;
    let ln_root = (0..n).filter_map(|i| root.get(packed(i, i))).map(|d| d.ln()).fold(0.0, |a, b| a + b);
    Ok(Slice { spread, ln_mass: outcome.point.value + ln_root, x: outcome.x, root, ln_root })
}

/// Mean over the prior scales of the posterior density, each made to integrate to 1.
fn density(slices: &[Slice], scales: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; slices.len()];
    for scale in scales {
        let ln: Vec<f64> = slices.iter().map(|s| s.ln_mass + ln_prior(s.spread, *scale)).collect();
        let top = ln.iter().fold(f64::NEG_INFINITY, |m, v| m.max(*v));
        let one: Vec<f64> = ln.iter().map(|v| (v - top).exp()).collect();
        let area = cells(slices, &one).iter().fold(0.0, |a, b| a + b);
        out.iter_mut().zip(&one).for_each(|(slot, d)| *slot += d / (area * scales.len() as f64));
    }
    out
}

fn cells(slices: &[Slice], density: &[f64]) -> Vec<f64> {
    let widths = slices.windows(2).map(|p| p[1].spread - p[0].spread);
    widths.zip(density.windows(2)).map(|(w, d)| 0.5 * w * (d[0] + d[1])).collect()
}

impl Grid {
    pub(super) fn new(grouped: &Grouped, start: &[f64], scales: &[f64], iterations: u64, run: &Run) -> Result<Self> {
        let widest = scales.iter().fold(0.0, |m: f64, s| m.max(*s));
        let (mut from, mut to) = (0.0, FARTHEST * widest);
        let mut start = start.to_vec();
        let mut pass = 0;
        loop {
            pass += 1;
            let mut slices = Vec::with_capacity(VALUES);
            for k in 0..VALUES {
                let spread = from + (to - from) * k as f64 / (VALUES - 1) as f64;
                let one = slice(grouped, spread, &start, iterations, run)?;
                start.clone_from(&one.x);
                slices.push(one);
            }
            let density = density(&slices, scales);
            let top = density.iter().fold(0.0, |m: f64, d| m.max(*d));
            let matters = |d: &f64| *d > LEAST * top;
            let first = density.iter().position(matters).unwrap_or(0).saturating_sub(1);
            let last = (density.iter().rposition(matters).unwrap_or(0) + 1).min(VALUES - 1);
            if last - first + 1 >= ENOUGH || pass == PASSES {
                return Ok(Self { slices, density });
            }
            (from, to) = (slices[first].spread, slices[last].spread);
            start.clone_from(&slices[first].x);
        }
    }

    /// The spread below which this density holds the share `p`; the place of its cell, how far into it, and ln density.
    pub(super) fn quantile(&self, p: f64) -> (usize, f64, f64) {
        let cells = cells(&self.slices, &self.density);
        let whole = cells.iter().fold(0.0, |a, b| a + b);
        let mut left = p * whole;
        for (k, cell) in cells.iter().enumerate() {
            if left <= *cell || k + 1 == cells.len() {
                let width = self.slices[k + 1].spread - self.slices[k].spread;
                let [a, b] = [self.density[k], self.density[k + 1]];
                let rest = left / width;
                let root = (a * a + 2.0 * (b - a) * rest).max(0.0).sqrt();
                let share = if a + root > 0.0 { (2.0 * rest / (a + root)).clamp(0.0, 1.0) } else { 0.0 };
                return (k, share, ((a + (b - a) * share) / whole).ln());
            }
            left -= cell;
        }
        (0, 0.0, f64::NEG_INFINITY)
    }

    /// Coordinates and spread at a share of the way through a cell.
    pub(super) fn at(&self, cell: usize, share: f64) -> (f64, Vec<f64>) {
        let (a, b) = (&self.slices[cell], &self.slices[cell + 1]);
        let x = a.x.iter().zip(&b.x).map(|(a, b)| a + share * (b - a)).collect();
        (a.spread + share * (b.spread - a.spread), x)
    }
}
