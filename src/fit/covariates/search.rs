//! The search for the maximum of a regression, and levels at which there is none.

use super::design::Design;
use super::model::{CovariateFit, TermTest, few_note};
use super::profile::runaway;
use super::stress::prolonging;
use super::surface::{Move, Regression};
use super::terms::{Term, Terms, held_note, strata_note};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short};
use crate::base::math::linalg::{flattest, inverse, packed, scaled_condition};
use crate::base::run::Run;
use crate::family::Family;
use crate::fit::interval::{Sides, critical};
use crate::fit::model::failure_notes;
use crate::fit::newton::{Outcome, Surface, climb};
use crate::fit::refusal;
use crate::fit::sample::{Evidence, Sample};
use crate::fit::search::{BLIND, FitOptions, facts, fit_sample};
use crate::lives::Tally;

/// Fits an accelerated-life regression by maximum likelihood: covariates multiply every age by a factor, or shift it.
///
/// # Formula
/// ```text
/// R(t | z) = R0(t exp(-eta))   families of ages above 0: exp(b) is a ratio of lives
/// R(t | z) = R0(t - eta)       normal, logistic, smallest_extreme_value: b is hours
/// eta      = sum of b times (column - column at the baseline)
/// ```
/// Any row goes in that a fit without covariates takes: exact failures, intervals, late entry, windows, counts, weights.
/// The baseline is the lamp at the reference levels, at the references of stress laws, and at the mean of other numbers.
///
/// # Arguments
/// `terms`: covariates of the tally by name, and interactions such as `supplier:current`; see [`Design`].
///
/// # Errors
/// Those of [`Design::new`] and of [`crate::fit::fit`] without covariates. Refused: `fit.level_no_failures` for a level
/// none of whose lamps failed: its coefficient has no finite maximum, and the hint gives the bound;
/// `fit.combination_no_failures` for levels that an interaction joins; `fit.regression_not_identified`;
/// `fit.regression_family` for `weibull_failure_free` and `piecewise_constant(...)`, whose likelihoods have corners.
///
/// # Source
/// Meeker & Escobar, Statistical Methods for Reliability Data (1998), chapter 17 (from memory).
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{FitOptions, Terms, fit_covariates};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::{Column, Values};
/// let low = vec![100.0, 300.0, 200.0, 600.0];
/// let supplier = ["north", "north", "south", "south"].map(|s| Some(s.into())).to_vec();
/// let rows = Rows { high: low.clone(), low, ..Rows::default() }
///     .with_covariates(&[Column { name: "supplier".into(), values: Values::Text(supplier) }])?;
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let even = family("exponential")?;
/// let fit = fit_covariates(even, &tally, &Terms::new(["supplier"]), &FitOptions::default(), &Run::new())?;
/// // Even hazards: the ratio of mean lives, 400 h to 200 h, with variance 1/2 + 1/2 of its logarithm.
/// assert!((fit.coefficient("supplier=south")? - 2f64.ln()).abs() < 1e-9);
/// assert!((fit.standard_error("supplier=south")? - 1.0).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn fit_covariates(
    family: &dyn Family,
    tally: &Tally,
    terms: &Terms,
    options: &FitOptions,
    run: &Run,
) -> Result<CovariateFit> {
    if family.name() == crate::fit::failure_free::FAILURE_FREE || !family.cuts().is_empty() {
        let what = "a likelihood with corners, at the first failure or where ages pass a cut, cannot carry covariates";
        let problem = Problem::new("fit.regression_family", what).at(Place::input("family")).got(family.name());
        let hint = "proportional_hazards leaves the shape of the hazard open";
        return Err(Error::new(Kind::Refused, problem.expected("weibull, or another smooth family")).with_hint(hint));
    }
    let design = Design::new(terms, tally)?;
    let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
    let without = fit_sample(family, &sample, options, run)?;
    let matrix = design.matrix(tally)?;
    let surface = Regression::new(family, &sample, matrix, design.columns.len());
    let start = [without.coordinates(), &vec![0.0; design.columns.len()]].concat();
    failing_levels(&design, &surface, &start, options, run)?;
    let outcome = climb(&surface, &start, options.iterations, run)?;
    let (w, q) = (family.width(), design.columns.len());
    let free = outcome.free_information();
    let moving = outcome.held.iter().filter(|held| !**held).count();
    let refused = || not_identified(&design, family, &outcome);
    let whole = inverse(&free, moving).filter(|_| outcome.point.value.is_finite() && surface.inside(&outcome.x));
    let Some(whole) = whole else { return Err(refused()) };
    let mut covariance = outcome.spread_out(&whole);
    let mut coefficients = outcome.x.get(w..).unwrap_or_default().to_vec();
    let unit = |i: usize| if i < w { 1.0 } else { surface.spread[i - w] };
    for i in 0..w + q {
        for j in 0..=i {
            covariance[packed(i, j)] /= unit(i) * unit(j);
        }
    }
    // In units of the column's own spread: a factor of e^20 between ordinary lamps is what no record says.
    let blind = |j: usize| {
        let variance = covariance[packed(w + j, w + j)] * surface.spread[j] * surface.spread[j];
        !(variance < (BLIND * surface.step(&outcome.x, w + j)).powi(2))
    };
    if (0..q).any(blind) {
        return Err(refused());
    }
    coefficients.iter_mut().zip(&surface.spread).for_each(|(b, s)| *b /= s);
    let log_likelihood = outcome.point.value;
    let tests = term_tests(&design, family, &sample, without.coordinates(), log_likelihood, options, run)?;
    let facts = facts(&sample.count);
    let prolonging = prolonging(&design, &coefficients, true);
    Ok(CovariateFit {
        family: family.name().to_owned(),
        baseline: outcome.x.get(..w).unwrap_or_default().to_vec(),
        coefficients,
        covariance,
        log_likelihood,
        log_likelihood_without: without.log_likelihood(),
        scaled_gradient: outcome.point.scaled_gradient(&outcome.held),
        condition: scaled_condition(&free, moving),
        iterations: outcome.iterations,
        stop: outcome.stop,
        converged: outcome.converged(),
        notes: failure_notes(facts.failures)
            .into_iter()
            .chain(few_note(facts.failures, q))
            .chain(strata_note(tally, terms.names()))
            .chain(held_note(&design.factors))
            .chain(prolonging)
            .collect(),
        facts,
        tests,
        design,
    })
}

