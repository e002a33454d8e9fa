//! The day from which a screen needs no more lamps.

use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::base::days::MOST_WHOLE_DAYS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::sound::{Checks, Sound};

/// The first day on which a screen burns no lamp of the class any more, since it is converted or closed, with its slip.
///
/// The date is drawn for each screen by itself. Where a whole programme of conversions slips together, forecast it once
/// for each of its dates, side by side.
///
/// # Examples
/// ```
/// use chrono::NaiveDate;
/// use relamp::demand::StopDate;
/// let day = |d| NaiveDate::from_ymd_opt(2026, 6, d).unwrap();
/// let stop = StopDate::Between { from: day(1), to: day(4) };
/// assert_eq!((stop.earliest(), stop.latest()), (Some(day(1)), Some(day(4))));
/// // On the third the screen still runs if its day is the fourth.
/// assert_eq!(stop.chance_running_on(day(3)), 0.25);
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum StopDate {
    /// On this day for certain.
    On(NaiveDate),
    /// Evenly on any day from one to another, both included.
    Between {
        /// First day it can be.
        from: NaiveDate,
        /// Last day it can be.
        to: NaiveDate,
    },
    /// On one of several days; the chances sum to 1. A day past the horizon stands for one that does not come in it.
    Weighted(Vec<(NaiveDate, f64)>),
}

impl StopDate {
    /// First day on which the screen may stop; none for an empty list.
    #[must_use]
    pub fn earliest(&self) -> Option<NaiveDate> {
        match self {
            Self::On(day) => Some(*day),
            Self::Between { from, .. } => Some(*from),
            Self::Weighted(days) => days.iter().filter(|d| d.1 > 0.0).map(|d| d.0).min(),
        }
    }

    /// Last day on which the screen may stop; none for an empty list.
    #[must_use]
    pub fn latest(&self) -> Option<NaiveDate> {
        match self {
            Self::On(day) => Some(*day),
            Self::Between { to, .. } => Some(*to),
            Self::Weighted(days) => days.iter().filter(|d| d.1 > 0.0).map(|d| d.0).max(),
        }
    }

    /// Chance that the screen still burns its lamp on a day.
    #[must_use]
    pub fn chance_running_on(&self, day: NaiveDate) -> f64 {
        let later: f64 = self.outcomes().iter().filter(|(stop, _)| *stop > day).map(|(_, p)| p).sum();
        later.clamp(0.0, 1.0)
    }

    /// The days with their chances, in order of the calendar, each day once.
    #[must_use]
    pub fn outcomes(&self) -> Vec<(NaiveDate, f64)> {
        match self {
            Self::On(day) => vec![(*day, 1.0)],
            Self::Between { from, to } => {
                let days = (*to - *from).num_days().clamp(0, i64::from(MOST_WHOLE_DAYS));
                let chance = 1.0 / (days + 1) as f64;
                (0..=days.unsigned_abs()).filter_map(|d| Some((from.checked_add_days(Days::new(d))?, chance))).collect()
            }
            Self::Weighted(days) => {
                let mut sorted: Vec<_> = days.iter().filter(|d| d.1 > 0.0).copied().collect();
                sorted.sort_by_key(|d| d.0);
                let mut once: Vec<(NaiveDate, f64)> = Vec::with_capacity(sorted.len());
                for (day, chance) in sorted {
                    match once.last_mut().filter(|last| last.0 == day) {
                        Some(last) => last.1 += chance,
                        None => once.push((day, chance)),
                    }
                }
                once
            }
        }
    }

    /// Checks the date against the day of the forecast; `place` names the screen.
    ///
    /// # Errors
    /// `demand.stop_past` where the screen may stop before the as-of date, `demand.stop_date` for days out of order and
    /// for chances that are no chances or do not sum to 1.
    pub fn check_after(&self, as_of: NaiveDate, place: &Place) -> Result<()> {
        let problems = self.problems(as_of, place);
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }

    pub(crate) fn problems(&self, as_of: NaiveDate, place: &Place) -> Vec<Problem> {
        let mut problems = Vec::new();
        if let Some((got, expected)) = self.fault() {
            let what = "a stopping date must have its days in order and chances that sum to 1";
            problems.push(Problem::new("demand.stop_date", what).at(place.clone()).got(got).expected(expected));
        } else if let Some(first) = self.earliest().filter(|day| *day < as_of) {
            let what = "a screen that stopped before the as-of date needs no lamp and has no place in the forecast";
            let problem = Problem::new("demand.stop_past", what).at(place.clone()).got(first);
            problems.push(problem.expected(format!("{as_of} or later, or leave the screen out")));
        }
        problems
    }

    /// What is wrong with the date itself: what was given, and what was expected.
    fn fault(&self) -> Option<(String, String)> {
        match self {
            Self::On(_) => None,
            Self::Between { from, to } => {
                let days = (*to - *from).num_days();
                let said = format!("{from} to {to}");
                (!(0..=i64::from(MOST_WHOLE_DAYS)).contains(&days))
                    .then(|| (said, "a first day not after the last, within 20 years".into()))
            }
            Self::Weighted(days) => {
                let chance = |p: &f64| (0.0..=1.0).contains(p);
                if let Some((day, p)) = days.iter().find(|(_, p)| !chance(p)) {
                    return Some((format!("{p} for {day}"), "a chance from 0 to 1 for each day".into()));
                }
                let sum: f64 = days.iter().map(|d| d.1).sum();
                let whole = (sum - 1.0).abs() <= 1e-9;
                (!whole).then(|| (format!("a sum of {sum}"), "chances that sum to 1".into()))
            }
        }
    }
}

impl Sound for StopDate {
    fn check(&self, c: &mut Checks) {
        let fault = self.fault();
        let (got, expected) = fault.clone().unwrap_or_default();
        c.need("days", fault.is_none(), got, expected);
    }
}
