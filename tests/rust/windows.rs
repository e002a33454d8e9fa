//! Files of claims: rows that are seen only because they failed by an age.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::demand::{LampsAtAge, failures_ahead};
use relamp::family::{Life, Lognormal, Weibull, family};
use relamp::fit::{
    Fit, FitOptions, Function, Identified, IntervalMethod, Note, Quantity, Scale, Sides, WindowShare, bootstrap,
    family_verdict, fit,
};
use relamp::lives::{Rows, Tally};
use relamp::records::Ending;

const INF: f64 = f64::INFINITY;

fn fitted(name: &str, tally: &Tally) -> relamp::Result<Fit> {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new())
}

/// Lots of lamps of Weibull shape 1.5, each of another age on the day of the file: claims, and all lamps as they stand.
fn lots(scale: f64, lamps: usize, windows: &[f64], run: u64) -> (Tally, Tally) {
    let truth = Weibull { shape: 1.5, scale };
    let (mut claims, mut all) = (Rows { upper: Some(Vec::new()), ..Rows::default() }, Rows::default());
    for (k, upper) in windows.iter().enumerate() {
        let stream = &mut Stream::new(20_261_125, "test", "windows", 10 * run + k as u64);
        for t in truth.draws(lamps, stream).unwrap() {
            all.low.push(t.min(*upper));
            all.high.push(if t <= *upper { t } else { INF });
            if t <= *upper {
                claims.low.push(t);
                claims.high.push(t);
                claims.upper.as_mut().unwrap().push(*upper);
            }
        }
    }
    (Tally::from_rows(&claims).unwrap().0, Tally::from_rows(&all).unwrap().0)
}

#[test]
fn an_even_rate_cut_at_a_window_has_its_closed_condition() {
    // The mean of an exponential life cut at u is m - u / (exp(u / m) - 1) (Deemer & Votaw 1955, from memory): solved here
    // by halving, it must equal the mean of the claims.
    let ages = [35.0, 90.0, 120.0, 240.0, 310.0, 420.0, 640.0, 810.0];
    let (n, upper) = (ages.len(), 1000.0);
    let rows = Rows { low: ages.to_vec(), high: ages.to_vec(), upper: Some(vec![upper; n]), ..Rows::default() };
    let got = fitted("exponential", &Tally::from_rows(&rows).unwrap().0).unwrap();
    let mean = ages.iter().sum::<f64>() / n as f64;
    let (mut low, mut high) = (1.0, 1e6);
    for _ in 0..200 {
        let m = f64::midpoint(low, high);
        if m - upper / (upper / m).exp_m1() < mean { low = m } else { high = m }
    }
    assert!((got.parameter_at_maximum("scale").unwrap() / low - 1.0).abs() < 1e-8, "{got} {low}");
    let half = got.within_window(upper, &[500.0], 0.95).unwrap().shares[0].clone();
    let by_hand = (-(-500.0 / low).exp_m1()) / (-(-upper / low).exp_m1());
    assert!((half.share - by_hand).abs() < 1e-9, "{half:?} {by_hand}");
    // Delta method by hand on the scale of ln(p / (1 - p)), with numerical slopes.
    let logit = |m: f64| {
        let p = (-(-500.0 / m).exp_m1()) / (-(-upper / m).exp_m1());
        (p / (1.0 - p)).ln()
    };
    let step = 1e-4 * low;
    let error = got.covariance(0, 0).unwrap().sqrt() * (logit(low + step) - logit(low - step)).abs() / (2.0 * step);
    let end = |z: f64| 1.0 / (1.0 + (-(logit(low) + z * error)).exp());
    assert!((half.low.unwrap() - end(-1.959_963_984_540_054)).abs() < 1e-6, "{half:?} {}", end(-1.96));
    assert!((half.high.unwrap() - end(1.959_963_984_540_054)).abs() < 1e-6, "{half:?}");
}

