//! Columns and tables in: Arrow objects, data frames, arrays and plain sequences become checked columns.
//!
//! A missing value (null, `None`, `NA`) and a NaN are two cases: the first may mean something (a right-censored life),
//! the second is a broken number.

pub(super) mod arguments;
mod declared;
mod labels;
mod numbers;
mod table;
mod values;

pub(super) use declared::{entries, reasons};
pub(super) use labels::labels;
pub(super) use numbers::{Numbers, numbers};
pub(super) use table::Table;

use arrow_array::{ArrayRef, new_null_array};
use arrow_schema::DataType;
use pyo3::prelude::*;
use pyo3::types::{PyAnyMethods, PyBool, PyByteArray, PyBytes, PyDict, PyList, PySet, PyString, PyTuple};
use pyo3_arrow::input::AnyArray;

use super::error::refuse;
use crate::base::figure::counted;

/// One column before its values were looked at.
pub(super) enum Source<'py> {
    Arrow(Vec<ArrayRef>),
    Object(Bound<'py, PyAny>),
}

/// Where a column belongs, for messages: the function or table, and the column.
#[derive(Clone, Copy)]
pub(super) struct At<'a> {
    pub(super) input: &'a str,
    pub(super) column: &'a str,
}

impl At<'_> {
    fn refuse(&self, slug: &'static str, what: &str, got: &str, expected: &str) -> PyErr {
        refuse(slug, what, self.input, self.column, got, expected).into()
    }
}

const EXPECTED: &str = "a one-dimensional array, series, list or tuple";

/// The type of an object as users name it, such as `numpy.ndarray`.
pub(super) fn kind_of(obj: &Bound<'_, PyAny>) -> String {
    let class = obj.get_type();
    let name = class.qualname().map_or_else(|_| "object".to_owned(), |n| n.to_string());
    match class.module() {
        Ok(module) if module != "builtins" => {
            let module = module.to_string();
            format!("{}.{name}", module.split('.').next().unwrap_or_default())
        }
        _ => name,
    }
}

fn from_pandas(obj: &Bound<'_, PyAny>) -> bool {
    obj.get_type().module().is_ok_and(|m| m.to_string().split('.').next() == Some("pandas"))
}

fn is_lazy(obj: &Bound<'_, PyAny>) -> bool {
    obj.get_type().qualname().is_ok_and(|n| n == "LazyFrame")
}

/// Says by name why an object is no column at all; anything else may pass on.
fn refuse_non_columns(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<()> {
    let got = kind_of(obj);
    if is_lazy(obj) {
        return Err(at.refuse("python.lazy", "a lazy frame holds no values yet", &got, "the result of .collect()"));
    }
    let text = obj.is_instance_of::<PyString>() || obj.is_instance_of::<PyBytes>();
    if obj.is_none() || text || obj.is_instance_of::<PyBool>() || obj.is_instance_of::<PyByteArray>() {
        return Err(at.refuse("python.not_a_column", "not a column", &got, EXPECTED));
    }
    if obj.is_instance_of::<PyDict>() || obj.is_instance_of::<PySet>() {
        return Err(at.refuse("python.not_a_column", "has no order of rows", &got, EXPECTED));
    }
    Ok(())
}

/// Opens an object as a column: Arrow where it can, else as it is.
fn open<'py>(obj: &Bound<'py, PyAny>, at: At<'_>) -> PyResult<Source<'py>> {
    refuse_non_columns(obj, at)?;
    let arrow = !from_pandas(obj) && (obj.hasattr("__arrow_c_stream__")? || obj.hasattr("__arrow_c_array__")?);
    if !arrow {
        return Ok(Source::Object(obj.clone()));
    }
    // The stream of a column without a type, as a polars column of nothing but nulls is, does not follow the protocol.
    if obj.getattr("dtype").and_then(|d| d.str()).is_ok_and(|d| d == "Null") {
        return Ok(Source::Arrow(vec![new_null_array(&DataType::Null, obj.len()?)]));
    }
    let array = obj.extract::<AnyArray>()?.into_chunked_array()?;
    Ok(Source::Arrow(array.into_inner().0))
}

/// The items of a plain sequence, or of an array or series turned into one.
fn items<'py>(obj: &Bound<'py, PyAny>, at: At<'_>) -> PyResult<Vec<Bound<'py, PyAny>>> {
    let plain = obj.is_instance_of::<PyList>() || obj.is_instance_of::<PyTuple>();
    let sequence = if plain {
        obj.clone()
    } else if obj.hasattr("tolist")? {
        obj.call_method0("tolist")?
    } else if obj.hasattr("__len__")? && obj.hasattr("__getitem__")? {
        obj.clone()
    } else {
        return Err(at.refuse("python.not_a_column", "not a column", &kind_of(obj), EXPECTED));
    };
    sequence.try_iter()?.collect()
}

/// Refuses an array-like that has another number of dimensions than one.
fn check_dimensions(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<()> {
    let Ok(shape) = obj.getattr("shape").and_then(|s| s.extract::<Vec<usize>>()) else { return Ok(()) };
    if shape.len() == 1 {
        return Ok(());
    }
    let sizes: Vec<String> = shape.iter().map(usize::to_string).collect();
    let got = format!("{} ({})", counted(shape.len() as u64, "dimension"), sizes.join(" x "));
    Err(at.refuse("python.dimensions", "wrong number of dimensions", &got, "one dimension"))
}

/// Whether a value is a boolean, of Python or of numpy.
pub(super) fn is_truth(item: &Bound<'_, PyAny>) -> bool {
    item.is_instance_of::<pyo3::types::PyBool>() || kind_of(item).starts_with("numpy.bool")
}

/// Whether an item stands for a missing value.
fn is_missing(item: &Bound<'_, PyAny>) -> bool {
    item.is_none() || item.get_type().qualname().is_ok_and(|n| n == "NAType" || n == "NaTType")
}
