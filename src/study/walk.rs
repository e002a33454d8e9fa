//! Walks a TOML document by hand, so that every problem of a study file is reported at once, with its line and key.

use std::collections::BTreeSet;
use std::fmt::Display;

use chrono::NaiveDate;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::base::error::{Place, Problem};

/// What a number has to obey.
#[derive(Clone, Copy, Debug)]
pub(super) enum Bound {
    /// Above 0.
    Positive,
    /// 1 or above, for hours.
    AtLeastOne,
    /// Strictly between 0 and 1.
    InsideUnit,
    /// Above 0, at most the number of hours in a week.
    HoursOfAWeek,
}

impl Bound {
    fn holds(self, x: f64) -> bool {
        match self {
            Bound::Positive => x > 0.0 && x.is_finite(),
            Bound::AtLeastOne => x >= 1.0 && x.is_finite(),
            Bound::InsideUnit => x > 0.0 && x < 1.0,
            Bound::HoursOfAWeek => x > 0.0 && x <= 168.0,
        }
    }

    fn expected(self) -> &'static str {
        match self {
            Bound::Positive => "a number above 0",
            Bound::AtLeastOne => "hours of at least 1",
            Bound::InsideUnit => "a number between 0 and 1",
            Bound::HoursOfAWeek => "a number above 0 and at most 168",
        }
    }
}

/// One document with the problems met so far.
#[derive(Debug)]
pub(super) struct Document<'t> {
    name: &'t str,
    text: &'t str,
    pub(super) problems: Vec<Problem>,
}

impl<'t> Document<'t> {
    pub(super) fn new(name: &'t str, text: &'t str) -> Self {
        Self { name, text, problems: Vec::new() }
    }

    /// The place of a byte offset.
    pub(super) fn place(&self, offset: usize) -> Place {
        let before = self.text.get(..offset).unwrap_or_default();
        let line = before.matches('\n').count() as u64 + 1;
        Place::input(self.name).line(line)
    }

    pub(super) fn add(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    /// Whether a problem with this key stands already.
    pub(super) fn told(&self, section: &Section<'_, '_>, key: &str) -> bool {
        let place = section.place(self, key);
        self.problems.iter().any(|p| p.place == place)
    }
}

/// One table of a document; it remembers which keys were asked for, so that the rest are unknown.
#[derive(Debug)]
pub(super) struct Section<'s, 'i> {
    /// How messages name it, such as `class "2.0 kW"`.
    pub(super) title: String,
    offset: usize,
    table: &'s DeTable<'i>,
    known: BTreeSet<&'static str>,
}

impl<'s, 'i> Section<'s, 'i> {
    pub(super) fn new(title: impl Into<String>, offset: usize, table: &'s DeTable<'i>) -> Self {
        Self { title: title.into(), offset, table, known: BTreeSet::new() }
    }

    pub(super) fn offset(&self) -> usize {
        self.offset
    }

    /// The place of a key, or of the section where the key is absent.
    pub(super) fn place(&self, doc: &Document<'_>, key: &str) -> Place {
        let offset = self.find(key).map_or(self.offset, |(at, _)| at);
        let column = if self.title.is_empty() { key.to_owned() } else { format!("{}.{key}", self.title) };
        doc.place(offset).column(column)
    }

    fn find(&self, key: &str) -> Option<(usize, &'s Spanned<DeValue<'i>>)> {
        self.table.iter().find(|(k, _)| k.get_ref().as_ref() == key).map(|(k, v)| (k.span().start, v))
    }

    /// Keys as written with their places and values; for tables whose keys are the user's.
    pub(super) fn entries(&self) -> impl Iterator<Item = (&'s str, usize, &'s DeValue<'i>)> + use<'s, 'i> {
        self.table.iter().map(|(k, v)| (k.get_ref().as_ref(), k.span().start, v.get_ref()))
    }

    fn ask(&mut self, key: &'static str) -> Option<&'s Spanned<DeValue<'i>>> {
        self.known.insert(key);
        self.find(key).map(|(_, v)| v)
    }

    fn wrong(&self, doc: &mut Document<'_>, key: &str, slug: &'static str, got: impl Display, expected: &str) {
        let problem = Problem::new(slug, format!("{key} is not acceptable"));
        let place = self.place(doc, key);
        doc.add(problem.at(place).got(got).expected(expected));
    }

