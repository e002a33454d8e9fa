//! Reading logs: files, bytes or columns in, spells and lives and a ledger out.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Component, Path};

use super::date_order::told_once;
use super::log::{Reader, Ways};
use super::table::{Source, Table, TableFormat};
use super::unusable::{no_usable_rows, rows_listed};
use super::{ClassNames, Counts, Ledger, LogFormat, NumberFormat, Outcome, Reading, ReasonMap, join, rows, rules};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::run::Run;

/// Rows from which a log of which the rules leave almost none is refused, though other logs have some.
///
/// Our choice, without a source: the few lamps of a small site may all be disputed, which is a matter for the ledger;
/// ten rows without one that can be used are another file than the column map describes.
const ROWS_TO_REFUSE: u64 = 10;
/// Share of the rows of such a log up to which the rest is taken for chance.
///
/// Our choice, without a source: where the columns of fitting and removal are exchanged, a lamp that failed on the day
/// of its fitting still fits; of a log that is declared rightly the rules leave most.
const LEFT_BY_CHANCE: f64 = 0.02;

/// How strictly logs are read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Refuse logs with any row that must be set aside, with every problem in one error.
    pub strict: bool,
    /// Allow files outside the base folder.
    pub outside_folder: bool,
}

/// Reads the logs of a study from files under `folder`.
///
/// Rows that cannot be used are set aside with a finding; `ledger.counts` accounts for every row.
///
/// # Errors
/// With the place of each: `records.no_logs`; `records.file_missing`, `records.file_unreadable`,
/// `records.file_outside`; the reader's own (see [`super::Table::open`]); `records.column_missing` with the columns
/// there are and the nearest spelling; `records.column_shared`, `records.column_unnamed`, `records.column_twice`;
/// `records.no_rows` for an empty log; `records.no_usable_rows` where no row of a log can be read as declared, or the
/// rules leave none of all logs or next to none of one with ten rows or more, with the most frequent reason, the column
/// map and the first rows;
/// `records.number_two_readings` and `records.date_two_readings` with both readings where a convention is not declared;
/// `records.hours_two_units`; `records.class_not_in_study` where a lamp class that the study does not name stands in
/// two rows or more and in more than one row in twenty; `records.hours_a_day`, `records.hours_and_strikes`,
/// `records.hours_first_seen`, `records.days_among_hours`, `records.place_holds_reasons` and `records.removals_undated`
/// where columns of a log with twenty rows or more hold plainly something else than the column map says; with [`Options::strict`] a problem for every row set aside.
///
/// # Examples
/// ```
/// use relamp::records::{ClassNames, Ending, LogFormat, Options, ReasonMap, Source, read_sources};
/// let format: LogFormat = serde_json::from_value(serde_json::json!({
///     "file": "log.csv", "dates": "iso", "exported_on": "2025-12-28", "blank_hours_at_fitting": "new",
///     "columns": {"serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen",
///                 "fitted_on": "in", "removed_on": "out", "reason": "why", "hours": "hours"},
/// }))?;
/// let text = "serial,class,site,screen,in,out,why,hours\nA1,2 kW,S,1,2025-01-01,2025-06-01,popped,900\n";
/// let reasons = ReasonMap::new([("popped", Ending::Burst)])?;
/// let source = Source::Bytes(text.as_bytes());
/// let reading = read_sources(
///     &[(&format, source)], &reasons, &ClassNames::any(), Options::default(), &relamp::Run::new(),
/// )?;
/// assert_eq!(reading.lives.get(0).map(|life| life.end_hours), Some(900.0));
/// assert!(reading.ledger.counts.reconcile() && reading.ledger.findings.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read(
    formats: &[LogFormat],
    folder: &Path,
    reasons: &ReasonMap,
    classes: &ClassNames,
    options: Options,
    run: &Run,
) -> Result<Reading> {
    let root = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let root = root.canonicalize();
    let outside = |f: &&LogFormat| {
        let below = Path::new(&f.file).components().all(|c| matches!(c, Component::Normal(_) | Component::CurDir));
        // A link may lead out of the folder too.
        let leads_out = match (&root, folder.join(&f.file).canonicalize()) {
            (Ok(root), Ok(file)) => !file.starts_with(root),
            _ => false,
        };
        !below || leads_out
    };
    let strays: Vec<Problem> = formats
        .iter()
        .filter(outside)
        .map(|f| {
            let problem = Problem::new("records.file_outside", "the file may lie outside the study's folder");
            problem.at(Place::input(&f.file)).expected("a path below the folder, without .., that no link leads out of")
        })
        .collect();
    if !options.outside_folder && !strays.is_empty() {
        return Err(Error::many(Kind::Study, strays));
    }
    let logs: Vec<_> = formats.iter().map(|f| (f, Source::File(folder.join(&f.file)))).collect();
    read_sources(&logs, reasons, classes, options, run)
}

