//! Tables with named columns, from delimited text or from memory, with typed cells.

use std::borrow::Cow;
use std::path::PathBuf;
use std::sync::Arc;

use chrono::NaiveDate;

use super::source;
use super::text::Records;
use super::{DateFault, DateOrder, Encoding, NumberFault, NumberFormat, Word, date, number};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Columns that a message lists, and signs of the name of one.
const NAMES_SHOWN: usize = 20;
const NAME_SHOWN: usize = 60;

/// How a table of text is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TableFormat {
    /// Character encoding.
    pub encoding: Encoding,
    /// Separator between cells.
    pub delimiter: char,
    /// How numbers are written.
    pub numbers: NumberFormat,
    /// Order of day, month and year, if declared.
    pub dates: Option<DateOrder>,
}

impl Default for TableFormat {
    /// UTF-8, commas between cells, decimal point, no thousands separator, no declared order of dates.
    fn default() -> Self {
        Self { encoding: Encoding::Utf8, delimiter: ',', numbers: NumberFormat::default(), dates: None }
    }
}

/// Where the rows of a table come from.
#[derive(Clone, Debug)]
pub enum Source<'a> {
    /// A file.
    File(PathBuf),
    /// The bytes of a file.
    Bytes(&'a [u8]),
    /// Columns in memory.
    Columns(&'a [Column]),
}

/// A named column in memory.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Name.
    pub name: String,
    /// Values; none for a missing one.
    pub values: Values,
}

/// Values of a column in memory. Text is read like the text of a file, by the declared conventions.
#[derive(Clone, Debug, PartialEq)]
pub enum Values {
    /// Texts.
    Text(Vec<Option<Word>>),
    /// Numbers; NaN is not a missing value and is refused where a number is needed.
    Number(Vec<Option<f64>>),
    /// Dates.
    Date(Vec<Option<NaiveDate>>),
}

impl Column {
    /// The cell of a row, from 0, as it was given; empty for a missing value.
    pub(crate) fn written(&self, row: u64) -> String {
        let row = usize::try_from(row).unwrap_or(usize::MAX);
        match &self.values {
            Values::Text(v) => v.get(row).cloned().flatten().map_or_else(String::new, |t| t.to_string()),
            other => other.get(row).text().into_owned(),
        }
    }
}

impl Values {
    fn len(&self) -> usize {
        match self {
            Values::Text(v) => v.len(),
            Values::Number(v) => v.len(),
            Values::Date(v) => v.len(),
        }
    }

    fn get(&self, row: usize) -> Cell<'_> {
        match self {
            Values::Text(v) => v.get(row).and_then(Option::as_deref).map_or(Cell::Blank, |t| text_cell(t)),
            Values::Number(v) => v.get(row).copied().flatten().map_or(Cell::Blank, Cell::Number),
            Values::Date(v) => v.get(row).copied().flatten().map_or(Cell::Blank, Cell::Date),
        }
    }
}

/// One cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cell<'a> {
    /// Nothing, or white space only.
    Blank,
    /// Trimmed text.
    Text(&'a str),
    /// A number, from a table in memory.
    Number(f64),
    /// A date, from a table in memory.
    Date(NaiveDate),
    /// Bytes that are no text in the declared encoding.
    Bytes(&'a [u8]),
}

fn text_cell(text: &str) -> Cell<'_> {
    let text = text.trim();
    if text.is_empty() { Cell::Blank } else { Cell::Text(text) }
}

/// The cell in bytes of which nothing is known.
fn decoded_cell(bytes: &[u8]) -> Cell<'_> {
    match std::str::from_utf8(bytes) {
        // The replacement character stands where a decoder, here or in an earlier program, met bytes it could not read.
        Ok(text) if text.contains('\u{fffd}') => Cell::Bytes(bytes),
        Ok(text) => text_cell(text),
        Err(_) => Cell::Bytes(bytes),
    }
}

