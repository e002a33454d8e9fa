//! The purchase list: stated outcomes, an independent search, and played-out fleets.

use relamp::base::random::Stream;
use relamp::base::sound::Checks;
use relamp::demand::{Count, Horizon, SocketToday, forecast};
use relamp::family::Weibull;
use relamp::fit::{CauseLife, World};
use relamp::records::Ending;
use relamp::stock::{Arrival, NeededBy, PurchaseList, PurchaseTerms, level, purchase_list};
use relamp::terms::{Costs, PrintedHours};

fn terms() -> PurchaseTerms {
    PurchaseTerms {
        on_hand: 3,
        on_order: 2,
        on_order_later: Vec::new(),
        lead_time_days: 21,
        service_target: 0.95,
        price_each: 780.0,
        box_lamps: 1,
        minimum_order_lamps: 1,
    }
}

/// Lamps needed by chance, some a day, to the end of every day.
fn by_chance(a_day: f64, days: u32) -> Vec<NeededBy> {
    (0..=days).map(|day| NeededBy { day, needed: Count::poisson(a_day * f64::from(day)).unwrap() }).collect()
}

/// P(N <= n) of a Poisson number, term by term from 0.
fn poisson_at_most(mean: f64, n: u64) -> f64 {
    let mut term = (-mean).exp();
    let mut sum = term;
    for k in 1..=n {
        term *= mean / k as f64;
        sum += term;
    }
    sum
}

/// Lamps there by the end of a day, from today's stock and the orders that have come.
fn there(list: &PurchaseList, day: u32) -> u64 {
    let come: u64 = list.orders().filter(|o| o.arrives_day <= day).map(|o| o.order_lamps).sum();
    list.terms.on_hand + list.terms.on_order + come
}

#[test]
fn day_by_day_the_list_is_what_a_search_from_the_other_end_finds() {
    let (a_day, days) = (0.3, 150);
    let ends = [30, 61, 91, 122, 150];
    let list = purchase_list(&by_chance(a_day, days), &ends, &terms()).unwrap();
    // Every lamp by itself: the first day on which n lamps from today are no longer enough asks for the (n + 1)-th.
    let asks = |n: u64| (0..=days).find(|d| poisson_at_most(a_day * f64::from(*d), n) < 0.95);
    let (mut now, mut later) = (0, vec![(u32::MAX, 0_u64); ends.len()]);
    for n in 5.. {
        let Some(day) = asks(n) else { break };
        if day <= 21 {
            now += 1;
            continue;
        }
        let period = ends.iter().position(|end| day <= *end).unwrap();
        later[period].0 = later[period].0.min(day - 21);
        later[period].1 += 1;
    }
    assert_eq!(list.now.order_lamps, now);
    let found: Vec<(u32, u64)> =
        list.periods.iter().map(|p| p.order.map_or((u32::MAX, 0), |o| (o.order_day, o.order_lamps))).collect();
    assert_eq!(found, later);
    assert!(list.orders().count() == 6, "{list:?}");
    // From the lead time on the target is met on every day; a lamp less on any order would miss it.
    for day in 21..=days {
        assert!(poisson_at_most(a_day * f64::from(day), there(&list, day)) >= 0.95, "day {day}");
    }
    for order in list.orders() {
        let mean = a_day * f64::from(order.covers_to_day);
        assert!(poisson_at_most(mean, there(&list, order.arrives_day) - 1) < 0.95);
        // A day later would be too late.
        let missed = order.arrives_day;
        if order.order_day > 0 {
            assert!(poisson_at_most(a_day * f64::from(missed), there(&list, missed) - order.order_lamps) < 0.95);
        }
    }
    assert_eq!(list.last_order_day, 150 - 21);
    assert!((list.price - 780.0 * list.order_lamps as f64).abs() < 1e-9);
    assert!(Checks::of("list", &list).is_ok());
}

