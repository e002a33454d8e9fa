//! Screens that stop: months, spares, orders and places of a study count them, agree, and ask the maker for nothing that
//! it no longer sells.

use std::fs;
use std::path::PathBuf;

use relamp::base::sound::Checks;
use relamp::stock::StockVerdict;
use relamp::study::{StudyOutput, StudyResults, write};
use serde_json::{Value, json};

use crate::study::scratch;
use crate::study_small::{Lamp, TERMS, lamp, run, small, wearing};

/// A fleet that wears, with twelve burning lamps in screens 30 to 41.
fn fleet() -> Vec<Lamp<'static>> {
    let mut lamps = wearing();
    lamps.truncate(30);
    lamps.extend((0..12).map(|i| lamp(160.0 * f64::from(i) + 30.0, "")));
    lamps
}

fn study(name: &str, more: &str) -> PathBuf {
    let path = small(name, &fleet(), &format!("{TERMS}{more}"));
    let text = fs::read_to_string(&path).unwrap().replace("forecast_months = 2", "forecast_months = 8");
    fs::write(&path, text).unwrap();
    path
}

fn stop(rest: &str) -> String {
    format!("[[stop]]\nsite = \"Site 01\"\nkind = \"closing\"\n{rest}\n")
}

const BUY: &str = "[[last_buy]]
class = \"2.0 kW\"
last_order_on = 2026-03-01
needed_until = 2026-08-28
risk = 0.05
";

const DEPOT: &str = "[[depot]]\nname = \"North\"\nsites = [\"Site 01\"]\ndays_to_site = 2\n";

const COUNT: &str = "[stock_count]\nfile = \"count.csv\"\n";

fn means(output: &StudyOutput) -> Vec<f64> {
    let demand = output.results.classes[0].demand.as_ref().unwrap();
    demand.months.iter().map(|m| m.mean_lamps).collect()
}

#[test]
fn months_before_a_stop_stay_and_those_after_it_need_nothing() {
    let plain = run(&study("stops-none", ""));
    // The fourth month runs to 2026-04-29.
    let gone = run(&study("stops-gone", &stop("earliest = 2026-05-01\nlatest = 2026-06-20")));
    let (a, b) = (means(&plain), means(&gone));
    assert_eq!(a[..4], b[..4]);
    assert!(b[4] < a[4] && b[5] < b[4] && b[5] > 0.0 && b[6..] == [0.0, 0.0], "{b:?}");
    let (plain, gone) = (&plain.results.classes[0], &gone.results.classes[0]);
    // Over a lead time of 21 days nothing stops.
    assert_eq!(plain.stock, gone.stock);
    let demand = gone.demand.as_ref().unwrap();
    assert_eq!((demand.stopping_lamps_count, demand.stopped_lamps_count), (Some(12), Some(0)));
    assert_eq!(plain.demand.as_ref().unwrap().stopping_lamps_count, None);
    let told = "12 of 12 burning lamps stand in screens declared to stop";
    assert!(gone.warnings.iter().any(|w| w.starts_with(told)), "{:?}", gone.warnings);
    assert!(!plain.warnings.iter().any(|w| w.contains("declared to stop")));
}

#[test]
fn where_every_screen_stops_today_nothing_is_needed_held_or_bought() {
    let output = run(&study("stops-today", &format!("{}{BUY}{DEPOT}", stop("on = 2025-12-28"))));
    let results = &output.results;
    assert!(means(&output).iter().all(|m| *m == 0.0));
    let stock = results.classes[0].stock.as_ref().unwrap();
    assert_eq!((stock.level_lamps, stock.order_lamps, stock.mean_lamps), (0, 0, 0.0));
    assert_eq!(results.purchase_plan.as_ref().unwrap().order_lamps, Some(0));
    let said = &results.purchase_plan.as_ref().unwrap().classes[0].sentence;
    assert!(said.ends_with("takes no order after 2026-03-01, and none would be needed in these months"), "{said}");
    let stores = &results.stock_list.as_ref().unwrap().classes[0];
    assert_eq!((stores.level_lamps, stores.to_buy_lamps), (Some(0), Some(0)));
    assert!(stores.places.iter().all(|p| p.needed_mean_lamps == 0.0));
    assert_eq!(results.classes[0].demand.as_ref().unwrap().stopped_lamps_count, Some(12));
    let refusal = results.last_buys.as_ref().unwrap().buys[0].refusal.clone().unwrap().sentence;
    assert!(refusal.contains("none is needed after 2025-12-28"), "{refusal}");
}

