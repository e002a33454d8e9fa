//! How many lamps will be needed, and how many spares to hold.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::demand::{
    ClassModel, Count, Forecast, Horizon, Period, SocketToday, forecast as one_world, forecast_on_calendar,
    forecast_over_draws, planned_changes as core_planned_changes,
};
use crate::stock::{StockAdvice, level};

use super::arrays::array;
use super::chain::Dates;
use super::error::refuse;
use super::frames::{Frame, Table};
use super::intake::{At, arguments as args, kind_of, numbers};
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const COUNT: Format = Format::new("count", 1);
const FORECAST: Format = Format::new("forecast", 1);
const STOCK: Format = Format::new("stock_advice", 1);

fn count_table(c: &Count) -> Result<RecordBatch> {
    Frame::default()
        .counts("lamps", (c.first()..).take(c.probabilities().len()))
        .numbers("probability", c.probabilities().iter().copied())
        .finish()
}

result_class! {
    /// The distribution of a whole number of lamps; stands in a `Forecast`, or is made by `poisson`.
    ///
    /// Examples
    /// --------
    /// >>> import relamp
    /// >>> count = relamp.Count.poisson(4.0)
    /// >>> count.quantile(0.85)
    /// 6
    PyCount holds Count as "Count";
    save |c| saved::save(COUNT, c); load |t| saved::load(COUNT, t); table count_table;
    show |c| facts! { "mean": c.mean(), "sd": c.sd(), "first": c.first(), "last": c.last() };
    {
        /// A number of lamps that varies with this mean by chance alone.
        ///
        /// Parameters
        /// ----------
        /// mean : float
        ///     Mean number of lamps, at least 0.
        ///
        /// Returns
        /// -------
        /// Count
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number.
        /// DomainError
        ///     For a mean that is negative, infinite or too large to be summed.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> round(relamp.Count.poisson(4.0).sd, 6)
        /// 2.0
        #[classmethod]
        fn poisson(
            _cls: &Bound<'_, pyo3::types::PyType>,
            #[pyo3(from_py_with = args::mean)] mean: f64,
        ) -> PyResult<Self> {
            Ok(Self(Count::poisson(mean)?))
        }

        /// Mean number.
        #[getter]
        fn mean(&self) -> f64 {
            self.0.mean()
        }

        /// Standard deviation.
        #[getter]
        fn sd(&self) -> f64 {
            self.0.sd()
        }

        /// Least number with an entry in `probabilities`.
        #[getter]
        fn first(&self) -> u64 {
            self.0.first()
        }

        /// Probability of each number from `first` on, (n,).
        #[getter]
        fn probabilities<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            array(py, self.0.probabilities())
        }

        /// Least number that is not passed with a probability or more.
        ///
        /// Parameters
        /// ----------
        /// p : float
        ///     Probability, 0 to 1.
        ///
        /// Returns
        /// -------
        /// int
        ///     Lamps.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a number, NaN included.
        /// DomainError
        ///     For a probability outside 0 to 1.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.Count.poisson(4.0)
        /// >>> count.quantile(0.85)
        /// 6
        fn quantile(&self, #[pyo3(from_py_with = args::p)] p: f64) -> PyResult<u64> {
            Ok(self.0.quantile(p)?)
        }

        /// Probability of at most this number.
        ///
        /// Parameters
        /// ----------
        /// number : int
        ///     Lamps, at least 0.
        ///
        /// Returns
        /// -------
        /// float
        ///     Probability, 0 to 1.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.Count.poisson(4.0)
        /// >>> round(count.at_most(6), 4)
        /// 0.8893
        fn at_most(&self, #[pyo3(from_py_with = args::number)] number: u64) -> f64 {
            self.0.at_most(number)
        }

        /// Probability of more than this number.
        ///
        /// Parameters
        /// ----------
        /// number : int
        ///     Lamps, at least 0.
        ///
        /// Returns
        /// -------
        /// float
        ///     Probability, 0 to 1.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> count = relamp.Count.poisson(4.0)
        /// >>> round(count.more_than(6), 4)
        /// 0.1107
        fn more_than(&self, #[pyo3(from_py_with = args::number)] number: u64) -> f64 {
            self.0.more_than(number)
        }
    }
}

