//! The product-limit curve: reliability and cumulative hazard by age, without a family.

use serde::{Deserialize, Serialize};

use super::band::BandScale;
use super::hazard_band::HazardScale;
use super::steps::{Steps, at_risk_at, prepare, walk, watched};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, fitting, hours};
use crate::base::math::special::normal_quantile;
use crate::base::saved::{self, Format};
use crate::base::sound::{Checks, Sound};
use crate::lives::{Reading, Tally};

const FORMAT: Format = Format::new("curve", 1);

/// How a curve is made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurveOptions {
    /// Level of the band, inside (0, 1).
    pub level: f64,
    /// The age that stands for a failure known to an interval; without it such rows are refused.
    pub reading: Option<Reading>,
    /// With late entry, the curve starts at the first age from which this many lamps are at risk.
    pub min_at_risk: u64,
    /// Starts the curve at this age, hours: it then holds for lamps that reached it.
    pub given_survival_to: Option<f64>,
    /// The scale on which the band is symmetric.
    #[serde(default)]
    pub band_scale: BandScale,
    /// The scale on which the band of the cumulative hazard is symmetric.
    #[serde(default)]
    pub hazard_scale: HazardScale,
}

impl Default for CurveOptions {
    fn default() -> Self {
        Self {
            level: 0.95,
            reading: None,
            min_at_risk: 5,
            given_survival_to: None,
            band_scale: BandScale::LogLog,
            hazard_scale: HazardScale::Log,
        }
    }
}

/// Something to know when reading a curve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurveNote {
    /// Stable slug such as `empirical.drops_to_zero`.
    pub rule: String,
    /// The age it is about, hours.
    pub age: f64,
    /// One plain sentence.
    pub sentence: String,
}

/// Reliability and cumulative hazard as step functions of age, with numbers at risk and the variance.
///
/// The columns hold one value for each age at which a lamp failed; between two of them the curve is flat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Curve {
    ages: Vec<f64>,
    at_risk: Vec<u64>,
    failures: Vec<u64>,
    reliability: Vec<f64>,
    cumulative_hazard: Vec<f64>,
    /// Sum of d / (n (n - d)); infinite once the curve is zero.
    #[serde(with = "saved::infinite_column")]
    relative_variance: Vec<f64>,
    /// Sum of d / n^2. Curves saved before have none.
    #[serde(default)]
    hazard_variance: Vec<f64>,
    level: f64,
    /// Curves saved before scales had names have bands on the log-log scale.
    #[serde(default)]
    band_scale: BandScale,
    #[serde(default)]
    hazard_scale: HazardScale,
    conditional_from: f64,
    last_age: f64,
    reading: Option<Reading>,
    interval_failures: u64,
    lamps: u64,
    notes: Vec<CurveNote>,
    /// Lamps under observation from new, and just after each age at which that changes other than by a step. Curves saved
    /// before have none.
    #[serde(default)]
    watched_ages: Vec<f64>,
    #[serde(default)]
    watched: Vec<u64>,
}

impl Sound for Curve {
    fn check(&self, c: &mut Checks) {
        let steps = self.ages.len();
        c.rising("ages", &self.ages, false);
        c.entries("at_risk", self.at_risk.len(), steps);
        c.entries("failures", self.failures.len(), steps);
        c.entries("reliability", self.reliability.len(), steps);
        c.entries("cumulative_hazard", self.cumulative_hazard.len(), steps);
        c.entries("relative_variance", self.relative_variance.len(), steps);
        let alive = self.failures.iter().zip(&self.at_risk).all(|(d, n)| d <= n);
        c.need("failures", alive, "more", "at most the lamps at risk");
        c.column("reliability", &self.reliability, Checks::share);
        c.column("cumulative_hazard", &self.cumulative_hazard, Checks::not_negative);
        c.column("relative_variance", &self.relative_variance, Checks::not_negative);
        if !self.hazard_variance.is_empty() {
            c.entries("hazard_variance", self.hazard_variance.len(), steps);
        }
        c.column("hazard_variance", &self.hazard_variance, Checks::not_negative);
        self.steps_agree(c);
        let failed = self.failures.iter().fold(0_u64, |sum, d| sum.saturating_add(*d));
        c.entries("watched", self.watched.len(), self.watched_ages.len());
        c.need("watched_ages", self.watched_ages.is_sorted(), "others", "ascending ages");
        c.column("watched_ages", &self.watched_ages, Checks::not_negative);
        let most = self.watched.iter().copied().max().unwrap_or(0);
        c.need("watched", most <= self.lamps, most, format!("at most {} in all", counted(self.lamps, "lamp")));
        c.need("failures", failed <= self.lamps, failed, format!("at most {} in all", counted(self.lamps, "lamp")));
        let read = self.interval_failures;
        c.need("interval_failures", read <= self.lamps, read, format!("at most {}", counted(self.lamps, "lamp")));
        c.there("reading", self.reading.is_some(), read > 0, "there with failures known to an interval");
        c.level("level", self.level);
        c.not_negative("conditional_from", self.conditional_from);
        c.ends("last_age", self.ages.last().copied(), self.last_age);
    }
}