#[test]
fn spares_plan_list_and_last_buy_count_the_same_stops() {
    // Half of the screens are gone before a lamp could come.
    let stops: String = (36..42).map(|i| stop(&format!("screen = \"{i}\"\non = 2026-01-02"))).collect();
    let (plain, half) = (run(&study("stops-off", DEPOT)), run(&study("stops-half", &format!("{stops}{BUY}{DEPOT}"))));
    let class = |o: &StudyOutput| o.results.classes[0].clone();
    let stock = class(&half).stock.unwrap();
    assert!(stock.mean_lamps < class(&plain).stock.unwrap().mean_lamps - 0.1);
    let plan = half.results.purchase_plan.as_ref().unwrap().classes[0].clone();
    assert_eq!(plan.now.unwrap().least_lamps, stock.order_lamps);
    let stores = &half.results.stock_list.as_ref().unwrap().classes[0];
    assert_eq!(stores.one_store_level_lamps, Some(stock.level_lamps));
    let depot = |o: &StudyOutput| o.results.stock_list.as_ref().unwrap().classes[0].places[0].needed_mean_lamps;
    assert!(depot(&half) >= stock.mean_lamps && depot(&half) < depot(&plain));
    // 243 days, of which the eight months have 243.5; the last buy works on a grid of its own.
    let bought = half.results.last_buys.as_ref().unwrap().buys[0].scenarios[0].mean_lamps;
    let months: f64 = means(&half).iter().sum();
    assert!((bought - months).abs() < 0.01 * months, "{bought} {months}");
    assert!(months < 0.75 * means(&plain).iter().sum::<f64>());
}

#[test]
fn no_order_is_placed_after_the_last_day_of_the_maker() {
    let open = run(&study("stops-open", ""));
    let ends = run(&study("stops-ends", BUY));
    let plan = |o: &StudyOutput| o.results.purchase_plan.as_ref().unwrap().classes[0].clone();
    let (open, ended) = (plan(&open), plan(&ends));
    let last = ended.maker_last_order_on.unwrap();
    assert_eq!((last.to_string(), ended.last_order_on), ("2026-03-01".to_owned(), Some(last)));
    assert!(open.orders().any(|o| o.order_by > last) && ended.orders().all(|o| o.order_by <= last));
    // Up to that day both plans are the same.
    let early: Vec<_> = open.orders().filter(|o| o.order_by <= last).cloned().collect();
    assert_eq!(ended.orders().cloned().collect::<Vec<_>>(), early);
    let missing: Vec<u64> = ended.months.iter().map(|m| m.from_last_buy_lamps.unwrap()).collect();
    let now = ended.now.as_ref().unwrap();
    for (month, missing) in ended.months.iter().zip(&missing) {
        // An order of today comes within one of them, and what it is for is missing until then.
        let comes = month.from <= now.arrives_on && now.arrives_on <= month.to;
        assert_eq!(month.too_late_lamps, if comes { now.least_lamps } else { 0 });
        assert_eq!(month.level_by_end_lamps.saturating_sub(month.lamps_by_end_lamps), *missing);
        assert_eq!(month.enough_by_end_probability.unwrap() < 0.95, *missing > 0);
    }
    let most = *missing.last().unwrap();
    assert!(missing.is_sorted() && missing[1] == 0 && most > 1, "{missing:?}");
    let said = format!(
        "; the maker takes no order after 2026-03-01: {most} lamps more are needed in these months, which only a last buy can cover"
    );
    assert!(ended.sentence.contains(&said), "{}", ended.sentence);
    // A day after all months leaves the orders as they are, and beyond them none.
    let late =
        plan(&run(&study("stops-late", &BUY.replace("2026-03-01", "2027-03-01").replace("2026-08-28", "2027-08-28"))));
    assert!(late.orders().any(|o| o.order_lamps > 0));
    assert!(late.sentence.contains("2027-03-01, and none beyond these would be needed"), "{}", late.sentence);
    let months = open.months.iter().zip(&ended.months);
    assert!(months.clone().all(|(a, b)| (a.mean_lamps, a.level_by_end_lamps) == (b.mean_lamps, b.level_by_end_lamps)));
    let folder = scratch("stops-written");
    write(folder.join("out"), &ends, &[], false).unwrap();
    let table = fs::read_to_string(folder.join("out/purchase_plan.csv")).unwrap();
    let column: Vec<&str> = table.lines().map(|l| l.rsplit(',').next().unwrap()).collect();
    let expected = missing.iter().map(u64::to_string).collect::<Vec<_>>();
    assert_eq!(
        (column[0], &column[2..]),
        ("from_last_buy_lamps", &expected.iter().map(String::as_str).collect::<Vec<_>>()[..])
    );
    let saved = fs::read_to_string(folder.join("out/results.json")).unwrap();
    assert_eq!(StudyResults::from_json(&saved).unwrap(), ends.results);
}

