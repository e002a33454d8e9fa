//! Folders that a run which was ended by force left beside its output, and the mark by which they are known.
//!
//! A run writes to a hidden sibling of its output. The first thing in there is a mark, which the run holds locked; the
//! operating system frees the lock when the run ends, however it ends. So a folder whose mark is not locked belongs to a
//! run that is no more.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use super::write::written_before;

/// Name of the mark inside a folder under way.
pub(super) const MARK: &str = ".unfinished";

/// What stands in it.
const WORDS: &str = "relamp: output under way; of no use once the run that writes it has ended\n";

/// The mark of a run that is at work, locked as long as this lives.
#[derive(Debug)]
pub(super) struct Mark {
    _locked: File,
}

impl Mark {
    /// Marks a folder.
    pub(super) fn set(folder: &Path) -> io::Result<Self> {
        let mut file = File::create_new(folder.join(MARK))?;
        // Locked before it has its words, so that no other run takes it for the mark of a dead one. Where the file
        // system knows no locks, no run will ever clear the folder.
        let _ = file.try_lock();
        file.write_all(WORDS.as_bytes())?;
        Ok(Self { _locked: file })
    }
}

/// The mark in a folder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Found {
    /// None, or something else of that name.
    None,
    /// Held by a run at work, or of a file system that cannot tell.
    Held,
    /// Of a run that is no more.
    Left,
}

fn find(folder: &Path) -> Found {
    let path = folder.join(MARK);
    if !fs::symlink_metadata(&path).is_ok_and(|m| m.is_file()) {
        return Found::None;
    }
    match (fs::read(&path), File::open(&path)) {
        (Ok(words), Ok(file)) if words == WORDS.as_bytes() => match file.try_lock() {
            Ok(()) => Found::Left,
            Err(_) => Found::Held,
        },
        _ => Found::None,
    }
}

/// Removes what runs to this output that were ended by force left beside it: folders under way with the mark of a run
/// that is no more, and earlier outputs that had stepped aside. Nothing else is touched, nothing at all while another
/// run to the same output is at work, and no failure is told: leftovers do no harm.
pub(super) fn clear(folder: &Path, parent: &Path) {
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let beside = |what: &str| -> Vec<std::path::PathBuf> {
        let start = format!(".{name}.{what}-");
        let entries = fs::read_dir(parent).into_iter().flatten().flatten();
        let ours = entries.filter(|e| e.file_name().to_string_lossy().starts_with(&start));
        ours.filter(|e| e.file_type().is_ok_and(|t| t.is_dir())).map(|e| e.path()).collect()
    };
    let under_way: Vec<_> = beside("new").into_iter().map(|path| (find(&path), path)).collect();
    if under_way.iter().any(|(found, _)| *found == Found::Held) {
        return;
    }
    for (found, path) in under_way {
        if found == Found::Left && files(&path).is_some() {
            let _ = fs::remove_dir_all(&path);
        }
    }
    for path in beside("old") {
        let ours = written_before(&path);
        if files(&path).is_some_and(|names| !names.is_empty() && names.is_subset(&ours)) {
            let _ = fs::remove_dir_all(&path);
        }
    }
}

/// Names in a folder, if all of them are plain files.
fn files(folder: &Path) -> Option<BTreeSet<String>> {
    let mut names = BTreeSet::new();
    for entry in fs::read_dir(folder).ok()? {
        let entry = entry.ok()?;
        entry.file_type().ok().filter(fs::FileType::is_file)?;
        names.insert(entry.file_name().to_string_lossy().into_owned());
    }
    Some(names)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(name: &str) -> std::path::PathBuf {
        let place = std::env::temp_dir().join(format!("relamp-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&place);
        fs::create_dir_all(&place).unwrap();
        place
    }

    /// What a run that was ended by force leaves.
    fn left(folder: &Path) {
        fs::create_dir(folder).unwrap();
        drop(Mark::set(folder).unwrap());
        fs::write(folder.join("results.json"), "half").unwrap();
    }

    #[test]
    fn only_what_carries_the_mark_of_a_dead_run_is_cleared() {
        let parent = place("leftovers");
        let target = parent.join("out");
        left(&parent.join(".out.new-1-0"));
        left(&parent.join(".out.new-2-7"));
        // Another output, no mark, a mark of other words, a folder inside, and a plain file: none of them is ours.
        left(&parent.join(".other.new-1-0"));
        fs::create_dir(parent.join(".out.new-3-0")).unwrap();
        fs::write(parent.join(".out.new-3-0/results.json"), "mine").unwrap();
        fs::create_dir(parent.join(".out.new-4-0")).unwrap();
        fs::write(parent.join(".out.new-4-0").join(MARK), "mine").unwrap();
        left(&parent.join(".out.new-5-0"));
        fs::create_dir(parent.join(".out.new-5-0/inside")).unwrap();
        fs::write(parent.join(".out.new-6-0"), "mine").unwrap();
        fs::create_dir(parent.join(".out.old-1-0")).unwrap();
        fs::write(parent.join(".out.old-1-0/letter.txt"), "mine").unwrap();
        clear(&target, &parent);
        let mut names: Vec<String> =
            fs::read_dir(&parent).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        let kept = [".other.new-1-0", ".out.new-3-0", ".out.new-4-0", ".out.new-5-0", ".out.new-6-0", ".out.old-1-0"];
        assert_eq!(names, kept);
        fs::remove_dir_all(parent).unwrap();
    }

    #[test]
    fn nothing_is_cleared_while_a_run_to_the_same_output_is_at_work() {
        let parent = place("at-work");
        let target = parent.join("out");
        left(&parent.join(".out.new-1-0"));
        let busy = parent.join(".out.new-2-0");
        fs::create_dir(&busy).unwrap();
        let mark = Mark::set(&busy).unwrap();
        clear(&target, &parent);
        assert!(busy.exists() && parent.join(".out.new-1-0").exists());
        drop(mark);
        clear(&target, &parent);
        assert!(!busy.exists() && !parent.join(".out.new-1-0").exists());
        fs::remove_dir_all(parent).unwrap();
    }
}
