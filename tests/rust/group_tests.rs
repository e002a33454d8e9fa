//! Tests between groups: published values, hard cases by hand, the definition, chances under equality by simulation.

use proptest::prelude::*;
use relamp::base::random::Stream;
use relamp::empirical::{GroupTest, IncidenceTestOptions, RankOptions, RankWeight, incidence_test, rank_test};
use relamp::lives::{Group, Rows, Tally};
use relamp::records::Ending;
use serde_json::Value;

const INF: f64 = f64::INFINITY;

fn tally(rows: &Rows) -> Tally {
    Tally::from_rows(rows).unwrap().0
}

fn rows_of(table: &Value) -> Rows {
    let table = table.as_array().unwrap();
    Rows {
        low: table.iter().map(|r| r[0].as_f64().unwrap_or(0.0)).collect(),
        high: table.iter().map(|r| r[1].as_f64().unwrap_or(INF)).collect(),
        count: Some(table.iter().map(|r| r[3].as_u64().unwrap()).collect()),
        ..Rows::default()
    }
}

fn ranked(groups: &[(String, Tally)], options: &RankOptions) -> GroupTest {
    let named: Vec<(&str, &Tally)> = groups.iter().map(|(n, t)| (n.as_str(), t)).collect();
    rank_test(&named, options).unwrap()
}

fn cases() -> Vec<(Value, Vec<(String, Tally)>)> {
    let cases: Vec<Value> = serde_json::from_str(include_str!("../data/rank_test_cases.json")).unwrap();
    let each = cases.into_iter().map(|case| {
        let groups = case["groups"].as_array().unwrap().iter();
        let groups = groups.map(|g| (g[0].as_str().unwrap().to_owned(), tally(&rows_of(&g[1])))).collect();
        (case, groups)
    });
    each.collect()
}

#[test]
fn published_and_hand_worked_statistics_come_out() {
    let mut seen = 0;
    for (case, groups) in cases() {
        let what = case["name"].as_str().unwrap();
        let test = ranked(&groups, &RankOptions::default());
        // The reference has twelve significant digits, its chances nine.
        let close = |got: f64, want: &Value, relative: f64| {
            let want = want.as_f64().unwrap();
            assert!((got - want).abs() <= relative * want.abs() + 1e-15, "{what}: {got}, expected {want}");
        };
        if let Some(observed) = case["observed"].as_array() {
            for ((group, d), e) in test.groups.iter().zip(observed).zip(case["expected"].as_array().unwrap()) {
                close(group.observed as f64, d, 0.0);
                close(group.expected, e, 1e-9);
            }
        } else {
            close(test.groups[0].observed as f64, &case["observed_first"], 0.0);
            close(test.groups[0].expected, &case["expected_first"], 1e-11);
            close(test.variance[0], &case["variance"], 1e-11);
        }
        if case["outcome"].is_string() {
            assert_eq!((test.statistic, test.p_value, test.degrees_of_freedom), (None, None, 0), "{what}");
            let said: Vec<&str> = test.notes.iter().map(|n| n.rule.as_str()).collect();
            assert!(said.contains(&"empirical.groups_undefined"), "{said:?}");
            let why = test
                .notes
                .iter()
                .find(|n| n.rule == "empirical.group_not_compared" && n.sentence.contains("group B"))
                .unwrap();
            assert!(why.sentence.contains("before the first failure at 100 h"), "{}", why.sentence);
        } else {
            close(test.statistic.unwrap(), &case["chi2"], 1e-9);
            close(test.p_value.unwrap(), &case["p"], 1e-8);
            assert_eq!(test.degrees_of_freedom, 1);
        }
        seen += 1;
    }
    assert_eq!(seen, 5);
}

#[test]
fn what_a_reader_must_know_is_noted() {
    let (_, groups) = cases().into_iter().find(|(c, _)| c["name"] == "hc-lr-001").unwrap();
    let test = ranked(&groups, &RankOptions::default());
    assert!(test.notes.iter().any(|n| n.rule == "empirical.risk_set_of_one" && n.age == 2.0));
    let (_, groups) = cases().into_iter().find(|(c, _)| c["name"] == "hc-lr-004").unwrap();
    let test = ranked(&groups, &RankOptions::default());
    assert!(test.notes.iter().any(|n| n.rule == "empirical.group_without_failures" && n.sentence.contains("group B")));
}

