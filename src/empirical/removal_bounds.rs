//! Worst-case bounds of the reliability where lamps are taken out because they look about to fail.

use serde::{Deserialize, Serialize};

use super::curve::{Curve, CurveOptions, product_limit};
use super::incidence::{Incidence, incidence};
use super::removal::{Events, RemovalOptions, Seen};
use super::suspects::{BoundsAt, check_widest, incidence_ends, judge_bounds, lower_end};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::lives::{Rows, Tally};
use crate::records::Ending;

const FORMAT: Format = Format::new("removal_bounds", 1);

/// What is asked of the bounds.
#[derive(Clone, Debug, PartialEq)]
pub struct RemovalBoundsOptions {
    /// Which endings are suspect removals, and how rows are read.
    pub removal: RemovalOptions,
    /// The age at which the bounds are judged, hours.
    pub age_hours: f64,
    /// Widest bounds that still say something, as a share of lamps.
    pub widest: f64,
    /// Level of the bands of both bounds.
    pub level: f64,
}

/// Bounds of the reliability; made by [`removal_bounds`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RemovalBounds {
    /// The endings named as suspect.
    pub suspects: Vec<Ending>,
    /// Lamps that ended so.
    pub suspect_lamps: u64,
    /// The curve if each would have failed at once: the lower bound.
    pub if_at_once: Curve,
    /// What failed while others were taken out; failures stand under [`Ending::Unknown`], removals under
    /// [`Ending::Other`]. 1 less the failures is the upper bound, if no lamp taken out would ever have failed.
    pub if_never: Incidence,
    /// The bounds at the asked age.
    pub at: BoundsAt,
}

impl Sound for RemovalBounds {
    fn check(&self, c: &mut Checks) {
        c.once("suspects", self.suspects.iter().copied());
        c.part("if_at_once", &self.if_at_once);
        c.part("if_never", &self.if_never);
        let most = self.if_at_once.lamps();
        c.need("suspect_lamps", self.suspect_lamps <= most, self.suspect_lamps, "at most the lamps");
        c.part("at", &self.at);
        if let Some((low, high)) = self.bounds_at(self.at.age_hours) {
            c.equal("at.low", self.at.low, low);
            c.equal("at.high", self.at.high, high);
        }
    }
}

/// The rows as failures and removals, by two endings.
fn as_causes(events: &Events) -> Result<Tally> {
    let mut rows = Rows::default();
    let (mut entry, mut ending, mut count) = (Vec::new(), Vec::new(), Vec::new());
    for event in &events.each {
        rows.low.push(event.age);
        rows.high.push(if event.seen == Seen::Passed { f64::INFINITY } else { event.age });
        entry.push(event.entry);
        ending.push(match event.seen {
            Seen::Failed => Ending::Unknown,
            Seen::Removed => Ending::Other,
            Seen::Passed => Ending::Running,
        });
        count.push(event.count);
    }
    (rows.entry, rows.ending, rows.count) = (Some(entry), Some(ending), Some(count));
    Ok(Tally::from_rows(&rows)?.0)
}

