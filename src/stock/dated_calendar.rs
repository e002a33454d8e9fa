//! Planned changes as dated orders where programme hours and stops follow the calendar.

use super::dated::{Asked, DatedStock, HoursSpread};
use crate::base::error::Result;
use crate::base::run::Run;
use crate::demand::{ClassModel, OnCalendar};
use crate::terms::HourLimit;

/// Dated orders and safety stock for one class at one place, where the clock of each screen runs by its programme and the screen
/// may stop.
///
/// # Formula
/// That of [`super::dated_stock`], with the hours of [`crate::demand::Programme`] in place of even ones: a factor on the hours of a
/// screen stretches those of each of its days. A lamp has a date as long as its screen may burn until then
/// ([`super::DatedOrder::stops_before`]), and needs no successor after the stop; a screen that stops today needs none at all.
///
/// # Errors
/// Those of [`super::dated_stock`] and [`super::dated_stock_over_draws`], and those of [`crate::demand::forecast_on_calendar`] for
/// screens and programmes.
///
/// # Numerics
/// As in [`super::dated_stock`]. A window of stops of more than 24 days is taken as 24 of them with its mean.
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use chrono::NaiveDate;
/// use relamp::Run;
/// use relamp::demand::{ClassModel, OnCalendar, Programme, Screen, SpanOfDays, StopDate};
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::stock::{HoursSpread, dated_stock_on_calendar};
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 1e9 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let limit = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..Default::default() }.limit()?;
/// let day = |d| NaiveDate::from_ymd_opt(2026, 1, d).unwrap();
/// // 100 h are left, 10 h a day, and the screens are shut for five days: due on day 15. The second stops on day 10.
/// let shut = Programme { spans: vec![SpanOfDays::closed(day(1), day(5))], ..Programme::default() };
/// let programmes = BTreeMap::from([("winter".to_owned(), shut)]);
/// let screen = || Screen { programme: Some("winter".into()), ..Screen::new("X", "north", Some(1900.0), 70.0) };
/// let screens = [screen(), Screen { stop: Some(StopDate::On(day(11))), ..screen() }];
/// let given = OnCalendar { screens: &screens, programmes: &programmes, as_of: day(1) };
/// let (model, sure) = (ClassModel::World(&world), HoursSpread::default());
/// let found = dated_stock_on_calendar(&given, model, 2000.0, &limit, 21.0, 60.0, sure, 0.95, &Run::new())?;
/// assert_eq!(found.orders.iter().map(|o| (o.row, o.due_day)).collect::<Vec<_>>(), [(1, 15.0)]);
/// # Ok::<(), relamp::Error>(())
/// ```
#[allow(clippy::too_many_arguments, reason = "each is a separate fact of the place")]
pub fn dated_stock_on_calendar(
    given: &OnCalendar<'_>,
    model: ClassModel<'_>,
    planned_age_hours: f64,
    limit: &HourLimit,
    lead_time_days: f64,
    days_ahead: f64,
    spread: HoursSpread,
    service_target: f64,
    run: &Run,
) -> Result<DatedStock> {
    super::dated::check(lead_time_days, days_ahead, spread)?;
    let sockets = &given.sockets(days_ahead, planned_age_hours)?;
    let asked = Asked { sockets, planned_age_hours, limit, lead_time_days, days_ahead, spread, service_target };
    match model {
        ClassModel::World(world) => asked.in_one(world),
        ClassModel::Draws(draws) => asked.over(draws, run),
    }
}
