//! Life distributions: every function of age, its derivatives, and random draws.
//!
//! Start from [`Weibull`], [`Exponential`] or [`Lognormal`] when the numbers are known, and from
//! [`family`] by name when they are to be fitted. [`StepLife`] is the product-limit curve as it
//! stands. This room does not fit.

mod chain;
mod check;
mod exponential;
mod lognormal;
mod step;
mod traits;
mod weibull;

use crate::base::error::{Error, Kind, Place, Problem, Result};

pub use exponential::{Exponential, ExponentialFamily};
pub use lognormal::{Lognormal, LognormalFamily};
pub use step::StepLife;
pub use traits::{Family, Jet, Life, Order, Outline, Term};
pub use weibull::{Weibull, WeibullFamily};

/// Every family, simplest first.
pub fn families() -> [&'static dyn Family; 3] {
    [&ExponentialFamily, &WeibullFamily, &LognormalFamily]
}

/// The family of a name.
///
/// # Errors
/// `family.unknown`, which lists the names.
///
/// # Examples
/// ```
/// use relamp::family::family;
/// assert_eq!(family("weibull")?.parameter_names(), ["shape", "scale"]);
/// assert_eq!(family("gompertz").unwrap_err().slug(), "family.unknown");
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn family(name: &str) -> Result<&'static dyn Family> {
    families().into_iter().find(|f| f.name() == name).ok_or_else(|| {
        let names: Vec<&str> = families().iter().map(|f| f.name()).collect();
        Error::new(
            Kind::Input,
            Problem::new("family.unknown", "no such life family")
                .at(Place::input("family"))
                .got(name)
                .expected(names.join(", ")),
        )
    })
}
