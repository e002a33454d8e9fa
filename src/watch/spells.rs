//! From spells and lives to failures expected in each month.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::expected::{ExpectedEndings, RunningLamp, Watched, WatchedMonth, name};
use super::month::Month;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, short, tenths};
use crate::base::math::count_bounds::{count_lower, count_upper};
use crate::family::{Life, NamedLife};
use crate::records::{Ending, LifeRecord, Lives, Spell, Spells};

/// What is watched, and what counts.
#[derive(Clone, Debug, PartialEq)]
pub struct ExpectedOptions {
    /// What lamps are watched by.
    pub by: Vec<Watched>,
    /// The endings that count as failure.
    pub failure_endings: Vec<Ending>,
}

impl Default for ExpectedOptions {
    fn default() -> Self {
        let by = vec![Watched::Fleet, Watched::Batch, Watched::Supplier, Watched::Site];
        Self { by, failure_endings: Ending::FAILURES.to_vec() }
    }
}

/// Failures that the lamps' ages let expect in each month, and those seen.
///
/// # Formula
/// ```text
/// expected of a lamp in a month = H(age at its end) - H(age at its start)
/// ```
/// H: cumulative hazard of the model of its class. Between the two days of a spell hours are spread evenly. A failure counts
/// where and when the life ended; one known to lie between two readings is put midway between them. Whatever the ages
/// and whatever else removes lamps, failures less those expected have mean 0 if the model holds. Where the failures of all lamps
/// together are more than twice or less than half of those expected, beyond what chance does at 95 %, a note doubts the models.
///
/// # Arguments
/// `models`: the life of each lamp class, for the endings that count together; lamps of other classes are left out, with a
/// note.
///
/// # Errors
/// `watch.by` where nothing is to be watched; `watch.no_lamp` where no lamp has a model; `watch.model` for a model without
/// a name of a family, or one on which a lamp of its age is impossible.
///
/// # Source
/// O. O. Aalen (1978), Nonparametric inference for a family of counting processes, Annals of Statistics 6, 701-726. From
/// memory.
///
/// # Examples
/// ```
/// use relamp::family::NamedLife;
/// use relamp::records::{Ending, LifeRecord, Lives, Spell, Spells, Word};
/// use relamp::watch::{ExpectedOptions, Watched, expected_endings};
/// let (file, serial, class) = (Word::from("north.csv"), Word::from("A-1"), Word::from("2.0 kW"));
/// let (site, screen, none) = (Word::from("Site 07"), Word::from("2"), Word::default());
/// let spell = Spell {
///     file: &file, line: 2, serial: &serial, lamp_class: &class, site: &site, screen: &screen, supplier: &none,
///     batch: &none, fitted_on: "2025-03-17".parse()?, removed_on: Some("2025-04-16".parse()?),
///     read_on: "2025-04-16".parse()?, fitted_hours: 0.0, entry_hours: 0.0, low_hours: 300.0, end_hours: 300.0,
///     strikes: None, reason: &none, ending: Ending::Dim,
/// };
/// let life = LifeRecord {
///     serial: &serial, lamp_class: &class, supplier: &none, batch: &none, spells: &[0], at_risk: &[(0.0, 300.0)],
///     low_hours: 300.0, end_hours: 300.0, ending: Ending::Dim,
/// };
/// let (spells, lives): (Spells, Lives) = ([spell].into_iter().collect(), [life].into_iter().collect());
/// let models = [("2.0 kW".to_owned(), NamedLife::new("exponential", [2000.0]))].into();
/// let options = ExpectedOptions { by: vec![Watched::Site], ..ExpectedOptions::default() };
/// let months = expected_endings(&lives, &spells, &models, &options)?.months;
/// // Half of the 300 h fall in March, at one failure in 2,000 h.
/// assert_eq!((months[0].expected, months[0].observed), (0.075, 0));
/// assert_eq!((months[1].expected, months[1].observed), (0.075, 1));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn expected_endings(
    lives: &Lives,
    spells: &Spells,
    models: &BTreeMap<String, NamedLife>,
    options: &ExpectedOptions,
) -> Result<ExpectedEndings> {
    let by: BTreeSet<Watched> = options.by.iter().copied().collect();
    if by.is_empty() {
        let problem = Problem::new("watch.by", "nothing to watch by").at(Place::input("by"));
        return Err(Error::new(Kind::Input, problem.expected("one of fleet, batch, supplier, site, screen")));
    }
    let mut count = Counting {
        by: by.iter().copied().collect(),
        options,
        cells: BTreeMap::new(),
        nameless: BTreeMap::new(),
        expected: 0.0,
        observed: 0,
    };
    let mut ready = BTreeMap::new();
    for (class, named) in models {
        let life = named.life().map_err(|e| {
            let place = Place::input("models").column(class);
            let problem = Problem::new("watch.model", "no life").at(place).expected("a life");
            Error::new(Kind::Input, problem.got(e.to_string())).with_source(e)
        })?;
        ready.insert(class.as_str(), life);
    }
    let (mut running, mut without) = (Vec::new(), BTreeMap::<&str, u64>::new());
    let mut lamps = 0_u64;
    for life in lives.iter() {
        let Some(model) = ready.get(life.lamp_class as &str) else {
            *without.entry(life.lamp_class).or_default() += 1;
            continue;
        };
        lamps += 1;
        count.add(life, spells, model.as_ref())?;
        if life.ending == Ending::Running
            && let Some(last) = life.spells.last().and_then(|&i| spells.get(i))
        {
            running.push(RunningLamp {
                serial: life.serial.clone(),
                lamp_class: life.lamp_class.clone(),
                supplier: life.supplier.clone(),
                batch: life.batch.clone(),
                site: last.site.clone(),
                screen: last.screen.clone(),
                hours: life.end_hours,
                read_on: last.read_on,
            });
        }
    }
    if lamps == 0 {
        let problem = Problem::new("watch.no_lamp", "no lamp of a class that has a model").at(Place::input("models"));
        let have: Vec<&str> = without.keys().copied().collect();
        let got = if models.is_empty() {
            "no model".to_owned()
        } else {
            models.keys().cloned().collect::<Vec<_>>().join(", ")
        };
        return Err(Error::new(
            Kind::Refused,
            problem.got(got).expected(format!("a class of the lives: {}", have.join(", "))),
        ));
    }
    running.sort_by(|a, b| a.serial.cmp(&b.serial));
    let mut notes: Vec<String> = without
        .iter()
        .map(|(class, n)| format!("{} of class {class} left out: the class has no model", counted(*n, "lamp")))
        .collect();
    notes.extend(off(count.observed, count.expected, &options.failure_endings)?);
    for (by, n) in &count.nameless {
        notes.push(format!("{} without a {by} recorded are not watched by {by}", counted(*n, "lamp")));
    }
    let months = count.cells.into_iter().map(|((by, name, month), cell)| WatchedMonth {
        by,
        name,
        month,
        hours: cell.hours,
        expected: cell.expected,
        observed: cell.observed,
    });
    Ok(ExpectedEndings {
        by: by.into_iter().collect(),
        failure_endings: options.failure_endings.clone(),
        models: models.clone(),
        months: months.collect(),
        running,
        notes,
    })
}

