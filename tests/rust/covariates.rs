//! Accelerated-life regression: published fits, closed forms, named refusals, coverage.

use std::collections::BTreeMap;

use relamp::base::math::special::ln_gamma_q;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{
    BOLTZMANN_EV, CovariateFit, Design, FitOptions, HazardOptions, Quantity, Sides, StressLaw, Terms, ValueIs, fit,
    fit_covariates, proportional_hazards,
};
use relamp::lives::{CovariateValue, Rows, Tally};
use relamp::records::{Column, Values};
use relamp::{Error, Kind, Run};
use serde_json::Value;

const INF: f64 = f64::INFINITY;

fn near(got: f64, want: f64, relative: f64, what: &str) {
    assert!((got - want).abs() <= relative * want.abs().max(1e-12), "{what}: got {got}, expected {want}");
}

fn text(name: &str, values: &[&str]) -> Column {
    Column { name: name.into(), values: Values::Text(values.iter().map(|v| Some((*v).into())).collect()) }
}

fn number(name: &str, values: &[f64]) -> Column {
    Column { name: name.into(), values: Values::Number(values.iter().copied().map(Some).collect()) }
}

fn tally(low: &[f64], failed: &[bool], columns: &[Column]) -> Tally {
    let high = low.iter().zip(failed).map(|(l, f)| if *f { *l } else { INF }).collect();
    let rows = Rows { low: low.to_vec(), high, ..Rows::default() }.with_covariates(columns).unwrap();
    Tally::from_rows(&rows).unwrap().0
}

fn regression(name: &str, tally: &Tally, terms: &Terms) -> Result<CovariateFit, Error> {
    fit_covariates(family(name).unwrap(), tally, terms, &FitOptions::default(), &Run::new())
}

fn at(pairs: &[(&str, CovariateValue)]) -> BTreeMap<String, CovariateValue> {
    pairs.iter().map(|(n, v)| ((*n).to_owned(), v.clone())).collect()
}

fn num(x: f64) -> CovariateValue {
    CovariateValue::number(x).unwrap()
}

fn references() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../data/regression_references.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

fn case_tally(case: &Value) -> Tally {
    let rows = case["rows"].as_array().unwrap();
    let column = |k: usize, none: f64| rows.iter().map(|r| r[k].as_f64().unwrap_or(none)).collect::<Vec<_>>();
    let columns: Vec<Column> = case["columns"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, values)| {
            let values = values.as_array().unwrap();
            if values[0].is_string() {
                text(name, &values.iter().map(|v| v.as_str().unwrap()).collect::<Vec<_>>())
            } else {
                number(name, &values.iter().map(|v| v.as_f64().unwrap()).collect::<Vec<_>>())
            }
        })
        .collect();
    let rows = Rows {
        low: column(0, 0.0),
        high: column(1, INF),
        entry: Some(column(2, 0.0)),
        count: Some(rows.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    };
    Tally::from_rows(&rows.with_covariates(&columns).unwrap()).unwrap().0
}

fn case_terms(case: &Value) -> Terms {
    let mut terms = Terms::new(case["terms"].as_array().unwrap().iter().map(|t| t.as_str().unwrap()));
    for (name, level) in case["references"].as_object().unwrap() {
        terms = terms.reference(name, level.as_str().unwrap());
    }
    terms
}

/// What the columns without their baselines would have, as published: a figure and its standard error for `b0`, the ln
/// scale or location where they are 0, and for each column. A product of (x - m) is one of powers of x times those of -m.
fn as_published(fit: &CovariateFit) -> BTreeMap<String, (f64, f64)> {
    let place = usize::from(fit.family_name() == "weibull");
    let design = fit.design();
    // What each figure takes of our own, by the parts of its column; none for `b0`.
    let mut taken: BTreeMap<String, Vec<(usize, f64)>> = BTreeMap::from([("b0".to_owned(), vec![(place, 1.0)])]);
    for (j, column) in design.columns.iter().enumerate() {
        for kept in 0..1_u32 << column.parts.len() {
            let (mut parts, mut weight) = (vec![], 1.0);
            for (i, part) in column.parts.iter().enumerate() {
                match design.factors[part.factor].baseline.filter(|_| part.level.is_none()) {
                    Some(m) if kept >> i & 1 == 0 => weight *= -m,
                    None if kept >> i & 1 == 0 => weight = 0.0,
                    _ => parts.push(part.clone()),
                }
            }
            let name = design.columns.iter().find(|c| c.parts == parts).map_or("b0", |c| &c.name);
            taken.entry(name.to_owned()).or_default().push((2 + j, weight));
        }
    }
    let own = |i: usize| if i < 2 { fit.baseline_coordinates()[i] } else { fit.coefficients()[i - 2] };
    let figure = |of: &[(usize, f64)]| {
        let variance = of.iter().flat_map(|a| of.iter().map(|b| a.1 * b.1 * fit.covariance(a.0, b.0).unwrap()));
        (of.iter().map(|(i, w)| w * own(*i)).sum::<f64>(), variance.sum::<f64>().sqrt())
    };
    taken.iter().map(|(name, of)| (name.clone(), figure(of))).collect()
}

