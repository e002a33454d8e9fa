//! Warranty claims of a study: the lamps that ended under the terms of their class, with the file of claims filed.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::burning::Burning;
use super::claims_result::{
    AHEAD_DAYS, AheadResult, ClaimSetAside, ClaimsResult, ClassClaims, of_class, split, terms_sentence,
};
use super::class_run::{ClassRun, or_refusal};
use super::declare_claims::ClaimFile;
use super::declare_class::LampClass;
use super::open::Study;
use crate::base::error::Result;
use crate::base::figure::short;
use crate::base::run::Run;
use crate::demand::StopDate;
use crate::records::{Finding, Outcome, Reading, Source};
use crate::warranty::{
    ClaimList, ClaimTerms, EndedLamp, LampInService, Papers, claim_list, claims_ahead_paced, ended_lamps, read_filed,
    with_papers,
};

/// Claims to expect of one class, or why they are not known.
pub(super) type Ahead = std::result::Result<AheadResult, String>;

/// Rule of a claim for which more was paid than is due.
pub(super) const PAID_ABOVE_DUE: &str = "study.claim_above_due";

/// The file of claims as the logs bear it out.
#[derive(Debug, Default)]
pub(super) struct Filed {
    /// Papers of lamps that ended.
    pub(super) papers: Vec<Papers>,
    /// Rows that no lamp of the logs fits.
    pub(super) set_aside: Vec<ClaimSetAside>,
}

impl Study {
    /// Claims to expect from a class in the next year; none where it has no warranty terms.
    pub(super) fn claims_ahead(&self, class: &LampClass, made: &ClassRun, run: &Run) -> Result<Option<Ahead>> {
        let Some(terms) = &class.warranty else { return Ok(None) };
        let result = &made.result;
        let not_known = |why: &str| Ok(Some(Err(why.to_owned())));
        if !result.needs_not_known.is_empty() {
            return not_known(&result.needs_not_known);
        }
        let Some(draws) = made.draws.as_ref().filter(|_| result.policy.is_some()) else {
            let why = result.refusal.as_ref().map_or("no model of this class carries a forecast", |r| &r.sentence);
            return not_known(why);
        };
        let as_of = self.declaration.as_of;
        let in_service = |b: &Burning| LampInService {
            age_hours: b.socket.age_hours,
            hours_per_week: b.socket.hours_per_week,
            fitted_on: b.fitted_on,
            delivered_on: None,
            stop: b.stop.as_ref().map(|s| StopDate::Weighted(s.dates(as_of))),
        };
        let lamps: Vec<LampInService> = made.burning.iter().map(in_service).collect();
        let age = result.advised_age_hours;
        let paces: Vec<_> = made.burning.iter().map(|b| b.pace.as_deref()).collect();
        let asked = (&lamps[..], &paces[..]);
        let found = claims_ahead_paced(asked, draws.as_ref(), &terms.cover, age, &class.limit, as_of, AHEAD_DAYS, run);
        Ok(Some(match or_refusal(found)? {
            Ok(found) => AheadResult::of(found, terms).ok_or_else(|| "the number of claims has no spread".to_owned()),
            Err(reason) => Err(reason.sentence),
        }))
    }

    /// The claim list with what was filed; none where no class has warranty terms.
    pub(super) fn claims(
        &self,
        reading: &Reading,
        filed: Filed,
        ahead: Vec<Option<Ahead>>,
    ) -> Result<Option<ClaimsResult>> {
        let declared = &self.declaration;
        if declared.classes.iter().all(|c| c.warranty.is_none()) {
            return Ok(None);
        }
        let (list, nothing) = split(self.claim_list(reading, &filed.papers)?);
        let mut by_class = Vec::new();
        for (class, ahead) in declared.classes.iter().zip(ahead) {
            let (Some(terms), Some(ahead)) = (&class.warranty, ahead) else { continue };
            let (ahead, ahead_not_known) = ahead.map_or_else(|why| (None, why), |found| (Some(found), String::new()));
            by_class.push(ClassClaims {
                lamp_class: class.name.clone(),
                terms: terms.clone(),
                terms_sentence: terms_sentence(terms, &declared.currency),
                totals: of_class(&list, &class.name),
                ahead,
                ahead_not_known,
            });
        }
        Ok(Some(ClaimsResult {
            sentence: list.sentence(),
            file: declared.claim_file.as_ref().map(|f| f.file.clone()).unwrap_or_default(),
            totals: list.totals(),
            list,
            nothing,
            by_class,
            set_aside: filed.set_aside,
        }))
    }

