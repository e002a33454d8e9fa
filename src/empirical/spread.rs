//! What a curve says beyond one age, with its interval: quantiles, and mean hours up to an age.

use serde::{Deserialize, Serialize};

use super::band::BandScale;
use super::curve::Curve;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::hours;
use crate::base::math::special::normal_quantile;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};

const FORMAT: Format = Format::new("mean_hours", 1);

/// The age by which a share has failed, with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuantileInterval {
    /// The share.
    pub p: f64,
    /// Smallest age by which the share has failed, hours; none where it is not reached.
    pub age: Option<f64>,
    /// Lower end, hours; none where no age is compatible with the share.
    pub low: Option<f64>,
    /// Upper end, hours; none where the records do not bound it.
    pub high: Option<f64>,
    /// Level of the interval.
    pub level: f64,
    /// The scale of the band that was inverted.
    pub scale: BandScale,
}

/// Mean hours worked between two ages by lamps that reached the first, with its interval.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeanHours {
    /// The age that lamps have reached, hours.
    pub reached_hours: f64,
    /// The age up to which hours are counted.
    pub to_hours: f64,
    /// Mean hours worked between the two ages.
    pub mean_hours: f64,
    /// Standard error of the mean, hours.
    pub standard_error: f64,
    /// Lower end, hours.
    pub low: f64,
    /// Upper end, hours.
    pub high: f64,
    /// Level of the interval.
    pub level: f64,
    /// Share of these lamps still working at `to_hours`, whose later hours are not counted.
    pub still_working: f64,
    /// What was counted, in one sentence.
    pub sentence: String,
}

impl Sound for MeanHours {
    fn check(&self, c: &mut Checks) {
        c.not_negative("reached_hours", self.reached_hours);
        c.ends("to_hours", self.reached_hours, self.to_hours);
        let most = self.to_hours - self.reached_hours;
        c.between("mean_hours", self.mean_hours, 0.0, most);
        c.not_negative("standard_error", self.standard_error);
        c.level("level", self.level);
        let (low, high) = ends(self.mean_hours, self.standard_error, self.level, most);
        c.near("low", self.low, low, self.mean_hours + self.standard_error);
        c.near("high", self.high, high, self.mean_hours + self.standard_error);
        c.share("still_working", self.still_working);
        c.words("sentence", &self.sentence);
    }
}

/// What an interval of no width means.
const NO_WIDTH: &str =
    "; the interval has no width, as these lamps do not differ in those hours: it says nothing of other lamps";

fn ends(mean: f64, error: f64, level: f64, most: f64) -> (f64, f64) {
    let half = normal_quantile(f64::midpoint(1.0, level)) * error;
    ((mean - half).max(0.0), (mean + half).min(most))
}

impl QuantileInterval {
    /// A word on an interval of no width, which says nothing of other lamps.
    pub fn note(&self) -> Option<String> {
        let age = self.low.filter(|low| self.high == Some(*low))?;
        Some(format!(
            "the curve falls past the share {} in one step at {} h, so the interval has no width: it says nothing of other lamps",
            self.p,
            hours(age)
        ))
    }
}

impl Curve {
    /// The age by which a share has failed, with the ages that the records do not speak against.
    ///
    /// # Formula
    /// ```text
    /// the ages at which the band of the curve holds 1 - p: from the first such age to the step after the last
    /// ```
    /// Each age is tested by itself: is the distance of the curve from 1 - p, on the scale of the band, within the normal
    /// quantile times its standard error? The interval is the region that the test leaves. Its upper end is none where
    /// the last step with a band still holds 1 - p.
    ///
    /// # Errors
    /// `empirical.probability` unless 0 < p < 1.
    ///
    /// # Source
    /// R. Brookmeyer and J. Crowley (1982), A confidence interval for the median survival time, Biometrics 38, 29-41.
    /// From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::{CurveOptions, product_limit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages: Vec<f64> = (1..=20).map(|i| 100.0 * f64::from(i)).collect();
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let curve = product_limit(&tally, &CurveOptions::default())?;
    /// let median = curve.quantile_interval(0.5)?;
    /// assert_eq!((median.low, median.age, median.high), (Some(500.0), Some(1000.0), Some(1500.0)));
    /// assert_eq!(curve.quantile_interval(0.97)?.high, None); // too few lamps are left to bound it
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn quantile_interval(&self, p: f64) -> Result<QuantileInterval> {
        if !(p > 0.0 && p < 1.0) {
            let problem = Problem::new("empirical.probability", "not a share that has an interval")
                .at(Place::input("p"))
                .got(p)
                .expected("above 0 and below 1");
            return Err(Error::new(Kind::Domain, problem));
        }
        let age = self.quantile(p)?;
        let band = self.band();
        let slack = 1e-12 * p.min(1.0 - p);
        let holds = |ends: &Option<(f64, f64)>| {
            ends.is_some_and(|(low, high)| low <= 1.0 - p + slack && high >= 1.0 - p - slack)
        };
        let first = band.iter().position(holds);
        let last = band.iter().rposition(holds);
        let after = last.and_then(|i| band.get(i + 1)).is_some_and(Option::is_some);
        let step_after = last.filter(|_| after).and_then(|i| self.ages().get(i + 1).copied());
        // A curve that jumps across the share leaves no age that the test keeps: the jump itself is the interval.
        let jump = if last.is_none() { age } else { None };
        let low = first.and_then(|i| self.ages().get(i).copied()).or(jump);
        Ok(QuantileInterval { p, age, low, high: step_after.or(jump), level: self.level(), scale: self.band_scale() })
    }

