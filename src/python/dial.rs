//! The dial: lives, figures and planned ages under each stated dependence of suspect removal on failure.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::family::family as family_of;
use crate::fit::{DialAnswer, DialOptions, RemovalDial, removal_dial as core_dial};
use crate::policy::{AgeOptions, Band, DialTurn, dial_planned_age, dial_turn};

use super::covariates::named;
use super::error::warn;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, numbers};
use super::life::PyLife;
use super::lives::PyTally;
use super::policy::PyPlannedAge;
use super::removal::{removal, words};
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::{PyCosts, PyHourLimit};
use super::uncertainty::{few_enough, pairs};
use super::work::work;

const TURN: Format = Format::new("dial_turn", 1);

fn dial_table(d: &RemovalDial) -> Result<RecordBatch> {
    let names = d.family()?.parameter_names();
    let points = d.points();
    let mut frame = Frame::default().numbers("tau", points.iter().map(|p| p.tau));
    for (i, name) in names.iter().enumerate() {
        frame = frame.numbers(name, points.iter().map(|p| p.parameters.get(i).copied().unwrap_or(f64::NAN)));
    }
    frame
        .counts("refits", points.iter().map(|p| p.refits.len() as u64))
        .counts("unsettled", points.iter().map(|p| p.unsettled))
        .finish()
}

