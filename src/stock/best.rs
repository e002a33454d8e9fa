//! The reorder rule of least cost, with its cost curve.

use serde::{Deserialize, Serialize};

use super::cost::{OrderTerms, StockCosts, StockPoint};
use super::lead::{LeadDemand, YEAR_DAYS};
use super::service::{Programme, StockRule, Tables};
use super::shortfall::Shortfall;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short, whole};
use crate::base::sound::{Checks, Sound};

/// Largest order that a search looks at, lamps.
const MOST_LAMPS: u64 = 2_000_000;

/// Most points of a curve; wider ones are thinned.
const POINTS: u64 = 240;

/// A curve ends where fewer than this share of lamps wait, or earlier at [`HIGHEST`] times the least cost.
const HARDLY_EVER: f64 = 1e-7;

/// Costs above this many times the least are left out of a curve beyond the optimum.
const HIGHEST: f64 = 3.0;

/// The rule of least cost at one place, and what the others cost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockPlan {
    /// The rule in plain words.
    pub sentence: String,
    /// The rule of least cost, with its service and costs.
    pub best: StockPoint,
    /// The same order at every base stock, or, where one orders up to a level, the same difference at every level.
    pub by_stock: Vec<StockPoint>,
    /// The best base stock at every size of order, or at every difference.
    pub by_quantity: Vec<StockPoint>,
    /// What stands beside the numbers and could mislead without.
    pub notes: Vec<String>,
}

impl Sound for StockPlan {
    fn check(&self, c: &mut Checks) {
        c.follows("sentence", &self.sentence, &sentence(&self.best.service.rule));
        c.part("best", &self.best);
        c.parts("by_stock", &self.by_stock);
        c.parts("by_quantity", &self.by_quantity);
        for (name, points) in [("by_stock", &self.by_stock), ("by_quantity", &self.by_quantity)] {
            for (i, point) in points.iter().enumerate() {
                c.between(&format!("{name}[{i}].total"), point.total, self.best.total, None);
            }
        }
    }
}

/// The rule in plain words.
pub(super) fn sentence(rule: &StockRule) -> String {
    match *rule {
        StockRule::Reorder { base_stock: 0, quantity } => {
            format!("hold nothing; order {} when a screen waits", counted(quantity, "lamp"))
        }
        StockRule::Reorder { base_stock, quantity: 1 } => {
            format!("hold {} on hand and on order; order each lamp when it is used", counted(base_stock, "lamp"))
        }
        StockRule::Reorder { base_stock, quantity } => {
            let left = whole(base_stock as f64 - 1.0);
            format!("order {} when those on hand and on order have come down to {left}", counted(quantity, "lamp"))
        }
        StockRule::OrderUpTo { order_up_to: 0, .. } => "hold nothing, and need nothing".to_owned(),
        StockRule::OrderUpTo { order_point, order_up_to } => {
            let found = match order_point {
                ..0 => "a screen waiting".to_owned(),
                0 => "none on hand and on order".to_owned(),
                n => format!("{} or fewer on hand and on order", whole(n as f64)),
            };
            format!("at each review that finds {found}, order up to {}", counted(order_up_to, "lamp"))
        }
    }
}

/// What positions cost a year in holding and waiting.
pub(super) struct Rates<'a> {
    pub(super) tails: &'a Shortfall,
    pub(super) holding: f64,
    pub(super) waiting: f64,
}

impl Rates<'_> {
    pub(super) fn at(&self, y: u64) -> f64 {
        self.holding * self.tails.over(y) + self.waiting * self.tails.short(y)
    }

    /// The position of least cost: the critical ratio.
    pub(super) fn best(&self, count: &crate::demand::Count) -> u64 {
        let whole = self.holding + self.waiting;
        if whole <= 0.0 { 0 } else { count.least_with_tail(self.holding / whole) }
    }
}

pub(super) fn need_holding(holding: f64) -> Result<()> {
    if holding > 0.0 {
        return Ok(());
    }
    let what = "a lamp on the shelf costs nothing, so no stock is too large";
    let problem = Problem::new("stock.no_holding", what).at(Place::input("costs").column("holding_a_year"));
    Err(Error::new(Kind::Input, problem.got(holding).expected("a holding cost or a share of the price above 0")))
}

