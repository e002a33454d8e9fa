//! Lamps needed, against enumeration, closed forms, stored renewal values and a played-out fleet.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::random::Stream;
use relamp::demand::{Count, Forecast, Horizon, SocketToday, forecast, forecast_over_draws, planned_changes};
use relamp::family::{Exponential, Life, Weibull};
use relamp::records::Ending;

use crate::worlds::{Drawn, case, close, limit, number, series, world};

fn socket(age: f64, hours_per_week: f64) -> SocketToday {
    SocketToday { age_hours: Some(age), hours_per_week }
}

/// One period in which a screen that burns 168 h a week burns the given hours.
fn burning(hours: f64) -> Horizon {
    Horizon::days(hours / 24.0)
}

#[test]
fn ten_lamps_equal_the_enumeration_of_every_outcome() {
    let stored = case("poisson_binomial_demand");
    let life = Weibull { shape: 3.0, scale: 1500.0 };
    let ages: Vec<f64> = stored["inputs"]["ages"].as_array().unwrap().iter().map(number).collect();
    let chances: Vec<f64> =
        ages.iter().map(|a| -(life.ln_reliability(a + 250.0) - life.ln_reliability(*a)).exp_m1()).collect();
    for (p, e) in chances.iter().zip(stored["outputs"]["p"].as_array().unwrap()) {
        close(*p, number(e), 1e-12, 0.0);
    }
    let mut outcomes = [0.0; 11];
    for bits in 0_u32..1024 {
        let p: f64 = chances.iter().enumerate().map(|(i, p)| if bits >> i & 1 == 1 { *p } else { 1.0 - *p }).product();
        outcomes[bits.count_ones() as usize] += p;
    }
    let count = Count::of_chances(&chances).unwrap();
    assert_eq!(count.probabilities().len(), 11);
    for (k, p) in count.probabilities().iter().enumerate() {
        close(*p, outcomes[k], 0.0, 1e-15);
        close(*p, number(&stored["outputs"]["pmf"][k]), 1e-12, 0.0);
    }
    close(count.mean(), number(&stored["outputs"]["mean"]), 1e-12, 0.0);
    close(count.sd().powi(2), number(&stored["outputs"]["var"]), 1e-12, 0.0);
    assert_eq!((count.quantile(0.95).unwrap(), count.quantile(0.99).unwrap()), (5, 6));
    assert_eq!(Count::poisson(count.mean()).unwrap().quantile(0.95).unwrap(), 6);
    // The forecast adds second changes, so only its chance of none must be the same, and its mean a little above.
    let sockets: Vec<_> = ages.iter().map(|a| socket(*a, 168.0)).collect();
    let ahead = forecast(&sockets, &world(life, 1.0, 5.0), 9000.0, &limit(9000.0), burning(250.0)).unwrap();
    close(ahead.periods[0].needed.probabilities()[0], outcomes[0], 1e-12, 0.0);
    let more = ahead.periods[0].needed.mean() - count.mean();
    assert!(more > 0.0 && more < 0.01, "{more}");
}

#[test]
fn a_lead_time_of_years_keeps_its_means_with_steps_of_days() {
    let sockets = [socket(300.0, 70.0), socket(1700.0, 70.0)];
    let ahead = |horizon| {
        forecast(&sockets, &world(Weibull { shape: 3.0, scale: 3000.0 }, 1.0, 5.0), 2000.0, &limit(2500.0), horizon)
            .unwrap()
    };
    let years = ahead(Horizon::days(3000.0));
    assert_eq!(years.step_days, 2.0);
    // The same days in a hundred periods with steps of half a day.
    let fine = ahead(Horizon { period_days: 30.0, periods: 100 });
    let (coarse, fine) = (&years.periods[0].needed, &fine.periods[99].needed_by_end);
    close(coarse.mean(), fine.mean(), 1e-4, 0.0);
    for p in [0.05, 0.5, 0.95] {
        assert_eq!(coarse.quantile(p).unwrap(), fine.quantile(p).unwrap(), "{p}");
    }
}

