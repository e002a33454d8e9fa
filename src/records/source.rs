//! The bytes of a table as UTF-8: files, encodings, byte-order marks.

use std::borrow::Cow;
use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::{Encoding, MAX_FILE};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Bytes decoded at a time.
const STEP: usize = 1 << 16;

/// The text of a file.
///
/// # Errors
/// `records.file_missing`, `records.file_unreadable`, `records.file_too_large`, `records.encoding_wrong`.
pub(super) fn of_file(name: &str, path: &Path, encoding: Encoding) -> Result<Vec<u8>> {
    let file = open_file(name, path)?;
    // A file may grow while it is read, so what comes is counted too.
    if file.metadata().is_ok_and(|facts| facts.len() > MAX_FILE) {
        return Err(too_large(name));
    }
    let mut raw = Vec::new();
    if let Err(e) = file.take(MAX_FILE + 1).read_to_end(&mut raw) {
        let problem = Problem::new("records.file_unreadable", format!("the file cannot be read: {e}"));
        return Err(Error::new(Kind::Io, problem.at(Place::input(name))).with_source(e));
    }
    let marked = mark(name, &raw, encoding)?;
    if encoding == Encoding::Utf8 {
        raw.drain(..marked);
        return Ok(raw);
    }
    of_bytes(name, &raw, encoding).map(Cow::into_owned)
}

/// Whether a file can be opened at all.
///
/// # Errors
/// `records.file_missing`, `records.file_unreadable`.
pub(crate) fn can_open(name: &str, path: &Path) -> Result<()> {
    open_file(name, path).map(|_| ())
}

/// The text in the bytes of a file.
///
/// # Errors
/// `records.file_too_large`, `records.encoding_wrong`.
pub(super) fn of_bytes<'a>(name: &str, raw: &'a [u8], encoding: Encoding) -> Result<Cow<'a, [u8]>> {
    if raw.len() as u64 > MAX_FILE {
        return Err(too_large(name));
    }
    let marked = mark(name, raw, encoding)?;
    let body = raw.get(marked..).unwrap_or(&[]);
    if encoding == Encoding::Utf16 && marked == 0 && !body.is_empty() && !body.contains(&0) {
        // In UTF-16 every delimiter, digit and line break has a byte of zero.
        let problem = Problem::new("records.encoding_wrong", "the text is not in the encoding declared");
        let got = "no byte of zero, which every digit and line break of utf-16 has";
        let problem = problem.at(Place::input(name).line(1)).got(got).expected("utf-8 or windows-1252, most likely");
        return Err(Error::new(Kind::Input, problem));
    }
    let decoder = match encoding {
        Encoding::Utf8 => return Ok(Cow::Borrowed(body)),
        Encoding::Windows1252 => encoding_rs::WINDOWS_1252,
        Encoding::Utf16 if raw.starts_with(&[0xFE, 0xFF]) => encoding_rs::UTF_16BE,
        Encoding::Utf16 => encoding_rs::UTF_16LE,
    };
    let mut decoder = decoder.new_decoder_without_bom_handling();
    let mut out = Vec::with_capacity(body.len());
    let mut step = vec![0; decoder.max_utf8_buffer_length(STEP).unwrap_or(4 * STEP)];
    let parts = body.len().div_ceil(STEP);
    for (i, part) in body.chunks(STEP).enumerate() {
        let (_, _, written, _) = decoder.decode_to_utf8(part, &mut step, i + 1 == parts);
        out.extend_from_slice(step.get(..written).unwrap_or(&[]));
    }
    Ok(Cow::Owned(out))
}

fn too_large(name: &str) -> Error {
    let problem = Problem::new("records.file_too_large", "the file is too large").at(Place::input(name));
    Error::new(Kind::Limit, problem.expected(format!("at most {MAX_FILE} bytes")))
}

/// Length of the byte-order mark; an error if it belongs to another encoding than the declared one.
fn mark(name: &str, raw: &[u8], declared: Encoding) -> Result<usize> {
    let (marked, length) = match raw {
        [0xEF, 0xBB, 0xBF, ..] => (Encoding::Utf8, 3),
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => (Encoding::Utf16, 2),
        _ => return Ok(0),
    };
    if marked == declared {
        return Ok(length);
    }
    let problem = Problem::new("records.encoding_wrong", "the byte-order mark belongs to another encoding");
    let problem = problem.at(Place::input(name).line(1)).got(marked.as_str()).expected(declared.as_str());
    Err(Error::new(Kind::Input, problem))
}

fn open_file(name: &str, path: &Path) -> Result<File> {
    let refuse = |slug, what: String, e: Option<std::io::Error>| {
        let error = Error::new(Kind::Io, Problem::new(slug, what).at(Place::input(name)));
        match e {
            Some(e) => error.with_source(e),
            None => error,
        }
    };
    // A pipe that nobody writes to would be waited for without end.
    if path.metadata().is_ok_and(|facts| !facts.is_file() && !facts.is_dir()) {
        return Err(refuse("records.file_unreadable", "a pipe or a device is not a file".into(), None));
    }
    let file = match File::open(path) {
        Ok(file) => file,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
            return Err(refuse("records.file_missing", "the file does not exist".into(), Some(e)));
        }
        Err(e) => return Err(refuse("records.file_unreadable", format!("the file cannot be opened: {e}"), Some(e))),
    };
    match file.metadata() {
        Ok(facts) if facts.is_dir() => Err(refuse("records.file_unreadable", "a folder is not a file".into(), None)),
        _ => Ok(file),
    }
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

    fn text(bytes: &[u8], encoding: Encoding) -> String {
        String::from_utf8(of_bytes("t", bytes, encoding).unwrap().into_owned()).unwrap()
    }

    #[test]
    fn encodings_give_the_same_text() {
        // Longer than one step, with letters of several bytes on the borders of steps.
        let long = "näme,b\nß,2\n".repeat(20_011);
        let western: Vec<u8> = long.chars().map(|c| c as u8).collect();
        assert!(text(&western, Encoding::Windows1252) == long);
        let little: Vec<u8> = long.encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert!(text(&little, Encoding::Utf16) == long);
        let marked = |mark: &[u8], body: &[u8]| [mark, body].concat();
        assert!(text(&marked(&[0xFF, 0xFE], &little), Encoding::Utf16) == long);
        let big: Vec<u8> = long.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let big = marked(&[0xFE, 0xFF], &big);
        assert!(text(&big, Encoding::Utf16) == long);
        assert!(text(&marked(&[0xEF, 0xBB, 0xBF], long.as_bytes()), Encoding::Utf8) == long);
        assert_eq!(of_bytes("t", &big, Encoding::Utf8).unwrap_err().slug(), "records.encoding_wrong");
        for plain in [&western, long.as_bytes()] {
            let error = of_bytes("t", plain, Encoding::Utf16).unwrap_err();
            assert_eq!((error.slug(), error.problems().len()), ("records.encoding_wrong", 1), "{error}");
        }
        assert_eq!(text(b"", Encoding::Utf16), "");
    }
}
