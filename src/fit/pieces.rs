//! Piecewise-constant hazard: its closed form, and pieces about which the records say nothing.

use super::likelihood::Likelihood;
use super::newton::{Outcome, Point, Stop, Surface, climb};
use super::refusal::{failures, rate_bound_95, refused};
use super::sample::{Evidence, Row, Sample};
use super::search::FitOptions;
use crate::base::error::Result;
use crate::base::figure::full_hours;
use crate::base::math::sum;
use crate::base::run::Run;
use crate::family::{Family, MOST_PIECES, Order};

/// First part of the name of every such family.
pub(super) const PIECEWISE: &str = "piecewise_constant(";

/// Start and end of piece `i`.
fn ends(cuts: &[f64], i: usize) -> (f64, f64) {
    let start = i.checked_sub(1).and_then(|i| cuts.get(i).copied()).unwrap_or(0.0);
    (start, cuts.get(i).copied().unwrap_or(f64::INFINITY))
}

/// Weight of the failures and hours under observation in each piece; of a failure known to an interval only the hours
/// seen working, and no failure.
fn seen(cuts: &[f64], sample: &Sample) -> Vec<(f64, f64)> {
    const K: usize = 2 * MOST_PIECES;
    let sums: [f64; K] = sum::blocks(sample.tally.rows(), |rows| {
        let mut out = [0.0; K];
        for i in rows {
            let (w, Row { evidence, entry, .. }) = (sample.weights[i], sample.row(i));
            let (age, failed) = match evidence {
                Evidence::Exact(age) => (age, true),
                Evidence::Passed(age) | Evidence::Between(age, _) => (age, false),
            };
            for (piece, pair) in out.chunks_exact_mut(2).enumerate().take(cuts.len() + 1) {
                let (start, end) = ends(cuts, piece);
                pair[1] += w * (age.min(end) - entry.max(start)).max(0.0);
                if failed && start < age && age <= end {
                    pair[0] += w;
                }
            }
        }
        out
    });
    sums.chunks_exact(2).map(|pair| (pair[0], pair[1])).take(cuts.len() + 1).collect()
}

/// Whether a failure can lie in piece `i`.
fn touched(cuts: &[f64], i: usize, sample: &Sample) -> bool {
    let (start, end) = ends(cuts, i);
    failures(sample).any(|(_, row)| match row.evidence {
        Evidence::Exact(age) => start < age && age <= end,
        Evidence::Between(low, high) => low < end && start < high,
        Evidence::Passed(_) => false,
    })
}

/// Refuses a piece in which no failure can lie: its hazard has no estimate above 0, only a bound.
pub(super) fn check(cuts: &[f64], sample: &Sample) -> Result<()> {
    for i in 0..=cuts.len() {
        let (start, end) = ends(cuts, i);
        if touched(cuts, i, sample) {
            continue;
        }
        let hours = seen(cuts, sample).get(i).map_or(0.0, |piece| piece.1);
        let hint = rate_bound_95(hours).map_or_else(
            || "no lamp was watched there: move the cut, or leave it out".to_owned(),
            |rate| {
                format!(
                    "with 95 % confidence it is at most {rate:.4e} per hour (2.996 / {} h), and 0 is not excluded: \
                     join the piece to its neighbour by leaving a cut out",
                    full_hours(hours)
                )
            },
        );
        let upto = if end == f64::INFINITY { "on".to_owned() } else { format!("to {end} h") };
        let what = format!("no failure in the piece from {start} h {upto}: hazard_{} has no estimate above 0", i + 1);
        return Err(refused("fit.empty_piece", what, hint));
    }
    Ok(())
}

/// Logarithm of a hazard that stands for 0: no sum of hours brings it near one failure.
const NO_HAZARD: f64 = -80.0;

/// The likelihood with the hazards that have no estimate above 0 resting there.
struct Rested<'s> {
    likelihood: Likelihood<'s>,
    empty: Vec<bool>,
}

impl Surface for Rested<'_> {
    fn width(&self) -> usize {
        self.likelihood.width()
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        self.likelihood.at(x, order, out)
    }

    fn inside(&self, x: &[f64]) -> bool {
        self.likelihood.inside(x)
    }

    fn floor(&self, i: usize) -> f64 {
        if self.empty.get(i) == Some(&true) { NO_HAZARD } else { f64::NEG_INFINITY }
    }
}

/// The supremum of the log-likelihood where some pieces hold no failure: their hazards are 0. None if no search settles.
pub(super) fn edge(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Option<f64>> {
    let cuts = family.cuts();
    let empty: Vec<bool> = (0..=cuts.len()).map(|i| !touched(cuts, i, sample)).collect();
    let surface = Rested { likelihood: Likelihood { family, sample }, empty };
    for mut start in family.starts(&sample.outline()) {
        start.iter_mut().zip(&surface.empty).filter(|(_, empty)| **empty).for_each(|(x, _)| *x = NO_HAZARD);
        let there = climb(&surface, &start, options.iterations, run)?;
        if there.converged() {
            return Ok(Some(there.point.value));
        }
    }
    Ok(None)
}

/// Hazard of each piece = failures / hours under observation, for exact failures and right-censored lives, late entry too.
pub(super) fn closed(likelihood: &Likelihood) -> Result<Outcome> {
    let pieces = seen(likelihood.family.cuts(), likelihood.sample);
    let x: Vec<f64> = pieces.iter().map(|(failures, hours)| (failures / hours).ln()).collect();
    let mut point = Point::new(x.len());
    likelihood.at(&x, Order::Hessian, &mut point)?;
    let held = vec![false; x.len()];
    Ok(Outcome { x, point, iterations: 0, stop: Stop::ClosedForm, held })
}
