//! What lamps differ in beside their stratum: named numbers and categories, held by the groups of a tally.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use serde::{Deserialize, Serialize};

use super::rows::Rows;
use super::tally::{Group, Tally};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::run::Run;
use crate::records::{Column, Values};

/// What the values of a covariate are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CovariateKind {
    /// Finite numbers, such as a drive current in ampere.
    Number,
    /// Texts, such as the name of a supplier.
    Category,
}

/// A covariate of a tally: its name and what its values are.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Covariate {
    /// Name, such as `supplier`. A colon is kept for interactions.
    pub name: String,
    /// What its values are.
    pub kind: CovariateKind,
}

/// A finite number with an order; -0.0 is 0.0.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Measure(f64);

impl Measure {
    /// The number, if it is finite.
    ///
    /// # Errors
    /// `lives.covariate_not_finite`.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::Measure;
    /// assert_eq!(Measure::new(-0.0)?, Measure::new(0.0)?);
    /// assert!(Measure::new(-1.0)? < Measure::new(0.5)?);
    /// assert_eq!(Measure::new(f64::NAN).unwrap_err().slug(), "lives.covariate_not_finite");
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn new(x: f64) -> Result<Self> {
        // Adding 0 turns -0.0 into 0.0, so that equal numbers have equal bits.
        if x.is_finite() { Ok(Self(x + 0.0)) } else { Err(Error::new(Kind::Input, not_finite(x))) }
    }

    /// The number.
    pub fn get(self) -> f64 {
        self.0
    }
}

impl Eq for Measure {}

impl PartialOrd for Measure {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Measure {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

impl std::hash::Hash for Measure {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.0.to_bits().hash(state);
    }
}

impl TryFrom<f64> for Measure {
    type Error = Error;

    fn try_from(x: f64) -> Result<Self> {
        Self::new(x)
    }
}

impl From<Measure> for f64 {
    fn from(x: Measure) -> Self {
        x.0
    }
}

/// A value of a covariate.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(untagged)]
pub enum CovariateValue {
    /// Of a number.
    Number(Measure),
    /// Of a category.
    Category(String),
}

impl CovariateValue {
    /// A finite number.
    ///
    /// # Errors
    /// Those of [`Measure::new`].
    pub fn number(x: f64) -> Result<Self> {
        Measure::new(x).map(Self::Number)
    }

    /// What it is.
    pub fn kind(&self) -> CovariateKind {
        match self {
            Self::Number(_) => CovariateKind::Number,
            Self::Category(_) => CovariateKind::Category,
        }
    }
}

impl From<&str> for CovariateValue {
    fn from(level: &str) -> Self {
        Self::Category(level.to_owned())
    }
}

impl fmt::Display for CovariateValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(x) => write!(f, "{}", x.0),
            Self::Category(level) => f.write_str(level),
        }
    }
}

/// The category that every tally has: its strata, such as lamp classes.
pub(crate) const STRATUM: &str = "stratum";

/// Where the values of a covariate stand in a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum CovariatePlace {
    /// In its stratum.
    Stratum,
    /// Among its covariates.
    Own(usize),
}

impl Tally {
    /// Where a covariate stands, with what its values are; none for a name that these lives do not have.
    pub(crate) fn covariate_place(&self, name: &str) -> Option<(CovariatePlace, CovariateKind)> {
        if name == STRATUM {
            return Some((CovariatePlace::Stratum, CovariateKind::Category));
        }
        let own = self.covariates().iter().enumerate().find(|(_, c)| c.name == name);
        own.map(|(place, c)| (CovariatePlace::Own(place), c.kind))
    }

    /// Where a category stands; none for a name that is no category of these lives.
    pub(crate) fn category_place(&self, name: &str) -> Option<CovariatePlace> {
        self.covariate_place(name).filter(|found| found.1 == CovariateKind::Category).map(|found| found.0)
    }

    /// Categories that these lives have beside their strata.
    pub(crate) fn categories(&self) -> impl Iterator<Item = &str> {
        self.covariates().iter().filter(|c| c.kind == CovariateKind::Category).map(|c| c.name.as_str())
    }

