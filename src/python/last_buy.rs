//! How many lamps to buy before the type ends, and which used lamps may serve.

use std::collections::BTreeMap;

use arrow_array::RecordBatch;
use pyo3::prelude::*;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::demand::ClassModel;
use crate::stock::{
    BuyCosts, BuyRule, ConvertingScreen, DayChance, EarlierConversion, LastBuy, LastBuyTerms, Reuse, UsedLamp,
    convert_earlier as core_earlier, last_buy as one_world, last_buy_on_calendar, last_buy_over_draws,
    used_spares as used_in_world, used_spares_over_draws,
};

use super::chain::{Dates, apart};
use super::demand::{PyCount, sockets};
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::{Frame, Table};
use super::intake::{At, arguments as args, kind_of, numbers};
use super::lives::ending;
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const LAST_BUY: Format = Format::new("last_buy", 1);

fn curve(b: &LastBuy) -> Result<RecordBatch> {
    let points = b.curve();
    let each = || points.iter();
    Frame::default()
        .counts("lamps", each().map(|p| p.lamps))
        .numbers("shortage_chance", each().map(|p| p.shortage_chance))
        .numbers("expected_short", each().map(|p| p.expected_short))
        .numbers("leftover_chance", each().map(|p| p.leftover_chance))
        .numbers("expected_left", each().map(|p| p.expected_left))
        .numbers_or_null("cost", each().map(|p| p.cost))
        .finish()
}

fn buy_facts(b: &LastBuy) -> Facts {
    facts! {
        "buy": b.buy, "quantity": b.at_quantity.lamps, "on_hand": b.terms.on_hand,
        "shortage_chance": b.held.shortage_chance, "expected_short": b.held.expected_short,
        "expected_left": b.held.expected_left, "mean_needed": b.needed.mean(), "cost": b.held.cost,
        "screens": b.screens, "end_days": b.terms.end_days, "plays": b.played.as_ref().map(|p| p.plays),
        "freed": b.played.as_ref().map(|p| p.freed), "reused": b.played.as_ref().map(|p| p.reused),
        "draws": b.draws.as_ref().map(|d| d.used), "sentence": b.sentence, "notes": b.notes,
    }
}

result_class! {
    /// Lamps to buy once before the type ends; made by `last_buy`.
    ///
    /// Its table holds a row for each quantity: what it leads to in shortage, leftover and cost.
    PyLastBuy holds LastBuy as "LastBuy";
    save |b| saved::save(LAST_BUY, b); load |t| saved::load(LAST_BUY, t); table curve; show buy_facts;
    {
        /// Lamps to buy: the quantity less those on hand.
        #[getter]
        fn buy(&self) -> u64 {
            self.0.buy
        }

        /// The quantity to hold, those on hand included, lamps.
        #[getter]
        fn quantity(&self) -> u64 {
            self.0.at_quantity.lamps
        }

        /// Lamps held once these are bought; more than the quantity where more is on hand.
        #[getter]
        fn held(&self) -> u64 {
            self.0.held.lamps
        }

        /// New lamps taken from the shelf until the end, those found unusable included.
        #[getter]
        fn needed(&self) -> PyCount {
            PyCount(self.0.needed.clone())
        }

        /// The same if no freed lamp were used again and none were lost on the shelf.
        #[getter]
        fn needed_plain(&self) -> PyCount {
            PyCount(self.0.needed_plain.clone())
        }

        /// Share of futures in which the quantity is to suffice: 1 - risk, or the critical ratio of the costs.
        #[getter]
        fn ratio(&self) -> f64 {
            self.0.ratio
        }

        /// Chance that more lamps are needed than held.
        #[getter]
        fn shortage_chance(&self) -> f64 {
            self.0.held.shortage_chance
        }

        /// Mean lamps short.
        #[getter]
        fn expected_short(&self) -> f64 {
            self.0.held.expected_short
        }

        /// Mean lamps left over, usable or not.
        #[getter]
        fn expected_left(&self) -> f64 {
            self.0.held.expected_left
        }

        /// Mean cost of the lamps held and of those short, less money back; None where a risk sets the quantity.
        #[getter]
        fn cost(&self) -> Option<f64> {
            self.0.held.cost
        }

        /// The advice in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }

        /// What may mislead.
        #[getter]
        fn notes(&self) -> Fixed<String> {
            Fixed(self.0.notes.clone())
        }

        /// What the same fleet with some screens converted earlier saves.
        ///
        /// Parameters
        /// ----------
        /// earlier : LastBuy
        ///     The last buy under the same terms, with some screens converted earlier.
        /// screens : int
        ///     How many screens are converted earlier, 1 or more.
        ///
        /// Returns
        /// -------
        /// dict
        ///     `lamps_saved` and `mean_saved`; `cost_saved` and `worth_per_screen`, what converting one of them earlier
        ///     may cost at most, where costs set the quantity.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For last buys that differ in more than the days of conversion.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
        /// >>> def buy(days):
        /// ...     return relamp.last_buy(
        /// ...         world, [500.0, 800.0], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit,
        /// ...         end_days=730.0, convert_days=days, risk=0.05,
        /// ...     )
        /// >>> buy([400.0, 700.0]).saved_by(buy([400.0, 200.0]), screens=1)["lamps_saved"]
        /// 5
        #[pyo3(signature = (earlier, *, screens))]
        fn saved_by<'py>(
            &self,
            py: Python<'py>,
            #[pyo3(from_py_with = args::made::<PyLastBuy>)] earlier: &Bound<'py, PyLastBuy>,
            #[pyo3(from_py_with = args::screens)] screens: usize,
        ) -> PyResult<Bound<'py, PyAny>> {
            let saved = EarlierConversion::between(&self.0, &earlier.get().0, screens)?;
            let dict = pyo3::types::PyDict::new(py);
            dict.set_item("lamps_saved", saved.lamps_saved)?;
            dict.set_item("mean_saved", saved.mean_saved)?;
            dict.set_item("cost_saved", saved.cost_saved)?;
            dict.set_item("worth_per_screen", saved.worth_per_screen)?;
            Ok(dict.into_any())
        }
    }
}