impl<'a> Cell<'a> {
    /// The cell as text; a missing value is empty.
    #[inline]
    pub fn text(self) -> Cow<'a, str> {
        match self {
            Cell::Blank => Cow::Borrowed(""),
            Cell::Text(text) => Cow::Borrowed(text),
            Cell::Number(x) => Cow::Owned(x.to_string()),
            Cell::Date(day) => Cow::Owned(day.to_string()),
            Cell::Bytes(bytes) => String::from_utf8_lossy(bytes),
        }
    }

    /// The number in the cell; none where blank.
    ///
    /// # Errors
    /// A [`NumberFault`] for anything else than a finite number.
    pub fn number(self, format: NumberFormat) -> std::result::Result<Option<f64>, NumberFault> {
        match self {
            Cell::Blank => Ok(None),
            Cell::Text(text) => number(text, format).map(Some),
            Cell::Number(x) if x.is_finite() => Ok(Some(x)),
            Cell::Number(_) | Cell::Date(_) | Cell::Bytes(_) => Err(NumberFault::NotANumber),
        }
    }

    /// The date in the cell; none where blank.
    ///
    /// # Errors
    /// A [`DateFault`] for anything else than a date in the declared order.
    pub fn date(self, order: Option<DateOrder>) -> std::result::Result<Option<NaiveDate>, DateFault> {
        match self {
            Cell::Blank => Ok(None),
            Cell::Text(text) => date(text, order).map(Some),
            Cell::Date(day) => Ok(Some(day)),
            Cell::Number(_) => Err(DateFault::SerialNumber),
            Cell::Bytes(_) => Err(DateFault::NotADate),
        }
    }
}

/// A table that hands out one row after the other.
#[derive(Debug)]
pub struct Table<'a> {
    name: Word,
    columns: Arc<[String]>,
    rows: Rows<'a>,
    row: u64,
}

#[derive(Debug)]
enum Rows<'a> {
    Text(Box<Records<'a>>),
    /// So many rows of columns after the first ones.
    Columns {
        columns: &'a [Column],
        after: usize,
        length: usize,
    },
}

impl<'a> Table<'a> {
    /// Opens a table and reads its header. `name` names it in errors and findings.
    ///
    /// # Errors
    /// `records.file_missing`, `records.file_unreadable`, `records.empty` where there is no header,
    /// `records.columns_uneven` for columns of unequal length, and those of the text reader: `records.encoding_wrong`,
    /// `records.delimiter_unusable`, `records.bytes_invalid`, `records.quote_unclosed`, `records.quote_over_rows`,
    /// `records.field_too_long`, `records.too_many_columns`, `records.file_too_large`.
    pub fn open(name: &str, source: Source<'a>, format: &TableFormat) -> Result<Self> {
        let word = Word::from(name);
        let text = match source {
            Source::Columns(columns) => return Self::in_memory(word, columns),
            Source::Bytes(bytes) => source::of_bytes(name, bytes, format.encoding)?,
            Source::File(path) => Cow::Owned(source::of_file(name, &path, format.encoding)?),
        };
        let mut records = Records::new(word.clone(), text, format.delimiter)?;
        records.skip_mark();
        if !records.advance()? {
            let problem = Problem::new("records.empty", "the file is empty").at(Place::input(name));
            return Err(Error::new(Kind::Input, problem.expected("a header line with the names of the columns")));
        }
        let mut columns = Vec::with_capacity(records.len());
        for i in 0..records.len() {
            let bytes = records.get(i).unwrap_or(&[]);
            let Ok(text) = std::str::from_utf8(bytes) else {
                let what = "the header is not text in the declared encoding";
                let place = Place::input(name).line(records.line());
                let problem = Problem::new("records.bytes_invalid", what).at(place).got(String::from_utf8_lossy(bytes));
                return Err(Error::new(Kind::Input, problem.expected(format.encoding.as_str())));
            };
            columns.push(text.trim().to_owned());
        }
        records.take_header();
        Ok(Self { name: word, columns: columns.into(), rows: Rows::Text(Box::new(records)), row: 0 })
    }

    fn in_memory(name: Word, columns: &'a [Column]) -> Result<Self> {
        let length = columns.first().map_or(0, |c| c.values.len());
        if let Some(odd) = columns.iter().find(|c| c.values.len() != length) {
            let problem = Problem::new("records.columns_uneven", "the columns differ in length");
            let problem = problem.at(Place::input(&*name).column(&odd.name)).got(odd.values.len());
            return Err(Error::new(Kind::Input, problem.expected(length.to_string())));
        }
        if columns.is_empty() {
            let problem = Problem::new("records.empty", "the table has no columns").at(Place::input(&*name));
            return Err(Error::new(Kind::Input, problem));
        }
        let names = columns.iter().map(|c| c.name.trim().to_owned()).collect();
        Ok(Self { name, columns: names, rows: Rows::Columns { columns, after: 0, length }, row: 0 })
    }

