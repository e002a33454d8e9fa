//! Saved answers of a study that were changed by hand are refused by field, and those of real runs never are.

use std::path::Path;

use relamp::Run;
use relamp::base::sound::Checks;
use relamp::study::{Status, Study, StudyOptions, StudyOutput, StudyResults};
use serde_json::{Value, json};

use crate::study_small::{TERMS, lamp, run, small, wearing};

/// Fields that a changed output is refused by; none where it is sound.
fn refused(output: &Value) -> Vec<String> {
    let output: StudyOutput = serde_json::from_value(output.clone()).unwrap();
    let Err(error) = Checks::of("output", &output) else { return Vec::new() };
    error.problems().iter().map(|p| p.place.column.clone().unwrap_or_default()).collect()
}

/// Changes one place after the other and looks for the field that is named.
fn each_is_refused(output: &StudyOutput, changes: &[(&str, Value, &str)]) {
    let sound = serde_json::to_value(output).unwrap();
    assert_eq!(refused(&sound), Vec::<String>::new());
    let mut passed = Vec::new();
    for (pointer, value, field) in changes {
        let mut changed = sound.clone();
        let place = changed.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}"));
        assert_ne!(place, value, "{pointer}");
        *place = value.clone();
        let fields = refused(&changed);
        if !fields.iter().any(|f| f == field) {
            passed.push(format!("{pointer} as {value}: {fields:?}"));
        }
    }
    assert!(passed.is_empty(), "{}", passed.join("\n"));
}

/// Fields that changed results are refused by, without the evidence; none where they are sound.
fn results_refused(results: &Value) -> Vec<String> {
    let results: StudyResults = serde_json::from_value(results.clone()).unwrap();
    let Err(error) = Checks::of("results", &results) else { return Vec::new() };
    error.problems().iter().map(|p| p.place.column.clone().unwrap_or_default()).collect()
}