/// Many groups of few failures are told apart too often: simulated with 20 groups of 10 lamps, 16 of 100 at a level of 0.05.
#[test]
fn a_p_value_between_groups_of_few_failures_is_called_rough() {
    let note = |groups: usize, lamps: usize, scores: Option<Vec<f64>>| {
        let each = alike(&vec![lamps; groups], &vec![0.0; groups], 1);
        let test = ranked(&each, &RankOptions { scores, ..RankOptions::default() });
        test.notes.iter().find(|n| n.rule == "empirical.groups_small").map(|n| n.sentence.clone())
    };
    assert!(note(20, 10, None).unwrap().contains("20 groups are compared"));
    assert!(note(2, 8, None).is_some());
    // The number expected is that of a count: one group of a lamp expects about one failure.
    let noted = |groups: &[(String, Tally)]| {
        let notes = ranked(groups, &RankOptions::default()).notes;
        notes.into_iter().find(|n| n.rule == "empirical.groups_small").map(|n| n.sentence).unwrap()
    };
    let (six, one) = (Rows { low: vec![3.0; 6], high: vec![3.0; 6], ..Rows::default() }, vec![3.0]);
    let one = Rows { low: one.clone(), high: one, ..Rows::default() };
    let said = noted(&[("a".into(), tally(&six)), ("b".into(), tally(&one))]);
    assert!(said.contains("b is expected to have 1 failure;"), "{said}");
    let two = Rows { low: vec![3.0; 2], high: vec![3.0; 2], ..Rows::default() };
    let said = noted(&[("a".into(), tally(&six)), ("b".into(), tally(&two))]);
    assert!(said.contains("b is expected to have 2 failures;"), "{said}");
    assert_eq!(note(2, 40, None), None);
    assert_eq!(note(4, 40, None), None);
    let scores = (0..20).map(f64::from).collect();
    assert_eq!(note(20, 10, Some(scores)), None);
}

/// Weibull lives of one law, in groups of their own sizes and ages of entry, with pulls.
fn alike(sizes: &[usize], entries: &[f64], replicate: u64) -> Vec<(String, Tally)> {
    let mut stream = Stream::new(17, "group_tests", "alike", replicate);
    let each = sizes.iter().zip(entries).enumerate().map(|(g, (&n, &oldest))| {
        let mut rows = Rows { entry: Some(Vec::new()), ..Rows::default() };
        while rows.low.len() < n {
            let fails = 1000.0 * stream.exponential().sqrt();
            let entry = oldest * stream.uniform();
            let pulled = entry + 1500.0 * stream.uniform();
            if fails > entry {
                rows.low.push(fails.min(pulled));
                rows.high.push(if fails <= pulled { fails } else { INF });
                rows.entry.as_mut().unwrap().push(entry);
            }
        }
        (format!("g{g}"), tally(&rows))
    });
    each.collect()
}

/// Largest distance of chances from an even spread, times the root of their number; above 2.2 in one of 10,000 runs.
fn distance(mut chances: Vec<f64>) -> f64 {
    chances.sort_by(f64::total_cmp);
    let n = chances.len() as f64;
    let gaps = chances.iter().enumerate().map(|(i, p)| (p - i as f64 / n).abs().max((p - (i as f64 + 1.0) / n).abs()));
    gaps.fold(0.0, f64::max) * n.sqrt()
}

const KOLMOGOROV: f64 = 2.23;

#[test]
fn chances_are_even_among_groups_alike_whatever_the_weight() {
    for weight in [RankWeight::Even, RankWeight::AtRisk, RankWeight::RootAtRisk, RankWeight::Reliability(1.0)] {
        for scores in [None, Some(vec![1.0, 2.0, 4.0])] {
            let options = RankOptions { weight, scores, ..RankOptions::default() };
            let chances: Vec<f64> =
                (0..600).map(|r| ranked(&alike(&[60, 80, 100], &[0.0; 3], r), &options).p_value.unwrap()).collect();
            assert!(distance(chances.clone()) < KOLMOGOROV, "{options:?}: {}", distance(chances));
        }
    }
}

