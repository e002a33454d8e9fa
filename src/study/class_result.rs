//! What a study answers for one lamp class.

use serde::{Deserialize, Serialize};

use super::bounds::{DemandBounds, DueCounts};
use super::decision_result::{DemandResult, PolicyResult, StockResult};
use super::results::{Interval, Refusal};
use crate::records::Ending;

/// How far the records carry the advice for a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Ten failures or more of each cause that the age rests on and a fit that holds.
    Supported,
    /// Five to nine failures, in all or of a cause that the age rests on: take the interval, not the point.
    Weak,
    /// One to four failures, which show a rate and no wear: costs, lamps and spares rest on an even failure rate, no age
    /// of least cost can be found, and today's rule, held to the limit, stays.
    RateOnly,
    /// Failures enough, but one model does not fit all lamps: the figures are those of the mix as recorded.
    Mixed,
    /// No fit is defensible: the advice is the earlier of today's rule and the limit.
    NotSupported,
}

/// One lamp class: what was seen, the model, the replacement age, the spares.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClassResult {
    /// Name of the class.
    pub name: String,
    /// How far the records carry the advice.
    pub status: Status,
    /// The advice in one or two sentences.
    pub headline: String,
    /// The age at which to change, whole hours rounded down, never above the limit; where the status is
    /// [`Status::NotSupported`], the earlier of today's rule and the limit.
    pub advised_age_hours: f64,
    /// The hour limit and where it comes from.
    pub limit: LimitResult,
    /// Today's rule.
    pub todays_rule_hours: f64,
    /// What the records hold.
    pub seen: Seen,
    /// The reliability curve without a family; empty where nothing was observed.
    pub curve: Option<CurveResult>,
    /// The fitted model; empty where the fit is refused.
    pub model: Option<ModelResult>,
    /// Why there is no model.
    pub refusal: Option<Refusal>,
    /// Causes of failure.
    pub causes: Vec<CauseResult>,
    /// The replacement age and what it costs; empty without a model.
    pub policy: Option<PolicyResult>,
    /// Where its burning lamps stand against each age they may be held to.
    pub due: DueCounts,
    /// Why neither lamps needed nor spares are known, whatever the model: no lamp of the logs burns. Empty where they are
    /// told.
    #[serde(default)]
    pub needs_not_known: String,
    /// Lamps needed in the coming months; empty without a model, and where they are not known.
    pub demand: Option<DemandResult>,
    /// Spares to hold and to order; empty without a model, and where they are not known.
    pub stock: Option<StockResult>,
    /// What can be said of lamps and spares without a model; empty where there is a forecast, and where they are not known.
    pub bounds: Option<DemandBounds>,
    /// What to bear in mind, in plain words.
    pub warnings: Vec<String>,
}

/// The hour limit of a class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LimitResult {
    /// The age that no advice may pass.
    pub limit_hours: f64,
    /// The limit that follows from the maker's print alone; running lamps are judged against the smaller of the two.
    pub maker_limit_hours: f64,
    /// Where the limit comes from: `maker_maximum`, `warranty` or `override`.
    pub origin: String,
    /// The recorded reason of an override; empty otherwise.
    pub reason: String,
    /// Warranty hours as printed.
    pub warranty_hours: Option<f64>,
    /// Average life as printed.
    pub average_life_hours: Option<f64>,
    /// Limit of use as printed.
    pub maximum_hours: Option<f64>,
    /// Where they are printed.
    pub source: String,
}

/// What the records hold of a class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Seen {
    /// Lives.
    pub lamps_count: u64,
    /// Lives that ended in a failure.
    pub failures_count: u64,
    /// Failures known only to an interval of age.
    pub interval_failures_count: u64,
    /// Lamps still burning.
    pub running_count: u64,
    /// Lives that came under observation late.
    pub late_entry_count: u64,
    /// Lives by ending, in the order of [`Ending::ALL`], zeros left out.
    pub endings: Vec<EndingCount>,
    /// Lamp hours under observation.
    pub exposure_hours: f64,
    /// Highest age at which a lamp was under observation; nothing is known past it.
    pub oldest_at_risk_hours: f64,
    /// Lamps that were seen to reach that age: often a single one. 0 in results of before.
    #[serde(default)]
    pub oldest_at_risk_lamps_count: u64,
    /// Lives whose age in the records lies past the limit; none where no age does, and in results of before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub past_limit: Option<PastLimit>,
}

