//! What a study answers about places: the stock list by depot and site.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::plan_result::PurchaseBasis;
use super::used_stock::UsedBeside;
use crate::records::Finding;
use crate::stock::OrderTerms;

/// What a place is to the lamps of a class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StoreKind {
    /// One store for the whole chain, as no depot is declared.
    Chain,
    /// A depot that fills its sites.
    Depot,
    /// A site filled from its depot.
    Site,
    /// A site of no depot, filled by the maker: a store of its own.
    OwnStore,
}

/// What to hold where, what to send and what to buy.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StockList {
    /// How the chain keeps its lamps, in plain words.
    pub sentence: String,
    /// One entry for each class, in the order declared.
    pub classes: Vec<ClassStores>,
    /// What the stock count held; empty without one.
    pub count: Option<CountSummary>,
    /// What the figures are and what may mislead, in words.
    pub notes: Vec<String>,
}

/// The stock list of one class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClassStores {
    /// Name of the class.
    pub lamp_class: String,
    /// What it rests on.
    pub basis: PurchaseBasis,
    /// Why it is a lower bound or not known; empty for a forecast.
    pub why: String,
    /// The list in plain words.
    pub sentence: String,
    /// Wanted chance of no shortage over the lead time of each place.
    pub service_target_probability: f64,
    /// Days from order to delivery by the maker.
    pub lead_time_days: u32,
    /// Price of a lamp.
    pub price_each: f64,
    /// Lamps to hold if the whole chain were one store; empty where not known.
    pub one_store_level_lamps: Option<u64>,
    /// Lamps to buy for that store: the order that the stock of the class advises. Empty where not known.
    pub one_store_order_lamps: Option<u64>,
    /// Lamps to hold, all places together; empty where not known.
    pub level_lamps: Option<u64>,
    /// Lamps on the shelf, all places together.
    pub on_hand_lamps: u64,
    /// Lamps ordered and due within the lead time, all places together.
    pub on_order_lamps: u64,
    /// Used lamps in stock, which the figures of this class do without; none where the count holds none or there is no model.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub used: Option<UsedBeside>,
    /// Lamps to send from depots to sites now; empty where not known.
    pub to_send_lamps: Option<u64>,
    /// Lamps to buy, all places together; empty where not known.
    pub to_buy_lamps: Option<u64>,
    /// Their price; empty where not known.
    pub to_buy_price: Option<f64>,
    /// What is ordered for it, all places in one order; none where the class is sold in single lamps and any number, or where
    /// it is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub boxed: Option<BoxedOrder>,
    /// Each place: the one store, or each depot with its sites behind it, then sites of no depot.
    pub places: Vec<PlaceStock>,
}

/// An order in whole boxes and of at least the smallest size.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoxedOrder {
    /// Lamps in a box.
    pub box_lamps: u64,
    /// Fewest lamps in an order; 1 for none.
    pub minimum_order_lamps: u64,
    /// Lamps to order.
    pub order_lamps: u64,
    /// Their price.
    pub order_price: f64,
}

impl BoxedOrder {
    /// The order for lamps to buy at a price each; none for single lamps in any number.
    pub(super) fn of(box_lamps: u64, minimum_order_lamps: u64, to_buy_lamps: u64, price_each: f64) -> Option<Self> {
        if box_lamps <= 1 && minimum_order_lamps <= 1 {
            return None;
        }
        let terms = OrderTerms { least_order: minimum_order_lamps, box_of: box_lamps };
        let order_lamps = if to_buy_lamps == 0 { 0 } else { terms.order_of(to_buy_lamps) };
        Some(Self { box_lamps, minimum_order_lamps, order_lamps, order_price: price_each * order_lamps as f64 })
    }
}

/// Lamps of one class at one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlaceStock {
    /// Its name; the one store has none.
    pub place: String,
    /// What it is.
    pub kind: StoreKind,
    /// The depot that fills it; blank unless it is a site of one.
    pub depot: String,
    /// Burning lamps of the class there; at a depot those of its sites.
    pub screens_count: u64,
    /// Its own lead time: to a site the way from its depot, to a depot that of the maker and the way on to a site, to any
    /// other store that of the maker.
    pub lead_time_days: u32,
    /// Mean number of lamps needed over its own lead time; without a model those of changes on plan.
    pub needed_mean_lamps: f64,
    /// Lamps to hold there. A depot holds what is left of `area_level_lamps` after its sites.
    pub level_lamps: u64,
    /// At a depot: fewest lamps, its own and those of its sites together, that meet the target over its lead time. Empty
    /// elsewhere.
    pub area_level_lamps: Option<u64>,
    /// At a depot: lamps that its sites would hold if each were a store of its own that the maker fills, for the same chance
    /// that none of them runs short, sites taken as independent. Empty elsewhere.
    pub apart_level_lamps: Option<u64>,
    /// Chance that the level is enough over its own lead time, at a depot with what its sites hold; empty without a model.
    pub enough_at_level_probability: Option<f64>,
    /// Lamps on the shelf; empty where no stock count tells.
    pub on_hand_lamps: Option<u64>,
    /// Lamps ordered for it and due within the lead time of the maker; empty where no stock count tells.
    pub on_order_lamps: Option<u64>,
    /// Lamps above its level: sent back they would serve elsewhere. Empty where no stock count tells.
    pub above_level_lamps: Option<u64>,
    /// At a site of a depot: lamps to send to it now, of those on the depot's shelf. Empty elsewhere or without a count.
    pub to_send_lamps: Option<u64>,
    /// At a site of a depot: lamps that it lacks and its depot does not have. Empty elsewhere or without a count.
    pub waits_for_lamps: Option<u64>,
    /// At a store that the maker fills: most lamps that an order of today serves there, those of screens that still burn when
    /// it comes. None elsewhere or where every screen may.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub order_serves_lamps: Option<u64>,
    /// At a store that the maker fills: lamps to buy; empty elsewhere or without a count.
    pub to_buy_lamps: Option<u64>,
    /// Whether its lamps are pooled at the depot: it holds none of its own.
    pub pooled_at_depot: bool,
    /// At a site of a depot: dark screen hours a year after failures with this level, while a lamp comes from the depot.
    /// Empty elsewhere or without a model.
    pub dark_hours_per_year: Option<f64>,
    /// The same with one lamp more.
    pub dark_hours_per_year_one_more: Option<f64>,
    /// Why so many, in plain words.
    pub reason: String,
}

/// What a stock count held: rows = used + set aside.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CountSummary {
    /// File as declared.
    pub file: String,
    /// Day of the count.
    pub counted_on: NaiveDate,
    /// Rows below the header.
    pub rows_count: u64,
    /// Rows used.
    pub used_count: u64,
    /// Rows not used.
    pub set_aside_count: u64,
    /// Good used lamps, which are emergency spares: in no order of the list, told beside those of their class
    /// ([`ClassStores::used`]) and beside its spares
    /// ([`super::UsedStock`]) and counted in last buys.
    pub used_lamps_count: u64,
    /// Lamps on order that are due after the lead time: in no figure of the list, and in the purchase plan from their day on.
    pub later_orders_lamps: u64,
    /// What to know before using any figure; empty where nothing is to be said.
    pub warning: String,
    /// Every finding, in order of rows.
    pub findings: Vec<Finding>,
}
