//! Arrays out, and functions of age over whatever the caller handed in. Numpy is imported here, on first use.

use numpy::{Element, PyArray1, PyArrayMethods};
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyFloat, PyInt, PyList};

use crate::base::error::{Error, Kind, Place};

use super::intake::arguments::one_number;
use super::intake::{At, numbers};

/// A new one-dimensional numpy array. Importing first turns a missing numpy into an exception.
pub(super) fn array<'py, T: Element + Copy>(py: Python<'py>, values: &[T]) -> PyResult<Bound<'py, PyAny>> {
    py.import("numpy")?;
    Ok(PyArray1::from_slice(py, values).into_any())
}

/// A column that may hold nothing in places, as an array with NaN there.
pub(super) fn array_or_nan(
    py: Python<'_>,
    values: impl IntoIterator<Item = Option<f64>>,
) -> PyResult<Bound<'_, PyAny>> {
    let values: Vec<f64> = values.into_iter().map(|v| v.unwrap_or(f64::NAN)).collect();
    array(py, &values)
}

/// Pairs of lower and upper ends as an array (n, 2), NaN where there are none.
pub(super) fn pairs<'py>(py: Python<'py>, values: &[Option<(f64, f64)>]) -> PyResult<Bound<'py, PyAny>> {
    py.import("numpy")?;
    let flat: Vec<f64> = values.iter().flat_map(|v| v.map_or([f64::NAN; 2], |(a, b)| [a, b])).collect();
    Ok(PyArray1::from_slice(py, &flat).reshape([values.len(), 2])?.into_any())
}

/// A square table row by row as an array (n, n).
pub(super) fn square<'py>(py: Python<'py>, values: &[f64], n: usize) -> PyResult<Bound<'py, PyAny>> {
    py.import("numpy")?;
    Ok(PyArray1::from_slice(py, values).reshape([n, n])?.into_any())
}

/// A function to pairs of ends over one number (a pair or None) or over a column (an array (n, 2), NaN where there is none).
pub(super) fn pairs_over<'py>(
    ages: &Bound<'py, PyAny>,
    at: At<'_>,
    f: impl Fn(f64) -> PyResult<Option<(f64, f64)>>,
) -> PyResult<Bound<'py, PyAny>> {
    let py = ages.py();
    if is_number(ages) {
        return Ok(f(one_number(ages, at)?)?.into_pyobject(py)?.into_any());
    }
    let answers = numbers(ages, at)?.all()?.into_iter().map(f).collect::<PyResult<Vec<_>>>()?;
    pairs(py, &answers)
}

/// A function over one number (what it gives) or over a column (a list of what it gives).
pub(super) fn each<'py, T>(
    ages: &Bound<'py, PyAny>,
    at: At<'_>,
    f: impl Fn(f64) -> PyResult<T>,
) -> PyResult<Bound<'py, PyAny>>
where
    T: IntoPyObjectExt<'py>,
{
    let py = ages.py();
    if is_number(ages) {
        return f(one_number(ages, at)?)?.into_bound_py_any(py);
    }
    let answers = numbers(ages, at)?.all()?.into_iter().map(|a| f(a)?.into_bound_py_any(py));
    Ok(PyList::new(py, answers.collect::<PyResult<Vec<_>>>()?)?.into_any())
}

/// A function to pairs of which an end may be open, over one number (a pair, None for an open end) or over a column (an array
/// (n, 2), NaN for an open end).
pub(super) fn open_pairs_over<'py>(
    ages: &Bound<'py, PyAny>,
    at: At<'_>,
    f: impl Fn(f64) -> PyResult<(Option<f64>, Option<f64>)>,
) -> PyResult<Bound<'py, PyAny>> {
    if is_number(ages) {
        return f(one_number(ages, at)?)?.into_bound_py_any(ages.py());
    }
    pairs_over(ages, at, |a| f(a).map(|(low, high)| Some((low.unwrap_or(f64::NAN), high.unwrap_or(f64::NAN)))))
}

/// Whether an argument is one number rather than a column of them.
pub(super) fn is_number(obj: &Bound<'_, PyAny>) -> bool {
    let plain = obj.is_instance_of::<PyFloat>() || obj.is_instance_of::<PyInt>();
    let scalar = obj.hasattr("__float__").unwrap_or(false) && !obj.hasattr("__len__").unwrap_or(false);
    let zero_dimensions = obj.getattr("shape").and_then(|s| s.len()).is_ok_and(|n| n == 0);
    (plain || scalar || zero_dimensions) && !obj.is_instance_of::<PyBool>()
}

/// A function over one number (an answer or None) or over a column (an array, NaN where there is no answer).
pub(super) fn over<'py>(
    ages: &Bound<'py, PyAny>,
    at: At<'_>,
    f: impl Fn(f64) -> PyResult<Option<f64>>,
) -> PyResult<Bound<'py, PyAny>> {
    let py = ages.py();
    if is_number(ages) {
        return Ok(f(one_number(ages, at)?)?.into_pyobject(py)?);
    }
    let answers = numbers(ages, at)?.all()?.into_iter().map(f).collect::<Result<Vec<_>, _>>()?;
    array_or_nan(py, answers)
}

/// The same for a function of our own that may refuse an age: every age that it refuses is named by its row.
pub(super) fn checked_over<'py>(
    ages: &Bound<'py, PyAny>,
    at: At<'_>,
    f: impl Fn(f64) -> crate::Result<f64>,
) -> PyResult<Bound<'py, PyAny>> {
    let py = ages.py();
    if is_number(ages) {
        let placed = |error: Error| {
            let place = || Place::input(at.input).column(at.column);
            let problems = error.problems().iter().cloned().map(|problem| problem.at(place())).collect();
            let hint = error.hint().unwrap_or_default().to_owned();
            let error = Error::many(error.kind(), problems);
            if hint.is_empty() { error } else { error.with_hint(hint) }
        };
        return Ok(f(one_number(ages, at)?).map_err(placed)?.into_pyobject(py)?.into_any());
    }
    let column = numbers(ages, at)?.all()?;
    let (mut answers, mut problems) = (Vec::with_capacity(column.len()), Vec::new());
    let mut kind = Kind::Domain;
    for (i, age) in column.into_iter().enumerate() {
        match f(age) {
            Ok(answer) => answers.push(answer),
            Err(error) => {
                kind = error.kind();
                let place = || Place::input(at.input).row(i as u64 + 1).column(at.column);
                problems.extend(error.problems().iter().cloned().map(|problem| problem.at(place())));
            }
        }
    }
    if problems.is_empty() { array(py, &answers) } else { Err(Error::many(kind, problems).into()) }
}
