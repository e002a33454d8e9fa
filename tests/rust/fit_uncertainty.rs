//! Intervals, bootstrap, causes and the check of the family.

use std::collections::BTreeMap;

use relamp::Run;
use relamp::base::random::Stream;
use relamp::base::saved::{Format, load, save};
use relamp::family::{Family, Life, Lognormal, Weibull, family};
use relamp::fit::{
    Bootstrap, CauseDraws, CauseFits, CauseOptions, Draws, Fit, FitOptions, IntervalMethod, Quantity, Sides, bootstrap,
    fit, fit_causes,
};
use relamp::lives::{Group, Rows, Tally};
use relamp::records::Ending;
use relamp::terms::Costs;
use serde_json::Value;

const INF: f64 = f64::INFINITY;

fn tally(rows: &Rows) -> Tally {
    Tally::from_rows(rows).unwrap().0
}

fn exact(ages: &[f64]) -> Tally {
    tally(&Rows { low: ages.to_vec(), high: ages.to_vec(), ..Rows::default() })
}

fn weibull() -> &'static dyn Family {
    family("weibull").unwrap()
}

fn plain(f: &dyn Family, tally: &Tally) -> Fit {
    fit(f, tally, &FitOptions::default(), &Run::new()).unwrap()
}

fn references() -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    all["cases"].as_array().unwrap().clone()
}

