//! Columns of numbers.

use arrow_array::cast::AsArray;
use arrow_array::types::{Float64Type, Int64Type};
use arrow_array::{Array, ArrayRef};
use arrow_schema::DataType;
use numpy::{PyArray1, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyBytes, PyComplex, PyFloat, PyInt, PyString};

use crate::base::error::{Error, Kind, Place, Problem};
use crate::base::figure::counted;

use super::{At, Source, check_dimensions, from_pandas, is_missing, items, kind_of, open};

/// Problems listed one by one; the rest are counted.
const LISTED: usize = 1000;

/// A column of numbers; rows listed in `missing` hold NaN as a stand-in.
pub(in crate::python) struct Numbers {
    input: String,
    column: String,
    values: Vec<f64>,
    missing: Vec<usize>,
}

impl Numbers {
    /// The values where none may be missing and none NaN.
    pub(in crate::python) fn all(self) -> PyResult<Vec<f64>> {
        self.fail(&self.missing, "python.missing", "missing value", "", "a number")?;
        let bad = self.rows_where(f64::is_nan);
        self.fail(&bad, "python.nan", "not a number", "NaN", "a number")?;
        Ok(self.values)
    }

    /// The values with `stand_in` for the missing ones. NaN among the others is left for the core to name.
    pub(in crate::python) fn or(mut self, stand_in: f64) -> Vec<f64> {
        for &row in &self.missing {
            if let Some(v) = self.values.get_mut(row) {
                *v = stand_in;
            }
        }
        self.values
    }

    /// The values, nothing where they are missing; NaN is refused.
    pub(in crate::python) fn optional(self) -> PyResult<Vec<Option<f64>>> {
        let mut missing = self.missing.iter().peekable();
        let bad = self.rows_where(f64::is_nan);
        let bad: Vec<usize> = bad.into_iter().filter(|row| missing.next_if(|m| *m == row).is_none()).collect();
        self.fail(&bad, "python.nan", "not a number", "NaN", "a number, or a missing value (None, null, NA)")?;
        Ok(self.values.iter().map(|v| (!v.is_nan()).then_some(*v)).collect())
    }

    /// The values, nothing where they are missing. NaN is left for the core to name.
    pub(in crate::python) fn or_nothing(self) -> Vec<Option<f64>> {
        let mut values: Vec<Option<f64>> = self.values.into_iter().map(Some).collect();
        for row in self.missing {
            if let Some(v) = values.get_mut(row) {
                *v = None;
            }
        }
        values
    }

    /// The values where none may be missing. NaN is left for the core to name.
    pub(in crate::python) fn present(self) -> PyResult<Vec<f64>> {
        self.fail(&self.missing, "python.missing", "missing value", "", "a number")?;
        Ok(self.values)
    }

    fn rows_where(&self, test: impl Fn(f64) -> bool) -> Vec<usize> {
        self.values.iter().enumerate().filter(|&(_, &v)| test(v)).map(|(i, _)| i).collect()
    }

    fn fail(&self, rows: &[usize], slug: &'static str, what: &str, got: &str, expected: &str) -> PyResult<()> {
        if rows.is_empty() {
            return Ok(());
        }
        let place = || place_of(&self.input, &self.column);
        let shown = |row: usize| match (got, self.values.get(row)) {
            ("", Some(v)) if !v.is_nan() => v.to_string(),
            _ => got.to_owned(),
        };
        let one =
            |&row: &usize| Problem::new(slug, what).at(place().row(row as u64 + 1)).got(shown(row)).expected(expected);
        let mut problems: Vec<Problem> = rows.iter().take(LISTED).map(one).collect();
        if rows.len() > LISTED {
            problems.push(
                Problem::new(slug, format!("{what} in {}", counted((rows.len() - LISTED) as u64, "more row")))
                    .at(place()),
            );
        }
        Err(Error::many(Kind::Input, problems).into())
    }
}

