//! A chain as files in a folder.

use std::path::{Path, PathBuf};
use std::{fs, io};

use crate::Chain;

/// Writes a chain to a folder that does not exist or is empty, and gives the paths written.
///
/// # Errors
/// When the folder holds anything, or a file cannot be written.
pub fn write(chain: &Chain, folder: &Path) -> io::Result<Vec<PathBuf>> {
    if folder.exists() && fs::read_dir(folder)?.next().is_some() {
        let text = format!("{} is not empty; name a new or an empty folder", folder.display());
        return Err(io::Error::new(io::ErrorKind::AlreadyExists, text));
    }
    let mut paths = Vec::new();
    for (name, bytes) in &chain.files {
        let path = folder.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        fs::write(&path, bytes)?;
        paths.push(path);
    }
    Ok(paths)
}
