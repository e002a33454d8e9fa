//! Programme hours over the year in a study: season, growth, holidays and closures, wherever days become hours.

use std::fs;

use relamp::Run;
use relamp::base::sound::Checks;
use relamp::study::{Declaration, Study, StudyResults};
use serde_json::Value;

use crate::study::declaring::GOOD;
use crate::study_small::{Lamp, TERMS, lamp, run, small, wearing};

/// A fleet that wears, with burning lamps of all ages in screens 30 and on.
fn fleet() -> Vec<Lamp<'static>> {
    let mut lamps = wearing();
    lamps.truncate(30);
    lamps.extend((0..14).map(|i| lamp(130.0 * f64::from(i) + 30.0, "")));
    lamps
}

/// Everything that turns days into hours: a depot, stops, a last buy with lamps used again, a warranty.
const ALL: &str = "[class.warranty]
form = \"pro_rata\"
chance = 0.8
handling_cost = 60.0
days_to_file = 200
hours = 1800.0
months = 30
months_from = \"fitting\"
[[depot]]
name = \"Depot\"
sites = [\"Site 01\"]
days_to_site = 3
[[stop]]
site = \"Site 01\"
screen = \"33\"
kind = \"conversion\"
earliest = 2026-01-15
latest = 2026-03-15
earlier_on = 2026-01-10
[[last_buy]]
class = \"2.0 kW\"
last_order_on = 2026-01-10
needed_until = 2026-12-28
risk = 0.05
";

/// The study with its hours a week and what more is declared, such as a season.
fn results(name: &str, hours_per_week: &str, terms: &str, more: &str) -> StudyResults {
    let path = small(name, &fleet(), &format!("{terms}{more}"));
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace("hours_per_week = 70.0", &format!("hours_per_week = {hours_per_week}"))).unwrap();
    let results = run(&path).results;
    Checks::of("results", &results).unwrap();
    // What is saved is read again to equal bits, with the season in it.
    let saved = serde_json::to_string(&results).unwrap();
    assert_eq!(serde_json::from_str::<StudyResults>(&saved).unwrap(), results);
    results
}

fn season(factor: f64) -> String {
    format!("[season]\nby_month = {:?}\n", [factor; 12])
}

/// Numbers of two results that differ by more than a share of themselves, by their paths.
fn apart(a: &Value, b: &Value, slack: f64, path: &str, found: &mut Vec<String>) {
    match (a, b) {
        (Value::Object(x), Value::Object(y)) => {
            for (key, value) in x {
                let own = key.starts_with("programme_hours") || ["season", "assumptions"].contains(&key.as_str());
                if !own {
                    apart(value, y.get(key).unwrap_or(&Value::Null), slack, &format!("{path}.{key}"), found);
                }
            }
        }
        (Value::Array(x), Value::Array(y)) if x.len() == y.len() => {
            for (i, (p, q)) in x.iter().zip(y).enumerate() {
                apart(p, q, slack, &format!("{path}[{i}]"), found);
            }
        }
        (Value::Number(x), Value::Number(y)) => {
            let (x, y) = (x.as_f64().unwrap(), y.as_f64().unwrap());
            if (x - y).abs() > slack * (1e-3 + x.abs().max(y.abs())) {
                found.push(format!("{path}: {x} {y}"));
            }
        }
        // Distributions end where chances are negligible.
        (Value::Array(_), Value::Array(_)) if path.ends_with("probabilities") => (),
        (Value::String(_), Value::String(_)) => (),
        (p, q) if p == q => (),
        (p, q) => found.push(format!("{path}: {p} {q}")),
    }
}

fn differences(a: &StudyResults, b: &StudyResults, slack: f64) -> Vec<String> {
    let mut found = Vec::new();
    apart(&serde_json::to_value(a).unwrap(), &serde_json::to_value(b).unwrap(), slack, "", &mut found);
    found
}

