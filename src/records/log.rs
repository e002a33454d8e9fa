//! One lamp log: its columns found, its rows read cell by cell.

use std::borrow::Cow;

use chrono::NaiveDate;
use rayon::prelude::*;

use super::date_order::told_once;
use super::hours::{HoursFault, hours};
use super::merge::Part;
use super::rows::{Facts, Fault, Field, READING_UNDATED, Row, Rows, Unread};
use super::table::{Cell, Source, Table, TableFormat};
use super::unusable::{no_usable_rows, rows_listed};
use super::written::{Places, Written};
use super::{
    BlankAtFitting, ClassNames, DateFault, Disputed, Ending, LogFormat, NumberFault, NumberFormat, Outcome, ReasonMap,
    Word, column_cells, column_map, date, fold, usable_sign,
};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;

/// Undeclared conventions are counted up to here; one is enough to stop, a few hundred show the extent.
const MAX_PROBLEMS: usize = 500;

/// Rows of a part from which the number of all is judged, to make room for them once.
const ENOUGH_ROWS: u64 = 512;

/// Parts of a log for each thread, so that none waits long for the last.
const PARTS_A_THREAD: usize = 4;

/// Share of a log's rows above which an unknown class word is a class of its own rather than a slip. One row among
/// others is a slip in a log of any length.
const CLASS_SHARE: f64 = 0.05;

/// First words of a total row.
const TOTALS: [&str; 8] = ["total", "totals", "grand total", "subtotal", "sum", "summe", "zwischensumme", "gesamt"];

/// Columns of a log by field.
#[derive(Debug)]
pub(super) struct Columns {
    pub(super) serial: usize,
    pub(super) class: usize,
    pub(super) site: usize,
    pub(super) screen: usize,
    pub(super) fitted_on: usize,
    pub(super) removed_on: usize,
    pub(super) reason: usize,
    pub(super) hours: usize,
    pub(super) read_on: Option<usize>,
    pub(super) at_fitting: Option<usize>,
    pub(super) first_seen: Option<usize>,
    pub(super) last_good: Option<usize>,
    pub(super) strikes: Option<usize>,
    pub(super) supplier: Option<usize>,
    pub(super) batch: Option<usize>,
}

impl Columns {
    fn find(table: &Table<'_>, format: &LogFormat) -> Result<Self> {
        let c = &format.columns;
        let mut problems = Vec::new();
        let mut taken: Vec<(usize, &str)> = Vec::new();
        let mut find = |field: &'static str, name: &str| {
            let hit = if name.trim().is_empty() {
                let problem = Problem::new("records.column_unnamed", format!("no column is named for {field}"));
                let expected = format!("one of {}", table.columns().join(", "));
                Err(Error::new(Kind::Study, problem.at(Place::input(&format.file)).expected(expected)))
            } else {
                table.find(name)
            };
            match hit {
                Ok(i) => {
                    if let Some((_, other)) = taken.iter().find(|t| t.0 == i) {
                        let what = format!("one column is named for both {other} and {field}");
                        let problem = Problem::new("records.column_shared", what);
                        problems.push(problem.at(Place::input(&format.file).line(1).column(name)));
                    }
                    taken.push((i, field));
                    i
                }
                Err(e) => {
                    problems.extend_from_slice(e.problems());
                    0
                }
            }
        };
        let (serial, class) = (find("serial", &c.serial), find("lamp_class", &c.lamp_class));
        let (site, screen) = (find("site", &c.site), find("screen", &c.screen));
        let (fitted_on, removed_on) = (find("fitted_on", &c.fitted_on), find("removed_on", &c.removed_on));
        let (reason, hours) = (find("reason", &c.reason), find("hours", &c.hours));
        let mut optional = |field: &'static str, name: &Option<String>| name.as_deref().map(|name| find(field, name));
        let (read_on, at_fitting) =
            (optional("read_on", &c.read_on), optional("hours_at_fitting", &c.hours_at_fitting));
        let (first_seen, last_good) =
            (optional("hours_first_seen", &c.hours_first_seen), optional("hours_last_good", &c.hours_last_good));
        let (strikes, supplier) = (optional("strikes", &c.strikes), optional("supplier", &c.supplier));
        let batch = optional("batch", &c.batch);
        if at_fitting.is_none() && format.blank_hours_at_fitting == BlankAtFitting::Unknown {
            let what =
                "no column gives the hours at fitting, and blank_hours_at_fitting does not say that lamps were new";
            problems.push(Problem::new("records.fitting_hours_undeclared", what).at(Place::input(&format.file)));
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Study, problems));
        }
        Ok(Self {
            serial,
            class,
            site,
            screen,
            fitted_on,
            removed_on,
            reason,
            hours,
            read_on,
            at_fitting,
            first_seen,
            last_good,
            strikes,
            supplier,
            batch,
        })
    }

    /// The column of each field that is one cell.
    fn places(&self) -> Places {
        Field::CELLS.map(|field| match field {
            Field::Serial => Some(self.serial),
            Field::Class => Some(self.class),
            Field::Site => Some(self.site),
            Field::Screen => Some(self.screen),
            Field::FittedOn => Some(self.fitted_on),
            Field::RemovedOn => Some(self.removed_on),
            Field::ReadOn => self.read_on,
            Field::Reason => Some(self.reason),
            Field::Hours => Some(self.hours),
            Field::AtFitting => self.at_fitting,
            Field::FirstSeen => self.first_seen,
            Field::LastGood => self.last_good,
            Field::Strikes => self.strikes,
            Field::Supplier => self.supplier,
            Field::Batch => self.batch,
            Field::Row => None,
        })
    }
}

