//! Walks what was declared by hand, so that every problem of a study file is reported at once, with its line and key.

use std::collections::BTreeSet;
use std::fmt::Display;

use super::season::{LEAST_GROWTH, MOST_FACTOR};
use super::value::{Entries, Node, Value};
use crate::base::error::{Place, Problem};
use crate::terms::LARGEST_AMOUNT;
use chrono::NaiveDate;

/// What a number has to obey.
#[derive(Clone, Copy, Debug)]
pub(super) enum Bound {
    /// Above 0.
    Positive,
    /// Above 0 and an amount of money that can be.
    Amount,
    /// 1 or above, for hours.
    AtLeastOne,
    /// Strictly between 0 and 1.
    InsideUnit,
    /// A chance to meet: above 0, and 1 for certainty.
    Target,
    /// Above 0, at most the number of hours in a week.
    HoursOfAWeek,
    /// From 0 to 1, both with it.
    Share,
    /// An amount of money of 0 or more.
    NoLess,
    /// An amount of money of either sign.
    Money,
    /// A factor on the hours of a day.
    Factor,
    /// Growth in a year as a share.
    Growth,
}

impl Bound {
    fn holds(self, x: f64) -> bool {
        match self {
            Bound::Positive => x > 0.0 && x.is_finite(),
            Bound::Amount => x > 0.0 && x <= LARGEST_AMOUNT,
            Bound::AtLeastOne => x >= 1.0 && x.is_finite(),
            Bound::InsideUnit => x > 0.0 && x < 1.0,
            Bound::Target => x > 0.0 && x <= 1.0,
            Bound::HoursOfAWeek => x > 0.0 && x <= 168.0,
            Bound::Share => (0.0..=1.0).contains(&x),
            Bound::NoLess => (0.0..=LARGEST_AMOUNT).contains(&x),
            Bound::Money => x.abs() <= LARGEST_AMOUNT,
            Bound::Factor => (0.0..=MOST_FACTOR).contains(&x),
            Bound::Growth => (LEAST_GROWTH..=1.0).contains(&x),
        }
    }

    fn expected(self) -> &'static str {
        match self {
            Bound::Positive => "a number above 0",
            Bound::Amount => "an amount above 0 and at most 1e12",
            Bound::AtLeastOne => "hours of at least 1",
            Bound::InsideUnit => "a number between 0 and 1",
            Bound::Target => "a chance above 0 and at most 1, such as 0.95",
            Bound::HoursOfAWeek => "a number above 0 and at most 168",
            Bound::Share => "a number from 0 to 1",
            Bound::NoLess => "an amount from 0 to 1e12",
            Bound::Money => "an amount, below 0 for a cost, of at most 1e12",
            Bound::Factor => "a factor on the hours of a day, 0 for none and at most 168",
            Bound::Growth => "growth in a year as a share, such as 0.02, from -0.99 to 1",
        }
    }
}

/// One document with the problems met so far.
#[derive(Debug)]
pub(super) struct Document<'t> {
    name: &'t str,
    /// None for values of a program, which stand on no line.
    text: Option<&'t str>,
    /// Whether the paths of logs have to stay below the folder of the file.
    pub(super) inside_folder: bool,
    pub(super) problems: Vec<Problem>,
    /// Every file that the document names.
    pub(super) files: Vec<String>,
}

impl<'t> Document<'t> {
    pub(super) fn new(name: &'t str, text: &'t str) -> Self {
        Self { name, text: Some(text), inside_folder: false, problems: Vec::new(), files: Vec::new() }
    }

    #[cfg(feature = "python")]
    /// Values of a program; `name` names them in messages.
    pub(super) fn of_program(name: &'t str) -> Self {
        Self { name, text: None, inside_folder: false, problems: Vec::new(), files: Vec::new() }
    }

    /// The place of a byte offset.
    pub(super) fn place(&self, offset: usize) -> Place {
        let place = Place::input(self.name);
        let Some(text) = self.text else { return place };
        let before = text.get(..offset).unwrap_or_default();
        place.line(before.matches('\n').count() as u64 + 1)
    }

    /// The place of a line, for what was read before.
    pub(super) fn place_of_line(&self, line: u64) -> Place {
        let place = Place::input(self.name);
        if self.text.is_some() { place.line(line) } else { place }
    }

