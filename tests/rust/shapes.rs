//! Families of changing shape: a failure-free time, the generalised gamma, and a hazard in pieces.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{
    Exponential, Gamma, GeneralisedGamma, Jet, Life, Lognormal, Order, PiecewiseConstant, Term, Weibull,
    WeibullFailureFree, family,
};
use relamp::fit::{Fit, FitOptions, Quantity, Sides, Stop, fit, likelihood_ratio};
use relamp::lives::{Rows, Tally};
use serde_json::Value;

const INF: f64 = f64::INFINITY;
const TERMS: [Term; 3] = [Term::LnDensity, Term::LnReliability, Term::LnFailureProbability];

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

fn published(name: &str) -> Tally {
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    let cases = all["cases"].as_array().unwrap();
    from_rows(cases.iter().find(|c| c["name"] == name).unwrap()["rows"].as_array().unwrap())
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    let got = fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap();
    assert!(got.converged(), "{got}");
    got
}

fn notes(fit: &Fit) -> Vec<&str> {
    fit.notes().iter().map(|n| n.slug.as_str()).collect()
}

#[track_caller]
fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance * want.abs(), "got {got}, want {want}");
}

#[test]
fn a_generalised_gamma_life_holds_the_narrower_ones() {
    let (location, scale) = (7.0, 0.5);
    let at = |shape| GeneralisedGamma { location, scale, shape };
    let hours = f64::exp(location);
    let alike: [(GeneralisedGamma, Box<dyn Life>); 4] = [
        (at(0.0), Box::new(Lognormal { location, scale })),
        (at(1.0), Box::new(Weibull { shape: 2.0, scale: hours })),
        (at(0.5), Box::new(Gamma { shape: 4.0, scale: hours / 4.0 })),
        (GeneralisedGamma { location, scale: 1.0, shape: 1.0 }, Box::new(Exponential { scale: hours })),
    ];
    for (wide, narrow) in alike {
        for age in [1e-6, 1.0, 200.0, 900.0, 1500.0, 9000.0, 40_000.0] {
            for term in TERMS {
                let (a, b) = (wide.ln_term(term, age), narrow.ln_term(term, age));
                assert!((a - b).abs() <= 2e-13 * b.abs() + 1e-15, "{narrow:?} {age} {term:?}: {a} {b}");
            }
        }
        for p in [1e-9, 0.1, 0.5, 0.9, 0.999_999] {
            near(wide.quantile(p).unwrap(), narrow.quantile(p).unwrap(), 1e-12);
        }
        near(wide.mean().unwrap(), narrow.mean().unwrap(), 1e-13);
        near(wide.variance().unwrap(), narrow.variance().unwrap(), 1e-12);
        near(wide.mean_to(900.0).unwrap(), narrow.mean_to(900.0).unwrap(), 1e-12);
        near(wide.mean_residual_life(900.0).unwrap(), narrow.mean_residual_life(900.0).unwrap(), 1e-11);
    }
}

#[test]
fn nothing_breaks_at_shape_zero() {
    // Across 0 in steps of 1e-6: value, gradient and Hessian move by no more than a step's worth.
    let f = family("generalised_gamma").unwrap();
    for age in [50.0, 400.0, 1096.0, 1100.0, 5000.0] {
        for term in TERMS {
            let jets = [-1e-6, -1e-9, 0.0, 1e-12, 1e-6].map(|q| {
                let mut jet = Jet::new(3);
                f.jet(&[7.0, -0.7, q], age, term, Order::Hessian, &mut jet);
                jet
            });
            for pair in jets.windows(2) {
                let both = |j: &Jet| [j.value].into_iter().chain(j.gradient.clone()).chain(j.hessian.clone()).collect();
                let (a, b): (Vec<f64>, Vec<f64>) = (both(&pair[0]), both(&pair[1]));
                for (u, v) in a.iter().zip(b) {
                    assert!((u - v).abs() < 1e-5 * (100.0 + v.abs()), "{age} {term:?}: {u} {v}");
                }
            }
        }
    }
    // And across the border between the two ways to the tails.
    let border = 1.0 / relamp::base::math::gamma::UNIFORM_SHAPE.sqrt();
    for w in [-9.0, -1.0, 0.2, 2.0, 9.0] {
        for sign in [-1.0, 1.0] {
            let values = [1.0 - 1e-9, 1.0 + 1e-9].map(|k| {
                let life = GeneralisedGamma { location: 0.0, scale: 1.0, shape: sign * border * k };
                TERMS.map(|t| life.ln_term(t, f64::exp(w)))
            });
            for (a, b) in values[0].iter().zip(values[1]) {
                assert!((a - b).abs() < 1e-6 * b.abs(), "{w} {sign}: {a} {b}");
            }
        }
    }
}

