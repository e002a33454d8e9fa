//! Replacement ages against stored values, closed forms, properties and a played-out renewal.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::random::Stream;
use relamp::family::{Exponential, Life, Lognormal, Weibull};
use relamp::fit::{CauseLife, World};
use relamp::policy::{
    AgeOptions, BandEnd, PlannedAge, Verdict, WorldCurve, cost_curve, planned_age, planned_age_interval,
    unlimited_optimum,
};
use relamp::records::Ending;
use relamp::terms::{Costs, PrintedHours};

use crate::worlds::{Drawn, Even, Mixture, Steps, case, close, limit, number, series, world};

fn weibull(shape: f64, scale: f64) -> Weibull {
    Weibull { shape, scale }
}

/// The planned age before rounding, under a limit that is far away.
fn free(world: &World, hours: f64) -> PlannedAge {
    planned_age(world, &limit(hours), &AgeOptions::default()).unwrap()
}

#[test]
fn a_life_that_reaches_below_age_zero_is_refused_unless_cut() {
    use relamp::family::{AboveZero, Normal};
    let life = Normal { location: 1500.0, scale: 400.0 };
    let error = WorldCurve::new(&world(life, 1.0, 5.0)).unwrap_err();
    assert_eq!((error.kind(), error.slug()), (relamp::Kind::Refused, "policy.below_zero"));
    assert!(error.hint().unwrap().contains("above_zero"));
    let cut = world(AboveZero::new(Box::new(life)), 1.0, 5.0);
    let best = unlimited_optimum(&cut).unwrap();
    // At the best age the hazard times the cost of a failure balances the mean cost: checked by its neighbours.
    let cost = |age: f64| {
        let life = AboveZero::new(Box::new(life));
        (life.reliability(age) + 5.0 * life.failure_probability(age)) / life.mean_to(age).unwrap()
    };
    let age = best.minima[0].0;
    assert!(cost(age) < cost(0.99 * age) && cost(age) < cost(1.01 * age));
    close(cost(age), best.cost_per_hour, 1e-9, 0.0);
}

#[test]
fn the_weibull_grid_is_met() {
    let stored = case("age_weibull_grid");
    let mut seen = 0;
    for row in stored["outputs"]["rows"].as_array().unwrap() {
        let v: Vec<f64> = row.as_array().unwrap().iter().map(number).collect();
        let (shape, ratio, age, cost, to_failure) = (v[0], v[1], v[2], v[3], v[4]);
        // One hour of scale is the stored unit; the search must not care.
        for scale in [1.0, 2000.0] {
            let best = unlimited_optimum(&world(weibull(shape, scale), 1.0, ratio)).unwrap();
            let run = best.run_to_failure_cost_per_hour.unwrap();
            let found = best.minima.iter().map(|m| m.0 / scale).find(|t| (t - age).abs() < 1e-6 * age);
            close(found.unwrap_or(f64::NAN), age, 1e-9, 0.0);
            close(best.cost_per_hour * scale, cost, 1e-9, 0.0);
            close(best.cost_per_hour / run, to_failure, 1e-9, 0.0);
            // A ratio of 1 to fifteen digits is running to failure, whatever the root.
            assert_eq!(best.age_hours.is_some(), to_failure < 1.0 - 1e-9, "shape {shape}, ratio {ratio}");
        }
        seen += 1;
    }
    assert!(seen >= 50, "only {seen} rows");
    // The two figures that a reader may check by hand.
    let two = unlimited_optimum(&world(weibull(2.0, 1.0), 1.0, 3.0)).unwrap();
    close(two.age_hours.unwrap(), 0.7379, 0.0, 5e-5);
    let three = unlimited_optimum(&world(weibull(3.0, 1.0), 1.0, 5.0)).unwrap();
    close(three.age_hours.unwrap(), 0.50261, 0.0, 5e-6);
}

#[test]
fn a_finite_but_meaningless_optimum_is_running_to_failure() {
    let stored = case("age_weibull_practically_infinite");
    let best = unlimited_optimum(&world(weibull(1.1, 1.0), 1.0, 1.05)).unwrap();
    assert_eq!(best.age_hours, None);
    close(best.cost_per_hour, number(&stored["outputs"]["C"]), 1e-10, 0.0);
    let advised = free(&world(weibull(1.1, 1000.0), 1.0, 1.05), 5000.0);
    assert_eq!((advised.verdict, advised.age_hours), (Verdict::NoPlannedChangePays, 5000.0));
}