    /// The groups that have lamps.
    pub(crate) fn groups_with_lamps(&self) -> impl Iterator<Item = &Group> {
        let mut lamps = vec![false; self.groups().len()];
        for (group, count) in self.group().iter().zip(self.count()) {
            if let Some(slot) = lamps.get_mut(*group as usize) {
                *slot |= *count > 0;
            }
        }
        self.groups().iter().zip(lamps).filter(|(_, lamps)| *lamps).map(|(group, _)| group)
    }

    /// The strata, such as lamp classes, whose difference stands in an answer that tells lamps apart by some covariates
    /// only; none where these tell the strata apart as well.
    pub(crate) fn strata_left<'n>(&self, names: impl Iterator<Item = &'n str>) -> Option<String> {
        let places: Vec<_> = names.filter_map(|name| self.category_place(name)).collect();
        let mut told: BTreeMap<Vec<String>, &str> = BTreeMap::new();
        let mixed = self.groups_with_lamps().any(|group| {
            let levels = places.iter().map(|place| group.level(*place)).collect();
            *told.entry(levels).or_insert(&group.stratum) != group.stratum
        });
        mixed.then(|| listed_strata([self]))
    }
}

impl Group {
    /// The value of a covariate.
    pub(crate) fn covariate(&self, place: CovariatePlace) -> Option<Cow<'_, CovariateValue>> {
        match place {
            CovariatePlace::Stratum => Some(Cow::Owned(CovariateValue::Category(self.stratum.clone()))),
            CovariatePlace::Own(place) => self.covariates.get(place).map(Cow::Borrowed),
        }
    }

    /// The level of a category as text; empty where it has none.
    pub(crate) fn level(&self, place: CovariatePlace) -> String {
        self.covariate(place).map(|value| value.to_string()).unwrap_or_default()
    }
}

/// The strata of tallies by name; those without one are told as such.
pub(crate) fn listed_strata<'t>(tallies: impl IntoIterator<Item = &'t Tally>) -> String {
    let groups = tallies.into_iter().flat_map(Tally::groups_with_lamps);
    let names: BTreeSet<&str> = groups.map(|g| g.stratum.as_str()).collect();
    let said = names.into_iter().map(|name| if name.is_empty() { "no stratum" } else { name });
    said.collect::<Vec<_>>().join(", ")
}

fn not_finite(x: f64) -> Problem {
    Problem::new("lives.covariate_not_finite", "a covariate is not a finite number").got(x).expected("a finite number")
}

/// Names that a row has for other things.
const TAKEN: [&str; 8] = ["low", "high", "entry", "upper", "ending", "stratum", "cluster", "count"];

/// Whether names may stand: none blank, taken or twice, none with a colon or blanks around it.
fn check_names<'n>(names: impl Iterator<Item = &'n str>, problems: &mut Vec<Problem>) {
    let mut seen = BTreeSet::new();
    for name in names {
        let what = if name.trim().is_empty() {
            "a covariate without a name"
        } else if name.contains(':') {
            "a name with a colon, which stands for interactions"
        } else if name.trim() != name {
            "a name with blanks around it"
        } else if TAKEN.contains(&name) {
            "a name that a row has for something else"
        } else if !seen.insert(name) {
            "one name for two covariates"
        } else {
            continue;
        };
        let place = Place::input("rows").column(name);
        problems.push(
            Problem::new("lives.covariate_name", what).at(place).got(name).expected("another name, such as supplier"),
        );
    }
}

/// Whether every group holds one value of the right kind for each covariate.
pub(super) fn check(covariates: &[Covariate], groups: &[Group], problems: &mut Vec<Problem>) {
    check_names(covariates.iter().map(|c| c.name.as_str()), problems);
    if !covariates.is_sorted_by(|a, b| a.name < b.name) && problems.is_empty() {
        let what = "covariates are not in the order of their names";
        problems.push(Problem::new("lives.covariate_name", what).at(Place::input("rows").column("covariates")));
    }
    for (i, group) in groups.iter().enumerate() {
        let kinds = group.covariates.iter().map(CovariateValue::kind);
        if !kinds.eq(covariates.iter().map(|c| c.kind)) {
            let names: Vec<&str> = covariates.iter().map(|c| c.name.as_str()).collect();
            let place = Place::input("groups").row(i as u64 + 1).column("covariates");
            let what = "a group holds other covariates than the rows name";
            let problem = Problem::new("lives.group_covariates", what).at(place).got(group.covariates.len());
            problems.push(problem.expected(match names.as_slice() {
                [] => "none".to_owned(),
                names => format!("one value each of: {}", names.join(", ")),
            }));
        }
    }
    // Rows without a group table stand in one empty group.
    if groups.is_empty() && !covariates.is_empty() {
        let place = Place::input("groups").column("covariates");
        problems.push(
            Problem::new("lives.group_covariates", "covariates without groups that hold them")
                .at(place)
                .expected("a group for each combination of values"),
        );
    }
}

