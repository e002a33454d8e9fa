//! Discounted cost and dark time against a fleet that is played out, and failures that are found only at the end of a period.

use relamp::demand::{Horizon, SocketToday};
use relamp::family::Life;
use relamp::fit::World;
use relamp::policy::{AgeOptions, Objective, cost_curve, endings_by_age, objective_curve, planned_age};
use relamp::records::Ending;
use relamp::simulate::{self, Assumptions, PlayOptions, PlayedFleet, Rule, Simulated, play_fleet};
use relamp::terms::{DarkMinutes, Discount, Salvage, Warranty};
use relamp::{Error, Kind, Problem, Result, Run};

use crate::simulate::agreement::{Score, judge, settled};
use crate::worlds::{case, close, limit, number, series, world};

fn three() -> [(Ending, f64, f64, f64); 3] {
    [(Ending::Burst, 4.0, 1900.0, 5200.0), (Ending::Seal, 0.7, 9000.0, 1800.0), (Ending::Dim, 2.2, 2500.0, 1250.0)]
}

/// The three causes with money back, with a worth of used lamps, with both or with neither.
fn priced(back: bool, worth: bool) -> World {
    let mut w = series(950.0, &three());
    if back {
        let cover = Warranty::pro_rata(700.0, 900.0, [Ending::Burst, Ending::Seal]).unwrap();
        w.costs = w.costs.with_warranty(cover).unwrap();
    }
    if worth {
        w.costs = w.costs.with_salvage(Salvage::new(300.0, 2000.0, 0.0).unwrap()).unwrap();
    }
    w
}

fn dark() -> DarkMinutes {
    DarkMinutes::new(45.0, [(Ending::Burst, 360.0), (Ending::Seal, 200.0), (Ending::Dim, 90.0)]).unwrap()
}

/// The same minutes as the played fleet takes them.
fn of_a_play(dark: &DarkMinutes) -> simulate::DarkMinutes {
    simulate::DarkMinutes { planned: dark.planned(), by_ending: dark.by_ending().clone() }
}

fn played(assumptions: &Assumptions<'_>, period_days: f64, periods: usize, seed: usize) -> PlayedFleet {
    let options = PlayOptions { horizon: Horizon { period_days, periods }, replicates: 1, seed: 2000 + seed as u64 };
    let played = play_fleet(assumptions, &options, &Run::new()).unwrap();
    relamp::base::sound::Checks::of("played", &played).unwrap();
    played
}

/// 100,000 screens that burn day and night, with lamps of one age.
fn burning(age: f64) -> Vec<SocketToday> {
    vec![SocketToday { age_hours: Some(age), hours_per_week: 168.0 }; 100_000]
}

/// From new lamps to where an amount is worth next to nothing, and from lamps of the planned age, which are changed at once.
#[test]
fn discounted_costs_agree_with_the_played_fleet() {
    let mut list = Vec::new();
    for (age, rate) in [(500.0, 6e-3), (900.0, 2e-3), (1200.0, 4e-3), (1700.0, 3e-3), (2500.0, 1e-3)] {
        for (back, worth) in [(false, false), (true, false), (false, true), (true, true)] {
            let w = priced(back, worth);
            let top = limit(3000.0);
            let discount = Discount::per_hour(rate).unwrap();
            let objective = Objective::DiscountedCost(discount);
            let point = objective_curve(&w, &objective, &[age], &top).unwrap().remove(0);
            // What lies past the horizon is worth a 65 millionth.
            let days = 18.0 / rate / 24.0;
            let rule = Rule::AtAge { age_hours: age };
            for first in [0.0, age] {
                let sockets = burning(first);
                let assumptions =
                    Assumptions { discount: Some(discount), ..Assumptions::new(&sockets, &w, rule.clone(), &top) };
                let found = played(&assumptions, days, 1, list.len()).whole.discounted_cost.unwrap();
                let at_once = if first == age { w.costs.planned_at(age) } else { 0.0 };
                let name = format!("from {first} h, changed at {age} h, rate {rate}, {back} {worth}");
                list.push(Score::of(name, &found, 1e5 * (at_once + point.cost_per_hour / rate)));
            }
        }
    }
    assert!(list.len() >= 40);
    judge(&list, 0.5, 1.6);
}

