//! Proportional hazards: the partial likelihood beside a slow copy of its formula, identities, refusals, calibration.

use std::collections::BTreeMap;

use relamp::base::random::Stream;
use relamp::fit::{AgeScale, HazardFit, HazardOptions, Sides, Terms, proportional_hazards};
use relamp::lives::{CovariateValue, Group, Rows, Tally};
use relamp::records::{Column, Values};
use relamp::{Error, Run};

const INF: f64 = f64::INFINITY;

fn near(got: f64, want: f64, relative: f64, what: &str) {
    assert!((got - want).abs() <= relative * want.abs().max(1e-9), "{what}: got {got}, expected {want}");
}

/// One lamp: entry, exit, failed, current, south, stratum, cluster.
#[derive(Clone, Copy)]
struct Lamp(f64, f64, bool, f64, bool, usize, usize);

/// Lamps on a coarse grid of ages, so that ties abound, with late entry.
fn lamps(seed: u64, n: usize, ratio: f64) -> Vec<Lamp> {
    let mut stream = Stream::new(seed, "fit", "hazards", 0);
    (0..n)
        .map(|i| {
            let (current, south) = (60.0 + 5.0 * (i % 5) as f64, i % 3 == 0);
            let rate = (0.02 * (current - 70.0)).exp() * if south { ratio } else { 1.0 } / 30.0;
            let age = (1.0 - stream.uniform().ln() / rate).ceil();
            let end = (10.0 + 40.0 * stream.uniform()).ceil();
            let entry = if i % 4 == 0 { (stream.uniform() * age.min(end)).floor() } else { 0.0 };
            Lamp(entry, age.min(end), age <= end, current, south, i % 2, i % 11)
        })
        .collect()
}

fn tally_of(lamps: &[Lamp], clusters: bool) -> Tally {
    let groups: Vec<Group> = (0..2)
        .flat_map(|s| (0..11).map(move |c| (s, c)))
        .map(|(s, c)| Group {
            stratum: format!("class {s}"),
            cluster: if clusters { format!("site {c}") } else { String::new() },
            ..Group::default()
        })
        .collect();
    let rows = Rows {
        low: lamps.iter().map(|l| l.1).collect(),
        high: lamps.iter().map(|l| if l.2 { l.1 } else { INF }).collect(),
        entry: Some(lamps.iter().map(|l| l.0).collect()),
        group: Some(lamps.iter().map(|l| (l.5 * 11 + l.6) as u32).collect()),
        groups,
        ..Rows::default()
    };
    let current = lamps.iter().map(|l| Some(l.3)).collect();
    let supplier = lamps.iter().map(|l| Some(if l.4 { "south" } else { "north" }.into())).collect();
    let columns = [
        Column { name: "current".into(), values: Values::Number(current) },
        Column { name: "supplier".into(), values: Values::Text(supplier) },
    ];
    Tally::from_rows(&rows.with_covariates(&columns).unwrap()).unwrap().0
}

fn terms() -> Terms {
    Terms::new(["current", "supplier"])
}

fn hazards(tally: &Tally, terms: &Terms, options: &HazardOptions) -> Result<HazardFit, Error> {
    proportional_hazards(tally, terms, options, &Run::new())
}

/// The partial log-likelihood as its formula says, lamp by lamp and age by age.
fn slowly(lamps: &[Lamp], b: &[f64], strata: bool) -> f64 {
    let eta = |l: &Lamp| b[0] * l.3 + b[1] * f64::from(u8::from(l.4));
    let mut total = 0.0;
    for s in 0..if strata { 2 } else { 1 } {
        let here: Vec<&Lamp> = lamps.iter().filter(|l| !strata || l.5 == s).collect();
        let mut ages: Vec<f64> = here.iter().filter(|l| l.2).map(|l| l.1).collect();
        ages.sort_by(f64::total_cmp);
        ages.dedup();
        for t in ages {
            let tied: Vec<&&Lamp> = here.iter().filter(|l| l.2 && l.1 == t).collect();
            let at_risk: f64 = here.iter().filter(|l| l.0 < t && l.1 >= t).map(|l| eta(l).exp()).sum();
            let failing: f64 = tied.iter().map(|l| eta(l).exp()).sum();
            total += tied.iter().map(|l| eta(l)).sum::<f64>();
            for l in 0..tied.len() {
                total -= (at_risk - l as f64 / tied.len() as f64 * failing).ln();
            }
        }
    }
    total
}

