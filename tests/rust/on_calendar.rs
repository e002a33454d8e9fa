//! Lamps needed and last buys with programme hours and stops: against a fleet played out, calendar months, two stages, and by hand.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use relamp::Run;
use relamp::base::math::special::normal_quantile;
use relamp::base::random::Stream;
use relamp::base::sound::Checks;
use relamp::demand::{
    Calendar, ClassModel, ClassPlan, Forecast, Horizon, OnCalendar, Programme, Screen, SocketToday, SpanOfDays,
    StopDate, Where, chain_forecast, forecast, forecast_on_calendar,
};
use relamp::family::{Life, Weibull};
use relamp::fit::{Draws, Method, World};
use relamp::stock::{
    BuyRule, ConvertingScreen, DatedStock, DayChance, HoursSpread, LastBuyTerms, Reuse, dated_stock,
    dated_stock_on_calendar, dated_stock_over_draws, last_buy, last_buy_on_calendar,
};

use crate::worlds::{limit, world};

/// One world for each scale, all as likely.
struct Scales(Vec<f64>);

impl Draws for Scales {
    fn len(&self) -> usize {
        self.0.len()
    }

    fn best(&self) -> relamp::Result<World> {
        self.world(0)
    }

    fn world(&self, replicate: usize) -> relamp::Result<World> {
        Ok(world(Weibull { scale: self.0[replicate], ..life() }, 1.0, 5.0))
    }

    fn method(&self) -> Method {
        Method::Wald
    }
}

fn day(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, month, day).unwrap()
}

/// A summer of half the hours, a closure and growth.
fn seasons() -> BTreeMap<String, Programme> {
    let mut by_month = [1.0; 12];
    by_month[5..8].fill(0.5);
    by_month[11] = 1.4;
    let spans = vec![
        SpanOfDays::closed(day(5, 4), day(5, 17)),
        SpanOfDays { factor: 1.3, ..SpanOfDays::closed(day(4, 1), day(4, 9)) },
    ];
    BTreeMap::from([("year".to_owned(), Programme { by_month, spans, growth_per_year: 0.05 })])
}

/// Twelve screens of different ages, some without a programme, some that stop.
fn screens() -> Vec<Screen> {
    let each = |i: u32| Screen {
        programme: (i % 4 != 3).then(|| "year".to_owned()),
        stop: match i % 3 {
            0 => None,
            1 => Some(StopDate::On(day(6, 1 + i))),
            _ => Some(StopDate::Between { from: day(4, 20), to: day(5, 10) }),
        },
        ..Screen::new("X", "north", (i != 5).then_some(150.0 * f64::from(i)), 84.0)
    };
    (0..12).map(each).collect()
}

const AGE: f64 = 1500.0;

fn life() -> Weibull {
    Weibull { shape: 2.5, scale: 1300.0 }
}

fn ahead(screens: &[Screen], model: ClassModel<'_>, horizon: Horizon) -> Forecast {
    let programmes = seasons();
    let given = OnCalendar { screens, programmes: &programmes, as_of: day(3, 1) };
    forecast_on_calendar(&given, model, AGE, &limit(1e9), horizon, &Run::new()).unwrap()
}

/// Factor on the hours of a day from the first on, no clock of the library.
fn factor(screen: &Screen, programmes: &BTreeMap<String, Programme>, d: usize) -> f64 {
    let today = day(3, 1).checked_add_days(Days::new(d as u64)).unwrap();
    screen.programme.as_ref().map_or(1.0, |name| {
        let p = &programmes[name];
        let month = p.by_month[chrono::Datelike::month0(&today) as usize];
        let spans: f64 = p.spans.iter().filter(|s| s.from <= today && today <= s.to).map(|s| s.factor).product();
        month * spans * (1.0 + p.growth_per_year).powf(d as f64 / 365.25)
    })
}

