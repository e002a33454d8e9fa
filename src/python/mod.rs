//! Python bindings: they translate and do nothing else.
//!
//! A binding takes arguments, detaches from the interpreter, calls the core and wraps the answer. Columns come in
//! through `intake`, tables go out through `frames`, long work passes one door in `work`.

// Extracted arguments arrive by value; that is how the binding macros hand them over.
#![allow(clippy::needless_pass_by_value)]

mod error;
mod frames;
mod intake;
mod result;
mod show;
mod work;

use pyo3::prelude::*;

#[pymodule]
mod _core {
    use super::*;

    #[pymodule_export]
    use super::frames::Table;

    #[pymodule_init]
    fn init(m: &Bound<'_, PyModule>) -> PyResult<()> {
        m.add("__version__", env!("CARGO_PKG_VERSION"))?;
        m.add("__build__", if cfg!(debug_assertions) { "debug" } else { "release" })
    }
}
