//! The product-limit curve, and what it shares with other curves without a family.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::empirical::product_limit as core_product_limit;
use crate::empirical::simultaneous_band as core_simultaneous_band;
use crate::empirical::simultaneous_hazard_band as core_simultaneous_hazard_band;
use crate::empirical::{BandScale, Curve, CurveNote, CurveOptions, HazardScale};
use crate::lives::Reading;

use super::arrays::{array, array_or_nan, each, open_pairs_over, over, pairs, pairs_over};
use super::error::{refuse, warn};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args};
use super::lives::PyTally;
use super::result::result_class;
use super::show::{Facts, facts};
use super::spread::PyMeanHours;
use super::work::work;

/// Name of the note on an interval of no width.
const NO_WIDTH: &str = "empirical.no_width";

pub(super) fn at(input: &'static str) -> At<'static> {
    At { input, column: "" }
}

pub(super) fn sentences(notes: &[CurveNote]) -> Vec<(String, String)> {
    notes.iter().map(|n| (n.rule.clone(), n.sentence.clone())).collect()
}

fn steps(curve: &Curve) -> Result<RecordBatch> {
    let (band, hazard) = (curve.band(), curve.cumulative_hazard_band());
    // An end that the records do not bound is none in a table.
    let bounded = |end: f64| Some(end).filter(|end| end.is_finite());
    Frame::default()
        .numbers("age", curve.ages().iter().copied())
        .counts("at_risk", curve.at_risk().iter().copied())
        .counts("failures", curve.failures().iter().copied())
        .numbers("reliability", curve.reliability().iter().copied())
        .numbers("cumulative_hazard", curve.cumulative_hazard().iter().copied())
        .numbers_or_null("standard_error", curve.standard_error())
        .numbers_or_null("band_low", band.iter().map(|b| b.map(|b| b.0)))
        .numbers_or_null("band_high", band.iter().map(|b| b.map(|b| b.1)))
        .numbers_or_null("cumulative_hazard_standard_error", curve.cumulative_hazard_standard_error())
        .numbers_or_null("cumulative_hazard_low", hazard.iter().map(|b| b.map(|b| b.0)))
        .numbers_or_null("cumulative_hazard_high", hazard.iter().map(|b| b.and_then(|b| bounded(b.1))))
        .finish()
}

fn curve_facts(c: &Curve) -> Facts {
    facts! {
        "lamps": c.lamps(), "failures": c.failures().iter().sum::<u64>(), "steps": c.ages().len(),
        "median": c.median(), "last_age": c.last_age(), "conditional_from": c.conditional_from(),
        "level": c.level(), "band_scale": c.band_scale().as_str(), "hazard_scale": c.hazard_scale().as_str(),
        "reading": c.reading().map(Reading::as_str),
        "notes": c.notes().iter().map(|n| n.sentence.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Reliability and cumulative hazard as step functions of age; made by `product_limit`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0], [100.0, None], count=[1, 9]))
    /// >>> curve.reliability_at(150.0)
    /// 0.9
    /// >>> curve.median is None
    /// True
    PyCurve holds Curve as "Curve";
    save Curve::to_json; load Curve::from_json; table steps; show curve_facts;
    {
        /// Ages at which lamps failed, ascending, hours, (steps,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.ages())
        }

        /// Lamps at risk at each step, (steps,).
        #[getter]
        fn at_risk<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.at_risk())
        }

        /// Failures at each step, (steps,).
        #[getter]
        fn failures<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.failures())
        }

        /// Probability to pass each age, (steps,).
        #[getter]
        fn reliability<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.reliability())
        }

        /// Cumulative hazard at each step, (steps,).
        #[getter]
        fn cumulative_hazard<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.cumulative_hazard())
        }

        /// Standard error of the reliability at each step, (steps,); NaN where the reliability is 0.
        #[getter]
        fn standard_error<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array_or_nan(py, self.0.standard_error())
        }

        /// Lower and upper end of the band at each step, (steps, 2); NaN where the reliability is 0 or 1.
        #[getter]
        fn band<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            pairs(py, &self.0.band())
        }

        /// Lower and upper end of Nair's equal-precision band at each step.
        ///
        /// It holds along the whole curve at once with the level of the curve, on the scale of asin(sqrt R).
        ///
        /// Returns
        /// -------
        /// numpy.ndarray
        ///     Reliability, (steps, 2).
        ///
        /// Raises
        /// ------
        /// DomainError
        ///     For a curve whose level is below 0.5, where there is no such band.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900]))
        /// >>> low, high = curve.simultaneous_band()[4]
        /// >>> bool(low < curve.band[4, 0] and curve.band[4, 1] < high)
        /// True
        fn simultaneous_band<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            pairs(py, &core_simultaneous_band(&self.0)?.each)
        }

        /// Standard error of the cumulative hazard at each step, (steps,): the root of the sum of d / n^2 (Aalen, 1978).
        ///
        /// NaN for a curve saved before curves held it.
        #[getter]
        fn cumulative_hazard_standard_error<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array_or_nan(py, self.0.cumulative_hazard_standard_error())
        }

        /// Lower and upper end of the band of the cumulative hazard at each step, (steps, 2), on `hazard_scale`; an upper
        /// end is infinite where the records do not bound the hazard.
        #[getter]
        fn cumulative_hazard_band<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            pairs(py, &self.0.cumulative_hazard_band())
        }

        /// Lower and upper end of the equal-precision band of the cumulative hazard at each step.
        ///
        /// It holds along the whole curve at once with the level of the curve, on the scale of asin(sqrt(exp(-H))), by the
        /// factor of `simultaneous_band` (Bie, Borgan and Liestol, 1987).
        ///
        /// Returns
        /// -------
        /// numpy.ndarray
        ///     Cumulative hazard, without unit, (steps, 2); NaN where the reliability is 0, an infinite upper end where the
        ///     records do not bound the hazard.
        ///
        /// Raises
        /// ------
        /// DomainError
        ///     For a curve whose level is below 0.5, where there is no such band.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> curve = relamp.product_limit(tally, hazard_scale="arcsine")
        /// >>> low, high = curve.simultaneous_cumulative_hazard_band()[4]
        /// >>> bool(low < curve.cumulative_hazard_band[4, 0] and curve.cumulative_hazard_band[4, 1] < high)
        /// True
        fn simultaneous_cumulative_hazard_band<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            pairs(py, &core_simultaneous_hazard_band(&self.0)?.each)
        }

        /// Level of the bands.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level()
        }

        /// The scale on which the band is symmetric, see `product_limit`.
        #[getter]
        fn band_scale(&self) -> &'static str {
            self.0.band_scale().as_str()
        }

        /// The scale on which the band of the cumulative hazard is symmetric, see `product_limit`.
        #[getter]
        fn hazard_scale(&self) -> &'static str {
            self.0.hazard_scale().as_str()
        }

        /// The curve holds for lamps that reached this age, hours; 0 for a curve from new.
        #[getter]
        fn conditional_from(&self) -> f64 {
            self.0.conditional_from()
        }

        /// Largest age at which a lamp was under observation, hours; past it nothing is known.
        #[getter]
        fn last_age(&self) -> f64 {
            self.0.last_age()
        }

        /// How failures known to an interval were read; None where there were none.
        #[getter]
        fn reading(&self) -> Option<&'static str> {
            self.0.reading().map(Reading::as_str)
        }

        /// Failures known only to an interval.
        #[getter]
        fn interval_failures(&self) -> u64 {
            self.0.interval_failures()
        }

        /// Lamps behind the curve.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.lamps()
        }

        /// Age by which half the lamps have failed, hours; None where it is not reached.
        #[getter]
        fn median(&self) -> Option<f64> {
            self.0.median()
        }

        /// What to know when reading the curve: pairs of rule and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(sentences(self.0.notes()))
        }

        /// Probability to pass an age, or each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     Probability, 0 to 1;
        ///     None, or NaN in an array, where the curve does not know.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> round(curve.reliability_at(150.0), 4), curve.reliability_at(900.0)
        /// (0.6667, None)
        fn reliability_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(self.0.reliability_at(a)))
        }

        /// Cumulative hazard at an age, or at each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     Without unit;
        ///     None, or NaN in an array, where the curve does not know.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> round(curve.cumulative_hazard_at(250.0), 4)
        /// 0.8333
        fn cumulative_hazard_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(self.0.cumulative_hazard_at(a)))
        }

        /// Standard error of the cumulative hazard at an age, or at each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     Without unit; none before the first failure;
        ///     None, or NaN in an array, where the curve does not know.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> round(curve.cumulative_hazard_standard_error_at(250.0), 4)
        /// 0.6009
        fn cumulative_hazard_standard_error_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(self.0.cumulative_hazard_standard_error_at(a)))
        }

        /// Lower and upper end of the band of the cumulative hazard at an age, or at each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Cumulative hazard, without unit, (low, high), (n, 2) for many;
        ///     None, or NaN in an array, before the first failure and past the last age.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> low, high = curve.cumulative_hazard_band_at(150.0)
        /// >>> round(low, 4), round(high, 4), curve.cumulative_hazard_band_at(50.0)
        /// (0.047, 2.3664, None)
        fn cumulative_hazard_band_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.cumulative_hazard_band_at(a)))
        }

        /// Standard error of the reliability at an age, or at each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     On the scale of the reliability; none before the first failure;
        ///     None, or NaN in an array, where the curve does not know.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> round(curve.standard_error_at(250.0), 4), curve.standard_error_at(50.0)
        /// (0.2722, None)
        fn standard_error_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(self.0.standard_error_at(a)))
        }

        /// Lower and upper end of the band at an age, or at each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// tuple of float, None or numpy.ndarray
        ///     Reliability, (low, high), (n, 2) for many;
        ///     None, or NaN in an array, where there is no band: at reliability 0 or 1, and past the last age.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> low, high = curve.band_at(150.0)
        /// >>> round(low, 4), round(high, 4), curve.band_at(50.0)
        /// (0.0541, 0.9452, None)
        fn band_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            pairs_over(age, at("age"), |a| Ok(self.0.band_at(a)))
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
        ///     Lamps, 0 past the oldest; None, or NaN in an array, for an age below 0, and for a curve that was saved
        ///     before curves held this.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0], [100.0, None]))
        /// >>> curve.at_risk_at([0.0, 100.0, 150.0, 250.0]).tolist()
        /// [2.0, 2.0, 1.0, 0.0]
        fn at_risk_at<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(self.0.at_risk_at(a).map(|n| n as f64)))
        }

        /// Smallest age by which a share has failed.
        ///
        /// Parameters
        /// ----------
        /// p : float or array-like
        ///     Share, 0 to 1.
        ///
        /// Returns
        /// -------
        /// float, None or numpy.ndarray
        ///     Age, hours; None, or NaN in an array, where the share is not reached.
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
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> curve.quantile(0.5), curve.quantile(0.9)
        /// (200.0, None)
        fn quantile<'py>(&self, p: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(p, at("p"), |p| Ok(self.0.quantile(p)?))
        }

        /// Mean hours worked from `conditional_from` to an age, or to each of many.
        ///
        /// Parameters
        /// ----------
        /// to : float or array-like
        ///     Age, hours, at most `last_age`.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Hours.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// RefusedError
        ///     For an age that the curve does not reach.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> curve.restricted_mean(300.0)
        /// 200.0
        fn restricted_mean<'py>(&self, to: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(to, at("to"), |a| Ok(Some(self.0.restricted_mean(a)?)))
        }

        /// The ages that the records do not speak against as the age by which a share has failed.
        ///
        /// They are the ages at which the band holds 1 - p, so that each age is tested by itself (Brookmeyer and Crowley,
        /// 1982).
        ///
        /// Parameters
        /// ----------
        /// p : float or array-like
        ///     Share, inside (0, 1).
        ///
        /// Returns
        /// -------
        /// tuple or numpy.ndarray
        ///     Ages, hours, (low, high) at the level of the curve, (n, 2) for many; None, or NaN in an array, where the
        ///     records do not bound it.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// DomainError
        ///     For a share that is not inside 0 to 1.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0 * i for i in range(1, 21)]))
        /// >>> curve.quantile_interval(0.5), curve.quantile_interval(0.97)
        /// ((500.0, 1500.0), (1800.0, None))
        fn quantile_interval<'py>(&self, p: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            open_pairs_over(p, at("p"), |share| {
                let interval = self.0.quantile_interval(share)?;
                if let Some(text) = interval.note() {
                    warn(p.py(), "WeakDataWarning", &format!("{text} [{NO_WIDTH}]"))?;
                }
                Ok((interval.low, interval.high))
            })
        }

        /// Mean hours worked from `conditional_from` to an age, or to each of many, with variance and interval.
        ///
        /// Parameters
        /// ----------
        /// to : float or array-like
        ///     Age, hours, at most `last_age`.
        ///
        /// Returns
        /// -------
        /// MeanHours or list of MeanHours
        ///     One for each age.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// RefusedError
        ///     For an age that the curve does not reach.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0, 400.0]))
        /// >>> mean = curve.restricted_mean_interval(400.0)
        /// >>> mean.mean_hours, round(mean.standard_error, 2)
        /// (250.0, 55.9)
        /// >>> [mean.mean_hours for mean in curve.restricted_mean_interval([200.0, 400.0])]
        /// [175.0, 250.0]
        fn restricted_mean_interval<'py>(&self, to: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            each(to, at("to"), |to| Ok(PyMeanHours(self.0.restricted_mean_interval(to)?)))
        }

        /// Mean hours left for lamps that reached an age, or each of many, counted up to the last age seen; the sentence
        /// says so.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours, from `conditional_from` to below `last_age`.
        ///
        /// Returns
        /// -------
        /// MeanHours or list of MeanHours
        ///     One for each age.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// RefusedError
        ///     For an age that no lamp was seen to pass.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]))
        /// >>> print(curve.mean_residual_life(100.0).sentence)
        /// mean hours for lamps that reached 100 h: hours past 300 h are not counted, and 50 % of these lamps still work there
        /// >>> [mean.mean_hours for mean in curve.mean_residual_life([0.0, 100.0])]
        /// [200.0, 150.0]
        fn mean_residual_life<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            each(age, at("age"), |age| Ok(PyMeanHours(self.0.mean_residual_life(age)?)))
        }
    }
}

