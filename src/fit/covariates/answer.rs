//! What can be asked of a regression: intervals of coefficients and of ages, and residuals.

use std::collections::BTreeMap;

use super::life::moved_life;
use super::model::{CovariateFit, place_of};
use super::profile::end;
use super::surface::{Move, Regression};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::run::Run;
use crate::family::{Jet, Life, Order, Term};
use crate::fit::interval::{Interval, IntervalMethod, Quantity, Sides, critical};
use crate::fit::model::Note;
use crate::fit::newton::{Point, Surface};
use crate::fit::profile::open_notes;
use crate::fit::residuals::{HazardResiduals, hazard_residuals};
use crate::fit::sample::Sample;
use crate::fit::search::FitOptions;
use crate::lives::{CovariateValue, Rows, Tally};
use crate::records::Ending;

impl CovariateFit {
    fn interval(
        &self,
        quantity: Quantity,
        estimate: f64,
        (low, high): (Option<f64>, Option<f64>),
        (level, sides): (f64, Sides),
        method: IntervalMethod,
    ) -> Interval {
        let mut notes: Vec<Note> = self.notes.clone();
        notes.extend(open_notes(low.is_some(), high.is_some(), level, sides));
        let (low, high) = (low.filter(|_| sides != Sides::Upper), high.filter(|_| sides != Sides::Lower));
        Interval { quantity, estimate: Some(estimate), low, high, level, sides, method, notes, ratio: None }
    }

    /// Interval of a coefficient from the curvature at the maximum: b plus and minus a normal quantile times its standard
    /// error.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`, `fit.level`.
    pub fn wald(&self, name: &str, level: f64, sides: Sides) -> Result<Interval> {
        let (b, error, z) = (self.coefficient(name)?, self.standard_error(name)?, critical(level, sides)?);
        let ends = (Some(b - z * error), Some(b + z * error));
        Ok(self.interval(Quantity::Parameter(name.to_owned()), b, ends, (level, sides), IntervalMethod::Wald))
    }

    /// Interval of a coefficient by profile likelihood: the values for which the likelihood, maximised over everything
    /// else, stays within half the chi-square quantile of its maximum. An end that the records do not close stays open.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`, `fit.level`, `fit.other_data` if the tally is not the fitted one.
    pub fn profile(
        &self,
        tally: &Tally,
        options: &FitOptions,
        name: &str,
        level: f64,
        sides: Sides,
        run: &Run,
    ) -> Result<Interval> {
        let (j, z) = (place_of(&self.design, name)?, critical(level, sides)?);
        let family = self.family()?;
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let surface = Regression::new(family, &sample, self.design.matrix(tally)?, self.design.columns.len());
        let inner: Vec<f64> = self.coefficients.iter().zip(&surface.spread).map(|(b, s)| b * s).collect();
        let x = [self.baseline.as_slice(), &inner].concat();
        let mut here = Point::new(x.len());
        surface.at(&x, Order::Value, &mut here)?;
        if !((here.value - self.log_likelihood).abs() <= 1e-9 * self.log_likelihood.abs().max(1.0)) {
            let problem = Problem::new("fit.other_data", "the tally is not the one that was fitted")
                .got(format!("log-likelihood {}", here.value))
                .expected(format!("{}", self.log_likelihood));
            return Err(Error::new(Kind::Input, problem));
        }
        let (i, unit) = (self.baseline.len() + j, surface.spread[j]);
        let error = self.standard_error(name)? * unit;
        let side = |wanted: Sides, sign: f64| -> Result<Option<f64>> {
            if sides != Sides::Both && sides != wanted {
                return Ok(None);
            }
            let end = end(&surface, &x, self.log_likelihood, (i, error), (z, sign), options.iterations, run)?;
            Ok(end.map(|e| e / unit))
        };
        let ends = (side(Sides::Lower, -1.0)?, side(Sides::Upper, 1.0)?);
        let quantity = Quantity::Parameter(name.to_owned());
        Ok(self.interval(quantity, self.coefficients[j], ends, (level, sides), IntervalMethod::ProfileLikelihood))
    }

