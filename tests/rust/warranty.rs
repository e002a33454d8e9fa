//! Warranty claims: what is due for a lamp, which claims are worth filing, and how many are to be expected.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use relamp::Run;
use relamp::base::random::Stream;
use relamp::base::saved::{self, Format};
use relamp::base::sound::Checks;
use relamp::demand::{Horizon, SocketToday, StopDate};
use relamp::family::{Exponential, Life, Lognormal, Weibull};
use relamp::fit::{CauseLife, Draws, Method, World};
use relamp::records::{ClassNames, Ending, LogFormat, Options, ReasonMap, Source, TableFormat, read_sources};
use relamp::simulate::{Assumptions, PlayOptions, Rule, play_fleet};
use relamp::terms::{Costs, Warranty, WarrantyStep};
use relamp::warranty::{
    ClaimList, ClaimTerms, Cover, CoverStart, EndedLamp, LampInService, NothingDue, Papers, Standing, claim_list,
    claims_ahead, claims_ahead_over_draws, ended_lamps, read_lamps, read_papers, with_papers,
};
use serde_json::Value;

use crate::worlds::{Steps, close, limit, number, world};

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn lamp(serial: &str, ending: Ending, age: f64) -> EndedLamp {
    EndedLamp::new(serial, "2 kW", ending, Some(age))
}

fn pro_rata() -> Cover {
    Cover::new(Warranty::pro_rata(1000.0, 2000.0, [Ending::Burst, Ending::Seal]).unwrap())
}

#[test]
fn unused_hours_bring_what_the_terms_print() {
    // The figures of the issue: 2,000 h printed, 500 h burned, price 1,000.
    let due = pro_rata().unused(&lamp("A", Ending::Burst, 500.0));
    assert_eq!((due.amount, due.why_nothing, due.at_most), (750.0, None, 750.0));
    let full = Cover::new(Warranty::full(1000.0, 2000.0, [Ending::Burst]).unwrap());
    assert_eq!(full.unused(&lamp("A", Ending::Burst, 1999.0)).amount, 1000.0);
    let step = |below_hours, share| WarrantyStep { below_hours, share };
    let steps = Warranty::stepped(1000.0, [step(500.0, 1.0), step(1000.0, 0.4)], [Ending::Burst]).unwrap();
    let stepped = Cover::new(steps);
    let by_age = [499.0, 500.0, 999.0, 1000.0].map(|age| stepped.unused(&lamp("A", Ending::Burst, age)).amount);
    assert_eq!(by_age, [1000.0, 400.0, 400.0, 0.0]);
}

#[test]
fn every_reason_why_nothing_is_due_is_told() {
    let dated = pro_rata().within_months(12, CoverStart::Fitting).unwrap().within_strikes(400).unwrap();
    let good = EndedLamp {
        fitted_on: Some(day("2024-01-31")),
        ended_on: Some(day("2024-12-01")),
        strikes: Some(400),
        ..lamp("A", Ending::Burst, 500.0)
    };
    assert_eq!(dated.unused(&good).amount, 750.0);
    let why = |change: fn(&mut EndedLamp)| {
        let mut lamp = good.clone();
        change(&mut lamp);
        let due = dated.unused(&lamp);
        assert_eq!(due.amount, 0.0);
        (due.why_nothing.unwrap(), due.at_most)
    };
    assert_eq!(why(|l| l.age_hours = Some(2000.0)), (NothingDue::Hours, 0.0));
    assert_eq!(why(|l| l.ended_on = Some(day("2025-01-31"))), (NothingDue::Calendar, 0.0));
    assert_eq!(why(|l| l.strikes = Some(401)), (NothingDue::Strikes, 0.0));
    assert_eq!(why(|l| l.ending = Ending::Dim), (NothingDue::NotCovered, 0.0));
    assert_eq!(why(|l| l.ending = Ending::Planned), (NothingDue::Planned, 0.0));
    assert_eq!(why(|l| l.ending = Ending::Running), (NothingDue::Running, 0.0));
    assert_eq!(why(|l| l.age_hours = None), (NothingDue::AgeUnknown, 1000.0));
    assert_eq!(why(|l| l.fitted_on = None), (NothingDue::StartUnknown, 750.0));
    assert_eq!(why(|l| l.ended_on = None), (NothingDue::DayUnknown, 750.0));
    assert_eq!(why(|l| l.strikes = None), (NothingDue::StrikesUnknown, 750.0));
    // What certainly ends it comes before what is not known.
    let mut unknown = EndedLamp { age_hours: None, ended_on: Some(day("2025-06-01")), ..good.clone() };
    assert_eq!(dated.unused(&unknown).why_nothing, Some(NothingDue::Calendar));
    unknown.ended_on = Some(day("2025-01-30"));
    assert_eq!(dated.unused(&unknown).why_nothing, Some(NothingDue::AgeUnknown));
}

