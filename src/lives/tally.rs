//! The tally: distinct (low, high, entry, upper, ending, group) rows with whole counts, in canonical order.

use serde::{Deserialize, Serialize};

/// What the rows of one group share: the stratum (lamp class), and the site when kept apart.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// Stratum, usually the lamp class.
    pub stratum: String,
    /// Cluster whose rows share a bootstrap weight, usually the site or the serial; empty for none.
    pub cluster: String,
}

/// Distinct rows with whole counts, column by column. An exact failure has `low == high`; a
/// right-censored row has `high == f64::INFINITY`; a failure known to an interval lies in (low, high].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tally {
    pub(crate) low: Vec<f64>,
    pub(crate) high: Vec<f64>,
    pub(crate) entry: Option<Vec<f64>>,
    pub(crate) upper: Option<Vec<f64>>,
    pub(crate) group: Vec<u32>,
    pub(crate) ending: Vec<u16>,
    pub(crate) count: Vec<u64>,
    pub(crate) groups: Vec<Group>,
}

impl Tally {
    /// Ages at or after which the ending happened, or censoring ages, `(rows,)`, hours.
    pub fn low(&self) -> &[f64] {
        &self.low
    }

    /// Ages by which the ending had happened, infinite for right-censored rows, `(rows,)`, hours.
    pub fn high(&self) -> &[f64] {
        &self.high
    }

    /// Ages at which rows came under observation, `(rows,)`, hours; none if all are 0.
    pub fn entry(&self) -> Option<&[f64]> {
        self.entry.as_deref()
    }

    /// Ages past which a failure would not have been seen, `(rows,)`, hours; none if all are infinite.
    pub fn upper(&self) -> Option<&[f64]> {
        self.upper.as_deref()
    }

    /// Index of each row into [`Tally::groups`], `(rows,)`.
    pub fn group(&self) -> &[u32] {
        &self.group
    }

    /// Code of each row's ending, see [`crate::records::Ending::code`], `(rows,)`.
    pub fn ending(&self) -> &[u16] {
        &self.ending
    }

    /// How many lives each row stands for, `(rows,)`.
    pub fn count(&self) -> &[u64] {
        &self.count
    }

    /// The group table.
    pub fn groups(&self) -> &[Group] {
        &self.groups
    }

    /// Number of distinct rows.
    pub fn rows(&self) -> usize {
        self.low.len()
    }
}
