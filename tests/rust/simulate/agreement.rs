//! Every formula that answers a question of the simulation, played out with 100,000 screens or more.

use relamp::demand::{LampsAtAge, failures_ahead, forecast, planned_changes};
use relamp::family::{Exponential, Gamma, family};
use relamp::fit::{FitOptions, bootstrap};
use relamp::lives::{Rows, Tally};
use relamp::policy::{block_costs, cost_curve, horizon_costs};
use serde_json::Value;

use super::*;
use crate::worlds::{close, number};

/// A stored check value of rules by visit, by site and by the calendar.
pub fn case(id: &str) -> Value {
    let all: Value = serde_json::from_str(include_str!("../../data/visits_and_blocks.json")).unwrap();
    all["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap().clone()
}

/// How many standard errors a simulated number lies from what a formula gives.
pub struct Score {
    pub name: String,
    pub z: f64,
}

impl Score {
    pub fn of(name: String, simulated: &Simulated, expected: f64) -> Self {
        let se = simulated.standard_error.unwrap();
        assert!(se > 0.0, "{name} does not vary");
        Self { name, z: (simulated.mean - expected) / se }
    }

    /// A share of independent plays against a chance.
    fn share(name: String, share: f64, chance: f64, plays: f64) -> Self {
        Self { name, z: (share - chance) / (chance * (1.0 - chance) / plays).sqrt() }
    }
}

/// A seed of its own for each play, so that the numbers compared are as independent as they can be.
pub fn apart(list: &[Score], options: PlayOptions) -> PlayOptions {
    PlayOptions { seed: 1000 + list.len() as u64, ..options }
}

#[test]
fn every_formula_agrees_with_the_played_fleet() {
    let mut list = Vec::new();
    planned_ages(&mut list);
    forecasts(&mut list);
    ahead(&mut list);
    counts(&mut list);
    opportunities(&mut list);
    blocks(&mut list);
    horizons(&mut list);
    blocks_under_a_limit(&mut list);
    chain::scores(&mut list);
    assert!(list.len() > 80);
    judge(&list, 0.5, 1.6);
}

/// No number far out, and the mean square between two ends: of few numbers it varies more.
pub fn judge(list: &[Score], low: f64, high: f64) {
    let n = list.len() as f64;
    let squares = list.iter().map(|s| s.z * s.z).sum::<f64>() / n;
    let told: Vec<String> = list.iter().map(|s| format!("{:8.3}  {}", s.z, s.name)).collect();
    let told = told.join("\n");
    for score in list {
        assert!(score.z.abs() < 4.5, "{}: {} standard errors, of\n{told}", score.name, score.z);
    }
    assert!(squares > low && squares < high, "{n} numbers, mean square {squares}:\n{told}");
}

/// Ages of screens that have long been run by a rule, when asked on any day: their density falls as the chance that a lamp
/// is still there at an age. `there` gives that chance, `end` the age past which it is 0 or next to it.
pub fn settled(there: impl Fn(f64) -> f64, end: f64, n: usize) -> Vec<f64> {
    const STEPS: usize = 40_000;
    let step = end / STEPS as f64;
    let mut sums = vec![0.0];
    for i in 0..STEPS {
        let a = i as f64 * step;
        let area = step * (there(a) + 4.0 * there(a + 0.5 * step) + there(a + step)) / 6.0;
        sums.push(sums[i] + area);
    }
    (0..n)
        .map(|i| {
            let goal = (i as f64 + 0.5) / n as f64 * sums[STEPS];
            let k = sums.partition_point(|s| *s <= goal).clamp(1, STEPS);
            step * (k as f64 - 1.0 + (goal - sums[k - 1]) / (sums[k] - sums[k - 1]))
        })
        .collect()
}

/// `copies` screens of each age, 10 h a day.
fn screens(ages: &[f64], copies: usize) -> Vec<SocketToday> {
    ages.iter().flat_map(|a| std::iter::repeat_n(socket(*a, 70.0), copies)).collect()
}

/// Long-run cost and endings by cause at planned ages, from screens in the state of the long run.
fn planned_ages(list: &mut Vec<Score>) {
    let mut w = series(
        950.0,
        &[
            (Ending::Burst, 4.0, 1900.0, 5200.0),
            (Ending::Seal, 0.7, 9000.0, 1800.0),
            (Ending::Dim, 2.2, 2500.0, 1250.0),
        ],
    );
    // Failures of the last cause are of two kinds.
    w.causes[2].endings = vec![(Ending::Dim, 0.7), (Ending::Flicker, 0.3)];
    let mut costs: Vec<_> = w.costs.by_ending().iter().map(|(e, c)| (*e, *c)).collect();
    costs.push((Ending::Flicker, 2100.0));
    w.costs = relamp::terms::Costs::new(950.0, costs).unwrap();
    let reliability = |a: f64| w.causes.iter().map(|c| c.life.ln_reliability(a)).sum::<f64>().exp();
    for (age, days) in [(500.0, 90.0), (1100.0, 150.0), (1800.0, 200.0)] {
        let limit = limit(1800.0);
        let point = cost_curve(&w, &[age], &limit).unwrap().remove(0);
        let sockets = screens(&settled(reliability, age, 2000), 50);
        let played = play(
            &Assumptions::new(&sockets, &w, Rule::AtAge { age_hours: age }, &limit),
            apart(list, options(days, 1, 1)),
        );
        let hours = played.whole.burning_hours.mean;
        close(hours, 100_000.0 * 10.0 * days, 1e-12, 0.0);
        let name = |what: &str| format!("at {age} h: {what}");
        list.push(Score::of(name("cost per hour"), &played.cost_per_hour.unwrap(), point.cost_per_hour));
        let planned = hours * point.planned_cost_per_hour / 950.0;
        list.push(Score::of(name("planned"), &played.whole.planned, planned));
        for part in &point.by_ending {
            let expected = hours * part.cost_per_hour / w.costs.failure(part.ending).unwrap();
            let found = &played.whole.failures_by_ending[&part.ending];
            list.push(Score::of(name(part.ending.as_str()), found, expected));
        }
    }
}

/// Means and distributions of lamps needed by an invented class of 60 screens, month by month.
fn forecasts(list: &mut Vec<Score>) {
    let w = series(950.0, &[(Ending::Burst, 3.0, 1400.0, 5200.0), (Ending::Dim, 1.5, 3000.0, 1250.0)]);
    let mut sockets: Vec<_> = (0..59).map(|i| socket(f64::from(i) * 21.7, 45.0 + 1.3 * f64::from(i % 37))).collect();
    sockets.push(SocketToday { age_hours: None, hours_per_week: 70.0 });
    let (limit, replicates) = (limit(1200.0), 4000);
    let asked = apart(list, options(30.4375, 6, replicates));
    let ahead = forecast(&sockets, &w, 1200.0, &limit, asked.horizon).unwrap();
    let played = play(&Assumptions::new(&sockets, &w, Rule::AtAge { age_hours: 1200.0 }, &limit), asked);
    assert_eq!(played.due_now, ahead.due_now);
    for (m, (found, told)) in played.periods.iter().zip(&ahead.periods).enumerate() {
        let name = |what: &str| format!("forecast, month {}: {what}", m + 1);
        list.push(Score::of(name("planned"), &found.planned, told.mean_planned));
        list.push(Score::of(name("failures"), &found.failures, told.mean_failures));
        let of =
            [(&played.needed[m], &told.needed, "needed"), (&played.needed_by_end[m], &told.needed_by_end, "by end")];
        for (found, told, what) in of {
            let middle = told.quantile(0.5).unwrap();
            let (share, chance) = (found.at_most(middle), told.at_most(middle));
            list.push(Score::share(name(what), share, chance, replicates as f64));
        }
        // The spread of the whole fleet is that of its distribution.
        close(found.changes.sd.unwrap(), told.needed.sd(), 4e-3, 0.0);
    }
    // Without failures the changes are those of the plan, screen by screen.
    let never = world(Exactly(1e12), 1.0, 5.0);
    let played =
        play(&Assumptions::new(&sockets, &never, Rule::AtAge { age_hours: 1150.0 }, &limit), options(30.4375, 9, 1));
    let planned = planned_changes(&sockets, 1150.0, &limit, Horizon::months(9)).unwrap();
    for (found, told) in played.needed.iter().zip(&planned) {
        assert_eq!((found.first(), found.last()), (told.changes, told.changes));
    }
}

/// Failures of lamps of given ages in the hours ahead.
fn ahead(list: &mut Vec<Score>) {
    let ages: Vec<f64> = (1..=40).map(|i| 300.0 + 55.0 * f64::from(i)).collect();
    let (tally, _) = Tally::from_rows(&Rows { low: ages.clone(), high: ages, ..Rows::default() }).unwrap();
    let run = Run::new();
    let draws = bootstrap(family("weibull").unwrap(), &tally, &FitOptions::default(), 20, 7, "", &run).unwrap();
    let groups = [(200.0, 60.0), (1100.0, 40.0), (1900.0, 90.0)];
    let count = 40_000;
    let lamps = groups.map(|(age_hours, per_week)| LampsAtAge { age_hours, ahead_hours: 8.0 * per_week, count });
    let told = failures_ahead(&draws, &lamps, &run).unwrap().at_estimate;
    let life = draws.fit().life_at_maximum().unwrap();
    let causes = vec![relamp::fit::CauseLife { endings: vec![(Ending::Dim, 1.0)], life }];
    let w = World { causes, costs: relamp::terms::Costs::new(1.0, [(Ending::Dim, 5.0)]).unwrap() };
    let sockets: Vec<_> =
        groups.iter().flat_map(|(age, week)| std::iter::repeat_n(socket(*age, *week), count as usize)).collect();
    let limit = no_limit();
    let played = play(&Assumptions::new(&sockets, &w, Rule::AtFailure, &limit), apart(list, options(56.0, 1, 1)));
    list.push(Score::of("failures ahead".to_owned(), &played.whole.failures_of_todays_lamps, told.mean()));
    let sd = played.whole.failures_of_todays_lamps.sd.unwrap();
    close(sd, told.sd(), 0.02, 0.0);
}

/// Renewal counts: closed forms of the exponential life, and the stored ones of Weibull lives.
fn counts(list: &mut Vec<Score>) {
    let limit = no_limit();
    let many = |age: f64| vec![socket(age, 168.0); 100_000];
    // Failures of an exponential life come at an even rate from any age, and their number varies as a Poisson number.
    let w = world(Exponential { scale: 700.0 }, 1.0, 5.0);
    let sockets = many(123.0);
    let played = play(&Assumptions::new(&sockets, &w, Rule::AtFailure, &limit), apart(list, options(35.0, 3, 1)));
    for (m, period) in played.periods.iter().enumerate() {
        let mean = 100_000.0 * 35.0 * 24.0 / 700.0;
        list.push(Score::of(format!("exponential, period {}", m + 1), &period.failures, mean));
        let z = (period.failures.sd.unwrap() / mean.sqrt() - 1.0) * 200_000.0_f64.sqrt();
        // A Poisson number of mean 1.2 has excess kurtosis 1 / 1.2, which widens the spread of its spread.
        list.push(Score { name: format!("exponential, sd of period {}", m + 1), z: z / (1.0 + 0.5 / 1.2_f64).sqrt() });
    }
    let stored = crate::worlds::case("ren_age_replacement_counts");
    let times: Vec<f64> = stored["inputs"]["t"].as_array().unwrap().iter().map(number).collect();
    let sockets = many(0.0);
    for shape in [1.0, 2.0, 3.0] {
        let w = world(Weibull { shape, scale: 1000.0 }, 1.0, 5.0);
        let expected = &stored["outputs"][format!("shape_{shape}")];
        for i in [3, 5] {
            let rule = Rule::AtAge { age_hours: 600.0 };
            let asked = apart(list, options(1000.0 * times[i] / 24.0, 1, 1));
            let played = play(&Assumptions::new(&sockets, &w, rule, &limit), asked);
            let name = |what: &str| format!("shape {shape}, changed at 0.6, to {}: {what}", times[i]);
            let (planned, failed) = (number(&expected["M_planned"][i]), number(&expected["M_failure"][i]));
            list.push(Score::of(name("planned"), &played.whole.planned, 1e5 * planned));
            list.push(Score::of(name("failures"), &played.whole.failures, 1e5 * failed));
        }
    }
    let w = world(Weibull { shape: 2.0, scale: 1000.0 }, 1.0, 5.0);
    let stored = crate::worlds::case("ren_delayed_weibull2");
    for age in ["0.25", "1", "1.5"] {
        let sockets = many(1000.0 * age.parse::<f64>().unwrap());
        let played =
            play(&Assumptions::new(&sockets, &w, Rule::AtFailure, &limit), apart(list, options(1000.0 / 24.0, 1, 1)));
        let mean = 1e5 * number(&stored["outputs"]["M_by_age"][age][2]);
        list.push(Score::of(format!("first lamp of age {age}"), &played.whole.failures, mean));
    }
    // One screen played 100,000 times: the whole distribution of its failures.
    let stored = crate::worlds::case("ren_count_pmf_weibull2");
    let one = [socket(0.0, 168.0)];
    let played =
        play(&Assumptions::new(&one, &w, Rule::AtFailure, &limit), apart(list, options(2000.0 / 24.0, 1, 100_000)));
    for (k, p) in played.needed[0].probabilities().iter().take(5).enumerate() {
        list.push(Score::share(format!("{k} failures"), *p, number(&stored["outputs"]["pmf_t2"][k]), 1e5));
    }
}

/// Changed at the first visit after an age; visits come at random, and nothing else changes a lamp that works.
/// Tijms, A First Course in Stochastic Models (2003), exercise 8.9, after Dekker and Smeitink (1994).
fn opportunities(list: &mut Vec<Score>) {
    let stored = case("opportunity_age_rule");
    let scale = 1000.0;
    let life = Weibull { shape: 3.0, scale };
    for key in ["0", "0.5", "2", "10"] {
        let rate: f64 = key.parse::<f64>().unwrap() / scale;
        let from = stored["outputs"][key]["T"].as_f64().map_or(f64::MAX, |t| t * scale);
        let cost = number(&stored["outputs"][key]["C"]) / scale;
        let there = |a: f64| life.reliability(a) * if a > from { (-rate * (a - from)).exp() } else { 1.0 };
        let sockets = screens(&settled(there, 4.0 * scale, 2000), 50);
        let w = world(life, 1.0, 5.0);
        let limit = no_limit();
        let (rule, visits) = if rate == 0.0 {
            (Rule::AtFailure, Visits::Never)
        } else {
            let rule = Rule::AtAgeOrVisit { age_hours: 1e9, visit_age_hours: from, join_changes: false };
            (rule, Visits::Random { mean_days: 1.0 / rate / 10.0 })
        };
        let days = 70.0;
        let assumptions = Assumptions { visits, ..Assumptions::new(&sockets, &w, rule, &limit) };
        let played = play(&assumptions, apart(list, options(days, 1, 1)));
        list.push(Score::of(format!("visits at rate {key}: cost"), &played.cost_per_hour.unwrap(), cost));
        if rate > 0.0 {
            let visits = 1e5 * days * 10.0 * rate;
            list.push(Score::of(format!("visits at rate {key}: visits"), &played.whole.visits_anyway, visits));
        }
    }
}

/// All lamps on fixed days, failures in between: (planned + failure M(T)) / T, from new lamps in every block.
fn blocks(list: &mut Vec<Score>) {
    let grid = case("block_weibull_grid");
    let weibull = |key: &str, shape: f64, failure: f64| {
        let found = &grid["outputs"][key];
        let world = world(Weibull { shape, scale: 1000.0 }, 1.0, failure);
        (format!("block, Weibull {key}"), world, number(&found["T"]) * 1000.0, number(&found["C"]) / 1000.0)
    };
    let erlang = case("block_erlang2_karlin_taylor");
    let erlang = |key: &str, failure: f64| {
        let found = &erlang["outputs"][key];
        let world = world(Gamma { shape: 2.0, scale: 1000.0 }, 1.0, failure);
        (format!("block, Erlang 2, cost {key}"), world, number(&found["T"]) * 1000.0, number(&found["C"]) / 1000.0)
    };
    let parallel = case("block_two_parallel_beichelt");
    let parallel = (
        "block, two in parallel".to_owned(),
        world(Parallel, 20.0, 180.0),
        number(&parallel["outputs"]["T_cp20"]),
        number(&parallel["outputs"]["K_cp20"]),
    );
    let relamping = case("group_relamping_weibull");
    let mean_of_one = Weibull { shape: 5.0, scale: 1.0 }.mean().unwrap();
    let group = (
        "group relamping".to_owned(),
        world(Weibull { shape: 5.0, scale: 20_000.0 / mean_of_one }, 4.15, 8.65),
        number(&relamping["outputs"]["T"]),
        number(&relamping["outputs"]["cost_per_socket_hour"]),
    );
    // Hastings in Blischke and Murthy (2003), p. 372: block at 44 % of the scale costs 58 % of running to failure.
    let both = case("age_and_block_hastings");
    let life = Weibull { shape: 2.5, scale: 1000.0 };
    let hastings = (
        "block, Hastings".to_owned(),
        world(life, 1.0, 6.0),
        number(&both["outputs"]["block_T_over_scale"]) * 1000.0,
        number(&both["outputs"]["block_cost_ratio"]) * 6.0 / life.mean().unwrap(),
    );
    let cases = [
        weibull("2|5", 2.0, 5.0),
        weibull("3|10", 3.0, 10.0),
        weibull("1.5|20", 1.5, 20.0),
        weibull("4|3", 4.0, 3.0),
        erlang("5", 5.0),
        erlang("10", 10.0),
        parallel,
        group,
        hastings,
    ];
    for (name, w, every, cost) in cases {
        let (sockets, limit) = (vec![socket(0.0, 168.0); 100_000], no_limit());
        let days = every / 24.0;
        // Hours of some of the sources are short; only the ratio of clock and block counts.
        let stretch = if days < 1.0 { 24.0 } else { 1.0 };
        let rule = Rule::OnCalendar { every_days: days * stretch, first_day: days * stretch, from_age_hours: 0.0 };
        let sockets: Vec<_> =
            sockets.into_iter().map(|s| SocketToday { hours_per_week: s.hours_per_week / stretch, ..s }).collect();
        let played =
            play(&Assumptions::new(&sockets, &w, rule, &limit), apart(list, options(2.0 * days * stretch, 1, 1)));
        assert_eq!(played.whole.planned.mean, 200_000.0);
        list.push(Score::of(name, &played.cost_per_hour.unwrap(), cost));
    }
}

/// Cost to a horizon, with new lamps and with lamps of some age.
fn horizons(list: &mut Vec<Score>) {
    let w = series(900.0, &[(Ending::Burst, 3.5, 1500.0, 5200.0), (Ending::Seal, 0.7, 6000.0, 1800.0)]);
    let limit = limit(2000.0);
    for (first, age, horizon) in
        [(0.0, 800.0, 2600.0), (500.0, 800.0, 2600.0), (900.0, 800.0, 1700.0), (700.0, 2000.0, 3100.0)]
    {
        let found = horizon_costs(&w, horizon, first, &[age], &limit).unwrap().remove(0);
        let sockets = vec![socket(first, 168.0); 100_000];
        let asked = apart(list, options(horizon / 24.0, 1, 1));
        let played = play(&Assumptions::new(&sockets, &w, Rule::AtAge { age_hours: age }, &limit), asked);
        let name = |what: &str| format!("to {horizon} h from {first} h, changed at {age} h: {what}");
        list.push(Score::of(name("cost"), &played.whole.cost, 1e5 * found.cost));
        list.push(Score::of(name("failures"), &played.whole.failures, 1e5 * found.failures));
        list.push(Score::of(name("planned"), &played.whole.planned, 1e5 * found.planned_changes));
    }
}

/// All lamps on fixed days, and alone where they reach the limit before.
fn blocks_under_a_limit(list: &mut Vec<Score>) {
    let w = series(900.0, &[(Ending::Burst, 3.5, 1500.0, 5200.0), (Ending::Dim, 2.0, 3000.0, 1800.0)]);
    for (top, every) in [(1000.0, 1500.0), (700.0, 2500.0), (1200.0, 900.0)] {
        let limit = limit(top);
        let found = block_costs(&w, &[every], &limit, None).unwrap().remove(0);
        let sockets = vec![socket(0.0, 168.0); 100_000];
        let days = every / 24.0;
        let rule = Rule::OnCalendar { every_days: days, first_day: days, from_age_hours: 0.0 };
        let asked = apart(list, options(2.0 * days, 1, 1));
        let played = play(&Assumptions::new(&sockets, &w, rule, &limit), asked);
        let name = |what: &str| format!("all every {every} h, limit {top} h: {what}");
        list.push(Score::of(name("cost per hour"), &played.cost_per_hour.unwrap(), found.cost_per_hour));
        list.push(Score::of(name("failures"), &played.whole.failures, 2e5 * found.failures));
        if let Some(alone) = played.whole.planned_by_kind.get(&PlannedChange::AtLimit) {
            list.push(Score::of(name("alone"), alone, 2e5 * found.alone));
        }
    }
}

/// The life of two exponential parts side by side: F = (1 - exp(-0.1 t))^2.
#[derive(Debug)]
struct Parallel;

impl Life for Parallel {
    fn ln_density(&self, _: f64) -> f64 {
        f64::NAN
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        (-self.failure_probability(age)).ln_1p()
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        2.0 * (-(-0.1 * age).exp_m1()).ln()
    }
    fn quantile(&self, p: f64) -> relamp::Result<f64> {
        Ok(-10.0 * (-p.sqrt()).ln_1p())
    }
    fn mean_to(&self, _: f64) -> relamp::Result<f64> {
        Ok(f64::NAN)
    }
}
