//! How far a figure within a window reaches among all lives whose likelihood is high enough: the ends of its profile
//! interval where a search that follows the figure has no highest point to start from, or runs out along a parameter that the
//! records do not settle.
//!
//! One coordinate is walked outward; at each of its values the other one is bounded by where the likelihood has fallen. The
//! figure's lowest and highest value on that border are its ends.

use super::held::{Condition, Held};
use super::newton::{Point, Surface, climb};
use super::ridge::IMPOSSIBLE;
use super::search::Engine;
use crate::base::error::Result;
use crate::base::math::root::bracketed;
use crate::base::run::Run;
use crate::family::{Family, Order};

/// First step of a walk, in natural sizes.
const FIRST: f64 = 0.02;
/// Growth of a step.
const GROWTH: f64 = 1.2;
/// Steps of a walk: the last one is a million natural sizes out.
const STEPS: usize = 90;
/// Move of both ends over the last doubling of the distance from which the figure has arrived in its limit.
const ARRIVED: f64 = 1e-7;
/// Precision of a border, in natural sizes.
const PRECISION: f64 = 1e-9;
/// Halvings of a step over the border.
const HALVINGS: usize = 40;
/// Narrowings around the outermost place of a walk.
const NARROWINGS: usize = 36;

/// Lowest and highest value of a figure.
#[derive(Clone, Copy, Debug)]
pub(super) struct Reach {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Reach {
    fn at(value: f64) -> Self {
        Self { low: value, high: value }
    }

    fn with(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.max(other.high) }
    }

    fn moved(self, from: Self) -> f64 {
        (self.low - from.low).abs().max((self.high - from.high).abs())
    }
}

/// A likelihood over one or two coordinates, and a figure of them.
pub(super) struct Border<'s> {
    pub(super) engine: &'s Engine<'s>,
    pub(super) family: &'s dyn Family,
    pub(super) figure: &'s dyn Fn(&[f64]) -> Result<f64>,
    /// The log-likelihood that a life must reach.
    pub(super) floor: f64,
    pub(super) iterations: u64,
    pub(super) run: &'s Run,
    /// The coordinate that is walked.
    pub(super) walked: usize,
}

