//! The whole way from a study file to answers in a folder.

use relamp::study::StudyResults;

/// A stored sample of format version 1, from a run on invented lamps.
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
    assert_eq!(StudyResults::from_json(&newer).unwrap_err().slug(), "saved.newer_version");
    let unknown = SAMPLE_V1.replacen("\"ledger\": {", "\"ledgre\": 1, \"ledger\": {", 1);
    assert_eq!(StudyResults::from_json(&unknown).unwrap_err().slug(), "saved.unreadable");
    let other = SAMPLE_V1.replacen("relamp.study_results", "relamp.tally", 1);
    assert_eq!(StudyResults::from_json(&other).unwrap_err().slug(), "saved.other_format");
}

#[test]
fn saved_bounds_and_totals_that_contradict_themselves_are_refused() {
    let told = "lower bound: planned changes only, not supported by these records";
    let cases = [
        (told, "forecast"),
        ("\"order_least_lamps\": 2", "\"order_least_lamps\": 1"),
        ("\"least_by_end_lamps\": 4", "\"least_by_end_lamps\": 9"),
        ("\"order_lamps\": 3", "\"order_lamps\": 4"),
        ("\"saving_settled\": false", "\"saving_settled\": true"),
    ];
    for (from, to) in cases {
        assert!(SAMPLE_V1.contains(from), "{from}");
        let error = StudyResults::from_json(&SAMPLE_V1.replacen(from, to, 1)).unwrap_err();
        assert_eq!(error.slug(), "saved.out_of_range", "{from}");
    }
}

pub(crate) mod declaring {
    use relamp::study::Declaration;
    use relamp::{Error, Kind};

    /// A small study that passes; every case below spoils one thing in it.
    pub(crate) const GOOD: &str = r#"format = 1

[study]
name = "Small (invented)"
as_of = 2025-12-28
currency = "EUR"
seed = 7

[chain]
show_minutes = 130
visit_interval_days = 28
forecast_months = 6
service_target = 0.95
hours_per_week = 72.0

[[programme]]
site = "Site 07"
hours_per_week = 88.0

[[programme]]
site = "Site 07"
screen = "2"
hours_per_week = 40

[[log]]
file = "logs/north.csv"
dates = "iso"
exported_on = 2025-12-28
[log.columns]
serial = "serial"
lamp_class = "type"
site = "site"
screen = "screen"
fitted_on = "fitted"
removed_on = "removed"
reason = "reason"
hours = "hours"

[reasons]
"Burst in show" = "burst"
"routine" = "planned"

[[class]]
name = "2.0 kW"
also_called = ["X-2000"]
warranty_hours = 2000.0
maximum_hours = 2500.0
hours_source = "invented data sheet"
price = 780.0
lead_time_days = 21
todays_rule_hours = 2000.0
[class.costs]
planned = 950.0
burst = 5200.0
seal = 1900.0
no_strike = 1900.0
flicker = 1500.0
dim = 1250.0
"#;

    pub(crate) fn fails(text: &str) -> Error {
        let error = Declaration::parse(text, "study.toml").unwrap_err();
        assert_eq!(error.kind(), Kind::Study, "{error}");
        for problem in error.problems() {
            assert_eq!(problem.place.input, "study.toml", "{problem}");
            assert!(problem.place.line.is_some(), "{problem}");
        }
        error
    }

    /// Replaces a piece of the good study and returns the slug, line, key, and message of the only problem.
    pub(crate) fn spoilt(from: &str, to: &str) -> (String, u64, String, String) {
        assert!(GOOD.contains(from), "{from}");
        let error = fails(&GOOD.replacen(from, to, 1));
        assert_eq!(error.problems().len(), 1, "{error}");
        let p = &error.problems()[0];
        (p.slug.to_owned(), p.place.line.unwrap(), p.place.column.clone().unwrap_or_default(), error.to_string())
    }

    pub(crate) fn line_of(piece: &str) -> u64 {
        GOOD[..GOOD.find(piece).unwrap()].matches('\n').count() as u64 + 1
    }

    #[test]
    fn a_good_study_passes_and_hours_follow_screen_then_site_then_chain() {
        let d = Declaration::parse(GOOD, "study.toml").unwrap();
        assert_eq!(d.hours_per_week("site 07", "2"), 40.0);
        assert_eq!(d.hours_per_week("Site 07", "3"), 88.0);
        assert_eq!(d.hours_per_week("Site 08", "2"), 72.0);
        assert_eq!((d.draws, d.newest_export.to_string()), (400, "2025-12-28".to_owned()));
        assert_eq!(d.classes[0].limit.hours(), 2500.0);
        assert_eq!(d.failure_endings.len(), 5);
    }