    /// Interval of the age by which a share of lamps with these covariates has failed, from the curvature at the maximum,
    /// on the scale of ln age for families of ages above 0. A note says where the age, or the upper end of its interval,
    /// lies past the oldest lamp at risk, whatever its covariates were.
    ///
    /// # Errors
    /// Those of [`super::Design::at`]; `fit.level`, `family.probability`; `fit.share` for a share of 0 or 1.
    pub fn quantile(
        &self,
        covariates: &BTreeMap<String, CovariateValue>,
        p: f64,
        level: f64,
        sides: Sides,
    ) -> Result<Interval> {
        if !(p > 0.0 && p < 1.0) {
            let problem = Problem::new("fit.share", "no interval can be given for this share").at(Place::input("p"));
            return Err(Error::new(Kind::Domain, problem.got(p).expected("above 0 and below 1")));
        }
        let (family, z) = (self.family()?, critical(level, sides)?);
        let row = self.design.at(covariates)?;
        let moves = Move::of(family);
        let base = family.at(&self.baseline)?;
        let age = base.quantile(p)?;
        let estimate = self.life(covariates)?.quantile(p)?;
        // By the implicit function theorem: ln R(age) stays where it is while the coordinates move.
        let mut jet = Jet::new(self.baseline.len());
        family.jet(&self.baseline, age, Term::LnReliability, Order::Gradient, &mut jet);
        let along = jet.gradient.last().copied().unwrap_or(f64::NAN);
        let unit = if moves == Move::Stretch { age } else { 1.0 };
        let slopes = jet.gradient.iter().take(self.baseline.len()).map(|g| -g / (along * unit));
        let slopes: Vec<f64> = slopes.chain(row).collect();
        let mut variance = 0.0;
        for (i, a) in slopes.iter().enumerate() {
            for (j, b) in slopes.iter().enumerate() {
                variance += a * b * self.covariance(i, j).unwrap_or(f64::NAN);
            }
        }
        let spread = z * variance.sqrt();
        let ends = match moves {
            Move::Stretch => (estimate * (-spread).exp(), estimate * spread.exp()),
            Move::Shift => (estimate - spread, estimate + spread),
        };
        let ends = (Some(ends.0), Some(ends.1));
        let mut out = self.interval(Quantity::Quantile(p), estimate, ends, (level, sides), IntervalMethod::Wald);
        out.notes.extend(self.facts().past_either(estimate, out.high));
        out.notes.extend(self.design.extrapolation(covariates));
        Ok(out)
    }

    /// The life of each group of a tally; none for a group without lamps.
    fn lives(&self, tally: &Tally) -> Result<Vec<Option<Box<dyn Life>>>> {
        let (family, matrix) = (self.family()?, self.design.matrix(tally)?);
        let one = |row: &Vec<f64>| {
            let eta = self.eta(row);
            if row.is_empty() { Ok(None) } else { moved_life(family, &self.baseline, eta).map(Some) }
        };
        matrix.iter().map(one).collect()
    }

    fn eta(&self, row: &[f64]) -> f64 {
        row.iter().zip(&self.coefficients).map(|(z, b)| z * b).fold(0.0, |a, x| a + x)
    }

    /// The cumulative hazard that each lamp went through under the life of its own covariates, and its curve beside that of
    /// the records; see [`crate::fit::Fit::residuals`].
    ///
    /// # Arguments
    /// `tally`: the fitted records, or other ones with the same covariates.
    ///
    /// # Errors
    /// `fit.residual_rows`, `fit.residual_plateau` as there; `fit.level_unseen`, `fit.covariate_unknown`.
    pub fn residuals(&self, tally: &Tally, options: &FitOptions) -> Result<HazardResiduals> {
        let lives = self.lives(tally)?;
        let of = |row: usize| lives.get(*tally.group().get(row)? as usize)?.as_deref();
        hazard_residuals(&self.family, tally, options, &of)
    }

    /// The ages at which a baseline lamp stands where each lamp stands, as a tally without covariates: standardised
    /// residuals in hours. A curve of these lives beside the baseline life shows where the family fails.
    ///
    /// # Formula
    /// ```text
    /// standardised = age exp(-eta)
    /// ```
    ///
    /// # Errors
    /// `fit.level_unseen`, `fit.covariate_unknown`; `fit.shifted_ages` for a family that is shifted by hours, whose
    /// standardised ages may lie below 0.
    pub fn standardised(&self, tally: &Tally) -> Result<Tally> {
        let moves = Move::of(self.family()?);
        if moves == Move::Shift {
            let what = "ages shifted by hours may lie below 0, and are no lives";
            let problem = Problem::new("fit.shifted_ages", what).at(Place::input("fit")).got(&self.family);
            return Err(Error::new(Kind::Refused, problem.expected("a family of ages above 0; residuals serve both")));
        }
        let matrix = self.design.matrix(tally)?;
        let eta: Vec<f64> = matrix.iter().map(|row| self.eta(row)).collect();
        let rows = || tally.group().iter().zip(tally.count()).enumerate().filter(|(_, (_, count))| **count > 0);
        let moved = |column: &[f64]| -> Vec<f64> {
            rows().map(|(i, (g, _))| moves.back(column[i], eta[*g as usize])).collect()
        };
        let rows = Rows {
            low: moved(tally.low()),
            high: moved(tally.high()),
            entry: tally.entry().map(&moved),
            upper: tally.upper().map(&moved),
            ending: Some(
                rows().map(|(i, _)| Ending::from_code(tally.ending()[i]).unwrap_or(Ending::Unknown)).collect(),
            ),
            count: Some(rows().map(|(_, (_, count))| *count).collect()),
            ..Rows::default()
        };
        Ok(Tally::from_rows(&rows)?.0)
    }
}
