//! Planned changes with dates, the Poisson shortcut, emergency transfers, and lamps that grow old on the shelf.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::run::Run;
use crate::base::saved::{self, Format};
use crate::demand::ClassModel;
use crate::stock::{
    DatedStock, EmergencyPlan, HoursSpread, Needs, PoissonShortcut, ShelfAge, ShelfTerms, StockRule,
    best_emergency as core_best_emergency, dated_stock as core_dated_stock, dated_stock_on_calendar,
    dated_stock_over_draws as over_draws, poisson_shortcut as core_shortcut, shelf_age as core_shelf_age,
};

use super::chain::{Dated, Dates};
use super::demand::{PyCount, sockets};
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{arguments as args, kind_of};
use super::result::result_class;
use super::show::{Facts, facts};
use super::stock::{PyStockCosts, lead_time};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const SHORTCUT: Format = Format::new("poisson_shortcut", 1);
const DATED: Format = Format::new("dated_stock", 1);
const EMERGENCY: Format = Format::new("emergency_plan", 1);
const SHELF: Format = Format::new("shelf_age", 1);

fn shortcut_table(s: &PoissonShortcut) -> Result<RecordBatch> {
    Frame::default()
        .texts("by", ["whole_distribution", "poisson"])
        .counts("level", [s.level, s.shortcut_level])
        .numbers("service", [s.service_at_level, s.service_at_shortcut_level])
        .numbers("says_at_level", [s.service_at_level, s.shortcut_says_at_level])
        .finish()
}

result_class! {
    /// A stock from the whole distribution of the number needed beside a Poisson one of the same mean; made by
    /// `poisson_shortcut`.
    PyPoissonShortcut holds PoissonShortcut as "PoissonShortcut";
    save |s| saved::save(SHORTCUT, s); load |t| saved::load(SHORTCUT, t); table shortcut_table;
    show |s| facts! {
        "level": s.level, "shortcut_level": s.shortcut_level, "stock_error": s.stock_error,
        "service_error": s.service_error, "mean_needed": s.mean_needed, "variance_to_mean": s.variance_to_mean,
        "service_at_level": s.service_at_level, "service_at_shortcut_level": s.service_at_shortcut_level,
        "service_target": s.service_target,
    };
    {
        /// Least stock that meets the target.
        #[getter]
        fn level(&self) -> u64 {
            self.0.level
        }

        /// What the shortcut holds.
        #[getter]
        fn shortcut_level(&self) -> u64 {
            self.0.shortcut_level
        }

        /// Lamps that the shortcut holds too many; below 0 where it holds too few.
        #[getter]
        fn stock_error(&self) -> i64 {
            self.0.stock_error
        }

        /// What the shortcut says too much, below 0 too little, of the service at the level.
        #[getter]
        fn service_error(&self) -> f64 {
            self.0.service_error
        }

        /// Chance of no shortage with what the shortcut holds.
        #[getter]
        fn service_at_shortcut_level(&self) -> f64 {
            self.0.service_at_shortcut_level
        }
    }
}

/// The stock for a wanted chance of no shortage from the whole distribution of the number needed, beside the
/// shortcut that keeps only its mean.
///
/// Parameters
/// ----------
/// needed : Count
///     Lamps needed over the lead time, by the ages of the lamps: `forecast(..., periods=1,
///     period_days=lead_time_days).needed(1)`.
/// service_target : float
///     Wanted chance of no shortage, above 0 and at most 1.
///
/// Returns
/// -------
/// PoissonShortcut
///
/// Raises
/// ------
/// InputError
///     For a target that is not a number above 0 and at most 1.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> found = relamp.poisson_shortcut(relamp.Count.poisson(4.0), service_target=0.95)
/// >>> found.level, found.stock_error
/// (8, 0)
#[pyfunction]
#[pyo3(signature = (needed, *, service_target))]
pub(super) fn poisson_shortcut(
    #[pyo3(from_py_with = args::made::<PyCount>)] needed: &Bound<'_, PyCount>,
    #[pyo3(from_py_with = args::service_target)] service_target: f64,
) -> PyResult<PyPoissonShortcut> {
    Ok(PyPoissonShortcut(core_shortcut(&needed.get().0, service_target)?))
}