/// The best of a smaller design.
fn best(
    design: Option<&Design>,
    family: &dyn Family,
    sample: &Sample,
    base: &[f64],
    options: &FitOptions,
    run: &Run,
) -> Result<Outcome> {
    let columns = design.map_or(0, |d| d.columns.len());
    let none = || vec![vec![]; sample.tally.groups().len()];
    let matrix = design.map_or_else(|| Ok(none()), |d| d.matrix(sample.tally))?;
    let surface = Regression::new(family, sample, matrix, columns);
    climb(&surface, &[base, &vec![0.0; columns]].concat(), options.iterations, run)
}

fn term_tests(
    design: &Design,
    family: &dyn Family,
    sample: &Sample,
    base: &[f64],
    top: f64,
    options: &FitOptions,
    run: &Run,
) -> Result<Vec<TermTest>> {
    let mut tests = Vec::new();
    for term in &design.terms {
        let above = |t: &Term| t != term && t.holds(term);
        let wide = design.without(above)?;
        let narrow = design.without(|t| t.holds(term))?;
        let columns = |d: Option<&Design>| d.map_or(0, |d| d.columns.len());
        let wide_top = if design.terms.iter().any(above) {
            best(wide.as_ref(), family, sample, base, options, run)?.point.value
        } else {
            top
        };
        let narrow_top = best(narrow.as_ref(), family, sample, base, options, run)?.point.value;
        let degrees = columns(wide.as_ref()) - columns(narrow.as_ref());
        tests.push(TermTest::new(&term.name, 2.0 * (wide_top - narrow_top), degrees));
    }
    Ok(tests)
}

