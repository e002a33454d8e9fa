//! Purchase lists: orders with their days and their money.

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::days::MOST_WHOLE_DAYS;
use crate::base::saved::{self, Format};
use crate::stock::{
    Arrival, NeededBy, PurchaseList, PurchaseOrder, PurchaseTerms, purchase_list as core_purchase_list,
};

use super::chain::PyChainForecast;
use super::demand::{PyCount, PyForecast};
use super::error::refuse;
use super::frames::Frame;
use super::intake::{At, arguments as args, kind_of};
use super::result::result_class;
use super::show::{Facts, facts};

const LIST: Format = Format::new("purchase_list", 1);

fn list_facts(l: &PurchaseList) -> Facts {
    facts! {
        "order_now": l.now.order_lamps, "order_in_all": l.order_lamps, "price": l.price,
        "orders": l.orders().count(), "last_order_day": l.last_order_day,
        "service_target": l.terms.service_target, "sentence": l.sentence,
    }
}

fn list_table(l: &PurchaseList) -> Result<RecordBatch> {
    let each = || l.periods.iter();
    let order = |of: fn(&PurchaseOrder) -> u64| each().map(move |p| p.order.as_ref().map(of));
    Frame::default()
        .counts("to_day", each().map(|p| u64::from(p.to_day)))
        .counts("level_by_end", each().map(|p| p.level_by_end))
        .counts("lamps_by_end", each().map(|p| p.lamps_by_end))
        .counts("too_late_lamps", each().map(|p| p.too_late_lamps))
        .numbers("service_by_end", each().map(|p| p.service_by_end))
        .numbers("service_without_orders", each().map(|p| p.service_without_orders))
        .counts_or_null("order_day", order(|o| u64::from(o.order_day)))
        .counts_or_null("least_lamps", order(|o| o.least_lamps))
        .counts_or_null("order_lamps", order(|o| o.order_lamps))
        .numbers_or_null("price", each().map(|p| p.order.as_ref().map(|o| o.price)))
        .finish()
}

result_class! {
    /// What to order now and for each coming period; made by `purchase_list`.
    ///
    /// Its table holds a period a row: lamps needed and there by its end, and the order for it. The order of today
    /// stands beside them, in `order_now`.
    PyPurchaseList holds PurchaseList as "PurchaseList";
    save |l| saved::save(LIST, l); load |t| saved::load(LIST, t); table list_table; show list_facts;
    {
        /// The list in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// Lamps to order today: what the stock level over the lead time asks for, in whole boxes.
        #[getter]
        fn order_now(&self) -> u64 {
            self.0.now.order_lamps
        }

        /// Lamps of all orders.
        #[getter]
        fn order_lamps(&self) -> u64 {
            self.0.order_lamps
        }

        /// Their price.
        #[getter]
        fn price(&self) -> f64 {
            self.0.price
        }

        /// Last day on which an order can be part of the list: later ones are for needs past the last period.
        #[getter]
        fn last_order_day(&self) -> u32 {
            self.0.last_order_day
        }
    }
}

/// A forecast by periods of days; what to ask in place of one by months of a chain is told.
fn of_periods<'a, 'py>(obj: &'a Bound<'py, PyAny>) -> PyResult<&'a Bound<'py, PyForecast>> {
    let (call, what) = ("purchase_list", "not a forecast by periods of days");
    obj.cast::<PyForecast>().map_err(|_| {
        let expected = if obj.is_instance_of::<PyChainForecast>() {
            "a relamp.Forecast: months depend on each other and cannot be added up; give forecast the rows of these screens \
             with the same as_of, programme, programmes and stop"
        } else {
            "a relamp.Forecast, as forecast makes it"
        };
        refuse("python.type", what, call, "forecast", &kind_of(obj), expected).into()
    })
}

/// Days of the ends of the periods, whole.
fn ends(forecast: &crate::demand::Forecast) -> Vec<u32> {
    (1..=forecast.periods.len()).map(|i| (i as f64 * forecast.period_days).round() as u32).collect()
}

