//! From censored lives and a family to fitted models with their uncertainty.

use arrow_array::RecordBatch;
use numpy::{PyArray1, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{Fit, Identified, fit as core_fit};

use super::arrays::array;
use super::error::warn;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::life::{Named, PyLife};
use super::lives::PyTally;
use super::policy::word;
use super::profiles::{PyLikelihoodRegion, PyProfileCurve};
use super::question::{Asked, Given, sides as sides_of};
use super::result::result_class;
use super::show::{Facts, facts};
use super::small_samples::PyShapeCorrection;
use super::uncertainty::{PyFitCheck, PyInterval, options};
use super::work::work;

const FIT: Format = Format::new("fit", 1);

fn parameter_table(f: &Fit) -> Result<RecordBatch> {
    let named = f.parameters();
    let marks = || named.iter().map(|p| f.mark_of(p.0));
    Frame::default()
        .texts("parameter", named.iter().map(|p| p.0))
        .numbers_or_null("estimate", named.iter().map(|p| p.1))
        .numbers_or_null("standard_error", named.iter().map(|p| f.standard_error(p.0)))
        .texts("identified", marks().map(|m| m.map_or(String::new(), |m| word(&m.identified))))
        .numbers_or_null("low", marks().map(|m| m?.low))
        .numbers_or_null("high", marks().map(|m| m?.high))
        .finish()
}

fn fit_facts(f: &Fit) -> Facts {
    let mut facts: Facts = facts! { "family": f.family_name() };
    facts.extend(f.parameters().into_iter().map(|(name, value)| match f.mark_of(name) {
        Some(mark) if mark.identified == Identified::No => {
            (name, serde_json::json!(format!("not settled, {}", mark.bounds())))
        }
        _ => (name, serde_json::json!(value)),
    }));
    let marks: Vec<String> =
        f.identified().iter().map(|m| format!("{} {}", m.parameter, word(&m.identified))).collect();
    if !marks.is_empty() {
        facts.extend(facts! { "identified": marks });
    }
    if !f.peaks().is_empty() {
        facts.extend(facts! { "peaks": f.peaks().iter().map(|p| p.log_likelihood).collect::<Vec<_>>() });
    }
    let facts_in = f.facts();
    facts.extend(facts! {
        "lamps": facts_in.lamps, "failures": facts_in.failures, "converged": f.converged(), "stop": word(&f.stop()),
        "log_likelihood": f.log_likelihood(), "aic": f.aic(), "oldest_at_risk_hours": facts_in.oldest_at_risk_hours,
        "notes": f.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    });
    facts
}

/// Ends and profile of a parameter.
type Bounds = (Option<f64>, Option<f64>, Vec<(f64, f64)>);

result_class! {
    /// A fitted life model: estimates, covariance, likelihood, and why the search stopped; made by `fit`.
    ///
    /// It holds numbers, never data.
    PyFit holds Fit as "Fit";
    save |f| saved::save(FIT, f); load |t| saved::load(FIT, t); table parameter_table; show fit_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// Estimates by name; None for one that the records do not settle: `bounds` has its ends and its profile. `life`
        /// stands at the maximum of the likelihood all the same.
        #[getter]
        fn parameters<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for (name, value) in self.0.parameters() {
                dict.set_item(name, value)?;
            }
            Ok(dict)
        }

        /// One estimate by name.
        ///
        /// Parameters
        /// ----------
        /// name : str
        ///     Such as "shape".
        ///
        /// Returns
        /// -------
        /// float or None
        ///     In hours for ages, without unit for a shape; None if the family has no such parameter, or the records do not
        ///     settle it.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> fit = relamp.fit(tally)
        /// >>> round(fit.parameter("scale"), 1), fit.parameter("mean")
        /// (654.6, None)
        #[pyo3(signature = (name, /))]
        fn parameter(&self, #[pyo3(from_py_with = args::name)] name: &str) -> Option<f64> {
            self.0.parameter(name)
        }

        /// Standard error of a parameter by name, from the curvature at the maximum.
        ///
        /// Parameters
        /// ----------
        /// name : str
        ///     Such as "shape".
        ///
        /// Returns
        /// -------
        /// float or None
        ///     In the unit of the parameter; None if it is held on its boundary or not settled, or for another name.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> fit = relamp.fit(tally)
        /// >>> round(fit.standard_error("scale"), 1)
        /// 58.3
        #[pyo3(signature = (name, /))]
        fn standard_error(&self, #[pyo3(from_py_with = args::name)] name: &str) -> Option<f64> {
            self.0.standard_error(name)
        }

        /// Covariance of the parameters on their own scale, (width, width).
        #[getter]
        fn covariance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            py.import("numpy")?;
            let n = self.0.coordinates().len();
            let each = (0..n).flat_map(|i| (0..n).map(move |j| (i, j)));
            let flat: Vec<f64> = each.map(|(i, j)| self.0.covariance(i, j).unwrap_or(f64::NAN)).collect();
            Ok(PyArray1::from_slice(py, &flat).reshape([n, n])?.into_any())
        }

        /// Unconstrained coordinates at the maximum, (width,).
        #[getter]
        fn coordinates<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.coordinates())
        }

        /// Maximised log-likelihood, densities per hour.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood()
        }

        /// Akaike's criterion; smaller is better, on the same data only.
        #[getter]
        fn aic(&self) -> f64 {
            self.0.aic()
        }

        /// Whether the search reached the maximum.
        #[getter]
        fn converged(&self) -> bool {
            self.0.converged()
        }

        /// Why the search stopped, one word.
        #[getter]
        fn stop(&self) -> String {
            word(&self.0.stop())
        }

        /// The parameter along which the likelihood rises for ever, or None for a fit at a highest point. Such a fit
        /// tells how failures lie within the window (`within_window`) and nothing else.
        #[getter]
        fn limit(&self) -> Option<String> {
            self.0.limit().map(str::to_owned)
        }

        /// Iterations of the search.
        #[getter]
        fn iterations(&self) -> u64 {
            self.0.iterations()
        }

        /// Distance to the true maximum in standard errors.
        #[getter]
        fn scaled_gradient(&self) -> f64 {
            self.0.scaled_gradient()
        }

        /// Condition of the information matrix with its diagonal scaled to 1: 1 is best.
        #[getter]
        fn condition(&self) -> f64 {
            self.0.condition()
        }

        /// Lamps that were watched for any time at all; `Tally.lamps` counts those never watched too.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.facts().lamps
        }

        /// Lamps that failed; the sample size that counts.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.facts().failures
        }

        /// Lamps that did not fail.
        #[getter]
        fn censored(&self) -> u64 {
            self.0.facts().censored
        }

        /// Hours under observation.
        #[getter]
        fn exposure_hours(&self) -> f64 {
            self.0.facts().exposure_hours
        }

        /// Oldest age at which a lamp was at risk, hours; past it the model is the family's opinion.
        #[getter]
        fn oldest_at_risk_hours(&self) -> f64 {
            self.0.facts().oldest_at_risk_hours
        }

        /// Whether the records settle each parameter: "yes", "weakly" or "no" by name. Empty where it was not looked at:
        /// a fit of more than 10,000 distinct rows with weak curvature; `identify` looks then.
        #[getter]
        fn identified<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for mark in self.0.identified() {
                dict.set_item(&mark.parameter, word(&mark.identified))?;
            }
            Ok(dict)
        }

        /// Ends at 95 % and profile of a parameter, as they mark it settled or not: by curvature where that is strong, as those
        /// of `wald`, else by profile likelihood.
        ///
        /// Parameters
        /// ----------
        /// name : str
        ///     Such as "shape".
        ///
        /// Returns
        /// -------
        /// tuple of (float or None, float or None, list of pairs) or None
        ///     Lower and upper end in the unit of the parameter, None where the records do not bound it; and, for a
        ///     parameter that is not settled, pairs of a value and how far the best log-likelihood falls there. None for a
        ///     parameter that was not looked at.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> low, high, profile = relamp.fit(tally).bounds("scale")
        /// >>> low < 654.6 < high, profile
        /// (True, [])
        #[pyo3(signature = (name, /))]
        fn bounds(&self, #[pyo3(from_py_with = args::name)] name: &str) -> Option<Bounds> {
            self.0.mark_of(name).map(|m| (m.low, m.high, m.profile.clone()))
        }

        /// Local maxima of the likelihood, highest first, the first being the one given: triples of parameters,
        /// log-likelihood and how many searches ended there. Empty but for the generalised gamma and families made of
        /// others.
        #[getter]
        fn peaks<'py>(&self, py: Python<'py>) -> PyResult<Fixed<(Bound<'py, PyDict>, f64, u64)>> {
            let peaks = self.0.peaks().iter();
            peaks
                .map(|peak| {
                    let dict = PyDict::new(py);
                    for ((name, _), value) in self.0.parameters().iter().zip(&peak.parameters) {
                        dict.set_item(name, value)?;
                    }
                    Ok((dict, peak.log_likelihood, peak.searches))
                })
                .collect()
        }

        /// The same fit with every parameter marked from its profile likelihood, whatever the number of rows.
        ///
        /// A parameter is settled ("yes") if its 95 % profile interval is bounded on both sides and reaches about as far
        /// as the curvature says, within a factor of 3. It is "weakly" settled if the interval is open on one side or
        /// the two disagree, and not settled ("no") if it is open on both or the profile stays level over a stretch; a
        /// share also if it may be 0 or 1, and any parameter of records that show failures only also if open on one
        /// side. The share of a mixture is not settled either where one kind of lamps explains the records about as
        /// well.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The one that was fitted.
        /// endings : list of str, optional
        ///     The ones that were fitted.
        ///
        /// Returns
        /// -------
        /// Fit
        ///     With `identified`, and a note for each parameter that is weakly settled or not.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     `fit.other_data` if the tally is not the fitted one.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> relamp.fit(tally).identify(tally).identified
        /// {'shape': 'yes', 'scale': 'yes'}
        #[pyo3(signature = (tally, *, endings=None))]
        fn identify(&self, py: Python<'_>, #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>, #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>) -> PyResult<Self> {
            let (options, tally) = (options(endings)?, &tally.get().0);
            let fit = work(py, None, |run| self.0.identify(tally, &options, run))?;
            tell(py, &fit)?;
            Ok(Self(fit))
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            self.0.notes().iter().map(|n| (n.slug.clone(), n.text.clone())).collect()
        }

        /// An interval from the curvature at the maximum, of one quantity.
        ///
        /// Exactly one of `parameter`, `quantile`, `b_life`, `reliability`, `hazard`, `mean`, `failure_within` and
        /// `function` says which.
        ///
        /// Parameters
        /// ----------
        /// parameter : str, optional
        ///     Name of a parameter.
        /// quantile : float, optional
        ///     Asks for the age by which this share has failed, inside 0 to 1.
        /// b_life : float, optional
        ///     Asks for the age by which this many percent have failed, inside 0 to 100.
        /// reliability : float, optional
        ///     Asks for the probability to pass this age, hours.
        /// hazard : float, optional
        ///     Asks for the failures per hour at this age, hours.
        /// mean : bool
        ///     Asks for the mean age at failure.
        /// failure_within : (float, float), optional
        ///     Age and hours: asks for the probability that a lamp of this age fails within these hours.
        /// function : callable, optional
        ///     Asks for a function of a `Life` that gives a number; its slopes are taken numerically.
        /// scale : {"plain", "positive", "share"}
        ///     For a function: where its interval is made; "positive" on its logarithm, "share" between 0 and 1.
        /// level : float
        ///     Confidence level, inside 0 to 1.
        /// sides : {"both", "lower", "upper"}
        ///     Which ends; one alone has the whole level.
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For none or more than one quantity, an unknown parameter or side, a level out of range, and what is no
        ///     number.
        /// DomainError
        ///     For a share, percentage or age out of range.
        /// RefusedError
        ///     Where the curvature gives no interval.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> fit = relamp.fit(tally)
        /// >>> interval = fit.wald(b_life=10.0, level=0.9)
        /// >>> interval.low < interval.estimate < interval.high
        /// True
        /// >>> fit.wald(parameter="shape", sides="lower").high is None
        /// True
        /// >>> fit.wald(failure_within=(500.0, 100.0)).quantity
        /// 'failure within 100 h from 500 h'
        /// >>> def spread(life):
        /// ...     return life.b_life(90.0) / life.b_life(10.0)
        /// >>> own = fit.wald(function=spread, scale="positive")
        /// >>> own.quantity, own.low < own.estimate < own.high
        /// ('spread', True)
        #[pyo3(signature = (*, parameter=None, quantile=None, b_life=None, reliability=None, hazard=None, mean=false,
            failure_within=None, function=None, scale="plain", level=0.95, sides="both"))]
        fn wald(
            &self,
            #[pyo3(from_py_with = args::parameter)] parameter: Option<String>,
            #[pyo3(from_py_with = args::quantile)] quantile: Option<f64>,
            #[pyo3(from_py_with = args::b_life)] b_life: Option<f64>,
            #[pyo3(from_py_with = args::reliability)] reliability: Option<f64>,
            #[pyo3(from_py_with = args::hazard)] hazard: Option<f64>,
            #[pyo3(from_py_with = args::mean_asked)] mean: bool,
            #[pyo3(from_py_with = args::failure_within)] failure_within: Option<(f64, f64)>,
            function: Option<Bound<'_, PyAny>>,
            #[pyo3(from_py_with = args::scale)] scale: &str,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
        ) -> PyResult<PyInterval> {
            let given = Given { parameter, quantile, b_life, reliability, hazard, mean, failure_within, function };
            let sides = sides_of(sides)?;
            Ok(PyInterval(match given.asked(scale)? {
                Asked::Quantity(quantity) => self.0.wald(&quantity, level, sides)?,
                Asked::Function(own) => own.call(self.0.family()?, |f| self.0.wald_of(f, level, sides))?,
            }))
        }

        /// An interval by profile likelihood, of one quantity as in `wald`.
        ///
        /// An end the data do not close stays open, and notes say so; also where the quantity itself goes no further. A
        /// function must be smooth: it is called at many lives, and its slopes are taken numerically.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The one that was fitted.
        /// endings : list of str, optional
        ///     The ones that were fitted.
        /// parameter : str, optional
        ///     Name of a parameter.
        /// quantile : float, optional
        ///     Asks for the age by which this share has failed, inside 0 to 1.
        /// b_life : float, optional
        ///     Asks for the age by which this many percent have failed, inside 0 to 100.
        /// reliability : float, optional
        ///     Asks for the probability to pass this age, hours.
        /// hazard : float, optional
        ///     Asks for the failures per hour at this age, hours.
        /// mean : bool
        ///     Asks for the mean age at failure.
        /// failure_within : (float, float), optional
        ///     Age and hours: asks for the probability that a lamp of this age fails within these hours.
        /// function : callable, optional
        ///     Asks for a function of a `Life` that gives a number; its slopes are taken numerically.
        /// scale : {"plain", "positive", "share"}
        ///     For a function: where its interval is made; "positive" on its logarithm, "share" between 0 and 1.
        /// level : float
        ///     Confidence level, inside 0 to 1.
        /// sides : {"both", "lower", "upper"}
        ///     Which ends; one alone has the whole level.
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For another tally than the fitted one, and as in `wald`.
        /// DomainError
        ///     For a share, percentage or age out of range.
        /// RefusedError
        ///     For a fit that did not settle.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> fit = relamp.fit(tally)
        /// >>> interval = fit.profile(tally, parameter="shape")
        /// >>> round(interval.low, 2), round(interval.high, 2)
        /// (2.17, 5.79)
        #[pyo3(signature = (tally, *, endings=None, parameter=None, quantile=None, b_life=None, reliability=None,
            hazard=None, mean=false, failure_within=None, function=None, scale="plain", level=0.95, sides="both"))]
        fn profile(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
            #[pyo3(from_py_with = args::parameter)] parameter: Option<String>,
            #[pyo3(from_py_with = args::quantile)] quantile: Option<f64>,
            #[pyo3(from_py_with = args::b_life)] b_life: Option<f64>,
            #[pyo3(from_py_with = args::reliability)] reliability: Option<f64>,
            #[pyo3(from_py_with = args::hazard)] hazard: Option<f64>,
            #[pyo3(from_py_with = args::mean_asked)] mean: bool,
            #[pyo3(from_py_with = args::failure_within)] failure_within: Option<(f64, f64)>,
            function: Option<Bound<'_, PyAny>>,
            #[pyo3(from_py_with = args::scale)] scale: &str,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
        ) -> PyResult<PyInterval> {
            let given = Given { parameter, quantile, b_life, reliability, hazard, mean, failure_within, function };
            let (options, sides, tally) = (options(endings)?, sides_of(sides)?, &tally.get().0);
            Ok(PyInterval(match given.asked(scale)? {
                Asked::Quantity(quantity) => {
                    work(py, None, |run| self.0.profile(tally, &options, &quantity, level, sides, run))?
                }
                // The function needs the interpreter, so this work cannot leave it.
                Asked::Function(own) => {
                    own.call(self.0.family()?, |f| self.0.profile_of(tally, &options, f, level, sides, &Run::new()))?
                }
            }))
        }

        /// The profile likelihood of a parameter, an age or a reliability over a grid of its values.
        ///
        /// Exactly one of `parameter`, `quantile`, `b_life` and `reliability` says which.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The one that was fitted.
        /// endings : list of str, optional
        ///     The ones that were fitted.
        /// parameter : str, optional
        ///     Name of a parameter.
        /// quantile : float, optional
        ///     Asks for the age by which this share has failed, inside 0 to 1.
        /// b_life : float, optional
        ///     Asks for the age by which this many percent have failed, inside 0 to 100.
        /// reliability : float, optional
        ///     Asks for the probability to pass this age, hours.
        /// level : float
        ///     Confidence level of the ends, inside 0 to 1.
        /// points : int
        ///     How many points the grid has, 5 to 10,000.
        ///
        /// Returns
        /// -------
        /// ProfileCurve
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For another tally than the fitted one, a number of points out of range, and as in `wald`.
        /// DomainError
        ///     For a share, percentage or age out of range.
        /// RefusedError
        ///     For a fit that did not settle.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> curve = relamp.fit(tally).profile_curve(tally, b_life=10.0)
        /// >>> curve.low < curve.lower_bound < curve.estimate, round(curve.cut, 4)
        /// (True, -1.9207)
        #[pyo3(signature = (tally, *, endings=None, parameter=None, quantile=None, b_life=None, reliability=None,
            level=0.95, points=81))]
        fn profile_curve(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
            #[pyo3(from_py_with = args::parameter)] parameter: Option<String>,
            #[pyo3(from_py_with = args::quantile)] quantile: Option<f64>,
            #[pyo3(from_py_with = args::b_life)] b_life: Option<f64>,
            #[pyo3(from_py_with = args::reliability)] reliability: Option<f64>,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::points)] points: usize,
        ) -> PyResult<PyProfileCurve> {
            let given = Given {
                parameter,
                quantile,
                b_life,
                reliability,
                hazard: None,
                mean: false,
                failure_within: None,
                function: None,
            };
            let (options, tally) = (options(endings)?, &tally.get().0);
            let quantity = given.quantity()?;
            Ok(PyProfileCurve(work(py, None, |run| {
                self.0.profile_curve(tally, &options, &quantity, level, points, run)
            })?))
        }

        /// The joint confidence region of the parameters of a two-parameter family: all pairs whose likelihood comes
        /// close enough to the maximum, by the chi-square law with 2 degrees of freedom.
        ///
        /// A note says where the region does not close.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The one that was fitted.
        /// endings : list of str, optional
        ///     The ones that were fitted.
        /// level : float
        ///     Joint confidence level, inside 0 to 1.
        ///
        /// Returns
        /// -------
        /// LikelihoodRegion
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For another tally than the fitted one, and a level out of range.
        /// RefusedError
        ///     For a family of other than two parameters, and a fit that did not settle.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> region = relamp.fit(tally).region(tally, level=0.9)
        /// >>> region.closed, region.contains(first=4.0, second=650.0), region.contains(first=1.0, second=650.0)
        /// (True, True, False)
        #[pyo3(signature = (tally, *, endings=None, level=0.95))]
        fn region(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
            #[pyo3(from_py_with = args::level)] level: f64,
        ) -> PyResult<PyLikelihoodRegion> {
            let (options, tally) = (options(endings)?, &tally.get().0);
            Ok(PyLikelihoodRegion(work(py, None, |run| self.0.region(tally, &options, level, run))?))
        }

        /// Compares failures seen with failures expected, over ranges of age and over clusters.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The one that was fitted.
        /// endings : list of str, optional
        ///     The ones that were fitted.
        /// seed : int
        ///     Seed of the simulated patterns over clusters, 0 to 2^64 - 1.
        ///
        /// Returns
        /// -------
        /// FitCheck
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For an unknown ending, or a seed out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> fit = relamp.fit(tally)
        /// >>> fit.check(tally).misfit
        /// False
        #[pyo3(signature = (tally, *, endings=None, seed=0))]
        fn check(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
            #[pyo3(from_py_with = args::seed)] seed: u64,
        ) -> PyResult<PyFitCheck> {
            let (options, tally) = (options(endings)?, &tally.get().0);
            Ok(PyFitCheck(work(py, None, |_| self.0.check(tally, &options, seed))?))
        }

        /// The shape of a Weibull fit with its bias taken out, for complete and failure-censored samples.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The one that was fitted.
        /// endings : list of str, optional
        ///     The ones that were fitted.
        ///
        /// Returns
        /// -------
        /// ShapeCorrection
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For another tally than the fitted one, an unknown ending, or another family.
        /// RefusedError
        ///     For other censoring, for which no factor is known, and for too few failures.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> fit = relamp.fit(tally)
        /// >>> corrected = fit.corrected_shape(tally)
        /// >>> corrected.plan, round(corrected.factor, 2)
        /// ('complete', 0.85)
        #[pyo3(signature = (tally, *, endings=None))]
        fn corrected_shape(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
        ) -> PyResult<PyShapeCorrection> {
            let (options, tally) = (options(endings)?, &tally.get().0);
            Ok(PyShapeCorrection(work(py, None, |run| self.0.corrected_shape(tally, &options, run))?))
        }

        /// The fitted life. Refused where `identified` says "no" of a parameter: no single life stands for the records
        /// then, and `life_at_maximum` gives one of those that explain them.
        #[getter]
        fn life(&self) -> PyResult<PyLife> {
            self.0.life()?;
            self.life_at_maximum()
        }

        /// The life where the likelihood is highest. Where `identified` says "no" of a parameter, other lives explain the
        /// records about as well.
        #[getter]
        fn life_at_maximum(&self) -> PyResult<PyLife> {
            let values = self.0.parameters_at_maximum().into_iter().map(|p| p.1).collect();
            Ok(PyLife(Named::new(family_of(self.0.family_name())?, values)?))
        }
    }
}

