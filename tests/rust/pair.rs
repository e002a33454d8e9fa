//! Two groups beside each other: closed forms, populations alike of unequal age, prices, what more it takes, refusals.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::empirical::{RankOptions, rank_test};
use relamp::family::{Life, Weibull, family};
use relamp::fit::{
    FitOptions, HazardOptions, PairFit, PairOptions, Terms, compare_pair, failures_to_see, fit_covariates,
    proportional_hazards,
};
use relamp::lives::{CovariateValue, Group, Rows, Tally};
use relamp::policy::{ComparedAt, PairCost, PairCostOptions, PairVerdict, Verdict, compare_pair_costs, cost_curve};
use relamp::records::{Column, Ending, Values};
use relamp::terms::{Costs, HourLimit, PrintedHours};

const INF: f64 = f64::INFINITY;

/// Age, ending, supplier, site.
type Spent<'a> = (f64, Option<Ending>, &'a str, &'a str);

/// Lives with suppliers and sites; those without an ending still burn.
fn lives(of: &[Spent]) -> Tally {
    let text = |pick: fn(&Spent) -> String| Values::Text(of.iter().map(|r| Some(pick(r).into())).collect());
    let columns = [
        Column { name: "supplier".into(), values: text(|r| r.2.to_owned()) },
        Column { name: "site".into(), values: text(|r| r.3.to_owned()) },
    ];
    let rows = Rows {
        low: of.iter().map(|r| r.0).collect(),
        high: of.iter().map(|r| if r.1.is_some_and(|e| e != Ending::Planned) { r.0 } else { INF }).collect(),
        ending: Some(of.iter().map(|r| r.1.unwrap_or(Ending::Running)).collect()),
        ..Rows::default()
    };
    Tally::from_rows(&rows.with_covariates(&columns).unwrap()).unwrap().0
}

fn pair(name: &str, data: &Tally, options: &PairOptions) -> relamp::Result<PairFit> {
    compare_pair(family(name)?, data, "supplier", ["north", "south"], options, &Run::new())
}

fn few() -> PairOptions {
    PairOptions { replicates: 100, ..PairOptions::default() }
}

fn limit(hours: f64) -> HourLimit {
    PrintedHours { warranty_hours: Some(hours), source: "invented".into(), ..PrintedHours::default() }.limit().unwrap()
}

fn costs(planned: f64) -> Costs {
    Costs::new(planned, [(Ending::Burst, planned + 4000.0), (Ending::Dim, planned + 300.0)]).unwrap()
}

fn cost(of: &PairFit, prices: [f64; 2], options: &PairCostOptions) -> relamp::Result<PairCost> {
    let (first, second) = (costs(prices[0]), costs(prices[1]));
    compare_pair_costs(of, [&first, &second], [&limit(2500.0), &limit(2500.0)], options, &Run::new())
}

fn common(age: f64) -> PairCostOptions {
    PairCostOptions { at: ComparedAt::CommonAge(age), ..PairCostOptions::default() }
}

/// Two classes of which one lives half as long, both suppliers alike within each; north sells more of the short one.
fn two_classes(suppliers: &[&str]) -> Tally {
    let mut stream = Stream::new(11, "pair", "classes", 0);
    let (mut rows, mut supplier) = (Rows::default(), Vec::new());
    rows.groups = ["4 kW", "6 kW"].map(|c| Group { stratum: c.into(), ..Group::default() }).to_vec();
    let mut group = Vec::new();
    for i in 0..1200_u32 {
        let name = if i.is_multiple_of(2) { "north" } else { "south" };
        let short = stream.uniform() < if name == "north" { 0.85 } else { 0.15 };
        let scale = if short { 1000.0 } else { 2000.0 };
        let life = Weibull { shape: 3.0, scale }.draw(&mut stream).unwrap();
        let end = 2500.0 * stream.uniform();
        if !suppliers.contains(&name) {
            continue;
        }
        rows.low.push(life.min(end));
        rows.high.push(if life <= end { life } else { INF });
        group.push(u32::from(short));
        supplier.push(Some(name.into()));
    }
    rows.group = Some(group);
    let column = Column { name: "supplier".into(), values: Values::Text(supplier) };
    Tally::from_rows(&rows.with_covariates(&[column]).unwrap()).unwrap().0
}

