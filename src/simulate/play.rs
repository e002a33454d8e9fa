//! Plays every site as often as asked and adds up what came.

use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicU64, Ordering};

use super::assumptions::{Assumptions, DarkMinutes, failures};
use super::lamp::Causes;
use super::played::{AGE_BINS, EndedLamps, PlannedChange, PlayedFleet, PlayedTally, Simulated};
use super::sheet::{self, Layout, Moments, Sheet, Sums, Totals};
use super::site::{Screen, Script};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::demand::{Count, Horizon};
use crate::records::Ending;

/// Fewest plays of a site in one piece of work, and most pieces: enough to fill the threads, few enough to keep in memory.
const FEWEST_PLAYS: u64 = 64;
const MOST_PIECES: u64 = 512;

/// Most plays of a screen in one call; more would take days.
const MOST_PLAYS: u64 = 1_000_000_000;

/// Most counts of lamps kept, one for each replicate and period.
const MOST_COUNTS: u64 = 20_000_000;

/// How far, how often and with which seed a fleet is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlayOptions {
    /// Periods to play.
    pub horizon: Horizon,
    /// Plays of the whole fleet.
    pub replicates: usize,
    /// Seed of the draws.
    pub seed: u64,
}

/// A site and how often it stands in the fleet in the same state.
#[derive(Debug)]
struct Stratum {
    /// Places of the equal sites among all sites.
    sites: Vec<usize>,
    /// Plays before those of this stratum.
    before: u64,
}

/// Plays of the sites of one stratum that one piece of work has done.
#[derive(Debug)]
struct Piece {
    /// Strata that lie wholly inside the piece.
    whole: Totals,
    /// Parts of strata that do not.
    parts: Vec<(usize, Moments)>,
    oldest: Vec<f64>,
    by_age: Vec<u64>,
}

/// Plays a fleet out, event by event.
///
/// # Formula
/// ```text
/// a lamp of age a that fails by cause j at x_j:  x_j = Q_j(F_j(a) + R_j(a) u), u uniform on (0, 1); the first cause ends it
/// figure of the fleet = sum over sites; variance = sum over kinds of equal sites of (sites x variance of one site)
/// standard error = sqrt(variance / replicates)
/// ```
/// Sites are independent of each other, screens of a site are not where they share visits; so spreads are taken between
/// plays of whole sites that began in the same state, whether as copies in the fleet or as replicates.
///
/// Costs are those of the world, less what a warranty gives back for a failure at its age, and less what a used lamp is worth
/// at the age of its planned change. Screens burn their weekly hours
/// evenly. A change takes no time. A lamp past its age or the limit, or of unknown age, is
/// changed at the start. Of what falls on one instant a failure comes first, then the calendar, then the lamp's own age,
/// then the visit.
///
/// # Errors
/// All at once: `simulate.no_sockets`, `simulate.sites_length`, `simulate.site_blank`, `simulate.rule_age`,
/// `simulate.rule_visit_age`, `simulate.rule_from_age`, `simulate.days`, `simulate.visit_cost`, `simulate.dark_minutes`,
/// `simulate.dark_minutes_missing`. Then `demand.socket_age`, `demand.socket_hours`; those of
/// [`WorldCurve::new`](crate::policy::WorldCurve::new); `demand.horizon`, `simulate.no_time` for periods of no length,
/// `simulate.replicates` for none, `simulate.too_large`, `simulate.too_many_changes`; a stop.
///
/// # Numerics
/// Each screen has its own stream in each replicate, and each site one for its visits; sums run over fixed pieces of
/// work. The result is the same to the byte on any number of threads. The n-th lamp of a screen lives the same hours under
/// every rule, so that a difference of two rules at one seed varies less than either.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::demand::{Horizon, SocketToday};
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::simulate::{Assumptions, PlayOptions, Rule, play_fleet};
/// use relamp::terms::{Costs, PrintedHours};
/// let printed = PrintedHours { maximum_hours: Some(1000.0), source: "invented".into(), ..PrintedHours::default() };
/// let limit = printed.limit()?;
/// // Lamps that all but never fail: 10 h a day, so one with 900 h behind it is changed on day 10 and every 100 days.
/// let life = Box::new(Weibull { shape: 3.0, scale: 1e9 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let sockets = [SocketToday { age_hours: Some(900.0), hours_per_week: 70.0 }];
/// let assumptions = Assumptions::new(&sockets, &world, Rule::AtAge { age_hours: 1000.0 }, &limit);
/// let options = PlayOptions { horizon: Horizon { period_days: 50.0, periods: 3 }, replicates: 4, seed: 1 };
/// let played = play_fleet(&assumptions, &options, &Run::new())?;
/// let changes: Vec<f64> = played.periods.iter().map(|p| p.changes.mean).collect();
/// assert_eq!(changes, [1.0, 0.0, 1.0]);
/// assert_eq!((played.whole.cost.mean, played.whole.cost.standard_error), (1900.0, Some(0.0)));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn play_fleet(assumptions: &Assumptions<'_>, options: &PlayOptions, run: &Run) -> Result<PlayedFleet> {
    let rule = assumptions.check()?;
    let horizon = options.horizon;
    horizon.check()?;
    check_size(assumptions.sockets.len(), options)?;
    let world = assumptions.world;
    let endings = failures(world);
    let minutes = &assumptions.dark_minutes;
    let script = Script {
        causes: Causes::new(world, &endings),
        rule,
        visits: assumptions.visits,
        limit: assumptions.limit.hours(),
        visit_cost: assumptions.visit_cost,
        costs: &world.costs,
        failure_costs: endings.iter().map(|e| world.costs.failure(*e)).collect::<Result<_>>()?,
        warranty: world.costs.warranty(),
        covered: endings.iter().map(|e| world.costs.warranty().is_some_and(|w| w.covers(*e))).collect(),
        planned_minutes: minutes.planned,
        failure_minutes: endings.iter().map(|e| minutes.by_ending.get(e).copied().unwrap_or(0.0)).collect(),
        discount: assumptions.discount,
        period_days: horizon.period_days,
        periods: horizon.periods,
        seed: options.seed,
    };
    let sites = sites(assumptions, &script);
    let strata = strata(&sites, options.replicates as u64);
    let layout = Layout { periods: horizon.periods, failures: endings.len() };
    let counts: Vec<AtomicU64> = (0..options.replicates * horizon.periods).map(|_| AtomicU64::new(0)).collect();
    let plays = sites.len() as u64 * options.replicates as u64;
    let each = FEWEST_PLAYS.max(plays.div_ceil(MOST_PIECES));
    let stage = Stage { script: &script, sites: &sites, strata: &strata, layout, options, counts: &counts };
    let pieces = run
        .map(plays.div_ceil(each) as usize, |i| {
            let from = i as u64 * each;
            stage.piece(from, (from + each).min(plays), run)
        })?
        .into_iter()
        .collect::<Result<Vec<_>>>()?;
    let joined = join(pieces, &strata, layout);
    told(&stage, &assumptions.dark_minutes, &endings, &joined)
}

