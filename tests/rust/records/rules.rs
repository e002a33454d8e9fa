//! Small logs, one rule each; and whole logs that must be refused with the place named.

use std::fmt::Write as _;

use relamp::base::sound::Checks;
use relamp::records::{
    ClassNames, Column, Ending, HoursUnit, LifeRecord, LogFormat, Options, Outcome, Reading, ReasonMap, Source, Values,
    read, read_sources,
};
use relamp::{Error, Kind, Result, Run};

const HEADER: &str = "serial,class,site,screen,in,out,why,hours,at,seen,good,read,strikes\n";

fn format(file: &str) -> LogFormat {
    serde_json::from_value(serde_json::json!({
        "file": file, "dates": "iso", "exported_on": "2025-12-28", "blank_hours_at_fitting": "new",
        "records_from": "2020-01-01",
        "columns": {"serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
            "removed_on": "out", "reason": "why", "hours": "hours", "hours_at_fitting": "at", "hours_first_seen": "seen",
            "hours_last_good": "good", "read_on": "read", "strikes": "strikes"},
    }))
    .unwrap()
}

fn maps() -> (ReasonMap, ClassNames) {
    let reasons = [("burst", Ending::Burst), ("plan", Ending::Planned), ("moved", Ending::Moved), ("dim", Ending::Dim)];
    (ReasonMap::new(reasons).unwrap(), ClassNames::new([("2.0 kW", ["2kW"])]).unwrap())
}

fn read_as(format: &LogFormat, text: &str, options: Options) -> Result<Reading> {
    let (reasons, classes) = maps();
    read_sources(&[(format, Source::Bytes(text.as_bytes()))], &reasons, &classes, options, &Run::new())
}

fn reading(body: &str) -> Reading {
    let reading = read_as(&format("log.csv"), &format!("{HEADER}{body}"), Options::default()).unwrap();
    assert!(reading.ledger.counts.reconcile());
    Checks::of("reading", &reading).unwrap();
    reading
}

#[test]
fn a_text_that_cannot_be_a_serial_is_a_finding() {
    let rows = "A\x001,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\n\
                \"A\t2\",2kW,S,2,2021-01-01,2021-06-01,burst,900,,,,,\n\
                \u{c4}\x001,2kW,S,3,2021-01-01,2021-06-01,burst,900,,,,,\n\
                A 4,2kW,S,4,2021-01-01,2021-06-01,burst,900,,,,,\n";
    let r = reading(rows);
    assert_eq!(rules(&r), [(2, "serial_unreadable"), (3, "serial_unreadable"), (4, "serial_unreadable")]);
    assert_eq!((r.ledger.findings[0].value.as_str(), r.lives.len()), ("A\x001", 1));
}

#[test]
fn a_supplier_or_a_batch_with_a_control_character_is_left_out_and_told() {
    let mut format = format("log.csv");
    format.columns.supplier = Some("from".into());
    format.columns.batch = Some("code".into());
    let head = HEADER.replace('\n', ",from,code\n");
    let rows = "A1,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,,\"No\trth\",B1\n\
                A2,2kW,S,2,2021-01-01,2021-06-01,burst,900,,,,,,North,\"B\x072\"\n\
                A3,2kW,S,3,2021-01-01,2021-06-01,burst,900,,,,,,North,B2\n\
                A4,2kW,S,4,2021-01-01,2021-06-01,burst,900,,,,,,\"No\trth\",B2\n";
    let r = read_as(&format, &format!("{head}{rows}"), Options::default()).unwrap();
    Checks::of("reading", &r).unwrap();
    assert_eq!(rules(&r), [(2, "group_unreadable"), (3, "group_unreadable"), (5, "group_unreadable")]);
    let told = &r.ledger.findings;
    assert_eq!((told[0].column.as_str(), told[0].value.as_str()), ("from", "No\trth"));
    assert_eq!((told[1].column.as_str(), told[1].outcome), ("code", Outcome::Used));
    let of: Vec<(String, String)> = r.lives.iter().map(|l| (l.supplier.to_string(), l.batch.to_string())).collect();
    let of: Vec<(&str, &str)> = of.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    assert_eq!(of, [("", "B1"), ("North", ""), ("North", "B2"), ("", "B2")]);
}