fn reference_tally(case: &Value) -> Tally {
    let rows = case["rows"].as_array().unwrap();
    let column = |k: usize, none: f64| rows.iter().map(|r| r[k].as_f64().unwrap_or(none)).collect::<Vec<_>>();
    tally(&Rows {
        low: column(0, 0.0),
        high: column(1, INF),
        entry: Some(column(2, 0.0)),
        count: Some(rows.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    })
}

/// Lives from a Weibull, changed at `limit` if they last.
fn limited(n: usize, seed: u64, limit: f64) -> Rows {
    let lives = Weibull { shape: 2.5, scale: 1800.0 }.draws(n, &mut Stream::new(seed, "fit", "test", 0)).unwrap();
    Rows {
        low: lives.iter().map(|t| t.min(limit)).collect(),
        high: lives.iter().map(|t| if *t <= limit { *t } else { INF }).collect(),
        ..Rows::default()
    }
}

#[test]
fn profile_intervals_agree_with_published_data() {
    let (mut seen, mut printed_seen) = (0, 0);
    for case in references() {
        let data = reference_tally(&case);
        for (name, answer) in case["fits"].as_object().unwrap() {
            for (key, ends) in answer["profile95"].as_object().unwrap() {
                let quantity = match (key.as_str(), name.as_str()) {
                    ("shape" | "sigma", "weibull") => Quantity::Parameter("shape".into()),
                    ("sigma", "lognormal") => Quantity::Parameter("scale".into()),
                    ("B10", _) => Quantity::BLife(10.0),
                    _ => panic!("{name} {key}"),
                };
                // Sigma of the log life is one over the Weibull shape, so its ends change places.
                let inverse = (key.as_str(), name.as_str()) == ("sigma", "weibull");
                let what = format!("{} {name} {key}", case["name"]);
                let f = family(name).unwrap();
                for reduced in [true, false] {
                    let options = FitOptions { reduced, ..FitOptions::default() };
                    let got = fit(f, &data, &options, &Run::new()).unwrap();
                    let interval =
                        got.profile(&data, &options, &quantity, 0.95, Sides::Both, &Run::new()).expect(&what);
                    let (low, high) = (interval.low.expect(&what), interval.high.expect(&what));
                    let got = if inverse { [high.recip(), low.recip()] } else { [low, high] };
                    for (k, (end, want)) in got.into_iter().zip(ends.as_array().unwrap()).enumerate() {
                        let want = want.as_f64().unwrap();
                        assert!((end / want - 1.0).abs() < 1e-6, "{what}: {end} {want}");
                        let path = format!("profile95/{key}/{k}");
                        let printed = answer["published"].as_array().into_iter().flatten();
                        for p in printed.filter(|p| p["what"] == path.as_str()) {
                            let (value, half_digit) = (p["value"].as_f64().unwrap(), p["tolerance"].as_f64().unwrap());
                            let agrees = p["agrees"].as_bool().unwrap();
                            assert_eq!((end - value).abs() <= half_digit, agrees, "{what}: {end} printed {value}");
                            printed_seen += 1;
                        }
                    }
                    assert_eq!((interval.method, interval.level), (IntervalMethod::ProfileLikelihood, 0.95));
                }
                seen += 1;
            }
        }
    }
    // Shape, sigma and B10 of 32 Weibull fits, sigma and B10 of 21 lognormal ones; two printed ends, each by two paths.
    assert_eq!((seen, printed_seen), (138, 4));
}

#[test]
fn exponential_intervals_in_closed_form() {
    // Wald on ln mean: mean x exp(-+1.96 / sqrt(d)). Profile: d (ln(m / mean) + mean / m - 1) = 1.9207 at both ends.
    let data = exact(&[100.0, 300.0, 500.0, 700.0, 900.0, 1100.0, 1300.0, 1500.0, 1700.0, 1900.0]);
    let f = family("exponential").unwrap();
    let got = plain(f, &data);
    let quantity = Quantity::Parameter("scale".into());
    let wald = got.wald(&quantity, 0.95, Sides::Both).unwrap();
    let half = 1.959_963_984_540_054 / 10f64.sqrt();
    assert!((wald.low.unwrap() / (1000.0 * (-half).exp()) - 1.0).abs() < 1e-12);
    assert!((wald.high.unwrap() / (1000.0 * half.exp()) - 1.0).abs() < 1e-12);
    let profile = got.profile(&data, &FitOptions::default(), &quantity, 0.95, Sides::Both, &Run::new()).unwrap();
    for end in [profile.low.unwrap(), profile.high.unwrap()] {
        let fall = 10.0 * ((end / 1000.0).ln() + 1000.0 / end - 1.0);
        assert!((fall - 0.5 * 3.841_458_820_694_124).abs() < 1e-8, "{end} {fall}");
    }
    let one = got.wald(&quantity, 0.975, Sides::Lower).unwrap();
    assert_eq!(one.high, None);
    assert!((one.low.unwrap() / wald.low.unwrap() - 1.0).abs() < 1e-12);
    // Reliability falls as the hazard rises: ends in order, and the profile ends belong to the ends of the mean.
    let r = got.profile(&data, &FitOptions::default(), &Quantity::Reliability(500.0), 0.95, Sides::Both, &Run::new());
    let r = r.unwrap();
    assert!(r.low.unwrap() < r.estimate.unwrap() && r.estimate.unwrap() < r.high.unwrap());
    assert!((r.low.unwrap() - (-500.0 / profile.low.unwrap()).exp()).abs() < 1e-9);
    let w = got.wald(&Quantity::Reliability(500.0), 0.95, Sides::Both).unwrap();
    assert!((w.high.unwrap() - (-500.0 / wald.high.unwrap()).exp()).abs() < 1e-12);
}

#[test]
fn ends_that_the_records_do_not_close_are_open_and_noted() {
    // One look at each lamp: 1 of 10 failed by 500 h, 3 of 10 by 900 h. A shape near 0 gives 4 of 20 at both ages, whose
    // log-likelihood is only 0.65 lower (by hand), so the shape has no lower end at 95 %.
    let rows = Rows {
        low: vec![0.0, 500.0, 0.0, 900.0],
        high: vec![500.0, INF, 900.0, INF],
        count: Some(vec![1, 9, 3, 7]),
        ..Rows::default()
    };
    let data = tally(&rows);
    let got = plain(weibull(), &data);
    let interval = got
        .profile(&data, &FitOptions::default(), &Quantity::Parameter("shape".into()), 0.95, Sides::Both, &Run::new())
        .unwrap();
    assert!(interval.high.is_some());
    assert_eq!(interval.low, None);
    let slugs: Vec<&str> = interval.notes.iter().map(|n| n.slug.as_str()).collect();
    assert!(slugs.contains(&"fit.open_end") && slugs.contains(&"fit.interval_only"), "{slugs:?}");
}

#[test]
fn figures_past_the_oldest_lamp_are_marked() {
    let got = plain(weibull(), &tally(&limited(400, 5, 1500.0)));
    let marked =
        |q: &Quantity| got.wald(q, 0.9, Sides::Both).unwrap().notes.iter().any(|n| n.slug == "fit.extrapolated");
    assert!(marked(&Quantity::BLife(90.0)) && marked(&Quantity::Reliability(1600.0)));
    assert!(!marked(&Quantity::BLife(5.0)) && !marked(&Quantity::Reliability(1500.0)));
}

#[test]
fn other_data_and_bad_questions_are_named() {
    let data = tally(&limited(100, 5, 1500.0));
    let got = plain(weibull(), &data);
    let (options, run) = (FitOptions::default(), Run::new());
    let other = tally(&limited(100, 6, 1500.0));
    let slug = |q: &Quantity, level| got.profile(&data, &options, q, level, Sides::Both, &run).unwrap_err().slug();
    assert_eq!(slug(&Quantity::Parameter("location".into()), 0.95), "fit.parameter_unknown");
    assert_eq!(slug(&Quantity::Quantile(1.0), 0.95), "fit.share");
    assert_eq!(slug(&Quantity::Reliability(-1.0), 0.95), "fit.age");
    assert_eq!(slug(&Quantity::BLife(10.0), 95.0), "fit.level");
    let error = got.profile(&other, &options, &Quantity::BLife(10.0), 0.95, Sides::Both, &run).unwrap_err();
    assert_eq!(error.slug(), "fit.other_data");
}

#[test]
fn a_bootstrap_of_identical_lamps_is_degenerate_and_says_so() {
    // hc-boot-002: ten lamps at 1,000 h, mean of the exponential fit.
    let data = tally(&Rows { low: vec![1000.0], high: vec![1000.0], count: Some(vec![10]), ..Rows::default() });
    let f = family("exponential").unwrap();
    let boot = bootstrap(f, &data, &FitOptions::default(), 200, 1, "identical", &Run::new()).unwrap();
    let interval = boot.interval(&Quantity::Parameter("scale".into()), 0.95, Sides::Both).unwrap();
    assert!((interval.low.unwrap() - 1000.0).abs() < 1e-9 && (interval.high.unwrap() - 1000.0).abs() < 1e-9);
    assert!(interval.notes.iter().any(|n| n.slug == "fit.degenerate" && n.text.contains("alike")));
}

#[test]
fn the_bootstrap_repeats_to_the_byte_and_is_about_as_wide_as_the_curvature() {
    let data = tally(&limited(800, 9, 2000.0));
    let runs: Vec<Bootstrap> = [1, 3]
        .into_iter()
        .map(|n| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
            pool.install(|| bootstrap(weibull(), &data, &FitOptions::default(), 400, 4, "a", &Run::new())).unwrap()
        })
        .collect();
    assert_eq!(serde_json::to_string(&runs[0]).unwrap(), serde_json::to_string(&runs[1]).unwrap());
    assert!(runs[0].unsettled().is_empty());
    let general = FitOptions { reduced: false, ..FitOptions::default() };
    let slow = bootstrap(weibull(), &data, &general, 20, 4, "a", &Run::new()).unwrap();
    for (a, b) in slow.coordinates().iter().zip(runs[0].coordinates()) {
        assert!(a.iter().zip(b).all(|(x, y)| (x - y).abs() < 1e-9), "{a:?} {b:?}");
    }
    for quantity in [Quantity::Parameter("shape".into()), Quantity::BLife(10.0), Quantity::Reliability(1500.0)] {
        let boot = runs[0].interval(&quantity, 0.9, Sides::Both).unwrap();
        let wald = runs[0].fit().wald(&quantity, 0.9, Sides::Both).unwrap();
        let width = |i: &relamp::fit::Interval| i.high.unwrap() - i.low.unwrap();
        assert!((width(&boot) / width(&wald) - 1.0).abs() < 0.2, "{quantity:?} {boot:?} {wald:?}");
    }
}

