//! The stock list of a class: what each place holds, sends and buys.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::bounds::DemandBounds;
use super::burning::Burning;
use super::decide::{YEAR_DAYS, day_after, order_of, still_burning};
use super::decision_result::{DemandResult, StockResult};
use super::declare_class::LampClass;
use super::places_result::{BoxedOrder, ClassStores, PlaceStock, StoreKind};
use super::places_words::{class_sentence, depot_reason, own_reason, site_reason};
use super::plan_result::PurchaseBasis;
use super::used_stock::UsedBeside;
use crate::base::error::Result;
use crate::base::run::Run;
use crate::demand::{Count, Horizon, NeededOf, SocketUntil, needed_by_days, planned_changes_until};
use crate::fit::Draws;
use crate::stock::{Places, Site, StockCount, level, place_service};

/// Where the lamps of the chain are kept, found among the sites of the logs.
#[derive(Debug, Default)]
pub(super) struct StoresKnown {
    /// Depots with their days to a site, in the order declared.
    pub(super) depots: Vec<(String, u32)>,
    /// The depot of each site, as the logs write the site.
    pub(super) depot_of: BTreeMap<String, usize>,
    /// What the count holds; none without one.
    pub(super) count: Option<StockCount>,
    pub(super) as_of: NaiveDate,
}

/// What is asked for a class: lamps needed by some screens within some days.
trait Needs {
    /// Whether the screen burns on when an order comes on a day.
    fn served(&self, socket: &SocketUntil, day: u32) -> bool;
    fn needed(&self, parts: &[NeededOf<'_>]) -> Result<Vec<Vec<Count>>>;
}

struct OfDraws<'a>(&'a dyn Draws, f64, &'a Run);

impl Needs for OfDraws<'_> {
    fn served(&self, socket: &SocketUntil, day: u32) -> bool {
        socket.burns_from(f64::from(day))
    }

    fn needed(&self, parts: &[NeededOf<'_>]) -> Result<Vec<Vec<Count>>> {
        needed_by_days(parts, self.0, self.1, self.2)
    }
}

/// Changes on plan only.
struct OnPlan<'a>(&'a LampClass, f64);

impl Needs for OnPlan<'_> {
    fn served(&self, socket: &SocketUntil, day: u32) -> bool {
        socket.earliest > f64::from(day)
    }

    fn needed(&self, parts: &[NeededOf<'_>]) -> Result<Vec<Vec<Count>>> {
        let by = |part: &NeededOf<'_>, day: u32| {
            let periods = planned_changes_until(part.sockets, self.1, &self.0.limit, Horizon::days(f64::from(day)))?;
            Ok(Count::certain(periods.first().map_or(0, |p| p.changes_by_end)))
        };
        parts.iter().map(|part| part.days.iter().map(|day| by(part, *day)).collect()).collect()
    }
}

/// The list of a class with a model.
pub(super) fn class_stores(
    class: &LampClass,
    known: &StoresKnown,
    burning: &[Burning],
    (demand, stock): (&DemandResult, &StockResult),
    draws: &dyn Draws,
    run: &Run,
) -> Result<ClassStores> {
    let days: i64 = demand.months.iter().map(|m| (m.to - m.from).num_days() + 1).sum();
    let hours = if burning.iter().all(|b| b.stop.is_none() && b.pace.is_none()) {
        let weeks: f64 = demand.months.iter().map(|m| ((m.to - m.from).num_days() + 1) as f64 / 7.0).sum();
        weeks * demand.programme_hours_per_week
    } else {
        let of_lamp = |b: &Burning| b.socket.hours_per_week / 7.0 * b.until(known.as_of).mean_days(days as f64);
        burning.iter().map(of_lamp).sum()
    };
    let failures: f64 = demand.months.iter().map(|m| m.failure_mean_lamps).sum();
    let head = Head {
        basis: PurchaseBasis::Forecast,
        why: String::new(),
        target: stock.service_target_probability,
        one_store: Some((stock.level_lamps, stock.order_lamps, stock.mean_lamps)),
        order_serves: stock.order_serves_lamps,
        enough: Some(stock.service_at_level_probability),
        failures_per_hour: if hours > 0.0 { Some(failures / hours) } else { Some(0.0) },
    };
    let mut stores = put_together(class, known, burning, &head, &OfDraws(draws, demand.planned_age_hours, run))?;
    stores.used = stock.used.as_ref().map(UsedBeside::of);
    stores.sentence = class_sentence(&stores);
    Ok(stores)
}

