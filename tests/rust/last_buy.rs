//! Last buys against closed forms, stored values, sums of the forecast and fleets played another way.

use proptest::prelude::*;
use relamp::Run;
use relamp::base::random::Stream;
use relamp::base::sound::Checks;
use relamp::demand::{Count, Horizon, SocketToday, forecast};
use relamp::family::{Exponential, Life, Weibull};
use relamp::fit::{Draws, World};
use relamp::records::Ending;
use relamp::stock::{
    BuyCosts, BuyRule, ConvertingScreen, DayChance, EarlierConversion, LastBuy, LastBuyTerms, Reuse, UsedLamp,
    buy_quantity, convert_earlier, last_buy, last_buy_over_draws,
};

use crate::worlds::{Drawn, close, limit, number, world};

/// A stored case.
fn case(id: &str) -> serde_json::Value {
    let stored: serde_json::Value = serde_json::from_str(include_str!("../data/places_cases.json")).unwrap();
    stored["cases"].as_array().unwrap().iter().find(|c| c["id"] == id).unwrap().clone()
}

fn day(day: f64, chance: f64) -> DayChance {
    DayChance { day, chance }
}

fn screen(age: f64, hours: f64, conversion: &[(f64, f64)]) -> ConvertingScreen {
    ConvertingScreen {
        socket: SocketToday { age_hours: Some(age), hours_per_week: hours },
        conversion: conversion.iter().map(|(d, p)| day(*d, *p)).collect(),
    }
}

fn risk(end: f64, age: f64, risk: f64) -> LastBuyTerms {
    LastBuyTerms::new(end, age, BuyRule::Risk(risk))
}

fn buy(screens: &[ConvertingScreen], w: &World, terms: &LastBuyTerms) -> LastBuy {
    last_buy(screens, w, &limit(1e9), terms, &Run::new()).unwrap()
}

/// A shrinking fleet of different ages, hours and dates.
fn fleet() -> Vec<ConvertingScreen> {
    let each = |i: usize| {
        let i = i as f64;
        let middle = 120.0 + 40.0 * i;
        screen(130.0 * i, 50.0 + 5.0 * (i % 5.0), &[(middle, 0.5), (middle + 60.0, 0.25), (middle + 200.0, 0.15)])
    };
    (0..12).map(each).collect()
}

#[test]
fn without_conversion_the_lamps_are_those_of_the_forecast() {
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let screens: Vec<_> = fleet().into_iter().map(|s| ConvertingScreen { conversion: Vec::new(), ..s }).collect();
    let sockets: Vec<_> = screens.iter().map(|s| s.socket.clone()).collect();
    for end in [0.0, 30.0, 400.0, 1100.0] {
        let plain = forecast(&sockets, &w, 1300.0, &limit(1200.0), Horizon::days(end)).unwrap();
        let terms = risk(end, 1300.0, 0.05);
        let got = last_buy(&screens, &w, &limit(1200.0), &terms, &Run::new()).unwrap();
        // One chance after the other, to the rounding of sums that are taken in another order.
        let (got_lamps, want) = (&got.needed, &plain.periods[0].needed_by_end);
        assert_eq!((got_lamps.first(), got_lamps.probabilities().len()), (want.first(), want.probabilities().len()));
        for (a, b) in got_lamps.probabilities().iter().zip(want.probabilities()) {
            assert!((a - b).abs() <= 1e-14 * b, "{end}: {a} {b}");
        }
        assert_eq!((got.planned_age_hours, got.held.lamps), (1200.0, got.needed.quantile(0.95).unwrap()));
    }
}

