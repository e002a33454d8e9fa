//! A study ready to run: what was declared, and the folder its logs lie in.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::declare::{Declaration, FEWEST_DRAWS, MOST_DRAWS};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::records::can_open;

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

/// The mistakes of a study file, with what is wrong in the files that it names as far as it declares them.
fn mistakes_of_all(mistakes: Error, path: &Path, text: String, options: StudyOptions, run: &Run) -> Error {
    let parts = Declaration::parts(&text, &path.to_string_lossy(), !options.outside_folder);
    // Files of another folder are not opened.
    if parts.problems.iter().any(|p| p.slug == "study.path_outside") {
        return mistakes;
    }
    let told = |table: &str| {
        let of_table = |p: &Problem| p.place.column.as_deref().is_some_and(|c| c.starts_with(table));
        parts.problems.iter().any(of_table)
    };
    // With a log left out, its sites would seem to be unknown, and with a name of a class its lamps.
    let wrong: Vec<Error> = if let Some(mut declared) = parts.declared.filter(|_| !told("log") && !told("class")) {
        // What is read otherwise than its owner meant shows faults that are none.
        declared.stores.stock_count.take_if(|_| told("stock_count"));
        declared.claim_file.take_if(|_| told("claims"));
        Study::of(declared, path, text, options).wrong_files(run).into_iter().collect()
    } else {
        let folder = path.parent().unwrap_or(Path::new(""));
        parts.files.iter().filter_map(|file| can_open(file, &folder.join(file)).err()).collect()
    };
    Error::gathered([mistakes.clone()].into_iter().chain(wrong)).unwrap_or(mistakes)
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
    /// Those of [`Declaration::read`], and `study.path_outside` for a log whose path leaves the folder. Beside mistakes of
    /// the study file also those of [`Study::read`] and of the files beside the logs, as far as the file declares them, so
    /// that one error tells everything.
    pub fn open(path: impl AsRef<Path>) -> Result<Self> {
        Self::open_with(path, StudyOptions::default())
    }

    /// Opens a study file with options.
    ///
    /// # Errors
    /// As [`Study::open`], and `study.number_out_of_range` unless there are 20 to 100,000 draws.
    pub fn open_with(path: impl AsRef<Path>, options: StudyOptions) -> Result<Self> {
        Self::open_or_stop(path.as_ref(), options, &Run::new())
    }

    /// The same, which a long look through the files of a study with mistakes lets the caller stop.
    pub(crate) fn open_or_stop(path: &Path, options: StudyOptions, run: &Run) -> Result<Self> {
        let text = Declaration::text(path)?;
        Self::of_text(path, text.clone(), options.clone())
            .map_err(|mistakes| mistakes_of_all(mistakes, path, text, options, run))
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
        Ok(Self::of(declaration, path, text, options))
    }

    fn of(declaration: Declaration, path: &Path, text: String, options: StudyOptions) -> Self {
        let folder = path.parent().map_or_else(PathBuf::new, Path::to_path_buf);
        Self { declaration, folder, file: path.to_path_buf(), text, options }
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
