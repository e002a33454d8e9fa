//! Broken study files: every mistake at once, each with the file, the line, the key, the value and what was expected, in
//! our own words whatever reads the file underneath.

use relamp::study::Declaration;

use crate::study::declaring::{GOOD, fails, line_of, spoilt};

const COLUMNS: &str = "serial = \"serial\"\nlamp_class = \"type\"\nsite = \"site\"\nscreen = \"screen\"\nfitted_on = \"fitted\"\n\
                       removed_on = \"removed\"\nreason = \"reason\"\nhours = \"hours\"\n";

#[test]
fn each_mistake_in_a_log_is_named_with_line_key_value_and_what_was_expected() {
    let cases = [
        // from, to, slug, key, value, a piece of what was expected
        ("dates = \"iso\"", "dates = \"guess\"", "word_unknown", "log[1].dates", "\"guess\"", "iso, day-first, month"),
        ("dates = \"iso\"", "dates = \"\"", "word_unknown", "log[1].dates", "\"\"", "one of iso"),
        ("dates = \"iso\"", "dates = [\"iso\"]", "word_unknown", "log[1].dates", "a list", "one of iso"),
        ("dates = \"iso\"", "dates = 2025-12-28", "word_unknown", "log[1].dates", "2025-12-28", "one of iso"),
        ("dates = \"iso\"", "encoding = \"latin1\"", "word_unknown", "log[1].encoding", "\"latin1\"", "windows-1252"),
        ("dates = \"iso\"", "hours_unit = \"min\"", "word_unknown", "log[1].hours_unit", "\"min\"", "hours, minutes"),
        (
            "dates = \"iso\"",
            "blank_hours_at_fitting = true",
            "word_unknown",
            "log[1].blank_hours_at_fitting",
            "true",
            "new, unknown",
        ),
        ("dates = \"iso\"", "delimiter = \";;\"", "not_a_sign", "log[1].delimiter", "\";;\"", "one ASCII character"),
        ("dates = \"iso\"", "delimiter = \"\"", "not_a_sign", "log[1].delimiter", "\"\"", "one ASCII character"),
        ("dates = \"iso\"", "delimiter = 9", "not_a_sign", "log[1].delimiter", "9", "one ASCII character"),
        ("dates = \"iso\"", "delimiter = \"§\"", "not_a_sign", "log[1].delimiter", "\"§\"", "one ASCII character"),
        ("dates = \"iso\"", "decimal = \"5\"", "not_a_sign", "log[1].decimal", "\"5\"", "one sign"),
        ("dates = \"iso\"", "decimal = \"\\n\\n\"", "not_a_sign", "log[1].decimal", "\"\\n\\n\"", "one sign"),
        ("dates = \"iso\"", "thousands = \".\"", "not_a_sign", "log[1].thousands", "\".\"", "other than the decimal"),
        ("dates = \"iso\"", "datse = \"iso\"", "key_unknown", "log[1].datse", "\"iso\"", "dates"),
        ("dates = \"iso\"", "dates.order = \"iso\"", "word_unknown", "log[1].dates", "a table", "one of iso"),
        ("dates = \"iso\"", "records_from = 2020", "not_a_date", "log[1].records_from", "2020", "2025-12-28"),
        ("exported_on = 2025-12-28\n", "", "key_missing", "log[1].exported_on", "", "2025-12-28"),
        (
            "exported_on = 2025-12-28",
            "exported_on = 20251228",
            "not_a_date",
            "log[1].exported_on",
            "20251228",
            "a date",
        ),
        (
            "exported_on = 2025-12-28",
            "exported_on = \"28.12.2025\"",
            "not_a_date",
            "log[1].exported_on",
            "\"28.12.2025\"",
            "a date",
        ),
        (
            "exported_on = 2025-12-28",
            "exported_on = 2025-12-28T06:00:00",
            "not_a_date",
            "log[1].exported_on",
            "2025-12-28T06:00:00",
            "a date",
        ),
        ("file = \"logs/north.csv\"\n", "", "key_missing", "log[1].file", "", "a text"),
        ("file = \"logs/north.csv\"", "file = \" \"", "text_blank", "log[1].file", "\" \"", "not blank"),
        ("file = \"logs/north.csv\"", "file = 3", "not_a_text", "log[1].file", "3", "a text"),
        ("file = \"logs/north.csv\"", "file = [\"a\"]", "not_a_text", "log[1].file", "a list", "a text"),
        (
            "hours = \"hours\"",
            "hours = \"hours\"\nhuors = \"x\"",
            "key_unknown",
            "log[1].columns.huors",
            "\"x\"",
            "hours",
        ),
        ("hours = \"hours\"\n", "", "key_missing", "log[1].columns.hours", "", "a text"),
        ("hours = \"hours\"", "hours = 8", "not_a_text", "log[1].columns.hours", "8", "a text"),
        ("hours = \"hours\"", "hours = \"hours\"\nbatch = \"\"", "text_blank", "log[1].columns.batch", "\"\"", "blank"),
    ];
    for (from, to, slug, key, value, expected) in cases {
        let (got, _, column, message) = spoilt(from, to);
        assert_eq!((got.as_str(), column.as_str()), (format!("study.{slug}").as_str(), key), "{message}");
        assert!(message.contains(&format!("got {value}")) || value.is_empty(), "{message} has no {value}");
        assert!(message.contains("expected ") && message.contains(expected), "{message} has no {expected}");
    }
    let (_, line, _, _) = spoilt("exported_on = 2025-12-28", "exported_on = 20251228");
    assert_eq!(line, line_of("exported_on"));
}