/// A list of (day, chance) pairs.
fn pairs(obj: &Bound<'_, PyAny>, input: &'static str) -> PyResult<Vec<DayChance>> {
    let at = |column| At { input, column };
    let given: Vec<(Bound<'_, PyAny>, Bound<'_, PyAny>)> = obj.extract().map_err(|_| {
        let expected = "a list of pairs of a day and its chance, such as [(300.0, 0.5), (400.0, 0.5)]";
        refuse("python.type", "not a list of pairs", input, "", &kind_of(obj), expected)
    })?;
    given
        .iter()
        .map(|(day, chance)| {
            Ok(DayChance { day: args::one_number(day, at("day"))?, chance: args::one_number(chance, at("chance"))? })
        })
        .collect()
}

/// The days of conversion of each screen: one day, None for no conversion, or pairs of a day and its chance.
fn conversions(obj: Option<&Bound<'_, PyAny>>, screens: usize) -> PyResult<Vec<Vec<DayChance>>> {
    let Some(obj) = obj else { return Ok(vec![Vec::new(); screens]) };
    let input = "convert_days";
    let each: Vec<Bound<'_, PyAny>> = obj.try_iter().and_then(Iterator::collect).map_err(|_| {
        refuse("python.type", "not a list", input, "", &kind_of(obj), "a day, None or pairs for each screen")
    })?;
    if each.len() != screens {
        let got = format!("{} for {}", each.len(), counted(screens as u64, "age"));
        let what = "columns of different length";
        return Err(refuse("python.length", what, input, "", &got, "one for each age").into());
    }
    each.iter()
        .map(|day| {
            if day.is_none() {
                Ok(Vec::new())
            } else if super::arrays::is_number(day) {
                Ok(vec![DayChance { day: args::one_number(day, At { input, column: "" })?, chance: 1.0 }])
            } else {
                pairs(day, input)
            }
        })
        .collect()
}

