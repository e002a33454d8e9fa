//! Small studies made row by row: stated outcomes, hostile names, and files that are written whole or not at all.

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use relamp::study::{Status, Study, StudyOptions, StudyOutput, StudyResults, check_target, write};
use relamp::{Kind, Run};

use crate::study::scratch;

/// A lamp of a small study: each burns in a screen of its own.
pub(crate) struct Lamp<'a> {
    site: &'a str,
    hours: f64,
    /// Blank for a running lamp.
    reason: &'a str,
}

impl Lamp<'_> {
    pub(crate) fn runs(&self) -> bool {
        self.reason.is_empty()
    }
}

pub(crate) fn lamp(hours: f64, reason: &str) -> Lamp<'_> {
    Lamp { site: "Site 01", hours, reason }
}

/// Terms of the one class; a test puts its own in place.
pub(crate) const TERMS: &str = "maximum_hours = 2500.0
hours_source = \"invented data sheet\"
price = 780.0
lead_time_days = 21
todays_rule_hours = 2000.0
on_hand = 1
[class.costs]
planned = 950.0
burst = 5200.0
seal = 1900.0
no_strike = 1900.0
flicker = 1500.0
dim = 1250.0
";

/// Writes a study with its log into a fresh folder and gives the path of the study file.
pub(crate) fn small(name: &str, lamps: &[Lamp<'_>], terms: &str) -> PathBuf {
    let folder = scratch(name);
    let mut log = String::from("serial,type,site,screen,fitted,removed,reason,hours,read\n");
    for (i, l) in lamps.iter().enumerate() {
        let site = format!("\"{}\"", l.site.replace('"', "\"\""));
        let (removed, read) = if l.reason.is_empty() { ("", "2025-12-21") } else { ("2025-06-30", "") };
        writeln!(log, "A-{i},2.0 kW,{site},{i},2025-01-01,{removed},{},{},{read}", l.reason, l.hours).unwrap();
    }
    fs::write(folder.join("log.csv"), log).unwrap();
    let study = format!(
        "format = 1
[study]
name = \"Small (invented)\"
as_of = 2025-12-28
currency = \"EUR\"
seed = 7
draws = 40
[chain]
show_minutes = 130
visit_interval_days = 28
forecast_months = 2
service_target = 0.95
hours_per_week = 70.0
[[log]]
file = \"log.csv\"
dates = \"iso\"
blank_hours_at_fitting = \"new\"
exported_on = 2025-12-28
[log.columns]
serial = \"serial\"
lamp_class = \"type\"
site = \"site\"
screen = \"screen\"
fitted_on = \"fitted\"
removed_on = \"removed\"
reason = \"reason\"
hours = \"hours\"
read_on = \"read\"
[reasons]
burst = \"burst\"
dim = \"dim\"
planned = \"planned\"
[[class]]
name = \"2.0 kW\"
{terms}"
    );
    let path = folder.join("study.toml");
    fs::write(&path, study).unwrap();
    path
}

pub(crate) fn run(path: &Path) -> StudyOutput {
    Study::open(path).unwrap().run(&Run::new()).unwrap()
}

/// Thirty ended lamps with a clear wear-out, and two that burn.
pub(crate) fn wearing() -> Vec<Lamp<'static>> {
    let mut lamps: Vec<Lamp<'static>> =
        (0..14).map(|i| lamp(1400.0 + 60.0 * f64::from(i), if i % 7 == 0 { "burst" } else { "dim" })).collect();
    lamps.extend((0..16).map(|_| lamp(2000.0, "planned")));
    lamps.extend([lamp(900.0, ""), lamp(1700.0, "")]);
    lamps
}

