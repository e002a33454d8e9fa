//! Claims worth filing, and what became of those that were filed.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::cover::{NothingDue, Unused};
use super::lamp::EndedLamp;
use super::terms::ClaimTerms;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};

/// What is to be done about a lamp that ended, in the order of a claim list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// File: it is worth more than it costs, and its deadline has not passed.
    File,
    /// Find out: a figure is missing without which nothing is due, and with it the claim may be worth filing.
    FindOut,
    /// Filed, and no answer came.
    Open,
    /// Worth filing, but its deadline has passed.
    Late,
    /// Something is due, but on average less than the claim costs.
    NotWorth,
    /// Filed and paid, in whole or in part.
    Paid,
    /// Filed and turned down.
    TurnedDown,
    /// Nothing is due.
    Nothing,
}

impl Standing {
    /// Every standing, in the order of a claim list.
    pub const ALL: [Standing; 8] = [
        Standing::File,
        Standing::FindOut,
        Standing::Open,
        Standing::Late,
        Standing::NotWorth,
        Standing::Paid,
        Standing::TurnedDown,
        Standing::Nothing,
    ];

    /// The word used in files and interfaces.
    pub fn as_str(self) -> &'static str {
        match self {
            Standing::File => "file",
            Standing::FindOut => "find_out",
            Standing::Open => "open",
            Standing::Late => "late",
            Standing::NotWorth => "not_worth",
            Standing::Paid => "paid",
            Standing::TurnedDown => "turned_down",
            Standing::Nothing => "nothing",
        }
    }
}

/// One lamp of a claim list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Claim {
    /// The lamp.
    pub lamp: EndedLamp,
    /// What is to be done.
    pub standing: Standing,
    /// What is due, or why nothing is.
    pub due: Unused,
    /// Mean gain of filing: what is due times the chance that it is accepted, less the cost of the claim; by the most
    /// that can be due where a figure is still to be found.
    pub gain: f64,
    /// What the claim needs and has not; the day of the ending too, where there is a deadline that runs from it.
    pub missing: Vec<String>,
    /// Last day on which to file; none without a deadline or where the day of the ending is not known.
    pub deadline: Option<NaiveDate>,
    /// Days from the as-of date to the deadline; below 0 once it has passed.
    pub days_left: Option<i64>,
}

/// Every lamp that ended, judged under the terms of its class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClaimList {
    /// The day on which the list was made.
    pub as_of: NaiveDate,
    /// Lamps by standing, and within one the greatest gain first.
    pub claims: Vec<Claim>,
}

/// What claims brought and could have brought.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClaimTotals {
    /// Lamps in the list.
    pub lamps: u64,
    /// Of these, lamps for which something is due.
    pub lamps_due: u64,
    /// All that is due under the terms, filed or not.
    pub recoverable: f64,
    /// Of this, due for claims that were filed.
    pub filed: f64,
    /// What was paid.
    pub recovered: f64,
    /// Paid as a share of what is recoverable; none where nothing is. Above 1 where more was paid than the terms give.
    pub recovered_share: Option<f64>,
    /// Due for claims that were filed and are not answered.
    pub open: f64,
    /// Due for claims worth filing now.
    pub to_file: f64,
    /// Mean gain of filing these.
    pub to_file_gain: f64,
    /// Due for claims that were worth filing and whose deadline passed.
    pub missed: f64,
    /// Due for filed claims that were turned down or paid in part, less what was paid.
    pub refused: f64,
    /// The most that can be due for lamps of which a figure is missing.
    pub to_find_out: f64,
}