fn sigma(fit: &CovariateFit) -> (f64, f64) {
    let place = usize::from(fit.family_name() != "weibull");
    let ln = fit.baseline_coordinates()[place];
    let value = if place == 0 { (-ln).exp() } else { ln.exp() };
    (value, value * fit.covariance(place, place).unwrap().sqrt())
}

#[test]
fn published_regressions_are_met() {
    let (mut models, mut printed) = (0, 0);
    for case in references() {
        let name = case["name"].as_str().unwrap();
        let got = regression(case["family"].as_str().unwrap(), &case_tally(&case), &case_terms(&case)).unwrap();
        assert!(got.converged(), "{name}");
        let columns = as_published(&got);
        let mut figures = BTreeMap::from([("b0".to_owned(), columns["b0"]), ("sigma".to_owned(), sigma(&got))]);
        for (ours, theirs) in case["coefficients"].as_object().unwrap() {
            figures.insert(theirs.as_str().unwrap().to_owned(), columns[ours]);
        }
        for name in ["b0", "b1", "sigma"] {
            if let Some((value, error)) = figures.get(name).copied() {
                let ten = std::f64::consts::LN_10;
                figures.insert(format!("log10_{name}"), (value / ten, error / ten));
            }
        }
        for (what, want) in case["params"].as_object().unwrap() {
            near(figures[what].0, want.as_f64().unwrap(), 1e-6, &format!("{name} {what}"));
            near(figures[what].1, case["se"][what].as_f64().unwrap(), 1e-4, &format!("{name} se {what}"));
        }
        near(got.log_likelihood(), case["loglik"].as_f64().unwrap(), 1e-9, name);
        for p in case["published"].as_array().unwrap() {
            let what = p["what"].as_str().unwrap();
            let ours = match what.split_once('/') {
                Some(("params", which)) => figures[which].0,
                Some(("se_observed_info", which)) => figures[which].1,
                _ => got.log_likelihood(),
            };
            let (value, half_digit) = (p["value"].as_f64().unwrap(), p["tolerance"].as_f64().unwrap());
            assert!((ours - value).abs() <= half_digit, "{name} {what}: got {ours}, printed {value}");
            printed += 1;
        }
        models += 1;
    }
    assert_eq!((models, printed), (11, 38));
}

#[test]
fn one_law_for_three_temperatures_is_tested_against_three_fits() {
    // NIST/SEMATECH e-Handbook 8.4.2.2 (data seen): chi-square 3.194015 with 3 degrees of freedom, p = 0.3626682.
    let case = references().into_iter().find(|c| c["name"] == "nist_arrhenius_lognormal lognormal_arrhenius").unwrap();
    let all = case_tally(&case);
    let law = regression("lognormal", &all, &case_terms(&case)).unwrap();
    let cells = all.groups().iter().enumerate().map(|(g, _)| {
        let at: Vec<usize> = (0..all.rows()).filter(|i| all.group()[*i] as usize == g).collect();
        let rows = Rows {
            low: at.iter().map(|i| all.low()[*i]).collect(),
            high: at.iter().map(|i| all.high()[*i]).collect(),
            count: Some(at.iter().map(|i| all.count()[*i]).collect()),
            ..Rows::default()
        };
        let cell = Tally::from_rows(&rows).unwrap().0;
        fit(family("lognormal").unwrap(), &cell, &FitOptions::default(), &Run::new()).unwrap().log_likelihood()
    });
    let statistic = 2.0 * (cells.sum::<f64>() - law.log_likelihood());
    assert!((statistic - 3.194_015).abs() <= 5e-7, "{statistic}");
    let p = ln_gamma_q(1.5, 0.5 * statistic).exp();
    assert!((p - 0.362_668_2).abs() <= 5e-8, "{p}");
}