#[test]
fn the_maximum_is_that_of_the_formula_with_ties_late_entry_and_strata() {
    for strata in [false, true] {
        let all = lamps(1, 300, 1.8);
        let options =
            HazardOptions { strata: if strata { vec!["stratum".into()] } else { vec![] }, ..HazardOptions::default() };
        let got = hazards(&tally_of(&all, false), &terms(), &options).unwrap();
        assert!(got.converged());
        let b = got.coefficients();
        near(got.log_likelihood(), slowly(&all, b, strata), 1e-11, "log-likelihood");
        near(got.log_likelihood_without(), slowly(&all, &[0.0, 0.0], strata), 1e-11, "without");
        // Slopes and curvature of the slow copy by differences.
        let h = [1e-3, 1e-2];
        let moved = |i: usize, s: f64, j: usize, t: f64| {
            let mut x = b.to_vec();
            x[i] += s * h[i];
            x[j] += t * h[j];
            slowly(&all, &x, strata)
        };
        let mut information = [[0.0; 2]; 2];
        for i in 0..2 {
            let slope = (moved(i, 1.0, i, 0.0) - moved(i, -1.0, i, 0.0)) / (2.0 * h[i]);
            assert!(slope.abs() * got.covariance(i, i).unwrap().sqrt() < 1e-3, "{slope}");
            for j in 0..2 {
                let corners =
                    moved(i, 1.0, j, 1.0) - moved(i, 1.0, j, -1.0) - moved(i, -1.0, j, 1.0) + moved(i, -1.0, j, -1.0);
                information[i][j] = -corners / (4.0 * h[i] * h[j]);
            }
        }
        let det = information[0][0] * information[1][1] - information[0][1] * information[1][0];
        near(got.covariance(0, 0).unwrap(), information[1][1] / det, 1e-3, "variance");
        near(got.covariance(0, 1).unwrap(), -information[0][1] / det, 1e-3, "covariance");
        assert_eq!(got.baselines().len(), if strata { 2 } else { 1 });
        let by_name = |name: &str| got.tests().iter().find(|t| t.term == name).unwrap().statistic;
        assert!(by_name("supplier") > 3.0 && by_name("current") > 1.0, "{got}");
    }
}

#[test]
fn residuals_add_up_to_nothing() {
    let tally = tally_of(&lamps(2, 400, 1.5), false);
    let options = HazardOptions { strata: vec!["stratum".into()], ..HazardOptions::default() };
    let got = hazards(&tally, &terms(), &options).unwrap();
    let r = got.residuals(&tally, &options).unwrap();
    let sum = |f: &dyn Fn(usize) -> f64| r.lives.iter().enumerate().map(|(i, l)| l.count as f64 * f(i)).sum::<f64>();
    assert_eq!(r.lives.iter().map(|l| l.count).sum::<u64>(), 400);
    assert!(sum(&|i| r.lives[i].martingale).abs() < 1e-9, "martingale");
    for k in 0..2 {
        assert!(sum(&|i| r.lives[i].score[k]).abs() < 1e-6, "score");
        let plain: f64 = r.failures.iter().map(|f| f.count as f64 * f.plain[k]).sum();
        assert!(plain.abs() < 1e-6, "plain");
        let failures: f64 = r.failures.iter().map(|f| f.count as f64).sum();
        let mean = r.failures.iter().map(|f| f.count as f64 * f.scaled[k]).sum::<f64>() / failures;
        near(mean, got.coefficients()[k], 1e-6, "mean of the scaled ones");
    }
    assert!(r.lives.iter().all(|l| l.martingale <= 1.0 && l.deviance.is_finite()));
    assert_eq!(r.coefficients, ["current", "supplier=south"]);
}

