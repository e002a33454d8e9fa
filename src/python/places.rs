//! Spares at a depot and its sites, and money shared over lamp classes.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::{IntoPyDict, PyDict};

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::stock::{
    ClassCurve, Goal, Measure, Places, PlacesMethod, PlacesService, Pooling, Site, StockMix, best_mix as core_mix,
    buy_steps as core_steps, class_curve as core_curve, one_place_curve as core_one_place,
    place_service as core_service, pooling as core_pooling,
};

use super::demand::PyCount;
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::{Frame, Table};
use super::intake::{At, arguments as args, kind_of, numbers};
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const PLACES: Format = Format::new("places", 1);
const SERVICE: Format = Format::new("places_service", 1);
const POOLING: Format = Format::new("pooling", 1);
const CURVE: Format = Format::new("class_curve", 1);
const MIX: Format = Format::new("stock_mix", 1);

fn places_table(p: &Places) -> Result<RecordBatch> {
    let each = |of: fn(&Site) -> f64| p.sites.iter().map(of);
    Frame::default()
        .texts("site", p.sites.iter().map(|s| &s.name))
        .numbers("needed_per_day", each(|s| s.needed_per_day))
        .numbers("variance_to_mean", each(|s| s.variance_to_mean))
        .numbers_or_null("depot_days", p.sites.iter().map(|s| s.depot_days))
        .numbers("local_share", each(|s| s.local_share))
        .numbers_or_null("local_days", p.sites.iter().map(|s| s.local_days))
        .numbers("hours_per_day", each(|s| s.hours_per_day))
        .finish()
}

fn places_facts(p: &Places) -> Facts {
    facts! {
        "sites": p.sites.len(), "maker_days": p.maker_days,
        "needed_per_day": p.sites.iter().map(|s| s.needed_per_day).sum::<f64>(),
    }
}

result_class! {
    /// Sites that are filled from one depot; made by `places`.
    ///
    /// Its table holds a row for each site.
    PyPlaces holds Places as "Places";
    save |p| saved::save(PLACES, p); load |t| saved::load(PLACES, t); table places_table; show places_facts;
    {
        fn __len__(&self) -> usize {
            self.0.sites.len()
        }

        /// Names of the sites, in order.
        #[getter]
        fn sites(&self) -> Fixed<String> {
            self.0.sites.iter().map(|s| s.name.clone()).collect()
        }

        /// Mean days from the maker to the depot.
        #[getter]
        fn maker_days(&self) -> Option<f64> {
            self.0.maker_days
        }
    }
}

/// A column of numbers, or one number for every row.
fn column(obj: &Bound<'_, PyAny>, name: &'static str, rows: usize) -> PyResult<Vec<f64>> {
    Ok(column_or_none(Some(obj), name, rows)?.into_iter().map(|x| x.unwrap_or(f64::NAN)).collect())
}

/// The same where numbers may be missing.
fn column_or_none(obj: Option<&Bound<'_, PyAny>>, name: &'static str, rows: usize) -> PyResult<Vec<Option<f64>>> {
    let at = At { input: "places", column: name };
    let Some(obj) = obj.filter(|o| !o.is_none()) else { return Ok(vec![None; rows]) };
    if super::arrays::is_number(obj) {
        return Ok(vec![Some(args::one_number(obj, at)?); rows]);
    }
    let values = numbers(obj, at)?.optional()?;
    if values.len() != rows {
        let got = format!("{} for {}", values.len(), counted(rows as u64, "site"));
        let what = "columns of different length";
        return Err(refuse("python.length", what, "places", name, &got, "one for each site").into());
    }
    Ok(values)
}