#[test]
fn the_calendar_runs_from_its_own_day_to_the_last_of_a_short_month() {
    let lamp = |fitted: &str, delivered: &str, ended: &str| EndedLamp {
        fitted_on: Some(day(fitted)),
        delivered_on: Some(day(delivered)),
        ended_on: Some(day(ended)),
        ..lamp("A", Ending::Seal, 500.0)
    };
    let fitting = pro_rata().within_months(1, CoverStart::Fitting).unwrap();
    // A month from 31 January ends on the last of February: ISO 8601 leaves it open, civil law of the usual kind says so.
    assert_eq!(fitting.unused(&lamp("2024-01-31", "2023-01-01", "2024-02-28")).amount, 750.0);
    assert_eq!(fitting.unused(&lamp("2024-01-31", "2023-01-01", "2024-02-29")).amount, 0.0);
    // On the shelf the warranty of a delivered lamp runs out.
    let delivery = pro_rata().within_months(12, CoverStart::Delivery).unwrap();
    let shelved = lamp("2024-06-01", "2023-07-01", "2024-07-01");
    assert_eq!(delivery.unused(&shelved).why_nothing, Some(NothingDue::Calendar));
    assert_eq!(pro_rata().within_months(12, CoverStart::Fitting).unwrap().unused(&shelved).amount, 750.0);
    assert_eq!(pro_rata().within_months(0, CoverStart::Fitting).unwrap_err().slug(), "warranty.months");
    assert_eq!(pro_rata().within_strikes(0).unwrap_err().slug(), "warranty.strikes");
}

fn terms() -> ClaimTerms {
    ClaimTerms {
        needed: ["serial", "age_hours", "photo", "return form"].map(str::to_owned).to_vec(),
        chance: 0.8,
        handling_cost: 60.0,
        days_to_file: Some(30),
        ..ClaimTerms::new(pro_rata())
    }
}

fn judged(lamps: &[EndedLamp]) -> ClaimList {
    let terms = terms();
    claim_list(lamps, |class| (class == "2 kW").then_some(&terms), day("2026-01-31")).unwrap()
}

fn mixed() -> Vec<EndedLamp> {
    let on = |text: &str| Some(day(text));
    let photo = || vec!["photo".to_owned()];
    vec![
        EndedLamp { ended_on: on("2026-01-10"), evidence: photo(), ..lamp("A1", Ending::Burst, 1000.0) },
        EndedLamp { ended_on: on("2026-01-01"), ..lamp("A2", Ending::Seal, 500.0) },
        EndedLamp { ended_on: on("2025-12-31"), ..lamp("A3", Ending::Seal, 500.0) },
        EndedLamp { ended_on: on("2026-01-20"), ..lamp("A4", Ending::Burst, 1900.0) },
        EndedLamp { age_hours: None, ended_on: on("2026-01-20"), ..lamp("A5", Ending::Burst, 0.0) },
        EndedLamp { ended_on: on("2025-03-01"), paid: Some(400.0), ..lamp("A6", Ending::Burst, 900.0) },
        EndedLamp { ended_on: on("2025-03-01"), paid: Some(0.0), ..lamp("A7", Ending::Burst, 1500.0) },
        EndedLamp { ended_on: on("2026-01-02"), filed_on: on("2026-01-05"), ..lamp("A8", Ending::Burst, 100.0) },
        EndedLamp { ended_on: on("2026-01-02"), ..lamp("A9", Ending::Planned, 1900.0) },
        EndedLamp { lamp_class: "4 kW".into(), ..lamp("B1", Ending::Burst, 100.0) },
    ]
}

#[test]
fn claims_are_ranked_by_what_filing_gains() {
    use Standing::{File, FindOut, Late, NotWorth, Nothing, Open, Paid, TurnedDown};
    let list = judged(&mixed());
    let told: Vec<_> = list.claims.iter().map(|c| (c.lamp.serial.as_str(), c.standing)).collect();
    let expected = [
        ("A2", File),
        ("A1", File),
        ("A5", FindOut),
        ("A8", Open),
        ("A3", Late),
        ("A4", NotWorth),
        ("A6", Paid),
        ("A7", TurnedDown),
        ("A9", Nothing),
        ("B1", Nothing),
    ];
    assert_eq!(told, expected);
    let of = |serial: &str| list.claims.iter().find(|c| c.lamp.serial == serial).unwrap();
    close(of("A2").gain, 750.0 * 0.8 - 60.0, 1e-15, 0.0);
    close(of("A1").gain, 500.0 * 0.8 - 60.0, 1e-15, 0.0);
    close(of("A4").gain, 50.0 * 0.8 - 60.0, 1e-12, 0.0);
    assert_eq!(of("A1").missing, ["return form"]);
    assert_eq!(of("A2").missing, ["photo", "return form"]);
    assert_eq!(of("A5").missing, ["age_hours", "photo", "return form"]);
    // A claim may still be filed on the last day.
    assert_eq!((of("A2").deadline, of("A2").days_left), (Some(day("2026-01-31")), Some(0)));
    assert_eq!(of("A3").days_left, Some(-1));
    assert_eq!(of("B1").due.why_nothing, Some(NothingDue::NoTerms));
}

#[test]
fn what_was_recovered_stands_against_what_could_be() {
    let totals = judged(&mixed()).totals();
    // Due by hand: 500, 750, 750, 50, 0, 550, 250, 950, 0, 0.
    assert_eq!((totals.lamps, totals.lamps_due), (10, 7));
    close(totals.recoverable, 3800.0, 1e-12, 0.0);
    close(totals.filed, 550.0 + 250.0 + 950.0, 1e-12, 0.0);
    assert_eq!((totals.recovered, totals.open), (400.0, 950.0));
    close(totals.recovered_share.unwrap(), 400.0 / 3800.0, 1e-12, 0.0);
    close(totals.to_file, 1250.0, 1e-12, 0.0);
    close(totals.to_file_gain, 1250.0 * 0.8 - 120.0, 1e-12, 0.0);
    assert_eq!(totals.missed, 750.0);
    close(totals.refused, 150.0 + 250.0, 1e-12, 0.0);
    assert_eq!(totals.to_find_out, 1000.0);
    // Every due amount stands in one place.
    close(totals.recoverable, totals.to_file + totals.missed + totals.filed + 50.0, 1e-12, 0.0);
    let none = judged(&[lamp("Z", Ending::Planned, 1.0)]).totals();
    assert_eq!((none.recoverable, none.recovered_share), (0.0, None));
    assert!(judged(&mixed()).sentence().ends_with("; 400 of 3,800 recovered"), "{}", judged(&mixed()).sentence());
    // More than is due, and something where nothing is, do not read as a part of it.
    let paid = |age: f64, paid: f64| {
        let ended_on = Some(day("2025-03-01"));
        judged(&[EndedLamp { ended_on, paid: Some(paid), ..lamp("Y", Ending::Burst, age) }]).sentence()
    };
    assert!(paid(500.0, 30_000.0).ends_with("; 30,000 recovered, more than the 750 due"), "{}", paid(500.0, 30_000.0));
    assert!(paid(2100.0, 300.0).ends_with("; 300 recovered, more than the 0 due"), "{}", paid(2100.0, 300.0));
}