#[test]
fn profile_ends_of_a_share_within_a_window_follow_from_those_of_the_mean() {
    // None of the published sets at hand is cut off on the right, so closed forms and simulation stand in for one. With an
    // even rate cut at u, ln L = -n ln m - sum t / m - n ln(1 - exp(-u / m)), and the share by an age falls as m rises.
    let ages = [20.0, 45.0, 70.0, 110.0, 160.0, 240.0, 330.0, 480.0];
    let (n, upper) = (ages.len(), 1000.0);
    let rows = Rows { low: ages.to_vec(), high: ages.to_vec(), upper: Some(vec![upper; n]), ..Rows::default() };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let got = fitted("exponential", &tally).unwrap();
    let ln_l = |m: f64| ages.iter().map(|t| -m.ln() - t / m - (-(-upper / m).exp_m1()).ln()).sum::<f64>();
    let best = got.parameter_at_maximum("scale").unwrap();
    assert!((ln_l(best) - got.log_likelihood()).abs() < 1e-9);
    let end = |mut outside: f64| {
        let mut inside = best;
        for _ in 0..200 {
            let m = f64::midpoint(inside, outside);
            if ln_l(m) > ln_l(best) - 1.920_729_410_347_062 { inside = m } else { outside = m }
        }
        inside
    };
    let share = |m: f64| (-(-300.0 / m).exp_m1()) / (-(-upper / m).exp_m1());
    let options = FitOptions::default();
    let window = got.within_window_profile(&tally, &options, upper, &[300.0], 0.95, &Run::new()).unwrap();
    let found = &window.shares[0];
    assert_eq!(window.method, IntervalMethod::ProfileLikelihood);
    assert!((found.low.unwrap() - share(end(1e4))).abs() < 1e-7, "{found:?} {}", share(end(1e4)));
    assert!((found.high.unwrap() - share(end(1.0))).abs() < 1e-7, "{found:?} {}", share(end(1.0)));
    let other = Tally::from_rows(&Rows { low: vec![5.0], high: vec![5.0], ..Rows::default() }).unwrap().0;
    let error = got.within_window_profile(&other, &options, upper, &[300.0], 0.95, &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "fit.other_data");
}

/// Holds ends of shares against a grid of Weibull lives, for exact claims of one window.
#[track_caller]
fn border_by_grid(claims: &Tally, floor: f64, upper: f64, shares: &[WindowShare]) {
    let mut ends = vec![[1.0_f64, 0.0_f64]; shares.len()];
    for i in 0..60 {
        for j in 0..120 {
            let (shape, scale) = (0.9 + 0.02 * f64::from(i), (6.8 + 0.1 * f64::from(j)).exp());
            let life = Weibull { shape, scale };
            let whole = life.ln_failure_probability(upper);
            let ages = claims.low().iter().zip(claims.count());
            if ages.map(|(t, n)| *n as f64 * (life.ln_density(*t) - whole)).sum::<f64>() >= floor {
                for (end, asked) in ends.iter_mut().zip(shares) {
                    let share = (life.ln_failure_probability(asked.age) - whole).exp();
                    *end = [end[0].min(share), end[1].max(share)];
                }
            }
        }
    }
    for (found, [low, high]) in shares.iter().zip(ends) {
        let (from, to) = (found.low.unwrap(), found.high.unwrap());
        assert!(low < high && from <= low + 1e-9 && high - 1e-9 <= to, "{found:?} {low} {high}");
        let slack = 0.1 * (high - low);
        assert!(low - from < slack && to - high < slack, "{found:?} {low} {high}");
    }
}