    /// Says that a key is missing.
    pub(super) fn missing(&self, doc: &mut Document<'_>, key: &str, expected: &str) {
        let problem = Problem::new("study.key_missing", format!("{key} is missing"));
        let place = self.place(doc, key);
        doc.add(problem.at(place).expected(expected));
    }

    /// A text that is not blank.
    pub(super) fn text(&mut self, doc: &mut Document<'_>, key: &'static str) -> Option<String> {
        const EXPECTED: &str = "a text that is not blank";
        let value = self.ask(key)?;
        match value.get_ref() {
            DeValue::String(s) if !s.trim().is_empty() => return Some(s.trim().to_owned()),
            DeValue::String(s) => self.wrong(doc, key, "study.text_blank", format!("\"{s}\""), EXPECTED),
            other => self.wrong(doc, key, "study.not_a_text", shown(other), EXPECTED),
        }
        None
    }

    /// A text that must be there.
    pub(super) fn needed_text(&mut self, doc: &mut Document<'_>, key: &'static str) -> Option<String> {
        if self.find(key).is_none() {
            self.known.insert(key);
            self.missing(doc, key, "a text that is not blank");
        }
        self.text(doc, key)
    }

    /// A number within its bound.
    pub(super) fn number(&mut self, doc: &mut Document<'_>, key: &'static str, bound: Bound) -> Option<f64> {
        let value = self.ask(key)?;
        self.check_number(doc, key, value.get_ref(), bound)
    }

    pub(super) fn check_number(
        &self,
        doc: &mut Document<'_>,
        key: &str,
        value: &DeValue<'_>,
        bound: Bound,
    ) -> Option<f64> {
        let Some(x) = float(value) else {
            self.wrong(doc, key, "study.not_a_number", shown(value), bound.expected());
            return None;
        };
        if bound.holds(x) {
            return Some(x);
        }
        self.wrong(doc, key, "study.number_out_of_range", shown(value), bound.expected());
        None
    }

    /// A number that must be there.
    pub(super) fn needed_number(&mut self, doc: &mut Document<'_>, key: &'static str, bound: Bound) -> Option<f64> {
        if self.find(key).is_none() {
            self.known.insert(key);
            self.missing(doc, key, bound.expected());
        }
        self.number(doc, key, bound)
    }

    /// A whole number within bounds.
    pub(super) fn whole(&mut self, doc: &mut Document<'_>, key: &'static str, low: u64, high: u64) -> Option<u64> {
        let value = self.ask(key)?.get_ref();
        let found = match value {
            DeValue::Integer(i) => u64::from_str_radix(i.as_str(), i.radix()).ok().filter(|n| (low..=high).contains(n)),
            _ => None,
        };
        if found.is_none() {
            let expected = format!("a whole number from {low} to {high}");
            self.wrong(doc, key, "study.not_a_whole_number", shown(value), &expected);
        }
        found
    }

    /// A whole number that must be there.
    pub(super) fn needed_whole(
        &mut self,
        doc: &mut Document<'_>,
        key: &'static str,
        low: u64,
        high: u64,
    ) -> Option<u64> {
        if self.find(key).is_none() {
            self.known.insert(key);
            self.missing(doc, key, &format!("a whole number from {low} to {high}"));
        }
        self.whole(doc, key, low, high)
    }

    /// One of the words for a choice.
    pub(super) fn word<T: Copy>(
        &mut self,
        doc: &mut Document<'_>,
        key: &'static str,
        all: &[T],
        name: fn(T) -> &'static str,
    ) -> Option<T> {
        let value = self.ask(key)?.get_ref();
        let found = value.as_str().and_then(|text| all.iter().copied().find(|&t| name(t) == text.trim()));
        if found.is_none() {
            let words: Vec<&str> = all.iter().map(|&t| name(t)).collect();
            self.wrong(doc, key, "study.word_unknown", shown(value), &format!("one of {}", words.join(", ")));
        }
        found
    }

    /// A text of one sign, which may be a space or a tab.
    pub(super) fn sign(
        &mut self,
        doc: &mut Document<'_>,
        key: &'static str,
        expected: &str,
        usable: impl Fn(char) -> bool,
    ) -> Option<char> {
        let value = self.ask(key)?.get_ref();
        let mut signs = value.as_str().unwrap_or_default().chars();
        let found = signs.next().filter(|&c| signs.next().is_none() && usable(c));
        if found.is_none() {
            self.wrong(doc, key, "study.not_a_sign", shown(value), expected);
        }
        found
    }

