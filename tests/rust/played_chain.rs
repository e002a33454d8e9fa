//! A chain played out with its stock, against hand-made cases and every formula of the stock room that it can play.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use relamp::Run;
use relamp::base::sound::Checks;
use relamp::demand::{
    Calendar, ClassModel, ClassPlan, Programme, Screen, SocketToday, SpanOfDays, StopDate, Where, chain_forecast,
};
use relamp::family::{Exponential, Weibull};
use relamp::fit::{Draws, World};
use relamp::simulate::{
    ChainAssumptions, ChainPlayOptions, EmergencyLamp, PlayCosts, PlayedChain, Simulated, SiteShelves, Store,
    WhileWaiting, play_chain, play_chain_over_draws,
};
use relamp::stock::{
    BuyRule, ConvertingScreen, DayChance, LastBuyTerms, LeadDemand, LeadTime, Needs, Places, PlacesMethod, PriceBreak,
    Site, StockCosts, StockRule, emergency_service, last_buy, place_service, service,
};

use crate::worlds::{Drawn, limit, world};

fn day(month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, month, day).unwrap()
}

/// What a test plays; the rest is as it is most of the time.
struct Case {
    screens: Vec<Screen>,
    programmes: BTreeMap<String, Programme>,
    months: usize,
    world: World,
    planned: f64,
    store: Store,
    sites: Option<SiteShelves>,
    emergency: Option<EmergencyLamp>,
    waiting: WhileWaiting,
    costs: Option<PlayCosts>,
}

impl Case {
    fn new(screens: Vec<Screen>, world: World, planned: f64, store: Store) -> Self {
        let (programmes, waiting) = (BTreeMap::new(), WhileWaiting::ClockRuns);
        Self {
            screens,
            programmes,
            months: 24,
            world,
            planned,
            store,
            sites: None,
            emergency: None,
            waiting,
            costs: None,
        }
    }

    /// Forty screens that need 0.2 lamps a day by chance, each after 2,000 h on average at 10 h a day.
    fn by_chance(store: Store) -> Self {
        let screens = (0..40).map(|_| Screen::new("X", "north", Some(0.0), 70.0)).collect();
        Self::new(screens, world(Exponential { scale: 2000.0 }, 1.0, 5.0), 1e7, store)
    }

    fn play(&self, replicates: usize, warm_up_days: f64) -> PlayedChain {
        self.play_in(None, replicates, warm_up_days).unwrap()
    }

    fn play_in(&self, draws: Option<&dyn Draws>, replicates: usize, warm_up_days: f64) -> relamp::Result<PlayedChain> {
        let calendar = Calendar::new(day(1, 1), self.months).unwrap();
        let assumptions = ChainAssumptions {
            screens: &self.screens,
            programmes: &self.programmes,
            calendar: &calendar,
            world: &self.world,
            planned_age_hours: self.planned,
            limit: &limit(1e7_f64.min(1.2 * self.planned)),
            store: self.store.clone(),
            sites: self.sites.clone(),
            emergency: self.emergency,
            waiting: self.waiting,
            costs: self.costs.clone(),
        };
        let options = ChainPlayOptions { replicates, seed: 7, warm_up_days };
        let played = match draws {
            None => play_chain(&assumptions, &options, &Run::new()),
            Some(draws) => play_chain_over_draws(&assumptions, draws, &options, &Run::new()),
        }?;
        assert!(Checks::of("played", &played).is_ok());
        Ok(played)
    }
}

/// Squares of how many standard errors played figures lie off.
#[derive(Default)]
struct Judge(Vec<f64>);

impl Judge {
    fn of(&mut self, name: &str, played: Option<Simulated>, formula: f64) {
        let played = played.unwrap();
        let error = played.standard_error.unwrap();
        let z = (played.mean - formula) / error;
        assert!(z.abs() < 4.5, "{name}: {} +- {error}, by the formula {formula}", played.mean);
        self.0.push(z * z);
    }

    fn end(&self) {
        let mean = self.0.iter().sum::<f64>() / self.0.len() as f64;
        assert!((0.5..1.6).contains(&mean), "{mean} over {}", self.0.len());
    }
}

