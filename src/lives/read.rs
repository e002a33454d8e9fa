//! Plain tables of lives: columns `low`, `high` and, where wanted, `entry`, `count`, `group`.

use std::collections::BTreeMap;

use super::rows::Rows;
use super::tally::Group;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::counted;
use crate::records::{NumberFault, NumberFormat, Source, Table, TableFormat};

/// Columns that a table of lives may have.
const COLUMNS: [&str; 5] = ["low", "high", "entry", "count", "group"];

/// Reads a table of lives: `low` and `high`, and `entry`, `count`, `group` where the table has them.
///
/// A blank `high` is infinite: the row is right-censored at `low`. A blank `entry` is 0, a blank `count` is 1. `group`
/// is text as it stands: `0012`, `12`, `NA` and a blank are four groups, numbered in order of first meeting; each becomes
/// the stratum of a [`Group`]. Other columns are left alone, unless one looks like a slip in a name that is missing. What
/// the values must be for a row to be a life, [`super::Tally::from_rows`] checks.
///
/// # Arguments
/// `name` names the table in errors; `format` declares how its numbers are written.
///
/// # Errors
/// Every bad row at once, each with row, line, column and value: `lives.number_unreadable` for text, `nan`, `inf` or an
/// overflow in a number column, `lives.number_two_readings` for a number that reads two ways as no thousands separator is
/// declared, `lives.low_blank`, `lives.row_cells` for a row with too few or too many cells, `lives.count_not_whole`,
/// `lives.group_unreadable`. `lives.column_misspelt`; `lives.no_rows`; and those of [`Table::open`] and [`Table::find`].
///
/// # Examples
/// ```
/// use relamp::lives::{Tally, read_table};
/// use relamp::records::{Source, TableFormat};
/// let rows = read_table("lives.csv", Source::Bytes(b"low,high\n900,900\n1500,\n"), &TableFormat::default())?;
/// let (tally, _) = Tally::from_rows(&rows)?;
/// assert_eq!((tally.lamps(), tally.failures()), (2, 1));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn read_table(name: &str, source: Source<'_>, format: &TableFormat) -> Result<Rows> {
    let mut table = Table::open(name, source, format)?;
    let columns = Columns::find(&table)?;
    let mut rows = Rows::default();
    let (mut entries, mut counts, mut group) = (Vec::new(), Vec::new(), Vec::new());
    let mut groups = Groups::default();
    let mut problems: Vec<Problem> = Vec::new();
    while table.advance()? {
        let found = problems.len();
        let cells = Cells { table: &table, numbers: format.numbers };
        if !cells.fit() {
            let what = "the row has too few or too many cells";
            let expected = format!("{}, one for each of the columns", counted(table.columns().len() as u64, "cell"));
            problems.push(
                Problem::new("lives.row_cells", what).at(table.place(None)).got(table.width()).expected(expected),
            );
            continue;
        }
        let low = cells.number(columns.low, &mut problems);
        if low.is_none() && problems.len() == found {
            let problem = Problem::new("lives.low_blank", "a row has no low").at(table.place(Some(columns.low)));
            problems.push(problem.expected("an age in hours; 0 with a high for a row that failed before it"));
        }
        let high = cells.number(columns.high, &mut problems);
        let entry = columns.entry.and_then(|c| cells.number(c, &mut problems));
        let count = columns.count.and_then(|c| cells.count(c, &mut problems));
        let index = columns.group.map_or(0, |c| cells.group(c, &mut groups, &mut problems));
        if problems.len() > found {
            continue;
        }
        rows.low.push(low.unwrap_or(0.0));
        rows.high.push(high.unwrap_or(f64::INFINITY));
        entries.push(entry.unwrap_or(0.0));
        counts.push(count.unwrap_or(1));
        group.push(index);
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    if table.row() == 0 {
        let problem = Problem::new("lives.no_rows", "the table is empty: it has no records below its header");
        return Err(Error::new(Kind::Input, problem.at(table.place(None)).expected("at least one row")));
    }
    rows.entry = columns.entry.map(|_| entries);
    rows.count = columns.count.map(|_| counts);
    rows.group = columns.group.map(|_| group);
    rows.groups = groups.list;
    Ok(rows)
}

