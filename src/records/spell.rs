//! Spells, and lives joined from them.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{Ending, Ledger, Lives, Spells, Word};

/// One lamp in one screen, from fitting to removal. All ages are lamp hours.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Spell<'a> {
    /// File the row stood in.
    pub file: &'a Word,
    /// Physical line of the row.
    pub line: u64,
    /// Serial of the lamp.
    pub serial: &'a Word,
    /// Lamp class, by its study name.
    pub lamp_class: &'a Word,
    /// Site.
    pub site: &'a Word,
    /// Screen.
    pub screen: &'a Word,
    /// Supplier; empty where not recorded.
    pub supplier: &'a Word,
    /// Batch; empty where not recorded.
    pub batch: &'a Word,
    /// Day of fitting.
    pub fitted_on: NaiveDate,
    /// Day of removal; none while the lamp burns.
    pub removed_on: Option<NaiveDate>,
    /// Day of the last reading: of removal, or the reading of a running lamp; the day of the export where the log gives
    /// none, which is a finding where it has a column for it.
    pub read_on: NaiveDate,
    /// Age at fitting.
    pub fitted_hours: f64,
    /// Age at which the spell came under observation, at or above `fitted_hours`.
    pub entry_hours: f64,
    /// Age at the last reading with the lamp good; equals `end_hours` unless a failure is known only to an interval.
    pub low_hours: f64,
    /// Age at removal or at the last reading.
    pub end_hours: f64,
    /// Strikes in the spell, where recorded.
    pub strikes: Option<u64>,
    /// Reason in the log's own words.
    pub reason: &'a Word,
    /// Why the spell ended.
    pub ending: Ending,
}

/// All spells of one serial, in order; what ended the last one ended the life.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LifeRecord<'a> {
    /// Serial of the lamp.
    pub serial: &'a Word,
    /// Lamp class, by its study name.
    pub lamp_class: &'a Word,
    /// Supplier; empty where not recorded.
    pub supplier: &'a Word,
    /// Batch; empty where not recorded.
    pub batch: &'a Word,
    /// Indices into the spells of the reading, in order of date.
    pub spells: &'a [usize],
    /// Stretches of age under observation (from, to], in order; a gap in the records separates two.
    pub at_risk: &'a [(f64, f64)],
    /// Age at the last reading with the lamp good; equals the end unless a failure is known only to an interval. A
    /// failure at the very age of entry (0 h for a new lamp) lies in the first meter step: end = low + 1.
    pub low_hours: f64,
    /// Age at the end of the life or at the last reading.
    pub end_hours: f64,
    /// Why the life ended.
    pub ending: Ending,
}

impl LifeRecord<'_> {
    /// Age at which the life first came under observation; 0 for a lamp watched since new.
    pub fn entry_hours(&self) -> f64 {
        self.at_risk.first().map_or(0.0, |piece| piece.0)
    }
}

/// A lamp that may still burn though its age cannot be trusted: to be treated as due.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Disputed {
    /// File the row stood in.
    pub file: Word,
    /// Physical line of the row; the row number for tables.
    pub line: u64,
    /// Serial as read; may be blank.
    pub serial: Word,
    /// Lamp class, by its study name; blank where it could not be read.
    pub lamp_class: Word,
    /// Site.
    pub site: Word,
    /// Screen.
    pub screen: Word,
    /// Day of the last reading, where readable.
    pub read_on: Option<NaiveDate>,
    /// Hours as the meter gave them, where readable.
    pub hours: Option<f64>,
    /// Rule that disputes it, such as `records.restart_forgotten`.
    pub rule: String,
}

/// What a reading of logs gives: spells, lives joined from them, and the ledger that accounts for every row.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// Spells in use, in order of file and line.
    pub spells: Spells,
    /// One life for each serial, in order of serial.
    pub lives: Lives,
    /// Findings and counts that reconcile.
    pub ledger: Ledger,
    /// Open lamps whose age is not known or whose presence is doubtful, in order of file and line. Rows set aside
    /// stand only here; `records.absent_from_newest` and `records.reading_undated` rows are spells too.
    pub disputed: Vec<Disputed>,
    /// How many those are. Rows set aside stand nowhere else with their lamp, so that a saved reading which lost one of
    /// them, and with it a lamp that is due, is told by this count.
    pub disputed_count: u64,
}

impl Reading {
    /// What to know before using any figure: that many rows were set aside, or that a log does not bear out its column
    /// map, see [`Ledger::warning`]; empty where nothing is to be said.
    pub fn warning(&self) -> String {
        self.ledger.warning()
    }

    /// The last spell of a life: where the lamp is, or was when it ended.
    pub fn last_spell(&self, life: &LifeRecord<'_>) -> Option<Spell<'_>> {
        life.spells.last().and_then(|&i| self.spells.get(i))
    }
}
