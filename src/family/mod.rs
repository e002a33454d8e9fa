//! Life distributions: every function of age, its derivatives, and random draws.

mod traits;

pub use traits::{Family, Jet, Life, Order, Term};