#[test]
fn a_lamp_outside_the_range_of_the_records_is_told_with_its_costs() {
    let mut stream = Stream::new(4, "pair", "far", 0);
    let (mut rows, mut supplier, mut amps) = (Rows::default(), Vec::new(), Vec::new());
    for i in 0..120_u32 {
        let current = 60.0 + 30.0 * stream.uniform();
        let scale = 1500.0 * (75.0 / current).powi(3);
        rows.low.push(Weibull { shape: 3.0, scale }.draw(&mut stream).unwrap());
        supplier.push(Some(if i.is_multiple_of(2) { "north" } else { "south" }.into()));
        amps.push(Some(current));
    }
    rows.high.clone_from(&rows.low);
    rows.ending = Some(vec![Ending::Dim; 120]);
    let columns = [
        Column { name: "supplier".into(), values: Values::Text(supplier) },
        Column { name: "c".into(), values: Values::Number(amps) },
    ];
    let data = Tally::from_rows(&rows.with_covariates(&columns).unwrap()).unwrap().0;
    let adjust = Terms::new(["c"]).value_is("c", relamp::fit::ValueIs::AtFitting);
    let at = |c: f64| PairOptions {
        adjust: adjust.clone(),
        at: [("c".to_owned(), CovariateValue::number(c).unwrap())].into(),
        ..few()
    };
    let told = |notes: &[relamp::fit::Note]| notes.iter().filter(|n| n.slug == "fit.covariate_extrapolated").count();
    for (c, times) in [(75.0, 0), (200.0, 1)] {
        let got = pair("weibull", &data, &at(c)).unwrap();
        assert_eq!(told(got.notes()), times, "{:?}", got.notes());
        assert_eq!(told(&cost(&got, [950.0, 950.0], &PairCostOptions::default()).unwrap().notes), times);
    }
}

#[test]
fn suppliers_are_compared_within_each_lamp_class() {
    let lamps = two_classes(&["north", "south"]);
    let got = pair("weibull", &lamps, &few()).unwrap();
    let ratio = got.life_ratio();
    assert!(ratio.low.unwrap() < 1.0 && ratio.high.unwrap() > 1.0, "{ratio:?}");
    let hazards = got.hazard_ratio().unwrap();
    assert!(hazards.low.unwrap() < 1.0 && hazards.high.unwrap() > 1.0, "{hazards:?}");
    assert_eq!(got.adjusted(), ["stratum"]);
    let note = got.notes().iter().find(|n| n.slug == "fit.pair_strata").unwrap();
    assert!(note.text.contains("4 kW, 6 kW"), "{}", note.text);
    // Named by the caller it is the same comparison, without a word.
    let asked = pair("weibull", &lamps, &PairOptions { adjust: Terms::new(["stratum"]), ..few() }).unwrap();
    assert_eq!(asked.life_ratio(), ratio);
    assert!(asked.notes().is_empty(), "{:?}", asked.notes());
    // The effect of the class is found beside it, and one class alone needs no word.
    let classes = compare_pair(family("weibull").unwrap(), &lamps, "stratum", ["6 kW", "4 kW"], &few(), &Run::new());
    let (low, high) =
        (classes.as_ref().unwrap().life_ratio().low.unwrap(), classes.unwrap().life_ratio().high.unwrap());
    assert!(low < 0.5 && 0.5 < high, "{low} {high}");
    let alone = pair("weibull", &lamps.stratum("4 kW").unwrap(), &few()).unwrap();
    assert!(alone.notes().is_empty() && alone.adjusted().is_empty(), "{:?}", alone.notes());
    // Other calls put classes together only with a word.
    let terms = Terms::new(["supplier"]);
    let mixed =
        fit_covariates(family("weibull").unwrap(), &lamps, &terms, &FitOptions::default(), &Run::new()).unwrap();
    assert!(mixed.notes().iter().any(|n| n.slug == "fit.strata_together"), "{mixed}");
    let apart = HazardOptions { strata: vec!["stratum".into()], ..HazardOptions::default() };
    for (options, told) in [(HazardOptions::default(), true), (apart, false)] {
        let hazards = proportional_hazards(&lamps, &terms, &options, &Run::new()).unwrap();
        assert_eq!(hazards.notes().iter().any(|n| n.slug == "fit.strata_together"), told, "{hazards}");
    }
    let (north, south) = (two_classes(&["north"]), two_classes(&["south"]));
    for by_stratum in [false, true] {
        let options = RankOptions { by_stratum, ..RankOptions::default() };
        let test = rank_test(&[("north", &north), ("south", &south)], &options).unwrap();
        assert_eq!(test.notes.iter().any(|n| n.rule == "empirical.strata_together"), !by_stratum, "{:?}", test.notes);
        assert_eq!(test.p_value.unwrap() > 0.001, by_stratum);
    }
}

