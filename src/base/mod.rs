//! Foundations that every room stands on: errors with a place, careful arithmetic, repeatable
//! random numbers, and long work that can be stopped and watched.

pub(crate) mod days;
pub mod error;
pub mod figure;
pub mod math;
pub mod random;
pub mod run;
pub mod saved;
pub mod sound;
pub(crate) mod spreadsheet;
