//! Last buys of a study: quantities by risk and by costs, screens that stop, scenarios side by side, and mistakes by line.

use std::fs;
use std::path::PathBuf;

use relamp::base::sound::Checks;
use relamp::study::BuyProgramme::{Declared, Earlier, Late, NoStop};
use relamp::study::{ClassResult, LastBuyResult, Study, StudyOutput, StudyResults, write};
use serde_json::json;

use crate::study::scratch;
use crate::study_small::{Lamp, TERMS, lamp, run, small, wearing};

/// Lamps that ended, and ten that burn in screens 30 to 39 of their own.
fn fleet() -> Vec<Lamp<'static>> {
    let mut lamps = wearing();
    lamps.truncate(30);
    lamps.extend((0..10).map(|i| lamp(200.0 * f64::from(i), "")));
    lamps
}

fn study(name: &str, more: &str) -> PathBuf {
    small(name, &fleet(), &format!("{TERMS}{more}"))
}

fn stop(screen: &str, rest: &str) -> String {
    format!("[[stop]]\nsite = \"Site 01\"\nscreen = \"{screen}\"\nkind = \"conversion\"\n{rest}\n")
}

/// Screens 30 to 34 are converted between spring and autumn, 35 is closed on a day, the others burn on.
fn programme() -> String {
    let window = "earliest = 2026-04-01\nlatest = 2026-10-01\nearlier_on = 2026-02-01";
    let mut text: String = (30..35).map(|i| stop(&i.to_string(), window)).collect();
    text += &stop("35", "on = 2026-06-30").replace("conversion", "closing");
    text
}

const BUY: &str = "[[last_buy]]
class = \"2.0 kW\"
last_order_on = 2026-03-31
needed_until = 2027-12-28
risk = 0.05
cost_short = 5000.0
money_back = 100.0
";

fn bought(output: &StudyOutput) -> &LastBuyResult {
    let buy = &output.results.last_buys.as_ref().unwrap().buys[0];
    assert!(buy.refusal.is_none(), "{:?}", buy.refusal);
    buy
}