/// Lamps needed by the fleet to the end of each week, day by day: hours of each day from the calendar, no clock of the library.
fn played(screens: &[Screen], life: &dyn Life, weeks: usize, replicate: u64) -> Vec<u64> {
    let programmes = seasons();
    let mut stream = Stream::new(5, "tests", "on_calendar", replicate);
    let mut needed = vec![0_u64; weeks];
    for screen in screens {
        let u = stream.uniform();
        let stop = screen.stop.as_ref().and_then(|stop| {
            let mut sum = 0.0;
            stop.outcomes().into_iter().find(|(_, p)| {
                sum += p;
                u < sum
            })
        });
        let new_life = |stream: &mut Stream| life.quantile(stream.uniform()).unwrap();
        let mut age = screen.age_hours.filter(|a| *a < AGE);
        let mut ends = match age {
            // A life that has lasted so long.
            Some(a) => {
                let past = life.failure_probability(a);
                life.quantile(past + (1.0 - past) * stream.uniform()).unwrap().min(AGE)
            }
            None => 0.0,
        };
        let mut at = age.take().unwrap_or(0.0);
        for d in 0..7 * weeks {
            let today = day(3, 1).checked_add_days(Days::new(d as u64)).unwrap();
            if stop.is_some_and(|(s, _)| s <= today) {
                break;
            }
            at += 12.0 * factor(screen, &programmes, d);
            while at >= ends {
                needed[d / 7] += 1;
                at -= ends;
                ends = new_life(&mut stream).min(AGE);
            }
        }
    }
    for w in 1..weeks {
        needed[w] += needed[w - 1];
    }
    needed
}

#[test]
fn weeks_with_season_closures_growth_and_stops_agree_with_a_fleet_played_day_by_day() {
    let (weeks, plays) = (30, 20_000);
    let screens = screens();
    let w = world(life(), 1.0, 5.0);
    let found = ahead(&screens, ClassModel::World(&w), Horizon { period_days: 7.0, periods: weeks });
    let all: Vec<Vec<u64>> = (0..plays).map(|r| played(&screens, &life(), weeks, r)).collect();
    let mut squares = 0.0;
    for (m, period) in found.periods.iter().enumerate() {
        let count = &period.needed_by_end;
        let mean = all.iter().map(|p| p[m] as f64).sum::<f64>() / plays as f64;
        let error = count.sd() / (plays as f64).sqrt();
        assert!(
            (mean - count.mean()).abs() < 4.5 * error + 2e-3,
            "week {m}: {mean} played, {} +- {error}",
            count.mean()
        );
        squares += ((mean - count.mean()) / error.max(1e-3)).powi(2);
        for n in 0..20 {
            let share = all.iter().filter(|p| p[m] <= n).count() as f64 / plays as f64;
            assert!((share - count.at_most(n)).abs() < 0.018, "week {m}, {n}: {share} {}", count.at_most(n));
        }
    }
    assert!(squares / (weeks as f64) < 3.0, "{squares}");
    // The clock matters: even hours ask for more.
    let even: Vec<Screen> = screens.iter().map(|s| Screen { programme: None, ..s.clone() }).collect();
    let even = ahead(&even, ClassModel::World(&w), Horizon { period_days: 7.0, periods: weeks });
    assert!(even.periods[29].needed_by_end.mean() > 1.08 * found.periods[29].needed_by_end.mean());
}

#[test]
fn days_to_the_end_of_a_month_agree_with_the_forecast_by_months() {
    let (w, screens, programmes, limit) = (world(life(), 1.0, 5.0), screens(), seasons(), limit(1e9));
    let plan = ClassPlan { class: "X", model: ClassModel::World(&w), planned_age_hours: AGE, limit: &limit };
    let calendar = Calendar::new(day(3, 1), 6).unwrap();
    let chain = chain_forecast(&screens, &[plan], &calendar, &programmes, None, &Run::new()).unwrap();
    let whole = &chain.at("X", &Where::Chain).unwrap().whole;
    // March to August have 184 days.
    let found = ahead(&screens, ClassModel::World(&w), Horizon::days(184.0));
    let (a, b) = (&found.periods[0], whole);
    assert!((a.needed.mean() - b.needed.mean()).abs() < 2e-3, "{} {}", a.needed.mean(), b.needed.mean());
    assert!((a.mean_planned - b.planned.mean()).abs() < 2e-3);
    for n in 0..25 {
        assert!((a.needed.at_most(n) - b.needed.at_most(n)).abs() < 2e-3, "{n}");
    }
}

#[test]
fn without_programme_and_stop_it_is_the_plain_forecast() {
    let w = world(life(), 1.0, 5.0);
    let plain: Vec<Screen> = screens().into_iter().map(|s| Screen { programme: None, stop: None, ..s }).collect();
    let sockets: Vec<SocketToday> =
        plain.iter().map(|s| SocketToday { age_hours: s.age_hours, hours_per_week: s.hours_per_week }).collect();
    let horizon = Horizon { period_days: 21.0, periods: 4 };
    let found = ahead(&plain, ClassModel::World(&w), horizon);
    assert_eq!(found, forecast(&sockets, &w, AGE, &limit(1e9), horizon).unwrap());
}