fn certain(days: f64) -> LeadTime {
    LeadTime::certain(days).unwrap()
}

fn immortal() -> World {
    world(Weibull { shape: 3.0, scale: 1e9 }, 1.0, 5.0)
}

fn rounded(of: impl Iterator<Item = Simulated>) -> Vec<f64> {
    of.map(|s| (s.mean * 1e6).round() / 1e6).collect()
}

#[test]
fn a_lamp_due_on_plan_burns_on_until_a_lamp_comes_or_the_limit() {
    // 10 h a day: due at 1,000 h on day 10, at the limit of 1,200 h on day 30.
    let case = |lead: f64| {
        let store = Store::base_stock(0, certain(lead));
        let screens = vec![Screen::new("X", "north", Some(900.0), 70.0)];
        let case = Case::new(screens, immortal(), 1000.0, store);
        Case { months: 5, waiting: WhileWaiting::ClockStops, ..case }.play(2, 0.0)
    };
    let dark = |played: &PlayedChain| rounded(played.months.iter().map(|m| m.dark_hours));
    let needed = |played: &PlayedChain| rounded(played.months.iter().map(|m| m.needed));
    assert_eq!(dark(&case(15.0)), [0.0; 5]);
    // Ordered on day 10, there on day 40: dark from day 30 to 40, of which the last nine days lie in February.
    let late = case(30.0);
    assert_eq!(dark(&late), [10.0, 90.0, 0.0, 0.0, 0.0]);
    // The new lamp begins on day 40 and is due on day 140, in May.
    assert_eq!(needed(&late), [1.0, 0.0, 0.0, 0.0, 1.0]);
    assert_eq!((late.ever_short.mean, late.places[0].fill_rate.unwrap().mean), (1.0, 0.0));
}

#[test]
fn closures_stops_deliveries_and_lamps_from_elsewhere_by_hand() {
    // Closed on the first ten days, so due on day 20; two lamps come on day 5, the second need is on day 120, the last of April.
    let closed = Programme { spans: vec![SpanOfDays::closed(day(1, 1), day(1, 10))], ..Programme::default() };
    let mut screen = Screen::new("X", "north", Some(900.0), 70.0);
    screen.programme = Some("winter".to_owned());
    let mut store = Store::base_stock(0, certain(30.0));
    (store.rule, store.coming) = (None, vec![(5.0, 1)]);
    let case =
        Case { months: 6, waiting: WhileWaiting::ClockStops, ..Case::new(vec![screen], immortal(), 1000.0, store) };
    let mut case = Case { programmes: BTreeMap::from([("winter".to_owned(), closed)]), ..case };
    let played = case.play(2, 0.0);
    assert_eq!(rounded(played.months.iter().map(|m| m.needed)), [1.0, 0.0, 0.0, 1.0, 0.0, 0.0]);
    assert_eq!(rounded(played.months.iter().map(|m| m.on_hand_at_end)), [0.0; 6]);
    // The lamp of day 20 stands at the limit on day 140, and the screen is dark for the rest, to day 181.
    assert_eq!(rounded(played.months.iter().map(|m| m.dark_hours)), [0.0, 0.0, 0.0, 0.0, 110.0, 300.0]);
    case.screens[0].stop = Some(StopDate::On(day(5, 25)));
    let stopped = case.play(2, 0.0);
    assert_eq!(rounded(stopped.months.iter().map(|m| m.dark_hours)), [0.0, 0.0, 0.0, 0.0, 40.0, 0.0]);
    case.screens[0].stop = None;
    case.emergency = Some(EmergencyLamp { days: 2.0, cost: 300.0 });
    let fetched = case.play(2, 0.0);
    assert_eq!(rounded(fetched.months.iter().map(|m| m.dark_hours)), [0.0, 0.0, 0.0, 0.0, 20.0, 0.0]);
    assert_eq!(rounded(fetched.months.iter().map(|m| m.emergencies)), [0.0, 0.0, 0.0, 0.0, 1.0, 0.0]);
    // Stopped on the first day nothing is needed, not even for a lamp of unknown age.
    case.screens[0] = Screen { age_hours: None, stop: Some(StopDate::On(day(1, 1))), ..case.screens[0].clone() };
    assert_eq!(case.play(2, 0.0).ever_short.mean, 0.0);
}

