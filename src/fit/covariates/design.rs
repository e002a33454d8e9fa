//! The design: terms as a matrix with named columns, one row for each combination of covariates.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::stress::refuse_values;
use super::terms::{Factor, Term, Terms, input, lamps_by_group, read};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{hours, short};
use crate::base::math::linalg::{packed, solve};
use crate::base::sound::{Checks, Sound};
use crate::fit::model::Note;
use crate::lives::{CovariateKind, CovariatePlace, CovariateValue, Tally};

/// What a column multiplies: a number, or whether a category has a level.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Place of the factor.
    pub factor: usize,
    /// Place of the level; none for a number.
    pub level: Option<usize>,
}

/// A column of the design.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DesignColumn {
    /// Name, such as `current`, `supplier=south` or `supplier=south:current`.
    pub name: String,
    /// Place of its term.
    pub term: usize,
    /// What it multiplies, each less its value at the baseline.
    pub parts: Vec<Part>,
}

/// Terms as named columns: what a model with covariates multiplies its coefficients by.
///
/// A category of k levels gives k - 1 columns of 0 and 1, one for each level but the reference; a number gives one column,
/// by its stress law where it has one, less its value at [`Factor::baseline`]; an interaction gives the products of the columns
/// of its parts. The baseline is the lamp at the reference levels and at [`Factor::baseline`]: there every column is 0, so
/// that a coefficient always speaks of lamps at the baseline of whatever its covariate interacts with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Design {
    /// The covariates.
    pub factors: Vec<Factor>,
    /// The terms, in the order given.
    pub terms: Vec<Term>,
    /// The columns, term by term.
    pub columns: Vec<DesignColumn>,
}

impl Sound for Design {
    fn check(&self, c: &mut Checks) {
        c.once("factors", self.factors.iter().map(|f| &f.name));
        c.once("columns", self.columns.iter().map(|column| &column.name));
        for (i, f) in self.factors.iter().enumerate() {
            let field = format!("factors[{i}]");
            let named = f.reference.as_ref().is_some_and(|r| f.levels.contains(r));
            let holds = if f.levels.is_empty() {
                f.reference.is_none() && f.baseline.is_some_and(|x| f.number(x).is_ok())
            } else {
                named && f.law.is_none() && f.value_is.is_none() && f.levels.is_sorted()
            };
            c.need(&field, holds, &f.name, "a number with its baseline, or a category with its levels and reference");
            c.ends(&field, f.low, f.high);
        }
        let made = columns(&self.factors, &self.terms);
        c.need("columns", made.as_ref().is_ok_and(|m| *m == self.columns), "others", "those that the terms give");
    }
}

fn columns(factors: &[Factor], terms: &[Term]) -> Result<Vec<DesignColumn>> {
    let mut out = Vec::new();
    for (t, term) in terms.iter().enumerate() {
        let mut made: Vec<(Vec<String>, Vec<Part>)> = vec![(Vec::new(), Vec::new())];
        for &factor in &term.factors {
            let Some(f) = factors.get(factor) else {
                return Err(Error::new(Kind::Input, input("fit.term", "a term of no factor", &term.name)));
            };
            let mut next = Vec::new();
            for (names, parts) in made {
                let with = |name: String, level: Option<usize>| {
                    let (mut names, mut parts) = (names.clone(), parts.clone());
                    names.push(name);
                    parts.push(Part { factor, level });
                    (names, parts)
                };
                if f.levels.is_empty() {
                    next.push(with(f.name.clone(), None));
                }
                for (k, level) in f.levels.iter().enumerate().filter(|(_, l)| Some(*l) != f.reference.as_ref()) {
                    next.push(with(format!("{}={level}", f.name), Some(k)));
                }
            }
            made = next;
        }
        let named = |(names, parts): (Vec<String>, _)| DesignColumn { name: names.join(":"), term: t, parts };
        out.extend(made.into_iter().map(named));
    }
    Ok(out)
}

/// Groups by the combination of levels that they have, for each term with categories.
pub(crate) type Cells<'d> = Vec<(&'d Term, BTreeMap<Vec<String>, Vec<usize>>)>;

/// An end of a range in the digits that a reader can use, from 1,000 on in full.
fn ranged(x: f64) -> String {
    if x.abs() < 1000.0 { short(x) } else { hours(x.round()) }
}

/// R squared of a column on the others from which it counts as made of them: the rest is rounding.
const COLLINEAR: f64 = 1e-9;

