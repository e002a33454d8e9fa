//! Far out in the tail: hazards, ages that hardly any lamp passes, and intervals there.

use relamp::Run;
use relamp::family::{Family, families, family};
use relamp::fit::{FitOptions, Quantity, Sides, fit};
use relamp::lives::{Rows, Tally};

const INF: f64 = f64::INFINITY;

/// Family, parameters, age, ln hazard at 400 digits.
fn table() -> Vec<(&'static dyn Family, Vec<f64>, f64, f64)> {
    include_str!("../data/hazards.csv")
        .lines()
        .filter(|l| !l.starts_with('#'))
        .map(|line| {
            let cells: Vec<&str> = line.split(';').collect();
            let parameters = cells[1].split(' ').map(|v| v.parse().unwrap()).collect();
            (family(cells[0]).unwrap(), parameters, cells[2].parse().unwrap(), cells[3].parse().unwrap())
        })
        .collect()
}

#[test]
fn hazards_hold_their_digits_however_far_out() {
    for (f, parameters, age, want) in table() {
        let life = f.life(&parameters).unwrap();
        let got = life.ln_hazard(age);
        // What eight roundings of the age do, beside the digits of ln h itself.
        let beside = life.ln_hazard(age * (1.0 + 4.0 * f64::EPSILON)) - got;
        let error = (got - want).abs();
        assert!(error <= 1e-13 * want.abs().max(1.0) + beside.abs(), "{life:?} {age}: {got:e} {want:e}");
        if want < 700.0 && want > -700.0 {
            let hazard = life.hazard(age);
            assert!(
                (hazard.ln() - want).abs() <= 1e-13 * want.abs().max(1.0) + beside.abs(),
                "{life:?} {age} {hazard:e}"
            );
        }
    }
    let seen: Vec<&str> = table().iter().map(|row| row.0.name()).collect();
    assert!(families().iter().all(|f| seen.contains(&f.name())));
}

#[test]
fn hazards_end_where_their_formulas_do() {
    // Limits by hand: power laws of age beyond any number, even rates, and 1 / (2 shape^2 scale) and the like.
    let ends: [(&str, &[f64], f64); 13] = [
        ("exponential", &[1000.0], 1e-3),
        ("weibull", &[2.0, 1000.0], INF),
        ("weibull", &[1.0, 1000.0], 1e-3),
        ("weibull", &[0.5, 1000.0], 0.0),
        ("lognormal", &[7.0, 0.5], 0.0),
        ("log_logistic", &[3.0, 1000.0], 0.0),
        ("gamma", &[3.0, 100.0], 0.01),
        ("generalised_gamma", &[7.0, 0.5, 1.0], INF),
        ("generalised_gamma", &[7.0, 1.0, 0.5], 0.0),
        ("inverse_gaussian", &[4.0, 1000.0], 2e-3),
        ("birnbaum_saunders", &[0.5, 1000.0], 2e-3),
        ("logistic", &[1000.0, 50.0], 0.02),
        ("gompertz", &[0.1, 200.0], INF),
    ];
    for (name, parameters, want) in ends {
        let life = family(name).unwrap().life(parameters).unwrap();
        for age in [1e150, INF] {
            let got = life.hazard(age);
            let near = got == want || (got - want).abs() <= 1e-9 * want || (age < INF && want == 0.0 && got < 1e-70);
            assert!(near || (age < INF && want == INF && got > 1e70), "{name} {age}: {got}");
        }
        assert!(!life.hazard(0.0).is_nan());
    }
}

#[test]
fn an_age_that_hardly_any_lamp_passes_is_found_from_its_reliability() {
    for (f, parameters, ..) in table() {
        let life = f.life(&parameters).unwrap();
        for ln_r in [-1e-9, -0.1, -1.0, -3.0, -50.0, -700.0, -1e4] {
            let age = life.quantile_passed(ln_r).unwrap();
            if age == INF {
                assert!(life.ln_reliability(f64::MAX) > ln_r, "{life:?} {ln_r}");
                continue;
            }
            // One rounding of the age moves ln R by the hazard times it.
            let moved = 8.0 * f64::EPSILON * age.abs() * life.hazard(age);
            let error = (life.ln_reliability(age) - ln_r).abs();
            assert!(error <= 1e-13 * ln_r.abs() + moved, "{life:?} {ln_r}: {age} {}", life.ln_reliability(age));
        }
        assert_eq!(life.quantile_passed(0.1).unwrap_err().slug(), "family.probability");
    }
}

#[test]
fn the_profile_of_a_reliability_reaches_where_no_lamp_is_left() {
    let low = vec![412.0, 655.0, 780.0, 903.0, 1010.0, 1188.0, 1290.0, 1333.0, 1400.0, 1450.0, 1500.0];
    let mut high = low.clone();
    high[10] = INF;
    let mut count = vec![1; 11];
    count[10] = 2;
    let tally = Tally::from_rows(&Rows { low, high, count: Some(count), ..Rows::default() }).unwrap().0;
    // ln R at the ends by scipy 1.17.1: ln L maximised over the shape (Weibull) or the scale (Gompertz) with the other
    // parameter settled by R, and the drop of 1.9207 found by brentq.
    let ends = [
        ("weibull", 1000.0, [-0.895_957_875_67, -0.179_346_326_91]),
        ("weibull", 3000.0, [-85.552_939_9, -3.718_312_098_4]),
        ("weibull", 4000.0, [-382.612_351, -6.452_368_946_7]),
        ("gompertz", 1000.0, [-0.833_947_734_2, -0.144_335_988_3]),
    ];
    let (options, run) = (FitOptions::default(), Run::new());
    for (name, age, want) in ends {
        let fitted = fit(family(name).unwrap(), &tally, &options, &run).unwrap();
        let asked = Quantity::Reliability(age);
        let made = fitted.profile(&tally, &options, &asked, 0.95, Sides::Both, &run).unwrap();
        for (got, want) in [made.low, made.high].into_iter().zip(want) {
            let got = got.unwrap().ln();
            assert!((got / want - 1.0).abs() < 1e-6, "{name} {age}: {got} {want}");
        }
        assert!(fitted.profile(&tally, &options, &asked, 0.95, Sides::Upper, &run).unwrap().high < made.high);
        assert!(fitted.profile_curve(&tally, &options, &asked, 0.95, 21, &run).is_ok(), "{name} {age}");
    }
}

#[test]
fn means_over_a_moment_and_in_the_far_tail_are_numbers() {
    let close = |got: f64, want: f64| assert!((got / want - 1.0).abs() < 1e-12, "{got:e} {want:e}");
    // Over a moment nearly every lamp lasts it: t - h(0) t^2 / 2.
    let life = family("gompertz").unwrap().life(&[0.1, 1000.0]).unwrap();
    for age in [1e-12, 1e-8, 1e-3] {
        close(life.mean_to(age).unwrap(), age - 0.5 * 1e-4 * age * age);
    }
    // Where few are left the mean residual life is R's own fall: mpmath 1.3, quadrature at 60 digits.
    let rest = [
        (1000.0, 1500.0, 0.003_599_959_393_236_846_6),
        (1500.0, 1700.0, 0.013_545_195_540_713_434),
        (1500.0, 1500.0, 1.197_304_197_145_141_7),
    ];
    for (mean, age, want) in rest {
        let got = family("inverse_gaussian").unwrap().life(&[1e6, mean]).unwrap().mean_residual_life(age).unwrap();
        // The age itself is rounded to one part in 4e15 of the mean, and R falls steeply there.
        assert!((got / want - 1.0).abs() < 1e-9, "{mean} {age}: {got:e} {want:e}");
    }
}
