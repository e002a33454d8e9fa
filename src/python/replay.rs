//! Back-tests on the chain's own history.

use std::collections::BTreeSet;

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::records::{Ending, Lives};
use crate::replay::{
    AgeReplay, PredictionReplay, ReplayedAge, ReplayedEnding, WindowOptions, replay_age as core_age,
    replay_predictions as core_predictions,
};

use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::arguments as args;
use super::lives::ending;
use super::records::PyReading;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::{PyCosts, PyHourLimit};
use super::uncertainty::pairs;
use super::watch::model as model_of;
use super::work::work;

const AGE: Format = Format::new("replayed_age", 1);
const PREDICTIONS: Format = Format::new("prediction_replay", 1);

fn ending_table(r: &ReplayedAge) -> Result<RecordBatch> {
    // Endings that were not seen stand below those that were.
    let unseen = r.rare.iter().filter(|rare| r.endings.iter().all(|e| e.ending != rare.ending));
    let rows: Vec<(Ending, Option<&ReplayedEnding>)> =
        r.endings.iter().map(|e| (e.ending, Some(e))).chain(unseen.map(|rare| (rare.ending, None))).collect();
    let at_most = |ending: Ending| r.rare.iter().find(|rare| rare.ending == ending);
    Frame::default()
        .texts("ending", rows.iter().map(|r| r.0.as_str()))
        .numbers("per_1000_lamps", rows.iter().map(|r| r.1.map_or(0.0, |e| e.per_1000_lamps)))
        .numbers_or_null("low", rows.iter().map(|r| r.1.map(|e| e.interval.0)))
        .numbers_or_null("high", rows.iter().map(|r| r.1.map(|e| e.interval.1)))
        .counts("seen", rows.iter().map(|r| r.1.map_or(0, |e| e.seen)))
        .numbers_or_null("at_most_per_1000_lamps", rows.iter().map(|r| at_most(r.0).map(|e| e.at_most_per_1000_lamps)))
        .numbers_or_null(
            "at_most_cost_per_hour",
            rows.iter().map(|r| at_most(r.0).and_then(|e| e.at_most_cost_per_hour)),
        )
        .finish()
}

