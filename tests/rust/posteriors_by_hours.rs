//! The posterior of lives whose ages move by hours: closed forms, the same lives on the logarithm, sums over a grid.

use relamp::Run;
use relamp::family::{Life, Logistic, Normal, SmallestExtremeValue, family};
use relamp::fit::{Belief, FitOptions, Posterior, Prior, Quantity, Sides, posterior};
use relamp::lives::{Rows, Tally};
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

const INF: f64 = f64::INFINITY;

fn of(name: &str, rows: &Rows, prior: &Prior, draws: usize) -> Posterior {
    let (tally, _) = Tally::from_rows(rows).unwrap();
    posterior(family(name).unwrap(), &tally, &FitOptions::default(), prior, draws, 5, &Run::new()).unwrap()
}

fn exact(ages: &[f64]) -> Rows {
    Rows { low: ages.to_vec(), high: ages.to_vec(), ..Rows::default() }
}

fn parameter(name: &str) -> Quantity {
    Quantity::Parameter(name.to_owned())
}

#[test]
fn all_failed_normal_lives_give_the_t_and_the_chi_square_law() {
    // Even beliefs of location and ln scale: (location - mean) / (s / sqrt n) is t with n - 1 degrees of freedom, and
    // (n - 1) s^2 / scale^2 chi-square (A. Gelman and others (2013), Bayesian Data Analysis, section 3.2, from memory).
    for ages in [&[812.0, 940.0, 1003.0, 1210.0, 1333.0, 1525.0][..], &[700.0, 900.0, 1700.0], &[800.0, 1000.0]] {
        let n = ages.len() as f64;
        let mean = ages.iter().sum::<f64>() / n;
        let sd = (ages.iter().map(|a| (a - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let got = of("normal", &exact(ages), &Prior::default(), 0);
        let t = StudentsT::new(0.0, 1.0, n - 1.0).unwrap();
        let chi = ChiSquared::new(n - 1.0).unwrap();
        for p in [0.025, 0.3, 0.9, 0.99] {
            let end = mean + t.inverse_cdf(p) * sd / n.sqrt();
            let below = got.probability_below(&parameter("location"), end).unwrap();
            assert!((below - p).abs() < 1e-7, "{n} {p} {below}");
            let end = sd * ((n - 1.0) / chi.inverse_cdf(1.0 - p)).sqrt();
            let below = got.probability_below(&parameter("scale"), end).unwrap();
            assert!((below - p).abs() < 1e-7, "{n} {p} {below}");
        }
        let held = got.interval(&Quantity::Mean, 0.9, Sides::Both).unwrap();
        let half = t.inverse_cdf(0.95) * sd / n.sqrt();
        assert!((held.low.unwrap() - (mean - half)).abs() < 1e-5 * half, "{held:?}");
        assert!((held.high.unwrap() - (mean + half)).abs() < 1e-5 * half, "{held:?}");
        // A t law of one degree of freedom has no mean, though its halves cancel; with two it has.
        let found = got.mean(&Quantity::Mean).unwrap();
        assert_eq!(found.is_some(), n > 2.0, "{n} {found:?}");
        assert!(found.is_none_or(|m| (m - mean).abs() < 1e-6 * mean), "{n} {found:?}");
    }
}

#[test]
fn lives_on_the_logarithm_have_the_posterior_of_the_logarithm_of_lives() {
    // ln of a Weibull life is a smallest extreme value life with scale 1 / shape, that of a lognormal life a normal one, that
    // of a log-logistic life a logistic one with scale 1 / shape: their posteriors are reached on other paths.
    let (low, high) = ([200.0, 412.0, 655.0, 780.0, 903.0, 1100.0], [300.0, 412.0, 655.0, 860.0, INF, INF]);
    let entry = [0.0, 0.0, 350.0, 0.0, 500.0, 0.0];
    let ln = |ages: &[f64]| -> Vec<f64> { ages.iter().map(|a| if *a > 0.0 { a.ln() } else { 0.0 }).collect() };
    // An entry at 0 is no entry, on the logarithm too.
    let whole = Rows { low: low.to_vec(), high: high.to_vec(), entry: Some(entry.to_vec()), ..Rows::default() };
    let logs = Rows { low: ln(&low), high: ln(&high), entry: Some(ln(&entry)), ..Rows::default() };
    for (ratio, hours, inverse) in [
        ("weibull", "smallest_extreme_value", true),
        ("lognormal", "normal", false),
        ("log_logistic", "logistic", true),
    ] {
        let wide = Prior { shape: Belief::Within { low: 0.5, high: 6.0 }, ..Prior::default() };
        let turned = Belief::Within { low: 1.0 / 6.0, high: 2.0 };
        let same = Prior { shape: if inverse { turned } else { wide.shape }, ..Prior::default() };
        let (a, b) = (of(ratio, &whole, &wide, 0), of(hours, &logs, &same, 0));
        for percent in [1.0_f64, 10.0, 50.0] {
            let one = a.interval(&Quantity::BLife(percent), 0.9, Sides::Both).unwrap();
            let other = b.interval(&Quantity::BLife(percent), 0.9, Sides::Both).unwrap();
            for (x, y) in [(one.low, other.low), (one.high, other.high), (one.estimate, other.estimate)] {
                assert!((x.unwrap().ln() - y.unwrap()).abs() < 2e-6, "{hours} {percent} {one:?} {other:?}");
            }
        }
        for age in [300.0_f64, 900.0] {
            let one = a.mean(&Quantity::Reliability(age)).unwrap().unwrap();
            let other = b.mean(&Quantity::Reliability(age.ln())).unwrap().unwrap();
            assert!((one - other).abs() < 1e-6, "{hours} {age} {one} {other}");
        }
    }
}

type Of = fn(f64, f64) -> Box<dyn Life>;

#[test]
fn beliefs_of_an_age_and_of_a_scale_give_a_sum_over_a_grid() {
    let (failed, good) = ([640.0, 905.0, 1180.0], 1300.0);
    let (low, high) = ([640.0, 905.0, 1180.0, good, good], [640.0, 905.0, 1180.0, INF, INF]);
    let rows = Rows { low: low.to_vec(), high: high.to_vec(), ..Rows::default() };
    let prior = Prior {
        percent: 10.0,
        b_life: Belief::Mostly { low: 300.0, high: 1000.0, probability: 0.9 },
        shape: Belief::Mostly { low: 100.0, high: 700.0, probability: 0.9 },
    };
    let bell = |low: f64, high: f64| (0.5 * (low * high).ln(), 0.5 * (high / low).ln() / 1.644_853_626_951_472_7);
    let ((middle, sd), (ln_scale, spread)) = (bell(300.0, 1000.0), bell(100.0, 700.0));
    let families: [(&str, Of); 3] = [
        ("normal", |location, scale| Box::new(Normal { location, scale })),
        ("logistic", |location, scale| Box::new(Logistic { location, scale })),
        ("smallest_extreme_value", |location, scale| Box::new(SmallestExtremeValue { location, scale })),
    ];
    for (name, life) in families {
        // Even steps over (ln b10, ln scale), where all falls away: (age, ln scale) has the belief of ln age over the age.
        let (steps, wide) = (240, 8.0);
        let (mut total, mut below, mut survive) = (0.0, 0.0, 0.0);
        for i in 0..=steps {
            let z = wide * (2.0 * f64::from(i) / f64::from(steps) - 1.0);
            let b10 = (middle + sd * z).exp();
            for j in 0..=steps {
                let y = wide * (2.0 * f64::from(j) / f64::from(steps) - 1.0);
                let scale = (ln_scale + spread * y).exp();
                let at_zero = life(0.0, scale).quantile(0.1).unwrap();
                let life = life(b10 - at_zero, scale);
                let ln = failed.iter().map(|t| life.ln_density(*t)).sum::<f64>() + 2.0 * life.ln_reliability(good);
                let weight = (ln - 0.5 * (z * z + y * y)).exp();
                total += weight;
                // A sum over a jump is good to half a step: its place is one of the steps.
                below += weight * if i < 130 { 1.0 } else { f64::from(u8::from(i == 130)) * 0.5 };
                survive += weight * life.ln_reliability(1000.0).exp();
            }
        }
        let got = of(name, &rows, &prior, 0);
        let mean = got.mean(&Quantity::Reliability(1000.0)).unwrap().unwrap();
        assert!((mean / (survive / total) - 1.0).abs() < 1e-6, "{name} {mean} {}", survive / total);
        let here = (middle + sd * wide * (260.0 / 240.0 - 1.0)).exp();
        let share = got.probability_below(&Quantity::BLife(10.0), here).unwrap();
        // The trapezoid leaves step^2 / 12 of the slope there.
        assert!((share - below / total).abs() < 2e-4, "{name} {share} {}", below / total);
    }
}

#[test]
fn the_hours_may_be_counted_in_any_unit_and_from_any_day() {
    let (low, high) = ([640.0, 905.0, 1180.0, 1300.0], [640.0, 905.0, 1180.0, INF]);
    let rows = |by: f64, from: f64| Rows {
        low: low.iter().map(|a| a * by + from).collect(),
        high: high.iter().map(|a| a * by + from).collect(),
        ..Rows::default()
    };
    for name in ["normal", "logistic", "smallest_extreme_value"] {
        let ends = |by: f64, from: f64| {
            let got = of(name, &rows(by, from), &Prior::default(), 0);
            let held = got.interval(&Quantity::BLife(10.0), 0.8, Sides::Both).unwrap();
            (held.low.unwrap(), held.high.unwrap())
        };
        let (low, high) = ends(1.0, 0.0);
        assert!(low < 0.0 && high > 0.0, "{name} {low} {high}");
        for (by, from) in [(1e-3, 0.0), (60.0, 0.0), (1.0, 5000.0)] {
            let (other_low, other_high) = ends(by, from);
            let size = (high - low) * by;
            assert!((other_low - (low * by + from)).abs() < 1e-6 * size, "{name} {by} {from} {low} {other_low}");
            assert!((other_high - (high * by + from)).abs() < 1e-6 * size, "{name} {by} {from} {high} {other_high}");
        }
    }
}

#[test]
fn draws_and_integrals_tell_one_story() {
    let rows = exact(&[812.0, 940.0, 1003.0, 1210.0, 1333.0, 1525.0]);
    let got = of("logistic", &rows, &Prior::default(), 2000);
    for quantity in [Quantity::BLife(10.0), Quantity::Mean, Quantity::Reliability(900.0), parameter("location")] {
        let held = got.interval(&quantity, 0.8, Sides::Both).unwrap();
        let value = |x: &[f64]| {
            let life = Logistic { location: x[0], scale: x[1].exp() };
            match quantity {
                Quantity::BLife(percent) => life.b_life(percent).unwrap(),
                Quantity::Reliability(age) => life.reliability(age),
                _ => life.location,
            }
        };
        let share = |end: f64| got.draws().iter().filter(|x| value(x) < end).count() as f64 / 2000.0;
        for (end, want) in [(held.low.unwrap(), 0.1), (held.high.unwrap(), 0.9)] {
            assert!((share(end) - want).abs() < 5.0 * 0.3 / 2000f64.sqrt(), "{quantity:?} {end} {}", share(end));
        }
    }
    let saved = serde_json::to_string(&got).unwrap();
    assert_eq!(serde_json::from_str::<Posterior>(&saved).unwrap(), got);
}
