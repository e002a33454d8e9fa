//! The stock list of a study: depots and sites, a stock count, and what is wrong with either.

use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;

use chrono::NaiveDate;
use relamp::base::sound::Checks;
use relamp::demand::{Horizon, SocketToday, planned_changes};
use relamp::study::{
    ClassPurchase, ClassStores, Declaration, LastBuyResult, PlaceStock, PurchaseBasis, StoreKind, Study, StudyResults,
    write,
};
use relamp::{Kind, Run};
use serde_json::{Value, json};

use crate::study_small::{TERMS, lamp, run, small};

const DEPOTS: &str = "[[depot]]\nname = \"Depot A\"\nsites = [\"Site 01\", \"Site 02\"]\ndays_to_site = 3\n";
const COUNT: &str = "[stock_count]\nfile = \"count.csv\"\ncounted_on = 2025-12-28\n";

/// A study of three sites: a big one, a small one, and one of no depot; what is appended stands before the classes.
fn placed(name: &str, more: &str, count: &str, wear: bool) -> PathBuf {
    let path = small(name, &[lamp(1.0, "")], TERMS);
    let mut log = String::from("serial,type,site,screen,fitted,removed,reason,hours,read\n");
    let mut row = |site: &str, hours: f64, reason: &str| {
        let n = log.lines().count();
        let (removed, read) = if reason.is_empty() { ("", "2025-12-28") } else { ("2025-06-30", "") };
        writeln!(log, "A-{n},2.0 kW,{site},{n},2025-01-01,{removed},{reason},{hours},{read}").unwrap();
    };
    if wear {
        for i in 0..14 {
            row("Site 01", 1400.0 + 60.0 * f64::from(i), if i % 7 == 0 { "burst" } else { "dim" });
        }
        for _ in 0..16 {
            row("Site 01", 2000.0, "planned");
        }
    }
    for i in 0..24 {
        row("Site 01", 85.0 * f64::from(i) + 20.0, "");
    }
    row("Site 02", 400.0, "");
    row("Site 03", 900.0, "");
    row("Site 03", 1300.0, "");
    fs::write(path.with_file_name("log.csv"), log).unwrap();
    fs::write(path.with_file_name("count.csv"), count).unwrap();
    let mut text = fs::read_to_string(&path).unwrap();
    if more.contains("[stock_count]") {
        text = text.replace("on_hand = 1\n", "");
    }
    fs::write(&path, text + more).unwrap();
    path
}

fn at<'a>(stores: &'a ClassStores, name: &str) -> &'a PlaceStock {
    stores.places.iter().find(|p| p.place == name).unwrap()
}

#[test]
fn without_a_depot_or_a_count_there_is_no_list_and_with_a_count_alone_one_store() {
    let output = run(&placed("stores-none", "", "", true));
    assert_eq!(output.results.stock_list, None);
    let count = "lamp_class,place,on_hand\n2.0 kW,cellar,2\n2.0 kW,Site 02,1\n";
    let results = run(&placed("stores-one", COUNT, count, true)).results;
    let list = results.stock_list.as_ref().unwrap();
    assert_eq!(list.sentence, "no depot is declared: the list is for one store for the whole chain");
    let (stores, stock) = (&list.classes[0], results.classes[0].stock.as_ref().unwrap());
    let [place] = stores.places.as_slice() else { panic!("{stores:?}") };
    assert_eq!((place.kind, place.on_hand_lamps, stock.on_hand_lamps), (StoreKind::Chain, Some(3), 3));
    assert_eq!((place.level_lamps, place.to_buy_lamps), (stock.level_lamps, Some(stock.order_lamps)));
    assert_eq!(
        stores.to_buy_lamps,
        results.purchase_plan.as_ref().unwrap().classes[0].now.as_ref().map(|o| o.least_lamps)
    );
}

