//! Failures watched as they come: by hand, against simulated chains, and against the demo chain's truth.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use relamp::base::random::Stream;
use relamp::family::{Life, NamedLife, Weibull, family};
use relamp::fit::{FitOptions, fit};
use relamp::lives::{LifeOptions, from_records};
use relamp::records::{Ending, LifeRecord, Lives, Spell, Spells, Word};
use relamp::watch::{
    ExpectedEndings, ExpectedOptions, Month, RunningLamp, Watch, WatchOptions, Watched, WatchedMonth, expected_endings,
    watch,
};
use relamp::{Result, Run};

const CLASS: &str = "2.0 kW";

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn month(text: &str) -> Month {
    text.parse().unwrap()
}

/// One spell as a test tells it.
#[derive(Clone)]
struct Told {
    serial: Word,
    site: Word,
    screen: Word,
    supplier: Word,
    batch: Word,
    days: (NaiveDate, NaiveDate),
    hours: (f64, f64),
    low: f64,
    ending: Ending,
}

/// Spells and the lives joined from them; spells of one serial follow each other.
fn read(told: &[Told]) -> (Lives, Spells) {
    let (file, class, none) = (Word::from("log.csv"), Word::from(CLASS), Word::default());
    let spells = told.iter().enumerate().map(|(i, t)| Spell {
        file: &file,
        line: i as u64 + 2,
        serial: &t.serial,
        lamp_class: &class,
        site: &t.site,
        screen: &t.screen,
        supplier: &t.supplier,
        batch: &t.batch,
        fitted_on: t.days.0,
        removed_on: (t.ending != Ending::Running).then_some(t.days.1),
        read_on: t.days.1,
        fitted_hours: t.hours.0,
        entry_hours: t.hours.0,
        low_hours: t.low,
        end_hours: t.hours.1,
        strikes: None,
        reason: &none,
        ending: t.ending,
    });
    let spells: Spells = spells.collect();
    let all: Vec<usize> = (0..told.len()).collect();
    let risk: Vec<(f64, f64)> = told.iter().map(|t| t.hours).collect();
    let mut lives = Vec::new();
    for group in all.chunk_by(|&a, &b| told[a].serial == told[b].serial) {
        let last = &told[group[group.len() - 1]];
        lives.push(LifeRecord {
            serial: &last.serial,
            lamp_class: &class,
            supplier: &last.supplier,
            batch: &last.batch,
            spells: group,
            at_risk: &risk[group[0]..=group[group.len() - 1]],
            low_hours: last.low,
            end_hours: last.hours.1,
            ending: last.ending,
        });
    }
    (lives.into_iter().collect(), spells)
}

fn told(serial: &str, site: &str, days: (&str, &str), hours: (f64, f64), ending: Ending) -> Told {
    Told {
        serial: serial.into(),
        site: site.into(),
        screen: "1".into(),
        supplier: "North".into(),
        batch: Word::default(),
        days: (day(days.0), day(days.1)),
        hours,
        low: hours.1,
        ending,
    }
}

fn models(life: NamedLife) -> BTreeMap<String, NamedLife> {
    [(CLASS.to_owned(), life)].into()
}

#[test]
fn a_moved_lamp_counts_at_each_site_and_fails_at_the_last() -> Result<()> {
    let (lives, spells) = read(&[
        told("A", "One", ("2025-01-01", "2025-03-01"), (0.0, 590.0), Ending::Moved),
        told("A", "Two", ("2025-03-01", "2025-03-31"), (590.0, 890.0), Ending::Burst),
        told("B", "Two", ("2025-03-01", "2025-03-31"), (0.0, 300.0), Ending::Planned),
    ]);
    let scale = 1000.0;
    let got = expected_endings(
        &lives,
        &spells,
        &models(NamedLife::new("weibull", [2.0, scale])),
        &ExpectedOptions::default(),
    )?;
    let h = |age: f64| (age / scale).powi(2);
    let cell = |by: Watched, name: &str, at: &str| {
        let found = got.months.iter().find(|m| m.by == by && m.name == name && m.month == month(at));
        found.map(|m| (m.hours, m.expected, m.observed))
    };
    // 31 of 59 days fall in January.
    let january = 590.0 * 31.0 / 59.0;
    let near = |got: Option<(f64, f64, u64)>, hours: f64, expected: f64, observed: u64| {
        let (a, b, n) = got.unwrap();
        assert!((a - hours).abs() < 1e-9 && (b - expected).abs() < 1e-12 && n == observed, "{a} {b} {n}");
    };
    near(cell(Watched::Site, "One", "2025-01"), january, h(january), 0);
    near(cell(Watched::Site, "One", "2025-02"), 590.0 - january, h(590.0) - h(january), 0);
    assert_eq!(cell(Watched::Site, "One", "2025-03"), None);
    near(cell(Watched::Site, "Two", "2025-03"), 600.0, h(890.0) - h(590.0) + h(300.0), 1);
    near(cell(Watched::Fleet, "", "2025-03"), 600.0, h(890.0) - h(590.0) + h(300.0), 1);
    near(cell(Watched::Supplier, "North", "2025-03"), 600.0, h(890.0) - h(590.0) + h(300.0), 1);
    assert_eq!(got.notes, ["2 lamps without a batch recorded are not watched by batch"]);
    Ok(())
}

