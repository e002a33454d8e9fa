//! Possible worlds: causes with their lives and costs, and draws of them.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::family::{NamedLife, family};
use crate::fit::{CauseDraws, CauseLife, Draws, World};
use crate::records::Ending;

use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, kind_of};
use super::life::PyLife;
use super::lives::ending;
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyCosts;

const DRAWS: Format = Format::new("draws", 1);

fn joined(cause: &CauseLife) -> String {
    cause.endings.iter().map(|e| e.0.as_str()).collect::<Vec<_>>().join("+")
}

/// The parameters of causes side by side: one row each, a column for every name that one of them has.
fn parameter_columns<'a>(
    mut frame: Frame,
    lives: impl Iterator<Item = &'a Option<NamedLife>> + Clone,
) -> Result<Frame> {
    let named = |life: &NamedLife| -> Result<Vec<(&'static str, f64)>> {
        Ok(family(&life.family)?.parameter_names().iter().copied().zip(life.parameters.iter().copied()).collect())
    };
    let rows =
        lives.map(|l| l.as_ref().map_or_else(|| Ok(Vec::new()), named)).collect::<Result<Vec<Vec<(&str, f64)>>>>()?;
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in rows.iter().flatten() {
        if !names.contains(name) {
            names.push(name);
        }
    }
    for name in names {
        let value = |row: &Vec<(&str, f64)>| row.iter().find(|p| p.0 == name).map(|p| p.1);
        frame = frame.numbers_or_null(name, rows.iter().map(value));
    }
    Ok(frame)
}

fn family_name(life: Option<&NamedLife>) -> String {
    life.map_or_else(String::new, |l| l.family.clone())
}

fn world_table(w: &World) -> Result<RecordBatch> {
    let rows: Vec<(usize, Ending, f64, Option<NamedLife>)> = w
        .causes
        .iter()
        .enumerate()
        .flat_map(|(i, c)| c.endings.iter().map(move |(e, share)| (i, *e, *share, c.life.named())))
        .collect();
    let frame = Frame::default()
        .counts("cause", rows.iter().map(|r| r.0 as u64 + 1))
        .texts("ending", rows.iter().map(|r| r.1.as_str()))
        .numbers("share", rows.iter().map(|r| r.2))
        .numbers_or_null("cost", rows.iter().map(|r| w.costs.failure(r.1).ok()))
        .texts("family", rows.iter().map(|r| family_name(r.3.as_ref())));
    parameter_columns(frame, rows.iter().map(|r| &r.3))?.finish()
}

fn world_facts(w: &World) -> Facts {
    facts! {
        "causes": w.causes.iter().map(joined).collect::<Vec<_>>(),
        "families": w.causes.iter().map(|c| family_name(c.life.named().as_ref())).collect::<Vec<_>>(),
        "planned_cost": w.costs.planned(),
    }
}

result_class! {
    /// One possible world for one lamp class: causes in series, each with its life, and the costs; made by `world`,
    /// `CauseFits.world`, `Draws.best` or `Draws.world`.
    ///
    /// Its table holds one row for each ending of each cause, with the parameters of its life.
    PyWorld holds World as "World";
    save World::to_json; load World::from_json; table world_table; show world_facts;
    {
        /// The endings of each cause with their shares.
        #[getter]
        fn causes(&self) -> Fixed<Vec<(&'static str, f64)>> {
            self.0.causes.iter().map(|c| c.endings.iter().map(|(e, share)| (e.as_str(), *share)).collect()).collect()
        }

        /// The costs.
        #[getter]
        fn costs(&self) -> PyCosts {
            PyCosts(self.0.costs.clone())
        }

        /// Probability to pass the age, all causes acting.
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
        /// >>> world = relamp.world({"burst": life, "dim": life}, relamp.costs(950.0, burst=5200.0, dim=1250.0))
        /// >>> round(world.reliability(1000.0), 6) == round(life.reliability(1000.0) ** 2, 6)
        /// True
        fn reliability<'py>(&self, age: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
            let at = At { input: "world", column: "age" };
            super::arrays::over(age, at, |a| {
                Ok(Some(self.0.causes.iter().map(|c| c.life.ln_reliability(a)).sum::<f64>().exp()))
            })
        }
    }
}

fn share(endings: &Bound<'_, PyDict>) -> PyResult<Vec<(Ending, f64)>> {
    let one = |(word, share): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
        let word: String = word.extract().map_err(|_| wrong(&kind_of(&word)))?;
        let at = At { input: "world", column: &word };
        Ok((ending("causes", &word)?, args::one_number(&share, at)?))
    };
    endings.iter().map(one).collect()
}

fn wrong(got: &str) -> PyErr {
    let expected = "a dict from ending to Life, or a list of pairs (dict from ending to share, Life)";
    refuse("python.causes", "not causes", "world", "causes", got, expected).into()
}

