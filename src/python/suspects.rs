//! Worst-case bounds for suspect endings.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::empirical::{CurveOptions, EndingBounds, IncidenceBounds, SuspectOptions};
use crate::empirical::{ending_bounds as core_ending_bounds, incidence_bounds as core_incidence_bounds};

use super::arrays::pairs_over;
use super::empirical::{PyCurve, at, options};
use super::fixed::Fixed;
use super::frames::Frame;
use super::incidence::PyIncidence;
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::removal::words;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

/// Every age at which one of the curves steps.
fn ages<'a>(each: impl IntoIterator<Item = &'a [f64]>) -> Vec<f64> {
    let mut ages: Vec<f64> = each.into_iter().flatten().copied().collect();
    ages.sort_unstable_by(f64::total_cmp);
    ages.dedup();
    ages
}

fn bounds_table(b: &EndingBounds) -> Result<RecordBatch> {
    let ages = ages([b.if_none.ages(), b.if_all.ages()]);
    Frame::default()
        .numbers("age", ages.iter().copied())
        .numbers_or_null("if_all", ages.iter().map(|a| b.if_all.reliability_at(*a)))
        .numbers_or_null("if_none", ages.iter().map(|a| b.if_none.reliability_at(*a)))
        .numbers_or_null("low_with_chance", ages.iter().map(|a| b.outer_at(*a).map(|x| x.0)))
        .numbers_or_null("high_with_chance", ages.iter().map(|a| b.outer_at(*a).map(|x| x.1)))
        .finish()
}

fn incidence_table(b: &IncidenceBounds) -> Result<RecordBatch> {
    let ages = ages([b.if_none.ages.as_slice(), &b.if_all.ages, &b.if_otherwise.ages]);
    let column = |i: &crate::empirical::Incidence| ages.iter().map(|a| i.incidence_at(b.cause, *a)).collect::<Vec<_>>();
    Frame::default()
        .numbers("age", ages.iter().copied())
        .numbers_or_null("if_otherwise", column(&b.if_otherwise))
        .numbers_or_null("if_none", column(&b.if_none))
        .numbers_or_null("if_all", column(&b.if_all))
        .numbers_or_null("low_with_chance", ages.iter().map(|a| b.outer_at(*a).map(|x| x.0)))
        .numbers_or_null("high_with_chance", ages.iter().map(|a| b.outer_at(*a).map(|x| x.1)))
        .finish()
}

fn bounds_facts(b: &EndingBounds) -> Facts {
    let outer = b.outer_at(b.at.age_hours);
    facts! {
        "low": b.at.low, "high": b.at.high, "low_with_chance": outer.map(|o| o.0), "high_with_chance": outer.map(|o| o.1),
        "level": b.if_all.level(), "age_hours": b.at.age_hours, "informative": b.at.informative, "widest": b.at.widest, "suspects": words(&b.suspects), "suspect_lamps": b.suspect_lamps,
        "sentence": b.at.sentence,
    }
}

fn incidence_facts(b: &IncidenceBounds) -> Facts {
    let outer = b.outer_at(b.at.age_hours);
    facts! {
        "cause": b.cause.as_str(), "low": b.at.low, "high": b.at.high, "low_with_chance": outer.map(|o| o.0),
        "high_with_chance": outer.map(|o| o.1), "level": b.level, "age_hours": b.at.age_hours,
        "informative": b.at.informative, "widest": b.at.widest, "suspects": words(&b.suspects),
        "suspect_lamps": b.suspect_lamps, "sentence": b.at.sentence,
    }
}