#[test]
fn without_the_day_of_its_ending_a_claim_with_a_deadline_asks_for_it() {
    let of = |lamp: EndedLamp| judged(&[lamp]).claims[0].clone();
    let claim = of(lamp("A1", Ending::Burst, 500.0));
    assert_eq!((claim.standing, claim.deadline), (Standing::File, None));
    assert_eq!(claim.missing, ["photo", "return form", "ended_on"]);
    // A claim that was filed needs it no more, and without a deadline none does.
    let filed = of(EndedLamp { paid: Some(1.0), ..lamp("A1", Ending::Burst, 500.0) });
    assert!(!filed.missing.iter().any(|m| m == "ended_on"));
    let open = ClaimTerms { days_to_file: None, ..terms() };
    let list = claim_list(&[lamp("A1", Ending::Burst, 500.0)], |_| Some(&open), day("2026-01-31")).unwrap();
    assert_eq!(list.claims[0].missing, ["photo", "return form"]);
}

#[test]
fn every_bad_lamp_is_told_at_once() {
    let bad = [
        EndedLamp { age_hours: Some(-1.0), ..lamp("A", Ending::Burst, 0.0) },
        EndedLamp { age_hours: Some(f64::NAN), paid: Some(-2.0), ..lamp("B", Ending::Burst, 0.0) },
        EndedLamp {
            fitted_on: Some(day("2025-02-01")),
            ended_on: Some(day("2025-01-01")),
            ..lamp("B", Ending::Burst, 1.0)
        },
        EndedLamp { ended_on: Some(day("2026-02-01")), ..lamp("C", Ending::Burst, 1.0) },
    ];
    let terms = ClaimTerms { chance: 1.2, ..terms() };
    let error = claim_list(&bad, |_| Some(&terms), day("2026-01-31")).unwrap_err();
    let slugs: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.row)).collect();
    let expected = [
        ("warranty.age", Some(1)),
        ("warranty.chance", None),
        ("warranty.age", Some(2)),
        ("warranty.paid", Some(2)),
        ("warranty.days", Some(3)),
        ("warranty.lamp_twice", Some(3)),
        ("warranty.days", Some(4)),
    ];
    assert_eq!(slugs, expected);
    let broken = ClaimTerms {
        handling_cost: -1.0,
        days_to_file: Some(0),
        needed: ["photo", "photo", " "].map(str::to_owned).to_vec(),
        ..terms.clone()
    };
    assert_eq!(broken.clone().checked().unwrap_err().problems().len(), 5);
    assert!(Checks::of("terms", &broken).is_err() && Checks::of("terms", &self::terms()).is_ok());
}

#[test]
fn an_edited_claim_list_is_refused_by_field() {
    let format = Format::new("claim_list", 1);
    let list = judged(&mixed());
    let text = saved::save(format, &list).unwrap();
    assert_eq!(saved::load::<ClaimList>(format, &text).unwrap(), list);
    let edited = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        let error = saved::load::<ClaimList>(format, &text.replacen(from, to, 1)).unwrap_err();
        error.problems()[0].place.column.clone().unwrap_or_default()
    };
    assert_eq!(edited("\"standing\":\"file\"", "\"standing\":\"late\""), "claims[0].standing");
    assert_eq!(edited("\"amount\":750.0", "\"amount\":-750.0"), "claims[0].due.amount");
    assert_eq!(edited("\"days_left\":0", "\"days_left\":5"), "claims[0].days_left");
}

const LOG: &str = "serial,class,site,screen,in,out,why,hours,at,strikes\n\
    A1,2 kW,S,1,2025-01-01,2025-03-01,popped,400,0,100\n\
    A2,2 kW,S,2,2025-01-01,2025-02-01,moved,200,0,50\n\
    A2,2 kW,S,3,2025-02-01,2025-04-01,popped,600,200,70\n\
    A3,2 kW,S,4,2025-01-01,2025-05-01,popped,900,300,80\n\
    A4,2 kW,S,5,2025-01-01,,,700,0,80\n";

