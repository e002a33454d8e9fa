//! From untidy lamp logs to spells that can be defended.
//!
//! Start with [`read`](crate::records). A *spell* is one lamp in one screen, from fitting to removal; a *life* is all
//! spells of one serial. What cannot be used is set aside with a finding; nothing is repaired silently.

mod ending;
mod finding;
mod format;
mod spell;

pub use ending::Ending;
pub use finding::{Counts, Finding, Ledger, Outcome};
pub use format::{BlankAtFitting, DateOrder, Encoding, HoursUnit, LogColumns, LogFormat};
pub use spell::{LifeRecord, Spell};