/// In which of several ways a log is read; each gives the same.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ways {
    /// Least length of a part that is read for itself, bytes.
    pub(super) part: usize,
    /// Whether rows may be taken by their bytes where all is as it should be.
    pub(super) plain: bool,
}

/// What reading keeps between logs.
#[derive(Debug)]
pub(crate) struct Reader<'a> {
    pub(crate) rows: Rows<'a>,
    pub(crate) problems: Vec<Problem>,
    reasons: &'a ReasonMap,
    classes: &'a ClassNames,
    /// Least length of a part that is read for itself, bytes.
    part: usize,
    /// Whether rows may be taken by their bytes where all is as it should be.
    plain: bool,
}

impl<'a> Reader<'a> {
    pub(crate) fn new(
        formats: Vec<&'a LogFormat>,
        reasons: &'a ReasonMap,
        classes: &'a ClassNames,
        ways: Ways,
    ) -> Self {
        let Ways { part, plain } = ways;
        Self { rows: Rows::new(formats), problems: Vec::new(), reasons, classes, part, plain }
    }

    /// Reads one log.
    ///
    /// # Errors
    /// Those of the table; a missing column; no rows; no usable row; a class that the study does not know in more than a
    /// few rows; a column map that the rows do not bear out, see [`column_map::judge`]. Undeclared conventions are
    /// gathered in `problems` instead.
    pub(crate) fn read(&mut self, log: u32, format: &LogFormat, source: Source<'a>, run: &Run) -> Result<()> {
        let numbers = NumberFormat { decimal: format.decimal, thousands: format.thousands };
        let signs = check_signs(format);
        let plain =
            TableFormat { encoding: format.encoding, delimiter: format.delimiter, numbers, dates: format.dates };
        let held = if let Source::Columns(columns) = source { Some(columns) } else { None };
        let text = !matches!(source, Source::Columns(_));
        let table = Table::open(&format.file, source, &plain).map_err(|e| beside(signs.clone(), e))?;
        let columns = Columns::find(&table, format).map_err(|e| beside(one_sign(format, text), e));
        // What is wrong with the signs hides no column that is missing.
        let columns = match (signs, columns) {
            (signs, Err(e)) => return Err(beside(signs, e)),
            (Err(e), Ok(_)) => return Err(e),
            (Ok(()), Ok(columns)) => columns,
        };
        let at = columns.places();
        let most = MAX_PROBLEMS.saturating_sub(self.problems.len());
        let (reasons, classes) = (self.reasons, self.classes);
        // A header that stands again would be plain rows where a name in it is a day.
        let plain = self.plain && date(format.columns.fitted_on.trim(), format.dates).is_err();
        let one = Log { number: log, format, columns, numbers, reasons, classes, plain, most };
        let parts = table.parts(self.part, PARTS_A_THREAD * rayon::current_num_threads());
        let mut parts: Vec<Part> = parts.into_par_iter().map(|table| one.part(table, run)).collect();
        run.check()?;
        // What stops the reading of a log is judged by all that stands before it.
        if parts.len() > 1
            && (parts.iter().any(|p| p.stopped.is_some())
                || parts.iter().map(|p| p.problems.len()).sum::<usize>() >= most)
        {
            parts = table.parts(usize::MAX, 1).into_iter().map(|table| one.part(table, run)).collect();
        }
        if let Some(written) = self.rows.written.get_mut(log as usize) {
            *written = match (held, table.into_text()) {
                (Some(columns), _) => Written::Columns { columns, at },
                (None, Some((bytes, delimiter))) => Written::Text { bytes, delimiter, at },
                (None, None) => Written::None,
            };
        }
        let before = self.rows.list.len();
        let told = self.rows.take(log, parts);
        let declared = told.problems.is_empty();
        self.problems.extend(told.problems);
        if let Some(e) = told.stopped {
            return Err(e);
        }
        let (rows, furniture) = (told.rows, told.furniture);
        if rows == furniture {
            let problem = Problem::new("records.no_rows", "the log is empty: it has no records below its header");
            return Err(Error::new(Kind::Input, problem.at(Place::input(&format.file)).expected("at least one spell")));
        }
        let strangers: Vec<Problem> = told
            .unknown
            .into_iter()
            .filter(|u| (u.2 > 1 || rows == furniture + 1) && u.2 as f64 > CLASS_SHARE * rows as f64)
            .map(|(word, place, n)| {
                let what = format!("a lamp class that the study does not name stands in {}", counted(n, "row"));
                let known = self.classes.known();
                Problem::new("records.class_not_in_study", what)
                    .at(place)
                    .got(word)
                    .expected(format!("one of {}", known.join(", ")))
            })
            .collect();
        if !strangers.is_empty() {
            return Err(Error::many(Kind::Study, strangers));
        }
        if self.rows.list.len() == before && self.problems.is_empty() {
            let faults = told.unread.iter().map(|(place, f)| (f.rule, place.line.unwrap_or(0), f.sentence.as_str()));
            let first = told.unread.len() >= MAX_PROBLEMS;
            let mut problems = vec![no_usable_rows(format, rows, 0, first, faults)];
            problems.extend(column_cells::days_among_hours(&self.rows, log, before));
            problems.extend(one_sign(format, text).err().into_iter().flat_map(|e| e.problems().to_vec()));
            let shown = |(place, f): (Place, Fault)| {
                Problem::new(f.rule, f.sentence).at(place).got(f.value.unwrap_or_default())
            };
            let cells = told.unread.into_iter().map(shown).collect();
            let (order, left, cells) = told_once(format, rows - furniture, cells);
            problems.extend(order);
            problems.extend(rows_listed(format, left, cells.into_iter()));
            return Err(Error::many(Kind::Input, problems));
        }
        if declared {
            column_map::judge(&mut self.rows, log, before, rows - furniture, self.reasons)?;
        }
        Ok(())
    }
}

