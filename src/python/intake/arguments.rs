//! Single numbers and texts as arguments. Each is read by a function of its own name, so that a refusal names the argument.

use std::collections::BTreeMap;

use pyo3::PyTypeInfo;
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyFloat, PyInt, PyString};

use super::{At, is_missing, kind_of, numbers};

/// What a number may be beside a plain one.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Absent {
    /// It must be there.
    Never,
    /// None stands for absent.
    None,
}

/// A value as a refusal shows it: plain numbers as they are, anything else with its type.
fn shown(obj: &Bound<'_, PyAny>) -> String {
    const LONGEST: usize = 60;
    let kind = kind_of(obj);
    // An integer of thousands of digits has no text.
    let Ok(text) = obj.repr() else { return format!("a value of type {kind}") };
    let text = text.to_string();
    let text =
        if text.chars().count() > LONGEST { text.chars().take(LONGEST).chain("...".chars()).collect() } else { text };
    let plain = obj.is_none() || obj.is_exact_instance_of::<PyInt>() || obj.is_exact_instance_of::<PyFloat>();
    if plain { text } else { format!("{text} of type {kind}") }
}

/// A whole number of at least 0; anything with an `__index__` is one, a boolean and a float are not.
fn whole(obj: &Bound<'_, PyAny>, at: At<'_>, absent: Absent) -> PyResult<Option<u64>> {
    if absent == Absent::None && is_missing(obj) {
        return Ok(None);
    }
    let numpy_bool = kind_of(obj).starts_with("numpy.bool");
    let counts = obj.hasattr("__index__")? && !obj.is_instance_of::<PyBool>() && !numpy_bool;
    if counts && let Ok(number) = obj.extract::<u64>() {
        return Ok(Some(number));
    }
    let none = if absent == Absent::None { ", or None" } else { "" };
    let expected = format!("a whole number from 0 to {}{none}", u64::MAX);
    let what = if counts { "out of range" } else { "not a whole number" };
    Err(at.refuse("python.whole_number", what, &shown(obj), &expected))
}

/// A number; NaN is none.
fn real(obj: &Bound<'_, PyAny>, at: At<'_>, absent: Absent) -> PyResult<Option<f64>> {
    let expected = if absent == Absent::None { "a number, or None where there is none" } else { "a number" };
    match numbers::one(obj) {
        Ok(Some(x)) if x.is_nan() => Err(at.refuse("python.nan", "not a number", "NaN", expected)),
        Ok(Some(x)) => Ok(Some(x)),
        Ok(None) if absent == Absent::None => Ok(None),
        Ok(None) => Err(at.refuse("python.missing", "missing value", &shown(obj), expected)),
        Err(_) => Err(at.refuse("python.type", "not a number", &shown(obj), expected)),
    }
}

/// One number that must be there.
pub(in crate::python) fn one_number(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<f64> {
    Ok(real(obj, at, Absent::Never)?.unwrap_or(f64::NAN))
}

/// An age that is judged: a number of at least 0. A limit must not say of NaN or of a wrong sign that all is well.
pub(in crate::python) fn age_to_judge(obj: &Bound<'_, PyAny>) -> PyResult<f64> {
    let at = At { input: "age_hours", column: "" };
    let age = one_number(obj, at)?;
    if age >= 0.0 {
        return Ok(age);
    }
    Err(at.refuse("python.age", "an age below 0", &shown(obj), "hours of at least 0"))
}

/// An object that another call made, such as a tally; whatever else is refused by what is needed.
pub(in crate::python) fn made<'a, 'py, T: PyTypeInfo>(obj: &'a Bound<'py, PyAny>) -> PyResult<&'a Bound<'py, T>> {
    obj.cast::<T>().map_err(|_| {
        let needed = T::type_object(obj.py()).name().map_or_else(|_| "another object".into(), |name| name.to_string());
        let at = At { input: &needed, column: "" };
        at.refuse("python.type", "another object is needed", &shown(obj), &format!("a relamp.{needed}"))
    })
}

/// A list of fits.
pub(in crate::python) fn fits<'py, T: PyTypeInfo>(obj: &Bound<'py, PyAny>) -> PyResult<Vec<Bound<'py, T>>> {
    let at = At { input: "fits", column: "" };
    let refused = |what: &str, got: &Bound<'py, PyAny>| {
        at.refuse("python.type", what, &shown(got), "a list of relamp.Fit, as `fit` makes them")
    };
    let items = match obj.extract::<Vec<Bound<'py, PyAny>>>() {
        Ok(items) if !obj.is_instance_of::<PyString>() => items,
        _ => return Err(refused("not a list of fits", obj)),
    };
    let each = items.iter().enumerate();
    each.map(|(i, item)| item.cast::<T>().cloned().map_err(|_| refused(&format!("entry {} is no fit", i + 1), item)))
        .collect()
}