#[test]
fn orders_that_come_after_the_lead_time_serve_from_their_day_on() {
    let (a_day, days) = (0.3, 150);
    let ends = [30, 61, 91, 122, 150];
    let needed = by_chance(a_day, days);
    for later in [&[(40, 6)][..], &[(26, 2), (61, 3), (122, 40)], &[(150, 5)], &[(90, 500)], &[(140, 1), (145, 1)]] {
        let on_order_later = later.iter().map(|&(day, lamps)| Arrival { day, lamps }).collect();
        let list = purchase_list(&needed, &ends, &PurchaseTerms { on_order_later, ..terms() }).unwrap();
        // Day by day: what is missing on a day is ordered for it, and comes in the period of that day.
        let (mut held, mut now, mut each) = (5, 0, vec![(u32::MAX, 0_u64); ends.len()]);
        for day in 21..=days {
            let come: u64 = later.iter().filter(|a| a.0 <= day).map(|a| a.1).sum();
            let enough = (0..=10_000).find(|n| poisson_at_most(a_day * f64::from(day), *n) >= 0.95).unwrap();
            let missing = enough.saturating_sub(held + come);
            held += missing;
            if day == 21 {
                now = missing;
            } else if missing > 0 {
                let of = &mut each[ends.iter().position(|end| day <= *end).unwrap()];
                *of = (of.0.min(day - 21), of.1 + missing);
            }
        }
        let found: Vec<(u32, u64)> =
            list.periods.iter().map(|p| p.order.map_or((u32::MAX, 0), |o| (o.order_day, o.order_lamps))).collect();
        assert_eq!((list.now.order_lamps, found), (now, each), "{later:?}");
        let come: u64 = later.iter().map(|a| a.1).sum();
        assert_eq!(list.periods[4].lamps_by_end, held + come, "{later:?}");
        assert!(Checks::of("list", &list).is_ok());
        let plain = purchase_list(&needed, &ends, &terms()).unwrap();
        assert!(list.order_lamps <= plain.order_lamps && list.now == plain.now);
    }
    // A shortage may grow until these lamps come: without the day before them it would not be seen.
    let sparse: Vec<NeededBy> = needed.iter().filter(|n| n.day != 39).cloned().collect();
    let on_order_later = vec![Arrival { day: 40, lamps: 6 }];
    let error = purchase_list(&sparse, &ends, &PurchaseTerms { on_order_later, ..terms() }).unwrap_err();
    assert_eq!((error.slug(), error.problems()[0].place.row), ("stock.purchase_days", Some(1)));
    // What has come before an order could is no later order.
    let early = vec![Arrival { day: 21, lamps: 1 }, Arrival { day: 30, lamps: 1 }, Arrival { day: 30, lamps: 1 }];
    let error = purchase_list(&needed, &ends, &PurchaseTerms { on_order_later: early, ..terms() }).unwrap_err();
    let rows: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.row)).collect();
    assert_eq!(rows, [("stock.arrivals", Some(1)), ("stock.arrivals", Some(3))]);
}

#[test]
fn the_order_of_today_is_that_of_the_stock_level() {
    for (a_day, on_hand, on_order) in [(0.1, 0, 0), (0.2, 3, 2), (0.5, 40, 0), (0.0, 0, 0), (1.3, 1, 9)] {
        let terms = PurchaseTerms { on_hand, on_order, ..terms() };
        let needed = by_chance(a_day, 90);
        let list = purchase_list(&needed, &[30, 60, 90], &terms).unwrap();
        let advice = level(&needed[21].needed, 0.95, on_hand, on_order).unwrap();
        assert_eq!(list.now.order_lamps, advice.order);
    }
    // Poisson tables of handbooks: with a mean of 4, P(N <= 8) = 0.9786 and P(N <= 7) = 0.9489.
    let needed = [20, 40].map(|day| NeededBy { day, needed: Count::poisson(0.2 * f64::from(day)).unwrap() });
    let terms = PurchaseTerms { lead_time_days: 20, ..terms() };
    let list = purchase_list(&needed, &[20, 40], &terms).unwrap();
    assert_eq!((list.now.order_lamps, list.periods[0].level_by_end), (3, 8));
    assert!((list.periods[0].service_by_end - 0.9786).abs() < 5e-5);
}

#[test]
fn boxes_and_smallest_orders_are_kept_and_what_is_too_much_serves_later() {
    let needed = by_chance(0.3, 150);
    let ends = [30, 61, 91, 122, 150];
    let single = purchase_list(&needed, &ends, &terms()).unwrap();
    let boxed = PurchaseTerms { box_lamps: 6, minimum_order_lamps: 10, ..terms() };
    let list = purchase_list(&needed, &ends, &boxed).unwrap();
    assert!(list.orders().all(|o| o.order_lamps % 6 == 0 && o.order_lamps >= 10 && o.least_lamps <= o.order_lamps));
    assert_eq!(list.now.least_lamps, single.now.order_lamps);
    // Never fewer lamps than needed, and at most one order too many.
    for (boxed, single) in list.periods.iter().zip(&single.periods) {
        assert!(boxed.lamps_by_end >= single.level_by_end && boxed.lamps_by_end < single.level_by_end + 12);
        assert_eq!(boxed.level_by_end, single.level_by_end);
    }
    assert!(list.orders().count() < single.orders().count());
    assert!(list.sentence.contains("needed"), "{}", list.sentence);
}