#[test]
fn every_formula_of_stock_and_of_the_chain_forecast_agrees_with_the_plays() {
    let mut judge = Judge::default();
    rules_of_ordering(&mut judge);
    overtaking_orders_and_transfers(&mut judge);
    depot_and_sites(&mut judge);
    months_ahead(&mut judge);
    last_buys(&mut judge);
    assert!(judge.0.len() > 120, "{}", judge.0.len());
    judge.end();
}

/// Watched all the time and at reviews, one by one, in fours and up to a level.
fn rules_of_ordering(judge: &mut Judge) {
    let needs = Needs::by_chance(0.2).unwrap();
    for (name, rule, review) in [
        ("base stock", StockRule::Reorder { base_stock: 6, quantity: 1 }, 0.0),
        ("none held", StockRule::Reorder { base_stock: 0, quantity: 1 }, 0.0),
        ("in fours", StockRule::Reorder { base_stock: 5, quantity: 4 }, 0.0),
        ("each week", StockRule::Reorder { base_stock: 7, quantity: 1 }, 7.0),
        ("up to a level", StockRule::OrderUpTo { order_point: 5, order_up_to: 9 }, 10.0),
    ] {
        let on_hand = match rule {
            StockRule::Reorder { base_stock, .. } => base_stock,
            StockRule::OrderUpTo { order_up_to, .. } => order_up_to,
        };
        let store = Store { on_hand, rule: Some(rule), review_days: review, ..Store::base_stock(0, certain(20.0)) };
        let mut case = Case::by_chance(store);
        let stock = StockCosts {
            prices: vec![PriceBreak { from_lamps: 1, price: 800.0 }],
            money_rate: 0.1,
            holding_a_year: 20.0,
            per_order: 45.0,
            dark_day: 300.0,
            dark_show: 60.0,
        };
        case.costs = Some(PlayCosts { stock: stock.clone(), show_hours: 2.5 });
        let played = case.play(300, 200.0);
        let demand = LeadDemand::new(&needs, &certain(20.0), review).unwrap();
        let programme = relamp::stock::Programme { hours_per_week: 70.0, show_hours: 2.5 };
        let found = service(&rule, &demand, Some(programme)).unwrap();
        let place = &played.places[0];
        let mut of =
            |what: &str, played: Option<Simulated>, formula: f64| judge.of(&format!("{name}, {what}"), played, formula);
        of("needed", Some(place.needed_a_year), found.needed_a_year);
        of("waiting", Some(place.mean_waiting), found.mean_waiting);
        of("none waits", Some(place.no_screen_waiting), found.no_screen_waiting);
        of("wait", place.mean_wait_days, found.mean_wait_days.unwrap());
        of("on order", Some(place.mean_on_order), found.mean_on_order);
        of("orders", Some(played.orders.orders_a_year), found.orders_a_year);
        // Where nothing is held every order finds a screen that waits.
        match played.orders.no_stock_out_per_cycle.filter(|_| on_hand > 0) {
            Some(calm) => of("cycle", Some(calm), found.no_stock_out_per_cycle),
            None => assert_eq!(found.no_stock_out_per_cycle, 0.0),
        }
        let dark = Simulated { mean: place.dark_hours_a_year.mean / 2.5, ..place.dark_hours_a_year };
        let dark = Simulated { standard_error: dark.standard_error.map(|e| e / 2.5), ..dark };
        of("dark shows", Some(dark), found.dark_shows_a_year.unwrap());
        if on_hand > 0 {
            of("fill", place.fill_rate, found.fill_rate);
            of("ready", Some(place.ready_rate), found.ready_rate);
            of("on hand", Some(place.mean_on_hand), found.mean_on_hand);
            let costs = played.costs.unwrap();
            of("holding", Some(costs.holding), found.mean_on_hand * stock.holding(1));
            of("ordering", Some(costs.ordering), found.orders_a_year * 45.0);
            of("shortage", Some(costs.waiting), found.mean_waiting * stock.waiting(Some(programme)).unwrap());
        }
    }
}

