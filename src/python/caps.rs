//! The planned age under caps on the risk of one ending.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::policy::{
    AgeOptions, CapLine, CappedAge, RiskAt, RiskCaps, RiskRecords, RiskSource, capped_age as core_capped,
};
use crate::records::Ending;

use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::{PyTally, ending};
use super::money::objective as read_objective;
use super::policy::{PyPlannedAge, word};
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const CAPPED: Format = Format::new("capped_age", 1);

fn line_table(c: &CappedAge) -> Result<RecordBatch> {
    let lines = || c.lines.iter();
    let at = |of: fn(&RiskAt) -> f64| lines().map(move |l| l.advised.as_ref().map(of));
    Frame::default()
        .texts("unknown_counted", lines().map(|l| if l.unknown_counted { "yes" } else { "no" }))
        .texts("source", lines().map(|l| if l.records.is_some() { "records" } else { "draws" }))
        .counts_or_null("events", lines().map(|l| l.records.as_ref().map(|r| r.events)))
        .numbers_or_null("latest_hours", lines().map(|l| l.latest_hours))
        .numbers_or_null("before_age", at(|r| r.before_age))
        .numbers_or_null("in_show", at(|r| r.in_show))
        .numbers("uncapped_before_age", lines().map(|l| l.uncapped.before_age))
        .numbers("uncapped_in_show", lines().map(|l| l.uncapped.in_show))
        .numbers_or_null("hours_needed_times", lines().map(|l| l.hours_needed_times))
        .finish()
}

fn capped_facts(c: &CappedAge) -> Facts {
    let worst = |of: fn(&RiskAt) -> f64| c.lines.iter().filter_map(|l| l.advised.as_ref()).map(of).reduce(f64::max);
    facts! {
        "age_hours": c.age_hours, "verdict": word(&c.verdict), "cost_per_hour": c.cost.as_ref().map(|p| p.cost_per_hour),
        "uncapped_hours": c.uncapped.age_hours, "ending": c.caps.ending.as_str(),
        "before_age": worst(|r| r.before_age), "in_show": worst(|r| r.in_show), "level": c.caps.level,
        "sentence": c.sentence,
    }
}

result_class! {
    /// The planned age under caps on the risk of one ending; made by `capped_age`. No age in it passes the limit.
    ///
    /// Its table holds one row for each reading of the records: as they stand, and with unknown endings counted.
    PyCappedAge holds CappedAge as "CappedAge";
    save |c| saved::save(CAPPED, c); load |t| saved::load(CAPPED, t); table line_table; show capped_facts;
    {
        /// What the caps do to the advice: "caps_met", "caps_bind" or "no_age_meets_caps".
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// The advice, whole hours: the age of least cost that meets the caps in every line; None where no age does.
        #[getter]
        fn age_hours(&self) -> Option<f64> {
            self.0.age_hours
        }

        /// Cost per hour at that age; None where no age meets the caps.
        #[getter]
        fn cost_per_hour(&self) -> Option<f64> {
            self.0.cost.as_ref().map(|c| c.cost_per_hour)
        }

        /// The planned age without caps.
        #[getter]
        fn uncapped(&self) -> PyPlannedAge {
            PyPlannedAge(self.0.uncapped.clone())
        }

        /// Stretches of whole hours that meet the caps in every line: (from, to).
        #[getter]
        fn bands(&self) -> Fixed<(f64, f64)> {
            self.0.bands.iter().map(|b| (b.from_hours, b.to_hours)).collect()
        }

        /// Worst upper limit, over the lines, of the share that ends so before the advised age; None without one.
        #[getter]
        fn before_age(&self) -> Option<f64> {
            self.0.lines.iter().filter_map(|l| l.advised.as_ref()).map(|r| r.before_age).reduce(f64::max)
        }

        /// Worst upper limit, over the lines, of the chance to end so in the next show at that age; None without one.
        #[getter]
        fn in_show(&self) -> Option<f64> {
            self.0.lines.iter().filter_map(|l| l.advised.as_ref()).map(|r| r.in_show).reduce(f64::max)
        }
    }
}

