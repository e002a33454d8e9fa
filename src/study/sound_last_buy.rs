//! What must hold of saved last buys: quantities that follow from the lamps needed, and dates that agree.

use super::class_result::ClassResult;
use super::last_buy_result::{BuyProgramme, BuyQuantity, LastBuyResult, StoppingLamps};
use super::results::StudyResults;
use crate::base::sound::Checks;
use crate::stock::{BuyPoint, EarlierConversion, LastBuyTerms};

/// The last buys of results, held to the rest of them.
pub(super) fn last_buys_agree(c: &mut Checks, results: &StudyResults) {
    let Some(page) = &results.last_buys else { return };
    let of = |name: &str| results.classes.iter().find(|k| k.name == name);
    c.inside("last_buys", |c| {
        c.once("stopping.lamp_class", page.stopping.iter().map(|s| &s.lamp_class));
        for (i, stopping) in page.stopping.iter().enumerate() {
            c.inside(&format!("stopping[{i}]"), |c| stopping_agrees(c, stopping, of(&stopping.lamp_class)));
        }
        c.once("buys.lamp_class", page.buys.iter().map(|b| &b.lamp_class));
        for (i, buy) in page.buys.iter().enumerate() {
            c.inside(&format!("buys[{i}]"), |c| buy_agrees(c, buy, results, of(&buy.lamp_class)));
        }
    });
}

fn stopping_agrees(c: &mut Checks, stopping: &StoppingLamps, class: Option<&ClassResult>) {
    c.need("lamp_class", class.is_some(), &stopping.lamp_class, "a class of these results");
    let stop = stopping.conversion_lamps_count.saturating_add(stopping.closing_lamps_count);
    let all = stopping.burning_lamps_count;
    c.need("conversion_lamps_count", (1..=all).contains(&stop), stop, format!("1 to {all} with those of closings"));
    if let Some(demand) = class.and_then(|k| k.demand.as_ref()) {
        c.follows("burning_lamps_count", &all, &demand.running_lamps_count);
        // A number out of range is told above.
        let told = demand.stopping_lamps_count == Some(stop) || !(1..=all).contains(&stop);
        c.need("conversion_lamps_count", told, stop, "with those of closings the lamps that the demand counts");
    }
    c.need(
        "last_on",
        stopping.first_on <= stopping.last_on,
        stopping.last_on,
        format!("{} or later", stopping.first_on),
    );
}

