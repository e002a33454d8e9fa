//! What holding, ordering and doing without cost.

use serde::{Deserialize, Serialize};

use super::lead::YEAR_DAYS;
use super::service::{Programme, StockService};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::terms::LARGEST_AMOUNT;

/// The price of a lamp in orders from a size on; it holds for every lamp of the order.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PriceBreak {
    /// Least lamps of such an order.
    pub from_lamps: u64,
    /// Price of one lamp.
    pub price: f64,
}

/// Costs of one place and one lamp class, in one currency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockCosts {
    /// Prices by size of the order, the first from 1 lamp on.
    pub prices: Vec<PriceBreak>,
    /// Share of its price that a lamp on the shelf costs a year: money tied up, insurance, ageing.
    pub money_rate: f64,
    /// What a lamp on the shelf costs a year beside that.
    pub holding_a_year: f64,
    /// What an order costs whatever its size: freight, customs, handling.
    pub per_order: f64,
    /// What a day costs on which a screen waits for a lamp.
    pub dark_day: f64,
    /// What a lost show costs beside that.
    pub dark_show: f64,
}

impl Sound for StockCosts {
    fn check(&self, c: &mut Checks) {
        for (column, got, expected, _) in self.wrong() {
            c.need(&column, false, got, expected);
        }
    }
}

impl StockCosts {
    /// Costs with one price of a lamp and nothing else.
    pub fn at_price(price: f64) -> Self {
        let prices = vec![PriceBreak { from_lamps: 1, price }];
        Self { prices, money_rate: 0.0, holding_a_year: 0.0, per_order: 0.0, dark_day: 0.0, dark_show: 0.0 }
    }

    pub(super) fn wrong(&self) -> Vec<(String, String, &'static str, &'static str)> {
        let mut wrong = Vec::new();
        let amounts = [
            ("holding_a_year", self.holding_a_year),
            ("per_order", self.per_order),
            ("dark_day", self.dark_day),
            ("dark_show", self.dark_show),
        ];
        for (name, amount) in amounts {
            if !(0.0..=LARGEST_AMOUNT).contains(&amount) {
                wrong.push((name.to_owned(), amount.to_string(), "0 to 1e12", "stock.cost"));
            }
        }
        if !(0.0..=10.0).contains(&self.money_rate) {
            wrong.push(("money_rate".to_owned(), self.money_rate.to_string(), "a share a year, 0 to 10", "stock.cost"));
        }
        for (i, price) in self.prices.iter().enumerate() {
            if !(0.0..=LARGEST_AMOUNT).contains(&price.price) {
                wrong.push((format!("prices[{i}].price"), price.price.to_string(), "0 to 1e12", "stock.cost"));
            }
        }
        let mut before = None;
        for (i, from) in self.prices.iter().map(|p| p.from_lamps).enumerate() {
            let expected = if i == 0 { "1 for the first price" } else { "more lamps than at the price before" };
            if before.map_or(from != 1, |b| from <= b) {
                wrong.push((format!("prices[{i}].from_lamps"), from.to_string(), expected, "stock.price_breaks"));
            }
            before = Some(from);
        }
        if self.prices.is_empty() {
            wrong.push(("prices".to_owned(), "none".to_owned(), "one price or more", "stock.price_breaks"));
        }
        wrong
    }

