//! Depot and sites, shares of money and used spares against stored values, brute force and played supply.

use std::collections::{BTreeMap, BinaryHeap, VecDeque};

use proptest::prelude::*;
use relamp::Run;
use relamp::base::random::Stream;
use relamp::demand::Count;
use relamp::family::{Exponential, Weibull};
use relamp::records::Ending;
use relamp::stock::{
    ClassCurve, Goal, Measure, Places, PlacesMethod, PlacesService, Site, UsedLamp, UsedVerdict, best_mix, buy_steps,
    class_curve, one_place_curve, place_service, pooling, used_spares, used_spares_over_draws,
};

use crate::worlds::{Drawn, close, limit, number, world};

/// A stored case.
fn case(id: &str) -> serde_json::Value {
    let stored: serde_json::Value = serde_json::from_str(include_str!("../data/places_cases.json")).unwrap();
    stored["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap().clone()
}

fn site(name: &str, needed_per_day: f64) -> Site {
    Site {
        name: name.into(),
        needed_per_day,
        variance_to_mean: 1.0,
        depot_days: Some(2.0),
        local_share: 0.0,
        local_days: None,
        hours_per_day: 10.0,
    }
}

fn places(needs: &[f64], maker_days: f64) -> Places {
    let sites = needs.iter().enumerate().map(|(i, n)| site(&format!("site {i}"), *n)).collect();
    Places { maker_days: Some(maker_days), sites }
}

/// The stored example: five equal sites, a fifth of the needs filled nearby.
fn stored_places() -> Places {
    let stored = case("two_echelon_metric");
    let at = |key: &str| number(&stored["inputs"][key]);
    let site = |i: usize| Site {
        local_share: at("base_repair_fraction"),
        local_days: Some(at("base_repair_days")),
        depot_days: Some(at("ship_days")),
        ..site(&format!("site {i}"), at("demand_per_day"))
    };
    Places { maker_days: Some(at("depot_repair_days")), sites: (0..at("bases") as usize).map(site).collect() }
}

#[test]
fn the_stored_two_levels_are_met_by_all_three_methods() {
    let places = stored_places();
    let stored = case("two_echelon_metric");
    let mut seen = 0;
    for (depot, row) in stored["outputs"].as_object().unwrap() {
        let methods = [
            (PlacesMethod::Exact, "EBO_exact"),
            (PlacesMethod::Means, "EBO_metric"),
            (PlacesMethod::TwoMoments, "EBO_negbin"),
        ];
        for (method, key) in methods {
            for stock in 0..4_u64 {
                let got = place_service(&places, depot.parse().unwrap(), &[stock; 5], Some(method)).unwrap();
                let site = &got.sites[4];
                close(site.screens_waiting, number(&row[key][stock as usize]), 1e-8, 1e-12);
                close(site.mean_on_way, number(&row["base_pipeline"]), 1e-9, 0.0);
                close(got.depot_waiting, number(&row["depot_EBO"]), 1e-9, 0.0);
                close(got.depot_wait_days, number(&row["depot_wait"]), 1e-9, 0.0);
                if method != PlacesMethod::Means {
                    close(site.variance_on_way, number(&row["base_variance"]), 1e-9, 0.0);
                }
                close(site.dark_hours_per_year, site.screens_waiting * 3652.5, 1e-12, 0.0);
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 60);
    let chosen = place_service(&places, 4, &[1; 5], None).unwrap();
    assert_eq!((chosen.method, chosen.lamps, chosen.notes.len()), (PlacesMethod::Exact, 9, 0));
}

#[test]
fn the_stored_allocation_finds_the_depot_stock() {
    let curve =
        class_curve("2 kW", 1.0, &stored_places(), 13, Measure::ScreensWaiting, Some(PlacesMethod::Means)).unwrap();
    let stored = case("two_echelon_allocation");
    let outputs = stored["outputs"].as_object().unwrap();
    assert_eq!(outputs.len(), 4);
    for (total, row) in outputs {
        let point = &curve.points[total.parse::<usize>().unwrap()];
        assert_eq!(point.depot, row["depot"].as_u64().unwrap(), "{total}");
        close(point.shortfall, number(&row["total_EBO"]), 1e-9, 0.0);
    }
}

#[test]
fn the_stored_steps_are_taken() {
    let stored = case("marginal_allocation_two_items");
    let at = |key: &str, i: usize| number(&stored["inputs"][key][i]);
    let curve = |i| {
        let on_way = Count::poisson(at("pipeline", i)).unwrap();
        one_place_curve(&format!("item {i}"), at("unit_cost", i), &on_way, 20).unwrap()
    };
    let steps = buy_steps(&[curve(0), curve(1)], 24.0).unwrap();
    let rows = stored["outputs"]["steps"].as_array().unwrap();
    assert_eq!(steps.len(), rows.len());
    for (step, row) in steps.iter().zip(rows) {
        let got = [(step.class + 1) as f64, step.lamps[0] as f64, step.lamps[1] as f64, step.cost, step.shortfall];
        for (x, e) in got.iter().chain([&step.gain_per_cost]).zip(row.as_array().unwrap()) {
            close(*x, number(e), 1e-9, 0.0);
        }
    }
}

/// Screens waiting at each site by a depot and sites played event by event. First come is first filled; the time from
/// the maker is exponential with the same mean if `varies`. With `help`, a need that finds its shelf empty is filled
/// from the site with the most lamps, whose order then goes there, and waiting screens take any lamp that comes.
fn played(
    places: &Places,
    depot: u64,
    stock: &[u64],
    years: f64,
    varies: bool,
    help: bool,
    replicate: u64,
) -> (Vec<f64>, f64) {
    #[derive(PartialEq)]
    enum Event {
        Need(usize),
        ToDepot,
        ToSite(usize),
    }
    let mut stream = Stream::new(5, "test", "places", replicate);
    let mut ahead = BinaryHeap::new();
    let mut events: Vec<Event> = Vec::new();
    let mut push = |ahead: &mut BinaryHeap<std::cmp::Reverse<(u64, usize)>>, day: f64, event: Event| {
        events.push(event);
        ahead.push(std::cmp::Reverse((day.to_bits(), events.len() - 1)));
        events.len()
    };
    // Needs are laid out ahead; what they set off follows as they happen.
    let end = years * 365.25;
    let mut needs: Vec<(f64, usize)> = Vec::new();
    for (i, site) in places.sites.iter().enumerate() {
        let mut day = 0.0;
        loop {
            day += stream.exponential() / site.needed_per_day;
            if day > end {
                break;
            }
            needs.push((day, i));
        }
    }
    needs.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (day, i) in needs {
        push(&mut ahead, day, Event::Need(i));
    }
    let mut net: Vec<i64> = stock.iter().map(|s| i64::try_from(*s).unwrap()).collect();
    let mut shelf = depot;
    let mut queue: VecDeque<usize> = VecDeque::new();
    let mut area = vec![0.0; net.len()];
    let (mut now, warm, mut transfers) = (0.0, 200.0, 0.0);
    while let Some(std::cmp::Reverse((bits, k))) = ahead.pop() {
        let day = f64::from_bits(bits).min(end);
        let span = (day - f64::max(now, warm)).max(0.0);
        area.iter_mut().zip(&net).for_each(|(a, n)| *a += span * (-n).max(0) as f64);
        now = day;
        if day >= end {
            break;
        }
        let event = std::mem::replace(&mut events[k], Event::ToDepot);
        let mut push = |ahead: &mut BinaryHeap<_>, day: f64, event: Event| {
            events.push(event);
            ahead.push(std::cmp::Reverse((day.to_bits(), events.len() - 1)));
        };
        match event {
            Event::Need(i) => {
                let mut filled = i;
                if help && net[i] <= 0 {
                    let richest = (0..net.len()).max_by_key(|j| net[*j]).unwrap();
                    if net[richest] > 0 {
                        filled = richest;
                        transfers += f64::from(u8::from(day > warm));
                    }
                }
                net[filled] -= 1;
                let near = stream.uniform() < places.sites[i].local_share;
                if near {
                    push(&mut ahead, day + places.sites[i].local_days.unwrap(), Event::ToSite(filled));
                } else {
                    let mean = places.maker_days.unwrap();
                    push(&mut ahead, day + if varies { mean * stream.exponential() } else { mean }, Event::ToDepot);
                    if shelf > 0 {
                        shelf -= 1;
                        push(&mut ahead, day + places.sites[filled].depot_days.unwrap(), Event::ToSite(filled));
                    } else {
                        queue.push_back(filled);
                    }
                }
            }
            Event::ToDepot => {
                if let Some(i) = queue.pop_front() {
                    push(&mut ahead, day + places.sites[i].depot_days.unwrap(), Event::ToSite(i));
                } else {
                    shelf += 1;
                }
            }
            Event::ToSite(i) => {
                let poorest = (0..net.len()).min_by_key(|j| net[*j]).unwrap();
                let to = if help && net[i] >= 0 && net[poorest] < 0 { poorest } else { i };
                net[to] += 1;
            }
        }
    }
    (area.iter().map(|a| a / (end - warm)).collect(), transfers / (end - warm) * 365.25)
}

/// z of the mean of some figures against a value.
fn z(figures: &[f64], expected: f64) -> f64 {
    let n = figures.len() as f64;
    let mean = figures.iter().sum::<f64>() / n;
    let variance = figures.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0);
    (mean - expected) / (variance / n).sqrt()
}

#[test]
fn played_supply_agrees_with_the_exact_count() {
    let mut all = Vec::new();
    let uneven = places(&[0.02, 0.05, 0.11], 25.0);
    let mut slow = stored_places();
    slow.sites[0].depot_days = Some(9.0);
    slow.sites[1].local_share = 0.6;
    for (which, (places, depot, stock)) in [
        (&uneven, 0, vec![1, 2, 3]),
        (&uneven, 3, vec![1, 1, 2]),
        (&uneven, 6, vec![0, 1, 1]),
        (&slow, 2, vec![1, 1, 0, 2, 1]),
        (&slow, 5, vec![0, 1, 0, 0, 1]),
    ]
    .into_iter()
    .enumerate()
    {
        let exact = place_service(places, depot, &stock, Some(PlacesMethod::Exact)).unwrap();
        for varies in [false, true] {
            let runs: Vec<Vec<f64>> = (0..60)
                .map(|r| played(places, depot, &stock, 60.0, varies, false, r + 1000 * which as u64).0)
                .collect();
            for (i, site) in exact.sites.iter().enumerate() {
                all.push(z(&runs.iter().map(|r| r[i]).collect::<Vec<_>>(), site.screens_waiting));
            }
        }
    }
    let mean = all.iter().map(|z| z * z).sum::<f64>() / all.len() as f64;
    assert!(all.len() == 38 && all.iter().all(|z| z.abs() < 4.5), "{all:?}");
    assert!((0.5..1.6).contains(&mean), "{mean}: {all:?}");
}

#[test]
fn two_moments_stay_near_the_exact_count_and_means_fall_short() {
    // Measured over many places: what each approximation misses of the screens waiting, in all sites.
    let (mut worst, mut understated) = (0.0_f64, 0.0_f64);
    for needs in [[0.01, 0.02, 0.04], [0.05, 0.05, 0.05], [0.2, 0.3, 0.01], [0.4, 0.4, 0.4]] {
        for depot in 0..25 {
            for stock in 0..6 {
                let places = places(&needs, 25.0);
                let at = |m| place_service(&places, depot, &[stock; 3], Some(m)).unwrap();
                let exact = at(PlacesMethod::Exact);
                for (i, site) in exact.sites.iter().enumerate() {
                    let off = at(PlacesMethod::TwoMoments).sites[i].screens_waiting - site.screens_waiting;
                    worst = worst.max(off.abs() / site.mean_on_way.max(1e-9));
                    assert!(at(PlacesMethod::Means).sites[i].screens_waiting <= site.screens_waiting + 1e-12);
                }
                if exact.screens_waiting > 1e-3 {
                    understated =
                        understated.max(1.0 - at(PlacesMethod::Means).screens_waiting / exact.screens_waiting);
                }
            }
        }
    }
    assert!(worst < 0.02, "{worst}");
    assert!(understated > 0.5, "{understated}");
}

#[test]
fn one_stock_waits_as_played_and_transfers_come_near() {
    let places = places(&[0.05, 0.05, 0.08, 0.02], 25.0);
    for (depot, stock) in [(0, [2, 2, 3, 1]), (3, [1, 1, 2, 1])] {
        let pooled = pooling(&places, depot, &stock, 60.0, None).unwrap();
        let runs: Vec<(f64, f64)> = (0..60)
            .map(|r| played(&places, depot, &stock, 60.0, false, true, r))
            .map(|(waiting, transfers)| (waiting.iter().sum(), transfers))
            .collect();
        let waiting = z(&runs.iter().map(|r| r.0).collect::<Vec<_>>(), pooled.screens_waiting);
        assert!(waiting.abs() < 4.5, "{waiting}");
        let transfers = runs.iter().map(|r| r.1).sum::<f64>() / runs.len() as f64;
        // A rule of thumb.
        close(pooled.transfers_per_year, transfers, 0.1, 0.0);
        assert!(pooled.screens_waiting < pooled.apart.screens_waiting);
        let same = pooled.lamps_for_the_same;
        assert!(same + pooled.lamps_saved == stock.iter().sum::<u64>() && pooled.lamps_saved > 0, "{pooled:?}");
    }
    // One site pools with nothing.
    let alone = pooling(&self::places(&[0.1], 25.0), 1, &[2], 60.0, None).unwrap();
    close(alone.screens_waiting, alone.apart.screens_waiting, 1e-12, 0.0);
    assert_eq!((alone.lamps_saved, alone.transfers_per_year), (0, 0.0));
}

/// The least shortfall for a budget, by trying every mix.
fn tried(curves: &[ClassCurve], budget: f64) -> f64 {
    let Some((first, rest)) = curves.split_first() else { return 0.0 };
    let each = first.points.iter().filter(|p| p.lamps as f64 * first.unit_cost <= budget + 1e-9);
    each.map(|p| p.shortfall + tried(rest, budget - p.lamps as f64 * first.unit_cost)).fold(f64::INFINITY, f64::min)
}

#[test]
fn the_best_mix_is_that_of_trying_every_one() {
    // Every split of lamps over depot and sites, for one class with a depot.
    let places = places(&[0.03, 0.06], 25.0);
    let curve = class_curve("2 kW", 7.0, &places, 6, Measure::DarkHours, None).unwrap();
    for total in 0..=6_u64 {
        let mut least = f64::INFINITY;
        for depot in 0..=total {
            for first in 0..=total - depot {
                let got = place_service(&places, depot, &[first, total - depot - first], None).unwrap();
                least = least.min(got.dark_hours_per_year);
            }
        }
        close(curve.points[total as usize].shortfall, least, 1e-12, 0.0);
    }
    // The stored places with depot stock by means: not convex in it, which steps of one lamp would miss.
    let depot = class_curve("4 kW", 3.0, &stored_places(), 9, Measure::DarkHours, Some(PlacesMethod::Means)).unwrap();
    let other = class_curve("6 kW", 11.0, &self::places(&[0.04], 30.0), 7, Measure::DarkHours, None).unwrap();
    let curves = [curve, depot, other];
    for budget in [0.0, 2.9, 10.0, 17.0, 33.0, 50.0, 71.3, 200.0] {
        let mix = best_mix(&curves, Goal::Budget(budget)).unwrap();
        close(mix.shortfall, tried(&curves, budget), 1e-12, 0.0);
        assert!(mix.best && mix.cost <= budget);
        let back = best_mix(&curves, Goal::Shortfall(mix.shortfall)).unwrap();
        assert!(back.cost <= mix.cost + 1e-9 && back.shortfall <= mix.shortfall * (1.0 + 1e-9));
        // Steps never do better, and their own mixes are the best for their money.
        for step in buy_steps(&curves, budget).unwrap() {
            close(best_mix(&curves, Goal::Budget(step.cost)).unwrap().shortfall, step.shortfall, 1e-9, 0.0);
        }
    }
}

#[test]
fn what_cannot_be_is_refused_by_name_and_all_at_once() {
    let mut wrong = places(&[0.05, -1.0, 0.05], 20.0);
    wrong.sites[2].name = "site 0".into();
    wrong.sites[0].depot_days = None;
    wrong.sites[1].local_share = 1.5;
    wrong.sites[2].hours_per_day = 25.0;
    wrong.maker_days = None;
    let error = wrong.check().unwrap_err();
    let told: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.row, p.place.column.as_deref())).collect();
    for expected in [
        ("stock.lead_time_needed", Some(1), Some("depot_days")),
        ("stock.site", Some(2), Some("needed_per_day")),
        ("stock.site", Some(2), Some("local_share")),
        ("stock.lead_time_needed", Some(2), Some("local_days")),
        ("stock.site_name", Some(3), Some("name")),
        ("stock.site", Some(3), Some("hours_per_day")),
        ("stock.lead_time_needed", None, None),
    ] {
        assert!(told.contains(&expected), "{expected:?} in {told:?}");
    }
    let good = places(&[0.05, 0.05], 20.0);
    let by_name = BTreeMap::from([("site 1".to_owned(), 2), ("site 9".to_owned(), 1)]);
    let error = good.by_name(&by_name).unwrap_err();
    assert_eq!(error.slug(), "stock.unknown_site");
    assert!(error.to_string().contains("site 9"), "{error}");
    assert_eq!(good.by_name(&BTreeMap::from([("site 1".to_owned(), 2)])).unwrap(), [0, 2]);
    assert_eq!(place_service(&good, 1, &[1], None).unwrap_err().slug(), "stock.site_stock");
    for (depot, stock) in [(1 << 63, [1, 1]), (1, [1, 100_001])] {
        assert_eq!(place_service(&good, depot, &stock, None).unwrap_err().slug(), "stock.site_stock");
        assert_eq!(pooling(&good, depot, &stock, 60.0, None).unwrap_err().slug(), "stock.site_stock");
    }
    assert_eq!(Places { maker_days: None, sites: vec![] }.check().unwrap_err().slug(), "stock.no_sites");
    assert_eq!(pooling(&good, 1, &[1, 1], -1.0, None).unwrap_err().slug(), "stock.transfer_cost");
    assert_eq!(class_curve("x", 0.0, &good, 2000, Measure::DarkHours, None).unwrap_err().problems().len(), 2);
    let curve = class_curve("x", 1.0, &good, 2, Measure::DarkHours, None).unwrap();
    let twice = [curve.clone(), curve.clone()];
    assert!(best_mix(&twice, Goal::Budget(9.0)).unwrap_err().to_string().contains("x twice"));
    assert_eq!(best_mix(&[], Goal::Budget(1.0)).unwrap_err().slug(), "stock.mix");
    assert_eq!(best_mix(std::slice::from_ref(&curve), Goal::Budget(f64::NAN)).unwrap_err().slug(), "stock.mix");
    assert_eq!(
        best_mix(std::slice::from_ref(&curve), Goal::Shortfall(0.0)).unwrap_err().slug(),
        "stock.not_enough_lamps"
    );
    let single = one_place_curve("y", 1.0, &Count::certain(1), 2).unwrap();
    assert_eq!(best_mix(&[curve, single], Goal::Budget(1.0)).unwrap_err().slug(), "stock.mix");
}

