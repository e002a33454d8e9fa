//! Planned changes with dates, the Poisson shortcut, and lamps that grow old on the shelf.

use std::collections::VecDeque;

use relamp::Run;
use relamp::base::math::special::normal_quantile;
use relamp::base::random::Stream;
use relamp::base::sound::Checks;
use relamp::demand::{Count, Horizon, SocketToday, forecast};
use relamp::family::{Life, Weibull};
use relamp::fit::Draws;
use relamp::stock::{
    DatedStock, HoursSpread, LeadTime, Needs, ShelfTerms, StockRule, dated_stock, dated_stock_over_draws, level,
    poisson_shortcut, shelf_age,
};

use crate::worlds::{Drawn, close, limit, world};

const LIFE: Weibull = Weibull { shape: 3.0, scale: 3000.0 };

fn lamps() -> Vec<SocketToday> {
    (0..24)
        .map(|i| SocketToday {
            age_hours: Some(1990.0 - 60.0 * f64::from(i)),
            hours_per_week: 60.0 + f64::from(i % 3) * 8.0,
        })
        .collect()
}

fn dated(life: Weibull, spread: HoursSpread, target: f64) -> DatedStock {
    dated_stock(&lamps(), &world(life, 950.0, 5200.0), 2000.0, &limit(2000.0), 30.0, 90.0, spread, target).unwrap()
}

#[test]
fn sure_dates_of_lamps_that_never_fail_need_no_safety_stock() {
    let found = dated(Weibull { shape: 3.0, scale: 1e7 }, HoursSpread::default(), 0.999);
    // (2000 - age) / hours a day <= 30 days.
    let by_hand = lamps().iter().filter(|s| (2000.0 - s.age_hours.unwrap()) / s.hours_per_week * 7.0 <= 30.0).count();
    assert!(by_hand > 3);
    assert_eq!((found.dated_in_lead_time, found.safety_stock), (by_hand as u64, 0));
    close(found.mean_needed, by_hand as f64, 1e-6, 0.0);
    assert!(found.held_for_nothing > 3, "{found:?}");
    // A spread of programme hours alone is the only part then.
    let spread = dated(Weibull { shape: 3.0, scale: 1e7 }, HoursSpread { each: 0.2, shared: 0.1 }, 0.95);
    assert!(spread.safety_stock > 0);
    assert_eq!(spread.safety_for_failures, 0);
}

#[test]
fn lamps_needed_agree_with_the_forecast_and_with_direct_chances() {
    let found = dated(LIFE, HoursSpread::default(), 0.95);
    let ahead = forecast(&lamps(), &world(LIFE, 950.0, 5200.0), 2000.0, &limit(2000.0), Horizon::days(30.0)).unwrap();
    let period = &ahead.periods[0];
    let gap = period.needed_by_end.mean() - found.mean_needed;
    assert!(gap >= -1e-9 && gap <= found.second_changes_at_most + 1e-9, "{gap} {}", found.second_changes_at_most);
    assert!((period.mean_failures - found.mean_failures).abs() <= found.second_changes_at_most + 1e-9);
    let chances: Vec<f64> = lamps()
        .iter()
        .map(|s| {
            let (age, end) = (s.age_hours.unwrap(), s.age_hours.unwrap() + s.hours_per_week * 30.0 / 7.0);
            if end >= 2000.0 { 1.0 } else { 1.0 - LIFE.reliability(end) / LIFE.reliability(age) }
        })
        .collect();
    let needed = Count::of_chances(&chances).unwrap();
    close(found.mean_needed, needed.mean(), 1e-12, 0.0);
    assert_eq!(found.level_without_dates, level(&needed, 0.95, 0, 0).unwrap().level);
    assert_eq!(found.level_all_random, level(&Count::poisson(needed.mean()).unwrap(), 0.95, 0, 0).unwrap().level);
    close(found.service_at_level, needed.at_most(found.level), 1e-12, 0.0);
    for order in &found.orders {
        let lamp = &lamps()[order.row as usize - 1];
        close(order.due_day, (2000.0 - lamp.age_hours.unwrap()) / lamp.hours_per_week * 7.0, 1e-12, 0.0);
        close(order.order_day, order.due_day - 30.0, 1e-9, 1e-9);
        close(
            order.fails_before,
            1.0 - LIFE.reliability(2000.0) / LIFE.reliability(lamp.age_hours.unwrap()),
            1e-12,
            0.0,
        );
    }
    assert!(found.orders.iter().any(|o| o.order_day < 0.0) && found.orders.iter().any(|o| o.order_day > 0.0));
}

