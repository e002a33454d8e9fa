//! What records and prior belief say together: the posterior of a family of one or two parameters.

use serde::{Deserialize, Serialize};

use super::interval::{Interval, IntervalMethod, Quantity, Sides, critical};
use super::model::{Facts, Note, check_family as known_family};
use super::posterior_grid::{Axis, Builder, Slice, b_life_at_zero, check_family, check_shape, place, shape_place};
use super::prior::{Belief, Prior};
use super::sample::Sample;
use super::search::{FitOptions, facts};
use super::target::{Function, Target};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::short;
use crate::base::math::pieces::Pieces;
use crate::base::math::root::bracketed;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, family};
use crate::lives::Tally;

/// The posterior of a life model. It holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Posterior {
    family: String,
    prior: Prior,
    facts: Facts,
    seed: u64,
    /// Density over the shape's coordinate; none for a family of one parameter.
    over: Option<Pieces>,
    slices: Vec<Slice>,
    /// Coordinates of random draws, in order.
    draws: Vec<Vec<f64>>,
    notes: Vec<Note>,
}

impl Sound for Posterior {
    fn check(&self, c: &mut Checks) {
        let Some(family) = known_family(c, &self.family) else { return };
        c.need("prior", self.prior.check().is_ok(), "another", "beliefs of finite values above 0, the lower first");
        c.part("facts", &self.facts);
        let mass: f64 = self.slices.iter().map(|s| s.mass).sum();
        c.need("slices", (mass - 1.0).abs() < 1e-6, mass, "shares that add up to 1");
        for (i, slice) in self.slices.iter().enumerate() {
            c.share(&format!("slices[{i}].mass"), slice.mass);
        }
        c.there("over", self.over.is_some(), family.width() == 2, "there for a family of two parameters");
        if let Some(note) = self.notes.iter().find(|n| n.slug == "fit.posterior") {
            c.words("notes", &note.text);
        } else {
            c.need("notes", false, "no such note", "that the figures rest on a prior");
        }
        for (i, x) in self.draws.iter().enumerate() {
            c.entries(&format!("draws[{i}]"), x.len(), family.width());
        }
    }
}

/// Most draws.
const MOST_DRAWS: usize = 1_000_000;
/// Points of equal chance in a slice at which a figure that is no plain age or reliability is read.
const READ: usize = 240;
/// Precision of an end on its working scale.
const PRECISION: f64 = 1e-10;
/// Share of the posterior left out from which a note says so.
const TOLD: f64 = 1e-7;
/// Share of a mean that may come from the rim of what was looked at: more says that the mean is not finite.
const RIM: f64 = 1e-7;

