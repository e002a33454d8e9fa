//! Printed figures beside the recomputed ones: each must agree to its last digit, or be known not to, with the reason.

use relamp::Run;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{Fit, FitOptions, fit};
use relamp::lives::{Rows, Tally};
use serde_json::Value;

const INF: f64 = f64::INFINITY;

fn tally(rows: &[Value]) -> Tally {
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

/// The figure a source prints; none for interval ends, which have tests of their own.
fn figure(fit: &Fit, what: &str) -> Option<f64> {
    let (weibull, life) = (fit.family_name() == "weibull", fit.life_at_maximum().unwrap());
    let (part, name) = what.split_once('/').unwrap_or((what, ""));
    // Location and scale of the log life, as books give them.
    let log = |name: &'static str| match name {
        "mu" if weibull => fit.parameter_at_maximum("scale").map(f64::ln),
        "mu" => fit.parameter_at_maximum("location"),
        _ if weibull => fit.parameter_at_maximum("shape").map(f64::recip),
        _ => fit.parameter_at_maximum("scale"),
    };
    match (part, name) {
        ("params", "mu") => log("mu"),
        ("params", "sigma") => log("sigma"),
        ("params", "rate") => fit.parameter_at_maximum("scale").map(f64::recip),
        ("params", _) => fit.parameter_at_maximum(name),
        ("se_observed_info", "mu") => fit.standard_error("location"),
        ("se_observed_info", "sigma") => fit.standard_error("scale"),
        ("se_observed_info", _) => fit.standard_error(name),
        ("loglik", _) => Some(fit.log_likelihood()),
        ("aic", _) => Some(fit.aic()),
        ("mean", _) => life.mean().ok(),
        ("quantiles", _) => life.b_life(name.trim_start_matches('B').parse().unwrap()).ok(),
        _ => None,
    }
}

#[test]
fn printed_figures_agree_to_their_last_digit_or_say_why_not() {
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    let mut seen = (0, 0);
    for case in all["cases"].as_array().unwrap() {
        let sample = tally(case["rows"].as_array().unwrap());
        for (name, answer) in case["fits"].as_object().unwrap() {
            let Some(printed) = answer["published"].as_array() else { continue };
            let got = fit(family(name).unwrap(), &sample, &FitOptions::default(), &Run::new()).unwrap();
            for p in printed {
                let what = p["what"].as_str().unwrap();
                let Some(ours) = figure(&got, what) else { continue };
                let (value, half_digit) = (p["value"].as_f64().unwrap(), p["tolerance"].as_f64().unwrap());
                let agrees = p["agrees"].as_bool().unwrap();
                let what = format!("{} {name} {what}: got {ours}, printed {value} +- {half_digit}", case["name"]);
                assert_eq!((ours - value).abs() <= half_digit, agrees, "{what}");
                assert!(agrees || p["note"].as_str().is_some_and(|n| !n.is_empty()), "{what}: no reason given");
                seen = if agrees { (seen.0 + 1, seen.1) } else { (seen.0, seen.1 + 1) };
            }
        }
    }
    assert!(seen.0 >= 60 && seen.1 >= 5, "{seen:?}");
}

#[test]
fn fits_of_three_cells_add_up_to_the_printed_log_likelihood() {
    // NIST/SEMATECH e-Handbook 8.4.2 (data seen): -475.1119 for three lognormal fits at 85, 105 and 125 C.
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    let cells = all["cases"].as_array().unwrap().iter();
    let cells: Vec<&Value> =
        cells.filter(|c| c["name"].as_str().unwrap().starts_with("nist_arrhenius_lognormal")).collect();
    assert_eq!(cells.len(), 3);
    let fits = cells.iter().map(|c| {
        fit(family("lognormal").unwrap(), &tally(c["rows"].as_array().unwrap()), &FitOptions::default(), &Run::new())
    });
    let sum: f64 = fits.map(|f| f.unwrap().log_likelihood()).sum();
    assert!((sum + 475.1119).abs() <= 5e-5, "{sum}");
}

#[test]
fn late_entry_far_past_every_life_keeps_its_digits() {
    let all: Value = serde_json::from_str(include_str!("../data/hard_lives.json")).unwrap();
    let case = all["cases"].as_array().unwrap().iter().find(|c| c["id"] == "hc-ll-001").unwrap().clone();
    let life = Weibull { shape: case["at"]["shape"].as_f64().unwrap(), scale: case["at"]["scale"].as_f64().unwrap() };
    let mut sum = 0.0;
    for row in case["rows"].as_array().unwrap() {
        let (low, entry) = (row[0].as_f64().unwrap(), row[2].as_f64().unwrap());
        // Reliability at entry is exp(-59,049) and less: 0 in floating point, so only logs tell the rows apart.
        sum += match row[1].as_f64() {
            None => life.ln_reliability(low),
            Some(high) if high > low => {
                let fall = life.ln_reliability(high) - life.ln_reliability(low);
                life.ln_reliability(low) + (-fall.exp_m1()).ln()
            }
            Some(_) => life.ln_density(low),
        } - life.ln_reliability(entry);
    }
    let want = case["expect"]["values"]["loglik"].as_f64().unwrap();
    assert!((sum - want).abs() <= case["tol"]["rel"].as_f64().unwrap() * want.abs(), "{sum} {want}");
}
