//! From censored lives and a family to fitted models with their uncertainty.

mod world;

pub use world::{CauseLife, Draws, Method, Spread, World, over_draws};
