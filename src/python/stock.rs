//! Rules of ordering at one place: what they give and what they cost.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::{IntoPyDict, PyDict};

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::stock::{
    LeadDemand, LeadTime, Needs, OrderTerms, PriceBreak, Programme, StockCosts, StockPlan, StockPoint, StockRule,
    StockService, best_order_up_to as core_order_up_to, best_reorder as core_reorder, service,
};

use super::arrays::is_number;
use super::demand::PyCount;
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::{Frame, Table};
use super::intake::{At, arguments as args, numbers};
use super::result::result_class;
use super::show::{Facts, facts};
use super::work::work;

const LEAD_DEMAND: Format = Format::new("lead_demand", 1);
const SERVICE: Format = Format::new("stock_service", 1);
const COSTS: Format = Format::new("stock_costs", 1);
const PLAN: Format = Format::new("stock_plan", 1);

fn demand_table(d: &LeadDemand) -> Result<RecordBatch> {
    let each = [d.lead(), d.moment(), d.protected()];
    Frame::default()
        .texts("over", ["lead_time", "at_a_moment", "lead_time_and_review"])
        .numbers("mean", each.map(crate::demand::Count::mean))
        .numbers("sd", each.map(crate::demand::Count::sd))
        .counts("p50", each.map(|c| c.least_with_tail(0.5)))
        .counts("p95", each.map(|c| c.least_with_tail(0.05)))
        .finish()
}

result_class! {
    /// Lamps needed while an order is on its way, and until the next one can be placed; made by `lead_demand`.
    PyLeadDemand holds LeadDemand as "LeadDemand";
    save |d| saved::save(LEAD_DEMAND, d); load |t| saved::load(LEAD_DEMAND, t); table demand_table;
    show |d| facts! {
        "mean": d.lead().mean(), "sd": d.lead().sd(), "needed_a_day": d.a_day(), "lead_time_days": d.lead_days(),
        "review_days": d.review_days(),
    };
    {
        /// Lamps needed over the lead time.
        #[getter]
        fn lead(&self) -> PyCount {
            PyCount(self.0.lead().clone())
        }

        /// Lamps needed since the last order that has arrived, at a moment like any other.
        #[getter]
        fn moment(&self) -> PyCount {
            PyCount(self.0.moment().clone())
        }

        /// Lamps needed over lead time and review period.
        #[getter]
        fn protected(&self) -> PyCount {
            PyCount(self.0.protected().clone())
        }

        /// Mean lamps needed a day.
        #[getter]
        fn needed_a_day(&self) -> f64 {
            self.0.a_day()
        }

        /// Mean lead time, days.
        #[getter]
        fn lead_time_days(&self) -> f64 {
            self.0.lead_days()
        }

        /// Days between two looks at the shelf; 0 where it is watched all the time.
        #[getter]
        fn review_days(&self) -> f64 {
            self.0.review_days()
        }
    }
}

/// One lead time, or several with weights.
pub(super) fn lead_time(days: &Bound<'_, PyAny>, weights: Option<&Bound<'_, PyAny>>) -> PyResult<LeadTime> {
    let at = At { input: "lead_time_days", column: "" };
    let days = if is_number(days) { vec![args::one_number(days, at)?] } else { numbers(days, at)?.all()? };
    let weights = match weights.filter(|w| !w.is_none()) {
        Some(weights) => numbers(weights, At { input: "weights", column: "" })?.all()?,
        None => vec![1.0; days.len()],
    };
    if weights.len() != days.len() {
        let (got, expected) = (counted(weights.len() as u64, "weight"), counted(days.len() as u64, "lead time"));
        let expected = format!("one for each of {expected}");
        return Err(refuse("python.length", "columns of different length", "weights", "", &got, &expected).into());
    }
    Ok(LeadTime::new(&days.into_iter().zip(weights).collect::<Vec<_>>())?)
}

