//! The whole way from a study file to answers in a folder.

use relamp::study::StudyResults;

/// A stored sample of format version 1; the numbers are invented.
const SAMPLE_V1: &str = include_str!("../data/study_results_v1.json");

#[test]
fn the_stored_sample_of_version_1_loads_and_saves_to_equal_bits() {
    let first = StudyResults::from_json(SAMPLE_V1).unwrap();
    assert_eq!(first.classes.len(), 2);
    let text = first.to_json().unwrap();
    let second = StudyResults::from_json(&text).unwrap();
    assert_eq!(first, second);
    assert_eq!(text, second.to_json().unwrap());
}

#[test]
fn saved_results_refuse_an_unknown_field_and_a_newer_version() {
    let newer = SAMPLE_V1.replacen("\"version\": 1", "\"version\": 2", 1);
    assert_eq!(StudyResults::from_json(&newer).unwrap_err().slug(), "study.results_version");
    let unknown = SAMPLE_V1.replacen("\"ledger\": {", "\"ledgre\": 1, \"ledger\": {", 1);
    assert_eq!(StudyResults::from_json(&unknown).unwrap_err().slug(), "study.results_format");
    let other = SAMPLE_V1.replacen("relamp.study_results", "relamp.tally", 1);
    assert_eq!(StudyResults::from_json(&other).unwrap_err().slug(), "study.results_format");
}