/// Two identical populations, one of them watched from higher ages on: late entry keeps the comparison at equal age.
#[test]
fn populations_alike_of_unequal_age_differ_in_five_runs_of_a_hundred() {
    const RUNS: u64 = 2_000;
    let options = RankOptions::default();
    let tests = (0..RUNS).map(|r| ranked(&alike(&[80, 80], &[0.0, 900.0], r), &options).p_value.unwrap());
    let chances: Vec<f64> = tests.collect();
    let differ = chances.iter().filter(|p| **p < 0.05).count();
    // 100 expected, standard deviation 9.7; four of them either way.
    assert!((61..=139).contains(&differ), "{differ}");
    assert!(distance(chances.clone()) < KOLMOGOROV, "{}", distance(chances));
    // Without the ages of entry the older population looks better, in far more than 10 of 200 runs.
    let blind = (0..200).filter(|&r| {
        let groups: Vec<(String, Tally)> = alike(&[80, 80], &[0.0, 900.0], r)
            .into_iter()
            .map(|(n, t)| {
                (
                    n,
                    tally(&Rows {
                        low: t.low().to_vec(),
                        high: t.high().to_vec(),
                        count: Some(t.count().to_vec()),
                        ..Rows::default()
                    }),
                )
            })
            .collect();
        ranked(&groups, &options).p_value.unwrap() < 0.05
    });
    let blind = blind.count();
    assert!(blind > 40, "{blind}");
}

#[test]
fn strata_that_differ_do_not_make_groups_differ() {
    // Class X fails early and class Y late; group A is mostly X and group B mostly Y.
    let group = |counts: [u64; 2], r: u64| {
        let mut stream = Stream::new(23, "group_tests", "strata", r);
        let mut rows = Rows { group: Some(Vec::new()), ..Rows::default() };
        for (class, (&n, scale)) in counts.iter().zip([500.0, 2000.0]).enumerate() {
            for _ in 0..n {
                let age = scale * stream.exponential();
                rows.low.push(age);
                rows.high.push(age);
                rows.group.as_mut().unwrap().push(class as u32);
            }
        }
        let named = |s: &str| Group { stratum: s.to_owned(), ..Group::default() };
        rows.groups = vec![named("X"), named("Y")];
        tally(&rows)
    };
    let (mut pooled, mut within) = (0, Vec::new());
    for r in 0..300 {
        let groups = [("A".to_owned(), group([60, 20], 2 * r)), ("B".to_owned(), group([20, 60], 2 * r + 1))];
        pooled += u32::from(ranked(&groups, &RankOptions::default()).p_value.unwrap() < 0.05);
        let by = RankOptions { by_stratum: true, ..RankOptions::default() };
        within.push(ranked(&groups, &by).p_value.unwrap());
    }
    assert!(pooled > 200, "{pooled}");
    assert!(distance(within.clone()) < KOLMOGOROV, "{}", distance(within));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    /// Differences and variance from the definition, row by row, with ties and late entry.
    #[test]
    fn the_sums_are_those_of_the_definition(
        rows in prop::collection::vec((1_u32..12, any::<bool>(), 0_u32..6, 0_usize..3, 1_u64..4), 6..40),
    ) {
        let of = |g: usize| {
            let own: Vec<_> = rows.iter().filter(|r| r.3 == g && r.2 < r.0).collect();
            Rows {
                low: own.iter().map(|r| f64::from(r.0)).collect(),
                high: own.iter().map(|r| if r.1 { f64::from(r.0) } else { INF }).collect(),
                entry: Some(own.iter().map(|r| f64::from(r.2)).collect()),
                count: Some(own.iter().map(|r| r.4).collect()),
                ..Rows::default()
            }
        };
        let each: Vec<Rows> = (0..3).map(of).collect();
        prop_assume!(each.iter().all(|r| !r.low.is_empty()));
        let groups: Vec<(String, Tally)> = each.iter().enumerate().map(|(g, r)| (format!("g{g}"), tally(r))).collect();
        let test = ranked(&groups, &RankOptions { weight: RankWeight::RootAtRisk, ..RankOptions::default() });
        let (mut difference, mut variance) = ([0.0; 3], [[0.0; 3]; 3]);
        for age in 1..12 {
            let age = f64::from(age);
            let sum = |g: usize, failed: bool| -> f64 {
                let r = &each[g];
                let entry = r.entry.as_ref().unwrap();
                (0..r.low.len())
                    .filter(|&i| if failed { r.high[i] == age } else { entry[i] < age && age <= r.low[i] })
                    .map(|i| r.count.as_ref().unwrap()[i] as f64)
                    .sum()
            };
            let (n, d): (f64, f64) = ((0..3).map(|g| sum(g, false)).sum(), (0..3).map(|g| sum(g, true)).sum());
            if d == 0.0 {
                continue;
            }
            for (g, row) in variance.iter_mut().enumerate() {
                difference[g] += n.sqrt() * (sum(g, true) - sum(g, false) * d / n);
                for (h, cell) in row.iter_mut().enumerate() {
                    let own = if g == h { 1.0 } else { 0.0 };
                    if n > 1.0 {
                        *cell += n * d * (n - d) / (n - 1.0) * sum(g, false) / n * (own - sum(h, false) / n);
                    }
                }
            }
        }
        for g in 0..3 {
            prop_assert!((test.groups[g].difference - difference[g]).abs() < 1e-9);
            for (h, expected) in variance[g].iter().enumerate().take(g + 1) {
                prop_assert!((test.variance[g * (g + 1) / 2 + h] - expected).abs() < 1e-9);
            }
        }
        prop_assert_eq!(&GroupTest::from_json(&test.to_json().unwrap()).unwrap(), &test);
    }
}

