//! How results look: one line, a text summary, a small HTML table. All three read the same facts, so they
//! cannot disagree; every text is escaped.

use std::fmt::Write as _;

use arrow_array::RecordBatch;
use arrow_cast::display::{ArrayFormatter, FormatOptions};
use serde_json::Value;

use crate::base::figure::counted;

/// Entries of the one-line form.
const IN_LINE: usize = 8;
/// Entries of a list that are shown before only their number is.
const IN_LIST: usize = 6;
/// Texts that together are longer than this stand one a line.
const LONG: usize = 90;
/// Texts of a list that are shown one a line.
const IN_LINES: usize = 40;
/// Rows of a table that HTML shows.
const IN_HTML: usize = 20;

/// What is worth reading of a result, in order.
pub(super) type Facts = Vec<(&'static str, Value)>;

/// Facts from names and values.
macro_rules! facts {
    ($($name:literal: $value:expr),* $(,)?) => { vec![$(($name, serde_json::json!($value))),*] };
}
pub(super) use facts;

/// Six significant digits: more than lamp records support, few enough to read.
pub(super) fn number(x: f64) -> String {
    if x == x.trunc() && x.abs() < 1e15 {
        return format!("{x:.0}");
    }
    if !x.is_finite() || x.abs() < 1e-5 || x.abs() >= 1e15 {
        return format!("{x:.5e}");
    }
    let before = x.abs().log10().floor() as i32;
    let text = format!("{x:.*}", usize::try_from(5 - before).unwrap_or(0));
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn scalar(value: &Value) -> Option<String> {
    match value {
        Value::Null => Some("none".to_owned()),
        Value::Bool(b) => Some(if *b { "yes" } else { "no" }.to_owned()),
        Value::Number(n) => Some(n.as_u64().map_or_else(|| number(n.as_f64().unwrap_or(f64::NAN)), |u| u.to_string())),
        Value::String(s) => Some(s.clone()),
        Value::Array(_) | Value::Object(_) => None,
    }
}

fn list(values: &[Value]) -> String {
    let shown: Option<Vec<String>> = values.iter().map(scalar).collect();
    match shown {
        Some(shown) if shown.len() <= IN_LIST => shown.join(", "),
        _ => counted(values.len() as u64, "entry"),
    }
}

/// Whether a list holds texts, too many or too long for one line.
fn sentences(values: &[Value]) -> bool {
    let long = values.iter().filter_map(Value::as_str).map(str::len).sum::<usize>();
    values.iter().all(Value::is_string) && (values.len() > IN_LIST || values.len() > 1 && long > LONG)
}

/// Entries of a saved form, nested ones with their path.
fn entries(value: &Value, path: &str, out: &mut Vec<(String, String)>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let path =
                    if path.is_empty() { key.replace('_', " ") } else { format!("{path}: {}", key.replace('_', " ")) };
                entries(inner, &path, out);
            }
        }
        Value::Array(values) if sentences(values) => {
            // One a line, so that none is lost in the number of the others.
            for (i, value) in values.iter().take(IN_LINES).enumerate() {
                out.push((if i == 0 { path.to_owned() } else { String::new() }, scalar(value).unwrap_or_default()));
            }
            if values.len() > IN_LINES {
                out.push((String::new(), format!("and {} more", values.len() - IN_LINES)));
            }
        }
        Value::Array(values) => out.push((path.to_owned(), list(values))),
        other => out.push((path.to_owned(), scalar(other).unwrap_or_default())),
    }
}

fn all(facts: &Facts) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for (key, value) in facts {
        entries(value, &key.replace('_', " "), &mut out);
    }
    out
}

/// `Name(key=value, ...)` of the first entries that are plain values.
pub(super) fn line(name: &str, facts: &Facts) -> String {
    let quoted = |v: &Value| match v {
        Value::Null => Some("None".to_owned()),
        Value::Bool(b) => Some(if *b { "True" } else { "False" }.to_owned()),
        Value::String(s) => Some(format!("{s:?}")),
        Value::Array(a) if a.len() <= IN_LIST && a.iter().all(|v| scalar(v).is_some()) => {
            Some(format!("[{}]", list(a)))
        }
        other => scalar(other),
    };
    let plain = facts.iter().filter_map(|(k, v)| quoted(v).map(|v| format!("{k}={v}")));
    format!("{name}({})", plain.take(IN_LINE).collect::<Vec<_>>().join(", "))
}

/// The name, then one entry a line.
pub(super) fn summary(name: &str, facts: &Facts) -> String {
    let entries = all(facts);
    let width = entries.iter().map(|(k, _)| k.chars().count()).max().unwrap_or(0);
    let mut text = name.to_owned();
    for (key, value) in entries {
        let _ = write!(text, "\n  {key:width$}  {value}");
    }
    text
}

/// The same as HTML.
pub(super) fn html(name: &str, facts: &Facts) -> String {
    let mut out = format!("<table><caption>{}</caption><tbody>", escape(name));
    for (key, value) in all(facts) {
        let _ = write!(out, "<tr><th scope=\"row\">{}</th><td>{}</td></tr>", escape(&key), escape(&value));
    }
    out + "</tbody></table>"
}

/// The first rows of a table as HTML.
pub(super) fn table_html(batch: &RecordBatch) -> String {
    let options = FormatOptions::default();
    let columns: Vec<_> = batch.columns().iter().map(|c| ArrayFormatter::try_new(c.as_ref(), &options).ok()).collect();
    let mut out = format!("<table><caption>{}</caption><thead><tr>", counted(batch.num_rows() as u64, "row"));
    for field in batch.schema().fields() {
        let _ = write!(out, "<th scope=\"col\">{}</th>", escape(field.name()));
    }
    out.push_str("</tr></thead><tbody>");
    for row in 0..batch.num_rows().min(IN_HTML) {
        out.push_str("<tr>");
        for column in &columns {
            let text = column.as_ref().and_then(|c| c.value(row).try_to_string().ok()).unwrap_or_default();
            let _ = write!(out, "<td>{}</td>", escape(&text));
        }
        out.push_str("</tr>");
    }
    out + "</tbody></table>"
}

/// Text made safe inside HTML.
pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#x27;"),
            _ => out.push(c),
        }
    }
    out
}