/// Lamps to buy once, for all that will be needed until the last screen is converted or the time ends.
///
/// A lamp is changed at the planned age or at failure; the lamps needed are the changes of each screen until it is
/// converted or the time ends, as a whole distribution. At a risk the quantity is the least with P(needed > it) at
/// most the risk; by costs the least with P(needed <= quantity) >= (cost_short - price) / (cost_short - money_back),
/// where money comes back for lamps that still work. With `least_hours_left` a lamp freed by conversion goes to the
/// shelf with its age, and is fitted after a failure before a new one. A lamp short counts as had from elsewhere at
/// once.
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
/// end_days : float
///     Days from today until no lamp of the type is needed or to be had any more, 0 to 7,310.
/// convert_days : list, optional
///     For each screen the days from today to its conversion, None for none, or pairs of a day and its chance;
///     what is left of the chances means no conversion before the end.
/// as_of : date or str, optional
///     The first day, at whose start the ages are those given; wanted with a programme or a stop.
/// programme : array-like, optional
///     Names, one for each screen; a missing programme stands for the same hours every day.
/// programmes : dict, optional
///     By name: a dict with by_month (12 factors, January first), spans (first day, last day, factor; 0 for a closure)
///     and growth_per_year (a share).
/// stop : list, optional
///     For each screen None, the first day without a lamp of the class, a pair of days between which it lies evenly,
///     or a dict of days with chances that sum to 1; in place of `convert_days`.
/// risk : float, optional
///     Greatest chance of a shortage, 0 or more and below 1; 0 is taken as one less likely than 1e-12, and a note says
///     what it means. Either this or the three costs.
/// price : float, optional
///     Cost of a lamp in the last buy.
/// cost_short : float, optional
///     Cost of each lamp short, above the price: a lamp from elsewhere, an earlier conversion or lost shows.
/// money_back : float, optional
///     Money back for each usable lamp left, below the price; a cost where below 0.
/// on_hand : int
///     New lamps on the shelf today.
/// used_age_hours : array-like, optional
///     Hours burned by the used lamps on the shelf today, missing where not known. After a failure the one with the
///     most hours left is fitted before a new lamp; it keeps its age.
/// used_ending : list of str, optional
///     Why each was taken out: 'planned', 'moved' and 'converted' serve with hours left below the planned age, and with
///     at least `least_hours_left` where that is given; others do not.
/// slip : list, optional
///     Pairs of a shift in days of all conversions alike and its chance, the chances summing to 1.
/// least_hours_left : float, optional
///     Hours below the planned age from which a freed lamp is used again; without it none is.
/// shelf_loss_per_year : float
///     Share of stored lamps that becomes unusable in a year, 0 or more and below 1.
/// plays : int
///     How many times the fleet is played where lamps are reused or lost on the shelf, 100 to a million.
/// seed : int
///     Seed of the plays.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// LastBuy
///
/// Raises
/// ------
/// InputError
///     For another model than a world or draws, a conversion before today, chances outside 0 to 1 or summing to more
///     than 1, costs out of order, and whatever else is out of range.
/// DomainError
///     For an end further than 20 years.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
/// >>> buy = relamp.last_buy(
/// ...     world, [500.0, 800.0, None], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
/// ...     convert_days=[400.0, [(300.0, 0.5), (500.0, 0.5)], None], risk=0.05,
/// ... )
/// >>> buy.buy, buy.shortage_chance < 0.05
/// (18, True)
///
/// By dates, with half the hours from June to August:
///
/// >>> dated = relamp.last_buy(
/// ...     world, [500.0, 800.0, None], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
/// ...     as_of="2026-01-01", programme=["summer"] * 3,
/// ...     programmes={"summer": {"by_month": [1.0] * 5 + [0.5] * 3 + [1.0] * 4}},
/// ...     stop=["2027-02-05", {"2026-10-28": 0.5, "2027-05-16": 0.5}, None], risk=0.05,
/// ... )
/// >>> dated.buy < buy.buy
/// True
///
/// Two used lamps on the shelf, of which the one that failed does not serve:
///
/// >>> used = relamp.last_buy(
/// ...     world, [500.0, 800.0, None], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
/// ...     risk=0.05, used_age_hours=[300.0, 200.0], used_ending=["converted", "flicker"],
/// ... )
/// >>> used.notes[0].startswith("1 of 2 used lamps on the shelf may serve after failures")
/// True
#[pyfunction]
#[pyo3(signature = (model, age_hours, *, hours_per_week, planned_age_hours, limit, end_days, convert_days=None,
    as_of=None, programme=None, programmes=None, stop=None, risk=None, price=None, cost_short=None, money_back=None,
    on_hand=0, used_age_hours=None, used_ending=None, slip=None, least_hours_left=None, shelf_loss_per_year=0.0,
    plays=4000, seed=1, progress=None))]
