//! Generalised gamma lives of claims: where their likelihood goes, against `tests/data/claims_shapes.json`.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Lognormal, Weibull, family};
use relamp::fit::{Fit, FitOptions, Identified, IntervalMethod, fit};
use relamp::lives::{Rows, Tally};
use serde_json::Value;

fn fitted(name: &str, tally: &Tally) -> relamp::Result<Fit> {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new())
}

fn stored() -> Vec<Value> {
    let text = std::fs::read_to_string("tests/data/claims_shapes.json").unwrap();
    let value: Value = serde_json::from_str(&text).unwrap();
    value["cases"].as_array().unwrap().clone()
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

fn claims(case: &Value) -> Tally {
    let ages = numbers(&case["ages"]);
    let rows = Rows { low: ages.clone(), high: ages, upper: Some(numbers(&case["uppers"])), ..Rows::default() };
    Tally::from_rows(&rows).unwrap().0
}

/// Claims among lamps of a life, by window.
fn drawn(truth: &dyn Life, lamps: usize, windows: &[f64], run: u64) -> Tally {
    let mut rows = Rows { upper: Some(Vec::new()), ..Rows::default() };
    for (k, upper) in windows.iter().enumerate() {
        let stream = &mut Stream::new(20_261_125, "test", "windows", 10 * run + k as u64);
        for t in truth.draws(lamps, stream).unwrap().into_iter().filter(|t| t <= upper) {
            rows.low.push(t);
            rows.high.push(t);
            rows.upper.as_mut().unwrap().push(*upper);
        }
    }
    Tally::from_rows(&rows).unwrap().0
}

#[test]
fn a_shape_that_runs_away_below_0_is_refused_with_its_limit_and_value() {
    for case in &stored()[..2] {
        let error = fitted("generalised_gamma", &claims(case)).unwrap_err();
        assert_eq!(error.slug(), "fit.not_identified");
        let number = |name: &str| case[name].as_f64().unwrap();
        let said = error.to_string();
        // The limit by its own two parameters, and the life itself far on the way to it.
        assert!((number("limit") - number("near")).abs() < 1e-5);
        assert!(said.contains(&format!("rises to {:.4} as the shape falls below 0", number("limit"))), "{said}");
        assert!(said.contains(&format!("^-{:.4}) / age", number("power"))), "{said}");
        // No family within it lies higher.
        assert!(number("limit") > number("inside"));
        for name in ["weibull", "lognormal", "gamma"] {
            let narrow = fitted(name, &claims(case)).unwrap();
            assert!(narrow.log_likelihood() < number("limit") + 1e-6, "{narrow}");
        }
    }
}

#[test]
fn what_is_said_of_claims_lies_no_lower_than_what_another_search_finds() {
    let case = &stored()[2];
    let inside = case["inside"].as_f64().unwrap();
    let got = fitted("generalised_gamma", &claims(case));
    let found = match &got {
        Ok(found) => found.log_likelihood(),
        Err(error) => {
            let said = error.to_string();
            let from = said.find("rises to ").unwrap() + 9;
            said[from..].split(' ').next().unwrap().parse().unwrap()
        }
    };
    assert!(found > inside - 1e-4, "{found} {inside} {got:?}");
}

#[test]
fn a_plateau_of_claims_is_no_second_peak() {
    // From about scale 0.1 on the likelihood is that of a power of age within the window, -315.4795, wherever one stops.
    let truth = Lognormal { location: 7.5, scale: 0.8 };
    let got = fitted("generalised_gamma", &drawn(&truth, 300, &[800.0], 2)).unwrap();
    assert!((got.log_likelihood() + 315.403_226).abs() < 1e-5, "{got}");
    assert_eq!(got.peaks().len(), 1, "{:?}", got.peaks());
}

#[test]
fn a_thousand_claims_and_more_are_fitted() {
    // Cut at half of the lamps and fewer, as a file of claims is.
    let truth = Lognormal { location: 6.0, scale: 1.2 };
    let claims = drawn(&truth, 2200, &[250.0, 500.0], 0);
    let (wide, narrow) = (fitted("generalised_gamma", &claims).unwrap(), fitted("lognormal", &claims).unwrap());
    assert!(wide.converged() && wide.peaks().len() == 1, "{wide}");
    // The truth is the lognormal life: a third parameter gains little.
    let gain = wide.log_likelihood() - narrow.log_likelihood();
    assert!((0.0..3.0).contains(&gain), "{gain}");
}

#[test]
fn no_scale_of_claims_is_called_settled_by_its_curvature() {
    // A scale far too short has a strong curvature in about one sample of six, and a profile that is open all the same.
    let truth = Weibull { shape: 1.8, scale: 2000.0 };
    let (mut open, mut short) = (0, 0);
    for run in 0..30 {
        let claims = drawn(&truth, 40, &[500.0, 700.0, 900.0, 1100.0, 1300.0, 1500.0], run);
        let Ok(found) = fitted("weibull", &claims) else { continue };
        assert!(found.notes().iter().any(|n| n.slug == "fit.claims_only"), "{found}");
        assert!(found.identified().iter().all(|m| m.method == IntervalMethod::ProfileLikelihood), "{found}");
        let scale = found.mark_of("scale").unwrap();
        open += i32::from(scale.identified == Identified::No);
        short += i32::from(found.parameter_at_maximum("scale").unwrap() < 1300.0);
    }
    assert!(open > 10 && short > 1, "{open} {short}");
}

#[test]
fn more_rows_than_are_marked_unasked_say_so() {
    let truth = Weibull { shape: 2.0, scale: 1000.0 };
    let (mut low, mut high) = (Vec::new(), Vec::new());
    let stream = &mut Stream::new(20_261_125, "test", "windows", 0);
    for (i, t) in truth.draws(11_000, stream).unwrap().into_iter().enumerate() {
        let (end, fails) = (150.0 + 0.05 * i as f64, i % 5 < 2);
        low.push(if fails { t.min(end) } else { end });
        high.push(if fails && t <= end { t } else { f64::INFINITY });
    }
    let tally = Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap().0;
    let found = fitted("never_fails(weibull)", &tally).unwrap();
    assert!(tally.rows() > 10_000 && found.identified().is_empty(), "{found}");
    assert!(found.notes().iter().any(|n| n.slug == "fit.not_marked"), "{found}");
    let plain = fitted("weibull", &tally).unwrap();
    assert!(plain.notes().iter().all(|n| n.slug != "fit.not_marked") && !plain.identified().is_empty(), "{plain}");
}
