//! Lamps needed by a screen that may stop within the forecast.

use std::sync::Arc;

use super::forecast::SocketToday;
use super::pace::Pace;
use super::renewal::mirrored;
use super::socket::{Changes, Grid, NEGLIGIBLE};
use super::until::Screen;

/// Chances that leave no more of 1 leave nothing: as near as those of a stop have to come to 1.
const WHOLE: f64 = 1e-9;

/// One lamp that burns today, and when its screen may stop.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct SocketUntil {
    pub(crate) socket: SocketToday,
    /// Days from today with their chances; what is left of the chances means that the screen burns on. A screen that
    /// stops today needs no lamp, not even for one that is due.
    pub(crate) stops: Vec<(f64, f64)>,
    /// First day on which it may stop, which may lie before those that stand for a window; infinite where it burns on.
    pub(crate) earliest: f64,
    /// How fast its clock runs; none for the same hours every day. Days are those of the calendar all the same.
    pub(crate) pace: Option<Arc<Pace>>,
}

impl SocketUntil {
    /// Screens that all burn on.
    pub(crate) fn burning_on(sockets: &[SocketToday]) -> Vec<Self> {
        let on = |s: &SocketToday| Self { socket: s.clone(), stops: Vec::new(), earliest: f64::INFINITY, pace: None };
        sockets.iter().map(on).collect()
    }

    /// Chance that the screen stops today.
    pub(crate) fn stops_today(&self) -> f64 {
        let today = || self.stops.iter().filter(|s| s.0 <= 0.0).map(|s| s.1);
        if left_of_one(today()) > 0.0 { today().sum() } else { 1.0 }
    }

    /// Chance that it burns on a day from today.
    pub(crate) fn burns_on(&self, day: f64) -> f64 {
        left_of_one(self.stops.iter().filter(|s| s.0 <= day).map(|s| s.1))
    }

    /// Whether it may burn on a day from today and after it.
    pub(crate) fn burns_from(&self, day: f64) -> bool {
        self.burns_on(day) > 0.0
    }

    /// Chance that it burns up to a day from today, and stops on that day at the earliest; none where it stops today.
    pub(crate) fn burns_up_to(&self, day: f64) -> f64 {
        left_of_one(self.stops.iter().filter(|s| s.0 <= 0.0 || s.0 < day).map(|s| s.1))
    }

    /// Mean days of its ordinary hours that it burns within a horizon.
    pub(crate) fn mean_days(&self, horizon: f64) -> f64 {
        let stays = left_of_one(self.stops.iter().map(|s| s.1));
        let burned = |(day, chance): &(f64, f64)| chance * self.ordinary(day.clamp(0.0, horizon));
        self.stops.iter().map(burned).sum::<f64>() + stays * self.ordinary(horizon)
    }

    /// Days of its ordinary hours burned by a day from today, if it burns on.
    pub(crate) fn ordinary(&self, day: f64) -> f64 {
        self.pace.as_ref().map_or(day, |pace| pace.days_at(day))
    }

    /// Days from today by which it has burned so many days of its ordinary hours, if it burns on; infinite past all forecasts.
    pub(crate) fn day_of(&self, ordinary: f64) -> f64 {
        self.pace.as_ref().map_or(ordinary, |pace| pace.day_of(ordinary))
    }

    /// Days of its ordinary hours burned within some days, with their chances; what is left of these means that it stops today.
    pub(crate) fn burned(&self, days: f64) -> Vec<(f64, f64)> {
        let stops =
            self.stops.iter().filter(|s| s.0 > 0.0).map(|(day, chance)| (self.ordinary(day.min(days)), *chance));
        let stays = left_of_one(self.stops.iter().map(|s| s.1));
        stops.chain((stays > 0.0).then(|| (self.ordinary(days), stays))).collect()
    }

    /// Days from today, with their chances, at which it may stop, in days of its ordinary hours.
    pub(super) fn ordinary_stops(&self) -> Vec<(f64, f64)> {
        self.stops.iter().map(|(day, chance)| (self.ordinary(*day), *chance)).collect()
    }

    /// Bits that put equal screens together.
    pub(super) fn bits(&self) -> Vec<u64> {
        let stops = self.stops.iter().flat_map(|(day, chance)| [day.to_bits(), chance.to_bits()]);
        stops.chain(self.pace.iter().map(|pace| pace.key())).collect()
    }
}