/// The list of a class without a model: changes on plan only.
pub(super) fn class_stores_least(
    class: &LampClass,
    known: &StoresKnown,
    burning: &[Burning],
    bounds: &DemandBounds,
) -> Result<ClassStores> {
    let spares = &bounds.spares;
    let head = Head {
        basis: PurchaseBasis::LowerBound,
        why: super::bounds::LABEL.to_owned(),
        target: spares.service_target_probability,
        one_store: Some((spares.least_lamps, spares.order_least_lamps, spares.least_lamps as f64)),
        order_serves: spares.order_serves_least_lamps,
        enough: None,
        failures_per_hour: None,
    };
    put_together(class, known, burning, &head, &OnPlan(class, bounds.planned_age_hours))
}

/// A class of which no lamp burns in the logs.
pub(super) fn class_stores_not_known(class: &LampClass, target: f64, why: &str) -> ClassStores {
    let mut stores = ClassStores {
        lamp_class: class.name.clone(),
        basis: PurchaseBasis::NotKnown,
        why: why.to_owned(),
        sentence: String::new(),
        service_target_probability: target,
        lead_time_days: class.lead_time_days,
        price_each: class.price,
        one_store_level_lamps: None,
        one_store_order_lamps: None,
        level_lamps: None,
        on_hand_lamps: class.on_hand,
        on_order_lamps: class.on_order,
        used: None,
        to_send_lamps: None,
        to_buy_lamps: None,
        to_buy_price: None,
        boxed: None,
        places: Vec::new(),
    };
    stores.sentence = class_sentence(&stores);
    stores
}

/// What orders of today serve over all stores that the maker fills; none where every screen may burn when they come.
pub(super) fn all_served(places: &[PlaceStock]) -> Option<u64> {
    let filled = || places.iter().filter(|p| p.kind != StoreKind::Site);
    if filled().all(|p| p.order_serves_lamps.is_none()) {
        return None;
    }
    let of_site = |depot: &PlaceStock| {
        let sites = places.iter().filter(|p| p.kind == StoreKind::Site && p.depot == depot.place);
        sites.map(|p| p.level_lamps).fold(depot.level_lamps, u64::saturating_add)
    };
    let most = filled().map(|p| p.order_serves_lamps.unwrap_or_else(|| of_site(p)));
    Some(most.fold(0, u64::saturating_add))
}

struct Head {
    basis: PurchaseBasis,
    why: String,
    target: f64,
    /// Level, order and mean of the chain as one store.
    one_store: Option<(u64, u64, f64)>,
    /// What an order of today serves of it; none where every screen may burn when it comes.
    order_serves: Option<u64>,
    enough: Option<f64>,
    failures_per_hour: Option<f64>,
}

/// One site with its lamps.
struct SiteOf {
    name: String,
    depot: Option<usize>,
    sockets: Vec<SocketUntil>,
}

fn put_together(
    class: &LampClass,
    known: &StoresKnown,
    burning: &[Burning],
    head: &Head,
    needs: &dyn Needs,
) -> Result<ClassStores> {
    let target = head.target;
    let mut stores = ClassStores {
        basis: head.basis,
        why: head.why.clone(),
        one_store_level_lamps: head.one_store.map(|s| s.0),
        one_store_order_lamps: head.one_store.map(|s| s.1),
        ..class_stores_not_known(class, target, "")
    };
    stores.places = if known.depots.is_empty() {
        vec![one_store(class, burning, head)]
    } else {
        apart(class, known, burning, head, needs)?
    };
    let sum = |of: fn(&PlaceStock) -> Option<u64>| stores.places.iter().filter_map(of).fold(0, u64::saturating_add);
    let held = class.on_hand.saturating_add(class.on_order);
    let level_lamps = sum(|p| Some(p.level_lamps));
    let counted = known.count.is_some() || known.depots.is_empty();
    // Without a count it is not known which lamp lies where: all of them may.
    let to_buy = if counted {
        sum(|p| p.to_buy_lamps)
    } else {
        order_of(level_lamps.saturating_sub(held), all_served(&stores.places))
    };
    stores.to_send_lamps = counted.then(|| sum(|p| p.to_send_lamps));
    stores.level_lamps = Some(level_lamps);
    stores.to_buy_lamps = Some(to_buy);
    stores.to_buy_price = Some(class.price * to_buy as f64);
    stores.boxed = BoxedOrder::of(class.box_lamps, class.minimum_order_lamps, to_buy, class.price);
    stores.sentence = class_sentence(&stores);
    Ok(stores)
}

