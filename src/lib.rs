//! Reliability analytics for lamp fleets: from an untidy lamp log to a replacement age and a spares list.
//!
//! A study file names the logs, the lamp classes with their printed hours, what a change costs by what ended the lamp,
//! and the spares at hand. One call gives every answer with the rows it rests on:
//!
//! ```
//! use relamp::Run;
//! use relamp::study::{Study, StudyOptions};
//!
//! # fn main() -> relamp::Result<()> {
//! // An invented chain; 20 draws instead of 400 keep this example short.
//! let options = StudyOptions { draws: Some(20), ..StudyOptions::default() };
//! let study = Study::open_with("data/demo/study.toml", options)?;
//! let output = study.run(&Run::new())?;
//! let results = &output.results;
//!
//! // First the lamps at or past their limit; an age that is not known counts as due.
//! for lamp in &results.overdue.at_limit {
//!     println!("{} {}, screen {}: {} h over", lamp.lamp_class, lamp.site, lamp.screen, lamp.over_hours);
//! }
//! assert!(results.overdue.any_due());
//! // Every row is accounted for.
//! assert!(results.ledger.reconciles);
//! // Then each class: when to change, and what to order.
//! for class in &results.classes {
//!     println!("{}: {}", class.name, class.headline);
//!     assert!(class.advised_age_hours <= class.limit.limit_hours);
//!     if let Some(stock) = &class.stock {
//!         println!("  {}", stock.sentence);
//!     }
//! }
//! # Ok(())
//! # }
//! ```
//!
//! The rooms behind it stand on their own: [`records`] reads logs, [`lives`] makes censored lives of them, [`empirical`]
//! draws curves without a family, [`family`] and [`fit`] model them, [`policy`] finds the replacement age, [`demand`] and
//! [`stock`] the spares, and [`study`] joins them; [`warranty`] ranks the claims worth filing, [`watch`] compares failures
//! with those expected, month by month, [`renewal`] counts the changes of a screen over time, [`simulate`] plays a fleet
//! out event by event under any rule of change, and [`replay`] reads the chain's own history under another rule and
//! judges predictions by it.

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
pub mod renewal;
pub mod replay;
pub mod simulate;
pub mod stock;
pub mod study;
pub mod terms;
pub mod warranty;
pub mod watch;

#[cfg(feature = "python")]
mod python;

pub use base::error::{Error, Kind, Place, Problem, Result};
pub use base::run::Run;

/// The examples of the README, so that they run with the tests.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct ReadmeExamples;