/// Sites that hold spares and are filled from one depot.
///
/// Each lamp taken is ordered anew at once, one by one; first come is first filled.
///
/// Parameters
/// ----------
/// sites : list of str
///     Names of the sites, each once.
/// needed_per_day : array-like
///     Mean lamps needed a day at each site, at least 0.
/// maker_days : float, optional
///     Mean days from the maker to the depot; needed unless every site buys nearby only.
/// depot_days : float or array-like, optional
///     Days from the depot to each site; needed unless it buys nearby only.
/// hours_per_day : float or array-like
///     Programme hours a day of one screen, which are dark while it waits, 0 to 24.
/// variance_to_mean : float or array-like
///     Variance of the lamps needed in a time over their mean, at least 0; 1 where needs come by chance.
/// local_share : float or array-like
///     Share of needs filled from a dealer nearby, 0 to 1.
/// local_days : float or array-like, optional
///     Days from that dealer.
///
/// Returns
/// -------
/// Places
///
/// Raises
/// ------
/// InputError
///     For a name that is blank or stands twice, numbers out of range, and a lead time that is needed and missing.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> places = relamp.places(["north", "south"], [0.05, 0.08], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
/// >>> places.sites
/// ('north', 'south')
#[pyfunction]
#[pyo3(signature = (sites, needed_per_day, *, maker_days=None, depot_days=None, hours_per_day, variance_to_mean=None,
    local_share=None, local_days=None))]
pub(super) fn places(
    #[pyo3(from_py_with = args::site_names)] sites: Vec<String>,
    needed_per_day: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::maker_days)] maker_days: Option<f64>,
    depot_days: Option<&Bound<'_, PyAny>>,
    hours_per_day: &Bound<'_, PyAny>,
    variance_to_mean: Option<&Bound<'_, PyAny>>,
    local_share: Option<&Bound<'_, PyAny>>,
    local_days: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPlaces> {
    let rows = sites.len();
    let needed = column(needed_per_day, "needed_per_day", rows)?;
    let hours = column(hours_per_day, "hours_per_day", rows)?;
    let ratio = column_or_none(variance_to_mean, "variance_to_mean", rows)?;
    let share = column_or_none(local_share, "local_share", rows)?;
    let depot = column_or_none(depot_days, "depot_days", rows)?;
    let local = column_or_none(local_days, "local_days", rows)?;
    let each = sites.into_iter().zip(needed).zip(hours).zip(ratio).zip(share).zip(depot).zip(local);
    let sites = each
        .map(|((((((name, needed_per_day), hours_per_day), ratio), share), depot_days), local_days)| Site {
            name,
            needed_per_day,
            variance_to_mean: ratio.unwrap_or(1.0),
            depot_days,
            local_share: share.unwrap_or(0.0),
            local_days,
            hours_per_day,
        })
        .collect();
    let places = Places { maker_days, sites };
    places.check()?;
    Ok(PyPlaces(places))
}

fn service_table(p: &PlacesService) -> Result<RecordBatch> {
    let each = || p.sites.iter();
    Frame::default()
        .texts("site", each().map(|s| &s.name))
        .counts("stock", each().map(|s| s.stock))
        .numbers("mean_on_way", each().map(|s| s.mean_on_way))
        .numbers("variance_on_way", each().map(|s| s.variance_on_way))
        .numbers("screens_waiting", each().map(|s| s.screens_waiting))
        .numbers("fill_rate", each().map(|s| s.fill_rate))
        .numbers("no_screen_waiting", each().map(|s| s.no_screen_waiting))
        .numbers("dark_hours_per_year", each().map(|s| s.dark_hours_per_year))
        .finish()
}

fn service_facts(p: &PlacesService) -> Facts {
    facts! {
        "lamps": p.lamps, "depot_stock": p.depot_stock, "fill_rate": p.fill_rate,
        "screens_waiting": p.screens_waiting, "dark_hours_per_year": p.dark_hours_per_year,
        "depot_wait_days": p.depot_wait_days, "sites": p.sites.len(), "method": word(&p.method), "notes": p.notes,
        "definitions": p.definitions().iter().map(|(name, text)| format!("{name}: {text}")).collect::<Vec<_>>(),
    }
}

