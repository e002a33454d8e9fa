//! Raising a chain's own hour limit in stages.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{LimitPlan, Stage, StageTerms, limit_stages as core_stages};

use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::ending;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyWorld;

const PLAN: Format = Format::new("limit_plan", 1);

fn plan_table(p: &LimitPlan) -> Result<RecordBatch> {
    let each = |of: fn(&Stage) -> f64| p.stages.iter().map(of);
    Frame::default()
        .numbers("from_hours", each(|s| s.from_hours))
        .numbers("to_hours", each(|s| s.to_hours))
        .counts("lamps", p.stages.iter().map(|s| s.lamps))
        .counts("lamps_to_enter", p.stages.iter().map(|s| s.lamps_to_enter))
        .counts("stop_at", p.stages.iter().map(|s| s.stop_at))
        .numbers("expected_share", each(|s| s.expected_share))
        .numbers("pass_probability", each(|s| s.pass_probability))
        .numbers("pass_at_most_share", each(|s| s.pass_at_most_share))
        .texts("past_records", p.stages.iter().map(|s| if s.past_records { "yes" } else { "no" }))
        .finish()
}

fn plan_facts(p: &LimitPlan) -> Facts {
    let passes: f64 = p.stages.iter().map(|s| s.pass_probability).product();
    facts! {
        "stages": p.stages.len(), "limit_hours": p.limit_hours, "maker_hours": p.maker_hours,
        "ending": p.terms.ending.as_str(), "most_share": p.terms.most_share, "level": p.terms.level,
        "all_pass": (!p.stages.is_empty()).then_some(passes), "sentence": p.sentence,
    }
}

result_class! {
    /// The stages that raise a chain's own limit to the maker's; made by `limit_stages`. No stage passes the maker's.
    ///
    /// Its table holds a row for each stage.
    PyLimitPlan holds LimitPlan as "LimitPlan";
    save |p| saved::save(PLAN, p); load |t| saved::load(PLAN, t); table plan_table; show plan_facts;
    {
        fn __len__(&self) -> usize {
            self.0.stages.len()
        }

        /// The limit in force, hours.
        #[getter]
        fn limit_hours(&self) -> f64 {
            self.0.limit_hours
        }

        /// The maker's limit, in whole hours.
        #[getter]
        fn maker_hours(&self) -> f64 {
            self.0.maker_hours
        }

        /// The plan in words, or that there is none.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }
    }
}

/// Stages that raise a chain's own limit to the maker's, with the lamps to try in each and when to stop.
///
/// A trial runs lamps from the limit in force to the next. Counted are those that reach it or end in the watched way;
/// what ends otherwise is replaced. It passes with `allowed` such endings or fewer and stops at the next, and then the
/// limit stays. The lamps of a trial are the fewest with P(X <= allowed) <= 1 - level for X binomial of that many and
/// `most_share`. No stage passes the maker's limit; where that is the limit in force, there is no plan.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, for the chance to pass and the lamps to enter; the costs play no part.
/// limit : HourLimit
///     The chain's own limit with the maker's behind it, as `hour_limit(limit_hours=..., reason=...)` gives it.
/// stage_hours : float
///     Hours by which each stage raises the limit, 1 or more; the last is cut at the maker's.
/// most_share : float
///     Largest share of lamps that may end so in one stage: 0.000001 or more and below 1.
/// cause : str
///     The watched ending, a word of `ENDINGS`.
/// allowed : int
///     How many may end so in a trial that passes, 0 to 1,000.
/// level : float
///     Confidence with which a passed trial shows the share to be below the largest, above 0 and below 1.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; stages past it rest on the model's opinion and say so.
///
/// Returns
/// -------
/// LimitPlan
///
/// Raises
/// ------
/// InputError
///     For a step, a share, a count or a level out of range, and a step that makes more than 1,000 stages.
/// RefusedError
///     For an ending that no cause of the world stands for, and where no lamp reaches a stage.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=4.0, scale=9000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
/// >>> own = relamp.hour_limit(
/// ...     maximum_hours=2500.0, source="invented data sheet", limit_hours=2000.0, reason="the insurer asked for it"
/// ... )
/// >>> plan = relamp.limit_stages(world, own, stage_hours=300.0, most_share=0.05)
/// >>> plan.frame()["to_hours"].to_list(), plan.frame()["lamps"].to_list()
/// ([2300.0, 2500.0], [59, 59])
/// >>> makers = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
/// >>> relamp.limit_stages(world, makers, stage_hours=300.0, most_share=0.05).sentence
/// "no plan: already at the maker's limit of 2,500 h"
#[pyfunction]
#[pyo3(signature = (world, limit, *, stage_hours, most_share, cause="burst", allowed=0, level=0.95,
    oldest_at_risk_hours=None))]
pub(super) fn limit_stages(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::stage_hours)] stage_hours: f64,
    #[pyo3(from_py_with = args::most_share)] most_share: f64,
    #[pyo3(from_py_with = args::cause)] cause: &str,
    #[pyo3(from_py_with = args::allowed)] allowed: u64,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
) -> PyResult<PyLimitPlan> {
    let ending = ending("cause", cause)?;
    let terms = StageTerms { ending, step_hours: stage_hours, most_share, allowed, level, oldest_at_risk_hours };
    let (world, limit) = (world.get(), &limit.get().0);
    let names = ["most_share", "allowed", "level"].map(|name| ("limit stages", name, name));
    let step = [("limit stages", "step_hours", "stage_hours")];
    let ask = |_: &crate::Run| core_stages(&world.0, limit, &terms).map_err(|e| e.renamed(&names).renamed(&step));
    Ok(PyLimitPlan(work(py, None, ask)?))
}