#[test]
fn a_certain_day_of_conversion_ends_the_forecast_there() {
    // Each screen stops on its own day: the convolution of one-screen forecasts to those days.
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let days = [30.0, 200.0, 365.0];
    let screens: Vec<_> = days.iter().map(|d| screen(700.0, 70.0, &[(*d, 1.0)])).collect();
    let got = buy(&screens, &w, &risk(365.0, 1200.0, 0.05));
    let mean: f64 = screens
        .iter()
        .zip(days)
        .map(|(s, d)| forecast(std::slice::from_ref(&s.socket), &w, 1200.0, &limit(1e9), Horizon::days(d)).unwrap())
        .map(|f| f.periods[0].needed.mean())
        .sum();
    close(got.needed.mean(), mean, 1e-4, 0.0);
    // A day between two steps of the grid lies between its neighbours.
    let at = |d: f64| buy(&[screen(700.0, 70.0, &[(d, 1.0)])], &w, &risk(365.0, 1200.0, 0.05)).needed.mean();
    close(at(100.25), f64::midpoint(at(100.0), at(100.5)), 1e-9, 0.0);
    // A lamp due today is changed unless its screen stops today.
    let due = |stop| buy(&[screen(1200.0, 0.0, &[(stop, 1.0)])], &w, &risk(365.0, 1200.0, 0.05)).needed.mean();
    assert_eq!((due(0.0), due(1.0)), (0.0, 1.0));
}

#[test]
fn lives_without_memory_give_poisson_counts_mixed_over_the_dates() {
    // Exponential lives and no planned change: changes of a screen by day d are Poisson with mean d h / 7 / scale.
    let w = world(Exponential { scale: 500.0 }, 1.0, 5.0);
    let got = buy(&[screen(300.0, 70.0, &[(100.0, 0.25), (300.0, 0.5)])], &w, &risk(400.0, 1e7, 0.1));
    for n in 0..20 {
        let each = [(100.0, 0.25), (300.0, 0.5), (400.0, 0.25)];
        let exact: f64 = each.iter().map(|(d, p)| p * Count::poisson(d * 10.0 / 500.0).unwrap().more_than(n)).sum();
        close(got.needed.more_than(n), exact, 1e-3, 1e-6);
    }
    // A slip of the whole programme is shared: two screens on the same dates, mixed after the sum.
    let both = [screen(0.0, 70.0, &[(100.0, 1.0)]), screen(0.0, 70.0, &[(100.0, 1.0)])];
    let terms = LastBuyTerms { slip: vec![day(0.0, 0.5), day(200.0, 0.5)], ..risk(400.0, 1e7, 0.1) };
    let got = buy(&both, &w, &terms);
    for n in 0..20 {
        let exact: f64 = [100.0, 300.0].iter().map(|d| 0.5 * Count::poisson(d / 25.0).unwrap().more_than(n)).sum();
        close(got.needed.more_than(n), exact, 2e-3, 1e-6);
    }
}

#[test]
fn linear_costs_give_the_critical_ratio_of_the_stored_cases() {
    let stored = case("newsvendor");
    let (inputs, outputs) = (&stored["inputs"], &stored["outputs"]);
    // The weekly figures as they stand: 15 of them suffice at the ratio of example A.
    let weekly: Vec<u64> = inputs["weekly"].as_array().unwrap().iter().map(|x| x.as_u64().unwrap()).collect();
    let mut shares = vec![0.0; 23];
    for n in &weekly {
        shares[*n as usize] += 1.0 / weekly.len() as f64;
    }
    let needed = Count::from_probabilities(0, shares).unwrap();
    let (short, left) = (number(&inputs["A"]["cu"]), number(&inputs["A"]["co"]));
    let costs = BuyCosts { price: left, cost_short: left + short, money_back: 0.0 };
    assert_eq!(buy_quantity(&needed, &BuyRule::Costs(costs)).unwrap().lamps, outputs["empirical_Q"].as_u64().unwrap());
    close(needed.mean(), number(&outputs["data_mean"]), 1e-12, 0.0);
    // Example B on whole numbers: the normal law is cut into units, so the figures agree to what one unit moves.
    let b = &inputs["B"];
    let (mean, sd) = (number(&b["mean"]), number(&b["sd"]));
    let needed = normal(mean, sd);
    let costs = BuyCosts { price: 10.0, cost_short: 50.0, money_back: 0.0 };
    let point = buy_quantity(&needed, &BuyRule::Costs(costs)).unwrap();
    let exact = number(&outputs["B"]["Q"]);
    assert!((point.lamps as f64 - exact).abs() <= 1.0, "{point:?}");
    let short = point.expected_short + (point.lamps as f64 - exact) * 0.2;
    close(short, number(&outputs["B"]["lost_sales"]), 2e-3, 0.0);
    let profit = 50.0 * mean - point.cost.unwrap();
    close(profit, number(&outputs["B"]["profit"]), 1e-4, 0.0);
}