result_class! {
    /// What stock at a depot and its sites leads to in the long run; made by `place_service`.
    ///
    /// Its table holds a row for each site: fill_rate is P(on way <= stock - 1), no_screen_waiting P(on way <= stock) and
    /// screens_waiting E(on way - stock)+; `definitions` says so of each number, which also stands in the summary.
    PyPlacesService holds PlacesService as "PlacesService";
    save |p| saved::save(SERVICE, p); load |t| saved::load(SERVICE, t); table service_table; show service_facts;
    {
        /// What each number of service is, by name, as the same words mean other things elsewhere.
        #[getter]
        fn definitions<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            self.0.definitions().into_py_dict(py)
        }

        /// All lamps held, depot and sites.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.lamps
        }

        /// Share of all needs filled at once from the site's own shelf.
        #[getter]
        fn fill_rate(&self) -> f64 {
            self.0.fill_rate
        }

        /// Mean screens that wait for a lamp, all sites.
        #[getter]
        fn screens_waiting(&self) -> f64 {
            self.0.screens_waiting
        }

        /// Mean programme hours a year that are dark for want of a lamp, all sites.
        #[getter]
        fn dark_hours_per_year(&self) -> f64 {
            self.0.dark_hours_per_year
        }

        /// Mean days that a site's order waits at the depot.
        #[getter]
        fn depot_wait_days(&self) -> f64 {
            self.0.depot_wait_days
        }

        /// How the lamps on their way were counted: exact, means or two_moments.
        #[getter]
        fn method(&self) -> String {
            word(&self.0.method)
        }

        /// What may mislead.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }
    }
}

/// A way to count lamps on their way, or none.
fn method_of(method: Option<&str>) -> PyResult<Option<PlacesMethod>> {
    match method {
        None => Ok(None),
        Some("exact") => Ok(Some(PlacesMethod::Exact)),
        Some("means") => Ok(Some(PlacesMethod::Means)),
        Some("two_moments") => Ok(Some(PlacesMethod::TwoMoments)),
        Some(other) => {
            let expected = "exact, means or two_moments, or None";
            Err(refuse("python.method", "not a way to count lamps on their way", "method", "", other, expected).into())
        }
    }
}

/// What stock at a depot and its sites leads to in the long run.
///
/// Lamps on their way to the depot are Poisson; what the depot is short of falls to the sites by their shares and adds
/// to what is on its own way to each. Waiting screens = E(on way - stock)+, fill rate = P(on way <= stock - 1), no
/// screen waiting = P(on way <= stock), dark hours a year = waiting screens x programme hours a day x 365.25.
///
/// Parameters
/// ----------
/// places : Places
///     The sites and their lead times.
/// depot_stock : int
///     Lamps the depot holds, at least 0.
/// stock : dict
///     Lamps by site; a site that is not named holds none.
/// method : str, optional
///     `exact` for needs by chance; `means`, a Poisson count with the right mean, which understates waiting; or
///     `two_moments`, with the right mean and variance. Without it exact where it can be, else two moments.
///
/// Returns
/// -------
/// PlacesService
///
/// Raises
/// ------
/// InputError
///     For a site that is not there, lamps that are no whole numbers of at least 0, and another method.
/// RefusedError
///     For a ratio of variance to mean outside 0.8 to 2, and `exact` where needs do not come by chance.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> places = relamp.places(["north", "south"], [0.05, 0.05], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
/// >>> few = relamp.place_service(places, depot_stock=0, stock={"north": 1, "south": 1})
/// >>> more = relamp.place_service(places, depot_stock=4, stock={"north": 1, "south": 1})
/// >>> few.method, more.dark_hours_per_year < few.dark_hours_per_year / 5
/// ('exact', True)
#[pyfunction]
#[pyo3(signature = (places, *, depot_stock, stock, method=None))]
pub(super) fn place_service(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyPlaces>)] places: &Bound<'_, PyPlaces>,
    #[pyo3(from_py_with = args::depot_stock)] depot_stock: u64,
    #[pyo3(from_py_with = args::stock_by_site)] stock: std::collections::BTreeMap<String, u64>,
    #[pyo3(from_py_with = args::method)] method: Option<String>,
) -> PyResult<PyPlacesService> {
    let (places, method) = (&places.get().0, method_of(method.as_deref())?);
    let stock = places.by_name(&stock)?;
    Ok(PyPlacesService(work(py, None, |_| core_service(places, depot_stock, &stock, method))?))
}

fn pooling_table(p: &Pooling) -> Result<RecordBatch> {
    Frame::default()
        .texts("stock", ["a shelf at each site", "one stock for all"])
        .counts("lamps", [p.site_lamps, p.site_lamps])
        .numbers("screens_waiting", [p.apart.screens_waiting, p.screens_waiting])
        .numbers("fill_rate", [p.apart.fill_rate, p.fill_rate])
        .numbers("dark_hours_per_year", [p.apart.dark_hours_per_year, p.dark_hours_per_year])
        .counts("lamps_for_the_same", [p.site_lamps, p.lamps_for_the_same])
        .finish()
}