#[test]
fn a_generalised_gamma_fit_is_no_worse_than_the_narrower_ones() {
    for name in
        ["ball_bearing", "locomotive_controls", "alloy_t7987", "nist_weibull_censored", "part_cracking_interval"]
    {
        let tally = published(name);
        let wide = fitted("generalised_gamma", &tally);
        // Every peak is listed, and the highest is the fit.
        let first = wide.peaks().first().unwrap();
        assert!(wide.peaks().iter().all(|p| p.log_likelihood <= first.log_likelihood), "{name}");
        assert_eq!(first.parameters, wide.parameters_at_maximum().iter().map(|p| p.1).collect::<Vec<_>>(), "{name}");
        for narrow in ["weibull", "lognormal", "gamma", "exponential"] {
            let narrow = fitted(narrow, &tally);
            assert!(wide.log_likelihood() > narrow.log_likelihood() - 1e-9, "{name}: {wide} {narrow}");
        }
    }
}

#[test]
fn generalised_gamma_maxima_agree_with_sixty_digits() {
    let all: Value = serde_json::from_str(include_str!("../data/generalised_gamma_fits.json")).unwrap();
    let fits = all["fits"].as_array().unwrap();
    assert!(fits.len() >= 9);
    for want in fits {
        let got = fitted("generalised_gamma", &published(want["name"].as_str().unwrap()));
        near(got.log_likelihood(), want["log_likelihood"].as_f64().unwrap(), 1e-12);
        for (i, (name, value)) in got.parameters_at_maximum().into_iter().enumerate() {
            near(value, want[name].as_f64().unwrap(), 1e-8);
            near(got.covariance(i, i).unwrap().sqrt(), want["standard_errors"][i].as_f64().unwrap(), 1e-7);
            if let Some(printed) = want["printed"][name].as_array() {
                let (figure, half) = (printed[0].as_f64().unwrap(), printed[1].as_f64().unwrap());
                assert!((value - figure).abs() <= half, "{} {name}: {value}, printed {figure}", want["name"]);
            }
        }
    }
    // The likelihood of these records rises for ever as the shape grows: an upright end at the last failure.
    for name in ["aarset_bathtub", "freireich 6-MP"] {
        let f = family("generalised_gamma").unwrap();
        match fit(f, &published(name), &FitOptions::default(), &Run::new()) {
            Err(error) => assert_eq!(error.slug(), "fit.not_identified", "{name}"),
            Ok(got) => assert!(!got.converged(), "{name}: {got}"),
        }
    }
}

#[test]
fn a_true_lognormal_life_is_rejected_as_often_as_the_level_says() {
    let life = Lognormal { location: 7.0, scale: 0.6 };
    let (mut rejected, runs) = (0, 300);
    for seed in 0..runs {
        let ages = life.draws(120, &mut Stream::new(seed, "shapes", "nested", 0)).unwrap();
        let tally = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap().0;
        let (narrow, wide) = (fitted("lognormal", &tally), fitted("generalised_gamma", &tally));
        let test = likelihood_ratio(&tally, &FitOptions::default(), &narrow, &wide).unwrap();
        rejected += u32::from(test.p_value < 0.05);
    }
    // 15 expected of 300; outside 4 to 29 has a chance below 1e-3 (binomial).
    assert!((4..=29).contains(&rejected), "{rejected}");
    let tally = published("nist_weibull_censored");
    let options = FitOptions::default();
    let even = fitted("exponential", &tally);
    let pieces = likelihood_ratio(&tally, &options, &even, &fitted("piecewise_constant(200, 300)", &tally)).unwrap();
    assert_eq!(pieces.degrees_of_freedom, 2);
    let boundary = fitted("weibull_failure_free", &tally);
    let error = likelihood_ratio(&tally, &options, &fitted("weibull", &tally), &boundary).unwrap_err();
    assert_eq!(error.slug(), "fit.not_nested");
}