#[test]
fn a_class_without_a_model_takes_each_screen_to_stop_as_early_as_it_may() {
    // 10 h a day since the reading a week ago: 1,930 h is changed at 2,000 h today, 1,800 h on day 13, 1,500 h on day 43.
    let lamps = [lamp(1930.0, ""), lamp(1800.0, ""), lamp(1500.0, ""), lamp(300.0, "")];
    let stops =
        stop("screen = \"1\"\nearliest = 2026-01-08\nlatest = 2026-03-01") + &stop("screen = \"2\"\non = 2026-02-20");
    let results = run(&small("stops-least", &lamps, &format!("{TERMS}{stops}{BUY}"))).results;
    let bounds = results.classes[0].bounds.as_ref().unwrap();
    assert_eq!((bounds.stopping_lamps_count, bounds.stopped_lamps_count), (Some(2), Some(0)));
    let least: Vec<u64> = bounds.months.iter().map(|m| m.least_by_end_lamps).collect();
    assert_eq!((least, bounds.spares.least_lamps), (vec![1, 2], 1));
    assert!(Checks::of("results", &results).is_ok());
}

#[test]
fn figures_of_stops_changed_by_hand_are_refused_by_field() {
    let results = run(&study("stops-edited", &format!("{BUY}{}", stop("screen = \"30\"\non = 2026-03-01")))).results;
    let text = results.to_json().unwrap();
    let spoil = |at: &str, value: Value| {
        let mut all: Value = serde_json::from_str(&text).unwrap();
        *all.pointer_mut(&format!("/body/{at}")).unwrap() = value;
        StudyResults::from_json(&all.to_string()).unwrap_err().to_string()
    };
    let plan = "purchase_plan/classes/0";
    for (at, value, field) in [
        ("classes/0/demand/stopping_lamps_count".to_owned(), json!(2), "conversion_lamps_count"),
        ("classes/0/demand/stopping_lamps_count".to_owned(), Value::Null, "stopped_lamps_count"),
        ("classes/0/demand/stopped_lamps_count".to_owned(), json!(2), "stopped_lamps_count"),
        (format!("{plan}/maker_last_order_on"), json!("2026-01-01"), "orders.order_by"),
        (format!("{plan}/maker_last_order_on"), Value::Null, "from_last_buy_lamps"),
        (format!("{plan}/months/7/from_last_buy_lamps"), json!(0), "months[7].from_last_buy_lamps"),
    ] {
        let said = spoil(&at, value);
        assert!(said.contains(field), "{at}: {said}");
    }
}

const WARRANTY: &str = "[class.warranty]
form = \"pro_rata\"
hours = 2000.0
chance = 0.8
handling_cost = 60.0
";