#[test]
fn over_draws_it_is_the_mixture_of_the_worlds() {
    let drawn = Scales(vec![1000.0, 1400.0, 2000.0]);
    let worlds: Vec<World> = (0..3).map(|i| drawn.world(i).unwrap()).collect();
    let horizon = Horizon::days(60.0);
    let each: Vec<Forecast> = worlds.iter().map(|w| ahead(&screens(), ClassModel::World(w), horizon)).collect();
    let mixed = ahead(&screens(), ClassModel::Draws(&drawn), horizon);
    for n in 0..15 {
        let mean = each.iter().map(|f| f.periods[0].needed.at_most(n)).sum::<f64>() / 3.0;
        assert!((mixed.periods[0].needed.at_most(n) - mean).abs() < 1e-12, "{n}");
    }
    assert_eq!(mixed.draws.map(|d| d.used), Some(3));
}

#[test]
fn every_wrong_row_is_named_at_once() {
    let w = world(life(), 1.0, 5.0);
    let programmes = seasons();
    let wrong = [
        Screen { programme: Some("ghost".into()), ..Screen::new("X", "north", Some(-1.0), 84.0) },
        Screen { stop: Some(StopDate::On(day(2, 1))), ..Screen::new("X", "north", Some(1.0), 200.0) },
    ];
    let given = OnCalendar { screens: &wrong, programmes: &programmes, as_of: day(3, 1) };
    let run = Run::new();
    let error = forecast_on_calendar(&given, ClassModel::World(&w), f64::NAN, &limit(1e9), Horizon::days(9.0), &run);
    let slugs: Vec<String> = error.unwrap_err().problems().iter().map(|p| p.slug.to_string()).collect();
    assert_eq!(
        slugs,
        [
            "demand.planned_age",
            "demand.socket_age",
            "demand.programme_unknown",
            "demand.socket_hours",
            "demand.stop_past"
        ]
    );
    // In December 22 h a day become 31.
    let full = [Screen { programme: Some("year".into()), ..Screen::new("X", "north", Some(1.0), 154.0) }];
    let given = OnCalendar { screens: &full, ..given };
    let at = |days: f64| {
        forecast_on_calendar(&given, ClassModel::World(&w), AGE, &limit(1e9), Horizon::days(days), &run).map(|_| ())
    };
    assert!(at(20.0).is_ok());
    assert_eq!(at(300.0).unwrap_err().problems()[0].slug, "demand.day_hours");
    // Past the last day that can be written there are no hours.
    let long = [Screen { programme: Some("year".into()), ..Screen::new("X", "north", Some(1.0), 7.0) }];
    let given = OnCalendar { screens: &long, as_of: NaiveDate::MAX - Days::new(7000), ..given };
    let days = Horizon::days(7309.0);
    let error = forecast_on_calendar(&given, ClassModel::World(&w), AGE, &limit(1e9), days, &run).unwrap_err();
    assert_eq!(error.problems()[0].slug, "demand.horizon");
}

/// Older lamps than elsewhere, so that dates fall on both sides of closures and stops.
fn aged() -> Vec<Screen> {
    (0..3)
        .flat_map(|k| screens().into_iter().map(move |s| (k, s)))
        .map(|(k, s)| Screen {
            age_hours: s.age_hours.map(|a| (a * 0.55 + 640.0 + 40.0 * f64::from(k)).min(1490.0)),
            // Some stop for certain before their date.
            stop: s.stop.map(|stop| match stop {
                StopDate::On(_) if k == 0 => StopDate::On(day(4, 5)),
                other => other,
            }),
            ..s
        })
        .collect()
}

fn dated(screens: &[Screen], model: ClassModel<'_>, spread: HoursSpread, target: f64) -> DatedStock {
    let programmes = seasons();
    let given = OnCalendar { screens, programmes: &programmes, as_of: day(3, 1) };
    let found =
        dated_stock_on_calendar(&given, model, AGE, &limit(1e9), 60.0, 120.0, spread, target, &Run::new()).unwrap();
    assert!(Checks::of("found", &found).is_ok());
    found
}

