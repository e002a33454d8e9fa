//! Sums whose bytes do not depend on thread count or vector width.