#[test]
fn rows_of_a_cluster_share_their_weight() {
    // Every lamp in one of two clusters: replicates know only two weights, so far fewer effective lamps.
    let rows = limited(400, 3, 2000.0);
    let group = |site: &str| Group { stratum: "a".into(), cluster: site.into(), ..Group::default() };
    let n = rows.low.len();
    let sites = Rows {
        group: Some((0..n).map(|i| (i % 2) as u32).collect()),
        groups: vec![group("Site 01"), group("Site 02")],
        ..rows.clone()
    };
    let spread = |rows: &Rows| {
        let boot = bootstrap(weibull(), &tally(rows), &FitOptions::default(), 200, 4, "a", &Run::new()).unwrap();
        boot.coordinates().to_vec()
    };
    // With two shared weights every refit lies on one curve between the two sites' own fits.
    let shared = spread(&sites);
    let alone = spread(&rows);
    let range = |x: &[Vec<f64>]| {
        let shapes = x.iter().map(|c| c[0]);
        shapes.clone().fold(f64::MIN, f64::max) - shapes.fold(f64::MAX, f64::min)
    };
    assert!(range(&shared) < range(&alone));
}

/// Two causes in series with a planned change: burst (steep), flicker (even), and a few seal failures.
fn by_cause(n: usize, seed: u64) -> Tally {
    let mut stream = Stream::new(seed, "fit", "causes", 0);
    let burst = Weibull { shape: 4.0, scale: 2600.0 };
    let flicker = Weibull { shape: 1.2, scale: 6000.0 };
    let mut rows = Rows { ending: Some(Vec::new()), ..Rows::default() };
    for i in 0..n {
        let (a, b) = (burst.draw(&mut stream).unwrap(), flicker.draw(&mut stream).unwrap());
        let mut t = a.min(b);
        let mut ending = if a < b { Ending::Burst } else { Ending::Flicker };
        if t > 2000.0 {
            (t, ending) = (2000.0, Ending::Planned);
        } else if i % 100 == 7 {
            ending = Ending::Seal;
        }
        rows.low.push(t);
        rows.high.push(if ending == Ending::Planned { INF } else { t });
        rows.ending.as_mut().unwrap().push(ending);
    }
    tally(&rows)
}

