//! Where a likelihood is highest only in a limit of its family, or on a narrower family within it: closed forms of the
//! limits stand beside what the library says.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Weibull, family};
use relamp::fit::{Fit, FitOptions, Identified, fit, likelihood_ratio_bootstrap};
use relamp::lives::{Rows, Tally};

const INF: f64 = f64::INFINITY;

fn fitted(name: &str, tally: &Tally) -> relamp::Result<Fit> {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new())
}

/// Failures, and lamps still good at one age.
fn watched(failed: &[f64], good: (f64, u64)) -> Tally {
    let low: Vec<f64> = failed.iter().copied().chain([good.0]).collect();
    let high: Vec<f64> = failed.iter().copied().chain([INF]).collect();
    let count: Vec<u64> = failed.iter().map(|_| 1).chain([good.1]).collect();
    Tally::from_rows(&Rows { low, high, count: Some(count), ..Rows::default() }).unwrap().0
}

/// Failures that show only because they came within `upper` hours.
fn claims(ages: &[f64], upper: f64) -> Tally {
    let rows =
        Rows { low: ages.to_vec(), high: ages.to_vec(), upper: Some(vec![upper; ages.len()]), ..Rows::default() };
    Tally::from_rows(&rows).unwrap().0
}

/// Invented lamps that fail by a power of age: no generalised gamma of finite shape is best.
const EARLY: [f64; 5] = [310.0, 402.0, 480.0, 505.0, 550.0];
const WIDE: [f64; 12] = [104.9, 219.9, 228.5, 430.6, 530.4, 880.7, 1070.5, 1241.9, 1480.1, 1549.4, 1633.6, 1661.8];

/// Highest log-likelihood of R = (t / first)^-power from the first failure on, to which a generalised gamma life leads as
/// its shape falls below 0: power = failures over the sum of ln(t / first).
fn falling_power(failed: &[f64], good: (f64, u64)) -> f64 {
    let n = failed.len() as f64;
    let first = failed.iter().copied().fold(INF, f64::min);
    let sum: f64 = failed.iter().map(|t| (t / first).ln()).sum::<f64>() + good.1 as f64 * (good.0 / first).ln();
    let power = n / sum;
    n * power.ln() - failed.iter().map(|t| t.ln()).sum::<f64>() - power * sum
}

/// Highest log-likelihood of F = (t / last)^power, to which it leads as its shape grows: the share failed by the age of the
/// good lamps is that of the records, power = failures over the sum of ln(age / t).
fn rising_power(failed: &[f64], good: (f64, u64)) -> f64 {
    let (n, left) = (failed.len() as f64, good.1 as f64);
    let sum: f64 = failed.iter().map(|t| (good.0 / t).ln()).sum();
    let (power, share) = (n / sum, n / (n + left));
    let logs: f64 = failed.iter().map(|t| t.ln()).sum();
    n * (share * power).ln() - logs - power * sum + left * (1.0 - share).ln()
}

/// The figure behind "rises to" in a refusal.
fn risen(error: &relamp::Error) -> f64 {
    let text = error.to_string();
    let after = text.split("rises to ").nth(1).unwrap_or_else(|| panic!("{text}"));
    after.split_whitespace().next().unwrap().parse().unwrap()
}

#[test]
fn a_generalised_gamma_that_is_best_at_no_shape_is_refused_with_its_limit() {
    for (data, want, way) in [
        ((&EARLY[..], (600.0, 60)), falling_power(&EARLY, (600.0, 60)), "below 0 without bound"),
        ((&WIDE[..], (1787.8, 48)), rising_power(&WIDE, (1787.8, 48)), "grows without bound"),
    ] {
        let tally = watched(data.0, data.1);
        let error = fitted("generalised_gamma", &tally).unwrap_err();
        assert_eq!(error.slug(), "fit.not_identified", "{error}");
        assert!(error.to_string().contains(way), "{error}");
        assert!((risen(&error) - want).abs() < 2e-3, "{error}: {want}");
        // The limit lies above every family within, which the hint names.
        let weibull = fitted("weibull", &tally).unwrap();
        assert!(want > weibull.log_likelihood());
        assert!(error.hint().unwrap().contains("Weibull"), "{error}");
    }
    // Worked by hand elsewhere: -46.00807 and -119.88542.
    assert!((falling_power(&EARLY, (600.0, 60)) + 46.008_07).abs() < 1e-5);
    assert!((rising_power(&WIDE, (1787.8, 48)) + 119.885_42).abs() < 1e-5);
}

