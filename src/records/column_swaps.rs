//! Columns of a log that are exchanged though each can be read as the other: places, suppliers, and hours first seen.
//!
//! What tells them apart is how the rows hang together: the lamps of a screen follow one another, a batch comes from one
//! supplier, and no lamp is first seen younger than it was fitted.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};

use super::column_map::{ENOUGH_ROWS, FAIR_DAYS, Judged, LEAST_A_STRIKE, MOST_ROWS, MOST_WRONG_SHARE, Seen, entry};
use super::hours::hours;
use super::rows::{Fault, Field, Row};
use super::rules::median;
use super::{Cell, Ending, Finding, HoursUnit, LogFormat, NumberFormat, Outcome, Reading, Spell, fold};
use crate::base::figure::{counted, short, whole};

/// Hours for each strike above which the lamps would burn through the night.
///
/// By the calendar: a lamp that is not lit around the clock is struck once a day or more.
pub(super) const MOST_A_STRIKE: f64 = 24.0;
/// Share of the removed lamps up to which a lamp fitted in the screen within [`FAIR_DAYS`] is taken for chance.
///
/// Our choice, without a source: a screen is not dark for two weeks, so that nearly every removed lamp has its follower.
const FOLLOWED_BY_CHANCE: f64 = 0.02;
/// Share of the removed lamps from which on they follow one another: at nine in ten and more in the invented chain.
///
/// Our choice, without a source: less leaves room for rows that are missing.
const FOLLOWED_IN_TURN: f64 = 0.8;
/// Fewest last good readings of a log too short for its middle that are doubted where all of them lie far from the end.
///
/// Our choice, without a source: six early failures in a row, each before the second reading of its lamp, are no chance.
const FEW_GOOD: usize = 6;

/// Share of a lamp's hours in a screen that lies between its last good reading and its end, above which the reading is
/// doubted in the middle of a log.
///
/// Our choice, without a source: meters are read every week to every few months; a reading from the first half of a life
/// says next to nothing of its end.
pub(super) const LAST_GOOD_SHARE: f64 = 0.5;

/// Fewest failures with hours that no other lamp has, and fewest other lamps, for which the hours are doubted.
///
/// Our choice, without a source: lamps that are used again fail more often than new ones, but hardly ten in a row.
const FEW_FAILURES: usize = 10;
/// Chance up to which it is no chance that hours which some failed lamps have are missing from all others.
///
/// Our choice, without a source: one log in a thousand.
const ABSENT_BY_CHANCE: f64 = 0.001;

/// Time of a lamp in a screen.
struct Turn {
    fitted_on: NaiveDate,
    /// Day of removal, or of the export.
    until: NaiveDate,
    removed: bool,
}

/// How the lamps of a log follow one another.
#[derive(Default)]
struct InTurn {
    /// Lamps fitted while another stayed on for two weeks or more.
    with_another: usize,
    removed: usize,
    /// Removed lamps with another fitted within two weeks.
    followed: usize,
}

fn most(part: usize, of: usize) -> bool {
    of >= ENOUGH_ROWS && part as f64 > MOST_WRONG_SHARE * of as f64
}

fn of_rows(part: usize, of: usize, what: &str) -> String {
    format!("{} of {}", whole(part as f64), counted(of as u64, what))
}

