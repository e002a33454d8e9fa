//! Life distributions: every function of age, its derivatives, and random draws.
//!
//! Start from [`Weibull`], [`Lognormal`] or another life when the numbers are known, and from [`family`] by name when
//! they are to be fitted. [`GeneralisedGamma`] holds several of the others; [`PiecewiseConstant`] has a constant hazard
//! between given ages. [`Normal`], [`Logistic`] and [`SmallestExtremeValue`] reach below age 0; [`AboveZero`] cuts them.
//! [`Series`], [`Mixture`] and [`NeverFails`] are made of other lives. [`StepLife`] is the product-limit curve as it
//! stands. This room does not fit.

mod above_zero;
mod birnbaum_saunders;
mod chain;
mod check;
mod combined;
mod exponential;
mod formula;
mod gamma;
mod generalised_gamma;
mod gompertz;
mod inverse_gaussian;
mod joint;
mod later;
mod location;
mod log_logistic;
mod logistic;
mod lognormal;
mod mixture;
mod moments;
mod named;
mod never_fails;
mod normal;
mod piecewise;
mod series;
mod smallest_extreme;
mod step;
mod traits;
mod weibull;
mod weibull_failure_free;
mod words;

use location::LocationFamily;

pub use above_zero::AboveZero;
pub use birnbaum_saunders::{BirnbaumSaunders, BirnbaumSaundersFamily};
pub use exponential::{Exponential, ExponentialFamily};
pub use gamma::{Gamma, GammaFamily};
pub use generalised_gamma::{GeneralisedGamma, GeneralisedGammaFamily};
pub use gompertz::{Gompertz, GompertzFamily};
pub use inverse_gaussian::{InverseGaussian, InverseGaussianFamily};
pub(crate) use joint::Joint;
pub(crate) use later::later;
pub use log_logistic::{LogLogistic, LogLogisticFamily};
pub use logistic::Logistic;
pub use lognormal::{Lognormal, LognormalFamily};
pub use mixture::Mixture;
pub use named::{NamedLife, family};
pub use never_fails::NeverFails;
pub use normal::Normal;
pub use piecewise::{MOST_PIECES, PiecewiseConstant};
pub use series::Series;
pub use smallest_extreme::SmallestExtremeValue;
pub use step::StepLife;
pub use traits::{Family, Jet, Life, Link, Order, Outline, Parts, Term};
pub use weibull::{Weibull, WeibullFamily};
pub use weibull_failure_free::{WeibullFailureFree, WeibullFailureFreeFamily};
pub use words::in_words;

/// Every family that needs no more than its name, simplest first.
pub fn families() -> [&'static dyn Family; 13] {
    [
        &ExponentialFamily,
        &WeibullFamily,
        &WeibullFailureFreeFamily,
        &LognormalFamily,
        &LogLogisticFamily,
        &GammaFamily,
        &GeneralisedGammaFamily,
        &InverseGaussianFamily,
        &BirnbaumSaundersFamily,
        &GompertzFamily,
        &LocationFamily::<Normal>::NEW,
        &LocationFamily::<Logistic>::NEW,
        &LocationFamily::<SmallestExtremeValue>::NEW,
    ]
}
