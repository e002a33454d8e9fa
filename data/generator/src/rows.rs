//! Rows of the logs, before they are written.

use crate::chain::{self, Site};
use crate::convention::{Column, Convention, Share};
use crate::lamps::{Lamp, Spell};
use crate::stream::Stream;
use crate::{Day, Ending, Options, words};

/// A planted fault: its name and what was done.
#[derive(Clone, Debug)]
pub struct Fault {
    /// Name of the kind.
    pub kind: &'static str,
    /// What was done, with the true value.
    pub detail: String,
}

/// One row of a log.
#[derive(Clone, Debug)]
pub struct Row {
    /// Index of its log.
    pub log: usize,
    /// Index of its lamp.
    pub lamp: usize,
    /// Serial as printed.
    pub serial: String,
    /// Index of the class.
    pub class: usize,
    /// Supplier.
    pub supplier: &'static str,
    /// Batch.
    pub batch: String,
    /// Index of the site.
    pub site: usize,
    /// Index of the screen within the site.
    pub screen: usize,
    /// Day of fitting.
    pub fitted_on: Day,
    /// Tenths of an hour at fitting.
    pub fitted: i64,
    /// Tenths of an hour when the records began.
    pub first_seen: Option<i64>,
    /// Tenths of an hour at the last good reading.
    pub last_good: Option<i64>,
    /// Day of removal.
    pub removed_on: Option<Day>,
    /// Tenths of an hour at removal or last reading.
    pub hours: i64,
    /// Day of the last reading of a running lamp.
    pub read_on: Option<Day>,
    /// Strikes.
    pub strikes: i64,
    /// Reason as typed.
    pub reason: String,
    /// What ended the spell.
    pub ending: Ending,
    /// Last weekly reading before the end.
    pub last_reading: (Day, i64),
    /// Cells that hold another text than the fields say.
    pub typed: Vec<(Column, String)>,
    /// The fault planted on this row.
    pub fault: Option<Fault>,
    /// No further fault may touch this row.
    pub locked: bool,
}

impl Row {
    /// Days from fitting to removal; 0 for a running lamp.
    pub fn days(&self) -> i32 {
        self.removed_on.map_or(0, |day| day.since(self.fitted_on))
    }

    /// Marks the row with a fault.
    pub fn mark(&mut self, kind: &'static str, detail: String) {
        self.fault = Some(Fault { kind, detail });
        self.locked = true;
    }
}

/// The rows of all logs, not yet in the order of the files. A spell that was open on the day of the older of two
/// exports stands in both; the older row is keyed `duplicate`.
pub fn rows(seed: u64, lamps: &[Lamp], sites: &[Site], logs: &[Convention], options: &Options) -> Vec<Row> {
    let mut stream = Stream::new(seed, "reasons", 0);
    let turn = chain::older_export(options);
    let mut rows = Vec::new();
    for (index, lamp) in lamps.iter().enumerate() {
        for spell in &lamp.spells {
            let lost = sites[lamp.site].screens[spell.screen].lost_on.is_some() && spell.removed_on.is_none();
            let open_at_turn = spell.fitted_on <= turn && spell.removed_on.is_none_or(|day| day > turn);
            for (log, convention) in logs.iter().enumerate() {
                if convention.region != sites[lamp.site].region {
                    continue;
                }
                let mut row = row(log, index, lamp, spell, convention, &mut stream);
                match convention.share {
                    Share::Older if spell.fitted_on > turn => continue,
                    Share::Older if lost => {
                        row.mark("absent_from_newest", "open in the older export, in no newer one".to_string());
                    }
                    Share::Older if open_at_turn => {
                        let Some((day, hours)) = spell.older_reading else { continue };
                        let ended = spell.removed_on.map_or("still open".to_string(), |day| format!("removed {day}"));
                        as_open(&mut row, day, hours);
                        row.strikes = (row.strikes * (hours - spell.fitted)) / (spell.end - spell.fitted).max(1);
                        row.mark("duplicate", format!("same spell in the newer export ({ended})"));
                    }
                    Share::All | Share::Older => {}
                    Share::Newer if lost || spell.removed_on.is_some_and(|day| day <= turn) => continue,
                    Share::Newer => row.locked = open_at_turn,
                }
                rows.push(row);
            }
        }
    }
    rows
}

/// Makes a row what it was while the lamp burned.
pub fn as_open(row: &mut Row, day: Day, hours: i64) {
    row.removed_on = None;
    row.read_on = Some(day);
    row.hours = hours;
    row.last_good = None;
    row.reason = String::new();
}

fn row(log: usize, index: usize, lamp: &Lamp, spell: &Spell, convention: &Convention, stream: &mut Stream) -> Row {
    let words = words::reasons(spell.ending, convention.language);
    Row {
        log,
        lamp: index,
        serial: lamp.serial.clone(),
        class: lamp.class,
        supplier: lamp.supplier,
        batch: lamp.batch.clone(),
        site: lamp.site,
        screen: spell.screen,
        fitted_on: spell.fitted_on,
        fitted: spell.fitted,
        first_seen: spell.first_seen,
        last_good: spell.last_good,
        removed_on: spell.removed_on,
        hours: spell.end,
        read_on: spell.removed_on.is_none().then_some(spell.last_reading.0),
        strikes: spell.strikes,
        reason: words[stream.below(words.len())].to_string(),
        ending: spell.ending,
        last_reading: spell.last_reading,
        typed: Vec::new(),
        fault: None,
        locked: false,
    }
}