fn age_facts(r: &ReplayedAge) -> Facts {
    facts! {
        "planned_age_hours": r.asked.planned_age_hours, "sentence": r.sentence, "cost_per_hour": r.cost_per_hour,
        "low": r.cost_interval.0, "high": r.cost_interval.1, "happened_cost_per_hour": r.happened_cost_per_hour,
        "whole_lives_cost_per_hour": r.whole_lives_cost_per_hour,
        "reached": r.reached, "failed": r.failed, "left": r.left, "hours_from_model": r.hours_from_model,
        "notes": r.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// The history of a lamp class under another planned age; made by `replay_age`.
    ///
    /// Its table holds one row for each ending: how many of 1,000 lamps end so before the age, and how many were seen to;
    /// where at most two were, how many at most may (one-sided at 95 %) and what cost per hour that would make.
    PyReplayedAge holds ReplayedAge as "ReplayedAge";
    save |r| saved::save(AGE, r); load |t| saved::load(AGE, t); table ending_table; show age_facts;
    {
        /// The rule, hours.
        #[getter]
        fn planned_age_hours(&self) -> f64 {
            self.0.asked.planned_age_hours
        }

        /// Cost per lamp hour under the rule.
        #[getter]
        fn cost_per_hour(&self) -> f64 {
            self.0.cost_per_hour
        }

        /// Its interval: (low, high).
        #[getter]
        fn cost_interval(&self) -> (f64, f64) {
            self.0.cost_interval
        }

        /// Cost per lamp hour as it happened; lamps that still burn are not paid for yet.
        #[getter]
        fn happened_cost_per_hour(&self) -> f64 {
            self.0.happened_cost_per_hour
        }

        /// Cost per lamp hour of whole lives as lamps were changed, which the rule is compared with; None where the
        /// rows hold no
        /// whole life.
        #[getter]
        fn whole_lives_cost_per_hour(&self) -> Option<f64> {
            self.0.whole_lives_cost_per_hour
        }

        /// Cost per hour of whole lives as lamps were changed, less that under the rule.
        #[getter]
        fn saving_per_hour(&self) -> f64 {
            self.0.saving_per_hour
        }

        /// Its interval: (low, high).
        #[getter]
        fn saving_interval(&self) -> (f64, f64) {
            self.0.saving_interval
        }

        /// Mean age at a change under the rule, hours.
        #[getter]
        fn mean_age_at_change_hours(&self) -> f64 {
            self.0.mean_age_at_change_hours
        }

        /// Lamps seen to reach the planned age.
        #[getter]
        fn reached(&self) -> u64 {
            self.0.reached
        }

        /// Lamps seen to fail before it.
        #[getter]
        fn failed(&self) -> u64 {
            self.0.failed
        }

        /// Lamps that left before it without a failure, or still burn: what they would have done no row tells.
        #[getter]
        fn left(&self) -> u64 {
            self.0.left
        }

        /// The oldest age that rows tell of, hours.
        #[getter]
        fn rows_reach_hours(&self) -> f64 {
            self.0.rows_reach_hours
        }

        /// Hours of a mean lamp under the rule that rest on the model alone.
        #[getter]
        fn hours_from_model(&self) -> f64 {
            self.0.hours_from_model
        }

        /// What was found, in words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

fn window_table(r: &PredictionReplay) -> Result<RecordBatch> {
    let each = || r.windows.iter();
    Frame::default()
        .dates("from", each().map(|w| Some(w.from)))
        .dates("to", each().map(|w| Some(w.to)))
        .counts("failures_known", each().map(|w| w.failures_known))
        .counts("lamps", each().map(|w| w.lamps))
        .numbers("hours", each().map(|w| w.hours))
        .numbers("predicted", each().map(|w| w.predicted.mean()))
        .counts("low_90", each().map(|w| w.interval_90().0))
        .counts("high_90", each().map(|w| w.interval_90().1))
        .counts("observed", each().map(|w| w.observed))
        .numbers("value", each().map(|w| w.value))
        .finish()
}

fn window_facts(r: &PredictionReplay) -> Facts {
    facts! {
        "lamp_class": r.lamp_class, "sentence": r.sentence, "windows": r.windows.len(), "held_90": r.held_90,
        "p_value": r.p_value, "too_early": r.too_early, "refused": r.refused.values().sum::<u64>(),
        "notes": r.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Predictions of failures set against what came, window by window; made by `replay_predictions`.
    ///
    /// Its table holds one row for each window.
    PyPredictionReplay holds PredictionReplay as "PredictionReplay";
    save |r| saved::save(PREDICTIONS, r); load |t| saved::load(PREDICTIONS, t); table window_table; show window_facts;
    {
        fn __len__(&self) -> usize {
            self.0.windows.len()
        }

        /// The value of each window; even between 0 and 1 where predictions hold.
        #[getter]
        fn values(&self) -> Fixed<f64> {
            self.0.windows.iter().map(|w| w.value).collect()
        }

        /// Largest distance of the values from an even spread.
        #[getter]
        fn distance(&self) -> f64 {
            self.0.distance
        }

        /// Chance of one as large where predictions hold.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.p_value
        }

        /// Windows whose failures lay within the interval at 90 %.
        #[getter]
        fn held_90(&self) -> u64 {
            self.0.held_90
        }

        /// Windows not predicted, as too few failures were known before.
        #[getter]
        fn too_early(&self) -> u64 {
            self.0.too_early
        }

        /// Windows not predicted for another reason, by its slug.
        #[getter]
        fn refused(&self) -> Fixed<(String, u64)> {
            self.0.refused.iter().map(|(slug, n)| (slug.clone(), *n)).collect()
        }

        /// What was found, in words, with the number of windows.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// The class asked for, or the only one of the records.
fn class_of(lives: &Lives, asked: Option<String>) -> String {
    let classes: BTreeSet<&str> = lives.iter().map(|l| l.lamp_class as &str).collect();
    match (asked, classes.len()) {
        (Some(name), _) => name,
        (None, 1) => classes.into_iter().collect(),
        (None, _) => String::new(),
    }
}

fn failures(words: Option<Vec<String>>) -> Result<Vec<Ending>> {
    words.map_or_else(
        || Ok(Ending::FAILURES.to_vec()),
        |words| words.iter().map(|w| ending("failure_endings", w)).collect(),
    )
}

/// The records of a lamp class read as if lamps had been changed at another age, with what it would have cost.
///
/// A lamp seen to pass the age tells all of the rule, and so does one that failed before it. One that left earlier on
/// plan, was moved or still burns tells of the hours it burned; the rest is taken from lamps that went on. Past the
/// oldest age seen no row tells anything: the age is refused, or with a model goes on by the model's chance, and
/// `hours_from_model` says how much rests on it.
///
/// Parameters
/// ----------
/// reading : Reading
///     From `read_logs` or `read_table`.
/// costs : Costs
///     Of a planned change and of each failure seen; money back under a warranty is taken off.
/// limit : HourLimit
///     No rule past it is replayed.
/// planned_age_hours : float
///     The rule: lamps are changed at this age, hours, or at failure.
/// lamp_class : str, optional
///     The lamp class; without it the only one of the records.
/// since : str, optional
///     A day such as "2025-03-17": only what happened after it counts.
/// failure_endings : list of str, optional
///     Words of `ENDINGS` that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
/// model : Fit or Life, optional
///     The life of all these endings together, for ages that no row tells of.
/// level : float
///     Level of the intervals, above 0 and below 1.
/// replicates : int
///     How often the lamps are weighed anew for the intervals, 20 to 100,000.
/// seed : int
///     Seed of the weights.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// ReplayedAge
///
/// Raises
/// ------
/// InputError
///     For a class without a lamp, an age, a day or an option out of range, and an ending without a cost.
/// LimitError
///     For an age past the hour limit.
/// RefusedError
///     For an age past the rows without a model.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> table = {
/// ...     "serial": ["A1", "A2"], "class": ["2 kW", "2 kW"], "site": ["S", "S"], "screen": ["1", "2"],
/// ...     "in": ["2025-01-01", "2025-01-01"], "out": ["2025-03-01", "2025-07-01"], "why": ["popped", "due"],
/// ...     "hours": [600.0, 1500.0],
/// ... }
/// >>> columns = {
/// ...     "serial": "serial", "lamp_class": "class", "site": "site", "screen": "screen", "fitted_on": "in",
/// ...     "removed_on": "out", "reason": "why", "hours": "hours",
/// ... }
/// >>> reading = relamp.read_table(
/// ...     table, columns=columns, exported_on="2025-12-01", reasons={"popped": "burst", "due": "planned"},
/// ...     dates="iso", blank_hours_at_fitting="new",
/// ... )
/// >>> costs = relamp.costs(1000.0, burst=5000.0)
/// >>> limit = relamp.hour_limit(maximum_hours=2500.0, source="invented data sheet")
/// >>> at = relamp.replay_age(reading, costs, limit, planned_age_hours=1000.0)
/// >>> at.cost_per_hour, at.reached, at.failed, at.left
/// (3.75, 1, 1, 0)
/// >>> life = relamp.life("exponential", scale=2000.0)
/// >>> relamp.replay_age(reading, costs, limit, planned_age_hours=2000.0, model=life).hours_from_model > 0.0
/// True
#[pyfunction]
#[pyo3(signature = (reading, costs, limit, *, planned_age_hours, lamp_class=None, since=None, failure_endings=None,
    model=None, level=0.9, replicates=400, seed=0, progress=None))]
pub(super) fn replay_age(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyReading>)] reading: &Bound<'_, PyReading>,
    #[pyo3(from_py_with = args::made::<PyCosts>)] costs: &Bound<'_, PyCosts>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::planned_age_hours)] planned_age_hours: f64,
    #[pyo3(from_py_with = args::lamp_class)] lamp_class: Option<String>,
    #[pyo3(from_py_with = args::since)] since: Option<String>,
    #[pyo3(from_py_with = args::failure_endings)] failure_endings: Option<Vec<String>>,
    model: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyReplayedAge> {
    let (reading, costs, limit) = (&reading.get().0, &costs.get().0, &limit.get().0);
    let lamp_class = class_of(&reading.lives, lamp_class);
    let since = since
        .map(|day| {
            day.parse().map_err(|_| refuse("python.day", "not a day", "since", "", &day, "a day such as 2025-03-17"))
        })
        .transpose()?;
    let model = model.map(|given| model_of(&lamp_class, given)).transpose()?;
    let failure_endings = failures(failure_endings)?;
    let asked = AgeReplay { lamp_class, planned_age_hours, since, failure_endings, model, level, replicates, seed };
    Ok(PyReplayedAge(work(py, progress, |run| core_age(&reading.lives, &reading.spells, costs, limit, &asked, run))?))
}

/// Goes through the history window by window, predicts failures from what was known before each, and judges over all
/// windows whether the predicted distributions held.
///
/// Each window has a value: a number evenly drawn between P(N < n) and P(N <= n), with n failures seen and N as
/// predicted. Where predictions hold, the values are even between 0 and 1 and independent. Many high ones: more
/// failures than predicted. Many near 0 and 1: intervals too narrow. Hours and removals are taken as they came; only
/// failures are predicted.
///
/// Parameters
/// ----------
/// reading : Reading
///     From `read_logs` or `read_table`.
/// lamp_class : str, optional
///     The lamp class; without it the only one of the records.
/// window_days : int
///     Length of a window, 7 to 730 days; the last ends on the last day read.
/// family : str
///     The family fitted before each window.
/// failure_endings : list of str, optional
///     Words of `ENDINGS` that count as failure; without it `burst`, `seal`, `no_strike`, `flicker` and `dim`.
/// draws : int
///     Draws behind each predicted distribution, 20 to 100,000.
/// min_failures : int
///     How many failures must be known before a window, at least 5, for it to be predicted.
/// seed : int
///     Seed of the draws and of the values.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// PredictionReplay
///
/// Raises
/// ------
/// InputError
///     For a class without a lamp, an unknown family, and options out of range.
/// RefusedError
///     Where no window could be predicted.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> reading = relamp.Study.open("data/demo/study.toml").read()
/// >>> replay = relamp.replay_predictions(reading, lamp_class="2.0 kW", window_days=182, draws=20, seed=1)
/// >>> len(replay) == len(replay.values) > 0
/// True
/// >>> all(0.0 <= value <= 1.0 for value in replay.values)
/// True
#[pyfunction]
#[pyo3(signature = (reading, *, lamp_class=None, window_days=91, family="weibull", failure_endings=None, draws=200,
    min_failures=20, seed=0, progress=None))]
pub(super) fn replay_predictions(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyReading>)] reading: &Bound<'_, PyReading>,
    #[pyo3(from_py_with = args::lamp_class)] lamp_class: Option<String>,
    #[pyo3(from_py_with = args::window_days)] window_days: u64,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::failure_endings)] failure_endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::draws_kept)] draws: usize,
    #[pyo3(from_py_with = args::min_failures)] min_failures: u64,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPredictionReplay> {
    let reading = &reading.get().0;
    let lamp_class = class_of(&reading.lives, lamp_class);
    let failure_endings = failures(failure_endings)?;
    let family = family.to_owned();
    let options = WindowOptions { window_days, failure_endings, family, draws, fewest_failures: min_failures, seed };
    Ok(PyPredictionReplay(work(py, progress, |run| {
        core_predictions(&reading.lives, &reading.spells, &lamp_class, &options, run)
    })?))
}
