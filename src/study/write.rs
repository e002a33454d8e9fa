//! Writes the answers of a study to a folder: all of it, or nothing.

use std::collections::BTreeSet;
use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::leftovers::{MARK, Mark, clear};
use super::output::{InputFile, StudyOutput};
use super::table_last_buys::last_buys_csv;
use super::tables::{ledger_csv, lives_csv, overdue_csv};
use super::tables_places::stock_list_csv;
use super::tables_plan::purchase_plan_csv;
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// What a manifest says that it is.
const MANIFEST: &str = "relamp.manifest";

/// What went in, what came out and how, so that a run can be repeated and checked. It holds no clock time and no path
/// of the machine.
#[derive(Debug, Serialize)]
struct Manifest<'a> {
    format: &'static str,
    version: u32,
    made_by: &'static str,
    study: &'a str,
    as_of: String,
    newest_export: String,
    seed: u64,
    draws: u64,
    level: f64,
    options: &'a [(String, String)],
    target: String,
    inputs: &'a [InputFile],
    outputs: Vec<InputFile>,
}

/// Writes `results.json`, `ledger.csv`, `overdue.csv`, `lives.csv`, `purchase_plan.csv`, `stock_list.csv` where there is a
/// stock list, `claims.csv` where the study has claims, `last_buys.csv` where it has stops or last buys, the extra files and
/// `manifest.json` to a folder.
///
/// The files go to a new hidden sibling of the folder first, which then takes its name, so that a failure on the way
/// leaves what was there. A run that is ended by force may leave that sibling; the next one to the same folder removes
/// it by the mark in it. With `replace`, a folder that an earlier run wrote gives way to the new one. A folder that holds anything
/// else, such as the study and its logs, is never replaced. Folders above it that are missing are made, and stay if the
/// write fails.
///
/// # Errors
/// `study.folder_not_empty` for a folder that is not empty without `replace`, for one that holds what no run wrote, or
/// for a target that is no folder;
/// `study.file_name` for an extra file whose name is not a plain file name or is taken; `study.unwritable` where the
/// operating system refuses.
pub fn write(folder: impl AsRef<Path>, output: &StudyOutput, extra: &[(String, Vec<u8>)], replace: bool) -> Result<()> {
    let folder = folder.as_ref();
    check_target(folder, replace)?;
    let files = all_files(output, extra)?;
    let parent = match folder.parent() {
        Some(p) if !p.as_os_str().is_empty() => p.to_path_buf(),
        _ => PathBuf::from("."),
    };
    fs::create_dir_all(&parent).map_err(|e| refused(&parent, e))?;
    let fresh = sibling(folder, &parent, "new")?;
    let mark = Mark::set(&fresh).map_err(|e| refused(&fresh, e));
    let written = mark.and_then(|mark| {
        fill(&fresh, &files)?;
        put_in_place(&fresh, folder, &parent)?;
        Ok(mark)
    });
    match written {
        Ok(_mark) => {
            // Best effort from here on: the output is whole and in its place.
            let _ = fs::remove_file(folder.join(MARK));
            clear(folder, &parent);
            Ok(())
        }
        Err(error) => {
            // Best effort: the error of the write is what matters.
            let _ = fs::remove_dir_all(&fresh);
            Err(error)
        }
    }
}

