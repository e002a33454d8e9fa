//! What a Poisson number of the same mean would have said.

use serde::{Deserialize, Serialize};

use super::level::level;
use super::service::signed;
use crate::base::error::Result;
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;

/// The stock for a chance of no shortage from the whole distribution of the number needed, beside the shortcut that keeps
/// only its mean.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PoissonShortcut {
    /// Wanted chance of no shortage over the lead time.
    pub service_target: f64,
    /// Mean lamps needed.
    pub mean_needed: f64,
    /// Variance over mean of the number needed: 1 for Poisson, less where planned changes make it surer, more where what
    /// is not known spreads it; none where nothing is needed.
    pub variance_to_mean: Option<f64>,
    /// Least stock that meets the target.
    pub level: u64,
    /// What the shortcut holds.
    pub shortcut_level: u64,
    /// Lamps that the shortcut holds too many; below 0 where it holds too few.
    pub stock_error: i64,
    /// Chance of no shortage at the level.
    pub service_at_level: f64,
    /// The same as the shortcut says.
    pub shortcut_says_at_level: f64,
    /// Chance of no shortage with what the shortcut holds.
    pub service_at_shortcut_level: f64,
    /// What the shortcut says too much, below 0 too little, of the service at the level.
    pub service_error: f64,
}

impl Sound for PoissonShortcut {
    fn check(&self, c: &mut Checks) {
        c.share("service_target", self.service_target);
        c.not_negative("mean_needed", self.mean_needed);
        c.not_negative("variance_to_mean", self.variance_to_mean);
        c.share("service_at_level", self.service_at_level);
        c.share("shortcut_says_at_level", self.shortcut_says_at_level);
        c.share("service_at_shortcut_level", self.service_at_shortcut_level);
        let error = i128::from(self.shortcut_level) - i128::from(self.level);
        c.need("stock_error", i128::from(self.stock_error) == error, self.stock_error, error.to_string());
        c.near("service_error", self.service_error, self.shortcut_says_at_level - self.service_at_level, 1.0);
    }
}

/// Compares the two.
///
/// # Errors
/// `stock.service_target` unless 0 < target <= 1; `demand.mean` above 1e9 lamps.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::poisson_shortcut;
/// // Ten lamps, each needed with a chance of one in two.
/// let found = poisson_shortcut(&Count::of_chances(&[0.5; 10])?, 0.95)?;
/// assert_eq!((found.level, found.shortcut_level, found.stock_error), (8, 9, 1));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn poisson_shortcut(needed: &Count, service_target: f64) -> Result<PoissonShortcut> {
    let chance = Count::poisson(needed.mean())?;
    let (exact, rough) = (level(needed, service_target, 0, 0)?, level(&chance, service_target, 0, 0)?);
    let says = chance.at_most(exact.level);
    Ok(PoissonShortcut {
        service_target,
        mean_needed: needed.mean(),
        variance_to_mean: (needed.mean() > 0.0).then(|| needed.sd().powi(2) / needed.mean()),
        level: exact.level,
        shortcut_level: rough.level,
        stock_error: signed(rough.level) - signed(exact.level),
        service_at_level: exact.service_at_level,
        shortcut_says_at_level: says,
        service_at_shortcut_level: needed.at_most(rough.level),
        service_error: says - exact.service_at_level,
    })
}
