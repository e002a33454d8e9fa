//! What a study advises for one lamp class: replacement age, lamps needed, spares.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::curve_age::CurveAge;
use super::fill_rate::FillRate;
use super::money_back::MoneyBack;
use super::results::Interval;
use super::sensitivity::Sensitivity;
use super::used_stock::{UsedStock, WithoutUsed};
use crate::base::figure::{counted, fitting, full_hours};
use crate::policy::{BandEnd, EndingsAt, Verdict};
use crate::records::Ending;
use crate::stock::StockVerdict;

/// The replacement age of a class and what it costs. No age in it passes the limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PolicyResult {
    /// What the cost curve says.
    pub verdict: Verdict,
    /// The same in plain words.
    pub sentence: String,
    /// The age of `planned` in whole hours, rounded down: the age of least cost that limit and records allow; today's
    /// rule, held to the limit, where it lies past the records and costs less (`todays_rule_stays`), and with fewer than
    /// five failures (`too_few_failures`), as an even rate says the same of ages whatever the records.
    pub planned_age_hours: f64,
    /// Interval over the draws of the age of least cost, cut at the limit and where the records end, hours. Without ends
    /// where failures are fewer than five.
    pub planned_age_interval_hours: Interval,
    /// The interval of the age in plain words, and why there is none to read where the draws give one and the same age.
    /// Empty in results of before.
    #[serde(default)]
    pub planned_age_interval_sentence: String,
    /// Share of draws whose cost still falls at `ceiling_hours`: at the limit or, where that is earlier, where the
    /// records end. Their ages end there, whatever the interval reads. Empty with fewer than five failures.
    pub limit_binds_probability: Option<f64>,
    /// Share of draws in which the planned age costs less than today's rule; empty with fewer than five failures.
    pub beats_todays_rule_probability: Option<f64>,
    /// The age that the search did not pass: the limit, or the oldest lamp at risk if earlier.
    pub ceiling_hours: f64,
    /// Ages within 2 % of the least cost, cut at the limit; none with fewer than five failures.
    pub near_best: Vec<AgeBand>,
    /// Cost by planned age up to the limit.
    pub cost_curve: Vec<CostPoint>,
    /// The advised age and its cost.
    pub planned: RuleCost,
    /// Cost under today's rule, held to the limit.
    pub todays_rule: RuleCost,
    /// Cost if lamps ran to failure, which only compares and is no advice: it passes the limit. Empty where it does not
    /// settle, and with fewer than five failures.
    pub run_to_failure_cost_per_1000_hours: Option<f64>,
    /// Share of the lamp hours, if lamps ran to failure, that by the model lie past the oldest lamp at risk; empty where
    /// the cost is.
    #[serde(default)]
    pub run_to_failure_past_records_probability: Option<f64>,
    /// Whether that share is more than half, so that cost and saving of running to failure are the model's opinion.
    #[serde(default)]
    pub run_to_failure_past_records: bool,
    /// Running to failure in plain words: its cost beside that of the planned age, the age past which no lamp was seen,
    /// and how much rests on it. Empty in results of before.
    #[serde(default)]
    pub run_to_failure_sentence: String,
    /// Saving of the planned age against today's rule; negative where today's rule is cheaper. Empty with fewer than
    /// five failures, which show none; so is all that is said of it below.
    pub saving_against_today_per_1000_hours: Option<f64>,
    /// Interval of that saving over the draws.
    pub saving_against_today_interval_per_1000_hours: Interval,
    /// Whether these records tell which of the two is cheaper: the interval of the saving does not hold 0 inside. A
    /// saving that is 0 in every draw, because both rules are the same, is settled too.
    pub saving_settled: Option<bool>,
    /// Whether the saving is the model's opinion: today's rule lies past the last record, where no lamp was seen, and
    /// another age is advised.
    #[serde(default)]
    pub saving_past_records: bool,
    /// Saving of the planned age against running to failure; empty where that cost does not settle.
    pub saving_against_run_to_failure_per_1000_hours: Option<f64>,
    /// Saving over the next year at the programme hours of the running lamps, against today's rule; a screen that is declared
    /// to stop counts until then. Empty too where no lamp of the logs burns.
    pub saving_against_today_per_year: Option<f64>,
    /// Draws that gave no answer.
    pub failed_draws_count: u64,
    /// What moves the age; empty with fewer than five failures, in results of before, and where a moved cost would leave the
    /// range of amounts.
    #[serde(default)]
    pub sensitivity: Option<Sensitivity>,
    /// What the warranty pays back, which every cost here counts; none where the class has no warranty whose claims are worth
    /// filing, where the study leaves it out, and in results of before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub money_back: Option<MoneyBack>,
    /// How 1,000 lamps fitted new end under the planned age. Empty in results of before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub endings_at_planned_age: Option<EndingsAt>,
    /// The age of least cost straight from the records, as a check of the model; empty where the planned age is today's rule
    /// kept, with fewer than five failures, where the records give no curve of every cause, and in results of before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub curve_age: Option<CurveAge>,
}

