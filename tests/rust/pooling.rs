//! Pooled groups: brute-force references, shrinkage by size, calibration by simulation, baselines by stratum, refusals.

use relamp::Run;
use relamp::base::math::special::normal_quantile;
use relamp::base::random::Stream;
use relamp::family::family;
use relamp::fit::{PooledGroups, PoolingOptions, pool_groups};
use relamp::lives::{Group, Rows, Tally};
use relamp::records::Ending;
use serde_json::Value;

const INF: f64 = f64::INFINITY;

/// One row: low, high, entry, count.
type Row = (f64, f64, f64, u64);

fn named(cluster: &str, stratum: &str) -> Group {
    Group { cluster: cluster.into(), stratum: stratum.into(), ..Group::default() }
}

/// Rows of groups by cluster and stratum.
fn tally(groups: &[(Group, Vec<Row>)]) -> Tally {
    let each = || groups.iter().enumerate().flat_map(|(g, (_, rows))| rows.iter().map(move |r| (g as u32, *r)));
    let rows = Rows {
        low: each().map(|r| r.1.0).collect(),
        high: each().map(|r| r.1.1).collect(),
        entry: Some(each().map(|r| r.1.2).collect()),
        count: Some(each().map(|r| r.1.3).collect()),
        group: Some(each().map(|r| r.0).collect()),
        groups: groups.iter().map(|g| g.0.clone()).collect(),
        ..Rows::default()
    };
    Tally::from_rows(&rows).unwrap().0
}

/// Failures and survivors of sites in 1,000 h.
fn counts(sites: &[(&str, u64, u64)]) -> Tally {
    let rows = |f: u64, n: u64| vec![(500.0, 500.0, 0.0, f), (1000.0, INF, 0.0, n - f)];
    tally(&sites.iter().map(|(name, f, n)| (named(name, ""), rows(*f, *n))).collect::<Vec<_>>())
}

fn pooled(name: &str, data: &Tally, options: &PoolingOptions) -> relamp::Result<PooledGroups> {
    pool_groups(family(name)?, data, "cluster", options, &Run::new())
}

fn near(got: f64, expected: f64, relative: f64, what: &str) {
    assert!((got - expected).abs() <= relative * expected.abs().max(0.05), "{what}: {got}, expected {expected}");
}

/// What so many failures leave to the baseline beside the effects of their groups is lost in rounding, and no records are at
/// fault.
#[test]
fn too_many_failures_for_the_digits_are_told_by_their_number() {
    let many = |n: u64| {
        let rows =
            |g: usize| (0..10).map(|i| ((100 + 10 * (6 * i + g)) as f64, n)).map(|(a, n)| (a, a, 0.0, n)).collect();
        tally(&(0..6).map(|g| (named(["a", "b", "c", "d", "e", "f"][g], ""), rows(g))).collect::<Vec<_>>())
    };
    let error = pooled("weibull", &many(1_000_000_000_000), &PoolingOptions::default()).unwrap_err();
    assert_eq!(error.slug(), "fit.pooling_not_identified");
    let told = error.to_string();
    assert!(told.contains("10,000,000,000,000 failures") && told.contains("rounding"), "{told}");
    assert!(told.contains("10,000,000 failures in a group"), "{told}");
}

