//! Rows under judgement: what a log's row says, what became of it, and the notes made on it.

use chrono::NaiveDate;

use super::intern::Words;
use super::written::{Places, Written};
use super::{Counts, Disputed, Ending, Finding, Ledger, LogFormat, Outcome, Spell};
use crate::base::error::{Place, Problem};

/// Fewest strikes that say anything about their rate.
const ENOUGH_STRIKES: u64 = 20;

/// Rules of running lamps whose row is in use though nobody can say how old they are today: they are due.
const USED_BUT_DUE: [&str; 2] = ["records.absent_from_newest", READING_UNDATED];
/// Rule of a running lamp whose reading has no day.
pub(crate) const READING_UNDATED: &str = "records.reading_undated";

/// A field of a log, to name its column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Field {
    Serial,
    Class,
    Site,
    Screen,
    FittedOn,
    RemovedOn,
    ReadOn,
    Reason,
    Hours,
    AtFitting,
    FirstSeen,
    LastGood,
    Strikes,
    Row,
}

impl Field {
    /// Every field that is one cell, in the order of their numbers.
    pub(crate) const CELLS: [Field; 13] = [
        Field::Serial,
        Field::Class,
        Field::Site,
        Field::Screen,
        Field::FittedOn,
        Field::RemovedOn,
        Field::ReadOn,
        Field::Reason,
        Field::Hours,
        Field::AtFitting,
        Field::FirstSeen,
        Field::LastGood,
        Field::Strikes,
    ];

    /// The column of a log that holds the field; empty where it has none.
    pub(crate) fn column(self, format: &LogFormat) -> &str {
        let c = &format.columns;
        match self {
            Field::Serial => &c.serial,
            Field::Class => &c.lamp_class,
            Field::Site => &c.site,
            Field::Screen => &c.screen,
            Field::FittedOn => &c.fitted_on,
            Field::RemovedOn => &c.removed_on,
            Field::Reason => &c.reason,
            Field::Hours => &c.hours,
            Field::ReadOn => c.read_on.as_deref().unwrap_or(""),
            Field::AtFitting => c.hours_at_fitting.as_deref().unwrap_or(""),
            Field::FirstSeen => c.hours_first_seen.as_deref().unwrap_or(""),
            Field::LastGood => c.hours_last_good.as_deref().unwrap_or(""),
            Field::Strikes => c.strikes.as_deref().unwrap_or(""),
            Field::Row => "",
        }
    }
}

/// A row whose cells could be read.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// What the row says; trusted only once every rule has passed it.
    pub(crate) spell: Spell,
    /// Index of the log.
    pub(crate) log: u32,
    /// Data record in the log.
    pub(crate) number: u64,
    /// Number of the serial.
    pub(crate) serial: u32,
    /// Number of the screen, site included.
    pub(crate) screen: u32,
    /// Whether the age at which the records began to watch the lamp is known.
    pub(crate) entry_known: bool,
    /// Where its cells are kept as written.
    pub(crate) written: u64,
    /// Whether screen and days can be trusted, so that the row says something of its neighbours.
    pub(crate) placed: bool,
    /// What became of the row.
    pub(crate) outcome: Outcome,
}

impl Row {
    /// Whether the log shows no removal.
    pub(crate) fn open(&self) -> bool {
        self.spell.removed_on.is_none()
    }

    pub(crate) fn used(&self) -> bool {
        self.outcome == Outcome::Used
    }

    /// Hours burned in the spell as written.
    pub(crate) fn burned(&self) -> f64 {
        self.spell.end_hours - self.spell.fitted_hours
    }

    /// Days from fitting to removal or last reading.
    pub(crate) fn days(&self) -> i64 {
        (self.spell.read_on - self.spell.fitted_on).num_days()
    }

    /// An hour cell below 0.
    pub(crate) fn negative(&self) -> bool {
        let s = &self.spell;
        [s.end_hours, s.fitted_hours, s.entry_hours, s.low_hours].iter().any(|&h| h < 0.0)
    }

    /// More hours than there were from fitting to removal, with a day's grace for the days at both ends.
    pub(crate) fn over_the_calendar(&self) -> bool {
        self.burned() > 24.0 * (self.days() + 1) as f64
    }

    /// Hours below an earlier reading of the same row.
    pub(crate) fn backward(&self) -> bool {
        let s = &self.spell;
        s.end_hours < s.fitted_hours
            || s.end_hours < s.entry_hours
            || s.end_hours < s.low_hours
            || s.entry_hours < s.fitted_hours
            || s.low_hours < s.fitted_hours
    }

