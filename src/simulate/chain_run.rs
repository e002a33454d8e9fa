//! Plays a chain with its stock as often as asked and adds up what came.

use std::collections::BTreeMap;

use super::assumptions::failures;
use super::chain::ChainAssumptions;
use super::chain_play::{Play, Script, Socket};
use super::chain_played::{PlayedChain, PlayedCosts, PlayedMonth, PlayedOrders, PlayedPlace};
use super::chain_sheet::{self as sheet, Played};
use super::lamp::Causes;
use super::play::spread;
use super::played::Simulated;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::demand::{Clock, DrawsUsed, Programme, Screen};
use crate::fit::{Draws, World};
use crate::policy::WorldCurve;

/// Most plays of a screen and most figures kept in one call; more would take days, or all memory.
const MOST_PLAYS: u64 = 1_000_000_000;
const MOST_FIGURES: u64 = 100_000_000;

/// Days of a year.
const YEAR_DAYS: f64 = 365.25;

/// How often and with which seed a chain is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChainPlayOptions {
    /// Plays of the whole chain.
    pub replicates: usize,
    /// Seed of the draws.
    pub seed: u64,
    /// Days at the start that are not counted in the figures of places, orders and costs: 0 to play from the stock of
    /// today, more to see a rule on the long run.
    pub warm_up_days: f64,
}

/// Plays a chain out with its stock, event by event.
///
/// # Formula
/// ```text
/// a screen needs a lamp when its own burns to its failure or to the planned age, by the programme hours of its days
/// position of the store = on hand + on order - waited for; the rule orders by it, at once or at each review
/// a figure: mean over plays; its standard error: standard deviation over plays / sqrt(plays)
/// a share r = sum a / sum b: standard error = sd(a - r b) / (mean b sqrt(plays))
/// ```
/// Dark screens are served first, in the order in which they went dark, then lamps that wait for their planned change. The
/// lead time of each order is drawn by itself. A screen's stopping day is drawn once a play; it then asks for nothing and
/// gives no lamp back. What falls on one instant: lamps come, screens stop, screens need lamps, the shelf is looked at.
/// Costs of the lamps' changes are those of [`play_fleet`](super::play_fleet); here only what stock costs is counted.
///
/// # Errors
/// All at once: `simulate.supply` for numbers of the supply out of range, and those of
/// [`chain_forecast`](crate::demand::chain_forecast) for screens, programmes and the planned age; then `stock.cost`,
/// `stock.price_breaks`, those of [`WorldCurve::new`](crate::policy::WorldCurve::new), `demand.day_hours`;
/// `simulate.replicates` for none, `simulate.warm_up` unless it ends before the months do, `simulate.too_large`,
/// `simulate.too_many_changes`; a stop.
///
/// # Numerics
/// Each screen has its own stream in each replicate, and the lead times one; a play is done by one thread and plays are
/// added up in their order. The result is the same to the byte on any number of threads.
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use chrono::NaiveDate;
/// use relamp::Run;
/// use relamp::demand::{Calendar, Screen};
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::simulate::{ChainAssumptions, ChainPlayOptions, Store, WhileWaiting, play_chain};
/// use relamp::stock::LeadTime;
/// use relamp::terms::{Costs, PrintedHours};
/// // Lamps that all but never fail: 10 h a day, so the one of 900 h is changed on day 10 and every 100 days.
/// let life = Box::new(Weibull { shape: 3.0, scale: 1e9 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let limit = PrintedHours { maximum_hours: Some(1000.0), source: "invented".into(), ..Default::default() }.limit()?;
/// let screens = [Screen::new("X", "north", Some(900.0), 70.0)];
/// let calendar = Calendar::new(NaiveDate::from_ymd_opt(2026, 1, 1).unwrap(), 4)?;
/// // Nothing on the shelf: each lamp is ordered when it is needed, and the screen is dark for the 20 days of the order.
/// let assumptions = ChainAssumptions {
///     screens: &screens, programmes: &BTreeMap::new(), calendar: &calendar, world: &world, planned_age_hours: 1000.0,
///     limit: &limit, store: Store::base_stock(0, LeadTime::certain(20.0)?), sites: None, emergency: None,
///     waiting: WhileWaiting::ClockStops, costs: None,
/// };
/// let options = ChainPlayOptions { replicates: 2, seed: 1, warm_up_days: 0.0 };
/// let played = play_chain(&assumptions, &options, &Run::new())?;
/// let dark: Vec<f64> = played.months.iter().map(|m| m.dark_hours.mean.round()).collect();
/// assert_eq!(dark, [200.0, 0.0, 0.0, 0.0]);
/// assert_eq!((played.ever_short.mean, played.places[0].fill_rate.map(|f| f.mean)), (1.0, Some(0.0)));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn play_chain(assumptions: &ChainAssumptions<'_>, options: &ChainPlayOptions, run: &Run) -> Result<PlayedChain> {
    let planned_age = assumptions.check()?;
    played(assumptions, planned_age, &[assumptions.world], None, options, run)
}

