//! Planned ages where costs are known to ranges, and how lamps end by age.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::{PyDict, PyString};

use crate::Result;
use crate::base::saved::{self, Format};
use crate::empirical::CurveOptions;
use crate::fit::Draws;
use crate::policy::{
    AgeComparison, AgeOptions, CostBars, EndingsAt, LeastRegret, PricedDraws, compare_ages as core_compare,
    cost_bars as core_bars, curve_world as core_curve_world, endings_by_age as core_endings,
    least_regret as core_regret,
};
use crate::records::Ending;
use crate::terms::{CostParts, Discount, Span};

use super::empirical::reading_of;
use super::error::refuse;
use super::frames::Frame;
use super::intake::{At, arguments as args, kind_of};
use super::lives::{PyTally, ending};
use super::money::{PyDarkMinutes, PyDiscount, PyWarranty, objective as read_objective};
use super::policy::{PyPlannedAge, ages_or_even, word};
use super::result::result_class;
use super::salvage::PySalvage;
use super::show::{Facts, facts};
use super::terms::{PyCosts, PyHourLimit};
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const PARTS: Format = Format::new("cost_parts", 1);
const COMPARISON: Format = Format::new("age_comparison", 1);
const REGRET: Format = Format::new("least_regret", 1);
const BARS: Format = Format::new("cost_bars", 1);
const ENDINGS: Format = Format::new("endings_by_age", 1);

fn parts_table(p: &CostParts) -> Result<RecordBatch> {
    let parts = p.parts();
    Frame::default()
        .texts("part", parts.iter().map(|(name, _)| name.as_str()))
        .numbers("low", parts.iter().map(|(_, span)| span.low))
        .numbers("high", parts.iter().map(|(_, span)| span.high))
        .finish()
}

fn parts_facts(p: &CostParts) -> Facts {
    let middle = p.middle().ok();
    let endings: Vec<&str> = p.dark().by_ending().keys().map(|e| e.as_str()).collect();
    facts! {
        "parts": p.parts().len(), "endings": endings, "planned_in_the_middle": middle.as_ref().map(crate::terms::Costs::planned),
    }
}

result_class! {
    /// What a change costs, made of its parts, each known or known to a range; made by `cost_parts`.
    PyCostParts holds CostParts as "CostParts";
    save |p| saved::save(PARTS, p); load |t| saved::load(PARTS, t); table parts_table; show parts_facts;
    {
        /// Costs with every part in the middle of its range.
        ///
        /// Returns
        /// -------
        /// Costs
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> dark = relamp.dark_minutes(45.0, burst=360.0)
        /// >>> parts = relamp.cost_parts(
        /// ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark
        /// ... )
        /// >>> parts.middle().planned, parts.middle().failure("burst")
        /// (980.0, 1700.0)
        fn middle(&self) -> PyResult<PyCosts> {
            Ok(PyCosts(self.0.middle()?))
        }

        /// Costs drawn from the ranges, all values between two ends equally likely.
        ///
        /// Parameters
        /// ----------
        /// seed : int
        ///     Seed of the draws, from 0.
        /// replicate : int
        ///     From 0, the first.
        ///
        /// Returns
        /// -------
        /// Costs
        ///     The same for the same seed and replicate.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For what is no whole number.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> dark = relamp.dark_minutes(45.0, burst=360.0)
        /// >>> parts = relamp.cost_parts(
        /// ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark
        /// ... )
        /// >>> costs = parts.drawn(seed=1, replicate=0)
        /// >>> 880.0 <= costs.planned <= 1080.0, costs == parts.drawn(seed=1, replicate=0)
        /// (True, True)
        #[pyo3(signature = (*, seed, replicate))]
        fn drawn(
            &self,
            #[pyo3(from_py_with = args::seed)] seed: u64,
            #[pyo3(from_py_with = args::replicate)] replicate: usize,
        ) -> PyResult<PyCosts> {
            Ok(PyCosts(self.0.drawn(seed, replicate)?))
        }
    }
}