#[test]
fn a_failure_between_two_readings_is_put_midway_and_a_late_entry_starts_late() -> Result<()> {
    let mut failed = told("A", "One", ("2025-01-01", "2025-01-21"), (0.0, 200.0), Ending::Dim);
    failed.low = 100.0;
    let mut late = told("B", "One", ("2025-01-01", "2025-03-02"), (300.0, 600.0), Ending::Running);
    late.screen = "2".into();
    let (lives, spells) = read(&[failed, late]);
    let options = ExpectedOptions { by: vec![Watched::Screen], ..ExpectedOptions::default() };
    let got = expected_endings(&lives, &spells, &models(NamedLife::new("exponential", [1000.0])), &options)?;
    let of = |name: &str| got.months.iter().filter(|m| m.name == name).map(|m| m.expected).sum::<f64>();
    assert!((of("One, screen 1") - 0.15).abs() < 1e-12);
    assert!((of("One, screen 2") - 0.3).abs() < 1e-12);
    assert_eq!((got.running.len(), got.running[0].hours), (1, 600.0));
    Ok(())
}

/// A chain of 80 screens at 10 sites over four years; lamps are changed at 2,000 h. `harm` is the hazard ratio of a lamp
/// by its batch.
fn chain(seed: u64, replicate: u64, harm: impl Fn(&str) -> f64) -> (Lives, Spells) {
    const TRUTH: Weibull = Weibull { shape: 3.0, scale: 2500.0 };
    let mut stream = Stream::new(seed, "watch", "chain", replicate);
    let (start, end) = (day("2022-01-01"), day("2025-12-31"));
    let mut told = Vec::new();
    for socket in 0..80_u64 {
        let site = Word::from(format!("Site {}", socket / 8).as_str());
        // Sockets begin at different ages of their lamps: all lamps are new, so their changes are spread over a year.
        let mut fitted = start + Days::new(stream.below(200) as u64);
        for lamp in 0.. {
            if fitted >= end {
                break;
            }
            let supplier = format!("Supplier {}", stream.below(3));
            let quarter = (fitted - start).num_days() / 91;
            let batch = format!("{supplier}, quarter {quarter:02}");
            let hazard = harm(&batch);
            let life = TRUTH.draw(&mut stream).unwrap() * hazard.powf(-1.0 / TRUTH.shape);
            let a_day = 8.0 + 4.0 * stream.uniform();
            let ends = life.min(2000.0);
            let days = (ends / a_day).ceil() as u64;
            let removed = fitted + Days::new(days);
            let (hours, until, ending) = if removed > end {
                ((end - fitted).num_days() as f64 * a_day, end, Ending::Running)
            } else if life < 2000.0 {
                (life, removed, Ending::Dim)
            } else {
                (2000.0, removed, Ending::Planned)
            };
            told.push(Told {
                serial: format!("{socket}-{lamp}").as_str().into(),
                site: site.clone(),
                screen: socket.to_string().as_str().into(),
                supplier: supplier.as_str().into(),
                batch: batch.as_str().into(),
                days: (fitted, until),
                hours: (0.0, hours.min(ends)),
                low: hours.min(ends),
                ending,
            });
            fitted = until;
        }
    }
    read(&told)
}

/// The model of a chain, fitted to its own records.
fn fitted(lives: &Lives, spells: &Spells) -> NamedLife {
    let (tally, _) = from_records(lives, spells, &LifeOptions::default()).unwrap();
    let fit = fit(family("weibull").unwrap(), &tally, &FitOptions::default(), &Run::new()).unwrap();
    fit.life().unwrap().named().unwrap()
}

fn watched(lives: &Lives, spells: &Spells, model: NamedLife) -> Watch {
    let expected = expected_endings(lives, spells, &models(model), &ExpectedOptions::default()).unwrap();
    watch(&expected, &WatchOptions::default(), &Run::new()).unwrap()
}

