//! Programme hours over the calendar: what drives the clock of each lamp.

use chrono::{Datelike, Days, Months, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};

/// Most calendar months ahead: 20 years, as for every forecast.
const MOST_MONTHS: usize = 240;

/// Most hours of a day.
pub(super) const DAY_HOURS: f64 = 24.0;

/// Days in a row with a factor of their own: a holiday season, or a closure with the factor 0.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SpanOfDays {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
    /// Factor on the hours of these days; 0 for a closure. Spans that overlap multiply.
    pub factor: f64,
}

impl SpanOfDays {
    /// No hours from one day to another, both included.
    #[must_use]
    pub fn closed(from: NaiveDate, to: NaiveDate) -> Self {
        Self { from, to, factor: 0.0 }
    }

    fn holds(&self, day: NaiveDate) -> bool {
        (self.from..=self.to).contains(&day)
    }

    pub(super) fn problem(&self, place: Place) -> Option<Problem> {
        let order = self.from <= self.to;
        let got = if order { self.factor.to_string() } else { format!("{} to {}", self.from, self.to) };
        let expected = "a first day not after the last, and a finite factor of at least 0";
        let sound = order && (0.0..f64::INFINITY).contains(&self.factor);
        let what = "not a span of days with a factor on their hours";
        (!sound).then(|| Problem::new("demand.span", what).at(place).got(got).expected(expected))
    }
}

/// How the hours of screens run over the year, as factors on their weekly hours.
///
/// # Formula
/// ```text
/// hours on a day = weekly hours / 7 x factor of its month x factors of its spans x (1 + growth)^(days from as-of / 365.25)
/// ```
///
/// # Examples
/// ```
/// use chrono::NaiveDate;
/// use relamp::demand::{Calendar, Programme, SpanOfDays};
/// let day = |m, d| NaiveDate::from_ymd_opt(2026, m, d).unwrap();
/// let closed = Programme { spans: vec![SpanOfDays::closed(day(1, 1), day(1, 10))], ..Programme::default() };
/// let calendar = Calendar::new(day(1, 1), 2)?;
/// // 70 h a week are 10 h a day, on 21 days of January and all 28 of February.
/// let hours: Vec<f64> = calendar.hours(&closed, 70.0)?.iter().map(|h| h.round()).collect();
/// assert_eq!(hours, [210.0, 280.0]);
/// # Ok::<(), relamp::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Programme {
    /// Factor of each month of the year, January first.
    pub by_month: [f64; 12],
    /// Holidays and closures.
    pub spans: Vec<SpanOfDays>,
    /// Growth of the hours in a year, as a share: 0.02 for two percent more, below 0 for a decline.
    pub growth_per_year: f64,
}

impl Default for Programme {
    /// The same hours every day.
    fn default() -> Self {
        Self { by_month: [1.0; 12], spans: Vec::new(), growth_per_year: 0.0 }
    }
}

impl Programme {
    /// Factor on the daily hours of a day.
    pub(super) fn factor(&self, day: NaiveDate, as_of: NaiveDate) -> f64 {
        let month = self.by_month.get(day.month0() as usize).copied().unwrap_or(1.0);
        let spans: f64 = self.spans.iter().filter(|s| s.holds(day)).map(|s| s.factor).product();
        let years = (day - as_of).num_days() as f64 / 365.25;
        month * spans * (1.0 + self.growth_per_year).powf(years)
    }

    pub(super) fn problems(&self, input: &str) -> Vec<Problem> {
        let place = |column: String| Place::input(input).column(column);
        let mut problems = Vec::new();
        for (i, factor) in self.by_month.iter().enumerate().filter(|(_, f)| !(0.0..f64::INFINITY).contains(*f)) {
            let what = "the factor of a month must be finite and not negative";
            let problem = Problem::new("demand.month_factor", what).at(place(format!("by_month[{i}]"))).got(factor);
            problems.push(problem.expected("1 for a month like the mean, 0 for one without a show"));
        }
        problems.extend(self.spans.iter().enumerate().filter_map(|(i, s)| s.problem(place(format!("spans[{i}]")))));
        if !(self.growth_per_year > -1.0 && self.growth_per_year <= 1.0) {
            let what = "growth in a year out of range";
            let problem = Problem::new("demand.growth", what).at(place("growth_per_year".into()));
            problems.push(problem.got(self.growth_per_year).expected("above -1 and at most 1, as a share"));
        }
        problems
    }
}