/// A part: a number, or the two ends of a range.
fn span(given: &Bound<'_, PyAny>, name: &str) -> PyResult<Span> {
    let at = At { input: "cost_parts", column: name };
    let pair = !given.is_instance_of::<PyString>() && given.len().is_ok_and(|n| n == 2);
    if pair && let Ok((low, high)) = given.extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>() {
        return Ok(Span { low: args::one_number(&low, at)?, high: args::one_number(&high, at)? });
    }
    Ok(Span::known(args::one_number(given, at)?))
}

/// A discount rate, or the two ends of a range.
fn rates(given: &Bound<'_, PyAny>) -> PyResult<(Discount, Discount)> {
    let one = |each: &Bound<'_, PyAny>| each.cast::<PyDiscount>().ok().map(|d| d.get().0);
    let pair = given.extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>().ok();
    let found = one(given).map(|d| (d, d)).or_else(|| pair.and_then(|(low, high)| Some((one(&low)?, one(&high)?))));
    let expected = "one made by relamp.discount, or a pair of them, the lower rate first";
    let wrong = || refuse("python.type", "no discount", "cost_parts", "discount", &kind_of(given), expected);
    Ok(found.ok_or_else(wrong)?)
}

/// What a change costs, made of its parts, each a number or a range (low, high).
///
/// A planned change costs lamp, labour, its share of a visit and its dark minutes; a change after a failure costs lamp,
/// labour, a whole visit, its dark minutes and its damage. A part is one amount for all changes: where the lamp is dear, it
/// is so for all. Between two ends all values are held equally likely, which is our choice.
///
/// Parameters
/// ----------
/// lamp : float or (float, float)
///     Price of a new lamp, in the currency of all costs.
/// labour : float or (float, float)
///     Cost of the work of one change.
/// visit : float or (float, float)
///     Cost of a visit.
/// visit_share : float or (float, float)
///     Share of it, 0 to 1, that a planned change bears.
/// dark_minute : float or (float, float)
///     Cost of one dark minute.
/// dark : DarkMinutes
///     Minutes of each change, which name the endings.
/// damage : dict of str to float or (float, float), optional
///     What else comes with an ending: a reflector, refunds.
/// warranty : Warranty, optional
///     Money back for early failures.
/// salvage : Salvage, optional
///     Worth of a lamp that is changed on plan.
/// salvage_worth : float or (float, float), optional
///     Worth of one that has hardly burned, in place of that of `salvage`, which gives the hours; a part like the
///     others.
/// warranty_price : float or (float, float), optional
///     Price that the warranty pays back, in place of that of `warranty`, whose hours it takes; a part like the others.
/// dark_minutes : dict of str to float or (float, float), optional
///     Minutes of a change known to a range, in place of those of `dark`: of endings, and under "planned" of a planned
///     change; parts like the others.
/// discount : Discount or (Discount, Discount), optional
///     Rate in place of that of `objective=relamp.discount(...)`, drawn like the others and evenly by its hourly rate.
///
/// Returns
/// -------
/// CostParts
///
/// Raises
/// ------
/// InputError
///     For what is no amount or no range, each by its name.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> dark = relamp.dark_minutes(45.0, burst=360.0)
/// >>> parts = relamp.cost_parts(
/// ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
/// ...     damage={"burst": (1000.0, 3000.0)},
/// ... )
/// >>> parts.middle().failure("burst")
/// 3700.0
/// >>> used = relamp.cost_parts(
/// ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
/// ...     salvage=relamp.salvage(worth_of_new=400.0, gone_hours=2000.0),
/// ... )
/// >>> used.middle().planned_at(1000.0)
/// 780.0
/// >>> doubtful = relamp.cost_parts(
/// ...     lamp=800.0, labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
/// ...     salvage=relamp.salvage(worth_of_new=400.0, gone_hours=2000.0), salvage_worth=(200.0, 500.0),
/// ... )
/// >>> doubtful.middle().planned_at(1000.0)
/// 805.0
/// >>> later = relamp.cost_parts(
/// ...     lamp=800.0, labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark,
/// ...     warranty=relamp.warranty(form="full", price=800.0, hours=500.0, endings=["burst"]),
/// ...     warranty_price=(600.0, 800.0), dark_minutes={"burst": (120.0, 480.0)},
/// ... )
/// >>> later.middle().failure("burst")
/// 1580.0
/// >>> rates = (relamp.discount(rate_per_hour=1e-5), relamp.discount(rate_per_hour=3e-5))
/// >>> relamp.cost_parts(
/// ...     lamp=800.0, labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark, discount=rates
/// ... ).middle().discount
/// Discount(rate_per_hour=0.00002, worth_after_1000_hours=0.980199)
#[pyfunction]
#[pyo3(signature = (*, lamp, labour, visit, visit_share, dark_minute, dark, damage=None, warranty=None,
    salvage=None, salvage_worth=None, warranty_price=None, dark_minutes=None, discount=None))]
