//! Planned ages where costs are known to ranges: parts, comparisons, least regret, bars, endings, and records as they stand.

use proptest::prelude::*;
use relamp::base::random::Stream;
use relamp::empirical::CurveOptions;
use relamp::family::Weibull;
use relamp::fit::{Draws, Method, World};
use relamp::lives::{Rows, Tally};
use relamp::policy::{
    AgeComparison, AgeOptions, BarInput, CostBars, LeastRegret, LifeBars, Objective, PricedDraws, compare_ages,
    cost_bars, cost_curve, curve_world, endings_by_age, least_regret, life_bars, planned_age, planned_age_interval,
    unlimited_optimum,
};
use relamp::records::Ending;
use relamp::terms::{CostParts, Costs, DarkMinutes, Discount, Salvage, Span, Warranty};
use relamp::{Result, Run};

use crate::worlds::{Drawn, close, limit, series, world};

fn weibull(shape: f64, scale: f64) -> Weibull {
    Weibull { shape, scale }
}

fn span(low: f64, high: f64) -> Span {
    Span { low, high }
}

fn parts() -> CostParts {
    let dark = DarkMinutes::new(45.0, [(Ending::Dim, 200.0)]).unwrap();
    let visit = (span(80.0, 160.0), span(0.2, 0.3));
    CostParts::new(
        span(700.0, 900.0),
        Span::known(60.0),
        visit,
        span(1.0, 3.0),
        dark,
        [(Ending::Dim, span(0.0, 2000.0))],
    )
    .unwrap()
}

#[test]
fn costs_are_the_sum_of_their_parts() {
    let parts = parts();
    let names: Vec<String> = parts.parts().into_iter().map(|p| p.0).collect();
    assert_eq!(names, ["lamp", "labour", "visit", "visit_share", "dark_minute", "damage dim"]);
    // By hand, all in the middle: 800 + 60 + 0.25 x 120 + 45 x 2 and 800 + 60 + 120 + 200 x 2 + 1,000.
    let middle = parts.middle().unwrap();
    assert_eq!((middle.planned(), middle.failure(Ending::Dim).unwrap()), (980.0, 2380.0));
    let low = parts.at(|_| 0.0).unwrap();
    assert_eq!(
        (low.planned(), low.failure(Ending::Dim).unwrap()),
        (700.0 + 60.0 + 16.0 + 45.0, 700.0 + 60.0 + 80.0 + 200.0)
    );
    // One part alone at its high end moves the costs it is part of, and no other.
    let dear = parts.at(|i| if i == 5 { 1.0 } else { 0.5 }).unwrap();
    assert_eq!((dear.planned(), dear.failure(Ending::Dim).unwrap()), (980.0, 3380.0));
    assert_eq!(parts.drawn(7, 3).unwrap(), parts.drawn(7, 3).unwrap());
    assert_ne!(parts.drawn(7, 3).unwrap(), parts.drawn(7, 4).unwrap());
    // Means of even draws: the middle, for a product of two independent parts the product of middles.
    let n = 4000;
    let mean = (0..n).map(|i| parts.drawn(1, i).unwrap().planned()).sum::<f64>() / n as f64;
    close(mean, 980.0, 0.0, 5.0);
    let text = serde_json::to_string(&parts).unwrap();
    assert_eq!(serde_json::from_str::<CostParts>(&text).unwrap(), parts);
    let backed = parts.clone().with_warranty(Warranty::full(700.0, 900.0, [Ending::Dim]).unwrap()).unwrap();
    assert_eq!(backed.middle().unwrap().warranty().unwrap().credit(5.0), 700.0);
    let dear = Warranty::full(1040.0, 900.0, [Ending::Dim]).unwrap();
    assert_eq!(parts.with_warranty(dear).unwrap_err().slug(), "terms.credit_above_cost");
}

#[test]
fn hostile_parts_are_refused_by_name() {
    let dark = || DarkMinutes::new(45.0, [(Ending::Dim, 200.0)]).unwrap();
    let bad = CostParts::new(
        span(900.0, 700.0),
        Span::known(f64::NAN),
        (Span::known(-1.0), span(0.5, 1.5)),
        Span::known(1e13),
        dark(),
        [(Ending::Burst, Span::known(5.0))],
    )
    .unwrap_err();
    assert_eq!((bad.slug(), bad.problems().len()), ("terms.part_range", 6));
    assert!(bad.to_string().contains("column damage burst"), "{bad}");
    let zero = Span::known(0.0);
    let nothing = CostParts::new(zero, zero, (zero, zero), zero, dark(), []).unwrap_err();
    assert_eq!(nothing.slug(), "terms.cost_not_positive");
}

