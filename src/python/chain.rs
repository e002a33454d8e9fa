//! Lamps needed by a whole chain, and the wave of a change of policy.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use chrono::NaiveDate;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::demand::{
    Calendar, ChainForecast, ClassModel, ClassPlan, DemandIn, OnCalendar, PlaceDemand, PolicyWave, Programme, Screen,
    SharedBy, SharedEffect, SharedOn, SocketToday, SpanOfDays, StopDate, Where, chain_forecast as core_chain_forecast,
    policy_wave as core_policy_wave,
};
use crate::records::{DateOrder, date};

use super::demand::{PyCount, sockets};
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{At, arguments as args, kind_of, labels};
use super::result::result_class;
use super::show::{Facts, facts, number};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const CHAIN: Format = Format::new("chain_forecast", 1);
const WAVE: Format = Format::new("policy_wave", 1);
const CALL: &str = "chain_forecast";

fn place_words(place: &Where) -> (&'static str, &str) {
    match place {
        Where::Chain => ("chain", ""),
        Where::Depot(name) => ("depot", name),
        Where::Site(name) => ("site", name),
    }
}

fn chain_table(f: &ChainForecast) -> Result<RecordBatch> {
    let rows: Vec<(&PlaceDemand, &DemandIn)> =
        f.places.iter().flat_map(|p| p.months.iter().map(move |m| (p, m))).collect();
    let each = || rows.iter();
    let quantile = |p: f64| each().map(move |(_, m)| m.needed.quantile(p)).collect::<Result<Vec<u64>>>();
    let number = |of: fn(&DemandIn) -> f64| rows.iter().map(move |(_, m)| of(m)).collect::<Vec<f64>>();
    Frame::default()
        .texts("lamp_class", each().map(|(p, _)| &p.class))
        .texts("level", each().map(|(p, _)| place_words(&p.place).0))
        .texts("place", each().map(|(p, _)| place_words(&p.place).1))
        .dates("from_day", each().map(|(_, m)| Some(m.from)))
        .dates("to_day", each().map(|(_, m)| Some(m.to)))
        .numbers("hours", number(|m| m.hours))
        .numbers("mean", number(|m| m.needed.mean()))
        .counts("p50", quantile(0.5)?)
        .counts("p80", quantile(0.8)?)
        .counts("p95", quantile(0.95)?)
        .numbers("mean_planned", number(|m| m.planned.mean()))
        .numbers("mean_failures", number(|m| m.failures.mean()))
        .numbers("planned_cost", number(|m| m.planned_cost))
        .numbers("failure_cost", number(|m| m.failure_cost))
        .numbers("process_sd", number(|m| m.process_sd))
        .numbers("parameter_sd", number(|m| m.parameter_sd))
        .finish()
}

fn chain_facts(f: &ChainForecast) -> Facts {
    let classes: Vec<&str> = f.classes.iter().map(|c| c.class.as_str()).collect();
    let chain = || f.places.iter().filter(|p| p.place == Where::Chain);
    let sites = f.places.iter().filter(|p| matches!(p.place, Where::Site(_))).count();
    facts! {
        "as_of": f.calendar.as_of().to_string(), "months": f.calendar.months().len(), "classes": classes.join(", "),
        "sites": sites, "screens": chain().map(|p| p.screens).sum::<usize>(),
        "planned_age_hours": f.classes.iter().map(|c| number(c.planned_age_hours)).collect::<Vec<_>>().join(", "),
        "due_now": chain().map(|p| p.due_now).sum::<usize>(),
        "mean_needed": chain().map(|p| p.whole.needed.mean()).sum::<f64>(),
    }
}

