//! Delimited text as records: cells as stretches of the text, quoted line breaks, physical lines, limits.

use std::borrow::Cow;

use super::marks::{Marks, line_breaks};
use super::{Word, usable_delimiter};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Longest field, bytes.
pub const MAX_FIELD: usize = 1 << 20;
/// Most columns.
pub const MAX_COLUMNS: usize = 1_000;
/// Largest file, bytes.
pub const MAX_FILE: u64 = 4 << 30;

/// The records of a text, one after the other.
pub(crate) struct Records<'a> {
    name: Word,
    bytes: Cow<'a, [u8]>,
    /// The bytes as text, if they were looked at, all of them are, and some are not of ASCII.
    text: Option<&'a str>,
    /// Whether the text has no letters but those of ASCII.
    pub(super) ascii: bool,
    /// Place of the first byte in the whole text.
    offset: usize,
    delimiter: u8,
    marks: Marks,
    /// The next byte to read.
    at: usize,
    /// From where to where the cells of the record stand.
    cells: Vec<(usize, usize)>,
    /// The cells of a record one after the other, where quotation marks had to be undone.
    undone: Vec<u8>,
    start: usize,
    line: u64,
    next_line: u64,
    /// Cells of the header; 0 where it is not known yet.
    columns: usize,
}

impl std::fmt::Debug for Records<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Records").field("name", &self.name).field("line", &self.line).finish_non_exhaustive()
    }
}

impl<'a> Records<'a> {
    /// Starts at the top of a text.
    ///
    /// # Errors
    /// `records.delimiter_unusable` for a delimiter that is not one plain ASCII character.
    pub(crate) fn new(name: Word, bytes: Cow<'a, [u8]>, delimiter: char) -> Result<Self> {
        let byte = u8::try_from(delimiter).ok().filter(|_| usable_delimiter(delimiter));
        let Some(byte) = byte else {
            let problem = Problem::new("records.delimiter_unusable", "cells cannot be separated by this character");
            let problem = problem.at(Place::input(&*name)).got(delimiter.escape_default());
            return Err(Error::new(Kind::Study, problem.expected("one ASCII character such as , ; or a tab")));
        };
        Ok(Self::of(name, bytes, byte, 0))
    }

    fn of(name: Word, bytes: Cow<'a, [u8]>, delimiter: u8, offset: usize) -> Self {
        let (text, ascii) = (None, false);
        let (marks, cells, undone) = (Marks::new(delimiter), Vec::new(), Vec::new());
        let (at, start, line, next_line) = (0, 0, 0, 1);
        let columns = 0;
        Self { name, bytes, text, ascii, offset, delimiter, marks, at, cells, undone, start, line, next_line, columns }
    }

