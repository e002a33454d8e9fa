//! Values as their owner wrote them, in a study file or in a program.
//!
//! Both take this one form, so that one walk tells the mistakes of both, in the same words.

use std::collections::BTreeMap;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value with its place in the text it stands in; 0 for one that stands in none.
#[derive(Clone, Debug)]
pub(crate) struct Node {
    /// Byte offset.
    pub(crate) at: usize,
    /// The value.
    pub(crate) value: Value,
}

/// One value. Numbers keep the text that messages show.
#[derive(Clone, Debug)]
pub(crate) enum Value {
    /// A text.
    Text(String),
    /// A whole number.
    Whole(i128, String),
    /// Any other number.
    Number(f64, String),
    /// True or false.
    Truth(bool),
    /// A date, with or without a time.
    Day(String),
    /// What stands in a file as a value and is none, such as 2026-02-30 or a text without quotation marks.
    Unreadable(String),
    /// A list.
    List(Vec<Node>),
    /// A table.
    Table(Entries),
    /// Something that no key takes, by its name.
    Other(String),
}

/// The keys of a table in the order written, each with its place.
pub(crate) type Entries = Vec<(String, usize, Node)>;

/// A table of a TOML document; `put_aside` has what stands for a value and is none, by its place.
pub(super) fn entries(table: &DeTable<'_>, put_aside: &BTreeMap<usize, String>) -> Entries {
    let entry = |(key, value): (&Spanned<_>, &Spanned<DeValue<'_>>)| -> (String, usize, Node) {
        let name: &toml::de::DeString<'_> = key.get_ref();
        (name.to_string(), key.span().start, node(value, put_aside))
    };
    let mut entries: Entries = table.iter().map(entry).collect();
    // The parser keeps them by name.
    entries.sort_by_key(|e| e.1);
    entries
}

fn node(from: &Spanned<DeValue<'_>>, put_aside: &BTreeMap<usize, String>) -> Node {
    if let Some(written) = put_aside.get(&from.span().start) {
        return Node { at: from.span().start, value: Value::Unreadable(written.clone()) };
    }
    let value = match from.get_ref() {
        DeValue::String(s) => Value::Text(s.to_string()),
        DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix())
            .map_or_else(|_| Value::Other(i.to_string()), |whole| Value::Whole(whole, i.to_string())),
        DeValue::Float(f) => {
            f.as_str().parse().map_or_else(|_| Value::Other(f.to_string()), |x| Value::Number(x, f.to_string()))
        }
        DeValue::Boolean(b) => Value::Truth(*b),
        DeValue::Datetime(d) => Value::Day(d.to_string()),
        DeValue::Array(list) => Value::List(list.iter().map(|n| node(n, put_aside)).collect()),
        DeValue::Table(table) => Value::Table(entries(table, put_aside)),
    };
    Node { at: from.span().start, value }
}

impl Value {
    pub(crate) fn as_text(&self) -> Option<&str> {
        if let Value::Text(text) = self { Some(text) } else { None }
    }

    pub(super) fn as_list(&self) -> Option<&[Node]> {
        if let Value::List(list) = self { Some(list) } else { None }
    }

    pub(super) fn as_table(&self) -> Option<&Entries> {
        if let Value::Table(table) = self { Some(table) } else { None }
    }

    pub(super) fn as_number(&self) -> Option<f64> {
        match self {
            Value::Number(x, _) => Some(*x),
            Value::Whole(n, _) => Some(*n as f64),
            _ => None,
        }
    }

    /// As a message shows it.
    pub(super) fn shown(&self) -> String {
        let text = match self {
            Value::Text(s) => format!("\"{}\"", s.escape_debug()),
            Value::Whole(_, text)
            | Value::Number(_, text)
            | Value::Day(text)
            | Value::Unreadable(text)
            | Value::Other(text) => text.clone(),
            Value::Truth(b) => b.to_string(),
            Value::List(_) => "a list".to_owned(),
            Value::Table(_) => "a table".to_owned(),
        };
        text.chars().take(80).collect()
    }
}
