//! What a played-out chain brought.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::chain::WhileWaiting;
use super::played::Simulated;
use crate::base::sound::{Checks, Sound};
use crate::demand::{Count, DrawsUsed};

/// One month of a played-out chain.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayedMonth {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
    /// Lamps needed.
    pub needed: Simulated,
    /// Of these, planned changes.
    pub planned: Simulated,
    /// Of these, changes after a failure.
    pub failures: Simulated,
    /// Programme hours that screens were dark for want of a lamp.
    pub dark_hours: Simulated,
    /// Lamps ordered from the maker.
    pub ordered: Simulated,
    /// Lamps from elsewhere.
    pub emergencies: Simulated,
    /// Lamps on all shelves at its end.
    pub on_hand_at_end: Simulated,
}

/// What the stock of one place brought, from the warm-up to the end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayedPlace {
    /// The site; blank for the store that the maker fills.
    pub place: String,
    /// Lamps asked for a year of 365.25 days: by screens, at a store with sites by these.
    pub needed_a_year: Simulated,
    /// Share of these that were on the shelf; none where none was asked for.
    pub fill_rate: Option<Simulated>,
    /// Share of time in which nobody waits for a lamp of the place.
    pub no_screen_waiting: Simulated,
    /// Share of time with at least one lamp on the shelf.
    pub ready_rate: Simulated,
    /// Mean number of dark screens that wait, at a store with sites of sites' lamps owed.
    pub mean_waiting: Simulated,
    /// Mean lamps on the shelf.
    pub mean_on_hand: Simulated,
    /// Mean lamps on order from the maker; 0 at a site.
    pub mean_on_order: Simulated,
    /// Mean days that a lamp asked for is waited for, those met at once counted as 0; none where none was asked for.
    pub mean_wait_days: Option<Simulated>,
    /// Programme hours a year that screens of the place were dark.
    pub dark_hours_a_year: Simulated,
    /// Lamps from elsewhere a year.
    pub emergencies_a_year: Simulated,
}

/// The orders to the maker, from the warm-up to the end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayedOrders {
    /// Orders a year.
    pub orders_a_year: Simulated,
    /// Lamps ordered a year.
    pub lamps_a_year: Simulated,
    /// Share of orders just before whose coming nobody waited; with reviews of reviews, a lead time later. None without any.
    pub no_stock_out_per_cycle: Option<Simulated>,
}

/// Costs a year, from the warm-up to the end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayedCosts {
    /// Of lamps on shelves.
    pub holding: Simulated,
    /// Of placing orders.
    pub ordering: Simulated,
    /// Of the lamps bought.
    pub lamps: Simulated,
    /// Of dark screens.
    pub waiting: Simulated,
    /// Of lamps from elsewhere.
    pub emergencies: Simulated,
    /// All together.
    pub total: Simulated,
}

/// A chain played out with its stock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlayedChain {
    /// Lamp class.
    pub class: String,
    /// Screens.
    pub screens: usize,
    /// Age of the planned change, hours, at most the limit.
    pub planned_age_hours: f64,
    /// What a screen without a lamp does to its clock.
    pub waiting: WhileWaiting,
    /// Plays of the whole chain.
    pub replicates: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Days at the start that are played and not counted in the figures of places, orders and costs.
    pub warm_up_days: f64,
    /// Days that are.
    pub measured_days: f64,
    /// Months in order, from the start.
    pub months: Vec<PlayedMonth>,
    /// The store, then the sites with shelves.
    pub places: Vec<PlayedPlace>,
    /// Orders to the maker.
    pub orders: PlayedOrders,
    /// Costs a year; none where they were not asked for.
    pub costs: Option<PlayedCosts>,
    /// Share of plays in which a lamp was ever asked for in vain, from the start to the end.
    pub ever_short: Simulated,
    /// Lamps needed in each month: their distribution over the replicates.
    pub needed: Vec<Count>,
    /// Lamps needed from the start to the end of each month.
    pub needed_by_end: Vec<Count>,
    /// Draws of which each play took one; none for one world.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub draws: Option<DrawsUsed>,
}

