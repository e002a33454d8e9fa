//! Stock counts: every row used or set aside, each with its place and rule.

use std::collections::BTreeMap;

use relamp::base::saved::{self, Format};
use relamp::records::{ClassNames, Column, Ending, NumberFormat, Outcome, Source, TableFormat, Values};
use relamp::stock::{CountRules, StockCount, read_stock_count};

fn day(text: &str) -> chrono::NaiveDate {
    text.parse().unwrap()
}

fn rules() -> CountRules {
    CountRules {
        classes: ClassNames::new([("2 kW", vec!["2000 W"]), ("4 kW", vec![])]).unwrap(),
        places: ["Depot North", "Site 7", "Site 8"].map(str::to_owned).to_vec(),
        lead_time_days: BTreeMap::from([("4 kW".to_owned(), 21)]),
        limit_hours: BTreeMap::from([("2 kW".to_owned(), 2000.0)]),
        ..CountRules::new(day("2026-01-31"))
    }
}

fn read(text: &str) -> relamp::Result<StockCount> {
    read_stock_count("count.csv", Source::Bytes(text.as_bytes()), &TableFormat::default(), &BTreeMap::new(), &rules())
}

const HEAD: &str = "lamp_class,place,on_hand,on_order,due_on,serial,age_hours,ending\n";

#[test]
fn a_clean_count_has_no_findings() {
    let count = read(&format!(
        "{HEAD}2 kW,Depot North,12,6,2026-02-20,,,\n\
         2000 W,site 7,1,,,,,\n\
         4 kW,Depot North,0,,,,,\n\
         4 kW,Depot North,,3,,,,\n\
         2 kW,Site 7,,,,U1,1400.5,moved\n\
         2 kW,Site 8,,,,N1,0,\n\
         2 kW,Site 8,1,,,N2,0,\n"
    ))
    .unwrap();
    assert_eq!(count.ledger.findings, []);
    assert_eq!((count.ledger.counts.rows, count.ledger.counts.used), (7, 7));
    assert!(count.ledger.counts.reconcile() && count.warning().is_empty());
    // Names are those declared; lamps by serial add up.
    assert_eq!(count.lamps_on_hand("2 kW", None).unwrap(), 15);
    assert_eq!(count.lamps_on_hand("2 kW", Some("Site 8")).unwrap(), 2);
    assert_eq!(count.lamps_on_hand("2 kW", Some("Site 7")).unwrap(), 1);
    assert_eq!(count.lamps_due_by("2 kW", None, day("2026-02-19")).unwrap(), 0);
    assert_eq!(count.lamps_due_by("2 kW", None, day("2026-02-20")).unwrap(), 6);
    // The lead time of the class stands for the day that the count does not give.
    assert_eq!((count.on_order[1].due_on, count.on_order[1].by_lead_time), (Some(day("2026-02-21")), true));
    let used = &count.used_lamps[0];
    assert_eq!((used.age_hours, used.ending, used.place.as_str()), (1400.5, Ending::Moved, "Site 7"));
    let expected = "lamp_class,place,on_hand,on_order,next_due_on,without_due_day,used_lamps\n\
        2 kW,Depot North,12,6,2026-02-20,0,0\n2 kW,Site 7,1,0,,0,1\n2 kW,Site 8,2,0,,0,0\n\
        4 kW,Depot North,0,3,2026-02-21,0,0\n";
    assert_eq!(count.to_csv(), expected);
}

/// What no row in use names was not counted: no number is given for it.
#[test]
fn a_class_or_a_place_that_was_not_counted_is_no_nought() {
    let count =
        read(&format!("{HEAD}2 kW,Depot North,12,6,2026-02-20,,,\n4 kW,Site 7,-1,,,,,\n2 kW,Site 8,1,,,,,\n")).unwrap();
    let of = |class, place| count.lamps_on_hand(class, place).unwrap_err();
    let told = of("2 kw", Some("Depot N"));
    let slugs: Vec<_> = told.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["stock.count_class", "stock.count_place"]);
    let text = told.to_string();
    for part in
        ["lamp_class", "\"2 kw\"", "the nearest is \"2 kW\"", "place", "\"Depot N\"", "\"Site 8\"", "1 row set aside"]
    {
        assert!(text.contains(part), "{part}: {text}");
    }
    // The one row of the class was set aside: there is no number of it.
    assert_eq!(of("4 kW", None).slug(), "stock.count_class");
    assert_eq!(of("2 kW", Some("Site 7")).slug(), "stock.count_place");
    assert_eq!(count.lamps_due_by("3 kW", None, day("2026-12-31")).unwrap_err().slug(), "stock.count_class");
    // Both stand in the count, if not together.
    assert_eq!(count.lamps_due_by("2 kW", Some("Site 8"), day("2026-12-31")).unwrap(), 0);
}