    /// The records not yet read, in parts of at least so many bytes, but not more than `most` of them. The first goes on
    /// counting lines, each other begins with line 1.
    pub(crate) fn parts(&self, least: usize, most: usize) -> Vec<Records<'_>> {
        let rest = self.bytes.get(self.at..).unwrap_or(&[]);
        let starts = super::marks::borders(rest, self.delimiter, (rest.len() / least.max(1)).clamp(1, most.max(1)));
        let ends = starts.iter().copied().skip(1).chain([rest.len()]);
        let parts = starts.iter().zip(ends).map(|(&from, to)| {
            let part = rest.get(from..to).unwrap_or(&[]);
            (part, self.offset + self.at + from)
        });
        let records = |(part, offset)| Records {
            columns: self.columns,
            ..Records::of(self.name.clone(), Cow::Borrowed(part), self.delimiter, offset)
        };
        let mut parts: Vec<_> = parts.map(records).collect();
        if let Some(first) = parts.first_mut() {
            first.next_line = self.next_line;
        }
        parts
    }

    /// The record that starts at a place of the whole text.
    pub(crate) fn record_at(name: Word, text: &'a [u8], delimiter: u8, place: usize) -> Option<Self> {
        let rest = text.get(place..)?;
        let mut records = Self::of(name, Cow::Borrowed(rest), delimiter, place);
        records.advance().ok()?.then_some(records)
    }

    /// The text itself, once every record is read.
    pub(crate) fn into_text(self) -> (Cow<'a, [u8]>, u8) {
        (self.bytes, self.delimiter)
    }

    /// Takes the record just read for the header: from now on a quoted cell that takes in whole rows is refused.
    pub(crate) fn take_header(&mut self) {
        self.columns = self.cells.len();
    }

    /// Leaves out a byte-order mark in front of the first record: one may have been written before another.
    pub(crate) fn skip_mark(&mut self) {
        self.skip_breaks();
        if self.bytes.get(self.at..).is_some_and(|rest| rest.starts_with(&[0xEF, 0xBB, 0xBF])) {
            self.at += 3;
        }
    }

    /// Reads the next record; false at the end. Lines without any text are skipped and counted as lines only.
    pub(crate) fn advance(&mut self) -> Result<bool> {
        loop {
            self.skip_breaks();
            if self.at >= self.bytes.len() {
                return Ok(false);
            }
            self.line = self.next_line;
            self.read()?;
            if self.cells.len() > 1 || !self.get(0).is_some_and(|c| c.trim_ascii().is_empty()) {
                return Ok(true);
            }
        }
    }

    /// Physical line at which the record starts, from 1.
    pub(crate) fn line(&self) -> u64 {
        self.line
    }

    /// Line breaks passed so far.
    pub(crate) fn breaks(&self) -> u64 {
        self.next_line - 1
    }

    /// Place of the record in the whole text.
    pub(crate) fn position(&self) -> usize {
        self.offset + self.start
    }

    /// Bytes passed of all.
    pub(crate) fn passed(&self) -> (usize, usize) {
        (self.at, self.bytes.len())
    }

    /// Number of cells of the record.
    #[inline]
    pub(crate) fn len(&self) -> usize {
        self.cells.len()
    }

    /// Bytes of a cell.
    #[inline]
    pub(crate) fn get(&self, i: usize) -> Option<&[u8]> {
        let &(from, to) = self.cells.get(i)?;
        if self.undone.is_empty() { self.bytes.get(from..to) } else { self.undone.get(from..to) }
    }

    /// A cell as text, where that needs no look at its bytes.
    #[inline]
    pub(crate) fn text(&self, i: usize) -> Option<&str> {
        let &(from, to) = self.cells.get(i)?;
        if self.undone.is_empty() { self.text?.get(from..to) } else { None }
    }

    /// Bytes of a cell of a record that stands in the text as it is, with no quotation marks to undo.
    #[inline]
    pub(super) fn plain(&self, i: usize) -> Option<&[u8]> {
        let &(from, to) = self.cells.get(i)?;
        if self.undone.is_empty() { self.bytes.get(from..to) } else { None }
    }

    /// Leaves line breaks before a record.
    fn skip_breaks(&mut self) {
        let rest = self.bytes.get(self.at..).unwrap_or(&[]);
        if matches!(rest.first(), Some(b'\r' | b'\n')) {
            let n = rest.iter().position(|b| !matches!(b, b'\r' | b'\n')).unwrap_or(rest.len());
            self.next_line += line_breaks(rest.get(..n).unwrap_or(&[]));
            self.at += n;
        }
    }

    fn read(&mut self) -> Result<()> {
        let bytes: &[u8] = &self.bytes;
        self.start = self.at;
        self.cells.clear();
        self.undone.clear();
        let (mut from, mut doubled) = (self.at, false);
        loop {
            let quoted = bytes.get(from) == Some(&b'"');
            let (cell, to) = if quoted {
                let Some(close) = closing_quote(bytes, from + 1) else {
                    return Err(if bytes.len() - from > 2 * MAX_FIELD { self.too_long() } else { self.unclosed() });
                };
                let inner = bytes.get(from + 1..close).unwrap_or(&[]);
                let breaks = line_breaks(inner);
                let to = self.marks.next(bytes, close + 1);
                if breaks > 0 && takes_in_rows(inner, to > close + 1, self.delimiter, self.columns) {
                    return Err(self.swallows(self.next_line, self.next_line + breaks));
                }
                self.next_line += breaks;
                if to == close + 1 && memchr::memchr(b'"', inner).is_none() {
                    ((from + 1, close), to)
                } else {
                    doubled = true;
                    ((from, to), to)
                }
            } else {
                let to = self.marks.next(bytes, from);
                ((from, to), to)
            };
            if cell.1 - cell.0 > MAX_FIELD && !(quoted && doubled) {
                return Err(self.too_long());
            }
            if self.cells.len() == MAX_COLUMNS {
                return Err(self.limit("records.too_many_columns", "a row has too many cells", MAX_COLUMNS, "cells"));
            }
            self.cells.push(cell);
            match bytes.get(to) {
                Some(&b) if b == self.delimiter => from = to + 1,
                None => {
                    self.at = to;
                    break;
                }
                Some(b) => {
                    let pair = *b == b'\r' && bytes.get(to + 1) == Some(&b'\n');
                    self.at = to + 1 + usize::from(pair);
                    self.next_line += 1;
                    break;
                }
            }
        }
        if doubled {
            self.undo();
            if self.cells.iter().any(|(from, to)| to - from > MAX_FIELD) {
                return Err(self.too_long());
            }
        }
        Ok(())
    }

    /// Copies the cells of a record and undoes the quotation marks of those that still begin with one.
    fn undo(&mut self) {
        for cell in &mut self.cells {
            let start = self.undone.len();
            let mut rest = self.bytes.get(cell.0..cell.1).unwrap_or(&[]);
            if let [b'"', inner @ ..] = rest {
                rest = inner;
                while let Some(n) = memchr::memchr(b'"', rest) {
                    self.undone.extend_from_slice(rest.get(..n).unwrap_or(&[]));
                    rest = rest.get(n + 1..).unwrap_or(&[]);
                    match rest {
                        [b'"', more @ ..] => {
                            self.undone.push(b'"');
                            rest = more;
                        }
                        // What follows the closing one stands as it is.
                        _ => break,
                    }
                }
            }
            self.undone.extend_from_slice(rest);
            *cell = (start, self.undone.len());
        }
        // Not empty even where every cell is, as that says where the cells stand.
        self.undone.push(b'\n');
    }

    fn place(&self) -> Place {
        Place::input(&*self.name).line(self.line)
    }

    fn unclosed(&self) -> Error {
        let problem = Problem::new("records.quote_unclosed", "a quotation mark is opened and never closed");
        Error::new(Kind::Input, problem.at(self.place()).expected("a closing quotation mark"))
    }

    fn swallows(&self, opened: u64, closed: u64) -> Error {
        let what = "a quotation mark at the start of a cell takes in whole rows";
        let problem = Problem::new("records.quote_over_rows", what).at(Place::input(&*self.name).line(opened));
        let got = format!("everything up to the next one, in line {closed}");
        let expected = "a closing quotation mark in the same row, or none at the start of the cell";
        Error::new(Kind::Input, problem.got(got).expected(expected))
    }

    fn too_long(&self) -> Error {
        self.limit("records.field_too_long", "a cell is too long", MAX_FIELD, "bytes")
    }

    fn limit(&self, slug: &'static str, what: &str, most: usize, unit: &str) -> Error {
        let problem = Problem::new(slug, what).at(self.place());
        Error::new(Kind::Limit, problem.expected(format!("at most {most} {unit}")))
    }
}

