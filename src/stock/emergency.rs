//! Where no screen waits: a lamp that is not on the shelf is borrowed or sent by courier at once.

use serde::{Deserialize, Serialize};

use super::best::need_holding;
use super::cost::StockCosts;
use super::lead::{LeadTime, Needs, YEAR_DAYS};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};
use crate::terms::LARGEST_AMOUNT;

/// Largest stock looked at, lamps.
const MOST_LAMPS: u64 = 10_000_000;

/// What a base stock gives where lamps that are missing come by an emergency transfer and nobody waits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EmergencyService {
    /// Lamps on hand and on order, each ordered when used.
    pub base_stock: u64,
    /// Mean lamps needed a year of 365.25 days.
    pub needed_a_year: f64,
    /// Mean lead time, days.
    pub lead_time_days: f64,
    /// Share of the lamps needed that come by transfer: the chance that the shelf is empty.
    pub emergency_share: f64,
    /// Transfers a year.
    pub emergencies_a_year: f64,
    /// Mean lamps on the shelf: base stock less those on order.
    pub mean_on_hand: f64,
    /// Mean lamps on order, only those that replace lamps of the shelf.
    pub mean_on_order: f64,
}

impl Sound for EmergencyService {
    fn check(&self, c: &mut Checks) {
        c.not_negative("needed_a_year", self.needed_a_year);
        c.not_negative("lead_time_days", self.lead_time_days);
        c.share("emergency_share", self.emergency_share);
        c.equal("emergencies_a_year", self.emergencies_a_year, self.needed_a_year * self.emergency_share);
        c.between("mean_on_hand", self.mean_on_hand, 0.0, self.base_stock as f64);
        let on_order = self.base_stock as f64 - self.mean_on_hand;
        c.near("mean_on_order", self.mean_on_order, on_order, self.base_stock as f64);
    }
}

/// The chance of an empty shelf by base stock 0, 1, 2, ...
fn empty(load: f64) -> impl Iterator<Item = f64> {
    // 1 / B(s) = 1 + s / load / B(s - 1), which neither overflows nor cancels.
    let mut chance = 1.0;
    (0_u64..).map(move |s| {
        if s > 0 {
            chance = if load > 0.0 { load * chance / (s as f64 + load * chance) } else { 0.0 };
        }
        chance
    })
}

fn at(base_stock: u64, share: f64, needs: &Needs, lead: &LeadTime) -> EmergencyService {
    let load = needs.a_day * lead.mean_days();
    let mean_on_order = load * (1.0 - share);
    EmergencyService {
        base_stock,
        needed_a_year: needs.a_day * YEAR_DAYS,
        lead_time_days: lead.mean_days(),
        emergency_share: share,
        emergencies_a_year: needs.a_day * YEAR_DAYS * share,
        mean_on_hand: (base_stock as f64 - mean_on_order).max(0.0),
        mean_on_order,
    }
}

fn one_at_a_time(needs: &Needs) -> Result<()> {
    if needs.variance_to_mean == 1.0 {
        return Ok(());
    }
    let what = "the blocking formula takes lamps needed one at a time by chance";
    let problem = Problem::new("stock.needs", what).at(Place::input("needs").column("variance_to_mean"));
    Err(Error::new(Kind::Input, problem.got(needs.variance_to_mean).expected("1")))
}

/// What a base stock gives where missing lamps are borrowed or sent by courier.
///
/// # Formula
/// ```text
/// share = (a^s / s!) / sum over k = 0 .. s of a^k / k!;   a = lamps needed a day * mean lead time
/// on hand = s - a (1 - share)
/// ```
/// s: base stock. Only the mean of the lead time counts, whatever its distribution.
///
/// # Errors
/// `stock.needs` for needs in batches; `stock.rule` above ten million lamps.
///
/// # Source
/// The loss formula of Erlang 1917, closed form.
///
/// # Examples
/// ```
/// use relamp::stock::{LeadTime, Needs, emergency_service};
/// let found = emergency_service(2, &Needs::by_chance(0.1)?, &LeadTime::certain(20.0)?)?;
/// assert!((found.emergency_share - 0.4).abs() < 1e-15);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn emergency_service(base_stock: u64, needs: &Needs, lead: &LeadTime) -> Result<EmergencyService> {
    one_at_a_time(needs)?;
    if base_stock > MOST_LAMPS {
        let place = Place::input("rule").column("base_stock");
        let problem = Problem::new("stock.rule", "not a rule of ordering").at(place).got(base_stock);
        return Err(Error::new(Kind::Input, problem.expected("at most 10,000,000 lamps")));
    }
    let share = empty(needs.a_day * lead.mean_days()).nth(base_stock as usize).unwrap_or(0.0);
    Ok(at(base_stock, share, needs, lead))
}

