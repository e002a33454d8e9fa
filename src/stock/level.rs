//! The least stock that meets a service target.

use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting, whole};
use crate::base::sound::{Checks, Sound, as_saved};
use crate::demand::Count;

/// Chance of shortage that stands for none where certainty is asked for.
pub(super) const CERTAINTY: f64 = 1e-12;

/// What the advice amounts to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum StockVerdict {
    /// Lamps are to be ordered.
    Order,
    /// What is on hand and on order meets the target.
    Enough,
    /// No lamp can be needed over the lead time.
    NothingNeeded,
    /// Certainty was asked for, and no more lamps can be needed than the level.
    Certain,
    /// Certainty was asked for, which no stock below the most that can be needed gives, and there may be no such number; the
    /// level leaves a shortage less likely than 1e-12.
    CertaintyAsked,
    /// Lamps are missing to the level for screens that stop before an order of today comes: an answer of a study, which knows
    /// its screens.
    TooLate,
}

/// Spares to hold and to order for one lamp class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockAdvice {
    /// What the advice amounts to.
    pub verdict: StockVerdict,
    /// The same in plain words.
    pub sentence: String,
    /// Wanted chance of no shortage over the lead time.
    pub service_target: f64,
    /// Mean lamps needed over the lead time.
    pub mean_needed: f64,
    /// Least stock that meets the target, lamps.
    pub level: u64,
    /// Chance of no shortage at that level.
    pub service_at_level: f64,
    /// Chance of a shortage at that level.
    pub shortage_chance_at_level: f64,
    /// Mean lamps short at that level.
    pub expected_short_at_level: f64,
    /// Lamps on the shelf.
    pub on_hand: u64,
    /// Lamps ordered and to arrive within the lead time.
    pub on_order: u64,
    /// Chance of no shortage with what is on hand and on order.
    pub service_today: f64,
    /// Chance of a shortage with what is on hand and on order.
    pub shortage_chance_today: f64,
    /// Mean lamps short with what is on hand and on order.
    pub expected_short_today: f64,
    /// Lamps to order now.
    pub order: u64,
}

impl Sound for StockAdvice {
    fn check(&self, c: &mut Checks) {
        c.share("service_target", self.service_target);
        c.not_negative("mean_needed", self.mean_needed);
        c.share("service_at_level", self.service_at_level);
        c.equal("shortage_chance_at_level", self.shortage_chance_at_level + self.service_at_level, 1.0);
        c.not_negative("expected_short_at_level", self.expected_short_at_level);
        c.share("service_today", self.service_today);
        c.equal("shortage_chance_today", self.shortage_chance_today + self.service_today, 1.0);
        c.not_negative("expected_short_today", self.expected_short_today);
        let order = self.level.saturating_sub(self.on_hand.saturating_add(self.on_order));
        c.need("order", self.order == order, self.order, format!("{order}, the level minus on hand and on order"));
        c.between("service_at_level", self.service_at_level, self.service_target, None);
        let enough = self.on_hand.saturating_add(self.on_order) >= self.level;
        let (low, high) = if enough { (self.service_at_level, 1.0) } else { (0.0, self.service_at_level) };
        c.between("service_today", self.service_today, low, high);
        c.between("expected_short_at_level", self.expected_short_at_level, 0.0, self.mean_needed);
        c.between("expected_short_today", self.expected_short_today, 0.0, self.mean_needed);
        let verdict = match self.verdict {
            StockVerdict::Order => order > 0,
            StockVerdict::Enough => order == 0,
            StockVerdict::NothingNeeded => self.level == 0 && self.mean_needed == 0.0,
            StockVerdict::Certain => self.service_target == 1.0 && self.shortage_chance_at_level == 0.0,
            StockVerdict::CertaintyAsked => self.service_target == 1.0,
            StockVerdict::TooLate => false,
        };
        let said = sentence(self.verdict, self.level, (self.on_hand, self.on_order), order);
        c.follows("sentence", &self.sentence, &said);
        c.need("verdict", verdict, as_saved(&self.verdict), format!("{} to order", counted(order, "lamp")));
    }
}

