//! Lives on other clocks: hours and strikes, and hours under a recorded current.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::family::family as family_of;
use crate::fit::{
    CurrentHistoryFit, CurrentPiece, Histories, TwoClocks, ValueIs, fit_current_history as core_history,
    two_clocks as core_clocks,
};
use crate::lives::Rows;

use super::covariates::{named, tell};
use super::error::{refuse, warn};
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, Numbers, Table, arguments as args};
use super::life::PyLife;
use super::lives::{PyTally, endings as endings_of};
use super::policy::word;
use super::question::sides as sides_of;
use super::result::result_class;
use super::show::{Facts, facts};
use super::uncertainty::{PyInterval, options, pairs};
use super::work::work;

use pyo3::types::PyDict;

fn parameters<'py>(py: Python<'py>, each: Vec<(&'static str, f64)>) -> PyResult<Bound<'py, PyDict>> {
    let dict = PyDict::new(py);
    each.into_iter().try_for_each(|(name, value)| dict.set_item(name, value))?;
    Ok(dict)
}

fn clock_table(c: &TwoClocks) -> Result<RecordBatch> {
    let profile = c.profile();
    Frame::default()
        .numbers("share", profile.iter().map(|p| p.0))
        .numbers_or_null("hours_per_strike", profile.iter().map(|p| p.1))
        .numbers("relative_log_likelihood", profile.iter().map(|p| p.2))
        .finish()
}

fn clock_facts(c: &TwoClocks) -> Facts {
    let (low, high) = c.interval();
    let (mean, lowest, highest) = c.rates();
    facts! {
        "hours_per_strike": c.hours_per_strike(), "low": low, "high": high, "identified": c.identified(),
        "edge": word(&c.edge()), "family": c.family_name(), "level": c.level(), "p_value": c.p_value(),
        "share": c.share(), "mean_rate": mean, "lowest_rate": lowest, "highest_rate": highest,
        "lamps": c.facts().lamps, "failures": c.facts().failures, "log_likelihood": c.log_likelihood(),
        "sentence": c.sentence(), "notes": c.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// A life on two clocks, hours and strikes; made by `two_clocks`. Its table is the profile.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> rate = [0.1, 0.5] * 10
    /// >>> low = [(950.0 + 10.0 * (i // 2)) / (1.0 + 2.0 * r) for i, r in enumerate(rate)]
    /// >>> clocks = relamp.two_clocks(relamp.lives(low, covariates={"rate": rate}), strikes_per_hour="rate")
    /// >>> round(clocks.hours_per_strike, 2), clocks.identified, clocks.table().columns
    /// (2.0, True, ['share', 'hours_per_strike', 'relative_log_likelihood'])
    PyTwoClocks holds TwoClocks as "TwoClocks";
    save TwoClocks::to_json; load TwoClocks::from_json; table clock_table; show clock_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// Hours that a strike is worth; None where the records do not settle it, or strikes alone explain them best.
        #[getter]
        fn hours_per_strike(&self) -> Option<f64> {
            self.0.hours_per_strike()
        }

        /// Lower end of its interval; 0 where the range ends.
        #[getter]
        fn low(&self) -> f64 {
            self.0.interval().0
        }

        /// Upper end of its interval; None where strikes alone would do as well.
        #[getter]
        fn high(&self) -> Option<f64> {
            self.0.interval().1
        }

        /// Level of the interval.
        #[getter]
        fn level(&self) -> f64 {
            self.0.level()
        }

        /// Whether the records say anything of the hours that a strike is worth.
        #[getter]
        fn identified(&self) -> bool {
            self.0.identified()
        }

        /// Where the likelihood is highest: "inside", "hours_alone" or "strikes_alone".
        #[getter]
        fn edge(&self) -> String {
            word(&self.0.edge())
        }

        /// Share of the wear that strikes do in a lamp at the mean rate.
        #[getter]
        fn share(&self) -> f64 {
            self.0.share()
        }

        /// Mean strikes for each hour over the lamps.
        #[getter]
        fn mean_rate(&self) -> f64 {
            self.0.rates().0
        }

        /// Parameters of the life of a lamp at the mean rate, in hours.
        #[getter]
        fn parameters<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            parameters(py, self.0.parameters())
        }

        /// Chance of so large a rise of the likelihood if strikes wore nothing.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.p_value()
        }

        /// Maximised log-likelihood, densities per hour.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood()
        }

        /// What a reader must know beside the numbers: pairs of a stable slug and a sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// The answer in one sentence.
        #[getter]
        fn sentence(&self) -> String {
            self.0.sentence()
        }

        /// The life, in hours, of a lamp that is struck so often for each hour.
        ///
        /// Parameters
        /// ----------
        /// rate : float
        ///     Strikes for each hour.
        ///
        /// Returns
        /// -------
        /// Life
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        /// DomainError
        ///     For a rate below 0.
        /// RefusedError
        ///     Where the records do not settle what a strike is worth and the rate is not `mean_rate`.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> rate = [0.1, 0.5] * 10
        /// >>> low = [(950.0 + 10.0 * (i // 2)) / (1.0 + 2.0 * r) for i, r in enumerate(rate)]
        /// >>> clocks = relamp.two_clocks(relamp.lives(low, covariates={"rate": rate}), strikes_per_hour="rate")
        /// >>> round(clocks.life(0.1).b_life(50.0) / clocks.life(0.5).b_life(50.0), 2)
        /// 1.67
        fn life(&self, #[pyo3(from_py_with = args::rate)] rate: f64) -> PyResult<PyLife> {
            Ok(named(self.0.life(rate)?.as_ref())?)
        }
    }
}

