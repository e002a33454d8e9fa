//! Planted faults, one kind to a row and never two kinds on one lamp or on neighbouring lamps of a screen.
//!
//! The key gives file, line, row and *true* serial of each. For the kinds that concern two rows
//! (`two_screens_at_once`, `removal_missing`, `duplicate`) it names the altered row only: match those by serial.
//!
//! | kind | what the altered row looks like |
//! |---|---|
//! | `meter_restarted` | a lamp's later spell with hours at removal below its hours at fitting; or that spell with hours at fitting 0 or blank though the earlier spell ended above; or hours at removal below the hours first seen; or below the last good reading |
//! | `hours_negative` | hours at removal, or at the last reading of a running lamp, with a minus sign |
//! | `hours_impossible` | hours at removal that need 31 to 58 hours a day (not 60 times a likely figure, so not minutes) |
//! | `two_screens_at_once` | a lamp's later spell, in another screen, fitted 5 to 25 days before the earlier one ended |
//! | `removed_before_fitted` | day of fitting and day of removal exchanged |
//! | `removal_missing` | day and reason of removal blank, hours and reading date of the last weekly reading; a later lamp stands in the same screen |
//! | `duplicate` | a copy of a closed row in a log of another region, some with hours that contradict (the detail begins with `contradicting`); and, in the older of two exports, each spell that was still open then and stands in the newer export as well |
//! | `absent_from_newest` | a lamp open in the older export whose screen is in no later record |
//! | `strikes_in_hours` | hours at removal and strikes exchanged: hours a third of the truth, strikes about three to an hour |
//! | `repeated_header`, `total_row` | not a spell; the total row begins with `Summe` |
//! | `serial_mistyped` | the later spell of a lamp, or a copy as under `duplicate`, with O for 0, I for 1 (or the reverse), or two neighbouring digits exchanged |
//! | `minutes_for_hours` | all hour cells of the row multiplied by 60 |
//! | `restart_forgotten` | a new lamp whose hours at fitting are the removal hours of the lamp before it in that screen, and whose hours at removal (and last good reading) include them |
//! | `reason_blank` | a removed lamp without a reason |
//! | `reason_unmapped` | a removed lamp with words that the reason map leaves out |
//! | `class_unknown` | the class cell holds `Type 99` |
//! | `date_unreadable` | the day of fitting is no date |
//! | `hours_unreadable` | the hours at removal, or at the last reading of a running lamp, are words |
//! | `serial_blank` | no serial |
//!
//! Of two rows of one spell under two serials, the mistyped one is that in the log of another region.
//!
//! Not faults, though they look odd: a lamp whose earlier spell ended before the records began has hours at fitting above
//! 0 and no earlier row; a lamp that fails in its first hour has more strikes than hours; a running lamp fitted after the
//! last weekly reading has its hours at fitting as its reading; a spell that was open in the older of two exports has later
//! lamps after it in its screen; hours between last good reading and removal are up to a week; many hours at removal are
//! exactly the rule or a round hundred.

use std::collections::{BTreeMap, BTreeSet};

use crate::convention::{Column, Convention};
use crate::lamps::Lamp;
use crate::rows::{Row, as_open};
use crate::stream::Stream;
use crate::words;

/// Rows of a chain of full size, to which the counts below belong.
const FULL_ROWS: f64 = 6_000.0;

/// Tenths of an hour in words.
fn hours(tenths: i64) -> String {
    format!("{:.1}", tenths as f64 / 10.0)
}

struct Planter<'a> {
    rows: &'a mut Vec<Row>,
    logs: &'a [Convention],
    stream: Stream,
    /// Rows of each lamp, by day of fitting.
    of_lamp: BTreeMap<usize, Vec<usize>>,
    /// Row before and after in the same screen.
    before: Vec<Option<usize>>,
    after: Vec<Option<usize>>,
    serials: BTreeSet<String>,
    scale: f64,
}

/// Plants all kinds on the rows of a chain.
pub fn plant(seed: u64, rows: &mut Vec<Row>, lamps: &[Lamp], logs: &[Convention]) {
    let mut planter = Planter {
        stream: Stream::new(seed, "faults", 0),
        of_lamp: BTreeMap::new(),
        before: vec![None; rows.len()],
        after: vec![None; rows.len()],
        serials: lamps.iter().map(|l| l.serial.clone()).collect(),
        scale: rows.len() as f64 / FULL_ROWS,
        rows,
        logs,
    };
    planter.link();
    planter.later_spells();
    planter.single_rows();
    planter.running_rows();
    planter.copies();
}

