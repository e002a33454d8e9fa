//! What must not pass in silence: programme hours that no lamp has, and readings too old to say anything of today.

use std::fs;
use std::path::{Path, PathBuf};

use relamp::Run;
use relamp::records::Outcome;
use relamp::study::{Study, StudyResults, write};
use relamp_demo::{Options, folder, generate};

use crate::study::scratch;
use crate::study_small::{TERMS, lamp, run, small, wearing};

fn change(path: &Path, from: &str, to: &str) {
    let text = fs::read_to_string(path).unwrap();
    assert!(text.contains(from), "{from}");
    fs::write(path, text.replacen(from, to, 1)).unwrap();
}

#[test]
fn an_old_reading_makes_an_age_unknown_and_leaves_every_fit_alone() {
    let mut lamps = wearing();
    lamps.extend([lamp(200.0, ""), lamp(300.0, "")]);
    let young = run(&small("doubts-young", &lamps, TERMS)).results;
    assert!(young.overdue.age_unknown.is_empty());
    let path = small("doubts-old", &lamps, TERMS);
    // 302 days at 10 h a day: 200 h may have become 3,220 h, past the limit of 2,500 h; 300 h of a lamp read 219 days
    // ago have become 2,490 h.
    change(&path.with_file_name("log.csv"), ",,,200,2025-12-21", ",,,200,2025-03-01");
    change(&path.with_file_name("log.csv"), ",,,300,2025-12-21", ",,,300,2025-05-23");
    let output = run(&path);
    let old = &output.results;
    let unknown: Vec<_> =
        old.overdue.age_unknown.iter().map(|l| (l.rule.as_str(), l.reading_hours, l.limit_hours)).collect();
    assert_eq!(unknown, [("study.reading_too_old", Some(200.0), Some(2500.0))]);
    assert!(old.overdue.age_unknown[0].why.contains("302 days ago at 200 h"), "{}", old.overdue.age_unknown[0].why);
    assert!(old.overdue.any_due() && old.overdue.at_limit.is_empty());
    let soon: Vec<_> = old.overdue.soon.iter().map(|l| (l.reading_hours, l.days_left)).collect();
    assert_eq!(soon, [(300.0, 1)]);
    // The lamps needed count it as due; curves and fits end at the readings, whatever the day of them.
    let demand = |r: &StudyResults| r.classes[0].demand.as_ref().map(|d| d.unknown_age_lamps_count);
    assert_eq!((demand(&young), demand(old)), (Some(0), Some(1)));
    assert_eq!(old.classes[0].model, young.classes[0].model);
    assert_eq!(old.classes[0].curve, young.classes[0].curve);
    assert_eq!(old.classes[0].policy, young.classes[0].policy);
    let target = path.with_file_name("out");
    write(&target, &output, &[], false).unwrap();
    let table = fs::read_to_string(target.join("overdue.csv")).unwrap();
    assert!(table.contains("age not known: treat as due,2.0 kW,Site 01,32,A-32,200,2500,,2025-03-01,,,,,"), "{table}");
    // It stands in the ledger too, with the cell of the day as the file has it.
    let ledger = fs::read_to_string(target.join("ledger.csv")).unwrap();
    let told: Vec<&str> = ledger.lines().filter(|l| l.contains("study.reading_too_old")).collect();
    let why = "at 70 h a week it may have reached its limit of 2,500 h since";
    let line = fs::read_to_string(path.with_file_name("log.csv")).unwrap();
    let line = 1 + line.lines().position(|l| l.contains("2025-03-01")).unwrap();
    let start = format!("log.csv,0,{line},read,2025-03-01,study.reading_too_old,used,A-32,");
    assert!(told.len() == 1 && told[0].starts_with(&start) && told[0].contains(why), "{told:?} {start}");
    let rules = old.ledger.by_rule.iter().map(|r| (r.rule.as_str(), r.findings_count));
    assert_eq!(rules.collect::<Vec<_>>(), [("study.reading_too_old", 1)]);
    let rows = old.overdue.rows();
    assert_eq!(table.lines().count(), rows.len() + 1);
    assert!(table.lines().skip(1).zip(rows).all(|(line, row)| line.starts_with(row.list)), "{table}");
}