impl Design {
    /// The design of terms over the lamps of a tally.
    ///
    /// # Errors
    /// Every name at once where possible: `fit.covariate_unknown`, `fit.no_terms`, `fit.term` for a term that stands twice,
    /// `fit.interaction_part_missing`, `fit.level_no_lamps`, `fit.combination_empty` for an interaction of levels that no
    /// lamp has together, `fit.covariate_constant`, `fit.collinear` with the columns that make up another, `fit.reference`,
    /// `fit.law_of_category`, `fit.stress_value`, `fit.last_reading`.
    ///
    /// # Examples
    /// ```
    /// use relamp::fit::{Design, Terms};
    /// use relamp::lives::{Rows, Tally};
    /// use relamp::records::{Column, Values};
    /// let supplier = ["north", "south", "west"].map(|s| Some(s.into())).to_vec();
    /// let column = Column { name: "supplier".into(), values: Values::Text(supplier) };
    /// let rows = Rows { low: vec![900.0; 3], high: vec![900.0; 3], ..Rows::default() }.with_covariates(&[column])?;
    /// let (tally, _) = Tally::from_rows(&rows)?;
    /// let design = Design::new(&Terms::new(["supplier"]), &tally)?;
    /// assert_eq!(design.names(), ["supplier=south", "supplier=west"]);
    /// assert_eq!(Design::new(&Terms::new(["suplier"]), &tally).unwrap_err().slug(), "fit.covariate_unknown");
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn new(asked: &Terms, tally: &Tally) -> Result<Self> {
        let (factors, terms) = read(asked, tally)?;
        let columns = columns(&factors, &terms)?;
        let design = Self { factors, terms, columns };
        design.check_values(tally)?;
        design.check_combinations(tally)?;
        design.check_collinear(tally)?;
        Ok(design)
    }

    /// Names of the columns.
    pub fn names(&self) -> Vec<&str> {
        self.columns.iter().map(|c| c.name.as_str()).collect()
    }

    /// The design without some terms; none if none is left.
    pub(crate) fn without(&self, gone: impl Fn(&Term) -> bool) -> Result<Option<Self>> {
        let terms: Vec<Term> = self.terms.iter().filter(|t| !gone(t)).cloned().collect();
        if terms.is_empty() {
            return Ok(None);
        }
        let columns = columns(&self.factors, &terms)?;
        Ok(Some(Self { factors: self.factors.clone(), terms, columns }))
    }

    /// The same terms with another level to compare with.
    pub(crate) fn compared_with(&self, name: &str, level: &str) -> Result<Self> {
        let mut factors = self.factors.clone();
        for f in factors.iter_mut().filter(|f| f.name == name) {
            f.reference = Some(level.to_owned());
        }
        let columns = columns(&factors, &self.terms)?;
        Ok(Self { factors, terms: self.terms.clone(), columns })
    }