#[derive(Clone, Copy, Default)]
struct Cell {
    hours: f64,
    expected: f64,
    observed: u64,
}

struct Counting<'a> {
    by: Vec<Watched>,
    options: &'a ExpectedOptions,
    cells: BTreeMap<(Watched, String, Month), Cell>,
    /// Lamps without a name, by what they cannot be watched by.
    nameless: BTreeMap<Watched, u64>,
    /// Of all lamps together.
    expected: f64,
    observed: u64,
}

/// How many times as many, or as few, failures than expected all lamps together must have, chance allowed for, from which the
/// models are doubted. Our choice, without a source.
const OFF: f64 = 2.0;
/// Chance allowed for on each side.
const OFF_CHANCE: f64 = 0.025;

/// A note where failures of all lamps together are far from those expected: models of some of the endings, or of other lamps.
fn off(observed: u64, expected: f64, endings: &[Ending]) -> Result<Option<String>> {
    if expected <= 0.0 {
        return Ok(None);
    }
    let (low, high) = (count_lower(observed, 1.0 - OFF_CHANCE)?, count_upper(observed, 1.0 - OFF_CHANCE)?);
    let (many, few) = (low > OFF * expected, high * OFF < expected);
    if !many && !few {
        return Ok(None);
    }
    let words: Vec<&str> = endings.iter().map(|e| e.as_str()).collect();
    Ok(Some(format!(
        "all lamps together had {} where {} were expected, {} times as many: the models are not those of all endings counted, {}, \
         or these lamps do not live as they say; until that is settled an alarm says nothing of a single batch or site",
        counted(observed, "failure"),
        tenths(expected),
        short(observed as f64 / expected),
        words.join(", ")
    )))
}