#[test]
fn a_comparison_counts_the_draws_in_which_the_first_age_costs_less() {
    let draws = Drawn { shape: 3.0, scale: 2000.0, spread: 0.6, ratio: 5.0, draws: 200 };
    let ages = [900.0, 1100.0];
    let found = compare_ages(&draws, &Objective::CostPerHour, ages, &limit(2500.0), 0.9, &Run::new()).unwrap();
    assert_eq!((found.draws, found.failed), (199, 1));
    let mut less = 0;
    for i in (0..200).filter(|i| *i != 3) {
        let costs = cost_curve(&draws.world(i).unwrap(), &ages, &limit(2500.0)).unwrap();
        less += usize::from(costs[0].cost_per_hour < costs[1].cost_per_hour);
    }
    close(found.first_costs_less, less as f64 / 199.0, 1e-15, 0.0);
    assert!(found.difference_per_1000_hours.low < 0.0 && found.difference_per_1000_hours.high > 0.0);
    relamp::base::sound::Checks::of("saved", &found).unwrap();
    let text = serde_json::to_string(&found).unwrap();
    assert_eq!(serde_json::from_str::<AgeComparison>(&text).unwrap(), found);
    // The other way round it is the rest, and an age against itself never costs less.
    let back =
        compare_ages(&draws, &Objective::CostPerHour, [1100.0, 900.0], &limit(2500.0), 0.9, &Run::new()).unwrap();
    close(found.first_costs_less + back.first_costs_less, 1.0, 1e-12, 0.0);
    assert_eq!(found.first_costs_less, back.second_costs_less);
    let same = compare_ages(&draws, &Objective::CostPerHour, [900.0, 900.0], &limit(2500.0), 0.9, &Run::new()).unwrap();
    assert_eq!((same.first_costs_less, same.second_costs_less), (0.0, 0.0));
    let past =
        compare_ages(&draws, &Objective::CostPerHour, [900.0, 1100.0], &limit(1000.0), 0.9, &Run::new()).unwrap_err();
    assert_eq!(past.slug(), "policy.age_past_limit");
    let few = Drawn { draws: 10, ..draws };
    assert_eq!(
        compare_ages(&few, &Objective::CostPerHour, ages, &limit(2500.0), 0.9, &Run::new()).unwrap_err().slug(),
        "policy.few_draws"
    );
}

#[test]
fn unknown_costs_widen_every_answer_of_the_same_draws() {
    let draws = Drawn { shape: 3.0, scale: 2000.0, spread: 0.1, ratio: 5.0, draws: 100 };
    let known = parts().middle().unwrap();
    let fixed = CostParts::new(
        Span::known(known.planned()),
        Span::known(0.0),
        (Span::known(0.0), Span::known(0.0)),
        Span::known(0.0),
        DarkMinutes::new(1.0, [(Ending::Dim, 1.0)]).unwrap(),
        [(Ending::Dim, Span::known(known.failure(Ending::Dim).unwrap() - known.planned()))],
    )
    .unwrap();
    let options = AgeOptions::default();
    let ages = |parts: &CostParts| {
        let priced = PricedDraws::new(&draws, parts, 5);
        planned_age_interval(&priced, &limit(2500.0), &options, 0.9, &Run::new()).unwrap().age_hours
    };
    let (narrow, wide) = (ages(&fixed), ages(&parts()));
    assert!(wide.low < narrow.low && wide.high > narrow.high, "{narrow:?} {wide:?}");
    let priced = PricedDraws::new(&draws, &fixed, 5);
    assert_eq!(priced.best().unwrap().costs.planned(), known.planned());
}