#[test]
fn a_share_within_the_window_is_bounded_where_the_scale_is_not() {
    let mut seen = 0;
    for run in 0..12 {
        let (claims, _) = lots(6000.0, 3000, &[1500.0], run);
        let Ok(found) = fitted("weibull", &claims) else { continue };
        if found.mark_of("scale").unwrap().identified != Identified::No {
            continue;
        }
        assert!(found.parameter("scale").is_none() && found.standard_error("scale").is_none());
        assert!(found.parameters().contains(&("scale", None)));
        let error = found.life().unwrap_err();
        assert_eq!((error.slug(), error.problems()[0].place.input.as_str()), ("fit.parameter_open", "scale"));
        let (options, ages) = (FitOptions::default(), [500.0, 1000.0]);
        let profile = found.within_window_profile(&claims, &options, 1500.0, &ages, 0.95, &Run::new()).unwrap();
        let wald = found.within_window(1500.0, &ages, 0.95).unwrap();
        if found.limit().is_some() {
            // In a limit the curvature leaves out the lives of a shorter scale: a grid shows how far those reach.
            border_by_grid(&claims, found.log_likelihood() - 1.920_729_410_347_062, 1500.0, &profile.shares);
            seen += 1;
            continue;
        }
        for (p, w) in profile.shares.iter().zip(&wald.shares) {
            // Hundreds of claims: both methods say nearly the same.
            assert!((p.low.unwrap() - w.low.unwrap()).abs() < 0.15 * (w.share - w.low.unwrap()), "{p:?} {w:?}");
            assert!((p.high.unwrap() - w.high.unwrap()).abs() < 0.15 * (w.high.unwrap() - w.share), "{p:?} {w:?}");
        }
        seen += 1;
    }
    assert!(seen >= 4, "{seen}");
}

#[test]
fn the_likelihood_of_windowed_rows_is_that_of_the_life_within_the_window() {
    // Every kind of row: exact, interval, left-censored, entered late; and whole lamps beside them.
    let rows = Rows {
        low: vec![210.0, 300.0, 0.0, 450.0, 500.0, 700.0, 900.0, 640.0, 480.0],
        high: vec![210.0, 420.0, 250.0, 450.0, 800.0, INF, 900.0, 640.0, 480.0],
        entry: Some(vec![0.0, 0.0, 0.0, 100.0, 200.0, 0.0, 50.0, 0.0, 0.0]),
        upper: Some(vec![1000.0, 600.0, 500.0, 700.0, 800.0, INF, 1000.0, INF, 900.0]),
        ..Rows::default()
    };
    let tally = Tally::from_rows(&rows).unwrap().0;
    for name in ["exponential", "weibull", "lognormal", "gamma", "log_logistic"] {
        let got = fitted(name, &tally).unwrap();
        let life = got.life_at_maximum().unwrap();
        let f = |t: f64| life.failure_probability(t);
        let mut want = 0.0;
        for i in 0..rows.low.len() {
            let (low, high) = (rows.low[i], rows.high[i]);
            let (entry, upper) = (rows.entry.as_ref().unwrap()[i], rows.upper.as_ref().unwrap()[i]);
            let top = if high == low { life.ln_density(low) } else { (f(high) - f(low)).ln() };
            want += top - (f(upper) - f(entry)).ln();
        }
        assert!((got.log_likelihood() / want - 1.0).abs() < 1e-11, "{name}: {} {want}", got.log_likelihood());
    }
}

#[test]
fn claims_alone_give_the_course_within_the_window() {
    // The scale has an interval wide as a barn, yet the share by 500 h of the failures by 1,500 h is held by its interval
    // in 19 of 20 samples, and that interval is short. Nearly every sample has a highest point, so none is chosen.
    let truth = Weibull { shape: 1.5, scale: 2000.0 };
    let want = truth.failure_probability(500.0) / truth.failure_probability(1500.0);
    let (mut held, mut fits, runs) = (0, 0, 400);
    for run in 0..runs {
        let (claims, _) = lots(2000.0, 2500, &[1500.0], run);
        let Ok(found) = fitted("weibull", &claims) else { continue };
        fits += 1;
        let share = &found.within_window(1500.0, &[500.0], 0.95).unwrap().shares[0];
        let (low, high) = (share.low.unwrap(), share.high.unwrap());
        held += i32::from(low <= want && want <= high);
        assert!(high - low < 0.06, "{low} {high}");
    }
    assert!(fits >= runs - 8, "{fits}");
    // 99.9 % of samples lie within 3.3 standard errors.
    let share = f64::from(held) / fits as f64;
    let slack = 3.3 * (0.95 * 0.05 / fits as f64).sqrt();
    assert!((share - 0.95).abs() < slack, "{share} of {fits}");
}

