//! What a study says of the end of a lamp type: lamps that stop burning, and how many lamps to buy before.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::decide::order_of;
use super::declare_class::LampClass;
use super::declare_ending::{LastBuyPlan, StopKind};
use super::plan_result::LaterOrder;
use super::results::Refusal;
use crate::base::figure::{counted, fitting, share, tenths, whole};
use crate::demand::Count;
use crate::stock::{BuyCosts, BuyPoint, BuyRule, EarlierConversion, LastBuy, OrderTerms, UsedLamp};

/// The end of lamp types.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LastBuysResult {
    /// Burning lamps in screens that are declared to stop, one entry for each class that has any.
    pub stopping: Vec<StoppingLamps>,
    /// One entry for each last buy, in the order declared.
    pub buys: Vec<LastBuyResult>,
}

/// Burning lamps of a class in screens that are declared to stop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StoppingLamps {
    /// Lamp class.
    pub lamp_class: String,
    /// Burning lamps of the class.
    pub burning_lamps_count: u64,
    /// Of these, in screens to be converted.
    pub conversion_lamps_count: u64,
    /// Of these, in screens to be closed.
    pub closing_lamps_count: u64,
    /// First day on which one of them may stop.
    pub first_on: NaiveDate,
    /// Last day on which one of them may stop.
    pub last_on: NaiveDate,
}

impl StoppingLamps {
    pub(super) fn of<'a>(
        lamp_class: &str,
        burning: u64,
        stops: impl Iterator<Item = &'a super::declare_ending::Stop>,
    ) -> Option<Self> {
        let stops: Vec<_> = stops.collect();
        let of = |kind: StopKind| stops.iter().filter(|s| s.kind == kind).count() as u64;
        Some(Self {
            lamp_class: lamp_class.to_owned(),
            burning_lamps_count: burning,
            conversion_lamps_count: of(StopKind::Conversion),
            closing_lamps_count: of(StopKind::Closing),
            first_on: stops.iter().map(|s| s.earliest).min()?,
            last_on: stops.iter().map(|s| s.latest).max()?,
        })
    }
}

/// The last buy of one class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LastBuyResult {
    /// Lamp class.
    pub lamp_class: String,
    /// The advice in plain words; blank where there is none.
    pub sentence: String,
    /// Why there is no advice; none where there is.
    pub refusal: Option<Refusal>,
    /// Last day on which the maker takes orders.
    pub last_order_on: NaiveDate,
    /// Day until which lamps are needed; none where that is not told.
    pub needed_until: Option<NaiveDate>,
    /// Lamps on hand.
    pub on_hand_lamps: u64,
    /// Lamps on order that come within the lead time.
    pub on_order_lamps: u64,
    /// Lamps of the stock count that come later and before lamps are needed no more, day by day.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub on_order_later: Vec<LaterOrder>,
    /// Used lamps of the stock count, each taken out while it worked: below the advised age they serve after failures, with the
    /// hours they have left, and every quantity is of new lamps beside them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub used_lamps: Vec<UsedLamp>,
    /// Price of a lamp in the last buy.
    pub price: f64,
    /// Lamps in a box; 1 for single lamps.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub box_lamps: u64,
    /// Fewest lamps in an order; 1 for none.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub minimum_order_lamps: u64,
    /// Greatest chance of a shortage, as declared.
    pub risk: Option<f64>,
    /// Costs of a lamp short and of one left over, as declared.
    pub costs: Option<BuyCosts>,
    /// Days by which every stop is late in the scenario of that name.
    pub late_by_days: u32,
    /// The last buy as declared, and under other programmes; none where there is no advice.
    pub scenarios: Vec<BuyScenario>,
    /// What other quantities lead to, as declared.
    pub curve: Vec<BuyPoint>,
    /// What the earlier stops that are declared to be compared would save; none where none is.
    pub earlier: Option<EarlierConversion>,
}

/// What is assumed of the screens that stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BuyProgramme {
    /// As declared.
    Declared,
    /// No screen stops before lamps are needed no more.
    NoStop,
    /// Every screen stops so many days after the last day declared for it, and lamps are needed as much longer where the last
    /// stop ends the need.
    Late,
    /// Every screen with an earlier day to be compared stops on it.
    Earlier,
}