/// What a row says of a spell, with the numbers of its texts.
#[derive(Debug)]
pub(super) struct Said {
    pub(super) fitted_on: NaiveDate,
    pub(super) removed_on: Option<NaiveDate>,
    pub(super) read_on: NaiveDate,
    pub(super) at_fitting: Option<f64>,
    pub(super) first_seen: Option<f64>,
    pub(super) last_good: Option<f64>,
    pub(super) end_hours: f64,
    pub(super) strikes: Option<u64>,
    pub(super) ending: Ending,
    pub(super) class: u32,
    pub(super) screen: u32,
    pub(super) supplier: u32,
    pub(super) batch: u32,
    pub(super) reason: u32,
}

/// One log under reading.
#[derive(Debug)]
pub(super) struct Log<'f> {
    /// Index of the log.
    number: u32,
    pub(super) format: &'f LogFormat,
    pub(super) columns: Columns,
    pub(super) numbers: NumberFormat,
    pub(super) reasons: &'f ReasonMap,
    pub(super) classes: &'f ClassNames,
    /// Whether rows may be taken by their bytes where all is as it should be.
    pub(super) plain: bool,
    /// Undeclared conventions after which reading stops.
    most: usize,
}

impl Log<'_> {
    /// Reads a part of the log.
    fn part(&self, mut table: Table<'_>, run: &Run) -> Part {
        let mut part = Part::default();
        table.check_text();
        if let Err(e) = self.rows(&mut table, &mut part, run) {
            part.stopped = Some(e);
        }
        (part.read, part.breaks) = (table.row(), table.breaks());
        part
    }

    fn rows(&self, table: &mut Table<'_>, part: &mut Part, run: &Run) -> Result<()> {
        while part.problems.len() < self.most && table.advance()? {
            if table.row() == ENOUGH_ROWS {
                part.expect(table.estimate());
            }
            if table.row().is_multiple_of(8192) {
                run.check()?;
            }
            if self.plain_row(table, part).is_ok() {
                continue;
            }
            if let Some(fault) = not_a_spell(table, &self.columns, self.format) {
                part.furniture += 1;
                let (row, line) = (table.row(), table.line());
                let unread = Unread { log: self.number, row, line, serial: String::new(), open: None };
                part.aside.push((unread, vec![fault]));
                continue;
            }
            if let Err(faults) = self.row(table, part) {
                for fault in &faults {
                    let place = table.place(None).column(fault.field.column(self.format));
                    if fault.rule == "records.class_unknown" {
                        let word = fault.value.as_deref().unwrap_or_default().trim();
                        part.stranger(word, &place, 1);
                    }
                    if part.unread.len() < MAX_PROBLEMS {
                        part.unread.push((place, fault.clone()));
                    }
                }
                part.aside.push((self.unread(table), faults));
            }
        }
        Ok(())
    }

    /// Reads the cells of a row; faults set it aside, doubts are only noted.
    fn row(&self, table: &Table<'_>, part: &mut Part) -> std::result::Result<(), Vec<Fault>> {
        let (at, format, numbers) = (&self.columns, self.format, self.numbers);
        let class = part.class_of(&table.cell(at.class).text(), self.classes);
        let mut cells = Cells { table, format, numbers, faults: Vec::new(), problems: &mut part.problems };
        cells.check_row();
        let serial = cells.text(Field::Serial, at.serial);
        if serial.is_empty() {
            cells.fault("records.serial_blank", Field::Serial, at.serial, "the row has no serial");
        }
        if serial.contains(char::is_control) {
            let sentence = "the serial holds a control character, which no serial has";
            cells.fault("records.serial_unreadable", Field::Serial, at.serial, sentence);
        }
        let class_word = cells.text(Field::Class, at.class);
        let site = cells.text(Field::Site, at.site);
        let screen = cells.text(Field::Screen, at.screen);
        for (text, field, column) in [(&site, Field::Site, at.site), (&screen, Field::Screen, at.screen)] {
            if text.contains(char::is_control) {
                let sentence = "the text holds a control character, which no name of a place has";
                cells.fault("records.place_unreadable", field, column, sentence);
            }
        }
        let fitted_on = cells.date(Field::FittedOn, Some(at.fitted_on));
        if fitted_on == Found::Blank {
            cells.fault("records.fitting_date_blank", Field::FittedOn, at.fitted_on, "the row has no day of fitting");
        }
        let removed_on = cells.date(Field::RemovedOn, Some(at.removed_on));
        let read_on = cells.date(Field::ReadOn, at.read_on);
        let hours = cells.hours(Field::Hours, Some(at.hours));
        if hours == Found::Blank {
            let sentence = "the row has no hours at removal or last reading";
            cells.fault("records.hours_blank", Field::Hours, at.hours, sentence);
        }
        let at_fitting = cells.hours(Field::AtFitting, at.at_fitting);
        if let Some(column) = at.at_fitting
            && at_fitting == Found::Blank
            && format.blank_hours_at_fitting == BlankAtFitting::Unknown
        {
            let sentence = "the hours at fitting are blank, and a blank is not declared to mean a new lamp";
            cells.fault("records.fitting_hours_blank", Field::AtFitting, column, sentence);
        }
        let first_seen = cells.hours(Field::FirstSeen, at.first_seen);
        let last_good = cells.hours(Field::LastGood, at.last_good);
        let mut doubts = Vec::new();
        let strikes = match at.strikes.map(|c| table.cell(c)) {
            None | Some(Cell::Blank) => None,
            Some(cell) => match cell.number(numbers) {
                Ok(Some(n)) if n >= 0.0 && n.fract() == 0.0 && n < 9e15 => Some(n as u64),
                _ => {
                    let sentence = "the strikes are not a whole number, so they are left out";
                    doubts.push(Fault::new("records.strikes_unreadable", Field::Strikes, sentence));
                    None
                }
            },
        };
        let reason = cells.text(Field::Reason, at.reason);
        if class.is_none() {
            let (rule, sentence) = if class_word.is_empty() {
                ("records.class_blank", "the row has no lamp class")
            } else {
                ("records.class_unknown", "the study does not name this lamp class")
            };
            cells.fault(rule, Field::Class, at.class, sentence);
        }
        let burns = !reason.is_empty() && self.reasons.get(&reason) == Some(Ending::Running);
        if removed_on == Found::Blank && !reason.is_empty() && !burns {
            let sentence = format!(
                "the reason \"{reason}\" is given without a day of removal; a word for lamps that burn is mapped to running"
            );
            cells.fault("records.removal_undated", Field::RemovedOn, at.removed_on, &sentence);
        }
        if burns && removed_on != Found::Blank {
            let sentence = "by its reason the lamp burns, and a day of removal is given";
            cells.fault("records.running_removed", Field::Reason, at.reason, sentence);
        }
        let faults = cells.faults;
        if !faults.is_empty() {
            return Err(faults);
        }
        let (Some(fitted_on), Some(end_hours), Some(class)) = (fitted_on.value(), hours.value(), class) else {
            return Err(faults);
        };
        let (removed_on, read_on) = (removed_on.value(), read_on.value());
        let (at_fitting, first_seen, last_good) = (at_fitting.value(), first_seen.value(), last_good.value());
        let ending = match removed_on {
            None => Ending::Running,
            Some(_) => self.ending(&reason, part, &mut doubts),
        };
        let read_on = match (removed_on, read_on) {
            (Some(day), _) | (None, Some(day)) => day,
            (None, None) => {
                if at.read_on.is_some() {
                    let sentence = "the last reading has no day, so the age of this running lamp today is not known; \
                                    its hours are used as read";
                    doubts.push(Fault::new(READING_UNDATED, Field::ReadOn, sentence));
                }
                format.exported_on
            }
        };
        let mut group = |field, column: Option<usize>| {
            let Some(column) = column else { return Cow::Borrowed("") };
            let text = table.cell(column).text();
            if !text.contains(char::is_control) {
                return text;
            }
            let sentence =
                "the text holds a control character, which no name of a supplier or a batch has, so it is left out";
            doubts.push(Fault::new("records.group_unreadable", field, sentence).of(table.written(column)));
            Cow::Borrowed("")
        };
        let (supplier, batch) = (group(Field::Supplier, at.supplier), group(Field::Batch, at.batch));
        let texts = &mut part.texts;
        let place = (texts.sites.id(&site), texts.screens.id(&screen));
        let said = Said {
            fitted_on,
            removed_on,
            read_on,
            at_fitting,
            first_seen,
            last_good,
            end_hours,
            strikes,
            ending,
            class,
            screen: texts.places.id(place),
            supplier: texts.suppliers.id(&supplier),
            batch: texts.batches.id(&batch),
            reason: texts.reasons.id(&reason),
        };
        self.add(table, part, &said, Word::from(serial), doubts);
        Ok(())
    }

    /// Adds the present row of a table to those that are used.
    #[inline]
    pub(super) fn add(&self, table: &Table<'_>, part: &mut Part, said: &Said, serial: Word, doubts: Vec<Fault>) {
        let fitted_hours = said.at_fitting.unwrap_or(0.0);
        let late = self.format.records_from.is_some_and(|day| said.fitted_on < day);
        let row = Row {
            spell: Facts {
                fitted_on: said.fitted_on,
                removed_on: said.removed_on,
                read_on: said.read_on,
                fitted_hours,
                entry_hours: said.first_seen.unwrap_or(fitted_hours),
                low_hours: said.last_good.unwrap_or(said.end_hours),
                end_hours: said.end_hours,
                strikes: said.strikes,
                ending: said.ending,
            },
            position: table.position(),
            log: self.number,
            number: table.row() as u32,
            line: table.line() as u32,
            // Given once all serials are known.
            serial: 0,
            class: said.class,
            screen: said.screen,
            supplier: said.supplier,
            batch: said.batch,
            reason: said.reason,
            entry_known: !late || said.first_seen.is_some(),
            placed: true,
            outcome: Outcome::Used,
        };
        part.add(row, serial, doubts, self.format.exported_on);
    }

    /// The ending of a removed lamp; blank and unmapped reasons are unknown, never a failure.
    fn ending(&self, reason: &str, part: &mut Part, doubts: &mut Vec<Fault>) -> Ending {
        if let Some(ending) = part.ending_of(reason, self.reasons) {
            return ending;
        }
        let (rule, sentence) = if reason.is_empty() {
            ("records.reason_blank", "the lamp was removed without a reason, so the ending is unknown")
        } else {
            ("records.reason_unmapped", "the reason is not in the reason map, so the ending is unknown")
        };
        doubts.push(Fault::new(rule, Field::Reason, sentence));
        Ending::Unknown
    }

    /// What can still be said of a row that could not be read.
    fn unread(&self, table: &Table<'_>) -> Unread {
        let (log, at, format, numbers) = (self.number, &self.columns, self.format, self.numbers);
        let text = |c: usize| Word::from(&*table.cell(c).text());
        let serial = text(at.serial);
        let open = (table.cell(at.removed_on) == Cell::Blank).then(|| Disputed {
            file: Word::from(format.file.as_str()),
            line: if table.line() > 0 { table.line() } else { table.row() },
            serial: serial.clone(),
            lamp_class: self.classes.get(&text(at.class)).unwrap_or_else(|| Word::from("")),
            site: text(at.site),
            screen: text(at.screen),
            read_on: at.read_on.and_then(|c| table.cell(c).date(format.dates).ok().flatten()),
            hours: hours(table.cell(at.hours), numbers, format.hours_unit).ok().flatten(),
            rule: String::new(),
        });
        Unread { log, row: table.row(), line: table.line(), serial: serial.to_string(), open }
    }
}