impl Seen<'_, '_> {
    /// Whether the hours first seen are those of lamps that were in use before the records began.
    pub(super) fn first_seen(&self, judged: &mut Judged) {
        let columns = &self.format.columns;
        if columns.hours_first_seen.is_none() {
            return;
        }
        let slug = "records.hours_first_seen";
        let (column, at_fitting) = (self.entry(Field::FirstSeen), self.named(Field::AtFitting));
        let given = self.sample.iter().filter(|r| r.spell.entry_hours != r.spell.fitted_hours);
        let (below, above): (Vec<&&Row>, Vec<_>) = given.partition(|r| r.spell.entry_hours < r.spell.fitted_hours);
        if most(below.len(), below.len() + above.len()) {
            let what = format!("{column} of the column map lies below the hours at fitting");
            let got = of_rows(below.len(), below.len() + above.len(), "row");
            let expected = format!("hours of lamps in use{}", exchanged(at_fitting));
            judged.refused.push(self.problem(slug, Field::FirstSeen, what).got(got).expected(expected));
            return;
        }
        if let Some(told) = self.only_failures(&above) {
            let sentence = format!(
                "{column} of the column map has hours of {told} and of none that burns or was changed on plan{}",
                exchanged(self.named(Field::LastGood))
            );
            judged.doubts.push(Fault::new(slug, Field::FirstSeen, sentence).of(told));
            return;
        }
        let Some(day) = self.format.records_from else { return };
        let (late, since): (Vec<&&Row>, Vec<_>) = self.sample.iter().partition(|r| r.spell.fitted_on < day);
        let seen = |r: &Row| r.entry_known && r.spell.entry_hours > r.spell.fitted_hours;
        let unseen = late.iter().filter(|r| !seen(r)).count();
        let early = since.iter().filter(|r| seen(r)).count();
        let (told, sentence) = if most(unseen, late.len()) {
            let with_hours = late.iter().filter(|r| r.spell.fitted_hours > 0.0).count();
            let with_good = late.iter().filter(|r| r.spell.low_hours < r.spell.end_hours).count();
            let other = match () {
                () if most(with_hours, late.len()) => exchanged(at_fitting),
                () if most(with_good, late.len()) => exchanged(self.named(Field::LastGood)),
                () => String::new(),
            };
            let told = of_rows(unseen, late.len(), "lamp");
            let sentence = format!("{column} of the column map has no hours of {told} fitted before {day}{other}");
            (told, sentence)
        } else if most(early, since.len()) {
            let unstruck = since.iter().filter(|r| r.spell.strikes.is_none()).count();
            let strikes = self.named(Field::Strikes).filter(|_| most(unstruck, since.len()));
            let told = of_rows(early, since.len(), "lamp");
            let sentence = format!(
                "{column} of the column map says that {told} fitted since the records began on {day} were seen later{}",
                exchanged(strikes)
            );
            (told, sentence)
        } else {
            return;
        };
        judged.doubts.push(Fault::new(slug, Field::FirstSeen, sentence).of(told));
    }

    /// Failed lamps with some hours, where none that burns or was changed on plan has them, though there are enough of
    /// each: a last good reading belongs to a failure, while hours at fitting or first seen say nothing of the end.
    fn only_failures(&self, given: &[&&Row]) -> Option<String> {
        let good = |r: &Row| matches!(r.spell.ending, Ending::Running | Ending::Planned);
        // Lamps fitted later could not be in use before the records began, so that they have no such hours either way.
        let latest = given.iter().map(|r| r.spell.fitted_on).max();
        let others = self.sample.iter().filter(|r| good(r) && Some(r.spell.fitted_on) <= latest).count();
        let failed = given.iter().filter(|r| r.spell.ending.is_failure()).count();
        let of_failed = self.sample.iter().filter(|r| r.spell.ending.is_failure() && Some(r.spell.fitted_on) <= latest);
        // Hours that few lamps have may be missing among the others by chance, as where a reason map makes failures of
        // all that were removed: as many lamps drawn from all alike would be failures, each and every one.
        let of_failed = of_failed.count();
        let drawn = (0..failed)
            .map(|i| of_failed.saturating_sub(i) as f64 / (of_failed + others).saturating_sub(i).max(1) as f64);
        let by_chance = drawn.product::<f64>() > ABSENT_BY_CHANCE;
        let enough = failed >= FEW_FAILURES && others >= FEW_FAILURES;
        let only = enough && !by_chance && !given.iter().any(|r| good(r));
        only.then(|| counted(failed as u64, "failed lamp"))
    }

    /// Whether lamps are new when they are fitted, as they are but for the few that are used again.
    pub(super) fn fitted_new(&self, judged: &mut Judged) {
        if self.named(Field::AtFitting).is_none() {
            return;
        }
        let slug = "records.lamps_used_when_fitted";
        let given: Vec<&&Row> = self.sample.iter().filter(|r| r.spell.fitted_hours > 0.0).collect();
        let used = given.len();
        if !most(used, self.sample.len()) {
            if let Some(told) = self.only_failures(&given) {
                let sentence = format!(
                    "{} of the column map says that {told} had burned before they were fitted, and none that burns or was \
                     changed on plan{}",
                    self.entry(Field::AtFitting),
                    exchanged(self.named(Field::LastGood))
                );
                judged.doubts.push(Fault::new(slug, Field::AtFitting, sentence).of(told));
            }
            return;
        }
        let struck = self.sample.iter().filter(|r| r.spell.strikes.is_some_and(|n| n > 0)).count();
        let counted = self.sample.iter().filter(|r| r.spell.strikes.is_some()).count();
        let strikes = self.named(Field::Strikes).filter(|_| most(counted - struck, counted));
        let told = of_rows(used, self.sample.len(), "lamp");
        let sentence = format!(
            "{} of the column map says that {told} had burned before they were fitted, where lamps are new as a rule{}",
            self.entry(Field::AtFitting),
            exchanged(strikes)
        );
        judged.doubts.push(Fault::new(slug, Field::AtFitting, sentence).of(told));
    }

