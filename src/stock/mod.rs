//! How many spares to hold for a service target over a lead time.
//!
//! [`level`] takes the distribution of lamps needed over the lead time (from [`crate::demand`]), the wanted chance of no
//! shortage, and what is on hand and on order.

mod level;

pub(crate) use level::sentence;
pub use level::{StockAdvice, StockVerdict, level};
