//! Simulated samples of families that reach below age 0, which are fitted as they are to lives that are 0 or more.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{AboveZero, Life, Logistic, Normal, SmallestExtremeValue, family};
use relamp::fit::{FitOptions, Quantity, distance_test, fit, likelihood_ratio_bootstrap};
use relamp::lives::{Rows, Tally};

fn exact(ages: Vec<f64>) -> Tally {
    Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap().0
}

/// Lives of a law cut at 0.
fn seen(life: impl Life + 'static, n: usize, seed: u64) -> Tally {
    let cut = AboveZero::new(Box::new(life));
    exact(cut.draws(n, &mut Stream::new(seed, "cut_at_zero", "lives", 0)).unwrap())
}

const SCALE: f64 = 430.0;
/// Where a normal life of this scale has 1 % below 0.
const LOCATION: f64 = 2.326_347_874 * SCALE;

#[test]
fn chances_are_even_where_one_percent_lies_below_zero() {
    // 160 samples of 15 lamps: 99 % binomial ranges around 0.2 and 0.5.
    let (runs, mut under_a_fifth, mut under_half) = (160_u64, [0_u32; 2], [0_u32; 2]);
    for i in 0..runs {
        let data = seen(Normal { location: LOCATION, scale: SCALE }, 15, i);
        let test = distance_test(family("normal").unwrap(), &data, None, 99, i, &Run::new()).unwrap();
        assert_eq!(test.unsettled, 0);
        for (k, p) in [test.p_anderson_darling, test.p_kolmogorov].into_iter().enumerate() {
            under_a_fifth[k] += u32::from(p <= 0.2);
            under_half[k] += u32::from(p <= 0.5);
        }
    }
    for (count, share) in under_a_fifth.iter().map(|n| (*n, 0.2)).chain(under_half.iter().map(|n| (*n, 0.5))) {
        let off = f64::from(count) / runs as f64 - share;
        let most = 2.576 * (share * (1.0 - share) / runs as f64).sqrt();
        assert!(off.abs() < most + 0.5 / runs as f64, "{share} {count} of {runs}");
    }
}

#[test]
fn every_family_that_reaches_below_zero_is_simulated() {
    let run = Run::new();
    let lives: [(&str, Tally); 3] = [
        ("normal", seen(Normal { location: 600.0, scale: 500.0 }, 25, 1)),
        ("logistic", seen(Logistic { location: 600.0, scale: 300.0 }, 25, 2)),
        ("smallest_extreme_value", seen(SmallestExtremeValue { location: 900.0, scale: 500.0 }, 25, 3)),
    ];
    for (name, data) in lives {
        let options = FitOptions::default();
        let fitted = fit(family(name).unwrap(), &data, &options, &run).unwrap();
        let below = fitted.life().unwrap().below_zero();
        assert!(below > 0.01, "{name} {below}");
        let told = |notes: &[relamp::fit::Note]| {
            notes.iter().any(|n| n.slug == "fit.cut_at_zero" && n.text.contains(&format!("above_zero({name})")))
        };
        let test = distance_test(family(name).unwrap(), &data, None, 199, 1, &run).unwrap();
        assert!(test.unsettled == 0 && told(&test.notes), "{test:?}");
        let median = Quantity::Quantile(0.5);
        let plain = fitted.profile(&data, &options, &median, 0.9, relamp::fit::Sides::Both, &run).unwrap();
        let made = fitted.profile_corrected(&data, &options, &median, 0.9, 199, 1, &run).unwrap();
        assert!(told(&made.notes) && made.low < plain.low && made.high > plain.high, "{made:?} {plain:?}");
        assert!(made.ratio.unwrap().unsettled < 5, "{made:?}");
    }
    // Well above 0 there is nothing to tell.
    let data = seen(Normal { location: 3000.0, scale: 300.0 }, 20, 4);
    let test = distance_test(family("normal").unwrap(), &data, None, 99, 1, &run).unwrap();
    assert!(test.notes.iter().all(|n| n.slug != "fit.cut_at_zero"), "{test:?}");
    let data = seen(Normal { location: 900.0, scale: 500.0 }, 15, 5);
    let wide = family("series(exponential, normal)").unwrap();
    let ratio = likelihood_ratio_bootstrap(family("normal").unwrap(), wide, &data, None, 99, 1, &run).unwrap();
    assert!(ratio.replicates >= 90 && ratio.p_value > 0.02, "{ratio:?}");
    assert!(ratio.notes.iter().any(|n| n.slug == "fit.cut_at_zero" && !n.text.contains("  ")), "{ratio:?}");
}
