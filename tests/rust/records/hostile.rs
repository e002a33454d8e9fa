//! Random and hostile bytes.
