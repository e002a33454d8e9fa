//! The age of least cost straight from the records, beside that of the model.

use serde::{Deserialize, Serialize};

use super::decision_result::PolicyResult;
use super::declare_class::LampClass;
use super::describe::CURVE_READING;
use crate::base::error::Result;
use crate::base::figure::full_hours;
use crate::base::sound::Checks;
use crate::empirical::CurveOptions;
use crate::lives::Tally;
use crate::policy::{AgeOptions, Verdict, cost_curve, curve_world, planned_age};
use crate::records::Ending;
use crate::terms::Costs;

/// Percent more cost up to which the curve and the model are said to agree. Our choice, without a source: the ages near the best
/// reach as far.
const AGREE_PERCENT: f64 = 2.0;

/// The age of least cost by the product-limit curves of the causes, without a family: a check, and no advice.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurveAge {
    /// The age, whole hours, under the limit and the oldest lamp at risk; it jumps with every failure.
    pub age_hours: f64,
    /// Long-run cost per 1,000 lamp hours at that age, by the curves.
    pub cost_per_1000_hours: f64,
    /// The same at the planned age, by the curves too.
    pub planned_cost_per_1000_hours: f64,
    /// The two in plain words.
    pub sentence: String,
}

impl CurveAge {
    /// What the records say without a family; `costs` are those that the planned age counts.
    pub(super) fn of(
        class: &LampClass,
        tally: &Tally,
        failures: &[Ending],
        costs: &Costs,
        policy: &PolicyResult,
        options: &AgeOptions,
    ) -> Result<Self> {
        let curve = CurveOptions { reading: Some(CURVE_READING), ..CurveOptions::default() };
        let world = curve_world(tally, failures, costs, &curve)?;
        // A lead of the limit under a tenth of a percent is the model's business; the check names its own least cost.
        let options = AgeOptions { todays_rule_hours: None, least_saving_percent: 0.0, ..options.clone() };
        let best = planned_age(&world, &class.limit, &options)?;
        let at_planned = cost_curve(&world, &[policy.planned.age_hours], &class.limit)?;
        let planned = at_planned.first().map_or(best.cost.cost_per_hour, |p| p.cost_per_hour);
        let mut made = Self {
            age_hours: best.age_hours,
            cost_per_1000_hours: 1000.0 * best.cost.cost_per_hour,
            planned_cost_per_1000_hours: 1000.0 * planned,
            sentence: String::new(),
        };
        made.sentence = made.words(policy.planned_age_hours);
        Ok(made)
    }

    /// Whether the check can be made: an age of the model's own within the records.
    pub(super) fn asked(policy: &PolicyResult) -> bool {
        !matches!(policy.verdict, Verdict::TooFewFailures | Verdict::TodaysRuleStays)
    }

    /// How much more the planned age costs than the age of the curve, by the curve, percent.
    fn more_percent(&self) -> f64 {
        100.0 * (self.planned_cost_per_1000_hours / self.cost_per_1000_hours - 1.0)
    }

    fn words(&self, planned_age_hours: f64) -> String {
        let (own, planned) = (full_hours(self.age_hours), full_hours(planned_age_hours));
        let more = self.more_percent();
        let says = if self.age_hours == planned_age_hours {
            "the same as the model's".to_owned()
        } else if more <= AGREE_PERCENT {
            format!("by the same curve {planned} h costs no more than {AGREE_PERCENT} % more: the two agree")
        } else {
            format!(
                "by the same curve {planned} h costs {more:.0} % more: the records lean to {own} h, the model smooths over \
                 the single failures that decide it"
            )
        };
        format!("straight from the records, without a family, the least cost lies at {own} h; {says}")
    }

    /// What must hold of it beside the policy; the lives that it comes from are not among the answers.
    pub(super) fn agrees(&self, c: &mut Checks, policy: &PolicyResult) {
        c.need(
            "age_hours",
            Self::asked(policy),
            self.age_hours,
            "none where the planned age is today's rule kept or failures are fewer than five",
        );
        c.age("age_hours", self.age_hours, policy.ceiling_hours);
        c.follows("age_hours", &self.age_hours, &self.age_hours.floor());
        c.positive("cost_per_1000_hours", self.cost_per_1000_hours);
        // Hours rounded down may cost a hair more than an age between them: a lamp that ends an hour early, at most.
        let most = self.planned_cost_per_1000_hours * (1.0 + 1e-3_f64.max(1.0 / self.age_hours));
        c.between("cost_per_1000_hours", self.cost_per_1000_hours, 0.0, most);
        c.follows("sentence", &self.sentence, &self.words(policy.planned_age_hours));
    }
}
