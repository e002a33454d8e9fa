//! What a purchase list takes, and what must hold of a saved one.

use super::purchase::{NeededBy, PurchaseList, PurchaseOrder, PurchasePeriod, PurchaseTerms, rounded, sentence};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// Most lamps in a box or a smallest order.
const MOST_LAMPS: u64 = 1_000_000_000;

/// Everything that is wrong, at once.
pub(super) fn check(needed: &[NeededBy], period_ends: &[u32], terms: &PurchaseTerms) -> Result<()> {
    let mut problems = Vec::new();
    let days = |place: Place, got: String, expected: &str| {
        let problem = Problem::new("stock.purchase_days", "not days that orders can be planned by");
        problem.at(place).got(got).expected(expected)
    };
    for (i, pair) in needed.windows(2).enumerate() {
        if let [before, after] = pair
            && after.day <= before.day
        {
            let place = Place::input("needed").row(i as u64 + 2).column("day");
            problems.push(days(place, after.day.to_string(), "a day after the one before"));
        }
    }
    for (i, pair) in period_ends.windows(2).enumerate() {
        if let [before, after] = pair
            && after <= before
        {
            let place = Place::input("period_ends").row(i as u64 + 2);
            problems.push(days(place, after.to_string(), "a day after the one before"));
        }
    }
    if period_ends.is_empty() {
        problems.push(days(Place::input("period_ends"), "no period".to_owned(), "one or more"));
    }
    let known = |day: u32| needed.iter().any(|n| n.day == day);
    for (i, end) in period_ends.iter().enumerate().filter(|(_, end)| !known(**end)) {
        let place = Place::input("period_ends").row(i as u64 + 1);
        problems.push(days(place, end.to_string(), "one of the days of `needed`"));
    }
    if !known(terms.lead_time_days) {
        let problem = Problem::new("stock.lead_time", "lamps needed over the lead time are not given");
        let problem = problem.at(Place::input("lead_time_days")).got(terms.lead_time_days);
        problems.push(problem.expected("one of the days of `needed`"));
    }
    let mut before = terms.lead_time_days;
    for (i, arrival) in terms.on_order_later.iter().enumerate() {
        if arrival.day <= before {
            let problem = Problem::new("stock.arrivals", "not a day on which later orders come");
            let place = Place::input("on_order_later").row(i as u64 + 1).column("day");
            let expected =
                "a day after the lead time and after the one before; what comes within the lead time is on order";
            problems.push(problem.at(place).got(arrival.day).expected(expected));
        }
        before = before.max(arrival.day);
        let eve = arrival.day.saturating_sub(1);
        let inside = eve > terms.lead_time_days && period_ends.last().is_some_and(|last| eve < *last);
        if inside && !known(eve) {
            let place = Place::input("on_order_later").row(i as u64 + 1).column("day");
            let expected = "the day before among the days of `needed`: a shortage may grow until these lamps come";
            problems.push(days(place, arrival.day.to_string(), expected));
        }
    }
    if !(terms.service_target > 0.0 && terms.service_target <= 1.0) {
        let problem = Problem::new("stock.service_target", "the service target is a chance above 0 and at most 1");
        let problem = problem.at(Place::input("service_target")).got(terms.service_target);
        problems.push(problem.expected("for example 0.95"));
    }
    if !(0.0..f64::INFINITY).contains(&terms.price_each) {
        let problem = Problem::new("stock.unit_cost", "the price of a lamp must be finite and not negative");
        problems.push(problem.at(Place::input("price_each")).got(terms.price_each).expected("0 or more"));
    }
    for (name, lamps) in [("box_lamps", terms.box_lamps), ("minimum_order_lamps", terms.minimum_order_lamps)] {
        if !(1..=MOST_LAMPS).contains(&lamps) {
            let problem = Problem::new("stock.order_terms", "not a size of orders or boxes");
            problems.push(problem.at(Place::input(name)).got(lamps).expected("1 to 1e9 lamps"));
        }
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

impl Sound for PurchaseList {
    fn check(&self, c: &mut Checks) {
        let terms = &self.terms;
        c.inside("terms", |c| {
            c.share("service_target", terms.service_target);
            c.not_negative("price_each", terms.price_each);
            let mut before = terms.lead_time_days;
            for (i, arrival) in terms.on_order_later.iter().enumerate() {
                let later = arrival.day > before;
                c.need(&format!("on_order_later[{i}].day"), later, arrival.day, format!("after day {before}"));
                before = before.max(arrival.day);
            }
            for (field, lamps) in [("box_lamps", terms.box_lamps), ("minimum_order_lamps", terms.minimum_order_lamps)] {
                c.need(field, (1..=MOST_LAMPS).contains(&lamps), lamps, "1 to 1e9 lamps");
            }
        });
        let today = terms.on_hand.saturating_add(terms.on_order);
        c.inside("now", |c| order_follows(c, &self.now, terms));
        c.follows("now.order_day", &self.now.order_day, &0);
        let mut held = today.saturating_add(self.now.order_lamps);
        let mut day = 0;
        for (i, period) in self.periods.iter().enumerate() {
            c.inside(&format!("periods[{i}]"), |c| {
                c.need("to_day", period.to_day > day || i == 0, period.to_day, format!("after day {day}"));
                if let Some(order) = &period.order {
                    order_follows(c, order, terms);
                    let least = period.level_by_end.saturating_sub(held.saturating_add(terms.later_by(period.to_day)));
                    // What comes within the period may end a shortage that the order of the period ends before.
                    if terms.on_order_later.iter().any(|a| a.day > day && a.day <= period.to_day) {
                        let lamps = order.least_lamps;
                        c.need("order.least_lamps", lamps >= least, lamps, format!("{least} or more"));
                    } else {
                        c.follows("order.least_lamps", &order.least_lamps, &least);
                    }
                    held = held.saturating_add(order.order_lamps);
                }
                let there = if period.to_day >= terms.lead_time_days { held } else { today };
                period_follows(c, period, terms, there.saturating_add(terms.later_by(period.to_day)));
            });
            day = period.to_day;
        }
        let orders = || self.periods.iter().filter_map(|p| p.order.as_ref());
        let later = orders().map(|o| o.order_lamps).fold(0, u64::saturating_add);
        let price = self.now.price + orders().map(|o| o.price).sum::<f64>();
        c.follows("order_lamps", &self.order_lamps, &self.now.order_lamps.saturating_add(later));
        c.equal("price", self.price, price);
        c.follows("last_order_day", &self.last_order_day, &day.saturating_sub(terms.lead_time_days));
        c.follows("sentence", &self.sentence, &sentence(&self.now, later, orders().count() as u64));
    }
}

fn order_follows(c: &mut Checks, order: &PurchaseOrder, terms: &PurchaseTerms) {
    c.follows("order_lamps", &order.order_lamps, &rounded(order.least_lamps, terms));
    c.follows("arrives_day", &order.arrives_day, &order.order_day.saturating_add(terms.lead_time_days));
    c.equal("price", order.price, terms.price_each * order.order_lamps as f64);
}

fn period_follows(c: &mut Checks, period: &PurchasePeriod, terms: &PurchaseTerms, lamps: u64) {
    c.follows("lamps_by_end", &period.lamps_by_end, &lamps);
    c.follows("too_late_lamps", &period.too_late_lamps, &period.level_by_end.saturating_sub(lamps));
    c.share("service_by_end", period.service_by_end);
    c.between("service_without_orders", period.service_without_orders, 0.0, period.service_by_end);
    if period.too_late_lamps == 0 && terms.service_target < 1.0 {
        c.between("service_by_end", period.service_by_end, terms.service_target, None);
    }
}
