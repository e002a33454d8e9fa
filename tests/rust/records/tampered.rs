//! A saved reading that was changed by hand is refused by the field that no longer follows from the rest.

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

#[test]
fn what_does_not_follow_from_the_spells_and_the_ledger_is_refused() {
    let study = Study::open("data/demo/study.toml").unwrap();
    let reading = study.read(&Run::new()).unwrap();
    Checks::of("reading", &reading).unwrap();
    let good = serde_json::to_value(&reading).unwrap();
    assert_eq!(serde_json::from_value::<Reading>(good.clone()).unwrap(), reading);
    let refused = |what: &str, change: &dyn Fn(&mut Value), field: &str| {
        let mut changed = good.clone();
        change(&mut changed);
        assert_ne!(changed, good, "{what}");
        let error = Checks::of("reading", &serde_json::from_value::<Reading>(changed).unwrap());
        let error = error.err().unwrap_or_else(|| panic!("{what} was taken"));
        assert!(error.to_string().contains(&format!("column {field}")), "{what}: {error}");
    };
    let planned = first(&good, "/lives", |l| l["ending"] == "planned" && l["spells"].as_array().unwrap().len() == 1);
    let of = |name: &str| format!("lives[{planned}].{name}");
    let spell = good["lives"][planned]["spells"][0].as_u64().unwrap() as usize;
    refused("another ending", &|r| r["lives"][planned]["ending"] = json!("burst"), &of("ending"));
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
}