#[test]
fn the_age_of_least_regret_evens_the_regrets_at_both_ends() {
    let w = world(weibull(2.0, 10_000.0), 1.0, 3.0);
    let found = least_regret(&w, (1.0, 10.0 / 3.0), &limit(50_000.0), &AgeOptions::default()).unwrap();
    // The ends are the reference ages for ratios 3 and 10: 0.7379 and 0.33645 of the scale.
    close(found.ends[0].best_hours, 7_379.138_601_722, 1e-9, 0.0);
    close(found.ends[1].best_hours, 3_364.511_912_554, 1e-9, 0.0);
    close(found.ends[0].regret_percent, found.ends[1].regret_percent, 2e-3, 0.0);
    // By the formula, an hour to either side the larger of the two regrets is larger.
    let regret = |age: f64| {
        let at = |ratio: f64, best: f64| {
            cost_curve(&world(weibull(2.0, 10_000.0), 1.0, ratio), &[age], &limit(50_000.0)).unwrap()[0].cost_per_hour
                / best
                - 1.0
        };
        at(3.0, found.ends[0].best_cost_per_hour).max(at(10.0, found.ends[1].best_cost_per_hour))
    };
    close(100.0 * regret(found.age_hours), found.regret_percent, 1e-9, 0.0);
    assert!(
        regret(found.age_hours - 20.0) > regret(found.age_hours)
            && regret(found.age_hours + 20.0) > regret(found.age_hours)
    );
    relamp::base::sound::Checks::of("saved", &found).unwrap();
    let text = serde_json::to_string(&found).unwrap();
    assert_eq!(serde_json::from_str::<LeastRegret>(&text).unwrap(), found);
    for bad in [(0.0, 1.0), (2.0, 1.0), (1.0, f64::INFINITY), (f64::NAN, 1.0)] {
        assert_eq!(
            least_regret(&w, bad, &limit(50_000.0), &AgeOptions::default()).unwrap_err().slug(),
            "policy.factors"
        );
    }
}

#[test]
fn bars_tell_how_far_each_cost_moves_the_advice() {
    let w = series(950.0, &[(Ending::Burst, 3.5, 4500.0, 5200.0), (Ending::Dim, 4.0, 2500.0, 1950.0)]);
    let found = cost_bars(&w, 1.5, &limit(4000.0), &AgeOptions::default()).unwrap();
    assert_eq!(found.bars.len(), 4);
    assert_eq!(found.planned, planned_age(&w, &limit(4000.0), &AgeOptions::default()).unwrap());
    for bar in &found.bars {
        for end in &bar.ends {
            // Each end is the planned age of a world with that one cost changed, and the stale age costs no less there.
            let other = World {
                causes: series(1.0, &[(Ending::Burst, 3.5, 4500.0, 1.0), (Ending::Dim, 4.0, 2500.0, 1.0)]).causes,
                costs: w.costs.scaled(bar.ending, end.factor).unwrap(),
            };
            let there = planned_age(&other, &limit(4000.0), &AgeOptions::default()).unwrap();
            assert_eq!((there.age_hours, there.cost.cost_per_hour), (end.age_hours, end.cost_per_hour));
            assert!(end.stale_percent > -1e-3, "{end:?}");
        }
    }
    let at = |ending: Option<Ending>| found.bars.iter().find(|b| b.ending == ending).unwrap();
    // A dearer planned change comes later, dearer failures earlier; all failures together move more than one of them.
    let ends = |b: Option<Ending>| at(b).ends.map(|e| e.age_hours);
    assert!(ends(Some(Ending::Planned))[0] < ends(Some(Ending::Planned))[1]);
    assert!(ends(None)[0] > ends(None)[1] && at(None).width() > at(Some(Ending::Dim)).width());
    // A cost of an ending that the world has no cause for has no bar.
    let costs = Costs::new(950.0, [(Ending::Burst, 5200.0), (Ending::Dim, 1950.0), (Ending::Seal, 900.0)]).unwrap();
    let causes = series(1.0, &[(Ending::Burst, 3.5, 4500.0, 1.0), (Ending::Dim, 4.0, 2500.0, 1.0)]).causes;
    let more = cost_bars(&World { causes, costs }, 1.5, &limit(4000.0), &AgeOptions::default()).unwrap();
    assert_eq!(more, found);
    relamp::base::sound::Checks::of("saved", &found).unwrap();
    let text = serde_json::to_string(&found).unwrap();
    assert_eq!(serde_json::from_str::<CostBars>(&text).unwrap(), found);
    for bad in [1.0, 0.5, f64::NAN, f64::INFINITY] {
        assert_eq!(cost_bars(&w, bad, &limit(4000.0), &AgeOptions::default()).unwrap_err().slug(), "policy.factors");
    }
}

/// Two causes whose scales are drawn independently of each other: that of the burst little, that of dimming widely.
struct TwoScales;