#[test]
fn curves_stocks_findings_and_sentences_changed_in_the_results_alone_are_refused() {
    let options = StudyOptions { draws: Some(40), ..StudyOptions::default() };
    let output = Study::open_with(Path::new("data/demo/study.toml"), options).unwrap().run(&Run::new()).unwrap();
    let results = &output.results;
    let sound = serde_json::to_value(results).unwrap();
    assert_eq!(results_refused(&sound), Vec::<String>::new());
    let with = |intervals: bool| {
        let has = |c: &relamp::study::ClassResult| (c.seen.interval_failures_count > 0) == intervals;
        results.classes.iter().position(has)
    };
    let read = with(true).unwrap();
    let class = &results.classes[read];
    let curve = class.curve.as_ref().unwrap();
    assert_eq!(curve.given_survival_to_hours, 0.0);
    let fewer = &curve.points[..curve.points.len() - 1];
    let at_risk = &curve.at_risk[..curve.at_risk.len() - 1];
    let rules = &results.ledger.by_rule[..results.ledger.by_rule.len() - 1];
    let at = |field: &str| format!("/classes/{read}/{field}");
    let named = |field: &str| format!("classes[{read}].{field}");
    let mut changes = vec![
        (at("curve/interval_rows_count"), json!(0), named("curve.interval_rows_count")),
        (at("curve/interval_reading"), json!("upper"), named("curve.interval_reading")),
        (at("curve/interval_reading"), json!(""), named("curve.interval_reading")),
        (at("curve/at_risk/1/at_risk_count"), json!(999_999), named("curve.at_risk[1].at_risk_count")),
        (at("curve/at_risk"), json!(at_risk), named("curve.at_risk")),
        (at("curve/at_risk"), json!([]), named("curve.at_risk")),
        (at("curve/points"), json!(fewer), named("curve.points")),
        (at("curve"), json!(null), named("curve")),
        (at("stock/lamp_class"), json!(""), named("stock.lamp_class")),
        (at("model/rests_on"), json!(""), named("model.rests_on")),
        (at("policy/planned_age_interval_sentence"), json!(""), named("policy.planned_age_interval_sentence")),
        (at("policy/run_to_failure_sentence"), json!(""), named("policy.run_to_failure_sentence")),
        ("/ledger/by_rule".to_owned(), json!(rules), "ledger.by_rule".to_owned()),
        ("/ledger/by_file/0/file".to_owned(), json!(" "), "ledger.by_file[0].file".to_owned()),
        ("/overdue/at_limit/0/serial".to_owned(), json!(""), "overdue.at_limit[0].serial".to_owned()),
        ("/overdue/soon/0/serial".to_owned(), json!(""), "overdue.soon[0].serial".to_owned()),
    ];
    let moves = class.policy.as_ref().unwrap().sensitivity.as_ref().unwrap();
    let all_but = |rows: &Value| json!(rows.as_array().unwrap()[1..]);
    let (costs, lives) = (json!(moves.costs), json!(moves.lives));
    changes.extend([
        (at("policy/sensitivity"), json!(null), named("policy.sensitivity")),
        (at("policy/sensitivity/costs"), all_but(&costs), named("policy.sensitivity.costs")),
        (at("policy/sensitivity/lives"), all_but(&lives), named("policy.sensitivity.lives")),
        (
            at("policy/sensitivity/costs/0/more_age_hours"),
            json!(moves.costs[0].more_age_hours - 2.0),
            named("policy.sensitivity.costs[0].more_age_hours"),
        ),
        ("/overdue/soon/0/stops_by".to_owned(), json!("2035-01-01"), "overdue.soon[0].stops_by".to_owned()),
    ]);
    // An end by curvature lies as far from the estimate as the other one.
    let model = class.model.as_ref().unwrap();
    let wald =
        |p: &relamp::study::ParameterResult| (json!(p.wald.low.unwrap() * 0.98), json!(p.wald.high.unwrap() * 1.02));
    for (i, parameter) in model.parameters.iter().enumerate() {
        let (low, high) = wald(parameter);
        let field = named(&format!("model.parameters[{i}].wald.high"));
        changes.push((at(&format!("model/parameters/{i}/wald/low")), low, field.clone()));
        changes.push((at(&format!("model/parameters/{i}/wald/high")), high, field));
    }
    let (low, _) = wald(&model.by_cause[0].parameters[0]);
    let field = named("model.by_cause[0].parameters[0].wald.high");
    changes.push((at("model/by_cause/0/parameters/0/wald/low"), low, field));
    let b10 = model.b10_wald_interval_hours.low.unwrap() * 0.98;
    let field = named("model.b10_wald_interval_hours.low");
    for low in [b10, 0.0, -5.0] {
        changes.push((at("model/b10_wald_interval_hours/low"), json!(low), field.clone()));
    }
    for low in [0.0, -1.0] {
        let field = named("model.parameters[0].wald.low");
        changes.push((at("model/parameters/0/wald/low"), json!(low), field));
    }
    changes.push((at("model/parameters/0/profile/low"), json!(-5.0), named("model.parameters[0].profile.low")));
    changes.push((at("model/b10_interval_hours/low"), json!(-5.0), named("model.b10_interval_hours.low")));
    let end = model.points[2].low_probability.unwrap() * 0.9;
    changes.push((at("model/points/1/low_probability"), json!(end), named("model.points.low_probability[2]")));
    // The band follows from the failures and the lamps at risk.
    let (step, last) = (curve.points.len() / 2, &curve.points[curve.points.len() / 2]);
    for (field, end) in [("low_probability", last.low_probability), ("high_probability", last.high_probability)] {
        let changed = json!(f64::midpoint(end.unwrap(), last.reliability_probability));
        changes.push((
            at(&format!("curve/points/{step}/{field}")),
            changed,
            named(&format!("curve.points[{step}].{field}")),
        ));
    }
    changes.push((
        at("curve/points/0/at_risk_count"),
        json!(class.seen.lamps_count + 1),
        named("curve.points[0].at_risk_count"),
    ));
    let smallest = "purchase_plan.classes[0].minimum_order_lamps";
    changes.push((format!("/{}", smallest.replace("[0].", "/0/").replace('.', "/")), json!(0), smallest.to_owned()));
    let stock = |i: usize| sound.pointer(&format!("/classes/{i}/stock")).unwrap().clone();
    changes.push(("/classes/0/stock".to_owned(), stock(1), "classes[0].stock.lamp_class".to_owned()));
    let mut passed = Vec::new();
    for (pointer, value, field) in &changes {
        let mut changed = sound.clone();
        let place = changed.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}"));
        assert_ne!(place, value, "{pointer}");
        *place = value.clone();
        let fields = results_refused(&changed);
        if !fields.contains(field) {
            passed.push(format!("{pointer}: {fields:?}"));
        }
    }
    assert!(passed.is_empty(), "{}", passed.join("\n"));
}