/// A base stock and what it costs a year with emergency transfers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EmergencyPoint {
    /// Its service.
    pub service: EmergencyService,
    /// Mean on hand times what a lamp on the shelf costs a year.
    pub holding: f64,
    /// Transfers a year times what one costs.
    pub transfers: f64,
    /// Orders a year, one for each lamp of the shelf, times what one costs.
    pub ordering: f64,
    /// All three; lamps bought cost the same at every stock and are left out.
    pub total: f64,
}

impl Sound for EmergencyPoint {
    fn check(&self, c: &mut Checks) {
        c.part("service", &self.service);
        c.not_negative("holding", self.holding);
        c.not_negative("transfers", self.transfers);
        c.not_negative("ordering", self.ordering);
        c.equal("total", self.total, self.holding + self.transfers + self.ordering);
    }
}

/// The base stock of least cost with emergency transfers, and the others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EmergencyPlan {
    /// The advice in plain words.
    pub sentence: String,
    /// The base stock of least cost.
    pub best: EmergencyPoint,
    /// Every base stock from 0 on, beyond the best.
    pub by_stock: Vec<EmergencyPoint>,
}

impl Sound for EmergencyPlan {
    fn check(&self, c: &mut Checks) {
        c.follows("sentence", &self.sentence, &emergency_sentence(&self.best.service));
        c.part("best", &self.best);
        c.parts("by_stock", &self.by_stock);
        for (i, point) in self.by_stock.iter().enumerate() {
            c.between(&format!("by_stock[{i}].total"), point.total, self.best.total, None);
        }
    }
}

fn emergency_sentence(service: &EmergencyService) -> String {
    let base_stock = service.base_stock;
    if service.needed_a_year == 0.0 {
        return "hold no lamp; none is needed".to_owned();
    }
    if base_stock == 0 {
        return "hold no lamp; every lamp needed comes by emergency transfer".to_owned();
    }
    format!("hold {} on hand and on order; order each lamp when it is used", counted(base_stock, "lamp"))
}

/// The base stock of least yearly cost where missing lamps come by an emergency transfer at `per_transfer` each, beyond
/// the price of the lamp.
///
/// The share of transfers is convex in the stock, so the first stock whose successor costs no less is the best.
///
/// # Errors
/// Those of [`StockCosts::check`] and [`emergency_service`]; `stock.cost` for the cost of a transfer; `stock.no_holding`;
/// `stock.too_large` beyond 100,000 lamps.
///
/// # Examples
/// ```
/// use relamp::stock::{LeadTime, Needs, StockCosts, best_emergency};
/// let (needs, lead) = (Needs::by_chance(0.1)?, LeadTime::certain(20.0)?);
/// let costs = StockCosts { holding_a_year: 80.0, ..StockCosts::at_price(800.0) };
/// let plan = best_emergency(&needs, &lead, &costs, 150.0)?;
/// assert_eq!(plan.best.service.base_stock, 6);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn best_emergency(needs: &Needs, lead: &LeadTime, costs: &StockCosts, per_transfer: f64) -> Result<EmergencyPlan> {
    /// A curve goes on to where the shelf is hardly ever empty.
    const HARDLY_EVER: f64 = 1e-4;
    costs.check()?;
    one_at_a_time(needs)?;
    if !(0.0..=LARGEST_AMOUNT).contains(&per_transfer) {
        let problem = Problem::new("stock.cost", "not a cost").at(Place::input("per_transfer")).got(per_transfer);
        return Err(Error::new(Kind::Input, problem.expected("0 to 1e12")));
    }
    let holding = costs.holding(1);
    need_holding(holding)?;
    let mut by_stock: Vec<EmergencyPoint> = Vec::new();
    let mut best: Option<EmergencyPoint> = None;
    for (s, share) in (0_u64..).zip(empty(needs.a_day * lead.mean_days())) {
        let service = at(s, share, needs, lead);
        let (held, sent) = (holding * service.mean_on_hand, per_transfer * service.emergencies_a_year);
        let ordering = costs.per_order * (service.needed_a_year - service.emergencies_a_year);
        let point = EmergencyPoint { service, holding: held, transfers: sent, ordering, total: held + sent + ordering };
        let rising = best.is_some_and(|b| point.total >= b.total);
        if !rising {
            best = Some(point);
        }
        by_stock.push(point);
        if rising && (share < HARDLY_EVER || best.is_some_and(|b| point.total > 3.0 * b.total)) {
            break;
        }
        if s > 100_000 {
            let problem = Problem::new("stock.too_large", "the best stock would pass 100,000 lamps").got(s);
            return Err(Error::new(Kind::Limit, problem.expected("a higher holding cost, or fewer lamps needed")));
        }
    }
    let Some(best) = best else {
        return Err(Error::new(Kind::Internal, Problem::new("stock.too_large", "no stock was looked at")));
    };
    Ok(EmergencyPlan { sentence: emergency_sentence(&best.service), best, by_stock })
}