#[test]
fn constant_and_falling_hazards_run_to_the_limit() {
    let stored = case("age_dfr_and_constant");
    for (i, shape) in [0.7, 1.0].into_iter().enumerate() {
        let best = unlimited_optimum(&world(weibull(shape, 1.0), 1.0, 5.0)).unwrap();
        assert_eq!(best.age_hours, None);
        close(best.cost_per_hour, number(&stored["outputs"]["C_run_to_failure"][i]), 1e-10, 0.0);
        let advised = free(&world(weibull(shape, 1000.0), 1.0, 5.0), 1500.0);
        assert_eq!((advised.verdict, advised.age_hours), (Verdict::NoPlannedChangePays, 1500.0));
        close(advised.cost.cost_per_hour * 1000.0, number(&stored["outputs"]["C_at_ceiling"][i]), 1e-10, 0.0);
    }
    let stored = case("hc-age-001");
    let best = unlimited_optimum(&world(weibull(0.8, 1000.0), 1.0, 10.0)).unwrap();
    assert_eq!(best.age_hours, None);
    close(best.cost_per_hour, number(&stored["expect"]["cost_rate"]), 1e-9, 0.0);
    let constant = free(&world(Exponential { scale: 1000.0 }, 1.0, 5.0), 1500.0);
    assert_eq!(constant.verdict, Verdict::NoPlannedChangePays);
}

#[test]
fn an_ordinary_optimum_and_its_whole_hour() {
    let expect = &case("hc-age-004")["expect"];
    let w = world(weibull(2.5, 1000.0), 1.0, 10.0);
    let advised = free(&w, 2000.0);
    close(advised.optimum_hours, number(&expect["age"]), 1e-9, 0.0);
    close(advised.optimum_cost_per_hour, number(&expect["cost_rate"]), 1e-10, 0.0);
    assert_eq!((advised.verdict, advised.age_hours), (Verdict::BestBelowLimit, 354.0));
    let at_250 = cost_curve(&w, &[250.0], &limit(2000.0)).unwrap();
    close(at_250[0].cost_per_hour, number(&expect["grid_cost_rate"]), 1e-10, 0.0);
}

#[test]
fn lognormal_hazards_that_rise_and_fall() {
    let stored = case("age_lognormal");
    for (key, expect) in stored["outputs"].as_object().unwrap() {
        let (sigma, ratio) = key.split_once('|').unwrap();
        let life = Lognormal { location: 0.0, scale: sigma.parse().unwrap() };
        let best = unlimited_optimum(&world(life, 1.0, ratio.parse().unwrap())).unwrap();
        close(best.cost_per_hour, number(&expect["C"]), 1e-9, 0.0);
        close(best.run_to_failure_cost_per_hour.unwrap(), number(&expect["run_to_failure"]), 1e-10, 0.0);
        match best.age_hours {
            Some(age) => close(age, number(&expect["T"]), 1e-8, 0.0),
            None => assert_eq!(number(&expect["T"]), f64::INFINITY, "{key}"),
        }
    }
    let expect = &case("hc-age-008")["expect"];
    let best = unlimited_optimum(&world(Lognormal { location: 1000_f64.ln(), scale: 0.6 }, 1.0, 3.0)).unwrap();
    close(best.age_hours.unwrap(), number(&expect["age"]), 1e-9, 0.0);
    close(best.cost_per_hour, number(&expect["cost_rate"]), 1e-10, 0.0);
    close(best.run_to_failure_cost_per_hour.unwrap(), number(&expect["run_to_failure_cost_rate"]), 1e-10, 0.0);
}

#[test]
fn a_ceiling_binds_or_not() {
    let outputs = &case("age_ceiling")["outputs"];
    for (key, verdict) in [("0.2", Verdict::LimitBinds), ("0.4", Verdict::LimitBinds), ("0.8", Verdict::BestBelowLimit)]
    {
        let ceiling: f64 = key.parse().unwrap();
        let advised = free(&world(weibull(3.0, 1000.0), 1.0, 5.0), 1000.0 * ceiling);
        assert_eq!(advised.verdict, verdict);
        close(advised.optimum_hours / 1000.0, number(&outputs[key]["T"]), 1e-9, 0.0);
        close(advised.optimum_cost_per_hour * 1000.0, number(&outputs[key]["C"]), 1e-10, 0.0);
    }
}

