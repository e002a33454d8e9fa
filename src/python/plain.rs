//! Plain tables for the core: columns of a frame as they are held, the owner's names for them, and how a file is written.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};
use pyo3::prelude::*;
use pyo3::types::{PyDate, PyDict, PyString};

use crate::Result;
use crate::records::{Column, DateOrder, Encoding, NumberFormat, Table as Plain, TableFormat};

use super::error::refuse;
use super::intake::{Table, kind_of};

/// The owner's names of columns by ours.
pub(super) fn called(columns: Option<&Bound<'_, PyDict>>) -> PyResult<BTreeMap<String, String>> {
    let mut called = BTreeMap::new();
    for (ours, theirs) in columns.into_iter().flatten() {
        let (Ok(name), Ok(column)) = (ours.cast::<PyString>(), theirs.cast::<PyString>()) else {
            let got = format!("{} and {}", kind_of(&ours), kind_of(&theirs));
            let expected = "a dict from our names to those of the table";
            return Err(refuse("python.type", "not the name of a column", "columns", "", &got, expected).into());
        };
        called.insert(name.to_string_lossy().into_owned(), column.to_string_lossy().into_owned());
    }
    Ok(called)
}

/// The columns of a table that may be wanted: known by name, or near a name that is missing, so that a slip is told.
pub(super) fn held(table: &Table<'_>, known: &[&str], called: &BTreeMap<String, String>) -> PyResult<Vec<Column>> {
    let wanted: Vec<&str> = known.iter().map(|k| called.get(*k).map_or(*k, String::as_str)).collect();
    let mut held = Vec::new();
    for name in table.names()? {
        if wanted.iter().any(|w| *w == name || Plain::near(&name, w)) {
            held.extend(table.values(&name)?);
        }
    }
    Ok(held)
}

/// A day as Python holds it.
pub(super) fn date(py: Python<'_>, day: NaiveDate) -> PyResult<Bound<'_, PyDate>> {
    PyDate::new(py, day.year(), day.month() as u8, day.day() as u8)
}

/// How a file is written, from what its owner declares.
pub(super) fn conventions(declared: Option<&Bound<'_, PyDict>>) -> PyResult<TableFormat> {
    let mut format = TableFormat::default();
    for (key, value) in declared.into_iter().flatten() {
        let key = key.extract::<String>()?;
        let Ok(text) = value.extract::<String>() else {
            let expected = "a text";
            return Err(refuse("python.type", "not a text", &key, "", &kind_of(&value), expected).into());
        };
        declare(&mut format, &key, &text)?;
    }
    Ok(format)
}

fn declare(format: &mut TableFormat, key: &str, text: &str) -> Result<()> {
    let wrong = |expected: &str| Err(refuse("python.convention", "not a convention of files", key, "", text, expected));
    let mut signs = text.chars();
    let sign = match (signs.next(), signs.next()) {
        (Some(sign), None) => Some(sign),
        _ => None,
    };
    match (key, sign) {
        ("delimiter", Some(c)) if crate::records::usable_delimiter(c) => format.delimiter = c,
        ("delimiter", _) => return wrong("one character, such as ;"),
        ("decimal", Some(c)) if crate::records::usable_sign(c) => {
            format.numbers = NumberFormat { decimal: c, ..format.numbers };
        }
        ("thousands", Some(c)) if crate::records::usable_sign(c) => {
            format.numbers = NumberFormat { thousands: Some(c), ..format.numbers };
        }
        ("decimal" | "thousands", _) => return wrong("one sign, such as ,"),
        ("dates", _) => match DateOrder::ALL.into_iter().find(|o| o.as_str() == text) {
            Some(order) => format.dates = Some(order),
            None => return wrong("iso, day-first or month-first"),
        },
        ("encoding", _) => match Encoding::ALL.into_iter().find(|e| word(*e) == text) {
            Some(encoding) => format.encoding = encoding,
            None => return wrong("utf-8, windows-1252 or utf-16"),
        },
        _ => {
            let what = "no such convention of files";
            let expected = "delimiter, decimal, thousands, dates or encoding";
            return Err(refuse("python.convention", what, key, "", text, expected));
        }
    }
    Ok(())
}

fn word(encoding: Encoding) -> &'static str {
    match encoding {
        Encoding::Utf8 => "utf-8",
        Encoding::Windows1252 => "windows-1252",
        Encoding::Utf16 => "utf-16",
    }
}