    /// Mean hours worked between [`Curve::conditional_from`] and `to`, with variance and interval.
    ///
    /// # Formula
    /// ```text
    /// mean = integral of R from the start to `to`
    /// variance = sum over steps a <= to of (integral of R from a to `to`)^2 x d / (n (n - d))
    /// mean - z s and mean + z s, cut at 0 and at the hours between the two ages
    /// ```
    /// d, n: failures and lamps at risk at a. z: normal quantile of (1 + level) / 2. s: root of the variance.
    ///
    /// # Errors
    /// `empirical.beyond_last_age` where the curve is not known up to `to`.
    ///
    /// # Source
    /// E. L. Kaplan and P. Meier (1958), JASA 53, 457-481, section 6.2, without their factor for small samples. From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::{CurveOptions, product_limit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![100.0, 200.0, 300.0, 400.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let curve = product_limit(&tally, &CurveOptions::default())?;
    /// let mean = curve.restricted_mean_interval(400.0)?;
    /// // All failed: the mean of the ages, and the root of their mean square distance from it over 4.
    /// assert_eq!(mean.mean_hours, 250.0);
    /// assert!((mean.standard_error - (12_500.0_f64 / 4.0).sqrt()).abs() < 1e-9);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn restricted_mean_interval(&self, to: f64) -> Result<MeanHours> {
        self.restricted_mean(to)?;
        Ok(self.mean_between(self.conditional_from(), to, 1.0))
    }

    /// Mean hours left for lamps that reached an age, counted up to the last age seen.
    ///
    /// Hours past [`Curve::last_age`] are not counted, so with lamps still working there the mean hours left are longer
    /// than this; [`MeanHours::still_working`] and the sentence say how many they are.
    ///
    /// # Formula
    /// ```text
    /// integral of R from `age` to the last age, over R(age)
    /// ```
    /// The variance is that of [`Curve::restricted_mean_interval`] for lamps given survival to `age`.
    ///
    /// # Errors
    /// `empirical.beyond_last_age` unless the age lies from [`Curve::conditional_from`] to below [`Curve::last_age`];
    /// `empirical.none_left` where the curve is 0 there.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::{CurveOptions, product_limit};
    /// use relamp::lives::{Rows, Tally};
    /// let ages = vec![100.0, 200.0, 300.0, 400.0];
    /// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
    /// let curve = product_limit(&tally, &CurveOptions::default())?;
    /// assert_eq!(curve.mean_residual_life(200.0)?.mean_hours, 150.0);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn mean_residual_life(&self, age: f64) -> Result<MeanHours> {
        if !(age >= self.conditional_from() && age < self.last_age()) {
            let problem = Problem::new("empirical.beyond_last_age", "no lamp was seen working past this age")
                .at(Place::input("age"))
                .got(age)
                .expected(format!("{} to below {}", self.conditional_from(), self.last_age()));
            return Err(Error::new(Kind::Refused, problem));
        }
        let reached = self.reliability_at(age).unwrap_or(1.0);
        if reached == 0.0 {
            let problem =
                Problem::new("empirical.none_left", "the curve is 0 at this age, so no lamp is left to average")
                    .at(Place::input("age"))
                    .got(age)
                    .expected("an age that some lamps pass");
            return Err(Error::new(Kind::Refused, problem));
        }
        Ok(self.mean_between(age, self.last_age(), reached))
    }

    /// Both ends lie in what the curve knows; `reached` is the share of lamps that hours are counted for, above 0.
    fn mean_between(&self, from: f64, to: f64, reached: f64) -> MeanHours {
        let (mut right, mut area, mut variance) = (to, 0.0, 0.0);
        let steps = self.ages().iter().zip(self.reliability()).zip(self.at_risk().iter().zip(self.failures()));
        for ((&age, &r), (&n, &d)) in steps.rev().filter(|((age, r), _)| **r < reached && **age < to) {
            area += (right - age) * r;
            right = age;
            // The last failure of a complete sample leaves no area behind it.
            if n > d {
                variance += area * area * (d as f64 / (n as f64 * (n - d) as f64));
            }
        }
        let mean = (area + (right - from) * reached) / reached;
        let error = variance.sqrt() / reached;
        let (low, high) = ends(mean, error, self.level(), to - from);
        let still = self.reliability_at(to).unwrap_or(0.0) / reached;
        // The digits that a meter shows: an age computed from others has many more.
        let meter = |age: f64| hours((age * 10.0).round() / 10.0);
        let who = if from > 0.0 {
            format!("for lamps that reached {} h", meter(from))
        } else {
            "for lamps from new".to_owned()
        };
        let rest = if still > 0.0 {
            format!(
                "hours past {} h are not counted, and {} % of these lamps still work there",
                meter(to),
                hours((still * 1000.0).round() / 10.0)
            )
        } else {
            format!("no lamp works past {} h, so every hour is counted", meter(to))
        };
        MeanHours {
            reached_hours: from,
            to_hours: to,
            mean_hours: mean,
            standard_error: error,
            low,
            high,
            level: self.level(),
            still_working: still,
            sentence: format!("mean hours {who}: {rest}{}", if error > 0.0 { "" } else { NO_WIDTH }),
        }
    }
}

impl MeanHours {
    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A mean from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