#[test]
fn a_reading_without_a_day_is_doubted_and_its_lamp_is_due() {
    let mut lamps = wearing();
    lamps.extend([lamp(200.0, ""), lamp(2600.0, "")]);
    let dated = run(&small("doubts-dated", &lamps, TERMS)).results;
    assert!(dated.overdue.age_unknown.is_empty() && dated.overdue.at_limit.len() == 1);
    let path = small("doubts-undated", &lamps, TERMS);
    change(&path.with_file_name("log.csv"), ",,,200,2025-12-21", ",,,200,");
    change(&path.with_file_name("log.csv"), ",,,2600,2025-12-21", ",,,2600,");
    let output = run(&path);
    let undated = &output.results;
    let unknown: Vec<_> =
        undated.overdue.age_unknown.iter().map(|l| (l.rule.as_str(), l.reading_hours, l.read_on)).collect();
    assert_eq!(unknown, [("records.reading_undated", Some(200.0), None)]);
    let why = &undated.overdue.age_unknown[0].why;
    assert!(why.contains("has no day") && why.contains("used as read"), "{why}");
    // Past the limit it is due whatever the day, and no day is made up for it.
    let at_limit: Vec<_> = undated.overdue.at_limit.iter().map(|l| (l.reading_hours, l.read_on)).collect();
    assert_eq!(at_limit, [(2600.0, None)]);
    assert!(undated.overdue.soon.is_empty());
    let told: Vec<_> = output.evidence.ledger.findings.iter().filter(|f| f.rule == "records.reading_undated").collect();
    assert!(told.len() == 2 && told.iter().all(|f| f.column == "read" && f.value.is_empty() && f.line > 1), "{told:?}");
    let days: Vec<_> = output.evidence.lives.iter().filter(|l| l.read_on.is_none()).map(|l| l.high_hours).collect();
    assert_eq!(days, [200.0, 2600.0]);
    let demand = |r: &StudyResults| r.classes[0].demand.as_ref().map(|d| d.unknown_age_lamps_count);
    assert_eq!((demand(&dated), demand(undated)), (Some(0), Some(2)));
    assert_eq!(undated.classes[0].model, dated.classes[0].model);
}

#[test]
fn programme_hours_of_a_place_that_no_row_names_are_doubted() {
    let path = small("doubts-programme", &wearing(), TERMS);
    let programme = "[[programme]]\nsite = \"site  01\"\nhours_per_week = 60.0\n\
                     [[programme]]\nsite = \"Sito 01\"\nhours_per_week = 60.0\n\
                     [[programme]]\nsite = \"Site 01\"\nscreen = \"5\"\nhours_per_week = 60.0\n\
                     [[programme]]\nsite = \"Site 01\"\nscreen = \"500\"\nhours_per_week = 60.0\n\
                     [[programme]]\nsite = \"Nowhere\"\nscreen = \"5\"\nhours_per_week = 60.0\n[[log]]";
    change(&path, "[[log]]", programme);
    let line = |piece: &str| {
        let text = fs::read_to_string(&path).unwrap();
        text[..text.find(piece).unwrap()].matches('\n').count() as u64
    };
    let output = run(&path);
    let doubts = &output.results.doubts;
    let told: Vec<_> = doubts.iter().map(|d| (d.file.as_str(), d.line, d.column.as_str(), d.value.as_str())).collect();
    assert_eq!(
        told,
        [
            ("study.toml", line("site = \"Sito 01\""), "programme[2].site", "Sito 01"),
            ("study.toml", line("screen = \"500\"") - 1, "programme[4].screen", "500"),
            ("study.toml", line("site = \"Nowhere\""), "programme[5].site", "Nowhere"),
        ]
    );
    assert!(doubts[0].sentence.contains("the nearest is \"Site 01\""), "{}", doubts[0].sentence);
    assert!(!doubts[2].sentence.contains("nearest"), "{}", doubts[2].sentence);
    let in_ledger = output.evidence.ledger.findings.iter().filter(|f| f.rule == "study.programme_unused");
    assert!(in_ledger.eq(doubts.iter()));
    let counted = output.results.ledger.by_rule.iter().find(|r| r.rule == "study.programme_unused");
    assert_eq!(counted.map(|r| r.findings_count), Some(3));
    assert!(output.results.ledger.reconciles);
}