#[test]
fn a_last_buy_is_set_by_its_risk_and_by_its_costs_and_compared_with_other_programmes() {
    let output = run(&study("last-buy", &format!("{BUY}{}", programme())));
    let buy = bought(&output);
    let programmes: Vec<_> = buy.scenarios.iter().map(|s| s.programme).collect();
    assert_eq!(programmes, [Declared, NoStop, Late, Earlier]);
    let means: Vec<f64> = buy.scenarios.iter().map(|s| s.mean_lamps).collect();
    assert!(means[1] > means[2] && means[2] > means[0] && means[0] > means[3], "{means:?}");
    for scenario in &buy.scenarios {
        // Least number with its chance, summed anew from the distribution.
        let needed = &scenario.found.needed;
        let least = |ratio: f64| {
            let (mut sum, mut lamps) = (0.0, needed.first());
            for p in needed.probabilities() {
                sum += p;
                if sum >= ratio - 1e-12 {
                    break;
                }
                lamps += 1;
            }
            lamps
        };
        let (risk, costs) = (scenario.by_risk.as_ref().unwrap(), scenario.by_costs.as_ref().unwrap());
        // (5,000 - 780) / (5,000 - 100): the lamp short costs 4,220 more than a lamp, the lamp left over loses 680.
        let ratio = 4220.0 / 4900.0;
        assert!((costs.ratio - ratio).abs() < 1e-12);
        assert_eq!((risk.quantity_lamps, costs.quantity_lamps), (least(0.95), least(ratio)));
        for q in [risk, costs] {
            // One lamp is on hand.
            assert_eq!(q.buy_lamps, q.quantity_lamps - 1);
            assert!((q.buy_price - 780.0 * q.buy_lamps as f64).abs() < 1e-9);
            let left: f64 = (needed.first()..)
                .zip(needed.probabilities())
                .map(|(n, p)| q.held.lamps.saturating_sub(n) as f64 * p)
                .sum();
            assert!((q.held.expected_left - left).abs() < 1e-9);
            assert!((q.left_price - 780.0 * left).abs() < 1e-6 && (q.left_money_back - 100.0 * left).abs() < 1e-6);
            assert!(q.held.shortage_chance + q.held.leftover_chance <= 1.0 + 1e-12);
        }
        // By its costs no other quantity costs less.
        let least_cost = buy.curve.iter().filter_map(|p| p.cost).fold(f64::INFINITY, f64::min);
        let own = buy.scenarios[0].by_costs.as_ref().unwrap().held.cost.unwrap();
        assert!((own - least_cost).abs() < 1e-9 * least_cost);
    }
    let earlier = buy.earlier.as_ref().unwrap();
    assert_eq!(earlier.screens, 5);
    assert!((earlier.mean_saved - (means[0] - means[3])).abs() < 1e-9);
    let stopping = &output.results.last_buys.as_ref().unwrap().stopping[0];
    assert_eq!(
        (stopping.burning_lamps_count, stopping.conversion_lamps_count, stopping.closing_lamps_count),
        (10, 5, 1)
    );
    assert_eq!(
        (stopping.first_on.to_string(), stopping.last_on.to_string()),
        ("2026-04-01".into(), "2026-10-01".into())
    );
    assert!(
        buy.sentence.contains("until 2027-12-28") && buy.sentence.contains("by 2026-03-31 by the costs order"),
        "{}",
        buy.sentence
    );
    // The stops leave the model and the age as they are; a screen that stops within the year saves until then.
    let without = run(&study("last-buy-without", ""));
    let (a, b) = (&without.results.classes[0], &output.results.classes[0]);
    let policy = |c: &ClassResult| {
        let mut policy = c.policy.clone().unwrap();
        (policy.saving_against_today_per_year.take().unwrap(), policy)
    };
    let ((saved_on, on), (saved_until, until)) = (policy(a), policy(b));
    assert_eq!((&a.model, on, a.advised_age_hours), (&b.model, until, b.advised_age_hours));
    assert!(saved_until.abs() < saved_on.abs() && saved_until * saved_on > 0.0, "{saved_until} {saved_on}");
    assert!(without.results.last_buys.is_none() && !without.results.to_json().unwrap().contains("last_buys"));
    let folder = scratch("last-buy-written");
    write(folder.join("out"), &output, &[], false).unwrap();
    let table = fs::read_to_string(folder.join("out/last_buys.csv")).unwrap();
    assert_eq!(table.lines().count(), 9, "{table}");
    let saved = fs::read_to_string(folder.join("out/results.json")).unwrap();
    assert_eq!(StudyResults::from_json(&saved).unwrap(), output.results);
}

#[test]
fn without_stops_the_lamps_needed_are_those_of_the_forecast() {
    // 61 days, of which the two months of the forecast have 60.875.
    let buy = BUY.replace("2027-12-28", "2026-02-27").replace("2026-03-31", "2026-01-31");
    let output = run(&study("last-buy-plain", &buy));
    let buy = bought(&output);
    assert_eq!(buy.scenarios.len(), 1);
    let months = &output.results.classes[0].demand.as_ref().unwrap().months;
    let forecast: f64 = months.iter().map(|m| m.mean_lamps).sum();
    assert!((buy.scenarios[0].mean_lamps - forecast).abs() < 0.01 * forecast + 0.01, "{forecast}");
    // Later, more are needed.
    let longer = run(&study("last-buy-longer", BUY));
    assert!(bought(&longer).scenarios[0].mean_lamps > forecast);
}

#[test]
fn the_end_is_the_last_stop_where_every_screen_stops_and_is_asked_for_otherwise() {
    let buy = BUY.replace("needed_until = 2027-12-28\n", "");
    let site = "[[stop]]\nsite = \"site 01\"\nkind = \"closing\"\nearliest = 2026-05-01\nlatest = 2026-09-30\n";
    let output = run(&study("last-buy-site", &format!("{buy}{site}{}", stop("31", "on = 2026-05-01"))));
    let until = bought(&output).needed_until.unwrap();
    assert_eq!(until.to_string(), "2026-09-30");
    let stopping = &output.results.last_buys.as_ref().unwrap().stopping[0];
    // A screen's own stop counts before that of its site.
    assert_eq!((stopping.conversion_lamps_count, stopping.closing_lamps_count), (1, 9));
    let output = run(&study("last-buy-open", &format!("{buy}{}", programme())));
    let refused = &output.results.last_buys.as_ref().unwrap().buys[0];
    assert_eq!(refused.refusal.as_ref().unwrap().slug, "study.last_buy_end");
    assert!(refused.scenarios.is_empty() && refused.sentence.is_empty());
    // Too few lamps for a model.
    let few = small("last-buy-few", &[lamp(500.0, ""), lamp(900.0, "planned")], &format!("{TERMS}{BUY}"));
    let few = run(&few).results.last_buys.unwrap();
    assert_eq!(few.buys[0].refusal.as_ref().unwrap().slug, "study.no_fit");
}