fn pooling_facts(p: &Pooling) -> Facts {
    facts! {
        "site_lamps": p.site_lamps, "lamps_for_the_same": p.lamps_for_the_same, "lamps_saved": p.lamps_saved,
        "dark_hours_apart": p.apart.dark_hours_per_year, "dark_hours_pooled": p.dark_hours_per_year,
        "transfers_per_year": p.transfers_per_year, "transfer_cost_per_year": p.transfer_cost_per_year,
        "cost_per_dark_hour_saved": p.cost_per_dark_hour_saved, "notes": p.notes,
    }
}

result_class! {
    /// The sites with a shelf each, and the same lamps as one stock; made by `pooling`.
    PyPooling holds Pooling as "Pooling";
    save |p| saved::save(POOLING, p); load |t| saved::load(POOLING, t); table pooling_table; show pooling_facts;
    {
        /// Lamps that one stock saves while no more screens wait.
        #[getter]
        fn lamps_saved(&self) -> u64 {
            self.0.lamps_saved
        }

        /// Mean dark programme hours a year with one stock.
        #[getter]
        fn dark_hours_per_year(&self) -> f64 {
            self.0.dark_hours_per_year
        }

        /// Transfers a year between sites that help each other, by a rule of thumb.
        #[getter]
        fn transfers_per_year(&self) -> f64 {
            self.0.transfers_per_year
        }

        /// Cost of the transfers for each dark hour they save; None where they save none.
        #[getter]
        fn cost_per_dark_hour_saved(&self) -> Option<f64> {
            self.0.cost_per_dark_hour_saved
        }

        /// What may mislead.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }
    }
}

/// What one stock for all sites saves, or emergency transfers between sites do.
///
/// Waiting screens with one stock = E(X - S)+, X the lamps on their way to all sites and S all lamps at the sites; the
/// lamps for the same are the fewest with which no more screens wait than apart. A transfer takes no time.
///
/// Parameters
/// ----------
/// places : Places
///     The sites and their lead times.
/// depot_stock : int
///     Lamps the depot holds, at least 0.
/// stock : dict
///     Lamps by site; a site that is not named holds none.
/// transfer_cost : float
///     Cost of one transfer, at least 0.
/// method : str, optional
///     As for `place_service`.
///
/// Returns
/// -------
/// Pooling
///
/// Raises
/// ------
/// InputError
///     For a site that is not there, lamps that are no whole numbers of at least 0, and a cost below 0.
/// RefusedError
///     As for `place_service`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> places = relamp.places(list("abcd"), [0.05] * 4, maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
/// >>> pooled = relamp.pooling(places, depot_stock=0, stock=dict.fromkeys("abcd", 2), transfer_cost=60.0)
/// >>> pooled.lamps_saved
/// 2
#[pyfunction]
#[pyo3(signature = (places, *, depot_stock, stock, transfer_cost, method=None))]
pub(super) fn pooling(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyPlaces>)] places: &Bound<'_, PyPlaces>,
    #[pyo3(from_py_with = args::depot_stock)] depot_stock: u64,
    #[pyo3(from_py_with = args::stock_by_site)] stock: std::collections::BTreeMap<String, u64>,
    #[pyo3(from_py_with = args::transfer_cost)] transfer_cost: f64,
    #[pyo3(from_py_with = args::method)] method: Option<String>,
) -> PyResult<PyPooling> {
    let (places, method) = (&places.get().0, method_of(method.as_deref())?);
    let stock = places.by_name(&stock)?;
    Ok(PyPooling(work(py, None, |_| core_pooling(places, depot_stock, &stock, transfer_cost, method))?))
}

fn curve_table(c: &ClassCurve) -> Result<RecordBatch> {
    let each = || c.points.iter();
    Frame::default()
        .counts("lamps", each().map(|p| p.lamps))
        .counts("depot", each().map(|p| p.depot))
        .counts("at_sites", each().map(|p| p.lamps - p.depot))
        .numbers("cost", each().map(|p| c.unit_cost * p.lamps as f64))
        .numbers("shortfall", each().map(|p| p.shortfall))
        .finish()
}

