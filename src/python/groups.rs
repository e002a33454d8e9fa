//! Tests between groups of lamps.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};

use crate::Result;
use crate::empirical::{GroupTest, IncidenceTestOptions, RankOptions, RankWeight};
use crate::empirical::{incidence_test as core_incidence_test, rank_test as core_rank_test};
use crate::lives::Tally;

use super::empirical::{reading_of, sentences};
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments::{self as args, one_number};
use super::intake::{At, kind_of};
use super::lives::{PyTally, ending};
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

fn by_group(t: &GroupTest) -> Result<RecordBatch> {
    Frame::default()
        .texts("group", t.groups.iter().map(|g| g.name.as_str()))
        .counts("lamps", t.groups.iter().map(|g| g.lamps))
        .counts("observed", t.groups.iter().map(|g| g.observed))
        .numbers("expected", t.groups.iter().map(|g| g.expected))
        .numbers("difference", t.groups.iter().map(|g| g.difference))
        .finish()
}

fn test_facts(t: &GroupTest) -> Facts {
    facts! {
        "p_value": t.p_value, "statistic": t.statistic, "degrees_of_freedom": t.degrees_of_freedom, "trend": t.trend,
        "groups": t.groups.iter().map(|g| g.name.as_str()).collect::<Vec<_>>(),
        "observed": t.groups.iter().map(|g| g.observed).collect::<Vec<_>>(),
        "expected": t.groups.iter().map(|g| g.expected).collect::<Vec<_>>(), "compared": t.compared,
        "notes": t.notes.iter().map(|n| n.sentence.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// A test whether groups of lamps are alike; made by `rank_test` and `incidence_test`.
    ///
    /// Its table has one row for each group: lamps, failures observed, failures expected were all groups alike, and the
    /// weighted difference of the two.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> a, b = relamp.lives([1.0, 3.0, 5.0]), relamp.lives([2.0, 4.0, 9.0], [2.0, 4.0, None])
    /// >>> test = relamp.rank_test({"A": a, "B": b})
    /// >>> round(test.statistic, 4), round(test.p_value, 4)
    /// (0.4849, 0.4862)
    /// >>> test.frame()["observed"].to_list()
    /// [3, 2]
    PyGroupTest holds GroupTest as "GroupTest";
    save GroupTest::to_json; load GroupTest::from_json; table by_group; show test_facts;
    {
        /// What is compared, and with which weights, in words.
        #[getter]
        fn compared(&self) -> &str {
            &self.0.compared
        }

        /// Names of the groups, in the order given.
        #[getter]
        fn groups(&self) -> Fixed<&str> {
            self.0.groups.iter().map(|g| g.name.as_str()).collect()
        }

        /// The statistic; None where the records compare nothing, which a note explains.
        #[getter]
        fn statistic(&self) -> Option<f64> {
            self.0.statistic
        }

        /// Degrees of freedom of its chi-square law; 0 where there is none.
        #[getter]
        fn degrees_of_freedom(&self) -> usize {
            self.0.degrees_of_freedom
        }

        /// Chance of a statistic at least this large among groups that are alike; None without a statistic.
        #[getter]
        fn p_value(&self) -> Option<f64> {
            self.0.p_value
        }

        /// A trend in standard errors, above 0 where a higher score goes with more failures; None without scores.
        #[getter]
        fn trend(&self) -> Option<f64> {
            self.0.trend
        }

        /// What to know when reading the test: pairs of rule and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(sentences(&self.0.notes))
        }
    }
}

fn at(input: &'static str) -> At<'static> {
    At { input, column: "" }
}

/// Tallies by name, in the order of the dict.
fn named(groups: &Bound<'_, PyAny>) -> PyResult<Vec<(String, Tally)>> {
    let wrong = |got: &str| refuse("python.not_groups", "not groups", "groups", "", got, "a dict of names and tallies");
    let Ok(dict) = groups.cast::<PyDict>() else { return Err(wrong(&kind_of(groups)).into()) };
    let mut out = Vec::with_capacity(dict.len());
    for (name, tally) in dict.iter() {
        let Ok(name) = name.cast::<PyString>() else { return Err(wrong(&kind_of(&name)).into()) };
        let Ok(tally) = tally.cast::<PyTally>() else { return Err(wrong(&kind_of(&tally)).into()) };
        out.push((name.to_str()?.to_owned(), tally.get().0.clone()));
    }
    Ok(out)
}

fn borrowed(groups: &[(String, Tally)]) -> Vec<(&str, &Tally)> {
    groups.iter().map(|(name, tally)| (name.as_str(), tally)).collect()
}

/// Scores by name, in the order of the groups.
fn scores_of(scores: &Bound<'_, PyAny>, groups: &[(String, Tally)]) -> PyResult<Option<Vec<f64>>> {
    if scores.is_none() {
        return Ok(None);
    }
    let expected = "a dict with one number for each group, or None";
    let wrong = |got: &str| refuse("python.scores", "not scores of these groups", "scores", "", got, expected);
    let Ok(dict) = scores.cast::<PyDict>() else { return Err(wrong(&kind_of(scores)).into()) };
    if dict.len() != groups.len() {
        return Err(wrong(&format!("{} names", dict.len())).into());
    }
    let each = groups.iter().map(|(name, _)| match dict.get_item(name)? {
        Some(score) => one_number(&score, at("scores")),
        None => Err(wrong(&format!("none for {name:?}")).into()),
    });
    each.collect::<PyResult<Vec<f64>>>().map(Some)
}

/// The power that is taken for none asked.
const DEFAULT_POWER: f64 = 1.0;

fn weight_of(word: &str, power: f64) -> Result<RankWeight> {
    if power.to_bits() != DEFAULT_POWER.to_bits() && word != "reliability" {
        let what = "only the weight by reliability has a power";
        let expected = "no power, or the weight 'reliability'";
        return Err(refuse("python.weight_power", what, "power", "", &power.to_string(), expected));
    }
    Ok(match word {
        "even" => RankWeight::Even,
        "at_risk" => RankWeight::AtRisk,
        "root_at_risk" => RankWeight::RootAtRisk,
        "reliability" => RankWeight::Reliability(power),
        _ => {
            let expected = "even, at_risk, root_at_risk or reliability";
            return Err(refuse("python.weight", "no such weight", "weight", "", word, expected));
        }
    })
}

/// Tests whether groups of lamps have the same hazard at every age.
///
/// Groups are compared at equal age, so that late entry and groups of unequal age do not matter.
///
/// Parameters
/// ----------
/// groups : dict of str to Tally
///     The records of each group.
/// weight : {"even", "at_risk", "root_at_risk", "reliability"}
///     How much a failure at an age counts: the same; by the lamps at risk; by the root of them; by the reliability of all
///     groups together just before it.
/// power : float
///     Power of the reliability for that last weight, 0 to 100; refused with the others.
/// by_stratum : bool
///     Compares lamps of one stratum (lamp class) with lamps of the same stratum only, and adds up.
/// scores : dict of str to float, optional
///     One score for each group: tests whether failures rise or fall with it.
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
///
/// Returns
/// -------
/// GroupTest
///
/// Raises
/// ------
/// InputError
///     For what are not groups, scores or words of these, and fewer than two groups.
/// DomainError
///     For a power out of range.
/// RefusedError
///     For a group without lamps, and for failures known to an interval without a reading.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> a, b = relamp.lives([100.0, 200.0, 300.0]), relamp.lives([10.0, 20.0], [None, None])
/// >>> test = relamp.rank_test({"A": a, "B": b})
/// >>> test.statistic is None
/// True
/// >>> print(test.notes[1][1])
/// group B is not compared: it left by 20 h, before the first failure at 100 h
/// >>> c = relamp.lives([150.0, 250.0, 350.0])
/// >>> relamp.rank_test({"A": a, "C": c}, weight="at_risk", scores={"A": 1.0, "C": 2.0}).trend < 0
/// True
#[pyfunction]
#[pyo3(signature = (groups, *, weight="even", power=1.0, by_stratum=false, scores=None, reading=None))]
pub(super) fn rank_test(
    py: Python<'_>,
    groups: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::weight)] weight: &str,
    #[pyo3(from_py_with = args::power)] power: f64,
    #[pyo3(from_py_with = args::by_stratum)] by_stratum: bool,
    scores: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
) -> PyResult<PyGroupTest> {
    let groups = named(groups)?;
    let scores = scores.map_or(Ok(None), |s| scores_of(s, &groups))?;
    let reading = reading_of(reading.as_deref())?;
    let options = RankOptions { weight: weight_of(weight, power)?, by_stratum, scores, reading };
    Ok(PyGroupTest(work(py, None, |_| core_rank_test(&borrowed(&groups), &options))?))
}