#[test]
fn two_groups_of_even_hazard_have_closed_forms() {
    // Failures over hours: 3 in 1,000 h and 2 in 3,000 h; ln ratio of mean lives with variance 1/3 + 1/2.
    let lives = tally(
        &[100.0, 300.0, 400.0, 200.0, 900.0, 1100.0, 1000.0],
        &[true, true, true, false, true, true, false],
        &[text("site", &["a", "a", "a", "a", "b", "b", "b"])],
    );
    let got = regression("exponential", &lives, &Terms::new(["site"])).unwrap();
    let ratio = (3000.0f64 / 2.0) / (1000.0 / 3.0);
    near(got.coefficient("site=b").unwrap(), ratio.ln(), 1e-10, "b");
    near(got.life_ratio("site=b").unwrap().unwrap(), ratio, 1e-9, "ratio");
    near(got.standard_error("site=b").unwrap(), (1.0f64 / 3.0 + 0.5).sqrt(), 1e-9, "se");
    let top = |d: f64, hours: f64| d * (d / hours).ln() - d;
    near(got.log_likelihood(), top(3.0, 1000.0) + top(2.0, 3000.0), 1e-12, "log-likelihood");
    near(got.tests()[0].statistic, 2.0 * (top(3.0, 1000.0) + top(2.0, 3000.0) - top(5.0, 4000.0)), 1e-10, "ratio test");
    near(got.log_likelihood_without(), top(5.0, 4000.0), 1e-12, "without");
    // The profile: for each b the rate at a is 5 / (1000 + 3000 exp(-b)).
    let profile = |b: f64| 5.0 * (5.0 / (1000.0 + 3000.0 * (-b).exp())).ln() - 2.0 * b - 5.0;
    let interval = got.profile(&lives, &FitOptions::default(), "site=b", 0.95, Sides::Both, &Run::new()).unwrap();
    for end in [interval.low.unwrap(), interval.high.unwrap()] {
        near(2.0 * (got.log_likelihood() - profile(end)), 3.841_458_820_694_124, 1e-7, "end");
    }
    assert!(interval.low.unwrap() < ratio.ln() && ratio.ln() < interval.high.unwrap());
    let wald = got.wald("site=b", 0.95, Sides::Both).unwrap();
    near(wald.high.unwrap() - wald.low.unwrap(), 2.0 * 1.959_963_984_540_054 * (5.0f64 / 6.0).sqrt(), 1e-9, "Wald");
    // An age at b: its logarithm has the variance of one rate, 1 / 2.
    let b = at(&[("site", "b".into())]);
    let median = got.quantile(&b, 0.5, 0.95, Sides::Both).unwrap();
    near(median.estimate.unwrap(), 1500.0 * 2f64.ln(), 1e-9, "median");
    near((median.high.unwrap() / median.estimate.unwrap()).ln(), 1.959_963_984_540_054 * 0.5f64.sqrt(), 1e-9, "spread");
    assert_eq!(median.quantity, Quantity::Quantile(0.5));
    // The oldest lamp at risk has 1,100 h; the median lies before it, the upper end of its interval and later ages past it.
    let past = |p: f64, sides: Sides| {
        let notes = got.quantile(&b, p, 0.95, sides).unwrap().notes;
        notes.into_iter().find(|n| n.slug == "fit.extrapolated").map(|n| n.text)
    };
    assert!(past(0.9, Sides::Lower).unwrap().starts_with("3,453 h lies past the oldest lamp at risk (1,100 h)"));
    assert!(past(0.5, Sides::Both).is_some() && past(0.5, Sides::Lower).is_none() && past(0.05, Sides::Both).is_none());
    let life = got.life(&b).unwrap();
    near(life.mean().unwrap(), 1500.0, 1e-9, "mean");
    assert_eq!(life.named().unwrap().family, "exponential");
    // The wrong lives for a profile.
    let other = tally(&[100.0, 300.0], &[true, true], &[text("site", &["a", "b"])]);
    let error = got.profile(&other, &FitOptions::default(), "site=b", 0.95, Sides::Both, &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "fit.other_data");
}

#[test]
fn a_normal_regression_of_complete_lives_is_least_squares() {
    // By hand: x = 0, 1, 2, 3, y = 1000, 1300, 1500, 2000: slope 320, intercept 970, residuals 30, 10, -110, 70.
    let lives = tally(&[1000.0, 1300.0, 1500.0, 2000.0], &[true; 4], &[number("x", &[0.0, 1.0, 2.0, 3.0])]);
    let got = regression("normal", &lives, &Terms::new(["x"])).unwrap();
    near(got.coefficient("x").unwrap(), 320.0, 1e-9, "slope");
    assert_eq!(got.life_ratio("x").unwrap(), None);
    let (at_mean, sd) = (got.baseline_parameters()[0].1, got.baseline_parameters()[1].1);
    near(at_mean, 970.0 + 1.5 * 320.0, 1e-9, "at the mean");
    let squares: f64 = [30.0f64, 10.0, -110.0, 70.0].iter().map(|r| r * r).sum();
    near(sd, (squares / 4.0).sqrt(), 1e-9, "sd by maximum likelihood");
    near(got.standard_error("x").unwrap(), sd / 5f64.sqrt(), 1e-8, "se");
    near(got.life(&at(&[("x", num(10.0))])).unwrap().quantile(0.5).unwrap(), 970.0 + 3200.0, 1e-9, "shifted");
    assert_eq!(got.standardised(&lives).unwrap_err().slug(), "fit.shifted_ages");
}

/// Weibull lives whose scale falls with current to the power 2 and is 1.5 times as long for one supplier.
fn drawn(seed: u64, n: usize) -> Tally {
    let mut stream = Stream::new(seed, "fit", "covariates", 0);
    let (mut low, mut failed, mut current, mut supplier) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for i in 0..n {
        let amperes = 60.0 + 10.0 * (i % 4) as f64;
        let south = i % 3 == 0;
        let scale = 2000.0 * (70.0 / amperes).powi(2) * if south { 1.5 } else { 1.0 };
        let age = Weibull { shape: 2.0, scale }.quantile(stream.uniform()).unwrap();
        let seen = age.min(1500.0 + 500.0 * stream.uniform());
        low.push(seen);
        failed.push(seen == age);
        current.push(amperes);
        supplier.push(if south { "south" } else { "north" });
    }
    tally(&low, &failed, &[number("current", &current), text("supplier", &supplier)])
}

fn power() -> StressLaw {
    StressLaw::InversePower { reference: 70.0, value_is: ValueIs::AtFitting }
}