impl Curve {
    /// Every step of the curve, taken again from its lamps at risk and its failures.
    fn steps_agree(&self, c: &mut Checks) {
        let (mut reliability, mut hazard, mut variance, mut hazard_variance) = (1.0, 0.0, 0.0, 0.0);
        for (i, (&n, &d)) in self.at_risk.iter().zip(&self.failures).enumerate() {
            c.need(&format!("failures[{i}]"), d > 0, d, "1 or more at each step");
            let (n, d) = (n as f64, d as f64);
            reliability *= 1.0 - d / n;
            hazard += d / n;
            variance += d / (n * (n - d));
            hazard_variance += d / (n * n);
            for (field, column, made) in [
                ("reliability", &self.reliability, reliability),
                ("cumulative_hazard", &self.cumulative_hazard, hazard),
                ("relative_variance", &self.relative_variance, variance),
                ("hazard_variance", &self.hazard_variance, hazard_variance),
            ] {
                // Once the curve is zero its relative variance is infinite.
                if let Some(got) = column.get(i).filter(|got| made.is_finite() || got.is_finite()) {
                    c.equal(&format!("{field}[{i}]"), *got, made);
                }
            }
        }
    }
}

/// Estimates the reliability of the lamps of a tally without assuming a family.
///
/// # Formula
/// ```text
/// R(t) = product over failure ages a <= t of (n - d) / n
/// H(t) = sum     over failure ages a <= t of d / n
/// variance of R(t) = R(t)^2 x sum over a <= t of d / (n (n - d))
/// variance of H(t) = sum over a <= t of d / n^2
/// band of R(t): R(t)^exp(w) and R(t)^exp(-w), w = z sqrt(sum) / |ln R(t)|
/// band of H(t): H(t) exp(-w) and H(t) exp(w), w = z sqrt(variance) / H(t)
/// ```
/// d: failures at age a. n: lamps at risk at a, those with entry < a <= exit, so a lamp taken down at the age of a
/// failure still counts. z: normal quantile of (1 + level) / 2. The bands shown are those of the log-log scale of R and of
/// the log scale of H; [`CurveOptions::band_scale`] and [`CurveOptions::hazard_scale`] name others, see [`BandScale::ends`]
/// and [`HazardScale::ends`]. They hold at one age at a time, not along the whole curve: for that see
/// [`simultaneous_band`](super::simultaneous_band) and [`simultaneous_hazard_band`](super::simultaneous_hazard_band).
///
/// With late entry the curve starts at the first age from which [`CurveOptions::min_at_risk`] lamps are at risk, and
/// gives the reliability *given survival to that age* ([`Curve::conditional_from`]).
///
/// # Errors
/// `empirical.level`, `empirical.given_survival_to` for bad options; `empirical.interval_rows` for failures known to an
/// interval without a named reading; `lives.reading_at_entry`; `empirical.upper` for records that show failures only;
/// `empirical.no_lamps`; `empirical.too_few_at_risk`.
///
/// # Numerics
/// Between losses the factors telescope, so an uncensored curve is exact to the last bit. The curve is exactly 0 once
/// every lamp at risk failed, and stays there: a note says so.
///
/// # Source
/// E. L. Kaplan and P. Meier (1958), Nonparametric estimation from incomplete observations, JASA 53, 457-481; variance
/// by M. Greenwood (1926); cumulative hazard by W. Nelson (1972), Technometrics 14, 945-966, its variance by O. Aalen
/// (1978), Annals of Statistics 6, 701-726. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{CurveOptions, product_limit};
/// use relamp::lives::{Rows, Tally};
/// let rows = Rows {
///     low: vec![100.0, 200.0],
///     high: vec![100.0, f64::INFINITY],
///     count: Some(vec![1, 9]),
///     ..Rows::default()
/// };
/// let (tally, _) = Tally::from_rows(&rows).unwrap();
/// let curve = product_limit(&tally, &CurveOptions::default()).unwrap();
/// assert_eq!(curve.reliability_at(150.0), Some(0.9));
/// assert_eq!(curve.median(), None); // not reached
/// assert_eq!(curve.restricted_mean(200.0).unwrap(), 190.0);
/// ```
pub fn product_limit(tally: &Tally, options: &CurveOptions) -> Result<Curve> {
    let read = prepare(tally, options)?;
    let steps = walk(&read, options, false)?;
    let interval_failures = tally.interval_failures();
    let notes = notes(&steps, options, interval_failures);
    let (watched_ages, watched) = watched(&read, steps.conditional_from);
    let mut curve = Curve {
        cumulative_hazard: Vec::with_capacity(steps.ages.len()),
        relative_variance: Vec::with_capacity(steps.ages.len()),
        hazard_variance: Vec::with_capacity(steps.ages.len()),
        ages: steps.ages,
        at_risk: steps.at_risk,
        failures: steps.failures,
        reliability: steps.reliability,
        level: options.level,
        band_scale: options.band_scale,
        hazard_scale: options.hazard_scale,
        conditional_from: steps.conditional_from,
        last_age: steps.last_age,
        reading: options.reading.filter(|_| interval_failures > 0),
        interval_failures,
        lamps: read.lamps(),
        notes,
        watched_ages,
        watched,
    };
    let (mut hazard, mut variance, mut of_hazard) = (Running::default(), Running::default(), Running::default());
    let mut dropped = false;
    for (&n, &d) in curve.at_risk.iter().zip(&curve.failures) {
        let (n, d) = (n as f64, d as f64);
        curve.cumulative_hazard.push(hazard.add(d / n));
        curve.hazard_variance.push(of_hazard.add(d / (n * n)));
        dropped |= n == d;
        curve.relative_variance.push(if dropped { f64::INFINITY } else { variance.add(d / (n * (n - d))) });
    }
    Ok(curve)
}