/// Judges lamps that ended, each under the terms of its class.
///
/// # Formula
/// ```text
/// gain = due x chance - handling cost;  worth filing if it is above 0 and the deadline has not passed
/// deadline = day of the ending + days to file; a claim may be filed on that day
/// ```
/// The chance is that of a complete claim: what is missing is listed and is to be found before it is filed.
///
/// # Arguments
/// `terms_of` gives the terms of a lamp class; none where there are none. `as_of`: the day of the list.
///
/// # Errors
/// Every bad lamp at once: `warranty.age`, `warranty.paid`, `warranty.days` for days out of order or after the as-of date,
/// `warranty.lamp_twice` for a serial that stands twice; those of [`ClaimTerms::checked`].
///
/// # Examples
/// ```
/// use relamp::records::Ending;
/// use relamp::terms::Warranty;
/// use relamp::warranty::{ClaimTerms, Cover, EndedLamp, Standing, claim_list};
/// let cover = Cover::new(Warranty::pro_rata(1000.0, 2000.0, [Ending::Burst])?);
/// let terms = ClaimTerms { chance: 0.8, handling_cost: 100.0, ..ClaimTerms::new(cover) };
/// let lamps = [("A1", 500.0), ("A2", 1800.0), ("A3", 2100.0)]
///     .map(|(serial, age)| EndedLamp::new(serial, "2 kW", Ending::Burst, Some(age)));
/// let list = claim_list(&lamps, |_| Some(&terms), "2026-01-31".parse().unwrap())?;
/// let told: Vec<_> = list.claims.iter().map(|c| (c.lamp.serial.as_str(), c.standing, c.gain)).collect();
/// assert_eq!(told[0], ("A1", Standing::File, 500.0)); // 750 x 0.8 - 100
/// assert_eq!(told[1].1, Standing::NotWorth); // 100 x 0.8 is less than 100
/// assert_eq!(told[2].1, Standing::Nothing);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn claim_list<'t>(
    lamps: &[EndedLamp],
    terms_of: impl Fn(&str) -> Option<&'t ClaimTerms>,
    as_of: NaiveDate,
) -> Result<ClaimList> {
    let mut problems = Vec::new();
    let (mut serials, mut classes) = (BTreeSet::new(), BTreeSet::new());
    for (i, lamp) in lamps.iter().enumerate() {
        let row = i as u64 + 1;
        problems.append(&mut lamp.problems(row, as_of));
        let serial = lamp.serial.trim();
        if !serial.is_empty() && !serials.insert(serial) {
            let problem = Problem::new("warranty.lamp_twice", "a lamp ends once, and its serial stands twice");
            problems.push(problem.at(lamp.place(row).column("serial")).got(serial).expected("each serial once"));
        }
        if classes.insert(lamp.lamp_class.as_str())
            && let Some(terms) = terms_of(&lamp.lamp_class)
        {
            // One set of terms may stand for many classes: its faults are told once.
            for problem in terms.problems("terms") {
                if !problems.contains(&problem) {
                    problems.push(problem);
                }
            }
        }
    }
    if !problems.is_empty() {
        return Err(Error::many(Kind::Input, problems));
    }
    let mut claims: Vec<Claim> = lamps.iter().map(|lamp| judged(lamp, terms_of(&lamp.lamp_class), as_of)).collect();
    claims.sort_by(|a, b| {
        let order = a.standing.cmp(&b.standing).then(b.gain.total_cmp(&a.gain)).then(a.deadline.cmp(&b.deadline));
        let (a, b) = (&a.lamp, &b.lamp);
        order.then_with(|| (&a.file, a.line, &a.serial).cmp(&(&b.file, b.line, &b.serial)))
    });
    Ok(ClaimList { as_of, claims })
}

fn judged(lamp: &EndedLamp, terms: Option<&ClaimTerms>, as_of: NaiveDate) -> Claim {
    let due = terms.map_or(Unused::nothing(NothingDue::NoTerms), |t| t.cover.unused(lamp));
    let gain = match terms {
        Some(terms) if due.at_most > 0.0 => due.at_most * terms.chance - terms.handling_cost,
        _ => 0.0,
    };
    let deadline = terms.filter(|_| due.at_most > 0.0).and_then(|t| t.deadline(lamp.ended_on));
    let days_left = deadline.map(|d| (d - as_of).num_days());
    let needed = terms.filter(|_| due.at_most > 0.0).map_or(&[][..], |t| &t.needed);
    let mut missing: Vec<String> = needed.iter().filter(|n| !lamp.has(n)).cloned().collect();
    let wanted = due.why_nothing.and_then(|why| terms.and_then(|t| figure(why, t)));
    missing.extend(wanted.filter(|w| !missing.iter().any(|m| m == w)).map(str::to_owned));
    // Without the day of the ending it cannot be told whether there is still time.
    let dated = terms.is_some_and(|t| t.days_to_file.is_some()) && due.at_most > 0.0 && !lamp.filed();
    if dated && lamp.ended_on.is_none() && !missing.iter().any(|m| m == "ended_on") {
        missing.push("ended_on".to_owned());
    }
    let standing = standing(lamp, &due, gain, days_left);
    Claim { lamp: lamp.clone(), standing, due, gain, missing, deadline, days_left }
}

/// The figure whose lack keeps anything from being due.
fn figure(why: NothingDue, terms: &ClaimTerms) -> Option<&'static str> {
    use super::cover::CoverStart;
    match why {
        NothingDue::AgeUnknown => Some("age_hours"),
        NothingDue::DayUnknown => Some("ended_on"),
        NothingDue::StrikesUnknown => Some("strikes"),
        NothingDue::StartUnknown => terms.cover.calendar().map(|(_, from)| match from {
            CoverStart::Fitting => "fitted_on",
            CoverStart::Delivery => "delivered_on",
        }),
        _ => None,
    }
}