#[test]
fn a_small_study_counts_its_rows_and_advises_an_age_under_the_limit() {
    let output = run(&small("small-good", &wearing(), TERMS));
    let results = &output.results;
    assert_eq!((results.ledger.rows_count, results.ledger.used_count), (32, 32));
    assert!(results.ledger.reconciles);
    let class = &results.classes[0];
    assert_eq!((class.seen.lamps_count, class.seen.failures_count, class.seen.running_count), (32, 14, 2));
    assert_eq!(class.status, Status::Supported, "{} {:?} {:?}", class.headline, class.refusal, class.warnings);
    // All lamps stand at risk at 0 h, more than at the first failure where one has left before.
    let curve = class.curve.as_ref().unwrap();
    assert_eq!((curve.points[0].age_hours, curve.points[0].at_risk_count), (0.0, 32));
    assert!(curve.points[1].at_risk_count <= 32);
    let policy = class.policy.as_ref().unwrap();
    assert_eq!(class.advised_age_hours, policy.planned_age_hours);
    assert!(class.advised_age_hours <= 2500.0);
    let parts = |p: &relamp::study::CostPoint| {
        p.planned_cost_per_1000_hours + p.by_cause.iter().map(|c| c.cost_per_1000_hours).sum::<f64>()
    };
    assert!(policy.cost_curve.iter().all(|p| (parts(p) / p.cost_per_1000_hours - 1.0).abs() < 1e-9));
    assert!(policy.cost_curve.iter().all(|p| p.age_hours <= 2500.0));
    let demand = class.demand.as_ref().unwrap();
    assert_eq!((demand.running_lamps_count, demand.months.len()), (2, 2));
    // Every life traces to its row.
    assert_eq!(output.evidence.lives.len(), 32);
    assert!(output.evidence.lives.iter().all(|l| l.rows.len() == 1 && l.rows[0].starts_with("log.csv:")));
}

#[test]
fn results_of_a_run_save_and_load_to_equal_bits() {
    let results = run(&small("small-save", &wearing(), TERMS)).results;
    let text = results.to_json().unwrap();
    let back = StudyResults::from_json(&text).unwrap();
    assert_eq!(back, results);
    assert_eq!(back.to_json().unwrap(), text);
}

#[test]
fn ages_past_the_limit_are_told_with_their_number_and_the_oldest() {
    let mut lamps = wearing();
    let told = |lamps: &[Lamp<'_>], terms: &str, name: &str| {
        let class = run(&small(name, lamps, terms)).results.classes[0].clone();
        let said = class.warnings.into_iter().find(|w| w.contains("burned past the limit of"));
        (class.seen.past_limit, said)
    };
    let none = told(&lamps, TERMS, "small-none-past");
    assert_eq!(none, (None, None));
    // At the limit is not past it.
    lamps.extend([lamp(2500.0, "planned"), lamp(2600.0, "planned"), lamp(3100.0, "planned"), lamp(2510.0, "")]);
    let (past, said) = told(&lamps, TERMS, "small-past");
    let past = past.unwrap();
    assert_eq!((past.limit_hours, past.lamps_count, past.running_count, past.oldest_hours), (2500.0, 3, 1, 3100.0));
    let start = format!(
        "3 of {} lamps burned past the limit of 2,500 h, the oldest 3,100 h; 1 of them still burns:",
        lamps.len()
    );
    assert!(said.as_ref().unwrap().starts_with(&start), "{said:?}");
    // A limit of the owner's own never hides those past the maker's.
    let own = TERMS.replace("price =", "limit_hours = 2900.0\nlimit_reason = \"trial\"\nprice =");
    assert_eq!(told(&lamps, &own, "small-past-own").0.unwrap().lamps_count, 3);
    let results = run(&small("small-past-edit", &lamps, TERMS)).results;
    let mut all: serde_json::Value = serde_json::from_str(&results.to_json().unwrap()).unwrap();
    all["body"]["classes"][0]["seen"]["past_limit"]["oldest_hours"] = 2400.0.into();
    let error = StudyResults::from_json(&all.to_string()).unwrap_err().to_string();
    assert!(error.contains("seen.past_limit.oldest_hours"), "{error}");
}