pub(super) fn cost_parts(
    lamp: &Bound<'_, PyAny>,
    labour: &Bound<'_, PyAny>,
    visit: &Bound<'_, PyAny>,
    visit_share: &Bound<'_, PyAny>,
    dark_minute: &Bound<'_, PyAny>,
    dark: &Bound<'_, PyDarkMinutes>,
    damage: Option<&Bound<'_, PyDict>>,
    warranty: Option<&Bound<'_, PyWarranty>>,
    salvage: Option<&Bound<'_, PySalvage>>,
    salvage_worth: Option<&Bound<'_, PyAny>>,
    warranty_price: Option<&Bound<'_, PyAny>>,
    dark_minutes: Option<&Bound<'_, PyDict>>,
    discount: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyCostParts> {
    let by_ending = |name: &str, given: Option<&Bound<'_, PyDict>>| {
        let mut more = Vec::new();
        for (word, amount) in given.into_iter().flatten() {
            let word: String = word.extract().map_err(|_| {
                let expected = "a word of ENDINGS";
                PyErr::from(refuse("python.type", "not a text", "cost_parts", name, &kind_of(&word), expected))
            })?;
            more.push((ending(name, &word)?, span(&amount, &format!("{name} {word}"))?));
        }
        PyResult::Ok(more)
    };
    let more = by_ending("damage", damage)?;
    let parts = CostParts::new(
        span(lamp, "lamp")?,
        span(labour, "labour")?,
        (span(visit, "visit")?, span(visit_share, "visit_share")?),
        span(dark_minute, "dark_minute")?,
        dark.get().0.clone(),
        more,
    )?;
    let parts = parts.with_dark_between(by_ending("dark_minutes", dark_minutes)?)?;
    let parts = match discount.map(rates).transpose()? {
        Some((low, high)) => parts.with_discount_between(low, high)?,
        None => parts,
    };
    let price = warranty_price.map(|price| span(price, "warranty_price")).transpose()?;
    let parts = match (warranty.map(|w| w.get().0.clone()), price) {
        (Some(warranty), Some(price)) => parts.with_warranty_between(&warranty, price)?,
        (Some(warranty), None) => parts.with_warranty(warranty)?,
        (None, None) => parts,
        (None, Some(_)) => {
            let what = "the price of a warranty is given without how its money back falls with the hours";
            let expected = "warranty too, whose hours it takes";
            return Err(PyErr::from(refuse("python.together", what, "cost_parts", "warranty", "None", expected)));
        }
    };
    let worth = salvage_worth.map(|worth| span(worth, "salvage_worth")).transpose()?;
    Ok(PyCostParts(match (salvage.map(|s| s.get().0), worth) {
        (Some(salvage), Some(worth)) => parts.with_salvage_between(salvage, worth)?,
        (Some(salvage), None) => parts.with_salvage(salvage)?,
        (None, None) => parts,
        (None, Some(_)) => {
            let what = "the worth of a used lamp is given without how it falls with the hours";
            let expected = "salvage too, whose hours it takes";
            let got = "None";
            return Err(PyErr::from(refuse("python.together", what, "cost_parts", "salvage", got, expected)));
        }
    }))
}

