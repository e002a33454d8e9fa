//! A lamp that ended, with what is known of it and of its claim.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::base::error::{Place, Problem};
use crate::base::sound::{Checks, Sound};
use crate::records::Ending;

/// A lamp that ended, and what is at hand for a claim.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndedLamp {
    /// Serial; blank where not known.
    pub serial: String,
    /// Lamp class.
    pub lamp_class: String,
    /// Site.
    pub site: String,
    /// Screen.
    pub screen: String,
    /// Why it ended.
    pub ending: Ending,
    /// Hours burned at the ending; none where not known.
    pub age_hours: Option<f64>,
    /// Strikes in its whole life; none where not known.
    pub strikes: Option<u64>,
    /// Day on which it was fitted new; none where not known.
    pub fitted_on: Option<NaiveDate>,
    /// Day on which the maker delivered it; none where not known.
    pub delivered_on: Option<NaiveDate>,
    /// Day of the ending; none where not known.
    pub ended_on: Option<NaiveDate>,
    /// What is at hand for a claim beside these figures, in the user's words, such as a photo.
    pub evidence: Vec<String>,
    /// Day on which a claim was filed; none where none was, or the day is not known.
    pub filed_on: Option<NaiveDate>,
    /// What was paid for the claim, 0 for one that was turned down; none while no answer came.
    pub paid: Option<f64>,
    /// File or table that the lamp stands in.
    pub file: String,
    /// Physical line, or the row of a table without lines; 0 where neither is known.
    pub line: u64,
}

impl EndedLamp {
    /// A lamp of which nothing is known but its serial, class, ending and hours.
    pub fn new(serial: &str, lamp_class: &str, ending: Ending, age_hours: Option<f64>) -> Self {
        Self {
            serial: serial.to_owned(),
            lamp_class: lamp_class.to_owned(),
            site: String::new(),
            screen: String::new(),
            ending,
            age_hours,
            strikes: None,
            fitted_on: None,
            delivered_on: None,
            ended_on: None,
            evidence: Vec::new(),
            filed_on: None,
            paid: None,
            file: String::new(),
            line: 0,
        }
    }

    /// Whether a claim for it was filed.
    pub fn filed(&self) -> bool {
        self.filed_on.is_some() || self.paid.is_some()
    }

    /// Whether something that a claim needs is at hand: a figure of the lamp by its name, or a word of its evidence.
    pub(super) fn has(&self, needed: &str) -> bool {
        match needed {
            "serial" => !self.serial.trim().is_empty(),
            "age_hours" => self.age_hours.is_some(),
            "strikes" => self.strikes.is_some(),
            "fitted_on" => self.fitted_on.is_some(),
            "delivered_on" => self.delivered_on.is_some(),
            "ended_on" => self.ended_on.is_some(),
            other => self.evidence.iter().any(|e| e == other),
        }
    }

    /// Where the lamp stands, for messages.
    pub(super) fn place(&self, row: u64) -> Place {
        if self.file.is_empty() { Place::input("lamps").row(row) } else { Place::input(&self.file).line(self.line) }
    }

    /// What cannot be of a lamp, judged on a day.
    pub(super) fn problems(&self, row: u64, as_of: NaiveDate) -> Vec<Problem> {
        let mut problems = Vec::new();
        let mut wrong = |slug: &'static str, what: &str, column: &str, got: String, expected: String| {
            problems.push(Problem::new(slug, what).at(self.place(row).column(column)).got(got).expected(expected));
        };
        if let Some(age) = self.age_hours.filter(|a| !(0.0..f64::INFINITY).contains(a)) {
            let what = "the age of a lamp at its ending is out of range";
            wrong("warranty.age", what, "age_hours", age.to_string(), "finite hours of at least 0, or a blank".into());
        }
        if let Some(paid) = self.paid.filter(|p| !(0.0..f64::INFINITY).contains(p)) {
            let what = "what was paid is no amount";
            wrong("warranty.paid", what, "paid", paid.to_string(), "0 or more, or a blank while no answer came".into());
        }
        let days = [
            ("fitted_on", self.fitted_on, "ended_on", self.ended_on),
            ("delivered_on", self.delivered_on, "ended_on", self.ended_on),
            ("delivered_on", self.delivered_on, "fitted_on", self.fitted_on),
            ("ended_on", self.ended_on, "filed_on", self.filed_on),
            ("ended_on", self.ended_on, "the as-of date", Some(as_of)),
            ("filed_on", self.filed_on, "the as-of date", Some(as_of)),
        ];
        for (name, day, later, end) in days {
            if let (Some(day), Some(end)) = (day, end)
                && day > end
            {
                let what = "the days of a lamp are out of order";
                wrong("warranty.days", what, name, day.to_string(), format!("not after {end}, {later}"));
            }
        }
        problems
    }
}

impl Sound for EndedLamp {
    fn check(&self, c: &mut Checks) {
        c.not_negative("age_hours", self.age_hours);
        c.not_negative("paid", self.paid);
        c.ends("fitted_on", self.fitted_on.map(days), self.ended_on.map(days));
        c.ends("delivered_on", self.delivered_on.map(days), self.fitted_on.or(self.ended_on).map(days));
        c.ends("filed_on", self.ended_on.map(days), self.filed_on.map(days));
    }
}

/// A day as a number, to compare.
fn days(day: NaiveDate) -> f64 {
    use chrono::Datelike;
    f64::from(day.num_days_from_ce())
}
