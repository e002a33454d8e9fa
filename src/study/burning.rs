//! Lamps of a class that burn today, with their places.

use chrono::NaiveDate;

use super::class_run::ClassInput;
use super::overdue::days_left;
use crate::demand::SocketToday;
use crate::records::Ending;

/// A lamp that burns today.
#[derive(Clone, Debug)]
pub(super) struct Burning {
    /// Its age today and the hours of its screen.
    pub(super) socket: SocketToday,
    pub(super) site: String,
    pub(super) screen: String,
    /// Day on which it was fitted new; none where not known.
    pub(super) fitted_on: Option<NaiveDate>,
}

/// Burning lamps with their expected ages on the as-of date: the last reading and the programme hours since. A disputed
/// age is not known, which counts as due.
pub(super) fn burning(input: &ClassInput<'_>) -> Vec<Burning> {
    let ClassInput { class, declared, reading, .. } = *input;
    let disputed = |file: &str, line: u64| reading.disputed.iter().any(|d| *d.file == *file && d.line == line);
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
            site: spell.site.to_string(),
            screen: spell.screen.to_string(),
            fitted_on: first.filter(|s| s.fitted_hours == 0.0).map(|s| s.fitted_on),
        });
    }
    for row in reading.disputed.iter().filter(|d| *d.lamp_class == *class.name) {
        lamps.push(Burning {
            socket: SocketToday { age_hours: None, hours_per_week: declared.hours_per_week(&row.site, &row.screen) },
            site: row.site.to_string(),
            screen: row.screen.to_string(),
            fitted_on: None,
        });
    }
    lamps
}
