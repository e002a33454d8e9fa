//! Accelerated-life regression: covariates by name in, a fitted regression out.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};

use crate::Result;
use crate::base::figure::short;
use crate::base::math::special::normal_quantile;
use crate::base::saved::{self, Format};
use crate::family::{Life, family as family_of};
use crate::fit::{
    BOLTZMANN_EV, CovariateFit, Design, DesignColumn, Factor, StressLaw, TermTest, Terms, ValueIs,
    fit_covariates as core_fit,
};
use crate::lives::CovariateValue;

use super::error::{refuse, warn};
use super::fixed::Fixed;
use super::frames::{Frame, Table};
use super::intake::arguments as args;
use super::intake::{At, is_truth, kind_of};
use super::life::{Named, PyLife};
use super::lives::PyTally;
use super::policy::word;
use super::question::sides as sides_of;
use super::residuals::PyHazardResiduals;
use super::result::result_class;
use super::show::{Facts, facts, number};
use super::uncertainty::{PyInterval, options};
use super::work::work;

const COVARIATE_FIT: Format = Format::new("covariate_fit", 1);

/// Covariates of one lamp by name.
pub(super) fn one_lamp(obj: &Bound<'_, PyAny>) -> PyResult<BTreeMap<String, CovariateValue>> {
    let Ok(dict) = obj.cast::<PyDict>() else {
        let expected = "a dict of covariates, such as {'supplier': 'north', 'current': 75.0}";
        return Err(refuse("python.type", "not a dict", "covariates", "", &kind_of(obj), expected).into());
    };
    let mut out = BTreeMap::new();
    for (name, value) in dict {
        let name = name.str()?.to_string();
        let value = match value.cast::<PyString>() {
            Ok(text) => CovariateValue::from(text.to_str()?),
            Err(_) if is_truth(&value) => CovariateValue::from(if value.is_truthy()? { "true" } else { "false" }),
            Err(_) => CovariateValue::number(args::one_number(&value, At { input: "covariates", column: &name })?)?,
        };
        out.insert(name, value);
    }
    Ok(out)
}

/// What a stress law looks like.
const LAW: &str =
    "{'law': 'inverse_power' or 'arrhenius', 'reference': a number, 'value_is': 'at_fitting' or 'constant_over_life'}";

/// What the one value of a lamp stands for, from its word. A last reading is known here, so that the fit says why it is refused.
fn value_is_of(word: &str) -> Option<ValueIs> {
    match word {
        "at_fitting" => Some(ValueIs::AtFitting),
        "constant_over_life" => Some(ValueIs::ConstantOverLife),
        "last_reading" => Some(ValueIs::LastReading),
        _ => None,
    }
}

/// What the values of numbers without a law stand for, by covariate.
fn declared(given: Option<&Bound<'_, PyAny>>) -> PyResult<BTreeMap<String, ValueIs>> {
    let mut out = BTreeMap::new();
    let Some(given) = given.filter(|g| !g.is_none()) else { return Ok(out) };
    let expected = "a dict such as {'current': 'at_fitting'}; or 'constant_over_life' where that is known";
    let wrong = |column: &str, got: &str| {
        PyErr::from(refuse("python.value_is", "not what a value stands for", "value_is", column, got, expected))
    };
    let Ok(dict) = given.cast::<PyDict>() else { return Err(wrong("", &kind_of(given))) };
    for (name, word) in dict {
        let name = name.str()?.to_string();
        let Ok(text) = word.cast::<PyString>() else { return Err(wrong(&name, &kind_of(&word))) };
        let Some(value_is) = value_is_of(text.to_str()?) else { return Err(wrong(&name, text.to_str()?)) };
        out.insert(name, value_is);
    }
    Ok(out)
}