/// The age of least cost at which upper limits of the risk of a burst, or of another ending, meet caps.
///
/// Both caps are judged by a one-sided upper limit: from draws of a model, its percentile over them, but not below the
/// estimate raised as far as the number of failures that it rests on leaves their rate and the shape of their wear
/// open: where failures are few that raises limits most at ages well below those to which lamps were watched; from
/// records alone, the bound of a Poisson count at a stated shape of wear, 2.996 over the hours for no event at an even
/// rate and 95 %. With records a second line counts endings for an unknown reason as well; with draws it needs
/// `draws_with_unknown`, draws of records in which they are so counted. The advice meets the caps in both lines. Fewer
/// hours, draws without an answer or reasons that were lost never relax a cap; that no age meets the caps with these
/// records is an answer too. Where so few failures are seen that a cause is taken to strike evenly, limits at ages past
/// those to which most lamps were watched are too low for an ending that wears steeply.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     No age in the answer passes it.
/// cause : str
///     The capped ending, a word of `ENDINGS`.
/// most_before_age : float, optional
///     Largest share of lamps that may end so before they are changed, above 0 and below 1.
/// most_in_show : float, optional
///     Largest chance of a lamp of the planned age to end so in its next show, above 0 and below 1.
/// show_hours : float
///     Length of a show, hours.
/// level : float
///     Level of the upper limits, 0.5 or more and below 1.
/// draws : Draws, optional
///     Possible worlds, as `CauseFits.draws` gives them; 20 or more. Either these or `records`.
/// draws_with_unknown : Draws, optional
///     The same with unknown endings counted as the capped one.
/// records : Tally, optional
///     Lives with their endings; advice stops at the oldest lamp at risk.
/// shape : float
///     With records: the shape of wear, stated and not fitted, above 0; 1 is an even rate.
/// todays_rule_hours : float, optional
///     The age at which lamps are changed today, hours, to compare with.
/// near_percent : float
///     Ages count as near the best up to this much more cost, percent.
/// least_saving_percent : float
///     Without caps, an earlier change than at the limit is advised only if it saves at least this much, percent.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit).
/// objective : Discount or DarkMinutes, optional
///     What the age is chosen by; None for the cost per hour.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// CappedAge
///
/// Raises
/// ------
/// InputError
///     For no cap, a cap or a length that is out of range, and unless either draws or records are given.
/// RefusedError
///     For draws that know no such ending, fewer than 20 of them, and lamps that are seen only if they fail.
///
/// Examples
/// --------
/// A hundred lamps pulled at 1,500 h, none of which burst: -ln(0.99) / 2.996 x 150,000 h.
///
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=2000.0)
/// >>> world = relamp.world({"dim": life}, relamp.costs(950.0, dim=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> records = relamp.lives([1500.0], [None], ending=["planned"], count=[100])
/// >>> capped = relamp.capped_age(world, limit, records=records, most_before_age=0.01, show_hours=2.2)
/// >>> capped.age_hours, capped.verdict
/// (503.0, 'caps_bind')
#[pyfunction]
#[pyo3(signature = (world, limit, *, show_hours, cause="burst", most_before_age=None, most_in_show=None, level=0.95,
    draws=None, draws_with_unknown=None, records=None, shape=1.0, todays_rule_hours=None, near_percent=2.0,
    least_saving_percent=0.1, oldest_at_risk_hours=None, extrapolate_because=None, objective=None, progress=None))]
pub(super) fn capped_age(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::show_hours)] show_hours: f64,
    #[pyo3(from_py_with = args::cause)] cause: &str,
    #[pyo3(from_py_with = args::most_before_age)] most_before_age: Option<f64>,
    #[pyo3(from_py_with = args::most_in_show)] most_in_show: Option<f64>,
    #[pyo3(from_py_with = args::level)] level: f64,
    draws: Option<&Bound<'_, PyDraws>>,
    draws_with_unknown: Option<&Bound<'_, PyDraws>>,
    records: Option<&Bound<'_, PyTally>>,
    #[pyo3(from_py_with = args::shape)] shape: f64,
    #[pyo3(from_py_with = args::todays_rule_hours)] todays_rule_hours: Option<f64>,
    #[pyo3(from_py_with = args::near_percent)] near_percent: f64,
    #[pyo3(from_py_with = args::least_saving_percent)] least_saving_percent: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyCappedAge> {
    let caps = RiskCaps { ending: ending("cause", cause)?, most_before_age, most_in_show, show_hours, level };
    let mut lines = Vec::new();
    match (draws, draws_with_unknown, records) {
        (Some(draws), with, None) => {
            lines.push(CapLine { unknown_counted: false, source: RiskSource::Draws(&draws.get().0) });
            lines.extend(with.map(|d| CapLine { unknown_counted: true, source: RiskSource::Draws(&d.get().0) }));
        }
        (None, None, Some(records)) => {
            let tally = &records.get().0;
            for (unknown_counted, endings) in [(false, vec![caps.ending]), (true, vec![caps.ending, Ending::Unknown])] {
                let records = RiskRecords::of(tally, &endings, shape)?;
                lines.push(CapLine { unknown_counted, source: RiskSource::Records(records) });
            }
        }
        _ => {
            let what = "one source of upper limits is needed";
            let expected = "draws, with draws_with_unknown or without, or records";
            let given =
                [draws.is_some(), draws_with_unknown.is_some(), records.is_some()].iter().filter(|g| **g).count();
            return Err(
                refuse("python.cap_source", what, "capped_age", "draws", &format!("{given} of 3"), expected).into()
            );
        }
    }
    let objective = read_objective(objective)?;
    let options = AgeOptions {
        todays_rule_hours,
        near_percent,
        least_saving_percent,
        oldest_at_risk_hours,
        extrapolate_because,
        objective,
    };
    let (world, limit) = (world.get(), &limit.get().0);
    Ok(PyCappedAge(work(py, progress, |run| core_capped(&world.0, &caps, &lines, limit, &options, run))?))
}
