//! Wrong column maps whose columns can all be read: each is told, and no right one ever is.

use std::fmt::Write as _;
use std::mem::swap;

use super::chain::{Declared, declared, read};
use relamp::records::{HoursUnit, LogColumns, LogFormat, Options, Reading, ReasonMap, Source, WHOLE_LOG, read_sources};
use relamp::{Error, Result, Run};
use relamp_demo::{Chain, generate};

fn reading(chain: &Chain, d: &Declared) -> Result<Reading> {
    let logs: Vec<_> = d.formats.iter().map(|f| (f, Source::Bytes(chain.file(&f.file).unwrap()))).collect();
    read_sources(&logs, &d.reasons, &d.classes, Options::default(), &Run::new())
}

pub(super) fn about_logs(reading: &Reading) -> Vec<(&str, &str, &str)> {
    let findings = reading.ledger.findings.iter().filter(|f| WHOLE_LOG.contains(&f.rule.as_str()));
    findings.map(|f| (f.file.as_str(), f.rule.as_str(), f.sentence.as_str())).collect()
}

/// What is said of each log in turn when its map alone is changed; none where the change does not apply.
fn told(chain: &Chain, change: impl Fn(&mut LogFormat) -> bool) -> Vec<(LogFormat, Result<Reading>)> {
    let told = each_told(chain, change);
    assert!(told.len() > 3, "{}", told.len());
    told
}

/// The same where fewer logs may have what is changed.
pub(super) fn each_told(chain: &Chain, change: impl Fn(&mut LogFormat) -> bool) -> Vec<(LogFormat, Result<Reading>)> {
    let mut told = Vec::new();
    for log in 0..declared(chain).formats.len() {
        let mut d = declared(chain);
        if change(&mut d.formats[log]) {
            let answer = reading(chain, &d);
            told.push((d.formats.swap_remove(log), answer));
        }
    }
    told
}

/// The one problem, which must name the log and the column.
fn refused(answer: Result<Reading>, format: &LogFormat, slug: &str, column: &str) -> Error {
    let error = answer.unwrap_err();
    let problem = &error.problems()[0];
    assert_eq!((error.problems().len(), problem.slug), (1, slug), "{error}");
    assert_eq!(
        (problem.place.input.as_str(), problem.place.column.as_deref()),
        (&*format.file, Some(column)),
        "{error}"
    );
    error
}

pub(super) fn demo() -> Chain {
    generate(20_251_228, &relamp_demo::Options::full())
}

#[test]
fn hours_and_strikes_exchanged_are_refused() {
    let exchange = |f: &mut LogFormat| {
        let Some(strikes) = f.columns.strikes.as_mut() else { return false };
        swap(&mut f.columns.hours, strikes);
        true
    };
    for (format, answer) in told(&demo(), exchange) {
        let error = refused(answer, &format, "records.hours_and_strikes", &format.columns.hours);
        let (hours, strikes) = (&format.columns.hours, format.columns.strikes.as_deref().unwrap());
        let what = &error.problems()[0].what;
        assert!(what.contains(&format!("hours = \"{hours}\" and strikes = \"{strikes}\"")), "{error}");
    }
}

#[test]
fn hours_and_screen_exchanged_are_refused() {
    let exchange = |f: &mut LogFormat| {
        swap(&mut f.columns.hours, &mut f.columns.screen);
        true
    };
    for (format, answer) in told(&demo(), exchange) {
        let error = refused(answer, &format, "records.hours_a_day", &format.columns.hours);
        let problem = &error.problems()[0];
        assert!(problem.what.contains(&format!("hours = \"{}\"", format.columns.hours)), "{error}");
        assert!(problem.expected.contains(&format!("screen = \"{}\" would give 1", format.columns.screen)), "{error}");
    }
}

#[test]
fn reason_and_site_exchanged_are_refused() {
    let exchange = |f: &mut LogFormat| {
        swap(&mut f.columns.reason, &mut f.columns.site);
        true
    };
    for (format, answer) in told(&demo(), exchange) {
        let error = refused(answer, &format, "records.place_holds_reasons", &format.columns.site);
        let reason = format!("reason = \"{}\"", format.columns.reason);
        assert!(error.problems()[0].expected.contains(&reason), "{error}");
    }
}