/// Only the mean lead time counts where orders may overtake (Palm 1938), and transfers follow the loss formula.
fn overtaking_orders_and_transfers(judge: &mut Judge) {
    let needs = Needs::by_chance(0.2).unwrap();
    let lead = LeadTime::new(&[(8.0, 3.0), (56.0, 1.0)]).unwrap();
    assert_eq!(lead.mean_days(), 20.0);
    let played = Case::by_chance(Store::base_stock(5, lead.clone())).play(400, 120.0);
    let demand = LeadDemand::new(&needs, &certain(20.0), 0.0).unwrap();
    let found = service(&StockRule::Reorder { base_stock: 5, quantity: 1 }, &demand, None).unwrap();
    let place = &played.places[0];
    judge.of("fill", place.fill_rate, found.fill_rate);
    judge.of("waiting", Some(place.mean_waiting), found.mean_waiting);
    judge.of("none waits", Some(place.no_screen_waiting), found.no_screen_waiting);
    judge.of("on hand", Some(place.mean_on_hand), found.mean_on_hand);
    for base_stock in [2, 5] {
        let mut case = Case::by_chance(Store::base_stock(base_stock, lead.clone()));
        case.emergency = Some(EmergencyLamp { days: 0.5, cost: 250.0 });
        let played = case.play(400, 120.0);
        let found = emergency_service(base_stock, &needs, &lead).unwrap();
        let place = &played.places[0];
        judge.of("share", place.fill_rate, 1.0 - found.emergency_share);
        judge.of("transfers", Some(place.emergencies_a_year), found.emergencies_a_year);
        judge.of("on hand", Some(place.mean_on_hand), found.mean_on_hand);
        judge.of("on order", Some(place.mean_on_order), found.mean_on_order);
        // Half a day of 10 h for each.
        judge.of("dark", Some(place.dark_hours_a_year), 5.0 * found.emergencies_a_year);
    }
}

/// One by one, first come first filled: the exact formula.
fn depot_and_sites(judge: &mut Judge) {
    // 0.05, 0.1 and 0.15 lamps a day.
    let screens = [("a", 10), ("b", 20), ("c", 30)].into_iter();
    let screens = screens.flat_map(|(site, n)| (0..n).map(move |_| Screen::new("X", site, Some(0.0), 70.0))).collect();
    let mut case =
        Case::new(screens, world(Exponential { scale: 2000.0 }, 1.0, 5.0), 1e7, Store::base_stock(5, certain(18.0)));
    let stock = [("a", 0), ("b", 1), ("c", 2)];
    case.sites =
        Some(SiteShelves { days: 3.0, stock: stock.iter().map(|(name, n)| ((*name).to_owned(), *n)).collect() });
    let played = case.play(400, 120.0);
    let site = |(name, a_day): (&str, f64)| Site {
        name: name.to_owned(),
        needed_per_day: a_day,
        variance_to_mean: 1.0,
        depot_days: Some(3.0),
        local_share: 0.0,
        local_days: None,
        hours_per_day: 10.0,
    };
    let sites = [("a", 0.05), ("b", 0.1), ("c", 0.15)].map(site).to_vec();
    let found = place_service(&Places { maker_days: Some(18.0), sites }, 5, &[0, 1, 2], None).unwrap();
    assert_eq!(found.method, PlacesMethod::Exact);
    judge.of("depot waiting", Some(played.places[0].mean_waiting), found.depot_waiting);
    judge.of("depot wait", played.places[0].mean_wait_days, found.depot_wait_days);
    judge.of("depot on order", Some(played.places[0].mean_on_order), found.depot_on_way);
    for (played, found) in played.places[1..].iter().zip(&found.sites) {
        assert_eq!(played.place, found.name);
        judge.of("waiting", Some(played.mean_waiting), found.screens_waiting);
        judge.of("ready", Some(played.no_screen_waiting), found.no_screen_waiting);
        judge.of("dark", Some(played.dark_hours_a_year), found.dark_hours_per_year);
        if found.stock > 0 {
            judge.of("fill", played.fill_rate, found.fill_rate);
        }
    }
}