/// Whether [`write()`] may write to a folder, to be asked before the work of a run rather than after it.
///
/// Nothing is made and nothing is touched. [`write()`] asks again, as the folder may have filled meanwhile.
///
/// # Errors
/// `study.folder_not_empty` as [`write()`]; `study.unwritable` where a file stands in the place of a folder above it.
///
/// # Examples
/// ```
/// use relamp::study::check_target;
/// assert!(check_target("not/yet/there", false).is_ok());
/// assert_eq!(check_target("data/demo", true).unwrap_err().slug(), "study.folder_not_empty");
/// ```
pub fn check_target(folder: impl AsRef<Path>, replace: bool) -> Result<()> {
    let folder = folder.as_ref();
    let place = Place::input(folder.to_string_lossy());
    let problem = |what: &str, expected: &str| {
        let problem = Problem::new("study.folder_not_empty", what).at(place.clone()).expected(expected);
        Err(Error::new(Kind::Io, problem))
    };
    if folder.file_name().is_none() {
        return problem("the target has no name of its own", "a folder by its name");
    }
    match fs::symlink_metadata(folder) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(e) => Err(refused(folder, e)),
        Ok(meta) if !meta.is_dir() => problem("the target is not a folder", "a folder, or a name not yet taken"),
        Ok(_) => {
            let mut names = BTreeSet::new();
            for entry in fs::read_dir(folder).map_err(|e| refused(folder, e))? {
                names.insert(entry.map_err(|e| refused(folder, e))?.file_name().to_string_lossy().into_owned());
            }
            if names.is_empty() {
                return Ok(());
            }
            let mut ours = written_before(folder);
            // A run ended by force just after its output was in place leaves its mark there.
            if !ours.is_empty() {
                ours.insert(MARK.to_owned());
            }
            match names.difference(&ours).next() {
                None if replace => Ok(()),
                None => problem(
                    "the target folder holds the output of an earlier run",
                    "an empty folder, or leave to replace that output: --replace on the command line, replace in a program",
                ),
                Some(_) if !replace => {
                    problem("the target folder is not empty", "an empty folder, or a name not yet taken")
                }
                Some(other) => problem(
                    &format!("the target folder holds what no run wrote, such as {other:?}"),
                    "a folder that an earlier run wrote and nothing was added to",
                ),
            }
        }
    }
}

/// Names of the files that an earlier run wrote to a folder, by its manifest; none without one.
pub(super) fn written_before(folder: &Path) -> BTreeSet<String> {
    #[derive(Deserialize)]
    struct Earlier {
        format: String,
        outputs: Vec<InputFile>,
    }
    let text = fs::read(folder.join("manifest.json")).unwrap_or_default();
    match serde_json::from_slice::<Earlier>(&text) {
        Ok(earlier) if earlier.format == MANIFEST => {
            earlier.outputs.into_iter().map(|f| f.file).chain(["manifest.json".to_owned()]).collect()
        }
        _ => BTreeSet::new(),
    }
}

/// Every file with its bytes, in order of writing; the manifest comes last and names the others.
fn all_files(output: &StudyOutput, extra: &[(String, Vec<u8>)]) -> Result<Vec<(String, Vec<u8>)>> {
    let results = &output.results;
    let mut files: Vec<(String, Vec<u8>)> = vec![
        ("results.json".to_owned(), results.to_json()?.into_bytes()),
        ("ledger.csv".to_owned(), ledger_csv(&output.evidence.ledger.findings).into_bytes()),
        ("overdue.csv".to_owned(), overdue_csv(&results.overdue).into_bytes()),
        ("lives.csv".to_owned(), lives_csv(&output.evidence.lives).into_bytes()),
    ];
    if let Some(plan) = &results.purchase_plan {
        files.push(("purchase_plan.csv".to_owned(), purchase_plan_csv(plan).into_bytes()));
    }
    if let Some(list) = &results.stock_list {
        files.push(("stock_list.csv".to_owned(), stock_list_csv(list).into_bytes()));
    }
    if let Some(claims) = &results.claims {
        files.push(("claims.csv".to_owned(), claims.list.to_csv().into_bytes()));
    }
    if let Some(page) = &results.last_buys {
        files.push(("last_buys.csv".to_owned(), last_buys_csv(page).into_bytes()));
    }
    for (name, bytes) in extra {
        let plain = Path::new(name).file_name().is_some_and(|f| f == name.as_str());
        if !plain || name == "manifest.json" || files.iter().any(|(n, _)| n == name) {
            let problem = Problem::new("study.file_name", "an extra file needs a plain name of its own");
            let problem = problem.got(format!("\"{name}\"")).expected("a file name without folders, not yet taken");
            return Err(Error::new(Kind::Input, problem));
        }
        files.push((name.clone(), bytes.clone()));
    }
    let manifest = Manifest {
        format: MANIFEST,
        version: 1,
        made_by: concat!("relamp ", env!("CARGO_PKG_VERSION")),
        study: &results.study.name,
        as_of: results.study.as_of.to_string(),
        newest_export: results.study.newest_export.to_string(),
        seed: results.study.seed,
        draws: results.study.draws_count,
        level: results.study.level_probability,
        options: &output.evidence.options,
        // Results hold to the last bit on one kind of machine and to 1e-10 on another.
        target: format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS),
        inputs: &output.evidence.inputs,
        outputs: files.iter().map(|(name, bytes)| describe(name, bytes)).collect(),
    };
    let mut text = serde_json::to_vec_pretty(&manifest).map_err(|e| {
        Error::new(Kind::Internal, Problem::new("study.manifest", "the manifest cannot be written as JSON"))
            .with_source(e)
    })?;
    text.push(b'\n');
    files.push(("manifest.json".to_owned(), text));
    Ok(files)
}