fn dial_facts(d: &RemovalDial) -> Facts {
    facts! {
        "family": d.family_name(), "taus": d.points().iter().map(|p| p.tau).collect::<Vec<_>>(),
        "suspects": words(d.suspects()), "suspect_lamps": d.suspect_lamps(), "lamps": d.facts().lamps,
        "failures": d.facts().failures, "refits": d.points().first().map_or(0, |p| p.refits.len()),
        "notes": d.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// The life of lamps that nobody takes out early, under each stated dependence; made by `removal_dial`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> low = [200.0 + 60.0 * i for i in range(40)]
    /// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
    /// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
    /// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.0, 0.5, 0.8], replicates=20)
    /// >>> dial.taus, dial.table().columns
    /// ((0.0, 0.5, 0.8), ['tau', 'shape', 'scale', 'refits', 'unsettled'])
    PyRemovalDial holds RemovalDial as "RemovalDial";
    save RemovalDial::to_json; load RemovalDial::from_json; table dial_table; show dial_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// Dependences that were fitted, Kendall's tau, rising from 0.
        #[getter]
        fn taus(&self) -> Fixed<f64> {
            self.0.points().iter().map(|p| p.tau).collect()
        }

        /// The endings named as suspect.
        #[getter]
        fn suspects(&self) -> Fixed<&'static str> {
            Fixed(words(self.0.suspects()))
        }

        /// Lamps that ended so.
        #[getter]
        fn suspect_lamps(&self) -> u64 {
            self.0.suspect_lamps()
        }

        /// Endings of the failures with their shares.
        #[getter]
        fn endings<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            let dict = PyDict::new(py);
            self.0.endings().iter().try_for_each(|(e, share)| dict.set_item(e.as_str(), *share))?;
            Ok(dict)
        }

        /// What a reader must know beside the numbers: pairs of a stable slug and a sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// The life at one of the dependences.
        ///
        /// Parameters
        /// ----------
        /// tau : float
        ///     One of `taus`, at least 0 and below 1.
        ///
        /// Returns
        /// -------
        /// Life
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a dependence that was not fitted.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> low = [200.0 + 60.0 * i for i in range(40)]
        /// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        /// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        /// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5], replicates=0)
        /// >>> dial.life(0.0).parameters == relamp.fit(tally).parameters
        /// True
        fn life(&self, #[pyo3(from_py_with = args::tau)] tau: f64) -> PyResult<PyLife> {
            Ok(named(self.0.life(tau)?.as_ref())?)
        }

        /// The probability to pass an age at each dependence, and over a range of it.
        ///
        /// Parameters
        /// ----------
        /// age : float
        ///     Hours.
        /// from_tau, to_tau : float
        ///     Smallest and largest dependence held possible, at least 0, both among `taus`.
        /// level : float
        ///     Level of the intervals, inside (0, 1).
        /// widest : float
        ///     Widest interval over the range that still says something, as a share of lamps.
        ///
        /// Returns
        /// -------
        /// DialAnswer
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, and a range that was not fitted.
        /// DomainError
        ///     For an age below 0 and a width out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> low = [200.0 + 60.0 * i for i in range(40)]
        /// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        /// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        /// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=20)
        /// >>> answer = dial.reliability(1000.0, from_tau=0.5, to_tau=0.8)
        /// >>> answer.low < answer.least < answer.most < answer.high
        /// True
        #[pyo3(signature = (age, *, from_tau, to_tau, level=0.95, widest=0.25))]
        fn reliability(
            &self,
            #[pyo3(from_py_with = args::age)] age: f64,
            #[pyo3(from_py_with = args::from_tau)] from_tau: f64,
            #[pyo3(from_py_with = args::to_tau)] to_tau: f64,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::widest)] widest: f64,
        ) -> PyResult<PyDialAnswer> {
            Ok(PyDialAnswer(self.0.reliability(age, level, (from_tau, to_tau), widest)?))
        }

        /// The age by which a percentage has failed at each dependence, and over a range of it.
        ///
        /// Parameters
        /// ----------
        /// percent : float
        ///     Above 0 and below 100; 10 asks for the B10 life.
        /// from_tau, to_tau : float
        ///     Smallest and largest dependence held possible, at least 0, both among `taus`.
        /// level : float
        ///     Level of the intervals, inside (0, 1).
        /// widest : float
        ///     Largest ratio of the ends over the range that still says something, at least 1.
        ///
        /// Returns
        /// -------
        /// DialAnswer
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, and a range that was not fitted.
        /// DomainError
        ///     For a percentage and a ratio out of range.
        /// RefusedError
        ///     For an age that is never reached.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> low = [200.0 + 60.0 * i for i in range(40)]
        /// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        /// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        /// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=0)
        /// >>> answer = dial.b_life(10.0, from_tau=0.5, to_tau=0.8)
        /// >>> answer.low is None, answer.least == dial.life(0.8).b_life(10.0)
        /// (True, True)
        #[pyo3(signature = (percent, *, from_tau, to_tau, level=0.95, widest=2.0))]
        fn b_life(
            &self,
            #[pyo3(from_py_with = args::percent)] percent: f64,
            #[pyo3(from_py_with = args::from_tau)] from_tau: f64,
            #[pyo3(from_py_with = args::to_tau)] to_tau: f64,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::widest)] widest: f64,
        ) -> PyResult<PyDialAnswer> {
            Ok(PyDialAnswer(self.0.b_life(percent, level, (from_tau, to_tau), widest)?))
        }

        /// The planned age at each dependence, and over a range of it: how wrong independence must be before the advice
        /// changes.
        ///
        /// The cost of a failure is that of the failures' endings in the shares in which they were seen.
        ///
        /// Parameters
        /// ----------
        /// costs : Costs
        ///     Of a planned change, and of a change after each ending that failures have.
        /// limit : HourLimit
        ///     No age in the answer passes it.
        /// from_tau, to_tau : float
        ///     Smallest and largest dependence held possible, at least 0, both among `taus`.
        /// level : float
        ///     Level of the intervals, inside (0, 1).
        /// widest : float
        ///     Largest ratio of the ends over the range that still says something, at least 1.
        /// oldest_at_risk_hours : float, optional
        ///     Where the records end, hours; without it the oldest lamp of the records.
        /// extrapolate_because : str, optional
        ///     Why advice may pass the oldest lamp at risk (never the limit).
        /// progress : callable, optional
        ///     Told `(done, total)` now and then, and at the end.
        ///
        /// Returns
        /// -------
        /// DialAnswer
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, a range that was not fitted, and costs that are missing.
        /// DomainError
        ///     For a level and a ratio out of range.
        /// RefusedError
        ///     For too few refits that gave an answer.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> low = [200.0 + 60.0 * i for i in range(40)]
        /// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        /// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        /// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=20)
        /// >>> limit = relamp.hour_limit(maximum_hours=4000.0, source="invented data sheet")
        /// >>> ages = dial.planned_age(relamp.costs(950.0, burst=5200.0), limit, from_tau=0.5, to_tau=0.8)
        /// >>> ages.estimate[0] > ages.most, ages.verdicts[0]
        /// (True, 'best_below_limit')
        #[pyo3(signature = (costs, limit, *, from_tau, to_tau, level=0.95, widest=2.0, oldest_at_risk_hours=None,
            extrapolate_because=None, progress=None))]
        fn planned_age(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyCosts>)] costs: &Bound<'_, PyCosts>,
            #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
            #[pyo3(from_py_with = args::from_tau)] from_tau: f64,
            #[pyo3(from_py_with = args::to_tau)] to_tau: f64,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::widest)] widest: f64,
            #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
            #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
            progress: Option<&Bound<'_, PyAny>>,
        ) -> PyResult<PyDialAnswer> {
            let options = AgeOptions { oldest_at_risk_hours, extrapolate_because, ..AgeOptions::default() };
            let (costs, limit, range) = (&costs.get().0, &limit.get().0, (from_tau, to_tau));
            let ask = |run: &crate::Run| dial_planned_age(&self.0, costs, limit, &options, level, range, widest, run);
            Ok(PyDialAnswer(work(py, progress, ask)?))
        }

        /// The first dependence at which the planned age leaves the ages near the best of the ordinary fit: up to it the
        /// question of dependence changes nothing that matters.
        ///
        /// Between two fitted dependences the life is taken between theirs, and the turn is bracketed. The dial takes one
        /// life for all failures; where the ordinary fit has one for each cause, the sentence tells how the two differ.
        ///
        /// Parameters
        /// ----------
        /// costs : Costs
        ///     Of a planned change, and of a change after each ending that failures have.
        /// limit : HourLimit
        ///     No age in the answer passes it.
        /// ordinary : PlannedAge, optional
        ///     The planned age of the ordinary fit, such as of a world by cause; None for that of the dial without
        ///     dependence.
        /// near_percent : float
        ///     Ages count as near the best up to this much more cost, percent; that of `ordinary` where it is given.
        /// oldest_at_risk_hours : float, optional
        ///     Where the records end, hours; without it the oldest lamp of the records.
        /// extrapolate_because : str, optional
        ///     Why advice may pass the oldest lamp at risk (never the limit).
        ///
        /// Returns
        /// -------
        /// DialTurn
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, and costs that are missing.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> low = [200.0 + 60.0 * i for i in range(40)]
        /// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
        /// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
        /// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.3, 0.6, 0.8], replicates=0)
        /// >>> limit = relamp.hour_limit(maximum_hours=4000.0, source="invented data sheet")
        /// >>> turn = dial.turn(relamp.costs(950.0, burst=5200.0), limit)
        /// >>> 0.0 < turn.tau < 0.8
        /// True
        #[pyo3(signature = (costs, limit, *, ordinary=None, near_percent=2.0, oldest_at_risk_hours=None,
            extrapolate_because=None))]
        fn turn(
            &self,
            py: Python<'_>,
            #[pyo3(from_py_with = args::made::<PyCosts>)] costs: &Bound<'_, PyCosts>,
            #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
            ordinary: Option<&Bound<'_, PyPlannedAge>>,
            #[pyo3(from_py_with = args::near_percent)] near_percent: f64,
            #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
            #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
        ) -> PyResult<PyDialTurn> {
            let options = AgeOptions { near_percent, oldest_at_risk_hours, extrapolate_because, ..AgeOptions::default() };
            let (costs, limit) = (&costs.get().0, &limit.get().0);
            let ordinary = ordinary.map(|o| &o.get().0);
            Ok(PyDialTurn(work(py, None, |_| dial_turn(&self.0, costs, limit, &options, ordinary))?))
        }
    }
}

