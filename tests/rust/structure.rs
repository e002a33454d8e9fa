//! The shape of the source: imports point up the list of rooms, names of problems are unique, files stay short, and each
//! outside numeric library is named in one file only.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// From the foundations up; a room may use those before it.
const ROOMS: [&str; 17] = [
    "base",
    "records",
    "lives",
    "terms",
    "empirical",
    "family",
    "fit",
    "watch",
    "renewal",
    "policy",
    "demand",
    "warranty",
    "stock",
    "simulate",
    "replay",
    "study",
    "python",
];

fn files(dir: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
    out.sort();
}

/// Every source file below a folder of the crate: its path from there, and its text.
fn texts(folder: &str) -> Vec<(String, String)> {
    let root = Path::new(folder);
    let mut found = Vec::new();
    files(root, &mut found);
    found
        .iter()
        .map(|path| (path.strip_prefix(root).unwrap().display().to_string(), std::fs::read_to_string(path).unwrap()))
        .collect()
}

fn place(room: &str) -> Option<usize> {
    ROOMS.iter().position(|r| *r == room)
}

fn word(text: &str) -> &str {
    text.split(|c: char| !(c.is_alphanumeric() || c == '_')).next().unwrap_or("")
}

/// Lines that are code of the library: no comments, nothing after the tests of the file begin.
fn code(text: &str) -> impl Iterator<Item = &str> {
    text.lines()
        .take_while(|line| !line.starts_with("#[cfg(test)]"))
        .filter(|line| !line.trim_start().starts_with("//"))
}

#[test]
fn imports_point_up() {
    let (mut seen, mut wrong) = (0, Vec::new());
    for (path, text) in texts("src") {
        let Some(here) = place(path.split('/').next().unwrap_or("")) else { continue };
        for line in code(&text) {
            for part in line.split("crate::").skip(1) {
                if let Some(there) = place(word(part)) {
                    seen += 1;
                    if there > here {
                        wrong.push(format!("{path}: {}", line.trim()));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(seen > 100, "saw only {seen} imports");
}

#[test]
fn every_folder_is_a_known_room() {
    let mut seen = 0;
    for (path, _) in texts("src") {
        if let Some((room, _)) = path.split_once('/') {
            seen += 1;
            assert!(place(room).is_some() || room == "guide", "{path}");
        }
    }
    assert!(seen > 40, "saw only {seen} files");
}

#[test]
fn the_name_of_a_problem_has_one_place() {
    let mut places: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (path, text) in texts("src") {
        let text = code(&text).map(str::trim).collect::<Vec<_>>().join("\n");
        for part in text.split("Problem::new(").skip(1) {
            let Some(slug) = part.trim_start().strip_prefix('"').and_then(|p| p.split('"').next()) else { continue };
            places.entry(slug.to_owned()).or_default().push(path.clone());
        }
    }
    assert!(places.len() > 30, "saw only {} names", places.len());
    // One name may be given at several spots of one room, never in two rooms.
    for (slug, paths) in &places {
        let rooms: Vec<&str> = paths.iter().map(|p| p.split('/').next().unwrap_or("")).collect();
        assert!(rooms.iter().all(|r| *r == rooms[0]), "{slug} is given in {paths:?}");
        let shape = slug.split_once('.').is_some_and(|(room, what)| !room.is_empty() && !what.is_empty());
        assert!(
            shape && slug.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || "._".contains(c)),
            "{slug}"
        );
    }
}

#[test]
fn choices_of_our_own_are_the_constants_that_the_guide_names() {
    let page = std::fs::read_to_string("src/guide/choices.md").unwrap();
    let mut seen = 0;
    for line in page.lines().filter(|l| l.starts_with("| `")) {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        let [_, place, value, ..] = cells.as_slice() else { panic!("{line}") };
        let value = value.trim_matches('`');
        let parts: Vec<&str> = place.split('`').collect();
        let (name, file) = (parts[1], parts[3]);
        let text = std::fs::read_to_string(file).unwrap();
        let told = |l: &str| l.contains(&format!("const {name}: ")) && l.ends_with(&format!(" = {value};"));
        assert_eq!(text.lines().filter(|l| told(l)).count(), 1, "{name} = {value} in {file}");
        seen += 1;
    }
    assert!(seen > 10, "saw only {seen} choices");
}

#[test]
fn files_stay_short() {
    let mut seen = 0;
    for folder in ["src", "tests/rust", "benches", "data/generator"] {
        for (path, text) in texts(folder) {
            seen += 1;
            assert!(text.lines().count() <= 800, "{folder}/{path} has {} lines", text.lines().count());
        }
    }
    assert!(seen > 50, "saw only {seen} files");
}

#[test]
fn outside_libraries_are_named_in_their_file_only() {
    let allowed = |name: &str, path: &str| match name {
        "nalgebra" => path == "base/math/linalg.rs",
        "statrs" => path == "base/math/special.rs",
        "rand_chacha" => path == "base/random.rs",
        _ => path.starts_with("python/"),
    };
    let mut seen = 0;
    for (path, text) in texts("src") {
        for line in code(&text) {
            for name in ["nalgebra", "statrs", "rand_chacha", "pyo3", "numpy", "arrow_array", "arrow_schema"] {
                if line.contains(&format!("{name}::")) || line.contains(&format!("{name} ::")) {
                    seen += 1;
                    assert!(allowed(name, &path), "{path} names {name}: {}", line.trim());
                }
            }
        }
    }
    assert!(seen > 5, "saw only {seen} uses");
}

/// A count before a noun in the plural is written by `base::figure::counted`, or one lamp becomes "1 lamps".
#[test]
fn nouns_agree_with_their_counts() {
    const NOUNS: [&str; 20] = [
        "lamps",
        "rows",
        "failures",
        "draws",
        "days",
        "months",
        "problems",
        "cells",
        "columns",
        "ages",
        "entries",
        "replicates",
        "searches",
        "strikes",
        "sockets",
        "logs",
        "files",
        "spells",
        "lives",
        "periods",
    ];
    // Numbers that need not be whole, or that are never 1.
    const OTHER: [&str; 6] = [
        "{} of {} days",
        "{} of {days} days",
        "{FEWEST} to {MOST} failures",
        "{bound:.3} failures",
        "at least {FEWEST_DRAWS} draws",
        "{} lives for {}",
    ];
    let (mut helped, mut wrong) = (0, Vec::new());
    for (path, text) in texts("src") {
        for line in code(&text) {
            helped += line.matches("counted(").count();
            for rest in line.split("} ").skip(1) {
                let rest = rest.strip_prefix("more ").unwrap_or(rest);
                if NOUNS.contains(&word(rest)) && !OTHER.iter().any(|o| line.contains(o)) {
                    wrong.push(format!("{path}: {}", line.trim()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert!(helped > 50, "saw only {helped} counts");
}
