//! Terms by name, and the factors that they are made of.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::stress::{StressLaw, ValueIs, refuse_last};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::fitting;
use crate::fit::model::Note;
use crate::lives::{CovariateKind, CovariateValue, Tally};

/// Which covariates enter a model, and how.
///
/// # Examples
/// ```
/// use relamp::fit::Terms;
/// let terms = Terms::new(["supplier", "current", "supplier:current"]).reference("supplier", "north");
/// assert_eq!(terms.terms.len(), 3);
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Terms {
    /// Names of covariates, and interactions as names joined by a colon; a number joined to itself is its square.
    pub terms: Vec<String>,
    /// The level of a category that the others are compared with; the first in order without an entry.
    pub references: BTreeMap<String, String>,
    /// Stress laws by covariate; a number without one enters as it is.
    pub laws: BTreeMap<String, StressLaw>,
    /// What the one value that a lamp has of a number without a law stands for. A number that nobody declares is taken to
    /// hold all through a life, and a note says what follows where it does not.
    pub value_is: BTreeMap<String, ValueIs>,
}

impl Terms {
    /// Terms by name.
    pub fn new<S: Into<String>>(terms: impl IntoIterator<Item = S>) -> Self {
        Self { terms: terms.into_iter().map(Into::into).collect(), ..Self::default() }
    }

    /// Names the level that the others are compared with.
    #[must_use]
    pub fn reference(mut self, name: &str, level: &str) -> Self {
        self.references.insert(name.to_owned(), level.to_owned());
        self
    }

    /// Declares what the value of a number without a law stands for.
    #[must_use]
    pub fn value_is(mut self, name: &str, value_is: ValueIs) -> Self {
        self.value_is.insert(name.to_owned(), value_is);
        self
    }

    /// Names the stress law of a covariate.
    #[must_use]
    pub fn law(mut self, name: &str, law: StressLaw) -> Self {
        self.laws.insert(name.to_owned(), law);
        self
    }
}

/// One covariate as a model takes it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Factor {
    /// Name of the covariate.
    pub name: String,
    /// Levels of a category in order; empty for a number.
    pub levels: Vec<String>,
    /// The level that the others are compared with.
    pub reference: Option<String>,
    /// The stress law of a number.
    pub law: Option<StressLaw>,
    /// What the value of a number without a law was declared to stand for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value_is: Option<ValueIs>,
    /// The value of a number at which the baseline stands: the reference of its law, else its mean over the lamps.
    pub baseline: Option<f64>,
    /// Smallest value of a number seen.
    pub low: Option<f64>,
    /// Largest value seen.
    pub high: Option<f64>,
}

impl Factor {
    /// What the covariate is.
    pub fn kind(&self) -> CovariateKind {
        if self.levels.is_empty() { CovariateKind::Number } else { CovariateKind::Category }
    }

    /// The number that enters columns.
    pub(super) fn number(&self, x: f64) -> Result<f64> {
        self.law.map_or(Ok(x), |law| law.column(&self.name, x))
    }

    /// That number at the baseline.
    pub(super) fn at_baseline(&self) -> Result<f64> {
        self.number(self.baseline.unwrap_or(f64::NAN))
    }
}

/// A term: the factors it joins, each as often as it is joined.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Term {
    /// The name as given.
    pub name: String,
    /// Places of its factors, ascending.
    pub factors: Vec<usize>,
}

impl Term {
    /// Whether every factor of another term is in it, as often.
    pub(crate) fn holds(&self, other: &Term) -> bool {
        let times = |of: &Term, f: usize| of.factors.iter().filter(|g| **g == f).count();
        other.factors.iter().all(|f| times(self, *f) >= times(other, *f))
    }
}

pub(super) fn input(slug: &'static str, what: impl Into<String>, column: &str) -> Problem {
    let place = Place::input("terms");
    Problem::new(slug, what).at(if column.is_empty() { place } else { place.column(column) })
}

/// Lamps of each group.
pub(super) fn lamps_by_group(tally: &Tally) -> Vec<u64> {
    let mut lamps = vec![0; tally.groups().len()];
    for (group, count) in tally.group().iter().zip(tally.count()) {
        if let Some(slot) = lamps.get_mut(*group as usize) {
            *slot += count;
        }
    }
    lamps
}

