//! How claims under a warranty go: what they need, how often they are accepted, what they cost, until when they are filed.

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use super::cover::Cover;
use crate::base::error::{Place, Problem};
use crate::base::sound::{Checks, Sound};
use crate::demand::MONTH_DAYS;
use crate::terms::Warranty;

/// Most days to file: ten years.
const MOST_DAYS: u32 = 3653;

/// How claims for the lamps of one class go.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClaimTerms {
    /// The warranty.
    pub cover: Cover,
    /// What a claim needs, in the order in which it is asked for. The names `serial`, `age_hours`, `strikes`, `fitted_on`,
    /// `delivered_on` and `ended_on` are looked up among the figures of the lamp, any other among its evidence.
    pub needed: Vec<String>,
    /// Chance that a complete claim is accepted, 0 to 1.
    pub chance: f64,
    /// Cost of one claim: hours of work, freight, packing.
    pub handling_cost: f64,
    /// Days after the ending within which to file; none without a deadline.
    pub days_to_file: Option<u32>,
}

impl ClaimTerms {
    /// Claims that need nothing, are always accepted, cost nothing and have no deadline.
    pub fn new(cover: Cover) -> Self {
        Self { cover, needed: Vec::new(), chance: 1.0, handling_cost: 0.0, days_to_file: None }
    }

    /// What a claim brings on average by age at failure, as terms that costs can count: the money back times the chance that
    /// the claim is granted, less its handling. None where no claim is worth filing.
    ///
    /// Months of the calendar become hours at an even pace of `hours_per_week` from fitting, whether they run from fitting or
    /// from delivery, whose days on the shelf are not known; without a pace they are left out. So are strikes, which no age
    /// tells. Strikes and days on the shelf left out make the money back too large; one pace for lamps that burn at several may err
    /// to either side.
    ///
    /// # Formula
    /// ```text
    /// credit'(age) = max(0, chance credit(age) - handling)   while age < months x 365.25 / 12 days at the pace;   0 from then on
    /// ```
    ///
    /// # Errors
    /// Those of [`ClaimTerms::checked`]; `terms.warranty_calendar` for a pace that is not above 0 and at most 168 h a week.
    ///
    /// # Examples
    /// ```
    /// use relamp::records::Ending;
    /// use relamp::terms::Warranty;
    /// use relamp::warranty::{ClaimTerms, Cover, CoverStart};
    /// let cover = Cover::new(Warranty::pro_rata(1000.0, 2000.0, [Ending::Burst])?).within_months(12, CoverStart::Fitting)?;
    /// let terms = ClaimTerms { chance: 0.8, handling_cost: 60.0, ..ClaimTerms::new(cover) };
    /// // 0.8 x 750 - 60 at 500 h; 84 h a week for a year end it at 4,383 h, later than 1,850 h, where a claim brings 60.
    /// let counted = terms.money_back(Some(84.0))?.unwrap();
    /// assert!((counted.credit(500.0) - 540.0).abs() < 1e-9 && (counted.end_hours() - 1850.0).abs() < 1e-9);
    /// let slow = terms.money_back(Some(21.0))?.unwrap();
    /// assert!((slow.end_hours() - 1095.75).abs() < 1e-9);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn money_back(&self, hours_per_week: Option<f64>) -> crate::Result<Option<Warranty>> {
        let sound = self.clone().checked()?;
        let Some(counted) = sound.cover.money().on_average(sound.chance, sound.handling_cost)? else { return Ok(None) };
        let Some(((months, _), pace)) = sound.cover.calendar().zip(hours_per_week) else { return Ok(Some(counted)) };
        // Of a pace that is none, the terms say so.
        if pace > 0.0 && f64::from(months) * MONTH_DAYS * pace < 7.0 {
            return Ok(None);
        }
        counted.within_calendar(f64::from(months) * MONTH_DAYS, pace).map(Some)
    }

    /// Last day on which to file a claim for a lamp that ended on a day.
    pub(super) fn deadline(&self, ended_on: Option<NaiveDate>) -> Option<NaiveDate> {
        let days = self.days_to_file?;
        Some(ended_on?.checked_add_days(Days::new(u64::from(days))).unwrap_or(NaiveDate::MAX))
    }

    /// Checks what a caller hands in.
    ///
    /// # Errors
    /// All at once: `warranty.chance` outside 0 to 1; `warranty.handling_cost` unless it is finite and 0 or more;
    /// `warranty.days_to_file` outside 1 to 3,653; `warranty.needed` for a blank word or one that stands twice.
    pub fn checked(self) -> crate::Result<Self> {
        let problems = self.problems("terms");
        if problems.is_empty() { Ok(self) } else { Err(crate::Error::many(crate::Kind::Input, problems)) }
    }

    pub(super) fn problems(&self, input: &str) -> Vec<Problem> {
        let place = |column: &str| Place::input(input).column(column);
        let mut problems = Vec::new();
        if !(0.0..=1.0).contains(&self.chance) {
            let problem = Problem::new("warranty.chance", "the chance that a claim is accepted is out of range");
            problems.push(problem.at(place("chance")).got(self.chance).expected("0 to 1"));
        }
        if !(0.0..f64::INFINITY).contains(&self.handling_cost) {
            let problem = Problem::new("warranty.handling_cost", "the cost of a claim is no amount");
            problems.push(problem.at(place("handling_cost")).got(self.handling_cost).expected("finite, 0 or more"));
        }
        if let Some(days) = self.days_to_file.filter(|d| !(1..=MOST_DAYS).contains(d)) {
            let problem = Problem::new("warranty.days_to_file", "a deadline lies some days after the ending");
            problems.push(problem.at(place("days_to_file")).got(days).expected(format!("1 to {MOST_DAYS}, or none")));
        }
        for (i, word) in self.needed.iter().enumerate() {
            let twice = self.needed.iter().take(i).any(|w| w == word);
            if twice || word.trim().is_empty() || word.trim() != word {
                let problem = Problem::new("warranty.needed", "what a claim needs is told in words, each once");
                let expected = "a word or words without blanks around them, each once";
                problems
                    .push(problem.at(place("needed").row(i as u64 + 1)).got(format!("\"{word}\"")).expected(expected));
            }
        }
        problems
    }
}

impl Sound for ClaimTerms {
    fn check(&self, c: &mut Checks) {
        c.part("cover", &self.cover);
        for problem in self.problems("") {
            let field = problem.place.column.clone().unwrap_or_default();
            c.need(&field, false, &problem.got, problem.expected.clone());
        }
    }
}
