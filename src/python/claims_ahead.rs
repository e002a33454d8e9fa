//! Claims to expect from the lamps that burn today.

use arrow_array::RecordBatch;
use chrono::NaiveDate;
use pyo3::prelude::*;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::records::Values;
use crate::warranty::{ClaimsAhead, LampInService, claims_ahead as one_world, claims_ahead_over_draws};

use super::chain::stops_given;
use super::claims::PyCover;
use super::demand::{PyCount, sockets};
use super::error::refuse;
use super::fixed::Fixed;
use super::frames::Frame;
use super::intake::{Table, arguments as args, kind_of};
use super::result::result_class;
use super::show::{Facts, facts};
use super::terms::PyHourLimit;
use super::uncertainty::pairs;
use super::work::work;
use super::worlds::{PyDraws, PyWorld};

const AHEAD: Format = Format::new("claims_ahead", 1);

fn ahead_table(a: &ClaimsAhead) -> Result<RecordBatch> {
    let count = &a.claims;
    let each = || (count.first()..).take(count.probabilities().len());
    Frame::default()
        .counts("claims", each())
        .numbers("probability", count.probabilities().iter().copied())
        .numbers("at_most", each().map(|n| count.at_most(n)))
        .finish()
}

fn ahead_facts(a: &ClaimsAhead) -> Facts {
    facts! {
        "lamps": a.lamps, "under_cover": a.under_cover, "not_known": a.not_known, "days": a.days,
        "planned_age_hours": a.planned_age_hours, "mean_claims": a.claims.mean(), "mean_money": a.mean_money,
        "later_claims": a.later_claims, "later_money": a.later_money,
        "draws": a.draws.as_ref().map(|d| d.used),
        "notes": a.notes.iter().map(|n| n.text.as_str()).collect::<Vec<_>>(),
    }
}

result_class! {
    /// Claims to expect from the lamps that burn today; made by `claims_ahead`.
    ///
    /// Its table holds the probability of each number of claims.
    PyClaimsAhead holds ClaimsAhead as "ClaimsAhead";
    save |a| saved::save(AHEAD, a); load |t| saved::load(AHEAD, t); table ahead_table; show ahead_facts;
    {
        /// Lamps that burn today.
        #[getter]
        fn lamps(&self) -> u64 {
            self.0.lamps
        }

        /// Of these, lamps that a claim may still come from.
        #[getter]
        fn under_cover(&self) -> u64 {
            self.0.under_cover
        }

        /// Of these, lamps of which it cannot be told: their age or the day that the warranty runs from is not known.
        #[getter]
        fn not_known(&self) -> u64 {
            self.0.not_known
        }

        /// Days looked ahead.
        #[getter]
        fn days(&self) -> f64 {
            self.0.days
        }

        /// Age at which lamps are changed, hours.
        #[getter]
        fn planned_age_hours(&self) -> f64 {
            self.0.planned_age_hours
        }

        /// Number of claims of the lamps that burn today.
        #[getter]
        fn claims(&self) -> PyCount {
            PyCount(self.0.claims.clone())
        }

        /// Mean money that comes back for them, if every claim is filed and accepted.
        #[getter]
        fn mean_money(&self) -> f64 {
            self.0.mean_money
        }

        /// Mean number of claims beside these: of lamps that are fitted within the days.
        #[getter]
        fn later_claims(&self) -> f64 {
            self.0.later_claims
        }

        /// Mean money that comes back for these.
        #[getter]
        fn later_money(&self) -> f64 {
            self.0.later_money
        }

        /// Ends between which the mean money lies in nine of ten draws; None for one world.
        #[getter]
        fn mean_money_90(&self) -> Option<(f64, f64)> {
            self.0.mean_money_90
        }

        /// Draws mixed; None for one world.
        #[getter]
        fn draws(&self) -> Option<usize> {
            self.0.draws.as_ref().map(|d| d.used)
        }

        /// What a reader must know beside the numbers: pairs of slug and sentence.
        #[getter]
        fn notes(&self) -> Fixed<(String, String)> {
            Fixed(pairs(&self.0.notes))
        }
    }
}

/// Days of lamps as a table column of dates or texts; as many as there are lamps, or none at all.
fn days(
    py: Python<'_>,
    name: &str,
    given: Option<&Bound<'_, PyAny>>,
    lamps: usize,
) -> PyResult<Vec<Option<NaiveDate>>> {
    let Some(given) = given else { return Ok(vec![None; lamps]) };
    let dict = pyo3::types::PyDict::new(py);
    dict.set_item(name, given)?;
    let column = Table::open(dict.as_any(), "claims_ahead")?.values(name)?;
    let wrong = |row: usize, got: &str| {
        let expected = "a date, a text such as '2026-01-31', or None";
        refuse("python.type", &format!("row {}: not a day", row + 1), "claims_ahead", name, got, expected)
    };
    let iso = Some(crate::records::DateOrder::Iso);
    let days: Vec<Option<NaiveDate>> = match column.map(|c| c.values) {
        Some(Values::Date(days)) => days,
        Some(Values::Text(texts)) => {
            let one = |(row, text): (usize, Option<crate::records::Word>)| match text.filter(|t| !t.trim().is_empty()) {
                None => Ok(None),
                Some(text) => crate::records::date(&text, iso).map(Some).map_err(|_| wrong(row, &text)),
            };
            texts.into_iter().enumerate().map(one).collect::<Result<_>>()?
        }
        Some(Values::Number(numbers)) if numbers.iter().all(Option::is_none) => vec![None; numbers.len()],
        _ => return Err(wrong(0, "a number").into()),
    };
    if days.len() != lamps {
        let (what, got) = ("columns of different length", format!("{} for {lamps}", days.len()));
        return Err(refuse("python.length", what, "claims_ahead", name, &got, "one for each age").into());
    }
    Ok(days)
}

