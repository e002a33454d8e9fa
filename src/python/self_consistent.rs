//! The self-consistent estimate.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::empirical::self_consistent as core_self_consistent;
use crate::empirical::{SelfConsistent, SelfConsistentOptions};

use super::arrays::{array, open_pairs_over, pairs, pairs_over};
use super::empirical::{at, sentences};
use super::error::warn;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args};
use super::lives::PyTally;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

/// Name of the note on a climb that its steps ended.
const NOT_CONVERGED: &str = "empirical.not_converged";

fn bounded(age: f64) -> Option<f64> {
    (age < f64::INFINITY).then_some(age)
}

fn stretches(s: &SelfConsistent) -> Result<RecordBatch> {
    Frame::default()
        .numbers("from_hours", s.stretches.iter().map(|s| s.from))
        .numbers_or_null("to_hours", s.stretches.iter().map(|s| bounded(s.to)))
        .numbers("mass", s.stretches.iter().map(|s| s.mass))
        .numbers("reliability_after", s.stretches.iter().map(|s| s.reliability_after))
        .finish()
}

fn estimate_facts(s: &SelfConsistent) -> Facts {
    facts! {
        "lamps": s.lamps, "stretches": s.stretches.len(), "candidates": s.candidates,
        "log_likelihood": s.log_likelihood, "gradient": s.gradient, "converged": s.converged, "steps": s.steps,
        "conditional_from": s.conditional_from,
        "notes": s.notes.iter().map(|n| n.sentence.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// The likeliest curve for lives known to ages, to intervals or not at all; made by `self_consistent`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> curve = relamp.self_consistent(relamp.lives([100.0, 300.0], [200.0, None]))
    /// >>> curve.frame()["mass"].round(6).to_list()
    /// [0.5, 0.5]
    PySelfConsistent holds SelfConsistent as "SelfConsistent";
    save SelfConsistent::to_json; load SelfConsistent::from_json; table stretches; show estimate_facts;
    {
        /// Ends of the stretches with mass, hours, (stretches, 2); infinite where no lamp was seen to fail.
        #[getter]
        fn stretches<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            pairs(py, &self.0.stretches.iter().map(|s| Some((s.from, s.to))).collect::<Vec<_>>())
        }

        /// Share of lamps that failed in each stretch, (stretches,).
        #[getter]
        fn mass<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.stretches.iter().map(|s| s.mass).collect::<Vec<_>>())
        }

        /// Probability to pass each stretch, (stretches,).
        #[getter]
        fn reliability_after<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.stretches.iter().map(|s| s.reliability_after).collect::<Vec<_>>())
        }

        /// Stretches that could have held mass.
        #[getter]
        fn candidates(&self) -> usize {
            self.0.candidates
        }

        /// Log-likelihood at the estimate.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood
        }

        /// Largest derivative of the log-likelihood, for each lamp, towards mass in any stretch; 0 at the top.
        #[getter]
        fn gradient(&self) -> f64 {
            self.0.gradient
        }

        /// Steps of the climb.
        #[getter]
        fn steps(&self) -> u64 {
            self.0.steps
        }

        /// Whether the gradient came down to what was asked.
        #[getter]
        fn converged(&self) -> bool {
            self.0.converged
        }

        /// The curve holds for lamps that reached this age, hours; 0 for a curve from new.
        #[getter]
        fn conditional_from(&self) -> f64 {
            self.0.conditional_from
        }

        /// Lamps behind the curve.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.lamps
        }

        /// What to know when reading the curve: pairs of rule and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(sentences(&self.0.notes))
        }

        /// Lower and upper value of the probability to pass an age, or each of many.
        ///
        /// They are equal where the records determine the curve, and differ inside a stretch.
        ///
        /// Parameters
        /// ----------
        /// ages : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Probabilities, (low, high), (n, 2) for many; None, or NaN in an array, before `conditional_from`.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.self_consistent(relamp.lives([100.0, 300.0], [200.0, None]))
        /// >>> curve.reliability_bounds([100.0, 150.0, 200.0]).round(6).tolist()
        /// [[1.0, 1.0], [0.5, 1.0], [0.5, 0.5]]
        /// >>> curve.reliability_bounds(100.0)
        /// (1.0, 1.0)
        #[pyo3(signature = (ages))]
        fn reliability_bounds<'py>(&self, ages: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(ages, At { input: "ages", column: "" }, |age| Ok(self.0.reliability_at(age)))
        }

        /// The stretch in which a share of the lamps has failed, or each of many shares.
        ///
        /// Parameters
        /// ----------
        /// p : float or array-like
        ///     Share, above 0 and at most 1.
        ///
        /// Returns
        /// -------
        /// tuple or numpy.ndarray
        ///     Ages, hours, (from, to), (n, 2) for many: the share was reached after the first and by the second, which is
        ///     None, or NaN in an array, where the records do not bound it.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// DomainError
        ///     For a share outside 0 to 1.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.self_consistent(relamp.lives([100.0, 300.0], [200.0, None]))
        /// >>> curve.quantile(0.4), curve.quantile(0.9)
        /// ((100.0, 200.0), (300.0, None))
        /// >>> curve.quantile([0.4, 0.9]).tolist()
        /// [[100.0, 200.0], [300.0, nan]]
        fn quantile<'py>(&self, p: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            open_pairs_over(p, at("p"), |p| {
                let (from, to) = self.0.quantile(p)?;
                Ok((Some(from), bounded(to)))
            })
        }
    }
}