fn place(name: &str, kind: StoreKind, screens: usize, lead: u32, needed: f64, level: u64) -> PlaceStock {
    PlaceStock {
        place: name.to_owned(),
        kind,
        depot: String::new(),
        screens_count: screens as u64,
        lead_time_days: lead,
        needed_mean_lamps: needed,
        level_lamps: level,
        area_level_lamps: None,
        apart_level_lamps: None,
        enough_at_level_probability: None,
        on_hand_lamps: None,
        on_order_lamps: None,
        above_level_lamps: None,
        to_send_lamps: None,
        waits_for_lamps: None,
        order_serves_lamps: None,
        to_buy_lamps: None,
        pooled_at_depot: false,
        dark_hours_per_year: None,
        dark_hours_per_year_one_more: None,
        reason: String::new(),
    }
}

/// The whole chain as one store: what the stock of the class says.
fn one_store(class: &LampClass, burning: &[Burning], head: &Head) -> PlaceStock {
    let (level, order, mean) = head.one_store.unwrap_or_default();
    let held = class.on_hand.saturating_add(class.on_order);
    let mut store = PlaceStock {
        enough_at_level_probability: head.enough,
        on_hand_lamps: Some(class.on_hand),
        on_order_lamps: Some(class.on_order),
        above_level_lamps: Some(held.saturating_sub(level)),
        order_serves_lamps: head.order_serves,
        to_buy_lamps: Some(order),
        ..place("", StoreKind::Chain, burning.len(), class.lead_time_days, mean, level)
    };
    store.reason = own_reason(&store);
    store
}