#[test]
fn a_late_order_of_the_count_serves_the_months_after_it() {
    let rows = |late: &str| format!("lamp_class,place,on_hand,on_order,due_on\n2.0 kW,Site 02,3,,\n{late}");
    let plan = |name: &str, late: &str| {
        let results = run(&placed(name, COUNT, &rows(late), true)).results;
        Checks::of("results", &results).unwrap();
        results.purchase_plan.unwrap()
    };
    let (without, with) = (plan("later-none", ""), plan("later-two", "2.0 kW,Site 03,,2,2026-01-29\n"));
    let (plain, purchase) = (&without.classes[0], &with.classes[0]);
    let day = NaiveDate::from_ymd_opt(2026, 1, 29).unwrap();
    assert_eq!((purchase.on_order_later[0].due_on, purchase.on_order_later[0].lamps), (day, 2));
    assert!(plain.on_order_later.is_empty() && !without.notes.iter().any(|n| n.contains("stock count")));
    assert!(with.notes.iter().any(|n| n.contains("that are due after the lead time serve from their day on")));
    // The lead time ends before they come: today's order is the same, and two lamps fewer are ordered for the months after.
    assert_eq!(purchase.now, plain.now);
    assert_eq!(purchase.order_lamps.unwrap() + 2, plain.order_lamps.unwrap());
    let ends = |p: &ClassPurchase| p.months.iter().map(|m| m.lamps_by_end_lamps).collect::<Vec<_>>();
    assert_eq!(ends(purchase).last(), ends(plain).last());
}

#[test]
fn a_late_order_of_the_count_is_taken_off_a_last_buy_that_needs_its_lamps() {
    let rows = |late: &str| format!("lamp_class,place,on_hand,on_order,due_on\n2.0 kW,Site 02,3,,\n{late}");
    let buy = "[[last_buy]]\nclass = \"2.0 kW\"\nlast_order_on = 2026-03-31\nneeded_until = 2026-12-28\nrisk = 0.05\n";
    let bought = |name: &str, late: &str| {
        let results = run(&placed(name, &format!("{buy}{COUNT}"), &rows(late), true)).results;
        Checks::of("results", &results).unwrap();
        (results.last_buys.clone().unwrap().buys.remove(0), results)
    };
    // Two lamps come on the last day, five more when no lamp is needed any more.
    let late = "2.0 kW,Site 03,,2,2026-12-28\n2.0 kW,Site 03,,5,2026-12-29\n";
    let ((plain, _), (with, results)) = (bought("late-buy-none", ""), bought("late-buy", late));
    let quantity = |b: &LastBuyResult| b.scenarios[0].by_risk.clone().unwrap();
    assert!(plain.on_order_later.is_empty() && quantity(&plain).buy_lamps > 2);
    assert_eq!(with.on_order_later.iter().map(|o| o.lamps).sum::<u64>(), 2);
    assert_eq!(quantity(&with).buy_lamps + 2, quantity(&plain).buy_lamps);
    assert_eq!(quantity(&with).held, quantity(&plain).held);
    assert!(
        with.sentence.contains("5 lamps are on hand or on order, of which 2 come after the lead time, by 2026-12-28")
    );
    let mut changed = results;
    changed.last_buys.as_mut().unwrap().buys[0].on_order_later.clear();
    assert!(Checks::of("results", &changed).unwrap_err().to_string().contains("on_order_later"));
}