#[test]
fn claims_ahead_and_dark_hours_count_the_days_that_a_screen_still_burns() {
    let of = |name: &str, more: &str| run(&study(name, &format!("{WARRANTY}{DEPOT}{more}"))).results;
    let ahead = |r: &StudyResults| r.claims.as_ref().unwrap().by_class[0].ahead.as_ref().unwrap().clone();
    let dark = |r: &StudyResults| -> Vec<f64> {
        let places = &r.stock_list.as_ref().unwrap().classes[0].places;
        places.iter().filter_map(|p| p.dark_hours_per_year).collect()
    };
    let plain = of("stops-claims-none", "");
    let half = of("stops-claims-half", &stop("earliest = 2026-04-01\nlatest = 2026-09-30"));
    let today = of("stops-claims-today", &stop("on = 2025-12-28"));
    let (a, b, c) = (ahead(&plain), ahead(&half), ahead(&today));
    assert!(b.claims_mean > 0.0 && b.claims_mean < a.claims_mean, "{} {}", b.claims_mean, a.claims_mean);
    assert!(b.all_claims_mean < 0.7 * a.all_claims_mean && b.all_money_mean < 0.7 * a.all_money_mean);
    assert_eq!((c.claims_mean, c.all_claims_mean, c.all_money_mean, c.found.under_cover), (0.0, 0.0, 0.0, 0));
    assert_eq!(c.found.lamps, 12);
    assert_eq!((dark(&plain).len(), dark(&today)), (1, vec![0.0]));
    // Every screen on one day: as dark as without it for that share of the year. Days 1 to 183 are six of twelve parts.
    let day = of("stops-claims-day", &stop("on = 2026-06-29"));
    let at = |r: &StudyResults| r.stock_list.as_ref().unwrap().classes[0].places[1].level_lamps;
    let rate = |r: &StudyResults| {
        let demand = r.classes[0].demand.as_ref().unwrap();
        demand.months[..5].iter().map(|m| m.failure_mean_lamps).sum::<f64>()
    };
    assert_eq!((at(&plain), rate(&plain)), (at(&day), rate(&day)));
    let share = dark(&day)[0] / dark(&plain)[0];
    assert!((share - 0.5).abs() < 0.05, "{share}");
    // Screens that stop one by one need fewer lamps in the meantime than those that stop together in its middle.
    assert!(dark(&half)[0] > 0.0 && dark(&half)[0] < dark(&day)[0], "{:?} {:?}", dark(&half), dark(&day));
}

#[test]
fn a_lamp_that_soon_reaches_its_limit_is_told_with_the_stop_of_its_screen() {
    // 10 h a day since the reading a week ago: the limit of 2,500 h comes on days 1, 3 and 5 from the as-of date.
    let mut lamps = fleet();
    lamps.extend([lamp(2419.0, ""), lamp(2399.0, ""), lamp(2379.0, "")]);
    let stops = stop("screen = \"42\"\non = 2025-12-30")
        + &stop("screen = \"43\"\nearliest = 2025-12-29\nlatest = 2025-12-31")
        + &stop("screen = \"44\"\nearliest = 2025-12-29\nlatest = 2026-01-03");
    let path = small("stops-soon", &lamps, &format!("{TERMS}{stops}"));
    let results = run(&path).results;
    let soon = |r: &StudyResults| -> Vec<(String, i64, Option<String>)> {
        let one = |l: &relamp::study::SoonLamp| (l.screen.clone(), l.days_left, l.stops_by.map(|d| d.to_string()));
        r.overdue.soon.iter().map(one).collect()
    };
    let found = soon(&results);
    let expected = [("42", 1, None), ("43", 3, Some("2025-12-31")), ("44", 5, None)];
    let expected = expected.map(|(screen, days, by)| (screen.to_owned(), days, by.map(str::to_owned)));
    assert_eq!(found, expected);
    let folder = scratch("stops-soon-written");
    write(folder.join("out"), &run(&path), &[], false).unwrap();
    let table = fs::read_to_string(folder.join("out/overdue.csv")).unwrap();
    assert!(table.lines().next().unwrap().contains(",within_lead_time,stops_by,why,"), "{table}");
    assert!(table.lines().any(|l| l.contains(",yes,yes,2025-12-31,")), "{table}");
}

