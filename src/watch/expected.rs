//! Failures expected and seen, by month and by what lamps are grouped by.

use std::collections::BTreeMap;
use std::fmt;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::month::Month;
use crate::base::error::Result;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::family::NamedLife;
use crate::records::{Ending, Word};

const FORMAT: Format = Format::new("expected_endings", 1);

/// What lamps are watched by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Watched {
    /// All lamps together.
    Fleet,
    /// The batch that is printed on the lamp.
    Batch,
    /// Who supplied it.
    Supplier,
    /// Where it burns.
    Site,
    /// The screen it burns in, with its site.
    Screen,
}

impl Watched {
    /// Each of them.
    pub const ALL: [Self; 5] = [Self::Fleet, Self::Batch, Self::Supplier, Self::Site, Self::Screen];

    /// Its word.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Fleet => "fleet",
            Self::Batch => "batch",
            Self::Supplier => "supplier",
            Self::Site => "site",
            Self::Screen => "screen",
        }
    }

    /// Of its word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|w| w.as_str() == word)
    }
}

impl fmt::Display for Watched {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// One month of one batch, supplier, site or screen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WatchedMonth {
    /// What it is watched by.
    pub by: Watched,
    /// Its name; empty for the fleet.
    pub name: String,
    /// The month.
    pub month: Month,
    /// Lamp hours burned in it.
    pub hours: f64,
    /// Failures expected of the lamps in it at their ages.
    pub expected: f64,
    /// Failures seen.
    pub observed: u64,
}

/// A lamp that burns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunningLamp {
    /// Serial of the lamp.
    pub serial: Word,
    /// Lamp class.
    pub lamp_class: Word,
    /// Supplier; empty where not recorded.
    pub supplier: Word,
    /// Batch; empty where not recorded.
    pub batch: Word,
    /// Site.
    pub site: Word,
    /// Screen.
    pub screen: Word,
    /// Age at its last reading, hours.
    pub hours: f64,
    /// Day of that reading.
    pub read_on: NaiveDate,
}

impl RunningLamp {
    /// Its name among what it is watched by; empty for the fleet, none where it is not recorded.
    #[must_use]
    pub fn name(&self, by: Watched) -> Option<String> {
        name(by, [&self.batch, &self.supplier, &self.site, &self.screen])
    }
}

/// The name of a lamp among what it is watched by.
pub(super) fn name(by: Watched, [batch, supplier, site, screen]: [&str; 4]) -> Option<String> {
    let name = match by {
        Watched::Fleet => return Some(String::new()),
        Watched::Batch => batch.to_owned(),
        Watched::Supplier => supplier.to_owned(),
        Watched::Site => site.to_owned(),
        Watched::Screen => format!("{site}, screen {screen}"),
    };
    (!name.is_empty()).then_some(name)
}

/// Failures expected at the lamps' ages and failures seen, month by month.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExpectedEndings {
    /// What lamps are watched by, in order.
    pub by: Vec<Watched>,
    /// The endings that count as failure.
    pub failure_endings: Vec<Ending>,
    /// The life that each lamp class was expected to have.
    pub models: BTreeMap<String, NamedLife>,
    /// In order of what is watched, name and month; months without a lamp are left out.
    pub months: Vec<WatchedMonth>,
    /// The lamps that burn, in order of serial.
    pub running: Vec<RunningLamp>,
    /// What to know when reading it.
    pub notes: Vec<String>,
}

impl ExpectedEndings {
    /// The saved form.
    ///
    /// # Errors
    /// Those of [`saved::save`].
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// Reads the saved form back.
    ///
    /// # Errors
    /// Those of [`saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}

impl Sound for ExpectedEndings {
    fn check(&self, c: &mut Checks) {
        c.need("by", !self.by.is_empty() && self.by.is_sorted_by(|a, b| a < b), "others", "each once, in order");
        for (name, life) in &self.models {
            c.part(&format!("models.{name}"), life);
        }
        let key = |m: &WatchedMonth| (m.by, m.name.clone(), m.month);
        let ordered = self.months.is_sorted_by(|a, b| key(a) < key(b));
        c.need("months", ordered, "another order", "what is watched, name and month in order, each once");
        for (i, m) in self.months.iter().enumerate() {
            c.need(&format!("months[{i}].by"), self.by.contains(&m.by), m.by, "one of `by`");
            c.there(
                &format!("months[{i}].name"),
                m.name.is_empty(),
                m.by == Watched::Fleet,
                "empty for the fleet only",
            );
            c.need(&format!("months[{i}].hours"), m.hours >= 0.0 && m.hours.is_finite(), m.hours, "0 or more");
            let bad = !(m.expected >= 0.0 && m.expected.is_finite());
            c.need(&format!("months[{i}].expected"), !bad, m.expected, "0 or more");
        }
        for (i, lamp) in self.running.iter().enumerate() {
            let holds = lamp.hours >= 0.0 && lamp.hours.is_finite();
            c.need(&format!("running[{i}].hours"), holds, lamp.hours, "0 or more");
            let known = self.models.contains_key(lamp.lamp_class.as_ref() as &str);
            c.need(&format!("running[{i}].lamp_class"), known, &lamp.lamp_class, "a class with a model");
        }
        c.need(
            "running",
            self.running.is_sorted_by(|a, b| a.serial < b.serial),
            "another order",
            "serials in order, each once",
        );
    }
}
