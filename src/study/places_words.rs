//! The stock list in plain words, put together from its figures.

use std::fmt::Write;

use super::places_result::{ClassStores, PlaceStock, StoreKind};
use super::plan_result::PurchaseBasis;
use crate::base::figure::{counted, fitting, percent, tenths, whole};

/// What the figures of the list are, in words.
pub(super) fn notes(one_store: bool, counted: bool) -> Vec<String> {
    let mut notes = vec![
        "the level of a place is the fewest lamps for which the chance of no shortage over its own lead time meets the service \
         target; lamps that are due today are in it",
    ];
    if one_store {
        notes.push("one store for the whole chain: a lamp is taken to be at hand wherever one is needed");
    } else {
        notes.push(
            "a depot and its sites are judged together over the maker's lead time and the way to a site: the target is met \
             while lamps of one site can serve another; what sites hold is taken off what the depot holds",
        );
        notes.push(
            "a site holds none where the chance that it needs a lamp while one comes from the depot is within what the target \
             allows: its lamps are pooled at the depot",
        );
        notes.push(
            "dark hours are those of screens that wait for the way from the depot after a failure, at the mean failures of the \
             forecast and with a lamp at the depot; for planned changes lamps are sent before their day; a screen that stops \
             counts while it burns in the year ahead",
        );
        notes.push(
            "each place meets the target by itself, which mostly takes more lamps than the chain as one store: to fill these \
             places, buy now what stands here in place of what the purchase plan orders now, which takes the chain as one store",
        );
    }
    if !counted && !one_store {
        notes
            .push("no stock count is declared: which place has which lamps is not known, and what to send is not told");
    }
    notes.into_iter().map(str::to_owned).collect()
}

/// How the chain keeps its lamps.
pub(super) fn sentence(depots: usize, sites: usize, own: usize) -> String {
    if depots == 0 {
        return "no depot is declared: the list is for one store for the whole chain".to_owned();
    }
    let mut text = format!(
        "{} {} {}",
        counted(depots as u64, "depot"),
        fitting(depots as u64, "fills", "fill"),
        counted(sites as u64, "site")
    );
    if own > 0 {
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            "; {} of no depot {} by the maker, each a store of its own",
            counted(own as u64, "site"),
            fitting(own as u64, "is filled", "are filled")
        );
    }
    text.push_str("; to fill these places buy now what stands here in place of what the purchase plan orders now");
    text
}

/// Lamps at a place, on the shelf and on their way.
pub(super) fn held(place: &PlaceStock) -> u64 {
    place.on_hand_lamps.unwrap_or(0).saturating_add(place.on_order_lamps.unwrap_or(0))
}

/// Lamps missing to the levels of a store that the maker fills and of its sites, for screens that stop before an order of today
/// comes; none where every screen may burn then, or where no count tells what is there.
fn unserved<'a>(store: &PlaceStock, sites: impl Iterator<Item = &'a PlaceStock>) -> u64 {
    let (Some(_), Some(buy)) = (store.order_serves_lamps, store.to_buy_lamps) else { return 0 };
    let (mut level, mut usable) = (store.level_lamps, held(store));
    for site in sites {
        level = level.saturating_add(site.level_lamps);
        usable = usable.saturating_add(held(site).min(site.level_lamps));
    }
    level.saturating_sub(usable).saturating_sub(buy)
}

/// What is missing and no order brings, as the end of a sentence; nothing where nothing is.
fn unserved_words(lamps: u64) -> String {
    match lamps {
        0 => String::new(),
        n => format!(
            "; {} more {} missing for screens that stop before an order of today comes",
            counted(n, "lamp"),
            fitting(n, "is", "are")
        ),
    }
}

/// The same over all stores of a class.
fn class_unserved(stores: &ClassStores, level: u64, buy: u64) -> u64 {
    let filled = || stores.places.iter().filter(|p| p.kind != StoreKind::Site);
    let of = |depot: &PlaceStock| {
        let depot = depot.place.clone();
        stores.places.iter().filter(move |p| p.kind == StoreKind::Site && p.depot == depot)
    };
    if filled().any(|p| p.to_buy_lamps.is_some()) {
        return filled().map(|p| unserved(p, of(p))).fold(0, u64::saturating_add);
    }
    let held = stores.on_hand_lamps.saturating_add(stores.on_order_lamps);
    if filled().any(|p| p.order_serves_lamps.is_some()) { level.saturating_sub(held).saturating_sub(buy) } else { 0 }
}

