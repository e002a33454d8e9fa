//! The tables of a study that people open in a spreadsheet.

use super::output::TracedLife;
use super::overdue::OverdueLists;
use crate::base::spreadsheet::{Cell, Sheet, whole};
use crate::records::{Finding, Outcome};

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
    let mut table = Sheet::new(&["file", "row", "line", "column", "value", "rule", "outcome", "serial", "sentence"]);
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
    table.finish()
}

/// `overdue.csv`: the three lists one after the other, told apart by their first column.
pub(super) fn overdue_csv(lists: &OverdueLists) -> String {
    let mut table = Sheet::new(&[
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
        "stops_by",
        "why",
        "file",
        "line",
    ]);
    let number = |x: Option<f64>| x.map_or(Cell::Blank, Cell::Number);
    let yes = |b: bool| Cell::Text(if b { "yes" } else { "no" });
    for row in lists.rows() {
        let [lamp_class, site, screen, serial] = row.who;
        let read_on = row.read_on.map(|d| d.to_string()).unwrap_or_default();
        let stops_by = row.soon.and_then(|s| s.stops_by).map(|d| d.to_string()).unwrap_or_default();
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
            number(row.soon.map(|s| s.expected_hours_at_visit)),
            row.soon.map_or(Cell::Blank, |s| Cell::Whole(s.days_left)),
            row.soon.map_or(Cell::Blank, |s| yes(s.before_next_visit)),
            row.soon.map_or(Cell::Blank, |s| yes(s.within_lead_time)),
            Cell::Text(&stops_by),
            Cell::Text(row.why),
            Cell::Text(row.file),
            whole(row.line),
        ]);
    }
    table.finish()
}

/// `lives.csv`: every life with the rows it was read from; a life watched in several stretches has them all in one cell.
pub(super) fn lives_csv(lives: &[TracedLife]) -> String {
    let mut table = Sheet::new(&[
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
    table.finish()
}
