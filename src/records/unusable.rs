//! A log of which no row is left, or next to none: most often its columns are not those of the file.

use std::collections::BTreeMap;

use super::LogFormat;
use crate::base::error::{Place, Problem};
use crate::base::figure::{counted, fitting, whole};

/// Rows that a refused log names one by one; the rest are counted.
const LISTED_ROWS: usize = 50;

/// What speaks against one row: the rule, the line and the sentence.
pub(super) type Against<'f> = (&'f str, u64, &'f str);

/// `records.no_usable_rows` with the most frequent reason and the column map; `first`: whether these are the first faults only.
pub(super) fn no_usable_rows<'f>(
    format: &LogFormat,
    rows: u64,
    left: u64,
    first: bool,
    faults: impl Iterator<Item = Against<'f>>,
) -> Problem {
    let mut by_rule: BTreeMap<&str, (u64, u64, Against<'f>)> = BTreeMap::new();
    for fault in faults {
        let (rows, last, _) = by_rule.entry(fault.0).or_insert((0, 0, fault));
        // Two cells of one line are one row; rows of a table have no line.
        if *rows == 0 || fault.1 == 0 || *last != fault.1 {
            *rows += 1;
        }
        *last = fault.1;
    }
    let (what, rest) = match left {
        0 => ("no row of the log can be used", "none".to_owned()),
        n => ("almost no row of the log can be used", n.to_string()),
    };
    // The first rule by name where two are equally frequent.
    let most = by_rule.into_values().rev().max_by_key(|(n, _, _)| *n).map_or_else(String::new, |(n, _, against)| {
        let (rule, line, sentence) = against;
        let place = if line > 0 { format!(" line {line}") } else { String::new() };
        let least = if first { "at least " } else { "" };
        format!("; {least}{} {} for {rule}, such as{place}: {sentence}", whole(n as f64), fitting(n, "falls", "fall"))
    });
    let got = format!("{} of which {rest} {} left{most}", counted(rows, "row"), fitting(left.max(1), "is", "are"));
    let map: Vec<String> = format.columns.named().map(|(field, name)| format!("{field} = \"{name}\"")).collect();
    Problem::new("records.no_usable_rows", what)
        .at(Place::input(&format.file))
        .got(got)
        .expected(format!("rows that this column map fits: {}", map.join(", ")))
}

/// What speaks against the rows of a log, of which so many cannot be used: all of the first rows, and how many more there
/// are.
pub(super) fn rows_listed(format: &LogFormat, rows: u64, problems: impl Iterator<Item = Problem>) -> Vec<Problem> {
    let mut listed: Vec<Problem> = Vec::new();
    let mut told = 0;
    for problem in problems {
        if listed.last().is_none_or(|last| last.place.row != problem.place.row) {
            if told == LISTED_ROWS {
                break;
            }
            told += 1;
        }
        listed.push(problem);
    }
    let more = rows.saturating_sub(told as u64);
    if more > 0 {
        let what = format!("{} of the log cannot be used either", counted(more, "more row"));
        listed.push(Problem::new("records.no_usable_rows", what).at(Place::input(&format.file)));
    }
    listed
}
