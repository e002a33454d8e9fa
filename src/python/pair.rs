//! Two groups of lamps beside each other: lives, hazards, costs.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::error::{Error, Kind, Place, Problem};
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{LifeRatio, PairFit, PairOptions, compare_pair as core_pair, failures_to_see as core_failures_to_see};
use crate::policy::{ComparedAt, PairCost, PairCostOptions, compare_pair_costs as core_costs};

use super::covariates::{one_lamp, tell, terms_of};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::{PyCosts, PyHourLimit};
use super::uncertainty::pairs;
use super::work::work;

const PAIR_FIT: Format = Format::new("pair_fit", 1);
const PAIR_COST: Format = Format::new("pair_cost", 1);

fn side_table(p: &PairFit) -> Result<RecordBatch> {
    let sides = p.sides();
    Frame::default()
        .texts("group", sides.iter().map(|s| s.name.as_str()))
        .counts("lamps", sides.iter().map(|s| s.lamps))
        .counts("failures", sides.iter().map(|s| s.failures))
        .numbers("exposure_hours", sides.iter().map(|s| s.exposure_hours))
        .numbers("oldest_at_risk_hours", sides.iter().map(|s| s.oldest_at_risk_hours))
        .numbers_or_null("mean_removed_hours", sides.iter().map(|s| s.mean_removed_hours))
        .finish()
}

fn ends(r: &LifeRatio) -> (f64, Option<f64>, Option<f64>) {
    (r.estimate, r.low, r.high)
}

fn pair_facts(p: &PairFit) -> Facts {
    let [first, second] = p.sides();
    facts! {
        "groups": [first.name.as_str(), second.name.as_str()], "life_ratio": p.life_ratio().estimate,
        "life_ratio_low": p.life_ratio().low, "life_ratio_high": p.life_ratio().high,
        "hazard_ratio": p.hazard_ratio().map(|r| r.estimate), "hazard_ratio_low": p.hazard_ratio().and_then(|r| r.low),
        "hazard_ratio_high": p.hazard_ratio().and_then(|r| r.high), "p_value": p.test().p_value, "level": p.level(),
        "failures": [first.failures, second.failures], "lamps": [first.lamps, second.lamps],
        "adjusted": p.adjusted(), "refits": p.draws(),
        "notes": p.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Two groups of lamps compared at equal age; made by `compare_pair`.
    ///
    /// It holds numbers, never data. Its table has one row for each group; the mean age of the lamps that came out stands
    /// there because it misleads: a young group has lost young lamps.
    PyPairFit holds PairFit as "PairFit";
    save |p| saved::save(PAIR_FIT, p); load |t| saved::load(PAIR_FIT, t); table side_table; show pair_facts;
    {
        /// The category whose levels are compared.
        #[getter]
        fn by(&self) -> &str {
            self.0.by()
        }

        /// Names of the groups, first and second.
        #[getter]
        fn groups(&self) -> (&str, &str) {
            let [first, second] = self.0.sides();
            (&first.name, &second.name)
        }

        /// Lives of the first group over those of the second: estimate, lower and upper end; None where an end is open.
        #[getter]
        fn life_ratio(&self) -> (f64, Option<f64>, Option<f64>) {
            ends(self.0.life_ratio())
        }

        /// Hazard of the first group over that of the second, likewise; None where the records cannot say.
        #[getter]
        fn hazard_ratio(&self) -> Option<(f64, Option<f64>, Option<f64>)> {
            self.0.hazard_ratio().map(ends)
        }

        /// Chance of a difference of lives at least this large among groups that are alike.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.test().p_value
        }

        /// Level of the intervals.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level()
        }

        /// Terms that the comparison is adjusted for.
        #[getter]
        fn adjusted(&self) -> Fixed<String> {
            Fixed(self.0.adjusted().to_vec())
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }
    }
}

