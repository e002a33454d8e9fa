//! How a log is written, as declared by its owner; nothing here is guessed.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// Character encoding of a file.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Encoding {
    /// UTF-8, with or without a byte-order mark.
    #[default]
    #[serde(rename = "utf-8")]
    Utf8,
    /// Windows code page 1252.
    #[serde(rename = "windows-1252")]
    Windows1252,
    /// UTF-16 with a byte-order mark, little-endian without one.
    #[serde(rename = "utf-16")]
    Utf16,
}

impl Encoding {
    /// Every encoding.
    pub const ALL: [Encoding; 3] = [Encoding::Utf8, Encoding::Windows1252, Encoding::Utf16];
}

/// Order of day, month and year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateOrder {
    /// 2025-12-31.
    Iso,
    /// 31.12.2025, 31/12/2025 or 31-12-2025.
    DayFirst,
    /// 12/31/2025.
    MonthFirst,
}

impl DateOrder {
    /// Every order.
    pub const ALL: [DateOrder; 3] = [DateOrder::Iso, DateOrder::DayFirst, DateOrder::MonthFirst];

    /// The name used in study files.
    pub fn as_str(self) -> &'static str {
        match self {
            DateOrder::Iso => "iso",
            DateOrder::DayFirst => "day-first",
            DateOrder::MonthFirst => "month-first",
        }
    }
}

/// Unit of the hour columns.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HoursUnit {
    /// Hours.
    #[default]
    Hours,
    /// Minutes.
    Minutes,
}

impl HoursUnit {
    /// Every unit.
    pub const ALL: [HoursUnit; 2] = [HoursUnit::Hours, HoursUnit::Minutes];
}

/// What a blank in the hours-at-fitting column means.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BlankAtFitting {
    /// The lamp was new: 0 h.
    New,
    /// Not known: the row is set aside with a finding.
    #[default]
    Unknown,
}

impl BlankAtFitting {
    /// Every meaning.
    pub const ALL: [BlankAtFitting; 2] = [BlankAtFitting::New, BlankAtFitting::Unknown];

    /// The name used in study files.
    pub fn as_str(self) -> &'static str {
        match self {
            BlankAtFitting::New => "new",
            BlankAtFitting::Unknown => "unknown",
        }
    }
}

/// Which column of the file holds what. Names are compared exactly after trimming.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogColumns {
    /// Serial number of the lamp.
    pub serial: String,
    /// Lamp class or type, as the log words it.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen within the site.
    pub screen: String,
    /// Date of fitting.
    pub fitted_on: String,
    /// Date of removal; blank while the lamp burns.
    pub removed_on: String,
    /// Reason of removal in the log's own words; blank while the lamp burns.
    pub reason: String,
    /// Lamp hours at removal, or at the last reading of a running lamp.
    pub hours: String,
    /// Date of the last reading of a running lamp.
    #[serde(default)]
    pub read_on: Option<String>,
    /// Lamp hours at fitting.
    #[serde(default)]
    pub hours_at_fitting: Option<String>,
    /// Lamp hours when the records began to watch a lamp that was already burning; blank otherwise.
    #[serde(default)]
    pub hours_first_seen: Option<String>,
    /// Lamp hours at the last reading with the lamp still good, where a failure is known only to lie after it.
    #[serde(default)]
    pub hours_last_good: Option<String>,
    /// Number of strikes.
    #[serde(default)]
    pub strikes: Option<String>,
    /// Supplier.
    #[serde(default)]
    pub supplier: Option<String>,
    /// Batch or date code.
    #[serde(default)]
    pub batch: Option<String>,
}

impl LogColumns {
    /// Every field that has a column, with the name of the column.
    pub(crate) fn named(&self) -> impl Iterator<Item = (&'static str, &str)> {
        let needed = [
            ("serial", &self.serial),
            ("lamp_class", &self.lamp_class),
            ("site", &self.site),
            ("screen", &self.screen),
            ("fitted_on", &self.fitted_on),
            ("removed_on", &self.removed_on),
            ("reason", &self.reason),
            ("hours", &self.hours),
        ];
        let optional = [
            ("read_on", &self.read_on),
            ("hours_at_fitting", &self.hours_at_fitting),
            ("hours_first_seen", &self.hours_first_seen),
            ("hours_last_good", &self.hours_last_good),
            ("strikes", &self.strikes),
            ("supplier", &self.supplier),
            ("batch", &self.batch),
        ];
        let given = optional.into_iter().filter_map(|(field, name)| Some((field, name.as_ref()?)));
        needed.into_iter().chain(given).map(|(field, name)| (field, name.as_str()))
    }
}

/// One log as its owner declares it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LogFormat {
    /// Path of the file, relative to the study's folder.
    pub file: String,
    /// Character encoding.
    #[serde(default)]
    pub encoding: Encoding,
    /// Separator between cells.
    #[serde(default = "comma")]
    pub delimiter: char,
    /// Decimal sign.
    #[serde(default = "point")]
    pub decimal: char,
    /// Thousands separator, if the file uses one.
    #[serde(default)]
    pub thousands: Option<char>,
    /// Order of day, month and year; without it, dates that read two ways are refused.
    #[serde(default)]
    pub dates: Option<DateOrder>,
    /// Unit of all hour columns.
    #[serde(default)]
    pub hours_unit: HoursUnit,
    /// What a blank in the hours-at-fitting column means.
    #[serde(default)]
    pub blank_hours_at_fitting: BlankAtFitting,
    /// Day the records began; lamps fitted earlier came under observation late.
    #[serde(default)]
    pub records_from: Option<NaiveDate>,
    /// Day the export was made.
    pub exported_on: NaiveDate,
    /// Which column holds what.
    pub columns: LogColumns,
}

fn comma() -> char {
    ','
}

fn point() -> char {
    '.'
}

/// Whether cells can be separated by a character.
pub(crate) fn usable_delimiter(c: char) -> bool {
    c.is_ascii() && !matches!(c, '"' | '\r' | '\n' | '\0')
}

/// Whether a character can be a decimal sign or stand between thousands.
pub(crate) fn usable_sign(c: char) -> bool {
    !c.is_ascii_alphanumeric() && !matches!(c, '-' | '+' | '"')
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A study file and the saved form use the same words.
    #[test]
    fn words_are_those_of_the_saved_form() {
        fn same<T: Copy + Serialize>(all: &[T], name: fn(T) -> &'static str) {
            assert!(all.len() > 1);
            for &one in all {
                assert_eq!(serde_json::to_value(one).unwrap(), name(one));
            }
        }
        same(&Encoding::ALL, Encoding::as_str);
        same(&DateOrder::ALL, DateOrder::as_str);
        same(&HoursUnit::ALL, HoursUnit::as_str);
        same(&BlankAtFitting::ALL, BlankAtFitting::as_str);
    }
}