fn curve_facts(c: &ClassCurve) -> Facts {
    facts! {
        "lamp": c.class, "unit_cost": c.unit_cost, "measure": word(&c.measure), "most_lamps": c.points.len() - 1,
        "shortfall_of_none": c.points.first().map(|p| p.shortfall),
        "shortfall_of_most": c.points.last().map(|p| p.shortfall),
    }
}

result_class! {
    /// What 0, 1, 2, ... lamps of one class lead to at their best places; made by `class_curve` or `one_place_curve`.
    ///
    /// Its table holds a row for each number of lamps: those at the depot and at the sites, cost and shortfall.
    PyClassCurve holds ClassCurve as "ClassCurve";
    save |c| saved::save(CURVE, c); load |t| saved::load(CURVE, t); table curve_table; show curve_facts;
    {
        fn __len__(&self) -> usize {
            self.0.points.len()
        }

        /// The lamp class.
        #[getter]
        fn lamp(&self) -> &str {
            &self.0.class
        }

        /// What the shortfall counts: screens_waiting or dark_hours.
        #[getter]
        fn measure(&self) -> String {
            word(&self.0.measure)
        }

        /// Lamps at each site where a number of lamps are held at their best places.
        ///
        /// Parameters
        /// ----------
        /// number : int
        ///     Lamps in all, at least 0.
        ///
        /// Returns
        /// -------
        /// list of int
        ///     Lamps by site, in the order of the sites; the others are at the depot.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For more lamps than the curve has.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> places = relamp.places(
        /// ...     ["north", "south"], [0.05, 0.05], maker_days=20.0, depot_days=2.0, hours_per_day=10.0
        /// ... )
        /// >>> curve = relamp.class_curve(places, lamp="2 kW", unit_cost=700.0, most_lamps=6)
        /// >>> curve.at_sites(5)
        /// [1, 1]
        fn at_sites(&self, #[pyo3(from_py_with = args::number)] number: u64) -> PyResult<Vec<u64>> {
            let found = usize::try_from(number).ok().and_then(|n| self.0.points.get(n));
            let most = self.0.points.len().saturating_sub(1);
            let expected = format!("0 to {most}");
            let (what, got) = ("more than the curve has", number.to_string());
            let error = || refuse("python.number", what, "number", "", &got, &expected);
            Ok(found.ok_or_else(error)?.sites.clone())
        }
    }
}

/// What each number of lamps of a class leads to when depot and sites share them best.
///
/// For each depot stock the lamps left go to the sites one by one, each where it takes away most; all depot stocks are
/// tried, since waiting screens are not convex in them.
///
/// Parameters
/// ----------
/// places : Places
///     The sites and their lead times.
/// lamp : str
///     Name of the lamp class.
/// unit_cost : float
///     Price of a lamp, above 0.
/// most_lamps : int
///     Lamps up to which the curve goes, at most 1,000.
/// measure : str
///     What the shortfall counts: `screens_waiting`, or `dark_hours` a year.
/// method : str, optional
///     As for `place_service`.
///
/// Returns
/// -------
/// ClassCurve
///
/// Raises
/// ------
/// InputError
///     For a price that is not above 0, more than 1,000 lamps, and another measure or method.
/// RefusedError
///     As for `place_service`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> places = relamp.places(["north", "south"], [0.05, 0.05], maker_days=20.0, depot_days=2.0, hours_per_day=10.0)
/// >>> curve = relamp.class_curve(places, lamp="2 kW", unit_cost=700.0, most_lamps=6)
/// >>> curve.frame()["depot"].to_list()
/// [0, 1, 2, 3, 2, 3, 4]
#[pyfunction]
#[pyo3(signature = (places, *, lamp, unit_cost, most_lamps, measure="screens_waiting", method=None))]
pub(super) fn class_curve(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyPlaces>)] places: &Bound<'_, PyPlaces>,
    #[pyo3(from_py_with = args::lamp)] lamp: &str,
    #[pyo3(from_py_with = args::unit_cost)] unit_cost: f64,
    #[pyo3(from_py_with = args::most_lamps)] most_lamps: u64,
    #[pyo3(from_py_with = args::measure)] measure: &str,
    #[pyo3(from_py_with = args::method)] method: Option<String>,
) -> PyResult<PyClassCurve> {
    let measure = match measure {
        "screens_waiting" => Measure::ScreensWaiting,
        "dark_hours" => Measure::DarkHours,
        other => {
            let expected = "screens_waiting or dark_hours";
            return Err(refuse("python.measure", "not what a shortfall counts", "measure", "", other, expected).into());
        }
    };
    let (places, method) = (&places.get().0, method_of(method.as_deref())?);
    Ok(PyClassCurve(work(py, None, |_| core_curve(lamp, unit_cost, places, most_lamps, measure, method))?))
}

