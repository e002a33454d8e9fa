//! Worst-case bounds for endings that may be misfiled: the curves if none or all of them were failures at their age.

use serde::{Deserialize, Serialize};

use super::band::BandScale;
use super::curve::{Curve, CurveOptions, product_limit};
use super::incidence::{Incidence, incidence};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, hours};
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::lives::{Rows, Tally};
use crate::records::Ending;

const FORMAT: Format = Format::new("ending_bounds", 1);
const INCIDENCE_FORMAT: Format = Format::new("incidence_bounds", 1);

/// What is asked of worst-case bounds.
#[derive(Clone, Debug, PartialEq)]
pub struct SuspectOptions {
    /// The endings that may hide failures, or hold what was none.
    pub suspects: Vec<Ending>,
    /// The age at which the bounds are judged, hours.
    pub age_hours: f64,
    /// Widest bounds that still say something, as a share of lamps.
    pub widest: f64,
    /// How the curves are made.
    pub curve: CurveOptions,
}

/// The judged width of bounds at an age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoundsAt {
    /// The age, hours.
    pub age_hours: f64,
    /// Lower bound, a share of lamps.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
    /// Widest bounds that still say something.
    pub widest: f64,
    /// Whether these are no wider, chance left out: more lamps would narrow its part, but never that of the endings. The figures
    /// of a dial ([`crate::fit::DialAnswer`]) are judged with chance.
    pub informative: bool,
    /// What they say, in one sentence.
    pub sentence: String,
}

impl Sound for BoundsAt {
    fn check(&self, c: &mut Checks) {
        c.not_negative("age_hours", self.age_hours);
        c.share("low", self.low);
        c.share("high", self.high);
        c.ends("high", self.low, self.high + 1e-9);
        c.share("widest", self.widest);
        c.follows("informative", &self.informative, &(self.high - self.low <= self.widest));
        c.words("sentence", &self.sentence);
    }
}

/// Bounds of the reliability; made by [`ending_bounds`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EndingBounds {
    /// The endings named as suspect.
    pub suspects: Vec<Ending>,
    /// Lamps that ended so.
    pub suspect_lamps: u64,
    /// The curve if none of them was a failure: the upper bound.
    pub if_none: Curve,
    /// The curve if each failed at the age of its ending: the lower bound.
    pub if_all: Curve,
    /// The bounds at the asked age.
    pub at: BoundsAt,
}

impl Sound for EndingBounds {
    fn check(&self, c: &mut Checks) {
        c.once("suspects", self.suspects.iter().copied());
        c.part("if_none", &self.if_none);
        c.part("if_all", &self.if_all);
        c.need("suspect_lamps", self.suspect_lamps <= self.if_all.lamps(), self.suspect_lamps, "at most the lamps");
        c.part("at", &self.at);
        if let Some((low, high)) = self.bounds_at(self.at.age_hours) {
            c.equal("at.low", self.at.low, low);
            c.equal("at.high", self.at.high, high);
        }
    }
}

/// Bounds of the incidence of one cause; made by [`incidence_bounds`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IncidenceBounds {
    /// The cause.
    pub cause: Ending,
    /// The endings named as suspect.
    pub suspects: Vec<Ending>,
    /// Lamps that ended so.
    pub suspect_lamps: u64,
    /// Incidences if none of them was a failure.
    pub if_none: Incidence,
    /// Incidences if each failed by the cause at the age of its ending: the upper bound.
    pub if_all: Incidence,
    /// Incidences if each failed by some other cause: the lower bound, as lamps so lost can no longer fail by this one.
    pub if_otherwise: Incidence,
    /// The bounds at the asked age.
    pub at: BoundsAt,
    /// Level at which chance is allowed for.
    #[serde(default = "usual_level")]
    pub level: f64,
}

/// The level of bounds saved before they held theirs.
fn usual_level() -> f64 {
    CurveOptions::default().level
}

impl Sound for IncidenceBounds {
    fn check(&self, c: &mut Checks) {
        c.once("suspects", self.suspects.iter().copied());
        c.part("if_none", &self.if_none);
        c.part("if_all", &self.if_all);
        c.part("if_otherwise", &self.if_otherwise);
        c.part("at", &self.at);
        c.level("level", self.level);
        if let Some((low, high)) = self.bounds_at(self.at.age_hours) {
            c.equal("at.low", self.at.low, low);
            c.equal("at.high", self.at.high, high);
        }
    }
}

/// What becomes of a suspect row.
#[derive(Clone, Copy)]
pub(super) enum Taken {
    /// Right-censored at its age.
    Working,
    /// A failure at its age, by a cause where one is named.
    Failed(Option<Ending>),
}