fn periods(f: &Forecast) -> Result<RecordBatch> {
    let each = || f.periods.iter();
    let quantile = |p: f64| each().map(move |m| m.needed.quantile(p)).collect::<Result<Vec<u64>>>();
    Frame::default()
        .counts("period", 1..=f.periods.len() as u64)
        .numbers("to_day", (1..=f.periods.len()).map(|i| f.period_days * i as f64))
        .numbers("mean", each().map(|m| m.needed.mean()))
        .counts("p50", quantile(0.5)?)
        .counts("p80", quantile(0.8)?)
        .counts("p95", quantile(0.95)?)
        .numbers("mean_planned", each().map(|m| m.mean_planned))
        .numbers("mean_failures", each().map(|m| m.mean_failures))
        .finish()
}

fn forecast_facts(f: &Forecast) -> Facts {
    facts! {
        "planned_age_hours": f.planned_age_hours, "sockets": f.sockets, "due_now": f.due_now,
        "periods": f.periods.len(), "period_days": f.period_days,
        "mean_needed": f.periods.last().map(|m| m.needed_by_end.mean()), "draws": f.draws.as_ref().map(|d| d.used),
    }
}

result_class! {
    /// Lamps needed for one class, period by period, as whole distributions; made by `forecast`.
    PyForecast holds Forecast as "Forecast";
    save |f| saved::save(FORECAST, f); load |t| saved::load(FORECAST, t); table periods; show forecast_facts;
    {
        fn __len__(&self) -> usize {
            self.0.periods.len()
        }

        /// Age at which lamps are changed, at most the limit.
        #[getter]
        fn planned_age_hours(&self) -> f64 {
            self.0.planned_age_hours
        }

        /// Screens.
        #[getter]
        fn sockets(&self) -> usize {
            self.0.sockets
        }

        /// Of these, lamps at or past the planned age or of unknown age.
        #[getter]
        fn due_now(&self) -> usize {
            self.0.due_now
        }

        /// Length of a period, days.
        #[getter]
        fn period_days(&self) -> f64 {
            self.0.period_days
        }

        /// Draws mixed; None for one world.
        #[getter]
        fn draws(&self) -> Option<usize> {
            self.0.draws.as_ref().map(|d| d.used)
        }

        /// Lamps needed in a period.
        ///
        /// Parameters
        /// ----------
        /// period : int
        ///     From 1, the first, to the number of periods.
        ///
        /// Returns
        /// -------
        /// Count
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a period that was not forecast.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> forecast = relamp.forecast(
        /// ...     world, [100.0, 1900.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit
        /// ... )
        /// >>> round(forecast.needed(1).mean, 2)
        /// 2.0
        fn needed(&self, #[pyo3(from_py_with = args::period)] period: usize) -> PyResult<PyCount> {
            Ok(PyCount(self.period(period)?.needed.clone()))
        }

        /// Lamps needed from today to the end of a period.
        ///
        /// Parameters
        /// ----------
        /// period : int
        ///     From 1, the first, to the number of periods.
        ///
        /// Returns
        /// -------
        /// Count
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a period that was not forecast.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> forecast = relamp.forecast(
        /// ...     world, [100.0, 1900.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit
        /// ... )
        /// >>> round(forecast.needed_by_end(2).mean, 2)
        /// 2.03
        fn needed_by_end(&self, #[pyo3(from_py_with = args::period)] period: usize) -> PyResult<PyCount> {
            Ok(PyCount(self.period(period)?.needed_by_end.clone()))
        }
    }
}

impl PyForecast {
    fn period(&self, period: usize) -> Result<&Period> {
        let found = period.checked_sub(1).and_then(|i| self.0.periods.get(i));
        let expected = format!("1 to {}", self.0.periods.len());
        found.ok_or_else(|| {
            refuse("python.period", "no such period", "forecast", "period", &period.to_string(), &expected)
        })
    }
}

/// Ages and weekly hours of the lamps that burn today. A missing age is not known and counts as due.
pub(super) fn sockets(input: &str, ages: &Bound<'_, PyAny>, hours: &Bound<'_, PyAny>) -> PyResult<Vec<SocketToday>> {
    // NaN stands for missing here; a NaN that was given would pass for an unknown age, so it is refused first.
    let ages = numbers(ages, At { input, column: "age_hours" })?.optional()?;
    let at = At { input, column: "hours_per_week" };
    let hours = if super::arrays::is_number(hours) {
        vec![args::one_number(hours, at)?; ages.len()]
    } else {
        numbers(hours, at)?.all()?
    };
    if hours.len() != ages.len() {
        let got = format!("{} for {}", hours.len(), counted(ages.len() as u64, "age"));
        let what = "columns of different length";
        return Err(refuse("python.length", what, input, "hours_per_week", &got, "one for each age").into());
    }
    Ok(ages
        .into_iter()
        .zip(hours)
        .map(|(age_hours, hours_per_week)| SocketToday { age_hours, hours_per_week })
        .collect())
}

/// Lamps needed in each coming period if lamps are changed at the planned age or at failure.
///
/// Parameters
/// ----------
/// model : World or Draws
///     With draws, screens are independent within a draw and the distributions are mixed over draws.
/// age_hours : array-like
///     Ages of the lamps that burn today, hours; a missing one (None, null) is not known and counts as due.
/// hours_per_week : float or array-like
///     Programme hours of the screens, 0 to 168.
/// planned_age_hours : float
///     Age of the planned change, hours; held to the limit.
/// limit : HourLimit
///     The age that no lamp may pass.
/// periods : int
///     How many, 1 or more.
/// period_days : float
///     Length of each, days, 0 or more; a month by default. With 0 days nothing is needed, not even for
///     lamps that are due today, which are counted apart.
/// as_of : date or str, optional
///     The first day, at whose start the ages are those given; wanted with a programme or a stop.
/// programme : array-like, optional
///     Names, one for each screen; a missing programme stands for the same hours every day.
/// programmes : dict, optional
///     By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
///     and growth_per_year (a share).
/// stop : list, optional
///     For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
///     or a dict of days with chances that sum to 1.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// Forecast
///
/// Raises
/// ------
/// InputError
///     For another model than a world or draws, ages or hours that are not numbers or out of range, `periods` that is
///     no whole number, a stop before the as-of date, an unknown programme, and hours of more than a day.
/// DomainError
///     For a horizon of no period, or of more than 20 years.
/// RefusedError
///     Where one screen would need hundreds of lamps.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> forecast = relamp.forecast(
/// ...     world, [100.0, 1900.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit, periods=3
/// ... )
/// >>> forecast.due_now, len(forecast)
/// (1, 3)
///
/// With a closure and a screen that stops, over a lead time of 21 days: the lamp of 1,900 h is due on day 15, not 10.
///
/// >>> winter = {"winter": {"spans": [("2026-01-01", "2026-01-05", 0.0)]}}
/// >>> def lead(days):
/// ...     return relamp.forecast(
/// ...         world, [1900.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit, periods=1,
/// ...         period_days=days, as_of="2026-01-01", programme=["winter", "winter"], programmes=winter,
/// ...         stop=[None, "2026-01-01"],
/// ...     ).needed(1)
/// >>> lead(14.0).at_most(0) > 0.9, lead(21.0).at_most(0) < 1e-12
/// (True, True)
#[pyfunction]
#[pyo3(signature = (model, age_hours, *, hours_per_week, planned_age_hours, limit, periods=6, period_days=30.4375,
    as_of=None, programme=None, programmes=None, stop=None, progress=None))]