#[test]
fn a_reason_map_that_fits_hardly_any_row_is_told_with_the_share() {
    let chain = demo();
    let mut d = declared(&chain);
    d.reasons = ReasonMap::default();
    let empty = reading(&chain, &d).unwrap();
    let logs = about_logs(&empty);
    let files: Vec<&str> = logs.iter().map(|l| l.0).collect();
    assert_eq!(files, d.formats.iter().map(|f| f.file.as_str()).collect::<Vec<_>>());
    assert!(logs.iter().all(|l| l.1 == "records.reasons_unmapped" && l.2.contains("(100 %)")), "{logs:?}");
    assert!(empty.warning().contains(&format!("{}: {}", logs[0].0, logs[0].2)), "{}", empty.warning());
    // A place as reason and none as site: no text of the map stands anywhere.
    let elsewhere = |f: &mut LogFormat| {
        let class = f.columns.batch.take().unwrap();
        f.columns.reason = class;
        true
    };
    for (format, answer) in told(&chain, elsewhere) {
        let answer = answer.unwrap();
        let logs = about_logs(&answer);
        assert_eq!(logs.iter().map(|l| (l.0, l.1)).collect::<Vec<_>>(), [(&*format.file, "records.reasons_unmapped")]);
        assert!(logs[0].2.contains(&format!("reason = \"{}\"", format.columns.reason)), "{logs:?}");
    }
}

#[test]
fn planned_changes_left_without_a_reason_are_no_wrong_map() {
    let row = |i: u32| {
        let why = if i.is_multiple_of(4) { "dim" } else { "" };
        format!("L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,{why},{},\n", 1900 + i)
    };
    let d = declared(&demo());
    let logged = |rows: Vec<String>| {
        let text = "s,c,h,k,i,o,w,t,n\n".to_owned() + &rows.concat();
        read_sources(
            &[(&plain(), Source::Bytes(text.as_bytes()))],
            &d.reasons,
            &d.classes,
            Options::default(),
            &Run::new(),
        )
        .unwrap()
    };
    let blank = logged((0..100).map(row).collect());
    assert_eq!(blank.ledger.findings.len(), 75);
    assert_eq!(about_logs(&blank), []);
    // Ninety-nine without a reason and one with: as good as none.
    let none = logged((0..100).map(|i| if i == 0 { row(0) } else { row(4 * i + 1) }).collect());
    assert_eq!(about_logs(&none).len(), 1, "{:?}", about_logs(&none));
}

pub(super) fn plain() -> LogFormat {
    serde_json::from_value(serde_json::json!({
        "file": "plain.csv", "dates": "iso", "exported_on": "2025-12-28", "blank_hours_at_fitting": "new",
        "columns": {"serial": "s", "lamp_class": "c", "site": "h", "screen": "k", "fitted_on": "i", "removed_on": "o",
            "reason": "w", "hours": "t", "strikes": "n"},
    }))
    .unwrap()
}

#[test]
fn removal_and_reading_exchanged_are_refused() {
    let exchange = |f: &mut LogFormat| {
        let Some(read_on) = f.columns.read_on.as_mut() else { return false };
        swap(&mut f.columns.removed_on, read_on);
        true
    };
    for (format, answer) in told(&demo(), exchange) {
        let error = refused(answer, &format, "records.removals_undated", &format.columns.removed_on);
        let read_on = format!("read_on = \"{}\"", format.columns.read_on.as_deref().unwrap());
        assert!(error.problems()[0].expected.contains(&read_on), "{error}");
    }
}