/// The study file that the README tells to copy, also with every line in use that it holds as a remark.
#[test]
fn the_study_to_copy_is_sound_and_names_every_column() {
    let text = std::fs::read_to_string("examples/study.toml").unwrap();
    let study = Declaration::parse(&text, "study.toml").unwrap();
    assert_eq!((study.logs.len(), study.classes.len(), study.reasons.len()), (1, 1, 10));
    let all: Vec<&str> =
        text.lines().map(|l| if l.starts_with("# ") { l } else { l.trim_start_matches('#') }).collect();
    let study = Declaration::parse(&all.join("\n"), "study.toml").unwrap();
    let columns = serde_json::to_value(&study.logs[0].columns).unwrap();
    assert!(columns.as_object().unwrap().values().all(|name| !name.is_null()), "{columns}");
    assert!(study.logs[0].records_from.is_some() && study.programme.len() == 1);
    assert!(study.classes[0].warranty.is_some() && study.claim_file.is_some());
    assert_eq!((study.stops.len(), study.last_buys.len()), (1, 1));
}

#[test]
fn tables_of_the_wrong_kind_are_named() {
    let cases = [
        // from, to, slug, key, got, expected
        ("[[log]]\nfile", "[log]\nfile", "log", "a table", "tables [[log]]"),
        ("[[programme]]\nsite = \"Site 07\"\nhours_per_week = 88.0", "[programme]", "programme", "", ""),
        ("[study]\nname", "[[study]]\nname", "study", "a list", "a table [study]"),
        ("[reasons]\n", "[[reasons]]\n", "reasons", "a list", "a table [reasons]"),
        ("[class.costs]\n", "[[class.costs]]\n", "costs", "a list", "[class.costs]"),
        ("[log.columns]\n", "[[log.columns]]\n", "columns", "a list", "[log.columns]"),
    ];
    for (from, to, key, got, expected) in cases {
        assert!(GOOD.contains(from), "{from}");
        let error = fails(&GOOD.replacen(from, to, 1));
        if got.is_empty() {
            assert_eq!(error.slug(), "study.toml", "{error}");
            continue;
        }
        assert_eq!(error.problems().len(), 1, "{error}");
        let p = &error.problems()[0];
        assert_eq!((p.slug, p.got.as_str()), ("study.not_a_table", got), "{error}");
        assert!(
            p.place.column.as_deref().is_some_and(|c| c.ends_with(key)) && p.expected.contains(expected),
            "{error}"
        );
    }
    for (from, key) in [(format!("[log.columns]\n{COLUMNS}"), "log[1].columns"), ("[chain]\n".to_owned(), "chain")] {
        assert!(GOOD.contains(&from), "{from}");
        let error = fails(&GOOD.replacen(&from, "", 1));
        let missing = error.problems().iter().find(|p| p.place.column.as_deref() == Some(key));
        assert_eq!(missing.map(|p| p.slug), Some("study.key_missing"), "{error}");
    }
}