fn dated_table(d: &DatedStock) -> Result<RecordBatch> {
    let column = |f: fn(&crate::stock::DatedOrder) -> f64| d.orders.iter().map(f).collect::<Vec<_>>();
    Frame::default()
        .counts("row", d.orders.iter().map(|o| o.row))
        .numbers("due_day", column(|o| o.due_day))
        .numbers("early_day", column(|o| o.early_day))
        .numbers("late_day", column(|o| o.late_day))
        .numbers("order_day", column(|o| o.order_day))
        .numbers("fails_before", column(|o| o.fails_before))
        .numbers("stops_before", column(|o| o.stops_before))
        .finish()
}

fn dated_facts(d: &DatedStock) -> Facts {
    facts! {
        "dated_in_lead_time": d.dated_in_lead_time, "safety_stock": d.safety_stock,
        "safety_for_failures": d.safety_for_failures, "safety_for_dates": d.safety_for_dates, "level": d.level,
        "level_all_random": d.level_all_random, "held_for_nothing": d.held_for_nothing,
        "level_without_dates": d.level_without_dates, "service_at_level": d.service_at_level,
        "mean_needed": d.mean_needed, "mean_failures": d.mean_failures, "orders": d.orders.len(),
        "second_changes_at_most": d.second_changes_at_most, "draws": d.draws.as_ref().map(|d| d.used),
        "sentence": d.sentence, "notes": d.notes.join("; "),
    }
}

result_class! {
    /// Planned changes with their orders, and the safety stock for what has no date; made by `dated_stock`.
    PyDatedStock holds DatedStock as "DatedStock";
    save |s| saved::save(DATED, s); load |t| saved::load(DATED, t); table dated_table; show dated_facts;
    {
        /// The result in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// Lamps whose date lies within the lead time: each must be on hand or on its way already.
        #[getter]
        fn dated_in_lead_time(&self) -> u64 {
            self.0.dated_in_lead_time
        }

        /// Lamps to hold beside the dated ones: the least that meet the target on each day looked at.
        #[getter]
        fn safety_stock(&self) -> u64 {
            self.0.safety_stock
        }

        /// The part for failures: what would do if every date were certain.
        #[getter]
        fn safety_for_failures(&self) -> u64 {
            self.0.safety_for_failures
        }

        /// The rest, for the spread of the dates.
        #[getter]
        fn safety_for_dates(&self) -> u64 {
            self.0.safety_for_dates
        }

        /// Dated lamps of the lead time plus safety stock: on hand and on order together.
        #[getter]
        fn level(&self) -> u64 {
            self.0.level
        }

        /// What a Poisson number of the same mean would hold: all demand taken as random.
        #[getter]
        fn level_all_random(&self) -> u64 {
            self.0.level_all_random
        }

        /// Lamps that taking all demand as random would have held beyond the level; below 0 where too few.
        #[getter]
        fn held_for_nothing(&self) -> i64 {
            self.0.held_for_nothing
        }

        /// What stands beside the numbers and could mislead without.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }

        /// Draws mixed; None for one world.
        #[getter]
        fn draws(&self) -> Option<usize> {
            self.0.draws.as_ref().map(|d| d.used)
        }

        /// Lamps to order now, so that lamps on hand and on order reach the level.
        ///
        /// Parameters
        /// ----------
        /// on_hand, on_order : int
        ///     Lamps on the shelf, and ordered to arrive within the lead time; at least 0 each.
        ///
        /// Returns
        /// -------
        /// int
        ///     Lamps.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> found = relamp.dated_stock(
        /// ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0,
        /// ...     limit=limit, lead_time_days=30.0, days_ahead=60.0, service_target=0.95,
        /// ... )
        /// >>> found.level, found.order(on_hand=2, on_order=1), found.too_late(on_hand=2, on_order=1)
        /// (5, 2, 1)
        #[pyo3(signature = (*, on_hand, on_order=0))]
        fn order(
            &self,
            #[pyo3(from_py_with = args::on_hand)] on_hand: u64,
            #[pyo3(from_py_with = args::on_order)] on_order: u64,
        ) -> u64 {
            self.0.order(on_hand, on_order)
        }

        /// Dated lamps of the lead time without a lamp on hand or on order: too late for an order of today.
        ///
        /// Parameters
        /// ----------
        /// on_hand, on_order : int
        ///     Lamps on the shelf, and ordered to arrive within the lead time; at least 0 each.
        ///
        /// Returns
        /// -------
        /// int
        ///     Lamps.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> found = relamp.dated_stock(
        /// ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0,
        /// ...     limit=limit, lead_time_days=30.0, days_ahead=60.0, service_target=0.95,
        /// ... )
        /// >>> found.too_late(on_hand=2), found.too_late(on_hand=4)
        /// (2, 0)
        #[pyo3(signature = (*, on_hand, on_order=0))]
        fn too_late(
            &self,
            #[pyo3(from_py_with = args::on_hand)] on_hand: u64,
            #[pyo3(from_py_with = args::on_order)] on_order: u64,
        ) -> u64 {
            self.0.too_late(on_hand, on_order)
        }
    }
}