/// Tests whether the incidence of one cause is the same in groups, the other causes acting as they do in each.
///
/// Equal incidence is not equal hazard: where other causes take lamps away sooner in one group, fewer are left to fail by
/// this one.
///
/// Parameters
/// ----------
/// groups : dict of str to Tally
///     The records of each group.
/// cause : str
///     A word of `ENDINGS`.
/// power : float
///     Each age has as weight the share that has not failed by the cause before it, to this power; 0 for even weights.
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
/// min_at_risk : int
///     With late entry, the comparison starts at the first age from which each group has this many lamps at risk.
///
/// Returns
/// -------
/// GroupTest
///
/// Raises
/// ------
/// InputError
///     For what are not groups, no ending, and fewer than two groups.
/// DomainError
///     For a power out of range.
/// RefusedError
///     For a group without lamps or with too few at risk, and for failures known to an interval without a reading.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> ages = [100.0 * i for i in range(1, 21)]
/// >>> a = relamp.lives(ages, ending=["burst", "burst", "burst", "dim"] * 5)
/// >>> b = relamp.lives(ages, ending=["dim", "dim", "dim", "burst"] * 5)
/// >>> test = relamp.incidence_test({"A": a, "B": b}, cause="burst")
/// >>> test.frame()["observed"].to_list(), test.p_value < 0.01
/// ([15, 5], True)
#[pyfunction]
#[pyo3(signature = (groups, *, cause, power=0.0, reading=None, min_at_risk=5))]
pub(super) fn incidence_test(
    py: Python<'_>,
    groups: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::cause)] cause: &str,
    #[pyo3(from_py_with = args::power)] power: f64,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
    #[pyo3(from_py_with = args::min_at_risk)] min_at_risk: u64,
) -> PyResult<PyGroupTest> {
    let groups = named(groups)?;
    let reading = reading_of(reading.as_deref())?;
    let options = IncidenceTestOptions { cause: ending("cause", cause)?, power, reading, min_at_risk };
    Ok(PyGroupTest(work(py, None, |_| core_incidence_test(&borrowed(&groups), &options))?))
}