#[test]
fn of_two_minima_the_cheaper_is_taken_and_the_limit_can_change_which() {
    let stored = case("age_mixture_two_minima");
    let life = |scale: f64| Mixture(vec![(0.3, weibull(4.0, 0.3 * scale)), (0.7, weibull(6.0, 2.0 * scale))]);
    let best = unlimited_optimum(&world(life(1.0), 1.0, 5.0)).unwrap();
    let expect = stored["outputs"]["local_minima"].as_array().unwrap();
    for (found, expected) in best.minima.iter().zip(expect) {
        close(found.0, number(&expected[0]), 1e-8, 0.0);
        close(found.1, number(&expected[1]), 1e-9, 0.0);
    }
    close(best.age_hours.unwrap(), number(&expect[1][0]), 1e-9, 0.0);
    close(best.run_to_failure_cost_per_hour.unwrap(), number(&stored["outputs"]["run_to_failure"]), 1e-10, 0.0);
    let w = world(life(1000.0), 1.0, 5.0);
    assert_eq!(free(&w, 2000.0).age_hours, 1449.0);
    // Under a limit of 350 h only the first minimum is left, and it beats the limit.
    let early = free(&w, 350.0);
    assert_eq!((early.verdict, early.age_hours), (Verdict::BestBelowLimit, 238.0));
    // Two stretches near the best: the first dip costs 1.549 times the limit, the hump between 1.609 times.
    let options = AgeOptions { near_percent: 58.0, ..AgeOptions::default() };
    let both = planned_age(&w, &limit(700.0), &options).unwrap();
    assert_eq!(both.near_best.len(), 2, "{:?}", both.near_best);
    assert_eq!(both.near_best[0].to_end, BandEnd::Exact);
    assert_eq!((both.near_best[1].to_hours, both.near_best[1].to_end), (700.0, BandEnd::AtLimit));
}

#[test]
fn an_even_life_has_the_printed_optimum() {
    // Jardine and Tsang, chapter 2, problem 2: 40000 (sqrt 3 - 1) in closed form.
    let outputs = &case("age_uniform_jardine")["outputs"];
    let w = world(Even(40_000.0), 100.0, 200.0);
    let advised = free(&w, 40_000.0);
    close(advised.optimum_hours, number(&outputs["T"]), 1e-9, 0.0);
    close(advised.optimum_cost_per_hour, number(&outputs["C"]), 1e-12, 0.0);
    for (age, cost) in outputs["C_grid"].as_object().unwrap() {
        let point = cost_curve(&w, &[age.parse().unwrap()], &limit(40_000.0)).unwrap();
        close(point[0].cost_per_hour, number(cost), 1e-12, 0.0);
    }
}

#[test]
fn ends_of_the_near_best_ages_cost_exactly_two_percent_more() {
    let w = world(weibull(2.0, 2000.0), 1.0, 3.0);
    let advised = free(&w, 5000.0);
    let band = &advised.near_best;
    assert_eq!(band.len(), 1);
    let ends = cost_curve(&w, &[band[0].from_hours, band[0].to_hours], &limit(5000.0)).unwrap();
    for end in ends {
        close(end.cost_per_hour, 1.02 * advised.optimum_cost_per_hour, 1e-9, 0.0);
    }
    assert!(band[0].from_hours < advised.optimum_hours && advised.optimum_hours < band[0].to_hours);
    let cut = free(&w, 1500.0);
    assert_eq!((cut.near_best[0].to_hours, cut.near_best[0].to_end), (1500.0, BandEnd::AtLimit));
}

#[test]
fn outcomes_that_are_no_errors_are_stated() {
    let dear = free(&world(weibull(3.0, 1000.0), 5.0, 5.0), 800.0);
    assert_eq!((dear.verdict, dear.age_hours), (Verdict::PlannedCostsAtLeastFailure, 800.0));
    let dearer = free(&world(weibull(0.7, 1000.0), 9.0, 5.0), 800.0);
    assert_eq!((dearer.verdict, dearer.age_hours), (Verdict::PlannedCostsAtLeastFailure, 800.0));
    // Trade notes, own computation: shape 1.5, ratio 2 saves only 0.16 % against running to failure.
    let options = AgeOptions { least_saving_percent: 0.2, ..AgeOptions::default() };
    let flat = planned_age(&world(weibull(1.5, 1000.0), 1.0, 2.0), &limit(9000.0), &options).unwrap();
    assert_eq!((flat.verdict, flat.age_hours), (Verdict::FlatSavesNothing, 9000.0));
    assert!(flat.optimum_hours < 2200.0 && flat.sentence.contains("flat"), "{}", flat.sentence);
    let w = world(weibull(3.0, 1000.0), 1.0, 5.0);
    let guarded = AgeOptions { oldest_at_risk_hours: Some(400.5), ..AgeOptions::default() };
    let ends = planned_age(&w, &limit(2000.0), &guarded).unwrap();
    assert_eq!((ends.verdict, ends.age_hours, ends.past_records), (Verdict::RecordsEnd, 400.0, false));
    assert_eq!(ends.near_best.last().unwrap().to_end, BandEnd::RecordsEnd);
    let reasoned = AgeOptions { extrapolate_because: Some("invented reason".into()), ..guarded };
    let further = planned_age(&w, &limit(2000.0), &reasoned).unwrap();
    assert_eq!((further.verdict, further.age_hours, further.past_records), (Verdict::BestBelowLimit, 502.0, true));
}