/// A text; whatever else is refused by the name of its argument.
fn word<'a>(obj: &'a Bound<'_, PyAny>, name: &str, expected: &str) -> PyResult<&'a str> {
    match obj.cast::<PyString>() {
        Ok(text) => text.to_str(),
        Err(_) => Err(At { input: name, column: "" }.refuse("python.type", "not a text", &shown(obj), expected)),
    }
}

/// A list of texts.
fn texts(obj: &Bound<'_, PyAny>, name: &str, expected: &str) -> PyResult<Vec<String>> {
    let at = At { input: name, column: "" };
    let refused = |got: &Bound<'_, PyAny>| at.refuse("python.type", "not a list of texts", &shown(got), expected);
    // A text is a sequence of its letters, which nobody means.
    let items = match obj.extract::<Vec<Bound<'_, PyAny>>>() {
        Ok(items) if !obj.is_instance_of::<PyString>() => items,
        _ => return Err(refused(obj)),
    };
    items.iter().map(|item| item.extract::<String>().map_err(|_| refused(item))).collect()
}

/// A belief as two or three numbers, or None.
fn numbers_or_none(obj: &Bound<'_, PyAny>, name: &'static str) -> PyResult<Option<Vec<f64>>> {
    if obj.is_none() {
        return Ok(None);
    }
    let at = At { input: name, column: "" };
    let expected = "(low, high), or (low, high, probability), or None";
    match obj.extract::<Vec<Bound<'_, PyAny>>>() {
        Ok(items) if !obj.is_instance_of::<PyString>() => {
            items.iter().map(|item| one_number(item, at)).collect::<PyResult<_>>().map(Some)
        }
        _ => Err(at.refuse("python.type", "not a range of numbers", &shown(obj), expected)),
    }
}

