//! What the owner of a study declares about one lamp class.

use chrono::NaiveDate;
use serde::Serialize;

use super::declare::failure_ending;
use super::declare_claims::{MoneyInCosts, OfClass, read_warranty};
use super::plan_result::LaterOrder;
use super::walk::{Bound, Document, Section};
use crate::base::error::{Error, Problem, Result};
use crate::records::Ending;
use crate::stock::UsedLamp;
use crate::terms::{Costs, HourLimit, PrintedHours};
use crate::warranty::ClaimTerms;

/// A lamp class as declared and checked.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct LampClass {
    /// Name in the study.
    pub name: String,
    /// Other names that logs give it.
    pub also_called: Vec<String>,
    /// Hours as the maker prints them.
    pub printed: PrintedHours,
    /// The age that no advice may pass.
    pub limit: HourLimit,
    /// Price of a lamp.
    pub price: f64,
    /// Days from order to delivery.
    pub lead_time_days: u32,
    /// Age at which lamps are changed today.
    pub todays_rule_hours: f64,
    /// Chance of no shortage over the lead time, where it differs from the chain's.
    pub service_target: Option<f64>,
    /// Wanted chance that a lamp that is needed finds one on the shelf, where it differs from the chain's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fill_rate_target: Option<f64>,
    /// Lamps on the shelf.
    pub on_hand: u64,
    /// Lamps ordered and not yet delivered; of a stock count those that come within the lead time.
    pub on_order: u64,
    /// Lamps of a stock count on order that come after the lead time, day by day.
    #[serde(skip)]
    pub(super) on_order_later: Vec<(NaiveDate, u64)>,
    /// Used lamps of a stock count that may serve as emergency spares.
    #[serde(skip)]
    pub(super) used_lamps: Vec<UsedLamp>,
    /// Lamps in a box; only whole boxes are sold. 1 unless declared.
    pub box_lamps: u64,
    /// Fewest lamps in an order. 1 unless declared.
    pub minimum_order_lamps: u64,
    /// Cost of one change by what ended the lamp.
    pub costs: Costs,
    /// How claims under its warranty go; none where no terms are declared.
    pub warranty: Option<ClaimTerms>,
    /// Whether ages, costs and savings count what the warranty pays back.
    #[serde(skip)]
    pub(super) counts_money_back: bool,
    /// Line of the study file on which the warranty hours stand, where they lie past the limit of use: a lamp would be
    /// under warranty at an age that its maker forbids.
    #[serde(skip)]
    pub(super) warranty_past_use_line: Option<u64>,
    /// Line of the study file on which the cost of a planned change stands.
    #[serde(skip)]
    pub(super) planned_cost_line: u64,
    /// Line of the study file on which lamps on the shelf or on order stand, if they do.
    #[serde(skip)]
    pub(super) shelf_line: Option<u64>,
    /// Line of the study file on which the name stands.
    #[serde(skip)]
    pub(super) line: u64,
}

impl LampClass {
    /// The smaller of the limit in force and the maker's: what running lamps are judged against.
    pub fn judged_limit_hours(&self) -> f64 {
        self.limit.hours().min(self.limit.maker_hours())
    }

    /// Lamps of a stock count that come after the lead time and by a day.
    pub(super) fn later_until(&self, day: NaiveDate) -> Vec<LaterOrder> {
        let due = self.on_order_later.iter().filter(|(due_on, _)| *due_on <= day);
        due.map(|(due_on, lamps)| LaterOrder { due_on: *due_on, lamps: *lamps }).collect()
    }
}

/// Longest lead time, days: three years, as long as the longest forecast. Our choice, without a source.
const MOST_LEAD_DAYS: u64 = 1095;