fn cost_table(p: &PairCost) -> Result<RecordBatch> {
    Frame::default()
        .texts("group", p.names.iter())
        .numbers("age_hours", p.costs.iter().map(|c| c.age_hours))
        .numbers("cost_per_1000_hours", p.costs.iter().map(|c| 1000.0 * c.cost_per_hour))
        .numbers("planned_cost_per_1000_hours", p.costs.iter().map(|c| 1000.0 * c.planned_cost_per_hour))
        .numbers("failure_probability", p.costs.iter().map(|c| c.failure_probability))
        .counts_or_null("more_failures", (0..2).map(|i| p.more.map(|m| m[i].failures)))
        .counts_or_null("more_lamps", (0..2).map(|i| p.more.map(|m| m[i].lamps)))
        .finish()
}

fn cost_facts(p: &PairCost) -> Facts {
    facts! {
        "verdict": word(&p.verdict), "sentence": p.sentence,
        "age_verdicts": p.age_verdicts.map(|v| v.map(|v| word(&v)).to_vec()), "difference_per_1000_hours": p.difference_per_1000_hours,
        "low_per_1000_hours": p.low_per_1000_hours, "high_per_1000_hours": p.high_per_1000_hours, "level": p.level,
        "share_first_cheaper": p.share_first_cheaper, "worth_per_1000_hours": p.worth_per_1000_hours, "power": p.power,
        "notes": p.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// What two groups of lamps cost per hour beside each other; made by `compare_pair_costs`. Its table has one row for each.
    PyPairCost holds PairCost as "PairCost";
    save |p| saved::save(PAIR_COST, p); load |t| saved::load(PAIR_COST, t); table cost_table; show cost_facts;
    {
        /// What it comes to: "first_cheaper", "second_cheaper", "alike" or "not_enough".
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// Why the planned age of each group stands where it does, in words as `PlannedAge.verdict` has them; None at a
        /// common age.
        #[getter]
        fn age_verdicts(&self) -> Option<(String, String)> {
            self.0.age_verdicts.map(|[first, second]| (word(&first), word(&second)))
        }

        /// Cost of the first less that of the second, per 1,000 h: estimate, lower and upper end.
        #[getter]
        fn difference_per_1000_hours(&self) -> (f64, f64, f64) {
            (self.0.difference_per_1000_hours, self.0.low_per_1000_hours, self.0.high_per_1000_hours)
        }

        /// Chance, over the redraws, that the first group is cheaper.
        #[getter]
        fn share_first_cheaper(&self) -> f64 {
            self.0.share_first_cheaper
        }

        /// Difference that matters, per 1,000 h.
        #[getter]
        fn worth_per_1000_hours(&self) -> f64 {
            self.0.worth_per_1000_hours
        }

        /// Failures more that each group needs, about; None where there is a verdict or clusters are lacking.
        #[getter]
        fn more_failures(&self) -> Option<(u64, u64)> {
            self.0.more.map(|[first, second]| (first.failures, second.failures))
        }

        /// Lamps that bring them, at the share that has failed so far; None where there is a verdict or clusters are lacking.
        #[getter]
        fn more_lamps(&self) -> Option<(u64, u64)> {
            self.0.more.map(|[first, second]| (first.lamps, second.lamps))
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// Compares two groups of lamps at equal age and at equal covariates: ratio of lives, ratio of hazards.
///
/// The ratio of lives comes from accelerated lives with a profile interval, that of hazards from proportional hazards, robust
/// where lives have clusters; both over the category and the terms to adjust for, and over the lamps of the two groups only.
/// Where lives have clusters, the ratio of lives and `p_value` rest on the spread of the refits with Student's t, and below 40
/// clusters a note says that intervals are too short. Few failures for each coefficient give a `WeakDataWarning`.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records, with covariates.
/// by : str
///     The category, such as "supplier".
/// group, other : str
///     Two levels of the category; ratios are `group` over `other`.
/// family : str
///     As in `fit_covariates`, of ages above 0.
/// adjust : list of str, optional
///     Terms to adjust for, as in `fit_covariates`, without the category itself.
/// references, laws, value_is
///     As in `fit_covariates`.
/// covariates : dict of str to str or float, optional
///     The lamp that is compared, beside the category; what is not named stands at the baseline of the terms. A value outside
///     the range of the lamps gives a `WeakDataWarning`, and a note to the costs.
/// level : float
///     Level of the intervals, inside 0 to 1.
/// replicates : int
///     Refits under random weights behind costs, 100 to 100,000.
/// seed : int
///     Seed of the weights.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// PairFit
///
/// Raises
/// ------
/// InputError
///     For an unknown category or level, and as in `fit_covariates`.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     As in `fit_covariates`: a group without failures is told with the bound that holds; for a group whose lamps belong to
///     a single cluster, or fewer than two more clusters than coefficients.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> supplier = ["north", "south"] * 30
/// >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"supplier": supplier})
/// >>> pair = relamp.compare_pair(tally, by="supplier", group="north", other="south", replicates=100, seed=1)
/// >>> ratio, low, high = pair.life_ratio
/// >>> low < 1.0 < high
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, by, group, other, family="weibull", adjust=None, references=None, laws=None,
    value_is=None, covariates=None, level=0.95, replicates=400, seed, endings=None, progress=None))]
pub(super) fn compare_pair(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::by)] by: &str,
    #[pyo3(from_py_with = args::group)] group: &str,
    #[pyo3(from_py_with = args::other)] other: &str,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::adjust)] adjust: Option<Vec<String>>,
    #[pyo3(from_py_with = args::references)] references: Option<BTreeMap<String, String>>,
    laws: Option<&Bound<'_, PyAny>>,
    value_is: Option<&Bound<'_, PyAny>>,
    covariates: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPairFit> {
    let endings = endings.map(|e| e.iter().map(|w| ending("endings", w)).collect::<Result<Vec<_>>>()).transpose()?;
    let adjust = terms_of(adjust.unwrap_or_default(), references, laws, value_is)?;
    let at = covariates.filter(|c| !c.is_none()).map(one_lamp).transpose()?.unwrap_or_default();
    let options = PairOptions { endings, adjust, at, level, replicates, seed, ..PairOptions::default() };
    let (family, tally) = (family_of(family)?, &tally.get().0);
    let made = work(py, progress, |run| core_pair(family, tally, by, [group, other], &options, run))?;
    tell(py, made.fit().converged(), &word(&made.fit().stop()), made.notes())?;
    Ok(PyPairFit(made))
}

