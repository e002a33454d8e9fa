//! One site played out day by day, event by event.

use crate::chain::{self, Site};
use crate::classes::LampClass;
use crate::lamps::{self, Birth, Lamp, Spell};
use crate::stream::Stream;
use crate::{Day, Ending, Options};

/// Days before the first records, long enough for a second generation of lamps.
const WARM_UP: i32 = 900;

/// A burning lamp.
struct Burning {
    lamp: usize,
    age: f64,
    target: f64,
    /// Last good reading before a gradual failure that nobody has noticed yet.
    hidden: Option<i64>,
    spell: Spell,
}

struct Shelved {
    lamp: usize,
    age: i64,
    since: Day,
}

struct Play<'a> {
    seed: u64,
    index: usize,
    site: &'a Site,
    classes: &'a [LampClass],
    options: &'a Options,
    stream: Stream,
    lamps: Vec<Lamp>,
    burning: Vec<Option<Burning>>,
    shelf: Vec<Shelved>,
}

/// Plays a site and gives the lamps that are in its records, each with its recorded spells.
pub fn play(seed: u64, index: usize, site: &Site, classes: &[LampClass], options: &Options) -> Vec<Lamp> {
    let mut play = Play {
        seed,
        index,
        site,
        classes,
        options,
        stream: Stream::new(seed, "events", index as u64),
        lamps: Vec::new(),
        burning: site.screens.iter().map(|_| None).collect(),
        shelf: Vec::new(),
    };
    let start = site.records_from.plus(-WARM_UP);
    // First fittings are spread so that the screens of a site don't march in step.
    let first: Vec<Day> = site.screens.iter().map(|_| start.plus(play.stream.whole(250))).collect();
    let mut whims = vec![0.0; site.screens.len()];
    for day in start.0..=options.as_of.0 {
        let day = Day(day);
        if day.0.rem_euclid(7) == 0 {
            for whim in &mut whims {
                *whim = (0.06 * play.stream.normal()).clamp(-0.2, 0.2);
            }
        }
        play.day(day, &first, &whims);
    }
    for slot in 0..play.burning.len() {
        play.still_burning(slot);
    }
    let mut recorded = play.lamps;
    recorded.retain(|lamp| !lamp.spells.is_empty());
    recorded
}

/// The meter's next step at or above an age.
fn up(age: f64, step: i64) -> i64 {
    let step_hours = step as f64 / 10.0;
    (age / step_hours - 1e-9).ceil() as i64 * step
}

/// The meter's last step at or below an age.
fn down(age: f64, step: i64) -> i64 {
    let step_hours = step as f64 / 10.0;
    (age / step_hours + 1e-9).floor() as i64 * step
}

