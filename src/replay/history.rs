//! Lives of one lamp class as they stood on a day.

use std::collections::BTreeSet;

use chrono::NaiveDate;

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::lives::{LifeOptions, Tally, from_records};
use crate::records::{Ending, LifeRecord, Lives, Spell, Spells};

/// One life with its spells.
pub(super) struct Told<'a> {
    pub life: LifeRecord<'a>,
    pub spells: Vec<Spell<'a>>,
    /// Whether it ended in a failure.
    pub failed: bool,
}

/// The lives of a lamp class, those without a spell left out.
pub(super) fn of_class<'a>(
    lives: &'a Lives,
    spells: &'a Spells,
    lamp_class: &str,
    failures: &[Ending],
) -> Result<Vec<Told<'a>>> {
    let mut found = Vec::new();
    for life in lives.iter().filter(|l| l.lamp_class as &str == lamp_class) {
        let own: Vec<Spell<'a>> = life.spells.iter().filter_map(|&i| spells.get(i)).collect();
        if !own.is_empty() && !life.at_risk.is_empty() {
            found.push(Told { life, spells: own, failed: failures.contains(&life.ending) });
        }
    }
    if found.is_empty() {
        let classes: BTreeSet<&str> = lives.iter().map(|l| l.lamp_class as &str).collect();
        let problem = Problem::new("replay.no_lamp", "the records hold no lamp of the class")
            .at(Place::input("lamp_class"))
            .got(lamp_class)
            .expected(format!("one of: {}", classes.into_iter().collect::<Vec<_>>().join(", ")));
        return Err(Error::new(Kind::Input, problem));
    }
    Ok(found)
}

impl Told<'_> {
    /// Day of the last reading: from then on nothing is known, or nothing more happened.
    pub fn last_day(&self) -> NaiveDate {
        self.spells.last().map_or(NaiveDate::MIN, |s| s.read_on)
    }

    /// Day of the first fitting.
    pub fn first_day(&self) -> NaiveDate {
        self.spells.first().map_or(NaiveDate::MAX, |s| s.fitted_on)
    }

    /// Age at the end of a day, the hours of a spell spread evenly between its two days; none before the first fitting.
    pub fn age_on(&self, day: NaiveDate) -> Option<f64> {
        let mut age = None;
        for s in self.spells.iter().filter(|s| s.fitted_on < day) {
            let whole = (s.read_on - s.fitted_on).num_days();
            let burned = (day - s.fitted_on).num_days();
            age = Some(if burned >= whole {
                s.end_hours
            } else {
                s.fitted_hours + (s.end_hours - s.fitted_hours) * burned as f64 / whole as f64
            });
        }
        age
    }

    /// Hours a day in the last spell.
    pub fn pace(&self) -> f64 {
        self.spells.last().map_or(0.0, |s| {
            let days = (s.read_on - s.fitted_on).num_days();
            if days > 0 { (s.end_hours - s.fitted_hours) / days as f64 } else { 0.0 }
        })
    }

    /// Age at failure: one known to lie between two readings is put midway, one at the age of entry in the first meter step.
    pub fn failure_age(&self) -> f64 {
        let middle = f64::midpoint(self.life.low_hours, self.life.end_hours);
        let from = self.life.at_risk.last().map_or(0.0, |p| p.0);
        if middle > from { middle } else { from + 0.5 }
    }
}

/// The lives as the records would have told them at the end of a day: those that had ended by then as they ended, the
/// others burning at the age they had.
pub(super) fn known_on(told: &[Told<'_>], day: NaiveDate, failures: &[Ending]) -> Result<Tally> {
    let cut: Vec<(LifeRecord<'_>, Vec<(f64, f64)>)> = told
        .iter()
        .filter_map(|t| {
            let age = t.age_on(day)?;
            if t.last_day() <= day {
                return Some((t.life, t.life.at_risk.to_vec()));
            }
            let seen: Vec<(f64, f64)> =
                t.life.at_risk.iter().filter(|p| p.0 < age).map(|&(from, to)| (from, to.min(age))).collect();
            let age = seen.last()?.1;
            Some((LifeRecord { low_hours: age, end_hours: age, ending: Ending::Running, ..t.life }, seen))
        })
        .collect();
    let none: [usize; 0] = [];
    let lives: Lives = cut.iter().map(|(life, seen)| LifeRecord { at_risk: seen, spells: &none, ..*life }).collect();
    let options = LifeOptions { failure_endings: failures.to_vec(), ..LifeOptions::default() };
    Ok(from_records(&lives, &Spells::default(), &options)?.0)
}

/// First day of fitting and last day of reading.
pub(super) fn span(told: &[Told<'_>]) -> (NaiveDate, NaiveDate) {
    let first = told.iter().map(Told::first_day).min().unwrap_or(NaiveDate::MAX);
    let last = told.iter().map(Told::last_day).max().unwrap_or(NaiveDate::MIN);
    (first, last)
}