#[test]
fn hours_in_a_column_of_minutes_are_set_aside_as_minutes_in_one_of_hours_are() {
    let rows = |per_hour: [f64; 2]| -> String {
        let row = |i: usize| {
            // Every tenth row is in the other unit; the eleventh burned an hour in half a year.
            let hours = if i == 11 { 1.0 } else { 1500.0 + i as f64 };
            let cell = hours * per_hour[usize::from(i % 10 == 3)];
            format!("L{i},2kW,S,{i},2021-01-01,2021-06-01,burst,{cell},,,,,\n")
        };
        (0..40).map(row).collect()
    };
    let mut format = format("log.csv");
    let rules_of = |format: &LogFormat, body: String| {
        let reading = read_as(format, &format!("{HEADER}{body}"), Options::default()).unwrap();
        Checks::of("reading", &reading).unwrap();
        assert!(reading.ledger.counts.reconcile());
        let told: Vec<(u64, String)> = reading.ledger.findings.iter().map(|f| (f.line, f.rule.clone())).collect();
        (told, reading.ledger.findings[0].sentence.clone())
    };
    let expected = |rule: &str| {
        let few = "records.hours_few";
        [(5, rule), (13, few), (15, rule), (25, rule), (35, rule)].map(|(line, rule)| (line, rule.to_owned()))
    };
    let (told, sentence) = rules_of(&format, rows([1.0, 60.0]));
    assert_eq!(told, expected("records.minutes_for_hours"));
    assert!(sentence.contains("most likely minutes"));
    format.hours_unit = HoursUnit::Minutes;
    let (told, sentence) = rules_of(&format, rows([60.0, 1.0]));
    assert_eq!(told, expected("records.hours_for_minutes"));
    assert_eq!(sentence, "25.05 h in 151 days is a sixtieth of what lamps of this log burn: most likely hours");
    let lost = rows([60.0, 60.0]).replacen("2021-06-01,burst,90000", "2021-06-01,lost,90000", 1);
    let told = rules_of(&format, lost).0;
    let told: Vec<(u64, &str)> = told.iter().map(|(line, rule)| (*line, rule.as_str())).collect();
    assert_eq!(told, [(2, "records.reason_unmapped"), (13, "records.hours_few")]);
}

#[test]
fn places_in_two_spellings_are_taken_as_two_and_told_once() {
    let row = |n: usize, site: &str, screen: &str| {
        format!("L{n},2kW,{site},{screen},2021-01-0{n},2021-06-01,burst,{},,,,,\n", 900 + n)
    };
    let rows =
        [row(1, "North", "Hall 1"), row(2, "NORTH", "Hall 2"), row(3, "North", "hall 1"), row(4, "North", "Hall 3")];
    let r = reading(&(rows.concat() + &row(5, "Nor th", "HALL 1") + &row(6, "South", "hall 1")));
    assert_eq!(rules(&r), [(3, "place_two_spellings"), (4, "place_two_spellings")]);
    let told = &r.ledger.findings;
    assert_eq!((told[0].column.as_str(), told[0].value.as_str(), told[0].outcome), ("site", "NORTH", Outcome::Used));
    let sentence = "the site stands in 1 row as \"NORTH\" and in 3 rows as \"North\": taken as two sites";
    assert_eq!(told[0].sentence, sentence);
    assert_eq!((told[1].column.as_str(), told[1].value.as_str()), ("screen", "hall 1"));
    assert_eq!(
        told[1].sentence,
        "the screen stands in 1 row as \"hall 1\" and in 1 row as \"Hall 1\": taken as two screens"
    );
    assert_eq!(r.lives.len(), 6);
}

fn refused(format: &LogFormat, text: &str) -> Error {
    read_as(format, text, Options::default()).unwrap_err()
}

fn rules(reading: &Reading) -> Vec<(u64, &str)> {
    reading.ledger.findings.iter().map(|f| (f.line, f.rule.strip_prefix("records.").unwrap())).collect()
}

fn life(reading: &Reading, place: usize) -> LifeRecord<'_> {
    reading.lives.get(place).unwrap()
}

