//! Careful arithmetic: repeatable sums, linear algebra, special functions, integrals and roots.

pub mod linalg;
pub mod quadrature;
pub mod root;
pub mod special;
pub mod sum;
