//! A warranty as its paper has it, and what is due for one lamp.

use std::fmt;

use chrono::{Months, NaiveDate};
use serde::{Deserialize, Serialize};

use super::lamp::EndedLamp;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;
use crate::terms::Warranty;

/// Most months of a warranty: fifty years.
const MOST_MONTHS: u32 = 600;

/// The day from which the calendar of a warranty runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CoverStart {
    /// The day of fitting.
    Fitting,
    /// The day of delivery: time on the shelf counts.
    Delivery,
}

impl CoverStart {
    /// Every start.
    pub const ALL: [CoverStart; 2] = [CoverStart::Fitting, CoverStart::Delivery];

    /// The word used in files and interfaces.
    pub fn as_str(self) -> &'static str {
        match self {
            CoverStart::Fitting => "fitting",
            CoverStart::Delivery => "delivery",
        }
    }
}

/// Why nothing is due for a lamp, or nothing can be counted on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum NothingDue {
    /// It still burns.
    Running,
    /// It was changed on plan.
    Planned,
    /// The warranty does not cover its ending.
    NotCovered,
    /// It ended at or past the hours of the warranty.
    Hours,
    /// It ended on or after the day on which the calendar ended the warranty.
    Calendar,
    /// It was struck more often than the warranty allows.
    Strikes,
    /// Its hours at the ending are not known.
    AgeUnknown,
    /// The day from which the calendar runs is not known.
    StartUnknown,
    /// The day of its ending is not known.
    DayUnknown,
    /// Its strikes are not known.
    StrikesUnknown,
    /// No terms are given for its class.
    NoTerms,
}

impl NothingDue {
    /// The word used in files and interfaces.
    pub fn as_str(self) -> &'static str {
        match self {
            NothingDue::Running => "running",
            NothingDue::Planned => "planned",
            NothingDue::NotCovered => "not_covered",
            NothingDue::Hours => "hours",
            NothingDue::Calendar => "calendar",
            NothingDue::Strikes => "strikes",
            NothingDue::AgeUnknown => "age_unknown",
            NothingDue::StartUnknown => "start_unknown",
            NothingDue::DayUnknown => "day_unknown",
            NothingDue::StrikesUnknown => "strikes_unknown",
            NothingDue::NoTerms => "no_terms",
        }
    }

    /// Whether a figure is missing that could still be found.
    pub fn can_be_found(self) -> bool {
        use NothingDue::{AgeUnknown, DayUnknown, StartUnknown, StrikesUnknown};
        matches!(self, AgeUnknown | StartUnknown | DayUnknown | StrikesUnknown)
    }
}

impl fmt::Display for NothingDue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            NothingDue::Running => "the lamp still burns",
            NothingDue::Planned => "the lamp was changed on plan",
            NothingDue::NotCovered => "the warranty does not cover this ending",
            NothingDue::Hours => "expired by hours",
            NothingDue::Calendar => "expired by the calendar",
            NothingDue::Strikes => "expired by strikes",
            NothingDue::AgeUnknown => "the hours at the ending are not known",
            NothingDue::StartUnknown => "the day from which the warranty runs is not known",
            NothingDue::DayUnknown => "the day of the ending is not known",
            NothingDue::StrikesUnknown => "the strikes are not known",
            NothingDue::NoTerms => "no terms are given for this lamp class",
        })
    }
}

/// What is due for the unused hours of a lamp.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unused {
    /// Money back that the terms give for what is known; 0 where nothing is due.
    pub amount: f64,
    /// Why nothing is due; none where something is.
    pub why_nothing: Option<NothingDue>,
    /// The most that can be due once a missing figure is found; the amount itself where none is missing.
    pub at_most: f64,
}

impl Unused {
    pub(super) fn nothing(why: NothingDue) -> Self {
        Self { amount: 0.0, why_nothing: Some(why), at_most: 0.0 }
    }
}

/// A warranty with every limit: hours, calendar and strikes.
///
/// # Formula
/// ```text
/// due for a lamp = credit(age)   if its ending is covered, it ended before the last day of the calendar,
///                                and it was struck at most so many times;   0 otherwise
/// last day = start + months, the last of the month where it has no such day
/// ```
/// `credit` is [`Warranty::credit`]: full, pro rata or stepped. A lamp that ends on the last day counts as late, as one
/// does that ends at the last hour: what such a claim brings is not counted on.
///
/// # Examples
/// ```
/// use relamp::records::Ending;
/// use relamp::terms::Warranty;
/// use relamp::warranty::{Cover, CoverStart, EndedLamp, NothingDue};
/// let day = |text: &str| text.parse().ok();
/// let cover = Cover::new(Warranty::pro_rata(1000.0, 2000.0, [Ending::Burst])?);
/// let lamp = EndedLamp {
///     fitted_on: day("2024-01-10"),
///     ended_on: day("2025-03-01"),
///     ..EndedLamp::new("A1", "2 kW", Ending::Burst, Some(500.0))
/// };
/// assert_eq!(cover.unused(&lamp).amount, 750.0);
/// // Twelve months from fitting ended it before.
/// let dated = cover.within_months(12, CoverStart::Fitting)?;
/// assert_eq!(dated.unused(&lamp).amount, 0.0);
/// assert_eq!(dated.unused(&lamp).why_nothing, Some(NothingDue::Calendar));
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cover {
    money: Warranty,
    months: Option<u32>,
    from: Option<CoverStart>,
    most_strikes: Option<u64>,
}