fn costs() -> Costs {
    let failures = Ending::FAILURES.into_iter().map(|e| (e, 2000.0)).collect::<BTreeMap<_, _>>();
    Costs::new(800.0, failures).unwrap()
}

#[test]
fn each_cause_gets_its_fit_the_rare_share_one_and_the_unseen_a_bound() {
    let data = by_cause(600, 1);
    let options = CauseOptions::default();
    let fits = fit_causes(&data, weibull(), &options, &Run::new()).unwrap();
    let labels: Vec<Vec<Ending>> = fits.causes().iter().map(|c| c.endings.iter().map(|e| e.0).collect()).collect();
    assert_eq!(labels, [vec![Ending::Burst], vec![Ending::Flicker], vec![Ending::Seal]]);
    // A cause's own fit is the plain fit with the other endings censored.
    let alone = FitOptions { endings: Some(vec![Ending::Burst]), ..FitOptions::default() };
    assert_eq!(fits.causes()[0].fit, fit(weibull(), &data, &alone, &Run::new()).unwrap());
    let rare = &fits.causes()[2];
    assert_eq!(rare.fit.family_name(), "exponential");
    assert!(rare.notes.iter().any(|n| n.slug == "fit.rare_rate"));
    let rate = 1.0 / rare.fit.parameter("scale").unwrap();
    let want = rare.fit.facts().failures as f64 / fits.facts().exposure_hours;
    assert!((rate / want - 1.0).abs() < 1e-12);
    let unseen: Vec<Ending> = fits.unseen().iter().map(|u| u.ending).collect();
    assert_eq!(unseen, [Ending::NoStrike, Ending::Dim]);
    let bound = fits.unseen()[0].rate_bound_95_per_hour * fits.facts().exposure_hours;
    assert!((bound - 2.996).abs() < 0.001, "{bound}");
    assert!(fits.overall().is_some());
    let text = serde_json::to_string(&fits).unwrap();
    assert_eq!(serde_json::from_str::<CauseFits>(&text).unwrap(), fits);
}

