//! Ratio tests on the edge of a range, two phases under one life, and what families that fit alike say at an age.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::base::sound::Checks;
use relamp::family::{Exponential, Life, Weibull, family};
use relamp::fit::{
    Fit, FitOptions, RatioLaw, family_verdict, fit, information_table, likelihood_ratio, likelihood_ratio_bootstrap,
    phases,
};
use relamp::lives::{Rows, Tally};
use serde_json::Value;

const INF: f64 = f64::INFINITY;

fn tally(low: &[f64], high: &[f64]) -> Tally {
    Tally::from_rows(&Rows { low: low.to_vec(), high: high.to_vec(), ..Rows::default() }).unwrap().0
}

fn fitted(name: &str, tally: &Tally) -> relamp::Result<Fit> {
    fit(family(name)?, tally, &FitOptions::default(), &Run::new())
}

/// Lives stopped at one age.
fn stopped(life: &dyn Life, n: usize, seed: u64, end: f64) -> Tally {
    let ages = life.draws(n, &mut Stream::new(seed, "test", "verdicts", 0)).unwrap();
    let low: Vec<f64> = ages.iter().map(|a| a.min(end)).collect();
    let high: Vec<f64> = ages.iter().map(|a| if *a <= end { *a } else { INF }).collect();
    tally(&low, &high)
}

