//! The posterior over its coordinates: slices at held shapes, each a density along the age scale.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::newton::{Point, Surface};
use super::prior::{Belief, Prior};
use super::sample::Sample;
use super::search::Engine;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short};
use crate::base::math::pieces::Pieces;
use crate::base::run::Run;
use crate::family::{Family, Life, Link, Order, in_words};

/// The posterior along the age scale while the shape has one value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Slice {
    /// Coordinate of the shape; 0 for a family without one.
    pub(super) shape: f64,
    /// Share of the whole posterior that stands at this shape, in an integral over shapes.
    pub(super) mass: f64,
    /// Density over the coordinate that moves every age, in proportion or by hours, not normed.
    pub(super) along: Pieces,
}

/// How the coordinate of a slice moves the ages, and so how a b-life is placed beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Axis {
    /// All in proportion: the logarithm of an age moves with it.
    Ratio,
    /// All by as many hours.
    Hours,
}

impl Axis {
    pub(super) fn of(family: &dyn Family) -> Self {
        if family.below_zero() { Self::Hours } else { Self::Ratio }
    }

    /// An age on it.
    pub(super) fn place(self, age_hours: f64) -> f64 {
        match self {
            Self::Ratio => age_hours.ln(),
            Self::Hours => age_hours,
        }
    }

    /// The ends on it of what a belief takes for possible.
    pub(super) fn ends(self, belief: Belief) -> (f64, f64) {
        let (low, high) = belief.ends();
        match (self, belief) {
            (Self::Ratio, _) => (low, high),
            (Self::Hours, Belief::Even) => (f64::NEG_INFINITY, f64::INFINITY),
            (Self::Hours, _) => (low.exp(), high.exp()),
        }
    }

    /// Logarithm of the density of a belief over it: an even belief is even on the axis, the others are of the logarithm.
    fn ln_density(self, belief: Belief, at: f64) -> f64 {
        match (self, belief) {
            (Self::Ratio, _) => belief.ln_density(at),
            (Self::Hours, Belief::Even) => 0.0,
            (Self::Hours, _) if at > 0.0 => belief.ln_density(at.ln()) - at.ln(),
            (Self::Hours, _) => f64::MIN,
        }
    }

    /// Least share of the posterior at a shape that gets a slice: hours of either sign have a mean while a power of the scale
    /// still carries it.
    fn least_share(self) -> f64 {
        match self {
            Self::Ratio => 1e-12,
            Self::Hours => 1e-18,
        }
    }
}

/// Fall of a log density below its top from which nothing more counts.
const DEEP: f64 = 32.0;
/// How much deeper the end of the range may lie.
const NEAR: f64 = 20.0;
/// Fall that is enough where the numbers end.
const ENOUGH: f64 = 18.0;
/// Fall over a step of one along the shape's coordinate from which a density is taken to close where numbers end: even
/// beliefs close as a power of the shape, with failures less one as exponent, and one that does not close has none.
const STEEP: f64 = 0.5;
/// The distance over which that fall is read.
const READ: f64 = 0.5;
/// Share of the posterior past the end of numbers up to which it is left out.
const LEFT_OUT: f64 = 1e-4;
/// Size of the shape's coordinate beyond which ages lose their digits.
const EDGE: f64 = 11.0;
/// The same for a Gompertz life, whose spread depends on the logarithm of its shape only, and for a scale in hours above the
/// ages, which then hardly differ.
const FAR_EDGE: f64 = 40.0;
/// Families whose likelihood levels out as the shape runs to an end: towards an even hazard, or towards lives that are spread
/// without end.
const LEVELS_OUT: [&str; 3] = ["gompertz", "birnbaum_saunders", "inverse_gaussian"];
/// Tolerance of the pieces.
const RELATIVE: f64 = 1e-8;
/// Pieces to begin with.
const FIRST: usize = 6;
/// Share of the golden section.
const GOLDEN: f64 = 0.381_966_011_250_105;

/// Where a log density has its top and falls away. `f` gives none where numbers end.
struct Hill {
    top: f64,
    low: f64,
    high: f64,
    /// What lies past the ends of numbers where the density still falls steadily there, over its value at the top.
    beyond: f64,
}

