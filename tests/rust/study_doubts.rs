//! What must not pass in silence: programme hours that no lamp has, and readings too old to say anything of today.

use std::fs;
use std::path::Path;

use relamp::study::{StudyResults, write};

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
