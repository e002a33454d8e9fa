//! Lamps taken out because they look about to fail: curves under a stated dependence, and bounds.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::empirical::{
    DependentCurve, RemovalBounds, RemovalBoundsOptions, RemovalOptions, dependent_curve as core_curve,
    removal_bounds as core_bounds,
};
use crate::records::Ending;

use super::arrays::{over, pairs_over};
use super::empirical::{PyCurve, at, reading_of};
use super::fixed::Fixed;
use super::frames::Frame;
use super::incidence::PyIncidence;
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

pub(super) fn words(endings: &[Ending]) -> Vec<&'static str> {
    endings.iter().map(|e| e.as_str()).collect()
}

/// What is asked about suspect removals.
pub(super) fn removal(
    suspects: &[String],
    endings: Option<Vec<String>>,
    reading: Option<&str>,
) -> Result<RemovalOptions> {
    let each = |input: &str, words: &[String]| words.iter().map(|word| ending(input, word)).collect::<Result<_>>();
    Ok(RemovalOptions {
        suspects: each("suspects", suspects)?,
        endings: endings.map(|words| each("endings", &words)).transpose()?,
        reading: reading_of(reading)?,
    })
}

fn curve_table(c: &DependentCurve) -> Result<RecordBatch> {
    Frame::default()
        .numbers("age", c.ages.iter().copied())
        .counts("at_risk", c.at_risk.iter().copied())
        .counts("failures", c.failures.iter().copied())
        .counts("removals", c.removals.iter().copied())
        .numbers("reliability", c.reliability.iter().copied())
        .numbers("not_removed", c.not_removed.iter().copied())
        .finish()
}

fn curve_facts(c: &DependentCurve) -> Facts {
    facts! {
        "tau": c.tau, "steps": c.ages.len(), "lamps": c.lamps, "suspects": words(&c.suspects),
        "suspect_lamps": c.suspect_lamps, "last_age": c.last_age, "sentence": c.sentence(),
    }
}

result_class! {
    /// Reliability by age if no lamp were taken out early, under a stated dependence; made by `dependent_curve`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> why = ["dim", "burst", "running"]
    /// >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
    /// >>> curve = relamp.dependent_curve(tally, suspects=["dim"], tau=0.5)
    /// >>> curve.suspect_lamps, curve.table().columns
    /// (5, ['age', 'at_risk', 'failures', 'removals', 'reliability', 'not_removed'])
    PyDependentCurve holds DependentCurve as "DependentCurve";
    save DependentCurve::to_json; load DependentCurve::from_json; table curve_table; show curve_facts;
    {
        /// Kendall's tau between the age at failure and the age at suspect removal.
        #[getter]
        fn tau(&self) -> f64 {
            self.0.tau
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

        /// What the curve stands for, in one sentence.
        #[getter]
        fn sentence(&self) -> String {
            self.0.sentence()
        }

        /// Probability to pass an age, or each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Hours.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     None, or NaN in an array, past the last age at which a lamp was under observation.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> why = ["dim", "burst", "running"]
        /// >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
        /// >>> round(relamp.dependent_curve(tally, suspects=["dim"], tau=0.0).reliability_at(250.0), 6)
        /// 0.8
        fn reliability_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(self.0.reliability_at(a)))
        }
    }
}

fn bounds_table(b: &RemovalBounds) -> Result<RecordBatch> {
    // Every end of the lower bound is a failure or a removal, so its steps are all there are.
    let ages = b.if_at_once.ages();
    Frame::default()
        .numbers("age", ages.iter().copied())
        .numbers_or_null("low", ages.iter().map(|a| b.bounds_at(*a).map(|x| x.0)))
        .numbers_or_null("high", ages.iter().map(|a| b.bounds_at(*a).map(|x| x.1)))
        .numbers_or_null("low_with_chance", ages.iter().map(|a| b.outer_at(*a).map(|x| x.0)))
        .numbers_or_null("high_with_chance", ages.iter().map(|a| b.outer_at(*a).map(|x| x.1)))
        .finish()
}

fn bounds_facts(b: &RemovalBounds) -> Facts {
    let outer = b.outer_at(b.at.age_hours);
    facts! {
        "low": b.at.low, "high": b.at.high, "low_with_chance": outer.map(|o| o.0), "high_with_chance": outer.map(|o| o.1),
        "level": b.if_at_once.level(), "age_hours": b.at.age_hours, "informative": b.at.informative,
        "widest": b.at.widest, "suspects": words(&b.suspects), "suspect_lamps": b.suspect_lamps,
        "sentence": b.at.sentence,
    }
}