/// Ages in the records past the limit: finished lives and burning lamps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PastLimit {
    /// The smaller of the limit of the study and the maker's.
    pub limit_hours: f64,
    /// Lives past it.
    pub lamps_count: u64,
    /// Of these, lamps that still burn.
    pub running_count: u64,
    /// The greatest age of them.
    pub oldest_hours: f64,
}

/// How many lives ended one way.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndingCount {
    /// The ending.
    pub ending: Ending,
    /// Lives that ended so.
    pub lives_count: u64,
}

/// The product-limit curve: reliability by age, without a family.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurveResult {
    /// How failures known to an interval were read for this curve, such as `midpoint`; empty where there are none.
    pub interval_reading: String,
    /// Failures read so.
    pub interval_rows_count: u64,
    /// Age at which the curve starts: it gives the reliability given survival to this age. 0 for an unconditional curve.
    pub given_survival_to_hours: f64,
    /// Largest age at which a lamp was under observation; the curve ends there.
    pub end_hours: f64,
    /// Steps of the curve, by age; the first stands at the start with reliability 1.
    pub points: Vec<CurvePoint>,
    /// Lamps at risk at round ages up to the end of the curve, for drawing. Empty in results of before.
    #[serde(default)]
    pub at_risk: Vec<AtRisk>,
    /// Level of the band.
    pub level_probability: f64,
    /// How the band was made.
    pub band_method: String,
    /// What to know when reading the curve.
    pub notes: Vec<String>,
}

/// Lamps at risk at one age.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AtRisk {
    /// Age.
    pub age_hours: f64,
    /// Lamps under observation at this age.
    pub at_risk_count: u64,
}

/// One step of a reliability curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurvePoint {
    /// Age.
    pub age_hours: f64,
    /// Lamps at risk just before this age.
    pub at_risk_count: u64,
    /// Failures at this age.
    pub failures_count: u64,
    /// Probability to pass this age.
    pub reliability_probability: f64,
    /// Lower end of the band; empty where it has none.
    pub low_probability: Option<f64>,
    /// Upper end of the band; empty where it has none.
    pub high_probability: Option<f64>,
}

/// The fitted model of a class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ModelResult {
    /// Chosen family, such as `weibull`.
    pub family: String,
    /// Why this family.
    pub choice: String,
    /// Parameters with their intervals.
    pub parameters: Vec<ParameterResult>,
    /// Age by which one lamp in ten has failed.
    pub b10_hours: f64,
    /// Interval of the b10 life by profile likelihood, hours.
    pub b10_interval_hours: Interval,
    /// Interval of the b10 life by Wald on the log scale, hours.
    pub b10_wald_interval_hours: Interval,
    /// Logarithm of the likelihood at the estimates.
    pub ln_likelihood: f64,
    /// Whether the search converged.
    pub converged: bool,
    /// Families compared, best first.
    pub families: Vec<FamilyResult>,
    /// What the age, the costs, the lamps needed and the spares rest on, in plain words: the models of `by_cause`, which
    /// may differ from the one model of all failures above. Empty in results of before.
    #[serde(default)]
    pub rests_on: String,
    /// The same family fitted to each cause, or an even rate (`exponential`) where failures are too few for a shape; these
    /// act side by side in every decision.
    pub by_cause: Vec<CauseModel>,
    /// Whether one family fits these records.
    pub fit_check: FitCheck,
    /// Model reliability by age, all causes side by side, for drawing.
    pub points: Vec<ModelPoint>,
    /// Notes and warnings of the fit.
    pub notes: Vec<String>,
}

