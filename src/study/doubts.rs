//! What must not pass in silence: what is doubtful in a study file, and readings too old.

use std::collections::BTreeSet;
use std::path::Path;

use super::answers::{answer, unused};
use super::declare::Declaration;
use super::open::Study;
use super::overdue::{OverdueLists, READING_TOO_OLD, UnknownLamp};
use crate::base::figure::{counted, hours, short};
use crate::records::{Finding, Outcome, Reading, cells, fold, nearest};

/// Rule of programme hours that no lamp has.
pub(super) const PROGRAMME_UNUSED: &str = "study.programme_unused";
/// Rule of a stop that no lamp meets.
pub(super) const STOP_UNUSED: &str = "study.stop_unused";
/// Rule of special days that no lamp meets.
pub(super) const SPECIAL_UNUSED: &str = "study.special_days_unused";
/// Rule of an earlier day of a stop that nothing is compared by.
pub(super) const EARLIER_UNUSED: &str = "study.earlier_unused";
/// Rule of a planned change that costs less than its lamp.
pub(super) const PLANNED_BELOW_PRICE: &str = "study.planned_below_price";
/// Rule of a stock count that says little of today.
pub(super) const COUNT_OLD: &str = "study.count_old";
/// Most days from a stock count to the as-of date without a word.
///
/// Our choice, without a source: a month, in which a chain uses about as many lamps as a delivery brings.
const MOST_COUNT_DAYS: i64 = 31;
/// Rule of logs in which no lamp burns.
pub(super) const NO_BURNING_LAMP: &str = "study.no_burning_lamp";
/// What such logs leave unknown, and why.
pub(super) const NO_LAMP_BURNS: &str = "no lamp of these logs burns";
/// Rule of warranty hours past the limit of use.
pub(super) const WARRANTY_PAST_USE: &str = "study.warranty_past_use";

impl Study {
    /// What the study file declares and is doubtful: programme hours of a site or a screen that no lamp stands in, which
    /// may be a slip of the hand or a site that has no lamps yet; printed warranty hours past the printed limit of use, of
    /// which one is likely in the wrong place; a planned change that costs less than its lamp; and reasons that count as
    /// failures though they look like planned changes: rows that heap where lamps are changed on plan, no removal
    /// at all that is a planned change, or one cause for every lamp of a class; lines of the reason map that no row uses;
    /// an earlier day of a stop where no last buy compares it; and logs in which no lamp burns; and an answer of the study
    /// file to what these records do not ask. Each is a finding and no error. What the study file answers is marked as
    /// [`Outcome::Answered`].
    ///
    /// # Examples
    /// ```
    /// use relamp::{Run, study::Study};
    /// let study = Study::open("data/demo/study.toml")?;
    /// let reading = study.read(&Run::new())?;
    /// assert!(study.doubts(&reading).is_empty());
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn doubts(&self, reading: &Reading) -> Vec<Finding> {
        let spells = reading.spells.iter().map(|s| (&**s.site, &**s.screen));
        let disputed = reading.disputed.iter().map(|d| (&*d.site, &*d.screen));
        let places: BTreeSet<(&str, &str)> = spells.chain(disputed).collect();
        let known: BTreeSet<(String, String)> = places.iter().map(|(a, b)| (fold(a), fold(b))).collect();
        let file = self.file.file_name().unwrap_or_default().to_string_lossy();
        let mut doubts = Vec::new();
        // What is declared of a place: its table, rule, site, screen, line and what it changes.
        let programme = self.declaration.programme.iter().enumerate();
        let programme = programme.map(|(i, p)| {
            let table = format!("programme[{}]", i + 1);
            (table, PROGRAMME_UNUSED, &p.site, &p.screen, p.line, "its programme hours change nothing")
        });
        let stops = self.declaration.stops.iter().enumerate();
        let stops = stops.map(|(i, s)| {
            let table = format!("stop[{}]", i + 1);
            (table, STOP_UNUSED, &s.site, &s.screen, s.line, "its stop changes nothing")
        });
        let lines = self.declaration.special_day_lines.iter().copied();
        let special = self.declaration.season.iter().flat_map(|s| &s.special_days).zip(lines).enumerate();
        let special = special.filter_map(|(i, (d, line))| {
            let table = format!("special_days[{}]", i + 1);
            Some((table, SPECIAL_UNUSED, d.site.as_ref()?, &d.screen, line, "its special days change nothing"))
        });
        for (table, rule, named, screen, line, changes) in programme.chain(stops).chain(special) {
            let site = fold(named);
            let screens: Vec<&str> = known.iter().filter(|k| k.0 == site).map(|k| k.1.as_str()).collect();
            let (key, value, sentence) = match screen {
                _ if screens.is_empty() => {
                    let nearest = nearest(named, places.iter().map(|place| place.0));
                    ("site", named, format!("no row in use names this site{nearest}"))
                }
                Some(screen) if !screens.contains(&fold(screen).as_str()) => {
                    let of_site = places.iter().filter(|place| fold(place.0) == site).map(|place| place.1);
                    let nearest = nearest(screen, of_site);
                    ("screen", screen, format!("no row in use names this screen of {named}{nearest}"))
                }
                _ => continue,
            };
            doubts.push(Finding {
                file: file.to_string(),
                row: 0,
                line,
                column: format!("{table}.{key}"),
                value: value.clone(),
                rule: rule.to_owned(),
                outcome: Outcome::Used,
                serial: String::new(),
                sentence: format!("{sentence}; {changes}"),
            });
        }
        let alone = self.declaration.stops.iter().enumerate().filter(|_| self.declaration.last_buys.is_empty());
        for (i, stop) in alone {
            let Some(day) = stop.earlier_on else { continue };
            doubts.push(Finding {
                file: file.to_string(),
                row: 0,
                line: stop.line,
                column: format!("stop[{}].earlier_on", i + 1),
                value: day.to_string(),
                rule: EARLIER_UNUSED.to_owned(),
                outcome: Outcome::Used,
                serial: String::new(),
                sentence: "an earlier day is compared in a last buy alone, and no [[last_buy]] is declared; it changes nothing"
                    .to_owned(),
            });
        }
        for class in &self.declaration.classes {
            let mut doubt = |line, key: &str, value, rule: &str, sentence| {
                doubts.push(Finding {
                    file: file.to_string(),
                    row: 0,
                    line,
                    column: format!("class \"{}\".{key}", class.name),
                    value,
                    rule: rule.to_owned(),
                    outcome: Outcome::Used,
                    serial: String::new(),
                    sentence,
                });
            };
            if let Some(line) = class.warranty_past_use_line {
                let printed = &class.printed;
                let (warranty, most) = (printed.warranty_hours.unwrap_or(0.0), printed.maximum_hours.unwrap_or(0.0));
                let sentence = format!(
                    "the warranty hours lie past the maker's limit of use of {} h: is one of them in the wrong place? The \
                     limit of use holds for every advice",
                    hours(most)
                );
                doubt(line, "warranty_hours", hours(warranty), WARRANTY_PAST_USE, sentence);
            }
            let planned = class.costs.planned();
            if planned < class.price {
                let sentence = format!(
                    "the whole cost of a planned change lies below the price of the lamp that it takes, {} {}: does it \
                     leave out the lamp?",
                    short(class.price),
                    self.declaration.currency
                );
                doubt(class.planned_cost_line, "costs.planned", short(planned), PLANNED_BELOW_PRICE, sentence);
            }
        }
        let count_file = self.declaration.stores.stock_count.as_ref().and_then(|c| Some((c.line, c.counted_on?)));
        if let Some((line, day)) =
            count_file.filter(|(_, day)| (self.declaration.as_of - *day).num_days() > MOST_COUNT_DAYS)
        {
            let days = (self.declaration.as_of - day).num_days().unsigned_abs();
            doubts.push(Finding {
                file: file.to_string(),
                row: 0,
                line,
                column: "stock_count.counted_on".to_owned(),
                value: day.to_string(),
                rule: COUNT_OLD.to_owned(),
                outcome: Outcome::Used,
                serial: String::new(),
                sentence: format!(
                    "the stock was counted {} before the as-of date, and is taken as that of the as-of date: what came and \
                     went since is in no level and in no order",
                    counted(days, "day")
                ),
            });
        }
        let log = self.declaration.logs.first();
        if let Some(log) = log.filter(|_| no_lamp_burns(reading)) {
            doubts.push(Finding {
                file: log.file.clone(),
                row: 0,
                line: 1,
                column: log.columns.removed_on.clone(),
                value: counted(reading.spells.len() as u64, "removal"),
                rule: NO_BURNING_LAMP.to_owned(),
                outcome: Outcome::Used,
                serial: String::new(),
                sentence:
                    "no lamp burns in these logs: which lamps are due, how many will be needed and how many spares to \
                     hold cannot be told from them"
                        .to_owned(),
            });
        }
        doubts.extend(self.doubtful_reasons(reading, &file));
        let answers = &self.declaration.answers;
        answer(&mut doubts, answers);
        let unused = unused(answers, &reading.ledger, &doubts, &file);
        doubts.extend(unused);
        doubts
    }
}