#[test]
fn intervals_of_coefficients_hold_the_truth_as_often_as_they_say() {
    let terms = Terms::new(["supplier", "current"]).law("current", power());
    let (n, mut held) = (400, [0; 2]);
    for seed in 0..n {
        let got = regression("weibull", &drawn(seed, 120), &terms).unwrap();
        for (k, (name, truth)) in [("supplier=south", 1.5f64.ln()), ("current", -2.0)].into_iter().enumerate() {
            let wald = got.wald(name, 0.95, Sides::Both).unwrap();
            held[k] += usize::from(wald.low.unwrap() <= truth && truth <= wald.high.unwrap());
        }
    }
    // 95 % of 400 less and plus four binomial standard deviations; Wald intervals are known to be a little short.
    assert!(held.iter().all(|h| (360..=397).contains(h)), "{held:?}");
}

#[test]
fn a_stress_law_is_its_column() {
    let lives = drawn(1, 200);
    let by_law = regression("weibull", &lives, &Terms::new(["current"]).law("current", power())).unwrap();
    let heat = StressLaw::Arrhenius { reference_celsius: 25.0, value_is: ValueIs::ConstantOverLife };
    let by_heat = regression("weibull", &lives, &Terms::new(["current"]).law("current", heat)).unwrap();
    let column = |f: &dyn Fn(f64) -> f64| {
        let values: Vec<f64> = lives
            .group()
            .iter()
            .map(|g| match &lives.groups()[*g as usize].covariates[0] {
                CovariateValue::Number(x) => f(x.get()),
                CovariateValue::Category(level) => panic!("{level}"),
            })
            .collect();
        let rows = Rows { low: lives.low().to_vec(), high: lives.high().to_vec(), ..Rows::default() };
        let rows = Rows { count: Some(lives.count().to_vec()), ..rows }.with_covariates(&[number("x", &values)]);
        Tally::from_rows(&rows.unwrap()).unwrap().0
    };
    let ln = regression("weibull", &column(&f64::ln), &Terms::new(["x"])).unwrap();
    near(by_law.coefficient("current").unwrap(), ln.coefficient("x").unwrap(), 1e-8, "power");
    near(by_law.log_likelihood(), ln.log_likelihood(), 1e-12, "power");
    let inverse = regression("weibull", &column(&|c| 1.0 / (BOLTZMANN_EV * (c + 273.15))), &Terms::new(["x"])).unwrap();
    near(by_heat.coefficient("current").unwrap(), inverse.coefficient("x").unwrap(), 1e-7, "activation energy");
    near(by_heat.standard_error("current").unwrap(), inverse.standard_error("x").unwrap(), 1e-6, "its error");
    // At the reference of the law a lamp is the baseline.
    assert_eq!(by_law.effect(&at(&[("current", num(70.0))])).unwrap(), 0.0);
    let life = by_law.life(&at(&[("current", num(140.0))])).unwrap();
    let base = by_law.life(&at(&[("current", num(70.0))])).unwrap();
    let ratio = life.quantile(0.3).unwrap() / base.quantile(0.3).unwrap();
    near(ratio, 2f64.powf(by_law.coefficient("current").unwrap()), 1e-12, "power of two");
    assert_eq!(by_law.design().extrapolation(&at(&[("current", num(140.0))]))[0].slug, "fit.covariate_extrapolated");
    assert!(by_law.design().extrapolation(&at(&[("current", num(75.0))])).is_empty());
}

#[test]
fn a_last_reading_of_a_current_is_refused() {
    let last = StressLaw::InversePower { reference: 70.0, value_is: ValueIs::LastReading };
    let error = regression("weibull", &drawn(1, 60), &Terms::new(["current"]).law("current", last)).unwrap_err();
    assert_eq!((error.slug(), error.kind()), ("fit.last_reading", Kind::Refused));
    assert!(error.hint().unwrap().contains("fades"));
}