#[test]
fn moved_and_reused_lamps_are_one_life() {
    // Source: common practice; trade rule "lamp 0-900 h in screen 1, 900-1,400 h in screen 4 is one life ending at 1,400".
    let r = reading(
        "A,2kW,S,1,2021-01-01,2021-06-01,moved,900,,,,,\n\
         A,2kW,S,4,2021-06-01,2021-09-01,burst,1400,900,,,,\n",
    );
    assert_eq!(rules(&r), []);
    assert_eq!(r.lives.len(), 1);
    let life = r.lives.get(0).unwrap();
    assert_eq!((life.at_risk, life.low_hours, life.end_hours), (&[(0.0, 1400.0)][..], 1400.0, 1400.0));
    assert_eq!((life.ending, life.spells), (Ending::Burst, &[0, 1][..]));
    let second = r.spells.get(1).unwrap();
    assert_eq!(second.end_hours - second.fitted_hours, 500.0);
    assert_eq!(&**r.last_spell(&life).unwrap().screen, "4");
}

#[test]
fn a_gap_in_hours_makes_two_stretches_at_risk() {
    let r = reading(
        "A,2kW,S,1,2021-01-01,2021-06-01,plan,900,,,,,\n\
         A,2kW,S,4,2021-07-01,2021-09-01,burst,1400,1000,,,,\n",
    );
    assert_eq!(life(&r, 0).at_risk, [(0.0, 900.0), (1000.0, 1400.0)]);
}

#[test]
fn a_failure_at_the_age_of_entry_lies_in_the_first_step_of_the_meter() {
    let r = reading(
        "A,2kW,S,1,2021-01-01,2021-01-01,burst,0,,,,,\n\
         B,2kW,S,2,2021-01-01,2021-01-01,plan,0,,,,,\n\
         C,2kW,S,3,2019-01-01,2020-03-01,burst,700,,700,,,\n",
    );
    assert_eq!(rules(&r), []);
    let facts = |i: usize| (life(&r, i).at_risk.to_vec(), life(&r, i).low_hours, life(&r, i).end_hours);
    assert_eq!(facts(0), (vec![(0.0, 1.0)], 0.0, 1.0));
    assert_eq!(facts(1), (vec![(0.0, 0.0)], 0.0, 0.0));
    assert_eq!(facts(2), (vec![(700.0, 701.0)], 700.0, 701.0));
}

#[test]
fn failures_known_to_an_interval_and_running_lamps() {
    let r = reading(
        "A,2kW,S,1,2021-01-01,2021-06-01,dim,900,,,850,,\n\
         B,2kW,S,2,2021-01-01,2021-06-01,plan,900,,,850,,\n\
         C,2kW,S,3,2025-01-01,,,1200,,,,2025-12-20,\n",
    );
    assert_eq!(rules(&r), []);
    assert_eq!((life(&r, 0).low_hours, life(&r, 0).end_hours), (850.0, 900.0));
    assert_eq!((life(&r, 1).low_hours, life(&r, 1).end_hours), (900.0, 900.0), "a planned removal is seen working");
    assert_eq!((life(&r, 2).ending, life(&r, 2).end_hours), (Ending::Running, 1200.0));
    assert_eq!(r.spells.get(2).unwrap().read_on.to_string(), "2025-12-20");
}

#[test]
fn lamps_fitted_before_the_records_need_their_hours_at_the_start() {
    let r = reading(
        "A,2kW,S,1,2019-06-01,2020-06-01,burst,2400,,1500,,,\n\
         B,2kW,S,2,2019-06-01,2020-06-01,burst,2400,,,,,\n\
         C,2kW,S,3,2019-06-01,,,2400,,,,2020-02-01,\n",
    );
    assert_eq!(rules(&r), [(3, "entry_unknown"), (4, "entry_unknown")]);
    assert_eq!(r.lives.len(), 1);
    assert_eq!(life(&r, 0).at_risk, [(1500.0, 2400.0)]);
    assert_eq!(r.disputed.len(), 1);
    assert_eq!((&*r.disputed[0].serial, r.disputed[0].hours), ("C", Some(2400.0)));
}

#[test]
fn blank_and_unmapped_reasons_are_unknown_and_never_failures() {
    let r = reading(
        "A,2kW,S,1,2021-01-01,2021-06-01,,900,,,,,\n\
         B,2kW,S,2,2021-01-01,2021-06-01,dead?,900,,,,,\n\
         C,2kW,S,3,2021-01-01,2021-06-01, Burst\u{a0} ,900,,,,,\n",
    );
    assert_eq!(rules(&r), [(2, "reason_blank"), (3, "reason_unmapped")]);
    let endings: Vec<Ending> = r.lives.iter().map(|l| l.ending).collect();
    assert_eq!(endings, [Ending::Unknown, Ending::Unknown, Ending::Burst]);
    assert!(r.ledger.findings.iter().all(|f| f.outcome == Outcome::Used));
    assert_eq!((r.ledger.counts.rows, r.ledger.counts.used), (3, 3));
}