/// Climbs from `start` and walks down both sides, within `ends`; none if it does not close. `steady`: whether a steady fall
/// where numbers end closes it too.
fn hill(
    f: &mut dyn FnMut(f64) -> Result<Option<f64>>,
    start: f64,
    step: f64,
    ends: (f64, f64),
    steady: bool,
) -> Result<Option<Hill>> {
    let start = start.clamp(ends.0, ends.1);
    let Some(mut best) = f(start)? else { return Ok(None) };
    let (mut top, mut step) = (start, step);
    // Up by steps that grow, then down to the top by steps that shrink.
    for sign in [1.0, -1.0] {
        let mut grown = step;
        loop {
            let next = (top + sign * grown).clamp(ends.0, ends.1);
            if next == top {
                break;
            }
            match f(next)? {
                Some(here) if here > best => (top, best, grown) = (next, here, 2.0 * grown),
                _ => break,
            }
        }
        step = step.max(0.5 * grown);
    }
    let (mut left, mut right) = ((top - step).max(ends.0), (top + step).min(ends.1));
    for turn in 0..40 {
        let before = best;
        for side in [-1.0, 1.0] {
            let far = if side < 0.0 { left } else { right };
            let here = top + GOLDEN * (far - top);
            match f(here)? {
                Some(value) if value > best => {
                    if side < 0.0 {
                        right = top;
                    } else {
                        left = top;
                    }
                    (top, best) = (here, value);
                }
                _ => {
                    if side < 0.0 {
                        left = here;
                    } else {
                        right = here;
                    }
                }
            }
        }
        if turn >= 5 && best - before < 0.01 {
            break;
        }
    }
    let (mut edges, mut beyond) = ([top; 2], 0.0);
    for (edge, (sign, end)) in edges.iter_mut().zip([(-1.0, ends.0), (1.0, ends.1)]) {
        let (mut inside, mut shallow, mut reach) = (top, 0.0, 0.25 * step);
        // Out by doubling: to the end of what is possible, past the depth, or to where numbers end.
        let mut deep = loop {
            let next = top + sign * reach;
            if sign * (next - end) >= 0.0 {
                *edge = end;
                break None;
            }
            let fall = f(next)?.map(|here| best - here);
            match fall {
                Some(fall) if fall <= DEEP => (inside, shallow, reach) = (next, fall, 2.0 * reach),
                other => break Some((next, other)),
            }
        };
        // Back by halving, until not much of the range is empty.
        for _ in 0..8 {
            let Some((outside, fall)) = deep else { break };
            if fall.is_some_and(|fall| fall < DEEP + NEAR) {
                break;
            }
            let next = f64::midpoint(inside, outside);
            match f(next)?.map(|here| best - here) {
                Some(fall) if fall <= DEEP => (inside, shallow) = (next, fall),
                other => deep = Some((next, other)),
            }
        }
        match deep {
            None => {}
            Some((outside, Some(_))) => *edge = outside,
            Some((_, None)) if shallow >= ENOUGH => *edge = inside,
            Some((_, None)) => {
                let before = f(inside - sign * READ)?.map(|here| best - here);
                let steep = before.map_or(0.0, |before| (shallow - before) / READ);
                if !steady || steep < STEEP {
                    return Ok(None);
                }
                *edge = inside;
                beyond += (-shallow).exp() / steep;
            }
        }
    }
    Ok((edges[0] < edges[1]).then_some(Hill { top: best, low: edges[0], high: edges[1], beyond }))
}

/// Builds the posterior from a sample.
pub(super) struct Builder<'s> {
    family: &'s dyn Family,
    axis: Axis,
    engine: Engine<'s>,
    prior: Prior,
    outline: crate::family::Outline,
    failures: u64,
    oldest: f64,
    run: &'s Run,
}

/// The place of the coordinate that is not the age scale; none in a family of one parameter.
pub(super) fn shape_place(family: &dyn Family) -> Option<usize> {
    (family.width() == 2).then(|| 1 - family.anchor())
}

pub(super) fn place(family: &dyn Family, shape: f64, along: f64) -> Vec<f64> {
    let mut x = vec![along; family.width()];
    if let Some(slot) = shape_place(family).and_then(|i| x.get_mut(i)) {
        *slot = shape;
    }
    x
}

/// The b-life on the axis where its coordinate stands at 0.
pub(super) fn b_life_at_zero(family: &dyn Family, shape: f64, percent: f64) -> Option<f64> {
    let life = family.at(&place(family, shape, 0.0)).ok()?;
    life.quantile(percent / 100.0).ok().map(|age| Axis::of(family).place(age)).filter(|k| k.is_finite())
}

