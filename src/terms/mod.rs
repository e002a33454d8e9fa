//! Terms of trade as pure data: costs by ending and the hour limit.

mod costs;
mod limit;

pub use costs::{Costs, LARGEST_AMOUNT};
pub use limit::{HourLimit, LimitOrigin, PrintedHours};
