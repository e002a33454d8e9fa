//! Incidence by cause, without a family.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::empirical::{Incidence, incidence as core_incidence};
use crate::lives::Reading;
use crate::records::Ending;

use super::arrays::{array, over, pairs, pairs_over};
use super::empirical::{at, options, scale_of, sentences};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

fn by_cause(i: &Incidence) -> Result<RecordBatch> {
    let n = i.ages.len();
    let each = || i.causes.iter();
    Frame::default()
        .texts("ending", each().flat_map(|c| std::iter::repeat_n(c.ending.as_str(), n)))
        .numbers("age", each().flat_map(|_| i.ages.iter().copied()))
        .counts("at_risk", each().flat_map(|_| i.at_risk.iter().copied()))
        .counts("failures", each().flat_map(|c| c.failures.iter().copied()))
        .numbers("incidence", each().flat_map(|c| c.incidence.iter().copied()))
        .numbers("standard_error", each().flat_map(|c| i.standard_error(c.ending).unwrap_or_default()))
        .numbers("reliability", each().flat_map(|_| i.reliability.iter().copied()))
        .finish()
}

fn incidence_facts(i: &Incidence) -> Facts {
    facts! {
        "endings": i.causes.iter().map(|c| c.ending.as_str()).collect::<Vec<_>>(), "steps": i.ages.len(),
        "last_age": i.last_age, "conditional_from": i.conditional_from, "reading": i.reading.map(Reading::as_str),
        "notes": i.notes.iter().map(|n| n.sentence.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Probability to have failed by each cause by each age, all causes acting; made by `incidence`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> tally = relamp.lives([10.0, 20.0], [10.0, 20.0], ending=["burst", "dim"])
    /// >>> relamp.incidence(tally).incidence_at("burst", 15.0)
    /// 0.5
    PyIncidence holds Incidence as "Incidence";
    save Incidence::to_json; load Incidence::from_json; table by_cause; show incidence_facts;
    {
        /// Ages at which lamps failed, ascending, hours, (steps,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.ages)
        }

        /// Probability to have failed by no cause by each age, (steps,).
        #[getter]
        fn reliability<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.reliability)
        }

        /// The endings seen, in order.
        #[getter]
        fn endings(&self) -> Fixed<&'static str> {
            self.0.causes.iter().map(|c| c.ending.as_str()).collect()
        }

        /// The curves hold for lamps that reached this age, hours; 0 for curves from new.
        #[getter]
        fn conditional_from(&self) -> f64 {
            self.0.conditional_from
        }

        /// Largest age at which a lamp was under observation, hours.
        #[getter]
        fn last_age(&self) -> f64 {
            self.0.last_age
        }

        /// How failures known to an interval were read; None where there were none.
        #[getter]
        fn reading(&self) -> Option<&'static str> {
            self.0.reading.map(Reading::as_str)
        }

        /// What to know when reading the curves: pairs of rule and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(sentences(&self.0.notes))
        }

        /// Probability to have failed by a cause by an age, or by each of many, all causes acting.
        ///
        /// Parameters
        /// ----------
        /// cause : str
        ///     A word of `ENDINGS`.
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     Probability, 0 for a cause not seen; None, or NaN in an array, where the curve does not know.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a word that is no ending, and for what is not a number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curves = relamp.incidence(relamp.lives([10.0, 20.0], ending=["burst", "dim"]))
        /// >>> curves.incidence_at("burst", 15.0), curves.incidence_at("seal", 15.0)
        /// (0.5, 0.0)
        #[pyo3(signature = (cause, age))]
        fn incidence_at<'py>(&self, #[pyo3(from_py_with = args::cause)] cause: &str, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            let cause: Ending = ending("cause", cause)?;
            over(age, at("age"), |a| Ok(self.0.incidence_at(cause, a)))
        }

        /// Lamps at risk at an age, or at each of many: those that came under observation before it and had not left.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours, from 0; at 0 the lamps seen from new.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     Lamps, 0 past the oldest; None, or NaN in an array, for an age below 0, and for curves that were saved
        ///     before they held this.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curves = relamp.incidence(relamp.lives([10.0, 20.0, 30.0], [10.0, 20.0, None], ending=["burst", "dim", None]))
        /// >>> curves.at_risk_at([0.0, 10.0, 15.0, 35.0]).tolist()
        /// [3.0, 3.0, 2.0, 0.0]
        fn at_risk_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(self.0.at_risk_at(a).map(|n| n as f64)))
        }

        /// Standard error of the incidence of a cause at each step, by the delta method.
        ///
        /// Parameters
        /// ----------
        /// cause : str
        ///     A word of `ENDINGS`.
        ///
        /// Returns
        /// -------
        /// numpy.ndarray
        ///     Share of lamps, (steps,); NaN for a cause not seen.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a word that is no ending.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curves = relamp.incidence(relamp.lives([10.0, 20.0, 30.0, 40.0], ending=["burst", "dim"] * 2))
        /// >>> curves.standard_error("burst").round(4).tolist()
        /// [0.2165, 0.2165, 0.25, 0.25]
        #[pyo3(signature = (cause))]
        fn standard_error<'py>(&self, py: Python<'py>, #[pyo3(from_py_with = args::cause)] cause: &str) -> PyResult<Bound<'py, PyAny>> {
            let errors = self.0.standard_error(ending("cause", cause)?);
            let none = || vec![f64::NAN; self.0.ages.len()];
            array(py, &errors.unwrap_or_else(none))
        }

        /// Lower and upper end of the band of the incidence of a cause at each step.
        ///
        /// It holds at one age at a time. The scale is that of the share that has not failed by the cause, so that with a
        /// single cause the band is that of the product-limit curve, turned over.
        ///
        /// Parameters
        /// ----------
        /// cause : str
        ///     A word of `ENDINGS`.
        /// level : float
        ///     Level of the band, inside (0, 1).
        /// band_scale : {"log_log", "log", "plain", "arcsine"}
        ///     The scale on which the band is symmetric, see `product_limit`.
        ///
        /// Returns
        /// -------
        /// numpy.ndarray
        ///     Share of lamps, (steps, 2); NaN for a cause not seen and where the incidence is 0 or 1.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For words that are no ending or no scale.
        /// DomainError
        ///     For a level that is not inside 0 to 1.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curves = relamp.incidence(relamp.lives([10.0, 20.0, 30.0, 40.0], ending=["burst", "dim"] * 2))
        /// >>> curves.band("burst", level=0.9, band_scale="plain")[2].round(4).tolist()
        /// [0.0888, 0.9112]
        #[pyo3(signature = (cause, *, level=0.95, band_scale="log_log"))]
        fn band<'py>(
            &self,
            py: Python<'py>,
            #[pyo3(from_py_with = args::cause)] cause: &str,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::band_scale)] band_scale: &str,
        ) -> PyResult<Bound<'py, PyAny>> {
            let band = self.0.band(ending("cause", cause)?, level, scale_of(band_scale)?)?;
            pairs(py, &band.unwrap_or_else(|| vec![None; self.0.ages.len()]))
        }

        /// Lower and upper end of the band of the incidence of a cause by an age, or by each of many.
        ///
        /// Parameters
        /// ----------
        /// cause : str
        ///     A word of `ENDINGS`.
        /// age : float or array-like
        ///     Hours.
        /// level : float
        ///     Level of the band, inside (0, 1), for one age at a time.
        /// band_scale : {"log_log", "log", "plain", "arcsine"}
        ///     The scale on which the band is symmetric, see `product_limit`.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Share of lamps, (low, high), (n, 2) for many; None, or NaN in an array, where the incidence is not known,
        ///     0 or 1.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For words that are no ending or no scale, and what is not a number.
        /// DomainError
        ///     For a level that is not inside 0 to 1.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curves = relamp.incidence(relamp.lives([10.0, 20.0, 30.0, 40.0], ending=["burst", "dim"] * 2))
        /// >>> [round(end, 4) for end in curves.band_at("burst", 35.0, level=0.9, band_scale="plain")]
        /// [0.0888, 0.9112]
        #[pyo3(signature = (cause, age, *, level=0.95, band_scale="log_log"))]
        fn band_at<'py>(
            &self,
            #[pyo3(from_py_with = args::cause)] cause: &str,
            age: &Bound<'py, PyAny>,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::band_scale)] band_scale: &str,
        ) -> PyResult<Bound<'py, PyAny>> {
            let cause = ending("cause", cause)?;
            let band = self.0.band(cause, level, scale_of(band_scale)?)?;
            pairs_over(age, at("age"), |age| Ok(band.as_ref().and_then(|b| self.0.within(b, cause, age))))
        }
    }
}