/// Terms from what names them.
pub(super) fn terms_of(
    terms: Vec<String>,
    references: Option<BTreeMap<String, String>>,
    laws: Option<&Bound<'_, PyAny>>,
    value_is: Option<&Bound<'_, PyAny>>,
) -> PyResult<Terms> {
    let mut out = Terms { terms, references: references.unwrap_or_default(), ..Terms::default() };
    out.value_is = declared(value_is)?;
    let Some(laws) = laws.filter(|l| !l.is_none()) else { return Ok(out) };
    let wrong = |column: &str, got: &str, expected: &str| {
        PyErr::from(refuse("python.law", "not a stress law", "laws", column, got, expected))
    };
    let Ok(laws) = laws.cast::<PyDict>() else { return Err(wrong("", &kind_of(laws), "a dict of laws by covariate")) };
    for (name, law) in laws {
        let name = name.str()?.to_string();
        let Ok(law) = law.cast::<PyDict>() else { return Err(wrong(&name, &kind_of(&law), LAW)) };
        for key in law.keys() {
            let key = key.str()?.to_string();
            if !["law", "reference", "value_is"].contains(&key.as_str()) {
                return Err(wrong(&name, &key, LAW));
            }
        }
        let text = |key: &str| -> PyResult<String> {
            match law.get_item(key)? {
                Some(v) if v.is_instance_of::<PyString>() => v.extract(),
                Some(v) => Err(wrong(&name, &kind_of(&v), LAW)),
                None => Err(wrong(&name, &format!("no {key}"), LAW)),
            }
        };
        let Some(reference) = law.get_item("reference")? else { return Err(wrong(&name, "no reference", LAW)) };
        let reference = args::one_number(&reference, At { input: "laws", column: &name })?;
        let word = text("value_is")?;
        let Some(value_is) = value_is_of(&word) else { return Err(wrong(&name, &word, LAW)) };
        let law = match text("law")?.as_str() {
            "inverse_power" => StressLaw::InversePower { reference, value_is },
            "arrhenius" => StressLaw::Arrhenius { reference_celsius: reference, value_is },
            other => return Err(wrong(&name, other, LAW)),
        };
        out.laws.insert(name, law);
    }
    Ok(out)
}

/// Tests of terms as a table.
pub(super) fn test_table(tests: &[TermTest]) -> Result<RecordBatch> {
    Frame::default()
        .texts("term", tests.iter().map(|t| t.term.as_str()))
        .numbers("statistic", tests.iter().map(|t| t.statistic))
        .counts("degrees_of_freedom", tests.iter().map(|t| t.degrees_of_freedom))
        .numbers("p_value", tests.iter().map(|t| t.p_value))
        .finish()
}

fn coefficient_table(f: &CovariateFit) -> Result<RecordBatch> {
    let names = f.design().names();
    let ratios = names.iter().map(|n| f.life_ratio(n)).collect::<Result<Vec<_>>>()?;
    let errors = names.iter().map(|n| f.standard_error(n)).collect::<Result<Vec<_>>>()?;
    Frame::default()
        .texts("coefficient", names)
        .numbers("estimate", f.coefficients().iter().copied())
        .numbers("standard_error", errors)
        .numbers_or_null("life_ratio", ratios)
        .finish()
}

/// Each coefficient with its standard error, and its ratio with the interval from that error.
pub(super) fn coefficients(
    design: &Design,
    each: &[f64],
    error: impl Fn(&str) -> Result<f64>,
    called: &str,
    ratio: impl Fn(&str) -> Option<f64>,
) -> Vec<String> {
    let z = normal_quantile(0.975);
    let one = |(column, b): (&DesignColumn, &f64)| {
        let name = column.name.as_str();
        let error = error(name).unwrap_or(f64::NAN);
        let said = by_law(design, column, *b, called).or_else(|| {
            ratio(name).map(|r| {
                let [low, high] = [-z, z].map(|z| short(r * (z * error).exp()));
                format!(", {called} {}, {low} to {high} at 95 %", number(r))
            })
        });
        format!("{name} {b:.4} (standard error {error:.4}{})", said.unwrap_or_default())
    };
    design.columns.iter().zip(each).map(one).collect()
}

