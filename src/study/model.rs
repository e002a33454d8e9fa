//! The life model of one class: families compared, one chosen, checked, with its possible worlds.

use super::class_result::{CauseModel, FamilyResult, ModelPoint, ModelResult, ParameterResult};
use super::class_run::{ClassInput, or_refusal};
use super::decide::{LEVEL, ends};
use super::doubts::not_known;
use super::fit_check::fit_check;
use super::headline::rests_on;
use super::results::Interval;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::run::Run;
use crate::empirical::Curve;
use crate::family::{family, in_words};
use crate::fit::{
    CauseFit, CauseOptions, Draws, Fit, FitOptions, Identified, IntervalMethod, Quantity, Sides, World, fit,
    fit_causes, over_draws, past_use,
};
use crate::lives::Tally;
use crate::records::Ending;
use crate::terms::Costs;

/// A family ahead of the Weibull by no more than this in Akaike's criterion is not told apart from it, and the Weibull
/// is kept: half of 2 is the likelihood ratio that chance gives often.
pub(super) const AIC_TIE: f64 = 2.0;
/// Ages at which the model is given.
const MODEL_AGES: usize = 101;

/// A chosen model with its possible worlds.
pub(super) struct Modelled {
    pub(super) result: ModelResult,
    pub(super) draws: Box<dyn Draws>,
    /// What a reader must know first, such as few failures.
    pub(super) failures: u64,
    pub(super) oldest_at_risk_hours: f64,
}

/// Fits every family, chooses one, fits its causes and checks it against the records.
pub(super) fn model(
    input: &ClassInput<'_>,
    costs: Costs,
    tally: &Tally,
    curve: Option<&Curve>,
    run: &Run,
) -> Result<Modelled> {
    let declared = input.declared;
    let options = fit_options(&declared.failure_endings);
    let (chosen, choice, compared) = choose(tally, &options, input.family, run)?;
    let family = chosen.family()?;
    let by_cause = CauseOptions {
        failures: declared.failure_endings.clone(),
        seed: declared.seed,
        iterations: options.iterations,
        ..CauseOptions::default()
    };
    let causes = fit_causes(tally, family, &by_cause, run)?;
    let name = &input.class.name;
    let draws = causes.draws(tally, costs, declared.draws, declared.seed, name, run)?;
    let by_age = chosen.check(tally, &options, declared.seed)?;
    let life = chosen.life_at_maximum()?;
    let check = fit_check(
        life.as_ref(),
        family.name(),
        &input.lives,
        input.reading,
        &declared.failure_endings,
        curve,
        by_age.p_age,
    );
    let facts = chosen.facts();
    let top = input.class.limit.hours().max(facts.oldest_at_risk_hours);
    let points = model_points(&draws, top, facts.oldest_at_risk_hours, run)?;
    let ask = Asked { fit: &chosen, tally, options: &options, run };
    let b10 = ask.profile(&Quantity::BLife(10.0))?;
    let notes = chosen.notes().iter().chain(causes.notes()).map(|n| n.text.clone()).collect();
    let by_cause =
        causes.causes().iter().map(|c| cause_model(c, tally, &options, run)).collect::<Result<Vec<CauseModel>>>()?;
    let result = ModelResult {
        family: family.name().to_owned(),
        choice,
        parameters: parameters(&ask)?,
        b10_hours: life.quantile(0.1)?,
        b10_interval_hours: b10,
        b10_wald_interval_hours: ask.wald(&Quantity::BLife(10.0))?,
        ln_likelihood: chosen.log_likelihood(),
        converged: chosen.converged(),
        families: compared,
        rests_on: rests_on(&by_cause, not_known(input.reading).is_empty()),
        by_cause,
        fit_check: check,
        points,
        notes,
    };
    let (failures, oldest_at_risk_hours) = (facts.failures, facts.oldest_at_risk_hours);
    Ok(Modelled { result, draws: Box::new(draws), failures, oldest_at_risk_hours })
}

fn fit_options(endings: &[Ending]) -> FitOptions {
    FitOptions { endings: Some(endings.to_vec()), ..FitOptions::default() }
}

/// A fit with what it was fitted to, so that intervals can be asked for.
struct Asked<'a> {
    fit: &'a Fit,
    tally: &'a Tally,
    options: &'a FitOptions,
    run: &'a Run,
}

