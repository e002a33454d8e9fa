//! How many lamps will be needed, from the ages of those that burn today.
//!
//! [`forecast`] takes the lamps of one class with their ages and hours a week, one world and the planned age, and gives
//! the whole distribution of the number of lamps needed in each coming period; second and later changes of a screen
//! count. [`forecast_over_draws`] mixes it over draws: screens are independent only within a draw. [`Count`] is the
//! distribution of a whole number. [`planned_changes`] counts what is needed even if no lamp fails. [`failures_ahead`]
//! predicts how many of the lamps that burn today will fail. [`chain_forecast`] counts the lamps of a whole chain, by
//! class, site, depot and calendar month, with programme hours ([`Programme`]) and stopping dates ([`StopDate`]);
//! [`forecast_on_calendar`] takes both for periods of any days, such as a lead time. [`policy_wave`] sets two planned ages
//! side by side. A planned age past the hour limit is held to the limit.

mod ages;
mod blocks;
mod by_days;
mod chain;
mod counts;
mod exposure;
mod forecast;
mod later;
mod on_calendar;
mod one_draw;
mod pace;
mod paced;
mod planned;
mod prediction;
mod renewal;
mod screen;
mod shared;
mod socket;
mod steps;
mod stop;
mod stopping;
mod until;
mod wave;
mod windows;

pub(crate) use by_days::{NeededOf, needed_by_days};
pub(crate) use chain::check as check_chain;
pub use chain::{
    ChainForecast, ClassBasis, ClassModel, ClassPlan, DemandIn, PlaceDemand, SharedBy, SharedEffect, SharedOn, Where,
    chain_forecast,
};
pub use counts::Count;
pub(crate) use exposure::Clock;
pub use exposure::{Calendar, MonthAhead, Programme, SpanOfDays};
pub use forecast::{DrawsUsed, Forecast, Horizon, Period, SocketToday, forecast, forecast_over_draws};
pub(crate) use forecast::{MONTH_DAYS, check as check_sockets, forecast_until, forecast_until_over_draws};
pub use on_calendar::{OnCalendar, forecast_on_calendar};
pub(crate) use pace::Pace;
pub(crate) use planned::planned_changes_until;
pub use planned::{PlannedPeriod, planned_changes};
pub use prediction::{FailuresAhead, LampsAtAge, failures_ahead};
pub use screen::Screen;
pub use stop::StopDate;
pub(crate) use stopping::SocketUntil;
pub(crate) use until::needed_until;
pub use wave::{PolicyWave, WaveMonth, policy_wave};
