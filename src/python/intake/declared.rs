//! Dicts that declare something, in the form that a study file takes too, so that both are judged by the same code.

use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDate, PyDict, PyFloat, PyInt, PyList, PyString, PyTuple};

use super::{is_missing, kind_of};
use crate::study::{Entries, Node, Value};

/// Tables inside tables that are looked into: a log has its columns, and no key is deeper.
const DEPTH: usize = 2;

/// The keys of a dict, whatever their kind, with their values; a key that is given `None` is left out.
pub(in crate::python) fn entries(dict: &Bound<'_, PyDict>) -> PyResult<Entries> {
    table(dict, DEPTH)
}

fn table(dict: &Bound<'_, PyDict>, depth: usize) -> PyResult<Entries> {
    let mut all = Entries::new();
    if depth == 0 {
        return Ok(all);
    }
    for (key, value) in dict {
        if !is_missing(&value) {
            let key = key.str()?.to_string_lossy().into_owned();
            all.push((key, 0, Node { at: 0, value: one(&value, depth - 1)? }));
        }
    }
    Ok(all)
}

fn one(obj: &Bound<'_, PyAny>, depth: usize) -> PyResult<Value> {
    if let Ok(dict) = obj.cast::<PyDict>() {
        return Ok(Value::Table(table(dict, depth)?));
    }
    if obj.is_instance_of::<PyList>() || obj.is_instance_of::<PyTuple>() {
        // No key of a log takes a list, so what is in it does not matter.
        return Ok(Value::List(Vec::new()));
    }
    if let Ok(text) = obj.cast::<PyString>() {
        return Ok(Value::Text(text.to_string_lossy().into_owned()));
    }
    if obj.hasattr("__fspath__")? {
        return Ok(Value::Text(obj.str()?.to_string_lossy().into_owned()));
    }
    if let Ok(truth) = obj.cast::<PyBool>() {
        return Ok(Value::Truth(truth.is_true()));
    }
    if obj.is_instance_of::<PyDate>() {
        let text = obj.call_method0("isoformat")?.extract::<String>()?;
        // A moment at midnight is a date, as frames give it.
        return Ok(Value::Day(text.strip_suffix("T00:00:00").map_or_else(|| text.clone(), str::to_owned)));
    }
    let shown = || obj.str().map(|s| s.to_string_lossy().into_owned());
    if obj.is_instance_of::<PyInt>() {
        return Ok(match obj.extract::<i128>() {
            Ok(whole) => Value::Whole(whole, whole.to_string()),
            Err(_) => Value::Other(shown()?),
        });
    }
    if obj.is_instance_of::<PyFloat>() {
        return Ok(Value::Number(obj.extract()?, shown()?));
    }
    Ok(Value::Other(kind_of(obj)))
}