impl Asked<'_> {
    fn profile(&self, quantity: &Quantity) -> Result<Interval> {
        let found = self.fit.profile(self.tally, self.options, quantity, LEVEL, Sides::Both, self.run);
        settled(found, self.fit)
    }

    fn wald(&self, quantity: &Quantity) -> Result<Interval> {
        settled(self.fit.wald(quantity, LEVEL, Sides::Both), self.fit)
    }
}

/// An interval, or one open at both ends that says why: a figure without an interval is still a figure.
fn settled(found: Result<crate::fit::Interval>, fit: &Fit) -> Result<Interval> {
    Ok(match or_refusal(found)? {
        Ok(found) => {
            let mut ends = interval(&found);
            let at_maximum = match &found.quantity {
                Quantity::Parameter(name) => fit.parameter_at_maximum(name),
                _ => found.estimate,
            };
            if ends.high.is_some_and(|high| high > past_use(fit.facts(), at_maximum.unwrap_or(0.0))) {
                ends.high = None;
                ends.method += "; no upper bound from these records";
            }
            ends
        }
        Err(reason) => {
            let method = format!("refused: {}", reason.sentence);
            Interval { low: None, high: None, level_probability: LEVEL, method }
        }
    })
}

fn interval(found: &crate::fit::Interval) -> Interval {
    let method = match found.method {
        IntervalMethod::Wald => "curvature at the maximum, unconstrained scale",
        IntervalMethod::ProfileLikelihood => "profile likelihood",
        IntervalMethod::ProfileLikelihoodCorrected => "profile likelihood, corrected by simulation",
        IntervalMethod::WeightedBootstrap => "weighted bootstrap",
        IntervalMethod::WeightedBootstrapBiasCorrected => "weighted bootstrap, bias-corrected",
        IntervalMethod::Posterior => "posterior",
    };
    Interval { low: found.low, high: found.high, level_probability: found.level, method: method.to_owned() }
}

/// The families that a study compares, simplest first.
const COMPARED: [&str; 3] = ["exponential", "weibull", "lognormal"];

/// The fit of the chosen family, why it was chosen, and all of them, best first.
fn choose(
    tally: &Tally,
    options: &FitOptions,
    asked: Option<&str>,
    run: &Run,
) -> Result<(Fit, String, Vec<FamilyResult>)> {
    let mut fits: Vec<Fit> = Vec::new();
    let mut compared: Vec<FamilyResult> = Vec::new();
    let mut first_error: Option<Error> = None;
    // One asked for by name is compared too.
    for name in COMPARED.into_iter().chain(asked.filter(|name| !COMPARED.contains(name))) {
        let family = family(name)?;
        let answer = fit(family, tally, options, run);
        let mut entry = FamilyResult {
            family: family.name().to_owned(),
            parameters_count: family.width() as u64,
            ln_likelihood: None,
            aic: None,
            aic_over_best: None,
            refusal: String::new(),
        };
        match answer {
            Ok(found) if found.converged() => {
                entry.ln_likelihood = Some(found.log_likelihood());
                entry.aic = Some(found.aic());
                fits.push(found);
            }
            Ok(_) => "the search stopped before it settled".clone_into(&mut entry.refusal),
            Err(error) => {
                entry.refusal = match or_refusal::<()>(Err(error.clone()))? {
                    Err(reason) => reason.sentence,
                    Ok(()) => String::new(),
                };
                // The refusal of the Weibull speaks for the class: it is the family most asked for.
                if first_error.is_none() || family.name() == "weibull" {
                    first_error = Some(error);
                }
            }
        }
        compared.push(entry);
    }
    let best = fits.iter().map(Fit::aic).fold(f64::INFINITY, f64::min);
    for entry in &mut compared {
        entry.aic_over_best = entry.aic.map(|a| a - best);
    }
    // A stable sort; refused families come last.
    compared.sort_by(|a, b| a.aic.unwrap_or(f64::MAX).total_cmp(&b.aic.unwrap_or(f64::MAX)));
    let close = |f: &Fit| f.aic() - best <= AIC_TIE;
    let at = match asked {
        Some(name) => fits.iter().position(|f| f.family_name() == name),
        None => fits
            .iter()
            .position(|f| f.family_name() == "weibull" && close(f))
            .or_else(|| fits.iter().position(|f| f.aic() == best)),
    };
    let Some(at) = at else {
        return Err(first_error.unwrap_or_else(|| {
            let problem = Problem::new("study.no_fit", "no family settled on these records");
            Error::new(Kind::Refused, problem)
        }));
    };
    let chosen = fits.swap_remove(at);
    let choice = match asked {
        Some(name) => as_asked(name),
        None => reason(chosen.family_name(), chosen.aic(), &compared),
    };
    Ok((chosen, choice, compared))
}