/// What a coefficient under a stress law says: a ratio for one unit of its column, a step of e in a current, would mislead.
fn by_law(design: &Design, column: &DesignColumn, b: f64, called: &str) -> Option<String> {
    let factors: Vec<&Factor> = column.parts.iter().filter_map(|part| design.factors.get(part.factor)).collect();
    let (lawful, others): (Vec<&Factor>, Vec<&Factor>) = factors.into_iter().partition(|f| f.law.is_some());
    let factor = lawful.first()?;
    // Of an interaction with a number, or of two laws, no short words are right.
    if lawful.len() > 1 || others.iter().any(|f| f.reference.is_none()) {
        return Some(String::new());
    }
    let besides = if others.is_empty() { "" } else { ", besides what holds for those compared with" };
    let what = called.split(' ').next().unwrap_or(called);
    let said = match factor.law? {
        StressLaw::InversePower { reference, .. } => {
            format!(", {what} in proportion to ({} / {})^{b:.4}", factor.name, number(reference))
        }
        StressLaw::Arrhenius { .. } => {
            format!(", {what} in proportion to exp({b:.4} eV / (k T)), k = {BOLTZMANN_EV:e} eV/K")
        }
    };
    Some(format!("{said}{besides}"))
}

/// What each covariate is compared with: the level of a category, the value of a number.
pub(super) fn references(design: &Design) -> Vec<String> {
    let one = |f: &Factor| match (&f.reference, f.baseline) {
        (Some(level), _) => format!("{}={level}", f.name),
        (None, x) => format!("{} {}", f.name, number(x.unwrap_or(f64::NAN))),
    };
    design.factors.iter().map(one).collect()
}

fn covariate_facts(f: &CovariateFit) -> Facts {
    let mut facts: Facts = facts! { "family": f.family_name() };
    let ratio = |name: &str| f.life_ratio(name).ok().flatten();
    facts.extend(facts! {
        "coefficients": coefficients(f.design(), f.coefficients(), |n| f.standard_error(n), "life ratio", ratio),
        "compared_with": references(f.design()), "lamps": f.facts().lamps, "failures": f.facts().failures, "converged": f.converged(),
        "log_likelihood": f.log_likelihood(), "aic": f.aic(),
        "notes": f.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    });
    facts
}

/// A life that has a name, for Python.
pub(super) fn named(life: &dyn Life) -> Result<PyLife> {
    let Some(written) = life.named() else {
        let what = "a stretched life of this family has no parameters of its own";
        return Err(refuse(
            "python.life_unnamed",
            what,
            "life",
            "",
            "none",
            "quantile or residuals, or another family",
        ));
    };
    Ok(PyLife(Named::new(family_of(&written.family)?, written.parameters)?))
}