#[test]
fn terms_that_cannot_stand_are_refused_by_name() {
    let (low, failed) = ([5.0, 6.0, 7.0, 8.0, 9.0, 4.0], [true; 6]);
    let columns = [
        text("supplier", &["n", "n", "s", "s", "w", "w"]),
        text("site", &["a", "b", "a", "b", "a", "a"]),
        number("amperes", &[60.0, 70.0, 80.0, 60.0, 75.0, 65.0]),
        number("milli", &[60_000.0, 70_000.0, 80_000.0, 60_000.0, 75_000.0, 65_000.0]),
        number("same", &[1.0; 6]),
        text("alone", &["x"; 6]),
    ];
    let lives = tally(&low, &failed, &columns);
    let refused = |terms: Terms| Design::new(&terms, &lives).unwrap_err();
    let slug = |terms: &[&str]| refused(Terms::new(terms.iter().copied())).slug();
    assert_eq!(slug(&["amperes", "supplyer"]), "fit.covariate_unknown");
    assert_eq!(slug(&[]), "fit.no_terms");
    assert_eq!(slug(&["same"]), "fit.covariate_constant");
    assert_eq!(slug(&["alone"]), "fit.covariate_constant");
    assert_eq!(slug(&["supplier", "supplier"]), "fit.term");
    assert_eq!(slug(&["supplier", "supplier:supplier"]), "fit.term");
    assert_eq!(slug(&["supplier", "supplier:amperes"]), "fit.interaction_part_missing");
    let error = refused(Terms::new(["amperes", "milli"]));
    assert_eq!(error.slug(), "fit.collinear");
    assert!(error.to_string().contains("milli from amperes"), "{error}");
    let error = refused(Terms::new(["supplier", "site", "supplier:site"]));
    assert_eq!((error.slug(), error.problems()[0].got.as_str()), ("fit.combination_empty", "b with w"));
    assert_eq!(refused(Terms::new(["supplier"]).reference("supplier", "x")).slug(), "fit.level_no_lamps");
    assert_eq!(refused(Terms::new(["amperes"]).reference("amperes", "60")).slug(), "fit.reference");
    assert_eq!(refused(Terms::new(["site"]).law("site", power())).slug(), "fit.law_of_category");
    assert_eq!(refused(Terms::new(["site"]).law("amperes", power())).slug(), "fit.covariate_unknown");
    let bad = StressLaw::InversePower { reference: -1.0, value_is: ValueIs::AtFitting };
    assert_eq!(refused(Terms::new(["amperes"]).law("amperes", bad)).slug(), "fit.stress_reference");
    // A level that only rows of count 0 bear.
    let rows = Rows { low: low.to_vec(), high: low.to_vec(), count: Some(vec![1, 1, 1, 1, 0, 0]), ..Rows::default() };
    let some = Tally::from_rows(&rows.with_covariates(&columns).unwrap()).unwrap().0;
    let error = Design::new(&Terms::new(["supplier"]), &some).unwrap_err();
    assert_eq!((error.slug(), error.problems()[0].got.as_str()), ("fit.level_no_lamps", "w"));
    // A square and a term of two numbers stand; a number joined with levels too.
    let joined = Design::new(&Terms::new(["amperes", "supplier", "amperes:supplier"]), &lives).unwrap();
    assert_eq!(joined.names(), ["amperes", "supplier=s", "supplier=w", "amperes:supplier=s", "amperes:supplier=w"]);
    let square = Design::new(&Terms::new(["amperes", "amperes:amperes"]), &lives).unwrap();
    assert_eq!(square.names(), ["amperes", "amperes:amperes"]);
    assert_eq!(Design::new(&Terms::new(["site"]).reference("site", "b"), &lives).unwrap().names(), ["site=a"]);
    let plain = Tally::from_rows(&Rows { low: low.to_vec(), high: low.to_vec(), ..Rows::default() }).unwrap().0;
    assert_eq!(Design::new(&Terms::new(["site"]), &plain).unwrap_err().slug(), "fit.covariate_unknown");
}

#[test]
fn a_level_without_failures_gets_the_bound_of_its_closed_form() {
    // 3 failures in 1,000 h at a, none in 2,000 h at b. The likelihood rises to d ln(d / 1000) - d as b grows, and lies
    // 1.6449^2 / 2 below where exp(-b) = (1000 / 2000) (exp(1.3528 / 3) - 1).
    let lives = tally(
        &[100.0, 300.0, 400.0, 200.0, 900.0, 1100.0],
        &[true, true, true, false, false, false],
        &[text("site", &["a", "a", "a", "a", "b", "b"])],
    );
    let z = 1.644_853_626_951_472_2f64;
    let bound = 1.0 / (0.5 * ((0.5 * z * z / 3.0).exp() - 1.0));
    for reference in ["a", "b"] {
        let error = regression("exponential", &lives, &Terms::new(["site"]).reference("site", reference)).unwrap_err();
        assert_eq!((error.slug(), error.problems()[0].got.as_str()), ("fit.level_no_failures", "b"));
        let said = format!("lives at site b are at least {bound:.2}");
        assert!(error.hint().unwrap().contains(&said), "{} {said}", error.hint().unwrap());
    }
    let lives = tally(
        &[100.0, 300.0, 400.0, 200.0, 900.0, 1100.0, 500.0, 600.0],
        &[true, true, true, true, true, true, false, false],
        &[
            text("site", &["a", "a", "a", "b", "a", "b", "b", "b"]),
            text("kind", &["x", "x", "y", "x", "y", "x", "y", "y"]),
        ],
    );
    let error = regression("weibull", &lives, &Terms::new(["site", "kind", "site:kind"])).unwrap_err();
    assert_eq!((error.slug(), error.problems()[0].got.as_str()), ("fit.combination_no_failures", "y with b"));
}

#[test]
fn a_prediction_names_what_it_lacks() {
    let got = regression("weibull", &drawn(1, 60), &Terms::new(["supplier", "current"])).unwrap();
    let slug = |pairs: &[(&str, CovariateValue)]| got.life(&at(pairs)).unwrap_err().slug();
    assert_eq!(slug(&[("supplier", "north".into())]), "fit.covariate_missing");
    assert_eq!(slug(&[("supplier", "north".into()), ("current", "much".into())]), "fit.covariate_kind");
    assert_eq!(slug(&[("supplier", "east".into()), ("current", num(70.0))]), "fit.level_unseen");
    let more = [("supplier", "north".into()), ("current", num(70.0)), ("site", "a".into())];
    assert_eq!(slug(&more), "fit.covariate_unknown");
    assert_eq!(got.coefficient("supplier").unwrap_err().slug(), "fit.coefficient_unknown");
}