pub(super) fn check_family(family: &dyn Family) -> Result<()> {
    if family.width() > 2 {
        let what = "a posterior is given for families of one and two parameters";
        let problem =
            Problem::new("fit.posterior_width", what).got(format!("{} with {}", family.name(), family.width()));
        return Err(Error::new(Kind::Refused, problem));
    }
    let links = family.links();
    let moves = match Axis::of(family) {
        // Two rates, or a rate before and one after a given age, move the ages only together.
        Axis::Ratio => family.stretch().is_some_and(|along| {
            along.iter().enumerate().all(|(i, moved)| *moved == f64::from(u8::from(i == family.anchor())))
        }),
        Axis::Hours => matches!(links.get(family.anchor()), Some(Link::Hours)),
    };
    let shape = shape_place(family).is_none_or(|i| matches!(links.get(i), Some(Link::Log)));
    if moves && shape {
        return Ok(());
    }
    let what = "a posterior needs a family whose ages all move in proportion, or by as many hours, with one parameter";
    Err(Error::new(Kind::Refused, Problem::new("fit.posterior_family", what).got(family.name())))
}

/// A belief of a shape is refused where there is none: it would change nothing.
pub(super) fn check_shape(family: &dyn Family, prior: &Prior) -> Result<()> {
    if prior.shape == Belief::Even || shape_place(family).is_some() {
        return Ok(());
    }
    let problem = Problem::new("fit.prior", "a belief of the shape of a family that has none")
        .at(Place::input("prior").column("shape"))
        .got(format!("{} with a belief of its shape", in_words(family.name())))
        .expected("no belief of the shape, or a family of two parameters");
    Err(Error::new(Kind::Input, problem))
}

fn improper(family: &dyn Family, failures: u64) -> Error {
    let what = "records and prior together do not close: the posterior has no finite total within the reach of numbers";
    let problem = Problem::new("fit.posterior_improper", what)
        .got(format!("{} with {}", family.name(), counted(failures, "failure")))
        .expected("a range for the shape, and for the b-life where no lamp failed");
    let hint = if LEVELS_OUT.contains(&family.name()) && failures > 1 {
        "towards one end of its shape this family nears a life without one, and the likelihood no longer falls: however many \
         lamps failed, an even belief of the shape has no finite total there, and only a range closes it"
    } else {
        "an even belief of the shape takes failures at two ages or more, and lamps seen from new"
    };
    Error::new(Kind::Refused, problem).with_hint(hint)
}

/// For what closes, but not where numbers can follow it.
fn out_of_reach(family: &dyn Family, failures: u64, beyond: f64) -> Error {
    let what = "records and prior close, but too much of the posterior lies at shapes that numbers cannot follow";
    let problem = Problem::new("fit.posterior_reach", what)
        .got(format!("{} with {}: a share of {}", family.name(), counted(failures, "failure"), short(beyond)))
        .expected(format!("at most {LEFT_OUT}, such as by a range for the shape"));
    Error::new(Kind::Refused, problem)
}

impl<'s> Builder<'s> {
    pub(super) fn new(
        family: &'s dyn Family,
        sample: &'s Sample<'s>,
        prior: &Prior,
        reduced: bool,
        run: &'s Run,
    ) -> Self {
        Self {
            family,
            axis: Axis::of(family),
            engine: Engine::new(family, sample, reduced),
            prior: *prior,
            outline: sample.outline(),
            failures: sample.count.failures,
            oldest: sample.count.oldest,
            run,
        }
    }

    /// Log posterior along the age scale; none where numbers end.
    fn ln_density(&self, shape: f64, along: f64, at_zero: f64) -> Result<Option<f64>> {
        let x = place(self.family, shape, along);
        if !self.engine.inside(&x) {
            return Ok(None);
        }
        let mut point = Point::new(x.len());
        self.engine.at(&x, Order::Value, &mut point)?;
        // A likelihood of 0 is far below everything, not the end of numbers.
        let ln_l = if point.value.is_finite() { point.value } else { f64::MIN };
        Ok(Some((ln_l + self.axis.ln_density(self.prior.b_life, along + at_zero)).max(f64::MIN)))
    }

    /// A first guess of the place: half failed at the oldest age at risk, where no row has a likelihood of 0, or the
    /// middle of the belief where that is higher.
    fn guess(&self, shape: f64, at_zero: f64) -> Result<f64> {
        let x = place(self.family, shape, 0.0);
        let half = self
            .family
            .anchored(&x, self.oldest, -std::f64::consts::LN_2)
            .unwrap_or_else(|_| self.axis.place(self.oldest));
        let middle = self.prior.b_life.middle().map(|ln| self.axis.place(ln.exp()) - at_zero);
        let Some(middle) = middle else { return Ok(half) };
        let height = |a: f64| Ok(self.ln_density(shape, a, at_zero)?.unwrap_or(f64::NEG_INFINITY));
        Ok(if height(middle)? > height(half)? { middle } else { half })
    }

