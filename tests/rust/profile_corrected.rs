//! Profile intervals corrected by the simulated mean of the likelihood ratio.

use relamp::family::{Life, family};
use relamp::fit::{Fit, FitOptions, Function, Interval, IntervalMethod, Quantity, Scale, Sides, fit};
use relamp::lives::{Rows, Tally};
use relamp::records::Ending;
use relamp::{Error, Kind, Run};

const INF: f64 = f64::INFINITY;

fn tally(rows: &Rows) -> Tally {
    Tally::from_rows(rows).unwrap().0
}

fn exact(ages: &[f64]) -> Tally {
    tally(&Rows { low: ages.to_vec(), high: ages.to_vec(), ..Rows::default() })
}

fn fitted(name: &str, data: &Tally) -> Fit {
    fit(family(name).unwrap(), data, &FitOptions::default(), &Run::new()).unwrap()
}

fn corrected(got: &Fit, data: &Tally, asked: &Quantity, replicates: usize, seed: u64) -> Result<Interval, Error> {
    got.profile_corrected(data, &FitOptions::default(), asked, 0.95, replicates, seed, &Run::new())
}

fn scale() -> Quantity {
    Quantity::Parameter("scale".into())
}

fn shape() -> Quantity {
    Quantity::Parameter("shape".into())
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.2.1: 20 units, 10 failures by 500 h.
fn handbook() -> Tally {
    let failed = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
    let low: Vec<f64> = failed.iter().copied().chain([500.0; 10]).collect();
    let high: Vec<f64> = failed.iter().copied().chain([INF; 10]).collect();
    tally(&Rows { low, high, ..Rows::default() })
}

#[test]
fn the_mean_for_an_even_rate_is_its_closed_form() {
    // n failures and none censored: W = 2 n (x - 1 - ln x), x ~ Gamma(n) / n. Its mean is 2 n (ln n - digamma(n)), its
    // variance 4 n^2 (trigamma(n) - 1 / n). Both functions are finite sums at whole n.
    let (euler, basel) = (0.577_215_664_901_532_9, std::f64::consts::PI.powi(2) / 6.0);
    let replicates = 40_000;
    for n in [1_usize, 2, 5] {
        let ages: Vec<f64> = (1..=n).map(|i| 300.0 * i as f64).collect();
        let data = exact(&ages);
        let got = fitted("exponential", &data);
        let ratio = corrected(&got, &data, &scale(), replicates, 7).unwrap().ratio.unwrap();
        let whole = n as f64;
        let digamma = (1..n).map(|i| 1.0 / i as f64).sum::<f64>() - euler;
        let trigamma = basel - (1..n).map(|i| 1.0 / (i * i) as f64).sum::<f64>();
        let mean = 2.0 * whole * (whole.ln() - digamma);
        let error = 2.0 * whole * ((trigamma - 1.0 / whole) / replicates as f64).sqrt();
        assert!((ratio.mean - mean).abs() < 4.0 * error, "{n}: {ratio:?} {mean} {error}");
        // Far enough from no correction to be seen.
        assert!(mean > 1.0 + 3.0 * error && ratio.mean > 1.0);
        assert!((ratio.standard_error / error - 1.0).abs() < 0.1, "{n}: {ratio:?} {error}");
        assert_eq!((ratio.replicates, ratio.unsettled), (replicates as u64, 0));
    }
}

#[test]
fn the_ends_lie_where_the_ratio_over_its_mean_is_the_quantile() {
    // Exponential: d (ln(m / mean) + mean / m - 1) = 3.8415 ratio mean / 2 at both ends.
    let data = exact(&[400.0, 700.0, 900.0]);
    let got = fitted("exponential", &data);
    let interval = corrected(&got, &data, &scale(), 199, 3).unwrap();
    let (mean, ratio) = (interval.estimate.unwrap(), interval.ratio.unwrap());
    for end in [interval.low.unwrap(), interval.high.unwrap()] {
        let fall = 3.0 * ((end / mean).ln() + mean / end - 1.0);
        assert!((fall - 0.5 * ratio.mean * 3.841_458_820_694_124).abs() < 1e-8, "{end} {fall}");
    }
    assert_eq!((interval.method, interval.sides), (IntervalMethod::ProfileLikelihoodCorrected, Sides::Both));
}

#[test]
fn figures_of_one_parameter_have_one_mean() {
    // Each is a function of the mean life alone, so its ratio is that of the mean life, by whatever road it is found.
    let data = exact(&[400.0, 700.0, 900.0, 1500.0]);
    let got = fitted("exponential", &data);
    let want = corrected(&got, &data, &scale(), 150, 3).unwrap().ratio.unwrap();
    let within = Quantity::FailureWithin { age_hours: 100.0, hours: 200.0 };
    for asked in [Quantity::BLife(10.0), Quantity::Reliability(300.0), Quantity::Hazard(300.0), Quantity::Mean, within]
    {
        let ratio = corrected(&got, &data, &asked, 150, 3).unwrap().ratio.unwrap();
        assert!((ratio.mean / want.mean - 1.0).abs() < 1e-6, "{asked:?} {ratio:?} {want:?}");
    }
    let median = |life: &dyn Life, _: &[f64]| life.quantile(0.5);
    let own = Function { name: "median".into(), of: &median, scale: Scale::Positive };
    let run = Run::new();
    let made = got.profile_corrected_of(&data, &FitOptions::default(), &own, 0.95, 150, 3, &run).unwrap();
    let ours = corrected(&got, &data, &Quantity::Quantile(0.5), 150, 3).unwrap();
    assert!((made.ratio.unwrap().mean / want.mean - 1.0).abs() < 1e-6);
    assert!((made.low.unwrap() / ours.low.unwrap() - 1.0).abs() < 1e-6);
    assert_eq!(run.progress(), (150, 150));
}

#[test]
fn the_same_seed_gives_the_same_bits_for_any_number_of_threads() {
    let data = handbook();
    let got = fitted("weibull", &data);
    let made: Vec<Interval> = [1, 3]
        .into_iter()
        .map(|n| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
            pool.install(|| corrected(&got, &data, &shape(), 120, 5)).unwrap()
        })
        .collect();
    assert_eq!(made[0], made[1]);
    assert_ne!(made[0].ratio, corrected(&got, &data, &shape(), 120, 6).unwrap().ratio);
    // Endings that do not count are censored, in the simulated samples too.
    let failed: Vec<f64> = (1..=10).map(|i| 50.0 * f64::from(i)).collect();
    let named: Vec<Ending> = (0..10).map(|i| if i < 7 { Ending::Burst } else { Ending::Dim }).collect();
    let two = tally(&Rows { low: failed.clone(), high: failed.clone(), ending: Some(named), ..Rows::default() });
    let options = FitOptions { endings: Some(vec![Ending::Burst]), ..FitOptions::default() };
    let burst = fit(family("weibull").unwrap(), &two, &options, &Run::new()).unwrap();
    let of_burst = burst.profile_corrected(&two, &options, &shape(), 0.95, 120, 5, &Run::new()).unwrap();
    let high = (0..10).map(|i| if i < 7 { failed[i] } else { INF }).collect();
    let censored = tally(&Rows { low: failed, high, ..Rows::default() });
    let by_hand = corrected(&fitted("weibull", &censored), &censored, &shape(), 120, 5).unwrap();
    assert_eq!(of_burst.ratio, by_hand.ratio);
}