#[test]
fn lamps_past_the_limit_come_first_and_an_override_never_hides_them() {
    let mut lamps = wearing();
    lamps.extend([lamp(2500.0, ""), lamp(2641.5, ""), lamp(2460.0, ""), lamp(2425.0, "")]);
    let lists = |terms: &str, name: &str| run(&small(name, &lamps, terms)).results.overdue;
    let plain = lists(TERMS, "small-over");
    let hours: Vec<(f64, f64)> = plain.at_limit.iter().map(|l| (l.reading_hours, l.over_hours)).collect();
    assert_eq!(hours, [(2641.5, 141.5), (2500.0, 0.0)]);
    // Read on 21 December, 10 h a day: 2460 h reach the limit four days later, before the as-of date, so that nobody
    // knows whether that lamp is still below; 2425 h reach it half a day after that date.
    let unknown: Vec<&str> = plain.age_unknown.iter().map(|l| l.rule.as_str()).collect();
    assert_eq!((unknown, plain.age_unknown[0].reading_hours), (vec!["study.reading_too_old"], Some(2460.0)));
    assert_eq!(plain.soon.len(), 1);
    assert_eq!((plain.soon[0].days_left, plain.soon[0].expected_hours_at_visit), (0, 2425.0 + 10.0 * 35.0));
    assert!(plain.any_due());
    let own = TERMS.replace("price =", "limit_hours = 2900.0\nlimit_reason = \"trial\"\nprice =");
    let with_override = lists(&own, "small-over-own");
    assert_eq!(with_override.at_limit, plain.at_limit);
    let lower = TERMS.replace("price =", "limit_hours = 2400.0\nlimit_reason = \"insurer\"\nprice =");
    assert_eq!(lists(&lower, "small-over-low").at_limit.len(), 4);
}

#[test]
fn a_class_that_only_burns_stays_in_with_a_bound_and_the_earlier_of_rule_and_limit() {
    let lamps: Vec<Lamp<'_>> = (0..12).map(|i| lamp(300.0 + 50.0 * f64::from(i), "")).collect();
    let results = run(&small("small-running", &lamps, TERMS)).results;
    let class = &results.classes[0];
    assert_eq!(class.status, Status::NotSupported);
    assert_eq!(class.advised_age_hours, 2000.0);
    let refusal = class.refusal.as_ref().unwrap();
    assert_eq!(refusal.slug, "fit.no_failures");
    assert!(!refusal.bound.is_empty());
    assert!(class.headline.starts_with("Not supported by these records"), "{}", class.headline);
    assert!(class.warnings.iter().any(|w| w.contains("still burning")));
    // No event in 6,900 h: at most 2.996 / 6.9 per 1,000 h.
    assert!((class.causes[0].per_1000_hours_high.unwrap() - 2.995_732 / 6.9).abs() < 1e-4);
    let late_rule = TERMS.replace("todays_rule_hours = 2000.0", "todays_rule_hours = 9000.0");
    let class = &run(&small("small-rule", &lamps, &late_rule)).results.classes[0];
    assert_eq!(class.advised_age_hours, 2500.0);
    assert!(class.warnings.iter().any(|w| w.contains("today's rule")));
}

#[test]
fn a_planned_change_dearer_than_any_failure_is_a_verdict_not_an_error() {
    let dear = TERMS.replace("planned = 950.0", "planned = 9500.0");
    let class = &run(&small("small-dear", &wearing(), &dear)).results.classes[0];
    let policy = class.policy.as_ref().unwrap();
    assert_eq!(policy.verdict, relamp::policy::Verdict::PlannedCostsAtLeastFailure);
    assert!(policy.planned_age_hours <= 2500.0);
}

#[test]
fn a_declared_class_without_rows_and_lamps_too_few_to_fit_stay_in() {
    let second = format!("{TERMS}\n[[class]]\nname = \"3.0 kW\"\n{TERMS}");
    let results = run(&small("small-empty", &wearing(), &second)).results;
    assert_eq!(results.classes[1].refusal.as_ref().unwrap().slug, "study.no_lamps");
    let few = [lamp(1800.0, "dim"), lamp(1500.0, "planned"), lamp(1900.0, "dim"), lamp(2100.0, "planned")];
    let class = &run(&small("small-few", &few, TERMS)).results.classes[0];
    assert_ne!(class.status, Status::Supported);
    assert_eq!(class.advised_age_hours, 2000.0);
    // 7,300 lamp hours: 1,800 + 1,500 + 1,900 + 2,100.
    assert_eq!(
        class.headline,
        "Only 2 failures, too few for an age of their own: keep to 2,000 h, the earlier of today's rule and the limit. \
         Costs rest on an even failure rate, 0.274 per 1,000 h (2 in 7,300 lamp hours). It says \
         how often lamps failed, not whether they wear: no age of least cost and no saving can be read off it."
    );
    // Two failures give a model but no age: every figure then speaks of today's rule, and no saving is known.
    if let Some(policy) = &class.policy {
        assert_eq!(policy.planned, policy.todays_rule);
        assert_eq!(policy.planned.age_hours, 2000.0);
        assert_eq!((policy.saving_against_today_per_year, policy.beats_todays_rule_probability), (None, None));
    } else {
        panic!("{:?}", class.refusal);
    }
}

