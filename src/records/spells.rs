//! Spells and lives kept flat: a million of them cost little to make, to hold and to drop. They are lent out as records
//! of references.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::index::{List, Stretches, drop_apart};
use super::intern::Words;
use super::rows::{Facts, Row, Texts};
use super::serials::Serials;
use super::{Ending, LifeRecord, Outcome, Spell, Word};

/// A list of spells, in order.
///
/// # Examples
/// ```
/// use relamp::records::{Ending, Spell, Spells, Word};
/// let (file, serial, class) = (Word::from("north.csv"), Word::from("A-1"), Word::from("2.0 kW"));
/// let (site, screen, none) = (Word::from("Site 07"), Word::from("2"), Word::default());
/// let day = "2025-03-01".parse()?;
/// let spell = Spell {
///     file: &file, line: 17, serial: &serial, lamp_class: &class, site: &site, screen: &screen, supplier: &none,
///     batch: &none, fitted_on: day, removed_on: None, read_on: day, fitted_hours: 0.0, entry_hours: 0.0,
///     low_hours: 3.0, end_hours: 3.0, strikes: None, reason: &none, ending: Ending::Running,
/// };
/// let spells: Spells = [spell].into_iter().collect();
/// assert_eq!((spells.len(), spells.get(0)), (1, Some(spell)));
/// assert_eq!(spells.iter().map(|s| s.end_hours).sum::<f64>(), 3.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Default)]
pub struct Spells {
    kept: Arc<Kept>,
}

/// The rows behind spells.
#[derive(Default)]
struct Kept {
    files: Vec<Word>,
    rows: List,
    texts: Arc<Texts>,
    /// The row of each spell, where not every row is one.
    used: Option<Vec<u32>>,
}

impl Spells {
    pub(super) fn new(files: Vec<Word>, rows: List, texts: Arc<Texts>, used: Option<Vec<u32>>) -> Self {
        Self { kept: Arc::new(Kept { files, rows, texts, used }) }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.kept.used.as_ref().map_or(self.kept.rows.len(), Vec::len)
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The spell at a place, from 0.
    pub fn get(&self, place: usize) -> Option<Spell<'_>> {
        let row = match &self.kept.used {
            Some(used) => *used.get(place)? as usize,
            None => place,
        };
        self.kept.rows.get(row).map(|row| self.spell(row))
    }

    fn spell(&self, row: &Row) -> Spell<'_> {
        self.kept.texts.spell(row, self.kept.files.get(row.log as usize).unwrap_or(&Word::NONE))
    }

    /// Every spell, in order.
    pub fn iter(&self) -> impl Iterator<Item = Spell<'_>> {
        (0..self.len()).filter_map(|place| self.get(place))
    }
}

impl<'a> FromIterator<Spell<'a>> for Spells {
    /// Lines are held up to 4,294,967,295, the greatest there is for what fits a log.
    fn from_iter<I: IntoIterator<Item = Spell<'a>>>(spells: I) -> Self {
        let (mut files, mut serials, mut texts) = (Words::default(), Words::default(), Texts::default());
        let mut rows = Vec::new();
        for s in spells {
            let place = (texts.sites.id_of(s.site), texts.screens.id_of(s.screen));
            rows.push(Row {
                spell: Facts {
                    fitted_on: s.fitted_on,
                    removed_on: s.removed_on,
                    read_on: s.read_on,
                    fitted_hours: s.fitted_hours,
                    entry_hours: s.entry_hours,
                    low_hours: s.low_hours,
                    end_hours: s.end_hours,
                    strikes: s.strikes,
                    ending: s.ending,
                },
                log: files.id_of(s.file),
                line: u32::try_from(s.line).unwrap_or(u32::MAX),
                serial: serials.id_of(s.serial),
                class: texts.classes.id_of(s.lamp_class),
                screen: texts.places.id(place),
                supplier: texts.suppliers.id_of(s.supplier),
                batch: texts.batches.id_of(s.batch),
                reason: texts.reasons.id_of(s.reason),
                outcome: Outcome::Used,
                ..Row::blank()
            });
        }
        texts.serials = Serials::of_list(serials.into_list());
        texts.close();
        let mut list = List::default();
        list.push(rows);
        Self::new(files.into_list(), list, Arc::new(texts), None)
    }
}

