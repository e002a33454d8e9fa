//! A band that holds along a whole curve at once, beside the one that holds at one age at a time.

use serde::{Deserialize, Serialize};

use super::band::BandScale;
use super::curve::Curve;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::math::root::bracketed;
use crate::base::math::special::{ln_normal_density, normal_quantile};

/// A band that holds the whole curve between two ages with the stated level.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SimultaneousBand {
    /// Level for all ages together.
    pub level: f64,
    /// Standard errors to either side: what 1.96 is to a 95 % band at one age.
    pub factor: f64,
    /// First and last age at which it holds, hours; none where no step has a finite spread.
    pub ages: Option<(f64, f64)>,
    /// Lower and upper end of the reliability at each step of the curve, `(steps,)`; none where the reliability is 0.
    pub each: Vec<Option<(f64, f64)>>,
    /// The band on the same scale that holds at one age at a time, `(steps,)`: it lies inside.
    pub at_one_age: Vec<Option<(f64, f64)>>,
}

/// Lowest level for which the tail formula of the factor is meant.
const LEAST_LEVEL: f64 = 0.5;

/// Factor of the equal-precision band.
///
/// # Formula
/// ```text
/// the e with 4 phi(e) / e + phi(e) (e - 1 / e) ln(v_last / v_first) = 1 - level
/// ```
/// phi: standard normal density; v: relative variance of the reliability, sum of d / (n (n - d)), at the first and last
/// step of the range. The chance that |W(v)| / sqrt(v) exceeds e somewhere in it, W a Wiener process.
///
/// # Errors
/// `empirical.simultaneous_level` unless 0.5 <= level < 1.
///
/// # Source
/// V. N. Nair (1984), Technometrics 26, 265-275; R. Miller and D. Siegmund (1982), Biometrics 38, 1011-1016. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::equal_precision_factor;
/// // From 0.5 % to 99.5 % of a large sample; at one age it would be 1.96.
/// let factor = equal_precision_factor(0.95, 199.0_f64.powi(2))?;
/// assert!((factor - 3.34).abs() < 0.01);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn equal_precision_factor(level: f64, variance_ratio: f64) -> Result<f64> {
    if !(LEAST_LEVEL..1.0).contains(&level) || !(1.0..f64::INFINITY).contains(&variance_ratio) {
        let problem = Problem::new("empirical.simultaneous_level", "no simultaneous band at this level")
            .at(Place::input("level"))
            .got(level)
            .expected("0.5 or more and below 1, such as 0.95");
        return Err(Error::new(Kind::Domain, problem));
    }
    let ln_ratio = variance_ratio.ln();
    let over = |e: f64| {
        let density = ln_normal_density(e).exp();
        4.0 * density / e + density * (e - 1.0 / e) * ln_ratio - (1.0 - level)
    };
    bracketed(|e| Ok(over(e)), 1.0, 38.0, 1e-12)
}

/// The equal-precision band of a curve at the curve's own level, from its first to its last step with a finite spread.
///
/// # Formula
/// ```text
/// sin^2(asin(sqrt R) - h) and sin^2(asin(sqrt R) + h), h = e sqrt(v) / 2 sqrt(R / (1 - R)), angles kept in 0 to 90 degrees
/// ```
/// v: relative variance of R; e from [`equal_precision_factor`], so the band is equally many standard errors wide at every
/// age. The band at one age at a time has the normal quantile in place of e.
///
/// # Numerics
/// On this scale the level holds in small samples and at the first failures of many lamps; on the ln(-ln R) and log-odds
/// scales the lower end of the failed share is too high there, and a 95 % band holds 89 % to 91 % of the time.
///
/// # Errors
/// Those of [`equal_precision_factor`].
///
/// # Source
/// As [`equal_precision_factor`]; the scale: O. Borgan and K. Liestol (1990), Scandinavian Journal of Statistics 17, 35-41.
/// From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{CurveOptions, product_limit, simultaneous_band};
/// use relamp::lives::{Rows, Tally};
/// let ages: Vec<f64> = (1..=40).map(|i| 100.0 * f64::from(i)).collect();
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let curve = product_limit(&tally, &CurveOptions::default())?;
/// let band = simultaneous_band(&curve)?;
/// let (narrow, wide) = (band.at_one_age[19].unwrap(), band.each[19].unwrap());
/// assert!(wide.0 < narrow.0 && narrow.1 < wide.1);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn simultaneous_band(curve: &Curve) -> Result<SimultaneousBand> {
    let spreads: Vec<Option<Step>> = curve
        .reliability()
        .iter()
        .zip(curve.standard_error())
        .zip(curve.ages())
        .map(|((&r, error), &age)| {
            let relative = error.filter(|e| *e > 0.0 && r < 1.0)? / r;
            Some(Step { age, r, relative })
        })
        .collect();
    let first = spreads.iter().flatten().next();
    let last = spreads.iter().rev().flatten().next();
    let ends = first.zip(last);
    let ratio = ends.map_or(1.0, |(a, b)| (b.relative / a.relative).powi(2).max(1.0));
    let factor = equal_precision_factor(curve.level(), ratio)?;
    let alone = normal_quantile(f64::midpoint(1.0, curve.level()));
    let band = |factor: f64| spreads.iter().map(|s| s.as_ref().map(|s| s.band(factor))).collect();
    Ok(SimultaneousBand {
        level: curve.level(),
        factor,
        ages: ends.map(|(from, to)| (from.age, to.age)),
        each: band(factor),
        at_one_age: band(alone),
    })
}

/// A step with a finite spread.
struct Step {
    age: f64,
    r: f64,
    /// Standard error of the reliability over the reliability.
    relative: f64,
}

impl Step {
    fn band(&self, factor: f64) -> (f64, f64) {
        BandScale::Arcsine.ends(self.r, self.relative, factor)
    }
}