#[test]
fn even_hazards_are_compared_as_by_hand() {
    // 4 failures in 4,000 h against 2 in 6,000 h, every failed lamp at its own age.
    let mut data: Vec<_> = [400.0, 800.0, 1200.0, 1600.0].map(|a| (a, Some(Ending::Dim), "north", "x")).to_vec();
    data.extend([1000.0, 2000.0].map(|a| (a, Some(Ending::Burst), "south", "x")));
    data.extend([(3000.0, None, "south", "x"), (900.0, Some(Ending::Dim), "west", "y")]);
    let got = pair("exponential", &lives(&data), &few()).unwrap();
    assert!((got.life_ratio().estimate - 1000.0 / 3000.0).abs() < 1e-9, "{:?}", got.life_ratio());
    let [north, south] = got.sides();
    assert_eq!((north.failures, north.lamps, north.exposure_hours), (4, 4, 4000.0));
    assert_eq!((south.failures, south.lamps, south.exposure_hours), (2, 3, 6000.0));
    assert_eq!((north.mean_removed_hours, south.mean_removed_hours), (Some(1000.0), Some(1500.0)));
    assert_eq!((north.endings.clone(), south.endings.clone()), (vec![(Ending::Dim, 1.0)], vec![(Ending::Burst, 1.0)]));
    // Likelihood ratio of two rates: 2 (sum of d ln(d / T) - D ln(D / sum of T)).
    let whole = 4.0 * (4.0f64 / 4000.0).ln() + 2.0 * (2.0f64 / 6000.0).ln() - 6.0 * (6.0f64 / 10_000.0).ln();
    assert!((got.test().statistic - 2.0 * whole).abs() < 1e-8, "{:?}", got.test());
    // Costs at 500 h, by the formula of even hazards: c_p rate R / F + c_f rate, first and second.
    let rated = |mean: f64, planned: f64, failed: f64| {
        let r = (-500.0 / mean).exp();
        (planned * r + failed * (1.0 - r)) / (mean * (1.0 - r))
    };
    let both = cost(&got, [1000.0, 900.0], &common(500.0)).unwrap();
    let hand = 1000.0 * (rated(1000.0, 1000.0, 1300.0) - rated(3000.0, 900.0, 4900.0));
    assert!((both.difference_per_1000_hours - hand).abs() < 1e-6 * hand.abs(), "{both:?} {hand}");
    assert_eq!(both.names, ["north".to_owned(), "south".to_owned()]);
}

/// Suppliers whose lamps are alike, Weibull 3 / 2,000 h; those of the south have been in use for half as long.
fn alike(lamps: usize, stream: &mut Stream) -> Tally {
    let mut data = Vec::new();
    for i in 0..lamps {
        for (supplier, until) in [("north", 2000.0), ("south", 1100.0)] {
            let age = 2000.0 * stream.exponential().powf(1.0 / 3.0);
            let watched = 300.0 + (until - 300.0) * stream.uniform();
            let ending = if stream.uniform() < 0.2 { Ending::Burst } else { Ending::Dim };
            // Half of those that work are out on plan, the others still burn.
            let works = if stream.uniform() < 0.5 { Some(Ending::Planned) } else { None };
            let (low, ending) = if age < watched { (age, Some(ending)) } else { (watched, works) };
            data.push((low, ending, supplier, if i % 3 == 0 { "x" } else { "y" }));
        }
    }
    lives(&data)
}