    #[test]
    fn each_bad_entry_is_named_with_line_key_value_and_what_was_expected() {
        let cases = [
            // from, to, slug, key, a piece of the message
            (
                "\"burst\"\n\"routine",
                "\"bang\"\n\"routine",
                "study.ending_unknown",
                "reasons.Burst in show",
                "\"bang\"",
            ),
            ("burst = 5200.0", "bang = 5200.0\nburst = 5200.0", "study.ending_unknown", "bang", "no_strike"),
            ("dim = 1250.0\n", "", "study.key_missing", "dim", "whole cost"),
            ("planned = 950.0\n", "", "study.key_missing", "planned", "whole cost"),
            ("burst = 5200.0", "burst = -5200.0", "study.number_out_of_range", "burst", "-5200"),
            ("burst = 5200.0", "burst = nan", "study.number_out_of_range", "burst", "nan"),
            ("burst = 5200.0", "burst = inf", "study.number_out_of_range", "burst", "inf"),
            ("burst = 5200.0", "burst = 1e300", "study.number_out_of_range", "burst", "at most 1e12"),
            ("price = 780.0", "price = 1.1e12", "study.number_out_of_range", "price", "at most 1e12"),
            ("burst = 5200.0", "burst = \"5200\"", "study.not_a_number", "burst", "\"5200\""),
            ("maximum_hours = 2500.0", "maximum_hours = 0", "study.number_out_of_range", "maximum_hours", "at least 1"),
            ("maximum_hours = 2500.0", "maximum_hours = -3.0", "study.number_out_of_range", "maximum_hours", "-3"),
            ("price = 780.0\n", "", "study.key_missing", "price", "above 0"),
            ("lead_time_days = 21\n", "", "study.key_missing", "lead_time_days", "whole number"),
            ("lead_time_days = 21", "lead_time_days = 3000", "study.not_a_whole_number", "lead_time_days", "0 to 1095"),
            ("lead_time_days = 21", "lead_time_days = 2.5", "study.not_a_whole_number", "lead_time_days", "2.5"),
            ("currency = \"EUR\"", "currency = \"  \"", "study.text_blank", "study.currency", "not blank"),
            ("seed = 7", "seed = 7\ncolour = 3", "study.key_unknown", "study.colour", "one of"),
            ("as_of = 2025-12-28", "as_of = 2025-28-12", "study.not_a_date", "study.as_of", "2025-28-12"),
            ("as_of = 2025-12-28", "as_of = 2026-02-30", "study.not_a_date", "study.as_of", "2026-02-30"),
            ("as_of = 2025-12-28", "as_of = \"28.12.2025\"", "study.not_a_date", "study.as_of", "28.12.2025"),
            ("as_of = 2025-12-28", "as_of = 2024-01-01", "study.as_of", "study.as_of", "or later"),
            ("as_of = 2025-12-28\n", "", "study.key_missing", "study.as_of", "2025-12-28"),
            ("also_called = [\"X-2000\"]", "also_called = [3]", "study.not_a_text", "also_called", "3"),
            ("format = 1", "format = 2", "study.format_version", "format", "format = 1"),
            ("service_target = 0.95", "service_target = 95", "study.number_out_of_range", "chain.service_target", "95"),
            ("hours_per_week = 72.0", "hours_per_week = 200.0", "study.number_out_of_range", "hours_per_week", "168"),
            ("screen = \"2\"\n", "", "study.programme_twice", "programme[2].site", "one entry"),
            (
                "seed = 7",
                "seed = 7\nfailure_endings = [\"planned\"]",
                "study.ending_unknown",
                "failure_endings",
                "planned",
            ),
        ];
        for (from, to, slug, key, piece) in cases {
            let (got, _, column, message) = spoilt(from, to);
            assert_eq!(got, slug, "{message}");
            assert!(column.ends_with(key), "{column} for {key}: {message}");
            assert!(message.contains(piece), "{message}");
        }
        let (_, line, _, _) = spoilt("price = 780.0", "price = -1");
        assert_eq!(line, line_of("price = 780.0"));
    }

    #[test]
    fn a_limit_of_ones_own_needs_its_reason_and_printed_hours_stay_needed() {
        let (slug, line, _, message) = spoilt("price = 780.0", "limit_hours = 2300.0\nprice = 780.0");
        assert_eq!((slug.as_str(), line), ("terms.limit_reason", line_of("price = 780.0")), "{message}");
        let own = GOOD.replace("price = 780.0", "limit_hours = 2700.0\nlimit_reason = \"trial\"\nprice = 780.0");
        let class = &Declaration::parse(&own, "study.toml").unwrap().classes[0];
        assert_eq!((class.limit.hours(), class.judged_limit_hours()), (2700.0, 2500.0));
        let none = GOOD.replace("warranty_hours = 2000.0\nmaximum_hours = 2500.0\n", "");
        assert_eq!(fails(&none).slug(), "terms.limit_missing");
        let blank = GOOD.replace("hours_source = \"invented data sheet\"\n", "");
        assert_eq!(fails(&blank).slug(), "study.key_missing");
    }

