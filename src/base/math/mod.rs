//! Careful arithmetic: repeatable sums, linear algebra, special functions, integrals, roots and percentiles.

pub mod linalg;
pub mod percentile;
pub mod quadrature;
pub mod root;
pub mod special;
pub mod sum;
