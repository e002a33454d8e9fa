//! Groups of lamps pooled: shrunken hazard ratios, chances, ranks.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{PooledGroups, PoolingOptions, pool_groups as core_pool};

use super::error::warn;
use super::fixed::Fixed;
use super::frames::{Frame, Table};
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::pairs;
use super::work::work;

const POOLED: Format = Format::new("pooled_groups", 1);

fn group_table(p: &PooledGroups) -> Result<RecordBatch> {
    Frame::default()
        .texts("group", p.groups().iter().map(|g| g.name.as_str()))
        .counts("lamps", p.groups().iter().map(|g| g.lamps))
        .counts("failures", p.groups().iter().map(|g| g.failures))
        .numbers("expected", p.groups().iter().map(|g| g.expected))
        .numbers_or_null("raw_ratio", p.groups().iter().map(|g| g.raw_ratio))
        .numbers("ratio", p.each().map(|(_, e)| e.ratio))
        .numbers("low", p.each().map(|(_, e)| e.low))
        .numbers("high", p.each().map(|(_, e)| e.high))
        .numbers("chance_above", p.each().map(|(_, e)| e.chance_above))
        .numbers("rank", p.each().map(|(_, e)| e.rank))
        .numbers("rank_low", p.each().map(|(_, e)| e.rank_low))
        .numbers("rank_high", p.each().map(|(_, e)| e.rank_high))
        .finish()
}

fn prior_table(p: &PooledGroups) -> Result<RecordBatch> {
    let each = || p.answers().iter().flat_map(|a| p.groups().iter().zip(&a.effects).map(move |(g, e)| (a, g, e)));
    Frame::default()
        .numbers("prior_scale", each().map(|r| r.0.prior_scale))
        .numbers("spread", each().map(|r| r.0.spread))
        .numbers("spread_low", each().map(|r| r.0.spread_low))
        .numbers("spread_high", each().map(|r| r.0.spread_high))
        .numbers("effective_draws", each().map(|r| r.0.effective_draws))
        .texts("group", each().map(|r| r.1.name.as_str()))
        .numbers("ratio", each().map(|r| r.2.ratio))
        .numbers("low", each().map(|r| r.2.low))
        .numbers("high", each().map(|r| r.2.high))
        .numbers("chance_above", each().map(|r| r.2.chance_above))
        .finish()
}

fn baseline_table(p: &PooledGroups) -> Result<RecordBatch> {
    let names = family_of(p.family_name())?.parameter_names();
    let mut frame = Frame::default().texts("stratum", p.baselines().iter().map(|b| b.stratum.as_str()));
    for (i, name) in names.iter().enumerate() {
        frame = frame.numbers_or_null(name, p.baselines().iter().map(|b| b.parameters.get(i).copied()));
    }
    frame.finish()
}

