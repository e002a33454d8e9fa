//! From lives to pooled groups.

use super::draws::{Draw, ascending, draws, quantile, weights};
use super::effect::Says;
use super::grid::{Grid, ln_prior};
use super::model::{FEWEST_SCALES, GroupEffect, PooledBaseline, PooledGroup, PooledGroups, PoolingOptions, UnderPrior};
use super::sample::Grouped;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short};
use crate::base::run::Run;
use crate::family::Family;
use crate::fit::interval::{Sides, critical};
use crate::fit::model::{Note, failure_notes};
use crate::fit::sample::Sample;
use crate::fit::search::{FitOptions, facts, fit_sample};
use crate::lives::Tally;

/// Fewest and most draws.
const DRAWS: std::ops::RangeInclusive<usize> = 500..=200_000;
/// Effects kept at once.
const MOST_EFFECTS: usize = 40_000_000;
/// Even draws below which no figure is given, and below which a note is.
const FEWEST_EFFECTIVE: f64 = 100.0;
const FEW_EFFECTIVE: f64 = 250.0;
/// Groups below which the prior says much of the spread.
const FEW_GROUPS: usize = 6;
/// Changes between the scales of the prior that a reader must know of: of a chance, and of the spread by a factor.
const MOVED_CHANCE: f64 = 0.1;
const MOVED_SPREAD: f64 = 1.25;

/// Pools groups of lamps: each has a hazard of its own, drawn towards that of the fleet as far as its records are few.
///
/// # Formula
/// ```text
/// hazard of group g at age t = exp(u_g) h0(t),   u_g normal with mean 0 and standard deviation s
/// likelihood of u_g          = exp(u_g D_g - exp(u_g) E_g), times 1 - exp(-exp(u_g) c) for failures in intervals
/// prior                      = half-normal for s with the scale stated; even over the coordinates of h0
/// ratio to the rest of g     = exp(u_g) / (sum of E_h exp(u_h) / sum of E_h over the other groups h)
/// ```
/// `D_g`: failures; `E_g`: cumulative hazard of the baseline that the lamps of the group went through after their entry;
/// c: cumulative hazard over an interval. Each stratum has a baseline of its own. s is the spread of ln hazard: with
/// s = 0.3 two groups in three lie between 26 % below and 35 % above the middle.
///
/// A group of few records is drawn to the middle of the groups, each counted once; its ratio to the rest, whose hazard is the mean
/// by `E_h`, may then differ a little from 1.
///
/// # Arguments
/// `by`: a category among the covariates, or `stratum` or `cluster`, for those of the lives.
///
/// # Numerics
/// Each effect is integrated out by the trapezoid rule on its own range, to rounding. At values of s the best baselines
/// and their curvature are found; draws of (s, baselines) from that law, with Student tails, are weighted by likelihood and prior
/// over their density, so that the normal approximation steers but does not decide. The same draws answer for every scale of
/// the prior. With 4,000 draws a chance is right to about 0.01. Each draw is a pure function of `seed` and its number.
///
/// # Errors
/// `fit.pooling_by`, `fit.pooling_strata`, `fit.pooling_name_blank`, `fit.pooling_groups_few` for fewer than two groups that
/// were at risk, `fit.pooling_scales`, `fit.pooling_threshold`, `fit.pooling_draws`, `fit.level`. Refused: `fit.pooling_window`
/// for records that show failures only, `fit.pooling_family` for `weibull_failure_free`, `fit.pooling_not_identified`,
/// `fit.pooling_unsettled`; those of [`crate::fit::fit`] for each stratum, whose name stands in the hint.
///
/// # Source
/// A. Gelman and others (2013), Bayesian Data Analysis, chapters 5 and 10.4 (importance sampling); A. Gelman (2006), Bayesian
/// Analysis 1, 515-533, for priors of a spread between groups. From memory.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::family::family;
/// use relamp::fit::{PoolingOptions, pool_groups};
/// use relamp::lives::{Group, Rows, Tally};
/// // Failures and lamps of four sites in 1,000 h, at even hazards; `small` has 0 failures of 2 lamps.
/// let (failed, lamps) = ([60, 55, 20, 0], [300, 280, 50, 2]);
/// let names = ["east", "north", "south", "small"];
/// let rows = Rows {
///     low: vec![500.0, 1000.0].repeat(4),
///     high: vec![500.0, f64::INFINITY].repeat(4),
///     group: Some((0..4).flat_map(|g| [g, g]).collect()),
///     groups: names.map(|n| Group { cluster: n.into(), ..Group::default() }).to_vec(),
///     count: Some((0..4).flat_map(|g| [failed[g], lamps[g] - failed[g]]).collect()),
///     ..Rows::default()
/// };
/// let (tally, _) = Tally::from_rows(&rows)?;
/// let pooled = pool_groups(family("exponential")?, &tally, "cluster", &PoolingOptions::default(), &Run::new())?;
/// let of = |name: &str| pooled.each().find(|(g, _)| g.name == name).unwrap();
/// let (small, south) = (of("small"), of("south"));
/// assert!(small.0.raw_ratio == Some(0.0) && small.1.ratio > 0.6 && small.1.high > 1.0);
/// assert!(south.1.ratio > 1.5 && south.1.ratio < south.0.raw_ratio.unwrap());
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn pool_groups(
    family: &dyn Family,
    tally: &Tally,
    by: &str,
    options: &PoolingOptions,
    run: &Run,
) -> Result<PooledGroups> {
    check(family, options)?;
    let sample = Sample::new(tally, options.endings.as_deref(), None)?;
    let grouped = Grouped::new(family, &sample, by, options.strata.as_deref())?;
    let start = starts(&grouped, &sample, options, run)?;
    enough(&grouped, &start, options)?;
    let grid = Grid::new(&grouped, &start, &options.prior_scales, options.iterations, run)?;
    let draws = draws(&grouped, &grid, options.draws, options.seed, run)?;
    let answers = answers(&grouped, &draws, options)?;
    let x = near(&grid, answers.first().map_or(0.0, |a| a.spread));
    let baselines = grouped
        .strata
        .iter()
        .zip(x.chunks(family.width()))
        .map(|(stratum, c)| PooledBaseline { stratum: stratum.clone(), parameters: family.parameters(c) });
    let groups = alone(&grouped, &x);
    Ok(PooledGroups {
        family: family.name().to_owned(),
        by: by.to_owned(),
        threshold: options.threshold,
        level: options.level,
        draws: draws.len() as u64,
        seed: options.seed,
        facts: facts(&sample.count),
        baselines: baselines.collect(),
        notes: notes(&groups, &answers, by),
        groups,
        answers,
    })
}