#[test]
fn populations_alike_of_unequal_age_differ_in_five_runs_of_a_hundred() {
    const RUNS: u64 = 120;
    let (mut held, mut life, mut hazard, mut means) = (0, 0, 0, 0.0);
    for run in 0..RUNS {
        let data = alike(250, &mut Stream::new(5, "test", "pair", run));
        let options =
            PairOptions { replicates: 200, adjust: Terms::new(["site"]), seed: run, ..PairOptions::default() };
        let got = pair("weibull", &data, &options).unwrap();
        let both = cost(&got, [1000.0, 1000.0], &common(1000.0)).unwrap();
        held += u64::from(both.low_per_1000_hours <= 0.0 && 0.0 <= both.high_per_1000_hours);
        let inside = |r: &relamp::fit::LifeRatio| r.low.unwrap() <= 1.0 && 1.0 <= r.high.unwrap();
        life += u64::from(inside(got.life_ratio()));
        hazard += u64::from(inside(got.hazard_ratio().unwrap()));
        let [north, south] = got.sides();
        means += (north.mean_removed_hours.unwrap() - south.mean_removed_hours.unwrap()) / RUNS as f64;
    }
    // Binomial ends at 0.1 % on either side of 114 of 120.
    for (what, n) in [("cost", held), ("life", life), ("hazard", hazard)] {
        assert!((106..=119).contains(&n), "{what}: {n} of {RUNS}");
    }
    // The mean of removed lamps says that the north is much better, though lamps are alike.
    assert!(means > 250.0, "{means}");
}

/// Suppliers alike whose failures are one in five a burst, which costs most: where one has seen none by chance, its bursts are
/// not taken to be impossible.
#[test]
fn endings_that_one_group_has_not_seen_decide_no_more_often_than_the_level_says() {
    for lamps in [40, 80] {
        let verdicts = Run::new().map(250, |run| {
            let data = alike(lamps, &mut Stream::new(6, "test", "pair", run as u64));
            let got = pair("weibull", &data, &PairOptions { seed: run as u64, ..few() });
            // Too few failures for any answer in some.
            let Ok(got) = got else { return Ok(None) };
            let both = cost(&got, [1000.0, 1000.0], &common(1000.0))?;
            Ok(Some(matches!(both.verdict, PairVerdict::FirstCheaper | PairVerdict::SecondCheaper)))
        });
        let all: Vec<bool> = verdicts.unwrap().into_iter().filter_map(|v| v.unwrap()).collect();
        let decided = all.iter().filter(|d| **d).count() as f64 / all.len() as f64;
        // 4 to 8 in 100 are told; three standard deviations of 250 runs above 8.
        assert!(all.len() > 200 && decided < 0.08 + 3.0 * (0.08 * 0.92 / 250.0_f64).sqrt(), "{lamps}: {decided}");
    }
}

#[test]
fn planned_ages_that_differ_where_records_end_are_told_apart_from_lamps() {
    let data = alike(250, &mut Stream::new(12, "test", "pair", 0));
    let got = pair("weibull", &data, &few()).unwrap();
    let both = cost(&got, [1000.0, 1000.0], &PairCostOptions::default()).unwrap();
    let ages = both.costs.each_ref().map(|c| c.age_hours);
    assert!(ages[1] < ages[0] && both.age_verdicts.unwrap()[1] == Verdict::RecordsEnd, "{both:?}");
    assert!(both.sentence.contains("part of the difference is one of ages"), "{}", both.sentence);
    assert_eq!(both.notes.iter().filter(|n| n.slug == "policy.pair_ages_apart").count(), 1);
    let same = cost(&got, [1000.0, 1000.0], &common(ages[1])).unwrap();
    assert!(!same.sentence.contains("one of ages"));
    let there =
        format!("the difference is {} per 1,000 h", relamp::base::figure::short(same.difference_per_1000_hours));
    assert!(both.sentence.contains(&there), "{} {there}", both.sentence);
}

#[test]
fn an_ending_that_one_group_has_not_seen_widens_its_cost_where_it_has_one() {
    let age = |i: i32| 400.0 + 30.0 * f64::from(i);
    let north = (0..12).map(|i| (age(i), Some(if i % 4 == 0 { Ending::Burst } else { Ending::Dim }), "north", "x"));
    let south = (0..12).map(|i| (age(i) + 7.0, Some(Ending::Dim), "south", "x"));
    let got = pair("weibull", &lives(&north.chain(south).collect::<Vec<_>>()), &few()).unwrap();
    let [one, other] = got.sides();
    assert!(one.unseen.is_empty() && other.unseen == [Ending::Burst] && other.endings == [(Ending::Dim, 1.0)]);
    let both = cost(&got, [1000.0, 1000.0], &common(600.0)).unwrap();
    let dim = Costs::new(1000.0, [(Ending::Dim, 1300.0)]).unwrap();
    let limits = [&limit(2500.0), &limit(2500.0)];
    let never = compare_pair_costs(&got, [&costs(1000.0), &dim], limits, &common(600.0), &Run::new()).unwrap();
    assert_eq!(both.difference_per_1000_hours, never.difference_per_1000_hours);
    assert!(both.low_per_1000_hours < never.low_per_1000_hours - 50.0, "{both:?} {never:?}");
}