#[test]
fn rows_of_every_kind_counts_and_groups_give_one_answer() {
    // Intervals, late entry, windows and weights: the same lives as counts and as repeated rows, and in another unit.
    let rows = |unit: f64, repeat: bool, windows: bool| {
        let mut all = Rows { entry: Some(vec![]), upper: Some(vec![]), count: Some(vec![]), ..Rows::default() };
        let mut sites = Vec::new();
        for i in 0..40_u32 {
            let t = 100.0 + f64::from((i * 37) % 400);
            let (low, high, entry, upper) = match i % 4 {
                0 => (t, t, 0.0, INF),
                1 => (t, INF, 50.0, INF),
                2 => (t, t + 60.0, 20.0, INF),
                _ => (t, t, 0.0, if windows { 600.0 } else { INF }),
            };
            let times = if repeat { 2 } else { 1 };
            for _ in 0..times {
                all.low.push(low * unit);
                all.high.push(high * unit);
                all.entry.as_mut().unwrap().push(entry * unit);
                all.upper.as_mut().unwrap().push(upper * unit);
                all.count.as_mut().unwrap().push(if repeat { 1 } else { 2 });
                sites.push(if i % 3 == 0 { "a" } else { "b" });
            }
        }
        Tally::from_rows(&all.with_covariates(&[text("site", &sites)]).unwrap()).unwrap().0
    };
    // Families with a cut at 0 or three parameters are not settled by so few claims.
    let smooth = ["weibull", "lognormal", "log_logistic", "gamma", "birnbaum_saunders"].map(|f| (f, true));
    let others = ["gompertz", "above_zero(normal)", "above_zero(logistic)"].map(|f| (f, false));
    for (name, windows) in smooth.into_iter().chain(others) {
        let terms = Terms::new(["site"]);
        let (a, b) =
            (regression(name, &rows(1.0, false, windows), &terms), regression(name, &rows(1.0, true, windows), &terms));
        let (a, b) = (a.unwrap_or_else(|e| panic!("{name} {e}")), b.unwrap_or_else(|e| panic!("{name} {e}")));
        assert_eq!(a, b, "{name}");
        let days = regression(name, &rows(1.0 / 24.0, false, windows), &terms).unwrap();
        near(days.coefficient("site=b").unwrap(), a.coefficient("site=b").unwrap(), 1e-5, name);
        let (north, south) = (at(&[("site", "a".into())]), at(&[("site", "b".into())]));
        let ratio = a.life_ratio("site=b").unwrap().unwrap();
        let (one, other) = (a.life(&north).unwrap(), a.life(&south).unwrap());
        for age in [50.0, 200.0, 500.0] {
            near(other.ln_reliability(age * ratio), one.ln_reliability(age), 1e-9, name);
        }
    }
}

#[test]
fn tests_of_terms_keep_the_order_of_interactions() {
    let lives = drawn(3, 240);
    let got = regression("weibull", &lives, &Terms::new(["supplier", "current", "supplier:current"])).unwrap();
    let plain = regression("weibull", &lives, &Terms::new(["supplier", "current"])).unwrap();
    let alone = regression("weibull", &lives, &Terms::new(["current"])).unwrap();
    let by_name = |name: &str| got.tests().iter().find(|t| t.term == name).unwrap().clone();
    near(by_name("supplier").statistic, 2.0 * (plain.log_likelihood() - alone.log_likelihood()), 1e-9, "supplier");
    let joint = 2.0 * (got.log_likelihood() - plain.log_likelihood());
    near(by_name("supplier:current").statistic, joint, 1e-9, "joint");
    assert!(got.tests().iter().all(|t| t.degrees_of_freedom == 1));
    assert!(by_name("current").p_value < 1e-6 && by_name("supplier").p_value < 0.05);
}

#[test]
fn residuals_and_standardised_ages_are_those_of_one_life() {
    let lives = drawn(2, 200);
    let terms = Terms::new(["supplier", "current"]).law("current", power());
    let got = regression("weibull", &lives, &terms).unwrap();
    let residuals = got.residuals(&lives, &FitOptions::default()).unwrap();
    // A Weibull score identity: at the maximum the hazard passed adds up to the failures.
    near(residuals.expected_failures, lives.failures() as f64, 1e-9, "expected failures");
    let one = got.standardised(&lives).unwrap();
    assert_eq!((one.lamps(), one.failures(), one.covariates().len()), (lives.lamps(), lives.failures(), 0));
    let base = fit(family("weibull").unwrap(), &one, &FitOptions::default(), &Run::new()).unwrap();
    for (name, value) in got.baseline_parameters() {
        near(base.parameter(name).unwrap(), value, 1e-7, name);
    }
}

