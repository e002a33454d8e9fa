//! Warranty claims of a study: ranked, held to their deadline and to what was filed, and refused where they contradict.

use std::fs;
use std::path::PathBuf;

use relamp::Run;
use relamp::base::sound::Checks;
use relamp::records::{Ending, Outcome};
use relamp::study::{Study, StudyOutput, StudyResults, write};
use relamp::warranty::{NothingDue, Standing};
use serde_json::json;

use crate::study::scratch;
use crate::study_small::{TERMS, run, small, wearing};

/// Pro rata over 2,000 h on 780: what a lamp did not burn comes back.
const WARRANTY: &str = "[class.warranty]
form = \"pro_rata\"
hours = 2000.0
chance = 0.8
handling_cost = 60.0
days_to_file = 200
needed = [\"serial\", \"photo\"]
";

fn study(name: &str, more: &str) -> PathBuf {
    small(name, &wearing(), &format!("{TERMS}{WARRANTY}{more}"))
}

fn with_file(name: &str, rows: &str) -> PathBuf {
    let path = study(name, "[claims]\nfile = \"claims.csv\"\n");
    fs::write(path.with_file_name("claims.csv"), rows).unwrap();
    path
}

#[test]
fn claims_are_ranked_by_what_filing_brings_and_name_what_is_missing() {
    let output = run(&study("claims-ranked", ""));
    let claims = output.results.claims.as_ref().unwrap();
    // 10 of the 14 failures stand below 2,000 h; the others and the 16 planned changes bring nothing.
    let brings = |age: f64| 780.0 * (1.0 - age / 2000.0);
    let mut expected: Vec<(f64, f64)> =
        (0..14).map(|i| 1400.0 + 60.0 * f64::from(i)).filter(|a| *a < 2000.0).map(|a| (a, brings(a))).collect();
    assert_eq!(claims.list.claims.len(), expected.len());
    let nothing: Vec<_> = claims.nothing.iter().map(|n| (n.why, n.lamps_count)).collect();
    assert_eq!(nothing, [(NothingDue::Planned, 16), (NothingDue::Hours, 4)]);
    // Worth filing above 60 / 0.8 = 75: those above it first, by what they bring.
    expected.sort_by(|a, b| b.1.total_cmp(&a.1));
    for (claim, (age, due)) in claims.list.claims.iter().zip(&expected) {
        assert_eq!(claim.lamp.age_hours, Some(*age));
        assert!((claim.due.amount - due).abs() < 1e-9);
        assert!((claim.gain - (0.8 * due - 60.0)).abs() < 1e-9);
        assert_eq!(claim.standing, if *due > 75.0 { Standing::File } else { Standing::NotWorth });
        assert_eq!(claim.missing, ["photo"]);
        // Removed on 30 June 2025; 200 days on it is 16 January 2026, 19 days from the as-of date.
        assert_eq!((claim.deadline, claim.days_left), ("2026-01-16".parse().ok(), Some(19)));
    }
    let totals = &claims.by_class[0].totals;
    let all: f64 = expected.iter().map(|e| e.1).sum();
    assert!((totals.recoverable - all).abs() < 1e-9 && totals.recovered == 0.0);
    assert_eq!(totals, &claims.totals);
    let said = &claims.by_class[0].terms_sentence;
    assert!(said.contains("780 EUR back in the share of 2,000 h") && said.contains("within 200 days"), "{said}");
    // Endings that count as failures are covered unless the warranty names its own.
    assert!(claims.by_class[0].terms.cover.money().covers(Ending::Dim));
    let folder = scratch("claims-written");
    write(folder.join("out"), &output, &[], false).unwrap();
    let table = fs::read_to_string(folder.join("out/claims.csv")).unwrap();
    assert!(table.starts_with("standing,serial,") && table.lines().count() == 11, "{table}");
    let saved = fs::read_to_string(folder.join("out/results.json")).unwrap();
    assert_eq!(&StudyResults::from_json(&saved).unwrap(), &output.results);
}

#[test]
fn a_claim_past_its_deadline_stands_apart_and_one_of_unknown_strikes_is_to_be_found_out() {
    let late = run(&small(
        "claims-late",
        &wearing(),
        &format!("{TERMS}{}", WARRANTY.replace("days_to_file = 200", "days_to_file = 90")),
    ));
    let claims = late.results.claims.unwrap();
    let late: Vec<_> = claims.list.of(Standing::Late).collect();
    assert_eq!(late.len(), 7);
    assert!(late.iter().all(|c| c.days_left == Some(-91)));
    assert!(claims.list.of(Standing::File).next().is_none() && claims.totals.missed > 0.0);
    let strikes = run(&study("claims-strikes", "most_strikes = 900\n"));
    let claims = strikes.results.claims.unwrap();
    // The log tells no strikes.
    assert!(claims.list.of(Standing::FindOut).all(|c| c.missing.iter().any(|m| m == "strikes")));
    assert_eq!(claims.list.of(Standing::FindOut).count(), 7);
}

#[test]
fn a_file_of_claims_says_what_was_filed_and_what_came_back() {
    let rows = "serial,filed_on,paid,evidence\nA-0,2025-07-10,200,photo\nA-1,2025-07-10,0,\nA-2,2025-12-01,,photo; form\nZ-9,2019-01-01,55,\nA-3,2025-06-01,9,\nA-4,2026-01-01,,\nA-5,2025-08-01,-1,\nZ-8,,,photo\n";
    let output = run(&with_file("claims-filed", rows));
    let claims = output.results.claims.as_ref().unwrap();
    let standing = |serial: &str| {
        let claim = claims.list.claims.iter().find(|c| c.lamp.serial == serial).unwrap();
        (claim.standing, claim.missing.len())
    };
    assert_eq!(standing("A-0"), (Standing::Paid, 0));
    assert_eq!(standing("A-1"), (Standing::TurnedDown, 1));
    assert_eq!(standing("A-2"), (Standing::Open, 0));
    assert_eq!(standing("A-3"), (Standing::File, 1));
    // A-0 ended at 1,400 h: 234 due, 200 paid. A-1 at 1,460 h: 210.60, turned down. A-2 at 1,520 h: 187.20, open.
    let totals = &claims.totals;
    for (got, expected) in
        [(totals.recovered, 200.0), (totals.refused, 34.0 + 210.6), (totals.open, 187.2), (totals.filed, 631.8)]
    {
        assert!((got - expected).abs() < 1e-9, "{got} {expected}");
    }
    // What the logs do not bear out is listed apart with its line and counts nowhere.
    let strange: Vec<_> = claims.set_aside.iter().map(|c| (c.serial.as_str(), c.line, c.why.as_str())).collect();
    assert_eq!(
        strange,
        [
            ("Z-9", 5, "no lamp of this serial ended in these logs"),
            ("A-3", 6, "filed on 2025-06-01, before its lamp ended on 2025-06-30"),
            ("A-4", 7, "filed on 2026-01-01, after the as-of date, 2025-12-28"),
            ("A-5", 8, "the amount paid of -1 lies below 0"),
        ]
    );
    // What went in stands in the manifest.
    assert_eq!(output.evidence.inputs.last().unwrap().file, "claims.csv");
}

/// A claim paid above what the terms give is told and counted as it stands; an amount rounded up to a whole one is no doubt.
#[test]
fn a_claim_paid_above_what_is_due_is_a_finding_and_keeps_its_row() {
    // 234 due. A-1: 210.60 due. A-2: 187.20 due.
    let rows = "serial,filed_on,money,evidence\nA-0,2025-07-10,900,photo\nA-1,2025-07-10,211,photo\nA-2,2025-12-01,187.2,photo\n";
    let path = study("claims-above", "[claims]\nfile = \"claims.csv\"\n[claims.columns]\npaid = \"money\"\n");
    fs::write(path.with_file_name("claims.csv"), rows).unwrap();
    let output = run(&path);
    let told: Vec<_> = output.evidence.ledger.findings.iter().filter(|f| f.rule == "study.claim_above_due").collect();
    assert_eq!(told.len(), 1, "{told:?}");
    let f = told[0];
    assert_eq!((f.file.as_str(), f.line, f.column.as_str(), f.value.as_str()), ("claims.csv", 2, "money", "900"));
    assert_eq!((f.serial.as_str(), f.outcome), ("A-0", Outcome::Used));
    assert!(f.sentence.starts_with("more was paid than the 234 EUR that the terms"), "{}", f.sentence);
    let claims = output.results.claims.as_ref().unwrap();
    assert!((claims.totals.recovered - (900.0 + 211.0 + 187.2)).abs() < 1e-9 && claims.set_aside.is_empty());
    let counted = output.results.ledger.by_rule.iter().find(|r| r.rule == "study.claim_above_due");
    assert_eq!(counted.map(|r| r.findings_count), Some(1));
    // Results with it load again, and a check lists it as a run does.
    StudyResults::from_json(&output.results.to_json().unwrap()).unwrap();
    let study = Study::open(&path).unwrap();
    let ledger = study.ledger(&study.read(&Run::new()).unwrap()).unwrap();
    assert_eq!(ledger.findings.iter().filter(|g| *g == f).count(), 1);
}

#[test]
fn claims_expected_agree_with_the_model_that_the_results_print() {
    let output = run(&study("claims-ahead", ""));
    let class = &output.results.classes[0];
    let claims = &output.results.claims.as_ref().unwrap().by_class[0];
    let ahead = claims.ahead.as_ref().unwrap();
    // The two lamps that burn, 900 h and 1,700 h on 21 December, 70 h a week, a claim until 2,000 h or the planned age.
    let points = &class.model.as_ref().unwrap().points;
    let reliability = |age: f64| {
        let i = points.partition_point(|p| p.age_hours < age).max(1);
        let (a, b) = (&points[i - 1], &points[i]);
        let part = (age - a.age_hours) / (b.age_hours - a.age_hours);
        a.reliability_probability + part * (b.reliability_probability - a.reliability_probability)
    };
    let until = class.advised_age_hours.min(2000.0);
    let expected: f64 =
        [970.0, 1770.0].iter().filter(|a| **a < until).map(|a| 1.0 - reliability(until) / reliability(*a)).sum();
    assert!((ahead.claims_mean - expected).abs() < 0.15 * expected + 0.01, "{} {expected}", ahead.claims_mean);
    assert!(ahead.claims_low <= ahead.claims_high && ahead.found.lamps == 2);
    assert!((ahead.granted_money_mean - 0.8 * ahead.all_money_mean).abs() < 1e-12);
    // Without a model nothing is forecast, and the list is still made.
    let few = run(&small("claims-few", &wearing()[28..], &format!("{TERMS}{WARRANTY}")));
    let claims = few.results.claims.unwrap();
    assert!(claims.by_class[0].ahead.is_none() && !claims.by_class[0].ahead_not_known.is_empty());
}

fn mistakes(name: &str, more: &str) -> Vec<String> {
    let error = Study::open(small(name, &wearing(), &format!("{TERMS}{more}"))).unwrap_err();
    let told = |p: &relamp::Problem| {
        let place = &p.place;
        format!("{} {} {}", p.slug, place.line.unwrap_or(0), place.column.clone().unwrap_or_default())
    };
    error.problems().iter().map(told).collect()
}

#[test]
fn mistakes_in_terms_and_files_are_told_with_line_and_key() {
    let text = "[class.warranty]\nform = \"half\"\nchance = 1.5\nhandling_cost = -1.0\nmonths = 0\ndays_to_file = 9999\nword = 1\n";
    let told = mistakes("claims-mistakes", text);
    let slugs: Vec<&str> = told.iter().map(|t| t.split(' ').next().unwrap()).collect();
    assert_eq!(
        slugs,
        [
            "study.word_unknown",
            "study.number_out_of_range",
            "study.number_out_of_range",
            "study.not_a_whole_number",
            "study.not_a_whole_number",
            "study.key_unknown"
        ],
        "{told:?}"
    );
    let lines: Vec<u64> = told.iter().map(|t| t.split(' ').nth(1).unwrap().parse().unwrap()).collect();
    assert!(lines.windows(2).all(|w| w[1] == w[0] + 1), "{told:?}");
    let of = |more: &str| mistakes("claims-mistakes", more).join("; ");
    assert!(of("[class.warranty]\nform = \"full\"\n").contains("study.key_missing"));
    assert!(of("[class.warranty]\nform = \"stepped\"\n").contains("warranty.steps"));
    let rising = "[class.warranty]\nform = \"stepped\"\nsteps = [{ below_hours = 500.0, share = 0.5 }, { below_hours = 400.0, share = 1.0 }]\n";
    assert!(of(rising).starts_with("terms.warranty_steps"));
    assert!(
        of("[class.warranty]\nform = \"full\"\nhours = 900.0\nmonths_from = \"delivery\"\n")
            .contains("warranty.months")
    );
    assert!(
        of("[class.warranty]\nform = \"full\"\nhours = 900.0\nendings = [\"planned\"]\n")
            .contains("study.ending_unknown")
    );
    assert!(of("[claims]\nfile = \"claims.csv\"\n").contains("study.key_missing"));
    assert!(of(&format!("{WARRANTY}[claims]\nfile = \"../claims.csv\"\n")).contains("study.path_outside"));
    // One slip or one wrong limit is told once, not again by what stands below it.
    let slip = WARRANTY.replace("warranty]", "waranty]");
    let key = |told: &str| told.rsplit('.').next().unwrap_or_default().to_owned();
    let keys = |more: &str| -> Vec<String> {
        mistakes("claims-slip", more)
            .iter()
            .filter(|t| !t.starts_with("records.file_missing"))
            .map(|t| key(t))
            .collect()
    };
    assert_eq!(keys(&format!("{slip}[claims]\nfile = \"claims.csv\"\n")), ["waranty"]);
    assert_eq!(keys(&format!("{slip}chances = 0.5\n")), ["waranty", "chances"]);
    let bad = TERMS.replace("maximum_hours = ", "warranty_hours = -5.0\nmaximum_hours = ");
    let own = WARRANTY.replace("hours = 2000.0\n", "");
    let error = Study::open(small("claims-hours", &wearing(), &format!("{bad}{own}"))).unwrap_err();
    let keys: Vec<_> = error.problems().iter().filter_map(|p| p.place.column.as_deref()).collect();
    assert!(keys.len() == 1 && keys[0].ends_with("warranty_hours"), "{error}");
    // A row that cannot be read names its line; a file that is not there is told before anything is written.
    let bad = with_file("claims-bad", "serial,filed_on,paid\nA-0,soon,2x\n");
    let error = Study::open(&bad).unwrap().run(&Run::new()).unwrap_err();
    let slugs: Vec<&str> = error.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["warranty.day_unreadable", "warranty.number_unreadable"]);
    assert!(error.to_string().contains("line 2"), "{error}");
    let twice = with_file("claims-twice", "serial,paid\nZ-1,1\nZ-1,2\n");
    assert_eq!(Study::open(&twice).unwrap().run(&Run::new()).unwrap_err().slug(), "warranty.papers_twice");
    fs::remove_file(bad.with_file_name("claims.csv")).unwrap();
    assert_eq!(Study::open(&bad).unwrap().run(&Run::new()).unwrap_err().slug(), "study.unreadable");
}

