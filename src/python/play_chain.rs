//! A chain played out with its stock.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::demand::{Calendar, Count};
use crate::fit::Draws;
use crate::simulate::{
    ChainAssumptions, ChainPlayOptions, EmergencyLamp, PlayCosts, PlayedChain, PlayedMonth, PlayedPlace, Simulated,
    SiteShelves, Store, WhileWaiting, play_chain as core, play_chain_over_draws as over_draws,
};
use crate::stock::StockRule;

use super::chain::{Columns, day, programmes_given};
use super::demand::PyCount;
use super::error::refuse;
use super::frames::{Frame, Table};
use super::intake::{arguments as args, kind_of};
use super::result::result_class;
use super::show::{Facts, facts};
use super::stock::{PyStockCosts, lead_time};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const PLAYED: Format = Format::new("played_chain", 1);
const CALL: &str = "play_chain";

/// Columns by name, and how each is read off a row.
type Read<'a, Row, Of> = &'a [(&'a str, fn(&Row) -> Of)];

fn with_errors(frame: Frame, name: &str, each: &[Simulated]) -> Frame {
    frame
        .numbers(name, each.iter().map(|s| s.mean))
        .numbers_or_null(&format!("{name}_error"), each.iter().map(|s| s.standard_error))
}

fn months(p: &PlayedChain) -> Result<RecordBatch> {
    let quantile = |q: f64| p.needed.iter().map(|n| n.quantile(q)).collect::<Result<Vec<u64>>>();
    let mut frame = Frame::default()
        .dates("from_day", p.months.iter().map(|m| Some(m.from)))
        .dates("to_day", p.months.iter().map(|m| Some(m.to)));
    let figures: Read<'_, PlayedMonth, Simulated> = &[
        ("needed", |m| m.needed),
        ("planned", |m| m.planned),
        ("failures", |m| m.failures),
        ("dark_hours", |m| m.dark_hours),
        ("ordered", |m| m.ordered),
        ("emergencies", |m| m.emergencies),
        ("on_hand_at_end", |m| m.on_hand_at_end),
    ];
    for (name, of) in figures {
        frame = with_errors(frame, name, &p.months.iter().map(*of).collect::<Vec<_>>());
    }
    frame.counts("p50", quantile(0.5)?).counts("p80", quantile(0.8)?).counts("p95", quantile(0.95)?).finish()
}

fn places(p: &PlayedChain) -> Result<RecordBatch> {
    let mut frame = Frame::default().texts("place", p.places.iter().map(|r| r.place.as_str()));
    let figures: Read<'_, PlayedPlace, Simulated> = &[
        ("needed_a_year", |r| r.needed_a_year),
        ("no_screen_waiting", |r| r.no_screen_waiting),
        ("ready_rate", |r| r.ready_rate),
        ("mean_waiting", |r| r.mean_waiting),
        ("mean_on_hand", |r| r.mean_on_hand),
        ("mean_on_order", |r| r.mean_on_order),
        ("dark_hours_a_year", |r| r.dark_hours_a_year),
        ("emergencies_a_year", |r| r.emergencies_a_year),
    ];
    for (name, of) in figures {
        frame = with_errors(frame, name, &p.places.iter().map(*of).collect::<Vec<_>>());
    }
    let figures: Read<'_, PlayedPlace, Option<Simulated>> =
        &[("fill_rate", |r| r.fill_rate), ("mean_wait_days", |r| r.mean_wait_days)];
    for (name, of) in figures {
        frame = frame
            .numbers_or_null(name, p.places.iter().map(|r| of(r).map(|s| s.mean)))
            .numbers_or_null(&format!("{name}_error"), p.places.iter().map(|r| of(r)?.standard_error));
    }
    frame.finish()
}

