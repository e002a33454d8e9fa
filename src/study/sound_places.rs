//! What must hold of a saved stock list: sums, and the classes it is for.

use super::class_result::ClassResult;
use super::places_found::said;
use super::places_result::{ClassStores, PlaceStock, StockList, StoreKind};
use super::places_words::{class_sentence, depot_reason, notes, own_reason, site_reason};
use super::plan_result::PurchaseBasis;
use super::results::StudyResults;
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
    let (basis, level, order, held) = match (&class.stock, &class.bounds) {
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
    if let Some((on_hand, on_order)) = held {
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
    if let (Some(buy), Some(price)) = (stores.to_buy_lamps, stores.to_buy_price) {
        c.equal("to_buy_price", price, stores.price_each * buy as f64);
    }
    if counted && !one_store && known {
        c.follows("on_hand_lamps", &stores.on_hand_lamps, &sum(|p| p.on_hand_lamps));
        c.follows("on_order_lamps", &stores.on_order_lamps, &sum(|p| p.on_order_lamps));
    }
    for (i, place) in stores.places.iter().enumerate() {
        c.inside(&format!("places[{i}]"), |c| place_agrees(c, place, stores));
    }
    c.follows("sentence", &stores.sentence, &class_sentence(stores));
}

fn place_agrees(c: &mut Checks, place: &PlaceStock, stores: &ClassStores) {
    c.not_negative("needed_mean_lamps", place.needed_mean_lamps);
    c.share("enough_at_level_probability", place.enough_at_level_probability);
    if place.enough_at_level_probability.is_some() {
        c.between(
            "enough_at_level_probability",
            place.enough_at_level_probability,
            stores.service_target_probability,
            None,
        );
    }
    c.not_negative("dark_hours_per_year", place.dark_hours_per_year);
    c.between("dark_hours_per_year_one_more", place.dark_hours_per_year_one_more, 0.0, place.dark_hours_per_year);
    let of = |p: &&PlaceStock| p.kind == StoreKind::Site && p.depot == place.place;
    let held = |p: &PlaceStock| p.on_hand_lamps.unwrap_or(0).saturating_add(p.on_order_lamps.unwrap_or(0));
    match place.kind {
        StoreKind::Depot => {
            let sites = || stores.places.iter().filter(of);
            let at_sites = sites().map(|p| p.level_lamps).fold(0, u64::saturating_add);
            let level = place.area_level_lamps.unwrap_or(0).saturating_sub(at_sites);
            c.follows("level_lamps", &place.level_lamps, &level);
            let usable = sites().map(|p| held(p).min(p.level_lamps)).fold(held(place), u64::saturating_add);
            if let Some(buy) = place.to_buy_lamps {
                let whole = level.saturating_add(at_sites);
                c.follows("to_buy_lamps", &buy, &whole.saturating_sub(usable));
            }
            let sent = sites().filter_map(|p| p.to_send_lamps).fold(0, u64::saturating_add);
            if let Some(on_hand) = place.on_hand_lamps {
                c.need("on_hand_lamps", sent <= on_hand, on_hand, format!("at least the {sent} that are sent"));
            }
            c.follows("reason", &place.reason, &depot_reason(place, sites(), stores.price_each));
        }
        StoreKind::Site => {
            let known = stores.places.iter().any(|p| p.kind == StoreKind::Depot && p.place == place.depot);
            c.need("depot", known, &place.depot, "a depot of the list");
            c.follows("pooled_at_depot", &place.pooled_at_depot, &(place.level_lamps == 0));
            if let Some(send) = place.to_send_lamps {
                c.need("to_send_lamps", send <= place.level_lamps, send, format!("at most {}", place.level_lamps));
            }
            c.follows("reason", &place.reason, &site_reason(place));
        }
        StoreKind::Chain | StoreKind::OwnStore => {
            if let Some(buy) = place.to_buy_lamps {
                c.follows("to_buy_lamps", &buy, &place.level_lamps.saturating_sub(held(place)));
            }
            c.follows("reason", &place.reason, &own_reason(place));
        }
    }
    if let Some(above) = place.above_level_lamps.filter(|_| place.kind != StoreKind::Depot) {
        c.follows("above_level_lamps", &above, &held(place).saturating_sub(place.level_lamps));
    }
}
