//! Everything a run leaves: the answers, and the evidence that traces them to rows.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::results::StudyResults;
use crate::records::{Ending, Ledger};

/// The answers of a run with their evidence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudyOutput {
    /// The answers.
    pub results: StudyResults,
    /// What they rest on.
    pub evidence: Evidence,
}

/// What the answers rest on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// The study file and every log, in the order declared.
    pub inputs: Vec<InputFile>,
    /// Every finding.
    pub ledger: Ledger,
    /// Every life with the rows it was read from.
    pub lives: Vec<TracedLife>,
    /// Options of the run that are not in the study file.
    pub options: Vec<(String, String)>,
}

/// One file that went in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InputFile {
    /// Path relative to the folder of the study.
    pub file: String,
    /// Size.
    pub size_bytes: u64,
    /// SHA-256, hexadecimal.
    pub sha256: String,
}

/// One life with the rows it was read from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TracedLife {
    /// Lamp class.
    pub lamp_class: String,
    /// Serial.
    pub serial: String,
    /// Supplier; empty where not recorded.
    pub supplier: String,
    /// Batch; empty where not recorded.
    pub batch: String,
    /// Site of the last spell.
    pub site: String,
    /// Screen of the last spell.
    pub screen: String,
    /// Stretches of age under observation (from, to], hours.
    pub at_risk_hours: Vec<(f64, f64)>,
    /// Age at the last reading with the lamp good.
    pub low_hours: f64,
    /// Age at the end or at the last reading.
    pub high_hours: f64,
    /// Why the life ended.
    pub ending: Ending,
    /// Whether it counts as a failure.
    pub failure: bool,
    /// Day of the end or of the last reading.
    pub read_on: Option<NaiveDate>,
    /// Rows it was read from, `file:line`.
    pub rows: Vec<String>,
}
