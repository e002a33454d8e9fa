//! Life by cause: one fit for each ending with enough failures, the rare ones together, the unseen ones bounded.

use serde::{Deserialize, Serialize};

use super::bootstrap::Refitter;
use super::cause_draws::{CauseDraws, Drawn};
use super::few_clusters::{cluster_note, one_cluster};
use super::fitness::FitCheck;
use super::model::{Facts, Fit, Note};
use super::refusal::{self, rate_bound_95};
use super::sample::{Evidence, Sample};
use super::search::{FitOptions, facts, fit_sample};
use super::weights::Clusters;
use super::world::{CauseLife, World};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::{counted, fitting};
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::family::{ExponentialFamily, Family, Life, in_words};
use crate::lives::Tally;
use crate::records::Ending;
use crate::terms::Costs;

/// Said of several causes.
pub(crate) const CAUSES_INDEPENDENT: &str =
    "causes are fitted as if they act independently; the records can neither show nor refute it";
/// How the note begins where all causes together have no fit.
pub(crate) const NO_OVERALL_FIT: &str = "no overall fit: ";

/// How to fit by cause.
#[derive(Clone, Debug, PartialEq)]
pub struct CauseOptions {
    /// Endings that count as failure; any other ending is right-censored.
    pub failures: Vec<Ending>,
    /// Failures from which an ending gets its own fit.
    pub min_failures: u64,
    /// Largest number of iterations of one search.
    pub iterations: u64,
    /// Seed of the check by cluster.
    pub seed: u64,
}

impl Default for CauseOptions {
    fn default() -> Self {
        Self { failures: Ending::FAILURES.to_vec(), min_failures: 5, iterations: 100, seed: 0 }
    }
}

/// The fit of one cause: lives as if only this cause acted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseFit {
    /// Endings of this cause and their shares among its failures, which sum to 1.
    pub endings: Vec<(Ending, f64)>,
    /// The fit.
    pub fit: Fit,
    /// Why it is not the plain fit of one ending in the family asked for; empty if it is.
    pub notes: Vec<Note>,
}

impl Sound for CauseFit {
    fn check(&self, c: &mut Checks) {
        for (i, (_, share)) in self.endings.iter().enumerate() {
            c.share(&format!("endings[{i}]"), *share);
        }
        c.equal("endings", self.endings.iter().map(|e| e.1).sum(), 1.0);
        c.once("endings", self.endings.iter().map(|e| e.0));
        c.part("fit", &self.fit);
    }
}

/// An ending that counts as failure and was never seen.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unseen {
    /// The ending.
    pub ending: Ending,
    /// With 95 % confidence its even rate is at most this, per hour.
    pub rate_bound_95_per_hour: f64,
}

/// Life by cause, and of all failures together. It holds numbers, never data.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseFits {
    causes: Vec<CauseFit>,
    unseen: Vec<Unseen>,
    overall: Option<Fit>,
    check: Option<FitCheck>,
    facts: Facts,
    notes: Vec<Note>,
    iterations: u64,
}

impl Sound for CauseFits {
    fn check(&self, c: &mut Checks) {
        c.parts("causes", &self.causes);
        let endings = self.causes.iter().flat_map(|k| &k.endings).map(|e| e.0);
        c.once("causes", endings.chain(self.unseen.iter().map(|u| u.ending)));
        let failures = self.causes.iter().map(|k| k.fit.facts().failures).fold(0_u64, u64::saturating_add);
        c.follows("facts.failures", &self.facts.failures, &failures);
        for (i, cause) in self.causes.iter().enumerate() {
            let (got, lamps) = (cause.fit.facts().lamps, self.facts.lamps);
            c.need(&format!("causes[{i}].fit.facts.lamps"), got == lamps, got, format!("{lamps}, as for all causes"));
        }
        for (i, unseen) in self.unseen.iter().enumerate() {
            let field = format!("unseen[{i}].rate_bound_95_per_hour");
            c.positive(&field, unseen.rate_bound_95_per_hour);
            if let Some(bound) = rate_bound_95(self.facts.exposure_hours) {
                c.equal(&field, unseen.rate_bound_95_per_hour, bound);
            }
        }
        if let Some(overall) = &self.overall {
            c.part("overall", overall);
        }
        if let Some(check) = &self.check {
            c.part("check", check);
        }
        c.part("facts", &self.facts);
    }
}