#[test]
fn a_wrong_unit_of_hours_is_refused_both_ways() {
    let chain = demo();
    let minutes = |f: &mut LogFormat| {
        f.hours_unit = HoursUnit::Minutes;
        true
    };
    for (format, answer) in told(&chain, minutes) {
        let error = refused(answer, &format, "records.hours_a_day", &format.columns.hours);
        assert!(error.problems()[0].expected.contains("hours_unit = \"hours\" would give 1"), "{error}");
    }
    // The same lamps with a meter that counts minutes.
    let d = declared(&chain);
    let mut text = "s,c,h,k,i,o,w,t,n\n".to_owned();
    let reading = read(&chain, Options::default()).unwrap();
    for s in reading.spells.iter() {
        let removed = s.removed_on.map_or_else(String::new, |day| day.to_string());
        if s.fitted_hours == 0.0 && !removed.is_empty() {
            let minutes = (s.end_hours * 60.0).round();
            writeln!(
                text,
                "{},{},{},{},{},{removed},planned,{minutes},",
                s.serial, s.lamp_class, s.site, s.screen, s.fitted_on
            )
            .unwrap();
        }
    }
    let mut format = plain();
    let with = |format: &LogFormat| {
        read_sources(
            &[(format, Source::Bytes(text.as_bytes()))],
            &d.reasons,
            &d.classes,
            Options::default(),
            &Run::new(),
        )
    };
    let error = refused(with(&format), &format, "records.hours_a_day", "t");
    assert!(error.problems()[0].expected.contains("hours_unit = \"minutes\" would give 1"), "{error}");
    format.hours_unit = HoursUnit::Minutes;
    assert_eq!(about_logs(&with(&format).unwrap()), []);
}

#[test]
fn a_strike_counter_of_the_projector_is_doubted_and_not_refused() {
    let d = declared(&demo());
    let mut text = "s,c,h,k,i,o,w,t,n\n".to_owned();
    for i in 0..30 {
        writeln!(text, "L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,planned,{},{}", 1900 + i, 15_000 + 700 * i).unwrap();
    }
    let format = plain();
    let logs = [(&format, Source::Bytes(text.as_bytes()))];
    let reading = read_sources(&logs, &d.reasons, &d.classes, Options::default(), &Run::new()).unwrap();
    let told = about_logs(&reading);
    assert_eq!(told.iter().map(|t| t.1).collect::<Vec<_>>(), ["records.hours_and_strikes"], "{told:?}");
    assert!(told[0].2.contains("strikes = \"n\""), "{told:?}");
}

#[test]
fn hours_that_are_only_odd_are_a_finding_about_the_log() {
    let mut text = "s,c,h,k,i,o,w,t,n\n".to_owned();
    for i in 0..30 {
        writeln!(text, "L{i},2.0 kW,S,a{i},2024-01-01,2024-08-01,planned,{},", 40 + i).unwrap();
    }
    let d = declared(&demo());
    let format = plain();
    let whole = |text: &str| {
        let logs = [(&format, Source::Bytes(text.as_bytes()))];
        read_sources(&logs, &d.reasons, &d.classes, Options::default(), &Run::new()).unwrap()
    };
    let reading = whole(&text);
    let finding = &reading.ledger.findings[0];
    assert_eq!((finding.file.as_str(), finding.row, finding.line, finding.column.as_str()), ("plain.csv", 0, 0, "t"));
    assert_eq!((finding.rule.as_str(), finding.value.as_str()), ("records.hours_a_day", "0.2582 h a day"));
    assert!(reading.warning().starts_with("plain.csv: hours = \"t\" of the column map gives a median of"));
    // Too few rows say nothing of the log.
    let few: String = text.lines().take(20).fold(String::new(), |all, line| all + line + "\n");
    assert_eq!(whole(&few).ledger.findings, []);
}

#[test]
fn right_column_maps_are_never_doubted() {
    let small = |options: relamp_demo::Options| options.with_size(10, 60, 5);
    for seed in 1..=20 {
        let clean = generate(seed, &small(relamp_demo::Options::clean_causes()));
        assert_eq!(read(&clean, Options::default()).unwrap().ledger.findings, [], "seed {seed}");
        let few = relamp_demo::Options::full().with_size(5, 24, 3);
        for options in [small(relamp_demo::Options::full()), few, relamp_demo::Options::second()] {
            let reading = read(&generate(seed, &options), Options::default()).unwrap();
            assert_eq!(about_logs(&reading), [], "seed {seed}");
            assert_eq!(reading.warning(), "", "seed {seed}");
        }
    }
}