/// Claims to expect from the lamps that burn today, if they are changed at the planned age or at failure.
///
/// A lamp is covered until its hours, its calendar, the planned age or the days are over or its screen stops, whichever
/// comes first. The number of claims is that of the lamps that burn today; lamps that are fitted within the days bring
/// claims too, whose means stand beside, every change of a screen counted. Every claim is taken as filed and accepted;
/// strikes are not forecast.
///
/// Parameters
/// ----------
/// model : World or Draws
///     With draws, lamps are independent within a draw and the distributions are mixed over draws.
/// age_hours : array-like
///     Ages of the lamps that burn today, hours; a missing one (None, null) is not known, and the lamp is left out
///     and told.
/// hours_per_week : float or array-like
///     Programme hours of the screens, 0 to 168.
/// cover : Cover
///     The warranty.
/// planned_age_hours : float
///     Age of the planned change, hours, above 0; held to the limit.
/// limit : HourLimit
///     The age that no lamp may pass.
/// as_of : date or str
///     Today.
/// days : float
///     Days to look ahead, above 0 and at most 7,310; a year by default.
/// fitted_on, delivered_on : array-like of dates or str, optional
///     Days of fitting and of delivery, of which a warranty with months needs one; None where not known.
/// stop : list, optional
///     For each lamp when its screen stops, as for `chain_forecast`.
/// progress : callable, optional
///     Told `(done, total)` now and then, and at the end.
///
/// Returns
/// -------
/// ClaimsAhead
///
/// Raises
/// ------
/// InputError
///     For what is neither a world nor draws, ages, hours or days that are none or out of range; all rows at once.
/// RefusedError
///     Where one screen would need hundreds of lamps.
///
/// Examples
/// --------
/// >>> import relamp
/// >>> life = relamp.life("exponential", scale=5000.0)
/// >>> world = relamp.world({"burst": life}, relamp.costs(950.0, burst=5200.0))
/// >>> limit = relamp.hour_limit(maximum_hours=2000.0, source="invented data sheet")
/// >>> warranty = relamp.warranty(form="full", price=780.0, hours=1000.0, endings=["burst"])
/// >>> ahead = relamp.claims_ahead(
/// ...     world, [500.0, 1500.0], hours_per_week=70.0, cover=relamp.cover(warranty), planned_age_hours=1800.0,
/// ...     limit=limit, as_of="2026-01-01",
/// ... )
/// >>> ahead.under_cover, round(ahead.mean_money, 2)
/// (1, 74.23)
#[pyfunction]
#[pyo3(signature = (model, age_hours, *, hours_per_week, cover, planned_age_hours, limit, as_of, days=365.25, fitted_on=None,
    delivered_on=None, stop=None, progress=None))]
#[allow(clippy::too_many_arguments)] // Those of the question, each by name.
pub(super) fn claims_ahead(
    py: Python<'_>,
    model: &Bound<'_, PyAny>,
    age_hours: &Bound<'_, PyAny>,
    hours_per_week: &Bound<'_, PyAny>,
    #[pyo3(from_py_with = args::made::<PyCover>)] cover: &Bound<'_, PyCover>,
    #[pyo3(from_py_with = args::planned_age_hours)] planned_age_hours: f64,
    #[pyo3(from_py_with = args::made::<PyHourLimit>)] limit: &Bound<'_, PyHourLimit>,
    #[pyo3(from_py_with = args::as_of)] as_of: NaiveDate,
    #[pyo3(from_py_with = args::days)] days: f64,
    fitted_on: Option<&Bound<'_, PyAny>>,
    delivered_on: Option<&Bound<'_, PyAny>>,
    stop: Option<Vec<Bound<'_, PyAny>>>,
    progress: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyClaimsAhead> {
    let today = sockets("claims_ahead", age_hours, hours_per_week)?;
    let fitted = self::days(py, "fitted_on", fitted_on, today.len())?;
    let delivered = self::days(py, "delivered_on", delivered_on, today.len())?;
    let stops = stops_given("claims_ahead", stop, today.len())?;
    let lamps: Vec<LampInService> = today
        .into_iter()
        .zip(fitted)
        .zip(delivered)
        .zip(stops)
        .map(|(((s, fitted_on), delivered_on), stop)| LampInService {
            age_hours: s.age_hours,
            hours_per_week: s.hours_per_week,
            fitted_on,
            delivered_on,
            stop,
        })
        .collect();
    let (cover, limit, age) = (&cover.get().0, &limit.get().0, planned_age_hours);
    let ahead = if let Ok(draws) = model.cast::<PyDraws>() {
        let draws = draws.get();
        work(py, progress, |run| claims_ahead_over_draws(&lamps, &draws.0, cover, age, limit, as_of, days, run))?
    } else if let Ok(world) = model.cast::<PyWorld>() {
        let world = world.get();
        work(py, progress, |_| one_world(&lamps, &world.0, cover, age, limit, as_of, days))?
    } else {
        let expected = "a World or Draws";
        return Err(refuse("python.model", "not a model", "claims_ahead", "model", &kind_of(model), expected).into());
    };
    Ok(PyClaimsAhead(ahead))
}
