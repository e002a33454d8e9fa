//! What the costs of a class count of the money that its warranty pays back.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::burning::Burning;
use super::claims_result::percent;
use super::class_result::ClassResult;
use super::decide::{WEEKS_PER_YEAR, YEAR_DAYS};
use super::decision_result::PolicyResult;
use super::declare::Declaration;
use super::declare_class::LampClass;
use crate::base::error::Result;
use crate::base::figure::{counted, full_hours, short};
use crate::base::sound::{Checks, Sound};
use crate::demand::Pace;
use crate::fit::World;
use crate::policy::{AgeOptions, Verdict, planned_age, warranty_value};
use crate::records::Ending;
use crate::terms::{Costs, HourLimit, Warranty};
use crate::warranty::{ClaimTerms, CoverStart};

/// Money back under the warranty of a class, which its ages, costs and savings count.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MoneyBack {
    /// What a claim brings by age at failure: the money back times the chance that it is granted, less its cost.
    pub counted: Warranty,
    /// Mean programme hours a week of the burning lamps over the year to come, of a screen of the chain where none burns, by
    /// which the months of the warranty become hours; none where it has no months.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours_per_week: Option<f64>,
    /// Mean money back per 1,000 lamp hours under the planned age.
    pub money_back_per_1000_hours: f64,
    /// The planned age if no money came back, whole hours; none with fewer than five failures.
    pub planned_age_without_hours: Option<f64>,
    /// The same in plain words.
    pub sentence: String,
}

/// Money back that costs can count, and the pace by which months became hours.
#[derive(Clone, Debug)]
pub(super) struct Counted {
    warranty: Warranty,
    hours_per_week: Option<f64>,
}

impl Counted {
    /// The money back of a class whose costs are to count it; none where it has no warranty, no claim is worth filing, or months
    /// would have to become hours where no lamp burns.
    pub(super) fn of(class: &LampClass, burning: &[Burning], declared: &Declaration) -> Result<Option<Self>> {
        let Some(terms) = class.warranty.as_ref().filter(|_| class.counts_money_back) else { return Ok(None) };
        // Over a year, so that a season counts as it does wherever days become hours.
        let share = |pace: Option<&Arc<Pace>>| pace.map_or(1.0, |pace| pace.days_at(YEAR_DAYS) / YEAR_DAYS);
        let hours: f64 = burning.iter().map(|b| b.socket.hours_per_week * share(b.pace.as_ref())).sum();
        // Where no lamp burns, a screen of the chain stands for those to come.
        let of_chain = || declared.chain.hours_per_week * share(declared.paces.of_chain());
        let mean = if burning.is_empty() { of_chain() } else { hours / burning.len() as f64 };
        let hours_per_week = terms.cover.calendar().map(|_| mean);
        // Where no lamp burns for a year, months become no hours, and nothing fails that they could cover.
        if hours_per_week.is_some_and(|mean| mean <= 0.0) {
            return Ok(None);
        }
        let warranty = terms.money_back(hours_per_week)?;
        Ok(warranty.map(|warranty| Self { warranty, hours_per_week }))
    }

    /// The costs of a class with the money back that they are to count.
    pub(super) fn costs(class: &LampClass, counted: Option<&Self>) -> Result<Costs> {
        let costs = class.costs.clone();
        match counted {
            Some(counted) => costs.with_warranty(counted.warranty.clone()),
            None => Ok(costs),
        }
    }

    /// What it comes to under the planned age of a world whose costs count it.
    pub(super) fn result(
        self,
        (class, currency): (&LampClass, &str),
        world: World,
        policy: &PolicyResult,
        options: &AgeOptions,
    ) -> Result<MoneyBack> {
        let value = warranty_value(&world, policy.planned.age_hours, &class.limit)?;
        let without = World { costs: class.costs.clone(), ..world };
        let few = policy.verdict == Verdict::TooFewFailures;
        let age_without = if few { None } else { Some(planned_age(&without, &class.limit, options)?.age_hours) };
        let mut made = MoneyBack {
            counted: self.warranty,
            hours_per_week: self.hours_per_week,
            money_back_per_1000_hours: value.money_back_per_1000_hours,
            planned_age_without_hours: age_without,
            sentence: String::new(),
        };
        if let Some(terms) = &class.warranty {
            made.sentence = made.words(terms, currency);
        }
        Ok(made)
    }
}

