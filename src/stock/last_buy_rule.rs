//! How many lamps to hold once and for all: at a risk, or by what a lamp short and a lamp left over cost.

use serde::{Deserialize, Serialize};

use super::level::CERTAINTY;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;

/// What a lamp costs, what one too few costs and what one too many brings back.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuyCosts {
    /// Price of a lamp in the last buy.
    pub price: f64,
    /// Cost of each lamp short: a lamp from elsewhere, an earlier conversion or lost shows; above the price.
    pub cost_short: f64,
    /// Money back for each usable lamp left at the end, below the price; below 0 where it costs money to be rid of it.
    pub money_back: f64,
}

/// What sets the quantity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum BuyRule {
    /// Greatest chance of a shortage, 0 or more and below 1; 0 is taken as a shortage less likely than 1e-12.
    Risk(f64),
    /// Least mean cost.
    Costs(BuyCosts),
}

/// What a quantity leads to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BuyPoint {
    /// Lamps held, those on hand included.
    pub lamps: u64,
    /// Chance that more are needed.
    pub shortage_chance: f64,
    /// Mean lamps short.
    pub expected_short: f64,
    /// Chance that lamps are left over.
    pub leftover_chance: f64,
    /// Mean lamps left over, usable or not.
    pub expected_left: f64,
    /// Mean cost of all lamps held, of those short, less money back; none where the quantity is set by a risk.
    pub cost: Option<f64>,
}

impl Sound for BuyPoint {
    fn check(&self, c: &mut Checks) {
        c.share("shortage_chance", self.shortage_chance);
        c.not_negative("expected_short", self.expected_short);
        c.share("leftover_chance", self.leftover_chance);
        c.between("leftover_chance", self.leftover_chance, 0.0, 1.0 - self.shortage_chance);
        c.between("expected_left", self.expected_left, 0.0, self.lamps as f64);
    }
}

impl BuyRule {
    /// Refuses a risk or costs that set no quantity.
    pub(crate) fn check(&self) -> Vec<Problem> {
        match self {
            Self::Risk(risk) if !(0.0..1.0).contains(risk) => {
                vec![
                    Problem::new("stock.risk", "the greatest chance of a shortage must be 0 or more and below 1")
                        .at(Place::input("risk"))
                        .got(risk)
                        .expected("for example 0.05"),
                ]
            }
            Self::Risk(_) => Vec::new(),
            Self::Costs(costs) => costs.check(),
        }
    }

    /// Share of futures in which the quantity is to suffice.
    ///
    /// # Formula
    /// ```text
    /// 1 - risk, or (cost short - price) / (cost short - usable x money back)
    /// ```
    pub(crate) fn ratio(&self, usable: f64) -> f64 {
        match self {
            Self::Risk(risk) => 1.0 - risk,
            Self::Costs(c) => (c.cost_short - c.price) / (c.cost_short - usable * c.money_back),
        }
    }

    /// The quantity for a distribution of lamps needed, `usable` the share of lamps left over that still work.
    pub(crate) fn lamps(&self, needed: &Count, usable: f64) -> u64 {
        let tail = match self {
            Self::Risk(risk) => risk.max(CERTAINTY),
            Self::Costs(c) => (c.price - usable * c.money_back) / (c.cost_short - usable * c.money_back),
        };
        needed.least_with_tail(tail)
    }

    /// What a quantity leads to.
    pub(crate) fn point(&self, needed: &Count, usable: f64, lamps: u64) -> BuyPoint {
        let expected_short = needed.expected_above(lamps);
        let expected_left = left(needed, lamps);
        let cost = match self {
            Self::Risk(_) => None,
            Self::Costs(c) => {
                Some(c.price * lamps as f64 + c.cost_short * expected_short - c.money_back * usable * expected_left)
            }
        };
        BuyPoint {
            lamps,
            shortage_chance: needed.more_than(lamps),
            expected_short,
            leftover_chance: lamps.checked_sub(1).map_or(0.0, |below| needed.at_most(below)),
            expected_left,
            cost,
        }
    }
}

impl BuyCosts {
    fn check(&self) -> Vec<Problem> {
        let mut problems = Vec::new();
        let mut need = |column: &str, holds: bool, got: f64, expected: String| {
            if !holds {
                let what = "a lamp short must cost more than a lamp, and a lamp left over bring back less";
                let place = Place::input("costs").column(column);
                problems.push(Problem::new("stock.buy_costs", what).at(place).got(got).expected(expected));
            }
        };
        let (price, short, back) = (self.price, self.cost_short, self.money_back);
        need("price", price > 0.0 && price.is_finite(), price, "a finite price above 0".into());
        need("cost_short", short > price && short.is_finite(), short, format!("above the price of {price}"));
        need("money_back", back < price && back.is_finite(), back, format!("below the price of {price}"));
        problems
    }
}

/// Mean lamps left over of some: E(lamps - N)+, summed from its own terms so that a small one keeps its digits.
fn left(needed: &Count, lamps: u64) -> f64 {
    let each = (needed.first()..lamps).zip(needed.probabilities());
    0.0 + each.map(|(n, p)| (lamps - n) as f64 * p).sum::<f64>()
}

/// The quantity to hold for lamps needed until the end, and what it leads to.
///
/// # Formula
/// ```text
/// at a risk:   least q with P(N > q) <= risk, and 1e-12 for a risk of 0
/// by costs:    least q with P(N <= q) >= (cost short - price) / (cost short - money back), which costs least on average:
///              price q + cost short E(N - q)+ - money back E(q - N)+
/// ```
///
/// # Errors
/// `stock.risk` unless 0 <= risk < 1; `stock.buy_costs` unless money back < price < cost short.
///
/// # Source
/// The critical ratio of the one-period problem: Nahmias, Production and Operations Analysis, chapter 5.
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::{BuyCosts, BuyRule, buy_quantity};
/// // One of 0 to 9 lamps, each as likely. A lamp short costs 3 more than a lamp, one left over loses 1: three quarters.
/// let needed = Count::from_probabilities(0, vec![0.1; 10])?;
/// let costs = BuyCosts { price: 2.0, cost_short: 5.0, money_back: 1.0 };
/// let point = buy_quantity(&needed, &BuyRule::Costs(costs))?;
/// assert_eq!(point.lamps, 7);
/// assert!((point.shortage_chance - 0.2).abs() < 1e-12 && (point.expected_short - 0.3).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn buy_quantity(needed: &Count, rule: &BuyRule) -> Result<BuyPoint> {
    let problems = rule.check();
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    Ok(rule.point(needed, 1.0, rule.lamps(needed, 1.0)))
}
