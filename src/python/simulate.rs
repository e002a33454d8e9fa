//! A fleet played out event by event.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::Result;
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::demand::{Count, Horizon};
use crate::records::Ending;
use crate::simulate::{
    AGE_BINS, Assumptions, DarkMinutes, EndedLamps, PlayOptions, PlayedFleet, PlayedTally, Rule, Simulated, Visits,
    play_fleet as core,
};

use crate::terms::Discount;

use super::demand::{PyCount, sockets};
use super::error::refuse;
use super::frames::{Frame, Table};
use super::intake::{At, arguments as args, kind_of, labels};
use super::lives::ending;
use super::money::{PyDarkMinutes, PyDiscount};
use super::policy::word;
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::work::work;
use super::worlds::PyWorld;

const PLAYED: Format = Format::new("played_fleet", 1);

/// The word of the way in which lamps are changed.
fn change(rule: &Rule) -> &'static str {
    match rule {
        Rule::AtFailure => "at_failure",
        Rule::AtAge { .. } => "at_age",
        Rule::AtAgeOrVisit { .. } => "at_age_or_visit",
        Rule::SiteTogether { .. } => "site_together",
        Rule::OnCalendar { .. } => "on_calendar",
    }
}

/// A figure of a period.
type Pick = fn(&PlayedTally) -> Simulated;

fn periods(p: &PlayedFleet) -> Result<RecordBatch> {
    let quantile = |q: f64| p.needed.iter().map(|n| n.quantile(q)).collect::<Result<Vec<u64>>>();
    let mut frame = Frame::default()
        .counts("period", 1..=p.periods.len() as u64)
        .numbers("to_day", (1..=p.periods.len()).map(|i| p.period_days * i as f64));
    let figures: [(&str, Pick); 6] = [
        ("changes", |t| t.changes),
        ("planned", |t| t.planned),
        ("failures", |t| t.failures),
        ("cost", |t| t.cost),
        ("visits_for_lamps", |t| t.visits_for_lamps),
        ("visits_anyway", |t| t.visits_anyway),
    ];
    for (name, figure) in figures {
        frame = frame
            .numbers(name, p.periods.iter().map(|t| figure(t).mean))
            .numbers_or_null(&format!("{name}_error"), p.periods.iter().map(|t| figure(t).standard_error));
    }
    let dark = |of: fn(Simulated) -> Option<f64>| {
        p.periods.iter().map(move |t| of(t.dark_minutes).filter(|_| p.tells_dark_minutes()))
    };
    frame = frame
        .numbers_or_null("dark_minutes", dark(|m| Some(m.mean)))
        .numbers_or_null("dark_minutes_error", dark(|m| m.standard_error));
    if p.discount.is_some() {
        let worth = |t: &PlayedTally| t.discounted_cost.unwrap_or_default();
        frame = frame
            .numbers("discounted_cost", p.periods.iter().map(|t| worth(t).mean))
            .numbers_or_null("discounted_cost_error", p.periods.iter().map(|t| worth(t).standard_error));
    }
    frame
        .numbers("burning_hours", p.periods.iter().map(|t| t.burning_hours.mean))
        .counts("p50", quantile(0.5)?)
        .counts("p80", quantile(0.8)?)
        .counts("p95", quantile(0.95)?)
        .finish()
}

/// The kind of a planned change or the ending of a failure.
fn way(e: &EndedLamps) -> String {
    e.planned.map_or_else(|| e.ending.as_str().to_owned(), |kind| word(&kind))
}

/// Dark minutes per 1,000 burning hours; none where none of a change were given, or nothing burns.
fn dark_per_1000_hours(p: &PlayedFleet) -> Option<Simulated> {
    p.whole.dark_minutes_per_1000_hours().filter(|_| p.tells_dark_minutes())
}

