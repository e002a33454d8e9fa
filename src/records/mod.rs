//! From untidy lamp logs to spells that can be defended.
//!
//! Start with [`read`]. A *spell* is one lamp in one screen, from fitting to removal; a *life* is all
//! spells of one serial. What cannot be used is set aside with a finding; nothing is repaired silently.

mod clock;
mod column_cells;
mod column_map;
mod column_swaps;
mod column_unread;
mod date;
mod date_order;
mod ending;
mod finding;
mod format;
mod headings;
mod hours;
mod index;
mod intern;
mod join;
mod log;
mod marks;
mod memo;
mod merge;
mod meter;
mod names;
mod number;
mod plain;
mod read;
mod rows;
mod rules;
mod said;
mod serials;
mod sound;
mod source;
mod spell;
mod spells;
mod table;
mod text;
mod unusable;
mod word;
mod written;

pub use clock::hours_between;
pub use date::{DateFault, date};
pub use ending::Ending;
pub(crate) use finding::known_rule;
pub use finding::{Counts, Finding, Ledger, MOST_SET_ASIDE_SHARE, Outcome, WHOLE_LOG};
pub use format::{BlankAtFitting, DateOrder, Encoding, HoursUnit, LogColumns, LogFormat};
pub(crate) use format::{usable_delimiter, usable_sign};
pub(crate) use headings::{Heading, Headings};
pub use meter::{Falls, hours_burned};
pub use names::{ClassNames, ReasonMap, fold};
pub use number::{NumberFault, NumberFormat, number};
pub(crate) use read::cells;
pub use read::{Options, read, read_sources};
pub(crate) use said::ANSWERED;
pub(crate) use source::can_open;
pub use spell::{Disputed, LifeRecord, Reading, Spell};
pub use spells::{Lives, Spells};
pub use table::{Cell, Column, Source, Table, TableFormat, Values};
pub(crate) use table::{distance, nearest};
pub use text::{MAX_COLUMNS, MAX_FIELD, MAX_FILE};
pub use word::Word;
