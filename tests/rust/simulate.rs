//! A fleet played out: small fleets known by hand, agreement with every formula there is, and mistakes in what is asked.

use std::collections::BTreeMap;

use relamp::Run;
use relamp::demand::{Horizon, SocketToday};
use relamp::family::{Life, Weibull};
use relamp::fit::World;
use relamp::records::Ending;
use relamp::simulate::{
    Assumptions, DarkMinutes, PlannedChange, PlayOptions, PlayedFleet, Rule, Simulated, Visits, play_fleet,
};
use relamp::terms::HourLimit;

use crate::worlds::{limit, series, world};

pub mod agreement;
mod by_hand;
mod chain;
mod mistakes;

fn socket(age: f64, hours_per_week: f64) -> SocketToday {
    SocketToday { age_hours: Some(age), hours_per_week }
}

/// A long enough limit to be out of the way.
fn no_limit() -> HourLimit {
    limit(1e9)
}

fn options(period_days: f64, periods: usize, replicates: usize) -> PlayOptions {
    PlayOptions { horizon: Horizon { period_days, periods }, replicates, seed: 11 }
}

fn play(assumptions: &Assumptions<'_>, options: PlayOptions) -> PlayedFleet {
    let played = play_fleet(assumptions, &options, &Run::new()).unwrap();
    // Every play keeps its own rules.
    relamp::base::sound::Checks::of("played", &played).unwrap();
    played
}

/// A life of exactly so many hours.
#[derive(Debug)]
struct Exactly(f64);

impl Life for Exactly {
    fn ln_density(&self, _: f64) -> f64 {
        f64::NEG_INFINITY
    }
    fn ln_reliability(&self, age: f64) -> f64 {
        if age < self.0 { 0.0 } else { f64::NEG_INFINITY }
    }
    fn ln_failure_probability(&self, age: f64) -> f64 {
        if age < self.0 { f64::NEG_INFINITY } else { 0.0 }
    }
    fn quantile(&self, _: f64) -> relamp::Result<f64> {
        Ok(self.0)
    }
    fn mean_to(&self, age: f64) -> relamp::Result<f64> {
        Ok(age.min(self.0))
    }
}

#[test]
fn a_play_is_the_same_to_the_byte_on_one_two_and_three_threads() {
    let w = series(900.0, &[(Ending::Burst, 3.0, 1400.0, 5000.0), (Ending::Seal, 0.7, 6000.0, 1500.0)]);
    let sockets: Vec<_> = (0..300).map(|i| socket(f64::from(i % 60) * 20.0, 40.0 + f64::from(i % 7) * 9.3)).collect();
    let sites: Vec<_> = (0..300).map(|i| format!("site {}", i / 3)).collect();
    let limit = limit(1300.0);
    let rule = Rule::AtAgeOrVisit { age_hours: 1200.0, visit_age_hours: 800.0, join_changes: true };
    let assumptions = Assumptions {
        sites: &sites,
        visits: Visits::Random { mean_days: 40.0 },
        visit_cost: 123.4,
        ..Assumptions::new(&sockets, &w, rule, &limit)
    };
    let each: Vec<String> = [1, 2, 3]
        .iter()
        .map(|n| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(*n).build().unwrap();
            let played = pool.install(|| play(&assumptions, options(30.0, 6, 40)));
            serde_json::to_string(&played).unwrap()
        })
        .collect();
    assert_eq!(each[0], each[1]);
    assert_eq!(each[0], each[2]);
    // Another seed is another play.
    let other = PlayOptions { seed: 12, ..options(30.0, 6, 40) };
    assert_ne!(each[0], serde_json::to_string(&play(&assumptions, other)).unwrap());
    // What is saved reads back to the byte.
    let back: PlayedFleet = serde_json::from_str(&each[0]).unwrap();
    assert_eq!(each[0], serde_json::to_string(&back).unwrap());
}

#[test]
fn the_n_th_lamp_of_a_screen_lives_the_same_hours_under_every_rule() {
    // Without failures before the age, and with an age beyond every life, the first failure of each screen is the same.
    let w = world(Weibull { shape: 3.0, scale: 1000.0 }, 900.0, 5000.0);
    let limit = no_limit();
    let sockets = vec![socket(0.0, 70.0); 50];
    let run = |rule| play(&Assumptions::new(&sockets, &w, rule, &limit), options(60.0, 4, 5));
    let (a, b) = (run(Rule::AtFailure), run(Rule::AtAge { age_hours: 5000.0 }));
    assert_eq!(a.whole, b.whole);
    let c = run(Rule::OnCalendar { every_days: 1.0e6, first_day: 1.0e6, from_age_hours: 0.0 });
    assert_eq!(a.periods, c.periods);
}

#[test]
fn a_run_that_is_stopped_stops() {
    let w = world(Weibull { shape: 3.0, scale: 1000.0 }, 900.0, 5000.0);
    let (limit, sockets) = (no_limit(), vec![socket(0.0, 70.0); 50]);
    let run = Run::new();
    run.stop();
    let error =
        play_fleet(&Assumptions::new(&sockets, &w, Rule::AtFailure, &limit), &options(60.0, 4, 5), &run).unwrap_err();
    assert_eq!(error.slug(), "run.stopped");
}