fn played_facts(p: &PlayedFleet) -> Facts {
    let whole = &p.whole;
    let dark = dark_per_1000_hours(p);
    facts! {
        "change": change(&p.rule), "sockets": p.sockets, "sites": p.sites, "due_now": p.due_now,
        "replicates": p.replicates, "periods": p.periods.len(), "period_days": p.period_days,
        "changes": whole.changes.mean, "planned": whole.planned.mean, "failures": whole.failures.mean,
        "cost": whole.cost.mean, "cost_error": whole.cost.standard_error,
        "cost_per_hour": p.cost_per_hour.map(|c| c.mean),
        "cost_per_hour_error": p.cost_per_hour.and_then(|c| c.standard_error),
        "discounted_cost": whole.discounted_cost.map(|c| c.mean),
        "discounted_cost_error": whole.discounted_cost.and_then(|c| c.standard_error),
        "dark_minutes": p.tells_dark_minutes().then_some(whole.dark_minutes.mean),
        "dark_minutes_per_1000_hours": dark.map(|m| m.mean),
        "dark_minutes_per_1000_hours_error": dark.and_then(|m| m.standard_error),
        "burning_hours": whole.burning_hours.mean,
        "visits_for_lamps": whole.visits_for_lamps.mean, "visits_anyway": whole.visits_anyway.mean,
        "limit_hours": p.limit_hours, "seed": p.seed,
    }
}