/// A file as the manifest names it.
pub(super) fn describe(name: &str, bytes: &[u8]) -> InputFile {
    InputFile { file: name.to_owned(), size_bytes: bytes.len() as u64, sha256: hex(&Sha256::digest(bytes)) }
}

/// A file on disk as the manifest names it, read as a stream.
pub(super) fn describe_file(name: &str, path: &Path) -> Result<InputFile> {
    let gone = |e: std::io::Error| {
        let problem = Problem::new("study.unreadable", "the file cannot be read").at(Place::input(name)).got(&e);
        Error::new(Kind::Io, problem).with_source(e)
    };
    let mut file = fs::File::open(path).map_err(gone)?;
    let mut hash = Sha256::new();
    let mut block = vec![0; 1 << 16];
    let mut size_bytes = 0;
    loop {
        let n = file.read(&mut block).map_err(gone)?;
        if n == 0 {
            break;
        }
        size_bytes += n as u64;
        hash.update(block.get(..n).unwrap_or_default());
    }
    Ok(InputFile { file: name.to_owned(), size_bytes, sha256: hex(&hash.finalize()) })
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// A name beside the folder that is not yet taken, made as a new folder.
fn sibling(folder: &Path, parent: &Path, what: &str) -> Result<PathBuf> {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    for i in 0..1000 {
        let path = parent.join(format!(".{name}.{what}-{}-{i}", std::process::id()));
        match fs::create_dir(&path) {
            Ok(()) => return Ok(path),
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(refused(parent, e)),
        }
    }
    let problem = Problem::new("study.unwritable", "no free name beside the target folder");
    Err(Error::new(Kind::Io, problem.at(Place::input(parent.to_string_lossy()))))
}

fn fill(fresh: &Path, files: &[(String, Vec<u8>)]) -> Result<()> {
    for (name, bytes) in files {
        let path = fresh.join(name);
        let mut file = fs::File::create_new(&path).map_err(|e| refused(&path, e))?;
        file.write_all(bytes).and_then(|()| file.sync_all()).map_err(|e| refused(&path, e))?;
    }
    Ok(())
}

/// The old folder steps aside, the new one takes its name, then the old one goes; if the name cannot be taken, the
/// old one comes back.
fn put_in_place(fresh: &Path, folder: &Path, parent: &Path) -> Result<()> {
    if !folder.exists() {
        return fs::rename(fresh, folder).map_err(|e| refused(folder, e));
    }
    let old = sibling(folder, parent, "old")?;
    if let Err(e) = fs::rename(folder, &old) {
        let _ = fs::remove_dir(&old);
        return Err(refused(folder, e));
    }
    if let Err(e) = fs::rename(fresh, folder) {
        let _ = fs::rename(&old, folder);
        return Err(refused(folder, e));
    }
    fs::remove_dir_all(&old).map_err(|e| refused(&old, e))
}

fn refused(path: &Path, error: std::io::Error) -> Error {
    let problem = Problem::new("study.unwritable", "the operating system refuses to write")
        .at(Place::input(path.to_string_lossy()))
        .got(&error);
    Error::new(Kind::Io, problem).with_source(error)
}