#[test]
fn a_scale_far_outside_the_window_is_open_and_the_course_within_it_is_given() {
    // One lamp in nine fails within the window. Some samples have no highest point at all: they stand in their limit.
    let (mut open, mut settled, mut limit, runs) = (0, 0, 0, 60);
    for run in 0..runs {
        let (claims, _) = lots(6000.0, 3000, &[1500.0], run);
        let found = fitted("weibull", &claims).unwrap();
        let mark = found.mark_of("scale").unwrap();
        // Open above is all that a window can leave open: a short scale would crowd the failures.
        assert_eq!(mark.identified == Identified::No, mark.high.is_none(), "{found}");
        let says = found.notes().iter().any(|n| n.slug == "fit.claims_only");
        assert!(says, "{found}");
        if mark.identified == Identified::No {
            open += 1;
            assert!(mark.profile.len() > 6 && found.to_string().contains("scale not settled"), "{found}");
        } else {
            settled += 1;
        }
        assert_eq!(found.limit().is_some(), found.notes().iter().any(|n| n.slug == "fit.at_limit"), "{found}");
        if found.limit().is_some() {
            limit += 1;
            assert_eq!(mark.identified, Identified::No, "{found}");
        }
    }
    assert!(open > 40 && limit > 5 && settled < 12, "{open} {limit} {settled}");
}

#[test]
fn lamps_shipped_settle_what_claims_leave_open() {
    let windows = [500.0, 1000.0, 1500.0];
    let (claims, all) = lots(6000.0, 900, &windows, 7);
    let whole = claims.with_shipped(&windows, &[900; 3]).unwrap();
    assert_eq!((whole.lamps(), whole.upper(), whole.failures()), (2700, None, claims.failures()));
    // The same lamps as if each had been watched; only the words for those that go on differ not at all.
    assert_eq!(whole, all);
    let found = fitted("weibull", &whole).unwrap();
    assert!(found.identified().iter().all(|m| m.identified == Identified::Yes), "{found}");
    for (name, truth) in [("shape", 1.5), ("scale", 6000.0)] {
        let error = found.standard_error(name).unwrap();
        assert!((found.parameter_at_maximum(name).unwrap() - truth).abs() < 4.0 * error, "{found}");
    }
    // A lot without a claim speaks too, and rows without a window stay.
    let more = claims.with_shipped(&[500.0, 1000.0, 1500.0, 800.0], &[900, 900, 900, 40]).unwrap();
    assert_eq!(more.lamps(), 2740);
    let beside = Tally::from_rows(&Rows { low: vec![700.0], high: vec![INF], ..Rows::default() }).unwrap().0;
    let both = Tally::merge(&[&claims, &beside]).unwrap().with_shipped(&windows, &[900; 3]).unwrap();
    assert_eq!(both.lamps(), 2701);
    assert!(whole.ending().contains(&Ending::Running.code()));
}

