//! Days, without a calendar library: the generator must not share code with what it checks.

use std::fmt;

/// A calendar day, counted from 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(pub i32);

impl Day {
    /// The day of a date in the Gregorian calendar.
    ///
    /// # Examples
    /// ```
    /// use relamp_demo::Day;
    /// assert_eq!(Day::from_date(1970, 1, 2), Day(1));
    /// assert_eq!(Day::from_date(2025, 12, 28).to_string(), "2025-12-28");
    /// ```
    pub fn from_date(year: i32, month: i32, day: i32) -> Self {
        // Years that begin in March put the leap day last, so that days before a month need no table.
        let y = if month <= 2 { year - 1 } else { year };
        let cycle = y.div_euclid(400);
        let year_of_cycle = y.rem_euclid(400);
        let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
        Self(cycle * 146_097 + year_of_cycle * 365 + year_of_cycle / 4 - year_of_cycle / 100 + day_of_year - 719_468)
    }

    /// Year, month and day of the month.
    pub fn date(self) -> (i32, i32, i32) {
        let z = self.0 + 719_468;
        let cycle = z.div_euclid(146_097);
        let d = z.rem_euclid(146_097);
        let year_of_cycle = (d - d / 1_460 + d / 36_524 - d / 146_096) / 365;
        let day_of_year = d - (365 * year_of_cycle + year_of_cycle / 4 - year_of_cycle / 100);
        let m = (5 * day_of_year + 2) / 153;
        let day = day_of_year - (153 * m + 2) / 5 + 1;
        let month = if m < 10 { m + 3 } else { m - 9 };
        let year = year_of_cycle + cycle * 400 + i32::from(month <= 2);
        (year, month, day)
    }

    /// The day `days` later.
    #[must_use]
    pub fn plus(self, days: i32) -> Self {
        Self(self.0 + days)
    }

    /// Days from `earlier` to this day.
    pub fn since(self, earlier: Self) -> i32 {
        self.0 - earlier.0
    }

    /// Day, month and year with a sign between: 31.12.2025 or 31/12/2025.
    pub fn day_first(self, between: char) -> String {
        let (y, m, d) = self.date();
        format!("{d:02}{between}{m:02}{between}{y:04}")
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (y, m, d) = self.date();
        write!(f, "{y:04}-{m:02}-{d:02}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_dates_undo_each_other() {
        for n in -200_000..200_000 {
            let (y, m, d) = Day(n).date();
            assert_eq!(Day::from_date(y, m, d), Day(n));
        }
        // Days between two dates, counted on a wall calendar: 2024 is a leap year.
        assert_eq!(Day::from_date(2025, 1, 1).since(Day::from_date(2024, 1, 1)), 366);
        assert_eq!(Day::from_date(2000, 3, 1).since(Day::from_date(2000, 2, 28)), 2);
    }
}