#[test]
fn all_mistakes_of_all_logs_come_at_once_and_in_our_own_words() {
    let log = &GOOD[GOOD.find("[[log]]").unwrap()..GOOD.find("[reasons]").unwrap()];
    let second = log
        .replace("\"iso\"", "\"ISO\"")
        .replace("exported_on = 2025-12-28", "exported_on = \"soon\"")
        .replace("serial = \"serial\"\n", "")
        .replace("hours = \"hours\"", "hours = []");
    let bad = GOOD
        .replace("dates = \"iso\"", "dates = \"guess\"\ndelimiter = \"ab\"\ncolour = 1")
        .replace("[reasons]", &format!("{second}[reasons]"));
    let error = fails(&bad);
    let keys: Vec<&str> = error.problems().iter().filter_map(|p| p.place.column.as_deref()).collect();
    assert_eq!(
        keys,
        [
            "log[1].dates",
            "log[1].delimiter",
            "log[1].colour",
            "log[2].file",
            "log[2].dates",
            "log[2].exported_on",
            "log[2].columns.serial",
            "log[2].columns.hours",
        ],
        "{error}"
    );
}

#[test]
fn a_date_that_the_calendar_does_not_have_hides_no_other_mistake() {
    let bad = GOOD
        .replace("exported_on = 2025-12-28", "exported_on = 2026-02-30")
        .replace("dates = \"iso\"", "dates = 2026-13-01T25:00:00")
        .replace("price = 780.0", "price = -1.0\nbuilt = 2026-04-31");
    let error = fails(&bad);
    let told: Vec<(&str, &str)> = error.problems().iter().map(|p| (p.slug, p.got.as_str())).collect();
    for each in [
        ("study.not_a_date", "2026-02-30"),
        ("study.word_unknown", "2026-13-01T25:00:00"),
        ("study.number_out_of_range", "-1.0"),
        ("study.key_unknown", "2026-04-31"),
    ] {
        assert!(told.contains(&each), "{each:?} of {told:?}");
    }
    let day = error.problems().iter().find(|p| p.slug == "study.not_a_date").unwrap();
    assert_eq!(
        (day.place.line, day.place.column.as_deref()),
        (Some(line_of("exported_on")), Some("log[1].exported_on"))
    );
    // Where text falls apart the keys are not known; what stands for a date is told by its line.
    let worse = fails(&bad.replace("[chain]", "[chain"));
    assert!(worse.problems().iter().all(|p| p.slug == "study.toml"), "{worse}");
    assert!(worse.to_string().contains("got [chain, expected a heading such as [chain]"), "{worse}");
    assert!(worse.to_string().contains("got 2026-02-30, expected a text in quotation marks, a number"), "{worse}");
    assert_eq!(worse.problems().len(), 4, "{worse}");
}