#[test]
fn the_baseline_without_an_effect_is_failures_over_lamps_at_risk() {
    // Six lamps without ties and a covariate that explains nothing by symmetry.
    let lamps: Vec<Lamp> = (1..=6).map(|i| Lamp(0.0, f64::from(i), i != 4, 70.0, i % 2 == 0, 0, 0)).collect();
    let tally = tally_of(&lamps, false);
    let got = hazards(&tally, &Terms::new(["supplier"]), &HazardOptions::default()).unwrap();
    let ratio = got.hazard_ratio("supplier=south").unwrap();
    let south = |i: usize| if (i + 1).is_multiple_of(2) { ratio } else { 1.0 };
    let mut hazard = 0.0;
    for i in 0..6 {
        if i != 3 {
            hazard += 1.0 / (i..6).map(south).sum::<f64>();
        }
        near(got.baseline("").unwrap().at(i as f64 + 1.0), hazard, 1e-12, "cumulative hazard");
    }
    let at = |level: &str| BTreeMap::from([("supplier".to_owned(), CovariateValue::from(level))]);
    let one = got.reliability(&at("south"), "", 6.0, 0.95, Sides::Both).unwrap();
    near(one.estimate.unwrap(), (-hazard * ratio).exp(), 1e-12, "reliability");
    assert!(one.low.unwrap() < one.estimate.unwrap() && one.estimate.unwrap() < one.high.unwrap());
    assert_eq!(got.reliability(&at("north"), "", 0.5, 0.95, Sides::Both).unwrap().estimate.unwrap(), 1.0);
    let slug =
        |stratum: &str, age: f64| got.reliability(&at("north"), stratum, age, 0.95, Sides::Both).unwrap_err().slug();
    assert_eq!(
        (slug("", 7.0), slug("x", 1.0), slug("", f64::NAN)),
        ("fit.beyond_baseline", "fit.stratum_unseen", "fit.beyond_baseline")
    );
    assert_eq!(got.reliability(&at("east"), "", 1.0, 0.95, Sides::Both).unwrap_err().slug(), "fit.level_unseen");
}

#[test]
fn robust_errors_know_clusters_and_counts() {
    let once = lamps(3, 200, 1.5);
    let alone = hazards(&tally_of(&once, false), &terms(), &HazardOptions::default()).unwrap();
    assert_eq!(alone.clusters(), 200);
    // One cluster a lamp is no cluster; here eleven, whose lamps are independent: about the same size.
    let sites =
        hazards(&tally_of(&once, true), &terms(), &HazardOptions { robust: true, ..HazardOptions::default() }).unwrap();
    assert_eq!(sites.clusters(), 11);
    // Rows of other groups come in another order, so the sums round differently.
    near(sites.coefficients()[0], alone.coefficients()[0], 1e-9, "current");
    let a = alone.robust_standard_error("current").unwrap().unwrap();
    let b = sites.standard_error("current").unwrap();
    assert!(a != b && (0.3..3.0).contains(&(a / b)), "{a} {b}");
    near(a, alone.standard_error("current").unwrap(), 0.4, "near the model's own");
    // By hand: inverse information on both sides of the squared sums of score residuals.
    let tally = tally_of(&once, false);
    let r = alone.residuals(&tally, &HazardOptions::default()).unwrap();
    let meat = |i: usize, j: usize| r.lives.iter().map(|l| l.count as f64 * l.score[i] * l.score[j]).sum::<f64>();
    let v = |i, j| alone.covariance(i, j).unwrap();
    let mut variance = 0.0;
    for i in 0..2 {
        for j in 0..2 {
            variance += v(0, i) * meat(i, j) * v(j, 0);
        }
    }
    // Raised for 200 clusters of one lamp and two coefficients.
    near(a, (variance * 200.0 / 197.0).sqrt(), 1e-9, "brackets");
}

