//! From a study file to answers: records, lives, curves, fits, replacement ages, demand and stock, class by class.

use std::collections::{BTreeMap, BTreeSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use super::answers::answer;
use super::beside::Beside;
use super::cautions::{assumptions, cautions};
use super::class_result::ClassResult;
use super::class_run::{ClassInput, class_result};
use super::decide::LEVEL;
use super::doubts::old_readings;
use super::open::Study;
use super::output::{Evidence, InputFile, StudyOutput, TracedLife};
use super::overdue::{OverdueLists, overdue_lists};
use super::places_found::with_counted;
use super::places_result::StockList;
use super::plan_result::PurchasePlan;
use super::results::{FileCount, Header, LedgerSummary, OrderTotal, RuleCount, StudyResults};
use super::season::Season;
use super::write::{describe, describe_file};
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::run::Run;
use crate::lives::{LifeOptions, Tally, from_records};
use crate::records::{self, ClassNames, Ending, Ledger, LifeRecord, Outcome, Reading, ReasonMap, Word};
use crate::warranty::ended_lamps;

/// Findings of one rule that results carry; the rest stand in the ledger.
pub(super) const FIRST_FINDINGS: usize = 5;

impl Study {
    /// Reads the logs: spells, lives and the ledger that accounts for every row, and doubts each log whose hours a day lie
    /// far from the programme hours declared, or that has the sites declared in another column.
    ///
    /// # Errors
    /// Those of [`records::read`]; beside them what is wrong in the stock count and in the file of claims by themselves, so
    /// that one error tells of every file.
    pub fn read(&self, run: &Run) -> Result<Reading> {
        let declared = &self.declaration;
        let reasons = ReasonMap::new(declared.reasons.iter().map(|(text, ending)| (text, *ending)))?;
        let classes = ClassNames::new(declared.classes.iter().map(|c| (&c.name, &c.also_called)))?;
        let options = records::Options { outside_folder: self.options.outside_folder, ..records::Options::default() };
        let read = records::read(&declared.logs, &self.folder, &reasons, &classes, options, run);
        let mut reading = read.map_err(|wrong| self.with_files_beside(wrong))?;
        reading.doubt_by_sites(&declared.logs, declared.programme.iter().map(|p| p.site.as_str()));
        reading.doubt_by_programme(&declared.logs, |site, screen| declared.hours_per_week(site, screen));
        answer(&mut reading.ledger.findings, &declared.answers);
        Ok(reading)
    }

    /// Runs the whole study.
    ///
    /// A class whose fit is refused stays in the answers with what can still be said. The answers are a function of the
    /// study file, the logs and the options alone: same bytes for any number of threads.
    ///
    /// # Errors
    /// Those of [`Study::read`]; those of [`Study::stock_findings`] and [`Study::claims_set_aside`] in one, before any
    /// class is looked at; `study.unreadable` for a file that went away; `run.stopped` after a stop. Kind
    /// `Internal` would be a defect of this library.
    pub fn run(&self, run: &Run) -> Result<StudyOutput> {
        let reading = self.read(run)?;
        let study_file = self.file.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let mut inputs = vec![describe(&study_file, self.text.as_bytes())];
        for log in &self.declaration.logs {
            inputs.push(describe_file(&log.file, &self.folder.join(Path::new(&log.file)))?);
        }
        if let Some(count) = &self.declaration.stores.stock_count {
            inputs.push(describe_file(&count.file, &self.folder.join(Path::new(&count.file)))?);
        }
        if let Some(claims) = &self.declaration.claim_file {
            inputs.push(describe_file(&claims.file, &self.folder.join(&claims.file))?);
        }
        self.run_on(&reading, inputs, run)
    }

    /// Runs the study on records already read; `inputs` say what they were read from.
    ///
    /// # Errors
    /// As [`Study::run`].
    pub fn run_on(&self, reading: &Reading, inputs: Vec<InputFile>, run: &Run) -> Result<StudyOutput> {
        // The door to long work: a panic in here is a defect of this library and reaches the caller as an error.
        catch_unwind(AssertUnwindSafe(|| self.answer(reading, inputs, run))).unwrap_or_else(|_| {
            let problem = Problem::new("study.defect", "the study met a defect of this library; please report it");
            Err(Error::new(Kind::Internal, problem))
        })
    }

    fn answer(&self, reading: &Reading, inputs: Vec<InputFile>, run: &Run) -> Result<StudyOutput> {
        let Beside { stores, filed } = self.beside(reading)?;
        let counted = stores.as_ref().map(|known| with_counted(&self.declaration, known));
        let declared = counted.as_ref().unwrap_or(&self.declaration);
        let overdue = overdue_lists(reading, declared);
        let (ledger, tally) = self.whole_ledger(reading, &overdue)?;
        let doubts = self.doubts(reading);
        let mut classes = Vec::with_capacity(declared.classes.len());
        let (mut purchases, mut held_where) = (Vec::with_capacity(declared.classes.len()), Vec::new());
        let (mut claims_ahead, mut endings) = (Vec::new(), Vec::new());
        for class in &declared.classes {
            run.check()?;
            let input = ClassInput {
                class,
                declared,
                reading,
                overdue: &overdue,
                lives: reading.lives.iter().filter(|l| **l.lamp_class == *class.name).collect(),
                tally: tally.stratum(&class.name).ok(),
                family: self.options.family.as_deref(),
                stores: stores.as_ref(),
            };
            let made = class_result(&input, run)?;
            claims_ahead.push(self.claims_ahead(class, &made, run)?);
            endings.push(self.class_ending(class, &made, run)?);
            classes.push(made.result);
            purchases.push(made.purchase);
            held_where.extend(made.stores);
        }
        let words: Vec<&str> = declared.failure_endings.iter().map(|e| e.as_str()).collect();
        let study = self.header(&words);
        let results = StudyResults {
            purchase_plan: Some(PurchasePlan::of(purchases, &study)),
            stock_list: stores.as_ref().map(|known| StockList::of(held_where, known, declared)),
            study,
            ledger: summary(&ledger, reading.lives.len()),
            doubts,
            overdue,
            orders: OrderTotal::of(&classes),
            cautions: cautions(),
            assumptions: assumptions(
                declared.draws as u64,
                &words.join(", ").replace('_', " "),
                declared.chain.hours_per_week,
                classes.iter().any(ClassResult::counts_money_back),
                declared.season.as_ref().map(Season::sentence),
            ),
            classes,
            claims: self.claims(reading, filed, claims_ahead)?,
            last_buys: self.last_buys(endings),
            season: declared.season.clone(),
        };
        let undated = reading.disputed.iter().filter(|d| d.undated()).map(|d| (&d.file, d.line)).collect();
        let lives = reading.lives.iter().map(|l| traced(l, reading, &undated, &declared.failure_endings)).collect();
        Ok(StudyOutput { results, evidence: Evidence { inputs, ledger, lives, options: self.named_options() } })
    }

    /// Every finding that a run would write to its ledger: those of the reading, where a life does not fit a row of the
    /// tally as it stands, what the study file declares and no row bears out, and readings too old to say anything of
    /// today, and claims for which more was paid than is due.
    ///
    /// # Errors
    /// Those of [`from_records`].
    ///
    /// # Examples
    /// ```
    /// use relamp::{Run, study::Study};
    /// let study = Study::open("data/demo/study.toml")?;
    /// let reading = study.read(&Run::new())?;
    /// assert!(study.ledger(&reading)?.findings.len() >= reading.ledger.findings.len());
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn ledger(&self, reading: &Reading) -> Result<Ledger> {
        Ok(self.whole_ledger(reading, &overdue_lists(reading, &self.declaration))?.0)
    }

    fn whole_ledger(&self, reading: &Reading, overdue: &OverdueLists) -> Result<(Ledger, Tally)> {
        let declared = &self.declaration;
        let options = LifeOptions { failure_endings: declared.failure_endings.clone(), ..LifeOptions::default() };
        let (tally, findings) = from_records(&reading.lives, &reading.spells, &options)?;
        let mut ledger = reading.ledger.clone();
        // A reading made by hand comes without the answers of this study.
        answer(&mut ledger.findings, &declared.answers);
        ledger.findings.extend(findings);
        ledger.findings.extend(self.doubts(reading));
        ledger.findings.extend(old_readings(overdue, declared, &self.folder));
        // A file of claims that cannot be read is told where it is read.
        let papers = self.filed(&ended_lamps(reading)).map(|filed| filed.papers).unwrap_or_default();
        ledger.findings.extend(self.paid_above_due(reading, &papers)?);
        sort_findings(&mut ledger);
        Ok((ledger, tally))
    }

    fn header(&self, failure_endings: &[&str]) -> Header {
        let d = &self.declaration;
        Header {
            name: d.name.clone(),
            note: d.note.clone(),
            as_of: d.as_of,
            newest_export: d.newest_export,
            currency: d.currency.clone(),
            seed: d.seed,
            draws_count: d.draws as u64,
            level_probability: LEVEL,
            show_minutes: d.chain.show_minutes,
            visit_interval_days: d.chain.visit_interval_days,
            forecast_months: d.chain.forecast_months,
            failure_endings: failure_endings.iter().map(|&w| w.to_owned()).collect(),
        }
    }

    fn named_options(&self) -> Vec<(String, String)> {
        let mut named = Vec::new();
        let mut say = |name: &str, value: String| named.push((name.to_owned(), value));
        if self.options.outside_folder {
            say("outside_folder", "true".to_owned());
        }
        if let Some(draws) = self.options.draws {
            say("draws", draws.to_string());
        }
        if let Some(family) = &self.options.family {
            say("family", family.clone());
        }
        named
    }
}

/// File in the order declared, then line, then rule.
fn sort_findings(ledger: &mut Ledger) {
    let order: BTreeMap<String, usize> =
        ledger.by_file.iter().enumerate().map(|(i, (file, _))| (file.clone(), i)).collect();
    let rank = |file: &str| order.get(file).copied().unwrap_or(usize::MAX);
    ledger
        .findings
        .sort_by(|a, b| (rank(&a.file), &a.file, a.line, &a.rule).cmp(&(rank(&b.file), &b.file, b.line, &b.rule)));
}

fn summary(ledger: &Ledger, lives: usize) -> LedgerSummary {
    let mut rules: BTreeMap<(&str, Outcome), RuleCount> = BTreeMap::new();
    for f in &ledger.findings {
        let rule = rules.entry((&f.rule, f.outcome)).or_insert_with(|| RuleCount {
            rule: f.rule.clone(),
            outcome: f.outcome,
            findings_count: 0,
            first: Vec::new(),
        });
        rule.findings_count += 1;
        if rule.first.len() < FIRST_FINDINGS {
            rule.first.push(f.clone());
        }
    }
    let mut by_rule: Vec<RuleCount> = rules.into_values().collect();
    // A stable sort: rules found equally often stay in the order of their names.
    by_rule.sort_by_key(|r| std::cmp::Reverse(r.findings_count));
    let counts = ledger.counts;
    LedgerSummary {
        rows_count: counts.rows,
        used_count: counts.used,
        merged_count: counts.merged,
        set_aside_count: counts.set_aside,
        reconciles: counts.reconcile(),
        warning: ledger.warning(),
        lives_count: lives as u64,
        by_file: ledger
            .by_file
            .iter()
            .map(|(file, c)| FileCount {
                file: file.clone(),
                rows_count: c.rows,
                used_count: c.used,
                merged_count: c.merged,
                set_aside_count: c.set_aside,
            })
            .collect(),
        findings_count: Some(ledger.findings.len() as u64),
        by_rule,
    }
}

fn traced(
    life: LifeRecord<'_>,
    reading: &Reading,
    undated: &BTreeSet<(&Word, u64)>,
    failures: &[Ending],
) -> TracedLife {
    let last = reading.last_spell(&life);
    TracedLife {
        lamp_class: life.lamp_class.to_string(),
        serial: life.serial.to_string(),
        supplier: life.supplier.to_string(),
        batch: life.batch.to_string(),
        site: last.map_or_else(String::new, |s| s.site.to_string()),
        screen: last.map_or_else(String::new, |s| s.screen.to_string()),
        at_risk_hours: life.at_risk.to_vec(),
        low_hours: life.low_hours,
        high_hours: life.end_hours,
        ending: life.ending,
        failure: failures.contains(&life.ending),
        read_on: last.filter(|s| !undated.contains(&(s.file, s.line))).map(|s| s.read_on),
        rows: life
            .spells
            .iter()
            .filter_map(|&i| reading.spells.get(i))
            .map(|s| format!("{}:{}", s.file, s.line))
            .collect(),
    }
}
