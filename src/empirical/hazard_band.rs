//! Standard error and bands of the cumulative hazard of a curve, at one age and along all of it.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

use serde::{Deserialize, Serialize};

use super::curve::Curve;
use super::simultaneous::equal_precision_factor;
use crate::base::error::Result;
use crate::base::math::special::normal_quantile;

/// The transformation of a cumulative hazard H on which a band takes the same number of standard errors to either side.
///
/// # Examples
/// ```
/// use relamp::empirical::HazardScale;
/// assert_eq!(HazardScale::from_word("plain"), Some(HazardScale::Plain));
/// assert_eq!(HazardScale::default().as_str(), "log");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum HazardScale {
    /// H itself; the lower end is cut at 0.
    Plain,
    /// ln H.
    #[default]
    Log,
    /// asin(sqrt(exp(-H))): that of a reliability exp(-H); angles are kept in 0 to 90 degrees.
    Arcsine,
}

impl HazardScale {
    /// Every scale.
    pub const ALL: [HazardScale; 3] = [HazardScale::Log, HazardScale::Plain, HazardScale::Arcsine];

    /// The word used in files and interfaces.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            HazardScale::Plain => "plain",
            HazardScale::Log => "log",
            HazardScale::Arcsine => "arcsine",
        }
    }

    /// The scale that a word names.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|scale| scale.as_str() == word)
    }

    /// Lower and upper end of the band of a cumulative hazard above 0, `factor` standard errors to either side.
    ///
    /// # Formula
    /// ```text
    /// plain:    H - e s                     and H + e s, the lower end cut at 0
    /// log:      H exp(-e s / H)             and H exp(e s / H)
    /// arcsine:  -2 ln sin(a + h)            and -2 ln sin(a - h),
    ///           a = asin(exp(-H / 2)), h = e s / (2 sqrt(exp(H) - 1)), angles kept in 0 to 90 degrees
    /// ```
    /// s: standard error of H. e: `factor`, for 95 % at one age 1.96. The upper end of the arcsine scale is infinite where
    /// the angle reaches 0: the records do not bound the hazard there.
    ///
    /// # Numerics
    /// The arcsine scale is taken from the angle's complement, so that a small H keeps its digits.
    ///
    /// # Source
    /// O. Bie, O. Borgan and K. Liestol (1987), Confidence intervals and confidence bands for the cumulative hazard rate
    /// function and their small sample properties, Scandinavian Journal of Statistics 14, 221-233. From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::HazardScale;
    /// let (low, high) = HazardScale::Plain.ends(0.5, 0.1, 2.0);
    /// assert!((low - 0.3).abs() < 1e-15 && (high - 0.7).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn ends(self, hazard: f64, standard_error: f64, factor: f64) -> (f64, f64) {
        let half = factor * standard_error;
        match self {
            HazardScale::Plain => ((hazard - half).max(0.0), hazard + half),
            HazardScale::Log => (hazard * (-half / hazard).exp(), hazard * (half / hazard).exp()),
            HazardScale::Arcsine => {
                let middle = (-(-hazard).exp_m1()).sqrt().atan2((-0.5 * hazard).exp());
                let wide = 0.5 * half / hazard.exp_m1().sqrt();
                // -2 ln cos, by the sine where the cosine is near 1.
                let end = |angle: f64| match angle {
                    a if a < FRAC_PI_4 => -(-a.max(0.0).sin().powi(2)).ln_1p(),
                    a if a < FRAC_PI_2 => -2.0 * a.cos().ln(),
                    _ => f64::INFINITY,
                };
                (end(middle - wide), end(middle + wide))
            }
        }
    }
}

/// A band that holds the cumulative hazard between two ages with the stated level, along the whole curve at once.
#[derive(Clone, Debug, PartialEq)]
pub struct SimultaneousHazardBand {
    /// Level for all ages together.
    pub level: f64,
    /// Standard errors to either side: what 1.96 is to a 95 % band at one age.
    pub factor: f64,
    /// First and last age at which it holds, hours; none where no lamp was left working at any step.
    pub ages: Option<(f64, f64)>,
    /// Lower and upper end at each step of the curve, `(steps,)`; none where the reliability is 0. An upper end is infinite
    /// where the records do not bound the hazard.
    pub each: Vec<Option<(f64, f64)>>,
}

