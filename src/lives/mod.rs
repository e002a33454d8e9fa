//! Censored lives, and the tally of equal ones.
//!
//! Start with [`Rows`] and [`Tally::from_rows`]. Hour meters read whole hours, so a million lamps collapse to a few thousand
//! distinct rows, and what follows costs by distinct rows, not by lamps.

mod order;
mod rows;
mod saved;
mod tally;

pub use rows::Rows;
pub use tally::{Group, Tally};
