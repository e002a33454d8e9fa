//! A fleet played out: what a rule of change would bring, lamp by lamp and visit by visit, if the assumptions hold.
//!
//! State the [`Assumptions`]: the screens with their lamps of today, a [`World`](crate::fit::World) of causes and costs,
//! a [`Rule`], the [`Visits`] that happen anyway and the hour limit. [`play_fleet`] draws every life, plays every screen
//! event by event over the horizon, as often as asked, and gives a [`PlayedFleet`]: changes by kind and cause, cost,
//! dark minutes, visits and ages at ending, period by period, each with its standard error. It answers where no formula
//! does, and checks the formulas of [`policy`](crate::policy) and [`demand`](crate::demand) where they do.
//!
//! [`play_chain`] plays a chain with its stock: programme hours over the calendar, stops, a store with its rule of
//! ordering and lead times, shelves at sites, lamps from elsewhere and dark screens, month by month and on the long run.
//! It checks the formulas of [`stock`](crate::stock) and the chain forecast.
//!
//! No lamp passes the hour limit, whatever the rule. For [`play_fleet`] spares are always at hand.

mod assumptions;
mod chain;
mod chain_play;
mod chain_played;
mod chain_run;
mod chain_sheet;
mod lamp;
mod play;
mod played;
mod sheet;
mod site;

pub use assumptions::{Assumptions, DarkMinutes, Rule, Visits};
pub use chain::{ChainAssumptions, EmergencyLamp, PlayCosts, SiteShelves, Store, WhileWaiting};
pub use chain_played::{PlayedChain, PlayedCosts, PlayedMonth, PlayedOrders, PlayedPlace};
pub use chain_run::{ChainPlayOptions, play_chain, play_chain_over_draws};
pub use play::{PlayOptions, play_fleet};
pub use played::{AGE_BINS, EndedLamps, PlannedChange, PlayedFleet, PlayedTally, Simulated};
