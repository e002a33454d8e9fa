//! Life distributions with their numbers in.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::error::Error;
use crate::base::math::linalg::packed;
use crate::base::random::Stream;
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::family::{Family, Life, NamedLife, Term, family};

use super::arrays::{array, checked_over, over, square};
use super::error::refuse;
use super::frames::Frame;
use super::intake::{At, arguments as args};
use super::result::result_class;
use super::show::Facts;
use super::work::work;

const LIFE: Format = Format::new("life", 1);

/// A family with parameters. It is saved as such and builds its life again on loading.
#[derive(Debug)]
pub(super) struct Named {
    family: &'static dyn Family,
    parameters: Vec<f64>,
    life: Box<dyn Life>,
}

impl PartialEq for Named {
    fn eq(&self, other: &Self) -> bool {
        self.family.name() == other.family.name() && self.parameters == other.parameters
    }
}

impl Named {
    pub(super) fn new(family: &'static dyn Family, parameters: Vec<f64>) -> Result<Self> {
        let life = NamedLife::new(family.name(), parameters.clone()).life()?;
        Ok(Self { family, parameters, life })
    }

    /// Another copy of the life, to own.
    pub(super) fn life(&self) -> Result<Box<dyn Life>> {
        self.family.life(&self.parameters)
    }

    fn save(&self) -> Result<String> {
        saved::save(LIFE, &NamedLife::new(self.family.name(), self.parameters.clone()))
    }

    fn load(text: &str) -> Result<Self> {
        let written: NamedLife = saved::load(LIFE, text)?;
        Self::new(family(&written.family)?, written.parameters)
    }

    /// A logarithm at an age with its derivatives over (parameters.., age).
    fn derivatives<'py>(&self, py: Python<'py>, term: Term, age: f64) -> PyResult<Bound<'py, PyDict>> {
        let found = self.family.parameter_jet(&self.parameters, age, term)?;
        let n = found.gradient.len();
        let names: Vec<&str> = self.family.parameter_names().iter().copied().chain(["age"]).collect();
        let full: Vec<f64> =
            (0..n * n).map(|k| found.hessian.get(packed(k / n, k % n)).copied().unwrap_or(f64::NAN)).collect();
        let out = PyDict::new(py);
        out.set_item("names", names)?;
        out.set_item("value", found.value)?;
        out.set_item("gradient", array(py, &found.gradient)?)?;
        out.set_item("hessian", square(py, &full, n)?)?;
        Ok(out)
    }

    fn named(&self) -> impl Iterator<Item = (&'static str, f64)> + '_ {
        self.family.parameter_names().iter().copied().zip(self.parameters.iter().copied())
    }
}

fn wrong_parameters(family: &dyn Family, got: &str) -> Error {
    let expected = family.parameter_names().join(", ");
    refuse("python.parameters", "wrong parameters", "life", family.name(), got, &expected)
}

fn parameter_table(l: &Named) -> Result<RecordBatch> {
    Frame::default().texts("parameter", l.named().map(|p| p.0)).numbers("value", l.named().map(|p| p.1)).finish()
}

fn life_facts(l: &Named) -> Facts {
    let mut facts: Facts = vec![("family", serde_json::json!(l.family.name()))];
    facts.extend(l.named().map(|(name, value)| (name, serde_json::json!(value))));
    facts
}

