//! Careful arithmetic: repeatable sums, linear algebra, special functions, integrals, roots, least values and percentiles.

pub mod beta;
pub mod count_bounds;
pub mod dual;
pub mod gamma;
pub(crate) mod lanes;
pub mod least;
pub mod linalg;
pub mod percentile;
pub mod pieces;
pub mod quadrature;
pub mod root;
pub mod special;
pub mod sum;
mod uniform_gamma;