#[test]
fn an_earlier_day_that_no_last_buy_compares_is_doubted() {
    let stop =
        "[[stop]]\nsite = \"Site 01\"\nscreen = \"5\"\nkind = \"closing\"\non = 2026-06-20\nearlier_on = 2026-05-01\n";
    let path = small("doubts-earlier", &wearing(), &format!("{TERMS}{stop}"));
    let results = run(&path).results;
    let text = fs::read_to_string(&path).unwrap();
    let line = 1 + text.lines().position(|l| l == "[[stop]]").unwrap() as u64;
    let of_rule = |d: &&relamp::records::Finding| d.rule == "study.earlier_unused";
    let told: Vec<_> =
        results.doubts.iter().filter(of_rule).map(|d| (d.line, d.column.as_str(), d.value.as_str())).collect();
    assert_eq!(told, [(line, "stop[1].earlier_on", "2026-05-01")]);
    let buy = "[[last_buy]]\nclass = \"2.0 kW\"\nlast_order_on = 2026-03-01\nneeded_until = 2026-08-28\nrisk = 0.05\n";
    let compared = run(&small("doubts-earlier-not", &wearing(), &format!("{TERMS}{stop}{buy}"))).results;
    assert_eq!(compared.doubts.iter().filter(of_rule).count(), 0);
}

#[test]
fn warranty_hours_past_the_limit_of_use_are_a_finding_and_no_error() {
    let swapped = TERMS.replace("maximum_hours = 2500.0", "maximum_hours = 2500.0\nwarranty_hours = 3000.0");
    let path = small("doubts-warranty", &wearing(), &swapped);
    let results = run(&path).results;
    let text = fs::read_to_string(&path).unwrap();
    let line = 1 + text.lines().position(|l| l == "warranty_hours = 3000.0").unwrap() as u64;
    let told: Vec<_> = results.doubts.iter().map(|d| (d.rule.as_str(), d.line, d.value.as_str())).collect();
    assert_eq!(told, [("study.warranty_past_use", line, "3,000")]);
    assert_eq!(results.doubts[0].column, "class \"2.0 kW\".warranty_hours");
    // The limit of use holds all the same.
    assert_eq!(results.classes[0].limit.limit_hours, 2500.0);
    let plain = TERMS.replace("maximum_hours = 2500.0", "maximum_hours = 2500.0\nwarranty_hours = 2500.0");
    assert!(run(&small("doubts-warranty-not", &wearing(), &plain)).results.doubts.is_empty());
}

/// Doubts of a study about one rule.
fn doubts(path: &Path, rule: &str) -> Vec<relamp::records::Finding> {
    let study = Study::open(path).unwrap();
    let reading = study.read(&Run::new()).unwrap();
    study.doubts(&reading).into_iter().filter(|d| d.rule == rule).collect()
}

const HEAPED: &str = "study.reason_heaped";