fn check_size(sockets: usize, options: &PlayOptions) -> Result<()> {
    let horizon = options.horizon;
    if horizon.period_days <= 0.0 {
        let problem = Problem::new("simulate.no_time", "periods without length have nothing to play");
        let place = Place::input("horizon").column("period_days");
        return Err(Error::new(Kind::Domain, problem.at(place).got(horizon.period_days).expected("days above 0")));
    }
    if options.replicates == 0 {
        let problem = Problem::new("simulate.replicates", "a fleet must be played at least once");
        return Err(Error::new(Kind::Domain, problem.at(Place::input("replicates")).got(0).expected("1 or more")));
    }
    let replicates = options.replicates as u64;
    let plays = replicates.saturating_mul(sockets as u64);
    let counts = replicates.saturating_mul(horizon.periods as u64);
    if plays > MOST_PLAYS || counts > MOST_COUNTS || sockets as u64 > u64::from(u32::MAX) {
        let got = format!(
            "{} of {} over {}",
            counted(replicates, "replicate"),
            counted(sockets as u64, "screen"),
            counted(horizon.periods as u64, "period")
        );
        let expected = format!(
            "at most {} of a screen and {} of a period",
            counted(MOST_PLAYS, "play"),
            counted(MOST_COUNTS, "play")
        );
        let problem = Problem::new("simulate.too_large", "more to play than one call may hold");
        return Err(Error::new(Kind::Limit, problem.at(Place::input("replicates")).got(got).expected(expected)));
    }
    Ok(())
}

/// The screens of each site, sites in order of their first screen.
fn sites(assumptions: &Assumptions<'_>, script: &Script<'_>) -> Vec<Vec<Screen>> {
    let mut places: HashMap<&str, usize> = HashMap::new();
    let mut sites: Vec<Vec<Screen>> = Vec::new();
    for (i, socket) in assumptions.sockets.iter().enumerate() {
        let screen = Screen {
            index: i as u64,
            hours_per_day: socket.hours_per_week / 7.0,
            age: socket.age_hours,
            due: script.due(socket.age_hours),
        };
        let place = match assumptions.sites.get(i) {
            Some(name) => *places.entry(name.as_str()).or_insert(sites.len()),
            None => sites.len(),
        };
        match sites.get_mut(place) {
            Some(site) => site.push(screen),
            None => sites.push(vec![screen]),
        }
    }
    sites
}

