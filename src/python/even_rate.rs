//! What hours without a failure say of an even failure rate.

use pyo3::prelude::*;

use crate::fit::rate_bound_95 as core_bound;

use super::error::refuse;
use super::intake::arguments as args;

/// Upper 95 % bound of an even failure rate after hours in which no lamp failed, per hour.
///
/// No failure is no rate of 0: a rate above -ln 0.05 / E = 2.996 / E would have shown a failure within E hours with a
/// chance of more than 95 %. It holds for lamps of one even rate, whose failures follow a Poisson law.
///
/// Parameters
/// ----------
/// exposure_hours : float
///     Hours of all lamps together under observation, above 0.
///
/// Returns
/// -------
/// float
///     Failures per hour.
///
/// Raises
/// ------
/// InputError
///     For what is no number, and hours that are not finite and above 0.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> round(1000 * relamp.rate_bound_95(20_000.0), 4)  # per 1,000 h
/// 0.1498
#[pyfunction]
#[pyo3(signature = (exposure_hours, /))]
pub(super) fn rate_bound_95(#[pyo3(from_py_with = args::exposure_hours)] exposure_hours: f64) -> PyResult<f64> {
    core_bound(exposure_hours).ok_or_else(|| {
        let got = exposure_hours.to_string();
        refuse("python.exposure", "no hours under observation", "exposure_hours", "", &got, "finite hours above 0")
            .into()
    })
}