fn comparison_table(c: &AgeComparison) -> Result<RecordBatch> {
    Frame::default()
        .numbers("age_hours", c.ages_hours)
        .numbers("per_1000_hours", c.per_1000_hours)
        .numbers("costs_less", [c.first_costs_less, c.second_costs_less])
        .finish()
}

fn comparison_facts(c: &AgeComparison) -> Facts {
    let range = c.difference_per_1000_hours;
    facts! {
        "ages_hours": c.ages_hours, "per_1000_hours": c.per_1000_hours, "first_costs_less": c.first_costs_less,
        "difference_per_1000_hours": [range.low, range.high], "level": c.level, "draws": c.draws, "failed": c.failed,
        "method": word(&c.method), "sentence": c.sentence,
    }
}

result_class! {
    /// Two planned ages beside each other over draws; made by `compare_ages`. Neither passes the limit.
    PyAgeComparison holds AgeComparison as "AgeComparison";
    save |c| saved::save(COMPARISON, c); load |t| saved::load(COMPARISON, t); table comparison_table; show comparison_facts;
    {
        /// The two ages, hours.
        #[getter]
        fn ages_hours(&self) -> (f64, f64) {
            self.0.ages_hours.into()
        }

        /// Cost of each per 1,000 h at the estimates.
        #[getter]
        fn per_1000_hours(&self) -> (f64, f64) {
            self.0.per_1000_hours.into()
        }

        /// Cost of the first less that of the second, per 1,000 h, over the draws: (low, high).
        #[getter]
        fn difference_per_1000_hours(&self) -> (f64, f64) {
            (self.0.difference_per_1000_hours.low, self.0.difference_per_1000_hours.high)
        }

        /// Share of the draws in which the first age costs less.
        #[getter]
        fn first_costs_less(&self) -> f64 {
            self.0.first_costs_less
        }

        /// Share of the draws in which the second age costs less.
        #[getter]
        fn second_costs_less(&self) -> f64 {
            self.0.second_costs_less
        }

        /// The same in plain words.
        #[getter]
        fn sentence(&self) -> &str {
            &self.0.sentence
        }
    }
}

/// How likely one planned age costs less than another, given what is not known of lives and, with parts, of costs.
///
/// Parameters
/// ----------
/// draws : Draws
///     Possible worlds, as `CauseFits.draws` gives them; 20 or more.
/// limit : HourLimit
///     An age past it is refused.
/// age_hours : float
///     The first age, hours.
/// other_age_hours : float
///     The second age, hours.
/// level : float
///     Level of the interval of the difference, above 0 and below 1.
/// parts : CostParts, optional
///     Ranges of costs; each draw takes costs of its own from them in place of those of the draws.
/// seed : int
///     Seed of the drawn costs, from 0.
/// objective : Discount or DarkMinutes, optional
///     What is compared; None for the cost per hour.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// AgeComparison
///
/// Raises
/// ------
/// InputError
///     For what is not a number.
/// DomainError
///     For an age that is not above 0, and a level that is not inside 0 to 1.
/// LimitError
///     For an age past the limit.
/// RefusedError
///     For fewer than 20 draws, or too few that gave an answer.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> ages = [100.0 + 7.0 * i for i in range(60)]
/// >>> tally = relamp.lives(ages, ending=["burst"] * 30 + ["dim"] * 30)
/// >>> draws = relamp.fit_causes(tally).draws(tally, relamp.costs(950.0, burst=5200.0, dim=1250.0), n=40, seed=1)
/// >>> limit = relamp.hour_limit(maximum_hours=500.0, source="invented data sheet")
/// >>> compared = relamp.compare_ages(draws, limit, age_hours=200.0, other_age_hours=450.0)
/// >>> round(compared.first_costs_less + compared.second_costs_less, 9)
/// 1.0
/// >>> dark = relamp.dark_minutes(45.0, burst=360.0, dim=90.0)
/// >>> parts = relamp.cost_parts(
/// ...     lamp=(700.0, 900.0), labour=60.0, visit=120.0, visit_share=0.25, dark_minute=2.0, dark=dark
/// ... )
/// >>> wider = relamp.compare_ages(draws, limit, age_hours=200.0, other_age_hours=450.0, parts=parts, seed=1)
/// >>> 0.0 <= wider.first_costs_less <= 1.0
/// True
#[pyfunction]
#[pyo3(signature = (draws, limit, *, age_hours, other_age_hours, level=0.95, parts=None, seed=0, objective=None,
    progress=None))]
