//! What can be asked of proportional hazards: intervals of coefficients, and predictions.

use std::collections::BTreeMap;

use super::baseline::Baseline;
use super::model::{HazardFit, HazardOptions};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::run::Run;
use crate::family::Order;
use crate::fit::covariates::{end, place_of};
use crate::fit::few_clusters::{degrees_left, student_critical};
use crate::fit::interval::{Interval, IntervalMethod, Quantity, Sides, critical};
use crate::fit::newton::{Point, Surface};
use crate::fit::profile::open_notes;
use crate::lives::{CovariateValue, Tally};

impl HazardFit {
    /// Errors that clusters tell are known to as many degrees of freedom as these leave.
    fn critical(&self, level: f64, sides: Sides) -> Result<f64> {
        match degrees_left(self.clusters, self.coefficients.len()).filter(|_| self.robust) {
            Some(degrees) => student_critical(level, sides, degrees),
            None => critical(level, sides),
        }
    }

    fn interval(
        &self,
        quantity: Quantity,
        estimate: f64,
        (low, high): (Option<f64>, Option<f64>),
        (level, sides): (f64, Sides),
        method: IntervalMethod,
    ) -> Interval {
        let mut notes = self.notes.clone();
        notes.extend(open_notes(low.is_some(), high.is_some(), level, sides));
        let (low, high) = (low.filter(|_| sides != Sides::Upper), high.filter(|_| sides != Sides::Lower));
        Interval { quantity, estimate: Some(estimate), low, high, level, sides, method, notes, ratio: None }
    }

    /// Interval of a coefficient: b plus and minus a normal quantile times its standard error; the robust one, with a quantile
    /// of Student's t, where that was asked for.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`, `fit.level`.
    pub fn wald(&self, name: &str, level: f64, sides: Sides) -> Result<Interval> {
        let (b, error, z) = (self.coefficient(name)?, self.standard_error(name)?, self.critical(level, sides)?);
        let ends = (Some(b - z * error), Some(b + z * error));
        Ok(self.interval(Quantity::Parameter(name.to_owned()), b, ends, (level, sides), IntervalMethod::Wald))
    }

    /// Interval of a coefficient by profile of the partial likelihood, which does not know of clusters.
    ///
    /// # Arguments
    /// `tally` and `options`: the ones that were fitted.
    ///
    /// # Errors
    /// `fit.coefficient_unknown`, `fit.level`, `fit.other_data` if the tally is not the fitted one.
    pub fn profile(
        &self,
        tally: &Tally,
        options: &HazardOptions,
        name: &str,
        level: f64,
        sides: Sides,
        run: &Run,
    ) -> Result<Interval> {
        let (i, z) = (place_of(&self.design, name)?, critical(level, sides)?);
        let (risk, x) = self.risk(tally, options)?;
        let mut top = Point::new(x.len());
        risk.at(&x, Order::Value, &mut top)?;
        let unit = risk.spread[i];
        let error = self.covariance[crate::base::math::linalg::packed(i, i)].sqrt() * unit;
        let side = |wanted: Sides, sign: f64| -> Result<Option<f64>> {
            if sides != Sides::Both && sides != wanted {
                return Ok(None);
            }
            let end = end(&risk, &x, top.value, (i, error), (z, sign), options.iterations, run)?;
            Ok(end.map(|e| e / unit))
        };
        let ends = (side(Sides::Lower, -1.0)?, side(Sides::Upper, 1.0)?);
        let quantity = Quantity::Parameter(name.to_owned());
        Ok(self.interval(quantity, self.coefficients[i], ends, (level, sides), IntervalMethod::ProfileLikelihood))
    }

    /// The baseline of a stratum by name; the only one where none are kept apart.
    ///
    /// # Errors
    /// `fit.stratum_unseen`.
    pub fn baseline(&self, stratum: &str) -> Result<&Baseline> {
        self.baselines.iter().find(|b| b.stratum == stratum).ok_or_else(|| {
            let names: Vec<&str> = self.baselines.iter().map(|b| b.stratum.as_str()).collect();
            let problem = Problem::new("fit.stratum_unseen", "no lamp of this stratum was fitted")
                .at(Place::input("stratum"))
                .got(stratum)
                .expected(if names == [""] {
                    "an empty name, as none are kept apart".into()
                } else {
                    names.join(", ")
                });
            Error::new(Kind::Refused, problem)
        })
    }

    /// The probability that a lamp with these covariates passes an age, with its interval.
    ///
    /// # Formula
    /// ```text
    /// R(t) = exp(-H),  H = H0(t) exp(eta)
    /// var(H) = exp(2 eta) (sum of 1 / S^2 + q' V q),  q = z H0(t) - sum of mean at risk / S
    /// ```
    /// The interval is symmetric on the scale of ln H. Before the first failure R is 1 and has none.
    ///
    /// # Errors
    /// Those of [`crate::fit::Design::at`]; `fit.stratum_unseen`, `fit.level`; `fit.beyond_baseline` for an age past the
    /// oldest lamp at risk, where no hazard was seen.
    pub fn reliability(
        &self,
        covariates: &BTreeMap<String, CovariateValue>,
        stratum: &str,
        age: f64,
        level: f64,
        sides: Sides,
    ) -> Result<Interval> {
        let z = self.critical(level, sides)?;
        let (row, baseline) = (self.design.at(covariates)?, self.baseline(stratum)?);
        if !(age >= 0.0 && age <= baseline.oldest_at_risk_hours) {
            let problem = Problem::new("fit.beyond_baseline", "no hazard was seen at this age")
                .at(Place::input("age"))
                .got(age)
                .expected(format!("0 to {} h, the oldest lamp at risk", baseline.oldest_at_risk_hours));
            return Err(Error::new(Kind::Refused, problem));
        }
        let eta = row.iter().zip(&self.coefficients).map(|(z, b)| z * b).fold(0.0, |a, x| a + x);
        let place = baseline.ages.partition_point(|a| *a <= age).checked_sub(1);
        let quantity = Quantity::Reliability(age);
        let at = place.and_then(|i| Some((baseline.hazard.get(i)?, baseline.variance.get(i)?, baseline.drift.get(i)?)));
        let Some((&hazard, &known, drift)) = at else {
            return Ok(self.interval(quantity, 1.0, (None, None), (level, sides), IntervalMethod::Wald));
        };
        let q: Vec<f64> = row.iter().zip(drift).map(|(z, d)| z * hazard - d).collect();
        let mut variance = known;
        for (i, a) in q.iter().enumerate() {
            for (j, b) in q.iter().enumerate() {
                variance += a * b * self.covariance(i, j).unwrap_or(f64::NAN);
            }
        }
        let (passed, spread) = (hazard * eta.exp(), z * variance.sqrt() / hazard);
        let ends = (Some((-passed * spread.exp()).exp()), Some((-passed * (-spread).exp()).exp()));
        let mut out = self.interval(quantity, (-passed).exp(), ends, (level, sides), IntervalMethod::Wald);
        out.notes.extend(self.design.extrapolation(covariates));
        Ok(out)
    }
}
