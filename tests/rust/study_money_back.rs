//! What a stated warranty pays back, in the advice of a study: later ages, the ages of a direct call with the same terms, lives
//! played out, and not a byte of difference where nothing comes back.

use relamp::base::random::Stream;
use relamp::family::{Exponential, Life, Weibull};
use relamp::fit::{CauseLife, World};
use relamp::policy::{AgeOptions, planned_age};
use relamp::records::Ending;
use relamp::study::{ClassResult, MoneyBack, Study, StudyOutput, StudyResults};
use relamp::terms::{Costs, Warranty, WarrantyForm};
use serde_json::{Value, json};

use crate::study_small::{TERMS, run, small, wearing};
use crate::worlds::{close, limit};

const FULL: &str = "[class.warranty]\nform = \"full\"\nhours = 2200.0\nchance = 0.9\nhandling_cost = 60.0\n";
const PRO_RATA: &str = "[class.warranty]\nform = \"pro_rata\"\nhours = 2300.0\nchance = 0.8\nhandling_cost = 60.0\n";

fn study(name: &str, more: &str) -> StudyOutput {
    run(&small(name, &wearing(), &format!("{TERMS}{more}")))
}

fn money(class: &ClassResult) -> &MoneyBack {
    class.policy.as_ref().unwrap().money_back.as_ref().unwrap()
}

/// The world of the printed model, built by hand, with the costs that the study declares.
fn printed(class: &ClassResult, warranty: Option<Warranty>) -> World {
    let causes = class.model.as_ref().unwrap().by_cause.iter().map(|k| {
        let numbers: Vec<f64> = k.parameters.iter().map(|p| p.estimate.unwrap()).collect();
        let life: Box<dyn Life> = match (k.family.as_str(), numbers.as_slice()) {
            ("weibull", &[shape, scale]) => Box::new(Weibull { shape, scale }),
            ("exponential", &[scale]) => Box::new(Exponential { scale }),
            other => panic!("{other:?}"),
        };
        CauseLife { endings: k.endings.iter().copied().zip(k.shares_probability.iter().copied()).collect(), life }
    });
    let costs = Costs::new(950.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1250.0)]).unwrap();
    let costs = match warranty {
        Some(warranty) => costs.with_warranty(warranty).unwrap(),
        None => costs,
    };
    World { causes: causes.collect(), costs }
}

fn direct(class: &ClassResult, warranty: Option<Warranty>) -> f64 {
    let options = AgeOptions {
        todays_rule_hours: Some(2000.0),
        oldest_at_risk_hours: Some(class.seen.oldest_at_risk_hours),
        ..AgeOptions::default()
    };
    planned_age(&printed(class, warranty), &limit(2500.0), &options).unwrap().age_hours
}

#[test]
fn money_back_for_early_failures_moves_the_advice_to_a_later_age() {
    let plain = study("money-plain", "");
    let with = study("money-full", FULL);
    let (before, after) = (&plain.results.classes[0], &with.results.classes[0]);
    assert!(after.advised_age_hours > before.advised_age_hours + 50.0, "{} {}", before.headline, after.headline);
    assert!(after.headline.contains("after what the warranty pays back"), "{}", after.headline);
    assert!(!before.headline.contains("warranty"), "{}", before.headline);
    let money = money(after);
    // 0.9 x 780 - 60 for every failure below 2,200 h.
    assert_eq!(
        (money.counted.form(), money.counted.price(), money.counted.end_hours()),
        (&WarrantyForm::Full, 642.0, 2200.0)
    );
    assert_eq!(money.planned_age_without_hours, Some(before.advised_age_hours));
    for words in
        ["ages, costs and savings count what the warranty pays back", "90 %", "60 EUR a claim", "below 2,200 h"]
    {
        assert!(money.sentence.contains(words), "{}", money.sentence);
    }
    // Lamps are changed, needed and held at that age.
    assert_eq!(after.demand.as_ref().unwrap().planned_age_hours, after.advised_age_hours);
    let saved = with.results.to_json().unwrap();
    assert_eq!(StudyResults::from_json(&saved).unwrap(), with.results);
}

