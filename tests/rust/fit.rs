//! Fits against published data, hard cases, and properties that hold for every sample.

use relamp::base::random::Stream;
use relamp::family::{Family, Life, Weibull, families, family};
use relamp::fit::{Fit, FitOptions, fit};
use relamp::lives::{Rows, Tally};
use relamp::{Kind, Run};
use serde_json::Value;

const INF: f64 = f64::INFINITY;

/// A tally from rows of (low, high or null, entry, count).
fn tally(rows: &[Value], factor: f64) -> Tally {
    let column =
        |k: usize, none: f64| rows.iter().map(|r| r[k].as_f64().map_or(none, |v| v * factor)).collect::<Vec<_>>();
    let rows = Rows {
        low: column(0, 0.0),
        high: column(1, INF),
        entry: Some(column(2, 0.0)),
        count: Some(rows.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

fn exact(ages: &[f64]) -> Tally {
    Tally::from_rows(&Rows { low: ages.to_vec(), high: ages.to_vec(), ..Rows::default() }).unwrap().0
}

fn plain(f: &dyn Family, tally: &Tally) -> Fit {
    fit(f, tally, &FitOptions::default(), &Run::new()).unwrap()
}

fn general() -> FitOptions {
    FitOptions { reduced: false, ..FitOptions::default() }
}

fn references() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

fn hard(id: &str) -> Value {
    let all: Value = serde_json::from_str(include_str!("../data/hard_lives.json")).unwrap();
    all["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap().clone()
}

#[track_caller]
fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance * want.abs(), "{what}: got {got}, want {want}");
}

/// Our parameter names and those of the reference file.
fn named(f: &str) -> &'static [(&'static str, &'static str)] {
    match f {
        "exponential" => &[("scale", "scale")],
        "weibull" | "log_logistic" | "gamma" => &[("shape", "shape"), ("scale", "scale")],
        "weibull_failure_free" => &[("shape", "shape"), ("scale", "scale"), ("location", "location")],
        _ => &[("location", "mu"), ("scale", "sigma")],
    }
}

#[test]
fn published_data_give_the_recomputed_maxima() {
    let (mut seen, mut quantiles) = (0, 0);
    for case in references() {
        let tally = tally(case["rows"].as_array().unwrap(), 1.0);
        for (name, want) in case["fits"].as_object().unwrap() {
            let what = format!("{} {name}", case["name"]);
            for options in [FitOptions::default(), general()] {
                let got = fit(family(name).unwrap(), &tally, &options, &Run::new()).expect(&what);
                assert!(got.converged(), "{what}: {:?}", got.stop());
                assert!(got.scaled_gradient() < 1e-9, "{what}: {}", got.scaled_gradient());
                near(got.log_likelihood(), want["loglik"].as_f64().unwrap(), 1e-9, &what);
                let width = got.parameters().len() as f64;
                near(got.aic(), 2.0 * width - 2.0 * want["loglik"].as_f64().unwrap(), 1e-9, &what);
                for (ours, theirs) in named(name) {
                    near(
                        got.parameter_at_maximum(ours).unwrap(),
                        want["params"][theirs].as_f64().unwrap(),
                        1e-6,
                        &what,
                    );
                    // Of the maximum too, settled or not.
                    let i = got.parameters().iter().position(|p| p.0 == *ours).unwrap();
                    near(got.covariance(i, i).unwrap().sqrt(), want["se"][theirs].as_f64().unwrap(), 1e-4, &what);
                }
                let life = got.life_at_maximum().unwrap();
                for (b, quantile) in want["quantiles"].as_object().unwrap() {
                    let x = b.trim_start_matches('B').parse().unwrap();
                    near(life.b_life(x).unwrap(), quantile.as_f64().unwrap(), 1e-6, &what);
                    quantiles += 1;
                }
                if let Some(mean) = want["mean"].as_f64() {
                    near(life.mean().unwrap(), mean, 1e-6, &what);
                }
                seen += 1;
            }
        }
    }
    // 130 fits by two paths, three quantiles each.
    assert_eq!((seen, quantiles), (260, 780));
}

#[test]
fn projection_lamps_have_the_mean_of_their_hours() {
    let ages: Vec<f64> = include_str!("../data/projection_lamps.csv")
        .lines()
        .skip(2)
        .map(|l| l.split(',').next().unwrap().parse().unwrap())
        .collect();
    assert_eq!(ages.len(), 31);
    let got = plain(family("exponential").unwrap(), &exact(&ages));
    near(got.parameter_at_maximum("scale").unwrap(), 17_907.0 / 31.0, 1e-14, "mean");
}

#[test]
fn hard_cases_have_the_right_answer() {
    for id in ["hc-fit-010", "hc-fit-011", "hc-fit-013", "hc-fit-017", "hc-fit-021", "hc-fit-031"] {
        let case = hard(id);
        let values = &case["expect"]["values"];
        for factor in case["unit_factors"].as_array().unwrap().iter().map(|f| f.as_f64().unwrap()) {
            let sample = tally(case["rows"].as_array().unwrap(), factor);
            for options in [FitOptions::default(), general()] {
                let got = fit(family("weibull").unwrap(), &sample, &options, &Run::new()).expect(id);
                let tolerance = case["tol"]["rel"].as_f64().unwrap_or(1e-8);
                near(got.parameter_at_maximum("shape").unwrap(), values["shape"].as_f64().unwrap(), tolerance, id);
                let scale = values["scale"].as_f64().or(values["scale_at_factor_1"].as_f64()).unwrap();
                near(got.parameter_at_maximum("scale").unwrap(), factor * scale, tolerance, id);
                if let Some(l) = values["loglik"].as_f64() {
                    near(got.log_likelihood(), l, 1e-9, id);
                }
                if let Some(l) = values["loglik_at_factor_1"].as_f64() {
                    assert!((got.log_likelihood() - (l - 6.0 * factor.ln())).abs() < 1e-7, "{id}");
                }
                if let Some(se) = values["se_shape"].as_f64() {
                    near(got.standard_error("shape").unwrap(), se, 1e-5, id);
                    near(got.standard_error("scale").unwrap(), values["se_scale"].as_f64().unwrap(), 1e-5, id);
                    near(got.covariance(0, 1).unwrap(), values["cov_shape_scale"].as_f64().unwrap(), 1e-4, id);
                }
                // Lamps without information stay in the count of the records.
                if let Some(n) = case["expect"]["n"].as_u64() {
                    assert_eq!(sample.lamps(), n, "{id}");
                }
            }
        }
    }
    let case = hard("hc-fit-028");
    let got = plain(family("exponential").unwrap(), &tally(case["rows"].as_array().unwrap(), 1.0));
    near(got.parameter_at_maximum("scale").unwrap(), 3400.0 / 3.0, 1e-12, "late entry");
    near(got.log_likelihood(), case["expect"]["values"]["loglik"].as_f64().unwrap(), 1e-12, "late entry");
}

#[test]
fn samples_without_a_maximum_are_refused_by_name() {
    for (id, slug) in [("hc-fit-003", "fit.one_failure_oldest"), ("hc-fit-005", "fit.one_age")] {
        let sample = tally(hard(id)["rows"].as_array().unwrap(), 1.0);
        for name in ["weibull", "lognormal"] {
            let error = fit(family(name).unwrap(), &sample, &FitOptions::default(), &Run::new()).unwrap_err();
            assert_eq!((error.kind(), error.slug()), (Kind::Refused, slug), "{id} {name}");
            assert!(error.hint().unwrap().contains("exponential"), "{error}");
        }
        assert!(fit(family("exponential").unwrap(), &sample, &FitOptions::default(), &Run::new()).is_ok());
    }
    let running = Rows { low: vec![500.0, 1500.0], high: vec![INF, INF], ..Rows::default() };
    let error =
        fit(family("weibull").unwrap(), &Tally::from_rows(&running).unwrap().0, &FitOptions::default(), &Run::new())
            .unwrap_err();
    assert_eq!(error.slug(), "fit.no_failures");
    // 2.9957 / 2000 h, the exact form of "2.996 / E".
    assert!(error.hint().unwrap().contains("at most 1.498 per 1,000 h (2.996 in 2,000 h)"), "{error}");
    let zero = exact(&[0.0, 5.0, 9.0]);
    let error = fit(family("weibull").unwrap(), &zero, &FitOptions::default(), &Run::new()).unwrap_err();
    assert_eq!((error.slug(), error.problems().len()), ("fit.exact_age_zero", 1));
    assert!(error.to_string().contains("interval"), "{error}");
    // Every failure could sit at one age inside (400, 500], and nobody passed it.
    let one = Rows { low: vec![300.0, 400.0, 350.0], high: vec![500.0, 600.0, INF], ..Rows::default() };
    let error =
        fit(family("lognormal").unwrap(), &Tally::from_rows(&one).unwrap().0, &FitOptions::default(), &Run::new())
            .unwrap_err();
    assert_eq!(error.slug(), "fit.one_interval");
    // Failures over hours is no even rate where ages are known to intervals, and the hint gives none.
    assert!(error.hint().unwrap().contains("exponential fit still holds;"), "{error}");
    // Where all had failed when first looked at, the exponential fit has no maximum either.
    let found_dead = Rows { low: vec![0.0, 0.0], high: vec![500.0, 600.0], ..Rows::default() };
    let found_dead = Tally::from_rows(&found_dead).unwrap().0;
    for name in ["weibull", "exponential"] {
        let error = fit(family(name).unwrap(), &found_dead, &FitOptions::default(), &Run::new()).unwrap_err();
        assert!(!error.to_string().contains("still holds"), "{error}");
    }
    // Entered late and found dead: the rate after the entry has no upper bound, and the hint does not say it has.
    let late = Rows { low: vec![200.0; 2], high: vec![500.0, 600.0], entry: Some(vec![200.0; 2]), ..Rows::default() };
    let late = Tally::from_rows(&late).unwrap().0;
    assert!(fit(family("exponential").unwrap(), &late, &FitOptions::default(), &Run::new()).is_err());
    let error = fit(family("weibull").unwrap(), &late, &FitOptions::default(), &Run::new()).unwrap_err();
    assert!(!error.hint().unwrap().contains("still holds"), "{error}");
}

#[test]
fn no_even_rate_is_made_of_the_hours_of_claims() {
    // The hours of lamps that are seen only because they failed say nothing of the others.
    let ages: Vec<f64> = vec![700.0, 800.0, 850.0, 900.0, 950.0, 980.0];
    let (mut low, mut high, mut upper) = (ages.clone(), ages, vec![1000.0; 6]);
    for (to, end) in [(&mut low, 1800.0), (&mut high, INF), (&mut upper, INF)] {
        to.push(end);
    }
    let mixed = Rows { low, high, upper: Some(upper), ..Rows::default() };
    let mixed = Tally::from_rows(&mixed).unwrap().0;
    for name in ["weibull", "exponential", "lognormal", "gamma"] {
        if let Err(error) = fit(family(name).unwrap(), &mixed, &FitOptions::default(), &Run::new()) {
            let said = format!("{error} {:?}", error.hint());
            assert!(!said.contains("per 1,000 h"), "{name}: {said}");
        }
    }
    let one = Rows { low: vec![700.0], high: vec![700.0], upper: Some(vec![1000.0]), ..Rows::default() };
    let one = Tally::from_rows(&one).unwrap().0;
    let error = fit(family("weibull").unwrap(), &one, &FitOptions::default(), &Run::new()).unwrap_err();
    assert!(!error.hint().unwrap().contains("per 1,000 h"), "{error}");
}

fn sample(n: usize, seed: u64) -> Vec<f64> {
    Weibull { shape: 2.5, scale: 1800.0 }.draws(n, &mut Stream::new(seed, "fit", "test", 0)).unwrap()
}

/// Real-valued lives, censored at planned ages, some entered late.
fn mixed(n: usize, seed: u64) -> Rows {
    let lives = sample(n, seed);
    let mut stream = Stream::new(seed, "fit", "censor", 0);
    let mut rows = Rows { entry: Some(Vec::new()), ..Rows::default() };
    for t in lives {
        let (entry, limit) = (700.0 * (stream.uniform() - 0.5).max(0.0), 900.0 + 1500.0 * stream.uniform());
        if t <= entry {
            continue;
        }
        rows.low.push(t.min(limit));
        rows.high.push(if t <= limit { t } else { INF });
        rows.entry.as_mut().unwrap().push(entry);
    }
    rows
}

#[test]
fn counts_equal_repeated_rows() {
    let mut rows = mixed(200, 3);
    let once = Rows { count: Some(vec![3; rows.low.len()]), ..rows.clone() };
    for column in [&mut rows.low, &mut rows.high, rows.entry.as_mut().unwrap()] {
        *column = column.repeat(3);
    }
    for f in families() {
        let (a, b) = (plain(f, &Tally::from_rows(&rows).unwrap().0), plain(f, &Tally::from_rows(&once).unwrap().0));
        assert_eq!(a, b);
        let weights = FitOptions::default();
        let single = Tally::from_rows(&Rows { count: None, ..once.clone() }).unwrap().0;
        let weights = FitOptions { weights: Some(vec![3.0; single.rows()]), ..weights };
        let c = fit(f, &single, &weights, &Run::new()).unwrap();
        assert_eq!(a.coordinates(), c.coordinates());
    }
}

#[test]
fn rows_without_information_change_nothing() {
    let rows = mixed(120, 29);
    let n = rows.low.len();
    let mut more = Rows { count: Some(vec![1; n]), ..rows.clone() };
    // Count 0 of each kind of row; right-censored at entry; new and not yet burned; a failure anywhere after entry.
    for (low, high, entry, count) in [
        (512.0, 512.0, 0.0, 0),
        (300.0, 900.0, 100.0, 0),
        (0.0, 400.0, 0.0, 0),
        (800.0, INF, 0.0, 0),
        (700.0, INF, 700.0, 40),
        (0.0, INF, 0.0, 25),
    ] {
        more.low.push(low);
        more.high.push(high);
        more.entry.as_mut().unwrap().push(entry);
        more.count.as_mut().unwrap().push(count);
    }
    let (a, b) = (Tally::from_rows(&rows).unwrap().0, Tally::from_rows(&more).unwrap().0);
    assert_eq!(b.lamps(), a.lamps() + 65);
    for f in families() {
        for options in [FitOptions::default(), general()] {
            let (a, b) = (fit(f, &a, &options, &Run::new()).unwrap(), fit(f, &b, &options, &Run::new()).unwrap());
            near(b.log_likelihood(), a.log_likelihood(), 1e-13, f.name());
            for ((name, x), (_, y)) in a.parameters_at_maximum().into_iter().zip(b.parameters_at_maximum()) {
                near(y, x, 1e-9, &format!("{} {name}", f.name()));
            }
            assert_eq!(b.facts().failures, a.facts().failures);
        }
    }
}

#[test]
fn the_unit_of_age_does_not_matter() {
    let rows = mixed(300, 5);
    let days = |v: &Vec<f64>| v.iter().map(|t| t / 24.0).collect::<Vec<_>>();
    let small =
        Rows { low: days(&rows.low), high: days(&rows.high), entry: rows.entry.as_ref().map(days), ..Rows::default() };
    let (a, b) = (Tally::from_rows(&rows).unwrap().0, Tally::from_rows(&small).unwrap().0);
    for f in families() {
        let (a, b) = (plain(f, &a), plain(f, &b));
        near(b.life().unwrap().b_life(10.0).unwrap() * 24.0, a.life().unwrap().b_life(10.0).unwrap(), 1e-10, f.name());
        let failures = a.facts().failures as f64;
        near(b.log_likelihood(), a.log_likelihood() + failures * 24f64.ln(), 1e-11, f.name());
    }
}

#[test]
fn the_number_of_threads_does_not_matter() {
    let sample = Tally::from_rows(&mixed(20_000, 7)).unwrap().0;
    for f in families() {
        for options in [FitOptions::default(), general()] {
            let fits: Vec<String> = [1, 2, 3]
                .into_iter()
                .map(|n| {
                    let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
                    let got = pool.install(|| fit(f, &sample, &options, &Run::new())).unwrap();
                    serde_json::to_string(&got).unwrap()
                })
                .collect();
            assert_eq!(fits[0], fits[1], "{}", f.name());
            assert_eq!(fits[0], fits[2], "{}", f.name());
        }
    }
}

#[test]
fn the_closed_reduction_equals_the_general_path() {
    for seed in 0..5 {
        let sample = Tally::from_rows(&mixed(3000, seed)).unwrap().0;
        for name in ["weibull", "exponential"] {
            let f = family(name).unwrap();
            let fast = plain(f, &sample);
            let slow = fit(f, &sample, &general(), &Run::new()).unwrap();
            for (a, b) in fast.parameters_at_maximum().iter().zip(slow.parameters_at_maximum()) {
                near(a.1, b.1, 1e-11, name);
            }
            near(fast.log_likelihood(), slow.log_likelihood(), 1e-13, name);
            for (i, j) in [(0, 0), (1, 0), (1, 1)].into_iter().take(if f.width() == 1 { 1 } else { 3 }) {
                near(fast.coordinate_covariance(i, j).unwrap(), slow.coordinate_covariance(i, j).unwrap(), 1e-10, name);
            }
        }
    }
}

#[test]
fn narrow_intervals_tend_to_exact_failures() {
    let ages = sample(150, 11);
    let narrow = Rows {
        low: ages.iter().map(|t| t - 1e-4).collect(),
        high: ages.iter().map(|t| t + 1e-4).collect(),
        ..Rows::default()
    };
    for f in families() {
        let a = plain(f, &exact(&ages));
        let b = plain(f, &Tally::from_rows(&narrow).unwrap().0);
        for (x, y) in a.parameters_at_maximum().iter().zip(b.parameters_at_maximum()) {
            near(y.1, x.1, 1e-7, f.name());
        }
    }
}

#[test]
fn a_window_that_hides_late_failures_is_undone() {
    // Claims end at 1,500 h: failures past it are never seen. Without the window the lives look far too short.
    let ages: Vec<f64> = sample(40_000, 13).into_iter().filter(|t| *t <= 1500.0).collect();
    let n = ages.len();
    let seen = Rows { low: ages.clone(), high: ages.clone(), upper: Some(vec![1500.0; n]), ..Rows::default() };
    let f = family("weibull").unwrap();
    let aware = plain(f, &Tally::from_rows(&seen).unwrap().0);
    let naive = plain(f, &exact(&ages));
    for (name, truth) in [("shape", 2.5), ("scale", 1800.0)] {
        let error = aware.standard_error(name).unwrap();
        assert!((aware.parameter(name).unwrap() - truth).abs() < 4.0 * error, "{name} {aware}");
    }
    assert!(naive.parameter("scale").unwrap() < 1300.0);
}

#[test]
fn few_failures_are_said() {
    let slugs = |n: usize| -> Vec<String> {
        plain(family("weibull").unwrap(), &exact(&sample(n, 17))).notes().iter().map(|n| n.slug.clone()).collect()
    };
    assert_eq!(slugs(3), ["fit.interval_only"]);
    assert_eq!(slugs(7), ["fit.weak"]);
    assert!(slugs(12).is_empty());
}

#[test]
fn a_fit_saves_and_loads_to_equal_bits() {
    let fit = plain(family("weibull").unwrap(), &exact(&sample(30, 19)));
    let text = serde_json::to_string(&fit).unwrap();
    assert_eq!(serde_json::from_str::<Fit>(&text).unwrap(), fit);
    assert!(serde_json::from_str::<Fit>(&text.replacen('{', "{\"extra\":1,", 1)).is_err());
}

#[test]
fn a_stop_is_obeyed() {
    let run = Run::new();
    run.stop();
    let error = fit(family("lognormal").unwrap(), &exact(&sample(30, 19)), &FitOptions::default(), &run).unwrap_err();
    assert_eq!(error.kind(), Kind::Stopped);
}

/// A million rows would be slow here; 70,000 fill enough blocks to be shared out and a thinned start to be taken.
#[test]
fn a_large_fit_has_the_same_bytes_for_any_number_of_threads_and_equals_the_general_path() {
    let mut rows = Rows::default();
    let mut stream = Stream::new(5, "test", "fit", 0);
    for i in 0..70_000 {
        let t = 1500.0 * stream.exponential().powf(0.4);
        let limit = 900.0 + 900.0 * stream.uniform();
        rows.low.push(t.min(limit));
        rows.high.push(if t < limit { t } else { f64::INFINITY });
        rows.entry.get_or_insert_default().push(if i % 7 == 0 { 0.25 * t.min(limit) } else { 0.0 });
    }
    let (tally, _) = Tally::from_rows(&rows).unwrap();
    let on = |threads: usize, reduced: bool| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let options = FitOptions { reduced, ..FitOptions::default() };
        pool.install(|| fit(family("weibull").unwrap(), &tally, &options, &Run::new()).unwrap())
    };
    let (one, slow) = (on(1, true), on(2, false));
    for threads in [2, 3] {
        assert_eq!(on(threads, true), one, "{threads} threads");
    }
    near(one.log_likelihood(), slow.log_likelihood(), 1e-12, "log-likelihood");
    for name in ["shape", "scale"] {
        near(one.parameter(name).unwrap(), slow.parameter(name).unwrap(), 1e-9, name);
    }
    // Late entry and a limit that says nothing of the life leave the truth within five standard errors.
    near(one.parameter("shape").unwrap(), 2.5, 0.03, "shape");
}

#[test]
fn a_window_too_short_for_an_even_rate_leaves_its_limit() {
    // Failures seen only up to 2,200 h whose mean lies past the middle of the window: the likelihood of an even rate,
    // cut at the window, rises as the rate falls to 0, where failures lie evenly in the window: ln L = -10 ln 2200.
    let ages = vec![900.0, 1200.0, 1500.0, 1700.0, 1800.0, 2000.0, 2100.0, 1400.0, 1600.0, 1950.0];
    let upper = Some(vec![2200.0; ages.len()]);
    let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, upper, ..Rows::default() }).unwrap();
    let limit = fit(family("exponential").unwrap(), &tally, &FitOptions::default(), &Run::new()).unwrap();
    assert_eq!(limit.parameter("scale"), None);
    near(limit.log_likelihood(), -10.0 * 2200.0_f64.ln(), 1e-6, "log-likelihood");
    let window = limit.within_window(2200.0, &[550.0], 0.95).unwrap();
    near(window.shares[0].share, 0.25, 1e-6, "share");
    // Nothing is left to move, which is no certainty.
    assert_eq!((window.shares[0].low, window.shares[0].high), (None, None));
    assert!(window.notes.iter().any(|n| n.slug == "fit.at_limit"), "{window:?}");
}