impl TwoScales {
    fn scales(replicate: usize) -> (f64, f64) {
        let mut stream = Stream::new(5, "test", "two scales", replicate as u64);
        let burst = 4500.0 * (0.1 * (stream.uniform() - 0.5)).exp();
        (burst, 2500.0 * (0.6 * (stream.uniform() - 0.5)).exp())
    }

    fn of(burst: f64, dim: f64) -> World {
        series(950.0, &[(Ending::Burst, 3.5, burst, 5200.0), (Ending::Dim, 4.0, dim, 1950.0)])
    }
}

impl Draws for TwoScales {
    fn len(&self) -> usize {
        60
    }
    fn best(&self) -> Result<World> {
        Ok(Self::of(4500.0, 2500.0))
    }
    fn world(&self, replicate: usize) -> Result<World> {
        let (burst, dim) = Self::scales(replicate);
        Ok(Self::of(burst, dim))
    }
    fn method(&self) -> Method {
        Method::Wald
    }
}

#[test]
fn bars_of_lives_move_one_cause_and_keep_the_others() {
    let options = AgeOptions::default();
    let found = life_bars(&TwoScales, &limit(4000.0), &options, 0.9, &Run::new()).unwrap();
    assert_eq!(found.planned, planned_age(&TwoScales::of(4500.0, 2500.0), &limit(4000.0), &options).unwrap());
    let names: Vec<_> = found.bars.iter().map(|b| b.endings.clone()).collect();
    assert_eq!(names, [[Ending::Dim], [Ending::Burst]]);
    // By hand: the ages of the worlds with that one scale drawn, sorted, with the ends between order statistics.
    let by_hand = |world: &dyn Fn(f64, f64) -> World| {
        let age = |i| {
            let (burst, dim) = TwoScales::scales(i);
            planned_age(&world(burst, dim), &limit(4000.0), &options).unwrap().optimum_hours
        };
        let mut ages: Vec<f64> = (0..60).map(age).collect();
        ages.sort_by(f64::total_cmp);
        // Ends of 60 draws: as `planned_age_interval` has them, checked there against its own draws.
        (ages[0], ages[59])
    };
    let dim = by_hand(&|_, dim| TwoScales::of(4500.0, dim));
    let burst = by_hand(&|burst, _| TwoScales::of(burst, 2500.0));
    for (bar, (least, most)) in found.bars.iter().zip([dim, burst]) {
        let range = bar.interval.age_hours;
        assert!(least <= range.low && range.high <= most, "{range:?} {least} {most}");
        // A 90 % interval of 60 draws leaves out at most three at each end.
        assert!(range.high - range.low > 0.7 * (most - least), "{range:?} {least} {most}");
    }
    let together = found.together.age_hours;
    assert!(together.high - together.low > 0.9 * found.bars[0].width());
    relamp::base::sound::Checks::of("saved", &found).unwrap();
    let text = serde_json::to_string(&found).unwrap();
    assert_eq!(serde_json::from_str::<LifeBars>(&text).unwrap(), found);
    let few = Drawn { shape: 3.0, scale: 1000.0, spread: 0.2, ratio: 5.0, draws: 10 };
    let refused = life_bars(&few, &limit(4000.0), &options, 0.9, &Run::new()).unwrap_err();
    assert_eq!(refused.slug(), "policy.few_draws");
}

#[test]
fn endings_of_a_thousand_lamps_are_those_played_out() {
    let w = series(
        950.0,
        &[
            (Ending::Burst, 1.3, 20_000.0, 5200.0),
            (Ending::Flicker, 2.0, 6000.0, 1500.0),
            (Ending::Dim, 4.5, 2400.0, 1250.0),
        ],
    );
    let at = endings_by_age(&w, &[1600.0], &limit(2000.0)).unwrap().remove(0);
    let n = 100_000_u32;
    let mut stream = Stream::new(20_251_228, "test", "endings", 0);
    let (mut counts, mut hours) = ([0_u32; 3], 0.0);
    for _ in 0..n {
        let (mut life, mut by) = (1600.0, None);
        for (i, cause) in w.causes.iter().enumerate() {
            let drawn = cause.life.draw(&mut stream).unwrap();
            if drawn < life {
                (life, by) = (drawn, Some(i));
            }
        }
        hours += life;
        if let Some(i) = by {
            counts[i] += 1;
        }
    }
    for (i, (part, ending)) in at.by_ending.iter().zip([Ending::Burst, Ending::Flicker, Ending::Dim]).enumerate() {
        assert_eq!(part.ending, ending);
        let p = part.per_1000_lamps / 1000.0;
        let z = (f64::from(counts[i]) - f64::from(n) * p) / (f64::from(n) * p * (1.0 - p)).sqrt();
        assert!(z.abs() < 4.5, "{ending}: z = {z}");
        close(part.per_1000_hours, 1000.0 * f64::from(counts[i]) / hours, 0.1, 0.0);
    }
    let failed: f64 = at.by_ending.iter().map(|e| e.per_1000_lamps).sum();
    close(failed + at.planned_per_1000, 1000.0, 1e-9, 0.0);
    relamp::base::sound::Checks::of("saved", &at).unwrap();
    assert_eq!(endings_by_age(&w, &[2001.0], &limit(2000.0)).unwrap_err().slug(), "policy.age_past_limit");
}