pub(super) fn last_buy(
    py: Python<'_>,
    model: &Bound<'_, PyAny>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::planned_age_hours)] planned_age_hours: f64,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::end_days)] end_days: f64,
    convert_days: Option<&Bound<'_, PyAny>>,
    as_of: Option<&Bound<'_, PyAny>>,
    programme: Option<&Bound<'_, PyAny>>,
    programmes: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::stops)] stop: Option<Vec<Bound<'_, PyAny>>>,
    #[pyo3(from_py_with = args::risk)] risk: Option<f64>,
    #[pyo3(from_py_with = args::price_or_none)] price: Option<f64>,
    #[pyo3(from_py_with = args::cost_short)] cost_short: Option<f64>,
    #[pyo3(from_py_with = args::money_back)] money_back: Option<f64>,
    #[pyo3(from_py_with = args::on_hand)] on_hand: u64,
    used_age_hours: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::used_endings_or_none)] used_ending: Option<Vec<String>>,
    slip: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::least_hours_left)] least_hours_left: Option<f64>,
    #[pyo3(from_py_with = args::shelf_loss_per_year)] shelf_loss_per_year: f64,
    #[pyo3(from_py_with = args::plays)] plays: usize,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyLastBuy> {
    let sockets = sockets("last_buy", age_hours, hours_per_week)?;
    if convert_days.is_some() && (programme.is_some() || stop.is_some()) {
        let expected = "days of conversion as stop, which goes with as_of and programme";
        return Err(apart("last_buy", "convert_days", "convert_days", expected).into());
    }
    let dated = Dates { call: "last_buy", as_of, programme, programmes, stop }.of(&sockets)?;
    let conversions = conversions(convert_days, sockets.len())?;
    let screens: Vec<ConvertingScreen> = sockets
        .into_iter()
        .zip(conversions)
        .map(|(socket, conversion)| ConvertingScreen { socket, conversion })
        .collect();
    let rule = match (risk, price, cost_short, money_back) {
        (Some(risk), None, None, None) => BuyRule::Risk(risk),
        (None, Some(price), Some(cost_short), Some(money_back)) => {
            BuyRule::Costs(BuyCosts { price, cost_short, money_back })
        }
        _ => {
            let what = "one rule sets the quantity";
            let expected = "risk, or all of price, cost_short and money_back";
            return Err(refuse("python.buy_rule", what, "last_buy", "", "another mix of arguments", expected).into());
        }
    };
    let slip = slip.map_or_else(|| Ok(Vec::new()), |s| pairs(s, "slip"))?;
    let reuse = least_hours_left.map(|least_hours_left| Reuse { least_hours_left });
    let used_lamps = match (used_age_hours, used_ending) {
        (None, None) => Vec::new(),
        (Some(ages), Some(endings)) => used("last_buy", ("used_age_hours", ages), ("used_ending", &endings))?,
        _ => {
            let (what, expected) = ("used_age_hours, used_ending", "both or neither");
            return Err(apart("last_buy", what, "one of them", expected).into());
        }
    };
    let on_shelf = LastBuyTerms { on_hand, used_lamps, ..LastBuyTerms::new(end_days, planned_age_hours, rule) };
    let terms = LastBuyTerms { slip, reuse, shelf_loss_per_year, plays, seed, ..on_shelf };
    let limit = &limit.get().0;
    let buy = if let Ok(draws) = model.cast::<PyDraws>() {
        let draws = draws.get();
        work(py, progress, |run| match &dated {
            Some(dated) => last_buy_on_calendar(&dated.given(), ClassModel::Draws(&draws.0), limit, &terms, run),
            None => last_buy_over_draws(&screens, &draws.0, limit, &terms, run),
        })?
    } else if let Ok(world) = model.cast::<PyWorld>() {
        let world = world.get();
        work(py, progress, |run| match &dated {
            Some(dated) => last_buy_on_calendar(&dated.given(), ClassModel::World(&world.0), limit, &terms, run),
            None => one_world(&screens, &world.0, limit, &terms, run),
        })?
    } else {
        return Err(no_model("last_buy", model));
    };
    Ok(PyLastBuy(buy))
}

