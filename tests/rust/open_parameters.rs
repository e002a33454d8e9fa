//! A parameter that the records do not settle has bounds and no estimate.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::base::saved::{self, Format};
use relamp::family::{Exponential, Life, family};
use relamp::fit::{Fit, FitOptions, Identified, Interval, Quantity, Sides, bootstrap, fit};
use relamp::lives::{Rows, Tally};

const INF: f64 = f64::INFINITY;

fn parameter(name: &str) -> Quantity {
    Quantity::Parameter(name.to_owned())
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap()
}

/// One look at each lamp: 2 of 20 had failed by 500 h, 3 of 20 others by 900 h.
fn looks() -> Tally {
    let (high, count) = (vec![500.0, INF, 900.0, INF], Some(vec![2, 18, 3, 17]));
    Tally::from_rows(&Rows { low: vec![0.0, 500.0, 0.0, 900.0], high, count, ..Rows::default() }).unwrap().0
}

#[test]
fn an_open_parameter_has_bounds_and_no_estimate() {
    let (data, options, run) = (looks(), FitOptions::default(), Run::new());
    let found = fitted("never_fails(exponential)", &data);
    let never = parameter("never_share");
    assert_eq!(found.mark_of("never_share").unwrap().identified, Identified::No);
    assert_eq!(found.wald(&never, 0.95, Sides::Both).unwrap_err().slug(), "fit.parameter_open");
    let profile = found.profile(&data, &options, &never, 0.95, Sides::Both, &run).unwrap();
    let mark = found.mark_of("never_share").unwrap();
    assert_eq!((profile.estimate, profile.low, profile.high), (None, mark.low, mark.high));
    assert!(
        profile.high.is_some() && profile.notes.iter().any(|note| note.slug == "fit.parameter_open"),
        "{profile:?}"
    );
    // What is asked of all lamps has a value at the maximum, beside the note.
    let reliability = found.profile(&data, &options, &Quantity::Reliability(500.0), 0.95, Sides::Both, &run).unwrap();
    assert!(reliability.low < reliability.estimate && reliability.estimate < reliability.high, "{reliability:?}");
    assert!(reliability.notes.iter().any(|note| note.slug == "fit.parameter_open"));
    let draws = bootstrap(family("never_fails(exponential)").unwrap(), &data, &options, 60, 1, "", &run).unwrap();
    for drawn in [draws.interval(&never, 0.5, Sides::Both), draws.bias_corrected(&never, 0.5, Sides::Both)] {
        let drawn = drawn.unwrap();
        assert!(drawn.estimate.is_none() && drawn.low.is_some() && drawn.high.is_some(), "{drawn:?}");
    }
    // It is saved as it stands, and an estimate that was taken out is missed.
    let form = Format::new("interval", 1);
    let text = saved::save(form, &profile).unwrap();
    assert!(!text.contains("\"estimate\""), "{text}");
    assert_eq!(saved::load::<Interval>(form, &text).unwrap(), profile);
    let scale = fitted("exponential", &data).wald(&parameter("scale"), 0.95, Sides::Both).unwrap();
    let taken = saved::save(form, &Interval { estimate: None, ..scale }).unwrap();
    assert!(saved::load::<Interval>(form, &taken).unwrap_err().to_string().contains("estimate"), "{taken}");
}

#[test]
fn a_figure_past_the_oldest_lamp_has_no_point_where_a_parameter_is_open() {
    let (data, options, run) = (looks(), FitOptions::default(), Run::new());
    let found = fitted("never_fails(exponential)", &data);
    // Far out the chance to pass an age is the share that never fails.
    let share = found.profile(&data, &options, &parameter("never_share"), 0.95, Sides::Both, &run).unwrap();
    let far = Quantity::Reliability(1e7);
    let ends = found.profile(&data, &options, &far, 0.95, Sides::Both, &run).unwrap();
    assert!(ends.estimate.is_none() && (ends.high.unwrap() - share.high.unwrap()).abs() < 1e-4, "{ends:?} {share:?}");
    let curve = found.profile_curve(&data, &options, &far, 0.95, 21, &run).unwrap();
    assert!(curve.open, "{curve:?}");
    let draws = bootstrap(family("never_fails(exponential)").unwrap(), &data, &options, 60, 1, "", &run).unwrap();
    assert!(draws.interval(&far, 0.5, Sides::Both).unwrap().estimate.is_none());
    for quantity in [
        far,
        Quantity::Hazard(2000.0),
        Quantity::FailureWithin { age_hours: 800.0, hours: 200.0 },
        Quantity::Quantile(0.24),
    ] {
        let error = found.wald(&quantity, 0.95, Sides::Both).unwrap_err();
        assert!(error.slug() == "fit.parameter_open" && error.to_string().contains("900 h"), "{quantity:?} {error}");
    }
    // Up to the oldest lamp the records bear the figure, whatever the share.
    let near = Quantity::FailureWithin { age_hours: 400.0, hours: 300.0 };
    for quantity in [Quantity::Reliability(900.0), Quantity::Quantile(0.1), near] {
        assert!(found.wald(&quantity, 0.95, Sides::Both).unwrap().estimate.is_some(), "{quantity:?}");
    }
    // A share that is settled leaves every figure its point.
    let low: Vec<f64> = (1..=40).map(|i| 10.0 * f64::from(i)).chain([5000.0; 40]).collect();
    let high = low.iter().map(|t| if *t < 5000.0 { *t } else { INF }).collect();
    let (plain, _) = Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap();
    let settled = fitted("never_fails(weibull)", &plain);
    assert_eq!(settled.mark_of("never_share").unwrap().identified, Identified::Yes);
    assert!(settled.wald(&Quantity::Reliability(1e5), 0.95, Sides::Both).unwrap().estimate.is_some());
}

