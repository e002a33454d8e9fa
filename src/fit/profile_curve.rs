//! The profile itself: how far the likelihood falls as one quantity moves away from its estimate.

use serde::{Deserialize, Serialize};

use super::interval::{Quantity, Sides, critical};
use super::model::{Fit, Note, check_family};
use super::peaks::ABOVE;
use super::profile::{last_notes, open_notes};
use super::ridge::{End, Ridge};
use super::sample::Sample;
use super::search::{Engine, FitOptions};
use super::target::Target;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::Link;
use crate::lives::Tally;

/// The profile likelihood of one quantity, with the ends that follow from it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ProfileCurve {
    /// What was asked.
    pub quantity: Quantity,
    /// Name of the family.
    pub family: String,
    /// At the maximum of the likelihood.
    pub estimate: f64,
    /// Whether no single value stands for the quantity, as the records do not settle it: `estimate` is then one of many.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub open: bool,
    /// Values of the quantity, ascending, the estimate among them.
    pub values: Vec<f64>,
    /// ln L at each value, maximised over everything else, less its maximum.
    pub relative_log_likelihood: Vec<f64>,
    /// Confidence level.
    pub level: f64,
    /// Height of the curve at the ends between which the level lies: minus half the chi-square quantile.
    pub cut: f64,
    /// Height of the curve at the bounds that hold at the level by themselves.
    pub one_sided_cut: f64,
    /// Lower end of the interval; none where the curve stays above the cut.
    pub low: Option<f64>,
    /// Upper end of the interval.
    pub high: Option<f64>,
    /// Lower bound at the level by itself.
    pub lower_bound: Option<f64>,
    /// Upper bound at the level by itself.
    pub upper_bound: Option<f64>,
    /// What a reader must know beside the numbers.
    pub notes: Vec<Note>,
}

impl Sound for ProfileCurve {
    fn check(&self, c: &mut Checks) {
        check_family(c, &self.family);
        c.entries("relative_log_likelihood", self.relative_log_likelihood.len(), self.values.len());
        c.need("values", self.values.is_sorted(), "another order", "rising values");
        let below = self.relative_log_likelihood.iter().all(|r| *r <= 0.0);
        c.need("relative_log_likelihood", below, "a value above 0", "0 or less");
        c.level("level", self.level);
        for (field, cut, sides) in [("cut", self.cut, Sides::Both), ("one_sided_cut", self.one_sided_cut, Sides::Lower)]
        {
            if let Ok(z) = critical(self.level, sides) {
                c.equal(field, cut, -0.5 * z * z);
            }
        }
        let top = self.values.iter().zip(&self.relative_log_likelihood).any(|(v, r)| *v == self.estimate && *r == 0.0);
        c.need("estimate", top, self.estimate, "the value at the top of the curve");
        c.ends("high", self.low, self.high);
        c.between("estimate", self.estimate, self.low, self.high);
        // Below level one half a bound by itself lies past the estimate, and may lie past the interval.
        if self.level >= 0.5 {
            c.between("lower_bound", self.lower_bound, self.low, self.high);
            c.between("upper_bound", self.upper_bound, self.low, self.high);
            c.between("estimate", self.estimate, self.lower_bound, self.upper_bound);
        }
    }
}

/// How far past its ends the curve goes, as a share of the way from the estimate to the end.
const PAST: f64 = 0.35;
/// How far it goes where there is no end, in standard errors.
const OPEN: f64 = 6.0;
/// Coordinate of a share of 99 %, to which the curve of an open share is drawn.
const RIM: f64 = 4.6;
/// Most points.
const MOST: usize = 10_000;