#[test]
fn an_earlier_age_that_costs_more_than_a_rule_past_the_records_is_no_advice() {
    // The least cost lies at 502.6 h (reference table); the records end at 400 h, so between the two a rule costs less.
    let w = world(weibull(3.0, 1000.0), 1.0, 5.0);
    let with_rule = |rule: f64, hours: f64| {
        let (todays_rule_hours, oldest_at_risk_hours) = (Some(rule), Some(400.5));
        let options = AgeOptions { todays_rule_hours, oldest_at_risk_hours, ..AgeOptions::default() };
        (planned_age(&w, &limit(hours), &options).unwrap(), options)
    };
    let (stays, options) = with_rule(480.5, 2000.0);
    assert_eq!((stays.verdict, stays.age_hours, stays.ceiling_hours), (Verdict::TodaysRuleStays, 480.0, 400.5));
    assert!(stays.past_records);
    // By hand, from the formula: the cost at 400 h over that at 480.5 h.
    let cost = |age: f64| cost_curve(&w, &[age], &limit(2000.0)).unwrap()[0].cost_per_hour;
    let more = 100.0 * (cost(400.0) / cost(480.5) - 1.0);
    assert!(more > 1.0, "{more}");
    let said = "keep today's rule of 480 h: no lamp was at risk past 400 h, so the records support no age so late, but by \
                the model a change at 400 h, which they would support, costs ";
    assert_eq!(stays.sentence, format!("{said}{more:.1} % more per hour"));
    // Nothing but the part of an hour that is cut off lies between the advice and the rule.
    assert!(stays.saving_against_todays_rule.unwrap().percent.abs() < 0.01);
    assert!(stays.near_best.iter().all(|band| band.to_hours <= 400.5));
    // The rule is held to the limit first, and the draws compare with what is advised.
    let (held, _) = with_rule(480.5, 450.0);
    assert_eq!((held.verdict, held.age_hours), (Verdict::TodaysRuleStays, 450.0));
    assert!(held.sentence.starts_with("keep today's rule, held to the limit of 450 h: "), "{}", held.sentence);
    let draws = Drawn { shape: 3.0, scale: 1000.0, spread: 0.2, ratio: 5.0, draws: 30 };
    let interval = planned_age_interval(&draws, &limit(2000.0), &options, 0.9, &Run::new()).unwrap();
    let saving = interval.saving_per_hour.unwrap();
    let rounding = 1e-3 * stays.cost.cost_per_hour;
    assert!(saving.low > -rounding && saving.high < rounding && interval.age_hours.high <= 400.0, "{saving:?}");
    // A rule so late that it costs more gives way to the last age that the records support.
    let (late, _) = with_rule(1500.0, 2000.0);
    assert_eq!((late.verdict, late.age_hours), (Verdict::RecordsEnd, 400.0));
    assert!(late.saving_against_todays_rule.unwrap().per_hour > 0.0);
    // So does a rule inside the records.
    let (inside, _) = with_rule(390.0, 2000.0);
    assert_eq!((inside.verdict, inside.age_hours), (Verdict::RecordsEnd, 400.0));
    for saved in [&stays, &held, &late, &inside] {
        relamp::base::sound::Checks::of("saved", saved).unwrap();
    }
    // What is changed by hand: an advice that costs more, a verdict without its reason, a limit or an end of the records.
    let changed = |of: &PlannedAge, change: &dyn Fn(&mut PlannedAge)| {
        let mut saved = of.clone();
        change(&mut saved);
        relamp::base::sound::Checks::of("saved", &saved).unwrap_err().to_string()
    };
    assert!(changed(&stays, &|p| p.verdict = Verdict::RecordsEnd).contains("column verdict"));
    assert!(changed(&inside, &|p| p.verdict = Verdict::TodaysRuleStays).contains("column verdict"));
    assert!(changed(&late, &|p| p.ceiling_hours = 401.0).contains("column ceiling_hours"));
    assert!(changed(&late, &|p| p.past_records = true).contains("column past_records"));
    let cheaper = |p: &mut PlannedAge| p.todays_rule.as_mut().unwrap().cost_per_hour *= 0.5;
    assert!(changed(&late, &cheaper).contains("column verdict"));
    let free = free(&w, 2000.0);
    assert_eq!(free.verdict, Verdict::BestBelowLimit);
    assert!(changed(&free, &|p| p.limit_hours = 2500.0).contains("column ceiling_hours"));
}

