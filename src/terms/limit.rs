//! The hour limit: the age that no advice may pass.

use serde::{Deserialize, Serialize};

/// Hours as the maker prints them, each with the same source.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintedHours {
    /// Hours the warranty covers.
    #[serde(default)]
    pub warranty_hours: Option<f64>,
    /// Average life.
    #[serde(default)]
    pub average_life_hours: Option<f64>,
    /// Limit of use.
    #[serde(default)]
    pub maximum_hours: Option<f64>,
    /// Where they are printed.
    pub source: String,
}

/// Where an hour limit comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitOrigin {
    /// The maker's limit of use.
    MakerMaximum,
    /// The warranty hours, as no limit of use is printed.
    Warranty,
    /// The user's own limit with a recorded reason.
    Override {
        /// Why.
        reason: String,
    },
}

/// The age that no advice may pass. It can be made only from printed hours or with a reason.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HourLimit {
    hours: f64,
    maker_hours: f64,
    origin: LimitOrigin,
}