    /// The columns at values of the covariates, one a factor.
    fn row(&self, values: &[Cow<'_, CovariateValue>]) -> Result<Vec<f64>> {
        self.columns.iter().map(|column| self.value(column, values)).collect()
    }

    fn value(&self, column: &DesignColumn, values: &[Cow<'_, CovariateValue>]) -> Result<f64> {
        let mut product = 1.0;
        for part in &column.parts {
            let (Some(factor), Some(value)) = (self.factors.get(part.factor), values.get(part.factor)) else {
                return Ok(f64::NAN);
            };
            product *= match (value.as_ref(), part.level) {
                (CovariateValue::Number(x), None) => factor.number(x.get())? - factor.at_baseline()?,
                (CovariateValue::Category(level), Some(k)) => f64::from(u8::from(factor.levels.get(k) == Some(level))),
                _ => f64::NAN,
            };
        }
        Ok(product)
    }

    /// The size of what a column takes off its values, for its rounding.
    fn taken_off(&self, column: &DesignColumn) -> Result<f64> {
        let mut product = 1.0;
        for factor in column.parts.iter().filter_map(|p| self.factors.get(p.factor)).filter(|f| f.levels.is_empty()) {
            product *= factor.at_baseline()?.abs();
        }
        Ok(if column.parts.iter().all(|p| p.level.is_some()) { 0.0 } else { product })
    }

    /// Where the covariates of the factors stand among those of a tally.
    fn places(&self, tally: &Tally) -> Result<Vec<CovariatePlace>> {
        let find = |f: &Factor| {
            let found = tally.covariate_place(&f.name).filter(|found| found.1 == f.kind());
            found.map(|found| found.0).ok_or_else(|| {
                let what = "these lives do not have a covariate of the model";
                Error::new(Kind::Input, input("fit.covariate_unknown", what, &f.name).got(&f.name))
            })
        };
        self.factors.iter().map(find).collect()
    }

    /// The matrix: for each group of a tally its columns, empty for a group without lamps.
    pub(crate) fn matrix(&self, tally: &Tally) -> Result<Vec<Vec<f64>>> {
        let (places, lamps) = (self.places(tally)?, lamps_by_group(tally));
        let each = tally.groups().iter().zip(lamps).map(|(group, lamps)| {
            if lamps == 0 {
                return Ok(Vec::new());
            }
            let values: Vec<_> = places.iter().filter_map(|p| group.covariate(*p)).collect();
            self.seen(&values)?;
            self.row(&values)
        });
        each.collect()
    }

    /// Whether every level was among those fitted.
    fn seen(&self, values: &[Cow<'_, CovariateValue>]) -> Result<()> {
        for (factor, value) in self.factors.iter().zip(values) {
            if let CovariateValue::Category(level) = value.as_ref()
                && !factor.levels.contains(level)
            {
                let problem =
                    Problem::new("fit.level_unseen", "no lamp of this level was fitted, so nothing is known of it")
                        .at(Place::input("covariates").column(&factor.name))
                        .got(level)
                        .expected(factor.levels.join(", "));
                return Err(Error::new(Kind::Refused, problem));
            }
        }
        Ok(())
    }

    /// The columns at covariates by name: all 0 at the baseline.
    ///
    /// # Errors
    /// `fit.covariate_missing`, `fit.covariate_unknown`, `fit.covariate_kind` for a text where a number belongs or the other
    /// way round, `fit.level_unseen`, `fit.stress_value`.
    pub fn at(&self, covariates: &BTreeMap<String, CovariateValue>) -> Result<Vec<f64>> {
        let place = |name: &str| Place::input("covariates").column(name);
        let mut problems = Vec::new();
        let names = || self.factors.iter().map(|f| f.name.as_str()).collect::<Vec<_>>().join(", ");
        for name in covariates.keys().filter(|n| !self.factors.iter().any(|f| f.name == **n)) {
            let problem = Problem::new("fit.covariate_unknown", "no such covariate in the model");
            problems.push(problem.at(place(name)).got(name).expected(names()));
        }
        let mut values = Vec::new();
        for f in &self.factors {
            match covariates.get(&f.name) {
                None => {
                    let problem = Problem::new("fit.covariate_missing", "a covariate of the model is not given");
                    problems.push(problem.at(place(&f.name)).expected(names()));
                }
                Some(value) if value.kind() != f.kind() => {
                    let expected = if f.kind() == CovariateKind::Number { "a number" } else { "a text" };
                    let problem = Problem::new("fit.covariate_kind", "a covariate of the other kind");
                    problems.push(problem.at(place(&f.name)).got(value).expected(expected));
                }
                Some(value) => values.push(Cow::Borrowed(value)),
            }
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        self.seen(&values)?;
        self.row(&values)
    }

    /// Notes on numbers outside the range that the lamps had.
    pub fn extrapolation(&self, covariates: &BTreeMap<String, CovariateValue>) -> Vec<Note> {
        let mut notes = Vec::new();
        for f in &self.factors {
            let (Some(CovariateValue::Number(x)), Some(low), Some(high)) = (covariates.get(&f.name), f.low, f.high)
            else {
                continue;
            };
            if x.get() < low || x.get() > high {
                notes.push(Note::new(
                    "fit.covariate_extrapolated",
                    format!(
                        "{} {} lies outside {} to {}, the range of the lamps: the figure is the law's opinion",
                        f.name,
                        hours(x.get()),
                        ranged(low),
                        ranged(high)
                    ),
                ));
            }
        }
        notes
    }

    /// Whether every law says something at the values of all lamps; those at which it does not are named at once.
    fn check_values(&self, tally: &Tally) -> Result<()> {
        let (places, lamps) = (self.places(tally)?, lamps_by_group(tally));
        for (factor, place) in self.factors.iter().zip(places) {
            let Some(law) = factor.law else { continue };
            let values =
                tally.groups().iter().zip(&lamps).filter_map(|(group, lamps)| match group.covariate(place)?.as_ref() {
                    CovariateValue::Number(x) => Some((x.get(), *lamps)),
                    CovariateValue::Category(_) => None,
                });
            refuse_values(law, &factor.name, values)?;
        }
        Ok(())
    }

    /// Whether every combination of levels that an interaction joins has lamps.
    fn check_combinations(&self, tally: &Tally) -> Result<()> {
        for (term, cells) in self.cells(tally)? {
            let all: usize = self.category_factors(term).iter().map(|f| f.levels.len()).product();
            if cells.len() < all {
                let what = "no lamp has some combination of the levels of an interaction";
                let missing = self.missing_cell(term, &cells);
                let problem = input("fit.combination_empty", what, &term.name).got(missing);
                return Err(Error::new(Kind::Refused, problem.expected("lamps in every combination")));
            }
        }
        Ok(())
    }

    fn category_factors(&self, term: &Term) -> Vec<&Factor> {
        term.factors.iter().filter_map(|f| self.factors.get(*f)).filter(|f| !f.levels.is_empty()).collect()
    }

    /// For each term with categories the lamps of each combination of their levels.
    pub(crate) fn cells(&self, tally: &Tally) -> Result<Cells<'_>> {
        let (places, lamps) = (self.places(tally)?, lamps_by_group(tally));
        let mut out = Vec::new();
        for term in &self.terms {
            let categories: Vec<CovariatePlace> = term
                .factors
                .iter()
                .filter(|f| self.factors.get(**f).is_some_and(|f| !f.levels.is_empty()))
                .filter_map(|f| places.get(*f).copied())
                .collect();
            if categories.is_empty() {
                continue;
            }
            let mut cells: BTreeMap<Vec<String>, Vec<usize>> = BTreeMap::new();
            for (g, group) in tally.groups().iter().enumerate() {
                if lamps.get(g).is_some_and(|n| *n > 0) {
                    cells.entry(categories.iter().map(|p| group.level(*p)).collect()).or_default().push(g);
                }
            }
            out.push((term, cells));
        }
        Ok(out)
    }

    fn missing_cell(&self, term: &Term, cells: &BTreeMap<Vec<String>, Vec<usize>>) -> String {
        let mut all: Vec<Vec<String>> = vec![Vec::new()];
        for f in self.category_factors(term) {
            all = all
                .iter()
                .flat_map(|some| f.levels.iter().map(move |l| [some.as_slice(), std::slice::from_ref(l)].concat()))
                .collect();
        }
        all.into_iter().find(|cell| !cells.contains_key(cell)).unwrap_or_default().join(" with ")
    }

    /// Whether a column is made of the others, by name.
    fn check_collinear(&self, tally: &Tally) -> Result<()> {
        let (matrix, lamps) = (self.matrix(tally)?, lamps_by_group(tally));
        let n = self.columns.len();
        let rows = || matrix.iter().zip(&lamps).filter(|(row, _)| !row.is_empty());
        let all: f64 = lamps.iter().map(|l| *l as f64).sum();
        let mean: Vec<f64> =
            (0..n).map(|j| rows().map(|(row, w)| *w as f64 * row[j]).fold(0.0, |a, b| a + b) / all).collect();
        let mut cross = vec![0.0; n * (n + 1) / 2];
        for (row, w) in rows() {
            for i in 0..n {
                for j in 0..=i {
                    cross[packed(i, j)] += *w as f64 * (row[i] - mean[i]) * (row[j] - mean[j]);
                }
            }
        }
        let size: Vec<f64> = (0..n).map(|i| cross[packed(i, i)].sqrt()).collect();
        for i in 0..n {
            let rounding = 1e-7 * (all.sqrt() * (mean[i].abs() + self.taken_off(&self.columns[i])?));
            let (mut made_of, mut rest) = (Vec::new(), 1.0);
            if !(size[i] > rounding) {
                rest = 0.0;
            } else if i > 0 {
                let among: Vec<f64> = (0..i)
                    .flat_map(|a| (0..=a).map(move |b| (a, b)))
                    .map(|(a, b)| cross[packed(a, b)] / (size[a] * size[b]))
                    .collect();
                let with: Vec<f64> = (0..i).map(|a| cross[packed(i, a)] / (size[i] * size[a])).collect();
                // Earlier columns are not made of each other, so their matrix has an inverse.
                let share = solve(&among, &with).unwrap_or_else(|| vec![1.0; i]);
                rest = 1.0 - share.iter().zip(&with).map(|(a, b)| a * b).sum::<f64>();
                made_of = (0..i).filter(|a| share[*a].abs() > 1e-4).map(|a| self.columns[a].name.clone()).collect();
            }
            if !(rest > COLLINEAR) {
                let name = &self.columns[i].name;
                let said = if made_of.is_empty() { "the same for all lamps".to_owned() } else { made_of.join(", ") };
                let what = "a column is made of others, so their effects cannot be told apart";
                let problem = input("fit.collinear", what, name).got(format!("{name} from {said}"));
                return Err(Error::new(Kind::Refused, problem.expected("terms of which none follows from the others")));
            }
        }
        Ok(())
    }
}