#[test]
fn groups_and_scores_that_are_none_are_refused() {
    let (_, groups) = cases().remove(0);
    let one: Vec<(&str, &Tally)> = groups.iter().take(1).map(|(n, t)| (n.as_str(), t)).collect();
    assert_eq!(rank_test(&one, &RankOptions::default()).unwrap_err().slug(), "empirical.groups_few");
    let twice = [one[0], one[0]];
    assert_eq!(rank_test(&twice, &RankOptions::default()).unwrap_err().slug(), "empirical.group_twice");
    let named: Vec<(&str, &Tally)> = groups.iter().map(|(n, t)| (n.as_str(), t)).collect();
    for scores in [vec![1.0], vec![1.0, 1.0], vec![1.0, f64::NAN]] {
        let options = RankOptions { scores: Some(scores), ..RankOptions::default() };
        assert_eq!(rank_test(&named, &options).unwrap_err().slug(), "empirical.scores");
    }
    let options = RankOptions { weight: RankWeight::Reliability(-1.0), ..RankOptions::default() };
    assert_eq!(rank_test(&named, &options).unwrap_err().slug(), "empirical.weight_power");
    let empty = Tally::default();
    let error = rank_test(&[named[0], ("nobody", &empty)], &RankOptions::default()).unwrap_err();
    assert_eq!(error.slug(), "empirical.no_lamps");
    assert!(error.to_string().contains("nobody"), "{error}");
}

/// Lamps with a burst law alike in incidence: it decides first whether a lamp ever bursts, then when; the others go dim,
/// early in one group and late in the other.
fn alike_in_bursts(sizes: &[usize], dim_scales: &[f64], replicate: u64, late: bool) -> Vec<(String, Tally)> {
    let mut stream = Stream::new(29, "group_tests", "bursts", replicate);
    let each = sizes.iter().zip(dim_scales).enumerate().map(|(g, (&n, &scale))| {
        let mut rows = Rows { ending: Some(Vec::new()), entry: Some(Vec::new()), ..Rows::default() };
        while rows.low.len() < n {
            let bursts = stream.uniform() < 0.6;
            let fails = if bursts { 1000.0 * stream.exponential().sqrt() } else { scale * stream.exponential() };
            let entry = if late { 300.0 * stream.uniform() } else { 0.0 };
            let pulled = entry + 3000.0 * stream.uniform();
            if fails > entry {
                rows.low.push(fails.min(pulled));
                rows.high.push(if fails <= pulled { fails } else { INF });
                rows.ending.as_mut().unwrap().push(match (fails <= pulled, bursts) {
                    (true, true) => Ending::Burst,
                    (true, false) => Ending::Dim,
                    _ => Ending::Planned,
                });
                rows.entry.as_mut().unwrap().push(entry);
            }
        }
        (format!("g{g}"), tally(&rows))
    });
    each.collect()
}