#[test]
fn planned_changes_mapped_to_a_failure_are_told_by_where_they_heap() {
    let path = small("doubts-heaped", &wearing(), TERMS);
    assert_eq!(doubts(&path, HEAPED), []);
    // Sixteen lamps changed at the rule of 2,000 h count as burst.
    change(&path, "planned = \"planned\"", "planned = \"burst\"");
    let text = fs::read_to_string(&path).unwrap();
    let line = 1 + text.lines().position(|l| l == "planned = \"burst\"").unwrap() as u64;
    let told = doubts(&path, HEAPED);
    assert_eq!(told.len(), 1, "{told:?}");
    let doubt = &told[0];
    assert_eq!((doubt.line, doubt.column.as_str(), doubt.value.as_str()), (line, "reasons.\"planned\"", "burst"));
    let words = "16 of 16 rows with this reason (100 %) stand within 5 h of today's planned age, where";
    assert!(doubt.sentence.starts_with(words), "{}", doubt.sentence);
    let output = run(&path);
    assert!(output.results.doubts.contains(doubt));
    relamp::base::sound::Checks::of("output", &output).unwrap();
    // At the limit alike; seven rows say nothing, and eight and nine only by how close they lie.
    let few: Vec<_> = (0..30).map(|i| lamp(1000.0 + 40.0 * f64::from(i), "dim")).collect();
    for (name, rows, heard) in [("doubts-limit", 10, 1), ("doubts-seven", 7, 0)] {
        let lamps =
            || (0..rows).map(|i| lamp(2497.0 + f64::from(i % 4), "burst")).chain((0..2).map(|_| lamp(900.0, "")));
        let mut all: Vec<_> = lamps().collect();
        all.extend(few.iter().map(|_| lamp(1777.0, "dim")));
        let told = doubts(&small(name, &all, TERMS), HEAPED);
        assert_eq!(told.len(), heard, "{told:?}");
        assert!(told.iter().all(|d| d.sentence.contains("within 5 h of the hour limit")), "{told:?}");
    }
}

#[test]
fn no_right_map_of_the_chain_is_doubted_and_each_planned_reason_made_a_failure_is() {
    for seed in 1..=20 {
        let clean = Options::clean_causes().with_size(10, 60, 5);
        for (i, options) in [Options::full().with_size(10, 60, 5), clean, Options::second()].iter().enumerate() {
            let place = scratch(&format!("doubts-map-{seed}-{i}"));
            folder::write(&generate(seed, options), &place).unwrap();
            let path = place.join("study.toml");
            let study = Study::open(&path).unwrap();
            let reading = study.read(&Run::new()).unwrap();
            // A small chain need not have every word of the map.
            let mut told = study.doubts(&reading);
            told.retain(|d| d.rule != "study.reason_unused");
            assert_eq!(told, [], "seed {seed}");
            fs::remove_dir_all(place).unwrap();
        }
    }
    let place = scratch("doubts-map");
    folder::write(&generate(20_251_228, &Options::full()), &place).unwrap();
    let path = place.join("study.toml");
    assert_eq!(doubts(&path, HEAPED), []);
    let text = fs::read_to_string(&path).unwrap();
    let planned: Vec<&str> = text.lines().filter(|l| l.ends_with("\" = \"planned\"")).collect();
    assert!(planned.len() > 5, "{planned:?}");
    fs::write(&path, text.replace("\" = \"planned\"", "\" = \"dim\"")).unwrap();
    let told = doubts(&path, HEAPED);
    let columns: Vec<&str> = told.iter().map(|d| d.column.as_str()).collect();
    for line in planned {
        let reason = line.split(" = ").next().unwrap();
        assert!(columns.contains(&format!("reasons.{reason}").as_str()), "{reason}: {columns:?}");
    }
    assert!(told.iter().all(|d| d.value == "dim"), "{told:?}");
}

#[test]
fn planned_changes_spread_around_the_rule_are_told_by_how_close_they_lie() {
    // Changed on plan within 200 h of the rule of 2,000 h, hardly one at the same age as another.
    let spread = |reason: &'static str| (0..40).map(move |i| lamp(1801.0 + 10.0 * f64::from(i), reason));
    let mut lamps: Vec<_> = (0..14).map(|i| lamp(900.0 + 100.0 * f64::from(i), "dim")).collect();
    lamps.extend(spread("planned"));
    let path = small("doubts-spread", &lamps, TERMS);
    assert_eq!(doubts(&path, HEAPED), []);
    change(&path, "planned = \"planned\"", "planned = \"burst\"\nroutine = \"planned\"");
    let told = doubts(&path, HEAPED);
    let words = "the ages of 40 rows of 2.0 kW with this reason lie close together near today's planned age of 2,000 h, with a \
                 Weibull shape of 1";
    assert!(told.len() == 1 && told[0].column == "reasons.\"planned\"", "{told:?}");
    assert!(told[0].sentence.starts_with(words), "{}", told[0].sentence);
    relamp::base::sound::Checks::of("output", &run(&path)).unwrap();
    // Lamps that wear out before the rule fail at ages of every kind, the more the older.
    let wear: Vec<_> = (0..60).map(|i| lamp(2300.0 * ((f64::from(i) + 0.5) / 60.0).powf(0.2), "dim")).collect();
    assert_eq!(doubts(&small("doubts-wear", &wear, TERMS), HEAPED), []);
}

