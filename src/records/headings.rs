//! Which column of a plain table holds what, where names are fixed but the owner's may stand in their place.

use std::collections::BTreeMap;

use super::{Source, Table, TableFormat};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// One thing that a table may hold: its name and whether a table without it is of no use.
pub(crate) type Heading = (&'static str, bool);

/// The columns of an open table by the names of what they hold.
#[derive(Debug)]
pub(crate) struct Headings {
    at: BTreeMap<&'static str, usize>,
}

impl Headings {
    /// Opens a table and finds its columns. `called` gives the owner's name of a column where it differs from ours.
    ///
    /// # Errors
    /// `records.heading_unknown` for a name in `called` that is none of ours; `records.column_shared` where two of ours
    /// are called the same; `records.column_misspelt` for a column whose name looks like a slip in one that is missing;
    /// those of [`Table::open`] and [`Table::find`].
    pub(crate) fn open<'a>(
        name: &str,
        source: Source<'a>,
        format: &TableFormat,
        known: &[Heading],
        called: &BTreeMap<String, String>,
    ) -> Result<(Table<'a>, Self)> {
        let table = Table::open(name, source, format)?;
        let mut problems = Vec::new();
        for key in called.keys().filter(|key| !known.iter().any(|k| k.0 == key.as_str())) {
            let names: Vec<&str> = known.iter().map(|k| k.0).collect();
            let problem = Problem::new("records.heading_unknown", "no table of this kind holds such a thing");
            let place = Place::input("columns").column(key);
            problems.push(problem.at(place).got(key).expected(format!("one of {}", names.join(", "))));
        }
        let mut at: BTreeMap<&'static str, usize> = BTreeMap::new();
        for (heading, needed) in known {
            let column = called.get(*heading).map_or(*heading, String::as_str);
            // A column that the owner names must be there.
            let wanted = *needed || called.contains_key(*heading);
            if !wanted && !table.columns().iter().any(|c| c == column) {
                continue;
            }
            match table.find(column) {
                Err(e) => problems.extend_from_slice(e.problems()),
                Ok(i) => {
                    if let Some((other, _)) = at.iter().find(|(_, j)| **j == i) {
                        let what = format!("the column is named for {other} and for {heading}");
                        let problem = Problem::new("records.column_shared", what).at(table.place(Some(i)));
                        problems.push(problem.got(column).expected("a column for each"));
                    }
                    at.insert(heading, i);
                }
            }
        }
        for (i, column) in table.columns().iter().enumerate().filter(|(i, _)| !at.values().any(|j| j == i)) {
            let missing = known.iter().filter(|k| !at.contains_key(k.0) && !called.contains_key(k.0));
            if let Some((meant, _)) = missing.into_iter().find(|k| Table::near(column, k.0)) {
                let problem = Problem::new("records.column_misspelt", "the name of a column looks like a slip");
                problems.push(
                    problem.at(table.place(Some(i))).got(column).expected(format!("{meant}, or a name less like it")),
                );
            }
        }
        if problems.is_empty() { Ok((table, Self { at })) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// The place of a column; none where the table has none.
    pub(crate) fn get(&self, heading: &str) -> Option<usize> {
        self.at.get(heading).copied()
    }
}