/// Why a family asked for by name was chosen.
pub(super) fn as_asked(name: &str) -> String {
    format!("{}, as asked for", in_words(name))
}

/// Why a family was chosen, by Akaike's criterion.
pub(super) fn reason(chosen: &str, chosen_aic: f64, compared: &[FamilyResult]) -> String {
    let others: Vec<String> = compared
        .iter()
        .filter(|c| c.family != chosen)
        .map(|c| match c.aic {
            Some(aic) => format!("{} {:+.1}", in_words(&c.family), aic - chosen_aic),
            None => format!("{} refused", in_words(&c.family)),
        })
        .collect();
    let (name, others) = (in_words(chosen), others.join(", "));
    if compared.first().is_some_and(|c| c.family == chosen) {
        format!("{name} has the smallest Akaike criterion ({others})")
    } else {
        format!("{name} is within {AIC_TIE} of the smallest Akaike criterion and is kept ({others})")
    }
}

pub(super) fn unit(family: &str, parameter: &str) -> &'static str {
    match (family, parameter) {
        ("lognormal" | "generalised_gamma", "location") => "ln_hours",
        ("lognormal" | "generalised_gamma", _) => "none",
        (_, "scale" | "mean" | "location") => "hours",
        (_, hazard) if hazard.starts_with("hazard_") => "per_hour",
        _ => "none",
    }
}

fn parameters(ask: &Asked<'_>) -> Result<Vec<ParameterResult>> {
    let each = ask.fit.parameters_at_maximum().into_iter().map(|(name, estimate)| {
        let quantity = Quantity::Parameter(name.to_owned());
        let mark = ask.fit.mark_of(name).map(|m| m.identified);
        Ok(ParameterResult {
            name: name.to_owned(),
            unit: unit(ask.fit.family_name(), name).to_owned(),
            estimate: (mark != Some(Identified::No)).then_some(estimate),
            identified: mark.map_or("", Identified::as_str).to_owned(),
            profile: ask.profile(&quantity)?,
            wald: ask.wald(&quantity)?,
        })
    });
    each.collect()
}

fn cause_model(cause: &CauseFit, tally: &Tally, options: &FitOptions, run: &Run) -> Result<CauseModel> {
    let mut options = options.clone();
    options.endings = Some(cause.endings.iter().map(|e| e.0).collect());
    let notes = cause.notes.iter().chain(cause.fit.notes()).map(|n| n.text.clone()).collect();
    Ok(CauseModel {
        endings: cause.endings.iter().map(|e| e.0).collect(),
        shares_probability: cause.endings.iter().map(|e| e.1).collect(),
        failures_count: cause.fit.facts().failures,
        family: cause.fit.family_name().to_owned(),
        parameters: parameters(&Asked { fit: &cause.fit, tally, options: &options, run })?,
        notes,
    })
}

/// ln R of a world: causes act side by side.
fn ln_reliability(world: &World, age: f64) -> f64 {
    world.causes.iter().map(|c| c.life.ln_reliability(age)).sum()
}

fn model_points(draws: &dyn Draws, top: f64, oldest: f64, run: &Run) -> Result<Vec<ModelPoint>> {
    let ages: Vec<f64> = (0..MODEL_AGES).map(|i| top * i as f64 / (MODEL_AGES - 1) as f64).collect();
    let at = |world: &World| Ok(ages.iter().map(|&a| ln_reliability(world, a).exp()).collect::<Vec<f64>>());
    let spread = over_draws(draws, run, at)?;
    let each = ages.iter().zip(&spread.best).enumerate().map(|(i, (&age_hours, &reliability_probability))| {
        let (low_probability, high_probability) = ends(spread.each.iter().filter_map(|d| d.get(i)).copied().collect());
        ModelPoint {
            age_hours,
            reliability_probability,
            low_probability,
            high_probability,
            past_records: age_hours > oldest,
        }
    });
    Ok(each.collect())
}
