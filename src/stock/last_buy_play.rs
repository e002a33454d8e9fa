//! A shrinking fleet played out, where freed lamps are used again or stored lamps are lost.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::last_buy::Paces;
use super::last_buy_input::{ConvertingScreen, LastBuyTerms};
use crate::base::error::Result;
use crate::base::random::Stream;
use crate::demand::Pace;
use crate::family::later;
use crate::fit::World;
use crate::policy::WorldCurve;

/// What one play of the fleet took from the shelf.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Play {
    /// New lamps taken, those found unusable included.
    pub(super) taken: u64,
    /// Of these, found unusable.
    pub(super) unusable: u64,
    /// Lamps freed by conversion that went to the shelf.
    pub(super) freed: u64,
    /// Of these, fitted again after a failure.
    pub(super) reused: u64,
}

/// Plays of one world, each with its own stream of random numbers.
pub(super) struct Fleet<'a> {
    pub(super) screens: &'a [ConvertingScreen],
    pub(super) paces: &'a Paces<'a>,
    pub(super) terms: &'a LastBuyTerms,
    pub(super) world: &'a World,
    pub(super) planned_age: f64,
}

/// What comes next to a screen.
#[derive(Clone, Copy, PartialEq)]
enum Next {
    Failure,
    Planned,
    Conversion,
    End,
}

/// A screen while it burns.
struct Burning<'a> {
    hours_per_day: f64,
    pace: Option<&'a Pace>,
    stop_day: f64,
    /// Day on which the present lamp was fitted and its age then.
    from_day: f64,
    from_age: f64,
    next: Next,
}

impl Burning<'_> {
    /// Days of its ordinary hours from the fitting of its lamp to a day.
    fn days_to(&self, day: f64) -> f64 {
        self.pace.map_or(day - self.from_day, |pace| pace.days_at(day) - pace.days_at(self.from_day))
    }

    /// The day by which so many days of its ordinary hours have passed since the fitting of its lamp.
    fn day_after(&self, ordinary: f64) -> f64 {
        let paced = |pace: &Pace| pace.day_of(pace.days_at(self.from_day) + ordinary).max(self.from_day);
        self.pace.map_or(self.from_day + ordinary, paced)
    }
}

/// Used lamps on the shelf: hours left (as ordered bits), and the day they came.
type Shelf = BinaryHeap<(u64, u64)>;

impl Fleet<'_> {
    pub(super) fn play(&self, curve: &WorldCurve<'_>, replicate: u64) -> Result<Play> {
        let mut stream = Stream::new(self.terms.seed, "stock", "last_buy", replicate);
        let shift = self.shift(stream.uniform());
        let mut play = Play::default();
        let today = |left: f64| (left.to_bits(), 0.0_f64.to_bits());
        // No lamp of this world would have reached such an age.
        let alive = |left: &f64| curve.ln_reliability(self.planned_age - left) > f64::NEG_INFINITY;
        let mut shelf: Shelf =
            self.terms.used_hours_left(self.planned_age).into_iter().filter(alive).map(today).collect();
        let mut screens: Vec<Burning<'_>> = Vec::with_capacity(self.screens.len());
        let mut ahead = BinaryHeap::with_capacity(self.screens.len());
        for (i, screen) in self.screens.iter().enumerate() {
            let stop_day = screen.stop(shift, self.terms.end_days, stream.uniform());
            let age = screen.socket.age_hours;
            let gone = age.filter(|a| curve.ln_reliability(*a) == f64::NEG_INFINITY);
            let due = age.is_none_or(|a| a >= self.planned_age) || gone.is_some();
            let hours_per_day = screen.socket.hours_per_week / 7.0;
            let pace = self.paces.get(i).copied().flatten();
            let mut burning = Burning { hours_per_day, pace, stop_day, from_day: 0.0, from_age: 0.0, next: Next::End };
            if due && stop_day > 0.0 && self.terms.end_days > 0.0 {
                self.new_lamp(&mut play, 0.0, &mut stream);
            } else {
                burning.from_age = age.filter(|_| !due).unwrap_or(0.0);
            }
            let day = self.fit(&mut burning, &mut stream)?;
            ahead.push(Reverse((day.to_bits(), i)));
            screens.push(burning);
        }
        while let Some(Reverse((bits, i))) = ahead.pop() {
            let day = f64::from_bits(bits);
            let Some(screen) = screens.get_mut(i) else { continue };
            let age = screen.from_age + screen.days_to(day) * screen.hours_per_day;
            match screen.next {
                Next::End => continue,
                Next::Conversion => {
                    let left = self.planned_age - age;
                    if self.terms.reuse.is_some_and(|r| left > 0.0 && left >= r.least_hours_left) {
                        play.freed += 1;
                        shelf.push((left.to_bits(), day.to_bits()));
                    }
                    continue;
                }
                Next::Planned => {
                    self.new_lamp(&mut play, day, &mut stream);
                    screen.from_age = 0.0;
                }
                Next::Failure => {
                    screen.from_age = if let Some(left) = self.used_lamp(&mut shelf, day, &mut stream) {
                        play.reused += 1;
                        self.planned_age - left
                    } else {
                        self.new_lamp(&mut play, day, &mut stream);
                        0.0
                    };
                }
            }
            screen.from_day = day;
            let next = self.fit(screen, &mut stream)?;
            ahead.push(Reverse((next.to_bits(), i)));
        }
        Ok(play)
    }

    /// The shift of all conversions that a uniform number picks.
    fn shift(&self, u: f64) -> f64 {
        let slips = self.terms.slips();
        let mut sum = 0.0;
        let found = slips.iter().find(|s| {
            sum += s.chance;
            u < sum
        });
        found.or(slips.last()).map_or(0.0, |s| s.day)
    }

    /// Draws how long the lamp just fitted lives, and gives the day of what comes next.
    fn fit(&self, screen: &mut Burning<'_>, stream: &mut Stream) -> Result<f64> {
        let mut failure = f64::INFINITY;
        for cause in &self.world.causes {
            failure = failure.min(later(cause.life.as_ref(), screen.from_age, stream.uniform())?);
        }
        let (age, next) =
            if failure < self.planned_age { (failure, Next::Failure) } else { (self.planned_age, Next::Planned) };
        let day = if screen.hours_per_day > 0.0 {
            screen.day_after((age - screen.from_age) / screen.hours_per_day)
        } else {
            f64::INFINITY
        };
        let end = self.terms.end_days;
        (screen.next, screen.stop_day) = if day <= screen.stop_day.min(end) {
            (next, screen.stop_day)
        } else if screen.stop_day < end {
            (Next::Conversion, screen.stop_day)
        } else {
            (Next::End, end)
        };
        Ok(if matches!(screen.next, Next::Failure | Next::Planned) { day } else { screen.stop_day })
    }

    /// Takes new lamps from the shelf until one works.
    fn new_lamp(&self, play: &mut Play, day: f64, stream: &mut Stream) {
        let lost = 1.0 - self.terms.usable(day);
        let bad = if lost > 0.0 { (stream.uniform().ln() / lost.ln()).floor() as u64 } else { 0 };
        play.unusable += bad;
        play.taken += bad + 1;
    }

    /// The used lamp with the most hours left that still works: its hours left.
    fn used_lamp(&self, shelf: &mut Shelf, day: f64, stream: &mut Stream) -> Option<f64> {
        while let Some((left, since)) = shelf.pop() {
            if self.terms.shelf_loss_per_year == 0.0
                || stream.uniform() < self.terms.usable(day - f64::from_bits(since))
            {
                return Some(f64::from_bits(left));
            }
        }
        None
    }
}