/// Combines prior belief and records by Bayes' rule.
///
/// # Formula
/// ```text
/// posterior(ln age, ln shape) proportional to likelihood x prior(ln age) x prior(ln shape)
/// ```
/// with the prior on a b-life and the shape, see [`Prior`]; for a normal, logistic or smallest extreme value life over (age,
/// ln scale), where an even belief of the age is even in hours and holds ages below 0 too. The total is an adaptive
/// quadrature: over the shape, and for each shape along the age scale, so quantiles and reliabilities are integrals too, not
/// percentiles of draws.
///
/// # Arguments
/// `tally`, `options`: as in [`super::fit`]; no failures are needed where the prior closes the posterior. `draws`: random
/// draws to keep, 0 to 1,000,000; each is a pure function of `seed` and its number.
///
/// # Errors
/// `fit.prior` for a belief that is none, or of the shape of a family of one parameter; `fit.posterior_width` and
/// `fit.posterior_family` for a family it is not made for; `fit.posterior_improper` where records and prior do not close;
/// `fit.posterior_reach` where they do, but not where numbers can follow; `fit.posterior_draws`; those of [`super::fit`] on
/// the options.
///
/// # Numerics
/// Densities are followed to about e^-32 of their top; where numbers end before, e^-18 is enough. Along the shape a steady
/// fall is enough too: with even beliefs and r failures the density closes as the power r - 1 of the shape, and what lies
/// past the end of numbers, at most 1e-4 of all, is left out with a note. So three failures at ages of their own need no
/// range for the shape; for two more than that is left (`fit.posterior_reach`), and one does not close.
///
/// # Source
/// A. Gelman and others (2013), Bayesian Data Analysis, chapters 2 and 3; independent priors on a quantile and a shape:
/// Meeker & Escobar (1998), Statistical Methods for Reliability Data, section 14.3. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{Belief, FitOptions, Prior, Quantity, Sides, posterior};
/// use relamp::lives::{Rows, Tally};
/// // Two failures among eight lamps say little of wear; that lamps of this kind wear out is known.
/// let rows = Rows {
///     low: vec![900.0, 1100.0, 1200.0],
///     high: vec![900.0, 1100.0, f64::INFINITY],
///     count: Some(vec![1, 1, 6]),
///     ..Rows::default()
/// };
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let prior = Prior { shape: Belief::Within { low: 1.0, high: 6.0 }, ..Prior::default() };
/// let posterior = posterior(family("weibull")?, &tally, &FitOptions::default(), &prior, 0, 1, &Run::new())?;
/// let b10 = posterior.interval(&Quantity::BLife(10.0), 0.9, Sides::Both)?;
/// assert!(b10.low.unwrap() > 300.0 && b10.high.unwrap() < 2500.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn posterior(
    family: &dyn Family,
    tally: &Tally,
    options: &FitOptions,
    prior: &Prior,
    draws: usize,
    seed: u64,
    run: &Run,
) -> Result<Posterior> {
    prior.check()?;
    check_family(family)?;
    check_shape(family, prior)?;
    if draws > MOST_DRAWS {
        let problem = Problem::new("fit.posterior_draws", "too many draws").at(Place::input("draws")).got(draws);
        return Err(Error::new(Kind::Limit, problem.expected(format!("at most {MOST_DRAWS}"))));
    }
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    let (slices, over, beyond) = Builder::new(family, &sample, prior, options.reduced, run).build()?;
    let answers = run.map(draws, |i| {
        let mut stream = Stream::new(seed, "fit", "posterior", i as u64);
        let (one, two) = (stream.uniform(), stream.uniform());
        let Some(over) = &over else {
            return Ok(slices.first().map_or(Vec::new(), |s| place(family, 0.0, s.along.quantile(two))));
        };
        let shape = over.quantile(one);
        // Its buffers serve one thread, so each draw has a builder of its own.
        let along = Builder::new(family, &sample, prior, options.reduced, run).along(shape)?;
        Ok(along.map_or(Vec::new(), |(along, _)| place(family, shape, along.quantile(two))))
    })?;
    let draws = answers.into_iter().collect::<Result<Vec<_>>>()?.into_iter().filter(|x| !x.is_empty()).collect();
    let mut notes =
        vec![Note::new("fit.posterior", "these figures rest on the stated prior as well as on the records")];
    if beyond > TOLD {
        let text = format!(
            "a share of {} of the posterior lies at shapes that numbers cannot follow, and is left out",
            short(beyond)
        );
        notes.push(Note::new("fit.posterior_tail", text));
    }
    let even = prior.b_life == Belief::Even && (over.is_none() || prior.shape == Belief::Even);
    if sample.count.failures == 0 {
        notes.push(Note::new(
            "fit.posterior_no_failure",
            "no lamp failed: above the ages that the lamps reached, the prior speaks",
        ));
    } else if even {
        notes.extend(super::model::failure_notes_of(family.name(), sample.count.failures));
    }
    Ok(Posterior {
        family: family.name().to_owned(),
        prior: *prior,
        facts: facts(&sample.count),
        seed,
        over,
        slices,
        draws,
        notes,
    })
}

impl Posterior {
    /// Name of the family.
    pub fn family_name(&self) -> &str {
        &self.family
    }

