//! Lamps at or past their limit today, lamps that will soon be there, and lamps whose age is not known.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::declare::Declaration;
use super::declare_class::LampClass;
use super::declare_ending::stop_of;
use super::doubts::not_known;
use crate::base::figure::{self, counted};
use crate::records::{Disputed, Ending, Finding, Reading, Spell, Word};

/// Rule of a lamp whose last reading says nothing of today.
pub(super) const READING_TOO_OLD: &str = "study.reading_too_old";

/// The three lists that come before everything else.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OverdueLists {
    /// Running lamps at or past their limit at their last reading, most hours over first.
    pub at_limit: Vec<OverdueLamp>,
    /// Running lamps expected to reach their limit before the next planned visit or within the lead time, soonest first.
    pub soon: Vec<SoonLamp>,
    /// Running lamps whose hours are missing or disputed, or whose last reading is so old that by programme they may
    /// have reached their limit since: treat as due.
    pub age_unknown: Vec<UnknownLamp>,
    /// Why nothing is known of lamps that are due: no lamp of the logs burns, so that all three lists are empty. Empty
    /// where the lists tell.
    #[serde(default)]
    pub not_known: String,
}

/// A running lamp at or past its limit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OverdueLamp {
    /// Lamp class.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen.
    pub screen: String,
    /// Serial.
    pub serial: String,
    /// Hours at the last reading.
    pub reading_hours: f64,
    /// Day of the last reading, as far as known.
    pub read_on: Option<NaiveDate>,
    /// The limit it is judged against: the smaller of the limit of the study and the maker's.
    pub limit_hours: f64,
    /// Hours past that limit; 0 at the limit.
    pub over_hours: f64,
    /// Whether its hours are disputed too: it then counts among the lamps of unknown age as well, though it stands here
    /// alone.
    #[serde(default)]
    pub disputed: bool,
    /// Log of the row.
    pub file: String,
    /// Line of the row.
    pub line: u64,
}

/// A running lamp expected to reach its limit soon.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SoonLamp {
    /// Lamp class.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen.
    pub screen: String,
    /// Serial.
    pub serial: String,
    /// Hours at the last reading.
    pub reading_hours: f64,
    /// Day of the last reading.
    pub read_on: NaiveDate,
    /// The limit it is judged against: the smaller of the limit of the study and the maker's.
    pub limit_hours: f64,
    /// Programme hours of its screen.
    pub programme_hours_per_week: f64,
    /// Hours expected at the next planned visit: the last reading and the programme hours since.
    pub expected_hours_at_visit: f64,
    /// Whole days from the as-of date until the limit is expected, 0 or more.
    pub days_left: i64,
    /// Whether it is expected to reach the limit before the next planned visit.
    pub before_next_visit: bool,
    /// Whether it is expected to reach the limit within the lead time of its class.
    pub within_lead_time: bool,
    /// Last day on which its screen is declared to stop, where that is the day on which it reaches its limit or before. The
    /// lamp stays listed, since a stop may come late.
    #[serde(default)]
    pub stops_by: Option<NaiveDate>,
    /// Log of the row.
    pub file: String,
    /// Line of the row.
    pub line: u64,
}

/// A running lamp whose age is not known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct UnknownLamp {
    /// Lamp class, as far as known.
    pub lamp_class: String,
    /// Site, as far as known.
    pub site: String,
    /// Screen, as far as known.
    pub screen: String,
    /// Serial, as far as known.
    pub serial: String,
    /// Why its age is not known, in plain words.
    pub why: String,
    /// The rule of the finding.
    pub rule: String,
    /// Hours at the last reading, where nothing disputes them.
    #[serde(default)]
    pub reading_hours: Option<f64>,
    /// Day of the last reading, as far as known.
    #[serde(default)]
    pub read_on: Option<NaiveDate>,
    /// The limit it is judged against, where its class is known.
    #[serde(default)]
    pub limit_hours: Option<f64>,
    /// Log of the row.
    pub file: String,
    /// Line of the row.
    pub line: u64,
}

