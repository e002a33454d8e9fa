//! The files beside the logs, a stock count and a file of claims: what is wrong in any of them is told in one error.

use std::collections::BTreeSet;

use super::claims_run::Filed;
use super::open::Study;
use super::places::StoresKnown;
use crate::base::error::{Error, Kind, Result};
use crate::base::run::Run;
use crate::records::{Reading, Source};
use crate::warranty::{ended_lamps, read_filed};

/// What the files beside the logs hold, as the logs bear it out.
pub(super) struct Beside {
    pub(super) stores: Option<StoresKnown>,
    pub(super) filed: Filed,
}

impl Study {
    /// Depots, stock count and file of claims, or every problem of all of them.
    pub(super) fn beside(&self, reading: &Reading) -> Result<Beside> {
        match (self.stores(reading), self.filed(&ended_lamps(reading))) {
            (Ok(stores), Ok(filed)) => Ok(Beside { stores, filed }),
            (Ok(_), Err(wrong)) | (Err(wrong), Ok(_)) => Err(wrong),
            (Err(stores), Err(filed)) => Err(Error::gathered([stores.clone(), filed]).unwrap_or(stores)),
        }
    }

    /// What is wrong with the logs, with what is wrong in the files beside them by themselves.
    pub(super) fn with_files_beside(&self, logs: Error) -> Error {
        if logs.kind() == Kind::Stopped {
            return logs;
        }
        let source = |file: &str| Source::File(self.folder.join(file));
        let claims = self.declaration.claim_file.as_ref();
        let claims = claims.and_then(|f| read_filed(&f.file, source(&f.file), &f.format, &f.columns).err());
        let beside = [self.count(&BTreeSet::new()).err(), claims].into_iter().flatten();
        Error::gathered(std::iter::once(logs.clone()).chain(beside)).unwrap_or(logs)
    }

    /// What is wrong in the logs and the files beside them.
    pub(super) fn wrong_files(&self, run: &Run) -> Option<Error> {
        self.read(run).and_then(|reading| self.beside(&reading)).err()
    }
}
