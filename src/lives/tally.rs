//! The tally: distinct (low, high, entry, upper, ending, group) rows with whole counts, in canonical order.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use super::covariates::{Covariate, CovariateValue};
use super::order::from_any_order;
use super::saved::SavedTally;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;

/// What the rows of one group share: the stratum (lamp class), the site when kept apart, and the values of covariates.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// Stratum, usually the lamp class.
    pub stratum: String,
    /// Cluster whose rows share a bootstrap weight, usually the site or the serial; empty for none.
    pub cluster: String,
    /// Values of the tally's covariates, in the order of [`Tally::covariates`].
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covariates: Vec<CovariateValue>,
}

/// Distinct rows with whole counts, column by column. An exact failure has `low == high`; a
/// right-censored row has `high == f64::INFINITY`; a failure known to an interval lies in (low, high].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(into = "SavedTally", try_from = "SavedTally")]
pub struct Tally {
    pub(crate) low: Vec<f64>,
    pub(crate) high: Vec<f64>,
    pub(crate) entry: Option<Vec<f64>>,
    pub(crate) upper: Option<Vec<f64>>,
    pub(crate) group: Vec<u32>,
    pub(crate) ending: Vec<u16>,
    pub(crate) count: Vec<u64>,
    pub(crate) groups: Vec<Group>,
    pub(crate) covariates: Vec<Covariate>,
}

// Its constructor is its only door, for a saved form too.
impl Sound for Tally {
    fn check(&self, _: &mut Checks) {}
}

impl Tally {
    /// Ages at or after which the ending happened, or censoring ages, `(rows,)`, hours.
    pub fn low(&self) -> &[f64] {
        &self.low
    }

    /// Ages by which the ending had happened, infinite for right-censored rows, `(rows,)`, hours.
    pub fn high(&self) -> &[f64] {
        &self.high
    }

    /// Ages at which rows came under observation, `(rows,)`, hours; none if all are 0.
    pub fn entry(&self) -> Option<&[f64]> {
        self.entry.as_deref()
    }

    /// Ages past which a failure would not have been seen, `(rows,)`, hours; none if all are infinite.
    pub fn upper(&self) -> Option<&[f64]> {
        self.upper.as_deref()
    }

    /// Index of each row into [`Tally::groups`], `(rows,)`.
    pub fn group(&self) -> &[u32] {
        &self.group
    }

    /// Code of each row's ending, see [`crate::records::Ending::code`], `(rows,)`.
    pub fn ending(&self) -> &[u16] {
        &self.ending
    }

    /// How many lives each row stands for, `(rows,)`.
    pub fn count(&self) -> &[u64] {
        &self.count
    }

    /// The group table.
    pub fn groups(&self) -> &[Group] {
        &self.groups
    }

    /// Names and kinds of the covariates, in the order of names.
    pub fn covariates(&self) -> &[Covariate] {
        &self.covariates
    }

    /// Number of distinct rows.
    pub fn rows(&self) -> usize {
        self.low.len()
    }

    pub(super) fn entry_of(&self, i: usize) -> f64 {
        self.entry.as_ref().and_then(|e| e.get(i)).copied().unwrap_or(0.0)
    }

    pub(super) fn upper_of(&self, i: usize) -> f64 {
        self.upper.as_ref().and_then(|u| u.get(i)).copied().unwrap_or(f64::INFINITY)
    }

    /// Number of lives, counts added up. A life watched in two stretches with a gap counts as two, and lamps that were never
    /// watched count too: a fit leaves these out, as [`Tally::informative`] does.
    pub fn lamps(&self) -> u64 {
        self.count.iter().sum()
    }

    /// Number of failures, exact or known to an interval.
    pub fn failures(&self) -> u64 {
        self.high.iter().zip(&self.count).filter(|&(&high, _)| high < f64::INFINITY).map(|(_, &count)| count).sum()
    }

    /// Where row `i` stands. A tally holds its rows in order of age, whatever order they were given in.
    pub(crate) fn place(i: usize, column: &'static str) -> Place {
        Place::input("tally in order of age").row(i as u64 + 1).column(column)
    }

    /// Whether row `i` says anything: it stands for lamps, and they were watched past their entry.
    pub(crate) fn informs(&self, i: usize) -> bool {
        let (low, high) = (self.low.get(i), self.high.get(i));
        let unseen = high == Some(&f64::INFINITY) && low == Some(&self.entry_of(i));
        self.count.get(i).is_some_and(|n| *n > 0) && !unseen
    }

    /// Whether rows show failures only because they failed by an age.
    pub(crate) fn windowed(&self) -> bool {
        let upper = self.upper.as_deref().unwrap_or(&[]);
        upper.iter().enumerate().any(|(i, upper)| *upper < f64::INFINITY && self.informs(i))
    }