impl Sound for Programme {
    fn check(&self, c: &mut Checks) {
        for p in self.problems("programme") {
            c.need(&p.place.column.unwrap_or_default(), false, p.got, p.expected);
        }
    }
}

/// A calendar month ahead, or what is left of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MonthAhead {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
}

/// The as-of date and the calendar months ahead. The first month runs from the as-of date, that day included, to its end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calendar {
    as_of: NaiveDate,
    months: Vec<MonthAhead>,
}

impl Calendar {
    /// So many calendar months from a day.
    ///
    /// # Errors
    /// `demand.months` unless there are 1 to 240 months, within the dates that can be written.
    pub fn new(as_of: NaiveDate, months: usize) -> Result<Self> {
        let refuse = || {
            let place = Place::input("calendar").column("months");
            let problem = Problem::new("demand.months", "a forecast looks 1 to 240 calendar months ahead").at(place);
            Error::new(Kind::Domain, problem.got(counted(months as u64, "month")).expected("1 to 240"))
        };
        if months == 0 || months > MOST_MONTHS {
            return Err(refuse());
        }
        let mut from = as_of;
        let mut list = Vec::with_capacity(months);
        for _ in 0..months {
            let next = from.with_day(1).and_then(|d| d.checked_add_months(Months::new(1))).ok_or_else(refuse)?;
            list.push(MonthAhead { from, to: next.pred_opt().ok_or_else(refuse)? });
            from = next;
        }
        Ok(Self { as_of, months: list })
    }

    /// The day of the forecast: ages are those at its start.
    #[must_use]
    pub fn as_of(&self) -> NaiveDate {
        self.as_of
    }

    /// The months in order.
    #[must_use]
    pub fn months(&self) -> &[MonthAhead] {
        &self.months
    }

    /// Days from the as-of date to the end of each month, beginning with 0: one more than there are months.
    pub(crate) fn ends(&self) -> Vec<usize> {
        std::iter::once(0).chain(self.months.iter().map(|m| self.days_to(m.to) + 1)).collect()
    }

    /// Days from the as-of date to the start of a day; 0 before it.
    pub(super) fn days_to(&self, day: NaiveDate) -> usize {
        usize::try_from((day - self.as_of).num_days()).unwrap_or(0)
    }

    /// Every day of the horizon.
    pub(super) fn days(&self) -> impl Iterator<Item = NaiveDate> + '_ {
        let days = self.ends().last().copied().unwrap_or(0);
        (0..days as u64).filter_map(|d| self.as_of.checked_add_days(Days::new(d)))
    }

    /// Hours that a screen of so many weekly hours burns in each month.
    ///
    /// # Errors
    /// `demand.month_factor`, `demand.span`, `demand.growth`, `demand.socket_hours` unless the weekly hours lie in 0 to
    /// 168, `demand.day_hours` where a day would have more than 24.
    pub fn hours(&self, programme: &Programme, hours_per_week: f64) -> Result<Vec<f64>> {
        let mut problems = programme.problems("programme");
        if !(0.0..=168.0).contains(&hours_per_week) {
            let problem = Problem::new("demand.socket_hours", "hours a week out of range");
            problems.push(problem.at(Place::input("hours_per_week")).got(hours_per_week).expected("0 to 168"));
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        let clock = Clock::new(self, programme);
        if let Some(problem) = clock.too_long(hours_per_week, Place::input("hours_per_week")) {
            return Err(Error::new(Kind::Input, problem));
        }
        let at: Vec<f64> = self.ends().iter().map(|d| clock.at(*d) * hours_per_week / 7.0).collect();
        Ok(at.windows(2).map(|w| w.last().copied().unwrap_or(0.0) - w.first().copied().unwrap_or(0.0)).collect())
    }
}