#[test]
fn depots_and_sites_hold_send_and_buy_what_the_figures_say() {
    let count = "lamp_class,place,on_hand,on_order,due_on\n2.0 kW,Depot A,2,1,2026-01-05\n2.0 kW,Site 02,3,,\n\
                 2.0 kW,Site 03,,2,2026-03-01\n";
    let output = run(&placed("stores-depot", &format!("{DEPOTS}{COUNT}"), count, true));
    let results = &output.results;
    Checks::of("results", results).unwrap();
    let list = results.stock_list.as_ref().unwrap();
    assert_eq!(
        list.sentence,
        "1 depot fills 2 sites; 1 site of no depot is filled by the maker, each a store of its own; to fill these places buy now \
         what stands here in place of what the purchase plan orders now"
    );
    let stores = &list.classes[0];
    assert_eq!(stores.basis, PurchaseBasis::Forecast);
    let kinds: Vec<(StoreKind, &str)> = stores.places.iter().map(|p| (p.kind, p.place.as_str())).collect();
    let expected = [
        (StoreKind::Depot, "Depot A"),
        (StoreKind::Site, "Site 01"),
        (StoreKind::Site, "Site 02"),
        (StoreKind::OwnStore, "Site 03"),
    ];
    assert_eq!(kinds, expected);
    let (depot, big, few, own) =
        (at(stores, "Depot A"), at(stores, "Site 01"), at(stores, "Site 02"), at(stores, "Site 03"));
    assert_eq!((depot.lead_time_days, big.lead_time_days, own.lead_time_days), (24, 3, 21));
    // One screen of a lamp of 400 h needs none in three days: pooled. Two dozen screens need some.
    assert!(few.pooled_at_depot && few.level_lamps == 0 && few.enough_at_level_probability.unwrap() > 0.99);
    assert!(!big.pooled_at_depot && big.level_lamps > 0 && big.enough_at_level_probability.unwrap() >= 0.95);
    assert!(
        few.reason.starts_with("pooled at Depot A: no lamp is needed within 3 days with a chance of"),
        "{}",
        few.reason
    );
    // A pooled screen waits three days after each failure: its dark hours are failures a year, days and hours a day.
    let demand = results.classes[0].demand.as_ref().unwrap();
    let failures: f64 = demand.months.iter().map(|m| m.failure_mean_lamps).sum();
    let days = (demand.months[1].to - demand.months[0].from).num_days() as f64 + 1.0;
    let a_day = failures / (days / 7.0 * demand.programme_hours_per_week) * 10.0;
    let dark = a_day * 3.0 * 10.0 * 365.25;
    assert!((few.dark_hours_per_year.unwrap() / dark - 1.0).abs() < 1e-9, "{few:?} {dark}");
    assert!(few.dark_hours_per_year_one_more.unwrap() < 0.1 * dark);
    // What lies above the level of a site is not counted for the others.
    assert_eq!((few.on_hand_lamps, few.above_level_lamps, few.to_send_lamps), (Some(3), Some(3), Some(0)));
    assert_eq!(big.to_send_lamps, Some(big.level_lamps.min(2)));
    assert_eq!(big.to_send_lamps.unwrap() + big.waits_for_lamps.unwrap(), big.level_lamps);
    let whole = depot.area_level_lamps.unwrap().max(big.level_lamps);
    assert_eq!(depot.level_lamps + big.level_lamps, whole);
    assert_eq!(depot.to_buy_lamps, Some(whole - 3));
    // An order due after the lead time is in no level, here as for the class.
    assert_eq!((own.on_order_lamps, list.count.as_ref().unwrap().later_orders_lamps), (Some(0), 2));
    let stock = results.classes[0].stock.as_ref().unwrap();
    assert_eq!((stock.on_hand_lamps, stock.on_order_lamps), (5, 1));
    assert_eq!(
        (stores.one_store_level_lamps, stores.one_store_order_lamps),
        (Some(stock.level_lamps), Some(stock.order_lamps))
    );
    // Places apart never hold less than one store, and a depot no more than its sites by themselves.
    assert!(stores.level_lamps.unwrap() >= stock.level_lamps);
    assert!(depot.apart_level_lamps.unwrap() + 1 >= whole);
    // The count is an input, and its table is written.
    assert!(output.evidence.inputs.iter().any(|i| i.file == "count.csv"));
    let folder = crate::study::scratch("stores-written").join("out");
    write(&folder, &output, &[], false).unwrap();
    let table = fs::read_to_string(folder.join("stock_list.csv")).unwrap();
    assert_eq!(table.lines().count(), 5);
    assert!(table.lines().nth(1).unwrap().starts_with("2.0 kW,forecast,depot,,Depot A,25,24,"));
}

/// A depot whose sites have no burning lamp of the class is told to have none to serve, not to be surely enough.
#[test]
fn a_depot_without_screens_says_so() {
    let more = format!("{DEPOTS}[[depot]]\nname = \"Depot B\"\nsites = [\"Site 04\"]\ndays_to_site = 2\n{COUNT}");
    let count = "lamp_class,place,on_hand\n2.0 kW,Depot B,2\n2.0 kW,Site 04,1\n2.0 kW,Site 01,1\n";
    let path = placed("stores-empty", &more, count, true);
    let log = path.with_file_name("log.csv");
    let text = fs::read_to_string(&log).unwrap() + "B-1,2.0 kW,Site 04,90,2025-01-01,2025-06-30,planned,2000,\n";
    fs::write(&log, text).unwrap();
    let results = run(&path).results;
    let stores = &results.stock_list.as_ref().unwrap().classes[0];
    for name in ["Depot B", "Site 04"] {
        let place = at(stores, name);
        assert_eq!((place.screens_count, place.level_lamps, place.to_buy_lamps.unwrap_or(0)), (0, 0, 0), "{name}");
        assert_eq!(place.reason, "no screens of this class to serve", "{name}");
    }
    assert!(at(stores, "Depot A").reason.contains("with a chance of"), "{}", at(stores, "Depot A").reason);
    StudyResults::from_json(&results.to_json().unwrap()).unwrap();
}