impl Sound for MoneyBack {
    fn check(&self, c: &mut Checks) {
        c.positive("hours_per_week", self.hours_per_week);
        c.not_negative("money_back_per_1000_hours", self.money_back_per_1000_hours);
        c.positive("planned_age_without_hours", self.planned_age_without_hours);
        c.words("sentence", &self.sentence);
    }
}

impl ClassResult {
    /// Whether its costs count what a warranty pays back.
    pub(super) fn counts_money_back(&self) -> bool {
        self.policy.as_ref().is_some_and(|policy| policy.money_back.is_some())
    }
}

impl MoneyBack {
    /// What is counted, and what of the terms is not.
    fn words(&self, terms: &ClaimTerms, currency: &str) -> String {
        let endings: Vec<String> = self.counted.endings().iter().map(Ending::to_string).collect();
        let mut said = vec![format!(
            "ages, costs and savings count what the warranty pays back: for a failure by {} below {} h the money back at its \
             age, granted with chance {}, less {} {currency} a claim; {:.2} {currency} per 1,000 lamp hours under the planned \
             age",
            endings.join(", ").replace('_', " "),
            full_hours(self.counted.end_hours()),
            percent(terms.chance),
            short(terms.handling_cost),
            self.money_back_per_1000_hours,
        )];
        let without = self.planned_age_without_hours.map(full_hours);
        said.extend(without.map(|age| format!("without it the planned age would be {age} h")));
        if let (Some(pace), Some((months, from))) = (self.hours_per_week, terms.cover.calendar()) {
            let shelf = match from {
                CoverStart::Fitting => "",
                CoverStart::Delivery => ", days on the shelf before fitting left out",
            };
            let calendar = counted(u64::from(months), "month");
            said.push(format!("its calendar of {calendar} is taken at {} h a week{shelf}", short(pace)));
        }
        said.extend(
            terms.cover.most_strikes().map(|_| "its limit of strikes is left out, as no age tells them".to_owned()),
        );
        said.join("; ")
    }

    /// What must hold of it beside the terms that it comes from.
    pub(super) fn agrees(&self, c: &mut Checks, terms: &ClaimTerms, class: &ClassResult, currency: &str) {
        let dated = terms.cover.calendar().is_some();
        c.there("hours_per_week", self.hours_per_week.is_some(), dated, "there where months end the warranty");
        // Where no lamp burns, the pace is the chain's.
        let burning = class.demand.as_ref().filter(|d| d.running_lamps_count > 0);
        if let (Some(pace), Some(demand)) = (self.hours_per_week, burning) {
            let lamps = demand.running_lamps_count as f64;
            let hours = match demand.programme_hours_next_year {
                None => Some(demand.programme_hours_per_week),
                // Up to the stops of screens, which the pace of a warranty knows nothing of.
                Some(year) => Some(year / WEEKS_PER_YEAR).filter(|_| demand.stopping_lamps_count.is_none()),
            };
            if let Some(hours) = hours {
                c.equal("hours_per_week", pace, hours / lamps);
            }
        }
        let made = terms.money_back(self.hours_per_week).ok().flatten();
        c.follows("counted", &Some(&self.counted), &made.as_ref());
        c.follows("sentence", &self.sentence, &self.words(terms, currency));
    }

    /// The figures worked out again, in a world whose costs count the money back and in one whose costs do not.
    pub(super) fn again(
        &self,
        c: &mut Checks,
        (with, without): (&World, &World),
        policy: &PolicyResult,
        limit: &HourLimit,
        options: &AgeOptions,
    ) {
        if let Ok(value) = warranty_value(with, policy.planned.age_hours, limit) {
            c.equal("money_back_per_1000_hours", self.money_back_per_1000_hours, value.money_back_per_1000_hours);
        }
        let few = policy.verdict == Verdict::TooFewFailures;
        let field = "planned_age_without_hours";
        c.there(field, self.planned_age_without_hours.is_some(), !few, "there with five failures or more");
        if let (Some(got), Ok(made)) = (self.planned_age_without_hours, planned_age(without, limit, options)) {
            // Whole hours may fall to either side of their end.
            c.between(field, got, made.age_hours - 1.0, made.age_hours + 1.0);
        }
    }
}
