//! Small dense linear algebra: the only file that names nalgebra.