#[test]
fn a_study_without_terms_has_no_word_of_claims() {
    let output = run(&small("claims-none", &wearing(), TERMS));
    assert!(output.results.claims.is_none());
    assert!(!output.results.to_json().unwrap().contains("\"claims\""));
    let folder = scratch("claims-none-written");
    write(folder.join("out"), &output, &[], false).unwrap();
    assert!(!folder.join("out/claims.csv").exists());
}

fn refused(output: &serde_json::Value) -> Vec<String> {
    let output: StudyOutput = serde_json::from_value(output.clone()).unwrap();
    let Err(error) = Checks::of("output", &output) else { return Vec::new() };
    error.problems().iter().map(|p| p.place.column.clone().unwrap_or_default()).collect()
}

#[test]
fn claims_changed_by_hand_are_refused_by_field() {
    let output = run(&with_file("claims-changed", "serial,filed_on,paid\nA-0,2025-07-10,200\n"));
    let sound = serde_json::to_value(&output).unwrap();
    assert_eq!(refused(&sound), Vec::<String>::new());
    for (pointer, value) in [
        ("sentence", json!("none")),
        ("list/as_of", json!("2025-12-27")),
        ("list/claims/0/gain", json!(1.0)),
        ("list/claims/0/due/amount", json!(700.0)),
        ("totals/recovered", json!(1.0)),
        ("nothing/0/lamps_count", json!(15)),
        ("by_class/0/lamp_class", json!("9 kW")),
        ("by_class/0/terms_sentence", json!("")),
        ("by_class/0/totals/missed", json!(9.0)),
        ("by_class/0/ahead_not_known", json!("why")),
        ("by_class/0/ahead/claims_mean", json!(9.0)),
        ("by_class/0/ahead/claims_high", json!(9)),
        ("by_class/0/ahead/granted_money_mean", json!(1e9)),
    ] {
        let mut changed = sound.clone();
        *changed.pointer_mut(&format!("/results/claims/{pointer}")).unwrap() = value;
        let field = pointer.replace('/', ".");
        // A count or an amount that is part of another is told by what it is part of.
        let last = match field.rsplit('.').next().unwrap() {
            "amount" => "due",
            "lamps_count" => "nothing",
            "ahead_not_known" => "ahead",
            last => last,
        };
        let fields = refused(&changed);
        assert!(fields.iter().any(|f| f.starts_with("results.claims") && f.contains(last)), "{pointer}: {fields:?}");
    }
}