/// Lamps needed while an order is on its way, and until the next one can be placed.
///
/// Several lead times are mixed with their weights, which is exact where orders arrive in the order they were
/// placed. Where they may overtake each other and lamps are needed one at a time by chance, only the mean lead
/// time counts, and the mixture is on the safe side.
///
/// Parameters
/// ----------
/// needed : float or Count
///     Mean lamps needed a day, 0 to 1e6; or the number needed over the lead time, such as
///     `forecast(..., periods=1, period_days=lead_time_days).needed(1)`, with the shelf watched all the time.
/// lead_time_days : float or array-like
///     Days from placing an order to its arrival, 0 to 7,310; several are mixed.
/// weights : array-like, optional
///     How likely each lead time is, a finite weight of at least 0 each; alike without it.
/// review_days : float
///     Days between two looks at the shelf, 0 to 7,310; 0 where it is watched all the time.
/// variance_to_mean : float
///     Variance over mean of the number needed, 1 to 1,000: 1 for lamps needed one at a time by chance, more
///     where they come in batches.
/// judged_at : str
///     When the shelf is judged, where there are reviews: "any_moment" for the mean over the whole review period,
///     "period_ends" for its ends alone, the convention of many textbooks. There fewest lamps are left and most
///     screens wait, so that it counts less holding and more waiting for the same rule.
///
/// Returns
/// -------
/// LeadDemand
///
/// Raises
/// ------
/// InputError
///     For what is not a number or out of range, for weights of another length than the lead times, for a count
///     with a review period or a ratio, and for another word of `judged_at`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> demand = relamp.lead_demand(0.2, lead_time_days=[15.0, 30.0], weights=[2, 1], review_days=7.0)
/// >>> round(demand.lead.mean, 3), round(demand.protected.mean, 3)
/// (4.0, 5.4)
/// >>> round(relamp.lead_demand(relamp.Count.poisson(4.0), lead_time_days=20.0).needed_a_day, 6)
/// 0.2
/// >>> ends = relamp.lead_demand(0.2, lead_time_days=20.0, review_days=7.0, judged_at="period_ends")
/// >>> round(ends.moment.mean, 3)
/// 5.4
#[pyfunction]
#[pyo3(signature = (needed, *, lead_time_days, weights=None, review_days=0.0, variance_to_mean=1.0,
    judged_at="any_moment"))]
pub(super) fn lead_demand(
    needed: &Bound<'_, PyAny>,
    lead_time_days: &Bound<'_, PyAny>,
    weights: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::review_days)] review_days: f64,
    #[pyo3(from_py_with = args::variance_to_mean)] variance_to_mean: f64,
    #[pyo3(from_py_with = args::judged_at)] judged_at: &str,
) -> PyResult<PyLeadDemand> {
    let ends = match judged_at {
        "any_moment" => false,
        "period_ends" => true,
        other => {
            let expected = "any_moment or period_ends";
            return Err(refuse("python.judged_at", "no such word", "judged_at", "", other, expected).into());
        }
    };
    let lead = lead_time(lead_time_days, weights)?;
    if let Ok(count) = needed.cast::<PyCount>() {
        if review_days != 0.0 || variance_to_mean != 1.0 {
            let what = "a count over the lead time says nothing of other times";
            let (name, got) =
                if review_days == 0.0 { ("variance_to_mean", variance_to_mean) } else { ("review_days", review_days) };
            let expected = "lamps needed a day, or no such argument";
            return Err(refuse("python.together", what, name, "", &got.to_string(), expected).into());
        }
        return Ok(PyLeadDemand(LeadDemand::given(&count.get().0, &lead)?));
    }
    let a_day = args::one_number(needed, At { input: "needed", column: "" })?;
    let demand = LeadDemand::new(&Needs::in_batches(a_day, variance_to_mean)?, &lead, review_days)?;
    Ok(PyLeadDemand(if ends { demand.judged_at_period_ends() } else { demand }))
}

fn service_facts(s: &StockService) -> Facts {
    facts! {
        "order_point": s.rule.order_point(), "fill_rate": s.fill_rate,
        "no_stock_out_per_cycle": s.no_stock_out_per_cycle, "no_screen_waiting": s.no_screen_waiting,
        "mean_on_hand": s.mean_on_hand, "mean_waiting": s.mean_waiting, "dark_shows_a_year": s.dark_shows_a_year,
        "orders_a_year": s.orders_a_year, "ready_rate": s.ready_rate, "waiting_sd": s.waiting_sd,
        "mean_wait_days": s.mean_wait_days, "mean_on_order": s.mean_on_order, "needed_a_year": s.needed_a_year,
        "lead_time_days": s.lead_time_days, "review_days": s.review_days,
        "definitions": s.definitions().iter().map(|(name, text)| format!("{name}: {text}")).collect::<Vec<_>>(),
    }
}

