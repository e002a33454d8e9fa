//! Possible worlds: causes with their lives and costs, and draws of them.

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::fit::{CauseLife, Draws, World};
use crate::records::Ending;

use super::error::refuse;
use super::intake::kind_of;
use super::life::PyLife;
use super::lives::ending;
use super::policy::word;
use super::terms::PyCosts;

/// One possible world for one lamp class: causes in series, each with its life, and the costs; made by `world`.
#[pyclass(frozen, module = "relamp", name = "World")]
#[derive(Debug)]
pub(super) struct PyWorld(pub(super) World);

#[pymethods]
impl PyWorld {
    /// The endings of each cause with their shares.
    #[getter]
    fn causes(&self) -> Vec<Vec<(&'static str, f64)>> {
        self.0.causes.iter().map(|c| c.endings.iter().map(|(e, share)| (e.as_str(), *share)).collect()).collect()
    }

    /// The costs.
    #[getter]
    fn costs(&self) -> PyCosts {
        PyCosts(self.0.costs.clone())
    }

    /// Probability to pass the age, all causes acting.
    fn reliability<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let at = super::intake::At { input: "world", column: "age" };
        super::arrays::over(age, at, |a| {
            Ok(Some(self.0.causes.iter().map(|c| c.life.ln_reliability(a)).sum::<f64>().exp()))
        })
    }

    fn __repr__(&self) -> String {
        let causes: Vec<String> =
            self.causes().iter().map(|c| c.iter().map(|e| e.0).collect::<Vec<_>>().join("+")).collect();
        format!("World(causes=[{}])", causes.join(", "))
    }
}

fn share(endings: &Bound<'_, PyDict>) -> PyResult<Vec<(Ending, f64)>> {
    endings.iter().map(|(e, share)| Ok((ending("causes", &e.extract::<String>()?)?, share.extract()?))).collect()
}

fn wrong(got: &str) -> PyErr {
    let expected = "a dict from ending to Life, or a list of pairs (dict from ending to share, Life)";
    refuse("python.causes", "not causes", "world", "causes", got, expected).into()
}

fn cause(endings: Vec<(Ending, f64)>, life: &Bound<'_, PyAny>) -> PyResult<CauseLife> {
    let held = life.cast::<PyLife>().map_err(|_| wrong(&kind_of(life)))?;
    Ok(CauseLife { endings, life: held.get().0.life()? })
}

/// A world from lives that are given: causes in series, and costs.
///
/// Parameters
/// ----------
/// causes : dict of str to Life, or list of (dict of str to float, Life)
///     A life for each ending as if it acted alone; or, where one life stands for several endings, their shares among
///     its failures.
/// costs : Costs
///
/// Returns
/// -------
/// World
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
/// >>> relamp.world({"burst": life}, costs)
/// World(causes=[burst])
/// >>> relamp.world([({"burst": 0.1, "dim": 0.9}, life)], costs)
/// World(causes=[burst+dim])
#[pyfunction]
pub(super) fn world(causes: &Bound<'_, PyAny>, costs: &Bound<'_, PyCosts>) -> PyResult<PyWorld> {
    let mut found = Vec::new();
    if let Ok(dict) = causes.cast::<PyDict>() {
        for (word, life) in dict {
            let word: String = word.extract().map_err(|_| wrong(&kind_of(&word)))?;
            found.push(cause(vec![(ending("causes", &word)?, 1.0)], &life)?);
        }
    } else {
        for pair in causes.try_iter().map_err(|_| wrong(&kind_of(causes)))? {
            let pair = pair?;
            let Ok((endings, life)) = pair.extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>() else {
                return Err(wrong(&kind_of(&pair)));
            };
            let endings = endings.cast::<PyDict>().map_err(|_| wrong(&kind_of(&endings)))?;
            found.push(cause(share(endings).map_err(|e| wrong(&e.to_string()))?, &life)?);
        }
    }
    Ok(PyWorld(World { causes: found, costs: costs.get().0.clone() }))
}

/// Draws of possible worlds: the estimates, and a world for each replicate, all causes drawn together.
#[pyclass(frozen, module = "relamp", name = "Draws")]
pub(super) struct PyDraws(pub(super) Box<dyn Draws + Send + Sync>);

impl std::fmt::Debug for PyDraws {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("PyDraws").field("len", &self.0.len()).field("method", &self.0.method()).finish()
    }
}

#[pymethods]
impl PyDraws {
    fn __len__(&self) -> usize {
        self.0.len()
    }

    /// How the worlds are drawn.
    #[getter]
    fn method(&self) -> String {
        word(&self.0.method())
    }

    /// The world at the estimates.
    fn best(&self) -> PyResult<PyWorld> {
        Ok(PyWorld(self.0.best()?))
    }

    /// The world of one draw, the first being 0.
    fn world(&self, py: Python<'_>, replicate: usize) -> PyResult<PyWorld> {
        Ok(PyWorld(super::work::work(py, None, |_| self.checked(replicate))?))
    }

    fn __repr__(&self) -> String {
        format!("Draws({}, method={:?})", self.0.len(), self.method())
    }
}

impl PyDraws {
    fn checked(&self, replicate: usize) -> Result<World> {
        if replicate >= self.0.len() {
            let expected = format!("below {}", self.0.len());
            return Err(refuse(
                "python.replicate",
                "no such draw",
                "draws",
                "replicate",
                &replicate.to_string(),
                &expected,
            ));
        }
        self.0.world(replicate)
    }
}