pub(super) fn read_class(doc: &mut Document<'_>, mut s: Section<'_>, failures: &[Ending]) -> Option<LampClass> {
    let name = s.needed_text(doc, "name");
    if let Some(name) = &name {
        s.title = format!("class \"{name}\"");
    }
    let also_called = s.texts(doc, "also_called").unwrap_or_default();
    let limit = read_limit(doc, &mut s);
    let price = s.needed_number(doc, "price", Bound::Amount);
    let lead_time = s.needed_whole(doc, "lead_time_days", 0, MOST_LEAD_DAYS);
    let todays_rule_hours = s.needed_number(doc, "todays_rule_hours", Bound::Positive);
    let service_target = s.number(doc, "service_target", Bound::Target);
    let fill_rate_target = s.number(doc, "fill_rate_target", Bound::Target);
    let on_hand = s.whole(doc, "on_hand", 0, 1_000_000).unwrap_or(0);
    let on_order = s.whole(doc, "on_order", 0, 1_000_000).unwrap_or(0);
    let box_lamps = s.whole(doc, "box_lamps", 1, 1_000_000).unwrap_or(1);
    let minimum_order_lamps = s.whole(doc, "minimum_order_lamps", 1, 1_000_000).unwrap_or(1);
    let table = s.needed_table(doc, "costs", "[class.costs] with planned and every ending that counts as a failure");
    let planned_cost_line = table.as_ref().and_then(|t| t.place(doc, "planned").line).unwrap_or(0);
    let costs = table.and_then(|t| read_costs(doc, &t, failures));
    let warranty = s.table(doc, "warranty", "[class.warranty] with form, hours and what a claim needs");
    let warranty_hours = limit.as_ref().and_then(|l| l.0.warranty_hours);
    let of_class = OfClass { price, warranty_hours, hours_read: limit.is_some(), failures, costs: costs.as_ref() };
    let warranty = warranty.and_then(|t| read_warranty(doc, t, &of_class));
    s.finish(doc);
    let shelf = ["on_hand", "on_order"].into_iter().find(|key| s.entries().any(|(k, _)| k == *key));
    let (printed, limit) = limit?;
    let past_use = printed.warranty_hours.zip(printed.maximum_hours).is_some_and(|(warranty, most)| warranty > most);
    Some(LampClass {
        warranty_past_use_line: past_use.then(|| s.place(doc, "warranty_hours").line.unwrap_or(0)),
        name: name?,
        also_called,
        printed,
        limit,
        price: price?,
        lead_time_days: u32::try_from(lead_time?).ok()?,
        todays_rule_hours: todays_rule_hours?,
        service_target,
        fill_rate_target,
        on_hand,
        on_order,
        on_order_later: Vec::new(),
        used_lamps: Vec::new(),
        box_lamps,
        minimum_order_lamps,
        costs: costs?,
        counts_money_back: warranty.as_ref().is_some_and(|w| w.1 == MoneyInCosts::Counted),
        warranty: warranty.map(|w| w.0),
        planned_cost_line,
        shelf_line: shelf.and_then(|key| s.place(doc, key).line),
        line: s.place(doc, "name").line.unwrap_or(0),
    })
}

fn read_limit(doc: &mut Document<'_>, s: &mut Section<'_>) -> Option<(PrintedHours, HourLimit)> {
    let before = doc.problems.len();
    let printed = PrintedHours {
        warranty_hours: s.number(doc, "warranty_hours", Bound::AtLeastOne),
        average_life_hours: s.number(doc, "average_life_hours", Bound::AtLeastOne),
        maximum_hours: s.number(doc, "maximum_hours", Bound::AtLeastOne),
        source: s.needed_text(doc, "hours_source").unwrap_or_default(),
    };
    let own = s.number(doc, "limit_hours", Bound::AtLeastOne);
    let reason = s.text(doc, "limit_reason");
    if doc.problems.len() > before {
        return None;
    }
    // What the single values cannot show is left to the constructors of the limit; they are given the key it hangs on.
    let (key, limit) = match (own, reason) {
        (Some(hours), reason) => ("limit_hours", printed.limit_because(hours, reason.as_deref().unwrap_or_default())),
        (None, Some(_)) => {
            s.missing(doc, "limit_hours", "the limit that limit_reason speaks of");
            return None;
        }
        (None, None) => ("maximum_hours", printed.limit()),
    };
    let limit = kept(doc, s, key, limit)?;
    Some((printed, limit))
}

fn read_costs(doc: &mut Document<'_>, s: &Section<'_>, failures: &[Ending]) -> Option<Costs> {
    let before = doc.problems.len();
    let mut planned = None;
    let mut by_ending = Vec::new();
    for (key, value) in s.entries() {
        let cost = s.check_number(doc, key, value, Bound::Amount);
        if key == "planned" {
            planned = cost;
        } else if let Some(ending) = failure_ending(doc, s, key, key) {
            by_ending.extend(cost.map(|c| (ending, c)));
        }
    }
    let given: Vec<&str> = s.entries().map(|(key, _)| key).collect();
    for word in std::iter::once("planned").chain(failures.iter().map(|e| e.as_str())) {
        if !given.contains(&word) {
            s.missing(doc, word, "the whole cost of one change, above 0");
        }
    }
    if doc.problems.len() > before {
        return None;
    }
    kept(doc, s, "planned", Costs::new(planned?, by_ending))
}

/// Keeps an answer, or its problems with the place in the study file.
pub(super) fn kept<T>(doc: &mut Document<'_>, s: &Section<'_>, key: &str, answer: Result<T>) -> Option<T> {
    match answer {
        Ok(value) => Some(value),
        Err(error) => {
            let place = s.place(doc, key);
            let placed = |p: &Problem| Problem { place: place.clone(), ..p.clone() };
            let problems: Vec<Problem> = Error::problems(&error).iter().map(placed).collect();
            doc.problems.extend(problems);
            None
        }
    }
}