result_class! {
    /// Lamps needed by a chain, by class, site, depot and calendar month, as whole distributions; made by
    /// `chain_forecast`.
    PyChainForecast holds ChainForecast as "ChainForecast";
    save |f| saved::save(CHAIN, f); load |t| saved::load(CHAIN, t); table chain_table; show chain_facts;
    {
        /// Names of the lamp classes in order.
        #[getter]
        fn lamp_classes(&self) -> Fixed<String> {
            self.0.classes.iter().map(|c| c.class.clone()).collect()
        }

        /// Number of calendar months.
        fn __len__(&self) -> usize {
            self.0.calendar.months().len()
        }

        /// Lamps of a class needed in the whole chain, at the sites of a depot, or at one site.
        ///
        /// Parameters
        /// ----------
        /// lamp_class : str
        ///     The lamp class.
        /// depot, site : str, optional
        ///     One of them, or none for the whole chain.
        /// month : int, optional
        ///     From 1, the first, to the number of months; without it all months together.
        /// kind : str
        ///     What is counted: 'needed', 'planned' or 'failures'.
        ///
        /// Returns
        /// -------
        /// Count
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a class, place, month or kind that was not forecast.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> chain = relamp.chain_forecast(
        /// ...     {"X": (world, 2000.0, limit)}, lamp_class=["X", "X"], site=["north", "south"],
        /// ...     age_hours=[100.0, 1900.0], hours_per_week=70.0, as_of="2026-01-01", months=3,
        /// ... )
        /// >>> round(chain.count("X", site="south", month=1).mean, 2)
        /// 1.0
        /// >>> round(chain.count("X").mean, 2)
        /// 1.06
        #[pyo3(signature = (lamp_class, *, depot=None, site=None, month=None, kind="needed"))]
        fn count(
            &self,
            #[pyo3(from_py_with = args::lamp_class)] lamp_class: Option<String>,
            #[pyo3(from_py_with = args::depot)] depot: Option<String>,
            #[pyo3(from_py_with = args::site)] site: Option<String>,
            #[pyo3(from_py_with = args::month)] month: Option<usize>,
            #[pyo3(from_py_with = args::kind)] kind: &str,
        ) -> PyResult<PyCount> {
            let lamp_class = lamp_class.unwrap_or_default();
            let wrong = |column: &str, got: &str, expected: &str| {
                refuse("python.place", "not in the forecast", "count", column, got, expected)
            };
            let place = match (depot, site) {
                (None, None) => Where::Chain,
                (Some(depot), None) => Where::Depot(depot),
                (None, Some(site)) => Where::Site(site),
                (Some(_), Some(site)) => return Err(wrong("site", &site, "a depot or a site, not both").into()),
            };
            let Some(found) = self.0.at(&lamp_class, &place) else {
                let got = format!("{lamp_class}, {} {}", place_words(&place).0, place_words(&place).1);
                return Err(wrong("lamp_class", &got, "a class and a place of the forecast").into());
            };
            let months = found.months.len();
            let period = match month {
                None => &found.whole,
                Some(m) => m.checked_sub(1).and_then(|i| found.months.get(i)).ok_or_else(|| {
                    wrong("month", &m.to_string(), &format!("1 to {months}"))
                })?,
            };
            Ok(PyCount(match kind {
                "needed" => period.needed.clone(),
                "planned" => period.planned.clone(),
                "failures" => period.failures.clone(),
                _ => return Err(wrong("kind", kind, "'needed', 'planned' or 'failures'").into()),
            }))
        }
    }
}

fn wave_table(w: &PolicyWave) -> Result<RecordBatch> {
    let each = || w.months.iter();
    Frame::default()
        .dates("from_day", each().map(|m| Some(m.from)))
        .dates("to_day", each().map(|m| Some(m.to)))
        .numbers("before", each().map(|m| m.before))
        .numbers("after", each().map(|m| m.after))
        .numbers("for_good", each().map(|m| m.for_good))
        .numbers("one_off", each().map(|m| m.one_off))
        .numbers("extra_cost", each().map(|m| m.extra_cost))
        .finish()
}

fn wave_facts(w: &PolicyWave) -> Facts {
    facts! {
        "lamp_class": w.class.as_str(), "old_age_hours": w.old_age_hours, "new_age_hours": w.new_age_hours,
        "due_at_once": w.due_at_once as f64, "passed": w.passed.map(|d| d.to_string()),
        "echo": w.echo.map(|d| d.to_string()),
    }
}

result_class! {
    /// The one-off wave of lamps of one class when the planned age changes; made by `policy_wave`.
    PyPolicyWave holds PolicyWave as "PolicyWave";
    save |w| saved::save(WAVE, w); load |t| saved::load(WAVE, t); table wave_table; show wave_facts;
    {
        /// The lamp class.
        #[getter]
        fn lamp_class(&self) -> &str {
            &self.0.class
        }

        /// Planned age before, hours.
        #[getter]
        fn old_age_hours(&self) -> f64 {
            self.0.old_age_hours
        }

        /// Planned age after, hours.
        #[getter]
        fn new_age_hours(&self) -> f64 {
            self.0.new_age_hours
        }

        /// Lamps that become due at once; below 0, that are no longer due.
        #[getter]
        fn due_at_once(&self) -> i64 {
            self.0.due_at_once
        }

        /// Last day of the month in which the wave has passed, as text; None where the horizon ends before.
        #[getter]
        fn passed(&self) -> Option<String> {
            self.0.passed.map(|d| d.to_string())
        }

        /// First day of the month in which lamps changed together come due again, as text; None where none shows.
        #[getter]
        fn echo(&self) -> Option<String> {
            self.0.echo.map(|d| d.to_string())
        }
    }
}

/// A day from a date or from text such as '2026-03-17'.
pub(super) fn day(call: &'static str, obj: &Bound<'_, PyAny>, column: &str) -> PyResult<NaiveDate> {
    let wrong = |got: &str| {
        let expected = "a date, or text such as '2026-03-17'";
        refuse("python.type", "not a date", call, column, got, expected)
    };
    let text: String = match obj.cast::<PyString>() {
        Ok(text) => text.to_str()?.to_owned(),
        Err(_) if obj.hasattr("isoformat")? => obj.call_method0("isoformat")?.extract()?,
        Err(_) => return Err(wrong(&kind_of(obj)).into()),
    };
    date(&text, Some(DateOrder::Iso)).map_err(|_| wrong(&text).into())
}

/// When each screen stops; none for all where no list is given.
pub(super) fn stops_given(
    call: &'static str,
    stop: Option<Vec<Bound<'_, PyAny>>>,
    rows: usize,
) -> PyResult<Vec<Option<StopDate>>> {
    let stops = stop.unwrap_or_default();
    if stops.is_empty() {
        return Ok(vec![None; rows]);
    }
    if stops.len() != rows {
        let got = format!("{} for {}", stops.len(), counted(rows as u64, "age"));
        let what = "columns of different length";
        return Err(refuse("python.length", what, call, "stop", &got, "one for each age").into());
    }
    stops.iter().enumerate().map(|(row, s)| stop_given(call, s, row + 1)).collect()
}

fn stop_given(call: &'static str, obj: &Bound<'_, PyAny>, row: usize) -> PyResult<Option<StopDate>> {
    let column = format!("stop, row {row}");
    if obj.is_none() {
        return Ok(None);
    }
    if let Ok(dict) = obj.cast::<PyDict>() {
        let days = dict
            .iter()
            .map(|(d, p)| Ok((day(call, &d, &column)?, args::one_number(&p, At { input: call, column: "stop" })?)));
        return Ok(Some(StopDate::Weighted(days.collect::<PyResult<_>>()?)));
    }
    if !obj.is_instance_of::<PyString>()
        && let Ok((from, to)) = obj.extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>()
    {
        return Ok(Some(StopDate::Between { from: day(call, &from, &column)?, to: day(call, &to, &column)? }));
    }
    Ok(Some(StopDate::On(day(call, obj, &column)?)))
}

fn programme(call: &'static str, obj: &Bound<'_, PyAny>, name: &str) -> PyResult<Programme> {
    let column = format!("programmes[{name}]");
    let wrong = |got: &str| {
        let expected = "a dict with by_month (12 numbers), spans (first day, last day, factor), growth_per_year";
        refuse("python.type", "not a programme", call, &column, got, expected)
    };
    let dict = obj.cast::<PyDict>().map_err(|_| wrong(&kind_of(obj)))?;
    let mut made = Programme::default();
    for (key, value) in dict.iter() {
        let key: String = key.extract().map_err(|_| wrong("a key that is no text"))?;
        match key.as_str() {
            "by_month" => made.by_month = value.extract().map_err(|_| wrong("other months"))?,
            "growth_per_year" => made.growth_per_year = args::one_number(&value, At { input: call, column: "growth" })?,
            "spans" => {
                let spans: Vec<(Bound<'_, PyAny>, Bound<'_, PyAny>, f64)> =
                    value.extract().map_err(|_| wrong("other spans"))?;
                let span = |(from, to, factor): &(Bound<'_, PyAny>, Bound<'_, PyAny>, f64)| {
                    Ok(SpanOfDays { from: day(call, from, &column)?, to: day(call, to, &column)?, factor: *factor })
                };
                made.spans = spans.iter().map(span).collect::<PyResult<_>>()?;
            }
            other => return Err(wrong(other).into()),
        }
    }
    Ok(made)
}

fn shared(by: Option<&str>, on: &str, spread: f64) -> PyResult<Option<SharedEffect>> {
    let Some(by) = by else {
        if spread > 0.0 {
            return Err(together("shared_spread", spread.to_string(), "with shared_by, who shares it").into());
        }
        return Ok(None);
    };
    let wrong =
        |column: &str, got: &str, expected: &str| refuse("python.shared", "no such word", CALL, column, got, expected);
    let by = match by {
        "site" => SharedBy::Site,
        "chain" => SharedBy::Chain,
        "batch" => SharedBy::Batch,
        _ => return Err(wrong("shared_by", by, "'site', 'chain', 'batch' or None").into()),
    };
    let on = match on {
        "hazard" => SharedOn::Hazard,
        "hours" => SharedOn::Hours,
        _ => return Err(wrong("shared_on", on, "'hazard' or 'hours'").into()),
    };
    if spread == 0.0 {
        return Err(together("shared_by", format!("{by:?}").to_lowercase(), "with a shared_spread above 0").into());
    }
    Ok(Some(SharedEffect { by, on, spread }))
}

/// Refuses arguments of which one means nothing without the other.
fn together(column: &str, got: String, expected: &str) -> crate::Error {
    apart(CALL, column, &got, expected)
}

/// The same for a call.
pub(super) fn apart(call: &str, column: &str, got: &str, expected: &str) -> crate::Error {
    refuse("python.together", "these arguments do not go together", call, column, got, expected)
}

/// A plan as it was given: draws or a world.
struct Given {
    class: String,
    draws: Option<Py<PyDraws>>,
    world: Option<Py<PyWorld>>,
    age: f64,
    limit: Py<PyHourLimit>,
}

impl Given {
    fn plan(&self) -> Option<ClassPlan<'_>> {
        let model = match (&self.draws, &self.world) {
            (Some(draws), _) => ClassModel::Draws(&draws.get().0),
            (None, Some(world)) => ClassModel::World(&world.get().0),
            (None, None) => return None,
        };
        let limit = &self.limit.get().0;
        Some(ClassPlan { class: &self.class, model, planned_age_hours: self.age, limit })
    }
}