/// Bounds the reliability whatever the lamps that were taken out early would have done: fail at once, or never.
///
/// # Formula
/// ```text
/// lower: the product-limit curve with every suspect removal a failure at its age
/// upper: 1 - incidence of failure while suspect removals take lamps away
/// ```
/// They hold for every dependence of removal on failure, while the other rows that did not fail are independent of both.
/// The upper bound lies above the curve that takes removals as independent, which is no bound.
///
/// # Errors
/// `empirical.suspects`, `empirical.widest`, `empirical.level`; `empirical.beyond_last_age`; those of [`product_limit`].
///
/// # Source
/// A. V. Peterson (1976), Bounds for a joint distribution function with fixed sub-distribution functions, Proceedings of
/// the National Academy of Sciences 73, 11-13 (from memory).
///
/// # Examples
/// ```
/// use relamp::empirical::{RemovalBoundsOptions, RemovalOptions, removal_bounds};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::Ending;
/// let rows = Rows {
///     low: vec![100.0, 200.0, 300.0],
///     high: vec![f64::INFINITY, 200.0, f64::INFINITY],
///     ending: Some(vec![Ending::Dim, Ending::Burst, Ending::Running]),
///     count: Some(vec![5, 1, 4]),
///     ..Rows::default()
/// };
/// let removal = RemovalOptions { suspects: vec![Ending::Dim], ..RemovalOptions::default() };
/// let options = RemovalBoundsOptions { removal, age_hours: 250.0, widest: 0.25, level: 0.95 };
/// let bounds = removal_bounds(&Tally::from_rows(&rows)?.0, &options)?;
/// // Of 10 lamps 1 failed and 5 were taken out.
/// assert!((bounds.at.low - 0.4).abs() < 1e-12 && (bounds.at.high - 0.9).abs() < 1e-12);
/// assert!(!bounds.at.informative && bounds.at.sentence.contains("uninformative"));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn removal_bounds(tally: &Tally, options: &RemovalBoundsOptions) -> Result<RemovalBounds> {
    check_widest(options.widest)?;
    let events = Events::new(tally, &options.removal)?;
    let causes = as_causes(&events)?;
    let curve = CurveOptions { level: options.level, ..CurveOptions::default() };
    let if_at_once = product_limit(&causes, &curve).map_err(|error| too_few(error, curve.min_at_risk))?;
    let if_never = incidence(&causes, &curve)?;
    let age = options.age_hours;
    let ends = (if_at_once.reliability_at(age), upper_at(&if_never, age));
    let outer = outer(&if_at_once, &if_never, age).map(|o| (o, options.level));
    let at = judge_bounds("reliability at", age, options.widest, events.suspect_lamps, ends, outer)?;
    let suspects = options.removal.suspects.clone();
    Ok(RemovalBounds { suspects, suspect_lamps: events.suspect_lamps, if_at_once, if_never, at })
}

/// A refusal for late entry in the words of these bounds, which take no least number of lamps.
fn too_few(error: Error, least: u64) -> Error {
    let Some(found) = error.problems().first().filter(|p| p.slug == "empirical.too_few_at_risk") else { return error };
    let problem = Problem::new("empirical.too_few_at_risk", found.what.clone())
        .at(Place::input("tally").column("entry"))
        .got(found.got.clone())
        .expected(format!("{} at once", counted(least, "lamp")));
    Error::new(Kind::Refused, problem).with_hint("more records, or those lamps alone that were seen from new")
}

/// 1 less the incidence of failure.
fn upper_at(if_never: &Incidence, age: f64) -> Option<f64> {
    if_never.incidence_at(Ending::Unknown, age).map(|i| 1.0 - i)
}

/// The lower end of the band of the lower bound, the upper end of that of the upper bound.
fn outer(if_at_once: &Curve, if_never: &Incidence, age: f64) -> Option<(f64, f64)> {
    let failed = incidence_ends(if_never, Ending::Unknown, if_at_once.level(), age)?;
    Some((lower_end(if_at_once, age)?, 1.0 - failed.0))
}

impl RemovalBounds {
    /// Lower and upper bound at an age for the lamps of the records; none where no lamp was under observation. They hold
    /// whatever became of the lamps taken out, and know nothing of chance: other lamps of the kind may lie outside, which
    /// [`RemovalBounds::outer_at`] allows for.
    pub fn bounds_at(&self, age: f64) -> Option<(f64, f64)> {
        Some((self.if_at_once.reliability_at(age)?, upper_at(&self.if_never, age)?))
    }

    /// Lower and upper bound with what chance may add: the lower end of the band of the lower bound, and the upper end of
    /// that of the upper bound, each at its age and at the level of the bands. Before the first failure or removal the lower
    /// end is the exact one for no event among the lamps at risk; other bounds of 0 or 1 stand alone.
    pub fn outer_at(&self, age: f64) -> Option<(f64, f64)> {
        outer(&self.if_at_once, &self.if_never, age)
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// Bounds from their saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(FORMAT, text)
    }
}
