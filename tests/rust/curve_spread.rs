//! Bands by scale, intervals of quantiles, mean hours up to an age: closed forms, another way to the same figure, published
//! medians, coverage.

use relamp::base::math::special::normal_quantile;
use relamp::base::random::Stream;
use relamp::empirical::{
    BandScale, Curve, CurveOptions, HazardScale, product_limit, simultaneous_band, simultaneous_hazard_band,
};
use relamp::lives::{Rows, Tally};

const INF: f64 = f64::INFINITY;

fn curve(low: &[f64], high: &[f64], scale: BandScale) -> Curve {
    let rows = Rows { low: low.to_vec(), high: high.to_vec(), ..Rows::default() };
    let options = CurveOptions { band_scale: scale, ..CurveOptions::default() };
    product_limit(&Tally::from_rows(&rows).unwrap().0, &options).unwrap()
}

/// Weibull lives with median 1,000 h, pulled at an even age up to 3,000 h.
fn sample(n: usize, replicate: u64) -> (Vec<f64>, Vec<f64>) {
    let mut stream = Stream::new(11, "curve_spread", "lives", replicate);
    let lives = (0..n).map(|_| {
        let fails = 1000.0 * (stream.exponential() / std::f64::consts::LN_2).sqrt();
        let pulled = 3000.0 * stream.uniform();
        (fails.min(pulled), if fails <= pulled { fails } else { INF })
    });
    lives.unzip()
}

#[test]
fn intervals_without_a_width_say_so() {
    let curve = |ages: &[f64]| {
        let rows = Rows { low: ages.to_vec(), high: ages.to_vec(), ..Rows::default() };
        product_limit(&Tally::from_rows(&rows).unwrap().0, &CurveOptions::default()).unwrap()
    };
    let tied = curve(&[100.0; 6]);
    let median = tied.quantile_interval(0.5).unwrap();
    assert_eq!((median.low, median.high), (Some(100.0), Some(100.0)));
    assert!(median.note().unwrap().contains("in one step at 100 h"), "{:?}", median.note());
    let mean = tied.restricted_mean_interval(100.0).unwrap();
    assert!(mean.standard_error == 0.0 && mean.sentence.ends_with("says nothing of other lamps"), "{}", mean.sentence);
    let spread = curve(&[100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0, 800.0]);
    assert_eq!(spread.quantile_interval(0.5).unwrap().note(), None);
    assert!(!spread.restricted_mean_interval(600.0).unwrap().sentence.contains("no width"));
    // Before the first failure nothing strays either.
    assert!(spread.restricted_mean_interval(50.0).unwrap().sentence.contains("no width"));
}

#[test]
fn each_band_is_even_on_its_own_scale() {
    let (low, high) = sample(30, 0);
    let z = normal_quantile(0.975);
    let on = |scale: BandScale, r: f64| match scale {
        BandScale::Plain => r,
        BandScale::Log => r.ln(),
        BandScale::LogLog => (-r.ln()).ln(),
        _ => r.sqrt().asin(),
    };
    let mut seen = 0;
    for scale in BandScale::ALL {
        let g = |r: f64| on(scale, r);
        let curve = curve(&low, &high, scale);
        assert_eq!(curve.band_scale(), scale);
        for ((ends, &r), se) in curve.band().into_iter().zip(curve.reliability()).zip(curve.standard_error()) {
            let (Some((low, high)), Some(se)) = (ends, se) else { continue };
            // Cut ends lie where the scale ends, not where the standard errors would carry them.
            if low <= 1e-12 || high >= 1.0 - 1e-12 {
                continue;
            }
            let slope = (g(r + 1e-6) - g(r - 1e-6)) / 2e-6;
            for end in [low, high] {
                let steps = (g(end) - g(r)).abs() / (slope.abs() * se);
                assert!((steps / z - 1.0).abs() < 1e-5, "{scale:?} at {r}: {steps}");
                seen += 1;
            }
        }
    }
    assert!(seen > 100, "{seen}");
}