#[test]
fn a_price_decides_where_lives_are_alike_and_more_lamps_are_asked_for_where_nothing_does() {
    let data = alike(250, &mut Stream::new(9, "test", "pair", 0));
    let got = pair("weibull", &data, &PairOptions::default()).unwrap();
    let dear = cost(&got, [3000.0, 1000.0], &common(1000.0)).unwrap();
    assert_eq!(dear.verdict, PairVerdict::SecondCheaper);
    assert!(
        dear.sentence.starts_with("south is cheaper by ") && dear.sentence.contains("95 % interval"),
        "{}",
        dear.sentence
    );
    assert!(dear.more.is_none() && dear.share_first_cheaper == 0.0);
    // Turned round, the same difference with its sign changed.
    let back = compare_pair(
        family("weibull").unwrap(),
        &data,
        "supplier",
        ["south", "north"],
        &PairOptions::default(),
        &Run::new(),
    );
    let back = cost(&back.unwrap(), [1000.0, 3000.0], &common(1000.0)).unwrap();
    assert!((back.difference_per_1000_hours + dear.difference_per_1000_hours).abs() < 1e-3);
    let undecided = |worth: f64| {
        let options = PairCostOptions { worth_per_1000_hours: Some(worth), ..common(1000.0) };
        cost(&got, [1000.0, 1000.0], &options).unwrap()
    };
    let short = undecided(20.0);
    assert_eq!(short.verdict, PairVerdict::NotEnough, "{short:?}");
    assert!(
        short.sentence.starts_with("not enough yet: ") && short.sentence.contains("more failures ("),
        "{}",
        short.sentence
    );
    // By hand: (z + z')^2 (s / worth)^2 times the failures that there are.
    let s = 0.5 * (short.high_per_1000_hours - short.low_per_1000_hours) / 1.959_964;
    let needed = ((1.959_964 + 0.841_621) * s / 20.0).powi(2);
    let [north, south] = got.sides();
    for (more, side) in short.more.unwrap().iter().zip([north, south]) {
        let expected = (side.failures as f64 * (needed - 1.0)).ceil();
        assert!((more.failures as f64 - expected).abs() <= 1.0, "{more:?} {expected}");
        assert!(more.lamps > more.failures);
    }
    // Half the difference takes four times the failures.
    let finer = undecided(10.0).more.unwrap()[0].failures as f64;
    let all = |more: f64| more + north.failures as f64;
    assert!((all(finer) / all(short.more.unwrap()[0].failures as f64) - 4.0).abs() < 0.02);
    let wide = undecided(5000.0);
    assert_eq!(wide.verdict, PairVerdict::Alike);
    assert!(wide.sentence.contains("cost the same within 5,000 per 1,000 h"), "{}", wide.sentence);
}

#[test]
fn planned_ages_are_those_of_the_records_and_costs_those_of_the_curve() {
    let data = alike(250, &mut Stream::new(10, "test", "pair", 0));
    let got = pair("weibull", &data, &few()).unwrap();
    let both = cost(&got, [1000.0, 1000.0], &PairCostOptions::default()).unwrap();
    for (side, point) in got.sides().iter().zip(&both.costs) {
        assert!(point.age_hours <= side.oldest_at_risk_hours && point.age_hours.fract() == 0.0, "{point:?}");
    }
    let [life, _] = got.lives().unwrap();
    let causes = vec![relamp::fit::CauseLife { endings: got.sides()[0].endings.clone(), life }];
    let world = relamp::fit::World { causes, costs: costs(1000.0) };
    let alone = cost_curve(&world, &[both.costs[0].age_hours], &limit(2500.0)).unwrap();
    assert!((alone[0].cost_per_hour - both.costs[0].cost_per_hour).abs() < 1e-12);
    let far = cost(&got, [1000.0, 1000.0], &common(2400.0)).unwrap();
    assert_eq!(far.notes.iter().filter(|n| n.slug == "policy.pair_past_records").count(), 2);
}

