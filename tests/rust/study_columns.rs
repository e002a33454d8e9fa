//! Wrong column maps in a study: refused or warned of before any figure, with the file and the entry of the map.

use std::fs;
use std::path::{Path, PathBuf};

use relamp::Run;
use relamp::base::sound::Checks;
use relamp::records::Finding;
use relamp::study::{LedgerSummary, Study, write};
use relamp_demo::{Options, folder, generate};

use crate::study::scratch;
use crate::study_small::{TERMS, run, small, wearing};

const AGAINST: &str = "records.hours_against_programme";
const ELSEWHERE: &str = "records.site_elsewhere";

/// The demo chain with its study file changed in the section of one log.
fn demo(name: &str, log: &str, changes: &[(&str, &str)]) -> PathBuf {
    let place = scratch(name);
    fs::create_dir_all(place.join("logs")).unwrap();
    for file in fs::read_dir("data/demo/logs").unwrap() {
        let file = file.unwrap();
        fs::copy(file.path(), place.join("logs").join(file.file_name())).unwrap();
    }
    let text = fs::read_to_string("data/demo/study.toml").unwrap();
    let (before, section) = text.split_at(text.find(&format!("file = \"{log}\"")).unwrap());
    let (section, after) = section.split_at(section.find("\n\n").unwrap());
    let mut section = section.to_owned();
    for (from, to) in changes {
        assert!(section.contains(from), "{from}");
        section = section.replacen(from, to, 1);
    }
    let path = place.join("study.toml");
    fs::write(&path, format!("{before}{section}{after}")).unwrap();
    path
}

fn against_programme(path: &Path) -> Vec<Finding> {
    let reading = Study::open(path).unwrap().read(&Run::new()).unwrap();
    let told = reading.ledger.findings.iter().filter(|f| f.rule == AGAINST).cloned().collect::<Vec<_>>();
    assert_eq!(reading.warning().is_empty(), told.is_empty(), "{}", reading.warning());
    told
}

#[test]
fn an_exchange_is_refused_before_any_figure_with_the_file_and_the_entries() {
    let changes =
        [("hours = \"Stunden\"", "hours = \"Zuendungen\""), ("strikes = \"Zuendungen\"", "strikes = \"Stunden\"")];
    let path = demo("columns-exchanged", "logs/north.csv", &changes);
    let study = Study::open(&path).unwrap();
    let errors = [study.read(&Run::new()).unwrap_err(), study.run(&Run::new()).unwrap_err()];
    for error in errors {
        assert_eq!(
            (error.slug(), error.problems()[0].place.input.as_str()),
            ("records.hours_and_strikes", "logs/north.csv")
        );
        let text = error.to_string();
        assert!(text.contains("hours = \"Zuendungen\"") && text.contains("strikes = \"Stunden\""), "{text}");
    }
}

#[test]
fn strikes_as_hours_are_told_by_the_programme_where_no_strikes_are_mapped() {
    let changes = [("hours = \"Std. Ausbau\"", "hours = \"Zündungen\""), ("strikes = \"Zündungen\"\n", "")];
    let path = demo("columns-strikes", "logs/east.csv", &changes);
    let told = against_programme(&path);
    assert_eq!(told.len(), 1, "{told:?}");
    let f = &told[0];
    assert_eq!((f.file.as_str(), f.row, f.line, f.column.as_str()), ("logs/east.csv", 0, 0, "Zündungen"));
    assert!(f.sentence.starts_with("hours = \"Zündungen\" of the column map gives a median of 3."), "{}", f.sentence);
    assert_eq!(against_programme(Path::new("data/demo/study.toml")), []);
}