result_class! {
    /// A fleet played out under one rule of change; made by `play_fleet`.
    ///
    /// Its table has a row for each period: mean changes, cost, dark minutes and visits of the whole fleet, each with its
    /// standard error (empty where no site was played twice), and quantiles of the lamps needed.
    PyPlayedFleet holds PlayedFleet as "PlayedFleet";
    save |p| saved::save(PLAYED, p); load |t| saved::load(PLAYED, t); table periods; show played_facts;
    {
        fn __len__(&self) -> usize {
            self.0.periods.len()
        }

        /// How lamps were changed: the word given to `play_fleet`.
        #[getter]
        fn change(&self) -> &'static str {
            change(&self.0.rule)
        }

        /// Screens.
        #[getter]
        fn sockets(&self) -> usize {
            self.0.sockets
        }

        /// Sites.
        #[getter]
        fn sites(&self) -> usize {
            self.0.sites
        }

        /// Of the lamps of today, those changed at the start.
        #[getter]
        fn due_now(&self) -> usize {
            self.0.due_now
        }

        /// Plays of the whole fleet.
        #[getter]
        fn replicates(&self) -> usize {
            self.0.replicates
        }

        /// Length of a period, days.
        #[getter]
        fn period_days(&self) -> f64 {
            self.0.period_days
        }

        /// The limit that no lamp passed, hours.
        #[getter]
        fn limit_hours(&self) -> f64 {
            self.0.limit_hours
        }

        /// Mean cost of the whole fleet over all periods.
        #[getter]
        fn cost(&self) -> f64 {
            self.0.whole.cost.mean
        }

        /// Its standard error; None where no site was played twice.
        #[getter]
        fn cost_error(&self) -> Option<f64> {
            self.0.whole.cost.standard_error
        }

        /// Mean cost per burning hour over all periods; None where nothing burns.
        #[getter]
        fn cost_per_hour(&self) -> Option<f64> {
            self.0.cost_per_hour.map(|c| c.mean)
        }

        /// Its standard error; None where no site was played twice.
        #[getter]
        fn cost_per_hour_error(&self) -> Option<f64> {
            self.0.cost_per_hour.and_then(|c| c.standard_error)
        }

        /// Mean cost over all periods, each amount at what it is worth at the start; None without a discount.
        #[getter]
        fn discounted_cost(&self) -> Option<f64> {
            self.0.whole.discounted_cost.map(|c| c.mean)
        }

        /// Its standard error; None without a discount, and where no site was played twice.
        #[getter]
        fn discounted_cost_error(&self) -> Option<f64> {
            self.0.whole.discounted_cost.and_then(|c| c.standard_error)
        }

        /// Mean dark minutes per 1,000 burning hours over all periods; None where no dark minutes of a change were given,
        /// and where nothing burns.
        #[getter]
        fn dark_minutes_per_1000_hours(&self) -> Option<f64> {
            dark_per_1000_hours(&self.0).map(|m| m.mean)
        }

        /// Its standard error; None where there is no mean, and where no site was played twice.
        #[getter]
        fn dark_minutes_per_1000_hours_error(&self) -> Option<f64> {
            dark_per_1000_hours(&self.0).and_then(|m| m.standard_error)
        }

        /// Lamps needed in a period: their distribution over the replicates.
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
        ///     For a period that was not played.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_fleet(
        /// ...     world, [100.0, 1900.0, None], hours_per_week=70.0, limit=limit, change="at_age",
        /// ...     planned_age_hours=2000.0, seed=1,
        /// ... )
        /// >>> played.needed(1).first
        /// 2
        fn needed(&self, #[pyo3(from_py_with = args::period)] period: usize) -> PyResult<PyCount> {
            Ok(PyCount(count(&self.0.needed, period)?))
        }

        /// Lamps needed from the start to the end of a period: their distribution over the replicates.
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
        ///     For a period that was not played.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_fleet(
        /// ...     world, [100.0, 1900.0, None], hours_per_week=70.0, limit=limit, change="at_age",
        /// ...     planned_age_hours=2000.0, seed=1,
        /// ... )
        /// >>> played.needed_by_end(12).mean >= played.needed_by_end(1).mean
        /// True
        fn needed_by_end(&self, #[pyo3(from_py_with = args::period)] period: usize) -> PyResult<PyCount> {
            Ok(PyCount(count(&self.0.needed_by_end, period)?))
        }

        /// Changes by what brought them, period by period.
        ///
        /// Returns
        /// -------
        /// Table
        ///     One row for each period and way: the kind of planned change (`due_now`, `at_age`, `at_visit`,
        ///     `on_calendar`, `with_site`, `at_limit`) or the failure, the mean number of lamps of the whole fleet and
        ///     the dark minutes that they brought, each with its standard error. Kinds that never came are left out.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_fleet(
        /// ...     world, [100.0, 1900.0, None], hours_per_week=70.0, limit=limit, change="at_age",
        /// ...     planned_age_hours=2000.0, seed=1,
        /// ... )
        /// >>> played.changes().frame()["way"].unique(maintain_order=True).to_list()
        /// ['due_now', 'at_age', 'burst']
        fn changes(&self) -> PyResult<Table> {
            let mut rows = Vec::new();
            for (i, tally) in self.0.periods.iter().enumerate() {
                let planned = tally.planned_by_kind.iter().map(|(kind, f)| (i as u64 + 1, word(kind), *f, Ending::Planned));
                let failed = tally.failures_by_ending.iter().map(|(e, f)| (i as u64 + 1, e.as_str().to_owned(), *f, *e));
                rows.extend(planned.chain(failed));
            }
            let told = self.0.tells_dark_minutes();
            let dark = |r: &(u64, String, Simulated, Ending)| told.then(|| self.0.dark_minutes_of(r.3, &r.2));
            let frame = Frame::default()
                .counts("period", rows.iter().map(|r| r.0))
                .texts("way", rows.iter().map(|r| &r.1))
                .numbers("lamps", rows.iter().map(|r| r.2.mean))
                .numbers_or_null("lamps_error", rows.iter().map(|r| r.2.standard_error))
                .numbers_or_null("dark_minutes", rows.iter().map(|r| dark(r).map(|m| m.mean)))
                .numbers_or_null("dark_minutes_error", rows.iter().map(|r| dark(r).and_then(|m| m.standard_error)))
                .finish()?;
            Ok(Table(frame))
        }

        /// How old lamps were when they ended, over all periods.
        ///
        /// Returns
        /// -------
        /// Table
        ///     One row for each kind of planned change that came and each failure: mean number of lamps of known age of
        ///     the whole fleet, their mean age in hours, both with standard errors, and the oldest age.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_fleet(
        /// ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age",
        /// ...     planned_age_hours=2000.0, seed=1,
        /// ... )
        /// >>> played.ages_at_ending().frame().row(0, named=True)["oldest_hours"]
        /// 2000.0
        fn ages_at_ending(&self) -> PyResult<Table> {
            let each = || self.0.ended.iter();
            let frame = Frame::default()
                .texts("way", each().map(way))
                .numbers("lamps", each().map(|e| e.lamps.mean))
                .numbers_or_null("lamps_error", each().map(|e| e.lamps.standard_error))
                .numbers_or_null("mean_age_hours", each().map(|e| e.mean_age_hours))
                .numbers_or_null("mean_age_error", each().map(|e| e.mean_age_standard_error))
                .numbers_or_null("oldest_hours", each().map(|e| e.oldest_hours))
                .finish()?;
            Ok(Table(frame))
        }

        /// Numbers of lamps by age at ending, over all periods.
        ///
        /// Returns
        /// -------
        /// Table
        ///     For each row of `ages_at_ending` 20 equal stretches of age from 0 to the limit, with the mean number of
        ///     lamps of the whole fleet that ended in each. Lamps past the limit at the start stand in the last.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
        /// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
        /// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
        /// >>> played = relamp.play_fleet(
        /// ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age",
        /// ...     planned_age_hours=2000.0, seed=1,
        /// ... )
        /// >>> played.ages().frame().row(19)[:3]
        /// ('at_age', 1900.0, 2000.0)
        fn ages(&self) -> PyResult<Table> {
            let step = self.0.limit_hours / AGE_BINS as f64;
            let mut rows = Vec::new();
            for e in &self.0.ended {
                let way = way(e);
                rows.extend(e.by_age.iter().enumerate().map(|(i, lamps)| (way.clone(), i as f64 * step, *lamps)));
            }
            let frame = Frame::default()
                .texts("way", rows.iter().map(|r| &r.0))
                .numbers("from_hours", rows.iter().map(|r| r.1))
                .numbers("to_hours", rows.iter().map(|r| r.1 + step))
                .numbers("lamps", rows.iter().map(|r| r.2))
                .finish()?;
            Ok(Table(frame))
        }
    }
}