impl<'a> Records<'a> {
    /// Looks at all bytes of a borrowed text at once, so that its cells need no look one by one.
    pub(crate) fn check_text(&mut self) {
        if let Cow::Borrowed(bytes) = self.bytes {
            let bytes: &'a [u8] = bytes;
            self.ascii = bytes.is_ascii();
            // Most rows of plain text are read by their bytes.
            self.text = if self.ascii { None } else { std::str::from_utf8(bytes).ok() };
        }
    }
}

/// Whether a quoted cell of several lines holds what are rows of the table: as many delimiters as a row has, and either a whole
/// line with as many, or text behind the closing mark, which is then the one that opens another cell.
fn takes_in_rows(inner: &[u8], text_follows: bool, delimiter: u8, columns: usize) -> bool {
    let a_row = columns.saturating_sub(1);
    let delimiters = |text: &[u8]| memchr::memchr_iter(delimiter, text).count();
    if a_row < 2 || delimiters(inner) < a_row {
        return false;
    }
    let lines: Vec<&[u8]> = inner.split(|b| matches!(b, b'\n' | b'\r')).collect();
    let whole = lines.get(1..lines.len().saturating_sub(1)).unwrap_or(&[]);
    text_follows || whole.iter().any(|line| delimiters(line) >= a_row)
}