/// The rules of the findings about whole logs, which must all be of this log, or the slugs of its refusal.
fn rules(answer: &Result<Reading>, format: &LogFormat) -> Vec<String> {
    match answer {
        Ok(reading) => about_logs(reading)
            .iter()
            .map(|(file, rule, sentence)| {
                assert_eq!(*file, format.file, "{sentence}");
                (*rule).to_owned()
            })
            .collect(),
        Err(error) => error.problems().iter().map(|p| p.slug.to_owned()).collect(),
    }
}

/// Two entries of a map; none where one of them is left out.
pub(super) type Two = for<'a> fn(&'a mut LogColumns) -> Option<(&'a mut String, &'a mut String)>;

/// Exchanges two entries of each map and looks for the rule.
fn exchange_is_told(two: Two, rule: &str) {
    let exchange = |f: &mut LogFormat| {
        let two = two(&mut f.columns);
        two.map(|(a, b)| swap(a, b)).is_some()
    };
    let mut seen = 0;
    for (format, answer) in told(&demo(), exchange) {
        let rules = rules(&answer, &format);
        let own = rules.iter().any(|r| r == rule);
        seen += usize::from(own);
        // A log that is refused has told enough.
        assert!(own || answer.is_err(), "{}: {rules:?}", format.file);
    }
    assert!(seen > 1, "{seen}");
}

#[test]
fn exchanged_places_and_suppliers_are_told() {
    exchange_is_told(|c| Some((&mut c.screen, c.strikes.as_mut()?)), "records.screen_and_strikes");
    exchange_is_told(|c| Some((&mut c.screen, c.supplier.as_mut()?)), "records.lamps_in_turn");
    exchange_is_told(|c| Some((&mut c.site, c.supplier.as_mut()?)), "records.lamps_in_turn");
    exchange_is_told(|c| Some((c.batch.as_mut()?, c.supplier.as_mut()?)), "records.supplier_and_batch");
}

#[test]
fn hours_first_seen_exchanged_with_a_neighbour_are_told() {
    let rule = "records.hours_first_seen";
    let first_seen = |f: &mut LogFormat| f.columns.hours_first_seen.clone();
    assert!(told(&demo(), |f| first_seen(f).is_some()).iter().all(|(_, answer)| answer.is_ok()));
    exchange_is_told(|c| Some((c.hours_first_seen.as_mut()?, c.hours_at_fitting.as_mut()?)), rule);
    exchange_is_told(|c| Some((c.hours_first_seen.as_mut()?, c.hours_last_good.as_mut()?)), rule);
    exchange_is_told(|c| Some((c.hours_first_seen.as_mut()?, c.strikes.as_mut()?)), rule);
}

/// Exchanges two entries of each map and counts the logs that tell of it; a log with few such rows may stay silent.
fn told_by(two: Two, rule: &str) -> (usize, usize) {
    let exchange = |f: &mut LogFormat| two(&mut f.columns).map(|(a, b)| swap(a, b)).is_some();
    let answers = each_told(&demo(), exchange);
    let own = answers.iter().filter(|(f, a)| a.is_err() || rules(a, f).iter().any(|r| r == rule)).count();
    (own, answers.len())
}

#[test]
fn hours_at_fitting_and_last_good_hours_in_the_place_of_others_are_told() {
    let used = "records.lamps_used_when_fitted";
    let (own, all) = told_by(|c| Some((c.strikes.as_mut()?, c.hours_at_fitting.as_mut()?)), used);
    assert!(own == all && all > 2, "{own} of {all}");
    // By the strikes that are no numbers, which names both columns.
    let (own, all) = told_by(|c| Some((c.strikes.as_mut()?, c.hours_last_good.as_mut()?)), "records.strikes_elsewhere");
    assert!(own == all && own > 1, "{own} of {all}");
    let far = "records.last_good_far";
    // Where hours at fitting are blank for new lamps, the exchange leaves last good hours to the few used ones.
    let (own, all) = told_by(|c| Some((c.hours_at_fitting.as_mut()?, c.hours_last_good.as_mut()?)), far);
    assert!(own > 1, "{own} of {all}");
}