    /// The rows not yet read, in parts that are read each for itself and number their rows from 1, and their lines
    /// too but for the first part, which goes on where the header ends. There are at most `most` parts, of at least so many bytes or cells.
    pub(crate) fn parts(&self, least: usize, most: usize) -> Vec<Table<'_>> {
        let rows: Vec<Rows<'_>> = match &self.rows {
            Rows::Text(records) => records.parts(least, most).into_iter().map(|r| Rows::Text(Box::new(r))).collect(),
            Rows::Columns { columns, after, length } => {
                let parts = (length * columns.len() / least.max(1)).clamp(1, most.max(1));
                let start = |part: usize| part * length / parts;
                let part = |p: usize| (after + start(p), start(p + 1) - start(p));
                (0..parts).map(part).map(|(after, length)| Rows::Columns { columns, after, length }).collect()
            }
        };
        rows.into_iter()
            .map(|rows| Table { name: self.name.clone(), columns: self.columns.clone(), rows, row: 0 })
            .collect()
    }

    /// Looks at the whole text of a part at once, which spares a look at each cell.
    pub(crate) fn check_text(&mut self) {
        if let Rows::Text(records) = &mut self.rows {
            records.check_text();
        }
    }

    /// Name of the table.
    pub fn name(&self) -> &Word {
        &self.name
    }

    /// Names of the columns, trimmed.
    pub fn columns(&self) -> &[String] {
        &self.columns
    }

    /// Index of a named column.
    ///
    /// # Errors
    /// A problem that lists the columns there are and names the nearest spelling, or says that the name occurs twice.
    pub fn find(&self, name: &str) -> Result<usize> {
        let wanted = name.trim();
        let place = Place::input(&*self.name).line(u64::from(matches!(self.rows, Rows::Text(_)))).column(wanted);
        let mut hits = self.columns.iter().enumerate().filter(|(_, c)| c.as_str() == wanted);
        match (hits.next(), hits.next()) {
            (Some((i, _)), None) => Ok(i),
            (Some(_), Some(_)) => {
                let problem = Problem::new("records.column_twice", "two columns have the same name").at(place);
                Err(Error::new(Kind::Input, problem))
            }
            (None, _) => {
                let nearest = self.columns.iter().min_by_key(|c| distance(c, wanted));
                let hint = nearest.filter(|c| distance(c, wanted) <= 1 + wanted.chars().count() / 3);
                let hint = hint.map_or_else(String::new, |c| format!("; the nearest is \"{c}\""));
                let problem =
                    Problem::new("records.column_missing", format!("a column is missing: \"{wanted}\"{hint}"));
                Err(Error::new(Kind::Input, problem.at(place).expected(self.listed())))
            }
        }
    }

    /// The columns that there are, in a length that can be read: a file cut at the wrong places has a text for a name.
    fn listed(&self) -> String {
        let shown = |name: &String| match name.char_indices().nth(NAME_SHOWN) {
            Some((at, _)) => format!("{}...", name.get(..at).unwrap_or_default()),
            None => name.clone(),
        };
        let names: Vec<String> = self.columns.iter().take(NAMES_SHOWN).map(shown).collect();
        let more = self.columns.len().saturating_sub(NAMES_SHOWN);
        let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
        let alone = match self.columns.as_ref() {
            [only] if only.contains([';', ',', '\t', '|']) => "; this is one column: is the delimiter as declared?",
            _ => "",
        };
        format!("one of {}{rest}{alone}", names.join(", "))
    }

    /// Whether two names of columns differ by a slip of the hand only.
    pub fn near(a: &str, b: &str) -> bool {
        distance(a, b) <= 1 + b.chars().count() / 4
    }

    /// Goes to the next row; false after the last.
    ///
    /// # Errors
    /// Those of the text reader, see [`Table::open`].
    pub fn advance(&mut self) -> Result<bool> {
        let more = match &mut self.rows {
            Rows::Text(records) => records.advance()?,
            Rows::Columns { length, .. } => self.row < *length as u64,
        };
        self.row += u64::from(more);
        Ok(more)
    }

    /// Number of the present row, from 1.
    pub fn row(&self) -> u64 {
        self.row
    }

    /// Physical line at which the present row starts; 0 for columns in memory.
    pub fn line(&self) -> u64 {
        match &self.rows {
            Rows::Text(records) => records.line(),
            Rows::Columns { .. } => 0,
        }
    }

    /// Physical lines passed so far.
    pub(crate) fn breaks(&self) -> u64 {
        match &self.rows {
            Rows::Text(records) => records.breaks(),
            Rows::Columns { .. } => 0,
        }
    }

    /// Where the present row stands: its first byte in the whole text, or its index in columns.
    pub(crate) fn position(&self) -> u64 {
        match &self.rows {
            Rows::Text(records) => records.position() as u64,
            Rows::Columns { after, .. } => (*after as u64 + self.row).saturating_sub(1),
        }
    }

    /// The text and its delimiter, once every row is read; none for columns in memory.
    pub(crate) fn into_text(self) -> Option<(Cow<'a, [u8]>, u8)> {
        match self.rows {
            Rows::Text(records) => Some(records.into_text()),
            Rows::Columns { .. } => None,
        }
    }

    /// How many rows there may be in all, judged by those read so far.
    pub(crate) fn estimate(&self) -> usize {
        match &self.rows {
            Rows::Text(records) => {
                let (at, all) = records.passed();
                (self.row as f64 * 1.01 * all as f64 / at.max(1) as f64) as usize
            }
            Rows::Columns { length, .. } => *length,
        }
    }

    /// Number of cells of the present row.
    #[inline]
    pub fn width(&self) -> usize {
        match &self.rows {
            Rows::Text(records) => records.len(),
            Rows::Columns { columns, .. } => columns.len(),
        }
    }

    /// A cell of the present row; blank past its end.
    #[inline]
    pub fn cell(&self, column: usize) -> Cell<'_> {
        match &self.rows {
            Rows::Text(records) => {
                // Most cells are plain letters and digits with nothing to trim and nothing that a decoder put in.
                if let Some(text) = records.text(column) {
                    let bytes = text.as_bytes();
                    if let ([b'!'..=b'~', ..], [.., b'!'..=b'~']) = (bytes, bytes)
                        && (records.ascii || bytes.is_ascii())
                    {
                        return Cell::Text(text);
                    }
                    if bytes.is_empty() {
                        return Cell::Blank;
                    }
                }
                decoded_cell(records.get(column).unwrap_or(&[]))
            }
            Rows::Columns { columns, .. } => {
                let row = usize::try_from(self.position()).unwrap_or(usize::MAX);
                columns.get(column).filter(|_| self.row > 0).map_or(Cell::Blank, |c| c.values.get(row))
            }
        }
    }

    /// The present row, if it is one of a text.
    #[inline]
    pub(crate) fn record(&self) -> Option<&Records<'a>> {
        match &self.rows {
            Rows::Text(records) => Some(records),
            Rows::Columns { .. } => None,
        }
    }

    /// Bytes of a cell of the present row as they stand, decoded but not trimmed; empty for columns in memory.
    pub(crate) fn bytes(&self, column: usize) -> &[u8] {
        match &self.rows {
            Rows::Text(records) => records.get(column).unwrap_or(&[]),
            Rows::Columns { .. } => &[],
        }
    }

    /// A cell of the present row as its owner wrote it.
    pub(crate) fn written(&self, column: usize) -> String {
        match &self.rows {
            Rows::Text(_) => String::from_utf8_lossy(self.bytes(column)).into_owned(),
            Rows::Columns { columns, .. } => {
                columns.get(column).map_or_else(String::new, |c| c.written(self.position()))
            }
        }
    }

    /// The place of a cell of the present row.
    pub fn place(&self, column: Option<usize>) -> Place {
        let mut place = Place::input(&*self.name).row(self.row);
        if self.line() > 0 {
            place = place.line(self.line());
        }
        if let Some(name) = column.and_then(|c| self.columns.get(c)) {
            place = place.column(name);
        }
        place
    }
}