/// Fits each cause of failure: an ending with at least `min_failures` gets its own fit with the others right-censored, rarer
/// endings are fitted together (as an even rate if fewer than `min_failures` together), endings never seen get an upper bound.
/// A failure of another cause known to an interval counts as passed at the interval's start.
///
/// Causes are taken to act independently, which the records cannot show; see the notes.
///
/// # Errors
/// `fit.no_failures` with the bound that still holds, and the errors of [`super::fit`] on the rows.
pub fn fit_causes(tally: &Tally, family: &dyn Family, options: &CauseOptions, run: &Run) -> Result<CauseFits> {
    let all = Sample::new(tally, Some(&options.failures), None)?;
    let count = all.count;
    refusal::check(&all, &count, &ExponentialFamily)?;
    let plain = FitOptions { iterations: options.iterations, ..FitOptions::default() };
    let mut fits = CauseFits {
        causes: Vec::new(),
        unseen: Vec::new(),
        overall: None,
        check: None,
        facts: facts(&count),
        notes: Vec::new(),
        iterations: options.iterations,
    };
    let mut rare = Vec::new();
    let mut endings = options.failures.clone();
    endings.sort_unstable();
    endings.dedup();
    for ending in endings {
        match failures_of(&all, ending) {
            0 => fits
                .unseen
                .extend(rate_bound_95(count.exposure).map(|bound| Unseen { ending, rate_bound_95_per_hour: bound })),
            n if n < options.min_failures => rare.push((ending, n)),
            n => fits.causes.push(one_cause(tally, &[(ending, n)], family, &plain, run)?),
        }
    }
    if !rare.is_empty() {
        let together: u64 = rare.iter().map(|r| r.1).sum();
        let words: Vec<String> = rare.iter().map(|(e, n)| format!("{e} ({n})")).collect();
        let mut cause = if together >= options.min_failures {
            one_cause(tally, &rare, family, &plain, run)?
        } else {
            let mut cause = one_cause(tally, &rare, &ExponentialFamily, &plain, run)?;
            cause.notes.push(Note::new(
                "fit.rare_rate",
                format!(
                    "{} {} too few for a shape: an even rate, failures over hours, stands in",
                    counted(together, "failure"),
                    fitting(together, "is", "are")
                ),
            ));
            cause
        };
        cause.notes.push(Note::new("fit.rare_together", format!("rare endings fitted together: {}", words.join(", "))));
        fits.causes.push(cause);
    }
    match fit_sample(family, &all, &plain, run) {
        Ok(overall) => {
            let both = FitOptions { endings: Some(options.failures.clone()), ..plain };
            fits.check = Some(overall.check(tally, &both, options.seed)?);
            fits.overall = Some(overall.marked_unasked(tally, &both, run)?);
        }
        Err(error) if error.kind() == Kind::Refused => {
            fits.notes.push(Note::new("fit.overall_refused", format!("{NO_OVERALL_FIT}{error}")));
        }
        Err(error) => return Err(error),
    }
    if fits.causes.len() > 1 {
        fits.notes.push(Note::new("fit.causes_independent", CAUSES_INDEPENDENT));
    }
    Ok(fits)
}

fn failures_of(sample: &Sample, ending: Ending) -> u64 {
    (0..sample.tally.rows())
        .filter(|&i| sample.tally.ending[i] == ending.code() && !matches!(sample.row(i).evidence, Evidence::Passed(_)))
        .map(|i| sample.tally.count[i])
        .sum()
}