#[test]
fn declared_sites_in_another_column_are_told_with_both_entries() {
    let logs = fs::read_dir("data/demo/logs").unwrap().count();
    let study: toml::Table = fs::read_to_string("data/demo/study.toml").unwrap().parse().unwrap();
    let mut seen = 0;
    for log in study["log"].as_array().unwrap() {
        let (file, columns) = (log["file"].as_str().unwrap(), &log["columns"]);
        let site = columns["site"].as_str().unwrap();
        for other in ["screen", "supplier", "batch"] {
            let Some(column) = columns.get(other).and_then(|c| c.as_str()) else { continue };
            let changes = [
                (format!("\nsite = \"{site}\""), format!("\nsite = \"{column}\"")),
                (format!("\n{other} = \"{column}\""), format!("\n{other} = \"{site}\"")),
            ];
            let changes: Vec<(&str, &str)> = changes.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
            let path = demo(&format!("columns-site-{other}"), file, &changes);
            let reading = Study::open(&path).unwrap().read(&Run::new()).unwrap();
            let told: Vec<&Finding> = reading.ledger.findings.iter().filter(|f| f.rule == ELSEWHERE).collect();
            assert_eq!(told.iter().map(|f| f.file.as_str()).collect::<Vec<_>>(), [file], "{other}");
            for entry in [format!("site = \"{column}\""), format!("{other} = \"{site}\"")] {
                assert!(told[0].sentence.contains(&entry), "{}", told[0].sentence);
            }
            assert!(reading.warning().contains(&told[0].sentence));
            seen += 1;
        }
    }
    assert_eq!(seen, 3 * logs);
}

#[test]
fn no_generated_chain_burns_against_its_programme() {
    for seed in 1..=20 {
        let clean = Options::clean_causes().with_size(10, 60, 5);
        for (i, options) in [Options::full().with_size(10, 60, 5), clean, Options::second()].iter().enumerate() {
            let place = scratch(&format!("columns-{seed}-{i}"));
            folder::write(&generate(seed, options), &place).unwrap();
            assert_eq!(against_programme(&place.join("study.toml")), [], "seed {seed}");
            fs::remove_dir_all(place).unwrap();
        }
    }
}

#[test]
fn hours_against_the_programme_stand_on_top_of_the_results_and_in_the_ledger() {
    let path = small("columns-warned", &wearing(), TERMS);
    assert_eq!(run(&path).results.ledger.warning, "");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace("hours_per_week = 70.0", "hours_per_week = 20.0")).unwrap();
    let output = run(&path);
    Checks::of("output", &output).unwrap();
    let ledger = &output.results.ledger;
    assert!(
        ledger.warning.starts_with("log.csv: hours = \"hours\" of the column map gives a median of 11."),
        "{}",
        ledger.warning
    );
    assert!(ledger.warning.contains("the programme hours declared are 2.857"), "{}", ledger.warning);
    assert_eq!(ledger.by_rule.iter().map(|r| (r.rule.as_str(), r.findings_count)).collect::<Vec<_>>(), [(AGAINST, 1)]);
    let target = path.with_file_name("out");
    write(&target, &output, &[], false).unwrap();
    let table = fs::read_to_string(target.join("ledger.csv")).unwrap();
    assert!(table.contains(&format!("log.csv,0,0,hours,11.11 h a day,{AGAINST},used,,")), "{table}");
    // The warning cannot be taken out of saved results.
    let silent = LedgerSummary { warning: String::new(), ..ledger.clone() };
    assert!(Checks::of("ledger", &silent).unwrap_err().to_string().contains("column map"));
}

#[test]
fn one_log_that_loses_most_of_its_rows_is_told_though_all_logs_together_lose_few() {
    let path = demo("columns-dates", "logs/north.csv", &[("dates = \"day-first\"", "dates = \"month-first\"")]);
    let reading = Study::open(&path).unwrap().read(&Run::new()).unwrap();
    assert_eq!(reading.ledger.counts.warning(), "");
    let warning = reading.warning();
    assert!(warning.starts_with("logs/north.csv: 1,") && warning.contains("rows were set aside"), "{warning}");
    assert!(!warning.contains("south.csv"), "{warning}");
    let untouched = Study::open("data/demo/study.toml").unwrap().read(&Run::new()).unwrap();
    assert_eq!(untouched.warning(), "");
}