/// Where the quotation mark stands that ends a quoted cell; two of them stand for one inside.
fn closing_quote(bytes: &[u8], mut at: usize) -> Option<usize> {
    loop {
        let quote = at + memchr::memchr(b'"', bytes.get(at..)?)?;
        if bytes.get(quote + 1) != Some(&b'"') {
            return Some(quote);
        }
        at = quote + 2;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    type Row = (u64, Vec<Vec<u8>>);

    fn rows(records: &mut Records<'_>) -> Result<Vec<Row>> {
        let mut out = Vec::new();
        while records.advance()? {
            out.push((records.line(), (0..records.len()).map(|i| records.get(i).unwrap().to_vec()).collect()));
        }
        Ok(out)
    }

    fn all(bytes: &[u8]) -> Result<Vec<Row>> {
        rows(&mut Records::new("t".into(), Cow::Borrowed(bytes), ',')?)
    }

    /// The same by parts, where no part ends in an error.
    fn by_parts(bytes: &[u8], least: usize) -> Vec<Row> {
        let whole = Records::new("t".into(), Cow::Borrowed(bytes), ',').unwrap();
        let (mut out, mut lines): (Vec<Row>, u64) = (Vec::new(), 0);
        for mut part in whole.parts(least, usize::MAX) {
            part.check_text();
            out.extend(rows(&mut part).unwrap().into_iter().map(|(line, cells)| (line + lines, cells)));
            lines += part.breaks();
        }
        out
    }

    /// How an outside reader cuts the text; none where it ends inside quotation marks. Lines without text are left out.
    fn judged(bytes: &[u8]) -> Option<Vec<Vec<Vec<u8>>>> {
        // A first record of its own keeps a byte-order mark in the text from being skipped.
        let text = [b"x\n", bytes, b"\n"].concat();
        let mut core = csv_core::Reader::new();
        let (mut cells, mut ends, mut out, mut at) = (vec![0; text.len() + 8], vec![0; text.len() + 8], Vec::new(), 0);
        loop {
            let (result, taken, _, marked) = core.read_record(&text[at..], &mut cells, &mut ends);
            at += taken;
            match result {
                csv_core::ReadRecordResult::Record => {}
                csv_core::ReadRecordResult::End => return Some(out.split_off(1)),
                _ => {
                    // An open quotation mark leaves a record to give back at the end of the input.
                    let (result, ..) = core.read_record(&[], &mut cells, &mut ends);
                    return matches!(result, csv_core::ReadRecordResult::End).then(|| out.split_off(1));
                }
            }
            let from = [0].iter().chain(&ends[..marked]);
            let record: Vec<Vec<u8>> = from.zip(&ends[..marked]).map(|(a, b)| cells[*a..*b].to_vec()).collect();
            if record.len() > 1 || !record[0].trim_ascii().is_empty() {
                out.push(record);
            }
        }
    }

    fn lines(text: &str) -> Vec<u64> {
        all(text.as_bytes()).unwrap().into_iter().map(|r| r.0).collect()
    }

    #[test]
    fn lines_are_physical() {
        assert_eq!(lines("a,b\n1,2\n3,4"), [1, 2, 3]);
        assert_eq!(lines("a,b\r\n1,2\r\n\r\n3,4\r\n"), [1, 2, 4]);
        assert_eq!(lines("a,b\r1,2\r\r3,4"), [1, 2, 4]);
        assert_eq!(lines("a,b\n\"x\ny\",2\n\"p\r\n\r\nq\",4\n5,6\n"), [1, 2, 4, 7]);
        assert_eq!(lines("\n\na,b\n  \n1,2\n"), [3, 5]);
    }

    #[test]
    fn limits_have_names() {
        let slug = |text: String| all(text.as_bytes()).unwrap_err().slug();
        assert_eq!(slug(format!("a\n{}\n", "x".repeat(MAX_FIELD + 1))), "records.field_too_long");
        assert_eq!(slug(format!("a\n\"{}\"\"\"\n", "x".repeat(MAX_FIELD))), "records.field_too_long");
        assert_eq!(slug(format!("a,b\nx,\"{}", "\n".repeat(3 * MAX_FIELD))), "records.field_too_long");
        assert_eq!(slug(",".repeat(MAX_COLUMNS)), "records.too_many_columns");
        assert!(all(",".repeat(MAX_COLUMNS - 1).as_bytes()).is_ok());
        assert!(all("x".repeat(MAX_FIELD).as_bytes()).is_ok());
        assert!(all(format!("\"{}\"\"\"", "x".repeat(MAX_FIELD - 1)).as_bytes()).is_ok());
        assert_eq!(slug("a,b\n1,\"open\n2,3\n".into()), "records.quote_unclosed");
        let bad = Records::new("t".into(), Cow::Borrowed(b""), 'é').unwrap_err();
        assert_eq!(bad.slug(), "records.delimiter_unusable");
    }

    #[test]
    fn a_quotation_mark_that_takes_in_rows_is_refused_with_both_lines() {
        let refused = |rows: &str| {
            let text = format!("serial,site,hours,reason\n{rows}");
            let mut records = Records::new("log.csv".into(), Cow::Borrowed(text.as_bytes()), ',').unwrap();
            records.advance().unwrap();
            records.take_header();
            loop {
                match records.advance() {
                    Ok(true) => {}
                    Ok(false) => return None,
                    Err(error) => return Some(error),
                }
            }
        };
        // A stray mark in line 2 runs into the first cell that is in marks, in line 5; or to a stray one at the end of a cell.
        for (rows, to) in [
            ("\"A-1,North,10,dim\nA-2,North,20,dim\nA-3,North,30,dim\nA-4,\"South\",40,dim\n", 5),
            ("A-1,North,10,\"dim\nA-2,North,20,dim\nA-3,North,30,dim\"\nA-4,South,40,dim\n", 4),
            ("A-1,North,10,\"dim\nA-2,North,20,\"dim\"\n", 3),
        ] {
            let error = refused(rows).unwrap();
            assert_eq!((error.slug(), error.problems()[0].place.line), ("records.quote_over_rows", Some(2)), "{rows}");
            assert!(error.to_string().contains(&format!("in line {to}")), "{error}");
        }
        // What technicians write over several lines is one cell.
        assert!(
            refused("A-1,North,10,\"dim,\nchecked, cleaned\nand aligned, all well\"\nA-2,North,20,dim\n").is_none()
        );
        assert!(refused("A-1,\"North\n\n\",10,\"a \"\"b\"\"\n\"\nA-2,North,20,dim\n").is_none());
    }

    #[test]
    fn a_line_break_in_a_cell_is_no_border_of_parts() {
        for end in ["\n", "\r\n", "\r"] {
            let text = format!("a,b{end}\"x{end}\"\"y{end}\",1{end}{end}2,\"{end}{end}\"{end}3\",4{end}5,\"6\"\"\"");
            for least in 1..text.len() {
                assert_eq!(by_parts(text.as_bytes(), least), all(text.as_bytes()).unwrap(), "{end:?} {least}");
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn cells_are_cut_as_by_an_outside_reader_whole_or_by_parts(
            bytes in prop::collection::vec(prop::sample::select(b"aa11,,,\n\n\r\"\"\" \xC3\xA4\xFF".to_vec()), 0..120),
            least in 1..60_usize,
        ) {
            let cut = all(&bytes);
            let Some(expected) = judged(&bytes) else {
                prop_assert_eq!(cut.unwrap_err().slug(), "records.quote_unclosed");
                return Ok(());
            };
            let cut = cut.unwrap();
            prop_assert_eq!(by_parts(&bytes, least), cut.clone());
            prop_assert_eq!(cut.into_iter().map(|r| r.1).collect::<Vec<_>>(), expected);
        }
    }
}