impl OverdueLists {
    /// Whether any lamp is at or past its limit, or has to be treated so.
    pub fn any_due(&self) -> bool {
        !self.at_limit.is_empty() || !self.age_unknown.is_empty()
    }

    /// Whether all three lists are empty.
    pub fn is_empty(&self) -> bool {
        self.at_limit.is_empty() && self.soon.is_empty() && self.age_unknown.is_empty()
    }

    /// The three lists as one, as tables show them: what is due first.
    pub fn rows(&self) -> Vec<OverdueRow<'_>> {
        let due = self.at_limit.iter().map(|l| OverdueRow {
            list: "at or past the limit",
            who: [&l.lamp_class, &l.site, &l.screen, &l.serial],
            reading_hours: Some(l.reading_hours),
            limit_hours: Some(l.limit_hours),
            over_hours: Some(l.over_hours),
            read_on: l.read_on,
            soon: None,
            why: "",
            file: &l.file,
            line: l.line,
        });
        let unknown = self.age_unknown.iter().map(|l| OverdueRow {
            list: "age not known: treat as due",
            who: [&l.lamp_class, &l.site, &l.screen, &l.serial],
            reading_hours: l.reading_hours,
            limit_hours: l.limit_hours,
            over_hours: None,
            read_on: l.read_on,
            soon: None,
            why: &l.why,
            file: &l.file,
            line: l.line,
        });
        let soon = self.soon.iter().map(|l| OverdueRow {
            list: "reaches the limit soon",
            who: [&l.lamp_class, &l.site, &l.screen, &l.serial],
            reading_hours: Some(l.reading_hours),
            limit_hours: Some(l.limit_hours),
            over_hours: None,
            read_on: Some(l.read_on),
            soon: Some(l),
            why: "",
            file: &l.file,
            line: l.line,
        });
        due.chain(unknown).chain(soon).collect()
    }
}

/// One lamp of the three lists, as tables show it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OverdueRow<'a> {
    /// The list it stands in, in words.
    pub list: &'static str,
    /// Lamp class, site, screen and serial.
    pub who: [&'a str; 4],
    /// Hours at the last reading.
    pub reading_hours: Option<f64>,
    /// The limit it is judged against.
    pub limit_hours: Option<f64>,
    /// Hours past that limit at the last reading.
    pub over_hours: Option<f64>,
    /// Day of the last reading.
    pub read_on: Option<NaiveDate>,
    /// What is expected of a lamp that reaches its limit soon.
    pub soon: Option<&'a SoonLamp>,
    /// Why its age is not known.
    pub why: &'a str,
    /// Log of the row.
    pub file: &'a str,
    /// Line of the row.
    pub line: u64,
}