#[test]
fn planned_changes_far_around_the_rule_or_under_one_word_of_several_are_told_too() {
    let failed = || (0..14).map(|i| lamp(900.0 + 100.0 * f64::from(i), "dim"));
    let told = |name: &str, lamps: &[crate::study_small::Lamp<'_>], own: &dyn Fn(&Path)| {
        let path = small(name, lamps, TERMS);
        change(&path, "planned = \"planned\"", "planned = \"burst\"\nroutine = \"planned\"");
        own(&path);
        doubts(&path, HEAPED)
    };
    let alone = |_: &Path| ();
    // Over a fifth of the age to either side.
    let wide: Vec<_> = failed().chain((0..40).map(|i| lamp(1605.0 + 20.0 * f64::from(i), "planned"))).collect();
    let wide = told("doubts-wide", &wide, &alone);
    assert!(wide.len() == 1 && wide[0].sentence.contains("40 rows of 2.0 kW"), "{wide:?}");
    // One word of four, within a tenth of the age.
    let word = |i: i32| if i % 4 == 1 { "planned" } else { "routine" };
    let one: Vec<_> = failed().chain((0..36).map(|i| lamp(1803.0 + 11.0 * f64::from(i), word(i)))).collect();
    let one = told("doubts-word", &one, &alone);
    assert!(one.len() == 1 && one[0].sentence.contains("9 rows of 2.0 kW"), "{one:?}");
    // Five rows in each of two classes, each around a rule of its own.
    let five = |rule: f64| (0..20).map(move |i| lamp(rule * (0.905 + 0.01 * f64::from(i)), word(i)));
    let two: Vec<_> = failed().chain(five(2000.0)).chain(five(1000.0)).collect();
    let two = told("doubts-two-classes", &two, &|path| {
        let other = TERMS.replace("2000.0", "1000.0");
        let text = fs::read_to_string(path).unwrap();
        fs::write(path, format!("{text}[[class]]\nname = \"3.0 kW\"\n{other}")).unwrap();
        let log = path.with_file_name("log.csv");
        let lines = fs::read_to_string(&log).unwrap();
        let own = lines.lines().enumerate().map(|(i, l)| if i > 34 { l.replace("2.0 kW", "3.0 kW") } else { l.into() });
        fs::write(&log, own.collect::<Vec<_>>().join("\n")).unwrap();
    });
    assert!(two.len() == 1 && two[0].sentence.contains("10 rows of 2 lamp classes"), "{two:?}");
}

#[test]
fn lamps_that_wear_out_near_the_rule_are_not_taken_for_planned_changes() {
    let mut heard = 0;
    for shape in [3.0, 4.0, 5.0] {
        for seed in 0..40 {
            let mut stream = relamp::base::random::Stream::new(seed, "test", "wear", shape as u64);
            // Most fail near the rule: as close to it as lamps of this shape come.
            let age = |u: f64| 2150.0 * (-u.ln()).powf(1.0 / shape);
            let lamps: Vec<_> = (0..12 + 2 * seed)
                .map(|_| match age(stream.uniform()) {
                    age if age < 2400.0 => lamp(age, "dim"),
                    _ => lamp(2400.0, "planned"),
                })
                .collect();
            heard += doubts(&small("doubts-wear-near", &lamps, TERMS), HEAPED).len();
        }
    }
    assert_eq!(heard, 0);
}

