//! The lamps that one class needs in one world, place by place and month by month.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use super::ages::Ages;
use super::chain::{SharedBy, SharedEffect, SharedOn, Where};
use super::counts::Count;
use super::exposure::{Calendar, Clock, Programme};
use super::screen::Screen;
use super::shared::over_factor;
use super::windows::{Changes, Lamp, Lives, LnReliability, MeansTo};
use crate::base::error::{Error, Kind, Place, Result};
use crate::base::run::Run;
use crate::fit::World;
use crate::policy::WorldCurve;
use crate::terms::Costs;

/// Different screens of a site that are worked out and added in one go.
const BLOCK: usize = 64;

/// Points and weights of the Gauss-Hermite rule of 7 points for a standard normal (zeros of the Hermite polynomial He7).
pub(super) const NORMAL: [(f64, f64); 7] = [
    (-3.750_439_717_725_742, 0.000_548_268_855_972_218),
    (-2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (-1.154_405_394_739_968, 0.240_123_178_605_012_7),
    (0.0, 0.457_142_857_142_857_14),
    (1.154_405_394_739_968, 0.240_123_178_605_012_7),
    (2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (3.750_439_717_725_742, 0.000_548_268_855_972_218),
];

/// Lamps needed in one stretch of days.
#[derive(Clone, Debug)]
pub(super) struct Amount {
    /// Needed, planned, failures.
    pub(super) counts: [Count; 3],
    pub(super) planned_cost: f64,
    pub(super) failure_cost: f64,
    pub(super) hours: f64,
}

impl Amount {
    pub(super) fn needed(&self) -> &Count {
        let [needed, _, _] = &self.counts;
        needed
    }

    pub(super) fn mixed(parts: &[(f64, &Self)]) -> Self {
        let counts = [0, 1, 2].map(|kind| {
            let counts: Vec<_> = parts.iter().filter_map(|(w, p)| Some((*w, p.counts.get(kind)?))).collect();
            Count::weighted(&counts)
        });
        Self::with_means(counts, parts)
    }

    /// The same over the points of the quadrature of a shared factor.
    fn over_factor(parts: &[(f64, &Self)]) -> Self {
        let counts = [0, 1, 2].map(|kind| {
            let points = NORMAL.iter().zip(parts);
            let points: Vec<_> = points.filter_map(|((z, _), (w, p))| Some((*z, *w, p.counts.get(kind)?))).collect();
            over_factor(&points)
        });
        Self::with_means(counts, parts)
    }

    fn with_means(counts: [Count; 3], parts: &[(f64, &Self)]) -> Self {
        let mean = |of: fn(&Self) -> f64| parts.iter().map(|(w, p)| w * of(p)).sum();
        let (planned_cost, failure_cost) = (mean(|p| p.planned_cost), mean(|p| p.failure_cost));
        Self { counts, planned_cost, failure_cost, hours: mean(|p| p.hours) }
    }

    /// The sum of independent amounts.
    fn sum_of(parts: &[&Self]) -> Self {
        let counts =
            [0, 1, 2].map(|kind| Count::sum_of(parts.iter().filter_map(|p| p.counts.get(kind).cloned()).collect()));
        let sum = |of: fn(&Self) -> f64| parts.iter().map(|p| of(p)).sum();
        let (planned_cost, failure_cost) = (sum(|p| p.planned_cost), sum(|p| p.failure_cost));
        Self { counts, planned_cost, failure_cost, hours: sum(|p| p.hours) }
    }
}

/// The answer of one world.
#[derive(Debug)]
pub(super) struct InWorld {
    pub(super) places: Vec<Vec<Amount>>,
    pub(super) step_hours: f64,
    pub(super) changes_per_hour: f64,
}

/// One place with the screens of the class there.
#[derive(Debug)]
pub(super) struct PlaceLaid {
    pub(super) place: Where,
    pub(super) screens: usize,
    pub(super) due_now: usize,
    /// Places of the level below: none for a site.
    parts: Vec<usize>,
}

/// Equal screens of the class: their clock in hours at the start and at each end of a month, and at its stopping dates.
#[derive(Debug)]
struct Laden {
    age_hours: Option<f64>,
    at: Vec<f64>,
    /// (hours at the stopping date, whether that is the as-of date, chance); empty where it stays.
    stops: Vec<(f64, bool, f64)>,
}

/// A life that the lamps of today may have, with its tables and its weight.
#[derive(Clone, Copy)]
struct Tables<'a> {
    ages: &'a Ages,
    lives: Lives<'a>,
    weight: f64,
}

/// Screens of one site whose lamps share a circumstance: which, and how many equal ones of each.
#[derive(Debug)]
struct Block {
    site: usize,
    batch: OfBatch,
    screens: Vec<(usize, u64)>,
}

/// Which batch the lamps of today are of, as far as that is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum OfBatch {
    /// Nobody asks.
    Any,
    /// Each is a batch of its own: none is named for it.
    Alone,
    /// One of those that are named.
    Named(usize),
}

