//! The search for the maximum of the partial likelihood.

use super::baseline::baselines;
use super::model::{HazardFit, HazardOptions};
use super::partial::Risk;
use super::residuals::meat;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short};
use crate::base::math::linalg::{inverse, packed, scaled_condition};
use crate::base::run::Run;
use crate::family::Order;
use crate::fit::covariates::{
    Design, Term, TermTest, Terms, few_note, held_note, no_failures, prolonging, runaway, strata_note, without_failures,
};
use crate::fit::few_clusters::{cluster_note, degrees_left};
use crate::fit::interval::{Sides, critical};
use crate::fit::model::failure_notes;
use crate::fit::newton::{Point, Surface, climb};
use crate::fit::refusal;
use crate::fit::sample::Sample;
use crate::fit::search::{BLIND, facts};
use crate::lives::Tally;

/// Fits proportional hazards by partial likelihood: covariates multiply a hazard whose shape is left open.
///
/// # Formula
/// ```text
/// h(t | z) = h0(t) exp(eta),  eta = sum of b times (column - column at the baseline)
/// ln L(b)  = sum over failure ages of ( sum of eta of those that fail
///            - sum over l = 0 .. d - 1 of ln(S - (l / d) D) )
/// ```
/// S adds exp(eta) over the lamps at risk at the age, D over the d that fail there: ties by Efron. A lamp that enters late
/// is at risk after its entry; one censored at a failure age was at risk there. h0 is that of the baseline lamp, one for
/// each stratum. Robust covariance: inverse information on both sides of the sum over clusters of squared score residuals,
/// times G / (G - 1 - k) for G clusters and k coefficients; its intervals take Student's t with G - 1 - k degrees of freedom.
///
/// # Arguments
/// `terms`: covariates by name and interactions, see [`Design`].
///
/// # Errors
/// Those of [`Design::new`]; refused: `fit.hazards_interval`, `fit.hazards_window` by row, `fit.no_failures`,
/// `fit.level_no_failures` with the bound in the hint, `fit.combination_no_failures`, `fit.hazards_not_identified`;
/// `fit.hazards_clusters` for robust standard errors with fewer than two more clusters than coefficients,
/// `fit.hazards_no_spread` for robust standard errors of lives that leave no spread between clusters;
/// `fit.strata_unknown`, `fit.strata_term` for a category that is kept apart and a term too.
///
/// # Source
/// D. R. Cox (1972), Journal of the Royal Statistical Society B 34, 187-220; B. Efron (1977), Journal of the American
/// Statistical Association 72, 557-565; D. Y. Lin and L. J. Wei (1989), the same 84, 1074-1078. G / (G - 1 - k) and t: general
/// regression practice, exact for two groups of as many even clusters each. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::fit::{HazardOptions, Terms, proportional_hazards};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::{Column, Values};
/// let low = vec![100.0, 200.0, 300.0];
/// let supplier = ["south", "north", "south"].map(|s| Some(s.into())).to_vec();
/// let rows = Rows { high: low.clone(), low, ..Rows::default() }
///     .with_covariates(&[Column { name: "supplier".into(), values: Values::Text(supplier) }])?;
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let fit = proportional_hazards(&tally, &Terms::new(["supplier"]), &HazardOptions::default(), &Run::new())?;
/// // By hand: L = r / (2 r + 1) / (r + 1) is highest where 2 r^2 = 1.
/// assert!((fit.hazard_ratio("supplier=south")? - 0.5f64.sqrt()).abs() < 1e-9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn proportional_hazards(tally: &Tally, terms: &Terms, options: &HazardOptions, run: &Run) -> Result<HazardFit> {
    let design = Design::new(terms, tally)?;
    if let Some(both) = options.strata.iter().find(|s| design.factors.iter().any(|f| f.name == **s)) {
        let what = "a category cannot be kept apart and be a term: within a stratum it does not vary";
        let problem = Problem::new("fit.strata_term", what).at(Place::input("strata").column(both));
        return Err(Error::new(Kind::Input, problem.got(both).expected("one of the two")));
    }
    let sample = Sample::new(tally, options.endings.as_deref(), None)?;
    if sample.count.failures == 0 {
        return Err(refusal::no_failures(&sample.count));
    }
    let risk = Risk::new(tally, options.endings.as_deref(), &options.strata, &design)?;
    failing_levels(&design, &sample, options, run)?;
    let q = design.columns.len();
    let start = vec![0.0; q];
    let mut zero = Point::new(q);
    risk.at(&start, Order::Value, &mut zero)?;
    let outcome = climb(&risk, &start, options.iterations, run)?;
    let information = outcome.point.information();
    let refused = || {
        let names = design.names().join(", ");
        let (what, expected) = match outcome.x.as_slice() {
            [b] => (one_column(*b), "failures at other values as well, or another term"),
            _ => (
                "the partial likelihood has no maximum at which these terms can be told apart".to_owned(),
                "fewer terms, or more failures",
            ),
        };
        let problem = Problem::new("fit.hazards_not_identified", what).at(Place::input("terms"));
        Error::new(Kind::Refused, problem.got(names).expected(expected))
    };
    let Some(model) = inverse(&information, q).filter(|_| outcome.point.value.is_finite()) else {
        return Err(refused());
    };
    // The spread of a column is 1 here: a factor of e^20 between ordinary lamps is what no record says.
    if (0..q).any(|j| !(model[packed(j, j)] < BLIND * BLIND)) {
        return Err(refused());
    }
    let (meat, clusters) = meat(&risk, tally, &outcome.x);
    let between = brackets(&model, &meat, q);
    if options.robust && degrees_left(clusters, q).is_none() {
        let what = "robust standard errors need two more clusters than coefficients";
        let problem = Problem::new("fit.hazards_clusters", what).at(Place::input("robust"));
        let problem = problem.got(format!("{}, {}", counted(clusters, "cluster"), counted(q as u64, "coefficient")));
        let error = problem.expected(format!("{} clusters or more", q + 2));
        return Err(Error::new(Kind::Refused, error).with_hint("without robust, the curvature gives standard errors"));
    }
    let few = if options.robust { cluster_note(clusters) } else { None };
    // Scores that add up to 0 in each cluster, or are 0 for each lamp, tell nothing of how far clusters differ.
    if options.robust && (0..q).any(|j| !(between[packed(j, j)] > NO_SPREAD * model[packed(j, j)])) {
        let what = "the lives leave no spread between clusters to take standard errors from";
        let problem = Problem::new("fit.hazards_no_spread", what).at(Place::input("robust"));
        let problem = problem.got(format!("{}, {}", counted(clusters, "cluster"), counted(risk.failures(), "failure")));
        let error = problem.expected("several clusters, with failures at several ages");
        return Err(Error::new(Kind::Refused, error).with_hint("without robust, the curvature gives standard errors"));
    }
    let scaled = |inner: &[f64]| -> Vec<f64> {
        let mut out = inner.to_vec();
        for i in 0..q {
            for j in 0..=i {
                out[packed(i, j)] /= risk.spread[i] * risk.spread[j];
            }
        }
        out
    };
    let facts = facts(&sample.count);
    let top = outcome.point.value;
    let coefficients: Vec<f64> = outcome.x.iter().zip(&risk.spread).map(|(b, s)| b / s).collect();
    let prolonging = prolonging(&design, &coefficients, false);
    Ok(HazardFit {
        strata: options.strata.clone(),
        coefficients,
        covariance: scaled(&model),
        robust_covariance: scaled(&between),
        robust: options.robust,
        clusters,
        log_likelihood: top + risk.ties(),
        log_likelihood_without: zero.value + risk.ties(),
        scaled_gradient: outcome.point.scaled_gradient(&outcome.held),
        condition: scaled_condition(&information, q),
        iterations: outcome.iterations,
        stop: outcome.stop,
        converged: outcome.converged(),
        notes: failure_notes(facts.failures)
            .into_iter()
            .chain(few_note(facts.failures, q))
            .chain(few)
            .chain(held_note(&design.factors))
            .chain(prolonging)
            .chain(strata_note(tally, terms.names().chain(options.strata.iter().map(String::as_str))))
            .collect(),
        facts,
        tests: term_tests(&design, tally, options, (zero.value, top), run)?,
        baselines: baselines(&risk, &outcome.x),
        design,
    })
}