#[test]
fn a_line_of_the_reason_map_that_no_row_uses_is_a_finding() {
    let rule = "study.reason_unused";
    let path = small("doubts-unused", &wearing(), TERMS);
    assert_eq!(doubts(&path, rule), []);
    change(&path, "burst = \"burst\"", "brust = \"burst\"\nseal = \"seal\"");
    let text = fs::read_to_string(&path).unwrap();
    let line = |words: &str| 1 + text.lines().position(|l| l == words).unwrap() as u64;
    let told = doubts(&path, rule);
    let seen: Vec<_> = told.iter().map(|d| (d.line, d.column.as_str(), d.value.as_str())).collect();
    let (first, second) = (line("brust = \"burst\""), line("seal = \"seal\""));
    assert_eq!(seen, [(first, "reasons.\"brust\"", "burst"), (second, "reasons.\"seal\"", "seal")]);
    assert_eq!(told[0].sentence, "no row in use has this reason; the nearest is \"burst\"; the line changes nothing");
    assert_eq!(told[1].sentence, "no row in use has this reason; the line changes nothing");
    relamp::base::sound::Checks::of("output", &run(&path)).unwrap();
}

#[test]
fn a_map_without_planned_changes_and_a_class_of_one_cause_are_told() {
    let (none, one) = ("study.no_planned_reason", "study.one_cause");
    let path = small("doubts-no-planned", &wearing(), TERMS);
    assert!(doubts(&path, none).is_empty() && doubts(&path, one).is_empty());
    change(&path, "planned = \"planned\"", "planned = \"dim\"");
    let told = doubts(&path, none);
    assert!(told.len() == 1 && told[0].column == "reasons" && told[0].value == "30 failures", "{told:?}");
    assert!(told[0].sentence.contains("30 of 30 removals count as failures"), "{}", told[0].sentence);
    assert_eq!(doubts(&path, one), []);
    change(&path, "burst = \"burst\"", "burst = \"dim\"");
    let told = doubts(&path, one);
    let text = fs::read_to_string(&path).unwrap();
    let line = 1 + text.lines().position(|l| l == "name = \"2.0 kW\"").unwrap() as u64;
    assert_eq!(told.iter().map(|d| (d.line, d.value.as_str())).collect::<Vec<_>>(), [(line, "2.0 kW")]);
    relamp::base::sound::Checks::of("output", &run(&path)).unwrap();
    // Planned changes that are left without a mapped reason are no failures.
    let path = small("doubts-unmapped-plan", &wearing(), TERMS);
    change(&path, "planned = \"planned\"\n", "");
    assert_eq!(doubts(&path, none), []);
}

