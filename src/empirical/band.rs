//! The scale on which a band is symmetric, and its ends there.

use std::f64::consts::FRAC_PI_2;

use serde::{Deserialize, Serialize};

/// The transformation of a reliability R on which a band takes the same number of standard errors to either side.
///
/// # Examples
/// ```
/// use relamp::empirical::BandScale;
/// assert_eq!(BandScale::from_word("arcsine"), Some(BandScale::Arcsine));
/// assert_eq!(BandScale::default().as_str(), "log_log");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum BandScale {
    /// R itself; ends are cut at 0 and 1.
    Plain,
    /// ln R; the upper end is cut at 1.
    Log,
    /// ln(-ln R).
    #[default]
    LogLog,
    /// asin(sqrt R); angles are kept in 0 to 90 degrees.
    Arcsine,
}

impl BandScale {
    /// Every scale.
    pub const ALL: [BandScale; 4] = [BandScale::Plain, BandScale::Log, BandScale::LogLog, BandScale::Arcsine];

    /// The word used in files and interfaces.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            BandScale::Plain => "plain",
            BandScale::Log => "log",
            BandScale::LogLog => "log_log",
            BandScale::Arcsine => "arcsine",
        }
    }

    /// The scale that a word names.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|scale| scale.as_str() == word)
    }

    /// Lower and upper end of the band of a reliability inside (0, 1), `factor` standard errors to either side.
    ///
    /// # Formula
    /// ```text
    /// plain:    R - e s R            and R + e s R
    /// log:      R exp(-e s)          and R exp(e s)
    /// log-log:  R^exp(w)             and R^exp(-w),            w = e s / |ln R|
    /// arcsine:  sin^2(asin(sqrt R) - h) and sin^2(asin(sqrt R) + h), h = e s sqrt(R / (1 - R)) / 2
    /// ```
    /// s: `relative`, the standard error of R over R. e: `factor`, for 95 % at one age 1.96. Ends are cut at 0 and 1.
    ///
    /// # Source
    /// The delta method for each scale; O. Borgan and K. Liestol (1990), Scandinavian Journal of Statistics 17, 35-41,
    /// compare them. From memory.
    ///
    /// # Examples
    /// ```
    /// use relamp::empirical::BandScale;
    /// let (low, high) = BandScale::Plain.ends(0.5, 0.2, 2.0);
    /// assert!((low - 0.3).abs() < 1e-15 && (high - 0.7).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn ends(self, reliability: f64, relative: f64, factor: f64) -> (f64, f64) {
        let r = reliability;
        match self {
            BandScale::Plain => {
                let half = factor * relative * r;
                ((r - half).max(0.0), (r + half).min(1.0))
            }
            BandScale::Log => (r * (-factor * relative).exp(), (r * (factor * relative).exp()).min(1.0)),
            BandScale::LogLog => {
                let ln = r.ln();
                let w = factor * relative / -ln;
                ((ln * w.exp()).exp(), (ln * (-w).exp()).exp())
            }
            BandScale::Arcsine => {
                let middle = r.sqrt().asin();
                let half = 0.5 * factor * relative * (r / (1.0 - r)).sqrt();
                let end = |angle: f64| angle.clamp(0.0, FRAC_PI_2).sin().powi(2);
                (end(middle - half), end(middle + half))
            }
        }
    }
}