/// A value that TOML does not take, as a text without quotation marks, is told by its key like any other, and hides nothing.
#[test]
fn a_value_without_quotation_marks_is_told_by_its_key() {
    let (day, money) =
        ("a date such as 2025-12-28", "an amount above 0 and at most 1e12, in digits such as 780 or 780.5");
    let text = "a text that is not blank, in quotation marks";
    let cases = [
        // from, key, slug, column, value as written, a piece of what was expected
        ("as_of = 2025-12-28", "as_of", "not_a_date", "study.as_of", "31.12.2025", day),
        ("as_of = 2025-12-28", "as_of", "not_a_date", "study.as_of", "2025-13-45", day),
        ("as_of = 2025-12-28", "as_of", "not_a_date", "study.as_of", "12/28/2025", day),
        ("as_of = 2025-12-28", "as_of", "not_a_date", "study.as_of", "28 Dec 2025", day),
        ("as_of = 2025-12-28", "as_of", "not_a_date", "study.as_of", "today", day),
        ("price = 780.0", "price", "not_a_number", "class \"2.0 kW\".price", "780,00", money),
        ("price = 780.0", "price", "not_a_number", "class \"2.0 kW\".price", "1.780,00", money),
        ("price = 780.0", "price", "not_a_number", "class \"2.0 kW\".price", "780 EUR", money),
        ("price = 780.0", "price", "not_a_number", "class \"2.0 kW\".price", "\"780\"", "without quotation marks"),
        ("seed = 7", "seed", "not_a_whole_number", "study.seed", "no. 7", "in digits"),
        ("currency = \"EUR\"", "currency", "not_a_text", "study.currency", "EUR", "in quotation marks such as \"EUR\""),
        (
            "currency = \"EUR\"",
            "currency",
            "not_a_text",
            "study.currency",
            "\"EUR",
            "in quotation marks such as \"EUR\"",
        ),
        ("currency = \"EUR\"", "currency", "not_a_text", "study.currency", "\u{201c}EUR\u{201d}", "such as \"EUR\""),
        ("currency = \"EUR\"", "currency", "not_a_text", "study.currency", "true", text),
        ("currency = \"EUR\"", "currency", "not_a_text", "study.currency", "5", text),
        (
            "dates = \"iso\"",
            "dates",
            "word_unknown",
            "log[1].dates",
            "iso",
            "month-first, in quotation marks such as \"iso\"",
        ),
        ("dates = \"iso\"", "decimal", "not_a_sign", "log[1].decimal", ",", "in quotation marks such as \",\""),
        ("[\"X-2000\"]", "also_called", "not_a_list", "class \"2.0 kW\".also_called", "[X 2000]", "[\"a\", \"b\"]"),
        (
            "\"routine\" = \"planned\"",
            "\"routine\"",
            "ending_unknown",
            "reasons.routine",
            "planned",
            "such as \"planned\"",
        ),
    ];
    for (from, key, slug, column, value, expected) in cases {
        let line = GOOD.lines().find(|l| l.contains(from)).unwrap();
        // Beside a remark, and with another mistake further down.
        let remark = if value == "\"EUR" { "" } else { " # see \"above\"" };
        let text = GOOD.replacen(line, &format!("{key} = {value}{remark}"), 1);
        let error = fails(&text.replace("lead_time_days = 21", "lead_time_days = 3 weeks"));
        let told: Vec<_> = error.problems().iter().filter(|p| p.place.column.as_deref() == Some(column)).collect();
        assert_eq!(told.len(), 1, "{value}: {error}");
        assert_eq!((told[0].slug, told[0].got.as_str()), (format!("study.{slug}").as_str(), value), "{error}");
        assert!(told[0].expected.contains(expected), "{error}");
        assert_eq!(told[0].place.line, Some(line_of(line)), "{error}");
        let other = error.problems().iter().find(|p| p.got == "3 weeks").unwrap();
        assert_eq!(other.place.column.as_deref(), Some("class \"2.0 kW\".lead_time_days"), "{error}");
        assert_eq!(error.problems().len(), 2, "{error}");
    }
    // Over several lines each text is told for itself.
    let error = fails(&GOOD.replace("[\"X-2000\"]", "[\n  X 2000,\n  \"X-2001\", X 2002,\n]"));
    let got: Vec<&str> = error.problems().iter().map(|p| p.got.as_str()).collect();
    assert_eq!(got, ["X 2000", "X 2002"], "{error}");
}

