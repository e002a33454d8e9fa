//! What must hold of a saved stock list: sums, and the classes it is for.

use super::class_result::ClassResult;
use super::decide::order_of;
use super::places::all_served;
use super::places_found::said;
use super::places_result::{BoxedOrder, ClassStores, PlaceStock, StockList, StoreKind};
use super::places_words::{class_sentence, depot_reason, held, notes, own_reason, site_reason};
use super::plan_result::PurchaseBasis;
use super::results::StudyResults;
use super::used_stock::UsedBeside;
use crate::base::figure::counted;
use crate::base::sound::Checks;
use crate::records::Outcome;

/// The stock list against the classes of the study.
pub(super) fn stores_agree(c: &mut Checks, list: &StockList, results: &StudyResults) {
    c.entries("classes", list.classes.len(), results.classes.len());
    for (i, (stores, class)) in list.classes.iter().zip(&results.classes).enumerate() {
        c.inside(&format!("classes[{i}]"), |c| class_agrees(c, stores, class, list.count.is_some()));
    }
    c.follows("sentence", &list.sentence, &said(&list.classes));
    let apart = list.classes.iter().flat_map(|k| &k.places).any(|p| p.kind != StoreKind::Chain);
    let known = list.classes.iter().any(|k| !k.places.is_empty());
    if known {
        c.follows("notes", &list.notes, &notes(!apart, list.count.is_some()));
    }
    if let Some(count) = &list.count {
        let rows = count.used_count.saturating_add(count.set_aside_count);
        c.follows("count.rows_count", &count.rows_count, &rows);
        c.parts("count.findings", &count.findings);
        let rows = count.findings.iter().filter(|f| f.outcome == Outcome::SetAside).map(|f| f.row);
        let rows = rows.collect::<std::collections::BTreeSet<_>>().len() as u64;
        c.follows("count.set_aside_count", &count.set_aside_count, &rows);
    }
}

fn class_agrees(c: &mut Checks, stores: &ClassStores, class: &ClassResult, counted: bool) {
    c.follows("lamp_class", &stores.lamp_class, &class.name);
    let (basis, level, order, there) = match (&class.stock, &class.bounds) {
        (Some(s), _) => (
            PurchaseBasis::Forecast,
            Some(s.level_lamps),
            Some(s.order_lamps),
            Some((s.on_hand_lamps, s.on_order_lamps)),
        ),
        (None, Some(b)) => {
            let s = &b.spares;
            let held = Some((s.on_hand_lamps, s.on_order_lamps));
            (PurchaseBasis::LowerBound, Some(s.least_lamps), Some(s.order_least_lamps), held)
        }
        (None, None) => (PurchaseBasis::NotKnown, None, None, None),
    };
    c.follows("basis", &stores.basis, &basis);
    c.follows("one_store_level_lamps", &stores.one_store_level_lamps, &level);
    c.follows("one_store_order_lamps", &stores.one_store_order_lamps, &order);
    let of_stock = class.stock.as_ref().map(|s| (s.lead_time_days, s.service_target_probability));
    let of_bounds = class.bounds.as_ref().map(|b| (b.spares.lead_time_days, b.spares.service_target_probability));
    if let Some((lead, target)) = of_stock.or(of_bounds) {
        c.follows("lead_time_days", &stores.lead_time_days, &lead);
        c.equal("service_target_probability", stores.service_target_probability, target);
    }
    let used = class.stock.as_ref().and_then(|s| s.used.as_ref()).map(UsedBeside::of);
    c.follows("used", &stores.used, &used);
    if let Some((on_hand, on_order)) = there {
        c.follows("on_hand_lamps", &stores.on_hand_lamps, &on_hand);
        c.follows("on_order_lamps", &stores.on_order_lamps, &on_order);
    }
    let sum = |of: fn(&PlaceStock) -> Option<u64>| stores.places.iter().filter_map(of).fold(0, u64::saturating_add);
    let known = basis != PurchaseBasis::NotKnown;
    c.follows("level_lamps", &stores.level_lamps, &known.then(|| sum(|p| Some(p.level_lamps))));
    let one_store = stores.places.iter().any(|p| p.kind == StoreKind::Chain);
    if counted || one_store {
        c.follows("to_buy_lamps", &stores.to_buy_lamps, &known.then(|| sum(|p| p.to_buy_lamps)));
        c.follows("to_send_lamps", &stores.to_send_lamps, &known.then(|| sum(|p| p.to_send_lamps)));
    }
    if !(counted || one_store) && known {
        // Which lamp lies where is not known: all of them may.
        let held = stores.on_hand_lamps.saturating_add(stores.on_order_lamps);
        let missing = sum(|p| Some(p.level_lamps)).saturating_sub(held);
        c.follows("to_buy_lamps", &stores.to_buy_lamps, &Some(order_of(missing, all_served(&stores.places))));
        c.follows("to_send_lamps", &stores.to_send_lamps, &None);
    }
    if let (Some(buy), Some(price)) = (stores.to_buy_lamps, stores.to_buy_price) {
        c.equal("to_buy_price", price, stores.price_each * buy as f64);
    }
    if let Some(boxed) = &stores.boxed {
        let buy = stores.to_buy_lamps.unwrap_or(0);
        c.inside("boxed", |c| {
            let again = BoxedOrder::of(boxed.box_lamps, boxed.minimum_order_lamps, buy, stores.price_each);
            let Some(again) = again else {
                c.need("box_lamps", false, boxed.box_lamps, "more than 1, or a smallest order of more than 1");
                return;
            };
            c.follows("order_lamps", &boxed.order_lamps, &again.order_lamps);
            c.equal("order_price", boxed.order_price, again.order_price);
        });
    }
    if counted && !one_store && known {
        c.follows("on_hand_lamps", &stores.on_hand_lamps, &sum(|p| p.on_hand_lamps));
        c.follows("on_order_lamps", &stores.on_order_lamps, &sum(|p| p.on_order_lamps));
    }
    let burning = class.demand.as_ref().map(|d| d.running_lamps_count);
    if let Some(burning) = burning.or(class.bounds.as_ref().map(|b| b.running_lamps_count)) {
        let filled = stores.places.iter().filter(|p| p.kind != StoreKind::Site);
        let screens = filled.map(|p| p.screens_count).fold(0, u64::saturating_add);
        let told = format!("{burning} over all stores that the maker fills, the burning lamps of the class");
        c.need("places.screens_count", screens == burning, screens, told);
    }
    if let Some(store) = stores.places.iter().find(|p| p.kind == StoreKind::Chain) {
        let of_stock = class.stock.as_ref().and_then(|s| s.order_serves_lamps);
        let of_bounds = class.bounds.as_ref().and_then(|b| b.spares.order_serves_least_lamps);
        c.follows("places[0].order_serves_lamps", &store.order_serves_lamps, &of_stock.or(of_bounds));
        if let Some(stock) = &class.stock {
            c.equal("places[0].needed_mean_lamps", store.needed_mean_lamps, stock.mean_lamps);
        }
    }
    for (i, place) in stores.places.iter().enumerate() {
        c.inside(&format!("places[{i}]"), |c| place_agrees(c, place, stores, counted));
    }
    c.follows("sentence", &stores.sentence, &class_sentence(stores));
}

