//! Failures watched as they come: what each batch, supplier and site had against what its lamps' ages let expect.
//!
//! [`expected_endings`] gives what was expected and seen in each month, [`watch`] the charts over them with their alarms,
//! the delay until an alarm, and the lamps still burning of what raised one.

mod bound;
mod chart;
mod charts;
mod expected;
mod month;
mod sawtooth;
mod spells;

pub use chart::{Alarm, Chart};
pub use charts::{DelayToAlarm, SuspectLamp, Watch, WatchOptions, watch};
pub use expected::{ExpectedEndings, RunningLamp, Watched, WatchedMonth};
pub use month::Month;
pub use spells::{ExpectedOptions, expected_endings};
