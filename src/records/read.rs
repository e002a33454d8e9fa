//! Reading logs: files, bytes or columns in, spells and lives and a ledger out.

use std::path::{Path, PathBuf};

use super::{ClassNames, LogFormat, Reading, ReasonMap};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::run::Run;

/// How strictly logs are read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Refuse logs with any row that must be set aside, with every problem in one error.
    pub strict: bool,
    /// Allow files outside the base folder.
    pub outside_folder: bool,
}

/// Where the rows of a log come from.
#[derive(Clone, Debug)]
pub enum Source<'a> {
    /// A file.
    File(PathBuf),
    /// The bytes of a file.
    Bytes(&'a [u8]),
}

/// Reads the logs of a study from files under `folder`.
///
/// # Errors
/// Named problems for a missing file, missing column, empty log, unknown class, undeclared convention or exceeded
/// limit; with [`Options::strict`] for every row set aside.
pub fn read(
    formats: &[LogFormat],
    folder: &Path,
    reasons: &ReasonMap,
    classes: &ClassNames,
    options: Options,
    run: &Run,
) -> Result<Reading> {
    let logs: Vec<_> = formats.iter().map(|f| (f, Source::File(folder.join(&f.file)))).collect();
    read_sources(&logs, reasons, classes, options, run)
}

/// Reads logs from any source; the file name in each format names the place in findings.
///
/// # Errors
/// As [`read`].
pub fn read_sources(
    logs: &[(&LogFormat, Source<'_>)],
    _reasons: &ReasonMap,
    _classes: &ClassNames,
    _options: Options,
    _run: &Run,
) -> Result<Reading> {
    let problem = Problem::new("records.no_logs", "reading is not in place yet").got(logs.len());
    Err(Error::new(Kind::Internal, problem))
}
