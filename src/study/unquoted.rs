//! Values of a study file that TOML cannot take, such as 31.12.2025, 780,00 or a text without quotation marks.
//!
//! Each is put aside with its place, so that the file is still read and the value is told by its key, as any other of a
//! wrong kind; what reads TOML would only say what its grammar wants.

use std::collections::{BTreeMap, BTreeSet};

use toml::de::DeTable;

use super::walk::Document;
use crate::base::error::Problem;

/// Rounds of putting aside: a value that keeps others from being read is met in the first ones.
const ROUNDS: usize = 8;
/// Signs of a line that a message shows.
const SHOWN: usize = 80;

/// A text as TOML can take it, of the same length.
pub(super) struct Mended {
    pub(super) text: String,
    /// What stood there in place of a stand-in, by byte offset.
    pub(super) put_aside: BTreeMap<usize, String>,
    /// What keeps the text from being read all the same: byte offset and what the reader says of it.
    errors: Vec<(usize, String)>,
}

/// Puts aside every value that is none.
pub(super) fn mended(text: &str) -> Mended {
    let mut made = Mended { text: text.to_owned(), put_aside: BTreeMap::new(), errors: errors(text) };
    let mut tried = BTreeSet::new();
    for _ in 0..ROUNDS {
        let mut found = BTreeMap::new();
        for (at, _) in made.errors.iter().filter(|(_, message)| !twice(message)) {
            let line = line_around(text, *at);
            if tried.insert(line) {
                found.extend(values(text, line));
            }
        }
        if found.is_empty() {
            break;
        }
        for (from, to) in found {
            made.put_aside.insert(from, text.get(from..to).unwrap_or_default().to_owned());
            // Of the same length, so that everything else keeps its place.
            let length = to - from;
            let stand_in = if length < 2 { "0".to_owned() } else { format!("\"{}\"", ".".repeat(length - 2)) };
            made.text.replace_range(from..to, &stand_in);
        }
        made.errors = errors(&made.text);
    }
    made
}

impl Mended {
    /// Whether nothing keeps the text from being read.
    pub(super) fn is_whole(&self) -> bool {
        self.errors.is_empty()
    }

    /// What keeps the text from being read, each line once, with headings that are none of a study; true where there is
    /// such.
    pub(super) fn tell(&self, doc: &mut Document<'_>, text: &str, headings_unknown: Vec<Problem>) -> bool {
        let written = |line: (usize, usize)| text.get(line.0..line.1).unwrap_or_default().trim();
        let of_list = |at: usize| written(line_around(text, at)).starts_with("[[");
        // What stands below a heading that is wrong seems to stand twice.
        let unclosed = self.errors.iter().any(|(_, message)| message.contains("unclosed table"));
        let slip = !headings_unknown.is_empty();
        let broken = unclosed || slip;
        let list_twice = self.errors.iter().any(|(at, message)| twice(message) && of_list(*at));
        let (mut lines, mut headings) = (BTreeSet::new(), BTreeSet::new());
        for (at, message) in &self.errors {
            let line = line_around(text, *at);
            let follows = twice(message) && (broken || list_twice && !(of_list(*at) && headings.insert(written(line))));
            if follows || !lines.insert(line) {
                continue;
            }
            let (what, expected) = in_our_words(message);
            let shown: String = written(line).chars().take(SHOWN).collect();
            let place = doc.place(*at);
            doc.add(Problem::new("study.toml", what).at(place).got(shown).expected(expected));
        }
        for problem in headings_unknown {
            doc.add(problem);
        }
        if lines.is_empty() && !slip {
            return false;
        }
        for (at, written) in self.put_aside.iter().filter(|(at, _)| !lines.contains(&line_around(text, **at))) {
            let place = doc.place(*at);
            let problem = Problem::new("study.toml", "the value cannot be read").at(place);
            let shown: String = written.chars().take(SHOWN).collect();
            doc.add(problem.got(shown).expected(VALUES));
        }
        true
    }
}

fn twice(message: &str) -> bool {
    message.contains("duplicate key")
}

const VALUES: &str =
    "a text in quotation marks, a number such as 780.5, a date such as 2025-12-28, or a list such as [\"a\", \"b\"]";