fn cause(endings: Vec<(Ending, f64)>, life: &Bound<'_, PyAny>) -> PyResult<CauseLife> {
    let held = life.cast::<PyLife>().map_err(|_| wrong(&kind_of(life)))?;
    let sum: f64 = endings.iter().map(|e| e.1).sum();
    if endings.iter().any(|e| e.1.is_nan() || e.1 < 0.0) || !(sum > 0.0 && sum.is_finite()) {
        let shares: Vec<String> = endings.iter().map(|(e, share)| format!("{e}: {share}")).collect();
        let expected = "shares of at least 0, not all of them 0";
        return Err(refuse("python.causes", "not shares", "world", "causes", &shares.join(", "), expected).into());
    }
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
///     Of a planned change, and of a failure by every ending named.
///
/// Returns
/// -------
/// World
///
/// Raises
/// ------
/// InputError
///     For a word that is no ending, what is not a life, shares that are not numbers of at least 0, and endings without a cost.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
/// >>> relamp.world({"burst": life}, costs)
/// World(causes=[burst], families=[weibull], planned_cost=950)
/// >>> relamp.world([({"burst": 0.1, "dim": 0.9}, life)], costs).causes
/// ([('burst', 0.1), ('dim', 0.9)],)
#[pyfunction]
pub(super) fn world(
    causes: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::made::<PyCosts>)] costs: &Bound<'_, PyCosts>,
) -> PyResult<PyWorld> {
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
            found.push(cause(share(endings)?, &life)?);
        }
    }
    let costs = costs.get().0.clone();
    let seen = |c: &CauseLife| c.endings.iter().filter(|e| e.1 > 0.0).map(|e| e.0).collect::<Vec<_>>();
    let mut failures: Vec<Ending> = found.iter().flat_map(seen).collect();
    failures.sort_unstable();
    failures.dedup();
    costs.cover(&failures)?;
    Ok(PyWorld(World { causes: found, costs }))
}

/// The settled draws, one row for each cause of each.
fn draws_table(d: &CauseDraws) -> Result<RecordBatch> {
    let mut rows = Vec::new();
    for i in 0..d.len() {
        // A draw without a world has no rows; asking for it says why.
        if let Ok(world) = d.world(i) {
            rows.extend(world.causes.iter().map(|c| (i as u64, joined(c), c.life.named())));
        }
    }
    let frame = Frame::default()
        .counts("replicate", rows.iter().map(|r| r.0))
        .texts("cause", rows.iter().map(|r| &r.1))
        .texts("family", rows.iter().map(|r| family_name(r.2.as_ref())));
    parameter_columns(frame, rows.iter().map(|r| &r.2))?.finish()
}

fn draws_facts(d: &CauseDraws) -> Facts {
    let best = d.best().ok();
    facts! {
        "draws": d.len(), "method": word(&d.method()),
        "causes": best.as_ref().map(|w| w.causes.iter().map(joined).collect::<Vec<_>>()),
    }
}

result_class! {
    /// Draws of possible worlds: the estimates, and a world for each replicate, all causes drawn together; made by
    /// `CauseFits.draws`.
    ///
    /// Its table holds the parameters of each cause in each draw.
    PyDraws holds CauseDraws as "Draws";
    save |d| saved::save(DRAWS, d); load |t| saved::load(DRAWS, t); table draws_table; show draws_facts;
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// How the worlds are drawn.
        #[getter]
        fn method(&self) -> String {
            word(&self.0.method())
        }

        /// What a reader must know beside figures that rest on these draws: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            self.0.notes().iter().map(|n| (n.slug.clone(), n.text.clone())).collect()
        }

        /// The world at the estimates.
        ///
        /// Returns
        /// -------
        /// World
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> ages = [100.0 + 7.0 * i for i in range(60)]
        /// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
        /// >>> fits, costs = relamp.fit_causes(tally), relamp.costs(950.0, burst=5200.0, dim=1250.0)
        /// >>> draws = fits.draws(tally, costs, n=20, seed=1)
        /// >>> draws.best() == fits.world(costs)
        /// True
        fn best(&self) -> PyResult<PyWorld> {
            Ok(PyWorld(self.0.best()?))
        }

        /// The world of one draw.
        ///
        /// Parameters
        /// ----------
        /// replicate : int
        ///     From 0, the first, to the number of draws less one.
        ///
        /// Returns
        /// -------
        /// World
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a draw that there is none of.
        /// RefusedError
        ///     For a draw whose refit did not settle.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> ages = [100.0 + 7.0 * i for i in range(60)]
        /// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
        /// >>> fits, costs = relamp.fit_causes(tally), relamp.costs(950.0, burst=5200.0, dim=1250.0)
        /// >>> draws = fits.draws(tally, costs, n=20, seed=1)
        /// >>> draws.world(0) == draws.world(0), draws.world(0) == draws.world(1)
        /// (True, False)
        fn world(&self, py: Python<'_>, #[pyo3(from_py_with = args::replicate)] replicate: usize) -> PyResult<PyWorld> {
            Ok(PyWorld(super::work::work(py, None, |_| checked(&self.0, replicate))?))
        }
    }
}

fn checked(draws: &CauseDraws, replicate: usize) -> Result<World> {
    if replicate >= draws.len() {
        let expected = format!("below {}", draws.len());
        let got = replicate.to_string();
        return Err(refuse("python.replicate", "no such draw", "draws", "replicate", &got, &expected));
    }
    draws.world(replicate)
}