#[test]
fn a_life_that_reaches_below_age_zero_has_no_forecast_unless_cut() {
    use relamp::family::{AboveZero, Normal, Series};
    let normal = Normal { location: 1500.0, scale: 400.0 };
    let ask = |w: &relamp::fit::World| forecast(&[socket(100.0, 70.0)], w, 2000.0, &limit(2500.0), Horizon::months(3));
    let both = Series::new(Box::new(Weibull { shape: 3.0, scale: 2000.0 }), Box::new(normal));
    for w in [world(normal, 1.0, 5.0), world(both, 1.0, 5.0)] {
        let error = ask(&w).unwrap_err();
        assert_eq!((error.kind(), error.slug()), (relamp::Kind::Refused, "policy.below_zero"));
    }
    assert!(ask(&world(AboveZero::new(Box::new(normal)), 1.0, 5.0)).unwrap().periods[0].needed.mean() > 0.0);
}

#[test]
fn an_exponential_life_gives_poisson_counts_in_every_month() {
    let scale = 400.0;
    let sockets = [socket(0.0, 70.0), socket(123.0, 70.0), socket(390.0, 70.0)];
    let w = world(Exponential { scale }, 1.0, 5.0);
    let ahead = forecast(&sockets, &w, 90_000.0, &limit(90_000.0), Horizon::months(6)).unwrap();
    let month = 10.0 * 30.4375 / scale;
    for (m, period) in ahead.periods.iter().enumerate() {
        close(period.mean_failures, 3.0 * month, 1e-9, 0.0);
        close(period.mean_planned, 0.0, 0.0, 1e-30);
        for (count, mean) in [(&period.needed, 3.0 * month), (&period.needed_by_end, 3.0 * month * (m + 1) as f64)] {
            let exact = Count::poisson(mean).unwrap();
            for k in 0..12_u64 {
                close(count.at_most(k), exact.at_most(k), 0.0, 3e-5);
            }
        }
    }
}

#[test]
fn stored_renewal_counts_are_met_within_the_step() {
    // Counts of a new lamp, Weibull shape 2, at one and two scales: P(N = n).
    let stored = case("ren_count_pmf_weibull2");
    let w = world(Weibull { shape: 2.0, scale: 1000.0 }, 1.0, 5.0);
    for (key, hours) in [("pmf_t1", 1000.0), ("pmf_t2", 2000.0)] {
        let ahead = forecast(&[socket(0.0, 168.0)], &w, 1e6, &limit(1e6), burning(hours)).unwrap();
        for (k, p) in ahead.periods[0].needed.probabilities().iter().take(7).enumerate() {
            close(*p, number(&stored["outputs"][key][k]), 0.0, 2e-4);
        }
    }
    // Mean failures from an aged lamp.
    let stored = case("ren_delayed_weibull2");
    let times: Vec<f64> = stored["inputs"]["t"].as_array().unwrap().iter().map(number).collect();
    for (age, means) in stored["outputs"]["M_by_age"].as_object().unwrap() {
        let age: f64 = age.parse().unwrap();
        for (t, mean) in times.iter().zip(means.as_array().unwrap()) {
            let ahead = forecast(&[socket(1000.0 * age, 168.0)], &w, 1e6, &limit(1e6), burning(1000.0 * t)).unwrap();
            close(ahead.periods[0].mean_failures, number(mean), 2e-4, 0.0);
        }
    }
}

#[test]
fn planned_and_failure_changes_under_age_replacement_are_met() {
    let stored = case("ren_age_replacement_counts");
    let times: Vec<f64> = stored["inputs"]["t"].as_array().unwrap().iter().map(number).collect();
    for shape in [1.0, 2.0, 3.0] {
        let w = world(Weibull { shape, scale: 1000.0 }, 1.0, 5.0);
        let expect = &stored["outputs"][format!("shape_{shape}")];
        for (i, t) in times.iter().enumerate() {
            let ahead = forecast(&[socket(0.0, 168.0)], &w, 600.0, &limit(600.0), burning(1000.0 * t)).unwrap();
            let period = &ahead.periods[0];
            // The n-th planned change stands at n T if no lamp failed: exactly on the horizon the clock may place it on
            // either side. Else what follows second planned changes is right to second order in the step of t / 60.
            let on_edge = (t / 0.6).fract() < 1e-9 || 1.0 - (t / 0.6).fract() < 1e-9;
            close(period.mean_failures, number(&expect["M_failure"][i]), if on_edge { 6e-3 } else { 2e-3 }, 0.0);
            if !on_edge || *t <= 0.6 {
                close(period.mean_planned, number(&expect["M_planned"][i]), 2e-3, 1e-12);
            }
            close(period.needed.mean(), period.mean_planned + period.mean_failures, 1e-12, 0.0);
        }
    }
}