#[test]
fn lamps_that_ended_come_from_a_reading_and_take_their_papers() {
    let format: LogFormat = serde_json::from_value(serde_json::json!({
        "file": "log.csv", "exported_on": "2025-12-01", "dates": "iso",
        "columns": {"serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
            "removed_on": "out", "reason": "why", "hours": "hours", "hours_at_fitting": "at", "strikes": "strikes"},
    }))
    .unwrap();
    let reasons = ReasonMap::new([("popped", Ending::Burst), ("moved", Ending::Moved)]).unwrap();
    let log = (&format, Source::Bytes(LOG.as_bytes()));
    let reading = read_sources(&[log], &reasons, &ClassNames::any(), Options::default(), &Run::new()).unwrap();
    let lamps = ended_lamps(&reading);
    let told: Vec<_> = lamps.iter().map(|l| (l.serial.as_str(), l.age_hours, l.strikes, l.fitted_on, l.line)).collect();
    let first = Some(day("2025-01-01"));
    let expected = [
        ("A1", Some(400.0), Some(100), first, 2),
        // One life of two spells: hours and strikes of both, from the first fitting.
        ("A2", Some(600.0), Some(120), first, 4),
        // Used when it was fitted: neither its first day nor all its strikes are known.
        ("A3", Some(900.0), None, None, 5),
    ];
    assert_eq!(told, expected);
    let text =
        b"serial,delivered_on,evidence,filed_on,paid\nA1,2024-12-01,photo; photo ;form,2025-03-05,\nA4,2024-11-01,,,\n";
    let papers = read_papers("papers.csv", Source::Bytes(text), &TableFormat::default(), &BTreeMap::new()).unwrap();
    let with = with_papers(lamps.clone(), &papers).unwrap();
    assert_eq!((with[0].evidence.join("+"), with[0].filed_on), ("photo+form".into(), Some(day("2025-03-05"))));
    let claim = |serial: &str| Papers { serial: serial.into(), paid: Some(1.0), ..Papers::default() };
    let error = with_papers(lamps, &[claim("A4"), claim("A1"), claim("A1")]).unwrap_err();
    let slugs: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.row)).collect();
    assert_eq!(slugs, [("warranty.papers_twice", Some(3)), ("warranty.papers_no_lamp", Some(1))]);
}

#[test]
fn a_table_of_lamps_tells_every_bad_cell() {
    let read =
        |text: &str| read_lamps("t.csv", Source::Bytes(text.as_bytes()), &TableFormat::default(), &BTreeMap::new());
    let lamps = read("serial,ending,age_hours,ended_on,paid\nA1,burst,500,2025-01-31,\nA2,,,,0\n").unwrap();
    assert_eq!((lamps[0].age_hours, lamps[0].line), (Some(500.0), 2));
    assert_eq!((lamps[1].ending, lamps[1].filed()), (Ending::Unknown, true));
    let error = read("serial,ending,age_hours,strikes,ended_on\nA1,bang,x,1.5,soon\nA2,seal\n").unwrap_err();
    let slugs: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.line)).collect();
    let expected = [
        ("warranty.ending_word", Some(2)),
        ("warranty.number_unreadable", Some(2)),
        ("warranty.strikes_not_whole", Some(2)),
        ("warranty.day_unreadable", Some(2)),
        ("warranty.row_cells", Some(3)),
    ];
    assert_eq!(slugs, expected);
    assert_eq!(read("serial,ending,age_hours\n").unwrap_err().slug(), "warranty.no_rows");
    assert_eq!(read("serial,ending,age_hours,strike\nA,burst,1,1\n").unwrap_err().slug(), "records.column_misspelt");
    let called = BTreeMap::from([("serials".to_owned(), "x".to_owned())]);
    let text = Source::Bytes(b"serial,ending,age_hours\nA,burst,1\n");
    let error = read_lamps("t.csv", text, &TableFormat::default(), &called).unwrap_err();
    assert_eq!(error.slug(), "records.heading_unknown");
}

#[test]
fn a_claim_list_opens_safely() {
    let mut lamps = vec![lamp("=HYPERLINK(\"x\")", Ending::Burst, 500.0)];
    lamps[0].site = "@home".into();
    lamps[0].screen = "+1".into();
    let text = judged(&lamps).to_csv();
    let row: Vec<_> = csv::Reader::from_reader(text.as_bytes()).records().map(|r| r.unwrap()).collect();
    assert_eq!(row.len(), 1);
    assert_eq!((&row[0][1], &row[0][3], &row[0][4]), ("'=HYPERLINK(\"x\")", "'@home", "+1"));
    assert_eq!((&row[0][11], &row[0][13]), ("750", "540"));
}

// Claims ahead.

fn burning(age: f64, hours_per_week: f64) -> LampInService {
    LampInService { age_hours: Some(age), hours_per_week, fitted_on: None, delivered_on: None, stop: None }
}

