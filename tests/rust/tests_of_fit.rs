//! Likelihood-ratio tests, and distances from the curve with chances by parametric bootstrap.

use relamp::base::random::Stream;
use relamp::family::{Exponential, Life, Lognormal, Weibull, family};
use relamp::fit::{DistanceTest, Fit, FitOptions, distance_test, fit, likelihood_ratio};
use relamp::lives::{Rows, Tally};
use relamp::{Kind, Run};

const INF: f64 = f64::INFINITY;

fn rows(low: &[f64], high: &[f64]) -> Tally {
    Tally::from_rows(&Rows { low: low.to_vec(), high: high.to_vec(), ..Rows::default() }).unwrap().0
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap()
}

fn test(name: &str, tally: &Tally, replicates: usize, seed: u64) -> DistanceTest {
    distance_test(family(name).unwrap(), tally, None, replicates, seed, &Run::new()).unwrap()
}

/// Lives under staggered censoring, about a third of them censored.
fn staggered(life: &dyn Life, n: usize, seed: u64) -> Tally {
    let ages = life.draws(n, &mut Stream::new(seed, "test", "lives", 0)).unwrap();
    let mut stream = Stream::new(seed, "test", "censoring", 0);
    let ends: Vec<f64> = ages.iter().map(|_| 400.0 + 1600.0 * stream.uniform()).collect();
    let low: Vec<f64> = ages.iter().zip(&ends).map(|(a, c)| a.min(*c)).collect();
    let high: Vec<f64> = ages.iter().zip(&ends).map(|(a, c)| if a <= c { *a } else { INF }).collect();
    rows(&low, &high)
}

#[test]
fn the_likelihood_ratio_is_that_of_published_maxima() {
    // NIST/SEMATECH e-Handbook 8.4.1.3: 20 units, 10 failures; log-likelihoods recomputed at 40 digits.
    let ages = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
    let low: Vec<f64> = ages.iter().copied().chain([500.0; 10]).collect();
    let high: Vec<f64> = ages.iter().copied().chain([INF; 10]).collect();
    let tally = rows(&low, &high);
    let (even, wear) = (fitted("exponential", &tally), fitted("weibull", &tally));
    let got = likelihood_ratio(&tally, &FitOptions::default(), &even, &wear).unwrap();
    assert!((got.statistic - 2.0 * (76.555_690_422_2 - 75.134_618_164_5)).abs() < 1e-9, "{got:?}");
    // Chance of a chi-square with 1 degree of freedom above it, scipy 1.17: 0.091821592239.
    assert!((got.p_value - 0.091_821_592_239).abs() < 1e-10, "{got:?}");
    let slug =
        |narrow: &Fit, wide: &Fit| likelihood_ratio(&tally, &FitOptions::default(), narrow, wide).unwrap_err().slug();
    assert_eq!(slug(&wear, &even), "fit.not_nested");
    assert_eq!(slug(&even, &fitted("lognormal", &tally)), "fit.not_nested");
    let other = rows(&[5.0, 7.0, 9.0], &[5.0, 7.0, 9.0]);
    assert_eq!(slug(&even, &fitted("weibull", &other)), "fit.other_records");
}

#[test]
fn the_likelihood_ratio_holds_its_level() {
    let (runs, mut called) = (2000_u32, 0);
    for i in 0..runs {
        let tally = staggered(&Exponential { scale: 1000.0 }, 60, u64::from(i));
        let got = likelihood_ratio(
            &tally,
            &FitOptions::default(),
            &fitted("exponential", &tally),
            &fitted("weibull", &tally),
        );
        called += u32::from(got.unwrap().p_value < 0.1);
    }
    // 99.9 % binomial range around 200 of 2,000 is 157 to 245; about 38 failures add a little.
    assert!((157..=250).contains(&called), "{called}");
}

#[test]
fn distances_are_the_classical_ones_without_censoring() {
    let ages = Weibull { shape: 2.0, scale: 1000.0 }.draws(25, &mut Stream::new(1, "test", "classical", 0)).unwrap();
    let tally = rows(&ages, &ages);
    let mut sorted = ages;
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    for name in ["exponential", "weibull", "lognormal"] {
        let got = test(name, &tally, 99, 1);
        let life = fitted(name, &tally).life().unwrap();
        // Anderson & Darling (1954): -n - sum (2 i - 1) (ln F(i) + ln R(n + 1 - i)) / n.
        let term = |i: usize| {
            (2 * i + 1) as f64 * (life.ln_failure_probability(sorted[i]) + life.ln_reliability(sorted[n - 1 - i]))
        };
        let square = -(n as f64) - (0..n).map(term).sum::<f64>() / n as f64;
        assert!((got.anderson_darling - square).abs() < 1e-10 * square, "{name} {got:?} {square}");
        let gap = (0..n).fold(0.0_f64, |most, i| {
            let f = life.failure_probability(sorted[i]);
            most.max(f - i as f64 / n as f64).max((i + 1) as f64 / n as f64 - f)
        });
        assert!((got.kolmogorov - gap * (n as f64).sqrt()).abs() < 1e-12, "{name} {got:?}");
    }
}

