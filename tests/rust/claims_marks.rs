//! What records that show failures only must not be asked, and marks and figures that must agree.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::demand::{LampsAtAge, failures_ahead};
use relamp::family::{Life, Weibull, WeibullFailureFree, family};
use relamp::fit::{
    Belief, CauseOptions, Draws, Fit, FitOptions, Function, Identified, Interval, Prior, Quantity, Scale, Sides,
    Termination, bootstrap, family_verdict, fit, fit_causes, fit_known_shape, posterior,
};
use relamp::lives::{Rows, Tally};
use relamp::records::Ending;
use relamp::terms::Costs;

const INF: f64 = f64::INFINITY;

fn tally(low: Vec<f64>, high: Vec<f64>) -> Tally {
    Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap().0
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap()
}

fn has(interval: &Interval, slug: &str) -> bool {
    interval.notes.iter().any(|n| n.slug == slug)
}

/// Failures within the first 1,000 h of `lamps` lamps of shape 2 and scale 3,000 h: about one in ten.
fn claims(lamps: usize) -> Tally {
    let ages = Weibull { shape: 2.0, scale: 3000.0 }.draws(lamps, &mut Stream::new(6, "test", "claims", 0)).unwrap();
    let low: Vec<f64> = ages.into_iter().filter(|t| *t < 1000.0).collect();
    let upper = Some(vec![1000.0; low.len()]);
    Tally::from_rows(&Rows { high: low.clone(), low, upper, ..Rows::default() }).unwrap().0
}

#[test]
fn claims_alone_give_no_figure_of_all_lamps() {
    let records = claims(3000);
    let found = fitted("weibull", &records);
    assert_eq!(found.mark_of("scale").unwrap().identified, Identified::No);
    let (options, run) = (FitOptions::default(), Run::new());
    for quantity in [Quantity::Mean, Quantity::BLife(10.0), Quantity::Reliability(500.0), Quantity::Hazard(500.0)] {
        let refused = found.wald(&quantity, 0.95, Sides::Both).unwrap_err();
        assert_eq!(refused.slug(), "fit.window_only", "{quantity:?}");
        assert!(refused.hint().unwrap().contains("profile"));
        // The profile needs no single value.
        assert!(found.profile(&records, &options, &quantity, 0.95, Sides::Both, &run).is_ok(), "{quantity:?}");
    }
    let own = |life: &dyn Life, _: &[f64]| life.quantile(0.5);
    let asked = Function { name: "median".into(), of: &own, scale: Scale::Positive };
    assert_eq!(found.wald_of(&asked, 0.95, Sides::Both).unwrap_err().slug(), "fit.window_only");
    let draws = bootstrap(family("weibull").unwrap(), &records, &options, 20, 1, "", &run).unwrap();
    assert_eq!(draws.interval(&Quantity::BLife(10.0), 0.9, Sides::Both).unwrap_err().slug(), "fit.window_only");
    let scale = Quantity::Parameter("scale".into());
    assert_eq!(draws.interval(&scale, 0.9, Sides::Both).unwrap_err().slug(), "fit.parameter_open");
    let lamps = [LampsAtAge { age_hours: 100.0, ahead_hours: 100.0, count: 5 }];
    assert_eq!(failures_ahead(&draws, &lamps, &run).unwrap_err().slug(), "fit.window_only");
    // What the records settle is given as before, and with the lamps shipped the rest is.
    let shape = Quantity::Parameter("shape".into());
    assert!(found.wald(&shape, 0.95, Sides::Both).is_ok() && draws.interval(&shape, 0.9, Sides::Both).is_ok());
    let curve = found.profile_curve(&records, &options, &scale, 0.95, 11, &run).unwrap();
    assert!(curve.open && found.region(&records, &options, 0.95, &run).unwrap().open == [false, true]);
    assert!(!found.profile_curve(&records, &options, &shape, 0.95, 11, &run).unwrap().open);
}