fn one_cause(
    tally: &Tally,
    endings: &[(Ending, u64)],
    family: &dyn Family,
    options: &FitOptions,
    run: &Run,
) -> Result<CauseFit> {
    let codes: Vec<Ending> = endings.iter().map(|e| e.0).collect();
    let sample = Sample::new(tally, Some(&codes), None)?;
    let total: u64 = endings.iter().map(|e| e.1).sum();
    let shares = endings.iter().map(|(e, n)| (*e, *n as f64 / total as f64)).collect();
    let counted = FitOptions { endings: Some(codes.clone()), ..options.clone() };
    let marked = |fit: Fit| fit.marked_unasked(tally, &counted, run);
    let why = match fit_sample(family, &sample, options, run) {
        Ok(fit) if fit.converged() => return Ok(CauseFit { endings: shares, fit: marked(fit)?, notes: Vec::new() }),
        Ok(_) => "its search did not reach the maximum".to_owned(),
        Err(error) if error.kind() == Kind::Refused && family.width() > 1 => error.to_string(),
        Err(error) => return Err(error),
    };
    let fit = marked(fit_sample(&ExponentialFamily, &sample, options, run)?)?;
    let notes = vec![Note::new(
        "fit.family_refused",
        format!("an even rate stands in for the {}: {why}", in_words(family.name())),
    )];
    Ok(CauseFit { endings: shares, fit, notes })
}

impl CauseFits {
    /// Causes in series, in order of their endings; the rare ones last.
    pub fn causes(&self) -> &[CauseFit] {
        &self.causes
    }

    /// Endings never seen, with the bound on their rate.
    pub fn unseen(&self) -> &[Unseen] {
        &self.unseen
    }

    /// One fit of all failures together, for the reliability curve; none if it is refused.
    pub fn overall(&self) -> Option<&Fit> {
        self.overall.as_ref()
    }

    /// Whether the overall fit agrees with the records; none if there is no overall fit.
    pub fn check(&self) -> Option<&FitCheck> {
        self.check.as_ref()
    }

    /// What went in.
    pub fn facts(&self) -> &Facts {
        &self.facts
    }

    /// What a reader must know beside the numbers.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// The world at the estimates.
    ///
    /// # Errors
    /// `fit.window_only` where the records of a cause show failures only; those of
    /// [`Fit::life_at_maximum`].
    pub fn world(&self, costs: Costs) -> Result<World> {
        self.tell_of_all_lamps()?;
        let causes =
            self.causes.iter().map(|c| Ok(CauseLife { endings: c.endings.clone(), life: c.fit.life_at_maximum()? }));
        Ok(World { causes: causes.collect::<Result<_>>()?, costs })
    }

    /// Refuses worlds where the records of a cause tell how its failures lie within a window and not how many lamps fail: every
    /// refit would stand near the same maximum, though lives far from it explain the records as well.
    fn tell_of_all_lamps(&self) -> Result<()> {
        self.causes.iter().try_for_each(|cause| cause.fit.tells_of_all_lamps())
    }