#[test]
fn a_thousand_sound_chains_raise_at_most_one_false_alarm_a_year() {
    const YEARS: f64 = 4.0;
    // With a model fitted to each chain, as it will be used, and with the true one.
    for (own, chains) in [(true, 1000), (false, 200)] {
        let counts = Run::new()
            .map(chains, |i| {
                let (lives, spells) = chain(1, i as u64, |_| 1.0);
                let truth = NamedLife::new("weibull", [3.0, 2500.0]);
                let watch = watched(&lives, &spells, if own { fitted(&lives, &spells) } else { truth });
                assert!(watch.false_alarms_a_year <= 1.0 + 1e-9);
                Ok((watch.charts.iter().map(|c| c.alarms.len()).sum::<usize>() as f64, watch.false_alarms_a_year))
            })
            .unwrap();
        let (counts, stated): (Vec<f64>, Vec<f64>) = counts.into_iter().map(Result::unwrap).unzip();
        let stated = stated.iter().sum::<f64>() / chains as f64;
        let mean = counts.iter().sum::<f64>() / chains as f64;
        let variance = counts.iter().map(|n| (n - mean).powi(2)).sum::<f64>() / chains as f64;
        let error = (variance / chains as f64).sqrt();
        println!("own model {own}: {:.3} +- {:.3} false alarms a year", mean / YEARS, error / YEARS);
        // At most one a year, and not so few that the charts would be deaf.
        assert!(mean + 3.0 * error <= YEARS, "{mean} +- {error} in four years");
        // What a watch states of itself is no less than what comes.
        assert!(mean / YEARS <= stated + 3.0 * error / YEARS, "{mean} +- {error}, stated {stated} a year");
        assert!(mean > 0.3 * YEARS, "{mean}");
    }
}

#[test]
fn a_bad_batch_is_told_with_its_lamps_that_burn() {
    let bad = "Supplier 1, quarter 14";
    let mut told = 0;
    for i in 0..40 {
        let (lives, spells) = chain(2, i, |batch| if batch == bad { 12.0 } else { 1.0 });
        let watch = watched(&lives, &spells, fitted(&lives, &spells));
        let chart = watch.chart(Watched::Batch, bad).unwrap();
        if chart.alarms.is_empty() {
            continue;
        }
        told += 1;
        let burning = lives.iter().filter(|l| l.batch as &str == bad && l.ending == Ending::Running).count();
        let listed = watch.suspects.iter().filter(|s| s.by == Watched::Batch && s.name == bad);
        assert_eq!(listed.count(), burning);
    }
    assert!(told >= 36, "told in {told} of 40 chains");
}

/// A batch that burns at an even pace, and its failures at some hazard ratio.
fn steady(hazard: f64, a_month: f64, seed: u64, replicate: u64) -> ExpectedEndings {
    let mut stream = Stream::new(seed, "watch", "steady", replicate);
    let (mut months, mut at) = (Vec::new(), month("1900-01"));
    let mut next = stream.exponential() / (hazard * a_month);
    for i in 0..2400 {
        let mut observed = 0;
        while next < f64::from(i + 1) {
            observed += 1;
            next += stream.exponential() / (hazard * a_month);
        }
        let by = Watched::Batch;
        months.push(WatchedMonth { by, name: "B".into(), month: at, hours: 1.0, expected: a_month, observed });
        at = at.next();
    }
    ExpectedEndings {
        by: vec![Watched::Batch],
        failure_endings: Ending::FAILURES.to_vec(),
        models: BTreeMap::new(),
        months,
        running: Vec::new(),
        notes: Vec::new(),
    }
}

#[test]
fn the_delay_stated_is_the_delay_met() {
    const A_MONTH: f64 = 0.1;
    for (hazard, which) in [(2.0, 0), (3.0, 1)] {
        // Charts start again at 0 after an alarm, so the months between alarms are so many delays.
        let (mut alarms, mut stated, runs) = (0_u64, 0.0, 30);
        for i in 0..runs {
            let options = WatchOptions { false_alarms_a_year: 0.01, ..WatchOptions::default() };
            let watch = watch(&steady(hazard, A_MONTH, 3, i), &options, &Run::new()).unwrap();
            alarms += watch.charts[0].alarms.len() as u64;
            let chart = &watch.charts[0];
            stated = [chart.months_to_alarm_twice, chart.months_to_alarm_thrice][which].unwrap();
            assert!((watch.delays[which].expected / A_MONTH / stated - 1.0).abs() < 1e-12);
        }
        let met = 2400.0 * runs as f64 / alarms as f64;
        // A look at the end of a month adds half a month to each alarm.
        let error = stated / (alarms as f64).sqrt();
        assert!((met - stated - 0.5).abs() < 4.0 * error, "{hazard}: {met} months, stated {stated} +- {error}");
    }
}