    /// A step along a slice at one shape: a part of the spread of ages on its axis.
    fn step(&self, shape: f64) -> f64 {
        let life = self.family.at(&place(self.family, shape, 0.0)).ok();
        let at = |l: &dyn Life, p: f64| l.quantile(p).ok().map(|age| self.axis.place(age));
        let spread = life.and_then(|l| Some(at(&*l, 0.9)? - at(&*l, 0.1)?));
        spread.filter(|s| *s > 0.0 && s.is_finite()).map_or(0.25, |s| 0.1 * s)
    }

    /// The density along the age scale at one shape, and the logarithm of its unit; none where it does not close.
    pub(super) fn along(&self, shape: f64) -> Result<Option<(Pieces, f64)>> {
        self.run.check()?;
        let far = if self.family.name() == "gompertz" || self.axis == Axis::Hours { FAR_EDGE } else { EDGE };
        let near = if self.axis == Axis::Hours { EDGE } else { far };
        // A scale in hours is large or small beside the ages.
        let size = if self.axis == Axis::Hours { shape - self.oldest.ln() } else { shape };
        if size > far || size < -near {
            return Ok(None);
        }
        let Some(at_zero) = b_life_at_zero(self.family, shape, self.prior.percent) else { return Ok(None) };
        let (low, high) = self.axis.ends(self.prior.b_life);
        let ends = (low - at_zero, high - at_zero);
        let mut f = |a: f64| self.ln_density(shape, a, at_zero);
        let Some(found) = hill(&mut f, self.guess(shape, at_zero)?, self.step(shape), ends, false)? else {
            return Ok(None);
        };
        let mut density = |a: f64| Ok(f(a)?.map_or(0.0, |here| (here - found.top).exp()));
        Ok(Some((Pieces::of(&mut density, found.low, found.high, FIRST, RELATIVE)?, found.top)))
    }

    /// Every slice, the density over the shape (none for a family of one parameter), and the share of the posterior that
    /// lies past the shapes that numbers can follow.
    pub(super) fn build(&self) -> Result<(Vec<Slice>, Option<Pieces>, f64)> {
        let refused = || improper(self.family, self.failures);
        let Some(i) = shape_place(self.family) else {
            let (along, _) = self.along(0.0)?.ok_or_else(refused)?;
            return Ok((vec![Slice { shape: 0.0, mass: 1.0, along }], None, 0.0));
        };
        let mut f = |c: f64| -> Result<Option<f64>> {
            Ok(self.along(c)?.map(|(p, unit)| unit + p.total().ln() + self.prior.shape.ln_density(c)))
        };
        let start = self.family.starts(&self.outline).first().and_then(|s| s.get(i).copied());
        let unit = if self.axis == Axis::Hours { self.oldest.ln() } else { 0.0 };
        let start = start.filter(|s| s.is_finite()).or(self.prior.shape.middle()).unwrap_or(unit);
        let found = hill(&mut f, start, 0.5, self.prior.shape.ends(), true)?.ok_or_else(refused)?;
        // Slices are kept as they are made: the pieces ask again only where they are cut.
        let mut made = BTreeMap::new();
        let mut density = |c: f64| -> Result<f64> {
            let Some((along, unit)) = self.along(c)? else { return Ok(0.0) };
            let here = unit + along.total().ln() + self.prior.shape.ln_density(c);
            made.insert(c.to_bits(), along);
            Ok((here - found.top).exp())
        };
        let over = Pieces::of(&mut density, found.low, found.high, FIRST, RELATIVE)?;
        let total = over.total();
        let beyond = found.beyond / (total + found.beyond);
        if beyond > LEFT_OUT {
            return Err(out_of_reach(self.family, self.failures, beyond));
        }
        let mut slices = Vec::new();
        for (shape, share) in over.nodes() {
            // A shape that hardly counts needs no slice.
            if share > self.axis.least_share() * total
                && let Some(along) = made.remove(&shape.to_bits())
            {
                slices.push(Slice { shape, mass: share / total, along });
            }
        }
        Ok((slices, Some(over), beyond))
    }
}
