//! Profile intervals of any figure for families of any width: against quantities that have a profile of their own, closed
//! forms, and places where a figure ends.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{Fit, FitOptions, Function, Interval, OfLife, Quantity, Scale, Sides, fit};
use relamp::lives::{Rows, Tally};

const INF: f64 = f64::INFINITY;

fn watched(life: &dyn Life, n: usize, seed: u64, until: f64) -> Tally {
    let ages = life.draws(n, &mut Stream::new(seed, "test", "profile figures", 0)).unwrap();
    let rows = Rows {
        low: ages.iter().map(|t| t.min(until)).collect(),
        high: ages.iter().map(|t| if *t <= until { *t } else { INF }).collect(),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap()
}

fn profile(fit: &Fit, tally: &Tally, quantity: &Quantity, sides: Sides) -> Interval {
    fit.profile(tally, &FitOptions::default(), quantity, 0.95, sides, &Run::new()).unwrap()
}

fn own(fit: &Fit, tally: &Tally, of: &OfLife<'_>, scale: Scale) -> Interval {
    let asked = Function { name: "own".into(), of, scale };
    fit.profile_of(tally, &FitOptions::default(), &asked, 0.95, Sides::Both, &Run::new()).unwrap()
}

#[track_caller]
fn same(got: &Interval, want: &Interval, relative: f64, what: &str) {
    for (g, w) in [(got.low, want.low), (got.high, want.high)] {
        match (g, w) {
            (None, None) => {}
            (Some(g), Some(w)) => assert!((g - w).abs() <= relative * w.abs(), "{what}: {got:?} {want:?}"),
            _ => panic!("{what}: {got:?} {want:?}"),
        }
    }
}

/// A tally for which a family of three or more parameters has an inner maximum.
fn case(name: &str) -> (Fit, Tally) {
    let wear = Weibull { shape: 2.0, scale: 1000.0 };
    let tally = match name {
        "weibull_failure_free" => {
            let life = family(name).unwrap().life(&[2.5, 900.0, 400.0]).unwrap();
            watched(life.as_ref(), 150, 4, 2500.0)
        }
        "mixture(weibull, weibull)" => {
            let life = family(name).unwrap().life(&[1.5, 60.0, 5.0, 1500.0, 0.3]).unwrap();
            watched(life.as_ref(), 120, 1, 1700.0)
        }
        "never_fails(weibull)" => {
            let life = family(name).unwrap().life(&[2.0, 1000.0, 0.3]).unwrap();
            watched(life.as_ref(), 120, 1, 3000.0)
        }
        "series(weibull, exponential)" => {
            let life = family(name).unwrap().life(&[4.0, 1000.0, 3000.0]).unwrap();
            watched(life.as_ref(), 200, 1, INF)
        }
        _ => watched(&wear, 120, 2, 1500.0),
    };
    (fitted(name, &tally), tally)
}

const WIDE: [&str; 5] = [
    "generalised_gamma",
    "weibull_failure_free",
    "mixture(weibull, weibull)",
    "never_fails(weibull)",
    "series(weibull, exponential)",
];

#[test]
fn a_figure_that_is_a_parameter_or_an_age_has_its_profile() {
    for name in WIDE {
        let (got, tally) = case(name);
        for (i, parameter) in got.family().unwrap().parameter_names().iter().enumerate() {
            let want = profile(&got, &tally, &Quantity::Parameter((*parameter).to_owned()), Sides::Both);
            let share = parameter.ends_with("share");
            let scale = match (name, *parameter) {
                _ if share => Scale::Share,
                ("generalised_gamma", "shape") | (_, "location") => Scale::Plain,
                _ => Scale::Positive,
            };
            same(&own(&got, &tally, &|_, x| Ok(x[i]), scale), &want, 1e-6, &format!("{name} {parameter}"));
        }
        let b10 = profile(&got, &tally, &Quantity::BLife(10.0), Sides::Both);
        same(&own(&got, &tally, &|life, _| life.b_life(10.0), Scale::Positive), &b10, 1e-6, name);
        let passed = profile(&got, &tally, &Quantity::Reliability(700.0), Sides::Both);
        same(&own(&got, &tally, &|life, _| Ok(life.reliability(700.0)), Scale::Share), &passed, 1e-6, name);
    }
}

#[test]
fn named_figures_of_wide_families_are_those_of_a_function() {
    for name in WIDE {
        let (got, tally) = case(name);
        let within = Quantity::FailureWithin { age_hours: 600.0, hours: 200.0 };
        let cases: [(Quantity, &OfLife<'_>, Scale); 3] = [
            (Quantity::Hazard(900.0), &|life, _| Ok(life.hazard(900.0)), Scale::Positive),
            (within, &|life, _| Ok(1.0 - life.conditional_reliability(800.0, 600.0)), Scale::Share),
            (Quantity::Mean, &|life, _| life.mean(), Scale::Positive),
        ];
        for (quantity, of, scale) in cases {
            if name == "never_fails(weibull)" && quantity == Quantity::Mean {
                continue; // infinite
            }
            let want = profile(&got, &tally, &quantity, Sides::Both);
            assert!(
                want.low.unwrap() < want.estimate.unwrap() && want.estimate.unwrap() < want.high.unwrap(),
                "{name} {want:?}"
            );
            same(&own(&got, &tally, of, scale), &want, 1e-6, name);
            // One side at 97.5 % is an end of both at 95 %.
            let low = got.profile(&tally, &FitOptions::default(), &quantity, 0.975, Sides::Lower, &Run::new()).unwrap();
            assert!((low.low.unwrap() / want.low.unwrap() - 1.0).abs() < 1e-8 && low.high.is_none());
        }
    }
}

#[test]
fn a_curve_of_a_figure_passes_the_cut_at_its_ends() {
    let (got, tally) = case("generalised_gamma");
    let mean = Quantity::Mean;
    let curve = got.profile_curve(&tally, &FitOptions::default(), &mean, 0.95, 21, &Run::new()).unwrap();
    let ends = profile(&got, &tally, &mean, Sides::Both);
    assert_eq!((curve.low, curve.high, curve.values.len()), (ends.low, ends.high, 21));
    for end in [curve.low.unwrap(), curve.high.unwrap()] {
        let i = curve.values.partition_point(|v| *v < end);
        let (a, b) = (curve.relative_log_likelihood[i - 1], curve.relative_log_likelihood[i]);
        assert!((a - curve.cut) * (b - curve.cut) < 0.0, "{a} {b}");
    }
}

#[test]
fn an_interval_ends_where_the_figure_ends() {
    // Even rate, mean 1,000 h, 10 failures: 95 % of the mean lies between 566 and 1,986 h, where
    // 10 (ln(m / 1000) + 1000 / m - 1) is 1.92. The figure (m / 1500) exp(1 - m / 1500) rises to 1 at 1,500 h, inside.
    let ages: Vec<f64> = (0..10).map(|i| 100.0 + 200.0 * f64::from(i)).collect();
    let tally = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap().0;
    let got = fitted("exponential", &tally);
    let mean = profile(&got, &tally, &Quantity::Mean, Sides::Both);
    let peaked = |m: f64| m / 1500.0 * (1.0 - m / 1500.0).exp();
    let bent = own(&got, &tally, &|_, x| Ok(peaked(x[0])), Scale::Plain);
    assert!((bent.low.unwrap() - peaked(mean.low.unwrap())).abs() < 1e-7, "{bent:?} {mean:?}");
    assert!((bent.high.unwrap() - 1.0).abs() < 1e-4, "{bent:?}");
    let note = bent.notes.iter().find(|n| n.slug == "fit.one_sided").unwrap();
    assert!(note.text.contains("has it above"), "{note:?}");
    // A failure-free time of 0 is the last: as a figure it ends where the parameter does.
    let early = watched(&Weibull { shape: 1.3, scale: 1000.0 }, 60, 4, INF);
    let three = fitted("weibull_failure_free", &early);
    let want = profile(&three, &early, &Quantity::Parameter("location".into()), Sides::Both);
    assert_eq!(want.low, Some(0.0), "{want:?}");
    // Above it nears the first failure, where the likelihood grows without bound and such a time ends. A figure of the caller's
    // own has no such end.
    let first = early.low().iter().copied().fold(INF, f64::min);
    assert!((want.high.unwrap() - first).abs() < 1e-9, "{want:?} {first}");
    let figure = own(&three, &early, &|_, x| Ok(x[2]), Scale::Plain);
    assert!(figure.low.unwrap().abs() < 1e-6 && figure.high.is_none(), "{figure:?}");
    assert!(figure.notes.iter().any(|n| n.text.contains("has it below 0")), "{figure:?}");
}

#[test]
fn a_figure_without_a_slope_or_a_bound_is_told() {
    let (got, tally) = case("generalised_gamma");
    let ask = |of: &OfLife<'_>, scale| {
        let asked = Function { name: "own".into(), of, scale };
        got.profile_of(&tally, &FitOptions::default(), &asked, 0.95, Sides::Both, &Run::new())
    };
    assert_eq!(ask(&|_, _| Ok(3.0), Scale::Plain).unwrap_err().slug(), "fit.no_spread");
    assert_eq!(ask(&|_, _| Ok(f64::NAN), Scale::Plain).unwrap_err().slug(), "fit.no_spread");
    let (endless, forever) = case("never_fails(weibull)");
    let mean = endless.profile(&forever, &FitOptions::default(), &Quantity::Mean, 0.95, Sides::Both, &Run::new());
    assert_eq!(mean.unwrap_err().slug(), "fit.no_spread");
    // Two looks leave the shape open below, and with it the spread of the life above.
    let rows = Rows {
        low: vec![0.0, 500.0, 0.0, 900.0],
        high: vec![500.0, INF, 900.0, INF],
        count: Some(vec![1, 9, 3, 7]),
        ..Rows::default()
    };
    let data = Tally::from_rows(&rows).unwrap().0;
    let two = fitted("weibull", &data);
    let wide = own(&two, &data, &|_, x| Ok(1.0 / x[0]), Scale::Positive);
    assert!(wide.low.is_some() && wide.high.is_none(), "{wide:?}");
    assert!(
        wide.notes.iter().any(|n| n.slug == "fit.open_end") && wide.notes.iter().any(|n| n.slug == "fit.one_sided")
    );
}

#[test]
fn a_profile_curve_ends_where_its_parameter_does() {
    // A failure-free time of 0 is the last one there is: the interval ends there, and so does the curve, above the cut.
    let ages: Vec<f64> =
        (0..30).map(|i| 300.0 + 1000.0 * (-(1.0 - (f64::from(i) + 0.5) / 30.0_f64).ln()).cbrt()).collect();
    let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap();
    let (options, run) = (FitOptions::default(), Run::new());
    let found = fit(family("weibull_failure_free").unwrap(), &tally, &options, &run).unwrap();
    let asked = Quantity::Parameter("location".into());
    let curve = found.profile_curve(&tally, &options, &asked, 0.95, 41, &run).unwrap();
    assert_eq!((curve.low, curve.values[0]), (Some(0.0), 0.0));
    assert!(curve.relative_log_likelihood[0] > curve.cut, "{:?}", curve.relative_log_likelihood);
    let held = fit(family("weibull").unwrap(), &tally, &options, &run).unwrap();
    let fall = held.log_likelihood() - found.log_likelihood();
    assert!((curve.relative_log_likelihood[0] - fall).abs() < 1e-6, "{} {fall}", curve.relative_log_likelihood[0]);
}
