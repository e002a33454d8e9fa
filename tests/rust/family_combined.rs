//! Lives made of others: closed forms, limits, names, and what decisions do with a share that never fails.

use relamp::base::random::Stream;
use relamp::demand::{Horizon, SocketToday, forecast};
use relamp::family::{Exponential, Life, Mixture, NeverFails, PiecewiseConstant, Series, Term, Weibull, family};
use relamp::policy::{WorldCurve, unlimited_optimum};

use crate::worlds::{close, limit, world};

const TERMS: [Term; 3] = [Term::LnDensity, Term::LnReliability, Term::LnFailureProbability];

fn boxed(shape: f64, scale: f64) -> Box<dyn Life> {
    Box::new(Weibull { shape, scale })
}

/// Two lives that should be one.
fn same(one: &dyn Life, other: &dyn Life, tolerance: f64) {
    for age in [1e-3, 1.0, 80.0, 400.0, 900.0, 2500.0] {
        for term in TERMS {
            close(one.ln_term(term, age), other.ln_term(term, age), tolerance, 1e-300);
        }
        close(one.hazard(age), other.hazard(age), tolerance, 0.0);
        close(one.mean_to(age).unwrap(), other.mean_to(age).unwrap(), tolerance, 0.0);
        close(one.mean_residual_life(age).unwrap(), other.mean_residual_life(age).unwrap(), tolerance, 0.0);
    }
    for p in [0.0, 1e-12, 0.1, 0.5, 0.99, 1.0] {
        let (a, b) = (one.quantile(p).unwrap(), other.quantile(p).unwrap());
        assert!(a == b || (a - b).abs() <= tolerance * b, "{p} {a} {b}");
    }
    close(one.mean().unwrap(), other.mean().unwrap(), tolerance, 0.0);
    close(one.variance().unwrap(), other.variance().unwrap(), tolerance, 0.0);
}

#[test]
fn weibull_causes_of_one_shape_are_a_weibull() {
    // The smallest of Weibull lives of one shape: scale^-shape adds up (the weakest link).
    let (shape, a, b) = (2.5, 900.0, 1500.0f64);
    let scale = (f64::powf(a, -shape) + b.powf(-shape)).powf(-1.0 / shape);
    same(&Series::new(boxed(shape, a), boxed(shape, b)), &Weibull { shape, scale }, 1e-11);
}

#[test]
fn two_kinds_alike_are_one() {
    let alike = Mixture::new(boxed(2.5, 900.0), boxed(2.5, 900.0), 0.3).unwrap();
    same(&alike, &Weibull { shape: 2.5, scale: 900.0 }, 1e-11);
}

#[test]
fn a_mixture_of_even_rates_has_a_falling_hazard_between_them() {
    // Proschan (1963), Technometrics 5: mixed even rates look like a falling one.
    let life =
        Mixture::new(Box::new(Exponential { scale: 100.0 }), Box::new(Exponential { scale: 1000.0 }), 0.4).unwrap();
    let hazards = [0.0, 50.0, 200.0, 1000.0, 5000.0].map(|t| life.hazard(t));
    close(hazards[0], 0.4 / 100.0 + 0.6 / 1000.0, 1e-14, 0.0);
    assert!(hazards.windows(2).all(|h| h[0] > h[1]) && hazards[4] > 0.001, "{hazards:?}");
    // Mean 640, second moment 2 (0.4 x 100^2 + 0.6 x 1000^2).
    close(life.mean().unwrap(), 640.0, 1e-14, 0.0);
    close(life.variance().unwrap(), 1_208_000.0 - 640.0 * 640.0, 1e-13, 0.0);
    // Far out only the lasting kind is left, and its reliability keeps its digits.
    close(life.ln_reliability(9e5), 0.6f64.ln() - 900.0, 1e-15, 0.0);
    close(life.mean_residual_life(9e5).unwrap(), 1000.0, 1e-12, 0.0);
}

