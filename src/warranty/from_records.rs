//! Lamps that ended, from a reading of logs, and the papers that belong to them.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::lamp::EndedLamp;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::records::{Ending, Reading};

/// Every life of a reading that ended, each with its last place and what its spells tell of it.
///
/// The age is that at the removal. The day of fitting is known only of a lamp that was fitted new, and its strikes only
/// where every spell tells them and no stretch of its life is unrecorded. Logs hold no days of delivery, no evidence and
/// no claims: see [`with_papers`].
///
/// # Examples
/// ```
/// use relamp::records::Reading;
/// use relamp::warranty::ended_lamps;
/// assert!(ended_lamps(&Reading::default()).is_empty());
/// ```
pub fn ended_lamps(reading: &Reading) -> Vec<EndedLamp> {
    let ended = reading.lives.iter().filter(|life| life.ending != Ending::Running);
    let lamps = ended.filter_map(|life| {
        let spells: Vec<_> = life.spells.iter().filter_map(|&i| reading.spells.get(i)).collect();
        let (first, last) = (spells.first()?, spells.last()?);
        let whole = life.entry_hours() == 0.0 && first.fitted_hours == 0.0 && life.at_risk.len() == 1;
        let strikes = spells.iter().map(|s| s.strikes).try_fold(0_u64, |sum, s| sum.checked_add(s?));
        Some(EndedLamp {
            site: last.site.to_string(),
            screen: last.screen.to_string(),
            strikes: strikes.filter(|_| whole),
            fitted_on: Some(first.fitted_on).filter(|_| first.fitted_hours == 0.0),
            ended_on: last.removed_on,
            file: last.file.to_string(),
            line: last.line,
            ..EndedLamp::new(life.serial, life.lamp_class, life.ending, Some(life.end_hours))
        })
    });
    lamps.collect()
}

/// What an office knows of one lamp that no log tells.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Papers {
    /// Serial of the lamp.
    pub serial: String,
    /// Day on which the maker delivered it.
    pub delivered_on: Option<NaiveDate>,
    /// What is at hand for a claim, in the user's words.
    pub evidence: Vec<String>,
    /// Day on which a claim was filed.
    pub filed_on: Option<NaiveDate>,
    /// What was paid for it, 0 for one that was turned down.
    pub paid: Option<f64>,
    /// File that they stand in; blank where not known.
    pub file: String,
    /// Physical line; 0 where not known.
    pub line: u64,
}

impl Papers {
    /// Whether a claim was filed.
    pub fn filed(&self) -> bool {
        self.filed_on.is_some() || self.paid.is_some()
    }

    fn place(&self, row: u64) -> Place {
        let known = self.line > 0 && !self.file.is_empty();
        let place = if known { Place::input(&self.file).line(self.line) } else { Place::input("papers").row(row) };
        place.column("serial")
    }
}

/// Puts papers to lamps by serial. Papers of lamps that did not end are left out, unless they tell of a claim.
///
/// # Errors
/// All at once: `warranty.papers_twice` for a serial that stands twice among the papers, `warranty.papers_no_lamp` for a
/// claim of a lamp that is not among those that ended.
///
/// # Examples
/// ```
/// use relamp::records::Ending;
/// use relamp::warranty::{EndedLamp, Papers, with_papers};
/// let lamps = vec![EndedLamp::new("A1", "2 kW", Ending::Burst, Some(500.0))];
/// let papers = [Papers { serial: "A1".into(), evidence: vec!["photo".into()], ..Papers::default() }];
/// assert_eq!(with_papers(lamps, &papers)?[0].evidence, ["photo"]);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn with_papers(mut lamps: Vec<EndedLamp>, papers: &[Papers]) -> Result<Vec<EndedLamp>> {
    let by_serial: BTreeMap<&str, &Papers> = papers.iter().map(|p| (p.serial.trim(), p)).collect();
    let mut problems = twice(papers);
    let mut unused = by_serial.clone();
    for lamp in &mut lamps {
        if let Some(p) = by_serial.get(lamp.serial.trim()) {
            unused.remove(lamp.serial.trim());
            lamp.delivered_on = p.delivered_on.or(lamp.delivered_on);
            lamp.evidence.extend(p.evidence.iter().filter(|e| !lamp.evidence.contains(e)).cloned().collect::<Vec<_>>());
            lamp.filed_on = p.filed_on.or(lamp.filed_on);
            lamp.paid = p.paid.or(lamp.paid);
        }
    }
    for (i, p) in papers.iter().enumerate() {
        if unused.contains_key(p.serial.trim()) && p.filed() {
            let problem =
                Problem::new("warranty.papers_no_lamp", "a claim for a lamp that is not among those that ended");
            problems.push(problem.at(p.place(i as u64 + 1)).got(&p.serial).expected("the serial of a lamp that ended"));
        }
    }
    if problems.is_empty() { Ok(lamps) } else { Err(Error::many(Kind::Input, problems)) }
}

/// Serials that stand twice.
pub(super) fn twice(papers: &[Papers]) -> Vec<Problem> {
    let mut seen = BTreeSet::new();
    let again = papers.iter().enumerate().filter(|(_, p)| !seen.insert(p.serial.trim()));
    let told = again.map(|(i, p)| {
        let problem = Problem::new("warranty.papers_twice", "a serial stands twice among the papers");
        problem.at(p.place(i as u64 + 1)).got(&p.serial).expected("each serial once")
    });
    told.collect()
}
