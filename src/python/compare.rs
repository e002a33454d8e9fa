//! Fits side by side, and probability plots in numbers.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{
    Fit, InformationRow, InformationTable, PlotPoint, ProbabilityPlot, fitted_plot, information_table,
    probability_plot as core_plot,
};

use super::arrays::{array, over, pairs as ends};
use super::empirical::PyCurve;
use super::error::refuse;
use super::fit::PyFit;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args};
use super::lives::PyTally;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{options, pairs};
use super::work::work;

const INFORMATION: Format = Format::new("information_table", 1);
const PLOT: Format = Format::new("probability_plot", 1);

fn information_rows(t: &InformationTable) -> Result<RecordBatch> {
    let each = || t.rows.iter();
    Frame::default()
        .texts("family", each().map(|r| &r.family))
        .counts("parameters", each().map(|r| r.parameters))
        .numbers("log_likelihood", each().map(|r| r.log_likelihood))
        .numbers("aic", each().map(|r| r.aic))
        .numbers("aic_difference", each().map(|r| r.aic_difference))
        .numbers_or_null("aicc", each().map(|r| r.aicc))
        .numbers_or_null("aicc_difference", each().map(|r| r.aicc_difference))
        .numbers("bic", each().map(|r| r.bic))
        .numbers("bic_difference", each().map(|r| r.bic_difference))
        .counts("given", each().map(|r| r.given as u64))
        .texts("simpler", each().map(|r| r.simpler.as_deref().unwrap_or_default()))
        .numbers_or_null("simpler_chance", each().map(|r| r.simpler_chance))
        .finish()
}

fn information_facts(t: &InformationTable) -> Facts {
    let each = |r: &InformationRow| {
        let [ln, aic, over] = [r.log_likelihood, r.aic, r.aic_difference].map(|x| format!("{x:.2}"));
        let parameters = counted(r.parameters, "parameter");
        format!("{}: log-likelihood {ln}, {parameters}, AIC {aic}, {over} above the least", r.family)
    };
    facts! {
        "families": t.rows.iter().map(|r| r.family.as_str()).collect::<Vec<_>>(), "failures": t.failures,
        "fits": t.rows.iter().map(each).collect::<Vec<_>>(),
        "notes": t.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Fits of the same records by AIC, AICc and BIC, best first; made by `compare_fits`.
    PyInformationTable holds InformationTable as "InformationTable";
    save |t| saved::save(INFORMATION, t); load |t| saved::load(INFORMATION, t);
    table information_rows; show information_facts;
    {
        fn __len__(&self) -> usize {
            self.0.rows.len()
        }

        /// Family of the smallest AIC among those that no simpler one makes needless.
        #[getter]
        fn best(&self) -> Option<&str> {
            self.0.rows.first().map(|r| r.family.as_str())
        }

        /// Failures, the sample size in AICc and BIC.
        #[getter]
        fn failures(&self) -> u64 {
            self.0.failures
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// Puts fits of the same records side by side by information criteria.
///
/// AIC = 2 k - 2 ln L, AICc = AIC + 2 k (k + 1) / (d - k - 1), BIC = k ln d - 2 ln L, with k parameters and d failures.
/// The log-likelihood of each fit is computed again from the tally: a fit of other records is refused.
///
/// The smallest AIC comes first, with one exception: a second kind of lamps, a share that never fails and a hazard
/// that grows stand behind the others where the simpler family is among the fits and is enough by the test that holds
/// there, as AIC charges too little for these. Column `simpler` names it, `simpler_chance` gives the chance (5 % or
/// more), a note says so.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records behind every fit.
/// fits : list of Fit
///     One or more, of any family.
/// endings : list of str, optional
///     The ones that were fitted.
///
/// Returns
/// -------
/// InformationTable
///
/// Raises
/// ------
/// InputError
///     For a fit of other records, an unknown ending, no fit at all, and what is no fit.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> fits = [relamp.fit(tally, family=name) for name in ("exponential", "weibull", "lognormal")]
/// >>> table = relamp.compare_fits(tally, fits=fits)
/// >>> table.frame()["family"].to_list()[-1]
/// 'exponential'
/// >>> "exponential: log-likelihood -73.81, 1 parameter, AIC 149.62" in table.summary()
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, fits, endings=None))]
pub(super) fn compare_fits(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::fits::<PyFit>)] fits: Vec<Bound<'_, PyFit>>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyInformationTable> {
    let (options, tally) = (options(endings)?, &tally.get().0);
    let fits: Vec<&Fit> = fits.iter().map(|f| &f.get().0).collect();
    Ok(PyInformationTable(work(py, None, |_| information_table(tally, &options, &fits))?))
}

fn plot_table(p: &ProbabilityPlot) -> Result<RecordBatch> {
    let each = || p.points.iter();
    let end = |which: fn(&PlotPoint) -> Option<(f64, f64)>, high: bool| {
        each().map(move |q| which(q).map(|b| if high { b.1 } else { b.0 }))
    };
    Frame::default()
        .numbers("age", each().map(|q| q.age))
        .numbers("share", each().map(|q| q.share))
        .numbers("x", each().map(|q| q.x))
        .numbers("y", each().map(|q| q.y))
        .numbers_or_null("pointwise_low", end(|q| q.pointwise, false))
        .numbers_or_null("pointwise_high", end(|q| q.pointwise, true))
        .numbers_or_null("simultaneous_low", end(|q| q.simultaneous, false))
        .numbers_or_null("simultaneous_high", end(|q| q.simultaneous, true))
        .finish()
}

fn plot_facts(p: &ProbabilityPlot) -> Facts {
    facts! {
        "family": p.family, "points": p.points.len(), "level": p.level, "simultaneous_factor": p.simultaneous_factor,
        "band_method": p.band_method,
    }
}

