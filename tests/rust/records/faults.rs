//! Planted faults on twenty seeds: recall, precision, and what never happens.

use std::collections::{BTreeMap, BTreeSet};

use super::chain::read;
use relamp::records::{Options, Outcome, Reading};
use relamp_demo::{Chain, generate};

const SEEDS: u64 = 20;

/// Faults that the rows decide: every one must be found.
const DECIDABLE: [&str; 17] = [
    "meter_restarted",
    "hours_negative",
    "hours_impossible",
    "two_screens_at_once",
    "removed_before_fitted",
    "removal_missing",
    "duplicate",
    "absent_from_newest",
    "strikes_in_hours",
    "repeated_header",
    "total_row",
    "reason_blank",
    "reason_unmapped",
    "class_unknown",
    "date_unreadable",
    "hours_unreadable",
    "serial_blank",
];

/// Faults that only likelihood tells.
const LIKELY: [&str; 3] = ["serial_mistyped", "minutes_for_hours", "restart_forgotten"];

/// Kinds that concern two rows: either may carry the finding, so they are matched by serial.
const BY_SERIAL: [&str; 3] = ["two_screens_at_once", "removal_missing", "duplicate"];

fn chains() -> Vec<(Chain, Reading)> {
    let options = relamp_demo::Options::full();
    let run = relamp::Run::new();
    let made = run.map(SEEDS as usize, |seed| {
        let chain = generate(seed as u64 + 1, &options);
        let reading = read(&chain, Options::default())?;
        Ok((chain, reading))
    });
    made.unwrap().into_iter().map(Result::unwrap).collect()
}

#[derive(Default)]
struct Score {
    planted: usize,
    found: usize,
    findings: usize,
    right: usize,
}

fn score(chains: &[(Chain, Reading)]) -> BTreeMap<String, Score> {
    let mut scores: BTreeMap<String, Score> = BTreeMap::new();
    for (chain, reading) in chains {
        type Key = (String, String, u64, String);
        let key = |kind: &str, file: &str, line: u64, serial: &str| -> Key {
            if BY_SERIAL.contains(&kind) {
                (kind.into(), String::new(), 0, serial.into())
            } else {
                (kind.into(), file.into(), line, String::new())
            }
        };
        let planted: BTreeSet<Key> =
            chain.key.entries.iter().map(|e| key(e.kind, &e.file, e.line as u64, &e.serial)).collect();
        let findings = reading
            .ledger
            .findings
            .iter()
            .map(|f| key(f.rule.strip_prefix("records.").unwrap(), &f.file, f.line, &f.serial));
        let findings: BTreeSet<Key> = findings.collect();
        for k in &planted {
            let s = scores.entry(k.0.clone()).or_default();
            s.planted += 1;
            s.found += usize::from(findings.contains(k));
        }
        for k in &findings {
            let s = scores.entry(k.0.clone()).or_default();
            s.findings += 1;
            s.right += usize::from(planted.contains(k));
        }
    }
    scores
}

#[test]
fn planted_faults_are_found_and_nothing_else() {
    let chains = chains();
    let scores = score(&chains);
    for (kind, s) in &scores {
        println!("{kind}: {}/{} found, {}/{} right", s.found, s.planted, s.right, s.findings);
    }
    for kind in DECIDABLE {
        let s = &scores[kind];
        assert!(s.planted >= SEEDS as usize, "{kind} planted {} times", s.planted);
        assert_eq!(s.found, s.planted, "recall of {kind}");
    }
    for kind in LIKELY {
        let s = &scores[kind];
        assert!(s.planted >= 2 * SEEDS as usize, "{kind} planted {} times", s.planted);
        assert!(s.found as f64 >= 0.80 * s.planted as f64, "recall of {kind}: {}/{}", s.found, s.planted);
    }
    for (kind, s) in &scores {
        assert!(s.right as f64 >= 0.95 * s.findings as f64, "precision of {kind}: {}/{}", s.right, s.findings);
    }

    for (chain, reading) in &chains {
        nothing_is_lost(reading);
        no_fault_becomes_a_failure(chain, reading);
    }
}

fn nothing_is_lost(reading: &Reading) {
    let ledger = &reading.ledger;
    assert!(ledger.counts.reconcile());
    assert!(ledger.by_file.iter().all(|f| f.1.reconcile() && f.1.rows > 0));
    assert_eq!(ledger.counts.used, reading.spells.len() as u64);
    // Every row not used stands in the ledger.
    let listed = |outcome| {
        let rows: BTreeSet<_> =
            ledger.findings.iter().filter(|f| f.outcome == outcome).map(|f| (&f.file, f.row)).collect();
        rows.len() as u64
    };
    assert_eq!(listed(Outcome::SetAside), ledger.counts.set_aside);
    assert_eq!(listed(Outcome::Merged), ledger.counts.merged);
    // Every spell belongs to one life.
    let mut spells: Vec<usize> = reading.lives.iter().flat_map(|l| l.spells).copied().collect();
    spells.sort_unstable();
    assert_eq!(spells, (0..reading.spells.len()).collect::<Vec<_>>());
}

/// A life that ends in a failure must be a lamp that did fail, at that age and of that cause.
fn no_fault_becomes_a_failure(chain: &Chain, reading: &Reading) {
    let truth: BTreeMap<&str, _> = chain.lamps.iter().map(|l| (l.serial.as_str(), l)).collect();
    let mut failures = 0;
    for life in reading.lives.iter().filter(|l| l.ending.is_failure()) {
        failures += 1;
        let lamp = truth.get(&**life.serial).unwrap_or_else(|| panic!("{} is no lamp of the chain", life.serial));
        assert_eq!(lamp.ending().as_str(), life.ending.as_str(), "{}", life.serial);
        let end = lamp.spells.last().unwrap().end as f64 / 10.0;
        assert!(
            (life.end_hours - end).abs() < 1e-9 || life.end_hours == life.low_hours + 1.0,
            "{life:?} ends at {end}"
        );
    }
    assert!(failures > 100, "only {failures} failures seen");
}