    /// Whether the last good reading of a failed lamp lies near its end.
    pub(super) fn last_good(&self, judged: &mut Judged) {
        if self.named(Field::LastGood).is_none() {
            return;
        }
        let between = self.sample.iter().filter(|r| r.spell.low_hours < r.spell.end_hours);
        let shares = between.map(|r| (r.spell.end_hours - r.spell.low_hours) / r.burned()).filter(|s| s.is_finite());
        let shares: Vec<f64> = shares.collect();
        let far = shares.iter().filter(|share| **share > LAST_GOOD_SHARE).count();
        let (told, usual) = match median(shares.clone(), ENOUGH_ROWS) {
            Some(usual) if usual > LAST_GOOD_SHARE => {
                let percent = format!("{} %", whole(100.0 * usual));
                (percent.clone(), format!("a median of {percent}"))
            }
            // A log of few such readings has no middle, but may have none that is near.
            None if far >= FEW_GOOD && far == shares.len() => {
                (counted(far as u64, "lamp"), format!("for each of {}, more than half", counted(far as u64, "lamp")))
            }
            _ => return,
        };
        let other = self.strikes_near_the_end();
        let other = other.map_or_else(
            || "it is most likely another column".to_owned(),
            |strikes| format!("{strikes} is most likely exchanged with it"),
        );
        let sentence = format!(
            "{} of the column map leaves {usual} of a lamp's hours between its last good reading and its end: {other}",
            self.entry(Field::LastGood)
        );
        judged.doubts.push(Fault::new("records.last_good_far", Field::LastGood, sentence).of(told));
    }

    /// The entry of a column that the map may leave out.
    pub(super) fn named(&self, field: Field) -> Option<String> {
        (!field.column(self.format).is_empty()).then(|| self.entry(field))
    }

    /// Whether screens would do as strikes where the strikes do not.
    pub(super) fn screens_struck(&self, judged: &mut Judged) -> bool {
        let each = |strikes: &dyn Fn(&Row) -> Option<f64>| {
            let each = self.sample.iter().filter_map(|r| Some(r.burned() / strikes(r).filter(|n| *n > 0.0)?));
            median(each.collect(), ENOUGH_ROWS)
        };
        let numbers = NumberFormat { decimal: self.format.decimal, thousands: self.format.thousands };
        let screen = |r: &Row| hours(Cell::Text(self.rows.screen(r)), numbers, HoursUnit::Hours).ok().flatten();
        let Some(usual) = each(&|r| r.spell.strikes.map(|n| n as f64)).filter(|usual| *usual > MOST_A_STRIKE) else {
            return false;
        };
        let other = each(&screen).filter(|other| (LEAST_A_STRIKE..=MOST_A_STRIKE).contains(other));
        let Some(other) = other else { return false };
        let sentence = format!(
            "{} of the column map gives a median of {} h for each strike where {} would give {}: the two are most likely \
             exchanged",
            self.entry(Field::Strikes),
            short(usual),
            self.entry(Field::Screen),
            short(other)
        );
        let told = format!("{} h a strike", short(usual));
        judged.doubts.push(Fault::new("records.screen_and_strikes", Field::Screen, sentence).of(told));
        true
    }

    /// Whether the lamps of a screen follow one another.
    pub(super) fn in_turn(&self, judged: &mut Judged) {
        let places = self.places_in_turn();
        let turns = || places.values().flatten();
        let InTurn { with_another, removed, followed } = self.followed(&places);
        let running = turns().filter(|t| !t.removed).count();
        let lone =
            removed >= ENOUGH_ROWS && running >= ENOUGH_ROWS && followed as f64 <= FOLLOWED_BY_CHANCE * removed as f64;
        let all = turns().count();
        let told = of_rows(followed, removed, "removed lamp");
        let (told, what) = if most(with_another, all) {
            let told = of_rows(with_another, all, "lamp");
            (told.clone(), format!("put {told} into a screen in which another lamp stayed on for two weeks or more"))
        } else if lone {
            (told.clone(), format!("name a screen in which {told} were followed by another within two weeks"))
        } else if let Some(other) = self.in_turn_elsewhere(removed, followed) {
            let what = format!(
                "name a screen in which {told} were followed by another within two weeks, as nearly all would be with \
                 {other} in place of the screen"
            );
            (told, what)
        } else {
            return;
        };
        let (site, screen) = (self.entry(Field::Site), self.entry(Field::Screen));
        let sentence = format!("{site} and {screen} of the column map {what}: one of them is another column");
        judged.doubts.push(Fault::new("records.lamps_in_turn", Field::Screen, sentence).of(told));
    }

