//! Small logs, one rule each.