#[test]
fn dated_stock_without_programme_and_stop_is_the_plain_one() {
    let w = world(life(), 1.0, 5.0);
    let plain: Vec<Screen> = screens().into_iter().map(|s| Screen { programme: None, stop: None, ..s }).collect();
    let lamps: Vec<SocketToday> =
        plain.iter().map(|s| SocketToday { age_hours: s.age_hours, hours_per_week: s.hours_per_week }).collect();
    let spread = HoursSpread { each: 0.1, shared: 0.2 };
    let found = dated(&plain, ClassModel::World(&w), spread, 0.95);
    assert_eq!(found, dated_stock(&lamps, &w, AGE, &limit(1e9), 60.0, 120.0, spread, 0.95).unwrap());
    let drawn = Scales(vec![1000.0, 1400.0, 2000.0]);
    let found = dated(&plain, ClassModel::Draws(&drawn), spread, 0.95);
    let over = dated_stock_over_draws(&lamps, &drawn, AGE, &limit(1e9), 60.0, 120.0, spread, 0.95, &Run::new());
    assert_eq!(found, over.unwrap());
}

#[test]
fn dated_stock_on_the_calendar_agrees_with_sums_by_hand_and_with_the_forecast_of_its_lead_time() {
    // Few new lamps fail within the lead time, so that little is left to second changes.
    let (life, programmes) = (Weibull { shape: 9.0, scale: 1700.0 }, seasons());
    let w = world(life, 1.0, 5.0);
    let found = dated(&aged(), ClassModel::World(&w), HoursSpread::default(), 0.95);
    assert!(found.second_changes_at_most < 0.1 && found.mean_failures > 0.5, "{found:?}");
    let (mut needed, mut failed) = (0.0, 0.0);
    for screen in aged() {
        let stops: Vec<(NaiveDate, f64)> = screen.stop.iter().flat_map(StopDate::outcomes).collect();
        let stays = 1.0 - stops.iter().map(|s| s.1).sum::<f64>();
        let stops = stops.iter().map(|(d, p)| ((*d - day(3, 1)).num_days().clamp(0, 60) as usize, *p));
        for (days, p) in stops.chain([(60, stays)]) {
            let Some(age) = screen.age_hours else {
                needed += p;
                continue;
            };
            let hours: f64 = (0..days).map(|d| 12.0 * factor(&screen, &programmes, d)).sum();
            let fails = 1.0 - life.reliability((age + hours).min(AGE)) / life.reliability(age);
            failed += p * fails;
            needed += p * if age + hours >= AGE { 1.0 } else { fails };
        }
    }
    assert!((found.mean_needed - needed).abs() < 1e-9, "{} {needed}", found.mean_needed);
    assert!((found.mean_failures - failed).abs() < 1e-9, "{} {failed}", found.mean_failures);
    // Steps of half a day blur there which of a date and a stop comes first.
    let lead = &ahead(&aged(), ClassModel::World(&w), Horizon::days(60.0)).periods[0];
    let gap = lead.needed.mean() - needed;
    assert!(gap > -0.02 && gap < found.second_changes_at_most + 0.02, "{gap} {}", found.second_changes_at_most);
    assert!((lead.mean_failures - failed).abs() < found.second_changes_at_most + 0.02);
}

