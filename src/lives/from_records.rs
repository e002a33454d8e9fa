//! From lives read from records to a tally: one row for each stretch under observation.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::covariates::{Covariate, CovariateKind, CovariateValue};
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

/// What records know of a lamp that may be a covariate of its life.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RecordCovariate {
    /// The batch printed on the lamp.
    Batch,
    /// The screen it burns in, with its site.
    Screen,
    /// The site it burns at.
    Site,
    /// Strikes for each hour burned, over all spells that recorded strikes.
    StrikesPerHour,
    /// Who supplied it.
    Supplier,
}

impl RecordCovariate {
    /// Each of them, in the order of names.
    pub const ALL: [Self; 5] = [Self::Batch, Self::Screen, Self::Site, Self::StrikesPerHour, Self::Supplier];

    /// Its name among the covariates.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Batch => "batch",
            Self::Screen => "screen",
            Self::Site => "site",
            Self::StrikesPerHour => "strikes_per_hour",
            Self::Supplier => "supplier",
        }
    }

    fn kind(self) -> CovariateKind {
        if self == Self::StrikesPerHour { CovariateKind::Number } else { CovariateKind::Category }
    }

    /// Whether it may differ from spell to spell.
    fn of_place(self) -> bool {
        matches!(self, Self::Screen | Self::Site)
    }
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
    /// Covariates of each life. With a site or a screen among them a moved lamp has a row for each spell, at its own place.
    #[serde(default)]
    pub covariates: Vec<RecordCovariate>,
}

impl Default for LifeOptions {
    fn default() -> Self {
        Self {
            failure_endings: Ending::FAILURES.to_vec(),
            cluster: Cluster::Life,
            meter_step_hours: 1.0,
            covariates: Vec::new(),
        }
    }
}

/// One row for each stretch under observation. All but the last stretch of a life are right-censored; the last ends as the
/// life did. The group of a row is its lamp class and its cluster. A life whose ending is not among
/// [`LifeOptions::failure_endings`] is right-censored at its last age seen working, and keeps its ending.
///
/// The findings say, with file and line, where an interval was cut at the age of entry
/// (`lives.low_raised_to_entry`), where a failure at the age of entry was put in the first meter step
/// (`lives.failure_at_entry`), and which life was never under observation (`lives.never_at_risk`) or has no value for a
/// covariate (`lives.covariate_not_recorded`) and so is not used.
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
    let mut building = Building { covariates: options.covariates.clone(), ..Building::default() };
    building.covariates.sort();
    building.covariates.dedup();
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
    known: BTreeMap<(&'a str, &'a str, Vec<CovariateValue>), u32>,
    /// In the order of names, each once.
    covariates: Vec<RecordCovariate>,
    life: Vec<usize>,
    lives: usize,
    findings: Vec<Finding>,
}

impl<'a> Building<'a> {
    fn add(&mut self, life: LifeRecord<'a>, spells: &'a Spells, options: &LifeOptions) {
        self.lives += 1;
        let by_place = self.covariates.iter().any(|c| c.of_place());
        let several = life.at_risk.len() > 1 || by_place && life.spells.len() > 1;
        let cluster: &str = match options.cluster {
            Cluster::Site => last_spell(life, spells).map_or("", |s| s.site),
            Cluster::Life if several => life.serial,
            Cluster::Life => "",
        };
        let Some((&(from, _), earlier)) = life.at_risk.split_last() else {
            let sentence = "never under observation, so the life is not used";
            self.findings.push(finding(life, spells, "lives.never_at_risk", Outcome::SetAside, "", sentence));
            return;
        };
        let last = last_spell(life, spells);
        let own: Vec<Spell<'a>> =
            if by_place { life.spells.iter().filter_map(|&i| spells.get(i)).collect() } else { Vec::new() };
        let unknown = |c: &&RecordCovariate| {
            let at = |place| value(**c, life, place, spells).is_none();
            at(last) || own.iter().any(|spell| at(Some(*spell)))
        };
        if let Some(missing) = self.covariates.iter().find(unknown) {
            let sentence =
                format!("no {} is recorded, so the life is not used beside those that have one", missing.as_str());
            let finding = finding(life, spells, "lives.covariate_not_recorded", Outcome::SetAside, "", &sentence);
            self.findings.push(finding);
            return;
        }
        let mut from = from;
        if by_place {
            // A row for each spell but the last one, at its own place; stretches under observation are those of the spells.
            let before = own.len().saturating_sub(1);
            for spell in own.iter().take(before).filter(|s| s.end_hours > s.entry_hours) {
                let group = self.group_of(life, cluster, Some(*spell), spells);
                self.push(spell.entry_hours, spell.end_hours, f64::INFINITY, Ending::Running, group);
            }
            from = last.map_or(from, |s| s.entry_hours.max(from));
        } else {
            let group = self.group_of(life, cluster, last, spells);
            for &(from, to) in earlier {
                self.push(from, to, f64::INFINITY, Ending::Running, group);
            }
        }
        let group = self.group_of(life, cluster, last, spells);
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

    fn group_of(&mut self, life: LifeRecord<'a>, cluster: &'a str, place: Option<Spell<'a>>, spells: &Spells) -> u32 {
        let next = self.groups.len() as u32;
        let covariates: Vec<CovariateValue> =
            self.covariates.iter().filter_map(|c| value(*c, life, place, spells)).collect();
        let group = *self.known.entry((life.lamp_class, cluster, covariates.clone())).or_insert(next);
        if group == next {
            let stratum: &str = life.lamp_class;
            self.groups.push(Group { stratum: stratum.to_owned(), cluster: cluster.to_owned(), covariates });
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
            covariates: self
                .covariates
                .iter()
                .map(|c| Covariate { name: c.as_str().to_owned(), kind: c.kind() })
                .collect(),
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

/// What the records know of a lamp in one of its places; none where they do not.
fn value(
    covariate: RecordCovariate,
    life: LifeRecord<'_>,
    place: Option<Spell<'_>>,
    spells: &Spells,
) -> Option<CovariateValue> {
    let category = |text: &str| (!text.trim().is_empty()).then(|| CovariateValue::from(text));
    match covariate {
        RecordCovariate::Batch => category(life.batch),
        RecordCovariate::Supplier => category(life.supplier),
        RecordCovariate::Site => category(place?.site),
        RecordCovariate::Screen => {
            let (site, screen) = (place?.site, place?.screen);
            category(screen).map(|_| CovariateValue::Category(format!("{site}, screen {screen}")))
        }
        RecordCovariate::StrikesPerHour => {
            let counted = life.spells.iter().filter_map(|&i| spells.get(i));
            let (mut strikes, mut hours) = (0.0, 0.0);
            for (spell, n) in counted.filter_map(|s| Some((s, s.strikes?))) {
                strikes += n as f64;
                hours += spell.end_hours - spell.fitted_hours;
            }
            if hours > 0.0 { CovariateValue::number(strikes / hours).ok() } else { None }
        }
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