/// A normal number rounded to whole ones.
fn normal(mean: f64, sd: f64) -> Count {
    let life = relamp::family::Normal { location: mean, scale: sd };
    // The tails, 5 and 6 standard deviations out, fall to the ends.
    let below = |n: u32| match n {
        0 => 0.0,
        2201 => 1.0,
        n => life.failure_probability(f64::from(n) - 0.5),
    };
    Count::from_probabilities(0, (0..2201).map(|n| below(n + 1) - below(n)).collect()).unwrap()
}

#[test]
fn the_cost_is_least_at_the_quantity() {
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    for (price, cost_short, money_back) in [(900.0, 2500.0, 200.0), (900.0, 1000.0, -50.0), (900.0, 9e5, 899.0)] {
        let rule = BuyRule::Costs(BuyCosts { price, cost_short, money_back });
        let got = buy(&fleet(), &w, &LastBuyTerms::new(700.0, 1200.0, rule));
        let curve = got.curve();
        let best = curve.iter().map(|p| p.cost.unwrap()).fold(f64::INFINITY, f64::min);
        close(got.at_quantity.cost.unwrap(), best, 1e-12, 0.0);
        assert!(curve.len() > 5 && curve.iter().any(|p| p == &got.at_quantity));
    }
}

/// Mean, and z of a difference of means.
fn z(a: &[f64], b: (f64, f64)) -> f64 {
    let n = a.len() as f64;
    let mean = a.iter().sum::<f64>() / n;
    let variance = a.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1.0);
    (mean - b.0) / (variance / n + b.1).sqrt()
}

/// A fleet played hour by hour: each lamp fails within the hour with the chance that its age gives. Nothing of the
/// library is used but the reliability of the life and the random numbers.
fn hour_by_hour(
    screens: &[ConvertingScreen],
    life: &dyn Life,
    planned: f64,
    end: f64,
    least_left: Option<f64>,
    loss: f64,
    (used, replicate): (&[f64], u64),
) -> [f64; 3] {
    const STEP_DAYS: f64 = 0.25;
    let mut stream = Stream::new(77, "test", "hour by hour", replicate);
    let mut state: Vec<(f64, f64)> = screens
        .iter()
        .map(|s| {
            let u = stream.uniform();
            let mut sum = 0.0;
            let day = s.conversion.iter().find(|d| {
                sum += d.chance;
                u < sum
            });
            (s.socket.age_hours.unwrap(), day.map_or(f64::INFINITY, |d| d.day))
        })
        .collect();
    let mut shelf: Vec<f64> = used.to_vec();
    let (mut taken, mut freed, mut reused) = (0.0, 0.0, 0.0);
    for (age, stop) in &mut state {
        if *age >= planned && *stop > 0.0 {
            *age = 0.0;
            taken += 1.0;
        }
    }
    let keep = (1.0 - loss).powf(STEP_DAYS / 365.25);
    let mut now = 0.0;
    while now < end {
        let good = (1.0 - loss).powf(now / 365.25);
        let new = |stream: &mut Stream, taken: &mut f64| {
            *taken += 1.0;
            while stream.uniform() > good {
                *taken += 1.0;
            }
        };
        for (s, (age, stop)) in screens.iter().zip(&mut state) {
            if *stop <= now {
                if least_left.is_some_and(|l| age.is_finite() && planned - *age >= l) {
                    shelf.push(*age);
                    freed += 1.0;
                }
                *age = f64::INFINITY;
                *stop = f64::INFINITY;
                continue;
            }
            if age.is_infinite() {
                continue;
            }
            let later = *age + s.socket.hours_per_week / 7.0 * STEP_DAYS;
            let lives = (life.ln_reliability(later.min(planned)) - life.ln_reliability(*age)).exp();
            if stream.uniform() > lives {
                if shelf.is_empty() {
                    new(&mut stream, &mut taken);
                    *age = 0.0;
                } else {
                    // The one with the most hours left is the youngest.
                    let best = (0..shelf.len()).min_by(|a, b| shelf[*a].total_cmp(&shelf[*b])).unwrap();
                    *age = shelf.swap_remove(best);
                    reused += 1.0;
                }
            } else if later >= planned {
                new(&mut stream, &mut taken);
                *age = later - planned;
            } else {
                *age = later;
            }
        }
        shelf.retain(|_| loss == 0.0 || stream.uniform() < keep);
        now += STEP_DAYS;
    }
    [taken, freed, reused]
}

