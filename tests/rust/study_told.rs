//! What every output of a study must say alike: where no lamp was seen, what so few failures cannot show, and how much of
//! an interval is the end of the search.

use relamp::study::StudyResults;
use serde_json::Value;

use crate::study_small::{Lamp, TERMS, lamp, run, small, wearing};

/// The one class of a small study, as `results.json` has it.
fn class(name: &str, lamps: &[Lamp<'_>], terms: &str) -> Value {
    let text = run(&small(name, lamps, terms)).results.to_json().unwrap();
    assert!(StudyResults::from_json(&text).is_ok(), "{name}");
    let saved: Value = serde_json::from_str(&text).unwrap();
    saved["body"]["classes"][0].clone()
}

#[test]
fn running_to_failure_says_past_which_age_no_lamp_was_seen() {
    let told = class("told-failure", &wearing(), TERMS);
    assert_eq!(told["seen"]["oldest_at_risk_lamps_count"], 1);
    let policy = &told["policy"];
    let said = policy["run_to_failure_sentence"].as_str().unwrap();
    assert!(said.contains("no lamp was seen past 2,180 h (1 lamp at risk there), and by the model"), "{said}");
    assert!(said.contains("% more per hour than the planned age"), "{said}");
    assert_eq!(policy["run_to_failure_past_records"], false);
    let share = policy["run_to_failure_past_records_probability"].as_f64().unwrap();
    assert!(share > 0.0 && share < 0.2, "{share}");
    // A few early failures among lamps that were all changed young: most of the hours lie where no lamp was seen.
    let mut lamps: Vec<Lamp<'_>> = [150.0, 260.0, 300.0, 340.0, 380.0, 390.0].map(|hours| lamp(hours, "dim")).into();
    lamps.extend((0..150).map(|_| lamp(400.0, "planned")));
    let early = class("told-early", &lamps, TERMS);
    let policy = &early["policy"];
    let share = policy["run_to_failure_past_records_probability"].as_f64().unwrap();
    assert!(share > 0.5, "{share}");
    assert_eq!(policy["run_to_failure_past_records"], true);
    let said = policy["run_to_failure_sentence"].as_str().unwrap();
    assert!(said.ends_with("of its lamp hours lie past that age, so that its cost is the model's opinion"), "{said}");
}

#[test]
fn lamps_at_risk_are_told_at_round_ages_and_not_at_the_next_failure() {
    let told = class("told-at-risk", &wearing(), TERMS);
    let at = |age: f64| {
        let ages = told["curve"]["at_risk"].as_array().unwrap();
        ages.iter().find(|p| p["age_hours"] == age).map(|p| p["at_risk_count"].as_u64().unwrap())
    };
    // Failures from 1,400 h on every 60 h, sixteen planned changes at 2,000 h, and burning lamps of 900 h and 1,700 h.
    let ages: Vec<f64> =
        (0..14).map(|i| 1400.0 + 60.0 * f64::from(i)).chain([2000.0; 16]).chain([900.0, 1700.0]).collect();
    for round in [0.0, 500.0, 900.0, 950.0, 1400.0, 1450.0, 1700.0, 1750.0, 2000.0, 2050.0, 2150.0] {
        let expected = ages.iter().filter(|a| **a >= round).count() as u64;
        assert_eq!(at(round), Some(expected), "{round}");
    }
    assert_eq!(at(2200.0), None);
}

#[test]
fn few_failures_show_no_saving_and_one_age() {
    let few = [lamp(1800.0, "dim"), lamp(1500.0, "planned"), lamp(1900.0, "dim"), lamp(2100.0, "planned")];
    let policy = &class("told-few", &few, TERMS)["policy"];
    for field in [
        "saving_against_today_per_1000_hours",
        "saving_against_today_per_year",
        "saving_settled",
        "beats_todays_rule_probability",
        "saving_against_run_to_failure_per_1000_hours",
        "run_to_failure_past_records_probability",
    ] {
        assert!(policy[field].is_null(), "{field}: {}", policy[field]);
    }
    let interval = &policy["saving_against_today_interval_per_1000_hours"];
    assert!(interval["low"].is_null() && interval["high"].is_null(), "{interval}");
    let why = interval["method"].as_str().unwrap();
    assert!(why.starts_with("none: so few failures show a rate and no wear"), "{why}");
    assert_eq!(policy["planned_age_hours"], policy["planned"]["age_hours"]);
    assert_eq!(policy["verdict"], "too_few_failures");
    // A saving put back by hand is refused.
    let output = run(&small("told-few-changed", &few, TERMS));
    let mut saved = serde_json::to_value(&output.results).unwrap();
    saved["classes"][0]["policy"]["saving_settled"] = true.into();
    let changed: StudyResults = serde_json::from_value(saved).unwrap();
    let error = relamp::base::sound::Checks::of("saved", &changed).unwrap_err();
    assert!(error.to_string().contains("policy.saving_settled"), "{error}");
}

#[test]
fn a_class_that_rests_on_causes_of_few_failures_is_weak_and_says_which() {
    let causes = |bursts: usize, dims: usize| {
        let mut lamps: Vec<Lamp<'_>> = (0..bursts).map(|i| lamp(1500.0 + 90.0 * i as f64, "burst")).collect();
        lamps.extend((0..dims).map(|i| lamp(1400.0 + 60.0 * i as f64, "dim")));
        lamps.extend((0..20).map(|_| lamp(2000.0, "planned")));
        lamps
    };
    let both = class("told-two-causes", &causes(5, 5), TERMS);
    assert_eq!(both["status"], "weak", "{}", both["warnings"]);
    let warned = |class: &Value, words: &str| {
        class["warnings"].as_array().unwrap().iter().any(|w| w.as_str().unwrap().starts_with(words))
    };
    let words = "weak: the age rests on burst (5 failures) and dim (5 failures), fewer than 10 of a cause";
    assert!(warned(&both, words), "{}", both["warnings"]);
    let one = class("told-one-cause", &causes(6, 12), TERMS);
    assert_eq!(one["status"], "weak");
    assert!(warned(&one, "weak: the age rests on burst (6 failures), fewer than 10"), "{}", one["warnings"]);
    // An even rate has no wear to be weak of, and ten failures of each are enough.
    for (name, bursts) in [("told-rate", 3), ("told-enough", 10)] {
        let enough = class(name, &causes(bursts, 12), TERMS);
        assert_eq!(enough["status"], "supported", "{}", enough["warnings"]);
        assert!(!warned(&enough, "weak"), "{}", enough["warnings"]);
    }
}

#[test]
fn the_interval_of_an_age_says_which_share_of_the_draws_is_its_end() {
    // Records that end at 2,180 h; the dearer a planned change, the more draws whose cost still falls there.
    let ends = |class: &Value| class["policy"]["planned_age_interval_hours"].clone();
    let share = |class: &Value| class["policy"]["limit_binds_probability"].as_f64().unwrap();
    let found = [800, 900, 1000, 1050, 1100, 1150].into_iter().find_map(|planned| {
        let terms = TERMS.replace("planned = 950.0", &format!("planned = {planned}.0"));
        let class = class(&format!("told-share-{planned}"), &wearing(), &terms);
        (share(&class) > 0.2 && share(&class) < 1.0 && ends(&class)["low"] != ends(&class)["high"]).then_some(class)
    });
    let records = found.unwrap();
    let (policy, share) = (&records["policy"], share(&records));
    // Forty draws: shares in steps of 2.5 %.
    let percent = relamp::base::figure::share(share);
    let words = format!("; {percent} of the draws end at 2,180 h, where the records end short of the limit");
    assert!(policy["planned_age_interval_sentence"].as_str().unwrap().ends_with(&words), "{policy}");
    assert!(records["headline"].as_str().unwrap().ends_with(&format!("{words}.")), "{}", records["headline"]);
}

#[test]
fn costs_that_read_alike_are_about_the_same() {
    let output = run(&small("told-alike", &wearing(), TERMS));
    let class = &output.results.classes[0];
    let policy = class.policy.as_ref().unwrap();
    assert!(policy.saving_against_today_per_1000_hours.unwrap().abs() >= 0.5, "{}", class.headline);
    let mut alike = output.results.clone();
    // Half a unit of money apart, on either side of one whole figure.
    let policy = alike.classes[0].policy.as_mut().unwrap();
    let whole = policy.planned.cost_per_1000_hours.round();
    (policy.planned.cost_per_1000_hours, policy.todays_rule.cost_per_1000_hours) = (whole - 0.4, whole + 0.4);
    policy.saving_against_today_per_1000_hours = Some(0.8);
    // What the sentence would be stands in the refusal of the one that was made of other figures.
    let error = relamp::base::sound::Checks::of("alike", &alike).unwrap_err();
    let headline = error.problems().iter().find(|p| p.place.column.as_deref() == Some("classes[0].headline")).unwrap();
    assert!(headline.expected.contains("about the same as today's rule"), "{}", headline.expected);
    assert!(!headline.expected.contains("EUR per 1,000 h less than"), "{}", headline.expected);
}

#[test]
fn an_age_past_todays_rule_that_saves_nothing_is_told_with_its_risk_once() {
    let mut lamps: Vec<Lamp<'_>> = (0..60).map(|i| lamp(1500.0 + 20.0 * f64::from(i), "burst")).collect();
    lamps.extend((0..4).map(|i| lamp(500.0 + 100.0 * f64::from(i), "")));
    // A planned change that costs more than a failure.
    let terms = TERMS.replace("planned = 950.0", "planned = 9500.0");
    let class = run(&small("told-past-rule", &lamps, &terms)).results.classes[0].clone();
    let policy = class.policy.as_ref().unwrap();
    let (planned, todays) = (&policy.planned, &policy.todays_rule);
    assert_eq!((planned.age_hours, todays.age_hours), (2500.0, 2000.0));
    let told: Vec<&String> = class.warnings.iter().filter(|w| w.contains("lies past today's rule")).collect();
    assert_eq!(told.len(), 1, "{:?}", class.warnings);
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let risk = format!(
        "{} of lamps fail before 2,500 h, {} before 2,000 h, and a change that comes late passes the limit",
        percent(planned.failure_probability),
        percent(todays.failure_probability)
    );
    assert!(told[0].contains(&risk) && planned.failure_probability > todays.failure_probability, "{}", told[0]);
    // Where the rule of today is the limit there is nothing to tell.
    let terms = terms.replace("todays_rule_hours = 2000.0", "todays_rule_hours = 2500.0");
    let class = run(&small("told-at-rule", &lamps, &terms)).results.classes[0].clone();
    assert!(!class.warnings.iter().any(|w| w.contains("lies past today's rule")), "{:?}", class.warnings);
}
