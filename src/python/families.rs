//! Names of the life families: which there are, and how they are written.

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::family::{families as core_families, family as family_of, in_words};

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

/// The stated range of each parameter of a life family: values are checked there against 50-digit tables.
///
/// A family takes parameters outside its box too, as far as numbers reach; there the digits of a figure are not promised. The
/// box of a family made of others is that of its parts.
///
/// Parameters
/// ----------
/// family : str
///     Name of a family, such as "weibull", or of one made of others.
///
/// Returns
/// -------
/// dict of str to (float, float)
///     Smallest and largest value of each parameter, in the order of the family.
///
/// Raises
/// ------
/// InputError
///     For an unknown family, and a name that is no text.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.family_box("weibull")
/// {'shape': (0.2, 70.0), 'scale': (1.0, 100000.0)}
#[pyfunction]
#[pyo3(signature = (family, /))]
pub(super) fn family_box<'py>(
    py: Python<'py>,
    #[pyo3(from_py_with = args::family)] family: &str,
) -> PyResult<Bound<'py, PyDict>> {
    let family = family_of(family)?;
    let out = PyDict::new(py);
    for (name, range) in family.parameter_names().iter().zip(family.stated_box()) {
        out.set_item(name, *range)?;
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