#[test]
fn lamps_shipped_that_cannot_be_are_named() {
    let claims = Rows {
        low: vec![210.0, 640.0, 300.0, 480.0],
        high: vec![210.0, 640.0, 300.0, 480.0],
        entry: Some(vec![0.0, 0.0, 0.0, 20.0]),
        upper: Some(vec![1000.0, 1000.0, 500.0, 500.0]),
        ..Rows::default()
    };
    let tally = Tally::from_rows(&claims).unwrap().0;
    let error = tally.with_shipped(&[1000.0, 1000.0, 0.0, f64::NAN, INF], &[1, 5, 5, 5, 5]).unwrap_err();
    let found: Vec<(&str, Option<u64>)> = error.problems().iter().map(|p| (p.slug, p.place.row)).collect();
    let want = [
        ("lives.shipped_upper", Some(2)),
        ("lives.shipped_upper", Some(3)),
        ("lives.shipped_upper", Some(4)),
        ("lives.shipped_upper", Some(5)),
        // Rows in canonical order: 210, 300, 480, 640 h.
        ("lives.shipped_missing", Some(2)),
        ("lives.shipped_entry", Some(3)),
        ("lives.shipped_missing", Some(3)),
        ("lives.shipped_fewer", Some(1)),
    ];
    assert_eq!(found, want, "{error}");
    assert_eq!(tally.with_shipped(&[500.0], &[]).unwrap_err().slug(), "lives.shipped_length");
    let groups = ["a", "b"].map(|s| relamp::lives::Group { stratum: s.into(), ..Default::default() });
    let rows = Rows {
        low: vec![1.0, 2.0],
        high: vec![1.0, 2.0],
        upper: Some(vec![9.0; 2]),
        group: Some(vec![0, 1]),
        groups: groups.to_vec(),
        ..Rows::default()
    };
    let two = Tally::from_rows(&rows).unwrap().0;
    assert_eq!(two.with_shipped(&[9.0], &[5]).unwrap_err().slug(), "lives.shipped_groups");
    assert_eq!(two.stratum("a").unwrap().with_shipped(&[9.0], &[5]).unwrap().lamps(), 5);
    let huge = tally.with_shipped(&[500.0, 1000.0, 70.0], &[u64::MAX, u64::MAX, 1]);
    assert!(huge.is_err());
}

#[test]
fn ages_outside_a_window_are_named() {
    let (claims, _) = lots(1000.0, 500, &[1500.0], 1);
    let found = fitted("exponential", &claims).unwrap();
    let error = found.within_window(1500.0, &[100.0, 0.0, 1500.0, f64::NAN, -3.0], 0.95).unwrap_err();
    assert_eq!(error.problems().iter().filter_map(|p| p.place.row).collect::<Vec<_>>(), [2, 3, 4, 5]);
    for upper in [0.0, -1.0, f64::NAN, INF] {
        assert_eq!(found.within_window(upper, &[1.0], 0.95).unwrap_err().slug(), "fit.window");
    }
    assert_eq!(found.within_window(1500.0, &[1.0], 1.0).unwrap_err().slug(), "fit.level");
    let past = found.within_window(9000.0, &[100.0], 0.95).unwrap();
    assert!(past.notes.iter().any(|n| n.slug == "fit.extrapolated"));
}

#[test]
fn figures_of_claims_alone_say_that_the_scale_is_open() {
    let (tally, found) = claims_of(false);
    let (options, run) = (FitOptions::default(), Run::new());
    assert_eq!(found.parameter("scale"), None, "{found}");
    let scale = Quantity::Parameter("scale".into());
    assert_eq!(found.wald(&scale, 0.95, Sides::Both).unwrap_err().slug(), "fit.parameter_open");
    let says = |notes: &[Note]| notes.iter().any(|n| n.slug == "fit.parameter_open");
    assert_eq!(found.wald(&Quantity::BLife(10.0), 0.95, Sides::Both).unwrap_err().slug(), "fit.window_only");
    assert!(says(&found.profile(&tally, &options, &scale, 0.95, Sides::Both, &run).unwrap().notes));
    assert_eq!(family_verdict(&tally, &options, &[&found], 2000.0, 0.95).unwrap_err().slug(), "fit.window");
    let verdict = family_verdict(&tally, &options, &[&found], 500.0, 0.95).unwrap();
    assert!(says(&verdict.notes), "{verdict:?}");
    let draws = bootstrap(family("weibull").unwrap(), &tally, &options, 40, 1, "", &run).unwrap();
    let lamps = [LampsAtAge { age_hours: 0.0, ahead_hours: 1000.0, count: 1000 }];
    assert_eq!(failures_ahead(&draws, &lamps, &run).unwrap_err().slug(), "fit.window_only");
}