#[test]
fn stated_outcomes_of_the_edges() {
    // Nothing needed: no order, ever.
    let none = purchase_list(&by_chance(0.0, 60), &[30, 60], &terms()).unwrap();
    assert_eq!((none.order_lamps, none.orders().count(), none.periods[1].service_by_end), (0, 0, 1.0));
    assert_eq!(none.sentence, "order none now, and none later for these periods");
    // No lead time: nothing now, every order on the day that asks for it, nothing too late.
    let at_once = PurchaseTerms { lead_time_days: 0, on_hand: 0, on_order: 0, ..terms() };
    let list = purchase_list(&by_chance(0.3, 60), &[30, 60], &at_once).unwrap();
    assert_eq!((list.now.order_lamps, list.last_order_day), (0, 60));
    assert!(list.periods.iter().all(|p| p.too_late_lamps == 0 && p.order.is_some()));
    // A lead time past the last period: all is ordered now, and all of it comes too late.
    let slow = PurchaseTerms { lead_time_days: 90, on_hand: 0, on_order: 0, ..terms() };
    let list = purchase_list(&by_chance(0.3, 90), &[30, 60], &slow).unwrap();
    assert!(list.now.order_lamps > 0 && list.periods.iter().all(|p| p.order.is_none()));
    assert!(list.periods.iter().all(|p| p.lamps_by_end == 0 && p.too_late_lamps == p.level_by_end));
    assert_eq!(list.last_order_day, 0);
    // Certain needs and certainty asked: exactly these.
    let certain: Vec<NeededBy> =
        [21, 30, 60].map(|day| NeededBy { day, needed: Count::certain(u64::from(day / 10)) }).to_vec();
    let sure = PurchaseTerms { service_target: 1.0, on_hand: 0, on_order: 0, ..terms() };
    let list = purchase_list(&certain, &[30, 60], &sure).unwrap();
    let orders: Vec<u64> = list.orders().map(|o| o.order_lamps).collect();
    assert_eq!(orders, [2, 1, 3]);
    // A million lamps without overflow.
    let huge = [21, 30].map(|day| NeededBy { day, needed: Count::poisson(1e6 * f64::from(day)).unwrap() });
    let many = PurchaseTerms { on_hand: u64::MAX, on_order: 1, ..terms() };
    assert_eq!(purchase_list(&huge, &[30], &many).unwrap().order_lamps, 0);
    assert!(purchase_list(&huge, &[30], &terms()).unwrap().order_lamps > 29_000_000);
}

#[test]
fn more_stock_or_a_lower_target_never_asks_for_more() {
    let needed = by_chance(0.3, 120);
    let total = |terms: PurchaseTerms| purchase_list(&needed, &[30, 60, 120], &terms).unwrap().order_lamps;
    let mut before = u64::MAX;
    for on_hand in 0..50 {
        let now = total(PurchaseTerms { on_hand, ..terms() });
        assert!(now <= before);
        before = now;
    }
    let mut before = 0;
    for target in [0.5, 0.8, 0.9, 0.95, 0.99, 0.999] {
        let now = total(PurchaseTerms { service_target: target, ..terms() });
        assert!(now >= before);
        before = now;
    }
}

#[test]
fn bad_input_is_named_all_at_once() {
    let needed = by_chance(0.3, 60);
    let twice = [needed[5].clone(), needed[5].clone(), needed[60].clone()];
    let wrong =
        PurchaseTerms { service_target: 0.0, price_each: f64::NAN, box_lamps: 0, minimum_order_lamps: 0, ..terms() };
    let error = purchase_list(&twice, &[60, 60, 90], &wrong).unwrap_err();
    let slugs: Vec<&str> = error.problems().iter().map(|p| p.slug).collect();
    let expected = [
        "stock.purchase_days",
        "stock.purchase_days",
        "stock.purchase_days",
        "stock.lead_time",
        "stock.service_target",
        "stock.unit_cost",
        "stock.order_terms",
        "stock.order_terms",
    ];
    assert_eq!(slugs, expected);
    assert_eq!(error.problems()[0].place.row, Some(2));
    assert_eq!(purchase_list(&needed, &[], &terms()).unwrap_err().slug(), "stock.purchase_days");
    // An edited list is refused by field.
    let list = purchase_list(&needed, &[30, 60], &terms()).unwrap();
    let spoilt = PurchaseList { order_lamps: list.order_lamps + 1, ..list };
    let error = Checks::of("list", &spoilt).unwrap_err();
    assert_eq!(error.problems()[0].place.column.as_deref(), Some("order_lamps"));
}

