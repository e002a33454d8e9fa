//! One play of one site, event by event.

use super::assumptions::{Rule, Visits};
use super::lamp::Causes;
use super::played::PlannedChange;
use super::sheet::{self, Sheet};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::random::Stream;
use crate::terms::{Costs, Discount, Warranty};

/// Events this near to one another, days, are one instant: rounding of a sum of days is no order of events.
const SAME: f64 = 1e-7;

/// Most changes of one screen; more means a life or an age in another unit than hours.
const MOST_CHANGES: u32 = 20_000;

/// One screen of a site, as it is when the play begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Screen {
    /// Its place among the screens of the fleet, which names its stream.
    pub(super) index: u64,
    pub(super) hours_per_day: f64,
    /// Age of its lamp, none where it is not known.
    pub(super) age: Option<f64>,
    /// Whether the lamp is changed at the start.
    pub(super) due: bool,
}

/// What every play of a fleet shares.
#[derive(Debug)]
pub(super) struct Script<'a> {
    pub(super) causes: Causes<'a>,
    pub(super) rule: Rule,
    pub(super) visits: Visits,
    pub(super) limit: f64,
    pub(super) visit_cost: f64,
    pub(super) costs: &'a Costs,
    pub(super) failure_costs: Vec<f64>,
    pub(super) warranty: Option<&'a Warranty>,
    /// Which failures the warranty covers.
    pub(super) covered: Vec<bool>,
    pub(super) planned_minutes: f64,
    pub(super) failure_minutes: Vec<f64>,
    pub(super) discount: Option<Discount>,
    pub(super) period_days: f64,
    pub(super) periods: usize,
    pub(super) seed: u64,
}

/// What ends a lamp if nothing comes before.
#[derive(Clone, Copy, Debug, PartialEq)]
enum End {
    Failure(usize),
    Own(PlannedChange),
}

/// A screen in the middle of a play.
#[derive(Debug)]
struct Burning {
    screen: Screen,
    stream: Stream,
    fitted_day: f64,
    fitted_age: f64,
    end_age: f64,
    end_day: f64,
    end: End,
    /// Whether it burned when the play began.
    of_today: bool,
    changes: u32,
    change: Option<(End, Option<f64>)>,
}

/// Days on which something falls due by the calendar.
#[derive(Debug)]
struct Clock {
    next: f64,
    first: f64,
    every: f64,
    count: f64,
    random: Option<Stream>,
}

impl Clock {
    fn never() -> Self {
        Self { next: f64::INFINITY, first: 0.0, every: 0.0, count: 0.0, random: None }
    }

    fn even(first: f64, every: f64) -> Self {
        Self { next: first, first, every, count: 0.0, random: None }
    }

    fn visits(visits: Visits, seed: u64, stream: u64) -> Self {
        match visits {
            Visits::Never => Self::never(),
            Visits::Every { days, first_day } => {
                let drawn = || Stream::new(seed, "simulate", "visits", stream).uniform() * days;
                Self::even(first_day.unwrap_or_else(drawn), days)
            }
            Visits::Random { mean_days } => {
                let mut random = Stream::new(seed, "simulate", "visits", stream);
                let next = mean_days * random.exponential();
                Self { next, first: 0.0, every: mean_days, count: 0.0, random: Some(random) }
            }
        }
    }

    /// How many fall on this instant; the clock then stands at the next one after it.
    fn strikes(&mut self, instant: f64) -> u32 {
        let mut struck = 0;
        while self.next <= instant {
            struck += 1;
            self.count += 1.0;
            // A product, not a running sum, so that years of visits stay on their days.
            self.next = match &mut self.random {
                Some(stream) => self.next + self.every * stream.exponential(),
                None => self.first + self.count * self.every,
            };
        }
        struck
    }
}

/// The stream of a screen or of a site in one replicate.
fn stream_number(replicate: u64, index: u64) -> u64 {
    replicate << 32 | index
}