/// Lamps with an even failure rate that are watched to an age.
fn even(n: usize, until: f64, seed: u64) -> Tally {
    let ages = Exponential { scale: 1000.0 }.draws(n, &mut Stream::new(20_261_127, "fit", "open", seed)).unwrap();
    let low = ages.iter().map(|t| t.min(until)).collect();
    let high = ages.iter().map(|t| if *t > until { INF } else { *t }).collect();
    Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap().0
}

#[test]
fn two_rates_of_which_only_the_sum_is_settled_are_both_open() {
    let mut seen = 0;
    for seed in 0..12 {
        let data = even([12, 30, 60][seed as usize % 3], [3000.0, 900.0][seed as usize % 2], seed);
        let both = family("series(exponential, exponential)").unwrap();
        // Where the search runs on without end there is no fit, which says the same.
        let Ok(found) = fit(both, &data, &FitOptions::default(), &Run::new()) else { continue };
        seen += 1;
        // The sum of the rates is that of one cause: neither life is shorter than that one may be.
        let alone = fitted("exponential", &data);
        let run = Run::new();
        let whole = alone.profile(&data, &FitOptions::default(), &parameter("scale"), 0.95, Sides::Both, &run).unwrap();
        assert!((found.log_likelihood() - alone.log_likelihood()).abs() < 1e-7);
        for name in ["first_scale", "second_scale"] {
            let mark = found.mark_of(name).unwrap();
            assert_eq!((mark.identified, mark.high, found.parameter(name)), (Identified::No, None, None), "{found}");
            assert!((mark.low.unwrap() / whole.low.unwrap() - 1.0).abs() < 1e-6, "{mark:?} {whole:?}");
            let profile =
                found.profile(&data, &FitOptions::default(), &parameter(name), 0.95, Sides::Both, &run).unwrap();
            assert_eq!((profile.estimate, profile.high), (None, None), "{profile:?}");
            assert_eq!(found.wald(&parameter(name), 0.95, Sides::Both).unwrap_err().slug(), "fit.parameter_open");
        }
        assert_eq!(found.life().unwrap_err().slug(), "fit.parameter_open");
    }
    assert!(seen >= 4, "{seen}");
}

#[test]
fn two_causes_that_differ_stay_settled() {
    // Early failures at an even rate beside wear: what each does shows in the records.
    let life = family("series(exponential, weibull)").unwrap().life(&[3000.0, 6.0, 1500.0]).unwrap();
    let mut runs = 0;
    for seed in 0..4 {
        let ages = life.draws(300, &mut Stream::new(20_261_127, "fit", "differ", seed)).unwrap();
        let (data, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap();
        let found = fitted("series(exponential, weibull)", &data);
        assert!(found.identified().iter().all(|mark| mark.identified == Identified::Yes), "{found}");
        runs += 1;
    }
    assert_eq!(runs, 4);
}

#[test]
fn an_age_too_large_to_be_a_number_is_no_share_that_never_fails() {
    let ages = vec![1e-60, 1e-30, 1.0, 1e30, 1e60, 1e80];
    let (data, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap();
    let found = fitted("lognormal", &data);
    let p = 1.0 - 1e-15;
    let error = found.wald(&Quantity::Quantile(p), 0.95, Sides::Both).unwrap_err();
    let text = error.to_string();
    assert_eq!(error.slug(), "fit.no_spread");
    assert!(text.contains("too large to be a number") && !text.contains("ever fail"), "{text}");
}

#[test]
fn a_level_top_is_not_told_as_one_that_rises() {
    // Two looks have two shares to explain: every law of two parameters does so, and three have a whole line of them.
    let why = |data: &Tally| {
        let family = family("generalised_gamma").unwrap();
        fit(family, data, &FitOptions::default(), &Run::new()).map(|_| ()).unwrap_err().to_string()
    };
    let level = why(&looks());
    assert!(level.contains("level top") && !level.contains("rises to"), "{level}");
    // Failures at even distances up to a last one: there the likelihood rises as the shape grows.
    let ages: Vec<f64> = (1..=30).map(|i| 100.0 * f64::from(i)).collect();
    let (data, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap();
    let rising = why(&data);
    assert!(rising.contains("rises to") && !rising.contains("level top"), "{rising}");
}