#[test]
fn todays_rule_stays_where_the_records_end_before_it_and_an_earlier_age_costs_more() {
    // Lamps of a young class: all changed at 1,200 h at the latest, though the rule is 2,000 h by now.
    let mut lamps: Vec<Lamp<'_>> = (0..12).map(|i| lamp(640.0 + 45.0 * f64::from(i), "dim")).collect();
    lamps.extend((0..40).map(|_| lamp(1200.0, "planned")));
    lamps.extend([lamp(900.0, ""), lamp(1100.0, "")]);
    let output = run(&small("small-young", &lamps, TERMS));
    let class = &output.results.classes[0];
    let policy = class.policy.as_ref().unwrap();
    let cost = |age: f64| policy.cost_curve.iter().find(|p| p.age_hours >= age).unwrap().cost_per_1000_hours;
    assert!(cost(1200.0) > policy.todays_rule.cost_per_1000_hours);
    assert_eq!(policy.verdict, relamp::policy::Verdict::TodaysRuleStays, "{}", class.headline);
    assert_eq!((class.advised_age_hours, policy.ceiling_hours), (2000.0, 1200.0));
    assert_eq!(class.demand.as_ref().unwrap().planned_age_hours, 2000.0);
    assert_eq!((&policy.planned, policy.saving_against_today_per_year), (&policy.todays_rule, Some(0.0)));
    assert!(class.headline.starts_with("Keep today's rule of 2,000 h: no lamp was at risk past 1,200 h"));
    assert!(
        class.headline.contains("the same as today's rule; both costs are the model's opinion"),
        "{}",
        class.headline
    );
    let warned = "no lamp was at risk past 1,200 h (40 lamps at risk there), short of the limit; no advice but today's rule \
                  goes past it, and the figures at 2,000 h are the model's opinion";
    assert!(class.warnings.iter().any(|w| w == warned), "{:?}", class.warnings);
    // Held to the limit where the rule passes it.
    let late = TERMS.replace("todays_rule_hours = 2000.0", "todays_rule_hours = 9000.0");
    let class = &run(&small("small-young-late", &lamps, &late)).results.classes[0];
    let policy = class.policy.as_ref().unwrap();
    assert_eq!((policy.verdict, class.advised_age_hours), (relamp::policy::Verdict::TodaysRuleStays, 2500.0));
    let text = output.results.to_json().unwrap();
    assert_eq!(StudyResults::from_json(&text).unwrap(), output.results);
    let mut changed = serde_json::to_value(&output.results).unwrap();
    changed["classes"][0]["policy"]["verdict"] = "records_end".into();
    let error = relamp::base::sound::Checks::of("saved", &serde_json::from_value::<StudyResults>(changed).unwrap());
    assert!(error.unwrap_err().to_string().contains("policy.planned_age_hours"));
}

