//! What stands beside the planned age of a class: the age of least cost straight from the records, and how 1,000 lamps end.

use relamp::base::math::quadrature::integrate;
use relamp::base::sound::Checks;
use relamp::family::{Exponential, Life, Weibull};
use relamp::records::Ending;
use relamp::study::{ClassResult, StudyOutput, StudyResults};
use serde_json::{Value, json};

use crate::study_small::{TERMS, lamp, run, small, wearing};
use crate::worlds::close;

/// Cost per hour at a planned age by hand: product-limit steps over the lives of the study.
fn by_hand(output: &StudyOutput, age: f64) -> f64 {
    let lives = &output.evidence.lives;
    let mut failed: Vec<f64> = lives.iter().filter(|l| l.failure).map(|l| l.low_hours).collect();
    failed.sort_by(f64::total_cmp);
    let (mut left, mut hours, mut before, mut cost) = (1.0, 0.0, 0.0, 0.0);
    for at in failed.into_iter().take_while(|at| *at <= age) {
        let risk = lives.iter().filter(|l| l.low_hours >= at).count() as f64;
        let here = lives.iter().find(|l| l.failure && l.low_hours == at).unwrap();
        hours += left * (at - before);
        cost += left / risk * if here.ending == Ending::Burst { 5200.0 } else { 1250.0 };
        left *= 1.0 - 1.0 / risk;
        before = at;
    }
    (cost + 950.0 * left) / (hours + left * (age - before))
}

#[test]
fn the_age_straight_from_the_records_is_that_of_steps_worked_out_by_hand() {
    let output = run(&small("curve-age", &wearing(), TERMS));
    let policy = output.results.classes[0].policy.as_ref().unwrap();
    let found = policy.curve_age.as_ref().unwrap();
    let ages = (1..=policy.ceiling_hours as u64).map(|age| age as f64);
    let best = ages.min_by(|a, b| by_hand(&output, *a).total_cmp(&by_hand(&output, *b))).unwrap();
    assert_eq!(found.age_hours, best);
    // Hours between the last whole one and the failure after it cost less by less than an hour in that age.
    close(found.cost_per_1000_hours, 1000.0 * by_hand(&output, best), 1e-3, 0.0);
    let planned = 1000.0 * by_hand(&output, policy.planned.age_hours);
    close(found.planned_cost_per_1000_hours, planned, 1e-9, 0.0);
    assert!(found.sentence.starts_with("straight from the records, without a family, the least cost lies at"));
    // Five failures or more and an age of its own, or no such check.
    let few = run(&small("curve-age-few", &[lamp(1500.0, "dim"), lamp(1900.0, "planned"), lamp(800.0, "")], TERMS));
    let few = few.results.classes[0].policy.as_ref().unwrap();
    assert!(few.curve_age.is_none() && few.endings_at_planned_age.is_some());
}

fn incidence(class: &ClassResult, ending: Ending, age: f64) -> f64 {
    let of = |family: &str| class.model.as_ref().unwrap().by_cause.iter().find(|k| k.family == family).unwrap();
    let number = |family: &str, i: usize| of(family).parameters[i].estimate.unwrap();
    let dim = Weibull { shape: number("weibull", 0), scale: number("weibull", 1) };
    let burst = Exponential { scale: number("exponential", 0) };
    let (own, other): (&dyn Life, &dyn Life) = if ending == Ending::Dim { (&dim, &burst) } else { (&burst, &dim) };
    integrate(|x| (own.ln_density(x) + other.ln_reliability(x)).exp(), 0.0, age, &[], 1e-12).unwrap()
}

#[test]
fn of_1000_lamps_as_many_end_each_way_as_the_printed_model_says() {
    let output = run(&small("curve-endings", &wearing(), TERMS));
    let class = &output.results.classes[0];
    let ends = class.policy.as_ref().unwrap().endings_at_planned_age.as_ref().unwrap();
    assert_eq!(ends.age_hours, class.policy.as_ref().unwrap().planned.age_hours);
    assert_eq!(ends.by_ending.len(), 2);
    for part in &ends.by_ending {
        close(part.per_1000_lamps, 1000.0 * incidence(class, part.ending, ends.age_hours), 1e-6, 0.0);
    }
    let failed: f64 = ends.by_ending.iter().map(|e| e.per_1000_lamps).sum();
    close(ends.planned_per_1000, 1000.0 - failed, 1e-9, 0.0);
}

fn refused(results: &Value) -> Vec<String> {
    let results: StudyResults = serde_json::from_value(results.clone()).unwrap();
    let Err(error) = Checks::of("results", &results) else { return Vec::new() };
    error.problems().iter().map(|p| p.place.column.clone().unwrap_or_default()).collect()
}

#[test]
fn both_are_refused_by_field_when_changed_and_absent_in_results_of_before() {
    let output = run(&small("curve-tampered", &wearing(), TERMS));
    let sound = serde_json::to_value(&output.results).unwrap();
    let policy = "/classes/0/policy";
    for (place, value, field) in [
        ("endings_at_planned_age/planned_per_1000", json!(1.0), "endings_at_planned_age.planned_per_1000"),
        (
            "endings_at_planned_age/by_ending/0/per_1000_lamps",
            json!(1.0),
            "endings_at_planned_age.by_ending[0].per_1000_lamps",
        ),
        ("endings_at_planned_age/by_ending/0/ending", json!("seal"), "endings_at_planned_age.by_ending[0].ending"),
        ("curve_age/age_hours", json!(2501.0), "curve_age.age_hours"),
        ("curve_age/cost_per_1000_hours", json!(9999.0), "curve_age.cost_per_1000_hours"),
        ("curve_age/sentence", json!("all is well"), "curve_age.sentence"),
    ] {
        let mut changed = sound.clone();
        *changed.pointer_mut(&format!("{policy}/{place}")).unwrap() = value;
        let fields = refused(&changed);
        assert!(fields.contains(&format!("classes[0].policy.{field}")), "{place}: {fields:?}");
    }
    let mut before = sound;
    let object = before.pointer_mut(policy).unwrap().as_object_mut().unwrap();
    object.remove("curve_age");
    object.remove("endings_at_planned_age");
    assert_eq!(refused(&before), Vec::<String>::new());
}