#[test]
fn a_plan_that_ends_today_does_not_say_that_no_lamp_is_needed_later() {
    let path = study("stops-plan-today", "");
    let text = fs::read_to_string(&path).unwrap();
    // The forecast ends before a lamp ordered tomorrow could come.
    let text = text
        .replace("forecast_months = 8", "forecast_months = 1")
        .replace("lead_time_days = 21", "lead_time_days = 60");
    fs::write(&path, text).unwrap();
    let plan = run(&path).results.purchase_plan.unwrap().classes[0].clone();
    assert!(plan.sentence.contains(" now; what is ordered later serves needs past the forecast"), "{}", plan.sentence);
}

#[test]
fn nothing_is_ordered_that_comes_after_every_screen_has_stopped() {
    // The lead time ends on 2026-01-18.
    let late = run(&study("stops-before-lead", &format!("{DEPOT}{}", stop("on = 2026-01-10")))).results;
    let class = &late.classes[0];
    let stock = class.stock.clone().unwrap();
    let missing = stock.level_lamps - stock.on_hand_lamps - stock.on_order_lamps;
    assert_eq!(class.demand.as_ref().unwrap().stopped_by_lead_time_lamps_count, Some(12));
    assert_eq!((stock.order_serves_lamps, stock.order_lamps, stock.verdict), (Some(0), 0, StockVerdict::TooLate));
    assert!(
        missing == 1 && stock.sentence.contains("so that 1 lamp is missing, for screens that stop before"),
        "{}",
        stock.sentence
    );
    assert_eq!((late.orders.order_lamps, late.orders.order_price), (Some(0), Some(0.0)));
    let plan = late.purchase_plan.as_ref().unwrap();
    let told =
        format!("order none now; none later to 2026-08-08; {missing} lamp is missing to the target before any order");
    assert!(plan.classes[0].sentence.starts_with(&told), "{}", plan.classes[0].sentence);
    assert_eq!((plan.order_lamps, plan.classes[0].not_served_lamps), (Some(0), Some(missing)));
    let list = &late.stock_list.as_ref().unwrap().classes[0];
    assert_eq!(list.to_buy_lamps, Some(0));
    let told = "; 1 lamp more is missing for screens that stop before an order of today comes";
    assert!(list.sentence.contains(&format!("buy none{told}")), "{}", list.sentence);
    // The one store of a chain without a depot says it of its place.
    let path = study("stops-before-count", &format!("{COUNT}{}", stop("on = 2026-01-10")));
    let text = fs::read_to_string(&path).unwrap().replace("on_hand = 1\n", "");
    fs::write(&path, text).unwrap();
    fs::write(path.with_file_name("count.csv"), "lamp_class,place,on_hand\n2.0 kW,Site 01,1\n").unwrap();
    let counted = run(&path).results.stock_list.unwrap().classes[0].clone();
    assert!(counted.sentence.contains(told) && counted.places[0].reason.ends_with(told), "{counted:?}");
    let warned = |r: &StudyResults| {
        r.classes[0].warnings.iter().any(|w| w.starts_with("what is missing is missing at screens that have stopped"))
    };
    assert!(warned(&late));
    let text = late.to_json().unwrap();
    let spoil = |at: &str, value: Value| {
        let mut all: Value = serde_json::from_str(&text).unwrap();
        let (of, field) = at.rsplit_once('/').unwrap();
        all.pointer_mut(&format!("/body/{of}")).unwrap()[field] = value;
        StudyResults::from_json(&all.to_string()).unwrap_err().to_string()
    };
    for (at, value, field) in [
        ("classes/0/stock/order_serves_lamps", json!(1), "stock.order_serves_lamps"),
        ("classes/0/stock/order_serves_lamps", Value::Null, "stock.order_serves_lamps"),
        ("classes/0/stock/verdict", json!("enough"), "stock.verdict"),
        ("purchase_plan/classes/0/not_served_lamps", json!(0), "classes[0].not_served_lamps"),
        ("purchase_plan/classes/0/months/3/orders_serve_by_end_lamps", Value::Null, "orders_serve_by_end_lamps"),
        ("purchase_plan/classes/0/months/3/too_late_lamps", json!(0), "months[3].too_late_lamps"),
    ] {
        let said = spoil(at, value);
        assert!(said.contains(field), "{at}: {said}");
    }
    // A screen that burns on for a week after it: an order serves it.
    let after = run(&study("stops-after-lead", &format!("{DEPOT}{}", stop("on = 2026-01-25")))).results;
    let stock = after.classes[0].stock.clone().unwrap();
    assert_eq!((stock.order_serves_lamps, stock.verdict), (None, StockVerdict::Order));
    assert!(stock.order_lamps > 0 && !warned(&after));
}