/// Fits a life on two clocks: burning wears a lamp, and so does each strike.
///
/// Equivalent hours are hours + k x strikes = h (1 + k r), with r strikes for each hour, constant over the life of a lamp:
/// R(h) = R0(h (1 + k r)), f(h) = f0(h (1 + k r)) (1 + k r), the density per hour. The interval of k is by profile likelihood;
/// k cannot lie below 0. Where every mix from hours alone to strikes alone explains the records about as well, no estimate is
/// given, but the profile is.
///
/// Parameters
/// ----------
/// tally : Tally
///     The records, with covariates.
/// strikes_per_hour : str
///     The covariate that holds r of each lamp: its strikes over its hours so far.
/// family : str
///     As in `fit`: a smooth family of ages above 0.
/// level : float
///     Level of the interval, inside (0, 1).
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
///
/// Returns
/// -------
/// TwoClocks
///
/// Raises
/// ------
/// InputError
///     For a covariate that is not there, holds no numbers or some below 0; for a level out of range.
/// RefusedError
///     For a family with corners or of ages below 0, and as `fit`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> rate = [0.1, 0.5] * 10
/// >>> low = [(950.0 + 10.0 * (i // 2)) / (1.0 + 2.0 * r) for i, r in enumerate(rate)]
/// >>> tally = relamp.lives(low, covariates={"rate": rate})
/// >>> clocks = relamp.two_clocks(tally, strikes_per_hour="rate", level=0.9)
/// >>> clocks.low < 2.0 < clocks.high
/// True
#[pyfunction]
#[pyo3(signature = (tally, *, strikes_per_hour, family="weibull", level=0.95, endings=None))]
pub(super) fn two_clocks(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyTally>)] tally: &Bound<'_, PyTally>,
    #[pyo3(from_py_with = args::strikes_per_hour)] strikes_per_hour: &str,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::level)] level: f64,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyTwoClocks> {
    let (family, options) = (family_of(family)?, options(endings)?);
    let tally = &tally.get().0;
    let fit = work(py, None, |run| core_clocks(family, tally, strikes_per_hour, level, &options, run))?;
    fit.notes().iter().try_for_each(|n| warn(py, "WeakDataWarning", &format!("{} [{}]", n.text, n.slug)))?;
    Ok(PyTwoClocks(fit))
}

/// A table whose columns are all known.
fn opened<'py>(obj: &Bound<'py, PyAny>, input: &str, needed: &[&str], known: &[&str]) -> PyResult<Table<'py>> {
    let table = Table::open(obj, input)?;
    let names = table.names()?;
    let expected = format!("{}, and no others than {}", needed.join(", "), known.join(", "));
    if let Some(other) = names.iter().find(|n| !known.contains(&n.as_str())) {
        return Err(refuse("python.column_unknown", "unknown column", input, other, other, &expected).into());
    }
    if let Some(missing) = needed.iter().find(|n| !names.iter().any(|m| m == **n)) {
        let got = names.join(", ");
        return Err(refuse("python.column_missing", "no such column", input, missing, &got, &expected).into());
    }
    Ok(table)
}

/// Names of lives, each there.
fn names_of(table: &Table<'_>, input: &str) -> PyResult<Vec<String>> {
    let names = table.labels("life")?.unwrap_or_default();
    let missing = |i: usize| {
        let got = format!("none in row {}", i + 1);
        PyErr::from(refuse("python.missing", "missing value", input, "life", &got, "the name of a life"))
    };
    names.into_iter().enumerate().map(|(i, name)| name.ok_or_else(|| missing(i))).collect()
}

