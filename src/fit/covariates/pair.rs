//! Two groups of lamps beside each other at equal age and equal covariates.

use std::collections::BTreeMap;

use super::design::Design;
use super::life::moved_life;
use super::model::{CovariateFit, TermTest, place_of};
use super::pair_model::{LifeRatio, PairDraw, PairFit, PairSide};
use super::search::fit_covariates;
use super::surface::Regression;
use super::terms::Terms;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting};
use crate::base::math::special::normal_quantile;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::family::{Family, Life};
use crate::fit::few_clusters::{cluster_note, degrees_left, student_chance, student_critical};
use crate::fit::hazards::{HazardOptions, proportional_hazards};
use crate::fit::interval::{Interval, Sides, critical};
use crate::fit::model::Note;
use crate::fit::newton::climb;
use crate::fit::sample::{Evidence, Sample};
use crate::fit::search::FitOptions;
use crate::fit::weights::Clusters;
use crate::lives::{CovariateValue, Group, STRATUM, Tally};
use crate::records::Ending;

/// Both groups in one refit.
#[derive(Debug)]
pub struct PairRedraw<'a> {
    /// Their lives.
    pub lives: [Box<dyn Life>; 2],
    /// Shares of their endings, in the order of [`PairSide::endings`] and then [`PairSide::unseen`].
    pub shares: [&'a [f64]; 2],
}

/// How two groups are compared.
#[derive(Clone, Debug, PartialEq)]
pub struct PairOptions {
    /// Endings that count as failure; failures with another ending are right-censored at their `low`. None: all failures count.
    pub endings: Option<Vec<Ending>>,
    /// Terms that the comparison is adjusted for, as in [`Terms`]; without the category of the groups itself.
    pub adjust: Terms,
    /// Covariates of the lamps that are compared; those not named stand at the baseline of the terms.
    pub at: BTreeMap<String, CovariateValue>,
    /// Level of the intervals.
    pub level: f64,
    /// Refits under random weights, 100 to 100,000.
    pub replicates: usize,
    /// Seed of the weights.
    pub seed: u64,
    /// Largest number of iterations of one search.
    pub iterations: u64,
}

impl Default for PairOptions {
    fn default() -> Self {
        Self {
            endings: None,
            adjust: Terms::default(),
            at: BTreeMap::new(),
            level: 0.95,
            replicates: 400,
            seed: 1,
            iterations: 100,
        }
    }
}

/// Fewest and most refits.
const REPLICATES: std::ops::RangeInclusive<usize> = 100..=100_000;