#[test]
fn no_generalised_gamma_lies_below_a_family_within_it() {
    let (mut given, mut refused) = (0, 0);
    for run in 0..24 {
        let stream = &mut Stream::new(20_261_126, "test", "limits", run);
        let life = Weibull { shape: 0.8 + 0.1 * run as f64, scale: 1500.0 };
        let mut ages = life.draws(15, stream).unwrap();
        ages.sort_by(f64::total_cmp);
        let (failed, left) = ages.split_at(12);
        let tally = watched(failed, (left[0], 3));
        let wide = match fitted("generalised_gamma", &tally) {
            Ok(wide) => wide,
            Err(error) => {
                assert_eq!(error.slug(), "fit.not_identified");
                let most = falling_power(failed, (left[0], 3)).max(rising_power(failed, (left[0], 3)));
                assert!((risen(&error) - most).abs() < 0.01, "{run}: {error} {most}");
                refused += 1;
                continue;
            }
        };
        given += 1;
        for narrow in ["weibull", "lognormal", "gamma"] {
            let narrow = fitted(narrow, &tally).unwrap();
            assert!(wide.log_likelihood() > narrow.log_likelihood() - 1e-6, "{run}: {wide} {narrow}");
        }
        let most = falling_power(failed, (left[0], 3)).max(rising_power(failed, (left[0], 3)));
        assert!(wide.log_likelihood() > most - 2e-3, "{run}: {wide} {most}");
        for name in ["location", "scale", "shape"] {
            let low = wide.mark_of(name).unwrap().profile.iter().map(|p| p.1).fold(INF, f64::min);
            assert!(low > -1e-6, "{run}: {name} {low}");
        }
    }
    assert!(given > 8 && refused > 1, "{given} {refused}");
}

#[test]
fn a_wide_family_without_a_maximum_counts_by_its_supremum() {
    // Twelve lamps of which none fails before 1,100 h. By hand, with no hazard before 1,000 h: 24 ln(19800 / 7800).
    let ages: Vec<f64> = (11..=22).map(|i| 100.0 * f64::from(i)).collect();
    let tally = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap().0;
    let (even, pieces) = (family("exponential").unwrap(), family("piecewise_constant(1000)").unwrap());
    let got = likelihood_ratio_bootstrap(even, pieces, &tally, None, 99, 1, &Run::new()).unwrap();
    assert!((got.statistic - 24.0 * (19_800.0_f64 / 7_800.0).ln()).abs() < 1e-6, "{got:?}");
    assert!(got.p_value <= 0.02, "{got:?}");
    // The generalised gamma counts in its limit.
    let tally = watched(&WIDE, (1787.8, 48));
    let (narrow, wide) = (family("weibull").unwrap(), family("generalised_gamma").unwrap());
    let got = likelihood_ratio_bootstrap(narrow, wide, &tally, None, 99, 1, &Run::new()).unwrap();
    let want = 2.0 * (rising_power(&WIDE, (1787.8, 48)) - fitted("weibull", &tally).unwrap().log_likelihood());
    assert!((got.statistic - want).abs() < 4e-3 && want > 0.0, "{got:?} {want}");
    // Without a bound there is no statistic: the likelihood rises to the first failure.
    let tally = watched(&[50.0, 60.0, 90.0, 200.0, 500.0, 900.0], (1000.0, 1));
    let free = family("weibull_failure_free").unwrap();
    let error = likelihood_ratio_bootstrap(narrow, free, &tally, None, 99, 1, &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "fit.no_interior_maximum");
    // A family that does not hold the narrow one is not tested against it.
    let wear = watched(&[900.0, 950.0, 1000.0, 1020.0, 1050.0, 1080.0], (1100.0, 1));
    let error = likelihood_ratio_bootstrap(
        narrow,
        family("never_fails(exponential)").unwrap(),
        &wear,
        None,
        99,
        1,
        &Run::new(),
    );
    assert!(error.is_err());
    let pieces = family("piecewise_constant(500, 600)").unwrap();
    let error = likelihood_ratio_bootstrap(narrow, pieces, &wear, None, 99, 1, &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "fit.below_narrow");
}