/// The (order point, quantity) of least yearly cost, among whole boxes and orders of at least the least size.
///
/// # Formula
/// ```text
/// C(s, Q) = per order * orders a year + 1/Q sum over y = s .. s + Q - 1 of [h E(y - X)+ + b E(X - y)+] + price * needed a year
/// ```
/// s: base stock, 0 or more, one above the order point; Q: quantity; h: holding of one lamp a year; b: a waiting screen a
/// year; X: lamps needed over the lead time ([`LeadDemand::moment`]). For each Q the best positions are the Q neighbours of
/// least cost, whose mean rises with Q: the search ends where that mean alone passes the least cost found, so nothing is
/// missed. Each step of the price is searched by itself.
///
/// # Errors
/// Those of [`StockCosts::check`]; `stock.no_holding` where a lamp on the shelf costs nothing; `stock.programme`;
/// `stock.order_terms`; `stock.too_large` where the best order would pass 2,000,000 lamps.
///
/// # Source
/// The structure of the best rule: Federgruen and Zheng 1992, Operations Research 40 (from memory).
///
/// # Examples
/// ```
/// use relamp::demand::Count;
/// use relamp::stock::{LeadDemand, LeadTime, OrderTerms, StockCosts, StockRule, best_reorder};
/// let demand = LeadDemand::given(&Count::poisson(4.0)?, &LeadTime::certain(20.0)?)?;
/// let costs = StockCosts { holding_a_year: 80.0, dark_day: 2.0, ..StockCosts::at_price(800.0) };
/// let plan = best_reorder(&demand, &costs, OrderTerms::default(), None)?;
/// // Critical ratio 730.5 / 810.5 = 0.901: P(X <= 6) = 0.889, P(X <= 7) = 0.949.
/// assert_eq!(plan.best.service.rule, StockRule::Reorder { base_stock: 7, quantity: 1 });
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn best_reorder(
    demand: &LeadDemand,
    costs: &StockCosts,
    terms: OrderTerms,
    programme: Option<Programme>,
) -> Result<StockPlan> {
    costs.check()?;
    terms.check()?;
    let waiting = costs.waiting(programme)?;
    let tables = Tables::new(demand);
    let orders = Orders::new(demand, costs.per_order);
    let mut best: Option<(f64, u64, u64)> = None;
    // The best base stock for each size of order that was looked at.
    let mut sizes: Vec<(u64, u64)> = Vec::new();
    for (i, tier) in costs.prices.iter().enumerate() {
        let end = costs.prices.get(i + 1).map_or(u64::MAX, |next| next.from_lamps);
        let holding = costs.holding(tier.from_lamps);
        need_holding(holding)?;
        let rates = Rates { tails: &tables.moment, holding, waiting };
        let purchase = tier.price * demand.a_day * YEAR_DAYS;
        let mut size = terms.order_of(tier.from_lamps);
        let mut span = Span::new(&rates, rates.best(&demand.moment));
        let mut ordering = 0.0;
        let mut counted_to = 0;
        while size < end {
            if size > MOST_LAMPS {
                let problem = Problem::new("stock.too_large", "the best order would pass two million lamps");
                return Err(Error::new(
                    Kind::Limit,
                    problem.got(size).expected("a higher holding cost, or smaller orders"),
                ));
            }
            span.grow(size);
            while counted_to < size {
                ordering += orders.step(counted_to);
                counted_to += 1;
            }
            let mean = span.sum / size as f64;
            let total = mean + ordering / size as f64 + purchase;
            if best.is_none_or(|(least, ..)| total < least) {
                best = Some((total, span.low, size));
            }
            sizes.push((span.low, size));
            let least = best.map_or(total, |b| b.0);
            if mean + purchase > least && (sizes.len() >= 8 || size > 8 * terms.order_of(1)) {
                break;
            }
            size += terms.box_of;
        }
    }
    let Some((_, base_stock, quantity)) = best else {
        let problem = Problem::new("stock.price_breaks", "no size of order is allowed between two prices");
        return Err(Error::new(Kind::Input, problem.at(Place::input("costs").column("prices"))));
    };
    let point = |base_stock: u64, quantity: u64| {
        let service = tables.service(&StockRule::Reorder { base_stock, quantity }, programme)?;
        Ok(StockPoint::new(service, costs, waiting, quantity))
    };
    let best = point(base_stock, quantity)?;
    let stocks = stocks_around(demand, base_stock, |s| Ok(point(s, quantity)?.total), best.total)?;
    let by_stock = stocks.into_iter().map(|s| point(s, quantity)).collect::<Result<Vec<_>>>()?;
    sizes.sort_by_key(|(_, size)| *size);
    let step = sizes.len().div_ceil(POINTS as usize).max(1);
    let by_quantity = sizes
        .iter()
        .enumerate()
        .filter(|(i, (_, size))| i % step == 0 || *size == quantity)
        .map(|(_, (base, size))| point(*base, *size))
        .collect::<Result<Vec<_>>>()?;
    let mut notes = notes(demand);
    if waiting == 0.0 {
        notes.push("a waiting screen costs nothing here, so the least cost holds no lamp back for it".to_owned());
    }
    Ok(StockPlan { sentence: sentence(&best.service.rule), best, by_stock, by_quantity, notes })
}