#[test]
fn the_default_band_is_the_log_log_one_to_the_bit() {
    let (low, high) = sample(30, 0);
    let curve = curve(&low, &high, BandScale::default());
    let z = normal_quantile(f64::midpoint(1.0, 0.95));
    let mut variance = 0.0;
    for (i, (&n, &d)) in curve.at_risk().iter().zip(curve.failures()).enumerate() {
        variance += d as f64 / (n as f64 * (n - d) as f64);
        let ln = curve.reliability()[i].ln();
        let w = z * variance.sqrt() / -ln;
        // The last lamp may have failed, which leaves no band.
        let Some((low, high)) = curve.band()[i] else { continue };
        // The library carries the rounding of its sum along, so the plain sum here may differ in its last digits.
        assert!((low / (ln * w.exp()).exp() - 1.0).abs() < 1e-13);
        assert!((high / (ln * (-w).exp()).exp() - 1.0).abs() < 1e-13);
    }
    assert!(curve.to_json().unwrap().contains("\"band_scale\":\"log_log\""));
    let before = curve.to_json().unwrap().replace("\"band_scale\":\"log_log\",", "");
    assert_eq!(Curve::from_json(&before).unwrap(), curve, "a curve saved before scales had names");
}

#[test]
fn the_band_for_all_ages_lies_outside_that_for_one_on_the_same_scale() {
    let (low, high) = sample(40, 1);
    let curve = curve(&low, &high, BandScale::Arcsine);
    let all = simultaneous_band(&curve).unwrap();
    assert_eq!(all.at_one_age, curve.band(), "the same scale, the same band at one age");
    let mut seen = 0;
    for (wide, narrow) in all.each.iter().zip(curve.band()) {
        if let (Some(wide), Some(narrow)) = (wide, narrow) {
            assert!(wide.0 < narrow.0 && (narrow.1 < wide.1 || wide.1 == 1.0));
            seen += 1;
        }
    }
    assert!(seen > 15, "{seen}");
}