/// Planned changes as dated orders, and the safety stock for failures and for the spread of the dates.
///
/// Within t days a screen burns its weekly hours times a factor of its own and one of all screens, both lognormal
/// with mean 1. The safety stock is the least that, beside the lamps dated by each day of the lead time, meets
/// the target on that day. Where a lamp fails early its successor comes from the safety stock, and the dated lamp
/// fills that up. Second changes of a screen within the lead time are left out; the result bounds their mean.
///
/// Parameters
/// ----------
/// model : World or Draws
///     Lives of the lamps. With draws the numbers needed by each day are mixed over them, so that the safety stock
///     covers what is not known of the life; dates are those of the best world, chances to fail before them means.
/// age_hours : array-like
///     Ages of the lamps that burn today, hours; a missing one (None, null) is not known and counts as due.
/// hours_per_week : float or array-like
///     Programme hours of the screens, 0 to 168.
/// planned_age_hours : float
///     Age of the planned change, hours; held to the limit.
/// limit : HourLimit
///     The age that no lamp may pass.
/// lead_time_days : float
///     Days from placing an order to its arrival, 0 to 7,310; with 0 only what is due today is held.
/// days_ahead : float
///     Days from today for which planned changes are listed, at least the lead time and at most 7,310.
/// service_target : float
///     Wanted chance that no screen waits, above 0 and at most 1, on each day of the lead time by itself; the chance
///     that none waits over the whole of it is lower.
/// hours_spread, shared_hours_spread : float
///     Standard deviation of programme hours as a share of them, 0 to 1: of each screen by itself, and of all
///     together.
/// as_of : date or str, optional
///     Day of today's ages; needed with a programme or a stop.
/// programme : array-like, optional
///     Names, one for each screen; a missing programme stands for the same hours every day.
/// programmes : dict, optional
///     By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
///     and growth_per_year (a share).
/// stop : list, optional
///     For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
///     or a dict of days with chances that sum to 1. A screen needs no lamp after it; a lamp has a date as long as its
///     screen may burn until then.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// DatedStock
///     Its table lists the planned changes with due day, early and late day (one in ten lies outside each), day
///     to order, chance that the lamp fails before if its screen burns until then, and chance that the screen stops
///     before. Days count from today.
///
/// Raises
/// ------
/// InputError
///     For another model than a world or draws, ages, hours, days, spreads or a target that are not numbers or out of
///     range, a stop before the as-of date, an unknown programme, and hours of more than a day.
/// DomainError
///     For days ahead that reach past the last day that can be written.
/// RefusedError
///     Where no draw gave an answer.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=4000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> found = relamp.dated_stock(
/// ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit,
/// ...     lead_time_days=30.0, days_ahead=60.0, service_target=0.95,
/// ... )
/// >>> found.dated_in_lead_time, found.safety_stock, found.level_all_random > found.level
/// (4, 1, True)
///
/// With a closure the four lamps move to later dates, and the screen that stops on 11 January needs none:
///
/// >>> winter = {"winter": {"spans": [("2026-01-01", "2026-01-20", 0.0)]}}
/// >>> shut = relamp.dated_stock(
/// ...     world, [1950.0 - 80.0 * i for i in range(12)], hours_per_week=70.0, planned_age_hours=2000.0, limit=limit,
/// ...     lead_time_days=30.0, days_ahead=60.0, service_target=0.95, as_of="2026-01-01", programme=["winter"] * 12,
/// ...     programmes=winter, stop=["2026-01-11"] + [None] * 11,
/// ... )
/// >>> [round(day) for day in shut.frame()["due_day"]]
/// [33, 41, 49, 57]
#[pyfunction]
#[pyo3(signature = (model, age_hours, *, hours_per_week, planned_age_hours, limit, lead_time_days, days_ahead,
    service_target, hours_spread=0.0, shared_hours_spread=0.0, as_of=None, programme=None, programmes=None, stop=None,
    progress=None))]
