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

    /// Results from text written by [`StudyResults::to_json`], checked: what follows from other fields must follow.
    ///
    /// Taken as written, since nothing else in the text tells them: the seed; the day of the newest export; the visit
    /// interval where no lamp is listed as expected to reach its limit; printed hours that are not the limit; row, line and
    /// value of a finding; in `seen` the counts of late entries and of failures known to an interval, hours and oldest age (a
    /// [`super::StudyOutput`] is held to its lives); site, screen, row and
    /// programme hours of a listed lamp; the share of one cause in the incidences, whose sum is checked; what each kind
    /// of change costs, which the cost curve implies; the lamps needed on plan and after a failure, whose sum is checked;
    /// and inside the bounds that other fields set, the ages of the steps of a curve and the lamps at risk at round ages,
    /// the p values that are not the smallest, the shares of draws, the ends of intervals by draws or by profile and of the
    /// bands of the model and of costs, the counts of months and the mean of the lamps needed over the lead time.
    ///
    /// # Errors
    /// `saved.unreadable` for text that is not this form, an unknown field included; `saved.other_format` for the saved
    /// form of something else; `saved.newer_version` for one made by a later version of the library.
    pub fn from_json(text: &str) -> Result<Self> {
        load(FORMAT, text)
    }
}