/// What each number of lamps leads to at one place without a depot.
///
/// Parameters
/// ----------
/// on_way : Count
///     Lamps on their way: those needed over the lead time.
/// lamp : str
///     Name of the lamp class.
/// unit_cost : float
///     Price of a lamp, above 0.
/// most_lamps : int
///     Lamps up to which the curve goes, at most 1,000.
///
/// Returns
/// -------
/// ClassCurve
///     Its shortfall is E(on way - lamps)+, screens waiting.
///
/// Raises
/// ------
/// InputError
///     For a price that is not above 0, and more than 1,000 lamps.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> curve = relamp.one_place_curve(relamp.Count.poisson(1.0), lamp="2 kW", unit_cost=700.0, most_lamps=2)
/// >>> [round(x, 4) for x in curve.frame()["shortfall"]]
/// [1.0, 0.3679, 0.1036]
#[pyfunction]
#[pyo3(signature = (on_way, *, lamp, unit_cost, most_lamps))]
pub(super) fn one_place_curve(
    #[pyo3(from_py_with = args::made::<PyCount>)] on_way: &Bound<'_, PyCount>,
    #[pyo3(from_py_with = args::lamp)] lamp: &str,
    #[pyo3(from_py_with = args::unit_cost)] unit_cost: f64,
    #[pyo3(from_py_with = args::most_lamps)] most_lamps: u64,
) -> PyResult<PyClassCurve> {
    Ok(PyClassCurve(core_one_place(lamp, unit_cost, &on_way.get().0, most_lamps)?))
}

fn mix_table(m: &StockMix) -> Result<RecordBatch> {
    let each = || m.parts.iter();
    Frame::default()
        .texts("lamp", each().map(|p| &p.class))
        .counts("lamps", each().map(|p| p.held.lamps))
        .counts("depot", each().map(|p| p.held.depot))
        .counts("at_sites", each().map(|p| p.held.lamps - p.held.depot))
        .numbers("cost", each().map(|p| p.cost))
        .numbers("shortfall", each().map(|p| p.held.shortfall))
        .finish()
}

fn mix_facts(m: &StockMix) -> Facts {
    facts! {
        "cost": m.cost, "shortfall": m.shortfall, "measure": word(&m.measure), "best": m.best,
        "lamps": m.parts.iter().map(|p| p.held.lamps).sum::<u64>(), "classes": m.parts.len(),
    }
}

result_class! {
    /// The best mix of whole lamps over classes; made by `best_mix`.
    ///
    /// Its table holds a row for each class.
    PyStockMix holds StockMix as "StockMix";
    save |m| saved::save(MIX, m); load |t| saved::load(MIX, t); table mix_table; show mix_facts;
    {
        /// What all lamps cost.
        #[getter]
        fn cost(&self) -> f64 {
            self.0.cost
        }

        /// The shortfall of all classes: screens waiting, or dark hours a year.
        #[getter]
        fn shortfall(&self) -> f64 {
            self.0.shortfall
        }

        /// Whether no other mix can be better; else so many were near that some were left out.
        #[getter]
        fn best(&self) -> bool {
            self.0.best
        }
    }
}

