//! Tables that people open in a spreadsheet: one text cell can never run as a formula, and numbers stay numbers.

use std::fmt::Write;

/// A cell of a table.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Cell<'a> {
    Text(&'a str),
    Number(f64),
    Whole(i64),
    Blank,
}

/// Rows under way; lines end in LF, cells are separated by commas.
#[derive(Debug, Default)]
pub(crate) struct Sheet {
    text: String,
}

impl Sheet {
    pub(crate) fn new(columns: &[&str]) -> Self {
        Self { text: columns.join(",") + "\n" }
    }

    pub(crate) fn row(&mut self, cells: &[Cell<'_>]) {
        for (i, cell) in cells.iter().enumerate() {
            if i > 0 {
                self.text.push(',');
            }
            match *cell {
                Cell::Text(text) => push_text(&mut self.text, text),
                // Writing to a String cannot fail.
                Cell::Number(x) => drop(write!(self.text, "{x}")),
                Cell::Whole(n) => drop(write!(self.text, "{n}")),
                Cell::Blank => {}
            }
        }
        self.text.push('\n');
    }

    /// The whole text.
    pub(crate) fn finish(self) -> String {
        self.text
    }
}

/// A text as a cell: an apostrophe before what a spreadsheet would run, its full-width forms too, quotes where the format needs them. A number
/// with its sign runs nothing and stays as the log has it.
fn push_text(out: &mut String, text: &str) {
    let runs = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'])
        && !signed_number(text);
    let quoted = text.contains(['"', ',', '\n', '\r']);
    if quoted {
        out.push('"');
    }
    if runs {
        out.push('\'');
    }
    if quoted {
        out.push_str(&text.replace('"', "\"\""));
        out.push('"');
    } else {
        out.push_str(text);
    }
}

/// A sign and digits with single points or commas between them, and nothing else.
fn signed_number(text: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    text.strip_prefix(['+', '-']).is_some_and(|rest| rest.split(['.', ',']).all(digits))
}

/// A count as a cell.
pub(crate) fn whole(n: u64) -> Cell<'static> {
    Cell::Whole(i64::try_from(n).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(text: &str) -> String {
        let mut out = String::new();
        push_text(&mut out, text);
        out
    }

    #[test]
    fn what_a_spreadsheet_would_run_gets_an_apostrophe() {
        assert_eq!(cell("=HYPERLINK(\"x\")"), "\"'=HYPERLINK(\"\"x\"\")\"");
        assert_eq!(cell("+1+2"), "'+1+2");
        assert_eq!(cell("-2+3"), "'-2+3");
        assert_eq!(cell("-"), "'-");
        assert_eq!(cell("+cmd|' /C x'!A0"), "'+cmd|' /C x'!A0");
        assert_eq!(cell("-1e5"), "'-1e5");
        assert_eq!(cell("-A1"), "'-A1");
        assert_eq!(cell("-1..2"), "'-1..2");
        assert_eq!(cell("--1"), "'--1");
        assert_eq!(cell("@sum"), "'@sum");
        assert_eq!(cell("\tx"), "'\tx");
        assert_eq!(cell("\rx"), "\"'\rx\"");
        assert_eq!(cell("Site 7, left"), "\"Site 7, left\"");
        assert_eq!(cell("<script>"), "<script>");
    }

    #[test]
    fn numbers_stay_as_they_are_with_their_signs() {
        for number in ["-3.5", "+1", "-12", "-0", "2000"] {
            assert_eq!(cell(number), number);
        }
        assert_eq!(cell("-1.894,6"), "\"-1.894,6\"");
        let mut table = Sheet::new(&["a", "b", "c"]);
        table.row(&[Cell::Number(-12.5), Cell::Whole(-3), Cell::Blank]);
        assert_eq!(table.finish(), "a,b,c\n-12.5,-3,\n");
    }
}