/// Lines that fall apart: each once, by what stands there, and nothing of what only follows from them.
#[test]
fn a_line_that_falls_apart_is_shown_with_what_should_stand_there() {
    let cases = [
        ("as_of = 2025-12-28", "as_of: 2025-12-28", "key = value"),
        ("as_of = 2025-12-28", "as_of 2025-12-28", "key = value"),
        ("as_of = 2025-12-28", "as of = 2025-12-28", "with a key of several words in quotation marks"),
        ("as_of = 2025-12-28", "as_of =", "a date such as 2025-12-28"),
        ("[chain]", "[chain", "a heading such as [chain]"),
        ("seed = 7", "seed = 7\nseed = 8", "each key once"),
    ];
    for (from, to, expected) in cases {
        let error = fails(&GOOD.replacen(from, to, 1));
        assert_eq!((error.slug(), error.problems().len()), ("study.toml", 1), "{to}: {error}");
        let problem = &error.problems()[0];
        assert_eq!(problem.got, to.lines().last().unwrap(), "{error}");
        assert!(problem.expected.contains(expected), "{error}");
    }
    let second = &GOOD[GOOD.find("[[class]]").unwrap()..].replace("2.0 kW", "3.0 kW").replace("X-2000", "X-3000");
    let error = fails(&format!("{}{second}{second}", GOOD.replace("[[class]]", "[class]")));
    assert_eq!((error.problems().len(), error.problems()[0].got.as_str()), (1, "[[class]]"), "{error}");
    // A slip in a heading is told, and not what stands below it; a list too.
    for (heading, slip) in [("[[class]]", "clas"), ("[[log]]", "logg")] {
        let text = GOOD.replacen(heading, &format!("[[{slip}]]"), 1);
        let error = fails(&format!("{text}{second}"));
        let told: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.column.as_deref())).collect();
        assert_eq!(told[0], ("study.key_unknown", Some(slip)), "{error}");
        assert_eq!(told.len(), if slip == "clas" { 1 } else { told.len() }, "{error}");
    }
    // Every heading of one slip is understood, where the file holds together too.
    let only = GOOD.replace("[[class]]", "[[clas]]")
        + "[[last_buy]]\nclass = \"3.0 kW\"\nlast_order_on = 2026-12-28\nrisk = 0.05\n";
    let error = fails(&only);
    let told: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.column.as_deref())).collect();
    assert_eq!(
        told,
        [("study.key_unknown", Some("clas")), ("study.last_buy_class", Some("last_buy[1].class"))],
        "{error}"
    );
    let none = GOOD[..GOOD.find("[[class]]").unwrap()].to_owned()
        + "[[last_buy]]\nclass = \"3.0 kW\"\nlast_order_on = 2026-12-28\nrisk = 0.05\n";
    let error = fails(&none);
    let told: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.column.as_deref())).collect();
    assert_eq!(told, [("study.key_missing", Some("class"))], "{error}");
    // Beside it whatever else is wrong, on its line.
    let text = GOOD.replacen("[[class]]", "[[Class]]", 1).replacen("seed = 7", "sead = 7", 1);
    let second = second.replacen("lead_time_days = ", "lead_time_days = -", 1);
    let error = fails(&format!("{text}{second}"));
    let slip = |p: &&relamp::Problem| p.place.column.as_deref() == Some("Class");
    let told = error.problems().iter().find(slip).unwrap();
    assert_eq!(told.got, "a list");
    assert!(told.expected.starts_with("class, as which it is read here; one of answer, chain"), "{error}");
    let told: Vec<_> = error.problems().iter().filter_map(|p| p.place.column.as_deref()).collect();
    assert_eq!(told, ["study.seed", "study.sead", "Class", "class \"3.0 kW\".lead_time_days"], "{error}");
    let line = |text: &str, part: &str| text.lines().position(|l| l.starts_with(part)).unwrap() as u64 + 1;
    let whole = format!("{text}{second}");
    assert!(error.problems().iter().any(|p| p.place.line == Some(line(&whole, "lead_time_days = -"))), "{error}");
}

#[test]
fn a_bad_decimal_sign_does_not_blame_a_sound_sign_of_thousands() {
    for thousands in [".", ",", " "] {
        let both = format!("dates = \"iso\"\ndecimal = \"x\"\nthousands = \"{thousands}\"");
        let error = fails(&GOOD.replacen("dates = \"iso\"", &both, 1));
        let keys: Vec<_> = error.problems().iter().filter_map(|p| p.place.column.as_deref()).collect();
        assert_eq!(keys, ["log[1].decimal"], "{error}");
    }
}

#[test]
fn mistakes_are_told_in_the_order_of_the_lines() {
    let reasons = (0..30).map(|i| format!("\"r{i}\" = \"gone\"\n")).collect::<Vec<_>>().concat();
    let bad = GOOD.replace("[reasons]\n", &format!("[reasons]\n{reasons}")).replace("seed = ", "sead = ");
    let error = fails(&bad.replace("price = 780.0", "price = -1.0"));
    let lines: Vec<u64> = error.problems().iter().filter_map(|p| p.place.line).collect();
    assert!(lines.len() > 31 && lines.is_sorted(), "{lines:?}");
}