/// Judges every running lamp of a reading.
///
/// A lamp at or past the smaller of the limit in force and the maker's is due, so an override of the limit never
/// empties the list. A lamp whose hours are disputed is listed apart; one that is only missing from the newest export,
/// or whose reading has no day, is judged by its last reading as well. A lamp that by programme may have reached its limit since its last reading has no
/// known age either: nobody can say that it is still below.
pub(super) fn overdue_lists(reading: &Reading, declared: &Declaration) -> OverdueLists {
    let mut lists = OverdueLists { not_known: not_known(reading), ..OverdueLists::default() };
    let mut due: BTreeSet<(&Word, u64)> = BTreeSet::new();
    let disputed: BTreeMap<(&Word, u64), &Disputed> = reading.disputed.iter().map(|d| ((&d.file, d.line), d)).collect();
    let mut soon: Vec<(f64, SoonLamp)> = Vec::new();
    let mut stale = Vec::new();
    for life in reading.lives.iter().filter(|l| l.ending == Ending::Running) {
        let Some(spell) = reading.last_spell(&life) else { continue };
        let Some(class) = declared.classes.iter().find(|c| *c.name == **life.lamp_class) else { continue };
        let dispute = disputed.get(&(spell.file, spell.line));
        if life.end_hours >= class.judged_limit_hours() {
            due.insert((spell.file, spell.line));
            let read_on = Some(spell.read_on).filter(|_| !dispute.is_some_and(|d| d.undated()));
            lists.at_limit.push(at_limit(&spell, class, life.end_hours, read_on, dispute.is_some()));
        } else if dispute.is_none() {
            match days_left(&spell, class, life.end_hours, declared) {
                Some(days) => soon.extend(soon_lamp(&spell, class, life.end_hours, days, declared)),
                None => stale.push(stale_lamp(&spell, class, life.end_hours, declared)),
            }
        }
    }
    // Each sort ends in the place of the row, so that equal lamps keep one order.
    lists.at_limit.sort_by(|a, b| b.over_hours.total_cmp(&a.over_hours).then_with(|| place(a).cmp(&place(b))));
    soon.sort_by(|a, b| {
        a.0.total_cmp(&b.0).then_with(|| (&a.1.file, a.1.line, &a.1.serial).cmp(&(&b.1.file, b.1.line, &b.1.serial)))
    });
    lists.soon = soon.into_iter().map(|(_, lamp)| lamp).collect();
    let disputed = reading.disputed.iter().filter(|d| !due.contains(&(&d.file, d.line)));
    lists.age_unknown = disputed.map(|d| unknown(d, reading, declared)).collect();
    stale.sort_by(|a, b| (a.read_on, &a.file, a.line, &a.serial).cmp(&(b.read_on, &b.file, b.line, &b.serial)));
    lists.age_unknown.extend(stale);
    lists
}

fn place(lamp: &OverdueLamp) -> (&str, u64, &str) {
    (&lamp.file, lamp.line, &lamp.serial)
}

fn at_limit(
    spell: &Spell<'_>,
    class: &LampClass,
    hours: f64,
    read_on: Option<NaiveDate>,
    disputed: bool,
) -> OverdueLamp {
    let limit_hours = class.judged_limit_hours();
    OverdueLamp {
        lamp_class: class.name.clone(),
        site: spell.site.to_string(),
        screen: spell.screen.to_string(),
        serial: spell.serial.to_string(),
        reading_hours: hours,
        read_on,
        limit_hours,
        // A difference of meter readings carries no more digits than they do.
        over_hours: ((hours - limit_hours) * 1e6).round() / 1e6,
        disputed,
        file: spell.file.to_string(),
        line: spell.line,
    }
}

/// Days from the as-of date until a lamp that was below its limit when last read reaches it by programme; none where it
/// may have reached it since.
pub(super) fn days_left(spell: &Spell<'_>, class: &LampClass, hours: f64, declared: &Declaration) -> Option<f64> {
    let daily = declared.hours_per_week(spell.site, spell.screen) / 7.0;
    let left = (class.judged_limit_hours() - hours) / daily - since(spell, declared);
    let days = declared.paces.of_screen(spell.site, spell.screen).map_or(left, |pace| pace.day_of(left));
    (days > 0.0).then_some(days)
}

/// Days of ordinary hours since the last reading.
pub(super) fn since(spell: &Spell<'_>, declared: &Declaration) -> f64 {
    declared.paces.days_since((spell.site, spell.screen), spell.read_on, days_between(spell, declared))
}

/// Days of the calendar since the last reading.
fn days_between(spell: &Spell<'_>, declared: &Declaration) -> f64 {
    (declared.as_of - spell.read_on).num_days().max(0) as f64
}