result_class! {
    /// Bounds of the reliability whatever share of the suspect endings were failures; made by `ending_bounds`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> endings = ["burst", "unknown", "running"]
    /// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, None], ending=endings, count=[1, 2, 7])
    /// >>> bounds = relamp.ending_bounds(tally, suspects=["unknown"], age_hours=250.0, widest=0.1)
    /// >>> print(bounds.sentence)
    /// reliability at 250 h lies between 70 % and 90 % for these lamps, whatever became of 2 suspect lamps; with chance (95 %) between 32.9 % and 98.5 % for lamps like them; uninformative: wider than 10 % even without chance, so the endings must be settled first
    PyEndingBounds holds EndingBounds as "EndingBounds";
    save EndingBounds::to_json; load EndingBounds::from_json; table bounds_table; show bounds_facts;
    {
        /// The endings named as suspect.
        #[getter]
        fn suspects(&self) -> Fixed<&'static str> {
            Fixed(words(&self.0.suspects))
        }

        /// Lamps that ended so.
        #[getter]
        fn suspect_lamps(&self) -> u64 {
            self.0.suspect_lamps
        }

        /// The curve if none of them was a failure: the upper bound.
        #[getter]
        fn if_none(&self) -> PyCurve {
            PyCurve(self.0.if_none.clone())
        }

        /// The curve if each failed at the age of its ending: the lower bound.
        #[getter]
        fn if_all(&self) -> PyCurve {
            PyCurve(self.0.if_all.clone())
        }

        /// The age at which the bounds are judged, hours.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.at.age_hours
        }

        /// Lower bound of the reliability at the age.
        #[getter]
        fn low(&self) -> f64 {
            self.0.at.low
        }

        /// Upper bound of the reliability at the age.
        #[getter]
        fn high(&self) -> f64 {
            self.0.at.high
        }

        /// Whether the bounds at the age are no wider than asked, chance left out; figures of a dial are judged with it.
        #[getter]
        fn informative(&self) -> bool {
            self.0.at.informative
        }

        /// What the bounds at the age say, in one sentence.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.at.sentence
        }

        /// Lower and upper bound for the lamps of the records at an age, or at each of many.
        ///
        /// They know nothing of chance: see `outer_at`.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Hours.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Reliability, (low, high), (n, 2) for many; None, or NaN in an array, where no lamp was under observation.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> why = ["burst", "unknown", "running"]
        /// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, None], ending=why, count=[1, 2, 7])
        /// >>> bounds = relamp.ending_bounds(tally, suspects=["unknown"], age_hours=250.0)
        /// >>> [round(end, 6) for end in bounds.bounds_at(250.0)]
        /// [0.7, 0.9]
        fn bounds_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.bounds_at(a)))
        }

        /// Lower and upper bound for lamps like these at an age, or at each of many, with what chance may add.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Hours.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Reliability, (low, high), (n, 2) for many; None, or NaN in an array, where no lamp was under observation.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> why = ["burst", "unknown", "running"]
        /// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, None], ending=why, count=[1, 2, 7])
        /// >>> bounds = relamp.ending_bounds(tally, suspects=["unknown"], age_hours=250.0)
        /// >>> low, high = bounds.outer_at(250.0)
        /// >>> low < bounds.low, high > bounds.high
        /// (True, True)
        fn outer_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.outer_at(a)))
        }
    }
}