    /// The rows that say something: those of count 0 and those right-censored at their entry are left out. Whatever
    /// counts lamps or draws for them starts here, so that such rows change nothing.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// // One failure, and a lamp on the shelf.
    /// let rows = Rows { low: vec![900.0, 0.0], high: vec![900.0, f64::INFINITY], ..Rows::default() };
    /// let (tally, _) = Tally::from_rows(&rows)?;
    /// assert_eq!((tally.lamps(), tally.informative().lamps()), (2, 1));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn informative(&self) -> Cow<'_, Tally> {
        if (0..self.rows()).all(|i| self.informs(i)) {
            return Cow::Borrowed(self);
        }
        let rows = self.each_row().enumerate().filter(|(i, _)| self.informs(*i)).map(|(_, row)| row).collect();
        Cow::Owned(from_any_order(rows, self.groups.clone(), &self.covariates))
    }

    /// Lamp hours under observation, from entry to `low`: of a failure known to an interval only the hours seen working.
    pub fn exposure_hours(&self) -> f64 {
        self.each_row().map(|row| (row.low - row.entry) * row.count as f64).fold(0.0, |sum, x| sum + x)
    }

    /// Number of lamps under observation just after an age.
    pub(crate) fn at_risk_after(&self, age: f64) -> u64 {
        let end = |low: f64, high: f64| if high < f64::INFINITY { high } else { low };
        self.each_row().filter(|row| row.entry <= age && end(row.low, row.high) > age).map(|row| row.count).sum()
    }

    /// The largest age at which a lamp was under observation; none without lamps.
    pub fn oldest_at_risk(&self) -> Option<f64> {
        let watched = self.each_row().enumerate().filter(|(i, _)| self.informs(*i));
        watched.map(|(_, row)| row.low).reduce(f64::max)
    }

    /// Number of lamps under observation up to that age: what is said of it hangs on so many.
    pub(crate) fn oldest_at_risk_count(&self) -> u64 {
        let oldest = self.oldest_at_risk();
        let watched = self.each_row().enumerate().filter(|(i, _)| self.informs(*i));
        watched.filter(|(_, row)| Some(row.low) == oldest).map(|(_, row)| row.count).sum()
    }

    /// The largest age by which a failure had happened; none without failures.
    pub fn oldest_failure(&self) -> Option<f64> {
        self.each_row().filter(|row| row.count > 0 && row.high < f64::INFINITY).map(|row| row.high).reduce(f64::max)
    }

    /// The view of some endings: rows that failed by another ending become right-censored at `low`.
    ///
    /// # Errors
    /// `lives.upper_of_other_ending` where such a row has an `upper`: records that show failures only cannot tell what
    /// one cause would have done without the others.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// use relamp::records::Ending;
    /// let rows = Rows {
    ///     low: vec![900.0, 1500.0],
    ///     high: vec![900.0, 1500.0],
    ///     ending: Some(vec![Ending::Burst, Ending::Dim]),
    ///     ..Rows::default()
    /// };
    /// let (tally, _) = Tally::from_rows(&rows).unwrap();
    /// assert_eq!(tally.for_endings(&[Ending::Burst]).unwrap().failures(), 1);
    /// ```
    pub fn for_endings(&self, endings: &[Ending]) -> Result<Tally> {
        let wanted: Vec<u16> = endings.iter().map(|e| e.code()).collect();
        let mut rows = Vec::with_capacity(self.rows());
        for mut row in self.each_row() {
            if row.high < f64::INFINITY && !wanted.contains(&row.ending) {
                if row.upper < f64::INFINITY {
                    let problem = Problem::new(
                        "lives.upper_of_other_ending",
                        "a failure by another ending, seen only because it failed by its upper, cannot be censored",
                    )
                    .at(Place::input("tally").column("upper"))
                    .got(row.upper)
                    .expected("rows without upper");
                    return Err(Error::new(Kind::Refused, problem));
                }
                row.high = f64::INFINITY;
            }
            rows.push(row);
        }
        Ok(from_any_order(rows, self.groups.clone(), &self.covariates))
    }

    /// The rows of one stratum (lamp class), with its groups only.
    ///
    /// # Errors
    /// `lives.stratum_unknown` for a name that no group bears.
    pub fn stratum(&self, name: &str) -> Result<Tally> {
        if !self.groups.iter().any(|g| g.stratum == name) {
            let mut names: Vec<&str> = self.groups.iter().map(|g| g.stratum.as_str()).collect();
            names.dedup();
            let problem = Problem::new("lives.stratum_unknown", "no rows bear this stratum")
                .at(Place::input("stratum"))
                .got(name)
                .expected(format!("one of: {}", names.join(", ")));
            return Err(Error::new(Kind::Input, problem));
        }
        Ok(self.of_groups(|_, group| group.stratum == name))
    }

    /// The rows of some groups, with those groups only.
    pub(crate) fn of_groups(&self, keep: impl Fn(usize, &Group) -> bool) -> Tally {
        let mut kept = Vec::new();
        let mut place = vec![None; self.groups.len()];
        for (g, (group, slot)) in self.groups.iter().zip(&mut place).enumerate() {
            if keep(g, group) {
                *slot = Some(kept.len() as u32);
                kept.push(group.clone());
            }
        }
        let rows = self
            .each_row()
            .filter_map(|mut row| {
                row.group = place.get(row.group as usize).copied().flatten()?;
                Some(row)
            })
            .collect();
        from_any_order(rows, kept, &self.covariates)
    }
}
