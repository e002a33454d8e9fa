//! Lamps needed in the coming periods, for one class.

use serde::{Deserialize, Serialize};

use super::counts::Count;
use super::paced::PacedGrid;
use super::renewal::Renewal;
use super::socket::{Changes, Grid};
use super::stopping::{Ends, SocketUntil};
use super::until::{Screen, probabilities};
use crate::base::days::MOST_DAYS;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::run::Run;
use crate::base::sound::{Checks, Sound};
use crate::fit::{Draws, Method, World, over_draws};
use crate::policy::WorldCurve;
use crate::terms::HourLimit;

/// Days of a month: a twelfth of 365.25.
pub(crate) const MONTH_DAYS: f64 = 30.4375;

/// Fewest steps of the screen clock in a period; longer periods take more, so that a step is at most half a day.
const FEWEST_STEPS: usize = 60;

/// Most steps of a period of more than half as many days: the work grows with their square, and in a period of years a
/// step of days moves no lamp from one period to another.
const MOST_STEPS: usize = 1500;

/// One lamp that burns today.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SocketToday {
    /// Its age; none where the age is not known, which counts as due now.
    pub age_hours: Option<f64>,
    /// Hours its screen burns a week, 0 to 168.
    pub hours_per_week: f64,
}

/// How far and in what pieces to look ahead.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Horizon {
    /// Length of each period, days.
    pub period_days: f64,
    /// Number of periods.
    pub periods: usize,
}

impl Horizon {
    /// Months of 30.4375 days.
    pub fn months(months: usize) -> Self {
        Self { period_days: MONTH_DAYS, periods: months }
    }

    /// One period of some days, such as a lead time. With 0 days nothing is needed, not even for lamps that are due
    /// today, which are counted apart ([`Forecast::due_now`]).
    pub fn days(days: f64) -> Self {
        Self { period_days: days, periods: 1 }
    }

    pub(crate) fn check(&self) -> Result<usize> {
        let (days, periods) = (self.period_days, self.periods);
        let (column, got, expected) = if !(0.0..f64::INFINITY).contains(&days) {
            ("period_days", days.to_string(), "a finite number of days, 0 or more")
        } else if periods == 0 {
            ("periods", periods.to_string(), "1 or more")
        } else if days * periods as f64 > MOST_DAYS {
            ("periods", format!("{} of {days} days", counted(periods as u64, "period")), "at most 20 years in all")
        } else {
            return Ok(((2.0 * days).ceil() as usize).clamp(FEWEST_STEPS, MOST_STEPS));
        };
        let what = "a forecast looks ahead at least one period and at most 20 years";
        let problem = Problem::new("demand.horizon", what).at(Place::input("horizon").column(column)).got(got);
        Err(Error::new(Kind::Domain, problem.expected(expected)))
    }
}

/// Lamps needed in one period.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Period {
    /// Lamps needed in the period.
    pub needed: Count,
    /// Lamps needed from today to the end of the period.
    pub needed_by_end: Count,
    /// Mean planned changes in the period.
    pub mean_planned: f64,
    /// Mean failure changes in the period.
    pub mean_failures: f64,
}

/// Draws behind a mixed forecast.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DrawsUsed {
    /// How the worlds were drawn.
    pub method: Method,
    /// Draws mixed.
    pub used: usize,
    /// Draws that gave no answer.
    pub failed: usize,
}

/// Lamps needed for one class, period by period.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Forecast {
    /// Age at which lamps are changed, at most the limit.
    pub planned_age_hours: f64,
    /// Screens.
    pub sockets: usize,
    /// Of these, lamps at or past the planned age or of unknown age: each needs a lamp in the first period.
    pub due_now: usize,
    /// Length of a period, days.
    pub period_days: f64,
    /// Step of the screen clock, days: first changes are exact, the n-th change of a screen is placed to within n of these steps.
    pub step_days: f64,
    /// Periods in order.
    pub periods: Vec<Period>,
    /// Draws mixed; none for one world.
    pub draws: Option<DrawsUsed>,
}

