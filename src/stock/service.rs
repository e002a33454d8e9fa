//! What a rule of ordering gives: how often a lamp is there, and what waiting costs in shows.

use serde::{Deserialize, Serialize};

use super::lead::{LeadDemand, YEAR_DAYS};
use super::shortfall::Shortfall;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// Largest stock or order of a rule, lamps: beyond it a figure is a slip.
const MOST_LAMPS: u64 = 10_000_000;

/// A number of lamps that may be counted below 0.
pub(super) fn signed(lamps: u64) -> i64 {
    i64::try_from(lamps).unwrap_or(i64::MAX)
}

/// When to order, and how many. The *position* is lamps on hand plus on order less lamps that a screen waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum StockRule {
    /// Order `quantity` lamps, or the least multiple that helps, when the position has come down to the order point. The
    /// order point is one below the base stock: with a quantity of 1 each lamp used is ordered at once.
    Reorder {
        /// One above the order point: 0 or more.
        base_stock: u64,
        /// Lamps in one order.
        quantity: u64,
    },
    /// At each review, where the position is at or below the order point, order up to a level.
    OrderUpTo {
        /// -1 or more: no order waits for a second dark screen.
        order_point: i64,
        /// Position after an order.
        order_up_to: u64,
    },
}

impl StockRule {
    /// Position at which an order is placed; -1 where nothing is held.
    pub fn order_point(&self) -> i64 {
        match *self {
            Self::Reorder { base_stock, .. } => signed(base_stock) - 1,
            Self::OrderUpTo { order_point, .. } => order_point,
        }
    }

    /// Lamps to order now, with so many on the shelf, on order, and waited for by dark screens.
    ///
    /// # Examples
    /// ```
    /// use relamp::stock::StockRule;
    /// let rule = StockRule::Reorder { base_stock: 3, quantity: 4 };
    /// assert_eq!((rule.order(2, 1, 0), rule.order(2, 0, 0), rule.order(0, 0, 3)), (0, 4, 8));
    /// let rule = StockRule::OrderUpTo { order_point: 2, order_up_to: 7 };
    /// assert_eq!((rule.order(3, 0, 0), rule.order(2, 1, 1)), (0, 5));
    /// ```
    pub fn order(&self, on_hand: u64, on_order: u64, waiting: u64) -> u64 {
        let position = i128::from(on_hand) + i128::from(on_order) - i128::from(waiting);
        let missing = i128::from(self.order_point()) + 1 - position;
        if missing <= 0 {
            return 0;
        }
        let lamps = match *self {
            Self::Reorder { quantity, .. } => {
                let quantity = i128::from(quantity.max(1));
                (missing + quantity - 1) / quantity * quantity
            }
            Self::OrderUpTo { order_up_to, .. } => i128::from(order_up_to) - position,
        };
        u64::try_from(lamps).unwrap_or(u64::MAX)
    }

    pub(crate) fn wrong(&self) -> Option<(&'static str, String, &'static str)> {
        match *self {
            Self::Reorder { base_stock, .. } if base_stock > MOST_LAMPS => {
                Some(("base_stock", base_stock.to_string(), "at most 10,000,000 lamps"))
            }
            Self::Reorder { quantity, .. } if quantity == 0 || quantity > MOST_LAMPS => {
                Some(("quantity", quantity.to_string(), "1 to 10,000,000 lamps"))
            }
            Self::OrderUpTo { order_up_to, .. } if order_up_to > MOST_LAMPS => {
                Some(("order_up_to", order_up_to.to_string(), "at most 10,000,000 lamps"))
            }
            Self::OrderUpTo { order_point, order_up_to } if order_point < -1 || order_point >= signed(order_up_to) => {
                Some(("order_point", order_point.to_string(), "-1 or more, and below order_up_to"))
            }
            _ => None,
        }
    }

    fn check(&self) -> Result<()> {
        self.wrong().map_or(Ok(()), |(column, got, expected)| {
            let place = Place::input("rule").column(column);
            let problem = Problem::new("stock.rule", "not a rule of ordering").at(place).got(got).expected(expected);
            Err(Error::new(Kind::Input, problem))
        })
    }
}

/// What a screen plays, to turn the time it is dark into shows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Programme {
    /// Hours a screen plays a week, above 0 and at most 168.
    pub hours_per_week: f64,
    /// Hours that one show takes.
    pub show_hours: f64,
}

