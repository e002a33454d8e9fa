//! What the used lamps of a stock count are worth beside the spares of their class.

use serde::{Deserialize, Serialize};

use super::decide::order_of;
use super::declare_class::LampClass;
use crate::base::error::Result;
use crate::base::figure::{counted, fitting, full_hours, percent, whole};
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::demand::{Pace, SocketUntil};
use crate::fit::Draws;
use crate::stock::{BuyRule, ConvertingScreen, FEW_SHORT, LastBuyTerms, last_buys_over_draws};

/// Spares of a class where the used lamps on the shelf serve after failures, with the hours they have left.
///
/// # Formula
/// ```text
/// level = least s with P(N - U <= s) >= target, N - U: new lamps taken over the lead time in plays of the fleet
/// ```
/// A failure is served by a used lamp before a new one; that lamp keeps its age, and is changed in its turn at the advised age
/// or after its failure. A planned change takes a new lamp.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsedStock {
    /// Used lamps of the class in the stock count, each taken out while it worked.
    pub lamps_count: u64,
    /// Of these, lamps below the advised age: they may serve.
    pub serving_lamps_count: u64,
    /// Hours that these have left below it, together.
    pub hours_left: f64,
    /// Wanted chance of no shortage over the lead time.
    pub service_target_probability: f64,
    /// Fewest new lamps that reach the target beside them; the level without them where the plays tell too little of a shortage
    /// so rare.
    pub level_lamps: u64,
    /// New lamps to order then: the level less those on hand and on order, at most those that an order serves.
    pub order_lamps: u64,
    /// Plays of the fleet that the level rests on; 0 where no lamp may serve.
    pub plays_count: u64,
    /// The same in plain words.
    pub sentence: String,
}

/// Used lamps in stock beside new ones of a plan or a list whose orders do without them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UsedBeside {
    /// Used lamps of the class in the stock count, each taken out while it worked.
    pub lamps_count: u64,
    /// Of these, lamps below the advised age: they may serve.
    pub serving_lamps_count: u64,
    /// New lamps to order today if they do, for the chain as one store ([`UsedStock::order_lamps`]).
    pub order_lamps: u64,
}

impl UsedBeside {
    pub(super) fn of(used: &UsedStock) -> Self {
        let (lamps_count, serving_lamps_count) = (used.lamps_count, used.serving_lamps_count);
        Self { lamps_count, serving_lamps_count, order_lamps: used.order_lamps }
    }

    /// The end of a sentence on what to order.
    pub(super) fn words(&self) -> String {
        let (all, serving) = (self.lamps_count, self.serving_lamps_count);
        let lie = fitting(all, "lies", "lie");
        if serving == 0 {
            return format!("; {} {lie} in stock, none of them below the advised age", counted(all, "used lamp"));
        }
        format!(
            "; {} {lie} in stock too, not counted here: {} may serve after failures, and with {} the chain as one store would \
             order {} now",
            counted(all, "used lamp"),
            whole(serving as f64),
            fitting(serving, "it", "them"),
            match self.order_lamps {
                0 => "none".to_owned(),
                n => whole(n as f64),
            }
        )
    }
}

/// The spares that stand without used lamps.
#[derive(Clone, Copy, Debug)]
pub(super) struct WithoutUsed {
    pub(super) target: f64,
    pub(super) level: u64,
    /// Lamps on hand and on order.
    pub(super) there: u64,
    pub(super) order_serves: Option<u64>,
}