/// Compares two groups of lamps at equal age and at equal covariates: ratio of lives, ratio of hazards, and both lives
/// redrawn together, for what follows from them.
///
/// # Formula
/// ```text
/// ratio of lives   = exp(b),   R(t | first) = R(t exp(-b) | second) at equal covariates    accelerated lives
/// ratio of hazards = exp(c),   h(t | first) = exp(c) h(t | second)                         proportional hazards
/// ```
/// b is that of [`fit_covariates`] over the category and the terms to adjust for, with its profile interval; c that of
/// [`proportional_hazards`] over the same terms, between robust brackets where lives have clusters. Only the lamps of the
/// two groups enter; where they are of several strata, such as lamp classes, the stratum joins the terms, and a note says so.
/// Each refit gives every row Gamma(count, 1) weight, shared by the rows of a cluster. Where failures had several endings, the
/// shares of the endings of a group add Gamma(1/2, 1) to the weight of each, those that only the other group had among them:
/// that an ending did not come among few failures does not mean that it cannot come.
///
/// Where lives have clusters, b and its test do not take lamps as independent either:
/// ```text
/// ln(ratio of lives) = b -+ t s,   s^2 = (variance of b over the refits) (m + 1) / (m - 1)
/// ```
/// m: clusters of the group that has fewer, a lamp without a cluster counting by itself; t: Student's with G - 1 - k degrees
/// of freedom, for G clusters and k coefficients. Exponential weights for m numbers give their mean (m - 1) / (m + 1) of its
/// unbiased variance.
///
/// # Arguments
/// `by`: a category among the covariates; `first`, `second`: two of its levels. Ratios are first over second.
///
/// # Errors
/// `fit.pair_by`, `fit.pair_name` for a level that no lamp has or one name twice, `fit.pair_replicates`, `fit.level`; those of
/// [`fit_covariates`], among them `fit.level_no_failures` with the bound that holds for a group without failures;
/// `fit.pair_clusters` where a group has a single cluster, or fewer than two more are there than coefficients;
/// `fit.pair_unsettled` where fewer than half of the refits settle; `fit.pair_family` for a family that reaches below age 0.
///
/// # Source
/// The half for each ending: H. Jeffreys (1946), An invariant form for the prior probability in estimation problems,
/// Proceedings of the Royal Society A 186, 453-461 (from memory); that intervals of costs then hold their level is checked by
/// simulation.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{PairOptions, compare_pair};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::{Column, Values};
/// let low: Vec<f64> = (1..=40).map(|i| 50.0 * f64::from(i)).collect();
/// let supplier = (1..=40).map(|i| Some(if i % 2 == 0 { "north" } else { "south" }.into())).collect();
/// let rows = Rows { high: low.clone(), low, ..Rows::default() }
///     .with_covariates(&[Column { name: "supplier".into(), values: Values::Text(supplier) }])?;
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let even = family("exponential")?;
/// let pair = compare_pair(even, &tally, "supplier", ["north", "south"], &PairOptions::default(), &Run::new())?;
/// // Even hazards: the ratio of mean lives, 1,050 h to 1,000 h.
/// assert!((pair.life_ratio().estimate - 1.05).abs() < 1e-9);
/// assert!(pair.life_ratio().low.unwrap() < 1.0 && pair.life_ratio().high.unwrap() > 1.0);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn compare_pair(
    family: &dyn Family,
    tally: &Tally,
    by: &str,
    [first, second]: [&str; 2],
    options: &PairOptions,
    run: &Run,
) -> Result<PairFit> {
    check(family, by, first, second, options)?;
    let two = two_groups(tally, by, [first, second])?;
    let mut adjust = options.adjust.clone();
    let strata = two.strata_left(adjust.names().chain([by])).map(|names| {
        let text = format!("the lamps are of {names}: compared within each, as if one ratio of lives told these apart");
        Note::new("fit.pair_strata", text)
    });
    if strata.is_some() {
        adjust.terms.push(STRATUM.to_owned());
    }
    let mut terms = adjust.clone();
    terms.terms.insert(0, by.to_owned());
    terms.references.insert(by.to_owned(), second.to_owned());
    let plain =
        FitOptions { endings: options.endings.clone(), iterations: options.iterations, ..FitOptions::default() };
    let fit = fit_covariates(family, &two, &terms, &plain, run)?;
    let name = format!("{by}={first}");
    let sample = Sample::new(&two, options.endings.as_deref(), None)?;
    let clusters = clusters_of(&two, by, [first, second], fit.design.columns.len())?;
    let (hazard_ratio, without) = match hazard_ratio(&sample, &terms, &name, options, run)? {
        Ok(ratio) => (Some(ratio), None),
        Err(note) => (None, Some(note)),
    };
    let at = [first, second].map(|group| lamp(&fit.design, by, group, &options.at));
    let sides = [(first, &at[0]), (second, &at[1])];
    let sides = sides.map(|(group, at)| side(&sample, by, group, &fit, at));
    let [one, other] = sides;
    let mut sides = [one?, other?];
    let seen = sides.each_ref().map(|s| s.endings.iter().map(|e| e.0).collect::<Vec<_>>());
    for (side, others) in sides.iter_mut().zip(seen.iter().rev()) {
        side.unseen = others.iter().copied().filter(|e| side.endings.iter().all(|own| own.0 != *e)).collect();
    }
    let (draws, unsettled) = redraw(family, &sample, &fit, &sides, by, options, run)?;
    let (life_ratio, test) = if let Some(clusters) = clusters {
        between_clusters(&fit, &draws, clusters, by, &name, options.level)?
    } else {
        let interval = fit.profile(&two, &plain, &name, options.level, Sides::Both, run)?;
        let test = fit.tests.iter().find(|t| t.term == by).cloned();
        (ratio_of(&interval), test.unwrap_or_else(|| TermTest::new(by, 0.0, 1)))
    };
    let few = clusters.and_then(|c| cluster_note(c.all));
    let far = fit.design.extrapolation(&options.at);
    Ok(PairFit {
        by: by.to_owned(),
        level: options.level,
        seed: options.seed,
        adjusted: adjust.terms,
        test,
        life_ratio,
        hazard_ratio,
        sides,
        clusters: clusters.map(|c| c.of_sides),
        notes: fit.notes.iter().cloned().chain(strata).chain(without).chain(few).chain(far).collect(),
        fit,
        draws,
        unsettled,
    })
}