impl Script<'_> {
    /// Age at which a lamp is changed without any other event, and what that is.
    fn own_age(&self) -> (f64, PlannedChange) {
        match self.rule.age() {
            Some(age) => (age, PlannedChange::AtAge),
            None => (self.limit, PlannedChange::AtLimit),
        }
    }

    /// Whether the rule has a lamp of this age changed before the first hour.
    pub(super) fn due(&self, age: Option<f64>) -> bool {
        // A lamp that no lamp of this world would have reached alive says that the world is wrong, not that it never fails.
        age.is_none_or(|a| a >= self.own_age().0 || self.causes.ln_reliability(a) == f64::NEG_INFINITY)
    }

    fn period(&self, day: f64) -> usize {
        // A change at the very end of a period belongs to it.
        let begun = ((day - SAME) / self.period_days).floor().max(0.0);
        (begun as usize).min(self.periods - 1)
    }

    /// Puts a lamp of some age into a screen.
    fn fit(&self, burning: &mut Burning, day: f64, age: f64) -> Result<()> {
        let (fails, ending) = self.causes.draw(&mut burning.stream, age)?;
        let (own, kind) = self.own_age();
        // A lamp that fails at the very age of its change failed.
        let (end_age, end) = if fails <= own { (fails, End::Failure(ending)) } else { (own, End::Own(kind)) };
        let rate = burning.screen.hours_per_day;
        burning.fitted_day = day;
        burning.fitted_age = age;
        burning.end_age = end_age;
        burning.end = end;
        burning.end_day = if rate > 0.0 { day + (end_age - age) / rate } else { f64::INFINITY };
        Ok(())
    }

    fn begin(&self, screen: &Screen, replicate: u64) -> Result<Burning> {
        let stream = Stream::new(self.seed, "simulate", "socket", stream_number(replicate, screen.index));
        let mut burning = Burning {
            screen: *screen,
            stream,
            fitted_day: 0.0,
            fitted_age: 0.0,
            end_age: 0.0,
            end_day: 0.0,
            end: End::Own(PlannedChange::DueNow),
            of_today: true,
            changes: 0,
            change: None,
        };
        if screen.due {
            // Its life is drawn and dropped, so that the lamps after it are those of a rule under which it stays.
            self.causes.draw(&mut burning.stream, 0.0)?;
            burning.fitted_age = screen.age.unwrap_or(0.0);
            burning.end_age = burning.fitted_age;
        } else {
            self.fit(&mut burning, 0.0, screen.age.unwrap_or(0.0))?;
        }
        Ok(burning)
    }

    /// Plays a site once. `changed` is told the period of every change.
    pub(super) fn play(
        &self,
        site: u64,
        screens: &[Screen],
        replicate: u64,
        sheet: &mut Sheet,
        mut changed: impl FnMut(usize),
    ) -> Result<()> {
        sheet.figures.fill(0.0);
        let mut lamps = screens.iter().map(|s| self.begin(s, replicate)).collect::<Result<Vec<_>>>()?;
        let mut visits = Clock::visits(self.visits, self.seed, stream_number(replicate, site));
        let mut calendar = match self.rule {
            Rule::OnCalendar { every_days, first_day, .. } => Clock::even(first_day, every_days),
            _ => Clock::never(),
        };
        for period in 0..self.periods {
            for screen in screens {
                sheet.add(period, sheet::HOURS, screen.hours_per_day * self.period_days);
            }
        }
        let horizon = self.period_days * self.periods as f64 + SAME;
        loop {
            let day = lamps.iter().map(|l| l.end_day).fold(visits.next.min(calendar.next), f64::min);
            if day > horizon {
                return Ok(());
            }
            let period = self.period(day);
            let anyway = visits.strikes(day + SAME);
            if anyway > 0 {
                sheet.add(period, sheet::ANYWAY, f64::from(anyway));
            }
            let on_calendar = calendar.strikes(day + SAME) > 0;
            let for_lamps = self.judge(&mut lamps, day, anyway > 0, on_calendar);
            if for_lamps && anyway == 0 {
                sheet.add(period, sheet::FOR_LAMPS, 1.0);
                sheet.add(period, sheet::COST, self.visit_cost);
                let hours_per_day = screens.iter().map(|s| s.hours_per_day).sum::<f64>() / screens.len() as f64;
                sheet.add(period, sheet::DISCOUNTED, self.visit_cost * self.worth(hours_per_day * day));
            }
            for lamp in &mut lamps {
                let Some((end, age)) = lamp.change.take() else { continue };
                let worth = self.worth(lamp.screen.hours_per_day * day);
                self.note(sheet, period, end, age, lamp.of_today, worth);
                changed(period);
                lamp.of_today = false;
                lamp.changes += 1;
                if lamp.changes > MOST_CHANGES {
                    return Err(too_many(lamp.screen.index));
                }
                self.fit(lamp, day, 0.0)?;
            }
        }
    }

    /// Decides what is changed at an instant; says whether someone has to come for lamps alone.
    fn judge(&self, lamps: &mut [Burning], day: f64, anyway: bool, on_calendar: bool) -> bool {
        let (mut trip, mut oldest_reached) = (false, false);
        let from_age = match self.rule {
            Rule::OnCalendar { from_age_hours, .. } if on_calendar => Some(from_age_hours),
            _ => None,
        };
        let known = |lamp: &Burning, age: f64| (!lamp.of_today || lamp.screen.age.is_some()).then_some(age);
        // What ends by itself, and what the calendar takes.
        for lamp in lamps.iter_mut() {
            let ended = lamp.end_day <= day + SAME;
            let age = if ended { lamp.end_age } else { lamp.age(day) };
            let end = match (ended, lamp.end, from_age) {
                (true, End::Failure(_), _) => lamp.end,
                (_, _, Some(from)) if age >= from && lamp.end != End::Own(PlannedChange::DueNow) => {
                    End::Own(PlannedChange::OnCalendar)
                }
                (true, own, _) => own,
                (false, ..) => continue,
            };
            oldest_reached |= matches!(end, End::Own(_));
            trip = true;
            lamp.change = Some((end, known(lamp, age)));
        }
        // What others bring.
        let kind = match self.rule {
            Rule::AtAgeOrVisit { visit_age_hours, join_changes, .. } if anyway || (join_changes && trip) => {
                Some((PlannedChange::AtVisit, visit_age_hours))
            }
            Rule::SiteTogether { .. } if oldest_reached => Some((PlannedChange::WithSite, 0.0)),
            _ => None,
        };
        if let Some((kind, from)) = kind {
            for lamp in lamps.iter_mut().filter(|l| l.change.is_none()) {
                let age = lamp.age(day);
                if age >= from {
                    lamp.change = Some((End::Own(kind), Some(age)));
                }
            }
        }
        trip
    }

    /// What an amount of 1 after so many hours is worth at the start; 0 where no discounted cost is counted.
    fn worth(&self, hours: f64) -> f64 {
        self.discount.map_or(0.0, |discount| discount.worth(hours))
    }

    /// Writes a change down; `worth` is what an amount of 1 on its day is worth at the start.
    fn note(&self, sheet: &mut Sheet, period: usize, end: End, age: Option<f64>, of_today: bool, worth: f64) {
        let kinds = PlannedChange::ALL.len();
        sheet.add(period, sheet::CHANGES, 1.0);
        let (way, cost, minutes) = match end {
            End::Own(kind) => {
                sheet.add(period, sheet::PLANNED, 1.0);
                // A used lamp of unknown age is worth nothing.
                let cost = age.map_or(self.costs.planned(), |age| self.costs.planned_at(age));
                (kind as usize, cost, self.planned_minutes)
            }
            End::Failure(i) => {
                sheet.add(period, sheet::FAILURES, 1.0);
                if of_today {
                    sheet.add(period, sheet::OF_TODAY, 1.0);
                }
                let of = |list: &[f64]| list.get(i).copied().unwrap_or(0.0);
                let covered = self.warranty.filter(|_| self.covered.get(i) == Some(&true)).zip(age);
                let back = covered.map_or(0.0, |(warranty, age)| warranty.credit(age));
                (kinds + i, of(&self.failure_costs) - back, of(&self.failure_minutes))
            }
        };
        sheet.add(period, sheet::KINDS + way, 1.0);
        sheet.add(period, sheet::COST, cost);
        sheet.add(period, sheet::DISCOUNTED, cost * worth);
        sheet.add(period, sheet::DARK, minutes);
        if let Some(age) = age {
            sheet.ended(way, age, age / self.limit);
        }
    }
}

impl Burning {
    /// Age on a day at or before its own end.
    fn age(&self, day: f64) -> f64 {
        (self.fitted_age + self.screen.hours_per_day * (day - self.fitted_day)).min(self.end_age)
    }
}

fn too_many(index: u64) -> Error {
    let problem = Problem::new("simulate.too_many_changes", "one screen would need thousands of lamps")
        .at(Place::input("sockets").row(index + 1))
        .got(format!("more than {MOST_CHANGES} changes"))
        .expected("lives, ages and horizon of the same order");
    Error::new(Kind::Refused, problem)
}