/// Groups sites that begin in the same state, whatever the order of their screens.
fn strata(sites: &[Vec<Screen>], replicates: u64) -> Vec<Stratum> {
    let mut groups: BTreeMap<Vec<(u64, Option<u64>)>, Vec<usize>> = BTreeMap::new();
    for (i, site) in sites.iter().enumerate() {
        // -0.0 equals 0.0, but not to the bit.
        let bits = |x: f64| (x + 0.0).to_bits();
        let mut state: Vec<_> = site.iter().map(|s| (bits(s.hours_per_day), s.age.map(bits))).collect();
        state.sort_unstable();
        groups.entry(state).or_default().push(i);
    }
    let mut before = 0;
    let mut strata: Vec<Stratum> = groups.into_values().map(|sites| Stratum { sites, before: 0 }).collect();
    for stratum in &mut strata {
        stratum.before = before;
        before += stratum.sites.len() as u64 * replicates;
    }
    strata
}

/// What all pieces of work share.
struct Stage<'a> {
    script: &'a Script<'a>,
    sites: &'a [Vec<Screen>],
    strata: &'a [Stratum],
    layout: Layout,
    options: &'a PlayOptions,
    /// Changes by replicate and period. Whole numbers add up to the same in any order.
    counts: &'a [AtomicU64],
}

impl Stage<'_> {
    /// Plays number `from` to before `to`, in the order of strata, sites, replicates.
    fn piece(&self, from: u64, to: u64, run: &Run) -> Result<Piece> {
        let replicates = self.options.replicates as u64;
        let mut sheet = Sheet::new(self.layout);
        let mut piece =
            Piece { whole: Totals::new(self.layout), parts: Vec::new(), oldest: Vec::new(), by_age: Vec::new() };
        let first = self.strata.partition_point(|s| s.before <= from).saturating_sub(1);
        for (index, stratum) in self.strata.iter().enumerate().skip(first) {
            if stratum.before >= to {
                break;
            }
            let plays = stratum.sites.len() as u64 * replicates;
            let (start, end) = (from.max(stratum.before), to.min(stratum.before + plays));
            let mut sums: Option<Sums> = None;
            for play in start..end {
                run.check()?;
                let (place, replicate) = ((play - stratum.before) / replicates, (play - stratum.before) % replicates);
                let Some((site, screens)) =
                    stratum.sites.get(place as usize).and_then(|&s| Some((s, self.sites.get(s)?)))
                else {
                    continue;
                };
                let row = replicate as usize * self.layout.periods;
                self.script.play(site as u64, screens, replicate, &mut sheet, |period| {
                    if let Some(count) = self.counts.get(row + period) {
                        count.fetch_add(1, Ordering::Relaxed);
                    }
                })?;
                match &mut sums {
                    Some(sums) => sums.add(&sheet),
                    None => sums = Some(Sums::new(&sheet)),
                }
            }
            let Some(moments) = sums.map(Sums::finish) else { continue };
            if moments.plays == plays {
                piece.whole.add(&moments, stratum.sites.len() as u64);
            } else {
                piece.parts.push((index, moments));
            }
        }
        piece.oldest = sheet.oldest;
        piece.by_age = sheet.by_age;
        Ok(piece)
    }
}

/// Everything added up.
struct Joined {
    totals: Totals,
    oldest: Vec<f64>,
    by_age: Vec<u64>,
}

fn join(pieces: Vec<Piece>, strata: &[Stratum], layout: Layout) -> Joined {
    let mut joined = Joined {
        totals: Totals::new(layout),
        oldest: vec![-1.0; layout.ways()],
        by_age: vec![0; layout.ways() * AGE_BINS],
    };
    let mut open: Option<(usize, Moments)> = None;
    let close = |totals: &mut Totals, open: Option<(usize, Moments)>| {
        if let Some((index, moments)) = open {
            totals.add(&moments, strata.get(index).map_or(0, |s| s.sites.len() as u64));
        }
    };
    for piece in pieces {
        joined.totals.join(&piece.whole);
        for (index, moments) in piece.parts {
            match &mut open {
                Some((at, so_far)) if *at == index => so_far.join(&moments),
                _ => close(&mut joined.totals, open.replace((index, moments))),
            }
        }
        for (a, b) in joined.oldest.iter_mut().zip(&piece.oldest) {
            *a = a.max(*b);
        }
        for (a, b) in joined.by_age.iter_mut().zip(&piece.by_age) {
            *a += b;
        }
    }
    close(&mut joined.totals, open);
    joined
}

