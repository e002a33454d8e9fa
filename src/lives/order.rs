//! From checked rows to the canonical order: equal rows collapse, and whatever order they came in, the same bytes come out.

use rayon::prelude::*;

use super::arrange::{counted, sorted};
use super::covariates::{Covariate, shared};
use super::rows::{MOST_LIVES, Row, Rows, too_many_lives};
use super::tally::{Group, Tally};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::run::Run;

impl Tally {
    /// Builds a tally from rows in one parallel pass: equal rows collapse, their counts add up. The second answer holds a
    /// note (`lives.low_raised_to_entry`) for each interval that was cut at its entry.
    ///
    /// # Errors
    /// All problems at once, each with column and row: `lives.length`, `lives.age_not_a_number`, `lives.age_negative`,
    /// `lives.age_infinite`, `lives.low_above_high`, `lives.entry_not_before_failure`, `lives.entry_after_censoring`,
    /// `lives.entry_not_before_interval_end`, `lives.upper_of_censored`, `lives.failure_above_upper`,
    /// `lives.group_unknown`, `lives.running_failed`, `lives.count_too_large`, `lives.too_many_lives`,
    /// `lives.group_covariates`, `lives.covariate_name`.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// let rows = Rows { low: vec![-5.0], high: vec![-5.0], ..Rows::default() };
    /// let error = Tally::from_rows(&rows).unwrap_err();
    /// assert_eq!(error.slug(), "lives.age_negative");
    /// assert_eq!(error.problems()[0].place.row, Some(1));
    /// ```
    pub fn from_rows(rows: &Rows) -> Result<(Tally, Vec<Problem>)> {
        Self::from_rows_until(rows, &Run::new())
    }

    /// The same as work that can be stopped between its steps.
    pub(crate) fn from_rows_until(rows: &Rows, run: &Run) -> Result<(Tally, Vec<Problem>)> {
        let facts = rows.check()?;
        let given =
            if rows.group.is_none() && rows.groups.is_empty() { vec![Group::default()] } else { rows.groups.clone() };
        run.check()?;
        let (groups, place) = canonical_groups(&given);
        run.check()?;
        let mut tally = match counted(rows, &facts, &groups, &place) {
            Some(tally) => tally,
            None => sorted(rows, &facts, groups, &place),
        };
        tally.covariates.clone_from(&rows.covariates);
        Ok((tally, facts.notes))
    }

    /// Joins tallies by adding whole counts: bit for bit the same whatever the order of the parts.
    ///
    /// # Errors
    /// `lives.too_many_lives` if the counts add up beyond 2^53; `lives.covariates_differ` for parts that differ in the
    /// names or kinds of their covariates.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// let part = |age| Tally::from_rows(&Rows { low: vec![age], high: vec![age], ..Rows::default() }).unwrap().0;
    /// let (a, b) = (part(900.0), part(1500.0));
    /// assert_eq!(Tally::merge(&[&a, &b]).unwrap(), Tally::merge(&[&b, &a]).unwrap());
    /// ```
    pub fn merge(parts: &[&Tally]) -> Result<Tally> {
        let covariates = shared(parts.iter().filter(|t| !t.groups.is_empty()).map(|t| t.covariates()))?;
        let all: Vec<Group> = parts.iter().flat_map(|t| t.groups.iter().cloned()).collect();
        let (groups, place) = canonical_groups(&all);
        let mut rows = Vec::with_capacity(parts.iter().map(|t| t.rows()).sum());
        let mut first = 0;
        let mut lives = Some(0_u64);
        for part in parts {
            let place = place.get(first..).unwrap_or_default();
            for mut row in part.each_row() {
                row.group = place.get(row.group as usize).copied().unwrap_or(0);
                lives = lives.and_then(|sum| sum.checked_add(row.count)).filter(|&sum| sum <= MOST_LIVES);
                rows.push(row);
            }
            first += part.groups.len();
        }
        if lives.is_none() {
            return Err(Error::new(Kind::Input, too_many_lives()));
        }
        Ok(from_any_order(rows, groups, &covariates))
    }