    /// Every lamp that ended, judged under the terms of its class with its papers.
    fn claim_list(&self, reading: &Reading, papers: &[Papers]) -> Result<ClaimList> {
        let declared = &self.declaration;
        let terms_of = |name: &str| -> Option<&ClaimTerms> {
            declared.classes.iter().find(|c| c.name == name).and_then(|c| c.warranty.as_ref())
        };
        claim_list(&with_papers(ended_lamps(reading), papers)?, terms_of, declared.as_of)
    }

    /// Claims for which more was paid than is due; they are counted as they stand.
    pub(super) fn paid_above_due(&self, reading: &Reading, papers: &[Papers]) -> Result<Vec<Finding>> {
        if papers.iter().all(|p| p.paid.is_none()) {
            return Ok(Vec::new());
        }
        let list = self.claim_list(reading, papers)?;
        let due: BTreeMap<&str, f64> = list.claims.iter().map(|c| (c.lamp.serial.trim(), c.due.at_most)).collect();
        let found = papers.iter().filter_map(|paper| {
            let (paid, due) = (paper.paid?, *due.get(paper.serial.trim())?);
            // An amount rounded up to a whole one is no doubt.
            (paid > due.ceil()).then(|| Finding {
                file: paper.file.clone(),
                row: 0,
                line: paper.line,
                column: self.declaration.claim_file.as_ref().map_or("paid", ClaimFile::paid_column).to_owned(),
                value: short(paid),
                rule: PAID_ABOVE_DUE.to_owned(),
                outcome: Outcome::Used,
                serial: paper.serial.clone(),
                sentence: format!(
                    "more was paid than the {} {} that the terms of its class give for this lamp as it stands in the logs: \
                     does its row there lack an ending or a date, is it the money of several claims, or do the terms leave \
                     something out? It is counted as it stands",
                    short(due),
                    self.declaration.currency
                ),
            })
        });
        Ok(found.collect())
    }

    /// Rows of the file of claims that these logs do not bear out; nothing without such a file.
    ///
    /// # Errors
    /// Those of [`crate::warranty::read_papers`] and [`with_papers`].
    ///
    /// # Examples
    /// ```
    /// use relamp::{Run, study::Study};
    /// let study = Study::open("data/demo/study.toml")?;
    /// assert!(study.claims_set_aside(&study.read(&Run::new())?)?.is_empty());
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn claims_set_aside(&self, reading: &Reading) -> Result<Vec<ClaimSetAside>> {
        Ok(self.filed(&ended_lamps(reading))?.set_aside)
    }

    /// Papers of lamps that ended, and the rows that the logs do not bear out.
    pub(super) fn filed(&self, ended: &[EndedLamp]) -> Result<Filed> {
        let Some(file) = &self.declaration.claim_file else { return Ok(Filed::default()) };
        let source = Source::File(self.folder.join(&file.file));
        let papers = read_filed(&file.file, source, &file.format, &file.columns)?;
        let lamps: BTreeMap<&str, &EndedLamp> = ended.iter().map(|l| (l.serial.trim(), l)).collect();
        let (mut good, mut set_aside) = (Vec::new(), Vec::new());
        for paper in papers {
            let lamp = lamps.get(paper.serial.trim());
            let why = match lamp {
                None if !paper.filed() => continue,
                None if paper.serial.trim().is_empty() => Some("the serial is blank".to_owned()),
                None => Some("no lamp of this serial ended in these logs".to_owned()),
                Some(lamp) => contradiction(&paper, lamp, self.declaration.as_of),
            };
            match why {
                None => good.push(paper),
                Some(why) => {
                    let Papers { serial, paid, file, line, .. } = paper;
                    set_aside.push(ClaimSetAside { serial, paid, file, line, why });
                }
            }
        }
        Ok(Filed { papers: good, set_aside })
    }
}

/// What of a row of papers cannot be, by what the logs say of its lamp.
fn contradiction(paper: &Papers, lamp: &EndedLamp, as_of: NaiveDate) -> Option<String> {
    let late = |day: Option<NaiveDate>, end: Option<NaiveDate>| day.zip(end).filter(|(day, end)| day > end);
    if let Some(paid) = paper.paid.filter(|p| *p < 0.0) {
        return Some(format!("the amount paid of {paid} lies below 0"));
    }
    if let Some((ended, filed)) = late(lamp.ended_on, paper.filed_on) {
        return Some(format!("filed on {filed}, before its lamp ended on {ended}"));
    }
    if let Some((filed, as_of)) = late(paper.filed_on, Some(as_of)) {
        return Some(format!("filed on {filed}, after the as-of date, {as_of}"));
    }
    let (delivered, first) = late(paper.delivered_on, lamp.fitted_on.or(lamp.ended_on))?;
    Some(format!("delivered on {delivered}, after its lamp was in use on {first}"))
}
