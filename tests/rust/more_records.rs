//! What more records are worth, against a prior that is known in closed form, a play of its own, and cases without any worth.

use relamp::Run;
use relamp::base::random::Stream;
use relamp::base::sound::Checks;
use relamp::family::{Exponential, Gamma, Life, Weibull};
use relamp::fit::{CauseLife, Draws, Method, World};
use relamp::policy::{AgeOptions, RecordsAhead, RecordsValue, ScreenAhead, cost_curve, records_value};
use relamp::records::Ending;
use relamp::terms::{Costs, Salvage};
use relamp::{Kind, Result};

use crate::worlds::{Drawn, Steps, close, limit, series, world};

/// Worlds by their number.
struct Given<F>(usize, F);

impl<F: Fn(usize) -> World + Sync> Draws for Given<F> {
    fn len(&self) -> usize {
        self.0
    }
    fn best(&self) -> Result<World> {
        Ok((self.1)(self.0 / 2))
    }
    fn world(&self, replicate: usize) -> Result<World> {
        Ok((self.1)(replicate))
    }
    fn method(&self) -> Method {
        Method::WeightedBootstrap
    }
}

fn screens(n: usize, age: f64, hours: f64) -> Vec<ScreenAhead> {
    vec![ScreenAhead { age_hours: Some(age), hours }; n]
}

fn ahead(screens: Vec<ScreenAhead>, rule: f64, plays: usize) -> RecordsAhead {
    RecordsAhead { screens, rule_hours: Some(rule), plays, seed: 7 }
}

fn ask(draws: &dyn Draws, top: f64, ahead: &RecordsAhead) -> RecordsValue {
    let value = records_value(draws, &limit(top), &AgeOptions::default(), ahead, &Run::new()).unwrap();
    Checks::of("value", &value).unwrap();
    value
}

/// A rate with a gamma prior: failures in a given number of hours are Poisson, and the rate given them is gamma again. A worth
/// of used lamps that ends at 1,500 h leaves two ages to choose between, and which is better depends on the rate.
#[test]
fn a_rate_with_a_gamma_prior_has_the_value_of_the_sum_over_counts() {
    let (shape, prior_hours, n) = (6.0, 6000.0, 400);
    let costs = Costs::new(950.0, [(Ending::Burst, 1000.0)])
        .unwrap()
        .with_salvage(Salvage::new(789.0, 100_000.0, 98_500.0).unwrap())
        .unwrap();
    let prior = Gamma { shape, scale: 1.0 / prior_hours };
    let at = |rate: f64| World {
        causes: vec![CauseLife {
            endings: vec![(Ending::Burst, 1.0)],
            life: Box::new(Exponential { scale: 1.0 / rate }),
        }],
        costs: costs.clone(),
    };
    let draws = Given(n, |i: usize| at(prior.quantile((i as f64 + 0.5) / n as f64).unwrap()));
    let cost = |rate: f64, age: f64| {
        let worth = if age < 1500.0 { 789.0 * (1.0 - age / 1e5) } else { 0.0 };
        rate * (1000.0 + (950.0 - worth) / (rate * age).exp_m1())
    };
    let points: Vec<f64> = (0..4000).map(|i| prior.quantile((f64::from(i) + 0.5) / 4000.0).unwrap()).collect();
    let later: Vec<f64> = points.iter().map(|r| cost(*r, 1499.0) - cost(*r, 3000.0)).collect();
    let mean = |of: &dyn Fn(usize) -> f64| (0..4000).map(of).sum::<f64>() / 4000.0;
    let today = mean(&|i| later[i]);
    // What the earlier age costs more, where it is chosen today; the other way round where it is not.
    let sign = if today > 0.0 { -1.0 } else { 1.0 };
    let most = mean(&|i| (sign * later[i]).max(0.0));
    // The last: a thousand screens, each for less than a stretch of age within which a hazard is held even.
    for (n, age, hours) in [(4, 200.0, 1500.0), (4, 200.0, 6000.0), (4, 200.0, 24_000.0), (1000, 198.3, 1500.0)] {
        let exact: f64 = (0..400)
            .map(|d| {
                let ln_factorial: f64 = (1..=d).map(|k| f64::from(k).ln()).sum();
                let chance = |r: f64| (f64::from(d) * (r * hours).ln() - r * hours - ln_factorial).exp();
                (sign * mean(&|i| chance(points[i]) * later[i])).max(0.0)
            })
            .sum();
        let value = ask(&draws, 3000.0, &ahead(screens(n, age, hours / n as f64), 2000.0, 25));
        assert_eq!(value.today_hours, if today > 0.0 { 3000.0 } else { 1499.0 });
        let z = (value.saving_per_hour - exact) / value.saving_error;
        assert!(z.abs() < 4.5, "{hours} h: {} {exact} {}", value.saving_per_hour, value.saving_error);
        assert!(value.saving_per_hour > 3.0 * value.saving_error, "{value:?}");
        close(value.most_per_hour, most, 0.02, 0.0);
        close(value.failures_ahead, hours * shape / prior_hours, 0.02, 0.0);
        assert!(value.sentence.contains("would save"), "{}", value.sentence);
    }
}