fn standing(lamp: &EndedLamp, due: &Unused, gain: f64, days_left: Option<i64>) -> Standing {
    match lamp.paid {
        Some(paid) if paid > 0.0 => return Standing::Paid,
        Some(_) => return Standing::TurnedDown,
        None if lamp.filed() => return Standing::Open,
        None => {}
    }
    if due.at_most <= 0.0 {
        return Standing::Nothing;
    }
    match due.why_nothing {
        _ if gain <= 0.0 => Standing::NotWorth,
        _ if days_left.is_some_and(|d| d < 0) => Standing::Late,
        Some(_) => Standing::FindOut,
        None => Standing::File,
    }
}

impl ClaimList {
    /// Claims of one standing, in order.
    pub fn of(&self, standing: Standing) -> impl Iterator<Item = &Claim> {
        self.claims.iter().filter(move |c| c.standing == standing)
    }

    /// What claims brought and could have brought.
    pub fn totals(&self) -> ClaimTotals {
        let sum = |keep: &dyn Fn(&Claim) -> bool, of: &dyn Fn(&Claim) -> f64| -> f64 {
            // The sum of no terms is -0.
            0.0 + self.claims.iter().filter(|c| keep(c)).map(of).sum::<f64>()
        };
        let of = |s: Standing| move |c: &Claim| c.standing == s;
        let amount = |c: &Claim| c.due.amount;
        let paid = |c: &Claim| c.lamp.paid.unwrap_or(0.0);
        let recoverable = sum(&|_| true, &amount);
        let recovered = sum(&|_| true, &paid);
        ClaimTotals {
            lamps: self.claims.len() as u64,
            lamps_due: self.claims.iter().filter(|c| c.due.amount > 0.0).count() as u64,
            recoverable,
            filed: sum(&|c| c.lamp.filed(), &amount),
            recovered,
            recovered_share: (recoverable > 0.0).then(|| recovered / recoverable),
            open: sum(&of(Standing::Open), &amount),
            to_file: sum(&of(Standing::File), &amount),
            to_file_gain: sum(&of(Standing::File), &|c| c.gain),
            missed: sum(&of(Standing::Late), &amount),
            refused: sum(&|c| c.lamp.paid.is_some(), &|c| (c.due.amount - paid(c)).max(0.0)),
            to_find_out: sum(&of(Standing::FindOut), &|c| c.due.at_most),
        }
    }

    /// What the list amounts to, in words.
    pub fn sentence(&self) -> String {
        let count = |s: Standing, noun: &str| counted(self.of(s).count() as u64, noun);
        let t = self.totals();
        let (recovered, due) = (crate::base::figure::whole(t.recovered), crate::base::figure::whole(t.recoverable));
        let recovered = if t.recovered > t.recoverable {
            format!("{recovered} recovered, more than the {due} due")
        } else {
            format!("{recovered} of {due} recovered")
        };
        format!(
            "{} worth filing now, {} due; {} to find out about; {} past the deadline; {recovered}",
            count(Standing::File, "claim"),
            crate::base::figure::whole(t.to_file),
            count(Standing::FindOut, "lamp"),
            count(Standing::Late, "claim"),
        )
    }
}

impl Sound for Claim {
    fn check(&self, c: &mut Checks) {
        let due = &self.due;
        c.part("lamp", &self.lamp);
        c.not_negative("due.amount", due.amount);
        c.not_negative("due.at_most", due.at_most);
        c.there("due.why_nothing", due.why_nothing.is_some(), due.amount == 0.0, "a reason where nothing is due");
        let most = if due.why_nothing.is_none() { due.amount } else { due.at_most };
        c.equal("due.at_most", due.at_most, most);
        let found = due.why_nothing.is_none_or(NothingDue::can_be_found);
        c.need("due.at_most", found == (due.at_most > 0.0), due.at_most, "above 0 where something can be due");
        // The gain is that of an accepted claim at most.
        c.need("gain", self.gain <= due.at_most, self.gain, "at most what can be due");
        c.there("days_left", self.days_left.is_some(), self.deadline.is_some(), "there where a deadline is");
        c.follows("standing", &self.standing, &standing(&self.lamp, due, self.gain, self.days_left));
    }
}

impl Sound for ClaimList {
    fn check(&self, c: &mut Checks) {
        c.parts("claims", &self.claims);
        for (i, claim) in self.claims.iter().enumerate() {
            if let Some(deadline) = claim.deadline {
                let days = (deadline - self.as_of).num_days();
                c.follows(&format!("claims[{i}].days_left"), &claim.days_left, &Some(days));
            }
            let late = claim.lamp.problems(0, self.as_of);
            c.need(&format!("claims[{i}].lamp"), late.is_empty(), "days out of order", "days up to the as-of date");
        }
        let order = |pair: &[Claim]| match pair {
            [a, b] => a.standing < b.standing || a.standing == b.standing && a.gain >= b.gain,
            _ => true,
        };
        c.need("claims", self.claims.windows(2).all(order), "another order", "claims by standing and falling gain");
        c.once("claims", self.claims.iter().map(|x| x.lamp.serial.trim()).filter(|s| !s.is_empty()));
    }
}