/// Which figures a place of its kind has.
fn figures_there(c: &mut Checks, place: &PlaceStock, forecast: bool, counted: bool) {
    let (depot, site) = (place.kind == StoreKind::Depot, place.kind == StoreKind::Site);
    // The one store of the chain has what the study file declares.
    let told = counted || place.kind == StoreKind::Chain;
    let at_depot = "there at a depot, and only there";
    let at_site = "there at a site of a depot with a stock count, and only there";
    for (field, got, expected, why) in [
        ("area_level_lamps", place.area_level_lamps.is_some(), depot, at_depot),
        ("apart_level_lamps", place.apart_level_lamps.is_some(), depot, at_depot),
        ("to_send_lamps", place.to_send_lamps.is_some(), site && counted, at_site),
        ("waits_for_lamps", place.waits_for_lamps.is_some(), site && counted, at_site),
        ("on_hand_lamps", place.on_hand_lamps.is_some(), told, "there with a stock count"),
        ("on_order_lamps", place.on_order_lamps.is_some(), told, "there with a stock count"),
        ("above_level_lamps", place.above_level_lamps.is_some(), told, "there with a stock count"),
        ("to_buy_lamps", place.to_buy_lamps.is_some(), told && !site, "there at a store that the maker fills"),
        ("order_serves_lamps", place.order_serves_lamps.is_some() && site, false, "none at a site of a depot"),
        ("enough_at_level_probability", place.enough_at_level_probability.is_some(), forecast, "there with a forecast"),
        ("dark_hours_per_year", place.dark_hours_per_year.is_some(), site && forecast, "there at a site of a depot"),
        (
            "dark_hours_per_year_one_more",
            place.dark_hours_per_year_one_more.is_some(),
            site && forecast,
            "there at a site of a depot",
        ),
    ] {
        c.there(field, got, expected, why);
    }
    c.need("depot", site != place.depot.is_empty(), &place.depot, "named at a site of a depot, and only there");
}

/// What the mean and the chance say of one count of lamps needed, where the level may be the fewest that meet the target.
fn mean_agrees(c: &mut Checks, place: &PlaceStock, (level, is_fewest): (u64, bool), target: f64) {
    let mean = place.needed_mean_lamps;
    c.not_negative("needed_mean_lamps", mean);
    let Some(enough) = place.enough_at_level_probability else {
        // Changes on plan are a certain number.
        return c.equal("needed_mean_lamps", mean, level as f64);
    };
    c.between("enough_at_level_probability", enough, target, 1.0);
    // More than the level are needed with the chance that it is not enough, and the level or more with more than that which the
    // target leaves.
    let above = (level as f64 + 1.0) * (1.0 - enough);
    let least = if is_fewest { above.max(level as f64 * (1.0 - target)) } else { above };
    let told = format!("at least {least}, which follows from the level and its chance");
    c.need("needed_mean_lamps", mean >= least * (1.0 - 1e-9) - 1e-12, mean, told);
}