/// The factors and terms that names stand for.
pub(super) fn read(asked: &Terms, tally: &Tally) -> Result<(Vec<Factor>, Vec<Term>)> {
    let mut problems = Vec::new();
    let covariates = tally.covariates();
    let known = || match covariates {
        [] => "stratum, or covariates, which these lives do not have".to_owned(),
        some => {
            let names: Vec<&str> = some.iter().map(|c| c.name.as_str()).collect();
            format!("covariates of these lives: {}; or stratum", names.join(", "))
        }
    };
    let split = |term: &str| -> Vec<String> { term.split(':').map(|part| part.trim().to_owned()).collect() };
    let mut names: BTreeSet<String> = BTreeSet::new();
    for term in &asked.terms {
        for part in split(term) {
            if tally.covariate_place(&part).is_some() {
                names.insert(part);
            } else {
                let got = if part.is_empty() { "an empty name".to_owned() } else { part };
                problems.push(input("fit.covariate_unknown", "no such covariate", term).got(got).expected(known()));
            }
        }
    }
    for name in asked.references.keys().chain(asked.laws.keys()).chain(asked.value_is.keys()) {
        if !names.contains(name) && problems.is_empty() {
            let what = "a reference, a law or a declaration for a covariate that no term names";
            let named = names.iter().map(String::as_str).collect::<Vec<_>>().join(", ");
            let problem = input("fit.covariate_unknown", what, name).got(name);
            problems.push(problem.expected(format!("one of those in the terms: {named}")));
        }
    }
    if asked.terms.is_empty() {
        problems.push(input("fit.no_terms", "no terms are given", "").expected(known()));
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let mut factors = Vec::new();
    let mut errors = Vec::new();
    for name in &names {
        match factor(name, asked, tally) {
            Ok(factor) => factors.push(factor),
            Err(error) => errors.push(error),
        }
    }
    if let Some(first) = errors.first() {
        let all = errors.iter().flat_map(|e| e.problems().iter().cloned()).collect();
        let error = Error::many(first.kind(), all);
        return Err(match errors.iter().find_map(Error::hint) {
            Some(hint) => error.with_hint(hint),
            None => error,
        });
    }
    let place = |part: &str| factors.iter().position(|f: &Factor| f.name == part).unwrap_or(0);
    let mut terms: Vec<Term> = Vec::new();
    for name in &asked.terms {
        let mut parts: Vec<usize> = split(name).iter().map(|part| place(part)).collect();
        parts.sort_unstable();
        let squared = parts.windows(2).any(|p| match p {
            [a, b] => a == b && factors.get(*a).is_some_and(|f| !f.levels.is_empty()),
            _ => false,
        });
        if squared {
            problems.push(input("fit.term", "a category joined to itself", name).got(name).expected("it once"));
        }
        if terms.iter().any(|t| t.factors == parts) {
            problems.push(input("fit.term", "one term twice", name).got(name).expected("each term once"));
        }
        terms.push(Term { name: name.clone(), factors: parts });
    }
    for term in &terms {
        for leave in 0..term.factors.len() {
            let mut part = term.factors.clone();
            part.remove(leave);
            if !part.is_empty() && !terms.iter().any(|t| t.factors == part) {
                let missing: Vec<&str> = part.iter().filter_map(|f| factors.get(*f)).map(|f| f.name.as_str()).collect();
                let what = "an interaction without one of its parts, whose effect it would take over";
                problems.push(
                    input("fit.interaction_part_missing", what, &term.name)
                        .got(&term.name)
                        .expected(format!("the term {} too", missing.join(":"))),
                );
            }
        }
    }
    problems.dedup();
    if problems.is_empty() { Ok((factors, terms)) } else { Err(Error::many(Kind::Input, problems)) }
}

impl Terms {
    /// The covariates that terms name, those of interactions apart.
    pub(crate) fn names(&self) -> impl Iterator<Item = &str> {
        self.terms.iter().flat_map(|term| term.split(':')).map(str::trim)
    }
}

/// A note where lamps of several strata are put together and no term tells these apart.
pub(crate) fn strata_note<'n>(tally: &Tally, named: impl Iterator<Item = &'n str>) -> Option<Note> {
    tally.strata_left(named).map(|names| {
        let text = format!(
            "lamps of {names} are put together: how these differ stands in the figures of whatever goes with them; name \
             stratum to keep them apart"
        );
        Note::new("fit.strata_together", text)
    })
}