/// Depots with their sites, then sites of no depot.
fn apart(
    class: &LampClass,
    known: &StoresKnown,
    burning: &[Burning],
    head: &Head,
    needs: &dyn Needs,
) -> Result<Vec<PlaceStock>> {
    let lead = class.lead_time_days;
    let sites = sites_of(class, known, burning);
    let of_depot = |depot: usize| {
        sites.iter().filter(|s| s.depot == Some(depot)).flat_map(|s| s.sockets.iter().cloned()).collect::<Vec<_>>()
    };
    let areas: Vec<(Vec<SocketUntil>, [u32; 1])> =
        known.depots.iter().enumerate().map(|(i, (_, days))| (of_depot(i), [lead.saturating_add(*days)])).collect();
    let own_days: Vec<[u32; 2]> =
        sites.iter().map(|s| [s.depot.and_then(|d| known.depots.get(d)).map_or(lead, |d| d.1), lead]).collect();
    let mut parts: Vec<NeededOf<'_>> =
        areas.iter().map(|(sockets, days)| NeededOf { sockets, days: days.as_slice() }).collect();
    parts.extend(sites.iter().zip(&own_days).map(|(s, days)| NeededOf { sockets: &s.sockets, days: days.as_slice() }));
    let found = needs.needed(&parts)?;
    let served = served_levels(&areas, &sites, lead, head.target, needs)?;
    let (of_areas, of_sites) = found.split_at(areas.len().min(found.len()));
    let forecast = head.basis == PurchaseBasis::Forecast;
    let none = Count::certain(0);
    let mut places = Vec::new();
    for (d, (name, days)) in known.depots.iter().enumerate() {
        let mut here = Vec::new();
        let mut apart_level: u64 = 0;
        // With as many stores as sites each has to be surer, so that none of them runs short with the same chance.
        let stores = sites.iter().filter(|s| s.depot == Some(d) && !s.sockets.is_empty()).count().max(1);
        let each = head.target.powf(1.0 / stores as f64);
        for ((site, counts), own) in sites.iter().zip(of_sites).zip(&own_days).filter(|((s, _), _)| s.depot == Some(d))
        {
            let needed = counts.first().unwrap_or(&none);
            let alone = level(counts.get(1).unwrap_or(&none), each, 0, 0)?.level;
            apart_level = apart_level.saturating_add(alone);
            let advice = level(needed, head.target, 0, 0)?;
            let [to_site, _] = *own;
            let row = PlaceStock {
                depot: name.clone(),
                enough_at_level_probability: forecast.then_some(advice.service_at_level),
                pooled_at_depot: advice.level == 0,
                ..place(&site.name, StoreKind::Site, site.sockets.len(), to_site, needed.mean(), advice.level)
            };
            here.push((row, needed.clone(), site));
        }
        let at_sites = here.iter().map(|(row, _, _)| row.level_lamps).fold(0, u64::saturating_add);
        let area = of_areas.get(d).and_then(|c| c.first()).unwrap_or(&none);
        let area_level = level(area, head.target, 0, 0)?.level;
        let whole = area_level.max(at_sites);
        let screens = here.iter().map(|(_, _, s)| s.sockets.len()).sum();
        let mut depot = PlaceStock {
            area_level_lamps: Some(area_level),
            apart_level_lamps: Some(apart_level),
            enough_at_level_probability: forecast.then(|| area.at_most(whole)),
            ..place(name, StoreKind::Depot, screens, lead.saturating_add(*days), area.mean(), whole - at_sites)
        };
        depot.order_serves_lamps = served.get(d).copied().flatten().map(|area| {
            // A site is filled to its own level as long as one of its screens burns.
            let by = lead.saturating_add(*days);
            let burns = |s: &SiteOf| s.sockets.iter().any(|k| needs.served(k, by));
            let at_sites = here.iter().filter(|(_, _, s)| burns(s)).map(|(row, _, _)| row.level_lamps);
            at_sites.fold(0, u64::saturating_add).max(area)
        });
        if let Some(count) = &known.count {
            let by = day_after(known.as_of, lead);
            let at_depot =
                (count.on_hand_or_none(&class.name, Some(name)), count.due_by_or_none(&class.name, Some(name), by));
            sent(&mut here, at_depot.0, class, count, known.as_of);
            let usable = here.iter().map(|(row, _, _)| {
                let held = row.on_hand_lamps.unwrap_or(0).saturating_add(row.on_order_lamps.unwrap_or(0));
                held.min(row.level_lamps)
            });
            let held = at_depot.0.saturating_add(at_depot.1);
            let usable = usable.fold(held, u64::saturating_add);
            depot.on_hand_lamps = Some(at_depot.0);
            depot.on_order_lamps = Some(at_depot.1);
            depot.above_level_lamps = Some(usable.saturating_sub(whole));
            depot.to_buy_lamps = Some(order_of(whole.saturating_sub(usable), depot.order_serves_lamps));
        }
        if let Some(rate) = head.failures_per_hour {
            dark(&mut here, rate, *days)?;
        }
        depot.reason = depot_reason(&depot, here.iter().map(|(row, _, _)| row), class.price);
        places.push(depot);
        places.extend(here.into_iter().map(|(mut row, _, _)| {
            row.reason = site_reason(&row);
            row
        }));
    }
    let of_sites_served = served.iter().skip(areas.len());
    let own = sites.iter().zip(of_sites).zip(of_sites_served).filter(|((s, _), _)| s.depot.is_none());
    for ((site, counts), served) in own {
        let needed = counts.first().unwrap_or(&none);
        let advice = level(needed, head.target, 0, 0)?;
        let mut row = PlaceStock {
            enough_at_level_probability: forecast.then_some(advice.service_at_level),
            order_serves_lamps: *served,
            ..place(&site.name, StoreKind::OwnStore, site.sockets.len(), lead, needed.mean(), advice.level)
        };
        if let Some(count) = &known.count {
            let by = day_after(known.as_of, lead);
            let on_hand = count.on_hand_or_none(&class.name, Some(&site.name));
            let on_order = count.due_by_or_none(&class.name, Some(&site.name), by);
            let held = on_hand.saturating_add(on_order);
            row.on_hand_lamps = Some(on_hand);
            row.on_order_lamps = Some(on_order);
            row.above_level_lamps = Some(held.saturating_sub(advice.level));
            row.to_buy_lamps = Some(order_of(advice.level.saturating_sub(held), *served));
        }
        row.reason = own_reason(&row);
        places.push(row);
    }
    Ok(places)
}

