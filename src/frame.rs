//! `DataFrame` and Parquet in and out, for Rust callers (feature `polars`). It translates and computes nothing.
//!
//! Start with [`rows_from_frame`]; what it returns goes into [`Tally::from_rows`]. The same columns come out of
//! [`frame_from_tally`], so a tally survives the round trip, through Parquet too.
//!
//! | column | type | missing column | null |
//! |---|---|---|---|
//! | `low` | number, hours | refused | refused |
//! | `high` | number, hours | refused | right-censored |
//! | `entry` | number, hours | 0 | 0 |
//! | `upper` | number, hours | infinite | infinite |
//! | `ending` | text, see [`Ending::as_str`] | stated by `high` | refused |
//! | `stratum`, `cluster` | text | one group | empty |
//! | `count` | whole number | 1 | refused |
//!
//! A column with another name is refused: a misspelt `entry` must not pass for no entry.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::Path;

use polars::prelude::{
    Column, DataFrame, DataType, NamedFrom, ParquetReader, ParquetWriter, PolarsError, SerReader, Series,
};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::lives::{Group, Rows, Tally};
use crate::records::{Ending, Finding};

const COLUMNS: [&str; 8] = ["low", "high", "entry", "upper", "ending", "stratum", "cluster", "count"];

/// Rows of censored lives from a DataFrame with the columns named on the [page of this module](self).
///
/// # Errors
/// `frame.column_unknown`, `frame.column_missing`, `frame.column_type` (text where numbers are due, or the reverse),
/// `frame.null`, `frame.ending_unknown`, `lives.count_not_whole`; all that apply at once.
///
/// # Examples
/// ```
/// use polars::df;
/// use relamp::frame::rows_from_frame;
/// use relamp::lives::Tally;
/// let frame = df!("low" => [900.0, 1500.0], "high" => [Some(900.0), None], "stratum" => ["2.0 kW", "2.0 kW"]).unwrap();
/// let (tally, _) = Tally::from_rows(&rows_from_frame(&frame).unwrap()).unwrap();
/// assert_eq!((tally.lamps(), tally.failures()), (2, 1));
/// ```
pub fn rows_from_frame(frame: &DataFrame) -> Result<Rows> {
    let mut problems: Vec<Problem> = frame
        .get_column_names()
        .into_iter()
        .filter(|name| !COLUMNS.contains(&name.as_str()))
        .map(|name| {
            Problem::new("frame.column_unknown", "this column has no meaning here")
                .at(Place::input("frame").column(name.as_str()))
                .expected(COLUMNS.join(", "))
        })
        .collect();
    for name in ["low", "high"] {
        if frame.column(name).is_err() {
            problems.push(
                Problem::new("frame.column_missing", "this column is needed").at(Place::input("frame").column(name)),
            );
        }
    }
    let low = numbers(frame, "low", None, &mut problems);
    let high = numbers(frame, "high", Some(f64::INFINITY), &mut problems);
    let entry = numbers(frame, "entry", Some(0.0), &mut problems);
    let upper = numbers(frame, "upper", Some(f64::INFINITY), &mut problems);
    let ending = endings(frame, &mut problems);
    let count = counts(frame, &mut problems);
    let stratum = words(frame, "stratum", &mut problems);
    let cluster = words(frame, "cluster", &mut problems);
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let (group, groups) = groups(stratum.as_deref(), cluster.as_deref());
    Ok(Rows {
        low: low.unwrap_or_default(),
        high: high.unwrap_or_default(),
        entry,
        upper,
        ending,
        group,
        groups,
        count,
        covariates: Vec::new(),
    })
}

/// A tally as a DataFrame: one line per distinct row, in canonical order; infinite ages are null.
///
/// # Errors
/// `frame.refused` where polars refuses, which would be a defect of this library.
pub fn frame_from_tally(tally: &Tally) -> Result<DataFrame> {
    let finite = |x: &f64| x.is_finite().then_some(*x);
    let high: Vec<Option<f64>> = tally.high().iter().map(finite).collect();
    let word = |code: &u16| Ending::from_code(*code).unwrap_or(Ending::Unknown).as_str();
    let endings: Vec<&str> = tally.ending().iter().map(word).collect();
    let of_group = |part: fn(&Group) -> &str| -> Vec<&str> {
        tally.group().iter().map(|&g| tally.groups().get(g as usize).map_or("", part)).collect()
    };
    let mut columns = vec![column("low", tally.low()), column("high", &high)];
    if let Some(entry) = tally.entry() {
        columns.push(column("entry", entry));
    }
    if let Some(upper) = tally.upper() {
        let upper: Vec<Option<f64>> = upper.iter().map(finite).collect();
        columns.push(column("upper", &upper));
    }
    columns.push(column("ending", &endings));
    columns.push(column("stratum", &of_group(|g| &g.stratum)));
    columns.push(column("cluster", &of_group(|g| &g.cluster)));
    columns.push(column("count", tally.count()));
    DataFrame::new(tally.rows(), columns).map_err(|e| refused("tally", e))
}