#[test]
fn an_order_brings_no_more_than_the_screens_need_that_still_burn_when_it_comes() {
    // Six of twelve screens, old lamps among them, stop in the lead time, or have stopped before it.
    let stops = |on: &str| -> String {
        [33, 35, 37, 39, 40, 41].map(|i| stop(&format!("screen = \"{i}\"\non = {on}"))).concat()
    };
    let of = |name: &str, on: &str| {
        let path = study(name, &format!("{DEPOT}{}", stops(on)));
        let text = fs::read_to_string(&path).unwrap().replace("on_hand = 1", "on_hand = 0");
        fs::write(&path, text).unwrap();
        run(&path).results
    };
    let (soon, gone) = (of("stops-six-soon", "2026-01-10"), of("stops-six-gone", "2025-12-28"));
    let (with, alone) = (soon.classes[0].stock.clone().unwrap(), gone.classes[0].stock.clone().unwrap());
    assert_eq!(with.order_serves_lamps, Some(alone.level_lamps));
    assert!(with.level_lamps > alone.level_lamps);
    assert_eq!((with.on_hand_lamps, with.order_lamps), (0, alone.level_lamps));
    let left = with.level_lamps - with.order_lamps;
    assert!(left > 0 && with.sentence.contains("for screens that stop before it comes"), "{}", with.sentence);
    // With nothing on the shelf every order is one for the screens that are left.
    let orders = |r: &StudyResults| {
        let plan = r.purchase_plan.as_ref().unwrap().classes[0].clone();
        let each: Vec<_> = plan.orders().map(|o| (o.order_by, o.least_lamps)).collect();
        (each, plan.not_served_lamps)
    };
    let ((with, not_served), (alone, none)) = (orders(&soon), orders(&gone));
    assert_eq!((not_served, none), (Some(left), Some(0)));
    assert_eq!(with, alone);
    let depot = |r: &StudyResults| r.stock_list.as_ref().unwrap().classes[0].clone();
    assert_eq!(depot(&soon).places[0].order_serves_lamps, depot(&gone).level_lamps);
    assert!(depot(&soon).level_lamps > depot(&gone).level_lamps);
}

#[test]
fn without_a_model_an_order_serves_no_screen_that_may_have_stopped_before_it_comes() {
    // 10 h a day since the reading a week ago: changed at 2,000 h today, today and on day 8.
    let lamps = [lamp(1930.0, ""), lamp(1960.0, ""), lamp(1850.0, "")];
    let stops = stop("screen = \"0\"\nearliest = 2026-01-05\nlatest = 2026-02-20");
    let terms = TERMS.replace("on_hand = 1", "on_hand = 0");
    let results = run(&small("stops-least-late", &lamps, &format!("{terms}{stops}"))).results;
    let spares = results.classes[0].bounds.clone().unwrap().spares;
    assert_eq!((spares.least_lamps, spares.order_serves_least_lamps, spares.order_least_lamps), (3, Some(2), 2));
    let plan = results.purchase_plan.as_ref().unwrap().classes[0].clone();
    assert_eq!((plan.now.unwrap().order_lamps, plan.not_served_lamps), (2, Some(1)));
    assert!(plan.sentence.contains("3 lamps are missing to the target before any order can come"), "{}", plan.sentence);
    // With every screen gone by then nothing is ordered.
    let stops = stop("earliest = 2026-01-05\nlatest = 2026-02-20");
    let results = run(&small("stops-least-all", &lamps, &format!("{terms}{stops}"))).results;
    assert_eq!(results.orders.order_lamps, Some(0));
    assert!(
        results.classes[0]
            .warnings
            .iter()
            .any(|w| w.starts_with("what is missing is missing at screens that have stopped"))
    );
}