    /// More strikes than hours burned, and enough of them to say anything.
    pub(crate) fn struck_often(&self) -> bool {
        let strikes = self.spell.strikes.unwrap_or(0);
        strikes >= ENOUGH_STRIKES && strikes as f64 > self.burned().max(0.0)
    }

    /// Whether any rule on a single row could have something to say of it.
    fn odd(&self, exported_on: NaiveDate) -> bool {
        let s = &self.spell;
        s.read_on < s.fitted_on
            || s.read_on > exported_on
            || !self.entry_known
            || self.negative()
            || self.backward()
            || self.over_the_calendar()
            || self.struck_often()
    }
}

#[derive(Clone, Debug)]
struct Note {
    log: u32,
    /// Index of the row it is about; none for rows that never became one.
    row: Option<usize>,
    rule: &'static str,
    finding: Finding,
}

/// Rows by a small number, each group in order of fitting.
#[derive(Debug, Default)]
pub(crate) struct Index {
    start: Vec<u32>,
    order: Vec<u32>,
    /// Groups with two rows fitted on one day.
    tied: Vec<u32>,
}

impl Index {
    fn new(rows: &[Row], key: impl Fn(&Row) -> u32) -> Self {
        let keys: Vec<(u32, NaiveDate, u64)> = rows
            .iter()
            // Hours that can be read are finite, so their order by bits is their order by value, negative ones apart.
            .map(|r| (key(r), r.spell.fitted_on, r.spell.fitted_hours.max(0.0).to_bits()))
            .collect();
        let groups = keys.iter().map(|k| k.0 as usize + 1).max().unwrap_or(0);
        let mut start = vec![0_u32; groups + 1];
        for key in &keys {
            if let Some(n) = start.get_mut(key.0 as usize + 1) {
                *n += 1;
            }
        }
        let mut sum = 0;
        for n in &mut start {
            sum += *n;
            *n = sum;
        }
        let mut next = start.clone();
        let mut order = vec![0_u32; keys.len()];
        for (i, key) in keys.iter().enumerate() {
            if let Some(at) = next.get_mut(key.0 as usize) {
                if let Some(slot) = order.get_mut(*at as usize) {
                    *slot = i as u32;
                }
                *at += 1;
            }
        }
        let day = |i: u32| keys.get(i as usize).map(|k| (k.1, k.2));
        let mut tied = Vec::new();
        for (g, ends) in start.windows(2).enumerate() {
            let &[from, to] = ends else { continue };
            let group = order.get_mut(from as usize..to as usize).unwrap_or(&mut []);
            if group.len() > 1 {
                group.sort_by_key(|&i| day(i));
                if group.windows(2).any(|w| matches!(w, [a, b] if day(*a).map(|d| d.0) == day(*b).map(|d| d.0))) {
                    tied.push(g as u32);
                }
            }
        }
        Self { start, order, tied }
    }

    /// Rows of a group, in order of fitting.
    pub(crate) fn group(&self, id: u32) -> &[u32] {
        let at = id as usize;
        match (self.start.get(at), self.start.get(at + 1)) {
            (Some(&from), Some(&to)) => self.order.get(from as usize..to as usize).unwrap_or(&[]),
            _ => &[],
        }
    }

    /// Every group.
    pub(crate) fn groups(&self) -> impl Iterator<Item = &[u32]> {
        (0..self.start.len().saturating_sub(1)).map(|id| self.group(id as u32))
    }

    /// Groups with two rows fitted on one day.
    pub(crate) fn tied(&self) -> impl Iterator<Item = &[u32]> {
        self.tied.iter().map(|&id| self.group(id))
    }
}

/// Where a note belongs.
struct At {
    log: u32,
    number: u64,
    line: u64,
    serial: String,
}

/// All rows of a reading with the notes on them.
#[derive(Debug)]
pub(crate) struct Rows<'a> {
    pub(crate) list: Vec<Row>,
    pub(crate) formats: Vec<&'a LogFormat>,
    /// Cells of each log as written.
    pub(crate) written: Vec<Written<'a>>,
    pub(crate) serials: Words,
    pub(crate) screens: Words,
    /// Rows of each serial, and of each screen; filled by [`Rows::index`].
    pub(crate) of_serial: Index,
    pub(crate) of_screen: Index,
    /// Rows that rules on single rows must look at.
    pub(crate) odd: Vec<usize>,
    /// Rows without a removal.
    pub(crate) open: Vec<usize>,
    /// Rows fitted with hours on the meter.
    pub(crate) with_hours: Vec<usize>,
    notes: Vec<Note>,
    counts: Vec<Counts>,
    /// With the log, the row, and whether the row is in use.
    disputed: Vec<(u32, u64, bool, Disputed)>,
}