#[test]
fn no_family_makes_claims_tell_of_all_lamps() {
    // Claims of 1,500 lamps of shape 1.8 and scale 4,000 h within three windows: of all lamps 16 % fail by 1,500 h. Families
    // whose course bends within the window settle all their parameters there, and would say 60 % to 90 %.
    let mut stream = Stream::new(8, "test", "claims of families", 0);
    let life = Weibull { shape: 1.8, scale: 4000.0 };
    let (mut low, mut upper) = (Vec::new(), Vec::new());
    for (until, lamps) in [(1500.0, 400), (1000.0, 600), (700.0, 500)] {
        for age in life.draws(lamps, &mut stream).unwrap().into_iter().filter(|t| *t <= until) {
            low.push(age);
            upper.push(until);
        }
    }
    let rows = Rows { high: low.clone(), low, upper: Some(upper), ..Rows::default() };
    let records = Tally::from_rows(&rows).unwrap().0;
    let (options, run) = (FitOptions::default(), Run::new());
    let mut seen = 0;
    for name in ["gompertz", "normal", "logistic", "smallest_extreme_value", "above_zero(normal)"] {
        let found = fitted(name, &records);
        // All parameters may be settled, which they stay.
        let marks = found.identified();
        seen += usize::from(marks.iter().all(|m| m.identified == Identified::Yes));
        for (mark, (parameter, value)) in marks.iter().zip(found.parameters()) {
            assert_eq!(value.is_some(), mark.identified != Identified::No, "{name} {parameter}");
        }
        for quantity in [Quantity::Mean, Quantity::Reliability(1500.0)] {
            let slug = found.wald(&quantity, 0.95, Sides::Both).unwrap_err().slug();
            assert!(["fit.window_only", "fit.in_limit"].contains(&slug), "{name} {slug}");
        }
        assert!(found.life().is_err(), "{name}");
        if let Ok(draws) = bootstrap(family(name).unwrap(), &records, &options, 20, 1, "", &run) {
            assert_eq!(draws.interval(&Quantity::Mean, 0.9, Sides::Both).unwrap_err().slug(), "fit.window_only");
        }
        assert!(found.within_window(1500.0, &[700.0], 0.95).is_ok(), "{name}");
    }
    assert!(seen >= 3, "{seen}");
}

#[test]
fn causes_known_from_claims_alone_give_no_worlds() {
    // One set of claims as two causes: neither says how many lamps fail.
    let ages: Vec<f64> = claims(3000).low().to_vec();
    let ending: Vec<Ending> = (0..ages.len()).map(|i| if i % 2 == 0 { Ending::Burst } else { Ending::Dim }).collect();
    let rows = |upper: f64| Rows {
        low: ages.clone(),
        high: ages.clone(),
        upper: Some(vec![upper; ages.len()]),
        ending: Some(ending.clone()),
        ..Rows::default()
    };
    let costs = || Costs::new(950.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1250.0)]).unwrap();
    let (weibull, run) = (family("weibull").unwrap(), Run::new());
    let records = Tally::from_rows(&rows(1000.0)).unwrap().0;
    let fits = fit_causes(&records, weibull, &CauseOptions::default(), &run).unwrap();
    assert!(fits.causes().iter().any(|c| c.fit.mark_of("scale").unwrap().identified == Identified::No));
    let refused = fits.draws(&records, costs(), 20, 1, "", &run).unwrap_err();
    assert_eq!(refused.slug(), "fit.window_only");
    assert!(refused.hint().unwrap().contains("within_window"), "{refused}");
    assert_eq!(fits.world(costs()).unwrap_err().slug(), "fit.window_only");
    // Where the lamps that did not fail are there too, worlds follow.
    let low: Vec<f64> = ages.iter().copied().chain([1000.0]).collect();
    let high: Vec<f64> = ages.iter().copied().chain([INF]).collect();
    let count: Vec<u64> = ages.iter().map(|_| 1).chain([3000 - ages.len() as u64]).collect();
    let ending = Some(ending.iter().copied().chain([Ending::Running]).collect());
    let whole = Tally::from_rows(&Rows { low, high, count: Some(count), ending, ..Rows::default() }).unwrap().0;
    let fits = fit_causes(&whole, weibull, &CauseOptions::default(), &run).unwrap();
    assert_eq!(fits.draws(&whole, costs(), 20, 1, "", &run).unwrap().len(), 20);
    assert!(fits.world(costs()).is_ok());
}