/// A running sum that carries its rounding error along.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Running {
    sum: f64,
    lost: f64,
}

impl Running {
    pub(super) fn add(&mut self, x: f64) -> f64 {
        let y = x - self.lost;
        let next = self.sum + y;
        self.lost = (next - self.sum) - y;
        self.sum = next;
        next
    }
}

pub(super) fn notes(steps: &Steps, options: &CurveOptions, interval_failures: u64) -> Vec<CurveNote> {
    let mut notes = Vec::new();
    let mut say =
        |rule: &str, age: f64, sentence: String| notes.push(CurveNote { rule: rule.to_owned(), age, sentence });
    let start = steps.conditional_from;
    if start > 0.0 {
        let why = if options.given_survival_to == Some(start) {
            "as asked".to_owned()
        } else {
            format!("fewer than {} at risk before", counted(options.min_at_risk.max(1), "lamp"))
        };
        say("empirical.given_survival", start, format!("given survival to {} h: {why}", hours(start)));
    }
    if let Some(reading) = options.reading.filter(|_| interval_failures > 0) {
        let sentence = format!(
            "{} known to an interval {} read at its {}",
            counted(interval_failures, "failure"),
            fitting(interval_failures, "was", "were"),
            end_of(reading)
        );
        say("empirical.interval_reading", start, sentence);
    }
    if steps.ages.is_empty() {
        say("empirical.no_failures", steps.last_age, "no failure was seen".to_owned());
    }
    let mut at = steps.ages.iter().zip(&steps.at_risk);
    if let Some((&age, _)) = at.find(|&(_, &n)| n == 1) {
        say(
            "empirical.risk_set_of_one",
            age,
            format!("risk set of one at {} h: a single lamp decides the step there", hours(age)),
        );
    }
    let mut at = steps.ages.iter().zip(&steps.reliability);
    if let Some((&age, _)) = at.find(|&(_, &r)| r == 0.0) {
        let rest = match steps.past_zero {
            0 => "the oldest lamp under observation failed".to_owned(),
            n => format!(
                "the last lamp then at risk failed, though {} {} seen working later; ask for the curve given survival to a later age",
                counted(n, "lamp"),
                fitting(n, "was", "were")
            ),
        };
        say("empirical.drops_to_zero", age, format!("drops to zero at {} h, where {rest}", hours(age)));
    }
    notes
}

fn end_of(reading: Reading) -> &'static str {
    match reading {
        Reading::Upper => "upper end",
        Reading::Midpoint => "midpoint",
        Reading::Lower => "lower end",
    }
}