/// Groups in order of first meeting.
#[derive(Default)]
struct Groups {
    index: BTreeMap<String, u32>,
    list: Vec<Group>,
}

struct Columns {
    low: usize,
    high: usize,
    entry: Option<usize>,
    count: Option<usize>,
    group: Option<usize>,
}

impl Columns {
    fn find(table: &Table<'_>) -> Result<Self> {
        let mut problems: Vec<Problem> = Vec::new();
        let mut find = |name: &str, needed: bool| {
            if !needed && !table.columns().iter().any(|c| c == name) {
                return None;
            }
            match table.find(name) {
                Ok(i) => Some(i),
                Err(e) => {
                    problems.extend_from_slice(e.problems());
                    None
                }
            }
        };
        let (low, high) = (find("low", true), find("high", true));
        let (entry, count, group) = (find("entry", false), find("count", false), find("group", false));
        // A slip in an optional name would silently drop the column.
        for (i, column) in table.columns().iter().enumerate() {
            let stranger = !COLUMNS.contains(&column.as_str());
            let missing = COLUMNS.iter().skip(2).filter(|name| !table.columns().iter().any(|c| c == *name));
            if stranger && let Some(meant) = missing.into_iter().find(|name| Table::near(column, name)) {
                let problem = Problem::new("lives.column_misspelt", "the name of a column looks like a slip");
                let place = table.place(Some(i)).line(1);
                problems.push(problem.at(place).got(column).expected(format!("{meant}, or a name less like it")));
            }
        }
        match (low, high) {
            (Some(low), Some(high)) if problems.is_empty() => Ok(Self { low, high, entry, count, group }),
            _ => Err(Error::many(Kind::Input, problems)),
        }
    }
}

struct Cells<'r, 't> {
    table: &'r Table<'t>,
    numbers: NumberFormat,
}

impl Cells<'_, '_> {
    /// As many cells as columns; blank ones past the end do no harm.
    fn fit(&self) -> bool {
        let (width, columns) = (self.table.width(), self.table.columns().len());
        width >= columns && (columns..width).all(|c| self.table.cell(c) == crate::records::Cell::Blank)
    }

    fn number(&self, column: usize, problems: &mut Vec<Problem>) -> Option<f64> {
        let cell = self.table.cell(column);
        match cell.number(self.numbers) {
            Ok(value) => value,
            Err(fault) => {
                let slug = match fault {
                    NumberFault::TwoReadings(..) => "lives.number_two_readings",
                    _ => "lives.number_unreadable",
                };
                let problem = Problem::new(slug, format!("the cell is not usable as a number: {fault}"));
                let problem = problem.at(self.table.place(Some(column))).got(cell.text());
                problems.push(problem.expected("a finite number in the declared convention, or a blank"));
                None
            }
        }
    }

    fn count(&self, column: usize, problems: &mut Vec<Problem>) -> Option<u64> {
        let count = self.number(column, problems)?;
        let whole = Rows::whole_counts(&[count]);
        if let Err(e) = &whole {
            problems.extend(e.problems().iter().map(|p| p.clone().at(self.table.place(Some(column)))));
        }
        whole.ok()?.first().copied()
    }

    fn group(&self, column: usize, known: &mut Groups, problems: &mut Vec<Problem>) -> u32 {
        let cell = self.table.cell(column);
        if let crate::records::Cell::Bytes(_) = cell {
            let problem = Problem::new("lives.group_unreadable", "the cell is not text in the declared encoding");
            problems.push(problem.at(self.table.place(Some(column))).got(cell.text()));
            return 0;
        }
        let text = cell.text();
        if let Some(&index) = known.index.get(&*text) {
            return index;
        }
        let index = known.list.len() as u32;
        known.index.insert(text.to_string(), index);
        known.list.push(Group { stratum: text.into_owned(), ..Group::default() });
        index
    }
}