    /// The family.
    ///
    /// # Errors
    /// `family.unknown` for a saved posterior of a family this version does not know.
    pub fn family(&self) -> Result<&'static dyn Family> {
        family(&self.family)
    }

    /// What was believed beforehand.
    pub fn prior(&self) -> &Prior {
        &self.prior
    }

    /// What went in.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// Coordinates of the random draws, in order.
    pub fn draws(&self) -> &[Vec<f64>] {
        &self.draws
    }

    /// Seed of the draws.
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// Probability that a quantity lies at or below a value.
    ///
    /// # Errors
    /// Those of [`super::Fit::wald`] on the question.
    pub fn probability_below(&self, quantity: &Quantity, value: f64) -> Result<f64> {
        let family = self.family()?;
        let target = Target::new(family, quantity)?;
        let w = match target {
            _ if in_hours(family, target) => value,
            Target::Coordinate(i) => {
                let mut parameters = family.parameters(&place(family, 0.0, 0.0));
                if let Some(slot) = parameters.get_mut(i) {
                    *slot = value;
                }
                family.coordinates(&parameters)?.get(i).copied().unwrap_or(f64::NAN)
            }
            Target::LnHazard(_) => (-value.ln()).ln(),
            Target::LnBetween(..) => (-(-value).ln_1p()).ln(),
            _ => value.ln(),
        };
        let below = self.share_below(family, target, w)?;
        Ok(if target.falls() { 1.0 - below } else { below })
    }

    /// Interval between quantiles of the posterior; the estimate is its median.
    ///
    /// # Errors
    /// Those of [`super::Fit::wald`] on the question.
    pub fn interval(&self, quantity: &Quantity, level: f64, sides: Sides) -> Result<Interval> {
        let target = Target::new(self.family()?, quantity)?;
        self.interval_at(target, quantity.clone(), level, sides)
    }

    /// The same for a function of the caller's own, read at points of equal chance.
    ///
    /// # Errors
    /// `fit.level`; `fit.no_number` where the function is not a number; those of the function.
    pub fn interval_of(&self, asked: &Function, level: f64, sides: Sides) -> Result<Interval> {
        self.interval_at(Target::function(asked), Quantity::Function(asked.name.clone()), level, sides)
    }

    /// Posterior mean of a quantity; none where it is not finite, as with few failures and an even belief of the shape.
    ///
    /// # Errors
    /// Those of [`super::Fit::wald`] on the question.
    pub fn mean(&self, quantity: &Quantity) -> Result<Option<f64>> {
        let family = self.family()?;
        let target = Target::new(family, quantity)?;
        let (mut sum, mut size, mut rim) = (0.0, 0.0, 0.0_f64);
        let most = self.slices.iter().fold(0.0, |m: f64, s| m.max(s.mass));
        let (lowest, highest) = Axis::of(family).ends(self.prior.b_life);
        let (first_shape, last_shape) = self.prior.shape.ends();
        // Where the prior ends for sure nothing is left out, however much lies next to it.
        let ends_at = |end: f64, here: f64| (end - here).abs() <= 1e-9 * here.abs().max(1.0);
        for (j, slice) in self.slices.iter().enumerate() {
            let total = slice.along.total();
            let at_zero = b_life_at_zero(family, slice.shape, self.prior.percent).unwrap_or(f64::NAN);
            let [low, high] = slice.along.ends().map(|end| end + at_zero);
            let (closed_low, closed_high) = (ends_at(lowest, low), ends_at(highest, high));
            let (mut here, mut size_here) = (0.0, 0.0);
            let nodes: Vec<(f64, f64)> = slice.along.nodes().collect();
            for (i, (a, share)) in nodes.iter().enumerate() {
                let x = place(family, slice.shape, *a);
                let term = share / total * back(family, target, &x, working(family, target, &x)?);
                here += term;
                // Figures of either sign may have a sum without a mean.
                size_here += term.abs();
                if (i == 0 && !closed_low) || (i + 1 == nodes.len() && !closed_high) {
                    rim = rim.max((slice.mass * term).abs());
                }
            }
            sum += slice.mass * here;
            size += slice.mass * size_here;
            // The first and last shapes, where they hardly count, must not carry the mean either.
            let shapes = self.over.as_ref().map(Pieces::ends);
            let open = shapes.is_some_and(|[first, last]| {
                (j == 0 && !ends_at(first_shape, first)) || (j + 1 == self.slices.len() && !ends_at(last_shape, last))
            });
            if open && slice.mass < 1e-6 * most {
                rim = rim.max(slice.mass * size_here);
            }
        }
        Ok((sum.is_finite() && rim <= RIM * size).then_some(sum))
    }

    fn interval_at(&self, target: Target, quantity: Quantity, level: f64, sides: Sides) -> Result<Interval> {
        critical(level, sides)?;
        let family = self.family()?;
        let tail = if sides == Sides::Both { 0.5 * (1.0 - level) } else { 1.0 - level };
        let read = self.read(family, target)?;
        let at = |p: f64| -> Result<f64> {
            let p = if target.falls() { 1.0 - p } else { p };
            let rough = |p: f64| quantile_of(&read, p);
            if !exact(family, target) {
                return Ok(rough(p));
            }
            let middle = rough(p);
            if !middle.is_finite() {
                return Ok(middle);
            }
            let or_middle = |w: f64| if w.is_finite() { w } else { middle };
            let (mut low, mut high) = (or_middle(rough(p - 0.01)), or_middle(rough(p + 0.01)));
            let off = |w: f64| Ok(self.share_below(family, target, w)? - p);
            // The points of equal chance do not reach the ends of the range.
            for _ in 0..60 {
                let width = (high - low).max(1e-6);
                let (below, above) = (off(low)? <= 0.0, off(high)? >= 0.0);
                if below && above {
                    break;
                }
                if !below {
                    low -= width;
                }
                if !above {
                    high += width;
                }
            }
            if off(low)? > 0.0 || off(high)? < 0.0 {
                // Next to what is infinite there is nothing to close in on.
                return Ok(middle);
            }
            let unit = if Axis::of(family) == Axis::Hours { middle.abs().max(1.0) } else { 1.0 };
            bracketed(off, low, high, PRECISION * unit)
        };
        // A parameter's way back does not depend on the other coordinates.
        let back = |w: f64| back(family, target, &place(family, 0.0, 0.0), w);
        let (low, high) = (back(at(tail)?), back(at(1.0 - tail)?));
        let estimate = back(at(0.5)?);
        let infinite: f64 = read.iter().filter(|(w, _)| *w == f64::INFINITY).map(|(_, chance)| chance).sum();
        let mut notes = self.notes.clone();
        notes.extend(quantity.age(estimate).and_then(|age| self.facts.past(age)));
        if infinite > 0.0 {
            let text = format!("the figure is infinite with a probability of {}", short(infinite));
            notes.push(Note::new("fit.infinite", text));
        }
        Ok(Interval {
            notes,
            quantity,
            estimate: Some(estimate),
            low: (sides != Sides::Upper && low.is_finite()).then_some(low),
            high: (sides != Sides::Lower && high.is_finite()).then_some(high),
            level,
            sides,
            method: IntervalMethod::Posterior,
            ratio: None,
        }
        .judged(&self.family, &self.facts))
    }

    /// Values on the working scale at points of equal chance in every slice, ascending, each with its chance.
    fn read(&self, family: &dyn Family, target: Target) -> Result<Vec<(f64, f64)>> {
        let mut read = Vec::with_capacity(READ * self.slices.len());
        for slice in &self.slices {
            for k in 0..READ {
                let a = slice.along.quantile((k as f64 + 0.5) / READ as f64);
                let value = working(family, target, &place(family, slice.shape, a))?;
                if value.is_nan() {
                    let what = "the figure is not a number in some draws";
                    return Err(Error::new(Kind::Refused, Problem::new("fit.no_number", what)));
                }
                read.push((value, slice.mass / READ as f64));
            }
        }
        read.sort_by(|a, b| a.0.total_cmp(&b.0));
        Ok(read)
    }

    /// Probability that a target lies at or below `w` on its working scale: an integral for those that move with the age
    /// scale, a count of points of equal chance for the others.
    fn share_below(&self, family: &dyn Family, target: Target, w: f64) -> Result<f64> {
        if let (Target::Coordinate(i), Some(over)) = (target, &self.over)
            && shape_place(family) == Some(i)
        {
            return Ok(over.below(w) / over.total());
        }
        if !exact(family, target) {
            let read = self.read(family, target)?;
            return Ok(read.iter().take_while(|(value, _)| *value <= w).map(|(_, chance)| chance).sum());
        }
        let mut below = 0.0;
        for slice in &self.slices {
            let x = place(family, slice.shape, 0.0);
            let edge = match target {
                Target::LnAge(_) | Target::LnMean => w - working(family, target, &x)?,
                Target::LnHazard(age) => family.anchored(&x, age, -w.exp())?,
                _ => w,
            };
            let share = slice.along.below(edge) / slice.along.total();
            below += slice.mass * if target.falls() { 1.0 - share } else { share };
        }
        Ok(below)
    }
}