#[allow(clippy::too_many_arguments, reason = "each is an argument of the call")]
pub(super) fn dated_stock(
    py: Python<'_>,
    model: &Bound<'_, PyAny>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::planned_age_hours)] planned_age_hours: f64,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::lead_time_days)] lead_time_days: f64,
    #[pyo3(from_py_with = args::days_ahead)] days_ahead: f64,
    #[pyo3(from_py_with = args::service_target)] service_target: f64,
    #[pyo3(from_py_with = args::hours_spread)] hours_spread: f64,
    #[pyo3(from_py_with = args::shared_hours_spread)] shared_hours_spread: f64,
    as_of: Option<&Bound<'_, PyAny>>,
    programme: Option<&Bound<'_, PyAny>>,
    programmes: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::stops)] stop: Option<Vec<Bound<'_, PyAny>>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyDatedStock> {
    let lamps = sockets("dated_stock", age_hours, hours_per_week)?;
    let dated = Dates { call: "dated_stock", as_of, programme, programmes, stop }.of(&lamps)?;
    let spread = HoursSpread { each: hours_spread, shared: shared_hours_spread };
    let (age, lead, limit) = (planned_age_hours, lead_time_days, &limit.get().0);
    let by_dates = |dated: &Dated, model: ClassModel<'_>, run: &Run| {
        dated_stock_on_calendar(&dated.given(), model, age, limit, lead, days_ahead, spread, service_target, run)
    };
    let found = if let Ok(draws) = model.cast::<PyDraws>() {
        let draws = draws.get();
        work(py, progress, |run| match &dated {
            Some(dated) => by_dates(dated, ClassModel::Draws(&draws.0), run),
            None => over_draws(&lamps, &draws.0, age, limit, lead, days_ahead, spread, service_target, run),
        })?
    } else if let Ok(world) = model.cast::<PyWorld>() {
        let world = world.get();
        work(py, progress, |run| match &dated {
            Some(dated) => by_dates(dated, ClassModel::World(&world.0), run),
            None => core_dated_stock(&lamps, &world.0, age, limit, lead, days_ahead, spread, service_target),
        })?
    } else {
        let expected = "a World or Draws";
        return Err(refuse("python.model", "not a model", "dated_stock", "model", &kind_of(model), expected).into());
    };
    Ok(PyDatedStock(found))
}

fn emergency_table(p: &EmergencyPlan) -> Result<RecordBatch> {
    let column = |f: fn(&crate::stock::EmergencyPoint) -> f64| p.by_stock.iter().map(f).collect::<Vec<_>>();
    Frame::default()
        .counts("base_stock", p.by_stock.iter().map(|p| p.service.base_stock))
        .numbers("emergency_share", column(|p| p.service.emergency_share))
        .numbers("emergencies_a_year", column(|p| p.service.emergencies_a_year))
        .numbers("mean_on_hand", column(|p| p.service.mean_on_hand))
        .numbers("holding", column(|p| p.holding))
        .numbers("ordering", column(|p| p.ordering))
        .numbers("transfers", column(|p| p.transfers))
        .numbers("total", column(|p| p.total))
        .finish()
}

