//! Row rules, canonical order, merging, views and the saved form.

use proptest::prelude::*;
use relamp::family::family;
use relamp::fit::{FitOptions, fit};
use relamp::lives::{Cluster, CovariateValue, Group, LifeOptions, RecordCovariate, Rows, Tally, from_records};
use relamp::records::{Column, Ending, LifeRecord, Lives, Outcome, Spell, Spells, Values, Word};

const INF: f64 = f64::INFINITY;

fn tally(rows: &Rows) -> Tally {
    Tally::from_rows(rows).unwrap().0
}

/// Reads the bits of every column: equality of floats would take -0.0 for 0.0.
fn bits(t: &Tally) -> Vec<u64> {
    let mut out: Vec<u64> = t.low().iter().chain(t.high()).map(|x| x.to_bits()).collect();
    for column in [t.entry(), t.upper()] {
        out.push(column.map_or(0, <[f64]>::len) as u64);
        out.extend(column.unwrap_or_default().iter().map(|x| x.to_bits()));
    }
    out.extend(t.group().iter().map(|&g| u64::from(g)));
    out.extend(t.ending().iter().map(|&e| u64::from(e)));
    out.extend(t.count());
    out
}

fn slugs(rows: &Rows) -> Vec<(&'static str, u64, String)> {
    let error = Tally::from_rows(rows).unwrap_err();
    error
        .problems()
        .iter()
        .map(|p| (p.slug, p.place.row.unwrap_or(0), p.place.column.clone().unwrap_or_default()))
        .collect()
}

#[test]
fn every_bad_row_is_named_at_once() {
    let nan = f64::NAN;
    let cases = [
        (-5.0, -5.0, 0.0, "lives.age_negative", "low"),
        (nan, nan, 0.0, "lives.age_not_a_number", "low"),
        (INF, INF, 0.0, "lives.age_infinite", "low"),
        (900.0, 700.0, 0.0, "lives.low_above_high", "low"),
        (500.0, 500.0, 500.0, "lives.entry_not_before_failure", "entry"),
        (600.0, INF, 650.0, "lives.entry_after_censoring", "entry"),
        (100.0, 200.0, 200.0, "lives.entry_not_before_interval_end", "entry"),
        (100.0, nan, 0.0, "lives.age_not_a_number", "high"),
        (100.0, INF, -1.0, "lives.age_negative", "entry"),
        (100.0, INF, INF, "lives.age_infinite", "entry"),
    ];
    let rows = Rows {
        low: cases.iter().map(|c| c.0).collect(),
        high: cases.iter().map(|c| c.1).collect(),
        entry: Some(cases.iter().map(|c| c.2).collect()),
        ..Rows::default()
    };
    let expected: Vec<_> = cases.iter().zip(1..).map(|(c, row)| (c.3, row, c.4.to_owned())).collect();
    assert_eq!(slugs(&rows), expected);
}

#[test]
fn columns_of_other_lengths_hide_no_bad_row() {
    let rows = Rows {
        low: vec![-1.0, 2.0, 9.0, 500.0, -3.0, 7.0],
        high: vec![-1.0, 2.0, 8.0, 500.0, INF],
        entry: Some(vec![0.0, 0.0, 0.0, 600.0]),
        upper: Some(vec![INF, 1.5, INF, INF, INF, 900.0]),
        count: Some(vec![1]),
        ..Rows::default()
    };
    let named = |row, slug, column: &str| (slug, row, column.to_owned());
    assert_eq!(
        slugs(&rows),
        [
            named(0, "lives.length", "high"),
            named(0, "lives.length", "entry"),
            named(0, "lives.length", "count"),
            named(1, "lives.age_negative", "low"),
            named(2, "lives.failure_above_upper", "upper"),
            named(3, "lives.low_above_high", "low"),
            named(4, "lives.entry_not_before_failure", "entry"),
            named(5, "lives.age_negative", "low"),
        ]
    );
    // What a column does not say breaks no rule.
    let good = Rows {
        low: vec![100.0, 200.0, 300.0],
        high: vec![100.0],
        entry: Some(vec![]),
        upper: Some(vec![500.0; 3]),
        ending: Some(vec![Ending::Burst, Ending::Running, Ending::Running]),
        group: Some(vec![1]),
        groups: vec![Group::default(), Group::default()],
        covariates: vec![],
        count: Some(vec![1, 1]),
    };
    assert!(slugs(&good).iter().all(|(slug, ..)| *slug == "lives.length"), "{:?}", slugs(&good));
}