#[test]
fn fleets_played_hour_by_hour_take_as_many_lamps() {
    let life = Weibull { shape: 2.5, scale: 1400.0 };
    let w = world(life, 1.0, 5.0);
    let screens = fleet();
    let mut squares = Vec::new();
    let settings = [(None, 0.0), (Some(0.0), 0.0), (Some(600.0), 0.0), (None, 0.1), (Some(100.0), 0.3)];
    for (which, (least, loss)) in settings.into_iter().enumerate() {
        let play = |r, least, loss| hour_by_hour(&screens, &life, 1200.0, 700.0, least, loss, (&[], r));
        let reuse = least.map(|least_hours_left| Reuse { least_hours_left });
        let terms = LastBuyTerms { reuse, shelf_loss_per_year: loss, plays: 20_000, ..risk(700.0, 1200.0, 0.05) };
        let got = buy(&screens, &w, &terms);
        let played: Vec<[f64; 3]> = (0..3000_u64).map(|r| play(r + 10_000 * which as u64, least, loss)).collect();
        let column = |i: usize| played.iter().map(|p| p[i]).collect::<Vec<_>>();
        let noise = |sd: f64| if got.played.is_some() { sd * sd / 20_000.0 } else { 0.0 };
        squares.push(z(&column(0), (got.needed.mean(), noise(got.needed.sd()))));
        if let (Some(p), true) = (&got.played, least.is_some()) {
            squares.push(z(&column(1), (p.freed, noise(2.0))));
            squares.push(z(&column(2), (p.reused, noise(2.0))));
            assert!(p.reused > 0.5, "{p:?}");
        }
        let over: Vec<f64> = column(0).iter().map(|n| f64::from(u8::from(*n > got.held.lamps as f64))).collect();
        squares.push(z(&over, (got.held.shortage_chance, noise(0.2))));
    }
    let mean = squares.iter().map(|z| z * z).sum::<f64>() / squares.len() as f64;
    assert!(squares.iter().all(|z| z.abs() < 4.5) && mean < 1.8, "{squares:?} {mean}");
}

#[test]
fn plays_agree_with_the_sums_where_nothing_is_reused() {
    // A freed lamp is never good enough: the plays must give the distribution of the sums, in each of 40 fleets.
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let mut all = Vec::new();
    for i in 0..40 {
        let screens: Vec<_> = fleet().into_iter().skip(i % 6).take(3 + i % 5).collect();
        let terms = LastBuyTerms {
            reuse: Some(Reuse { least_hours_left: 5000.0 }),
            plays: 4000,
            seed: i as u64,
            slip: vec![day(-30.0, 0.25), day(90.0, 0.75)],
            ..risk(500.0 + 10.0 * i as f64, 1200.0, 0.1)
        };
        let got = buy(&screens, &w, &terms);
        let played = got.played.unwrap();
        assert_eq!((played.reused, played.unusable), (0.0, 0.0));
        let sd = got.needed_plain.sd() / 4000_f64.sqrt();
        all.push((got.needed.mean() - got.needed_plain.mean()) / sd);
        let p = got.needed_plain.more_than(got.held.lamps);
        all.push((got.held.shortage_chance - p) / (p * (1.0 - p) / 4000.0).sqrt());
    }
    let mean = all.iter().map(|z| z * z).sum::<f64>() / all.len() as f64;
    assert!(all.iter().all(|z| z.abs() < 4.5), "{all:?}");
    assert!((0.5..1.6).contains(&mean), "{mean}");
}