fn buy_agrees(c: &mut Checks, buy: &LastBuyResult, results: &StudyResults, class: Option<&ClassResult>) {
    c.need("lamp_class", class.is_some(), &buy.lamp_class, "a class of these results");
    let there = !buy.scenarios.is_empty();
    c.there("refusal", buy.refusal.is_some(), !there, "there where there is no advice");
    c.follows("sentence", &buy.sentence, &buy.said());
    c.positive("price", buy.price);
    for (i, lamp) in buy.used_lamps.iter().enumerate() {
        c.not_negative(&format!("used_lamps[{i}].age_hours"), lamp.age_hours);
    }
    c.need("box_lamps", buy.box_lamps > 0, buy.box_lamps, "1 or more");
    c.need("minimum_order_lamps", buy.minimum_order_lamps > 0, buy.minimum_order_lamps, "1 or more");
    let first = buy.last_order_on >= results.study.as_of;
    c.need("last_order_on", first, buy.last_order_on, format!("{} or later", results.study.as_of));
    let Some(declared) = buy.scenarios.first() else {
        c.need("curve", buy.curve.is_empty(), buy.curve.len(), "none without advice");
        c.need("earlier", buy.earlier.is_none(), "a saving", "none without advice");
        return;
    };
    let programmes: Vec<BuyProgramme> = buy.scenarios.iter().map(|s| s.programme).collect();
    c.once("scenarios.programme", programmes.iter().map(|p| p.as_str()));
    c.follows("scenarios[0].programme", &declared.programme, &BuyProgramme::Declared);
    if let Some(stock) = class.and_then(|k| k.stock.as_ref()) {
        c.follows("on_hand_lamps", &buy.on_hand_lamps, &stock.on_hand_lamps);
        c.follows("on_order_lamps", &buy.on_order_lamps, &stock.on_order_lamps);
        let counted = stock.used.as_ref().map_or(0, |u| u.lamps_count);
        c.follows("used_lamps", &(buy.used_lamps.len() as u64), &counted);
    }
    let Some(until) = buy.needed_until else {
        c.need("needed_until", false, "none", "the day until which lamps are needed");
        return;
    };
    let plan = results.purchase_plan.as_ref();
    if let Some(purchase) = plan.and_then(|p| p.classes.iter().find(|p| p.lamp_class == buy.lamp_class)) {
        let later = purchase.on_order_later.iter().filter(|o| o.due_on <= until);
        let same = later.eq(&buy.on_order_later);
        c.need("on_order_later", same, buy.later_lamps(), format!("those of the purchase plan that come by {until}"));
    }
    let days = (until - results.study.as_of).num_days() as f64;
    for (i, scenario) in buy.scenarios.iter().enumerate() {
        c.inside(&format!("scenarios[{i}]"), |c| {
            let found = &scenario.found;
            c.part("found", found);
            let late = scenario.programme == BuyProgramme::Late && found.terms.end_days != days;
            let end_days = if late { days + f64::from(buy.late_by_days) } else { days };
            c.equal("found.terms.end_days", found.terms.end_days, end_days);
            c.follows("found.terms.on_hand", &found.terms.on_hand, &buy.there());
            let used = found.terms.used_lamps == buy.used_lamps;
            c.need("found.terms.used_lamps", used, "other lamps", "the used lamps of the last buy");
            let same = found.terms == LastBuyTerms { end_days, ..declared.found.terms.clone() };
            c.need("found.terms", same, "other terms", "those of the first scenario");
            if let Some(rule) = buy.rule() {
                c.follows("found.terms.rule", &found.terms.rule, &rule);
            }
            if let Some(class) = class {
                c.age("found.planned_age_hours", found.planned_age_hours, class.limit.limit_hours);
                c.equal("found.planned_age_hours", found.planned_age_hours, class.advised_age_hours);
                if let Some(demand) = &class.demand {
                    c.follows("found.screens", &(found.screens as u64), &demand.running_lamps_count);
                }
            }
            let again = buy.scenario(scenario.programme, found.clone(), scenario.served.clone());
            c.equal("mean_lamps", scenario.mean_lamps, again.mean_lamps);
            for (field, got, expected) in
                [("by_risk", &scenario.by_risk, &again.by_risk), ("by_costs", &scenario.by_costs, &again.by_costs)]
            {
                c.there(field, got.is_some(), expected.is_some(), "there where its rule is declared");
                if let (Some(got), Some(expected)) = (got, expected) {
                    c.inside(field, |c| quantity_follows(c, got, expected));
                }
            }
        });
    }
    let curve = declared.found.curve();
    c.entries("curve", buy.curve.len(), curve.len());
    for (i, (got, expected)) in buy.curve.iter().zip(&curve).enumerate() {
        c.inside(&format!("curve[{i}]"), |c| point_follows(c, got, expected));
    }
    let then = buy.scenarios.iter().find(|s| s.programme == BuyProgramme::Earlier);
    c.there("earlier", buy.earlier.is_some(), then.is_some(), "there with its scenario");
    if let (Some(earlier), Some(then)) = (&buy.earlier, then) {
        c.part("earlier", earlier);
        let screens = usize::try_from(earlier.screens).unwrap_or(usize::MAX);
        let Ok(again) = EarlierConversion::between(&declared.found, &then.found, screens) else {
            c.need("earlier.screens", false, earlier.screens, format!("1 to {}", declared.found.screens));
            return;
        };
        c.inside("earlier", |c| {
            c.follows("lamps_saved", &earlier.lamps_saved, &again.lamps_saved);
            c.equal("mean_saved", earlier.mean_saved, again.mean_saved);
            c.there("cost_saved", earlier.cost_saved.is_some(), again.cost_saved.is_some(), "there with costs");
            if let (Some(got), Some(expected)) = (earlier.cost_saved, again.cost_saved) {
                c.equal("cost_saved", got, expected);
            }
        });
    }
}

fn quantity_follows(c: &mut Checks, got: &BuyQuantity, expected: &BuyQuantity) {
    c.equal("ratio", got.ratio, expected.ratio);
    c.follows("quantity_lamps", &got.quantity_lamps, &expected.quantity_lamps);
    c.follows("least_buy_lamps", &got.least_buy_lamps, &expected.least_buy_lamps);
    c.follows("order_serves_lamps", &got.order_serves_lamps, &expected.order_serves_lamps);
    c.follows("buy_lamps", &got.buy_lamps, &expected.buy_lamps);
    c.equal("buy_price", got.buy_price, expected.buy_price);
    c.inside("held", |c| point_follows(c, &got.held, &expected.held));
    c.equal("left_price", got.left_price, expected.left_price);
    c.equal("left_money_back", got.left_money_back, expected.left_money_back);
}

fn point_follows(c: &mut Checks, got: &BuyPoint, expected: &BuyPoint) {
    c.follows("lamps", &got.lamps, &expected.lamps);
    c.equal("shortage_chance", got.shortage_chance, expected.shortage_chance);
    c.equal("expected_short", got.expected_short, expected.expected_short);
    c.equal("leftover_chance", got.leftover_chance, expected.leftover_chance);
    c.equal("expected_left", got.expected_left, expected.expected_left);
    c.there("cost", got.cost.is_some(), expected.cost.is_some(), "there with costs");
    if let (Some(got), Some(expected)) = (got.cost, expected.cost) {
        c.equal("cost", got, expected);
    }
}