fn in_our_words(message: &str) -> (&'static str, &'static str) {
    let says = |part: &str| message.contains(part);
    if twice(message) {
        let expected = "each key once in its table, and all of several logs, classes or depots below [[log]], [[class]] or [[depot]]";
        ("a key stands twice", expected)
    } else if says("unclosed table") || says("table") && says("expected") {
        ("the heading of a table cannot be read", "a heading such as [chain] or [[class]] on a line of its own")
    } else if says("key with no value") || says("unquoted key") {
        ("the line cannot be read", "key = value, with a key of several words in quotation marks")
    } else {
        ("the line cannot be read", VALUES)
    }
}

fn errors(text: &str) -> Vec<(usize, String)> {
    let told = DeTable::parse_recoverable(text).1;
    told.iter().map(|e| (e.span().map_or(0, |s| s.start), e.message().replace('\n', " "))).collect()
}

/// Where a line begins and ends.
fn line_around(text: &str, at: usize) -> (usize, usize) {
    let bytes = text.as_bytes();
    let at = at.min(bytes.len());
    // An error at the end of a line stands before its break, or behind it where nothing is left.
    let before = bytes.get(..at).unwrap_or_default();
    let from = before.iter().rposition(|b| *b == b'\n').map_or(0, |i| i + 1);
    let rest = bytes.get(at..).unwrap_or_default();
    let to = at + rest.iter().position(|b| *b == b'\n').unwrap_or(rest.len());
    (from, to)
}

/// The value of a line `key = value`, or what of a line within a list is none; byte offsets.
fn values(text: &str, (from, to): (usize, usize)) -> Vec<(usize, usize)> {
    let line = text.get(from..to).unwrap_or_default();
    let line = line.get(..remark(line)).unwrap_or_default();
    let start = line.trim_start();
    if start.starts_with('[') {
        return Vec::new();
    }
    let Some(equal) = after_key(line) else {
        return items(line, from);
    };
    let value = line.get(equal..).unwrap_or_default();
    let whole = value.trim();
    // A list or a text over several lines is told where it breaks.
    let open = |a: char, b: char| whole.starts_with(a) && !whole.ends_with(b);
    if whole.is_empty() || open('[', ']') || open('{', '}') || whole.contains("\"\"\"") || whole.contains("'''") {
        return Vec::new();
    }
    let at = from + equal + (value.len() - value.trim_start().len());
    vec![(at, at + whole.len())]
}

/// Where a remark begins, or the line ends.
fn remark(line: &str) -> usize {
    let mut quoted = None;
    for (i, sign) in line.char_indices() {
        match quoted {
            Some(mark) if sign == mark => quoted = None,
            None if sign == '#' => return i,
            None if sign == '"' || sign == '\'' => quoted = Some(sign),
            _ => {}
        }
    }
    line.len()
}

/// The place behind the sign = of a line with a key that can be one.
fn after_key(line: &str) -> Option<usize> {
    let start = line.trim_start();
    let (indent, mark) = (line.len() - start.len(), start.chars().next()?);
    let key = match mark {
        '"' | '\'' => 2 + start.get(1..)?.find(mark)?,
        _ => start.find('=')?,
    };
    let bare = |c: char| c.is_ascii_alphanumeric() || "_-.".contains(c);
    let key_of = start.get(..key)?.trim_end();
    if !(mark == '"' || mark == '\'' || !key_of.is_empty() && key_of.chars().all(bare)) {
        return None;
    }
    let equal = key + start.get(key..)?.find('=')?;
    start.get(key..equal)?.trim().is_empty().then_some(indent + equal + 1)
}

/// What of a line within a list stands without quotation marks; a number among texts is told by the key.
fn items(line: &str, from: usize) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut at = from;
    for part in line.split(',') {
        let item = part.trim().trim_end_matches(']').trim_end();
        let quoted = item.len() > 1 && item.starts_with(['"', '\'']) && item.ends_with(['"', '\'']);
        if !item.is_empty() && !quoted && item.parse::<f64>().is_err() {
            let start = at + (part.len() - part.trim_start().len());
            found.push((start, start + item.len()));
        }
        at += part.len() + 1;
    }
    found
}
