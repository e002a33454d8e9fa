//! Profiles of likelihoods with several branches, against the likelihood itself on grids written here: an interval holds
//! every value whose best life is likely enough, wherever that life lies.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Life, Term, Weibull, family};
use relamp::fit::{Fit, FitOptions, Identified, Interval, Quantity, Sides, fit};
use relamp::lives::{Rows, Tally};

const INF: f64 = f64::INFINITY;
/// Half of the 95 % quantile of the chi-square distribution with 1 degree of freedom, from any printed table.
const CUT: f64 = 0.5 * 3.841_458_820_694_124;

fn tally(rows: &[(f64, bool, f64, u64)]) -> Tally {
    let rows = Rows {
        low: rows.iter().map(|r| r.0).collect(),
        high: rows.iter().map(|r| if r.1 { r.0 } else { INF }).collect(),
        entry: Some(rows.iter().map(|r| r.2).collect()),
        count: Some(rows.iter().map(|r| r.3).collect()),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

fn fitted(name: &str, tally: &Tally) -> Fit {
    fit(family(name).unwrap(), tally, &FitOptions::default(), &Run::new()).unwrap()
}

fn profile(fit: &Fit, tally: &Tally, quantity: &Quantity) -> Interval {
    fit.profile(tally, &FitOptions::default(), quantity, 0.95, Sides::Both, &Run::new()).unwrap()
}

fn parameter(name: &str) -> Quantity {
    Quantity::Parameter(name.into())
}

/// Even steps from one number to another.
fn steps(from: f64, to: f64, n: usize) -> impl Iterator<Item = f64> + Clone {
    (0..=n).map(move |k| from + (to - from) * k as f64 / n as f64)
}

/// Highest value of a function of one number, by a grid and then by golden sections around its best place.
fn top(f: &dyn Fn(f64) -> f64, from: f64, to: f64, n: usize) -> f64 {
    let width = (to - from) / n as f64;
    let best = steps(from, to, n).max_by(|a, b| f(*a).total_cmp(&f(*b))).unwrap();
    let (mut a, mut b) = (best - width, best + width);
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    for _ in 0..60 {
        let (c, d) = (b - golden * (b - a), a + golden * (b - a));
        if f(c) > f(d) { b = d } else { a = c }
    }
    f(0.5 * (a + b)).max(f(best))
}

/// ln L of a Weibull life with a share that never fails, for 2 failures and 30 lamps that passed 500 h.
fn never(share: f64, ln_shape: f64, ln_scale: f64) -> f64 {
    let life = Weibull { shape: ln_shape.exp(), scale: ln_scale.exp() };
    let failed: f64 = [300.0, 400.0].iter().map(|t| (-share).ln_1p() + life.ln_density(*t)).sum();
    failed + 30.0 * (share + (1.0 - share) * life.reliability(500.0)).ln()
}

#[test]
fn a_share_that_may_be_none_is_open_below() {
    let records = tally(&[(300.0, true, 0.0, 1), (400.0, true, 0.0, 1), (500.0, false, 0.0, 30)]);
    let found = fitted("never_fails(weibull)", &records);
    let best = |share: f64| top(&|k| top(&|s| never(share, k, s), 5.5, 12.0, 65), -0.5, 2.5, 30);
    // Shares down to none lie within the cut, those near 1 do not.
    for share in [1e-6, 0.05, 0.5, 0.9] {
        assert!(found.log_likelihood() - best(share) < CUT, "{share}");
    }
    assert!(found.log_likelihood() - best(0.995) > CUT);
    let share = profile(&found, &records, &parameter("never_share"));
    assert_eq!(share.low, None, "{share:?}");
    let high = share.high.unwrap();
    assert!((found.log_likelihood() - best(high) - CUT).abs() < 1e-4, "{high}");
    let mark = found.identified().iter().find(|m| m.parameter == "never_share").unwrap();
    assert_eq!((mark.identified, mark.low), (Identified::No, None));
    // Reliability at 2,000 h: the lowest value on a grid of likely lives.
    let mut lowest = 1.0f64;
    for share in steps(0.0, 0.9, 45) {
        for k in steps(-0.5, 2.5, 60) {
            for s in steps(5.5, 12.0, 130) {
                if found.log_likelihood() - never(share, k, s) <= CUT {
                    let life = Weibull { shape: k.exp(), scale: s.exp() };
                    lowest = lowest.min(share + (1.0 - share) * life.reliability(2000.0));
                }
            }
        }
    }
    let passed = profile(&found, &records, &Quantity::Reliability(2000.0));
    assert!(lowest < 0.01 && passed.low.is_none_or(|low| low <= lowest), "{lowest} {passed:?}");
}

#[test]
fn an_interval_holds_every_likely_peak() {
    let name = "mixture(weibull, weibull)";
    let (mut seen, mut run) = (0, 0);
    while seen < 6 {
        run += 1;
        let mut stream = Stream::new(run, "test", "peaks", 0);
        let early = Weibull { shape: 1.0, scale: 500.0 }.draws(9, &mut stream).unwrap();
        let late = Weibull { shape: 4.0, scale: 3000.0 }.draws(21, &mut stream).unwrap();
        let rows: Vec<_> = early.iter().chain(&late).map(|t| (t.min(3000.0), *t <= 3000.0, 0.0, 1)).collect();
        let records = tally(&rows);
        let Ok(found) = fit(family(name).unwrap(), &records, &FitOptions::default(), &Run::new()) else { continue };
        let likely = |p: &&relamp::fit::Peak| found.log_likelihood() - p.log_likelihood < CUT;
        let peaks: Vec<_> = found.peaks().iter().filter(likely).collect();
        if peaks.len() < 2 {
            continue;
        }
        seen += 1;
        for (i, name) in found.family().unwrap().parameter_names().iter().enumerate() {
            let interval = profile(&found, &records, &parameter(name));
            for peak in &peaks {
                let value = peak.parameters[i];
                assert!(interval.low.is_none_or(|low| low <= value), "run {run} {name} {value} {interval:?}");
                assert!(interval.high.is_none_or(|high| high >= value), "run {run} {name} {value} {interval:?}");
            }
        }
    }
}

/// Eight failures and four lamps that still burn, some under observation late.
const LATE: [(f64, bool, f64, u64); 12] = [
    (1015.0, true, 0.0, 1),
    (1633.0, true, 84.0, 1),
    (1558.0, true, 264.0, 1),
    (1768.0, true, 0.0, 1),
    (1800.0, false, 0.0, 1),
    (1800.0, false, 0.0, 1),
    (1154.0, true, 532.0, 1),
    (902.0, true, 272.0, 1),
    (914.0, true, 0.0, 1),
    (1800.0, false, 0.0, 1),
    (331.0, true, 0.0, 1),
    (1800.0, false, 537.0, 1),
];

#[test]
fn the_mean_of_few_lives_reaches_as_far_as_any_likely_life() {
    let records = tally(&LATE);
    let gompertz = family("gompertz").unwrap();
    let found = fitted("gompertz", &records);
    let ends = profile(&found, &records, &Quantity::Mean);
    // The mean is the scale times a function of the shape, so that the shape alone is left to be searched.
    let best = |mean: f64| {
        let of = |ln_shape: f64| {
            let unit = gompertz.life(&[ln_shape.exp(), 1.0]).unwrap().mean().unwrap();
            let life = gompertz.life(&[ln_shape.exp(), mean / unit]).unwrap();
            LATE.iter()
                .map(|(t, failed, entry, _)| {
                    let term = if *failed { life.ln_density(*t) } else { life.ln_reliability(*t) };
                    term - life.ln_reliability(*entry)
                })
                .sum::<f64>()
        };
        top(&of, -12.0, 2.0, 280)
    };
    let fall = |mean: f64| found.log_likelihood() - best(mean);
    for end in [ends.low.unwrap(), ends.high.unwrap()] {
        assert!((fall(end) - CUT).abs() < 1e-5, "{end} {}", fall(end));
    }
    // Beyond the end no mean is likely.
    for by in [1.01, 1.03, 1.1, 1.3, 2.0, 5.0] {
        assert!(fall(ends.high.unwrap() * by) > CUT, "{by}");
    }
}

#[test]
fn the_mean_of_a_gompertz_life_reaches_from_steep_wear_to_a_nearly_even_rate() {
    // Of 77 small samples nine had an end that stopped on the branch where the search began; they stand first.
    let gompertz = family("gompertz").unwrap();
    let mut ends = 0;
    for seed in [3, 21, 22, 24, 28, 39, 63, 69, 82, 0, 1, 2, 4, 5, 6, 7, 8, 9] {
        let n = 8 + (seed as usize * 5) % 13;
        let shape = [1.2, 2.0, 3.5][seed as usize % 3];
        let ages = Weibull { shape, scale: 1300.0 }.draws(n, &mut Stream::new(seed, "fit", "means", 0)).unwrap();
        let until = [1000.0, 1800.0][seed as usize % 2];
        let late = |i: usize| i.is_multiple_of(2) && seed % 3 != 1;
        let entry = |(i, t): (usize, &f64)| if late(i) { (0.5 * t).min(100.0 * (1.0 + (i % 6) as f64)) } else { 0.0 };
        let entries: Vec<f64> = ages.iter().enumerate().map(entry).collect();
        let rows: Vec<(f64, bool, f64, u64)> =
            ages.iter().zip(&entries).map(|(t, e)| (t.min(until), *t <= until, *e, 1)).collect();
        let records = tally(&rows);
        let Ok(found) = fit(gompertz, &records, &FitOptions::default(), &Run::new()) else { continue };
        let got = profile(&found, &records, &Quantity::Mean);
        let best = |mean: f64| {
            let of = |ln_shape: f64| {
                let unit = gompertz.life(&[ln_shape.exp(), 1.0]).and_then(|life| life.mean()).unwrap_or(f64::NAN);
                let Ok(life) = gompertz.life(&[ln_shape.exp(), mean / unit]) else { return -INF };
                let each = rows.iter().map(|(t, failed, entry, _)| {
                    let term = if *failed { life.ln_density(*t) } else { life.ln_reliability(*t) };
                    term - life.ln_reliability(*entry)
                });
                Some(each.sum::<f64>()).filter(|sum| !sum.is_nan()).unwrap_or(-INF)
            };
            top(&of, -20.0, 16.0, 360)
        };
        let fall = |mean: f64| found.log_likelihood() - best(mean);
        for (end, outward) in [(got.low, -1.0), (got.high, 1.0)] {
            let Some(end) = end else { continue };
            assert!((fall(end) - CUT).abs() < 1e-4, "{seed} {end} {}", fall(end));
            for by in [1.01_f64, 1.1, 1.5, 3.0] {
                assert!(fall(end * by.powf(outward)) > CUT, "{seed} {end} {by}");
            }
            ends += 1;
        }
    }
    assert!(ends >= 20, "{ends}");
}

/// Lives past a failure-free time, those above 1,500 h still burning.
const WAITED: [f64; 40] = [
    1144.831, 1500.0, 1500.0, 1500.0, 872.128, 1500.0, 1084.371, 1500.0, 1210.881, 701.185, 1500.0, 1183.189, 1500.0,
    1500.0, 1441.254, 971.905, 1103.623, 1500.0, 1332.671, 1248.71, 1500.0, 1125.085, 1500.0, 1429.491, 1500.0,
    873.933, 1500.0, 946.735, 1500.0, 1251.423, 1390.274, 1090.786, 1348.356, 1500.0, 1282.59, 1500.0, 1500.0,
    1477.598, 1500.0, 1500.0,
];
/// The same of another draw.
const WAITED_TOO: [f64; 40] = [
    1048.279, 1500.0, 479.599, 1476.174, 1500.0, 1500.0, 1371.874, 1168.293, 993.72, 1500.0, 1500.0, 1246.678, 1500.0,
    469.956, 1500.0, 1500.0, 1500.0, 677.108, 1500.0, 1372.665, 1500.0, 1224.566, 1500.0, 1500.0, 1500.0, 1500.0,
    1500.0, 1500.0, 1500.0, 1242.265, 1388.844, 1500.0, 1291.603, 1294.29, 1320.22, 1500.0, 1500.0, 809.677, 1500.0,
    1500.0,
];

#[test]
fn the_scale_past_a_failure_free_time_reaches_as_far_as_any_likely_life() {
    for ages in [WAITED, WAITED_TOO] {
        let rows: Vec<_> = ages.iter().map(|t| (*t, *t < 1500.0, 0.0, 1)).collect();
        let records = tally(&rows);
        let found = fitted("weibull_failure_free", &records);
        let ends = profile(&found, &records, &parameter("scale"));
        let first = ages.iter().copied().fold(INF, f64::min);
        // The highest maximum over the failure-free time: next to the first failure the likelihood has no bound, and a rise
        // that only leads there is no maximum.
        let best = |scale: f64| {
            let of = |location: f64| {
                let given = |ln_shape: f64| {
                    let life = Weibull { shape: ln_shape.exp(), scale };
                    let term = |t: &f64| {
                        if *t < 1500.0 { life.ln_density(t - location) } else { life.ln_reliability(t - location) }
                    };
                    ages.iter().map(term).sum::<f64>()
                };
                top(&given, -1.0, 3.0, 40)
            };
            let places: Vec<f64> = steps(0.0, 0.99 * first, 60).collect();
            let heights: Vec<f64> = places.iter().map(|l| of(*l)).collect();
            let peak = |i: &usize| (*i == 0 || heights[*i] >= heights[i - 1]) && heights[*i] >= heights[i + 1];
            (0..60)
                .filter(peak)
                .map(|i| if i == 0 { heights[0] } else { top(&of, places[i - 1], places[i + 1], 4) })
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let fall = |scale: f64| found.log_likelihood() - best(scale);
        for end in [ends.low, ends.high].into_iter().flatten() {
            assert!((fall(end) - CUT).abs() < 1e-4, "{end} {} {ends:?}", fall(end));
        }
        for by in [1.02, 1.05, 1.2, 1.5, 2.0] {
            assert!(ends.high.is_none_or(|high| fall(high * by) > CUT), "{by} {ends:?}");
            assert!(ends.low.is_none_or(|low| fall(low / by) > CUT), "{by} {ends:?}");
        }
    }
}

/// Every family of two parameters: the ends of the profile of each parameter, of an early age and of the mean, against the
/// likelihood over a grid of both coordinates.
#[test]
fn ends_hold_all_likely_lives_of_two_parameters() {
    let names = ["weibull", "lognormal", "log_logistic", "gamma", "birnbaum_saunders", "inverse_gaussian", "gompertz"];
    for (k, name) in names.iter().enumerate() {
        let family = family(name).unwrap();
        for run in 0..4u64 {
            let mut stream = Stream::new(run, "test", "grid", k as u64);
            let shape = [0.8, 1.5, 2.5, 2.0][run as usize];
            let ages = Weibull { shape, scale: 2000.0 }.draws(12, &mut stream).unwrap();
            let rows: Vec<_> = ages.iter().map(|t| (t.min(1800.0), *t <= 1800.0, 0.0, 1)).collect();
            let records = tally(&rows);
            let Ok(found) = fit(family, &records, &FitOptions::default(), &Run::new()) else { continue };
            let centre =
                family.coordinates(&found.parameters_at_maximum().iter().map(|p| p.1).collect::<Vec<_>>()).unwrap();
            let asked: Vec<Quantity> = family
                .parameter_names()
                .iter()
                .map(|n| parameter(n))
                .chain([Quantity::BLife(10.0), Quantity::Mean])
                .collect();
            let ends: Vec<Option<Interval>> = asked
                .iter()
                .map(|q| found.profile(&records, &FitOptions::default(), q, 0.95, Sides::Both, &Run::new()).ok())
                .collect();
            for a in steps(centre[0] - 4.0, centre[0] + 4.0, 160) {
                for b in steps(centre[1] - 4.0, centre[1] + 4.0, 160) {
                    let mut jet = relamp::family::Jet::new(2);
                    let mut height = 0.0;
                    for (t, failed, ..) in &rows {
                        let term = if *failed { Term::LnDensity } else { Term::LnReliability };
                        family.jet(&[a, b], *t, term, relamp::family::Order::Value, &mut jet);
                        height += jet.value;
                    }
                    if !height.is_finite() || found.log_likelihood() - height > CUT - 1e-9 {
                        continue;
                    }
                    let life = family.at(&[a, b]).unwrap();
                    let parameters = family.parameters(&[a, b]);
                    for (j, end) in ends.iter().enumerate() {
                        let Some(end) = end else { continue };
                        let value = match j {
                            0 | 1 => parameters[j],
                            2 => life.b_life(10.0).unwrap(),
                            _ => life.mean().unwrap(),
                        };
                        let slack = 1e-9 * value.abs();
                        assert!(end.low.is_none_or(|low| low <= value + slack), "{name} {run} {value} {end:?}");
                        assert!(end.high.is_none_or(|high| high >= value - slack), "{name} {run} {value} {end:?}");
                    }
                }
            }
        }
    }
}