const SCALE: f64 = 2400.0;
const SHAPE: f64 = 2.5;
const PLANNED: f64 = 1600.0;

/// Lamps that one screen needs to the ends of some days.
fn play(age: f64, a_day: f64, ends: &[u32], random: &mut Stream) -> Vec<u64> {
    let mut changes = Vec::new();
    let (mut clock, mut age) = (0.0, age);
    while clock <= f64::from(*ends.last().unwrap()) {
        // Life given survival to the age, by inversion of the Weibull reliability.
        let life = SCALE * ((age / SCALE).powf(SHAPE) + random.exponential()).powf(1.0 / SHAPE);
        clock += (life.min(PLANNED) - age).max(0.0) / a_day;
        changes.push(clock);
        age = 0.0;
    }
    ends.iter().map(|end| changes.iter().filter(|c| **c <= f64::from(*end)).count() as u64).collect()
}

#[test]
fn played_fleets_run_short_no_more_often_than_the_list_says() {
    let printed = PrintedHours { maximum_hours: Some(1600.0), source: "invented".into(), ..PrintedHours::default() };
    let life = Box::new(Weibull { shape: SHAPE, scale: SCALE });
    let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)]).unwrap();
    let world = World { causes: vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }], costs };
    let ages: Vec<f64> = (0..40).map(|i| 39.0 * f64::from(i)).collect();
    let sockets: Vec<SocketToday> =
        ages.iter().map(|a| SocketToday { age_hours: Some(*a), hours_per_week: 84.0 }).collect();
    let weeks = Horizon { period_days: 7.0, periods: 26 };
    let coming = forecast(&sockets, &world, PLANNED, &printed.limit().unwrap(), weeks).unwrap();
    let needed: Vec<NeededBy> = (1_u32..)
        .zip(&coming.periods)
        .map(|(week, p)| NeededBy { day: 7 * week, needed: p.needed_by_end.clone() })
        .collect();
    let terms = PurchaseTerms { on_hand: 4, on_order: 0, service_target: 0.9, ..terms() };
    let ends = [28, 56, 91, 119, 147, 182];
    let list = purchase_list(&needed, &ends, &terms).unwrap();
    assert!(list.orders().count() >= 5, "{list:?}");
    let plays = 6000;
    let days: Vec<u32> = needed.iter().map(|n| n.day).collect();
    let mut short = vec![0_u32; days.len()];
    for fleet in 0..plays {
        let mut random = Stream::new(20_251, "purchase", "", fleet);
        let mut sum = vec![0; days.len()];
        for age in &ages {
            for (s, n) in sum.iter_mut().zip(play(*age, 12.0, &days, &mut random)) {
                *s += n;
            }
        }
        for ((count, n), day) in short.iter_mut().zip(&sum).zip(&days) {
            *count += u32::from(*n > there(&list, *day));
        }
    }
    let mut told = 0;
    for (i, day) in days.iter().enumerate() {
        let chance = needed[i].needed.more_than(there(&list, *day));
        let (n, seen) = (plays as f64, f64::from(short[i]));
        // Four standard deviations of a binomial number: 26 days of one seed.
        let range = 4.0 * (n * chance * (1.0 - chance)).sqrt() + 1.0;
        assert!((seen - n * chance).abs() < range, "day {day}: {seen} of {n}, said {chance}");
        if *day >= 21 {
            assert!(chance <= 0.1 && seen < 0.1 * n + range, "day {day}");
            told += 1;
        }
    }
    assert_eq!(told, 24);
    for period in &list.periods {
        let i = days.iter().position(|d| *d == period.to_day).unwrap();
        assert!((1.0 - f64::from(short[i]) / plays as f64 - period.service_by_end).abs() < 0.02);
    }
}