/// Drawn worlds, hours, stops and lives, day by day.
#[test]
fn dated_stock_with_season_and_stops_meets_the_target_when_played_and_not_with_one_less() {
    let (spread, target, runs) = (HoursSpread { each: 0.15, shared: 0.10 }, 0.9, 30_000_u64);
    let (drawn, programmes) = (Scales(vec![1100.0, 1300.0, 1700.0]), seasons());
    let screens = aged();
    let found = dated(&screens, ClassModel::Draws(&drawn), spread, target);
    let burned: Vec<Vec<f64>> = screens
        .iter()
        .map(|s| {
            (0..=1000)
                .scan(0.0, |sum, d| {
                    let before = *sum;
                    *sum += 12.0 * factor(s, &programmes, d);
                    Some(before)
                })
                .collect()
        })
        .collect();
    let reaches = |i: usize, hours: f64| {
        let after = burned[i].iter().position(|b| *b >= hours).unwrap().max(1);
        let (a, b) = (burned[i][after - 1], burned[i][after]);
        (after - 1) as f64 + (hours - a) / (b - a)
    };
    let stops: Vec<Vec<(f64, f64)>> = screens
        .iter()
        .map(|s| {
            s.stop.iter().flat_map(StopDate::outcomes).map(|(d, p)| ((d - day(3, 1)).num_days() as f64, p)).collect()
        })
        .collect();
    let due: Vec<Option<f64>> = (0..screens.len())
        .map(|i| {
            let at = screens[i].age_hours.map_or(0.0, |a| reaches(i, AGE - a));
            let left = 1.0 - stops[i].iter().filter(|s| s.0 < at).map(|s| s.1).sum::<f64>();
            (left > 1e-9).then_some(at)
        })
        .collect();
    let listed = due.iter().flatten().filter(|d| **d <= 60.0).count();
    assert_eq!(listed as u64, found.dated_in_lead_time);
    assert!(due.iter().any(Option::is_none) && listed > 5, "{due:?}");
    for order in &found.orders {
        let i = order.row as usize - 1;
        assert!((order.due_day - due[i].unwrap()).abs() < 1e-9, "{order:?} {:?}", due[i]);
        let before: f64 = stops[i].iter().filter(|s| s.0 < order.due_day).map(|s| s.1).sum();
        assert!((order.stops_before - before).abs() < 1e-9);
    }
    assert!(found.orders.iter().any(|o| o.due_day < 60.0 && o.stops_before > 0.1), "{:?}", found.orders);
    assert!(found.notes.iter().any(|n| n.contains("may stop before")), "{:?}", found.notes);
    let mut days: Vec<f64> = (1..=12).map(|i| 5.0 * f64::from(i)).collect();
    days.extend(due.iter().flatten().filter(|d| **d > 0.0 && **d <= 60.0).map(|d| d * (1.0 - 1e-9)));
    let sigma = |cv: f64| (1.0 + cv * cv).ln().sqrt();
    let (mut enough, mut with_one_less) = (vec![0.0; days.len()], vec![0.0; days.len()]);
    let (mut sum, mut squares, mut within) = (0.0, 0.0, 0.0);
    for run in 0..runs {
        let life = Weibull { scale: drawn.0[(run % 3) as usize], ..life() };
        let mut random = Stream::new(8, "tests", "dated_calendar", run);
        let mut lognormal = |s: f64| (s * normal_quantile(random.uniform()) - 0.5 * s * s).exp();
        let all = lognormal(sigma(spread.shared));
        let own: Vec<f64> = screens.iter().map(|_| lognormal(sigma(spread.each))).collect();
        let mut changed = Vec::new();
        for i in 0..screens.len() {
            let u = random.uniform();
            let mut left = 0.0;
            let stop = stops[i].iter().find(|(_, p)| {
                left += p;
                u < left
            });
            let uniform = random.uniform();
            let at = screens[i].age_hours.map_or(0.0, |age| {
                let fails = life.quantile(1.0 - uniform * life.reliability(age)).unwrap();
                let hours = (fails.min(AGE) - age) / (all * own[i]);
                if hours < 1e4 && hours < burned[i][1000] { reaches(i, hours) } else { f64::INFINITY }
            });
            if stop.is_none_or(|s| at < s.0) {
                changed.push(at);
            }
        }
        for (k, d) in days.iter().enumerate() {
            let needed = changed.iter().filter(|c| *c <= d).count() as u64;
            let there = due.iter().flatten().filter(|x| *x <= d).count() as u64;
            enough[k] += if needed <= there + found.safety_stock { 1.0 } else { 0.0 };
            with_one_less[k] += if needed < there + found.safety_stock { 1.0 } else { 0.0 };
        }
        let needed = changed.iter().filter(|c| **c <= 60.0).count() as f64;
        sum += needed;
        squares += needed * needed;
        within += if needed <= found.level as f64 { 1.0 } else { 0.0 };
    }
    let n = runs as f64;
    let se = (target * (1.0 - target) / n).sqrt();
    assert!(enough.iter().all(|x| x / n > target - 4.0 * se), "{enough:?}");
    assert!(with_one_less.iter().any(|x| x / n < target + 4.0 * se), "{with_one_less:?}");
    let (mean, share, p) = (sum / n, within / n, found.service_at_level);
    let z_mean = (mean - found.mean_needed) / ((squares / n - mean * mean) / n).sqrt();
    let z_share = (share - p) / (p * (1.0 - p) / n).max(1e-8).sqrt();
    assert!(z_mean.abs() < 4.5 && z_share.abs() < 4.5, "{z_mean} {z_share}");
    assert!(found.safety_stock > 0, "{found:?}");
}

