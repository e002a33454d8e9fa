//! How fast the clock of a screen runs: days of its ordinary hours burned up to a day, by season, closures and growth.

use chrono::{Days, NaiveDate};

use super::exposure::{Clock, Programme};
use crate::base::days::MOST_WHOLE_DAYS;
use crate::base::error::{Place, Problem};

/// The programme of some screens over the year, laid out from a day on.
///
/// # Formula
/// ```text
/// ordinary days burned by day d = sum over the days before it of the factors of Programme
/// ```
/// A screen of h weekly hours burns h / 7 times as many hours. Whatever is known of lamps on a clock that runs evenly
/// holds on this one, with every day from today read as the ordinary days burned by then.
#[derive(Debug)]
pub(crate) struct Pace {
    key: u64,
    programme: Programme,
    as_of: NaiveDate,
    clock: Clock,
}

impl PartialEq for Pace {
    fn eq(&self, other: &Self) -> bool {
        (self.as_of, &self.programme) == (other.as_of, &other.programme)
    }
}

impl Pace {
    /// A programme from a day on; `key` tells it from the others of one study.
    ///
    /// It is laid out as far as any forecast looks, so that no day of one is without its hours.
    pub(crate) fn new(key: u64, programme: Programme, as_of: NaiveDate) -> Self {
        let clock = Clock::of_days(as_of, u64::from(MOST_WHOLE_DAYS), &programme);
        Self { key, programme, as_of, clock }
    }

    pub(super) fn key(&self) -> u64 {
        self.key
    }

    /// Days from today that are laid out; past them nothing burns.
    pub(super) fn days_laid(&self) -> usize {
        self.clock.days()
    }

    /// Ordinary days burned by a day from today.
    pub(crate) fn days_at(&self, day: f64) -> f64 {
        self.clock.at_day(day)
    }

    /// Days from today by which so many ordinary days are burned; infinite where that is past all forecasts.
    pub(crate) fn day_of(&self, ordinary: f64) -> f64 {
        self.clock.day_of(ordinary)
    }

    /// Ordinary days burned from a day before today on.
    pub(crate) fn days_since(&self, day: NaiveDate) -> f64 {
        let days = (self.as_of - day).num_days().max(0).unsigned_abs();
        let each = (0..days).filter_map(|d| day.checked_add_days(Days::new(d)));
        each.map(|d| self.programme.factor(d, self.as_of)).sum()
    }

    /// Says where a screen would burn for more than the hours of a day, within some days from today.
    pub(crate) fn too_long(&self, hours_per_week: f64, days: usize, place: Place) -> Option<Problem> {
        self.clock.too_long_within(self.as_of, days, hours_per_week, place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::days::MOST_DAYS;

    #[test]
    fn no_day_of_the_longest_forecast_is_without_its_hours() {
        // From the last of a month 240 calendar months end 30 days short of it.
        for from in ["2026-01-31", "2026-12-01", "2024-02-29"] {
            let pace = Pace::new(1, Programme::default(), from.parse().unwrap());
            assert_eq!(
                (pace.days_laid(), pace.days_at(MOST_DAYS)),
                (usize::from(MOST_WHOLE_DAYS), MOST_DAYS),
                "{from}"
            );
        }
        let last = Pace::new(1, Programme::default(), NaiveDate::MAX);
        assert_eq!(last.days_laid(), 1);
    }
}