#[test]
fn logs_of_removed_lamps_only_leave_lamps_due_needed_and_spares_not_known() {
    let rule = "study.no_burning_lamp";
    assert_eq!(doubts(&small("doubts-burning", &wearing(), TERMS), rule), []);
    let mut lamps = wearing();
    lamps.truncate(30);
    let path = small("doubts-none-burns", &lamps, TERMS);
    let told = doubts(&path, rule);
    assert!(told.len() == 1 && told[0].file == "log.csv" && told[0].value == "30 removals", "{told:?}");
    let why = "no lamp of these logs burns";
    let output = run(&path);
    let results = &output.results;
    let class = &results.classes[0];
    // The age and its cost stand; what rests on burning lamps does not.
    let policy = class.policy.as_ref().unwrap();
    assert!(class.model.is_some() && policy.saving_against_today_per_1000_hours.is_some());
    assert_eq!(policy.saving_against_today_per_year, None);
    assert!(class.demand.is_none() && class.stock.is_none() && class.bounds.is_none());
    assert_eq!((class.needs_not_known.as_str(), results.overdue.not_known.as_str()), (why, why));
    let orders = &results.orders;
    assert_eq!((orders.order_lamps, orders.order_price, orders.not_known.as_str()), (None, None, why));
    assert!(class.warnings.iter().any(|w| w == "lamps needed and spares are not known: no lamp of these logs burns"));
    let saved: serde_json::Value = serde_json::from_str(&results.to_json().unwrap()).unwrap();
    let body = &saved["body"];
    assert!(body["orders"]["order_lamps"].is_null() && body["classes"][0]["stock"].is_null(), "{}", body["orders"]);
    assert_eq!(&StudyResults::from_json(&results.to_json().unwrap()).unwrap(), results);
    relamp::base::sound::Checks::of("output", &output).unwrap();
    // A class without a model has no lower bound of 0 either.
    let few: Vec<_> = (0..30).map(|_| lamp(2000.0, "planned")).collect();
    let few = run(&small("doubts-none-burns-few", &few, TERMS)).results;
    assert!(few.classes[0].refusal.is_some() && few.classes[0].bounds.is_none());
    assert_eq!((few.orders.order_lamps, few.orders.least_only_classes_count), (None, 0));
    // A nought put in by hand is refused, and so is the finding taken away.
    let mut zero = results.clone();
    zero.orders.order_lamps = Some(0);
    let mut silent = results.clone();
    silent.doubts.retain(|d| d.rule != rule);
    for (changed, field) in [(zero, "orders.order_lamps"), (silent, "overdue.not_known")] {
        let error = relamp::base::sound::Checks::of("saved", &changed).unwrap_err();
        assert!(error.to_string().contains(field), "{error}");
    }
}

#[test]
fn a_planned_change_below_the_price_of_its_lamp_is_a_finding() {
    let rule = "study.planned_below_price";
    assert_eq!(doubts(&small("doubts-price", &wearing(), TERMS), rule), []);
    let path = small("doubts-price-low", &wearing(), &TERMS.replace("planned = 950.0", "planned = 170.0"));
    let text = fs::read_to_string(&path).unwrap();
    let line = 1 + text.lines().position(|l| l == "planned = 170.0").unwrap() as u64;
    let told = doubts(&path, rule);
    let told: Vec<_> = told.iter().map(|d| (d.line, d.column.as_str(), d.value.as_str())).collect();
    assert_eq!(told, [(line, "class \"2.0 kW\".costs.planned", "170")]);
}

#[test]
fn a_preview_room_is_judged_by_its_declared_programme() {
    // Four tenths of an hour a day in every screen of the log.
    let rows: Vec<_> = (0..30).map(|i| lamp(70.0 + f64::from(i % 5), "dim")).collect();
    let path = small("doubts-preview", &rows, TERMS);
    let told = |path: &Path| Study::open(path).unwrap().read(&Run::new()).unwrap().warning();
    assert!(told(&path).contains("less than any screen is used"), "{}", told(&path));
    change(&path, "hours_per_week = 70.0", "hours_per_week = 2.8");
    assert_eq!(told(&path), "");
    // Declared otherwise, it stays doubted.
    change(&path, "hours_per_week = 2.8", "hours_per_week = 20.0");
    assert!(told(&path).contains("less than any screen is used"));
}

/// Lamps that all burn until they fail.
fn run_to_failure(name: &str) -> PathBuf {
    let lamps: Vec<_> =
        (0..40).map(|i| lamp(900.0 + 37.0 * f64::from(i), if i % 3 == 0 { "burst" } else { "dim" })).collect();
    small(name, &lamps, TERMS)
}

const NOTHING_PLANNED: &str = "study.no_planned_reason";

/// Appends a table to a study file.
fn append(path: &Path, table: &str) {
    let text = fs::read_to_string(path).unwrap();
    fs::write(path, format!("{text}\n{table}")).unwrap();
}