#[test]
fn one_depot_at_the_door_of_every_site_is_the_one_store() {
    // The same screens over the same days, counted on another clock: the forecast of the class is the judge.
    let depots = "[[depot]]\nname = \"D\"\nsites = [\"Site 01\", \"Site 02\", \"Site 03\"]\ndays_to_site = 0\n";
    let results =
        run(&placed("stores-door", &format!("{depots}{COUNT}"), "lamp_class,place,on_hand\n2.0 kW,D,1\n", true))
            .results;
    let (stores, stock) =
        (&results.stock_list.as_ref().unwrap().classes[0], results.classes[0].stock.as_ref().unwrap());
    let depot = at(stores, "D");
    assert!(stock.level_lamps > 1 && stock.order_lamps > 0);
    assert_eq!((depot.area_level_lamps, depot.level_lamps), (Some(stock.level_lamps), stock.level_lamps));
    assert_eq!((depot.to_buy_lamps, stores.to_buy_lamps), (Some(stock.order_lamps), Some(stock.order_lamps)));
    assert!((depot.needed_mean_lamps / stock.mean_lamps - 1.0).abs() < 1e-3);
    let enough = depot.enough_at_level_probability.unwrap();
    assert!((enough - stock.service_at_level_probability).abs() < 1e-3);
    // Nothing can be needed on the way: every site is pooled and no screen is dark.
    let sites = || stores.places.iter().filter(|p| p.kind == StoreKind::Site);
    assert!(sites().count() == 3 && sites().all(|p| p.pooled_at_depot && p.dark_hours_per_year == Some(0.0)));
}

#[test]
fn without_a_model_the_list_is_that_of_changes_on_plan() {
    let results = run(&placed("stores-least", DEPOTS, "", false)).results;
    let stores = &results.stock_list.as_ref().unwrap().classes[0];
    assert_eq!(stores.basis, PurchaseBasis::LowerBound);
    let class = &results.classes[0];
    let sockets: Vec<SocketToday> =
        (0..24).map(|i| SocketToday { age_hours: Some(85.0 * f64::from(i) + 20.0), hours_per_week: 70.0 }).collect();
    let limit =
        relamp::terms::PrintedHours { maximum_hours: Some(2500.0), source: "invented".into(), ..Default::default() };
    let needed = |days: f64| {
        let age = class.bounds.as_ref().unwrap().planned_age_hours;
        planned_changes(&sockets, age, &limit.limit().unwrap(), Horizon::days(days)).unwrap()[0].changes_by_end
    };
    let (depot, big) = (at(stores, "Depot A"), at(stores, "Site 01"));
    assert_eq!((big.level_lamps, depot.area_level_lamps), (needed(3.0), Some(needed(24.0))));
    assert!(big.enough_at_level_probability.is_none() && big.dark_hours_per_year.is_none());
    // No count: what lies where is not known, what to buy in all is.
    assert!(big.on_hand_lamps.is_none() && big.to_send_lamps.is_none() && depot.to_buy_lamps.is_none());
    assert_eq!(stores.to_buy_lamps, Some(stores.level_lamps.unwrap().saturating_sub(1)));
    assert!(results.stock_list.unwrap().notes.iter().any(|n| n.starts_with("no stock count is declared")));
}

#[test]
fn what_is_wrong_with_a_count_is_told_by_name_and_row() {
    let count = "lamp_class,place,on_hand,on_order,due_on\n2.0 kW,Depot A,-2,,\n9 kW,Depot A,1,,\n2.0 kW,Site 9,1,,\n\
                 2.0 kW,Site 01,1,,\n2.0 kW,Depot A,,3,\n";
    let results = run(&placed("stores-findings", &format!("{DEPOTS}{COUNT}"), count, true)).results;
    let told = results.stock_list.as_ref().unwrap().count.as_ref().unwrap();
    let rules: Vec<(&str, u64)> = told.findings.iter().map(|f| (f.rule.as_str(), f.line)).collect();
    assert_eq!(rules, [("stock.count_negative", 2), ("stock.class_unknown", 3), ("stock.place_unknown", 4)]);
    assert_eq!((told.rows_count, told.used_count, told.set_aside_count), (5, 2, 3));
    assert!(told.warning.contains("3 of 5 rows"), "{}", told.warning);
    // Without a due day the lead time of the class stands in.
    assert_eq!(results.classes[0].stock.as_ref().unwrap().on_order_lamps, 3);
}