/// Failures of each group of a tally.
pub(crate) fn failures_by_group(sample: &Sample) -> Vec<f64> {
    let mut failures = vec![0.0; sample.tally.groups().len()];
    for i in 0..sample.tally.rows() {
        if !matches!(sample.row(i).evidence, Evidence::Passed(_)) {
            failures[sample.tally.group()[i] as usize] += sample.weights[i];
        }
    }
    failures
}

/// Levels, and combinations of levels, without failures.
pub(crate) struct WithoutFailures {
    pub(crate) term: String,
    pub(crate) levels: Vec<String>,
    pub(crate) lamps: u64,
    /// Whether the level stands in no interaction, so that one coefficient alone runs away.
    pub(crate) alone: bool,
}

/// Every combination of levels of a term none of whose lamps failed.
pub(crate) fn without_failures(design: &Design, sample: &Sample) -> Result<Vec<WithoutFailures>> {
    let failures = failures_by_group(sample);
    let lamps = super::terms::lamps_by_group(sample.tally);
    let mut found = Vec::new();
    for (term, cells) in design.cells(sample.tally)? {
        for (levels, groups) in cells {
            if groups.iter().all(|g| failures.get(*g).is_none_or(|f| *f == 0.0)) {
                let alone = design.terms.iter().filter(|t| t.holds(term)).count() == 1 && term.factors.len() == 1;
                let lamps = groups.iter().filter_map(|g| lamps.get(*g)).sum();
                found.push(WithoutFailures { term: term.name.clone(), levels, lamps, alone });
            }
        }
    }
    Ok(found)
}

/// The refusal of levels without failures, with what is known: `bound` says so for one that stands alone.
pub(crate) fn no_failures(found: &[WithoutFailures], bound: impl Fn(&WithoutFailures) -> Result<String>) -> Result<()> {
    if found.is_empty() {
        return Ok(());
    }
    let mut hints = Vec::new();
    let mut problems = Vec::new();
    for one in found {
        let lamps = counted(one.lamps, "lamp");
        let place = Place::input("terms").column(&one.term);
        let expected = "a failure in each, or the level left out or joined with another";
        problems.push(if one.levels.len() == 1 {
            let what = format!("no failures among {lamps} of a level: its coefficient has no finite maximum");
            Problem::new("fit.level_no_failures", what).at(place).got(one.levels.join("")).expected(expected)
        } else {
            let what = format!("no failures among {lamps} of a combination of levels: no finite maximum");
            Problem::new("fit.combination_no_failures", what)
                .at(place)
                .got(one.levels.join(" with "))
                .expected("a failure in each, or the interaction left out")
        });
        if one.alone {
            hints.push(bound(one)?);
        }
    }
    let error = Error::many(Kind::Refused, problems);
    Err(if hints.is_empty() { error } else { error.with_hint(hints.join("; ")) })
}

/// Part of a coefficient in the direction in which the likelihood is flattest from which the coefficient has a part in it.
const PART: f64 = 0.1;
/// From the tenth to the ninetieth part of lamps, in parts of the later age: where lives lie closer, the terms alone give the
/// age. A Weibull shape of 300, far beyond any lamp's. Our choice, without a source.
const EXACT: f64 = 0.01;