#[test]
fn a_question_that_the_study_file_answers_stays_in_the_ledger_and_warns_of_nothing() {
    let path = run_to_failure("doubts-answered");
    let asked = doubts(&path, NOTHING_PLANNED);
    assert_eq!(asked[0].outcome, Outcome::Used);
    append(&path, &format!("[[answer]]\nrule = \"{NOTHING_PLANNED}\"\nbecause = \"lamps burn until they fail\"\n"));
    let told = doubts(&path, NOTHING_PLANNED);
    assert_eq!((told.len(), told[0].outcome), (1, Outcome::Answered));
    assert!(told[0].sentence.starts_with(&asked[0].sentence), "{}", told[0].sentence);
    assert!(told[0].sentence.ends_with(": lamps burn until they fail"), "{}", told[0].sentence);
    assert_eq!(doubts(&path, "study.answer_unused"), []);
    let output = run(&path);
    assert!(output.evidence.ledger.findings.contains(&told[0]));
    relamp::base::sound::Checks::of("output", &output).unwrap();
    // An answer put in by hand, without its words.
    let mut changed = output.clone();
    changed.results.doubts[0].sentence.clone_from(&asked[0].sentence);
    assert!(relamp::base::sound::Checks::of("output", &changed).is_err());
}

#[test]
fn an_answer_about_one_log_leaves_the_others_asked() {
    // Programme hours that no lamp of this log reaches.
    let path = run_to_failure("doubts-answered-log");
    change(&path, "hours_per_week = 70.0", "hours_per_week = 7.0");
    let study = Study::open(&path).unwrap();
    let asked = study.read(&Run::new()).unwrap().warning();
    assert!(!asked.is_empty());
    let rule = study.read(&Run::new()).unwrap().ledger.findings.iter().find(|f| f.row == 0).unwrap().rule.clone();
    let answer = |file: &str| {
        format!("[[answer]]\nrule = \"{rule}\"\nfile = \"{file}\"\nbecause = \"a meter that runs fast\"\n")
    };
    append(&path, &answer("another.csv"));
    assert_eq!(Study::open(&path).unwrap().read(&Run::new()).unwrap().warning(), asked);
    assert_eq!(doubts(&path, "study.answer_unused").len(), 1);
    append(&path, &answer("log.csv"));
    let study = Study::open(&path).unwrap();
    let reading = study.read(&Run::new()).unwrap();
    assert_eq!(reading.warning(), "");
    assert_eq!(study.ledger(&reading).unwrap().warning(), "");
    let output = run(&path);
    assert_eq!(output.results.ledger.warning, "");
    relamp::base::sound::Checks::of("output", &output).unwrap();
}

#[test]
fn an_answer_to_what_no_finding_asks_is_refused_with_its_line() {
    let path = run_to_failure("doubts-answer-unknown");
    append(&path, "[[answer]]\nrule = \"records.hours_negative\"\nbecause = \"x\"\n");
    let why = Study::open(&path).unwrap_err().to_string();
    assert!(why.contains("study.answer_unknown") && why.contains("\"records.hours_negative\""), "{why}");
    append(&path, "[[answer]]\nrule = \"study.one_cause\"\n");
    let why = Study::open(&path).unwrap_err().to_string();
    assert!(why.contains("answer") && why.contains("because"), "{why}");
}

#[test]
fn a_reason_is_found_in_the_map_however_its_letters_were_typed() {
    let lamps = (0..40)
        .map(|i| lamp(900.0 + 37.0 * f64::from(i), if i % 3 == 0 { "Geha\u{308}use riss" } else { "Kurzschlu\u{df}" }));
    let path = small("doubts-letters", &lamps.collect::<Vec<_>>(), TERMS);
    let text = fs::read_to_string(&path).unwrap();
    let map = "[reasons]\n\"Geh\u{e4}use riss\" = \"burst\"\n\"KURZSCHLUSS\" = \"no_strike\"\n";
    fs::write(&path, text.replacen("[reasons]\n", map, 1)).unwrap();
    let study = Study::open(&path).unwrap();
    let reading = study.read(&Run::new()).unwrap();
    let of = |ending| reading.spells.iter().filter(|s| s.ending == ending).count();
    assert_eq!((of(relamp::records::Ending::Burst), of(relamp::records::Ending::NoStrike)), (14, 26));
}