fn count(counts: &[Count], period: usize) -> Result<Count> {
    let found = period.checked_sub(1).and_then(|i| counts.get(i)).cloned();
    let expected = format!("1 to {}", counts.len());
    found.ok_or_else(|| {
        refuse("python.period", "no such period", "played_fleet", "period", &period.to_string(), &expected)
    })
}

/// The numbers that belong to one way of changing lamps or another.
struct Given {
    planned_age_hours: Option<f64>,
    visit_age_hours: Option<f64>,
    join_changes: bool,
    calendar_days: Option<f64>,
    calendar_first_day: Option<f64>,
    calendar_from_hours: Option<f64>,
}

impl Given {
    /// The rule of a word; a number that it needs must be there, and one that it does not take must not.
    fn rule(&self, change: &str) -> Result<Rule> {
        let needs = |name: &str, value: Option<f64>| {
            let what = "this way to change lamps needs a number";
            value.ok_or_else(|| refuse("python.change_needs", what, "play_fleet", name, "None", "a number"))
        };
        let (age, days) = (self.planned_age_hours, self.calendar_days);
        let (rule, takes): (Rule, &[&str]) = match change {
            "at_failure" => (Rule::AtFailure, &[]),
            "at_age" => (Rule::AtAge { age_hours: needs("planned_age_hours", age)? }, &["planned_age_hours"]),
            "at_age_or_visit" => {
                let rule = Rule::AtAgeOrVisit {
                    age_hours: needs("planned_age_hours", age)?,
                    visit_age_hours: needs("visit_age_hours", self.visit_age_hours)?,
                    join_changes: self.join_changes,
                };
                (rule, &["planned_age_hours", "visit_age_hours", "join_changes"])
            }
            "site_together" => {
                (Rule::SiteTogether { age_hours: needs("planned_age_hours", age)? }, &["planned_age_hours"])
            }
            "on_calendar" => {
                let every_days = needs("calendar_days", days)?;
                let rule = Rule::OnCalendar {
                    every_days,
                    first_day: self.calendar_first_day.unwrap_or(every_days),
                    from_age_hours: self.calendar_from_hours.unwrap_or(0.0),
                };
                (rule, &["calendar_days", "calendar_first_day", "calendar_from_hours"])
            }
            other => {
                let expected = "at_failure, at_age, at_age_or_visit, site_together or on_calendar";
                let what = "no such way to change lamps";
                return Err(refuse("python.change", what, "play_fleet", "change", other, expected));
            }
        };
        let given = [
            ("planned_age_hours", self.planned_age_hours.map(|x| x.to_string())),
            ("visit_age_hours", self.visit_age_hours.map(|x| x.to_string())),
            ("join_changes", self.join_changes.then(|| "True".to_owned())),
            ("calendar_days", self.calendar_days.map(|x| x.to_string())),
            ("calendar_first_day", self.calendar_first_day.map(|x| x.to_string())),
            ("calendar_from_hours", self.calendar_from_hours.map(|x| x.to_string())),
        ];
        for (name, value) in given {
            if let Some(got) = value.filter(|_| !takes.contains(&name)) {
                let what = format!("changing lamps {change} takes no such argument");
                return Err(refuse("python.change_takes", &what, "play_fleet", name, &got, "none"));
            }
        }
        Ok(rule)
    }
}