/// A column of names, one for each screen, or none.
fn names(
    call: &'static str,
    obj: Option<&Bound<'_, PyAny>>,
    column: &'static str,
    rows: usize,
) -> PyResult<Vec<Option<String>>> {
    let Some(obj) = obj else { return Ok(vec![None; rows]) };
    let names = labels(obj, At { input: call, column })?;
    if names.len() == rows {
        return Ok(names);
    }
    let got = format!("{} for {}", names.len(), counted(rows as u64, "age"));
    Err(refuse("python.length", "columns of different length", call, column, &got, "one for each age").into())
}

/// The screens of a chain, column by column.
pub(super) struct Columns<'a, 'py> {
    pub(super) call: &'static str,
    /// None where all are of one class without a name.
    pub(super) lamp_class: Option<&'a Bound<'py, PyAny>>,
    pub(super) site: &'a Bound<'py, PyAny>,
    pub(super) age_hours: &'a Bound<'py, PyAny>,
    pub(super) hours_per_week: &'a Bound<'py, PyAny>,
    pub(super) depot: Option<&'a Bound<'py, PyAny>>,
    pub(super) programme: Option<&'a Bound<'py, PyAny>>,
    pub(super) batch: Option<&'a Bound<'py, PyAny>>,
}

impl Columns<'_, '_> {
    pub(super) fn screens(&self, stop: Option<Vec<Bound<'_, PyAny>>>) -> PyResult<Vec<Screen>> {
        let call = self.call;
        let lamps = sockets(call, self.age_hours, self.hours_per_week)?;
        let rows = lamps.len();
        let classes = names(call, self.lamp_class, "lamp_class", rows)?;
        let sites = names(call, Some(self.site), "site", rows)?;
        let depots = names(call, self.depot, "depot", rows)?;
        let by_name = names(call, self.programme, "programme", rows)?;
        let batches = names(call, self.batch, "batch", rows)?;
        let stops = stops_given(call, stop, rows)?;
        let mut screens = Vec::with_capacity(rows);
        let names = classes.into_iter().zip(sites).zip(depots).zip(by_name).zip(batches);
        for ((lamp, ((((class, site), depot), programme), batch)), stop) in lamps.into_iter().zip(names).zip(stops) {
            screens.push(Screen {
                class: class.unwrap_or_default(),
                site: site.unwrap_or_default(),
                depot: depot.unwrap_or_default(),
                age_hours: lamp.age_hours,
                batch,
                hours_per_week: lamp.hours_per_week,
                programme,
                spans: Vec::new(),
                stop,
            });
        }
        Ok(screens)
    }
}