pub(super) fn compare_ages(
    py: Python<'_>,
    draws: &Bound<'_, PyDraws>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::age_hours)] age_hours: f64,
    #[pyo3(from_py_with = args::other_age_hours)] other_age_hours: f64,
    #[pyo3(from_py_with = args::level)] level: f64,
    parts: Option<&Bound<'_, PyCostParts>>,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    objective: Option<&Bound<'_, PyAny>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyAgeComparison> {
    let objective = read_objective(objective)?;
    let (draws, limit, ages) = (draws.get(), &limit.get().0, [age_hours, other_age_hours]);
    let parts = parts.map(|p| &p.get().0);
    let ask = |draws: &dyn Draws, run: &crate::Run| core_compare(draws, &objective, ages, limit, level, run);
    Ok(PyAgeComparison(work(py, progress, |run| match parts {
        Some(parts) => ask(&PricedDraws::new(&draws.0, parts, seed), run),
        None => ask(&draws.0, run),
    })?))
}

fn regret_table(r: &LeastRegret) -> Result<RecordBatch> {
    let ends = || r.ends.iter();
    Frame::default()
        .numbers("factor", ends().map(|e| e.factor))
        .numbers("best_hours", ends().map(|e| e.best_hours))
        .numbers("best_cost_per_hour", ends().map(|e| e.best_cost_per_hour))
        .numbers("regret_percent", ends().map(|e| e.regret_percent))
        .numbers("others_regret_percent", ends().map(|e| e.others_regret_percent))
        .finish()
}

fn regret_facts(r: &LeastRegret) -> Facts {
    facts! {
        "age_hours": r.age_hours, "regret_percent": r.regret_percent,
        "factors": r.ends.iter().map(|e| e.factor).collect::<Vec<_>>(),
        "best_hours": r.ends.iter().map(|e| e.best_hours).collect::<Vec<_>>(), "limit_hours": r.limit_hours,
    }
}

result_class! {
    /// The age whose largest regret over a range of cost ratios is least; made by `least_regret`. No age in it passes the
    /// limit.
    ///
    /// Its table holds a row for each end of the range.
    PyLeastRegret holds LeastRegret as "LeastRegret";
    save |r| saved::save(REGRET, r); load |t| saved::load(REGRET, t); table regret_table; show regret_facts;
    {
        /// The advice: whole hours, rounded down, at most the limit.
        #[getter]
        fn age_hours(&self) -> f64 {
            self.0.age_hours
        }

        /// The most that this age costs more than the best one of any ratio in the range, percent.
        #[getter]
        fn regret_percent(&self) -> f64 {
            self.0.regret_percent
        }
    }
}

/// The age that costs least more than the best one, at worst, where costs of failures are known only to a factor.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     No age in the answer passes it.
/// least_factor : float
///     Smallest factor on every cost of a failure, above 0.
/// most_factor : float
///     Largest factor, at least the smallest.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit).
/// objective : Discount or DarkMinutes, optional
///     What is counted per hour; None for the cost.
///
/// Returns
/// -------
/// LeastRegret
///
/// Raises
/// ------
/// InputError
///     For factors that are no range above 0, or leave a failure cheaper than what a warranty gives back.
/// RefusedError
///     Where the best age lies below one hour.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=3000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
/// >>> relamp.least_regret(world, limit, least_factor=1.0, most_factor=1.0).age_hours
/// 7379.0
/// >>> doubtful = relamp.least_regret(world, limit, least_factor=1.0, most_factor=4.0)
/// >>> doubtful.age_hours < 7379.0, doubtful.regret_percent > 0.0
/// (True, True)
#[pyfunction]
#[pyo3(signature = (world, limit, *, least_factor=0.5, most_factor=2.0, oldest_at_risk_hours=None,
    extrapolate_because=None, objective=None))]