fn freireich() -> Tally {
    let rows = Rows {
        low: vec![
            6.0, 6.0, 7.0, 9.0, 10.0, 10.0, 11.0, 13.0, 16.0, 17.0, 19.0, 20.0, 22.0, 23.0, 25.0, 32.0, 34.0, 35.0,
        ],
        high: vec![6.0, INF, 7.0, INF, 10.0, INF, INF, 13.0, 16.0, INF, INF, INF, 22.0, 23.0, INF, INF, INF, INF],
        count: Some(vec![3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2, 1, 1]),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

/// Freireich et al. (1963), treated arm, as worked in Klein & Moeschberger, Survival Analysis (1997), table 4.2: cumulative
/// hazard and its variance to four digits (from memory).
#[test]
fn the_cumulative_hazard_of_the_leukaemia_arm_has_its_published_variance() {
    let curve = product_limit(&freireich(), &CurveOptions::default()).unwrap();
    let printed = [
        (6.0, 0.1429, 0.0068),
        (7.0, 0.2017, 0.0103),
        (10.0, 0.2683, 0.0147),
        (13.0, 0.3517, 0.0217),
        (16.0, 0.4426, 0.0299),
        (22.0, 0.5854, 0.0503),
        (23.0, 0.7521, 0.0781),
    ];
    assert_eq!(curve.ages(), printed.map(|p| p.0));
    let errors = curve.cumulative_hazard_standard_error();
    for ((_, hazard, variance), (h, error)) in printed.iter().zip(curve.cumulative_hazard().iter().zip(&errors)) {
        // The table adds rounded terms, so its last digit may be one off.
        assert!((h - hazard).abs() < 1e-4 && (error.unwrap().powi(2) - variance).abs() < 1e-4, "{h} {error:?}");
    }
    // By hand at 7 weeks on the log scale: 0.2017 exp(-+1.96 x 0.1013 / 0.2017).
    let error = (3.0_f64 / 441.0 + 1.0 / 289.0).sqrt();
    let (low, high) = curve.cumulative_hazard_band_at(8.0).unwrap();
    let (h, w) = (3.0 / 21.0 + 1.0 / 17.0, normal_quantile(0.975) * error / (3.0 / 21.0 + 1.0 / 17.0));
    assert!((low - h * (-w).exp()).abs() < 1e-12 && (high - h * w.exp()).abs() < 1e-12, "{low} {high}");
    assert_eq!(curve.cumulative_hazard_standard_error_at(5.0), None, "before the first failure");
    assert_eq!(curve.cumulative_hazard_band_at(36.0), None, "past the last age");
}

#[test]
fn each_band_of_the_hazard_is_even_on_its_own_scale() {
    let (low, high) = sample(30, 0);
    let z = normal_quantile(0.975);
    let on = |scale: HazardScale, h: f64| match scale {
        HazardScale::Plain => h,
        HazardScale::Log => h.ln(),
        _ => (-0.5 * h).exp().asin(),
    };
    let rows = Rows { low, high, ..Rows::default() };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let mut seen = 0;
    for scale in HazardScale::ALL {
        let options = CurveOptions { hazard_scale: scale, ..CurveOptions::default() };
        let curve = product_limit(&tally, &options).unwrap();
        assert_eq!(curve.hazard_scale(), scale);
        let errors = curve.cumulative_hazard_standard_error();
        for ((ends, &h), error) in curve.cumulative_hazard_band().iter().zip(curve.cumulative_hazard()).zip(&errors) {
            let ((low, high), error) = (ends.unwrap(), error.unwrap());
            let step = 1e-6 * h;
            let slope = (on(scale, h + step) - on(scale, h - step)) / (2.0 * step);
            // Cut ends lie where the scale ends.
            for end in [low, high].into_iter().filter(|e| *e > 1e-12 && e.is_finite()) {
                let steps = (on(scale, end) - on(scale, h)).abs() / (slope.abs() * error);
                assert!((steps / z - 1.0).abs() < 1e-5, "{scale:?} at {h}: {steps}");
                seen += 1;
            }
        }
    }
    assert!(seen > 70, "{seen}");
    // The arcsine scale is that of a reliability exp(-H), and keeps its digits where H is small.
    for h in [1e-9, 1e-3, 0.4, 3.0] {
        let (low, high) = HazardScale::Arcsine.ends(h, 0.3 * h, 1.96);
        let (least, most) = BandScale::Arcsine.ends((-h).exp(), 0.3 * h, 1.96);
        let digits = 1e-7 / h.min(1.0).sqrt();
        assert!((low + most.ln()).abs() <= digits * h && (high + least.ln()).abs() <= digits * h, "{h}: {low} {high}");
    }
    let tiny = HazardScale::Arcsine.ends(1e-12, 1e-13, 1.0);
    assert!((tiny.0 / 0.9025e-12 - 1.0).abs() < 1e-9 && (tiny.1 / 1.1025e-12 - 1.0).abs() < 1e-9, "{tiny:?}");
}

#[test]
fn the_hazard_of_a_curve_that_drops_to_zero_keeps_its_band() {
    let curve = curve(&[100.0, 200.0, 300.0, 400.0, 500.0], &[100.0, 200.0, 300.0, 400.0, 500.0], BandScale::LogLog);
    assert_eq!((curve.band()[4], curve.reliability()[4]), (None, 0.0));
    let variance: f64 = (1..=5).map(|n| 1.0 / f64::from(n * n)).sum();
    assert!((curve.cumulative_hazard_standard_error()[4].unwrap() - variance.sqrt()).abs() < 1e-14);
    let all = simultaneous_hazard_band(&curve).unwrap();
    assert_eq!((all.ages, all.each[4]), (Some((100.0, 400.0)), None));
    // A curve saved before curves held the variance has none, and is read.
    let text = curve.to_json().unwrap();
    let from = text.find("\"hazard_variance\"").unwrap();
    let to = from + text[from..].find("],").unwrap() + 2;
    let before = Curve::from_json(&[&text[..from], &text[to..]].concat()).unwrap();
    assert_eq!(before.cumulative_hazard_standard_error(), [None; 5]);
    assert_eq!(before.cumulative_hazard_band_at(250.0), None);
}

#[test]
fn bands_of_the_hazard_hold_the_truth_as_often_as_they_say() {
    const REPLICATES: u64 = 1000;
    // Median 1,000 h and shape 2: H = ln 2 (t / 1,000)^2.
    let hazard = |age: f64| std::f64::consts::LN_2 * (age / 1000.0).powi(2);
    let (mut missed, mut strayed, mut alone) = ([0; 3], 0, 0);
    for replicate in 0..REPLICATES {
        let (low, high) = sample(80, replicate);
        let tally = Tally::from_rows(&Rows { low, high, ..Rows::default() }).unwrap().0;
        let curves = HazardScale::ALL.map(|hazard_scale| {
            product_limit(&tally, &CurveOptions { hazard_scale, ..CurveOptions::default() }).unwrap()
        });
        for (missed, curve) in missed.iter_mut().zip(&curves) {
            let (low, high) = curve.cumulative_hazard_band_at(1000.0).unwrap();
            *missed += i32::from(!(low..=high).contains(&hazard(1000.0)));
        }
        // The truth is smooth and the curve a step: it must hold at both ends of each step.
        let outside = |each: &[Option<(f64, f64)>]| {
            let ages = curves[0].ages();
            each.iter().enumerate().any(|(i, ends)| {
                let Some((low, high)) = ends else { return false };
                let next = ages.get(i + 1).map_or(f64::NAN, |a| hazard(*a));
                !(low..=high).contains(&&hazard(ages[i]))
                    || (each.get(i + 1).is_some_and(Option::is_some) && next > *high)
            })
        };
        strayed += i32::from(outside(&simultaneous_hazard_band(&curves[0]).unwrap().each));
        alone += i32::from(outside(&curves[2].cumulative_hazard_band()));
    }
    println!("at one age {missed:?}, everywhere {strayed}, the band at one age everywhere {alone}");
    // 5 % of 1,000 is 50; a binomial count lies outside 27 to 78 in one of 2,000 runs.
    for (scale, missed) in HazardScale::ALL.iter().zip(missed) {
        assert!((27..=78).contains(&missed), "{scale:?}: {missed}");
    }
    assert!((20..=78).contains(&strayed), "{strayed}");
    assert!(alone > 300, "{alone}");
}

/// Freireich et al. (1963), treated arm: median 23 weeks; lower ends of its 95 % interval by two scales from memory
/// (13 on the log-log scale, 16 on the log scale, no upper end).
#[test]
fn the_median_of_the_leukaemia_arm_has_its_published_interval() {
    let tally = freireich();
    for (scale, low) in [(BandScale::LogLog, 13.0), (BandScale::Log, 16.0)] {
        let options = CurveOptions { band_scale: scale, ..CurveOptions::default() };
        let median = product_limit(&tally, &options).unwrap().quantile_interval(0.5).unwrap();
        assert_eq!((median.low, median.age, median.high), (Some(low), Some(23.0), None), "{scale:?}");
    }
}

#[test]
fn quantile_intervals_hold_the_true_median_as_often_as_they_say() {
    const REPLICATES: u64 = 400;
    for scale in [BandScale::LogLog, BandScale::Arcsine] {
        let missed = (0..REPLICATES)
            .filter(|&replicate| {
                let (low, high) = sample(60, replicate);
                let median = curve(&low, &high, scale).quantile_interval(0.5).unwrap();
                median.low.is_none_or(|l| l > 1000.0) || median.high.is_some_and(|h| h < 1000.0)
            })
            .count();
        // 5 % of 400 is 20; a binomial count lies outside 5 to 38 in one of 10,000 runs.
        assert!((5..=38).contains(&missed), "{scale:?}: {missed}");
    }
}

#[test]
fn an_interval_ends_at_the_step_after_the_last_that_the_test_keeps() {
    // One failure every 100 h: R = 1 - i / 20, standard error root(R (1 - R) / 20); on the plain scale 1.96 of them hold 1/2
    // from R = 0.7 (0.7 - 0.2008) to R = 0.3 (0.3 + 0.2008).
    let ages: Vec<f64> = (1..=20).map(|i| 100.0 * f64::from(i)).collect();
    let median = curve(&ages, &ages, BandScale::Plain).quantile_interval(0.5).unwrap();
    assert_eq!((median.low, median.age, median.high), (Some(600.0), Some(1000.0), Some(1500.0)));
}

#[test]
fn a_share_without_an_interval_is_refused_and_a_jump_across_it_is_its_own() {
    let ten = curve(&[100.0; 10], &[100.0; 10], BandScale::LogLog);
    let median = ten.quantile_interval(0.5).unwrap();
    assert_eq!((median.low, median.age, median.high), (Some(100.0), Some(100.0), Some(100.0)));
    for p in [0.0, 1.0, f64::NAN, -0.1] {
        assert_eq!(ten.quantile_interval(p).unwrap_err().slug(), "empirical.probability");
    }
    let none = curve(&[100.0; 10], &[INF; 10], BandScale::LogLog).quantile_interval(0.5).unwrap();
    assert_eq!((none.low, none.age, none.high), (None, None, None));
}

#[test]
fn mean_hours_of_a_complete_sample_are_those_of_its_ages() {
    let mut stream = Stream::new(5, "curve_spread", "complete", 0);
    let ages: Vec<f64> = (0..50).map(|_| 1000.0 * stream.exponential()).collect();
    let n = ages.len() as f64;
    let curve = curve(&ages, &ages, BandScale::LogLog);
    let mean = ages.iter().sum::<f64>() / n;
    let square = ages.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / n;
    let made = curve.restricted_mean_interval(curve.last_age()).unwrap();
    assert!((made.mean_hours - mean).abs() < 1e-9 * mean);
    assert!((made.standard_error - (square / n).sqrt()).abs() < 1e-9 * mean);
    assert_eq!(made.mean_hours, curve.restricted_mean_interval(curve.last_age()).unwrap().mean_hours);
    assert!((made.high - made.mean_hours - normal_quantile(0.975) * made.standard_error).abs() < 1e-9);
    assert!(made.sentence.contains("every hour is counted"));
    // The ages have digits beyond any meter; the sentence has not.
    let digits = |text: &str| text.split_once(" h").and_then(|t| t.0.rsplit_once('.')).map_or(0, |d| d.1.len());
    assert!(digits(&made.sentence) <= 1, "{}", made.sentence);
    let left: Vec<f64> = ages.iter().filter(|a| **a > 500.0).map(|a| a - 500.0).collect();
    let n = left.len() as f64;
    let mean = left.iter().sum::<f64>() / n;
    let square = left.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / n;
    let made = curve.mean_residual_life(500.0).unwrap();
    assert!((made.mean_hours - mean).abs() < 1e-9 * mean);
    assert!((made.standard_error - (square / n).sqrt()).abs() < 1e-9 * mean);
}

/// The variance as the double integral of the covariance of the curve at two ages, R(s) R(t) x the sum up to the earlier.
#[test]
fn the_variance_of_a_restricted_mean_is_the_double_integral_of_the_covariance() {
    let (low, high) = sample(25, 3);
    let curve = curve(&low, &high, BandScale::LogLog);
    let to = 1200.0;
    let mut pieces = vec![(0.0, 1.0, 0.0)];
    let mut sum = 0.0;
    for (i, &age) in curve.ages().iter().enumerate().filter(|(_, age)| **age < to) {
        let (n, d) = (curve.at_risk()[i] as f64, curve.failures()[i] as f64);
        sum += d / (n * (n - d));
        pieces.push((age, curve.reliability()[i], sum));
    }
    let width = |i: usize| pieces.get(i + 1).map_or(to, |p| p.0) - pieces[i].0;
    let mut variance = 0.0;
    for (i, a) in pieces.iter().enumerate() {
        for (j, b) in pieces.iter().enumerate() {
            variance += width(i) * width(j) * a.1 * b.1 * a.2.min(b.2);
        }
    }
    let made = curve.restricted_mean_interval(to).unwrap();
    assert!((made.standard_error / variance.sqrt() - 1.0).abs() < 1e-12);
    assert_eq!(made.mean_hours, {
        let plain = curve.restricted_mean(to).unwrap();
        assert!((plain - made.mean_hours).abs() < 1e-9);
        made.mean_hours
    });
    assert!(made.still_working > 0.0 && made.sentence.contains("are not counted"));
}

#[test]
fn lamps_that_failed_at_age_0_count_in_the_restricted_mean() {
    let some = curve(&[0.0, 100.0, 100.0, 200.0], &[0.0, 100.0, INF, 200.0], BandScale::LogLog);
    let mean = some.restricted_mean_interval(200.0).unwrap();
    assert!((mean.mean_hours - some.restricted_mean(200.0).unwrap()).abs() < 1e-12);
    // Of lamps that passed age 0: a third failed at 100 h, the others worked to 200 h.
    assert!((some.mean_residual_life(0.0).unwrap().mean_hours - 500.0 / 3.0).abs() < 1e-9);
}

#[test]
fn mean_hours_past_what_was_seen_are_refused() {
    let some = curve(&[100.0, 200.0, 300.0], &[100.0, 200.0, INF], BandScale::LogLog);
    assert_eq!(some.restricted_mean_interval(301.0).unwrap_err().slug(), "empirical.beyond_last_age");
    for age in [300.0, -1.0, f64::NAN] {
        assert_eq!(some.mean_residual_life(age).unwrap_err().slug(), "empirical.beyond_last_age");
    }
    // The curve drops to 0 at 200 h and a lamp that entered later is seen working.
    let rows = Rows {
        low: vec![100.0, 200.0, 300.0],
        high: vec![100.0, 200.0, INF],
        entry: Some(vec![0.0, 0.0, 250.0]),
        ..Rows::default()
    };
    let options = CurveOptions { min_at_risk: 1, ..CurveOptions::default() };
    let sunk = product_limit(&Tally::from_rows(&rows).unwrap().0, &options).unwrap();
    assert_eq!(sunk.mean_residual_life(220.0).unwrap_err().slug(), "empirical.none_left");
}