impl Border<'_> {
    /// The reach of the figure from the coordinates `x`, which must lie inside the border; none for a family of more than
    /// two coordinates, or where a search does not settle.
    pub(super) fn reach(&self, x: &[f64]) -> Result<Option<Reach>> {
        let mut reach = Reach::at((self.figure)(x)?);
        if x.len() > 2 {
            return Ok(None);
        }
        for sign in [-1.0, 1.0] {
            match self.side(x, sign)? {
                Some(found) => reach = reach.with(found),
                None => return Ok(None),
            }
        }
        Ok((reach.low.is_finite() && reach.high.is_finite()).then_some(reach))
    }

    /// Coordinates where a walk to one side from `x` leaves the likely lives; none where it does not.
    fn border(&self, x: &[f64], sign: f64) -> Result<Option<Vec<f64>>> {
        let (mut inside, mut warm) = (x[self.walked], x.to_vec());
        let mut step = FIRST * self.family.step(x, self.walked);
        for _ in 0..STEPS {
            self.run.check()?;
            let mut outside = inside + sign * step;
            if self.across(outside, &mut warm)?.is_some() {
                (inside, step) = (outside, GROWTH * step);
                continue;
            }
            for _ in 0..HALVINGS {
                let middle = f64::midpoint(inside, outside);
                if self.across(middle, &mut warm)?.is_some() { inside = middle } else { outside = middle }
            }
            return Ok(Some(warm));
        }
        Ok(None)
    }

    /// The walk to one side from the border on the other: its steps are short where the figure moves and long where it has
    /// come near its limit.
    fn side(&self, x: &[f64], sign: f64) -> Result<Option<Reach>> {
        let unit = self.family.step(x, self.walked);
        let mut warm = self.border(x, -sign)?.unwrap_or_else(|| x.to_vec());
        let from = warm[self.walked];
        let Some(first) = self.across(from, &mut warm)? else { return Ok(None) };
        let mut path = vec![(from, first, warm.clone())];
        let (mut step, mut outside) = (FIRST * unit, None);
        for _ in 0..STEPS {
            self.run.check()?;
            let last = path.last().map_or(from, |p| p.0);
            let next = last + sign * step;
            let Some(found) = self.across(next, &mut warm)? else {
                outside = Some(next);
                break;
            };
            path.push((next, found, warm.clone()));
            step *= GROWTH;
            let half = path.iter().rev().find(|p| (p.0 - from).abs() <= 0.5 * (next - from).abs());
            if let (Some(half), Some(end)) = (half, path.last())
                && (next - from).abs() > unit
                && end.1.moved(half.1) < ARRIVED
            {
                break;
            }
        }
        let mut reach = path.iter().fold(Reach::at((self.figure)(x)?), |reach, p| reach.with(p.1));
        for upper in [false, true] {
            let value = |r: Reach| if upper { r.high } else { -r.low };
            let most = (0..path.len()).max_by(|a, b| value(path[*a].1).total_cmp(&value(path[*b].1))).unwrap_or(0);
            let ends =
                [path[most.saturating_sub(1)].0, path.get(most + 1).map(|p| p.0).or(outside).unwrap_or(path[most].0)];
            reach = reach.with(self.narrowed(ends, &path[most], value)?);
        }
        Ok(Some(reach))
    }

    /// The outermost value between two places, by the golden section.
    fn narrowed(
        &self,
        [mut a, mut b]: [f64; 2],
        (_, most, warm): &(f64, Reach, Vec<f64>),
        value: impl Fn(Reach) -> f64,
    ) -> Result<Reach> {
        let share = 0.5 * (5.0_f64.sqrt() - 1.0);
        let mut warm = warm.clone();
        let mut at = |v: f64| -> Result<(f64, Option<Reach>)> {
            let found = self.across(v, &mut warm)?;
            Ok((found.map_or(f64::NEG_INFINITY, &value), found))
        };
        let mut best = *most;
        let (mut c, mut d) = (b - share * (b - a), a + share * (b - a));
        let (mut at_c, mut at_d) = (at(c)?, at(d)?);
        for _ in 0..NARROWINGS {
            for (_, found) in [at_c, at_d] {
                best = found.map_or(best, |found| best.with(found));
            }
            if at_c.0 >= at_d.0 {
                (b, d, at_d) = (d, c, at_c);
                c = b - share * (b - a);
                at_c = at(c)?;
            } else {
                (a, c, at_c) = (c, d, at_d);
                d = a + share * (b - a);
                at_d = at(d)?;
            }
        }
        Ok(best)
    }

    /// The reach with the walked coordinate held; none where no life is likely enough.
    fn across(&self, v: f64, warm: &mut Vec<f64>) -> Result<Option<Reach>> {
        let place = |other: Option<f64>| -> Vec<f64> {
            let mut x: Vec<f64> = other.into_iter().collect();
            x.insert(self.walked.min(x.len()), v);
            x
        };
        if warm.len() == 1 {
            let x = place(None);
            if !(self.above(&x)? >= 0.0) {
                return Ok(None);
            }
            let reach = Reach::at((self.figure)(&x)?);
            *warm = x;
            return Ok(Some(reach));
        }
        let other = 1 - self.walked;
        let held = Held {
            engine: self.engine,
            family: self.family,
            settled: self.walked,
            along: None,
            condition: Condition::Fixed(v),
        };
        let best = climb(&held, &[warm[other]], self.iterations, self.run)?;
        let Some(top) = best.x.first().copied() else { return Ok(None) };
        if !(self.above(&place(Some(top)))? >= 0.0) {
            return Ok(None);
        }
        *warm = place(Some(top));
        let unit = self.family.step(warm, other);
        let mut reach = Reach::at((self.figure)(warm)?);
        for sign in [-1.0, 1.0] {
            let (mut inside, mut step) = (top, FIRST * unit);
            for _ in 0..STEPS {
                let next = inside + sign * step;
                if self.above(&place(Some(next)))? >= 0.0 {
                    (inside, step) = (next, 2.0 * step);
                    continue;
                }
                inside = bracketed(|w| self.above(&place(Some(w))), inside, next, PRECISION * unit)?;
                break;
            }
            reach = reach.with(Reach::at((self.figure)(&place(Some(inside)))?));
        }
        Ok(Some(reach))
    }

    /// How far the log-likelihood lies above the floor.
    fn above(&self, x: &[f64]) -> Result<f64> {
        if !self.engine.inside(x) {
            return Ok(IMPOSSIBLE);
        }
        let mut point = Point::new(x.len());
        self.engine.at(x, Order::Value, &mut point)?;
        let above = point.value - self.floor;
        Ok(if above.is_nan() { IMPOSSIBLE } else { above.max(IMPOSSIBLE) })
    }
}
