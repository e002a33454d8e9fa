//! The saved form of results.

use super::results::StudyResults;
use crate::base::error::Result;
use crate::base::saved::{Format, load, save_readable};

const FORMAT: Format = Format::new("relamp.study_results", 1);

impl StudyResults {
    /// The results as text that [`StudyResults::from_json`] reads back to equal bits: `results.json`.
    ///
    /// # Errors
    /// `saved.unwritable` where a number is not finite, which would be a defect of this library.
    pub fn to_json(&self) -> Result<String> {
        save_readable(FORMAT, self)
    }

    /// Results from text written by [`StudyResults::to_json`].
    ///
    /// # Errors
    /// `saved.unreadable` for text that is not this form, an unknown field included; `saved.other_format` for the saved
    /// form of something else; `saved.newer_version` for one made by a later version of the library.
    pub fn from_json(text: &str) -> Result<Self> {
        load(FORMAT, text)
    }
}
