//! The saved form of a tally. What is read back goes through the row rules again, so a saved text is no back door.

use serde::{Deserialize, Serialize};

use super::covariates::Covariate;
use super::rows::Rows;
use super::tally::{Group, Tally};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::saved::{self, Format};
use crate::records::Ending;

const FORMAT: Format = Format::new("tally", 1);

/// The columns as written; absent columns hold only defaults, infinity is null, endings are words.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SavedTally {
    low: Vec<f64>,
    #[serde(with = "saved::infinite_column")]
    high: Vec<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    entry: Option<Vec<f64>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    upper: Option<Vec<Option<f64>>>,
    group: Vec<u32>,
    ending: Vec<Ending>,
    count: Vec<u64>,
    groups: Vec<Group>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    covariates: Vec<Covariate>,
}

impl From<Tally> for SavedTally {
    fn from(tally: Tally) -> Self {
        let finite = |x: f64| x.is_finite().then_some(x);
        Self {
            low: tally.low,
            high: tally.high,
            entry: tally.entry,
            upper: tally.upper.map(|column| column.into_iter().map(finite).collect()),
            group: tally.group,
            ending: tally.ending.into_iter().map(|code| Ending::from_code(code).unwrap_or(Ending::Unknown)).collect(),
            count: tally.count,
            groups: tally.groups,
            covariates: tally.covariates,
        }
    }
}

impl TryFrom<SavedTally> for Tally {
    type Error = Error;

    fn try_from(saved: SavedTally) -> Result<Self> {
        if saved.low.is_empty() && saved.groups.is_empty() {
            return Ok(Tally::default());
        }
        let infinite = |x: Option<f64>| x.unwrap_or(f64::INFINITY);
        let rows = Rows {
            low: saved.low,
            high: saved.high,
            entry: saved.entry,
            upper: saved.upper.map(|column| column.into_iter().map(infinite).collect()),
            ending: Some(saved.ending),
            group: Some(saved.group),
            groups: saved.groups,
            covariates: saved.covariates,
            count: Some(saved.count),
        };
        let (tally, notes) = Tally::from_rows(&rows)?;
        // A doubt was told when the tally was made; a changed row was never in it.
        let changed = notes.iter().any(|n| n.slug == "lives.low_raised_to_entry");
        if !changed && tally.rows() == rows.len() {
            return Ok(tally);
        }
        let problem = Problem::new("lives.saved_not_canonical", "the saved rows are not those of a tally")
            .at(Place::input("saved tally"))
            .expected("distinct rows that keep the row rules");
        Err(Error::new(Kind::Input, problem))
    }
}

impl Tally {
    /// The saved form, JSON text; see [`Tally::from_json`].
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A tally from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`]; rows that break a row rule are named in the message.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// let rows = Rows { low: vec![900.0, 950.0], high: vec![900.0, f64::INFINITY], ..Rows::default() };
    /// let (tally, _) = Tally::from_rows(&rows).unwrap();
    /// assert_eq!(Tally::from_json(&tally.to_json().unwrap()).unwrap(), tally);
    /// ```
    pub fn from_json(text: &str) -> Result<Tally> {
        saved::load(FORMAT, text)
    }
}