impl Counting<'_> {
    fn add(&mut self, life: LifeRecord<'_>, spells: &Spells, model: &dyn Life) -> Result<()> {
        let failed = self.options.failure_endings.contains(&life.ending);
        let end = if failed { f64::midpoint(life.low_hours, life.end_hours) } else { life.end_hours };
        let mut nameless = BTreeSet::new();
        for (place, &i) in life.spells.iter().enumerate() {
            let Some(spell) = spells.get(i) else { continue };
            let last = place + 1 == life.spells.len();
            let names: Vec<(Watched, String)> = self
                .by
                .iter()
                .filter_map(|&by| {
                    let name = name(by, [life.batch, life.supplier, spell.site, spell.screen]);
                    if name.is_none() {
                        nameless.insert(by);
                    }
                    Some((by, name?))
                })
                .collect();
            let to = if last { spell.end_hours.min(end) } else { spell.end_hours };
            self.spread(&spell, to, model, &names)?;
            if last && failed {
                self.observed += 1;
                let month = Month::of(spell.removed_on.unwrap_or(spell.read_on));
                for (by, name) in &names {
                    self.cells.entry((*by, name.clone(), month)).or_default().observed += 1;
                }
            }
        }
        for by in nameless {
            *self.nameless.entry(by).or_default() += 1;
        }
        Ok(())
    }

    /// Spreads the hours of a spell over its months.
    fn spread(&mut self, spell: &Spell<'_>, to: f64, model: &dyn Life, names: &[(Watched, String)]) -> Result<()> {
        let from = spell.entry_hours;
        if to <= from {
            return Ok(());
        }
        let (first, last) = days(spell, from);
        let whole = (last - first).num_days() as f64;
        let (mut age, mut hazard) = (from, model.cumulative_hazard(from));
        let mut month = Month::of(first);
        loop {
            let next = month.next().first_day().filter(|&day| day < last);
            let until = match next {
                Some(day) => from + (to - from) * (day - first).num_days() as f64 / whole,
                None => to,
            };
            let reached = model.cumulative_hazard(until);
            let expected = reached - hazard;
            if !(expected >= 0.0 && expected.is_finite()) {
                return Err(impossible(spell, until));
            }
            self.expected += expected;
            for (by, name) in names {
                let cell = self.cells.entry((*by, name.clone(), month)).or_default();
                cell.hours += until - age;
                cell.expected += expected;
            }
            if next.is_none() {
                return Ok(());
            }
            (age, hazard, month) = (until, reached, month.next());
        }
    }
}

/// The days between which a spell burned under observation: hours before its entry took their share of the time.
fn days(spell: &Spell<'_>, from: f64) -> (NaiveDate, NaiveDate) {
    let (fitted, last) = (spell.fitted_on, spell.read_on.max(spell.fitted_on));
    let burned = spell.end_hours - spell.fitted_hours;
    if from <= spell.fitted_hours || burned <= 0.0 {
        return (fitted, last);
    }
    let share = ((from - spell.fitted_hours) / burned).clamp(0.0, 1.0);
    let days = (share * (last - fitted).num_days() as f64).floor() as u64;
    (fitted.checked_add_days(chrono::Days::new(days)).map_or(last, |day| day.min(last)), last)
}

fn impossible(spell: &Spell<'_>, age: f64) -> Error {
    let place = Place::input(format!("{}, serial {}", spell.file, spell.serial)).line(spell.line);
    let problem = Problem::new("watch.model", "no lamp reaches this age under the model of its class").at(place);
    Error::new(Kind::Domain, problem.got(format!("{age} h")).expected("a model with reliability above 0 there"))
}
