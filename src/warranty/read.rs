//! Lamps that ended and their papers, from plain tables.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::from_records::{Papers, twice};
use super::lamp::EndedLamp;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::counted;
use crate::records::{Cell, Ending, Heading, Headings, Source, Table, TableFormat};

/// Columns of a table of lamps that ended.
const LAMPS: [Heading; 13] = [
    ("serial", true),
    ("lamp_class", false),
    ("site", false),
    ("screen", false),
    ("ending", true),
    ("age_hours", true),
    ("strikes", false),
    ("fitted_on", false),
    ("delivered_on", false),
    ("ended_on", false),
    ("evidence", false),
    ("filed_on", false),
    ("paid", false),
];

/// Columns of a table of papers.
const PAPERS: [Heading; 5] =
    [("serial", true), ("delivered_on", false), ("evidence", false), ("filed_on", false), ("paid", false)];

/// Reads lamps that ended: columns `serial`, `ending`, `age_hours`, and any of `lamp_class`, `site`, `screen`, `strikes`,
/// `fitted_on`, `delivered_on`, `ended_on`, `evidence`, `filed_on`, `paid`.
///
/// `ending` is a word of [`Ending`]; a blank is `unknown`. `evidence` lists what is at hand for a claim, with semicolons
/// between. A blank in any other column is not known, but a blank `filed_on` beside a blank `paid` says that no claim was
/// filed.
///
/// # Arguments
/// `name` names the table in messages; `called` gives the owner's name of a column where it differs from ours.
///
/// # Errors
/// Every bad row at once, each with row, line, column and value: `warranty.number_unreadable`, `warranty.day_unreadable`,
/// `warranty.ending_word`, `warranty.strikes_not_whole`, `warranty.row_cells`; `warranty.no_rows`;
/// `records.column_missing`, `records.column_twice`, `records.column_shared`, `records.column_misspelt`,
/// `records.heading_unknown`; and those of [`Table::open`].
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use relamp::records::{Source, TableFormat};
/// use relamp::warranty::read_lamps;
/// let text = "lamp,ending,age_hours,evidence\nA1,burst,500,photo; return form\n";
/// let called = BTreeMap::from([("serial".to_owned(), "lamp".to_owned())]);
/// let lamps = read_lamps("ended.csv", Source::Bytes(text.as_bytes()), &TableFormat::default(), &called)?;
/// assert_eq!(lamps[0].evidence, ["photo", "return form"]);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn read_lamps(
    name: &str,
    source: Source<'_>,
    format: &TableFormat,
    called: &BTreeMap<String, String>,
) -> Result<Vec<EndedLamp>> {
    let (table, at) = Headings::open(name, source, format, &LAMPS, called)?;
    let read = rows(table, &at, format, |row| EndedLamp {
        serial: row.text("serial"),
        lamp_class: row.text("lamp_class"),
        site: row.text("site"),
        screen: row.text("screen"),
        ending: row.ending(),
        age_hours: row.number("age_hours"),
        strikes: row.whole("strikes"),
        fitted_on: row.day("fitted_on"),
        delivered_on: row.day("delivered_on"),
        ended_on: row.day("ended_on"),
        evidence: row.list("evidence"),
        filed_on: row.day("filed_on"),
        paid: row.number("paid"),
        file: name.to_owned(),
        line: if row.table.line() > 0 { row.table.line() } else { row.table.row() },
    })?;
    read.sound()
}

/// Reads papers of lamps: columns `serial` and any of `delivered_on`, `evidence`, `filed_on`, `paid`; see [`read_lamps`].
///
/// # Errors
/// Those of [`read_lamps`].
pub fn read_papers(
    name: &str,
    source: Source<'_>,
    format: &TableFormat,
    called: &BTreeMap<String, String>,
) -> Result<Vec<Papers>> {
    papers(name, source, format, called)?.sound()
}

/// The same with each serial once, a serial that stands twice told with the rest.
///
/// # Errors
/// Those of [`read_papers`], and `warranty.papers_twice`.
pub(crate) fn read_filed(
    name: &str,
    source: Source<'_>,
    format: &TableFormat,
    called: &BTreeMap<String, String>,
) -> Result<Vec<Papers>> {
    let mut read = papers(name, source, format, called)?;
    read.problems.extend(twice(&read.list));
    // As the rows stand in the file.
    read.problems.sort_by_key(|p| p.place.line);
    read.sound()
}

fn papers(
    name: &str,
    source: Source<'_>,
    format: &TableFormat,
    called: &BTreeMap<String, String>,
) -> Result<Read<Papers>> {
    let (table, at) = Headings::open(name, source, format, &PAPERS, called)?;
    rows(table, &at, format, |row| Papers {
        serial: row.text("serial"),
        delivered_on: row.day("delivered_on"),
        evidence: row.list("evidence"),
        filed_on: row.day("filed_on"),
        paid: row.number("paid"),
        file: name.to_owned(),
        line: row.table.line(),
    })
}