#[test]
fn intervals_hold_the_truth_and_tests_of_proportionality_keep_their_size() {
    let n = 300;
    let (mut held, mut refused, mut found) = (0, [0; 3], 0);
    for seed in 0..n {
        let tally = tally_of(&lamps(100 + seed, 150, 2.0), false);
        let options = HazardOptions::default();
        let got = hazards(&tally, &terms(), &options).unwrap();
        let wald = got.wald("supplier=south", 0.95, Sides::Both).unwrap();
        held += usize::from(wald.low.unwrap() <= 2f64.ln() && 2f64.ln() <= wald.high.unwrap());
        for (k, scale) in [AgeScale::Age, AgeScale::Rank, AgeScale::ProductLimit].into_iter().enumerate() {
            let test = got.proportionality(&tally, &options, scale).unwrap();
            assert_eq!((test.all.degrees_of_freedom, test.terms.len()), (2, 2));
            refused[k] += usize::from(test.all.p_value < 0.05);
        }
        // The hazard of the south turns round half way.
        let turned: Vec<Lamp> = lamps(100 + seed, 150, 4.0)
            .into_iter()
            .map(|l| if l.4 && l.1 > 8.0 { Lamp(l.0, l.1 + 30.0, l.2, l.3, l.4, l.5, l.6) } else { l })
            .collect();
        let tally = tally_of(&turned, false);
        let got = hazards(&tally, &terms(), &options).unwrap();
        found += usize::from(got.proportionality(&tally, &options, AgeScale::Rank).unwrap().terms[1].p_value < 0.05);
    }
    // Binomial: 285 of 300 less and plus four standard deviations of 3.8; 15 of 300 the same.
    assert!((270..=300).contains(&held), "{held}");
    assert!(refused.iter().all(|r| *r <= 31 && *r >= 1), "{refused:?}");
    assert!(found > 250, "{found}");
}

#[test]
fn what_cannot_be_fitted_is_refused_by_name() {
    let all = lamps(5, 60, 1.5);
    let tally = tally_of(&all, false);
    let slug = |options: &HazardOptions, terms: &Terms| hazards(&tally, terms, options).unwrap_err().slug();
    let with = |strata: &str| HazardOptions { strata: vec![strata.into()], ..HazardOptions::default() };
    assert_eq!(slug(&with("site"), &terms()), "fit.strata_unknown");
    assert_eq!(slug(&with("current"), &Terms::new(["supplier"])), "fit.strata_unknown");
    assert_eq!(slug(&with("supplier"), &terms()), "fit.strata_term");
    let by_supplier = hazards(&tally, &Terms::new(["current"]), &with("supplier")).unwrap();
    assert_eq!(by_supplier.baselines().iter().map(|b| b.stratum.as_str()).collect::<Vec<_>>(), ["north", "south"]);
    let interval = tally.read_exact(1.0).unwrap();
    assert_eq!(hazards(&interval, &terms(), &HazardOptions::default()).unwrap_err().slug(), "fit.hazards_interval");
    let silent: Vec<Lamp> = all.iter().map(|l| Lamp(l.0, l.1, false, l.3, l.4, l.5, l.6)).collect();
    assert_eq!(
        hazards(&tally_of(&silent, false), &terms(), &HazardOptions::default()).unwrap_err().slug(),
        "fit.no_failures"
    );
}

/// One number that orders the failures leaves its slope without a bound, and one that never differs at an age without a word.
#[test]
fn one_term_that_cannot_be_fitted_is_told_apart_from_two() {
    let told = |current: [f64; 6], strata: bool| {
        let at = |i: usize| Lamp(0.0, 100.0 + 10.0 * i as f64, true, current[i], i.is_multiple_of(2), i % 2, i);
        let tally = tally_of(&(0..6).map(at).collect::<Vec<_>>(), false);
        let strata = if strata { vec!["stratum".to_owned()] } else { Vec::new() };
        let options = HazardOptions { strata, ..HazardOptions::default() };
        let error = hazards(&tally, &Terms::new(["current"]), &options).unwrap_err();
        assert_eq!(error.slug(), "fit.hazards_not_identified");
        error.to_string()
    };
    let high = told([60.0, 50.0, 40.0, 30.0, 20.0, 10.0], false);
    assert!(high.contains("rises without end") && high.contains("highest") && !high.contains("told apart"), "{high}");
    assert!(told([10.0, 20.0, 30.0, 40.0, 50.0, 60.0], false).contains("lowest"));
    assert!(told([10.0, 20.0, 10.0, 20.0, 10.0, 20.0], true).contains("do not differ in this term"));
}

