//! What must not pass in silence: what is doubtful in a study file, and readings too old.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::declare::Declaration;
use super::open::Study;
use super::overdue::{OverdueLists, READING_TOO_OLD, UnknownLamp};
use crate::base::figure::{counted, hours, short, whole};
use crate::records::{Finding, Outcome, Reading, cells, distance, fold};

/// Rule of programme hours that no lamp has.
const PROGRAMME_UNUSED: &str = "study.programme_unused";
/// Rule of a planned change that costs less than its lamp.
const PLANNED_BELOW_PRICE: &str = "study.planned_below_price";
/// Rule of a failure that stands where lamps are changed on plan.
const REASON_HEAPED: &str = "study.reason_heaped";
/// Hours from an age within which a row stands at it.
///
/// Common practice, no source: lamps are changed on plan within a day of programme of the age, mostly at the meter's very
/// hour.
const HEAP_HOURS: f64 = 5.0;
/// Fewest rows of a reason from which it is judged.
const HEAP_ROWS: u64 = 10;
/// Fewest of them at one age for which it is doubted: that many of ten are no chance.
const HEAP_LEAST: u64 = 6;
/// Share of them at one age above which a failure is doubted.
///
/// Our choice, without a source: on the invented chain planned changes have half of their rows there, failures a tenth at
/// most.
const HEAP_SHARE: f64 = 0.3;
/// Rule of warranty hours past the limit of use.
const WARRANTY_PAST_USE: &str = "study.warranty_past_use";

impl Study {
    /// What the study file declares and is doubtful: programme hours of a site or a screen that no lamp stands in, which
    /// may be a slip of the hand or a site that has no lamps yet; printed warranty hours past the printed limit of use, of
    /// which one is likely in the wrong place; a planned change that costs less than its lamp; and a reason that counts as
    /// a failure while its rows heap where lamps are changed on plan. Each is a finding and no error.
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
        for (i, p) in self.declaration.programme.iter().enumerate() {
            let site = fold(&p.site);
            let screens: Vec<&str> = known.iter().filter(|k| k.0 == site).map(|k| k.1.as_str()).collect();
            let (key, value, sentence) = match &p.screen {
                _ if screens.is_empty() => {
                    let nearest = nearest(&p.site, places.iter().map(|place| place.0));
                    ("site", &p.site, format!("no row in use names this site{nearest}"))
                }
                Some(screen) if !screens.contains(&fold(screen).as_str()) => {
                    let of_site = places.iter().filter(|place| fold(place.0) == site).map(|place| place.1);
                    let nearest = nearest(screen, of_site);
                    ("screen", screen, format!("no row in use names this screen of {}{nearest}", p.site))
                }
                _ => continue,
            };
            doubts.push(Finding {
                file: file.to_string(),
                row: 0,
                line: p.line,
                column: format!("programme[{}].{key}", i + 1),
                value: value.clone(),
                rule: PROGRAMME_UNUSED.to_owned(),
                outcome: Outcome::Used,
                serial: String::new(),
                sentence: format!("{sentence}; its programme hours change nothing"),
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
        doubts.extend(self.heaped_failures(reading, &file));
        doubts
    }

    /// Reasons that count as a failure while many of their rows stand at one age, the hour limit or today's planned age:
    /// lamps that fail do so at any age, and those changed on plan heap there.
    fn heaped_failures(&self, reading: &Reading, file: &str) -> Vec<Finding> {
        let declared = &self.declaration;
        let mut heaps: BTreeMap<String, Heap> = BTreeMap::new();
        for s in reading.spells.iter().filter(|s| declared.failure_endings.contains(&s.ending)) {
            let Some(class) = declared.classes.iter().find(|c| *c.name == **s.lamp_class) else { continue };
            let near = |age: f64| u64::from((s.end_hours - age).abs() <= HEAP_HOURS);
            let heap = heaps.entry(fold(s.reason)).or_default();
            heap.rows += 1;
            heap.at_limit += near(class.limit.hours());
            heap.at_rule += near(class.todays_rule_hours);
        }
        let mut told = Vec::new();
        for ((text, ending), line) in declared.reasons.iter().zip(&declared.reason_lines) {
            let Some(heap) = heaps.remove(&fold(text)) else { continue };
            let (most, which) = if heap.at_rule >= heap.at_limit {
                (heap.at_rule, "today's planned age")
            } else {
                (heap.at_limit, "the hour limit")
            };
            let share = most as f64 / heap.rows as f64;
            if heap.rows < HEAP_ROWS || most < HEAP_LEAST || share <= HEAP_SHARE {
                continue;
            }
            told.push(Finding {
                file: file.to_owned(),
                row: 0,
                line: *line,
                column: format!("reasons.\"{text}\""),
                value: ending.as_str().to_owned(),
                rule: REASON_HEAPED.to_owned(),
                outcome: Outcome::Used,
                serial: String::new(),
                sentence: format!(
                    "{} of {} with this reason ({} %) stand within {HEAP_HOURS} h of {which}, where lamps changed on plan heap \
                     and lamps that fail do not: does it stand for a planned change?",
                    whole(most as f64),
                    counted(heap.rows, "row"),
                    whole(100.0 * share)
                ),
            });
        }
        told
    }
}

/// Rows of one reason, and those of them near an age at which lamps are changed on plan.
#[derive(Default)]
struct Heap {
    rows: u64,
    at_limit: u64,
    at_rule: u64,
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

/// The name most like another, as the end of a sentence; nothing where none is like it.
fn nearest<'a>(name: &str, among: impl Iterator<Item = &'a str>) -> String {
    let close = among.map(|other| (distance(other, name), other)).min();
    let close = close.filter(|(edits, _)| *edits <= 1 + name.chars().count() / 3);
    close.map_or_else(String::new, |(_, other)| format!("; the nearest is \"{other}\""))
}