/// Rows with one fault each: the row, its rule, the column it stands in, and whether it is set aside.
const FAULTS: [(&str, &str, &str, bool); 22] = [
    (",Site 7,1,,,,,", "stock.class_blank", "lamp_class", true),
    ("9 kW,Site 7,1,,,,,", "stock.class_unknown", "lamp_class", true),
    ("2 kW,,1,,,,,", "stock.place_blank", "place", true),
    ("2 kW,Site 9,1,,,,,", "stock.place_unknown", "place", true),
    ("2 kW,Site 7,-1,,,,,", "stock.count_negative", "on_hand", true),
    ("2 kW,Site 7,,-2,2026-03-01,,,", "stock.count_negative", "on_order", true),
    ("2 kW,Site 7,1.5,,,,,", "stock.count_not_whole", "on_hand", true),
    ("2 kW,Site 7,many,,,,,", "stock.count_unreadable", "on_hand", true),
    ("2 kW,Site 7,2e9,,,,,", "stock.count_unreadable", "on_hand", true),
    ("2 kW,Site 7,,2,soon,,,", "stock.due_unreadable", "due_on", true),
    ("2 kW,Site 7,,,,,,", "stock.nothing_counted", "on_hand", true),
    (",,,,,,,", "stock.row_blank", "", true),
    ("2 kW,Site 7,1", "stock.row_cells", "", true),
    ("2 kW,Site 7,,2,,,,", "stock.lead_time_missing", "due_on", false),
    ("2 kW,Site 7,,2,2026-01-01,,,", "stock.due_passed", "due_on", false),
    ("2 kW,Site 7,,,,U1,,moved", "stock.used_hours", "age_hours", true),
    ("2 kW,Site 7,,,,U1,-4,moved", "stock.used_hours", "age_hours", true),
    ("2 kW,Site 7,,,,U1,2000,moved", "stock.used_at_limit", "age_hours", true),
    ("2 kW,Site 7,,,,U1,900,flicker", "stock.used_ending", "ending", true),
    ("2 kW,Site 7,,,,U1,900,", "stock.used_ending", "ending", true),
    ("2 kW,Site 7,,,,,900,moved", "stock.used_serial_blank", "serial", true),
    ("2 kW,Site 7,3,,,U1,900,moved", "stock.serial_not_one", "on_hand", true),
];

#[test]
fn each_fault_is_one_finding_with_its_place() {
    for (row, rule, column, aside) in FAULTS {
        let count = read(&format!("{HEAD}2 kW,Depot North,4,,,,,\n\n{row}\n")).unwrap();
        let findings = &count.ledger.findings;
        assert_eq!(findings.len(), 1, "{row}: {findings:?}");
        let f = &findings[0];
        let outcome = if aside { Outcome::SetAside } else { Outcome::Used };
        assert_eq!((f.rule.as_str(), f.column.as_str(), f.outcome), (rule, column, outcome), "{row}");
        assert_eq!((f.file.as_str(), f.row, f.line), ("count.csv", 2, 4), "{row}");
        let cell = HEAD.trim().split(',').position(|c| c == column).map_or("", |i| row.split(',').nth(i).unwrap());
        assert_eq!(f.value, cell, "{row}");
        assert!(!f.sentence.is_empty());
        let counts = count.ledger.counts;
        assert_eq!((counts.rows, counts.used, counts.set_aside), (2, 1 + u64::from(!aside), u64::from(aside)));
        let format = Format::new("stock_count", 1);
        assert_eq!(saved::load::<StockCount>(format, &saved::save(format, &count).unwrap()).unwrap(), count);
    }
}

#[test]
fn the_first_count_of_a_place_stands() {
    let count = read(&format!(
        "{HEAD}2 kW,Site 7,4,,,,,\n2000 W,SITE  7,5,,,,,\n2 kW,Site 7,,2,2026-03-01,,,\n2 kW,Site 7,,2,2026-03-01,,,\n\
         2 kW,Site 7,,,,N1,0,\n2 kW,Site 8,,,,N2,0,\n2 kW,Site 8,,,,n2,0,\n2 kW,Site 8,3,,,,,\n"
    ))
    .unwrap();
    let told: Vec<_> = count.ledger.findings.iter().map(|f| (f.row, f.rule.as_str(), f.outcome)).collect();
    let expected = [
        (2, "stock.place_twice", Outcome::SetAside),
        (4, "stock.order_twice", Outcome::Used),
        (5, "stock.place_twice", Outcome::SetAside),
        (7, "stock.serial_twice", Outcome::SetAside),
        (8, "stock.place_twice", Outcome::SetAside),
    ];
    assert_eq!(told, expected);
    assert!(count.ledger.findings[0].sentence.contains("row 1"));
    assert_eq!(
        (count.lamps_on_hand("2 kW", None).unwrap(), count.lamps_due_by("2 kW", None, day("2026-12-31")).unwrap()),
        (5, 4)
    );
    assert!(count.warning().starts_with("4 of 8 rows were set aside"));
}

