//! Lamps of a class that burn today, with their places.

use chrono::NaiveDate;

use super::class_run::ClassInput;
use super::declare_ending::{Stop, stop_of};
use super::overdue::days_left;
use crate::demand::{SocketToday, SocketUntil};
use crate::records::Ending;

/// A lamp that burns today.
#[derive(Clone, Debug)]
pub(super) struct Burning {
    /// Its age today and the hours of its screen.
    pub(super) socket: SocketToday,
    /// When its screen stops; none for one that burns on.
    pub(super) stop: Option<Stop>,
    pub(super) site: String,
    /// Day on which it was fitted new; none where not known.
    pub(super) fitted_on: Option<NaiveDate>,
}

impl Burning {
    /// The lamp with the days, from the as-of date on, at which its screen may stop.
    pub(super) fn until(&self, as_of: NaiveDate) -> SocketUntil {
        let stops = self.stop.as_ref().map(|s| s.days(as_of)).unwrap_or_default();
        let earliest = self.stop.as_ref().map_or(f64::INFINITY, |s| (s.earliest - as_of).num_days() as f64);
        SocketUntil { socket: self.socket.clone(), stops, earliest }
    }
}

/// The lamps of a class with the days at which their screens may stop.
pub(super) fn until_stops(burning: &[Burning], as_of: NaiveDate) -> Vec<SocketUntil> {
    burning.iter().map(|b| b.until(as_of)).collect()
}

/// Burning lamps with their expected ages on the as-of date: the last reading and the programme hours since. A disputed
/// age is not known, which counts as due.
pub(super) fn burning(input: &ClassInput<'_>) -> Vec<Burning> {
    let ClassInput { class, declared, reading, .. } = *input;
    let disputed = |file: &str, line: u64| reading.disputed.iter().any(|d| *d.file == *file && d.line == line);
    let stop = |site: &str, screen: &str| stop_of(&declared.stops, site, screen).cloned();
    let mut lamps = Vec::new();
    for life in input.lives.iter().filter(|l| l.ending == Ending::Running) {
        let Some(spell) = reading.last_spell(life) else { continue };
        if disputed(spell.file, spell.line) {
            continue;
        }
        let hours_per_week = declared.hours_per_week(spell.site, spell.screen);
        let below = life.end_hours < class.judged_limit_hours();
        let age_hours = if below && days_left(&spell, class, life.end_hours, declared).is_none() {
            None
        } else {
            let since = (declared.as_of - spell.read_on).num_days().max(0) as f64;
            Some(life.end_hours + since * hours_per_week / 7.0)
        };
        let first = life.spells.first().and_then(|&i| reading.spells.get(i));
        lamps.push(Burning {
            socket: SocketToday { age_hours, hours_per_week },
            stop: stop(spell.site, spell.screen),
            site: spell.site.to_string(),
            fitted_on: first.filter(|s| s.fitted_hours == 0.0).map(|s| s.fitted_on),
        });
    }
    for row in reading.disputed.iter().filter(|d| *d.lamp_class == *class.name) {
        lamps.push(Burning {
            socket: SocketToday { age_hours: None, hours_per_week: declared.hours_per_week(&row.site, &row.screen) },
            stop: stop(&row.site, &row.screen),
            site: row.site.to_string(),
            fitted_on: None,
        });
    }
    lamps
}
