//! Delimited text as a stream of records: encodings, byte-order marks, quoted line breaks, physical lines, limits.

use std::io::Read;

use super::{Encoding, Word, usable_delimiter};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Longest field, bytes.
pub const MAX_FIELD: usize = 1 << 20;
/// Most columns.
pub const MAX_COLUMNS: usize = 1_000;
/// Largest file, bytes.
pub const MAX_FILE: u64 = 4 << 30;

const CHUNK: usize = 1 << 16;

/// Bytes of a file as UTF-8, read in chunks.
struct Input<'a> {
    name: Word,
    source: Box<dyn Read + 'a>,
    encoding: Encoding,
    decoder: Option<encoding_rs::Decoder>,
    raw: Vec<u8>,
    ready: Vec<u8>,
    at: usize,
    started: bool,
    ended: bool,
    total: u64,
}

impl<'a> Input<'a> {
    fn new(name: Word, source: Box<dyn Read + 'a>, encoding: Encoding) -> Self {
        let (raw, ready) = (Vec::new(), Vec::new());
        Self { name, source, encoding, decoder: None, raw, ready, at: 0, started: false, ended: false, total: 0 }
    }

    /// Bytes not yet consumed; empty only at the end.
    fn available(&mut self) -> Result<&[u8]> {
        while self.at >= self.ready.len() && !self.ended {
            self.fill()?;
        }
        Ok(self.ready.get(self.at..).unwrap_or(&[]))
    }

    fn consume(&mut self, n: usize) {
        self.at += n;
    }

    /// One read of the source into `raw`.
    fn pull(&mut self) -> Result<usize> {
        let old = self.raw.len();
        self.raw.resize(old + CHUNK, 0);
        let space = self.raw.get_mut(old..).unwrap_or(&mut []);
        let n = loop {
            match self.source.read(space) {
                Ok(n) => break n,
                Err(e) if e.kind() == std::io::ErrorKind::Interrupted => {}
                Err(e) => {
                    let problem = Problem::new("records.file_unreadable", format!("the file cannot be read: {e}"));
                    return Err(Error::new(Kind::Io, problem.at(Place::input(&*self.name))).with_source(e));
                }
            }
        };
        self.raw.truncate(old + n);
        self.total += n as u64;
        if self.total > MAX_FILE {
            let problem = Problem::new("records.file_too_large", "the file is too large").at(Place::input(&*self.name));
            return Err(Error::new(Kind::Limit, problem.expected(format!("at most {MAX_FILE} bytes"))));
        }
        Ok(n)
    }

    fn fill(&mut self) -> Result<()> {
        self.at = 0;
        self.ready.clear();
        self.raw.clear();
        if !self.started {
            self.started = true;
            // A mark has at most three bytes; a pipe may hand over one at a time.
            while self.raw.len() < 3 && self.pull()? > 0 {}
            self.start()?;
        } else if self.pull()? == 0 {
            self.ended = true;
        }
        match &mut self.decoder {
            None => std::mem::swap(&mut self.raw, &mut self.ready),
            Some(decoder) => {
                let room = decoder.max_utf8_buffer_length(self.raw.len()).unwrap_or(4 * self.raw.len() + 64);
                self.ready.resize(room, 0);
                let (_, _, written, _) = decoder.decode_to_utf8(&self.raw, &mut self.ready, self.ended);
                self.ready.truncate(written);
            }
        }
        Ok(())
    }

    /// Looks at the byte-order mark and chooses the decoder.
    fn start(&mut self) -> Result<()> {
        let found = match self.raw.as_slice() {
            [0xEF, 0xBB, 0xBF, ..] => Some((Encoding::Utf8, 3)),
            [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => Some((Encoding::Utf16, 2)),
            _ => None,
        };
        let big_endian = self.raw.first() == Some(&0xFE);
        if let Some((marked, length)) = found {
            if marked != self.encoding {
                let problem = Problem::new("records.encoding_wrong", "the byte-order mark belongs to another encoding");
                let place = Place::input(&*self.name).line(1);
                let problem = problem.at(place).got(marked.as_str()).expected(self.encoding.as_str());
                return Err(Error::new(Kind::Input, problem));
            }
            self.raw.drain(..length);
        }
        self.decoder = match self.encoding {
            Encoding::Utf8 => None,
            Encoding::Windows1252 => Some(encoding_rs::WINDOWS_1252.new_decoder_without_bom_handling()),
            Encoding::Utf16 if found.is_some() && big_endian => {
                Some(encoding_rs::UTF_16BE.new_decoder_without_bom_handling())
            }
            Encoding::Utf16 => Some(encoding_rs::UTF_16LE.new_decoder_without_bom_handling()),
        };
        Ok(())
    }
}

/// A stream of records.
pub(crate) struct Records<'a> {
    input: Input<'a>,
    core: csv_core::Reader,
    fields: Vec<u8>,
    ends: Vec<usize>,
    count: usize,
    line: u64,
    next_line: u64,
    after_return: bool,
}

impl std::fmt::Debug for Records<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Records").field("name", &self.input.name).field("line", &self.line).finish_non_exhaustive()
    }
}