impl UsedStock {
    /// None where the count holds no used lamp of the class.
    pub(super) fn of(
        class: &LampClass,
        sockets: &[SocketUntil],
        draws: &dyn Draws,
        planned_age_hours: f64,
        without: WithoutUsed,
        (seed, run): (u64, &Run),
    ) -> Result<Option<Self>> {
        if class.used_lamps.is_empty() {
            return Ok(None);
        }
        let lead = f64::from(class.lead_time_days);
        let terms = LastBuyTerms {
            used_lamps: class.used_lamps.clone(),
            seed,
            ..LastBuyTerms::new(lead, planned_age_hours, BuyRule::Risk(1.0 - without.target))
        };
        let left = terms.used_hours_left(class.limit.cap(planned_age_hours));
        let mut found = Self {
            lamps_count: class.used_lamps.len() as u64,
            serving_lamps_count: left.len() as u64,
            hours_left: left.iter().sum(),
            service_target_probability: without.target,
            level_lamps: without.level,
            order_lamps: order_of(without.level.saturating_sub(without.there), without.order_serves),
            plays_count: 0,
            sentence: String::new(),
        };
        if !left.is_empty() {
            let screens: Vec<ConvertingScreen> = sockets.iter().map(ConvertingScreen::of).collect();
            let paces: Vec<Option<&Pace>> = sockets.iter().map(|s| s.pace.as_deref()).collect();
            let played = last_buys_over_draws(&[&screens], &paces, draws, &class.limit, &terms, run)?.pop();
            // What plays leave open never asks for more than no used lamp, nor for less than one new lamp for each of them.
            let least = without.level.saturating_sub(found.serving_lamps_count);
            let level = played.as_ref().map_or(without.level, |p| p.at_quantity.lamps);
            found.plays_count = played.and_then(|p| p.played).map_or(0, |p| p.plays);
            found.level_lamps = if found.too_rare() { without.level } else { level.clamp(least, without.level) };
            found.order_lamps = order_of(found.level_lamps.saturating_sub(without.there), without.order_serves);
        }
        found.sentence = found.said();
        Ok(Some(found))
    }

    /// Whether so few plays are short of lamps at the target that its level cannot be read off them.
    fn too_rare(&self) -> bool {
        (1.0 - self.service_target_probability) * (self.plays_count as f64) < FEW_SHORT
    }

    fn said(&self) -> String {
        let (all, serving) = (self.lamps_count, self.serving_lamps_count);
        if serving == 0 {
            return format!(
                "no emergency spare among {} of the stock count: none is below the advised age",
                counted(all, "used lamp")
            );
        }
        if self.too_rare() {
            return format!(
                "{serving} of {} in the stock count may serve after failures, with {} h left below the advised age {}; {} of the \
                 fleet tell too little of a target of {} to take a new lamp off the level for {}",
                counted(all, "used lamp"),
                full_hours(self.hours_left),
                fitting(serving, "for it", "in all"),
                counted(self.plays_count, "play"),
                percent(self.service_target_probability),
                fitting(serving, "it", "them"),
            );
        }
        format!(
            "{serving} of {} in the stock count may serve after failures, with {} h left below the advised age {}: beside \
             {} hold {} for the target of {}, order {}, by {} of the fleet. The orders of this study do without them, as no used \
             lamp is sure to be where one fails",
            counted(all, "used lamp"),
            full_hours(self.hours_left),
            fitting(serving, "for it", "in all"),
            fitting(serving, "it", "them"),
            counted(self.level_lamps, "new lamp"),
            percent(self.service_target_probability),
            whole(self.order_lamps as f64),
            counted(self.plays_count, "play"),
        )
    }

    /// What must hold beside the spares of the class.
    pub(super) fn agrees(&self, c: &mut Checks, without: WithoutUsed) {
        self.check(c);
        c.equal("service_target_probability", self.service_target_probability, without.target);
        let serving = if self.too_rare() { 0 } else { self.serving_lamps_count };
        let least = without.level.saturating_sub(serving);
        let inside = (least..=without.level).contains(&self.level_lamps);
        c.need(
            "level_lamps",
            inside,
            self.level_lamps,
            format!("{least} to {}, the level without them", without.level),
        );
        let order = order_of(self.level_lamps.saturating_sub(without.there), without.order_serves);
        c.follows("order_lamps", &self.order_lamps, &order);
    }
}

impl Sound for UsedStock {
    fn check(&self, c: &mut Checks) {
        let (all, serving) = (self.lamps_count, self.serving_lamps_count);
        c.need("lamps_count", all > 0, all, "1 or more");
        c.need("serving_lamps_count", serving <= all, serving, format!("at most {all}"));
        c.not_negative("hours_left", self.hours_left);
        let some = (self.hours_left > 0.0) == (serving > 0);
        c.need("hours_left", some, self.hours_left, "above 0 for lamps that may serve, else 0");
        let played = (self.plays_count > 0) == (serving > 0);
        c.need("plays_count", played, self.plays_count, "plays where lamps may serve, else 0");
        c.share("service_target_probability", self.service_target_probability);
        c.follows("sentence", &self.sentence, &self.said());
    }
}