#[test]
fn a_finer_clock_moves_little() {
    // The same six months in one piece and in months: other steps, the same count by the end.
    let w = world(Weibull { shape: 3.0, scale: 500.0 }, 1.0, 5.0);
    let sockets: Vec<_> = (0..8).map(|i| socket(40.0 * f64::from(i), 80.0)).collect();
    let months = forecast(&sockets, &w, 400.0, &limit(400.0), Horizon::months(6)).unwrap();
    let whole = forecast(&sockets, &w, 400.0, &limit(400.0), Horizon::days(6.0 * 30.4375)).unwrap();
    let weeks =
        forecast(&sockets, &w, 400.0, &limit(400.0), Horizon { period_days: 6.0 * 30.4375 / 24.0, periods: 24 })
            .unwrap();
    let by_end = |f: &Forecast| f.periods.last().unwrap().needed_by_end.clone();
    let (a, b, c) = (by_end(&months), by_end(&whole), by_end(&weeks));
    close(a.mean(), b.mean(), 1e-3, 0.0);
    close(a.mean(), c.mean(), 1e-3, 0.0);
    for k in 0..60 {
        close(a.at_most(k), c.at_most(k), 0.0, 0.01);
    }
    let sum: f64 = months.periods.iter().map(|p| p.needed.mean()).sum();
    close(sum, a.mean(), 1e-9, 0.0);
}

#[test]
fn lamps_that_are_due_and_lamps_of_unknown_age_are_needed_in_the_first_period() {
    let w = world(Weibull { shape: 3.0, scale: 5000.0 }, 1.0, 5.0);
    let sockets = [
        socket(1500.0, 70.0),
        socket(2100.0, 70.0),
        SocketToday { age_hours: None, hours_per_week: 70.0 },
        SocketToday { age_hours: Some(10.0), hours_per_week: 0.0 },
        SocketToday { age_hours: Some(1600.0), hours_per_week: 0.0 },
    ];
    // A planned age past the limit is held to the limit.
    let ahead = forecast(&sockets, &w, 9999.0, &limit(1500.0), Horizon::months(3)).unwrap();
    assert_eq!((ahead.planned_age_hours, ahead.due_now), (1500.0, 4));
    assert_eq!(ahead.periods[0].needed.first(), 4);
    assert_eq!(ahead.periods[1].needed.first(), 0);
    assert_eq!(ahead.periods[2].needed_by_end.first(), 4);
    assert!(ahead.periods[0].mean_planned >= 4.0 && ahead.periods[0].mean_planned < 4.01);
    // No time, no demand; no screens, no demand.
    let now = forecast(&sockets, &w, 1500.0, &limit(1500.0), Horizon::days(0.0)).unwrap();
    assert_eq!(now.periods[0].needed, Count::certain(0));
    let none = forecast(&[], &w, 1500.0, &limit(1500.0), Horizon::months(2)).unwrap();
    assert_eq!(none.periods[1].needed_by_end, Count::certain(0));
}

#[test]
fn changes_on_plan_alone_are_the_least_that_any_life_needs() {
    let sockets: Vec<_> = (0..9)
        .map(|i| socket(150.0 * f64::from(i), 40.0 + 15.0 * f64::from(i)))
        .chain([SocketToday { age_hours: None, hours_per_week: 90.0 }])
        .collect();
    let ahead = Horizon::months(8);
    let least = planned_changes(&sockets, 1100.0, &limit(1100.0), ahead).unwrap();
    assert_eq!(least.iter().map(|p| p.changes).sum::<u64>(), least[7].changes_by_end);
    assert!(least[0].changes >= 3 && least[7].changes_by_end > least[0].changes_by_end);
    let lives: [(f64, f64); 4] = [(1.0, 900.0), (3.0, 1200.0), (8.0, 700.0), (0.6, 4000.0)];
    for (shape, scale) in lives {
        let w = world(Weibull { shape, scale }, 1.0, 5.0);
        let found = forecast(&sockets, &w, 1100.0, &limit(1100.0), ahead).unwrap();
        for (p, f) in least.iter().zip(&found.periods) {
            // The clock places second changes to within a step, so the bound holds to the chance of that.
            assert!(f.needed_by_end.at_most(p.changes_by_end) < 1.0 - 1e-6, "{shape} {scale}");
            if let Some(below) = p.changes_by_end.checked_sub(1) {
                assert!(f.needed_by_end.at_most(below) < 1e-9, "{shape} {scale} {}", f.needed_by_end.at_most(below));
            }
        }
    }
    // Where no lamp can fail, nothing else is needed.
    let w = world(Exponential { scale: 1e15 }, 1.0, 5.0);
    let found = forecast(&sockets, &w, 1100.0, &limit(1100.0), ahead).unwrap();
    for (p, f) in least.iter().zip(&found.periods) {
        close(f.needed_by_end.mean(), p.changes_by_end as f64, 1e-9, 0.0);
        close(f.needed.mean(), p.changes as f64, 1e-9, 1e-9);
    }
    let none = planned_changes(&sockets, 1100.0, &limit(1100.0), Horizon::days(0.0)).unwrap();
    assert_eq!((none[0].changes, none[0].changes_by_end), (0, 0));
    assert_eq!(planned_changes(&sockets, 0.0, &limit(1100.0), ahead).unwrap_err().slug(), "demand.planned_age");
}