#[test]
fn recoding_one_reason_changes_only_its_lamps() {
    let body = "A,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\nB,2kW,S,2,2021-01-01,2021-06-01,plan,900,,,,,\n";
    let text = format!("{HEADER}{body}");
    let classes = maps().1;
    let with = |ending| {
        let reasons = ReasonMap::new([("burst", ending), ("plan", Ending::Planned)]).unwrap();
        let source = Source::Bytes(text.as_bytes());
        read_sources(&[(&format("log.csv"), source)], &reasons, &classes, Options::default(), &Run::new()).unwrap()
    };
    let (a, b) = (with(Ending::Burst), with(Ending::NotLamp));
    assert_ne!(life(&a, 0).ending, life(&b, 0).ending);
    assert_eq!(life(&a, 1), life(&b, 1));
}

#[test]
fn a_later_export_knows_how_an_open_spell_ended() {
    let (mut old, new) = (format("old.csv"), format("new.csv"));
    old.exported_on = "2021-03-01".parse().unwrap();
    let (reasons, classes) = maps();
    let old_text = format!(
        "{HEADER}A,2kW,S,1,2021-01-01,,,300,,,,2021-02-25,\nB,2kW,S,2,2021-01-01,,,310,,,,2021-02-25,\n\
         C,2kW,S,3,2021-01-01,,,320,,,,2021-02-25,\n"
    );
    let new_text =
        format!("{HEADER}A,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\nB,2kW,S,2,2021-01-01,,,2000,,,,2025-12-20,\n");
    let logs = [(&old, Source::Bytes(old_text.as_bytes())), (&new, Source::Bytes(new_text.as_bytes()))];
    let r = read_sources(&logs, &reasons, &classes, Options::default(), &Run::new()).unwrap();
    let notes: Vec<_> =
        r.ledger.findings.iter().map(|f| (f.serial.as_str(), f.rule.as_str(), f.outcome, f.file.as_str())).collect();
    assert_eq!(
        notes,
        [
            ("A", "records.duplicate", Outcome::Merged, "old.csv"),
            ("B", "records.duplicate", Outcome::Merged, "old.csv"),
            ("C", "records.absent_from_newest", Outcome::Used, "old.csv"),
        ]
    );
    let ends: Vec<_> = r.lives.iter().map(|l| (&**l.serial, l.ending, l.end_hours)).collect();
    assert_eq!(ends, [("A", Ending::Burst, 900.0), ("B", Ending::Running, 2000.0), ("C", Ending::Running, 320.0)]);
    assert_eq!(r.disputed.len(), 1);
    assert_eq!(r.ledger.by_file[0].1.merged, 2);
}

#[test]
fn copies_that_contradict_each_other_are_all_set_aside() {
    let r = reading(
        "A,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\nA,2kW,S,1,2021-01-01,2021-06-01,burst,870,,,,,\n\
         B,2kW,S,2,2021-01-01,2021-06-01,burst,900,,,,,\nB,2kW,S,2,2021-01-01,2021-06-01,burst,900,,,,,\n",
    );
    assert_eq!(rules(&r), [(2, "duplicate"), (3, "duplicate"), (5, "duplicate")]);
    assert_eq!(r.lives.len(), 1);
    assert_eq!((r.ledger.counts.used, r.ledger.counts.merged, r.ledger.counts.set_aside), (1, 1, 2));
}

#[test]
fn every_bad_cell_is_listed_with_its_place_and_strict_refuses_them_at_once() {
    let body = "A,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\n\
                ,2kW,S,2,soon,2021-06-01,burst,many,,,,,\n\
                B,2kW,S,3,2021-01-01,2021-06-01,burst,-5,,,,,\n";
    let r = reading(body);
    let places: Vec<_> = r.ledger.findings.iter().map(|f| (f.row, f.column.as_str(), f.value.as_str())).collect();
    assert_eq!(places, [(2, "in", "soon"), (2, "hours", "many"), (2, "serial", ""), (3, "hours", "-5")]);
    let strict = Options { strict: true, ..Options::default() };
    let error = read_as(&format("log.csv"), &format!("{HEADER}{body}"), strict).unwrap_err();
    assert_eq!(error.problems().len(), 4);
    assert_eq!((error.problems()[3].place.line, error.problems()[3].slug), (Some(4), "records.hours_negative"));
}