#[test]
fn incidences_alike_give_even_chances_though_hazards_differ() {
    let options = IncidenceTestOptions { cause: Ending::Burst, ..IncidenceTestOptions::default() };
    let (mut chances, mut three, mut by_hazard) = (Vec::new(), Vec::new(), 0);
    for r in 0..1_000 {
        let groups = alike_in_bursts(&[150, 200], &[300.0, 1500.0], r, false);
        let named: Vec<(&str, &Tally)> = groups.iter().map(|(n, t)| (n.as_str(), t)).collect();
        chances.push(incidence_test(&named, &options).unwrap().p_value.unwrap());
        let cut: Vec<Tally> = groups.iter().map(|(_, t)| t.for_endings(&[Ending::Burst]).unwrap()).collect();
        let hazards = rank_test(&[("a", &cut[0]), ("b", &cut[1])], &RankOptions::default()).unwrap();
        by_hazard += u32::from(hazards.p_value.unwrap() < 0.05);
        if r < 500 {
            let groups = alike_in_bursts(&[100, 150, 120], &[300.0, 1500.0, 800.0], r, false);
            let named: Vec<(&str, &Tally)> = groups.iter().map(|(n, t)| (n.as_str(), t)).collect();
            let options = IncidenceTestOptions { power: 1.0, ..options.clone() };
            let test = incidence_test(&named, &options).unwrap();
            assert_eq!(test.degrees_of_freedom, 2);
            three.push(test.p_value.unwrap());
        }
    }
    assert!(distance(chances.clone()) < KOLMOGOROV, "{}", distance(chances));
    assert!(distance(three.clone()) < KOLMOGOROV, "{}", distance(three));
    assert!(by_hazard > 500, "the rank test of the cause alone asks another question: {by_hazard}");
}

#[test]
fn with_one_cause_the_incidence_test_is_the_rank_test() {
    for (power, weight) in [(0.0, RankWeight::Even), (1.0, RankWeight::Reliability(1.0))] {
        let groups = alike(&[50, 60, 70], &[0.0; 3], 5);
        let named: Vec<(&str, &Tally)> = groups.iter().map(|(n, t)| (n.as_str(), t)).collect();
        // A failure without a named cause is coded unknown.
        let options = IncidenceTestOptions { cause: Ending::Unknown, power, ..IncidenceTestOptions::default() };
        let (a, b) = (
            incidence_test(&named, &options).unwrap(),
            ranked(&groups, &RankOptions { weight, ..RankOptions::default() }),
        );
        for (a, b) in a.groups.iter().zip(&b.groups) {
            assert_eq!((a.observed, a.lamps), (b.observed, b.lamps));
            assert!((a.expected - b.expected).abs() < 1e-9 && (a.difference - b.difference).abs() < 1e-9);
        }
        for (a, b) in a.variance.iter().zip(&b.variance) {
            assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} {b}");
        }
    }
}

#[test]
fn an_incidence_that_differs_is_found_and_one_never_seen_is_undefined() {
    let groups = alike_in_bursts(&[200, 200], &[800.0, 800.0], 1, true);
    let dim = groups[1].1.for_endings(&[Ending::Dim]).unwrap();
    let named = [("a", &groups[0].1), ("no bursts", &dim)];
    let options = IncidenceTestOptions { cause: Ending::Burst, ..IncidenceTestOptions::default() };
    let test = incidence_test(&named, &options).unwrap();
    assert!(test.p_value.unwrap() < 1e-6);
    assert!(test.groups[0].difference > 0.0);
    assert!(test.notes.iter().any(|n| n.rule == "empirical.group_without_failures"));
    let never = IncidenceTestOptions { cause: Ending::Seal, ..options };
    let test = incidence_test(&named, &never).unwrap();
    assert_eq!((test.statistic, test.p_value), (None, None));
    assert!(test.notes.iter().any(|n| n.rule == "empirical.groups_undefined"));
}