/// Two kinds of truth, equally likely: wear-out and early failures mixed, or none. Played and weighed in continuous time.
#[test]
fn two_truths_are_told_apart_as_often_as_in_a_play_of_its_own() {
    let lives = [Weibull { shape: 1.4, scale: 2600.0 }, Weibull { shape: 4.0, scale: 1800.0 }];
    let worlds = lives.map(|life| world(life, 950.0, 3000.0));
    let draws = Given(400, |i: usize| world(lives[i % 2], 950.0, 3000.0));
    let (hours, rule, start, n) = (1500.0, 1600.0, 300.0, 3);
    let ages: Vec<f64> = (100..=2000).map(f64::from).collect();
    let costs: Vec<Vec<f64>> = worlds
        .iter()
        .map(|w| cost_curve(w, &ages, &limit(2000.0)).unwrap().iter().map(|p| p.cost_per_hour).collect())
        .collect();
    let choice = |first: f64| {
        let mixed = |i: usize| first * costs[0][i] + (1.0 - first) * costs[1][i];
        (0..ages.len()).min_by(|a, b| mixed(*a).total_cmp(&mixed(*b))).unwrap()
    };
    let today = choice(0.5);
    let mut savings = Vec::new();
    for play in 0..20_000_u64 {
        let truth = (play % 2) as usize;
        let mut s = Stream::new(99, "test", "two_truths", play);
        let mut ln = [0.0; 2];
        for _ in 0..n {
            let (mut age, mut left) = (start, hours);
            loop {
                let fails = lives[truth].quantile(1.0 - lives[truth].reliability(age) * s.uniform()).unwrap();
                let end = fails.min(rule).min(age + left);
                for (l, life) in ln.iter_mut().zip(&lives) {
                    *l += life.ln_reliability(end) - life.ln_reliability(age);
                    *l += if end == fails { life.hazard(end).ln() } else { 0.0 };
                }
                left -= end - age;
                if left <= 1e-9 {
                    break;
                }
                age = 0.0;
            }
        }
        let later = choice(1.0 / (1.0 + (ln[1] - ln[0]).exp()));
        savings.push(costs[truth][today] - costs[truth][later]);
    }
    let mean = savings.iter().sum::<f64>() / savings.len() as f64;
    let error = (savings.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (savings.len() as f64).powi(2)).sqrt();
    let value = ask(&draws, 2000.0, &ahead(screens(n, start, hours), rule, 20));
    assert!(mean > 10.0 * error);
    // The draws are of two kinds only, so that their mean is exact and only the plays vary: less than the error that is told.
    let z = (value.saving_per_hour - mean) / value.saving_error.hypot(error);
    assert!(z.abs() < 4.5, "{z}: {mean} {error}, {} {}", value.saving_per_hour, value.saving_error);
    close(value.saving_per_hour, mean, 0.1, 0.0);
    close(value.today_hours, ages[today], 0.02, 0.0);
    let most = 0.5 * costs.iter().map(|c| c[today] - c.iter().copied().fold(f64::INFINITY, f64::min)).sum::<f64>();
    close(value.most_per_hour, most, 0.01, 0.0);
}