    /// A date that must be there.
    pub(super) fn needed_date(&mut self, doc: &mut Document<'_>, key: &'static str) -> Option<NaiveDate> {
        if self.find(key).is_none() {
            self.known.insert(key);
            self.missing(doc, key, "a date such as 2025-12-28");
        }
        self.date(doc, key)
    }

    /// A date such as 2025-12-28.
    pub(super) fn date(&mut self, doc: &mut Document<'_>, key: &'static str) -> Option<NaiveDate> {
        let value = self.ask(key)?.get_ref();
        let text = match value {
            DeValue::Datetime(d) => d.to_string(),
            DeValue::String(s) => s.trim().to_owned(),
            _ => String::new(),
        };
        // Written in one way only, with quotation marks or without: 2025-1-2 would leave the order to be guessed.
        let date = NaiveDate::parse_from_str(&text, "%Y-%m-%d").ok().filter(|d| d.to_string() == text);
        if date.is_none() {
            self.wrong(doc, key, "study.not_a_date", shown(value), "a date such as 2025-12-28");
        }
        date
    }

    /// A list of texts.
    pub(super) fn texts(&mut self, doc: &mut Document<'_>, key: &'static str) -> Option<Vec<String>> {
        const EXPECTED: &str = "a list of texts that are not blank";
        let value = self.ask(key)?.get_ref();
        let Some(list) = value.as_array() else {
            self.wrong(doc, key, "study.not_a_list", shown(value), EXPECTED);
            return None;
        };
        let mut texts = Vec::new();
        for item in list {
            match item.get_ref().as_str().map(str::trim) {
                Some(s) if !s.is_empty() => texts.push(s.to_owned()),
                _ => self.wrong(doc, key, "study.not_a_text", shown(item.get_ref()), EXPECTED),
            }
        }
        Some(texts)
    }

    /// A table that must be there; `header` is how a file writes it.
    pub(super) fn needed_table(
        &mut self,
        doc: &mut Document<'_>,
        key: &'static str,
        header: &str,
    ) -> Option<Section<'s, 'i>> {
        if self.find(key).is_none() {
            self.known.insert(key);
            self.missing(doc, key, &format!("a table {header}"));
        }
        self.table(doc, key, header)
    }

    /// A table under a key.
    pub(super) fn table(&mut self, doc: &mut Document<'_>, key: &'static str, header: &str) -> Option<Section<'s, 'i>> {
        let value = self.ask(key)?;
        let title = if self.title.is_empty() { key.to_owned() } else { format!("{}.{key}", self.title) };
        if let Some(table) = value.get_ref().as_table() {
            return Some(Section::new(title, value.span().start, table));
        }
        self.wrong(doc, key, "study.not_a_table", shown(value.get_ref()), &format!("a table {header}"));
        None
    }

    /// The tables of a list `[[key]]`; none where the key is absent.
    pub(super) fn tables(&mut self, doc: &mut Document<'_>, key: &'static str) -> Vec<Section<'s, 'i>> {
        let Some(value) = self.ask(key) else { return Vec::new() };
        let expected = format!("tables [[{key}]]");
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(doc, key, "study.not_a_table", shown(value.get_ref()), &expected);
            return Vec::new();
        };
        let mut tables = Vec::new();
        for (i, item) in list.iter().enumerate() {
            match item.get_ref().as_table() {
                Some(table) => tables.push(Section::new(format!("{key}[{}]", i + 1), item.span().start, table)),
                None => self.wrong(doc, key, "study.not_a_table", shown(item.get_ref()), &expected),
            }
        }
        tables
    }

    /// Reports every key that was not asked for.
    pub(super) fn finish(&self, doc: &mut Document<'_>) {
        for (key, _, value) in self.entries().filter(|(k, _, _)| !self.known.contains(k)) {
            let problem = Problem::new("study.key_unknown", format!("{key} is not a key of this table"));
            let known: Vec<&str> = self.known.iter().copied().collect();
            let place = self.place(doc, key);
            doc.add(problem.at(place).got(shown(value)).expected(format!("one of {}", known.join(", "))));
        }
    }
}

fn float(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Float(f) => f.as_str().parse().ok(),
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse().ok(),
        _ => None,
    }
}

/// A value as a message shows it.
pub(super) fn shown(value: &DeValue<'_>) -> String {
    let text = match value {
        DeValue::String(s) => format!("\"{}\"", s.escape_debug()),
        DeValue::Integer(i) => i.to_string(),
        DeValue::Float(f) => f.to_string(),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Datetime(d) => d.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    };
    text.chars().take(80).collect()
}
