//! The planned age under each stated dependence of suspect removal on failure.

use super::age::{AgeOptions, Stand, stand};
use super::interval::planned_age_interval;
use crate::base::error::Result;
use crate::base::run::Run;
use crate::base::sound::as_saved;
use crate::fit::{Asked, DialAnswer, DialDraws, DialPoint, Draws, RemovalDial, Standing, check_ratio};
use crate::terms::{Costs, HourLimit};

/// The planned age at each dependence of a dial, with its interval, and over a range of dependence: how wrong independence
/// must be before the advice changes.
///
/// The cost of a failure is that of the failures' endings in the share in which they were seen. Advice stops at the oldest
/// lamp of the records unless the options say otherwise.
///
/// The answer holds the verdict at each dependence, that of [`super::planned_age`], but where the cost still falls at the
/// end of the records and would fall past the limit as well, [`super::Verdict::NoPlannedChangePays`] in place of
/// [`super::Verdict::RecordsEnd`]. An age that stands at the limit or at the oldest lamp only because no earlier change pays
/// is not called informative, and the sentence says what it is.
///
/// # Arguments
/// `range`: the smallest and largest dependence held possible, both among those fitted. `widest`: largest ratio of the ends
/// that still says something, such as [`crate::fit::WIDEST_RATIO`].
///
/// # Errors
/// Those of [`planned_age`](super::planned_age) and [`planned_age_interval`]; `fit.dial_range`, `fit.dial_widest`.
///
/// # Examples
/// ```
/// use relamp::Run;
/// use relamp::empirical::RemovalOptions;
/// use relamp::family::family;
/// use relamp::fit::{DialOptions, WIDEST_RATIO, removal_dial};
/// use relamp::lives::{Rows, Tally};
/// use relamp::policy::{AgeOptions, dial_planned_age};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let low: Vec<f64> = (1..=40).map(|i| 200.0 + 60.0 * f64::from(i)).collect();
/// let high = low.iter().enumerate().map(|(i, a)| if i % 2 == 0 { *a } else { f64::INFINITY }).collect();
/// let ending = (0..40).map(|i| if i % 2 == 0 { Ending::Burst } else { Ending::Dim }).collect();
/// let (tally, _) = Tally::from_rows(&Rows { low, high, ending: Some(ending), ..Rows::default() })?;
/// let removal = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
/// let options = DialOptions { removal, taus: vec![0.0, 0.5, 0.8], replicates: 20, ..DialOptions::default() };
/// let dial = removal_dial(family("weibull")?, &tally, &options, &Run::new())?;
/// let costs = Costs::new(950.0, [(Ending::Burst, 5200.0)])?;
/// let printed = PrintedHours { maximum_hours: Some(4000.0), source: "invented sheet".into(), ..PrintedHours::default() };
/// let (limit, asked, range) = (printed.limit()?, AgeOptions::default(), (0.5, 0.8));
/// let ages = dial_planned_age(&dial, &costs, &limit, &asked, 0.9, range, WIDEST_RATIO, &Run::new())?;
/// assert!(ages.estimate[0] > ages.most && ages.most >= ages.least);
/// # Ok::<(), relamp::Error>(())
/// ```
#[allow(clippy::too_many_arguments, reason = "each is a choice that the caller must make")]
pub fn dial_planned_age(
    dial: &RemovalDial,
    costs: &Costs,
    limit: &HourLimit,
    options: &AgeOptions,
    level: f64,
    range: (f64, f64),
    widest: f64,
    run: &Run,
) -> Result<DialAnswer> {
    check_ratio(widest)?;
    let mut options = options.clone();
    options.oldest_at_risk_hours = options.oldest_at_risk_hours.or(Some(dial.facts().oldest_at_risk_hours));
    let each = |point: &DialPoint| {
        let at = DialDraws::new(dial, point, costs)?;
        let Stand { age_hours, verdict, because } = stand(&at.best()?, limit, &options)?;
        let standing = Standing { verdict: as_saved(&verdict), because };
        if point.refits.is_empty() {
            return Ok(((age_hours, None), standing));
        }
        let range = planned_age_interval(&at, limit, &options, level, run)?.age_hours;
        Ok(((age_hours, Some((range.low, range.high))), standing))
    };
    let (figures, standing): (Vec<_>, Vec<_>) =
        dial.points().iter().map(each).collect::<Result<Vec<_>>>()?.into_iter().unzip();
    dial.told("planned age".to_owned(), true, Asked { level, range, widest }, &figures, &standing)
}