/// What a cell held.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Found<T> {
    /// Something else than was expected; the fault is noted.
    Bad,
    Blank,
    Value(T),
}

impl<T> Found<T> {
    fn value(self) -> Option<T> {
        match self {
            Found::Value(value) => Some(value),
            Found::Bad | Found::Blank => None,
        }
    }
}

impl<T> From<Option<T>> for Found<T> {
    fn from(value: Option<T>) -> Self {
        value.map_or(Found::Blank, Found::Value)
    }
}

/// Reads cells and gathers what is wrong with them.
struct Cells<'r, 't, 'p> {
    table: &'r Table<'t>,
    format: &'r LogFormat,
    numbers: NumberFormat,
    faults: Vec<Fault>,
    problems: &'p mut Vec<Problem>,
}

impl<'r> Cells<'r, '_, '_> {
    fn fault(&mut self, rule: &'static str, field: Field, column: usize, sentence: &str) {
        self.faults.push(Fault::new(rule, field, sentence).of(self.table.written(column)));
    }

    /// The row must have as many cells as the header; blank ones past the end do no harm.
    fn check_row(&mut self) {
        let (cells, columns) = (self.table.width(), self.table.columns().len());
        let spare = (columns..cells).all(|c| self.table.cell(c) == Cell::Blank);
        if cells < columns || !spare {
            let sentence = format!(
                "the row has {} where the header has {}",
                counted(cells as u64, "cell"),
                counted(columns as u64, "column")
            );
            self.faults.push(Fault::new("records.row_cells", Field::Row, sentence).of(cells.to_string()));
        }
    }