/// Lamps on order that come after the lead time.
fn arrivals(obj: Option<&Bound<'_, PyAny>>) -> PyResult<Vec<Arrival>> {
    let Some(obj) = obj else { return Ok(Vec::new()) };
    let input = "on_order_later";
    let wrong = |got: &str| {
        let expected = "a list of pairs of a day and the lamps that come on it, such as [(40, 6)]";
        refuse("python.type", "not a list of pairs", input, "", got, expected)
    };
    let pairs: Vec<(Bound<'_, PyAny>, Bound<'_, PyAny>)> = obj.extract().map_err(|_| wrong(&kind_of(obj)))?;
    let each = pairs.iter().map(|(day, lamps)| {
        let day = args::count(day, At { input, column: "day" })?;
        let day = u32::try_from(day).map_err(|_| wrong(&day.to_string()))?;
        Ok(Arrival { day, lamps: args::count(lamps, At { input, column: "lamps" })? })
    });
    each.collect()
}

/// What to order now and for each coming period, so that the chance of a shortage stays within the target.
///
/// Today's order is that of `stock_level`. Each later one comes on the day on which the level of the needs so far
/// passes the lamps bought before, less the lead time; that day errs on the early side by less than a period, so
/// forecast by weeks to have it near. A box or a smallest order may ask for more, which serves later periods. The
/// chance of a shortage is that of each period's end by itself, from today on.
///
/// A `chain_forecast` is no input: orders follow needs from today to the end of a day, and its months depend on each
/// other, so that needs to an end of a month are no sum of theirs. For a class, a depot or a site of a chain give
/// `forecast` the rows of its screens with the same as_of, programme, programmes and stop: it counts the same lamps,
/// as the last example shows.
///
/// Parameters
/// ----------
/// forecast : Forecast
///     Lamps needed in the coming periods, of `forecast`, with programme hours and stops if given there.
/// over_lead : Count
///     Lamps needed over the lead time: `forecast(..., periods=1, period_days=lead_time_days).needed(1)`.
/// lead_time_days : int
///     Days from order to delivery, 0 or more.
/// service_target : float
///     Wanted chance of no shortage from today to each period's end, above 0 and at most 1.
/// price : float
///     Price of a lamp, in money, at least 0.
/// on_hand, on_order : int
///     Lamps on the shelf, and ordered to arrive within the lead time.
/// on_order_later : list, optional
///     Pairs of a day, counted from today, after the lead time, and the lamps ordered before that come on it. Where no
///     period ends on the day before, its needs are taken as those to the end of the period, which is on the safe side.
/// box_lamps, minimum_order_lamps : int
///     Lamps in a box, of which only whole ones are sold, and fewest lamps in an order; 1 or more.
///
/// Returns
/// -------
/// PurchaseList
///
/// Raises
/// ------
/// InputError
///     For another forecast than of `forecast`, for periods of less than a day, and for a number out of its range.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=2400.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> lamps = {"hours_per_week": 70.0, "planned_age_hours": 2000.0, "limit": limit}
/// >>> ages = [100.0 * i for i in range(20)]
/// >>> weeks = relamp.forecast(world, ages, **lamps, periods=12, period_days=7.0)
/// >>> lead = relamp.forecast(world, ages, **lamps, periods=1, period_days=21.0).needed(1)
/// >>> terms = {"lead_time_days": 21, "service_target": 0.95, "price": 780.0}
/// >>> plan = relamp.purchase_list(weeks, lead, **terms, on_hand=1)
/// >>> plan.order_now == relamp.stock_level(lead, service_target=0.95, on_hand=1).order
/// True
/// >>> in_boxes = relamp.purchase_list(weeks, lead, **terms, on_hand=1, box_lamps=6)
/// >>> in_boxes.order_now % 6, in_boxes.order_lamps >= plan.order_lamps
/// (0, True)
///
/// Lamps that come on day 50 take the place of later orders:
///
/// >>> fewer = relamp.purchase_list(weeks, lead, **terms, on_hand=1, on_order_later=[(50, 2)])
/// >>> fewer.order_now == plan.order_now, fewer.order_lamps < plan.order_lamps
/// (True, True)
///
/// One site of a chain by the calendar, from the rows of its screens; the chain forecast counts the same lamps:
///
/// >>> site = ["north"] * 12 + ["south"] * 8
/// >>> dates = {"as_of": "2026-01-01", "programmes": {"winter": {"spans": [("2026-01-12", "2026-01-25", 0.0)]}}}
/// >>> chain = relamp.chain_forecast(
/// ...     {"2 kW": (world, 2000.0, limit)}, lamp_class=["2 kW"] * 20, site=site, age_hours=ages, hours_per_week=70.0,
/// ...     months=3, programme=["winter"] * 20, **dates,
/// ... )
/// >>> rows = [i for i, name in enumerate(site) if name == "south"]
/// >>> of_site = {**lamps, **dates, "programme": ["winter"] * len(rows)}
/// >>> days = relamp.forecast(world, [ages[i] for i in rows], **of_site, periods=15, period_days=6.0)
/// >>> by_site = relamp.forecast(world, [ages[i] for i in rows], **of_site, periods=1, period_days=21.0).needed(1)
/// >>> abs(days.needed_by_end(15).mean - chain.count("2 kW", site="south").mean) < 0.01
/// True
/// >>> of_days = relamp.purchase_list(days, by_site, **terms, on_hand=1)
/// >>> of_days.order_now == relamp.stock_level(by_site, service_target=0.95, on_hand=1).order
/// True
#[pyfunction]
#[pyo3(signature = (
    forecast, over_lead, *, lead_time_days, service_target, price, on_hand=0, on_order=0, on_order_later=None,
    box_lamps=1, minimum_order_lamps=1,
))]
#[allow(clippy::too_many_arguments, reason = "each is an argument of the call")]
pub(super) fn purchase_list(
    forecast: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::made::<PyCount>)] over_lead: &Bound<'_, PyCount>,
    #[pyo3(from_py_with = args::whole_lead_time_days)] lead_time_days: u64,
    #[pyo3(from_py_with = args::service_target)] service_target: f64,
    #[pyo3(from_py_with = args::price)] price: f64,
    #[pyo3(from_py_with = args::on_hand)] on_hand: u64,
    #[pyo3(from_py_with = args::on_order)] on_order: u64,
    on_order_later: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::box_lamps)] box_lamps: u64,
    #[pyo3(from_py_with = args::minimum_order_lamps)] minimum_order_lamps: u64,
) -> PyResult<PyPurchaseList> {
    let forecast = &of_periods(forecast)?.get().0;
    let Some(lead) = u32::try_from(lead_time_days).ok().filter(|d| *d <= u32::from(MOST_WHOLE_DAYS)) else {
        let got = lead_time_days.to_string();
        let (what, expected) = ("not a lead time", "whole days, at most 7,310");
        return Err(refuse("stock.lead_time", what, "lead_time_days", "", &got, expected).into());
    };
    let ends = ends(forecast);
    let mut needed: Vec<NeededBy> = ends
        .iter()
        .zip(&forecast.periods)
        .filter(|(day, _)| **day != lead)
        .map(|(day, p)| NeededBy { day: *day, needed: p.needed_by_end.clone() })
        .collect();
    needed.push(NeededBy { day: lead, needed: over_lead.get().0.clone() });
    needed.sort_by_key(|n| n.day);
    let on_order_later = arrivals(on_order_later)?;
    for arrival in &on_order_later {
        let eve = arrival.day.saturating_sub(1);
        let at = needed.partition_point(|n| n.day < eve);
        // Lamps needed by a later day are no fewer.
        if let Some(next) = needed.get(at).filter(|n| n.day != eve && eve > lead).map(|n| n.needed.clone()) {
            needed.insert(at, NeededBy { day: eve, needed: next });
        }
    }
    let terms = PurchaseTerms {
        on_hand,
        on_order,
        on_order_later,
        lead_time_days: lead,
        service_target,
        price_each: price,
        box_lamps,
        minimum_order_lamps,
    };
    Ok(PyPurchaseList(core_purchase_list(&needed, &ends, &terms)?))
}
