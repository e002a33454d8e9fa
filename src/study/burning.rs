//! Lamps of a class that burn today, with their places.

use std::sync::Arc;

use chrono::NaiveDate;

use super::class_run::ClassInput;
use super::declare::Declaration;
use super::declare_class::LampClass;
use super::declare_ending::{Stop, stop_of};
use super::open::Study;
use super::overdue::{days_left, since};
use crate::demand::{Pace, SocketToday, SocketUntil};
use crate::records::{Ending, LifeRecord, Reading};

/// A lamp that burns today.
#[derive(Clone, Debug)]
pub(super) struct Burning {
    /// Its age today and the hours of its screen.
    pub(super) socket: SocketToday,
    /// When its screen stops; none for one that burns on.
    pub(super) stop: Option<Stop>,
    pub(super) site: String,
    pub(super) screen: String,
    pub(super) serial: String,
    /// How fast its clock runs; none for the same hours every day.
    pub(super) pace: Option<Arc<Pace>>,
    /// Day on which it was fitted new; none where not known.
    pub(super) fitted_on: Option<NaiveDate>,
}

impl Burning {
    /// The lamp with the days, from the as-of date on, at which its screen may stop.
    pub(super) fn until(&self, as_of: NaiveDate) -> SocketUntil {
        let stops = self.stop.as_ref().map(|s| s.days(as_of)).unwrap_or_default();
        let earliest = self.stop.as_ref().map_or(f64::INFINITY, |s| (s.earliest - as_of).num_days() as f64);
        SocketUntil { socket: self.socket.clone(), stops, earliest, pace: self.pace.clone() }
    }
}

/// The lamps of a class with the days at which their screens may stop.
pub(super) fn until_stops(burning: &[Burning], as_of: NaiveDate) -> Vec<SocketUntil> {
    burning.iter().map(|b| b.until(as_of)).collect()
}

/// Burning lamps with their expected ages on the as-of date: the last reading and the programme hours since. A disputed
/// age is not known, which counts as due.
pub(super) fn burning(input: &ClassInput<'_>) -> Vec<Burning> {
    burning_of(input.class, input.declared, input.reading, &input.lives)
}

fn burning_of(class: &LampClass, declared: &Declaration, reading: &Reading, lives: &[LifeRecord<'_>]) -> Vec<Burning> {
    let disputed = |file: &str, line: u64| reading.disputed.iter().any(|d| *d.file == *file && d.line == line);
    let stop = |site: &str, screen: &str| stop_of(&declared.stops, site, screen).cloned();
    let pace = |site: &str, screen: &str| declared.paces.of_screen(site, screen).cloned();
    let mut lamps = Vec::new();
    for life in lives.iter().filter(|l| l.ending == Ending::Running) {
        let Some(spell) = reading.last_spell(life) else { continue };
        if disputed(spell.file, spell.line) {
            continue;
        }
        let hours_per_week = declared.hours_per_week(spell.site, spell.screen);
        let below = life.end_hours < class.judged_limit_hours();
        let age_hours = if below && days_left(&spell, class, life.end_hours, declared).is_none() {
            None
        } else {
            Some(life.end_hours + since(&spell, declared) * hours_per_week / 7.0)
        };
        let first = life.spells.first().and_then(|&i| reading.spells.get(i));
        lamps.push(Burning {
            socket: SocketToday { age_hours, hours_per_week },
            stop: stop(spell.site, spell.screen),
            site: spell.site.to_string(),
            screen: spell.screen.to_string(),
            serial: spell.serial.to_string(),
            pace: pace(spell.site, spell.screen),
            fitted_on: first.filter(|s| s.fitted_hours == 0.0).map(|s| s.fitted_on),
        });
    }
    for row in reading.disputed.iter().filter(|d| *d.lamp_class == *class.name) {
        lamps.push(Burning {
            socket: SocketToday { age_hours: None, hours_per_week: declared.hours_per_week(&row.site, &row.screen) },
            stop: stop(&row.site, &row.screen),
            site: row.site.to_string(),
            screen: row.screen.to_string(),
            serial: row.serial.to_string(),
            pace: pace(&row.site, &row.screen),
            fitted_on: None,
        });
    }
    lamps
}

/// A lamp that burns on the as-of date, as every forecast of the study starts from it.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct LampToday {
    /// Lamp class, by its study name.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen.
    pub screen: String,
    /// Serial.
    pub serial: String,
    /// Its age on the as-of date: the last reading and the programme hours since, by season where one is declared. None where
    /// it is not known, which counts as due.
    pub age_hours: Option<f64>,
    /// Programme hours of its screen a week, on days with a factor of 1.
    pub hours_per_week: f64,
    /// Day on which it was fitted new; none where not known.
    pub fitted_on: Option<NaiveDate>,
    /// First day on which its screen may stop; none where it burns on.
    pub stops_from: Option<NaiveDate>,
    /// Last such day.
    pub stops_to: Option<NaiveDate>,
}

impl Study {
    /// The lamps that burn on the as-of date with their expected ages, class by class: what forecasts start from.
    ///
    /// # Examples
    /// ```
    /// use relamp::{Run, study::Study};
    /// let study = Study::open("data/demo/study.toml")?;
    /// let lamps = study.lamps_today(&study.read(&Run::new())?);
    /// assert!(lamps.iter().any(|l| l.age_hours.is_some_and(|a| a > 0.0)));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn lamps_today(&self, reading: &Reading) -> Vec<LampToday> {
        let declared = &self.declaration;
        let of_class = |class: &LampClass| {
            let lives: Vec<LifeRecord<'_>> = reading.lives.iter().filter(|l| **l.lamp_class == *class.name).collect();
            let lamps = burning_of(class, declared, reading, &lives);
            let each = lamps.into_iter().map(|b| LampToday {
                lamp_class: class.name.clone(),
                site: b.site,
                screen: b.screen,
                serial: b.serial,
                age_hours: b.socket.age_hours,
                hours_per_week: b.socket.hours_per_week,
                fitted_on: b.fitted_on,
                stops_from: b.stop.as_ref().map(|s| s.earliest),
                stops_to: b.stop.as_ref().map(|s| s.latest),
            });
            each.collect::<Vec<_>>()
        };
        declared.classes.iter().flat_map(of_class).collect()
    }
}
