//! Residuals of a fit: the cumulative hazard that each lamp went through, which is a unit exponential life if the fit holds.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::model::{Fit, check_family};
use super::sample::{Evidence, Row, Sample};
use super::search::FitOptions;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::special::normal_quantile;
use crate::base::sound::{Checks, Sound};
use crate::empirical::{CurveOptions, product_limit};
use crate::family::Life;
use crate::lives::{Rows, Tally};

/// One row of the tally with the fitted cumulative hazard at its ages.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HazardResidual {
    /// Age at failure, or last age seen working, hours.
    pub low: f64,
    /// The same age for a failure at a known age, the end of the interval for another; none for a lamp that did not fail.
    pub high: Option<f64>,
    /// Age at which the lamp came under observation, hours.
    pub entry: f64,
    /// Lamps.
    pub count: u64,
    /// Cumulative hazard passed from entry to the end; for a failure known to an interval its mean there under the fit.
    pub passed: f64,
}

/// Seen beside expected at one failure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ResidualPoint {
    /// Age of the failure, hours; for an interval the age at which the fit puts its mean hazard.
    pub age: f64,
    /// Cumulative hazard there by the fit.
    pub expected: f64,
    /// Cumulative hazard there by the records alone: failures over lamps at risk, added up.
    pub seen: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Lower end of the 95 % interval of `seen`, at this age alone.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Lamps at risk.
    pub at_risk: u64,
    /// Failures at this age.
    pub failures: u64,
}

/// Residuals of a fit, row by row and as a curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HazardResiduals {
    /// Name of the family.
    pub family: String,
    /// Every row of the tally, in its order.
    pub rows: Vec<HazardResidual>,
    /// Seen beside expected by age; on the diagonal if the fit holds.
    pub points: Vec<ResidualPoint>,
    /// Failures seen.
    pub failures: u64,
    /// Failures expected from the hours watched: the sum of `passed`.
    pub expected_failures: f64,
}

impl Sound for HazardResiduals {
    fn check(&self, c: &mut Checks) {
        check_family(c, &self.family);
        for (i, row) in self.rows.iter().enumerate() {
            c.not_negative(&format!("rows[{i}].passed"), row.passed);
            c.ends(&format!("rows[{i}].high"), row.low, row.high);
        }
        for (i, point) in self.points.iter().enumerate() {
            c.not_negative(&format!("points[{i}].expected"), point.expected);
            c.ends(&format!("points[{i}].high"), point.low, point.high);
        }
        c.not_negative("expected_failures", self.expected_failures);
    }
}

/// Level of the interval at each point.
const LEVEL: f64 = 0.95;

/// Fitted cumulative hazard. At age 0 none has passed, also where a family reaches below it: a row that was watched from
/// the start is not conditioned on anything.
fn hazard(life: &dyn Life, age: f64) -> f64 {
    if age > 0.0 { (-life.ln_reliability(age)).max(0.0) } else { 0.0 }
}

/// Mean of a unit exponential life that ends in (low, high].
fn mean_between(low: f64, high: f64) -> f64 {
    let width = high - low;
    // 1 - w / (e^w - 1), with the series where both are small: w / 2 - w^2 / 12.
    low + if width < 1e-4 { 0.5 * width - width * width / 12.0 } else { 1.0 - width / width.exp_m1() }
}

impl Fit {
    /// The cumulative hazard that each lamp went through under the fit, and its curve beside that of the records.
    ///
    /// If the fit holds, the cumulative hazard at the age of failure is a life of mean 1 with an even hazard, censored and
    /// entered late as the lamp was. So the curve of the records (failures over lamps at risk, added up) drawn over the
    /// fitted cumulative hazard follows the diagonal; it bends up where more fail than the fit says, down where fewer do.
    ///
    /// # Formula
    /// ```text
    /// H(t)       = -ln R(t)
    /// passed     = H(end) - H(entry);   for (low, high]:  H(low) + 1 - w / (exp(w) - 1) - H(entry),  w = H(high) - H(low)
    /// seen(t)    = sum over failure ages up to t of failures / lamps at risk
    /// interval   = seen exp(+-1.96 se / seen),  se^2 = sum of failures / at risk^2
    /// ```
    ///
    /// # Arguments
    /// `tally`: the fitted records, or other ones to be judged by this fit. `options`: the endings that count.
    ///
    /// # Errors
    /// `fit.residual_rows` for records that show failures only, as the lamps that went on are not in them;
    /// `fit.residual_plateau` where a lamp failed at an age at which the fitted hazard is 0; those of [`super::fit`] on
    /// the options.
    ///
    /// # Source
    /// D. R. Cox and E. J. Snell (1968), Journal of the Royal Statistical Society B 30, 248-275; with censoring: Meeker &
    /// Escobar, Statistical Methods for Reliability Data (1998), section 17.6.1. From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::Run;
    /// use relamp::family::family;
    /// use relamp::fit::{FitOptions, fit};
    /// use relamp::lives::{Rows, Tally};
    /// let rows = Rows { low: vec![100.0, 300.0, 400.0], high: vec![100.0, 300.0, f64::INFINITY], ..Rows::default() };
    /// let (tally, _) = Tally::from_rows(&rows)?;
    /// let options = FitOptions::default();
    /// let even = fit(family("exponential")?, &tally, &options, &Run::new())?;
    /// let got = even.residuals(&tally, &options)?;
    /// // 800 h for 2 failures: a mean of 400 h, so the first lamp passed 100 / 400.
    /// assert!((got.rows[0].passed - 0.25).abs() < 1e-12 && (got.expected_failures - 2.0).abs() < 1e-12);
    /// assert!((got.points[0].seen - 1.0 / 3.0).abs() < 1e-12);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn residuals(&self, tally: &Tally, options: &FitOptions) -> Result<HazardResiduals> {
        let life = self.life_at_maximum()?;
        hazard_residuals(&self.family, tally, options, &|_| Some(life.as_ref()))
    }
}