#[test]
fn chances_without_censoring_agree_with_the_printed_table() {
    // Stephens (1977), extreme value and Weibull with both parameters estimated, A^2 (1 + 0.2 / sqrt n): 10 % above 0.637,
    // 5 % above 0.757, 2.5 % above 0.877, 1 % above 1.038 (from memory). Straight lines of ln chance between them.
    let table = [(0.637, 0.1_f64), (0.757, 0.05), (0.877, 0.025), (1.038, 0.01)];
    let mut seen = 0;
    for seed in 0..400 {
        let ages = Weibull { shape: 1.5, scale: 1000.0 }.draws(30, &mut Stream::new(seed, "test", "table", 0)).unwrap();
        let tally = rows(&ages, &ages);
        let square = test("weibull", &tally, 99, 1).anderson_darling * (1.0 + 0.2 / 30.0_f64.sqrt());
        let Some(k) = (0..3).find(|&k| square >= table[k].0 && square < table[k + 1].0) else { continue };
        let along = (square - table[k].0) / (table[k + 1].0 - table[k].0);
        let printed = (table[k].1.ln() * (1.0 - along) + table[k + 1].1.ln() * along).exp();
        let got = test("weibull", &tally, 4000, 7).p_anderson_darling;
        // Four standard errors of a share of 4,000, and a twentieth for the printed digits.
        let tolerance = 4.0 * (printed * (1.0 - printed) / 4000.0).sqrt() + 0.05 * printed;
        assert!((got - printed).abs() < tolerance, "{square} {got} {printed}");
        seen += 1;
        if seen == 5 {
            break;
        }
    }
    assert_eq!(seen, 5);
}

#[test]
fn chances_under_censoring_are_even_if_the_family_fits() {
    let (runs, mut small, mut sum) = (300_u32, [0, 0], [0.0, 0.0]);
    for i in 0..runs {
        let tally = staggered(&Weibull { shape: 2.0, scale: 1000.0 }, 40, 1000 + u64::from(i));
        let got = test("weibull", &tally, 99, u64::from(i));
        for (k, p) in [got.p_anderson_darling, got.p_kolmogorov].into_iter().enumerate() {
            small[k] += u32::from(p <= 0.2);
            sum[k] += p / f64::from(runs);
        }
    }
    println!("{small:?} {sum:?}");
    for k in 0..2 {
        // 99.9 % binomial range around 60 of 300 is 38 to 84; the mean of even chances is 0.505 with standard error 0.017.
        assert!((38..=84).contains(&small[k]), "{small:?}");
        assert!((sum[k] - 0.505).abs() < 0.06, "{sum:?}");
    }
}

#[test]
fn a_wrong_family_is_found_out() {
    let mut found = 0;
    for i in 0..40 {
        let tally = staggered(&Lognormal { location: 6.8, scale: 0.25 }, 80, 5000 + i);
        let got = test("exponential", &tally, 99, i);
        found += i32::from(got.p_anderson_darling < 0.05 && got.verdict.contains("speak against"));
    }
    assert!(found >= 39, "{found}");
}

#[test]
fn distances_refuse_rows_without_a_curve() {
    let slug = |tally: &Tally, replicates| {
        let error = distance_test(family("weibull").unwrap(), tally, None, replicates, 1, &Run::new()).unwrap_err();
        (error.kind(), error.slug())
    };
    let ages = [5.0, 7.0, 9.0, 12.0];
    assert_eq!(slug(&rows(&ages, &ages), 98), (Kind::Input, "fit.replicates"));
    let interval = rows(&[5.0, 7.0, 9.0], &[6.0, 7.0, 9.0]);
    assert_eq!(slug(&interval, 99), (Kind::Refused, "fit.distance_rows"));
    let late =
        Rows { low: ages.to_vec(), high: ages.to_vec(), entry: Some(vec![0.0, 1.0, 0.0, 0.0]), ..Rows::default() };
    assert_eq!(slug(&Tally::from_rows(&late).unwrap().0, 99), (Kind::Refused, "fit.distance_rows"));
    let many = Rows { low: ages.to_vec(), high: ages.to_vec(), count: Some(vec![100_000, 1, 1, 1]), ..Rows::default() };
    assert_eq!(slug(&Tally::from_rows(&many).unwrap().0, 99), (Kind::Limit, "fit.distance_too_many"));
}

#[test]
fn a_mixture_that_holds_is_seldom_called() {
    // Two kinds far apart; replicates are fitted again from near the peak of the records. At most 5 of 14 chances below 0.1
    // with a probability of 99.8 % (binomial), and their mean within 4 standard errors of a half.
    let mut chances = Vec::new();
    for seed in 0..14 {
        let mut lives =
            Weibull { shape: 2.0, scale: 200.0 }.draws(20, &mut Stream::new(seed, "test", "early", 0)).unwrap();
        lives.extend(
            Weibull { shape: 4.0, scale: 1500.0 }.draws(40, &mut Stream::new(seed, "test", "late", 0)).unwrap(),
        );
        let tally = rows(
            &lives.iter().map(|t| t.min(1700.0)).collect::<Vec<_>>(),
            &lives.iter().map(|t| if *t > 1700.0 { INF } else { *t }).collect::<Vec<_>>(),
        );
        chances.push(test("mixture(weibull, weibull)", &tally, 99, seed).p_anderson_darling);
    }
    let below = chances.iter().filter(|p| **p < 0.1).count();
    let mean = chances.iter().sum::<f64>() / 14.0;
    assert!(below <= 5 && (mean - 0.5).abs() < 4.0 * (1.0 / 12.0_f64 / 14.0).sqrt(), "{below} {mean} {chances:?}");
}
