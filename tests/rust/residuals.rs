//! Residuals: sums that maximum likelihood makes exact, the curve against the product-limit one, and draws.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::empirical::{CurveOptions, product_limit};
use relamp::family::{Life, Weibull, family};
use relamp::fit::{Fit, FitOptions, fit};
use relamp::lives::{Rows, Tally};
use serde_json::Value;

const INF: f64 = f64::INFINITY;

fn from_rows(rows: &[Value]) -> Tally {
    let column = |k: usize, none: f64| rows.iter().map(|r| r[k].as_f64().unwrap_or(none)).collect::<Vec<_>>();
    let rows = Rows {
        low: column(0, 0.0),
        high: column(1, INF),
        entry: Some(column(2, 0.0)),
        count: Some(rows.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap()
}

/// Lives of Weibull shape 2, scale 1,000 h, each stopped at an age of its own, some entered late.
fn staggered(n: usize, run: u64) -> Tally {
    let mut stream = Stream::new(20_261_125, "test", "residuals", run);
    let mut rows = Rows { entry: Some(Vec::new()), ..Rows::default() };
    while rows.low.len() < n {
        let t = 1000.0 * stream.exponential().sqrt();
        let (entry, stop) = (200.0 * stream.uniform(), 400.0 + 1400.0 * stream.uniform());
        if t <= entry {
            continue;
        }
        rows.low.push(t.min(stop));
        rows.high.push(if t <= stop { t } else { INF });
        rows.entry.as_mut().unwrap().push(entry);
    }
    Tally::from_rows(&rows).unwrap().0
}

#[test]
fn failures_expected_equal_those_seen_where_a_rate_is_free() {
    // The slope of the log-likelihood over a factor on the hazard is failures less the cumulative hazard passed, whatever
    // the kind of row; at the maximum it is 0. Published data with every kind of row: exact, right, left, interval, late.
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    let mut seen = 0;
    for case in all["cases"].as_array().unwrap() {
        let tally = from_rows(case["rows"].as_array().unwrap());
        for name in
            case["fits"].as_object().unwrap().keys().filter(|n| ["exponential", "weibull"].contains(&n.as_str()))
        {
            let got = fitted(name, &tally).residuals(&tally, &FitOptions::default()).unwrap();
            let (failures, expected) = (got.failures as f64, got.expected_failures);
            assert!((expected / failures - 1.0).abs() < 1e-8, "{} {name}: {expected} {failures}", case["name"]);
            assert_eq!(got.rows.len(), tally.rows());
            seen += 1;
        }
    }
    assert!(seen >= 60, "{seen}");
}

#[test]
fn the_curve_is_that_of_the_records_over_the_fitted_hazard() {
    let tally = staggered(120, 0);
    let got = fitted("weibull", &tally);
    let (life, residuals) = (got.life().unwrap(), got.residuals(&tally, &FitOptions::default()).unwrap());
    let curve = product_limit(&tally, &CurveOptions { min_at_risk: 1, ..CurveOptions::default() }).unwrap();
    assert_eq!(residuals.points.len(), curve.ages().len());
    let mut variance = 0.0;
    for (i, p) in residuals.points.iter().enumerate() {
        assert_eq!((p.age, p.at_risk, p.failures), (curve.ages()[i], curve.at_risk()[i], curve.failures()[i]));
        assert!((p.seen - curve.cumulative_hazard()[i]).abs() < 1e-12);
        assert!((p.expected + life.ln_reliability(p.age)).abs() < 1e-12);
        variance += p.failures as f64 / (p.at_risk as f64).powi(2);
        assert!((p.standard_error - variance.sqrt()).abs() < 1e-12);
    }
    for (row, entry) in residuals.rows.iter().zip(tally.entry().unwrap()) {
        let passed = life.ln_reliability(*entry) - life.ln_reliability(row.low);
        assert!((row.passed - passed).abs() < 1e-12 && row.entry == *entry);
    }
    let text = serde_json::to_string(&residuals).unwrap();
    assert_eq!(serde_json::from_str::<relamp::fit::HazardResiduals>(&text).unwrap(), residuals);
}

#[test]
fn an_interval_counts_with_its_mean_hazard() {
    // By quadrature: the mean of H(T) given that T lies in (300, 700].
    let tally = Tally::from_rows(&Rows {
        low: vec![100.0, 300.0, 600.0, 900.0],
        high: vec![100.0, 700.0, 600.0, INF],
        ..Rows::default()
    });
    let tally = tally.unwrap().0;
    let got = fitted("weibull", &tally);
    let life = got.life().unwrap();
    let (n, mut sum, mut mass) = (40_000, 0.0, 0.0);
    for k in 0..n {
        let t = 300.0 + 400.0 * (f64::from(k) + 0.5) / f64::from(n);
        let f = life.ln_density(t).exp();
        sum -= f * life.ln_reliability(t);
        mass += f;
    }
    let residuals = got.residuals(&tally, &FitOptions::default()).unwrap();
    let row = residuals.rows.iter().find(|r| r.high == Some(700.0)).unwrap();
    assert!((row.passed - sum / mass).abs() < 1e-8, "{} {}", row.passed, sum / mass);
    // A narrow interval is an exact age, and one without bound above a rest of mean 1.
    let narrow = Tally::from_rows(&Rows { low: vec![300.0], high: vec![300.0 + 1e-6], ..Rows::default() }).unwrap().0;
    let at = got.residuals(&narrow, &FitOptions::default()).unwrap();
    assert!((at.rows[0].passed + life.ln_reliability(300.0)).abs() < 1e-8);
    assert!((at.points[0].age - 300.0).abs() < 1e-5);
}

#[test]
fn intervals_hold_the_true_hazard_as_often_as_they_say_and_a_wrong_life_is_seen() {
    // Judged by a fit of very many lamps, other samples are judged by the truth.
    let truth = fitted("weibull", &staggered(60_000, 1));
    let wrong = fitted("exponential", &staggered(60_000, 1));
    let (mut held, mut missed, runs) = (0, 0, 600);
    let options = FitOptions::default();
    for run in 0..runs {
        let sample = staggered(80, 2 + run);
        let holds = |fit: &Fit| {
            let points = fit.residuals(&sample, &options).unwrap().points;
            let p = &points[points.len() / 2];
            p.low <= p.expected && p.expected <= p.high
        };
        held += i32::from(holds(&truth));
        missed += i32::from(!holds(&wrong));
    }
    // 99.9 % binomial range of 570 in 600; half of the failures of 80 lamps with even rate missed far more often.
    assert!((552..=586).contains(&held), "{held}");
    assert!(missed > 150, "{missed}");
}

#[test]
fn residuals_that_mean_nothing_are_refused() {
    let claims =
        Rows { low: vec![100.0, 200.0], high: vec![100.0, 200.0], upper: Some(vec![500.0; 2]), ..Rows::default() };
    let claims = Tally::from_rows(&claims).unwrap().0;
    let life = fitted("exponential", &staggered(50, 3));
    assert_eq!(life.residuals(&claims, &FitOptions::default()).unwrap_err().slug(), "fit.residual_rows");
    // A failure before the failure-free time of the judging fit: every such row is named.
    let ages = Weibull { shape: 1.8, scale: 500.0 }.draws(200, &mut Stream::new(7, "test", "free", 0)).unwrap();
    let late: Vec<f64> = ages.iter().map(|t| t + 1000.0).collect();
    let free = Tally::from_rows(&Rows { low: late.clone(), high: late, ..Rows::default() }).unwrap().0;
    let early = vec![50.0, 60.0, 1500.0];
    let early = Tally::from_rows(&Rows { low: early.clone(), high: early, ..Rows::default() }).unwrap().0;
    let error = fitted("weibull_failure_free", &free).residuals(&early, &FitOptions::default()).unwrap_err();
    assert_eq!((error.slug(), error.problems().len()), ("fit.residual_plateau", 2), "{error}");
}