#[test]
fn the_age_is_that_of_a_direct_call_with_the_same_terms() {
    let stepped = "[class.warranty]\nform = \"stepped\"\nsteps = [{ below_hours = 1800.0, share = 1.0 }, { below_hours = 2400.0, share = 0.1 }]\nhandling_cost = 100.0\nendings = [\"dim\"]\n";
    let both = [Ending::Burst, Ending::Seal, Ending::NoStrike, Ending::Flicker, Ending::Dim];
    // 0.8 x 780 = 624 falls to 60 at 2,300 (1 - 60 / 624) h; of the second step 78 do not pay for a claim of 100.
    let line = Warranty::pro_rata(564.0, 2300.0 * (1.0 - 60.0 / 624.0), both).unwrap();
    let step = Warranty::full(680.0, 1800.0, [Ending::Dim]).unwrap();
    for (name, text, warranty) in [("money-line", PRO_RATA, line), ("money-step", stepped, step)] {
        let output = study(name, text);
        let class = &output.results.classes[0];
        assert_eq!(class.policy.as_ref().unwrap().planned_age_hours, direct(class, Some(warranty)), "{name}");
        assert_eq!(money(class).planned_age_without_hours, Some(direct(class, None)), "{name}");
    }
}

const LAMPS: usize = 200_000;

/// Lives drawn one by one, each with its own money back.
#[test]
fn costs_are_those_of_lives_played_out_with_claims_granted_by_chance() {
    let output = study("money-played", PRO_RATA);
    let class = &output.results.classes[0];
    let policy = class.policy.as_ref().unwrap();
    let (world, age) = (printed(class, None), policy.planned.age_hours);
    let mut stream = Stream::new(7, "money back", "", 0);
    let (mut hours, mut paid, mut back) = (0.0, 0.0, 0.0);
    let mut each = Vec::with_capacity(LAMPS);
    for _ in 0..LAMPS {
        let mut drawn = || stream.uniform();
        let fails = world.causes.iter().map(|c| (c.life.quantile(drawn()).unwrap(), c.endings[0].0));
        let (at, ending) = fails.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
        let (life, cost, money) = if at >= age {
            (age, 950.0, 0.0)
        } else {
            let due = 780.0 * (1.0 - at / 2300.0);
            let filed = 0.8 * due > 60.0;
            let granted = stream.uniform() < 0.8;
            let paid = if granted { due } else { 0.0 };
            let money = if filed { paid - 60.0 } else { 0.0 };
            (at, if ending == Ending::Burst { 5200.0 } else { 1250.0 }, money)
        };
        hours += life;
        paid += cost - money;
        back += money;
        each.push((life, cost - money));
    }
    let rate = paid / hours;
    let spread = each.iter().map(|(life, cost)| (cost - rate * life).powi(2)).sum::<f64>().sqrt() / hours;
    assert!((1000.0 * rate - policy.planned.cost_per_1000_hours).abs() < 4000.0 * spread, "{rate} {spread}");
    close(1000.0 * back / hours, money(class).money_back_per_1000_hours, 0.03, 0.0);
}

#[test]
fn where_nothing_comes_back_or_it_is_left_out_no_byte_of_a_class_changes() {
    let plain = serde_json::to_string(&study("money-none", "").results.classes).unwrap();
    for (i, text) in [
        FULL.replace("chance = 0.9", "chance = 0.0"),
        // A claim that costs all that it can bring.
        FULL.replace("handling_cost = 60.0", "handling_cost = 702.0"),
        PRO_RATA.replace("handling_cost = 60.0", "handling_cost = 624.0"),
        format!("{FULL}money_back = \"left_out\"\n"),
    ]
    .iter()
    .enumerate()
    {
        let output = study(&format!("money-none-{i}"), text);
        assert_eq!(serde_json::to_string(&output.results.classes).unwrap(), plain, "{text}");
        StudyResults::from_json(&output.results.to_json().unwrap()).unwrap();
    }
}

#[test]
fn months_count_at_the_hours_of_the_screens_and_strikes_are_told_as_left_out() {
    let output = study("money-months", &format!("{FULL}months = 5\nmonths_from = \"delivery\"\nmost_strikes = 900\n"));
    let money = money(&output.results.classes[0]);
    // 70 h a week in both screens.
    assert_eq!(money.hours_per_week, Some(70.0));
    close(money.counted.end_hours(), 5.0 * 365.25 / 12.0 * 10.0, 1e-12, 0.0);
    for words in
        ["its calendar of 5 months is taken at 70 h a week, days on the shelf", "its limit of strikes is left out"]
    {
        assert!(money.sentence.contains(words), "{}", money.sentence);
    }
    StudyResults::from_json(&output.results.to_json().unwrap()).unwrap();
    // Half the hours all year by the season: half the hours of the calendar.
    let half = format!("{FULL}months = 5\n[season]\nby_month = [{}]\n", ["0.5"; 12].join(", "));
    let output = study("money-season", &half);
    let slow = self::money(&output.results.classes[0]);
    close(slow.hours_per_week.unwrap(), 35.0, 1e-9, 0.0);
    close(slow.counted.end_hours(), 5.0 * 365.25 / 12.0 * 5.0, 1e-9, 0.0);
    StudyResults::from_json(&output.results.to_json().unwrap()).unwrap();
}

