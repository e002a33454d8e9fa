//! The fill rate of a class beside its chance of no shortage: how often a lamp is there when one is needed.

use serde::{Deserialize, Serialize};

use super::decide::order_of;
use crate::base::figure::{counted, percent, whole};
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;
use crate::stock;

/// What a fill-rate target asks for.
///
/// # Formula
/// ```text
/// fill rate of a stock s = P(N <= s - 1);   level = least s that reaches the target, 0 where none can be needed
/// ```
/// N: lamps needed over the lead time. Where each lamp used is ordered again at once, those still on their way are those
/// needed in the last lead time: a lamp that is needed finds one on the shelf where they are fewer than s.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FillRate {
    /// Wanted fill rate.
    pub target_probability: f64,
    /// Fewest lamps that reach it.
    pub level_lamps: u64,
    /// Fill rate with that level.
    pub at_level_probability: f64,
    /// Fill rate with what is on hand and on order.
    pub today_probability: f64,
    /// Fewest lamps that reach it for those screens alone that still burn when an order of today comes. None where all may.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order_serves_lamps: Option<u64>,
    /// Lamps to order for it: the level less those on hand and on order, at most those that an order serves.
    pub order_lamps: u64,
    /// The same in plain words, with the definition.
    pub sentence: String,
}

impl FillRate {
    /// By the lamps needed over the lead time, and by those of the screens that an order serves.
    pub(super) fn of(target: f64, needed: &Count, served: Option<&Count>, there: u64) -> Self {
        let level_lamps = level(needed, target);
        let order_serves_lamps = served.map(|served| level(served, target));
        let rate = |stock: u64| stock.checked_sub(1).map_or(0.0, |below| needed.at_most(below));
        let mut found = Self {
            target_probability: target,
            level_lamps,
            at_level_probability: if level_lamps == 0 { 1.0 } else { rate(level_lamps) },
            today_probability: if level_lamps == 0 { 1.0 } else { rate(there) },
            order_serves_lamps,
            order_lamps: order_of(level_lamps.saturating_sub(there), order_serves_lamps),
            sentence: String::new(),
        };
        found.sentence = found.said();
        found
    }

    fn said(&self) -> String {
        if self.level_lamps == 0 {
            return "no lamp is needed over the lead time, so that every fill rate is met without a stock".to_owned();
        }
        format!(
            "for a fill rate of {} hold {}, order {}: with them it is {}, with what is on hand and on order {}; the fill rate is \
             the chance that a lamp that is needed finds one on the shelf while each lamp used is ordered again at once: that \
             fewer are needed over a lead time than are held. The orders of this study are those of the chance of no shortage",
            percent(self.target_probability),
            counted(self.level_lamps, "lamp"),
            whole(self.order_lamps as f64),
            percent(self.at_level_probability),
            percent(self.today_probability),
        )
    }

    /// What must hold with so many lamps on hand and on order.
    pub(super) fn agrees(&self, c: &mut Checks, there: u64) {
        self.check(c);
        let order = order_of(self.level_lamps.saturating_sub(there), self.order_serves_lamps);
        c.follows("order_lamps", &self.order_lamps, &order);
        let (level, today) = (self.at_level_probability, self.today_probability);
        let (low, high) = if there < self.level_lamps { (0.0, level) } else { (level, 1.0) };
        c.between("today_probability", today, low, high);
    }
}

impl Sound for FillRate {
    fn check(&self, c: &mut Checks) {
        c.share("target_probability", self.target_probability);
        c.share("at_level_probability", self.at_level_probability);
        c.share("today_probability", self.today_probability);
        c.between("at_level_probability", self.at_level_probability, self.target_probability, None);
        c.follows("sentence", &self.sentence, &self.said());
    }
}

fn level(needed: &Count, target: f64) -> u64 {
    if needed.last() == 0 {
        return 0;
    }
    stock::least_for(needed, target).saturating_add(1)
}
