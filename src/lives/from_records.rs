//! From lives read from records to a tally: one row for each stretch under observation.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::rows::Rows;
use super::tally::{Group, Tally};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::records::{Ending, Finding, LifeRecord, Lives, Outcome, Spell, Spells};

/// Which rows share a random weight when the data are reweighted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cluster {
    /// The stretches of one life; lives are independent of each other.
    #[default]
    Life,
    /// All lives that ended, or were last read, at one site.
    Site,
}

/// How lives become rows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LifeOptions {
    /// The endings that count as failure; a life with another ending is right-censored.
    pub failure_endings: Vec<Ending>,
    /// Which rows share a random weight.
    pub cluster: Cluster,
    /// Step of the hour meter, hours: a failure at the age of entry lies in the first step after it.
    pub meter_step_hours: f64,
}

impl Default for LifeOptions {
    fn default() -> Self {
        Self { failure_endings: Ending::FAILURES.to_vec(), cluster: Cluster::Life, meter_step_hours: 1.0 }
    }
}

/// One row for each stretch under observation. All but the last stretch of a life are right-censored; the last ends as the
/// life did. The group of a row is its lamp class and its cluster. A life whose ending is not among
/// [`LifeOptions::failure_endings`] is right-censored at its last age seen working, and keeps its ending.
///
/// The findings say, with file and line, where an interval was cut at the age of entry
/// (`lives.low_raised_to_entry`), where a failure at the age of entry was put in the first meter step
/// (`lives.failure_at_entry`), and which life was never under observation and so is not used (`lives.never_at_risk`).
///
/// # Errors
/// `lives.meter_step` for a step that is not above 0; those of [`Tally::from_rows`], with the file and line of the life's
/// last spell as their place.
///
/// # Examples
/// ```
/// use relamp::lives::{LifeOptions, from_records};
/// use relamp::records::{Ending, LifeRecord, Lives, Spells, Word};
/// let (serial, class, none) = (Word::from("A-1"), Word::from("2.0 kW"), Word::default());
/// let life = LifeRecord {
///     serial: &serial, lamp_class: &class, supplier: &none, batch: &none, spells: &[],
///     at_risk: &[(0.0, 400.0), (900.0, 1400.0)], low_hours: 1400.0, end_hours: 1400.0, ending: Ending::Burst,
/// };
/// let lives: Lives = [life].into_iter().collect();
/// let (tally, findings) = from_records(&lives, &Spells::default(), &LifeOptions::default()).unwrap();
/// assert_eq!((tally.rows(), tally.failures(), tally.exposure_hours()), (2, 1, 900.0));
/// assert!(findings.is_empty());
/// ```
pub fn from_records(lives: &Lives, spells: &Spells, options: &LifeOptions) -> Result<(Tally, Vec<Finding>)> {
    let step = options.meter_step_hours;
    if !(step > 0.0 && step < f64::INFINITY) {
        let problem = Problem::new("lives.meter_step", "the step of an hour meter must be above 0")
            .at(Place::input("meter_step_hours"))
            .got(step)
            .expected("finite hours above 0, such as 1");
        return Err(Error::new(Kind::Input, problem));
    }
    let mut building = Building::default();
    for life in lives.iter() {
        building.add(life, spells, options);
    }
    building.finish(lives, spells)
}

/// Columns under way, with the life that each row came from.
#[derive(Default)]
struct Building<'a> {
    low: Vec<f64>,
    high: Vec<f64>,
    entry: Vec<f64>,
    ending: Vec<Ending>,
    group: Vec<u32>,
    groups: Vec<Group>,
    known: BTreeMap<(&'a str, &'a str), u32>,
    life: Vec<usize>,
    lives: usize,
    findings: Vec<Finding>,
}

