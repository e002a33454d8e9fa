//! From untidy lamp logs to spells that can be defended.
//!
//! Start with [`read`]. A *spell* is one lamp in one screen, from fitting to removal; a *life* is all
//! spells of one serial. What cannot be used is set aside with a finding; nothing is repaired silently.

mod ending;
mod finding;
mod format;
mod names;
mod read;
mod spell;

pub use ending::Ending;
pub use finding::{Counts, Finding, Ledger, Outcome};
pub use format::{BlankAtFitting, DateOrder, Encoding, HoursUnit, LogColumns, LogFormat};
pub use names::{ClassNames, ReasonMap, fold};
pub use read::{Options, Source, read, read_sources};
pub use spell::{Disputed, LifeRecord, Reading, Spell, Word};
