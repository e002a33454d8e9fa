//! Bracketed roots.