/// Why no saving is there with fewer than five failures.
pub(super) const NO_SAVING: &str = "none: so few failures show a rate and no wear, and an even rate tells no saving";
/// Share of the lamp hours past the records above which running to failure is the model's opinion.
///
/// Our choice, without a source: then more of the cost rests on ages at which no lamp was seen than on those that were.
const MOST_PAST_RECORDS_SHARE: f64 = 0.5;

/// Why today's rule is kept where failures are too few.
pub(super) fn few_failures(age_hours: f64, failures: u64) -> String {
    format!(
        "keep today's rule, held to the limit, at {} h: {} {} too few to show wear, so that costs rest on an even rate, which \
         has no age of least cost",
        full_hours(age_hours),
        counted(failures, "failure"),
        fitting(failures, "is", "are"),
    )
}

impl PolicyResult {
    /// What of the advice goes past an age, for a sentence; none where all stays below.
    pub(super) fn what_passes(&self, age_hours: f64) -> Option<&'static str> {
        let near = self.near_best.iter().any(|band| band.to_hours > age_hours);
        let interval = self.planned_age_interval_hours.high.is_some_and(|high| high > age_hours);
        match (near, interval) {
            (true, true) => Some("ages that cost nearly as little and the interval go"),
            (true, false) => Some("ages that cost nearly as little go"),
            (false, true) => Some("its interval goes"),
            (false, false) => None,
        }
    }

    /// Whether running to failure rests more on the model than on the records.
    pub(super) fn opinion_of_failure(&self) -> bool {
        self.run_to_failure_past_records_probability.is_some_and(|share| share > MOST_PAST_RECORDS_SHARE)
    }

    /// Advises today's rule, held to the limit, where failures are too few for an age of least cost. Their model is an even
    /// rate, under which every later age costs less, in every draw and whatever was seen: all that only repeats this goes.
    pub(super) fn keep_todays_rule(&mut self, failures: u64) {
        self.planned = self.todays_rule.clone();
        self.planned_age_hours = self.planned.age_hours.floor();
        self.verdict = Verdict::TooFewFailures;
        self.sentence = few_failures(self.planned.age_hours, failures);
        self.planned_age_interval_hours.low = None;
        self.planned_age_interval_hours.high = None;
        "none: an even rate has no age of least cost".clone_into(&mut self.planned_age_interval_hours.method);
        self.limit_binds_probability = None;
        self.near_best.clear();
        self.run_to_failure_cost_per_1000_hours = None;
        self.run_to_failure_past_records_probability = None;
        self.saving_against_run_to_failure_per_1000_hours = None;
        self.saving_against_today_per_1000_hours = None;
        self.saving_against_today_per_year = None;
        self.saving_against_today_interval_per_1000_hours.low = None;
        self.saving_against_today_interval_per_1000_hours.high = None;
        NO_SAVING.clone_into(&mut self.saving_against_today_interval_per_1000_hours.method);
        self.saving_settled = None;
        self.saving_past_records = false;
        self.beats_todays_rule_probability = None;
    }

    /// Whether the saving compares with a rule past the last record, where no lamp was seen.
    pub(super) fn saves_past_records(&self) -> bool {
        self.planned.age_hours != self.todays_rule.age_hours && self.todays_rule.age_hours > self.ceiling_hours
    }
}

/// A stretch of ages.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AgeBand {
    /// Its lower end.
    pub from_hours: f64,
    /// Its upper end, never above the limit.
    pub to_hours: f64,
    /// What the upper end is.
    pub to_end: BandEnd,
}

/// Cost at one planned age, in the currency of the study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CostPoint {
    /// Planned age.
    pub age_hours: f64,
    /// Long-run cost per 1,000 lamp hours.
    pub cost_per_1000_hours: f64,
    /// Lower end of its interval over the draws; empty without draws.
    pub low_per_1000_hours: Option<f64>,
    /// Upper end of its interval over the draws; empty without draws.
    pub high_per_1000_hours: Option<f64>,
    /// Part of the cost from planned changes.
    pub planned_cost_per_1000_hours: f64,
    /// Part of the cost from each cause of failure.
    pub by_cause: Vec<CauseCost>,
}