/// The lamp with the days left to its limit, if it is expected to reach it in time to matter.
fn soon_lamp(
    spell: &Spell<'_>,
    class: &LampClass,
    hours: f64,
    days_left: f64,
    declared: &Declaration,
) -> Option<(f64, SoonLamp)> {
    let weekly = declared.hours_per_week(spell.site, spell.screen);
    let visit_days = f64::from(declared.chain.visit_interval_days);
    let pace = declared.paces.of_screen(spell.site, spell.screen);
    let to_visit = pace.map_or(visit_days, |pace| pace.days_at(visit_days));
    let before_next_visit = days_left <= visit_days;
    let within_lead_time = days_left <= f64::from(class.lead_time_days);
    if !(before_next_visit || within_lead_time) {
        return None;
    }
    let lamp = SoonLamp {
        lamp_class: class.name.clone(),
        site: spell.site.to_string(),
        screen: spell.screen.to_string(),
        serial: spell.serial.to_string(),
        reading_hours: hours,
        read_on: spell.read_on,
        limit_hours: class.judged_limit_hours(),
        programme_hours_per_week: weekly,
        expected_hours_at_visit: hours + weekly / 7.0 * (since(spell, declared) + to_visit),
        days_left: days_left.floor() as i64,
        before_next_visit,
        within_lead_time,
        stops_by: stop_of(&declared.stops, spell.site, spell.screen)
            .map(|stop| stop.latest)
            .filter(|day| stops_first(*day, declared.as_of, days_left.floor() as i64)),
        file: spell.file.to_string(),
        line: spell.line,
    };
    Some((days_left, lamp))
}

/// Whether a screen has stopped by the day on which its lamp would reach the limit.
pub(super) fn stops_first(stop: NaiveDate, as_of: NaiveDate, days_left: i64) -> bool {
    (stop - as_of).num_days() <= days_left
}

/// A lamp that by programme may have reached its limit since it was last read.
fn stale_lamp(spell: &Spell<'_>, class: &LampClass, hours: f64, declared: &Declaration) -> UnknownLamp {
    let limit = class.judged_limit_hours();
    let season = if declared.season.is_some() { " and by the season declared" } else { "" };
    let weekly = declared.hours_per_week(spell.site, spell.screen);
    UnknownLamp {
        lamp_class: class.name.clone(),
        site: spell.site.to_string(),
        screen: spell.screen.to_string(),
        serial: spell.serial.to_string(),
        why: format!(
            "last read {} ago at {} h; at {weekly} h a week{season} it may have reached its limit of {} h since",
            counted(days_between(spell, declared) as u64, "day"),
            figure::hours(hours),
            figure::hours(limit)
        ),
        rule: READING_TOO_OLD.to_owned(),
        reading_hours: Some(hours),
        read_on: Some(spell.read_on),
        limit_hours: Some(limit),
        file: spell.file.to_string(),
        line: spell.line,
    }
}

/// A finding by itself: what it says of a cell is said with the cell.
fn told(f: &Finding) -> String {
    // A word that names no class is all that tells which lamp it is.
    if f.sentence.starts_with("the cell") || f.rule == "records.class_unknown" {
        return format!("{} \"{}\": {}", f.column, f.value, f.sentence);
    }
    f.sentence.clone()
}

fn unknown(row: &Disputed, reading: &Reading, declared: &Declaration) -> UnknownLamp {
    let class = declared.classes.iter().find(|c| *c.name == *row.lamp_class);
    let findings = &reading.ledger.findings;
    let said = findings.iter().find(|f| *f.file == *row.file && f.line == row.line && f.rule == row.rule);
    let why = said.map_or_else(|| "the hours of this lamp are disputed".to_owned(), told);
    UnknownLamp {
        lamp_class: row.lamp_class.to_string(),
        site: row.site.to_string(),
        screen: row.screen.to_string(),
        serial: row.serial.to_string(),
        why,
        rule: row.rule.clone(),
        reading_hours: row.hours.filter(|_| row.row_in_use()),
        read_on: row.read_on,
        limit_hours: class.map(LampClass::judged_limit_hours),
        file: row.file.to_string(),
        line: row.line,
    }
}
