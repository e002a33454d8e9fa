//! Rows under judgement: what a log's row says, what became of it, and the notes made on it.

use chrono::{Datelike, NaiveDate};

use super::index::{Index, List};
use super::intern::{Pairs, Words};
use super::serials::Serials;
use super::written::Written;
use super::{Counts, Disputed, Ending, Finding, Ledger, LogFormat, Outcome, Spell, Word};
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
    Supplier,
    Batch,
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
            Field::Supplier => c.supplier.as_deref().unwrap_or(""),
            Field::Batch => c.batch.as_deref().unwrap_or(""),
            Field::Row => "",
        }
    }
}

/// Hours of so many days from fitting to removal, with a day's grace for the days at both ends.
pub(super) fn most_hours(days: i64) -> f64 {
    24.0 * (days + 1) as f64
}

/// What a row says of a spell, but for its texts.
#[derive(Clone, Debug)]
pub(crate) struct Facts {
    pub(crate) fitted_on: NaiveDate,
    pub(crate) removed_on: Option<NaiveDate>,
    pub(crate) read_on: NaiveDate,
    pub(crate) fitted_hours: f64,
    pub(crate) entry_hours: f64,
    pub(crate) low_hours: f64,
    pub(crate) end_hours: f64,
    pub(crate) strikes: Option<u64>,
    pub(crate) ending: Ending,
}

/// A row whose cells could be read. Texts are numbers in [`Texts`], so that a million rows stay small.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// What the row says; trusted only once every rule has passed it.
    pub(crate) spell: Facts,
    /// Where the row stands in its log, to find its cells as written.
    pub(crate) position: u64,
    /// Index of the log.
    pub(crate) log: u32,
    /// Data record in the log.
    pub(crate) number: u32,
    /// Physical line; 0 for tables.
    pub(crate) line: u32,
    pub(crate) serial: u32,
    /// Lamp class, by its study name.
    pub(crate) class: u32,
    /// Number of the screen, site included.
    pub(crate) screen: u32,
    pub(crate) supplier: u32,
    pub(crate) batch: u32,
    pub(crate) reason: u32,
    /// Whether the age at which the records began to watch the lamp is known.
    pub(crate) entry_known: bool,
    /// Whether screen and days can be trusted, so that the row says something of its neighbours.
    pub(crate) placed: bool,
    /// What became of the row.
    pub(crate) outcome: Outcome,
}

/// The texts of rows, each kept once.
#[derive(Debug, Default)]
pub(crate) struct Texts {
    pub(crate) serials: Serials,
    pub(crate) classes: Words,
    pub(crate) sites: Words,
    pub(crate) screens: Words,
    /// Site and screen of each place.
    pub(crate) places: Pairs,
    pub(crate) suppliers: Words,
    pub(crate) batches: Words,
    pub(crate) reasons: Words,
}

impl Row {
    /// A row that says nothing.
    pub(crate) fn blank() -> Self {
        let day = NaiveDate::default();
        let (fitted_on, read_on, removed_on) = (day, day, None);
        let (fitted_hours, entry_hours, low_hours, end_hours) = (0.0, 0.0, 0.0, 0.0);
        let (strikes, ending) = (None, Ending::Unknown);
        let spell =
            Facts { fitted_on, removed_on, read_on, fitted_hours, entry_hours, low_hours, end_hours, strikes, ending };
        let (position, log, number, line, serial, class, screen) = (0, 0, 0, 0, 0, 0, 0);
        let (supplier, batch, reason, entry_known, placed, outcome) = (0, 0, 0, true, false, Outcome::SetAside);
        Self {
            spell,
            position,
            log,
            number,
            line,
            serial,
            class,
            screen,
            supplier,
            batch,
            reason,
            entry_known,
            placed,
            outcome,
        }
    }

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