#[test]
fn where_the_records_end_no_sentence_speaks_of_the_limit() {
    let options = AgeOptions { oldest_at_risk_hours: Some(700.0), ..AgeOptions::default() };
    let dear = planned_age(&world(weibull(3.0, 1000.0), 5.0, 5.0), &limit(800.0), &options).unwrap();
    assert_eq!((dear.verdict, dear.age_hours), (Verdict::PlannedCostsAtLeastFailure, 700.0));
    assert!(dear.sentence.ends_with("change at 700 h, past which the records support none"), "{}", dear.sentence);
}

#[test]
fn savings_compare_with_the_rule_held_to_the_limit() {
    let w = world(weibull(3.0, 1000.0), 1.0, 5.0);
    let options = AgeOptions { todays_rule_hours: Some(1500.0), ..AgeOptions::default() };
    let advised = planned_age(&w, &limit(900.0), &options).unwrap();
    let rule = advised.todays_rule.as_ref().unwrap();
    assert_eq!(rule.age_hours, 900.0);
    let saving = advised.saving_against_todays_rule.unwrap();
    close(saving.per_hour, rule.cost_per_hour - advised.cost.cost_per_hour, 1e-14, 0.0);
    // Reference table: 0.54139503 of running to failure at the optimum; 502 h costs a little more than 502.6 h.
    close(advised.saving_against_run_to_failure.unwrap().percent, 100.0 * (1.0 - 0.541_395_03), 1e-4, 0.0);
}

#[test]
fn several_causes_agree_with_one_where_they_must() {
    // Equal shapes in series are one Weibull; each cause takes its share of the hazard.
    let (burst, dim) = (4000.0_f64, 2200.0_f64);
    let shape = 2.5;
    let (a, b) = (burst.powf(-shape), dim.powf(-shape));
    let scale = (a + b).powf(-1.0 / shape);
    let apart = series(900.0, &[(Ending::Burst, shape, burst, 5000.0), (Ending::Dim, shape, dim, 1300.0)]);
    let together = World {
        causes: vec![CauseLife {
            endings: vec![(Ending::Burst, a / (a + b)), (Ending::Dim, b / (a + b))],
            life: Box::new(weibull(shape, scale)),
        }],
        costs: Costs::new(900.0, [(Ending::Burst, 5000.0), (Ending::Dim, 1300.0)]).unwrap(),
    };
    let (one, two) = (free(&together, 2500.0), free(&apart, 2500.0));
    close(two.optimum_hours, one.optimum_hours, 1e-9, 0.0);
    close(two.optimum_cost_per_hour, one.optimum_cost_per_hour, 1e-11, 0.0);
    close(two.run_to_failure_cost_per_hour.unwrap(), one.run_to_failure_cost_per_hour.unwrap(), 1e-10, 0.0);
    for (x, y) in one.cost.by_ending.iter().zip(&two.cost.by_ending) {
        assert_eq!(x.ending, y.ending);
        close(x.cost_per_hour, y.cost_per_hour, 1e-10, 0.0);
    }
    let parts: f64 = two.cost.by_ending.iter().map(|p| p.cost_per_hour).sum();
    close(parts + two.cost.planned_cost_per_hour, two.cost.cost_per_hour, 1e-13, 0.0);
}

#[test]
fn incidences_and_reliability_sum_to_one() {
    let w = series(
        900.0,
        &[
            (Ending::Burst, 0.6, 90_000.0, 5000.0),
            (Ending::Seal, 1.0, 30_000.0, 1900.0),
            (Ending::Dim, 5.0, 2300.0, 1300.0),
        ],
    );
    let curve = WorldCurve::new(&w).unwrap();
    for age in [0.01, 10.0, 700.0, 2000.0, 2500.0, 9000.0, f64::INFINITY] {
        let upto = curve.up_to(age).unwrap();
        close(upto.incidence.iter().sum::<f64>() + upto.reliability, 1.0, 1e-11, 0.0);
    }
}

#[test]
fn a_step_curve_is_answered_without_a_density() {
    let ages: Vec<f64> = [700.0, 900.0, 1000.0, 1100.0, 1150.0, 1200.0, 1250.0, 1300.0].to_vec();
    let w = world(Steps(ages.clone()), 1.0, 6.0);
    let advised = free(&w, 1280.0);
    // By hand: C(T) = (1 + 5 F) / M just before each step and at the limit.
    let mut best = (f64::INFINITY, 0.0);
    let mut m = 0.0;
    let mut last = 0.0;
    for (i, age) in ages.iter().chain([&1280.0]).enumerate().filter(|(_, a)| **a <= 1280.0) {
        let i = i.min(7) as f64;
        m += (age - last) * (1.0 - i / 8.0);
        last = *age;
        let cost = (1.0 + 5.0 * i / 8.0) / m;
        if cost < best.0 {
            best = (cost, *age);
        }
    }
    close(advised.optimum_hours, best.1, 1e-12, 0.0);
    close(advised.optimum_cost_per_hour, best.0, 1e-12, 0.0);
    assert_eq!(advised.age_hours, best.1 - 1.0, "rounded down to before the step");
    // The same steps split between two causes that never act together.
    let both = World {
        causes: vec![
            CauseLife { endings: vec![(Ending::Dim, 1.0)], life: Box::new(Steps(ages.clone())) },
            CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(weibull(3.0, 1e9)) },
        ],
        costs: Costs::new(1.0, [(Ending::Dim, 6.0), (Ending::Burst, 6.0)]).unwrap(),
    };
    close(free(&both, 1280.0).optimum_cost_per_hour, best.0, 1e-9, 0.0);
}

