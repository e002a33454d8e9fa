//! Product-limit curve and incidence by cause: published tables, hard cases, an independent computation, coverage.

use proptest::prelude::*;
use relamp::base::random::Stream;
use relamp::empirical::{Curve, CurveOptions, Incidence, incidence, product_limit};
use relamp::family::{Life, StepLife};
use relamp::lives::{Reading, Rows, Tally};
use relamp::records::Ending;
use serde_json::Value;

const INF: f64 = f64::INFINITY;

fn read(name: &str) -> Vec<Value> {
    let path = format!("tests/data/{name}");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(v: &Value, default: f64) -> f64 {
    v.as_f64().unwrap_or(default)
}

fn rows_of(table: &[Value]) -> Rows {
    Rows {
        low: table.iter().map(|r| number(&r[0], 0.0)).collect(),
        high: table.iter().map(|r| number(&r[1], INF)).collect(),
        entry: Some(table.iter().map(|r| number(&r[2], 0.0)).collect()),
        count: Some(table.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    }
}

fn tally(rows: &Rows) -> Tally {
    Tally::from_rows(rows).unwrap().0
}

fn case(id: &str) -> (Rows, Value) {
    let case = read("curve_hard_cases.json").into_iter().find(|c| c["id"] == id).unwrap();
    (rows_of(case["input"]["records"]["rows"].as_array().unwrap()), case["expect"].clone())
}

fn loose() -> CurveOptions {
    CurveOptions { min_at_risk: 1, ..CurveOptions::default() }
}

fn close(got: f64, want: f64, relative: f64, what: &str) {
    assert!((got - want).abs() <= relative * want.abs().max(1e-300), "{what}: got {got}, expected {want}");
}

/// Compares every step; keys differ between the two files.
fn check_steps(curve: &Curve, steps: &[Value], keys: [&str; 4], relative: f64, what: &str) {
    let se = curve.standard_error();
    for (i, step) in steps.iter().enumerate() {
        let what = format!("{what}, step {i}");
        assert_eq!(curve.ages()[i], number(&step["t"], -1.0), "{what}");
        assert_eq!(curve.at_risk()[i], step["at_risk"].as_u64().unwrap(), "{what}");
        assert_eq!(curve.failures()[i], step[keys[0]].as_u64().unwrap(), "{what}");
        close(curve.reliability()[i], number(&step[keys[1]], -1.0), relative, &what);
        close(curve.cumulative_hazard()[i], number(&step[keys[2]], -1.0), relative, &what);
        match step[keys[3]].as_f64() {
            Some(want) => close(se[i].unwrap(), want, relative, &what),
            None => assert_eq!(se[i], None, "{what}"),
        }
    }
}

const HARD: [&str; 4] = ["failures", "surv", "cumhaz", "se"];
/// Half a unit of the twelfth significant digit, at its largest relative size.
const PRINTED: f64 = 5e-12;
const TABLE: [&str; 4] = ["d", "S", "H_nelson", "se_greenwood"];

#[test]
fn hard_cases_come_out_as_worked_by_hand() {
    for id in ["hc-km-001", "hc-km-003", "hc-km-004"] {
        let (rows, expect) = case(id);
        let curve = product_limit(&tally(&rows), &loose()).unwrap();
        let steps = expect["steps"].as_array().unwrap();
        assert_eq!(curve.ages().len(), steps.len(), "{id}");
        check_steps(&curve, steps, HARD, 1e-12, id);
    }
}

#[test]
fn a_risk_set_of_one_that_sinks_the_curve_is_told() {
    let (rows, expect) = case("hc-km-003");
    let t = tally(&rows);
    let curve = product_limit(&t, &loose()).unwrap();
    assert!(curve.reliability().iter().all(|&r| r == 0.0));
    let said: String = curve.notes().iter().map(|n| n.sentence.as_str()).collect();
    for must in expect["must_warn"].as_array().unwrap() {
        assert!(said.contains(must.as_str().unwrap()), "{said}");
    }
    for options in
        [CurveOptions { given_survival_to: Some(4.0), ..loose() }, CurveOptions { min_at_risk: 4, ..loose() }]
    {
        let later = product_limit(&t, &options).unwrap();
        assert_eq!(later.conditional_from(), 4.0);
        assert_eq!(later.reliability_at(3.0), None);
        assert_eq!(later.reliability_at(4.0), Some(1.0));
        assert!(later.notes()[0].sentence.starts_with("given survival to 4 h"));
        for step in expect["conditional_on_alive_at_4"].as_array().unwrap() {
            assert_eq!(later.reliability_at(number(&step["t"], 0.0)), step["surv"].as_f64());
        }
    }
    let refused = product_limit(&t, &CurveOptions::default()).unwrap_err();
    assert_eq!(refused.slug(), "empirical.too_few_at_risk");
}

#[test]
fn a_median_that_is_not_reached_is_none() {
    let (rows, expect) = case("hc-km-004");
    let curve = product_limit(&tally(&rows), &CurveOptions::default()).unwrap();
    assert_eq!(expect["median"], "not reached");
    assert_eq!(curve.median(), None);
    assert_eq!(curve.quantile(0.1).unwrap(), Some(100.0));
    assert_eq!(curve.restricted_mean(200.0).unwrap(), expect["restricted_mean_200"].as_f64().unwrap());
    assert_eq!((curve.reliability_at(200.0), curve.reliability_at(200.5)), (Some(0.9), None));
    assert_eq!(curve.restricted_mean(201.0).unwrap_err().slug(), "empirical.beyond_last_age");
}

#[test]
fn a_quantile_is_the_first_age_that_reaches_it() {
    let (rows, expect) = case("hc-km-008");
    let curve = product_limit(&tally(&rows), &CurveOptions::default()).unwrap();
    assert!(expect["any_of"].as_array().unwrap().iter().any(|v| v.as_f64() == curve.median()));
    // Shares that binary fractions miss: 1 - 0.9 is below 0.1.
    let ten =
        Rows { low: (1..=10).map(f64::from).collect(), high: (1..=10).map(f64::from).collect(), ..Rows::default() };
    let curve = product_limit(&tally(&ten), &CurveOptions::default()).unwrap();
    for k in 1..=10_u32 {
        assert_eq!(curve.quantile(f64::from(k) / 10.0).unwrap(), Some(f64::from(k)), "{k}");
    }
    assert_eq!(curve.quantile(0.0).unwrap(), Some(0.0));
    assert_eq!(curve.quantile(f64::NAN).unwrap_err().slug(), "empirical.probability");
}

#[test]
fn bad_rows_are_named() {
    for id in ["hc-err-001", "hc-err-003", "hc-err-004"] {
        let (rows, expect) = case(id);
        let error = Tally::from_rows(&rows).unwrap_err();
        let listed = expect["problems"].as_array().cloned().unwrap_or_else(|| vec![expect.clone()]);
        assert_eq!(error.problems().len(), listed.len(), "{id}");
        for (problem, want) in error.problems().iter().zip(&listed) {
            assert_eq!(problem.place.row, want["record"].as_u64(), "{id}");
            let column = problem.place.column.clone().unwrap();
            let any = want["column_any"].as_array().cloned().unwrap_or_else(|| vec![want["column"].clone()]);
            assert!(any.iter().any(|c| c == column.as_str()), "{id}: {column}");
            for word in want["reason_any"].as_array().into_iter().flatten().take(1) {
                assert!(problem.what.contains(word.as_str().unwrap()), "{id}: {}", problem.what);
            }
        }
    }
}

#[test]
fn published_tables_are_met() {
    let mut steps_seen = 0;
    for table in read("curve_tables.json") {
        let what = format!("{} {}", table["name"], table["group"]);
        let mut rows = table["rows"].as_array().unwrap().clone();
        if let Some(steps) = table["steps"].as_array() {
            let curve = product_limit(&tally(&rows_of(&rows)), &loose()).unwrap();
            assert_eq!(curve.ages().len(), steps.len(), "{what}");
            check_steps(&curve, steps, TABLE, PRINTED, &what);
            steps_seen += steps.len();
            continue;
        }
        // The retirement centre: rows that break a rule are named, then left out as the source leaves them out.
        if let Err(error) = Tally::from_rows(&rows_of(&rows)) {
            for problem in error.problems().iter().rev() {
                assert_eq!(problem.place.column.as_deref(), Some("entry"), "{what}");
                rows.remove(problem.place.row.unwrap() as usize - 1);
            }
        }
        let t = tally(&rows_of(&rows));
        let naive = product_limit(&t, &loose()).unwrap();
        check_steps(&naive, table["first_steps"].as_array().unwrap().get(..2).unwrap(), TABLE, PRINTED, &what);
        for (age, want) in table["given"].as_object().unwrap() {
            let options = CurveOptions { given_survival_to: Some(age.parse().unwrap()), ..loose() };
            let curve = product_limit(&t, &options).unwrap();
            assert_eq!(curve.conditional_from().to_string(), *age);
            for pair in want.as_array().unwrap() {
                close(curve.reliability_at(number(&pair[0], 0.0)).unwrap(), number(&pair[1], 0.0), PRINTED, &what);
                steps_seen += 1;
            }
        }
    }
    assert!(steps_seen > 80, "{steps_seen}");
}

/// Worked by hand: ten lamps, one under observation from 300 h only, one failure tied with a planned change at 900 h.
#[test]
fn ten_lamps_by_hand() {
    let rows = Rows {
        low: vec![200.0, 400.0, 500.0, 700.0, 900.0, 900.0, 1000.0, 1200.0, 1300.0, 1500.0],
        high: vec![200.0, INF, 500.0, INF, 900.0, INF, INF, 1200.0, INF, INF],
        entry: Some(vec![0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 300.0, 0.0, 0.0]),
        ..Rows::default()
    };
    let curve = product_limit(&tally(&rows), &CurveOptions::default()).unwrap();
    assert_eq!(curve.ages(), [200.0, 500.0, 900.0, 1200.0]);
    // At 200 h the lamp first seen at 300 h is not yet counted; at 900 h the lamp changed on plan still is.
    assert_eq!(curve.at_risk(), [9, 8, 6, 3]);
    for (got, want) in curve.reliability().iter().zip([8.0 / 9.0, 7.0 / 9.0, 35.0 / 54.0, 35.0 / 81.0]) {
        close(*got, want, 1e-15, "reliability");
    }
    let hazard = 1.0 / 9.0 + 1.0 / 8.0 + 1.0 / 6.0 + 1.0 / 3.0;
    close(curve.cumulative_hazard_at(1500.0).unwrap(), hazard, 1e-15, "hazard");
    assert_eq!((curve.median(), curve.last_age()), (Some(1200.0), 1500.0));
}

/// The band of one point by its formula: R = 0.9, one of ten failed, z = 1.959964 (normal table).
#[test]
fn log_log_band_of_one_point() {
    let rows = Rows { low: vec![1.0, 2.0], high: vec![1.0, INF], count: Some(vec![1, 9]), ..Rows::default() };
    let curve = product_limit(&tally(&rows), &CurveOptions::default()).unwrap();
    let (low, high) = curve.band_at(1.0).unwrap();
    let w = 1.959_963_984_540_054 * (1.0_f64 / 90.0).sqrt() / -(0.9_f64.ln());
    close(low, 0.9_f64.powf(w.exp()), 1e-12, "low");
    close(high, 0.9_f64.powf((-w).exp()), 1e-12, "high");
    assert_eq!((curve.band_at(0.5), curve.band_at(2.5)), (None, None));
    assert_eq!(curve.band()[0], Some((low, high)));
}

#[test]
fn interval_rows_need_a_named_reading() {
    let rows = Rows { low: vec![100.0, 300.0], high: vec![200.0, INF], count: Some(vec![2, 8]), ..Rows::default() };
    let t = tally(&rows);
    assert_eq!(product_limit(&t, &CurveOptions::default()).unwrap_err().slug(), "empirical.interval_rows");
    for (reading, age) in [(Reading::Upper, 200.0), (Reading::Midpoint, 150.0), (Reading::Lower, 100.0)] {
        let curve = product_limit(&t, &CurveOptions { reading: Some(reading), ..CurveOptions::default() }).unwrap();
        assert_eq!((curve.ages(), curve.reading(), curve.interval_failures()), (&[age][..], Some(reading), 2));
        assert!(curve.notes().iter().any(|n| n.rule == "empirical.interval_reading"));
    }
    let late = Rows { entry: Some(vec![150.0, 0.0]), ..rows };
    let lower = CurveOptions { reading: Some(Reading::Lower), ..loose() };
    assert_eq!(product_limit(&tally(&late), &lower).unwrap_err().slug(), "lives.reading_at_entry");
}

#[test]
fn questions_without_an_answer_are_refused() {
    let one = Rows { low: vec![5.0], high: vec![5.0], ..Rows::default() };
    let ask = |rows: &Rows, options: &CurveOptions| product_limit(&tally(rows), options).unwrap_err().slug();
    for level in [0.0, 1.0, f64::NAN] {
        assert_eq!(ask(&one, &CurveOptions { level, ..CurveOptions::default() }), "empirical.level");
    }
    let options = CurveOptions { given_survival_to: Some(-1.0), ..CurveOptions::default() };
    assert_eq!(ask(&one, &options), "empirical.given_survival_to");
    assert_eq!(ask(&Rows { count: Some(vec![0]), ..one.clone() }, &CurveOptions::default()), "empirical.no_lamps");
    assert_eq!(ask(&Rows { upper: Some(vec![9.0]), ..one }, &CurveOptions::default()), "empirical.upper");
    let censored = Rows { low: vec![5.0], high: vec![INF], ..Rows::default() };
    let curve = product_limit(&tally(&censored), &CurveOptions::default()).unwrap();
    assert_eq!((curve.reliability_at(5.0), curve.notes()[0].rule.as_str()), (Some(1.0), "empirical.no_failures"));
}

/// Every number at every age straight from its definition, rows against rows.
fn by_definition(rows: &Rows, from: f64) -> Vec<(f64, u64, u64, f64, f64, f64)> {
    let n = rows.low.len();
    let entry = rows.entry.as_ref().unwrap();
    let count = rows.count.as_ref().unwrap();
    let mut ages: Vec<f64> = (0..n).filter(|&i| rows.high[i] < INF && count[i] > 0).map(|i| rows.low[i]).collect();
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    let (mut r, mut h, mut v) = (1.0, 0.0, 0.0);
    let mut out = vec![];
    for age in ages.into_iter().filter(|&a| a > from) {
        let at_risk: u64 = (0..n).filter(|&i| entry[i] < age && age <= rows.low[i]).map(|i| count[i]).sum();
        let failed: u64 = (0..n).filter(|&i| rows.high[i] == age).map(|i| count[i]).sum();
        let (k, d) = (at_risk as f64, failed as f64);
        r *= 1.0 - d / k;
        h += d / k;
        v += d / (k * (k - d));
        out.push((age, at_risk, failed, r, h, v));
    }
    out
}

fn any_rows() -> impl Strategy<Value = Rows> {
    let row = (1_u32..40, prop::bool::ANY, 0_u32..30, 0_u64..4, 0_usize..5);
    prop::collection::vec(row, 1..60).prop_map(|rows| Rows {
        low: rows.iter().map(|r| f64::from(r.0)).collect(),
        high: rows.iter().map(|r| if r.1 { f64::from(r.0) } else { INF }).collect(),
        entry: Some(rows.iter().map(|r| if r.2 < r.0 { f64::from(r.2) } else { 0.0 }).collect()),
        ending: Some(rows.iter().map(|r| Ending::ALL[r.4]).collect()),
        count: Some(rows.iter().map(|r| r.3).collect()),
        ..Rows::default()
    })
}

proptest! {
    #[test]
    fn curve_equals_its_definition(rows in any_rows(), min_at_risk in 1_u64..6, from in 0_u32..10) {
        let given = (from > 0).then_some(f64::from(from));
        let options = CurveOptions { min_at_risk, given_survival_to: given, ..CurveOptions::default() };
        if let Ok(curve) = product_limit(&tally(&rows), &options) {
            let start = curve.conditional_from();
            let want = by_definition(&rows, start);
            prop_assert_eq!(curve.ages().len(), want.len());
            let se = curve.standard_error();
            let mut zero = false;
            for (i, &(age, at_risk, failed, r, h, v)) in want.iter().enumerate() {
                prop_assert_eq!((curve.ages()[i], curve.at_risk()[i], curve.failures()[i]), (age, at_risk, failed));
                zero |= at_risk == failed;
                let r_got = curve.reliability()[i];
                let right = if zero { r_got == 0.0 } else { (r_got - r).abs() <= 1e-13 * r };
                prop_assert!(right, "{} against {}", r_got, r);
                prop_assert!((curve.cumulative_hazard()[i] - h).abs() <= 1e-13 * h);
                prop_assert_eq!(se[i].is_none(), zero);
                if let Some(se) = se[i] {
                    prop_assert!((se - r * v.sqrt()).abs() <= 1e-12 * se);
                }
            }
            // With late entry, enough lamps are at risk just after the start.
            let late = rows.entry.as_ref().unwrap().iter().zip(rows.count.as_ref().unwrap()).any(|(&e, &c)| e > 0.0 && c > 0);
            let just_after: u64 = (0..rows.low.len())
                .filter(|&i| rows.entry.as_ref().unwrap()[i] <= start && rows.low[i] > start)
                .map(|i| rows.count.as_ref().unwrap()[i])
                .sum();
            prop_assert!(!late || just_after >= min_at_risk);
        }
    }

    #[test]
    fn incidences_and_reliability_add_up(rows in any_rows()) {
        if let Ok(by_cause) = incidence(&tally(&rows), &loose()) {
            let curve = product_limit(&tally(&rows), &loose()).unwrap();
            prop_assert_eq!(&by_cause.ages, curve.ages());
            prop_assert_eq!(&by_cause.at_risk, curve.at_risk());
            for i in 0..by_cause.ages.len() {
                let sum: f64 = by_cause.causes.iter().map(|c| c.incidence[i]).sum();
                prop_assert!((sum + by_cause.reliability[i] - 1.0).abs() <= 1e-12);
                let failed: u64 = by_cause.causes.iter().map(|c| c.failures[i]).sum();
                prop_assert_eq!(failed, curve.failures()[i]);
            }
            prop_assert_eq!(&Incidence::from_json(&by_cause.to_json().unwrap()).unwrap(), &by_cause);
        }
    }

    #[test]
    fn scaling_the_hours_scales_the_ages_only(rows in any_rows()) {
        let double = |column: &[f64]| column.iter().map(|x| 2.0 * x).collect::<Vec<f64>>();
        let scaled = Rows {
            low: double(&rows.low), high: double(&rows.high), entry: rows.entry.as_deref().map(double), ..rows.clone()
        };
        if let Ok(curve) = product_limit(&tally(&rows), &loose()) {
            let twice = product_limit(&tally(&scaled), &loose()).unwrap();
            prop_assert_eq!(double(curve.ages()), twice.ages());
            prop_assert_eq!(curve.reliability(), twice.reliability());
        }
    }

    #[test]
    fn saved_curve_gives_equal_bits(rows in any_rows()) {
        if let Ok(curve) = product_limit(&tally(&rows), &loose()) {
            let text = curve.to_json().unwrap();
            let back = Curve::from_json(&text).unwrap();
            prop_assert_eq!(&back, &curve);
            prop_assert_eq!(back.to_json().unwrap(), text);
        }
    }

    #[test]
    fn step_life_agrees_with_its_curve(rows in any_rows(), to in 0.0_f64..50.0, p in 0.0_f64..1.0) {
        let new = Rows { entry: None, ..rows };
        if let Ok(curve) = product_limit(&tally(&new), &loose()) {
            let life = StepLife::new(&curve).unwrap();
            if let Ok(mean) = curve.restricted_mean(to) {
                prop_assert!((life.mean_to(to).unwrap() - mean).abs() <= 1e-12 * mean.max(1.0));
                prop_assert!((life.reliability(to) - curve.reliability_at(to).unwrap()).abs() <= 1e-15);
            }
            prop_assert_eq!(life.quantile(p).unwrap(), curve.quantile(p).unwrap().unwrap_or(INF));
            prop_assert_eq!(life.kinks(), curve.ages());
        }
    }
}

/// Shares of small numbers multiply and add without losing the total.
#[test]
fn a_hundred_thousand_steps_still_add_up() {
    let mut stream = Stream::new(3, "empirical", "long", 0);
    let n = 100_000;
    let low: Vec<f64> = (0..n).map(|_| 2000.0 * stream.exponential()).collect();
    let high: Vec<f64> = low.iter().map(|&x| if stream.uniform() < 0.6 { x } else { INF }).collect();
    let ending = (0..n).map(|_| Ending::ALL[stream.below(5)]).collect();
    let t = tally(&Rows { low, high, ending: Some(ending), ..Rows::default() });
    let by_cause = incidence(&t, &CurveOptions::default()).unwrap();
    assert!(by_cause.ages.len() > 50_000);
    for (i, r) in by_cause.reliability.iter().enumerate() {
        let sum: f64 = by_cause.causes.iter().map(|c| c.incidence[i]).sum();
        assert!((sum + r - 1.0).abs() <= 1e-12, "step {i}");
    }
}

/// The 95 % band at the true median holds the truth about as often as it says: 1,000 samples of 60 lamps, a third
/// censored, a third seen late. The count must lie inside the binomial range at 1e-4 for a coverage of 0.95.
#[test]
fn the_band_covers_as_often_as_it_says() {
    let (samples, lamps) = (1000, 60);
    let (shape, scale) = (3.0, 2000.0_f64);
    let age = scale * 2.0_f64.ln().powf(1.0 / shape);
    let mut covered = 0;
    for sample in 0..samples {
        let mut stream = Stream::new(11, "empirical", "coverage", sample);
        let mut rows = Rows { entry: Some(vec![]), ..Rows::default() };
        while rows.low.len() < lamps {
            let fails = scale * stream.exponential().powf(1.0 / shape);
            let planned = 1000.0 + 2000.0 * stream.uniform();
            let entry = if stream.uniform() < 0.33 { 1200.0 * stream.uniform() } else { 0.0 };
            if entry < fails.min(planned) {
                rows.low.push(fails.min(planned));
                rows.high.push(if fails < planned { fails } else { INF });
                rows.entry.as_mut().unwrap().push(entry);
            }
        }
        let curve = product_limit(&tally(&rows), &CurveOptions::default()).unwrap();
        assert_eq!(curve.conditional_from(), 0.0);
        covered += usize::from(curve.band_at(age).is_some_and(|(low, high)| (low..=high).contains(&0.5)));
    }
    // Binomial(1000, 0.95): outside 922..=975 with probability 1e-4.
    assert!((922..=975).contains(&covered), "{covered} of {samples}");
}

#[test]
fn any_number_of_threads_gives_the_same_curve() {
    let mut stream = Stream::new(5, "empirical", "threads", 0);
    let low: Vec<f64> = (0..40_000).map(|_| 2000.0 * stream.exponential()).collect();
    let entry = low.iter().map(|x| x * stream.uniform() * 0.5).collect();
    let rows = Rows {
        high: low.iter().map(|&x| if x < 900.0 { x } else { INF }).collect(),
        low,
        entry: Some(entry),
        ..Rows::default()
    };
    let texts = [1, 2, 3].map(|n| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
        pool.install(|| product_limit(&tally(&rows), &CurveOptions::default()).unwrap().to_json().unwrap())
    });
    assert!(texts[0] == texts[1] && texts[1] == texts[2]);
}

#[test]
fn lamps_at_risk_are_known_at_every_age() {
    for late in [false, true] {
        for seed in 0..6 {
            let mut stream = Stream::new(seed, "test", "at risk", u64::from(late));
            let mut rows = Rows { entry: Some(vec![]), count: Some(vec![]), ..Rows::default() };
            for _ in 0..40 {
                // Ages on a grid, so that failures, removals and entries meet.
                let age = (1.0 + 20.0 * stream.uniform()).floor();
                let entry = if late && stream.uniform() < 0.7 { (age * stream.uniform()).floor() } else { 0.0 };
                rows.low.push(age);
                rows.high.push(if stream.uniform() < 0.5 { age } else { INF });
                rows.entry.as_mut().unwrap().push(entry);
                rows.count.as_mut().unwrap().push(stream.below(3) as u64);
            }
            for given_survival_to in [None, Some(4.0)] {
                let options = CurveOptions { given_survival_to, ..loose() };
                let curve = product_limit(&tally(&rows), &options).unwrap();
                let causes = incidence(&tally(&rows), &options).unwrap();
                for age in (0..100).map(|i| 0.25 * f64::from(i)) {
                    let (entry, count) = (rows.entry.as_ref().unwrap(), rows.count.as_ref().unwrap());
                    let here = |i: &usize| (entry[*i] < age || age == 0.0 && entry[*i] == 0.0) && rows.low[*i] >= age;
                    let want: u64 = (0..rows.low.len()).filter(here).map(|i| count[i]).sum();
                    assert_eq!(causes.at_risk_at(age), Some(want), "by cause, late {late}, seed {seed}, at {age}");
                    assert_eq!(curve.at_risk_at(age), Some(want), "late {late}, seed {seed}, at {age}");
                }
                assert_eq!(
                    (curve.at_risk_at(1e9), curve.at_risk_at(-1.0), curve.at_risk_at(f64::NAN)),
                    (Some(0), None, None)
                );
            }
        }
    }
    // A curve saved before curves held this says that it does not know.
    let (ages, open) = (vec![100.0, 200.0], vec![100.0, INF]);
    let curve = product_limit(&tally(&Rows { low: ages, high: open, ..Rows::default() }), &loose()).unwrap();
    assert_eq!(curve.at_risk_at(150.0), Some(1));
    let mut saved: Value = serde_json::from_str(&curve.to_json().unwrap()).unwrap();
    for field in ["watched", "watched_ages"] {
        assert!(saved["body"].as_object_mut().unwrap().remove(field).is_some());
    }
    assert_eq!(Curve::from_json(&saved.to_string()).unwrap().at_risk_at(150.0), None);
}