    /// `n` worlds by the weighted bootstrap: in each, one set of random weights refits every cause together, and the shares of
    /// pooled endings follow the same weights. Replicate `i` is a pure function of (seed, class, i).
    ///
    /// # Arguments
    /// `tally`: the one that was fitted; `class`: the name under which weights are drawn, usually the lamp class.
    ///
    /// Fewer than [`super::ENOUGH_CLUSTERS`] clusters leave a note.
    ///
    /// # Errors
    /// `fit.other_data` if the tally is not the fitted one, `fit.one_cluster` for several failures in a single cluster,
    /// `fit.window_only` where the records of a cause show failures only, and `run.stopped`.
    pub fn draws(
        &self,
        tally: &Tally,
        costs: Costs,
        n: usize,
        seed: u64,
        class: &str,
        run: &Run,
    ) -> Result<CauseDraws> {
        self.tell_of_all_lamps()?;
        let mut refitters = Vec::with_capacity(self.causes.len());
        for cause in &self.causes {
            let codes: Vec<Ending> = cause.endings.iter().map(|e| e.0).collect();
            let sample = Sample::new(tally, Some(&codes), None)?;
            if sample.count.failures != cause.fit.facts().failures {
                return Err(Error::new(
                    Kind::Input,
                    Problem::new("fit.other_data", "the tally is not the one that was fitted")
                        .got(sample.count.failures)
                        .expected(cause.fit.facts().failures.to_string()),
                ));
            }
            refitters.push(Refitter::new(cause.fit.family()?, sample, &cause.fit, self.iterations, true));
        }
        let clusters = Clusters::new(tally);
        // One lamp in pieces is one cluster too, and its one failure is all that is known.
        let failures: u64 = self.causes.iter().map(|c| c.fit.facts().failures).sum();
        let units = clusters.units(tally, |_| true);
        if failures > 1 && units == Some(1) {
            return Err(one_cluster());
        }
        let notes = units.and_then(cluster_note).into_iter().collect();
        let replicates = run.map(n, |i| {
            let mut weights = Vec::with_capacity(tally.rows());
            clusters.draw(tally, &mut Stream::new(seed, "fit", class, i as u64), &mut weights);
            self.causes
                .iter()
                .zip(&refitters)
                .map(|(cause, refitter)| {
                    Ok(Drawn { x: refitter.refit(&weights, run)?, shares: shares(cause, tally, &weights) })
                })
                .collect::<Result<Vec<Drawn>>>()
        })?;
        let watched = self.causes.iter().map(|c| Ok(watched_hours(tally, c.fit.life_at_maximum()?.as_ref())));
        let watched = watched.collect::<Result<_>>()?;
        Ok(CauseDraws::new(self.causes.clone(), replicates, costs, watched, notes))
    }
}

/// Age to which lamps were watched for a cause of this life: see [`Draws::watched_hours`](super::Draws::watched_hours).
fn watched_hours(tally: &Tally, life: &dyn Life) -> f64 {
    let (mut sum, mut whole) = (0.0, 0.0);
    for (i, (low, high)) in tally.low().iter().zip(tally.high()).enumerate() {
        // A failure known to an interval was watched into it.
        let left = if high.is_finite() { f64::midpoint(*low, *high) } else { *low };
        let entry = tally.entry().and_then(|e| e.get(i)).copied().unwrap_or(0.0);
        let count = tally.count().get(i).copied().unwrap_or(0) as f64;
        for (age, sign) in [(left, count), (entry, -count)] {
            let hazard = -life.ln_reliability(age);
            if age > 0.0 && hazard > 0.0 && hazard.is_finite() {
                sum += sign * hazard * age.ln();
                whole += sign * hazard;
            }
        }
    }
    if whole > 0.0 { (sum / whole).exp() } else { tally.oldest_at_risk().unwrap_or(1.0) }
}

/// Shares of the endings of a cause under the weights of a replicate.
fn shares(cause: &CauseFit, tally: &Tally, weights: &[f64]) -> Vec<(Ending, f64)> {
    if cause.endings.len() == 1 {
        return cause.endings.clone();
    }
    let weight = |ending: Ending| -> f64 {
        let rows = tally.ending.iter().zip(&tally.high).zip(weights);
        rows.filter(|((e, high), _)| **e == ending.code() && **high < f64::INFINITY).map(|(_, w)| w).sum()
    };
    let each: Vec<f64> = cause.endings.iter().map(|(e, _)| weight(*e)).collect();
    let total: f64 = each.iter().sum();
    if !(total > 0.0) {
        return cause.endings.clone();
    }
    cause.endings.iter().zip(each).map(|((e, _), w)| (*e, w / total)).collect()
}
