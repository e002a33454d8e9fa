//! What a last buy starts from: screens that will be converted, and how lamps are kept and used until then.

use serde::{Deserialize, Serialize};

use super::last_buy_rule::BuyRule;
use super::used_spares::{UsedLamp, wrong_ages};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::demand::{Horizon, SocketToday, SocketUntil};
use crate::records::Ending;

/// Slack for chances that sum to 1.
const ROUNDING: f64 = 1e-9;

/// Least share of stored lamps that must still work at the end: below it, a shelf is no plan.
const FEWEST_USABLE: f64 = 0.05;

/// Days of a year.
const YEAR_DAYS: f64 = 365.25;

/// Most plays of the fleet.
const MOST_PLAYS: usize = 1_000_000;

/// A day from today, and the chance of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DayChance {
    /// Days from today.
    pub day: f64,
    /// Chance of this day, 0 to 1.
    pub chance: f64,
}

/// A screen that burns a lamp of the type today, and when it will be converted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ConvertingScreen {
    /// The lamp that burns there, and the hours a week.
    pub socket: SocketToday,
    /// Days at which it may be converted; what is left of the chances means that it burns to the end. None for a screen
    /// that is not converted.
    pub conversion: Vec<DayChance>,
}

/// How lamps freed by conversion are used again.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reuse {
    /// Fewest hours below the planned age with which a freed lamp goes to the shelf.
    pub least_hours_left: f64,
}

/// How lamps are changed, kept and bought until the end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LastBuyTerms {
    /// Days from today until no lamp of the type is needed any more or can be had again.
    pub end_days: f64,
    /// Age of the planned change, hours; held to the limit.
    pub planned_age_hours: f64,
    /// Lamps of the type on the shelf today, all new.
    pub on_hand: u64,
    /// Used lamps of the type on the shelf today. Those taken out on plan, to be moved or for a conversion serve after a
    /// failure before a new one, with the age they have, as long as they are below the planned age and, with `reuse`, have its
    /// fewest hours left; the others stay out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub used_lamps: Vec<UsedLamp>,
    /// What sets the quantity.
    pub rule: BuyRule,
    /// A shift in days of every conversion alike, with its chances; none for no shift. A day moved before today is today.
    pub slip: Vec<DayChance>,
    /// Use of freed lamps as emergency spares; none for none.
    pub reuse: Option<Reuse>,
    /// Share of stored lamps, new or used, that becomes unusable in a year on the shelf, 0 or more and below 1.
    pub shelf_loss_per_year: f64,
    /// Plays of the fleet where lamps are reused or lost on the shelf.
    pub plays: usize,
    /// Seed of the plays.
    pub seed: u64,
}

impl LastBuyTerms {
    /// Terms without slip, reuse and shelf loss.
    pub fn new(end_days: f64, planned_age_hours: f64, rule: BuyRule) -> Self {
        Self {
            end_days,
            planned_age_hours,
            on_hand: 0,
            used_lamps: Vec::new(),
            rule,
            slip: Vec::new(),
            reuse: None,
            shelf_loss_per_year: 0.0,
            plays: 4000,
            seed: 1,
        }
    }

    /// Chance that a lamp stored today still works at a day.
    pub(crate) fn usable(&self, days: f64) -> f64 {
        (1.0 - self.shelf_loss_per_year).powf(days / YEAR_DAYS)
    }

    /// Whether the lamps needed follow from sums; else the fleet is played.
    pub(crate) fn exact(&self) -> bool {
        self.reuse.is_none() && self.used_lamps.is_empty() && self.shelf_loss_per_year == 0.0
    }

    /// Hours that each used lamp on the shelf that may serve has left below the planned age.
    pub(crate) fn used_hours_left(&self, planned_age: f64) -> Vec<f64> {
        let least = self.reuse.map_or(0.0, |r| r.least_hours_left);
        let good = self.used_lamps.iter().filter(|lamp| Ending::WORKED.contains(&lamp.ending));
        let left = good.filter_map(|lamp| Some(planned_age - lamp.age_hours?));
        left.filter(|left| *left > 0.0 && *left >= least).collect()
    }

    /// The shifts of all conversions with their chances.
    pub(crate) fn slips(&self) -> Vec<DayChance> {
        if self.slip.is_empty() { vec![DayChance { day: 0.0, chance: 1.0 }] } else { self.slip.clone() }
    }