/// What some chances leave of 1; nothing where they sum to 1 but for rounding, so that no lamp is counted for a screen that
/// is gone for certain.
fn left_of_one(chances: impl Iterator<Item = f64>) -> f64 {
    let left = 1.0 - chances.sum::<f64>();
    if left > WHOLE { left } else { 0.0 }
}

/// When a screen may stop, on the steps of a forecast: a day between two steps is split over both, which keeps its mean.
#[derive(Debug)]
pub(super) struct Ends {
    /// Steps in rising order with their chances; the last step of the forecast stands for a screen that outlasts it.
    each: Vec<(usize, f64)>,
}

impl Ends {
    pub(super) fn new(stops: &[(f64, f64)], steps_per_day: f64, steps: usize) -> Self {
        let mut each: Vec<(usize, f64)> = Vec::with_capacity(2 * stops.len() + 1);
        for &(day, chance) in stops.iter().filter(|s| s.1 > 0.0) {
            let place = (day * steps_per_day).clamp(0.0, steps as f64);
            let (low, part) = (place.floor(), place - place.floor());
            each.push((low as usize, chance * (1.0 - part)));
            if part > 0.0 {
                each.push((low as usize + 1, chance * part));
            }
        }
        let stays = left_of_one(stops.iter().map(|s| s.1));
        if stays > 0.0 {
            each.push((steps, stays));
        }
        each.sort_by_key(|e| e.0);
        each.dedup_by(|next, kept| {
            let same = next.0 == kept.0;
            kept.1 += if same { next.1 } else { 0.0 };
            same
        });
        Self { each }
    }

    /// Those before a step, and the chance to burn up to it.
    pub(super) fn before(&self, step: usize) -> (&[(usize, f64)], f64) {
        let (before, after) = self.each.split_at(self.each.partition_point(|e| e.0 < step));
        // The sum of no terms is -0.
        (before, 0.0 + after.iter().map(|e| e.1).sum::<f64>())
    }

    /// Chances of at least 1, 2, ... changes by a step, mixed over when the screen stops; `by` gives them for a screen that
    /// burns up to a step.
    pub(super) fn at_least_by(&self, step: usize, mut by: impl FnMut(usize) -> Vec<f64>) -> Vec<f64> {
        let (before, burns) = self.before(step);
        let mut sum = Vec::new();
        for (end, chance) in before {
            add(&mut sum, *chance, &by(*end));
        }
        add(&mut sum, burns, &by(step));
        sum
    }
}

/// Adds chances of at least 1, 2, ... with a weight.
pub(super) fn add(sum: &mut Vec<f64>, chance: f64, more: &[f64]) {
    sum.resize(sum.len().max(more.len()), 0.0);
    sum.iter_mut().zip(more).for_each(|(s, p)| *s += chance * p);
}

impl Grid {
    /// The changes of a screen that may stop, from those of the same screen burning on.
    pub(super) fn stopping(&self, screen: &Screen<'_>, plain: Changes, changes_at: &[f64], ends: &Ends) -> Changes {
        let width = self.steps_per_period;
        let known: Vec<(Vec<f64>, (f64, f64))> =
            ends.each.iter().map(|(end, _)| (screen.at_least_by(*end), screen.means_by(*end))).collect();
        let mut density = None;
        let mut changes = plain;
        for m in 0..self.periods {
            let (from, to) = (m * width, (m + 1) * width);
            let (before, burns) = ends.before(to);
            if before.is_empty() {
                continue;
            }
            let scaled = |list: Option<&Vec<f64>>| list.into_iter().flatten().map(|p| burns * p).collect::<Vec<f64>>();
            let mut by_end = scaled(changes.by_end.get(m));
            let (planned, failed) = changes.means.get(m).copied().unwrap_or_default();
            let mut means = (burns * planned, burns * failed);
            for ((_, chance), (by_it, mean)) in before.iter().zip(&known) {
                add(&mut by_end, *chance, by_it);
                means.0 += chance * mean.0;
                means.1 += chance * mean.1;
            }
            let mut in_period = scaled(changes.in_period.get(m));
            let within: Vec<(usize, f64)> = before.iter().filter(|e| e.0 > from).copied().collect();
            if !within.is_empty() {
                let density = density.get_or_insert_with(|| screen.failures_and_after(changes_at));
                let tos: Vec<usize> = within.iter().map(|e| e.0).collect();
                for ((_, chance), inside) in within.iter().zip(screen.inside(density, changes_at, from, &tos)) {
                    add(&mut in_period, *chance, &inside);
                }
            }
            if let Some(list) = changes.by_end.get_mut(m) {
                *list = by_end;
            }
            if let Some(list) = changes.in_period.get_mut(m) {
                *list = in_period;
            }
            if let Some(pair) = changes.means.get_mut(m) {
                *pair = means;
            }
        }
        changes
    }
}