impl<'a> Records<'a> {
    /// Starts at the top of a source.
    ///
    /// # Errors
    /// `records.delimiter_unusable` for a delimiter that is not one plain ASCII character.
    pub(crate) fn new(name: Word, source: Box<dyn Read + 'a>, encoding: Encoding, delimiter: char) -> Result<Self> {
        let byte = u8::try_from(delimiter).ok().filter(|_| usable_delimiter(delimiter));
        let Some(byte) = byte else {
            let problem = Problem::new("records.delimiter_unusable", "cells cannot be separated by this character");
            let problem = problem.at(Place::input(&*name)).got(delimiter.escape_default());
            return Err(Error::new(Kind::Study, problem.expected("one ASCII character such as , ; or a tab")));
        };
        let core = csv_core::ReaderBuilder::new().delimiter(byte).build();
        let input = Input::new(name, source, encoding);
        let (fields, ends) = (vec![0; 1 << 12], vec![0; 64]);
        Ok(Self { input, core, fields, ends, count: 0, line: 0, next_line: 1, after_return: false })
    }

    /// Reads the next record; false at the end. Lines without any text are skipped and counted as lines only.
    pub(crate) fn advance(&mut self) -> Result<bool> {
        loop {
            if !self.skip_breaks()? {
                return Ok(false);
            }
            self.line = self.next_line;
            self.read()?;
            if self.count > 1 || !self.get(0).is_some_and(|c| c.trim_ascii().is_empty()) {
                return Ok(true);
            }
        }
    }

    /// Physical line at which the record starts, from 1.
    pub(crate) fn line(&self) -> u64 {
        self.line
    }

    /// Number of cells of the record.
    pub(crate) fn len(&self) -> usize {
        self.count
    }

    /// Bytes of a cell.
    pub(crate) fn get(&self, i: usize) -> Option<&[u8]> {
        if i >= self.count {
            return None;
        }
        let start = if i == 0 { 0 } else { *self.ends.get(i - 1)? };
        self.fields.get(start..*self.ends.get(i)?)
    }

    /// Leaves line breaks before a record; false at the end of the input.
    fn skip_breaks(&mut self) -> Result<bool> {
        loop {
            let chunk = self.input.available()?;
            if chunk.is_empty() {
                return Ok(false);
            }
            let n = chunk.iter().position(|b| !matches!(b, b'\r' | b'\n')).unwrap_or(chunk.len());
            let done = n < chunk.len();
            let (breaks, after_return) = line_breaks(chunk.get(..n).unwrap_or(&[]), self.after_return);
            self.next_line += breaks;
            self.after_return = after_return && n > 0 || (n == 0 && self.after_return);
            self.input.consume(n);
            if done {
                self.after_return = false;
                return Ok(true);
            }
        }
    }

    fn read(&mut self) -> Result<()> {
        let (mut written, mut ended) = (0, 0);
        loop {
            let chunk = self.input.available()?;
            let at_end = chunk.is_empty();
            // At the end a line break is offered: a record takes it as its end, an open quote swallows it.
            let offered = if at_end { b"\n" } else { chunk };
            let space = self.fields.get_mut(written..).unwrap_or(&mut []);
            let marks = self.ends.get_mut(ended..).unwrap_or(&mut []);
            let (result, taken, out, marked) = self.core.read_record(offered, space, marks);
            if !at_end {
                let (breaks, after_return) = line_breaks(offered.get(..taken).unwrap_or(&[]), self.after_return);
                self.next_line += breaks;
                self.after_return = after_return;
                self.input.consume(taken);
            }
            written += out;
            ended += marked;
            if ended > MAX_COLUMNS {
                return Err(self.limit("records.too_many_columns", "a row has too many cells", MAX_COLUMNS, "cells"));
            }
            let before = ended.checked_sub(1).and_then(|i| self.ends.get(i)).copied().unwrap_or(0);
            match result {
                csv_core::ReadRecordResult::Record | csv_core::ReadRecordResult::End => break,
                csv_core::ReadRecordResult::InputEmpty if at_end => {
                    let problem = Problem::new("records.quote_unclosed", "a quotation mark is opened and never closed");
                    let problem = problem.at(self.place()).expected("a closing quotation mark");
                    return Err(Error::new(Kind::Input, problem));
                }
                csv_core::ReadRecordResult::InputEmpty => {}
                csv_core::ReadRecordResult::OutputFull => {
                    if written.saturating_sub(before) > MAX_FIELD {
                        return Err(self.limit("records.field_too_long", "a cell is too long", MAX_FIELD, "bytes"));
                    }
                    self.fields.resize(self.fields.len() * 2, 0);
                }
                csv_core::ReadRecordResult::OutputEndsFull => self.ends.resize(self.ends.len() * 2, 0),
            }
        }
        self.count = ended;
        if written > MAX_FIELD && (0..self.count).any(|i| self.get(i).is_some_and(|c| c.len() > MAX_FIELD)) {
            return Err(self.limit("records.field_too_long", "a cell is too long", MAX_FIELD, "bytes"));
        }
        Ok(())
    }