result_class! {
    /// Bounds of the reliability whatever the lamps taken out early would have done; made by `removal_bounds`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> why = ["dim", "burst", "running"]
    /// >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
    /// >>> bounds = relamp.removal_bounds(tally, suspects=["dim"], age_hours=250.0)
    /// >>> print(bounds.sentence)
    /// reliability at 250 h lies between 40 % and 90 % for these lamps, whatever became of 5 suspect lamps; with chance (95 %) between 12.3 % and 98.5 % for lamps like them; uninformative: wider than 25 % even without chance, so the endings must be settled first
    PyRemovalBounds holds RemovalBounds as "RemovalBounds";
    save RemovalBounds::to_json; load RemovalBounds::from_json; table bounds_table; show bounds_facts;
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

        /// The curve if each would have failed at once: the lower bound.
        #[getter]
        fn if_at_once(&self) -> PyCurve {
            PyCurve(self.0.if_at_once.clone())
        }

        /// What failed ("unknown") while others were taken out ("other"): 1 less the failures is the upper bound.
        #[getter]
        fn if_never(&self) -> PyIncidence {
            PyIncidence(self.0.if_never.clone())
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
        /// They hold whatever became of the lamps taken out, and know nothing of chance: see `outer_at`.
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
        /// >>> why = ["dim", "burst", "running"]
        /// >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
        /// >>> low, high = relamp.removal_bounds(tally, suspects=["dim"], age_hours=250.0).bounds_at(150.0)
        /// >>> low, high
        /// (0.5, 1.0)
        fn bounds_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.bounds_at(a)))
        }

        /// Lower and upper bound for lamps like these at an age, or at each of many: with what chance may add to each.
        ///
        /// They are the lower end of the band of the lower bound and the upper end of that of the upper one, at the level
        /// of the bounds.
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
        /// >>> why = ["dim", "burst", "running"]
        /// >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
        /// >>> low, high = relamp.removal_bounds(tally, suspects=["dim"], age_hours=250.0).outer_at(250.0)
        /// >>> low < 0.4 and high > 0.9
        /// True
        fn outer_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.outer_at(a)))
        }
    }
}

/// Estimates the reliability without a family, under a stated dependence of suspect removals on failure.
///
/// Age at failure and age at suspect removal are joined by the Gumbel-Hougaard copula of their reliabilities. How strongly
/// cannot be learnt from the records, as each lamp shows only the earlier of the two; at 0 the curve is that of
/// `product_limit`. Zheng & Klein (1995), Biometrika 82, 127-138 (from memory).
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// suspects : list of str
///     Endings of lamps that were taken out because they looked about to fail; words of `ENDINGS` other than "running".
/// tau : float
///     Kendall's tau between the age at failure and the age at suspect removal, at least 0 and below 1.
/// endings : list of str, optional
///     Endings that count as failure; without it every failure but the suspects.
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
///
/// Returns
/// -------
/// DependentCurve
///
/// Raises
/// ------
/// InputError
///     For endings that are none or cannot be suspect.
/// DomainError
///     For a dependence out of range.
/// RefusedError
///     With late entry, where every lamp at risk had gone before others came; and as `product_limit`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> why = ["dim", "burst", "running"]
/// >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
/// >>> [round(relamp.dependent_curve(tally, suspects=["dim"], tau=t).reliability_at(200.0), 4) for t in (0.0, 0.5)]
/// [0.8, 0.5492]
#[pyfunction]
#[pyo3(signature = (tally, *, suspects, tau, endings=None, reading=None))]
pub(super) fn dependent_curve(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::suspects)] suspects: Vec<String>,
    #[pyo3(from_py_with = args::tau)] tau: f64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
) -> PyResult<PyDependentCurve> {
    let options = removal(&suspects, endings, reading.as_deref())?;
    let tally = &tally.get().0;
    Ok(PyDependentCurve(work(py, None, |_| core_curve(tally, tau, &options))?))
}

/// Bounds the reliability whatever the lamps that were taken out early would have done: fail at once, or never.
///
/// The bounds hold for every dependence of removal on failure, while the other rows that did not fail are independent of
/// both. Peterson (1976), Proceedings of the National Academy of Sciences 73, 11-13 (from memory).
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// suspects : list of str
///     Endings of lamps that were taken out because they looked about to fail; words of `ENDINGS` other than "running".
/// age_hours : float
///     The age at which the bounds are judged.
/// widest : float
///     Widest bounds that still say something, as a share of lamps.
/// level : float
///     Level of the bands of both bounds, inside (0, 1).
/// endings : list of str, optional
///     Endings that count as failure; without it every failure but the suspects.
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
///
/// Returns
/// -------
/// RemovalBounds
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
/// >>> why = ["dim", "burst", "running"]
/// >>> tally = relamp.lives([100, 200, 300], [None, 200, None], ending=why, count=[5, 1, 4])
/// >>> bounds = relamp.removal_bounds(tally, suspects=["dim"], age_hours=250.0)
/// >>> round(bounds.low, 6), round(bounds.high, 6), bounds.informative
/// (0.4, 0.9, False)
#[pyfunction]
#[pyo3(signature = (tally, *, suspects, age_hours, widest=0.25, level=0.95, endings=None, reading=None))]
pub(super) fn removal_bounds(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::suspects)] suspects: Vec<String>,
    #[pyo3(from_py_with = args::age_hours)] age_hours: f64,
    #[pyo3(from_py_with = args::widest)] widest: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
) -> PyResult<PyRemovalBounds> {
    let removal = removal(&suspects, endings, reading.as_deref())?;
    let options = RemovalBoundsOptions { removal, age_hours, widest, level };
    let tally = &tally.get().0;
    Ok(PyRemovalBounds(work(py, None, |_| core_bounds(tally, &options))?))
}