/// Claims that leave the scale open: with a highest point of the likelihood, or without one, in a limit.
fn claims_of(limit: bool) -> (Tally, Fit) {
    (0..60)
        .map(|run| lots(6000.0, 3000, &[1500.0], run).0)
        .map(|tally| (fitted("weibull", &tally).unwrap(), tally))
        .find(|(found, _)| {
            found.parameter("scale").is_none() && limit == found.notes().iter().any(|n| n.slug == "fit.at_limit")
        })
        .map(|(found, tally)| (tally, found))
        .unwrap()
}

#[test]
fn a_fit_in_a_limit_gives_no_figure_beyond_its_window() {
    // The scale stands where the search gave up, at millions of hours: figures that rest on it would be sure and wrong.
    let (tally, found) = claims_of(true);
    let (options, run) = (FitOptions::default(), Run::new());
    for quantity in [Quantity::BLife(10.0), Quantity::Mean, Quantity::Reliability(1000.0)] {
        assert_eq!(found.wald(&quantity, 0.95, Sides::Both).unwrap_err().slug(), "fit.in_limit");
    }
    let median = |life: &dyn Life, _: &[f64]| life.quantile(0.5);
    let asked = Function { name: "median".into(), of: &median, scale: Scale::Positive };
    assert_eq!(found.wald_of(&asked, 0.95, Sides::Both).unwrap_err().slug(), "fit.in_limit");
    let draws = bootstrap(family("weibull").unwrap(), &tally, &options, 40, 1, "", &run);
    assert_eq!(draws.unwrap_err().slug(), "fit.in_limit");
    assert_eq!(family_verdict(&tally, &options, &[&found], 2000.0, 0.95).unwrap_err().slug(), "fit.in_limit");
    // Its bound is in the refusal of the scale, its profile is bounded below, and the course within the window is given.
    let scale = found.wald(&Quantity::Parameter("scale".into()), 0.95, Sides::Both).unwrap_err();
    assert_eq!(scale.slug(), "fit.parameter_open");
    let profile = found.profile(&tally, &options, &Quantity::BLife(10.0), 0.95, Sides::Both, &run).unwrap();
    let truth = 6000.0 * (-0.9_f64.ln()).powf(1.0 / 1.5);
    assert!(profile.low.unwrap() < truth && profile.high.is_none(), "{profile:?} {truth}");
    let share = &found.within_window(1500.0, &[500.0], 0.95).unwrap().shares[0];
    assert!(share.low.unwrap() < share.share && share.share < share.high.unwrap());
}

#[test]
fn shares_of_an_even_rate_in_its_limit_end_where_the_rate_does() {
    // The mean age lies past the middle of the window, so ln L rises to -n ln u as the mean life grows. There the share is
    // age over u, below which no even rate has it; above it the likelihood falls.
    let ages = [400.0, 520.0, 610.0, 700.0, 810.0, 930.0];
    let (n, upper) = (ages.len(), 1000.0_f64);
    let rows = Rows { low: ages.to_vec(), high: ages.to_vec(), upper: Some(vec![upper; n]), ..Rows::default() };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let got = fitted("exponential", &tally).unwrap();
    assert_eq!(got.limit(), Some("scale"), "{got}");
    let ln_l = |m: f64| ages.iter().map(|t| -m.ln() - t / m - (-(-upper / m).exp_m1()).ln()).sum::<f64>();
    let (mut outside, mut inside) = (1.0, 1e6);
    for _ in 0..200 {
        let m = f64::midpoint(inside, outside);
        if ln_l(m) > -(n as f64) * upper.ln() - 1.920_729_410_347_062 { inside = m } else { outside = m }
    }
    let high = (-(-300.0 / inside).exp_m1()) / (-(-upper / inside).exp_m1());
    let options = FitOptions::default();
    let window = got.within_window_profile(&tally, &options, upper, &[300.0], 0.95, &Run::new()).unwrap();
    let found = &window.shares[0];
    assert!((found.low.unwrap() - 0.3).abs() < 1e-6 && (found.high.unwrap() - high).abs() < 1e-6, "{found:?} {high}");
    assert!(!window.notes.iter().any(|n| n.slug == "fit.open_end"), "{window:?}");
}