impl Planter<'_> {
    fn link(&mut self) {
        let mut order: Vec<usize> = (0..self.rows.len()).collect();
        order.sort_by_key(|&i| (self.rows[i].fitted_on, self.rows[i].fitted));
        let mut last: BTreeMap<(usize, usize), usize> = BTreeMap::new();
        for i in order {
            let row = &self.rows[i];
            self.of_lamp.entry(row.lamp).or_default().push(i);
            if let Some(before) = last.insert((row.site, row.screen), i) {
                self.before[i] = Some(before);
                self.after[before] = Some(i);
            }
        }
    }

    /// Chooses up to `n` rows (at full size) in random order that fit `wanted`.
    fn choose(&mut self, n: usize, wanted: impl Fn(&Self, usize) -> bool) -> Vec<usize> {
        let n = ((n as f64 * self.scale).round() as usize).max(1);
        let mut chosen = Vec::new();
        for i in self.stream.order(self.rows.len()) {
            if chosen.len() == n {
                break;
            }
            if self.free(i) && wanted(self, i) {
                self.lock(i);
                chosen.push(i);
            }
        }
        chosen
    }

    fn free(&self, i: usize) -> bool {
        self.of_lamp.get(&self.rows[i].lamp).is_some_and(|all| all.iter().all(|&r| !self.rows[r].locked))
    }

    /// Keeps other faults off a lamp and off its neighbours in the screen.
    fn lock(&mut self, i: usize) {
        let mine = self.of_lamp.get(&self.rows[i].lamp).cloned().unwrap_or_default();
        for r in mine {
            for near in [Some(r), self.before[r], self.after[r]].into_iter().flatten() {
                self.rows[near].locked = true;
            }
        }
    }

    /// The spell of the lamp before this row.
    fn earlier(&self, i: usize) -> Option<&Row> {
        let all = self.of_lamp.get(&self.rows[i].lamp)?;
        let at = all.iter().position(|&r| r == i)?;
        at.checked_sub(1).map(|k| &self.rows[all[k]])
    }

    /// A removed lamp with one spell and at least 200 h, known exactly, watched from new.
    fn ordinary(&self, i: usize) -> bool {
        let row = &self.rows[i];
        row.removed_on.is_some()
            && row.hours - row.fitted >= 2_000
            && row.fitted == 0
            && row.first_seen.is_none()
            && row.last_good.is_none()
            && self.of_lamp.get(&row.lamp).is_some_and(|all| all.len() == 1)
    }

    /// A second spell, closed, that begins where the first ended.
    fn later_spell(&self, i: usize) -> bool {
        let row = &self.rows[i];
        row.removed_on.is_some()
            && row.last_good.is_none()
            && row.hours - row.fitted >= 100
            && self.earlier(i).is_some_and(|e| e.hours == row.fitted && e.screen != row.screen)
    }

    fn later_spells(&mut self) {
        for i in self.choose(6, Self::later_spell) {
            let mistyped = self.mistype(i);
            let row = &mut self.rows[i];
            row.mark("serial_mistyped", format!("printed {mistyped} for {}; later spell", row.serial));
            row.serial = mistyped;
        }
        let apart = |p: &Self, i: usize| {
            p.later_spell(i) && p.earlier(i).is_some_and(|e| e.days() > 40 && e.screen != p.rows[i].screen)
        };
        for i in self.choose(5, apart) {
            let Some(ended) = self.earlier(i).and_then(|e| e.removed_on) else { continue };
            let days = 5 + self.stream.whole(21);
            let row = &mut self.rows[i];
            row.mark("two_screens_at_once", format!("fitted on {} in truth", row.fitted_on));
            row.fitted_on = ended.plus(-days);
        }
        for i in self.choose(3, |p, i| p.later_spell(i) && p.rows[i].hours < 2 * p.rows[i].fitted) {
            let row = &mut self.rows[i];
            row.mark("meter_restarted", format!("{} h in truth; set back at fitting", hours(row.hours)));
            row.hours -= row.fitted;
        }
        for i in self.choose(2, Self::later_spell) {
            let row = &mut self.rows[i];
            row.mark("meter_restarted", format!("fitted at {} h in truth; counted from 0", hours(row.fitted)));
            row.hours -= row.fitted;
            row.fitted = 0;
        }
    }

    fn single_rows(&mut self) {
        let late = |p: &Self, i: usize| {
            let row = &p.rows[i];
            row.removed_on.is_some()
                && row.first_seen.is_some_and(|seen| seen > 500 && row.hours < 2 * seen && row.hours > seen + 100)
        };
        for i in self.choose(3, late) {
            let row = &mut self.rows[i];
            row.mark("meter_restarted", format!("{} h in truth; set back when first seen", hours(row.hours)));
            row.hours -= row.first_seen.unwrap_or(0);
        }
        let interval =
            |p: &Self, i: usize| p.rows[i].last_good.is_some_and(|good| good > 2_000) && p.rows[i].fitted == 0;
        for i in self.choose(2, interval) {
            let row = &mut self.rows[i];
            row.mark("meter_restarted", format!("{} h in truth; set back at the last good reading", hours(row.hours)));
            row.hours -= row.last_good.unwrap_or(0);
        }
        for i in self.choose(5, Self::ordinary) {
            let row = &mut self.rows[i];
            row.mark("hours_negative", format!("{} h in truth", hours(row.hours)));
            row.hours = -row.hours;
        }
        for i in self.choose(6, |p, i| p.ordinary(i) && (40..300).contains(&p.rows[i].days())) {
            let a_day = self.stream.between(31.0, 58.0);
            let row = &mut self.rows[i];
            row.mark("hours_impossible", format!("{} h in truth", hours(row.hours)));
            row.hours = (f64::from(row.days() + 1) * a_day) as i64 * 10;
        }
        for i in self.choose(6, |p, i| p.ordinary(i) && p.rows[i].days() > 20) {
            let row = &mut self.rows[i];
            let Some(removed_on) = row.removed_on else { continue };
            row.mark("removed_before_fitted", "the two days exchanged".to_string());
            row.removed_on = Some(row.fitted_on);
            row.fitted_on = removed_on;
        }
        let followed = |p: &Self, i: usize| {
            let row = &p.rows[i];
            p.ordinary(i)
                && row.last_reading.1 > row.fitted
                && p.after[i].is_some_and(|a| {
                    row.removed_on.is_some_and(|day| p.rows[a].fitted_on >= day && p.rows[a].log == row.log)
                })
        };
        for i in self.choose(8, followed) {
            let row = &mut self.rows[i];
            let removed = row.removed_on.map_or(String::new(), |day| day.to_string());
            row.mark(
                "removal_missing",
                format!("{} on {removed} at {} h in truth", row.ending.as_str(), hours(row.hours)),
            );
            let (day, reading) = row.last_reading;
            as_open(row, day, reading);
        }
        let counted = |p: &Self, i: usize| {
            let row = &p.rows[i];
            p.ordinary(i)
                && p.logs[row.log].columns.iter().any(|c| c.0 == Column::Strikes)
                && row.strikes * 20 < row.hours
        };
        for i in self.choose(6, counted) {
            let row = &mut self.rows[i];
            row.mark("strikes_in_hours", format!("{} h and {} strikes in truth", hours(row.hours), row.strikes));
            (row.hours, row.strikes) = (row.strikes * 10, row.hours / 10);
        }
        for i in self.choose(6, Self::ordinary) {
            let row = &mut self.rows[i];
            row.mark("minutes_for_hours", format!("{} h in truth", hours(row.hours)));
            row.hours *= 60;
        }
        self.forgotten_restarts();
        self.words_and_gaps();
    }

    fn forgotten_restarts(&mut self) {
        let inherits = |p: &Self, i: usize| {
            let row = &p.rows[i];
            p.ordinary(i)
                && p.before[i].is_some_and(|b| {
                    let old = &p.rows[b];
                    p.free(b) && old.log == row.log && old.removed_on == Some(row.fitted_on) && old.hours > 1_000
                })
        };
        for i in self.choose(8, inherits) {
            let Some(old) = self.before[i].map(|b| self.rows[b].hours) else { continue };
            let row = &mut self.rows[i];
            row.mark("restart_forgotten", format!("new at fitting, {} h at removal in truth", hours(row.hours)));
            row.fitted = old;
            row.hours += old;
        }
    }

    fn words_and_gaps(&mut self) {
        for i in self.choose(8, Self::ordinary) {
            let row = &mut self.rows[i];
            row.mark("reason_blank", format!("{} in truth", row.ending.as_str()));
            row.reason = String::new();
        }
        for i in self.choose(6, Self::ordinary) {
            let word = words::UNMAPPED[self.stream.below(words::UNMAPPED.len())];
            let row = &mut self.rows[i];
            row.mark("reason_unmapped", format!("{} in truth", row.ending.as_str()));
            row.reason = word.to_string();
        }
        for (kind, column, text) in [
            ("class_unknown", Column::Class, "Type 99"),
            ("date_unreadable", Column::FittedOn, "Frühjahr"),
            ("hours_unreadable", Column::Hours, "ca. 1 500"),
            ("serial_blank", Column::Serial, ""),
        ] {
            for i in self.choose(3, Self::ordinary) {
                let row = &mut self.rows[i];
                row.mark(kind, "the cell is unusable".to_string());
                row.typed.push((column, text.to_string()));
            }
        }
    }

    /// Running lamps whose age nobody can tell from the row.
    fn running_rows(&mut self) {
        let burning = |p: &Self, i: usize| {
            let row = &p.rows[i];
            row.removed_on.is_none() && row.hours >= 2_000 && p.of_lamp.get(&row.lamp).is_some_and(|all| all.len() == 1)
        };
        for i in self.choose(2, burning) {
            let row = &mut self.rows[i];
            row.mark("hours_negative", format!("still burning, {} h in truth", hours(row.hours)));
            row.hours = -row.hours;
        }
        for i in self.choose(1, burning) {
            let row = &mut self.rows[i];
            row.mark("hours_unreadable", format!("still burning, {} h in truth", hours(row.hours)));
            row.typed.push((Column::Hours, "?".to_string()));
        }
    }

    /// Copies of closed rows of the first log, in the log of another region where there is one.
    fn copies(&mut self) {
        let Some(to) = (0..self.logs.len()).rev().find(|&l| self.logs[l].region == 2 || self.logs[l].region == 0)
        else {
            return;
        };
        for (kind, n) in [("plain", 7), ("contradicting", 3), ("mistyped", 3)] {
            for i in self.choose(n, |p, i| p.ordinary(i) && p.logs[p.rows[i].log].region == 0) {
                let mut copy = self.rows[i].clone();
                copy.log = to;
                let words = words::reasons(copy.ending, self.logs[to].language);
                copy.reason = words[self.stream.below(words.len())].to_string();
                let from = self.logs[self.rows[i].log].file;
                match kind {
                    "mistyped" => {
                        let mistyped = self.mistype(i);
                        copy.mark(
                            "serial_mistyped",
                            format!("printed {mistyped} for {}; copy of a row of {from}", copy.serial),
                        );
                        copy.serial = mistyped;
                    }
                    "contradicting" => {
                        copy.mark(
                            "duplicate",
                            format!("contradicting copy of a row of {from}: {} h there", hours(copy.hours)),
                        );
                        copy.hours -= 10 * (30 + i64::from(self.stream.whole(120)));
                    }
                    _ => copy.mark("duplicate", format!("copy of a row of {from}")),
                }
                self.rows.push(copy);
                self.before.push(None);
                self.after.push(None);
            }
        }
    }

    /// Another serial that a tired hand may have written, and that no lamp has.
    fn mistype(&mut self, i: usize) -> String {
        let letters: Vec<char> = self.rows[i].serial.chars().collect();
        let mut forms: Vec<String> = Vec::new();
        for (k, &letter) in letters.iter().enumerate() {
            let mut form = letters.clone();
            let other = match letter {
                'O' => '0',
                '0' => 'O',
                'I' => '1',
                '1' => 'I',
                _ => {
                    let Some(&next) = letters.get(k + 1) else { continue };
                    if !(letter.is_ascii_digit() && next.is_ascii_digit() && letter != next) {
                        continue;
                    }
                    form.swap(k, k + 1);
                    forms.push(form.iter().collect());
                    continue;
                }
            };
            form[k] = other;
            forms.push(form.iter().collect());
        }
        forms.retain(|form| !self.serials.contains(form));
        if forms.is_empty() {
            return format!("{}0", self.rows[i].serial);
        }
        let form = forms.swap_remove(self.stream.below(forms.len()));
        self.serials.insert(form.clone());
        form
    }
}