#[test]
fn mistakes_of_depots_and_counts_are_named_with_line_and_key() {
    let text = fs::read_to_string(placed("stores-wrong", "", "", true)).unwrap();
    let depots = "[[depot]]\nname = \"North\"\nsites = [\"Site 01\", \"site 01\"]\n\
                  [[depot]]\nname = \"north\"\nsites = []\ndays_to_site = 400\n\
                  [[depot]]\nname = \"West\"\nsites = [\"Site 01\", \"North\"]\ndays_to_site = 2\n\
                  [stock_count]\nfile = \"../count.csv\"\nplaces = 3\n[stock_count.columns]\nshelf = \"x\"\n";
    let path = placed("stores-wrong-file", "", "", true);
    fs::write(&path, text + depots).unwrap();
    let error = Study::open(&path).unwrap_err();
    let first = fs::read_to_string(&path).unwrap().lines().position(|l| l == "[[depot]]").unwrap() as u64 + 1;
    let found: Vec<(u64, String, &str)> = error
        .problems()
        .iter()
        .map(|p| (p.place.line.unwrap() - first.min(p.place.line.unwrap()), p.place.column.clone().unwrap(), p.slug))
        .collect();
    let expected = [
        (0, "depot \"North\".days_to_site", "study.key_missing"),
        (2, "depot \"North\".sites", "study.site_depots"),
        (4, "depot \"north\".name", "study.depot_twice"),
        (6, "depot \"north\".days_to_site", "study.not_a_whole_number"),
    ];
    for (line, column, slug) in expected {
        assert!(found.contains(&(line, column.to_owned(), slug)), "{line} {column} {slug}: {found:#?}");
    }
    for slug in ["study.path_outside", "study.key_unknown", "study.site_depots", "study.stock_twice"] {
        assert!(found.iter().any(|f| f.2 == slug), "{slug}: {found:#?}");
    }
    // What only the logs can tell: a site that no row names, with the nearest.
    let wrong = DEPOTS.replace("Site 02", "Site 0Z");
    let path = placed("stores-unknown", &wrong, "", true);
    let error = Study::open(&path).unwrap().run(&Run::new()).unwrap_err();
    let problem = &error.problems()[0];
    assert_eq!(
        (error.kind(), problem.slug, problem.got.as_str()),
        (Kind::Study, "study.depot_site_unknown", "\"Site 0Z\"")
    );
    assert!(problem.what.contains("the nearest is") && problem.place.line.is_some(), "{problem:?}");
    // The same is told of a text without a file.
    assert!(Declaration::parse(&fs::read_to_string(&path).unwrap(), "study.toml").is_ok());
    // A count that is not there is an error that names it.
    let path = placed("stores-gone", COUNT, "", true);
    fs::remove_file(path.with_file_name("count.csv")).unwrap();
    assert!(Study::open(&path).unwrap().run(&Run::new()).unwrap_err().to_string().contains("count.csv"));
}