#[test]
fn brute_force_on_a_dense_grid_gives_the_same_answers() {
    let cases: Value = serde_json::from_str(include_str!("../data/pooling_references.json")).unwrap();
    for name in ["pumps", "mixed"] {
        let case = &cases[name];
        let groups: Vec<(Group, Vec<Row>)> = case["groups"]
            .as_array()
            .unwrap()
            .iter()
            .enumerate()
            .map(|(g, rows)| {
                let number = |v: &Value| v.as_f64().unwrap_or(INF);
                let row = |r: &Value| (number(&r[0]), number(&r[1]), number(&r[2]), r[3].as_u64().unwrap());
                (named(&format!("{g:02}"), ""), rows.as_array().unwrap().iter().map(row).collect())
            })
            .collect();
        let expected = case["answers"].as_array().unwrap();
        let options = PoolingOptions {
            prior_scales: expected.iter().map(|a| a["prior_scale"].as_f64().unwrap()).collect(),
            level: case["level"].as_f64().unwrap(),
            threshold: case["threshold"].as_f64().unwrap(),
            draws: 40_000,
            ..PoolingOptions::default()
        };
        let got = pooled(case["family"].as_str().unwrap(), &tally(&groups), &options).unwrap();
        assert_eq!(got.answers().len(), 3);
        for (answer, expected) in got.answers().iter().zip(expected) {
            let what = format!("{name} at scale {}", answer.prior_scale);
            assert!(answer.effective_draws > 5_000.0, "{what}: {}", answer.effective_draws);
            let number = |key: &str, i: usize| expected[key][i].as_f64().unwrap();
            // Both sides are draws: 40,000 here, 400,000 there.
            for (i, q) in [answer.spread, answer.spread_low, answer.spread_high].into_iter().enumerate() {
                near(q, number("spread", i), 0.03, &format!("{what}, spread {i}"));
            }
            for (g, effect) in answer.effects.iter().enumerate() {
                for (i, q) in [effect.ratio, effect.low, effect.high].into_iter().enumerate() {
                    near(q, expected["ratio"][g][i].as_f64().unwrap(), 0.04, &format!("{what}, group {g}, ratio {i}"));
                }
                let chance = number("chance_above", g);
                assert!((effect.chance_above - chance).abs() < 0.012, "{what} {g}: {} {chance}", effect.chance_above);
                assert!((effect.rank - number("rank", g)).abs() <= 1.0, "{what} {g}: {}", effect.rank);
            }
        }
    }
}

#[test]
fn a_site_without_failures_of_two_stays_near_the_fleet_and_a_big_one_hardly_moves() {
    let sites =
        [("a", 250, 1000), ("b", 30, 100), ("c", 10, 60), ("d", 14, 40), ("e", 9, 50), ("f", 0, 2), ("g", 2, 2)];
    let got = pooled("exponential", &counts(&sites), &PoolingOptions::default()).unwrap();
    let of = |name: &str| got.each().find(|(g, _)| g.name == name).unwrap();
    let (small, effect) = of("f");
    assert_eq!((small.failures, small.raw_ratio), (0, Some(0.0)));
    assert!(effect.ratio > 0.8 && effect.ratio < 1.0 && effect.low < 0.7 && effect.high > 1.2, "{effect:?}");
    assert!(effect.chance_above < 0.1 && effect.rank_high - effect.rank_low >= 4.0);
    let (big, effect) = of("a");
    // Raw and pooled, both beside the rest, which is pooled too.
    near(effect.ratio, big.raw_ratio.unwrap(), 0.08, "the big one");
    let (two, effect) = of("g");
    assert!(two.raw_ratio.unwrap() > 3.0 && effect.ratio < 1.6, "{two:?} {effect:?}");
    // By hand: 286 of the failures are those of the others, which passed 750 x 500 + 250 x 1000 h less per lamp.
    let hours = |f: f64, n: f64| f * 500.0 + (n - f) * 1000.0;
    let rest: f64 = sites.iter().filter(|s| s.0 != "f").map(|s| hours(s.1 as f64, s.2 as f64)).sum();
    near(small.expected, 315.0 * 2000.0 / rest, 1e-9, "expected");
    assert!(got.sentence().contains("by cluster"), "{}", got.sentence());
    assert!(got.notes().iter().any(|n| n.slug == "fit.pooling_prior"));
    assert!(got.notes().iter().any(|n| n.slug == "fit.pooling_without_failures"));
    // A wider prior draws less.
    let scale = |s: f64| got.answers().iter().find(|a| a.prior_scale == s).unwrap();
    assert!(scale(1.0).spread > scale(0.25).spread && scale(1.0).effects[6].ratio > scale(0.25).effects[6].ratio);
}

/// Sites whose hazards are spread by `s`, Weibull 2 / 2,000 h, late entry, planned changes at 1,500 h; true ratios to the rest.
fn simulated(s: f64, sites: usize, stream: &mut Stream) -> (Tally, Vec<f64>) {
    let mut groups = Vec::new();
    let (mut lifts, mut passed) = (Vec::new(), Vec::new());
    for g in 0..sites {
        let lift = (s * normal_quantile(stream.uniform())).exp();
        let lamps = 4 + 6 * (g % 8);
        let mut rows = Vec::new();
        let mut hazard = 0.0;
        for k in 0..lamps {
            let entry: f64 = if k % 3 == 0 { 600.0 } else { 0.0 };
            let age = 2000.0 * ((entry / 2000.0).powi(2) + stream.exponential() / lift).sqrt();
            let exit = age.min(1500.0);
            hazard += (exit / 2000.0).powi(2) - (entry / 2000.0).powi(2);
            rows.push((exit, if age < 1500.0 { exit } else { INF }, entry, 1));
        }
        groups.push((named(&format!("{g:02}"), ""), rows));
        lifts.push(lift);
        passed.push(hazard);
    }
    let all: f64 = passed.iter().sum();
    let lifted: f64 = lifts.iter().zip(&passed).map(|(l, e)| l * e).sum();
    let ratios = lifts.iter().zip(&passed).map(|(l, e)| l * (all - e) / (lifted - l * e)).collect();
    (tally(&groups), ratios)
}