impl Cover {
    /// A warranty that hours alone end.
    pub fn new(money: Warranty) -> Self {
        Self { money, months: None, from: None, most_strikes: None }
    }

    /// The same where the calendar may end it before the hours do.
    ///
    /// # Errors
    /// `warranty.months` unless they are 1 to 600.
    pub fn within_months(&self, months: u32, from: CoverStart) -> Result<Self> {
        if !(1..=MOST_MONTHS).contains(&months) {
            let problem = Problem::new("warranty.months", "a warranty runs for a number of months");
            let problem = problem.at(Place::input("cover").column("months")).got(months);
            return Err(Error::new(Kind::Input, problem.expected(format!("1 to {MOST_MONTHS}"))));
        }
        Ok(Self { months: Some(months), from: Some(from), ..self.clone() })
    }

    /// The same where so many strikes are covered and one more ends it.
    ///
    /// # Errors
    /// `warranty.strikes` for none.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::Warranty;
    /// use relamp::warranty::{Cover, EndedLamp, NothingDue};
    /// let cover = Cover::new(Warranty::full(800.0, 1000.0, [Ending::Seal])?).within_strikes(500)?;
    /// let lamp = |strikes| EndedLamp { strikes, ..EndedLamp::new("A1", "2 kW", Ending::Seal, Some(400.0)) };
    /// assert_eq!(cover.unused(&lamp(Some(500))).amount, 800.0);
    /// assert_eq!(cover.unused(&lamp(Some(501))).why_nothing, Some(NothingDue::Strikes));
    /// // Not known: nothing to count on, but the whole price may be due.
    /// let unknown = cover.unused(&lamp(None));
    /// assert_eq!((unknown.amount, unknown.at_most), (0.0, 800.0));
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn within_strikes(&self, most: u64) -> Result<Self> {
        if most == 0 {
            let problem = Problem::new("warranty.strikes", "a warranty covers a number of strikes");
            let problem = problem.at(Place::input("cover").column("most_strikes")).got(most);
            return Err(Error::new(Kind::Input, problem.expected("1 or more")));
        }
        Ok(Self { most_strikes: Some(most), ..self.clone() })
    }

    /// Money back by age.
    pub fn money(&self) -> &Warranty {
        &self.money
    }

    /// Months after which nothing comes back, and from which day they run; none without such a limit.
    pub fn calendar(&self) -> Option<(u32, CoverStart)> {
        self.months.zip(self.from)
    }

    /// Most strikes that are covered; none without such a limit.
    pub fn most_strikes(&self) -> Option<u64> {
        self.most_strikes
    }

    /// The day from which nothing comes back for a lamp that was fitted and delivered on these days.
    ///
    /// The inner answer is none where the calendar sets no limit, the outer one where the day that it runs from is not known.
    pub fn last_day(&self, fitted_on: Option<NaiveDate>, delivered_on: Option<NaiveDate>) -> Option<Option<NaiveDate>> {
        let Some((months, from)) = self.calendar() else { return Some(None) };
        let start = match from {
            CoverStart::Fitting => fitted_on,
            CoverStart::Delivery => delivered_on,
        }?;
        Some(Some(start.checked_add_months(Months::new(months)).unwrap_or(NaiveDate::MAX)))
    }

    /// What is due for the unused hours of a lamp, or why nothing is.
    ///
    /// What certainly ends the warranty is told before what is not known.
    pub fn unused(&self, lamp: &EndedLamp) -> Unused {
        match lamp.ending {
            Ending::Running => return Unused::nothing(NothingDue::Running),
            Ending::Planned => return Unused::nothing(NothingDue::Planned),
            ending if !self.money.covers(ending) => return Unused::nothing(NothingDue::NotCovered),
            _ => {}
        }
        let credit = lamp.age_hours.map_or(self.money.largest(), |age| self.money.credit(age));
        if credit <= 0.0 {
            return Unused::nothing(NothingDue::Hours);
        }
        let last_day = self.last_day(lamp.fitted_on, lamp.delivered_on);
        if let (Some(Some(last)), Some(ended)) = (last_day, lamp.ended_on)
            && ended >= last
        {
            return Unused::nothing(NothingDue::Calendar);
        }
        if let (Some(most), Some(strikes)) = (self.most_strikes, lamp.strikes)
            && strikes > most
        {
            return Unused::nothing(NothingDue::Strikes);
        }
        let unknown = if lamp.age_hours.is_none() {
            Some(NothingDue::AgeUnknown)
        } else if last_day.is_none() {
            Some(NothingDue::StartUnknown)
        } else if self.months.is_some() && lamp.ended_on.is_none() {
            Some(NothingDue::DayUnknown)
        } else if self.most_strikes.is_some() && lamp.strikes.is_none() {
            Some(NothingDue::StrikesUnknown)
        } else {
            None
        };
        let amount = if unknown.is_none() { credit } else { 0.0 };
        Unused { amount, why_nothing: unknown, at_most: credit }
    }
}

impl Sound for Cover {
    fn check(&self, c: &mut Checks) {
        c.part("money", &self.money);
        if let Some(months) = self.months {
            c.between("months", f64::from(months), 1.0, f64::from(MOST_MONTHS));
        }
        c.there("from", self.from.is_some(), self.months.is_some(), "there where months are, and only there");
        if let Some(most) = self.most_strikes {
            c.need("most_strikes", most > 0, most, "1 or more");
        }
    }
}