fn stored(id: &str) -> Value {
    let all: Value = serde_json::from_str(include_str!("../data/claims_cases.json")).unwrap();
    all["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap().clone()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(number).collect()
}

fn full(hours: f64) -> Cover {
    Cover::new(Warranty::full(1.0, hours, [Ending::Dim]).unwrap())
}

fn ahead_of(lamps: &[LampInService], life: Weibull, cover: &Cover, days: f64) -> relamp::warranty::ClaimsAhead {
    claims_ahead(lamps, &world(life, 1.0, 5.0), cover, 1e6, &limit(1e6), day("2026-01-01"), days).unwrap()
}

#[test]
fn claims_within_a_warranty_meet_the_stored_values() {
    // Lamps of five ages within 1,000 h of warranty, watched to its end.
    let case = stored("fleet_within_warranty_risk");
    let (inputs, outputs) = (&case["inputs"], &case["outputs"]);
    let life = Weibull { shape: number(&inputs["shape"]), scale: number(&inputs["scale"]) };
    let cover = full(number(&inputs["warranty_hours"]));
    let ages = numbers(&inputs["ages"]);
    for (age, risk) in ages.iter().zip(numbers(&outputs["risk"])) {
        let one = ahead_of(&[burning(*age, 168.0)], life, &cover, 365.0);
        close(one.claims.mean(), risk, 1e-12, 0.0);
        close(one.mean_money, risk, 1e-12, 0.0);
    }
    let all: Vec<_> = ages.iter().map(|a| burning(*a, 168.0)).collect();
    close(ahead_of(&all, life, &cover, 365.0).claims.mean(), number(&outputs["expected"]), 1e-12, 0.0);
}

#[test]
fn bearing_cages_and_product_a_fail_as_published() {
    // Abernethy et al. (1983) in Meeker & Escobar (1998): 300 h more of each of 1,697 cages that run.
    let case = stored("bearing_cage_claims");
    let (inputs, outputs) = (&case["inputs"], &case["outputs"]);
    let life = Weibull { shape: number(&outputs["shape"]), scale: number(&outputs["scale"]) };
    let mut cages = Vec::new();
    let hours = number(&inputs["extra_hours"]);
    let mut groups: Vec<(f64, u64)> = inputs["censored"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(age, n)| (age.parse().unwrap(), n.as_u64().unwrap()))
        .collect();
    groups.sort_by(|a, b| a.0.total_cmp(&b.0));
    // 150 h a week for 14 days are 300 h.
    assert_eq!(hours, 300.0);
    for ((age, n), risk) in groups.iter().zip(numbers(&outputs["risk_by_group"])) {
        let one = ahead_of(&[burning(*age, 150.0)], life, &full(1e5), 14.0);
        close(one.claims.mean(), risk, 1e-9, 0.0);
        cages.extend((0..*n).map(|_| burning(*age, 150.0)));
    }
    let ahead = ahead_of(&cages, life, &full(1e5), 14.0);
    close(ahead.claims.mean(), number(&outputs["predicted"]), 1e-9, 0.0);
    close(ahead.claims.sd().powi(2), number(&outputs["predicted_var"]), 1e-9, 0.0);
    close(ahead.claims.at_most(0), number(&outputs["P_zero"]), 1e-9, 0.0);
    assert_eq!((ahead.claims.quantile(0.05).unwrap(), ahead.claims.quantile(0.95).unwrap()), (2, 9));
    // Printed: 5.057, from slightly rounded estimates.
    close(ahead.claims.mean(), number(&case["published"]["predicted"]), 3e-4, 0.0);

    // Escobar & Meeker (1999), Technometrics 41: 9,920 of 10,000 units of 48 months, to 60 months; an hour stands for a month.
    let case = stored("product_A_claims");
    let (inputs, outputs) = (&case["inputs"], &case["outputs"]);
    let life = Weibull { shape: number(&inputs["shape"]), scale: number(&inputs["scale"]) };
    let units: Vec<_> = (0..9920).map(|_| burning(number(&inputs["from_month"]), 12.0)).collect();
    let ahead = ahead_of(&units, life, &full(1e5), 7.0);
    close(ahead.claims.mean(), number(&outputs["predicted"]), 1e-9, 0.0);
    close(ahead.claims.mean(), number(&case["published"]["predicted"]), 1e-4, 0.0);
    let ends = numbers(&outputs["naive_binomial_95"]);
    let got = (ahead.claims.quantile(0.025).unwrap() as f64, ahead.claims.quantile(0.975).unwrap() as f64);
    assert_eq!(got, (ends[0], ends[1]));
}

/// Two causes, of which a warranty covers bursts and two fifths of the failures of the other.
fn two_causes() -> World {
    let dim = vec![(Ending::Dim, 0.6), (Ending::Seal, 0.4)];
    let causes = vec![
        CauseLife {
            endings: vec![(Ending::Burst, 1.0)],
            life: Box::new(Weibull { shape: 1.7, scale: 2600.0 }) as Box<dyn Life>,
        },
        CauseLife { endings: dim, life: Box::new(Lognormal { location: 2200.0_f64.ln(), scale: 0.6 }) },
    ];
    let costs = Costs::new(900.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1300.0), (Ending::Seal, 1300.0)]).unwrap();
    World { causes, costs }
}

fn form(name: &str, price: f64) -> Cover {
    let covered = [Ending::Burst, Ending::Seal];
    let step = |below_hours, share| WarrantyStep { below_hours, share };
    Cover::new(match name {
        "full" => Warranty::full(price, 1000.0, covered).unwrap(),
        "pro_rata" => Warranty::pro_rata(price, 2000.0, covered).unwrap(),
        _ => Warranty::stepped(price, [step(500.0, 1.0), step(1500.0, 0.4)], covered).unwrap(),
    })
}