#[allow(clippy::too_many_arguments, reason = "each is an argument of the call")]
pub(super) fn forecast(
    py: Python<'_>,
    model: &Bound<'_, PyAny>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::planned_age_hours)] planned_age_hours: f64,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::periods)] periods: usize,
    #[pyo3(from_py_with = args::period_days)] period_days: f64,
    as_of: Option<&Bound<'_, PyAny>>,
    programme: Option<&Bound<'_, PyAny>>,
    programmes: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::stops)] stop: Option<Vec<Bound<'_, PyAny>>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyForecast> {
    let sockets = sockets("forecast", age_hours, hours_per_week)?;
    let dated = Dates { call: "forecast", as_of, programme, programmes, stop }.of(&sockets)?;
    let (horizon, limit, age) = (Horizon { period_days, periods }, &limit.get().0, planned_age_hours);
    let forecast = if let Ok(draws) = model.cast::<PyDraws>() {
        let draws = draws.get();
        work(py, progress, |run| match &dated {
            Some(dated) => forecast_on_calendar(&dated.given(), ClassModel::Draws(&draws.0), age, limit, horizon, run),
            None => forecast_over_draws(&sockets, &draws.0, age, limit, horizon, run),
        })?
    } else if let Ok(world) = model.cast::<PyWorld>() {
        let world = world.get();
        work(py, progress, |run| match &dated {
            Some(dated) => forecast_on_calendar(&dated.given(), ClassModel::World(&world.0), age, limit, horizon, run),
            None => one_world(&sockets, &world.0, age, limit, horizon),
        })?
    } else {
        let expected = "a World or Draws";
        return Err(refuse("python.model", "not a model", "forecast", "model", &kind_of(model), expected).into());
    };
    Ok(PyForecast(forecast))
}