/// One log of rows with the columns s, c, h, k, i, o, w, t, n and three more of a test's own.
pub(super) fn read_rows(format: &LogFormat, more: &str, rows: &str) -> Reading {
    let d = declared(&demo());
    let text = format!("s,c,h,k,i,o,w,t,n,{more}\n{rows}");
    let logs = [(format, Source::Bytes(text.as_bytes()))];
    read_sources(&logs, &d.reasons, &d.classes, Options::default(), &Run::new()).unwrap()
}

#[test]
fn hours_at_fitting_of_failed_lamps_alone_are_last_good_hours() {
    // New lamps have no hours at fitting; six used ones do, and half of the lamps failed after a last good reading.
    let mut rows = String::new();
    for i in 0..80 {
        let (used, good) =
            (if i % 13 == 0 { "300" } else { "" }, if i < 40 { (1400 + i).to_string() } else { String::new() });
        let why = if i < 40 { "burst" } else { "planned" };
        writeln!(rows, "L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,{why},{},,{used},{good},", 1500 + i).unwrap();
    }
    let mut format = plain();
    (format.columns.hours_at_fitting, format.columns.hours_last_good) = (Some("a".into()), Some("g".into()));
    assert_eq!(about_logs(&read_rows(&format, "a,g,e", &rows)), []);
    (format.columns.hours_at_fitting, format.columns.hours_last_good) = (Some("g".into()), Some("a".into()));
    let reading = read_rows(&format, "a,g,e", &rows);
    let told = about_logs(&reading);
    let words = "hours_at_fitting = \"g\" of the column map says that 40 failed lamps had burned before they were fitted, and \
                 none that burns or was changed on plan; hours_last_good = \"a\" is most likely exchanged with it";
    assert!(told.iter().any(|t| t.1 == "records.lamps_used_when_fitted" && t.2 == words), "{told:?}");
}

#[test]
fn a_reason_map_that_makes_planned_changes_failures_moves_no_hours_at_fitting() {
    // Of 500 lamps changed on plan, 25 were used when they were fitted; none of the 40 that burn was.
    let mut rows = String::new();
    for i in 0..500 {
        let used = if i % 20 == 0 { "300" } else { "" };
        writeln!(rows, "L{i},2.0 kW,S,{i},2025-05-01,2025-12-20,by plan,{},,{used},,", 1500 + i % 9).unwrap();
    }
    for i in 0..40 {
        writeln!(rows, "R{i},2.0 kW,S,r{i},2025-05-01,,,{},,,,", 1500 + i).unwrap();
    }
    let mut format = plain();
    (format.columns.hours_at_fitting, format.columns.hours_last_good) = (Some("a".into()), Some("g".into()));
    let text = format!("s,c,h,k,i,o,w,t,n,a,g,e\n{rows}");
    let d = declared(&demo());
    let reasons = ReasonMap::new([("by plan", relamp::records::Ending::Dim)]).unwrap();
    let logs = [(&format, Source::Bytes(text.as_bytes()))];
    let reading = read_sources(&logs, &reasons, &d.classes, Options::default(), &Run::new()).unwrap();
    assert_eq!(about_logs(&reading), []);
}

#[test]
fn screens_and_batches_exchanged_in_a_house_of_two_screens_are_told() {
    // Two screens, thirteen lamps in each after another; a batch is bought for both, half a year each.
    let mut rows = String::new();
    for i in 0..13_i32 {
        let (from, to) = (day(180 * i), if i < 12 { day(180 * (i + 1)) } else { String::new() });
        let (why, hours) = if i < 12 { ("planned", 1500 + i) } else { ("", 700) };
        for screen in ["1", "2"] {
            writeln!(rows, "L{i}-{screen},2.0 kW,S,{screen},{from},{to},{why},{hours},,B{i},North,").unwrap();
        }
    }
    let mut format = plain();
    format.columns.batch = Some("b".into());
    format.columns.supplier = Some("u".into());
    assert_eq!(about_logs(&read_rows(&format, "b,u,e", &rows)), []);
    format.columns.screen = "b".into();
    format.columns.batch = Some("k".into());
    let reading = read_rows(&format, "b,u,e", &rows);
    let told = about_logs(&reading);
    assert_eq!(told.iter().map(|t| t.1).collect::<Vec<_>>(), ["records.lamps_in_turn"], "{told:?}");
    assert!(told[0].2.contains("nearly all would be with batch = \"k\" in place of the screen"), "{told:?}");
}