#[test]
fn needs_far_from_chance_are_refused_and_near_ones_take_two_moments() {
    let mut varied = places(&[0.05, 0.08], 25.0);
    varied.sites[0].variance_to_mean = 1.6;
    varied.sites[1].variance_to_mean = 0.9;
    let got = place_service(&varied, 2, &[1, 2], None).unwrap();
    assert_eq!((got.method, got.notes.len()), (PlacesMethod::TwoMoments, 1));
    let calm = place_service(&places(&[0.05, 0.08], 25.0), 2, &[1, 2], None).unwrap();
    assert!(got.sites[0].variance_on_way > calm.sites[0].variance_on_way);
    let exact = place_service(&varied, 2, &[1, 2], Some(PlacesMethod::Exact)).unwrap_err();
    assert_eq!(exact.slug(), "stock.not_exact");
    for ratio in [0.79, 2.01] {
        varied.sites[0].variance_to_mean = ratio;
        let error = place_service(&varied, 2, &[1, 2], None).unwrap_err();
        assert_eq!(error.slug(), "stock.variance_to_mean");
        assert!(error.to_string().contains("site 0"), "{error}");
    }
}

#[test]
fn used_lamps_serve_only_with_a_good_ending_and_hours_left() {
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let lamp = |age_hours, ending| UsedLamp { age_hours, ending };
    let lamps: Vec<UsedLamp> = Ending::ALL.iter().map(|e| lamp(Some(700.0), *e)).collect();
    let spares = used_spares(&lamps, &w, &limit(1500.0), 120.0).unwrap();
    for spare in &spares {
        let good = [Ending::Planned, Ending::Moved, Ending::Converted].contains(&spare.lamp.ending);
        assert_eq!(spare.verdict == UsedVerdict::Serves, good, "{spare:?}");
        let exact = ((700.0_f64 / 1400.0).powf(2.5) - (820.0_f64 / 1400.0).powf(2.5)).exp();
        close(spare.lasts, if good { exact } else { 0.0 }, 1e-12, 0.0);
    }
    let odd = [lamp(None, Ending::Moved), lamp(Some(1500.0), Ending::Planned), lamp(Some(1450.0), Ending::Planned)];
    let got: Vec<_> = used_spares(&odd, &w, &limit(1500.0), 120.0).unwrap().iter().map(|s| s.verdict).collect();
    assert_eq!(got, [UsedVerdict::AgeUnknown, UsedVerdict::AtLimit, UsedVerdict::ReachesLimit]);
    let bad = [lamp(Some(-1.0), Ending::Moved), lamp(Some(f64::NAN), Ending::Moved)];
    assert_eq!(used_spares(&bad, &w, &limit(1500.0), -1.0).unwrap_err().problems().len(), 3);
    // Mean hours until failure or delivery of a life without memory: scale (1 - exp(-u / scale)).
    let plain = world(Exponential { scale: 400.0 }, 1.0, 5.0);
    let spare = &used_spares(&lamps[5..6], &plain, &limit(1500.0), 300.0).unwrap()[0];
    close(spare.mean_hours, 400.0 * (1.0 - (-0.75_f64).exp()), 1e-9, 0.0);
    let draws = Drawn { shape: 2.5, scale: 1400.0, spread: 0.8, ratio: 5.0, draws: 20 };
    let mixed = used_spares_over_draws(&lamps[5..6], &draws, &limit(1500.0), 120.0, &Run::new()).unwrap();
    assert!((mixed[0].lasts - spares[5].lasts).abs() < 0.05 && mixed[0].lasts != spares[5].lasts);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn more_stock_never_lowers_service(
        needs in proptest::collection::vec(0.001..0.3_f64, 1..5),
        days in 0.0..60.0_f64,
        depot in 0..12_u64,
        stock in proptest::collection::vec(0..5_u64, 5),
        which in 0..5_usize,
        method in 0..2_usize,
    ) {
        let method = Some([PlacesMethod::Exact, PlacesMethod::Means][method]);
        let places = places(&needs, days);
        let stock = &stock[..needs.len()];
        let before = place_service(&places, depot, stock, method).unwrap();
        let mut more = stock.to_vec();
        more[which % needs.len()] += 1;
        for after in [place_service(&places, depot, &more, method), place_service(&places, depot + 1, stock, method)] {
            let after: PlacesService = after.unwrap();
            prop_assert!(after.screens_waiting <= before.screens_waiting + 1e-12);
            prop_assert!(after.fill_rate >= before.fill_rate - 1e-12);
            prop_assert!(after.dark_hours_per_year <= before.dark_hours_per_year + 1e-9);
        }
        let text = serde_json::to_string(&before).unwrap();
        prop_assert_eq!(serde_json::from_str::<PlacesService>(&text).unwrap(), before);
    }
}