/// What puts screens of one class on the calendar, as given to a call that counts days from today.
pub(super) struct Dates<'a, 'py> {
    pub(super) call: &'static str,
    pub(super) as_of: Option<&'a Bound<'py, PyAny>>,
    pub(super) programme: Option<&'a Bound<'py, PyAny>>,
    pub(super) programmes: Option<&'a Bound<'py, PyAny>>,
    pub(super) stop: Option<Vec<Bound<'py, PyAny>>>,
}

/// Screens of one class with their programmes, and the day of the forecast.
pub(super) struct Dated {
    screens: Vec<Screen>,
    programmes: BTreeMap<String, Programme>,
    as_of: NaiveDate,
}

impl Dated {
    pub(super) fn given(&self) -> OnCalendar<'_> {
        OnCalendar { screens: &self.screens, programmes: &self.programmes, as_of: self.as_of }
    }
}

impl Dates<'_, '_> {
    /// The lamps on the calendar; none where hours are the same every day and no screen stops.
    pub(super) fn of(self, lamps: &[SocketToday]) -> PyResult<Option<Dated>> {
        let call = self.call;
        let shapes = programmes_given(call, self.programmes)?;
        if self.programme.is_none() && !shapes.is_empty() {
            let names = shapes.keys().cloned().collect::<Vec<_>>().join(", ");
            return Err(apart(call, "programmes", &names, "with programme, the name of one for each screen").into());
        }
        if self.programme.is_none() && self.stop.is_none() {
            // A day alone changes nothing, but one that is none is told.
            self.as_of.map(|d| day(call, d, "as_of")).transpose()?;
            return Ok(None);
        }
        let Some(as_of) = self.as_of else {
            let expected = "the day of today's ages, where a programme or a stop is given";
            return Err(apart(call, "as_of", "none", expected).into());
        };
        let as_of = day(call, as_of, "as_of")?;
        let by_name = names(call, self.programme, "programme", lamps.len())?;
        let stops = stops_given(call, self.stop, lamps.len())?;
        let screen = |(lamp, (programme, stop)): (&SocketToday, (Option<String>, Option<StopDate>))| Screen {
            programme,
            stop,
            ..Screen::new("", "", lamp.age_hours, lamp.hours_per_week)
        };
        let screens = lamps.iter().zip(by_name.into_iter().zip(stops)).map(screen).collect();
        Ok(Some(Dated { screens, programmes: shapes, as_of }))
    }
}