#[test]
fn a_verdict_on_claims_speaks_of_the_window() {
    let records = claims(3000);
    let options = FitOptions::default();
    let (one, other) = (fitted("weibull", &records), fitted("lognormal", &records));
    let said = family_verdict(&records, &options, &[&one, &other], 500.0, 0.95).unwrap();
    assert_eq!(said.within_hours, Some(1000.0));
    let life = one.life_at_maximum().unwrap();
    let share = life.failure_probability(500.0) / life.failure_probability(1000.0);
    let row = said.rows.iter().find(|r| r.family == "weibull").unwrap();
    assert!((row.failed - share).abs() < 1e-12 && row.failed_low.unwrap() < share);
    // About a quarter of the failures by 1,000 h come by 500 h, and few of all lamps do.
    assert!((share - 0.25).abs() < 0.08, "{share}");
    assert!(said.verdict.contains("within"), "{}", said.verdict);
    let late = family_verdict(&records, &options, &[&one, &other], 3000.0, 0.95).unwrap_err();
    assert_eq!(late.slug(), "fit.window");
}

#[test]
fn many_claims_are_marked_as_few_are() {
    // Failures by 1,000 h of lamps of shape 2 and scale 30,000 h: within the window their course is that of a power of the
    // age, which no scale of thousands of hours and more changes.
    let mut stream = Stream::new(7, "test", "many claims", 0);
    let by_end = -(-(1000.0f64 / 30_000.0).powi(2)).exp_m1();
    let ages: Vec<f64> = (0..12_000).map(|_| 30_000.0 * (-(-stream.uniform() * by_end).ln_1p()).sqrt()).collect();
    let upper = Some(vec![1000.0; ages.len()]);
    let (records, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, upper, ..Rows::default() }).unwrap();
    assert!(records.rows() > 10_000);
    let found = fitted("weibull", &records);
    assert_eq!(found.mark_of("scale").map(|m| m.identified), Some(Identified::No));
    assert!(found.parameter("scale").is_none() && found.life().is_err());
}

#[test]
fn marks_of_a_failure_free_time_agree_with_its_profile() {
    let (mut seen, mut settled) = (0, 0);
    for run in 0..12 {
        let life = WeibullFailureFree { shape: 2.0, scale: 1500.0, location: 500.0 };
        let ages = life.draws(60, &mut Stream::new(run, "test", "location", 0)).unwrap();
        let first = ages.iter().copied().fold(INF, f64::min);
        let records = tally(ages.clone(), ages);
        let Ok(found) = fit(family("weibull_failure_free").unwrap(), &records, &FitOptions::default(), &Run::new())
        else {
            continue;
        };
        seen += 1;
        let again = found.identify(&records, &FitOptions::default(), &Run::new()).unwrap();
        assert_eq!(found.identified(), again.identified(), "run {run}");
        let location = Quantity::Parameter("location".into());
        let wald = found.wald(&location, 0.95, Sides::Both).unwrap();
        assert!(wald.high.unwrap() <= first, "{wald:?}");
        assert_eq!(wald.high == Some(first), wald.notes.iter().any(|n| n.text.contains("first failure")));
        let profile =
            found.profile(&records, &FitOptions::default(), &location, 0.95, Sides::Both, &Run::new()).unwrap();
        let (low, high) = (profile.low.unwrap(), profile.high.unwrap());
        assert!(high <= first && !has(&profile, "fit.open_end"), "{profile:?}");
        let mark = found.mark_of("location").unwrap();
        assert_eq!((mark.low, mark.high), (Some(low), Some(high)));
        let closed = low > 0.0 && high < first;
        assert!(closed || mark.identified != Identified::Yes, "{mark:?}");
        settled += u32::from(mark.identified == Identified::Yes);
    }
    assert!(seen > 8 && settled < seen, "{seen} {settled}");
}