#[test]
fn a_season_of_ones_changes_no_figure() {
    let more = |season: &str| format!("{ALL}reuse_least_hours_left = 300.0\n{season}");
    let plain = results("season-none", "70.0", TERMS, &more(""));
    let ones = results("season-ones", "70.0", TERMS, &more(&season(1.0)));
    assert!(plain.season.is_none() && ones.season.is_some());
    assert_eq!(ones.assumptions.len(), plain.assumptions.len() + 1);
    assert_eq!(differences(&plain, &ones, 1e-6), Vec::<String>::new());
}

#[test]
fn half_of_twice_the_hours_is_the_same_everywhere() {
    for (name, reuse) in [("exact", ""), ("played", "reuse_least_hours_left = 300.0\n")] {
        let plain = results(&format!("season-plain-{name}"), "70.0", TERMS, &format!("{ALL}{reuse}"));
        let half = season(0.5);
        let half = results(&format!("season-half-{name}"), "140.0", TERMS, &format!("{ALL}{reuse}{half}"));
        let year = half.classes[0].demand.as_ref().unwrap().programme_hours_next_year.unwrap();
        assert!((3.0..=14.0 * 70.0 * 365.25 / 7.0).contains(&year));
        let found = differences(&plain, &half, 0.01);
        assert!(found.is_empty(), "{found:#?}");
    }
}

#[test]
fn lamps_reach_their_limit_by_the_season_and_not_in_a_closed_house() {
    // 10 h a day. Read on 21 December at 2,300 h; twice the hours in December: 2,440 h on the 28th, and 60 h more in 3 days.
    let near = |more: &str| {
        let mut lamps = wearing();
        lamps.extend([lamp(2300.0, "")]);
        let results = run(&small("season-soon", &lamps, &format!("{TERMS}{more}"))).results;
        Checks::of("results", &results).unwrap();
        results.overdue.soon.iter().find(|l| l.reading_hours == 2300.0).cloned()
    };
    let plain = near("").unwrap();
    assert_eq!((plain.days_left, plain.expected_hours_at_visit), (13, 2300.0 + 10.0 * 35.0));
    let twice = "[season]\nby_month = [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2]\n";
    let december = near(twice).unwrap();
    // To the visit of 25 January: 7 and 4 days of December, 24 days of January.
    assert_eq!((december.days_left, december.expected_hours_at_visit), (3, 2300.0 + 10.0 * 46.0));
    let closed = "[[special_days]]\nfrom = 2025-12-28\nto = 2026-01-04\nhours_factor = 0\nsite = \"site 01\"\n";
    let shut = near(closed).unwrap();
    // 8 days shut, then the 13 days that were left; with 16 days shut the limit lies past the next visit.
    assert_eq!((shut.days_left, shut.within_lead_time, shut.before_next_visit), (21, true, true));
    assert!(near(&closed.replace("2026-01-04", "2026-01-12")).is_none());
    // A closure of another screen changes nothing here.
    let other = format!("{closed}screen = \"5\"\n");
    assert_eq!(near(&other).unwrap(), plain);
}

#[test]
fn a_closed_chain_needs_only_what_is_due_and_growth_brings_changes_forward() {
    let closed = "[[special_days]]\nfrom = 2025-12-28\nto = 2026-12-31\nhours_factor = 0\n";
    let shut = results("season-shut", "70.0", TERMS, closed);
    let demand = shut.classes[0].demand.as_ref().unwrap();
    let due = demand.due_at_planned_age_lamps_count as f64;
    let means: Vec<f64> = demand.months.iter().map(|m| m.mean_lamps).collect();
    assert!((means[0] - due).abs() < 1e-12 && means[1] == 0.0, "{means:?}");
    assert_eq!(demand.programme_hours_next_year, Some(0.0));
    let plain = results("season-even", "70.0", TERMS, "");
    let grown = results("season-grown", "70.0", TERMS, "[season]\ngrowth_per_year = 0.5\n");
    let sum = |r: &StudyResults| r.classes[0].demand.as_ref().unwrap().months.iter().map(|m| m.mean_lamps).sum::<f64>();
    assert!(sum(&grown) > sum(&plain) + 1e-3 && sum(&plain) > sum(&shut), "{} {}", sum(&grown), sum(&plain));
    // Hours of the year: the integral of 1.5^(d / 365.25), day by day from its start.
    let year = grown.classes[0].demand.as_ref().unwrap().programme_hours_next_year.unwrap();
    let days: f64 =
        (0..365).map(|d| 1.5_f64.powf(f64::from(d) / 365.25)).sum::<f64>() + 0.25 * 1.5_f64.powf(365.0 / 365.25);
    assert!((year - 14.0 * 10.0 * days).abs() < 1e-6 * year, "{year} {}", 140.0 * days);
}