/// The same over draws: each play is of the world of one draw, in their order and again from the first, so that figures and
/// distributions are mixed over what is not known of the life as well as over chance.
///
/// With as many replicates as draws, or a multiple, every draw counts alike, and needed lamps agree with
/// [`chain_forecast`](crate::demand::chain_forecast) over the same draws. Standard errors are those of the plays about the mean over
/// these draws. The world of the assumptions is the best one and is not played.
///
/// # Errors
/// Those of [`play_chain`], and `simulate.no_draws` where no draw gives a world.
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use chrono::NaiveDate;
/// use relamp::Run;
/// use relamp::demand::{Calendar, Screen};
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, Draws, Method, World};
/// use relamp::records::Ending;
/// use relamp::simulate::{ChainAssumptions, ChainPlayOptions, Store, WhileWaiting, play_chain_over_draws};
/// use relamp::stock::LeadTime;
/// use relamp::terms::{Costs, PrintedHours};
/// /// Lamps that never fail, or all at 500 h: one is as likely as the other.
/// struct Two;
/// impl Draws for Two {
///     fn len(&self) -> usize { 2 }
///     fn best(&self) -> relamp::Result<World> { self.world(0) }
///     fn world(&self, replicate: usize) -> relamp::Result<World> {
///         let scale = if replicate == 0 { 1e12 } else { 500.0 };
///         let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(Weibull { shape: 400.0, scale }) }];
///         Ok(World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? })
///     }
///     fn method(&self) -> Method { Method::Wald }
/// }
/// let limit = PrintedHours { maximum_hours: Some(1000.0), source: "invented".into(), ..Default::default() }.limit()?;
/// let screens = [Screen::new("X", "north", Some(0.0), 70.0)];
/// // 90 days of 10 h: the lamp of the second draw fails once.
/// let calendar = Calendar::new(NaiveDate::from_ymd_opt(2026, 1, 1).unwrap(), 3)?;
/// let assumptions = ChainAssumptions {
///     screens: &screens, programmes: &BTreeMap::new(), calendar: &calendar, world: &Two.best()?, planned_age_hours: 1000.0,
///     limit: &limit, store: Store::base_stock(1, LeadTime::certain(20.0)?), sites: None, emergency: None,
///     waiting: WhileWaiting::ClockStops, costs: None,
/// };
/// let options = ChainPlayOptions { replicates: 4, seed: 1, warm_up_days: 0.0 };
/// let played = play_chain_over_draws(&assumptions, &Two, &options, &Run::new())?;
/// assert_eq!(played.needed_by_end[2].probabilities(), [0.5, 0.5]);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn play_chain_over_draws(
    assumptions: &ChainAssumptions<'_>,
    draws: &dyn Draws,
    options: &ChainPlayOptions,
    run: &Run,
) -> Result<PlayedChain> {
    let planned_age = assumptions.check()?;
    // No more worlds than there are plays: a draw that is not played is not made.
    let mut worlds = Vec::new();
    let (mut failed, mut first) = (0, None);
    for i in 0..draws.len() {
        run.check()?;
        if worlds.len() == options.replicates {
            break;
        }
        match draws.world(i).and_then(|world| WorldCurve::new(&world).map(|_| ()).map(|()| world)) {
            Ok(world) => worlds.push(world),
            Err(error) => {
                failed += 1;
                first.get_or_insert(error);
            }
        }
    }
    if worlds.is_empty() && options.replicates > 0 {
        let problem = Problem::new("simulate.no_draws", "no draw gives a world to play in").got(failed);
        let problem = first.map_or(problem.clone(), |e| problem.expected(e.to_string()));
        return Err(Error::new(Kind::Refused, problem));
    }
    let used = DrawsUsed { method: draws.method(), used: worlds.len(), failed };
    played(assumptions, planned_age, &worlds.iter().collect::<Vec<_>>(), Some(used), options, run)
}