/// V M V, packed.
fn brackets(v: &[f64], m: &[f64], q: usize) -> Vec<f64> {
    let mut out = Vec::with_capacity(v.len());
    for i in 0..q {
        for j in 0..=i {
            let mut sum = 0.0;
            for a in 0..q {
                for b in 0..q {
                    sum += v[packed(i, a)] * m[packed(a, b)] * v[packed(b, j)];
                }
            }
            out.push(sum);
        }
    }
    out
}

fn term_tests(
    design: &Design,
    tally: &Tally,
    options: &HazardOptions,
    (zero, top): (f64, f64),
    run: &Run,
) -> Result<Vec<TermTest>> {
    let best = |design: Option<&Design>| -> Result<f64> {
        let Some(design) = design else { return Ok(zero) };
        let risk = Risk::new(tally, options.endings.as_deref(), &options.strata, design)?;
        Ok(climb(&risk, &vec![0.0; design.columns.len()], options.iterations, run)?.point.value)
    };
    let mut tests = Vec::new();
    for term in &design.terms {
        let above = |t: &Term| t != term && t.holds(term);
        let (wide, narrow) = (design.without(above)?, design.without(|t| t.holds(term))?);
        let wide_top = if design.terms.iter().any(above) { best(wide.as_ref())? } else { top };
        let columns = |d: Option<&Design>| d.map_or(0, |d| d.columns.len());
        let degrees = columns(wide.as_ref()) - columns(narrow.as_ref());
        tests.push(TermTest::new(&term.name, 2.0 * (wide_top - best(narrow.as_ref())?), degrees));
    }
    Ok(tests)
}