/// Programmes by name.
pub(super) fn programmes_given(
    call: &'static str,
    programmes: Option<&Bound<'_, PyAny>>,
) -> PyResult<BTreeMap<String, Programme>> {
    let mut shapes = BTreeMap::new();
    if let Some(obj) = programmes {
        let expected = "a dict of programmes by name";
        let wrong = || refuse("python.type", "not a dict", call, "programmes", &kind_of(obj), expected);
        for (name, value) in obj.cast::<PyDict>().map_err(|_| wrong())?.iter() {
            let name: String = name.extract()?;
            let made = programme(call, &value, &name)?;
            shapes.insert(name, made);
        }
    }
    Ok(shapes)
}

/// Lamps needed by a chain, by class, site, depot and calendar month, as whole distributions.
///
/// The clock of a screen runs by its programme hours: weekly hours / 7 x factor of the month x factors of spans x
/// (1 + growth)^(years from the as-of date). Within a draw screens are independent and their numbers are convolved;
/// over draws the distributions are mixed. process_sd is the root of the mean variance within a draw, parameter_sd
/// the spread over draws of the mean. First changes are exact; means of a month meet the renewal equation to 1e-5 of
/// themselves and the variance of the whole to about 1e-4, as measured for Weibull shapes of 0.5 to 6 over two years.
///
/// Parameters
/// ----------
/// plans : dict
///     For each lamp class a World or Draws, the age of the planned change in hours, and the HourLimit that holds it.
/// lamp_class, site : array-like
///     Names, one for each screen.
/// age_hours : array-like
///     Ages of the lamps at the start of the as-of date, hours; a missing one (None, null) is not known and counts as
///     due.
/// hours_per_week : float or array-like
///     Programme hours of an ordinary week, 0 to 168.
/// as_of : date or str
///     The first day.
/// months : int
///     Calendar months ahead, 1 to 240; the first runs from the as-of date to its end.
/// depot, programme : array-like, optional
///     Names, one for each screen; a missing programme stands for the same hours every day.
/// programmes : dict, optional
///     By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
///     and growth_per_year (a share).
/// stop : list, optional
///     For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
///     or a dict of days with chances that sum to 1.
/// batch : array-like, optional
///     With shared_by='batch': batch of the lamp that burns on each screen today; a missing one is not known, and stands
///     for a batch of its own.
/// shared_by : str, optional
///     'site', 'chain' or 'batch': who shares a circumstance that the model does not know. With 'batch' those are the
///     lamps of today; lamps fitted later are of batches that nobody knows yet, and have the life of the model.
/// shared_on : str
///     'hazard' or 'hours': what it multiplies; the hazard for a batch.
/// shared_spread : float
///     Standard deviation of the logarithm of its factor, 0 to 1. Its median is 1 and its mean exp(spread^2 / 2), so
///     that the mean number of lamps rises a little with the spread. The factor is that of the hours ahead, as far as
///     nobody knows it today: ages reached and failures seen until now do not move it.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// ChainForecast
///
/// Raises
/// ------
/// InputError
///     For every wrong row at once: a class without a plan, a stop before the as-of date, hours of more than a day.
/// DomainError
///     For another number of months than 1 to 240.
/// RefusedError
///     Where one screen would need too many lamps, or no draw gave an answer.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> chain = relamp.chain_forecast(
/// ...     {"X": (world, 2000.0, limit)}, lamp_class=["X", "X"], site=["north", "south"],
/// ...     age_hours=[100.0, 1900.0], hours_per_week=70.0, as_of="2026-01-01", months=3,
/// ...     stop=[None, "2026-01-05"],
/// ... )
/// >>> len(chain), round(chain.count("X", site="south").mean, 3)
/// (3, 0.016)
#[pyfunction]
#[pyo3(signature = (plans, *, lamp_class, site, age_hours, hours_per_week, as_of, months=12, depot=None, programme=None,
    programmes=None, stop=None, batch=None, shared_by=None, shared_on="hazard", shared_spread=0.0, progress=None))]