#[test]
fn claims_are_always_given_their_course_within_the_window() {
    let (mut limits, mut settled) = (0, 0);
    for run in 0..40 {
        let stream = &mut Stream::new(20_261_126, "test", "claims", run);
        let all = Weibull { shape: 2.5, scale: 3000.0 }.draws(4000, stream).unwrap();
        let ages: Vec<f64> = all.into_iter().filter(|t| *t < 1000.0).collect();
        let tally = claims(&ages, 1000.0);
        let found = fitted("weibull", &tally).unwrap();
        let window = found.within_window(1000.0, &[500.0], 0.95).unwrap();
        let half = &window.shares[0];
        if found.notes().iter().any(|n| n.slug == "fit.at_limit") {
            limits += 1;
            // The limit in closed form: F(t) / F(u) = (t / u)^shape, shape = failures over the sum of ln(u / t).
            let shape = ages.len() as f64 / ages.iter().map(|t| (1000.0 / t).ln()).sum::<f64>();
            let top = ages.iter().map(|t| (shape / t).ln() + shape * (t / 1000.0).ln()).sum::<f64>();
            assert!((found.parameter("shape").unwrap() / shape - 1.0).abs() < 1e-4, "{found} {shape}");
            assert!((half.share - 0.5_f64.powf(shape)).abs() < 1e-4, "{half:?} {shape}");
            assert!((found.log_likelihood() - top).abs() < 2e-4, "{found} {top}");
            assert!(half.low.unwrap() < half.share && half.share < half.high.unwrap());
            assert_eq!((found.parameter("scale"), found.mark_of("scale").unwrap().identified), (None, Identified::No));
            // In the limit the shape has the information n / shape^2 and more room below it, where scales come back.
            let mark = found.mark_of("shape").unwrap();
            let error = shape / (ages.len() as f64).sqrt();
            assert!(mark.low.unwrap() < shape && mark.low.unwrap() > shape - 3.0 * error, "{found}");
            assert!(mark.high.unwrap() > shape && mark.high.unwrap() < shape + 12.0 * error, "{found}");
        } else {
            settled += 1;
        }
    }
    assert!(limits > 8 && settled > 8, "{limits} {settled}");
}

#[test]
fn other_families_give_claims_their_course_too() {
    let stream = &mut Stream::new(20_261_126, "test", "claims", 3);
    let all = Weibull { shape: 2.5, scale: 3000.0 }.draws(4000, stream).unwrap();
    let ages: Vec<f64> = all.into_iter().filter(|t| *t < 1000.0).collect();
    let tally = claims(&ages, 1000.0);
    let by = |t: f64| ages.iter().filter(|a| **a <= t).count() as f64 / ages.len() as f64;
    for name in
        ["exponential", "lognormal", "log_logistic", "gamma", "gompertz", "inverse_gaussian", "birnbaum_saunders"]
    {
        let found = fitted(name, &tally).unwrap_or_else(|error| panic!("{name}: {error}"));
        let window = found.within_window(1000.0, &[500.0, 800.0], 0.95).unwrap();
        if name != "exponential" {
            for share in &window.shares {
                assert!((share.share - by(share.age)).abs() < 0.08, "{name}: {share:?} {}", by(share.age));
            }
        }
    }
}