#[test]
fn an_edited_list_is_refused_by_field() {
    let count = "lamp_class,place,on_hand\n2.0 kW,Depot A,2\n";
    let results = run(&placed("stores-edited", &format!("{DEPOTS}{COUNT}"), count, true)).results;
    let text = results.to_json().unwrap();
    let spoil = |at: &str, value: Value| {
        let mut all: Value = serde_json::from_str(&text).unwrap();
        let (of, field) = at.rsplit_once('/').unwrap();
        all.pointer_mut(&format!("/body/stock_list{of}")).unwrap()[field] = value;
        StudyResults::from_json(&all.to_string()).unwrap_err().to_string()
    };
    for (at, value, field) in [
        ("/classes/0/level_lamps", json!(999), "stock_list.classes[0].level_lamps"),
        ("/classes/0/places/0/to_buy_lamps", json!(999), "stock_list.classes[0].places[0].to_buy_lamps"),
        ("/classes/0/places/1/level_lamps", json!(999), "stock_list.classes[0].places[0].level_lamps"),
        ("/classes/0/places/2/reason", json!("pooled"), "stock_list.classes[0].places[2].reason"),
        ("/classes/0/one_store_order_lamps", json!(999), "stock_list.classes[0].one_store_order_lamps"),
        ("/count/rows_count", json!(9), "stock_list.count.rows_count"),
        ("/classes/0/lead_time_days", json!(10), "classes[0].lead_time_days"),
        ("/classes/0/service_target_probability", json!(0.5), "classes[0].service_target_probability"),
        ("/classes/0/places/0/screens_count", json!(1), "places[0].screens_count"),
        ("/classes/0/places/0/above_level_lamps", json!(1), "places[0].above_level_lamps"),
        ("/classes/0/places/0/needed_mean_lamps", json!(0.0), "places[0].needed_mean_lamps"),
        ("/classes/0/places/0/dark_hours_per_year", json!(3.0), "places[0].dark_hours_per_year"),
        ("/classes/0/places/0/order_serves_lamps", json!(999), "places[0].order_serves_lamps"),
        ("/classes/0/places/1/waits_for_lamps", json!(9), "places[1].waits_for_lamps"),
        ("/classes/0/places/1/waits_for_lamps", Value::Null, "places[1].waits_for_lamps"),
        ("/classes/0/places/1/to_buy_lamps", json!(0), "places[1].to_buy_lamps"),
        ("/classes/0/places/1/depot", json!(""), "places[1].depot"),
        ("/classes/0/places/1/dark_hours_per_year", Value::Null, "places[1].dark_hours_per_year"),
    ] {
        let said = spoil(at, value);
        assert!(said.contains(field), "{at}: {said}");
    }
}