/// A tally with its suspect rows read one way.
pub(super) fn read(tally: &Tally, suspects: &[Ending], taken: Taken) -> Result<Tally> {
    let mut rows = Rows {
        low: tally.low().to_vec(),
        high: tally.high().to_vec(),
        entry: tally.entry().map(<[f64]>::to_vec),
        upper: None,
        ending: None,
        group: Some(tally.group().to_vec()),
        covariates: tally.covariates().to_vec(),
        groups: tally.groups().to_vec(),
        count: Some(tally.count().to_vec()),
    };
    let mut endings = Vec::with_capacity(tally.rows());
    for (i, code) in tally.ending().iter().enumerate() {
        let mut ending = Ending::from_code(*code).unwrap_or(Ending::Unknown);
        if suspects.contains(&ending) {
            let (low, high) = (rows.low[i], rows.high[i]);
            let entry = rows.entry.as_ref().map_or(0.0, |e| e[i]);
            match taken {
                Taken::Working => rows.high[i] = f64::INFINITY,
                // A lamp taken out at the age of its entry was never watched: it adds nothing either way.
                Taken::Failed(_) if high == f64::INFINITY && low <= entry => {}
                Taken::Failed(by) => {
                    if high == f64::INFINITY {
                        rows.high[i] = low;
                    }
                    ending = by.unwrap_or(ending);
                }
            }
        }
        endings.push(ending);
    }
    rows.ending = Some(endings);
    Ok(Tally::from_rows(&rows)?.0)
}

/// Refuses a width that is no share.
pub(crate) fn check_widest(widest: f64) -> Result<()> {
    if (0.0..=1.0).contains(&widest) {
        return Ok(());
    }
    let problem = Problem::new("empirical.widest", "not a width of bounds")
        .at(Place::input("widest"))
        .got(widest)
        .expected("a share of lamps, 0 to 1");
    Err(Error::new(Kind::Domain, problem))
}

/// The lamps that ended in one of the suspect endings, which must be such as can be suspect.
pub(super) fn suspect_lamps(tally: &Tally, suspects: &[Ending]) -> Result<u64> {
    let refuse = |got: String, expected: &str| {
        let problem = Problem::new("empirical.suspects", "not endings that can be suspect")
            .at(Place::input("suspects"))
            .got(got)
            .expected(expected.to_owned());
        Err(Error::new(Kind::Input, problem))
    };
    let mut named = suspects.to_vec();
    named.sort_unstable_by_key(|e| e.code());
    named.dedup();
    if suspects.is_empty() || named.len() < suspects.len() {
        return refuse(format!("{} named", counted(suspects.len() as u64, "ending")), "one or more, each once");
    }
    if suspects.contains(&Ending::Running) {
        return refuse("running".to_owned(), "endings of lamps that were taken out: a burning lamp has not ended");
    }
    let rows = tally.ending().iter().zip(tally.count());
    Ok(rows.filter(|(code, _)| named.iter().any(|e| e.code() == **code)).map(|(_, n)| n).sum())
}

fn judged(
    what: &str,
    options: &SuspectOptions,
    lamps: u64,
    ends: (Option<f64>, Option<f64>),
    outer: Option<(f64, f64)>,
) -> Result<BoundsAt> {
    judge_bounds(what, options.age_hours, options.widest, lamps, ends, outer.map(|o| (o, options.curve.level)))
}

/// The lower end of the band of a curve that bounds from below. Before its first step it is the exact one for no event among
/// the lamps at risk, which a band does not know.
pub(super) fn lower_end(curve: &Curve, age: f64) -> Option<f64> {
    let low = curve.reliability_at(age)?;
    let first = curve.at_risk().first().copied().unwrap_or(curve.lamps());
    if curve.ages().first().is_none_or(|first| age < *first) {
        return Some((0.5 * (1.0 - curve.level())).powf(1.0 / first as f64));
    }
    Some(curve.band_at(age).map_or(low, |band| band.0))
}

/// The band of the incidence of one cause at an age; the incidence itself where it has none.
pub(super) fn incidence_ends(incidence: &Incidence, cause: Ending, level: f64, age: f64) -> Option<(f64, f64)> {
    let here = incidence.incidence_at(cause, age)?;
    Some(incidence.band_at(cause, age, level, BandScale::LogLog).ok()?.unwrap_or((here, here)))
}

/// Bounds with what chance may add, and the level at which it does.
pub(super) type Outer = Option<((f64, f64), f64)>;