impl BuyProgramme {
    /// The word used in files and interfaces.
    pub fn as_str(self) -> &'static str {
        match self {
            BuyProgramme::Declared => "declared",
            BuyProgramme::NoStop => "no_stop",
            BuyProgramme::Late => "late",
            BuyProgramme::Earlier => "earlier",
        }
    }
}

/// The last buy under one programme.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuyScenario {
    /// What is assumed of the screens.
    pub programme: BuyProgramme,
    /// Mean lamps needed until the end.
    pub mean_lamps: f64,
    /// By the greatest chance of a shortage; none where no risk is declared.
    pub by_risk: Option<BuyQuantity>,
    /// By the critical ratio of the costs; none where no costs are declared.
    pub by_costs: Option<BuyQuantity>,
    /// Lamps needed by those screens alone that may still burn when an order of today comes: it serves no other. None where
    /// every screen may.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub served: Option<Count>,
    /// The answer of the room of last buys, by the costs where they are declared, else by the risk.
    pub found: LastBuy,
}

/// How many lamps to buy, and what that leads to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuyQuantity {
    /// Share of futures in which the quantity is to suffice.
    pub ratio: f64,
    /// Lamps to hold in all, those on hand and on order included.
    pub quantity_lamps: u64,
    /// Lamps to buy: the quantity less those on hand and on order, no more than an order serves, in whole boxes.
    pub buy_lamps: u64,
    /// Fewest lamps to buy, where the box or the smallest order makes it more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_buy_lamps: Option<u64>,
    /// Most lamps that an order of today serves: the quantity for the screens that may still burn when it comes. None where
    /// every screen may.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order_serves_lamps: Option<u64>,
    /// Their price.
    pub buy_price: f64,
    /// What holding them with those on hand and on order leads to.
    pub held: BuyPoint,
    /// Price of the lamps left over, on average.
    pub left_price: f64,
    /// Money back for those of them that still work, on average; 0 where no costs are declared.
    pub left_money_back: f64,
}

impl LastBuyResult {
    /// A last buy without advice yet.
    pub(super) fn empty(plan: &LastBuyPlan, class: &LampClass) -> Self {
        Self {
            lamp_class: plan.class.clone(),
            sentence: String::new(),
            refusal: None,
            last_order_on: plan.last_order_on,
            needed_until: plan.needed_until,
            on_hand_lamps: class.on_hand,
            on_order_lamps: class.on_order,
            on_order_later: Vec::new(),
            used_lamps: class.used_lamps.clone(),
            price: plan.price,
            box_lamps: class.box_lamps,
            minimum_order_lamps: class.minimum_order_lamps,
            risk: plan.risk,
            costs: plan.costs,
            late_by_days: plan.late_by_days,
            scenarios: Vec::new(),
            curve: Vec::new(),
            earlier: None,
        }
    }

    /// Lamps on order that come after the lead time.
    pub(crate) fn later_lamps(&self) -> u64 {
        self.on_order_later.iter().map(|o| o.lamps).fold(0, u64::saturating_add)
    }

    /// Lamps that need not be bought: those on hand and on order.
    pub(super) fn there(&self) -> u64 {
        self.on_hand_lamps.saturating_add(self.on_order_lamps).saturating_add(self.later_lamps())
    }

    /// A scenario from the answer of the room, and what an order of today serves of it.
    pub(super) fn scenario(&self, programme: BuyProgramme, found: LastBuy, served: Option<Count>) -> BuyScenario {
        let served_of = served.as_ref();
        BuyScenario {
            programme,
            mean_lamps: found.needed.mean(),
            by_risk: self.risk.map(|risk| self.quantity(&BuyRule::Risk(risk), &found, served_of)),
            by_costs: self.costs.map(|costs| self.quantity(&BuyRule::Costs(costs), &found, served_of)),
            served,
            found,
        }
    }