#[test]
fn columns_of_other_lengths_and_counts_that_are_none_are_named_at_once() {
    use relamp::records::Ending;
    let rows = Rows {
        low: vec![1.0, 2.0],
        high: vec![1.0],
        entry: Some(vec![0.0; 3]),
        upper: Some(vec![]),
        ending: Some(vec![Ending::Burst]),
        group: Some(vec![0; 5]),
        groups: vec![Group::default()],
        covariates: vec![],
        count: Some(vec![1]),
    };
    let error = Tally::from_rows(&rows).unwrap_err();
    let columns: Vec<&str> = error.problems().iter().filter_map(|p| p.place.column.as_deref()).collect();
    assert_eq!(columns, ["high", "entry", "upper", "ending", "group", "count"], "{error}");
    assert!(error.problems().iter().all(|p| p.slug == "lives.length"));
    let bad = [1.0, -1.0, 0.5, f64::NAN, 3.0, INF, -0.25];
    let error = Rows::whole_counts(&bad).unwrap_err();
    let named: Vec<u64> = error.problems().iter().filter_map(|p| p.place.row).collect();
    assert_eq!(named, [2, 3, 4, 6, 7]);
    assert!(error.problems().iter().all(|p| p.slug == "lives.count_not_whole"));
    // Windows: a censored row has none, and a failure lies before its end, after its entry.
    let rows = Rows {
        low: vec![100.0, 100.0, 300.0, 100.0],
        high: vec![100.0, INF, 300.0, 250.0],
        upper: Some(vec![200.0; 4]),
        ..Rows::default()
    };
    let found: Vec<u64> = Tally::from_rows(&rows).unwrap_err().problems().iter().filter_map(|p| p.place.row).collect();
    assert_eq!(found, [2, 3, 4]);
}

#[test]
fn edges_that_are_allowed_are_kept() {
    // Failure at 0, censoring at its entry, a count of 0, minus zero, a left-censored row with late entry.
    let rows = Rows {
        low: vec![0.0, 700.0, 50.0, -0.0, 0.0],
        high: vec![-0.0, INF, INF, INF, 300.0],
        entry: Some(vec![0.0, 700.0, -0.0, 0.0, 100.0]),
        count: Some(vec![1, 2, 0, 3, 4]),
        ..Rows::default()
    };
    let (t, notes) = Tally::from_rows(&rows).unwrap();
    assert!(notes.is_empty());
    assert_eq!(t.low(), [0.0, 0.0, 50.0, 100.0, 700.0]);
    assert_eq!(t.high(), [0.0, INF, INF, 300.0, INF]);
    assert_eq!(t.entry().unwrap(), [0.0, 0.0, 0.0, 100.0, 700.0]);
    assert_eq!(t.count(), [1, 3, 0, 4, 2]);
    assert!(t.low().iter().chain(t.high()).all(|x| x.is_sign_positive()));
    assert_eq!((t.lamps(), t.failures(), t.exposure_hours()), (10, 5, 0.0));
    // The lamps that came and went at 700 h were not watched there.
    assert_eq!((t.oldest_at_risk(), t.oldest_failure()), (Some(100.0), Some(300.0)));
}

#[test]
fn an_entry_inside_an_interval_raises_low_with_a_note() {
    let rows = Rows { low: vec![100.0], high: vec![300.0], entry: Some(vec![150.0]), ..Rows::default() };
    let (t, notes) = Tally::from_rows(&rows).unwrap();
    assert_eq!(t.low(), [150.0]);
    assert_eq!((notes.len(), notes[0].slug), (1, "lives.low_raised_to_entry"));
}

fn group(stratum: &str, cluster: &str) -> Group {
    Group { stratum: stratum.to_owned(), cluster: cluster.to_owned(), ..Group::default() }
}

