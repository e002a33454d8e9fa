//! How many changes a screen needs over time, from the life of its lamps.
//!
//! [`expected_changes`] gives the mean number of planned and failure changes by given times and its variance;
//! [`change_counts`] the whole distribution of the number of changes by one time. Both take any life, a planned age or
//! none, and a first lamp of known age ([`ChangeRule`]). They know one life and no uncertainty; [`crate::demand`] counts
//! the lamps of many screens month by month over draws. Several causes go in as one [`crate::family::Series`].

mod amounts;
mod basis;
mod blocks;
mod closed;
mod counts;
mod expected;
mod mesh;
mod powers;
mod rule;
mod spread;
mod steps;
mod table;
mod together;

pub(crate) use amounts::{Amounts, Laid, Timeline};
pub(crate) use basis::{Basis, gauss};
pub use counts::{ChangeCounts, change_counts};
pub use expected::{ExpectedChanges, LongRunLine, Way, expected_changes};
pub use rule::ChangeRule;
pub(crate) use together::Together;