impl Sound for Forecast {
    fn check(&self, c: &mut Checks) {
        c.positive("planned_age_hours", self.planned_age_hours);
        c.need(
            "due_now",
            self.due_now <= self.sockets,
            self.due_now,
            format!("at most {}", counted(self.sockets as u64, "socket")),
        );
        c.not_negative("period_days", self.period_days);
        c.not_negative("step_days", self.step_days);
        c.age("step_days", self.step_days, self.period_days);
        c.need("periods", !self.periods.is_empty(), "no period", "one or more");
        c.parts("periods", &self.periods);
        let mut so_far = 0.0;
        for (i, period) in self.periods.iter().enumerate() {
            so_far += period.needed.mean();
            let by_end = period.needed_by_end.mean();
            c.between(
                &format!("periods[{i}].needed_by_end"),
                by_end,
                so_far * (1.0 - 1e-6) - 1e-9,
                so_far * (1.0 + 1e-6) + 1e-9,
            );
        }
        if let (Some(first), true) = (self.periods.first(), self.period_days > 0.0) {
            let (mean, due) = (first.mean_planned, self.due_now as f64);
            c.need(
                "periods[0].mean_planned",
                mean >= due - 1e-6,
                mean,
                format!("at least the {} due", counted(self.due_now as u64, "lamp")),
            );
        }
        if let Some(draws) = &self.draws {
            c.need("draws.used", draws.used > 0, draws.used, "1 or more");
        }
    }
}

impl Sound for Period {
    fn check(&self, c: &mut Checks) {
        c.not_negative("mean_planned", self.mean_planned);
        c.not_negative("mean_failures", self.mean_failures);
        let (mean, parts) = (self.needed.mean(), self.mean_planned + self.mean_failures);
        c.between("needed", mean, parts * (1.0 - 1e-6) - 1e-9, parts * (1.0 + 1e-6) + 1e-9);
    }
}

/// Lamps needed in each coming period if the world is as given and lamps are changed at the planned age or at failure.
///
/// # Formula
/// ```text
/// first change of a lamp of age a within u hours: 1 - R(a + u) / R(a), and at T - a if it lives so long;
/// then renewals of min(life, T); the number over all screens is the convolution of those of each
/// ```
/// Screens burn their weekly hours evenly. A lamp at or past the planned age, or of unknown age, is changed at once.
///
/// # Errors
/// `demand.socket_age`, `demand.socket_hours` (all rows at once), `demand.planned_age` unless it is above 0,
/// `demand.horizon`, `demand.too_many_changes`, and those of [`WorldCurve::new`].
///
/// # Numerics
/// First changes are exact. The n-th change of a screen is placed to within n steps of the clock (at most half a day
/// each, or a 60th of a period of less than a month, or a 1,500th of one of more than 750 days); within a step the change is taken as spread evenly, so that means are right to second order.
pub fn forecast(
    sockets: &[SocketToday],
    world: &World,
    planned_age_hours: f64,
    limit: &HourLimit,
    horizon: Horizon,
) -> Result<Forecast> {
    let steps = horizon.check()?;
    check(sockets, planned_age_hours)?;
    let age = planned_age_hours.min(limit.hours());
    in_world(&SocketUntil::burning_on(sockets), world, age, horizon, steps)
}

/// The same over draws: within each draw the screens are independent, and the distributions are then mixed with equal
/// weight, so that what is not known about the model widens them.
///
/// # Errors
/// Those of [`forecast`]; `demand.no_draws` where no draw gave an answer; a stop.
pub fn forecast_over_draws(
    sockets: &[SocketToday],
    draws: &dyn Draws,
    planned_age_hours: f64,
    limit: &HourLimit,
    horizon: Horizon,
    run: &Run,
) -> Result<Forecast> {
    check(sockets, planned_age_hours)?;
    forecast_until_over_draws(&SocketUntil::burning_on(sockets), draws, planned_age_hours, limit, horizon, run)
}

/// [`forecast`] of screens that may stop; the sockets and the age are those that it would take.
pub(crate) fn forecast_until(
    sockets: &[SocketUntil],
    world: &World,
    planned_age_hours: f64,
    limit: &HourLimit,
    horizon: Horizon,
) -> Result<Forecast> {
    let steps = horizon.check()?;
    in_world(sockets, world, planned_age_hours.min(limit.hours()), horizon, steps)
}