    /// Refuses costs that are none.
    ///
    /// # Errors
    /// All at once: `stock.cost` for an amount that is negative, not finite or above 1e12 and for a yearly share of the
    /// price outside 0 to 10; `stock.price_breaks` unless the sizes of orders rise, from 1 lamp on.
    pub fn check(&self) -> Result<()> {
        let problems: Vec<_> = self
            .wrong()
            .into_iter()
            .map(|(column, got, expected, slug)| {
                let place = Place::input("costs").column(column);
                if slug == "stock.cost" {
                    Problem::new("stock.cost", "not a cost").at(place).got(got).expected(expected)
                } else {
                    let what = "the sizes of orders at which the price changes do not rise";
                    Problem::new("stock.price_breaks", what).at(place).got(got).expected(expected)
                }
            })
            .collect();
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Price of a lamp in an order of so many.
    pub fn price(&self, lamps: u64) -> f64 {
        let reached = self.prices.iter().rev().find(|p| p.from_lamps <= lamps);
        reached.or(self.prices.first()).map_or(0.0, |p| p.price)
    }

    /// What a lamp on the shelf costs a year, bought in orders of so many.
    pub fn holding(&self, lamps: u64) -> f64 {
        self.holding_a_year + self.money_rate * self.price(lamps)
    }

    /// What it costs if one screen waits for a lamp through a whole year.
    ///
    /// # Errors
    /// `stock.programme` where a lost show has a cost and no programme says how many a year has.
    pub fn waiting(&self, programme: Option<Programme>) -> Result<f64> {
        let shows = match programme {
            Some(programme) => {
                programme.check()?;
                programme.shows_a_year()
            }
            None if self.dark_show > 0.0 => {
                let what = "a lost show has a cost, but no programme says how many are lost";
                let problem = Problem::new("stock.programme", what).at(Place::input("programme"));
                return Err(Error::new(Kind::Input, problem.expected("hours a week and hours of a show")));
            }
            None => 0.0,
        };
        Ok(self.dark_day * YEAR_DAYS + self.dark_show * shows)
    }
}

/// Lamps come in boxes, and no order may be smaller than some number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OrderTerms {
    /// Least lamps of an order, 1 or more.
    pub least_order: u64,
    /// Lamps in a box; orders are whole boxes.
    pub box_of: u64,
}

impl Default for OrderTerms {
    fn default() -> Self {
        Self { least_order: 1, box_of: 1 }
    }
}

impl OrderTerms {
    pub(super) fn wrong(&self) -> Option<(&'static str, u64)> {
        let bad = |n: u64| n == 0 || n > 1_000_000;
        let terms = [("least_order", self.least_order), ("box_of", self.box_of)];
        terms.into_iter().find(|(_, n)| bad(*n))
    }

    pub(super) fn check(&self) -> Result<()> {
        self.wrong().map_or(Ok(()), |(column, got)| {
            let place = Place::input("terms").column(column);
            let problem = Problem::new("stock.order_terms", "not a size of orders or boxes").at(place).got(got);
            Err(Error::new(Kind::Input, problem.expected("1 to 1,000,000 lamps")))
        })
    }

    /// The least order of whole boxes with at least so many lamps.
    pub fn order_of(&self, lamps: u64) -> u64 {
        lamps.max(self.least_order).max(1).div_ceil(self.box_of.max(1)) * self.box_of.max(1)
    }
}

/// What a rule costs a year on the long run, in its parts, with the service it gives.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockPoint {
    /// The service of the rule, and the rule.
    pub service: StockService,
    /// Price of a lamp in orders of that size.
    pub price: f64,
    /// Money in the lamps on the shelf, on the mean: mean on hand times price.
    pub stock_money: f64,
    /// Holding, a year: mean on hand times what a lamp on the shelf costs a year.
    pub holding: f64,
    /// Ordering, a year: orders a year times what an order costs.
    pub ordering: f64,
    /// Doing without, a year: mean waiting times what a waiting screen costs a year.
    pub shortage: f64,
    /// Lamps bought, a year: lamps needed times price.
    pub purchase: f64,
    /// All four.
    pub total: f64,
}

impl StockPoint {
    pub(super) fn new(service: StockService, costs: &StockCosts, waiting_a_year: f64, lamps: u64) -> Self {
        let price = costs.price(lamps);
        let holding = service.mean_on_hand * costs.holding(lamps);
        let ordering = service.orders_a_year * costs.per_order;
        let shortage = service.mean_waiting * waiting_a_year;
        let purchase = service.needed_a_year * price;
        let total = holding + ordering + shortage + purchase;
        let stock_money = service.mean_on_hand * price;
        Self { service, price, stock_money, holding, ordering, shortage, purchase, total }
    }
}

impl Sound for StockPoint {
    fn check(&self, c: &mut Checks) {
        c.part("service", &self.service);
        c.not_negative("price", self.price);
        c.not_negative("holding", self.holding);
        c.not_negative("ordering", self.ordering);
        c.not_negative("shortage", self.shortage);
        c.equal("stock_money", self.stock_money, self.service.mean_on_hand * self.price);
        c.equal("purchase", self.purchase, self.service.needed_a_year * self.price);
        c.equal("total", self.total, self.holding + self.ordering + self.shortage + self.purchase);
    }
}