#[test]
fn the_optimum_of_the_curve_comes_near_that_of_the_truth() {
    // 20,000 invented lamps of two known causes, all watched to failure; the curve knows nothing of families.
    let truth = series(950.0, &[(Ending::Burst, 3.0, 5000.0, 5200.0), (Ending::Dim, 4.0, 2500.0, 2250.0)]);
    let mut stream = Stream::new(20_251_228, "test", "curve", 0);
    let (mut low, mut ending) = (Vec::new(), Vec::new());
    for _ in 0..20_000 {
        let burst = truth.causes[0].life.draw(&mut stream).unwrap();
        let dim = truth.causes[1].life.draw(&mut stream).unwrap();
        low.push(burst.min(dim).round().max(1.0));
        ending.push(if burst < dim { Ending::Burst } else { Ending::Dim });
    }
    let rows = Rows { high: low.clone(), low, ending: Some(ending), ..Rows::default() };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let seen = curve_world(&tally, &Ending::FAILURES, &truth.costs, &CurveOptions::default()).unwrap();
    let options = AgeOptions { oldest_at_risk_hours: Some(3000.0), ..AgeOptions::default() };
    let from_curve = planned_age(&seen, &limit(3000.0), &options).unwrap();
    let exact = unlimited_optimum(&truth).unwrap();
    close(from_curve.optimum_cost_per_hour, exact.cost_per_hour, 0.02, 0.0);
    // The cost is flat there: what the curve advises costs the truth next to nothing more.
    let there = cost_curve(&truth, &[from_curve.age_hours], &limit(3000.0)).unwrap()[0].cost_per_hour;
    assert!(there < 1.01 * exact.cost_per_hour, "{} of {}", from_curve.age_hours, exact.age_hours.unwrap());
    let none = curve_world(&tally, &[Ending::Seal], &truth.costs, &CurveOptions::default()).unwrap_err();
    assert_eq!(none.slug(), "policy.no_cause");
    let priceless = Costs::new(1.0, [(Ending::Burst, 2.0)]).unwrap();
    let missing = curve_world(&tally, &Ending::FAILURES, &priceless, &CurveOptions::default()).unwrap_err();
    assert_eq!(missing.slug(), "terms.cost_missing");
}

/// Costs of a curve jump at its failures, and where two regrets change places a jump may lie between two neighbours.
#[test]
fn least_regret_is_found_on_curves_of_records() {
    for seed in 0..30 {
        let mut stream = relamp::base::random::Stream::new(5, "policy_doubt", "curve", seed);
        let mut low: Vec<f64> = (0..40).map(|_| 1000.0 * stream.exponential().sqrt()).collect();
        if seed == 0 {
            low = vec![500.0, 1000.0];
        }
        let rows = Rows { high: low.clone(), ending: Some(vec![Ending::Dim; low.len()]), low, ..Rows::default() };
        let tally = Tally::from_rows(&rows).unwrap().0;
        let costs = Costs::new(1.0, [(Ending::Dim, 3.0)]).unwrap();
        let seen = curve_world(&tally, &[Ending::Dim], &costs, &CurveOptions::default()).unwrap();
        let found = least_regret(&seen, (0.5, 2.0), &limit(2000.0), &AgeOptions::default()).unwrap();
        // No whole hour is less wrong.
        let scaled = |f| costs.scaled(None, f).unwrap();
        let ends =
            [0.5, 2.0].map(|f| curve_world(&tally, &[Ending::Dim], &scaled(f), &CurveOptions::default()).unwrap());
        let ages: Vec<f64> = (1..=2000).map(f64::from).collect();
        let curves = [0, 1].map(|i| cost_curve(&ends[i], &ages, &limit(2000.0)).unwrap());
        let worst = |j: usize| {
            let regret = |i: usize| 100.0 * (curves[i][j].cost_per_hour / found.ends[i].best_cost_per_hour - 1.0);
            regret(0).max(regret(1))
        };
        close(worst(found.age_hours as usize - 1), found.regret_percent, 1e-9, 1e-9);
        let least = (0..2000).map(worst).fold(f64::INFINITY, f64::min);
        assert!(found.regret_percent < least + 0.5, "{seed}: {} of {least}", found.regret_percent);
    }
}