#[test]
fn one_freed_lamp_saves_a_lamp_as_often_as_the_other_screen_fails_later() {
    // Without memory a used lamp is as good as a new one: the freed lamp saves one lamp if the other screen fails at
    // least once after the conversion, with chance 1 - exp(-rate (end - day)); with shelf loss it must also still work.
    let w = world(Exponential { scale: 500.0 }, 1.0, 5.0);
    let screens = [screen(0.0, 70.0, &[(100.0, 1.0)]), screen(0.0, 70.0, &[])];
    let reuse = Some(Reuse { least_hours_left: 0.0 });
    let terms = LastBuyTerms { reuse, plays: 40_000, ..risk(160.0, 1e7, 0.1) };
    let got = buy(&screens, &w, &terms);
    let rate: f64 = 10.0 / 500.0;
    let saved = 1.0 - (-rate * 60.0).exp();
    let played = got.played.unwrap();
    assert_eq!(played.freed, 1.0);
    close(played.reused, saved, 0.0, 4.0 * (saved * (1.0 - saved) / 40_000.0_f64).sqrt());
    let mean = rate * 260.0 - saved;
    close(got.needed.mean(), mean, 0.0, 4.0 * got.needed.sd() / 200.0);
    // The first failure after the conversion at day 100 + x finds the lamp working with chance g(x) = keep^x: the chance
    // is the integral of rate exp(-rate x) keep^x = rate / (rate + k) (1 - exp(-(rate + k) 60)), k = -ln keep a day.
    let terms = LastBuyTerms { shelf_loss_per_year: 0.5, ..terms };
    let got = buy(&screens, &w, &terms);
    let k = -(0.5_f64.ln()) / 365.25;
    let saved = rate / (rate + k) * (1.0 - (-(rate + k) * 60.0).exp());
    close(got.played.unwrap().reused, saved, 0.0, 4.0 * (saved * (1.0 - saved) / 40_000.0_f64).sqrt());
    // A new lamp taken at day t costs 1 / keep^t lamps on average. Screen 1 takes them at the rate until day 100, screen
    // 2 until day 160, less the one saved: rate [(e^{100k} - 1) + (e^{160k} - 1)] / k - integral of the above e^{k(100+x)}.
    let taken = rate * ((100.0 * k).exp_m1() + (160.0 * k).exp_m1()) / k;
    let less = rate * (100.0 * k).exp() * (1.0 - (-rate * 60.0).exp()) / rate;
    close(got.needed.mean(), taken - less, 0.0, 4.0 * got.needed.sd() / 200.0);
}

#[test]
fn converting_all_on_one_day_frees_nothing_of_use() {
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let screens: Vec<_> = (0..8).map(|i| screen(100.0 * f64::from(i), 70.0, &[(300.0, 1.0)])).collect();
    let terms = LastBuyTerms { reuse: Some(Reuse { least_hours_left: 0.0 }), ..risk(400.0, 1200.0, 0.05) };
    let played = buy(&screens, &w, &terms).played.unwrap();
    assert_eq!((played.freed, played.reused), (8.0, 0.0));
}

#[test]
fn converting_screens_earlier_saves_lamps_and_the_saving_is_told() {
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let rule = BuyRule::Costs(BuyCosts { price: 900.0, cost_short: 2500.0, money_back: 200.0 });
    let terms = LastBuyTerms::new(700.0, 1200.0, rule);
    let now = buy(&fleet(), &w, &terms);
    let rows = [8, 9, 10, 11];
    let earlier = buy(&convert_earlier(&fleet(), &rows, 60.0).unwrap(), &w, &terms);
    let saved = EarlierConversion::between(&now, &earlier, rows.len()).unwrap();
    assert!(saved.lamps_saved > 0 && saved.mean_saved > 2.0, "{saved:?}");
    close(saved.worth_per_screen.unwrap() * 4.0, now.held.cost.unwrap() - earlier.held.cost.unwrap(), 1e-12, 0.0);
    let error = convert_earlier(&fleet(), &[3, 12, 3], -1.0).unwrap_err();
    let slugs: Vec<_> = error.problems().iter().map(|p| p.slug).collect();
    assert_eq!(slugs, ["stock.unknown_screen", "stock.unknown_screen", "stock.conversion_day"]);
    let other = buy(&fleet(), &w, &risk(700.0, 1200.0, 0.05));
    assert_eq!(EarlierConversion::between(&now, &other, 4).unwrap_err().slug(), "stock.different_terms");
}

