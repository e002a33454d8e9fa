//! What must hold of a saved reading: lives follow from spells, and the ledger accounts for both.

use std::collections::{BTreeMap, BTreeSet};

use super::join::lives_of;
use super::rows::most_hours;
use super::{Counts, Disputed, Ending, Finding, Lives, Outcome, Reading, Spell, Spells, Word, fold};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};

impl Sound for Reading {
    fn check(&self, c: &mut Checks) {
        for (i, s) in self.spells.iter().enumerate() {
            c.not_negative(&format!("spells[{i}].fitted_hours"), s.fitted_hours);
            c.ends(&format!("spells[{i}].entry_hours"), s.fitted_hours, s.entry_hours);
            c.ends(&format!("spells[{i}].end_hours"), s.entry_hours.max(s.low_hours), s.end_hours);
            days_agree(c, i, &s);
        }
        endings_agree(c, &self.spells);
        lives_follow(c, &self.lives, &self.spells);
        c.part("ledger", &self.ledger);
        self.rows_accounted(c);
        self.disputes_agree(c);
    }
}

/// No lamp is read or removed before it was fitted, nor burns longer than the calendar.
fn days_agree(c: &mut Checks, i: usize, s: &Spell<'_>) {
    let (fitted, read) = (s.fitted_on, s.read_on);
    match s.removed_on {
        Some(day) if day < fitted => {
            c.need(&format!("spells[{i}].removed_on"), false, day, format!("not before {fitted}, the day of fitting"));
        }
        Some(day) if day != read => {
            c.need(&format!("spells[{i}].read_on"), false, read, format!("{day}, the day of removal"));
        }
        None if read < fitted => {
            c.need(&format!("spells[{i}].read_on"), false, read, format!("not before {fitted}, the day of fitting"));
        }
        _ => {
            let (burned, most) = (s.end_hours - s.fitted_hours, most_hours((read - fitted).num_days()));
            if burned > most {
                let expected = format!("at most {most} more than at fitting, 24 h a day");
                c.need(&format!("spells[{i}].end_hours"), false, s.end_hours, expected);
            }
        }
    }
}

/// A lamp without a day of removal never ended, and one reason means one ending. A removal that another row contradicts
/// is unknown, whatever its reason.
fn endings_agree(c: &mut Checks, spells: &Spells) {
    let mut meant: BTreeMap<String, Ending> = BTreeMap::new();
    let mut read: BTreeMap<&Word, Ending> = BTreeMap::new();
    for (i, s) in spells.iter().enumerate() {
        if s.ending == Ending::Unknown {
            continue;
        }
        let field = format!("spells[{i}].ending");
        if s.removed_on.is_none() || s.ending == Ending::Running {
            let runs = s.removed_on.is_none() && s.ending == Ending::Running;
            c.need(&field, runs, s.ending, "running without a day of removal, and only there");
            continue;
        }
        let ending = *read.entry(s.reason).or_insert_with(|| *meant.entry(fold(s.reason)).or_insert(s.ending));
        let expected = || format!("{ending}, as the reason \"{}\" means elsewhere", s.reason);
        if s.ending != ending {
            c.need(&field, false, s.ending, expected());
        }
    }
}

/// The lives are those that the spells make.
fn lives_follow(c: &mut Checks, lives: &Lives, spells: &Spells) {
    let made = lives_of(spells);
    c.entries("lives", lives.len(), made.len());
    if lives.len() != made.len() {
        return;
    }
    for (i, (got, made)) in lives.iter().zip(made.iter()).enumerate().filter(|(_, (got, made))| got != made) {
        c.inside(&format!("lives[{i}]"), |c| {
            c.follows("serial", &got.serial, &made.serial);
            c.follows("lamp_class", &got.lamp_class, &made.lamp_class);
            c.follows("supplier", &got.supplier, &made.supplier);
            c.follows("batch", &got.batch, &made.batch);
            c.follows("spells", &got.spells, &made.spells);
            c.follows("at_risk", &got.at_risk, &made.at_risk);
            c.follows("low_hours", &got.low_hours, &made.low_hours);
            c.follows("end_hours", &got.end_hours, &made.end_hours);
            c.follows("ending", &got.ending, &made.ending);
        });
    }
}