pub(super) fn chain_forecast(
    py: Python<'_>,
    plans: &Bound<'_, PyAny>,
    lamp_class: &Bound<'_, PyAny>,
    site: &Bound<'_, PyAny>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    as_of: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::months)] months: usize,
    depot: Option<&Bound<'_, PyAny>>,
    programme: Option<&Bound<'_, PyAny>>,
    programmes: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::stops)] stop: Option<Vec<Bound<'_, PyAny>>>,
    batch: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::shared_by)] shared_by: Option<String>,
    #[pyo3(from_py_with = args::shared_on)] shared_on: &str,
    #[pyo3(from_py_with = args::shared_spread)] shared_spread: f64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyChainForecast> {
    let shared = shared(shared_by.as_deref(), shared_on, shared_spread)?;
    let by_batch = shared.is_some_and(|s| s.by == SharedBy::Batch);
    if batch.is_some() && !by_batch {
        return Err(together("batch", "batches".into(), "with shared_by='batch' and a shared_spread").into());
    }
    if batch.is_none() && by_batch {
        return Err(together("shared_by", "batch".into(), "with batch, the batch of each screen's lamp").into());
    }
    let lamp_class = Some(lamp_class);
    let given = Columns { call: CALL, lamp_class, site, age_hours, hours_per_week, depot, programme, batch };
    let screens = given.screens(stop)?;
    let shapes = programmes_given(CALL, programmes)?;
    if programme.is_none() && !shapes.is_empty() {
        let names = shapes.keys().cloned().collect::<Vec<_>>().join(", ");
        return Err(together("programmes", names, "with programme, the name of one for each screen").into());
    }
    let given = |obj: &Bound<'_, PyAny>, column: &str, expected: &str| {
        refuse("python.type", "not a dict", CALL, column, &kind_of(obj), expected)
    };
    let expected = "a dict of (World or Draws, planned age in hours, HourLimit) by class";
    let dict = plans.cast::<PyDict>().map_err(|_| given(plans, "plans", expected))?;
    let mut read = Vec::new();
    for (class, plan) in dict.iter() {
        let wrong = || given(&plan, "plans", expected);
        let class: String = class.extract().map_err(|_| wrong())?;
        let (model, age, limit): (Bound<'_, PyAny>, Bound<'_, PyAny>, Bound<'_, PyAny>) =
            plan.extract().map_err(|_| wrong())?;
        let age = args::planned_age_hours(&age)?;
        let limit = args::made::<PyHourLimit>(&limit)?.clone().unbind();
        let draws = model.cast::<PyDraws>().ok().map(|d| d.clone().unbind());
        let world = model.cast::<PyWorld>().ok().map(|w| w.clone().unbind());
        if draws.is_none() && world.is_none() {
            return Err(
                refuse("python.model", "not a model", CALL, "plans", &kind_of(&model), "a World or Draws").into()
            );
        }
        read.push(Given { class, draws, world, age, limit });
    }
    let plans: Vec<ClassPlan<'_>> = read.iter().filter_map(Given::plan).collect();
    let calendar = Calendar::new(day(CALL, as_of, "as_of")?, months)?;
    let forecast = work(py, progress, |run| core_chain_forecast(&screens, &plans, &calendar, &shapes, shared, run))?;
    Ok(PyChainForecast(forecast))
}

