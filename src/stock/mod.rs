//! How many spares to hold for a service target over a lead time.
//!
//! [`level`] takes the distribution of lamps needed over the lead time (from [`crate::demand`]), the wanted chance of no
//! shortage, and what is on hand and on order. [`read_stock_count`] reads what lies where, with its own findings.

mod count_file;
mod counted;
mod level;

pub use count_file::{CountRules, read_stock_count};
pub use counted::{OnOrder, OnShelf, StockCount, UsedLamp};
pub(crate) use level::sentence;
pub use level::{StockAdvice, StockVerdict, level};