#[test]
fn draws_reweight_all_causes_together() {
    let data = by_cause(600, 1);
    let fits = fit_causes(&data, weibull(), &CauseOptions::default(), &Run::new()).unwrap();
    let draws = fits.draws(&data, costs(), 100, 7, "2.0 kW", &Run::new()).unwrap();
    assert_eq!(draws.len(), 100);
    let series = |w: &relamp::fit::World, t: f64| w.causes.iter().map(|c| c.life.ln_reliability(t)).sum::<f64>();
    let best = series(&draws.best().unwrap(), 1500.0);
    let each: Vec<f64> = (0..100).map(|i| series(&draws.world(i).unwrap(), 1500.0)).collect();
    let mean = each.iter().sum::<f64>() / 100.0;
    let sd = (each.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / 99.0).sqrt();
    // Hazard of about d failures by 1,500 h has a relative error of about 1 / sqrt(d).
    assert!((mean - best).abs() < 0.5 * sd && sd > 0.02 * best.abs() && sd < 0.2 * best.abs(), "{best} {mean} {sd}");
    for i in 0..100 {
        let world = draws.world(i).unwrap();
        for cause in world.causes {
            assert!((cause.endings.iter().map(|e| e.1).sum::<f64>() - 1.0).abs() < 1e-12);
        }
    }
    assert_eq!(draws.world(100).unwrap_err().slug(), "fit.replicate");
    let format = Format::new("draws", 1);
    assert_eq!(load::<CauseDraws>(format, &save(format, &draws).unwrap()).unwrap(), draws);
    let other = fits.draws(&by_cause(600, 2), costs(), 3, 7, "2.0 kW", &Run::new()).unwrap_err();
    assert_eq!(other.slug(), "fit.other_data");
}

#[test]
fn a_cause_whose_weibull_is_refused_falls_back_to_an_even_rate() {
    let rows = Rows {
        low: vec![900.0; 6].into_iter().chain([500.0; 20]).collect(),
        high: vec![900.0; 6].into_iter().chain([INF; 20]).collect(),
        ending: Some(vec![Ending::Burst; 6].into_iter().chain([Ending::Planned; 20]).collect()),
        ..Rows::default()
    };
    let fits = fit_causes(&tally(&rows), weibull(), &CauseOptions::default(), &Run::new()).unwrap();
    let cause = &fits.causes()[0];
    assert_eq!(cause.fit.family_name(), "exponential");
    assert!(cause.notes[0].slug == "fit.family_refused" && cause.notes[0].text.contains("fit.one_age"));
    assert!(fits.overall().is_none() && fits.notes()[0].slug == "fit.overall_refused");
}

#[test]
fn no_failures_at_all_are_refused_with_the_bound() {
    let rows = Rows {
        low: vec![500.0, 1500.0],
        high: vec![INF, INF],
        ending: Some(vec![Ending::Planned, Ending::Running]),
        ..Rows::default()
    };
    let error = fit_causes(&tally(&rows), weibull(), &CauseOptions::default(), &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "fit.no_failures");
}

