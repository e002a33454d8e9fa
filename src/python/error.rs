//! The one place where core errors become Python exceptions, and where warnings are given.

use std::error::Error as _;
use std::ffi::CString;
use std::io;

use pyo3::prelude::*;
use pyo3::types::PyList;

use crate::base::error::{Error, Kind, Place, Problem};

/// Module that holds the exception classes; written in Python so that one can inherit from two built-in classes.
const CLASSES: &str = "relamp.errors";

fn class_name(error: &Error) -> &'static str {
    match error.kind() {
        Kind::Input => "InputError",
        Kind::Study => "StudyError",
        Kind::Refused => "RefusedError",
        Kind::Domain => "DomainError",
        Kind::Limit => "LimitError",
        Kind::Stopped => "StoppedError",
        Kind::Io if io_source(error).is_some_and(|e| e.kind() == io::ErrorKind::NotFound) => "FileMissingError",
        Kind::Io => "IoError",
        Kind::Internal => "InternalError",
    }
}

fn io_source(error: &Error) -> Option<&io::Error> {
    error.source().and_then(|e| e.downcast_ref::<io::Error>())
}

fn build<'py>(py: Python<'py>, error: &Error) -> PyResult<Bound<'py, PyAny>> {
    let problems = PyList::empty(py);
    for p in error.problems() {
        let Place { input, row, line, column } = &p.place;
        problems.append((p.slug, &p.what, input, row, line, column.as_deref(), &p.got, &p.expected))?;
    }
    let class = py.import(CLASSES)?.getattr(class_name(error))?;
    let value = class.call1((error.to_string(), problems, error.hint()))?;
    if let Some(code) = io_source(error).and_then(io::Error::raw_os_error) {
        value.setattr("errno", code)?;
    }
    Ok(value)
}

impl From<Error> for PyErr {
    fn from(error: Error) -> Self {
        Python::attach(|py| build(py, &error).map_or_else(|e| e, PyErr::from_value))
    }
}

/// An input error about an argument; `input` is the function or table, `column` the argument or column.
pub(super) fn refuse(slug: &'static str, what: &str, input: &str, column: &str, got: &str, expected: &str) -> Error {
    let place = if column.is_empty() { Place::input(input) } else { Place::input(input).column(column) };
    Error::new(Kind::Input, Problem::new(slug, what).at(place).got(got).expected(expected))
}

/// A defect of this library.
pub(super) fn internal(what: impl Into<String>) -> Error {
    Error::new(Kind::Internal, Problem::new("python.internal", what.into()))
        .with_hint("this is a defect of relamp: please report it with the call that led here")
}

/// Gives a Python warning of the named class, pointing at the line that called.
pub(super) fn warn(py: Python<'_>, class: &str, message: &str) -> PyResult<()> {
    let class = py.import(CLASSES)?.getattr(class)?;
    // A message with a NUL byte cannot cross; only user text could hold one.
    let text = CString::new(message.replace('\0', " ")).unwrap_or_default();
    PyErr::warn(py, &class, &text, 1)
}
