//! Terms of trade as pure data: costs by ending, the hour limit, money back under a warranty, the worth of a used lamp, dark
//! time, discount.

mod costs;
mod dark;
mod discount;
mod limit;
mod parts;
mod salvage;
mod warranty;

pub use costs::{Costs, LARGEST_AMOUNT};
pub use dark::{DarkMinutes, LEAST_CHANGE_MINUTES, LONGEST_DARK_MINUTES};
pub use discount::Discount;
pub use limit::{HourLimit, LimitOrigin, PrintedHours};
pub use parts::{CostParts, Span};
pub use salvage::Salvage;
pub use warranty::{Warranty, WarrantyForm, WarrantyStep};