#[test]
fn an_age_that_is_only_where_a_group_ends_says_so() {
    let data = alike(250, &mut Stream::new(10, "test", "pair", 0));
    let got = pair("weibull", &data, &few()).unwrap();
    let even = Costs::new(500.0, [(Ending::Burst, 500.0), (Ending::Dim, 500.0)]).unwrap();
    let (limit, worn) = (limit(20_000.0), costs(1000.0));
    let ask = |costs: [&Costs; 2], at: &PairCostOptions| {
        compare_pair_costs(&got, costs, [&limit, &limit], at, &Run::new()).unwrap()
    };
    let both = ask([&even, &worn], &PairCostOptions::default());
    let [first, second] = both.age_verdicts.unwrap();
    assert_eq!(first, Verdict::PlannedCostsAtLeastFailure);
    assert_ne!(second, first);
    assert_eq!(both.costs[0].age_hours, got.sides()[0].oldest_at_risk_hours.floor());
    let said = both.notes.iter().find(|n| n.slug == "policy.pair_age_stops").unwrap();
    assert!(said.text.starts_with("north: a planned change costs as much as a failure or more"), "{}", said.text);
    assert!(
        said.text.ends_with("is the oldest lamp at risk") && both.sentence.contains(&said.text),
        "{}",
        both.sentence
    );
    // A common age is the caller's, and has no verdict.
    let common = ask([&even, &worn], &common(1000.0));
    assert!(common.age_verdicts.is_none() && common.notes.iter().all(|n| n.slug != "policy.pair_age_stops"));
}

#[test]
fn sites_that_differ_are_adjusted_for() {
    // Lamps alike, but site x kills them twice as fast and holds most lamps of the north.
    let mut stream = Stream::new(4, "test", "pair", 0);
    let mut data = Vec::new();
    for (supplier, site, lamps, scale) in [
        ("north", "x", 160, 1000.0),
        ("north", "y", 40, 2000.0),
        ("south", "x", 40, 1000.0),
        ("south", "y", 160, 2000.0),
    ] {
        for _ in 0..lamps {
            let age = scale * stream.exponential().powf(1.0 / 3.0);
            data.push((age.min(1500.0), (age < 1500.0).then_some(Ending::Dim), supplier, site));
        }
    }
    let data = lives(&data);
    let plain = pair("weibull", &data, &few()).unwrap();
    assert!(plain.life_ratio().high.unwrap() < 0.8, "{:?}", plain.life_ratio());
    let adjusted = PairOptions { adjust: Terms::new(["site"]), ..few() };
    let got = pair("weibull", &data, &adjusted).unwrap();
    let ratio = got.life_ratio();
    assert!(ratio.low.unwrap() < 1.0 && ratio.high.unwrap() > 1.0 && (ratio.estimate - 1.0).abs() < 0.1, "{ratio:?}");
    // The lamp that is compared stands at the site asked for.
    let at = PairOptions { at: [("site".to_owned(), CovariateValue::from("y"))].into(), ..adjusted };
    let there = pair("weibull", &data, &at).unwrap();
    let middle = |p: &PairFit| p.lives().unwrap()[0].quantile(0.5).unwrap();
    assert!((middle(&there) / middle(&got) - 2.0).abs() < 0.3);
}

#[test]
fn the_failures_that_tell_two_hazards_apart_are_those_of_the_formula() {
    // Normal quantiles 1.959964 and 0.841621; the formula by hand: 7.8489 / (0.25 x 0.16440) = 190.97.
    assert_eq!(failures_to_see(1.5, 0.5, 0.95, 0.8).unwrap(), 191);
    assert_eq!(failures_to_see(1.0 / 1.5, 0.5, 0.95, 0.8).unwrap(), 191);
    assert!(failures_to_see(1.5, 0.2, 0.95, 0.8).unwrap() > 290);
    for (ratio, share, level, power) in [
        (1.0, 0.5, 0.95, 0.8),
        (0.0, 0.5, 0.95, 0.8),
        (1.5, 1.0, 0.95, 0.8),
        (1.5, 0.5, 0.95, 0.4),
        (1.5, 0.5, 0.95, 1.0),
    ] {
        assert_eq!(failures_to_see(ratio, share, level, power).unwrap_err().slug(), "fit.pair_power");
    }
    assert_eq!(failures_to_see(1.5, 0.5, 1.0, 0.8).unwrap_err().slug(), "fit.level");
}

