//! A month of the calendar.

use std::fmt;
use std::str::FromStr;

use chrono::{Datelike, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Problem};

/// A month of a year, written as `2025-03`.
///
/// # Examples
/// ```
/// use relamp::watch::Month;
/// let march: Month = "2025-03".parse()?;
/// assert_eq!((march.next().to_string(), march.months_until("2026-01".parse()?)), ("2025-04".to_owned(), 10));
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Month(i32);

impl Month {
    /// The month of a day.
    #[must_use]
    pub fn of(day: NaiveDate) -> Self {
        Self(day.year() * 12 + day.month0().cast_signed())
    }

    /// The month after.
    #[must_use]
    pub fn next(self) -> Self {
        Self(self.0.saturating_add(1))
    }

    /// How many months later another one is; below 0 for an earlier one.
    #[must_use]
    pub fn months_until(self, other: Self) -> i32 {
        other.0.saturating_sub(self.0)
    }

    /// Its first day; none outside the calendar.
    #[must_use]
    pub fn first_day(self) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(self.0.div_euclid(12), self.0.rem_euclid(12) as u32 + 1, 1)
    }
}

impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}", self.0.div_euclid(12), self.0.rem_euclid(12) + 1)
    }
}

impl From<Month> for String {
    fn from(month: Month) -> Self {
        month.to_string()
    }
}

impl TryFrom<String> for Month {
    type Error = Error;

    fn try_from(text: String) -> Result<Self, Error> {
        text.parse()
    }
}

impl FromStr for Month {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let parsed = NaiveDate::parse_from_str(&format!("{text}-01"), "%Y-%m-%d").ok().map(Self::of);
        parsed.filter(|month| month.to_string() == text).ok_or_else(|| {
            let problem =
                Problem::new("watch.month", "not a month").got(text).expected("year and month, such as 2025-03");
            Error::new(Kind::Input, problem)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_month_is_read_as_it_is_written() {
        for text in ["2025-01", "2025-12", "1999-06"] {
            let month: Month = text.parse().unwrap();
            assert_eq!(month.to_string(), text);
            assert_eq!(month.first_day().map(Month::of), Some(month));
        }
        for wrong in ["2025", "2025-13", "2025-1", "25-01", "2025-01-01", "March"] {
            assert_eq!(wrong.parse::<Month>().unwrap_err().slug(), "watch.month");
        }
    }
}