/// Twelve screens with a season, a closure, growth and stops.
fn seasonal(months: usize) -> Case {
    let spans =
        vec![SpanOfDays::closed(day(3, 9), day(3, 29)), SpanOfDays { from: day(7, 1), to: day(7, 20), factor: 1.3 }];
    let mut by_month = [1.0; 12];
    (by_month[0], by_month[5], by_month[7]) = (1.2, 0.6, 0.8);
    let programmes = BTreeMap::from([("year".to_owned(), Programme { by_month, spans, growth_per_year: 0.1 })]);
    let screens = (0..12).map(|i| {
        let age = Some(90.0 * f64::from(i)).filter(|_| i != 5);
        let mut screen = Screen::new("X", if i < 7 { "north" } else { "south" }, age, 70.0);
        screen.programme = Some("year".to_owned()).filter(|_| i % 3 != 0);
        screen.stop = match i {
            2 | 9 => Some(StopDate::Between { from: day(4, 10), to: day(6, 20) }),
            4 => Some(StopDate::On(day(5, 5))),
            7 => Some(StopDate::Weighted(vec![(day(3, 1), 0.4), (day(9, 1), 0.6)])),
            _ => None,
        };
        screen
    });
    let mut store = Store::base_stock(0, certain(20.0));
    store.rule = None;
    let case = Case::new(screens.collect(), world(Weibull { shape: 2.2, scale: 1300.0 }, 1.0, 5.0), 1000.0, store);
    Case { programmes, months, ..case }
}

/// Seasons, a closure, growth and stops, against the chain forecast.
fn months_ahead(judge: &mut Judge) {
    let case = seasonal(9);
    let played = case.play(6000, 0.0);
    let calendar = Calendar::new(day(1, 1), 9).unwrap();
    let of = limit(1200.0);
    let plan = ClassPlan { class: "X", model: ClassModel::World(&case.world), planned_age_hours: 1000.0, limit: &of };
    let all = chain_forecast(&case.screens, &[plan], &calendar, &case.programmes, None, &Run::new()).unwrap();
    let chain = all.at("X", &Where::Chain).unwrap();
    for (m, (played_in, found)) in played.months.iter().zip(&chain.months).enumerate() {
        judge.of(&format!("needed {m}"), Some(played_in.needed), found.needed.mean());
        judge.of(&format!("planned {m}"), Some(played_in.planned), found.planned.mean());
        judge.of(&format!("failures {m}"), Some(played_in.failures), found.failures.mean());
        for n in [1, 3, 5] {
            let p = found.needed.at_most(n);
            let error = (p * (1.0 - p) / 6000.0).sqrt();
            if error > 0.002 {
                let share = Simulated { mean: played.needed[m].at_most(n), sd: None, standard_error: Some(error) };
                judge.of(&format!("at most {n} in {m}"), Some(share), p);
            }
        }
    }
    let whole: f64 = played.months.iter().map(|m| m.needed.mean).sum();
    assert!((whole / chain.whole.needed.mean() - 1.0).abs() < 0.02);
}