fn check(family: &dyn Family, by: &str, first: &str, second: &str, options: &PairOptions) -> Result<()> {
    if family.below_zero() {
        let what = "lives that reach below age 0 have no ratio and no cost";
        let problem = Problem::new("fit.pair_family", what).at(Place::input("family")).got(family.name());
        return Err(Error::new(Kind::Refused, problem.expected("a family of ages above 0")));
    }
    if first == second {
        let problem =
            Problem::new("fit.pair_name", "a group cannot be compared with itself").at(Place::input("groups"));
        return Err(Error::new(Kind::Input, problem.got(first).expected("two levels of the category")));
    }
    critical(options.level, Sides::Both)?;
    if !REPLICATES.contains(&options.replicates) {
        let problem = Problem::new("fit.pair_replicates", "not a number of refits").at(Place::input("replicates"));
        return Err(Error::new(Kind::Input, problem.got(options.replicates).expected("100 to 100,000")));
    }
    if options.at.contains_key(by) {
        let what = "the category that is compared cannot stand still";
        let problem = Problem::new("fit.pair_by", what).at(Place::input("at").column(by)).got(by);
        return Err(Error::new(Kind::Input, problem.expected("the other covariates")));
    }
    Ok(())
}

/// The lamps of two levels of a category.
fn two_groups(tally: &Tally, by: &str, names: [&str; 2]) -> Result<Tally> {
    let Some(place) = tally.category_place(by) else {
        let known = tally.categories().collect::<Vec<_>>().join(", ");
        let problem = Problem::new("fit.pair_by", "no such category of the lives").at(Place::input("by")).got(by);
        let expected = if known.is_empty() {
            "a category, which these lives do not have".to_owned()
        } else {
            format!("categories of these lives: {known}")
        };
        return Err(Error::new(Kind::Input, problem.expected(expected)));
    };
    let label = |group: &Group| group.level(place);
    let mut lamps: BTreeMap<String, u64> = BTreeMap::new();
    for (group, count) in tally.group().iter().zip(tally.count()) {
        let name = tally.groups().get(*group as usize).map(label).unwrap_or_default();
        *lamps.entry(name).or_default() += count;
    }
    let missing = ["group", "other"].into_iter().zip(names).filter(|(_, n)| lamps.get(*n).is_none_or(|c| *c == 0));
    let problems: Vec<Problem> = missing
        .map(|(place, n)| {
            let problem = Problem::new("fit.pair_name", "no lamp belongs to this group").at(Place::input(place));
            let known = lamps.iter().filter(|(_, c)| **c > 0).map(|(l, _)| l.as_str()).collect::<Vec<_>>().join(", ");
            let got = if n.is_empty() { "an empty name" } else { n };
            problem.got(got).expected(format!("levels of {by}: {known}"))
        })
        .collect();
    if problems.is_empty() {
        Ok(tally.of_groups(|_, group| names.contains(&label(group).as_str())))
    } else {
        Err(Error::many(Kind::Input, problems))
    }
}

/// For each row which of some names the level of its lamps in a category is.
fn sides_of<'t>(tally: &'t Tally, category: &str, names: [&str; 2]) -> impl Fn(usize) -> Option<usize> + 't {
    let level = |g: &Group| tally.category_place(category).map(|place| g.level(place));
    let of_group: Vec<Option<usize>> =
        tally.groups().iter().map(|g| names.iter().position(|n| level(g).as_deref() == Some(*n))).collect();
    move |row| of_group.get(*tally.group().get(row)? as usize).copied().flatten()
}