    fn text(&mut self, field: Field, column: usize) -> Cow<'r, str> {
        let table: &'r Table<'_> = self.table;
        let cell = table.cell(column);
        if matches!(cell, Cell::Bytes(_)) {
            let sentence = format!("the cell holds bytes that are not text in {}", self.format.encoding.as_str());
            self.fault("records.bytes_invalid", field, column, &sentence);
        }
        cell.text()
    }

    fn date(&mut self, field: Field, column: Option<usize>) -> Found<NaiveDate> {
        let Some(column) = column else { return Found::Blank };
        let cell = self.table.cell(column);
        match cell.date(self.format.dates) {
            Ok(day) => Found::from(day),
            Err(fault @ DateFault::TwoReadings(..)) => {
                self.problem(Problem::new("records.date_two_readings", fault.to_string()), column);
                Found::Bad
            }
            Err(fault) => {
                self.fault("records.date_unreadable", field, column, &format!("the cell is {fault}"));
                Found::Bad
            }
        }
    }

    fn hours(&mut self, field: Field, column: Option<usize>) -> Found<f64> {
        let Some(column) = column else { return Found::Blank };
        let cell = self.table.cell(column);
        match hours(cell, self.numbers, self.format.hours_unit) {
            Ok(value) => Found::from(value),
            Err(HoursFault::Number(fault @ NumberFault::TwoReadings(..))) => {
                self.problem(Problem::new("records.number_two_readings", fault.to_string()), column);
                Found::Bad
            }
            Err(HoursFault::Unit(unit)) => {
                let declared = self.format.hours_unit.as_str();
                let what = format!("the cell is in {} where the column is declared in {declared}", unit.as_str());
                let problem = Problem::new("records.hours_two_units", what).expected(format!("{declared} throughout"));
                self.problem(problem, column);
                Found::Bad
            }
            Err(HoursFault::Number(fault)) => {
                self.fault("records.hours_unreadable", field, column, &format!("the cell is {fault}"));
                Found::Bad
            }
        }
    }

    fn problem(&mut self, problem: Problem, column: usize) {
        self.problems.push(problem.at(self.table.place(Some(column))).got(self.table.written(column)));
        // The row cannot be used either; the whole reading is refused later.
        self.fault("records.undeclared", Field::Row, column, "the convention is not declared");
    }
}