/// The bounds at an age in words, and whether they still say something.
pub(super) fn judge_bounds(
    what: &str,
    age_hours: f64,
    widest: f64,
    lamps: u64,
    ends: (Option<f64>, Option<f64>),
    outer: Outer,
) -> Result<BoundsAt> {
    let (Some(low), Some(high)) = ends else {
        let problem = Problem::new("empirical.beyond_last_age", "the curves are not known at this age")
            .at(Place::input("age_hours"))
            .got(age_hours)
            .expected("an age at which lamps were under observation");
        return Err(Error::new(Kind::Refused, problem));
    };
    let percent = |x: f64| hours((x * 1000.0).round() / 10.0);
    let informative = high - low <= widest;
    // Chance is left out of the verdict: more lamps would narrow its part, but never that of the endings.
    let with_chance = outer.is_some_and(|((low, high), _)| high - low > widest);
    let verdict = match (informative, with_chance) {
        (false, _) => {
            format!(
                "; uninformative: wider than {} % even without chance, so the endings must be settled first",
                percent(widest)
            )
        }
        (true, true) => format!("; no wider than {} % without chance, but wider with it", percent(widest)),
        (true, false) => String::new(),
    };
    let chance = outer.map_or_else(String::new, |((low, high), level)| {
        let (low, high, level) = (percent(low), percent(high), percent(level));
        format!("; with chance ({level} %) between {low} % and {high} % for lamps like them")
    });
    let (at, from, to) = (hours(age_hours), percent(low), percent(high));
    let sentence = if lamps == 0 {
        format!(
            "{what} {at} h is {from} % for these lamps: no lamp has a suspect ending, so nothing widens the bounds{chance}"
        )
    } else {
        let whatever = counted(lamps, "suspect lamp");
        format!(
            "{what} {at} h lies between {from} % and {to} % for these lamps, whatever became of {whatever}{chance}{verdict}"
        )
    };
    Ok(BoundsAt { age_hours, low, high, widest, informative, sentence })
}

/// Bounds of the reliability whatever share of the suspect endings were failures, each at the age it was filed with.
///
/// # Formula
/// ```text
/// upper: the product-limit curve with every suspect row right-censored at its age
/// lower: the same with every suspect row a failure at its age
/// ```
/// Suspect rows filed as failures become right-censored in the upper curve. Whatever else is true of each row, the curve lies
/// between, as lamps at risk are the same in both and failures only add. The bounds speak of misfiled endings, not of lamps
/// taken out *because* they were about to fail: those are not bounded by a failure at the same age.
///
/// # Errors
/// `empirical.suspects` for no ending, one named twice, or `running`; `empirical.widest`; `empirical.beyond_last_age`; those
/// of [`product_limit`].
///
/// # Examples
/// ```
/// use relamp::empirical::{CurveOptions, SuspectOptions, ending_bounds};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::Ending;
/// let rows = Rows {
///     low: vec![100.0, 200.0, 300.0],
///     high: vec![100.0, f64::INFINITY, f64::INFINITY],
///     ending: Some(vec![Ending::Burst, Ending::Unknown, Ending::Running]),
///     count: Some(vec![1, 2, 7]),
///     ..Rows::default()
/// };
/// let options = SuspectOptions {
///     suspects: vec![Ending::Unknown],
///     age_hours: 250.0,
///     widest: 0.1,
///     curve: CurveOptions::default(),
/// };
/// let bounds = ending_bounds(&Tally::from_rows(&rows)?.0, &options)?;
/// assert!((bounds.at.low - 0.7).abs() < 1e-12 && (bounds.at.high - 0.9).abs() < 1e-12);
/// assert!(!bounds.at.informative && bounds.at.sentence.contains("uninformative"));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn ending_bounds(tally: &Tally, options: &SuspectOptions) -> Result<EndingBounds> {
    check_widest(options.widest)?;
    let suspect_lamps = suspect_lamps(tally, &options.suspects)?;
    let curve = |taken| product_limit(&read(tally, &options.suspects, taken)?, &options.curve);
    // The curve as it stands refuses what no reading of endings could mend.
    product_limit(tally, &options.curve)?;
    let (if_none, if_all) = (curve(Taken::Working)?, curve(Taken::Failed(None))?);
    let age = options.age_hours;
    let ends = (if_all.reliability_at(age), if_none.reliability_at(age));
    let at = judged("reliability at", options, suspect_lamps, ends, outer(&if_all, &if_none, age))?;
    Ok(EndingBounds { suspects: options.suspects.clone(), suspect_lamps, if_none, if_all, at })
}