result_class! {
    /// A probability plot in numbers: a life of its family is a straight line on it; made by `probability_plot`.
    PyProbabilityPlot holds ProbabilityPlot as "ProbabilityPlot";
    save |p| saved::save(PLOT, p); load |t| saved::load(PLOT, t); table plot_table; show plot_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            &self.0.family
        }

        /// Whether the fitted life makes the scales, as its family has none of its own.
        #[getter]
        fn of_fit(&self) -> bool {
            self.0.scale.is_none()
        }

        /// Ages at failure, hours, (points,).
        #[getter]
        fn ages<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.points.iter().map(|p| p.age).collect::<Vec<_>>())
        }

        /// Failed share plotted at each age, the middle of the step, (points,).
        #[getter]
        fn shares<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.points.iter().map(|p| p.share).collect::<Vec<_>>())
        }

        /// Horizontal places, (points,).
        #[getter]
        fn x<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.points.iter().map(|p| p.x).collect::<Vec<_>>())
        }

        /// Vertical places, (points,).
        #[getter]
        fn y<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.points.iter().map(|p| p.y).collect::<Vec<_>>())
        }

        /// Failed share after each step, lower and upper end at that age alone, (points, 2); NaN where R is 0.
        #[getter]
        fn pointwise<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            ends(py, &self.0.points.iter().map(|p| p.pointwise).collect::<Vec<_>>())
        }

        /// The same for all ages together, (points, 2).
        #[getter]
        fn simultaneous<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            ends(py, &self.0.points.iter().map(|p| p.simultaneous).collect::<Vec<_>>())
        }

        /// Level of both bands.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// Standard errors to either side of the simultaneous band.
        #[getter]
        fn simultaneous_factor(&self) -> f64 {
            self.0.simultaneous_factor
        }

        /// How the bands were made.
        #[getter]
        fn band_method(&self) -> &str {
            &self.0.band_method
        }

        /// Horizontal place of an age, or of each of many.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Place: the logarithm of the age, or the age, as the family has it.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> plot = relamp.probability_plot(relamp.product_limit(tally))
        /// >>> plot.scale_age(1.0)
        /// 0.0
        fn scale_age<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, At { input: "probability_plot", column: "age" }, |a| Ok(Some(self.0.of_age(a))))
        }

        /// Vertical place of a failed share, or of each of many.
        ///
        /// Parameters
        /// ----------
        /// share : float or array-like
        ///     Failed share, 0 to 1.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Place: the quantile of the standard distribution of the family, or the logarithm of that of the fitted life.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
        /// >>> plot = relamp.probability_plot(relamp.product_limit(tally))
        /// >>> round(plot.scale_share(0.5), 4)
        /// -0.3665
        fn scale_share<'py>(&self, share: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(share, At { input: "probability_plot", column: "share" }, |p| Ok(Some(self.0.of_share(p)?)))
        }
    }
}

/// Puts a curve on the scales on which the lives of a family are straight lines, with bands.
///
/// Each point stands at the middle of its step. The bands are those of the failed share after the step, on the scale of
/// asin(sqrt R): at one age at a time, and Nair's equal-precision band for all ages together.
///
/// Parameters
/// ----------
/// curve : Curve
///     From new; its level is that of both bands.
/// family : str, optional
///     "weibull" without it. A family with a location and a scale: "exponential", "weibull", "lognormal", "log_logistic", "normal",
///     "logistic", "smallest_extreme_value".
/// fit : Fit, optional
///     In place of `family`: a fit of any family. Where its family has no scales of its own, the fitted life makes them: the
///     vertical place of a share is the logarithm of the age by which the life has failed with it, so the life is the
///     diagonal.
///
/// Returns
/// -------
/// ProbabilityPlot
///
/// Raises
/// ------
/// InputError
///     For a family that is no straight line on any such scale without a fit, and for both family and fit.
/// RefusedError
///     For a curve without failures, one that does not start from new, and a share that the fitted life never reaches.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([310, 402, 480, 505, 550, 590, 633, 720, 815, 900])
/// >>> plot = relamp.probability_plot(relamp.product_limit(tally), family="lognormal")
/// >>> plot.shares[:2].round(2).tolist(), round(plot.scale_share(0.975), 2)
/// ([0.05, 0.15], 1.96)
/// >>> life = relamp.fit(tally, family="lognormal").life
/// >>> line = plot.scale_share(life.failure_probability([300.0, 600.0]))
/// >>> gamma = relamp.fit(tally, family="gamma")
/// >>> plot = relamp.probability_plot(relamp.product_limit(tally), fit=gamma)
/// >>> bool(abs(plot.scale_share(0.5) - plot.scale_age(gamma.life.quantile(0.5))) < 1e-9)
/// True
#[pyfunction]
#[pyo3(signature = (curve, *, family=None, fit=None))]
pub(super) fn probability_plot(
    #[pyo3(from_py_with = args::made::<PyCurve>)] curve: &Bound<'_, PyCurve>,
    #[pyo3(from_py_with = args::family_or_none)] family: Option<String>,
    fit: Option<&Bound<'_, PyFit>>,
) -> PyResult<PyProbabilityPlot> {
    let curve = &curve.get().0;
    Ok(PyProbabilityPlot(match (family.as_deref(), fit) {
        (name, None) => core_plot(curve, family_of(name.unwrap_or("weibull"))?)?,
        (None, Some(fit)) => fitted_plot(curve, &fit.get().0)?,
        (Some(name), Some(_)) => {
            let what = "a plot is of a family or of a fit";
            return Err(refuse("python.plot_of", what, "family", "", name, "one of family and fit").into());
        }
    }))
}