/// Ten failures, and lamps that still burn at 1,500 h.
fn young() -> Tally {
    let mut low = vec![412.0, 655.0, 780.0, 903.0, 1010.0, 1188.0, 1290.0, 1333.0, 1400.0, 1450.0];
    let mut high = low.clone();
    low.extend([1500.0; 20]);
    high.extend([INF; 20]);
    tally(low, high)
}

#[test]
fn a_figure_past_the_oldest_lamp_says_so_whatever_made_it() {
    let records = young();
    let found = fitted("weibull", &records);
    let (options, run) = (FitOptions::default(), Run::new());
    let past = "fit.extrapolated";
    let wald = |q: &Quantity| found.wald(q, 0.95, Sides::Both).unwrap();
    assert!(has(&wald(&Quantity::Mean), past) && has(&wald(&Quantity::BLife(50.0)), past));
    assert!(!has(&wald(&Quantity::BLife(10.0)), past));
    assert!(has(&found.profile(&records, &options, &Quantity::Mean, 0.95, Sides::Both, &run).unwrap(), past));
    let draws = bootstrap(family("weibull").unwrap(), &records, &options, 60, 1, "", &run).unwrap();
    assert!(has(&draws.interval(&Quantity::Mean, 0.9, Sides::Both).unwrap(), past));
    let prior = Prior { shape: Belief::Within { low: 0.2, high: 20.0 }, ..Prior::default() };
    let belief = posterior(family("weibull").unwrap(), &records, &options, &prior, 0, 1, &run).unwrap();
    for quantity in [Quantity::BLife(90.0), Quantity::Mean, Quantity::Reliability(4000.0)] {
        assert!(has(&belief.interval(&quantity, 0.95, Sides::Both).unwrap(), past), "{quantity:?}");
    }
    assert!(!has(&belief.interval(&Quantity::Reliability(1000.0), 0.95, Sides::Both).unwrap(), past));
    // All failed: nothing but the ages seen makes the mean.
    let ages = vec![300.0, 480.0, 550.0, 720.0, 900.0, 1000.0, 1100.0, 1200.0, 1300.0, 1400.0];
    let all = fitted("weibull", &tally(ages.clone(), ages));
    assert!(!has(&all.wald(&Quantity::Mean, 0.95, Sides::Both).unwrap(), past));
}

#[test]
fn a_refusal_names_a_likelihood_that_the_family_reaches() {
    let rows = Rows { low: vec![300.0, 500.0], high: vec![300.0, INF], count: Some(vec![1, 30]), ..Rows::default() };
    let (records, _) = Tally::from_rows(&rows).unwrap();
    let single = fitted("weibull", &records).log_likelihood();
    let (options, run) = (FitOptions::default(), Run::new());
    let refused = fit(family("mixture(weibull, weibull)").unwrap(), &records, &options, &run).unwrap_err();
    let text = refused.to_string();
    assert!(!text.contains("2083933998066"), "{text}");
    // A single Weibull life is one of the family, and nothing below it is the highest.
    let told = text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).filter_map(|w| w.parse().ok());
    let likelihoods: Vec<f64> = told.filter(|x: &f64| *x < -5.0).collect();
    assert!(likelihoods.iter().all(|x| (x - single).abs() < 0.01 || *x > single), "{single} {text}");
}