/// The screens of one class, laid out over sites and over the calendar.
#[derive(Debug)]
pub(super) struct Laid<'a> {
    /// Each different screen once, and in how many blocks it stands.
    screens: Vec<(Laden, usize)>,
    blocks: Vec<Block>,
    places: Vec<PlaceLaid>,
    /// Number of sites, which stand last among the places.
    sites: usize,
    calendar: &'a Calendar,
}

/// Lays the screens of a class out; lamps of different batches apart where these share a circumstance.
pub(super) fn lay_out<'a>(
    screens: &[Screen],
    class: &str,
    planned_age: f64,
    calendar: &'a Calendar,
    programmes: &BTreeMap<String, Programme>,
    shared: Option<SharedEffect>,
) -> Result<Laid<'a>> {
    let plain = Programme::default();
    let clocks: BTreeMap<&str, Clock> =
        programmes.iter().map(|(name, p)| (name.as_str(), Clock::new(calendar, p))).collect();
    let ordinary = Clock::new(calendar, &plain);
    let mut rows: Vec<(usize, &Screen)> = screens.iter().enumerate().filter(|(_, s)| s.class == class).collect();
    rows.sort_by(|a, b| (&a.1.depot, &a.1.site).cmp(&(&b.1.depot, &b.1.site)));
    let ends = calendar.ends();
    let mut problems = Vec::new();
    let mut laden = Vec::with_capacity(rows.len());
    for (row, screen) in &rows {
        let programme = screen.programme.as_deref().and_then(|name| programmes.get(name)).unwrap_or(&plain);
        let own = (!screen.spans.is_empty()).then(|| {
            let spans = programme.spans.iter().chain(&screen.spans).copied().collect();
            Clock::new(calendar, &Programme { spans, ..programme.clone() })
        });
        let shared = screen.programme.as_deref().and_then(|name| clocks.get(name)).unwrap_or(&ordinary);
        let clock = own.as_ref().unwrap_or(shared);
        let place = Place::input("screens").row(*row as u64 + 1).column("hours_per_week");
        problems.extend(clock.too_long(screen.hours_per_week, place));
        let hours = |day: usize| clock.at(day) * screen.hours_per_week / 7.0;
        let stop = |(day, chance)| (hours(calendar.days_to(day)), day == calendar.as_of(), chance);
        laden.push(Laden {
            age_hours: screen.age_hours,
            at: ends.iter().map(|d| hours(*d)).collect(),
            stops: screen.stop.iter().flat_map(super::stop::StopDate::outcomes).map(stop).collect(),
        });
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let by_batch = shared.is_some_and(|s| s.by == SharedBy::Batch);
    let batches = if by_batch { batches(&rows) } else { vec![OfBatch::Any; rows.len()] };
    Ok(placed(&rows, laden, &batches, planned_age, calendar))
}