/// Reads a column of numbers from any array-like.
pub(in crate::python) fn numbers(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Numbers> {
    from_source(&open(obj, at)?, at)
}

pub(super) fn from_source(source: &Source<'_>, at: At<'_>) -> PyResult<Numbers> {
    let (values, missing) = match source {
        Source::Arrow(chunks) => arrow(chunks, at)?,
        Source::Object(obj) => object(obj, at)?,
    };
    Ok(Numbers { input: at.input.to_owned(), column: at.column.to_owned(), values, missing })
}

type Parts = (Vec<f64>, Vec<usize>);

fn wrong_type(at: At<'_>, got: &str) -> PyErr {
    let what = match got {
        "boolean" => "true or false where numbers are expected",
        "text" => "text where numbers are expected",
        _ => "values that are not numbers",
    };
    at.refuse("python.type", what, got, "numbers")
}

fn arrow(chunks: &[ArrayRef], at: At<'_>) -> PyResult<Parts> {
    let mut values = Vec::with_capacity(chunks.iter().map(Array::len).sum());
    let mut missing = Vec::new();
    for chunk in chunks {
        let kind = chunk.data_type();
        match kind {
            DataType::Boolean => return Err(wrong_type(at, "boolean")),
            DataType::Utf8 | DataType::LargeUtf8 | DataType::Utf8View => return Err(wrong_type(at, "text")),
            DataType::Null => {}
            _ if kind.is_numeric() => {}
            other => return Err(wrong_type(at, &other.to_string())),
        }
        let start = values.len();
        match kind {
            DataType::Float64 => values.extend_from_slice(chunk.as_primitive::<Float64Type>().values()),
            DataType::Int64 => values.extend(chunk.as_primitive::<Int64Type>().values().iter().map(|&v| v as f64)),
            DataType::Null => values.resize(start + chunk.len(), f64::NAN),
            _ => {
                let cast = arrow_cast::cast(chunk, &DataType::Float64)
                    .map_err(|e| at.refuse("python.type", "values that are not numbers", &e.to_string(), "numbers"))?;
                values.extend_from_slice(cast.as_primitive::<Float64Type>().values());
            }
        }
        if let Some(nulls) = chunk.logical_nulls() {
            missing.extend((0..chunk.len()).filter(|&i| nulls.is_null(i)).map(|i| start + i));
        }
    }
    hide(&mut values, &missing);
    Ok((values, missing))
}

/// What lies under a null is arbitrary; NaN makes it harmless and recognisable.
fn hide(values: &mut [f64], missing: &[usize]) {
    for &row in missing {
        if let Some(v) = values.get_mut(row) {
            *v = f64::NAN;
        }
    }
}

fn object(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Parts> {
    check_dimensions(obj, at)?;
    let Some(kind) = dtype_kind(obj)? else { return sequence(obj, at) };
    match kind.as_str() {
        "i" | "u" | "f" => {}
        "O" => return sequence(obj, at),
        "b" => return Err(wrong_type(at, "boolean")),
        "U" | "S" | "T" => return Err(wrong_type(at, "text")),
        "c" => return Err(wrong_type(at, "complex numbers")),
        "M" | "m" => return Err(wrong_type(at, "dates or durations")),
        other => return Err(wrong_type(at, &format!("dtype kind {other}"))),
    }
    if from_pandas(obj) {
        return pandas(obj, at);
    }
    // Masked values come out of a masked array as None.
    if obj.hasattr("mask")? {
        return sequence(obj, at);
    }
    if !obj.hasattr("astype")? {
        return sequence(obj, at);
    }
    Ok((floats(&obj.call_method1("astype", ("float64",))?)?, Vec::new()))
}

fn dtype_kind(obj: &Bound<'_, PyAny>) -> PyResult<Option<String>> {
    if !obj.hasattr("dtype")? {
        return Ok(None);
    }
    Ok(obj.getattr("dtype")?.getattr("kind").and_then(|k| k.extract()).ok())
}

fn floats(array: &Bound<'_, PyAny>) -> PyResult<Vec<f64>> {
    let array = array.cast::<PyArray1<f64>>()?;
    Ok(array.readonly().as_array().to_vec())
}

/// A series of an extension type keeps NA apart from NaN; one that rests on a numpy array does not, and its NaN stays NaN.
fn pandas(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Parts> {
    if kind_of(&obj.getattr("dtype")?).starts_with("numpy") {
        return object(&obj.call_method0("to_numpy")?, at);
    }
    let py = obj.py();
    let mask: Vec<bool> = obj.call_method0("isna")?.call_method0("tolist")?.extract()?;
    let options = pyo3::types::PyDict::new(py);
    options.set_item("dtype", "float64")?;
    options.set_item("na_value", f64::NAN)?;
    let values = floats(&obj.call_method("to_numpy", (), Some(&options))?)?;
    Ok((values, mask.iter().enumerate().filter(|&(_, &m)| m).map(|(i, _)| i).collect()))
}

fn sequence(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Parts> {
    let items = items(obj, at)?;
    let mut values = Vec::with_capacity(items.len());
    let mut missing = Vec::new();
    let mut wrong = Vec::new();
    for (row, item) in items.iter().enumerate() {
        match one(item) {
            Ok(Some(v)) => values.push(v),
            Ok(None) => {
                missing.push(row);
                values.push(f64::NAN);
            }
            Err(got) => {
                values.push(f64::NAN);
                if wrong.len() < LISTED {
                    let place = place_of(at.input, at.column).row(row as u64 + 1);
                    wrong.push(Problem::new("python.type", "not a number").at(place).got(got).expected("a number"));
                }
            }
        }
    }
    if wrong.is_empty() { Ok((values, missing)) } else { Err(Error::many(Kind::Input, wrong).into()) }
}

/// One item: a number, a missing value, or why it is neither.
pub(super) fn one(item: &Bound<'_, PyAny>) -> Result<Option<f64>, String> {
    if let Ok(number) = item.cast_exact::<PyFloat>() {
        return Ok(Some(number.value()));
    }
    if is_missing(item) {
        return Ok(None);
    }
    let name = kind_of(item);
    let text = item.is_instance_of::<PyString>() || item.is_instance_of::<PyBytes>();
    if text || item.is_instance_of::<PyBool>() || item.is_instance_of::<PyComplex>() {
        let shown = item.repr().map(|r| r.to_string()).unwrap_or_default();
        return Err(format!("{} of type {name}", shown.chars().take(60).collect::<String>()));
    }
    // A numpy scalar tells its kind; without this a numpy boolean or date would pass as a number.
    if let Ok(Some(kind)) = dtype_kind(item)
        && !matches!(kind.as_str(), "i" | "u" | "f")
    {
        return Err(format!("a value of type {name}"));
    }
    let number = item.is_instance_of::<PyInt>() || item.hasattr("__float__").unwrap_or(false);
    match item.extract::<f64>() {
        Ok(v) if number => Ok(Some(v)),
        _ => Err(format!("a value of type {name}")),
    }
}

/// A column of an input, or the input itself where it is one column.
fn place_of(input: &str, column: &str) -> Place {
    if column.is_empty() { Place::input(input) } else { Place::input(input).column(column) }
}