/// Rows of every kind on a coarse grid, so that equal rows are common.
fn any_rows() -> impl Strategy<Value = Rows> {
    let row = (1_u8..12, 0_u8..4, 0_u8..6, prop::bool::ANY, 0_usize..12, 0_u32..3, 0_u64..4);
    prop::collection::vec(row, 0..60).prop_map(|rows| {
        let mut out = Rows {
            entry: Some(vec![]),
            upper: Some(vec![]),
            ending: Some(vec![]),
            group: Some(vec![]),
            groups: vec![group("b", ""), group("a", "x"), group("a", "")],
            count: Some(vec![]),
            ..Rows::default()
        };
        for (low, kind, entry, windowed, ending, g, count) in rows {
            let low = f64::from(low) * 0.5;
            let high = [low, INF, low + 1.0, INF][usize::from(kind)];
            let ending = Ending::ALL[ending];
            let failed = high < INF;
            out.low.push(low);
            out.high.push(high);
            out.entry.as_mut().unwrap().push((f64::from(entry) * 0.4).min(if failed { low * 0.5 } else { low }));
            out.upper.as_mut().unwrap().push(if failed && windowed { 20.0 } else { INF });
            out.ending.as_mut().unwrap().push(if failed && ending == Ending::Running { Ending::Dim } else { ending });
            out.group.as_mut().unwrap().push(g);
            out.count.as_mut().unwrap().push(count);
        }
        out
    })
}

fn pick(rows: &Rows, at: &[usize]) -> Rows {
    fn take<T: Copy>(column: Option<&Vec<T>>, at: &[usize]) -> Option<Vec<T>> {
        column.map(|c| at.iter().map(|&i| c[i]).collect())
    }
    Rows {
        low: at.iter().map(|&i| rows.low[i]).collect(),
        high: at.iter().map(|&i| rows.high[i]).collect(),
        entry: take(rows.entry.as_ref(), at),
        upper: take(rows.upper.as_ref(), at),
        ending: take(rows.ending.as_ref(), at),
        group: take(rows.group.as_ref(), at),
        groups: rows.groups.clone(),
        covariates: rows.covariates.clone(),
        count: take(rows.count.as_ref(), at),
    }
}

proptest! {
    #[test]
    fn row_order_does_not_matter(rows in any_rows(), seed in 0_usize..1000) {
        let n = rows.len();
        let mut at: Vec<usize> = (0..n).collect();
        at.sort_by_key(|i| (i * 7919 + seed * 104_729) % 1009);
        prop_assert_eq!(bits(&tally(&rows)), bits(&tally(&pick(&rows, &at))));
    }

    #[test]
    fn parts_merge_to_the_whole_in_any_order(rows in any_rows(), cuts in prop::collection::vec(0_usize..3, 60)) {
        let part = |k| pick(&rows, &(0..rows.len()).filter(|&i| cuts[i] == k).collect::<Vec<_>>());
        let (a, b, c) = (tally(&part(0)), tally(&part(1)), tally(&part(2)));
        let whole = bits(&tally(&rows));
        for order in [[&a, &b, &c], [&c, &a, &b], [&b, &c, &a]] {
            prop_assert_eq!(&bits(&Tally::merge(&order).unwrap()), &whole);
        }
        let pair = Tally::merge(&[&b, &c]).unwrap();
        prop_assert_eq!(&bits(&Tally::merge(&[&pair, &a]).unwrap()), &whole);
    }

    #[test]
    fn counts_equal_repeated_rows(rows in any_rows()) {
        let count = rows.count.clone().unwrap();
        let at: Vec<usize> = (0..rows.len()).flat_map(|i| std::iter::repeat_n(i, count[i] as usize)).collect();
        let repeated = Rows { count: None, ..pick(&rows, &at) };
        let kept: Vec<usize> = (0..rows.len()).filter(|&i| count[i] > 0).collect();
        prop_assert_eq!(bits(&tally(&repeated)), bits(&tally(&pick(&rows, &kept))));
    }

    #[test]
    fn saved_form_gives_equal_bits(rows in any_rows()) {
        let t = tally(&rows);
        let back = Tally::from_json(&t.to_json().unwrap()).unwrap();
        prop_assert_eq!(bits(&back), bits(&t));
        prop_assert_eq!(back.groups(), t.groups());
    }

    #[test]
    fn whole_hours_counted_in_a_table_equal_sorted_rows(hours in prop::collection::vec((0_u16..300, prop::bool::ANY), 400..800)) {
        let plain = Rows {
            low: hours.iter().map(|h| f64::from(h.0)).collect(),
            high: hours.iter().map(|h| if h.1 { f64::from(h.0) } else { INF }).collect(),
            ..Rows::default()
        };
        // One row of count 0 sends the same rows down the sorting path.
        let mut other = plain.clone();
        other.low.push(1000.0);
        other.high.push(INF);
        other.count = Some([vec![1; hours.len()], vec![0]].concat());
        let sorted = tally(&other);
        let last = sorted.rows() - 1;
        let dense = tally(&plain);
        prop_assert_eq!(dense.low(), &sorted.low()[..last]);
        prop_assert_eq!(dense.high(), &sorted.high()[..last]);
        prop_assert_eq!(dense.count(), &sorted.count()[..last]);
        prop_assert_eq!(dense.ending(), &sorted.ending()[..last]);
    }
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let mut stream = relamp::base::random::Stream::new(1, "lives", "threads", 0);
    let low: Vec<f64> = (0..50_000).map(|_| (stream.uniform() * 4000.0).round() / 4.0).collect();
    let high = low.iter().map(|&x| if x < 600.0 { x } else { INF }).collect();
    let rows = Rows { entry: Some(low.iter().map(|x| (x - 1.0).max(0.0)).collect()), low, high, ..Rows::default() };
    let whole = Rows { low: rows.low.iter().map(|x| x.ceil()).collect(), entry: None, ..rows.clone() };
    let whole = Rows { high: whole.low.iter().map(|&x| if x < 600.0 { x } else { INF }).collect(), ..whole };
    for rows in [rows, whole] {
        let answers: Vec<_> = [1, 2, 3]
            .map(|n| rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap().install(|| bits(&tally(&rows))))
            .into();
        assert!(answers[0] == answers[1] && answers[1] == answers[2]);
    }
}

