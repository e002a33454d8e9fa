//! The stock list as a table that people open in a spreadsheet.

use super::places_result::{ClassStores, PlaceStock, StockList, StoreKind};
use super::tables_plan::basis_word;
use crate::base::spreadsheet::{Cell, Sheet, whole};

/// `stock_list.csv`: a row for each class and place.
pub(super) fn stock_list_csv(list: &StockList) -> String {
    let mut table = Sheet::new(&[
        "lamp_class",
        "basis",
        "kind",
        "depot",
        "place",
        "screens",
        "lead_time_days",
        "needed_mean_lamps",
        "level_lamps",
        "enough_at_level_probability",
        "on_hand_lamps",
        "on_order_lamps",
        "to_send_lamps",
        "waits_for_lamps",
        "to_buy_lamps",
        "order_serves_lamps",
        "above_level_lamps",
        "pooled_at_depot",
        "dark_hours_per_year",
        "dark_hours_per_year_one_more",
        "reason",
    ]);
    for stores in &list.classes {
        for place in &stores.places {
            row(&mut table, stores, place);
        }
    }
    table.finish()
}

pub(super) fn kind_word(kind: StoreKind) -> &'static str {
    match kind {
        StoreKind::Chain => "chain",
        StoreKind::Depot => "depot",
        StoreKind::Site => "site",
        StoreKind::OwnStore => "own_store",
    }
}

fn row(table: &mut Sheet, stores: &ClassStores, place: &PlaceStock) {
    let number = |x: Option<f64>| x.map_or(Cell::Blank, Cell::Number);
    let lamps = |n: Option<u64>| n.map_or(Cell::Blank, whole);
    table.row(&[
        Cell::Text(&stores.lamp_class),
        Cell::Text(basis_word(stores.basis)),
        Cell::Text(kind_word(place.kind)),
        Cell::Text(&place.depot),
        Cell::Text(&place.place),
        whole(place.screens_count),
        whole(u64::from(place.lead_time_days)),
        Cell::Number(place.needed_mean_lamps),
        whole(place.level_lamps),
        number(place.enough_at_level_probability),
        lamps(place.on_hand_lamps),
        lamps(place.on_order_lamps),
        lamps(place.to_send_lamps),
        lamps(place.waits_for_lamps),
        lamps(place.to_buy_lamps),
        lamps(place.order_serves_lamps),
        lamps(place.above_level_lamps),
        Cell::Text(if place.pooled_at_depot { "yes" } else { "no" }),
        number(place.dark_hours_per_year),
        number(place.dark_hours_per_year_one_more),
        Cell::Text(&place.reason),
    ]);
}