/// A reading of intervals from its word.
pub(super) fn reading_of(reading: Option<&str>) -> Result<Option<Reading>> {
    let known = [Reading::Upper, Reading::Midpoint, Reading::Lower];
    match reading.map(|word| (word, known.into_iter().find(|r| r.as_str() == word))) {
        None => Ok(None),
        Some((_, Some(reading))) => Ok(Some(reading)),
        Some((word, None)) => {
            let expected = "upper, midpoint or lower";
            Err(refuse("python.reading", "not a reading of an interval", "reading", "", word, expected))
        }
    }
}

pub(super) fn options(level: f64, reading: Option<&str>, min_at_risk: u64, given: Option<f64>) -> Result<CurveOptions> {
    let reading = reading_of(reading)?;
    Ok(CurveOptions { level, reading, min_at_risk, given_survival_to: given, ..CurveOptions::default() })
}

/// The scale of a band from its word.
pub(super) fn scale_of(word: &str) -> Result<BandScale> {
    let expected = BandScale::ALL.map(BandScale::as_str).join(", ");
    BandScale::from_word(word)
        .ok_or_else(|| refuse("python.band_scale", "not a scale of a band", "band_scale", "", word, &expected))
}

/// The scale of a band of the cumulative hazard from its word.
fn hazard_scale_of(word: &str) -> Result<HazardScale> {
    let expected = HazardScale::ALL.map(HazardScale::as_str).join(", ");
    HazardScale::from_word(word).ok_or_else(|| {
        refuse("python.hazard_scale", "not a scale of a band of the hazard", "hazard_scale", "", word, &expected)
    })
}

