//! A study ready to run: what was declared, and the folder its logs lie in.

use std::path::{Path, PathBuf};

use super::declare::{Declaration, FEWEST_DRAWS, MOST_DRAWS, outside_folder};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// How a study is opened.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StudyOptions {
    /// Lets the paths of logs leave the folder of the study file.
    pub outside_folder: bool,
    /// Number of draws in place of the declared one.
    pub draws: Option<usize>,
    /// Family for every class, such as `weibull`, in place of the one the records favour.
    pub family: Option<String>,
}

/// A study ready to run.
#[derive(Clone, Debug)]
pub struct Study {
    pub(super) declaration: Declaration,
    pub(super) folder: PathBuf,
    pub(super) file: PathBuf,
    pub(super) options: StudyOptions,
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
        let mut declaration = Declaration::read(path)?;
        if !options.outside_folder {
            let problems = outside_folder(&declaration.logs, &path.to_string_lossy());
            if !problems.is_empty() {
                return Err(Error::many(Kind::Study, problems));
            }
        }
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
        Ok(Self { declaration, folder, file: path.to_path_buf(), options })
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

    /// How it was opened.
    pub fn options(&self) -> &StudyOptions {
        &self.options
    }
}
