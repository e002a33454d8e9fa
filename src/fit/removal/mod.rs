//! Lamps taken out because they look about to fail: the life under a stated dependence, and what a range of it implies.
//!
//! How strongly a removal is tied to the failure it forestalls cannot be learnt from records in which each lamp shows only
//! one of the two. So nothing here estimates it: it is a dial that the caller turns. Start from [`removal_dial`].

mod answer;
mod dial;
mod draws;
mod surface;

pub(crate) use answer::{Asked, Standing, check_ratio};
pub use answer::{DialAnswer, WIDEST_RATIO};
pub use dial::{DialOptions, DialPoint, RemovalDial, removal_dial};
pub(crate) use draws::DialDraws;