/// Blank rows, headers that stand again and total rows.
fn not_a_spell(table: &Table<'_>, at: &Columns, format: &LogFormat) -> Option<Fault> {
    if table.cell(at.fitted_on) != Cell::Blank {
        let repeated = matches!(table.cell(at.fitted_on), Cell::Text(t) if t == format.columns.fitted_on.trim())
            && table.columns().iter().enumerate().all(|(i, name)| table.cell(i).text() == name.as_str());
        return repeated.then(|| {
            let fault = Fault::new("records.repeated_header", Field::Row, "the header stands again among the rows");
            fault.of(table.written(at.serial))
        });
    }
    let Some(filled) = (0..table.width()).find(|&c| table.cell(c) != Cell::Blank) else {
        return Some(Fault::new("records.row_blank", Field::Row, "every cell of the row is blank"));
    };
    let first = table.cell(filled).text();
    let word = fold(first.trim_end_matches(':'));
    let bare = [at.serial, at.class, at.removed_on].iter().all(|&c| table.cell(c) == Cell::Blank);
    let named =
        TOTALS.iter().any(|t| word.strip_prefix(t).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric)));
    (named || (bare && table.cell(at.hours) != Cell::Blank))
        .then(|| Fault::new("records.total_row", Field::Row, "the row is a total or a remark, not a spell"))
        .map(|fault| fault.of(table.written(filled)))
}