/// The least whole stock s with P(needed <= s) at or above the target, and what to order to reach it.
///
/// # Formula
/// ```text
/// s = min { n : P(N > n) <= 1 - target };   order = max(0, s - on hand - on order)
/// ```
/// N: lamps needed over the lead time. The chance of no shortage is P(N <= s), not the share of needs met at once. A target of
/// 1 is taken as a shortage less likely than 1e-12, which is none where the number needed has a bound that is as likely.
///
/// # Errors
/// `stock.service_target` unless 0 < target <= 1.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// let advice = relamp::stock::level(&Count::poisson(4.0).unwrap(), 0.85, 3, 1).unwrap();
/// assert_eq!((advice.level, advice.order), (6, 2));
/// assert!((advice.service_at_level - 0.889326).abs() < 1e-6);
/// ```
pub fn level(needed: &Count, service_target: f64, on_hand: u64, on_order: u64) -> Result<StockAdvice> {
    if !(service_target > 0.0 && service_target <= 1.0) {
        let problem = Problem::new("stock.service_target", "the service target is a chance above 0 and at most 1")
            .at(Place::input("service_target"))
            .got(service_target)
            .expected("for example 0.95");
        return Err(Error::new(Kind::Input, problem));
    }
    let certain = service_target == 1.0;
    let level = least_for(needed, service_target);
    let today = on_hand.saturating_add(on_order);
    let order = level.saturating_sub(today);
    let nothing = needed.last() == 0;
    let verdict = if nothing {
        StockVerdict::NothingNeeded
    } else if certain && needed.more_than(level) == 0.0 {
        StockVerdict::Certain
    } else if certain {
        StockVerdict::CertaintyAsked
    } else if order > 0 {
        StockVerdict::Order
    } else {
        StockVerdict::Enough
    };
    let sentence = sentence(verdict, level, (on_hand, on_order), order);
    Ok(StockAdvice {
        verdict,
        sentence,
        service_target,
        mean_needed: needed.mean(),
        level,
        service_at_level: needed.at_most(level),
        shortage_chance_at_level: needed.more_than(level),
        expected_short_at_level: needed.expected_above(level),
        on_hand,
        on_order,
        service_today: needed.at_most(today),
        shortage_chance_today: needed.more_than(today),
        expected_short_today: needed.expected_above(today),
        order,
    })
}

/// Fewest lamps that are enough with a chance, 1 taken as a shortage less likely than 1e-12.
pub(crate) fn least_for(needed: &Count, target: f64) -> u64 {
    needed.least_with_tail(if target == 1.0 { CERTAINTY } else { 1.0 - target })
}

/// The advice in plain words, with the lamps on the shelf and on order; what is missing to the level and not ordered is told
/// too.
pub(crate) fn sentence(verdict: StockVerdict, level: u64, (on_hand, on_order): (u64, u64), order: u64) -> String {
    let shelf = format!("{} on hand and {} on order", whole(on_hand as f64), whole(on_order as f64));
    let ordered = whole(order as f64);
    let missing = level.saturating_sub(on_hand.saturating_add(on_order)).saturating_sub(order);
    let are_missing =
        |more: &str| format!("{}{more} {} missing", counted(missing, "lamp"), fitting(missing, "is", "are"));
    let text = match verdict {
        StockVerdict::NothingNeeded => "no lamp is needed over the lead time".to_owned(),
        StockVerdict::CertaintyAsked => {
            format!(
                "no stock below the most that can be needed makes a shortage impossible; {} {} it less likely than 1e-12, order {ordered} ({shelf})",
                counted(level, "lamp"),
                fitting(level, "leaves", "leave")
            )
        }
        StockVerdict::Certain => {
            format!("hold {}: no more can be needed; order {ordered} ({shelf})", counted(level, "lamp"))
        }
        StockVerdict::Order => format!("hold {}, order {ordered} ({shelf})", counted(level, "lamp")),
        StockVerdict::Enough => format!("hold {}; {shelf} are enough", counted(level, "lamp")),
        StockVerdict::TooLate => {
            return format!(
                "hold {}; {shelf}, so that {}, for screens that stop before an order of today comes: order none, only a faster \
                 delivery helps",
                counted(level, "lamp"),
                are_missing("")
            );
        }
    };
    if order == 0 || missing == 0 {
        return text;
    }
    format!("{text}; {} for screens that stop before it comes: only a faster delivery helps", are_missing(" more"))
}
// x