#[test]
fn claims_ahead_are_those_of_integration_by_scipy() {
    let all: Value = serde_json::from_str(include_str!("../data/claims_ahead.json")).unwrap();
    let as_of = day("2026-03-01");
    // The calendar of a lamp ends so many days from today: the day of fitting that gives it, 12 months before.
    let lamps: Vec<LampInService> = all["lamps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| {
            let l = numbers(l);
            let last = as_of + chrono::Days::new((l[2] + 5.0) as u64) - chrono::Days::new(5);
            let fitted = last.checked_sub_months(chrono::Months::new(24)).unwrap();
            assert_eq!(fitted.checked_add_months(chrono::Months::new(24)), Some(last));
            LampInService { fitted_on: Some(fitted), ..burning(l[0], l[1]) }
        })
        .collect();
    for case in all["cases"].as_array().unwrap() {
        let cover = form(case["form"].as_str().unwrap(), number(&all["price"]));
        let cover = cover.within_months(24, CoverStart::Fitting).unwrap();
        let planned = number(&all["planned"]);
        let ask = |lamps: &[LampInService]| {
            claims_ahead(lamps, &two_causes(), &cover, planned, &limit(2500.0), as_of, number(&all["days"])).unwrap()
        };
        let ahead = ask(&lamps);
        close(ahead.mean_money, number(&case["mean_money"]), 1e-10, 0.0);
        for (n, p) in numbers(&case["probabilities"]).iter().enumerate() {
            let got = ahead.claims.at_most(n as u64) - if n > 0 { ahead.claims.at_most(n as u64 - 1) } else { 0.0 };
            close(got, *p, 1e-10, 1e-13);
        }
        for (one, p) in lamps.iter().zip(numbers(&case["chances"])) {
            close(ask(std::slice::from_ref(one)).claims.mean(), p, 1e-10, 0.0);
        }
        let below = numbers(&case["chances"]).iter().filter(|p| **p > 0.0).count() as u64;
        assert_eq!(ahead.under_cover, below);
        // A lower limit holds the planned age.
        let held = claims_ahead(&lamps, &two_causes(), &cover, 1e9, &limit(planned), as_of, 365.0).unwrap();
        assert_eq!((held.planned_age_hours, held.mean_money), (planned, ahead.mean_money));
    }
}

#[test]
fn claims_ahead_are_those_of_lamps_played_out() {
    let cover = form("stepped", 780.0);
    let lamps: Vec<_> = (0..40).map(|i| burning(37.0 * f64::from(i), 20.0 + 1.5 * f64::from(i))).collect();
    let world = two_causes();
    let ahead = claims_ahead(&lamps, &world, &cover, 1300.0, &limit(2500.0), day("2026-01-01"), 300.0).unwrap();
    let plays = 20_000_u32;
    let (mut claims, mut squares, mut money, mut money_squares, mut none) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for play in 0..plays {
        let mut stream = Stream::new(11, "test", "claims ahead", u64::from(play));
        let (mut n, mut back) = (0.0, 0.0);
        for l in &lamps {
            let age = l.age_hours.unwrap();
            // The age at a failure by each cause, given that the lamp reached its age: inversion of the cumulative hazard.
            let ages = world.causes.iter().map(|c| {
                let target = c.life.ln_reliability(age) - stream.exponential();
                (c.life.quantile(-target.exp_m1()).unwrap(), c)
            });
            let (at, cause) = ages.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
            let u = stream.uniform();
            let ending = if u < cause.endings[0].1 { cause.endings[0].0 } else { cause.endings[1].0 };
            let in_time = at < 1300.0 && at < age + l.hours_per_week / 7.0 * 300.0;
            let due = cover.unused(&EndedLamp::new("", "", ending, Some(at))).amount;
            if in_time && due > 0.0 {
                n += 1.0;
                back += due;
            }
        }
        claims += n;
        squares += n * n;
        money += back;
        money_squares += back * back;
        none += f64::from(u8::from(n == 0.0));
    }
    let plays = f64::from(plays);
    let z = |sum: f64, squares: f64, mean: f64| {
        let sd = (squares / plays - (sum / plays).powi(2)).sqrt();
        (sum / plays - mean) / (sd / plays.sqrt())
    };
    assert!(z(claims, squares, ahead.claims.mean()).abs() < 4.5, "{} {}", claims / plays, ahead.claims.mean());
    assert!(z(money, money_squares, ahead.mean_money).abs() < 4.5, "{} {}", money / plays, ahead.mean_money);
    let p = ahead.claims.at_most(0);
    assert!(((none / plays - p) / (p * (1.0 - p) / plays).sqrt()).abs() < 4.5, "{none} {p}");
    let variance = squares / plays - (claims / plays).powi(2);
    close(variance.sqrt(), ahead.claims.sd(), 0.03, 0.0);
}

/// Worlds of even rates with these mean lives.
struct Rates(Vec<f64>);

impl Draws for Rates {
    fn len(&self) -> usize {
        self.0.len()
    }
    fn best(&self) -> relamp::Result<World> {
        self.world(0)
    }
    fn world(&self, replicate: usize) -> relamp::Result<World> {
        Ok(world(Exponential { scale: self.0[replicate] }, 1.0, 5.0))
    }
    fn method(&self) -> Method {
        Method::Wald
    }
}

#[test]
fn what_is_not_known_widens_the_claims() {
    let lamps: Vec<_> = (0..200).map(|_| burning(300.0, 60.0)).collect();
    let ask = |cover: &Cover| {
        let draws = Rates(vec![900.0, 1800.0]);
        claims_ahead_over_draws(&lamps, &draws, cover, 1500.0, &limit(2000.0), day("2026-01-01"), 100.0, &Run::new())
    };
    let cover = full(1000.0);
    let mixed = ask(&cover).unwrap();
    let one = |scale: f64| {
        let world = world(Exponential { scale }, 1.0, 5.0);
        claims_ahead(&lamps, &world, &cover, 1500.0, &limit(2000.0), day("2026-01-01"), 100.0).unwrap()
    };
    let (low, high) = (one(1800.0), one(900.0));
    for n in 0..=200 {
        close(mixed.claims.at_most(n), 0.5 * (low.claims.at_most(n) + high.claims.at_most(n)), 1e-12, 1e-14);
    }
    close(mixed.mean_money, 0.5 * (low.mean_money + high.mean_money), 1e-12, 0.0);
    assert_eq!(mixed.mean_money_90, Some((low.mean_money, high.mean_money)));
    assert_eq!(mixed.draws.unwrap().used, 2);
    assert!(mixed.claims.sd() > 2.0 * low.claims.sd());
}