#[test]
fn where_no_record_can_change_the_age_none_is_worth_anything() {
    // At an even rate no planned change pays, whatever the rate.
    let even = Given(40, |i: usize| world(Exponential { scale: 900.0 + 30.0 * i as f64 }, 950.0, 5200.0));
    let value = ask(&even, 2000.0, &ahead(screens(3, 100.0, 900.0), 1500.0, 3));
    assert_eq!((value.saving_per_hour, value.most_per_hour, value.share_changed), (0.0, 0.0, 0.0));
    assert_eq!((value.today_hours, value.later_hours.low), (2000.0, 2000.0));
    assert!(value.sentence.starts_with("no saving"), "{}", value.sentence);
    // An hour of one lamp tells next to nothing.
    let drawn = Drawn { shape: 2.5, scale: 1500.0, spread: 0.6, ratio: 5.0, draws: 60 };
    let none = ask(&drawn, 2000.0, &ahead(screens(1, 0.0, 0.01), 1500.0, 2));
    assert!(none.saving_per_hour.abs() < 1e-3 * none.most_per_hour, "{none:?}");
    assert_eq!((none.draws, none.failed), (59, 1));
    // More hours tell more, and never more than certainty.
    let few = ask(&drawn, 2000.0, &ahead(screens(2, 0.0, 3000.0), 1500.0, 10));
    let more = ask(&drawn, 2000.0, &ahead(screens(2, 0.0, 9000.0), 1500.0, 10));
    for value in [&none, &few, &more] {
        assert!(value.saving_per_hour > -3.0 * value.saving_error - 1e-12, "{value:?}");
        assert!(value.saving_per_hour <= value.most_per_hour, "{value:?}");
    }
    assert!(more.saving_per_hour > few.saving_per_hour && few.effective_draws > more.effective_draws);
}

#[test]
fn several_causes_and_steps_are_weighed_and_the_bytes_do_not_depend_on_threads() {
    let drawn = Given(60, |i: usize| {
        let x = i as f64 / 60.0;
        series(950.0, &[(Ending::Burst, 2.0 + 3.0 * x, 1800.0, 5200.0), (Ending::Dim, 1.5, 3000.0 - 900.0 * x, 1250.0)])
    });
    let asked = ahead(screens(5, 400.0, 2500.0), 1700.0, 2);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| serde_json::to_string(&ask(&drawn, 2000.0, &asked)).unwrap())
    };
    let one = on(1);
    assert_eq!((on(2), on(3)), (one.clone(), one));
    // Steps at the same hours weigh like chances; steps at hours of their own cannot be weighed.
    let same = Given(30, |i: usize| {
        let at = if i.is_multiple_of(2) { vec![600.0, 1200.0, 1200.0] } else { vec![600.0, 600.0, 1200.0] };
        world(Steps(at), 950.0, 3000.0)
    });
    let value = ask(&same, 1500.0, &ahead(screens(4, 0.0, 700.0), 1100.0, 4));
    assert!(value.saving_per_hour <= value.most_per_hour);
    let apart = Given(30, |i: usize| world(Steps(vec![500.0 + 20.0 * i as f64, 2000.0]), 950.0, 3000.0));
    let asked = ahead(screens(40, 0.0, 1400.0), 1400.0, 1);
    let error = records_value(&apart, &limit(1500.0), &AgeOptions::default(), &asked, &Run::new()).unwrap_err();
    assert_eq!(error.slug(), "policy.records_unlike");
}