#[test]
fn the_played_out_fleet_agrees() {
    let w = series(950.0, &[(Ending::Burst, 1.2, 9000.0, 5200.0), (Ending::Dim, 4.0, 900.0, 1250.0)]);
    // Hours so chosen that no second planned change of a lamp that lived falls within 1.9 steps of a month's end, where
    // the clock may place it in the other month.
    let plan = 700.0;
    let sockets: Vec<_> = (0..12).map(|i| socket(60.0 * f64::from(i), 63.0 + 5.0 * f64::from(i % 4))).collect();
    let months = 6;
    let ahead = forecast(&sockets, &w, plan, &limit(800.0), Horizon::months(months)).unwrap();
    let runs = 20_000;
    let month_weeks = 30.4375 / 7.0;
    let mut stream = Stream::new(7, "test", "fleet", 0);
    let mut counts = vec![vec![0_u32; months]; runs];
    let mut planned = vec![0.0; months];
    for count in &mut counts {
        for s in &sockets {
            let horizon = s.hours_per_week * month_weeks * months as f64;
            let (mut clock, mut age) = (0.0, s.age_hours.unwrap());
            loop {
                // The life left of a lamp of this age, cause by cause, by inversion given survival to it.
                let mut left = plan - age;
                let mut on_plan = true;
                for cause in &w.causes {
                    let p = cause.life.failure_probability(age);
                    let fails = cause.life.quantile(p + (1.0 - p) * stream.uniform()).unwrap() - age;
                    if fails < left {
                        (left, on_plan) = (fails, false);
                    }
                }
                clock += left;
                age = 0.0;
                if clock > horizon {
                    break;
                }
                let m = ((clock / (s.hours_per_week * month_weeks)) as usize).min(months - 1);
                count[m] += 1;
                planned[m] += f64::from(u8::from(on_plan)) / runs as f64;
            }
        }
    }
    for (m, period) in ahead.periods.iter().enumerate() {
        let mean = counts.iter().map(|c| f64::from(c[m])).sum::<f64>() / runs as f64;
        let z = (mean - period.needed.mean()) / (period.needed.sd() / (runs as f64).sqrt());
        assert!(z.abs() < 4.5, "month {m}: z = {z}, played {mean}, computed {}", period.needed.mean());
        for k in 0..=period.needed.last() {
            let p = period.needed.at_most(k);
            if p > 0.001 && p < 0.999 {
                let seen = counts.iter().filter(|c| u64::from(c[m]) <= k).count() as f64 / runs as f64;
                let z = (seen - p) / (p * (1.0 - p) / runs as f64).sqrt();
                assert!(z.abs() < 4.5, "month {m}, at most {k}: z = {z}, played {seen}, computed {p}");
            }
        }
        // A mean of counts below 12 has at most the variance of the whole count.
        let z = (planned[m] - period.mean_planned) / (period.needed.mean() / runs as f64).sqrt();
        assert!(z.abs() < 4.5, "month {m}: planned z = {z}");
        close(period.mean_planned + period.mean_failures, period.needed.mean(), 1e-9, 0.0);
    }
}