/// The answer from what was added up.
fn told(stage: &Stage<'_>, dark: &DarkMinutes, endings: &[Ending], joined: &Joined) -> Result<PlayedFleet> {
    let Stage { script, sites, layout, options, counts, .. } = *stage;
    let totals = &joined.totals;
    let replicates = options.replicates as f64;
    let figure = |at: usize| {
        let sd = (!totals.once).then(|| totals.variance.get(at).map_or(0.0, |v| v.sqrt()));
        Simulated {
            mean: totals.mean.get(at).copied().unwrap_or(0.0),
            sd,
            standard_error: sd.map(|sd| sd / replicates.sqrt()),
        }
    };
    let kinds = PlannedChange::ALL.len();
    let came = |way: usize| totals.mean.get(layout.at(layout.periods, sheet::KINDS + way)).is_some_and(|m| *m > 0.0);
    let row = |row: usize| {
        let figure = |place: usize| figure(layout.at(row, place));
        let kind = |(way, kind): (usize, &PlannedChange)| (*kind, figure(sheet::KINDS + way));
        let failure = |(i, e): (usize, &Ending)| (*e, figure(sheet::KINDS + kinds + i));
        PlayedTally {
            changes: figure(sheet::CHANGES),
            planned: figure(sheet::PLANNED),
            planned_by_kind: PlannedChange::ALL.iter().enumerate().filter(|(way, _)| came(*way)).map(kind).collect(),
            failures: figure(sheet::FAILURES),
            failures_by_ending: endings.iter().enumerate().map(failure).collect(),
            failures_of_todays_lamps: figure(sheet::OF_TODAY),
            cost: figure(sheet::COST),
            discounted_cost: script.discount.map(|_| figure(sheet::DISCOUNTED)),
            dark_minutes: figure(sheet::DARK),
            burning_hours: figure(sheet::HOURS),
            visits_for_lamps: figure(sheet::FOR_LAMPS),
            visits_anyway: figure(sheet::ANYWAY),
        }
    };
    let ended = |way: usize, ending: Ending, planned: Option<PlannedChange>| {
        let at = layout.ended(way);
        let (lamps, ages) = (figure(at), figure(at + 1));
        let mean_age_hours = (lamps.mean > 0.0).then(|| ages.mean / lamps.mean);
        let covariance = totals.covariance.get(way).copied().unwrap_or(0.0);
        let spread = |m: f64| {
            let (n, a) = (lamps.sd?, ages.sd?);
            Some(((a * a - 2.0 * m * covariance + m * m * n * n).max(0.0) / replicates).sqrt() / lamps.mean)
        };
        let bins = joined.by_age.get(way * AGE_BINS..(way + 1) * AGE_BINS).unwrap_or(&[]);
        EndedLamps {
            ending,
            planned,
            lamps,
            mean_age_hours,
            mean_age_standard_error: mean_age_hours.and_then(spread),
            oldest_hours: joined.oldest.get(way).copied().filter(|age| *age >= 0.0),
            by_age: bins.iter().map(|n| *n as f64 / replicates).collect(),
        }
    };
    let planned = PlannedChange::ALL.iter().enumerate().filter(|(way, _)| came(*way));
    let ended = planned
        .map(|(way, kind)| ended(way, Ending::Planned, Some(*kind)))
        .chain(endings.iter().enumerate().map(|(i, e)| ended(kinds + i, *e, None)))
        .collect();
    let (needed, needed_by_end) = needed(counts, layout.periods)?;
    let whole = row(layout.periods);
    Ok(PlayedFleet {
        rule: script.rule.clone(),
        visits: script.visits,
        dark: dark.clone(),
        discount: script.discount,
        limit_hours: script.limit,
        sockets: sites.iter().map(Vec::len).sum(),
        sites: sites.len(),
        due_now: sites.iter().flatten().filter(|s| s.due).count(),
        replicates: options.replicates,
        seed: options.seed,
        period_days: script.period_days,
        periods: (0..layout.periods).map(row).collect(),
        cost_per_hour: whole.cost_per_hour(),
        whole,
        needed,
        needed_by_end,
        ended,
    })
}

/// Distributions over the replicates of the lamps needed in each period, and by its end.
fn needed(counts: &[AtomicU64], periods: usize) -> Result<(Vec<Count>, Vec<Count>)> {
    let (mut each, mut by_end) = (Vec::with_capacity(periods), Vec::with_capacity(periods));
    let mut so_far = vec![0; counts.len() / periods];
    for period in 0..periods {
        let here: Vec<u64> = counts.iter().skip(period).step_by(periods).map(|n| n.load(Ordering::Relaxed)).collect();
        for (sum, n) in so_far.iter_mut().zip(&here) {
            *sum += n;
        }
        each.push(spread(&here)?);
        by_end.push(spread(&so_far)?);
    }
    Ok((each, by_end))
}

pub(super) fn spread(numbers: &[u64]) -> Result<Count> {
    let certain: Vec<Count> = numbers.iter().map(|n| Count::certain(*n)).collect();
    Count::mix(&certain.iter().collect::<Vec<_>>())
}