#[test]
fn changed_answers_of_the_demo_chain_are_refused_by_field() {
    let options = StudyOptions { draws: Some(40), ..StudyOptions::default() };
    let output = Study::open_with(Path::new("data/demo/study.toml"), options).unwrap().run(&Run::new()).unwrap();
    let mut twice = serde_json::to_value(&output.results.classes).unwrap();
    twice[1]["name"] = twice[0]["name"].clone();
    let at_limit = &output.results.overdue.at_limit[0].lamp_class;
    let unknown = &output.results.overdue.age_unknown[0].lamp_class;
    let of = |name: &str| output.results.classes.iter().position(|c| c.name == name).unwrap();
    let (at_limit, unknown) = (of(at_limit), of(unknown));
    let soon = of(&output.results.overdue.soon[0].lamp_class);
    let fewer = &output.results.overdue.soon[1..];
    let days_more = json!(output.results.overdue.soon[0].days_left + 1);
    let lives = &output.evidence.lives;
    let moved = lives.iter().position(|l| l.ending == relamp::records::Ending::Planned).unwrap();
    let (first, planned) = (of(&lives[0].lamp_class), of(&lives[moved].lamp_class));
    // Two rules in each other's place, with all their findings.
    let mut rules = serde_json::to_value(&output.results.ledger.by_rule).unwrap();
    for (i, other) in [(0, 1), (1, 0)] {
        let rule = output.results.ledger.by_rule[other].rule.clone();
        for finding in rules[i]["first"].as_array_mut().unwrap() {
            finding["rule"] = rule.clone().into();
        }
        rules[i]["rule"] = rule.into();
    }
    each_is_refused(
        &output,
        &[
            (
                "/results/overdue/at_limit",
                json!([]),
                &format!("results.classes[{at_limit}].due.past_maker_limit_lamps_count"),
            ),
            (
                "/results/overdue/age_unknown",
                json!([]),
                &format!("results.classes[{unknown}].due.unknown_age_lamps_count"),
            ),
            (
                "/results/overdue/soon",
                json!(fewer),
                &format!("results.classes[{soon}].due.reach_limit_soon_lamps_count"),
            ),
            ("/results/overdue/at_limit/0/limit_hours", json!(1.0), "results.overdue.at_limit[0].limit_hours"),
            ("/results/overdue/at_limit/0/lamp_class", json!("another"), "results.overdue.at_limit[0].lamp_class"),
            ("/results/overdue/soon/0/days_left", json!(1000), "results.overdue.soon[0].days_left"),
            (
                "/results/overdue/soon/0/expected_hours_at_visit",
                json!(1.0),
                "results.overdue.soon[0].expected_hours_at_visit",
            ),
            ("/results/classes", twice, "results.classes.name"),
            ("/results/cautions", json!([]), "results.cautions"),
            ("/results/cautions/0", json!("No lamp can burst."), "results.cautions[0]"),
            ("/results/assumptions", json!([]), "results.assumptions"),
            ("/results/assumptions/6", json!("Intervals are exact."), "results.assumptions[6]"),
            ("/results/overdue/soon/0/days_left", days_more, "results.overdue.soon[0].days_left"),
            ("/results/overdue/soon/0/read_on", json!("2025-11-30"), "results.overdue.soon[0].read_on"),
            ("/results/overdue/soon/0/screen", json!("elsewhere"), "results.overdue.soon[0].screen"),
            ("/results/overdue/soon/0/site", json!("elsewhere"), "results.overdue.soon[0].site"),
            ("/results/overdue/at_limit/0/screen", json!("elsewhere"), "results.overdue.at_limit[0].screen"),
            ("/results/overdue/at_limit/0/line", json!(999_999), "results.overdue.at_limit[0].line"),
            ("/evidence/lives/0/at_risk_hours", json!([[0.0, 1.0]]), "evidence.lives[0].high_hours"),
            ("/evidence/lives/0/low_hours", json!(1.0), &format!("results.classes[{first}].seen.exposure_hours")),
            (
                &format!("/evidence/lives/{moved}/ending"),
                json!("moved"),
                &format!("results.classes[{planned}].seen.endings"),
            ),
            (&format!("/evidence/lives/{moved}/ending"), json!("dim"), &format!("evidence.lives[{moved}].failure")),
            ("/results/ledger/by_rule", json!(rules), "results.ledger.by_rule[0].first[0].rule"),
            ("/results/orders/least_only_classes_count", json!(9), "results.orders.least_only_classes_count"),
            ("/results/study/level_probability", json!(0.9), "results.classes[0].curve.level_probability"),
            ("/results/study/forecast_months", json!(1), "results.classes[0].demand.months"),
            ("/results/study/as_of", json!("2001-01-01"), "results.study.as_of"),
            ("/results/study/failure_endings", json!(["burst"]), "results.classes[0].causes"),
            ("/results/ledger/lives_count", json!(1), "results.ledger.lives_count"),
            ("/results/ledger/reconciles", json!(false), "results.ledger.reconciles"),
            ("/results/ledger/warning", json!("mind"), "results.ledger.warning"),
            ("/results/ledger/by_rule", json!([]), "results.ledger.by_rule"),
            ("/results/ledger/by_file/0/file", json!("another.csv"), "results.ledger.by_file"),
            ("/evidence/inputs", json!([]), "evidence.inputs"),
            ("/evidence/lives", json!([]), "results.classes[0].seen.lamps_count"),
            ("/evidence/ledger/by_file/0/1/used", json!(1), "evidence.ledger.counts.used"),
        ],
    );
    let class = "results.classes[0]";
    let at = |field: &str| format!("/results/classes/0/{field}");
    let named = |field: &str| format!("{class}.{field}");
    let first_class = &output.results.classes[0];
    let (policy, demand) = (first_class.policy.as_ref().unwrap(), first_class.demand.as_ref().unwrap());
    let near_best = json!(policy.near_best[0].from_hours + 1.0);
    let mean_age = json!(policy.planned.mean_age_at_change_hours * 0.999);
    let due = json!(demand.due_at_planned_age_lamps_count + 1);
    let changes = [
        ("name", json!(""), "name"),
        ("headline", json!(""), "headline"),
        ("headline", json!("Change at 2,500 h."), "headline"),
        ("status", json!("weak"), "status"),
        ("warnings", json!([]), "warnings"),
        ("warnings/0", json!("all is well"), "warnings"),
        ("stock/sentence", json!("hold 1 lamp, order 0"), "stock.sentence"),
        ("model/fit_check/sentence", json!("nothing speaks against it"), "model.fit_check.sentence"),
        ("model/notes", json!([]), "model.notes"),
        ("due/reach_limit_soon_lamps_count", json!(77), "due.reach_limit_soon_lamps_count"),
        ("model", json!(null), "model"),
        ("demand", json!(null), "demand"),
        ("stock", json!(null), "stock"),
        ("refusal", json!({"slug": "x", "sentence": "x", "bound": ""}), "refusal"),
        ("limit/limit_hours", json!(9000.0), "limit.limit_hours"),
        ("limit/maker_limit_hours", json!(9000.0), "limit.maker_limit_hours"),
        ("limit/origin", json!("override"), "limit.reason"),
        ("limit/source", json!(""), "limit.source"),
        ("todays_rule_hours", json!(100.0), "policy.todays_rule.age_hours"),
        ("advised_age_hours", json!(100.0), "advised_age_hours"),
        ("seen/lamps_count", json!(999_999), "seen.lamps_count"),
        ("seen/running_count", json!(0), "seen.running_count"),
        ("seen/late_entry_count", json!(0), "seen.late_entry_count"),
        ("seen/interval_failures_count", json!(1), "seen.interval_failures_count"),
        ("seen/oldest_at_risk_hours", json!(3849.0), "seen.oldest_at_risk_hours"),
        ("seen/exposure_hours", json!(1_000_000.0), "seen.exposure_hours"),
        ("model/choice", json!("Weibull, as asked for"), "model.choice"),
        ("model/choice", json!("Weibull fits best"), "model.choice"),
        ("policy/near_best", json!([]), "policy.near_best"),
        (
            "policy/near_best",
            json!([{"from_hours": 1000.0, "to_hours": 2900.0, "to_end": "exact"}]),
            "policy.near_best",
        ),
        ("causes/0/incidence_probability", json!(0.001), "causes[0].incidence_probability"),
        ("causes/0/incidence_probability", json!(0.001), "causes.incidence_probability"),
        ("policy/beats_todays_rule_probability", json!(1.0), "policy.beats_todays_rule_probability"),
        ("policy/beats_todays_rule_probability", json!(0.511), "policy.beats_todays_rule_probability"),
        ("policy/limit_binds_probability", json!(0.9), "policy.limit_binds_probability"),
        ("policy/run_to_failure_past_records", json!(true), "policy.run_to_failure_past_records"),
        (
            "policy/run_to_failure_past_records_probability",
            json!(0.001),
            "policy.run_to_failure_past_records_probability",
        ),
        ("policy/run_to_failure_sentence", json!("run to failure"), "policy.run_to_failure_sentence"),
        ("seen/interval_failures_count", json!(999_999), "seen.interval_failures_count"),
        ("seen/exposure_hours", json!(1e12), "seen.exposure_hours"),
        ("curve/points", json!([]), "curve.points"),
        ("curve/points/0/reliability_probability", json!(0.9), "curve.points[0].reliability_probability"),
        ("curve/points/3/reliability_probability", json!(0.5), "curve.points[3].reliability_probability"),
        ("curve/points/3/low_probability", json!(0.9999), "curve.points[3].reliability_probability"),
        ("curve/points/3/failures_count", json!(999_999), "curve.points[3].failures_count"),
        ("model/parameters/0/estimate", json!(99.0), "model.parameters[0].estimate"),
        ("model/parameters/0/name", json!("scale"), "model.parameters[0].name"),
        ("model/parameters/0/unit", json!("hours"), "model.parameters[0].unit"),
        ("model/parameters", json!([]), "model.parameters"),
        ("model/b10_hours", json!(1.0), "model.b10_hours"),
        ("model/converged", json!(false), "model.converged"),
        ("model/ln_likelihood", json!(-1.0), "model.ln_likelihood"),
        ("model/families/0/aic", json!(1.0), "model.families[0].aic"),
        ("model/families/1/aic_over_best", json!(-1.0), "model.families[1].aic_over_best"),
        ("model/by_cause", json!([]), "model.by_cause"),
        ("model/by_cause/0/shares_probability/0", json!(0.3), "model.by_cause[0].shares_probability"),
        ("model/fit_check/holds", json!(false), "model.fit_check.holds"),
        ("model/fit_check/p_value_probability", json!(0.7), "model.fit_check.p_value_probability"),
        ("model/points/50/reliability_probability", json!(0.99999), "model.points[50].reliability_probability"),
        ("model/points/0/past_records", json!(true), "model.points[1].past_records"),
        ("causes/0/failures_count", json!(999_999), "causes[0].failures_count"),
        ("causes/0/share_probability", json!(0.999), "causes[0].share_probability"),
        ("causes/0/per_1000_hours", json!(9.0), "causes[0].per_1000_hours"),
        ("causes/0/per_1000_hours_high", json!(9.0), "causes[0].per_1000_hours_high"),
        ("policy/ceiling_hours", json!(1.0), "policy.planned_age_hours"),
        ("policy/planned/cost_per_1000_hours", json!(1.0), "policy.planned.cost_per_1000_hours"),
        ("policy/planned/failure_probability", json!(0.0), "policy.planned.failure_probability"),
        ("policy/planned/mean_age_at_change_hours", json!(1.0), "policy.planned.mean_age_at_change_hours"),
        ("policy/cost_curve/3/planned_cost_per_1000_hours", json!(1.0), "policy.cost_curve[3].cost_per_1000_hours"),
        ("policy/cost_curve/3/age_hours", json!(501.0), "policy.cost_curve[3].age_hours"),
        ("policy/near_best/0/from_hours", near_best, "policy.near_best[0].from_hours"),
        ("policy/sentence", json!("change at the limit"), "policy.sentence"),
        ("policy/run_to_failure_cost_per_1000_hours", json!(900.0), "policy.run_to_failure_cost_per_1000_hours"),
        ("policy/planned/next_show_failure_probability", json!(0.0001), "policy.planned.next_show_failure_probability"),
        ("policy/planned/mean_age_at_change_hours", mean_age, "policy.planned.mean_age_at_change_hours"),
        ("curve/end_hours", json!(9999.0), "curve.end_hours"),
        ("curve/at_risk/2/at_risk_count", json!(1), "curve"),
        ("seen/oldest_at_risk_lamps_count", json!(77), "seen.oldest_at_risk_lamps_count"),
        ("causes/1/incidence_age_hours", json!(1000.0), "causes[1].incidence_age_hours"),
        ("model/fit_check/largest_gap_probability", json!(0.001), "model.fit_check.largest_gap_probability"),
        ("demand/due_at_planned_age_lamps_count", due, "demand.due_at_planned_age_lamps_count"),
        ("demand/months/1/to", json!("2026-02-20"), "demand.months[1].to"),
        ("stock/mean_lamps", json!(40.0), "stock.mean_lamps"),
        ("policy/cost_curve", json!([]), "policy.cost_curve"),
        ("policy/saving_against_today_per_1000_hours", json!(77.0), "policy.saving_against_today_per_1000_hours"),
        ("policy/saving_against_today_per_year", json!(77.0), "policy.saving_against_today_per_year"),
        (
            "policy/saving_against_run_to_failure_per_1000_hours",
            json!(77.0),
            "policy.saving_against_run_to_failure_per_1000_hours",
        ),
        ("policy/failed_draws_count", json!(40), "policy.failed_draws_count"),
        ("demand/unknown_age_lamps_count", json!(77), "demand.unknown_age_lamps_count"),
        ("demand/running_lamps_count", json!(999_999), "demand.running_lamps_count"),
        ("demand/planned_age_hours", json!(1.0), "demand.planned_age_hours"),
        ("demand/months/0/mean_lamps", json!(0.0), "demand.months[0].mean_lamps"),
        ("demand/months/1/from", json!("2031-01-01"), "demand.months[1].from"),
        ("demand/months/1/p95_lamps", json!(0), "demand.months[1].p95_lamps"),
        ("demand/months/1/p95_lamps", json!(999_999), "demand.months[1].mean_lamps"),
        ("demand/months/1/failure_mean_lamps", json!(77.0), "demand.months[1].mean_lamps"),
        ("due/past_study_limit_lamps_count", json!(77), "due.past_study_limit_lamps_count"),
        ("due/past_advised_age_lamps_count", json!(999_999), "due.past_advised_age_lamps_count"),
        ("stock/service_at_level_probability", json!(0.1), "stock.service_at_level_probability"),
        ("stock/service_today_probability", json!(0.0), "stock.service_today_probability"),
        ("stock/order_lamps", json!(999_999), "stock.order_lamps"),
    ];
    let changes: Vec<(String, Value, String)> =
        changes.into_iter().map(|(place, value, field)| (at(place), value, named(field))).collect();
    let changes: Vec<(&str, Value, &str)> =
        changes.iter().map(|(place, value, field)| (place.as_str(), value.clone(), field.as_str())).collect();
    each_is_refused(&output, &changes);
}