/// Residuals where row `i` has the life `of(i)`; a row without one is left out.
pub(super) fn hazard_residuals<'l>(
    family: &str,
    tally: &Tally,
    options: &FitOptions,
    of: &dyn Fn(usize) -> Option<&'l dyn Life>,
) -> Result<HazardResiduals> {
    if tally.windowed() {
        let problem = Problem::new("fit.residual_rows", "records that show failures only have no residuals")
            .at(Place::input("tally").column("upper"))
            .expected("rows without upper, or the lamps shipped with them");
        return Err(Error::new(Kind::Refused, problem));
    }
    let sample = Sample::new(tally, options.endings.as_deref(), None)?;
    let mut out = HazardResiduals {
        family: family.to_owned(),
        rows: Vec::with_capacity(tally.rows()),
        points: Vec::new(),
        failures: sample.count.failures,
        expected_failures: 0.0,
    };
    let mut unit = Rows { entry: Some(Vec::new()), count: Some(Vec::new()), ..Rows::default() };
    let mut ages: BTreeMap<u64, f64> = BTreeMap::new();
    let mut flat = Vec::new();
    for (i, &count) in tally.count().iter().enumerate() {
        let Some(life) = of(i) else { continue };
        let Row { evidence, entry, .. } = sample.row(i);
        let from = hazard(life, entry);
        let (low, high, end) = match evidence {
            Evidence::Passed(age) => (age, None, hazard(life, age)),
            Evidence::Exact(age) => (age, Some(age), hazard(life, age)),
            Evidence::Between(low, high) => {
                let end = mean_between(hazard(life, low), hazard(life, high));
                (low, Some(high), end)
            }
        };
        if high.is_some() && count > 0 && !(end > from && end < f64::INFINITY) {
            flat.push(
                Problem::new("fit.residual_plateau", "a failure where the fitted hazard is 0 or without bound")
                    .at(Tally::place(i, "low"))
                    .got(low)
                    .expected("an age at which the fit lets lamps fail"),
            );
            continue;
        }
        let passed = (end - from).max(0.0);
        out.expected_failures += count as f64 * passed;
        out.rows.push(HazardResidual { low, high, entry, count, passed });
        if high.is_some() {
            let age = if high == Some(low) { low } else { life.quantile_passed(-end)? };
            ages.entry(end.to_bits()).or_insert(age);
        }
        unit.low.push(end.max(from));
        unit.high.push(if high.is_some() { end } else { f64::INFINITY });
        unit.entry.get_or_insert_default().push(from);
        unit.count.get_or_insert_default().push(count);
    }
    if !flat.is_empty() {
        return Err(Error::many(Kind::Refused, flat));
    }
    if out.failures > 0 {
        let curve =
            product_limit(&Tally::from_rows(&unit)?.0, &CurveOptions { min_at_risk: 1, ..CurveOptions::default() })?;
        let z = normal_quantile(f64::midpoint(1.0, LEVEL));
        let mut variance = 0.0;
        let steps = curve.ages().iter().zip(curve.cumulative_hazard()).zip(curve.at_risk()).zip(curve.failures());
        for (((&expected, &seen), &at_risk), &failures) in steps {
            variance += failures as f64 / (at_risk as f64 * at_risk as f64);
            let standard_error = variance.sqrt();
            let spread = (z * standard_error / seen).exp();
            let age = ages.get(&expected.to_bits()).copied().unwrap_or(f64::NAN);
            let (low, high) = (seen / spread, seen * spread);
            out.points.push(ResidualPoint { age, expected, seen, standard_error, low, high, at_risk, failures });
        }
    }
    Ok(out)
}
