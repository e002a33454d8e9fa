//! Special functions: the only file that names statrs.