/// Compares what two groups of lamps cost per burning hour, prices and failures in, and says in words what it comes to.
///
/// Ages stand still while lives and shares of endings are redrawn together; the interval holds the middle of the redraws.
/// An ending that only one group has seen can come in the redraws of the other, as far as it has a cost there. Where nothing
/// differed, one of the two was called cheaper in 4 to 8 of 100 samples at a level of 95 %, with 2 to 90 failures a group.
/// Without a common age each group stands at its own, and where one stops with its records the sentence says that part of the
/// difference is one of ages.
///
/// Where it holds both 0 and a difference that matters, the answer is "not enough yet" with the failures and lamps that would
/// show such a difference with the chance `power`, in a test of two sides at the level of the intervals. Where lamps have
/// clusters and a group has fewer than 5, the answer is "not enough yet" with the clusters that are lacking.
///
/// Parameters
/// ----------
/// pair : PairFit
///     The groups, as `compare_pair` gives them.
/// costs, other_costs : Costs
///     Costs of the first and of the second group, price of the lamp included.
/// limit, other_limit : HourLimit
///     Their hour limits; no age passes them.
/// common_age_hours : float, optional
///     Compares both at this age. Without it each stands at the planned age that its own records and limit allow.
/// worth_per_1000_hours : float, optional
///     Difference that would matter; without it 5 % of the lower cost.
/// power : float
///     Chance with which the lamps asked for would show such a difference, 0.5 or more and below 1.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// PairCost
///
/// Raises
/// ------
/// InputError
///     For an ending of a failure without a cost, and what is no number.
/// DomainError
///     For a power or a difference out of range.
/// RefusedError
///     Where no age has a finite cost.
/// LimitError
///     For a common age past a limit.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> supplier, age = ["north", "south"] * 30, [1000 + 10 * i for i in range(60)]
/// >>> tally = relamp.lives(age, ending=["dim"] * 60, covariates={"supplier": supplier})
/// >>> pair = relamp.compare_pair(tally, by="supplier", group="north", other="south", replicates=100, seed=1)
/// >>> cheap, dear = relamp.costs(500.0, dim=900.0), relamp.costs(1000.0, dim=1400.0)
/// >>> limit = relamp.hour_limit(maximum_hours=1500.0, source="invented data sheet")
/// >>> given = {"costs": cheap, "other_costs": dear, "limit": limit, "other_limit": limit}
/// >>> relamp.compare_pair_costs(pair, **given, common_age_hours=1200.0).verdict
/// 'first_cheaper'
#[pyfunction]
#[pyo3(signature = (pair, *, costs, other_costs, limit, other_limit, common_age_hours=None, worth_per_1000_hours=None,
    power=0.8, progress=None))]
