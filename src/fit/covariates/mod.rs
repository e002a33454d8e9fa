//! Covariates: terms by name, accelerated-life regression, stress laws.
//!
//! Start from [`Terms`] and [`fit_covariates`].

mod answer;
mod design;
mod life;
mod model;
mod pair;
mod pair_model;
mod profile;
mod search;
mod stress;
mod surface;
mod terms;

pub(super) use life::moved_life;
pub(super) use model::{check_covariance, few_note, place_of};
pub(crate) use pair_model::checked_power;
pub(super) use profile::{end, runaway};
pub(super) use search::{WithoutFailures, no_failures, without_failures};
pub(super) use stress::{prolonging, prolongs_note};
pub(super) use surface::Held;
pub(super) use terms::{held_note, strata_note};

pub use design::{Design, DesignColumn, Part};
pub use model::{CovariateFit, FAILURES_PER_COEFFICIENT, TermTest};
pub use pair::{PairOptions, PairRedraw, compare_pair};
pub use pair_model::{LifeRatio, PairFit, PairSide, failures_to_see};
pub use search::fit_covariates;
pub use stress::{BOLTZMANN_EV, StressLaw, ValueIs, ZERO_CELSIUS};
pub use terms::{Factor, Term, Terms};