/// A day so many days after the first of 2019.
pub(super) fn day(after: i32) -> String {
    let first = chrono::NaiveDate::from_ymd_opt(2019, 1, 1).unwrap();
    (first + chrono::Duration::days(i64::from(after))).to_string()
}

#[test]
fn last_good_hours_of_a_short_log_are_told_where_none_lies_near_the_end() {
    let rows = |good: &dyn Fn(i32) -> i32| {
        let row = |i| format!("L{i},2.0 kW,S,{i},2024-01-01,2024-08-01,burst,{},,b,u,{}\n", 1500 + i, good(i));
        (0..8).map(row).collect::<String>()
    };
    let mut format = plain();
    format.columns.hours_last_good = Some("e".into());
    let told = |good: &dyn Fn(i32) -> i32| {
        about_logs(&read_rows(&format, "b,u,e", &rows(good))).into_iter().map(|t| t.1.to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(told(&|i| 100 + i), ["records.last_good_far"]);
    // One near its end is enough to stay silent, as are readings near theirs.
    assert_eq!(told(&|i| if i == 0 { 1450 } else { 100 }), Vec::<String>::new());
    assert_eq!(told(&|i| 1400 + i), Vec::<String>::new());
}

#[test]
fn a_decimal_sign_that_is_the_delimiter_is_named_beside_the_missing_columns() {
    let d = declared(&demo());
    let mut format = plain();
    format.decimal = ',';
    format.columns.supplier = Some("vendor".into());
    let text = "s;c;h;k;i;o;w;t;n\nL1;2.0 kW;S;1;2024-01-01;;;10,5;\n";
    let answer = |format: &LogFormat| {
        let logs = [(format, Source::Bytes(text.as_bytes()))];
        read_sources(&logs, &d.reasons, &d.classes, Options::default(), &Run::new()).unwrap_err().to_string()
    };
    let said = answer(&format);
    assert!(said.contains("the decimal sign is the delimiter too") && said.contains("a column is missing"), "{said}");
    // A sign that is refused hides no missing column either.
    format.decimal = '5';
    format.delimiter = ';';
    let said = answer(&format);
    assert!(said.contains("not a decimal sign") && said.contains("a column is missing: \"vendor\""), "{said}");
}

#[test]
fn a_single_batch_and_a_log_run_to_failure_are_not_doubted() {
    let d = declared(&demo());
    let mut format = plain();
    let mut text = "s,c,h,k,i,o,w,t,n,u,b,e\n".to_owned();
    // Thirty lamps that burned when the records began and failed since, then thirty that burn.
    for i in 0..30 {
        let supplier = ["North", "South", "East"][i % 3];
        writeln!(text, "A{i},2.0 kW,S,a{i},2024-01-01,2025-03-01,burst,{},,{supplier},n/a,{}", 2000 + i, 300 + i)
            .unwrap();
        writeln!(text, "B{i},2.0 kW,S,a{i},2025-03-02,,,{},,{supplier},n/a,", 1500 + i).unwrap();
    }
    format.columns.supplier = Some("u".into());
    format.columns.batch = Some("b".into());
    format.columns.hours_first_seen = Some("e".into());
    let logs = [(&format, Source::Bytes(text.as_bytes()))];
    let reading = read_sources(&logs, &d.reasons, &d.classes, Options::default(), &Run::new()).unwrap();
    assert_eq!(reading.spells.len(), 60, "{:?}", reading.ledger.findings);
    assert_eq!(about_logs(&reading), []);
}