impl Curve {
    /// Ages at which lamps failed, ascending, `(steps,)`, hours.
    pub fn ages(&self) -> &[f64] {
        &self.ages
    }

    /// Lamps at risk at each step, `(steps,)`.
    pub fn at_risk(&self) -> &[u64] {
        &self.at_risk
    }

    /// Lamps at risk at an age: those with entry < age <= exit, at age 0 those seen from new; 0 past the oldest. None where
    /// the age is none, and for a curve saved before curves held this.
    pub fn at_risk_at(&self, age: f64) -> Option<u64> {
        let step = |i: usize| self.at_risk.get(i).copied().zip(self.failures.get(i).copied());
        at_risk_at(age, (&self.ages, step), (&self.watched_ages, &self.watched))
    }

    /// Failures at each step, `(steps,)`.
    pub fn failures(&self) -> &[u64] {
        &self.failures
    }

    /// Probability to pass each age, `(steps,)`.
    pub fn reliability(&self) -> &[f64] {
        &self.reliability
    }

    /// Cumulative hazard at each step, `(steps,)`; it stays usable where the reliability is 0.
    pub fn cumulative_hazard(&self) -> &[f64] {
        &self.cumulative_hazard
    }

    /// Variance of the cumulative hazard at each step, `(steps,)`; empty for a curve saved before curves held it.
    pub(super) fn hazard_variance(&self) -> &[f64] {
        &self.hazard_variance
    }

    /// Standard error of the reliability at each step, `(steps,)`; none where the reliability is 0.
    pub fn standard_error(&self) -> Vec<Option<f64>> {
        (0..self.ages.len()).map(|i| self.standard_error_of(i)).collect()
    }

    /// Lower and upper end of the band at each step, `(steps,)`; none where the reliability is 0.
    pub fn band(&self) -> Vec<Option<(f64, f64)>> {
        let z = normal_quantile(f64::midpoint(1.0, self.level));
        (0..self.ages.len()).map(|i| self.band_of(i, z)).collect()
    }

    /// Level of the band.
    pub fn level(&self) -> f64 {
        self.level
    }

    /// The scale on which the band is symmetric.
    pub fn band_scale(&self) -> BandScale {
        self.band_scale
    }

    /// The scale on which the band of the cumulative hazard is symmetric.
    pub fn hazard_scale(&self) -> HazardScale {
        self.hazard_scale
    }

    /// The curve holds for lamps that reached this age, hours; 0 for a curve from new.
    pub fn conditional_from(&self) -> f64 {
        self.conditional_from
    }

    /// Largest age at which a lamp was under observation, hours; past it nothing is known.
    pub fn last_age(&self) -> f64 {
        self.last_age
    }

    /// How failures known to an interval were read; none where there were none.
    pub fn reading(&self) -> Option<Reading> {
        self.reading
    }

    /// Failures known to an interval.
    pub fn interval_failures(&self) -> u64 {
        self.interval_failures
    }

    /// Lamps in the tally.
    pub fn lamps(&self) -> u64 {
        self.lamps
    }

    /// What to know when reading the curve.
    pub fn notes(&self) -> &[CurveNote] {
        &self.notes
    }

    /// Whether the curve says anything about an age: from its start to the last age, and beyond where it is 0.
    fn covers(&self, age: f64) -> bool {
        age >= self.conditional_from && (age <= self.last_age || self.reliability.last() == Some(&0.0))
    }

    /// The last step at or before an age.
    pub(super) fn step(&self, age: f64) -> Option<usize> {
        self.ages.partition_point(|&a| a <= age).checked_sub(1)
    }

    /// Probability to pass the age; none before [`Curve::conditional_from`] and past [`Curve::last_age`], unless the
    /// curve has dropped to 0.
    pub fn reliability_at(&self, age: f64) -> Option<f64> {
        if !self.covers(age) {
            return None;
        }
        self.step(age).map_or(Some(1.0), |i| self.reliability.get(i).copied())
    }

    /// Cumulative hazard at the age; none where it is not known.
    pub fn cumulative_hazard_at(&self, age: f64) -> Option<f64> {
        if !(age >= self.conditional_from && age <= self.last_age) {
            return None;
        }
        self.step(age).map_or(Some(0.0), |i| self.cumulative_hazard.get(i).copied())
    }

