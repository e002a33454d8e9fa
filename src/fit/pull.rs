//! The profile of any smooth figure: the likelihood is pulled towards a value of the figure, and where it comes to rest is
//! the best place for the value that the figure has there.

use super::newton::{Point, Surface, climb};
use super::ridge::{Height, IMPOSSIBLE, settled};
use super::search::Engine;
use super::target::Target;
use crate::base::error::{Kind, Result};
use crate::base::math::linalg::packed;
use crate::base::run::Run;
use crate::family::{Family, Order};

/// Strength of the pull in units of the curvature of the profile at its top. Strong enough to hold a place where the
/// profile bends the other way, weak enough to leave the likelihood its digits.
const STRENGTH: f64 = 100.0;
/// Distance from the value asked for, in standard errors, at which its slope alone carries the height there.
const NEAR: f64 = 1e-7;
/// Distance, in standard errors, by which a figure must stay short of a value to count as not taking it.
const SHORT: f64 = 1e-3;
/// Share of its slope at the estimate below which a figure has none.
const FLAT: f64 = 0.01;
/// Moves of the place pulled towards before the figure counts as not taking the value.
const MOVES: u32 = 12;
/// How many times further the pull may reach than the figure moves.
const SLACK: f64 = 1e4;

/// Log-likelihood less half the strength times the squared distance of the figure from the place pulled towards.
///
/// At its maximum the slope of the log-likelihood is a multiple of that of the figure: the condition of a maximum with
/// the figure held where it is.
struct Pulled<'s> {
    engine: &'s Engine<'s>,
    family: &'s dyn Family,
    target: Target<'s>,
    strength: f64,
    towards: f64,
}

impl Surface for Pulled<'_> {
    fn width(&self) -> usize {
        self.engine.width()
    }

    fn at(&self, x: &[f64], order: Order, out: &mut Point) -> Result<()> {
        self.engine.at(x, order, out)?;
        if !out.value.is_finite() {
            return Ok(());
        }
        let value = self.target.or_nan(self.family, x)?;
        if !value.is_finite() {
            out.value = f64::NEG_INFINITY;
            return Ok(());
        }
        let apart = value - self.towards;
        out.value -= 0.5 * self.strength * apart * apart;
        if order == Order::Value {
            return Ok(());
        }
        let slopes = self.target.gradient(self.family, x, value);
        let both = slopes.and_then(|s| Ok((self.target.hessian(self.family, x, value, &s)?, s)));
        let (curves, slopes) = match both {
            Ok(both) => both,
            // Next to where the figure ends there is no slope to follow.
            Err(error) if error.kind() == Kind::Domain => {
                out.value = f64::NEG_INFINITY;
                return Ok(());
            }
            Err(error) => return Err(error),
        };
        for (i, a) in slopes.iter().enumerate() {
            out.gradient[i] -= self.strength * apart * a;
            for (j, b) in slopes.iter().enumerate().take(i + 1) {
                out.hessian[packed(i, j)] -= self.strength * (a * b + apart * curves[packed(i, j)]);
            }
        }
        Ok(())
    }

    fn inside(&self, x: &[f64]) -> bool {
        self.engine.inside(x)
    }

    fn step(&self, x: &[f64], i: usize) -> f64 {
        self.family.step(x, i)
    }

    fn floor(&self, i: usize) -> f64 {
        self.family.floor(i)
    }
}

/// What a figure is and where the likelihood is highest.
#[derive(Clone, Copy)]
pub(super) struct Top<'s> {
    pub(super) engine: &'s Engine<'s>,
    pub(super) family: &'s dyn Family,
    pub(super) target: Target<'s>,
    pub(super) log_likelihood: f64,
    /// The figure there, on its working scale, and its standard error.
    pub(super) value: f64,
    pub(super) error: f64,
    /// How far it moves there where each coordinate moves by its natural size.
    pub(super) size: f64,
}

/// The profile where the figure has the value `w`, and the coordinates there, by a search from `start`.
///
/// The place pulled towards is moved on by what is still missing, by secants, until the figure has the value.
pub(super) fn height(top: &Top, w: f64, start: &[f64], iterations: u64, run: &Run) -> Result<(Height, Vec<f64>)> {
    let strength = STRENGTH / (top.error * top.error);
    let mut surface = Pulled {
        engine: top.engine,
        family: top.family,
        target: top.target,
        strength,
        // What a quadratic likelihood needs.
        towards: w + (w - top.value) / STRENGTH,
    };
    let mut x = start.to_vec();
    let mut before: Option<(f64, f64)> = None;
    let (mut low, mut sound, mut here) = (IMPOSSIBLE, false, f64::NAN);
    for _ in 0..MOVES {
        let best = climb(&surface, &x, iterations, run)?;
        if !best.point.value.is_finite() {
            return Ok((Height { value: IMPOSSIBLE, settled: false, nearest: None }, x));
        }
        x.clone_from(&best.x);
        here = top.target.or_nan(top.family, &x)?;
        let (apart, left) = (here - surface.towards, w - here);
        low = best.point.value + 0.5 * strength * apart * apart - top.log_likelihood;
        if left.abs() <= NEAR * top.error {
            // The slope of the profile is that of the pull.
            let value = (low + strength * apart * left).max(IMPOSSIBLE);
            return Ok((Height { value, settled: settled(&best), nearest: None }, x));
        }
        // Only a true maximum that falls visibly short, where the figure has no slope left, shows that it goes no further:
        // numbers may end as well, and a likelihood may fall as steeply as the pull rises.
        sound = best.converged() && left.abs() > SHORT * top.error && size(top, &x, here, &best.held) < FLAT * top.size;
        let rate = before.map_or(1.0, |(towards, value)| (surface.towards - towards) / (here - value));
        before = Some((surface.towards, here));
        if !(rate > 0.0 && rate < SLACK) {
            break;
        }
        surface.towards += rate * left;
    }
    Ok((Height { value: low.max(IMPOSSIBLE), settled: sound, nearest: Some(here) }, x))
}

/// How far the figure moves where each coordinate that is free moves by its natural size; without end where that has no
/// answer.
fn size(top: &Top, x: &[f64], value: f64, held: &[bool]) -> f64 {
    let Ok(slopes) = top.target.gradient(top.family, x, value) else { return f64::INFINITY };
    let free = slopes.iter().enumerate().zip(held).filter(|(_, held)| !**held);
    free.map(|((i, slope), _)| (slope * top.family.step(x, i)).powi(2)).sum::<f64>().sqrt()
}