#[test]
fn a_failure_free_time_below_zero_ends_at_zero() {
    let all: Value = serde_json::from_str(include_str!("../data/hard_lives.json")).unwrap();
    let case = all["cases"].as_array().unwrap().iter().find(|c| c["id"] == "hc-fit-025").unwrap().clone();
    let tally = from_rows(case["rows"].as_array().unwrap());
    let want = &case["expect"]["any_of"][0]["values"];
    let got = fitted("weibull_failure_free", &tally);
    assert_eq!(got.parameter("location"), Some(0.0));
    near(got.parameter("shape").unwrap(), want["shape"].as_f64().unwrap(), 1e-9);
    near(got.parameter("scale").unwrap(), want["scale"].as_f64().unwrap(), 1e-9);
    assert!((got.log_likelihood() - want["loglik"].as_f64().unwrap()).abs() < 1e-9);
    assert!(notes(&got).contains(&"fit.at_boundary") && notes(&got).contains(&"fit.local_maximum"), "{got}");
    assert_eq!(got.standard_error("location"), None);
    // There the likelihood ratio has another law, whose mean corrects nothing.
    let shape = Quantity::Parameter("shape".into());
    let refused = got.profile_corrected(&tally, &FitOptions::default(), &shape, 0.95, 99, 1, &Run::new()).unwrap_err();
    assert_eq!(refused.slug(), "fit.ratio_mean");
    // The other figures are those of the Weibull life without a failure-free time.
    let plain = fitted("weibull", &tally);
    near(got.standard_error("shape").unwrap(), plain.standard_error("shape").unwrap(), 1e-9);
    let place = Quantity::Parameter("location".into());
    assert_eq!(got.wald(&place, 0.95, Sides::Both).unwrap_err().slug(), "fit.no_spread");
    let interval = got.profile(&tally, &FitOptions::default(), &place, 0.95, Sides::Both, &Run::new()).unwrap();
    let high = interval.high.unwrap();
    assert_eq!(interval.low, Some(0.0));
    assert!(interval.notes.iter().any(|n| n.slug == "fit.one_sided"), "{interval:?}");
    // The end is where the likelihood of the best other two has fallen by half the chi-square quantile: shift the ages.
    let shifted = |by: f64| {
        let rows = case["rows"].as_array().unwrap().iter().map(|r| r[0].as_f64().unwrap() - by).collect::<Vec<_>>();
        fitted("weibull", &Tally::from_rows(&Rows { low: rows.clone(), high: rows, ..Rows::default() }).unwrap().0)
    };
    near(got.log_likelihood() - shifted(high).log_likelihood(), 0.5 * 3.841_458_820_694_124, 1e-7);
    // A quantile has its interval although the time is held.
    let b10 = got.profile(&tally, &FitOptions::default(), &Quantity::BLife(10.0), 0.95, Sides::Both, &Run::new());
    let b10 = b10.unwrap();
    assert!(b10.low.unwrap() < b10.estimate.unwrap() && b10.estimate.unwrap() < b10.high.unwrap(), "{b10:?}");
    // The recalled handbook sample has its unbounded optimum at -470 h.
    assert_eq!(
        fitted("weibull_failure_free", &published("handbook_right_censored_a")).parameter("location"),
        Some(0.0)
    );
}

#[test]
fn a_likelihood_that_only_rises_is_refused_with_what_can_be_said() {
    // No inner maximum by an independent scan at 40 digits.
    for name in ["diesel_fan", "bearing_cage", "device_g_modes", "aarset_bathtub"] {
        let tally = published(name);
        let f = family("weibull_failure_free").unwrap();
        let error = fit(f, &tally, &FitOptions::default(), &Run::new()).unwrap_err();
        assert_eq!(error.slug(), "fit.no_interior_maximum", "{name}");
        let plain = fitted("weibull", &tally);
        let shape = format!("shape {:.4}", plain.parameter("shape").unwrap());
        let hint = error.hint().unwrap();
        assert!(hint.contains(&shape) && hint.contains("read_exact") && hint.contains("such as whole hours"), "{hint}");
    }
}