#[test]
fn lamps_that_had_all_failed_bound_the_scale_from_above() {
    // 3 lamps seen failed at 100 h and 2 at 200 h, shape 2: the bound solves 3 ln F(100) + 2 ln F(200) = ln 0.05.
    let rows = Rows { low: vec![0.0; 2], high: vec![100.0, 200.0], count: Some(vec![3, 2]), ..Rows::default() };
    let (records, _) = Tally::from_rows(&rows).unwrap();
    let found = fit_known_shape(&records, 2.0, 0.95, Termination::Time, &FitOptions::default(), &Run::new()).unwrap();
    let scale = found.scale_high.unwrap();
    let failed = |t: f64| -(-(t / scale).powi(2)).exp_m1();
    assert!((3.0 * failed(100.0).ln() + 2.0 * failed(200.0).ln() - 0.05f64.ln()).abs() < 1e-9, "{scale}");
    assert!(found.scale.is_none() && found.scale_low.is_none() && found.life_high().is_some());
    assert!(found.notes.iter().any(|n| n.slug == "fit.bound_only"));
}

#[test]
fn the_share_of_a_kind_that_may_not_be_there_has_no_bound_anywhere() {
    let ages = Weibull { shape: 3.0, scale: 3000.0 }.draws(80, &mut Stream::new(3, "test", "one kind", 0)).unwrap();
    let records = tally(ages.clone(), ages);
    let found = fitted("mixture(weibull, weibull)", &records);
    assert!(found.notes().iter().any(|n| n.slug == "fit.one_kind_enough"), "{found}");
    let mark = found.mark_of("first_share").unwrap();
    assert_eq!((mark.low, mark.high), (None, None));
    let share = Quantity::Parameter("first_share".into());
    let (options, run) = (FitOptions::default(), Run::new());
    let profile = found.profile(&records, &options, &share, 0.95, Sides::Both, &run).unwrap();
    assert!(profile.low.is_none() && profile.high.is_none() && has(&profile, "fit.one_kind_enough"), "{profile:?}");
    let curve = found.profile_curve(&records, &options, &share, 0.95, 11, &run).unwrap();
    assert!(curve.low.is_none() && curve.high.is_none() && curve.lower_bound.is_none(), "{curve:?}");
}

#[test]
fn a_region_with_a_far_corner_is_round_there_too() {
    // Two failures: the border runs four times as far out one way as the other. Every pair that is likely enough lies
    // inside, by the likelihood on a grid, and no two corners lie far apart.
    let records = tally(vec![100.0, 150.0, 200.0], vec![INF, 150.0, 200.0]);
    let found = fitted("weibull", &records);
    let region = found.region(&records, &FitOptions::default(), 0.95, &Run::new()).unwrap();
    assert!(region.closed && !region.notes.iter().any(|n| n.slug == "fit.region_folded"), "{:?}", region.notes);
    let ln_l = |shape: f64, scale: f64| {
        let life = Weibull { shape, scale };
        life.ln_reliability(100.0) + life.ln_density(150.0) + life.ln_density(200.0)
    };
    let (mut likely, mut outside) = (0, 0);
    for a in 0..=300 {
        for b in 0..=300 {
            let shape = (0.02 * f64::from(a) - 1.5f64).exp();
            let scale = (4.0 + 0.01 * f64::from(b)).exp();
            let fall = found.log_likelihood() - ln_l(shape, scale);
            // Off the border by more than the chord between two corners.
            if fall < 2.995_732_273_553_991 - 0.05 {
                likely += 1;
                assert!(region.contains(shape, scale), "{shape} {scale} {fall}");
            } else if fall > 2.995_732_273_553_991 + 0.05 {
                outside += 1;
                assert!(!region.contains(shape, scale), "{shape} {scale} {fall}");
            }
        }
    }
    assert!(likely > 1000 && outside > 1000, "{likely} {outside}");
    let corners = &region.corners;
    let gaps = (0..corners.len()).map(|i| {
        let (a, b) = (corners[i], corners[(i + 1) % corners.len()]);
        (a[0] / b[0]).ln().hypot((a[1] / b[1]).ln())
    });
    assert!(gaps.fold(0.0, f64::max) < 0.15);
}