    /// What is expected in place of a value that should be a text, with the marks that a file writes around it.
    pub(super) fn in_marks(&self, value: &Value, expected: &str) -> String {
        let marks = ['"', '\'', '\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}'];
        match (self.text, value) {
            (Some(_), Value::Unreadable(written)) if !written.starts_with(['[', '{']) => {
                let inner = written.trim_matches(marks).trim();
                format!("{expected}, in quotation marks such as \"{inner}\"")
            }
            (Some(_), Value::Unreadable(_) | Value::List(_) | Value::Table(_) | Value::Text(_)) | (None, _) => {
                expected.to_owned()
            }
            (Some(_), _) => format!("{expected}, in quotation marks"),
        }
    }

    /// What is expected in place of a value that should be a number.
    fn as_digits(&self, value: &Value, expected: &str) -> String {
        match (self.text, value) {
            (Some(_), Value::Text(text)) if text.trim().parse::<f64>().is_ok() => {
                format!("{expected}, without quotation marks")
            }
            (Some(_), Value::Unreadable(_)) => {
                let digits = if expected.contains("whole number") { "780" } else { "780 or 780.5" };
                format!("{expected}, in digits such as {digits}, without a comma or a unit")
            }
            _ => expected.to_owned(),
        }
    }

    pub(super) fn add(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    /// Whether a problem with this key stands already.
    pub(super) fn told(&self, section: &Section<'_>, key: &str) -> bool {
        let place = section.place(self, key);
        self.problems.iter().any(|p| p.place == place)
    }
}

/// One table of a document; it remembers which keys were asked for, so that the rest are unknown.
#[derive(Debug)]
pub(super) struct Section<'s> {
    /// How messages name it, such as `class "2.0 kW"`.
    pub(super) title: String,
    offset: usize,
    table: &'s Entries,
    known: BTreeSet<&'static str>,
}

impl<'s> Section<'s> {
    pub(super) fn new(title: impl Into<String>, offset: usize, table: &'s Entries) -> Self {
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

    fn find(&self, key: &str) -> Option<(usize, &'s Node)> {
        self.table.iter().find(|(k, _, _)| k == key).map(|(_, at, node)| (*at, node))
    }

    /// Keys as written with their values; for tables whose keys are the user's.
    pub(super) fn entries(&self) -> impl Iterator<Item = (&'s str, &'s Value)> + use<'s> {
        self.table.iter().map(|(key, _, node)| (key.as_str(), &node.value))
    }