fn visits(every: Option<f64>, first_day: Option<f64>, mean_days: Option<f64>) -> Result<Visits> {
    match (every, first_day, mean_days) {
        (None, None, None) => Ok(Visits::Never),
        (Some(days), first_day, None) => Ok(Visits::Every { days, first_day }),
        (None, None, Some(mean_days)) => Ok(Visits::Random { mean_days }),
        (_, first, mean) => {
            let got = mean.or(first).unwrap_or(f64::NAN).to_string();
            let name = if mean.is_some() { "visits_mean_days" } else { "visits_first_day" };
            let what = "visits come at equal distances or at random, and a first day belongs to equal distances";
            let expected = "visits_days with or without visits_first_day, or visits_mean_days alone";
            Err(refuse("python.visits", what, "play_fleet", name, &got, expected))
        }
    }
}

/// Dark minutes of a change: a dict, or what `dark_minutes` makes.
fn dark(given: Option<&Bound<'_, PyAny>>) -> PyResult<DarkMinutes> {
    let Some(given) = given else { return Ok(DarkMinutes::default()) };
    if let Ok(made) = given.cast::<PyDarkMinutes>() {
        let made = &made.get().0;
        return Ok(DarkMinutes { planned: made.planned(), by_ending: made.by_ending().clone() });
    }
    let Ok(dict) = given.cast::<PyDict>() else {
        let expected = "DarkMinutes, a dict of `planned` and of failures with their minutes, or None";
        let got = kind_of(given);
        return Err(refuse("python.type", "not a dict", "play_fleet", "dark_minutes", &got, expected).into());
    };
    let mut minutes = DarkMinutes::default();
    for (key, value) in dict {
        let key: String = key.extract()?;
        let value = args::one_number(&value, At { input: "dark_minutes", column: &key })?;
        if key == "planned" {
            minutes.planned = value;
        } else {
            minutes.by_ending.insert(ending("dark_minutes", &key)?, value);
        }
    }
    Ok(minutes)
}