#[test]
fn a_share_that_never_fails_has_no_mean_and_no_late_quantile() {
    let base = Weibull { shape: 2.0, scale: 1000.0 };
    let life = NeverFails::new(Box::new(base), 0.75).unwrap();
    assert_eq!(life.never_fails(), 0.75);
    for infinite in [life.mean(), life.variance(), life.mean_residual_life(10.0), life.quantile(0.26)] {
        assert_eq!(infinite.unwrap(), f64::INFINITY);
    }
    close(life.quantile(0.125).unwrap(), base.quantile(0.5).unwrap(), 1e-14, 0.0);
    close(life.mean_to(800.0).unwrap(), 600.0 + 0.25 * base.mean_to(800.0).unwrap(), 1e-14, 0.0);
    assert_eq!(life.ln_reliability(f64::INFINITY), 0.75f64.ln());
    // Draws: three in four never fail, the others as the base does.
    let ages = life.draws(4000, &mut Stream::new(7, "family", "never", 0)).unwrap();
    let mut failed: Vec<f64> = ages.iter().copied().filter(|a| a.is_finite()).collect();
    // Five standard deviations of a binomial share.
    close(failed.len() as f64 / 4000.0, 0.25, 0.0, 5.0 * (0.25f64 * 0.75 / 4000.0).sqrt());
    failed.sort_by(f64::total_cmp);
    let n = failed.len() as f64;
    let distance =
        failed.iter().enumerate().fold(0.0f64, |d, (i, t)| d.max((base.failure_probability(*t) - i as f64 / n).abs()));
    assert!(distance < 1.95 / n.sqrt(), "{distance}");
    // In series with wear there is a mean again.
    let both = Series::new(Box::new(life), boxed(4.0, 1500.0));
    assert!(both.mean().unwrap() < 1500.0 && both.never_fails() == 0.0);
    // Nested shares multiply, and mix.
    let never = |share| Box::new(NeverFails::new(boxed(2.0, 1000.0), share).unwrap());
    let twice = NeverFails::new(never(0.5), 0.4).unwrap();
    close(twice.never_fails(), 0.7, 1e-15, 0.0);
    assert!(twice.quantile(0.29).unwrap().is_finite() && twice.quantile(0.31).unwrap() == f64::INFINITY);
    let two = Series::new(never(0.5), never(0.4));
    assert_eq!((two.never_fails(), two.quantile(0.81).unwrap()), (0.2, f64::INFINITY));
    assert!(two.quantile(0.79).unwrap().is_finite());
    let mixed = Mixture::new(never(0.5), boxed(2.0, 300.0), 0.5).unwrap();
    assert_eq!((mixed.never_fails(), mixed.quantile(0.76).unwrap()), (0.25, f64::INFINITY));
    close(mixed.failure_probability(mixed.quantile(0.74).unwrap()), 0.74, 1e-12, 0.0);
}

#[test]
fn draws_of_a_series_are_the_smaller_of_two() {
    // Independent of the quantile: draw both causes and keep what comes first.
    let life = Series::new(boxed(0.8, 2000.0), boxed(4.0, 1200.0));
    let draw = |shape, scale, name| boxed(shape, scale).draws(4000, &mut Stream::new(7, "family", name, 0)).unwrap();
    let pairs = draw(0.8, 2000.0, "a").into_iter().zip(draw(4.0, 1200.0, "b"));
    let mut ages: Vec<f64> = pairs.map(|(a, b)| a.min(b)).collect();
    ages.sort_by(f64::total_cmp);
    let distance = ages
        .iter()
        .enumerate()
        .fold(0.0f64, |d, (i, t)| d.max((life.failure_probability(*t) - i as f64 / 4000.0).abs()));
    assert!(distance < 1.95 / 4000f64.sqrt(), "{distance}");
}

#[test]
fn combinations_of_lives_below_zero_have_moments() {
    // The sum over both sides of 0, against the closed form of a mixture of two normal lives taken as its own series.
    let normal = |location: f64| family("normal").unwrap().life(&[location, 300.0]).unwrap();
    let life = Mixture::new(normal(-100.0), normal(1000.0), 0.5).unwrap();
    close(life.mean().unwrap(), 450.0, 1e-13, 0.0);
    close(life.variance().unwrap(), 9e4 + 0.25 * 1100.0 * 1100.0, 1e-12, 0.0);
    assert!(life.below_zero() > 0.3);
    // The smaller of two standard normal numbers: mean -1/sqrt(pi), variance 1 - 1/pi (from memory).
    let life = Series::new(normal(0.0), normal(0.0));
    let pi = std::f64::consts::PI;
    close(life.mean().unwrap(), -300.0 / pi.sqrt(), 1e-11, 0.0);
    close(life.variance().unwrap(), 9e4 * (1.0 - 1.0 / pi), 1e-11, 0.0);
    close(life.below_zero(), 0.75, 1e-15, 0.0);
}