#[test]
fn views_by_ending_and_stratum() {
    let rows = Rows {
        low: vec![10.0, 10.0, 12.0],
        high: vec![10.0, 14.0, INF],
        ending: Some(vec![Ending::Burst, Ending::Dim, Ending::Planned]),
        group: Some(vec![0, 1, 0]),
        groups: vec![group("b", ""), group("a", "x")],
        ..Rows::default()
    };
    let t = tally(&rows);
    let burst = t.for_endings(&[Ending::Burst]).unwrap();
    assert_eq!((burst.failures(), burst.lamps()), (1, 3));
    assert_eq!(burst.high(), [10.0, INF, INF]);
    let b = t.stratum("b").unwrap();
    assert_eq!((b.low(), b.groups()), (&[10.0, 12.0][..], &[group("b", "")][..]));
    assert_eq!(t.stratum("c").unwrap_err().slug(), "lives.stratum_unknown");
}

#[test]
fn counts_must_be_whole_and_stay_exact() {
    for bad in [-1.0, 0.5, f64::NAN, INF, 1e17] {
        assert_eq!(Rows::whole_counts(&[1.0, bad]).unwrap_err().problems()[0].place.row, Some(2));
    }
    let huge = |count| Rows { low: vec![1.0; 3], high: vec![INF; 3], count: Some(vec![count; 3]), ..Rows::default() };
    assert_eq!(slugs(&huge(1 << 52))[0].0, "lives.too_many_lives");
    assert_eq!(slugs(&huge(u64::MAX))[0].0, "lives.count_too_large");
    let most = tally(&Rows { count: Some(vec![1 << 53, 0, 0]), ..huge(1) });
    assert_eq!(Tally::merge(&[&most, &most]).unwrap_err().slug(), "lives.too_many_lives");
}

type Told<'a> = (&'a str, &'a [(f64, f64)], f64, f64, Ending);