#[test]
fn a_stop_ends_the_work() {
    let data = handbook();
    let (got, run) = (fitted("weibull", &data), Run::new());
    run.stop();
    let stopped = got.profile_corrected(&data, &FitOptions::default(), &shape(), 0.95, 400, 1, &run).unwrap_err();
    assert_eq!(stopped.kind(), Kind::Stopped);
}

#[test]
fn what_cannot_be_simulated_is_refused_by_name() {
    let slug = |data: &Tally, name: &str| corrected(&fitted(name, data), data, &scale(), 99, 1).unwrap_err().slug();
    let ages = vec![300.0, 480.0, 550.0, 720.0, 900.0, 1100.0];
    let late = tally(&Rows { low: ages.clone(), high: ages.clone(), entry: Some(vec![100.0; 6]), ..Rows::default() });
    assert_eq!(slug(&late, "weibull"), "fit.distance_rows");
    let high: Vec<f64> = ages.iter().map(|a| a + 50.0).collect();
    assert_eq!(slug(&tally(&Rows { low: ages.clone(), high, ..Rows::default() }), "weibull"), "fit.distance_rows");
    let data = exact(&ages);
    let (got, run) = (fitted("weibull", &data), Run::new());
    let options = FitOptions::default();
    let ask = |got: &Fit, options: &FitOptions, asked: &Quantity, level: f64, replicates: usize| {
        got.profile_corrected(&data, options, asked, level, replicates, 1, &run).unwrap_err().slug()
    };
    assert_eq!(ask(&got, &options, &shape(), 0.95, 98), "fit.replicates");
    assert_eq!(ask(&got, &options, &shape(), 1.0, 99), "fit.level");
    assert_eq!(ask(&got, &options, &Quantity::Parameter("slope".into()), 0.95, 99), "fit.parameter_unknown");
    assert_eq!(ask(&got, &options, &Quantity::BLife(100.0), 0.95, 99), "fit.share");
    assert_eq!(ask(&fitted("weibull", &handbook()), &options, &shape(), 0.95, 99), "fit.other_data");
    let weights = FitOptions { weights: Some(vec![1.5; 6]), ..FitOptions::default() };
    let weighted = fit(family("weibull").unwrap(), &data, &weights, &run).unwrap();
    assert_eq!(ask(&weighted, &weights, &shape(), 0.95, 99), "fit.ratio_mean");
    // Nothing was simulated for any of these.
    assert_eq!(run.progress(), (0, 0));
    // One failure among thirty lamps: more than one simulated sample in three has none.
    let low: Vec<f64> = [700.0].into_iter().chain([1000.0; 29]).collect();
    let high: Vec<f64> = [700.0].into_iter().chain([INF; 29]).collect();
    assert_eq!(slug(&tally(&Rows { low, high, ..Rows::default() }), "weibull"), "fit.replicate_unsettled");
}
