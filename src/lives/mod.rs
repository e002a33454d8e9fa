//! Censored lives, and the tally of equal ones.
//!
//! Start with [`Rows`] and [`Tally::from_rows`], or with [`from_records`] for lives that came from logs. Hour meters read
//! whole hours, so a million lamps collapse to a few thousand distinct rows, and what follows costs by distinct rows, not
//! by lamps. Nothing is estimated here.

mod arrange;
mod bare;
mod covariates;
mod from_records;
mod order;
mod read;
mod reading;
mod rows;
mod saved;
mod shipped;
mod tally;

pub use covariates::{Covariate, CovariateKind, CovariateValue, Measure};
pub(crate) use covariates::{CovariatePlace, STRATUM, listed_strata};
pub use from_records::{Cluster, LifeOptions, RecordCovariate, from_records};
pub use read::read_table;
pub use reading::Reading;
pub use rows::Rows;
pub use tally::{Group, Tally};