fn place_agrees(c: &mut Checks, place: &PlaceStock, stores: &ClassStores, counted: bool) {
    let target = stores.service_target_probability;
    figures_there(c, place, stores.basis == PurchaseBasis::Forecast, counted);
    c.between("dark_hours_per_year_one_more", place.dark_hours_per_year_one_more, 0.0, place.dark_hours_per_year);
    c.not_negative("dark_hours_per_year", place.dark_hours_per_year);
    match place.kind {
        StoreKind::Depot => depot_agrees(c, place, stores),
        StoreKind::Site => {
            let depot = stores.places.iter().find(|p| p.kind == StoreKind::Depot && p.place == place.depot);
            c.need("depot", depot.is_some(), &place.depot, "a depot of the list");
            mean_agrees(c, place, (place.level_lamps, true), target);
            c.follows("pooled_at_depot", &place.pooled_at_depot, &(place.level_lamps == 0));
            if let (Some(send), Some(waits)) = (place.to_send_lamps, place.waits_for_lamps) {
                c.need("to_send_lamps", send <= place.level_lamps, send, format!("at most {}", place.level_lamps));
                // What is on order may come too late to count on.
                let missing = |there: u64| place.level_lamps.saturating_sub(there.saturating_add(send));
                let (low, high) = (missing(held(place)), missing(place.on_hand_lamps.unwrap_or(0)));
                c.need("waits_for_lamps", (low..=high).contains(&waits), waits, format!("{low} to {high}"));
            }
            c.follows("reason", &place.reason, &site_reason(place));
        }
        StoreKind::Chain | StoreKind::OwnStore => {
            mean_agrees(c, place, (place.level_lamps, true), target);
            if let Some(buy) = place.to_buy_lamps {
                let missing = place.level_lamps.saturating_sub(held(place));
                c.follows("to_buy_lamps", &buy, &order_of(missing, place.order_serves_lamps));
            }
            c.follows("reason", &place.reason, &own_reason(place));
        }
    }
    if let Some(above) = place.above_level_lamps.filter(|_| place.kind != StoreKind::Depot) {
        c.follows("above_level_lamps", &above, &held(place).saturating_sub(place.level_lamps));
    }
}

/// A depot against its sites.
fn depot_agrees(c: &mut Checks, depot: &PlaceStock, stores: &ClassStores) {
    let sites = || stores.places.iter().filter(|p| p.kind == StoreKind::Site && p.depot == depot.place);
    let sum = |of: fn(&PlaceStock) -> u64| sites().map(of).fold(0, u64::saturating_add);
    c.follows("screens_count", &depot.screens_count, &sum(|p| p.screens_count));
    let at_sites = sum(|p| p.level_lamps);
    let area = depot.area_level_lamps.unwrap_or(0);
    let level = area.saturating_sub(at_sites);
    c.follows("level_lamps", &depot.level_lamps, &level);
    let whole = level.saturating_add(at_sites);
    if depot.enough_at_level_probability.is_some() {
        mean_agrees(c, depot, (whole, whole == area), stores.service_target_probability);
    } else {
        c.equal("needed_mean_lamps", depot.needed_mean_lamps, area as f64);
    }
    // The depot's lead time is longer than the way to each of its sites.
    let least = sites().map(|p| p.needed_mean_lamps).sum::<f64>();
    let told = format!("at least {least}, what its sites need on the way from it");
    c.need("needed_mean_lamps", depot.needed_mean_lamps >= least * (1.0 - 1e-6), depot.needed_mean_lamps, told);
    let usable = sites().map(|p| held(p).min(p.level_lamps)).fold(held(depot), u64::saturating_add);
    if let Some(served) = depot.order_serves_lamps {
        c.need("order_serves_lamps", served <= whole, served, format!("at most {whole}"));
    }
    if let Some(buy) = depot.to_buy_lamps {
        c.follows("to_buy_lamps", &buy, &order_of(whole.saturating_sub(usable), depot.order_serves_lamps));
    }
    if let Some(above) = depot.above_level_lamps {
        c.follows("above_level_lamps", &above, &usable.saturating_sub(whole));
    }
    let sent = sum(|p| p.to_send_lamps.unwrap_or(0));
    if let Some(on_hand) = depot.on_hand_lamps {
        c.need("on_hand_lamps", sent <= on_hand, on_hand, format!("at least the {sent} that are sent"));
        // A site waits only where nothing is left to send.
        let waits = sum(|p| p.waits_for_lamps.unwrap_or(0));
        let told = format!("0 while the depot has {} left", counted(on_hand.saturating_sub(sent), "lamp"));
        c.need("waits_for_lamps", waits == 0 || sent >= on_hand, waits, told);
    }
    c.follows("reason", &depot.reason, &depot_reason(depot, sites(), stores.price_each));
}