pub(super) fn least_regret(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::least_factor)] least_factor: f64,
    #[pyo3(from_py_with = args::most_factor)] most_factor: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyLeastRegret> {
    let objective = read_objective(objective)?;
    let options = AgeOptions { oldest_at_risk_hours, extrapolate_because, objective, ..AgeOptions::default() };
    let (world, limit) = (world.get(), &limit.get().0);
    let names = [("factors", "smallest", "least_factor"), ("factors", "largest", "most_factor")];
    let ask = |_: &crate::Run| {
        core_regret(&world.0, (least_factor, most_factor), limit, &options).map_err(|error| error.renamed(&names))
    };
    Ok(PyLeastRegret(work(py, None, ask)?))
}

fn moved(ending: Option<Ending>) -> &'static str {
    ending.map_or("every failure", Ending::as_str)
}

fn bars_table(b: &CostBars) -> Result<RecordBatch> {
    let costs = b.bars.iter().map(|bar| (moved(bar.ending).to_owned(), &bar.ends));
    let inputs = b.inputs.iter().map(|bar| (bar.input.words(), &bar.ends));
    let ends: Vec<_> =
        costs.chain(inputs).flat_map(|(name, ends)| ends.iter().map(move |end| (name.clone(), end))).collect();
    Frame::default()
        .texts("cost", ends.iter().map(|e| &e.0))
        .numbers("factor", ends.iter().map(|e| e.1.factor))
        .numbers("age_hours", ends.iter().map(|e| e.1.age_hours))
        .numbers("cost_per_hour", ends.iter().map(|e| e.1.cost_per_hour))
        .numbers("stale_percent", ends.iter().map(|e| e.1.stale_percent))
        .finish()
}

fn bars_facts(b: &CostBars) -> Facts {
    let widest = b.bars.first();
    facts! {
        "age_hours": b.planned.age_hours, "bars": b.bars.len() + b.inputs.len(), "widest": widest.map(|w| moved(w.ending)),
        "widest_hours": widest.map(|w| w.ends.map(|e| e.age_hours)),
    }
}

result_class! {
    /// How far each cost, and what else is set, moves the planned age; made by `cost_bars`. No age in it passes the limit.
    ///
    /// Its table holds two rows for each cost, and for the costs of every failure together, which is the cost ratio, the
    /// widest bar first; below them two rows for each of what else is set: "warranty price", "worth of a used lamp",
    /// "discount rate", "dark minutes of ..." and "hour limit".
    PyCostBars holds CostBars as "CostBars";
    save |b| saved::save(BARS, b); load |t| saved::load(BARS, t); table bars_table; show bars_facts;
    {
        fn __len__(&self) -> usize {
            self.0.bars.len() + self.0.inputs.len()
        }

        /// The advice at the costs as they are.
        #[getter]
        fn planned(&self) -> PyPlannedAge {
            PyPlannedAge(self.0.planned.clone())
        }
    }
}