#[test]
fn a_class_with_no_failure_one_or_two_keeps_todays_rule_and_loads_again() {
    for failures in 0..3_u32 {
        // Most were changed at 1,500 h, short of the limit; the failures lie before that age.
        let mut lamps: Vec<Lamp<'_>> = (0..20).map(|_| lamp(1500.0, "planned")).collect();
        lamps.extend((0..failures).map(|i| lamp(1200.0 + 130.0 * f64::from(i), "dim")));
        lamps.extend([lamp(400.0, ""), lamp(1100.0, "")]);
        let path = small(&format!("small-failures-{failures}"), &lamps, TERMS);
        let output = run(&path);
        let class = &output.results.classes[0];
        let said = format!("{failures} failures: {} {:?}", class.headline, class.warnings);
        assert_eq!(class.seen.failures_count, u64::from(failures));
        assert_eq!(class.advised_age_hours, 2000.0, "{said}");
        if failures == 0 {
            assert_eq!(class.status, Status::NotSupported, "{said}");
            assert!(class.headline.starts_with("Not supported by these records: "), "{said}");
            let bounds = class.bounds.as_ref().unwrap();
            assert_eq!((bounds.planned_age_hours, bounds.running_lamps_count), (2000.0, 2));
            assert!(bounds.high_rate_per_1000_hours.unwrap() > f64::from(failures) / 33.0, "{said}");
        } else {
            assert_eq!(class.status, Status::RateOnly, "{said}");
            let few = ["", "Only 1 failure, too few for an age of its", "Only 2 failures, too few for an age of their"];
            let start = format!("{} own: keep to 2,000 h", few[failures as usize]);
            assert!(class.headline.starts_with(&start), "{said}");
            assert!(!said.contains("interval") && !said.contains("binds"), "{said}");
            let policy = class.policy.as_ref().unwrap();
            assert_eq!((policy.ceiling_hours, &policy.planned), (1500.0, &policy.todays_rule));
            // What an even rate says of ages whatever was seen is nowhere.
            let ends = &policy.planned_age_interval_hours;
            assert_eq!((ends.low, ends.high, policy.limit_binds_probability), (None, None, None));
            assert_eq!((policy.near_best.len(), policy.run_to_failure_cost_per_1000_hours), (0, None));
            assert!(policy.sentence.starts_with("keep today's rule, held to the limit, at 2,000 h"), "{said}");
            assert!(policy.planned_age_interval_sentence.starts_with("an even rate has no age of least cost"));
            let model = class.model.as_ref().unwrap();
            assert_eq!((model.family.as_str(), model.by_cause[0].family.as_str()), ("weibull", "exponential"));
            let rests = format!(
                "costs, lamps needed and spares rest on an even rate for dim ({failures} {}); no age rests on it",
                if failures == 1 { "failure" } else { "failures" }
            );
            assert_eq!(model.rests_on, rests);
            assert!(class.demand.is_some() && class.stock.is_some());
        }
        // Nowhere is the end of the records called the limit.
        assert!(!class.headline.contains("the limit of 1,500 h"), "{said}");
        let target = path.with_file_name("out");
        write(&target, &output, &[], false).unwrap();
        let text = fs::read_to_string(target.join("results.json")).unwrap();
        assert_eq!(StudyResults::from_json(&text).unwrap(), output.results, "{said}");
    }
}

#[test]
fn results_say_which_models_the_age_and_the_costs_rest_on() {
    // Twelve dimmed, two burst: a shape of its own for the first, too few of the second.
    let output = run(&small("small-rests", &wearing(), TERMS));
    let class = &output.results.classes[0];
    let model = class.model.as_ref().unwrap();
    assert!(model.rests_on.starts_with("age, costs, lamps needed and spares rest on "), "{}", model.rests_on);
    let end = " lives for dim (12 failures) and an even rate for burst (2 failures), side by side";
    assert!(model.rests_on.ends_with(end), "{}", model.rests_on);
    assert!(class.policy.as_ref().unwrap().planned_age_interval_sentence.starts_with("95 % interval of the age "));
}

#[test]
fn an_interval_of_one_age_is_said_in_words() {
    let mut lamps: Vec<Lamp<'_>> =
        [300.0, 700.0, 1000.0, 1300.0, 1500.0, 1700.0, 1900.0].map(|hours| lamp(hours, "dim")).into();
    lamps.extend((0..20).map(|_| lamp(2000.0, "planned")));
    let class = &run(&small("small-one-age", &lamps, TERMS)).results.classes[0];
    let policy = class.policy.as_ref().unwrap();
    let ends = &policy.planned_age_interval_hours;
    assert_eq!((class.status, ends.low, ends.high), (Status::Weak, Some(2000.0), Some(2000.0)));
    let words = "in every draw the cost still falls at 2,000 h, where the records end short of the limit, so there is no \
                 interval of ages to read";
    assert_eq!(policy.planned_age_interval_sentence, words);
    assert!(class.headline.ends_with(&format!("{words}.")), "{}", class.headline);
}

