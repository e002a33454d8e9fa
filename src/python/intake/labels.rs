//! Columns of text.

use arrow_array::cast::AsArray;
use arrow_array::{Array, ArrayRef};
use arrow_schema::DataType;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyInt, PyString};

use super::{At, Source, check_dimensions, from_pandas, is_missing, items, kind_of, open};

/// Reads a column of text; whole numbers are taken as their digits. Missing values stay `None`.
pub(in crate::python) fn labels(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Vec<Option<String>>> {
    from_source(&open(obj, at)?, at)
}

pub(super) fn from_source(source: &Source<'_>, at: At<'_>) -> PyResult<Vec<Option<String>>> {
    match source {
        Source::Arrow(chunks) => arrow(chunks, at),
        Source::Object(obj) => object(obj, at),
    }
}

/// Every Arrow value has a canonical text; dates come out as ISO, numbers in full precision.
fn arrow(chunks: &[ArrayRef], at: At<'_>) -> PyResult<Vec<Option<String>>> {
    let mut out = Vec::with_capacity(chunks.iter().map(Array::len).sum());
    for chunk in chunks {
        let kind = chunk.data_type();
        let wrong =
            |got: &str| at.refuse("python.type", "values that are not text", got, "text, whole numbers or dates");
        if kind.is_nested() || matches!(kind, DataType::Boolean | DataType::Binary | DataType::LargeBinary) {
            return Err(wrong(&kind.to_string()));
        }
        let text = arrow_cast::cast(chunk, &DataType::LargeUtf8).map_err(|e| wrong(&e.to_string()))?;
        out.extend(text.as_string::<i64>().iter().map(|v| v.map(str::to_owned)));
    }
    Ok(out)
}

fn object(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Vec<Option<String>>> {
    check_dimensions(obj, at)?;
    let mask: Option<Vec<bool>> =
        if from_pandas(obj) { Some(obj.call_method0("isna")?.call_method0("tolist")?.extract()?) } else { None };
    let mut out = Vec::new();
    for (row, item) in items(obj, at)?.iter().enumerate() {
        let masked = mask.as_ref().and_then(|m| m.get(row)).copied().unwrap_or(false);
        out.push(if masked || is_missing(item) { None } else { Some(one(item, row, at)?) });
    }
    Ok(out)
}

fn one(item: &Bound<'_, PyAny>, row: usize, at: At<'_>) -> PyResult<String> {
    if let Ok(text) = item.cast::<PyString>() {
        return Ok(text.to_str()?.to_owned());
    }
    let number = item.is_instance_of::<PyInt>() && !item.is_instance_of::<PyBool>();
    // Dates and whole numbers of numpy know their text too.
    let dated = item.hasattr("isoformat")?;
    if dated {
        return item.call_method0("isoformat")?.extract();
    }
    if number || item.hasattr("__index__")? && !item.is_instance_of::<PyBool>() {
        return Ok(item.str()?.to_str()?.to_owned());
    }
    let what = format!("row {}: not text", row + 1);
    Err(at.refuse("python.type", &what, &kind_of(item), "text"))
}