#[test]
fn two_failures_are_needed_however_little_is_expected() {
    let mut expected = steady(1.0, 1e-6, 4, 0);
    expected.months.truncate(24);
    expected.months[5].observed = 1;
    assert!(watch(&expected, &WatchOptions::default(), &Run::new()).unwrap().charts[0].alarms.is_empty());
    expected.months[6].observed = 1;
    assert_eq!(watch(&expected, &WatchOptions::default(), &Run::new()).unwrap().charts[0].alarms.len(), 1);
}

#[test]
fn wrong_options_and_classes_without_a_model_are_named() {
    let expected = steady(1.0, 0.1, 4, 0);
    let wrong = WatchOptions { ratio: 1.2, false_alarms_a_year: 0.0 };
    let slugs: Vec<_> = watch(&expected, &wrong, &Run::new()).unwrap_err().problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["watch.ratio", "watch.false_alarms"]);
    let (lives, spells) = read(&[told("A", "One", ("2025-01-01", "2025-03-01"), (0.0, 590.0), Ending::Dim)]);
    let other = [("4.0 kW".to_owned(), NamedLife::new("exponential", [1000.0]))].into();
    let error = expected_endings(&lives, &spells, &other, &ExpectedOptions::default()).unwrap_err();
    assert_eq!(error.slug(), "watch.no_lamp");
    let none = ExpectedOptions { by: Vec::new(), ..ExpectedOptions::default() };
    let model = models(NamedLife::new("exponential", [1000.0]));
    assert_eq!(expected_endings(&lives, &spells, &model, &none).unwrap_err().slug(), "watch.by");
    let broken = models(NamedLife::new("exponential", [-1.0]));
    let error = expected_endings(&lives, &spells, &broken, &ExpectedOptions::default()).unwrap_err();
    assert_eq!(error.slug(), "watch.model");
    let mut idle = steady(1.0, 0.1, 4, 0);
    idle.months.iter_mut().for_each(|m| m.expected = 0.0);
    assert_eq!(watch(&idle, &WatchOptions::default(), &Run::new()).unwrap_err().slug(), "watch.nothing_expected");
}

#[test]
fn a_saved_watch_that_does_not_follow_from_its_months_is_refused() {
    let watch = watch(&steady(2.0, 0.2, 5, 0), &WatchOptions::default(), &Run::new()).unwrap();
    let text = watch.to_json().unwrap();
    assert_eq!(Watch::from_json(&text).unwrap(), watch);
    let mut seen = 0;
    for (from, to) in
        [("\"bound\":", "\"bound\":1"), ("\"observed\":0", "\"observed\":3"), ("\"notes\":[]", "\"notes\":[\"x\"]")]
    {
        let changed = text.replacen(from, to, 1);
        assert_ne!(changed, text);
        assert_eq!(Watch::from_json(&changed).unwrap_err().slug(), "saved.out_of_range", "{from}");
        seen += 1;
    }
    assert_eq!(seen, 3);
}

#[test]
fn the_weak_batch_and_the_poorly_cooled_site_of_the_demo_chain_are_told() {
    let reading = relamp::study::Study::open("data/demo/study.toml").unwrap().read(&Run::new()).unwrap();
    let (tally, _) = from_records(&reading.lives, &reading.spells, &LifeOptions::default()).unwrap();
    let mut models = BTreeMap::new();
    let classes: std::collections::BTreeSet<String> = tally.groups().iter().map(|g| g.stratum.clone()).collect();
    for group in classes {
        let own = tally.stratum(&group).unwrap();
        let fit = fit(family("weibull").unwrap(), &own, &FitOptions::default(), &Run::new()).unwrap();
        models.insert(group, fit.life().unwrap().named().unwrap());
    }
    let expected = expected_endings(&reading.lives, &reading.spells, &models, &ExpectedOptions::default()).unwrap();
    let watch = watch(&expected, &WatchOptions::default(), &Run::new()).unwrap();
    let told: Vec<(Watched, &str)> =
        watch.charts.iter().filter(|c| !c.alarms.is_empty()).map(|c| (c.by, c.name.as_str())).collect();
    println!("{told:?} {}", watch.bound);
    let truth = std::fs::read_to_string("data/demo/truth_lives.csv").unwrap();
    let of = |column: usize, mark: usize| {
        let rows = truth.lines().map(|l| l.split(',').collect::<Vec<_>>());
        let mut names: Vec<String> = rows.filter(|r| r[mark] == "true").map(|r| r[column].to_owned()).collect();
        names.sort();
        names.dedup();
        names
    };
    for batch in of(3, 4) {
        assert!(told.contains(&(Watched::Batch, batch.as_str())), "{batch} among {told:?}");
    }
    for site in of(5, 6) {
        assert!(told.contains(&(Watched::Site, site.as_str())), "{site} among {told:?}");
    }
}