/// One parameter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ParameterResult {
    /// Name, such as `shape`.
    pub name: String,
    /// Unit of the estimate and its intervals: `hours`, `per_hour`, `ln_hours` or `none`.
    pub unit: String,
    /// Estimate in that unit; empty where the records do not settle the parameter: its interval says what they do.
    pub estimate: Option<f64>,
    /// Whether the records settle it: `yes`, `weakly` or `no`; empty where it was not looked at.
    #[serde(default)]
    pub identified: String,
    /// Interval by profile likelihood.
    pub profile: Interval,
    /// Interval by Wald on the unconstrained scale.
    pub wald: Interval,
}

/// The fit of one cause, as if it acted alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseModel {
    /// Endings of this cause; rare ones share a fit.
    pub endings: Vec<Ending>,
    /// Their shares among the failures of this cause, in the same order.
    pub shares_probability: Vec<f64>,
    /// Failures of this cause.
    pub failures_count: u64,
    /// Family.
    pub family: String,
    /// Parameters with their intervals.
    pub parameters: Vec<ParameterResult>,
    /// Notes and warnings of the fit.
    pub notes: Vec<String>,
}

/// One family of the comparison.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FamilyResult {
    /// Name of the family.
    pub family: String,
    /// Free parameters.
    pub parameters_count: u64,
    /// Logarithm of the likelihood; empty where the fit is refused.
    pub ln_likelihood: Option<f64>,
    /// Akaike's criterion; empty where the fit is refused.
    pub aic: Option<f64>,
    /// Its distance from the best family; empty where the fit is refused.
    pub aic_over_best: Option<f64>,
    /// Why the fit is refused; empty otherwise.
    pub refusal: String,
}

/// Whether one family fits a class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FitCheck {
    /// Whether nothing speaks against one family for all lamps of the class.
    pub holds: bool,
    /// The finding in plain words.
    pub sentence: String,
    /// Largest distance between the model and the curve.
    pub largest_gap_probability: Option<f64>,
    /// Age of the largest distance.
    pub largest_gap_age_hours: Option<f64>,
    /// Probability of a worse disagreement if one family held, by the most telling test; empty where none could be made.
    pub p_value_probability: Option<f64>,
    /// Every test that was made, in the order age, batch, site, supplier.
    pub comparisons: Vec<Comparison>,
    /// What the most telling test compared: `age`, `batch`, `site` or `supplier`; empty where none could be made.
    pub compared: String,
}

/// Failures seen against failures expected in one way of telling lamps apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Comparison {
    /// `age`, `batch`, `site` or `supplier`.
    pub by: String,
    /// Probability of a worse disagreement if one family held for all.
    pub p_value_probability: f64,
    /// Whether it speaks against one family, all comparisons counted.
    pub differs: bool,
    /// The group that stands out most, with failures seen and expected; empty for ages.
    pub stands_out: String,
}

/// Model reliability at one age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ModelPoint {
    /// Age.
    pub age_hours: f64,
    /// Probability to pass this age.
    pub reliability_probability: f64,
    /// Lower end of its interval over the draws; empty without draws.
    pub low_probability: Option<f64>,
    /// Upper end of its interval over the draws; empty without draws.
    pub high_probability: Option<f64>,
    /// Whether this age lies past the oldest lamp at risk, where the curve is the family's opinion.
    pub past_records: bool,
}

/// One cause of failure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseResult {
    /// The ending.
    pub ending: Ending,
    /// Failures of this cause.
    pub failures_count: u64,
    /// Share among the failures of the class; empty without failures.
    pub share_probability: Option<f64>,
    /// Probability to have ended by this cause by the age below if no lamp were changed on plan; empty where the curve does not reach.
    pub incidence_probability: Option<f64>,
    /// Age at which the incidence is given: the limit, or the end of the curve if that is earlier.
    pub incidence_age_hours: Option<f64>,
    /// Failures of this cause per 1,000 lamp hours; empty without lamp hours.
    pub per_1000_hours: Option<f64>,
    /// Upper end of the one-sided 95 % interval of that rate if it were constant; with no failure, 2.996 / exposure.
    pub per_1000_hours_high: Option<f64>,
}