fn at(column: &'static str) -> At<'static> {
    At { input: "life", column }
}

/// Draws in one call; more would not fit in memory.
const MOST_DRAWS: usize = 100_000_000;
/// Draws between two looks at the stop flag.
const BLOCK: usize = 65_536;

fn draws(life: &dyn Life, n: usize, seed: u64, run: &Run) -> Result<Vec<f64>> {
    let mut stream = Stream::new(seed, "python.life", "", 0);
    let mut ages = Vec::with_capacity(n);
    while ages.len() < n {
        run.check()?;
        ages.extend(life.draws(BLOCK.min(n - ages.len()), &mut stream)?);
    }
    Ok(ages)
}

result_class! {
    /// A life distribution: every function of age; made by `life` or `Fit.life`. Ages are hours.
    ///
    /// Each function takes one age (and gives one number) or a column of ages (and gives an array).
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
    /// >>> round(life.reliability(1000.0), 6)
    /// 0.367879
    /// >>> life.b_life(10.0) == life.quantile(0.1)
    /// True
    PyLife holds Named as "Life";
    save Named::save; load Named::load; table parameter_table; show life_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &'static str {
            self.0.family.name()
        }

        /// Parameters by name.
        #[getter]
        fn parameters<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            for (name, value) in self.0.named() {
                dict.set_item(name, value)?;
            }
            Ok(dict)
        }

        /// Probability to pass the age.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Probability, 0 to 1; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.reliability(1000.0), 4), life.reliability([0.0, 1000.0]).round(4).tolist()
        /// (0.3679, [1.0, 0.3679])
        fn reliability<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.reliability(a))))
        }

        /// Probability to pass the age for a lamp that has reached an earlier one: reliability(age) / reliability(reached),
        /// and 1 up to that one.
        ///
        /// Parameters
        /// ----------
        /// age : float or array of floats
        ///     Ages, hours.
        /// reached : float
        ///     Age that the lamp has reached, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Probability, 0 to 1; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.conditional_reliability(1000.0, reached=500.0), 4)
        /// 0.4724
        #[pyo3(signature = (age, *, reached))]
        fn conditional_reliability<'py>(
            &self,
            age: &Bound<'py, PyAny>,
            #[pyo3(from_py_with = args::reached)] reached: f64,
        ) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.conditional_reliability(a, reached))))
        }

        /// Probability to have failed by the age.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Probability, 0 to 1; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.failure_probability(1000.0), 4)
        /// 0.6321
        fn failure_probability<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.failure_probability(a))))
        }

        /// Failures per hour among lamps that reached the age.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Rate per hour, infinite where the density is over no lamps; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> life.hazard([500.0, 1000.0]).round(6).tolist()
        /// [0.001, 0.002]
        fn hazard<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.hazard(a))))
        }

        /// Integral of the hazard to the age.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Without unit, at least 0; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> life.cumulative_hazard(2000.0)
        /// 4.0
        fn cumulative_hazard<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.cumulative_hazard(a))))
        }

        /// Density of the age at failure: failures per hour among all lamps that were new.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Share per hour, at least 0; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> life.density([500.0, 1000.0]).round(6).tolist()
        /// [0.000779, 0.000736]
        fn density<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.ln_density(a).exp())))
        }

        /// Logarithm of the density; minus infinity where the density is 0.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Logarithm of a density per hour; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.ln_density(1000.0), 4)
        /// -7.2146
        fn ln_density<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.ln_density(a))))
        }

        /// Logarithm of the reliability, which keeps its digits far out in the tail.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Logarithm of a probability; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.ln_reliability(50_000.0), 6)
        /// -2500.0
        fn ln_reliability<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.ln_reliability(a))))
        }

        /// Logarithm of the failure probability, which keeps its digits near age 0.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Logarithm of a probability; an array for a column of ages.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.ln_failure_probability(1.0), 4)
        /// -13.8155
        fn ln_failure_probability<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            over(age, at("age"), |a| Ok(Some(self.0.life.ln_failure_probability(a))))
        }

        /// Derivatives of the logarithm of the density over the parameters and the age.
        ///
        /// They are over the parameters themselves, in their own units, and the age in hours; not over logarithms. At age
        /// 0 and at infinite age all are 0.
        ///
        /// Parameters
        /// ----------
        /// age : float
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// dict
        ///     `names`: the k parameters in order, then "age"; `value`: the logarithm itself; `gradient`: first
        ///     derivatives, (k + 1,); `hessian`: second derivatives, (k + 1, k + 1), both in the order of `names`.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("exponential", scale=1000.0)
        /// >>> found = life.ln_density_derivatives(500.0)
        /// >>> found["names"], (1e6 * found["gradient"]).round(6).tolist()
        /// (['scale', 'age'], [-500.0, -1000.0])
        fn ln_density_derivatives<'py>(
            &self,
            py: Python<'py>,
            #[pyo3(from_py_with = args::age)] age: f64,
        ) -> PyResult<Bound<'py, PyDict>> {
            self.0.derivatives(py, Term::LnDensity, age)
        }

        /// Derivatives of the logarithm of the reliability over the parameters and the age.
        ///
        /// They are over the parameters themselves, in their own units, and the age in hours; not over logarithms. At age
        /// 0 and at infinite age all are 0.
        ///
        /// Parameters
        /// ----------
        /// age : float
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// dict
        ///     `names`: the k parameters in order, then "age"; `value`: the logarithm itself; `gradient`: first
        ///     derivatives, (k + 1,); `hessian`: second derivatives, (k + 1, k + 1), both in the order of `names`.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("exponential", scale=1000.0)
        /// >>> found = life.ln_reliability_derivatives(500.0)
        /// >>> found["names"], (1e6 * found["gradient"]).round(6).tolist()
        /// (['scale', 'age'], [500.0, -1000.0])
        fn ln_reliability_derivatives<'py>(
            &self,
            py: Python<'py>,
            #[pyo3(from_py_with = args::age)] age: f64,
        ) -> PyResult<Bound<'py, PyDict>> {
            self.0.derivatives(py, Term::LnReliability, age)
        }

        /// Derivatives of the logarithm of the failure probability over the parameters and the age.
        ///
        /// They are over the parameters themselves, in their own units, and the age in hours; not over logarithms. At age
        /// 0 and at infinite age all are 0.
        ///
        /// Parameters
        /// ----------
        /// age : float
        ///     Age, hours.
        ///
        /// Returns
        /// -------
        /// dict
        ///     `names`: the k parameters in order, then "age"; `value`: the logarithm itself; `gradient`: first
        ///     derivatives, (k + 1,); `hessian`: second derivatives, (k + 1, k + 1), both in the order of `names`.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("exponential", scale=1000.0)
        /// >>> found = life.ln_failure_probability_derivatives(500.0)
        /// >>> found["names"], (1e6 * found["gradient"]).round(6).tolist()
        /// (['scale', 'age'], [-770.747041, 1541.494083])
        fn ln_failure_probability_derivatives<'py>(
            &self,
            py: Python<'py>,
            #[pyo3(from_py_with = args::age)] age: f64,
        ) -> PyResult<Bound<'py, PyDict>> {
            self.0.derivatives(py, Term::LnFailureProbability, age)
        }

        /// Age by which a share has failed.
        ///
        /// Parameters
        /// ----------
        /// p : float or array-like
        ///     Share, 0 to 1.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Age, hours; infinite where the share is never reached.
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
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.quantile(0.5), 2), life.quantile([0.0, 1.0]).tolist()
        /// (832.55, [0.0, inf])
        fn quantile<'py>(&self, p: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            checked_over(p, at("p"), |p| self.0.life.quantile(p))
        }

        /// Age by which a percentage has failed: `b_life(10.0)` is the B10 life.
        ///
        /// Parameters
        /// ----------
        /// x : float or array-like
        ///     Percent failed, 0 to 100.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Age, hours.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// DomainError
        ///     For a percentage outside 0 to 100.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.b_life(10.0), 2)
        /// 324.59
        fn b_life<'py>(&self, x: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            checked_over(x, at("x"), |x| self.0.life.b_life(x))
        }

        /// Mean age at change when lamps are changed at the age or at failure: the integral of the reliability.
        ///
        /// Without an end it is the mean of a life above 0. Of a life that reaches below age 0 it is the mean with every age
        /// below 0 counted as 0, and `mean` is over all numbers.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age of the planned change, hours; may be infinite.
        ///
        /// Returns
        /// -------
        /// float or numpy.ndarray
        ///     Mean age at change, hours.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// DomainError
        ///     For an age below 0, and where the integral does not settle.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.mean_to(1000.0), 2), life.mean_to(float("inf")) == life.mean
        /// (746.82, True)
        fn mean_to<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            checked_over(age, at("age"), |a| self.0.life.mean_to(a))
        }

        /// Mean hours still to come for a lamp that has reached the age.
        ///
        /// Parameters
        /// ----------
        /// age : float or array-like
        ///     Age, hours.
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
        /// DomainError
        ///     Where the mean does not settle.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> round(life.mean_residual_life(1000.0), 2)
        /// 378.94
        fn mean_residual_life<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            checked_over(age, at("age"), |a| self.0.life.mean_residual_life(a))
        }

        /// Mean age at failure, hours.
        #[getter]
        fn mean(&self) -> PyResult<f64> {
            Ok(self.0.life.mean()?)
        }

        /// Variance of the age at failure, hours squared; infinite where there is none.
        #[getter]
        fn variance(&self) -> PyResult<f64> {
            Ok(self.0.life.variance()?)
        }

        /// Random ages at failure; the same for the same seed.
        ///
        /// Parameters
        /// ----------
        /// n : int
        ///     How many, at most 100,000,000.
        /// seed : int
        ///     0 to 2^64 - 1.
        ///
        /// Returns
        /// -------
        /// numpy.ndarray
        ///     Ages, hours, (n,).
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For `n` or `seed` out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=2.0, scale=1000.0)
        /// >>> ages = life.draws(1000, seed=7)
        /// >>> len(ages), bool((ages == life.draws(1000, seed=7)).all())
        /// (1000, True)
        #[pyo3(signature = (n, *, seed))]
        fn draws<'py>(
            &self,
            py: Python<'py>,
            #[pyo3(from_py_with = args::n)] n: usize,
            #[pyo3(from_py_with = args::seed)] seed: u64,
        ) -> PyResult<Bound<'py, PyAny>> {
            if n > MOST_DRAWS {
                let expected = format!("at most {MOST_DRAWS}");
                return Err(refuse("python.too_many", "too many draws", "draws", "n", &n.to_string(), &expected).into());
            }
            array(py, &work(py, None, |run| draws(self.0.life.as_ref(), n, seed, run))?)
        }
    }
}