/// The findings of a reading as a DataFrame, one line per finding, text as it stands in the log.
///
/// # Errors
/// `frame.refused` where polars refuses, which would be a defect of this library.
pub fn frame_from_findings(findings: &[Finding]) -> Result<DataFrame> {
    let text = |part: fn(&Finding) -> &str| -> Vec<&str> { findings.iter().map(part).collect() };
    let outcome = |f: &Finding| match f.outcome {
        crate::records::Outcome::Used => "used",
        crate::records::Outcome::Answered => "answered",
        crate::records::Outcome::Merged => "merged",
        crate::records::Outcome::SetAside => "set_aside",
    };
    let rows: Vec<u64> = findings.iter().map(|f| f.row).collect();
    let lines: Vec<u64> = findings.iter().map(|f| f.line).collect();
    let outcomes: Vec<&str> = findings.iter().map(outcome).collect();
    let columns = vec![
        column("file", &text(|f| &f.file)),
        column("row", &rows),
        column("line", &lines),
        column("column", &text(|f| &f.column)),
        column("value", &text(|f| &f.value)),
        column("rule", &text(|f| &f.rule)),
        column("outcome", &outcomes),
        column("serial", &text(|f| &f.serial)),
        column("sentence", &text(|f| &f.sentence)),
    ];
    DataFrame::new(findings.len(), columns).map_err(|e| refused("findings", e))
}

/// A DataFrame from a Parquet file.
///
/// # Errors
/// `frame.file` where the file cannot be opened, `frame.refused` where it is no Parquet file.
pub fn read_parquet(path: &Path) -> Result<DataFrame> {
    let file = File::open(path).map_err(|e| unreadable(path, "cannot be opened", e))?;
    ParquetReader::new(file).finish().map_err(|e| refused(&path.display().to_string(), e))
}

/// Writes a DataFrame as a Parquet file: first to a sibling, which takes the name when it is complete.
///
/// # Errors
/// `frame.file` where the operating system refuses, `frame.refused` where polars does.
pub fn write_parquet(frame: &DataFrame, path: &Path) -> Result<()> {
    let mut sibling = path.as_os_str().to_owned();
    sibling.push(".part");
    let sibling = Path::new(&sibling);
    let file = File::create(sibling).map_err(|e| unreadable(sibling, "cannot be created", e))?;
    // The writer only reorders the chunks inside the columns, which are shared, so this copy is of pointers.
    let mut frame = frame.clone();
    if let Err(e) = ParquetWriter::new(file).finish(&mut frame) {
        let _ = std::fs::remove_file(sibling);
        return Err(refused(&path.display().to_string(), e));
    }
    std::fs::rename(sibling, path).map_err(|e| unreadable(path, "cannot be replaced", e))
}

fn column<T, Phantom: ?Sized>(name: &str, values: T) -> Column
where
    Series: NamedFrom<T, Phantom>,
{
    Series::new(name.into(), values).into()
}

fn refused(input: &str, error: PolarsError) -> Error {
    let problem = Problem::new("frame.refused", "polars refuses this").at(Place::input(input)).got(&error);
    Error::new(Kind::Input, problem).with_source(error)
}

fn unreadable(path: &Path, what: &str, error: std::io::Error) -> Error {
    let place = Place::input(path.display().to_string());
    Error::new(Kind::Io, Problem::new("frame.file", what).at(place).got(&error)).with_source(error)
}

fn wrong_type(name: &str, got: &DataType, expected: &str) -> Problem {
    Problem::new("frame.column_type", "the column has another type")
        .at(Place::input("frame").column(name))
        .got(got)
        .expected(expected)
}

fn null(name: &str, i: usize) -> Problem {
    Problem::new("frame.null", "the value is missing").at(Place::input("frame").row(i as u64 + 1).column(name))
}

/// A column of numbers; the type is looked at before the cast, which would turn text into nulls quietly.
fn numbers(frame: &DataFrame, name: &str, of_null: Option<f64>, problems: &mut Vec<Problem>) -> Option<Vec<f64>> {
    let given = frame.column(name).ok()?;
    let all_null = given.null_count() == given.len();
    if !given.dtype().is_primitive_numeric() && !all_null {
        problems.push(wrong_type(name, given.dtype(), "numbers"));
        return None;
    }
    let Ok(cast) = given.strict_cast(&DataType::Float64) else {
        problems.push(wrong_type(name, given.dtype(), "numbers"));
        return None;
    };
    let values = cast.f64().ok()?;
    let mut numbers = Vec::with_capacity(values.len());
    for (i, value) in values.iter().enumerate() {
        match value.or(of_null) {
            Some(x) => numbers.push(x),
            None => problems.push(null(name, i)),
        }
    }
    Some(numbers)
}

fn counts(frame: &DataFrame, problems: &mut Vec<Problem>) -> Option<Vec<u64>> {
    let counts = numbers(frame, "count", None, problems)?;
    match Rows::whole_counts(&counts) {
        Ok(counts) => Some(counts),
        Err(error) => {
            problems.extend(error.problems().iter().cloned());
            None
        }
    }
}