/// Rows of a table, and every fault of all of them.
struct Read<T> {
    list: Vec<T>,
    problems: Vec<Problem>,
}

impl<T> Read<T> {
    fn sound(self) -> Result<Vec<T>> {
        if self.problems.is_empty() { Ok(self.list) } else { Err(Error::many(Kind::Input, self.problems)) }
    }
}

fn rows<T>(
    mut table: Table<'_>,
    at: &Headings,
    format: &TableFormat,
    read: impl Fn(&mut Row<'_, '_>) -> T,
) -> Result<Read<T>> {
    let (mut list, mut problems) = (Vec::new(), Vec::new());
    loop {
        match table.advance() {
            Ok(true) => {}
            Ok(false) => break,
            Err(end) => {
                let before = Some(problems).filter(|p| !p.is_empty()).map(|p| Error::many(Kind::Input, p));
                return Err(Error::gathered(before.into_iter().chain([end.clone()])).unwrap_or(end));
            }
        }
        let (width, columns) = (table.width(), table.columns().len());
        if width < columns || (columns..width).any(|c| table.cell(c) != Cell::Blank) {
            let problem = Problem::new("warranty.row_cells", "the row has too few or too many cells");
            let expected = format!("{}, one for each of the columns", counted(columns as u64, "cell"));
            problems.push(problem.at(table.place(None)).got(width).expected(expected));
            continue;
        }
        let mut row = Row { table: &table, at, format, problems: Vec::new() };
        list.push(read(&mut row));
        problems.append(&mut row.problems);
    }
    if list.is_empty() && problems.is_empty() {
        let problem = Problem::new("warranty.no_rows", "the table is empty: it has no records below its header");
        problems.push(problem.at(table.place(None)).expected("at least one row"));
    }
    Ok(Read { list, problems })
}

struct Row<'r, 't> {
    table: &'r Table<'t>,
    at: &'r Headings,
    format: &'r TableFormat,
    problems: Vec<Problem>,
}

impl Row<'_, '_> {
    fn cell(&self, heading: &str) -> (Option<usize>, Cell<'_>) {
        let column = self.at.get(heading);
        (column, column.map_or(Cell::Blank, |c| self.table.cell(c)))
    }

    fn wrong(&mut self, slug: &'static str, column: Option<usize>, what: String, expected: &str) {
        let got = column.map_or_else(String::new, |c| self.table.written(c));
        let problem = Problem::new(slug, what).at(self.table.place(column)).got(got).expected(expected);
        self.problems.push(problem);
    }

    fn text(&mut self, heading: &str) -> String {
        self.cell(heading).1.text().trim().to_owned()
    }

    /// Words with semicolons between.
    fn list(&mut self, heading: &str) -> Vec<String> {
        let mut list: Vec<String> = Vec::new();
        for word in self.text(heading).split(';').map(str::trim).filter(|w| !w.is_empty()) {
            if !list.iter().any(|w| w == word) {
                list.push(word.to_owned());
            }
        }
        list
    }

    fn number(&mut self, heading: &str) -> Option<f64> {
        let (column, cell) = self.cell(heading);
        match cell.number(self.format.numbers) {
            Ok(value) => value,
            Err(fault) => {
                let what = format!("the cell is not usable as a number: {fault}");
                let expected = "a finite number in the declared convention, or a blank";
                self.wrong("warranty.number_unreadable", column, what, expected);
                None
            }
        }
    }

    fn whole(&mut self, heading: &str) -> Option<u64> {
        let number = self.number(heading)?;
        if number >= 0.0 && number == number.floor() && number < 1e15 {
            return Some(number as u64);
        }
        let column = self.cell(heading).0;
        let what = "the strikes are not a whole number".to_owned();
        self.wrong("warranty.strikes_not_whole", column, what, "a whole number of at least 0, or a blank");
        None
    }

    fn day(&mut self, heading: &str) -> Option<NaiveDate> {
        let (column, cell) = self.cell(heading);
        match cell.date(self.format.dates) {
            Ok(day) => day,
            Err(fault) => {
                let what = format!("the cell is not usable as a day: {fault}");
                self.wrong("warranty.day_unreadable", column, what, "a day in the declared order, or a blank");
                None
            }
        }
    }

    fn ending(&mut self) -> Ending {
        let text = self.text("ending");
        if text.is_empty() {
            return Ending::Unknown;
        }
        Ending::parse(&text).unwrap_or_else(|| {
            let words: Vec<&str> = Ending::ALL.iter().map(|e| e.as_str()).collect();
            let column = self.cell("ending").0;
            self.wrong(
                "warranty.ending_word",
                column,
                "not an ending".to_owned(),
                &format!("one of {}", words.join(", ")),
            );
            Ending::Unknown
        })
    }
}