fn histories(lives: &Bound<'_, PyAny>, pieces: &Bound<'_, PyAny>, single: Option<&str>) -> PyResult<Histories> {
    let single = match single {
        None => None,
        Some("constant_over_life") => Some(ValueIs::ConstantOverLife),
        // Known words, so that the refusal says why.
        Some("at_fitting") => Some(ValueIs::AtFitting),
        Some("last_reading") => Some(ValueIs::LastReading),
        Some(other) => {
            let expected = "'constant_over_life', or None";
            return Err(refuse("python.single", "not a kind of value", "single", "", other, expected).into());
        }
    };
    let table = opened(lives, "lives", &["life", "low", "high"], &["life", "low", "high", "entry", "ending"])?;
    let low = table.numbers("low")?.map(Numbers::present).transpose()?.unwrap_or_default();
    let high = table.numbers("high")?.map_or_else(|| low.clone(), |c| c.or(f64::INFINITY));
    let entry = table.numbers("entry")?.map(|c| c.or(0.0));
    let ending = table.labels("ending")?.map(|words| endings_of(&words, &high)).transpose()?;
    let life = names_of(&table, "lives")?;
    let columns = ["life", "from_hours", "to_hours", "current"];
    let table = opened(pieces, "pieces", &columns, &columns)?;
    // NaN and none go on, so that the histories name every bad number of every row at once.
    let numbers =
        |column: &str| -> PyResult<Vec<f64>> { Ok(table.numbers(column)?.map_or_else(Vec::new, |c| c.or(f64::NAN))) };
    let (from, to, current) = (numbers("from_hours")?, numbers("to_hours")?, numbers("current")?);
    let of = names_of(&table, "pieces")?;
    let lengths = [of.len(), from.len(), to.len(), current.len()];
    if lengths.iter().any(|n| *n != of.len()) {
        let got = lengths.map(|n| n.to_string()).join(", ");
        return Err(refuse("python.length", "columns of different length", "pieces", "life", &got, "one length").into());
    }
    let pieces = of
        .into_iter()
        .zip(from.into_iter().zip(to))
        .zip(current)
        .map(|((life, (from_hours, to_hours)), current)| CurrentPiece { life, from_hours, to_hours, current })
        .collect();
    Ok(Histories { life, rows: Rows { low, high, entry, ending, ..Rows::default() }, pieces, single })
}

fn history_table(f: &CurrentHistoryFit) -> Result<RecordBatch> {
    let (mean, lowest, highest) = f.currents();
    Frame::default()
        .numbers("power", [f.power()])
        .numbers("standard_error", [f.standard_error()])
        .numbers("mean_current", [mean])
        .numbers("lowest_current", [lowest])
        .numbers("highest_current", [highest])
        .numbers("log_likelihood", [f.log_likelihood()])
        .numbers("p_value", [f.test().p_value])
        .finish()
}

