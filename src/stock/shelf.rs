//! Lamps that grow old on the shelf: shelf life, and a warranty that runs from delivery.

use serde::{Deserialize, Serialize};

use super::lead::{LeadDemand, LeadTime, Needs, YEAR_DAYS};
use super::service::{StockRule, positions};
use super::shortfall::Shortfall;
use crate::base::days::MOST_DAYS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::demand::Count;

/// How long lamps may lie.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShelfTerms {
    /// Days after delivery from which a lamp is no longer good; none where it keeps.
    pub shelf_life_days: Option<f64>,
    /// Days of warranty that run from delivery, used or not; none where the warranty starts with use.
    pub warranty_days: Option<f64>,
}

/// How old lamps are when they are used, on the long run, and what is lost.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShelfAge {
    /// The rule of ordering.
    pub rule: StockRule,
    /// Mean days on the shelf: mean on hand over lamps needed a day; none where nothing is needed.
    pub mean_days: Option<f64>,
    /// Chance that a lamp lies longer than its shelf life before it is needed.
    pub expired_chance: Option<f64>,
    /// Lamps that expire a year: lamps needed times that chance.
    pub expired_a_year: Option<f64>,
    /// Their price, a year.
    pub expired_value_a_year: Option<f64>,
    /// Chance that the warranty has run out before a lamp is used.
    pub warranty_over_chance: Option<f64>,
    /// Mean days of warranty that are gone when a lamp is used, at most the warranty.
    pub warranty_days_lost: Option<f64>,
    /// The same share of the price, a year: what a pro-rata warranty by the calendar has lost before the first hour.
    pub warranty_value_lost_a_year: Option<f64>,
}

impl Sound for ShelfAge {
    fn check(&self, c: &mut Checks) {
        if let Some((column, got, expected)) = self.rule.wrong() {
            c.need(&format!("rule.{column}"), false, got, expected);
        }
        c.not_negative("mean_days", self.mean_days);
        c.share("expired_chance", self.expired_chance);
        c.share("warranty_over_chance", self.warranty_over_chance);
        for (field, there, value) in [
            ("expired_a_year", self.expired_chance, self.expired_a_year),
            ("expired_value_a_year", self.expired_chance, self.expired_value_a_year),
            ("warranty_days_lost", self.warranty_over_chance, self.warranty_days_lost),
            ("warranty_value_lost_a_year", self.warranty_over_chance, self.warranty_value_lost_a_year),
        ] {
            c.not_negative(field, value);
            c.there(field, value.is_some(), there.is_some(), "there with its chance");
        }
    }
}

/// How long lamps lie under a rule, first in first out, the shelf watched all the time.
///
/// # Formula
/// ```text
/// P(a lamp lies longer than d days) = mean over y = s .. s + Q - 1 of P(N(L + d) <= y - 1)
/// ```
/// s: base stock; Q: quantity; N(t): lamps needed in t days; L: lead time. The lamp ordered as the y-th of the position serves
/// the y-th need after its order; it comes after L days and lies until then.
///
/// # Errors
/// `stock.rule` for a rule with reviews; `stock.needs` for needs in batches; `stock.shelf_life` unless days lie above 0 and at
/// most 7,310; `stock.cost` for a price that is negative or not finite.
///
/// # Numerics
/// Exact while expired lamps stay on the shelf. Lamps thrown away are ordered anew and lie less long, so where more than a few
/// in a hundred expire the true number thrown away is smaller than said.
///
/// # Examples
/// ```
/// use relamp::stock::{LeadTime, Needs, ShelfTerms, StockRule, shelf_age};
/// let terms = ShelfTerms { shelf_life_days: Some(365.0), warranty_days: Some(730.0) };
/// let needs = Needs::by_chance(6.0 / 365.25)?;
/// let rule = StockRule::Reorder { base_stock: 5, quantity: 1 };
/// let age = shelf_age(&rule, &needs, &LeadTime::certain(30.0)?, terms, 800.0)?;
/// assert!((age.expired_chance.unwrap_or(0.0) - 0.2249).abs() < 1e-4);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn shelf_age(rule: &StockRule, needs: &Needs, lead: &LeadTime, terms: ShelfTerms, price: f64) -> Result<ShelfAge> {
    if needs.variance_to_mean != 1.0 {
        let what = "how long a lamp lies is known for lamps needed one at a time by chance";
        let problem = Problem::new("stock.needs", what).at(Place::input("needs").column("variance_to_mean"));
        return Err(Error::new(Kind::Input, problem.got(needs.variance_to_mean).expected("1")));
    }
    if !(0.0..=crate::terms::LARGEST_AMOUNT).contains(&price) {
        let problem = Problem::new("stock.cost", "not a cost").at(Place::input("price")).got(price);
        return Err(Error::new(Kind::Input, problem.expected("0 to 1e12")));
    }
    let mut problems = Vec::new();
    for (column, days) in [("shelf_life_days", terms.shelf_life_days), ("warranty_days", terms.warranty_days)] {
        if let Some(days) = days.filter(|d| !(*d > 0.0 && *d <= MOST_DAYS)) {
            let problem = Problem::new("stock.shelf_life", "not a time that a lamp may lie on the shelf");
            let place = Place::input("shelf").column(column);
            problems.push(problem.at(place).got(days).expected("days above 0 and at most 7,310, or none"));
        }
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let watched = LeadDemand::new(needs, lead, 0.0)?;
    let (places, _) = positions(rule, &watched)?;
    let mean = |f: &dyn Fn(u64) -> f64| places.iter().map(|(y, w)| w * f(*y)).sum::<f64>();
    let at_lead = Shortfall::new(&watched.lead);
    let after = |days: f64| -> Result<Shortfall> {
        let parts = lead.options().iter().map(|(l, w)| Ok((*w, needs.over(l + days)?))).collect::<Result<Vec<_>>>()?;
        Ok(Shortfall::new(&Count::mix_weighted(&parts.iter().map(|(w, c)| (*w, c)).collect::<Vec<_>>())?))
    };
    let a_year = needs.a_day * YEAR_DAYS;
    let lies = |tails: &Shortfall| mean(&|y| tails.below(y)).clamp(0.0, 1.0);
    let expired_chance = terms.shelf_life_days.map(|d| Ok::<f64, Error>(lies(&after(d)?))).transpose()?;
    let expired_a_year = expired_chance.map(|p| p * a_year);
    let mut warranty = (None, None, None);
    if let Some(days) = terms.warranty_days {
        let later = after(days)?;
        // The integral of P(N(L + d) <= y - 1) over d from 0 to the warranty, by what the next d days add to the needs met
        // from y lamps.
        let met = |tails: &Shortfall, y: u64| y as f64 - tails.over(y);
        let lost = if needs.a_day > 0.0 {
            (mean(&|y| met(&later, y) - met(&at_lead, y)) / needs.a_day).clamp(0.0, days)
        } else {
            days
        };
        warranty = (Some(lies(&later)), Some(lost), Some(a_year * price * lost / days));
    }
    Ok(ShelfAge {
        rule: *rule,
        mean_days: (needs.a_day > 0.0).then(|| mean(&|y| at_lead.over(y)) / needs.a_day),
        expired_chance,
        expired_a_year,
        expired_value_a_year: expired_a_year.map(|n| n * price),
        warranty_over_chance: warranty.0,
        warranty_days_lost: warranty.1,
        warranty_value_lost_a_year: warranty.2,
    })
}
