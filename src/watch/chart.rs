//! One chart: a running sum of failures seen against failures expected, and when it said that something is wrong.

use serde::{Deserialize, Serialize};

use super::expected::{Watched, WatchedMonth};
use super::month::Month;
use crate::base::error::Result;
use crate::base::figure::{counted, short};
use crate::base::math::count_bounds::{count_lower, count_upper};

/// Months over which today's rate of expected failures is taken.
pub(super) const A_YEAR: i32 = 12;

/// A month at whose end the sum reached the bound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Alarm {
    /// The month.
    pub month: Month,
    /// The month in which the sum last rose from 0.
    pub since: Month,
    /// Failures seen from then on.
    pub observed: u64,
    /// Failures expected from then on.
    pub expected: f64,
    /// The same in words.
    pub sentence: String,
}

/// The chart of one batch, supplier, site or screen, or of the fleet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Chart {
    /// What it is watched by.
    pub by: Watched,
    /// Its name; empty for the fleet.
    pub name: String,
    /// Failures seen, all months.
    pub observed: u64,
    /// Failures expected, all months.
    pub expected: f64,
    /// Seen over expected; none where none was expected.
    pub ratio: Option<f64>,
    /// Interval of the ratio, as of a Poisson count, at 95 %.
    pub ratio_interval: Option<(f64, f64)>,
    /// First month with a lamp.
    pub from: Month,
    /// The running sum at the end of each month from then to the last of the records.
    pub sums: Vec<f64>,
    /// When it raised an alarm, in order.
    pub alarms: Vec<Alarm>,
    /// Failures expected in a month, mean over the last 12 of the records.
    pub expected_a_month: f64,
    /// Months until an alarm if failures come twice as often as expected from now on; none where none is expected.
    pub months_to_alarm_twice: Option<f64>,
    /// The same if they come three times as often.
    pub months_to_alarm_thrice: Option<f64>,
}

/// What the sum of every chart follows.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rule {
    /// The hazard ratio it is tuned to.
    pub(super) ratio: f64,
    /// Where it raises an alarm.
    pub(super) bound: f64,
    /// Expected failures until an alarm at two and at three times the hazard.
    pub(super) delay: [f64; 2],
    /// The last month of the records.
    pub(super) last: Month,
}

/// How a sentence calls it.
pub(super) fn called(by: Watched, name: &str) -> String {
    if by == Watched::Fleet { "all lamps".to_owned() } else { format!("{by} {name}") }
}

/// The chart over the months of one name, which are in order.
pub(super) fn chart(months: &[WatchedMonth], rule: Rule) -> Result<Option<Chart>> {
    let Some(first) = months.first() else { return Ok(None) };
    let (mut sums, mut alarms) = (Vec::new(), Vec::new());
    let (mut sum, mut since, mut observed, mut expected) = (0.0, first.month, 0, 0.0);
    let mut given = months.iter().peekable();
    let mut month = first.month;
    while month <= rule.last {
        let here = given.next_if(|m| m.month == month);
        if sum <= 0.0 {
            (since, observed, expected) = (month, 0, 0.0);
        }
        if let Some(here) = here {
            observed += here.observed;
            expected += here.expected;
            sum = f64::max(0.0, sum + here.observed as f64 * rule.ratio.ln() - (rule.ratio - 1.0) * here.expected);
        }
        sums.push(sum);
        if sum >= rule.bound {
            let when = if since == month { format!("in {month}") } else { format!("from {since} to {month}") };
            // Two figures, and never 0.0 for what is small.
            let some = if expected < 0.1 { short(expected) } else { format!("{expected:.1}") };
            let (who, failed) = (called(first.by, &first.name), counted(observed, "failure"));
            let were = if some == "1.0" { "was" } else { "were" };
            let sentence = format!("{who}: {failed} {when} where {some} {were} expected");
            alarms.push(Alarm { month, since, observed, expected, sentence });
            sum = 0.0;
        }
        month = month.next();
    }
    let observed: u64 = months.iter().map(|m| m.observed).sum();
    let expected = months.iter().map(|m| m.expected).fold(0.0, |a, b| a + b);
    let recent = months.iter().filter(|m| m.month.months_until(rule.last) < A_YEAR);
    let expected_a_month = recent.map(|m| m.expected).fold(0.0, |a, b| a + b) / f64::from(A_YEAR);
    let [twice, thrice] = rule.delay.map(|d| (expected_a_month > 0.0).then(|| d / expected_a_month));
    let some = expected > 0.0;
    let interval = (count_lower(observed, 0.975)? / expected, count_upper(observed, 0.975)? / expected);
    Ok(Some(Chart {
        by: first.by,
        name: first.name.clone(),
        observed,
        expected,
        ratio: some.then(|| observed as f64 / expected),
        ratio_interval: some.then_some(interval),
        from: first.month,
        sums,
        alarms,
        expected_a_month,
        months_to_alarm_twice: twice,
        months_to_alarm_thrice: thrice,
    }))
}
