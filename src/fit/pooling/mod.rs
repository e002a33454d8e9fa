//! Partial pooling: hazards of sites, screens, suppliers or batches that vary about that of the fleet.
//!
//! Start from [`pool_groups`].

mod draws;
mod effect;
mod grid;
mod model;
mod sample;
mod search;
mod surface;

pub use model::{GroupEffect, PooledBaseline, PooledGroup, PooledGroups, PoolingOptions, UnderPrior};
pub use search::pool_groups;