#[test]
fn months_of_a_class_without_burning_lamps_count_at_the_hours_of_the_chain() {
    let ended = || wearing().into_iter().filter(|l| !l.runs()).collect::<Vec<_>>();
    let text = format!("{TERMS}{FULL}months = 5\n");
    let even = run(&small("money-empty", &ended(), &text));
    let class = &even.results.classes[0];
    assert!(class.demand.as_ref().is_none_or(|d| d.running_lamps_count == 0));
    assert_eq!(money(class).hours_per_week, Some(70.0));
    close(money(class).counted.end_hours(), 5.0 * 365.25 / 12.0 * 10.0, 1e-12, 0.0);
    // Half the hours by the season, and none in a closure of the chain of 73 days.
    let season = format!("{text}[season]\nby_month = [{}]\n", ["0.5"; 12].join(", "));
    let closed = format!("{season}[[special_days]]\nfrom = 2026-02-01\nto = 2026-04-14\nhours_factor = 0.0\n");
    for (name, text, hours) in [("season", season, 35.0), ("closed", closed, 35.0 * (365.25 - 73.0) / 365.25)] {
        let output = run(&small(&format!("money-empty-{name}"), &ended(), &text));
        let slow = money(&output.results.classes[0]);
        close(slow.hours_per_week.unwrap(), hours, 1e-9, 0.0);
        close(slow.counted.end_hours(), 5.0 * 365.25 / 12.0 * hours / 7.0, 1e-9, 0.0);
        assert!(slow.sentence.contains("its calendar of 5 months is taken at"), "{}", slow.sentence);
        StudyResults::from_json(&output.results.to_json().unwrap()).unwrap();
    }
}

#[test]
fn a_failure_that_costs_no_more_than_comes_back_is_refused_with_both_ways_out() {
    let text =
        format!("{}[class.warranty]\nform = \"full\"\nhours = 2000.0\n", TERMS.replace("dim = 1250.0", "dim = 700.0"));
    let path = small("money-dear", &wearing(), &text);
    let error = Study::open(&path).unwrap_err();
    assert_eq!(error.slug(), "terms.credit_above_cost");
    let told = error.to_string();
    assert!(told.contains("dim") && told.contains("700") && told.contains("more than 780"), "{told}");
    assert!(told.contains("money_back = \"left_out\""), "{told}");
    assert!(Study::open(small("money-dear-out", &wearing(), &format!("{text}money_back = \"left_out\"\n"))).is_ok());
    let word =
        Study::open(small("money-word", &wearing(), &format!("{TERMS}{FULL}money_back = \"yes\"\n"))).unwrap_err();
    assert!(word.to_string().contains("one of counted, left_out"), "{word}");
}

#[test]
fn money_back_changed_by_hand_is_refused_by_field() {
    let output = study("money-tampered", PRO_RATA);
    let sound = serde_json::to_value(&output.results).unwrap();
    let place = "/classes/0/policy/money_back";
    let field = "classes[0].policy.money_back";
    let without = sound.pointer(&format!("{place}/planned_age_without_hours")).unwrap().as_f64().unwrap();
    for (key, value) in [
        ("money_back_per_1000_hours", json!(1.0)),
        ("planned_age_without_hours", json!(without + 3.0)),
        ("planned_age_without_hours", Value::Null),
        ("hours_per_week", json!(70.0)),
        ("sentence", json!("the warranty pays all")),
    ] {
        let mut changed = sound.clone();
        changed.pointer_mut(place).unwrap()[key] = value.clone();
        let fields = refused(&changed);
        assert!(fields.contains(&format!("{field}.{key}")), "{key} as {value}: {fields:?}");
    }
    let mut dearer = sound.clone();
    dearer.pointer_mut(place).unwrap()["counted"]["price"] = json!(700.0);
    assert!(refused(&dearer).contains(&format!("{field}.counted")));
    let mut no_terms = sound.clone();
    no_terms.as_object_mut().unwrap().remove("claims");
    assert!(refused(&no_terms).contains(&format!("{field}.counted")));
    // Costs that count the money do not follow from a file that hides it.
    let mut hidden = sound;
    hidden.pointer_mut("/classes/0/policy").unwrap().as_object_mut().unwrap().remove("money_back");
    assert!(!refused(&hidden).is_empty());
}

fn refused(results: &Value) -> Vec<String> {
    let results: StudyResults = serde_json::from_value(results.clone()).unwrap();
    let Err(error) = relamp::base::sound::Checks::of("results", &results) else { return Vec::new() };
    error.problems().iter().map(|p| p.place.column.clone().unwrap_or_default()).collect()
}
