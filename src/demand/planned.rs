//! Changes on plan alone: what is needed even if no lamp fails.

use serde::{Deserialize, Serialize};

use super::forecast::{Horizon, SocketToday, check};
use super::stopping::SocketUntil;
use crate::base::error::Result;
use crate::terms::HourLimit;

/// Changes on plan in one period.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedPeriod {
    /// Changes in the period if no lamp fails. Failures may move them to another period, so it is no bound by itself.
    pub changes: u64,
    /// Changes from today to the end of the period if no lamp fails: a lower bound of the lamps needed by then.
    pub changes_by_end: u64,
}

/// Lamps that changes at the planned age need, period by period, if no lamp fails.
///
/// # Formula
/// ```text
/// by the end of u hours a screen needs floor((a + u) / T) lamps, and 1 + floor(u / T) where a >= T or a is not known
/// ```
/// a: age of the lamp that burns today; T: planned age, held to the limit. A failure only brings a change forward, and no
/// lamp passes T, so that with failures each screen needs at least as many by then, whatever the life of the lamps.
///
/// # Errors
/// `demand.socket_age`, `demand.socket_hours` (all rows at once), `demand.planned_age` unless it is above 0,
/// `demand.horizon`.
///
/// # Examples
/// ```
/// use relamp::demand::{Horizon, SocketToday, planned_changes};
/// use relamp::terms::PrintedHours;
/// let printed = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..PrintedHours::default() };
/// let lamp = |age_hours| SocketToday { age_hours, hours_per_week: 70.0 };
/// // 10 h a day: the first lamp has 100 h left, the second 400 h, the third is of unknown age.
/// let lamps = [lamp(Some(1900.0)), lamp(Some(1600.0)), lamp(None)];
/// let weeks = Horizon { period_days: 28.0, periods: 2 };
/// let periods = planned_changes(&lamps, 2000.0, &printed.limit()?, weeks)?;
/// assert_eq!((periods[0].changes_by_end, periods[1].changes, periods[1].changes_by_end), (2, 1, 3));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn planned_changes(
    sockets: &[SocketToday],
    planned_age_hours: f64,
    limit: &HourLimit,
    horizon: Horizon,
) -> Result<Vec<PlannedPeriod>> {
    check(sockets, planned_age_hours)?;
    planned_changes_until(&SocketUntil::burning_on(sockets), planned_age_hours, limit, horizon)
}

/// The same for screens that may stop, each as early as it may, so that it stays a lower bound.
pub(crate) fn planned_changes_until(
    sockets: &[SocketUntil],
    planned_age_hours: f64,
    limit: &HourLimit,
    horizon: Horizon,
) -> Result<Vec<PlannedPeriod>> {
    horizon.check()?;
    let age = planned_age_hours.min(limit.hours());
    let mut before = 0;
    let each = (1..=horizon.periods).map(|m| {
        let days = horizon.period_days * m as f64;
        // A period without length needs nothing, as in a forecast.
        let changes_by_end = if days > 0.0 { sockets.iter().map(|s| by_then(s, days, age)).sum() } else { 0 };
        let changes = changes_by_end - before;
        before = changes_by_end;
        PlannedPeriod { changes, changes_by_end }
    });
    Ok(each.collect())
}

fn by_then(until: &SocketUntil, days: f64, age: f64) -> u64 {
    if until.earliest <= 0.0 {
        return 0;
    }
    let hours = until.socket.hours_per_week * until.ordinary(days.min(until.earliest)) / 7.0;
    match until.socket.age_hours.filter(|a| *a < age) {
        Some(a) => ((a + hours) / age).floor() as u64,
        None => 1 + (hours / age).floor() as u64,
    }
}