#[test]
fn changed_bounds_of_a_class_without_a_model_are_refused_by_field() {
    let lamps = [lamp(1930.0, ""), lamp(1800.0, ""), lamp(1500.0, ""), lamp(300.0, "")];
    let output = run(&small("tampered-bounds", &lamps, TERMS));
    each_is_refused(
        &output,
        &[
            ("/results/classes/0/status", json!("supported"), "results.classes[0].status"),
            ("/results/classes/0/refusal", json!(null), "results.classes[0].refusal"),
            ("/results/classes/0/bounds/sentence", json!("at least none"), "results.classes[0].bounds.sentence"),
            ("/results/classes/0/refusal/sentence", json!(""), "results.classes[0].refusal.sentence"),
            ("/results/classes/0/bounds", json!(null), "results.classes[0].bounds"),
            ("/results/classes/0/advised_age_hours", json!(2500.0), "results.classes[0].advised_age_hours"),
            (
                "/results/classes/0/bounds/high_rate_per_1000_hours",
                json!(0.001),
                "results.classes[0].bounds.high_rate_per_1000_hours",
            ),
            (
                "/results/classes/0/bounds/running_lamps_count",
                json!(9),
                "results.classes[0].bounds.running_lamps_count",
            ),
            (
                "/results/classes/0/bounds/months/0/high_rate_by_end_lamps",
                json!(null),
                "results.classes[0].bounds.months[0].high_rate_by_end_lamps",
            ),
        ],
    );
}