/// Estimates the reliability of lamps whose failures are known to ages, to intervals or not at all; no family.
///
/// Mass stands in innermost intervals; inside one the curve is not determined and has a lower and an upper value. The
/// gradient of the result proves that no other curve is likelier.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records: any mixture of exact, interval-, left- and right-censored rows, late entry and counts.
/// given_survival_to : float, optional
///     Starts the curve at this age, hours: it then holds for lamps that reached it.
/// gradient : float
///     The climb ends when the gradient for each lamp is at most this; above 0 and below 1.
/// most_steps : int
///     How many steps the climb may take; a climb that they end gives a `NotConvergedWarning`.
///
/// Returns
/// -------
/// SelfConsistent
///
/// Raises
/// ------
/// InputError
///     For what is not a number.
/// DomainError
///     For an age or a gradient out of range.
/// RefusedError
///     Where no lamp is at risk, for records that show failures only, and for an age inside the interval of a failure.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> curve = relamp.self_consistent(relamp.lives([2.0, 1.0, 2.0], [2.0, 3.0, None]))
/// >>> curve.mass.round(6).tolist(), curve.stretches.tolist()
/// ([0.5, 0.5], [[2.0, 2.0], [2.0, 3.0]])
/// >>> curve.converged, curve.gradient < 1e-9
/// (True, True)
#[pyfunction]
#[pyo3(signature = (tally, *, given_survival_to=None, gradient=1e-9, most_steps=5000))]
pub(super) fn self_consistent(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::given_survival_to)] given_survival_to: Option<f64>,
    #[pyo3(from_py_with = args::gradient)] gradient: f64,
    #[pyo3(from_py_with = args::most_steps)] most_steps: u64,
) -> PyResult<PySelfConsistent> {
    let options = SelfConsistentOptions { given_survival_to, gradient, most_steps };
    let tally = &tally.get().0;
    let curve = work(py, None, |_| core_self_consistent(tally, &options))?;
    if let Some(note) = curve.notes.iter().find(|n| n.rule == NOT_CONVERGED).filter(|_| !curve.converged) {
        warn(py, "NotConvergedWarning", &format!("{} [{NOT_CONVERGED}]", note.sentence))?;
    }
    Ok(PySelfConsistent(curve))
}