/// A ratio from its logarithm.
fn ratio(estimate: f64, low: Option<f64>, high: Option<f64>) -> LifeRatio {
    LifeRatio { estimate: estimate.exp(), low: low.map(f64::exp), high: high.map(f64::exp) }
}

/// A ratio from the interval of a coefficient, which has an estimate wherever it was fitted.
fn ratio_of(coefficient: &Interval) -> LifeRatio {
    ratio(coefficient.estimate.unwrap_or(f64::NAN), coefficient.low, coefficient.high)
}

/// Clusters of both groups, a lamp without one counting by itself.
#[derive(Clone, Copy)]
struct PairClusters {
    of_sides: [u64; 2],
    /// Of both together: one may have lamps of either.
    all: u64,
    degrees: f64,
}

/// Clusters where lamps have any; refused where they are too few to tell how far they differ.
fn clusters_of(tally: &Tally, by: &str, names: [&str; 2], coefficients: usize) -> Result<Option<PairClusters>> {
    let clusters = Clusters::new(tally);
    let Some(all) = clusters.units(tally, |_| true) else { return Ok(None) };
    let side = sides_of(tally, by, names);
    let of_sides = [0, 1].map(|s| clusters.units(tally, |i| side(i) == Some(s)).unwrap_or(0));
    if let Some(degrees) = degrees_left(all, coefficients).filter(|_| of_sides.iter().all(|n| *n >= 2)) {
        return Ok(Some(PairClusters { of_sides, all, degrees }));
    }
    let what = "too few clusters to tell a difference of groups from one of clusters";
    let problem = Problem::new("fit.pair_clusters", what).at(Place::input("cluster"));
    let [one, other] = of_sides.map(|n| counted(n, "cluster"));
    let problem = problem.got(format!("{one} of {}, {other} of {}", names[0], names[1]));
    let least = format!("2 clusters or more of each, {} in all", 2 + coefficients);
    let hint = "without clusters the lamps are taken as independent";
    Err(Error::new(Kind::Refused, problem.expected(least)).with_hint(hint))
}

/// Ratio of lives and its test from the spread of the refits.
fn between_clusters(
    fit: &CovariateFit,
    draws: &[PairDraw],
    clusters: PairClusters,
    by: &str,
    name: &str,
    level: f64,
) -> Result<(LifeRatio, TermTest)> {
    let (b, place) = (fit.coefficient(name)?, fit.baseline.len() + place_of(&fit.design, name)?);
    let drawn: Vec<f64> = draws.iter().filter_map(|d| d.x.get(place)).copied().collect();
    let n = drawn.len() as f64;
    let mean = drawn.iter().fold(0.0, |a, x| a + x) / n;
    let squares = drawn.iter().fold(0.0, |a, x| a + (x - mean).powi(2));
    let fewer = clusters.of_sides[0].min(clusters.of_sides[1]) as f64;
    let error = (squares / (n - 1.0) * (fewer + 1.0) / (fewer - 1.0)).sqrt();
    let reach = student_critical(level, Sides::Both, clusters.degrees)? * error;
    // A chance of 0 has no normal quantile.
    let chance = student_chance(b / error, clusters.degrees).clamp(f64::MIN_POSITIVE, 1.0);
    let z = if chance < 1.0 { normal_quantile(0.5 * chance) } else { 0.0 };
    Ok((ratio(b, Some(b - reach), Some(b + reach)), TermTest::new(by, z * z, 1)))
}