/// Estimates reliability and cumulative hazard of the lamps of a tally without assuming a family.
///
/// R is the product over failure ages of (n - d) / n, its variance R^2 times the sum of d / (n (n - d)); H is the sum of
/// d / n, its variance the sum of d / n^2 (Aalen, 1978). n: lamps at risk; d: failures.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// level : float
///     Level of the bands, inside (0, 1).
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
/// min_at_risk : int
///     With late entry, the curve starts at the first age from which this many lamps are at risk.
/// given_survival_to : float, optional
///     Starts the curve at this age, hours: it then holds for lamps that reached it.
/// band_scale : {"log_log", "log", "plain", "arcsine"}
///     The transformation of the reliability R on which the band is symmetric: ln(-ln R), ln R, R itself, or asin(sqrt R).
/// hazard_scale : {"log", "plain", "arcsine"}
///     The transformation of the cumulative hazard H on which its band is symmetric: ln H, H itself, or asin(sqrt(exp(-H))).
///
/// Returns
/// -------
/// Curve
///
/// Raises
/// ------
/// InputError
///     For an unknown reading or scale, and what is not a number.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     Where no lamps, or too few, are at risk, and for failures known to an interval without a reading.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> curve = relamp.product_limit(relamp.lives([100.0, 200.0], [100.0, None], count=[1, 9]), level=0.9)
/// >>> curve.reliability_at([50.0, 150.0]).tolist()
/// [1.0, 0.9]
/// >>> plain = relamp.product_limit(relamp.lives([100.0, 200.0, 300.0], [100.0, 200.0, None]), band_scale="plain")
/// >>> plain.band[0].round(4).tolist()
/// [0.1332, 1.0]
/// >>> plain.cumulative_hazard_standard_error.round(4).tolist(), plain.cumulative_hazard_band[0].round(4).tolist()
/// ([0.3333, 0.6009], [0.047, 2.3664])
#[pyfunction]
#[pyo3(signature = (tally, *, level=0.95, reading=None, min_at_risk=5, given_survival_to=None, band_scale="log_log",
    hazard_scale="log"))]
pub(super) fn product_limit(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
    #[pyo3(from_py_with = args::min_at_risk)] min_at_risk: u64,
    #[pyo3(from_py_with = args::given_survival_to)] given_survival_to: Option<f64>,
    #[pyo3(from_py_with = args::band_scale)] band_scale: &str,
    #[pyo3(from_py_with = args::hazard_scale)] hazard_scale: &str,
) -> PyResult<PyCurve> {
    let (band_scale, hazard_scale) = (scale_of(band_scale)?, hazard_scale_of(hazard_scale)?);
    let options = CurveOptions {
        band_scale,
        hazard_scale,
        ..options(level, reading.as_deref(), min_at_risk, given_survival_to)?
    };
    let tally = &tally.get().0;
    Ok(PyCurve(work(py, None, |_| core_product_limit(tally, &options))?))
}
