//! Proportional hazards: covariates by name in, hazard ratios, baselines and residuals out.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::fit::{
    AgeScale, CovariateResiduals, HazardFit, HazardOptions, Proportionality, TermTest, proportional_hazards as core_fit,
};

use super::arrays::array;
use super::covariates::{coefficients, one_lamp, references, tell, terms_of, test_table};
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::{Frame, Table};
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::policy::word;
use super::question::sides as sides_of;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{PyInterval, pairs};
use super::work::work;

const HAZARD_FIT: Format = Format::new("hazard_fit", 1);
const COVARIATE_RESIDUALS: Format = Format::new("covariate_residuals", 1);
const PROPORTIONALITY: Format = Format::new("proportionality", 1);

fn coefficient_table(f: &HazardFit) -> Result<RecordBatch> {
    let names = f.design().names();
    let errors = names.iter().map(|n| f.standard_error(n)).collect::<Result<Vec<_>>>()?;
    let robust = names.iter().map(|n| f.robust_standard_error(n)).collect::<Result<Vec<_>>>()?;
    Frame::default()
        .texts("coefficient", names)
        .numbers("estimate", f.coefficients().iter().copied())
        .numbers("standard_error", errors)
        .numbers_or_null("robust_standard_error", robust)
        .numbers("hazard_ratio", f.coefficients().iter().map(|b| b.exp()))
        .finish()
}

