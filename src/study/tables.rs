//! Tables that people open in a spreadsheet: one text cell can never run as a formula, and numbers stay numbers.

use std::fmt::Write;

use super::output::TracedLife;
use super::overdue::OverdueLists;
use crate::records::{Finding, Outcome};

/// A cell of a table.
#[derive(Clone, Copy, Debug)]
enum Cell<'a> {
    Text(&'a str),
    Number(f64),
    Whole(i64),
    Blank,
}

/// Rows under way; lines end in LF, cells are separated by commas.
#[derive(Debug)]
struct Table {
    text: String,
}

impl Table {
    fn new(columns: &[&str]) -> Self {
        Self { text: columns.join(",") + "\n" }
    }

    fn row(&mut self, cells: &[Cell<'_>]) {
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
}

/// A text as a cell: an apostrophe before what a spreadsheet would run, quotes where the format needs them. A number
/// with its sign runs nothing and stays as the log has it.
fn push_text(out: &mut String, text: &str) {
    let runs = text.starts_with(['=', '+', '-', '@', '\t', '\r']) && !signed_number(text);
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

fn whole(n: u64) -> Cell<'static> {
    Cell::Whole(i64::try_from(n).unwrap_or(i64::MAX))
}

fn outcome(o: Outcome) -> &'static str {
    match o {
        Outcome::Used => "used",
        Outcome::Answered => "answered",
        Outcome::Merged => "merged",
        Outcome::SetAside => "set_aside",
    }
}

/// `ledger.csv`: every finding.
pub(super) fn ledger_csv(findings: &[Finding]) -> String {
    let mut table = Table::new(&["file", "row", "line", "column", "value", "rule", "outcome", "serial", "sentence"]);
    for f in findings {
        table.row(&[
            Cell::Text(&f.file),
            whole(f.row),
            whole(f.line),
            Cell::Text(&f.column),
            Cell::Text(&f.value),
            Cell::Text(&f.rule),
            Cell::Text(outcome(f.outcome)),
            Cell::Text(&f.serial),
            Cell::Text(&f.sentence),
        ]);
    }
    table.text
}

/// `overdue.csv`: the three lists one after the other, told apart by their first column.
pub(super) fn overdue_csv(lists: &OverdueLists) -> String {
    let mut table = Table::new(&[
        "list",
        "lamp_class",
        "site",
        "screen",
        "serial",
        "reading_hours",
        "limit_hours",
        "over_hours",
        "read_on",
        "expected_hours_at_visit",
        "days_left",
        "before_next_visit",
        "within_lead_time",
        "why",
        "file",
        "line",
    ]);
    let number = |x: Option<f64>| x.map_or(Cell::Blank, Cell::Number);
    let yes = |b: bool| Cell::Text(if b { "yes" } else { "no" });
    for row in lists.rows() {
        let [lamp_class, site, screen, serial] = row.who;
        let read_on = row.read_on.map(|d| d.to_string()).unwrap_or_default();
        table.row(&[
            Cell::Text(row.list),
            Cell::Text(lamp_class),
            Cell::Text(site),
            Cell::Text(screen),
            Cell::Text(serial),
            number(row.reading_hours),
            number(row.limit_hours),
            number(row.over_hours),
            Cell::Text(&read_on),
            number(row.soon.map(|s| (s.expected_hours_at_visit * 10.0).round() / 10.0)),
            row.soon.map_or(Cell::Blank, |s| Cell::Whole(s.days_left)),
            row.soon.map_or(Cell::Blank, |s| yes(s.before_next_visit)),
            row.soon.map_or(Cell::Blank, |s| yes(s.within_lead_time)),
            Cell::Text(row.why),
            Cell::Text(row.file),
            whole(row.line),
        ]);
    }
    table.text
}

/// `lives.csv`: every life with the rows it was read from; a life watched in several stretches has them all in one cell.
pub(super) fn lives_csv(lives: &[TracedLife]) -> String {
    let mut table = Table::new(&[
        "lamp_class",
        "serial",
        "supplier",
        "batch",
        "site",
        "screen",
        "entry_hours",
        "low_hours",
        "high_hours",
        "ending",
        "failure",
        "read_on",
        "at_risk_hours",
        "rows",
    ]);
    for l in lives {
        let stretches: Vec<String> = l.at_risk_hours.iter().map(|(a, b)| format!("{a} to {b}")).collect();
        table.row(&[
            Cell::Text(&l.lamp_class),
            Cell::Text(&l.serial),
            Cell::Text(&l.supplier),
            Cell::Text(&l.batch),
            Cell::Text(&l.site),
            Cell::Text(&l.screen),
            l.at_risk_hours.first().map_or(Cell::Blank, |p| Cell::Number(p.0)),
            Cell::Number(l.low_hours),
            // A life that did not fail has no upper end.
            if l.failure { Cell::Number(l.high_hours) } else { Cell::Blank },
            Cell::Text(l.ending.as_str()),
            Cell::Text(if l.failure { "yes" } else { "no" }),
            Cell::Text(&l.read_on.map(|d| d.to_string()).unwrap_or_default()),
            Cell::Text(&stretches.join("; ")),
            Cell::Text(&l.rows.join("; ")),
        ]);
    }
    table.text
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
        let mut table = Table::new(&["a", "b", "c"]);
        table.row(&[Cell::Number(-12.5), Cell::Whole(-3), Cell::Blank]);
        assert_eq!(table.text, "a,b,c\n-12.5,-3,\n");
    }
}
