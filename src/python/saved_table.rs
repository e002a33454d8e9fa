//! The saved form of a table: its columns by name, each with its kind and its values.

use arrow_array::cast::AsArray;
use arrow_array::types::{Date32Type, Float64Type, UInt64Type};
use arrow_array::{Array, RecordBatch};
use arrow_schema::DataType;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::Result;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::base::spreadsheet::{self, Sheet};

use super::error::internal;
use super::frames::Frame;

const TABLE: Format = Format::new("table", 1);

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Saved {
    rows: usize,
    columns: Vec<Column>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Column {
    name: String,
    values: Values,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Values {
    Numbers(Vec<Option<Cell>>),
    Counts(Vec<Option<u64>>),
    Texts(Vec<String>),
    Dates(Vec<Option<NaiveDate>>),
}

/// A number; JSON has none for those that are not finite, so they are words.
#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(untagged)]
enum Cell {
    Finite(f64),
    Word(Word),
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Word {
    Infinite,
    MinusInfinite,
    NotANumber,
}

impl From<f64> for Cell {
    fn from(x: f64) -> Self {
        match x {
            x if x.is_finite() => Self::Finite(x),
            x if x.is_nan() => Self::Word(Word::NotANumber),
            x if x > 0.0 => Self::Word(Word::Infinite),
            _ => Self::Word(Word::MinusInfinite),
        }
    }
}

impl From<Cell> for f64 {
    fn from(cell: Cell) -> Self {
        match cell {
            Cell::Finite(x) => x,
            Cell::Word(Word::Infinite) => Self::INFINITY,
            Cell::Word(Word::MinusInfinite) => Self::NEG_INFINITY,
            Cell::Word(Word::NotANumber) => Self::NAN,
        }
    }
}

impl Values {
    fn len(&self) -> usize {
        match self {
            Self::Numbers(v) => v.len(),
            Self::Counts(v) => v.len(),
            Self::Texts(v) => v.len(),
            Self::Dates(v) => v.len(),
        }
    }
}

impl Sound for Saved {
    fn check(&self, c: &mut Checks) {
        for (i, column) in self.columns.iter().enumerate() {
            c.entries(&format!("columns[{i}].values"), column.values.len(), self.rows);
            let first = self.columns.iter().position(|other| other.name == column.name) == Some(i);
            c.need(&format!("columns[{i}].name"), first, &column.name, "a name that no other column has");
        }
        c.need("columns", !self.columns.is_empty() || self.rows == 0, "none", "a column for the rows");
    }
}

fn values(column: &dyn Array) -> Result<Values> {
    Ok(match column.data_type() {
        DataType::Float64 => {
            Values::Numbers(column.as_primitive::<Float64Type>().iter().map(|x| x.map(Cell::from)).collect())
        }
        DataType::UInt64 => Values::Counts(column.as_primitive::<UInt64Type>().iter().collect()),
        DataType::LargeUtf8 if column.null_count() == 0 => {
            Values::Texts(column.as_string::<i64>().iter().flatten().map(str::to_owned).collect())
        }
        DataType::Date32 => {
            let days = column.as_primitive::<Date32Type>().iter();
            Values::Dates(days.map(|d| d.and_then(Date32Type::to_naive_date_opt)).collect())
        }
        other => return Err(internal(format!("a table column of kind {other} has no saved form"))),
    })
}

pub(super) fn save(table: &RecordBatch) -> Result<String> {
    let schema = table.schema();
    let columns = schema
        .fields()
        .iter()
        .zip(table.columns())
        .map(|(field, column)| Ok(Column { name: field.name().clone(), values: values(column.as_ref())? }));
    saved::save(TABLE, &Saved { rows: table.num_rows(), columns: columns.collect::<Result<_>>()? })
}

pub(super) fn load(text: &str) -> Result<RecordBatch> {
    let saved: Saved = saved::load(TABLE, text)?;
    let mut frame = Frame::default();
    for Column { name, values } in saved.columns {
        frame = match values {
            Values::Numbers(v) => frame.numbers_or_null(&name, v.into_iter().map(|x| x.map(f64::from))),
            Values::Counts(v) => frame.counts_or_null(&name, v),
            Values::Texts(v) => frame.texts(&name, v),
            Values::Dates(v) => frame.dates(&name, v),
        };
    }
    frame.finish()
}

/// The cell of a row; a day is written out by the caller.
fn opened<'a>(column: &'a Values, row: usize, day: &'a str) -> spreadsheet::Cell<'a> {
    use spreadsheet::Cell::{Blank, Number, Text};
    match column {
        Values::Numbers(v) => v.get(row).copied().flatten().map_or(Blank, |x| Number(f64::from(x))),
        Values::Counts(v) => v.get(row).copied().flatten().map_or(Blank, spreadsheet::whole),
        Values::Texts(v) => v.get(row).map_or(Blank, |t| Text(t)),
        Values::Dates(_) => Text(day),
    }
}

/// A table as text with commas between cells, in which no text cell runs as a formula.
pub(super) fn to_csv(table: &RecordBatch) -> Result<String> {
    let columns = table.columns().iter().map(|c| values(c.as_ref())).collect::<Result<Vec<_>>>()?;
    let mut sheet = Sheet::default();
    let schema = table.schema();
    sheet.row(&schema.fields().iter().map(|f| spreadsheet::Cell::Text(f.name())).collect::<Vec<_>>());
    for row in 0..table.num_rows() {
        let day = |column: &Values| match column {
            Values::Dates(v) => v.get(row).copied().flatten().map_or_else(String::new, |d| d.to_string()),
            _ => String::new(),
        };
        let days: Vec<String> = columns.iter().map(day).collect();
        sheet.row(&columns.iter().zip(&days).map(|(c, day)| opened(c, row, day)).collect::<Vec<_>>());
    }
    Ok(sheet.finish())
}