#[test]
fn models_of_some_of_the_endings_counted_are_doubted() {
    // 40 lamps, 1,000 h each, every second one dim and every tenth a burst: 4 bursts at 1 in 10,000 h.
    let lamps: Vec<Told> = (0..40)
        .map(|i| {
            let ending = match i % 10 {
                0 => Ending::Burst,
                k if k % 2 == 1 => Ending::Dim,
                _ => Ending::Planned,
            };
            told(&format!("L{i:02}"), "One", ("2025-01-01", "2025-05-01"), (0.0, 1000.0), ending)
        })
        .collect();
    let (lives, spells) = read(&lamps);
    let bursts = models(NamedLife::new("exponential", [10_000.0]));
    let doubted = |endings: &[Ending], models: &BTreeMap<String, NamedLife>| {
        // Whatever is watched: lamps without a batch count as well.
        let options = ExpectedOptions { by: vec![Watched::Batch, Watched::Site], failure_endings: endings.to_vec() };
        let notes = expected_endings(&lives, &spells, models, &options).unwrap().notes;
        notes.into_iter().find(|n| n.starts_with("all lamps together"))
    };
    let note = doubted(&Ending::FAILURES, &bursts).unwrap();
    assert!(note.contains("had 24 failures where 4 were expected, 6 times as many"), "{note}");
    assert!(note.contains("burst") && note.contains("dim"), "{note}");
    assert_eq!(doubted(&[Ending::Burst], &bursts), None);
    // 24 failures in 40,000 h, and twice that, which chance leaves open; a tenth of it it does not.
    for (scale, off) in [(1666.0, false), (1666.0 * 2.0, false), (1666.0 / 2.0, false), (1666.0 / 10.0, true)] {
        let lives = models(NamedLife::new("exponential", [scale]));
        assert_eq!(doubted(&Ending::FAILURES, &lives).is_some(), off, "{scale}");
    }
}

#[test]
fn lamps_listed_for_an_old_alarm_are_told() -> Result<()> {
    let lamp = |serial: &str, supplier: &str| RunningLamp {
        serial: serial.into(),
        lamp_class: CLASS.into(),
        supplier: supplier.into(),
        batch: Word::default(),
        site: "One".into(),
        screen: "1".into(),
        hours: 300.0,
        read_on: day("2025-12-01"),
    };
    let months = |name: &str, alarm: &str| {
        let name = name.to_owned();
        let (alarm, mut at) = (month(alarm), month("2022-01"));
        let mut out = Vec::new();
        while at <= month("2025-12") {
            let observed = if at == alarm { 12 } else { 0 };
            out.push(WatchedMonth {
                by: Watched::Supplier,
                name: name.clone(),
                month: at,
                hours: 500.0,
                expected: 0.3,
                observed,
            });
            at = at.next();
        }
        out
    };
    let expected = ExpectedEndings {
        by: vec![Watched::Supplier],
        failure_endings: Vec::new(),
        models: models(NamedLife::new("exponential", [2000.0])),
        months: [months("A", "2025-11"), months("B", "2022-05")].concat(),
        running: vec![lamp("1", "A"), lamp("2", "B")],
        notes: Vec::new(),
    };
    let got = watch(&expected, &WatchOptions::default(), &Run::new())?;
    assert_eq!(got.suspects.len(), 2);
    let old: Vec<&String> = got.notes.iter().filter(|n| n.contains("a year ago or more")).collect();
    assert!(old.len() == 1 && old[0].ends_with("supplier B (2022-05)"), "{:?}", got.notes);
    Watch::from_json(&got.to_json()?)?;
    let recent = ExpectedEndings { months: months("A", "2025-11"), running: vec![lamp("1", "A")], ..expected };
    assert!(watch(&recent, &WatchOptions::default(), &Run::new())?.notes.iter().all(|n| !n.contains("a year ago")));
    Ok(())
}
