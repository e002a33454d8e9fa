//! The joint confidence region of two parameters: all pairs whose likelihood comes close enough to the maximum.

use serde::{Deserialize, Serialize};

use super::interval::critical_pair;
use super::model::{Fit, Note, check_family};
use super::newton::{Point, Surface};
use super::ridge::{FARTHEST, IMPOSSIBLE};
use super::sample::Sample;
use super::search::{Engine, FitOptions};
use super::target::Target;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::math::root::bracketed;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Link, Order, in_words};
use crate::lives::Tally;

/// A joint confidence region of the two parameters of a family.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LikelihoodRegion {
    /// Name of the family.
    pub family: String,
    /// Names of the two parameters.
    pub parameters: [String; 2],
    /// Both parameters at the maximum.
    pub estimate: [f64; 2],
    /// Whether no single value stands for the one or the other, as the records do not settle it.
    #[serde(default, skip_serializing_if = "none_open")]
    pub open: [bool; 2],
    /// Corners of the polygon, in order around the estimate; the last joins the first.
    pub corners: Vec<[f64; 2]>,
    /// Joint confidence level.
    pub level: f64,
    /// ln L on the border less its maximum: ln(1 - level).
    pub relative_log_likelihood: f64,
    /// Whether the border closes. An open region is cut where the search ended.
    pub closed: bool,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde hands over a reference")]
fn none_open(open: &[bool; 2]) -> bool {
    *open == [false; 2]
}

impl Sound for LikelihoodRegion {
    fn check(&self, c: &mut Checks) {
        let Some(family) = check_family(c, &self.family) else { return };
        let names = self.parameters.iter().map(String::as_str);
        c.need(
            "parameters",
            names.eq(family.parameter_names().iter().copied()),
            self.parameters.join(", "),
            "those of the family",
        );
        c.need(
            "estimate",
            family.life(&self.estimate).is_ok(),
            format!("{:?}", self.estimate),
            "parameters of the family",
        );
        for (i, corner) in self.corners.iter().enumerate() {
            let known = family.coordinates(corner).is_ok();
            c.need(&format!("corners[{i}]"), known, format!("{corner:?}"), "parameters of the family");
        }
        if self.closed && self.corners.len() > 2 {
            let [first, second] = self.estimate;
            let inside = self.contains(first, second);
            c.need("estimate", inside, format!("{:?}", self.estimate), "a pair inside the corners");
        }
        c.level("level", self.level);
        c.equal("relative_log_likelihood", self.relative_log_likelihood, (-self.level).ln_1p());
        c.need("corners", self.corners.len() > 2, self.corners.len(), "3 or more");
    }
}

/// Rays to begin with.
const RAYS: usize = 96;
/// Corners apart by more than this share of the shorter of their rays, or of the ray of a quadratic likelihood where they are
/// longer, get one between them: a circle needs none.
const GAP: f64 = 0.07;
/// Most corners.
const CORNERS: usize = 1_000;
/// Precision of a corner along its ray, in standard errors.
const PRECISION: f64 = 1e-10;
/// Places past a corner, as multiples of its ray, that must lie outside.
const BEYOND: [f64; 4] = [1.1, 1.3, 1.7, 2.5];

/// Rays from the estimate to where the likelihood has fallen to a cut, in coordinates of unit covariance, so that a
/// quadratic likelihood gives a circle.
pub(super) struct Rays<'s> {
    engine: &'s Engine<'s>,
    family: &'s dyn Family,
    /// ln R of the age that stands for the age scale in the coordinates of the rays; none where the scale itself does.
    ln_r: Option<f64>,
    centre: Vec<f64>,
    /// Lower Cholesky factor of the covariance.
    spread: [[f64; 2]; 2],
    top: f64,
    /// Log-likelihood of the border less its maximum, below 0.
    cut: f64,
}

/// Failed shares whose ages may stand for the age scale.
const SHARES: [f64; 11] = [0.001, 0.003, 0.01, 0.03, 0.1, 0.2, 0.3, 0.5, 0.632, 0.8, 0.95];

/// The end of a ray.
#[derive(Clone, Copy, Debug)]
struct Tip {
    angle: f64,
    radius: f64,
    /// Whether the likelihood fell to the cut there.
    closed: bool,
}

impl<'s> Rays<'s> {
    pub(super) fn new(fit: &Fit, engine: &'s Engine<'s>, cut: f64) -> Result<Self> {
        let family = fit.family()?;
        fit.same_data(engine)?;
        let plain = |i: usize, j: usize| fit.coordinate_covariance(i, j).unwrap_or(0.0);
        let mut rays = Self {
            engine,
            family,
            ln_r: None,
            centre: fit.coordinates.clone(),
            spread: cholesky(plain(0, 0), plain(1, 0), plain(1, 1)),
            top: fit.log_likelihood,
            cut,
        };
        let scaled = !matches!(family.links().get(family.anchor()), Some(Link::Hours) | None);
        if scaled {
            rays.straighten(fit)?;
        }
        Ok(rays)
    }