result_class! {
    /// Bounds of the incidence of one cause whatever the suspect endings were; made by `incidence_bounds`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> endings = ["burst", "unknown", "burst"]
    /// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, 300.0], ending=endings, count=[1, 2, 7])
    /// >>> bounds = relamp.incidence_bounds(tally, cause="burst", suspects=["unknown"], age_hours=300.0)
    /// >>> round(bounds.low, 6), round(bounds.high, 6)
    /// (0.8, 1.0)
    PyIncidenceBounds holds IncidenceBounds as "IncidenceBounds";
    save IncidenceBounds::to_json; load IncidenceBounds::from_json; table incidence_table; show incidence_facts;
    {
        /// The cause.
        #[getter]
        fn cause(&self) -> &'static str {
            self.0.cause.as_str()
        }

        /// The endings named as suspect.
        #[getter]
        fn suspects(&self) -> Fixed<&'static str> {
            Fixed(words(&self.0.suspects))
        }

        /// Lamps that ended so.
        #[getter]
        fn suspect_lamps(&self) -> u64 {
            self.0.suspect_lamps
        }

        /// Incidences if none of them was a failure.
        #[getter]
        fn if_none(&self) -> PyIncidence {
            PyIncidence(self.0.if_none.clone())
        }

        /// Incidences if each failed by the cause at the age of its ending: the upper bound.
        #[getter]
        fn if_all(&self) -> PyIncidence {
            PyIncidence(self.0.if_all.clone())
        }

        /// Incidences if each failed by some other cause: the lower bound.
        #[getter]
        fn if_otherwise(&self) -> PyIncidence {
            PyIncidence(self.0.if_otherwise.clone())
        }

        /// The age at which the bounds are judged, hours.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.at.age_hours
        }

        /// Lower bound of the incidence by the age.
        #[getter]
        fn low(&self) -> f64 {
            self.0.at.low
        }

        /// Upper bound of the incidence by the age.
        #[getter]
        fn high(&self) -> f64 {
            self.0.at.high
        }

        /// Whether the bounds at the age are no wider than asked, chance left out; figures of a dial are judged with it.
        #[getter]
        fn informative(&self) -> bool {
            self.0.at.informative
        }

        /// What the bounds at the age say, in one sentence.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.at.sentence
        }

        /// Lower and upper bound for the lamps of the records at an age, or at each of many.
        ///
        /// They know nothing of chance: see `outer_at`.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Hours.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Share failed by the cause, (low, high), (n, 2) for many; None, or NaN in an array, where no lamp was under observation.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> why = ["burst", "unknown", "running"]
        /// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, None], ending=why, count=[1, 2, 7])
        /// >>> bounds = relamp.incidence_bounds(tally, cause="burst", suspects=["unknown"], age_hours=250.0)
        /// >>> [round(end, 6) for end in bounds.bounds_at(250.0)]
        /// [0.1, 0.3]
        fn bounds_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.bounds_at(a)))
        }

        /// Lower and upper bound for lamps like these at an age, or at each of many, with what chance may add.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Hours.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Share failed by the cause, (low, high), (n, 2) for many; None, or NaN in an array, where no lamp was under observation.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> why = ["burst", "unknown", "running"]
        /// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, None], ending=why, count=[1, 2, 7])
        /// >>> bounds = relamp.incidence_bounds(tally, cause="burst", suspects=["unknown"], age_hours=250.0)
        /// >>> low, high = bounds.outer_at(250.0)
        /// >>> low < bounds.low, high > bounds.high
        /// (True, True)
        fn outer_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.outer_at(a)))
        }
    }
}

fn asked(suspects: Vec<String>, age_hours: f64, widest: f64, curve: CurveOptions) -> Result<SuspectOptions> {
    let suspects = suspects.iter().map(|word| ending("suspects", word)).collect::<Result<_>>()?;
    Ok(SuspectOptions { suspects, age_hours, widest, curve })
}