#[test]
fn a_saving_against_a_rule_past_the_records_is_the_models_opinion_whatever_the_verdict() {
    let mut lamps: Vec<Lamp<'_>> = (0..12).map(|i| lamp(640.0 + 45.0 * f64::from(i), "burst")).collect();
    lamps.extend((0..40).map(|_| lamp(1200.0, "planned")));
    // Without a lamp that burns a saving a year is not known.
    lamps.push(lamp(300.0, ""));
    let dear = TERMS.replace("burst = 5200.0", "burst = 52000.0");
    let class = &run(&small("small-opinion", &lamps, &dear)).results.classes[0];
    let policy = class.policy.as_ref().unwrap();
    assert_ne!(policy.verdict, relamp::policy::Verdict::TodaysRuleStays, "{}", class.headline);
    assert!(policy.saving_past_records && policy.saving_against_today_per_year.is_some(), "{}", class.headline);
    assert!(class.headline.contains("the model's opinion, as no lamp was seen past 1,200 h"), "{}", class.headline);
    let warned = "a saving against today's rule of 2,000 h is the model's opinion";
    assert!(class.warnings.iter().any(|w| w.ends_with(warned)), "{:?}", class.warnings);
    // Within the records it is the records' own.
    let early = dear.replace("todays_rule_hours = 2000.0", "todays_rule_hours = 1100.0");
    let class = &run(&small("small-no-opinion", &lamps, &early)).results.classes[0];
    assert!(!class.policy.as_ref().unwrap().saving_past_records);
    assert!(!class.headline.contains("opinion"), "{}", class.headline);
}

#[test]
fn an_upper_bound_past_any_use_is_said_to_be_none() {
    let mut lamps: Vec<Lamp<'_>> = (0..20).map(|_| lamp(1500.0, "planned")).collect();
    lamps.push(lamp(1234.0, "dim"));
    let class = &run(&small("small-bound", &lamps, TERMS)).results.classes[0];
    let model = class.model.as_ref().unwrap();
    let scale = model.parameters.iter().find(|p| p.name == "scale").unwrap();
    assert!(scale.profile.low.is_some_and(|low| low > 1234.0), "{scale:?}");
    assert_eq!(scale.profile.high, None);
    assert!(scale.profile.method.ends_with("; no upper bound from these records"), "{scale:?}");
    assert!(model.notes.iter().any(|n| n.ends_with(", with no upper bound from these records")), "{:?}", model.notes);
    // Bounds of use stay: the same lamps with failures enough.
    let model = run(&small("small-bound-not", &wearing(), TERMS)).results.classes[0].model.clone().unwrap();
    assert!(model.parameters.iter().all(|p| p.profile.high.is_some()));
}

#[test]
fn hostile_names_are_neutral_in_tables_and_raw_in_results() {
    let mut lamps = wearing();
    let names = ["<script>alert(1)</script>", "=HYPERLINK(\"http://x\",\"y\")", "$\\foo$", "@SUM(1)", "-2+3"];
    lamps.extend(names.iter().map(|&site| Lamp { site, hours: 2600.0, reason: "" }));
    let path = small("small-hostile", &lamps, TERMS);
    let output = run(&path);
    let target = path.with_file_name("out");
    write(&target, &output, &[("report.html".to_owned(), b"<p>report</p>".to_vec())], false).unwrap();
    let overdue = fs::read_to_string(target.join("overdue.csv")).unwrap();
    for (name, cell) in names.iter().zip([
        "<script>alert(1)</script>",
        "\"'=HYPERLINK(\"\"http://x\"\",\"\"y\"\")\"",
        "$\\foo$",
        "'@SUM(1)",
        "'-2+3",
    ]) {
        assert!(overdue.contains(&format!(",{cell},")), "{name}: {overdue}");
    }
    let results = StudyResults::from_json(&fs::read_to_string(target.join("results.json")).unwrap()).unwrap();
    let sites: Vec<&str> = results.overdue.at_limit.iter().map(|l| l.site.as_str()).collect();
    assert!(names.iter().all(|n| sites.contains(n)), "{sites:?}");
}