/// Curves in a list.
fn curves(obj: &Bound<'_, PyAny>) -> PyResult<Vec<ClassCurve>> {
    let wrong = |got: &str| refuse("python.type", "not a list of curves", "curves", "", got, "a list of ClassCurve");
    let items: Vec<Bound<'_, PyAny>> = obj.extract().map_err(|_| wrong(&kind_of(obj)))?;
    items.iter().map(|c| Ok(c.cast::<PyClassCurve>().map_err(|_| wrong(&kind_of(c)))?.get().0.clone())).collect()
}

/// The lamps of each class with the least shortfall for some money, or the least money for a shortfall.
///
/// Whole lamps, and the best of all mixes: the curves need not be convex.
///
/// Parameters
/// ----------
/// curves : list of ClassCurve
///     One for each class, all with the same measure.
/// budget : float, optional
///     Money that may be spent, cost at least 0. Either this or the shortfall.
/// shortfall : float, optional
///     Screens waiting or dark hours a year that may be left, at least 0.
///
/// Returns
/// -------
/// StockMix
///
/// Raises
/// ------
/// InputError
///     For both goals or none, a goal below 0, no class, and classes with different measures.
/// RefusedError
///     Where the most lamps of all curves leave more than the shortfall.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> curves = [
/// ...     relamp.one_place_curve(relamp.Count.poisson(1.0), lamp="4 kW", unit_cost=5.0, most_lamps=9),
/// ...     relamp.one_place_curve(relamp.Count.poisson(4.0), lamp="2 kW", unit_cost=1.0, most_lamps=9),
/// ... ]
/// >>> relamp.best_mix(curves, budget=10.0).frame()["lamps"].to_list()
/// [1, 5]
#[pyfunction]
#[pyo3(signature = (curves, *, budget=None, shortfall=None))]
pub(super) fn best_mix(
    py: Python<'_>,
    curves: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::budget)] budget: Option<f64>,
    #[pyo3(from_py_with = args::shortfall)] shortfall: Option<f64>,
) -> PyResult<PyStockMix> {
    let curves = self::curves(curves)?;
    let goal = match (budget, shortfall) {
        (Some(money), None) => Goal::Budget(money),
        (None, Some(left)) => Goal::Shortfall(left),
        _ => {
            let got = if budget.is_some() { "both" } else { "none" };
            return Err(refuse("python.goal", "one goal", "best_mix", "", got, "budget or shortfall").into());
        }
    };
    Ok(PyStockMix(work(py, None, |_| core_mix(&curves, goal))?))
}

/// Buys where money does most, step by step, until the next step passes the budget.
///
/// Parameters
/// ----------
/// curves : list of ClassCurve
///     One for each class, all with the same measure.
/// budget : float
///     Money that may be spent, cost at least 0.
///
/// Returns
/// -------
/// Table
///     One row for each step: the class bought, its lamps after the step, money spent, shortfall of all classes, and
///     the shortfall taken away for each unit of money.
///
/// Raises
/// ------
/// InputError
///     For a budget below 0 or missing, no class, and classes with different measures.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> curves = [
/// ...     relamp.one_place_curve(relamp.Count.poisson(1.0), lamp="4 kW", unit_cost=5.0, most_lamps=9),
/// ...     relamp.one_place_curve(relamp.Count.poisson(4.0), lamp="2 kW", unit_cost=1.0, most_lamps=9),
/// ... ]
/// >>> relamp.buy_steps(curves, budget=11.0).frame()["lamp"].to_list()[-2:]
/// ['2 kW', '4 kW']
#[pyfunction]
#[pyo3(signature = (curves, *, budget))]
pub(super) fn buy_steps(
    curves: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::budget)] budget: Option<f64>,
) -> PyResult<Table> {
    let curves = self::curves(curves)?;
    let steps = core_steps(&curves, budget.unwrap_or(f64::NAN))?;
    let each = || steps.iter();
    let name = |class: usize| curves.get(class).map_or("", |c| c.class.as_str());
    let frame = Frame::default()
        .texts("lamp", each().map(|s| name(s.class)))
        .counts("lamps", each().map(|s| s.lamps.get(s.class).copied().unwrap_or(0)))
        .numbers("cost", each().map(|s| s.cost))
        .numbers("shortfall", each().map(|s| s.shortfall))
        .numbers("gain_per_cost", each().map(|s| s.gain_per_cost))
        .finish()?;
    Ok(Table(frame))
}
