//! Dicts that declare something, in the form that a study file takes too, so that both are judged by the same code.

use pyo3::prelude::*;
use pyo3::types::{PyBool, PyDate, PyDict, PyFloat, PyInt, PyList, PyString, PyTuple};

use super::{is_missing, kind_of};
use crate::base::error::{Place, Problem};
use crate::study::{Entries, Node, Value};

/// Tables inside tables that are looked into: a log has its columns, and no key is deeper.
const DEPTH: usize = 2;

/// The keys of a dict, whatever their kind, with their values; a key that is given `None` is left out.
pub(in crate::python) fn entries(dict: &Bound<'_, PyDict>) -> PyResult<Entries> {
    table(dict, DEPTH)
}

/// The reasons of a program, from a text to the word of an ending, with what is wrong with the keys. Unlike elsewhere a
/// key that is given `None` stays: no ending is known for it.
pub(in crate::python) fn reasons(obj: &Bound<'_, PyAny>) -> PyResult<(Entries, Vec<Problem>)> {
    let (mut all, mut problems) = (Entries::new(), Vec::new());
    let Ok(dict) = obj.cast::<PyDict>() else {
        let problem = Problem::new("python.type", "not a map of reasons").at(Place::input("reasons"));
        problems.push(problem.got(kind_of(obj)).expected("a dict from the texts of the logs to endings"));
        return Ok((all, problems));
    };
    for (key, value) in dict {
        if let Ok(text) = key.cast::<PyString>() {
            let value =
                if is_missing(&value) { Value::Other(value.str()?.to_string()) } else { one(&value, DEPTH - 1)? };
            all.push((text.to_string_lossy().into_owned(), 0, Node { at: 0, value }));
        } else {
            let shown = key.repr()?.to_string_lossy().chars().take(80).collect::<String>();
            let problem =
                Problem::new("python.type", "a reason is not a text").at(Place::input("reasons").column(&shown));
            problems
                .push(problem.got(format!("{shown} of type {}", kind_of(&key))).expected("a text, as the log has it"));
        }
    }
    Ok((all, problems))
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