result_class! {
    /// A fitted accelerated-life regression: coefficients, their errors, tests of terms; made by `fit_covariates`.
    ///
    /// It holds numbers, never data. Its table has one row a coefficient.
    PyCovariateFit holds CovariateFit as "CovariateFit";
    save |f| saved::save(COVARIATE_FIT, f); load |t| saved::load(COVARIATE_FIT, t);
    table coefficient_table; show covariate_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// Coefficients by name: logarithms of life ratios for one unit of the column, or hours for a family that reaches
        /// below age 0.
        #[getter]
        fn coefficients(&self) -> BTreeMap<&str, f64> {
            self.0.design().names().into_iter().zip(self.0.coefficients().iter().copied()).collect()
        }

        /// Life ratios exp(b) by name; empty for a family that is shifted by hours.
        ///
        /// Under an interaction a ratio is that of lamps at the baseline of what is joined, which `summary` names.
        #[getter]
        fn life_ratios(&self) -> PyResult<BTreeMap<&str, f64>> {
            let mut out = BTreeMap::new();
            for name in self.0.design().names() {
                if let Some(ratio) = self.0.life_ratio(name)? {
                    out.insert(name, ratio);
                }
            }
            Ok(out)
        }

        /// Standard errors of the coefficients by name.
        #[getter]
        fn standard_errors(&self) -> PyResult<BTreeMap<&str, f64>> {
            self.0.design().names().into_iter().map(|n| Ok((n, self.0.standard_error(n)?))).collect()
        }

        /// Parameters of the baseline life: a lamp at the reference levels, at the references of stress laws, and at the mean
        /// of other numbers.
        #[getter]
        fn baseline(&self) -> BTreeMap<&'static str, f64> {
            self.0.baseline_parameters().into_iter().collect()
        }

        /// Maximised log-likelihood, densities per hour.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood()
        }

        /// Maximised log-likelihood of the same family without covariates.
        #[getter]
        fn log_likelihood_without(&self) -> f64 {
            self.0.log_likelihood_without()
        }

        /// Information criterion: smaller is better, on the same records only.
        #[getter]
        fn aic(&self) -> f64 {
            self.0.aic()
        }

        /// Whether the search reached the maximum.
        #[getter]
        fn converged(&self) -> bool {
            self.0.converged()
        }

        /// What a reader must know beside the numbers.
        #[getter]
        fn notes(&self) -> Fixed<&str> {
            self.0.notes().iter().map(|n| n.text.as_str()).collect()
        }

        /// Likelihood-ratio tests, one row a term: the model with the term but no interaction that holds it, against that one
        /// without the term.
        ///
        /// Returns
        /// -------
        /// Table
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a"] * 6 + ["b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> relamp.fit_covariates(tally, terms=["site"]).tests().columns
        /// ['term', 'statistic', 'degrees_of_freedom', 'p_value']
        fn tests(&self) -> PyResult<Table> {
            Ok(Table(test_table(self.0.tests())?))
        }

        /// Interval of a coefficient from the curvature at the maximum.
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
        /// >>> site = ["a"] * 6 + ["b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> fit = relamp.fit_covariates(relamp.lives(low, covariates={"site": site}), terms=["site"])
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

        /// Interval of a coefficient by profile likelihood.
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
        /// >>> site = ["a"] * 6 + ["b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> fit = relamp.fit_covariates(tally, terms=["site"])
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
            let (tally, options, sides) = (&tally.get().0, options(endings)?, sides_of(sides)?);
            Ok(PyInterval(work(py, None, |run| self.0.profile(tally, &options, name, level, sides, run))?))
        }

        /// The life of a lamp with these covariates, which goes wherever a life goes.
        ///
        /// Parameters
        /// ----------
        /// covariates : dict
        ///     A value for each covariate of the model.
        ///
        /// Returns
        /// -------
        /// Life
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a covariate that is missing, unknown or of the other kind; for a family that no parameters stretch, such as
        ///     "above_zero(normal)".
        /// RefusedError
        ///     For a level that no fitted lamp had.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a"] * 6 + ["b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> fit = relamp.fit_covariates(relamp.lives(low, covariates={"site": site}), terms=["site"])
        /// >>> a, b = fit.life({"site": "a"}), fit.life({"site": "b"})
        /// >>> abs(b.b_life(10.0) / a.b_life(10.0) - fit.life_ratios["site=b"]) < 1e-9
        /// True
        fn life(&self, covariates: &Bound<'_, PyAny>) -> PyResult<PyLife> {
            let given = one_lamp(covariates)?;
            let life = self.0.life(&given)?;
            for note in self.0.design().extrapolation(&given) {
                warn(covariates.py(), "WeakDataWarning", &format!("{} [{}]", note.text, note.slug))?;
            }
            Ok(named(life.as_ref())?)
        }

        /// Interval of the age by which a share of lamps with these covariates has failed.
        ///
        /// Parameters
        /// ----------
        /// covariates : dict
        ///     A value for each covariate of the model.
        /// p : float
        ///     The share, above 0 and below 1.
        /// level, sides
        ///     As in `wald`.
        ///
        /// Returns
        /// -------
        /// Interval
        ///     Hours; notes say where a covariate lies outside the range of the lamps, and where the age or the upper end lies
        ///     past the oldest lamp at risk.
        ///
        /// Raises
        /// ------
        /// InputError, RefusedError
        ///     As in `life`, and for a level or side out of range.
        /// DomainError
        ///     For a share out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a"] * 6 + ["b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> fit = relamp.fit_covariates(relamp.lives(low, covariates={"site": site}), terms=["site"])
        /// >>> interval = fit.quantile({"site": "b"}, p=0.1)
        /// >>> interval.low < fit.life({"site": "b"}).b_life(10.0) < interval.high
        /// True
        #[pyo3(signature = (covariates, *, p, level=0.95, sides="both"))]
        fn quantile(
            &self,
            covariates: &Bound<'_, PyAny>,
            #[pyo3(from_py_with = args::p)] p: f64,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
        ) -> PyResult<PyInterval> {
            Ok(PyInterval(self.0.quantile(&one_lamp(covariates)?, p, level, sides_of(sides)?)?))
        }

        /// The cumulative hazard that each lamp went through under the life of its own covariates, beside that of the records.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The fitted records, or other ones with the same covariates.
        /// endings : list of str, optional
        ///     The ones that count as failure; all failures without it.
        ///
        /// Returns
        /// -------
        /// HazardResiduals
        ///
        /// Raises
        /// ------
        /// RefusedError
        ///     For records that show failures only, and levels that no fitted lamp had.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a"] * 6 + ["b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> fit = relamp.fit_covariates(tally, terms=["site"])
        /// >>> round(fit.residuals(tally).expected_failures, 6)
        /// 12.0
        #[pyo3(signature = (tally, *, endings=None))]
        fn residuals(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
        ) -> PyResult<PyHazardResiduals> {
            let (tally, options) = (&tally.get().0, options(endings)?);
            Ok(PyHazardResiduals(work(py, None, |_| self.0.residuals(tally, &options))?))
        }

        /// Standardised residuals in hours: the ages at which a baseline lamp stands where each lamp stands.
        ///
        /// Parameters
        /// ----------
        /// tally : Tally
        ///     The fitted records, or other ones with the same covariates.
        ///
        /// Returns
        /// -------
        /// Tally
        ///     Without covariates; its curve beside the baseline life shows where the family fails.
        ///
        /// Raises
        /// ------
        /// RefusedError
        ///     For a family that is shifted by hours, and levels that no fitted lamp had.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a"] * 6 + ["b"] * 6
        /// >>> low = [310, 402, 480, 505, 550, 590, 633, 720, 815, 900, 950, 1100]
        /// >>> tally = relamp.lives(low, covariates={"site": site})
        /// >>> fit = relamp.fit_covariates(tally, terms=["site"])
        /// >>> base = relamp.fit(fit.standardised(tally))
        /// >>> abs(base.parameters["shape"] - fit.baseline["shape"]) < 1e-6
        /// True
        fn standardised(&self, py: Python<'_>, #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>) -> PyResult<PyTally> {
            let tally = &tally.get().0;
            Ok(PyTally(work(py, None, |_| self.0.standardised(tally))?))
        }
    }
}