#[test]
fn the_interval_is_capped_and_counts_its_draws() {
    let draws = Drawn { shape: 3.0, scale: 2000.0, spread: 0.6, ratio: 5.0, draws: 200 };
    let options = AgeOptions { todays_rule_hours: Some(1900.0), ..AgeOptions::default() };
    let free = planned_age_interval(&draws, &limit(9000.0), &options, 0.9, &Run::new()).unwrap();
    assert_eq!((free.draws, free.failed, free.share_at_limit), (199, 1, 0.0));
    assert!(free.age_hours.low < 1005.0 && 1005.0 < free.age_hours.high);
    assert!(free.beats_todays_rule.unwrap() > 0.99 && free.saving_per_hour.unwrap().low > 0.0);
    let capped = planned_age_interval(&draws, &limit(1000.5), &options, 0.9, &Run::new()).unwrap();
    assert!(capped.age_hours.high == 1000.0 && capped.share_at_limit > 0.3, "{capped:?}");
    let again = planned_age_interval(&draws, &limit(1000.5), &options, 0.9, &Run::new()).unwrap();
    assert_eq!(capped, again);
    let text = serde_json::to_string(&capped).unwrap();
    assert_eq!(serde_json::from_str::<relamp::policy::AgeInterval>(&text).unwrap(), capped);
    let stopped = Run::new();
    stopped.stop();
    let error = planned_age_interval(&draws, &limit(1000.5), &options, 0.9, &stopped).unwrap_err();
    assert_eq!(error.slug(), "run.stopped");
}

#[test]
fn the_played_out_cost_per_hour_agrees() {
    // Renewal reward over 200,000 cycles; the ratio estimator has the usual variance of a ratio.
    let w = series(
        950.0,
        &[
            (Ending::Burst, 1.3, 20_000.0, 5200.0),
            (Ending::Flicker, 2.0, 6000.0, 1500.0),
            (Ending::Dim, 4.5, 2400.0, 1250.0),
        ],
    );
    let age = 1600.0;
    let expected = cost_curve(&w, &[age], &limit(2000.0)).unwrap().remove(0);
    let n = 200_000;
    let mut stream = Stream::new(20_251_228, "test", "played", 0);
    let (mut cost, mut hours, mut pairs) = (0.0, 0.0, Vec::with_capacity(n));
    for _ in 0..n {
        let (mut life, mut paid) = (age, 950.0);
        for cause in &w.causes {
            let at = cause.life.draw(&mut stream).unwrap();
            if at < life {
                (life, paid) = (at, w.costs.failure(cause.endings[0].0).unwrap());
            }
        }
        cost += paid;
        hours += life;
        pairs.push((paid, life));
    }
    let rate = cost / hours;
    let variance: f64 = pairs.iter().map(|(c, h)| (c - rate * h).powi(2)).sum::<f64>() / (hours * hours);
    let z = (rate - expected.cost_per_hour) / variance.sqrt();
    assert!(z.abs() < 4.5, "z = {z}: played {rate}, computed {}", expected.cost_per_hour);
    close(hours / n as f64, expected.mean_age_at_change_hours, 0.01, 0.0);
}