#[test]
fn refusals_say_what_the_rows_show_and_which_families_fit() {
    // One windowed row among others: right-censored lamps are there, so nothing is said of failures only.
    let low = vec![300.0, 500.0, 800.0, 1000.0, 1000.0];
    let high = vec![300.0, 500.0, 800.0, INF, INF];
    let upper = Some(vec![1000.0, INF, INF, INF, INF]);
    let (mixed, _) = Tally::from_rows(&Rows { low, high, upper, ..Rows::default() }).unwrap();
    let error = fitted("series(weibull, exponential)", &mixed).unwrap_err();
    assert!(!format!("{error} {:?}", error.hint()).contains("failure within its window"), "{error}");
    assert!(fitted("weibull", &mixed).unwrap().notes().iter().all(|n| n.slug != "fit.claims_only"));
    // Early failures: no Gompertz life has a falling hazard. The edge is named, and the Weibull life stands first.
    let stream = &mut Stream::new(20_261_126, "test", "early", 0);
    let mut ages = Weibull { shape: 0.5, scale: 1000.0 }.draws(48, stream).unwrap();
    ages.sort_by(f64::total_cmp);
    let early = watched(&ages, (ages[47], 12));
    let error = fitted("gompertz", &early).unwrap_err();
    assert!(error.to_string().contains("shape"), "{error}");
    let hint = error.hint().unwrap();
    assert!(hint.starts_with("families that do fit") && hint.contains("Weibull"), "{hint}");
    // A figure of any size stays readable.
    let far =
        Tally::from_rows(&Rows { low: vec![1e-300, 1e300], high: vec![1e-300, 1e300], ..Rows::default() }).unwrap().0;
    let said = fitted("weibull", &far).map_or_else(|e| format!("{e} {:?}", e.hint()), |f| f.to_string());
    assert!(said.len() < 1200 && !said.contains("00000000000000000000"), "{said}");
}

/// The figure c of a limit in a refusal.
fn figure(error: &relamp::Error) -> f64 {
    let text = error.to_string();
    let after = text.split("with c = ").nth(1).unwrap_or_else(|| panic!("{text}"));
    after.split(" h,").next().unwrap().replace(',', "").parse().unwrap()
}

/// The figure at which a log-likelihood of one figure is highest, on a fine grid of its logarithm.
fn best(ln_likelihood: impl Fn(f64) -> f64) -> f64 {
    let grid = (0..200_000).map(|i| (1e-4 * f64::from(i) - 5.0).exp());
    grid.max_by(|a, b| ln_likelihood(*a).total_cmp(&ln_likelihood(*b))).unwrap()
}

#[test]
fn lives_that_run_to_a_limit_say_which() {
    use relamp::base::math::special::ln_normal_cdf;
    // Invented lamps that fail early or hardly at all.
    let (ages, good) = ([40.0, 60.0, 80.0, 100.0, 130.0, 170.0, 230.0, 320.0, 450.0, 700.0], 1000.0);
    let early = watched(&ages, (good, 30));
    // F(t) = Phi(-sqrt(c / t)), twice that for a drift of 0: ln f = ln c / 2 - 3 ln t / 2 - c / (2 t) and a constant.
    let failed = |c: f64| ages.iter().map(|t| 0.5 * c.ln() - 0.5 * c / t).sum::<f64>();
    let half = |c: f64| ln_normal_cdf(-(c / good).sqrt()).exp();
    for (name, way, times) in
        [("inverse_gaussian", "2 Phi", 2.0), ("birnbaum_saunders", "half of the lamps never", 1.0)]
    {
        let error = fitted(name, &early).unwrap_err();
        assert!(error.to_string().contains(way), "{error}");
        let want = best(|c| failed(c) + 30.0 * (-times * half(c)).ln_1p());
        assert!((figure(&error) / want - 1.0).abs() < 0.01, "{error}: {want}");
        assert!(error.hint().unwrap().contains("Weibull"), "{error}");
    }
}