#[test]
fn draws_are_mixed_after_the_sums() {
    let draws = Drawn { shape: 2.5, scale: 1400.0, spread: 0.8, ratio: 5.0, draws: 20 };
    let terms = risk(700.0, 1200.0, 0.05);
    let got = last_buy_over_draws(&fleet(), &draws, &limit(1e9), &terms, &Run::new()).unwrap();
    let used = got.draws.clone().unwrap();
    assert_eq!((used.used, used.failed), (19, 1));
    let each: Vec<Count> =
        (0..20).filter(|i| *i != 3).map(|i| buy(&fleet(), &draws.world(i).unwrap(), &terms).needed).collect();
    assert_eq!(got.needed, Count::mix(&each.iter().collect::<Vec<_>>()).unwrap());
    assert!(got.needed.sd() > 1.1 * buy(&fleet(), &draws.best().unwrap(), &terms).needed.sd());
    // Plays are shared among the draws.
    let terms = LastBuyTerms { shelf_loss_per_year: 1e-12, plays: 19_000, ..terms };
    let played = last_buy_over_draws(&fleet(), &draws, &limit(1e9), &terms, &Run::new()).unwrap();
    close(played.needed.mean(), got.needed.mean(), 0.0, 4.5 * got.needed.sd() / 19_000_f64.sqrt());
    assert_eq!(played.played.unwrap().plays, 19 * 950);
}

/// Used lamps on the shelf of the given ages, all taken out for a conversion.
fn used(ages: &[f64]) -> Vec<UsedLamp> {
    ages.iter().map(|a| UsedLamp { age_hours: Some(*a), ending: Ending::Converted }).collect()
}

#[test]
fn used_lamps_on_the_shelf_keep_their_age_in_fleets_played_hour_by_hour() {
    let life = Weibull { shape: 2.5, scale: 1400.0 };
    let (w, screens, ages) = (world(life, 1.0, 5.0), fleet(), [150.0, 700.0, 1000.0, 1150.0]);
    let mut squares = Vec::new();
    for (which, (least, loss)) in [(None, 0.0), (Some(300.0), 0.2)].into_iter().enumerate() {
        let reuse = least.map(|least_hours_left| Reuse { least_hours_left });
        let terms = LastBuyTerms { reuse, shelf_loss_per_year: loss, plays: 20_000, ..risk(700.0, 1200.0, 0.05) };
        let none = buy(&screens, &w, &terms);
        let got = buy(&screens, &w, &LastBuyTerms { used_lamps: used(&ages), ..terms });
        assert!(Checks::of("got", &got).is_ok());
        // By hand: those with 300 h left are two.
        let serve: Vec<f64> = ages.into_iter().filter(|a| 1200.0 - a >= least.unwrap_or(0.0)).collect();
        assert!(got.notes[0].starts_with(&format!("{} of 4 used lamps", serve.len())), "{:?}", got.notes);
        assert!(got.needed.mean() < none.needed.mean() - 0.5, "{} {}", got.needed.mean(), none.needed.mean());
        let play = |r| hour_by_hour(&screens, &life, 1200.0, 700.0, least, loss, (&serve, r));
        let played: Vec<[f64; 3]> = (0..3000_u64).map(|r| play(r + 90_000 + 10_000 * which as u64)).collect();
        let column = |i: usize| played.iter().map(|p| p[i]).collect::<Vec<_>>();
        let noise = |sd: f64| sd * sd / 20_000.0;
        squares.push(z(&column(0), (got.needed.mean(), noise(got.needed.sd()))));
        squares.push(z(&column(2), (got.played.unwrap().reused, noise(2.0))));
    }
    assert!(squares.iter().all(|z| z.abs() < 4.5), "{squares:?}");
}