#[test]
fn a_level_without_failures_gets_the_bound_of_its_profile() {
    let all: Vec<Lamp> =
        lamps(6, 80, 1.0).into_iter().map(|l| Lamp(l.0, l.1, l.2 && !l.4, l.3, l.4, l.5, l.6)).collect();
    let error = hazards(&tally_of(&all, false), &Terms::new(["supplier"]), &HazardOptions::default()).unwrap_err();
    assert_eq!((error.slug(), error.problems()[0].got.as_str()), ("fit.level_no_failures", "south"));
    // The slow copy falls by 1.6449^2 / 2 from what it rises to: the ratio by bisection.
    let top = slowly(&all, &[0.0, -40.0], false);
    let fall = |b: f64| top - slowly(&all, &[0.0, b], false) - 0.5 * 1.644_853_626_951_472_2f64.powi(2);
    let (mut low, mut high) = (-20.0, 5.0);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if fall(middle) < 0.0 { low = middle } else { high = middle }
    }
    let ratio = f64::exp(low);
    let hint = error.hint().unwrap();
    let said: f64 = hint.split("at most ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    near(said, ratio, 0.01, hint);
}

#[test]
fn other_lives_than_the_fitted_ones_are_refused() {
    let all = lamps(7, 80, 1.5);
    let (tally, options) = (tally_of(&all, false), HazardOptions::default());
    let got = hazards(&tally, &terms(), &options).unwrap();
    assert!(got.residuals(&tally, &options).is_ok());
    // Fewer lamps; ages in another unit, which the partial likelihood does not see; failures by another ending.
    let fewer = tally_of(&all[1..], false);
    let longer: Vec<Lamp> = all.iter().map(|l| Lamp(2.0 * l.0, 2.0 * l.1, l.2, l.3, l.4, l.5, l.6)).collect();
    let longer = tally_of(&longer, false);
    let other = HazardOptions { endings: Some(vec![relamp::records::Ending::Dim]), ..HazardOptions::default() };
    for (lives, options) in [(&fewer, &options), (&longer, &options), (&tally, &other)] {
        for error in [
            got.residuals(lives, options).unwrap_err(),
            got.proportionality(lives, options, AgeScale::Age).unwrap_err(),
            got.profile(lives, options, "current", 0.9, Sides::Both, &Run::new()).unwrap_err(),
        ] {
            assert!(error.slug() == "fit.other_data" && error.to_string().contains("lamps"), "{error}");
        }
    }
}

#[test]
fn a_thousand_million_million_lamps_that_fail_together_are_fitted() {
    let fit = |c: u64| {
        let column = Column { name: "x".into(), values: Values::Number([1.0, 2.0, 1.0, 2.0].map(Some).to_vec()) };
        let rows = Rows {
            low: vec![100.0, 100.0, 400.0, 400.0],
            high: vec![100.0, 100.0, INF, INF],
            count: Some(vec![c, c, c, 3 * c]),
            ..Rows::default()
        };
        let tally = Tally::from_rows(&rows.with_covariates(&[column]).unwrap()).unwrap().0;
        hazards(&tally, &Terms::new(["x"]), &HazardOptions::default()).unwrap()
    };
    // Half of the lamps of one kind and a quarter of the other: in the same shares, their number settles nothing.
    let ratios = [1 << 20, 1 << 40, 1 << 50].map(|c| fit(c).coefficients()[0]);
    assert!((ratios[0] - ratios[1]).abs() < 1e-3 && (ratios[1] - ratios[2]).abs() < 1e-7, "{ratios:?}");
}

