//! The answer key: every planted fault with its place.

use std::fmt::Write;

/// One planted fault. See [`crate::faults`] for what each kind looks like.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyEntry {
    /// Name of the kind, equal to the rule that should find it without the prefix `records.`.
    pub kind: &'static str,
    /// File, relative to the study's folder.
    pub file: String,
    /// Physical line, the first being 1.
    pub line: usize,
    /// Row after the first header, the first being 1; repeated headers and total rows are counted.
    pub row: usize,
    /// True serial of the lamp; empty for a repeated header or a total row.
    pub serial: String,
    /// What was done, with the true value.
    pub detail: String,
}

/// All planted faults, by file and line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AnswerKey {
    /// The faults.
    pub entries: Vec<KeyEntry>,
}

impl AnswerKey {
    /// The faults of one kind.
    pub fn of_kind<'a>(&'a self, kind: &'a str) -> impl Iterator<Item = &'a KeyEntry> {
        self.entries.iter().filter(move |e| e.kind == kind)
    }

    /// Number of faults of one kind.
    pub fn count(&self, kind: &str) -> usize {
        self.of_kind(kind).count()
    }

    /// The key as `answer_key.csv`: kind,file,line,row,serial,detail.
    pub fn to_csv(&self) -> String {
        let mut text = String::from("kind,file,line,row,serial,detail\n");
        for e in &self.entries {
            let detail = e.detail.replace('"', "\"\"");
            let _ = writeln!(text, "{},{},{},{},{},\"{detail}\"", e.kind, e.file, e.line, e.row, e.serial);
        }
        text
    }
}
