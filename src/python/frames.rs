//! Tables out: Arrow record batches that polars, pandas and others take through the PyCapsule stream protocol.

use std::sync::Arc;

use arrow_array::types::Date32Type;
use arrow_array::{
    Array, ArrayRef, Date32Array, Float64Array, LargeStringArray, RecordBatch, RecordBatchOptions, StructArray,
    UInt64Array,
};
use arrow_schema::{Field, Schema};
use chrono::NaiveDate;
use pyo3::prelude::*;
use pyo3::types::PyCapsule;
use pyo3_arrow::ffi::{ArrayIterator, to_stream_pycapsule};

use crate::Result;

use super::error::internal;
use super::result::result_class;
use super::saved_table;
use super::show::{self, Facts, facts};

/// Builds a table column by column. A column named twice or of another length is a defect of ours, not of the user.
#[derive(Default)]
pub(super) struct Frame {
    fields: Vec<Field>,
    columns: Vec<ArrayRef>,
}

impl Frame {
    fn push(mut self, name: &str, column: ArrayRef) -> Self {
        self.fields.push(Field::new(name, column.data_type().clone(), column.null_count() > 0));
        self.columns.push(column);
        self
    }

    /// Numbers.
    pub(super) fn numbers(self, name: &str, values: impl IntoIterator<Item = f64>) -> Self {
        self.push(name, Arc::new(Float64Array::from(values.into_iter().collect::<Vec<_>>())))
    }

    /// Numbers that may be missing.
    pub(super) fn numbers_or_null(self, name: &str, values: impl IntoIterator<Item = Option<f64>>) -> Self {
        self.push(name, Arc::new(Float64Array::from(values.into_iter().collect::<Vec<_>>())))
    }

    /// Whole counts.
    pub(super) fn counts(self, name: &str, values: impl IntoIterator<Item = u64>) -> Self {
        self.push(name, Arc::new(UInt64Array::from(values.into_iter().collect::<Vec<_>>())))
    }

    /// Whole counts that may be missing.
    pub(super) fn counts_or_null(self, name: &str, values: impl IntoIterator<Item = Option<u64>>) -> Self {
        self.push(name, Arc::new(UInt64Array::from(values.into_iter().collect::<Vec<_>>())))
    }

    /// Text.
    pub(super) fn texts<S: AsRef<str>>(self, name: &str, values: impl IntoIterator<Item = S>) -> Self {
        // Long offsets: the short ones end the process past 2 GiB of text.
        self.push(name, Arc::new(LargeStringArray::from_iter_values(values.into_iter().collect::<Vec<_>>())))
    }

    /// Dates that may be missing.
    pub(super) fn dates(self, name: &str, values: impl IntoIterator<Item = Option<NaiveDate>>) -> Self {
        let days = values.into_iter().map(|d| d.map(Date32Type::from_naive_date));
        self.push(name, Arc::new(Date32Array::from(days.collect::<Vec<_>>())))
    }

    /// The finished table.
    pub(super) fn finish(self) -> Result<RecordBatch> {
        let rows = self.columns.first().map_or(0, Array::len);
        let options = RecordBatchOptions::new().with_row_count(Some(rows));
        RecordBatch::try_new_with_options(Arc::new(Schema::new(self.fields)), self.columns, &options)
            .map_err(|e| internal(format!("a table does not fit together: {e}")))
    }
}

/// Hands a table over as an Arrow stream.
pub(super) fn stream<'py>(
    py: Python<'py>,
    batch: RecordBatch,
    requested: Option<Bound<'py, PyCapsule>>,
) -> PyResult<Bound<'py, PyCapsule>> {
    let field = Field::new_struct("", batch.schema().fields().clone(), false);
    let array: ArrayRef = Arc::new(StructArray::from(batch));
    let reader = ArrayIterator::new(std::iter::once(Ok(array)), Arc::new(field));
    Ok(to_stream_pycapsule(py, Box::new(reader), requested)?)
}

/// A polars frame of a table; polars is imported here and not before.
pub(super) fn polars(py: Python<'_>, batch: RecordBatch) -> PyResult<Bound<'_, PyAny>> {
    py.import("polars")?.getattr("DataFrame")?.call1((Table(batch),))
}

fn facts(t: &RecordBatch) -> Facts {
    let names: Vec<String> = t.schema().fields().iter().map(|f| f.name().clone()).collect();
    facts! { "rows": t.num_rows(), "columns": names.join(", ") }
}

result_class! {
    /// A table of results. It speaks the Arrow stream protocol, so `polars.DataFrame(table)`, `pandas` (3 or later) and
    /// `pyarrow.table(table)` take it without a copy.
    ///
    /// Examples
    /// --------
    /// >>> import polars, relamp
    /// >>> table = relamp.lives([900.0, 900.0, 1200.0], [900.0, 900.0, None]).table()
    /// >>> polars.DataFrame(table)["count"].to_list()
    /// [2, 1]
    Table holds RecordBatch as "Table";
    save saved_table::save; load saved_table::load; table |t| Ok(t.clone()); show facts; html show::table_html;
    {
        /// Number of rows.
        fn __len__(&self) -> usize {
            self.0.num_rows()
        }

        /// Names of the columns in order.
        #[getter]
        fn columns(&self) -> Vec<String> {
            self.0.schema().fields().iter().map(|f| f.name().clone()).collect()
        }

        /// The table as text with commas between cells, safe to open in a spreadsheet: no text runs as a formula.
        ///
        /// Returns
        /// -------
        /// str
        ///     A header and a line for each row; a missing value is blank.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> table = relamp.lives([900.0, 900.0, 1200.0], [900.0, 900.0, None]).table()
        /// >>> table.to_csv().splitlines()
        /// ['low,high,ending,stratum,cluster,count', '900,900,unknown,,,2', '1200,,running,,,1']
        fn to_csv(&self) -> PyResult<String> {
            Ok(saved_table::to_csv(&self.0)?)
        }
    }
}