fn words(frame: &DataFrame, name: &str, problems: &mut Vec<Problem>) -> Option<Vec<Option<String>>> {
    let given = frame.column(name).ok()?;
    let Ok(values) = given.str() else {
        problems.push(wrong_type(name, given.dtype(), "text"));
        return None;
    };
    Some(values.iter().map(|word| word.map(str::to_owned)).collect())
}

fn endings(frame: &DataFrame, problems: &mut Vec<Problem>) -> Option<Vec<Ending>> {
    let mut endings = Vec::new();
    for (i, word) in words(frame, "ending", problems)?.into_iter().enumerate() {
        let Some(word) = word else {
            problems.push(null("ending", i));
            continue;
        };
        match Ending::parse(&word) {
            Some(ending) => endings.push(ending),
            None => problems.push(
                Problem::new("frame.ending_unknown", "this word is no ending")
                    .at(Place::input("frame").row(i as u64 + 1).column("ending"))
                    .got(word)
                    .expected(Ending::ALL.map(Ending::as_str).join(", ")),
            ),
        }
    }
    Some(endings)
}

/// Numbers the distinct groups in order of name, so that the order of rows does not show.
fn groups(stratum: Option<&[Option<String>]>, cluster: Option<&[Option<String>]>) -> (Option<Vec<u32>>, Vec<Group>) {
    let rows = stratum.or(cluster).map_or(0, <[_]>::len);
    if stratum.is_none() && cluster.is_none() {
        return (None, Vec::new());
    }
    let word = |words: Option<&[Option<String>]>, i: usize| {
        words.and_then(|w| w.get(i).cloned().flatten()).unwrap_or_default()
    };
    let keys: Vec<Group> =
        (0..rows).map(|i| Group { stratum: word(stratum, i), cluster: word(cluster, i), ..Group::default() }).collect();
    let mut number: BTreeMap<Group, u32> = keys.iter().map(|key| (key.clone(), 0)).collect();
    for (next, place) in number.values_mut().enumerate() {
        *place = next as u32;
    }
    let group = keys.iter().map(|key| number.get(key).copied().unwrap_or_default()).collect();
    (Some(group), number.into_keys().collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use polars::df;

    fn tally(frame: &DataFrame) -> Tally {
        Tally::from_rows(&rows_from_frame(frame).unwrap()).unwrap().0
    }

    fn full() -> DataFrame {
        df!(
            "low" => [900_i64, 1500, 300, 900],
            "high" => [Some(900.0), None, Some(400.0), Some(900.0)],
            "entry" => [None, Some(200.0), Some(100.0), None],
            "ending" => ["burst", "planned", "dim", "burst"],
            "stratum" => ["b", "a", "a", "b"],
            "cluster" => [Some("site 1"), None, Some("site 2"), Some("site 1")],
            "count" => [2_u32, 1, 1, 3],
        )
        .unwrap()
    }

    #[test]
    fn equal_rows_add_up_and_null_high_is_censored() {
        let tally = tally(&full());
        assert_eq!((tally.rows(), tally.lamps(), tally.failures()), (3, 7, 6));
    }

    #[test]
    fn a_tally_survives_the_round_trip_through_parquet() {
        let before = tally(&full());
        let path = std::env::temp_dir().join(format!("relamp-frame-{}.parquet", std::process::id()));
        write_parquet(&frame_from_tally(&before).unwrap(), &path).unwrap();
        let after = tally(&read_parquet(&path).unwrap());
        std::fs::remove_file(&path).unwrap();
        assert_eq!(before, after);
    }

    #[test]
    fn order_of_rows_does_not_matter() {
        assert_eq!(tally(&full()), tally(&full().reverse()));
    }

    #[test]
    fn every_wrong_column_is_named_at_once() {
        let frame = df!("low" => ["900", "x"], "entri" => [1.0, 2.0], "ending" => ["burst", "boom"]).unwrap();
        let error = rows_from_frame(&frame).unwrap_err();
        let slugs: Vec<&str> = error.problems().iter().map(|p| p.slug).collect();
        assert_eq!(
            slugs,
            ["frame.column_unknown", "frame.column_missing", "frame.column_type", "frame.ending_unknown"]
        );
    }

    #[test]
    fn half_a_lamp_is_refused_by_row() {
        let frame = df!("low" => [900.0], "high" => [900.0], "count" => [0.5]).unwrap();
        assert_eq!(rows_from_frame(&frame).unwrap_err().slug(), "lives.count_not_whole");
    }

    #[test]
    fn a_file_that_is_no_parquet_is_an_error_with_its_name() {
        let path = std::env::temp_dir().join(format!("relamp-frame-{}.txt", std::process::id()));
        std::fs::write(&path, "low,high\n").unwrap();
        let error = read_parquet(&path).unwrap_err();
        std::fs::remove_file(&path).unwrap();
        assert_eq!(error.slug(), "frame.refused");
        assert_eq!(read_parquet(&path).unwrap_err().slug(), "frame.file");
    }

    #[test]
    fn findings_become_lines() {
        let frame = frame_from_findings(&[]).unwrap();
        assert_eq!(frame.get_column_names().len(), 9);
    }
}