/// Used lamps, column by column.
fn used(
    input: &str,
    (column, ages): (&str, &Bound<'_, PyAny>),
    (of_endings, endings): (&'static str, &[String]),
) -> PyResult<Vec<UsedLamp>> {
    let ages = numbers(ages, At { input, column })?.optional()?;
    if ages.len() != endings.len() {
        let got = format!("{} for {}", endings.len(), counted(ages.len() as u64, "age"));
        let what = "columns of different length";
        return Err(refuse("python.length", what, input, of_endings, &got, "one for each age").into());
    }
    let endings = endings.iter().map(|w| ending(of_endings, w)).collect::<Result<Vec<_>>>()?;
    Ok(ages.into_iter().zip(endings).map(|(age_hours, ending)| UsedLamp { age_hours, ending }).collect())
}

fn no_model(input: &str, model: &Bound<'_, PyAny>) -> PyErr {
    refuse("python.model", "not a model", input, "model", &kind_of(model), "a World or Draws").into()
}

/// Last buys side by side, the first one the base of what the others save.
///
/// Parameters
/// ----------
/// buys : dict
///     `LastBuy` by a name of the scenario.
///
/// Returns
/// -------
/// Table
///     One row for each: lamps to buy and held, mean needed, chance of a shortage, mean lamps short and left, cost, and
///     the lamps held less than in the first.
///
/// Raises
/// ------
/// InputError
///     For no scenario, or what is no `LastBuy`.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=1000.0, source="invented data sheet")
/// >>> def buy(day):
/// ...     return relamp.last_buy(
/// ...         world, [500.0, 800.0], hours_per_week=70.0, planned_age_hours=1000.0, limit=limit, end_days=730.0,
/// ...         convert_days=[day, day], risk=0.05,
/// ...     )
/// >>> table = relamp.compare_last_buys({"as planned": buy(700.0), "a year earlier": buy(335.0)})
/// >>> table.frame()["lamps_saved"].to_list()
/// [0.0, 7.0]
#[pyfunction]
pub(super) fn compare_last_buys(buys: &Bound<'_, PyAny>) -> PyResult<Table> {
    let wrong =
        |got: &str| refuse("python.type", "not last buys by name", "buys", "", got, "a dict of LastBuy by name");
    let given = buys.cast::<pyo3::types::PyDict>().map_err(|_| wrong(&kind_of(buys)))?;
    let mut all: Vec<(String, LastBuy)> = Vec::new();
    for (name, buy) in given {
        let name: String = name.extract().map_err(|_| wrong(&kind_of(&name)))?;
        let buy = buy.cast::<PyLastBuy>().map_err(|_| wrong(&kind_of(&buy)))?;
        all.push((name, buy.get().0.clone()));
    }
    let Some(base) = all.first().map(|(_, b)| b.held.lamps as f64) else { return Err(wrong("none").into()) };
    let each = || all.iter().map(|(_, b)| b);
    let frame = Frame::default()
        .texts("scenario", all.iter().map(|(name, _)| name))
        .counts("buy", each().map(|b| b.buy))
        .counts("held", each().map(|b| b.held.lamps))
        .numbers("mean_needed", each().map(|b| b.needed.mean()))
        .numbers("shortage_chance", each().map(|b| b.held.shortage_chance))
        .numbers("expected_short", each().map(|b| b.held.expected_short))
        .numbers("expected_left", each().map(|b| b.held.expected_left))
        .numbers_or_null("cost", each().map(|b| b.held.cost))
        .numbers("lamps_saved", each().map(|b| base - b.held.lamps as f64))
        .finish()?;
    Ok(Table(frame))
}

/// Days of conversion with some screens converted earlier, in the form that `last_buy` takes.
///
/// Parameters
/// ----------
/// convert_days : list
///     Days of conversion as for `last_buy`.
/// earlier : dict
///     New day, in days from today, by the place of the screen in the list, from 0. A day that was sooner stays.
///
/// Returns
/// -------
/// list
///     Pairs of a day and its chance for each screen.
///
/// Raises
/// ------
/// InputError
///     For a screen that is not in the list, and a day before today.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> relamp.convert_earlier([[(50.0, 0.4), (500.0, 0.6)], None], {0: 100.0})
/// [[(50.0, 0.4), (100.0, 0.6)], []]
#[pyfunction]
pub(super) fn convert_earlier(
    convert_days: &Bound<'_, PyAny>,
    earlier: &Bound<'_, PyAny>,
) -> PyResult<Vec<Vec<(f64, f64)>>> {
    let screens = convert_days.len().unwrap_or(0);
    let conversions = conversions(Some(convert_days), screens)?;
    let socket = crate::demand::SocketToday { age_hours: None, hours_per_week: 0.0 };
    let mut all: Vec<ConvertingScreen> =
        conversions.into_iter().map(|conversion| ConvertingScreen { socket: socket.clone(), conversion }).collect();
    let given: BTreeMap<usize, Bound<'_, PyAny>> = earlier.extract().map_err(|_| {
        let expected = "a dict of days by place, such as {0: 100.0}";
        refuse("python.type", "not a dict by place", "earlier", "", &kind_of(earlier), expected)
    })?;
    for (row, day) in given {
        let day = args::one_number(&day, At { input: "earlier", column: "day" })?;
        all = core_earlier(&all, &[row], day)?;
    }
    Ok(all.iter().map(|s| s.conversion.iter().map(|d| (d.day, d.chance)).collect()).collect())
}