/// The part of a cost that one cause brings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CauseCost {
    /// The cause.
    pub ending: Ending,
    /// Its part of the long-run cost per 1,000 lamp hours.
    pub cost_per_1000_hours: f64,
}

/// What one rule costs and does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RuleCost {
    /// The age of the rule.
    pub age_hours: f64,
    /// Long-run cost per 1,000 lamp hours.
    pub cost_per_1000_hours: f64,
    /// Chance that a lamp fails before that age.
    pub failure_probability: f64,
    /// Chance that a lamp of that age fails in its next show, of the `show_minutes` of the study. Empty in results of
    /// before.
    #[serde(default)]
    pub next_show_failure_probability: Option<f64>,
    /// Mean age at change.
    pub mean_age_at_change_hours: f64,
}

/// Lamps needed in the coming months.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DemandResult {
    /// Running lamps the forecast starts from.
    pub running_lamps_count: u64,
    /// Running lamps in screens that are declared to stop, which the months and the spares count; none where no screen of
    /// the class is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopping_lamps_count: Option<u64>,
    /// Of these, in screens that may stop on the as-of date: one that does needs no lamp any more, even where it is due.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped_lamps_count: Option<u64>,
    /// Of these, in screens that have stopped for certain when a lamp ordered on the as-of date would come: such an order
    /// serves none of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped_by_lead_time_lamps_count: Option<u64>,
    /// Running lamps whose age is not known; each counts as one lamp due at once.
    pub unknown_age_lamps_count: u64,
    /// Lamps expected to stand at or past the planned age today, or of unknown age: each needs a lamp in the first month.
    /// Counts against the limits stand in [`super::DueCounts`].
    pub due_at_planned_age_lamps_count: u64,
    /// Lamp hours a week over all running lamps.
    pub programme_hours_per_week: f64,
    /// Hours that these screens burn in the 365.25 days from the as-of date, by season, special days and growth, up to their
    /// stops. None where programme hours are the same every day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub programme_hours_next_year: Option<f64>,
    /// Age at which the forecast changes lamps.
    pub planned_age_hours: f64,
    /// Months in order.
    pub months: Vec<DemandMonth>,
}

/// Lamps needed in one month.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DemandMonth {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
    /// Mean number of lamps.
    pub mean_lamps: f64,
    /// Number not passed with probability 0.5.
    pub p50_lamps: u64,
    /// Number not passed with probability 0.8.
    pub p80_lamps: u64,
    /// Number not passed with probability 0.95.
    pub p95_lamps: u64,
    /// Mean number of planned changes.
    pub planned_mean_lamps: f64,
    /// Mean number of failure changes.
    pub failure_mean_lamps: f64,
}

/// Spares to hold and to order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockResult {
    /// The class they are for, so that the spares of two classes cannot be exchanged. Empty in results of before.
    #[serde(default)]
    pub lamp_class: String,
    /// Days from order to delivery.
    pub lead_time_days: u32,
    /// Wanted chance of no shortage over the lead time.
    pub service_target_probability: f64,
    /// Mean number of lamps needed over the lead time.
    pub mean_lamps: f64,
    /// Fewest lamps that reach the target.
    pub level_lamps: u64,
    /// Chance of no shortage with that level.
    pub service_at_level_probability: f64,
    /// Chance of no shortage with what is on hand and on order.
    pub service_today_probability: f64,
    /// Lamps on the shelf.
    pub on_hand_lamps: u64,
    /// Lamps ordered and not yet delivered.
    pub on_order_lamps: u64,
    /// Fewest lamps that reach the target for those screens alone that still burn when an order of today comes: it brings no
    /// more. None where all may.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order_serves_lamps: Option<u64>,
    /// Lamps to order now: level minus on hand minus on order, at least 0 and at most those that an order serves.
    pub order_lamps: u64,
    /// Price of a lamp.
    pub price_each: f64,
    /// Price of the order.
    pub order_price: f64,
    /// What the advice amounts to.
    pub verdict: StockVerdict,
    /// The advice in plain words.
    pub sentence: String,
    /// What a fill-rate target asks for; none where none is declared.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fill_rate: Option<FillRate>,
    /// What the used lamps of a stock count are worth beside the spares; none where it holds none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used: Option<UsedStock>,
}

impl StockResult {
    /// What stands without used lamps.
    pub(super) fn without_used(&self) -> WithoutUsed {
        WithoutUsed {
            target: self.service_target_probability,
            level: self.level_lamps,
            there: self.on_hand_lamps.saturating_add(self.on_order_lamps),
            order_serves: self.order_serves_lamps,
        }
    }
}