fn pooled_facts(p: &PooledGroups) -> Facts {
    let first = p.answers().first();
    facts! {
        "by": p.by(), "groups": p.groups().len(), "failures": p.facts().failures, "lamps": p.facts().lamps,
        "spread": first.map(|a| a.spread), "spread_low": first.map(|a| a.spread_low),
        "spread_high": first.map(|a| a.spread_high), "prior_scale": first.map(|a| a.prior_scale),
        "threshold": p.threshold(), "level": p.level(), "family": p.family_name(), "sentence": p.sentence(),
        "notes": p.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Groups whose hazards vary about that of the fleet; made by `pool_groups`.
    ///
    /// Its table has one row for each group: lamps, failures, failures expected had it the hazard of the others, their raw
    /// ratio, the ratio drawn towards the fleet with its interval, the chance that it is above the threshold, and the rank,
    /// 1 for the highest hazard, with its interval.
    PyPooledGroups holds PooledGroups as "PooledGroups";
    save |p| saved::save(POOLED, p); load |t| saved::load(POOLED, t); table group_table; show pooled_facts;
    {
        /// What the groups are: a category of the lives, "stratum" or "cluster".
        #[getter]
        fn by(&self) -> &str {
            self.0.by()
        }

        /// Name of the family of the baselines.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// Hazard ratio that the chances are about.
        #[getter]
        fn threshold(&self) -> f64 {
            self.0.threshold()
        }

        /// Level of the intervals.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level()
        }

        /// Scales of the half-normal prior of the spread; the first gives the answers.
        #[getter]
        fn prior_scales(&self) -> Fixed<f64> {
            self.0.answers().iter().map(|a| a.prior_scale).collect()
        }

        /// Standard deviation of ln hazard between groups: median, lower and upper end of its interval.
        #[getter]
        fn spread(&self) -> (f64, f64, f64) {
            let first = self.0.answers().first();
            first.map_or((f64::NAN, f64::NAN, f64::NAN), |a| (a.spread, a.spread_low, a.spread_high))
        }

        /// The gist in words.
        #[getter]
        fn sentence(&self) -> String {
            self.0.sentence()
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// The answers under every scale of the prior, one row for each scale and group.
        ///
        /// Returns
        /// -------
        /// Table
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b", "c", "d", "e", "f"] * 10
        /// >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"site": site})
        /// >>> pooled = relamp.pool_groups(tally, by="site", draws=500, seed=1)
        /// >>> pooled.priors().frame()["prior_scale"].unique().sort().to_list()
        /// [0.25, 0.5, 1.0]
        fn priors(&self) -> PyResult<Table> {
            Ok(Table(prior_table(&self.0)?))
        }

        /// Parameters of the baseline of each stratum, for a group in the middle of all.
        ///
        /// Returns
        /// -------
        /// Table
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> site = ["a", "b", "c", "d", "e", "f"] * 10
        /// >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"site": site})
        /// >>> relamp.pool_groups(tally, by="site", draws=500, seed=1).baselines().columns
        /// ['stratum', 'shape', 'scale']
        fn baselines(&self) -> PyResult<Table> {
            Ok(Table(baseline_table(&self.0)?))
        }
    }
}

/// Pools groups of lamps: each has a hazard of its own, drawn towards that of the fleet as far as its records are few.
///
/// The hazard of a group is exp(u) times the baseline of its stratum, u normal with mean 0 and standard deviation s over the
/// groups. s has a half-normal prior, whose scale is stated and varied. Ratios are to the hazard of the other groups
/// together. Exact failures, intervals, late entry and counts enter.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// by : str
///     What the groups are: a category among the covariates, such as "site", or "stratum" or "cluster" for those of the lives.
/// family : str
///     Family of the baselines, as in `fit`, but "weibull_failure_free".
/// strata : list of str, optional
///     Categories whose levels have baselines of their own. Without it the strata of the lives do, unless they are pooled.
/// prior_scales : sequence of float
///     Three scales of the prior or more: the first gives the answers, the others show how far those lean on it.
/// threshold : float
///     Hazard ratio to the rest, above 0, past which a group is worth a look.
/// level : float
///     Level of the intervals, inside 0 to 1.
/// draws : int
///     Draws, 500 to 200,000; with 4,000 a chance is right to about 0.01.
/// seed : int
///     Seed of the draws.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// PooledGroups
///
/// Raises
/// ------
/// InputError
///     For an unknown category, lamps without a group, fewer than two groups that were at risk, and what is out of range.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     As in `fit`; for records that show failures only, and draws that do not settle.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> site = ["a", "b", "c", "d", "e", "f"] * 10
/// >>> tally = relamp.lives([100 + 10 * i for i in range(60)], covariates={"site": site})
/// >>> pooled = relamp.pool_groups(tally, by="site", draws=500, seed=1)
/// >>> frame = pooled.frame()
/// >>> frame["group"].to_list()
/// ['a', 'b', 'c', 'd', 'e', 'f']
/// >>> all(abs(1 - ratio) <= abs(1 - raw) for ratio, raw in zip(frame["ratio"], frame["raw_ratio"]))
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, by, family="weibull", strata=None, prior_scales=None, threshold=1.5, level=0.95,
    draws=4000, seed, endings=None, progress=None))]
pub(super) fn pool_groups(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::by)] by: &str,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::strata)] strata: Option<Vec<String>>,
    #[pyo3(from_py_with = args::prior_scales)] prior_scales: Option<Vec<f64>>,
    #[pyo3(from_py_with = args::threshold)] threshold: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::draws_kept)] draws: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPooledGroups> {
    let endings = endings.map(|e| e.iter().map(|w| ending("endings", w)).collect::<Result<Vec<_>>>()).transpose()?;
    let usual = PoolingOptions::default();
    let prior_scales = prior_scales.unwrap_or_else(|| usual.prior_scales.clone());
    let options = PoolingOptions { endings, strata, prior_scales, threshold, level, draws, seed, ..usual };
    let (family, tally) = (family_of(family)?, &tally.get().0);
    let made = work(py, progress, |run| core_pool(family, tally, by, &options, run))?;
    for note in made.notes().iter().filter(|n| DOUBTS.contains(&n.slug.as_str())) {
        warn(py, "WeakDataWarning", &format!("{} [{}]", note.text, note.slug))?;
    }
    Ok(PyPooledGroups(made))
}

/// Notes that are a warning too.
const DOUBTS: [&str; 2] = ["fit.pooling_few_groups", "fit.pooling_few_draws"];