    /// How the lamps of each place follow one another.
    fn followed<K>(&self, places: &BTreeMap<K, Vec<Turn>>) -> InTurn {
        let mut all = InTurn::default();
        let fair = Days::new(FAIR_DAYS as u64);
        for lamps in places.values() {
            let mut until: Option<NaiveDate> = None;
            for same in lamps.chunk_by(|a, b| a.fitted_on == b.fitted_on) {
                let last = same.iter().map(|t| t.until).max();
                let fitted = same.first().and_then(|t| t.fitted_on.checked_add_days(fair));
                if until.zip(fitted).is_some_and(|(until, fitted)| until > fitted) {
                    all.with_another += same.len();
                }
                until = until.max(last);
            }
            for turn in lamps.iter().filter(|t| t.removed) {
                let (from, to) = (turn.until.checked_sub_days(fair), turn.until.checked_add_days(fair));
                let Some((from, to)) = from.zip(to).filter(|(_, to)| *to <= self.format.exported_on) else { continue };
                let next = lamps.partition_point(|t| t.fitted_on <= turn.fitted_on.max(from));
                all.removed += 1;
                all.followed += usize::from(lamps.get(next).is_some_and(|t| t.fitted_on <= to));
            }
        }
        all
    }

    /// The column whose texts, in place of the screens, would have the lamps follow one another where those of the
    /// screens do not: batches or suppliers that are the screens.
    fn in_turn_elsewhere(&self, removed: usize, followed: usize) -> Option<String> {
        let of_log = self.first..self.rows.list.len();
        let count = of_log.len();
        if removed < ENOUGH_ROWS || most(followed, removed) || count > MOST_ROWS {
            return None;
        }
        [Field::Batch, Field::Supplier].into_iter().find_map(|field| {
            let named = self.named(field)?;
            let mut places: BTreeMap<(&str, u32), Vec<Turn>> = BTreeMap::new();
            for row in of_log.clone().filter_map(|i| self.rows.list.get(i)) {
                let text = if field == Field::Batch { row.batch } else { row.supplier };
                places.entry((self.rows.site(row), text)).or_default().push(self.turn(row));
            }
            for turns in places.values_mut() {
                turns.sort_by_key(|t| t.fitted_on);
            }
            let found = self.followed(&places);
            let in_turn = found.removed >= ENOUGH_ROWS
                && found.followed as f64 >= FOLLOWED_IN_TURN * found.removed as f64
                && found.with_another as f64 <= (1.0 - FOLLOWED_IN_TURN) * count as f64;
            in_turn.then_some(named)
        })
    }

    fn turn(&self, row: &Row) -> Turn {
        let until = row.spell.removed_on.unwrap_or(self.format.exported_on);
        Turn { fitted_on: row.spell.fitted_on, until, removed: !row.open() }
    }

    /// The lamps of each screen in order of fitting; of a long log, those of some screens.
    fn places_in_turn(&self) -> BTreeMap<u32, Vec<Turn>> {
        let rows = self.rows;
        let count = rows.list.len() - self.first;
        let every = count.div_ceil(MOST_ROWS).max(1) as u32;
        let mut places: BTreeMap<u32, Vec<Turn>> = BTreeMap::new();
        for (i, screen) in rows.keys.screen.iter().enumerate().skip(self.first).filter(|(_, s)| **s % every == 0) {
            let Some(row) = rows.list.get(i) else { continue };
            places.entry(*screen).or_default().push(self.turn(row));
        }
        for turns in places.values_mut() {
            turns.sort_by_key(|t| t.fitted_on);
        }
        places
    }