#[test]
fn shares_of_a_lognormal_life_in_its_limit_have_the_ends_of_its_region() {
    // ln density of a lognormal life is a square in ln t, over p = location / scale^2 and q = 1 / scale^2, q above 0: a grid
    // over both shows which lives are likely enough.
    let truth = Lognormal { location: 7.5, scale: 0.8 };
    let (tally, got, ages) = (0..20)
        .find_map(|run| {
            let (mut rows, mut seen) = (Rows { upper: Some(Vec::new()), ..Rows::default() }, Vec::new());
            for (k, upper) in [250.0, 500.0, 800.0].into_iter().enumerate() {
                let stream = &mut Stream::new(20_261_126, "test", "windows", 10 * run + k as u64);
                for t in truth.draws(300, stream).unwrap().into_iter().filter(|t| *t <= upper) {
                    rows.low.push(t);
                    rows.high.push(t);
                    rows.upper.as_mut().unwrap().push(upper);
                    seen.push((t, upper));
                }
            }
            let tally = Tally::from_rows(&rows).unwrap().0;
            let got = fitted("lognormal", &tally).unwrap();
            got.limit().is_some().then_some((tally, got, seen))
        })
        .unwrap();
    // The limit is a power of age within each window, whose power and height have a closed form.
    let power = ages.len() as f64 / ages.iter().map(|(t, upper)| (upper / t).ln()).sum::<f64>();
    let top: f64 = ages.iter().map(|(t, upper)| (power / t).ln() + power * (t / upper).ln()).sum();
    // No lognormal location lies past 700, so that a little is left, and the note tells how much.
    let left = top - got.log_likelihood();
    assert!(left > 0.0 && left < 3e-3, "{got} {top}");
    let said = got.to_string();
    let told: f64 = said.split("at most about ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    assert!((told / left - 1.0).abs() < 0.2, "{said} {left}");
    let options = FitOptions::default();
    let window = got.within_window_profile(&tally, &options, 800.0, &[200.0, 600.0], 0.95, &Run::new()).unwrap();
    assert!(window.notes.iter().any(|n| n.slug == "fit.at_limit"), "{window:?}");
    let floor = got.log_likelihood() - 1.920_729_410_347_062;
    let mut ends = [[1.0_f64, 0.0_f64]; 2];
    for i in 0..300 {
        for j in 0..160 {
            let (q, p) = (4.0 * (f64::from(j + 1) / 160.0).powi(3), 0.1 * f64::from(i));
            let life = Lognormal { location: p / q, scale: q.powf(-0.5) };
            let whole = [250.0, 500.0, 800.0].map(|upper| life.ln_failure_probability(upper));
            let of = |upper: f64| whole[if upper < 300.0 { 0 } else { usize::from(upper > 600.0) + 1 }];
            let ln_l: f64 = ages.iter().map(|(t, upper)| life.ln_density(*t) - of(*upper)).sum();
            if ln_l >= floor {
                for (end, age) in ends.iter_mut().zip([200.0, 600.0]) {
                    let share = (life.ln_failure_probability(age) - whole[2]).exp();
                    *end = [end[0].min(share), end[1].max(share)];
                }
            }
        }
    }
    for (found, [low, high]) in window.shares.iter().zip(ends) {
        let (from, to) = (found.low.unwrap(), found.high.unwrap());
        assert!(low < high && from <= low + 1e-9 && high - 1e-9 <= to, "{found:?} {low} {high}");
        let slack = 0.1 * (high - low);
        assert!(low - from < slack && to - high < slack, "{found:?} {low} {high}");
    }
}

#[test]
fn a_generalised_gamma_fit_of_claims_lies_above_the_families_within_it() {
    let (claims, _) = lots(900.0, 60, &[500.0, 900.0], 3);
    let wide = fitted("generalised_gamma", &claims).unwrap();
    for name in ["weibull", "lognormal", "gamma"] {
        let narrow = fitted(name, &claims).unwrap();
        assert!(wide.log_likelihood() >= narrow.log_likelihood() - 1e-6, "{wide} {narrow}");
    }
}