#[test]
fn the_manifest_names_every_file_and_no_path_or_clock() {
    let path = small("small-manifest", &wearing(), TERMS);
    let output = run(&path);
    let (first, second) = (path.with_file_name("one"), path.with_file_name("two"));
    write(&first, &output, &[], false).unwrap();
    write(&second, &run(&path), &[], false).unwrap();
    for name in ["results.json", "ledger.csv", "overdue.csv", "lives.csv", "purchase_plan.csv", "manifest.json"] {
        assert_eq!(fs::read(first.join(name)).unwrap(), fs::read(second.join(name)).unwrap(), "{name}");
    }
    let text = fs::read_to_string(first.join("manifest.json")).unwrap();
    let manifest: serde_json::Value = serde_json::from_str(&text).unwrap();
    let names = |key: &str| -> Vec<String> {
        manifest[key].as_array().unwrap().iter().map(|f| f["file"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(names("inputs"), ["study.toml", "log.csv"]);
    assert_eq!(names("outputs"), ["results.json", "ledger.csv", "overdue.csv", "lives.csv", "purchase_plan.csv"]);
    assert_eq!(manifest["seed"], 7);
    assert!(!text.contains(path.parent().unwrap().to_str().unwrap()), "{text}");
    // SHA-256 of the log as any other program gives it: the digest of its bytes.
    let digest = <sha2::Sha256 as sha2::Digest>::digest(fs::read(path.with_file_name("log.csv")).unwrap());
    let mut hex = String::new();
    for byte in digest {
        std::write!(hex, "{byte:02x}").unwrap();
    }
    assert_eq!(manifest["inputs"][1]["sha256"], hex.as_str());
}

#[test]
fn output_is_written_whole_or_not_at_all() {
    let path = small("small-write", &wearing(), TERMS);
    let folder = path.parent().unwrap();
    let output = run(&path);
    let entries = || {
        let mut names: Vec<String> =
            fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    };
    let before = entries();
    assert!(check_target(folder.join("out"), false).is_ok() && check_target(folder.join("a/b"), false).is_ok());
    assert_eq!(entries(), before);
    // A name that the file system refuses fails after other files were written; nothing of them stays.
    let long = [("x".repeat(400), vec![1])];
    let error = write(folder.join("out"), &output, &long, false).unwrap_err();
    assert_eq!((error.slug(), error.kind()), ("study.unwritable", Kind::Io));
    assert_eq!(entries(), before);
    // A file stands where a folder is needed.
    assert_eq!(write(folder.join("log.csv"), &output, &[], true).unwrap_err().slug(), "study.folder_not_empty");
    for below in ["log.csv/out", "log.csv/a/out"] {
        assert_eq!(write(folder.join(below), &output, &[], true).unwrap_err().kind(), Kind::Io);
        assert_eq!(check_target(folder.join(below), true).unwrap_err().slug(), "study.unwritable");
    }
    for name in ["../evil", "a/b", "results.json", "manifest.json", "", ".."] {
        let extra = [(name.to_owned(), vec![1])];
        assert_eq!(write(folder.join("out"), &output, &extra, false).unwrap_err().slug(), "study.file_name", "{name}");
    }
    assert_eq!(entries(), before);
    // What no run wrote is never replaced, the study and its logs least of all.
    fs::create_dir(folder.join("out")).unwrap();
    fs::write(folder.join("out/keep.txt"), "old").unwrap();
    for replace in [false, true] {
        let error = write(folder.join("out"), &output, &[], replace).unwrap_err();
        assert_eq!(error.slug(), "study.folder_not_empty");
        // Told before the work as after it.
        assert_eq!(check_target(folder.join("out"), replace).unwrap_err().to_string(), error.to_string());
        // To replace it would not help.
        assert!(!error.to_string().contains("--replace"), "{error}");
    }
    assert_eq!(write(folder, &output, &[], true).unwrap_err().slug(), "study.folder_not_empty");
    assert_eq!(fs::read_to_string(folder.join("out/keep.txt")).unwrap(), "old");
    fs::remove_file(folder.join("out/keep.txt")).unwrap();
    // What a run wrote stays when the new cannot be written, and only goes when told.
    write(folder.join("out"), &output, &[("mine.txt".to_owned(), vec![1])], false).unwrap();
    let error = write(folder.join("out"), &output, &[], false).unwrap_err();
    assert_eq!(error.slug(), "study.folder_not_empty");
    assert!(error.to_string().contains("--replace"), "{error}");
    assert!(write(folder.join("out"), &output, &long, true).is_err());
    assert!(folder.join("out/mine.txt").exists());
    // What a run that was ended by force left goes with the next run to the same folder.
    let left = folder.join(".out.new-1-0");
    fs::create_dir(&left).unwrap();
    fs::write(left.join("results.json"), "half").unwrap();
    let words = "relamp: output under way; of no use once the run that writes it has ended\n";
    fs::write(left.join(".unfinished"), words).unwrap();
    fs::write(folder.join("out/.unfinished"), words).unwrap();
    write(folder.join("out"), &output, &[], true).unwrap();
    assert!(!folder.join("out/mine.txt").exists() && folder.join("out/results.json").exists());
    assert!(!folder.join("out/.unfinished").exists());
    let mut after = before.clone();
    after.push("out".to_owned());
    after.sort();
    assert_eq!(entries(), after);
}

#[test]
fn a_log_that_is_missing_or_wrongly_mapped_is_an_error_that_names_the_place() {
    let path = small("small-missing", &wearing(), TERMS);
    let log = path.with_file_name("log.csv");
    let text = fs::read_to_string(&log).unwrap();
    fs::write(&log, text.replace("serial,type", "number,type")).unwrap();
    let error = Study::open(&path).unwrap().run(&Run::new()).unwrap_err();
    assert!(error.to_string().contains("log.csv") && error.to_string().contains("serial"), "{error}");
    fs::write(&log, "").unwrap();
    assert!(Study::open(&path).unwrap().run(&Run::new()).unwrap_err().to_string().contains("log.csv"));
    fs::remove_file(&log).unwrap();
    assert!(Study::open(&path).unwrap().run(&Run::new()).unwrap_err().to_string().contains("log.csv"));
}

#[test]
fn a_stop_ends_the_run_and_an_unknown_family_is_refused_by_name() {
    let path = small("small-stop", &wearing(), TERMS);
    let handle = Run::new();
    handle.stop();
    assert_eq!(Study::open(&path).unwrap().run(&handle).unwrap_err().kind(), Kind::Stopped);
    let options = StudyOptions { family: Some("square".to_owned()), ..StudyOptions::default() };
    assert_eq!(Study::open_with(&path, options).unwrap_err().slug(), "family.unknown");
    // A family beside the three that are always compared.
    let options = StudyOptions { family: Some("log_logistic".to_owned()), ..StudyOptions::default() };
    let output = Study::open_with(&path, options).unwrap().run(&Run::new()).unwrap();
    let model = output.results.classes[0].model.as_ref().unwrap();
    assert_eq!((model.family.as_str(), model.families.len()), ("log_logistic", 4));
    let options = StudyOptions { family: Some("lognormal".to_owned()), ..StudyOptions::default() };
    let output = Study::open_with(&path, options).unwrap().run(&Run::new()).unwrap();
    assert_eq!(output.results.classes[0].model.as_ref().unwrap().family, "lognormal");
    assert_eq!(output.evidence.options, [("family".to_owned(), "lognormal".to_owned())]);
}

#[test]
fn a_parameter_that_the_records_do_not_settle_has_bounds_in_place_of_a_value() {
    // Failures grow rarer just before the planned age: a share may never fail, or none.
    let failed = [300.0, 450.0, 550.0, 620.0, 680.0, 740.0, 790.0, 850.0, 920.0, 1090.0];
    let mut lamps: Vec<Lamp<'static>> = failed.into_iter().map(|hours| lamp(hours, "burst")).collect();
    lamps.extend((0..40).map(|_| lamp(1200.0, "planned")));
    let path = small("small-open", &lamps, TERMS);
    let options = StudyOptions { family: Some("never_fails(weibull)".into()), ..StudyOptions::default() };
    let output = Study::open_with(&path, options).unwrap().run(&Run::new()).unwrap();
    let class = &output.results.classes[0];
    let model = class.model.as_ref().unwrap_or_else(|| panic!("{:?}", class.refusal));
    let share = model.parameters.iter().find(|p| p.name == "never_share").unwrap();
    assert_eq!((share.identified.as_str(), share.estimate), ("no", None), "{share:?}");
    assert!(share.profile.low.is_none() && share.profile.high.is_some_and(|h| h < 1.0), "{share:?}");
    let shape = model.parameters.iter().find(|p| p.name == "shape").unwrap();
    assert!(shape.estimate.is_some() && ["yes", "weakly"].contains(&shape.identified.as_str()), "{shape:?}");
    assert!(model.notes.iter().any(|n| n.contains("do not settle never_share")), "{:?}", model.notes);
    assert!(class.warnings.iter().any(|n| n.contains("do not settle never_share")), "{:?}", class.warnings);
    let text = serde_json::to_value(&output.results).unwrap();
    let saved = &text["classes"][0]["model"]["parameters"];
    let saved = saved.as_array().unwrap().iter().find(|p| p["name"] == "never_share").unwrap();
    assert!(saved["estimate"].is_null() && saved["identified"] == "no", "{saved}");
    assert_eq!(serde_json::from_value::<StudyResults>(text.clone()).unwrap(), output.results);
}
