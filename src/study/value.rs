//! Values as their owner wrote them, in a study file or in a program.
//!
//! Both take this one form, so that one walk tells the mistakes of both, in the same words.

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
    /// A list.
    List(Vec<Node>),
    /// A table.
    Table(Entries),
    /// Something that no key takes, by its name.
    Other(String),
}

/// The keys of a table in the order written, each with its place.
pub(crate) type Entries = Vec<(String, usize, Node)>;

/// A table of a TOML document.
pub(super) fn entries(table: &DeTable<'_>) -> Entries {
    table.iter().map(|(key, value)| (key.get_ref().to_string(), key.span().start, node(value))).collect()
}

fn node(from: &Spanned<DeValue<'_>>) -> Node {
    let value = match from.get_ref() {
        DeValue::String(s) => Value::Text(s.to_string()),
        DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix())
            .map_or_else(|_| Value::Other(i.to_string()), |whole| Value::Whole(whole, i.to_string())),
        DeValue::Float(f) => {
            f.as_str().parse().map_or_else(|_| Value::Other(f.to_string()), |x| Value::Number(x, f.to_string()))
        }
        DeValue::Boolean(b) => Value::Truth(*b),
        DeValue::Datetime(d) => Value::Day(d.to_string()),
        DeValue::Array(list) => Value::List(list.iter().map(node).collect()),
        DeValue::Table(table) => Value::Table(entries(table)),
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
            Value::Whole(_, text) | Value::Number(_, text) | Value::Day(text) | Value::Other(text) => text.clone(),
            Value::Truth(b) => b.to_string(),
            Value::List(_) => "a list".to_owned(),
            Value::Table(_) => "a table".to_owned(),
        };
        text.chars().take(80).collect()
    }
}