/// Edits between two names, ignoring case: insertions, deletions, replacements and swaps of neighbours.
pub(crate) fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().flat_map(char::to_lowercase).take(200).collect();
    let b: Vec<char> = b.chars().flat_map(char::to_lowercase).take(200).collect();
    let width = b.len() + 1;
    let mut table = vec![0_usize; (a.len() + 1) * width];
    let at = |i: usize, j: usize| i * width + j;
    for i in 0..=a.len() {
        for j in 0..=b.len() {
            table[at(i, j)] = if i == 0 || j == 0 {
                i + j
            } else {
                let same = a[i - 1] == b[j - 1];
                let mut best = (table[at(i - 1, j)] + 1).min(table[at(i, j - 1)] + 1);
                best = best.min(table[at(i - 1, j - 1)] + usize::from(!same));
                if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                    best = best.min(table[at(i - 2, j - 2)] + 1);
                }
                best
            };
        }
    }
    table[at(a.len(), b.len())]
}

/// The name most like another, as the end of a sentence; nothing where none is like it.
pub(crate) fn nearest<'a>(name: &str, among: impl Iterator<Item = &'a str>) -> String {
    let close = among.map(|other| (distance(other, name), other)).min();
    let close = close.filter(|(edits, _)| *edits <= 1 + name.chars().count() / 3);
    close.map_or_else(String::new, |(_, other)| format!("; the nearest is \"{other}\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_column_lists_what_there_is_and_the_nearest() {
        let table = Table::open("t.csv", Source::Bytes(b"low,hgih\n1,1\n"), &TableFormat::default()).unwrap();
        let error = table.find("high").unwrap_err();
        let problem = &error.problems()[0];
        assert_eq!(problem.slug, "records.column_missing");
        assert!(problem.what.contains("hgih") && problem.expected.contains("low, hgih"), "{problem}");
        assert_eq!(problem.place.line, Some(1));
        assert_eq!(distance("hgih", "high"), 1);
        assert_eq!(distance("ab", "ba"), 1);
    }

    #[test]
    fn a_table_cut_at_the_wrong_places_is_told_in_a_length_that_can_be_read() {
        let told = |text: &str| {
            let table = Table::open("t.csv", Source::Bytes(text.as_bytes()), &TableFormat::default()).unwrap();
            table.find("hours").unwrap_err().problems()[0].expected.clone()
        };
        assert_eq!(told("out;meter\n1;2\n"), "one of out;meter; this is one column: is the delimiter as declared?");
        let wide: Vec<String> = (0..50).map(|i| format!("column {i}")).collect();
        assert!(told(&format!("{}\n", wide.join(","))).ends_with("column 19 and 30 more"));
        assert!(told(&format!("{}\n1\n", "x".repeat(5000))).len() < 200);
    }

    #[test]
    fn cells_of_memory_and_text_have_types() {
        let columns = [
            Column { name: "a".into(), values: Values::Text(vec![Some("1,5".into()), None]) },
            Column { name: "b".into(), values: Values::Number(vec![Some(f64::NAN), Some(2.0)]) },
        ];
        let mut table = Table::open("m", Source::Columns(&columns), &TableFormat::default()).unwrap();
        let comma = NumberFormat { decimal: ',', thousands: None };
        assert!(table.advance().unwrap());
        assert_eq!(table.cell(0).number(comma), Ok(Some(1.5)));
        assert_eq!(table.cell(1).number(comma), Err(NumberFault::NotANumber));
        assert!(table.advance().unwrap());
        assert_eq!(table.cell(0).number(comma), Ok(None));
        assert_eq!(table.cell(1).number(comma), Ok(Some(2.0)));
        assert!(!table.advance().unwrap());
    }

    #[test]
    fn a_folder_or_a_missing_file_is_named() {
        let open = |path: &str| Table::open(path, Source::File(path.into()), &TableFormat::default());
        assert_eq!(open("no/such.csv").unwrap_err().slug(), "records.file_missing");
        assert_eq!(open(".").unwrap_err().slug(), "records.file_unreadable");
        let empty = Table::open("e", Source::Bytes(b"\xEF\xBB\xBF\n\n"), &TableFormat::default()).unwrap_err();
        assert_eq!(empty.slug(), "records.empty");
    }
}