    fn ask(&mut self, key: &'static str) -> Option<&'s Node> {
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
        match &value.value {
            Value::Text(s) if !s.trim().is_empty() => return Some(s.trim().to_owned()),
            blank @ Value::Text(_) => self.wrong(doc, key, "study.text_blank", blank.shown(), EXPECTED),
            other => {
                let expected = doc.in_marks(other, EXPECTED);
                self.wrong(doc, key, "study.not_a_text", other.shown(), &expected);
            }
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
        self.check_number(doc, key, &value.value, bound)
    }

    pub(super) fn check_number(&self, doc: &mut Document<'_>, key: &str, value: &Value, bound: Bound) -> Option<f64> {
        let Some(x) = value.as_number() else {
            let expected = doc.as_digits(value, bound.expected());
            self.wrong(doc, key, "study.not_a_number", value.shown(), &expected);
            return None;
        };
        if bound.holds(x) {
            return Some(x);
        }
        self.wrong(doc, key, "study.number_out_of_range", value.shown(), bound.expected());
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
        let value = &self.ask(key)?.value;
        let found = match value {
            Value::Whole(n, _) => u64::try_from(*n).ok().filter(|n| (low..=high).contains(n)),
            _ => None,
        };
        if found.is_none() {
            let expected = doc.as_digits(value, &format!("a whole number from {low} to {high}"));
            self.wrong(doc, key, "study.not_a_whole_number", value.shown(), &expected);
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
        let value = &self.ask(key)?.value;
        let found = value.as_text().and_then(|text| all.iter().copied().find(|&t| name(t) == text.trim()));
        if found.is_none() {
            let words: Vec<&str> = all.iter().map(|&t| name(t)).collect();
            let expected = doc.in_marks(value, &format!("one of {}", words.join(", ")));
            self.wrong(doc, key, "study.word_unknown", value.shown(), &expected);
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
        let value = &self.ask(key)?.value;
        let mut signs = value.as_text().unwrap_or_default().chars();
        let found = signs.next().filter(|&c| signs.next().is_none() && usable(c));
        if found.is_none() {
            let expected = doc.in_marks(value, expected);
            self.wrong(doc, key, "study.not_a_sign", value.shown(), &expected);
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
        let value = &self.ask(key)?.value;
        let text = match value {
            Value::Day(text) => text.clone(),
            Value::Text(text) => text.trim().to_owned(),
            _ => String::new(),
        };
        // Written in one way only, with quotation marks or without: 2025-1-2 would leave the order to be guessed.
        let date = NaiveDate::parse_from_str(&text, "%Y-%m-%d").ok().filter(|d| d.to_string() == text);
        if date.is_none() {
            self.wrong(doc, key, "study.not_a_date", value.shown(), "a date such as 2025-12-28");
        }
        date
    }

    /// A list of numbers, each within its bound.
    pub(super) fn numbers(&mut self, doc: &mut Document<'_>, key: &'static str, bound: Bound) -> Option<Vec<f64>> {
        let value = &self.ask(key)?.value;
        let Some(list) = value.as_list() else {
            let expected = format!("a list in square brackets, each {}", bound.expected());
            self.wrong(doc, key, "study.not_a_list", value.shown(), &expected);
            return None;
        };
        let each: Vec<Option<f64>> = list.iter().map(|i| self.check_number(doc, key, &i.value, bound)).collect();
        each.into_iter().collect()
    }

    /// Says that a key has less than it needs.
    pub(super) fn missing_of(&self, doc: &mut Document<'_>, key: &str, got: &str, expected: &str) {
        self.wrong(doc, key, "study.list_short", got, expected);
    }

    /// A list of texts.
    pub(super) fn texts(&mut self, doc: &mut Document<'_>, key: &'static str) -> Option<Vec<String>> {
        const EXPECTED: &str = "a list of texts that are not blank";
        let value = &self.ask(key)?.value;
        let Some(list) = value.as_list() else {
            let marked = if doc.text.is_some() { ", such as [\"a\", \"b\"]" } else { "" };
            self.wrong(doc, key, "study.not_a_list", value.shown(), &format!("{EXPECTED}{marked}"));
            return None;
        };
        let mut texts = Vec::new();
        for item in list {
            match item.value.as_text().map(str::trim) {
                Some(s) if !s.is_empty() => texts.push(s.to_owned()),
                _ => {
                    let expected = doc.in_marks(&item.value, EXPECTED);
                    self.wrong(doc, key, "study.not_a_text", item.value.shown(), &expected);
                }
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
    ) -> Option<Section<'s>> {
        if self.find(key).is_none() {
            self.known.insert(key);
            self.missing(doc, key, &format!("a table {header}"));
        }
        self.table(doc, key, header)
    }

    /// A table under a key.
    pub(super) fn table(&mut self, doc: &mut Document<'_>, key: &'static str, header: &str) -> Option<Section<'s>> {
        let value = self.ask(key)?;
        let title = if self.title.is_empty() { key.to_owned() } else { format!("{}.{key}", self.title) };
        if let Some(table) = value.value.as_table() {
            return Some(Section::new(title, value.at, table));
        }
        self.wrong(doc, key, "study.not_a_table", value.value.shown(), &format!("a table {header}"));
        None
    }

    /// The tables of a list `[[key]]`; none where the key is absent.
    pub(super) fn tables(&mut self, doc: &mut Document<'_>, key: &'static str) -> Vec<Section<'s>> {
        let Some(value) = self.ask(key) else { return Vec::new() };
        let expected = format!("tables [[{key}]]");
        let Some(list) = value.value.as_list() else {
            self.wrong(doc, key, "study.not_a_table", value.value.shown(), &expected);
            return Vec::new();
        };
        let mut tables = Vec::new();
        for (i, item) in list.iter().enumerate() {
            match item.value.as_table() {
                Some(table) => tables.push(Section::new(format!("{key}[{}]", i + 1), item.at, table)),
                None => self.wrong(doc, key, "study.not_a_table", item.value.shown(), &expected),
            }
        }
        tables
    }

    /// Reports every key that was not asked for.
    pub(super) fn finish(&self, doc: &mut Document<'_>) {
        for (key, value) in self.entries().filter(|(k, _)| !self.known.contains(k)) {
            let problem = Problem::new("study.key_unknown", format!("{key} is not a key of this table"));
            let known: Vec<&str> = self.known.iter().copied().collect();
            let place = self.place(doc, key);
            doc.add(problem.at(place).got(value.shown()).expected(format!("one of {}", known.join(", "))));
        }
    }
}
