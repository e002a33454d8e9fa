//! What must hold of a saved reading: lives follow from spells, and the ledger accounts for both.

use std::collections::{BTreeMap, BTreeSet};

use super::join::lives_of;
use super::{Counts, Disputed, Ending, Finding, Lives, Outcome, Reading, Spell, Spells, Word, fold};
use crate::base::sound::{Checks, Sound};

impl Sound for Reading {
    fn check(&self, c: &mut Checks) {
        for (i, s) in self.spells.iter().enumerate() {
            c.not_negative(&format!("spells[{i}].fitted_hours"), s.fitted_hours);
            c.ends(&format!("spells[{i}].entry_hours"), s.fitted_hours, s.entry_hours);
            c.ends(&format!("spells[{i}].end_hours"), s.entry_hours.max(s.low_hours), s.end_hours);
        }
        endings_agree(c, &self.spells);
        lives_follow(c, &self.lives, &self.spells);
        c.part("ledger", &self.ledger);
        self.rows_accounted(c);
        self.disputes_agree(c);
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