/// A row that could not be read, as far as it could.
#[derive(Clone, Debug)]
pub(crate) struct Unread {
    pub(crate) log: u32,
    pub(crate) row: u64,
    pub(crate) line: u64,
    pub(crate) serial: String,
    /// What is known of a lamp that may still burn.
    pub(crate) open: Option<Disputed>,
}

/// One cell, or whole row, that is not as it should be.
#[derive(Clone, Debug)]
pub(crate) struct Fault {
    pub(crate) rule: &'static str,
    pub(crate) field: Field,
    /// The cell as written; none where it is to be looked up among the cells kept.
    pub(crate) value: Option<String>,
    pub(crate) sentence: String,
}

impl Fault {
    /// A fault of a row that is kept: its cell is looked up as written.
    pub(crate) fn new(rule: &'static str, field: Field, sentence: impl Into<String>) -> Self {
        Self { rule, field, value: None, sentence: sentence.into() }
    }

    /// Says what stands in the cell of a row that is not kept.
    pub(crate) fn of(self, value: impl Into<String>) -> Self {
        Self { value: Some(value.into()), ..self }
    }
}

impl<'a> Rows<'a> {
    pub(crate) fn new(formats: Vec<&'a LogFormat>) -> Self {
        let counts = vec![Counts::default(); formats.len()];
        Self {
            list: Vec::new(),
            written: formats.iter().map(|_| Written::Text { bytes: Vec::new(), at: Places::default() }).collect(),
            formats,
            serials: Words::default(),
            screens: Words::default(),
            of_serial: Index::default(),
            of_screen: Index::default(),
            odd: Vec::new(),
            open: Vec::new(),
            with_hours: Vec::new(),
            notes: Vec::new(),
            counts,
            disputed: Vec::new(),
        }
    }

    /// Notes a fault of a row and gives it that outcome; a used row stays used.
    pub(crate) fn note(&mut self, index: usize, outcome: Outcome, fault: Fault) {
        let Some(row) = self.list.get_mut(index) else { return };
        if outcome != Outcome::Used {
            row.outcome = outcome;
        }
        let at = At { log: row.log, number: row.number, line: row.spell.line, serial: row.spell.serial.to_string() };
        self.push(at, Some(index), outcome, fault);
    }

    /// Sets aside a row whose cells could not be read.
    pub(crate) fn set_aside(&mut self, unread: Unread, faults: Vec<Fault>) {
        if let Some(counts) = self.counts.get_mut(unread.log as usize) {
            counts.set_aside += 1;
        }
        if let (Some(mut open), Some(fault)) = (unread.open, faults.first()) {
            fault.rule.clone_into(&mut open.rule);
            self.disputed.push((unread.log, unread.row, false, open));
        }
        for fault in faults {
            let serial = unread.serial.clone();
            let at = At { log: unread.log, number: unread.row, line: unread.line, serial };
            self.push(at, None, Outcome::SetAside, fault);
        }
    }

    fn push(&mut self, at: At, row: Option<usize>, outcome: Outcome, fault: Fault) {
        let At { log, number, line, serial } = at;
        let Some(format) = self.formats.get(log as usize) else { return };
        let rule = fault.rule;
        let kept = || {
            let row = self.list.get(row?).filter(|_| fault.field != Field::Row)?;
            Some(self.written.get(log as usize)?.cell(row.written, fault.field))
        };
        let value = fault.value.or_else(kept).unwrap_or_default();
        let finding = Finding {
            file: format.file.clone(),
            row: number,
            line,
            column: fault.field.column(format).trim().to_owned(),
            value,
            rule: fault.rule.to_owned(),
            outcome,
            serial,
            sentence: fault.sentence,
        };
        self.notes.push(Note { log, row, rule, finding });
    }

    /// Counts a row as read.
    pub(crate) fn count(&mut self, log: u32) {
        if let Some(counts) = self.counts.get_mut(log as usize) {
            counts.rows += 1;
        }
    }

    /// Rows in use, by log, row.
    pub(crate) fn used(&self) -> impl Iterator<Item = (usize, &Row)> {
        self.list.iter().enumerate().filter(|(_, r)| r.used())
    }

    /// Takes a row and gives its index.
    pub(crate) fn add(&mut self, row: Row) -> usize {
        let index = self.list.len();
        let exported = self.formats.get(row.log as usize).map_or(NaiveDate::MAX, |f| f.exported_on);
        if row.odd(exported) {
            self.odd.push(index);
        }
        if row.open() {
            self.open.push(index);
        }
        if row.spell.fitted_hours > 0.0 {
            self.with_hours.push(index);
        }
        self.list.push(row);
        index
    }

    /// Finds the rows of each serial and each screen, once all are taken.
    pub(crate) fn index(&mut self) {
        self.of_serial = Index::new(&self.list, |r| r.serial);
        self.of_screen = Index::new(&self.list, |r| r.screen);
    }