#[test]
fn a_row_with_many_faults_tells_them_all() {
    let count = read(&format!("{HEAD}9 kW,Site 9,-1,1.5,soon,,,\n")).unwrap();
    let rules: Vec<_> = count.ledger.findings.iter().map(|f| f.rule.as_str()).collect();
    let expected = [
        "stock.class_unknown",
        "stock.count_negative",
        "stock.count_not_whole",
        "stock.due_unreadable",
        "stock.place_unknown",
    ];
    assert_eq!(rules, expected);
    assert_eq!(count.ledger.counts.set_aside, 1);
}

#[test]
fn columns_and_conventions_are_the_owners() {
    let text = "Lampe;Ort;Bestand\n2 kW;Site 7;1.200\n";
    let format = TableFormat {
        delimiter: ';',
        numbers: NumberFormat { decimal: ',', thousands: Some('.') },
        ..TableFormat::default()
    };
    let called = [("lamp_class", "Lampe"), ("place", "Ort"), ("on_hand", "Bestand")];
    let called: BTreeMap<_, _> = called.map(|(a, b)| (a.to_owned(), b.to_owned())).into();
    let count = read_stock_count("bestand.csv", Source::Bytes(text.as_bytes()), &format, &called, &rules()).unwrap();
    assert_eq!(count.lamps_on_hand("2 kW", None).unwrap(), 1200);
    let columns = [
        Column { name: "lamp_class".into(), values: Values::Text(vec![Some("4 kW".into()), Some("2 kW".into())]) },
        Column { name: "place".into(), values: Values::Text(vec![Some("Site 7".into()), None]) },
        Column { name: "on_hand".into(), values: Values::Number(vec![Some(2.0), Some(f64::NAN)]) },
        Column { name: "due_on".into(), values: Values::Date(vec![None, None]) },
    ];
    let frame = Source::Columns(&columns);
    let count = read_stock_count("frame", frame, &TableFormat::default(), &BTreeMap::new(), &rules()).unwrap();
    let told: Vec<_> = count.ledger.findings.iter().map(|f| (f.row, f.line, f.rule.as_str())).collect();
    assert_eq!(told, [(2, 0, "stock.count_unreadable"), (2, 0, "stock.place_blank")]);
    assert_eq!(count.lamps_on_hand("4 kW", Some("Site 7")).unwrap(), 2);
}

#[test]
fn a_table_that_is_no_count_is_refused() {
    let slug = |text: &str| read(text).unwrap_err().slug();
    assert_eq!(slug("lamp_class,place\n2 kW,Site 7\n"), "stock.count_columns");
    assert_eq!(slug(HEAD), "stock.count_no_rows");
    assert_eq!(slug("lamp_class,on_hand\n2 kW,1\n"), "records.column_missing");
    assert_eq!(slug("lamp_class,place,onhand\n2 kW,Site 7,1\n"), "records.column_misspelt");
    let rules = CountRules { limit_hours: BTreeMap::from([("2 kW".to_owned(), f64::NAN)]), ..rules() };
    let source = Source::Bytes(b"lamp_class,place,on_hand\n2 kW,Site 7,1\n");
    let error = read_stock_count("c", source, &TableFormat::default(), &BTreeMap::new(), &rules).unwrap_err();
    assert_eq!(error.slug(), "stock.count_limit");
}

#[test]
fn an_edited_count_is_refused_by_field() {
    let format = Format::new("stock_count", 1);
    let count = read(&format!("{HEAD}2 kW,Depot North,12,6,2026-02-20,,,\n2 kW,Site 7,,,,U1,1400.5,moved\n")).unwrap();
    let text = saved::save(format, &count).unwrap();
    for (from, to, field) in [
        ("\"age_hours\":1400.5", "\"age_hours\":-1.0", "used_lamps[0].age_hours"),
        ("\"ending\":\"moved\"", "\"ending\":\"burst\"", "used_lamps[0].ending"),
        ("\"used\":2", "\"used\":1", "ledger.counts.rows"),
        ("\"lamps\":6", "\"lamps\":0", "on_order[0].lamps"),
    ] {
        assert!(text.contains(from), "{from}");
        let error = saved::load::<StockCount>(format, &text.replacen(from, to, 1)).unwrap_err();
        assert_eq!(error.problems()[0].place.column.as_deref(), Some(field), "{error}");
    }
}

#[test]
fn a_stock_list_opens_safely() {
    let rules = CountRules::new(day("2026-01-31"));
    let source = Source::Bytes(b"lamp_class,place,on_hand\n=2 kW,@home,1\n-3,+x,2\n");
    let count = read_stock_count("c", source, &TableFormat::default(), &BTreeMap::new(), &rules).unwrap();
    let text = count.to_csv();
    assert!(text.contains("\n-3,'+x,2,") && text.contains("\n'=2 kW,'@home,1,"), "{text}");
}