impl Programme {
    /// Shows of one screen in a year.
    pub fn shows_a_year(&self) -> f64 {
        self.hours_per_week * YEAR_DAYS / 7.0 / self.show_hours
    }

    pub(super) fn wrong(&self) -> Option<(&'static str, f64, &'static str)> {
        if !(self.hours_per_week > 0.0 && self.hours_per_week <= 168.0) {
            return Some(("hours_per_week", self.hours_per_week, "above 0 and at most 168"));
        }
        if !(self.show_hours > 0.0 && self.show_hours.is_finite()) {
            return Some(("show_hours", self.show_hours, "finite hours above 0"));
        }
        None
    }

    pub(super) fn check(&self) -> Result<()> {
        self.wrong().map_or(Ok(()), |(column, got, expected)| {
            let place = Place::input("programme").column(column);
            let problem = Problem::new("stock.programme", "not the programme of a screen").at(place).got(got);
            Err(Error::new(Kind::Input, problem.expected(expected)))
        })
    }
}

/// What one rule gives at one place, on the long run. y is the position after ordering, over which each number is
/// averaged: all values from base stock to base stock + quantity - 1 alike for a reorder rule.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockService {
    /// The rule.
    pub rule: StockRule,
    /// Mean lamps needed a year of 365.25 days.
    pub needed_a_year: f64,
    /// Mean lead time, days.
    pub lead_time_days: f64,
    /// Days between two looks at the shelf; 0 where it is watched all the time.
    pub review_days: f64,
    /// Mean lamps needed over the lead time: those on order on the mean.
    pub mean_on_order: f64,
    /// Chance that no screen waits for a lamp while one order is on its way: P(X <= order point), X needed over the lead
    /// time; with reviews P(X <= y), X needed over lead time and review period.
    pub no_stock_out_per_cycle: f64,
    /// Share of time in which no screen waits for a lamp: P(X <= y), X needed over the lead time; with reviews over the lead time
    /// and the part of the review period that is over.
    pub no_screen_waiting: f64,
    /// Share of the lamps needed that are on the shelf when needed: P(X <= y - 1), exact where lamps are needed by chance
    /// one at a time; with reviews 1 - (added mean waiting over a review period) / (mean needed in it).
    pub fill_rate: f64,
    /// Share of time with at least one lamp on the shelf: P(X <= y - 1), with the same X.
    pub ready_rate: f64,
    /// Mean number of screens that wait for a lamp at a moment: E(X - y)+, with the same X.
    pub mean_waiting: f64,
    /// Standard deviation of that number.
    pub waiting_sd: f64,
    /// Mean lamps on the shelf: E(y - X)+, with the same X.
    pub mean_on_hand: f64,
    /// Mean days that a need waits, those met at once counted as 0: mean waiting over mean needed a day; none where
    /// nothing is needed.
    pub mean_wait_days: Option<f64>,
    /// Orders placed a year.
    pub orders_a_year: f64,
    /// Shows lost a year: mean waiting times hours played a year, over the hours of a show; none without a programme.
    pub dark_shows_a_year: Option<f64>,
}

impl StockService {
    /// What each number of service is, by the name of its field, as the same words mean other things elsewhere.
    pub fn definitions(&self) -> Vec<(&'static str, &'static str)> {
        let reviewed = self.review_days > 0.0;
        let of_reviews = |with: &'static str, without: &'static str| if reviewed { with } else { without };
        vec![
            (
                "no_stock_out_per_cycle",
                of_reviews(
                    "P(X <= y), X: lamps needed over lead time and review period, y: position after ordering (on hand and on \
                     order less lamps waited for): no screen waits just before an order comes",
                    "P(X <= order point), X: lamps needed over the lead time: no screen waits while an order is on its way",
                ),
            ),
            (
                "no_screen_waiting",
                of_reviews(
                    "P(X <= y), X: lamps needed over the lead time and the part of the review period that is over, even from none \
                     to all of it, y: position after ordering: share of time",
                    "P(X <= y), X: lamps needed over the lead time, y: position: share of time",
                ),
            ),
            (
                "fill_rate",
                of_reviews(
                    "1 - (mean waiting added over a review period) / (mean needed in it): share of the lamps needed that are on \
                     the shelf when needed",
                    "P(X <= y - 1): share of the lamps needed that are on the shelf when needed, one at a time by chance",
                ),
            ),
            (
                "ready_rate",
                "P(X <= y - 1), X and y as for no_screen_waiting: share of time with at least one lamp on the shelf",
            ),
            (
                "mean_waiting",
                "E(X - y)+, X and y as for no_screen_waiting: mean screens that wait for a lamp at a moment",
            ),
            ("mean_on_hand", "E(y - X)+, X and y as for no_screen_waiting: mean lamps on the shelf"),
            ("mean_wait_days", "mean waiting over mean needed a day, needs met at once counted as 0"),
            ("dark_shows_a_year", "mean waiting x hours played a year / hours of a show"),
        ]
    }
}