#[test]
fn ages_that_are_readings_bound_the_likelihood() {
    let read = published("diesel_fan").read_exact(10.0).unwrap();
    let got = fitted("weibull_failure_free", &read);
    // The first failure was found at 450 h: it lies in (440, 450].
    let location = got.parameter("location").unwrap();
    assert!(location < 450.0 && !notes(&got).contains(&"fit.local_maximum"), "{got}");
    // No other failure-free time does better, whatever the others: a grid through the plain Weibull of shifted ages.
    let mut best = f64::NEG_INFINITY;
    for k in 0..450 {
        let by = f64::from(k);
        let shift = |v: &[f64]| v.iter().map(|t| (t - by).max(0.0)).collect::<Vec<f64>>();
        let rows = Rows {
            low: shift(read.low()),
            high: shift(read.high()),
            count: Some(read.count().to_vec()),
            ..Rows::default()
        };
        let plain = fitted("weibull", &Tally::from_rows(&rows).unwrap().0);
        best = best.max(plain.log_likelihood());
    }
    assert!(got.log_likelihood() >= best - 1e-7, "{got} {best}");
    // A reading reaches back no further than to the entry, and no further than to new.
    let rows = Rows { low: vec![0.4, 600.5, 700.0], high: vec![0.4, 600.5, INF], ..Rows::default() };
    let rows = Rows { entry: Some(vec![0.0, 600.0, 0.0]), ..rows };
    let short = Tally::from_rows(&rows).unwrap().0.read_exact(1.0).unwrap();
    assert_eq!((short.low(), short.high()), (&[0.0, 600.0, 700.0][..], &[0.4, 600.5, INF][..]));
    assert_eq!(published("diesel_fan").read_exact(0.0).unwrap_err().slug(), "lives.reading_step");
}

#[test]
fn a_known_failure_free_time_comes_back() {
    let truth = WeibullFailureFree { shape: 2.2, scale: 1200.0, location: 500.0 };
    let (mut inside, runs) = (0, 60);
    for seed in 0..runs {
        let mut stream = Stream::new(seed, "shapes", "failure-free", 0);
        let ages = truth.draws(150, &mut stream).unwrap();
        let limit = 2000.0;
        let low: Vec<f64> = ages.iter().map(|t| t.min(limit)).collect();
        let high = ages.iter().map(|t| if *t <= limit { *t } else { INF }).collect();
        let tally = Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap().0;
        let got = fitted("weibull_failure_free", &tally);
        let place = Quantity::Parameter("location".into());
        let interval = got.profile(&tally, &FitOptions::default(), &place, 0.95, Sides::Both, &Run::new()).unwrap();
        inside += u64::from(interval.low.unwrap_or(0.0) <= 500.0 && interval.high.is_none_or(|h| h >= 500.0));
    }
    // 95 % of 60: fewer than 50 has a chance below 1e-3 (binomial).
    assert!(inside >= 50, "{inside} of {runs}");
}

