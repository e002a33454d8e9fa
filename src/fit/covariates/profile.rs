//! Profiles of one coefficient, and the bound where it has no finite maximum.

use super::surface::Held;
use crate::base::error::Result;
use crate::base::math::root::bracketed;
use crate::base::run::Run;
use crate::fit::newton::{Surface, climb};
use crate::fit::ridge::IMPOSSIBLE;

/// Steps in the hunt for a value outside.
const STEPS: u32 = 30;
/// Precision of an end, in standard errors.
const PRECISION: f64 = 1e-9;

/// The highest log-likelihood with some coordinates held. `warm` follows the walk.
fn height<S: Surface>(surface: &S, held: Vec<Option<f64>>, warm: &mut Vec<f64>, most: u64, run: &Run) -> Result<f64> {
    let held = Held { surface, held };
    let best = climb(&held, &held.moving(warm), most, run)?;
    let value = best.point.value;
    if best.converged() {
        *warm = held.whole(&best.x);
    }
    Ok(if value.is_finite() { value } else { IMPOSSIBLE })
}

fn holding(width: usize, i: usize, value: f64) -> Vec<Option<f64>> {
    (0..width).map(|k| (k == i).then_some(value)).collect()
}

/// Where the profile of coordinate `i` has fallen by half of z squared, on the side of `sign`; none where it never does.
pub(crate) fn end<S: Surface>(
    surface: &S,
    x: &[f64],
    top: f64,
    (i, error): (usize, f64),
    (z, sign): (f64, f64),
    most: u64,
    run: &Run,
) -> Result<Option<f64>> {
    let mut warm = x.to_vec();
    let mut above = |value: f64| -> Result<f64> {
        Ok(height(surface, holding(x.len(), i, value), &mut warm, most, run)? - top + 0.5 * z * z)
    };
    let (mut inside, mut step) = (x[i], z * error);
    for _ in 0..STEPS {
        let outside = inside + sign * step;
        if above(outside)? < 0.0 {
            return bracketed(above, inside, outside, PRECISION * error).map(Some);
        }
        (inside, step) = (outside, 2.0 * step);
        if (inside - x[i]).abs() > 1e6 * error {
            break;
        }
    }
    Ok(None)
}

/// The bound of a coefficient whose likelihood rises for ever on the side of `sign`: where its profile lies z^2 / 2 below
/// what it rises to. `others` hold further coefficients that run away. None if the profile does not fall that far.
pub(crate) fn runaway<S: Surface>(
    surface: &S,
    start: &[f64],
    i: usize,
    (far, z): (f64, f64),
    others: &[(usize, f64)],
    most: u64,
    run: &Run,
) -> Result<Option<f64>> {
    let mut warm = start.to_vec();
    let mut at = |value: f64| {
        let mut held = holding(start.len(), i, value);
        for (k, value) in others {
            held[*k] = Some(*value);
        }
        height(surface, held, &mut warm, most, run)
    };
    let top = at(far)?;
    let mut above = |value: f64| Ok(at(value)? - top + 0.5 * z * z);
    // In steps from afar, so that each search starts near its own end.
    let step = -far / 20.0;
    let (mut inside, mut outside) = (far, far + step);
    for _ in 0..60 {
        if above(outside)? < 0.0 {
            return bracketed(above, inside, outside, 1e-9 * far.abs()).map(Some);
        }
        (inside, outside) = (outside, outside + step);
    }
    Ok(None)
}