/// How far the planned age moves when each cost, and each of what else is set, by itself is divided and multiplied by a
/// factor.
///
/// What else is set: the price of a warranty, the worth of a used lamp, the discount rate, and the hour limit, which is
/// divided only, as no advice passes it. Under dark minutes the minutes have bars in place of the costs.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives, and costs.
/// limit : HourLimit
///     No age in the answer passes it.
/// factor : float
///     Each cost is divided and multiplied by it; above 1, which alone is above 0 and no change.
/// oldest_at_risk_hours : float, optional
///     Age of the oldest lamp at risk in the records, hours; advice stops there unless a reason is given.
/// extrapolate_because : str, optional
///     Why advice may pass the oldest lamp at risk (never the limit).
/// objective : Discount or DarkMinutes, optional
///     What is counted per hour; None for the cost.
///
/// Returns
/// -------
/// CostBars
///     For each the age at both ends, and what keeping the unmoved age would cost more there, percent.
///
/// Raises
/// ------
/// InputError
///     For a factor that is not finite and above 1, and costs or minutes that leave their range.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=2.0, scale=10_000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=3000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=50_000.0, source="invented data sheet")
/// >>> bars = relamp.cost_bars(world, limit, factor=1.5)
/// >>> bars.planned.age_hours, sorted(set(bars.frame()["cost"]))
/// (7379.0, ['burst', 'every failure', 'hour limit', 'planned'])
#[pyfunction]
#[pyo3(signature = (world, limit, *, factor=1.25, oldest_at_risk_hours=None, extrapolate_because=None,
    objective=None))]
pub(super) fn cost_bars(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::factor)] factor: f64,
    #[pyo3(from_py_with = args::oldest_at_risk_hours)] oldest_at_risk_hours: Option<f64>,
    #[pyo3(from_py_with = args::extrapolate_because)] extrapolate_because: Option<String>,
    objective: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyCostBars> {
    let objective = read_objective(objective)?;
    let options = AgeOptions { oldest_at_risk_hours, extrapolate_because, objective, ..AgeOptions::default() };
    let (world, limit) = (world.get(), &limit.get().0);
    Ok(PyCostBars(work(py, None, |_| core_bars(&world.0, factor, limit, &options))?))
}

fn endings_table(e: &[EndingsAt]) -> Result<RecordBatch> {
    let mut names: Vec<Ending> = e.iter().flat_map(|at| at.by_ending.iter().map(|part| part.ending)).collect();
    names.sort_unstable();
    names.dedup();
    let mut frame = Frame::default()
        .numbers("age_hours", e.iter().map(|at| at.age_hours))
        .numbers("planned_per_1000_lamps", e.iter().map(|at| at.planned_per_1000));
    for name in names {
        let of = |at: &EndingsAt| {
            at.by_ending.iter().find(|part| part.ending == name).map(|p| (p.per_1000_lamps, p.per_1000_hours))
        };
        frame = frame
            .numbers_or_null(&format!("{name}_per_1000_lamps"), e.iter().map(|at| of(at).map(|p| p.0)))
            .numbers_or_null(&format!("{name}_per_1000_hours"), e.iter().map(|at| of(at).map(|p| p.1)));
    }
    frame.finish()
}

fn endings_facts(e: &[EndingsAt]) -> Facts {
    let last = e.last();
    let mut told = facts! {
        "ages": e.len(), "at_age_hours": last.map(|at| at.age_hours), "planned_per_1000": last.map(|at| at.planned_per_1000),
    };
    told.extend(
        last.into_iter().flat_map(|at| {
            at.by_ending.iter().map(|part| (part.ending.as_str(), serde_json::json!(part.per_1000_lamps)))
        }),
    );
    told
}

result_class! {
    /// How 1,000 lamps fitted new end, by planned age; made by `endings_by_age`.
    PyEndingsByAge holds Vec<EndingsAt> as "EndingsByAge";
    save |e| saved::save(ENDINGS, e); load |t| saved::load(ENDINGS, t); table |e| endings_table(e); show |e| endings_facts(e);
    {
        fn __len__(&self) -> usize {
            self.0.len()
        }

        /// The planned ages, hours, (n,).
        #[getter]
        fn age_hours<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
            super::arrays::array(py, &self.0.iter().map(|e| e.age_hours).collect::<Vec<_>>())
        }
    }
}