fn history_facts(f: &CurrentHistoryFit) -> Facts {
    let (mean, lowest, highest) = f.currents();
    facts! {
        "power": f.power(), "standard_error": f.standard_error(), "family": f.family_name(), "mean_current": mean,
        "lowest_current": lowest, "highest_current": highest, "lamps": f.facts().lamps,
        "failures": f.facts().failures, "p_value": f.test().p_value, "converged": f.converged(),
        "log_likelihood": f.log_likelihood(),
        "notes": f.notes().iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// A life under recorded currents; made by `fit_current_history`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> current = [75.0, 90.0] * 12
    /// >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
    /// >>> life = [f"lamp {i}" for i in range(24)]
    /// >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
    /// ...           "current": [70.0] * 24 + current}
    /// >>> fit = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces)
    /// >>> round(fit.power, 1), fit.converged
    /// (2.0, True)
    PyCurrentHistoryFit holds CurrentHistoryFit as "CurrentHistoryFit";
    save CurrentHistoryFit::to_json; load CurrentHistoryFit::from_json; table history_table; show history_facts;
    {
        /// Name of the family.
        #[getter]
        fn family(&self) -> &str {
            self.0.family_name()
        }

        /// n: life at a constant current is in proportion to current^-n.
        #[getter]
        fn power(&self) -> f64 {
            self.0.power()
        }

        /// Standard error of n.
        #[getter]
        fn standard_error(&self) -> f64 {
            self.0.standard_error()
        }

        /// Mean, lowest and highest current.
        #[getter]
        fn currents(&self) -> (f64, f64, f64) {
            self.0.currents()
        }

        /// Parameters of the life at the mean current, held all along.
        #[getter]
        fn parameters<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            parameters(py, self.0.parameters())
        }

        /// Maximised log-likelihood, densities per hour.
        #[getter]
        fn log_likelihood(&self) -> f64 {
            self.0.log_likelihood()
        }

        /// Chance of so large a rise of the likelihood if the current did not matter.
        #[getter]
        fn p_value(&self) -> f64 {
            self.0.test().p_value
        }

        /// Whether the search reached the maximum.
        #[getter]
        fn converged(&self) -> bool {
            self.0.converged()
        }

        /// What a reader must know beside the numbers: pairs of a stable slug and a sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(self.0.notes()))
        }

        /// The life of a lamp that burns at one current all along.
        ///
        /// Parameters
        /// ----------
        /// current : float
        ///     Above 0, in the unit of the pieces. One outside those recorded gives a `WeakDataWarning`.
        ///
        /// Returns
        /// -------
        /// Life
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        /// DomainError
        ///     For a current that is not above 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> current = [75.0, 90.0] * 12
        /// >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        /// >>> life = [f"lamp {i}" for i in range(24)]
        /// >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        /// ...           "current": [70.0] * 24 + current}
        /// >>> fit = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces)
        /// >>> ratio = fit.life(70.0).b_life(50.0) / fit.life(90.0).b_life(50.0)
        /// >>> abs(ratio - (90.0 / 70.0) ** fit.power) < 1e-9
        /// True
        fn life(&self, py: Python<'_>, #[pyo3(from_py_with = args::current)] current: f64) -> PyResult<PyLife> {
            let life = self.0.life(current)?;
            if let Some(note) = self.0.extrapolation(current) {
                warn(py, "WeakDataWarning", &format!("{} [{}]", note.text, note.slug))?;
            }
            Ok(named(life.as_ref())?)
        }

        /// Probability to pass the end of a programme of hours at currents, from new.
        ///
        /// Parameters
        /// ----------
        /// programme : list of (float, float)
        ///     Hours, and the current they burn at.
        ///
        /// Returns
        /// -------
        /// float
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what are no pairs of numbers.
        /// DomainError
        ///     For hours below 0 and currents that are not above 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> current = [75.0, 90.0] * 12
        /// >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        /// >>> life = [f"lamp {i}" for i in range(24)]
        /// >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        /// ...           "current": [70.0] * 24 + current}
        /// >>> fit = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces)
        /// >>> fit.reliability([(500.0, 70.0), (300.0, 75.0)]) > fit.reliability([(500.0, 70.0), (300.0, 90.0)])
        /// True
        fn reliability(&self, programme: &Bound<'_, PyAny>) -> PyResult<f64> {
            let at = At { input: "programme", column: "" };
            let wrong = || {
                let expected = "a list of pairs of hours and a current, such as [(500.0, 75.0)]";
                let got = super::intake::kind_of(programme);
                PyErr::from(refuse("python.type", "not a list of pairs", "programme", "", &got, expected))
            };
            let pairs: Vec<(Bound<'_, PyAny>, Bound<'_, PyAny>)> = programme.extract().map_err(|_| wrong())?;
            let one = |(hours, current): &(Bound<'_, PyAny>, Bound<'_, PyAny>)| {
                Ok((args::one_number(hours, at)?, args::one_number(current, at)?))
            };
            let pairs = pairs.iter().map(one).collect::<PyResult<Vec<_>>>()?;
            let passed = self.0.reliability(&pairs)?;
            if let Some(note) = pairs.iter().find_map(|(_, current)| self.0.extrapolation(*current)) {
                warn(programme.py(), "WeakDataWarning", &format!("{} [{}]", note.text, note.slug))?;
            }
            Ok(passed)
        }

        /// Interval of n from the curvature at the maximum.
        ///
        /// Parameters
        /// ----------
        /// level : float
        ///     Inside (0, 1).
        /// sides : {"both", "lower", "upper"}
        ///     Which ends.
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a level or side out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> current = [75.0, 90.0] * 12
        /// >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        /// >>> life = [f"lamp {i}" for i in range(24)]
        /// >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        /// ...           "current": [70.0] * 24 + current}
        /// >>> interval = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces).wald()
        /// >>> interval.low < 2.0 < interval.high
        /// True
        #[pyo3(signature = (*, level=0.95, sides="both"))]
        fn wald(
            &self,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
        ) -> PyResult<PyInterval> {
            Ok(PyInterval(self.0.wald(level, sides_of(sides)?)?))
        }

        /// Interval of n by profile likelihood. An end that the records do not close stays open.
        ///
        /// Parameters
        /// ----------
        /// lives, pieces : tables
        ///     The ones that were fitted.
        /// level : float
        ///     Inside (0, 1).
        /// sides : {"both", "lower", "upper"}
        ///     Which ends.
        /// single : {"constant_over_life"}, optional
        ///     As for the fit.
        /// endings : list of str, optional
        ///     As for the fit.
        ///
        /// Returns
        /// -------
        /// Interval
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For other records than the fitted ones, and a level or side out of range.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> current = [75.0, 90.0] * 12
        /// >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
        /// >>> life = [f"lamp {i}" for i in range(24)]
        /// >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
        /// ...           "current": [70.0] * 24 + current}
        /// >>> lives = {"life": life, "low": low, "high": low}
        /// >>> interval = relamp.fit_current_history(lives, pieces).profile(lives, pieces)
        /// >>> interval.low < 2.0 < interval.high
        /// True
        #[pyo3(signature = (lives, pieces, *, level=0.95, sides="both", single=None, endings=None))]
        fn profile(
            &self,
            py: Python<'_>,
            lives: &Bound<'_, PyAny>,
            pieces: &Bound<'_, PyAny>,
            #[pyo3(from_py_with = args::level)] level: f64,
            #[pyo3(from_py_with = args::sides)] sides: &str,
            #[pyo3(from_py_with = args::single)] single: Option<String>,
            #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
        ) -> PyResult<PyInterval> {
            let (sides, options) = (sides_of(sides)?, options(endings)?);
            let histories = histories(lives, pieces, single.as_deref())?;
            Ok(PyInterval(work(py, None, |run| self.0.profile(&histories, &options, level, sides, run))?))
        }
    }
}