#[test]
fn open_lamps_with_unusable_hours_are_disputed() {
    let r = reading(
        "A,2kW,S,1,2025-01-01,,,lots,,,,2025-12-20,\nB,2kW,S,2,2025-01-01,,,-7,,,,2025-12-20,\n\
         C,2kW,S,3,2025-01-01,,,700,,,,2025-12-20,\n",
    );
    let seen: Vec<_> = r.disputed.iter().map(|d| (&*d.serial, &*d.screen, d.hours, d.rule.as_str())).collect();
    assert_eq!(seen, [("A", "1", None, "records.hours_unreadable"), ("B", "2", Some(-7.0), "records.hours_negative")]);
}

#[test]
fn a_screen_has_one_lamp_and_a_lamp_one_screen() {
    let r = reading(
        "A,2kW,S,1,2021-01-01,,,300,,,,2021-02-25,\n\
         B,2kW,S,1,2021-03-01,2021-06-01,burst,600,,,,,\n\
         C,2kW,S,2,2021-01-01,2021-06-01,plan,900,,,,,\n\
         C,2kW,S,3,2021-05-01,2021-08-01,plan,1500,900,,,,\n\
         D,2kW,S,4,2021-08-01,2021-06-01,plan,1500,,,,,\n",
    );
    assert_eq!(
        rules(&r),
        [(2, "removal_missing"), (4, "two_screens_at_once"), (5, "two_screens_at_once"), (6, "removed_before_fitted")]
    );
    let ends: Vec<_> = r.lives.iter().map(|l| (&**l.serial, l.ending, l.end_hours)).collect();
    assert_eq!(ends, [("A", Ending::Unknown, 300.0), ("B", Ending::Burst, 600.0)]);
}

#[test]
fn a_map_that_does_not_fit_is_refused_with_the_columns_there_are() {
    let mut wrong = format("log.csv");
    wrong.columns.hours = "huors".into();
    wrong.columns.site = "screen".into();
    let error = refused(&wrong, &format!("{HEADER}A,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\n"));
    let slugs: Vec<_> = error.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["records.column_shared", "records.column_missing"]);
    let text = error.problems()[1].to_string();
    assert!(text.contains("\"hours\"") && text.contains("serial, class, site"), "{text}");
}

#[test]
fn logs_that_cannot_be_read_are_refused_with_the_place() {
    let one = |body: &str| refused(&format("log.csv"), &format!("{HEADER}{body}"));
    assert_eq!(one("").slug(), "records.no_rows");
    assert_eq!(refused(&format("log.csv"), "").slug(), "records.empty");
    let unknown = one("A,9kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\n");
    assert_eq!((unknown.slug(), unknown.problems()[0].got.as_str()), ("records.class_not_in_study", "9kW"));
    assert_eq!(unknown.problems()[0].place.line, Some(2));
    let units =
        one("A,2kW,S,1,2021-01-01,2021-06-01,burst,900 h,,,,,\nB,2kW,S,2,2021-01-01,2021-06-01,burst,54000 min,,,,,\n");
    assert_eq!((units.slug(), units.problems()[0].place.line), ("records.hours_two_units", Some(3)));
    let hours = one("A,2kW,S,1,2021-01-01,2021-06-01,burst,\"1,234\",,,,,\n");
    assert_eq!(hours.slug(), "records.number_two_readings");
    assert!(hours.to_string().contains("1.234") && hours.to_string().contains("1234"), "{hours}");
    let mut undeclared = format("log.csv");
    undeclared.dates = None;
    let days = refused(&undeclared, &format!("{HEADER}A,2kW,S,1,03/04/2021,14/06/2021,burst,900,,,,,\n"));
    assert_eq!((days.slug(), days.problems().len()), ("records.date_two_readings", 1));
    let wrong_order = one("A,2kW,S,1,03/04/2021,14/06/2021,burst,900,,,,,\n");
    assert_eq!(wrong_order.slug(), "records.no_usable_rows");
    assert_eq!(wrong_order.problems()[1].slug, "records.date_unreadable");
    let (reasons, classes) = maps();
    let run = Run::new();
    let missing = |file: &str, options| {
        read(&[format(file)], std::path::Path::new("."), &reasons, &classes, options, &run).unwrap_err()
    };
    assert_eq!(missing("no/such/log.csv", Options::default()).slug(), "records.file_missing");
    assert_eq!(missing("no/such/log.csv", Options::default()).kind(), Kind::Io);
    assert_eq!(missing("../log.csv", Options::default()).slug(), "records.file_outside");
    let outside = Options { outside_folder: true, ..Options::default() };
    assert_eq!(missing("../no_such_log.csv", outside).slug(), "records.file_missing");
    assert_eq!(read_sources(&[], &reasons, &classes, outside, &run).unwrap_err().slug(), "records.no_logs");
}