/// A programme laid out over the horizon: days of ordinary hours burned up to each day.
#[derive(Debug)]
pub(crate) struct Clock {
    /// Before each day, and at the end.
    burned: Vec<f64>,
    /// The fullest day and its factor.
    fullest: Option<(NaiveDate, f64)>,
}

impl Clock {
    pub(crate) fn new(calendar: &Calendar, programme: &Programme) -> Self {
        Self::of(calendar, |day| programme.factor(day, calendar.as_of()))
    }

    /// So many days from a day on, or those up to the last that can be written.
    pub(super) fn of_days(as_of: NaiveDate, days: u64, programme: &Programme) -> Self {
        let each = (0..days).map_while(|d| as_of.checked_add_days(Days::new(d)));
        Self::laid(each, |day| programme.factor(day, as_of))
    }

    pub(super) fn of(calendar: &Calendar, factor: impl Fn(NaiveDate) -> f64) -> Self {
        Self::laid(calendar.days(), factor)
    }

    fn laid(days: impl Iterator<Item = NaiveDate>, factor: impl Fn(NaiveDate) -> f64) -> Self {
        let (mut burned, mut sum) = (vec![0.0], 0.0);
        let mut fullest: Option<(NaiveDate, f64)> = None;
        for day in days {
            let factor = factor(day);
            sum += factor;
            burned.push(sum);
            if fullest.is_none_or(|(_, most)| factor > most) {
                fullest = Some((day, factor));
            }
        }
        Self { burned, fullest }
    }

    /// Days of the horizon.
    pub(super) fn days(&self) -> usize {
        self.burned.len().saturating_sub(1)
    }

    /// Days of ordinary hours burned before a day of the horizon, counted from the as-of date.
    pub(super) fn at(&self, day: usize) -> f64 {
        self.burned.get(day).or(self.burned.last()).copied().unwrap_or(0.0)
    }

    /// The same at a time of a day, the hours of a day being even.
    pub(crate) fn at_day(&self, day: f64) -> f64 {
        let whole = day.max(0.0).floor();
        let (before, after) = (self.at(whole as usize), self.at(whole as usize + 1));
        before + (day.max(0.0) - whole) * (after - before)
    }

    /// The first day, with its time, at which so many days of ordinary hours are burned; infinite past the horizon.
    pub(crate) fn day_of(&self, burned: f64) -> f64 {
        let next = self.burned.partition_point(|b| *b < burned);
        let Some(&after) = self.burned.get(next) else { return f64::INFINITY };
        let Some(before) = next.checked_sub(1).and_then(|i| self.burned.get(i)) else { return 0.0 };
        (next - 1) as f64 + (burned - before) / (after - before)
    }

    /// Says where a screen would burn for more than the hours of a day.
    pub(crate) fn too_long(&self, hours_per_week: f64, place: Place) -> Option<Problem> {
        Self::told(self.fullest?, hours_per_week, place)
    }

    /// The same for the first days only.
    pub(super) fn too_long_within(
        &self,
        from: NaiveDate,
        days: usize,
        hours_per_week: f64,
        place: Place,
    ) -> Option<Problem> {
        let each = self.burned.windows(2).take(days).map(|w| match w {
            [before, after] => after - before,
            _ => 0.0,
        });
        let first = |best: Option<(u64, f64)>, next: (u64, f64)| match best {
            Some(best) if best.1 >= next.1 => Some(best),
            _ => Some(next),
        };
        let (day, factor) = (0..).zip(each).fold(None, first)?;
        Self::told((from.checked_add_days(Days::new(day))?, factor), hours_per_week, place)
    }

    fn told((day, factor): (NaiveDate, f64), hours_per_week: f64, place: Place) -> Option<Problem> {
        let hours = hours_per_week / 7.0 * factor;
        let what = "weekly hours and programme give a day of more than 24 hours";
        (hours > DAY_HOURS * (1.0 + 1e-9)).then(|| {
            let got = format!("{hours:.1} h on {day}");
            Problem::new("demand.day_hours", what).at(place).got(got).expected("at most 24 h a day")
        })
    }
}