/// The covariates that tallies share.
pub(super) fn shared<'t>(mut parts: impl Iterator<Item = &'t [Covariate]>) -> Result<Vec<Covariate>> {
    let first = parts.next().unwrap_or(&[]);
    let said = |covariates: &[Covariate]| match covariates {
        [] => "none".to_owned(),
        some => {
            let each = some.iter().map(|c| match c.kind {
                CovariateKind::Number => format!("{} (number)", c.name),
                CovariateKind::Category => format!("{} (category)", c.name),
            });
            each.collect::<Vec<_>>().join(", ")
        }
    };
    match parts.find(|other| *other != first) {
        None => Ok(first.to_vec()),
        Some(other) => {
            let problem = Problem::new("lives.covariates_differ", "tallies with different covariates cannot be joined")
                .at(Place::input("tally").column("covariates"))
                .got(said(other))
                .expected(said(first));
            Err(Error::new(Kind::Input, problem))
        }
    }
}

/// Rows after which it is asked whether to stop.
const LOOK_ROWS: usize = 1 << 14;

/// The kind of a column, its values, and each row's place among them.
type OneColumn = (CovariateKind, Vec<CovariateValue>, Vec<u32>);

/// The values of one column with each row's place among them.
fn read(column: &Column, rows: usize, problems: &mut Vec<Problem>, run: &Run) -> Result<OneColumn> {
    let at = |i: usize| Place::input("rows").row(i as u64 + 1).column(&column.name);
    let mut known: BTreeMap<CovariateValue, u32> = BTreeMap::new();
    let mut place_of = |value: CovariateValue| {
        let next = known.len() as u32;
        *known.entry(value).or_insert(next)
    };
    let missing = |i: usize| {
        Problem::new("lives.covariate_missing", "a covariate has no value").at(at(i)).expected("a value for every row")
    };
    let (kind, length, places) = match &column.values {
        Values::Number(values) => {
            let mut each = Vec::with_capacity(values.len());
            for (i, value) in values.iter().enumerate() {
                if i % LOOK_ROWS == 0 {
                    run.check()?;
                }
                each.push(match value {
                    Some(x) if x.is_finite() => Measure::new(*x).map_or(0, |m| place_of(CovariateValue::Number(m))),
                    Some(x) => {
                        problems.push(not_finite(*x).at(at(i)));
                        0
                    }
                    None => {
                        problems.push(missing(i));
                        0
                    }
                });
            }
            (CovariateKind::Number, values.len(), each)
        }
        Values::Text(values) => {
            let mut by_text: BTreeMap<&str, u32> = BTreeMap::new();
            run.check()?;
            let each = values.iter().enumerate().map(|(i, value)| match value {
                Some(level) if !level.trim().is_empty() => {
                    *by_text.entry(level).or_insert_with(|| place_of(CovariateValue::Category(level.to_string())))
                }
                _ => {
                    problems.push(missing(i));
                    0
                }
            });
            (CovariateKind::Category, values.len(), each.collect())
        }
        Values::Date(values) => {
            problems.push(
                Problem::new("lives.covariate_date", "a date is neither a number nor a category")
                    .at(Place::input("rows").column(&column.name))
                    .expected("a number, such as days since a day of your choice, or a text, such as the year"),
            );
            (CovariateKind::Category, values.len(), Vec::new())
        }
    };
    if length != rows {
        problems.push(
            Problem::new("lives.length", "columns differ in length")
                .at(Place::input("rows").column(&column.name))
                .got(length)
                .expected(format!("{rows}, the length of low")),
        );
    }
    let mut values: Vec<(CovariateValue, u32)> = known.into_iter().collect();
    values.sort_by_key(|v| v.1);
    Ok((kind, values.into_iter().map(|v| v.0).collect(), places))
}