/// Used lamps of the count: what they are worth stands beside the spares, and last buys count them.
#[test]
fn used_lamps_of_a_count_are_emergency_spares_with_their_hours_and_bad_ones_none() {
    let head = "lamp_class,place,on_hand,serial,age_hours,ending\n2.0 kW,cellar,1,,,\n";
    let bad = "2.0 kW,cellar,,U8,300,flicker\n2.0 kW,Site 01,,U9,2500,planned\n";
    let good = "2.0 kW,cellar,,U1,5,moved\n2.0 kW,Site 01,,U2,100,converted\n2.0 kW,Site 02,,U3,2499,planned\n";
    let buy = "[[last_buy]]\nclass = \"2.0 kW\"\nlast_order_on = 2026-03-31\nneeded_until = 2026-12-28\nrisk = 0.1\n";
    let of = |name: &str, rows: &str| {
        let path = placed(name, &format!("{COUNT}{buy}"), &format!("{head}{rows}"), true);
        let results = run(&path).results;
        Checks::of(name, &results).unwrap();
        (path, results)
    };
    let (_, without) = of("used-none", bad);
    let (path, with) = of("used-some", &format!("{bad}{good}"));
    let count = |r: &StudyResults| r.stock_list.as_ref().unwrap().count.clone().unwrap();
    // A lamp that failed and one without hours left are no stock, and the findings say so.
    let told: Vec<_> = count(&without).findings.iter().map(|f| (f.serial.clone(), f.rule.clone())).collect();
    let pair = |serial: &str, rule: &str| (serial.to_owned(), rule.to_owned());
    assert_eq!(told, [pair("U8", "stock.used_ending"), pair("U9", "stock.used_at_limit")]);
    assert_eq!((count(&without).used_lamps_count, count(&with).used_lamps_count), (0, 3));
    let stock = |r: &StudyResults| r.classes[0].stock.clone().unwrap();
    let (plain, used) = (stock(&without), stock(&with).used.unwrap());
    assert_eq!(plain.used, None);
    // Hours left below the advised age, by hand: the third has none.
    let age = with.classes[0].advised_age_hours;
    assert!((200.0..2499.0).contains(&age), "{age}");
    assert_eq!((used.lamps_count, used.serving_lamps_count), (3, 2));
    assert!((used.hours_left - (2.0 * age - 105.0)).abs() < 1e-9);
    // Two lamps that outlast the lead time save two at most, and changes on plan take new ones.
    assert!((plain.level_lamps - 2..=plain.level_lamps).contains(&used.level_lamps), "{used:?}");
    assert!(used.level_lamps < plain.level_lamps, "{used:?}");
    assert_eq!(used.order_lamps, used.level_lamps - 1);
    assert!(used.sentence.starts_with("2 of 3 used lamps in the stock count may serve"), "{}", used.sentence);
    // Plan and list say what is held too, and what the order would be with it.
    let (list, plan) = (with.stock_list.clone().unwrap(), with.purchase_plan.clone().unwrap());
    let beside = relamp::study::UsedBeside { lamps_count: 3, serving_lamps_count: 2, order_lamps: used.order_lamps };
    assert_eq!((list.classes[0].used, plan.classes[0].used), (Some(beside), Some(beside)));
    let said = "; 3 used lamps lie in stock too, not counted here: 2 may serve after failures, and with them the chain as one \
                store would order ";
    assert!(list.classes[0].sentence.contains(said), "{}", list.classes[0].sentence);
    assert!(plan.classes[0].sentence.contains(said), "{}", plan.classes[0].sentence);
    let plan_without = without.purchase_plan.clone().unwrap();
    assert_eq!((plan_without.classes[0].used, plan.order_lamps), (None, plan_without.order_lamps));
    // All that is bought in the ordinary way is as before.
    assert_eq!(relamp::study::StockResult { used: None, ..stock(&with) }, plain);
    let bought = |r: &StudyResults| r.last_buys.as_ref().unwrap().buys[0].clone();
    let (less, more) = (bought(&with), bought(&without));
    assert!(more.used_lamps.is_empty() && more.scenarios[0].found.played.is_none());
    let quantity = |b: &LastBuyResult| b.scenarios[0].by_risk.as_ref().unwrap().quantity_lamps;
    let saved = quantity(&more) - quantity(&less);
    assert!((1..=2).contains(&saved), "{saved}");
    assert!(less.scenarios[0].found.played.as_ref().unwrap().reused > 1.0);
    assert_eq!(less.scenarios[0].found.needed_plain, more.scenarios[0].found.needed);
    assert!(less.sentence.contains("; 2 of 3 used lamps serve after failures; by 2026-03-31"), "{}", less.sentence);
    // Saved and changed by hand.
    let saved = serde_json::to_value(&with).unwrap();
    assert_eq!(serde_json::from_value::<StudyResults>(saved.clone()).unwrap(), with);
    for (field, value, name) in [
        ("/classes/0/stock/used/level_lamps", json!(0), "used.level_lamps"),
        ("/classes/0/stock/used/order_lamps", json!(77), "used.order_lamps"),
        ("/classes/0/stock/used/serving_lamps_count", json!(9), "used.serving_lamps_count"),
        ("/classes/0/stock/used/hours_left", json!(0.0), "used.hours_left"),
        ("/classes/0/stock/used/plays_count", json!(0), "used.plays_count"),
        ("/stock_list/classes/0/used/order_lamps", json!(77), "stock_list.classes[0].used"),
        ("/purchase_plan/classes/0/used/lamps_count", json!(1), "purchase_plan.classes[0].used"),
        ("/last_buys/buys/0/used_lamps", json!([]), "used_lamps"),
        ("/last_buys/buys/0/used_lamps/0/age_hours", json!(-1.0), "used_lamps[0].age_hours"),
    ] {
        let mut changed = saved.clone();
        *changed.pointer_mut(field).unwrap() = value;
        let changed: StudyResults = serde_json::from_value(changed).unwrap();
        let error = Checks::of("results", &changed).unwrap_err().to_string();
        assert!(error.contains(name), "{field}: {error}");
    }
    // Of a target that hardly a play misses nothing can be read off the plays.
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains("service_target = 0.95"));
    fs::write(&path, text.replace("service_target = 0.95", "service_target = 1.0")).unwrap();
    let sure = run(&path).results;
    Checks::of("sure", &sure).unwrap();
    let (stock, used) = (stock(&sure), stock(&sure).used.unwrap());
    assert_eq!((used.level_lamps, used.order_lamps), (stock.level_lamps, stock.order_lamps));
    assert!(used.sentence.contains("tell too little of a target of 100.0 %"), "{}", used.sentence);
}