/// The batch of each lamp of today.
fn batches(rows: &[(usize, &Screen)]) -> Vec<OfBatch> {
    let names: BTreeSet<&str> = rows.iter().filter_map(|r| r.1.batch.as_deref()).collect();
    let places: BTreeMap<&str, usize> = names.into_iter().enumerate().map(|(i, name)| (name, i)).collect();
    let of = |screen: &Screen| screen.batch.as_deref().and_then(|name| places.get(name)).copied();
    rows.iter().map(|r| of(r.1).map_or(OfBatch::Alone, OfBatch::Named)).collect()
}

/// The places: the chain, its depots, its sites.
fn placed<'a>(
    rows: &[(usize, &Screen)],
    laden: Vec<Laden>,
    batches: &[OfBatch],
    planned_age: f64,
    calendar: &'a Calendar,
) -> Laid<'a> {
    let place = |place| PlaceLaid { place, screens: 0, due_now: 0, parts: Vec::new() };
    let mut chain = place(Where::Chain);
    let (mut depots, mut sites, mut blocks) = (Vec::new(), Vec::new(), Vec::new());
    let (mut different, which) = different(laden);
    let mut start = 0;
    for depot in rows.chunk_by(|a, b| a.1.depot == b.1.depot) {
        let mut of_depot = place(Where::Depot(depot.first().map(|s| s.1.depot.clone()).unwrap_or_default()));
        for site in depot.chunk_by(|a, b| a.1.site == b.1.site) {
            let mut of_site = place(Where::Site(site.first().map(|s| s.1.site.clone()).unwrap_or_default()));
            of_site.screens = site.len();
            of_site.due_now = site.iter().filter(|s| s.1.age_hours.is_none_or(|a| a >= planned_age)).count();
            of_depot.due_now += of_site.due_now;
            chain.due_now += of_site.due_now;
            of_depot.parts.push(sites.len());
            of_depot.screens += site.len();
            chain.screens += site.len();
            let end = start + site.len();
            let mut here: BTreeMap<(OfBatch, usize), u64> = BTreeMap::new();
            let range = start..end;
            for (screen, batch) in
                which.get(range.clone()).into_iter().flatten().zip(batches.get(range).into_iter().flatten())
            {
                *here.entry((*batch, *screen)).or_default() += 1;
            }
            for (_, screen) in here.keys() {
                if let Some((_, used)) = different.get_mut(*screen) {
                    *used += 1;
                }
            }
            let here: Vec<(OfBatch, usize, u64)> =
                here.into_iter().map(|((batch, screen), n)| (batch, screen, n)).collect();
            for of_batch in here.chunk_by(|a, b| a.0 == b.0) {
                let batch = of_batch.first().map_or(OfBatch::Any, |one| one.0);
                let each: Vec<(usize, u64)> = of_batch.iter().map(|(_, screen, n)| (*screen, *n)).collect();
                blocks.extend(each.chunks(BLOCK).map(|c| Block { site: sites.len(), batch, screens: c.to_vec() }));
            }
            start = end;
            sites.push(of_site);
        }
        chain.parts.push(depots.len());
        depots.push(of_depot);
    }
    let (first_depot, first_site) = (1, 1 + depots.len());
    for part in &mut chain.parts {
        *part += first_depot;
    }
    for part in depots.iter_mut().flat_map(|d| &mut d.parts) {
        *part += first_site;
    }
    let count = sites.len();
    let places = std::iter::once(chain).chain(depots).chain(sites).collect();
    Laid { screens: different, blocks, places, sites: count, calendar }
}

/// Each different screen once, none used yet, and which of them every screen is.
fn different(laden: Vec<Laden>) -> (Vec<(Laden, usize)>, Vec<usize>) {
    let mut known: BTreeMap<Vec<u64>, usize> = BTreeMap::new();
    let mut different = Vec::new();
    let which = laden
        .into_iter()
        .map(|screen| {
            *known.entry(screen.bits()).or_insert_with(|| {
                different.push((screen, 0));
                different.len() - 1
            })
        })
        .collect();
    (different, which)
}