impl Fit {
    /// The profile likelihood of a quantity over a grid of its values.
    ///
    /// # Formula
    /// ```text
    /// r(q) = max over all coordinates with quantity q of ln L, less ln L max
    /// interval  r(q) >= -z((1 + level) / 2)^2 / 2;   bound by itself  r(q) >= -z(level)^2 / 2
    /// ```
    /// The values are even on the working scale: logarithm of parameters, ages, hazard and mean, ln(-ln R) of a
    /// reliability or a chance to fail.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted. `points`: 5 to 10,000, such as 81.
    ///
    /// # Errors
    /// Those of [`Fit::profile`]; `fit.profile_points`.
    ///
    /// # Source
    /// Meeker & Escobar, Statistical Methods for Reliability Data (1998), section 8.3 (from memory).
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, Quantity, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![310.0, 480.0, 550.0, 720.0, 900.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let options = FitOptions::default();
    /// let fit = fit(family("weibull")?, &tally, &options, &Run::new())?;
    /// let curve = fit.profile_curve(&tally, &options, &Quantity::Parameter("shape".into()), 0.95, 41, &Run::new())?;
    /// assert_eq!(curve.values.len(), 41);
    /// assert!((curve.cut + 1.920_729_410_347_062).abs() < 1e-12); // half of 3.8415
    /// assert!(curve.low.unwrap() < curve.lower_bound.unwrap());
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn profile_curve(
        &self,
        tally: &Tally,
        options: &FitOptions,
        quantity: &Quantity,
        level: f64,
        points: usize,
        run: &Run,
    ) -> Result<ProfileCurve> {
        let family = self.family()?;
        let target = Target::new(family, quantity)?;
        let (z, one) = (critical(level, Sides::Both)?, critical(level, Sides::Lower)?);
        check(points)?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let engine = Engine::new(family, &sample, options.reduced);
        let ridge = Ridge::new(self, &engine, target, options, run)?;
        let farthest = ridge.farthest(self);
        let doubted = self.doubted(target);
        let end = |z: f64, sign: f64| if doubted.is_none() { ridge.end(z, sign, farthest) } else { Ok(End::Open) };
        let ends = [end(z, -1.0)?, end(z, 1.0)?];
        // Below level one half the bound by itself lies past the estimate.
        let bounds = [end(one.abs(), -one.signum())?, end(one.abs(), one.signum())?];
        // A share that nothing bounds is shown to where it is nearly all or nothing.
        let share = matches!(target, Target::Coordinate(i) if family.links().get(i) == Some(&Link::Share));
        let shown = |sign: f64| (share && (sign * RIM - ridge.value()) * sign > 0.0).then_some(sign * RIM);
        let reach = |end: End, sign: f64| match end {
            End::At(end) => end + PAST * (end - ridge.value()),
            End::Last(end) => end,
            End::Open => match shown(sign) {
                Some(rim) => rim,
                None => ridge.value() + sign * (OPEN * ridge.error()).min(farthest),
            },
        };
        // Past the end of a parameter there is no life.
        let (from, to) = (reach(ends[0], -1.0).max(ridge.floor()), reach(ends[1], 1.0));
        // The estimate is a point of the grid: each side has its own even steps.
        let left = (((points - 1) as f64 * (ridge.value() - from) / (to - from)).round() as usize).clamp(1, points - 2);
        let right = points - 1 - left;
        let rounding = ABOVE * self.log_likelihood.abs().max(1.0);
        let side = |end: f64, steps: usize| -> Result<Vec<(f64, f64)>> {
            let mut warm = ridge.warm();
            let mut out = Vec::with_capacity(steps);
            for k in 1..=steps {
                let w = ridge.value() + (end - ridge.value()) * k as f64 / steps as f64;
                // To the bit, where a parameter ends.
                let w = if k == steps { end } else { w };
                let here = ridge.height(w, &mut warm)?;
                // A height whose search did not settle is no point of the curve, nor is one above the fit.
                let found = here.settled && here.nearest.is_none() && here.value <= rounding;
                out.push((w, if found { here.value.min(0.0) } else { f64::NAN }));
            }
            Ok(out)
        };
        let mut curve = side(from, left)?;
        curve.reverse();
        curve.push((ridge.value(), 0.0));
        curve.extend(side(to, right)?);
        let all = curve.len();
        curve.retain(|(_, height)| !height.is_nan());
        let mut notes = self.interval_notes(quantity, target.back(family, &self.coordinates, ridge.value()));
        notes.extend(doubted.cloned());
        if curve.len() < all {
            let lost = all - curve.len();
            let are = fitting(lost as u64, "is", "are");
            let points = counted(all as u64, "point");
            let text = format!("{lost} of {points} did not settle or {are} above the fit, and {are} left out");
            notes.push(Note::new("fit.curve_unsettled", text));
        }
        let back = |w: f64| target.back(family, &self.coordinates, w);
        let turned = target.falls();
        let pair = |[a, b]: [End; 2]| {
            if turned { (b.value().map(back), a.value().map(back)) } else { (a.value().map(back), b.value().map(back)) }
        };
        if turned {
            curve.reverse();
        }
        let ((low, high), (lower_bound, upper_bound)) = (pair(ends), pair(bounds));
        notes.extend(last_notes(if turned { [ends[1], ends[0]] } else { ends }, back));
        notes.extend(open_notes(low.is_some(), high.is_some(), level, Sides::Both));
        notes.extend(ridge.pieces_note(back));
        notes.extend(ridge.risen_note());
        Ok(ProfileCurve {
            quantity: quantity.clone(),
            family: self.family.clone(),
            estimate: back(ridge.value()),
            open: self.leaves_open(quantity, back(ridge.value())),
            values: curve.iter().map(|(w, _)| back(*w)).collect(),
            relative_log_likelihood: curve.iter().map(|(_, height)| *height).collect(),
            level,
            cut: -0.5 * z * z,
            one_sided_cut: -0.5 * one * one,
            low,
            high,
            lower_bound,
            upper_bound,
            notes,
        })
    }
}

fn check(points: usize) -> Result<()> {
    if (5..=MOST).contains(&points) {
        return Ok(());
    }
    let problem = Problem::new("fit.profile_points", "too few or too many points")
        .at(Place::input("points"))
        .got(points)
        .expected(format!("5 to {MOST}"));
    Err(Error::new(Kind::Input, problem))
}