#[test]
fn mixing_over_draws_widens_and_keeps_the_mean_of_means() {
    let draws = Drawn { shape: 3.0, scale: 1500.0, spread: 0.8, ratio: 5.0, draws: 60 };
    let sockets: Vec<_> = (0..30).map(|i| socket(40.0 * f64::from(i), 70.0)).collect();
    let run = Run::new();
    let mixed = forecast_over_draws(&sockets, &draws, 1400.0, &limit(1500.0), Horizon::months(4), &run).unwrap();
    let used = mixed.draws.as_ref().unwrap();
    assert_eq!((used.used, used.failed), (59, 1));
    let best =
        forecast(&sockets, &relamp::fit::Draws::best(&draws).unwrap(), 1400.0, &limit(1500.0), Horizon::months(4))
            .unwrap();
    assert!(mixed.periods[3].needed_by_end.sd() > best.periods[3].needed_by_end.sd());
    close(mixed.periods[2].needed.probabilities().iter().sum::<f64>(), 1.0, 1e-12, 0.0);
    close(mixed.periods[2].needed.mean(), mixed.periods[2].mean_planned + mixed.periods[2].mean_failures, 1e-9, 0.0);
    let text = serde_json::to_string(&mixed).unwrap();
    assert_eq!(serde_json::from_str::<Forecast>(&text).unwrap(), mixed);
}

#[test]
fn hostile_sockets_are_refused_all_at_once() {
    let w = world(Exponential { scale: 1000.0 }, 1.0, 5.0);
    let bad = [socket(f64::NAN, 70.0), socket(-1.0, 169.0), socket(f64::INFINITY, f64::NAN), socket(5.0, 70.0)];
    let error = forecast(&bad, &w, 0.0, &limit(1000.0), Horizon::months(2)).unwrap_err();
    assert_eq!(error.problems().len(), 6, "{error}");
    let good = [socket(5.0, 70.0)];
    for horizon in [Horizon::months(0), Horizon::days(-1.0), Horizon::days(f64::NAN), Horizon::months(4000)] {
        assert_eq!(forecast(&good, &w, 500.0, &limit(1000.0), horizon).unwrap_err().slug(), "demand.horizon");
    }
    let hurried = forecast(&good, &w, 0.001, &limit(1000.0), Horizon::months(2)).unwrap_err();
    assert_eq!(hurried.slug(), "demand.too_many_changes");
    assert_eq!(Count::of_chances(&[0.5, 1.5, f64::NAN]).unwrap_err().problems().len(), 2);
    assert!(Count::poisson(f64::NAN).is_err() && Count::mix(&[]).is_err());
    assert!(Count::certain(1).quantile(1.0).is_err());
    assert!(serde_json::from_str::<Count>(r#"{"first":0,"probabilities":[0.5,0.4]}"#).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn distributions_sum_to_one_and_means_add_up(
        shape in 0.5..6.0_f64,
        scale in 300.0..6000.0_f64,
        plan in 200.0..4000.0_f64,
        ages in proptest::collection::vec(0.0..3000.0_f64, 1..6),
        hours in 5.0..168.0_f64,
    ) {
        let w = world(Weibull { shape, scale }, 1.0, 5.0);
        let sockets: Vec<_> = ages.iter().map(|a| socket(*a, hours)).collect();
        let ahead = forecast(&sockets, &w, plan, &limit(2500.0), Horizon::months(4)).unwrap();
        prop_assert!(ahead.planned_age_hours <= 2500.0);
        let mut before = 0.0;
        for p in &ahead.periods {
            for c in [&p.needed, &p.needed_by_end] {
                prop_assert!((c.probabilities().iter().sum::<f64>() - 1.0).abs() < 1e-12);
                prop_assert!(c.probabilities().iter().all(|q| *q >= 0.0));
            }
            prop_assert!((p.needed.mean() - p.mean_planned - p.mean_failures).abs() < 1e-8);
            prop_assert!((p.needed_by_end.mean() - before - p.needed.mean()).abs() < 1e-8);
            before = p.needed_by_end.mean();
        }
        // Twice as fast a clock on lamps that live twice as long needs the same number.
        if hours <= 84.0 {
            let slow = world(Weibull { shape, scale: 2.0 * scale }, 1.0, 5.0);
            let twice: Vec<_> = ages.iter().map(|a| socket(2.0 * a, 2.0 * hours)).collect();
            let other = forecast(&twice, &slow, 2.0 * ahead.planned_age_hours, &limit(5000.0), Horizon::months(4)).unwrap();
            prop_assert!((other.periods[3].needed_by_end.mean() - before).abs() < 1e-8);
        }
    }
}