impl Screen<'_> {
    /// Mean (planned, failure) changes by the end of a step.
    pub(super) fn means_by(&self, step: usize) -> (f64, f64) {
        let first = self.first.get(..step).unwrap_or(&self.first);
        let (more_planned, more_failed) = self.renewal.mean_tables();
        let head = |table: &[f64]| mirrored(first, table.get(..step).unwrap_or(table));
        let (mut planned, mut failed) = (head(more_planned), first.iter().sum::<f64>() + head(more_failed));
        if let Some((place, p)) = self.planned.filter(|(place, _)| *place <= step as f64) {
            let (later_planned, later_failed) = self.renewal.means_exact(step as f64 - place);
            planned += p * (1.0 + later_planned);
            failed += p * later_failed;
        }
        (planned, failed)
    }

    /// Mean changes in each step of which the first is a failure, so that only those after a planned first are missing.
    pub(super) fn failures_and_after(&self, changes_at: &[f64]) -> Vec<f64> {
        let upto = |i: usize| mirrored(self.first.get(..i).unwrap_or(&self.first), changes_at.get(..i).unwrap_or(&[]));
        (1..=self.steps).map(upto).collect()
    }

    /// Chances of at least 1, 2, ... changes after the end of one step and by the ends of later ones.
    ///
    /// # Formula
    /// ```text
    /// v_k = first_k + sum over i <= from of u_i next_{k - i},   u_i: mean changes in step i
    /// chance of n or more = sum over k of v_k reach_{n - 1}(to - k)
    /// ```
    /// v: the chance that the first change after `from` falls in step k. A planned first change is placed as
    /// [`super::renewal::placed`] reads a table: over the two steps whose middles stand beside it.
    pub(super) fn inside(&self, density: &[f64], changes_at: &[f64], from: usize, tos: &[usize]) -> Vec<Vec<f64>> {
        let next = self.renewal.next();
        let at = |list: &[f64], i: usize| list.get(i).copied().unwrap_or(0.0);
        let mut before = density.get(..from).unwrap_or(density).to_vec();
        // A planned change so near the start that it is read between the start itself and its first table entry.
        let mut near = None;
        if let Some((place, p)) = self.planned.filter(|(place, _)| *place <= from as f64) {
            let second = (place + 0.5).ceil();
            let part = second - (place + 0.5);
            let second = second as usize;
            if second <= from {
                for (step, mass) in [(second, p * (1.0 - part)), (second - 1, p * part)] {
                    for (sum, more) in before.iter_mut().skip(step.saturating_sub(1)).zip(changes_at) {
                        *sum += mass * more;
                    }
                }
            } else {
                near = Some((2.0 * (from as f64 - place), p));
            }
        }
        let last = tos.iter().copied().max().unwrap_or(from);
        let straight = |k: usize| next.get(k..from + k).unwrap_or(&[]);
        let entering: Vec<f64> = (1..=last.saturating_sub(from))
            .map(|k| at(&self.first, from + k - 1) + mirrored(&before, straight(k)))
            .collect();
        let of_end = |to: &usize| {
            let width = to.saturating_sub(from);
            let mut chances = Vec::new();
            for n in 0..=self.renewal.most() {
                let reach = self.renewal.reach(n).get(..width).unwrap_or(&[]);
                let mut chance = mirrored(entering.get(..width).unwrap_or(&entering), reach);
                if let Some((place, p)) = self.planned.filter(|(place, _)| *place > from as f64 && *place <= *to as f64)
                {
                    chance += p * self.renewal.at_least_exact(n, *to as f64 - place);
                }
                if let Some((weight, p)) = near {
                    let spread = at(changes_at, 0) * mirrored(next.get(1..=width).unwrap_or(&[]), reach);
                    let exact = self.renewal.at_least_exact(n + 1, width as f64);
                    chance += p * (weight * spread + (1.0 - weight) * exact);
                }
                if chance < NEGLIGIBLE {
                    break;
                }
                chances.push(chance.min(1.0));
            }
            chances
        };
        tos.iter().map(of_end).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::random::Stream;
    use crate::demand::{Count, Forecast, Horizon, NeededOf, forecast, forecast_until, needed_by_days};
    use crate::family::{Exponential, Life, Weibull};
    use crate::fit::{CauseLife, Draws, Method, World};
    use crate::policy::WorldCurve;
    use crate::records::Ending;
    use crate::terms::{Costs, HourLimit, PrintedHours};

    fn world(life: impl Life + 'static) -> World {
        let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life: Box::new(life) }];
        World { causes, costs: Costs::new(1.0, [(Ending::Burst, 5.0)]).unwrap() }
    }

    fn limit(hours: f64) -> HourLimit {
        let printed = PrintedHours { maximum_hours: Some(hours), source: "invented".into(), ..PrintedHours::default() };
        printed.limit().unwrap()
    }

    fn lamp(age: f64, stops: &[(f64, f64)]) -> SocketUntil {
        let socket = SocketToday { age_hours: Some(age).filter(|a| *a >= 0.0), hours_per_week: 84.0 };
        SocketUntil {
            socket,
            stops: stops.to_vec(),
            earliest: stops.first().map_or(f64::INFINITY, |s| s.0),
            pace: None,
        }
    }

    fn ahead(lamps: &[SocketUntil], world: &World, planned: f64, horizon: Horizon) -> Forecast {
        forecast_until(lamps, world, planned, &limit(planned), horizon).unwrap()
    }

    fn steep() -> Weibull {
        Weibull { shape: 2.5, scale: 1400.0 }
    }

    fn near(got: f64, expected: f64, slack: f64) {
        assert!((got - expected).abs() <= slack, "{got} {expected}");
    }

    /// Two lamps of known age, one due and one of unknown age.
    const AGES: [f64; 4] = [100.0, 850.0, 1200.0, -1.0];

    /// A window of days as even chances, whose sum misses 1 by a rounding: no lamp is counted past its end.
    #[test]
    fn a_screen_that_is_gone_for_certain_needs_exactly_nothing() {
        let world = world(steep());
        for days in 1..=40 {
            let stops: Vec<(f64, f64)> = (0..days).map(|d| (f64::from(d), 1.0 / f64::from(days))).collect();
            let lamps: Vec<SocketUntil> = AGES.iter().map(|a| lamp(*a, &stops)).collect();
            let gone = ahead(&lamps, &world, 1200.0, Horizon::months(4));
            for period in gone.periods.iter().skip(2) {
                assert_eq!(
                    (period.mean_planned, period.mean_failures, period.needed.mean()),
                    (0.0, 0.0, 0.0),
                    "{days}"
                );
            }
            assert_eq!((lamps[0].burns_on(40.0), lamps[0].burns_on(-1.0)), (0.0, 1.0), "{days}");
            assert_eq!(lamp(100.0, &[(0.0, 0.5), (0.0, 0.5 - 1e-16)]).stops_today(), 1.0);
        }
    }

    #[test]
    fn stops_past_the_horizon_change_no_bit_and_stops_today_leave_nothing() {
        let fleet = |stops: &[(f64, f64)]| AGES.map(|age| lamp(age, stops));
        let months = Horizon::months(6);
        let sockets: Vec<SocketToday> = fleet(&[]).iter().map(|s| s.socket.clone()).collect();
        let plain = forecast(&sockets, &world(steep()), 1000.0, &limit(1000.0), months).unwrap();
        for stops in [&[][..], &[(200.0, 0.5), (400.0, 0.5)], &[(182.625, 1.0)], &[(1000.0, 0.3)]] {
            assert_eq!(ahead(&fleet(stops), &world(steep()), 1000.0, months), plain, "{stops:?}");
        }
        let none = ahead(&fleet(&[(0.0, 1.0)]), &world(steep()), 1000.0, months);
        for period in &none.periods {
            assert_eq!((&period.needed, &period.needed_by_end), (&Count::certain(0), &Count::certain(0)));
            assert_eq!((period.mean_planned, period.mean_failures), (0.0, 0.0));
        }
    }

    #[test]
    fn a_case_by_hand() {
        // 12 h a day: the lamp of 640 h is changed on day 30, and its successor lives on. Its screen stops on day 20 or 40.
        let immortal = world(Exponential { scale: 1e15 });
        let one = ahead(&[lamp(640.0, &[(20.0, 0.5), (40.0, 0.5)])], &immortal, 1000.0, Horizon::months(3));
        let needed: Vec<f64> = one.periods.iter().map(|p| p.needed.mean()).collect();
        near(needed[0], 0.5, 1e-9);
        near(needed[1] + needed[2], 0.0, 1e-9);
        // A due lamp is changed today but for the quarter in which its screen stops today.
        let due = ahead(&[lamp(1000.0, &[(0.0, 0.25), (10.0, 0.75)])], &immortal, 1000.0, Horizon::months(2));
        near(due.periods[0].needed.at_most(0), 0.25, 1e-12);
        near(due.periods[1].needed_by_end.mean(), 0.75, 1e-12);
        near(due.periods[0].mean_planned, 0.75, 1e-12);
        // Without ageing and plan the changes of a screen are a Poisson number of the hours up to its stop.
        let even = world(Exponential { scale: 300.0 });
        let (first, second) = (12.0 * 40.0 / 300.0, 12.0 * 75.0 / 300.0);
        let gone = ahead(&[lamp(0.0, &[(40.0, 0.4), (75.0, 0.6)])], &even, 1e6, Horizon::months(3));
        let month = 12.0 * 30.4375 / 300.0;
        for n in 0..6 {
            let p = |mean: f64| Count::poisson(mean).unwrap().at_most(n);
            near(gone.periods[2].needed_by_end.at_most(n), 0.4 * p(first) + 0.6 * p(second), 2e-5);
            near(gone.periods[0].needed.at_most(n), p(month), 2e-5);
            near(gone.periods[1].needed.at_most(n), 0.4 * p(first - month) + 0.6 * p(month), 2e-5);
            near(gone.periods[2].needed.at_most(n), 0.4 + 0.6 * p(second - 2.0 * month), 2e-5);
        }
        near(gone.periods[1].mean_failures, 0.4 * (first - month) + 0.6 * month, 1e-9);
    }

    #[test]
    fn months_before_the_first_stop_stay_as_they_are() {
        let months = Horizon::months(8);
        let plain = ahead(&AGES.map(|age| lamp(age, &[])), &world(steep()), 1000.0, months);
        // 91.3 days end the third month.
        let stopping = ahead(&AGES.map(|age| lamp(age, &[(95.0, 0.5), (170.0, 0.5)])), &world(steep()), 1000.0, months);
        for (m, (a, b)) in plain.periods.iter().zip(&stopping.periods).enumerate() {
            assert_eq!(a == b, m < 3, "{m}");
            assert!(b.needed.mean() <= a.needed.mean());
            near(b.needed.mean(), b.mean_planned + b.mean_failures, 1e-9 * b.needed.mean() + 1e-12);
        }
        assert!(stopping.periods[6..].iter().all(|p| p.needed.mean() == 0.0));
    }

    #[test]
    fn a_part_of_a_month_that_is_the_whole_month_is_the_month() {
        let mut curve_of = world(steep());
        curve_of.costs = Costs::new(1.0, [(Ending::Burst, 5.0)]).unwrap();
        let (steps, periods, planned) = (61, 4, 1000.0);
        let step_hours = 12.0 * 30.4375 / steps as f64;
        let mut curve = WorldCurve::new(&curve_of).unwrap();
        let renewal = super::super::renewal::Renewal::new(&mut curve, planned, step_hours, steps * periods).unwrap();
        let windows = renewal.windows(steps);
        let grid = Grid { renewal, windows, step_hours, steps_per_period: steps, periods };
        let changes_at = grid.renewal.changes_at();
        // Planned changes far from a month's end, just before it, on it, and just after.
        let end = 61.0 * step_hours;
        for left in [600.0, end - 0.2 * step_hours, end - 0.49 * step_hours, end, end + 0.3 * step_hours, 40.0] {
            let age = planned - left;
            let plain = grid.changes(&curve, age, planned);
            let screen = Screen::new(&curve, &grid.renewal, age, planned, step_hours, steps * periods);
            let density = screen.failures_and_after(&changes_at);
            for m in 0..periods {
                let inside = screen.inside(&density, &changes_at, m * steps, &[(m + 1) * steps]);
                // Beyond the shorter list chances are negligible.
                let at = |list: &[f64], n: usize| list.get(n).copied().unwrap_or(0.0);
                for n in 0..plain.in_period[m].len().max(inside[0].len()) {
                    near(at(&inside[0], n), at(&plain.in_period[m], n), 1e-12);
                }
                for (got, expected) in screen.at_least_by((m + 1) * steps).iter().zip(&plain.by_end[m]) {
                    near(*got, *expected, 1e-12);
                }
                let means = screen.means_by((m + 1) * steps);
                near(means.0, plain.means[m].0, 1e-12);
                near(means.1, plain.means[m].1, 1e-12);
            }
        }
    }

    /// One world, as draws.
    #[derive(Debug)]
    struct Same;

    impl Draws for Same {
        fn len(&self) -> usize {
            2
        }
        fn best(&self) -> crate::base::error::Result<World> {
            Ok(world(steep()))
        }
        fn world(&self, _: usize) -> crate::base::error::Result<World> {
            self.best()
        }
        fn method(&self) -> Method {
            Method::Wald
        }
    }

    const STOPS: [&[(f64, f64)]; 4] =
        [&[(12.25, 0.25), (31.0, 0.25), (47.6, 0.25)], &[(50.0, 1.0)], &[], &[(0.0, 0.5), (33.0, 0.5)]];

    fn mixed_fleet() -> Vec<SocketUntil> {
        AGES.iter().zip(STOPS).flat_map(|(age, stops)| [lamp(*age, stops), lamp(*age, stops)]).collect()
    }

    #[test]
    fn days_and_periods_and_the_last_buy_say_the_same() {
        let (lamps, run) = (mixed_fleet(), crate::base::run::Run::new());
        let part = NeededOf { sockets: &lamps, days: &[0, 20, 60] };
        let days = needed_by_days(&[part], &Same, 1000.0, &run).unwrap().remove(0);
        assert_eq!(days[0], Count::certain(0));
        let periods = ahead(&lamps, &world(steep()), 1000.0, Horizon::days(60.0));
        let until: Vec<(&SocketToday, Vec<(f64, f64)>)> = lamps
            .iter()
            .map(|l| {
                let stays = 1.0 - l.stops.iter().map(|s| s.1).sum::<f64>();
                (&l.socket, l.stops.iter().copied().chain([(60.0, stays)]).collect())
            })
            .collect();
        let bought = super::super::until::needed_until(&[until], &world(steep()), 1000.0, 60.0).unwrap().remove(0);
        for n in 0..25 {
            near(days[2].at_most(n), periods.periods[0].needed.at_most(n), 1e-10);
            near(days[2].at_most(n), bought.at_most(n), 1e-10);
        }
    }

    #[test]
    fn a_fleet_played_out_screen_by_screen_agrees() {
        const PLAYS: u32 = 40_000;
        let (lamps, life, planned) = (mixed_fleet(), steep(), 1000.0);
        let found = ahead(&lamps, &world(steep()), planned, Horizon { period_days: 22.5, periods: 3 });
        let mut stream = Stream::new(20_261_126, "stops", "played", 0);
        let mut needed = vec![[0_u64; 3]; PLAYS as usize];
        for play in &mut needed {
            for lamp in &lamps {
                let mut left = stream.uniform();
                let stop = lamp.stops.iter().find(|(_, chance)| {
                    left -= chance;
                    left < 0.0
                });
                let hours = 12.0 * stop.map_or(67.5, |s| s.0.min(67.5));
                if hours <= 0.0 {
                    continue;
                }
                let mut age = lamp.socket.age_hours.unwrap_or(f64::INFINITY);
                let mut clock = 0.0;
                loop {
                    if age < planned {
                        // Life of a lamp that has reached its age, by inversion.
                        let ln = life.ln_reliability(age) + stream.uniform().ln();
                        let fails = life.scale * (-ln).powf(1.0 / life.shape);
                        clock += fails.min(planned) - age;
                    }
                    if clock > hours {
                        break;
                    }
                    play[((clock / 12.0 / 22.5) as usize).min(2)] += 1;
                    age = 0.0;
                }
            }
        }
        let mut squares = Vec::new();
        for (m, period) in found.periods.iter().enumerate() {
            for n in 0..8 {
                let by_end = |play: &&[u64; 3]| play[..=m].iter().sum::<u64>() <= n;
                for (p, seen) in [
                    (period.needed.at_most(n), needed.iter().filter(|play| play[m] <= n).count()),
                    (period.needed_by_end.at_most(n), needed.iter().filter(by_end).count()),
                ] {
                    let variance = p * (1.0 - p) * f64::from(PLAYS);
                    if variance > 25.0 {
                        let z = (seen as f64 - p * f64::from(PLAYS)) / variance.sqrt();
                        assert!(z.abs() < 4.5, "{m} {n} {z}");
                        squares.push(z * z);
                    }
                }
            }
        }
        let mean = squares.iter().sum::<f64>() / squares.len() as f64;
        assert!(squares.len() > 15 && (0.3..2.2).contains(&mean), "{} {mean}", squares.len());
    }
}