/// Reads logs from any source; the file name in each format names the place in findings.
///
/// # Errors
/// As [`read`]. Problems of several logs are reported together.
pub fn read_sources(
    logs: &[(&LogFormat, Source<'_>)],
    reasons: &ReasonMap,
    classes: &ClassNames,
    options: Options,
    run: &Run,
) -> Result<Reading> {
    read_in_ways(logs, reasons, classes, options, run, Ways { part: LEAST_PART, plain: true })
}

/// Least length of a part of a log that is read for itself, bytes.
const LEAST_PART: usize = 1 << 18;

/// The same in given ways.
fn read_in_ways(
    logs: &[(&LogFormat, Source<'_>)],
    reasons: &ReasonMap,
    classes: &ClassNames,
    options: Options,
    run: &Run,
    ways: Ways,
) -> Result<Reading> {
    if logs.is_empty() {
        return Err(Error::new(Kind::Study, Problem::new("records.no_logs", "no log is given")));
    }
    let mut reader = Reader::new(logs.iter().map(|l| l.0).collect(), reasons, classes, ways);
    let mut refused: Option<(Kind, Vec<Problem>)> = None;
    let mut lone = None;
    for (i, (format, source)) in logs.iter().enumerate() {
        match reader.read(i as u32, format, source.clone(), run) {
            Ok(()) => {}
            Err(e) if e.kind() == Kind::Stopped => return Err(e),
            Err(e) => {
                let (_, problems) = refused.get_or_insert((e.kind(), Vec::new()));
                problems.extend_from_slice(e.problems());
                lone = Some(e);
            }
        }
    }
    let undeclared = std::mem::take(&mut reader.problems);
    match (refused, lone) {
        // One refusal keeps its cause from the operating system.
        (Some((_, problems)), Some(e)) if undeclared.is_empty() && problems.len() == e.problems().len() => {
            return Err(e);
        }
        (Some((kind, mut problems)), _) => {
            problems.extend(undeclared);
            return Err(Error::many(kind, problems));
        }
        _ if !undeclared.is_empty() => return Err(Error::many(Kind::Study, undeclared)),
        _ => {}
    }
    let mut rows = reader.rows;
    rows.index();
    rules::apply(&mut rows);
    run.check()?;
    let lost = lost_logs(&rows.counts);
    let rows::Finished { ledger, disputed, problems } = rows.finish(options.strict || !lost.is_empty());
    if !lost.is_empty() {
        let lost = lost.into_iter().filter_map(|log| rows.formats.get(log).zip(ledger.by_file.get(log)));
        let told = lost.flat_map(|(format, (_, counts))| lost_log(&ledger, format, counts, &problems));
        return Err(Error::many(Kind::Input, told.collect()));
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let (spells, lives) = join::spells_and_lives(rows);
    let disputed_count = disputed.len() as u64;
    Ok(Reading { spells, lives, ledger, disputed, disputed_count })
}

/// Logs of which the rules left no row, or next to none, though each row could be read.
fn lost_logs(counts: &[Counts]) -> Vec<usize> {
    let nothing = counts.iter().all(|c| left(c) == 0);
    let few = |c: &Counts| c.rows >= ROWS_TO_REFUSE && left(c) as f64 <= LEFT_BY_CHANCE * c.rows as f64;
    let lost = counts.iter().enumerate().filter(|(_, c)| c.rows > 0 && (nothing || few(c)));
    lost.map(|(log, _)| log).collect()
}

/// What to say of such a log: the most frequent reason, then the rows.
fn lost_log(ledger: &Ledger, format: &LogFormat, counts: &Counts, rows: &[Problem]) -> Vec<Problem> {
    let of_file = ledger.findings.iter().filter(|f| f.file == format.file && f.outcome == Outcome::SetAside);
    let faults = of_file.map(|f| (f.rule.as_str(), f.line, f.sentence.as_str()));
    let rows = rows.iter().filter(|p| p.place.input == format.file).cloned().collect();
    let mut told = vec![no_usable_rows(format, counts.rows, left(counts), false, faults)];
    let (order, left, rows) = told_once(format, counts.set_aside, rows);
    told.extend(order);
    told.extend(rows_listed(format, left, rows.into_iter()));
    told
}

fn left(counts: &Counts) -> u64 {
    counts.used + counts.merged
}

/// The cells of one column of a file, as written, on some lines of it.
pub(crate) fn cells(
    format: &LogFormat,
    folder: &Path,
    column: &str,
    lines: &BTreeSet<u64>,
) -> Result<BTreeMap<u64, String>> {
    let numbers = NumberFormat { decimal: format.decimal, thousands: format.thousands };
    let plain = TableFormat { encoding: format.encoding, delimiter: format.delimiter, numbers, dates: format.dates };
    let mut table = Table::open(&format.file, Source::File(folder.join(&format.file)), &plain)?;
    let at = table.find(column)?;
    let mut found = BTreeMap::new();
    while found.len() < lines.len() && table.advance()? {
        if lines.contains(&table.line()) {
            found.insert(table.line(), table.written(at));
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::base::sound::Checks;
    use crate::records::{Column, Encoding, Ending, Values, Word};

    const HEADER: &str = "s,c,h,k,i,o,w,t,n,a\n";

    fn log(encoding: Encoding) -> LogFormat {
        let format: LogFormat = serde_json::from_value(serde_json::json!({
            "file": "log.csv", "exported_on": "2025-12-28", "blank_hours_at_fitting": "new",
            "columns": {"serial": "s", "lamp_class": "c", "site": "h", "screen": "k", "fitted_on": "i",
                "removed_on": "o", "reason": "w", "hours": "t", "strikes": "n", "hours_at_fitting": "a"},
        }))
        .unwrap();
        LogFormat { encoding, ..format }
    }

    /// The reading or its problems, as text, in given ways on a number of threads.
    fn told(logs: &[(&LogFormat, Source<'_>)], ways: Ways, threads: usize) -> String {
        let reasons = ReasonMap::new([("plan", Ending::Planned), ("burst", Ending::Burst)]).unwrap();
        let classes = ClassNames::new([("2.0 kW", ["2kW"])]).unwrap();
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let read = || read_in_ways(logs, &reasons, &classes, Options::default(), &Run::new(), ways);
        match pool.install(read) {
            Ok(reading) => {
                // What is read keeps every rule that a saved reading is held to.
                Checks::of("reading", &reading).unwrap();
                serde_json::to_string(&reading).unwrap()
            }
            Err(e) => format!("{:?}", e.problems()),
        }
    }

    fn same_in_parts(logs: &[(&LogFormat, Source<'_>)]) {
        let whole = told(logs, Ways { part: usize::MAX, plain: false }, 1);
        for (part, threads, plain) in [(1, 7, true), (40, 2, false), (300, 3, true), (usize::MAX, 1, true)] {
            assert_eq!(told(logs, Ways { part, plain }, threads), whole, "parts of {part}, {plain}");
        }
    }

    /// A cell that is mostly good, by its column.
    fn cell(column: usize) -> BoxedStrategy<String> {
        let good = match column {
            0 => "A[0-9O]{1,2}",
            1 => "2kW|2\\.0 kW",
            2 | 3 => "[1-3]",
            4 => "2021-0[1-9]-1[0-9]",
            5 => "2022-0[1-9]-1[0-9]|",
            6 => "plan|burst|",
            7 => "[1-9][0-9]{2,3}",
            _ => "[0-9]{0,2}",
        };
        let odd = "|x|3kW|1,234|02/03/2021|-5|\"\"\"q\"\"\"|\"a\nb\"|\"c\r\nd\"|total|\u{e4}|2030-01-01";
        prop_oneof![40 => good.prop_map(String::from), 1 => odd.prop_map(String::from)].boxed()
    }

    fn text() -> impl Strategy<Value = String> {
        let row = (0..10).map(cell).collect::<Vec<_>>().prop_map(|cells| cells.join(","));
        let line = (row, prop_oneof![8 => Just("\n"), 2 => Just("\r\n"), 1 => Just("\n \n"), 1 => Just("\r")]);
        prop::collection::vec(line, 1..60).prop_map(|lines| {
            let text: String = lines.into_iter().map(|(row, end)| row + end).collect();
            // No line break after the last.
            HEADER.to_owned() + text.trim_end()
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn a_log_reads_the_same_in_parts(text in text(), other in text(), mark in any::<bool>()) {
            let format = log(Encoding::Utf8);
            let text = if mark { format!("\u{feff}{text}") } else { text };
            same_in_parts(&[(&format, Source::Bytes(text.as_bytes())), (&format, Source::Bytes(other.as_bytes()))]);
        }

        #[test]
        fn a_log_of_random_bytes_reads_the_same_in_parts(
            bytes in prop::collection::vec(prop::sample::select(b"A12,,,,,,\n\n\r\"- \xC3\xA4\xFF".to_vec()), 0..300),
        ) {
            for encoding in Encoding::ALL {
                let format = log(encoding);
                let text: Vec<u8> = match encoding {
                    Encoding::Utf16 => HEADER.bytes().chain(bytes.iter().copied()).flat_map(|b| [b, 0]).collect(),
                    _ => HEADER.bytes().chain(bytes.iter().copied()).collect(),
                };
                same_in_parts(&[(&format, Source::Bytes(&text))]);
            }
        }
    }

    #[test]
    fn many_undeclared_conventions_end_the_reading_at_the_same_row() {
        let mut rows = String::new();
        rows.extend((0..900).map(|i| format!("A{i},2kW,S,1,01/02/2021,2022-01-01,plan,900,,\n")));
        let text = format!("{HEADER}{rows}x,\"never closed");
        let format = log(Encoding::Utf8);
        same_in_parts(&[(&format, Source::Bytes(text.as_bytes()))]);
        let short = format!("{HEADER}{}x,\"never closed", rows.split_at(rows.len() / 9).0);
        same_in_parts(&[(&format, Source::Bytes(short.as_bytes())), (&format, Source::Bytes(text.as_bytes()))]);
    }

    #[test]
    fn columns_read_the_same_in_parts() {
        let cells = |of: &dyn Fn(usize) -> String| Values::Text((0..97).map(|i| Some(Word::from(of(i)))).collect());
        let columns = [
            ("s", cells(&|i| format!("A{}", i % 71))),
            ("c", cells(&|i| if i == 50 { "9kW".into() } else { "2kW".into() })),
            ("h", cells(&|i| (i % 3).to_string())),
            ("k", cells(&|i| (i % 2).to_string())),
            ("i", cells(&|i| format!("2021-01-{:02}", 1 + i % 28))),
            ("o", cells(&|i| if i % 9 == 0 { String::new() } else { "2021-06-01".into() })),
            ("w", cells(&|i| if i % 9 == 0 { String::new() } else { "burst".into() })),
            ("t", Values::Number((0..97).map(|i| (i != 60).then_some(f64::from(i) - 1.0)).collect())),
            ("n", cells(&|i| if i == 70 { "few".into() } else { "9".into() })),
            ("a", cells(&|_| "0".into())),
        ];
        let columns = columns.map(|(name, values)| Column { name: name.into(), values });
        let format = log(Encoding::Utf8);
        same_in_parts(&[(&format, Source::Columns(&columns))]);
        let ways = Ways { part: 1, plain: true };
        assert!(told(&[(&format, Source::Columns(&columns))], ways, 3).contains("\"row\":71"));
    }
}