    /// Everything that is wrong with the terms and the screens, at once.
    pub(crate) fn check(&self, screens: &[ConvertingScreen]) -> Result<()> {
        Horizon::days(self.end_days).check()?;
        let mut problems = self.rule.check();
        let sockets: Vec<SocketToday> = screens.iter().map(|s| s.socket.clone()).collect();
        if let Err(error) = crate::demand::check_sockets(&sockets, self.planned_age_hours) {
            problems.extend(error.problems().iter().cloned());
        }
        for (i, screen) in screens.iter().enumerate() {
            days(&mut problems, "conversion", Some(i as u64 + 1), &screen.conversion, true);
        }
        days(&mut problems, "slip", None, &self.slip, false);
        let sum: f64 = self.slip.iter().map(|d| d.chance).sum();
        if !self.slip.is_empty() && (sum - 1.0).abs() > ROUNDING {
            let what = "the chances of the days of a conversion sum to at most 1, those of a slip to 1";
            let problem = Problem::new("stock.conversion_chances", what).at(Place::input("slip").column("chance"));
            problems.push(problem.got(sum).expected("1"));
        }
        if let Some(reuse) = self.reuse.filter(|r| !(0.0..f64::INFINITY).contains(&r.least_hours_left)) {
            let what = "the fewest hours left of a lamp to be used again must be finite and not negative";
            let problem = Problem::new("stock.least_hours_left", what).at(Place::input("least_hours_left"));
            problems.push(problem.got(reuse.least_hours_left).expected("hours"));
        }
        problems.extend(wrong_ages(&self.used_lamps, "used_lamps"));
        let loss = self.shelf_loss_per_year;
        if !(0.0..1.0).contains(&loss) || self.usable(self.end_days) < FEWEST_USABLE {
            let what = "a share of stored lamps lost in a year, 0 or more and below 1, that leaves 1 in 20 at the end";
            let problem = Problem::new("stock.shelf_loss", what).at(Place::input("shelf_loss_per_year"));
            problems.push(problem.got(loss).expected("for example 0.02"));
        }
        if !self.exact() && !(100..=MOST_PLAYS).contains(&self.plays) {
            let problem = Problem::new("stock.plays", "the fleet is played 100 to a million times");
            problems.push(problem.at(Place::input("plays")).got(self.plays).expected("for example 4000"));
        }
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }
}

impl ConvertingScreen {
    /// A screen whose stop is its conversion.
    pub(crate) fn of(screen: &SocketUntil) -> Self {
        let conversion = screen.stops.iter().map(|&(day, chance)| DayChance { day, chance }).collect();
        Self { socket: screen.socket.clone(), conversion }
    }

    /// The days at which the screen stops, none past the end, when all conversions are shifted; the chances sum to 1.
    pub(crate) fn stops(&self, shift: f64, end: f64) -> Vec<(f64, f64)> {
        let mut stops: Vec<(f64, f64)> =
            self.conversion.iter().map(|d| ((d.day + shift).clamp(0.0, end), d.chance)).collect();
        let left = 1.0 - stops.iter().map(|s| s.1).sum::<f64>();
        if left > ROUNDING {
            stops.push((end, left));
        }
        stops.retain(|s| s.1 > 0.0);
        stops
    }

    /// Whether it may burn on a day and after it.
    pub(crate) fn burns_from(&self, day: f64) -> bool {
        let gone: f64 = self.conversion.iter().filter(|d| d.day <= day).map(|d| d.chance).sum();
        1.0 - gone > ROUNDING
    }

    /// The day of conversion that a uniform number picks, the end for none.
    pub(crate) fn stop(&self, shift: f64, end: f64, u: f64) -> f64 {
        let mut sum = 0.0;
        for d in &self.conversion {
            sum += d.chance;
            if u < sum {
                return (d.day + shift).clamp(0.0, f64::INFINITY);
            }
        }
        // Rounding must not keep a screen that is certain to be converted.
        let last = self.conversion.last().filter(|_| sum > 1.0 - ROUNDING);
        last.map_or(end, |d| (d.day + shift).max(0.0))
    }
}

fn days(problems: &mut Vec<Problem>, input: &str, row: Option<u64>, days: &[DayChance], from_today: bool) {
    let place = |column: &str| {
        let place = Place::input(input).column(column);
        if let Some(row) = row { place.row(row) } else { place }
    };
    for d in days {
        if !d.day.is_finite() || from_today && d.day < 0.0 {
            let problem = Problem::new("stock.conversion_day", "a conversion cannot lie before today");
            let expected = if from_today { "days from today, 0 or more" } else { "a finite number of days" };
            problems.push(problem.at(place("day")).got(d.day).expected(expected));
        }
        if !(0.0..=1.0).contains(&d.chance) {
            let problem = Problem::new("stock.conversion_chance", "the chance of a day must lie between 0 and 1");
            problems.push(problem.at(place("chance")).got(d.chance).expected("0 to 1"));
        }
    }
    let sum: f64 = days.iter().map(|d| d.chance).sum();
    if sum > 1.0 + ROUNDING {
        let what = "the chances of the days of a conversion sum to at most 1, those of a slip to 1";
        let problem = Problem::new("stock.conversion_chances", what).at(place("chance"));
        problems.push(problem.got(sum).expected("at most 1"));
    }
}