/// Whether a figure is an age of either sign, which is worked with as it is and not by its logarithm.
fn in_hours(family: &dyn Family, target: Target) -> bool {
    Axis::of(family) == Axis::Hours && matches!(target, Target::LnAge(_) | Target::LnMean)
}

/// The figure at coordinates on its working scale.
fn working(family: &dyn Family, target: Target, x: &[f64]) -> Result<f64> {
    match target {
        Target::LnAge(ln_r) if in_hours(family, target) => family.at(x)?.quantile(-ln_r.exp_m1()),
        Target::LnMean if in_hours(family, target) => family.at(x)?.mean(),
        _ => target.value(family, x),
    }
}

/// The way back from there.
fn back(family: &dyn Family, target: Target, x: &[f64], w: f64) -> f64 {
    if in_hours(family, target) { w } else { target.back(family, x, w) }
}

/// Whether a target moves one way with the age scale, so that its distribution is an integral.
fn exact(family: &dyn Family, target: Target) -> bool {
    match target {
        Target::Coordinate(_) | Target::LnAge(_) | Target::LnHazard(_) => true,
        Target::LnMean => family.width() <= 2,
        _ => false,
    }
}

/// Where the chances of ascending values add up to `p`, between neighbours in proportion.
fn quantile_of(read: &[(f64, f64)], p: f64) -> f64 {
    let mut sum = 0.0;
    let mut before: Option<(f64, f64)> = None;
    for (value, chance) in read {
        let middle = sum + 0.5 * chance;
        if middle >= p {
            return match before {
                Some((low, at)) if middle > at && value.is_finite() && low.is_finite() => {
                    low + (p - at) / (middle - at) * (value - low)
                }
                _ => *value,
            };
        }
        before = Some((*value, middle));
        sum += chance;
    }
    before.map_or(f64::NAN, |(value, _)| value)
}