/// Ratio of hazards with its interval, or why there is none.
fn hazard_ratio(
    sample: &Sample,
    terms: &Terms,
    name: &str,
    options: &PairOptions,
    run: &Run,
) -> Result<std::result::Result<LifeRatio, Note>> {
    let none = |why: String| Ok(Err(Note::new("fit.pair_no_hazard_ratio", format!("no ratio of hazards: {why}"))));
    if sample.tally.upper().is_some() {
        return none("records that show failures only do not say who was at risk".to_owned());
    }
    let intervals = sample.tally.interval_failures();
    if !sample.simple && intervals > 0 {
        let known = fitting(intervals, "is", "are");
        return none(format!("{} {known} known to an interval, not to an age", counted(intervals, "failure")));
    }
    let robust = sample.tally.groups().iter().any(|g| !g.cluster.is_empty());
    let asked = HazardOptions {
        endings: options.endings.clone(),
        robust,
        iterations: options.iterations,
        ..HazardOptions::default()
    };
    let fit = match proportional_hazards(sample.tally, terms, &asked, run) {
        // No failure of one group at an age where the other was at risk: the ratio of hazards has no maximum there,
        // while the family still tells lives apart.
        Err(error) if error.kind() == Kind::Refused => {
            return none(error.problems().first().map_or_else(|| error.to_string(), |p| p.what.clone()));
        }
        other => other?,
    };
    let interval = fit.wald(name, options.level, Sides::Both)?;
    Ok(Ok(ratio_of(&interval)))
}

/// Covariates of the lamp of one group: the baseline of the terms unless given.
fn lamp(
    design: &Design,
    by: &str,
    group: &str,
    given: &BTreeMap<String, CovariateValue>,
) -> BTreeMap<String, CovariateValue> {
    let mut out = given.clone();
    for factor in &design.factors {
        let value = match (&factor.reference, factor.baseline) {
            (Some(level), _) => Some(CovariateValue::Category(level.clone())),
            (None, Some(x)) => CovariateValue::number(x).ok(),
            (None, None) => None,
        };
        if let (Some(value), false) = (value, out.contains_key(&factor.name)) {
            out.insert(factor.name.clone(), value);
        }
    }
    out.insert(by.to_owned(), CovariateValue::Category(group.to_owned()));
    out
}

/// What the records hold of one group, and where its lamp stands in the model.
fn side(
    sample: &Sample,
    by: &str,
    group: &str,
    fit: &CovariateFit,
    at: &BTreeMap<String, CovariateValue>,
) -> Result<PairSide> {
    let tally = sample.tally;
    let own = sides_of(tally, by, [group, group]);
    let mut out = PairSide {
        name: group.to_owned(),
        lamps: 0,
        failures: 0,
        exposure_hours: 0.0,
        oldest_at_risk_hours: 0.0,
        mean_removed_hours: None,
        endings: Vec::new(),
        unseen: Vec::new(),
        columns: fit.design.at(at)?,
        covariates: at.clone(),
    };
    let (mut removed, mut hours) = (0, 0.0);
    let mut endings: BTreeMap<Ending, u64> = BTreeMap::new();
    for i in (0..tally.rows()).filter(|i| own(*i).is_some()) {
        let (row, count) = (sample.row(i), tally.count()[i]);
        let ending = Ending::from_code(tally.ending()[i]).unwrap_or(Ending::Unknown);
        let (age, failed) = match row.evidence {
            Evidence::Exact(age) => (age, true),
            Evidence::Passed(age) => (age, false),
            Evidence::Between(low, high) => (0.5 * (low + high), true),
        };
        out.lamps += count;
        out.exposure_hours += count as f64 * (age - row.entry).max(0.0);
        if count > 0 {
            out.oldest_at_risk_hours = out.oldest_at_risk_hours.max(age);
        }
        if failed {
            out.failures += count;
            *endings.entry(ending).or_default() += count;
        }
        if ending != Ending::Running {
            removed += count;
            hours += count as f64 * age;
        }
    }
    out.mean_removed_hours = (removed > 0).then(|| hours / removed as f64);
    out.endings =
        endings.into_iter().filter(|(_, n)| *n > 0).map(|(e, n)| (e, n as f64 / out.failures as f64)).collect();
    Ok(out)
}

/// A Gamma(1/2, 1) number: half the square of a normal one.
fn half(stream: &mut Stream) -> f64 {
    let turn = std::f64::consts::TAU * stream.uniform();
    stream.exponential() * turn.cos().powi(2)
}