    /// The rows of the tally one by one.
    pub(super) fn each_row(&self) -> impl Iterator<Item = Row> + '_ {
        let columns = self.low.iter().zip(&self.high).zip(&self.group).zip(&self.ending).zip(&self.count);
        columns.enumerate().map(|(i, ((((&low, &high), &group), &ending), &count))| Row {
            low,
            high,
            entry: self.entry_of(i),
            upper: self.upper_of(i),
            group,
            ending,
            count,
        })
    }
}

/// Sorts and collapses rows that keep the rules already.
pub(super) fn from_any_order(mut rows: Vec<Row>, groups: Vec<Group>, covariates: &[Covariate]) -> Tally {
    rows.par_sort_unstable_by(Row::order);
    let mut out = Columns::new(rows.len());
    for row in rows {
        out.push(row);
    }
    Tally { covariates: covariates.to_vec(), ..out.finish(groups) }
}

/// The group table sorted without repeats, and where each given group went.
fn canonical_groups(given: &[Group]) -> (Vec<Group>, Vec<u32>) {
    let mut groups: Vec<&Group> = given.iter().collect();
    groups.par_sort_unstable();
    groups.dedup();
    let place = given.par_iter().map(|g| groups.binary_search(&g).unwrap_or(0) as u32).collect();
    (groups.into_iter().cloned().collect(), place)
}

/// Collects rows in canonical order, adding up equal neighbours.
pub(super) struct Columns {
    tally: Tally,
    entry: Vec<f64>,
    upper: Vec<f64>,
    last: Option<Row>,
}

impl Columns {
    pub(super) fn new(rows: usize) -> Self {
        let tally = Tally {
            low: Vec::with_capacity(rows),
            high: Vec::with_capacity(rows),
            group: Vec::with_capacity(rows),
            ending: Vec::with_capacity(rows),
            count: Vec::with_capacity(rows),
            ..Tally::default()
        };
        Self { tally, entry: Vec::new(), upper: Vec::new(), last: None }
    }

    pub(super) fn push(&mut self, row: Row) {
        match &mut self.last {
            // The sum of all counts was checked, so this cannot overflow.
            Some(last) if last.same(&row) => last.count += row.count,
            _ => {
                if let Some(done) = self.last.replace(row) {
                    self.write(done);
                }
            }
        }
    }

    fn write(&mut self, row: Row) {
        let n = self.tally.low.len();
        // Columns of defaults are not stored: a tally with no late entry is equal to one built without the column.
        if row.entry > 0.0 || !self.entry.is_empty() {
            self.entry.resize(n, 0.0);
            self.entry.push(row.entry);
        }
        if row.upper < f64::INFINITY || !self.upper.is_empty() {
            self.upper.resize(n, f64::INFINITY);
            self.upper.push(row.upper);
        }
        self.tally.low.push(row.low);
        self.tally.high.push(row.high);
        self.tally.group.push(row.group);
        self.tally.ending.push(row.ending);
        self.tally.count.push(row.count);
    }

    /// Number of distinct rows.
    pub(super) fn len(&self) -> usize {
        self.tally.low.len() + usize::from(self.last.is_some())
    }

    /// Adds columns whose ages all lie above those here.
    pub(super) fn append(&mut self, older: Self) {
        if let Some(done) = self.last.take() {
            self.write(done);
        }
        let n = self.tally.low.len();
        let Self { tally, entry, upper, last } = older;
        for (here, there, unstored) in [(&mut self.entry, entry, 0.0), (&mut self.upper, upper, f64::INFINITY)] {
            if !here.is_empty() || !there.is_empty() {
                here.resize(n, unstored);
                here.extend(there);
                here.resize(n + tally.low.len(), unstored);
            }
        }
        self.tally.low.extend(tally.low);
        self.tally.high.extend(tally.high);
        self.tally.group.extend(tally.group);
        self.tally.ending.extend(tally.ending);
        self.tally.count.extend(tally.count);
        self.last = last;
    }

    pub(super) fn finish(mut self, groups: Vec<Group>) -> Tally {
        if let Some(done) = self.last.take() {
            self.write(done);
        }
        self.tally.entry = (!self.entry.is_empty()).then_some(self.entry);
        self.tally.upper = (!self.upper.is_empty()).then_some(self.upper);
        self.tally.groups = groups;
        self.tally
    }
}