/// Dark minutes per 1,000 h and their parts, from screens in the state of the long run.
#[test]
fn dark_minutes_agree_with_the_played_fleet() {
    let (dark, w, top) = (dark(), series(950.0, &three()), limit(3000.0));
    let reliability = |a: f64| w.causes.iter().map(|c| c.life.ln_reliability(a)).sum::<f64>().exp();
    let mut list = Vec::new();
    for age in (0..12).map(|i| 250.0 + 200.0 * f64::from(i)) {
        let point = objective_curve(&w, &Objective::DarkMinutes(dark.clone()), &[age], &top).unwrap().remove(0);
        let endings = endings_by_age(&w, &[age], &top).unwrap().remove(0);
        let ages = settled(reliability, age, 2000);
        let socket = |a: &f64| SocketToday { age_hours: Some(*a), hours_per_week: 70.0 };
        let sockets: Vec<_> = ages.iter().flat_map(|a| std::iter::repeat_n(socket(a), 50)).collect();
        let rule = Rule::AtAge { age_hours: age };
        let assumptions = Assumptions { dark_minutes: of_a_play(&dark), ..Assumptions::new(&sockets, &w, rule, &top) };
        let fleet = played(&assumptions, 120.0, 1, 100 + list.len());
        let whole = &fleet.whole;
        let thousands = whole.burning_hours.mean / 1000.0;
        let mut compare = |what: &str, found: &Simulated, expected: f64| {
            list.push(Score::of(format!("changed at {age} h: {what}"), found, expected));
        };
        compare("per 1,000 h", &whole.dark_minutes_per_1000_hours().unwrap(), 1000.0 * point.cost_per_hour);
        let planned = fleet.dark_minutes_of(Ending::Planned, &whole.planned);
        compare("planned", &planned, 1000.0 * point.planned_cost_per_hour * thousands);
        for (part, ended) in point.by_ending.iter().zip(&endings.by_ending) {
            assert_eq!(part.ending, ended.ending);
            let found = &whole.failures_by_ending[&part.ending];
            let minutes = fleet.dark_minutes_of(part.ending, found);
            compare(part.ending.as_str(), &minutes, 1000.0 * part.cost_per_hour * thousands);
            // The counts by ending are the same numbers, and so as far from the play.
            close(1000.0 * part.cost_per_hour, dark.failure(part.ending).unwrap() * ended.per_1000_hours, 1e-12, 0.0);
        }
    }
    assert!(list.len() >= 60);
    judge(&list, 0.5, 1.6);
}

/// Lamps that never fail, by hand: each amount at what it is worth on its day, period by period; minutes by what brought them.
#[test]
fn discounted_costs_and_minutes_of_a_small_fleet_are_those_by_hand() {
    let w = series(950.0, &[(Ending::Burst, 3.0, 1e9, 5200.0)]);
    let top = limit(1000.0);
    // 10 h and 20 h a day, both at one site: in 100 days changed on days 10, 15 and 65, each with a visit.
    let sockets =
        [(900.0, 70.0), (700.0, 140.0)].map(|(age, week)| SocketToday { age_hours: Some(age), hours_per_week: week });
    let rate = 1e-4;
    let minutes = simulate::DarkMinutes { planned: 30.0, by_ending: [(Ending::Burst, 240.0)].into() };
    let assumptions = Assumptions {
        sites: &["A".to_owned(), "A".to_owned()],
        visit_cost: 100.0,
        dark_minutes: minutes,
        discount: Some(Discount::per_hour(rate).unwrap()),
        ..Assumptions::new(&sockets, &w, Rule::AtAge { age_hours: 1000.0 }, &top)
    };
    let fleet = played(&assumptions, 50.0, 2, 0);
    let worth = |per_day: f64, day: f64| (-rate * per_day * day).exp();
    let change = |per_day: f64, day: f64| 950.0 * worth(per_day, day) + 100.0 * worth(15.0, day);
    let first = change(10.0, 10.0) + change(20.0, 15.0);
    let second = change(20.0, 65.0);
    close(fleet.periods[0].discounted_cost.unwrap().mean, first, 1e-12, 0.0);
    close(fleet.periods[1].discounted_cost.unwrap().mean, second, 1e-12, 0.0);
    close(fleet.whole.discounted_cost.unwrap().mean, first + second, 1e-12, 0.0);
    close(fleet.dark_minutes_of(Ending::Planned, &fleet.whole.planned).mean, 90.0, 1e-12, 0.0);
    close(fleet.whole.dark_minutes_per_1000_hours().unwrap().mean, 30.0, 1e-12, 0.0);
    // Without a discount nothing is counted, and the saved form is that of before.
    let plain = Assumptions { discount: None, dark_minutes: simulate::DarkMinutes::default(), ..assumptions };
    let plain = played(&plain, 50.0, 2, 0);
    assert!(plain.whole.discounted_cost.is_none());
    assert!(!serde_json::to_string(&plain).unwrap().contains("discount"));
    // An edited file is refused by field.
    let edited = |path: &[&str], value: f64| {
        let mut saved = serde_json::to_value(&fleet).unwrap();
        let place = path.iter().fold(&mut saved, |v, key| &mut v[*key]);
        *place = value.into();
        let fleet: PlayedFleet = serde_json::from_value(saved).unwrap();
        relamp::base::sound::Checks::of("played", &fleet).unwrap_err().to_string()
    };
    assert!(edited(&["whole", "discounted_cost", "mean"], 9.0).contains("whole.discounted_cost"));
    assert!(edited(&["whole", "dark_minutes", "mean"], 9.0).contains("whole.dark_minutes"));
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