fn services(frame: Frame, each: &[&StockService]) -> Frame {
    let quantity = |s: &&StockService| match s.rule {
        StockRule::Reorder { quantity, .. } => Some(quantity),
        StockRule::OrderUpTo { .. } => None,
    };
    let level = |s: &&StockService| match s.rule {
        StockRule::Reorder { .. } => None,
        StockRule::OrderUpTo { order_up_to, .. } => Some(order_up_to),
    };
    let column = |f: fn(&StockService) -> f64| each.iter().map(|s| f(s)).collect::<Vec<_>>();
    frame
        .counts("base_stock", each.iter().map(|s| (s.rule.order_point() + 1).unsigned_abs()))
        .counts_or_null("quantity", each.iter().map(quantity))
        .counts_or_null("order_up_to", each.iter().map(level))
        .numbers("fill_rate", column(|s| s.fill_rate))
        .numbers("ready_rate", column(|s| s.ready_rate))
        .numbers("no_stock_out_per_cycle", column(|s| s.no_stock_out_per_cycle))
        .numbers("no_screen_waiting", column(|s| s.no_screen_waiting))
        .numbers("mean_waiting", column(|s| s.mean_waiting))
        .numbers("mean_on_hand", column(|s| s.mean_on_hand))
        .numbers("orders_a_year", column(|s| s.orders_a_year))
        .numbers_or_null("dark_shows_a_year", each.iter().map(|s| s.dark_shows_a_year))
}

result_class! {
    /// What a rule of ordering gives at one place on the long run; made by `stock_service`.
    ///
    /// Its table has one row. With X lamps needed over the lead time and y the position after ordering, no_screen_waiting
    /// is P(X <= y), fill_rate and ready_rate P(X <= y - 1), no_stock_out_per_cycle P(X <= order point). With reviews X
    /// covers a part of the review period too, and fill rate and the last differ: `definitions` says how, and stands in the
    /// summary.
    PyStockService holds StockService as "StockService";
    save |s| saved::save(SERVICE, s); load |t| saved::load(SERVICE, t);
    table |s| services(Frame::default(), &[s]).finish(); show service_facts;
    {
        /// What each number of service is, by name, as the same words mean other things elsewhere.
        #[getter]
        fn definitions<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
            self.0.definitions().into_py_dict(py)
        }

        /// Position (on hand and on order less lamps waited for) at which one orders: one below the base stock.
        #[getter]
        fn order_point(&self) -> i64 {
            self.0.rule.order_point()
        }

        /// Chance that no screen waits for a lamp while one order is on its way: P(X <= order point), X needed over the
        /// lead time; with reviews P(X <= position), X needed over lead time and review period.
        #[getter]
        fn no_stock_out_per_cycle(&self) -> f64 {
            self.0.no_stock_out_per_cycle
        }

        /// Share of time in which no screen waits for a lamp: P(X <= position).
        #[getter]
        fn no_screen_waiting(&self) -> f64 {
            self.0.no_screen_waiting
        }

        /// Share of the lamps needed that are on the shelf when needed: P(X <= position - 1), exact where lamps are
        /// needed by chance one at a time; with reviews 1 - (added mean waiting over a review period) / (mean needed
        /// in it).
        #[getter]
        fn fill_rate(&self) -> f64 {
            self.0.fill_rate
        }

        /// Share of time with at least one lamp on the shelf: P(X <= position - 1).
        #[getter]
        fn ready_rate(&self) -> f64 {
            self.0.ready_rate
        }

        /// Mean number of screens that wait for a lamp at a moment.
        #[getter]
        fn mean_waiting(&self) -> f64 {
            self.0.mean_waiting
        }

        /// Standard deviation of that number.
        #[getter]
        fn waiting_sd(&self) -> f64 {
            self.0.waiting_sd
        }

        /// Mean lamps on the shelf.
        #[getter]
        fn mean_on_hand(&self) -> f64 {
            self.0.mean_on_hand
        }

        /// Mean days that a need waits, those met at once counted as 0; None where nothing is needed.
        #[getter]
        fn mean_wait_days(&self) -> Option<f64> {
            self.0.mean_wait_days
        }

        /// Orders placed a year of 365.25 days.
        #[getter]
        fn orders_a_year(&self) -> f64 {
            self.0.orders_a_year
        }

        /// Shows lost a year: mean waiting times hours played a year, over the hours of a show; None without a
        /// programme.
        #[getter]
        fn dark_shows_a_year(&self) -> Option<f64> {
            self.0.dark_shows_a_year
        }

        /// Lamps to order now by the rule.
        ///
        /// Parameters
        /// ----------
        /// on_hand, on_order, waiting : int
        ///     Lamps on the shelf, ordered and not yet there, and screens that wait for one; at least 0 each.
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
        /// >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
        /// >>> service = relamp.stock_service(demand, base_stock=3, quantity=4)
        /// >>> service.order(on_hand=2, on_order=1), service.order(on_hand=2), service.order(on_hand=0, waiting=3)
        /// (0, 4, 8)
        #[pyo3(signature = (*, on_hand, on_order=0, waiting=0))]
        fn order(
            &self,
            #[pyo3(from_py_with = args::on_hand)] on_hand: u64,
            #[pyo3(from_py_with = args::on_order)] on_order: u64,
            #[pyo3(from_py_with = args::waiting)] waiting: u64,
        ) -> u64 {
            self.0.rule.order(on_hand, on_order, waiting)
        }
    }
}

