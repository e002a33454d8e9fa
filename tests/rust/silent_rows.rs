//! Rows that say nothing (count 0, right-censored at their entry) change nothing, whatever is asked.

use relamp::Run;
use relamp::empirical::{
    CurveOptions, PositionRule, SelfConsistentOptions, plotting_positions, product_limit, self_consistent,
};
use relamp::family::family;
use relamp::fit::{
    FitOptions, Quantity, RegressionOn, Termination, bootstrap, distance_test, fit, fit_known_shape,
    likelihood_ratio_bootstrap, phases, rank_regression,
};
use relamp::lives::{Group, Rows, Tally};

const INF: f64 = f64::INFINITY;

fn bare() -> Rows {
    let low = vec![412.0, 655.0, 780.0, 903.0, 1010.0, 1188.0, 1290.0, 1333.0, 1400.0, 1450.0, 1500.0, 1500.0];
    let mut high = low.clone();
    high[10..].fill(INF);
    let group = (0..12).map(|i| i % 3).collect();
    let groups = ["", "north", "west", "attic"].map(|c| Group { cluster: c.into(), ..Group::default() });
    let (entry, upper, count) = (Some(vec![0.0; 12]), Some(vec![INF; 12]), Some(vec![1; 12]));
    Rows { low, high, entry, upper, count, group: Some(group), groups: groups.to_vec(), ..Rows::default() }
}

/// The same lamps, and with each kind of row that says nothing.
fn pairs() -> Vec<(Tally, Tally)> {
    let plain = Tally::from_rows(&bare()).unwrap().0;
    // Low, high, entry, upper, count: on the shelf, taken out as it came in, and of count 0: failed, failed within an
    // interval, entered late, shown only because it failed.
    let rows = [
        (0.0, INF, 0.0, INF, 50),
        (700.0, INF, 700.0, INF, 3),
        (2500.0, INF, 2500.0, INF, 1),
        (333.0, 333.0, 0.0, INF, 0),
        (333.0, 433.0, 0.0, INF, 0),
        (333.0, 333.0, 5.0, INF, 0),
        (333.0, 333.0, 0.0, 500.0, 0),
    ];
    let with = |(low, high, entry, upper, count)| {
        let mut rows = bare();
        rows.low.push(low);
        rows.high.push(high);
        rows.entry.as_mut().unwrap().push(entry);
        rows.upper.as_mut().unwrap().push(upper);
        rows.count.as_mut().unwrap().push(count);
        // A cluster of its own, before the others in order.
        rows.group.as_mut().unwrap().push(3);
        (plain.clone(), Tally::from_rows(&rows).unwrap().0)
    };
    rows.into_iter().map(with).collect()
}

#[test]
fn ranks_and_lines_through_them_are_those_of_the_lamps_that_burned() {
    let weibull = family("weibull").unwrap();
    for (a, b) in pairs() {
        let [one, two] = [&a, &b].map(|t| plotting_positions(t, PositionRule::Median).unwrap());
        assert_eq!(one, two);
        let line = |t| rank_regression(weibull, t, None, PositionRule::Median, RegressionOn::Age).unwrap();
        assert_eq!(line(&a), line(&b));
    }
    // By hand: four of four failed, so the first median rank is 1 - 0.5^(1/4).
    let low = vec![0.0, 100.0, 200.0, 300.0, 400.0];
    let high = vec![INF, 100.0, 200.0, 300.0, 400.0];
    let rows = Rows { low, high, count: Some(vec![20, 1, 1, 1, 1]), ..Rows::default() };
    let got = plotting_positions(&Tally::from_rows(&rows).unwrap().0, PositionRule::Median).unwrap();
    assert!((got.positions[0] - (1.0 - 0.5f64.powf(0.25))).abs() < 1e-12);
}

#[test]
fn tests_by_replicates_are_those_of_the_lamps_that_burned() {
    let (even, wear, run) = (family("exponential").unwrap(), family("weibull").unwrap(), Run::new());
    for (a, b) in pairs() {
        let test = |t| distance_test(wear, t, None, 99, 1, &run).unwrap();
        assert_eq!(test(&a), test(&b));
        let ratio = |t| likelihood_ratio_bootstrap(even, wear, t, None, 99, 1, &run).unwrap();
        assert_eq!(ratio(&a), ratio(&b));
        let two = |t| phases(t, None, 99, 1, &run).unwrap();
        assert_eq!(two(&a), two(&b));
    }
}

#[test]
fn refits_are_those_of_the_lamps_that_burned() {
    let (weibull, options, run) = (family("weibull").unwrap(), FitOptions::default(), Run::new());
    for (a, b) in pairs() {
        let draws = |t| bootstrap(weibull, t, &options, 40, 1, "", &run).unwrap();
        for (x, y) in draws(&a).coordinates().iter().flatten().zip(draws(&b).coordinates().iter().flatten()) {
            assert!((x - y).abs() < 1e-9, "{x} {y}");
        }
    }
}

#[test]
fn curves_and_fits_are_those_of_the_lamps_that_burned() {
    let (options, run) = (FitOptions::default(), Run::new());
    for (a, b) in pairs() {
        let curve = |t| product_limit(t, &CurveOptions::default()).unwrap();
        assert_eq!(curve(&a), curve(&b));
        let own = |t| self_consistent(t, &SelfConsistentOptions::default()).unwrap();
        assert_eq!(own(&a), own(&b));
        let known = |t| fit_known_shape(t, 2.0, 0.95, Termination::Time, &options, &run).unwrap();
        let (one, two) = (known(&a), known(&b));
        assert_eq!((one.method, one.scale_low, one.scale_high), (two.method, two.scale_low, two.scale_high));
        for name in ["weibull", "piecewise_constant(1000)"] {
            let [one, two] = [&a, &b].map(|t| fit(family(name).unwrap(), t, &options, &run).unwrap());
            assert_eq!(one.facts().oldest_at_risk_hours, two.facts().oldest_at_risk_hours);
            assert_eq!(one.notes(), two.notes());
        }
    }
}

#[test]
fn corrected_intervals_and_lamps_counted_are_those_that_burned() {
    let (weibull, options, run) = (family("weibull").unwrap(), FitOptions::default(), Run::new());
    let shape = Quantity::Parameter("shape".into());
    let asked = |t: &Tally| {
        let found = fit(weibull, t, &options, &run).unwrap();
        assert_eq!(found.facts().lamps, 12, "{found}");
        found.profile_corrected(t, &options, &shape, 0.9, 99, 1, &run).unwrap()
    };
    for (a, b) in pairs() {
        let (one, two) = (asked(&a), asked(&b));
        for (x, y) in [(one.low, two.low), (one.high, two.high)] {
            assert!((x.unwrap() / y.unwrap() - 1.0).abs() < 1e-9, "{one:?} {two:?}");
        }
    }
}