#[test]
fn lamps_of_unknown_age_or_start_are_told_and_left_out() {
    let cover = full(1000.0).within_months(24, CoverStart::Delivery).unwrap().within_strikes(900).unwrap();
    let known = LampInService { delivered_on: Some(day("2025-06-01")), ..burning(100.0, 60.0) };
    let lamps = [known.clone(), burning(100.0, 60.0), LampInService { age_hours: None, ..known.clone() }];
    let ahead = ahead_of(&lamps, Weibull { shape: 2.0, scale: 1500.0 }, &cover, 365.0);
    assert_eq!((ahead.lamps, ahead.under_cover, ahead.not_known), (3, 1, 2));
    let slugs: Vec<_> = ahead.notes.iter().map(|n| n.slug.as_str()).collect();
    assert_eq!(slugs, ["warranty.lamps_not_known", "warranty.strikes_not_forecast"]);
    assert!(ahead.notes[0].text.starts_with("2 lamps are not counted"));
    // Past its hours, its calendar or its planned age nothing is to be expected.
    let none = |l: LampInService, planned: f64| {
        let w = world(Weibull { shape: 2.0, scale: 1500.0 }, 1.0, 5.0);
        let ahead = claims_ahead(&[l], &w, &cover, planned, &limit(1e6), day("2026-01-01"), 365.0).unwrap();
        assert_eq!((ahead.claims.mean(), ahead.mean_money, ahead.under_cover), (0.0, 0.0, 0));
    };
    none(LampInService { age_hours: Some(1000.0), ..known.clone() }, 1e6);
    none(LampInService { delivered_on: Some(day("2024-01-01")), ..known.clone() }, 1e6);
    none(known.clone(), 100.0);
    none(LampInService { hours_per_week: 0.0, ..known.clone() }, 1e6);
    let bad = [burning(-1.0, 200.0), LampInService { fitted_on: Some(day("2027-01-01")), ..known }];
    let w = world(Weibull { shape: 2.0, scale: 1500.0 }, 1.0, 5.0);
    let error = claims_ahead(&bad, &w, &cover, 0.0, &limit(1e6), day("2026-01-01"), 0.0).unwrap_err();
    let slugs: Vec<_> = error.problems().iter().map(|p| p.slug).collect();
    let expected = [
        "warranty.lamp_age",
        "warranty.lamp_hours",
        "warranty.lamp_days",
        "warranty.ahead_days",
        "warranty.planned_age",
    ];
    assert_eq!(slugs, expected);
}

#[test]
fn a_life_that_fails_by_steps_claims_at_its_steps() {
    // Four ages at which a quarter fails each; that at the very end of the warranty counts as late.
    let w = world(Steps(vec![400.0, 600.0, 1000.0, 1200.0]), 1.0, 5.0);
    let ask = |age: f64, cover: &Cover| {
        claims_ahead(&[burning(age, 168.0)], &w, cover, 1e5, &limit(1e5), day("2026-01-01"), 365.0).unwrap()
    };
    let cover = Cover::new(Warranty::pro_rata(1000.0, 1000.0, [Ending::Dim]).unwrap());
    let new = ask(0.0, &cover);
    close(new.claims.mean(), 0.5, 1e-12, 0.0);
    close(new.mean_money, 0.25 * 600.0 + 0.25 * 400.0, 1e-12, 0.0);
    let later = ask(500.0, &cover);
    close(later.claims.mean(), 1.0 / 3.0, 1e-12, 0.0);
    close(later.mean_money, 400.0 / 3.0, 1e-12, 0.0);
}

#[test]
fn claims_of_later_lamps_have_their_closed_form() {
    // Even rate, whole price back however old, no planned change in reach: failures at the rate for ever, the first of
    // which is the claim of the lamp that burns today.
    let (rate, hours) = (1.0_f64 / 700.0, 60.0 / 7.0 * 365.0);
    let w = world(Exponential { scale: 700.0 }, 1.0, 5.0);
    let ask = |age: Option<f64>, planned: f64, cover: &Cover| {
        let lamp = LampInService { age_hours: age, ..burning(0.0, 60.0) };
        claims_ahead(&[lamp], &w, cover, planned, &limit(1e6), day("2026-01-01"), 365.0).unwrap()
    };
    let all = ask(Some(250.0), 1e5, &full(1e5));
    close(all.later_claims, rate * hours + (-rate * hours).exp_m1(), 1e-5, 0.0);
    close(all.later_claims, all.later_money, 1e-12, 0.0);
    // Changed at once: all claims are those of later lamps.
    for age in [None, Some(2e5)] {
        close(ask(age, 1e5, &full(1e5)).later_claims, rate * hours, 1e-5, 0.0);
    }
    // With planned changes failures still come at the rate: all of them, of today's lamps and of later ones.
    for planned in [300.0, 1000.0] {
        let ahead = ask(Some(100.0), planned, &full(1e5));
        close(ahead.claims.mean() + ahead.later_claims, rate * hours, 2e-5, 0.0);
    }
    // Six months of cover from fitting: as many hours, since a week burns 60 of them.
    let dated = full(1e5).within_months(6, CoverStart::Fitting).unwrap();
    let days = f64::from((day("2026-07-01") - day("2026-01-01")).num_days() as i32);
    let same = ask(None, 1e5, &full(60.0 / 7.0 * days));
    close(ask(None, 1e5, &dated).later_claims, same.later_claims, 1e-9, 0.0);
    let lamp = [burning(0.0, 168.0)];
    let error = claims_ahead(&lamp, &w, &full(1e5), 10.0, &limit(1e6), day("2026-01-01"), 365.0).unwrap_err();
    assert_eq!((error.kind(), error.slug()), (relamp::Kind::Refused, "warranty.too_many_changes"));
}