fn costs(p: &PlayedChain) -> Result<RecordBatch> {
    let parts = p.costs.as_ref().map(|c| {
        [
            ("holding", c.holding),
            ("ordering", c.ordering),
            ("lamps", c.lamps),
            ("waiting", c.waiting),
            ("emergencies", c.emergencies),
            ("total", c.total),
        ]
    });
    let parts: Vec<(&str, Simulated)> = parts.into_iter().flatten().collect();
    let frame = Frame::default().texts("part", parts.iter().map(|c| c.0));
    with_errors(frame, "a_year", &parts.iter().map(|c| c.1).collect::<Vec<_>>()).finish()
}

fn played_facts(p: &PlayedChain) -> Facts {
    let store = p.places.first();
    facts! {
        "screens": p.screens, "months": p.months.len(), "replicates": p.replicates,
        "needed": p.months.iter().map(|m| m.needed.mean).sum::<f64>(),
        "dark_hours": p.months.iter().map(|m| m.dark_hours.mean).sum::<f64>(),
        "ever_short": p.ever_short.mean, "fill_rate": store.and_then(|s| s.fill_rate).map(|f| f.mean),
        "mean_on_hand": store.map(|s| s.mean_on_hand.mean), "orders_a_year": p.orders.orders_a_year.mean,
        "cost_a_year": p.costs.as_ref().map(|c| c.total.mean),
        "no_stock_out_per_cycle": p.orders.no_stock_out_per_cycle.map(|c| c.mean),
        "planned_age_hours": p.planned_age_hours, "warm_up_days": p.warm_up_days, "measured_days": p.measured_days,
        "seed": p.seed, "draws": p.draws.as_ref().map(|d| d.used),
    }
}

fn of_month(list: &[Count], month: usize) -> PyResult<PyCount> {
    let found = month.checked_sub(1).and_then(|i| list.get(i));
    found.cloned().map(PyCount).ok_or_else(|| {
        let expected = format!("1 to {}", list.len());
        refuse("python.period", "no such month", "month", "", &month.to_string(), &expected).into()
    })
}