#[test]
fn names_of_combinations() {
    let names = |name: &str| family(name).unwrap().parameter_names().join(" ");
    assert_eq!(names("series(weibull,lognormal)"), "first_shape first_scale second_location second_scale");
    assert_eq!(names("mixture( exponential , exponential )"), "first_scale second_scale first_share");
    assert_eq!(
        names("series(never_fails(weibull), exponential)"),
        "first_shape first_scale first_never_share second_scale"
    );
    assert_eq!(family("mixture(weibull,weibull)").unwrap().name(), "mixture(weibull, weibull)");
    for (name, slug) in [
        ("series(weibull)", "family.made_of"),
        ("mixture(weibull, weibull, weibull)", "family.made_of"),
        ("never_fails(never_fails(weibull))", "family.made_of"),
        ("never_fails()", "family.unknown"),
        ("mixture(weibull, square)", "family.unknown"),
        // Nine parameters.
        ("mixture(mixture(weibull, weibull), never_fails(weibull))", "family.made_of"),
    ] {
        assert_eq!(family(name).unwrap_err().slug(), slug, "{name}");
    }
    let f = family("never_fails(weibull)").unwrap();
    for share in [0.0, 1.0, -0.5, f64::NAN] {
        assert_eq!(f.life(&[2.0, 1000.0, share]).unwrap_err().slug(), "family.parameter");
        assert_eq!(Mixture::new(boxed(2.0, 1.0), boxed(2.0, 2.0), share).unwrap_err().slug(), "family.parameter");
    }
    // The written form of a life says what it is made of, and builds it again.
    let life = family("mixture(series(weibull, exponential), never_fails(weibull))").unwrap();
    let life = life.life(&[2.0, 900.0, 4000.0, 1.5, 300.0, 0.3, 0.9]).unwrap();
    let written = life.named().unwrap();
    assert_eq!(written.family, "mixture(series(weibull, exponential), never_fails(weibull))");
    assert_eq!(written.parameters, [2.0, 900.0, 4000.0, 1.5, 300.0, 0.3, 0.9]);
    assert_eq!(written.life().unwrap().reliability(500.0), life.reliability(500.0));
    // Shares near both ends keep their digits on the way through coordinates.
    let far = f.at(&[0.0, 7.0, 60.0]).unwrap();
    close(far.ln_failure_probability(f64::INFINITY), -60.0, 1e-14, 0.0);
}

#[test]
fn decisions_take_a_share_that_never_fails() {
    let life = || NeverFails::new(boxed(3.0, 1000.0), 0.6).unwrap();
    // Alone: the last lamp of every screen never fails, so running to failure costs nothing an hour in the long run.
    let best = unlimited_optimum(&world(life(), 1.0, 5.0)).unwrap();
    assert_eq!((best.age_hours, best.run_to_failure_cost_per_hour), (None, Some(0.0)));
    // Beside wear the world has a mean, and the curve agrees with the series life.
    let mut w = world(life(), 1.0, 5.0);
    w.causes.extend(world(Weibull { shape: 4.0, scale: 1500.0 }, 1.0, 5.0).causes);
    let curve = WorldCurve::new(&w).unwrap();
    let both = Series::new(Box::new(life()), boxed(4.0, 1500.0));
    for age in [200.0, 900.0, f64::INFINITY] {
        close(curve.up_to(age).unwrap().exposure_hours, both.mean_to(age).unwrap(), 1e-9, 0.0);
    }
    // Two such causes: exposed for ever, and the shares of what ends a life still add up.
    let mut w = world(life(), 1.0, 5.0);
    w.causes.extend(world(NeverFails::new(boxed(2.0, 700.0), 0.5).unwrap(), 1.0, 5.0).causes);
    let forever = WorldCurve::new(&w).unwrap().up_to(f64::INFINITY).unwrap();
    assert_eq!((forever.exposure_hours, forever.reliability), (f64::INFINITY, 0.3));
    close(forever.incidence.iter().sum::<f64>(), 0.7, 1e-9, 0.0);
    // Demand: 40 % of screens need a lamp in the end, and again while their lamps fail.
    let sockets = [SocketToday { age_hours: Some(0.0), hours_per_week: 168.0 }];
    let w = world(life(), 1.0, 5.0);
    let ahead = forecast(&sockets, &w, 1e9, &limit(1e9), Horizon::days(800.0)).unwrap();
    // After 19,200 h nearly every screen has found its last lamp: 0.4 / 0.6 changes on the mean.
    close(ahead.periods[0].needed.mean(), 0.4 / 0.6, 1e-3, 0.0);
}

#[test]
fn hazards_in_pieces_add_up_in_series() {
    let pieces = |cuts: &[f64], hazards: &[f64]| PiecewiseConstant::new(cuts, hazards).unwrap();
    let (a, b) = (pieces(&[500.0], &[1e-3, 2e-3]), pieces(&[300.0], &[4e-4, 5e-3]));
    let sum = pieces(&[300.0, 500.0], &[1.4e-3, 6e-3, 7e-3]);
    same(&Series::new(Box::new(a), Box::new(b)), &sum, 1e-11);
}

#[test]
fn a_failure_free_time_keeps_its_end_inside_other_lives() {
    for (name, place) in [
        ("series(exponential, weibull_failure_free)", 3),
        ("mixture(weibull_failure_free, weibull)", 2),
        ("never_fails(weibull_failure_free)", 2),
    ] {
        let made = family(name).unwrap();
        for i in 0..made.parameter_names().len() {
            let end = if i == place { 0.0 } else { f64::NEG_INFINITY };
            assert_eq!(made.floor(i).to_bits(), end.to_bits(), "{name} {i}");
        }
    }
}
