//! The one-off wave of lamps when the planned age changes.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::chain::{ChainForecast, PlaceDemand, Where};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::sound::{Checks, Sound};

/// Share of the highest month below which the wave has passed.
const PASSED: f64 = 0.1;
/// Share by which the hours of the same screens may differ between two forecasts: rounding.
const SAME_HOURS: f64 = 1e-9;
/// Share of the highest month from which a later month is an echo: lamps changed together come due together again.
const ECHO: f64 = 0.5;

/// Lamps of one month under the old and under the new planned age.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WaveMonth {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
    /// Mean lamps needed under the old age.
    pub before: f64,
    /// Mean lamps needed under the new age.
    pub after: f64,
    /// Of the difference, what stays for good: the hours of the month times the difference of the long-run rates.
    pub for_good: f64,
    /// What is left of the difference: the wave.
    pub one_off: f64,
    /// Mean cost under the new age less that under the old one.
    pub extra_cost: f64,
}

/// What a change of the planned age brings for one class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PolicyWave {
    /// Lamp class.
    pub class: String,
    /// Planned age before, hours.
    pub old_age_hours: f64,
    /// Planned age after, hours.
    pub new_age_hours: f64,
    /// Lamps that become due at once, or that are no longer due if below 0.
    pub due_at_once: i64,
    /// Month by month.
    pub months: Vec<WaveMonth>,
    /// Last day of the month in which the wave has passed: the first in which the one-off lamps are at most a tenth of the
    /// highest month's, after a month with at least half of them. None where the horizon ends before.
    pub passed: Option<NaiveDate>,
    /// First day of the first later month with at least half of the highest again: lamps changed together come due
    /// together. None where none shows within the horizon.
    pub echo: Option<NaiveDate>,
}

impl Sound for PolicyWave {
    fn check(&self, c: &mut Checks) {
        c.words("class", &self.class);
        c.positive("old_age_hours", self.old_age_hours);
        c.positive("new_age_hours", self.new_age_hours);
        c.need("months", !self.months.is_empty(), "no month", "one or more");
        for (i, m) in self.months.iter().enumerate() {
            c.inside(&format!("months[{i}]"), |c| {
                c.not_negative("before", m.before);
                c.not_negative("after", m.after);
                c.near("one_off", m.one_off, m.after - m.before - m.for_good, 1.0 + m.after);
            });
        }
        let (passed, echo) = marks(&self.months, (self.old_age_hours - self.new_age_hours).signum());
        c.follows("passed", &self.passed, &passed);
        c.follows("echo", &self.echo, &echo);
    }
}

/// Sets two forecasts of the same screens under two planned ages side by side, class by class.
///
/// # Formula
/// ```text
/// one-off lamps of a month = after - before - hours of the month x (1 / M(new age) - 1 / M(old age))
/// ```
/// M(T): mean hours from one change to the next. A lower age brings lamps forward at once and needs more of them for
/// good; only the first is a wave. A higher age brings a trough, with the signs turned.
///
/// # Errors
/// `demand.wave_pair` unless both have the same classes, months and screens. A forecast does not keep the ages of its lamps:
/// other lamps in the same screens cannot be told.
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use chrono::NaiveDate;
/// use relamp::Run;
/// use relamp::demand::{Calendar, ClassModel, ClassPlan, Screen, chain_forecast, policy_wave};
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 4000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let limit = PrintedHours { maximum_hours: Some(2000.0), source: "invented".into(), ..Default::default() }.limit()?;
/// let screens: Vec<_> = (0..20).map(|i| Screen::new("X", "north", Some(100.0 * f64::from(i)), 70.0)).collect();
/// let calendar = Calendar::new(NaiveDate::from_ymd_opt(2026, 1, 1).unwrap(), 6)?;
/// let at = |planned_age_hours| {
///     let plan = ClassPlan { class: "X", model: ClassModel::World(&world), planned_age_hours, limit: &limit };
///     chain_forecast(&screens, &[plan], &calendar, &BTreeMap::new(), None, &Run::new())
/// };
/// let wave = &policy_wave(&at(2000.0)?, &at(1500.0)?)?[0];
/// // The lamps of 1,500 h to 1,900 h are due at once, and the wave is over by the end of February.
/// assert_eq!((wave.due_at_once, wave.passed), (5, NaiveDate::from_ymd_opt(2026, 2, 28)));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn policy_wave(old: &ChainForecast, new: &ChainForecast) -> Result<Vec<PolicyWave>> {
    let refuse = |got: String, expected: &str| {
        let what = "a wave compares two forecasts of the same screens and months";
        let problem = Problem::new("demand.wave_pair", what).at(Place::input("new")).got(got).expected(expected);
        Error::new(Kind::Input, problem)
    };
    if old.calendar != new.calendar {
        let told = |f: &ChainForecast| {
            let months = counted(f.calendar.months().len() as u64, "month");
            format!("{months} from {}", f.calendar.as_of())
        };
        return Err(refuse(format!("{} and {}", told(old), told(new)), "the same as-of date and months"));
    }
    let names = |f: &ChainForecast| f.classes.iter().map(|c| c.class.clone()).collect::<Vec<_>>().join(", ");
    if names(old) != names(new) {
        return Err(refuse(format!("{} and {}", names(old), names(new)), "the same classes"));
    }
    let mut waves = Vec::new();
    for (before, after) in old.classes.iter().zip(&new.classes) {
        let (Some(a), Some(b)) = (old.at(&before.class, &Where::Chain), new.at(&after.class, &Where::Chain)) else {
            continue;
        };
        if let Some(got) = other_screens(old, new, &before.class) {
            return Err(refuse(got, "the same screens, at the same places with the same hours"));
        }
        let months = months(a, b, after.changes_per_hour - before.changes_per_hour);
        let (passed, echo) = marks(&months, (before.planned_age_hours - after.planned_age_hours).signum());
        waves.push(PolicyWave {
            class: before.class.clone(),
            old_age_hours: before.planned_age_hours,
            new_age_hours: after.planned_age_hours,
            due_at_once: b.due_now.cast_signed() as i64 - a.due_now.cast_signed() as i64,
            months,
            passed,
            echo,
        });
    }
    Ok(waves)
}