/// Each screen burns its hours times a factor of its own and one of all, and each lamp fails or reaches its planned age.
#[test]
fn a_lead_time_played_out_meets_the_target_with_the_safety_stock_and_not_with_one_less() {
    let spread = HoursSpread { each: 0.15, shared: 0.10 };
    let target = 0.9;
    let found = dated(LIFE, spread, target);
    let sigma = |cv: f64| (1.0 + cv * cv).ln().sqrt();
    let (each, shared) = (sigma(spread.each), sigma(spread.shared));
    let due: Vec<f64> = lamps().iter().map(|s| (2000.0 - s.age_hours.unwrap()) / s.hours_per_week * 7.0).collect();
    let mut days: Vec<f64> = (1..=12).map(|i| 2.5 * f64::from(i)).collect();
    // The moment before a dated lamp comes is the hardest.
    days.extend(due.iter().filter(|d| **d <= 30.0).map(|d| d * (1.0 - 1e-9)));
    let runs = 20_000;
    let (mut enough, mut needed_all, mut squares, mut within) = (vec![0.0; days.len()], 0.0, 0.0, 0.0);
    let mut with_one_less = enough.clone();
    for run in 0..runs {
        let mut random = Stream::new(4, "stock", "dated", run);
        let mut factor = |s: f64| (s * normal_quantile(random.uniform()) - 0.5 * s * s).exp();
        let all = factor(shared);
        let own: Vec<f64> = lamps().iter().map(|_| factor(each)).collect();
        let changed: Vec<f64> = lamps()
            .iter()
            .zip(own)
            .map(|(s, own)| {
                let age = s.age_hours.unwrap();
                let fails = LIFE.quantile(1.0 - random.uniform() * LIFE.reliability(age)).unwrap();
                (fails.min(2000.0) - age) / (s.hours_per_week / 7.0 * all * own)
            })
            .collect();
        for (i, day) in days.iter().enumerate() {
            let needed = changed.iter().filter(|d| **d <= *day).count() as u64;
            let there = due.iter().filter(|d| **d <= *day).count() as u64;
            enough[i] += if needed <= there + found.safety_stock { 1.0 } else { 0.0 };
            with_one_less[i] += if needed < there + found.safety_stock { 1.0 } else { 0.0 };
        }
        let needed = changed.iter().filter(|d| **d <= 30.0).count() as f64;
        needed_all += needed;
        squares += needed * needed;
        within += if needed <= found.level as f64 { 1.0 } else { 0.0 };
    }
    let n = runs as f64;
    let se = (target * (1.0 - target) / n).sqrt();
    assert!(enough.iter().all(|x| x / n > target - 4.0 * se), "{enough:?}");
    assert!(with_one_less.iter().any(|x| x / n < target + 4.0 * se), "{with_one_less:?}");
    let (mean, share) = (needed_all / n, within / n);
    let z_mean = (mean - found.mean_needed) / ((squares / n - mean * mean) / n).sqrt();
    let p = found.service_at_level;
    let z_share = (share - p) / (p * (1.0 - p) / n).sqrt();
    assert!(z_mean.abs() < 4.5 && z_share.abs() < 4.5, "{z_mean} {z_share}");
    assert_eq!(found.safety_stock, found.safety_for_failures + found.safety_for_dates);
    assert!(found.safety_for_failures > 0 && found.safety_for_dates > 0, "{found:?}");
}

#[test]
fn what_is_on_hand_and_on_order_is_taken_off_and_what_is_late_is_told() {
    let found = dated(LIFE, HoursSpread::default(), 0.95);
    let (level, dates) = (found.level, found.dated_in_lead_time);
    assert!(found.safety_stock > 0 && dates > 2, "{found:?}");
    assert_eq!((found.order(0, 0), found.too_late(0, 0)), (level, dates));
    assert_eq!((found.order(2, 1), found.too_late(1, 1)), (level - 3, dates - 2));
    // Lamps for all dates leave the safety stock to be ordered.
    assert_eq!((found.order(dates, 0), found.too_late(dates, 0)), (found.safety_stock, 0));
    assert_eq!((found.order(u64::MAX, 1), found.too_late(1, u64::MAX)), (0, 0));
}