/// [`forecast_over_draws`] of screens that may stop.
pub(crate) fn forecast_until_over_draws(
    sockets: &[SocketUntil],
    draws: &dyn Draws,
    planned_age_hours: f64,
    limit: &HourLimit,
    horizon: Horizon,
    run: &Run,
) -> Result<Forecast> {
    let steps = horizon.check()?;
    let age = planned_age_hours.min(limit.hours());
    let spread = over_draws(draws, run, |world| in_world(sockets, world, age, horizon, steps))?;
    let used = spread.each.len();
    if used == 0 {
        let problem = Problem::new("demand.no_draws", "no draw gave a forecast").got(spread.failed.len());
        return Err(Error::new(Kind::Refused, problem));
    }
    let mut mixed = spread.best;
    for (m, period) in mixed.periods.iter_mut().enumerate() {
        let each: Vec<&Period> = spread.each.iter().filter_map(|f| f.periods.get(m)).collect();
        let mean = |pick: fn(&Period) -> f64| each.iter().map(|p| pick(p)).sum::<f64>() / used as f64;
        *period = Period {
            needed: Count::mix(&each.iter().map(|p| &p.needed).collect::<Vec<_>>())?,
            needed_by_end: Count::mix(&each.iter().map(|p| &p.needed_by_end).collect::<Vec<_>>())?,
            mean_planned: mean(|p| p.mean_planned),
            mean_failures: mean(|p| p.mean_failures),
        };
    }
    mixed.draws = Some(DrawsUsed { method: spread.method, used, failed: spread.failed.len() });
    Ok(mixed)
}

pub(crate) fn check(sockets: &[SocketToday], planned_age: f64) -> Result<()> {
    let mut problems = Vec::new();
    for (i, socket) in sockets.iter().enumerate() {
        let place = |column: &str| Place::input("sockets").row(i as u64 + 1).column(column);
        if let Some(age) = socket.age_hours.filter(|a| !(0.0..f64::INFINITY).contains(a)) {
            let problem =
                Problem::new("demand.socket_age", "the age of a burning lamp must be finite and not negative");
            problems.push(problem.at(place("age_hours")).got(age).expected("hours, or none where not known"));
        }
        if !(0.0..=168.0).contains(&socket.hours_per_week) {
            let problem = Problem::new("demand.socket_hours", "hours a week out of range");
            problems.push(problem.at(place("hours_per_week")).got(socket.hours_per_week).expected("0 to 168"));
        }
    }
    if planned_age.is_nan() || planned_age <= 0.0 {
        let problem = Problem::new("demand.planned_age", "the planned age must be above 0");
        problems.push(problem.at(Place::input("planned_age_hours")).got(planned_age));
    }
    if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
}

/// Hours a week, age, whether the lamp is due, and its screen.
type Laid<'a> = (f64, f64, bool, &'a SocketUntil);

