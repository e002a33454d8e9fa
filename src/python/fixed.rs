//! Lists that a frozen object holds, as tuples: each read gives a new one, so that a change of a list would be lost unseen.

use pyo3::prelude::*;
use pyo3::types::PyTuple;

/// Values in their order, a tuple in Python.
pub(super) struct Fixed<T>(pub(super) Vec<T>);

impl<T> FromIterator<T> for Fixed<T> {
    fn from_iter<I: IntoIterator<Item = T>>(values: I) -> Self {
        Self(values.into_iter().collect())
    }
}

impl<'py, T: IntoPyObject<'py>> IntoPyObject<'py> for Fixed<T> {
    type Target = PyTuple;
    type Output = Bound<'py, PyTuple>;
    type Error = PyErr;

    fn into_pyobject(self, py: Python<'py>) -> PyResult<Self::Output> {
        PyTuple::new(py, self.0)
    }
}