/// Warnings that go with a regression.
pub(super) fn tell(py: Python<'_>, converged: bool, stop: &str, notes: &[crate::fit::Note]) -> PyResult<()> {
    if !converged {
        warn(py, "NotConvergedWarning", &format!("the regression did not settle: {stop}"))?;
    }
    notes.iter().try_for_each(|n| warn(py, "WeakDataWarning", &format!("{} [{}]", n.text, n.slug)))
}

/// Fits an accelerated-life regression: covariates multiply every age by a factor, or shift it by hours.
///
/// A lamp with covariates z has R(t) = R0(t exp(-eta)), eta the sum of coefficients times columns, 0 for the baseline lamp;
/// for "normal", "logistic" and "smallest_extreme_value" R0(t - eta), eta in hours. Exact failures, intervals, late entry,
/// windows and counts all enter one likelihood. Few failures for each coefficient give a `WeakDataWarning`.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records, with covariates.
/// terms : list of str
///     Names of covariates, and interactions such as "supplier:current"; a number joined to itself is its square. A
///     category of k levels has k - 1 coefficients, such as "supplier=south".
/// family : str
///     As in `fit`, but "weibull_failure_free" and "piecewise_constant(...)", whose likelihoods have corners. "above_zero(...)"
///     fits, but its moved lives have no parameters of their own: `quantile` answers there, `life` refuses.
/// references : dict of str to str, optional
///     The level of a category that the others are compared with; the first in order without it.
/// laws : dict of dicts, optional
///     Stress laws by covariate, such as {"current": {"law": "inverse_power", "reference": 75.0, "value_is": "at_fitting"}}:
///     the column is ln(current / reference). For "arrhenius" the covariate is degrees Celsius, the column
///     1/(k T) - 1/(k T0) with T = x + 273.15 and k = 8.617333262e-5 eV/K, the coefficient an activation energy in eV.
///     "value_is" says what the one value of a lamp stands for: "at_fitting" or "constant_over_life"; a "last_reading" is
///     refused, as a current is raised because a lamp fades. Life is in proportion to (current / reference)^b; the power n of
///     `fit_current_history` is -b. A `WeakDataWarning` says where a greater current or temperature prolongs life.
/// value_is : dict of str to str, optional
///     The same declaration for numbers without a law, such as {"current": "at_fitting"}. A number that nobody declares
///     brings a `WeakDataWarning`: read at the end of a life instead of at fitting, it would make its ratio wrong.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
///
/// Returns
/// -------
/// CovariateFit
///
/// Raises
/// ------
/// InputError
///     For unknown covariates, levels and laws, and interactions without one of their parts.
/// RefusedError
///     For collinear columns, by name; levels without lamps; levels without failures, whose coefficient has no finite
///     maximum: the hint holds its bound.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> supplier = ["north"] * 6 + ["south"] * 6
/// >>> current = [70.0, 70.0, 80.0, 80.0, 90.0, 90.0] * 2
/// >>> low = [900, 950, 720, 633, 550, 480, 1100, 1190, 1010, 903, 780, 655]
/// >>> tally = relamp.lives(low, covariates={"supplier": supplier, "current": current})
/// >>> law = {"law": "inverse_power", "reference": 75.0, "value_is": "at_fitting"}
/// >>> import warnings
/// >>> with warnings.catch_warnings():
/// ...     warnings.simplefilter("ignore", relamp.WeakDataWarning)
/// ...     fit = relamp.fit_covariates(tally, terms=["supplier", "current"], laws={"current": law})
/// >>> sorted(fit.coefficients)
/// ['current', 'supplier=south']
/// >>> fit.coefficients["current"] < -1.5 and fit.life_ratios["supplier=south"] > 1.2
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, terms, family="weibull", references=None, laws=None, value_is=None, endings=None))]
pub(super) fn fit_covariates(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::terms)] terms: Vec<String>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::references)] references: Option<BTreeMap<String, String>>,
    laws: Option<&Bound<'_, PyAny>>,
    value_is: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyCovariateFit> {
    let (family, options) = (family_of(family)?, options(endings)?);
    let terms = terms_of(terms, references, laws, value_is)?;
    let tally = &tally.get().0;
    let fit = work(py, None, |run| core_fit(family, tally, &terms, &options, run))?;
    tell(py, fit.converged(), &word(&fit.stop()), fit.notes())?;
    Ok(PyCovariateFit(fit))
}