/// Lamps that changes on plan need, period by period, if no lamp fails: a lower bound of the lamps needed by then.
///
/// By the end of u hours a screen needs floor((a + u) / T) lamps, and 1 + floor(u / T) where its lamp is at or past
/// T or of unknown age; a: age of the lamp that burns today, T: planned age. No model goes in, so the bound holds
/// whatever the life of the lamps is: a failure only brings a change forward.
///
/// Parameters
/// ----------
/// age_hours : array-like
///     Ages of the lamps that burn today, hours; a missing one (None, null) is not known and counts as due.
/// hours_per_week : float or array-like
///     Programme hours of the screens, 0 to 168.
/// planned_age_hours : float
///     Age of the planned change, hours; held to the limit.
/// limit : HourLimit
///     The age that no lamp may pass.
/// periods : int
///     How many, 1 or more.
/// period_days : float
///     Length of each, days, 0 or more; a month by default. With 0 days nothing is needed, not even for
///     lamps that are due today, which are counted apart.
///
/// Returns
/// -------
/// Table
///     One row for each period, with its number, the changes in it if no lamp fails, and those from today to its end,
///     which are the lower bound.
///
/// Raises
/// ------
/// InputError
///     For ages or hours that are not numbers or out of range, and `periods` that is no whole number.
/// DomainError
///     For a horizon of no period, or of more than 20 years.
///
/// Examples
/// --------
/// At 10 h a day the first lamp has 100 h left, the second 400 h, and the third is of unknown age:
///
/// >>> import relamp
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> plan = relamp.planned_changes(
/// ...     [1900.0, 1600.0, None], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit,
/// ...     periods=2, period_days=28.0,
/// ... )
/// >>> plan.frame().rows()
/// [(1, 2, 2), (2, 1, 3)]
#[pyfunction]
#[pyo3(signature = (age_hours, *, hours_per_week, planned_age_hours, limit, periods=6, period_days=30.4375))]
pub(super) fn planned_changes(
    py: Python<'_>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::planned_age_hours)] planned_age_hours: f64,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::periods)] periods: usize,
    #[pyo3(from_py_with = args::period_days)] period_days: f64,
) -> PyResult<Table> {
    let sockets = sockets("planned_changes", age_hours, hours_per_week)?;
    let (horizon, limit, age) = (Horizon { period_days, periods }, &limit.get().0, planned_age_hours);
    let each = work(py, None, |_| core_planned_changes(&sockets, age, limit, horizon))?;
    let frame = Frame::default()
        .counts("period", 1..=each.len() as u64)
        .counts("changes", each.iter().map(|p| p.changes))
        .counts("changes_by_end", each.iter().map(|p| p.changes_by_end))
        .finish()?;
    Ok(Table(frame))
}

fn stock_facts(s: &StockAdvice) -> Facts {
    facts! {
        "level": s.level, "order": s.order, "verdict": word(&s.verdict), "service_target": s.service_target,
        "service_at_level": s.service_at_level, "service_today": s.service_today, "mean_needed": s.mean_needed,
        "on_hand": s.on_hand, "on_order": s.on_order, "sentence": s.sentence,
    }
}

fn stock_table(s: &StockAdvice) -> Result<RecordBatch> {
    Frame::default()
        .texts("stock", ["at_level", "today"])
        .counts("lamps", [s.level, s.on_hand + s.on_order])
        .numbers("service", [s.service_at_level, s.service_today])
        .numbers("shortage_chance", [s.shortage_chance_at_level, s.shortage_chance_today])
        .numbers("expected_short", [s.expected_short_at_level, s.expected_short_today])
        .finish()
}

result_class! {
    /// Spares to hold and to order for one lamp class; made by `stock_level`.
    PyStockAdvice holds StockAdvice as "StockAdvice";
    save |s| saved::save(STOCK, s); load |t| saved::load(STOCK, t); table stock_table; show stock_facts;
    {
        /// What the advice amounts to, one word.
        #[getter]
        fn verdict(&self) -> String {
            word(&self.0.verdict)
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// Least stock that meets the target, lamps.
        #[getter]
        fn level(&self) -> u64 {
            self.0.level
        }

        /// Lamps to order now.
        #[getter]
        fn order(&self) -> u64 {
            self.0.order
        }

        /// Wanted chance of no shortage over the lead time.
        #[getter]
        fn service_target(&self) -> f64 {
            self.0.service_target
        }

        /// Chance of no shortage at the level.
        #[getter]
        fn service_at_level(&self) -> f64 {
            self.0.service_at_level
        }

        /// Chance of no shortage with what is on hand and on order.
        #[getter]
        fn service_today(&self) -> f64 {
            self.0.service_today
        }

        /// Mean lamps needed over the lead time.
        #[getter]
        fn mean_needed(&self) -> f64 {
            self.0.mean_needed
        }
    }
}

/// How many spares to hold so that no shortage comes up over a lead time with the wanted chance.
///
/// Parameters
/// ----------
/// needed : Count
///     Lamps needed over the lead time: `forecast(..., periods=1, period_days=lead_time_days).needed(1)`.
/// service_target : float
///     Wanted chance of no shortage, above 0 and at most 1.
/// on_hand, on_order : int
///     Lamps on the shelf, and ordered to arrive within the lead time.
///
/// Returns
/// -------
/// StockAdvice
///
/// Raises
/// ------
/// InputError
///     For lamps that are no whole numbers of at least 0, and a target that is not a number above 0 and at most 1.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> advice = relamp.stock_level(relamp.Count.poisson(4.0), service_target=0.85, on_hand=3, on_order=1)
/// >>> advice.level, advice.order
/// (6, 2)
#[pyfunction]
#[pyo3(signature = (needed, *, service_target, on_hand=0, on_order=0))]
pub(super) fn stock_level(
    #[pyo3(from_py_with = args::made::<PyCount>)] needed: &Bound<'_, PyCount>,
    #[pyo3(from_py_with = args::service_target)] service_target: f64,
    #[pyo3(from_py_with = args::on_hand)] on_hand: u64,
    #[pyo3(from_py_with = args::on_order)] on_order: u64,
) -> PyResult<PyStockAdvice> {
    Ok(PyStockAdvice(level(&needed.get().0, service_target, on_hand, on_order)?))
}