/// What is to be said of the demand behind a plan.
pub(super) fn notes(demand: &LeadDemand) -> Vec<String> {
    let mut notes = Vec::new();
    if demand.a_day == 0.0 {
        notes.push("no lamp is needed, so none is held".to_owned());
    }
    let (mean, sd) = (demand.moment.mean(), demand.moment.sd());
    if mean > 0.0 && demand.review_days == 0.0 && (sd * sd / mean - 1.0).abs() > 0.05 {
        notes.push(format!(
            "the number needed over the lead time varies by {} times its mean; the fill rate takes lamps needed one \
             at a time by chance",
            short(sd * sd / mean)
        ));
    }
    notes
}

/// Base stocks of a curve: from 0, or from where a stock begins to count, to where hardly a lamp waits.
pub(super) fn stocks_around(
    demand: &LeadDemand,
    best: u64,
    cost: impl Fn(u64) -> Result<f64>,
    least: f64,
) -> Result<Vec<u64>> {
    let from = if best <= POINTS / 2 { 0 } else { demand.moment.least_with_tail(1.0 - 1e-3).min(best - 1) };
    // Beyond the optimum the cost only rises: the last stock of a bearable cost by halving.
    let (mut low, mut high) = (best + 2, demand.moment.least_with_tail(HARDLY_EVER).max(best + 2));
    while low < high {
        let middle = low + (high - low).div_ceil(2);
        if cost(middle)? > HIGHEST * least { high = middle - 1 } else { low = middle }
    }
    let to = low;
    let step = ((to - from) / POINTS).max(1);
    Ok((from..=to).filter(|s| (s - from) % step == 0 || *s == best).collect())
}

/// Orders a year times the cost of one, as a sum over the lamps of an order.
struct Orders {
    period: Option<(Shortfall, f64)>,
    watched: f64,
    per_order: f64,
}

impl Orders {
    fn new(demand: &LeadDemand, per_order: f64) -> Self {
        let reviewed = demand.review_days > 0.0;
        let period = reviewed.then(|| (Shortfall::new(&demand.period), YEAR_DAYS / demand.review_days));
        Self { period, watched: demand.a_day * YEAR_DAYS, per_order }
    }

    /// What the lamp after `k` others adds to the sum that, over the size, is the cost of ordering a year.
    fn step(&self, k: u64) -> f64 {
        match &self.period {
            Some((needs, reviews)) => self.per_order * reviews * needs.more_than(k),
            None if k == 0 => self.per_order * self.watched,
            None => 0.0,
        }
    }
}

/// Neighbouring positions of least cost, grown one by one to the cheaper side.
struct Span<'a> {
    rates: &'a Rates<'a>,
    low: u64,
    lamps: u64,
    sum: f64,
}

impl<'a> Span<'a> {
    fn new(rates: &'a Rates<'a>, best: u64) -> Self {
        Self { rates, low: best, lamps: 1, sum: rates.at(best) }
    }

    fn grow(&mut self, lamps: u64) {
        while self.lamps < lamps {
            let above = self.rates.at(self.low + self.lamps);
            let below = self.low.checked_sub(1).map(|y| (y, self.rates.at(y)));
            match below.filter(|(_, cost)| *cost <= above) {
                Some((y, cost)) => {
                    self.low = y;
                    self.sum += cost;
                }
                None => self.sum += above,
            }
            self.lamps += 1;
        }
    }
}