impl<'a> Building<'a> {
    fn add(&mut self, life: LifeRecord<'a>, spells: &'a Spells, options: &LifeOptions) {
        self.lives += 1;
        let cluster: &str = match options.cluster {
            Cluster::Site => last_spell(life, spells).map_or("", |s| s.site),
            Cluster::Life if life.at_risk.len() > 1 => life.serial,
            Cluster::Life => "",
        };
        let group = self.group_of(life.lamp_class, cluster);
        let Some((&(from, _), earlier)) = life.at_risk.split_last() else {
            let sentence = "never under observation, so the life is not used";
            self.findings.push(finding(life, spells, "lives.never_at_risk", Outcome::SetAside, "", sentence));
            return;
        };
        for &(from, to) in earlier {
            self.push(from, to, f64::INFINITY, Ending::Running, group);
        }
        let (low, end) = (life.low_hours, life.end_hours);
        if !options.failure_endings.contains(&life.ending) {
            // Seen working at `low` and at the start of the stretch; what came after is not this question's.
            // (A negative or missing age is passed on, for the row rules to refuse.)
            let seen = if low >= 0.0 && low < from { from } else { low };
            self.push(from, seen, f64::INFINITY, life.ending, group);
        } else if end == from {
            // A whole-hour meter that has not moved since entry: the failure lies in its first step.
            self.push(from, from, from + options.meter_step_hours, life.ending, group);
            if from > 0.0 {
                let sentence = "failed at the age of entry, so the failure is put in the first meter step after it";
                self.findings.push(finding(life, spells, "lives.failure_at_entry", Outcome::Used, "", sentence));
            }
        } else {
            self.push(from, low, end, life.ending, group);
        }
    }

    fn push(&mut self, entry: f64, low: f64, high: f64, ending: Ending, group: u32) {
        self.entry.push(entry);
        self.low.push(low);
        self.high.push(high);
        self.ending.push(ending);
        self.group.push(group);
        self.life.push(self.lives - 1);
    }

    fn group_of(&mut self, stratum: &'a str, cluster: &'a str) -> u32 {
        let next = self.groups.len() as u32;
        let group = *self.known.entry((stratum, cluster)).or_insert(next);
        if group == next {
            self.groups.push(Group { stratum: stratum.to_owned(), cluster: cluster.to_owned(), ..Group::default() });
        }
        group
    }

    fn finish(mut self, lives: &Lives, spells: &Spells) -> Result<(Tally, Vec<Finding>)> {
        let rows = Rows {
            low: self.low,
            high: self.high,
            entry: Some(self.entry),
            ending: Some(self.ending),
            group: Some(self.group),
            groups: self.groups,
            ..Rows::default()
        };
        let life_of = |row: Option<u64>| {
            let row = usize::try_from(row?.checked_sub(1)?).ok()?;
            lives.get(*self.life.get(row)?)
        };
        let (tally, notes) = Tally::from_rows(&rows).map_err(|error| {
            let mut problems = error.problems().to_vec();
            for problem in &mut problems {
                if let Some(life) = life_of(problem.place.row) {
                    let column = problem.place.column.take();
                    problem.place = Place { column, ..place(life, spells) };
                }
            }
            Error::many(error.kind(), problems)
        })?;
        for note in notes {
            if let Some(life) = life_of(note.place.row) {
                let sentence = "came under observation inside the interval of its failure, which was cut there";
                self.findings.push(finding(life, spells, note.slug, Outcome::Used, &note.got, sentence));
            }
        }
        Ok((tally, self.findings))
    }
}

fn last_spell<'a>(life: LifeRecord<'_>, spells: &'a Spells) -> Option<Spell<'a>> {
    spells.get(*life.spells.last()?)
}

fn place(life: LifeRecord<'_>, spells: &Spells) -> Place {
    match last_spell(life, spells) {
        Some(spell) => Place::input(format!("{}, serial {}", spell.file, life.serial)).line(spell.line),
        None => Place::input(format!("serial {}", life.serial)),
    }
}

fn finding(
    life: LifeRecord<'_>,
    spells: &Spells,
    rule: &'static str,
    outcome: Outcome,
    value: &str,
    sentence: &str,
) -> Finding {
    let spell = last_spell(life, spells);
    Finding {
        file: spell.map_or_else(String::new, |s| s.file.to_string()),
        row: 0,
        line: spell.map_or(0, |s| s.line),
        column: String::new(),
        value: value.to_owned(),
        rule: rule.to_owned(),
        outcome,
        serial: life.serial.to_string(),
        sentence: sentence.to_owned(),
    }
}