fn discounted(given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<Discount>> {
    let Some(given) = given else { return Ok(None) };
    if let Ok(discount) = given.cast::<PyDiscount>() {
        return Ok(Some(discount.get().0));
    }
    let (got, expected) = (kind_of(given), "a Discount, or None");
    Err(refuse("python.type", "no discount", "play_fleet", "discount", &got, expected).into())
}

/// Plays a fleet out event by event: what a rule of change brings if the world is as given.
///
/// Every lamp draws its life from the world; screens burn their weekly hours evenly; a failed lamp is changed at once.
/// No lamp burns past the limit: one that reaches it before its turn is changed alone. Spares are taken as always at
/// hand. Lamps past their age or the limit, or of unknown age, are changed at the start.
///
/// Parameters
/// ----------
/// world : World
///     Causes of failure and costs of a change, without the visit.
/// age_hours : array-like
///     Ages of the lamps that burn today, hours; a missing one (None, null) is not known.
/// hours_per_week : float or array-like
///     Programme hours of the screens, 0 to 168.
/// limit : HourLimit
///     The age that no lamp passes.
/// change : str
///     When lamps that work are changed: "at_failure" (only at the limit), "at_age", "at_age_or_visit" (at an age, or
///     from an earlier one at a visit that happens anyway), "site_together" (all lamps of a site when one reaches the
///     age) or "on_calendar" (all lamps on fixed days).
/// seed : int
///     Seed of the draws.
/// planned_age_hours : float, optional
///     Age of the planned change, hours above 0; held to the limit. For all ways but the first and the last.
/// visit_age_hours : float, optional
///     Age from which a visit is used, hours. For "at_age_or_visit".
/// join_changes : bool
///     Whether a visit for the change of another lamp of the site is used too. For "at_age_or_visit".
/// calendar_days : float, optional
///     Days from one change on the calendar to the next, at least 0.01. For "on_calendar".
/// calendar_first_day : float, optional
///     Day of the first such change, days from the start; by default after one distance.
/// calendar_from_hours : float, optional
///     Lamps younger than this stay, hours; by default none does.
/// visits_days : float, optional
///     Days from one visit that happens anyway to the next, at every site, at least 0.01.
/// visits_first_day : float, optional
///     Day of the first of these visits, days from the start; by default drawn evenly, site by site.
/// visits_mean_days : float, optional
///     Mean days between visits that happen anyway at random; instead of `visits_days`.
/// visit_cost : float
///     Cost of a visit made for lamps alone, 0 or more.
/// sites : array-like, optional
///     The site of each screen; by default every screen is a site of its own.
/// dark_minutes : DarkMinutes or dict, optional
///     Minutes that a screen stays dark for one change: `planned`, and every failure of the world or none.
/// discount : Discount, optional
///     How much less money is worth the later it comes; None to count no discounted cost. The clock is the hours that a
///     screen has burned from the start, for a visit the mean of them over the screens of its site.
/// periods : int
///     How many, 1 or more.
/// period_days : float
///     Length of each, days above 0; a month by default.
/// replicates : int
///     Plays of the whole fleet, at least 1; standard errors need two plays of every site or its equal.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// PlayedFleet
///
/// Raises
/// ------
/// InputError
///     For ages, hours, days, costs or minutes that are not numbers or out of range, a way of changing that is not
///     there, an argument that it needs or does not take, and columns of different length.
/// DomainError
///     For a horizon of no time or of more than 20 years, and for no replicate.
/// LimitError
///     For more plays than one call may hold.
/// RefusedError
///     For a life that reaches below age 0, and where one screen would need thousands of lamps.
///
/// Examples
/// --------
/// Two screens of one site, changed at 2000 h, or from 1500 h on at a monthly round:
///
/// >>> import relamp
/// >>> life = relamp.life("weibull", shape=3.0, scale=3000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(1000.0, burst=5000.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> played = relamp.play_fleet(
/// ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age_or_visit",
/// ...     planned_age_hours=2000.0, visit_age_hours=1500.0, visits_days=28.0, sites=["north", "north"],
/// ...     replicates=200, seed=1,
/// ... )
/// >>> len(played), played.due_now
/// (12, 0)
/// >>> played.cost_error < 0.1 * played.cost
/// True
///
/// The same screens changed at 2000 h alone, with dark minutes, and what the cost of a year is worth at its start:
///
/// >>> dark = relamp.dark_minutes(45.0, burst=360.0)
/// >>> played = relamp.play_fleet(
/// ...     world, [100.0, 1900.0], hours_per_week=70.0, limit=limit, change="at_age", planned_age_hours=2000.0,
/// ...     dark_minutes=dark, discount=relamp.discount(rate_per_year=0.05, hours_per_year=3652.5),
/// ...     replicates=200, seed=1,
/// ... )
/// >>> 0.95 < played.discounted_cost / played.cost < 1.0
/// True
/// >>> played.dark_minutes_per_1000_hours > 45.0 / 2.0
/// True
#[pyfunction]
#[pyo3(signature = (world, age_hours, *, hours_per_week, limit, change, seed, planned_age_hours=None,
    visit_age_hours=None, join_changes=false, calendar_days=None, calendar_first_day=None, calendar_from_hours=None,
    visits_days=None, visits_first_day=None, visits_mean_days=None, visit_cost=0.0, sites=None, dark_minutes=None,
    discount=None, periods=12, period_days=30.4375, replicates=100, progress=None))]
