//! A study ready to run: what was declared, and the folder its logs lie in.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::declare::{Declaration, FEWEST_DRAWS, MOST_DRAWS};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};

const FORMAT: Format = Format::new("study", 1);

/// How a study is opened.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudyOptions {
    /// Lets the paths of logs leave the folder of the study file.
    pub outside_folder: bool,
    /// Number of draws in place of the declared one.
    pub draws: Option<usize>,
    /// Family for every class, such as `weibull`, in place of the one the records favour.
    pub family: Option<String>,
}

/// A study ready to run. Two are equal where file, text and options are.
#[derive(Clone, Debug)]
pub struct Study {
    pub(super) declaration: Declaration,
    pub(super) folder: PathBuf,
    pub(super) file: PathBuf,
    pub(super) text: String,
    pub(super) options: StudyOptions,
}

impl PartialEq for Study {
    fn eq(&self, other: &Self) -> bool {
        (&self.file, &self.text, &self.options) == (&other.file, &other.text, &other.options)
    }
}

/// The saved form: what was opened. It is declared anew when it is read back.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Saved {
    file: PathBuf,
    text: String,
    options: StudyOptions,
}

// The declaration checks the text.
impl Sound for Saved {
    fn check(&self, _: &mut Checks) {}
}

impl Study {
    /// Opens a study file; the paths of its logs are relative to the folder it lies in, and stay below it.
    ///
    /// # Errors
    /// Those of [`Declaration::read`], and `study.path_outside` for a log whose path leaves the folder.
    pub fn open(path: impl AsRef<Path>) -> Result<Self> {
        Self::open_with(path, StudyOptions::default())
    }

    /// Opens a study file with options.
    ///
    /// # Errors
    /// As [`Study::open`], and `study.number_out_of_range` unless there are 20 to 100,000 draws.
    pub fn open_with(path: impl AsRef<Path>, options: StudyOptions) -> Result<Self> {
        let path = path.as_ref();
        Self::of_text(path, Declaration::text(path)?, options)
    }

    fn of_text(path: &Path, text: String, options: StudyOptions) -> Result<Self> {
        let inside_folder = !options.outside_folder;
        let mut declaration = Declaration::parse_in_folder(&text, &path.to_string_lossy(), inside_folder)?;
        if let Some(family) = &options.family {
            crate::family::family(family)?;
        }
        if let Some(draws) = options.draws {
            if !(FEWEST_DRAWS..=MOST_DRAWS).contains(&draws) {
                let problem = Problem::new("study.number_out_of_range", "draws is not acceptable")
                    .at(Place::input("draws"))
                    .got(draws)
                    .expected(format!("a whole number from {FEWEST_DRAWS} to {MOST_DRAWS}"));
                return Err(Error::new(Kind::Study, problem));
            }
            declaration.draws = draws;
        }
        let folder = path.parent().map_or_else(PathBuf::new, Path::to_path_buf);
        Ok(Self { declaration, folder, file: path.to_path_buf(), text, options })
    }

    /// The saved form, JSON text; see [`Study::from_json`].
    ///
    /// # Errors
    /// `saved.unwritable` for a path that is not Unicode.
    pub fn to_json(&self) -> Result<String> {
        let saved = Saved { file: self.file.clone(), text: self.text.clone(), options: self.options.clone() };
        saved::save(FORMAT, &saved)
    }

    /// A study from its saved form: the text of the study file, its path as given, and the options. The logs are not in
    /// it: they are looked for beside that path when the study runs.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`] and of [`Study::open_with`] on the text.
    ///
    /// # Examples
    /// ```
    /// use relamp::study::Study;
    /// let study = Study::open("data/demo/study.toml")?;
    /// assert_eq!(Study::from_json(&study.to_json()?)?, study);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn from_json(text: &str) -> Result<Self> {
        let Saved { file, text, options } = saved::load(FORMAT, text)?;
        Self::of_text(&file, text, options)
    }

    /// What was declared.
    pub fn declaration(&self) -> &Declaration {
        &self.declaration
    }

    /// The folder that the paths of its logs are relative to.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The study file.
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// The text of the study file when it was opened.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// How it was opened.
    pub fn options(&self) -> &StudyOptions {
        &self.options
    }
}