    /// Whether each batch comes from one supplier, rather than each supplier from one batch.
    pub(super) fn suppliers(&self, judged: &mut Judged) {
        if self.named(Field::Supplier).is_none() || self.named(Field::Batch).is_none() {
            return;
        }
        let named = self.sample.iter().filter(|r| !self.rows.supplier(r).is_empty() && !self.rows.batch(r).is_empty());
        let pairs: Vec<(u32, u32)> = named.map(|r| (r.supplier, r.batch)).collect();
        let distinct: BTreeSet<(u32, u32)> = pairs.iter().copied().collect();
        let suppliers: BTreeSet<u32> = distinct.iter().map(|p| p.0).collect();
        let batches: BTreeSet<u32> = distinct.iter().map(|p| p.1).collect();
        let each_one = distinct.len() == suppliers.len();
        let from_several = |batch: &u32| distinct.iter().filter(|p| p.1 == *batch).count() > 1;
        // A single batch, such as the word for none, says nothing of which column it stands in.
        let one = batches.len() < 2;
        if pairs.len() < ENOUGH_ROWS || one || !each_one || !batches.iter().all(from_several) {
            return;
        }
        let (suppliers, batches) =
            (counted(suppliers.len() as u64, "supplier"), counted(batches.len() as u64, "batch"));
        let told = format!("{suppliers}, {batches}");
        let sentence = format!(
            "{} and {} of the column map give {told}, where no supplier has a second batch and every batch is from several: \
             the two are most likely exchanged",
            self.entry(Field::Supplier),
            self.entry(Field::Batch)
        );
        judged.doubts.push(Fault::new("records.supplier_and_batch", Field::Supplier, sentence).of(told));
    }
}

fn exchanged(other: Option<String>) -> String {
    other.map_or_else(String::new, |other| format!("; {other} is most likely exchanged with it"))
}

impl Reading {
    /// Notes each log none of whose rows stands at a site that the study declares, while another of its columns holds
    /// such sites. A site whose name is a number decides nothing: screens are numbered too.
    pub(crate) fn doubt_by_sites<'s>(&mut self, formats: &[LogFormat], declared: impl Iterator<Item = &'s str>) {
        let declared: BTreeSet<String> = declared.map(fold).collect();
        let telling = |text: &str| text.contains(|c: char| !c.is_numeric()) && declared.contains(text);
        let each: Vec<Spell<'_>> = self.spells.iter().collect();
        let mut doubts = Vec::new();
        for spells in each.chunk_by(|a, b| a.file == b.file) {
            let file = spells.first().map_or("", |s| s.file);
            let Some(format) = formats.iter().find(|f| f.file == file) else { continue };
            let mut folded: BTreeMap<&str, String> = BTreeMap::new();
            let mut is = |text, rule: &dyn Fn(&str) -> bool| rule(folded.entry(text).or_insert_with(|| fold(text)));
            if spells.iter().any(|s| is(s.site, &|text| declared.contains(text))) {
                continue;
            }
            for field in [Field::Screen, Field::Supplier, Field::Batch, Field::Serial] {
                let texts = spells.iter().map(|s| match field {
                    Field::Screen => s.screen,
                    Field::Supplier => s.supplier,
                    Field::Batch => s.batch,
                    _ => s.serial,
                });
                let held = texts.filter(|text| is(text, &telling)).count();
                if held < ENOUGH_ROWS {
                    continue;
                }
                let told = of_rows(held, spells.len(), "row");
                let sentence = format!(
                    "{} of the column map names no site with programme hours, and {} names them in {told}: the two are most \
                     likely exchanged",
                    entry(format, Field::Site),
                    entry(format, field)
                );
                doubts.push(about(format, Field::Site, "records.site_elsewhere", told, sentence));
            }
        }
        for doubt in doubts {
            self.doubt(formats, doubt);
        }
    }

    /// Puts a finding about a whole log before those about its rows.
    pub(super) fn doubt(&mut self, formats: &[LogFormat], doubt: Finding) {
        let findings = &mut self.ledger.findings;
        let rank = |file: &str| formats.iter().position(|f| f.file == file);
        let at = findings.partition_point(|f| rank(&f.file) < rank(&doubt.file));
        findings.insert(at, doubt);
    }
}

/// A finding about a whole log.
pub(super) fn about(format: &LogFormat, field: Field, rule: &str, value: String, sentence: String) -> Finding {
    Finding {
        file: format.file.clone(),
        row: 0,
        line: 0,
        column: field.column(format).trim().to_owned(),
        value,
        rule: rule.to_owned(),
        outcome: Outcome::Used,
        serial: String::new(),
        sentence,
    }
}