#[test]
fn a_number_that_nobody_declares_is_told_and_a_last_reading_refused() {
    let lives = drawn(1, 240);
    let terms = || Terms::new(["supplier", "current"]);
    let plain = regression("weibull", &lives, &terms()).unwrap();
    let note = plain.notes().iter().find(|n| n.slug == "fit.covariate_held").unwrap();
    assert!(note.text.contains("makes the ratio wrong") && note.text.contains("value_is"), "{}", note.text);
    for value_is in [ValueIs::AtFitting, ValueIs::ConstantOverLife] {
        let told = regression("weibull", &lives, &terms().value_is("current", value_is)).unwrap();
        assert!(told.notes().is_empty(), "{told}");
        assert_eq!(told.coefficients(), plain.coefficients());
        assert_eq!(told.design().factors.iter().filter_map(|f| f.value_is).collect::<Vec<_>>(), [value_is]);
    }
    let slug = |terms: &Terms| regression("weibull", &lives, terms).unwrap_err().slug().to_owned();
    assert_eq!(slug(&terms().value_is("current", ValueIs::LastReading)), "fit.last_reading");
    assert_eq!(slug(&terms().value_is("supplier", ValueIs::AtFitting)), "fit.value_is");
    assert_eq!(slug(&terms().value_is("amperes", ValueIs::AtFitting)), "fit.covariate_unknown");
    assert_eq!(slug(&terms().law("current", power()).value_is("current", ValueIs::AtFitting)), "fit.value_is");
    let hazards = |terms: &Terms| proportional_hazards(&lives, terms, &HazardOptions::default(), &Run::new());
    assert!(hazards(&terms()).unwrap().notes().iter().any(|n| n.slug == "fit.covariate_held"));
    assert!(hazards(&terms().value_is("current", ValueIs::AtFitting)).unwrap().notes().is_empty());
    let late = hazards(&terms().value_is("current", ValueIs::LastReading)).unwrap_err();
    assert_eq!(late.slug(), "fit.last_reading");
}

#[test]
fn a_current_that_prolongs_life_is_told_whatever_is_fitted() {
    // The later a lamp fails, the higher its current, as where it was read at the end; then the other way round.
    let low: Vec<f64> = (0..60).map(|i| 800.0 + 20.0 * f64::from(i)).collect();
    for (sign, prolongs) in [(1.0, true), (-1.0, false)] {
        let amps: Vec<f64> =
            low.iter().enumerate().map(|(i, l)| 75.0 + sign * (l - 1400.0) / 80.0 + (i % 3) as f64).collect();
        let data = tally(&low, &[true; 60], &[number("current", &amps)]);
        let heat = StressLaw::Arrhenius { reference_celsius: 75.0, value_is: ValueIs::AtFitting };
        for law in [power(), heat] {
            let terms = Terms::new(["current"]).law("current", law);
            let told = |notes: &[relamp::fit::Note]| notes.iter().any(|n| n.slug == "fit.stress_prolongs");
            let lives = regression("weibull", &data, &terms).unwrap();
            assert_eq!(told(lives.notes()), prolongs, "{lives}");
            let hazards = proportional_hazards(&data, &terms, &HazardOptions::default(), &Run::new()).unwrap();
            assert_eq!(told(hazards.notes()), prolongs, "{hazards}");
        }
    }
}

#[test]
fn every_value_at_which_a_law_says_nothing_is_named() {
    let low: Vec<f64> = (1..=8).map(|i| 100.0 * f64::from(i)).collect();
    let amps = [70.0, 0.0, 75.0, -4.0, 80.0, -4.0, 72.0, 71.0];
    let data = tally(&low, &[true; 8], &[number("current", &amps)]);
    let error = regression("weibull", &data, &Terms::new(["current"]).law("current", power())).unwrap_err();
    assert!(error.problems().iter().all(|p| p.slug == "fit.stress_value"), "{error}");
    let got: Vec<&str> = error.problems().iter().map(|p| p.got.as_str()).collect();
    assert_eq!(got, ["-4, of 2 lamps", "0, of 1 lamp"]);
}

#[test]
fn the_parts_of_an_interaction_may_come_in_any_order() {
    let lives = drawn(3, 240);
    let terms = Terms::new(["supplier", "current", "supplier:current"]);
    let got = regression("weibull", &lives, &terms).unwrap();
    let own = got.design().names().into_iter().find(|n| n.contains(':')).unwrap().to_owned();
    let turned = own.split_once(':').map(|(a, b)| format!("{b}:{a}")).unwrap();
    assert_ne!(own, turned);
    assert_eq!(got.coefficient(&turned).unwrap(), got.coefficient(&own).unwrap());
    let ends = |name: &str| {
        let one = got.profile(&lives, &FitOptions::default(), name, 0.9, Sides::Both, &Run::new()).unwrap();
        (one.low, one.high)
    };
    assert_eq!(ends(&turned), ends(&own));
    for name in ["supplier", "current:supplier", "current:current"] {
        assert_eq!(got.coefficient(name).unwrap_err().slug(), "fit.coefficient_unknown", "{name}");
    }
}

#[test]
fn the_range_of_the_lamps_is_told_in_few_digits() {
    let low: Vec<f64> = (1..=30).map(|i| 100.0 * f64::from(i)).collect();
    let amps: Vec<f64> = (0..30).map(|i| 60.174_737_853_239_43 + f64::from(i * 7 % 30)).collect();
    let data = tally(&low, &[true; 30], &[number("current", &amps)]);
    let got = regression("weibull", &data, &Terms::new(["current"])).unwrap();
    let note = got.design().extrapolation(&at(&[("current", num(200.0))])).remove(0);
    assert!(note.text.starts_with("current 200 lies outside 60.17 to 89.17, the range"), "{}", note.text);
    assert!(got.design().extrapolation(&at(&[("current", num(75.0))])).is_empty());
}

