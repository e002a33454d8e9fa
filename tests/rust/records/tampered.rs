//! A saved reading that was changed by hand is refused by the field that no longer follows from the rest.

use std::cell::RefCell;
use std::collections::BTreeSet;

use relamp::Run;
use relamp::base::sound::Checks;
use relamp::records::Reading;
use relamp::study::Study;
use serde_json::{Value, json};

fn list<'v>(reading: &'v mut Value, path: &str) -> &'v mut Vec<Value> {
    reading.pointer_mut(path).unwrap().as_array_mut().unwrap()
}

/// The place of the first entry of a list that a rule holds of.
fn first(reading: &Value, path: &str, holds: impl Fn(&Value) -> bool) -> usize {
    reading.pointer(path).unwrap().as_array().unwrap().iter().position(holds).unwrap()
}

fn rule(finding: &Value) -> &str {
    finding["rule"].as_str().unwrap()
}

#[test]
fn what_does_not_follow_from_the_spells_and_the_ledger_is_refused() {
    let study = Study::open("data/demo/study.toml").unwrap();
    let reading = study.read(&Run::new()).unwrap();
    Checks::of("reading", &reading).unwrap();
    let good = serde_json::to_value(&reading).unwrap();
    assert_eq!(serde_json::from_value::<Reading>(good.clone()).unwrap(), reading);
    let passed = RefCell::new(Vec::new());
    let refused = |what: &str, change: &dyn Fn(&mut Value), field: &str| {
        let mut changed = good.clone();
        change(&mut changed);
        assert_ne!(changed, good, "{what}");
        let told = Checks::of("reading", &serde_json::from_value::<Reading>(changed).unwrap());
        let told = told.err().map_or_else(String::new, |error| error.to_string());
        if !told.contains(&format!("column {field}")) {
            passed.borrow_mut().push(format!("{what}, {field}: {told}"));
        }
    };
    let planned = first(&good, "/lives", |l| l["ending"] == "planned" && l["spells"].as_array().unwrap().len() == 1);
    let of = |name: &str| format!("lives[{planned}].{name}");
    let spell = good["lives"][planned]["spells"][0].as_u64().unwrap() as usize;
    refused("another ending", &|r| r["lives"][planned]["ending"] = json!("burst"), &of("ending"));
    // In the words of the file.
    let mut changed = good.clone();
    changed["lives"][planned]["ending"] = json!("no_strike");
    let error = Checks::of("reading", &serde_json::from_value::<Reading>(changed).unwrap()).unwrap_err();
    assert!(error.to_string().contains("got no_strike, expected planned, which follows"), "{error}");
    refused("another age", &|r| r["lives"][planned]["end_hours"] = json!(9999.0), &of("end_hours"));
    refused("another entry", &|r| r["lives"][planned]["at_risk"][0][0] = json!(1.5), &of("at_risk"));
    refused("another class", &|r| r["lives"][planned]["lamp_class"] = json!("9 kW"), &of("lamp_class"));
    refused("a life dropped", &|r| drop(list(r, "/lives").remove(planned)), "lives");
    let two = |r: &mut Value| {
        let spells = r["lives"][planned]["spells"].clone();
        r["lives"][planned + 1]["spells"] = spells;
    };
    refused("two lives on one spell", &two, &format!("lives[{}].spells", planned + 1));
    let both = |r: &mut Value| {
        r["spells"][spell]["ending"] = json!("burst");
        r["lives"][planned]["ending"] = json!("burst");
        r["lives"][planned]["low_hours"] = r["spells"][spell]["low_hours"].clone();
    };
    refused("an ending and its spell's", &both, "spells[");
    let running = first(&good, "/spells", |s| s["ending"] == "running");
    let ended = |r: &mut Value| r["spells"][running]["removed_on"] = r["spells"][running]["read_on"].clone();
    refused("a day of removal", &ended, &format!("spells[{running}].ending"));
    refused("a spell dropped", &|r| drop(list(r, "/spells").pop()), "ledger.by_file[");

    refused("another rule", &|r| r["ledger"]["findings"][0]["rule"] = json!("zzz"), "ledger.findings[0].rule");
    let fit = |r: &mut Value| r["ledger"]["findings"][0]["rule"] = json!("fit.one_failure_oldest");
    refused("a rule of another room", &fit, "ledger.findings[0].rule");
    for outcome in ["set_aside", "merged"] {
        let at = first(&good, "/ledger/findings", |f| f["outcome"] == outcome);
        let row = good["ledger"]["findings"][at]["row"].clone();
        let all_of_row = |r: &mut Value| list(r, "/ledger/findings").retain(|f| f["row"] != row);
        refused("the findings of a row dropped", &all_of_row, "ledger.by_file[");
    }

    // Every rule of the demo chain in the place of every other.
    let rules: BTreeSet<&str> = good["ledger"]["findings"].as_array().unwrap().iter().map(rule).collect();
    assert!(rules.len() > 15, "{rules:?}");
    for (name, other) in rules.iter().zip(rules.iter().cycle().skip(1)) {
        let at = first(&good, "/ledger/findings", |f| rule(f) == *name);
        let exchanged = |r: &mut Value| r["ledger"]["findings"][at]["rule"] = json!(other);
        refused(&format!("{name} as {other}"), &exchanged, &format!("ledger.findings[{at}].rule"));
    }
    // The sentence of one begins as that of the other.
    let at = first(&good, "/ledger/findings", |f| rule(f) == "records.minutes_for_hours");
    let plain = |r: &mut Value| r["ledger"]["findings"][at]["rule"] = json!("records.hours_impossible");
    refused("minutes as hours", &plain, &format!("ledger.findings[{at}].rule"));
    let finding = |outcome: &str| {
        first(&good, "/ledger/findings", |f| f["outcome"] == outcome && f["line"].as_u64().unwrap() > 2)
    };
    for outcome in ["set_aside", "merged", "used"] {
        let at = finding(outcome);
        let line = good["ledger"]["findings"][at]["line"].as_u64().unwrap();
        for other in [1, line - 1, line + 1, 1_000_000] {
            let moved = |r: &mut Value| r["ledger"]["findings"][at]["line"] = json!(other);
            refused(&format!("{outcome}, line {line} as {other}"), &moved, &format!("ledger.findings[{at}]."));
        }
        let row = |r: &mut Value| r["ledger"]["findings"][at]["row"] = json!(1_000_000);
        refused("another row", &row, &format!("ledger.findings[{at}].row"));
    }
    let used = finding("used");
    let serial = |r: &mut Value| r["ledger"]["findings"][used]["serial"] = json!("x");
    refused("another serial", &serial, &format!("ledger.findings[{used}].serial"));
    let with_value = [
        "records.absent_from_newest",
        "records.duplicate",
        "records.reading_undated",
        "records.reason_blank",
        "records.reason_unmapped",
        "records.removal_missing",
        "records.serial_mistyped",
    ];
    let with_value: Vec<&str> = with_value.into_iter().filter(|name| rules.contains(name)).collect();
    assert!(with_value.len() > 3, "{with_value:?} of {rules:?}");
    for name in with_value {
        // Nothing else tells the reason of a row that is not used.
        let telling = |f: &Value| name != "records.reason_unmapped" || f["outcome"] == "used";
        let at = first(&good, "/ledger/findings", |f| rule(f) == name && telling(f));
        let value = |r: &mut Value| r["ledger"]["findings"][at]["value"] = json!("x");
        refused(&format!("another value, {name}"), &value, &format!("ledger.findings[{at}].value"));
    }
    let ended = first(&good, "/spells", |s| s["ending"] == "planned");
    let early = |r: &mut Value| r["spells"][ended]["removed_on"] = json!("1999-01-01");
    refused("a removal before fitting", &early, &format!("spells[{ended}].removed_on"));
    let day = |r: &mut Value| r["spells"][ended]["fitted_on"] = r["spells"][ended]["removed_on"].clone();
    refused("2,000 h in a day", &day, &format!("spells[{ended}].end_hours"));

    assert!(reading.disputed.len() > 3);
    refused("no lamp in dispute", &|r| list(r, "/disputed").clear(), "disputed_count");
    refused("another count of them", &|r| r["disputed_count"] = json!(1), "disputed_count");
    let emptied = |r: &mut Value| {
        list(r, "/disputed").clear();
        r["disputed_count"] = json!(0);
    };
    refused("no lamp in dispute, and no count of them", &emptied, "disputed");
    let due = first(&good, "/disputed", |d| d["rule"] == "records.absent_from_newest");
    refused("another age", &|r| r["disputed"][due]["hours"] = json!(1.0), &format!("disputed[{due}].hours"));
    refused("another place", &|r| r["disputed"][due]["site"] = json!("x"), &format!("disputed[{due}].site"));
    let other = |r: &mut Value| r["disputed"][due]["rule"] = json!("records.serial_blank");
    refused("another rule", &other, &format!("disputed[{due}].rule"));
    assert!(passed.borrow().is_empty(), "{}", passed.borrow().join("\n"));
}