#[test]
fn stops_that_come_late_move_an_end_that_is_theirs() {
    let buy = BUY.replace("needed_until = 2027-12-28\n", "");
    let of = |name: &str, site: &str, screen: &str| {
        let site = format!("[[stop]]\nsite = \"Site 01\"\nkind = \"closing\"\non = {site}\n");
        run(&study(name, &format!("{buy}{site}{}", stop("31", &format!("on = {screen}")))))
    };
    // 182 days apart.
    let (declared, moved) =
        (of("last-buy-on", "2026-09-30", "2026-05-01"), of("last-buy-moved", "2027-03-31", "2026-10-30"));
    let mean = |output: &StudyOutput, i: usize| {
        let scenario = bought(output).scenarios[i].clone();
        (scenario.mean_lamps, scenario.by_risk.unwrap().quantity_lamps)
    };
    assert_eq!(bought(&declared).scenarios[2].programme, Late);
    assert_eq!(mean(&declared, 2), mean(&moved, 0));
    assert!(mean(&declared, 2).0 > 1.2 * mean(&declared, 0).0);
    let text = declared.results.to_json().unwrap();
    assert_eq!(StudyResults::from_json(&text).unwrap(), declared.results);
    let folder = scratch("last-buy-late-written");
    write(folder.join("out"), &declared, &[], false).unwrap();
    let table = fs::read_to_string(folder.join("out/last_buys.csv")).unwrap();
    let until = |word: &str| {
        let row = table.lines().find(|l| l.contains(word)).unwrap();
        row.split(',').nth(4).unwrap().to_owned()
    };
    assert_eq!(
        (until(",declared,"), until(",no_stop,"), until(",late,")),
        ("2026-09-30".into(), "2026-09-30".into(), "2027-03-31".into())
    );
    let spoilt = text.replace("\"late_by_days\": 182", "\"late_by_days\": 181");
    assert_ne!(spoilt, text);
    assert!(StudyResults::from_json(&spoilt).unwrap_err().to_string().contains("found.terms.end_days"));
    // An end that is declared stays.
    let plain = run(&study("last-buy-fixed", &format!("{BUY}{}", programme())));
    let ends: Vec<f64> = bought(&plain).scenarios.iter().map(|s| s.found.terms.end_days).collect();
    assert!(ends.iter().all(|e| *e == ends[0]));
}

#[test]
fn freed_lamps_used_again_lower_the_quantity_and_shelf_loss_raises_it() {
    let mean = |name: &str, more: &str| {
        let text = BUY.replace("money_back", &format!("{more}money_back"));
        let output = run(&study(name, &format!("{text}{}", programme())));
        let buy = bought(&output);
        (buy.scenarios[0].mean_lamps, buy.scenarios[0].found.played.is_some())
    };
    let (plain, used, lossy) = (
        mean("last-buy-a", ""),
        mean("last-buy-b", "reuse_least_hours_left = 200.0\n"),
        mean("last-buy-c", "shelf_loss_per_year = 0.2\n"),
    );
    assert!(!plain.1 && used.1 && lossy.1);
    assert!(used.0 < plain.0 + 0.05 && lossy.0 > plain.0 + 0.5, "{plain:?} {used:?} {lossy:?}");
}