/// What an order of today serves in each area of a depot, then at each site of no depot; none where every screen there may burn
/// when it comes.
fn served_levels(
    areas: &[(Vec<SocketUntil>, [u32; 1])],
    sites: &[SiteOf],
    lead: u32,
    target: f64,
    needs: &dyn Needs,
) -> Result<Vec<Option<u64>>> {
    let of_areas = areas.iter().map(|(sockets, days)| (sockets.as_slice(), *days));
    // A site of a depot is served through it.
    let of_site = |s: &'_ SiteOf| if s.depot.is_none() { s.sockets.clone() } else { Vec::new() };
    let of_sites: Vec<Vec<SocketUntil>> = sites.iter().map(of_site).collect();
    let all = of_areas.chain(of_sites.iter().map(|sockets| (sockets.as_slice(), [lead])));
    let left: Vec<_> = all
        .map(|(sockets, days)| (still_burning(sockets, |s| days.iter().all(|day| needs.served(s, *day))), days))
        .collect();
    let parts: Vec<NeededOf<'_>> =
        left.iter().filter_map(|(sockets, days)| Some(NeededOf { sockets: sockets.as_deref()?, days })).collect();
    let mut found = if parts.is_empty() { Vec::new() } else { needs.needed(&parts)? }.into_iter();
    let of_place = |(sockets, _): &(Option<Vec<SocketUntil>>, [u32; 1])| {
        let needed = sockets.as_ref().and_then(|_| found.next());
        let over_lead = needed.and_then(|days| days.into_iter().next());
        over_lead.map(|needed| Ok(level(&needed, target, 0, 0)?.level)).transpose()
    };
    left.iter().map(of_place).collect()
}

/// Sites with burning lamps of the class, and those where some lie or are on their way, in order of name.
fn sites_of(class: &LampClass, known: &StoresKnown, burning: &[Burning]) -> Vec<SiteOf> {
    let mut by_site: BTreeMap<&str, Vec<SocketUntil>> = BTreeMap::new();
    for lamp in burning {
        by_site.entry(&lamp.site).or_default().push(lamp.until(known.as_of));
    }
    let depots: Vec<&str> = known.depots.iter().map(|d| d.0.as_str()).collect();
    let counted = known.count.iter().flat_map(StockCount::places);
    for (_, place) in counted.filter(|(of, place)| *of == class.name && !depots.contains(place)) {
        by_site.entry(place).or_default();
    }
    let site = |(name, sockets): (&str, Vec<SocketUntil>)| SiteOf {
        name: name.to_owned(),
        depot: known.depot_of.get(name).copied(),
        sockets,
    };
    by_site.into_iter().map(site).collect()
}