impl Rows {
    /// The rows with covariates: each combination of values becomes a group of its own beside stratum and cluster.
    ///
    /// A column of numbers is a number, a column of texts a category. Whole numbers that only name something, such as
    /// batches, must come as texts to be categories. Lamps of the same ages, ending and values still collapse to one row.
    ///
    /// # Errors
    /// Every problem at once: `lives.covariate_missing` and `lives.covariate_not_finite` by row, `lives.covariate_name` for
    /// a name that is blank, twice, taken (such as `low`) or holds a colon, `lives.covariate_date`, `lives.length`,
    /// `lives.too_many_groups` above 2^32.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// use relamp::records::{Column, Values};
    /// let supplier = ["north", "south", "north"].map(|s| Some(s.into())).to_vec();
    /// let columns = [
    ///     Column { name: "supplier".into(), values: Values::Text(supplier) },
    ///     Column { name: "current".into(), values: Values::Number(vec![Some(80.0), Some(75.0), Some(80.0)]) },
    /// ];
    /// let rows = Rows { low: vec![900.0; 3], high: vec![900.0; 3], ..Rows::default() }.with_covariates(&columns)?;
    /// let (tally, _) = Tally::from_rows(&rows)?;
    /// assert_eq!((tally.rows(), tally.lamps(), tally.groups().len()), (2, 3, 2));
    /// assert_eq!(tally.covariates()[0].name, "current"); // in the order of names
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_covariates(self, columns: &[Column]) -> Result<Rows> {
        self.with_covariates_until(columns, &Run::new())
    }

    /// The same as work that can be stopped: a number that differs in every row makes a group of each.
    pub(crate) fn with_covariates_until(mut self, columns: &[Column], run: &Run) -> Result<Rows> {
        let mut problems = Vec::new();
        let names = self.covariates.iter().map(|c| c.name.as_str()).chain(columns.iter().map(|c| c.name.as_str()));
        check_names(names, &mut problems);
        let read: Vec<_> =
            columns.iter().map(|c| read(c, self.len(), &mut problems, run)).collect::<Result<Vec<_>>>()?;
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        let mut covariates = self.covariates.clone();
        covariates.extend(columns.iter().zip(&read).map(|(c, r)| Covariate { name: c.name.clone(), kind: r.0 }));
        let mut order: Vec<usize> = (0..covariates.len()).collect();
        order.sort_by(|a, b| covariates.get(*a).map(|c| &c.name).cmp(&covariates.get(*b).map(|c| &c.name)));
        let old = if self.groups.is_empty() { vec![Group::default()] } else { std::mem::take(&mut self.groups) };
        let mut known: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
        let mut groups = Vec::new();
        let mut key = Vec::with_capacity(columns.len() + 1);
        let mut group = Vec::with_capacity(self.len());
        for i in 0..self.len() {
            if i % LOOK_ROWS == 0 {
                run.check()?;
            }
            key.clear();
            key.push(self.group.as_ref().and_then(|g| g.get(i)).copied().unwrap_or(0));
            key.extend(read.iter().map(|r| r.2.get(i).copied().unwrap_or(0)));
            if let Some(place) = known.get(&key) {
                group.push(*place);
                continue;
            }
            let Ok(next) = u32::try_from(groups.len()) else {
                let problem = Problem::new("lives.too_many_groups", "too many combinations of covariates");
                return Err(Error::new(Kind::Limit, problem.expected("below 2^32")));
            };
            let Some(whole) = key.first().and_then(|g| old.get(*g as usize)) else {
                let problem = Problem::new("lives.group_unknown", "group is not in the group table");
                let place = Place::input("rows").row(i as u64 + 1).column("group");
                return Err(Error::new(Kind::Input, problem.at(place)));
            };
            let given = read.iter().zip(key.iter().skip(1)).map(|(r, at)| r.1.get(*at as usize));
            let values: Vec<Option<&CovariateValue>> = whole.covariates.iter().map(Some).chain(given).collect();
            let sorted = order.iter().filter_map(|k| values.get(*k).copied().flatten().cloned()).collect();
            groups.push(Group { covariates: sorted, ..whole.clone() });
            known.insert(key.clone(), next);
            group.push(next);
        }
        if groups.is_empty() {
            // Without rows there is no combination; a table without groups says the same.
            covariates.clear();
            order.clear();
        }
        self.covariates = order.iter().filter_map(|k| covariates.get(*k).cloned()).collect();
        (self.group, self.groups) = (Some(group), groups);
        Ok(self)
    }
}
