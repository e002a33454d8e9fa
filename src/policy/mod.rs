//! When to change each lamp class.