#[test]
fn the_check_holds_its_level_and_finds_mixtures() {
    // Clean: 200 samples at level 0.01; 9 or more false alarms have probability below 3e-4 (binomial).
    let alarms = (0..200)
        .filter(|seed| {
            let data = tally(&limited(300, 100 + seed, 2000.0));
            plain(weibull(), &data).check(&data, &FitOptions::default(), *seed).unwrap().misfit
        })
        .count();
    assert!(alarms <= 8, "{alarms}");
    // Mixed: 8 % weak lamps (trade experience: Weibull 0.8 / 400 h; assumption) among good ones.
    let good = limited(3000, 77, 2000.0);
    let weak = Weibull { shape: 0.8, scale: 400.0 }.draws(240, &mut Stream::new(1, "fit", "weak", 0)).unwrap();
    let mut mixed = good.clone();
    mixed.low.extend(weak.iter().map(|t| t.min(2000.0)));
    mixed.high.extend(weak.iter().map(|t| if *t <= 2000.0 { *t } else { INF }));
    let data = tally(&mixed);
    let check = plain(weibull(), &data).check(&data, &FitOptions::default(), 1).unwrap();
    assert!(check.misfit && check.verdict.contains("does not fit"), "{check:?}");
    // The wrong family, many lamps.
    let lives = Lognormal { location: 7.2, scale: 0.5 }.draws(3000, &mut Stream::new(1, "fit", "wrong", 0)).unwrap();
    let data = exact(&lives);
    assert!(plain(weibull(), &data).check(&data, &FitOptions::default(), 1).unwrap().misfit);
    let right = plain(family("lognormal").unwrap(), &data).check(&data, &FitOptions::default(), 1).unwrap();
    assert!(!right.misfit, "{right:?}");
}

#[test]
fn the_check_finds_a_site_that_is_unlike_the_others() {
    let group = |i: u32| Group { stratum: "a".into(), cluster: format!("Site {i:02}"), ..Group::default() };
    let sites: Vec<Group> = (1..=20).map(group).collect();
    let make = |bad: bool, seed: u64| {
        let mut rows = limited(1000, seed, 2000.0);
        rows.group = Some((0..1000).map(|i| i % 20).collect());
        rows.groups.clone_from(&sites);
        if bad {
            let hot = Weibull { shape: 2.5, scale: 900.0 }.draws(50, &mut Stream::new(2, "fit", "hot", 0)).unwrap();
            for (k, t) in hot.into_iter().enumerate() {
                rows.low[20 * k] = t.min(2000.0);
                rows.high[20 * k] = if t <= 2000.0 { t } else { INF };
            }
        }
        tally(&rows)
    };
    let check = |data: &Tally| plain(weibull(), data).check(data, &FitOptions::default(), 1).unwrap();
    let bad = check(&make(true, 3));
    assert!(bad.misfit && bad.p_cluster.unwrap() < 0.001 && bad.verdict.contains("Site 01"), "{}", bad.verdict);
    let alarms = (0..40).filter(|seed| check(&make(false, 500 + seed)).misfit).count();
    assert!(alarms <= 3, "{alarms}");
}

#[test]
fn profile_intervals_cover() {
    // 400 samples of 60 lamps changed at 2,000 h: 95 % intervals miss 20 times on average; outside 6..=38 has
    // probability below 1e-4 each side (binomial), small-sample bias included.
    let truth = Weibull { shape: 2.5, scale: 1800.0 };
    let questions = [
        (Quantity::Parameter("shape".into()), truth.shape),
        (Quantity::Parameter("scale".into()), truth.scale),
        (Quantity::BLife(10.0), truth.b_life(10.0).unwrap()),
        (Quantity::Reliability(1500.0), truth.reliability(1500.0)),
    ];
    let mut missed = [0; 4];
    for seed in 0..400 {
        let data = tally(&limited(60, 10_000 + seed, 2000.0));
        let got = plain(weibull(), &data);
        for ((quantity, truth), missed) in questions.iter().zip(&mut missed) {
            let i = got.profile(&data, &FitOptions::default(), quantity, 0.95, Sides::Both, &Run::new()).unwrap();
            *missed += i32::from(i.low.is_some_and(|l| l > *truth) || i.high.is_some_and(|h| h < *truth));
        }
    }
    for missed in missed {
        assert!((6..=38).contains(&missed), "{missed}");
    }
}