/// The programme of a screen, where both its numbers are given.
fn programme(hours_per_week: Option<f64>, show_hours: Option<f64>) -> PyResult<Option<Programme>> {
    match (hours_per_week, show_hours) {
        (None, None) => Ok(None),
        (Some(hours_per_week), Some(show_hours)) => Ok(Some(Programme { hours_per_week, show_hours })),
        (hours, _) => {
            let missing = if hours.is_none() { "hours_per_week" } else { "show_hours" };
            let what = "shows are counted from the hours of a week and the hours of a show";
            Err(refuse("python.together", what, missing, "", "None", "both, or neither").into())
        }
    }
}

/// What a rule of ordering gives at one place: service, waiting, stock and lost shows.
///
/// Without `order_up_to`, `quantity` lamps are ordered, or the least multiple that helps, as soon as the position
/// (on hand and on order less lamps waited for) is below `base_stock`; at reviews, where the demand has any. With
/// `order_up_to`, each review that finds the position below `base_stock` orders up to that level.
///
/// Parameters
/// ----------
/// demand : LeadDemand
///     What `lead_demand` gave.
/// base_stock : int
///     One above the order point, 0 or more lamps.
/// quantity : int
///     Lamps in one order, 1 or more: 1 orders each lamp when it is used.
/// order_up_to : int, optional
///     Position after an order, in place of a quantity, `base_stock` or more lamps.
/// hours_per_week : float, optional
///     Hours a screen plays a week, above 0 and at most 168, to count lost shows.
/// show_hours : float, optional
///     Hours that one show takes, above 0.
///
/// Returns
/// -------
/// StockService
///
/// Raises
/// ------
/// InputError
///     For lamps that are no whole numbers, a quantity of 0, a level below the base stock, a level without
///     reviews, and a programme of which one number is missing or out of range.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
/// >>> service = relamp.stock_service(demand, base_stock=6, hours_per_week=70.0, show_hours=2.5)
/// >>> round(service.fill_rate, 4), round(service.no_screen_waiting, 4), round(service.dark_shows_a_year)
/// (0.7851, 0.8893, 286)
#[pyfunction]
#[pyo3(signature = (demand, *, base_stock, quantity=1, order_up_to=None, hours_per_week=None, show_hours=None))]
pub(super) fn stock_service(
    #[pyo3(from_py_with = args::made::<PyLeadDemand>)] demand: &Bound<'_, PyLeadDemand>,
    #[pyo3(from_py_with = args::base_stock)] base_stock: u64,
    #[pyo3(from_py_with = args::quantity)] quantity: u64,
    #[pyo3(from_py_with = args::order_up_to)] order_up_to: Option<usize>,
    #[pyo3(from_py_with = args::hours_per_week_or_none)] hours_per_week: Option<f64>,
    #[pyo3(from_py_with = args::show_hours_or_none)] show_hours: Option<f64>,
) -> PyResult<PyStockService> {
    let rule = match order_up_to {
        None => StockRule::Reorder { base_stock, quantity },
        Some(_) if quantity != 1 => {
            let what = "an order has a fixed quantity or goes up to a level";
            return Err(refuse("python.together", what, "quantity", "", &quantity.to_string(), "one of the two").into());
        }
        Some(level) => {
            let order_point = i64::try_from(base_stock).unwrap_or(i64::MAX) - 1;
            StockRule::OrderUpTo { order_point, order_up_to: level as u64 }
        }
    };
    Ok(PyStockService(service(&rule, &demand.get().0, programme(hours_per_week, show_hours)?)?))
}