#[test]
fn the_message_holds_every_mistake_however_many() {
    let bad = GOOD.replace(
        "[log.columns]\n",
        &format!("{}[log.columns]\n", (0..60).map(|i| format!("wrong{i} = {i}\n")).collect::<Vec<_>>().concat()),
    );
    let error = fails(&bad);
    assert_eq!(error.problems().len(), 60);
    let message = error.to_string();
    assert!(message.starts_with("60 problems:\n") && message.lines().count() == 61, "{message}");
    assert!((0..60).all(|i| message.contains(&format!("column log[1].wrong{i}:"))), "{message}");
}

/// Every key of a good file in turn with values of every wrong kind, and every line left out.
#[test]
fn no_wording_of_a_library_reaches_the_reader() {
    const FOREIGN: [&str; 9] = [
        "unknown field",
        "unknown variant",
        "invalid type",
        "missing field",
        "duplicate field",
        "serde",
        "deserialize",
        "invalid value",
        "did not match",
    ];
    let values = [
        "\"\"",
        "\"x\"",
        "3",
        "-1.5",
        "nan",
        "true",
        "2025-12-28",
        "\"2025-12-28\"",
        "10:00:00",
        "[]",
        "[1, {}]",
        "{}",
    ];
    let mut told = 0;
    let lines: Vec<&str> = GOOD.lines().collect();
    for (i, line) in lines.iter().enumerate() {
        let mut spoilt: Vec<Option<String>> = vec![None];
        if let Some((key, _)) = line.split_once(" = ") {
            spoilt.extend(values.iter().map(|v| Some(format!("{key} = {v}"))));
            spoilt.push(Some(format!("{line}\nx{} = 1", key.trim_matches('"'))));
        }
        for with in spoilt {
            let mut text = lines.clone();
            match &with {
                Some(new) => text[i] = new,
                None => drop(text.remove(i)),
            }
            let Err(error) = Declaration::parse(&text.join("\n"), "study.toml") else { continue };
            told += 1;
            for problem in error.problems() {
                let sentence = problem.to_string();
                assert!(FOREIGN.iter().all(|f| !sentence.contains(f)), "{with:?}: {sentence}");
                assert!(!problem.expected.is_empty() && problem.place.line.is_some(), "{with:?}: {sentence}");
            }
        }
    }
    assert!(told > 300, "{told}");
}

#[test]
fn a_date_is_a_date_with_quotation_marks_or_without() {
    let plain = Declaration::parse(GOOD, "study.toml").unwrap();
    let quoted = GOOD.replace("= 2025-12-28", "= \"2025-12-28\"");
    assert_ne!(quoted, GOOD);
    let quoted = Declaration::parse(&quoted, "study.toml").unwrap();
    assert_eq!((quoted.as_of, quoted.newest_export, quoted.logs), (plain.as_of, plain.newest_export, plain.logs));
    for text in ["2025-1-2", "2025-12-28 ", "28.12.2025", "2025-12-28T00:00:00", "20251228", ""] {
        let written = GOOD.replacen("as_of = 2025-12-28", &format!("as_of = \"{text}\""), 1);
        match Declaration::parse(&written, "study.toml") {
            Ok(_) => assert_eq!(text.trim(), "2025-12-28"),
            Err(error) => assert_eq!((error.slug(), error.problems().len()), ("study.not_a_date", 1), "{error}"),
        }
    }
}

#[test]
fn names_of_classes_are_shown_as_their_owner_wrote_them() {
    let second = &GOOD[GOOD.find("[[class]]").unwrap()..];
    let other = second.replace("name = \"2.0 kW\"", "name = \"3.0 kW\"").replace("X-2000", "x-2000");
    let error = fails(&format!("{GOOD}\n{other}"));
    assert_eq!(error.problems()[0].got, "\"x-2000\"", "{error}");
    let names = relamp::records::ClassNames::new([("2.0 kW", vec!["X-2000", "2.0 KW"])]).unwrap();
    assert_eq!(names.known(), ["2.0 kW", "X-2000"]);
}