pub(super) fn play_fleet(
    py: Python<'_>,
    world: &Bound<'_, PyWorld>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::change)] change: &str,
    #[pyo3(from_py_with = args::seed)] seed: u64,
    #[pyo3(from_py_with = args::planned_age_or_none)] planned_age_hours: Option<f64>,
    #[pyo3(from_py_with = args::visit_age_hours)] visit_age_hours: Option<f64>,
    join_changes: bool,
    #[pyo3(from_py_with = args::calendar_days)] calendar_days: Option<f64>,
    #[pyo3(from_py_with = args::calendar_first_day)] calendar_first_day: Option<f64>,
    #[pyo3(from_py_with = args::calendar_from_hours)] calendar_from_hours: Option<f64>,
    #[pyo3(from_py_with = args::visits_days)] visits_days: Option<f64>,
    #[pyo3(from_py_with = args::visits_first_day)] visits_first_day: Option<f64>,
    #[pyo3(from_py_with = args::visits_mean_days)] visits_mean_days: Option<f64>,
    #[pyo3(from_py_with = args::visit_cost)] visit_cost: f64,
    sites: Option<&Bound<'_, PyAny>>,
    dark_minutes: Option<&Bound<'_, PyAny>>,
    discount: Option<&Bound<'_, PyAny>>,
    #[pyo3(from_py_with = args::periods)] periods: usize,
    #[pyo3(from_py_with = args::period_days)] period_days: f64,
    #[pyo3(from_py_with = args::replicates)] replicates: usize,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyPlayedFleet> {
    let sockets = sockets("play_fleet", age_hours, hours_per_week)?;
    let sites: Vec<String> = match sites {
        // A missing site stays blank and is refused as such, with its row.
        Some(given) => labels(given, At { input: "play_fleet", column: "sites" })?
            .into_iter()
            .map(Option::unwrap_or_default)
            .collect(),
        None => Vec::new(),
    };
    if !sites.is_empty() && sites.len() != sockets.len() {
        let got = format!("{} for {}", sites.len(), counted(sockets.len() as u64, "age"));
        let what = "columns of different length";
        return Err(refuse("python.length", what, "play_fleet", "sites", &got, "one for each age").into());
    }
    let given = Given {
        planned_age_hours,
        visit_age_hours,
        join_changes,
        calendar_days,
        calendar_first_day,
        calendar_from_hours,
    };
    let assumptions = Assumptions {
        sockets: &sockets,
        sites: &sites,
        world: &world.get().0,
        rule: given.rule(change)?,
        visits: visits(visits_days, visits_first_day, visits_mean_days)?,
        limit: &limit.get().0,
        visit_cost,
        dark_minutes: dark(dark_minutes)?,
        discount: discounted(discount)?,
    };
    let options = PlayOptions { horizon: Horizon { period_days, periods }, replicates, seed };
    let play = |run: &crate::Run| core(&assumptions, &options, run).map_err(|error| error.renamed(&NAMES));
    Ok(PyPlayedFleet(work(py, progress, play)?))
}

/// What a rule and visits are made of, and the arguments that give it.
const NAMES: [(&str, &str, &str); 10] = [
    ("rule", "age_hours", "planned_age_hours"),
    ("rule", "visit_age_hours", "visit_age_hours"),
    ("rule", "every_days", "calendar_days"),
    ("rule", "first_day", "calendar_first_day"),
    ("rule", "from_age_hours", "calendar_from_hours"),
    ("visits", "days", "visits_days"),
    ("visits", "first_day", "visits_first_day"),
    ("visits", "mean_days", "visits_mean_days"),
    ("horizon", "period_days", "period_days"),
    ("horizon", "periods", "periods"),
];
