//! What a maker owes for lamps that ended early: money back by lamp, claims worth filing, and claims to expect.
//!
//! [`Cover`] is a warranty as its paper has it: the money back by age ([`crate::terms::Warranty`]), and the limits by
//! calendar and strikes. [`ended_lamps`] takes the lamps that ended from a reading of logs, [`read_lamps`] from a plain
//! table. [`claim_list`] judges each under its [`ClaimTerms`]: what comes back or why nothing does, what is missing, until
//! when to file, and in which order. [`claims_ahead`] gives the number of claims to expect from the lamps that burn today.
//!
//! The room stands behind `demand`, whose distribution of a whole number it uses; `policy` reads the money by age from
//! `terms` and needs none of it.

mod ahead;
mod claims;
mod cover;
mod from_records;
mod lamp;
mod later;
mod read;
mod sheet;
mod terms;

pub(crate) use ahead::claims_ahead_paced;
pub use ahead::{ClaimsAhead, LampInService, claims_ahead, claims_ahead_over_draws};
pub use claims::{Claim, ClaimList, ClaimTotals, Standing, claim_list};
pub use cover::{Cover, CoverStart, NothingDue, Unused};
pub use from_records::{Papers, ended_lamps, with_papers};
pub use lamp::EndedLamp;
pub(crate) use read::read_filed;
pub use read::{read_lamps, read_papers};
pub use terms::ClaimTerms;