#[test]
fn what_is_missing_before_an_order_can_come_is_the_order_of_today() {
    let path = study("stops-missing", "");
    let text = fs::read_to_string(&path).unwrap().replace("lead_time_days = 21", "lead_time_days = 42");
    fs::write(&path, text).unwrap();
    let results = run(&path).results;
    let missing = results.classes[0].stock.as_ref().unwrap().order_lamps;
    let plan = &results.purchase_plan.as_ref().unwrap().classes[0];
    let said = &plan.sentence;
    assert!(
        missing > 1 && said.contains(&format!("; {missing} lamps are missing to the target before any order")),
        "{said}"
    );
    // The month within which the order of today comes shows what is missing until then, and no month more.
    let arrives = plan.now.as_ref().unwrap().arrives_on;
    for month in &plan.months {
        let at_its_end = month.level_by_end_lamps.saturating_sub(month.lamps_by_end_lamps);
        let until_then = if month.from <= arrives && arrives <= month.to { missing } else { 0 };
        assert_eq!(month.too_late_lamps, at_its_end.max(until_then), "{month:?}");
    }
    assert_eq!(plan.months.iter().map(|m| m.too_late_lamps).max(), Some(missing));
    // An order that comes after the last month has no month to stand in, and the sentence says by when.
    let text = fs::read_to_string(&path).unwrap().replace("forecast_months = 8", "forecast_months = 1");
    fs::write(&path, text).unwrap();
    let plan = run(&path).results.purchase_plan.unwrap().classes[0].clone();
    let (arrives, least) = plan.now.as_ref().map(|now| (now.arrives_on, now.least_lamps)).unwrap();
    assert!(least > plan.months[0].too_late_lamps && arrives > plan.months[0].to);
    let said =
        format!("; {least} lamps are missing to the target by {arrives}, after these months and before any order");
    assert!(plan.sentence.contains(&said), "{}", plan.sentence);
}

#[test]
fn a_last_buy_tells_why_there_is_none() {
    let refused = |name: &str, on: &str| {
        let buy = BUY.replace("needed_until = 2026-08-28\n", "");
        let results = run(&study(name, &format!("{buy}{}", stop(&format!("on = {on}"))))).results;
        results.last_buys.unwrap().buys[0].refusal.clone().unwrap().sentence
    };
    let today = refused("stops-buy-today", "2025-12-28");
    assert!(today.contains("stops on the as-of date, so that no lamp is needed"), "{today}");
    // The lead time ends on 2026-01-18.
    let late = BUY.replace("2026-03-01", "2025-12-30").replace("needed_until = 2026-08-28\n", "");
    let why = |name: &str, buy: &str, on: &str| {
        let results = run(&study(name, &format!("{buy}{}", stop(&format!("on = {on}"))))).results;
        results.last_buys.unwrap().buys[0].refusal.clone().map(|r| r.sentence)
    };
    let told = "a lamp ordered today comes on 2026-01-18, and none is needed after 2026-01-10";
    assert!(why("stops-buy-late", &late, "2026-01-10").unwrap().starts_with(told));
    // A day until which lamps are needed does not bring back screens that are gone.
    let until = BUY.replace("2026-03-01", "2025-12-30");
    assert!(why("stops-buy-late-until", &until, "2026-01-10").unwrap().starts_with(told));
    assert_eq!(why("stops-buy-in-time", &until, "2026-02-10"), None);
    let before = refused("stops-buy-before", "2026-02-10");
    assert!(before.contains("stops on 2026-02-10, before the last day for orders, 2026-03-01"), "{before}");
}