impl Laid<'_> {
    pub(super) fn places(&self) -> &[PlaceLaid] {
        &self.places
    }

    /// Hours of the fullest horizon, and of the fullest month, of any screen.
    fn longest(&self) -> (f64, f64) {
        let all = self.screens.iter().filter_map(|s| s.0.at.last().copied()).fold(0.0, f64::max);
        let months = self.screens.iter().flat_map(|s| s.0.at.windows(2));
        let month = |w: &[f64]| w.last().copied().unwrap_or(0.0) - w.first().copied().unwrap_or(0.0);
        (all, months.map(month).fold(0.0, f64::max))
    }

    /// Lamps needed at each place in each month and over all months, with what stands behind them.
    pub(super) fn in_world(
        &self,
        world: &World,
        planned_age: f64,
        shared: Option<SharedEffect>,
        run: &Run,
    ) -> Result<InWorld> {
        let curve = WorldCurve::new(world)?;
        let changes_per_hour = |curve: &WorldCurve<'_>| Ok(1.0 / curve.up_to(planned_age)?.exposure_hours);
        if let Some(effect) = shared.filter(|s| s.by == SharedBy::Batch) {
            let (places, step_hours) = self.by_batch(world, &curve, planned_age, effect, run)?;
            return Ok(InWorld { places, step_hours, changes_per_hour: changes_per_hour(&curve)? });
        }
        let factors: Vec<(f64, f64)> = match shared {
            Some(effect) => NORMAL.iter().map(|(z, w)| ((effect.spread * z).exp(), *w)).collect(),
            None => vec![(1.0, 1.0)],
        };
        let on_hours = shared.is_some_and(|s| s.on == SharedOn::Hours);
        let (by_chain, by_site) =
            (shared.is_some_and(|s| s.by == SharedBy::Chain), shared.is_some_and(|s| s.by == SharedBy::Site));
        let mut largest_step: f64 = 0.0;
        let mut cases: Vec<(f64, Vec<Vec<Amount>>)> = Vec::new();
        for (factor, weight) in factors {
            run.check()?;
            let (hazard, hours) = if on_hours { (1.0, factor) } else { (factor, 1.0) };
            let ln_reliability = |age: f64| hazard * curve.ln_reliability(age);
            let ages = self.ages(&curve, &ln_reliability, planned_age, hours)?;
            largest_step = largest_step.max(ages.step);
            let lives = Lives { today: &ln_reliability, fresh: &ln_reliability };
            let tables = [Tables { ages: &ages, lives, weight: 1.0 }];
            let blocks = self.blocks_under(&tables, planned_age, hours, &world.costs);
            let sites = self.sites_of(&blocks);
            cases.push((weight, if by_site { sites } else { self.upwards(sites) }));
        }
        let mixed = |cases: &[(f64, Vec<Vec<Amount>>)]| -> Vec<Vec<Amount>> {
            let places = cases.first().map_or(0, |c| c.1.len());
            let at = |p: usize| cases.iter().filter_map(|(w, c)| Some((*w, c.get(p)?.as_slice()))).collect::<Vec<_>>();
            (0..places).map(|p| over_factor_by_month(&at(p))).collect()
        };
        let places = match cases.len() {
            1 => cases.pop().map(|c| c.1).unwrap_or_default(),
            _ if by_chain => mixed(&cases),
            _ => self.upwards(mixed(&cases)),
        };
        Ok(InWorld { places, step_hours: largest_step, changes_per_hour: changes_per_hour(&curve)? })
    }

    /// The tables of one life of lamps fitted later.
    fn ages(
        &self,
        curve: &WorldCurve<'_>,
        ln_reliability: &LnReliability<'_>,
        planned_age: f64,
        hours: f64,
    ) -> Result<Ages> {
        let (all, month) = self.longest();
        let oldest = self.screens.iter().filter_map(|s| s.0.age_hours).fold(0.0, f64::max);
        Ages::new(curve, ln_reliability, planned_age, oldest, (all * hours).max(1.0), month * hours)
    }

    /// Lamps needed where the lamps of today share a circumstance by their batch: each batch is mixed over its factor for
    /// itself, at every site, depot and in the chain, and batches are independent. Also the step of the tables.
    fn by_batch(
        &self,
        world: &World,
        curve: &WorldCurve<'_>,
        planned_age: f64,
        effect: SharedEffect,
        run: &Run,
    ) -> Result<(Vec<Vec<Amount>>, f64)> {
        let fresh = |age: f64| curve.ln_reliability(age);
        let ages = self.ages(curve, &fresh, planned_age, 1.0)?;
        let factors = NORMAL.map(|(z, w)| ((effect.spread * z).exp(), w));
        let today = factors.map(|(factor, _)| move |age: f64| factor * curve.ln_reliability(age));
        let mut own = Vec::with_capacity(today.len());
        for life in &today {
            run.check()?;
            own.push(ages.with_today(curve, life));
        }
        let each: Vec<Tables<'_>> = (own.iter().zip(&today).zip(&factors))
            .map(|((ages, life), (_, weight))| Tables {
                ages,
                lives: Lives { today: life, fresh: &fresh },
                weight: *weight,
            })
            .collect();
        let mut cases = Vec::with_capacity(each.len());
        for one in &each {
            run.check()?;
            cases.push(self.blocks_under(std::slice::from_ref(one), planned_age, 1.0, &world.costs));
        }
        // A lamp of no named batch has a factor to itself, over which its own chances are mixed.
        let alone = self.blocks.iter().any(|b| b.batch == OfBatch::Alone);
        let alone = if alone { self.blocks_under(&each, planned_age, 1.0, &world.costs) } else { Vec::new() };
        let first = self.places.len() - self.sites;
        let sites_of = |place: usize| match place.checked_sub(first) {
            Some(site) => vec![site],
            None if place == 0 => (0..self.sites).collect(),
            None => self.places.get(place).into_iter().flat_map(|d| &d.parts).map(|p| p - first).collect(),
        };
        let mut at_site: Vec<Vec<usize>> = vec![Vec::new(); self.sites];
        for (i, block) in self.blocks.iter().enumerate() {
            if let Some(list) = at_site.get_mut(block.site) {
                list.push(i);
            }
        }
        let at_place = |place: usize| {
            let mut by_batch: BTreeMap<OfBatch, Vec<usize>> = BTreeMap::new();
            for i in sites_of(place).into_iter().filter_map(|site| at_site.get(site)).flatten() {
                if let Some(block) = self.blocks.get(*i) {
                    by_batch.entry(block.batch).or_default().push(*i);
                }
            }
            let sum =
                |of: &[Vec<Amount>], list: &[usize]| added(&list.iter().filter_map(|i| of.get(*i)).collect::<Vec<_>>());
            let of_batch = |(batch, list): (&OfBatch, &Vec<usize>)| {
                if *batch == OfBatch::Alone {
                    return sum(&alone, list);
                }
                let sums: Vec<(f64, Vec<Amount>)> =
                    cases.iter().zip(&factors).map(|(case, (_, weight))| (*weight, sum(case, list))).collect();
                over_factor_by_month(&sums.iter().map(|(w, s)| (*w, s.as_slice())).collect::<Vec<_>>())
            };
            let batches: Vec<Vec<Amount>> = by_batch.iter().map(of_batch).collect();
            added(&batches.iter().collect::<Vec<_>>())
        };
        Ok(((0..self.places.len()).into_par_iter().map(at_place).collect(), ages.step))
    }

    /// Lamps needed by the screens of each block, mixed screen by screen over the lives that its lamp may have.
    fn blocks_under(&self, tables: &[Tables<'_>], planned_age: f64, hours: f64, costs: &Costs) -> Vec<Vec<Amount>> {
        let changes = |screen: &Laden| screen.mixed_changes(tables, planned_age, hours);
        // What stands in several blocks is worked out before; the rest only within its block, to spare memory.
        let often = |(screen, used): &(Laden, usize)| (*used > 1).then(|| changes(screen));
        let known: Vec<Option<Vec<Changes>>> = self.screens.par_iter().map(often).collect();
        let months = self.calendar.months().len() + 1;
        let of_block = |block: &Block| {
            let each = block.screens.iter().filter_map(|(s, n)| {
                let known = known.get(*s).and_then(Option::as_ref).map(Cow::Borrowed);
                let worked_out = || self.screens.get(*s).map(|(screen, _)| Cow::Owned(changes(screen)));
                let age = self.screens.get(*s).and_then(|(screen, _)| screen.age_hours);
                // A lamp past its age is worth less than one at it, and one of unknown age nothing.
                let lost = age.map_or(costs.planned(), |age| costs.planned_at(age)) - costs.planned_at(planned_age);
                Some((known.or_else(worked_out)?, *n, lost))
            });
            let each: Vec<(Cow<'_, Vec<Changes>>, u64, f64)> = each.collect();
            (0..months)
                .map(|m| {
                    let changes: Vec<(&Changes, u64)> =
                        each.iter().filter_map(|(c, n, _)| Some((c.get(m)?, *n))).collect();
                    let of_due = each.iter().filter_map(|(c, n, lost)| Some(*n as f64 * c.get(m)?.due * lost));
                    let due_cost: f64 = of_due.filter(|cost| *cost != 0.0).sum();
                    let counts = [0, 1, 2].map(|kind| {
                        let parts = changes.iter().filter_map(|(c, n)| Some((c.chances.get(kind)?, *n)));
                        Count::sum_of(parts.map(|(p, n)| Count::of_known(p).power(n)).collect())
                    });
                    let [_, planned, _] = &counts;
                    let planned_cost = planned.mean() * costs.planned_at(planned_age) + due_cost;
                    let sum = |of: fn(&Changes) -> f64| changes.iter().map(|(c, n)| *n as f64 * of(c)).sum();
                    let (failure_cost, hours) = (sum(|c| c.failure_cost), sum(|c| c.hours));
                    Amount { counts, planned_cost, failure_cost, hours }
                })
                .collect()
        };
        self.blocks.par_iter().map(of_block).collect()
    }

    /// Lamps needed at each site.
    fn sites_of(&self, blocks: &[Vec<Amount>]) -> Vec<Vec<Amount>> {
        let mut by_site: Vec<Vec<&Vec<Amount>>> = vec![Vec::new(); self.sites];
        for (block, amounts) in self.blocks.iter().zip(blocks) {
            if let Some(list) = by_site.get_mut(block.site) {
                list.push(amounts);
            }
        }
        by_site.iter().map(|parts| added(parts)).collect()
    }

    /// The depots and the chain above the sites.
    fn upwards(&self, sites: Vec<Vec<Amount>>) -> Vec<Vec<Amount>> {
        let first = self.places.len() - self.sites;
        let depots: Vec<Vec<Amount>> = self
            .places
            .get(1..first)
            .unwrap_or(&[])
            .par_iter()
            .map(|d| added(&d.parts.iter().filter_map(|p| sites.get(*p - first)).collect::<Vec<_>>()))
            .collect();
        let chain = added(&depots.iter().collect::<Vec<_>>());
        std::iter::once(chain).chain(depots).chain(sites).collect()
    }
}

/// The amounts of each month over the points of the quadrature of a shared factor.
fn over_factor_by_month(cases: &[(f64, &[Amount])]) -> Vec<Amount> {
    let months = cases.first().map_or(0, |c| c.1.len());
    let of = |m: usize| cases.iter().filter_map(|(w, c)| Some((*w, c.get(m)?))).collect::<Vec<_>>();
    (0..months).into_par_iter().map(|m| Amount::over_factor(&of(m))).collect()
}

/// The sums, month by month, of independent places.
fn added(parts: &[&Vec<Amount>]) -> Vec<Amount> {
    let months = parts.first().map_or(0, |p| p.len());
    (0..months)
        .into_par_iter()
        .map(|m| Amount::sum_of(&parts.iter().filter_map(|p| p.get(m)).collect::<Vec<_>>()))
        .collect()
}

impl Laden {
    /// All that its needs depend on.
    fn bits(&self) -> Vec<u64> {
        let age = self.age_hours.map_or(u64::MAX, f64::to_bits);
        let stops = self.stops.iter().flat_map(|(h, today, chance)| [h.to_bits(), u64::from(*today), chance.to_bits()]);
        std::iter::once(age).chain(self.at.iter().map(|h| h.to_bits())).chain(stops).collect()
    }

    /// Changes in each month, and over all months, mixed over the lives that the lamp of today may have.
    fn mixed_changes(&self, tables: &[Tables<'_>], planned_age: f64, hours: f64) -> Vec<Changes> {
        if let [only] = tables {
            return self.changes(only, planned_age, hours);
        }
        let mut sums: Vec<Changes> = Vec::new();
        for table in tables {
            let changes = self.changes(table, planned_age, hours);
            sums.resize_with(changes.len(), Changes::empty);
            for (sum, case) in sums.iter_mut().zip(&changes) {
                sum.add_case(table.weight, case);
            }
        }
        sums
    }

    /// Changes in each month, and over all months.
    fn changes(&self, tables: &Tables<'_>, planned_age: f64, hours: f64) -> Vec<Changes> {
        let (ages, lives) = (tables.ages, &tables.lives);
        let young = self.age_hours.filter(|a| *a < planned_age);
        let lamp = young.and_then(|age| Lamp::new(ages, lives, age));
        let due = lamp.is_none();
        // What replaces a lamp that is due has the life of those fitted later.
        let after = ages.of_fresh();
        let of_fresh = Lives { today: lives.fresh, ..*lives };
        let (lamp, lives) = match lamp {
            Some(lamp) => (lamp, lives),
            None => match Lamp::new(&after, &of_fresh, 0.0) {
                Some(lamp) => (lamp, &of_fresh),
                None => return Vec::new(),
            },
        };
        let means = |h: f64| lamp.means_to(h * hours / ages.step, lives);
        let between = |from: &MeansTo, to: &MeansTo, first: bool| {
            let changes = lamp.changes(from, to);
            if due && first { changes.and_one_planned() } else { changes }
        };
        // (hours, means) at the start and at each end of a month.
        let ends: Vec<(f64, MeansTo)> = self.at.iter().map(|h| (*h, means(*h))).collect();
        let period = |from: &(f64, MeansTo), to: &(f64, MeansTo), first: bool| {
            if self.stops.is_empty() {
                return between(&from.1, &to.1, first);
            }
            let mut sum = Changes::empty();
            let mut whole = 0.0;
            for &(at, today, chance) in &self.stops {
                if today || (at <= from.0 && !first) {
                    sum.add_case(chance, &Changes::none());
                } else if at >= to.0 {
                    whole += chance;
                } else {
                    sum.add_case(chance, &between(&from.1, &means(at), first));
                }
            }
            if whole > 0.0 {
                sum.add_case(whole, &between(&from.1, &to.1, first));
            }
            sum
        };
        let pairs = ends.iter().zip(ends.iter().skip(1)).enumerate();
        let months = pairs.map(|(m, (from, to))| period(from, to, m == 0));
        let whole = ends.first().zip(ends.last()).map(|(from, to)| period(from, to, true));
        months.chain(whole).collect()
    }
}