fn costs_table(costs: &StockCosts) -> Result<RecordBatch> {
    Frame::default()
        .counts("from_lamps", costs.prices.iter().map(|p| p.from_lamps))
        .numbers("price", costs.prices.iter().map(|p| p.price))
        .numbers("holding_a_year", costs.prices.iter().map(|p| costs.holding(p.from_lamps)))
        .finish()
}

result_class! {
    /// What holding, ordering and doing without cost; made by `stock_costs`.
    PyStockCosts holds StockCosts as "StockCosts";
    save |s| saved::save(COSTS, s); load |t| saved::load(COSTS, t); table costs_table;
    show |s| facts! {
        "price": s.price(1), "money_rate": s.money_rate, "holding_a_year": s.holding_a_year, "per_order": s.per_order,
        "dark_day": s.dark_day, "dark_show": s.dark_show, "prices": s.prices.len(),
    };
    {
        /// Price of a lamp in an order of so many.
        ///
        /// Parameters
        /// ----------
        /// quantity : int
        ///     Lamps in the order.
        ///
        /// Returns
        /// -------
        /// float
        ///     Price of each of them.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is not a whole number of at least 0.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> costs = relamp.stock_costs({1: 800.0, 12: 760.0})
        /// >>> costs.price(11), costs.price(12)
        /// (800.0, 760.0)
        fn price(&self, #[pyo3(from_py_with = args::quantity)] quantity: u64) -> f64 {
            self.0.price(quantity)
        }
    }
}

/// What holding, ordering and doing without cost, in one currency.
///
/// Parameters
/// ----------
/// price : float or dict
///     Price of one lamp; or prices by the least lamps of an order from which each holds for the whole order, the
///     first from 1: `{1: 800.0, 12: 760.0}`. 0 to 1e12 each.
/// money_rate : float
///     Share of its price that a lamp on the shelf costs a year, 0 to 10.
/// holding_a_year : float
///     What a lamp on the shelf costs a year beside that.
/// per_order : float
///     What an order costs whatever its size.
/// dark_day : float
///     What a day costs on which a screen waits for a lamp.
/// dark_show : float
///     What a lost show costs beside that.
///
/// Returns
/// -------
/// StockCosts
///
/// Raises
/// ------
/// InputError
///     For what is not a number, an amount that is negative or above 1e12, and sizes of orders that do not rise
///     from 1.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.stock_costs({1: 800.0, 12: 760.0}, money_rate=0.1, per_order=60.0).frame().rows()
/// [(1, 800.0, 80.0), (12, 760.0, 76.0)]
#[pyfunction]
#[pyo3(signature = (price, *, money_rate=0.0, holding_a_year=0.0, per_order=0.0, dark_day=0.0, dark_show=0.0))]
pub(super) fn stock_costs(
    price: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::money_rate)] money_rate: f64,
    #[pyo3(from_py_with = args::holding_a_year)] holding_a_year: f64,
    #[pyo3(from_py_with = args::per_order)] per_order: f64,
    #[pyo3(from_py_with = args::dark_day)] dark_day: f64,
    #[pyo3(from_py_with = args::dark_show)] dark_show: f64,
) -> PyResult<PyStockCosts> {
    let at = At { input: "price", column: "" };
    let prices = if let Ok(dict) = price.cast::<PyDict>() {
        let each = dict.iter().map(|(from, price)| {
            let from_lamps = args::from_lamps(&from)?;
            Ok(PriceBreak { from_lamps, price: args::one_number(&price, at)? })
        });
        each.collect::<PyResult<Vec<_>>>()?
    } else {
        vec![PriceBreak { from_lamps: 1, price: args::one_number(price, at)? }]
    };
    let costs = StockCosts { prices, money_rate, holding_a_year, per_order, dark_day, dark_show };
    costs.check()?;
    Ok(PyStockCosts(costs))
}