#[test]
fn hostile_options_and_ages_are_refused_by_name() {
    let w = world(weibull(3.0, 1000.0), 1.0, 5.0);
    let bad = AgeOptions {
        todays_rule_hours: Some(f64::NAN),
        near_percent: -1.0,
        least_saving_percent: f64::NAN,
        oldest_at_risk_hours: Some(0.0),
        extrapolate_because: Some(" ".into()),
        ..AgeOptions::default()
    };
    assert_eq!(planned_age(&w, &limit(800.0), &bad).unwrap_err().problems().len(), 5);
    let past = cost_curve(&w, &[100.0, 801.0, 900.0], &limit(800.0)).unwrap_err();
    assert_eq!((past.slug(), past.problems().len()), ("policy.age_past_limit", 2));
    for age in [0.0, -5.0, f64::NAN] {
        assert_eq!(cost_curve(&w, &[age], &limit(800.0)).unwrap_err().slug(), "policy.age");
    }
    let none = World { causes: vec![], costs: Costs::new(1.0, []).unwrap() };
    assert_eq!(planned_age(&none, &limit(800.0), &AgeOptions::default()).unwrap_err().slug(), "policy.no_cause");
    let tiny = world(weibull(3.0, 1.0), 1.0, 5.0);
    assert_eq!(planned_age(&tiny, &limit(800.0), &AgeOptions::default()).unwrap_err().slug(), "policy.age_below_hour");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 120, ..ProptestConfig::default() })]

    #[test]
    fn no_age_in_an_answer_passes_the_limit(
        shapes in proptest::collection::vec(0.4..7.0_f64, 1..4),
        scale in 200.0..9000.0_f64,
        planned in 10.0..2000.0_f64,
        failure in 10.0..9000.0_f64,
        hours in 300.0..4000.0_f64,
        rule in 100.0..9000.0_f64,
        oldest in proptest::option::of(100.0..9000.0_f64),
    ) {
        let endings = [Ending::Burst, Ending::Seal, Ending::Dim];
        let causes: Vec<_> = shapes
            .iter()
            .zip(endings)
            .enumerate()
            .map(|(i, (shape, ending))| (ending, *shape, scale * (1.0 + i as f64), failure * (1.0 + i as f64 / 2.0)))
            .collect();
        let w = series(planned, &causes);
        let limit = limit(hours);
        let options = AgeOptions { todays_rule_hours: Some(rule), oldest_at_risk_hours: oldest, ..AgeOptions::default() };
        let a = match planned_age(&w, &limit, &options) {
            Ok(a) => a,
            Err(e) => { prop_assert_eq!(e.slug(), "policy.age_below_hour"); return Ok(()); }
        };
        let ceiling = oldest.map_or(hours, |o| o.min(hours));
        prop_assert!(a.age_hours <= hours && a.age_hours.fract() == 0.0 && a.optimum_hours <= ceiling);
        let held = a.todays_rule.as_ref().unwrap();
        if a.verdict == Verdict::TodaysRuleStays {
            prop_assert!(held.age_hours > ceiling && a.age_hours == held.age_hours.floor());
        } else {
            prop_assert!(a.age_hours <= ceiling);
            // No advice to change earlier than the records support costs more than today's rule.
            prop_assert!(held.age_hours <= ceiling || a.cost.cost_per_hour <= held.cost_per_hour);
        }
        relamp::base::sound::Checks::of("saved", &a).unwrap();
        prop_assert!(a.near_best.iter().all(|b| b.from_hours <= b.to_hours && b.to_hours <= ceiling));
        prop_assert!(!a.near_best.is_empty());
        prop_assert!(a.todays_rule.as_ref().unwrap().age_hours <= hours);
        // Nothing on a fine grid costs less than the optimum.
        let ages: Vec<f64> = (1..=200).map(|i| (ceiling * f64::from(i) / 200.0).min(ceiling)).collect();
        for p in cost_curve(&w, &ages, &limit).unwrap() {
            prop_assert!(p.cost_per_hour >= a.optimum_cost_per_hour * (1.0 - 1e-10), "{:?} {:?}", p, a);
        }
        let text = serde_json::to_string(&a).unwrap();
        prop_assert_eq!(serde_json::from_str::<PlannedAge>(&text).unwrap(), a);
    }

    #[test]
    fn scaling_hours_scales_ages(shape in 1.3..6.0_f64, ratio in 1.5..50.0_f64, factor in 0.01..100.0_f64) {
        let one = unlimited_optimum(&world(weibull(shape, 1000.0), 1.0, ratio)).unwrap();
        let other = unlimited_optimum(&world(weibull(shape, 1000.0 * factor), 1.0, ratio)).unwrap();
        match (one.age_hours, other.age_hours) {
            (Some(a), Some(b)) => prop_assert!((b / a / factor - 1.0).abs() < 1e-8),
            (None, None) => {}
            (a, b) => prop_assert!(false, "{:?} {:?}", a, b),
        }
        prop_assert!((other.cost_per_hour * factor / one.cost_per_hour - 1.0).abs() < 1e-11);
    }

    #[test]
    fn costs_twice_as_high_change_no_age(shape in 1.5..6.0_f64, ratio in 1.5..20.0_f64) {
        let one = free(&world(weibull(shape, 1000.0), 1.0, ratio), 3000.0);
        let two = free(&world(weibull(shape, 1000.0), 2.0, 2.0 * ratio), 3000.0);
        prop_assert_eq!(one.age_hours, two.age_hours);
        prop_assert!((two.optimum_cost_per_hour / one.optimum_cost_per_hour - 2.0).abs() < 1e-12);
    }
}