fn hazard_facts(f: &HazardFit) -> Facts {
    let ratio = |name: &str| f.hazard_ratio(name).ok();
    facts! {
        "coefficients": coefficients(f.design(), f.coefficients(), |n| f.standard_error(n), "hazard ratio", ratio),
        "compared_with": references(f.design()), "lamps": f.facts().lamps, "failures": f.facts().failures, "converged": f.converged(),
        "log_likelihood": f.log_likelihood(), "strata": f.strata(), "clusters": f.clusters(),
        "notes": f.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

fn baseline_table(f: &HazardFit) -> Result<RecordBatch> {
    let each =
        || f.baselines().iter().flat_map(|b| b.ages.iter().zip(&b.hazard).map(move |(a, h)| (&b.stratum, *a, *h)));
    Frame::default()
        .texts("stratum", each().map(|s| s.0))
        .numbers("age", each().map(|s| s.1))
        .numbers("cumulative_hazard", each().map(|s| s.2))
        .finish()
}

/// What was fitted, again.
fn options(fit: &HazardFit, endings: Option<Vec<String>>) -> Result<HazardOptions> {
    let endings = endings.map(|e| e.iter().map(|w| ending("endings", w)).collect::<Result<Vec<_>>>()).transpose()?;
    Ok(HazardOptions { endings, strata: fit.strata().to_vec(), ..HazardOptions::default() })
}

result_class! {
    /// A fitted model of proportional hazards: coefficients, their errors, baselines; made by `proportional_hazards`.
    ///
    /// It holds numbers, never data. Its table has one row a coefficient.
    PyHazardFit holds HazardFit as "HazardFit";
    save |f| saved::save(HAZARD_FIT, f); load |t| saved::load(HAZARD_FIT, t);
    table coefficient_table; show hazard_facts;
    {
        /// Coefficients by name: logarithms of hazard ratios for one unit of the column.
        #[getter]
        fn coefficients(&self) -> BTreeMap<&str, f64> {
            self.0.design().names().into_iter().zip(self.0.coefficients().iter().copied()).collect()
        }

        /// Hazard ratios exp(b) by name; under an interaction of lamps at the baseline of what is joined.
        #[getter]
        fn hazard_ratios(&self) -> BTreeMap<&str, f64> {
            self.0.design().names().into_iter().zip(self.0.coefficients().iter().map(|b| b.exp())).collect()
        }

        /// Standard errors of the coefficients by name: the robust ones where they were asked for, raised for few clusters.
        #[getter]
        fn standard_errors(&self) -> PyResult<BTreeMap<&str, f64>> {
            self.0.design().names().into_iter().map(|n| Ok((n, self.0.standard_error(n)?))).collect()
        }

        /// Maximised partial log-likelihood.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood()
        }

        /// Partial log-likelihood without covariates.
        #[getter]
        fn log_likelihood_without(&self) -> f64 {
            self.0.log_likelihood_without()
        }

        /// Whether the search reached the maximum.
        #[getter]
        fn converged(&self) -> bool {
            self.0.converged()
        }

        /// Clusters behind the robust standard errors; a lamp without a cluster counts by itself.
        #[getter]
        fn clusters(&self) -> u64 {
            self.0.clusters()
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// Likelihood-ratio tests, one row a term, as in `CovariateFit.tests`.
        ///
        /// Returns
        /// -------
        /// Table
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        /// >>> fit.tests().columns
        /// ['term', 'statistic', 'degrees_of_freedom', 'p_value']
        fn tests(&self) -> PyResult<Table> {
            Ok(Table(test_table(self.0.tests())?))
        }

        /// The cumulative hazard of a baseline lamp, one row a failure age of each stratum.
        ///
        /// Returns
        /// -------
        /// Table
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        /// >>> len(fit.baselines())
        /// 12
        fn baselines(&self) -> PyResult<Table> {
            Ok(Table(baseline_table(&self.0)?))
        }

        /// Interval of a coefficient from the curvature at the maximum, robust where that was asked for.
        ///
        /// Parameters
        /// ----------
        /// name : str
        ///     One of `coefficients`.
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
        ///     For an unknown coefficient or side and a level out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        /// >>> interval = fit.wald("site=b")
        /// >>> interval.low < fit.coefficients["site=b"] < interval.high
        /// True
        #[pyo3(signature = (name, *, level=0.95, sides="both"))]
        fn wald(
            &self,
            #[pyo3(from_py_with = args::name)] name: &str,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
        ) -> PyResult<PyInterval> {
            Ok(PyInterval(self.0.wald(name, level, sides_of(sides)?)?))
        }

        /// Interval of a coefficient by profile of the partial likelihood, which does not know of clusters.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The fitted records.
        /// name : str
        ///     One of `coefficients`.
        /// level, sides
        ///     As in `wald`.
        /// endings : list of str, optional
        ///     The endings that were fitted.
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     As in `wald`, and for a tally that is not the fitted one.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> fit = relamp.proportional_hazards(tally, terms=["site"])
        /// >>> interval = fit.profile(tally, "site=b")
        /// >>> interval.low < fit.coefficients["site=b"] < interval.high
        /// True
        #[pyo3(signature = (tally, name, *, level=0.95, sides="both", endings=None))]
        fn profile(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::name)] name: &str,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
        ) -> PyResult<PyInterval> {
            let (tally, options, sides) = (&tally.get().0, options(&self.0, endings)?, sides_of(sides)?);
            Ok(PyInterval(work(py, None, |run| self.0.profile(tally, &options, name, level, sides, run))?))
        }

        /// The probability that a lamp with these covariates passes an age, with its interval.
        ///
        /// Parameters
        /// ----------
        /// covariates : dict
        ///     A value for each covariate of the model.
        /// age : float
        ///     Hours, up to the oldest lamp at risk in the stratum.
        /// stratum : str
        ///     One of the strata of `baselines`; empty where none are kept apart.
        /// level, sides
        ///     As in `wald`.
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a covariate that is missing, unknown or of the other kind.
        /// RefusedError
        ///     For a level or stratum that no fitted lamp had, and an age at which no lamp was at risk.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> fit = relamp.proportional_hazards(relamp.lives(low, covariates={"site": site}), terms=["site"])
        /// >>> passed = fit.reliability({"site": "b"}, age=600.0)
        /// >>> 0.0 < passed.low < passed.estimate < passed.high < 1.0
        /// True
        #[pyo3(signature = (covariates, *, age, stratum="", level=0.95, sides="both"))]
        fn reliability(
            &self,
            covariates: &Bound<'_, PyAny>,
            #[pyo3(from_py_with = args::age)] age: f64,
            #[pyo3(from_py_with = args::stratum)] stratum: &str,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
        ) -> PyResult<PyInterval> {
            let covariates = one_lamp(covariates)?;
            Ok(PyInterval(self.0.reliability(&covariates, stratum, age, level, sides_of(sides)?)?))
        }

        /// Residuals: of each life its martingale, deviance and score residual, of each failure its plain and scaled one.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The fitted records.
        /// endings : list of str, optional
        ///     The endings that were fitted.
        ///
        /// Returns
        /// -------
        /// CovariateResiduals
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a tally that is not the fitted one.
        /// RefusedError
        ///     For rows that the model cannot take, as in `proportional_hazards`.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> residuals = relamp.proportional_hazards(tally, terms=["site"]).residuals(tally)
        /// >>> bool(abs(residuals.martingale.sum()) < 1e-9)
        /// True
        #[pyo3(signature = (tally, *, endings=None))]
        fn residuals(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
        ) -> PyResult<PyCovariateResiduals> {
            let (tally, options) = (&tally.get().0, options(&self.0, endings)?);
            Ok(PyCovariateResiduals(work(py, None, |_| self.0.residuals(tally, &options))?))
        }

        /// Tests whether hazards stay proportional: whether a coefficient changes with age.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The fitted records.
        /// scale : {"product_limit", "age", "rank"}
        ///     What a coefficient might change with: 1 less the product-limit curve, age in hours, or rank of age.
        /// endings : list of str, optional
        ///     The endings that were fitted.
        ///
        /// Returns
        /// -------
        /// Proportionality
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For an unknown scale, and a tally that is not the fitted one.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> test = relamp.proportional_hazards(tally, terms=["site"]).proportionality(tally)
        /// >>> test.p_value > 0.05
        /// True
        #[pyo3(signature = (tally, *, scale="product_limit", endings=None))]
        fn proportionality(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::scale_of_age)] scale: &str,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
        ) -> PyResult<PyProportionality> {
            let scale = match scale {
                "product_limit" => AgeScale::ProductLimit,
                "age" => AgeScale::Age,
                "rank" => AgeScale::Rank,
                other => {
                    let expected = "product_limit, age or rank";
                    return Err(refuse("python.scale_of_age", "no such scale of age", "scale", "", other, expected).into());
                }
            };
            let (tally, options) = (&tally.get().0, options(&self.0, endings)?);
            Ok(PyProportionality(work(py, None, |_| self.0.proportionality(tally, &options, scale))?))
        }
    }
}