/// c lamps at x = 1 fail at 100 h, 5 at x = 2 at 200 h, 7 at x = 3 at 300 h, and c at x = 1.5 go on: almost all of what
/// settles the slope are the few of each tie that are left. Coefficient, standard error and the rise of the log-likelihood
/// by mpmath 1.3 with 80 digits, sums in closed form by `loggamma(u + d + 1) - loggamma(u + 1)`.
const STEEP: [(u64, f64, f64, f64); 9] = [
    (1_000, -10.600_062_706_598_992, 0.431_319_436_600_533, 1_223.101_475_627_193_9),
    (1_000_000, -26.227_072_070_976_238, 0.404_861_775_304_877, 1_385_927.080_428_164_6),
    (1_000_000_000, -40.934_533_635_498_29, 0.399_276_151_204_361, 1_386_293_799.734_671_3),
    (10_000_000_000, -45.763_212_310_900_19, 0.398_284_636_361_132, 13_862_942_985.984_05),
    (100_000_000_000, -50.568_561_572_477_06, 0.397_504_245_362_794, 138_629_435_423.226_8),
    (1_000_000_000_000, -55.355_073_399_394_63, 0.396_875_824_371_301, 1_386_294_360_367.810_8),
    (10_000_000_000_000, -60.126_043_981_366_48, 0.396_360_339_799_406, 13_862_943_610_383.7),
    (100_000_000_000_000, -64.883_966_132_565_2, 0.395_930_982_973_888, 138_629_436_111_110.89),
    (1_000_000_000_000_000, -69.630_772_264_435_7, 0.395_568_730_524_398, 1_386_294_361_118_949.6),
];

#[test]
fn very_many_that_fail_together_keep_the_digits_of_a_steep_slope() {
    for (c, slope, error, rise) in STEEP {
        let column = Column { name: "x".into(), values: Values::Number([1.0, 2.0, 3.0, 1.5].map(Some).to_vec()) };
        let rows = Rows {
            low: vec![100.0, 200.0, 300.0, 300.0],
            high: vec![100.0, 200.0, 300.0, INF],
            count: Some(vec![c, 5, 7, c]),
            ..Rows::default()
        };
        let tally = Tally::from_rows(&rows.with_covariates(&[column]).unwrap()).unwrap().0;
        let options = HazardOptions::default();
        let got = hazards(&tally, &Terms::new(["x"]), &options).unwrap();
        assert!(got.converged(), "{c}: {got}");
        near(got.coefficients()[0], slope, 1e-12, "coefficient");
        near(got.standard_error("x").unwrap(), error, 1e-11, "standard error");
        near(0.5 * got.tests()[0].statistic, rise, 1e-13, "rise of the log-likelihood");
        let scores = got.residuals(&tally, &options).unwrap();
        let sum: f64 = scores.lives.iter().map(|l| l.count as f64 * l.score[0]).sum();
        // Each of the c lamps knows its score to a rounding of its columns.
        assert!(sum.abs() < 1e-9 + 2e-15 * c as f64, "{c}: scores add up to {sum}");
        let ends = got.profile(&tally, &options, "x", 0.95, Sides::Both, &Run::new()).unwrap();
        // Close to normal: the profile lies near b -+ 1.96 standard errors.
        near(ends.low.unwrap(), slope - 1.96 * error, 0.02, "low");
        near(ends.high.unwrap(), slope + 1.96 * error, 0.02, "high");
    }
}

#[test]
fn robust_errors_that_rest_on_nothing_are_refused() {
    let robust = HazardOptions { robust: true, ..HazardOptions::default() };
    let plain = HazardOptions::default();
    // All fail at one age: each lamp does as the mean one does. One cluster: fewer than coefficients.
    let together: Vec<Lamp> = lamps(8, 40, 1.0).iter().map(|l| Lamp(0.0, 100.0, true, l.3, l.4, l.5, l.6)).collect();
    let cluster: Vec<Lamp> = lamps(8, 40, 1.0).iter().map(|l| Lamp(l.0, l.1, l.2, l.3, l.4, 0, 3)).collect();
    for (tally, slug) in
        [(tally_of(&together, false), "fit.hazards_no_spread"), (tally_of(&cluster, true), "fit.hazards_clusters")]
    {
        let error = hazards(&tally, &terms(), &robust).unwrap_err();
        assert_eq!(error.slug(), slug, "{error}");
        assert!(hazards(&tally, &terms(), &plain).is_ok());
    }
}