/// Shares the lamps of a depot's shelf out to its sites: one after the other to the site where a shortage is most likely.
fn sent(
    here: &mut [(PlaceStock, Count, &SiteOf)],
    on_shelf: u64,
    class: &LampClass,
    count: &StockCount,
    as_of: NaiveDate,
) {
    let mut held = Vec::with_capacity(here.len());
    for (row, _, site) in here.iter_mut() {
        let on_hand = count.on_hand_or_none(&class.name, Some(&site.name));
        let on_order = count.due_by_or_none(&class.name, Some(&site.name), day_after(as_of, class.lead_time_days));
        // What comes after a lamp from the depot would have come does not help before it.
        let soon =
            count.due_by_or_none(&class.name, Some(&site.name), day_after(as_of, row.lead_time_days)).min(on_order);
        row.on_hand_lamps = Some(on_hand);
        row.on_order_lamps = Some(on_order);
        row.above_level_lamps = Some(on_hand.saturating_add(on_order).saturating_sub(row.level_lamps));
        held.push(on_hand.saturating_add(soon));
    }
    let wanted: Vec<u64> = here.iter().zip(&held).map(|((row, _, _), h)| row.level_lamps.saturating_sub(*h)).collect();
    let mut left = on_shelf;
    let mut given = vec![0_u64; here.len()];
    while left > 0 {
        let short = |i: usize| {
            let (lamps, wants) = (held.get(i)?.saturating_add(*given.get(i)?), *wanted.get(i)?);
            let needed = &here.get(i)?.1;
            (*given.get(i)? < wants).then(|| needed.more_than(lamps))
        };
        let most = (0..here.len()).filter_map(|i| short(i).map(|chance| (chance, i)));
        // The first of equals, so that the list is the same every time.
        let Some((_, i)) = most.reduce(|best, next| if next.0 > best.0 { next } else { best }) else { break };
        if let Some(lamps) = given.get_mut(i) {
            *lamps += 1;
        }
        left -= 1;
    }
    for (((row, _, _), lamps), wants) in here.iter_mut().zip(given).zip(wanted) {
        row.to_send_lamps = Some(lamps);
        row.waits_for_lamps = Some(wants - lamps);
    }
}

/// Parts of the year for which screens that stop, and hours by season, are counted.
///
/// Our choice, without a source: months, as a site loses few screens within one.
const YEAR_PARTS: u32 = 12;

/// Dark hours after failures in the year ahead while a lamp comes from the depot, by [`place_service`] with a depot that has
/// one: the mean over the parts of the year, each with the screens that still burn in its middle.
fn dark(here: &mut [(PlaceStock, Count, &SiteOf)], failures_per_hour: f64, days: u32) -> Result<()> {
    if here.is_empty() {
        return Ok(());
    }
    let levels: Vec<u64> = here.iter().map(|(row, _, _)| row.level_lamps).collect();
    let more: Vec<u64> = levels.iter().map(|n| n.saturating_add(1)).collect();
    let parts = if here.iter().all(|(_, _, s)| s.sockets.iter().all(|k| k.stops.is_empty() && k.pace.is_none())) {
        1
    } else {
        YEAR_PARTS
    };
    let ends = |part: u32| YEAR_DAYS * f64::from(part) / f64::from(parts);
    for part in 0..parts {
        let middle = YEAR_DAYS * (f64::from(part) + 0.5) / f64::from(parts);
        let site = |(row, _, site): &(PlaceStock, Count, &SiteOf)| {
            // Hours of a day of the part, by the pace of the screen.
            let (from, to) = (ends(part), ends(part + 1));
            let pace =
                |s: &SocketUntil| s.pace.as_ref().map_or(1.0, |p| (p.days_at(to) - p.days_at(from)) / (to - from));
            let of = |s: &SocketUntil| (s.socket.hours_per_week / 7.0 * pace(s), s.burns_on(middle));
            let burning = || site.sockets.iter().map(of);
            let a_day: f64 = burning().map(|(hours, chance)| hours * chance).sum();
            let screens: f64 = burning().map(|(_, chance)| chance).sum();
            Site {
                name: row.place.clone(),
                needed_per_day: failures_per_hour * a_day,
                variance_to_mean: 1.0,
                depot_days: Some(f64::from(days)),
                local_share: 0.0,
                local_days: None,
                hours_per_day: if screens > 0.0 { a_day / screens } else { 0.0 },
            }
        };
        let places = Places { maker_days: Some(0.0), sites: here.iter().map(site).collect() };
        let with = place_service(&places, 0, &levels, None)?;
        let with_more = place_service(&places, 0, &more, None)?;
        for (((row, _, _), now), then) in here.iter_mut().zip(with.sites).zip(with_more.sites) {
            let add = |sum: &mut Option<f64>, hours: f64| *sum = Some(sum.unwrap_or(0.0) + hours / f64::from(parts));
            add(&mut row.dark_hours_per_year, now.dark_hours_per_year);
            add(&mut row.dark_hours_per_year_one_more, then.dark_hours_per_year);
        }
    }
    Ok(())
}