fn life_table(r: &CovariateResiduals) -> Result<RecordBatch> {
    let each = || r.lives.iter();
    let mut frame = Frame::default()
        .numbers("entry", each().map(|l| l.entry))
        .numbers("age", each().map(|l| l.age))
        .counts("failed", each().map(|l| u64::from(l.failed)))
        .counts("count", each().map(|l| l.count))
        .numbers("martingale", each().map(|l| l.martingale))
        .numbers("deviance", each().map(|l| l.deviance));
    for (k, name) in r.coefficients.iter().enumerate() {
        let score = each().map(|l| l.score.get(k).copied().unwrap_or(f64::NAN));
        frame = frame.numbers(&format!("score {name}"), score);
    }
    frame.finish()
}

fn failure_table(r: &CovariateResiduals) -> Result<RecordBatch> {
    let each = || r.failures.iter();
    let mut frame = Frame::default()
        .numbers("age", each().map(|f| f.age))
        .texts("stratum", each().map(|f| f.stratum.as_str()))
        .counts("count", each().map(|f| f.count));
    for (k, name) in r.coefficients.iter().enumerate() {
        let value = |v: &Vec<f64>| v.get(k).copied().unwrap_or(f64::NAN);
        frame = frame.numbers(&format!("plain {name}"), each().map(|f| value(&f.plain)));
        frame = frame.numbers(&format!("scaled {name}"), each().map(|f| value(&f.scaled)));
    }
    frame.finish()
}

fn residual_facts(r: &CovariateResiduals) -> Facts {
    facts! { "coefficients": r.coefficients, "lives": r.lives.len(), "failures": r.failures.len() }
}