pub(in crate::python) fn belief_of_b_life(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<f64>>> {
    numbers_or_none(obj, "b_life")
}

pub(in crate::python) fn belief_of_shape(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<f64>>> {
    numbers_or_none(obj, "shape")
}

/// A family in place of the one that records favour, or None.
pub(in crate::python) fn family_or_none(obj: &Bound<'_, PyAny>) -> PyResult<Option<String>> {
    if obj.is_none() { Ok(None) } else { word(obj, "family", FAMILY).map(|t| Some(t.to_owned())) }
}

const FAMILY: &str = "the name of a family, such as 'weibull'";

/// Names of columns of a table that are covariates.
pub(in crate::python) fn covariate_names(obj: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    texts(obj, "covariates", "a list of names of columns, such as ['supplier', 'current']")
}

/// Covariates that records hold, or None.
pub(in crate::python) fn record_covariates(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<String>>> {
    let expected = "a list of batch, screen, site, strikes_per_hour, supplier, or None";
    if obj.is_none() { Ok(None) } else { texts(obj, "covariates", expected).map(Some) }
}

/// Terms that must be given.
pub(in crate::python) fn terms(obj: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    texts(obj, "terms", "a list of terms, such as ['supplier', 'current', 'supplier:current']")
}

/// Categories that are kept apart, or None.
pub(in crate::python) fn strata(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<String>>> {
    if obj.is_none() {
        Ok(None)
    } else {
        texts(obj, "strata", "a list of categories, such as ['supplier'], or None").map(Some)
    }
}

/// Terms that a comparison is adjusted for, or None.
pub(in crate::python) fn adjust(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<String>>> {
    if obj.is_none() {
        Ok(None)
    } else {
        texts(obj, "adjust", "a list of terms, such as ['site', 'current'], or None").map(Some)
    }
}

/// Scales of a prior, or None.
pub(in crate::python) fn prior_scales(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<f64>>> {
    if obj.is_none() {
        return Ok(None);
    }
    let at = At { input: "prior_scales", column: "" };
    match obj.extract::<Vec<Bound<'_, PyAny>>>() {
        Ok(items) if !obj.is_instance_of::<PyString>() => {
            items.iter().map(|item| one_number(item, at)).collect::<PyResult<_>>().map(Some)
        }
        _ => Err(at.refuse(
            "python.type",
            "not a list of numbers",
            &shown(obj),
            "numbers such as [0.5, 0.25, 1.0], or None",
        )),
    }
}

/// Levels by category, or None.
pub(in crate::python) fn references(obj: &Bound<'_, PyAny>) -> PyResult<Option<BTreeMap<String, String>>> {
    if obj.is_none() {
        return Ok(None);
    }
    let at = At { input: "references", column: "" };
    let expected = "a dict of levels by category, such as {'supplier': 'north'}, or None";
    obj.extract().map(Some).map_err(|_| at.refuse("python.type", "not a dict of texts", &shown(obj), expected))
}

/// A scale of age.
pub(in crate::python) fn scale_of_age<'a>(obj: &'a Bound<'_, PyAny>) -> PyResult<&'a str> {
    word(obj, "scale", "'product_limit', 'age' or 'rank'")
}

/// Endings that must be given.
pub(in crate::python) fn endings_given(obj: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    texts(obj, "endings", "a list of endings, such as ['burst', 'dim']")
}

/// What lamps are watched by, or None.
pub(in crate::python) fn watched_by(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<String>>> {
    let expected = "a list of fleet, batch, supplier, site, screen, or None";
    if obj.is_none() { Ok(None) } else { texts(obj, "by", expected).map(Some) }
}

/// Endings that may be misfiled; some must be given.
pub(in crate::python) fn suspects(obj: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    texts(obj, "suspects", "a list of endings, such as ['unknown', 'other']")
}

macro_rules! text_arguments {
    ($($name:ident: $expected:expr),* $(,)?) => {
        $(pub(in crate::python) fn $name<'a>(obj: &'a Bound<'_, PyAny>) -> PyResult<&'a str> {
            word(obj, stringify!($name), $expected)
        })*
    };
}

macro_rules! text_or_none_arguments {
    ($($name:ident: $expected:literal),* $(,)?) => {
        $(pub(in crate::python) fn $name(obj: &Bound<'_, PyAny>) -> PyResult<Option<String>> {
            if obj.is_none() {
                return Ok(None);
            }
            word(obj, stringify!($name), concat!($expected, ", or None")).map(|t| Some(t.to_owned()))
        })*
    };
}

macro_rules! endings_arguments {
    ($($name:ident),* $(,)?) => {
        $(pub(in crate::python) fn $name(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<String>>> {
            if obj.is_none() {
                return Ok(None);
            }
            texts(obj, stringify!($name), "a list of endings, such as ['burst', 'dim'], or None").map(Some)
        })*
    };
}

/// Yes or no.
fn truth(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<bool> {
    obj.extract::<bool>().map_err(|_| at.refuse("python.type", "neither yes nor no", &shown(obj), "True or False"))
}

text_arguments!(
    band_scale: "'log_log', 'log', 'plain' or 'arcsine'",
    by: "a category of the lives, such as 'supplier'",
    cause: "an ending, such as 'burst'",
    change: "'at_failure', 'at_age', 'at_age_or_visit', 'site_together' or 'on_calendar'",
    clock: "'hours' or 'days'",
    cluster: "'life' or 'site'",
    ended: "'time' or 'failure'",
    estimate: "'maximum_likelihood' or 'unbiased'",
    family: FAMILY,
    form: "'full', 'pro_rata' or 'stepped'",
    group: "the name of a group",
    hazard_scale: "'log', 'plain' or 'arcsine'",
    kind: "'needed', 'planned' or 'failures'",
    lamp: "the name of a lamp class",
    measure: "'screens_waiting' or 'dark_hours'",
    more_in: "the name of a group",
    name: "a name",
    narrow: FAMILY,
    other: "the name of a group",
    regression_on: "'age' or 'share'",
    rule: "'median' or 'benard'",
    scale: "'plain', 'positive' or 'share'",
    shared_on: "'hazard' or 'hours'",
    sides: "'both', 'lower' or 'upper'",
    source: "where the hours are printed, in words",
    stratum: "the name of a stratum",
    strikes_per_hour: "the name of a covariate",
    termination: "'time' or 'failure'",
    text: "the text of a saved form",
    than_in: "the name of a group",
    weight: "'even', 'at_risk', 'root_at_risk' or 'reliability'",
    while_dark: "'clock_stops' or 'clock_runs'",
    wide: FAMILY,
);
text_or_none_arguments!(
    depot: "the name of a depot",
    extrapolate_because: "a reason in words",
    lamp_class: "the name of a lamp class",
    method: "'exact', 'means' or 'two_moments'",
    parameter: "the name of a parameter, such as 'shape'",
    reading: "'upper', 'midpoint' or 'lower'",
    reason: "a reason in words",
    shared_by: "'site', 'chain' or 'batch'",
    since: "a day such as '2025-03-17'",
    single: "'constant_over_life'",
    site: "the name of a site",
);
endings_arguments!(endings, failure_endings, failures);

macro_rules! arguments {
    ($read:ident as $out:ty: $($name:ident),* $(,)?) => {
        $(pub(in crate::python) fn $name(obj: &Bound<'_, PyAny>) -> PyResult<$out> {
            $read(obj, At { input: stringify!($name), column: "" })
        })*
    };
}

pub(in crate::python) fn count(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<u64> {
    Ok(whole(obj, at, Absent::Never)?.unwrap_or(0))
}

/// A size that no memory holds stays as large as can be: whoever takes it refuses it by its own bound.
fn size_of(n: u64) -> usize {
    usize::try_from(n).unwrap_or(usize::MAX)
}

fn size(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<usize> {
    Ok(size_of(count(obj, at)?))
}

fn size_or_none(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Option<usize>> {
    Ok(whole(obj, at, Absent::None)?.map(size_of))
}

/// An age and hours after it, or none.
pub(in crate::python) fn failure_within(obj: &Bound<'_, PyAny>) -> PyResult<Option<(f64, f64)>> {
    if obj.is_none() {
        return Ok(None);
    }
    let at = At { input: "failure_within", column: "" };
    let Ok((age, hours)) = obj.extract::<(Bound<'_, PyAny>, Bound<'_, PyAny>)>() else {
        return Err(at.refuse("python.type", "not a pair", &shown(obj), "an age and hours after it, or None"));
    };
    Ok(Some((one_number(&age, at)?, one_number(&hours, at)?)))
}

fn number_or_none(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Option<f64>> {
    real(obj, at, Absent::None)
}

/// The age of a planned change where not every way of changing has one.
pub(in crate::python) fn planned_age_or_none(obj: &Bound<'_, PyAny>) -> PyResult<Option<f64>> {
    number_or_none(obj, At { input: "planned_age_hours", column: "" })
}

/// The later of two ages, or none where both are searched.
pub(in crate::python) fn later_age(obj: &Bound<'_, PyAny>) -> PyResult<Option<f64>> {
    number_or_none(obj, At { input: "age_hours", column: "" })
}

/// The age from which a visit is used, where it must be given.
pub(in crate::python) fn from_visit_age(obj: &Bound<'_, PyAny>) -> PyResult<f64> {
    one_number(obj, At { input: "visit_age_hours", column: "" })
}

/// The price of a lamp where money plays a part, or none.
pub(in crate::python) fn price_or_none(obj: &Bound<'_, PyAny>) -> PyResult<Option<f64>> {
    number_or_none(obj, At { input: "price", column: "" })
}

/// Names of sites.
pub(in crate::python) fn site_names(obj: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    texts(obj, "sites", "a list of names, such as ['north', 'south']")
}

/// When each screen stops, where any does.
pub(in crate::python) fn stops<'py>(obj: &Bound<'py, PyAny>) -> PyResult<Option<Vec<Bound<'py, PyAny>>>> {
    if obj.is_none() {
        return Ok(None);
    }
    let list = if obj.is_instance_of::<PyString>() { None } else { obj.try_iter().ok() };
    let wrong = || {
        let expected = "a list with a day, a pair of days, a dict of days with chances, or None for each screen";
        At { input: "stop", column: "" }.refuse("python.type", "not a list", &shown(obj), expected)
    };
    list.ok_or_else(wrong)?.collect::<PyResult<_>>().map(Some)
}

/// Why used lamps were taken out.
pub(in crate::python) fn used_endings(obj: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    texts(obj, "ending", "a list of endings, such as ['planned', 'converted']")
}

/// Why the used lamps of a shelf were taken out, where there are any.
pub(in crate::python) fn used_endings_or_none(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<String>>> {
    if obj.is_none() {
        return Ok(None);
    }
    texts(obj, "used_ending", "a list of endings, such as ['planned', 'converted']").map(Some)
}

/// Lamps by site.
pub(in crate::python) fn stock_by_site(obj: &Bound<'_, PyAny>) -> PyResult<BTreeMap<String, u64>> {
    let at = At { input: "stock", column: "" };
    let expected = "a dict of whole numbers by site, such as {'north': 2}";
    let given: BTreeMap<String, Bound<'_, PyAny>> =
        obj.extract().map_err(|_| at.refuse("python.type", "not a dict by site", &shown(obj), expected))?;
    given.into_iter().map(|(site, n)| Ok((site, count(&n, at)?))).collect()
}

/// How many draws to keep, where some number must be given.
pub(in crate::python) fn draws_kept(obj: &Bound<'_, PyAny>) -> PyResult<usize> {
    size(obj, At { input: "draws", column: "" })
}

/// The programme of a screen, where it may be left out.
pub(in crate::python) fn hours_per_week_or_none(obj: &Bound<'_, PyAny>) -> PyResult<Option<f64>> {
    number_or_none(obj, At { input: "hours_per_week", column: "" })
}

/// Hours of a show, where they may be left out.
pub(in crate::python) fn show_hours_or_none(obj: &Bound<'_, PyAny>) -> PyResult<Option<f64>> {
    number_or_none(obj, At { input: "show_hours", column: "" })
}

arguments!(count as u64: base_stock, box_lamps, box_of, from_lamps, least_order, minimum_order_lamps, quantity, waiting);

/// Whole days from order to delivery.
pub(in crate::python) fn whole_lead_time_days(obj: &Bound<'_, PyAny>) -> PyResult<u64> {
    count(obj, At { input: "lead_time_days", column: "" })
}

arguments!(size_or_none as Option<usize>: order_up_to);
arguments!(one_number as f64:
    dark_day, dark_show, days_ahead, holding_a_year, hours_spread, lead_time_days, money_rate, needed_a_day, per_order,
    per_transfer, review_days, shared_hours_spread, variance_to_mean,
);
arguments!(number_or_none as Option<f64>: emergency_days, shelf_life_days, site_days, warranty_days);
arguments!(one_number as f64: emergency_cost, warm_up_days);

/// A month of a play, counted from 1.
pub(in crate::python) fn month_played(obj: &Bound<'_, PyAny>) -> PyResult<usize> {
    size(obj, At { input: "month", column: "" })
}

/// One above the order point, where nothing may be ordered.
pub(in crate::python) fn base_stock_or_none(obj: &Bound<'_, PyAny>) -> PyResult<Option<u64>> {
    whole(obj, At { input: "base_stock", column: "" }, Absent::None)
}

/// Lamps by site, where sites may have no shelves.
pub(in crate::python) fn stock_of_sites(obj: &Bound<'_, PyAny>) -> PyResult<Option<BTreeMap<String, u64>>> {
    if obj.is_none() { Ok(None) } else { stock_by_site(obj).map(Some) }
}
arguments!(truth as bool: bias_corrected, by_stratum, robust);

/// Whether the mean is asked for; elsewhere `mean` is a number.
pub(in crate::python) fn mean_asked(obj: &Bound<'_, PyAny>) -> PyResult<bool> {
    truth(obj, At { input: "mean", column: "" })
}

arguments!(size_or_none as Option<usize>: draws, month);
arguments!(count as u64:
    allowed, depot_stock, lamps, seed, min_at_risk, most_lamps, most_steps, min_failures, number, on_hand, on_order,
    window_days,
);
arguments!(size as usize: months, n, period, periods, plays, points, replicate, replicates, screens);
arguments!(one_number as f64:
    age, age_hours, current, days, end_days, end_hours, exposure_hours, factor, false_alarms_a_year, first, first_age_hours, from_tau,
    gone_hours, gradient, hazard_ratio, horizon_hours, hours_per_week, least_factor, least_saving_percent, level, mean,
    mean_hours_between_visits, meter_step_hours, most_factor, most_share, near_percent, other_age_hours, p, percent,
    period_days, planned_age_hours, power, price, rate, ratio, reached, second, service_target, shape, share,
    shared_spread, shelf_loss_per_year, show_hours, stage_hours, tau, threshold, to_tau, transfer_cost, unit_cost, until_hours,
    upper_hours, value, visit_cost, widest, worth_of_new,
);
arguments!(number_or_none as Option<f64>:
    average_life_hours, b_life, block_cost, budget, calendar_days, calendar_first_day, calendar_from_hours,
    common_age_hours, cost_short, given_survival_to, hazard, hours, hours_per_year, least_hours_left, limit_hours,
    maker_days, maximum_hours, money_back, most_before_age, most_in_show, oldest_at_risk_hours, quantile,
    rate_per_hour, rate_per_year, reliability, risk, rule_hours, shortfall, todays_rule_hours, visit_age_hours, visits_days,
    visits_first_day, visits_mean_days, warranty_hours, worth_per_1000_hours,
);

/// A day, as a date or as a text such as "2026-01-31".
fn one_day(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<chrono::NaiveDate> {
    let text = match obj.cast::<PyString>() {
        Ok(text) => Some(text.to_string_lossy().into_owned()),
        Err(_) if obj.is_instance_of::<pyo3::types::PyDate>() => {
            let text = obj.call_method0("isoformat")?.extract::<String>()?;
            // A moment at midnight is a date, as frames give it.
            Some(text.strip_suffix("T00:00:00").map_or_else(|| text.clone(), str::to_owned))
        }
        Err(_) => None,
    };
    let day = text.and_then(|t| crate::records::date(&t, Some(crate::records::DateOrder::Iso)).ok());
    day.ok_or_else(|| at.refuse("python.type", "not a day", &shown(obj), "a date, or a text such as '2026-01-31'"))
}

fn whole_or_none(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Option<u64>> {
    whole(obj, at, Absent::None)
}

/// A number of at most a few years or months, which the library judges further.
fn small_or_none(obj: &Bound<'_, PyAny>, at: At<'_>) -> PyResult<Option<u32>> {
    Ok(whole_or_none(obj, at)?.map(|n| u32::try_from(n).unwrap_or(u32::MAX)))
}

/// What a claim needs, in words.
pub(in crate::python) fn needed(obj: &Bound<'_, PyAny>) -> PyResult<Vec<String>> {
    texts(obj, "needed", "a list of words, such as ['serial', 'photo']")
}

/// Sites and depots, or None.
pub(in crate::python) fn places(obj: &Bound<'_, PyAny>) -> PyResult<Option<Vec<String>>> {
    if obj.is_none() { Ok(None) } else { texts(obj, "places", "a list of sites and depots, or None").map(Some) }
}

text_arguments!(
    judged_at: "'any_moment' or 'period_ends'",
    months_from: "'fitting' or 'delivery'",
);
arguments!(one_day as chrono::NaiveDate: as_of, counted_on, due_by);
arguments!(one_number as f64: chance, handling_cost);
arguments!(whole_or_none as Option<u64>: most_strikes);
arguments!(small_or_none as Option<u32>: days_to_file);

/// Months of a warranty, or None.
pub(in crate::python) fn cover_months(obj: &Bound<'_, PyAny>) -> PyResult<Option<u32>> {
    small_or_none(obj, At { input: "months", column: "" })
}

/// One place of a count, or None for all.
pub(in crate::python) fn place(obj: &Bound<'_, PyAny>) -> PyResult<Option<String>> {
    if obj.is_none() {
        Ok(None)
    } else {
        word(obj, "place", "the name of a site or depot, or None").map(|t| Some(t.to_owned()))
    }
}

/// The class that is asked for.
pub(in crate::python) fn class_asked<'a>(obj: &'a Bound<'_, PyAny>) -> PyResult<&'a str> {
    word(obj, "lamp_class", "the name of a lamp class")
}