    fn place(&self) -> Place {
        Place::input(&*self.input.name).line(self.line)
    }

    fn limit(&self, slug: &'static str, what: &str, most: usize, unit: &str) -> Error {
        let problem = Problem::new(slug, what).at(self.place());
        Error::new(Kind::Limit, problem.expected(format!("at most {most} {unit}")))
    }
}

/// Line breaks in a chunk, where `\r\n` is one, and whether the chunk ends in `\r`.
#[allow(clippy::naive_bytecount, reason = "the compiler vectorises it; no crate for two lines")]
fn line_breaks(chunk: &[u8], after_return: bool) -> (u64, bool) {
    let feeds = chunk.iter().filter(|&&b| b == b'\n').count();
    let returns = chunk.iter().filter(|&&b| b == b'\r').count();
    let mut pairs = usize::from(after_return && chunk.first() == Some(&b'\n'));
    if returns > 0 {
        pairs += chunk.windows(2).filter(|w| w == b"\r\n").count();
    }
    let ends_in_return = if chunk.is_empty() { after_return } else { chunk.last() == Some(&b'\r') };
    ((feeds + returns - pairs) as u64, ends_in_return)
}

impl Encoding {
    /// The name used in study files.
    pub fn as_str(self) -> &'static str {
        match self {
            Encoding::Utf8 => "utf-8",
            Encoding::Windows1252 => "windows-1252",
            Encoding::Utf16 => "utf-16",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8], encoding: Encoding) -> Result<Vec<(u64, Vec<String>)>> {
        let mut records = Records::new("t".into(), Box::new(bytes), encoding, ',')?;
        let mut out = Vec::new();
        while records.advance()? {
            let cells = (0..records.len()).map(|i| String::from_utf8_lossy(records.get(i).unwrap()).into_owned());
            out.push((records.line(), cells.collect()));
        }
        Ok(out)
    }

    fn lines(text: &str) -> Vec<u64> {
        all(text.as_bytes(), Encoding::Utf8).unwrap().into_iter().map(|r| r.0).collect()
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
    fn line_numbers_do_not_depend_on_how_bytes_arrive() {
        struct Drip<'a>(&'a [u8]);
        impl Read for Drip<'_> {
            fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
                let n = self.0.len().min(1);
                out[..n].copy_from_slice(&self.0[..n]);
                self.0 = &self.0[n..];
                Ok(n)
            }
        }
        let text = b"\xEF\xBB\xBFa,b\r\n\"x\r\ny\",2\r\n\r\n3,\"4\"\"\"\r\n";
        let mut records = Records::new("t".into(), Box::new(Drip(text)), Encoding::Utf8, ',').unwrap();
        let mut seen = Vec::new();
        while records.advance().unwrap() {
            seen.push((records.line(), String::from_utf8(records.get(1).unwrap().to_vec()).unwrap()));
        }
        assert_eq!(seen, [(1, "b".into()), (2, "2".into()), (5, "4\"".to_string())]);
    }

    #[test]
    fn encodings_give_the_same_cells() {
        let text = "näme,b\nß,2\n";
        let expected = all(text.as_bytes(), Encoding::Utf8).unwrap();
        let western: Vec<u8> = text.chars().map(|c| c as u8).collect();
        assert_eq!(all(&western, Encoding::Windows1252).unwrap(), expected);
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert_eq!(all(&little, Encoding::Utf16).unwrap(), expected);
        let marked = |mark: [u8; 2], body: Vec<u8>| mark.into_iter().chain(body).collect::<Vec<u8>>();
        assert_eq!(all(&marked([0xFF, 0xFE], little), Encoding::Utf16).unwrap(), expected);
        let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        assert_eq!(all(&marked([0xFE, 0xFF], big.clone()), Encoding::Utf16).unwrap(), expected);
        assert_eq!(all(&marked([0xFE, 0xFF], big), Encoding::Utf8).unwrap_err().slug(), "records.encoding_wrong");
    }

    #[test]
    fn limits_have_names() {
        let slug = |text: String| all(text.as_bytes(), Encoding::Utf8).unwrap_err().slug();
        assert_eq!(slug(format!("a\n{}\n", "x".repeat(MAX_FIELD + 1))), "records.field_too_long");
        assert_eq!(slug(format!("a,b\nx,\"{}", "\n".repeat(3 * MAX_FIELD))), "records.field_too_long");
        assert_eq!(slug(",".repeat(MAX_COLUMNS)), "records.too_many_columns");
        assert!(all(",".repeat(MAX_COLUMNS - 1).as_bytes(), Encoding::Utf8).is_ok());
        assert!(all("x".repeat(MAX_FIELD).as_bytes(), Encoding::Utf8).is_ok());
        assert_eq!(slug("a,b\n1,\"open\n2,3\n".into()), "records.quote_unclosed");
        let bad = Records::new("t".into(), Box::new(&b""[..]), Encoding::Utf8, 'é').unwrap_err();
        assert_eq!(bad.slug(), "records.delimiter_unusable");
    }
}