/// Counts of a file; a name that stands twice has both together.
#[derive(Default)]
struct OfFile {
    counts: Counts,
    logs: u64,
    spells: u64,
    /// Rows with a finding that sets them aside, and that merges them.
    aside: BTreeSet<u64>,
    merged: BTreeSet<u64>,
    /// Line of each row with a finding, as far as the log has lines.
    lines: BTreeMap<u64, u64>,
}

impl Reading {
    /// Every row counted as used is a spell, and every other has a finding.
    fn rows_accounted(&self, c: &mut Checks) {
        let mut files: BTreeMap<&str, OfFile> = BTreeMap::new();
        for (file, counts) in &self.ledger.by_file {
            let of = files.entry(file).or_default();
            of.logs += 1;
            of.counts.used = of.counts.used.saturating_add(counts.used);
            of.counts.merged = of.counts.merged.saturating_add(counts.merged);
            of.counts.set_aside = of.counts.set_aside.saturating_add(counts.set_aside);
        }
        for (i, s) in self.spells.iter().enumerate() {
            match files.get_mut(&**s.file) {
                Some(of) => of.spells += 1,
                None => c.need(&format!("spells[{i}].file"), false, s.file, "a file of the ledger"),
            }
        }
        for (i, f) in self.ledger.findings.iter().enumerate() {
            let field = |name: &str| format!("ledger.findings[{i}].{name}");
            c.need(&field("rule"), f.rule.starts_with("records."), &f.rule, "a rule of records");
            match files.get_mut(f.file.as_str()) {
                None => c.need(&field("file"), false, &f.file, "a file of the ledger"),
                Some(of) if f.outcome == Outcome::SetAside => drop(of.aside.insert(f.row)),
                Some(of) if f.outcome == Outcome::Merged => drop(of.merged.insert(f.row)),
                Some(_) => {}
            }
        }
        self.places_agree(c, &mut files);
        for (file, of) in &files {
            c.inside(&format!("ledger.by_file[\"{file}\"]"), |c| {
                c.follows("used", &of.counts.used, &of.spells);
                // Rows of two logs of one name may have the same number.
                if of.logs == 1 {
                    c.follows("set_aside", &of.counts.set_aside, &(of.aside.len() as u64));
                    c.follows("merged", &of.counts.merged, &(of.merged.len() as u64));
                }
            });
        }
    }