#[cfg(unix)]
#[test]
fn links_out_of_the_folder_pipes_and_devices_are_refused() {
    let ((reasons, classes), run) = (maps(), Run::new());
    let place = crate::study::scratch("links");
    let folder = place.join("study");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(place.join("secret.csv"), "a,b\n1,2\n").unwrap();
    std::os::unix::fs::symlink(place.join("secret.csv"), folder.join("link.csv")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", folder.join("zero.csv")).unwrap();
    assert!(std::process::Command::new("mkfifo").arg(folder.join("pipe.csv")).status().unwrap().success());
    let refused = |file: &str, outside_folder: bool| {
        let options = Options { outside_folder, ..Options::default() };
        read(&[format(file)], &folder, &reasons, &classes, options, &run).unwrap_err()
    };
    assert_eq!(refused("link.csv", false).slug(), "records.file_outside");
    assert_eq!(refused("link.csv", true).slug(), "records.column_missing");
    assert_eq!(refused("zero.csv", true).slug(), "records.file_unreadable");
    assert_eq!(refused("pipe.csv", false).slug(), "records.file_unreadable");
}

#[test]
fn columns_in_memory_read_like_a_file() {
    let text = |values: &[&str]| Values::Text(values.iter().map(|v| (!v.is_empty()).then(|| (*v).into())).collect());
    let day = |d: &str| d.parse().ok();
    let columns: Vec<Column> = [
        ("serial", text(&["A", "B"])),
        ("class", text(&["2kW", "2kW"])),
        ("site", text(&["S", "S"])),
        ("screen", Values::Number(vec![Some(1.0), Some(2.0)])),
        ("in", Values::Date(vec![day("2021-01-01"), day("2025-01-01")])),
        ("out", Values::Date(vec![day("2021-06-01"), None])),
        ("why", text(&["burst", ""])),
        ("hours", Values::Number(vec![Some(900.0), Some(1200.0)])),
        ("at", Values::Number(vec![None, None])),
        ("seen", Values::Number(vec![None, None])),
        ("good", Values::Number(vec![None, None])),
        ("read", Values::Date(vec![None, day("2025-12-20")])),
        ("strikes", Values::Number(vec![None, None])),
    ]
    .into_iter()
    .map(|(name, values)| Column { name: name.into(), values })
    .collect();
    let (reasons, classes) = maps();
    let of = |columns: &[Column]| {
        let source = Source::Columns(columns);
        read_sources(&[(&format("log.csv"), source)], &reasons, &classes, Options::default(), &Run::new())
    };
    let memory = of(&columns).unwrap();
    let file = reading("A,2kW,S,1,2021-01-01,2021-06-01,burst,900,,,,,\nB,2kW,S,2,2025-01-01,,,1200,,,,2025-12-20,\n");
    assert_eq!(memory.lives, file.lives);
    let mut broken = columns;
    broken[7].values = Values::Number(vec![Some(f64::NAN), Some(1200.0)]);
    let r = of(&broken).unwrap();
    assert_eq!((r.ledger.findings[0].rule.as_str(), r.ledger.findings[0].row), ("records.hours_unreadable", 1));
}

#[test]
fn what_sets_a_row_aside_speaks_for_a_lamp_in_dispute() {
    // A running lamp without a day of reading whose hours cannot be: the greater fault is the reason.
    let r = reading(
        "A,2kW,S,1,2025-12-20,,,90000,,,,,\n\
         B,2kW,S,2,2025-01-01,,,900,,,,,\n\
         C,2kW,S,3,2025-01-01,,,900,,,,2025-12-27,\n",
    );
    assert_eq!(rules(&r), [(2, "hours_impossible"), (2, "reading_undated"), (3, "reading_undated")]);
    let due: Vec<_> = r.disputed.iter().map(|d| (&*d.serial, d.rule.as_str(), d.read_on)).collect();
    assert_eq!(due, [("A", "records.hours_impossible", None), ("B", "records.reading_undated", None)]);
    assert_eq!(r.spells.iter().map(|s| &**s.serial).collect::<Vec<_>>(), ["B", "C"]);
}

#[test]
fn a_log_of_which_the_rules_leave_nothing_is_refused_with_the_reason_and_the_column_map() {
    // Fitting and removal exchanged in the map: every row can be read and none can be.
    let mut exchanged = format("log.csv");
    std::mem::swap(&mut exchanged.columns.fitted_on, &mut exchanged.columns.removed_on);
    let spells = |n: u32| -> Vec<String> {
        (1..=n).map(|i| format!("A{i},2kW,S,{i},2021-01-01,2021-06-01,burst,900,,,,,\n")).collect()
    };
    let rows = spells(11).concat() + "B,2kW,S,20,2021-01-01,2021-06-01,burst,-900,,,,,\n";
    let error = refused(&exchanged, &format!("{HEADER}{rows}"));
    assert_eq!((error.kind(), error.slug(), error.problems().len()), (Kind::Input, "records.no_usable_rows", 13));
    let each: Vec<_> = error.problems()[1..].iter().map(|p| (p.slug, p.place.row, p.got.as_str())).collect();
    assert_eq!(each[0], ("records.removed_before_fitted", Some(1), "2021-01-01"));
    assert_eq!(each.iter().map(|p| p.1).collect::<Vec<_>>(), (1..=12).map(Some).collect::<Vec<_>>());
    let problem = &error.problems()[0];
    assert_eq!(problem.place.input, "log.csv");
    assert_eq!(
        problem.got,
        "12 rows of which none is left; 12 fall for records.removed_before_fitted, such as line 2: the lamp is removed on \
         2021-01-01, before it was fitted on 2021-06-01"
    );
    assert!(problem.expected.contains("fitted_on = \"out\", removed_on = \"in\", reason = \"why\""), "{error}");
    // Beside a good log, a whole log without a usable row is refused too; a few disputed lamps are not.
    let (reasons, classes) = maps();
    let good = format!("{HEADER}G,2kW,T,1,2021-01-01,2021-06-01,burst,900,,,,,\n");
    let few = format!("{HEADER}{}", rows.lines().take(9).fold(String::new(), |all, row| all + row + "\n"));
    let both = |second: &str| {
        let logs = [(&format("good.csv"), good.as_str()), (&exchanged, second)];
        let logs = logs.map(|(format, text)| (format, Source::Bytes(text.as_bytes())));
        read_sources(&logs, &reasons, &classes, Options::default(), &Run::new())
    };
    assert_eq!(both(&format!("{HEADER}{rows}")).unwrap_err().problems()[0].place.input, "log.csv");
    assert_eq!(both(&few).unwrap().ledger.counts.set_aside, 9);
    // One row in fifty may be left by chance, here a lamp that failed on its first day; one in forty is more than that.
    let many =
        |n: u32| both(&format!("{HEADER}{}B,2kW,S,x,2021-01-01,2021-01-01,burst,2,,,,,\n", spells(n - 1).concat()));
    let error = many(50).unwrap_err();
    assert_eq!(error.problems()[0].what, "almost no row of the log can be used");
    assert!(error.problems()[0].got.starts_with("50 rows of which 1 is left; 49 fall for"), "{error}");
    // Of a long log the first rows are named and the rest counted.
    let error = many(1200).unwrap_err();
    assert_eq!((error.problems().len(), error.problems()[50].place.row), (52, Some(50)));
    assert_eq!(error.problems()[51].what, "1,149 more rows of the log cannot be used either");
    assert_eq!(many(40).unwrap().ledger.counts.used, 2);
}

#[test]
fn a_log_that_cannot_be_read_at_all_says_the_most_frequent_reason() {
    let text = "A,2kW,S,1,popped,2021-06-01,burst,900,,,,,\nB,2kW,S,1,popped,2021-06-01,burst,,,,,,\n";
    let error = refused(&format("log.csv"), &format!("{HEADER}{text}"));
    let first = &error.problems()[0];
    assert!(first.got.starts_with("2 rows of which none is left; 2 fall for records.date_unreadable, such as line 2:"));
    assert!(first.expected.contains("fitted_on = \"in\""), "{error}");
    // Every fault of the first fifty rows, here two in each, and how many rows more.
    let rows: Vec<String> = (1..=60).map(|i| format!("A{i},2kW,S,{i},popped,2021-06-01,burst,many,,,,,\n")).collect();
    let error = refused(&format("log.csv"), &format!("{HEADER}{}", rows.concat()));
    assert_eq!((error.problems().len(), error.problems()[100].place.row), (102, Some(50)));
    assert_eq!(error.problems()[101].what, "10 more rows of the log cannot be used either");
    // Of a long log only the first faults are kept: their number is a least one.
    let rows: Vec<String> = (1..=300).map(|i| format!("A{i},2kW,S,{i},popped,popped,burst,900,,,,,\n")).collect();
    let got = refused(&format("log.csv"), &format!("{HEADER}{}", rows.concat())).problems()[0].got.clone();
    assert!(got.starts_with("300 rows of which none is left; at least 250 fall for records.date_unreadable"), "{got}");
}

#[test]
fn a_status_beside_lamps_that_burn_is_mapped_to_running_and_contradicts_a_day_of_removal() {
    let rows = "A1,2kW,S,1,2021-01-01,,In  use,900,,,,2021-06-01,\n\
                A2,2kW,S,2,2021-01-01,,in use,800,,,,2021-06-01,\n\
                A3,2kW,S,3,2021-01-01,2021-06-01,in use,700,,,,,\n\
                A4,2kW,S,4,2021-01-01,2021-06-01,burst,600,,,,,\n";
    let read = |reasons: &[(&str, Ending)]| {
        let (_, classes) = maps();
        let text = format!("{HEADER}{rows}");
        let format = format("log.csv");
        let sources = [(&format, Source::Bytes(text.as_bytes()))];
        let reading = read_sources(
            &sources,
            &ReasonMap::new(reasons.iter().copied()).unwrap(),
            &classes,
            Options::default(),
            &Run::new(),
        );
        let reading = reading.unwrap();
        Checks::of("reading", &reading).unwrap();
        reading
    };
    // Without a line for it the finding says what to do.
    let before = read(&[("burst", Ending::Burst)]);
    assert_eq!(before.ledger.counts.set_aside, 2);
    let said = &before.ledger.findings[0];
    assert_eq!(said.rule, "records.removal_undated");
    let words =
        "the reason \"In  use\" is given without a day of removal; a word for lamps that burn is mapped to running";
    assert_eq!(said.sentence, words);
    let after = read(&[("burst", Ending::Burst), ("in use", Ending::Running)]);
    assert_eq!(rules(&after), [(4, "running_removed")]);
    let endings: Vec<Ending> = after.spells.iter().map(|s| s.ending).collect();
    assert_eq!(endings, [Ending::Running, Ending::Running, Ending::Burst]);
    assert_eq!(after.spells.iter().next().unwrap().reason, "In  use");
}

#[test]
fn far_too_few_hours_in_one_row_of_a_usual_log_are_doubted() {
    // Forty lamps of about 8 h a day, and one more.
    let told = |days: u64, hours: f64| {
        let first = chrono::NaiveDate::from_ymd_opt(2024, 1, 1).unwrap();
        let mut rows = String::new();
        for i in 0..41_u64 {
            let (days, hours) = if i == 40 { (days, hours) } else { (150 + i, 8.0 * (150 + i) as f64) };
            let removed = first + chrono::Days::new(days);
            writeln!(rows, "L{i},2.0 kW,S,{i},2024-01-01,{removed},burst,{hours},,").unwrap();
        }
        let reading = super::column_map::read_rows(&super::column_map::plain(), "e", &rows);
        relamp::base::sound::Checks::of("ledger", &reading.ledger).unwrap();
        assert_eq!(reading.ledger.counts.used, 41);
        let own = reading.ledger.findings.iter().filter(|f| f.rule == "records.hours_few");
        own.map(|f| (f.line, f.sentence.clone())).collect::<Vec<_>>()
    };
    let said =
        "3 h in 181 days, where lamps of this log burn 8 h a day: did the screen stand still, or is a figure wrong?";
    assert_eq!(told(181, 3.0), [(42, said.to_owned())]);
    // A twentieth of 8 h a day is 0.4 h a day: one show at each weekend is no slip, and neither is a short time.
    assert_eq!(told(100, 39.9).len(), 1);
    assert_eq!(told(100, 40.1), []);
    assert_eq!(told(59, 3.0), []);
    assert_eq!(told(60, 3.0).len(), 1);
}