/// A life distribution of a family with its parameters.
///
/// Parameters
/// ----------
/// name : str
///     One of the names below, or one made of others: `above_zero(a)` cuts "normal", "logistic" or
///     "smallest_extreme_value" at age 0; `series(a, b)`: two causes, whichever comes first; `mixture(a, b)`: two kinds
///     of lamps; `never_fails(a)`: a share that never fails from this cause. Each may stand where a name may. In
///     `piecewise_constant(...)` stand up to seven ages in hours, between which the hazard is constant.
/// **parameters : float
///     By name: "exponential": `scale`; "weibull", "log_logistic", "gamma", "birnbaum_saunders", "gompertz": `shape`,
///     `scale`; "inverse_gaussian": `shape`, `mean`; "lognormal": `location` and `scale` of the logarithm of age;
///     "weibull_failure_free": `shape`, `scale` and `location`, the failure-free time in hours; "generalised_gamma":
///     `location`, `scale` and `shape`, 0 for a lognormal life and 1 for a Weibull one; "normal", "logistic",
///     "smallest_extreme_value": `location`, `scale`; "piecewise_constant(...)": `hazard_1`, `hazard_2`, and so on, per
///     hour. A shape has no unit, those of the logarithm of age have none either, all others are hours. "series" and
///     "mixture": those of the first with `first_` before each, those of the second with `second_`, and for a mixture
///     `first_share`, the share of the first kind. "never_fails": those of the lamps that fail, and `never_share`.
///     A shape, scale, mean or hazard lies above 0 and is finite, a share above 0 and below 1. A location is any finite
///     number, that of "weibull_failure_free" 0 or more; the `shape` of "generalised_gamma" is any finite one.
///
/// Returns
/// -------
/// Life
///
/// Raises
/// ------
/// InputError
///     For an unknown family, parameters other than its own, and values that are not numbers.
/// DomainError
///     For a parameter out of its range.
///
/// Notes
/// -----
/// Reliability at age t (the page on families in the guide has a table with the range of numbers checked)::
///
///     exponential             exp(-t / scale)
///     weibull                 exp(-(t / scale)^shape)
///     weibull_failure_free    exp(-((t - location) / scale)^shape), 1 up to the location
///     lognormal               1 - Phi((ln t - location) / scale)
///     log_logistic            1 / (1 + (t / scale)^shape)
///     gamma                   Q(shape, t / scale), the upper incomplete gamma function
///     generalised_gamma       Q(a, x) for a shape above 0, 1 - Q(a, x) below, with a = 1 / shape^2 and
///                             x = a exp(shape (ln t - location) / scale)
///     birnbaum_saunders       Phi(-(sqrt(t / scale) - sqrt(scale / t)) / shape)
///     inverse_gaussian        Phi(-a) - exp(2 shape) Phi(-b), a and b = sqrt(shape) (sqrt(t / mean) -+ sqrt(mean / t))
///     gompertz                exp(-shape (exp(t / scale) - 1))
///     normal                  1 - Phi((t - location) / scale)
///     logistic                1 / (1 + exp((t - location) / scale))
///     smallest_extreme_value  exp(-exp((t - location) / scale))
///     piecewise_constant      exp(-sum of hazard x hours spent in each piece)
///
/// "normal", "logistic" and "smallest_extreme_value" reach below age 0. They are for fitting; decisions take them only
/// cut there and renormalised. A life with a share that never fails has an infinite mean and infinite late quantiles.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.life("exponential", scale=1000.0).mean
/// 1000.0
/// >>> relamp.life("log_logistic", shape=2.0, scale=1000.0).reliability(1000.0)
/// 0.5
/// >>> relamp.life("above_zero(normal)", location=1500.0, scale=400.0).reliability(0.0)
/// 1.0
/// >>> numbers = {"first_scale": 100.0, "second_scale": 1000.0, "first_share": 0.1}
/// >>> mixed = relamp.life("mixture(exponential, exponential)", **numbers)
/// >>> round(mixed.mean, 9)
/// 910.0
/// >>> relamp.life("weibull_failure_free", shape=2.0, scale=900.0, location=300.0).quantile(1e-12) > 300.0
/// True
/// >>> life = relamp.life("piecewise_constant(500, 1000)", hazard_1=1e-4, hazard_2=2e-4, hazard_3=1e-3)
/// >>> round(life.cumulative_hazard(1200.0), 12)
/// 0.35
#[pyfunction]
#[pyo3(signature = (name, /, **parameters))]
pub(super) fn life(
    #[pyo3(from_py_with = args::name)] name: &str,
    parameters: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyLife> {
    let family = family(name)?;
    let names = family.parameter_names();
    let mut values = Vec::with_capacity(names.len());
    for parameter in names {
        if let Some(value) = parameters.map(|p| p.get_item(parameter)).transpose()?.flatten() {
            values.push(args::one_number(&value, At { input: "life", column: parameter })?);
        }
    }
    let given: Vec<String> = parameters.map_or_else(Vec::new, |p| p.keys().iter().map(|k| k.to_string()).collect());
    if given.len() != values.len() || values.len() != names.len() {
        let got = if given.is_empty() { "none".to_owned() } else { given.join(", ") };
        return Err(wrong_parameters(family, &got).into());
    }
    Ok(PyLife(Named::new(family, values)?))
}