    /// The row and the line of each finding against each other, and against the spells: a row in use is one, any other
    /// is none. Columns in memory have no lines.
    fn places_agree<'r>(&'r self, c: &mut Checks, files: &mut BTreeMap<&'r str, OfFile>) {
        let mut spells: BTreeMap<(&str, u64), Spell<'_>> = BTreeMap::new();
        let told: BTreeSet<(&str, u64)> = self.ledger.findings.iter().map(|f| (f.file.as_str(), f.line)).collect();
        let mut lines: BTreeMap<&str, Vec<u64>> = BTreeMap::new();
        for s in self.spells.iter() {
            lines.entry(s.file).or_default().push(s.line);
            if told.contains(&(&**s.file, s.line)) {
                spells.insert((s.file, s.line), s);
            }
        }
        let unused = |of: &OfFile| of.aside.union(&of.merged).copied().collect::<Vec<u64>>();
        let unused: BTreeMap<&str, Vec<u64>> = files.iter().map(|(file, of)| (*file, unused(of))).collect();
        let above = |of: &BTreeMap<&str, Vec<u64>>, file: &str, at: u64| {
            of.get(file).map_or(0, |of| of.partition_point(|n| *n < at) as u64)
        };
        for (i, f) in self.ledger.findings.iter().enumerate() {
            let field = |name: &str| format!("ledger.findings[{i}].{name}");
            let Some(of) = files.get_mut(f.file.as_str()).filter(|of| of.logs == 1) else { continue };
            let rows = of.counts.used.saturating_add(of.counts.merged).saturating_add(of.counts.set_aside);
            c.need(&field("row"), f.row <= rows, f.row, format!("at most {rows}, the rows of the log"));
            if f.row == 0 || f.line == 0 {
                c.need(&field("line"), f.line == 0, f.line, "0 for a whole log");
                continue;
            }
            // Every row above is a spell above, but for those that are not used.
            let rows_above = (f.row - 1).saturating_sub(above(&unused, &f.file, f.row));
            let spells_above = above(&lines, &f.file, f.line);
            let expected = format!("a line below {}, as row {}", counted(rows_above, "spell"), f.row);
            c.need(&field("line"), spells_above == rows_above, f.line, expected);
            // Each record stands below the one before, the first below the header.
            let before = of.lines.range(..f.row).next_back().map_or(1, |(row, line)| line + (f.row - row));
            let least = before.max(f.row + 1);
            let line = *of.lines.entry(f.row).or_insert(f.line);
            c.need(&field("line"), f.line >= least, f.line, format!("{least} or more, as row {}", f.row));
            c.need(&field("line"), f.line == line, f.line, format!("{line}, as another finding of row {}", f.row));
            match (f.outcome, spells.get(&(&*f.file, f.line))) {
                (Outcome::Used, None) => {
                    c.need(&field("line"), false, f.line, "the line of a spell, as the row is used");
                }
                (Outcome::Used, Some(spell)) => {
                    let same = f.serial == **spell.serial;
                    c.need(&field("serial"), same, &f.serial, format!("{}, as its spell", spell.serial));
                    let reason = f.rule != "records.reason_unmapped" || fold(&f.value) == fold(spell.reason);
                    c.need(&field("value"), reason, &f.value, format!("{}, as its spell", spell.reason));
                }
                (_, Some(_)) => {
                    c.need(&field("line"), false, f.line, "the line of no spell, as the row is not used");
                }
                (_, None) => {}
            }
        }
    }

    /// Every lamp in dispute has the finding that disputes it, and every spell that a finding makes due is in dispute.
    fn disputes_agree(&self, c: &mut Checks) {
        let listed = self.disputed.len() as u64;
        c.follows("disputed_count", &self.disputed_count, &listed);
        let line = |f: &Finding| if f.line > 0 { f.line } else { f.row };
        let findings: BTreeSet<(&str, u64, &str, bool)> = self
            .ledger
            .findings
            .iter()
            .map(|f| (f.file.as_str(), line(f), f.rule.as_str(), f.outcome == Outcome::Used))
            .collect();
        let spells: BTreeMap<(&str, u64), Spell<'_>> =
            self.spells.iter().filter(|s| s.line > 0).map(|s| ((&**s.file, s.line), s)).collect();
        let mut in_dispute = BTreeSet::new();
        for (i, d) in self.disputed.iter().enumerate() {
            c.inside(&format!("disputed[{i}]"), |c| {
                in_dispute.insert((&*d.file, d.line));
                let told = findings.contains(&(&*d.file, d.line, d.rule.as_str(), d.row_in_use()));
                c.need("rule", told, &d.rule, format!("a finding of the ledger at {}, line {}", d.file, d.line));
                if let Some(spell) = spells.get(&(&*d.file, d.line)).filter(|_| d.row_in_use()) {
                    spell_agrees(c, d, spell);
                }
            });
        }
        for &(file, line, rule, used) in &findings {
            if used && Disputed::due_by(rule) {
                let there = in_dispute.contains(&(file, line));
                c.need("disputed", there, format!("no lamp of {file}, line {line}"), format!("one, by {rule}"));
            }
        }
    }
}

/// A lamp in dispute whose row is in use says what its spell says.
fn spell_agrees(c: &mut Checks, d: &Disputed, spell: &Spell<'_>) {
    c.follows("serial", &d.serial, spell.serial);
    c.follows("lamp_class", &d.lamp_class, spell.lamp_class);
    c.follows("site", &d.site, spell.site);
    c.follows("screen", &d.screen, spell.screen);
    c.follows("hours", &d.hours, &Some(spell.end_hours));
    if !d.undated() {
        c.follows("read_on", &d.read_on, &Some(spell.read_on));
    }
}