/// How 1,000 lamps fitted new end if they are changed at an age or at failure, by ending and planned age.
///
/// Parameters
/// ----------
/// world : World
///     Causes with their lives; the costs play no part.
/// limit : HourLimit
///     An age past it is refused.
/// ages_hours : array-like, optional
///     Planned ages, hours; without it 200 even steps up to the limit.
///
/// Returns
/// -------
/// EndingsByAge
///
/// Raises
/// ------
/// InputError
///     For no ages, and ages that are not numbers.
/// DomainError
///     For an age that is not above 0.
/// LimitError
///     For ages past the limit, each by its row.
///
/// Examples
/// --------
/// At an even rate of one burst in 1,000 h, 1,000 (1 - exp(-0.5)) of 1,000 lamps burst before 500 h.
///
/// >>> import relamp
/// >>> world = relamp.world({"burst": relamp.life("exponential", scale=1000.0)}, relamp.costs(1.0, burst=1.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> at = relamp.endings_by_age(world, limit, ages_hours=[500.0])
/// >>> round(at.frame()["burst_per_1000_lamps"][0], 1), len(relamp.endings_by_age(world, limit))
/// (393.5, 200)
#[pyfunction]
#[pyo3(signature = (world, limit, *, ages_hours=None))]
pub(super) fn endings_by_age(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    limit: &Bound<'_, PyHourLimit>,
    ages_hours: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyEndingsByAge> {
    let (world, limit) = (world.get(), &limit.get().0);
    let ages = ages_or_even(ages_hours, limit)?;
    Ok(PyEndingsByAge(work(py, None, |_| core_endings(&world.0, &ages, limit))?))
}

/// The world of the records as they stand: each failure ending that came is a cause whose life is its curve, no family's.
///
/// What `planned_age` says of it rests on the records alone, as a check on a model; give it `oldest_at_risk_hours`, for past
/// that age such a life never fails. It cannot be saved, as its lives are no family's.
///
/// Parameters
/// ----------
/// tally : Tally
///     Lives with their endings.
/// costs : Costs
///     Costs of a planned change and after each ending that came.
/// failures : list of str, optional
///     The endings that are failures; None for all that are unless said otherwise.
/// reading : str, optional
///     The age that stands for a failure known to an interval: 'upper', 'midpoint' or 'lower'.
///
/// Returns
/// -------
/// World
///
/// Raises
/// ------
/// InputError
///     For a word that is no ending, and an ending without a cost.
/// DomainError
///     Where no lamp ended in one of the given ways.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> tally = relamp.lives([700.0, 900.0, 1000.0, 1100.0, 1200.0], ending=["dim"] * 5)
/// >>> world = relamp.curve_world(tally, relamp.costs(1.0, dim=6.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> relamp.planned_age(world, limit, oldest_at_risk_hours=1200.0).age_hours
/// 699.0
#[pyfunction]
#[pyo3(signature = (tally, costs, *, failures=None, reading=None))]
pub(super) fn curve_world(
    py: Python<'_>,
    tally: &Bound<'_, PyTally>,
    costs: &Bound<'_, PyCosts>,
    #[pyo3(from_py_with = args::failures)] failures: Option<Vec<String>>,
    #[pyo3(from_py_with = args::reading)] reading: Option<String>,
) -> PyResult<PyWorld> {
    let failures = match failures {
        Some(words) => words.iter().map(|word| ending("failures", word)).collect::<Result<Vec<_>>>()?,
        None => Ending::FAILURES.to_vec(),
    };
    let options = CurveOptions { reading: reading_of(reading.as_deref())?, ..CurveOptions::default() };
    let (tally, costs) = (tally.get(), &costs.get().0);
    Ok(PyWorld(work(py, None, |_| core_curve_world(&tally.0, &failures, costs, &options))?))
}