    /// Standard error of the reliability at the age; none where it is not known, before the first failure, and where
    /// the reliability is 0.
    pub fn standard_error_at(&self, age: f64) -> Option<f64> {
        self.standard_error_of(self.step(age).filter(|_| self.covers(age))?)
    }

    /// Lower and upper end of the band at the age; none as for [`Curve::standard_error_at`].
    pub fn band_at(&self, age: f64) -> Option<(f64, f64)> {
        let z = normal_quantile(f64::midpoint(1.0, self.level));
        self.band_of(self.step(age).filter(|_| self.covers(age))?, z)
    }

    fn standard_error_of(&self, i: usize) -> Option<f64> {
        let variance = *self.relative_variance.get(i)?;
        (variance < f64::INFINITY).then_some(self.reliability.get(i)? * variance.sqrt())
    }

    fn band_of(&self, i: usize, z: f64) -> Option<(f64, f64)> {
        let (r, variance) = (*self.reliability.get(i)?, *self.relative_variance.get(i)?);
        if !(r > 0.0 && r < 1.0 && variance < f64::INFINITY) {
            return None;
        }
        Some(self.band_scale.ends(r, variance.sqrt(), z))
    }

    /// Smallest age by which a share `p` has failed, among lamps that reached [`Curve::conditional_from`]; `None` where
    /// it is not reached.
    ///
    /// # Errors
    /// `empirical.probability` unless 0 <= p <= 1.
    ///
    /// # Numerics
    /// A step counts as reached when it misses 1 - p by rounding only, 1e-12 of the smaller of p and 1 - p.
    pub fn quantile(&self, p: f64) -> Result<Option<f64>> {
        if !(0.0..=1.0).contains(&p) {
            let problem = Problem::new("empirical.probability", "not a probability")
                .at(Place::input("p"))
                .got(p)
                .expected("0 to 1");
            return Err(Error::new(Kind::Domain, problem));
        }
        if p == 0.0 {
            return Ok(Some(self.conditional_from));
        }
        let reached = (1.0 - p) + 1e-12 * p.min(1.0 - p);
        let i = self.reliability.partition_point(|&r| r > reached);
        Ok(self.ages.get(i).copied())
    }

    /// Age by which half the lamps have failed; `None` where it is not reached.
    pub fn median(&self) -> Option<f64> {
        self.quantile(0.5).ok().flatten()
    }

    /// Mean hours worked between [`Curve::conditional_from`] and `to`: the integral of the reliability.
    ///
    /// # Errors
    /// `empirical.beyond_last_age` where the curve is not known up to `to`.
    pub fn restricted_mean(&self, to: f64) -> Result<f64> {
        if !self.covers(to) {
            let problem = Problem::new("empirical.beyond_last_age", "the curve is not known up to this age")
                .at(Place::input("to"))
                .got(to)
                .expected(format!("{} to {}", self.conditional_from, self.last_age));
            return Err(Error::new(Kind::Refused, problem));
        }
        let (mut area, mut from, mut height) = (Running::default(), self.conditional_from, 1.0);
        let mut mean = 0.0;
        for (&age, &r) in self.ages.iter().zip(&self.reliability).take_while(|&(&age, _)| age < to) {
            mean = area.add((age - from) * height);
            (from, height) = (age, r);
        }
        if height > 0.0 {
            mean = area.add((to - from) * height);
        }
        Ok(mean)
    }

    /// The saved form, JSON text.
    ///
    /// # Errors
    /// `saved.unwritable` if the text cannot be made.
    pub fn to_json(&self) -> Result<String> {
        saved::save(FORMAT, self)
    }

    /// A curve from its saved form, equal to the bit.
    ///
    /// # Errors
    /// Those of [`crate::base::saved::load`]; `empirical.saved_columns` for columns that do not belong together.
    pub fn from_json(text: &str) -> Result<Self> {
        let curve: Self = saved::load(FORMAT, text)?;
        let n = curve.ages.len();
        let lengths = [
            curve.at_risk.len(),
            curve.failures.len(),
            curve.reliability.len(),
            curve.cumulative_hazard.len(),
            curve.relative_variance.len(),
        ];
        if lengths.iter().all(|&l| l == n) && curve.ages.is_sorted() && curve.reliability.is_sorted_by(|a, b| a >= b) {
            return Ok(curve);
        }
        let problem = Problem::new("empirical.saved_columns", "the saved columns do not belong to one curve")
            .at(Place::input("saved curve"))
            .expected("columns of one length, ages ascending, reliability falling");
        Err(Error::new(Kind::Input, problem))
    }
}