impl Sound for StockService {
    fn check(&self, c: &mut Checks) {
        if let Some((column, got, expected)) = self.rule.wrong() {
            c.need(&format!("rule.{column}"), false, got, expected);
        }
        c.not_negative("needed_a_year", self.needed_a_year);
        c.not_negative("lead_time_days", self.lead_time_days);
        c.not_negative("review_days", self.review_days);
        c.not_negative("mean_on_order", self.mean_on_order);
        c.share("no_stock_out_per_cycle", self.no_stock_out_per_cycle);
        c.share("no_screen_waiting", self.no_screen_waiting);
        c.share("fill_rate", self.fill_rate);
        c.between("ready_rate", self.ready_rate, 0.0, self.no_screen_waiting);
        c.not_negative("mean_waiting", self.mean_waiting);
        c.not_negative("waiting_sd", self.waiting_sd);
        c.not_negative("mean_on_hand", self.mean_on_hand);
        c.not_negative("orders_a_year", self.orders_a_year);
        c.not_negative("dark_shows_a_year", self.dark_shows_a_year);
        c.there("mean_wait_days", self.mean_wait_days.is_some(), self.needed_a_year > 0.0, "there if lamps are needed");
        if let Some(wait) = self.mean_wait_days.filter(|_| self.needed_a_year > 0.0) {
            c.equal("mean_wait_days", wait, self.mean_waiting * YEAR_DAYS / self.needed_a_year);
        }
    }
}

/// Positions after ordering with their chances, and orders in one review period (with the shelf watched, in one day).
pub(super) fn positions(rule: &StockRule, demand: &LeadDemand) -> Result<(Vec<(u64, f64)>, f64)> {
    rule.check()?;
    match *rule {
        StockRule::Reorder { base_stock, quantity } => {
            let each = 1.0 / quantity as f64;
            let places = (base_stock..base_stock + quantity).map(|y| (y, each)).collect();
            let orders = if demand.review_days == 0.0 {
                demand.a_day / quantity as f64
            } else {
                // An order is due where the needs of the period reach below the base stock.
                let period = Shortfall::new(&demand.period);
                (0..quantity).map(|above| period.more_than(above)).sum::<f64>() / quantity as f64
            };
            Ok((places, orders))
        }
        StockRule::OrderUpTo { order_point, order_up_to } => {
            if demand.review_days == 0.0 {
                let problem = Problem::new("stock.rule", "ordering up to a level needs a day to look at the shelf");
                let problem = problem.at(Place::input("rule").column("order_up_to")).got(order_up_to);
                let expected = "days between reviews above 0, or a reorder rule with a quantity";
                return Err(Error::new(Kind::Input, problem.expected(expected)));
            }
            let span = (signed(order_up_to) - order_point).unsigned_abs();
            let visits = visits(&demand.period, span);
            let whole: f64 = visits.iter().sum();
            if !whole.is_finite() {
                return Ok((vec![(order_up_to, 1.0)], 0.0));
            }
            let places = visits.iter().enumerate().map(|(j, m)| (order_up_to - j as u64, m / whole)).collect();
            Ok((places, 1.0 / whole))
        }
    }
}

/// Mean number of reviews at which 0, 1, ..., `span` - 1 lamps have been needed since the last order; infinite where none
/// ever is.
pub(super) fn visits(period: &crate::demand::Count, span: u64) -> Vec<f64> {
    let chance = |k: u64| {
        let place = k.checked_sub(period.first()).and_then(|k| usize::try_from(k).ok());
        place.and_then(|k| period.probabilities().get(k)).copied().unwrap_or(0.0)
    };
    let again = 1.0 - chance(0);
    let mut visits: Vec<f64> = Vec::new();
    for j in 0..span {
        let earlier: f64 = visits.iter().enumerate().map(|(i, m)| m * chance(j - i as u64)).sum();
        visits.push((earlier + if j == 0 { 1.0 } else { 0.0 }) / again);
    }
    visits
}

