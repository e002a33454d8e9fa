//! Proportional hazards: covariates multiply a hazard of any shape.
//!
//! Start from [`proportional_hazards`].

mod answer;
mod baseline;
mod model;
mod partial;
mod proportionality;
mod residuals;
mod search;
mod shares;

pub use baseline::Baseline;
pub use model::{HazardFit, HazardOptions};
pub use proportionality::{AgeScale, Proportionality};
pub use residuals::{CovariateResiduals, FailureResidual, LifeResidual};
pub use search::proportional_hazards;