fn turn_table(t: &DialTurn) -> Result<RecordBatch> {
    Frame::default()
        .numbers_or_null("tau", [t.tau])
        .numbers("most_tau", [t.most_tau])
        .numbers("age_hours", [t.age_hours])
        .numbers("independent_hours", [t.independent_hours])
        .numbers("ordinary_hours", [t.ordinary_hours])
        .texts("near_best", [t.near_best.iter().map(Band::words).collect::<Vec<_>>().join("; ")])
        .finish()
}

fn turn_facts(t: &DialTurn) -> Facts {
    facts! {
        "tau": t.tau, "most_tau": t.most_tau, "age_hours": t.age_hours, "independent_hours": t.independent_hours,
        "ordinary_hours": t.ordinary_hours, "near_best": t.near_best.iter().map(Band::words).collect::<Vec<_>>(),
        "sentence": t.sentence,
    }
}

result_class! {
    /// The first dependence at which the planned age leaves the ages near the best of the ordinary fit; made by
    /// `RemovalDial.turn`.
    PyDialTurn holds DialTurn as "DialTurn";
    save |t| saved::save(TURN, t); load |t| saved::load(TURN, t); table turn_table; show turn_facts;
    {
        /// The dependence, Kendall's tau; None where the advice stays up to the largest one fitted, 0 where the one life for
        /// all failures leaves the ages near the best already.
        #[getter]
        fn tau(&self) -> Option<f64> {
            self.0.tau
        }

        /// Largest dependence that was fitted.
        #[getter]
        fn most_tau(&self) -> f64 {
            self.0.most_tau
        }

        /// The planned age there, or at the largest dependence, hours.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// The planned age of the dial without dependence, one life for all failures, hours.
        #[getter]
        fn independent_hours(&self) -> f64 {
            self.0.independent_hours
        }

        /// The planned age of the ordinary fit, hours.
        #[getter]
        fn ordinary_hours(&self) -> f64 {
            self.0.ordinary_hours
        }

        /// The same in words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }
    }
}