    #[test]
    fn names_of_classes_are_not_shared() {
        let second = &GOOD[GOOD.find("[[class]]").unwrap()..];
        let alias = format!("{GOOD}\n{}", second.replace("2.0 kW", "x-2000 "));
        assert_eq!(fails(&alias).slug(), "study.class_twice");
        let same = format!("{GOOD}\n{second}");
        assert!(fails(&same).problems().iter().all(|p| p.slug == "study.class_twice"));
        // Whatever else is wrong with either class.
        let spoilt = alias.replace("price = 780.0\n", "");
        let told = fails(&spoilt);
        let slugs: Vec<&str> = told.problems().iter().map(|p| p.slug).collect();
        assert!(slugs.contains(&"study.class_twice") && slugs.contains(&"study.key_missing"), "{slugs:?}");
        let other = second.replace("2.0 kW", "3.0 kW").replace("X-2000", "X-3000");
        assert_eq!(Declaration::parse(&format!("{GOOD}\n{other}"), "study.toml").unwrap().classes.len(), 2);
    }

    #[test]
    fn every_problem_is_reported_at_once() {
        let bad = GOOD
            .replace("burst = 5200.0", "burst = -1")
            .replace("price = 780.0\n", "")
            .replace("currency = \"EUR\"", "currency = \"\"")
            .replace("\"planned\"", "\"plan\"")
            .replace("forecast_months = 6", "forecast_months = 6\nmonths = 3")
            .replace("dates = \"iso\"", "dates = \"isso\"");
        let error = fails(&bad);
        assert_eq!(error.problems().len(), 6, "{error}");
        let empty = fails("");
        assert!(empty.problems().len() >= 5, "{empty}");
        let syntax = fails("format = \n[study\nname = 'x");
        assert!(syntax.problems().len() >= 2, "{syntax}");
    }

    #[test]
    fn a_study_file_that_is_too_large_or_not_text_is_refused_by_name() {
        let folder = super::scratch("declare");
        let path = folder.join("study.toml");
        std::fs::write(&path, vec![b'#'; (1 << 20) + 1]).unwrap();
        assert_eq!(Declaration::read(&path).unwrap_err().slug(), "study.too_large");
        std::fs::write(&path, b"format = 1\nname = \"\xff\"").unwrap();
        let error = Declaration::read(&path).unwrap_err();
        assert_eq!((error.slug(), error.problems()[0].place.line), ("study.not_utf8", Some(2)));
        let missing = Declaration::read(&folder.join("nowhere.toml")).unwrap_err();
        assert_eq!((missing.slug(), missing.kind()), ("study.unreadable", Kind::Io));
    }

    #[test]
    fn log_paths_stay_inside_the_folder_unless_asked() {
        use relamp::study::{Study, StudyOptions};
        let folder = super::scratch("paths");
        for path in ["../logs/north.csv", "/etc/hostname", "logs/../../x.csv"] {
            let file = folder.join("study.toml");
            std::fs::write(&file, GOOD.replace("logs/north.csv", path)).unwrap();
            let error = Study::open(&file).unwrap_err();
            assert_eq!((error.slug(), error.problems().len()), ("study.path_outside", 1));
            let place = &error.problems()[0].place;
            assert_eq!((place.line, place.column.as_deref()), (Some(line_of("logs/north")), Some("log[1].file")));
            assert!(
                error.to_string().contains(&format!("got \"{path}\", expected a path below the folder of the study"))
            );
            // With every other mistake of the file.
            std::fs::write(&file, GOOD.replace("logs/north.csv", path).replace("price = 780.0", "prize = 780.0"))
                .unwrap();
            let slugs: Vec<&str> = Study::open(&file).unwrap_err().problems().iter().map(|p| p.slug).collect();
            assert_eq!(slugs, ["study.path_outside", "study.key_missing", "study.key_unknown"]);
            std::fs::write(&file, GOOD.replace("logs/north.csv", path)).unwrap();
            let options = StudyOptions { outside_folder: true, ..StudyOptions::default() };
            assert!(Study::open_with(&file, options).is_ok());
        }
    }

    #[test]
    fn random_bytes_and_deep_nesting_give_errors_not_panics() {
        let mut stream = relamp::base::random::Stream::new(1, "tests", "declare", 0);
        for _ in 0..300 {
            let text: String = (0..200).filter_map(|_| char::from_u32(stream.below(0x250) as u32)).collect();
            let _ = Declaration::parse(&text, "study.toml").unwrap_err();
            let mut bytes = GOOD.as_bytes().to_vec();
            for _ in 0..3 {
                let at = stream.below(bytes.len());
                bytes[at] = stream.below(128) as u8;
            }
            let _ = Declaration::parse(&String::from_utf8(bytes).unwrap(), "study.toml");
        }
        let _ = fails(&format!("x = {}", "[".repeat(100_000)));
    }
}

/// An empty folder of its own for one test.
pub(crate) fn scratch(name: &str) -> std::path::PathBuf {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("study-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}