#[test]
fn intervals_hold_the_truth_and_chances_are_what_they_say() {
    const RUNS: u64 = 150;
    let (mut spread_held, mut held, mut effects) = (0, 0, 0);
    let (mut said, mut seen, mut variance) = (0.0, 0.0, 0.0);
    for run in 0..RUNS {
        let mut stream = Stream::new(11, "test", "pooling", run);
        // The spread comes from the prior, so that a posterior holds it as often as its level says.
        let s = 0.5 * normal_quantile(stream.uniform()).abs();
        let (data, ratios) = simulated(s, 12, &mut stream);
        let options = PoolingOptions { level: 0.8, draws: 1_000, seed: run, ..PoolingOptions::default() };
        let got = pooled("weibull", &data, &options).unwrap();
        let first = &got.answers()[0];
        spread_held += u64::from(first.spread_low <= s && s <= first.spread_high);
        for (effect, ratio) in first.effects.iter().zip(&ratios) {
            effects += 1;
            held += u64::from(effect.low <= *ratio && *ratio <= effect.high);
            said += effect.chance_above;
            variance += effect.chance_above * (1.0 - effect.chance_above);
            seen += f64::from(u8::from(*ratio > 1.5));
        }
    }
    // Binomial ends at 0.1 % on either side. Effects of one run hang together a little: four standard errors for them.
    let away = |held: u64, n: u64| (held as f64 - 0.8 * n as f64) / (0.16 * n as f64).sqrt();
    assert!(away(spread_held, RUNS).abs() < 3.1, "{spread_held} of {RUNS}");
    assert!(away(held, effects).abs() < 4.0, "{held} of {effects}");
    assert!((said - seen).abs() < 4.0 * f64::sqrt(variance) && seen > 50.0, "{said} said, {seen} seen");
}

#[test]
fn classes_with_hazards_of_their_own_do_not_make_sites_differ() {
    // Class b fails four times as often as class a, everywhere; sites hold them in unlike shares.
    let rows = |f: u64, n: u64| vec![(500.0, 500.0, 0.0, f), (1000.0, INF, 0.0, n - f)];
    let site =
        |name: &str, a: u64, b: u64| [(named(name, "a"), rows(a, 10 * a)), (named(name, "b"), rows(4 * b, 10 * b))];
    let data = tally(&[site("x", 20, 4), site("y", 10, 10), site("z", 4, 20)].concat());
    let apart = pooled("exponential", &data, &PoolingOptions::default()).unwrap();
    assert_eq!(apart.baselines().iter().map(|b| b.stratum.as_str()).collect::<Vec<_>>(), ["a", "b"]);
    let together = PoolingOptions { strata: Some(vec![]), ..PoolingOptions::default() };
    let together = pooled("exponential", &data, &together).unwrap();
    assert_eq!(together.baselines().len(), 1);
    for ((g, e), (_, mixed)) in apart.each().zip(together.each()) {
        near(g.raw_ratio.unwrap(), 1.0, 1e-2, "raw");
        near(e.ratio, 1.0, 0.04, &g.name);
        assert!(g.name == "y" || (mixed.ratio - 1.0).abs() > 0.25, "{mixed:?}");
    }
    // Strata can be what is pooled.
    let by_class =
        pool_groups(family("exponential").unwrap(), &data, "stratum", &PoolingOptions::default(), &Run::new());
    assert!(by_class.unwrap().each().any(|(g, e)| g.name == "b" && e.ratio > 3.0));
}