#[test]
fn a_used_lamp_of_a_life_without_memory_saves_one_new_lamp_and_bad_ones_none() {
    // As good as new: with k of them the new lamps taken are those needed beyond k.
    let w = world(Exponential { scale: 500.0 }, 1.0, 5.0);
    let screens = [screen(0.0, 70.0, &[]), screen(30.0, 35.0, &[])];
    let terms = LastBuyTerms { plays: 40_000, ..risk(300.0, 1e7, 0.1) };
    let plain = buy(&screens, &w, &terms).needed;
    let got = buy(&screens, &w, &LastBuyTerms { used_lamps: used(&[0.0, 400.0, 9000.0]), ..terms.clone() });
    for n in 0..12 {
        let p = plain.at_most(n + 3);
        assert!((got.needed.at_most(n) - p).abs() < 4.5 * (p * (1.0 - p) / 40_000.0).sqrt() + 1e-3, "{n}");
    }
    assert_eq!(got.needed_plain, plain);
    // Taken out for a failure, of unknown age, at the planned age: none serves.
    let lamp = |age_hours, ending| UsedLamp { age_hours, ending };
    let bad = vec![lamp(Some(10.0), Ending::Flicker), lamp(None, Ending::Planned), lamp(Some(1e7), Ending::Moved)];
    let none = buy(&screens, &w, &LastBuyTerms { used_lamps: bad, ..terms.clone() });
    assert_eq!(none.played.as_ref().map(|p| p.reused), Some(0.0));
    assert!(none.notes[0].starts_with("0 of 3 used lamps"), "{:?}", none.notes);
    assert!((none.needed.mean() - plain.mean()).abs() < 4.5 * plain.sd() / 200.0);
    let wrong = LastBuyTerms { used_lamps: used(&[-1.0, f64::NAN]), ..terms };
    let error = last_buy(&screens, &w, &limit(1e9), &wrong, &Run::new()).unwrap_err();
    assert_eq!(
        error.problems().iter().map(|p| (p.slug, p.place.row)).collect::<Vec<_>>(),
        [("stock.used_age", Some(1)), ("stock.used_age", Some(2))]
    );
}

#[test]
fn a_risk_of_none_buys_the_most_that_can_be_needed_or_says_what_it_was_taken_as() {
    // Lamps that never fail: one a hundred days at 10 h a day, so that no more than three are needed in 300 days.
    let w = world(Weibull { shape: 3.0, scale: 1e9 }, 1.0, 5.0);
    let terms = risk(300.0, 1000.0, 0.0);
    let lasting = [screen(500.0, 70.0, &[(140.0, 0.99), (240.0, 0.01)])];
    let most = buy(&lasting, &w, &terms);
    assert_eq!((most.buy, most.held.shortage_chance, most.ratio), (2, 0.0, 1.0));
    assert_eq!(most.notes, ["a risk of 0: no more lamps can be needed"]);
    // Lives without memory have no bound: 30 lamps on average.
    let w = world(Exponential { scale: 100.0 }, 1.0, 5.0);
    let terms = risk(300.0, 1e7, 0.0);
    let unbounded = buy(&[screen(0.0, 70.0, &[])], &w, &terms);
    assert!(unbounded.held.shortage_chance <= 1e-12 && unbounded.needed.more_than(unbounded.buy - 1) > 1e-12);
    assert!(unbounded.notes[0].contains("less likely than 1e-12"), "{:?}", unbounded.notes);
    let played = LastBuyTerms { reuse: Some(Reuse { least_hours_left: 10.0 }), plays: 200, ..terms };
    let played = buy(&[screen(0.0, 70.0, &[])], &w, &played);
    assert_eq!(played.buy, played.needed.last());
    assert!(played.notes[0].contains("in 200 plays of the fleet"), "{:?}", played.notes);
    let all = buy_quantity(&Count::from_probabilities(0, vec![0.25; 4]).unwrap(), &BuyRule::Risk(0.0)).unwrap();
    assert_eq!((all.lamps, all.shortage_chance), (3, 0.0));
}