result_class! {
    /// A chain played out with its stock; made by `play_chain`.
    ///
    /// Its table has a row for each month: means over the plays of lamps needed, dark programme hours, lamps ordered, lamps
    /// from elsewhere and lamps on all shelves at its end, each with its standard error (empty for one play), and
    /// quantiles of the lamps needed.
    PyPlayedChain holds PlayedChain as "PlayedChain";
    save |p| saved::save(PLAYED, p); load |t| saved::load(PLAYED, t); table months; show played_facts;
    {
        fn __len__(&self) -> usize {
            self.0.months.len()
        }

        /// Plays of the whole chain.
        #[getter]
        fn replicates(&self) -> usize {
            self.0.replicates
        }

        /// Draws of which each play took one; None for one world.
        #[getter]
        fn draws(&self) -> Option<usize> {
            self.0.draws.as_ref().map(|d| d.used)
        }

        /// Share of plays in which a lamp was ever asked for in vain.
        #[getter]
        fn ever_short(&self) -> f64 {
            self.0.ever_short.mean
        }

        /// Its standard error; None for one play.
        #[getter]
        fn ever_short_error(&self) -> Option<f64> {
            self.0.ever_short.standard_error
        }

        /// Share of orders just before whose coming nobody waited; with reviews of reviews, a lead time later. None
        /// without any.
        #[getter]
        fn no_stock_out_per_cycle(&self) -> Option<f64> {
            self.0.orders.no_stock_out_per_cycle.map(|c| c.mean)
        }

        /// Orders to the maker a year, after the warm-up.
        #[getter]
        fn orders_a_year(&self) -> f64 {
            self.0.orders.orders_a_year.mean
        }

        /// Lamps needed in a month: their distribution over the replicates.
        ///
        /// Parameters
        /// ----------
        /// month : int
        ///     From 1, the first, to the number of months.
        ///
        /// Returns
        /// -------
        /// Count
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a month that was not played.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_chain(
        /// ...     world, site=["north"], age_hours=[None], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
        /// ...     planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        /// ... )
        /// >>> played.needed(1).first
        /// 1
        fn needed(&self, #[pyo3(from_py_with = args::month_played)] month: usize) -> PyResult<PyCount> {
            of_month(&self.0.needed, month)
        }

        /// Lamps needed from the start to the end of a month: their distribution over the replicates.
        ///
        /// Parameters
        /// ----------
        /// month : int
        ///     From 1, the first, to the number of months.
        ///
        /// Returns
        /// -------
        /// Count
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a month that was not played.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_chain(
        /// ...     world, site=["north"], age_hours=[None], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
        /// ...     planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        /// ... )
        /// >>> played.needed_by_end(12).mean >= played.needed_by_end(1).mean
        /// True
        fn needed_by_end(&self, #[pyo3(from_py_with = args::month_played)] month: usize) -> PyResult<PyCount> {
            of_month(&self.0.needed_by_end, month)
        }

        /// What the stock of each place brought, after the warm-up.
        ///
        /// Returns
        /// -------
        /// Table
        ///     One row for the store that the maker fills, whose name is blank, and for each site with a shelf: lamps asked
        ///     for a year, the share that was there, shares of time, means and dark hours, each with its standard error.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_chain(
        /// ...     world, site=["north", "south"], age_hours=[100.0, None], hours_per_week=70.0, as_of="2026-01-01",
        /// ...     limit=limit, planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        /// ...     site_days=2.0, site_stock={"north": 1},
        /// ... )
        /// >>> played.places().frame()["place"].to_list()
        /// ['', 'north', 'south']
        fn places(&self) -> PyResult<Table> {
            Ok(Table(places(&self.0)?))
        }

        /// Costs a year, after the warm-up.
        ///
        /// Returns
        /// -------
        /// Table
        ///     One row for each part and one for the total, with its standard error; no row where `play_chain` was given no
        ///     costs.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_chain(
        /// ...     world, site=["north"], age_hours=[None], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
        /// ...     planned_age_hours=1900.0, on_hand=2, base_stock=2, lead_time_days=20.0, seed=1,
        /// ...     costs=relamp.stock_costs(800.0, per_order=45.0),
        /// ... )
        /// >>> played.costs().frame()["part"].to_list()
        /// ['holding', 'ordering', 'lamps', 'waiting', 'emergencies', 'total']
        fn costs(&self) -> PyResult<Table> {
            Ok(Table(costs(&self.0)?))
        }
    }
}

/// Plays a chain out with its stock, event by event: when lamps are needed, what is on the shelf, and who waits.
///
/// Each screen needs a lamp when its own burns to its failure or to the planned age, by programme hours;
/// the store orders by its rule, and each order takes a lead time of its own. A figure is the mean over the plays, with
/// its standard error. The same seed gives the same bytes on any number of threads.
///
/// Parameters
/// ----------
/// model : World or Draws
///     Causes of failure. With draws each play is of one of them, in their order and again from the first, so that
///     distributions and spreads are mixed over what is not known of the life too; standard errors are those of the
///     plays about the mean over these draws. Take a multiple of their number as `replicates`.
/// site : array-like
///     Names, one for each screen.
/// age_hours : array-like
///     Ages of the lamps at the start of the as-of date, hours; a missing one (None, null) is not known and counts as
///     due.
/// hours_per_week : float or array-like
///     Programme hours of an ordinary week, 0 to 168.
/// as_of : date or str
///     The first day.
/// limit : HourLimit
///     The age that no lamp passes.
/// planned_age_hours : float
///     Age of the planned change, hours above 0; held to the limit.
/// on_hand : int
///     Lamps on the shelf of the store at the start, 0 or more.
/// lead_time_days : float or array-like
///     Days from order to delivery, 0 to 7,310; several are drawn from, for each order by itself.
/// seed : int
///     Seed of the draws, 0 or more.
/// months : int
///     Calendar months to play, 1 to 240; the first runs from the as-of date to its end.
/// weights : array-like, optional
///     How likely each lead time is, a finite weight of at least 0 each; alike without it.
/// base_stock : int, optional
///     One above the order point, 0 or more lamps; without it nothing is ordered.
/// quantity : int
///     Lamps in one order, 1 or more: 1 orders each lamp when it is used.
/// order_up_to : int, optional
///     Position after an order, in place of a quantity, `base_stock` or more lamps.
/// review_days : float
///     Days between two looks at the shelf, 0 to 7,310; 0 where it is watched all the time.
/// site_days : float, optional
///     Days from the store's shelf to a site, 0 to 7,310; without it the store serves every screen at once.
/// site_stock : dict, optional
///     Lamps that a site holds, by its name; a site that is not named holds none.
/// emergency_days : float, optional
///     Days, 0 to 7,310, in which a lamp comes from elsewhere to a screen that would wait; without it a screen waits.
/// emergency_cost : float
///     What one of these costs, 0 to 1e12.
/// while_dark : str
///     'clock_stops': a dark screen burns nothing, and a lamp due on plan burns on until a lamp comes, it fails or it
///     stands at the limit. 'clock_runs': lamps are needed as if one were always there, as by the formulas.
/// costs : StockCosts, optional
///     What holding, ordering and waiting cost.
/// show_hours : float
///     Hours of a show, above 0, to turn dark hours into shows for the costs.
/// programme : array-like, optional
///     Names, one for each screen; a missing one stands for the same hours every day.
/// programmes : dict, optional
///     By name, as for `chain_forecast`.
/// stop : list, optional
///     For each screen when it stops, as for `chain_forecast`.
/// replicates : int
///     Plays of the whole chain, at least 1; standard errors need two.
/// warm_up_days : float
///     Days at the start, 0 or more, that are not counted in the figures of places, orders and costs.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// PlayedChain
///
/// Raises
/// ------
/// InputError
///     For another model than a world or draws, for every wrong row and number of the supply at once, and columns of
///     different length.
/// DomainError
///     For another number of months than 1 to 240, no replicate, and a warm-up as long as the months.
/// LimitError
///     For more plays than one call may hold.
/// RefusedError
///     For a life that reaches below age 0, where no draw gives a world, and where one screen would need thousands of
///     lamps.
///
/// Examples
/// --------
/// Nothing on the shelf, and a screen is dark for the ten days of each order:
///
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=1e9)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
/// >>> played = relamp.play_chain(
/// ...     world, site=["north"], age_hours=[900.0], hours_per_week=70.0, as_of="2026-01-01", limit=limit,
/// ...     planned_age_hours=1000.0, on_hand=0, base_stock=0, lead_time_days=10.0, seed=1, months=3,
/// ... )
/// >>> played.frame()["dark_hours"].round(6).to_list(), played.ever_short
/// ([100.0, 0.0, 0.0], 1.0)
#[pyfunction]
#[pyo3(signature = (model, *, site, age_hours, hours_per_week, as_of, limit, planned_age_hours, on_hand, lead_time_days,
    seed, months=12, weights=None, base_stock=None, quantity=1, order_up_to=None, review_days=0.0, site_days=None,
    site_stock=None, emergency_days=None, emergency_cost=0.0, while_dark="clock_stops", costs=None, show_hours=2.0,
    programme=None, programmes=None, stop=None, replicates=100, warm_up_days=0.0, progress=None))]