#[test]
fn the_money_of_all_claims_is_what_a_played_fleet_gets_back() {
    // The same lives with and without the warranty: the difference of the costs is the money back.
    let price = 780.0;
    let sockets: Vec<SocketToday> = (0..30)
        .map(|i| SocketToday {
            age_hours: if i == 7 { None } else { Some(70.0 * f64::from(i)) },
            hours_per_week: 30.0 + 2.0 * f64::from(i),
        })
        .collect();
    let lamps: Vec<_> =
        sockets.iter().map(|s| LampInService { age_hours: s.age_hours, ..burning(0.0, s.hours_per_week) }).collect();
    let (plain, planned, days) = (two_causes(), 1500.0, 365.0);
    for name in ["full", "pro_rata", "stepped"] {
        let cover = form(name, price);
        let mut backed = two_causes();
        backed.costs = backed.costs.with_warranty(cover.money().clone()).unwrap();
        let ahead = claims_ahead(&lamps, &plain, &cover, planned, &limit(2000.0), day("2026-01-01"), days).unwrap();
        let batches = 40_u32;
        let (mut sum, mut squares) = (0.0_f64, 0.0_f64);
        for seed in 0..batches {
            let cost = |world: &World| {
                let (rule, limit) = (Rule::AtAge { age_hours: planned }, limit(2000.0));
                let assumed = Assumptions::new(&sockets, world, rule, &limit);
                let options = PlayOptions { horizon: Horizon::days(days), replicates: 50, seed: u64::from(seed) };
                play_fleet(&assumed, &options, &Run::new()).unwrap().whole.cost.mean
            };
            let back = cost(&plain) - cost(&backed);
            sum += back;
            squares += back * back;
        }
        let n = f64::from(batches);
        let mean = sum / n;
        let error = ((squares / n - mean * mean) / (n - 1.0)).sqrt();
        let expected = ahead.mean_money + ahead.later_money;
        assert!(((mean - expected) / error).abs() < 4.5, "{name}: {mean} {error} {expected}");
        // Later lamps bring a share that the check could not miss.
        assert!(ahead.later_money > 20.0 * error, "{} {error}", ahead.later_money);
    }
}

#[test]
fn claims_of_a_screen_that_stops_are_those_up_to_its_day() {
    let (w, cover) = (two_causes(), form("pro_rata", 780.0));
    let (as_of, planned) = (day("2026-01-01"), 1500.0);
    let ask = |stop: Option<StopDate>, age: Option<f64>, days: f64| {
        let lamp = LampInService { age_hours: age, stop, ..burning(0.0, 60.0) };
        claims_ahead(&[lamp], &w, &cover, planned, &limit(2000.0), as_of, days).unwrap()
    };
    let (early, late) = (day("2026-03-02"), day("2026-09-28"));
    let figures = |a: &relamp::warranty::ClaimsAhead| [a.claims.mean(), a.mean_money, a.later_claims, a.later_money];
    for age in [Some(0.0), Some(700.0), Some(1600.0), None] {
        let days = |d: NaiveDate| (d - as_of).num_days() as f64;
        let [up_to_early, up_to_late] = [early, late].map(|d| figures(&ask(None, age, days(d))));
        let certain = figures(&ask(Some(StopDate::On(late)), age, 365.0));
        // The sums over cells of later lamps rest on the longest hours.
        for ((got, want), tolerance) in certain.iter().zip(up_to_late).zip([1e-12, 1e-12, 1e-4, 1e-4]) {
            close(*got, want, tolerance, 1e-12);
        }
        let either = StopDate::Weighted(vec![(early, 0.25), (late, 0.75)]);
        let mixed = figures(&ask(Some(either), age, 365.0));
        for (i, got) in mixed.iter().enumerate() {
            let tolerance = if i < 2 { 1e-12 } else { 1e-4 };
            close(*got, 0.25 * up_to_early[i] + 0.75 * up_to_late[i], tolerance, 1e-12);
        }
        assert_eq!(figures(&ask(Some(StopDate::On(as_of)), age, 365.0)), [0.0; 4]);
        // A stop past the days looked ahead changes nothing.
        assert_eq!(figures(&ask(Some(StopDate::On(day("2028-01-01"))), age, 365.0)), figures(&ask(None, age, 365.0)));
    }
    // Of two equal lamps in screens that stop alike each brings a claim by itself.
    let stop = Some(StopDate::Between { from: early, to: late });
    let lamp = LampInService { stop, ..burning(100.0, 60.0) };
    let of = |lamps: &[LampInService]| claims_ahead(lamps, &w, &cover, planned, &limit(2000.0), as_of, 365.0).unwrap();
    let (one, two) = (of(std::slice::from_ref(&lamp)), of(&[lamp.clone(), lamp.clone()]));
    close(two.claims.at_most(0), one.claims.at_most(0).powi(2), 1e-12, 0.0);
    let past = LampInService { stop: Some(StopDate::On(day("2025-12-31"))), ..lamp };
    let error =
        claims_ahead(&[burning(1.0, 60.0), past], &w, &cover, planned, &limit(2000.0), as_of, 365.0).unwrap_err();
    assert_eq!(error.slug(), "demand.stop_past");
    assert_eq!((error.problems()[0].place.row, error.problems()[0].place.column.as_deref()), (Some(2), Some("stop")));
}