impl Play<'_> {
    fn day(&mut self, day: Day, first: &[Day], whims: &[f64]) {
        let mut ended: Vec<(usize, Ending, i64, Option<i64>)> = Vec::new();
        for (slot, &whim) in whims.iter().enumerate() {
            if let Some((ending, hours, last_good)) = self.burn(slot, day, whim) {
                ended.push((slot, ending, hours, last_good));
            }
        }
        let slots: Vec<usize> = ended.iter().map(|e| e.0).collect();
        for (slot, ending, hours, last_good) in ended {
            self.remove(slot, day, ending, hours, last_good);
            if self.converted(slot, day) {
                continue;
            }
            let emergency = ending.is_failure() && self.options.moves;
            let helped = emergency && (self.fit_spare(slot, day, hours) || self.move_in(slot, day, &slots));
            if !helped {
                self.fit_new(slot, day);
            }
        }
        for (slot, &from) in first.iter().enumerate() {
            if day == from {
                self.fit_new(slot, day);
            }
        }
    }

    /// Burns a screen's lamp for a day; gives what ended it, the meter and the last good reading.
    fn burn(&mut self, slot: usize, day: Day, whim: f64) -> Option<(Ending, i64, Option<i64>)> {
        let site = self.site;
        let screen = &site.screens[slot];
        let burning = self.burning[slot].as_mut()?;
        let spell = &mut burning.spell;
        if day == site.records_from {
            let seen = down(burning.age, site.step).max(spell.fitted);
            spell.first_seen = Some(seen);
            spell.last_reading = (day, seen);
        }
        if screen.lost_on == Some(day) {
            self.lose(slot);
            return None;
        }
        burning.age += chain::hours_on(screen, day, whim);
        let (lamp, age) = (&self.lamps[burning.lamp], burning.age);
        let least = spell.fitted + site.step;
        if burning.hidden.is_none() && lamp.failure_age <= age.min(burning.target) {
            if lamp.cause.is_gradual() && site.weekly_checks && day >= site.records_from {
                burning.hidden = Some(spell.last_reading.1);
            } else {
                return Some((lamp.cause, up(lamp.failure_age, site.step).max(least), None));
            }
        }
        // A clean chain reads every meter on the day of its export, so no lamp can have passed its limit unread.
        let export = !self.options.is_full() && day == self.options.as_of;
        let reading = export || day.0.rem_euclid(7) == site.reading_day;
        let due = age >= burning.target;
        if let Some(good) = burning.hidden
            && (reading || due)
        {
            let hours = up(age.min(burning.target), site.step).max(up(lamp.failure_age, site.step)).max(least);
            return Some((lamp.cause, hours, Some(good)));
        }
        if due {
            return Some((Ending::Planned, up(burning.target, site.step).max(least), None));
        }
        if screen.converted_on.is_some_and(|on| on <= day) {
            // A lamp found flickering on the day is filed under its own failure.
            return Some(match burning.hidden {
                Some(good) => (lamp.cause, up(age, site.step), Some(good)),
                None => (Ending::Converted, up(age, site.step), None),
            });
        }
        if reading {
            spell.last_reading = (day, down(age, site.step).max(spell.fitted));
            if day <= chain::older_export(self.options) {
                spell.older_reading = Some(spell.last_reading);
            }
        }
        if burning.hidden.is_none() && self.stream.chance(0.000_13) {
            let ending = if self.stream.chance(0.5) { Ending::Other } else { Ending::NotLamp };
            return Some((ending, up(age, site.step), None));
        }
        None
    }

    fn remove(&mut self, slot: usize, day: Day, ending: Ending, hours: i64, last_good: Option<i64>) {
        let Some(mut burning) = self.burning[slot].take() else { return };
        burning.spell.removed_on = Some(day);
        burning.spell.end = hours;
        burning.spell.last_good = last_good;
        burning.spell.ending = ending;
        if burning.spell.last_reading.1 >= hours {
            burning.spell.last_reading.1 = hours - self.site.step;
        }
        let good = matches!(ending, Ending::Planned | Ending::Converted);
        let shelve =
            good && self.options.moves && self.lamps[burning.lamp].spells.is_empty() && self.stream.chance(0.3);
        if shelve && burning.hidden.is_none() {
            self.shelf.push(Shelved { lamp: burning.lamp, age: hours, since: day });
        }
        self.file(slot, burning);
    }

    fn converted(&self, slot: usize, day: Day) -> bool {
        self.site.screens[slot].converted_on.is_some_and(|on| on <= day)
    }

    /// Keeps a spell if any of it was watched.
    fn file(&mut self, slot: usize, mut burning: Burning) {
        let spell = &mut burning.spell;
        if spell.removed_on.is_some_and(|day| day < self.site.records_from) {
            return;
        }
        let run = self.site.screens[slot].hours_per_strike;
        let hours = (spell.end - spell.fitted) as f64 / 10.0;
        spell.strikes = (hours / run * self.stream.between(0.92, 1.08)).ceil().max(1.0) as i64;
        self.lamps[burning.lamp].spells.push(burning.spell);
    }

    fn lose(&mut self, slot: usize) {
        let Some(mut burning) = self.burning[slot].take() else { return };
        let Some((day, hours)) = burning.spell.older_reading else { return };
        burning.spell.last_reading = (day, hours);
        burning.spell.end = hours;
        self.file(slot, burning);
    }

    fn still_burning(&mut self, slot: usize) {
        let Some(mut burning) = self.burning[slot].take() else { return };
        burning.spell.end = burning.spell.last_reading.1;
        self.file(slot, burning);
    }

    fn fit(&mut self, slot: usize, day: Day, lamp: usize, fitted: i64, target: f64) {
        let spell = Spell {
            screen: slot,
            fitted_on: day,
            fitted,
            first_seen: None,
            removed_on: None,
            end: fitted,
            last_good: None,
            last_reading: (day, fitted),
            older_reading: (day <= chain::older_export(self.options)).then_some((day, fitted)),
            ending: Ending::Running,
            strikes: 0,
        };
        self.burning[slot] = Some(Burning { lamp, age: fitted as f64 / 10.0, target, hidden: None, spell });
    }

    fn fit_new(&mut self, slot: usize, day: Day) {
        let class_index = self.site.screens[slot].class;
        let class = &self.classes[class_index];
        let birth = Birth {
            site: self.index,
            index: self.lamps.len(),
            class: class_index,
            day,
            poor_cooling: self.site.poor_cooling,
        };
        let lamp = lamps::make(self.seed, &birth, class, self.options);
        self.lamps.push(lamp);
        let target = self.target(class, day);
        self.fit(slot, day, self.lamps.len() - 1, 0, target);
    }

    /// Age of the planned change: mostly the rule itself, some at a round hundred near it, some at the next visit, a few late.
    fn target(&mut self, class: &LampClass, day: Day) -> f64 {
        let old = self.site.old_rule_until.is_some_and(|until| day < until);
        let rule = if old { 1.25 * class.rated } else { class.rated };
        let u = self.stream.uniform();
        let whole = if u < 0.58 {
            rule
        } else if u < 0.78 {
            (rule / 100.0).floor() * 100.0 + [-200.0, -100.0, -100.0, 100.0, 100.0, 200.0][self.stream.below(6)]
        } else if u < 0.93 {
            rule * (1.0 + 0.03 * self.stream.normal())
        } else {
            rule * self.stream.between(1.05, 1.3)
        };
        let slips = self.site.slips_since.is_some_and(|since| since <= day);
        let whole = if slips { whole * self.stream.between(1.25, 1.6) } else { whole };
        (whole.max(0.5 * rule) * 10.0).round() / 10.0
    }

    /// A good lamp from the shelf as an emergency spare, soon to be changed again. One that was pulled at the very hours
    /// of the lamp it replaces would look like a meter nobody set back, and no one could tell: it stays on the shelf.
    fn fit_spare(&mut self, slot: usize, day: Day, removed_at: i64) -> bool {
        if !self.stream.chance(0.16) {
            return false;
        }
        let class = self.site.screens[slot].class;
        let usable = |s: &Shelved| {
            self.lamps[s.lamp].class == class && (2..=240).contains(&day.since(s.since)) && s.age != removed_at
        };
        let Some(i) = self.shelf.iter().position(usable) else { return false };
        let spare = self.shelf.remove(i);
        let age = spare.age as f64 / 10.0;
        let target = age + self.stream.between(0.04, 0.2) * self.classes[class].rated;
        // A lamp pulled within a meter step of its failure fails on its first hours in the new screen.
        self.fit(slot, day, spare.lamp, spare.age, (target * 10.0).round() / 10.0);
        true
    }

    /// A lamp from another screen of the site, which gets a new one.
    fn move_in(&mut self, slot: usize, day: Day, busy: &[usize]) -> bool {
        if !self.stream.chance(0.09) {
            return false;
        }
        let class = self.site.screens[slot].class;
        let from = (0..self.burning.len()).find(|&s| {
            s != slot
                && !busy.contains(&s)
                && self.site.screens[s].class == class
                && self.burning[s].as_ref().is_some_and(|b| {
                    b.hidden.is_none()
                        && day.since(b.spell.fitted_on) > 21
                        && b.age < 0.8 * b.target
                        && b.spell.fitted == 0
                        && up(b.age, self.site.step) as f64 / 10.0 < self.lamps[b.lamp].failure_age
                })
        });
        let Some(from) = from else { return false };
        let Some((lamp, age, target)) = self.burning[from].as_ref().map(|b| (b.lamp, b.age, b.target)) else {
            return false;
        };
        let hours = up(age, self.site.step);
        self.remove(from, day, Ending::Moved, hours, None);
        self.fit(slot, day, lamp, hours, target);
        self.fit_new(from, day);
        true
    }
}
