//! Reliability analytics for lamp fleets.

pub mod base;
pub mod demand;
pub mod empirical;
pub mod family;
pub mod fit;
#[cfg(feature = "polars")]
pub mod frame;
pub mod guide;
pub mod lives;
pub mod policy;
pub mod records;
pub mod stock;
pub mod study;
pub mod terms;

#[cfg(feature = "python")]
mod python;

pub use base::error::{Error, Kind, Place, Problem, Result};
pub use base::run::Run;

/// The examples of the README, so that they run with the tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct ReadmeExamples;