/// Bounds of the incidence of one cause whatever the suspect endings were, each at the age it was filed with.
///
/// # Formula
/// ```text
/// upper: every suspect row a failure by the cause at its age
/// lower: every suspect row a failure by another cause at its age
/// ```
/// The lower bound is not the incidence with none of them a failure, which stands beside them: a lamp that failed otherwise
/// can no longer fail by the cause, while one that is only lost from sight is taken to fail like the others.
///
/// # Errors
/// As [`ending_bounds`].
///
/// # Examples
/// ```
/// use relamp::empirical::{CurveOptions, SuspectOptions, incidence_bounds};
/// use relamp::lives::{Rows, Tally};
/// use relamp::records::Ending;
/// let rows = Rows {
///     low: vec![100.0, 200.0, 300.0],
///     high: vec![100.0, f64::INFINITY, 300.0],
///     ending: Some(vec![Ending::Burst, Ending::Unknown, Ending::Burst]),
///     count: Some(vec![1, 2, 7]),
///     ..Rows::default()
/// };
/// let options = SuspectOptions {
///     suspects: vec![Ending::Unknown],
///     age_hours: 300.0,
///     widest: 0.5,
///     curve: CurveOptions::default(),
/// };
/// let bounds = incidence_bounds(&Tally::from_rows(&rows)?.0, Ending::Burst, &options)?;
/// assert!((bounds.at.low - 0.8).abs() < 1e-12 && (bounds.at.high - 1.0).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn incidence_bounds(tally: &Tally, cause: Ending, options: &SuspectOptions) -> Result<IncidenceBounds> {
    check_widest(options.widest)?;
    let suspect_lamps = suspect_lamps(tally, &options.suspects)?;
    incidence(tally, &options.curve)?;
    let curves = |taken| incidence(&read(tally, &options.suspects, taken)?, &options.curve);
    let another = if cause == Ending::Other { Ending::Unknown } else { Ending::Other };
    let if_none = curves(Taken::Working)?;
    let if_all = curves(Taken::Failed(Some(cause)))?;
    let if_otherwise = curves(Taken::Failed(Some(another)))?;
    let age = options.age_hours;
    let ends = (if_otherwise.incidence_at(cause, age), if_all.incidence_at(cause, age));
    let level = options.curve.level;
    let outer = outer_incidence(&if_otherwise, &if_all, cause, level, age);
    let at = judged(&format!("incidence of {} by", cause.as_str()), options, suspect_lamps, ends, outer)?;
    let suspects = options.suspects.clone();
    Ok(IncidenceBounds { cause, suspects, suspect_lamps, if_none, if_all, if_otherwise, at, level })
}

/// The lower end of the band of the lower curve, and the upper end of that of the upper one.
fn outer(if_all: &Curve, if_none: &Curve, age: f64) -> Option<(f64, f64)> {
    let high = if_none.band_at(age).map(|band| band.1).or(if_none.reliability_at(age));
    lower_end(if_all, age).zip(high)
}

fn outer_incidence(low: &Incidence, high: &Incidence, cause: Ending, level: f64, age: f64) -> Option<(f64, f64)> {
    let side = |incidence: &Incidence| incidence_ends(incidence, cause, level, age);
    side(low).zip(side(high)).map(|(low, high)| (low.0, high.1))
}

impl EndingBounds {
    /// Lower and upper bound at an age for the lamps of the records; none where no lamp was under observation. They know
    /// nothing of chance: see [`EndingBounds::outer_at`].
    pub fn bounds_at(&self, age: f64) -> Option<(f64, f64)> {
        self.if_all.reliability_at(age).zip(self.if_none.reliability_at(age))
    }

    /// The bounds with what chance may add: the lower end of the band of the lower curve and the upper end of that of the
    /// upper one, at the level of the curves. Before the first failure the lower end is the exact one for no event among the
    /// lamps at risk.
    pub fn outer_at(&self, age: f64) -> Option<(f64, f64)> {
        outer(&self.if_all, &self.if_none, age)
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

impl IncidenceBounds {
    /// Lower and upper bound of the incidence by an age for the lamps of the records; none where no lamp was under
    /// observation. They know nothing of chance: see [`IncidenceBounds::outer_at`].
    pub fn bounds_at(&self, age: f64) -> Option<(f64, f64)> {
        self.if_otherwise.incidence_at(self.cause, age).zip(self.if_all.incidence_at(self.cause, age))
    }

    /// The bounds with what chance may add: the lower end of the band of the lower incidence and the upper end of that of
    /// the upper one. Bounds of 0 or 1 stand alone.
    pub fn outer_at(&self, age: f64) -> Option<(f64, f64)> {
        outer_incidence(&self.if_otherwise, &self.if_all, self.cause, self.level, age)
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(INCIDENCE_FORMAT, self)
    }

    /// Bounds from their saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`].
    pub fn from_json(text: &str) -> Result<Self> {
        saved::load(INCIDENCE_FORMAT, text)
    }
}
