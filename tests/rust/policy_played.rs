//! Discounted cost and dark time against lamps that are played out, and failures that are found only at the end of a period.

use relamp::base::random::Stream;
use relamp::family::Life;
use relamp::policy::{AgeOptions, Objective, cost_curve, objective_curve, planned_age};
use relamp::records::Ending;
use relamp::terms::{Costs, DarkMinutes, Discount, Salvage, Warranty};
use relamp::{Error, Kind, Problem, Result};

use crate::simulate::agreement::{Score, judge};
use crate::worlds::{case, close, limit, number, series, world};

/// One screen for ever, or until nothing later counts: what its changes are worth on the first day.
fn worth_of_changes(s: &mut Stream, causes: &[(Ending, f64, f64, f64)], costs: &Costs, rate: f64, age: f64) -> f64 {
    let (mut t, mut sum) = (0.0, 0.0);
    while rate * t < 40.0 {
        let lives = causes.iter().map(|(e, shape, scale, _)| (*e, scale * s.exponential().powf(1.0 / shape)));
        let (ending, life) = lives.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        t += life.min(age);
        let cost = if life < age {
            let back = costs.warranty().filter(|w| w.covers(ending)).map_or(0.0, |w| w.credit(life));
            costs.failure(ending).unwrap() - back
        } else {
            costs.planned_at(age)
        };
        sum += cost * (-rate * t).exp();
    }
    sum
}

fn three() -> [(Ending, f64, f64, f64); 3] {
    [(Ending::Burst, 4.0, 1900.0, 5200.0), (Ending::Seal, 0.7, 9000.0, 1800.0), (Ending::Dim, 2.2, 2500.0, 1250.0)]
}

#[test]
fn discounted_costs_agree_with_screens_that_are_played_out() {
    let mut list = Vec::new();
    for (seed, age, rate) in
        [(1, 700.0, 2e-4), (2, 1200.0, 4e-4), (3, 1700.0, 8e-4), (4, 400.0, 1e-3), (5, 2500.0, 3e-4)]
    {
        for terms in [false, true] {
            let mut w = series(950.0, &three());
            if terms {
                let back = Warranty::pro_rata(700.0, 900.0, [Ending::Burst, Ending::Seal]).unwrap();
                w.costs = w
                    .costs
                    .with_warranty(back)
                    .unwrap()
                    .with_salvage(Salvage::new(300.0, 2000.0, 0.0).unwrap())
                    .unwrap();
            }
            let objective = Objective::DiscountedCost(Discount::per_hour(rate).unwrap());
            let per_hour = objective_curve(&w, &objective, &[age], &limit(3000.0)).unwrap()[0].cost_per_hour;
            let mut s = Stream::new(seed, "test", "discounted", u64::from(terms));
            let n = 20_000;
            let each: Vec<f64> = (0..n).map(|_| worth_of_changes(&mut s, &three(), &w.costs, rate, age)).collect();
            let mean = each.iter().sum::<f64>() / f64::from(n);
            let spread = each.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n - 1);
            list.push(Score {
                name: format!("{age} h at {rate}, terms {terms}"),
                z: (mean - per_hour / rate) / (spread / f64::from(n)).sqrt(),
            });
        }
    }
    judge(&list, 0.3, 2.2);
}

#[test]
fn dark_minutes_agree_with_lamps_that_are_played_out() {
    let dark = DarkMinutes::new(45.0, [(Ending::Burst, 360.0), (Ending::Seal, 200.0), (Ending::Dim, 90.0)]).unwrap();
    let w = series(950.0, &three());
    let mut list = Vec::new();
    for (seed, age) in (0..12).map(|i| (i, 200.0 + 200.0 * i as f64)) {
        let objective = Objective::DarkMinutes(dark.clone());
        let per_hour = objective_curve(&w, &objective, &[age], &limit(3000.0)).unwrap()[0].cost_per_hour;
        let mut s = Stream::new(seed, "test", "dark", 0);
        let n = 100_000;
        // Minutes less their expected rate over the hours of each lamp: of mean 0 where the rate is right.
        let over: Vec<f64> = (0..n)
            .map(|_| {
                let lives = three().map(|(e, shape, scale, _)| (e, scale * s.exponential().powf(1.0 / shape)));
                let (ending, life) = lives.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
                let minutes = if life < age { dark.failure(ending).unwrap() } else { dark.planned() };
                minutes - per_hour * life.min(age)
            })
            .collect();
        let mean = over.iter().sum::<f64>() / f64::from(n);
        let spread = over.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n - 1);
        list.push(Score { name: format!("{age} h"), z: mean / (spread / f64::from(n)).sqrt() });
    }
    judge(&list, 0.3, 2.2);
}

/// Failures by exp(-(k / 10)^3) that show only at the end of each period of an hour.
#[derive(Debug)]
struct AtEnds(Vec<f64>);

impl AtEnds {
    fn left(age: f64) -> f64 {
        (-(age.floor() / 10.0).powi(3)).exp()
    }
}

impl Life for AtEnds {
    fn ln_density(&self, _: f64) -> f64 {
        f64::NEG_INFINITY
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        Self::left(age).ln()
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        (1.0 - Self::left(age)).ln()
    }
    fn quantile(&self, _: f64) -> Result<f64> {
        Err(Error::new(Kind::Refused, Problem::new("test.quantile", "not needed")))
    }
    fn kinks(&self) -> &[f64] {
        &self.0
    }
    fn mean_to(&self, age: f64) -> Result<f64> {
        let end = age.min(200.0);
        let whole: f64 = (0..end.floor() as u32).map(|k| Self::left(f64::from(k))).sum();
        Ok(whole + (end - end.floor()) * Self::left(end))
    }
}

/// The case gives a table of ages by periods left as well, an age chosen anew each time. The library advises one age and keeps no
/// such table; no fixed age can cost less than it, which is all that is compared of it.
#[test]
fn failures_found_at_the_end_of_a_period_cost_as_stored() {
    let case = case("age_discrete_and_finite_horizon");
    let w =
        world(AtEnds((1..=200).map(f64::from).collect()), number(&case["inputs"]["cp"]), number(&case["inputs"]["cf"]));
    let top = limit(60.0);
    for (n, cost) in case["outputs"]["avg_cost_by_N"].as_object().unwrap() {
        let found = cost_curve(&w, &[n.parse().unwrap()], &top).unwrap()[0].cost_per_hour;
        close(found, number(cost), 1e-10, 0.0);
    }
    // The least over whole periods; a change just before a period ends, which this rule has not, would cost less yet.
    let whole: Vec<f64> = (1..=60).map(f64::from).collect();
    let costs = cost_curve(&w, &whole, &top).unwrap();
    let best = costs.iter().min_by(|a, b| a.cost_per_hour.total_cmp(&b.cost_per_hour)).unwrap();
    close(best.age_hours, number(&case["outputs"]["best_N"]), 1e-12, 0.0);
    close(best.cost_per_hour, number(&case["outputs"]["avg_cost"]), 1e-10, 0.0);
    assert!(planned_age(&w, &top, &AgeOptions::default()).unwrap().optimum_cost_per_hour < best.cost_per_hour);
    // Over many periods the best cost of the table rises by that of the best fixed age in each.
    let table = &case["outputs"]["V_new"];
    let rise = (number(&table["60"]) - number(&table["30"])) / 30.0;
    assert!(
        rise <= number(&case["outputs"]["avg_cost"]) * 1.01 && rise > 0.98 * number(&case["outputs"]["avg_cost"]),
        "{rise}"
    );
}