/// Refits under random weights; places of those that did not settle.
fn redraw(
    family: &dyn Family,
    sample: &Sample,
    fit: &CovariateFit,
    sides: &[PairSide; 2],
    by: &str,
    options: &PairOptions,
    run: &Run,
) -> Result<(Vec<PairDraw>, Vec<u64>)> {
    let tally = sample.tally;
    let clusters = Clusters::new(tally);
    let matrix = fit.design.matrix(tally)?;
    let columns = fit.design.columns.len();
    let side_of = sides_of(tally, by, [&sides[0].name, &sides[1].name]);
    let answers = run.map(options.replicates, |k| {
        let mut own = sample.clone();
        let mut stream = Stream::new(options.seed, "fit", "pair", k as u64);
        clusters.draw(tally, &mut stream, &mut own.weights);
        let surface = Regression::new(family, &own, matrix.clone(), columns);
        let inner = fit.coefficients.iter().zip(&surface.spread).map(|(b, s)| b * s);
        let start: Vec<f64> = fit.baseline.iter().copied().chain(inner).collect();
        let best = climb(&surface, &start, options.iterations, run)?;
        if !best.converged() || !best.x.iter().all(|c| c.is_finite()) {
            return Ok(None);
        }
        let mut x = best.x;
        let w = fit.baseline.len();
        x.iter_mut().skip(w).zip(&surface.spread).for_each(|(b, s)| *b /= s);
        let mut shares = sides.each_ref().map(|s| s.known().map(|e| (e, 0.0)).collect::<Vec<_>>());
        for i in (0..tally.rows()).filter(|i| !matches!(own.row(*i).evidence, Evidence::Passed(_))) {
            let ending = Ending::from_code(tally.ending()[i]).unwrap_or(Ending::Unknown);
            let slot = side_of(i).and_then(|s| shares.get_mut(s)).and_then(|s| s.iter_mut().find(|e| e.0 == ending));
            if let Some(slot) = slot {
                slot.1 += own.weights[i];
            }
        }
        let shares = shares.map(|mut all| {
            if all.len() > 1 {
                for (_, weight) in &mut all {
                    *weight += half(&mut stream);
                }
            }
            let whole = all.iter().map(|e| e.1).fold(0.0, |a, b| a + b);
            all.into_iter().map(|e| e.1 / whole).collect()
        });
        Ok(Some(PairDraw { x, shares }))
    })?;
    let (mut kept, mut unsettled) = (Vec::with_capacity(options.replicates), Vec::new());
    for (k, answer) in answers.into_iter().enumerate() {
        match answer? {
            Some(draw) => kept.push(draw),
            None => unsettled.push(k as u64),
        }
    }
    if 2 * kept.len() < options.replicates {
        let what = "fewer than half of the refits settled";
        let problem = Problem::new("fit.pair_unsettled", what).at(Place::input("replicates")).got(kept.len());
        return Err(Error::new(Kind::Refused, problem.expected(format!("{} or more", options.replicates / 2))));
    }
    Ok((kept, unsettled))
}

impl PairFit {
    /// The life of one group's lamp at coordinates of the regression.
    fn life_at(&self, side: usize, x: &[f64]) -> Result<Box<dyn Life>> {
        let family = self.fit.family()?;
        let (base, b) = x.split_at(family.width().min(x.len()));
        let columns = self.sides.get(side).map_or(&[][..], |s| s.columns.as_slice());
        let eta = columns.iter().zip(b).map(|(z, b)| z * b).fold(0.0, |a, v| a + v);
        moved_life(family, base, eta)
    }

    /// The lives of both groups at the estimates.
    ///
    /// # Errors
    /// Those of [`crate::family::Family::life`].
    pub fn lives(&self) -> Result<[Box<dyn Life>; 2]> {
        let x = [self.fit.baseline.as_slice(), &self.fit.coefficients].concat();
        Ok([self.life_at(0, &x)?, self.life_at(1, &x)?])
    }

    /// The lives of both groups in one refit, and the shares of their endings; none past the last.
    ///
    /// # Errors
    /// Those of [`crate::family::Family::life`].
    pub fn redrawn(&self, draw: usize) -> Result<Option<PairRedraw<'_>>> {
        let Some(drawn) = self.draws.get(draw) else { return Ok(None) };
        let [one, other] = &drawn.shares;
        let lives = [self.life_at(0, &drawn.x)?, self.life_at(1, &drawn.x)?];
        Ok(Some(PairRedraw { lives, shares: [one, other] }))
    }
}