/// Warnings that go with a fit: a search that stopped early, and data that carry little.
pub(super) fn tell(py: Python<'_>, fit: &Fit) -> PyResult<()> {
    if !fit.converged() {
        let text = format!("the {} fit did not settle: {}", fit.family_name(), word(&fit.stop()));
        warn(py, "NotConvergedWarning", &text)?;
    }
    fit.notes().iter().try_for_each(|n| warn(py, "WeakDataWarning", &format!("{} [{}]", n.text, n.slug)))
}

/// Fits a family to a tally by maximum likelihood.
///
/// Exact failures, right-, left- and interval-censored lives, late entry and windows all enter one likelihood. Few
/// failures give a `WeakDataWarning`, a search that stopped early a `NotConvergedWarning`; where no maximum exists a
/// `RefusedError` names the reason and the best bound that still holds. Each parameter is marked settled or not, see
/// `Fit.identified`; one that is not is a `WeakDataWarning`. A family made of others is searched from several starts, see
/// `Fit.peaks`.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// family : str
///     A name that `life` knows, such as "weibull", "exponential", "lognormal", "generalised_gamma",
///     "above_zero(normal)", "piecewise_constant(500, 1000)" or "mixture(weibull, weibull)". For "weibull_failure_free"
///     the likelihood has no bound next to an exact first failure: the fit is its highest maximum before that, and is
///     refused with an alternative where there is none.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
///
/// Returns
/// -------
/// Fit
///
/// Raises
/// ------
/// InputError
///     For an unknown family or ending, and records that the family cannot have.
/// RefusedError
///     Where no maximum exists; the hint holds the best bound there is.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> low = [412, 655, 780, 903, 1010, 1188, 1290, 1333, 1400, 1450, 1500, 1500]
/// >>> tally = relamp.lives(low, low[:10] + [None, None])
/// >>> fit = relamp.fit(tally)
/// >>> round(fit.parameters["shape"], 3), fit.failures
/// (3.236, 10)
/// >>> relamp.fit(tally, family="lognormal").aic > fit.aic
/// True
/// >>> fit.identified
/// {'shape': 'yes', 'scale': 'yes'}
#[pyfunction]
#[pyo3(signature = (tally, *, family="weibull", endings=None))]
pub(super) fn fit(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyFit> {
    let family = family_of(family)?;
    let options = options(endings)?;
    let tally = &tally.get().0;
    let fit = work(py, None, |run| core_fit(family, tally, &options, run))?;
    tell(py, &fit)?;
    Ok(PyFit(fit))
}