/// The cost of a lamp under full warranty turns at its end: the best age is that hour and no hour before it.
#[test]
fn an_age_at_a_corner_keeps_its_hour() {
    for hours in [600.0, 777.0, 850.0, 900.0, 950.0, 1000.0, 1050.0] {
        let warranty = Warranty::full(3.0, hours, [Ending::Dim]).unwrap();
        let plain = world(weibull(3.0, 1000.0), 1.0, 3.5);
        let w = World { costs: plain.costs.clone().with_warranty(warranty).unwrap(), causes: plain.causes };
        assert_eq!(planned_age(&w, &limit(2500.0), &AgeOptions::default()).unwrap().age_hours, hours);
    }
    // A failure of the records at the hour itself makes the hour too late.
    let low = vec![500.0, 1000.0, 1500.0];
    let rows = Rows { high: low.clone(), ending: Some(vec![Ending::Dim; 3]), low, ..Rows::default() };
    let tally = Tally::from_rows(&rows).unwrap().0;
    let costs = Costs::new(1.0, [(Ending::Dim, 30.0)]).unwrap();
    let seen = curve_world(&tally, &[Ending::Dim], &costs, &CurveOptions::default()).unwrap();
    assert_eq!(planned_age(&seen, &limit(2000.0), &AgeOptions::default()).unwrap().age_hours, 499.0);
}

#[test]
fn what_is_set_beside_the_costs_has_bars_too() {
    let costs = Costs::new(950.0, [(Ending::Dim, 5200.0)]).unwrap();
    let costs = costs.with_warranty(Warranty::pro_rata(700.0, 800.0, [Ending::Dim]).unwrap()).unwrap();
    let costs = costs.with_salvage(Salvage::new(300.0, 1500.0, 0.0).unwrap()).unwrap();
    let w = World { costs: costs.clone(), ..world(weibull(3.0, 1000.0), 1.0, 5.0) };
    let rate = |f: f64| Objective::DiscountedCost(Discount::per_hour(f * 2e-5).unwrap());
    let options = AgeOptions { objective: rate(1.0), ..AgeOptions::default() };
    let top = 700.0;
    let found = cost_bars(&w, 1.5, &limit(top), &options).unwrap();
    relamp::base::sound::Checks::of("bars", &found).unwrap();
    let mut names: Vec<String> = found.inputs.iter().map(|b| b.input.words()).collect();
    names.sort();
    assert_eq!(names, ["discount rate", "hour limit", "warranty price", "worth of a used lamp"]);
    // Each end by itself: the advice of that world.
    let alone = |costs: Costs, objective: Objective, top: f64| {
        let options = AgeOptions { objective, ..AgeOptions::default() };
        planned_age(&World { costs, ..world(weibull(3.0, 1000.0), 1.0, 5.0) }, &limit(top), &options).unwrap()
    };
    let base = || Costs::new(950.0, [(Ending::Dim, 5200.0)]).unwrap();
    for bar in &found.inputs {
        for end in &bar.ends {
            let f = end.factor;
            let price = if bar.input == BarInput::WarrantyPrice { f } else { 1.0 };
            let worth = if bar.input == BarInput::SalvageWorth { f } else { 1.0 };
            let costs = base().with_warranty(Warranty::pro_rata(700.0 * price, 800.0, [Ending::Dim]).unwrap()).unwrap();
            let costs = costs.with_salvage(Salvage::new(300.0 * worth, 1500.0, 0.0).unwrap()).unwrap();
            let objective = rate(if bar.input == BarInput::DiscountRate { f } else { 1.0 });
            let top = if bar.input == BarInput::Limit { f * top } else { top };
            let there = alone(costs, objective, top);
            assert_eq!((end.age_hours, end.cost_per_hour), (there.age_hours, there.cost.cost_per_hour), "{bar:?}");
            assert!(end.stale_percent >= -1e-9 && end.age_hours <= 700.0, "{bar:?}");
        }
    }
    // The limit is never raised.
    let limits = found.inputs.iter().find(|b| b.input == BarInput::Limit).unwrap();
    assert_eq!(limits.ends.map(|e| e.factor), [1.0 / 1.5, 1.0]);
}