/// The service of one rule.
///
/// # Errors
/// `stock.rule` for a quantity of 0, an order point below -1 or not below the level, lamps above ten million, and for an
/// order-up-to rule without reviews; `stock.programme`.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::{LeadDemand, LeadTime, Programme, StockRule, service};
/// // Four lamps needed over a lead time of 20 days, six to cover them, each ordered when used.
/// let demand = LeadDemand::given(&Count::poisson(4.0)?, &LeadTime::certain(20.0)?)?;
/// let rule = StockRule::Reorder { base_stock: 6, quantity: 1 };
/// let programme = Programme { hours_per_week: 70.0, show_hours: 2.5 };
/// let found = service(&rule, &demand, Some(programme))?;
/// assert!((found.fill_rate - 0.785130).abs() < 1e-6);
/// assert!((found.no_screen_waiting - 0.889326).abs() < 1e-6);
/// assert!((found.mean_waiting - 0.195435).abs() < 1e-6);
/// assert!((found.mean_wait_days.unwrap_or(0.0) - 0.977173).abs() < 1e-6);
/// // 0.195 screens dark at a moment, 28 shows a week each.
/// assert!((found.dark_shows_a_year.unwrap_or(0.0) - 0.195435 * 28.0 * 365.25 / 7.0).abs() < 0.01);
/// # Ok::<(), relamp::Error>(())
/// ```
///
/// # Source
/// Hadley and Whitin 1963, chapters 4 and 5 (from memory); Hopp and Spearman, Factory Physics, chapter 2 (from memory).
pub fn service(rule: &StockRule, demand: &LeadDemand, programme: Option<Programme>) -> Result<StockService> {
    Tables::new(demand).service(rule, programme)
}

/// The tails of one demand, for many rules.
#[derive(Clone, Debug)]
pub(super) struct Tables<'a> {
    pub(super) demand: &'a LeadDemand,
    pub(super) lead: Shortfall,
    pub(super) moment: Shortfall,
    pub(super) protected: Shortfall,
}

impl<'a> Tables<'a> {
    pub(super) fn new(demand: &'a LeadDemand) -> Self {
        Self {
            demand,
            lead: Shortfall::new(&demand.lead),
            moment: Shortfall::new(&demand.moment),
            protected: Shortfall::new(&demand.protected),
        }
    }

    pub(super) fn service(&self, rule: &StockRule, programme: Option<Programme>) -> Result<StockService> {
        if let Some(programme) = programme {
            programme.check()?;
        }
        let demand = self.demand;
        let (places, orders) = positions(rule, demand)?;
        let reviewed = demand.review_days > 0.0;
        let mean = |f: &dyn Fn(u64) -> f64| places.iter().map(|(y, w)| w * f(*y)).sum::<f64>();
        let waiting = mean(&|y| self.moment.short(y));
        let squared = mean(&|y| self.moment.short_squared(y));
        let ready_rate = mean(&|y| self.moment.below(y)).clamp(0.0, 1.0);
        let in_period = demand.protected.mean() - demand.lead.mean();
        let fill_rate = if reviewed && in_period > 0.0 {
            (1.0 - mean(&|y| self.protected.short(y) - self.lead.short(y)) / in_period).clamp(0.0, 1.0)
        } else {
            ready_rate
        };
        let no_stock_out_per_cycle = if reviewed {
            mean(&|y| self.protected.at_most(y))
        } else {
            u64::try_from(rule.order_point()).map_or(0.0, |point| self.lead.at_most(point))
        };
        let needs = demand.a_day > 0.0;
        Ok(StockService {
            rule: *rule,
            needed_a_year: demand.a_day * YEAR_DAYS,
            lead_time_days: demand.lead_days,
            review_days: demand.review_days,
            mean_on_order: self.lead.mean(),
            no_stock_out_per_cycle: no_stock_out_per_cycle.clamp(0.0, 1.0),
            no_screen_waiting: mean(&|y| self.moment.at_most(y)).clamp(ready_rate, 1.0),
            fill_rate,
            ready_rate,
            mean_waiting: waiting,
            waiting_sd: (squared - waiting * waiting).max(0.0).sqrt(),
            mean_on_hand: mean(&|y| self.moment.over(y)),
            mean_wait_days: needs.then(|| waiting / demand.a_day),
            orders_a_year: orders * YEAR_DAYS / if reviewed { demand.review_days } else { 1.0 },
            dark_shows_a_year: programme.map(|p| waiting * p.shows_a_year()),
        })
    }
}