impl Sound for PlayedMonth {
    fn check(&self, c: &mut Checks) {
        c.need("to", self.from <= self.to, self.to, format!("{} or later", self.from));
        for (field, figure) in [
            ("needed", &self.needed),
            ("planned", &self.planned),
            ("failures", &self.failures),
            ("dark_hours", &self.dark_hours),
            ("ordered", &self.ordered),
            ("emergencies", &self.emergencies),
            ("on_hand_at_end", &self.on_hand_at_end),
        ] {
            c.part(field, figure);
        }
        let all = self.planned.mean + self.failures.mean;
        c.near("needed", self.needed.mean, all, all);
    }
}

impl Sound for PlayedPlace {
    fn check(&self, c: &mut Checks) {
        for (field, figure) in [
            ("needed_a_year", &self.needed_a_year),
            ("no_screen_waiting", &self.no_screen_waiting),
            ("ready_rate", &self.ready_rate),
            ("mean_waiting", &self.mean_waiting),
            ("mean_on_hand", &self.mean_on_hand),
            ("mean_on_order", &self.mean_on_order),
            ("dark_hours_a_year", &self.dark_hours_a_year),
            ("emergencies_a_year", &self.emergencies_a_year),
        ] {
            c.part(field, figure);
        }
        let asked = self.needed_a_year.mean > 0.0;
        c.there("fill_rate", self.fill_rate.is_some(), asked, "there where lamps were asked for");
        c.there("mean_wait_days", self.mean_wait_days.is_some(), asked, "there where lamps were asked for");
        for (field, share) in [
            ("fill_rate", self.fill_rate),
            ("no_screen_waiting", Some(self.no_screen_waiting)),
            ("ready_rate", Some(self.ready_rate)),
        ] {
            c.between(field, share.map_or(0.0, |s| s.mean), 0.0, 1.0 + 1e-9);
        }
    }
}

impl Sound for PlayedChain {
    fn check(&self, c: &mut Checks) {
        for (field, n) in [("screens", self.screens), ("replicates", self.replicates)] {
            c.need(field, n > 0, n, "1 or more");
        }
        c.positive("planned_age_hours", self.planned_age_hours);
        c.not_negative("warm_up_days", self.warm_up_days);
        c.positive("measured_days", self.measured_days);
        c.need("months", !self.months.is_empty(), "no month", "one or more");
        c.parts("months", &self.months);
        c.need("places", !self.places.is_empty(), "no place", "one or more");
        c.parts("places", &self.places);
        c.inside("orders", |c| {
            c.part("orders_a_year", &self.orders.orders_a_year);
            c.part("lamps_a_year", &self.orders.lamps_a_year);
            if let Some(calm) = &self.orders.no_stock_out_per_cycle {
                c.part("no_stock_out_per_cycle", calm);
                c.between("no_stock_out_per_cycle", calm.mean, 0.0, 1.0 + 1e-9);
            }
        });
        if let Some(costs) = &self.costs {
            let parts = [&costs.holding, &costs.ordering, &costs.lamps, &costs.waiting, &costs.emergencies];
            let sum: f64 = parts.iter().map(|p| p.mean).sum();
            c.near("costs.total", costs.total.mean, sum, sum);
        }
        if let Some(draws) = &self.draws {
            let inside = (1..=self.replicates).contains(&draws.used);
            c.need("draws.used", inside, draws.used, format!("1 to {}, the plays", self.replicates));
        }
        c.between("ever_short", self.ever_short.mean, 0.0, 1.0 + 1e-9);
        c.entries("needed", self.needed.len(), self.months.len());
        c.entries("needed_by_end", self.needed_by_end.len(), self.months.len());
        let mut so_far = 0.0;
        for (i, month) in self.months.iter().enumerate() {
            so_far += month.needed.mean;
            let at = |list: &[Count]| list.get(i).map_or(f64::NAN, Count::mean);
            c.near(&format!("needed[{i}]"), at(&self.needed), month.needed.mean, month.needed.mean);
            c.near(&format!("needed_by_end[{i}]"), at(&self.needed_by_end), so_far, so_far);
        }
    }
}
