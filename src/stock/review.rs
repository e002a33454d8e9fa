//! Ordering up to a level at reviews: the pair of least cost.

use super::best::{Rates, StockPlan, need_holding, notes, sentence, stocks_around};
use super::cost::{StockCosts, StockPoint};
use super::lead::{LeadDemand, YEAR_DAYS};
use super::service::{Programme, StockRule, Tables, signed, visits};
use crate::base::error::{Error, Kind, Place, Problem, Result};

/// Furthest that levels are searched above the order point, lamps: the work grows with its square.
const MOST_SPAN: u64 = 20_000;

/// The (order point, level) of least yearly cost where the shelf is looked at once a period.
///
/// # Formula
/// ```text
/// C(s, S) = [per order + sum over j < S - s of m(j) G(S - j)] / M   a review;   M = sum over j < S - s of m(j)
/// G(y) = (R / 365.25) [h E(y - X)+ + b E(X - y)+];   m(j) = [j = 0] + sum over i <= j of P(D = i) m(j - i)
/// ```
/// s: order point, -1 or more; S: level; R: days between reviews; D: lamps needed in one period; X: lamps needed over the
/// lead time and, at a moment like any other, since the review ([`LeadDemand::moment`]). The cost has several valleys, so
/// every level is tried up to the one whose own position alone costs more than the best pair; for each level the cost falls
/// and then rises with the order point, which is followed down.
///
/// # Errors
/// Those of [`StockCosts::check`]; `stock.price_breaks` for more than one price, as the size of an order varies here;
/// `stock.no_holding`; `stock.programme`; `stock.rule` without reviews; `stock.too_large` where levels lie more than 20,000
/// lamps above the order point.
///
/// # Source
/// Zheng and Federgruen 1991, Operations Research 39 (from memory).
///
/// # Examples
/// ```
/// use relamp::stock::{LeadDemand, LeadTime, Needs, StockCosts, StockRule, best_order_up_to};
/// // Ten lamps a day, arriving at once, judged at the end of each day; 64 an order, 1 a lamp left over, 9 a lamp short.
/// let needs = Needs::by_chance(10.0)?;
/// let demand = LeadDemand::new(&needs, &LeadTime::certain(0.0)?, 1.0)?.judged_at_period_ends();
/// let costs = StockCosts { holding_a_year: 365.25, per_order: 64.0, dark_day: 9.0, ..StockCosts::at_price(0.0) };
/// let plan = best_order_up_to(&demand, &costs, None)?;
/// assert_eq!(plan.best.service.rule, StockRule::OrderUpTo { order_point: 6, order_up_to: 40 });
/// assert!((plan.best.total / 365.25 - 35.0216).abs() < 1e-4);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn best_order_up_to(demand: &LeadDemand, costs: &StockCosts, programme: Option<Programme>) -> Result<StockPlan> {
    costs.check()?;
    if costs.prices.len() > 1 {
        let problem = Problem::new("stock.price_breaks", "the size of an order varies where one orders up to a level");
        let problem = problem.at(Place::input("costs").column("prices")).got(costs.prices.len());
        return Err(Error::new(Kind::Input, problem.expected("one price, or a reorder rule with a fixed quantity")));
    }
    let waiting = costs.waiting(programme)?;
    let holding = costs.holding(1);
    need_holding(holding)?;
    let tables = Tables::new(demand);
    let rates = Rates { tails: &tables.moment, holding, waiting };
    // Refuses a demand without reviews.
    tables.service(&StockRule::OrderUpTo { order_point: -1, order_up_to: 0 }, programme)?;
    let reviews = YEAR_DAYS / demand.review_days;
    let lowest = rates.best(&demand.moment);
    // Where nothing is needed nothing is held, and no order is ever placed.
    let idle = demand.period.last() == 0;
    let mut times = if idle { Vec::new() } else { visits(&demand.period, 64) };
    let mut best = (f64::INFINITY, signed(lowest) - 1, lowest);
    let mut level = lowest;
    while !idle && (best.0.is_infinite() || rates.at(level) <= best.0) {
        let (mut spent, mut reviewed) = (costs.per_order * reviews, 0.0);
        let mut point = signed(level);
        let mut cost = f64::INFINITY;
        // Each lower order point adds one more position that is stood at; it pays while that costs less than the mean.
        while let Ok(y) = u64::try_from(point) {
            let at = rates.at(y);
            let j = (level - y) as usize;
            if reviewed > 0.0 && at >= cost {
                break;
            }
            if j as u64 > MOST_SPAN {
                let problem =
                    Problem::new("stock.too_large", "levels lie more than 20,000 lamps above the order point");
                let expected = "reviews more often, or a reorder rule with a fixed quantity";
                return Err(Error::new(Kind::Limit, problem.got(level).expected(expected)));
            }
            if j >= times.len() {
                times = visits(&demand.period, 2 * times.len() as u64);
            }
            let m = times.get(j).copied().unwrap_or(0.0);
            spent += m * at;
            reviewed += m;
            cost = spent / reviewed;
            point -= 1;
        }
        if cost < best.0 {
            best = (cost, point, level);
        }
        level += 1;
    }
    let point = |order_point: i64, order_up_to: u64| {
        let service = tables.service(&StockRule::OrderUpTo { order_point, order_up_to }, programme)?;
        Ok(StockPoint::new(service, costs, waiting, 1))
    };
    let (order_point, order_up_to) = if idle { (-1, 0) } else { (best.1, best.2) };
    let best = point(order_point, order_up_to)?;
    // Along the curve the level keeps its distance from the order point, which a base stock of 0 puts at -1.
    let span = (signed(order_up_to) - order_point).unsigned_abs();
    let at = |base: u64| point(signed(base) - 1, base + span - 1);
    let base = (order_point + 1).unsigned_abs();
    let stocks = stocks_around(demand, base, |s| Ok(at(s)?.total), best.total)?;
    let by_stock = stocks.into_iter().map(at).collect::<Result<Vec<_>>>()?;
    let widest = (2 * span + 4).min(MOST_SPAN);
    let step = (widest / 120).max(1);
    let by_quantity = (1..=widest)
        .filter(|d| d % step == 0 || *d == span)
        .map(|d| {
            let costs_of = |base: u64| Ok::<f64, Error>(point(signed(base) - 1, base + d - 1)?.total);
            // The cost falls and then rises with the order point at a given distance, up to rounding.
            let mut found = (costs_of(base)?, base);
            while let Some(lower) = found.1.checked_sub(1) {
                let cost = costs_of(lower)?;
                if cost >= found.0 {
                    break;
                }
                found = (cost, lower);
            }
            loop {
                let cost = costs_of(found.1 + 1)?;
                if cost >= found.0 {
                    break;
                }
                found = (cost, found.1 + 1);
            }
            point(signed(found.1) - 1, found.1 + d - 1)
        })
        .collect::<Result<Vec<_>>>()?;
    Ok(StockPlan { sentence: sentence(&best.service.rule), best, by_stock, by_quantity, notes: notes(demand) })
}