pub(super) fn play_chain(
    py: Python<'_>,
    model: &Bound<'_, PyAny>,
    site: &Bound<'_, PyAny>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    as_of: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::planned_age_hours)] planned_age_hours: f64,
    #[pyo3(from_py_with = args::on_hand)] on_hand: u64,
    lead_time_days: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::months)] months: usize,
    weights: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::base_stock_or_none)] base_stock: Option<u64>,
    #[pyo3(from_py_with = args::quantity)] quantity: u64,
    #[pyo3(from_py_with = args::order_up_to)] order_up_to: Option<usize>,
    #[pyo3(from_py_with = args::review_days)] review_days: f64,
    #[pyo3(from_py_with = args::site_days)] site_days: Option<f64>,
    #[pyo3(from_py_with = args::stock_of_sites)] site_stock: Option<std::collections::BTreeMap<String, u64>>,
    #[pyo3(from_py_with = args::emergency_days)] emergency_days: Option<f64>,
    #[pyo3(from_py_with = args::emergency_cost)] emergency_cost: f64,
    #[pyo3(from_py_with = args::while_dark)] while_dark: &str,
    costs: Option<&Bound<'_, PyStockCosts>>,
    #[pyo3(from_py_with = args::show_hours)] show_hours: f64,
    programme: Option<&Bound<'_, PyAny>>,
    programmes: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::stops)] stop: Option<Vec<Bound<'_, PyAny>>>,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    #[pyo3(from_py_with = args::warm_up_days)] warm_up_days: f64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPlayedChain> {
    let given =
        Columns { call: CALL, lamp_class: None, site, age_hours, hours_per_week, depot: None, programme, batch: None };
    let screens = given.screens(stop)?;
    let programmes = programmes_given(CALL, programmes)?;
    let calendar = Calendar::new(day(CALL, as_of, "as_of")?, months)?;
    let together = |column: &str, got: String, expected: &str| {
        refuse("python.together", "these arguments do not go together", CALL, column, &got, expected)
    };
    let rule = match (base_stock, order_up_to) {
        (None, None) if quantity != 1 => {
            return Err(together("quantity", quantity.to_string(), "with base_stock, one above the order point").into());
        }
        (None, None) => None,
        (None, Some(level)) => {
            return Err(together("order_up_to", level.to_string(), "with base_stock, one above the order point").into());
        }
        (Some(base_stock), None) => Some(StockRule::Reorder { base_stock, quantity }),
        (Some(_), Some(_)) if quantity != 1 => {
            return Err(together("quantity", quantity.to_string(), "a quantity or a level, one of the two").into());
        }
        (Some(base_stock), Some(level)) => {
            let order_point = i64::try_from(base_stock).unwrap_or(i64::MAX) - 1;
            Some(StockRule::OrderUpTo { order_point, order_up_to: level as u64 })
        }
    };
    if let (None, Some(stock)) = (site_days, &site_stock) {
        let got = counted(stock.len() as u64, "site");
        return Err(together("site_stock", got, "with site_days, the days from the store to a site").into());
    }
    if emergency_days.is_none() && emergency_cost > 0.0 {
        let expected = "with emergency_days, the days until such a lamp is there";
        return Err(together("emergency_cost", emergency_cost.to_string(), expected).into());
    }
    let waiting = match while_dark {
        "clock_stops" => WhileWaiting::ClockStops,
        "clock_runs" => WhileWaiting::ClockRuns,
        other => {
            let expected = "'clock_stops' or 'clock_runs'";
            return Err(refuse("python.while_dark", "no such word", CALL, "while_dark", other, expected).into());
        }
    };
    let lead = lead_time(lead_time_days, weights)?;
    let draws = model.cast::<PyDraws>().ok().map(Bound::get);
    let best = draws.map(|draws| draws.0.best()).transpose()?;
    let world = model.cast::<PyWorld>().ok().map(Bound::get);
    let Some(world) = best.as_ref().or(world.map(|world| &world.0)) else {
        let expected = "a World or Draws";
        return Err(refuse("python.model", "not a model", CALL, "model", &kind_of(model), expected).into());
    };
    let assumptions = ChainAssumptions {
        screens: &screens,
        programmes: &programmes,
        calendar: &calendar,
        world,
        planned_age_hours,
        limit: &limit.get().0,
        store: Store { on_hand, coming: Vec::new(), rule, lead, review_days },
        sites: site_days.map(|days| SiteShelves { days, stock: site_stock.unwrap_or_default() }),
        emergency: emergency_days.map(|days| EmergencyLamp { days, cost: emergency_cost }),
        waiting,
        costs: costs.map(|c| PlayCosts { stock: c.get().0.clone(), show_hours }),
    };
    let options = ChainPlayOptions { replicates, seed, warm_up_days };
    Ok(PyPlayedChain(work(py, progress, |run| match draws {
        Some(draws) => over_draws(&assumptions, &draws.0, &options, run),
        None => core(&assumptions, &options, run),
    })?))
}