/// The declared signs must differ and must not be digits.
fn check_signs(format: &LogFormat) -> Result<()> {
    let mut problems = Vec::new();
    let place = |key: &str| Place::input(&format.file).column(key);
    if !usable_sign(format.decimal) {
        problems
            .push(Problem::new("records.sign_unusable", "not a decimal sign").at(place("decimal")).got(format.decimal));
    }
    if let Some(thousands) = format.thousands
        && (!usable_sign(thousands) || thousands == format.decimal)
    {
        let problem = Problem::new("records.sign_unusable", "not a thousands separator");
        problems.push(problem.at(place("thousands")).got(thousands).expected("a sign other than the decimal sign"));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Study, problems)) }
}

/// A decimal sign that also separates the cells, which only numbers in quotation marks can bear: told where a log cannot
/// be read, as the likely cause.
fn one_sign(format: &LogFormat, text: bool) -> Result<()> {
    if !text || format.decimal != format.delimiter {
        return Ok(());
    }
    let problem = Problem::new("records.sign_unusable", "the decimal sign is the delimiter too");
    let problem = problem.at(Place::input(&format.file).column("decimal")).got(format.decimal);
    Err(Error::new(
        Kind::Study,
        problem.expected("the delimiter of the file, such as ;, or numbers in quotation marks"),
    ))
}

/// Both errors as one: the first, where there is one, before the other.
fn beside(first: Result<()>, other: Error) -> Error {
    match first {
        Ok(()) => other,
        Err(first) => Error::many(first.kind(), [first.problems(), other.problems()].concat()),
    }
}
