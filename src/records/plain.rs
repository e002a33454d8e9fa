//! Rows of a text of which each cell is as it should be, read by their bytes. Most rows are; any other is left to the
//! reading cell by cell, which knows every convention and every fault.

use chrono::NaiveDate;

use super::date;
use super::intern::Words;
use super::log::{Log, Said};
use super::memo::Memo;
use super::merge::Part;
use super::number;
use super::table::{Cell, Table};
use super::text::Records;
use super::{BlankAtFitting, Ending, HoursUnit, Word};

/// What the texts of a part were found to mean.
#[derive(Debug, Default)]
pub(super) struct Memos {
    class: Memo<u32>,
    site: Memo<u32>,
    screen: Memo<u32>,
    supplier: Memo<u32>,
    batch: Memo<u32>,
    reason: Memo<u32>,
    ending: Memo<Ending>,
}

/// A text and its number, if that is known.
#[derive(Clone, Copy)]
enum Text<'t> {
    Known(u32),
    New { raw: &'t [u8], text: &'t str },
}

impl Text<'_> {
    fn number(self, memo: &mut Memo<u32>, words: &mut Words) -> u32 {
        match self {
            Text::Known(id) => id,
            Text::New { raw, text } => {
                let id = words.id(text);
                memo.put(raw, id);
                id
            }
        }
    }
}

/// A cell, and so its row, that must be read the long way.
pub(super) struct NotPlain;

type Plain<T> = Result<T, NotPlain>;

/// A row under reading.
struct PlainRow<'r, 't> {
    table: &'r Table<'t>,
    record: &'r Records<'t>,
    log: &'r Log<'r>,
}

impl<'r> PlainRow<'r, '_> {
    /// The bytes of a cell; empty where the log has no such column.
    #[inline]
    fn bytes(&self, column: Option<usize>) -> Plain<&'r [u8]> {
        column.map_or(Some(&[][..]), |c| self.record.plain(c)).ok_or(NotPlain)
    }

    /// A day, or nothing in an empty cell.
    #[inline]
    fn day(&self, column: Option<usize>) -> Plain<Option<NaiveDate>> {
        match self.bytes(column)? {
            [] => Ok(None),
            text => date::common(text, self.log.format.dates).and_then(Result::ok).map(Some).ok_or(NotPlain),
        }
    }

    /// Hours, or nothing in an empty cell.
    #[inline]
    fn hours(&self, column: Option<usize>) -> Plain<Option<f64>> {
        match self.bytes(column)? {
            [] => Ok(None),
            text => {
                let value = number::common(text, self.log.numbers.decimal).ok_or(NotPlain)?;
                Ok(Some(if self.log.format.hours_unit == HoursUnit::Minutes { value / 60.0 } else { value }))
            }
        }
    }

    /// A text by what it was found to mean before.
    #[inline]
    fn text(&self, column: Option<usize>, memo: &Memo<u32>) -> Plain<Text<'r>> {
        let raw = self.bytes(column)?;
        match memo.get(raw) {
            Some(id) => Ok(Text::Known(id)),
            None => match column.map_or(Cell::Blank, |c| self.table.cell(c)) {
                Cell::Blank => Ok(Text::New { raw, text: "" }),
                Cell::Text(text) => Ok(Text::New { raw, text }),
                Cell::Number(_) | Cell::Date(_) | Cell::Bytes(_) => Err(NotPlain),
            },
        }
    }
}

impl Log<'_> {
    /// Takes the present row of a table if nothing at all is to be said of it. No text is numbered before that is known,
    /// but for the class, which the long way numbers first of all too.
    #[inline]
    pub(super) fn plain_row(&self, table: &Table<'_>, part: &mut Part) -> Plain<()> {
        let (at, format) = (&self.columns, self.format);
        let record = table.record().filter(|r| self.plain && r.len() == table.columns().len()).ok_or(NotPlain)?;
        let row = PlainRow { table, record, log: self };
        let fitted_on = row.day(Some(at.fitted_on))?.ok_or(NotPlain)?;
        let (removed_on, read_on) = (row.day(Some(at.removed_on))?, row.day(at.read_on)?);
        let end_hours = row.hours(Some(at.hours))?.ok_or(NotPlain)?;
        let at_fitting = row.hours(at.at_fitting)?;
        if at.at_fitting.is_some() && at_fitting.is_none() && format.blank_hours_at_fitting == BlankAtFitting::Unknown {
            return Err(NotPlain);
        }
        let (first_seen, last_good) = (row.hours(at.first_seen)?, row.hours(at.last_good)?);
        let strikes = match row.bytes(at.strikes)? {
            [] => None,
            text => Some(number::whole(text).ok_or(NotPlain)? as u64),
        };
        let serial = match row.bytes(Some(at.serial))? {
            text @ ([b'!'..=b'~'] | [b'!'..=b'~', .., b'!'..=b'~']) if !text.iter().any(u8::is_ascii_control) => {
                Word::of_ascii(text).ok_or(NotPlain)?
            }
            _ => return Err(NotPlain),
        };
        let read_on = match (removed_on, read_on) {
            (Some(day), _) | (None, Some(day)) => day,
            (None, None) if at.read_on.is_none() => format.exported_on,
            (None, None) => return Err(NotPlain),
        };
        let memos = &part.memos;
        let (site, screen) = (row.text(Some(at.site), &memos.site)?, row.text(Some(at.screen), &memos.screen)?);
        // A text that is known was looked at when it was new.
        let unreadable = |t: &Text<'_>| matches!(t, Text::New { text, .. } if text.contains(char::is_control));
        let (supplier, batch) = (row.text(at.supplier, &memos.supplier)?, row.text(at.batch, &memos.batch)?);
        if [&site, &screen, &supplier, &batch].into_iter().any(unreadable) {
            return Err(NotPlain);
        }
        let reason = row.text(Some(at.reason), &memos.reason)?;
        let why = row.bytes(Some(at.reason))?;
        let ending = match (removed_on, why) {
            (None, []) => Ending::Running,
            (Some(_), []) => return Err(NotPlain),
            (_, why) => match (memos.ending.get(why), reason) {
                (Some(ending), _) => ending,
                (None, Text::New { text, .. }) => {
                    let ending = part.ending_of(text, self.reasons).ok_or(NotPlain)?;
                    part.memos.ending.put(why, ending);
                    ending
                }
                (None, Text::Known(_)) => return Err(NotPlain),
            },
        };
        // A word for lamps that burn stands beside no day of removal, and only it.
        if (ending == Ending::Running) != removed_on.is_none() {
            return Err(NotPlain);
        }
        let word = row.bytes(Some(at.class))?;
        let class = if let Some(class) = part.memos.class.get(word) {
            class
        } else {
            let Cell::Text(text) = table.cell(at.class) else { return Err(NotPlain) };
            let class = part.class_of(text, self.classes).ok_or(NotPlain)?;
            part.memos.class.put(word, class);
            class
        };
        let (texts, memos) = (&mut part.texts, &mut part.memos);
        let site = site.number(&mut memos.site, &mut texts.sites);
        let screen = screen.number(&mut memos.screen, &mut texts.screens);
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
            screen: texts.places.id((site, screen)),
            supplier: supplier.number(&mut memos.supplier, &mut texts.suppliers),
            batch: batch.number(&mut memos.batch, &mut texts.batches),
            reason: reason.number(&mut memos.reason, &mut texts.reasons),
        };
        self.add(table, part, &said, serial, Vec::new());
        Ok(())
    }
}
