//! Spells, and lives joined from them.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::Ending;

/// One lamp in one screen, from fitting to removal. All ages are lamp hours.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spell {
    /// File the row stood in.
    pub file: String,
    /// Physical line of the row.
    pub line: u64,
    /// Serial of the lamp.
    pub serial: String,
    /// Lamp class, by its study name.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen.
    pub screen: String,
    /// Supplier; empty where not recorded.
    pub supplier: String,
    /// Batch; empty where not recorded.
    pub batch: String,
    /// Day of fitting.
    pub fitted_on: NaiveDate,
    /// Day of removal; none while the lamp burns.
    pub removed_on: Option<NaiveDate>,
    /// Day of the last reading: of removal, or the reading of a running lamp.
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
    pub reason: String,
    /// Why the spell ended.
    pub ending: Ending,
}

/// All spells of one serial, in order; what ended the last one ended the life.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LifeRecord {
    /// Serial of the lamp.
    pub serial: String,
    /// Lamp class, by its study name.
    pub lamp_class: String,
    /// Supplier; empty where not recorded.
    pub supplier: String,
    /// Batch; empty where not recorded.
    pub batch: String,
    /// Indices into the spells of the reading, in order of date.
    pub spells: Vec<usize>,
    /// Stretches of age under observation (from, to], in order; a gap in the records separates two.
    pub at_risk: Vec<(f64, f64)>,
    /// Age at the last reading with the lamp good; equals the end unless a failure is known only to an interval.
    pub low_hours: f64,
    /// Age at the end of the life or at the last reading.
    pub end_hours: f64,
    /// Why the life ended.
    pub ending: Ending,
}
