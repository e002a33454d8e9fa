//! How far each cause's life, as far as the records leave it open, moves the planned age.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{AgeInterval, AgeOptions, LifeBars, life_bars as core_bars};
use crate::records::Ending;

use super::frames::Frame;
use super::intake::arguments as args;
use super::money::objective as read_objective;
use super::policy::PyPlannedAge;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyDraws;

const BARS: Format = Format::new("life_bars", 1);

/// The bar of all causes drawn together.
const TOGETHER: &str = "every cause";

fn name(endings: &[Ending]) -> String {
    endings.iter().map(|e| e.as_str()).collect::<Vec<_>>().join(" + ")
}

fn bars_table(b: &LifeBars) -> Result<RecordBatch> {
    let rows: Vec<(String, &AgeInterval)> = std::iter::once((TOGETHER.to_owned(), &b.together))
        .chain(b.bars.iter().map(|bar| (name(&bar.endings), &bar.interval)))
        .collect();
    Frame::default()
        .texts("life", rows.iter().map(|(name, _)| name.as_str()))
        .numbers("low_hours", rows.iter().map(|(_, i)| i.age_hours.low))
        .numbers("high_hours", rows.iter().map(|(_, i)| i.age_hours.high))
        .numbers("share_at_limit", rows.iter().map(|(_, i)| i.share_at_limit))
        .numbers("share_at_records_end", rows.iter().map(|(_, i)| i.share_at_records_end))
        .finish()
}

fn bars_facts(b: &LifeBars) -> Facts {
    let widest = b.bars.first();
    facts! {
        "age_hours": b.planned.age_hours, "level": b.together.level, "draws": b.together.draws, "bars": b.bars.len(),
        "widest": widest.map(|w| name(&w.endings)),
        "widest_hours": widest.map(|w| [w.interval.age_hours.low, w.interval.age_hours.high]),
    }
}

result_class! {
    /// How far the life of each cause, as the records leave it open, moves the planned age; made by `life_bars`. No age in it
    /// passes the limit.
    ///
    /// Its table holds a row for every cause drawn together, then one for each cause drawn alone, the widest first.
    PyLifeBars holds LifeBars as "LifeBars";
    save |b| saved::save(BARS, b); load |t| saved::load(BARS, t); table bars_table; show bars_facts;
    {
        fn __len__(&self) -> usize {
            self.0.bars.len()
        }

        /// The advice at the estimates.
        #[getter]
        fn planned(&self) -> PyPlannedAge {
            PyPlannedAge(self.0.planned.clone())
        }

        /// Level of the bars.
        #[getter]
        fn level(&self) -> f64 {
            self.0.together.level
        }
    }
}

/// The planned age over the draws with the life of one cause drawn at a time, all others at their estimates: where more
/// records of one cause would settle the advice.
///
/// The causes of a draw are refitted under common weights, so the widths of the bars do not add up to that of all causes
/// together.
///
/// Parameters
/// ----------
/// draws : Draws
///     Worlds drawn from the records.
/// limit : HourLimit
///     No age in the answer passes it.
/// level : float
///     Probability that the bars are made for, above 0 and below 1.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit).
/// objective : Discount or DarkMinutes, optional
///     What is counted per hour; None for the cost.
/// progress : callable, optional
///     Called with (done, total) while it runs; an error in it, like Ctrl-C, stops the work.
///
/// Returns
/// -------
/// LifeBars
///     The interval of the planned age for each cause.
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range, and advice past the records without a reason.
/// DomainError
///     For a level that is not inside 0 to 1.
/// RefusedError
///     For fewer than 20 draws, or too few that gave an answer.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> ages = [100.0 + 7.0 * i for i in range(60)]
/// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
/// >>> costs = relamp.costs(950.0, burst=5200.0, dim=1250.0)
/// >>> draws = relamp.fit_causes(tally).draws(tally, costs, n=40, seed=1)
/// >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
/// >>> bars = relamp.life_bars(draws, limit, level=0.9)
/// >>> bars.frame()["life"].to_list()
/// ['every cause', 'burst', 'dim']
#[pyfunction]
#[pyo3(signature = (draws, limit, *, level=0.95, oldest_at_risk_hours=None, extrapolate_because=None, objective=None,
    progress=None))]
pub(super) fn life_bars(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyDraws>)] draws: &Bound<'_, PyDraws>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyLifeBars> {
    let objective = read_objective(objective)?;
    let options = AgeOptions { oldest_at_risk_hours, extrapolate_because, objective, ..AgeOptions::default() };
    let (draws, limit) = (draws.get(), &limit.get().0);
    Ok(PyLifeBars(work(py, progress, |run| core_bars(&draws.0, limit, &options, level, run))?))
}