    /// Puts an age in the place of the age scale: the one least tied to the shape. Seen from there the region is
    /// nearly round, while shape and scale of few failures lie on a bent ridge that rays would leave.
    fn straighten(&mut self, fit: &Fit) -> Result<()> {
        let (anchor, x) = (self.family.anchor(), &fit.coordinates);
        let shape = 1 - anchor;
        let covariance = |i: usize, j: usize| fit.coordinate_covariance(i, j).unwrap_or(0.0);
        let mut best: Option<(f64, f64, f64, [f64; 3])> = None;
        for share in SHARES {
            let ln_r = (-share).ln_1p();
            let value = Target::LnAge(ln_r).value(self.family, x)?;
            let g = Target::LnAge(ln_r).gradient(self.family, x, value)?;
            let (a, s) = (g.get(anchor).copied().unwrap_or(0.0), g.get(shape).copied().unwrap_or(0.0));
            let age = a * a * covariance(anchor, anchor)
                + 2.0 * a * s * covariance(anchor, shape)
                + s * s * covariance(shape, shape);
            let both = a * covariance(anchor, shape) + s * covariance(shape, shape);
            let tie = (both * both / (age * covariance(shape, shape))).abs();
            if tie.is_finite() && best.is_none_or(|b| tie < b.0) {
                best = Some((tie, ln_r, value, [age, both, covariance(shape, shape)]));
            }
        }
        if let Some((_, ln_r, value, [age, both, own])) = best {
            self.ln_r = Some(ln_r);
            if let Some(slot) = self.centre.get_mut(anchor) {
                *slot = value;
            }
            self.spread = if anchor == 0 { cholesky(age, both, own) } else { cholesky(own, both, age) };
        }
        Ok(())
    }

    /// A place on a ray, in the coordinates of the rays.
    fn seen(&self, angle: f64, radius: f64) -> Vec<f64> {
        let (sin, cos) = angle.sin_cos();
        let along = self.spread.iter().map(|row| radius * (row[0] * cos + row[1] * sin));
        self.centre.iter().zip(along).map(|(c, d)| c + d).collect()
    }

    /// Coordinates of the family at a place on a ray; none where numbers end.
    fn place(&self, angle: f64, radius: f64) -> Option<Vec<f64>> {
        let mut x = self.seen(angle, radius);
        if let Some(ln_r) = self.ln_r {
            let anchor = self.family.anchor();
            let age = x.get(anchor)?.exp();
            *x.get_mut(anchor)? = self.family.anchored(&x, age, ln_r).ok().filter(|c| c.is_finite())?;
        }
        self.engine.inside(&x).then_some(x)
    }

    /// Log-likelihood less the cut; far below 0 where nothing finite is left.
    fn over(&self, angle: f64, radius: f64) -> Result<f64> {
        let Some(x) = self.place(angle, radius) else { return Ok(IMPOSSIBLE) };
        let mut point = Point::new(x.len());
        self.engine.at(&x, Order::Value, &mut point)?;
        let over = point.value - self.top - self.cut;
        Ok(if over.is_finite() { over.max(IMPOSSIBLE) } else { IMPOSSIBLE })
    }

    fn within_reach(&self, angle: f64, radius: f64) -> bool {
        self.place(angle, radius).is_some()
            && self.seen(angle, radius).iter().zip(&self.centre).enumerate().all(|(i, (x, c))| {
                (x - c).abs() <= FARTHEST * if self.ln_r.is_some() { 1.0 } else { self.family.step(&self.centre, i) }
            })
    }

    fn tip(&self, angle: f64) -> Result<Tip> {
        let (mut inside, mut outside) = (0.0, (-2.0 * self.cut).sqrt());
        loop {
            if !self.within_reach(angle, outside) {
                return Ok(Tip { angle, radius: inside, closed: false });
            }
            if self.over(angle, outside)? < 0.0 {
                break;
            }
            (inside, outside) = (outside, 1.5 * outside);
        }
        let radius = bracketed(|r| self.over(angle, r), inside, outside, PRECISION)?;
        Ok(Tip { angle, radius, closed: true })
    }

    /// The border, close corners where it runs away from the estimate.
    fn trace(&self, run: &Run) -> Result<Vec<Tip>> {
        let turn = std::f64::consts::TAU;
        let even = (-2.0 * self.cut).sqrt();
        let mut tips = Vec::with_capacity(2 * RAYS);
        for k in 0..RAYS {
            run.check()?;
            tips.push(self.tip(turn * k as f64 / RAYS as f64)?);
        }
        for _ in 0..8 {
            let mut finer = Vec::with_capacity(2 * tips.len());
            for (i, &tip) in tips.iter().enumerate() {
                finer.push(tip);
                let next =
                    tips.get(i + 1).copied().or_else(|| tips.first().map(|t| Tip { angle: t.angle + turn, ..*t }));
                if let Some(next) = next
                    && apart(tip, next) > GAP * tip.radius.min(next.radius).min(even)
                    && tips.len() + finer.len() < CORNERS
                {
                    run.check()?;
                    finer.push(self.tip(f64::midpoint(tip.angle, next.angle))?);
                }
            }
            let done = finer.len() == tips.len();
            tips = finer;
            if done {
                break;
            }
        }
        Ok(tips)
    }