#[test]
fn what_cannot_be_compared_is_refused_by_name() {
    let data = alike(200, &mut Stream::new(2, "test", "pair", 0));
    let slug = |options: PairOptions| pair("weibull", &data, &options).unwrap_err().slug();
    assert_eq!(slug(PairOptions { replicates: 99, ..few() }), "fit.pair_replicates");
    assert_eq!(slug(PairOptions { level: 0.0, ..few() }), "fit.level");
    assert_eq!(slug(PairOptions { adjust: Terms::new(["room"]), ..few() }), "fit.covariate_unknown");
    assert_eq!(slug(PairOptions { endings: Some(vec![Ending::Flicker]), ..few() }), "fit.no_failures");
    let at = [("supplier".to_owned(), CovariateValue::from("north"))];
    assert_eq!(slug(PairOptions { at: at.into(), ..few() }), "fit.pair_by");
    let asked = |by: &str, names: [&str; 2]| {
        compare_pair(family("weibull").unwrap(), &data, by, names, &few(), &Run::new()).unwrap_err().slug()
    };
    assert_eq!(asked("room", ["north", "south"]), "fit.pair_by");
    assert_eq!(asked("supplier", ["north", "east"]), "fit.pair_name");
    assert_eq!(asked("supplier", ["north", ""]), "fit.pair_name");
    assert_eq!(asked("supplier", ["north", "north"]), "fit.pair_name");
    for (names, place) in [(["east", "north"], "group"), (["north", "east"], "other")] {
        let error =
            compare_pair(family("weibull").unwrap(), &data, "supplier", names, &few(), &Run::new()).unwrap_err();
        assert_eq!(error.problems()[0].place.input, place);
        assert!(error.to_string().contains("got east, expected levels of supplier: north, south"), "{error}");
    }
    assert_eq!(pair("normal", &data, &few()).unwrap_err().slug(), "fit.pair_family");
    // A group without failures has no ratio, but a bound.
    let none = [("north", Some(Ending::Dim)), ("south", None)];
    let none: Vec<_> = (1..=20).flat_map(|i| none.map(|(s, e)| (50.0 * f64::from(i), e, s, "x"))).collect();
    let error = pair("weibull", &lives(&none), &few()).unwrap_err();
    assert_eq!(error.slug(), "fit.level_no_failures");
    assert!(error.hint().unwrap().contains("at least"), "{error}");
    let got = pair("weibull", &data, &few()).unwrap();
    let refused = |options: PairCostOptions| cost(&got, [1000.0, 1000.0], &options).unwrap_err().slug();
    assert_eq!(refused(common(2600.0)), "policy.age_past_limit");
    assert_eq!(refused(common(0.0)), "policy.age");
    assert_eq!(refused(PairCostOptions { power: 0.3, ..PairCostOptions::default() }), "fit.pair_power");
    for worth in [0.0, -1.0, f64::NAN, INF] {
        let options = PairCostOptions { worth_per_1000_hours: Some(worth), ..PairCostOptions::default() };
        assert_eq!(refused(options), "policy.pair_worth");
    }
    let dim = Costs::new(100.0, [(Ending::Dim, 200.0)]).unwrap();
    let missing = compare_pair_costs(&got, [&dim, &dim], [&limit(9.0), &limit(9.0)], &common(9.0), &Run::new());
    assert_eq!(missing.unwrap_err().slug(), "terms.cost_missing");
}

#[test]
fn a_missing_ratio_of_hazards_is_explained() {
    let data: Vec<Spent> =
        (1..=30).map(|i| (100.0 * f64::from(i), Some(Ending::Dim), ["north", "south"][i as usize % 2], "x")).collect();
    let exact = lives(&data);
    let why = |tally: &Tally| {
        let got = pair("weibull", tally, &few()).unwrap();
        let note = got.notes().iter().find(|n| n.slug == "fit.pair_no_hazard_ratio").map(|n| n.text.clone());
        assert_eq!(got.hazard_ratio().is_none(), note.is_some());
        note
    };
    assert_eq!(why(&exact), None);
    let note = why(&exact.read_exact(50.0).unwrap()).unwrap();
    assert!(note.contains("30 failures are known to an interval"), "{note}");
    // One group fails whole before the other begins: lives differ, the ratio of hazards rises without end.
    let apart: Vec<Spent> = (1..=30)
        .map(|i| (100.0 * f64::from(i), Some(Ending::Dim), if i < 15 { "north" } else { "south" }, "x"))
        .collect();
    let note = why(&lives(&apart)).unwrap();
    assert!(note.contains("rises without end"), "{note}");
}