#[test]
fn what_cannot_be_is_refused_by_name_and_all_at_once() {
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let mut screens =
        vec![screen(100.0, 70.0, &[(-3.0, 0.5), (20.0, 1.2)]), screen(-1.0, 70.0, &[(20.0, 0.7), (30.0, 0.6)])];
    screens.push(screen(0.0, 70.0, &[(f64::NAN, f64::NAN)]));
    let terms = LastBuyTerms {
        reuse: Some(Reuse { least_hours_left: -1.0 }),
        shelf_loss_per_year: 1.0,
        slip: vec![day(10.0, 0.4)],
        plays: 3,
        ..risk(365.0, 1200.0, 1.0)
    };
    let error = last_buy(&screens, &w, &limit(1e9), &terms, &Run::new()).unwrap_err();
    let told: Vec<_> = error.problems().iter().map(|p| (p.slug, p.place.row)).collect();
    for expected in [
        ("stock.risk", None),
        ("demand.socket_age", Some(2)),
        ("stock.conversion_day", Some(1)),
        ("stock.conversion_chance", Some(1)),
        ("stock.conversion_chances", Some(2)),
        ("stock.conversion_day", Some(3)),
        ("stock.conversion_chance", Some(3)),
        ("stock.conversion_chances", None),
        ("stock.least_hours_left", None),
        ("stock.shelf_loss", None),
        ("stock.plays", None),
    ] {
        assert!(told.contains(&expected), "{expected:?} in {told:?}");
    }
    let costs = BuyCosts { price: 5.0, cost_short: 5.0, money_back: 5.0 };
    let error = buy_quantity(&Count::certain(1), &BuyRule::Costs(costs)).unwrap_err();
    assert_eq!(error.problems().len(), 2);
    assert_eq!(error.slug(), "stock.buy_costs");
    assert_eq!(
        last_buy(&[], &w, &limit(1e9), &risk(-1.0, 1200.0, 0.1), &Run::new()).unwrap_err().slug(),
        "demand.horizon"
    );
    let none = buy(&[], &w, &risk(365.0, 1200.0, 0.1));
    assert_eq!((none.buy, none.held.shortage_chance), (0, 0.0));
}

#[test]
fn a_rare_shortage_from_few_plays_is_said_and_lamps_on_hand_are_taken_off() {
    let w = world(Weibull { shape: 2.5, scale: 1400.0 }, 1.0, 5.0);
    let terms = LastBuyTerms { shelf_loss_per_year: 0.01, plays: 1000, on_hand: 5, ..risk(700.0, 1200.0, 0.01) };
    let got = buy(&fleet(), &w, &terms);
    assert_eq!(got.notes.len(), 1, "{:?}", got.notes);
    assert_eq!(got.buy + 5, got.held.lamps);
    let plenty = buy(&fleet(), &w, &LastBuyTerms { on_hand: 500, ..terms });
    assert_eq!((plenty.buy, plenty.held.lamps, plenty.held.shortage_chance), (0, 500, 0.0));
    assert!(plenty.sentence.starts_with("buy none, with 500 on hand 500 in all for 700 days"), "{}", plenty.sentence);
    let text = serde_json::to_string(&got).unwrap();
    assert_eq!(serde_json::from_str::<LastBuy>(&text).unwrap(), got);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn a_shorter_time_or_a_higher_risk_never_raises_the_quantity(
        shape in 1.0..4.0_f64,
        ages in proptest::collection::vec(0.0..1500.0_f64, 1..8),
        end in 50.0..700.0_f64,
        shorter in 0.1..1.0_f64,
        p in 0.01..0.5_f64,
        first in 0.0..600.0_f64,
    ) {
        let w = world(Weibull { shape, scale: 1400.0 }, 1.0, 5.0);
        let screens: Vec<_> =
            ages.iter().map(|a| screen(*a, 70.0, &[(first, 0.4), (first + 100.0, 0.4)])).collect();
        let whole = buy(&screens, &w, &risk(end, 1200.0, p));
        prop_assert!(buy(&screens, &w, &risk(end * shorter, 1200.0, p)).held.lamps <= whole.held.lamps);
        prop_assert!(buy(&screens, &w, &risk(end, 1200.0, (p * 1.5).min(0.9))).held.lamps <= whole.held.lamps);
        let curve = whole.curve();
        prop_assert!(curve.windows(2).all(|c| c[1].shortage_chance <= c[0].shortage_chance
            && c[1].expected_short <= c[0].expected_short && c[1].expected_left >= c[0].expected_left));
    }
}
