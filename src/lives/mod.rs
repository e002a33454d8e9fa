//! Censored lives, and the tally of equal ones.

mod tally;

pub use tally::{Group, Tally};