/// The list of a class.
pub(super) fn class_sentence(stores: &ClassStores) -> String {
    let (Some(level), Some(buy)) = (stores.level_lamps, stores.to_buy_lamps) else {
        return format!("what to hold is not known: {}", stores.why);
    };
    let least = if stores.basis == PurchaseBasis::LowerBound { "at least: " } else { "" };
    let on_hand = whole(stores.on_hand_lamps as f64);
    let on_order = whole(stores.on_order_lamps as f64);
    let mut text = format!("{least}hold {}, {on_hand} on hand and {on_order} on order: ", counted(level, "lamp"));
    // Writing to a string cannot fail.
    let _ = match buy {
        0 => write!(text, "buy none"),
        n => write!(text, "buy {}", whole(n as f64)),
    };
    if let Some(boxed) = stores.boxed.filter(|b| b.order_lamps > buy) {
        let _ =
            write!(text, ", which is an order of {}: the box or the smallest order", whole(boxed.order_lamps as f64));
    }
    if let Some(send) = stores.to_send_lamps.filter(|n| *n > 0) {
        let _ = write!(text, ", send {} from depots to sites", whole(send as f64));
    }
    text.push_str(&unserved_words(class_unserved(stores, level, buy)));
    let apart = stores.places.iter().any(|p| p.kind != StoreKind::Chain);
    if let Some(one) = stores.one_store_level_lamps.filter(|_| apart) {
        let order = stores.one_store_order_lamps.unwrap_or(0);
        let _ = write!(
            text,
            "; as one store, as in the purchase plan, the chain would hold {} and buy {}",
            whole(one as f64),
            whole(order as f64)
        );
    }
    text.push_str(&stores.used.map(|used| used.words()).unwrap_or_default());
    text
}

fn within(place: &PlaceStock) -> String {
    counted(u64::from(place.lead_time_days), "day")
}

/// What holds of a place without a burning lamp of the class, in place of a chance that is certain.
const NO_SCREENS: &str = "no screens of this class to serve";

/// Why a store that the maker fills holds so many.
pub(super) fn own_reason(place: &PlaceStock) -> String {
    if place.screens_count == 0 {
        return NO_SCREENS.to_owned();
    }
    let text = match place.enough_at_level_probability {
        Some(enough) if place.level_lamps == 0 => {
            format!("no lamp is needed over {} with a chance of {}", within(place), percent(enough))
        }
        Some(enough) => format!(
            "{} {} enough over {} with a chance of {}",
            counted(place.level_lamps, "lamp"),
            fitting(place.level_lamps, "is", "are"),
            within(place),
            percent(enough)
        ),
        None => format!("{} by changes on plan over {}", counted(place.level_lamps, "lamp"), within(place)),
    };
    text + &unserved_words(unserved(place, std::iter::empty()))
}

/// Why a site of a depot holds so many.
pub(super) fn site_reason(place: &PlaceStock) -> String {
    if place.screens_count == 0 {
        return NO_SCREENS.to_owned();
    }
    let Some(enough) = place.enough_at_level_probability else {
        return match place.level_lamps {
            0 => format!("no change on plan within {}: pooled at {}", within(place), place.depot),
            n => format!("{} by changes on plan within {}", counted(n, "lamp"), within(place)),
        };
    };
    let mut text = if place.pooled_at_depot {
        format!(
            "pooled at {}: no lamp is needed within {} with a chance of {}",
            place.depot,
            within(place),
            percent(enough)
        )
    } else {
        let level = place.level_lamps;
        format!(
            "{} {} enough within {} with a chance of {}",
            counted(level, "lamp"),
            fitting(level, "is", "are"),
            within(place),
            percent(enough)
        )
    };
    if let (Some(dark), Some(more)) = (place.dark_hours_per_year, place.dark_hours_per_year_one_more) {
        let one = if place.pooled_at_depot { "one lamp here" } else { "one lamp more" };
        let hours = if tenths(dark) == "1" { "hour" } else { "hours" };
        let _ = write!(text, "; {} dark {hours} a year, {} with {one}", tenths(dark), tenths(more));
    }
    text
}

/// Why a depot holds so many, and what its pooling saves.
pub(super) fn depot_reason<'a>(
    depot: &PlaceStock,
    sites: impl Iterator<Item = &'a PlaceStock> + Clone,
    price: f64,
) -> String {
    if depot.screens_count == 0 {
        return NO_SCREENS.to_owned();
    }
    let (mut pooled, mut dark, mut less, mut at_sites) = (0_u64, 0.0, 0.0, 0_u64);
    for site in sites.clone() {
        at_sites = at_sites.saturating_add(site.level_lamps);
        if site.pooled_at_depot && site.screens_count > 0 {
            pooled += 1;
            dark += site.dark_hours_per_year.unwrap_or(0.0);
            less += site.dark_hours_per_year_one_more.unwrap_or(0.0);
        }
    }
    let together = depot.level_lamps.saturating_add(at_sites);
    let mut text = match depot.enough_at_level_probability {
        Some(enough) => format!(
            "with its sites {}, enough over {} with a chance of {}",
            counted(together, "lamp"),
            within(depot),
            percent(enough)
        ),
        None => format!("with its sites {} by changes on plan over {}", counted(together, "lamp"), within(depot)),
    };
    text.push_str(&unserved_words(unserved(depot, sites)));
    if let Some(apart) = depot.apart_level_lamps {
        let _ = write!(
            text,
            "; as stores of their own its sites would hold {} for the same chance that none runs short",
            whole(apart as f64)
        );
    }
    if pooled > 0 {
        let _ = write!(text, "; {} {} none", counted(pooled, "site"), fitting(pooled, "holds", "hold"));
        if depot.enough_at_level_probability.is_some() {
            let _ = write!(
                text,
                ": one lamp at each would cost {} and spare {} of {} dark hours a year",
                whole(price * pooled as f64),
                tenths(dark - less),
                tenths(dark)
            );
        }
    }
    text
}