/// Fits a life to lamps whose current was recorded all along: each hour wears as the n-th power of the current it burned at.
///
/// The worn hours of a lamp are u = sum of hours x (current / mean current)^n over its pieces; R(t) = R0(u(t)), and the
/// density per hour carries the factor of the last piece. At a constant current life is in proportion to current^-n: the
/// coefficient that an inverse power law has in `fit_covariates` is -n. A `WeakDataWarning` says where a greater current
/// prolongs life.
/// Cumulative exposure: W. Nelson (1980), IEEE Transactions on Reliability 29, 103-108 (from memory).
///
/// Parameters
/// ----------
/// lives : table
///     Columns `life` (a name), `low` and `high` in hours as in `lives`, and where there are such `entry` and `ending`. A
///     life that was out of sight for a while has a row for each stretch at risk, the later ones with their entry.
/// pieces : table
///     Columns `life`, `from_hours`, `to_hours`, `current`: the current of every stretch of each life from 0 h to its last
///     age without a gap, in any order.
/// family : str
///     As in `fit`: a smooth family of ages above 0.
/// single : {"constant_over_life"}, optional
///     Declares that a life with a single current, in however many pieces, burned at it all along. Without it such a life
///     is refused: a current is raised because a lamp fades, so a last reading follows the age.
/// endings : list of str, optional
///     Endings that count as failure; the others are right-censored. Without it all failures count.
///
/// Returns
/// -------
/// CurrentHistoryFit
///
/// Raises
/// ------
/// InputError
///     For gaps and overlaps, single readings, bad numbers and names, each by table and row.
/// RefusedError
///     For currents that do not differ enough, a family with corners or of ages below 0, and as `fit`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> current = [75.0, 90.0] * 12
/// >>> low = [500.0 + (400.0 + 20.0 * (i // 2)) * (70.0 / c) ** 2 for i, c in enumerate(current)]
/// >>> life = [f"lamp {i}" for i in range(24)]
/// >>> pieces = {"life": life * 2, "from_hours": [0.0] * 24 + [500.0] * 24, "to_hours": [500.0] * 24 + low,
/// ...           "current": [70.0] * 24 + current}
/// >>> fit = relamp.fit_current_history({"life": life, "low": low, "high": low}, pieces, family="lognormal")
/// >>> round(fit.power, 1)
/// 2.0
#[pyfunction]
#[pyo3(signature = (lives, pieces, *, family="weibull", single=None, endings=None))]
pub(super) fn fit_current_history(
    py: Python<'_>,
    lives: &Bound<'_, PyAny>,
    pieces: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::family)] family: &str,
    #[pyo3(from_py_with = args::single)] single: Option<String>,
    #[pyo3(from_py_with = args::endings)] endings: Option<Vec<String>>,
) -> PyResult<PyCurrentHistoryFit> {
    let (family, options) = (family_of(family)?, options(endings)?);
    let histories = histories(lives, pieces, single.as_deref())?;
    let fit = work(py, None, |run| core_history(family, &histories, &options, run))?;
    tell(py, fit.converged(), &word(&fit.stop()), fit.notes())?;
    Ok(PyCurrentHistoryFit(fit))
}