/// The longest horizon, from the last day of a month: 240 calendar months end 31 days before it.
#[test]
fn the_last_days_of_the_longest_horizon_have_their_hours() {
    let w = world(Weibull { shape: 3.0, scale: 1e9 }, 1.0, 5.0);
    let programmes = BTreeMap::from([("even".to_owned(), Programme::default())]);
    let whole = Horizon::days(7310.0);
    // 10 h a day: the lamp is due 5 days before the end, and after 240 months.
    let screen = Screen { programme: Some("even".into()), ..Screen::new("X", "north", Some(0.0), 70.0) };
    let given = OnCalendar { screens: &[screen], programmes: &programmes, as_of: day(1, 31) };
    let found = forecast_on_calendar(&given, ClassModel::World(&w), 73_050.0, &limit(1e9), whole, &Run::new()).unwrap();
    let plain = [SocketToday { age_hours: Some(0.0), hours_per_week: 70.0 }];
    let even = forecast(&plain, &w, 73_050.0, &limit(1e9), whole).unwrap();
    assert!((even.periods[0].needed.mean() - 1.0).abs() < 1e-9);
    assert!((found.periods[0].needed.mean() - even.periods[0].needed.mean()).abs() < 1e-9);
}

fn bought(screens: &[Screen], model: ClassModel<'_>, terms: &LastBuyTerms) -> relamp::stock::LastBuy {
    let programmes = seasons();
    let given = OnCalendar { screens, programmes: &programmes, as_of: day(3, 1) };
    last_buy_on_calendar(&given, model, &limit(1e9), terms, &Run::new()).unwrap()
}

#[test]
fn a_last_buy_with_a_season_is_the_forecast_to_its_end_and_agrees_with_its_plays() {
    let w = world(life(), 1.0, 5.0);
    let screens = screens();
    let mut terms = LastBuyTerms::new(210.0, AGE, BuyRule::Risk(0.05));
    let exact = bought(&screens, ClassModel::World(&w), &terms);
    let found = ahead(&screens, ClassModel::World(&w), Horizon::days(210.0));
    for n in 0..30 {
        assert!((exact.needed.at_most(n) - found.periods[0].needed.at_most(n)).abs() < 2e-3, "{n}");
    }
    let drawn = bought(&screens, ClassModel::Draws(&Scales(vec![1300.0, 1300.0])), &terms);
    assert_eq!(drawn.buy, exact.buy);
    // Freed lamps that are used again: the plays burn by the same clock.
    terms.reuse = Some(Reuse { least_hours_left: 1e9 });
    terms.plays = 20_000;
    let played = bought(&screens, ClassModel::World(&w), &terms);
    let error = exact.needed.sd() / 20_000_f64.sqrt();
    assert!(
        (played.needed.mean() - exact.needed.mean()).abs() < 4.5 * error,
        "{} {}",
        played.needed.mean(),
        exact.needed.mean()
    );
}

#[test]
fn a_last_buy_by_dates_without_a_programme_is_the_one_by_days() {
    let w = world(life(), 1.0, 5.0);
    let dated: Vec<Screen> = screens().into_iter().map(|s| Screen { programme: None, ..s }).collect();
    let by_days: Vec<ConvertingScreen> = dated
        .iter()
        .map(|s| ConvertingScreen {
            socket: SocketToday { age_hours: s.age_hours, hours_per_week: s.hours_per_week },
            conversion: s
                .stop
                .iter()
                .flat_map(StopDate::outcomes)
                .map(|(d, chance)| DayChance { day: (d - day(3, 1)).num_days() as f64, chance })
                .collect(),
        })
        .collect();
    let terms = LastBuyTerms::new(300.0, AGE, BuyRule::Risk(0.05));
    let found = bought(&dated, ClassModel::World(&w), &terms);
    let plain = last_buy(&by_days, &w, &limit(1e9), &terms, &Run::new()).unwrap();
    assert_eq!(found.buy, plain.buy);
    for n in 0..30 {
        assert!((found.needed.at_most(n) - plain.needed.at_most(n)).abs() < 1e-12, "{n}");
    }
}
