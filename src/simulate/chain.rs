//! What is assumed of a chain and its stock before both are played out together.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::base::days::MOST_DAYS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::demand::{Calendar, ClassModel, ClassPlan, Programme, Screen, check_chain};
use crate::fit::World;
use crate::policy::WorldCurve;
use crate::stock::{LeadTime, StockCosts, StockRule};
use crate::terms::{HourLimit, LARGEST_AMOUNT};

/// Most lamps at one place or in one delivery: beyond it a figure is a slip.
const MOST_LAMPS: u64 = 1_000_000;

/// The store that the maker fills: a depot, or the one store of a chain.
#[derive(Clone, Debug)]
pub struct Store {
    /// Lamps on its shelf at the start.
    pub on_hand: u64,
    /// Lamps that come without a new order: (days from the start, lamps).
    pub coming: Vec<(f64, u64)>,
    /// When to order, and how many; none where nothing is ordered any more, as after a last buy.
    pub rule: Option<StockRule>,
    /// Days from order to delivery, drawn for each order by itself, so that one may overtake another.
    pub lead: LeadTime,
    /// Days between two looks at the shelf; 0 where it is watched all the time.
    pub review_days: f64,
}

impl Store {
    /// A store watched all the time that begins with its base stock and orders each lamp when it is used.
    pub fn base_stock(lamps: u64, lead: LeadTime) -> Self {
        let rule = Some(StockRule::Reorder { base_stock: lamps, quantity: 1 });
        Self { on_hand: lamps, coming: Vec::new(), rule, lead, review_days: 0.0 }
    }
}

/// Shelves at the sites, filled from the store: each lamp taken is ordered from it at once, first come first filled.
#[derive(Clone, Debug)]
pub struct SiteShelves {
    /// Days from the store's shelf to a site.
    pub days: f64,
    /// Lamps that a site holds, which it begins with; a site that is not named holds none.
    pub stock: BTreeMap<String, u64>,
}

/// A lamp from elsewhere for a screen that would wait: borrowed or sent by courier, and no lamp of the shelf.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EmergencyLamp {
    /// Days until it is there, through which the screen is dark.
    pub days: f64,
    /// What one costs.
    pub cost: f64,
}

/// What a screen without a lamp does to its own clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WhileWaiting {
    /// As it is: a dark screen burns nothing, and the next lamp begins when it is fitted. A lamp due for its planned change
    /// burns on until a lamp comes, it fails, or it reaches the limit; then the screen is dark.
    #[default]
    ClockStops,
    /// As the formulas of stock have it: lamps are needed as if one were always there, however long a screen waits.
    ClockRuns,
}

/// What waiting, holding and ordering cost.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayCosts {
    /// The costs of the stock room.
    pub stock: StockCosts,
    /// Hours of a show, to turn dark programme hours into shows.
    pub show_hours: f64,
}

/// All that is assumed of one lamp class in a chain.
#[derive(Debug)]
pub struct ChainAssumptions<'a> {
    /// The screens with their lamps of today, their programmes and the days on which they may stop. All of one class.
    pub screens: &'a [Screen],
    /// Programmes by name: seasons, holidays, closures, growth.
    pub programmes: &'a BTreeMap<String, Programme>,
    /// The months to play.
    pub calendar: &'a Calendar,
    /// Causes of failure.
    pub world: &'a World,
    /// Age of the planned change, hours; held to the limit.
    pub planned_age_hours: f64,
    /// The age that no lamp passes.
    pub limit: &'a HourLimit,
    /// The store that the maker fills.
    pub store: Store,
    /// Shelves at the sites; none where every screen is filled from the store at once.
    pub sites: Option<SiteShelves>,
    /// Lamps from elsewhere; none where a screen waits.
    pub emergency: Option<EmergencyLamp>,
    /// What a screen without a lamp does to its clock.
    pub waiting: WhileWaiting,
    /// Costs; none where they are not asked for.
    pub costs: Option<PlayCosts>,
}

/// Fewest days between two reviews: a quarter of an hour, below which a play would do little else.
const SHORTEST_REVIEW_DAYS: f64 = 0.01;

impl ChainAssumptions<'_> {
    /// Checks all of it and gives the planned age held to the limit.
    pub(super) fn check(&self) -> Result<f64> {
        let mut problems = self.problems();
        let class = self.screens.first().map_or("", |s| s.class.as_str());
        let model = ClassModel::World(self.world);
        let plan = ClassPlan { class, model, planned_age_hours: self.planned_age_hours, limit: self.limit };
        if let Err(error) = check_chain(self.screens, &[plan], self.calendar, self.programmes, None) {
            problems.extend(error.problems().iter().cloned());
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        if let Some(costs) = &self.costs {
            costs.stock.check()?;
        }
        WorldCurve::new(self.world)?;
        Ok(self.planned_age_hours.min(self.limit.hours()))
    }

    fn problems(&self) -> Vec<Problem> {
        let mut problems = Vec::new();
        let mut need = |holds: bool, input: &str, column: &str, got: String, expected: &str| {
            if !holds {
                let problem = Problem::new("simulate.supply", "not a way to keep and to bring lamps");
                problems.push(problem.at(Place::input(input).column(column)).got(got).expected(expected));
            }
        };
        let days = |days: f64| (0.0..=MOST_DAYS).contains(&days);
        let (some_days, some_lamps) = ("0 to 7,310 days", "at most 1,000,000 lamps");
        let store = &self.store;
        need(store.on_hand <= MOST_LAMPS, "store", "on_hand", store.on_hand.to_string(), some_lamps);
        let review = store.review_days;
        let watched = review == 0.0 || (SHORTEST_REVIEW_DAYS..=MOST_DAYS).contains(&review);
        let expected = "0, for a store that is watched all the time, or 0.01 to 7,310 days";
        need(watched, "store", "review_days", review.to_string(), expected);
        for (i, (day, lamps)) in store.coming.iter().enumerate() {
            need(days(*day), "store", &format!("coming[{i}].days"), day.to_string(), some_days);
            need(*lamps <= MOST_LAMPS, "store", &format!("coming[{i}].lamps"), lamps.to_string(), some_lamps);
        }
        if let Some(rule) = &store.rule {
            if let Some((column, got, expected)) = rule.wrong() {
                need(false, "store", &format!("rule.{column}"), got, expected);
            }
            let watched = matches!(rule, StockRule::OrderUpTo { .. }) && store.review_days == 0.0;
            need(!watched, "store", "review_days", "0".to_owned(), "days above 0 where a rule orders up to a level");
        }
        if let Some(sites) = &self.sites {
            need(days(sites.days), "sites", "days", sites.days.to_string(), some_days);
            for (name, lamps) in &sites.stock {
                need(*lamps <= MOST_LAMPS, "sites", &format!("stock[{name}]"), lamps.to_string(), some_lamps);
                let known = self.screens.iter().any(|s| s.site == *name);
                need(known, "sites", "stock", format!("\"{name}\""), "sites of the screens");
            }
        }
        if let Some(emergency) = &self.emergency {
            need(days(emergency.days), "emergency", "days", emergency.days.to_string(), some_days);
            let cost = emergency.cost;
            need((0.0..=LARGEST_AMOUNT).contains(&cost), "emergency", "cost", cost.to_string(), "0 to 1e12");
        }
        if let Some(costs) = &self.costs {
            let hours = costs.show_hours;
            need(hours > 0.0 && hours.is_finite(), "costs", "show_hours", hours.to_string(), "finite hours above 0");
        }
        problems
    }
}