#[test]
fn results_alone_are_held_to_what_follows_from_their_own_fields() {
    let output = run(&small("tampered-alone", &wearing(), TERMS));
    let sound = serde_json::to_value(&output.results).unwrap();
    let refused = |changed: &Value| {
        let results: StudyResults = serde_json::from_value(changed.clone()).unwrap();
        match Checks::of("results", &results) {
            Ok(()) => Vec::new(),
            Err(error) => error.problems().iter().map(|p| p.place.column.clone().unwrap_or_default()).collect(),
        }
    };
    assert_eq!(refused(&sound), Vec::<String>::new());
    for (pointer, value, field) in [
        ("/ledger/lives_count", json!(33), "ledger.lives_count"),
        ("/classes/0/curve/end_hours", json!(2190.0), "classes[0].curve.end_hours"),
        ("/classes/0/policy/sentence", json!("change at 2,500 h"), "classes[0].policy.sentence"),
    ] {
        let mut changed = sound.clone();
        *changed.pointer_mut(pointer).unwrap() = value;
        assert!(refused(&changed).iter().any(|f| f == field), "{pointer}: {:?}", refused(&changed));
    }
}

#[test]
fn few_failures_keep_todays_rule_in_whole_hours_and_load_again() {
    let mut lamps: Vec<_> = wearing().into_iter().skip(10).collect();
    lamps.extend([lamp(600.0, ""), lamp(800.0, "")]);
    let output = run(&small("tampered-few", &lamps, &TERMS.replace("= 2000.0", "= 1999.5")));
    let class = &output.results.classes[0];
    assert_eq!((class.status, class.seen.failures_count), (Status::RateOnly, 4));
    assert_eq!(class.advised_age_hours, 1999.0);
    each_is_refused(
        &output,
        &[
            ("/results/classes/0/status", json!("supported"), "results.classes[0].status"),
            ("/results/classes/0/status", json!("weak"), "results.classes[0].status"),
            (
                "/results/classes/0/policy/sentence",
                json!("keep today's rule, held to the limit, at 2,499 h"),
                "results.classes[0].policy.sentence",
            ),
            (
                "/results/classes/0/model/rests_on",
                json!("age and costs rest on Weibull lives"),
                "results.classes[0].model.rests_on",
            ),
            (
                "/results/classes/0/policy/limit_binds_probability",
                json!(1.0),
                "results.classes[0].policy.limit_binds_probability",
            ),
            (
                "/results/classes/0/policy/saving_past_records",
                json!(true),
                "results.classes[0].policy.saving_past_records",
            ),
            (
                "/results/classes/0/policy/planned/age_hours",
                json!(1000.0),
                "results.classes[0].policy.planned.age_hours",
            ),
        ],
    );
}