result_class! {
    /// Residuals of proportional hazards; made by `HazardFit.residuals`. Its table has one row for each row of the tally with
    /// lamps: stratum by stratum, oldest first.
    PyCovariateResiduals holds CovariateResiduals as "CovariateResiduals";
    save |r| saved::save(COVARIATE_RESIDUALS, r); load |t| saved::load(COVARIATE_RESIDUALS, t);
    table life_table; show residual_facts;
    {
        /// Failures less failures expected of one lamp of each row, (rows,).
        #[getter]
        fn martingale<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.lives.iter().map(|l| l.martingale).collect::<Vec<_>>())
        }

        /// The same drawn towards a bell shape, (rows,).
        #[getter]
        fn deviance<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, &self.0.lives.iter().map(|l| l.deviance).collect::<Vec<_>>())
        }

        /// Residuals of the failures: columns less their mean over the lamps at risk, plain and scaled to read the coefficient
        /// at the age.
        ///
        /// Returns
        /// -------
        /// Table
        ///     One row for each row of failures: stratum by stratum, youngest first.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> residuals = relamp.proportional_hazards(tally, terms=["site"]).residuals(tally)
        /// >>> residuals.failures().columns
        /// ['age', 'stratum', 'count', 'plain site=b', 'scaled site=b']
        fn failures(&self) -> PyResult<Table> {
            Ok(Table(failure_table(&self.0)?))
        }
    }
}

fn proportionality_table(p: &Proportionality) -> Result<RecordBatch> {
    let all: Vec<TermTest> = p.terms.iter().chain([&p.all]).cloned().collect();
    test_table(&all)
}

fn proportionality_facts(p: &Proportionality) -> Facts {
    facts! { "scale": word(&p.scale), "statistic": p.all.statistic, "p_value": p.all.p_value }
}

result_class! {
    /// Tests of proportional hazards, one row a term and one for all; made by `HazardFit.proportionality`.
    PyProportionality holds Proportionality as "Proportionality";
    save |p| saved::save(PROPORTIONALITY, p); load |t| saved::load(PROPORTIONALITY, t);
    table proportionality_table; show proportionality_facts;
    {
        /// The scale of age: "product_limit", "age" or "rank".
        #[getter]
        fn scale(&self) -> String {
            word(&self.0.scale)
        }

        /// Chance of tests at least this strong, all terms together, if hazards are proportional.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.all.p_value
        }
    }
}

/// Fits proportional hazards by partial likelihood: covariates multiply a hazard whose shape is left open.
///
/// h(t) = h0(t) exp(eta), eta the sum of coefficients times columns. Ties by Efron; a lamp that enters late is at risk after
/// its entry. h0 is that of the baseline lamp: at the reference levels, the references of laws, the mean of other numbers.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records, with covariates: exact failures and right-censored lives, late entry.
/// terms, references, laws, value_is
///     As in `fit_covariates`.
/// strata : list of str, optional
///     Categories whose levels have hazards of their own; "stratum" for the strata of the tally.
/// robust : bool
///     Whether standard errors stand up to lives of one cluster that go alike, and to hazards that are not proportional.
///     Variances are raised by G / (G - 1 - k) for G clusters and k coefficients, and intervals take Student's t; below 40
///     clusters a note says that they are too short.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
///
/// Returns
/// -------
/// HazardFit
///
/// Raises
/// ------
/// InputError
///     As in `fit_covariates`; for strata that are no categories or terms too.
/// RefusedError
///     As in `fit_covariates`; for failures known to an interval only, and records that show failures only; for `robust` with
///     fewer than two more clusters than coefficients.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> site = ["a", "b"] * 6
/// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
/// >>> tally = relamp.lives(low, covariates={"site": site})
/// >>> fit = relamp.proportional_hazards(tally, terms=["site"])
/// >>> fit.hazard_ratios["site=b"] < 1.0
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, terms, references=None, laws=None, value_is=None, strata=None, robust=false,
    endings=None))]
pub(super) fn proportional_hazards(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::terms)] terms: Vec<String>,
    #[pyo3(from_py_with = args::references)] references: Option<BTreeMap<String, String>>,
    laws: Option<&Bound<'_, PyAny>>,
    value_is: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::strata)] strata: Option<Vec<String>>,
    #[pyo3(from_py_with = args::robust)] robust: bool,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyHazardFit> {
    let terms = terms_of(terms, references, laws, value_is)?;
    let endings = endings.map(|e| e.iter().map(|w| ending("endings", w)).collect::<Result<Vec<_>>>()).transpose()?;
    let options = HazardOptions { endings, strata: strata.unwrap_or_default(), robust, ..HazardOptions::default() };
    let tally = &tally.get().0;
    let fit = work(py, None, |run| core_fit(tally, &terms, &options, run))?;
    tell(py, fit.converged(), &word(&fit.stop()), fit.notes())?;
    Ok(PyHazardFit(fit))
}