/// Estimates the probability to fail by each cause by each age while the other causes act too.
///
/// Incidences and reliability add up to 1 at every age.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// level : float
///     Level of the band, inside (0, 1).
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
/// min_at_risk : int
///     With late entry, the curves start at the first age from which this many lamps are at risk.
/// given_survival_to : float, optional
///     Starts the curves at this age, hours: they then hold for lamps that reached it.
///
/// Returns
/// -------
/// Incidence
///
/// Raises
/// ------
/// InputError
///     For an unknown reading, and what is not a number.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     Where no lamps, or too few, are at risk, and for failures known to an interval without a reading.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([10.0, 20.0], [10.0, 20.0], ending=["burst", "dim"])
/// >>> relamp.incidence(tally).endings
/// ('burst', 'dim')
#[pyfunction]
#[pyo3(signature = (tally, *, level=0.95, reading=None, min_at_risk=5, given_survival_to=None))]
pub(super) fn incidence(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
    #[pyo3(from_py_with = args::min_at_risk)] min_at_risk: u64,
    #[pyo3(from_py_with = args::given_survival_to)] given_survival_to: Option<f64>,
) -> PyResult<PyIncidence> {
    let options = options(level, reading.as_deref(), min_at_risk, given_survival_to)?;
    let tally = &tally.get().0;
    Ok(PyIncidence(work(py, None, |_| core_incidence(tally, &options))?))
}
