//! The generalised gamma family: maxima of the narrower families that it holds, a walk along its shape from there, and
//! where the likelihood goes as the shape grows without bound.

use super::held::{Condition, Held};
use super::newton::{Point, Surface, climb};
use super::peaks::{ABOVE, THIN};
use super::sample::Sample;
use super::search::{Engine, FitOptions, maximise};
use super::shape_limit::{Side, highest};
use super::window_shape::{WindowLimit, within};
use crate::base::error::{Kind, Result};
use crate::base::run::Run;
use crate::family::{Family, GammaFamily, LognormalFamily, Order, WeibullFamily};

/// Place of the shape among the coordinates.
const SHAPE: usize = 2;
/// Sizes of the shape that the walk tries: past the last one a life is that of the limit but for a sliver of its ages.
const SIZES: [f64; 9] = [1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0];
/// Fall below the highest narrower family from which the walk turns back.
const DEEP: f64 = 20.0;

/// A narrower family at its maximum.
pub(super) struct Narrow {
    pub(super) family: &'static str,
    pub(super) log_likelihood: f64,
    x: [f64; 3],
}

/// Where the likelihood goes as a parameter grows without bound.
#[derive(Clone, Copy)]
pub(super) enum Law {
    /// A power of age with an end.
    Side(Side),
    /// One within windows.
    Window(WindowLimit),
}

/// A limit and how high the likelihood rises towards it.
#[derive(Clone, Copy)]
pub(super) struct Far {
    pub(super) law: Law,
    pub(super) log_likelihood: f64,
}

/// What the walk found.
pub(super) struct Walk {
    /// The narrower families, highest first.
    pub(super) narrow: Vec<Narrow>,
    /// Coordinates to climb from.
    pub(super) starts: Vec<Vec<f64>>,
    /// The highest of the limits.
    pub(super) far: Option<Far>,
}

/// Maxima of the Weibull, lognormal and gamma families as points of the generalised gamma family.
fn narrow(sample: &Sample, options: &FitOptions, run: &Run) -> Result<Vec<Narrow>> {
    let families: [&'static dyn Family; 3] = [&WeibullFamily, &LognormalFamily, &GammaFamily];
    let mut out = Vec::with_capacity(families.len());
    for family in families {
        let outcome = match maximise(family, sample, options, run) {
            Ok(outcome) => outcome,
            Err(error) if error.kind() == Kind::Refused => continue,
            Err(error) => return Err(error),
        };
        let parameters = family.parameters(&outcome.x);
        let ([one, other], true) = (two(&parameters), outcome.point.value.is_finite()) else {
            continue;
        };
        let x = match family.name() {
            "weibull" => [other.ln(), -one.ln(), 1.0],
            "lognormal" => [one, other.ln(), 0.0],
            _ => [(one * other).ln(), -0.5 * one.ln(), 1.0 / one.sqrt()],
        };
        if x.iter().all(|c| c.is_finite()) {
            out.push(Narrow { family: family.name(), log_likelihood: outcome.point.value, x });
        }
    }
    out.sort_by(|a, b| b.log_likelihood.total_cmp(&a.log_likelihood));
    Ok(out)
}

/// The first two of some values.
fn two(values: &[f64]) -> [f64; 2] {
    [0, 1].map(|i| values.get(i).copied().unwrap_or(f64::NAN))
}

/// Location and ln scale at another shape that keep the power of age, and the age where it ends, to which a large shape
/// leads: F = (t / end)^power below `end` for a shape above 0, R = (t / end)^power above it for one below 0.
fn kept(location: f64, ln_scale: f64, from: f64, to: f64) -> [f64; 2] {
    if from.abs() < 2.0 {
        return [location, ln_scale];
    }
    let power = 1.0 / (from * ln_scale.exp());
    let rest = |shape: f64| -(shape * shape).ln() / (shape * shape) / power;
    [location - rest(from) + rest(to), ln_scale + (from / to).ln()]
}

/// Walks out along the shape on both sides of the narrower families.
pub(super) fn walk(family: &dyn Family, sample: &Sample, options: &FitOptions, run: &Run) -> Result<Walk> {
    let narrow = narrow(sample, options, run)?;
    if sample.count.windowed {
        return windowed(sample, narrow, options, run);
    }
    // The walk gives starts, for which a part of many rows is enough.
    let thin = sample.thinned(THIN);
    let engine = Engine::new(family, thin.as_ref().unwrap_or(sample), false);
    let height = |x: &[f64]| -> Result<f64> {
        let mut point = Point::new(x.len());
        engine.at(x, Order::Value, &mut point)?;
        Ok(point.value)
    };
    let mut starts: Vec<Vec<f64>> = narrow.iter().map(|n| n.x.to_vec()).collect();
    let mut far: Option<Far> = None;
    let mut top = f64::NEG_INFINITY;
    for known in &narrow {
        top = top.max(height(&known.x)?);
    }
    for (side, sign, first) in [(Side::Above, 1.0, "weibull"), (Side::Below, -1.0, "lognormal")] {
        let Some(from) = narrow.iter().find(|n| n.family == first).or(narrow.first()) else { continue };
        let [mut location, mut ln_scale, mut shape] = from.x;
        let mut path = vec![(height(&from.x)?, from.x.to_vec())];
        for size in SIZES {
            let next = sign * size;
            if (next - shape) * sign <= 0.0 {
                continue;
            }
            let condition = Condition::Fixed(next);
            let held = Held { engine: &engine, family, settled: SHAPE, along: None, condition };
            let there = climb(&held, &kept(location, ln_scale, shape, next), options.iterations, run)?;
            if !there.point.value.is_finite() {
                break;
            }
            [location, ln_scale] = two(&there.x);
            shape = next;
            path.push((there.point.value, vec![location, ln_scale, shape]));
            if there.point.value < top - DEEP {
                break;
            }
        }
        let height = |i: usize| path.get(i).map(|p| p.0);
        for (i, (here, x)) in path.iter().enumerate().skip(1) {
            if height(i - 1).is_some_and(|before| before < *here) && height(i + 1).is_none_or(|after| after <= *here) {
                starts.push(x.clone());
            }
        }
        // A walk that fell off leads to no limit worth the search.
        if path.last().is_some_and(|p| p.0 < top - DEEP) {
            continue;
        }
        if let Some(log_likelihood) = highest(sample, side)
            && far.is_none_or(|f| f.log_likelihood < log_likelihood)
        {
            far = Some(Far { law: Law::Side(side), log_likelihood });
        }
    }
    Ok(Walk { narrow, starts, far })
}

/// The same for records that show failures only: their windows hold the likelihood up far beyond where a walk ends.
fn windowed(sample: &Sample, narrow: Vec<Narrow>, options: &FitOptions, run: &Run) -> Result<Walk> {
    let found = within(sample, options.iterations, run)?;
    let mut far = found.limit.map(|r| Far { law: Law::Window(r.limit), log_likelihood: r.log_likelihood });
    for side in [Side::Above, Side::Below] {
        if let Some(log_likelihood) = highest(sample, side)
            && far.is_none_or(|f| f.log_likelihood < log_likelihood - ABOVE)
        {
            far = Some(Far { law: Law::Side(side), log_likelihood });
        }
    }
    Ok(Walk { narrow, starts: found.peaks, far })
}
