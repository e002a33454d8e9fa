//! Lamps at or past their limit today, lamps that will soon be there, and lamps whose age is not known.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// The three lists that come before everything else.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OverdueLists {
    /// Running lamps at or past their limit at their last reading, most hours over first.
    pub at_limit: Vec<OverdueLamp>,
    /// Running lamps expected to reach their limit before the next planned visit or within the lead time, soonest first.
    pub soon: Vec<SoonLamp>,
    /// Running lamps whose hours are missing or disputed: treat as due.
    pub age_unknown: Vec<UnknownLamp>,
}

/// A running lamp at or past its limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OverdueLamp {
    /// Lamp class.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen.
    pub screen: String,
    /// Serial.
    pub serial: String,
    /// Hours at the last reading.
    pub reading_hours: f64,
    /// Day of the last reading.
    pub read_on: NaiveDate,
    /// The limit it is judged against: the smaller of the limit of the study and the maker's.
    pub limit_hours: f64,
    /// Hours past that limit; 0 at the limit.
    pub over_hours: f64,
    /// Log of the row.
    pub file: String,
    /// Line of the row.
    pub line: u64,
}

/// A running lamp expected to reach its limit soon.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SoonLamp {
    /// Lamp class.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen.
    pub screen: String,
    /// Serial.
    pub serial: String,
    /// Hours at the last reading.
    pub reading_hours: f64,
    /// Day of the last reading.
    pub read_on: NaiveDate,
    /// The limit it is judged against: the smaller of the limit of the study and the maker's.
    pub limit_hours: f64,
    /// Programme hours of its screen.
    pub programme_hours_per_week: f64,
    /// Hours expected at the next planned visit: the last reading and the programme hours since.
    pub expected_hours_at_visit: f64,
    /// Days from the as-of date until the limit is expected; 0 or below where it is expected to have passed it since the reading.
    pub days_left: i64,
    /// Whether it is expected to reach the limit before the next planned visit.
    pub before_next_visit: bool,
    /// Whether it is expected to reach the limit within the lead time of its class.
    pub within_lead_time: bool,
    /// Log of the row.
    pub file: String,
    /// Line of the row.
    pub line: u64,
}

/// A running lamp whose age is not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UnknownLamp {
    /// Lamp class, as far as known.
    pub lamp_class: String,
    /// Site, as far as known.
    pub site: String,
    /// Screen, as far as known.
    pub screen: String,
    /// Serial, as far as known.
    pub serial: String,
    /// Why its age is not known, in plain words.
    pub why: String,
    /// The rule of the finding.
    pub rule: String,
    /// Log of the row.
    pub file: String,
    /// Line of the row.
    pub line: u64,
}

impl OverdueLists {
    /// Whether any lamp is at or past its limit, or has to be treated so.
    pub fn any_due(&self) -> bool {
        !self.at_limit.is_empty() || !self.age_unknown.is_empty()
    }

    /// Whether all three lists are empty.
    pub fn is_empty(&self) -> bool {
        self.at_limit.is_empty() && self.soon.is_empty() && self.age_unknown.is_empty()
    }
}