/// Used lamps as emergency spares: which may serve, and the chance that each lasts until the next delivery.
///
/// A lamp may serve only if it was taken out on plan, to be moved or for a conversion, with hours left below the limit.
/// It keeps its age. lasts = R(a + u) / R(a) where a + u is within the limit, else 0; a: hours burned, u: hours until
/// the delivery.
///
/// Parameters
/// ----------
/// model : World or Draws
///     With draws, chances are means over draws.
/// age_hours : array-like
///     Hours burned; a missing one (None, null) is not known, and the lamp may not serve.
/// ending : list of str
///     Why each was taken out, words of `ENDINGS`.
/// limit : HourLimit
///     The age that no lamp may pass.
/// until_hours : float
///     Programme hours until the next delivery, at least 0.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// Table
///     One row for each lamp, in order: age, ending, verdict (`serves`, `reaches_limit`, `at_limit`, `ending` or
///     `age_unknown`), hours left below the limit, chance to last, mean hours it would burn until then.
///
/// Raises
/// ------
/// InputError
///     For another model than a world or draws, ages below 0, a word that is no ending, and columns of unequal length.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> spares = relamp.used_spares(
/// ...     world, [900.0, 900.0, 1990.0], ending=["converted", "flicker", "planned"], limit=limit, until_hours=100.0
/// ... )
/// >>> spares.frame()["verdict"].to_list()
/// ['serves', 'ending', 'reaches_limit']
#[pyfunction]
#[pyo3(signature = (model, age_hours, *, ending, limit, until_hours, progress=None))]
pub(super) fn used_spares(
    py: Python<'_>,
    model: &Bound<'_, PyAny>,
    age_hours: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::used_endings)] ending: Vec<String>,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::until_hours)] until_hours: f64,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<Table> {
    let lamps = used("used_spares", ("age_hours", age_hours), ("ending", &ending))?;
    let limit = &limit.get().0;
    let spares = if let Ok(draws) = model.cast::<PyDraws>() {
        let draws = draws.get();
        work(py, progress, |run| used_spares_over_draws(&lamps, &draws.0, limit, until_hours, run))?
    } else if let Ok(world) = model.cast::<PyWorld>() {
        let world = world.get();
        work(py, progress, |_| used_in_world(&lamps, &world.0, limit, until_hours))?
    } else {
        return Err(no_model("used_spares", model));
    };
    let each = || spares.iter();
    let frame = Frame::default()
        .numbers_or_null("age_hours", each().map(|s| s.lamp.age_hours))
        .texts("ending", each().map(|s| s.lamp.ending.as_str()))
        .texts("verdict", each().map(|s| word(&s.verdict)))
        .numbers("hours_left", each().map(|s| s.hours_left))
        .numbers("lasts", each().map(|s| s.lasts))
        .numbers("mean_hours", each().map(|s| s.mean_hours))
        .finish()?;
    Ok(Table(frame))
}