fn reference(name: &str) -> Tally {
    let all: Value = serde_json::from_str(include_str!("../data/fit_references.json")).unwrap();
    let case = all["cases"].as_array().unwrap().iter().find(|c| c["name"] == name).unwrap().clone();
    let rows = case["rows"].as_array().unwrap().clone();
    let column = |k: usize, none: f64| rows.iter().map(|r| r[k].as_f64().unwrap_or(none)).collect::<Vec<_>>();
    let rows = Rows {
        low: column(0, 0.0),
        high: column(1, INF),
        count: Some(rows.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

#[test]
fn on_the_edge_half_of_the_chi_square_chance_holds_its_level() {
    // Even rates, 60 lamps; a hazard that grows is their wider family. Half of the samples have their maximum on the edge
    // (H. Chernoff 1954). Plain chi-square would call 5 % where 10 % was asked.
    let (mut called, mut edge, mut plain, mut astray) = (0, 0, 0, 0);
    for seed in 0..1500 {
        let data = stopped(&Exponential { scale: 1000.0 }, 60, seed, 1500.0);
        let before = edge;
        let narrow = fitted("exponential", &data).unwrap();
        match fitted("gompertz", &data) {
            Ok(wide) if wide.converged() && wide.log_likelihood() > narrow.log_likelihood() => {
                let got = likelihood_ratio(&data, &FitOptions::default(), &narrow, &wide).unwrap();
                assert_eq!((got.law, got.degrees_of_freedom), (RatioLaw::HalfChiSquare, 1));
                called += u32::from(got.p_value < 0.1);
                plain += u32::from(2.0 * got.p_value < 0.1);
            }
            _ => edge += 1,
        }
        // The maximum is on the edge where the slope of the log-likelihood in the growth of the hazard is not above 0 there:
        // sum of ages at failure - rate x half the sum of all squared ages, with rate = failures / hours.
        let (mut failures, mut at_failure, mut total, mut squares) = (0.0, 0.0, 0.0, 0.0);
        for ((age, high), count) in data.low().iter().zip(data.high()).zip(data.count()) {
            let lamps = *count as f64;
            let failed = if *high < INF { lamps } else { 0.0 };
            failures += failed;
            at_failure += failed * age;
            total += lamps * age;
            squares += lamps * age * age;
        }
        let slope = at_failure - failures / total * 0.5 * squares;
        astray += u32::from((edge > before) != (slope <= 0.0));
    }
    assert_eq!(astray, 0);
    // 99.9 % binomial ranges around 150 of 1,500 and 719: with 60 lamps the slope is not above 0 in 47.9 % of 400,000 samples
    // drawn with numpy.
    assert!((112..=190).contains(&called), "{called}");
    assert!((656..=782).contains(&edge), "{edge}");
    assert!(plain < 112, "{plain}");
}

#[test]
fn the_half_law_and_samples_from_the_narrow_fit_agree() {
    // A rate that grows plainly: Gompertz-like wear from a Weibull of shape 2.
    let data = stopped(&Weibull { shape: 1.5, scale: 1000.0 }, 60, 4, 1500.0);
    let (narrow, wide) = (fitted("exponential", &data).unwrap(), fitted("gompertz", &data).unwrap());
    let closed = likelihood_ratio(&data, &FitOptions::default(), &narrow, &wide).unwrap();
    let (a, b) = (family("exponential").unwrap(), family("gompertz").unwrap());
    let drawn = likelihood_ratio_bootstrap(a, b, &data, None, 999, 3, &Run::new()).unwrap();
    assert_eq!((drawn.law, drawn.restriction.as_str()), (RatioLaw::ParametricBootstrap, "the hazard does not grow"));
    assert!((drawn.statistic - closed.statistic).abs() < 1e-9);
    let error = (closed.p_value / 1000.0).sqrt();
    assert!((drawn.p_value - closed.p_value).abs() < 4.0 * error + 0.005, "{drawn:?} {closed:?}");
    // Published maxima: NIST/SEMATECH e-Handbook 8.4.1.3, an even rate within a Weibull life, p = 0.0918 by chi-square.
    let ages = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
    let low: Vec<f64> = ages.iter().copied().chain([500.0; 10]).collect();
    let high: Vec<f64> = ages.iter().copied().chain([INF; 10]).collect();
    let nist = tally(&low, &high);
    let got = likelihood_ratio_bootstrap(a, family("weibull").unwrap(), &nist, None, 999, 3, &Run::new()).unwrap();
    assert!((got.statistic - 2.0 * (76.555_690_422_2 - 75.134_618_164_5)).abs() < 1e-9);
    assert!((got.p_value - 0.092).abs() < 0.04, "{got:?}");
    let slug = likelihood_ratio_bootstrap(b, a, &nist, None, 99, 3, &Run::new()).unwrap_err().slug();
    assert_eq!(slug, "fit.not_nested");
    let text = serde_json::to_string(&got).unwrap();
    assert_eq!(serde_json::from_str::<relamp::fit::LikelihoodRatio>(&text).unwrap(), got);
}

#[test]
fn published_bathtub_lives_show_two_phases_and_ball_bearings_do_not() {
    // Aarset (1987), IEEE Transactions on Reliability 36, 106-108: fifty devices whose hazard falls and then rises.
    let found = phases(&reference("aarset_bathtub"), None, 299, 1, &Run::new()).unwrap();
    assert!(found.two_phases && found.p_value < 0.01, "{found:?}");
    assert!(found.early_shape < 1.0 && found.late_shape > 1.1, "{found:?}");
    assert!(found.verdict.contains("hides two phases") && found.verdict.contains("failures come with wear"));
    // The two lives again by hand: lamps up to the age, and those past it, given that they reached it.
    let (data, age) = (reference("aarset_bathtub"), found.age_hours);
    let past: Vec<usize> = (0..data.rows()).filter(|&i| data.low()[i] > age).collect();
    let late = Rows {
        low: past.iter().map(|&i| data.low()[i]).collect(),
        high: past.iter().map(|&i| data.high()[i]).collect(),
        entry: Some(vec![age; past.len()]),
        count: Some(past.iter().map(|&i| data.count()[i]).collect()),
        ..Rows::default()
    };
    let early = Rows {
        low: data.low().iter().map(|t| t.min(age)).collect(),
        high: data.low().iter().map(|t| if *t <= age { *t } else { INF }).collect(),
        count: Some(data.count().to_vec()),
        ..Rows::default()
    };
    let [late, early] = [late, early].map(|rows| fitted("weibull", &Tally::from_rows(&rows).unwrap().0).unwrap());
    assert!((found.late_shape - late.parameter("shape").unwrap()).abs() < 1e-6, "{found:?} {late}");
    assert!((found.early_shape - early.parameter("shape").unwrap()).abs() < 1e-6, "{found:?} {early}");
    let one = fitted("weibull", &data).unwrap().log_likelihood();
    let rise = 2.0 * (late.log_likelihood() + early.log_likelihood() - one);
    assert!((found.statistic - rise).abs() < 1e-6, "{found:?} {rise}");
    // Lieblein & Zelen (1956): one wear-out.
    let one = phases(&reference("ball_bearing"), None, 299, 1, &Run::new()).unwrap();
    assert!(!one.two_phases && one.p_value > 0.1, "{one:?}");
    assert!(one.verdict.contains("no sign of two phases"));
    let few = tally(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0], &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
    assert_eq!(phases(&few, None, 99, 1, &Run::new()).unwrap_err().slug(), "fit.phases_failures");
}

#[test]
fn the_test_of_two_phases_holds_its_level() {
    let runs = 150;
    let called: u32 = Run::new()
        .map(runs, |seed| {
            let data = stopped(&Weibull { shape: 2.0, scale: 1000.0 }, 40, seed as u64, 1300.0);
            Ok(u32::from(phases(&data, None, 99, seed as u64, &Run::new())?.p_value < 0.1))
        })
        .unwrap()
        .into_iter()
        .map(Result::unwrap)
        .sum();
    // 99.9 % binomial range around 15 of 150: 4 to 28.
    assert!((4..=28).contains(&called), "{called}");
}

#[test]
fn families_that_fit_alike_are_named_with_their_disagreement() {
    let data = stopped(&Weibull { shape: 3.0, scale: 3000.0 }, 200, 2, 1800.0);
    let fits: Vec<Fit> = ["weibull", "lognormal", "exponential"].iter().map(|n| fitted(n, &data).unwrap()).collect();
    let all: Vec<&Fit> = fits.iter().collect();
    let said = family_verdict(&data, &FitOptions::default(), &all, 3000.0, 0.95).unwrap();
    let failed: Vec<f64> = fits[..2].iter().map(|f| f.life().unwrap().failure_probability(3000.0)).collect();
    assert!((said.disagreement - (failed[0] - failed[1]).abs()).abs() < 1e-12);
    assert!(said.rows[0].alike && said.rows[1].alike && !said.rows[2].alike, "{said:?}");
    let points = format!("{:.1} points", 100.0 * said.disagreement);
    assert!(said.verdict.contains("fit equally well and disagree at 3,000 h by") && said.verdict.contains(&points));
    // How many were tried stands beside how many fit alike, and only where they differ.
    assert!(said.verdict.starts_with("2 of the 3 families tried fit equally well"), "{}", said.verdict);
    let pair = family_verdict(&data, &FitOptions::default(), &all[..2], 3000.0, 0.95).unwrap();
    assert!(pair.verdict.starts_with("both families fit equally well"), "{}", pair.verdict);
    // 3,000 h lie past every lamp at risk.
    assert!(said.notes.iter().any(|n| n.slug == "fit.extrapolated"));
    for row in &said.rows {
        assert!(row.failed_low.unwrap() < row.failed && row.failed < row.failed_high.unwrap());
    }
    // Inside the records the same two hardly disagree.
    let near = family_verdict(&data, &FitOptions::default(), &all, 1500.0, 0.95).unwrap();
    assert!(near.disagreement < 0.3 * said.disagreement && !near.beyond_interval);
    let alone = family_verdict(&data, &FitOptions::default(), &all[2..], 1500.0, 0.95).unwrap();
    assert!(
        alone.verdict.starts_with("one family was tried, exponential, and nothing compared")
            && alone.disagreement == 0.0
    );
    let ahead = family_verdict(&data, &FitOptions::default(), &[all[0], all[2]], 1500.0, 0.95).unwrap();
    assert!(ahead.verdict.starts_with("of the 2 families tried Weibull alone stands out"), "{}", ahead.verdict);
    let bad = family_verdict(&data, &FitOptions::default(), &all, f64::NAN, 0.95).unwrap_err();
    assert_eq!(bad.slug(), "fit.age");
}

/// Fits of one sample, those that are refused left out.
fn all(names: &[&str], data: &Tally) -> Vec<Fit> {
    names.iter().filter_map(|name| fitted(name, data).ok()).collect()
}

#[test]
fn a_second_kind_that_is_not_there_never_ranks_first_and_one_that_is_there_does() {
    // One kind of lamps, Weibull: AIC alone puts the mixture first in a good part of the samples, as its charge of 2 for a
    // parameter does not hold where a share of 0 leaves parameters in no likelihood.
    let names = ["mixture(weibull, weibull)", "weibull", "never_fails(weibull)"];
    let (mut smaller, mut seen) = (0, 0);
    for seed in 0..40 {
        let data = stopped(&Weibull { shape: 2.5, scale: 1000.0 }, 50, 400 + seed, 1400.0);
        let fits = all(&names, &data);
        let fits: Vec<&Fit> = fits.iter().collect();
        let table = information_table(&data, &FitOptions::default(), &fits).unwrap();
        let said = family_verdict(&data, &FitOptions::default(), &fits, 300.0, 0.95).unwrap();
        assert_eq!(table.rows[0].family, said.rows[0].family);
        Checks::of("table", &table).unwrap();
        Checks::of("verdict", &said).unwrap();
        for (row, at) in table.rows.iter().zip(&said.rows).filter(|(r, _)| r.family.starts_with("mixture")) {
            let needless = fits[row.given].notes().iter().any(|n| n.slug == "fit.one_kind_enough");
            assert_eq!(
                (row.simpler.as_deref(), at.alike && needless),
                (needless.then_some("weibull"), false),
                "{seed}"
            );
            let last = table.rows.last().unwrap().family == row.family || !needless;
            assert!(last || table.rows.last().unwrap().simpler.is_some());
            if needless {
                seen += 1;
                let told = table.notes.iter().find(|n| n.slug == "fit.simpler_enough" && n.text.starts_with("mixture"));
                assert!(told.unwrap().text.contains("Weibull is enough"), "{}", told.unwrap().text);
            }
            if needless && row.aic_difference < 0.0 {
                smaller += 1;
                assert!(said.verdict.contains("would come first by AIC alone"), "{}", said.verdict);
            }
        }
    }
    assert!(seen > 15 && smaller > 1, "{seen} {smaller}");

    // Two kinds far apart are believed, and come first.
    let early = Weibull { shape: 3.0, scale: 150.0 }.draws(40, &mut Stream::new(1, "test", "verdicts", 0)).unwrap();
    let late = Weibull { shape: 4.0, scale: 1500.0 }.draws(80, &mut Stream::new(2, "test", "verdicts", 0)).unwrap();
    let ages = [early, late].concat();
    let data = tally(&ages, &ages);
    let fits = all(&names[..2], &data);
    let table = information_table(&data, &FitOptions::default(), &[&fits[1], &fits[0]]).unwrap();
    assert_eq!((table.rows[0].family.as_str(), &table.rows[0].simpler), (names[0], &None));
}

#[test]
fn a_share_that_never_fails_ranks_by_its_test_on_the_edge() {
    // Between statistics of 2 and 2.71, where half of the chi-square chance is above 5 %, AIC alone would put it first.
    let mut between = 0;
    for seed in 0..200 {
        let data = stopped(&Weibull { shape: 2.5, scale: 1000.0 }, 60, 900 + seed, 1300.0);
        let (one, Ok(share)) = (fitted("weibull", &data).unwrap(), fitted("never_fails(weibull)", &data)) else {
            continue;
        };
        let test = likelihood_ratio(&data, &FitOptions::default(), &one, &share).unwrap();
        let table = information_table(&data, &FitOptions::default(), &[&share, &one]).unwrap();
        let first = if test.p_value < 0.05 { "never_fails(weibull)" } else { "weibull" };
        assert_eq!(table.rows[0].family, first, "{test:?}");
        between += u32::from(test.p_value >= 0.05 && share.aic() < one.aic());
        if test.p_value >= 0.05 {
            assert!((table.rows[1].simpler_chance.unwrap() - test.p_value).abs() < 1e-12);
        }
    }
    assert!(between > 1, "{between}");
}

#[test]
fn the_bootstrap_stands_on_the_peak_of_the_fit() {
    // Lives of one kind whose mixture has its highest peak where no start leads: the fit comes upon it along a profile.
    let run = Run::new();
    let (one, two) = (family("weibull").unwrap(), family("mixture(weibull, weibull)").unwrap());
    for seed in [2, 3] {
        let data = stopped(&Weibull { shape: 2.5, scale: 1000.0 }, 60, 7000 + seed, 1400.0);
        let rise =
            fitted(two.name(), &data).unwrap().log_likelihood() - fitted("weibull", &data).unwrap().log_likelihood();
        let got = likelihood_ratio_bootstrap(one, two, &data, None, 99, 1, &run).unwrap();
        assert!((got.statistic - 2.0 * rise).abs() < 1e-6, "{seed}: {} {}", got.statistic, 2.0 * rise);
    }
}