result_class! {
    /// The base stock of least cost where missing lamps come by an emergency transfer; made by `best_emergency`.
    PyEmergencyPlan holds EmergencyPlan as "EmergencyPlan";
    save |s| saved::save(EMERGENCY, s); load |t| saved::load(EMERGENCY, t); table emergency_table;
    show |p| facts! {
        "base_stock": p.best.service.base_stock, "total": p.best.total,
        "emergency_share": p.best.service.emergency_share, "emergencies_a_year": p.best.service.emergencies_a_year,
        "mean_on_hand": p.best.service.mean_on_hand, "holding": p.best.holding, "transfers": p.best.transfers,
        "ordering": p.best.ordering, "sentence": p.sentence,
    };
    {
        /// The advice in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// Lamps on hand and on order, each ordered when used.
        #[getter]
        fn base_stock(&self) -> u64 {
            self.0.best.service.base_stock
        }

        /// Share of the lamps needed that come by transfer: the chance that the shelf is empty.
        #[getter]
        fn emergency_share(&self) -> f64 {
            self.0.best.service.emergency_share
        }

        /// Cost a year: holding, transfers and ordering; lamps bought cost the same at every stock and are left out.
        #[getter]
        fn total(&self) -> f64 {
            self.0.best.total
        }
    }
}

/// The base stock of least yearly cost where a lamp that is not on the shelf is borrowed or sent by courier and
/// no screen waits.
///
/// The share of transfers is a^s / s! over the sum of a^k / k! for k up to s; a: lamps needed a day times the
/// mean lead time. Only that mean counts, whatever the distribution of the lead time.
///
/// Parameters
/// ----------
/// needed_a_day : float
///     Mean lamps needed a day, one at a time by chance, 0 to 1e6.
/// costs : StockCosts
///     What `stock_costs` gave; a lamp on the shelf must cost something.
/// lead_time_days : float or array-like
///     Days from placing an order to its arrival, 0 to 7,310.
/// per_transfer : float
///     What an emergency transfer costs beyond the price of the lamp.
/// weights : array-like, optional
///     How likely each lead time is; alike without it.
///
/// Returns
/// -------
/// EmergencyPlan
///     Its table holds every base stock: the cost curve.
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range, and a lamp on the shelf that costs nothing.
/// LimitError
///     Where the best stock would pass 100,000 lamps.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> costs = relamp.stock_costs(800.0, money_rate=0.1)
/// >>> relamp.best_emergency(0.1, costs, lead_time_days=20.0, per_transfer=150.0).base_stock
/// 6
#[pyfunction]
#[pyo3(signature = (needed_a_day, costs, *, lead_time_days, per_transfer, weights=None))]
pub(super) fn best_emergency(
    py: Python<'_>,
    #[pyo3(from_py_with = args::needed_a_day)] needed_a_day: f64,
    #[pyo3(from_py_with = args::made::<PyStockCosts>)] costs: &Bound<'_, PyStockCosts>,
    lead_time_days: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::per_transfer)] per_transfer: f64,
    weights: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyEmergencyPlan> {
    let (lead, needs) = (lead_time(lead_time_days, weights)?, Needs::by_chance(needed_a_day)?);
    let costs = costs.get();
    Ok(PyEmergencyPlan(work(py, None, |_| core_best_emergency(&needs, &lead, &costs.0, per_transfer))?))
}

fn shelf_facts(s: &ShelfAge) -> Facts {
    facts! {
        "mean_days": s.mean_days, "expired_chance": s.expired_chance, "expired_a_year": s.expired_a_year,
        "expired_value_a_year": s.expired_value_a_year, "warranty_over_chance": s.warranty_over_chance,
        "warranty_days_lost": s.warranty_days_lost, "warranty_value_lost_a_year": s.warranty_value_lost_a_year,
    }
}