#[test]
fn under_dark_minutes_the_minutes_move_the_age() {
    let w = world(weibull(3.0, 1000.0), 1.0, 5.0);
    let dark = DarkMinutes::new(45.0, [(Ending::Dim, 360.0), (Ending::Burst, 400.0)]).unwrap();
    let options = AgeOptions { objective: Objective::DarkMinutes(dark), ..AgeOptions::default() };
    let found = cost_bars(&w, 1.25, &limit(2000.0), &options).unwrap();
    assert!(found.bars.is_empty());
    let words: Vec<String> = found.inputs.iter().map(|b| b.input.words()).collect();
    let expected = ["dark minutes of every failure", "dark minutes of planned", "dark minutes of dim", "hour limit"];
    assert_eq!(words.len(), 4);
    assert!(expected.iter().all(|e| words.contains(&(*e).to_owned())), "{words:?}");
    // Dearer failures ask for an earlier change.
    let dim = found.inputs.iter().find(|b| b.input == BarInput::DarkMinutes(Some(Ending::Dim))).unwrap();
    assert!(dim.ends[0].age_hours > dim.ends[1].age_hours);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn no_age_under_doubt_passes_the_limit_and_ends_bound_the_regret(
        shapes in proptest::collection::vec(0.6..6.0_f64, 1..3),
        scale in 400.0..5000.0_f64,
        low in 0.5..1.0_f64,
        width in 1.0..6.0_f64,
        hours in 400.0..4000.0_f64,
    ) {
        let endings = [Ending::Burst, Ending::Dim];
        let causes: Vec<_> = shapes.iter().enumerate()
            .map(|(i, s)| (endings[i], *s, scale * (1.0 + i as f64), 2000.0 * (1.0 + i as f64))).collect();
        let w = series(900.0, &causes);
        let options = AgeOptions::default();
        let found = least_regret(&w, (low, low * width), &limit(hours), &options).unwrap();
        prop_assert!(found.age_hours <= hours && found.age_hours.fract() == 0.0);
        prop_assert!(found.ends.iter().all(|e| e.best_hours <= hours));
        relamp::base::sound::Checks::of("saved", &found).unwrap();
        // Between the ends no factor makes the regret larger.
        for k in 1..5 {
            let factor = low * width.powf(f64::from(k) / 5.0);
            let between = World { costs: w.costs.scaled(None, factor).unwrap(), causes: series(900.0, &causes).causes };
            let best = planned_age(&between, &limit(hours), &options).unwrap().optimum_cost_per_hour;
            let here = cost_curve(&between, &[found.age_hours], &limit(hours)).unwrap()[0].cost_per_hour;
            prop_assert!(100.0 * (here / best - 1.0) <= found.regret_percent + 1e-6);
        }
        let bars = cost_bars(&w, 1.25, &limit(hours), &options).unwrap();
        prop_assert!(bars.bars.iter().all(|b| b.ends.iter().all(|e| e.age_hours <= hours && e.age_hours.fract() == 0.0)));
        for at in endings_by_age(&w, &[0.3 * hours, hours], &limit(hours)).unwrap() {
            prop_assert!(at.age_hours <= hours);
            relamp::base::sound::Checks::of("saved", &at).unwrap();
        }
    }
}

fn discounted_parts(rates: (f64, f64)) -> CostParts {
    let rate = |r: f64| Discount::per_hour(r).unwrap();
    parts().with_discount_between(rate(rates.0), rate(rates.1)).unwrap()
}