fn points(each: &[StockPoint]) -> Result<RecordBatch> {
    let column = |f: fn(&StockPoint) -> f64| each.iter().map(f).collect::<Vec<_>>();
    services(Frame::default(), &each.iter().map(|p| &p.service).collect::<Vec<_>>())
        .numbers("price", column(|p| p.price))
        .numbers("stock_money", column(|p| p.stock_money))
        .numbers("holding", column(|p| p.holding))
        .numbers("ordering", column(|p| p.ordering))
        .numbers("shortage", column(|p| p.shortage))
        .numbers("purchase", column(|p| p.purchase))
        .numbers("total", column(|p| p.total))
        .finish()
}

fn plan_facts(p: &StockPlan) -> Facts {
    let (best, s) = (&p.best, &p.best.service);
    let (quantity, order_up_to) = match s.rule {
        StockRule::Reorder { quantity, .. } => (Some(quantity), None),
        StockRule::OrderUpTo { order_up_to, .. } => (None, Some(order_up_to)),
    };
    facts! {
        "order_point": s.rule.order_point(), "quantity": quantity, "order_up_to": order_up_to, "total": best.total,
        "fill_rate": s.fill_rate, "mean_on_hand": s.mean_on_hand, "stock_money": best.stock_money,
        "dark_shows_a_year": s.dark_shows_a_year, "holding": best.holding, "ordering": best.ordering,
        "shortage": best.shortage, "purchase": best.purchase, "sentence": p.sentence, "notes": p.notes,
    }
}

result_class! {
    /// The rule of least cost at one place, and what other stocks cost; made by `best_reorder` and
    /// `best_order_up_to`.
    PyStockPlan holds StockPlan as "StockPlan";
    save |s| saved::save(PLAN, s); load |t| saved::load(PLAN, t); table |p| points(&p.by_stock); show plan_facts;
    {
        /// The rule in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// What stands beside the numbers and could mislead without.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }

        /// What the rule gives.
        #[getter]
        fn service(&self) -> PyStockService {
            PyStockService(self.0.best.service)
        }

        /// Money in the lamps on the shelf, on the mean.
        #[getter]
        fn stock_money(&self) -> f64 {
            self.0.best.stock_money
        }

        /// Cost of the rule a year: holding, ordering, doing without and lamps bought.
        #[getter]
        fn total(&self) -> f64 {
            self.0.best.total
        }

        /// The best base stock at every size of order that was looked at, or at every distance of level and order
        /// point.
        ///
        /// Returns
        /// -------
        /// Table
        ///     The columns of `table`.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
        /// >>> costs = relamp.stock_costs(800.0, money_rate=0.1, per_order=60.0, dark_day=400.0)
        /// >>> relamp.best_reorder(demand, costs).by_quantity().columns[:3]
        /// ['base_stock', 'quantity', 'order_up_to']
        fn by_quantity(&self) -> PyResult<Table> {
            Ok(Table(points(&self.0.by_quantity)?))
        }
    }
}