fn shelf_table(s: &ShelfAge) -> Result<RecordBatch> {
    Frame::default()
        .texts("of", ["shelf_life", "warranty"])
        .numbers_or_null("chance_over", [s.expired_chance, s.warranty_over_chance])
        .numbers_or_null("value_lost_a_year", [s.expired_value_a_year, s.warranty_value_lost_a_year])
        .finish()
}

result_class! {
    /// How old lamps are when they are used, and what is lost on the shelf; made by `shelf_age`.
    PyShelfAge holds ShelfAge as "ShelfAge";
    save |s| saved::save(SHELF, s); load |t| saved::load(SHELF, t); table shelf_table; show shelf_facts;
    {
        /// Mean days on the shelf; None where nothing is needed.
        #[getter]
        fn mean_days(&self) -> Option<f64> {
            self.0.mean_days
        }

        /// Chance that a lamp lies longer than its shelf life before it is needed; None without one.
        #[getter]
        fn expired_chance(&self) -> Option<f64> {
            self.0.expired_chance
        }

        /// Price of the lamps that expire, a year.
        #[getter]
        fn expired_value_a_year(&self) -> Option<f64> {
            self.0.expired_value_a_year
        }

        /// Chance that the warranty has run out before a lamp is used; None without one.
        #[getter]
        fn warranty_over_chance(&self) -> Option<f64> {
            self.0.warranty_over_chance
        }

        /// Mean days of warranty that are gone when a lamp is used.
        #[getter]
        fn warranty_days_lost(&self) -> Option<f64> {
            self.0.warranty_days_lost
        }

        /// The same share of the price, a year.
        #[getter]
        fn warranty_value_lost_a_year(&self) -> Option<f64> {
            self.0.warranty_value_lost_a_year
        }
    }
}

/// How long lamps lie on the shelf before they are used, first in first out, and what shelf life and a warranty
/// that runs from delivery lose by it.
///
/// A lamp lies longer than d days with the chance that fewer lamps than stood before it are needed in lead time
/// and d days. Exact while expired lamps stay on the shelf; where more than a few in a hundred expire and are
/// thrown away, fewer are lost than said.
///
/// Parameters
/// ----------
/// needed_a_day : float
///     Mean lamps needed a day, one at a time by chance, 0 to 1e6.
/// base_stock : int
///     One above the order point, 0 or more lamps.
/// lead_time_days : float or array-like
///     Days from placing an order to its arrival, 0 to 7,310.
/// price : float
///     Price of a lamp, 0 to 1e12.
/// quantity : int
///     Lamps in one order, 1 or more.
/// weights : array-like, optional
///     How likely each lead time is; alike without it.
/// shelf_life_days : float, optional
///     Days after delivery from which a lamp is no longer good, above 0 and at most 7,310.
/// warranty_days : float, optional
///     Days of warranty that run from delivery, above 0 and at most 7,310.
///
/// Returns
/// -------
/// ShelfAge
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> age = relamp.shelf_age(6 / 365.25, base_stock=5, lead_time_days=30.0, price=800.0, shelf_life_days=365.0)
/// >>> round(age.expired_chance, 4)
/// 0.2249
#[pyfunction]
#[pyo3(signature = (needed_a_day, *, base_stock, lead_time_days, price, quantity=1, weights=None, shelf_life_days=None,
    warranty_days=None))]
pub(super) fn shelf_age(
    #[pyo3(from_py_with = args::needed_a_day)] needed_a_day: f64,
    #[pyo3(from_py_with = args::base_stock)] base_stock: u64,
    lead_time_days: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::price)] price: f64,
    #[pyo3(from_py_with = args::quantity)] quantity: u64,
    weights: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::shelf_life_days)] shelf_life_days: Option<f64>,
    #[pyo3(from_py_with = args::warranty_days)] warranty_days: Option<f64>,
) -> PyResult<PyShelfAge> {
    let (lead, needs) = (lead_time(lead_time_days, weights)?, Needs::by_chance(needed_a_day)?);
    let terms = ShelfTerms { shelf_life_days, warranty_days };
    let rule = StockRule::Reorder { base_stock, quantity };
    Ok(PyShelfAge(core_shelf_age(&rule, &needs, &lead, terms, price)?))
}