    /// Whether a ray that left the region meets it again.
    fn folded(&self, tips: &[Tip]) -> Result<bool> {
        for tip in tips.iter().filter(|t| t.closed) {
            for times in BEYOND {
                let radius = times * tip.radius;
                if self.within_reach(tip.angle, radius) && self.over(tip.angle, radius)? > 0.0 {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }
}

/// Distance of two tips in the coordinates of the rays.
fn apart(a: Tip, b: Tip) -> f64 {
    let x = a.radius * a.angle.cos() - b.radius * b.angle.cos();
    let y = a.radius * a.angle.sin() - b.radius * b.angle.sin();
    x.hypot(y)
}

/// Lower Cholesky factor of a covariance of two.
fn cholesky(first: f64, both: f64, second: f64) -> [[f64; 2]; 2] {
    let a = first.sqrt();
    let b = both / a;
    [[a, 0.0], [b, (second - b * b).max(0.0).sqrt()]]
}

impl Fit {
    /// The joint confidence region of the parameters of a two-parameter family.
    ///
    /// # Formula
    /// ```text
    /// all pairs with 2 (ln L max - ln L) <= q, q = -2 ln(1 - level): the chi-square quantile with 2 degrees of freedom
    /// ```
    /// Its border is found along rays from the estimate, each by a root; the corners join to a polygon.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted. `level`: that both parameters together lie inside.
    ///
    /// # Errors
    /// `fit.level`; `fit.other_data`; `fit.region_width` for a family without exactly two parameters.
    ///
    /// # Numerics
    /// Notes tell where the border does not close (`fit.region_open`), where it leaves the range in which the family is
    /// checked against tables (`fit.region_past_box`), and where a ray meets the region a second time, so that a part
    /// of it is missing (`fit.region_folded`).
    ///
    /// # Source
    /// S. S. Wilks (1938), Annals of Mathematical Statistics 9, 60-62; Meeker & Escobar, Statistical Methods for
    /// Reliability Data (1998), section 8.3 (from memory).
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let options = FitOptions::default();
    /// let fit = fit(family("weibull")?, &tally, &options, &Run::new())?;
    /// let region = fit.region(&tally, &options, 0.9, &Run::new())?;
    /// assert!(region.closed && region.contains(3.0, 650.0) && !region.contains(1.0, 650.0));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn region(&self, tally: &Tally, options: &FitOptions, level: f64, run: &Run) -> Result<LikelihoodRegion> {
        let family = self.family()?;
        let cut = critical_pair(level)?;
        let &[first, second] = family.parameter_names() else {
            let problem = Problem::new("fit.region_width", "a joint region is drawn for families of two parameters")
                .got(format!("{} with {}", family.name(), family.parameter_names().join(", ")));
            return Err(Error::new(Kind::Refused, problem));
        };
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        let rays = Rays::new(self, &engine, cut)?;
        let tips = rays.trace(run)?;
        let pair = |x: &[f64]| {
            let p = family.parameters(x);
            [p.first().copied().unwrap_or(f64::NAN), p.get(1).copied().unwrap_or(f64::NAN)]
        };
        let corners: Vec<[f64; 2]> =
            tips.iter().filter_map(|t| rays.place(t.angle, t.radius)).map(|x| pair(&x)).collect();
        let closed = tips.iter().all(|t| t.closed);
        let mut notes = super::model::failure_notes_of(&self.family, self.facts.failures);
        notes.extend(self.open_parameters().cloned());
        if !closed {
            let text = "the region is open: the records do not close it, and it is cut where the search ended";
            notes.push(Note::new("fit.region_open", text));
        }
        let fits_box = |c: &[f64; 2]| c.iter().zip(family.stated_box()).all(|(p, (low, high))| p >= low && p <= high);
        if !corners.iter().all(fits_box) {
            let text =
                format!("the region reaches past the range in which the {} family is checked", in_words(family.name()));
            notes.push(Note::new("fit.region_past_box", text));
        }
        if rays.folded(&tips)? {
            let text = "the region bends behind itself as seen from the estimate: a part of it is left out";
            notes.push(Note::new("fit.region_folded", text));
        }
        Ok(LikelihoodRegion {
            family: self.family.clone(),
            parameters: [first.to_owned(), second.to_owned()],
            estimate: pair(&self.coordinates),
            open: [first, second].map(|name| self.is_open(name)),
            corners,
            level,
            relative_log_likelihood: cut,
            closed,
            notes,
        })
    }
}

impl LikelihoodRegion {
    /// Whether a pair of parameters lies inside the polygon.
    pub fn contains(&self, first: f64, second: f64) -> bool {
        let mut inside = false;
        for (i, a) in self.corners.iter().enumerate() {
            let Some(b) = self.corners.get((i + 1) % self.corners.len()) else { break };
            if (a[1] > second) != (b[1] > second) && first < a[0] + (second - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
                inside = !inside;
            }
        }
        inside
    }
}