fn answer_table(a: &DialAnswer) -> Result<RecordBatch> {
    let frame = Frame::default()
        .numbers("tau", a.taus.iter().copied())
        .numbers("estimate", a.estimate.iter().copied())
        .numbers_or_null("low", a.low.iter().copied())
        .numbers_or_null("high", a.high.iter().copied());
    // Only planned ages have verdicts.
    if a.verdicts.is_empty() { frame.finish() } else { frame.texts("verdict", &a.verdicts).finish() }
}

fn answer_facts(a: &DialAnswer) -> Facts {
    facts! {
        "quantity": a.quantity, "least": a.least, "most": a.most, "low": a.range_low, "high": a.range_high,
        "from_tau": a.from_tau, "to_tau": a.to_tau, "informative": a.informative, "level": a.level,
        "widest": a.widest, "verdicts": a.verdicts, "sentence": a.sentence,
        "notes": a.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// One figure at each dependence of a dial, and the interval that a range of dependence implies; made by the methods of
    /// `RemovalDial`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> low = [200.0 + 60.0 * i for i in range(40)]
    /// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
    /// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
    /// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5], replicates=0)
    /// >>> dial.reliability(1000.0, from_tau=0.0, to_tau=0.5).table().columns
    /// ['tau', 'estimate', 'low', 'high']
    PyDialAnswer holds DialAnswer as "DialAnswer";
    save DialAnswer::to_json; load DialAnswer::from_json; table answer_table; show answer_facts;
    {
        /// What was asked, in words.
        #[getter]
        fn quantity(&self) -> &str {
            &self.0.quantity
        }

        /// Whether the figure is an age in hours; else it is a share of lamps.
        #[getter]
        fn in_hours(&self) -> bool {
            self.0.hours
        }

        /// Dependences, Kendall's tau, rising from 0.
        #[getter]
        fn taus(&self) -> Fixed<f64> {
            Fixed(self.0.taus.clone())
        }

        /// The figure at each.
        #[getter]
        fn estimate(&self) -> Fixed<f64> {
            Fixed(self.0.estimate.clone())
        }

        /// Smallest and largest dependence held possible.
        #[getter]
        fn range(&self) -> (f64, f64) {
            (self.0.from_tau, self.0.to_tau)
        }

        /// Least figure over the range.
        #[getter]
        fn least(&self) -> f64 {
            self.0.least
        }

        /// Largest figure over the range.
        #[getter]
        fn most(&self) -> f64 {
            self.0.most
        }

        /// Lower end over the range, chance included; None without refits.
        #[getter]
        fn low(&self) -> Option<f64> {
            self.0.range_low
        }

        /// Upper end over the range, chance included; None without refits.
        #[getter]
        fn high(&self) -> Option<f64> {
            self.0.range_high
        }

        /// Level of the intervals.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level
        }

        /// Why the planned age at each dependence stands where it does, in words as `PlannedAge.verdict` has them; empty for
        /// other figures.
        #[getter]
        fn verdicts(&self) -> Fixed<String> {
            Fixed(self.0.verdicts.clone())
        }

        /// Whether the interval over the range, with chance where there are refits, is no wider than asked. Bounds of removals
        /// are judged without chance. Never where planned ages of the range stand at the limit or at the oldest lamp at risk
        /// because no earlier change pays.
        #[getter]
        fn informative(&self) -> bool {
            self.0.informative
        }

        /// The answer in one sentence.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// What a reader must know beside the numbers: pairs of a stable slug and a sentence. One says where a figure lies
        /// past the oldest lamp at risk, where it is the family's opinion.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// Fits a life at each of some dependences of suspect removal on failure: a dial whose zero is the ordinary fit.
///
/// The life has a family; removal has none, as it follows the habits of technicians: its hazard is the one that goes with
/// `dependent_curve`. At 0 the life is that of `fit`, exactly. Nothing here estimates the dependence: it is the caller's.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records.
/// suspects : list of str
///     Endings of lamps that were taken out because they looked about to fail; words of `ENDINGS` other than "running".
/// family : str
///     As in `fit`, but "weibull_failure_free" and "piecewise_constant(...)", whose likelihoods have corners.
/// taus : array-like, optional
///     Dependences to fit at, Kendall's tau, from 0 to below 1; 0 is always among them. Without it 0 to 0.9 by 0.1.
/// replicates : int
///     How many refits under random weights at each, 20 or more, or 0 for none and then no intervals.
/// seed : int
///     Seed of the weights.
/// endings : list of str, optional
///     Endings that count as failure; without it every failure but the suspects.
/// reading : {"upper", "midpoint", "lower"}, optional
///     The age that stands for a failure known only to an interval; without it such rows are refused.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// RemovalDial
///
/// Raises
/// ------
/// InputError
///     For endings that are none or cannot be suspect, and too few refits.
/// DomainError
///     For a dependence out of range.
/// RefusedError
///     For a family with corners, a search that does not settle, and as `fit` and `dependent_curve`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> low = [200.0 + 60.0 * i for i in range(40)]
/// >>> high = [a if i % 2 == 0 else None for i, a in enumerate(low)]
/// >>> tally = relamp.lives(low, high, ending=["burst", "dim"] * 20)
/// >>> dial = relamp.removal_dial(tally, suspects=["dim"], taus=[0.5, 0.8], replicates=0)
/// >>> scale = [dial.life(tau).parameters["scale"] for tau in dial.taus]
/// >>> scale == sorted(scale, reverse=True)
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, suspects, family="weibull", taus=None, replicates=200, seed=1, endings=None, reading=None,
    progress=None))]
pub(super) fn removal_dial(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::suspects)] suspects: Vec<String>,
    #[pyo3(from_py_with = args::family)] family: &str,
    taus: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyRemovalDial> {
    let family = family_of(family)?;
    let removal = removal(&suspects, endings, reading.as_deref())?;
    let mut options = DialOptions { removal, replicates, seed, ..DialOptions::default() };
    if let Some(taus) = taus.filter(|t| !t.is_none()) {
        options.taus = numbers(taus, At { input: "taus", column: "" })?.all()?;
    }
    few_enough(replicates)?;
    let tally = &tally.get().0;
    let dial = work(py, progress, |run| core_dial(family, tally, &options, run))?;
    dial.notes().iter().try_for_each(|n| warn(py, "WeakDataWarning", &format!("{} [{}]", n.text, n.slug)))?;
    Ok(PyRemovalDial(dial))
}