#[test]
fn hazards_in_pieces_are_failures_over_hours() {
    // By hand: hours in (0, 500]: 5 x 500 less nothing; failures at 200 and 500 belong to the first piece.
    let rows = Rows {
        low: vec![200.0, 500.0, 700.0, 900.0, 1200.0],
        high: vec![200.0, 500.0, 700.0, INF, 1200.0],
        entry: Some(vec![0.0, 100.0, 0.0, 600.0, 0.0]),
        ..Rows::default()
    };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let got = fitted("piecewise_constant(500, 1000)", &tally);
    assert_eq!(got.stop(), Stop::ClosedForm);
    near(got.parameter("hazard_1").unwrap(), 2.0 / (200.0 + 400.0 + 500.0 + 500.0), 1e-14);
    near(got.parameter("hazard_2").unwrap(), 1.0 / (200.0 + 300.0 + 500.0), 1e-14);
    near(got.parameter("hazard_3").unwrap(), 1.0 / 200.0, 1e-14);
    // The standard error of a logarithm is one over the root of the failures.
    near(got.standard_error("hazard_1").unwrap(), got.parameter("hazard_1").unwrap() / 2f64.sqrt(), 1e-12);
    let general = FitOptions { reduced: false, ..FitOptions::default() };
    let searched = fit(family("piecewise_constant(500,1000)").unwrap(), &tally, &general, &Run::new()).unwrap();
    assert_eq!(searched.stop(), Stop::Gradient);
    for (a, b) in searched.parameters_at_maximum().iter().zip(got.parameters_at_maximum()) {
        near(a.1, b.1, 1e-11);
    }
    near(searched.log_likelihood(), got.log_likelihood(), 1e-13);
    // The interval of a quantile by profile holds the estimate, and the first piece's by its own.
    let b50 = got.profile(&tally, &FitOptions::default(), &Quantity::Quantile(0.2), 0.9, Sides::Both, &Run::new());
    let b50 = b50.unwrap();
    assert!(b50.low.unwrap() < b50.estimate.unwrap() && b50.high.unwrap() > b50.estimate.unwrap(), "{b50:?}");
}

#[test]
fn a_piece_without_a_failure_has_a_bound_and_no_estimate() {
    let rows = Rows { low: vec![200.0, 700.0, 1200.0], high: vec![200.0, INF, 1200.0], ..Rows::default() };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let run = |name: &str| fit(family(name).unwrap(), &tally, &FitOptions::default(), &Run::new());
    let error = run("piecewise_constant(500, 1000)").unwrap_err();
    assert_eq!(error.slug(), "fit.empty_piece");
    // 200 + 500 hours were watched there: 2.9957 / 700.
    assert!(error.hint().unwrap().contains("4.2796e-3") && error.to_string().contains("hazard_2"), "{error}");
    let error = run("piecewise_constant(500, 2000)").unwrap_err();
    assert!(error.hint().unwrap().contains("no lamp was watched"), "{error}");
    for bad in ["()", "(0)", "(500, 400)", "(500, 500)", "(x)", "(1,2,3,4,5,6,7,8)", "(nan)", "(inf)", "(1e300)"] {
        assert_eq!(family(&format!("piecewise_constant{bad}")).unwrap_err().slug(), "family.cuts", "{bad}");
    }
    assert_eq!(family("piecewise_constant").unwrap_err().slug(), "family.unknown");
    assert_eq!(PiecewiseConstant::new(&[5.0], &[1.0]).unwrap_err().slug(), "family.width");
    assert_eq!(PiecewiseConstant::new(&[5.0], &[1.0, 0.0]).unwrap_err().slug(), "family.parameter");
}

#[test]
fn hazards_in_pieces_use_intervals_too() {
    // Whole-hour readings of a simulated life with known pieces; the estimates come back within four standard errors.
    let truth = PiecewiseConstant::new(&[300.0, 800.0, 1500.0], &[4e-4, 1e-4, 6e-4, 2e-3]).unwrap();
    let ages = truth.draws(4000, &mut Stream::new(5, "shapes", "pieces", 0)).unwrap();
    let found: Vec<f64> = ages.iter().map(|t| (t / 50.0).ceil() * 50.0).collect();
    let rows = Rows { low: found.iter().map(|t| t - 50.0).collect(), high: found, ..Rows::default() };
    let got = fitted("piecewise_constant(300, 800, 1500)", &Tally::from_rows(&rows).unwrap().0);
    for ((name, value), want) in got.parameters_at_maximum().into_iter().zip([4e-4, 1e-4, 6e-4, 2e-3]) {
        assert!((value - want).abs() < 4.0 * got.standard_error(name).unwrap(), "{got}");
    }
    // A piece of one level is an exponential life, whatever the records.
    let even = family("exponential").unwrap();
    let tally = published("nist_weibull_censored");
    let rate = fit(even, &tally, &FitOptions::default(), &Run::new()).unwrap();
    let pieces = fitted("piecewise_constant(300)", &tally);
    assert!(pieces.log_likelihood() > rate.log_likelihood());
}
