//! One screen of a chain with the lamp that burns there today.

use serde::{Deserialize, Serialize};

use super::exposure::SpanOfDays;
use super::stop::StopDate;

/// One screen: where it is, what burns there today, and how long it needs lamps of its class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Screen {
    /// Lamp class.
    pub class: String,
    /// Site.
    pub site: String,
    /// Depot that serves the site; empty where there is none.
    pub depot: String,
    /// Age of its lamp at the start of the as-of date; none where the age is not known, which counts as due now.
    pub age_hours: Option<f64>,
    /// Batch of its lamp, for [`SharedBy::Batch`](super::SharedBy::Batch); none where it is not known.
    pub batch: Option<String>,
    /// Programme hours in an ordinary week, 0 to 168.
    pub hours_per_week: f64,
    /// Name of the programme that shapes its hours over the year; none for the same hours every day.
    pub programme: Option<String>,
    /// Spans of its own, such as a refurbishment with the factor 0.
    pub spans: Vec<SpanOfDays>,
    /// First day on which it needs no more lamps of the class; none where it stays.
    pub stop: Option<StopDate>,
}

impl Screen {
    /// A screen with the same hours every day that stays.
    #[must_use]
    pub fn new(class: &str, site: &str, age_hours: Option<f64>, hours_per_week: f64) -> Self {
        Self {
            class: class.to_owned(),
            site: site.to_owned(),
            depot: String::new(),
            age_hours,
            batch: None,
            hours_per_week,
            programme: None,
            spans: Vec::new(),
            stop: None,
        }
    }
}