/// Refuses levels without failures, with the bound of their hazard ratio.
fn failing_levels(design: &Design, sample: &Sample, options: &HazardOptions, run: &Run) -> Result<()> {
    let found = without_failures(design, sample)?;
    no_failures(&found, |one| {
        let level = one.levels.join("");
        let factor = design.factors.iter().find(|f| f.name == one.term);
        let failed = |l: &&String| !found.iter().any(|o| o.term == one.term && o.levels.first() == Some(*l));
        let Some(reference) = factor.and_then(|f| f.levels.iter().find(failed)) else {
            return Ok(format!("no level of {} has failures", one.term));
        };
        let against = design.compared_with(&one.term, reference)?;
        let risk = Risk::new(sample.tally, options.endings.as_deref(), &options.strata, &against)?;
        let place = |one: &crate::fit::covariates::WithoutFailures| {
            let name = format!("{}={}", one.term, one.levels.join(""));
            against.columns.iter().position(|c| c.name == name)
        };
        let Some(i) = place(one) else { return Ok(String::new()) };
        let others: Vec<(usize, f64)> = found
            .iter()
            .filter(|o| o.alone)
            .filter_map(&place)
            .filter(|k| *k != i)
            .map(|k| (k, -FAR * risk.spread[k]))
            .collect();
        let z = critical(0.95, Sides::Upper)?;
        let start = vec![0.0; against.columns.len()];
        let bound = runaway(&risk, &start, i, (-FAR * risk.spread[i], z), &others, options.iterations, run)?;
        Ok(match bound.map(|b| (b / risk.spread[i]).exp()) {
            Some(ratio) => format!(
                "with 95 % confidence the hazard at {} {level} is at most {} times that at {reference}",
                one.term,
                short(ratio)
            ),
            None => format!("the records give no bound for {} {level} either", one.term),
        })
    })
}

/// Part of the variance by curvature below which the robust one is rounding.
const NO_SPREAD: f64 = 1e-12;

/// A logarithm of a hazard ratio at which no failure is left to be expected.
const FAR: f64 = 30.0;

/// Why one column alone has no coefficient: at `b` the search gave up.
fn one_column(b: f64) -> String {
    // Columns have a spread of 1: a search that left 0 for good went after a likelihood that rises without end.
    if b.abs() > 1.0 {
        let end = if b > 0.0 { "highest" } else { "lowest" };
        return format!(
            "the partial likelihood rises without end: every lamp that failed had the {end} value among those at risk, so \
             a steeper slope always explains them better"
        );
    }
    "lamps at risk at one age do not differ in this term, so the records say nothing of it".to_owned()
}