/// The equal-precision band of the cumulative hazard at the curve's own level, from its first step to the last that leaves
/// lamps working.
///
/// # Formula
/// ```text
/// the arcsine ends of HazardScale::ends, s^2 = sum of d / n^2,
/// e from equal_precision_factor at the ratio of s^2 at the last and the first step
/// ```
/// As [`simultaneous_band`](super::simultaneous_band) has it for the reliability: equally many standard errors to either side
/// at every age, on the scale on which the level holds in small samples.
///
/// # Errors
/// Those of [`equal_precision_factor`].
///
/// # Source
/// As [`equal_precision_factor`] and [`HazardScale::ends`].
///
/// # Examples
/// ```
/// use relamp::empirical::{CurveOptions, HazardScale, product_limit, simultaneous_hazard_band};
/// use relamp::lives::{Rows, Tally};
/// let ages: Vec<f64> = (1..=40).map(|i| 100.0 * f64::from(i)).collect();
/// let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() })?;
/// let options = CurveOptions { hazard_scale: HazardScale::Arcsine, ..CurveOptions::default() };
/// let curve = product_limit(&tally, &options)?;
/// let (wide, narrow) = (simultaneous_hazard_band(&curve)?.each[19].unwrap(), curve.cumulative_hazard_band()[19].unwrap());
/// assert!(wide.0 < narrow.0 && narrow.1 < wide.1);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn simultaneous_hazard_band(curve: &Curve) -> Result<SimultaneousHazardBand> {
    let errors = curve.cumulative_hazard_standard_error();
    let working = curve.reliability().iter().map(|r| *r > 0.0);
    let spreads: Vec<Option<f64>> = errors.into_iter().zip(working).map(|(e, some)| e.filter(|_| some)).collect();
    let steps = || curve.ages().iter().zip(&spreads).filter_map(|(age, error)| Some((*age, (*error)?)));
    let ends = steps().next().zip(steps().next_back());
    let ratio = ends.map_or(1.0, |((_, first), (_, last))| (last / first).powi(2).max(1.0));
    let factor = equal_precision_factor(curve.level(), ratio)?;
    let band = |(error, hazard): (&Option<f64>, &f64)| error.map(|e| HazardScale::Arcsine.ends(*hazard, e, factor));
    Ok(SimultaneousHazardBand {
        level: curve.level(),
        factor,
        ages: ends.map(|(first, last)| (first.0, last.0)),
        each: spreads.iter().zip(curve.cumulative_hazard()).map(band).collect(),
    })
}

impl Curve {
    /// Standard error of the cumulative hazard at each step, `(steps,)`; none for a curve saved before curves held it.
    ///
    /// # Formula
    /// ```text
    /// variance of H(t) = sum over failure ages a <= t of d / n^2
    /// ```
    /// It is that of failures which come one by one, as the sum of d / n is the estimate for such. Where several share an age
    /// because meters are read in steps, it is a little too large, by a part of d / n of each term.
    ///
    /// # Source
    /// O. Aalen (1978), Nonparametric inference for a family of counting processes, Annals of Statistics 6, 701-726 (from
    /// memory).
    pub fn cumulative_hazard_standard_error(&self) -> Vec<Option<f64>> {
        (0..self.ages().len()).map(|i| self.hazard_error_of(i)).collect()
    }

    /// Lower and upper end of the band of the cumulative hazard at each step, `(steps,)`, on the scale of
    /// [`Curve::hazard_scale`]. It holds at one age at a time; for all of them see [`simultaneous_hazard_band`].
    pub fn cumulative_hazard_band(&self) -> Vec<Option<(f64, f64)>> {
        let z = normal_quantile(f64::midpoint(1.0, self.level()));
        (0..self.ages().len()).map(|i| self.hazard_band_of(i, z)).collect()
    }

    /// Standard error of the cumulative hazard at an age; none where it is not known, and before the first failure.
    pub fn cumulative_hazard_standard_error_at(&self, age: f64) -> Option<f64> {
        self.hazard_error_of(self.hazard_step(age)?)
    }

    /// Lower and upper end of the band of the cumulative hazard at an age; none as for
    /// [`Curve::cumulative_hazard_standard_error_at`].
    pub fn cumulative_hazard_band_at(&self, age: f64) -> Option<(f64, f64)> {
        self.hazard_band_of(self.hazard_step(age)?, normal_quantile(f64::midpoint(1.0, self.level())))
    }

    /// The last step at or before an age at which the hazard is known.
    fn hazard_step(&self, age: f64) -> Option<usize> {
        self.cumulative_hazard_at(age)?;
        self.step(age)
    }

    fn hazard_error_of(&self, i: usize) -> Option<f64> {
        self.hazard_variance().get(i).map(|v| v.sqrt())
    }

    fn hazard_band_of(&self, i: usize, z: f64) -> Option<(f64, f64)> {
        Some(self.hazard_scale().ends(*self.cumulative_hazard().get(i)?, self.hazard_error_of(i)?, z))
    }
}