    /// Used rows of each serial that has several rows.
    pub(crate) fn lamps_with_several(&self) -> impl Iterator<Item = Vec<usize>> + '_ {
        let several = self.of_serial.groups().filter(|g| g.len() > 1);
        several.map(|g| g.iter().map(|&i| i as usize).filter(|&i| self.list.get(i).is_some_and(Row::used)).collect())
    }

    /// The rows, the ledger, the lamps in dispute, and the rows set aside as problems, once every rule is done.
    pub(crate) fn finish(mut self) -> (Vec<Row>, Index, Ledger, Vec<Disputed>, Vec<Problem>) {
        for row in &self.list {
            if let Some(counts) = self.counts.get_mut(row.log as usize) {
                match row.outcome {
                    Outcome::Used => counts.used += 1,
                    Outcome::Merged => counts.merged += 1,
                    Outcome::SetAside => counts.set_aside += 1,
                }
            }
        }
        let mut disputed = std::mem::take(&mut self.disputed);
        let mut doubted = vec![false; self.list.len()];
        let undated = self.notes.iter().filter(|n| n.rule == READING_UNDATED).filter_map(|n| n.row);
        let undated: std::collections::BTreeSet<usize> = undated.collect();
        for note in &mut self.notes {
            let Some(index) = note.row else { continue };
            let Some(row) = self.list.get(index) else { continue };
            // What sets a row aside speaks for it, not a smaller doubt noted before.
            let aside = note.finding.outcome == Outcome::SetAside && row.open();
            let due = row.used() && USED_BUT_DUE.contains(&note.rule);
            if (aside || due) && doubted.get_mut(index).is_some_and(|seen| !std::mem::replace(seen, true)) {
                // The day of the export only stood in for a day that nobody wrote down.
                let read_on = (!undated.contains(&index)).then_some(row.spell.read_on);
                disputed.push((row.log, row.number, due, disputed_from(row, note.rule, read_on)));
            }
            // A row first noted as doubtful may have been set aside by a later rule.
            if note.finding.outcome == Outcome::Used {
                note.finding.outcome = row.outcome;
            }
        }
        let open = self.open.iter().filter_map(|&i| self.list.get(i));
        let running: std::collections::BTreeSet<&str> =
            open.filter(|r| r.used() && r.spell.ending == Ending::Running).map(|r| &*r.spell.serial).collect();
        disputed.retain(|(_, _, used, d)| *used || !running.contains(&*d.serial));
        disputed.sort_by_key(|d| (d.0, d.1));
        let mut notes = std::mem::take(&mut self.notes);
        notes.sort_by(|a, b| (a.log, a.finding.row, &a.finding.rule).cmp(&(b.log, b.finding.row, &b.finding.rule)));
        let mut total = Counts::default();
        for c in &self.counts {
            total.rows += c.rows;
            total.used += c.used;
            total.merged += c.merged;
            total.set_aside += c.set_aside;
        }
        let by_file = self.formats.iter().map(|f| f.file.clone()).zip(self.counts).collect();
        let problems = notes.iter().filter(|n| n.finding.outcome == Outcome::SetAside).map(problem).collect();
        let findings = notes.into_iter().map(|n| n.finding).collect();
        let ledger = Ledger { findings, counts: total, by_file };
        (self.list, self.of_serial, ledger, disputed.into_iter().map(|d| d.3).collect(), problems)
    }
}

impl Disputed {
    /// Whether the row is in use all the same, so that nothing disputes its hours as read.
    pub(crate) fn row_in_use(&self) -> bool {
        USED_BUT_DUE.contains(&self.rule.as_str())
    }

    /// Whether nobody knows the day of the reading.
    pub(crate) fn undated(&self) -> bool {
        self.read_on.is_none()
    }
}

fn problem(note: &Note) -> Problem {
    let f = &note.finding;
    let mut place = Place::input(&f.file).row(f.row);
    if f.line > 0 {
        place = place.line(f.line);
    }
    if !f.column.is_empty() {
        place = place.column(&f.column);
    }
    Problem::new(note.rule, &f.sentence).at(place).got(&f.value)
}

fn disputed_from(row: &Row, rule: &'static str, read_on: Option<NaiveDate>) -> Disputed {
    let s = &row.spell;
    Disputed {
        file: s.file.clone(),
        line: if s.line > 0 { s.line } else { row.number },
        serial: s.serial.clone(),
        lamp_class: s.lamp_class.clone(),
        site: s.site.clone(),
        screen: s.screen.clone(),
        read_on,
        hours: Some(s.end_hours),
        rule: rule.to_owned(),
    }
}