/// Lives told by serial, stretches at risk, low and end.
fn lives_of(told: &[Told<'_>]) -> Lives {
    let (class, none) = (Word::from("2.0 kW"), Word::default());
    let serials: Vec<Word> = told.iter().map(|t| t.0.into()).collect();
    let life = |(&(_, at_risk, low_hours, end_hours, ending), serial)| LifeRecord {
        serial,
        lamp_class: &class,
        supplier: &none,
        batch: &none,
        spells: &[0],
        at_risk,
        low_hours,
        end_hours,
        ending,
    };
    told.iter().zip(&serials).map(life).collect()
}

fn spells() -> Spells {
    let day = "2025-03-01".parse().unwrap();
    let [file, serial, lamp_class, site, screen, none] =
        ["north.csv", "A-1", "2.0 kW", "Site 07", "2", ""].map(Word::from);
    let spell = Spell {
        file: &file,
        line: 17,
        serial: &serial,
        lamp_class: &lamp_class,
        site: &site,
        screen: &screen,
        supplier: &none,
        batch: &none,
        fitted_on: day,
        removed_on: Some(day),
        read_on: day,
        fitted_hours: 0.0,
        entry_hours: 0.0,
        low_hours: 900.0,
        end_hours: 900.0,
        strikes: None,
        reason: &none,
        ending: Ending::Burst,
    };
    [spell].into_iter().collect()
}

#[test]
fn lives_become_rows_by_stretch_and_ending() {
    let lives = lives_of(&[
        ("A-1", &[(0.0, 900.0)], 900.0, 900.0, Ending::Burst),
        ("A-2", &[(0.0, 900.0)], 900.0, 900.0, Ending::Planned),
        ("A-3", &[(0.0, 400.0), (900.0, 1400.0)], 1380.0, 1400.0, Ending::Dim),
        ("A-4", &[(0.0, 900.0)], 880.0, 900.0, Ending::Unknown),
        ("A-5", &[(0.0, 0.0)], 0.0, 0.0, Ending::NoStrike),
    ]);
    let (t, findings) = from_records(&lives, &spells(), &LifeOptions::default()).unwrap();
    assert!(findings.is_empty());
    let word = |i: usize| Ending::from_code(t.ending()[i]).unwrap().as_str();
    let rows: Vec<_> = (0..t.rows())
        .map(|i| {
            (
                t.low()[i],
                t.high()[i],
                t.entry().unwrap()[i],
                word(i),
                t.groups()[t.group()[i] as usize].cluster.as_str(),
            )
        })
        .collect();
    // The failure at 0 h lies in the first meter step; the blank reason stays censored where the lamp was last seen working.
    let expected = [
        (0.0, 1.0, 0.0, "no_strike", ""),
        (400.0, INF, 0.0, "running", "A-3"),
        (880.0, INF, 0.0, "unknown", ""),
        (900.0, 900.0, 0.0, "burst", ""),
        (900.0, INF, 0.0, "planned", ""),
        (1380.0, 1400.0, 900.0, "dim", "A-3"),
    ];
    assert_eq!(rows, expected);

    let options =
        LifeOptions { failure_endings: vec![Ending::Burst], cluster: Cluster::Site, ..LifeOptions::default() };
    let (by_site, _) = from_records(&lives, &spells(), &options).unwrap();
    assert_eq!(by_site.failures(), 1);
    assert_eq!(by_site.groups(), [group("2.0 kW", "Site 07")]);
    assert_eq!(by_site.stratum("2.0 kW").unwrap(), by_site);
}

#[test]
fn doubtful_lives_are_found_with_file_and_line() {
    let lives = lives_of(&[
        ("B-1", &[(500.0, 900.0)], 450.0, 900.0, Ending::Seal),
        ("B-2", &[(700.0, 700.0)], 700.0, 700.0, Ending::Burst),
        ("B-3", &[], 700.0, 700.0, Ending::Burst),
    ]);
    let (t, findings) = from_records(&lives, &spells(), &LifeOptions::default()).unwrap();
    assert_eq!((t.low(), t.high()), (&[500.0, 700.0][..], &[900.0, 701.0][..]));
    let found: Vec<_> = findings.iter().map(|f| (f.serial.as_str(), f.rule.as_str(), f.line, f.outcome)).collect();
    let expected = [
        ("B-2", "lives.failure_at_entry", 17, Outcome::Used),
        ("B-3", "lives.never_at_risk", 17, Outcome::SetAside),
        ("B-1", "lives.low_raised_to_entry", 17, Outcome::Used),
    ];
    assert_eq!(found, expected);

    let bad = lives_of(&[("B-4", &[(0.0, -5.0)], -5.0, -5.0, Ending::Running)]);
    let error = from_records(&bad, &spells(), &LifeOptions::default()).unwrap_err();
    assert!(error.to_string().starts_with("north.csv, serial B-4, line 17, column low"), "{error}");
}

#[test]
fn covariates_of_records_split_moved_lamps_and_change_no_likelihood() {
    let reading = relamp::study::Study::open("data/demo/study.toml").unwrap().read(&relamp::Run::new()).unwrap();
    let of = |covariates: Vec<RecordCovariate>| {
        let options = LifeOptions { covariates, ..LifeOptions::default() };
        from_records(&reading.lives, &reading.spells, &options).unwrap()
    };
    let (plain, _) = of(Vec::new());
    // Given out of order and twice; sites and screens are always recorded.
    let (placed, findings) = of(vec![RecordCovariate::Site, RecordCovariate::Screen, RecordCovariate::Site]);
    assert!(findings.iter().all(|f| f.rule != "lives.covariate_not_recorded"));
    let names: Vec<&str> = placed.covariates().iter().map(|c| c.name.as_str()).collect();
    assert_eq!(names, ["screen", "site"]);
    assert_eq!(placed.failures(), plain.failures());
    assert!((placed.exposure_hours() / plain.exposure_hours() - 1.0).abs() < 1e-12);
    let moved = reading.lives.iter().filter(|l| l.spells.len() > 1).count();
    assert!(moved > 20 && placed.lamps() >= plain.lamps() + moved as u64 / 2);
    // The rows of a moved lamp still share one random weight.
    let clusters: Vec<&str> = placed.groups().iter().map(|g| g.cluster.as_str()).collect();
    for life in reading.lives.iter().filter(|l| l.spells.len() > 1) {
        assert!(clusters.contains(&(life.serial as &str)), "{}", life.serial);
    }
    let best = |t: &Tally| {
        let t = t.stratum("2.0 kW").unwrap();
        fit(family("weibull").unwrap(), &t, &FitOptions::default(), &relamp::Run::new()).unwrap().log_likelihood()
    };
    assert!((best(&placed) - best(&plain)).abs() < 1e-6);
    // Hours at a site, told from the spells themselves.
    let mut by_site = std::collections::BTreeMap::<String, f64>::new();
    for i in 0..placed.rows() {
        let group = &placed.groups()[placed.group()[i] as usize];
        let (entry, end) = (placed.entry().map_or(0.0, |e| e[i]), placed.low()[i]);
        *by_site.entry(group.covariates[1].to_string()).or_default() += (end - entry) * placed.count()[i] as f64;
    }
    let mut told = std::collections::BTreeMap::<String, f64>::new();
    for life in reading.lives.iter() {
        for (k, &i) in life.spells.iter().enumerate() {
            let spell = reading.spells.get(i).unwrap();
            let end = if k + 1 == life.spells.len() { life.low_hours } else { spell.end_hours };
            *told.entry(spell.site.to_string()).or_default() += (end - spell.entry_hours).max(0.0);
        }
    }
    assert_eq!(by_site.len(), told.len());
    for (site, hours) in &told {
        assert!((by_site[site] - hours).abs() < 1e-6, "{site}: {} against {hours}", by_site[site]);
    }
}

#[test]
fn a_lamp_of_which_one_place_is_not_recorded_is_set_aside_alone() {
    let none = Word::default();
    let (serials, class, site, file) =
        ([Word::from("A-1"), Word::from("B-1")], Word::from("2.0 kW"), Word::from("Site 07"), Word::from("log.csv"));
    let day = "2025-03-01".parse().unwrap();
    let spell = |k: usize, at: usize, from: f64, to: f64| Spell {
        file: &file,
        line: k as u64 + 2,
        serial: &serials[usize::from(k == 2)],
        lamp_class: &class,
        site: [&none, &site][at],
        screen: &site,
        supplier: &none,
        batch: &none,
        fitted_on: day,
        removed_on: Some(day),
        read_on: day,
        fitted_hours: from,
        entry_hours: from,
        low_hours: to,
        end_hours: to,
        strikes: None,
        reason: &none,
        ending: Ending::Moved,
    };
    let spells: Spells =
        [spell(0, 0, 0.0, 400.0), spell(1, 1, 400.0, 900.0), spell(2, 1, 0.0, 700.0)].into_iter().collect();
    let life = |k: usize, spells: &'static [usize], at_risk: &'static [(f64, f64)]| LifeRecord {
        serial: &serials[k],
        lamp_class: &class,
        supplier: &none,
        batch: &none,
        spells,
        at_risk,
        low_hours: at_risk[0].1,
        end_hours: at_risk[0].1,
        ending: Ending::Dim,
    };
    let lives: Lives = [life(0, &[0, 1], &[(0.0, 900.0)]), life(1, &[2], &[(0.0, 700.0)])].into_iter().collect();
    let options = LifeOptions { covariates: vec![RecordCovariate::Site], ..LifeOptions::default() };
    let (tally, findings) = from_records(&lives, &spells, &options).unwrap();
    let found: Vec<_> = findings.iter().map(|f| (f.serial.as_str(), f.rule.as_str(), f.outcome)).collect();
    assert_eq!(found, [("A-1", "lives.covariate_not_recorded", Outcome::SetAside)]);
    assert_eq!((tally.low(), tally.failures()), (&[700.0][..], 1));
}

#[test]
fn strikes_for_each_hour_are_a_number_and_a_lamp_without_them_is_set_aside() {
    let reading = relamp::study::Study::open("data/demo/study.toml").unwrap().read(&relamp::Run::new()).unwrap();
    let options = LifeOptions { covariates: vec![RecordCovariate::StrikesPerHour], ..LifeOptions::default() };
    let (tally, findings) = from_records(&reading.lives, &reading.spells, &options).unwrap();
    let (mut known, mut unknown) = (0, 0);
    for life in reading.lives.iter().filter(|l| !l.at_risk.is_empty()) {
        let spells = || life.spells.iter().filter_map(|&i| reading.spells.get(i));
        let hours: f64 = spells().filter(|s| s.strikes.is_some()).map(|s| s.end_hours - s.fitted_hours).sum();
        if hours > 0.0 { known += 1 } else { unknown += 1 }
    }
    let aside = findings.iter().filter(|f| f.rule == "lives.covariate_not_recorded").count();
    assert_eq!(aside, unknown);
    assert!(known > 500 && tally.lamps() >= known);
    assert!(tally.groups().iter().all(|g| matches!(g.covariates[0], CovariateValue::Number(_))));
}

#[test]
fn an_ending_that_says_the_lamp_worked_beside_a_failure_is_noted() {
    let rows = Rows {
        low: vec![900.0, 800.0, 700.0],
        high: vec![900.0, f64::INFINITY, 700.0],
        ending: Some(vec![Ending::Planned, Ending::Planned, Ending::Burst]),
        ..Rows::default()
    };
    let (_, notes) = Tally::from_rows(&rows).unwrap();
    let told: Vec<_> = notes.iter().map(|n| (n.slug, n.place.row)).collect();
    assert_eq!(told, [("lives.worked_but_failed", Some(1))]);
}

fn covariate(name: &str, values: Values) -> Column {
    Column { name: name.into(), values }
}

fn levels(each: &[&str]) -> Values {
    Values::Text(each.iter().map(|l| Some((*l).into())).collect())
}

fn with(low: &[f64], columns: &[Column]) -> relamp::Result<Tally> {
    let rows = Rows { low: low.to_vec(), high: low.to_vec(), ..Rows::default() }.with_covariates(columns)?;
    Ok(Tally::from_rows(&rows)?.0)
}

#[test]
fn lamps_of_equal_values_collapse_and_the_order_of_rows_and_columns_does_not_show() {
    let current = |x: [f64; 4]| covariate("current", Values::Number(x.map(Some).to_vec()));
    let a = with(
        &[5.0, 5.0, 5.0, 7.0],
        &[covariate("supplier", levels(&["n", "s", "n", "n"])), current([0.0, 2.0, -0.0, 2.0])],
    )
    .unwrap();
    let b = with(
        &[7.0, 5.0, 5.0, 5.0],
        &[current([2.0, 0.0, 0.0, 2.0]), covariate("supplier", levels(&["n", "n", "n", "s"]))],
    )
    .unwrap();
    assert_eq!(a, b);
    assert_eq!((a.rows(), a.lamps(), a.groups().len()), (3, 4, 3));
    assert_eq!(a.covariates().iter().map(|c| c.name.as_str()).collect::<Vec<_>>(), ["current", "supplier"]);
    assert_eq!(a.groups()[0].covariates, [CovariateValue::number(0.0).unwrap(), "n".into()]);
    let back = Tally::from_json(&a.to_json().unwrap()).unwrap();
    assert_eq!(back, a);
    assert_eq!(a.for_endings(&[Ending::Burst]).unwrap().covariates(), a.covariates());
    assert_eq!(a.stratum("").unwrap(), a);
    assert_eq!(a.read_exact(1.0).unwrap().covariates(), a.covariates());
}

#[test]
fn covariates_come_beside_strata_and_clusters_and_one_after_the_other() {
    let rows = Rows {
        low: vec![5.0; 4],
        high: vec![5.0; 4],
        group: Some(vec![0, 1, 1, 1]),
        groups: vec![group("b", ""), group("a", "x")],
        ..Rows::default()
    };
    let first = rows.with_covariates(&[covariate("supplier", levels(&["n", "n", "s", "n"]))]).unwrap();
    let both = first.with_covariates(&[covariate("batch", levels(&["1", "2", "2", "2"]))]).unwrap();
    let (tally, _) = Tally::from_rows(&both).unwrap();
    assert_eq!((tally.rows(), tally.count()), (3, &[2, 1, 1][..]));
    assert_eq!(tally.groups()[0], Group { covariates: vec!["2".into(), "n".into()], ..group("a", "x") });
}

#[test]
fn bad_covariates_are_told_by_row_and_name() {
    let slugs = |columns: &[Column]| -> Vec<(String, Option<u64>)> {
        let error = with(&[5.0, 6.0], columns).unwrap_err();
        error.problems().iter().map(|p| (p.slug.to_owned(), p.place.row)).collect()
    };
    let numbers = |each: &[Option<f64>]| Values::Number(each.to_vec());
    let said = |slug: &str, row| (slug.to_owned(), row);
    assert_eq!(
        slugs(&[covariate("a", numbers(&[Some(f64::NAN), None])), covariate("b", levels(&[" ", "x"]))]),
        [
            said("lives.covariate_not_finite", Some(1)),
            said("lives.covariate_missing", Some(2)),
            said("lives.covariate_missing", Some(1)),
        ]
    );
    assert_eq!(slugs(&[covariate("a", numbers(&[Some(f64::INFINITY); 2]))])[1].1, Some(2));
    for name in ["", "a:b", " a", "stratum"] {
        assert_eq!(slugs(&[covariate(name, levels(&["x", "x"]))]), [said("lives.covariate_name", None)], "{name}");
    }
    let twice = covariate("a", levels(&["x", "y"]));
    assert_eq!(slugs(&[twice.clone(), twice]), [said("lives.covariate_name", None)]);
    assert_eq!(slugs(&[covariate("a", levels(&["x"]))]), [said("lives.length", None)]);
    assert_eq!(slugs(&[covariate("a", Values::Date(vec![None; 2]))]), [said("lives.covariate_date", None)]);
    // A table of groups that holds other values than named.
    let rows = Rows { low: vec![5.0], high: vec![5.0], ..Rows::default() };
    let named = with(&[5.0], &[covariate("a", levels(&["x"]))]).unwrap();
    let wrong = Rows { covariates: named.covariates().to_vec(), ..rows.clone() };
    assert_eq!(Tally::from_rows(&wrong).unwrap_err().slug(), "lives.group_covariates");
    let kept = Rows { groups: named.groups().to_vec(), group: Some(vec![0]), ..rows };
    assert_eq!(Tally::from_rows(&kept).unwrap_err().slug(), "lives.group_covariates");
}

#[test]
fn tallies_join_only_where_their_covariates_are_the_same() {
    let a = with(&[5.0], &[covariate("a", levels(&["x"]))]).unwrap();
    let b = with(&[5.0], &[covariate("a", Values::Number(vec![Some(1.0)]))]).unwrap();
    let c = with(&[5.0], &[covariate("a", levels(&["y"]))]).unwrap();
    let error = Tally::merge(&[&a, &b]).unwrap_err();
    assert_eq!(error.slug(), "lives.covariates_differ");
    assert!(error.to_string().contains("a (number)"), "{error}");
    assert_eq!(
        Tally::merge(&[&a, &tally(&Rows { low: vec![5.0], high: vec![5.0], ..Rows::default() })]).unwrap_err().slug(),
        "lives.covariates_differ"
    );
    let both = Tally::merge(&[&a, &c]).unwrap();
    assert_eq!((both.rows(), both.covariates()), (2, a.covariates()));
    assert_eq!(both, with(&[5.0, 5.0], &[covariate("a", levels(&["y", "x"]))]).unwrap());
    assert_eq!(Tally::merge(&[&a, &Tally::default()]).unwrap(), a);
}