fn in_world(sockets: &[SocketUntil], world: &World, age: f64, horizon: Horizon, steps: usize) -> Result<Forecast> {
    let periods = horizon.periods;
    let mut needed = vec![Count::certain(0); periods];
    let mut by_end = needed.clone();
    let mut means = vec![(0.0, 0.0); periods];
    let mut curve = WorldCurve::new(world)?;
    // A lamp that no lamp of this world would have reached alive says that the world is wrong, not that it never fails.
    let due = |s: &SocketToday| s.age_hours.is_none_or(|a| a >= age || curve.ln_reliability(a) == f64::NEG_INFINITY);
    // Equal screens are worked out once.
    let mut kinds: Vec<Laid<'_>> = sockets
        .iter()
        .map(|s| {
            let is_due = due(&s.socket);
            let age = if is_due { 0.0 } else { s.socket.age_hours.unwrap_or(0.0) };
            (s.socket.hours_per_week, age, is_due, s)
        })
        .collect();
    kinds.sort_by(|a, b| {
        let known = a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)).then(a.1.total_cmp(&b.1));
        known.then_with(|| a.3.bits().cmp(&b.3.bits()))
    });
    let due_now = kinds.iter().filter(|k| k.2).count();
    for group in kinds.chunk_by(|a, b| a.0 == b.0) {
        let Some(hours_per_week) = group.first().map(|g| g.0).filter(|_| horizon.period_days > 0.0) else { continue };
        let paced: Vec<&SocketUntil> = group.iter().map(|k| k.3).filter(|s| s.pace.is_some()).collect();
        let uneven = if hours_per_week > 0.0 && !paced.is_empty() {
            Some(PacedGrid::new(&mut curve, age, hours_per_week, (horizon, steps), &paced)?)
        } else {
            None
        };
        let grid = if hours_per_week > 0.0 && paced.len() < group.len() {
            let step_hours = hours_per_week * horizon.period_days / 7.0 / steps as f64;
            let renewal = Renewal::new(&mut curve, age, step_hours, steps * periods)?;
            let windows = renewal.windows(steps);
            Some(Grid { renewal, windows, step_hours, steps_per_period: steps, periods })
        } else {
            None
        };
        let any_stops = group.iter().any(|k| !k.3.stops.is_empty());
        let changes_at = grid.as_ref().filter(|_| any_stops).map(|g| g.renewal.changes_at());
        let same = |a: &SocketUntil, b: &SocketUntil| a.stops == b.stops && a.pace == b.pace;
        for equal in group.chunk_by(|a, b| (a.1, a.2) == (b.1, b.2) && same(a.3, b.3)) {
            let Some(&(_, lamp_age, is_due, until)) = equal.first() else { continue };
            let even = grid.as_ref().filter(|_| until.pace.is_none());
            let mut changes = even.map_or_else(Changes::default, |g| g.changes(&curve, lamp_age, age));
            if let Some(uneven) = uneven.as_ref().filter(|_| until.pace.is_some()) {
                changes = uneven.changes(&curve, (lamp_age, age), until, horizon);
            } else if let (Some(grid), Some(changes_at), false) = (even, &changes_at, until.stops.is_empty()) {
                let all = steps * periods;
                let screen = Screen::new(&curve, &grid.renewal, lamp_age, age, grid.step_hours, all);
                let ends = Ends::new(&until.stops, steps as f64 / horizon.period_days, all);
                changes = grid.stopping(&screen, changes, changes_at, &ends);
            }
            let copies = equal.len();
            // A lamp that is due is changed today, unless the screen stops today.
            let today = if is_due { until.stops_today() } else { 0.0 };
            for (m, (count, total)) in needed.iter_mut().zip(&mut by_end).enumerate() {
                if today > 0.0 {
                    add(total, Some(&first_today(today, changes.by_end.get(m))), copies);
                    let here = changes.in_period.get(m);
                    add(count, if m == 0 { Some(first_today(today, here)) } else { here.cloned() }.as_ref(), copies);
                    continue;
                }
                add(count, changes.in_period.get(m), copies);
                add(total, changes.by_end.get(m), copies);
                if is_due {
                    total.add_certain(copies as u64);
                    if m == 0 {
                        count.add_certain(copies as u64);
                    }
                }
            }
            let mut before = (0.0, 0.0);
            for (m, sum) in means.iter_mut().enumerate() {
                let (planned, failed) = changes.means.get(m).copied().unwrap_or((0.0, 0.0));
                let now = if is_due && m == 0 { (1.0 - today).max(0.0) } else { 0.0 };
                sum.0 += (since(planned, before.0) + now) * copies as f64;
                sum.1 += since(failed, before.1) * copies as f64;
                before = (planned, failed);
            }
        }
    }
    let periods = needed
        .into_iter()
        .zip(by_end)
        .zip(means)
        .map(|((needed, needed_by_end), (mean_planned, mean_failures))| Period {
            needed,
            needed_by_end,
            mean_planned,
            mean_failures,
        })
        .collect();
    Ok(Forecast {
        planned_age_hours: age,
        sockets: sockets.len(),
        due_now,
        period_days: horizon.period_days,
        step_days: horizon.period_days / steps as f64,
        periods,
        draws: None,
    })
}

/// The chances of at least 1, 2, ... lamps of a screen whose lamp is due, if it does not stop today.
pub(super) fn first_today(stops_today: f64, later: Option<&Vec<f64>>) -> Vec<f64> {
    std::iter::once((1.0 - stops_today).max(0.0)).chain(later.into_iter().flatten().copied()).collect()
}

/// A mean within a period from those by its ends. They never fall, but their last digits may, and what is no more than
/// these digits is nothing.
fn since(by_end: f64, before: f64) -> f64 {
    let within = by_end - before;
    if within > 4.0 * f64::EPSILON * by_end { within } else { 0.0 }
}

/// Adds the changes of equal screens, given the chances of at least 1, 2, ... of each.
fn add(count: &mut Count, at_least: Option<&Vec<f64>>, copies: usize) {
    let Some(chances) = at_least else { return };
    let each = probabilities(chances);
    for _ in 0..copies {
        count.add(&each);
    }
}