#[test]
fn few_failures_for_each_coefficient_are_told() {
    let got = regression("weibull", &drawn(1, 24), &Terms::new(["supplier", "current"])).unwrap();
    assert!(got.notes().iter().any(|n| n.slug == "fit.few_per_coefficient"), "{got}");
    let many = regression("weibull", &drawn(1, 240), &Terms::new(["supplier", "current"])).unwrap();
    // Whether a number held all along is nothing that records show.
    assert_eq!(many.notes().iter().map(|n| n.slug.as_str()).collect::<Vec<_>>(), ["fit.covariate_held"], "{many}");
    assert!(regression("weibull", &drawn(1, 240), &Terms::new(["supplier"])).unwrap().notes().is_empty());
    assert_eq!(
        regression("piecewise_constant(1000)", &drawn(1, 60), &Terms::new(["supplier"])).unwrap_err().slug(),
        "fit.regression_family"
    );
    assert_eq!(
        regression("weibull_failure_free", &drawn(1, 24), &Terms::new(["supplier"])).unwrap_err().slug(),
        "fit.regression_family"
    );
}

#[test]
fn terms_that_part_failures_from_the_others_are_told_as_such() {
    let told = |low: &[f64], failed: &[bool], columns: &[Column]| {
        let names: Vec<String> = columns.iter().map(|c| c.name.clone()).collect();
        let error = regression("weibull", &tally(low, failed, columns), &Terms::new(names)).unwrap_err();
        assert_eq!(error.slug(), "fit.regression_not_identified");
        (error.problems()[0].got.clone(), error.to_string())
    };
    // Ten failures at 1, at 0 ten lamps that worked: the larger the coefficient, the better.
    let low: Vec<f64> = (0..20).map(|i| if i < 10 { 100.0 + f64::from(i) } else { 50.0 + f64::from(i) }).collect();
    let failed: Vec<bool> = (0..20).map(|i| i < 10).collect();
    let x: Vec<f64> = failed.iter().map(|f| f64::from(u8::from(*f))).collect();
    let (got, text) = told(&low, &failed, &[number("x", &x)]);
    assert!(got == "x" && text.contains("rises without end") && !text.contains("told apart"), "{text}");
    // The same beside a term that can be told: only the one at fault is named.
    let other: Vec<f64> = (0..20).map(|i| f64::from(i % 5)).collect();
    let (got, text) = told(&low, &failed, &[number("other", &other), number("x", &x)]);
    assert!(got == "x" && text.contains("rises without end"), "{got} {text}");
    // Ages that the term gives to the hour.
    let x: Vec<f64> = (0..20).map(f64::from).collect();
    let exact: Vec<f64> = x.iter().map(|x| 100.0 * (0.1 * x).exp()).collect();
    let (got, text) = told(&exact, &[true; 20], &[number("x", &x)]);
    assert!(got == "x" && text.contains("almost to the hour") && !text.contains("told apart"), "{text}");
}

#[test]
fn under_an_interaction_a_ratio_is_that_of_lamps_at_the_baseline() {
    let lives = drawn(4, 240);
    let terms = Terms::new(["supplier", "current", "supplier:current", "current:current"]);
    let got = regression("weibull", &lives, &terms).unwrap();
    let mean = got.design().factors.iter().find_map(|f| f.baseline).unwrap();
    let life = |supplier: &str, current: f64| {
        let life = got.life(&at(&[("supplier", supplier.into()), ("current", num(current))])).unwrap();
        life.quantile(0.5).unwrap()
    };
    // Lamps have 60 to 90 A: at 0 A the ratio would be a figure of no lamp.
    let ratio = life("south", mean) / life("north", mean);
    near(got.life_ratio("supplier=south").unwrap().unwrap(), ratio, 1e-9, "life ratio");
    assert_eq!(got.effect(&at(&[("supplier", "north".into()), ("current", num(mean))])).unwrap(), 0.0);
    // One ampere more near the baseline, and what the interaction adds to it.
    let slope = ((life("north", mean + 1e-4) / life("north", mean - 1e-4)).ln()) / 2e-4;
    near(got.coefficient("current").unwrap(), slope, 1e-6, "slope");
    let more = ((life("south", mean + 1.0) / life("north", mean + 1.0)) / ratio).ln();
    near(got.coefficient("current:supplier=south").unwrap(), more, 1e-9, "interaction");
}

#[test]
fn a_reference_at_fault_is_named() {
    let lives = drawn(3, 60);
    let value_is = ValueIs::AtFitting;
    let law = StressLaw::InversePower { reference: -60.0, value_is };
    let error = regression("weibull", &lives, &Terms::new(["current"]).law("current", law)).unwrap_err();
    assert!(error.slug() == "fit.stress_reference" && error.to_string().contains("-60"), "{error}");
    let error = regression("weibull", &lives, &Terms::new(["supplier"]).law("current", power())).unwrap_err();
    assert!(error.to_string().contains("in the terms: supplier"), "{error}");
}