#[test]
fn same_seed_same_bytes_and_endings_count() {
    let (mut data, _) = simulated(0.4, 6, &mut Stream::new(3, "test", "pooling", 0));
    let few = PoolingOptions { draws: 500, ..PoolingOptions::default() };
    let one = pooled("weibull", &data, &few).unwrap();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    assert_eq!(pool.install(|| pooled("weibull", &data, &few)).unwrap(), one);
    let other = pooled("weibull", &data, &PoolingOptions { seed: 2, ..few.clone() }).unwrap();
    assert_ne!(one, other);
    let bursts = PoolingOptions { endings: Some(vec![Ending::Burst]), ..few.clone() };
    assert_eq!(pooled("weibull", &data, &bursts).unwrap_err().slug(), "fit.no_failures");
    let unknown = PoolingOptions { endings: Some(vec![Ending::Unknown]), ..few.clone() };
    assert_eq!(pooled("weibull", &data, &unknown).unwrap(), one);
    // The order in which groups are named does not matter.
    data = Tally::merge(&[&data]).unwrap();
    assert_eq!(pooled("weibull", &data, &few).unwrap(), one);
}

#[test]
fn what_cannot_be_pooled_is_refused_by_name() {
    let data = counts(&[("a", 3, 10), ("b", 2, 10), ("c", 0, 10)]);
    let default = PoolingOptions::default;
    let slug = |data: &Tally, options: PoolingOptions| pooled("exponential", data, &options).unwrap_err().slug();
    let bad = |options: PoolingOptions| slug(&data, options);
    assert_eq!(bad(PoolingOptions { prior_scales: vec![0.5, 1.0], ..default() }), "fit.pooling_scales");
    assert_eq!(bad(PoolingOptions { prior_scales: vec![0.5, 0.5, 1.0], ..default() }), "fit.pooling_scales");
    assert_eq!(bad(PoolingOptions { prior_scales: vec![0.5, f64::NAN, 1.0], ..default() }), "fit.pooling_scales");
    assert_eq!(bad(PoolingOptions { threshold: 0.0, ..default() }), "fit.pooling_threshold");
    assert_eq!(bad(PoolingOptions { threshold: f64::NAN, ..default() }), "fit.pooling_threshold");
    assert_eq!(bad(PoolingOptions { draws: 499, ..default() }), "fit.pooling_draws");
    assert_eq!(bad(PoolingOptions { level: 1.0, ..default() }), "fit.level");
    assert_eq!(bad(PoolingOptions { strata: Some(vec!["cluster".into()]), ..default() }), "fit.pooling_strata");
    assert_eq!(bad(PoolingOptions { strata: Some(vec!["room".into()]), ..default() }), "fit.pooling_strata");
    let by = pool_groups(family("exponential").unwrap(), &data, "room", &default(), &Run::new());
    assert_eq!(by.unwrap_err().slug(), "fit.pooling_by");
    assert_eq!(slug(&counts(&[("a", 3, 10)]), default()), "fit.pooling_groups_few");
    assert_eq!(slug(&counts(&[("a", 3, 10), ("b", 0, 0)]), default()), "fit.pooling_groups_few");
    assert_eq!(slug(&counts(&[("a", 3, 10), (" ", 2, 5)]), default()), "fit.pooling_name_blank");
    assert_eq!(slug(&counts(&[("a", 0, 10), ("b", 0, 5)]), default()), "fit.no_failures");
    let free = pooled("weibull_failure_free", &data, &default());
    assert_eq!(free.unwrap_err().slug(), "fit.pooling_family");
    let shown = Rows { low: vec![5.0, 6.0], high: vec![5.0, 6.0], upper: Some(vec![9.0; 2]), ..Rows::default() };
    let shown = Rows { group: Some(vec![0, 1]), groups: vec![named("a", ""), named("b", "")], ..shown };
    assert_eq!(slug(&Tally::from_rows(&shown).unwrap().0, default()), "fit.pooling_window");
    let stopped = Run::new();
    stopped.stop();
    let stop = pool_groups(family("exponential").unwrap(), &data, "cluster", &default(), &stopped);
    assert_eq!(stop.unwrap_err().slug(), "run.stopped");
    // Failures in one group only: no failure is expected in it by the others, and the raw ratio is none.
    let one = pooled("exponential", &counts(&[("a", 3, 10), ("b", 0, 12)]), &default()).unwrap();
    assert_eq!((one.groups()[0].expected, one.groups()[0].raw_ratio), (0.0, None));
    assert!(one.answers()[0].effects[0].ratio > 1.0);
    for slug in ["fit.pooling_few_groups", "fit.interval_only"] {
        assert!(one.notes().iter().any(|n| n.slug == slug), "{slug}");
    }
}