    fn quantity(&self, rule: &BuyRule, found: &LastBuy, served: Option<&Count>) -> BuyQuantity {
        let (usable, there) = (found.usable_at_end, self.there());
        let quantity_lamps = rule.lamps(&found.needed, usable);
        // What a quantity costs is told by the costs, whichever rule set it.
        let priced = self.costs.map_or(*rule, BuyRule::Costs);
        let order_serves_lamps = served.map(|needed| rule.lamps(needed, usable));
        let least = order_of(quantity_lamps.saturating_sub(there), order_serves_lamps);
        let terms = OrderTerms { least_order: self.minimum_order_lamps, box_of: self.box_lamps };
        let buy_lamps = if least == 0 { 0 } else { terms.order_of(least) };
        let held = priced.point(&found.needed, usable, there.saturating_add(buy_lamps));
        BuyQuantity {
            ratio: rule.ratio(usable),
            quantity_lamps,
            buy_lamps,
            least_buy_lamps: (buy_lamps != least).then_some(least),
            order_serves_lamps,
            buy_price: buy_lamps as f64 * self.price,
            held,
            left_price: held.expected_left * self.price,
            left_money_back: self.costs.map_or(0.0, |c| c.money_back * usable * held.expected_left),
        }
    }

    /// The rule that sets the quantity of the room's answer: the costs where they are declared.
    pub(super) fn rule(&self) -> Option<BuyRule> {
        self.costs.map(BuyRule::Costs).or(self.risk.map(BuyRule::Risk))
    }

    /// The advice in plain words.
    pub(super) fn said(&self) -> String {
        let Some((declared, until)) = self.scenarios.first().zip(self.needed_until) else { return String::new() };
        let there = self.there();
        let each = [("by the costs", &declared.by_costs), ("at the risk", &declared.by_risk)];
        let each = each.into_iter().filter_map(|(how, quantity)| {
            let q = quantity.as_ref()?;
            let bought = if q.buy_lamps == 0 { "none".to_owned() } else { counted(q.buy_lamps, "lamp") };
            let boxed = q.least_buy_lamps.map_or_else(String::new, |n| {
                format!(" ({} {} needed, the rest is the box or the smallest order)", whole(n as f64), fitting(n, "is", "are"))
            });
            // What is missing and no order brings.
            let least = q.least_buy_lamps.unwrap_or(q.buy_lamps);
            let late = match q.quantity_lamps.saturating_sub(there).saturating_sub(least) {
                0 => String::new(),
                n => format!(
                    "; {} more {} missing for screens that stop before an order of today comes",
                    counted(n, "lamp"),
                    fitting(n, "is", "are")
                ),
            };
            Some(format!(
                "{how} order {bought}{boxed}, to have {} in all: a chance of {} to run short, {} left over on average{late}",
                whole(q.held.lamps as f64),
                share(q.held.shortage_chance),
                tenths(q.held.expected_left)
            ))
        });
        let each: Vec<String> = each.collect();
        let later = match self.on_order_later.as_slice() {
            [] => String::new(),
            [.., last] => format!(", of which {} after the lead time, by {}", coming(self.later_lamps()), last.due_on),
        };
        let used = match self.used_lamps.len() as u64 {
            0 => String::new(),
            all => {
                let (terms, age) = (&declared.found.terms, declared.found.planned_age_hours);
                let serving = terms.used_hours_left(age).len() as u64;
                let lamps = counted(all, "used lamp");
                format!("; {serving} of {lamps} {} after failures", fitting(serving, "serves", "serve"))
            }
        };
        format!(
            "until {until} on average {} needed, and {} on hand or on order{later}{used}; by {} {}",
            tenths(declared.mean_lamps),
            counted_are(there),
            self.last_order_on,
            each.join("; ")
        )
    }
}

fn one() -> u64 {
    1
}

#[allow(clippy::trivially_copy_pass_by_ref)] // As its caller gives it.
fn is_one(lamps: &u64) -> bool {
    *lamps == 1
}

fn coming(lamps: u64) -> String {
    format!("{} {}", whole(lamps as f64), fitting(lamps, "comes", "come"))
}

fn counted_are(lamps: u64) -> String {
    format!("{} {}", counted(lamps, "lamp"), fitting(lamps, "is", "are"))
}
