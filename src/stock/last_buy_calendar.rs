//! A last buy where programme hours and conversions follow the calendar.

use super::last_buy::{LastBuy, in_one_world, last_buys_over_draws, no_draws};
use super::last_buy_input::{ConvertingScreen, LastBuyTerms};
use crate::base::error::Result;
use crate::base::run::Run;
use crate::demand::{ClassModel, Horizon, OnCalendar, Pace};
use crate::terms::HourLimit;

/// Lamps to buy once, where the clock of each screen runs by its programme and its stop is the day of its conversion.
///
/// # Formula
/// That of [`super::last_buy`], with the hours of [`crate::demand::Programme`] in place of even ones.
///
/// # Errors
/// Those of [`super::last_buy`], and those of [`crate::demand::forecast_on_calendar`] for screens and programmes.
///
/// # Numerics
/// As in [`super::last_buy`]. A window of stops of more than 24 days is taken as 24 of them with its mean.
///
/// # Examples
/// ```
/// use std::collections::BTreeMap;
/// use chrono::NaiveDate;
/// use relamp::Run;
/// use relamp::demand::{ClassModel, OnCalendar, Programme, Screen, StopDate};
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::records::Ending;
/// use relamp::stock::{BuyRule, LastBuyTerms, last_buy_on_calendar};
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 3.0, scale: 1e9 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let limit = PrintedHours { maximum_hours: Some(1000.0), source: "invented".into(), ..Default::default() }.limit()?;
/// // 10 h a day, and half of that from June to August: 2,000 h by 9 September, where even hours would have 2,500.
/// let mut by_month = [1.0; 12];
/// by_month[5..8].fill(0.5);
/// let programmes = BTreeMap::from([("summer".to_owned(), Programme { by_month, ..Programme::default() })]);
/// let day = |m, d| NaiveDate::from_ymd_opt(2026, m, d).unwrap();
/// let screen = Screen {
///     programme: Some("summer".into()), stop: Some(StopDate::On(day(9, 9))), ..Screen::new("X", "north", Some(600.0), 70.0)
/// };
/// let given = OnCalendar { screens: &[screen], programmes: &programmes, as_of: day(1, 1) };
/// let terms = LastBuyTerms::new(365.0, 1000.0, BuyRule::Risk(0.05));
/// let buy = last_buy_on_calendar(&given, ClassModel::World(&world), &limit, &terms, &Run::new())?;
/// assert_eq!(buy.buy, 2);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn last_buy_on_calendar(
    given: &OnCalendar<'_>,
    model: ClassModel<'_>,
    limit: &HourLimit,
    terms: &LastBuyTerms,
    run: &Run,
) -> Result<LastBuy> {
    Horizon::days(terms.end_days).check()?;
    let sockets = given.sockets(terms.end_days, terms.planned_age_hours)?;
    let paces: Vec<Option<&Pace>> = sockets.iter().map(|s| s.pace.as_deref()).collect();
    let screens: Vec<ConvertingScreen> = sockets.iter().map(ConvertingScreen::of).collect();
    match model {
        ClassModel::World(world) => in_one_world(&screens, &paces, world, limit, terms, run),
        ClassModel::Draws(draws) => {
            let found = last_buys_over_draws(&[&screens], &paces, draws, limit, terms, run)?.pop();
            found.ok_or_else(|| no_draws(0))
        }
    }
}