#[test]
fn what_cannot_be_answered_is_refused_by_name() {
    let drawn = Drawn { shape: 2.5, scale: 1500.0, spread: 0.6, ratio: 5.0, draws: 60 };
    let refused = |draws: &dyn Draws, ahead: &RecordsAhead| {
        records_value(draws, &limit(2000.0), &AgeOptions::default(), ahead, &Run::new()).unwrap_err()
    };
    let bad = [
        ScreenAhead { age_hours: Some(-1.0), hours: 10.0 },
        ScreenAhead { age_hours: None, hours: f64::NAN },
        ScreenAhead { age_hours: Some(f64::INFINITY), hours: -1.0 },
    ];
    let error = refused(&drawn, &RecordsAhead { plays: 0, ..ahead(bad.to_vec(), 900.0, 1) });
    let slugs: Vec<_> = error.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, [vec!["policy.screens_ahead"; 4], vec!["policy.record_plays"]].concat());
    assert!(error.problems()[1].place.to_string().contains("row 2"), "{error}");
    assert_eq!(refused(&drawn, &ahead(screens(3, 0.0, 0.0), 900.0, 1)).slug(), "policy.screens_ahead");
    assert_eq!(refused(&drawn, &ahead(Vec::new(), 900.0, 1)).slug(), "policy.screens_ahead");
    assert_eq!(refused(&drawn, &ahead(screens(3, 0.0, 9.0), 2001.0, 1)).slug(), "policy.age_past_limit");
    assert_eq!(refused(&drawn, &ahead(screens(3, 0.0, 9.0), f64::NAN, 1)).slug(), "policy.age");
    let few = Drawn { draws: 15, ..drawn };
    assert_eq!(refused(&few, &ahead(screens(3, 0.0, 900.0), 900.0, 1)).slug(), "policy.few_draws");
    // So many records that one draw takes all the weight.
    let drawn = Drawn { draws: 60, ..few };
    let error = refused(&drawn, &ahead(screens(400, 0.0, 20_000.0), 1900.0, 1));
    assert_eq!((error.slug(), error.kind()), ("policy.few_effective_draws", Kind::Refused));
    assert!(error.to_string().contains("59 draws"), "{error}");
    // Hours in another unit than lives.
    let error = refused(&drawn, &ahead(screens(1, 0.0, 1e9), 900.0, 1));
    assert_eq!(error.slug(), "policy.too_many_lamps");
    let mixed = Given(30, |i: usize| {
        let each = [(Ending::Burst, 3.0, 1800.0, 5200.0), (Ending::Dim, 1.5, 3000.0, 1250.0)];
        series(950.0, if i == 7 { &each[..1] } else { &each })
    });
    assert_eq!(refused(&mixed, &ahead(screens(3, 0.0, 900.0), 900.0, 1)).slug(), "policy.records_causes");
}

#[test]
fn the_rule_meanwhile_is_todays_or_the_advised_and_unknown_ages_start_anew() {
    let drawn = Drawn { shape: 2.5, scale: 1500.0, spread: 0.6, ratio: 5.0, draws: 60 };
    let with = |rule_hours, todays_rule_hours, age_hours| {
        let screens = vec![ScreenAhead { age_hours, hours: 2000.0 }; 2];
        let options = AgeOptions { todays_rule_hours, ..AgeOptions::default() };
        let ahead = RecordsAhead { screens, rule_hours, plays: 2, seed: 3 };
        records_value(&drawn, &limit(2000.0), &options, &ahead, &Run::new()).unwrap()
    };
    let advised = relamp::policy::planned_age(&drawn.best().unwrap(), &limit(2000.0), &AgeOptions::default()).unwrap();
    assert_eq!(with(None, None, Some(5.0)).rule_hours, advised.age_hours);
    assert_eq!(with(None, Some(1234.0), Some(5.0)).rule_hours, 1234.0);
    assert_eq!(with(Some(900.0), Some(1234.0), Some(5.0)).rule_hours, 900.0);
    // A lamp of unknown age, and one past the rule, is changed at once.
    assert_eq!(with(Some(900.0), None, None), with(Some(900.0), None, Some(900.0)));
    assert_ne!(with(Some(900.0), None, None), with(Some(900.0), None, Some(800.0)));
}