/// A note on numbers that nobody declared: a value read late may follow the age instead of explaining it.
pub(crate) fn held_note(factors: &[Factor]) -> Option<Note> {
    let undeclared = |f: &&Factor| f.levels.is_empty() && f.law.is_none() && f.value_is.is_none();
    let names: Vec<&str> = factors.iter().filter(undeclared).map(|f| f.name.as_str()).collect();
    let are = fitting(names.len() as u64, "is", "are");
    names.first()?;
    let text = format!(
        "{} {are} taken to hold from the first hour of a lamp to its last, which nobody declared: a value read at the end of a \
         life instead of at fitting, such as a current raised as the lamp faded, follows the age and makes the ratio wrong; \
         declare by value_is what it stands for",
        names.join(", ")
    );
    Some(Note::new("fit.covariate_held", text))
}

fn factor(name: &str, asked: &Terms, tally: &Tally) -> Result<Factor> {
    let found = tally.covariate_place(name);
    let lamps = lamps_by_group(tally);
    let groups = tally.groups().iter().zip(&lamps);
    let fail = |kind: Kind, problem: Problem| Err(Error::new(kind, problem));
    let mut levels: BTreeMap<String, u64> = BTreeMap::new();
    let (mut low, mut high, mut sum, mut all) = (f64::INFINITY, f64::NEG_INFINITY, 0.0, 0.0);
    for (value, lamps) in groups.filter_map(|(group, lamps)| Some((group.covariate(found?.0)?, *lamps))) {
        match value.into_owned() {
            CovariateValue::Category(level) => *levels.entry(level).or_default() += lamps,
            CovariateValue::Number(x) if lamps > 0 => {
                (low, high) = (low.min(x.get()), high.max(x.get()));
                sum += lamps as f64 * x.get();
                all += lamps as f64;
            }
            CovariateValue::Number(_) => {}
        }
    }
    let numeric = found.is_some_and(|found| found.1 == CovariateKind::Number);
    let reference = asked.references.get(name);
    let constant = |said: String| {
        let what = "the covariate is the same for all lamps, so it explains nothing";
        input("fit.covariate_constant", what, name).got(said).expected("two values or more")
    };
    if numeric {
        if let Some(level) = reference {
            let what = "a number has no reference level";
            return fail(Kind::Input, input("fit.reference", what, name).got(level).expected("a reference of its law"));
        }
        if !(low < high) {
            return fail(Kind::Refused, constant(if all > 0.0 { low.to_string() } else { "no lamps".to_owned() }));
        }
        let law = asked.laws.get(name).copied();
        if let Some(law) = law {
            law.check(name)?;
        }
        let value_is = asked.value_is.get(name).copied();
        if law.is_some() && value_is.is_some() {
            let what = "the stress law of a covariate says already what its value stands for";
            return fail(Kind::Input, input("fit.value_is", what, name).got(name).expected("one of the two"));
        }
        if value_is == Some(ValueIs::LastReading) {
            return Err(refuse_last("value_is", name));
        }
        let baseline = Some(law.map_or(sum / all, StressLaw::reference));
        let (low, high) = (Some(low), Some(high));
        return Ok(Factor {
            name: name.into(),
            levels: Vec::new(),
            reference: None,
            law,
            value_is,
            baseline,
            low,
            high,
        });
    }
    if asked.value_is.contains_key(name) {
        let what = "only a number is declared to be a setting or a reading";
        return fail(Kind::Input, input("fit.value_is", what, name).got("a category").expected("a number"));
    }
    if asked.laws.contains_key(name) {
        let what = "a stress law needs numbers";
        return fail(Kind::Input, input("fit.law_of_category", what, name).got("a category").expected("a number"));
    }
    if let Some((level, _)) = levels.iter().find(|(_, lamps)| **lamps == 0) {
        let what = "a level of the category has no lamps";
        return fail(Kind::Refused, input("fit.level_no_lamps", what, name).got(level).expected("at least one lamp"));
    }
    let list = || levels.keys().map(String::as_str).collect::<Vec<_>>().join(", ");
    if let Some(level) = reference.filter(|r| !levels.contains_key(*r)) {
        let what = "the reference level has no lamps";
        return fail(Kind::Refused, input("fit.level_no_lamps", what, name).got(level).expected(list()));
    }
    if levels.len() < 2 {
        return fail(Kind::Refused, constant(list()));
    }
    Ok(Factor {
        name: name.into(),
        reference: reference.cloned().or_else(|| levels.keys().next().cloned()),
        levels: levels.into_keys().collect(),
        law: None,
        value_is: None,
        baseline: None,
        low: None,
        high: None,
    })
}