    /// More hours than there were from fitting to removal.
    pub(crate) fn over_the_calendar(&self) -> bool {
        let s = &self.spell;
        let years = i64::from(s.read_on.year()) - i64::from(s.fitted_on.year());
        let days = i64::from(s.read_on.ordinal()) - i64::from(s.fitted_on.ordinal());
        let over = |days: i64| self.burned() > most_hours(days);
        // Leap days only add to this count, so most rows need no exact one.
        let under = years >= 0 && !over(365 * years + days);
        !under && over(self.days())
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
    pub(super) fn odd(&self, exported_on: NaiveDate) -> bool {
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
    pub(crate) list: List,
    pub(crate) formats: Vec<&'a LogFormat>,
    /// Cells of each log as written.
    pub(crate) written: Vec<Written<'a>>,
    pub(crate) texts: Texts,
    /// Screen and day of fitting of each row, for [`Rows::index`].
    pub(super) keys: Keys,
    /// Rows of each serial, and of each screen; filled by [`Rows::index`].
    pub(crate) of_serial: Index,
    pub(crate) of_screen: Index,
    /// Rows that rules on single rows must look at.
    pub(crate) odd: Vec<usize>,
    /// Rows without a removal.
    pub(crate) open: Vec<usize>,
    /// Rows fitted with hours on the meter.
    pub(crate) with_hours: Vec<usize>,
    /// Rows no longer in use.
    pub(super) unused: Vec<usize>,
    notes: Vec<Note>,
    pub(super) counts: Vec<Counts>,
    /// With the log, the row, and whether the row is in use.
    disputed: Vec<(u32, u64, bool, Disputed)>,
}

/// What rows are grouped and sorted by, a column each.
#[derive(Debug, Default)]
pub(crate) struct Keys {
    pub(crate) screen: Vec<u32>,
    pub(crate) fitted_on: Vec<NaiveDate>,
}

/// What is left once every rule is done.
pub(crate) struct Finished {
    pub(crate) ledger: Ledger,
    pub(crate) disputed: Vec<Disputed>,
    /// Rows set aside, as problems; only where they are asked for.
    pub(crate) problems: Vec<Problem>,
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
            list: List::default(),
            written: formats.iter().map(|_| Written::None).collect(),
            formats,
            texts: Texts::default(),
            keys: Keys::default(),
            of_serial: Index::default(),
            of_screen: Index::default(),
            odd: Vec::new(),
            open: Vec::new(),
            with_hours: Vec::new(),
            unused: Vec::new(),
            notes: Vec::new(),
            counts,
            disputed: Vec::new(),
        }
    }

    /// The serial of a row.
    pub(crate) fn serial(&self, row: &Row) -> &str {
        self.texts.serials.word(row.serial).map_or("", |w| w)
    }

    /// The site of a row.
    pub(crate) fn site(&self, row: &Row) -> &str {
        self.texts.place(row).0.map_or("", |w| w)
    }

    /// The screen of a row, within its site.
    pub(crate) fn screen(&self, row: &Row) -> &str {
        self.texts.place(row).1.map_or("", |w| w)
    }

    /// The supplier of a row.
    pub(crate) fn supplier(&self, row: &Row) -> &str {
        self.texts.suppliers.word(row.supplier).map_or("", |w| w)
    }

    /// The batch of a row.
    pub(crate) fn batch(&self, row: &Row) -> &str {
        self.texts.batches.word(row.batch).map_or("", |w| w)
    }

    /// The reason of removal of a row.
    pub(crate) fn reason(&self, row: &Row) -> &str {
        self.texts.reasons.word(row.reason).map_or("", |w| w)
    }

