//! The invented demo chain.