impl PartialEq for Spells {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.kept, &other.kept) || self.iter().eq(other.iter())
    }
}

impl fmt::Debug for Spells {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

impl Serialize for Spells {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(self.iter())
    }
}

/// A spell as a saved reading holds it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SavedSpell {
    file: Word,
    // As wide as it is held.
    line: u32,
    serial: Word,
    lamp_class: Word,
    site: Word,
    screen: Word,
    supplier: Word,
    batch: Word,
    fitted_on: chrono::NaiveDate,
    removed_on: Option<chrono::NaiveDate>,
    read_on: chrono::NaiveDate,
    fitted_hours: f64,
    entry_hours: f64,
    low_hours: f64,
    end_hours: f64,
    strikes: Option<u64>,
    reason: Word,
    ending: Ending,
}

impl SavedSpell {
    fn lend(&self) -> Spell<'_> {
        Spell {
            file: &self.file,
            line: u64::from(self.line),
            serial: &self.serial,
            lamp_class: &self.lamp_class,
            site: &self.site,
            screen: &self.screen,
            supplier: &self.supplier,
            batch: &self.batch,
            fitted_on: self.fitted_on,
            removed_on: self.removed_on,
            read_on: self.read_on,
            fitted_hours: self.fitted_hours,
            entry_hours: self.entry_hours,
            low_hours: self.low_hours,
            end_hours: self.end_hours,
            strikes: self.strikes,
            reason: &self.reason,
            ending: self.ending,
        }
    }
}

impl<'de> Deserialize<'de> for Spells {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let saved = Vec::<SavedSpell>::deserialize(from)?;
        Ok(saved.iter().map(SavedSpell::lend).collect())
    }
}

/// A list of lives, in order.
///
/// # Examples
/// ```
/// use relamp::records::{Ending, LifeRecord, Lives, Word};
/// let (serial, class, none) = (Word::from("A-1"), Word::from("2.0 kW"), Word::default());
/// let life = LifeRecord {
///     serial: &serial, lamp_class: &class, supplier: &none, batch: &none, spells: &[0],
///     at_risk: &[(0.0, 400.0), (900.0, 1400.0)], low_hours: 1400.0, end_hours: 1400.0, ending: Ending::Burst,
/// };
/// let lives: Lives = [life].into_iter().collect();
/// assert_eq!((lives.len(), lives.get(0)), (1, Some(life)));
/// ```
#[derive(Clone, Default)]
pub struct Lives {
    texts: Arc<Texts>,
    parts: Arc<LifeParts>,
}

#[derive(Default)]
struct LifeParts {
    lives: Stretches<Life>,
    /// Spells and stretches of age of the lives of each part.
    spells: Vec<Vec<usize>>,
    at_risk: Vec<Vec<(f64, f64)>>,
}

impl Drop for LifeParts {
    fn drop(&mut self) {
        drop_apart(std::mem::take(&mut self.spells));
        drop_apart(std::mem::take(&mut self.at_risk));
    }
}

/// A life, with the numbers of its texts and the ends of its lists in those of the part; each begins where that of the
/// life before ends.
#[derive(Clone, Debug)]
pub(super) struct Life {
    pub(super) serial: u32,
    pub(super) class: u32,
    pub(super) supplier: u32,
    pub(super) batch: u32,
    pub(super) spells_to: u32,
    pub(super) at_risk_to: u32,
    pub(super) low_hours: f64,
    pub(super) end_hours: f64,
    pub(super) ending: Ending,
}