fn check(family: &dyn Family, options: &PoolingOptions) -> Result<()> {
    if family.name() == crate::fit::failure_free::FAILURE_FREE {
        let what = "a likelihood with a corner at the first failure cannot be pooled";
        let problem = Problem::new("fit.pooling_family", what).at(Place::input("family")).got(family.name());
        return Err(Error::new(Kind::Refused, problem.expected("weibull, or another smooth family")));
    }
    critical(options.level, Sides::Both)?;
    let mut problems = Vec::new();
    let scales = &options.prior_scales;
    let twice = |i: usize| scales.iter().take(i).any(|s| *s == scales[i]);
    let good = |i: usize| scales[i] > 0.0 && scales[i] <= 10.0 && !twice(i);
    if scales.len() < FEWEST_SCALES || !(0..scales.len()).all(good) {
        let what = "not scales of a prior under which answers can be compared";
        let problem = Problem::new("fit.pooling_scales", what).at(Place::input("prior_scales"));
        problems.push(problem.got(format!("{scales:?}")).expected("3 or more numbers above 0 and up to 10, each once"));
    }
    if !(options.threshold > 0.0 && options.threshold < f64::INFINITY) {
        let problem = Problem::new("fit.pooling_threshold", "not a hazard ratio").at(Place::input("threshold"));
        problems.push(problem.got(options.threshold).expected("a finite number above 0"));
    }
    if !DRAWS.contains(&options.draws) {
        let problem = Problem::new("fit.pooling_draws", "not a number of draws").at(Place::input("draws"));
        problems.push(problem.got(options.draws).expected("500 to 200,000"));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

/// Each stratum fitted as if its groups were alike.
fn starts(grouped: &Grouped, sample: &Sample, options: &PoolingOptions, run: &Run) -> Result<Vec<f64>> {
    let plain =
        FitOptions { endings: options.endings.clone(), iterations: options.iterations, ..FitOptions::default() };
    let mut out = Vec::with_capacity(grouped.width());
    for (k, name) in grouped.strata.iter().enumerate() {
        let whole = grouped.strata.len() == 1;
        let only = if whole { None } else { Some(grouped.only(sample.tally, k)) };
        let fitted = match &only {
            None => fit_sample(grouped.family, sample, &plain, run),
            Some(tally) => Sample::new(tally, options.endings.as_deref(), None)
                .and_then(|sample| fit_sample(grouped.family, &sample, &plain, run)),
        };
        let fitted = fitted.map_err(|error| {
            let hint = error.hint().map_or_else(String::new, |h| format!("; {h}"));
            if whole { error } else { error.with_hint(format!("in the stratum {name:?}{hint}")) }
        })?;
        out.extend_from_slice(fitted.coordinates());
    }
    Ok(out)
}

/// Refuses what leaves nothing to compare or too much to keep.
fn enough(grouped: &Grouped, start: &[f64], options: &PoolingOptions) -> Result<()> {
    let says = grouped.says(start).map(|(_, says)| says).unwrap_or_default();
    let at_risk = says.iter().filter(|s| s.shown() > 0.0).count();
    if at_risk < 2 {
        let what = "fewer than two groups were at risk, so there is no rest of the fleet to compare with";
        let problem = Problem::new("fit.pooling_groups_few", what).at(Place::input("by")).got(at_risk);
        return Err(Error::new(Kind::Input, problem.expected("2 or more")));
    }
    let effects = options.draws.saturating_mul(grouped.names.len());
    if effects > MOST_EFFECTS {
        let problem = Problem::new("fit.pooling_draws", "too many draws for so many groups").at(Place::input("draws"));
        let most = MOST_EFFECTS / grouped.names.len();
        return Err(Error::new(Kind::Limit, problem.got(options.draws).expected(format!("at most {most}"))));
    }
    Ok(())
}

fn answers(grouped: &Grouped, draws: &[Draw], options: &PoolingOptions) -> Result<Vec<UnderPrior>> {
    let tail = 0.5 * (1.0 - options.level);
    let spreads = ascending(draws.iter().map(|d| d.spread));
    let mut out = Vec::new();
    let mut scaled = Vec::new();
    for scale in &options.prior_scales {
        let (weights, effective_draws) = weights(draws, |s| ln_prior(s, *scale));
        if effective_draws < FEWEST_EFFECTIVE {
            let what = "the draws say too little of the posterior";
            let problem = Problem::new("fit.pooling_unsettled", what).at(Place::input("prior_scales"));
            let got = format!("{} even draws at scale {scale}", short(effective_draws));
            let hint = "more draws, a family of fewer parameters, or scales nearer to each other";
            return Err(Error::new(Kind::Refused, problem.got(got).expected("100 or more")).with_hint(hint));
        }
        out.push(UnderPrior {
            prior_scale: *scale,
            effective_draws,
            spread: quantile(&spreads, &weights, 0.5),
            spread_low: quantile(&spreads, &weights, tail),
            spread_high: quantile(&spreads, &weights, 1.0 - tail),
            effects: Vec::with_capacity(grouped.names.len()),
        });
        scaled.push(weights);
    }
    for g in 0..grouped.names.len() {
        let ratios = ascending(draws.iter().map(|d| d.ratios[g]));
        let ranks = ascending(draws.iter().map(|d| f64::from(d.ranks[g])));
        for (answer, weights) in out.iter_mut().zip(&scaled) {
            let at = |values: &[(f64, usize)], p| quantile(values, weights, p);
            let above = ratios.iter().filter(|(r, _)| *r > options.threshold).map(|(_, i)| weights[*i]);
            answer.effects.push(GroupEffect {
                ratio: at(&ratios, 0.5),
                low: at(&ratios, tail),
                high: at(&ratios, 1.0 - tail),
                chance_above: above.fold(0.0, |a, w| a + w).min(1.0),
                rank: at(&ranks, 0.5).round(),
                rank_low: at(&ranks, tail).floor(),
                rank_high: at(&ranks, 1.0 - tail).ceil(),
            });
        }
    }
    Ok(out)
}

/// The best baselines at a spread.
fn near(grid: &Grid, spread: f64) -> Vec<f64> {
    let cell = grid.slices.partition_point(|s| s.spread <= spread).clamp(1, grid.slices.len() - 1) - 1;
    let (from, to) = (grid.slices[cell].spread, grid.slices[cell + 1].spread);
    grid.at(cell, ((spread - from) / (to - from)).clamp(0.0, 1.0)).1
}

/// Each group beside the others, without pooling.
fn alone(grouped: &Grouped, x: &[f64]) -> Vec<PooledGroup> {
    let passed: Vec<f64> = grouped.says(x).map(|(_, says)| says.iter().map(Says::shown).collect()).unwrap_or_default();
    let all = passed.iter().fold(0.0, |a, e| a + e);
    let failures: u64 = grouped.failures.iter().sum();
    let mut out = Vec::with_capacity(passed.len());
    for (g, own) in passed.iter().enumerate() {
        let rest = (failures - grouped.failures[g]) as f64 / (all - own);
        let expected = if rest.is_finite() { own * rest } else { 0.0 };
        out.push(PooledGroup {
            name: grouped.names[g].clone(),
            lamps: grouped.lamps[g],
            failures: grouped.failures[g],
            expected,
            raw_ratio: (expected > 0.0).then(|| grouped.failures[g] as f64 / expected),
        });
    }
    out
}

fn notes(groups: &[PooledGroup], answers: &[UnderPrior], by: &str) -> Vec<Note> {
    let Some(first) = answers.first() else { return Vec::new() };
    let mut notes = vec![Note::new(
        "fit.pooling_prior",
        format!(
            "these figures rest on a half-normal prior of scale {} for the spread between groups as well as on the records",
            short(first.prior_scale)
        ),
    )];
    notes.extend(failure_notes(groups.iter().map(|g| g.failures).sum()));
    if groups.len() < FEW_GROUPS {
        let n = counted(groups.len() as u64, "group");
        notes.push(Note::new("fit.pooling_few_groups", format!("{n} by {by}: the prior says much of their spread")));
    }
    let moved = |a: &UnderPrior| {
        let chances = a.effects.iter().zip(&first.effects).map(|(e, f)| (e.chance_above - f.chance_above).abs());
        let factor = (a.spread / first.spread).max(first.spread / a.spread);
        (chances.fold(0.0, f64::max), factor)
    };
    let (chance, factor) = answers.iter().map(moved).fold((0.0, 1.0), |m: (f64, f64), o| (m.0.max(o.0), m.1.max(o.1)));
    if chance > MOVED_CHANCE || factor > MOVED_SPREAD {
        notes.push(Note::new(
            "fit.pooling_leans_on_prior",
            format!(
                "between the scales of the prior a chance moves by up to {} and the spread by a factor of up to {}",
                short((chance * 100.0).round() / 100.0),
                short((factor * 100.0).round() / 100.0)
            ),
        ));
    }
    let without = groups.iter().filter(|g| g.failures == 0).count() as u64;
    if without > 0 {
        let text = format!(
            "{} without a failure: drawn towards the fleet as far as its lamp hours are few",
            counted(without, "group")
        );
        notes.push(Note::new("fit.pooling_without_failures", text));
    }
    let fewest = answers.iter().map(|a| a.effective_draws).fold(f64::INFINITY, f64::min);
    if fewest < FEW_EFFECTIVE {
        let text = format!("the draws say as much as {} even ones: ask for more", short(fewest.round()));
        notes.push(Note::new("fit.pooling_few_draws", text));
    }
    notes
}
