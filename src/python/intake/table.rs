//! Tables: data frames, Arrow tables, or a dict of columns.

use std::collections::BTreeSet;

use arrow_array::{ArrayRef, RecordBatch};
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyMapping};
use pyo3_arrow::input::AnyRecordBatch;

use super::numbers::Numbers;
use super::{At, Source, from_pandas, is_lazy, kind_of, labels, numbers, open, values};
use crate::base::figure::fitting;
use crate::python::error::{refuse, warn};
use crate::records::{Column, Values, Word};

/// Name of the warning of a level that no row has.
const UNUSED_LEVEL: &str = "python.unused_level";

enum Holder<'py> {
    Arrow { names: Vec<String>, batches: Vec<RecordBatch> },
    Named(Bound<'py, PyAny>),
}

/// A table whose columns are fetched by name.
pub(in crate::python) struct Table<'py> {
    input: String,
    holder: Holder<'py>,
}

impl<'py> Table<'py> {
    /// Whether an object looks like a table at all.
    pub(in crate::python) fn is_table(obj: &Bound<'py, PyAny>) -> bool {
        // A lazy frame first: asking it for its columns would make it work.
        if obj.is_instance_of::<PyDict>() || is_lazy(obj) {
            return true;
        }
        let framed = obj.hasattr("columns").unwrap_or(false) || obj.hasattr("column_names").unwrap_or(false);
        let arrow = obj.hasattr("__arrow_c_stream__").unwrap_or(false) && !obj.hasattr("__len__").unwrap_or(false);
        framed || arrow
    }

    /// Opens a table; `input` names it in messages.
    pub(in crate::python) fn open(obj: &Bound<'py, PyAny>, input: &str) -> PyResult<Self> {
        let input = input.to_owned();
        let got = kind_of(obj);
        if is_lazy(obj) {
            let what = "a lazy frame holds no values yet";
            return Err(refuse("python.lazy", what, &input, "", &got, "the result of .collect()").into());
        }
        if obj.cast::<PyMapping>().is_ok() && !from_pandas(obj) || from_pandas(obj) && obj.hasattr("columns")? {
            return Ok(Self { input, holder: Holder::Named(obj.clone()) });
        }
        if from_pandas(obj) || !(obj.hasattr("__arrow_c_stream__")? || obj.hasattr("__arrow_c_array__")?) {
            let expected = "a data frame, an Arrow table or a dict of columns";
            return Err(refuse("python.not_a_table", "not a table", &input, "", &got, expected).into());
        }
        // The stream of a frame with a column without a type does not follow the protocol; its columns are taken one by one.
        let untyped = |d: PyResult<Bound<'py, PyAny>>| d.and_then(|d| d.str()).is_ok_and(|d| d == "Null");
        if obj.getattr("dtypes").and_then(|d| d.try_iter()).is_ok_and(|mut types| types.any(untyped)) {
            return Ok(Self { input, holder: Holder::Named(obj.call_method0("to_dict")?) });
        }
        let (batches, schema) = obj.extract::<AnyRecordBatch>()?.into_table()?.into_inner();
        let names = schema.fields().iter().map(|f| f.name().clone()).collect();
        Ok(Self { input, holder: Holder::Arrow { names, batches } })
    }

    /// Names of all columns in order.
    pub(in crate::python) fn names(&self) -> PyResult<Vec<String>> {
        match &self.holder {
            Holder::Arrow { names, .. } => Ok(names.clone()),
            Holder::Named(obj) if from_pandas(obj) => {
                obj.getattr("columns")?.try_iter()?.map(|n| Ok(n?.str()?.to_string())).collect()
            }
            Holder::Named(obj) => obj.try_iter()?.map(|n| Ok(n?.str()?.to_string())).collect(),
        }
    }

    /// The numbers of a column; `None` where the table has no such column.
    pub(in crate::python) fn numbers(&self, column: &str) -> PyResult<Option<Numbers>> {
        let at = At { input: &self.input, column };
        self.source(column)?.map(|s| numbers::from_source(&s, at)).transpose()
    }

    /// The text of a column; `None` where the table has no such column.
    pub(in crate::python) fn labels(&self, column: &str) -> PyResult<Option<Vec<Option<String>>>> {
        let at = At { input: &self.input, column };
        self.source(column)?.map(|s| labels::from_source(&s, at)).transpose()
    }

    /// A column as it is held: numbers, dates or text. `None` where the table has no such column.
    pub(in crate::python) fn values(&self, column: &str) -> PyResult<Option<Column>> {
        let at = At { input: &self.input, column };
        let Some(source) = self.source(column)? else { return Ok(None) };
        Ok(Some(Column { name: column.to_owned(), values: values::from_source(&source, at)? }))
    }

    /// A covariate: a column as it is held, booleans as two levels. `None` where the table has no such column.
    pub(in crate::python) fn covariate(&self, column: &str) -> PyResult<Option<Column>> {
        let at = At { input: &self.input, column };
        let Some(source) = self.source(column)? else { return Ok(None) };
        let values = match values::truths(&source, at)? {
            Some(truths) => truths,
            None => values::from_source(&source, at)?,
        };
        if let (Source::Object(obj), Values::Text(cells)) = (&source, &values) {
            tell_unused(obj, cells, column)?;
        }
        Ok(Some(Column { name: column.to_owned(), values }))
    }

    fn source(&self, column: &str) -> PyResult<Option<Source<'py>>> {
        match &self.holder {
            Holder::Arrow { names, batches } => {
                let Some(i) = names.iter().position(|n| n == column) else { return Ok(None) };
                let chunks: Vec<ArrayRef> = batches.iter().filter_map(|b| b.columns().get(i).cloned()).collect();
                Ok(Some(Source::Arrow(chunks)))
            }
            Holder::Named(obj) => {
                if !obj.contains(column)? {
                    return Ok(None);
                }
                open(&obj.get_item(column)?, At { input: &self.input, column }).map(Some)
            }
        }
    }
}

/// Tells which levels of a categorical column no row has: a model knows nothing of them, and drops them without a word.
fn tell_unused(obj: &Bound<'_, PyAny>, cells: &[Option<Word>], column: &str) -> PyResult<()> {
    if !from_pandas(obj) {
        return Ok(());
    }
    let Ok(levels) = obj.getattr("dtype").and_then(|kind| kind.getattr("categories")) else { return Ok(()) };
    let seen: BTreeSet<&str> = cells.iter().flatten().map(|word| word as &str).collect();
    let mut unused = Vec::new();
    for level in levels.try_iter()? {
        let level = level?.str()?.to_string();
        if !seen.contains(level.as_str()) {
            unused.push(level);
        }
    }
    if unused.is_empty() {
        return Ok(());
    }
    let it = fitting(unused.len() as u64, "it", "them");
    let text = format!(
        "no lamp has {} among the levels of the category {column}: nothing is known of {it}, and no model has a coefficient for \
         {it} [{UNUSED_LEVEL}]",
        unused.join(", "),
    );
    warn(obj.py(), "WeakDataWarning", &text)
}