/// How the screens of a class differ between two forecasts, as far as they tell: in number, place or hours.
fn other_screens(old: &ChainForecast, new: &ChainForecast, class: &str) -> Option<String> {
    let of = |f: &'_ ChainForecast| f.places.iter().filter(|p| p.class == class).cloned().collect::<Vec<_>>();
    let (old, new) = (of(old), of(new));
    for (a, b) in old.iter().zip(&new) {
        let place = |p: &PlaceDemand| match &p.place {
            Where::Chain => "the chain".to_owned(),
            Where::Depot(name) => format!("depot {name}"),
            Where::Site(name) => format!("site {name}"),
        };
        if a.place != b.place || a.screens != b.screens {
            let told = |p: &PlaceDemand| format!("{} at {}", counted(p.screens as u64, "screen"), place(p));
            return Some(format!("{} and {}", told(a), told(b)));
        }
        let apart = |x: f64, y: f64| (x - y).abs() > SAME_HOURS * x.abs().max(y.abs());
        if apart(a.whole.hours, b.whole.hours) {
            return Some(format!("{:.1} h and {:.1} h at {}", a.whole.hours, b.whole.hours, place(a)));
        }
    }
    (old.len() != new.len()).then(|| format!("{} and {} places", old.len(), new.len()))
}

fn months(old: &PlaceDemand, new: &PlaceDemand, rate: f64) -> Vec<WaveMonth> {
    let each = old.months.iter().zip(&new.months);
    each.map(|(a, b)| {
        let (before, after, for_good) = (a.needed.mean(), b.needed.mean(), b.hours * rate);
        WaveMonth {
            from: a.from,
            to: a.to,
            before,
            after,
            for_good,
            one_off: after - before - for_good,
            extra_cost: b.planned_cost + b.failure_cost - a.planned_cost - a.failure_cost,
        }
    })
    .collect()
}

/// When the wave has passed, and its first echo; `sign` is 1 where the age falls, -1 where it rises and a trough comes.
fn marks(months: &[WaveMonth], sign: f64) -> (Option<NaiveDate>, Option<NaiveDate>) {
    let height = |m: &WaveMonth| sign * m.one_off;
    let highest = months.iter().map(height).fold(0.0, f64::max);
    // An echo may stand a little higher than the wave itself, so that the first month of about its height begins it.
    let start = months.iter().position(|m| highest > 1e-9 && height(m) >= ECHO * highest);
    let Some(start) = start else { return (None, None) };
    let passed = months.iter().enumerate().skip(start + 1).find(|(_, m)| height(m) <= PASSED * highest);
    let echo = passed.and_then(|(i, _)| months.iter().skip(i + 1).find(|m| height(m) >= ECHO * highest));
    (passed.map(|(_, m)| m.to), echo.map(|m| m.from))
}