/// The one-off wave of lamps when the planned age changes: two forecasts of the same screens, class by class.
///
/// One-off lamps of a month = after - before - hours of the month x (1 / M(new age) - 1 / M(old age)); M(T): mean hours
/// from one change to the next. A lower age brings lamps forward at once and needs more for good; only the first is a
/// wave.
///
/// Parameters
/// ----------
/// old, new : ChainForecast
///     The same screens and months under the old and under the new planned ages.
///
/// Returns
/// -------
/// list of PolicyWave
///     One for each lamp class.
///
/// Raises
/// ------
/// InputError
///     For forecasts of other classes, months or screens.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> lamps = {"lamp_class": ["X"] * 20, "site": ["north"] * 20, "age_hours": [100.0 * i for i in range(20)]}
/// >>> old, new = (
/// ...     relamp.chain_forecast(
/// ...         {"X": (world, age, limit)}, **lamps, hours_per_week=70.0, as_of="2026-01-01", months=6
/// ...     )
/// ...     for age in (2000.0, 1500.0)
/// ... )
/// >>> wave = relamp.policy_wave(old, new)[0]
/// >>> wave.due_at_once, wave.passed
/// (5, '2026-02-28')
#[pyfunction]
pub(super) fn policy_wave(
    #[pyo3(from_py_with = args::made::<PyChainForecast>)] old: &Bound<'_, PyChainForecast>,
    #[pyo3(from_py_with = args::made::<PyChainForecast>)] new: &Bound<'_, PyChainForecast>,
) -> PyResult<Vec<PyPolicyWave>> {
    Ok(core_policy_wave(&old.get().0, &new.get().0)?.into_iter().map(PyPolicyWave).collect())
}