    /// Notes a fault of a row and gives it that outcome; a used row stays used.
    pub(crate) fn note(&mut self, index: usize, outcome: Outcome, fault: Fault) {
        let Some(row) = self.list.get_mut(index) else { return };
        if outcome != Outcome::Used && outcome != row.outcome {
            if row.outcome == Outcome::Used {
                self.unused.push(index);
            }
            if let Some(counts) = self.counts.get_mut(row.log as usize) {
                *counts.of(row.outcome) -= 1;
                *counts.of(outcome) += 1;
            }
            row.outcome = outcome;
        }
        let (log, number, line, serial) = (row.log, u64::from(row.number), u64::from(row.line), row.serial);
        let serial = self.texts.serials.word(serial).map_or_else(String::new, Word::to_string);
        self.push(At { log, number, line, serial }, Some(index), outcome, fault);
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

    /// Notes what is doubtful of a log as a whole.
    pub(crate) fn doubt_log(&mut self, log: u32, fault: Fault) {
        self.push(At { log, number: 0, line: 0, serial: String::new() }, None, Outcome::Used, fault);
    }

    /// Notes of one rule on a log.
    pub(crate) fn noted(&self, log: u32, rule: &str) -> usize {
        self.notes.iter().filter(|n| n.log == log && n.rule == rule).count()
    }

    /// The notes of one rule on a log.
    pub(crate) fn findings_noted(&self, log: u32, rule: &'static str) -> impl Iterator<Item = &Finding> {
        self.notes.iter().filter(move |n| n.log == log && n.rule == rule).map(|n| &n.finding)
    }

    /// Column and value of the notes of one rule on a log.
    pub(crate) fn cells_noted(&self, log: u32, rule: &'static str) -> impl Iterator<Item = (&str, &str)> {
        self.findings_noted(log, rule).map(|f| (f.column.as_str(), f.value.as_str()))
    }

    fn push(&mut self, at: At, row: Option<usize>, outcome: Outcome, fault: Fault) {
        let At { log, number, line, serial } = at;
        let Some(format) = self.formats.get(log as usize) else { return };
        let rule = fault.rule;
        let kept = || {
            let row = self.list.get(row?).filter(|_| fault.field != Field::Row)?;
            Some(self.written.get(log as usize)?.cell(row.position, fault.field))
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

    /// Rows in use, by log, row.
    pub(crate) fn used(&self) -> impl Iterator<Item = (usize, &Row)> {
        self.list.iter().enumerate().filter(|(_, r)| r.used())
    }

    /// Finds the rows of each serial and each screen, once all are taken.
    pub(crate) fn index(&mut self) {
        let (rows, keys, serials) = (&self.list, &self.keys, self.texts.serials.of_rows());
        (self.of_serial, self.of_screen) = rayon::join(
            || Index::new(rows, serials, &keys.fitted_on),
            || Index::new(rows, &keys.screen, &keys.fitted_on),
        );
    }

    /// Used rows of each serial that has several rows.
    pub(crate) fn lamps_with_several(&self) -> impl Iterator<Item = Vec<usize>> + '_ {
        let used = |i: &usize| self.list.get(*i).is_some_and(Row::used);
        self.of_serial.several().map(move |g| g.iter().map(|&i| i as usize).filter(used).collect())
    }

    /// The ledger, the lamps in dispute and, if asked for, the rows set aside as problems, once every rule is done.
    pub(crate) fn finish(&mut self, problems: bool) -> Finished {
        let mut disputed = std::mem::take(&mut self.disputed);
        let mut notes = std::mem::take(&mut self.notes);
        let mut doubted = vec![false; self.list.len()];
        let undated = notes.iter().filter(|n| n.rule == READING_UNDATED).filter_map(|n| n.row);
        let undated: std::collections::BTreeSet<usize> = undated.collect();
        for note in &mut notes {
            let Some(index) = note.row else { continue };
            let Some(row) = self.list.get(index) else { continue };
            // What sets a row aside speaks for it, not a smaller doubt noted before.
            let aside = note.finding.outcome == Outcome::SetAside && row.open();
            let due = row.used() && USED_BUT_DUE.contains(&note.rule);
            if (aside || due) && doubted.get_mut(index).is_some_and(|seen| !std::mem::replace(seen, true)) {
                // The day of the export only stood in for a day that nobody wrote down.
                let read_on = (!undated.contains(&index)).then_some(row.spell.read_on);
                disputed.push((row.log, u64::from(row.number), due, self.disputed_from(row, note.rule, read_on)));
            }
            // A row first noted as doubtful may have been set aside by a later rule.
            if note.finding.outcome == Outcome::Used {
                note.finding.outcome = row.outcome;
            }
        }
        let open = self.open.iter().filter(|_| !disputed.is_empty()).filter_map(|&i| self.list.get(i));
        let running: std::collections::BTreeSet<&str> =
            open.filter(|r| r.used() && r.spell.ending == Ending::Running).map(|r| self.serial(r)).collect();
        disputed.retain(|(_, _, used, d)| *used || !running.contains(&*d.serial));
        disputed.sort_by_key(|d| (d.0, d.1));
        notes.sort_by(|a, b| (a.log, a.finding.row, &a.finding.rule).cmp(&(b.log, b.finding.row, &b.finding.rule)));
        let mut total = Counts::default();
        for c in &self.counts {
            total.rows += c.rows;
            total.used += c.used;
            total.merged += c.merged;
            total.set_aside += c.set_aside;
        }
        let by_file = self.formats.iter().map(|f| f.file.clone()).zip(self.counts.iter().copied()).collect();
        let aside = notes.iter().filter(|n| problems && n.finding.outcome == Outcome::SetAside);
        let problems = aside.map(problem).collect();
        let findings = notes.into_iter().map(|n| n.finding).collect();
        let ledger = Ledger { findings, counts: total, by_file };
        Finished { ledger, disputed: disputed.into_iter().map(|d| d.3).collect(), problems }
    }

    fn disputed_from(&self, row: &Row, rule: &'static str, read_on: Option<NaiveDate>) -> Disputed {
        let s = self.texts.spell(row, &Word::NONE);
        let file = self.formats.get(row.log as usize).map_or("", |f| &f.file);
        Disputed {
            file: Word::from(file),
            line: if s.line > 0 { s.line } else { u64::from(row.number) },
            serial: s.serial.clone(),
            lamp_class: s.lamp_class.clone(),
            site: s.site.clone(),
            screen: s.screen.clone(),
            read_on,
            hours: Some(s.end_hours),
            rule: rule.to_owned(),
        }
    }
}

impl Disputed {
    /// Whether the row is in use all the same, so that nothing disputes its hours as read.
    pub(crate) fn row_in_use(&self) -> bool {
        Self::due_by(&self.rule)
    }

    /// Whether a rule makes a lamp due whose row stays in use.
    pub(crate) fn due_by(rule: &str) -> bool {
        USED_BUT_DUE.contains(&rule)
    }

    /// Whether nobody knows the day of the reading.
    pub(crate) fn undated(&self) -> bool {
        self.read_on.is_none()
    }
}

impl Texts {
    /// Site and screen of a row.
    fn place(&self, row: &Row) -> (Option<&Word>, Option<&Word>) {
        let place = self.places.list.get(row.screen as usize);
        (place.and_then(|p| self.sites.word(p.0)), place.and_then(|p| self.screens.word(p.1)))
    }

    /// A row as a spell.
    pub(crate) fn spell<'a>(&'a self, row: &Row, file: &'a Word) -> Spell<'a> {
        let (site, screen) = self.place(row);
        let s = &row.spell;
        Spell {
            file,
            line: u64::from(row.line),
            serial: self.serials.text(row.serial),
            lamp_class: self.classes.text(row.class),
            site: site.unwrap_or(&Word::NONE),
            screen: screen.unwrap_or(&Word::NONE),
            supplier: self.suppliers.text(row.supplier),
            batch: self.batches.text(row.batch),
            fitted_on: s.fitted_on,
            removed_on: s.removed_on,
            read_on: s.read_on,
            fitted_hours: s.fitted_hours,
            entry_hours: s.entry_hours,
            low_hours: s.low_hours,
            end_hours: s.end_hours,
            strikes: s.strikes,
            reason: self.reasons.text(row.reason),
            ending: s.ending,
        }
    }

    /// Gives back what only serves to find numbers.
    pub(crate) fn close(&mut self) {
        self.serials.close();
        self.places.close();
        let Self { classes, sites, screens, suppliers, batches, reasons, .. } = self;
        [classes, sites, screens, suppliers, batches, reasons].into_iter().for_each(Words::close);
    }
}

impl Counts {
    /// How many rows had an outcome.
    fn of(&mut self, outcome: Outcome) -> &mut u64 {
        match outcome {
            Outcome::Used | Outcome::Answered => &mut self.used,
            Outcome::Merged => &mut self.merged,
            Outcome::SetAside => &mut self.set_aside,
        }
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