/// Lives that were made together.
#[derive(Debug, Default)]
pub(super) struct LifePart {
    pub(super) lives: Vec<Life>,
    pub(super) spells: Vec<usize>,
    pub(super) at_risk: Vec<(f64, f64)>,
}

impl Lives {
    pub(super) fn new(texts: Arc<Texts>, parts: Vec<LifePart>) -> Self {
        let mut all = LifeParts::default();
        for part in parts.into_iter().filter(|p| !p.lives.is_empty()) {
            all.lives.push(part.lives);
            all.spells.push(part.spells);
            all.at_risk.push(part.at_risk);
        }
        Self { texts, parts: Arc::new(all) }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.parts.lives.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The life at a place, from 0.
    pub fn get(&self, place: usize) -> Option<LifeRecord<'_>> {
        let (part, at) = self.parts.lives.place(place);
        let lives = self.parts.lives.parts().get(part)?;
        let life = lives.get(at)?;
        let before = at.checked_sub(1).and_then(|b| lives.get(b));
        let (spells_from, at_risk_from) = before.map_or((0, 0), |b| (b.spells_to, b.at_risk_to));
        let texts = &self.texts;
        Some(LifeRecord {
            serial: texts.serials.text(life.serial),
            lamp_class: texts.classes.text(life.class),
            supplier: texts.suppliers.text(life.supplier),
            batch: texts.batches.text(life.batch),
            spells: self.parts.spells.get(part)?.get(spells_from as usize..life.spells_to as usize)?,
            at_risk: self.parts.at_risk.get(part)?.get(at_risk_from as usize..life.at_risk_to as usize)?,
            low_hours: life.low_hours,
            end_hours: life.end_hours,
            ending: life.ending,
        })
    }

    /// Every life, in order.
    pub fn iter(&self) -> impl Iterator<Item = LifeRecord<'_>> {
        (0..self.len()).filter_map(|place| self.get(place))
    }
}

impl<'a> FromIterator<LifeRecord<'a>> for Lives {
    fn from_iter<I: IntoIterator<Item = LifeRecord<'a>>>(lives: I) -> Self {
        let (mut serials, mut texts, mut part) = (Words::default(), Texts::default(), LifePart::default());
        for l in lives {
            part.spells.extend_from_slice(l.spells);
            part.at_risk.extend_from_slice(l.at_risk);
            part.lives.push(Life {
                serial: serials.id_of(l.serial),
                class: texts.classes.id_of(l.lamp_class),
                supplier: texts.suppliers.id_of(l.supplier),
                batch: texts.batches.id_of(l.batch),
                spells_to: part.spells.len() as u32,
                at_risk_to: part.at_risk.len() as u32,
                low_hours: l.low_hours,
                end_hours: l.end_hours,
                ending: l.ending,
            });
        }
        texts.serials = Serials::of_list(serials.into_list());
        texts.close();
        Self::new(Arc::new(texts), vec![part])
    }
}

impl PartialEq for Lives {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.parts, &other.parts) || self.iter().eq(other.iter())
    }
}

impl fmt::Debug for Lives {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

impl Serialize for Lives {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(self.iter())
    }
}

/// A life as a saved reading holds it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SavedLife {
    serial: Word,
    lamp_class: Word,
    supplier: Word,
    batch: Word,
    spells: Vec<usize>,
    at_risk: Vec<(f64, f64)>,
    low_hours: f64,
    end_hours: f64,
    ending: Ending,
}

impl SavedLife {
    fn lend(&self) -> LifeRecord<'_> {
        LifeRecord {
            serial: &self.serial,
            lamp_class: &self.lamp_class,
            supplier: &self.supplier,
            batch: &self.batch,
            spells: &self.spells,
            at_risk: &self.at_risk,
            low_hours: self.low_hours,
            end_hours: self.end_hours,
            ending: self.ending,
        }
    }
}

impl<'de> Deserialize<'de> for Lives {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let saved = Vec::<SavedLife>::deserialize(from)?;
        Ok(saved.iter().map(SavedLife::lend).collect())
    }
}