/// Each play takes the next draw, so that the plays are of the mixture that the forecast is.
#[test]
fn plays_over_draws_agree_with_the_chain_forecast_over_the_same_draws() {
    let case = seasonal(9);
    // One of the sixteen draws fails and is left out.
    let draws = Drawn { shape: 2.2, scale: 1300.0, spread: 1.0, ratio: 5.0, draws: 16 };
    let played = case.play_in(Some(&draws), 15 * 500, 0.0).unwrap();
    assert_eq!(played.draws.as_ref().map(|d| (d.used, d.failed)), Some((15, 1)));
    let calendar = Calendar::new(day(1, 1), 9).unwrap();
    let of = limit(1200.0);
    let found = |model: ClassModel<'_>| {
        let plan = ClassPlan { class: "X", model, planned_age_hours: 1000.0, limit: &of };
        chain_forecast(&case.screens, &[plan], &calendar, &case.programmes, None, &Run::new()).unwrap()
    };
    let (over, best) = (found(ClassModel::Draws(&draws)), draws.best().unwrap());
    let chain = over.at("X", &Where::Chain).unwrap();
    let mut judge = Judge::default();
    for (m, (played_in, found)) in played.months.iter().zip(&chain.months).enumerate() {
        judge.of(&format!("needed {m}"), Some(played_in.needed), found.needed.mean());
        judge.of(&format!("planned {m}"), Some(played_in.planned), found.planned.mean());
        judge.of(&format!("failures {m}"), Some(played_in.failures), found.failures.mean());
    }
    let last = &played.needed_by_end[8];
    for n in [12, 18, 24, 30, 36] {
        let p = chain.whole.needed.at_most(n);
        let error = (p * (1.0 - p) / 7500.0).sqrt();
        if error > 0.001 {
            let share = Simulated { mean: last.at_most(n), sd: None, standard_error: Some(error) };
            judge.of(&format!("at most {n} in all"), Some(share), p);
        }
    }
    assert!(judge.0.len() > 27, "{}", judge.0.len());
    // What is not known of the life shows: the best world alone spreads less and needs another number.
    let alone = found(ClassModel::World(&best));
    let alone = &alone.at("X", &Where::Chain).unwrap().whole.needed;
    assert!(last.sd() > 1.5 * alone.sd(), "{} {}", last.sd(), alone.sd());
    assert!((last.sd() / chain.whole.needed.sd() - 1.0).abs() < 0.05, "{} {}", last.sd(), chain.whole.needed.sd());
    // As many draws as plays at most, and the same again with the same seed.
    let few = case.play_in(Some(&draws), 4, 0.0).unwrap();
    assert_eq!(few.draws.as_ref().map(|d| (d.used, d.failed)), Some((4, 1)));
    assert_eq!(few, case.play_in(Some(&draws), 4, 0.0).unwrap());
    let one = Drawn { draws: 1, ..draws };
    assert_eq!(
        PlayedChain { draws: None, ..case.play_in(Some(&one), 3, 0.0).unwrap() },
        Case { world: one.world(0).unwrap(), ..seasonal(9) }.play(3, 0.0)
    );
    let none = Drawn { draws: 0, ..one };
    assert_eq!(case.play_in(Some(&none), 3, 0.0).unwrap_err().slug(), "simulate.no_draws");
}

/// A shelf that is never filled again runs short as often as the last buy says.
fn last_buys(judge: &mut Judge) {
    let (mut screens, mut converting) = (Vec::new(), Vec::new());
    for i in 0..10_u32 {
        let mut screen = Screen::new("X", "north", Some(13.0 + 95.0 * f64::from(i)), 70.0);
        let (first, second) = (day(4, 11), day(8, 9));
        screen.stop = (i < 6).then(|| StopDate::Weighted(vec![(first, 0.5), (second, 0.5)]));
        let days = |stop: NaiveDate| (stop - day(1, 1)).num_days() as f64;
        let conversion = match screen.stop {
            Some(_) => [first, second].map(|d| DayChance { day: days(d), chance: 0.5 }).to_vec(),
            None => Vec::new(),
        };
        converting.push(ConvertingScreen {
            socket: SocketToday { age_hours: screen.age_hours, hours_per_week: 70.0 },
            conversion,
        });
        screens.push(screen);
    }
    for risk in [0.3, 0.1, 0.03] {
        let steep = world(Weibull { shape: 2.2, scale: 1300.0 }, 1.0, 5.0);
        // The year of 2026.
        let terms = LastBuyTerms::new(365.0, 1000.0, BuyRule::Risk(risk));
        let found = last_buy(&converting, &steep, &limit(1200.0), &terms, &Run::new()).unwrap();
        let lamps = found.at_quantity.lamps;
        let store = Store { on_hand: lamps, rule: None, ..Store::base_stock(0, certain(20.0)) };
        let played = Case { months: 12, ..Case::new(screens.clone(), steep, 1000.0, store) }.play(8000, 0.0);
        judge.of("short", Some(played.ever_short), found.at_quantity.shortage_chance);
        judge.of("left", Some(played.months[11].on_hand_at_end), found.at_quantity.expected_left);
        let whole = Simulated {
            mean: played.needed_by_end[11].mean(),
            sd: None,
            standard_error: Some(played.needed_by_end[11].sd() / 8000_f64.sqrt()),
        };
        judge.of("needed", Some(whole), found.needed.mean());
    }
}