pub(super) fn compare_pair_costs(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyPairFit>)] pair: &Bound<'_, PyPairFit>,
    #[pyo3(from_py_with = args::made::<PyCosts>)] costs: &Bound<'_, PyCosts>,
    #[pyo3(from_py_with = args::made::<PyCosts>)] other_costs: &Bound<'_, PyCosts>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] other_limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::common_age_hours)] common_age_hours: Option<f64>,
    #[pyo3(from_py_with = args::worth_per_1000_hours)] worth_per_1000_hours: Option<f64>,
    #[pyo3(from_py_with = args::power)] power: f64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPairCost> {
    let lower = limit.get().0.hours().min(other_limit.get().0.hours());
    if let Some(age) = common_age_hours.filter(|age| *age > lower) {
        let (got, expected) = (age.to_string(), format!("at most {lower} h"));
        let what = "the age lies past the hour limit of one of the groups";
        let problem = Problem::new("python.common_age", what).at(Place::input("common_age_hours"));
        return Err(Error::new(Kind::Limit, problem.got(got).expected(expected)).into());
    }
    let at = common_age_hours.map_or(ComparedAt::PlannedAges, ComparedAt::CommonAge);
    let options = PairCostOptions { at, worth_per_1000_hours, power };
    let costs = [&costs.get().0, &other_costs.get().0];
    let limits = [&limit.get().0, &other_limit.get().0];
    let pair = &pair.get().0;
    Ok(PyPairCost(work(py, progress, |run| core_costs(pair, costs, limits, &options, run))?))
}

/// Failures, of both groups together, with which a hazard ratio is told from 1.
///
/// (z((1 + level) / 2) + z(power))^2 / (share (1 - share) ln(hazard_ratio)^2), z a normal quantile (Schoenfeld 1983): for
/// planning, before there are records to compare.
///
/// Parameters
/// ----------
/// hazard_ratio : float
///     The ratio to be seen, above 0 and not 1.
/// share : float
///     Part of the failures that one group has where hazards are alike, inside 0 to 1.
/// level : float
///     One minus the chance to see what is not there, two-sided, inside 0 to 1.
/// power : float
///     Chance to see what is there, a share of 0.5 or more and below 1.
///
/// Returns
/// -------
/// int
///
/// Raises
/// ------
/// InputError
///     For what is no number.
/// DomainError
///     For what is out of range.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.failures_to_see(hazard_ratio=1.5)
/// 191
/// >>> relamp.failures_to_see(hazard_ratio=1.5, share=0.2) > 191
/// True
#[pyfunction]
#[pyo3(signature = (*, hazard_ratio, share=0.5, level=0.95, power=0.8))]
pub(super) fn failures_to_see(
    #[pyo3(from_py_with = args::hazard_ratio)] hazard_ratio: f64,
    #[pyo3(from_py_with = args::share)] share: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::power)] power: f64,
) -> PyResult<u64> {
    Ok(core_failures_to_see(hazard_ratio, share, level, power)?)
}