#[test]
fn a_maximum_before_a_pole_keeps_its_published_error() {
    // NIST/SEMATECH e-Handbook 8.4.1.3 with a failure-free time: scale 598.7646, standard error 157.7296, from
    // `tests/data/fit_references.json`. Every profile of it runs up to the first failure, where there is no bound.
    let tally = watched(&[54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0], (500.0, 10));
    let found = fitted("weibull_failure_free", &tally).unwrap();
    assert!((found.parameter("scale").unwrap() / 598.764_570_451 - 1.0).abs() < 1e-6, "{found}");
    assert!((found.standard_error("scale").unwrap() / 157.729_621 - 1.0).abs() < 1e-4, "{found}");
    let mark = found.mark_of("scale").unwrap();
    let reach: f64 = 1.959_963_985 * 157.729_621 / 598.764_570_451;
    assert_eq!(mark.identified, Identified::Weakly, "{mark:?}");
    assert!((mark.low.unwrap() / (598.764_570_451 * (-reach).exp()) - 1.0).abs() < 1e-4, "{mark:?}");
    assert!((mark.high.unwrap() / (598.764_570_451 * reach.exp()) - 1.0).abs() < 1e-4, "{mark:?}");
    assert!(mark.profile.iter().all(|p| p.1 >= 0.0), "{mark:?}");
}

#[test]
fn a_highest_point_is_given_however_wide_its_spread() {
    // Three lamps that came in an hour before they failed: scipy 1.17.1 (minimize, Nelder-Mead) has the same maximum, though a
    // standard error of ln scale is 28.
    let (low, entry) = (vec![500.0, 600.0, 700.0], Some(vec![499.0, 599.0, 699.0]));
    let late = Tally::from_rows(&Rows { high: low.clone(), low, entry, ..Rows::default() }).unwrap().0;
    let got = fitted("weibull", &late).unwrap();
    assert!((got.parameter_at_maximum("shape").unwrap() / 1.044_865 - 1.0).abs() < 1e-5, "{got}");
    assert!((got.parameter_at_maximum("scale").unwrap() / 1.371_979 - 1.0).abs() < 1e-5, "{got}");
    assert!((got.log_likelihood() + 2.999_943).abs() < 1e-6, "{got}");
    // Two lamps as far apart as numbers go: the lognormal life has its closed form, ln t = -a and a.
    let a = 300.0 * 10f64.ln();
    let apart = Tally::from_rows(&Rows { low: vec![1e-300, 1e300], high: vec![1e-300, 1e300], ..Rows::default() });
    let apart = apart.unwrap().0;
    let got = fitted("lognormal", &apart).unwrap();
    assert!((got.parameter_at_maximum("scale").unwrap() / a - 1.0).abs() < 1e-9, "{got}");
    let want = -2.0 * a.ln() - (2.0 * std::f64::consts::PI).ln() - 1.0;
    assert!((got.log_likelihood() - want).abs() < 1e-9, "{got} {want}");
    assert!(fitted("weibull", &apart).is_ok());
    // The square of the scale is no number, its standard error is: scale / sqrt(2).
    let even = fitted("exponential", &apart).unwrap();
    assert!((even.standard_error("scale").unwrap() / (5e299 / 2f64.sqrt()) - 1.0).abs() < 1e-9, "{even}");
}

#[test]
fn a_generalised_gamma_a_hair_above_its_limit_is_given() {
    // 60 invented lamps, nine good at 2,000 h. The standard error of the shape is 30, yet the maximum lies above the limit.
    let failed = [
        0.007, 0.342, 1.718, 3.108, 3.442, 5.614, 10.796, 13.439, 19.665, 23.270, 24.154, 67.855, 115.456, 116.951,
        129.156, 151.852, 160.038, 168.862, 179.788, 192.562, 217.006, 219.157, 222.801, 301.128, 302.900, 314.652,
        355.983, 358.825, 394.337, 446.957, 517.289, 517.832, 592.980, 637.451, 710.531, 766.103, 874.532, 1001.295,
        1024.634, 1152.844, 1169.546, 1321.898, 1368.839, 1496.415, 1559.652, 1614.328, 1626.376, 1666.064, 1698.792,
        1883.006, 1920.930,
    ];
    let got = fitted("generalised_gamma", &watched(&failed, (2000.0, 9))).unwrap();
    let above = got.log_likelihood() - rising_power(&failed, (2000.0, 9));
    assert!(above > 1e-4 && above < 1e-3, "{above} {got}");
    assert!((got.parameter_at_maximum("shape").unwrap() - 5.6).abs() < 0.1, "{got}");
}
