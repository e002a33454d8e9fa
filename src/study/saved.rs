//! The saved form of results: JSON `{format, version, made_by, body}`.

use serde::{Deserialize, Serialize};

use super::results::StudyResults;
use crate::base::error::{Error, Kind, Place, Problem, Result};

const FORMAT: &str = "relamp.study_results";
const VERSION: u32 = 1;
/// Larger texts are refused before they are parsed; a study of 100 classes stays under 10 MiB.
const LARGEST_BYTES: usize = 64 << 20;

/// Read first, so that a newer version is refused by its name and not by a field this version does not know.
#[derive(Deserialize)]
struct Label {
    format: String,
    version: u32,
}

#[derive(Serialize)]
struct Out<'a> {
    format: &'static str,
    version: u32,
    made_by: String,
    body: &'a StudyResults,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct In {
    #[serde(rename = "format")]
    _format: String,
    #[serde(rename = "version")]
    _version: u32,
    #[serde(rename = "made_by")]
    _made_by: String,
    body: StudyResults,
}

impl StudyResults {
    /// The results as text that [`StudyResults::from_json`] reads back to equal bits.
    ///
    /// # Errors
    /// `study.results_unwritable` where a number is not finite, which would be a defect of this library.
    pub fn to_json(&self) -> Result<String> {
        let out = Out {
            format: FORMAT,
            version: VERSION,
            made_by: concat!("relamp ", env!("CARGO_PKG_VERSION")).to_owned(),
            body: self,
        };
        let mut text = serde_json::to_string_pretty(&out).map_err(|e| {
            Error::new(
                Kind::Internal,
                Problem::new("study.results_unwritable", "the results cannot be written as JSON"),
            )
            .with_source(e)
        })?;
        text.push('\n');
        Ok(text)
    }

    /// Results from text written by [`StudyResults::to_json`].
    ///
    /// # Errors
    /// `study.results_format` for anything else, `study.results_version` for a version this release does not know;
    /// an unknown field is refused.
    pub fn from_json(text: &str) -> Result<Self> {
        let place = || Place::input("results");
        if text.len() > LARGEST_BYTES {
            return Err(Error::new(
                Kind::Limit,
                Problem::new("study.results_too_large", "the text is too large for saved results")
                    .at(place())
                    .got(format!("{} bytes", text.len()))
                    .expected(format!("at most {LARGEST_BYTES} bytes")),
            ));
        }
        let wrong = |e: serde_json::Error| {
            let line = e.line() as u64;
            Error::new(
                Kind::Input,
                Problem::new("study.results_format", "this is not a saved study result")
                    .at(place().line(line))
                    .got(&e)
                    .expected(format!("JSON with format \"{FORMAT}\"")),
            )
            .with_source(e)
        };
        let label: Label = serde_json::from_str(text).map_err(wrong)?;
        if label.format != FORMAT {
            return Err(Error::new(
                Kind::Input,
                Problem::new("study.results_format", "this is not a saved study result")
                    .at(place().column("format"))
                    .got(label.format)
                    .expected(FORMAT),
            ));
        }
        if label.version != VERSION {
            return Err(Error::new(
                Kind::Input,
                Problem::new("study.results_version", "this version of saved results is not known here")
                    .at(place().column("version"))
                    .got(label.version)
                    .expected(format!("version {VERSION}")),
            ));
        }
        let whole: In = serde_json::from_str(text).map_err(wrong)?;
        Ok(whole.body)
    }
}