#[test]
fn mistakes_of_a_season_name_file_line_and_key() {
    let of = |more: &str| {
        let text = format!("{GOOD}{more}");
        let at = GOOD.matches('\n').count() as u64;
        let error = Declaration::parse(&text, "study.toml").unwrap_err();
        let place = |p: &relamp::Problem| {
            assert_eq!(p.place.input, "study.toml");
            format!("{} {} {}", p.slug, p.place.line.unwrap_or(0).saturating_sub(at), p.place.column.clone().unwrap())
        };
        error.problems().iter().map(place).collect::<Vec<_>>()
    };
    assert_eq!(of("[season]\nby_month = [1, 1]\n"), ["study.list_short 2 season.by_month"]);
    assert_eq!(of(&season(0.0)), ["study.list_short 2 season.by_month"]);
    assert_eq!(of("[season]\nby_month = 1.1\n"), ["study.not_a_list 2 season.by_month"]);
    assert_eq!(
        of("[season]\ngrowth_per_year = -1.0\nspring = 1\n"),
        ["study.number_out_of_range 2 season.growth_per_year", "study.key_unknown 3 season.spring"]
    );
    let days = "[[special_days]]\nfrom = 2026-02-03\nto = 2026-02-01\nhours_factor = 0\nscreen = \"1\"\n";
    assert_eq!(of(days), ["study.key_missing 1 special_days[1].site", "study.special_days 3 special_days[1].to"]);
    assert_eq!(
        of("[[special_days]]\nfrom = 2026-02-03\nhours_factor = -1\n"),
        ["study.key_missing 1 special_days[1].to", "study.number_out_of_range 3 special_days[1].hours_factor"]
    );
    // 72 and 88 h a week are 25.7 and 31.4 h a day with 2.5 times as many; 40 h are not.
    assert_eq!(of(&season(2.5)), ["study.day_hours 1 season"; 2]);
}

#[test]
fn the_lamps_that_forecasts_start_from_can_be_had() {
    let twice = "[season]\nby_month = [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2]\n";
    for (name, more, factor) in [("today-even", "", 1.0), ("today-season", twice, 2.0)] {
        let study = Study::open(small(name, &fleet(), &format!("{TERMS}{ALL}{more}"))).unwrap();
        let lamps = study.lamps_today(&study.read(&Run::new()).unwrap());
        assert_eq!(lamps.len(), 14);
        // Read on 21 December, 10 h a day since; one screen is converted.
        let ages: Vec<f64> = lamps.iter().map(|l| l.age_hours.unwrap()).collect();
        let expected: Vec<f64> = (0..14).map(|i| 130.0 * f64::from(i) + 30.0 + 70.0 * factor).collect();
        assert_eq!(ages, expected);
        let stops: Vec<_> = lamps.iter().filter(|l| l.stops_to.is_some()).map(|l| l.screen.as_str()).collect();
        assert_eq!(stops, ["33"]);
    }
}

#[test]
fn special_days_of_no_site_are_told() {
    let days = "[[special_days]]\nfrom = 2026-02-01\nto = 2026-02-03\nhours_factor = 0\nsite = \"Site 1\"\n";
    let results = results("season-nowhere", "70.0", TERMS, days);
    let doubt = results.doubts.iter().find(|d| d.rule == "study.special_days_unused").unwrap();
    assert_eq!((doubt.column.as_str(), doubt.value.as_str()), ("special_days[1].site", "Site 1"));
}