/// Two stages: first a world, then the hours and the lives of the lamps in it.
#[test]
fn over_draws_the_safety_stock_meets_the_target_in_two_stages_and_not_with_one_less() {
    let (spread, target) = (HoursSpread { each: 0.15, shared: 0.10 }, 0.95);
    // One of the fifty draws fails and is left out.
    let draws = Drawn { shape: 3.0, scale: 3000.0, spread: 1.6, ratio: 5.0, draws: 50 };
    let over = |draws: &Drawn| {
        let limit = limit(2000.0);
        dated_stock_over_draws(&lamps(), draws, 2000.0, &limit, 30.0, 90.0, spread, target, &Run::new()).unwrap()
    };
    let found = over(&draws);
    assert!(Checks::of("found", &found).is_ok());
    assert_eq!(found.draws.as_ref().map(|d| (d.used, d.failed)), Some((49, 1)));
    // What is not known of the life asks for more than the best world does.
    let best =
        dated_stock(&lamps(), &draws.best().unwrap(), 2000.0, &limit(2000.0), 30.0, 90.0, spread, target).unwrap();
    assert!(found.safety_stock > best.safety_stock, "{} {}", found.safety_stock, best.safety_stock);
    assert_eq!(
        found.orders.iter().map(|o| o.row).collect::<Vec<_>>(),
        best.orders.iter().map(|o| o.row).collect::<Vec<_>>()
    );
    let sigma = |cv: f64| (1.0 + cv * cv).ln().sqrt();
    let due: Vec<f64> = lamps().iter().map(|s| (2000.0 - s.age_hours.unwrap()) / s.hours_per_week * 7.0).collect();
    let mut days: Vec<f64> = (1..=12).map(|i| 2.5 * f64::from(i)).collect();
    days.extend(due.iter().filter(|d| **d <= 30.0).map(|d| d * (1.0 - 1e-9)));
    let (mut enough, mut with_one_less) = (vec![0.0; days.len()], vec![0.0; days.len()]);
    let (mut needed_all, mut before, mut runs) = (0.0, 0.0, 0.0);
    for run in 0..49_000_u64 {
        let replicate = (run % 49) as usize;
        let w = draws.world(replicate + usize::from(replicate >= 3)).unwrap();
        let life = &w.causes[0].life;
        let mut random = Stream::new(6, "stock", "dated_draws", run);
        let mut factor = |s: f64| (s * normal_quantile(random.uniform()) - 0.5 * s * s).exp();
        let all = factor(sigma(spread.shared));
        let own: Vec<f64> = lamps().iter().map(|_| factor(sigma(spread.each))).collect();
        let mut changed = Vec::new();
        for (s, own) in lamps().iter().zip(own) {
            let age = s.age_hours.unwrap();
            let fails = life.quantile(1.0 - random.uniform() * life.reliability(age)).unwrap();
            changed.push((fails.min(2000.0) - age) / (s.hours_per_week / 7.0 * all * own));
            before += if fails < 2000.0 && s.age_hours == lamps()[10].age_hours { 1.0 } else { 0.0 };
        }
        for (i, day) in days.iter().enumerate() {
            let needed = changed.iter().filter(|d| **d <= *day).count() as u64;
            let there = due.iter().filter(|d| **d <= *day).count() as u64;
            enough[i] += if needed <= there + found.safety_stock { 1.0 } else { 0.0 };
            with_one_less[i] += if needed < there + found.safety_stock { 1.0 } else { 0.0 };
        }
        needed_all += changed.iter().filter(|d| **d <= 30.0).count() as f64;
        runs += 1.0;
    }
    let se = (target * (1.0 - target) / runs).sqrt();
    assert!(enough.iter().all(|x| x / runs > target - 4.0 * se), "{enough:?}");
    assert!(with_one_less.iter().any(|x| x / runs < target + 4.0 * se), "{with_one_less:?}");
    close(needed_all / runs, found.mean_needed, 0.01, 0.0);
    let order = found.orders.iter().find(|o| o.row == 11).unwrap();
    close(before / runs, order.fails_before, 0.05, 0.0);
}

