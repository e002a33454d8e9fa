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
    /// What is written as a date and is none, such as 2026-02-30.
    NoDay(String),
    /// A list.
    List(Vec<Node>),
    /// A table.
    Table(Entries),
    /// Something that no key takes, by its name.
    Other(String),
}

/// The keys of a table in the order written, each with its place.
pub(crate) type Entries = Vec<(String, usize, Node)>;

/// A table of a TOML document with this text.
pub(super) fn entries(table: &DeTable<'_>, text: &str) -> Entries {
    let entry = |(key, value): (&Spanned<_>, &Spanned<DeValue<'_>>)| -> (String, usize, Node) {
        let name: &toml::de::DeString<'_> = key.get_ref();
        (name.to_string(), key.span().start, node(value, text))
    };
    let mut entries: Entries = table.iter().map(entry).collect();
    // The parser keeps them by name.
    entries.sort_by_key(|e| e.1);
    entries
}

/// Where each date stands that the calendar does not have. Such a value is told by its key, as any other of a wrong kind.
pub(super) fn no_dates(table: &Entries) -> Vec<usize> {
    fn look(node: &Node, found: &mut Vec<usize>) {
        match &node.value {
            Value::NoDay(_) => found.push(node.at),
            Value::List(list) => list.iter().for_each(|n| look(n, found)),
            Value::Table(table) => table.iter().for_each(|(_, _, n)| look(n, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    for (_, _, n) in table {
        look(n, &mut found);
    }
    found
}

fn node(from: &Spanned<DeValue<'_>>, text: &str) -> Node {
    let value = match from.get_ref() {
        DeValue::String(s) => Value::Text(s.to_string()),
        DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix())
            .map_or_else(|_| Value::Other(i.to_string()), |whole| Value::Whole(whole, i.to_string())),
        DeValue::Float(f) => {
            f.as_str().parse().map_or_else(|_| Value::Other(f.to_string()), |x| Value::Number(x, f.to_string()))
        }
        DeValue::Boolean(b) => Value::Truth(*b),
        // What the parser leaves of a date that the calendar does not have.
        DeValue::Datetime(d) if d.date.is_none() && d.time.is_none() => {
            Value::NoDay(text.get(from.span()).unwrap_or_default().to_owned())
        }
        DeValue::Datetime(d) => Value::Day(d.to_string()),
        DeValue::Array(list) => Value::List(list.iter().map(|n| node(n, text)).collect()),
        DeValue::Table(table) => Value::Table(entries(table, text)),
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
            | Value::NoDay(text)
            | Value::Other(text) => text.clone(),
            Value::Truth(b) => b.to_string(),
            Value::List(_) => "a list".to_owned(),
            Value::Table(_) => "a table".to_owned(),
        };
        text.chars().take(80).collect()
    }
}