#[test]
fn the_same_bytes_come_from_any_number_of_threads() {
    let case = |waiting| Case {
        waiting,
        ..Case { store: Store::base_stock(1, LeadTime::new(&[(9.0, 1.0), (30.0, 1.0)]).unwrap()), ..seasonal(5) }
    };
    for waiting in [WhileWaiting::ClockRuns, WhileWaiting::ClockStops] {
        let on = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            serde_json::to_string(&pool.install(|| case(waiting).play(40, 0.0))).unwrap()
        };
        let one = on(1);
        assert!(one == on(2) && one == on(3));
        assert_ne!(one, serde_json::to_string(&case(waiting).play(41, 0.0)).unwrap());
    }
}

#[test]
fn dark_screens_that_burn_nothing_need_fewer_lamps_and_more_stock_never_serves_worse() {
    let dark = |lamps: u64, waiting| {
        let mut case = seasonal(9);
        (case.store, case.waiting) = (Store::base_stock(lamps, certain(25.0)), waiting);
        let played = case.play(400, 0.0);
        let hours: f64 = played.months.iter().map(|m| m.dark_hours.mean).sum();
        (hours, played.needed_by_end[8].mean())
    };
    let (stops, runs) = (dark(0, WhileWaiting::ClockStops), dark(0, WhileWaiting::ClockRuns));
    assert!(stops.1 < runs.1 && stops.0 > 0.0, "{stops:?} {runs:?}");
    let hours: Vec<f64> = [0, 1, 2, 4, 8].iter().map(|n| dark(*n, WhileWaiting::ClockRuns).0).collect();
    assert!(hours.is_sorted_by(|a, b| a >= b) && hours[4] < 0.01 * hours[0], "{hours:?}");
}

#[test]
fn what_is_no_supply_is_told_all_at_once() {
    let case = Case::by_chance(Store::base_stock(2, certain(20.0)));
    let calendar = Calendar::new(day(1, 1), 3).unwrap();
    let refused = |change: &dyn Fn(&mut ChainAssumptions<'_>), options: ChainPlayOptions| -> Vec<(String, String)> {
        let of = limit(1e7);
        let mut assumptions = ChainAssumptions {
            screens: &case.screens,
            programmes: &case.programmes,
            calendar: &calendar,
            world: &case.world,
            planned_age_hours: 1e7,
            limit: &of,
            store: case.store.clone(),
            sites: None,
            emergency: None,
            waiting: WhileWaiting::ClockRuns,
            costs: None,
        };
        change(&mut assumptions);
        let error = play_chain(&assumptions, &options, &Run::new()).unwrap_err();
        error.problems().iter().map(|p| (p.slug.to_owned(), p.place.column.clone().unwrap_or_default())).collect()
    };
    let once = ChainPlayOptions { replicates: 1, seed: 1, warm_up_days: 0.0 };
    let told = refused(
        &|a| {
            a.store.review_days = -1.0;
            a.store.coming = vec![(f64::NAN, 1)];
            a.store.rule = Some(StockRule::Reorder { base_stock: 1, quantity: 0 });
            a.sites = Some(SiteShelves { days: 1e9, stock: BTreeMap::from([("nowhere".to_owned(), 1)]) });
            a.emergency = Some(EmergencyLamp { days: 1.0, cost: -1.0 });
            a.planned_age_hours = 0.0;
        },
        once,
    );
    let columns: Vec<&str> = told.iter().map(|t| t.1.as_str()).collect();
    assert_eq!(
        columns,
        ["review_days", "coming[0].days", "rule.quantity", "days", "stock", "cost", "planned_age_hours"],
        "{told:?}"
    );
    let watched =
        |a: &mut ChainAssumptions<'_>| a.store.rule = Some(StockRule::OrderUpTo { order_point: 1, order_up_to: 3 });
    assert_eq!(refused(&watched, once)[0].1, "review_days");
    assert_eq!(refused(&|_| (), ChainPlayOptions { replicates: 0, ..once })[0].0, "simulate.replicates");
    assert_eq!(refused(&|_| (), ChainPlayOptions { warm_up_days: 90.0, ..once })[0].0, "simulate.warm_up");
    assert_eq!(refused(&|_| (), ChainPlayOptions { replicates: 2_000_000_000, ..once })[0].0, "simulate.too_large");
}
