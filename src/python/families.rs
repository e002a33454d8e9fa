//! Names of the life families: which there are, and how they are written.

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::family::{families as core_families, in_words};

use super::intake::arguments as args;

/// The life families that need no more than their name, with their parameters.
///
/// Families made of these are named by what they are made of, such as "never_fails(weibull)",
/// "mixture(exponential, weibull)", "series(weibull, weibull)", "above_zero(normal)" and
/// "piecewise_constant(500, 1000)", whose numbers are ages in hours between which the hazard is constant.
///
/// Returns
/// -------
/// dict of str to list of str
///     Parameters by family, simplest family first.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> families = relamp.families()
/// >>> list(families)[:3], families["weibull"]
/// (['exponential', 'weibull', 'weibull_failure_free'], ['shape', 'scale'])
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> fits = [relamp.fit(tally, family=name) for name in families if len(families[name]) == 1]
/// >>> [fit.family for fit in fits]
/// ['exponential']
#[pyfunction]
pub(super) fn families(py: Python<'_>) -> PyResult<Bound<'_, PyDict>> {
    let out = PyDict::new(py);
    for family in core_families() {
        out.set_item(family.name(), family.parameter_names().to_vec())?;
    }
    Ok(out)
}

/// The name of a life family as a sentence or a chart writes it.
///
/// Parameters
/// ----------
/// name : str
///     Name of a family as calls and files hold it. Other text comes back with spaces for underscores.
///
/// Returns
/// -------
/// str
///
/// Raises
/// ------
/// InputError
///     For a name that is no text.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.family_in_words("weibull"), relamp.family_in_words("log_logistic")
/// ('Weibull', 'log-logistic')
#[pyfunction]
#[pyo3(signature = (name, /))]
pub(super) fn family_in_words(#[pyo3(from_py_with = args::name)] name: &str) -> String {
    in_words(name)
}
