//! The ledger of findings: every row set aside, merged or doubtful, with its place and rule.

use serde::{Deserialize, Serialize};

use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};

/// What became of the row a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Used as it stands, though doubtful.
    Used,
    /// Joined with another row that says the same.
    Merged,
    /// Not used.
    SetAside,
}

/// One finding about one row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// File or table as named by the caller.
    pub file: String,
    /// Data record from 1, header and blank lines not counted.
    pub row: u64,
    /// Physical line from 1; 0 for tables.
    pub line: u64,
    /// Column as the file names it; empty where the whole row is meant.
    pub column: String,
    /// The cell exactly as the file has it, decoded, with its own decimal sign, order of dates and spaces; so that it
    /// can be searched there. What was understood by it may stand in the sentence.
    pub value: String,
    /// Stable slug such as `records.hours_negative`.
    pub rule: String,
    /// What became of the row.
    pub outcome: Outcome,
    /// Serial of the lamp, where known.
    pub serial: String,
    /// One plain sentence.
    pub sentence: String,
}

/// How many rows came in and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Counts {
    /// Data rows read.
    pub rows: u64,
    /// Rows that became spells.
    pub used: u64,
    /// Rows joined with another that says the same.
    pub merged: u64,
    /// Rows not used.
    pub set_aside: u64,
}

impl Counts {
    /// Whether rows in = used + merged + set aside.
    pub fn reconcile(&self) -> bool {
        self.rows == self.used + self.merged + self.set_aside
    }
}

/// Every finding of a reading, in file and line order, with the counts that reconcile.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ledger {
    /// Findings in the order file, line, rule.
    pub findings: Vec<Finding>,
    /// Counts over all files.
    pub counts: Counts,
    /// Counts by file, in the order given.
    pub by_file: Vec<(String, Counts)>,
}

impl Sound for Ledger {
    fn check(&self, c: &mut Checks) {
        let Counts { rows, used, merged, set_aside } = self.counts;
        c.need(
            "counts.rows",
            self.counts.reconcile(),
            rows,
            format!("{used} used, {merged} merged, {set_aside} set aside"),
        );
        let mut sum = 0;
        for (i, (_, counts)) in self.by_file.iter().enumerate() {
            c.need(&format!("by_file[{i}]"), counts.reconcile(), counts.rows, "rows that reconcile");
            sum += counts.rows;
        }
        c.need("by_file", sum == rows, sum, format!("{} in all", counted(rows, "row")));
    }
}