#[test]
fn what_may_mislead_of_dated_stock_is_told() {
    let w = world(LIFE, 950.0, 5200.0);
    let notes = |lamps: &[SocketToday], planned: f64, each: f64| {
        let spread = HoursSpread { each, shared: 0.0 };
        let found = dated_stock(lamps, &w, planned, &limit(2000.0), 30.0, 60.0, spread, 0.95).unwrap();
        relamp::base::sound::Checks::of("found", &found).unwrap();
        found
    };
    let found = notes(&lamps(), 2000.0, 0.0);
    assert_eq!(found.notes.len(), 1, "{:?}", found.notes);
    assert!(found.notes[0].contains("each day of the lead time by itself"));
    // Forty lamps due on day 29: many come a little early, and none is short by the end.
    let forty: Vec<_> = (0..40).map(|_| SocketToday { age_hours: Some(1710.0), hours_per_week: 70.0 }).collect();
    let found = notes(&forty, 5000.0, 0.02);
    assert_eq!(
        (found.safety_for_failures, found.safety_for_dates),
        (found.safety_for_failures, found.safety_stock - found.safety_for_failures)
    );
    assert!(found.level > found.level_without_dates);
    let told = found.notes.join("; ");
    assert!(told.contains("the planned age of 5,000 h is held to the limit of 2,000 h"), "{told}");
    assert!(told.contains(&format!("by its end {} lamps would be enough", found.level_without_dates)), "{told}");
    assert!(found.sentence.contains("for dates that come early"), "{}", found.sentence);
}

#[test]
fn without_a_lead_time_only_what_is_due_today_is_held() {
    let w = world(LIFE, 950.0, 5200.0);
    // Of the 24 lamps the oldest stands at 1,990 h; one is due and one of unknown age.
    let mut lamps = lamps();
    lamps[0].age_hours = Some(2100.0);
    lamps[1].age_hours = None;
    for target in [0.95, 1.0] {
        let spread = HoursSpread { each: 0.1, shared: 0.1 };
        let found = dated_stock(&lamps, &w, 2000.0, &limit(2000.0), 0.0, 90.0, spread, target).unwrap();
        assert_eq!((found.dated_in_lead_time, found.safety_stock, found.level), (2, 0, 2));
        assert_eq!((found.mean_needed, found.mean_failures, found.service_at_level), (2.0, 0.0, 1.0));
        // Each order is placed on the day of its change.
        assert!(found.orders.len() > 2 && found.orders.iter().all(|o| o.order_day == o.due_day));
        relamp::base::sound::Checks::of("found", &found).unwrap();
    }
    let none = dated_stock(&lamps[2..], &w, 2000.0, &limit(2000.0), 0.0, 0.0, HoursSpread::default(), 1.0).unwrap();
    assert_eq!((none.level, none.mean_needed, none.orders.len()), (0, 0.0, 0));
}

#[test]
fn what_cannot_be_dated_is_refused() {
    let w = world(LIFE, 950.0, 5200.0);
    let ask = |lead: f64, ahead: f64, each: f64| {
        let spread = HoursSpread { each, shared: 0.0 };
        dated_stock(&lamps(), &w, 2000.0, &limit(2000.0), lead, ahead, spread, 0.95).unwrap_err()
    };
    assert_eq!(ask(-1.0, 60.0, 0.1).slug(), "stock.lead_time");
    assert_eq!(ask(f64::NAN, 60.0, 0.1).problems().len(), 2);
    assert!(ask(30.0, 20.0, 0.1).to_string().starts_with("days_ahead: "));
    assert!(ask(30.0, 60.0, 1.5).to_string().starts_with("hours_spread: "));
    let none = dated_stock(&[], &w, 2000.0, &limit(2000.0), 30.0, 60.0, HoursSpread::default(), 0.95).unwrap();
    assert_eq!((none.level, none.level_all_random, none.mean_needed), (0, 0, 0.0));
    // A lamp of unknown age counts as due today, whatever its screen plays.
    let unknown = [SocketToday { age_hours: None, hours_per_week: 0.0 }];
    let found = dated_stock(&unknown, &w, 2000.0, &limit(2000.0), 30.0, 60.0, HoursSpread::default(), 0.95).unwrap();
    assert_eq!((found.dated_in_lead_time, found.safety_stock, found.orders[0].due_day), (1, 0, 0.0));
    let text = serde_json::to_string(&dated(LIFE, HoursSpread { each: 0.1, shared: 0.1 }, 0.95)).unwrap();
    let back: DatedStock = serde_json::from_str(&text).unwrap();
    assert!(relamp::base::sound::Checks::of("dated", &back).is_ok());
}