/// The order point and quantity of least yearly cost at one place, among whole boxes and orders of at least some
/// size.
///
/// The cost is that of ordering, of lamps on the shelf, of screens that wait, and of lamps bought. Every size of
/// order is searched that could cost less, and every price by itself, so the answer is the least.
///
/// Parameters
/// ----------
/// demand : LeadDemand
///     What `lead_demand` gave.
/// costs : StockCosts
///     What `stock_costs` gave; a lamp on the shelf must cost something.
/// least_order : int
///     Least lamps of an order, 1 or more.
/// box_of : int
///     Lamps in a box, 1 or more; orders are whole boxes.
/// hours_per_week : float, optional
///     Hours a screen plays a week, above 0 and at most 168, to count lost shows.
/// show_hours : float, optional
///     Hours that one show takes, above 0.
///
/// Returns
/// -------
/// StockPlan
///     Its table holds every base stock with the best quantity: the cost curve, and stock money against lost
///     shows.
///
/// Raises
/// ------
/// InputError
///     For lamps on the shelf that cost nothing, lost shows with a cost but no programme, an order or a box of 0
///     lamps.
/// LimitError
///     Where the best order would pass two million lamps.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0)
/// >>> costs = relamp.stock_costs(800.0, holding_a_year=80.0, dark_day=2.0)
/// >>> relamp.best_reorder(demand, costs).sentence
/// 'hold 7 lamps on hand and on order; order each lamp when it is used'
#[pyfunction]
#[pyo3(signature = (demand, costs, *, least_order=1, box_of=1, hours_per_week=None, show_hours=None))]
pub(super) fn best_reorder(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyLeadDemand>)] demand: &Bound<'_, PyLeadDemand>,
    #[pyo3(from_py_with = args::made::<PyStockCosts>)] costs: &Bound<'_, PyStockCosts>,
    #[pyo3(from_py_with = args::least_order)] least_order: u64,
    #[pyo3(from_py_with = args::box_of)] box_of: u64,
    #[pyo3(from_py_with = args::hours_per_week_or_none)] hours_per_week: Option<f64>,
    #[pyo3(from_py_with = args::show_hours_or_none)] show_hours: Option<f64>,
) -> PyResult<PyStockPlan> {
    let programme = programme(hours_per_week, show_hours)?;
    let (demand, costs) = (demand.get(), costs.get());
    let terms = OrderTerms { least_order, box_of };
    Ok(PyStockPlan(work(py, None, |_| core_reorder(&demand.0, &costs.0, terms, programme))?))
}

/// The order point and level of least yearly cost where the shelf is looked at once a period: each review that
/// finds the position at or below the order point orders up to the level.
///
/// Parameters
/// ----------
/// demand : LeadDemand
///     What `lead_demand` gave with `review_days` above 0.
/// costs : StockCosts
///     What `stock_costs` gave, with one price; a lamp on the shelf must cost something.
/// hours_per_week : float, optional
///     Hours a screen plays a week, above 0 and at most 168, to count lost shows.
/// show_hours : float, optional
///     Hours that one show takes, above 0.
///
/// Returns
/// -------
/// StockPlan
///     Its table holds every order point with the level as far above it as the best: the cost curve.
///
/// Raises
/// ------
/// InputError
///     For a demand without reviews, several prices, lamps on the shelf that cost nothing, and lost shows with a
///     cost but no programme.
/// LimitError
///     Where levels lie more than 20,000 lamps above the order point.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> demand = relamp.lead_demand(0.2, lead_time_days=20.0, review_days=7.0)
/// >>> costs = relamp.stock_costs(800.0, money_rate=0.1, per_order=60.0, dark_day=400.0)
/// >>> relamp.best_order_up_to(demand, costs).service.order_point >= 8
/// True
#[pyfunction]
#[pyo3(signature = (demand, costs, *, hours_per_week=None, show_hours=None))]
pub(super) fn best_order_up_to(
    py: Python<'_>,
    #[pyo3(from_py_with = args::made::<PyLeadDemand>)] demand: &Bound<'_, PyLeadDemand>,
    #[pyo3(from_py_with = args::made::<PyStockCosts>)] costs: &Bound<'_, PyStockCosts>,
    #[pyo3(from_py_with = args::hours_per_week_or_none)] hours_per_week: Option<f64>,
    #[pyo3(from_py_with = args::show_hours_or_none)] show_hours: Option<f64>,
) -> PyResult<PyStockPlan> {
    let programme = programme(hours_per_week, show_hours)?;
    let (demand, costs) = (demand.get(), costs.get());
    Ok(PyStockPlan(work(py, None, |_| core_order_up_to(&demand.0, &costs.0, programme))?))
}