/// Why there is no maximum: a coefficient that runs off, ages that the terms explain to the hour, or terms that say the same.
fn not_identified(design: &Design, family: &dyn Family, outcome: &Outcome) -> Error {
    let (w, x, names) = (family.width(), &outcome.x, design.names());
    let moving: Vec<usize> = (0..x.len()).filter(|i| !outcome.held.get(*i).copied().unwrap_or(false)).collect();
    let flat = flattest(&outcome.free_information(), moving.len()).unwrap_or_default();
    let has_part = |(i, v): (&usize, &f64)| i.checked_sub(w).filter(|_| v.abs() > PART);
    let running: Vec<usize> = moving.iter().zip(&flat).filter_map(has_part).collect();
    let rest = family.at(x.get(..w).unwrap_or_default()).ok();
    let spread = rest.and_then(|life| Some((life.quantile(0.9).ok()?, life.quantile(0.1).ok()?)));
    let exact = spread.is_some_and(|(late, early)| (late - early).abs() <= EXACT * late.abs());
    let (what, got, expected) = if exact {
        (
            "the terms explain the ages at failure almost to the hour, so nothing is left by which to judge them",
            names.join(", "),
            "lamps alike in these terms that fail at different ages, or fewer terms",
        )
    } else if let ([one], true) = (running.as_slice(), outcome.point.value.is_finite()) {
        (
            "the likelihood rises without end: the lamps that failed and those that did not lie apart in this term, so a larger \
             coefficient always explains them better",
            names.get(*one).copied().unwrap_or_default().to_owned(),
            "failures at other values as well, or another term",
        )
    } else {
        let what = "the likelihood has no maximum at which these terms can be told apart";
        (what, names.join(", "), "fewer terms, or more failures")
    };
    let problem = Problem::new("fit.regression_not_identified", what).at(Place::input("terms"));
    Error::new(Kind::Refused, problem.got(got).expected(expected))
}

/// Refuses levels without failures, with the bound of their life ratio.
fn failing_levels(design: &Design, surface: &Regression, start: &[f64], options: &FitOptions, run: &Run) -> Result<()> {
    let found = without_failures(design, surface.sample)?;
    if !found.is_empty() && surface.sample.count.failures == 0 {
        return Err(refusal::no_failures(&surface.sample.count));
    }
    let w = surface.base_width();
    no_failures(&found, |one| {
        let level = one.levels.join("");
        let factor = design.factors.iter().find(|f| f.name == one.term);
        let Some(factor) = factor else { return Ok(String::new()) };
        let failed = |l: &&String| !found.iter().any(|o| o.term == one.term && o.levels.first() == Some(*l));
        let Some(reference) = factor.levels.iter().find(failed) else {
            return Ok(format!("no level of {} has failures", one.term));
        };
        // The same design seen from a level that has failures.
        let against = design.compared_with(&one.term, reference)?;
        let matrix = against.matrix(surface.sample.tally)?;
        let again = Regression::new(surface.family, surface.sample, matrix, against.columns.len());
        let far = FAR * again.step(start, w);
        let place = |one: &WithoutFailures| {
            let name = format!("{}={}", one.term, one.levels.join(""));
            against.columns.iter().position(|c| c.name == name)
        };
        let Some(i) = place(one) else { return Ok(String::new()) };
        let others: Vec<(usize, f64)> = found
            .iter()
            .filter(|o| o.alone)
            .filter_map(&place)
            .filter(|k| *k != i)
            .map(|k| (w + k, far * again.spread[k]))
            .collect();
        let z = critical(0.95, Sides::Lower)?;
        let ends = (far * again.spread[i], z);
        let bound = runaway(&again, start, w + i, ends, &others, options.iterations, run)?;
        Ok(match (bound.map(|b| b / again.spread[i]), again.moves) {
            (Some(b), Move::Stretch) => format!(
                "with 95 % confidence lives at {} {level} are at least {} times those at {reference}",
                one.term,
                short(b.exp())
            ),
            (Some(b), Move::Shift) => format!(
                "with 95 % confidence lives at {} {level} are at least {} h longer than those at {reference}",
                one.term,
                short(b)
            ),
            (None, _) => format!("the records give no bound for {} {level} either", one.term),
        })
    })
}

/// A coefficient at which no failure is left to be expected, in natural steps.
const FAR: f64 = 30.0;