#[test]
fn screens_that_stop_before_an_order_comes_are_not_bought_for() {
    // An order of today comes on day 21: the screens of the lamps of 600 h and more, which need most, stop on day 14.
    let gone: String = (33..40).map(|i| stop(&i.to_string(), "on = 2026-01-11")).collect();
    let buy = BUY.replace("2027-12-28", "2026-05-28");
    let output = run(&study("last-buy-gone", &format!("{buy}{gone}")));
    let buy = bought(&output);
    Checks::of("results", &output.results).unwrap();
    // The other three screens alone: a study in which those seven stop on the as-of date, and need nothing.
    let stopped = gone.replace("2026-01-11", "2025-12-28");
    let text = BUY.replace("2027-12-28", "2026-05-28");
    let alone = run(&study("last-buy-alone", &format!("{text}{stopped}")));
    let alone = bought(&alone);
    let declared = &buy.scenarios[0];
    let (now, only) = (declared.by_risk.as_ref().unwrap(), alone.scenarios[0].by_risk.as_ref().unwrap());
    assert!((declared.served.as_ref().unwrap().mean() - alone.scenarios[0].mean_lamps).abs() < 1e-6);
    assert_eq!(now.order_serves_lamps, Some(only.quantity_lamps));
    let missing = now.quantity_lamps - 1;
    assert!(missing > only.quantity_lamps, "{missing} {}", only.quantity_lamps);
    assert_eq!((now.buy_lamps, now.held.lamps), (only.quantity_lamps, 1 + only.quantity_lamps));
    // What no order serves is told, and the chance of a shortage counts it.
    assert!(now.held.shortage_chance > 0.05);
    let told = format!(
        "{} more",
        if missing - now.buy_lamps == 1 { "1 lamp".into() } else { format!("{} lamps", missing - now.buy_lamps) }
    );
    assert!(
        buy.sentence.contains(&told) && buy.sentence.contains("before an order of today comes"),
        "{}",
        buy.sentence
    );
    // Without a stop every screen is served.
    assert!(
        buy.scenarios[1].served.is_none() && buy.scenarios[1].by_risk.as_ref().unwrap().order_serves_lamps.is_none()
    );
    // A file changed by hand is refused.
    let mut changed = serde_json::to_value(&output.results).unwrap();
    *changed.pointer_mut("/last_buys/buys/0/scenarios/0/by_risk/order_serves_lamps").unwrap() = json!(99);
    let changed: StudyResults = serde_json::from_value(changed).unwrap();
    assert!(Checks::of("results", &changed).unwrap_err().to_string().contains("order_serves_lamps"));
}

#[test]
fn a_last_buy_is_in_whole_boxes_and_at_least_the_smallest_order() {
    let of = |name: &str, boxes: &str| {
        let terms = TERMS.replace("on_hand = 1", &format!("on_hand = 1\n{boxes}"));
        let output = run(&small(name, &fleet(), &format!("{terms}{BUY}{}", programme())));
        Checks::of("results", &output.results).unwrap();
        let folder = scratch(&format!("{name}-written"));
        write(folder.join("out"), &output, &[], false).unwrap();
        let saved = fs::read_to_string(folder.join("out/results.json")).unwrap();
        assert_eq!(StudyResults::from_json(&saved).unwrap(), output.results);
        bought(&output).clone()
    };
    let (single, boxed) =
        (of("last-buy-single", ""), of("last-buy-boxed", "box_lamps = 6\nminimum_order_lamps = 13\n"));
    for (a, b) in single.scenarios.iter().zip(&boxed.scenarios) {
        let (a, b) = (a.by_risk.as_ref().unwrap(), b.by_risk.as_ref().unwrap());
        let order = a.buy_lamps.max(13).div_ceil(6) * 6;
        assert_eq!((a.least_buy_lamps, b.quantity_lamps, b.buy_lamps), (None, a.quantity_lamps, order));
        assert_eq!(b.least_buy_lamps, (order != a.buy_lamps).then_some(a.buy_lamps));
        assert!((b.buy_price - 780.0 * order as f64).abs() < 1e-9 && b.held.lamps == 1 + order);
    }
    assert!(boxed.sentence.contains("the rest is the box or the smallest order"), "{}", boxed.sentence);
}

fn mistakes(more: &str) -> Vec<(&'static str, Option<u64>, String)> {
    let error = Study::open(study("last-buy-mistakes", more)).unwrap_err();
    let told = |p: &relamp::Problem| (p.slug, p.place.line, p.place.column.clone().unwrap_or_default());
    error.problems().iter().map(told).collect()
}

