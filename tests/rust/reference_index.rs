//! Nothing is left out: every published model, printed figure and hard case has its test, or a reason why not.

use std::collections::BTreeSet;
use std::fs;

use serde_json::Value;

fn read(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn words(v: &Value) -> Vec<&str> {
    v.as_array().unwrap().iter().map(|w| w.as_str().unwrap()).collect()
}

/// The source of every test file of this folder.
fn sources() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/rust");
    let files = fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()).filter(|p| p.extension().is_some());
    files
        .map(|p| (p.file_name().unwrap().to_str().unwrap().to_owned(), fs::read_to_string(&p).unwrap()))
        .filter(|(name, _)| name != "reference_index.rs")
        .collect()
}

/// Reasons that stand in place of a test.
const NOT_COMPARED: [&str; 1] = ["a weighted line through three medians, no likelihood"];

/// Whether the words name a test that is there, or one of the reasons.
fn answered(place: &str, sources: &[(String, String)]) -> bool {
    let Some((file, test)) = place.split_once("::") else { return NOT_COMPARED.contains(&place) };
    let heading = format!("#[test]\nfn {test}() {{");
    sources.iter().any(|(name, text)| name == file && text.contains(&heading))
}

#[test]
fn every_published_model_is_compared_or_says_why_not() {
    let (index, sources) = (read(include_str!("../data/reference_index.json")), sources());
    let references = read(include_str!("../data/fit_references.json"));
    let case = |name: &str| references["cases"].as_array().unwrap().iter().find(|c| c["name"] == name);
    let (mut compared, mut left, mut used) = (0, BTreeSet::new(), BTreeSet::new());
    for model in index["models"].as_array().unwrap() {
        match words(model)[..] {
            // `published_data_give_the_recomputed_maxima` and its like walk over all of these.
            [path, name, family] => {
                let found = case(name).unwrap_or_else(|| panic!("{path}: no case {name}"));
                assert!(found["fits"][family]["loglik"].is_f64(), "{path}: {name} has no {family}");
                assert!(used.insert((name, family)), "{path}: {name} {family} stands for two");
                compared += 1;
            }
            [path, place] => {
                assert!(answered(place, &sources), "{path}: {place}");
                left.insert((path, place));
            }
            _ => panic!("{model}"),
        }
    }
    let fits: usize =
        references["cases"].as_array().unwrap().iter().map(|c| c["fits"].as_object().unwrap().len()).sum();
    assert_eq!((compared, fits), (130, 130));
    // The short list: two have tests of their own, the others change with temperature, voltage, stress or arm.
    assert_eq!(left.iter().filter(|l| l.1.contains("::")).count(), 13, "{left:?}");
    assert_eq!(left.iter().filter(|l| l.1 == "covariates.rs::published_regressions_are_met").count(), 11, "{left:?}");
}

#[test]
fn every_printed_figure_is_compared_or_says_why_not() {
    let (index, sources) = (read(include_str!("../data/reference_index.json")), sources());
    let references = read(include_str!("../data/fit_references.json"));
    let mut seen = [0; 3];
    for path in words(&index["printed"]) {
        let model = index["models"].as_array().unwrap().iter().map(words).find(|m| {
            path.strip_prefix("datasets/")
                .is_some_and(|p| p.replace("/models/", "/").starts_with(&format!("{}/", m[0])))
        });
        let place = index["elsewhere"].as_array().unwrap().iter().map(words).find(|e| path.starts_with(e[0]));
        match (model.as_deref(), place.as_deref()) {
            (Some([inside, name, family]), None) => {
                let what = path.replace("/models/", "/");
                let what = &what["datasets/".len() + inside.len() + 1..];
                let cases = references["cases"].as_array().unwrap();
                let fit = &cases.iter().find(|c| c["name"] == *name).unwrap()["fits"][*family];
                let printed = fit["published"].as_array().unwrap_or_else(|| panic!("{path}"));
                assert!(printed.iter().any(|p| p["what"] == what), "{path}: {what}");
                seen[0] += 1;
            }
            (Some([_, place]), None) | (None, Some([_, place])) => {
                assert!(answered(place, &sources), "{path}: {place}");
                seen[usize::from(!place.contains("::")) + 1] += 1;
            }
            _ => panic!("{path}: {model:?} {place:?}"),
        }
    }
    assert_eq!(seen.iter().sum::<usize>(), 222);
    assert!(seen[0] >= 69 && seen[1] >= 30, "{seen:?}");
}

#[test]
fn every_hard_case_of_fits_likelihoods_and_lives_has_its_test() {
    let cases = read(include_str!("../data/hard_lives.json"));
    let ids: BTreeSet<&str> = cases["cases"].as_array().unwrap().iter().map(|c| c["id"].as_str().unwrap()).collect();
    let sources = sources();
    // The whole list, so that a case that drops out of the data is missed too.
    let wanted = [3, 5, 10, 11, 13, 17, 21, 25, 28, 31].map(|n| format!("hc-fit-{n:03}"));
    let wanted = wanted.into_iter().chain(["hc-ll-001", "hc-dist-001", "hc-dist-007"].map(str::to_owned));
    for id in wanted {
        assert!(ids.contains(id.as_str()), "{id} is not in hard_lives.json");
        let named = format!("\"{id}\"");
        assert!(sources.iter().any(|(_, text)| text.contains(&named)), "{id} has no test");
    }
    for id in ids {
        assert!(sources.iter().any(|(_, text)| text.contains(id)), "{id} has no test");
    }
}