#[test]
fn an_infinite_mean_is_said_to_be_infinite() {
    // Log-logistic lives of shape 1 / 1.3 have no finite mean.
    let stream = &mut Stream::new(20_261_126, "test", "heavy", 0);
    let ages: Vec<f64> = (0..60)
        .map(|_| {
            let u = stream.uniform();
            1000.0 * (u / (1.0 - u)).powf(1.3)
        })
        .collect();
    let tally = exact(&ages);
    let heavy = family("log_logistic").unwrap();
    let draws = bootstrap(heavy, &tally, &FitOptions::default(), 100, 1, "", &Run::new()).unwrap();
    let mean = draws.interval(&Quantity::Mean, 0.95, Sides::Both).unwrap();
    assert_eq!((mean.estimate.unwrap(), mean.high), (INF, None));
    assert!(mean.notes.iter().all(|n| n.slug != "fit.degenerate"), "{mean:?}");
    assert!(mean.notes.iter().any(|n| n.slug == "fit.infinite"), "{mean:?}");
    let (fit, options, run) = (draws.fit(), FitOptions::default(), Run::new());
    let asked = [
        fit.wald(&Quantity::Mean, 0.95, Sides::Both),
        fit.profile(&tally, &options, &Quantity::Mean, 0.95, Sides::Both, &run),
    ];
    for error in asked.map(Result::unwrap_err) {
        assert_eq!(error.slug(), "fit.no_spread");
        assert!(error.to_string().contains("the mean of the fitted life is infinite"), "{error}");
    }
}

#[test]
fn an_age_by_which_fewer_ever_fail_is_refused_with_the_share_that_does() {
    // Invented: 56 of 100 fail, well before the others are last seen.
    let low: Vec<f64> = (1..=56).map(|i| 20.0 * f64::from(i)).chain([20_000.0; 44]).collect();
    let high: Vec<f64> = low.iter().map(|t| if *t < 20_000.0 { *t } else { INF }).collect();
    let (tally, _) = Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap();
    let (options, run) = (FitOptions::default(), Run::new());
    let got = fit(family("never_fails(weibull)").unwrap(), &tally, &options, &run).unwrap();
    let asked = Quantity::BLife(60.0);
    let refused = [
        got.wald(&asked, 0.95, Sides::Both),
        got.profile(&tally, &options, &asked, 0.95, Sides::Both, &run),
        got.wald(&Quantity::Quantile(0.6), 0.95, Sides::Both),
    ];
    for error in refused.map(Result::unwrap_err) {
        assert_eq!(error.slug(), "fit.no_spread");
        let text = error.to_string();
        assert!(text.contains("only 56 % of lamps ever fail") && text.contains("by which 60 % have failed"), "{text}");
    }
    // The way out that the hint names holds.
    let draws = bootstrap(family("never_fails(weibull)").unwrap(), &tally, &options, 200, 1, "", &run).unwrap();
    let open = draws.interval(&asked, 0.95, Sides::Both).unwrap();
    assert!(open.low.is_some_and(|low| low > 500.0) && open.high.is_none(), "{open:?}");
}

#[test]
fn a_bootstrap_of_one_cluster_says_that_it_is_one() {
    let (low, count) = (vec![300.0, 480.0, 720.0, 900.0], Some(vec![1, 1, 1, 0]));
    let groups = ["north", "west"].map(|c| Group { cluster: c.into(), ..Group::default() }).to_vec();
    let of = |group: [u32; 4]| {
        let rows = Rows { high: low.clone(), low: low.clone(), count: count.clone(), ..Rows::default() };
        let tally = tally(&Rows { group: Some(group.to_vec()), groups: groups.clone(), ..rows });
        bootstrap(weibull(), &tally, &FitOptions::default(), 100, 1, "", &Run::new())
    };
    // A lamp that says nothing makes no second cluster.
    for one in [[0, 0, 0, 0], [0, 0, 0, 1]] {
        assert_eq!(of(one).unwrap_err().slug(), "fit.one_cluster");
    }
    let shape = Quantity::Parameter("shape".into());
    let notes = of([0, 1, 1, 0]).unwrap().interval(&shape, 0.9, Sides::Both).unwrap().notes;
    assert!(notes.iter().all(|n| n.slug != "fit.degenerate"));
}