#[test]
fn mistakes_are_told_with_line_and_key() {
    let slugs = |more: &str| mistakes(more).iter().map(|m| m.0).collect::<Vec<_>>();
    let past = mistakes(&stop("30", "on = 2025-12-27"));
    assert_eq!((past[0].0, past[0].2.as_str()), ("study.stop_day", "stop[1].on"));
    assert!(past[0].1.is_some_and(|line| line > 40));
    assert_eq!(slugs(&stop("30", "earliest = 2026-05-01\nlatest = 2026-04-01")), ["study.stop_window"]);
    assert_eq!(slugs(&stop("30", "")), ["study.stop_window"]);
    assert_eq!(slugs(&stop("30", "on = 2026-05-01\nearliest = 2026-05-01")), ["study.stop_window"]);
    assert_eq!(slugs(&stop("30", "on = 2026-05-01").repeat(2)), ["study.stop_twice"]);
    assert_eq!(slugs(&stop("30", "on = 2026-05-01").replace("conversion", "laser")), ["study.word_unknown"]);
    assert_eq!(slugs(&BUY.replace("2.0 kW", "9 kW")), ["study.last_buy_class"]);
    assert_eq!(slugs(&BUY.repeat(2)), ["study.last_buy_class"]);
    assert_eq!(slugs(&BUY.replace("2026-03-31", "2025-03-31")), ["study.last_buy_day"]);
    assert_eq!(slugs(&BUY.replace("2027-12-28", "2026-01-28")), ["study.last_buy_day"]);
    let bare = BUY.replace("risk = 0.05\n", "").replace("cost_short = 5000.0\nmoney_back = 100.0\n", "");
    let told = mistakes(&bare);
    assert_eq!((told[0].0, told[0].2.as_str()), ("study.last_buy_rule", "last_buy[1].class"));
    assert_eq!(slugs(&BUY.replace("cost_short = 5000.0\n", "")), ["study.key_missing"]);
    assert_eq!(slugs(&BUY.replace("5000.0", "700.0")), ["stock.buy_costs"]);
    assert_eq!(slugs(&BUY.replace("risk = 0.05", "risk = 5")), ["study.number_out_of_range"]);
    // A stop of a place that no row names is a finding with its line.
    let elsewhere = stop("30", "on = 2026-05-01").replace("Site 01", "Site 11") + &stop("99", "on = 2026-05-01");
    let output = run(&study("last-buy-elsewhere", &elsewhere));
    let told: Vec<_> =
        output.results.doubts.iter().map(|d| (d.rule.as_str(), d.column.as_str(), d.line > 40)).collect();
    assert_eq!(told, [("study.stop_unused", "stop[1].site", true), ("study.stop_unused", "stop[2].screen", true)]);
    assert!(output.results.last_buys.unwrap().stopping.is_empty());
}

#[test]
fn last_buys_changed_by_hand_are_refused_by_field() {
    let output = run(&study("last-buy-changed", &format!("{BUY}{}", programme())));
    let sound = serde_json::to_value(&output).unwrap();
    let refused = |value: &serde_json::Value| -> Vec<String> {
        let output: StudyOutput = serde_json::from_value(value.clone()).unwrap();
        let Err(error) = Checks::of("output", &output) else { return Vec::new() };
        error.problems().iter().map(|p| p.place.column.clone().unwrap_or_default()).collect()
    };
    assert_eq!(refused(&sound), Vec::<String>::new());
    for (pointer, value) in [
        ("sentence", json!("buy nothing")),
        ("last_order_on", json!("2025-01-01")),
        ("needed_until", json!("2027-12-27")),
        ("on_hand_lamps", json!(7)),
        ("price", json!(1.0)),
        ("scenarios/0/mean_lamps", json!(1.0)),
        ("scenarios/0/by_risk/buy_lamps", json!(0)),
        ("scenarios/1/by_costs/left_price", json!(0.0)),
        ("scenarios/1/by_costs/held/shortage_chance", json!(0.0)),
        ("scenarios/0/programme", json!("late")),
        ("scenarios/0/found/planned_age_hours", json!(700.0)),
        ("curve/0/expected_short", json!(0.0)),
        ("earlier/mean_saved", json!(0.0)),
        ("lamp_class", json!("9 kW")),
    ] {
        let mut changed = sound.clone();
        *changed.pointer_mut(&format!("/results/last_buys/buys/0/{pointer}")).unwrap() = value;
        let fields = refused(&changed);
        assert!(fields.iter().any(|f| f.starts_with("results.last_buys.buys[0]")), "{pointer}: {fields:?}");
    }
    let mut changed = sound;
    *changed.pointer_mut("/results/last_buys/stopping/0/closing_lamps_count").unwrap() = json!(99);
    assert_eq!(refused(&changed), ["results.last_buys.stopping[0].conversion_lamps_count"]);
}
