//! What failures that were hardly seen may still do.

use serde::{Deserialize, Serialize};

use crate::base::error::Result;
use crate::base::figure::{counted, short};
use crate::base::math::beta::beta_quantile;
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;

/// Failures of a kind up to which the weights of the interval say next to nothing of it. Our choice, without a source.
pub(super) const FEW: u64 = 2;
/// One-sided level of the bound.
pub(super) const LEVEL: f64 = 0.95;

/// An ending of which no failure was seen before the planned age, or one or two, and what it may still do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RareEnding {
    /// The ending.
    pub ending: Ending,
    /// Failures of this kind seen, of [`lamps`](Self::lamps).
    pub seen: u64,
    /// Lamps under observation from new until they failed before the planned age, or reached it.
    pub lamps: u64,
    /// Upper limit, one-sided at 95 %, of how many of 1,000 lamps end so before the planned age; 1,000 where no lamp tells.
    pub at_most_per_1000_lamps: f64,
    /// Cost per lamp hour if so many did, each when new, and all else were as seen; none where no hours would be left.
    pub at_most_cost_per_hour: Option<f64>,
}

impl RareEnding {
    /// The bound of `seen` among `lamps`.
    ///
    /// # Formula
    /// ```text
    /// p such that the binomial chance of at most `seen` among `lamps` is 0.05; none among n: 1 - 0.05^(1/n), about 2.996/n
    /// cost = [cost of a cycle + (p - estimate) (c_j - c_p)] / [hours of a cycle - (p - estimate) A]
    /// ```
    pub(super) fn of(ending: Ending, (seen, lamps): (u64, u64), share: f64, cycle: &Extra) -> Result<Self> {
        let most = if seen < lamps { beta_quantile(seen as f64 + 1.0, (lamps - seen) as f64, LEVEL)? } else { 1.0 };
        let more = (most - share).max(0.0);
        let hours = cycle.hours - more * cycle.age_hours;
        let cost = cycle.cost + more * (cycle.failure_cost - cycle.planned_cost).max(0.0);
        Ok(Self {
            ending,
            seen,
            lamps,
            at_most_per_1000_lamps: 1000.0 * most,
            at_most_cost_per_hour: (hours > 0.0).then(|| cost / hours),
        })
    }

    /// The same in words.
    pub(super) fn words(&self) -> String {
        let cost = self
            .at_most_cost_per_hour
            .map_or_else(String::new, |cost| format!(", which would make the cost {} per hour", short(cost)));
        format!(
            "{} of {} seen from new ended by {}, so that at 95 % up to {} % of lamps may{cost}",
            self.seen,
            counted(self.lamps, "lamp"),
            self.ending,
            short(0.1 * self.at_most_per_1000_lamps)
        )
    }
}

/// A mean cycle, and what one more failure changes.
pub(super) struct Extra {
    pub(super) cost: f64,
    pub(super) hours: f64,
    pub(super) age_hours: f64,
    pub(super) failure_cost: f64,
    pub(super) planned_cost: f64,
}

impl Sound for RareEnding {
    fn check(&self, c: &mut Checks) {
        c.need("seen", self.seen <= FEW, self.seen, format!("at most {FEW}"));
        c.between("at_most_per_1000_lamps", self.at_most_per_1000_lamps, 0.0, 1000.0);
        c.positive("at_most_cost_per_hour", self.at_most_cost_per_hour);
        let most = if self.seen < self.lamps {
            beta_quantile(self.seen as f64 + 1.0, (self.lamps - self.seen) as f64, LEVEL).unwrap_or(f64::NAN)
        } else {
            1.0
        };
        c.equal("at_most_per_1000_lamps", self.at_most_per_1000_lamps, 1000.0 * most);
    }
}