/// The plays, each in the next of some worlds.
fn played(
    assumptions: &ChainAssumptions<'_>,
    planned_age: f64,
    worlds: &[&World],
    draws: Option<DrawsUsed>,
    options: &ChainPlayOptions,
    run: &Run,
) -> Result<PlayedChain> {
    let (script, names) = script(assumptions, planned_age, options)?;
    check_size(&script, options)?;
    let causes: Vec<Causes<'_>> = worlds.iter().map(|world| Causes::new(world, &failures(world))).collect();
    let none = || Error::new(Kind::Refused, Problem::new("simulate.no_draws", "no draw gives a world to play in"));
    let played = run
        .map(options.replicates, |i| {
            run.check()?;
            let causes = causes.get(i % causes.len().max(1)).ok_or_else(none)?;
            Play::once(&script, causes, i as u64)
        })?
        .into_iter()
        .collect::<Result<Vec<_>>>()?;
    Ok(PlayedChain { draws, ..told(assumptions, &script, names, options, &played)? })
}

/// All that is assumed, laid out for the plays, and the names of the places.
fn script(
    assumptions: &ChainAssumptions<'_>,
    planned_age: f64,
    options: &ChainPlayOptions,
) -> Result<(Script, Vec<String>)> {
    let (calendar, store) = (assumptions.calendar, &assumptions.store);
    let plain = Programme::default();
    let mut clocks = vec![Clock::new(calendar, &plain)];
    let mut named: BTreeMap<&str, usize> = BTreeMap::new();
    for (name, programme) in assumptions.programmes {
        named.insert(name, clocks.len());
        clocks.push(Clock::new(calendar, programme));
    }
    let mut places = vec![String::new()];
    let mut problems = Vec::new();
    let mut sockets = Vec::with_capacity(assumptions.screens.len());
    for (i, screen) in assumptions.screens.iter().enumerate() {
        let mut clock = screen.programme.as_deref().and_then(|name| named.get(name)).copied().unwrap_or(0);
        if !screen.spans.is_empty() {
            let programme = screen.programme.as_deref().and_then(|n| assumptions.programmes.get(n)).unwrap_or(&plain);
            let spans = programme.spans.iter().chain(&screen.spans).copied().collect();
            clock = clocks.len();
            clocks.push(Clock::new(calendar, &Programme { spans, ..programme.clone() }));
        }
        let place = Place::input("screens").row(i as u64 + 1).column("hours_per_week");
        problems.extend(clocks.get(clock).and_then(|c| c.too_long(screen.hours_per_week, place)));
        let place = match &assumptions.sites {
            None => 0,
            Some(_) => places.iter().skip(1).position(|p| *p == screen.site).map_or_else(
                || {
                    places.push(screen.site.clone());
                    places.len() - 1
                },
                |at| at + 1,
            ),
        };
        sockets.push(Socket {
            age: screen.age_hours,
            hours_per_day: screen.hours_per_week / 7.0,
            clock,
            place,
            stops: stops(screen, calendar),
        });
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let at_sites = places.iter().skip(1).map(|name| {
        let sites = assumptions.sites.as_ref();
        sites.and_then(|s| s.stock.get(name)).copied().unwrap_or(0)
    });
    let stock = std::iter::once(store.on_hand).chain(at_sites).collect();
    let mut sum = 0.0;
    let lead = store.lead.options().iter().map(|(days, chance)| {
        sum += chance;
        (*days, sum)
    });
    let script = Script {
        planned_age,
        limit: assumptions.limit.hours(),
        sockets,
        clocks,
        ends: calendar.ends().iter().map(|d| *d as f64).collect(),
        warm_up: options.warm_up_days,
        stock,
        coming: store.coming.clone(),
        rule: store.rule,
        lead: lead.collect(),
        review_days: store.review_days,
        site_days: assumptions.sites.as_ref().map_or(0.0, |s| s.days),
        emergency: assumptions.emergency.map(|e| (e.days, e.cost)),
        waiting: assumptions.waiting,
        costs: assumptions.costs.as_ref().map(|c| c.stock.clone()),
        seed: options.seed,
    };
    Ok((script, places))
}

/// Days at which a screen may stop, with the chances summed up.
fn stops(screen: &Screen, calendar: &crate::demand::Calendar) -> Vec<(f64, f64)> {
    let mut sum = 0.0;
    let each = screen.stop.iter().flat_map(crate::demand::StopDate::outcomes).map(|(day, chance)| {
        sum += chance;
        ((day - calendar.as_of()).num_days() as f64, sum)
    });
    let mut all: Vec<(f64, f64)> = each.collect();
    // Chances that sum to 1 up to rounding leave nothing over.
    if let Some(last) = all.last_mut() {
        last.1 = 1.0;
    }
    all
}

fn check_size(script: &Script, options: &ChainPlayOptions) -> Result<()> {
    if options.replicates == 0 {
        let problem = Problem::new("simulate.replicates", "a fleet must be played at least once");
        return Err(Error::new(Kind::Domain, problem.at(Place::input("replicates")).got(0).expected("1 or more")));
    }
    if !(0.0..script.end()).contains(&options.warm_up_days) {
        let problem = Problem::new("simulate.warm_up", "the warm-up must end before the months do");
        let problem = problem.at(Place::input("warm_up_days")).got(options.warm_up_days);
        return Err(Error::new(
            Kind::Domain,
            problem.expected(format!("0 or more, below {}", counted(script.end() as u64, "day"))),
        ));
    }
    let replicates = options.replicates as u64;
    let screens = script.sockets.len() as u64;
    let months = script.ends.len() as u64 - 1;
    let width = months * sheet::OF_MONTH as u64 + script.stock.len() as u64 * (sheet::COUNTS + sheet::TIMES) as u64;
    let too_large = replicates.saturating_mul(screens) > MOST_PLAYS || replicates.saturating_mul(width) > MOST_FIGURES;
    if too_large || screens > u64::from(u32::MAX) || replicates > u64::from(u32::MAX) {
        let problem = Problem::new("simulate.too_large", "more to play than one call may hold");
        let got = format!(
            "{} of {} at {} over {}",
            counted(replicates, "replicate"),
            counted(screens, "screen"),
            counted(script.stock.len() as u64, "place"),
            counted(months, "month")
        );
        let expected = format!("at most {} of a screen, and fewer places and months", counted(MOST_PLAYS, "play"));
        return Err(Error::new(Kind::Limit, problem.at(Place::input("replicates")).got(got).expected(expected)));
    }
    Ok(())
}

/// Mean and spread of a figure over the plays.
fn figure(played: &[Played], of: impl Fn(&Played) -> f64) -> Simulated {
    let n = played.len() as f64;
    let mean = played.iter().map(&of).sum::<f64>() / n;
    let sd = (played.len() > 1).then(|| {
        let squares: f64 = played.iter().map(|p| (of(p) - mean).powi(2)).sum();
        (squares / (n - 1.0)).sqrt()
    });
    Simulated { mean, sd, standard_error: sd.map(|sd| sd / n.sqrt()) }
}

/// The ratio of two sums with its standard error; none where the second is 0.
fn ratio(played: &[Played], over: impl Fn(&Played) -> f64, under: impl Fn(&Played) -> f64) -> Option<Simulated> {
    let (a, b) = (figure(played, &over).mean, figure(played, &under).mean);
    if b <= 0.0 {
        return None;
    }
    let mean = a / b;
    let off = figure(played, |p| (over(p) - mean * under(p)) / b);
    Some(Simulated { mean, ..off })
}

fn told(
    assumptions: &ChainAssumptions<'_>,
    script: &Script,
    names: Vec<String>,
    options: &ChainPlayOptions,
    played: &[Played],
) -> Result<PlayedChain> {
    let measured_days = script.end() - script.warm_up;
    let years = measured_days / YEAR_DAYS;
    let months = assumptions.calendar.months().iter().enumerate().map(|(m, month)| {
        let of = |at: usize| figure(played, |p| get(p.months.get(m).map_or(&[][..], |r| &r[..]), at));
        PlayedMonth {
            from: month.from,
            to: month.to,
            needed: of(sheet::NEEDED),
            planned: of(sheet::PLANNED),
            failures: of(sheet::FAILED),
            dark_hours: of(sheet::MONTH_DARK),
            ordered: of(sheet::ORDERED),
            emergencies: of(sheet::MONTH_ELSEWHERE),
            on_hand_at_end: figure(played, |p| get(&p.on_hand_at_ends, m)),
        }
    });
    let places = names.into_iter().enumerate().map(|(at, place)| {
        let count = |p: &Played, of: usize| get(p.places.get(at).map_or(&[][..], |r| &r[..]), of);
        let time = |p: &Played, of: usize| get(p.meters.get(at).map_or(&[][..], |m| &m.sums[..]), of);
        let a_year = |of: usize| figure(played, |p| count(p, of) / years);
        let share = |of: usize| figure(played, |p| time(p, of) / measured_days);
        PlayedPlace {
            place,
            needed_a_year: a_year(sheet::ASKED),
            fill_rate: ratio(played, |p| count(p, sheet::MET), |p| count(p, sheet::ASKED)),
            no_screen_waiting: share(sheet::NONE_WAITS),
            ready_rate: share(sheet::READY),
            mean_waiting: share(sheet::WAITING),
            mean_on_hand: share(sheet::ON_HAND),
            mean_on_order: share(sheet::ON_ORDER),
            mean_wait_days: ratio(played, |p| time(p, sheet::WAITING), |p| count(p, sheet::ASKED)),
            dark_hours_a_year: a_year(sheet::DARK_HOURS),
            emergencies_a_year: a_year(sheet::ELSEWHERE),
        }
    });
    let order = |p: &Played, of: usize| get(&p.orders, of);
    let orders = PlayedOrders {
        orders_a_year: figure(played, |p| order(p, sheet::ORDERS) / years),
        lamps_a_year: figure(played, |p| order(p, sheet::LAMPS) / years),
        no_stock_out_per_cycle: ratio(played, |p| order(p, sheet::CALM), |p| order(p, sheet::CYCLES)),
    };
    let (mut needed, mut needed_by_end) = (Vec::new(), Vec::new());
    let mut so_far = vec![0; played.len()];
    for m in 0..script.ends.len() - 1 {
        let here: Vec<u64> =
            played.iter().map(|p| p.months.get(m).map_or(0.0, |r| get(r, sheet::NEEDED)) as u64).collect();
        so_far.iter_mut().zip(&here).for_each(|(sum, n)| *sum += n);
        needed.push(spread(&here)?);
        needed_by_end.push(spread(&so_far)?);
    }
    Ok(PlayedChain {
        class: assumptions.screens.first().map(|s| s.class.clone()).unwrap_or_default(),
        screens: assumptions.screens.len(),
        planned_age_hours: script.planned_age,
        waiting: script.waiting,
        replicates: options.replicates,
        seed: options.seed,
        warm_up_days: options.warm_up_days,
        measured_days,
        months: months.collect(),
        places: places.collect(),
        orders,
        costs: assumptions.costs.as_ref().map(|costs| costs_of(costs, script, played, years)),
        ever_short: figure(played, |p| f64::from(u8::from(p.short))),
        needed,
        needed_by_end,
        draws: None,
    })
}

fn costs_of(costs: &super::chain::PlayCosts, script: &Script, played: &[Played], years: f64) -> PlayedCosts {
    let each = |p: &Played| {
        let times = |of: usize| p.meters.iter().map(|m| get(&m.sums, of)).sum::<f64>();
        let counts = |of: usize| p.places.iter().map(|r| get(r, of)).sum::<f64>();
        // At a store with sites nobody is dark for a lamp owed.
        let dark_days: f64 = if p.meters.len() > 1 {
            p.meters.iter().skip(1).map(|m| get(&m.sums, sheet::WAITING)).sum()
        } else {
            times(sheet::WAITING)
        };
        let shows = counts(sheet::DARK_HOURS) / costs.show_hours;
        [
            times(sheet::HOLDING) / YEAR_DAYS,
            costs.stock.per_order * get(&p.orders, sheet::ORDERS),
            get(&p.orders, sheet::PRICE),
            costs.stock.dark_day * dark_days + costs.stock.dark_show * shows,
            script.emergency.map_or(0.0, |e| e.1) * counts(sheet::ELSEWHERE),
        ]
    };
    let of = |at: usize| figure(played, |p| get(&each(p), at) / years);
    PlayedCosts {
        holding: of(0),
        ordering: of(1),
        lamps: of(2),
        waiting: of(3),
        emergencies: of(4),
        total: figure(played, |p| each(p).iter().sum::<f64>() / years),
    }
}

fn get(list: &[f64], at: usize) -> f64 {
    list.get(at).copied().unwrap_or(0.0)
}