#[test]
fn a_share_that_never_fails_still_has_an_answer() {
    #[derive(Debug)]
    struct Half(Weibull);
    impl Life for Half {
        fn ln_density(&self, age: f64) -> f64 {
            0.5_f64.ln() + self.0.ln_density(age)
        }
        fn ln_reliability(&self, age: f64) -> f64 {
            (0.5 + 0.5 * self.0.reliability(age)).ln()
        }
        fn ln_failure_probability(&self, age: f64) -> f64 {
            0.5_f64.ln() + self.0.ln_failure_probability(age)
        }
        fn quantile(&self, p: f64) -> relamp::Result<f64> {
            if p < 0.5 { self.0.quantile(2.0 * p) } else { Ok(f64::INFINITY) }
        }
        fn never_fails(&self) -> f64 {
            0.5
        }
        fn mean_to(&self, age: f64) -> relamp::Result<f64> {
            if age.is_infinite() { Ok(age) } else { Ok(0.5 * age + 0.5 * self.0.mean_to(age)?) }
        }
    }
    let advised = free(&world(Half(weibull(4.0, 1000.0)), 1.0, 3.0), 1500.0);
    assert!(advised.age_hours >= 500.0 && advised.age_hours <= 1500.0, "{advised:?}");
    assert_eq!(advised.run_to_failure_cost_per_hour, None);
}

/// A limit with a reason may lie past the maker's; an age past that says so, in every verdict, and one within it does not.
#[test]
fn an_age_past_the_makers_limit_names_that_limit() {
    let printed = PrintedHours { maximum_hours: Some(2500.0), source: "invented".into(), ..PrintedHours::default() };
    let own = printed.limit_because(3600.0, "a trial agreed with the maker, invented").unwrap();
    let makers = "that lies past the maker's limit of 2,500 h, which prevails over any computed age";
    for (scale, ratio, past) in [(6000.0, 2.0, true), (6000.0, 0.9, true), (1000.0, 8.0, false)] {
        let best = planned_age(&world(weibull(3.0, scale), 1.0, ratio), &own, &AgeOptions::default()).unwrap();
        assert_eq!(best.sentence.ends_with(makers), past, "{}", best.sentence);
        assert_eq!(best.age_hours > 2500.0, past);
        let within =
            planned_age(&world(weibull(3.0, scale), 1.0, ratio), &printed.limit().unwrap(), &AgeOptions::default());
        assert!(!within.unwrap().sentence.contains("maker"));
    }
}

#[test]
fn draws_that_stop_where_the_records_end_are_counted_apart_from_those_at_the_limit() {
    let draws = Drawn { shape: 3.0, scale: 2000.0, spread: 0.6, ratio: 5.0, draws: 200 };
    let share = |top: f64, oldest: Option<f64>| {
        let options = AgeOptions { oldest_at_risk_hours: oldest, ..AgeOptions::default() };
        let found = planned_age_interval(&draws, &limit(top), &options, 0.9, &Run::new()).unwrap();
        relamp::base::sound::Checks::of("interval", &found).unwrap();
        (found.share_at_limit, found.share_at_records_end)
    };
    let (at_limit, none) = share(1000.5, None);
    assert!(at_limit > 0.3 && none == 0.0);
    assert_eq!(share(5000.0, Some(1000.5)), (0.0, at_limit));
    assert_eq!(share(1000.5, Some(3000.0)), (at_limit, 0.0));
}

#[test]
fn ages_near_the_best_say_what_their_ends_are() {
    let w = world(weibull(3.0, 2000.0), 950.0, 5200.0);
    let words = |top: f64, oldest: Option<f64>| {
        let options = AgeOptions { oldest_at_risk_hours: oldest, ..AgeOptions::default() };
        let best = planned_age(&w, &limit(top), &options).unwrap();
        let (band, n) = (best.near_best.last().unwrap().clone(), best.near_best.len());
        assert_eq!((n, band.from_end), (1, BandEnd::Exact));
        (band.to_end, band.words())
    };
    let (end, said) = words(9000.0, None);
    assert!(end == BandEnd::Exact && said.ends_with(" h") && said.contains(" to "), "{said}");
    let (end, said) = words(1000.0, None);
    assert!(end == BandEnd::AtLimit && said.ends_with(" to 1,000 h, cut at the limit"), "{said}");
    let (end, said) = words(9000.0, Some(1000.0));
    assert!(end == BandEnd::RecordsEnd && said.ends_with(" to 1,000 h, cut where the records end"), "{said}");
}
