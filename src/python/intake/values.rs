//! Columns of records, whose kind says how their cells are read: numbers, dates or text.

use arrow_array::cast::AsArray;
use arrow_array::types::Date32Type;
use arrow_array::{Array, ArrayRef};
use arrow_schema::DataType;
use pyo3::prelude::*;
use pyo3::types::PyString;

use super::{At, Source, is_missing, is_truth, items, kind_of, labels, numbers};
use crate::records::{Values, Word};

pub(super) fn from_source(source: &Source<'_>, at: At<'_>) -> PyResult<Values> {
    match source {
        Source::Arrow(chunks) => arrow(chunks, at),
        Source::Object(obj) => object(obj, source, at),
    }
}

fn arrow(chunks: &[ArrayRef], at: At<'_>) -> PyResult<Values> {
    let kind = chunks.first().map(|c| c.data_type().clone());
    match kind {
        Some(DataType::Date32 | DataType::Date64 | DataType::Timestamp(..)) => {
            let mut days = Vec::new();
            for chunk in chunks {
                let dates = arrow_cast::cast(chunk, &DataType::Date32)
                    .map_err(|e| at.refuse("python.type", "not dates", &e.to_string(), "dates"))?;
                let dates = dates.as_primitive::<Date32Type>();
                days.extend((0..dates.len()).map(|i| if dates.is_null(i) { None } else { dates.value_as_date(i) }));
            }
            Ok(Values::Date(days))
        }
        Some(kind) if kind.is_numeric() => {
            Ok(Values::Number(numbers::from_source(&Source::Arrow(chunks.to_vec()), at)?.or_nothing()))
        }
        _ => Ok(text(labels::from_source(&Source::Arrow(chunks.to_vec()), at)?)),
    }
}

/// A column of booleans as two levels, "false" and "true"; none for a column of anything else.
pub(super) fn truths(source: &Source<'_>, at: At<'_>) -> PyResult<Option<Values>> {
    let word = |truth: bool| Some((if truth { "true" } else { "false" }).to_owned());
    match source {
        Source::Arrow(chunks) if chunks.first().is_some_and(|c| *c.data_type() == DataType::Boolean) => {
            let each = chunks.iter().flat_map(|c| c.as_boolean().iter());
            Ok(Some(text(each.map(|v| v.and_then(word)).collect())))
        }
        Source::Object(obj) => {
            let items = items(obj, at)?;
            if !items.iter().find(|i| !is_missing(i) && !nan(i)).is_some_and(is_truth) {
                return Ok(None);
            }
            let one = |(row, item): (usize, &Bound<'_, PyAny>)| {
                if is_missing(item) || nan(item) {
                    return Ok(None);
                }
                if is_truth(item) {
                    return Ok(word(item.is_truthy()?));
                }
                let what = format!("row {}: not a boolean, as those above it are", row + 1);
                Err(at.refuse("python.type", &what, &kind_of(item), "booleans alone"))
            };
            Ok(Some(text(items.iter().enumerate().map(one).collect::<PyResult<Vec<_>>>()?)))
        }
        Source::Arrow(_) => Ok(None),
    }
}

fn text(values: Vec<Option<String>>) -> Values {
    Values::Text(values.into_iter().map(|v| v.map(Word::from)).collect())
}

/// What the first value that is not missing is decides; a column of both is refused where a cell does not fit.
fn object(obj: &Bound<'_, PyAny>, source: &Source<'_>, at: At<'_>) -> PyResult<Values> {
    let first = items(obj, at)?.into_iter().find(|i| !is_missing(i) && !nan(i));
    let textual = first.as_ref().is_none_or(PyAnyMethods::is_instance_of::<PyString>);
    if textual || first.is_some_and(|i| i.hasattr("isoformat").unwrap_or(false)) {
        return Ok(text(without_time(labels::from_source(source, at)?)));
    }
    Ok(Values::Number(numbers::from_source(source, at)?.or_nothing()))
}

/// A float that is not a number stands for a missing text in frames that have no other sign for it.
fn nan(item: &Bound<'_, PyAny>) -> bool {
    item.extract::<f64>().is_ok_and(f64::is_nan)
}

/// A date that came as a moment at midnight is a date.
fn without_time(values: Vec<Option<String>>) -> Vec<Option<String>> {
    let date = |v: String| v.strip_suffix("T00:00:00").map(str::to_owned).unwrap_or(v);
    values.into_iter().map(|v| v.map(date)).collect()
}
