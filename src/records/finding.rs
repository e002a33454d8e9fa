//! The ledger of findings: every row set aside, merged or doubtful, with its place and rule.

use std::collections::BTreeSet;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use super::said::wrong;
use crate::base::figure::{counted, fitting, whole};
use crate::base::sound::{Checks, Sound};

/// What became of the row a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Used as it stands, though doubtful.
    Used,
    /// Used as it stands: its owner has answered what was doubtful.
    Answered,
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
    /// Data record from 1, header and blank lines not counted; 0 for a finding about a whole log, see [`WHOLE_LOG`].
    pub row: u64,
    /// Physical line from 1; 0 for tables and for a finding about a whole log.
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

/// Rules about a log as a whole, whose rows do not bear out its column map. A reading and a study warn of each before any
/// figure.
pub const WHOLE_LOG: [&str; 14] = [
    "records.column_unreadable",
    "records.date_order",
    "records.hours_a_day",
    "records.hours_against_programme",
    "records.hours_and_strikes",
    "records.hours_first_seen",
    "records.lamps_in_turn",
    "records.lamps_used_when_fitted",
    "records.last_good_far",
    "records.reasons_unmapped",
    "records.screen_and_strikes",
    "records.site_elsewhere",
    "records.strikes_elsewhere",
    "records.supplier_and_batch",
];

/// Share of rows set aside above which a reading and a study warn that logs were most likely declared wrongly.
///
/// Our choice, without a source: the faults of logs as chains really export them come to a few rows in a hundred, while
/// a wrong date order, column or sign takes out whole files; one row in five lies well between the two.
pub const MOST_SET_ASIDE_SHARE: f64 = 0.2;
/// Rows from which one log among several is judged by the share of its own rows set aside.
///
/// Our choice, without a source: as many as a log as a whole is judged from.
const ROWS_OF_A_LOG: u64 = 20;

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
        let parts = self.used.checked_add(self.merged).and_then(|sum| sum.checked_add(self.set_aside));
        parts == Some(self.rows)
    }

    /// That more than [`MOST_SET_ASIDE_SHARE`] of the rows were set aside; empty where they were not.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Counts;
    /// let counts = Counts { rows: 10, used: 7, merged: 0, set_aside: 3 };
    /// assert!(counts.warning().starts_with("3 of 10 rows were set aside"));
    /// assert_eq!(Counts { used: 8, set_aside: 2, ..counts }.warning(), "");
    /// ```
    pub fn warning(&self) -> String {
        if self.set_aside as f64 <= MOST_SET_ASIDE_SHARE * self.rows as f64 {
            return String::new();
        }
        format!(
            "{} of {} {} set aside: look at the findings and at the declared conventions before using any figure",
            whole(self.set_aside as f64),
            counted(self.rows, "row"),
            fitting(self.set_aside, "was", "were")
        )
    }

    /// [`Counts::warning`] for one log of many, which a few rows do not raise.
    pub(crate) fn log_warning(&self) -> String {
        if self.rows < ROWS_OF_A_LOG { String::new() } else { self.warning() }
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

impl Ledger {
    /// What to know before using any figure: that many rows were set aside, of all logs or of one, see
    /// [`Counts::warning`], and what each log
    /// as a whole has against its column map, see [`WHOLE_LOG`]; empty where nothing is to be said.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::{Finding, Ledger, Outcome};
    /// let doubt = Finding {
    ///     file: "log.csv".into(), row: 0, line: 0, column: "why".into(), value: "30 of 30 endings".into(),
    ///     rule: "records.reasons_unmapped".into(), outcome: Outcome::Used, serial: String::new(),
    ///     sentence: "30 of 30 endings have no mapped reason".into(),
    /// };
    /// let ledger = Ledger { findings: vec![doubt], ..Ledger::default() };
    /// assert_eq!(ledger.warning(), "log.csv: 30 of 30 endings have no mapped reason");
    /// assert_eq!(Ledger::default().warning(), "");
    /// ```
    pub fn warning(&self) -> String {
        let mut rows = vec![self.counts.warning()];
        if self.counts.warning().is_empty() {
            let each = self.by_file.iter().map(|(file, counts)| (file, counts.log_warning()));
            rows = each.filter(|w| !w.1.is_empty()).map(|(file, warning)| format!("{file}: {warning}")).collect();
        }
        let asks = |f: &&Finding| WHOLE_LOG.contains(&f.rule.as_str()) && f.outcome != Outcome::Answered;
        let logs = self.findings.iter().filter(asks);
        let all: Vec<String> = rows
            .into_iter()
            .filter(|w| !w.is_empty())
            .chain(logs.map(|f| format!("{}: {}", f.file, f.sentence)))
            .collect();
        all.join("; ")
    }
}

/// The page on which every name of a problem stands: a test holds it against the source.
const PAGE: &str = include_str!("../guide/problems.md");

/// Whether this is the name of a problem that this library knows.
pub(crate) fn known_rule(rule: &str) -> bool {
    static NAMES: LazyLock<BTreeSet<&'static str>> = LazyLock::new(|| {
        let named = PAGE.lines().filter_map(|line| line.strip_prefix("| `")?.split_once('`'));
        named.map(|(name, _)| name).filter(|name| name.contains('.')).collect()
    });
    NAMES.contains(rule)
}

impl Sound for Finding {
    fn check(&self, c: &mut Checks) {
        c.need("rule", known_rule(&self.rule), &self.rule, "a name on the page of problems");
        if let Some((field, got, expected)) = wrong(self) {
            c.need(field, false, got, expected);
        }
    }
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
        let mut sum = 0_u64;
        for (i, (_, counts)) in self.by_file.iter().enumerate() {
            c.need(&format!("by_file[{i}]"), counts.reconcile(), counts.rows, "rows that reconcile");
            sum = sum.saturating_add(counts.rows);
        }
        let files = |of: fn(&Counts) -> u64| self.by_file.iter().map(|f| of(&f.1)).fold(0_u64, u64::saturating_add);
        for (field, got, expected) in [
            ("counts.used", used, files(|f| f.used)),
            ("counts.merged", merged, files(|f| f.merged)),
            ("counts.set_aside", set_aside, files(|f| f.set_aside)),
        ] {
            c.need(field, got == expected, got, format!("{expected}, all files together"));
        }
        c.parts("findings", &self.findings);
        c.need("by_file", sum == rows, sum, format!("{} in all", counted(rows, "row")));
    }
}
