//! Lamps needed over any days, where programme hours and stops follow the calendar.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;

use super::chain::{ClassModel, screen_problems};
use super::exposure::{Programme, SpanOfDays};
use super::forecast::{Forecast, Horizon, SocketToday, forecast_until, forecast_until_over_draws};
use super::pace::Pace;
use super::screen::Screen;
use super::stop::StopDate;
use super::stopping::SocketUntil;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::terms::HourLimit;

/// Most days that a window of stops is taken as; a longer one is cut into as many equal pieces, each taken at its mean day.
const MOST_WINDOW_DAYS: u64 = 24;

/// Screens of one class whose hours and stops follow the calendar, from a day on.
#[derive(Clone, Copy, Debug)]
pub struct OnCalendar<'a> {
    /// The screens. Class, site and depot are not looked at.
    pub screens: &'a [Screen],
    /// Programmes by name.
    pub programmes: &'a BTreeMap<String, Programme>,
    /// The day of the forecast: ages are those at its start.
    pub as_of: NaiveDate,
}

impl OnCalendar<'_> {
    /// The screens as the sums take them, checked for so many days ahead.
    pub(crate) fn sockets(&self, days: f64, planned_age_hours: f64) -> Result<Vec<SocketUntil>> {
        let mut problems: Vec<Problem> =
            self.programmes.iter().flat_map(|(name, p)| p.problems(&format!("programmes[{name}]"))).collect();
        if planned_age_hours.is_nan() || planned_age_hours <= 0.0 {
            let problem = Problem::new("demand.planned_age", "the planned age must be above 0");
            problems.push(problem.at(Place::input("planned_age_hours")).got(planned_age_hours));
        }
        for (i, screen) in self.screens.iter().enumerate() {
            problems.extend(screen_problems(i, screen, self.as_of, self.programmes));
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        let mut paces = BTreeMap::new();
        let mut sockets = Vec::with_capacity(self.screens.len());
        for (i, screen) in self.screens.iter().enumerate() {
            let pace = self.pace(screen, &mut paces, days)?;
            let place = Place::input("screens").row(i as u64 + 1).column("hours_per_week");
            let full = pace.as_ref().and_then(|p| p.too_long(screen.hours_per_week, days.ceil() as usize, place));
            problems.extend(full);
            let from = |day: NaiveDate| (day - self.as_of).num_days() as f64;
            let earliest = screen.stop.as_ref().and_then(StopDate::earliest).map_or(f64::INFINITY, from);
            sockets.push(SocketUntil {
                socket: SocketToday { age_hours: screen.age_hours, hours_per_week: screen.hours_per_week },
                stops: screen.stop.as_ref().map(|s| stops(s, self.as_of)).unwrap_or_default(),
                earliest,
                pace,
            });
        }
        if problems.is_empty() { Ok(sockets) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// The clock of a screen, made once for all that share it; none for the same hours every day.
    fn pace(&self, screen: &Screen, made: &mut BTreeMap<PaceKey, Arc<Pace>>, days: f64) -> Result<Option<Arc<Pace>>> {
        if screen.programme.is_none() && screen.spans.is_empty() {
            return Ok(None);
        }
        let span = |s: &SpanOfDays| (s.from, s.to, s.factor.to_bits());
        let key = (screen.programme.clone(), screen.spans.iter().map(span).collect::<Vec<_>>());
        if let Some(pace) = made.get(&key) {
            return Ok(Some(Arc::clone(pace)));
        }
        let mut programme =
            screen.programme.as_ref().and_then(|name| self.programmes.get(name)).cloned().unwrap_or_default();
        programme.spans.extend(&screen.spans);
        let pace = Arc::new(Pace::new(made.len() as u64 + 1, programme, self.as_of));
        if (pace.days_laid() as f64) < days {
            let what = "a forecast looks ahead at least one period and at most 20 years";
            let got = counted(days.ceil() as u64, "day");
            let problem = Problem::new("demand.horizon", what).at(Place::input("horizon")).got(got);
            let most = format!("days that can be written: {} from {}", pace.days_laid(), self.as_of);
            return Err(Error::new(Kind::Domain, problem.expected(most)));
        }
        made.insert(key, Arc::clone(&pace));
        Ok(Some(pace))
    }
}

type PaceKey = (Option<String>, Vec<(NaiveDate, NaiveDate, u64)>);

/// Days from the as-of date with their chances.
fn stops(stop: &StopDate, as_of: NaiveDate) -> Vec<(f64, f64)> {
    let from = |day: NaiveDate| (day - as_of).num_days() as f64;
    let StopDate::Between { from: first, to: last } = stop else {
        return stop.outcomes().into_iter().map(|(day, chance)| (from(day), chance)).collect();
    };
    let days = (*last - *first).num_days().unsigned_abs() + 1;
    let pieces = days.min(MOST_WINDOW_DAYS);
    let length = days as f64 / pieces as f64;
    // The days 0, 1, ... n - 1 of a window have the mean (n - 1) / 2, and so have its pieces together.
    let day = |i: u64| from(*first) + (i as f64 + 0.5) * length - 0.5;
    (0..pieces).map(|i| (day(i), 1.0 / pieces as f64)).collect()
}

/// Lamps needed in each coming period, where the clock of each screen runs by its programme and the screen may stop.
///
/// Periods are of equal days, such as weeks or a lead time; for calendar months, places and several classes there is
/// [`super::chain_forecast`], which takes the same screens and programmes.
///
/// # Formula
/// ```text
/// hours burned by day d = hours per week / 7 x sum over the days before it of the factors of the programme
/// ```
/// as in [`Programme`]; what [`super::forecast`] says of hours then holds, up to the day of the stop. A screen that stops today
/// needs no lamp.
///
/// # Errors
/// All rows at once: `demand.socket_age`, `demand.socket_hours`, `demand.programme_unknown`, `demand.span`,
/// `demand.month_factor`, `demand.growth`, `demand.stop_past`, `demand.stop_date`, `demand.planned_age`; then `demand.day_hours`. Those of
/// [`super::forecast`]; `demand.no_draws` where no draw gave an answer; a stop.
///
/// # Numerics
/// As in [`super::forecast`]; the ends of periods and the stops lie between steps of ordinary hours, and every figure is the
/// mean over both with the weights that keep their place. A window of stops of more than 24 days is taken as 24 of them with its mean.
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use chrono::NaiveDate;
/// use relamp::Run;
/// use relamp::demand::{
///     ClassModel, Horizon, OnCalendar, Programme, Screen, SpanOfDays, forecast_on_calendar,
/// };
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 1e9 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let limit = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..Default::default() }.limit()?;
/// let day = |d| NaiveDate::from_ymd_opt(2026, 1, d).unwrap();
/// // 100 h are left, 10 h a day, and the screen is shut for the first five days: the lamp is due on day 15.
/// let shut = Programme { spans: vec![SpanOfDays::closed(day(1), day(5))], ..Programme::default() };
/// let programmes = BTreeMap::from([("winter".to_owned(), shut)]);
/// let screen = Screen { programme: Some("winter".into()), ..Screen::new("X", "north", Some(1900.0), 70.0) };
/// let given = OnCalendar { screens: &[screen], programmes: &programmes, as_of: day(1) };
/// let weeks = Horizon { period_days: 7.0, periods: 3 };
/// let found = forecast_on_calendar(&given, ClassModel::World(&world), 2000.0, &limit, weeks, &Run::new())?;
/// let means: Vec<f64> = found.periods.iter().map(|p| p.needed.mean().round()).collect();
/// assert_eq!(means, [0.0, 0.0, 1.0]);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn forecast_on_calendar(
    given: &OnCalendar<'_>,
    model: ClassModel<'_>,
    planned_age_hours: f64,
    limit: &HourLimit,
    horizon: Horizon,
    run: &Run,
) -> Result<Forecast> {
    horizon.check()?;
    let sockets = given.sockets(horizon.period_days * horizon.periods as f64, planned_age_hours)?;
    match model {
        ClassModel::World(world) => forecast_until(&sockets, world, planned_age_hours, limit, horizon),
        ClassModel::Draws(draws) => forecast_until_over_draws(&sockets, draws, planned_age_hours, limit, horizon, run),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_keeps_its_mean_and_short_ones_their_days() {
        let day = |d| NaiveDate::from_ymd_opt(2026, 1, 1).unwrap() + chrono::Days::new(d);
        let window = |from, to| stops(&StopDate::Between { from: day(from), to: day(to) }, day(0));
        assert_eq!(window(3, 3), [(3.0, 1.0)]);
        assert_eq!(window(3, 6).iter().map(|s| s.0).collect::<Vec<_>>(), [3.0, 4.0, 5.0, 6.0]);
        let long = window(10, 374);
        assert_eq!(long.len(), 24);
        assert!((long.iter().map(|s| s.0 * s.1).sum::<f64>() - 192.0).abs() < 1e-9);
    }
}