/// Bounds the reliability whatever share of the suspect endings were failures, each at the age it was filed with.
///
/// Suspect rows filed as failures count as none in the upper curve. The bounds speak of misfiled endings, not of lamps taken
/// out because they were about to fail.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// suspects : list of str
///     Endings that may hide failures, or hold what was none; words of `ENDINGS` other than "running".
/// age_hours : float
///     The age at which the bounds are judged.
/// widest : float
///     Widest bounds that still say something, as a share of lamps.
/// level : float
///     Level of the band of each curve, inside (0, 1).
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
/// min_at_risk : int
///     With late entry, the curves start at the first age from which this many lamps are at risk.
/// given_survival_to : float, optional
///     Starts the curves at this age, hours.
///
/// Returns
/// -------
/// EndingBounds
///
/// Raises
/// ------
/// InputError
///     For endings that are none or cannot be suspect, and what is not a number.
/// DomainError
///     For a width or a level out of range.
/// RefusedError
///     For an age that the curves do not know, and as `product_limit`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> endings = ["burst", "unknown", "running"]
/// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, None], ending=endings, count=[1, 2, 7])
/// >>> bounds = relamp.ending_bounds(tally, suspects=["unknown"], age_hours=250.0)
/// >>> round(bounds.low, 6), round(bounds.high, 6), bounds.informative
/// (0.7, 0.9, True)
#[pyfunction]
#[pyo3(signature = (tally, *, suspects, age_hours, widest=0.25, level=0.95, reading=None, min_at_risk=5, given_survival_to=None))]
pub(super) fn ending_bounds(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::suspects)] suspects: Vec<String>,
    #[pyo3(from_py_with = args::age_hours)] age_hours: f64,
    #[pyo3(from_py_with = args::widest)] widest: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
    #[pyo3(from_py_with = args::min_at_risk)] min_at_risk: u64,
    #[pyo3(from_py_with = args::given_survival_to)] given_survival_to: Option<f64>,
) -> PyResult<PyEndingBounds> {
    let curve = options(level, reading.as_deref(), min_at_risk, given_survival_to)?;
    let options = asked(suspects, age_hours, widest, curve)?;
    let tally = &tally.get().0;
    Ok(PyEndingBounds(work(py, None, |_| core_ending_bounds(tally, &options))?))
}

/// Bounds the incidence of one cause whatever the suspect endings were, each at the age it was filed with.
///
/// The upper bound takes every suspect row as a failure by the cause, the lower as one by another cause: a lamp that failed
/// otherwise can no longer fail by this one.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// cause : str
///     A word of `ENDINGS`.
/// suspects : list of str
///     Endings that may hide failures, or hold what was none; words of `ENDINGS` other than "running".
/// age_hours : float
///     The age at which the bounds are judged.
/// widest : float
///     Widest bounds that still say something, as a share of lamps.
/// level : float
///     Level at which chance is allowed for, inside (0, 1).
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
/// min_at_risk : int
///     With late entry, the curves start at the first age from which this many lamps are at risk.
/// given_survival_to : float, optional
///     Starts the curves at this age, hours.
///
/// Returns
/// -------
/// IncidenceBounds
///
/// Raises
/// ------
/// InputError
///     For endings that are none or cannot be suspect, and what is not a number.
/// DomainError
///     For a width or a level out of range.
/// RefusedError
///     For an age that the curves do not know, and as `incidence`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> endings = ["burst", "unknown", "burst"]
/// >>> tally = relamp.lives([100.0, 200.0, 300.0], [100.0, None, 300.0], ending=endings, count=[1, 2, 7])
/// >>> bounds = relamp.incidence_bounds(tally, cause="burst", suspects=["unknown"], age_hours=300.0, widest=0.1)
/// >>> bounds.informative
/// False
#[pyfunction]
#[pyo3(signature = (tally, *, cause, suspects, age_hours, widest=0.25, level=0.95, reading=None, min_at_risk=5, given_survival_to=None))]
pub(super) fn incidence_bounds(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::cause)] cause: &str,
    #[pyo3(from_py_with = args::suspects)] suspects: Vec<String>,
    #[pyo3(from_py_with = args::age_hours)] age_hours: f64,
    #[pyo3(from_py_with = args::widest)] widest: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
    #[pyo3(from_py_with = args::min_at_risk)] min_at_risk: u64,
    #[pyo3(from_py_with = args::given_survival_to)] given_survival_to: Option<f64>,
) -> PyResult<PyIncidenceBounds> {
    let cause = ending("cause", cause)?;
    let curve = options(level, reading.as_deref(), min_at_risk, given_survival_to)?;
    let options = asked(suspects, age_hours, widest, curve)?;
    let tally = &tally.get().0;
    Ok(PyIncidenceBounds(work(py, None, |_| core_incidence_bounds(tally, cause, &options))?))
}