/// Whether every lamp of the logs was removed, as where only removals were exported.
fn no_lamp_burns(reading: &Reading) -> bool {
    let removed = reading.spells.iter().all(|s| s.removed_on.is_some());
    removed && !reading.spells.is_empty() && reading.disputed.is_empty()
}

/// Why nothing is known of lamps due, lamps needed and spares; empty where the logs tell.
pub(super) fn not_known(reading: &Reading) -> String {
    if no_lamp_burns(reading) { NO_LAMP_BURNS.to_owned() } else { String::new() }
}

/// Findings of the lamps whose last reading is too old to say anything of today, each with the cell of its day as the log
/// has it.
pub(super) fn old_readings(lists: &OverdueLists, declared: &Declaration, folder: &Path) -> Vec<Finding> {
    let mut findings = Vec::new();
    for log in &declared.logs {
        let old = |l: &&UnknownLamp| l.rule == READING_TOO_OLD && l.file == log.file;
        let lines: BTreeSet<u64> = lists.age_unknown.iter().filter(old).map(|l| l.line).collect();
        if lines.is_empty() {
            continue;
        }
        let column = log.columns.read_on.as_ref().unwrap_or(&log.columns.hours);
        // A log that went away since it was read leaves the day as it was understood.
        let written = cells(log, folder, column, &lines).unwrap_or_default();
        findings.extend(lists.age_unknown.iter().filter(old).map(|l| {
            Finding {
                file: l.file.clone(),
                row: 0,
                line: l.line,
                column: column.trim().to_owned(),
                value: written
                    .get(&l.line)
                    .cloned()
                    .unwrap_or_else(|| l.read_on.map_or_else(String::new, |day| day.to_string())),
                rule: l.rule.clone(),
                outcome: Outcome::Used,
                serial: l.serial.clone(),
                sentence: l.why.clone(),
            }
        }));
    }
    findings
}
