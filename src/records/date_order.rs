//! Dates of a log that are written in another order than the declared one: told once for the log, with that order.
//!
//! Each such cell sets its row aside; hundreds of rows say together what one line of the study file has to say.

use std::collections::BTreeSet;

use super::column_cells::ENOUGH_CELLS;
use super::{DateOrder, LogFormat, date};
use crate::base::error::{Place, Problem};
use crate::base::figure::{counted, fitting, whole};

/// Rule of a log whose dates are written in another order than declared.
pub(super) const DATE_ORDER: &str = "records.date_order";
/// Rule of one cell that is no day in the declared order.
pub(super) const UNREADABLE: &str = "records.date_unreadable";

/// Share of the filled date cells that must be unreadable for a log to be taken for one in another order.
///
/// Our choice, without a source: of days spread over a year 3 in 5 lie past the 12th and so have no month of that number.
const OTHER_ORDER_SHARE: f64 = 0.2;
/// Share of the unreadable date cells that must be days in the other order, and of all filled ones for that order to serve.
///
/// Our choice, without a source: it leaves room for slips among them.
const READ_IN_OTHER_ORDER: f64 = 0.9;

/// One date cell that could not be read.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unread<'f> {
    pub(super) column: &'f str,
    pub(super) row: u64,
    /// 0 for a table in memory.
    pub(super) line: u64,
    pub(super) value: &'f str,
}

/// The order in which the dates of a log are written, where it is not the declared one.
#[derive(Clone, Debug)]
pub(super) struct OtherOrder {
    /// The order, or two where no cell tells them apart.
    orders: Vec<DateOrder>,
    cells: u64,
    /// Column of the first cell.
    pub(super) column: String,
    columns: Vec<String>,
    first: String,
    declared: DateOrder,
    /// Whether other cells are in the declared order alone, so that no order serves all.
    mixed: bool,
    /// Whether the orders stand beside each other, and not one or the other.
    beside: bool,
}

/// The date cells of a log that were read as declared.
#[derive(Clone, Copy, Debug)]
pub(super) struct ReadCells {
    pub(super) count: usize,
    /// Of these, those that are days with day and month exchanged too.
    pub(super) exchanged: usize,
}

impl OtherOrder {
    /// Looks for it among the date cells that could not be read, beside those that were.
    pub(super) fn find<'f>(
        format: &LogFormat,
        unread: impl Iterator<Item = Unread<'f>>,
        cells_read: ReadCells,
    ) -> Option<Self> {
        let declared = format.dates?;
        let unread: Vec<Unread<'f>> = unread.collect();
        let filled = unread.len() + cells_read.count;
        if unread.len() < ENOUGH_CELLS || unread.len() as f64 <= OTHER_ORDER_SHARE * filled as f64 {
            return None;
        }
        let read = |order: DateOrder| unread.iter().filter(|u| date(u.value.trim(), Some(order)).is_ok()).count();
        let counts = DateOrder::ALL.map(|order| (order, if order == declared { 0 } else { read(order) }));
        let most = counts.iter().map(|c| c.1).max()?;
        let enough = |n: usize| n as f64 >= READ_IN_OTHER_ORDER * unread.len() as f64;
        let one = enough(most);
        let others =
            |u: &Unread<'f>| DateOrder::ALL.iter().any(|o| *o != declared && date(u.value.trim(), Some(*o)).is_ok());
        // Two other orders beside each other.
        if !one && !enough(unread.iter().filter(|u| others(u)).count()) {
            return None;
        }
        let named = |c: &&(DateOrder, usize)| if one { c.1 == most } else { c.0 != declared && c.1 > 0 };
        let orders: Vec<DateOrder> = counts.iter().filter(named).map(|c| c.0).collect();
        let swaps = declared != DateOrder::Iso && !orders.contains(&DateOrder::Iso);
        let serves = most + if swaps { cells_read.exchanged } else { 0 };
        let mixed = (serves as f64) < READ_IN_OTHER_ORDER * filled as f64;
        let own: Vec<&Unread<'f>> =
            unread.iter().filter(|u| orders.iter().any(|o| date(u.value.trim(), Some(*o)).is_ok())).collect();
        let first = own.first()?;
        let mut columns: Vec<String> = Vec::new();
        for cell in &own {
            if !columns.iter().any(|c| c == cell.column) {
                columns.push(cell.column.to_owned());
            }
        }
        let place = if first.line > 0 { format!("line {}", first.line) } else { format!("row {}", first.row) };
        Some(Self {
            cells: own.len() as u64,
            column: first.column.to_owned(),
            first: format!("{place}, \"{}\"", first.value.trim()),
            orders,
            columns,
            declared,
            mixed,
            beside: !one,
        })
    }

    /// What the log has against the declared order, told once.
    pub(super) fn sentence(&self) -> String {
        let orders: Vec<String> = self.orders.iter().map(|o| format!("\"{}\"", o.as_str())).collect();
        let orders = orders.join(if self.beside { " and " } else { " or " });
        let remedy = if self.mixed {
            "no order reads all of them: give the rows of each order a log of their own"
        } else {
            &format!("declare dates = {orders}")
        };
        // Only these two read each other's days, up to the 12th.
        let swapped = self.declared != DateOrder::Iso && self.orders.iter().any(|o| *o != DateOrder::Iso);
        let swapped =
            if swapped { "; as declared, days up to the 12th are read with day and month exchanged" } else { "" };
        format!(
            "{} in {} {} written in another date order than declared, {orders} where dates = \"{}\" is declared, the first in \
             {}: {remedy}{swapped}",
            counted(self.cells, "cell"),
            self.columns.join(", "),
            fitting(self.cells, "is", "are"),
            self.declared.as_str(),
            self.first,
        )
    }

    /// The share of the filled cells, as the value of the finding.
    pub(super) fn value(&self, filled: usize) -> String {
        format!("{} of {}", whole(self.cells as f64), counted(filled as u64, "filled date cell"))
    }

    fn holds(&self, text: &str) -> bool {
        self.orders.iter().any(|o| date(text.trim(), Some(*o)).is_ok())
    }
}

/// The same for a log that is refused: one problem in place of those of its cells; gives the rows left to list and how many
/// they are.
pub(super) fn told_once(format: &LogFormat, rows: u64, problems: Vec<Problem>) -> (Option<Problem>, u64, Vec<Problem>) {
    let dates = problems.iter().filter(|p| p.slug == UNREADABLE).map(|p| Unread {
        column: p.place.column.as_deref().unwrap_or_default(),
        row: p.place.row.unwrap_or(0),
        line: p.place.line.unwrap_or(0),
        value: &p.got,
    });
    let none = ReadCells { count: 0, exchanged: 0 };
    let Some(other) = OtherOrder::find(format, dates, none) else { return (None, rows, problems) };
    let (dates, rest): (Vec<Problem>, Vec<Problem>) =
        problems.into_iter().partition(|p| p.slug == UNREADABLE && other.holds(&p.got));
    let told: BTreeSet<Option<u64>> = dates.iter().map(|p| p.place.row).collect();
    let problem = Problem::new(DATE_ORDER, other.sentence()).at(Place::input(&format.file).column(&other.column));
    (Some(problem), rows.saturating_sub(told.len() as u64), rest)
}