#[test]
fn a_rate_known_to_a_range_is_drawn_with_the_costs() {
    let parts = discounted_parts((1e-5, 2e-4));
    assert_eq!(parts.parts().last().unwrap().0, "discount");
    let text = serde_json::to_string(&parts).unwrap();
    assert_eq!(serde_json::from_str::<CostParts>(&text).unwrap(), parts);
    let costs = parts.drawn(5, 3).unwrap();
    assert_eq!(serde_json::from_str::<Costs>(&serde_json::to_string(&costs).unwrap()).unwrap(), costs);
    // The other parts are drawn as they were, and the rate is kept where a cost is scaled.
    assert_eq!(costs.planned(), self::parts().drawn(5, 3).unwrap().planned());
    assert_eq!(costs.scaled(Some(Ending::Dim), 2.0).unwrap().discount(), costs.discount());
    let (low, high) = (Discount::per_hour(2e-4).unwrap(), Discount::per_hour(1e-5).unwrap());
    assert_eq!(self::parts().with_discount_between(low, high).unwrap_err().slug(), "terms.part_range");

    // The mean cost of draws at an even hazard, by the closed form at the rate of each: C = c_p a' R / (1 - R) + c h, with
    // a' = a + h and R = exp(-a' T).
    let draws = Drawn { shape: 1.0, scale: 2000.0, spread: 0.0, ratio: 5.0, draws: 60 };
    let priced = PricedDraws::new(&draws, &parts, 5);
    let objective = Objective::DiscountedCost(Discount::per_hour(0.7).unwrap());
    let ages = [500.0, 2000.0];
    let told = compare_ages(&priced, &objective, ages, &limit(2500.0), 0.999_999, &Run::new()).unwrap();
    // One of the draws fails.
    let mut differences: Vec<f64> = (0..60)
        .filter(|i| *i != 3)
        .map(|i| {
            let costs = parts.drawn(5, i).unwrap();
            let whole = costs.discount().unwrap().rate_per_hour() + 1.0 / 2000.0;
            let at =
                |age: f64| costs.planned() * whole / (whole * age).exp_m1() + costs.failure(Ending::Dim).unwrap() / 2e3;
            1000.0 * (at(ages[0]) - at(ages[1]))
        })
        .collect();
    differences.sort_by(f64::total_cmp);
    close(told.difference_per_1000_hours.low, differences[0], 1e-5, 0.0);
    close(told.difference_per_1000_hours.high, differences[58], 1e-5, 0.0);
}

#[test]
fn a_range_of_one_rate_is_that_rate_bit_for_bit() {
    let draws = Drawn { shape: 3.0, scale: 2000.0, spread: 0.1, ratio: 5.0, draws: 60 };
    let rate = 3.7e-5;
    let at = |rate: f64| AgeOptions {
        objective: Objective::DiscountedCost(Discount::per_hour(rate).unwrap()),
        todays_rule_hours: Some(1500.0),
        ..AgeOptions::default()
    };
    let ask = |parts: &CostParts, options: &AgeOptions| {
        let priced = PricedDraws::new(&draws, parts, 5);
        planned_age_interval(&priced, &limit(2500.0), options, 0.9, &Run::new())
    };
    let known = discounted_parts((rate, rate));
    assert_eq!(ask(&known, &at(0.9)).unwrap(), ask(&parts(), &at(rate)).unwrap());
    let middle = |parts: &CostParts| World { costs: parts.middle().unwrap(), ..draws.best().unwrap() };
    let (own, plain) = (middle(&known), middle(&parts()));
    let one = planned_age(&own, &limit(2500.0), &at(0.9)).unwrap();
    assert_eq!(one, planned_age(&plain, &limit(2500.0), &at(rate)).unwrap());
    assert_eq!(one.present_value(), Some(one.cost.cost_per_hour / rate));
    // The bar of the rate moves the rate that counts.
    let bars = |w: &World, rate: f64| cost_bars(w, 4.0, &limit(2500.0), &at(rate)).unwrap();
    assert_eq!(bars(&own, 0.9).inputs, bars(&plain, rate).inputs);
    assert!(bars(&own, 0.9).inputs.iter().any(|b| b.input == BarInput::DiscountRate && b.width() > 0.0));
    // A range widens the answers; and a rate that nothing asks for is no quiet one.
    let wide = ask(&discounted_parts((1e-6, 1e-3)), &at(0.9)).unwrap().best_cost_per_hour;
    let narrow = ask(&discounted_parts((4e-4, 6e-4)), &at(0.9)).unwrap().best_cost_per_hour;
    assert!(wide.low < narrow.low && wide.high > narrow.high, "{wide:?} {narrow:?}");
    assert_eq!(ask(&known, &AgeOptions::default()).unwrap_err().slug(), "policy.discount_unused");
    let priced = PricedDraws::new(&draws, &known, 5);
    let refused = compare_ages(&priced, &Objective::CostPerHour, [500.0, 900.0], &limit(2500.0), 0.9, &Run::new());
    assert_eq!(refused.unwrap_err().slug(), "policy.discount_unused");
}