#[test]
fn the_shortcut_holds_too_many_for_planned_changes_and_too_few_for_doubt() {
    // Scipy: binom(20, 0.8) has P(N <= 18) = 0.930825; poisson(16) has P(N <= 23) = 0.962..., P(N <= 22) = 0.941....
    let sure = poisson_shortcut(&Count::binomial(20, 0.8).unwrap(), 0.93).unwrap();
    assert_eq!((sure.level, sure.shortcut_level, sure.stock_error), (18, 22, 4));
    close(sure.variance_to_mean.unwrap(), 0.2, 1e-12, 0.0);
    close(sure.service_at_level, 0.930_824_709_723_589, 1e-12, 0.0);
    assert!(sure.service_error < -0.15 && sure.service_at_shortcut_level == 1.0);
    // Two worlds that are as likely spread the number beyond Poisson.
    let doubt = Count::mix(&[&Count::poisson(8.0).unwrap(), &Count::poisson(24.0).unwrap()]).unwrap();
    let found = poisson_shortcut(&doubt, 0.95).unwrap();
    assert!(found.stock_error < 0 && found.service_at_shortcut_level < 0.95, "{found:?}");
    let nothing = poisson_shortcut(&Count::certain(0), 0.95).unwrap();
    assert_eq!((nothing.level, nothing.stock_error, nothing.variance_to_mean), (0, 0, None));
}

/// Lamps used first in, first out, with the days that each has lain.
#[test]
fn lamps_played_out_lie_as_long_as_said() {
    let (a_day, lead, life, warranty) = (0.05, 20.0, 90.0, 150.0);
    let terms = ShelfTerms { shelf_life_days: Some(life), warranty_days: Some(warranty) };
    let needs = Needs::by_chance(a_day).unwrap();
    for (i, (base, quantity)) in [(5_u64, 1_u64), (3, 4), (1, 6)].into_iter().enumerate() {
        let rule = StockRule::Reorder { base_stock: base, quantity };
        let expected = shelf_age(&rule, &needs, &LeadTime::certain(lead).unwrap(), terms, 800.0).unwrap();
        let mut each: [Vec<f64>; 4] = Default::default();
        for replicate in 0..300 {
            let mut random = Stream::new(6, "stock", &i.to_string(), replicate);
            let (mut now, mut position) = (0.0, 0_i64);
            // Arrivals in the order of use; a lamp that comes when a screen waits has lain no day.
            let mut arrivals: VecDeque<f64> = VecDeque::new();
            let mut sums = [0.0; 5];
            loop {
                while position < base.cast_signed() {
                    arrivals.extend(std::iter::repeat_n(now + lead, quantity as usize));
                    position += quantity.cast_signed();
                }
                now += random.exponential() / a_day;
                if now > 20_000.0 {
                    break;
                }
                position -= 1;
                let lain = (now - arrivals.pop_front().unwrap()).max(0.0);
                if now > 2000.0 {
                    let seen = [
                        lain,
                        f64::from(u8::from(lain > life)),
                        f64::from(u8::from(lain > warranty)),
                        lain.min(warranty),
                        1.0,
                    ];
                    sums.iter_mut().zip(seen).for_each(|(sum, x)| *sum += x);
                }
            }
            each.iter_mut().zip(sums).for_each(|(column, sum)| column.push(sum / sums[4]));
        }
        let values = [
            expected.mean_days.unwrap(),
            expected.expired_chance.unwrap(),
            expected.warranty_over_chance.unwrap(),
            expected.warranty_days_lost.unwrap(),
        ];
        for (column, value) in each.iter().zip(values) {
            let n = column.len() as f64;
            let mean = column.iter().sum::<f64>() / n;
            let sd = (column.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0)).sqrt();
            let z = (mean - value) / (sd / n.sqrt());
            assert!(z.abs() < 4.5, "{base} {quantity}: {mean} {value} {z}");
        }
        let lost = expected.warranty_value_lost_a_year.unwrap();
        close(lost, a_day * 365.25 * 800.0 * expected.warranty_days_lost.unwrap() / warranty, 1e-13, 0.0);
    }
    let none = shelf_age(
        &StockRule::Reorder { base_stock: 2, quantity: 1 },
        &Needs::by_chance(0.0).unwrap(),
        &LeadTime::certain(5.0).unwrap(),
        terms,
        800.0,
    )
    .unwrap();
    // What is never needed lies for ever.
    assert_eq!((none.mean_days, none.expired_chance, none.warranty_days_lost), (None, Some(1.0), Some(warranty)));
}
