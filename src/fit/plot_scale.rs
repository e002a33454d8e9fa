//! Scales of a probability plot: those on which every life of a family is a straight line.

use serde::{Deserialize, Serialize};

use crate::base::math::special::normal_quantile;
use crate::family::Family;

/// Scales of age and of the failed share on which the lives of a family are straight lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlotScale {
    /// Whether age is on a logarithmic scale (a family with a log-location and a scale) or as it is.
    pub log_age: bool,
    /// Standard distribution whose quantile is the scale of the failed share.
    pub standard: Standard,
}

/// A standard distribution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Standard {
    /// Smallest extreme value: quantile ln(-ln(1 - p)).
    SmallestExtreme,
    /// Normal.
    Normal,
    /// Logistic: quantile ln(p / (1 - p)).
    Logistic,
}

/// Family, whether age is logarithmic, and the standard distribution. A family with a location and a scale takes one line.
const SCALES: [(&str, bool, Standard); 7] = [
    ("exponential", true, Standard::SmallestExtreme),
    ("weibull", true, Standard::SmallestExtreme),
    ("lognormal", true, Standard::Normal),
    ("log_logistic", true, Standard::Logistic),
    ("smallest_extreme_value", false, Standard::SmallestExtreme),
    ("normal", false, Standard::Normal),
    ("logistic", false, Standard::Logistic),
];

/// The scales of a family's plot; none where the shape of its curve varies by more than location and scale.
///
/// # Examples
/// ```
/// use relamp::family::family;
/// use relamp::fit::plot_scale;
/// let scale = plot_scale(family("weibull")?).unwrap();
/// // Half failed at the age of half the lamps: ln ln 2.
/// assert!((scale.of_share(0.5) + 0.366_512_920_581_664).abs() < 1e-14);
/// assert_eq!(scale.of_age(1.0), 0.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn plot_scale(family: &dyn Family) -> Option<PlotScale> {
    SCALES
        .iter()
        .find(|(name, ..)| *name == family.name())
        .map(|&(_, log_age, standard)| PlotScale { log_age, standard })
}

impl PlotScale {
    /// Horizontal place of an age: ln age or the age.
    pub fn of_age(self, age: f64) -> f64 {
        if self.log_age { age.ln() } else { age }
    }

    /// Vertical place of a failed share: the standard quantile; infinite at 0 and 1.
    pub fn of_share(self, share: f64) -> f64 {
        match self.standard {
            Standard::SmallestExtreme => (-(-share).ln_1p()).ln(),
            Standard::Normal => normal_quantile(share),
            Standard::Logistic => share.ln() - (-share).ln_1p(),
        }
    }
}
